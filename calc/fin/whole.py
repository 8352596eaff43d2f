"""One verdict for the whole fin: the fin itself, its joint, the hand, the landing and the rod."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

from calc.fin import touchdown
from calc.fin.check import Check
from calc.fin.fin import Fin
from calc.fin.policy import governing, verdict_state
from calc.flight.rod import ROD_SPEED
from calc.flight.stability import Balance
from calc.margin import Margin, Quantity
from calc.materials import Material
from calc.report import State

ROD_FAILS = 0.7
"""Share of `ROD_SPEED` below which a rocket is not to be flown: its fins have half the force to
steer with. Our own choice."""

STATIC_MARGIN = 1.0
"""Required static margin, in calibers; common practice is 1 to 2."""

_DECILE = NormalDist().inv_cdf(0.9)


@dataclass(frozen=True, eq=False)
class Whole:
    """The verdict of everything that was judged.

    Attributes
    ----------
    fin
        The check of the fin itself at its worst moment.
    margins
        Of the fin itself and of the rest, in the order of a reader's interest.
    governs
        The smallest of them.
    state, shortfall
        As in a `Check`; the shortfall counts the joint's spread too.
    left_out
        What was not judged, and what it would take, in words.
    """

    fin: Check
    margins: tuple[Margin, ...]
    governs: Margin
    state: State
    shortfall: float
    left_out: tuple[tuple[str, str], ...]


def whole(
    result: Check, others: Sequence[Margin], left_out: Sequence[tuple[str, str]] = ()
) -> Whole:
    """Return the verdict of a fin and of what holds, carries and lands it."""
    margins = (*result.margins, *others)
    stands = 1.0 - result.shortfall
    for margin in others:
        stands *= 1.0 - chance_below(margin)
    shortfall = 1.0 - stands
    return Whole(
        fin=result,
        margins=margins,
        governs=governing(margins),
        state=verdict_state(margins, shortfall),
        shortfall=shortfall,
        left_out=tuple(left_out),
    )


def chance_below(margin: Margin) -> float:
    """Return the chance that a part gives way in flight, its ratio lognormal between its deciles.

    0 for what is no matter of the flight, has no spread, or is only known as a limit.

    Examples
    --------
    >>> from calc.margin import between
    >>> part = between("glue", "force", demand=1.0, low=1.0, high=4.0)
    >>> round(chance_below(part), 3)
    0.1
    """
    low, high = margin.low, margin.high
    if not margin.flight or margin.bound or low is None or high is None:
        return 0.0
    if not 0.0 < low < high < math.inf:
        return float(margin.ratio < margin.fails_below)
    deviation = math.log(high / low) / (2.0 * _DECILE)
    middle = 0.5 * math.log(low * high)
    return NormalDist(middle, deviation).cdf(math.log(margin.fails_below))


def landing(fin: Fin, descent: touchdown.Descent) -> Margin | None:
    """Return the margin of the worst touchdown, or None where the tail spares the fin.

    In energy, of which the estimate is good to a factor of `touchdown.FACTOR` either way. No
    reserve is required: a fin that breaks on landing has flown.
    """
    found = touchdown.land(touchdown.capacity_of(fin), descent)
    worst = found.governs
    if not math.isfinite(worst.ratio):
        return None
    blow = Margin(
        "landing",
        worst.demand,
        worst.capacity,
        "energy",
        note=f"{worst.name}; the {found.contact.part} strikes first",
        flight=False,
    )
    return blow.spread(worst.ratio / touchdown.FACTOR, worst.ratio * touchdown.FACTOR)


def rod(speed: float) -> Margin:
    """Return the margin of a speed at the end of the rod [m/s]."""
    return Margin(
        "rod",
        ROD_SPEED,
        Quantity(speed),
        "speed",
        label="Speed off the rod",
        fails_below=ROD_FAILS,
        note="too slow for fins to steer" if speed < ROD_SPEED else "",
    )


def stability(balance: Balance) -> Margin:
    """Return the margin of the static margin; below zero the rocket is unstable."""
    return Margin(
        "stability",
        STATIC_MARGIN,
        Quantity(balance.margin),
        "number",
        label="Static margin, in calibers",
        fails_below=0.0,
    )


def known_range(material: Material, speed: float) -> Margin | None:
    """Return the margin in speed [m/s] of what is known of a material; None without a limit."""
    limit = material.fastest
    if limit is None:
        return None
    ratio = limit.value / speed
    return Margin(
        "material",
        speed,
        Quantity(limit.value),
        "speed",
        label="Speed that the material is known for",
        note=f"{material.label} is {limit.note}",
        known=ratio >= 1.0,
        fails_below=0.0,
    )
