"""Text inputs that hold more than one number: several readings, corners of an outline, knots.

Each is parsed into SI values when the form is read, so that an error appears beside its field.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, TypeVar

from calc import units
from calc.errors import InputError
from calc.forms import Input

READINGS = "one or more thicknesses with their unit, such as 2.40 2.38 2.41 mm"
RADII = "one radius, or one for each corner off the body, such as 1/4 0 in"
POINTS = "at least three corners x,y with a unit, such as 0,0 3,0 3,2.5 1.5,2.5 in"
KNOTS = "knots as along,across,radius with semicolons between, such as 3in,1in,0.5in"
SPREADS = (
    "five shares with a % sign: stiffness along, across, in shear, density, strength, such as "
    "5 12 10 1.5 16 %"
)
CURVE = (
    "times in seconds and thrusts in newtons, in pairs, such as 0 0, 0.05 20, 0.3 8, 1.8 7, 1.85 0"
)
PLACES = (
    "places that rise from the front, with a unit, such as 0.5 2.25 in; 1 1/2 in is written 1.5 in"
)
PULLS = "readings as masses or forces with their unit, such as 1.15 1.4 1.25 kg"
BREAKING = "two moments per length of root, low and high, such as 3.9 6.6 N"
LONGEST = 240
"""Longest text of several numbers."""
LONGEST_CURVE = 2000
"""Longest text of a thrust curve."""

Read = TypeVar("Read", bound=float)

_READING = re.compile(
    r"""(?P<number>\d+\s*[/⁄]\s*\d+|(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*
    (?P<unit>[a-zA-Zµμ"″”]*)""",
    re.VERBOSE,
)


@dataclass(frozen=True, kw_only=True)
class TypedList(Input):
    """A text input whose value is what `parse` makes of the text."""

    parse: Callable[[str, str], Any] | None = None
    """Takes the text and this input's name; raises `InputError`."""
    wants: str = ""
    write: Callable[[Any], str] | None = None
    """Returns a text that reads back as a value."""
    longest: int = LONGEST
    """Longest text taken."""

    def accepts(self) -> str:
        """Return what this input takes, as the end of a sentence."""
        return self.wants

    def read(self, text: str) -> Any:
        """Return the parsed value, or None for an optional input left empty."""
        text = text[: 4 * self.longest].strip()
        if not text and self.optional:
            return None
        if len(text) > self.longest or self.parse is None:
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
    return _readings(text, name, READINGS, lambda reading, _: units.parse(reading, "length"))


def places(text: str, name: str = "places") -> tuple[float, ...]:
    """Return places along an edge [m] that rise from its front, units as for `lengths`.

    >>> places("10 35; 60 mm")
    (0.01, 0.035, 0.06)
    """
    try:
        found = lengths(text, name)
    except InputError:
        raise InputError(name, text, PLACES) from None
    if found[-1] > 2.0 or any(after <= before for before, after in pairwise(found)):
        raise InputError(name, text, PLACES)
    return found


class Pull(float):
    """A force [N] that remembers how its reading was typed.

    >>> pulls("1 1,5 kg; 20N")[1].typed
    '1,5 kg'
    """

    typed: str

    def __new__(cls, force: float, typed: str = "") -> Pull:
        """Return the force with its reading."""
        made = super().__new__(cls, force)
        made.typed = typed
        return made


def pulls(text: str, name: str = "readings") -> tuple[Pull, ...]:
    """Return forces [N] of readings in any unit of mass or force, units as for `lengths`.

    >>> [round(value, 2) for value in pulls("1 1,5 kg; 20 N")]
    [9.81, 14.71, 20.0]
    """

    def force(reading: str, unit: str) -> Pull:
        if unit in units.KINDS["mass"].units:
            return Pull(units.STANDARD_GRAVITY * units.parse(reading, "mass"), reading)
        return Pull(units.parse(reading, "force"), reading)

    found = _readings(text, name, PULLS, force)
    if not all(1e-3 <= value <= 1e5 for value in found):
        raise InputError(name, text, "loads between 0.1 g and 10 t")
    return found


def _readings(
    text: str, name: str, wants: str, read: Callable[[str, str], Read]
) -> tuple[Read, ...]:
    """Return what `read` makes of each number and its unit."""
    pairs: list[tuple[str, str]] = []
    end = 0
    for match in _READING.finditer(text):
        if text[end : match.start()].strip(" \t\n;"):
            raise InputError(name, text, wants)
        pairs.append((match["number"], match["unit"]))
        end = match.end()
    if not pairs or text[end:].strip(" \t\n;.") or len(pairs) > 30:
        raise InputError(name, text, wants)
    last = next((unit for _, unit in reversed(pairs) if unit), "")
    if not last:
        raise InputError(name, text, f"{wants}: the unit is missing")
    found = []
    for number, unit in reversed(pairs):
        last = unit or last
        try:
            value = read(f"{number} {last}", last)
        except InputError:
            raise InputError(name, text, wants) from None
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


def thrust_curve(text: str, name: str = "curve") -> tuple[tuple[float, float], ...]:
    r"""Return points (time [s], thrust [N]) from numbers in pairs, however they are separated.

    Lines that start with a semicolon or a number sign are remarks. Commas are decimal ones only
    where the numbers make no thrust curve otherwise.

    >>> thrust_curve("0 0, 0.1 20; 1.5 8\n# burnt out\n1.6 0")
    ((0.0, 0.0), (0.1, 20.0), (1.5, 8.0), (1.6, 0.0))
    >>> thrust_curve("0 0; 0,1 20; 1,6 0") == thrust_curve("0,0 0.1,20 1.6,0")
    True
    """
    lines = [line for line in text.splitlines() if not line.lstrip().startswith((";", "#"))]
    flat = "\n".join(lines)
    try:
        return _curve(flat, name)
    except InputError:
        if "." in flat or not re.search(r"\d,\d", flat):
            raise
    return _curve(flat.replace(",", "."), name)


def _curve(text: str, name: str) -> tuple[tuple[float, float], ...]:
    cells = [cell for cell in re.split(r"[\s;,]+", text) if cell]
    try:
        numbers = [float(cell) for cell in cells]
    except ValueError:
        raise InputError(name, text[:60], CURVE) from None
    found = tuple(zip(numbers[::2], numbers[1::2], strict=False))
    if len(numbers) % 2 or len(found) < 2:
        raise InputError(name, text[:60], f"{CURVE}: two pairs or more")
    if found[0][0] < 0.0 or any(b[0] <= a[0] for a, b in pairwise(found)):
        raise InputError(name, text[:60], f"{CURVE}: times must rise from 0")
    if not all(0.0 <= force <= 50_000.0 for _, force in found) or not found[-1][0] <= 60.0:
        raise InputError(name, text[:60], f"{CURVE}: up to 60 s and 50 kN")
    if not any(force > 0.0 for _, force in found):
        raise InputError(name, text[:60], f"{CURVE}: some thrust above zero")
    return found


def points(text: str, name: str = "points") -> tuple[tuple[float, float], ...]:
    """Return corners [m] from pairs ``x,y`` separated by spaces or semicolons.

    The unit follows the last corner or any number; without any they are inches.

    >>> points("0,0 3,0 3,2 in")[2] == (3 * 0.0254, 2 * 0.0254)
    True
    """
    rows = _rows(text, name, POINTS, 2, unit="in")
    if not 3 <= len(rows) <= 60:
        raise InputError(name, text, POINTS)
    return tuple((row[0], row[1]) for row in rows)


def points_text(corners: Sequence[Sequence[float]]) -> str:
    """Return corners [m] as they could be typed.

    >>> points_text([(0.0, 0.0), (0.0125, 0.05), (0.08, 0.0)])
    '0,0 12.5,50 80,0 mm'
    """
    return " ".join(f"{1e3 * x:.6g},{1e3 * y:.6g}" for x, y in corners) + " mm"


def radii_text(found: Sequence[float]) -> str:
    """Return radii [m] as they could be typed.

    >>> radii_text((0.005, 0.0))
    '5 0 mm'
    """
    return " ".join(f"{1e3 * radius:.6g}" for radius in found) + " mm"


def places_text(found: Sequence[float]) -> str:
    """Return places [m] as they could be typed.

    >>> places_text((0.0127, 0.05))
    '12.7 50 mm'
    """
    return " ".join(f"{1e3 * place:.6g}" for place in found) + " mm"


def spreads_text(found: Sequence[float]) -> str:
    """Return five coefficients of variation [-] as they could be typed.

    >>> spreads_text((0.05, 0.12, 0.1, 0.015, 0.16))
    '5 12 10 1.5 16 %'
    """
    return " ".join(f"{100.0 * share:.6g}" for share in found) + " %"


def radii(text: str, name: str = "radius") -> tuple[float, ...]:
    """Return radii of corners [m], 0 for a sharp one; without any unit they are inches.

    >>> radii("1/4; 0 in")
    (0.00635, 0.0)
    """
    try:
        found = lengths(text if re.search(r"[a-zA-Zµ\"″”]", text) else f"{text} in", name)
    except InputError:
        raise InputError(name, text, RADII) from None
    if max(found) > 1.0:
        raise InputError(name, text, RADII)
    return found


def knots(text: str, name: str = "knots") -> tuple[tuple[float, float, float], ...]:
    """Return circles (along, across, radius) [m] from triples such as ``3in,1in,0.5in``.

    >>> knots("3in,1in,0.5in; 250,40,10 mm")[1]
    (0.25, 0.04, 0.01)
    """
    rows = _rows(text, name, KNOTS, 3)
    if not 1 <= len(rows) <= 20 or any(row[2] <= 0.0 for row in rows):
        raise InputError(name, text, KNOTS)
    return tuple((row[0], row[1], row[2]) for row in rows)


def _rows(text: str, name: str, wants: str, size: int, unit: str = "") -> list[list[float]]:
    """Return rows of lengths [m]: commas inside a row, spaces or semicolons between rows.

    `unit` is that of numbers where no later one has a unit.
    """
    flat = re.sub(r"\s*,\s*", ",", text.strip().strip(";"))
    # "3,2 in" is one row: a unit after a space belongs to the number before it.
    flat = re.sub(r"(?<=[\d.])\s+(?=[a-zA-Z\"″µ])", "", flat)
    rows: list[list[float]] = []
    pieces = [piece for piece in re.split(r"[;\s]+", flat) if piece]
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


def breaking_moments(text: str, name: str = "tested") -> tuple[float, float]:
    """Return two moments per metre [N m/m], low and high: newton metres per metre are newtons.

    >>> breaking_moments("3.9 to 6,6 N")
    (3.9, 6.6)
    """
    plain = text.replace("N·m/m", "N").replace("N m/m", "N").replace(" to ", " ")
    cells = plain.replace(",", ".").replace(";", " ").replace("N", " ").split()
    try:
        found = [float(cell) for cell in cells]
    except ValueError:
        raise InputError(name, text, BREAKING) from None
    if len(found) != 2 or not 1e-3 <= found[0] <= found[1] <= 1e6:
        raise InputError(name, text, BREAKING)
    return found[0], found[1]
