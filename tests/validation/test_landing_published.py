"""Landing energies against textbook beams and an independent quadrature."""

import math

import numpy as np
import pytest
from scipy.integrate import quad

from calc.geometry.planform import Planform
from calc.structure.impact import (
    corner_triangle,
    descent_speed,
    edgewise,
    effective_mass,
)
from calc.structure.laminate import bending, isotropic, stacked
from calc.structure.plate import assemble, prepare, static
from calc.structure.root_strength import TipCapacity, tip_capacity


def wooden_strip(tip: float, span: float) -> tuple[TipCapacity, float, float]:
    """Return what a slender fin of root 20 mm bears at its tip, with its modulus and strength.

    Isotropic without Poisson's effect, so that a beam is the exact answer.
    """
    e, s = 3e9, 15e6
    plain = isotropic(modulus=e, poisson=0.0, density=500.0, tension=s)
    sheet = stacked(plain, (0,), thickness=0.001)
    outline = Planform(root=0.02, tip=tip, span=span, sweep=0.5 * (0.02 - tip))
    system = assemble(prepare(outline), bending=bending(sheet), areal_mass=0.5)
    found = tip_capacity(
        system=system, planform=outline, layup=sheet, angle=0.0, bending=bending(sheet)
    )
    return found, e, s


def test_strip_energy(record):
    """An even cantilever stores s^2 V / (18 E) at failure.

    S. Timoshenko, Strength of Materials, Part I: strain energy of bending.
    """
    found, e, s = wooden_strip(tip=0.02, span=0.2)
    energy = 0.5 * found.force**2 * found.compliance
    exact = s**2 * 0.02 * 0.2 * 0.001 / (18 * e)
    record(
        case="energy a slender fin stores at failure",
        published=exact,
        ours=energy,
        unit="J",
        tolerance="3 %: a plate for a beam, its root stress averaged over part of the chord",
        source="S. Timoshenko, Strength of Materials, Part I",
        basis="exact",
    )
    assert energy == pytest.approx(exact, rel=0.03)


def test_tapered_strip(record):
    """A slender tapered fin's compliance is the quadrature of y^2 / EI."""
    found, e, _ = wooden_strip(tip=0.01, span=0.2)
    exact, _ = quad(lambda y: y**2 / (e * (0.01 + 0.01 * y / 0.2) * 0.001**3 / 12), 0.0, 0.2)
    record(
        case="compliance of a slender tapered fin at its tip",
        published=exact,
        ours=found.compliance,
        unit="m/N",
        tolerance="1 %: a plate for a beam",
        source="y^2 / EI integrated by SciPy",
        basis="library",
    )
    assert found.compliance == pytest.approx(exact, rel=0.01)


def test_corner(record):
    """A right-angled corner: P = 15e6 * 0.003^2 * tan 45 / 3 = 45 N, energy s^2 V / (6 E)."""
    ours = corner_triangle(angle=math.pi / 2, leg=0.04, thickness=0.003, modulus=3e9, strength=15e6)
    record(
        case="corner struck at landing",
        parts=("force to break, N", "energy to break, J"),
        published=(45.0, (15e6) ** 2 * 0.5 * 0.04**2 * 0.003 / (6 * 3e9)),
        ours=(ours.force, ours.energy),
        tolerance="1e-6: hand arithmetic",
        source="strip of linearly growing width, worked by hand",
        basis="exact",
    )
    assert ours.force == pytest.approx(45.0)
    assert ours.energy == pytest.approx((15e6) ** 2 * 0.5 * 0.04**2 * 0.003 / (6 * 3e9))


def test_edgewise_even(record):
    """An even deep cantilever bends by P s^3/(3 E I) and shears by 1.2 P s/(G A).

    Bending: 15e6 * 0.003 * 0.05^2 / (6 * 0.06) = 312.5 N; shear: 3e6 * 0.003 * 0.05 / 1.5 = 300 N.
    """
    ours = edgewise(
        Planform(root=0.05, tip=0.05, span=0.06, sweep=0.0),
        thickness=0.003,
        modulus=3e9,
        shear_modulus=0.2e9,
        strength=15e6,
        shear_strength=3e6,
    )
    inertia = 0.003 * 0.05**3 / 12
    by_hand = 0.06**3 / (3 * 3e9 * inertia) + 1.2 * 0.06 / (0.2e9 * 0.003 * 0.05)
    assert ours.compliance == pytest.approx(by_hand, rel=1e-6)
    record(
        case="fin struck edgewise",
        parts=("force to break, N", "compliance, m/N"),
        published=(300.0, by_hand),
        ours=(ours.force, ours.compliance),
        tolerance="1e-6: hand arithmetic",
        source="deep cantilever with shear (Timoshenko), worked by hand",
        basis="exact",
    )
    assert ours.force == pytest.approx(300.0, rel=1e-6)


def test_descent_by_hand(record):
    """0.1 kg under 0.3 m: sqrt(2 * 0.980665 / (1.225 * 0.75 * 0.0706858)) = 5.495 m/s."""
    found = descent_speed(mass=0.1, parachute_diameter=0.3)
    record(
        case="descent of 0.1 kg under a 0.3 m parachute",
        published=5.495,
        ours=found,
        unit="m/s",
        tolerance="0.001: hand arithmetic",
        source="weight equals drag, worked by hand",
        basis="exact",
    )
    assert found == pytest.approx(5.495, abs=1e-3)


def test_effective_mass_by_rigid_body(record):
    """A rod struck at its end answers with a quarter of its mass.

    1/m + a^2/I = 1/m + (L/2)^2 / (m L^2/12) = 4/m (rigid-body impulse).
    """
    found = effective_mass(mass=2.0, arms=((0.5, 1 / math.sqrt(12)),))
    record(
        case="share of a rod's mass behind an impact at its end",
        published=0.5,
        ours=found,
        unit="kg",
        tolerance="1e-6: closed form",
        source="rigid-body impulse, any textbook on dynamics",
        basis="exact",
    )
    assert found == pytest.approx(0.5)


def test_root_moment_of_a_wide_plate(record):
    """A force at the edge of a wide cantilever plate bends its root with 0.509 F per width.

    Jaramillo, J. Appl. Mech. 17 (1950), for an endless plate, from memory; a Ritz plate six spans
    wide gives it within 3 per cent.
    """
    wide = Planform(root=6.0, tip=6.0, span=1.0, sweep=0.0)
    prepared = prepare(wide, spanwise=8, chordwise=15)
    stiff = np.array([[1.0, 0.3, 0.0], [0.3, 1.0, 0.0], [0.0, 0.0, 0.35]])
    system = assemble(prepared, bending=stiff, areal_mass=1.0)
    load = prepared.values(np.array([[3.0, 1.0]]))[0]
    shape = static(system, load=load)
    bend = prepared.curvatures(np.array([[3.0, 0.0]])) @ shape
    moment = abs(float(bend[1, 0] + 0.3 * bend[0, 0]))
    record(
        case="root moment of a wide cantilever plate under a tip load",
        published=0.509,
        ours=moment,
        tolerance="3 %: a plate six spans wide for an endless one",
        source="T. J. Jaramillo, J. Appl. Mech. 17, 1950; from memory, unverified",
    )
    assert moment == pytest.approx(0.509, rel=0.03)
