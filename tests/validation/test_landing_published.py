"""Landing energies against textbook beams and an independent quadrature."""

import math

import numpy as np
import pytest
from scipy.integrate import quad

from calc.landing import (
    corner_triangle,
    descent_speed,
    edgewise,
    effective_mass,
    flat_strip,
    thumb,
)
from calc.planform import Planform
from calc.plate import assemble, prepare, static

FIN = {"root": 0.08, "tip": 0.05, "span": 0.06, "thickness": 0.003}


def test_even_strip(record):
    """An even cantilever stores s^2 V / (18 E) at failure, a pointed one s^2 V / (6 E).

    S. Timoshenko, Strength of Materials, Part I: strain energy of bending.
    """
    e, s = 3e9, 15e6
    even = flat_strip(root=0.06, tip=0.06, span=0.05, thickness=0.002, modulus=e, strength=s)
    assert even.energy == pytest.approx(s**2 * 0.06 * 0.05 * 0.002 / (18 * e), rel=1e-6)
    point = flat_strip(root=0.06, tip=0.0, span=0.05, thickness=0.002, modulus=e, strength=s)
    record(
        case="energy a cantilever stores at failure",
        parts=("even", "pointed"),
        published=(s**2 * 6e-6 / (18 * e), s**2 * 3e-6 / (6 * e)),
        ours=(even.energy, point.energy),
        unit="J",
        tolerance="1e-6: closed form",
        source="S. Timoshenko, Strength of Materials, Part I",
        basis="exact",
    )
    assert point.energy == pytest.approx(s**2 * 0.03 * 0.05 * 0.002 / (6 * e), rel=1e-6)


def test_strip_quadrature(record):
    """A tapered strip's compliance is the quadrature of y^2 / EI."""
    ours = flat_strip(**FIN, modulus=4e9, strength=20e6)
    exact, _ = quad(lambda y: y**2 / (4e9 * (0.05 + 0.03 * y / 0.06) * 0.003**3 / 12), 0.0, 0.06)
    record(
        case="compliance of a tapered strip",
        published=exact,
        ours=ours.compliance,
        unit="m/N",
        tolerance="1e-9: numerical quadrature",
        source="y^2 / EI integrated by SciPy",
        basis="library",
    )
    assert ours.compliance == pytest.approx(exact, rel=1e-9)


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
        root=0.05,
        tip=0.05,
        span=0.06,
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
        case="share of a rod's mass behind a blow on its end",
        published=0.5,
        ours=found,
        unit="kg",
        tolerance="1e-6: closed form",
        source="rigid-body impulse, any textbook on dynamics",
        basis="exact",
    )
    assert found == pytest.approx(0.5)


def test_thumb_spread(record):
    """The spread rule meets the published 0.51 F per width of a wide cantilever plate.

    Jaramillo, J. Appl. Mech. 17 (1950): 0.509 F at the root of an endless plate, from memory. A
    Ritz plate six spans wide gives it within 3 per cent, and so does width = 2 spans (0.5 F).
    """
    wide = Planform(root=6.0, tip=6.0, span=1.0, sweep=0.0)
    prepared = prepare(wide, spanwise=8, chordwise=15)
    bending = np.array([[1.0, 0.3, 0.0], [0.3, 1.0, 0.0], [0.0, 0.0, 0.35]])
    system = assemble(prepared, bending=bending, areal_mass=1.0)
    load = prepared.values(np.array([[3.0, 1.0]]))[0]
    shape = static(system, load=load)
    bend = prepared.curvatures(np.array([[3.0, 0.0]])) @ shape
    moment = abs(float(bend[1, 0] + 0.3 * bend[0, 0]))
    assert moment == pytest.approx(0.509, rel=0.03)
    rule = thumb(force=1.0, root=6.0, span=1.0, thickness=1.0, strength=1.0)
    record(
        case="root moment of a wide cantilever plate under a tip load",
        parts=("plate", "rule"),
        published=(0.509, 0.509),
        ours=(moment, rule.demand / 6.0),
        tolerance="3 %: a plate six spans wide for an endless one",
        source="T. J. Jaramillo, J. Appl. Mech. 17, 1950; from memory, unverified",
    )
    assert rule.demand / 6.0 == pytest.approx(0.509, rel=0.03)
