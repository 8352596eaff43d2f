"""Demand against capacity: the one way in which every failure mode is stated."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Margin:
    """One way to fail, its demand and its capacity in the same unit.

    Parameters
    ----------
    name
        Short name of the mode ("butt glue line, tension").
    demand, capacity
        What is asked and what can be borne, both in `unit` and above or equal to zero.
    unit
        SI unit as text, for a reader and for a test.

    >>> Margin("glue line", 2.0, 3.0, "N/m").ratio
    1.5
    """

    name: str
    demand: float
    capacity: float
    unit: str

    @property
    def ratio(self) -> float:
        """Return capacity over demand: 1 is the edge, infinite when nothing is asked."""
        return self.capacity / self.demand if self.demand > 0.0 else math.inf


def worst(margins: tuple[Margin, ...]) -> Margin:
    """Return the margin with the smallest ratio; the first one on a tie."""
    return min(margins, key=lambda item: item.ratio)
