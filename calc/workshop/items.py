"""Items to lay on the sheets: whole parts or strips of them, in every orientation they may have.

A part may be laid four ways: its grain forward or backward, either face up if both faces of the
sheet are alike. A part without a grain direction may be turned by any quarter turn.

Curves are packed as polygons with few corners, up to `OUTLINE_TOL` outside them (`HOLE_TOL` inside
a hole), so parts lie a little further apart than the kerf.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from calc.geometry.polygons import Array, area, convex_parts, grown_outline, orient
from calc.workshop.gluing_up import Outline, divide_into_strips
from calc.workshop.parts import TOUCH_TOL, GlueLine, Part, Sheet, circle_outline, rotation

OUTLINE_TOL = 1.5e-4
"""Greatest distance between an outline and the simpler polygon it is packed as [m]."""
HOLE_TOL = 4e-4
"""The same for holes, which cost more corners [m]."""
QUARTER_TURNS = (0.0, math.pi / 2, math.pi, 3 * math.pi / 2)
HALF_TURNS = (0.0, math.pi)
TOO_LONG = "longer along the grain than any sheet; a joint across the grain would carry no bending"
TOO_LARGE = "larger than any sheet"


@dataclass(frozen=True)
class Item:
    """A part or one strip of it.

    Parameters
    ----------
    part, piece
        Index of the part, and of the strip; None for a whole part.
    loop, holes
        Outline and holes in the part's coordinates [m].
    area
        [m2]
    shapes
        Indices of its orientations in `Items.shapes`.
    """

    part: int
    piece: int | None
    loop: Array
    holes: tuple[Array, ...]
    area: float
    shapes: tuple[int, ...]


@dataclass(frozen=True)
class Shape:
    """An item in one orientation, its bounding box starting at (0, 0).

    Parameters
    ----------
    loop, holes
        Simplified outline and holes that are packed [m].
    size
        Length and width of the bounding box [m].
    angle, mirrored, shift
        How the part's coordinates were moved: y reversed if `mirrored`, rotated by `angle` [rad],
        moved by `shift` [m].
    """

    loop: Array
    holes: tuple[Array, ...]
    size: tuple[float, float]
    angle: float
    mirrored: bool
    shift: tuple[float, float]

    @cached_property
    def filled(self) -> list[Array]:
        """Convex pieces of the shape with its holes filled."""
        return convex_parts(self.loop)

    @cached_property
    def pieces(self) -> list[Array]:
        """Convex pieces of the shape without its holes."""
        return convex_parts(self.loop, self.holes) if self.holes else self.filled

    @cached_property
    def hole_sizes(self) -> list[tuple[float, float]]:
        """Length and width of each hole's bounding box [m]."""
        return [(float(np.ptp(h[:, 0])), float(np.ptp(h[:, 1]))) for h in self.holes]

    def admits(self, other: Shape) -> bool:
        """Return whether the other might lie in one of this shape's holes."""
        return any(
            w > other.size[0] - TOUCH_TOL and h > other.size[1] - TOUCH_TOL
            for w, h in self.hole_sizes
        )


@dataclass
class Items:
    """Everything that stays the same during one search; `items_of` fills it.

    Parameters
    ----------
    parts, stock, kerf, margin
        As the plan's.
    items
        One entry for each copy; copies of a part share their `Item`.
    shapes
        Orientations of all items.
    glue_lines, notes, unplaced
        As the plan's.
    """

    parts: tuple[Part, ...]
    stock: tuple[Sheet, ...]
    kerf: float
    margin: float
    items: list[Item] = field(default_factory=list)
    shapes: list[Shape] = field(default_factory=list)
    glue_lines: list[GlueLine] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    unplaced: list[tuple[int, int, str]] = field(default_factory=list)

    @property
    def total_area(self) -> float:
        """Area of all items [m2]."""
        return sum(item.area for item in self.items)

    def room(self, stock: Sheet) -> tuple[float, float]:
        """Return the length and width of a sheet inside its margins [m]."""
        return stock.length - 2 * self.margin, stock.width - 2 * self.margin


def items_of(
    parts: Sequence[Part],
    stock: Sequence[Sheet],
    *,
    kerf: float,
    margin: float,
    corner_clearance: float,
) -> Items:
    """Return the items of the parts; those wider than any sheet are divided into strips.

    Parameters
    ----------
    parts, stock
        What to cut, and from what.
    kerf, margin
        Gap between parts and gap to the edges of a sheet [m].
    corner_clearance
        Least distance between a glue line and a part's `keep_clear` points [m].
    """
    found = Items(tuple(parts), tuple(stock), kerf, margin)
    for number, part in enumerate(parts):
        _add(found, number, part, corner_clearance)
    return found


def _add(found: Items, number: int, part: Part, corner_clearance: float) -> None:
    """Add all copies of one part, or of its strips."""
    outlines: Sequence[Outline] = [(part.loop, part.hole_loops)]
    divided = False
    if part.grain is not None:
        along, across = np.ptp(part.loop @ rotation(-part.grain).T, axis=0).tolist()
        rooms = [found.room(sheet) for sheet in found.stock]
        widths = [width for length, width in rooms if length >= along - TOUCH_TOL]
        if not widths:
            found.unplaced.append((number, part.quantity, TOO_LONG))
            return
        widest = max(widths)
        if across > widest + TOUCH_TOL and widest > 0:
            strips = divide_into_strips(
                part, number=number, width=widest, corner_clearance=corner_clearance
            )
            outlines, divided = strips.pieces, True
            found.glue_lines += strips.glue_lines
            found.notes += strips.notes
    for index, (loop, holes) in enumerate(outlines):
        shapes = _orientations(part, loop, holes, found)
        if not shapes:
            found.unplaced.append((number, part.quantity, TOO_LARGE))
            continue
        first = len(found.shapes)
        found.shapes += shapes
        item = Item(
            part=number,
            piece=index if divided else None,
            loop=loop,
            holes=holes,
            area=area(loop) + sum(area(h) for h in holes) if divided else part.area,
            shapes=tuple(range(first, len(found.shapes))),
        )
        found.items += [item] * part.quantity


def _orientations(part: Part, loop: Array, holes: tuple[Array, ...], found: Items) -> list[Shape]:
    """Return the distinct orientations in which a part, or a strip of it, fits some sheet.

    The second is the first rotated by half a turn, and where the part may be cut face down the
    fourth is the third so rotated.
    """
    outer, inner = _packing_outline(part, loop, holes)
    grain = part.grain or 0.0
    two_sided = part.mirror and any(sheet.two_sided for sheet in found.stock)
    shapes: list[Shape] = []
    seen: list[tuple[Array, ...]] = []
    for mirrored in (False, True) if two_sided else (False,):
        for extra in QUARTER_TURNS if part.grain is None else HALF_TURNS:
            angle = (grain if mirrored else -grain) + extra
            matrix = placement_matrix(angle, mirrored=mirrored)
            moved = outer @ matrix.T
            low = moved.min(axis=0)
            shape = Shape(
                loop=orient(moved - low),
                holes=tuple(orient(h @ matrix.T - low, counter_clockwise=False) for h in inner),
                size=tuple(np.ptp(moved, axis=0).tolist()),
                angle=angle,
                mirrored=mirrored,
                shift=(-float(low[0]), -float(low[1])),
            )
            fits = any(
                shape.size[0] <= length + TOUCH_TOL and shape.size[1] <= width + TOUCH_TOL
                for length, width in map(found.room, found.stock)
            )
            # Symmetry is judged on the true outline: the simpler one need not share it.
            true = tuple(p @ matrix.T - low for p in (loop, *holes))
            twin = any(all(map(_same, other, true)) for other in seen)
            if fits and not twin:
                seen.append(true)
                shapes.append(shape)
    return shapes


def placement_matrix(angle: float, *, mirrored: bool) -> Array:
    """Return the matrix (2, 2) that reverses y if `mirrored` and then rotates by an angle [rad]."""
    return np.asarray(rotation(angle) @ np.diag([1.0, -1.0 if mirrored else 1.0]))


def _packing_outline(part: Part, loop: Array, holes: tuple[Array, ...]) -> Outline:
    """Return an outline with few corners that contains the part, its holes inside the true ones."""
    whole = loop is part.loop
    if not (part.circles and whole and len(part.circles) == 1 + len(holes)):
        return (
            grown_outline(loop, tolerance=OUTLINE_TOL),
            tuple(grown_outline(h, tolerance=HOLE_TOL) for h in holes),
        )
    # Around the corners of the part's own polygon, not just around the circle.
    x, y, _ = max(part.circles, key=lambda circle: circle[2])
    radius = float(np.hypot(*(loop - (x, y)).T).max())
    inner = []
    for hole in holes:
        centre = hole.mean(axis=0)
        middles = (hole + np.roll(hole, 1, axis=0)) / 2
        inside = circle_outline(
            float(np.hypot(*(middles - centre).T).min()),
            centre=(float(centre[0]), float(centre[1])),
            inside=True,
            tolerance=HOLE_TOL,
        )
        inner.append(orient(inside, counter_clockwise=False))
    return circle_outline(radius, centre=(x, y), tolerance=OUTLINE_TOL), tuple(inner)


def _same(a: Array, b: Array) -> bool:
    """Return whether two loops have the same corners, wherever they start."""
    if len(a) != len(b):
        return False
    distance = np.abs(a[:, None] - b[None]).max(axis=2).min(axis=1)
    return bool((distance < TOUCH_TOL).all())
