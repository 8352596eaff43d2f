"""A fin on a joint that turns: natural frequency and flutter against a perfectly clamped root."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from calc.fin import boundaries, check, model
from calc.fin.fin import Fin, Point
from calc.structure import plate


@dataclass(frozen=True)
class FlexibleRoot:
    """What a root that turns against a spring does to a fin.

    Parameters
    ----------
    frequency, clamped_frequency
        First natural frequency with the spring and with a clamped root [Hz].
    speed, clamped_speed
        Flutter or divergence speed, whichever is lower, in the same two cases [m/s]; infinite where
        there is none.
    """

    frequency: float
    clamped_frequency: float
    speed: float
    clamped_speed: float

    @property
    def speed_share(self) -> float:
        """Return the share of the clamped fin's speed that is left, at most 1."""
        if not math.isfinite(self.clamped_speed):
            return 1.0 if not math.isfinite(self.speed) else 0.0
        return min(1.0, self.speed / self.clamped_speed)


def flexible_root(
    fin: Fin, found: check.BatchMargins, point: Point, *, spring: float
) -> FlexibleRoot:
    """Return what a root that turns against a spring does to frequency and flutter.

    Parameters
    ----------
    fin, found
        A fin and its survey.
    point
        Moment of the flight whose air counts.
    spring
        Rotational stiffness of the root [N m/rad per m].

    Returns
    -------
    FlexibleRoot
        At the first Mach number of the subsonic model.

    Notes
    -----
    Edges are taken square here, with and without the spring: the ratio to the clamped fin counts.
    """
    shape = model.model(fin.planform)
    clamped = model.structure(shape, found.structure.layups, [fin.direction])
    system = plate.assemble(
        shape.plate,
        bending=clamped.bending[:, None],
        areal_mass=np.array([[clamped.layups[0].areal_mass]]),
        root_spring=spring,
    )
    soft = replace(clamped, system=system, modes=plate.modes(system, count=model.MODES))

    def both(one: model.Structure) -> tuple[float, float]:
        stable = boundaries.flutter_and_divergence(shape, one, point.air)
        first = min(float(stable.flutter_by_mach[0, 0]), float(stable.divergence_by_mach[0, 0]))
        return float(one.modes.frequency[0, 0]) / (2.0 * math.pi), first

    (frequency, speed), (clamped_frequency, clamped_speed) = both(soft), both(clamped)
    return FlexibleRoot(frequency, clamped_frequency, speed, clamped_speed)
