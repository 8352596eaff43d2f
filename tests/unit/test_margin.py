"""Demand, capacity and what is required: one margin by hand, its range, its limit, its state."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from calc.margin import Margin, Quantity, worst

GLUE = Margin("glue", 2.0, Quantity(6.0, 4.0, 9.0), "N", required=1.5)
"""Bears three times its load, between twice and four and a half times; 1.5 is required."""


def test_margin_is_the_ratio_over_what_is_required() -> None:
    """6 N over 2 N is 3, and twice the 1.5 required; its ends are scaled alike."""
    assert (GLUE.ratio, GLUE.low, GLUE.high) == (3.0, 2.0, 4.5)
    assert (GLUE.margin, GLUE.high_margin) == (2.0, 3.0)
    assert GLUE.low_margin == pytest.approx(4.0 / 3.0)
    plain = Margin("glue", 2.0, Quantity(6.0), "N")
    assert (plain.margin, plain.required) == (3.0, 1.0)
    assert (plain.low, plain.high, plain.low_margin, plain.high_margin) == (None,) * 4


def test_a_limit_has_no_range() -> None:
    """A lower limit, "at least 6 N", has no range and never counts as a failure."""
    limit = replace(GLUE, capacity=replace(GLUE.capacity, bound="at least"))
    assert limit.bound == "at least"
    assert (limit.margin, limit.low_margin, limit.high_margin) == (2.0, None, None)
    short = replace(GLUE, demand=7.0)
    assert short.fails
    assert not replace(short, capacity=limit.capacity).fails


def test_what_gives_way_in_flight_fails() -> None:
    """Just borne does not fail, a hand on the ground never does, and a limit of its own counts."""
    assert not replace(GLUE, demand=6.0).fails
    assert replace(GLUE, demand=6.0 * (1.0 + 1e-9)).fails
    assert not replace(GLUE, demand=7.0, flight=False).fails
    assert not replace(GLUE, demand=7.0, fails_below=0.8).fails
    assert replace(GLUE, demand=8.0, fails_below=0.8).fails


def test_nothing_demanded_leaves_no_end() -> None:
    """Over no demand every ratio is infinite, whatever the capacity."""
    idle = replace(GLUE, demand=0.0)
    assert (idle.low, idle.ratio, idle.high, idle.margin) == (math.inf,) * 4


def test_from_a_metre_to_a_root() -> None:
    """Of a root of 0.1 m demand, capacity and both ends are a tenth, and every ratio stays."""
    root = GLUE.times(0.1, "force")
    assert (root.demand, root.kind, root.required) == (pytest.approx(0.2), "force", 1.5)
    held = root.capacity
    assert (held.value, held.low, held.high) == (pytest.approx((0.6, 0.4, 0.9)))
    assert (root.low, root.ratio, root.high) == (pytest.approx((2.0, 3.0, 4.5)))
    limit = Margin("glue", 2.0, Quantity(6.0, bound="at least"), "N").times(0.1, "force")
    assert (limit.bound, limit.low, limit.high) == ("at least", None, None)


def test_a_spread_is_one_of_the_ratio() -> None:
    """A spread of 1 to 5 on a load of 2 N is one of 2 to 10 N about the same middle."""
    spread = GLUE.spread(1.0, 5.0)
    assert spread.capacity == Quantity(6.0, 2.0, 10.0)
    assert (spread.low, spread.ratio, spread.high) == (1.0, 3.0, 5.0)


def test_the_worst_has_the_smallest_ratio() -> None:
    """Of several the smallest ratio is the worst, and of equals the first."""
    other = replace(GLUE, name="wall", capacity=Quantity(5.0))
    assert worst((GLUE, other)) is other
    same = replace(other, name="same")
    assert worst((GLUE, other, same)) is other
