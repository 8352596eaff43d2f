"""The only place where inches, ounces and fractions exist: text to SI numbers and back.

Everything else in `calc` works in SI units and radians. A *kind* names what a number measures
("length", "speed", …) and fixes which units a reader may type and how a result is shown.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from calc.errors import InputError

INCH = 0.0254
"""One inch in metres, exact by definition (international yard and pound agreement, 1959)."""
POUND = 0.45359237
"""One avoirdupois pound in kilograms, exact by the same agreement."""
STANDARD_GRAVITY = 9.80665
"""Standard acceleration of free fall [m/s2], exact (3rd CGPM, 1901)."""


@dataclass(frozen=True)
class Kind:
    """What a number measures: its SI unit, the units accepted, an example for error messages."""

    name: str
    si: str
    units: Mapping[str, float]
    example: str
    shown: tuple[str, ...]
    """Units offered to the reader, the SI-like one last."""


def _kind(name: str, si: str, units: dict[str, float], example: str, *shown: str) -> Kind:
    return Kind(name=name, si=si, units=units, example=example, shown=shown)


_POUND_FORCE = POUND * STANDARD_GRAVITY
_PSI = _POUND_FORCE / INCH**2

KINDS: Mapping[str, Kind] = {
    kind.name: kind
    for kind in (
        _kind(
            "length",
            "m",
            {"m": 1.0, "cm": 0.01, "mm": 0.001, "in": INCH, "ft": 12 * INCH, "um": 1e-6},
            "a length such as 3/32 in, 0.094 in or 2.4 mm",
            "in",
            "mm",
            "cm",
        ),
        _kind(
            "altitude",
            "m",
            {"m": 1.0, "km": 1000.0, "ft": 12 * INCH},
            "a height such as 300 m or 1000 ft",
            "ft",
            "m",
        ),
        _kind(
            "speed",
            "m/s",
            {
                "m/s": 1.0,
                "km/h": 1 / 3.6,
                "ft/s": 12 * INCH,
                "mph": 5280 * 12 * INCH / 3600,
            },
            "a speed such as 100 m/s, 330 ft/s or 220 mph",
            "mph",
            "ft/s",
            "m/s",
        ),
        _kind(
            "mass",
            "kg",
            {"kg": 1.0, "g": 1e-3, "mg": 1e-6, "oz": POUND / 16, "lb": POUND},
            "a mass such as 85 g or 3 oz",
            "oz",
            "g",
            "kg",
        ),
        _kind(
            "density",
            "kg/m3",
            {
                "kg/m3": 1.0,
                "g/cm3": 1000.0,
                "lb/ft3": POUND / (12 * INCH) ** 3,
                "oz/in3": POUND / 16 / INCH**3,
            },
            "a density such as 160 kg/m3 or 10 lb/ft3",
            "lb/ft3",
            "kg/m3",
        ),
        _kind(
            "pressure",
            "Pa",
            {
                "Pa": 1.0,
                "kPa": 1e3,
                "MPa": 1e6,
                "GPa": 1e9,
                "psi": _PSI,
                "ksi": 1e3 * _PSI,
                "Msi": 1e6 * _PSI,
            },
            "a stress or stiffness such as 3.4 GPa, 22 MPa or 500 ksi",
            "ksi",
            "MPa",
            "GPa",
        ),
        _kind(
            "angle",
            "rad",
            {"rad": 1.0, "deg": math.pi / 180},
            "an angle in degrees such as 45",
            "deg",
        ),
        _kind(
            "force",
            "N",
            {
                "N": 1.0,
                "lbf": _POUND_FORCE,
                "gf": 1e-3 * STANDARD_GRAVITY,
                "ozf": _POUND_FORCE / 16,
            },
            "a force such as 10 N or 2 lbf",
            "lbf",
            "N",
        ),
        _kind(
            "moment-per-length",
            "N",
            {"N": 1.0, "N m/m": 1.0, "in lbf/in": _POUND_FORCE},
            "a moment per length such as 12 N m/m",
            "in lbf/in",
            "N m/m",
        ),
        _kind("time", "s", {"s": 1.0, "ms": 1e-3, "min": 60.0}, "a time such as 1.2 s", "s"),
        _kind("frequency", "Hz", {"Hz": 1.0, "kHz": 1e3}, "a frequency such as 120 Hz", "Hz"),
        _kind(
            "impulse", "N s", {"N s": 1.0, "lbf s": _POUND_FORCE}, "an impulse such as 9 N s", "N s"
        ),
        _kind(
            "areal-mass",
            "kg/m2",
            {"kg/m2": 1.0, "g/m2": 1e-3, "oz/yd2": POUND / 16 / (36 * INCH) ** 2},
            "a mass per area such as 40 g/m2",
            "g/m2",
        ),
        _kind(
            "moment",
            "N m",
            {"N m": 1.0, "N mm": 1e-3, "in lbf": INCH * _POUND_FORCE},
            "a moment such as 0.5 N m",
            "in lbf",
            "N m",
        ),
        _kind(
            "energy",
            "J",
            {"J": 1.0, "mJ": 1e-3, "ft lbf": 12 * INCH * _POUND_FORCE},
            "an energy such as 0.5 J",
            "ft lbf",
            "J",
        ),
        _kind(
            "curvature", "1/m", {"1/m": 1.0, "1/in": 1 / INCH}, "a curvature such as 0.5 1/m", "1/m"
        ),
        _kind(
            "area",
            "m2",
            {"m2": 1.0, "cm2": 1e-4, "in2": INCH**2},
            "an area such as 12 in2",
            "in2",
            "cm2",
        ),
        _kind(
            "temperature",
            "K",
            {"K": 1.0, "C": 1.0, "F": 5 / 9},
            "a temperature such as 20 C or 68 F",
            "F",
            "C",
        ),
        _kind("fraction", "1", {"1": 1.0, "%": 0.01}, "a percentage such as 12 %", "%"),
        _kind("number", "1", {"1": 1.0}, "a number such as 1.5", "1"),
    )
}


class Written(float):
    """A number that says how it is written, where that does not follow from itself.

    Parameters
    ----------
    value
        SI value.
    like
        A value whose unit it takes, so that several tables of a page share one.
    decimals
        Whether inches are decimals even where a fraction is close.

    Examples
    --------
    >>> inch_fraction(Written(0.0127, decimals=True)) is None, Written(0.5) == 0.5
    (True, True)
    """

    like: float | None
    decimals: bool

    def __new__(cls, value: float, *, like: float | None = None, decimals: bool = False) -> Written:
        """Return the number with how it is written."""
        made = super().__new__(cls, value)
        made.like, made.decimals = like, decimals
        return made


_OFFSET = {"C": 273.15, "F": 459.67 * 5 / 9, "K": 0.0}

_ALIASES = {
    '"': "in",
    "″": "in",
    "”": "in",
    "in.": "in",
    "inch": "in",
    "inches": "in",
    "'": "ft",
    "′": "ft",
    "feet": "ft",
    "foot": "ft",
    "metre": "m",
    "metres": "m",
    "meter": "m",
    "meters": "m",
    "µm": "um",
    "μm": "um",
    "°": "deg",
    "º": "deg",
    "degrees": "deg",
    "degree": "deg",
    "°c": "C",
    "c": "C",
    "°f": "F",
    "f": "F",
    "k": "K",
    "fps": "ft/s",
    "kph": "km/h",
    "kmh": "km/h",
    "mps": "m/s",
    "kg/m³": "kg/m3",
    "kg/m^3": "kg/m3",
    "g/cm³": "g/cm3",
    "g/cc": "g/cm3",
    "lb/ft³": "lb/ft3",
    "lb/cuft": "lb/ft3",
    "pcf": "lb/ft3",
    "g/m²": "g/m2",
    "gsm": "g/m2",
    "kg/m²": "kg/m2",
    "ns": "N s",
    "n·s": "N s",
    "n*s": "N s",
    "nm": "N m",
    "n·m": "N m",
    "nmm": "N mm",
    "n·m/m": "N m/m",
    "n·m per m": "N m/m",
    "ft·lbf": "ft lbf",
    "in·lbf": "in lbf",
    "in·lbf/in": "in lbf/in",
    "in·lbf per inch": "in lbf/in",
    "sec": "s",
    "seconds": "s",
    "second": "s",
    "grams": "g",
    "gram": "g",
    "gr": "g",
    "lbs": "lb",
    "ounces": "oz",
    "ounce": "oz",
    "pound": "lb",
    "pounds": "lb",
    "percent": "%",
    "n": "N",
    "hz": "Hz",
    "khz": "kHz",
    "gpa": "GPa",
    "mpa": "MPa",
    "kpa": "kPa",
    "pa": "Pa",
    "msi": "Msi",
    "j": "J",
    "mj": "mJ",
    "": "",
}

_NUMBER = re.compile(
    r"""^\s*(?P<sign>[+\-−–]?)\s*
    (?:(?P<whole>\d+)(?:\s+|\s*[-‐–+]\s*)(?=\d+\s*[/⁄]))?
    (?:(?P<num>\d+)\s*[/⁄]\s*(?P<den>\d+)
      |(?P<decimal>(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+\-]?\d+)?))
    \s*(?P<unit>.*?)\s*$""",
    re.VERBOSE,
)
_VULGAR = {
    "½": "1/2",
    "¼": "1/4",
    "¾": "3/4",
    "⅛": "1/8",
    "⅜": "3/8",
    "⅝": "5/8",
    "⅞": "7/8",
}
LONGEST = 60
"""Longest text taken for a number; anything longer is a paste gone wrong."""


def _unit_of(text: str, kind: Kind) -> str | None:
    squeezed = " ".join(text.split())
    for candidate in (squeezed, squeezed.replace(" ", "")):
        if candidate in kind.units:
            return candidate
        alias = _ALIASES.get(candidate.lower())
        if alias is not None and alias in kind.units:
            return alias
        for unit in kind.units:
            if unit.lower().replace(" ", "") == candidate.lower().replace(" ", "") and unit not in (
                "MPa",
                "mPa",
            ):
                return unit
    return None


def parse(text: str, kind: str, *, unit: str | None = None, name: str = "value") -> float:
    """Return the SI value of what a reader typed.

    Accepts inch fractions (``3/32``, ``1 1/2 in``, ``1-1/2"``), decimals with point or comma,
    stray spaces, and any unit of the kind; a bare number is taken in `unit`.

    Parameters
    ----------
    text
        What was typed.
    kind
        A key of `KINDS`.
    unit
        Unit of a bare number; the kind's SI unit when None.
    name
        Public input name for the message.

    Raises
    ------
    InputError
        With a message that says what is accepted.

    >>> round(parse("3/32 in", "length"), 6)
    0.002381
    >>> parse("1 1/2", "length", unit="in") == 1.5 * 0.0254
    True
    >>> round(parse("100 mph", "speed"), 3)
    44.704
    """
    measure = KINDS[kind]
    if len(text) > LONGEST:
        raise InputError(name, text, f"{measure.example} (at most {LONGEST} characters)")
    for glyph, plain in _VULGAR.items():
        text = text.replace(glyph, f" {plain}")
    if not text.strip():
        raise InputError(name, text, measure.example)
    match = _NUMBER.match(text)
    if match is None:
        raise InputError(name, text, measure.example)
    if match["decimal"] is not None:
        magnitude = float(match["decimal"].replace(",", "."))
    else:
        if int(match["den"]) == 0:
            raise InputError(name, text, f"{measure.example}, not a fraction of zero")
        magnitude = float(int(match["whole"] or 0) + Fraction(int(match["num"]), int(match["den"])))
    if match["sign"] in ("-", "−", "–"):
        magnitude = -magnitude
    used = unit or measure.si
    if match["unit"]:
        typed = _unit_of(match["unit"], measure)
        if typed is None:
            known = ", ".join(u for u in measure.units if u != "1")
            accepts = f"{measure.example}; units understood: {known}" if known else measure.example
            raise InputError(name, text, accepts)
        used = typed
    value = magnitude * measure.units[used]
    if kind == "temperature":
        value += _OFFSET[used]
    if not math.isfinite(value):
        raise InputError(name, text, measure.example)
    return value


def to_unit(value: float, kind: str, unit: str) -> float:
    """Return an SI value in another unit of its kind.

    >>> to_unit(293.15, "temperature", "C")
    20.0
    """
    if kind == "temperature":
        return (value - _OFFSET[unit]) / KINDS[kind].units[unit]
    return value / KINDS[kind].units[unit]


def significant(value: float, digits: int = 3) -> str:
    """Return a plain decimal with so many significant digits, thousands set apart by thin spaces.

    >>> significant(0.0123456), significant(1234567.0), significant(9.999)
    ('0.0123', '1\u202f230\u202f000', '10.0')

    Halves go up, as a reader rounds them, though binary numbers lie a little below some: 1/4 in.

    >>> significant(6.35, 2), significant(2.25, 2)
    ('6.4', '2.3')
    """
    if not math.isfinite(value):
        return "∞" if value > 0 else ("−∞" if value < 0 else "not a number")
    if value == 0.0:
        return "0"
    exponent = math.floor(math.log10(abs(value)))
    rounded = round(value * (1.0 + 1e-12), digits - 1 - exponent)
    if rounded != 0.0:
        exponent = math.floor(math.log10(abs(rounded)) + 1e-12)
    if exponent < -5 or exponent > 8:
        mantissa, power = f"{value:.{digits - 1}e}".split("e")
        return f"{mantissa} × 10^{int(power)}".replace("-", "−")
    decimals = max(0, digits - 1 - exponent)
    text = f"{rounded:,.{decimals}f}".replace(",", "\u202f")
    return text.replace("-", "−")


def inch_fraction(value: float, *, finest: int = 64, tolerance: float = 0.012) -> str | None:
    """Return a length in metres as an inch fraction, or None where no fraction is close.

    `tolerance` is relative: 2.4 mm counts as 3/32 in (2.381 mm).

    >>> inch_fraction(0.00238125), inch_fraction(0.0381), inch_fraction(0.0023)
    ('3/32', '1 1/2', None)
    """
    inches = value / INCH
    if not 0 < inches < 100 or (isinstance(value, Written) and value.decimals):
        return None
    nearest = Fraction(round(inches * finest), finest)
    if nearest == 0 or abs(float(nearest) - inches) > tolerance * inches:
        return None
    whole, rest = divmod(nearest, 1)
    if rest == 0:
        return str(whole)
    return f"{whole} {rest}" if whole else str(rest)


SPOKEN = {
    "kg/m3": "kg/m³",
    "lb/ft3": "lb/ft³",
    "g/cm3": "g/cm³",
    "oz/in3": "oz/in³",
    "deg": "°",
    "C": "°C",
    "F": "°F",
    "g/m2": "g/m²",
    "kg/m2": "kg/m²",
    "cm2": "cm²",
    "in2": "in²",
    "m2": "m²",
    "N s": "N·s",
    "N m": "N·m",
    "N m/m": "N·m per\u00a0m",
    "ft lbf": "ft·lbf",
    "in lbf": "in·lbf",
    "in lbf/in": "in·lbf per\u00a0inch",
    "1": "",
}
"""How a unit's key is written for people, where that differs."""


def spoken(unit: str) -> str:
    """Return a unit as it is written for people.

    >>> spoken("kg/m3"), spoken("mm"), spoken("1")
    ('kg/m³', 'mm', '')
    """
    return SPOKEN.get(unit, unit)


def plain(value: float, *, digits: int) -> str:
    """Return a decimal with at most so many significant digits and no zeros at its end.

    >>> plain(3.4, digits=4), plain(0.000002, digits=3), plain(-123456.0, digits=4)
    ('3.4', '2·10^−6', '−123500')
    """
    text = f"{float(f'{value:.{digits}g}'):.{max(digits, 6)}g}"
    head, exponent, power = text.partition("e")
    return (f"{head}·10^{int(power)}" if exponent else head).replace("-", "−")


def show(
    value: float, kind: str, unit: str | None = None, *, digits: int = 3, trim: bool = False
) -> str:
    """Return a value for people: number, space, unit; inches as a fraction where one is close.

    Parameters
    ----------
    value
        SI value.
    kind
        A key of `KINDS`.
    unit
        A unit of that kind; its SI unit when None.
    digits
        Significant digits.
    trim
        Whether to leave out zeros at the number's end.

    >>> show(0.00238125, "length", "in")
    '3/32 in'
    >>> show(150.0, "speed", "m/s"), show(0.002, "length", "mm", trim=True)
    ('150 m/s', '2 mm')
    """
    used = unit or KINDS[kind].si
    return f"{_bare(value, kind, used, digits=digits, trim=trim)}{_ending(used)}"


def show_range(
    *, low: float, high: float, kind: str, unit: str | None = None, digits: int = 3
) -> str:
    """Return a range for people, its unit written once.

    >>> show_range(low=0.001, high=0.0015, kind="length", unit="mm")
    '1.00 to 1.50 mm'
    >>> show_range(low=0.0127, high=0.0381, kind="length", unit="in")
    '1/2 to 1 1/2 in'
    """
    used = unit or KINDS[kind].si
    first, last = (_bare(value, kind, used, digits=digits) for value in (low, high))
    return f"{first} to {last}{_ending(used)}"


def _bare(value: float, kind: str, unit: str, *, digits: int, trim: bool = False) -> str:
    if unit == "in" and kind == "length":
        fraction = inch_fraction(value, tolerance=0.002)
        if fraction is not None:
            return fraction
    number = to_unit(value, kind, unit)
    return plain(number, digits=digits) if trim else significant(number, digits)


def _ending(unit: str) -> str:
    """Return a unit as it follows a number, with the space between."""
    written = spoken(unit)
    return written if written in ("°", "") else f" {written}"


def typed(value: float, kind: str, unit: str) -> str:
    """Return a value as a reader could have typed it, for filling a form field.

    >>> typed(0.00238125, "length", "in"), typed(0.0024, "length", "mm")
    ('3/32', '2.4')
    """
    if unit == "in" and kind == "length":
        fraction = inch_fraction(value, tolerance=0.0005)
        if fraction is not None:
            return fraction
    return f"{to_unit(value, kind, unit):.5g}"
