"""A fin's outline from a drawing on the reader's device: SVG or DXF.

SVG is read with `svgelements` and DXF with `ezdxf`, both imported when first used. What they find
becomes edges, the edges join to loops, and the one loop is laid with a straight edge on the body.
Files come from anywhere: whatever is wrong with one ends in an `InputError` that names "file".
"""

from __future__ import annotations

import cmath
import io
import math
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from calc.errors import InputError
from calc.units import INCH

MOST_BYTES = 1_000_000
"""Largest file read."""
MOST_EDGES = 5000
"""Most lines, arcs and curves of a drawing."""
MOST_TAGS = 20_000
"""Most tags of an SVG drawing, all kinds together."""
DEEPEST = 40
"""Most groups inside one another."""
FARTHEST = 1e7
"""Largest coordinate, in the drawing's own units."""
STEPS = 64
"""Straight pieces that stand for a curve until it is known how exact they must be."""
GAP = 1e-4
"""Share of the drawing's size within which ends of lines meet."""
STRAIGHT = 1e-4
"""Turn [rad] below which two lines are one straight edge."""
LEAST_ROOT = 0.04
"""Least share of the way round that an edge offered as the root has."""
MOST_ROOTS = 8
"""Most edges offered as the root."""
CURVE_TOLERANCE = 1e-4
"""Farthest that the fin's outline may lie from the drawing [m]; more only where corners run out."""
MOST_CORNERS = 56
"""Most corners that stand for an outline."""

UNITS = {
    "mm": 1e-3,
    "cm": 1e-2,
    "m": 1.0,
    "in": INCH,
    "ft": 12 * INCH,
    "pt": INCH / 72,
    "pc": INCH / 6,
    "px": INCH / 96,
    "q": 0.25e-3,
}
"""Units of length [m]: pt, pc, px and q after CSS Values and Units Module Level 3 (W3C), 5.2."""
HEADER_UNITS = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m"}
"""By the code $INSUNITS of a DXF header: DXF Reference (Autodesk), group codes of the header."""
CUT = "cut"
"""Layer, or class, of what is to be cut in templates of the cutting plan; it alone counts then."""
NOT_DRAWN = {
    "defs", "symbol", "clippath", "mask", "pattern", "marker", "filter", "metadata", "image",
    "text", "foreignobject", "script", "switch",
}  # fmt: skip

Array = npt.NDArray[np.float64]


class Edge(NamedTuple):
    """A line or arc between two points x + iy, in the drawing's units, y upward.

    ``bulge`` is the tangent of a quarter of the arc's turn, positive to the left; 0 for a line.
    """

    start: complex
    end: complex
    bulge: float = 0.0

    def reversed(self) -> Edge:
        """Return the edge walked the other way."""
        return Edge(self.end, self.start, -self.bulge)


@dataclass(frozen=True)
class Drawn:
    """The one outline of a drawing.

    Parameters
    ----------
    edges
        Closed, counter-clockwise.
    unit
        Length of the drawing's unit as the file tells it [m], or the usual one.
    said
        How it tells it, or what is missing, for the reader.
    notes
        What the reader should know of how the file was read.
    """

    edges: tuple[Edge, ...]
    unit: float
    said: str
    notes: tuple[str, ...] = ()

    @property
    def roots(self) -> tuple[tuple[complex, complex], ...]:
        """Return the straight edges that may be the root, the longest first."""
        sides = [side for side in _sides(self.edges) if side.lines]
        around = sum(abs(edge.end - edge.start) for edge in self.edges)
        long = [side for side in sides if abs(side.end - side.start) >= LEAST_ROOT * around]
        long.sort(key=lambda side: -round(abs(side.end - side.start) / around, 6))
        return tuple((side.start, side.end) for side in long[:MOST_ROOTS])

    def lowest(self) -> int:
        """Return which of `roots` lies lowest on the drawing."""
        middles = [0.5 * (start + end).imag for start, end in self.roots]
        return int(np.argmin(middles))

    def polygon(self) -> list[complex]:
        """Return points along the outline, arcs in short straight pieces."""
        return [point for edge in self.edges for point in _points(edge)[:-1]]


def read(data: bytes, filename: str = "") -> Drawn:
    """Return the outline in a file, an SVG or DXF drawing.

    Raises
    ------
    InputError
        Naming ``file``, with one sentence that says why it cannot be used.
    """
    if len(data) > MOST_BYTES:
        raise _refused(f"a file of at most {MOST_BYTES / 1e6:g} MB: the outline alone needs little")
    if not data.strip():
        raise _refused("a file that is not empty")
    start = data[:2000].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if start.startswith(b"autocad binary dxf"):
        raise _refused("a DXF saved as text (ASCII): this one is binary")
    svg = filename.lower().endswith(".svg") or start.startswith((b"<?xml", b"<svg", b"<!"))
    reader = _read_svg if svg else _read_dxf
    try:
        with np.errstate(all="ignore"):
            return reader(data)
    except InputError:
        raise
    except ModuleNotFoundError:
        raise
    except Exception as problem:
        # What a broken file makes a library raise is in nobody's list.
        kind = "an SVG" if svg else "an SVG or DXF"
        raise _refused(f"{kind} drawing that is whole: this one cannot be read") from problem


def _refused(accepts: str) -> InputError:
    return InputError("file", "this file", accepts)


def _drawn(pieces: Sequence[Sequence[Edge]], unit: float, said: str) -> Drawn:
    """Return the one outline among paths and loose edges."""
    edges = [edge for piece in pieces for edge in piece]
    if len(edges) > MOST_EDGES * STEPS:
        raise _refused(f"a drawing of at most {MOST_EDGES} lines: this one has more")
    if not edges:
        raise _refused("a drawing with lines in it: there are none")
    places = np.array([edge[:2] for edge in edges])
    bulges = np.array([edge.bulge for edge in edges])
    if not (np.isfinite(places).all() and np.isfinite(bulges).all()):
        raise _refused("a drawing whose places are all numbers")
    if np.abs(places).max() > FARTHEST:
        raise _refused("a drawing near its origin: some places lie absurdly far away")
    outline, notes = _only(pieces, float(max(np.ptp(places.real), np.ptp(places.imag))))
    outline = [
        Edge(edge.start, after.start, edge.bulge)
        for edge, after in zip(outline, [*outline[1:], outline[0]], strict=True)
    ]
    if _area(outline) < 0.0:
        outline = [edge.reversed() for edge in reversed(outline)]
    found = Drawn(tuple(outline), unit, said, notes)
    if not found.roots:
        raise _refused("an outline with a straight edge, which becomes the root: this has none")
    return found


def _only(pieces: Sequence[Sequence[Edge]], size: float) -> tuple[list[Edge], tuple[str, ...]]:
    """Return the one loop of a drawing of a given size, and what to tell of the others."""
    gap = GAP * size
    loops: list[list[Edge]] = []
    loose: list[list[Edge]] = []
    for piece in pieces:
        path = [edge for edge in piece if abs(edge.end - edge.start) > 1e-9 * size]
        if len(path) > 1 and abs(path[-1].end - path[0].start) <= gap:
            loops.append(path)
        elif path:
            loose.append(path)
    closed, open_ = _joined(loose, gap)
    loops = [loop for loop in loops + closed if abs(_area(loop)) > 1e-6 * size**2]
    notes = []
    if not loops and len(open_) == 1 and len(open_[0]) > 1:
        loops = [[*open_[0], Edge(open_[0][-1].end, open_[0][0].start)]]
        open_ = []
        notes.append("The outline was open; a straight line closes it.")
    if not loops:
        raise _refused(
            "a closed outline: no line of this drawing comes back to where it began"
            if open_
            else "a drawing with an outline in it: there is none"
        )
    shapes: list[list[Edge]] = []
    for loop in loops:
        if not any(_alike(loop, other) for other in shapes):
            shapes.append(loop)
    if len(shapes) > 1:
        raise _refused(f"a drawing of one outline: this one has {len(shapes)} different ones")
    if len(loops) > 1:
        notes.append(f"The drawing holds this outline {len(loops)} times.")
    if open_:
        notes.append("Lines that close no outline were left out.")
    return shapes[0], tuple(notes)


def _joined(paths: Sequence[list[Edge]], gap: float) -> tuple[list[list[Edge]], list[list[Edge]]]:
    """Return loops made of open paths whose ends meet, and the paths that close none."""
    unique: dict[tuple[complex, ...], list[Edge]] = {}
    grid = max(gap, 1e-300)

    def cell(place: complex) -> complex:
        return complex(round(place.real / grid), round(place.imag / grid))

    for path in paths:
        # a line drawn twice counts once
        ends = sorted((cell(path[0].start), cell(path[-1].end)), key=lambda c: (c.real, c.imag))
        inner = _points(path[len(path) // 2])
        middle = cell(inner[len(inner) // 2])
        unique.setdefault((*ends, middle), path)
    left = list(unique.values())
    if len(left) > MOST_EDGES:
        raise _refused(f"a drawing of at most {MOST_EDGES} lines: this one has more")
    starts = np.array([path[0].start for path in left])
    lasts = np.array([path[-1].end for path in left])
    free = np.ones(len(left), dtype=bool)
    closed: list[list[Edge]] = []
    open_: list[list[Edge]] = []
    for first in range(len(left)):
        if not free[first]:
            continue
        free[first] = False
        chain = list(left[first])
        for _ in range(2):
            while abs(chain[-1].end - chain[0].start) > gap and free.any():
                to_start = np.where(free, np.abs(starts - chain[-1].end), np.inf)
                to_end = np.where(free, np.abs(lasts - chain[-1].end), np.inf)
                near = int(np.argmin(np.minimum(to_start, to_end)))
                if min(to_start[near], to_end[near]) > gap:
                    break
                free[near] = False
                path = left[near]
                if to_end[near] < to_start[near]:
                    path = [edge.reversed() for edge in reversed(path)]
                chain += path
            chain = [edge.reversed() for edge in reversed(chain)]
        meets = len(chain) > 1 and abs(chain[-1].end - chain[0].start) <= gap
        (closed if meets else open_).append(chain)
    return closed, open_


def _area(loop: Sequence[Edge]) -> float:
    """Return the signed area of a loop, positive counter-clockwise."""
    total = 0.0
    origin = loop[0].start
    for start, end, bulge in loop:
        total += 0.5 * ((start - origin).conjugate() * (end - origin)).imag
        if bulge:
            turn = 4.0 * math.atan(bulge)
            radius = abs(end - start) / (2.0 * math.sin(0.5 * abs(turn)))
            total += math.copysign(0.5 * radius**2, turn) * (abs(turn) - math.sin(abs(turn)))
    return total


def _length(loop: Sequence[Edge]) -> float:
    return sum(abs(b - a) for edge in loop for a, b in pairwise(_points(edge)))


def _alike(one: Sequence[Edge], other: Sequence[Edge]) -> bool:
    """Whether two loops are copies, by area and length of the way round."""
    return (
        abs(abs(_area(one) / _area(other)) - 1.0) < 1e-3
        and abs(_length(one) / _length(other) - 1.0) < 1e-3
    )


def _points(edge: Edge) -> list[complex]:
    """Return points along an edge, its two ends among them."""
    start, end, bulge = edge
    if bulge == 0.0:
        return [start, end]
    turn = 4.0 * math.atan(bulge)
    centre = _centre(edge)
    count = max(2, math.ceil(STEPS * abs(turn) / math.pi))
    inner = [centre + (start - centre) * cmath.exp(1j * turn * k / count) for k in range(1, count)]
    return [start, *inner, end]


def _centre(edge: Edge) -> complex:
    turn = 4.0 * math.atan(edge.bulge)
    return 0.5 * (edge.start + edge.end) + 0.5j * (edge.end - edge.start) / math.tan(0.5 * turn)


class _Side(NamedTuple):
    """A straight run of lines, or one arc (no lines): the first of its edges and how many."""

    first: int
    lines: int
    start: complex
    end: complex


def _sides(edges: Sequence[Edge]) -> list[_Side]:
    """Return the straight sides of a loop; lines in one direction are one side."""
    number = len(edges)

    def goes_on(i: int) -> bool:
        """Whether edge i continues the one before it in one straight line."""
        before, edge = edges[i - 1], edges[i]
        if before.bulge or edge.bulge:
            return False
        ratio = (edge.end - edge.start) / (before.end - before.start)
        return abs(cmath.phase(ratio)) < STRAIGHT

    begins = [i for i in range(number) if not goes_on(i)]
    if not begins:
        return []
    found = []
    for first, after in zip(begins, [*begins[1:], begins[0] + number], strict=True):
        last = edges[(after - 1) % number]
        count = 0 if edges[first].bulge else after - first
        found.append(_Side(first, count, edges[first].start, last.end))
    return found


# The outline on the body.


@dataclass(frozen=True)
class Placed:
    """An outline with its root on the body, as corners.

    Parameters
    ----------
    corners
        (x, y) [m], x aft from the root's front, y outward, from the root's front to its rear.
    radii
        Of the corners off the body [m].
    samples
        Points of the drawing itself in the same place (n, 2) [m].
    roots
        Where the edges that may be the root lie now, start and end [m].
    """

    corners: tuple[tuple[float, float], ...]
    radii: tuple[float, ...]
    samples: Array
    roots: tuple[tuple[complex, complex], ...]


def placed(
    drawn: Drawn, *, unit: float, root: int = 0, turned: bool = False, arcs: bool = True,
    tolerance: float = CURVE_TOLERANCE,
    slack: float = 0.0,
) -> Placed:  # fmt: skip
    """Return the outline laid with an edge on the body.

    Parameters
    ----------
    drawn
        From `read`.
    unit
        Length of the drawing's unit [m].
    root
        Which of ``drawn.roots`` lies on the body.
    turned
        Whether the end that would be the root's rear is its front. The front is at first where the
        fin trails.
    arcs
        Whether arcs become rounded corners; else they become corners too.
    tolerance
        How far corners that stand for a curve may leave it [m].
    slack
        Share by which radii are made smaller, so that they fit when written with few digits.

    Raises
    ------
    InputError
        Naming ``edge`` where the drawing reaches beyond that edge.
    """
    start, end = drawn.roots[root]
    sides = _sides(drawn.edges)
    own = next(side for side in sides if side.lines and side.start == start and side.end == end)
    number = len(drawn.edges)
    rest = [drawn.edges[(own.first + own.lines + k) % number] for k in range(number - own.lines)]
    # Counter-clockwise: seen along the edge the fin lies at its left, so outward is up.
    turn = unit * abs(end - start) / (end - start)
    laid = [
        Edge((edge.start - start) * turn, (edge.end - start) * turn, edge.bulge) for edge in rest
    ]
    length = unit * abs(end - start)
    laid = [edge.reversed() for edge in reversed(laid)]  # from the root's start round to its end
    points = np.array([point for edge in laid for point in _points(edge)])
    span = float(points.imag.max())
    if float(points.imag.min()) < -max(1e-3 * span, 2e-5):
        raise InputError(
            "edge", "this edge", "another edge as the root: the drawing reaches beyond this one, "
            "and a fin lies on one side of it",
        )  # fmt: skip
    roots = [tuple((each - start) * turn for each in ends) for ends in drawn.roots]
    if _trails(points, length) == turned:
        laid = [
            Edge(length - edge.end.conjugate(), length - edge.start.conjugate(), edge.bulge)
            for edge in reversed(laid)
        ]
        points = length - points.conjugate()
        roots = [tuple(length - each.conjugate() for each in ends) for ends in roots]
    if not arcs:
        laid = [Edge(a, b) for edge in laid for a, b in pairwise(_points(edge))]
    chain = _control(_thinned(laid, tolerance))
    near = max(2e-6, 1e-7 * span)
    top = max(place.imag for place, _ in chain)

    def level(y: float) -> float:
        return 0.0 if abs(y) <= near else top if abs(y - top) <= near else y

    corners = tuple((place.real, level(place.imag)) for place, _ in chain)
    return Placed(
        corners,
        tuple(radius * (1.0 - slack) for _, radius in chain[1:-1]),
        np.column_stack([points.real, points.imag]),
        tuple((first, last) for first, last in roots),
    )


def _trails(points: npt.NDArray[np.complex128], length: float) -> bool:
    """Whether the outline leans toward the end of the root at x = length."""
    x, y = points.real, points.imag
    cross = x * np.roll(y, -1) - np.roll(x, -1) * y
    total = float(cross.sum())
    middle = float(((x + np.roll(x, -1)) * cross).sum()) / (3.0 * total) if total else 0.0
    return middle >= 0.5 * length * (1.0 - 1e-6)


def _thinned(edges: Sequence[Edge], tolerance: float) -> list[Edge]:
    """Return the chain with fewer lines, none of whose points move by more than the tolerance.

    A few lines stay as they are drawn but for joints in a straight line; many stand for a curve.
    """
    out: list[Edge] = []
    run: list[complex] = []

    def flush() -> None:
        nonlocal run
        if len(run) > 1:
            kept = _simplified(run, 2e-6)
            if len(kept) > 24:
                # short pieces are a curve's; what is left of the tolerance is theirs already
                kept = _simplified(run, 0.8 * tolerance)
            out.extend(Edge(a, b) for a, b in pairwise(kept))
        run = []

    for edge in edges:
        if edge.bulge:
            flush()
            out.append(edge)
        else:
            run = run or [edge.start]
            run.append(edge.end)
    flush()
    return out


def _simplified(points: Sequence[complex], tolerance: float) -> list[complex]:
    """Return points of a line such that none left out lies farther off (Douglas and Peucker)."""
    line = np.array(points)
    keep = np.zeros(line.size, dtype=bool)
    keep[[0, -1]] = True
    waiting = [(0, line.size - 1)]
    while waiting:
        low, high = waiting.pop()
        if high - low < 2:
            continue
        along = line[high] - line[low]
        inner = line[low + 1 : high] - line[low]
        length = abs(along)
        if length > 0.0:
            share = np.clip((inner * along.conjugate()).real / length**2, 0.0, 1.0)
            off = np.abs(inner - share * along)
        else:
            off = np.abs(inner)
        worst = int(np.argmax(off))
        if off[worst] > tolerance:
            middle = low + 1 + worst
            keep[middle] = True
            waiting += [(low, middle), (middle, high)]
    return [complex(point) for point in line[keep]]


def _control(edges: Sequence[Edge]) -> list[tuple[complex, float]]:
    """Return corners and their radii such that rounding them gives the chain, arcs and all.

    An arc is what rounds the corner at which the tangents of its two ends meet.
    """
    chain: list[tuple[complex, float]] = [(edges[0].start, 0.0)]
    for edge in edges:
        if edge.bulge:
            turn = 4.0 * math.atan(edge.bulge)
            parts = math.ceil(abs(turn) / 1.75)  # no more than 100 degrees each
            centre = _centre(edge)
            spoke, step = edge.start - centre, turn / parts
            for k in range(parts):
                corner = centre + spoke * cmath.exp(1j * (k + 0.5) * step) / math.cos(0.5 * step)
                chain.append((corner, abs(spoke)))
                chain.append((centre + spoke * cmath.exp(1j * (k + 1) * step), 0.0))
            chain[-1] = (edge.end, 0.0)
        else:
            chain.append((edge.end, 0.0))
    kept = [chain[0]]
    for place, after in pairwise(chain[1:]):
        before = kept[-1]
        if place[1] == 0.0 and (before[1] or after[1]) and _between(before[0], place[0], after[0]):
            continue  # an arc begins or ends here along its tangent
        kept.append(place)
    kept.append(chain[-1])
    return kept


def _between(before: complex, place: complex, after: complex) -> bool:
    along = after - before
    if abs(along) == 0.0:
        return False
    off = ((place - before) * along.conjugate()).imag / abs(along)
    return abs(off) < 1e-5


def deviation(samples: Array, outline: Array) -> float:
    """Return the farthest that points of the drawing lie from an outline [m].

    Parameters
    ----------
    samples
        Points of the drawing (n, 2) [m].
    outline
        Corners of a fine polygon, not closed along the root (m, 2) [m].
    """
    start, along = outline[:-1], np.diff(outline, axis=0)
    square = np.maximum((along**2).sum(axis=1), 1e-30)
    worst = 0.0
    for block in np.array_split(samples, max(1, len(samples) // 200)):
        gap = block[:, None] - start
        share = np.clip((gap * along).sum(axis=2) / square, 0.0, 1.0)
        off = np.hypot(*np.moveaxis(gap - share[..., None] * along, 2, 0))
        worst = max(worst, float(off.min(axis=1).max()))
    return worst


# SVG.

_SIZE = re.compile(r"\s*([0-9.]+(?:e[-+]?\d+)?)\s*([a-z%]*)\s*", re.IGNORECASE)


def _size_of(text: str | None) -> tuple[float, str] | None:
    """Return number and unit of a width, or None."""
    match = _SIZE.fullmatch(text or "")
    if match is None:
        return None
    try:
        value = float(match[1])
    except ValueError:
        return None
    return (value, match[2].lower()) if value > 0.0 and math.isfinite(value) else None


def _svg_unit(root: Any) -> tuple[float, str]:
    """Return the length of a drawing's unit [m] from its width and viewBox, and what it says."""
    sizes = [_size_of(root.get(name)) for name in ("width", "height")]
    cells = re.split(r"[\s,]+", (root.get("viewBox") or "").strip())
    try:
        box = [float(cell) for cell in cells[2:4]] if len(cells) == 4 else []
    except ValueError:
        box = []
    found = []
    for place, size in enumerate(sizes):
        if size is None or size[1] not in UNITS:
            continue
        if box and box[place] > 0.0:
            found.append(size[0] * UNITS[size[1]] / box[place])
        elif not box:
            # without a viewBox the drawing's unit is the pixel, whatever the page measures
            found.append(UNITS["px"])
    if found:
        return min(found), f"one unit is {1e3 * min(found):.4g} mm, by the size of its page"
    return UNITS["px"], "the file names no unit: pixels are taken, 96 to the inch"


def _read_svg(data: bytes) -> Drawn:
    from xml.etree.ElementTree import tostring

    from defusedxml.ElementTree import fromstring
    from svgelements import SVG, Path, Shape

    try:
        root = fromstring(data)
    except ValueError as problem:
        # entities and the like, by which a small file makes a large one
        raise _refused("an SVG without entities of its own: export it as plain SVG") from problem
    if not str(root.tag).endswith("svg"):
        raise _refused("an SVG or DXF drawing: this is some other kind of XML")
    _pruned(root)
    unit, said = _svg_unit(root)
    for name in ("width", "height", "viewBox", "preserveAspectRatio"):
        root.attrib.pop(name, None)
    source = io.StringIO(tostring(root, encoding="unicode"))
    every: list[list[Edge]] = []
    cut: list[list[Edge]] = []
    for shape in SVG.parse(source, reify=True, ppi=96.0).elements():
        if not isinstance(shape, Shape):
            continue
        path = Path(shape)
        path.reify()
        names = str((shape.values or {}).get("class") or "").lower().split()
        for part in path.as_subpaths():
            edges = [edge for segment in Path(part) for edge in _svg_edges(segment)]
            if edges:
                every.append(edges)
                if CUT in names:
                    cut.append(edges)
    # y points down in SVG
    flipped = [
        [Edge(e.start.conjugate(), e.end.conjugate(), -e.bulge) for e in piece]
        for piece in cut or every
    ]
    return _drawn(flipped, unit, said)


def _pruned(root: Any) -> None:
    """Take out what draws nothing; refuse what is too large, too deep, or repeats itself."""
    waiting = [(root, 0)]
    seen = strokes = 0
    while waiting:
        element, depth = waiting.pop()
        seen += 1
        if seen > MOST_TAGS or depth > DEEPEST:
            raise _refused("a simpler drawing: this one has too many parts or groups")
        for child in list(element):
            tag = str(child.tag).rpartition("}")[2].lower()
            if tag in NOT_DRAWN or not isinstance(child.tag, str):
                element.remove(child)
                continue
            if tag == "use":
                raise _refused("a drawing without linked copies (use): turn them into paths")
            for name in ("d", "points"):
                strokes += len(re.findall(r"[A-Za-z]|[-+.]?\d[\d.]*", child.get(name) or ""))
            waiting.append((child, depth + 1))
    if strokes > 4 * MOST_EDGES:
        raise _refused(f"a drawing of at most {MOST_EDGES} lines: this one has more")


def _svg_edges(segment: Any) -> Iterator[Edge]:
    """Yield the edges of one segment of a path."""
    from svgelements import Arc, Close, CubicBezier, Line, QuadraticBezier

    if segment.start is None or segment.end is None:
        return
    start, end = _xy(segment.start), _xy(segment.end)
    if isinstance(segment, Arc):
        wide, tall, sweep = float(segment.rx), float(segment.ry), float(segment.sweep)
        if abs(wide - tall) <= 1e-6 * max(wide, tall) and abs(start - end) > 1e-9 * wide:
            if abs(sweep) > math.pi:
                middle = _xy(segment.point(0.5))
                yield Edge(start, middle, math.tan(0.125 * sweep))
                yield Edge(middle, end, math.tan(0.125 * sweep))
            else:
                yield Edge(start, end, math.tan(0.25 * sweep))
            return
        inner = [_xy(segment.point(k / STEPS)) for k in range(1, STEPS)]
        yield from (Edge(a, b) for a, b in pairwise([start, *inner, end]))
    elif isinstance(segment, QuadraticBezier | CubicBezier):
        controls = (
            [segment.control]
            if isinstance(segment, QuadraticBezier)
            else [segment.control1, segment.control2]
        )
        yield from _bezier([start, *(_xy(each) for each in controls), end])
    elif isinstance(segment, Line | Close):
        yield Edge(start, end)


def _xy(point: Any) -> complex:
    return complex(float(point.x), float(point.y))


def _bezier(controls: Sequence[complex]) -> Iterator[Edge]:
    """Yield straight pieces of a Bezier curve; one where it is straight."""
    places = np.array(controls)
    along = places[-1] - places[0]
    if abs(along) > 0.0:
        off = np.abs(((places - places[0]) * along.conjugate()).imag) / abs(along)
        if float(off.max()) <= 1e-9 * abs(along):
            yield Edge(complex(places[0]), complex(places[-1]))
            return
    t = np.linspace(0.0, 1.0, STEPS + 1)
    degree = places.size - 1
    curve = sum(
        math.comb(degree, k) * t**k * (1.0 - t) ** (degree - k) * place
        for k, place in enumerate(places)
    )
    yield from (Edge(complex(a), complex(b)) for a, b in pairwise(np.atleast_1d(curve)))


# DXF.

_IGNORED = frozenset([
    "TEXT", "MTEXT", "DIMENSION", "POINT", "HATCH", "LEADER", "MULTILEADER", "IMAGE", "VIEWPORT",
    "ATTDEF", "ATTRIB", "WIPEOUT", "XLINE", "RAY", "TOLERANCE",
])  # fmt: skip
_CURVES = frozenset(["ELLIPSE", "SPLINE"])


def _read_dxf(data: bytes) -> Drawn:
    if b"\0" in data or b"SECTION" not in data[:100_000].upper():
        raise _refused("an SVG or DXF drawing: this is some other kind of file")
    from ezdxf import recover

    document, _ = recover.read(io.BytesIO(data))
    code = int(document.header.get("$INSUNITS", 0) or 0)
    name = HEADER_UNITS.get(code)
    said = f"the unit is {name}" if name else "the file names no unit: millimetres are taken"
    hidden = {
        layer.dxf.name.lower() for layer in document.layers if layer.is_off() or layer.is_frozen()
    }
    every: list[list[Edge]] = []
    cut: list[list[Edge]] = []
    seen = 0
    for entity in document.modelspace():
        kind = entity.dxftype()
        layer = str(entity.dxf.get("layer", "0")).lower()
        if kind in _IGNORED or layer in hidden or entity.dxf.get("invisible", 0):
            continue
        seen += 1
        if seen > MOST_EDGES:
            raise _refused(f"a drawing of at most {MOST_EDGES} lines: this one has more")
        if kind == "INSERT":
            raise _refused("a drawing without blocks (INSERT): explode them into lines first")
        edges = _dxf_edges(entity, kind)
        if not edges:
            continue
        every.append(edges)
        if layer == CUT:
            cut.append(edges)
    return _drawn(cut or every, UNITS[name or "mm"], said)


def _dxf_edges(entity: Any, kind: str) -> list[Edge]:
    """Return the edges of one entity, seen from above."""
    if kind == "LINE":
        return [Edge(_place(entity.dxf.start), _place(entity.dxf.end))]
    if kind in ("LWPOLYLINE", "POLYLINE"):
        return _dxf_polyline(entity, kind)
    if kind in ("ARC", "CIRCLE"):
        return _dxf_arc(entity, kind)
    if kind in _CURVES:
        if kind == "SPLINE":
            controls = [complex(p[0], p[1]) for p in (*entity.control_points, *entity.fit_points)]
        else:
            major = _place(entity.dxf.major_axis)
            controls = [_place(entity.dxf.center) - major, _place(entity.dxf.center) + major]
        _check_numbers(controls)
        if len(controls) > 1000:
            raise _refused("a drawing whose curves have at most 1000 points each")
        size = max(abs(each - controls[0]) for each in controls)
        if size == 0.0:
            return []
        places = [_place(each) for each in entity.flattening(2e-5 * size)]
        return [Edge(a, b) for a, b in pairwise(places)]
    raise _refused(
        f"a drawing of lines, arcs, circles, polylines, ellipses and splines: this one has {kind}"
    )


def _place(point: Any) -> complex:
    return complex(float(point[0]), float(point[1]))


def _check_numbers(places: Iterable[complex]) -> None:
    """Refuse what would keep a flattening busy for ever."""
    if not all(cmath.isfinite(place) and abs(place) < FARTHEST for place in places):
        raise _refused("a drawing whose places are all numbers, near its origin")


def _seen(entity: Any, points: Iterable[Any]) -> tuple[list[complex], float]:
    """Return points of a flat entity seen from above, and -1 where it is seen from behind."""
    system = entity.ocs()
    if not system.transform:
        return [_place(point) for point in points], 1.0
    side = 1.0 if float(entity.dxf.extrusion[2]) >= 0.0 else -1.0
    return [_place(system.to_wcs(point)) for point in points], side


def _dxf_polyline(entity: Any, kind: str) -> list[Edge]:
    if kind == "LWPOLYLINE":
        rows = [(x, y, bulge) for x, y, bulge in entity.get_points("xyb")]
        closed = bool(entity.closed)
    else:
        if not (entity.is_2d_polyline or entity.is_3d_polyline):
            raise _refused("a drawing of lines and arcs: this one has a mesh")
        rows = [
            (*vertex.dxf.location.vec2, float(vertex.dxf.get("bulge", 0.0)))
            for vertex in entity.vertices
        ]
        closed = bool(entity.is_closed)
    places, side = _seen(entity, [(x, y, 0.0) for x, y, _ in rows])
    last = len(places) if closed else len(places) - 1
    edges = []
    for i in range(last):
        start, end = places[i], places[(i + 1) % len(places)]
        bulge = side * float(rows[i][2])
        if start != end:
            edges += _halved(Edge(start, end, bulge))
    return edges


def _halved(edge: Edge) -> list[Edge]:
    """Return the edge, or its two halves where it turns more than half round."""
    if not abs(edge.bulge) > 1.0 + 1e-9 or not math.isfinite(edge.bulge):
        return [edge]
    half = math.tan(0.5 * math.atan(edge.bulge))
    centre = _centre(edge)
    middle = centre + (edge.start - centre) * cmath.exp(2j * math.atan(edge.bulge))
    return [Edge(edge.start, middle, half), Edge(middle, edge.end, half)]


def _dxf_arc(entity: Any, kind: str) -> list[Edge]:
    radius = float(entity.dxf.radius)
    x, y, z = entity.dxf.center
    if kind == "CIRCLE":
        first, turn = 0.0, 2.0 * math.pi
    else:
        first = math.radians(float(entity.dxf.start_angle))
        last = math.radians(float(entity.dxf.end_angle))
        _check_numbers([complex(first, last)])
        turn = (last - first) % (2.0 * math.pi) or 2.0 * math.pi
    _check_numbers([complex(x, y), complex(radius, 0.0)])
    if radius <= 0.0:
        return []
    parts = max(1, math.ceil(turn / 2.0))
    angles = [first + turn * k / parts for k in range(parts + 1)]
    places, side = _seen(
        entity, [(x + radius * math.cos(a), y + radius * math.sin(a), z) for a in angles]
    )
    bulge = side * math.tan(0.25 * turn / parts)
    return [Edge(a, b, bulge) for a, b in pairwise(places)]
