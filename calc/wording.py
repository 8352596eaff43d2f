"""How one number is written, in the reader's choice of units."""

from __future__ import annotations

from collections.abc import Iterable

from calc import units

IN_INCHES = {
    "length": "in",
    "altitude": "ft",
    "speed": "mph",
    "mass": "oz",
    "density": "lb/ft3",
    "pressure": "ksi",
    "force": "lbf",
    "moment": "in lbf",
    "energy": "ft lbf",
    "moment-per-length": "in lbf/in",
    "area": "in2",
    "temperature": "F",
    "angle": "deg",
    "fraction": "%",
    "areal-mass": "g/m2",
}
IN_METRIC = {
    "length": "mm",
    "altitude": "m",
    "speed": "m/s",
    "mass": "g",
    "density": "kg/m3",
    "pressure": "MPa",
    "force": "N",
    "moment": "N m",
    "moment-per-length": "N m/m",
    "area": "cm2",
    "temperature": "C",
    "angle": "deg",
    "fraction": "%",
    "areal-mass": "g/m2",
}


TRADE = "trade"
"""How prose writes numbers: sizes as they are sold, in fractions of an inch with millimetres in
brackets, and everything else in SI units."""


def unit_for(kind: str, system: str, value: float = 0.0) -> str:
    """Return the unit a kind is shown in under "inch", "metric" or `TRADE`."""
    if isinstance(value, units.Written) and value.like is not None:
        value = value.like
    chosen = (IN_INCHES if system == "inch" else IN_METRIC).get(kind, units.KINDS[kind].si)
    if kind == "mass" and chosen == "oz" and abs(value) < 0.1 * units.POUND / 16:
        return "g"
    if kind == "mass" and abs(value) >= 10.0:
        return "lb" if system == "inch" else "kg"
    if kind == "pressure" and chosen == "MPa" and abs(value) >= 1e9:
        return "GPa"
    if kind == "pressure" and chosen == "ksi" and abs(value) >= 1e9:
        return "Msi"
    if kind == "pressure" and chosen == "ksi" and abs(value) < 1e6:
        return "psi"
    if kind == "pressure" and chosen == "MPa" and abs(value) < 1e5:
        return "kPa"
    return chosen


def with_unit(
    value: float, kind: str, system: str, *, digits: int = 3, like: float | None = None
) -> str:
    """Return a number with its unit in the reader's system.

    `like` is a value whose unit it takes, so that all numbers of a column share one.

    >>> with_unit(0.0762, "length", "inch"), with_unit(0.0762, "length", "metric")
    ('3 in', '76.2 mm')
    >>> with_unit(0.003175, "length", TRADE), with_unit(0.0031, "length", TRADE)
    ('1/8 in (3.2 mm)', '3.10 mm')
    """
    if system == TRADE and kind == "length":
        # sheets are sold in sixty-fourths, nothing thicker is
        fraction = units.inch_fraction(value, finest=64 if value < 0.004 else 16, tolerance=0.002)
        if fraction is not None:
            return f"{fraction} in ({units.show(value, kind, 'mm', digits=2)})"
    unit = unit_for(kind, system, value if like is None else like)
    return units.show(value, kind, unit, digits=digits)


def column_like(values: Iterable[object], kind: str | None) -> float | None:
    """Return the value whose unit a column takes: its largest; None without numbers.

    A number that is written in the unit of another brings that unit to its column.

    Stresses and stiffnesses take that of the smallest, unless it is less than a thousandth of the
    largest: 472 and 12.4 ksi are easier to compare than 0.472 and 0.0124 Msi.

    >>> column_like([1.0, 3.0], "length"), column_like([2e9, 4e8], "pressure")
    (3.0, 400000000.0)
    """
    values = list(values)
    same = next((v for v in values if isinstance(v, units.Written) and v.like is not None), None)
    if same is not None:
        return same
    numbers = [abs(v) for v in values if isinstance(v, int | float) and not isinstance(v, bool)]
    if kind is None or not numbers:
        return None
    largest = max(numbers)
    if kind != "pressure":
        return largest
    return min(number for number in numbers if number >= 1e-3 * largest)


def also(value: float, kind: str, system: str, *, digits: int = 3) -> str:
    """Return the same number in the other system, or "" where both systems agree."""
    other = "metric" if system == "inch" else "inch"
    here, there = unit_for(kind, system, value), unit_for(kind, other, value)
    return "" if here == there else with_unit(value, kind, other, digits=digits)


def range_text(
    low: float | None, high: float | None, kind: str, system: str, *, like: float | None = None
) -> str:
    """Return " (low to high)" for people, or "" where there is no range, or none that shows.

    >>> range_text(1.4, 3.6, "number", "inch"), range_text(2.18, 2.2, "number", "inch")
    (' (1.4 to 3.6)', '')
    """
    if low is None or high is None:
        return ""
    digits = 2 if kind in ("number", "fraction") else 3
    unit = unit_for(kind, system, high if like is None else like)
    if len({units.show(end, kind, unit, digits=digits) for end in (low, high)}) == 1:
        return ""
    return f" ({units.show_range(low=low, high=high, kind=kind, unit=unit, digits=digits)})"


def listed(items: Iterable[str]) -> str:
    """Return words as a list in a sentence.

    >>> listed(["fin", "joint", "landing"]), listed(["fin"])
    ('fin, joint and landing', 'fin')
    """
    *most, last = items
    return f"{', '.join(most)} and {last}" if most else last
