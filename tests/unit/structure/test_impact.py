"""Touchdown: which part strikes first, how much energy, what margin."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.errors import InputError
from calc.geometry.free_outline import ellipse
from calc.geometry.planform import Planform
from calc.structure.impact import (
    FailureSpring,
    ImpactedFin,
    Rocket,
    SheetProperties,
    Touchdown,
    descent_speed,
    effective_mass,
    first_contact,
    impacted_fin,
    tip_corner,
    touchdown,
    worst_touchdown,
)
from calc.structure.root_strength import TipCapacity

SHAPE = Planform(root=0.09, tip=0.05, span=0.06, sweep=0.06)
SHEET = SheetProperties(
    corner_modulus=3e9,
    corner_strength=15e6,
    edge_modulus=3e9,
    edge_strength=15e6,
    shear_modulus=0.15e9,
    shear_strength=2.5e6,
)
ROCKET = Rocket(mass=0.15, length=0.5, diameter=0.05)


def fin(thickness: float = 0.003, shape: Planform = SHAPE) -> ImpactedFin:
    """Return a fin that bears at its tip what a plain cantilever of its mean chord does."""
    chord = 0.5 * (shape.root + shape.tip)
    tip = TipCapacity(
        force=15e6 * chord * thickness**2 / (6.0 * shape.span),
        compliance=4.0 * shape.span**3 / (3e9 * chord * thickness**3),
        failing="tension along",
    )
    return impacted_fin(shape, thickness=thickness, tip=tip, sheet=SHEET)


def landed(hit: ImpactedFin | None = None, rocket: Rocket = ROCKET, **changes: float) -> Touchdown:
    """Return the touchdown of a rocket at 5 m/s, struck 20 degrees from edge on."""
    usual = {"speed": 5.0, "tilt": 0.0, "incidence": math.radians(20.0)}
    return touchdown(hit or fin(), rocket, **{**usual, **changes})


@pytest.mark.parametrize(
    ("sweep", "tail", "tilt", "part"),
    [
        (0.06, 0.0, 0.0, "tip trailing corner"),
        (0.06, 0.05, 0.0, "tail"),
        (0.04, 0.0, 0.0, "trailing edge"),
        (0.02, 0.0, 0.0, "tail"),
        (0.02, 0.0, math.radians(40), "tip trailing corner"),
        (0.06, 0.0, math.pi / 2, "tip edge"),
        (0.06, 0.0, math.radians(130), "tip leading corner"),
    ],
)
def test_first_contact(sweep: float, tail: float, tilt: float, part: str) -> None:
    """Sweep, tail length and tilt decide what meets the ground, seen on a drawing."""
    contact = first_contact(replace(SHAPE, sweep=sweep), tail=tail, tilt=tilt)
    assert contact.part == part
    assert contact.clearance >= 0.0
    if part == "tail":
        assert (contact.x, contact.y) == (SHAPE.root + tail, 0.0)


def test_tail_first_spares_the_fin() -> None:
    """If the tail touches first the fin takes no energy."""
    down = landed(fin(shape=replace(SHAPE, sweep=0.01)))
    assert down.contact.part == "tail"
    assert down.governs.ratio == math.inf


def test_energy_is_conserved() -> None:
    """On rigid ground the fin takes the whole share of the fall's energy, flatwise and edgewise."""
    down = landed(share=0.5)
    assert down.flat_energy + down.edge_energy < 0.5 * 0.5 * 0.15 * 5.0**2
    edge = landed(incidence=0.0)
    lever = 0.025 + 0.06
    free = effective_mass(mass=0.15, arms=((lever, 0.5 / math.sqrt(12)),))
    assert edge.edge_energy == pytest.approx(0.5 * free * 25.0)
    assert edge.flat_energy == 0.0
    assert edge.indentation == 0.0


def test_flat_impact_by_hand() -> None:
    """Flat on its side the rocket answers with its mass about roll axis and balance point.

    Arms: body radius and span about the roll axis, a third of the length and the tip corner about
    the balance point; radii of gyration 25 mm and length / sqrt 12.
    """
    down = landed(incidence=math.pi / 2)
    reach, aft = 0.025 + 0.06, 0.5 / 3.0 + 0.11
    mass = 0.15 / (1.0 + (reach / 0.025) ** 2 + aft**2 / (0.5**2 / 12.0))
    assert down.flat_energy == pytest.approx(0.5 * mass * 25.0)
    assert down.edge_energy == pytest.approx(0.0, abs=1e-12)


def test_soft_ground_helps() -> None:
    """Turf takes energy off the fin as a spring in series; slower falls help with the square."""
    hard, soft = landed(), landed(ground_resistance=1e6)
    assert soft.governs.ratio > hard.governs.ratio
    corner = fin()
    ground = 1.0 / (2.0 * 1e6 * 0.003 * math.tan(0.5 * corner.corner_angle))
    compliance = corner.edgewise.compliance
    assert soft.edge_energy == pytest.approx(hard.edge_energy * compliance / (compliance + ground))
    assert soft.indentation == pytest.approx(min(ground * soft.edge_force, corner.corner_edge))
    assert landed(speed=2.5).flat_energy == pytest.approx(hard.flat_energy / 4)


def test_softer_of_fin_and_corner_counts() -> None:
    """Struck flatwise, the larger compliance of whole fin and corner is taken."""
    springs = [FailureSpring("any", 1.0, compliance) for compliance in (1e-3, 2e-3)]
    for flat, corner in (springs, reversed(springs)):
        assert replace(fin(), flatwise=flat, corner=corner).flatwise_compliance == 2e-3


def test_thicker_is_tougher() -> None:
    """Every margin grows with thickness."""
    thin, thick = (landed(fin(thickness)).margins for thickness in (0.002, 0.004))
    assert all(b.ratio > a.ratio for a, b in zip(thin, thick, strict=True))


def test_worst_touchdown_is_the_worst_of_the_swing() -> None:
    """No way to divide the swing between tilt and incidence leaves a smaller margin."""
    swing = math.radians(30.0)
    worst = worst_touchdown(fin(), ROCKET, speed=5.0, swing=swing)
    ratios = [
        landed(tilt=swing * math.sin(part), incidence=swing * math.cos(part)).governs.ratio
        for part in (0.0, math.pi / 8, math.pi / 4, 3 * math.pi / 8, math.pi / 2)
    ]
    assert worst.governs.ratio == pytest.approx(min(ratios))
    assert max(ratios) > 1.5 * min(ratios)


@given(
    sweep=st.floats(-0.05, 0.2),
    tip=st.floats(0.0, 0.1),
    tilt=st.floats(0.0, 3.0),
)
def test_first_contact_is_the_lowest_point(sweep: float, tip: float, tilt: float) -> None:
    """No corner of the fin lies lower than the point that touches first."""
    contact = first_contact(Planform(root=0.09, tip=tip, span=0.06, sweep=sweep), tilt=tilt)
    corners = [(0.09, 0.0), (sweep, 0.06), (sweep + tip, 0.06)]
    depth = [x * math.cos(tilt) + y * math.sin(tilt) for x, y in corners]
    found = contact.x * math.cos(tilt) + contact.y * math.sin(tilt)
    assert found >= max(depth) - 1.1e-3


def test_corner_of_a_round_tip() -> None:
    """A half disc's tip is the corner between points a quarter of its radius along the rim.

    Chords of 1/4 radian each meet at pi - 1/4, and each is 2 R sin(1/8) long.
    """
    radius = 0.08
    angle, leg = tip_corner(ellipse(root=2.0 * radius, span=radius, sweep=0.0))
    assert angle == pytest.approx(math.pi - 0.25, abs=0.01)
    assert leg == pytest.approx(2.0 * radius * math.sin(0.125), rel=0.01)


def test_bad_inputs() -> None:
    """Impossible parachutes, rockets, speeds and shares raise InputError naming the input."""
    with pytest.raises(InputError, match="spill_hole"):
        descent_speed(mass=0.1, parachute_diameter=0.3, spill_hole=0.3)
    with pytest.raises(InputError, match="length"):
        Rocket(mass=0.1, length=0.0, diameter=0.05)
    with pytest.raises(InputError, match="speed"):
        landed(speed=0.0)
    with pytest.raises(InputError, match="ground_resistance"):
        landed(ground_resistance=0.0)
    for share in (0.0, 1.5):
        with pytest.raises(InputError, match="share"):
            landed(share=share)
