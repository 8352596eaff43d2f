"""The rules of the verdict: what is required of each margin, and what a set of margins means."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from calc import aeroelastic
from calc.margin import Margin
from calc.report import State

Real = NDArray[np.float64]

MIN_MASS_RATIO = 1.0
"""Lowest mass ratio that is judged: a fin's mass per area over air density times mean chord."""


TRANSONIC_FACTOR = 0.85
"""Measured over linear flutter speed from Mach 0.95 on. The AGARD 445.6 wing (NASA TM 100492) and
a 15 degree aluminium plate (NACA RM L55E11) gave 0.81 to 0.95 of what linear lifting-surface
theory answers at Mach 0.954 to 3.0; below Mach 0.9 they gave what it answers."""


TRANSONIC_RANGE = (aeroelastic.SUBSONIC_LIMIT, 0.95)
"""Mach numbers between which that factor sets in; the dip of the first wing lies at its end."""


TRANSONIC_COV = 0.10
"""Scatter of the flutter model beyond: all of 0.81 to 0.95 lie within 10 to 90 % of it."""


REQUIRED_TRANSONIC_MARGIN = 1.20
"""Margin in speed required of flutter and divergence of flights faster than that: as many
standard deviations as `REQUIRED_SPEED_MARGIN` has below (1.15 to the power 0.10 / 0.08 is 1.19)."""


HIGHEST_MACH = 2.5
"""Highest Mach number of a flight that is judged. The theory was compared with measured flutter up
to Mach 3, and the required margin must lie below that."""


REQUIRED_SPEED_MARGIN = 1.15
"""Margin in speed required of flutter and divergence (MIL-A-8870: 15 %)."""


REQUIRED_LOAD_MARGIN = 1.5
"""Margin in load required of strength (14 CFR 25.303: factor of safety 1.5)."""


FLUTTER_MODEL_COV = 0.08
"""Scatter of the flutter model itself, from the validation cases with measured flutter."""


MOST_SHORT = 0.10
"""Largest share of fins that may give way in flight for the verdict "holds"; common practice."""


STRENGTH_MODEL_COV = 0.15
"""Scatter of the root-stress model; common practice, wood joints."""


MODEL_COV = {
    "flutter": FLUTTER_MODEL_COV,
    "divergence": FLUTTER_MODEL_COV,
    "bending": STRENGTH_MODEL_COV,
    "handling": STRENGTH_MODEL_COV,
}


def _order(margin: Margin) -> tuple[float, bool]:
    """Return the key that ranks margins; of equal ones a limit comes after a value."""
    return margin.margin, bool(margin.bound)


def governing(margins: Sequence[Margin]) -> Margin:
    """Return the smallest margin: the one that a verdict, its bar and every list name."""
    return min(margins, key=_order)


def weakest(margins: Sequence[Margin]) -> Margin:
    """Return the smallest margin of the flight."""
    return min((m for m in margins if m.flight), key=_order)


def score(margins: Sequence[Margin]) -> float:
    """Return the smallest margin of the flight as a number: 1 and above is enough."""
    return weakest(margins).margin


def transonic(mach: Real | float) -> Real:
    """Return how far a Mach number lies in `TRANSONIC_RANGE`, from 0 to 1."""
    low, high = TRANSONIC_RANGE
    return np.asarray(np.clip((np.asarray(mach) - low) / (high - low), 0.0, 1.0))


def transonic_factor(mach: Real | float) -> Real:
    """Return by what the linear speed of flutter or divergence is multiplied at a Mach number."""
    return np.asarray(1.0 - (1.0 - TRANSONIC_FACTOR) * transonic(mach))


def required_speed_margin(mach: float) -> float:
    """Return the margin in speed required of flutter and divergence at a Mach number."""
    more = REQUIRED_TRANSONIC_MARGIN - REQUIRED_SPEED_MARGIN
    return float(REQUIRED_SPEED_MARGIN + more * transonic(mach))


def model_cov(name: str, mach: float) -> float:
    """Return the scatter of the model behind a margin of a flight at a Mach number."""
    more = TRANSONIC_COV - FLUTTER_MODEL_COV if name in ("flutter", "divergence") else 0.0
    return float(MODEL_COV[name] + more * transonic(mach))


def regime(mach: float) -> str:
    """Return which air a Mach number lies in."""
    if mach <= aeroelastic.SUBSONIC_LIMIT:
        return "subsonic"
    return "transonic" if mach < aeroelastic.SUPERSONIC_START else "supersonic"


def verdict_state(margins: Sequence[Margin], shortfall: float) -> State:
    """Return "holds", "marginal", "fails" or "unknown".

    Holds: every margin is 1 or more, and at most `MOST_SHORT` of such fins give way in flight.
    Fails: something gives way in flight. Between the two it is marginal. Unknown: nothing fails,
    but the model ends before it could promise that.
    """
    if any(margin.fails for margin in margins):
        return "fails"
    if not all(margin.known for margin in margins):
        return "unknown"
    if all(margin.ratio >= margin.required for margin in margins) and shortfall <= MOST_SHORT:
        return "holds"
    return "marginal"
