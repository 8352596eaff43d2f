"""A fin on a root that turns: between a loose one and a clamped one."""

from __future__ import annotations

import math

import pytest

from calc import materials
from calc.air import atmosphere
from calc.fin import check
from calc.fin.fin import Fin, Point
from calc.fin.flexible_root import FlexibleRoot, flexible_root
from calc.geometry.planform import Planform

POINT = Point(speed=100.0, air=atmosphere.at(0.0))


def with_spring(spring: float) -> FlexibleRoot:
    """Return a balsa fin on a root of a rotational stiffness."""
    shape = Planform(root=0.08, tip=0.04, span=0.06, sweep=0.03)
    fin = Fin(shape, materials.load("balsa"), 0.003)
    found = check.evaluate_batch(fin, [fin.layup()], [fin.direction], POINT)
    return flexible_root(fin, found, POINT, spring=spring)


def test_stiffest_root_is_a_clamped_one() -> None:
    """A spring without end leaves the clamped frequency and speed."""
    stiff = with_spring(1e7)
    assert stiff.frequency == pytest.approx(stiff.clamped_frequency, rel=0.01)
    assert stiff.speed_share == pytest.approx(1.0, abs=0.01)


def test_softer_roots_lower_frequency_and_speed() -> None:
    """A softer root never raises the natural frequency or the share of the speed left."""
    soft, firm = with_spring(20.0), with_spring(200.0)
    assert soft.frequency < firm.frequency < firm.clamped_frequency
    assert 0.0 < soft.speed_share <= firm.speed_share <= 1.0


@pytest.mark.parametrize(
    ("speed", "clamped", "share"),
    [
        (50.0, 100.0, 0.5),
        (100.0, 100.0, 1.0),
        (120.0, 100.0, 1.0),
        (math.inf, math.inf, 1.0),
        (100.0, math.inf, 0.0),
    ],
)
def test_share_of_the_clamped_speed(speed: float, clamped: float, share: float) -> None:
    """At most all of the clamped speed is left; of a clamped fin without a boundary, nothing."""
    assert FlexibleRoot(1.0, 1.0, speed, clamped).speed_share == share
