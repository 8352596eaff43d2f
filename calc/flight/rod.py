"""How fast a rocket leaves its rod or rail, and how long a rod it needs."""

from __future__ import annotations

import math

import numpy as np

from calc.flight import motor
from calc.flight.ascent import Ascent, Launch
from calc.units import STANDARD_GRAVITY

ROD_SPEED = 15.0
"""Least speed at the end of the rod with which fins steer [m/s]; common practice."""

LIFT_OFF = 5.0
"""Average thrust over weight that a motor should have for a rocket; common practice."""


def rod_speed(up: Ascent, launch: Launch, *, length: float) -> float:
    """Return the speed at which a rocket leaves a rod or rail [m/s].

    Parameters
    ----------
    up, launch
        The ascent and the launch it comes from.
    length
        How far the rocket is guided [m].

    Notes
    -----
    With a thrust curve the speed is that of the ascent; its square is nearly linear in height
    there, so it is interpolated. Else the thrust is the average times
    `motor.STARTING_THRUST`, and the equation is v^2 = 2 L (F / m - g), without drag and friction.

    Examples
    --------
    >>> from calc.flight.ascent import ascent
    >>> launch = Launch(mass=0.1, propellant_mass=0.012, diameter=0.025, drag=0.6,
    ...                 thrust=6.0, burn_time=1.66)
    >>> round(rod_speed(ascent(launch), launch, length=1.0), 1)
    12.7
    """
    if launch.thrust_curve is not None:
        end = int(np.argmax(up.height))
        return math.sqrt(float(np.interp(length, up.height[: end + 1], up.speed[: end + 1] ** 2)))
    return math.sqrt(2.0 * length * max(_starting(launch), 0.0))


def rod_needed(up: Ascent, launch: Launch) -> float | None:
    """Return the length of a rod that a rocket leaves at `ROD_SPEED` [m]; None if there is none."""
    if up.max_speed.speed <= ROD_SPEED:
        return None
    if launch.thrust_curve is not None:
        rising = slice(0, int(np.argmax(up.speed)) + 1)
        return float(np.interp(ROD_SPEED**2, up.speed[rising] ** 2, up.height[rising]))
    start = _starting(launch)
    return ROD_SPEED**2 / (2.0 * start) if start > 0.0 else None


def _starting(launch: Launch) -> float:
    """Return the acceleration on the rod [m/s2] of a motor without a thrust curve."""
    assert launch.thrust is not None
    family = motor.usual_propellant(launch.total_impulse)
    thrust = launch.thrust * motor.STARTING_THRUST[family]
    return thrust / launch.mass - STANDARD_GRAVITY
