"""Bracket notation of stacks: texts that are read and texts that are refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.errors import InputError
from calc.structure.stack_notation import MAX_PLIES, parse_stack


@pytest.mark.parametrize(
    ("text", "angles"),
    [
        ("0", (0,)),
        ("0/90/0", (0, 90, 0)),
        (" 0 / 90 / 0 ", (0, 90, 0)),
        ("[0/90]s", (0, 90, 90, 0)),
        ("[0/90]S", (0, 90, 90, 0)),
        ("[0/90]_s", (0, 90, 90, 0)),
        ("[0_2/±45]s", (0, 0, 45, -45, -45, 45, 0, 0)),
        ("[0/+-30]", (0, 30, -30)),
        ("±45", (45, -45)),
        ("(0/90)2", (0, 90, 0, 90)),
        ("(0/90)_2/0", (0, 90, 0, 90, 0)),
        ("[0/90]2s", (0, 90, 0, 90, 90, 0, 90, 0)),
        ("[(0/90)2/45]s", (0, 90, 0, 90, 45, 45, 90, 0, 90, 0)),
        ("22.5/-22.5", (22.5, -22.5)),
        ("0,90,0", (0, 90, 0)),
        ("0°/90°", (0, 90)),
    ],
)
def test_stack_notation(text, angles):
    """Bracket notation is read as laminators write it."""
    assert parse_stack(text) == angles


@pytest.mark.parametrize(
    "text", ["", "/", "0/", "/0", "0//90", "[0/90", "0/90]", "ply", "0 90", "0/400", "[]", "(0/90]"]
)
def test_stack_notation_refuses_and_says_what_is_accepted(text):
    """A stack that cannot be read is refused with the accepted form."""
    with pytest.raises(InputError, match="cannot be used; give"):
        parse_stack(text)


@pytest.mark.parametrize(
    "text", ["(0/90)101", "(0/90)9999999999", "0_201", "0_9999999999", "[0_150]s", "((0)99)99"]
)
def test_too_many_plies_are_refused(text: str) -> None:
    """More than 200 plies are refused before any list of that length is made."""
    with pytest.raises(InputError, match="at most 200 plies"):
        parse_stack(text)


@pytest.mark.parametrize("text", ["0_" + "9" * 5000, "(0)" + "9" * 5000])
def test_endless_counts_are_refused(text: str) -> None:
    """A count of thousands of digits is no count."""
    with pytest.raises(InputError, match="cannot be used; give"):
        parse_stack(text)


def test_most_plies_are_accepted() -> None:
    """Exactly 200 plies are read."""
    assert len(parse_stack("(0/90)100")) == len(parse_stack("[0_100]s")) == 200


@given(st.text(alphabet="0123456789/[]()_sS±+- .,", max_size=12))
def test_stack_notation_never_breaks(text):
    """Whatever is typed gives angles or an InputError."""
    try:
        angles = parse_stack(text)
    except InputError:
        return
    assert 1 <= len(angles) <= MAX_PLIES
