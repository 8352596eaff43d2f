"""A list of more parts to cut from one sheet: fins of other sets, rings, bulkheads and tabs."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from calc import units
from calc.calculators.lists import TypedList
from calc.errors import InputError
from calc.geometry.planform import Planform
from calc.workshop.parts import Part, ring

MOST = 2000
"""Most parts of one plan, all kinds together."""
LONGEST = 1200
WANTS = (
    "parts with semicolons between, each as how many, what and its sizes: 8 fins 3 x 1.5 x 2 x 1 "
    "in (root, tip, span, sweep); 4 rings 1.5 x 0.75 in; 2 bulkheads 1.5 in; 16 tabs 2 x 0.5 in "
    "(along and across the grain)"
)
SIZES = {"fin": (4,), "ring": (2,), "bulkhead": (1,), "tab": (2,)}
"""By kind of part, how many sizes describe it."""
_PART = re.compile(r"(?P<number>\d{1,5})\s*[x×]?\s*(?P<kind>[a-z]+)\s+(?P<sizes>.+)", re.IGNORECASE)
_UNIT = re.compile(r"[a-z\"″”µ]+$", re.IGNORECASE)


class Listed(NamedTuple):
    """One line of the list: what, how many, sizes [m].

    A tuple, so that the JSON of an answer can repeat it among the inputs.
    """

    kind: str
    number: int
    sizes: tuple[float, ...]


def read(text: str, name: str = "more_parts") -> tuple[Listed, ...]:
    """Return the lines of a list; a size without a unit takes that of the next one, or inches.

    >>> [line.kind for line in read("8 fins 3 x 1.5 x 2 x 1 in; 4 rings 40 x 20 mm")]
    ['fin', 'ring']
    """
    found = []
    for one in filter(None, (line.strip() for line in re.split(r"[;\n]", text))):
        match = _PART.fullmatch(one)
        kind = match["kind"].lower().removesuffix("s") if match else ""
        if match is None or kind not in SIZES:
            raise InputError(name, one, WANTS)
        sizes: list[float] = []
        unit = "in"
        for cell in reversed(re.split(r"[x×]", match["sizes"])):
            written = _UNIT.search(cell.strip())
            unit = written[0] if written else unit
            number = cell.strip().removesuffix(written[0] if written else "")
            try:
                sizes.append(units.parse(f"{number} {unit}", "length", name=name))
            except InputError:
                raise InputError(name, one, WANTS) from None
        line = Listed(kind, int(match["number"]), tuple(reversed(sizes)))
        if len(sizes) not in SIZES[kind] or not 1 <= line.number <= MOST:
            raise InputError(name, one, WANTS)
        try:
            part_of(line, grain=0.0)
        except InputError as problem:
            raise InputError(name, one, problem.accepts) from None
        found.append(line)
    return tuple(found)


def part_of(
    line: Listed, *, grain: float, mirror: bool = True, times: int = 1, name: str = ""
) -> Part:
    """Return the part of a line.

    Parameters
    ----------
    grain
        Of fins: from the leading edge [rad], as in the form.
    mirror
        Whether it may be cut face down.
    times
        How many of each are cut for one in the list.
    name
        On the drawings.
    """
    number = line.number * times
    if not all(0.002 <= size <= 3.0 for size in line.sizes[: 3 if line.kind == "fin" else None]):
        raise InputError("more_parts", "", "sizes between 2 mm and 3 m")
    if line.kind == "fin":
        root, tip, span, sweep = line.sizes
        shape = Planform(root=root, tip=tip, span=span, sweep=sweep)
        end = shape.sweep, shape.span
        return Part(
            outline=tuple((float(x), float(y)) for x, y in shape.perimeter()),
            grain=float(shape.grain_direction(grain)),
            quantity=number,
            name=name or "fin",
            root=((0.0, 0.0), (root, 0.0)),
            keep_clear=(end, (end[0] + tip, end[1])),
            mirror=mirror,
        )
    if line.kind == "tab":
        along, across = line.sizes
        corners = ((0.0, 0.0), (along, 0.0), (along, across), (0.0, across))
        return Part(corners, grain=0.0, quantity=number, name=name or "tab", mirror=mirror)
    outer, inner = (*line.sizes, 0.0)[:2]
    if inner >= 0.98 * outer:
        raise InputError("more_parts", "", "a ring's outer diameter first, then the inner one")
    return ring(outer, inner, quantity=number, name=name or line.kind, grain=None)


def parts_of(
    listed: Sequence[Listed] | None, *, grain: float, mirror: bool, times: int
) -> list[Part]:
    """Return the parts of a list, each kind with a letter of its own."""
    found = []
    for index, line in enumerate(listed or ()):
        letter = chr(ord("B") + index) if index < 25 else f"Z{index}"
        found.append(
            part_of(line, grain=grain, mirror=mirror, times=times, name=f"{line.kind} {letter}")
        )
    return found


MORE_PARTS = TypedList(
    "more_parts",
    "More parts of the kit, from the same sheet",
    "text",
    "",
    help="How many, what, sizes: 8 fins 3 x 1.5 x 2 x 1 in; 16 tabs 2 x 0.5 in. Also rings and "
    "bulkheads by their diameters.",
    optional=True,
    parse=read,
    wants=WANTS,
    longest=LONGEST,
)
