"""Text to SI and back: everything a reader may type, and everything that must be refused."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc import units
from calc.errors import InputError


@pytest.mark.parametrize(
    ("text", "kind", "unit", "expected"),
    [
        ("3/32 in", "length", None, 3 / 32 * 0.0254),
        ('3/32"', "length", None, 3 / 32 * 0.0254),
        ("1 1/2", "length", "in", 1.5 * 0.0254),
        ("1-1/2 in", "length", None, 1.5 * 0.0254),
        ("1½ in", "length", None, 1.5 * 0.0254),
        ("2,4 mm", "length", None, 2.4e-3),
        (".094in", "length", None, 0.094 * 0.0254),
        (" 2.4mm ", "length", "in", 2.4e-3),
        ("2.4", "length", "mm", 2.4e-3),
        ("100 mph", "speed", None, 44.704),
        ("30 c", "temperature", None, 303.15),
        ("68 F", "temperature", None, 293.15),
        ("10 lb/ft3", "density", None, 160.1846),
        ("3 oz", "mass", None, 0.0850486),
        ("500 ksi", "pressure", None, 3.447379e9),
        ("-20", "angle", "deg", -math.pi / 9),
        ("12 %", "fraction", None, 0.12),
        ("9 N·s", "impulse", None, 9.0),
        ("1 ft·lbf", "energy", None, 1.355818),
        ("25 gsm", "areal-mass", None, 0.025),
    ],
)
def test_understands(text: str, kind: str, unit: str | None, expected: float) -> None:
    """Fractions, decimals, commas, stray spaces and any unit of the kind are read.

    Conversion factors: NIST Special Publication 811 (2008), appendix B.
    """
    assert units.parse(text, kind, unit=unit) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    "text", ["", "   ", "thick", "1/0 in", "3 parsecs", "1..2", "nan", "inf", "1e999", "9" * 300]
)
def test_refuses(text: str) -> None:
    """What is no length is refused with a message that names the input and shows an example."""
    with pytest.raises(InputError, match=r"^span: .*3/32 in"):
        units.parse(text, "length", name="span")


@given(st.text(max_size=80))
def test_any_text_is_read_or_refused(text: str) -> None:
    """No text whatever makes the reader fail in any other way than by an input error."""
    try:
        value = units.parse(text, "length")
    except InputError:
        return
    assert math.isfinite(value)


@given(st.floats(min_value=1e-4, max_value=2.0), st.sampled_from(["in", "mm", "cm"]))
def test_typed_text_reads_back(value: float, unit: str) -> None:
    """A number written for a form field reads back as itself, to the digits written."""
    text = units.typed(value, "length", unit)
    assert units.parse(text, "length", unit=unit) == pytest.approx(value, rel=6e-4)


@given(st.floats(min_value=1e-30, max_value=1e30), st.integers(min_value=1, max_value=6))
def test_significant_digits(value: float, digits: int) -> None:
    """A shown number is within half a unit of its last digit."""
    text = units.significant(value, digits)
    plain = text.replace("\u202f", "").replace("−", "-").replace(" × 10^", "e")
    assert float(plain) == pytest.approx(value, rel=0.51 * 10 ** (1 - digits))


def test_inch_fractions_are_those_of_the_trade() -> None:
    """The stock thicknesses of wood come out as the fractions a shop uses."""
    assert [units.inch_fraction(n / 64 * 0.0254) for n in (1, 2, 4, 6, 8, 12, 16)] == [
        "1/64", "1/32", "1/16", "3/32", "1/8", "3/16", "1/4",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("low", "high", "kind", "unit", "text"),
    [
        (1.0, 2.0, "moment", "N m", "1.00 to 2.00 N·m"),
        (0.1, 0.2, "moment", "in lbf", "0.885 to 1.77 in·lbf"),
        (0.5, 1.0, "angle", "deg", "28.6 to 57.3°"),
        (4.7e-6, 6.4e-6, "number", "1", "4.70 × 10^−6 to 6.40 × 10^−6"),
        (0.0254, 0.0381, "length", "in", "1 to 1 1/2 in"),
    ],
)
def test_a_range_has_its_unit_once(
    low: float, high: float, kind: str, unit: str, text: str
) -> None:
    """The unit stands behind the second number, whole, whatever spaces it holds."""
    assert units.show_range(low=low, high=high, kind=kind, unit=unit) == text
