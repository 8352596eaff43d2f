"""Text inputs that hold more than one number: several readings, corners of an outline, knots.

Each is read into SI values when the form is read, so that a slip is told beside its field.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from calc import units
from calc.calculators import Input
from calc.errors import InputError

READINGS = "one or more thicknesses with their unit, such as 2.40 2.38 2.41 mm"
POINTS = "at least three corners x,y with a unit, such as 0,0 3,0 3,2.5 1.5,2.5 in"
KNOTS = "knots as along,across,radius with semicolons between, such as 3in,1in,0.5in"
SPREADS = (
    "five shares with a % sign: stiffness along, across, in shear, density, strength, such as "
    "5 12 10 1.5 16 %"
)
LONGEST = 240
"""Longest text of several numbers."""

_READING = re.compile(
    r"""(?P<number>\d+\s*[/⁄]\s*\d+|(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*
    (?P<unit>[a-zA-Zµμ"″”]*)""",
    re.VERBOSE,
)


@dataclass(frozen=True)
class TypedList(Input):
    """A text input whose value is what `parse` makes of the text."""

    parse: Callable[[str, str], Any] | None = None
    """Takes the text and this input's name; raises `InputError`."""
    wants: str = ""

    def accepts(self) -> str:
        """Return what this input takes, as the end of a sentence."""
        return self.wants

    def read(self, text: str) -> Any:
        """Return the parsed value, or None for an optional input left empty."""
        text = text[: 4 * LONGEST].strip()
        if not text and self.optional:
            return None
        if len(text) > LONGEST or self.parse is None:
            raise InputError(self.name, text[:60], self.wants)
        return self.parse(text, self.name)


def lengths(text: str, name: str = "thickness") -> tuple[float, ...]:
    """Return lengths [m] separated by spaces or semicolons, in any unit of length.

    A number without a unit takes the unit of the next number that has one, or of the last.

    >>> [round(1e3 * value, 3) for value in lengths("2.40 2.38; 3/32in")]
    [60.96, 60.452, 2.381]
    >>> [round(1e3 * value, 3) for value in lengths("2,40 2,38 mm")]
    [2.4, 2.38]
    """
    pairs: list[tuple[str, str]] = []
    end = 0
    for match in _READING.finditer(text):
        if text[end : match.start()].strip(" \t\n;"):
            raise InputError(name, text, READINGS)
        pairs.append((match["number"], match["unit"]))
        end = match.end()
    if not pairs or text[end:].strip(" \t\n;.") or len(pairs) > 30:
        raise InputError(name, text, READINGS)
    last = next((unit for _, unit in reversed(pairs) if unit), "")
    if not last:
        raise InputError(name, text, f"{READINGS}: the unit is missing")
    found = []
    for number, unit in reversed(pairs):
        last = unit or last
        try:
            value = units.parse(f"{number} {last}", "length", name=name)
        except InputError:
            raise InputError(name, text, READINGS) from None
        found.append(value)
    return tuple(reversed(found))


def thicknesses(text: str, name: str = "thickness") -> tuple[float, ...]:
    """Return thickness readings of one sheet [m]; refuses readings that cannot be of one sheet."""
    found = lengths(text, name)
    if not all(2e-5 <= value <= 0.05 for value in found):
        raise InputError(name, text, "thicknesses between 0.02 mm and 50 mm")
    if max(found) > 2.0 * min(found):
        raise InputError(name, text, "readings of one sheet: the largest is twice the smallest")
    return found


def spreads(text: str, name: str = "spread") -> tuple[float, ...]:
    """Return five coefficients of variation [-], given in per cent.

    >>> spreads("5 12 10 1,5 16 %")
    (0.05, 0.12, 0.1, 0.015, 0.16)
    """
    cells = text.replace("%", " ").replace(",", ".").replace(";", " ").split()
    try:
        found = tuple(round(float(cell) / 100.0, 9) for cell in cells)
    except ValueError:
        raise InputError(name, text, SPREADS) from None
    if "%" not in text or len(found) != 5 or not all(0.001 <= value <= 1.0 for value in found):
        raise InputError(name, text, SPREADS)
    return found


def points(text: str, name: str = "points") -> tuple[tuple[float, float], ...]:
    """Return corners [m] from pairs ``x,y`` separated by spaces or semicolons.

    The unit stands behind the last corner or behind any number.

    >>> points("0,0 3,0 3,2 in")[2] == (3 * 0.0254, 2 * 0.0254)
    True
    """
    rows = _rows(text, name, POINTS, 2)
    if not 3 <= len(rows) <= 60:
        raise InputError(name, text, POINTS)
    return tuple((row[0], row[1]) for row in rows)


def knots(text: str, name: str = "knots") -> tuple[tuple[float, float, float], ...]:
    """Return circles (along, across, radius) [m] from triples such as ``3in,1in,0.5in``.

    >>> knots("3in,1in,0.5in; 250,40,10 mm")[1]
    (0.25, 0.04, 0.01)
    """
    rows = _rows(text, name, KNOTS, 3)
    if not 1 <= len(rows) <= 20 or any(row[2] <= 0.0 for row in rows):
        raise InputError(name, text, KNOTS)
    return tuple((row[0], row[1], row[2]) for row in rows)


def _rows(text: str, name: str, wants: str, size: int) -> list[list[float]]:
    """Return rows of lengths [m]: commas inside a row, spaces or semicolons between rows."""
    flat = re.sub(r"\s*,\s*", ",", text.strip().strip(";"))
    # "3,2 in" is one row: a unit after a space belongs to the number before it.
    flat = re.sub(r"(?<=[\d.])\s+(?=[a-zA-Z\"″µ])", "", flat)
    rows: list[list[float]] = []
    pieces = [piece for piece in re.split(r"[;\s]+", flat) if piece]
    unit = ""
    for piece in reversed(pieces):
        cells = piece.split(",")
        if len(cells) != size:
            raise InputError(name, text, wants)
        row: list[float] = []
        for cell in reversed(cells):
            match = re.fullmatch(r"(-?[\d./]+)([a-zA-Z\"″µ]*)", cell)
            unit = (match[2] if match else "") or unit
            if match is None:
                raise InputError(name, text, wants)
            if not unit:
                raise InputError(name, text, f"{wants}: the unit is missing")
            try:
                row.append(units.parse(f"{match[1]} {unit}", "length", name=name))
            except InputError:
                raise InputError(name, text, wants) from None
        rows.append(row[::-1])
    return rows[::-1]
