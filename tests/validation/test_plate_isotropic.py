"""Isotropic plates against published tables and exact beam theory.

The classic tables are Rayleigh-Ritz upper bounds from beam functions. The true thin-plate
frequencies lie below them, by the excess each data file states, and so must ours.
"""

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from calc.geometry.planform import Planform
from calc.structure.plate import assemble, modes, prepare, static

DATA = Path(__file__).parent / "data"
BARTON = tomllib.loads((DATA / "barton_1951_plates.toml").read_text())
LEISSA = tomllib.loads((DATA / "leissa_1973_plates.toml").read_text())
TRIANGLES = tomllib.loads((DATA / "triangle_plates.toml").read_text())


def isotropic(poisson):
    """Bending stiffness of an isotropic plate over D."""
    return np.array([[1.0, poisson, 0.0], [poisson, 1.0, 0.0], [0.0, 0.0, (1.0 - poisson) / 2]])


def parameters(planform, count, *, poisson=0.3, root="clamped", spanwise=10, chordwise=10):
    """Frequencies [rad/s] of a plate with D = 1 and m = 1."""
    plate = prepare(planform, root=root, spanwise=spanwise, chordwise=chordwise)
    system = assemble(plate, bending=isotropic(poisson), areal_mass=1.0)
    return modes(system, count=count).frequency


def rounding(value):
    """Half a unit in the last of four printed digits."""
    return 0.5 * 10.0 ** (math.floor(math.log10(value)) - 3)


def bounded(found, published, excess, *, record, case, source):
    """Whether each value lies below the published bound, and no further than its known excess."""
    known = "its own excess is not known" if excess is None else f"by at most {excess:.1%}"
    record(
        case=case,
        parts=[f"mode {k}" for k in range(1, len(published) + 1)],
        published=published,
        ours=found,
        tolerance=f"the published series is an upper bound: ours must lie below it, {known}",
        source=source,
    )
    for ours, bound in zip(found, published, strict=True):
        assert ours <= bound + rounding(bound)
        if excess is not None:
            assert ours >= bound * (1.0 - excess)


@pytest.mark.parametrize("case", BARTON["case"], ids=lambda case: case["name"])
def test_barton(case, record):
    """Squares, rectangles and rhombi of Barton 1951 bound ours from above."""
    if "skew_degrees" in case:
        skew, side = math.radians(case["skew_degrees"]), case["side"]
        planform = Planform(side, side, side * math.cos(skew), side * math.sin(skew))
    else:
        planform = Planform(case["chord"], case["chord"], case["span"], case["sweep"])
    rigid = 3 if case["root"] == "free" else 0
    found = parameters(planform, rigid + len(case["value"]), root=case["root"])[rigid:]
    bounded(
        found * case["length"] ** 2,
        case["value"],
        case.get("excess"),
        record=record,
        case=f"{case['name']}, frequency factor",
        source=f"{BARTON['source']}; {case['seen_in']}",
    )


@pytest.mark.parametrize("case", LEISSA["case"], ids=lambda case: f"aspect {case['aspect']:.2f}")
def test_leissa(case, record):
    """Cantilever rectangles of Leissa 1973 bound ours from above, by less than one percent."""
    planform = Planform(1.0 / case["aspect"], 1.0 / case["aspect"], 1.0, 0.0)
    bounded(
        parameters(planform, len(case["value"])),
        case["value"],
        LEISSA["excess"],
        record=record,
        case=f"cantilever rectangle, span {case['aspect']:.3g} chords, frequency factor",
        source=LEISSA["source"],
    )


@pytest.mark.parametrize("case", TRIANGLES["case"], ids=lambda case: case["name"])
def test_triangles(case, record):
    """Triangles, where the tip chord is zero, lie below the published Rayleigh-Ritz values."""
    planform = Planform(case["base"], 0.0, 1.0, case["sweep"])
    bounded(
        parameters(planform, len(case["value"])),
        case["value"],
        case["excess"],
        record=record,
        case=f"{case['name']}, frequency factor",
        source=case["source"],
    )


def test_strip_without_poisson_effect_is_a_beam(record):
    """With nu = 0 the bending modes are those of the Euler-Bernoulli cantilever, exactly.

    Roots of cos(b) cosh(b) = -1: b^2 = 3.51602, 22.0345, 61.6972 (any textbook on vibration).
    """
    found = parameters(Planform(0.3, 0.3, 1.0, 0.0), 8, poisson=0.0, spanwise=9, chordwise=4)
    for exact in (3.51602, 22.0345, 61.6972):
        record(
            case=f"strip without Poisson effect, bending root {exact:.3g}",
            published=exact,
            ours=found[np.argmin(np.abs(found - exact))],
            tolerance="2e-6: the printed digits",
            source="Euler-Bernoulli cantilever, cos b cosh b = -1 (any textbook on vibration)",
            basis="exact",
        )
        assert np.min(np.abs(found / exact - 1.0)) < 2e-6


def test_torsion_of_a_strip(record):
    """A long strip twists as a shaft of thin section whose warping the clamp prevents.

    omega = pi/2 sqrt(48 D66 / (m b^2)) / L with L shortened at the clamp by
    b sqrt(D / (48 D66)) (energy of a chord that stays straight: E. Reissner and M. Stein, Torsion
    and transverse bending of cantilever plates, NACA TN 2369, 1951; from memory, unverified).
    """
    chord, twist = 0.05, 0.5
    found = parameters(Planform(chord, chord, 1.0, 0.0), 8, poisson=0.0, spanwise=12, chordwise=4)
    length = 1.0 - chord * math.sqrt(1.0 / (48.0 * twist))
    shaft = 0.5 * math.pi * math.sqrt(48.0 * twist) / chord / length
    record(
        case="twisting frequency of a long strip clamped against warping",
        published=shaft,
        ours=found[np.argmin(np.abs(found - shaft))],
        tolerance="0.1 %: the strip is not endlessly long",
        source="E. Reissner and M. Stein, NACA TN 2369, 1951; from memory, unverified",
        basis="exact",
    )
    assert np.min(np.abs(found / shaft - 1.0)) < 1e-3


def test_slender_triangle_is_a_wedge_beam(record):
    """A slender triangle without Poisson effect is the beam of linearly falling width.

    lambda = 7.155 (Kirchhoff 1879, four digits from memory, unverified). With nu = 0.3 the clamp
    stiffens a plate near the root, so that it tends to 7.155 sqrt(1 - nu^2) from above only.
    """
    triangle = Planform(0.04, 0.0, 1.0, 0.02)
    found = parameters(triangle, 1, poisson=0.0, spanwise=6, chordwise=7)[0]
    record(
        case="slender triangle, first frequency factor",
        published=7.155,
        ours=found,
        tolerance="0.05 %: the triangle is 25 times as long as wide, not endlessly slender",
        source="G. Kirchhoff, 1879, wedge beam; from memory, unverified",
        basis="exact",
    )
    assert found == pytest.approx(7.155, rel=5e-4)
    stiffer = parameters(triangle, 1, poisson=0.3, spanwise=16, chordwise=4)[0]
    assert 1.0 < stiffer / (7.155 * math.sqrt(1.0 - 0.3**2)) < 1.005


@pytest.mark.parametrize("shear", [None, 1e4, 100.0, 20.0, 5.0])
def test_strip_under_tip_load(shear, record):
    """A cantilever strip sags by P L^3/(3 D b) and, with a weak core, by P L/(S b) more.

    Beam theory (Timoshenko, Strength of Materials); for sandwich beams in this form H. G. Allen,
    Analysis and Design of Structural Sandwich Panels (1969).
    """
    length, width, force = 1.3, 0.2, 2.0
    strip = Planform(width, width, length, 0.0)
    stiffness, core = 3.0, None if shear is None else shear * np.eye(2)
    system = assemble(
        prepare(strip),
        bending=stiffness * isotropic(0.0),
        areal_mass=1.0,
        transverse_shear=core,
    )
    places, weights = np.polynomial.legendre.leggauss(8)
    tip = system.basis.values(strip.points(0.5 + places / 2, 1.0))
    found = static(system, load=tip.T @ (force * weights / 2))
    sag = force * length**3 / (3 * stiffness * width)
    if shear is not None:
        sag += force * length / (shear * width)
    record(
        case="sag of a strip under a tip load, "
        + ("no core shear" if shear is None else f"core of shear stiffness {shear:g}"),
        published=sag,
        ours=np.mean(tip @ found),
        tolerance="1e-9: closed form, same assumptions",
        source="H. G. Allen, Analysis and Design of Structural Sandwich Panels, 1969",
        basis="exact",
    )
    assert np.allclose(tip @ found, sag, rtol=1e-9)


def test_strip_with_sprung_root(record):
    """A strip on a root spring sags by P L^2/(k b) more than a clamped one."""
    length, width, force, spring = 0.9, 0.1, 1.5, 7.0
    strip = Planform(width, width, length, 0.0)
    for core, by_shear in ((None, 0.0), (50.0 * np.eye(2), force * length / (50.0 * width))):
        system = assemble(
            prepare(strip),
            bending=isotropic(0.0),
            areal_mass=1.0,
            root_spring=spring,
            transverse_shear=core,
        )
        places, weights = np.polynomial.legendre.leggauss(8)
        tip = system.basis.values(strip.points(0.5 + places / 2, 1.0))
        found = static(system, load=tip.T @ (force * weights / 2))
        sag = force * length**3 / (3 * width) + force * length**2 / (spring * width) + by_shear
        record(
            case="sag of a strip on a root spring" + ("" if core is None else ", weak core"),
            published=sag,
            ours=np.mean(tip @ found),
            tolerance="1e-9: closed form, same assumptions",
            source="S. Timoshenko, Strength of Materials; H. G. Allen, 1969, for the core",
            basis="exact",
        )
        assert np.allclose(tip @ found, sag, rtol=1e-9)


@pytest.mark.parametrize("shear", [2e3, 200.0, 30.0])
def test_beam_weak_in_shear_vibrates(shear, record):
    """The first frequency of a strip with a weak core is that of a Timoshenko beam.

    Without rotary inertia, w = exp(i omega t) sum of four exponentials of s y / L with
    s^4 + r s^2 - b^4 = 0, b^4 = m omega^2 L^4 / D, r = m omega^2 L^2 / S; the determinant of the
    four end conditions vanishes (Timoshenko, Vibration Problems in Engineering).
    """
    strip = Planform(0.2, 0.2, 1.0, 0.0)
    system = assemble(
        prepare(strip),
        bending=isotropic(0.0),
        areal_mass=1.0,
        transverse_shear=shear * np.eye(2),
    )

    def ends(omega):
        r = omega**2 / shear
        s = np.roots([1.0, 0.0, r, 0.0, -(omega**2)]).astype(complex)
        # Rotation of each exponential from the forces: S (w' - rotation)' = -m omega^2 w.
        turn = s + r / s
        rows = [np.ones(4), turn, turn * s * np.exp(s), (s - turn) * np.exp(s)]
        found = np.linalg.det(np.array(rows)) / np.prod([s[0] - s[1], s[2] - s[3]])
        return found

    # The determinant is real up to a constant factor; follow the part that changes sign.
    grid = np.linspace(0.5, 3.6, 400)
    values = np.array([ends(omega) for omega in grid])
    part = np.real if np.abs(values.real).max() > np.abs(values.imag).max() else np.imag
    signs = np.flatnonzero(np.diff(np.sign(part(values))))
    exact = brentq(lambda omega: part(ends(omega)), *grid[signs[0] : signs[0] + 2])
    found = modes(system, count=1).frequency[0]
    record(
        case=f"first frequency of a beam weak in shear, shear stiffness {shear:g}",
        published=exact,
        ours=found,
        tolerance="1e-4: a strip five times as long as wide",
        source="S. Timoshenko, Vibration Problems in Engineering, solved independently",
        basis="exact",
    )
    assert found == pytest.approx(exact, rel=1e-4)
