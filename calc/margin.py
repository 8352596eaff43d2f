"""Demand against capacity: the one way in which every way to fail is stated."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass, replace
from typing import Literal

Bound = Literal["", "at least", "at most"]
"""Set where only a limit of a number is known."""


@dataclass(frozen=True)
class Quantity:
    """A number with its range, or of which only a limit is known.

    Parameters
    ----------
    value
        The middle value, in SI units.
    low, high
        Ends of its range; None where there is none.
    bound
        "at least" or "at most" where the value is only a limit.
    """

    value: float
    low: float | None = None
    high: float | None = None
    bound: Bound = ""


@dataclass(frozen=True)
class Margin:
    """One way to fail: what is demanded of a part, what it carries, and what reserve is required.

    Parameters
    ----------
    name
        Short name ("flutter", "glue line, bending").
    demand, capacity
        What is demanded and what can be carried, in the same SI unit, zero or more.
    kind
        What they measure: a key of `calc.units.KINDS`, or the SI unit where there is none.
    label
        Name for a reader; the short name with a capital unless given.
    required
        Capacity over demand that is required.
    note
        What to know of it.
    flight
        False for what can break a fin on the ground but not end a flight.
    known
        False where the model cannot promise the capacity: it may warn but never reassure.
    fails_below
        Capacity over demand below which the part gives way; between that and what is required it
        is marginal.

    Examples
    --------
    >>> flutter = Margin("flutter", 100.0, Quantity(138.0), "speed", required=1.15)
    >>> round(flutter.ratio, 2), round(flutter.margin, 2)
    (1.38, 1.2)
    """

    name: str
    demand: float
    capacity: Quantity
    kind: str
    _: KW_ONLY
    label: str = ""
    required: float = 1.0
    note: str = ""
    flight: bool = True
    known: bool = True
    fails_below: float = 1.0

    def __post_init__(self) -> None:
        if not self.label:
            object.__setattr__(self, "label", self.name[0].upper() + self.name[1:])

    def _over_demand(self, capacity: float) -> float:
        return capacity / self.demand if self.demand > 0.0 else math.inf

    @property
    def ratio(self) -> float:
        """Return capacity over demand: infinite where nothing is demanded."""
        return self._over_demand(self.capacity.value)

    @property
    def low(self) -> float | None:
        """Return the low end of the ratio's range, or None."""
        return None if self.capacity.low is None else self._over_demand(self.capacity.low)

    @property
    def high(self) -> float | None:
        """Return the high end of the ratio's range, or None."""
        return None if self.capacity.high is None else self._over_demand(self.capacity.high)

    @property
    def bound(self) -> Bound:
        """Return "at least" where only a lower limit of the capacity is known."""
        return self.capacity.bound

    @property
    def margin(self) -> float:
        """Return the ratio over what is required of it: 1 is just enough, for every mode alike."""
        return self.ratio / self.required

    @property
    def low_margin(self) -> float | None:
        """Return the low end of the margin's range; None without one, or for a limit."""
        return None if self.low is None or self.bound else self.low / self.required

    @property
    def high_margin(self) -> float | None:
        """Return the high end of the margin's range; None without one, or for a limit."""
        return None if self.high is None or self.bound else self.high / self.required

    @property
    def fails(self) -> bool:
        """Whether the part gives way in flight; a lower limit never says so."""
        return self.flight and not self.bound and self.ratio < self.fails_below

    def spread(self, low: float, high: float) -> Margin:
        """Return this margin with a range of its ratio."""
        ends = replace(self.capacity, low=low * self.demand, high=high * self.demand)
        return replace(self, capacity=ends)

    def times(self, factor: float, kind: str) -> Margin:
        """Return this margin with demand and capacity multiplied, as from a metre to a root."""
        held = self.capacity
        whole = Quantity(
            factor * held.value,
            None if held.low is None else factor * held.low,
            None if held.high is None else factor * held.high,
            held.bound,
        )
        return replace(self, demand=factor * self.demand, capacity=whole, kind=kind)


def worst(margins: Sequence[Margin]) -> Margin:
    """Return the margin with the smallest ratio; the first one on a tie."""
    return min(margins, key=lambda item: item.ratio)


def between(name: str, kind: str, *, demand: float, low: float, high: float) -> Margin:
    """Return a margin whose capacity lies between a low and a high value.

    Its middle is their geometric mean.

    Examples
    --------
    >>> glue = between("glue line", "N", demand=2.0, low=2.0, high=8.0)
    >>> glue.ratio, glue.low, glue.high
    (2.0, 1.0, 4.0)
    """
    return Margin(name, demand, Quantity(math.sqrt(low * high), low, high), kind)


def bands(weak: Sequence[Margin], strong: Sequence[Margin]) -> tuple[Margin, ...]:
    """Return margins whose capacity lies between that with weak and that with strong parts.

    Where stronger parts also lower the demand, that counts as capacity, so that both ends share the
    demand of the weak case.

    Examples
    --------
    >>> weak, strong = (Margin("a", demand, Quantity(3.0), "N") for demand in (2.0, 1.0))
    >>> (found,) = bands([weak], [strong])
    >>> found.demand, found.capacity.low, found.capacity.high
    (2.0, 3.0, 6.0)
    """
    out = []
    for low, high in zip(weak, strong, strict=True):
        same = low.demand == high.demand
        ends = (low.capacity.value, high.capacity.value if same else low.demand * high.ratio)
        out.append(between(low.name, low.kind, demand=low.demand, low=min(ends), high=max(ends)))
    return tuple(out)
