"""A fin and a moment of its flight."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from calc.air.atmosphere import Air
from calc.geometry.outline import Outline
from calc.geometry.planform import Edge
from calc.materials import Material
from calc.structure.laminate import Layup
from calc.units import STANDARD_GRAVITY

SQUARE = Edge("square")

STALL = math.radians(20.0)
"""Angle of attack up to which a fin's lift is taken to grow [rad]. Thin plates of small aspect
ratio lose it later still (S. F. Hoerner, Fluid-Dynamic Lift, 1985, ch. 17; from memory,
unverified), so this is on the safe side only where the load is judged at more speed than that."""

GUST = 20.0 * 0.44704
"""Speed of a gust from the side [m/s]: 20 mph, the most wind that the US model rocket safety code
(2012) flies in."""

HAND = 3.0
"""Push of a careful hand on the tip of a fin of a rocket of unknown mass [N]; common practice
(measured with a kitchen scale under the tip)."""

LEAST_HAND = 1.0
"""Least push of a hand [N], whatever the rocket weighs: a finger; common practice."""


def angle_in_gust(*, speed: float, gust: float) -> float:
    """Return the angle of attack that a gust from the side makes [rad], `STALL` at most.

    Parameters
    ----------
    speed, gust
        Speed of the rocket and of the gust across it [m/s], above zero.

    Notes
    -----
    Equation: tan a = w / V.

    Examples
    --------
    >>> [round(math.degrees(angle_in_gust(speed=v, gust=8.94)), 1) for v in (15.0, 100.0, 240.0)]
    [20.0, 5.1, 2.1]
    """
    return min(math.atan2(gust, speed), STALL)


def hand_force(mass: float | None) -> float:
    """Return how hard a hand pushes on the tip of a fin [N].

    The weight of the rocket, of a mass [kg], as when it is picked up or laid down by one fin; for
    the lightest `LEAST_HAND`, and `HAND` where the mass is not known. Common practice.

    Examples
    --------
    >>> hand_force(0.05), round(hand_force(0.3), 2), hand_force(None)
    (1.0, 2.94, 3.0)
    """
    return HAND if mass is None else max(LEAST_HAND, mass * STANDARD_GRAVITY)


@dataclass(frozen=True)
class Fin:
    """A fin: outline, edges, what it is made of and which way the grain runs."""

    planform: Outline
    material: Material
    thickness: float
    grain: float = 0.0
    edge: Edge = SQUARE
    density: float | None = None
    cut: str | None = None
    moisture: float | None = None
    count: int = 3
    coating: float = 0.0
    """Finish on both sides together [kg/m2]."""
    hand: float = HAND
    """Push of a hand on the tip that it must carry [N]."""

    def layup(self, factors: Mapping[str, float] | None = None) -> Layup:
        """Return the plies, their properties multiplied by `factors`."""
        return self.material.layup(
            thickness=self.thickness,
            density=self.density,
            cut=self.cut,
            moisture=self.moisture,
            factors=factors,
        )

    @property
    def direction(self) -> float:
        """Direction of the grain from the x axis [rad]."""
        return self.planform.grain_direction(self.grain)


@dataclass(frozen=True)
class Point:
    """A moment of the flight: speed [m/s], the air there and the angle of attack [rad].

    Where the speed of a gust from the side is given [m/s], it makes the angle of attack.
    """

    speed: float
    air: Air
    attack: float = math.radians(5.0)
    gust: float | None = None

    def __post_init__(self) -> None:
        if self.gust is not None:
            angle = angle_in_gust(speed=self.speed, gust=self.gust)
            object.__setattr__(self, "attack", angle)

    @property
    def mach(self) -> float:
        """Speed over the speed of sound."""
        return float(self.speed / self.air.sound_speed)

    @property
    def pressure(self) -> float:
        """Dynamic pressure [Pa]."""
        return float(0.5 * self.air.density * self.speed**2)
