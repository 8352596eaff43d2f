"""Parts to cut, sheets to cut them from, and the plan that says where each part lies.

A sheet lies with its length and its grain along x and its width along y, its corner at (0, 0).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from calc.errors import InputError
from calc.geometry.outline import Segment
from calc.geometry.polygons import Array, area, cleaned, contains, is_simple, orient

Points = Sequence[Sequence[float]]

TOUCH_TOL = 1e-9
"""Overlap below which two parts only touch [m]."""
CIRCLE_TOL = 2e-5
"""Greatest distance between a circle and the polygon that stands for it [m]."""
MAX_CORNERS = 2000
"""Most corners of one outline."""


@dataclass(frozen=True)
class Part:
    """A flat part in its own coordinates.

    Parameters
    ----------
    outline
        Corners (n, 2) [m]; a curve is given as a fine polygon around it.
    grain
        Direction of the grain in the part's coordinates [rad from x]; None: the grain does not
        matter, and the part may be turned by any quarter turn.
    quantity
        How many to cut, 1 or more.
    holes
        Outlines of holes; smaller parts may be cut from them.
    name
        Shown on the template.
    root
        Two points of the edge that is glued to the tube, the front end first; glue lines avoid it
        where possible.
    keep_clear
        Points, such as tip corners, that a glue line must not come close to.
    circles
        (x, y, radius) of the true circles that the outline and the holes approximate, so that a
        template draws circles and the area is exact [m].
    mirror
        Whether the part may be cut face down.
    path
        The true sides of the outline where some of them are arcs, so that a template draws arcs.
    """

    outline: Points
    grain: float | None = 0.0
    quantity: int = 1
    holes: tuple[Points, ...] = ()
    name: str = "part"
    root: Points | None = None
    keep_clear: Points = ()
    circles: tuple[tuple[float, float, float], ...] = ()
    mirror: bool = True
    path: tuple[Segment, ...] = ()

    def __post_init__(self) -> None:
        if self.quantity < 1 or self.quantity != int(self.quantity):
            raise InputError("quantity", self.quantity, "a whole number of parts from 1")
        if self.grain is not None and not math.isfinite(self.grain):
            raise InputError("grain", self.grain, "an angle")
        _checked_loop("outline", self.outline)
        outer = self.loop
        for hole in self.hole_loops:
            _checked_loop("holes", hole)
            if not contains(outer, hole).all():
                raise InputError("holes", self.name, "holes that lie inside the outline")

    @cached_property
    def loop(self) -> Array:
        """Outline (n, 2), counter-clockwise [m]."""
        return orient(cleaned(np.asarray(self.outline, dtype=float)))

    @cached_property
    def hole_loops(self) -> tuple[Array, ...]:
        """Holes, each (n, 2), clockwise [m]."""
        return tuple(
            orient(cleaned(np.asarray(h, dtype=float)), counter_clockwise=False) for h in self.holes
        )

    @cached_property
    def area(self) -> float:
        """Area of one part [m2]."""
        if self.circles:
            radii = sorted((c[2] for c in self.circles), reverse=True)
            return math.pi * (radii[0] ** 2 - sum(r * r for r in radii[1:]))
        return area(self.loop) + sum(area(h) for h in self.hole_loops)


@dataclass(frozen=True)
class Sheet:
    """Stock of one size with its grain along the length.

    Parameters
    ----------
    length, width
        Along and across the grain [m].
    count
        Number available; None: as many as needed.
    defects
        Areas to avoid on each sheet: polygons as points, or circles as (x, y, radius) [m].
    two_sided
        Whether both faces are alike, so that parts may be cut face down.
    areal_mass
        [kg/m2]
    price
        Price of one sheet, in any currency.
    """

    length: float
    width: float
    count: int | None = None
    defects: tuple[Points | tuple[float, float, float], ...] = ()
    two_sided: bool = True
    areal_mass: float = 0.0
    price: float = 0.0
    name: str = "sheet"

    def __post_init__(self) -> None:
        for name in ("length", "width"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0):
                raise InputError(name, value, "a length above zero")
        if self.count is not None and self.count < 1:
            raise InputError("count", self.count, "a whole number of sheets from 1, or nothing")
        for name in ("areal_mass", "price"):
            if not getattr(self, name) >= 0:
                raise InputError(name, getattr(self, name), "a number from zero")
        for loop in self.defect_loops:
            _checked_loop("defects", loop)

    @cached_property
    def defect_loops(self) -> tuple[Array, ...]:
        """Defects as polygons; a circle becomes a polygon around it."""
        return tuple(
            circle_outline(float(d[2]), centre=(float(d[0]), float(d[1])))  # type: ignore[arg-type]
            if _is_circle(d)
            else orient(cleaned(np.asarray(d, dtype=float)))
            for d in self.defects
        )


@dataclass(frozen=True)
class GlueLine:
    """A glue line, parallel to the grain, of a part glued up from strips.

    Parameters
    ----------
    part
        Index of the part.
    across
        Distance of the line from the part's lowest edge, measured across the grain [m].
    segments
        Ends of the line inside the part, in the part's coordinates [m].
    length
        Glue line length of one part [m].
    root_crossings
        Distances along the root from its first point where the line meets it [m].
    mark
        Number of the line, for the template.
    """

    part: int
    across: float
    segments: tuple[tuple[tuple[float, float], tuple[float, float]], ...]
    length: float
    root_crossings: tuple[float, ...]
    mark: str


@dataclass(frozen=True)
class Placement:
    """One part, or one strip of a part, on a sheet.

    A point of the part moves to the sheet by reversing its y if `mirrored`, rotating it by `angle`
    and adding `offset`.

    Parameters
    ----------
    part, copy
        Index of the part in the plan, and which of its copies this is.
    piece
        Index of the strip; None for a whole part.
    polygon, holes
        Outline and holes on the sheet [m].
    angle
        Rotation [rad].
    mirrored
        Whether the part is cut face down.
    offset
        Translation (x, y) [m].
    label
        Shown on the template.
    circles
        True circles on the sheet (x, y, radius) [m]; see `Part.circles`.
    glue_lines
        (mark, (start, end)) of every glue line along this strip's edges [m].
    grain_locked
        Whether the part has a grain direction.
    path
        True sides on the sheet; see `Part.path`.
    """

    part: int
    copy: int
    piece: int | None
    polygon: tuple[tuple[float, float], ...]
    holes: tuple[tuple[tuple[float, float], ...], ...]
    angle: float
    mirrored: bool
    offset: tuple[float, float]
    label: str
    circles: tuple[tuple[float, float, float], ...] = ()
    glue_lines: tuple[tuple[str, tuple[tuple[float, float], tuple[float, float]]], ...] = ()
    grain_locked: bool = True
    path: tuple[Segment, ...] = ()


@dataclass(frozen=True)
class SheetPlan:
    """One sheet in use.

    Parameters
    ----------
    stock
        Index of the stock in the plan.
    placements
        What lies on the sheet.
    used_length
        Length up to the end of the last part [m].
    part_area, sheet_area
        Area of the parts and of the whole sheet [m2].
    repeats
        How many sheets are cut just like this one.
    """

    stock: int
    placements: tuple[Placement, ...]
    used_length: float
    part_area: float
    sheet_area: float
    repeats: int = 1

    @property
    def area_yield(self) -> float:
        """Part area over sheet area."""
        return self.part_area / self.sheet_area


@dataclass(frozen=True)
class Plan:
    """A cutting plan.

    Parameters
    ----------
    parts, stock
        What to cut, and from what.
    sheets
        Sheets in use, those that are cut alike once.
    unplaced
        (index of the part, how many, why) of what could not be placed.
    glue_lines
        Glue lines of one copy of each part that is glued up from strips.
    notes
        Sentences to show with the plan.
    kerf, margin
        Gap between parts and gap to the edges of a sheet [m].
    """

    parts: tuple[Part, ...]
    stock: tuple[Sheet, ...]
    sheets: tuple[SheetPlan, ...]
    unplaced: tuple[tuple[int, int, str], ...]
    glue_lines: tuple[GlueLine, ...]
    notes: tuple[str, ...]
    kerf: float
    margin: float

    @property
    def sheet_count(self) -> int:
        """Number of sheets in use."""
        return sum(s.repeats for s in self.sheets)

    @property
    def part_area(self) -> float:
        """Area of the parts placed [m2]."""
        return sum(s.part_area * s.repeats for s in self.sheets)

    @property
    def sheet_area(self) -> float:
        """Area of the sheets in use [m2]."""
        return sum(s.sheet_area * s.repeats for s in self.sheets)

    @property
    def area_yield(self) -> float:
        """Part area over the area of the whole sheets in use."""
        return self.part_area / self.sheet_area if self.sheets else 0.0

    @property
    def used_yield(self) -> float:
        """Part area over the sheet area up to the end of the last part; the offcut is not waste."""
        used = sum(s.used_length * self.stock[s.stock].width * s.repeats for s in self.sheets)
        return self.part_area / used if used else 0.0

    @property
    def waste(self) -> float:
        """Sheet area that becomes no part, offcut included [m2]."""
        return self.sheet_area - self.part_area

    @property
    def offcut(self) -> float:
        """Sheet area beyond the last part, which can be used later [m2]."""
        return sum(
            (self.stock[s.stock].length - s.used_length) * self.stock[s.stock].width * s.repeats
            for s in self.sheets
        )

    @property
    def part_mass(self) -> float:
        """Mass of all parts placed [kg]."""
        return sum(s.part_area * self.stock[s.stock].areal_mass * s.repeats for s in self.sheets)

    @property
    def sheet_mass(self) -> float:
        """Mass of the sheets in use [kg]."""
        return sum(s.sheet_area * self.stock[s.stock].areal_mass * s.repeats for s in self.sheets)

    @property
    def glue_line_length(self) -> float:
        """Length of all glue lines in all copies of the parts [m]."""
        return sum(g.length * self.parts[g.part].quantity for g in self.glue_lines)

    @cached_property
    def placed(self) -> tuple[int, ...]:
        """How many whole copies of each part are placed."""
        pieces: list[Counter[int]] = [Counter() for _ in self.parts]
        for sheet in self.sheets:
            for place in sheet.placements:
                pieces[place.part][place.piece or 0] += sheet.repeats
        return tuple(min(each.values(), default=0) for each in pieces)

    @property
    def least_sheets(self) -> int:
        """Lower bound on the number of sheets that hold the parts placed, with their gaps.

        A part takes, with half a gap around it, at least (sqrt(A) + sqrt(pi) gap / 2)^2: of all
        shapes of an area A a disc grows least (the Brunn-Minkowski inequality). The sheet inside
        its margins, with half a gap more, must hold all of them, and each kind for itself a whole
        number of times.
        """
        if not self.sheets:
            return 0
        half = 0.5 * self.kerf
        room = max(
            (s.length - 2 * self.margin + self.kerf) * (s.width - 2 * self.margin + self.kerf)
            for s in self.stock
        )
        takes = [(math.sqrt(part.area) + math.sqrt(math.pi) * half) ** 2 for part in self.parts]
        together = sum(n * taken for n, taken in zip(self.placed, takes, strict=True)) / room
        least = math.ceil(together - 1e-9)
        for number, taken in zip(self.placed, takes, strict=True):
            fits = math.floor(room / taken + 1e-9)
            if fits:
                least = max(least, math.ceil(number / fits))
        return least


def circle_outline(
    radius: float,
    *,
    centre: tuple[float, float] = (0.0, 0.0),
    inside: bool = False,
    tolerance: float = CIRCLE_TOL,
) -> Array:
    """Return a polygon around a circle, or inside it for a hole.

    Parameters
    ----------
    radius
        [m]
    centre
        [m]
    inside
        True: corners on the circle; False: sides touch the circle.
    tolerance
        Greatest distance between polygon and circle [m].

    Returns
    -------
    Array
        Loop (n, 2), counter-clockwise [m].

    Notes
    -----
    A corner of a polygon around the circle lies r (1 / cos(pi / n) - 1) outside it. n is a
    multiple of four between 12 and 240.
    """
    if not (math.isfinite(radius) and radius > 0):
        raise InputError("radius", radius, "a length above zero")
    half = math.acos(1 / (1 + tolerance / radius))
    n = min(max(12, 4 * math.ceil(math.pi / half / 4)), 240)
    angle = (np.arange(n) + 0.5) * 2 * math.pi / n
    reach = radius if inside else radius / math.cos(math.pi / n)
    middle: Array = np.array(centre, dtype=float)
    return middle + reach * np.column_stack([np.cos(angle), np.sin(angle)])


def ring(
    outer_diameter: float,
    inner_diameter: float = 0.0,
    *,
    quantity: int = 1,
    name: str = "ring",
    grain: float | None = 0.0,
) -> Part:
    """Return a centring ring, or a bulkhead when there is no inner diameter.

    Parameters
    ----------
    outer_diameter, inner_diameter
        [m]
    quantity, name, grain
        As in `Part`.
    """
    if not 0 <= inner_diameter < outer_diameter:
        raise InputError("inner_diameter", inner_diameter, "a length below the outer diameter")
    outer, inner = outer_diameter / 2, inner_diameter / 2
    return Part(
        outline=circle_outline(outer),  # type: ignore[arg-type]
        holes=(circle_outline(inner, inside=True),) if inner else (),  # type: ignore[arg-type]
        circles=((0.0, 0.0, outer), (0.0, 0.0, inner)) if inner else ((0.0, 0.0, outer),),
        quantity=quantity,
        name=name,
        grain=grain,
    )


def rotation(angle: float) -> Array:
    """Return the rotation matrix (2, 2) for an angle [rad], exact for quarter turns.

    >>> rotation(math.pi / 2).tolist()
    [[0.0, -1.0], [1.0, 0.0]]
    """
    c, s = math.cos(angle), math.sin(angle)
    if abs(s) < 1e-15:
        c, s = math.copysign(1.0, c), 0.0
    if abs(c) < 1e-15:
        c, s = 0.0, math.copysign(1.0, s)
    return np.array([[c, -s], [s, c]])


def _is_circle(defect: object) -> bool:
    return (
        isinstance(defect, Sequence)
        and len(defect) == 3
        and all(isinstance(v, (int, float)) for v in defect)
    )


def _checked_loop(name: str, points: Points | Array) -> None:
    loop = np.asarray(points, dtype=float)
    if loop.ndim != 2 or loop.shape[1] != 2 or not np.isfinite(loop).all():
        raise InputError(name, "points", "points as pairs of numbers")
    loop = cleaned(loop)
    if len(loop) < 3 or abs(area(loop)) < 1e-12:
        raise InputError(name, f"{len(loop)} corners", "at least three corners around an area")
    if len(loop) > MAX_CORNERS:
        raise InputError(name, f"{len(loop)} corners", f"at most {MAX_CORNERS} corners")
    if not is_simple(loop):
        raise InputError(name, "an outline", "an outline that does not cross itself")
