"""A mode that nearly flutters below the flight's speed and then recovers."""

import pytest

from calc.air import atmosphere
from calc.fin import boundaries, model
from calc.fin.fin import Point
from calc.geometry.planform import Planform
from calc.structure.laminate import Lamina, Layup, Ply

OUTLINE = Planform(root=0.05942, tip=0.02314, span=0.07732, sweep=0.02714)
AIR = atmosphere.at(500.0)


def sheet() -> Layup:
    """Return a plywood of which the fin has a faint second mode."""
    lamina = Lamina(11.14e9, 3.695e9, 2.136e9, 0.115, 924.9, 2.136e9, 2.136e9, *[1e8] * 5)
    return Layup((Ply(lamina, 0.0010356),))


def near(speed: float, stack: Layup) -> tuple[float, float] | None:
    """Return the near miss reported at a flight speed [m/s]."""
    shape = model.model(OUTLINE)
    found = model.structure(shape, [stack], [0.5559])
    stable = boundaries.flutter_and_divergence(shape, found, AIR)
    assert min(stable.flutter_speed[0], stable.divergence_speed[0]) > 160.0
    return boundaries.near_flutter(found, stable, Point(speed, AIR))


def test_a_faint_mode_is_told_with_its_speed_and_damping() -> None:
    """Found below the first instability, where its damping is least."""
    told = near(145.0, sheet())
    assert told is not None
    speed, damping = told
    assert speed == pytest.approx(101.0, rel=0.03)
    assert 0.0 < damping < boundaries.FAINT


def test_what_lies_beyond_the_flight_is_not_told() -> None:
    """A flight that ends well below the faint speed does not meet it."""
    assert near(80.0, sheet()) is None


def test_a_well_damped_fin_says_nothing() -> None:
    """A mode that keeps more damping than that is no matter for a note."""
    assert near(145.0, Layup((Ply(sheet().plies[0].lamina, 0.002),))) is None
