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


def test_even_strip():
    """An even cantilever stores s^2 V / (18 E) at failure, a pointed one s^2 V / (6 E).

    S. Timoshenko, Strength of Materials, Part I: strain energy of bending.
    """
    e, s = 3e9, 15e6
    even = flat_strip(root=0.06, tip=0.06, span=0.05, thickness=0.002, modulus=e, strength=s)
    assert even.energy == pytest.approx(s**2 * 0.06 * 0.05 * 0.002 / (18 * e), rel=1e-6)
    point = flat_strip(root=0.06, tip=0.0, span=0.05, thickness=0.002, modulus=e, strength=s)
    assert point.energy == pytest.approx(s**2 * 0.03 * 0.05 * 0.002 / (6 * e), rel=1e-6)


def test_strip_quadrature():
    """A tapered strip's compliance is the quadrature of y^2 / EI."""
    ours = flat_strip(**FIN, modulus=4e9, strength=20e6)
    exact, _ = quad(lambda y: y**2 / (4e9 * (0.05 + 0.03 * y / 0.06) * 0.003**3 / 12), 0.0, 0.06)
    assert ours.compliance == pytest.approx(exact, rel=1e-9)


def test_corner():
    """A right-angled corner: P = 15e6 * 0.003^2 * tan 45 / 3 = 45 N, energy s^2 V / (6 E)."""
    ours = corner_triangle(angle=math.pi / 2, leg=0.04, thickness=0.003, modulus=3e9, strength=15e6)
    assert ours.force == pytest.approx(45.0)
    assert ours.energy == pytest.approx((15e6) ** 2 * 0.5 * 0.04**2 * 0.003 / (6 * 3e9))


def test_edgewise_even():
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
    assert ours.force == pytest.approx(300.0, rel=1e-6)


def test_descent_by_hand():
    """0.1 kg under 0.3 m: sqrt(2 * 0.980665 / (1.225 * 0.75 * 0.0706858)) = 5.495 m/s."""
    assert descent_speed(mass=0.1, parachute_diameter=0.3) == pytest.approx(5.495, abs=1e-3)


def test_effective_mass_by_rigid_body():
    """A rod struck at its end answers with a quarter of its mass.

    1/m + a^2/I = 1/m + (L/2)^2 / (m L^2/12) = 4/m (rigid-body impulse).
    """
    assert effective_mass(mass=2.0, arms=((0.5, 1 / math.sqrt(12)),)) == pytest.approx(0.5)


def test_thumb_spread():
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
    assert rule.demand / 6.0 == pytest.approx(0.509, rel=0.03)
