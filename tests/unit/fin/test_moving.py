"""How a checked fin moves: the picture says what the verdict says."""

import math

import numpy as np
import pytest

from calc import aeroelastic, materials
from calc.air import atmosphere
from calc.fin import check, motion
from calc.fin.fin import Fin, Point
from calc.geometry.free_outline import ellipse
from calc.geometry.planform import Planform

AIR = atmosphere.at(300.0)
SWEPT = Planform(root=0.0762, tip=0.0381, span=0.0635, sweep=0.1)
LONG = Planform(root=0.1, tip=0.04, span=0.1, sweep=0.08)
STRAIGHT = Planform(root=0.085, tip=0.026, span=0.112, sweep=0.025)


def moved(
    material: str, thickness: float, outline: object = SWEPT, *, speed: float = 100.0, **more: float
) -> tuple[check.Check, motion.Moving]:
    """Return a check and how its fin moves."""
    fin = Fin(outline, materials.load(material), thickness, **more)
    result = check.check(fin, Point(speed, AIR))
    return result, motion.moving(result)


FLUTTERING = [
    ("balsa", 0.0024, SWEPT, 100.0),
    ("balsa", 0.0024, Planform(root=0.107, tip=0.065, span=0.101, sweep=0.088), 60.0),
    ("basswood", 0.0032, Planform(root=0.148, tip=0.058, span=0.108, sweep=0.086), 120.0),
    ("birch-plywood", 0.0032, Planform(root=0.192, tip=0.129, span=0.12, sweep=0.137), 160.0),
    ("balsa", 0.0024, ellipse(root=0.08, span=0.06, sweep=0.04), 150.0),
]
NAMES = ["swept", "long", "basswood", "plywood", "ellipse"]


@pytest.mark.parametrize(
    ("material", "thickness", "outline", "speed"),
    FLUTTERING,
    ids=NAMES,
)
def test_flutter_turns_at_the_verdicts_speed(
    material: str, thickness: float, outline: object, speed: float
) -> None:
    """The motion dies away below the speed that the verdict names, and grows just above it."""
    result, moving = moved(material, thickness, outline, speed=speed)
    flutter = result.margins[0]
    assert moving.kind == "flutter"
    assert moving.boundary == pytest.approx(flutter.capacity.value, rel=1e-9)
    at = int(np.abs(moving.ratios - 1.0).argmin())
    assert moving.ratios[at] == 1.0
    damping = moving.motion.growth / moving.motion.frequency
    assert (damping[:at] < 0.0).all()
    assert abs(damping[at]) < 0.02
    assert damping[at + 1] > 0.0
    assert moving.motion.speeds == pytest.approx(moving.ratios * moving.boundary)
    # the flight's own speed is among them, unless the mode swings too fast for the air there
    if moving.flown is None:
        assert not moving.ratios[0] <= speed / moving.boundary <= moving.ratios[-1]
    else:
        assert moving.motion.speeds[moving.flown] == pytest.approx(speed)
    reduced = moving.motion.frequency / moving.motion.speeds
    assert (reduced <= result.boundaries.forces.nodes[-1]).all()


@pytest.mark.parametrize(
    ("material", "thickness", "outline", "speed"),
    FLUTTERING,
    ids=NAMES,
)
def test_the_mode_shown_is_the_solvers(
    material: str, thickness: float, outline: object, speed: float
) -> None:
    """At the boundary shape and frequency are those that the flutter solver finds in that air."""
    result, moving = moved(material, thickness, outline, speed=speed)
    stable, row = result.boundaries, moving.row
    forces = stable.forces
    one = aeroelastic.AirForces(forces.machs, forces.nodes, forces.scale, forces.forces[row])
    own = one.at_machs(np.array([moving.boundary / float(AIR.sound_speed)]))
    solved = aeroelastic.flutter(
        own, frequency=result.structure.modes.frequency[row], density=float(AIR.density)
    )
    at = int(np.abs(moving.ratios - 1.0).argmin())
    shape = solved.shape[0] / np.linalg.norm(solved.shape[0])
    assert abs(moving.motion.shapes[at].conj() @ shape) > 0.999
    assert moving.motion.frequency[at] == pytest.approx(solved.frequency[0], rel=0.02)


def test_divergence_leans_over_without_swinging() -> None:
    """A fin that diverges first springs back below that speed and leans over, unswinging, above."""
    result, moving = moved("basswood", 0.0024, STRAIGHT)
    assert moving.kind == "divergence"
    assert moving.boundary == pytest.approx(result.margins[1].capacity.value, rel=1e-6)
    below, above = moving.ratios < 1.0, moving.ratios > 1.0
    assert (moving.motion.growth[below] < 0.0).all()
    assert (moving.motion.growth[above] > 0.0).all()
    assert (moving.motion.frequency[above] == 0.0).all()
    assert np.abs(moving.motion.shapes[above].imag).max() < 1e-9


@pytest.mark.parametrize("speed", [100.0, 320.0])
def test_nothing_is_shown_beyond_what_was_looked_at(speed: float) -> None:
    """Without a boundary the speeds end where the verdict says "at least"."""
    result, moving = moved("glass-epoxy", 0.0048, LONG, speed=speed)
    flutter = result.margins[0]
    assert flutter.bound == "at least"
    assert moving.kind == "none"
    assert moving.ratios[-1] == 1.0
    assert moving.boundary == pytest.approx(flutter.capacity.value, rel=1e-9)
    assert (moving.motion.growth < 0.0).all()


def test_beyond_the_speed_of_sound_the_air_is_that_which_decides() -> None:
    """The air is kept at the Mach number of the verdict, with the wind-tunnel factor on speeds."""
    outline = Planform(root=0.0762, tip=0.0381, span=0.0635, sweep=0.0381)
    result, moving = moved("glass-epoxy", 0.0016, outline, speed=400.0)
    fast = result.boundaries.fast
    assert fast is not None
    assert moving.kind == "flutter"
    assert moving.mach == pytest.approx(float(fast.first_mach[moving.row]))
    assert moving.flown is not None
    # the flight passes that Mach number with the verdict's margin
    assert 1.0 / moving.ratios[moving.flown] == pytest.approx(result.margins[0].ratio, rel=0.02)
    assert moving.motion.speeds[moving.flown] > moving.ratios[moving.flown] * moving.boundary
    assert motion.turns(moving)


@pytest.mark.parametrize("density", [105.0, 109.0, 112.13, 115.0, 119.0])
def test_flutter_just_before_divergence_is_shown(density: float) -> None:
    """A fin that diverges within a few per cent of its flutter speed shows its boundary too."""
    outline = Planform(root=0.0762, tip=0.0381, span=0.0635, sweep=0.0381)
    _, moving = moved("balsa", 0.003175, outline, speed=89.2, density=density, cut="A")
    assert 1.0 in moving.ratios
    assert np.isfinite(moving.motion.growth).all()


def test_a_boundary_drawn_early_is_shown_where_it_is_solved() -> None:
    """Where the verdict lets flutter begin between two Mach numbers, one of them is shown."""
    outline = Planform(root=0.138, tip=0.115, span=0.149, sweep=0.114)
    result, moving = moved("glass-epoxy", 0.0032, outline, speed=400.0)
    assert motion.turns(moving)
    if moving.mach is not None:
        solved = result.boundaries.detail.speed[moving.row]
        assert any(math.isclose(moving.boundary, speed, rel_tol=1e-9) for speed in solved)
