"""Full-size templates of a cutting plan: SVG, PDF pages for A4 or Letter, and DXF.

Each sheet becomes one drawing in millimetres, which the three writers translate. DXF is written
with `ezdxf` and PDF with `fpdf2`, both imported when first used so that a page that only shows the
plan does not load them. Outlines are the finished parts: set a cutter to cut outside them by half
the width that it removes.
"""

from __future__ import annotations

import importlib
import io
import math
import textwrap
import warnings
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from html import escape
from typing import Any, NamedTuple

import numpy as np

from calc.errors import InputError
from calc.geometry.outline import Segment
from calc.geometry.polygons import Array, contains
from calc.workshop.parts import Placement, Plan

PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height of the papers [mm]: ISO 216 and ANSI/ASME Y14.1."""
SQUARE_SIDE = 50.0
"""Side of the square that shows whether the print has the right scale [mm]."""
PAGE_EDGE = 10.0
"""Blank edge of a page [mm]; printers need less."""
PAGE_FOOT = 18.0
"""Lower edge of a page, which carries its number [mm]."""
OVERLAP = 10.0
"""Width drawn on both of two neighbouring pages [mm]."""
LAYERS: dict[str, tuple[tuple[int, int, int], float, tuple[float, float] | None, int]] = {
    "CUT": ((0, 0, 0), 0.2, None, 1),
    "SHEET": ((110, 110, 110), 0.3, None, 8),
    "DEFECT": ((160, 60, 0), 0.2, (1.0, 1.0), 30),
    "GRAIN": ((20, 90, 160), 0.25, None, 5),
    "JOINT": ((170, 0, 80), 0.35, (3.0, 1.5), 6),
    "LABEL": ((20, 90, 160), 0.2, None, 3),
    "SCALE": ((0, 0, 0), 0.2, None, 7),
    "PAGE": ((110, 110, 110), 0.15, (2.0, 2.0), 8),
}
"""By layer: colour (red, green, blue), line width [mm], dash and gap [mm], DXF colour number."""


@dataclass(frozen=True)
class Line:
    """A line through points [mm], y upward."""

    points: tuple[tuple[float, float], ...]
    layer: str
    closed: bool = False


@dataclass(frozen=True)
class Circle:
    """A circle [mm]."""

    x: float
    y: float
    radius: float
    layer: str


@dataclass(frozen=True)
class Text:
    """A line of text, centred on (x, y), of a given height [mm]."""

    x: float
    y: float
    height: float
    text: str
    layer: str = "LABEL"


@dataclass(frozen=True)
class Path:
    """A closed outline of lines and arcs [mm], with the polygon that stands for it.

    Its segments are as `calc.geometry.outline.Segment`; the last is closed by a line.
    """

    segments: tuple[Segment, ...]
    polygon: tuple[tuple[float, float], ...]
    layer: str


class _Arc(NamedTuple):
    """An arc by the principal axes of its ellipse [mm], and the turn from start to end [rad]."""

    centre: Array
    major: Array
    ratio: float
    start: float
    turn: float


def _arc(segment: Segment) -> _Arc:
    start, end, centre, along, up = (np.array(point) for point in segment)
    axes = np.column_stack([along - centre, up - centre])
    turned, sizes, _ = np.linalg.svd(axes)
    if np.linalg.det(turned) < 0.0:
        turned[:, 1] = -turned[:, 1]
    places = (turned.T @ np.column_stack([start - centre, end - centre])) / sizes[:, None]
    first, last = np.arctan2(places[1], places[0])
    return _Arc(
        centre, turned[:, 0] * sizes[0], float(sizes[1] / sizes[0]), float(first),
        math.remainder(float(last - first), 2.0 * math.pi),
    )  # fmt: skip


Item = Line | Circle | Text | Path


@dataclass(frozen=True)
class Drawing:
    """A sheet in millimetres, y upward: its length, width, used length and what is drawn."""

    length: float
    width: float
    used: float
    title: str
    items: tuple[Item, ...]


def drawings(plan: Plan) -> tuple[Drawing, ...]:
    """Return every layout as a drawing, full size in millimetres; sheets cut alike once."""
    result = []
    for number, sheet in enumerate(plan.sheets):
        stock = plan.stock[sheet.stock]
        length, width = stock.length * 1000, stock.width * 1000
        items: list[Item] = [Line(_box(0, 0, length, width), "SHEET", closed=True)]
        for loop in stock.defect_loops:
            items.append(Line(_points(loop * 1000), "DEFECT", closed=True))
        for placement in sheet.placements:
            items += _part(placement)
        title = f"{stock.name} {number + 1} of {len(plan.sheets)}"
        if sheet.repeats > 1:
            title = f"layout {number + 1} of {len(plan.sheets)}: {sheet.repeats} sheets alike"
        result.append(Drawing(length, width, sheet.used_length * 1000, title, tuple(items)))
    return tuple(result)


def svg(plan: Plan) -> str:
    """Return an SVG document of all sheets at full size, with the measuring square below.

    The sheets lie one above the other; one user unit is a millimetre.
    """
    sheets = drawings(plan)
    gap = 12.0
    length = max([d.length for d in sheets] + [150.0]) + 2 * PAGE_EDGE
    height = sum(d.width + gap for d in sheets) + SQUARE_SIDE + 2 * PAGE_EDGE
    body, top = [], PAGE_EDGE
    for d in sheets:
        body.append(_svg_text(PAGE_EDGE, top - 4, 4, d.title, "LABEL", anchor="start"))
        body += [_svg_item(item, PAGE_EDGE, top + d.width) for item in d.items]
        top += d.width + gap
    body += [_svg_item(item, PAGE_EDGE, top + SQUARE_SIDE) for item in _measuring_square()]
    return _svg_page(length, height, body)


def pdf_bytes(plan: Plan, paper: str = "A4") -> bytes:
    """Return the plan as a PDF at full size, its first page a check of the scale.

    Neighbouring pages share `OVERLAP`, with dashed lines and crosses to lay them over each other.
    Characters outside Latin-1 are printed as question marks.

    Parameters
    ----------
    plan
        From `calc.workshop.layout_search.nest`.
    paper
        "A4" or "Letter".

    Raises
    ------
    InputError
        If the paper is another.
    """
    return _pdf(_pages(plan, paper), paper, "Cutting plan, full size")


def parts_pdf(plan: Plan, paper: str = "A4") -> bytes:
    """Return one full-size template for each kind of part and strip, as PDF.

    Parameters
    ----------
    plan
        With the parts; those that are not placed have no template.
    paper
        "A4" or "Letter".

    Raises
    ------
    InputError
        If the paper is another.
    """
    return _pdf(_tiles(_one_of_each(plan), paper, _cover(plan, paper)), paper, "Templates")


def tube_pdf(
    *, diameter: float, fins: int, thickness: float, span: float, lug: bool, paper: str = "A4"
) -> bytes:
    """Return a strip that marks the fins on the tube, and a guide that holds them square, as PDF.

    Parameters
    ----------
    diameter
        Outside, of the tube [m].
    fins
        How many stand around it.
    thickness, span
        Of a fin [m].
    lug
        Whether a line halfway between two fins marks the launch lug.
    paper
        "A4" or "Letter".

    Raises
    ------
    InputError
        If the paper is another.
    """
    if paper not in PAPERS:
        raise InputError("paper", paper, "A4 or Letter")
    lines = [
        "Strip and guide for the tube, full size",
        "Print at 100 %, without fitting to the page. The square must measure "
        f"{SQUARE_SIDE:.0f} mm each way.",
        f"Strip: cut it out, wrap it around the tube ({diameter * 1000:.1f} mm), lay the end on "
        "the line marked 1 again.",
        "Guide: cut out the circle and the slots, slide it over the tube, set each fin in its "
        "slot while the glue sets.",
    ]
    drawn = (
        _strip(diameter * 1000, fins, lug=lug),
        _guide(diameter * 1000, fins, thickness * 1000, span * 1000, paper=paper, lug=lug),
    )
    return _pdf(_tiles(drawn, paper, _first_page(lines, paper)), paper, lines[0])


def _pdf(found: Iterable[_Page], paper: str, title: str) -> bytes:
    pages = list(found)
    with warnings.catch_warnings():
        # It warns that no pictures can be placed when Pillow is missing; there are none.
        warnings.simplefilter("ignore")
        _without_ssl()
        from fpdf import FPDF

    pdf = FPDF(unit="mm", format=PAPERS[paper])
    pdf.set_auto_page_break(False)
    pdf.set_title(title)
    pdf.set_creator("Finstock")
    # Viewers that shrink to fit would spoil the scale; ask for none.
    pdf.viewer_preferences = _no_scaling()
    for page in pages:
        wide = page.width > page.height
        pdf.add_page(orientation="landscape" if wide else "portrait")
        with pdf.rect_clip(PAGE_EDGE, PAGE_EDGE, page.across, page.up):
            for item in page.items:
                _pdf_item(pdf, item, page.left, page.base)
        for item in page.frame:
            _pdf_item(pdf, item, 0.0, page.height)
    return bytes(pdf.output())


def dxf_bytes(plan: Plan, sheet: int | None = None) -> bytes:
    """Return the outlines as DXF for a laser cutter, in millimetres, cuts on the layer CUT.

    Parameters
    ----------
    plan
        From `calc.workshop.layout_search.nest`.
    sheet
        Which sheet; None: all, one above the other.

    Raises
    ------
    InputError
        If the plan has no such sheet.
    """
    from ezdxf import units
    from ezdxf.enums import TextEntityAlignment
    from ezdxf.filemanagement import new

    document = new("R2000", units=units.MM)
    for name, (_, _, _, colour) in LAYERS.items():
        if name != "PAGE":
            document.layers.add(name, color=colour)
    space = document.modelspace()
    sheets = drawings(plan)
    if sheet is not None:
        if not 0 <= sheet < len(sheets):
            raise InputError("sheet", sheet, f"a sheet from 0 to {len(sheets) - 1}")
        sheets = (sheets[sheet],)
    base = 0.0
    for drawing in sheets:
        for item in drawing.items:
            look = {"layer": item.layer}
            if isinstance(item, Line):
                points = [(x, y + base) for x, y in item.points]
                space.add_lwpolyline(points, close=item.closed, dxfattribs=look)
            elif isinstance(item, Circle):
                space.add_circle((item.x, item.y + base), item.radius, dxfattribs=look)
            elif isinstance(item, Path):
                _dxf_path(space, item, base)
            else:
                text = space.add_text(item.text, height=item.height, dxfattribs=look)
                text.set_placement((item.x, item.y + base), align=TextEntityAlignment.MIDDLE_CENTER)
        base += drawing.width + 20.0
    for item in _measuring_square():
        if isinstance(item, Line):
            points = [(x, y - SQUARE_SIDE - 20.0) for x, y in item.points]
            space.add_lwpolyline(points, close=item.closed, dxfattribs={"layer": "SCALE"})
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode(document.output_encoding, errors="dxfreplace")


def _dxf_path(space: Any, path: Path, base: float) -> None:
    """Write an outline: one polyline where all its arcs are of circles, else pieces that meet."""
    look = {"layer": path.layer}
    arcs = [_arc(segment) if len(segment) > 2 else None for segment in path.segments]
    if all(arc is None or arc.ratio > 1.0 - 1e-9 for arc in arcs):
        points = [
            (x, y + base, 0.0 if arc is None else math.tan(0.25 * arc.turn))
            for ((x, y), *_), arc in zip(path.segments, arcs, strict=True)
        ]
        x, y = path.segments[-1][1]
        points.append((x, y + base, 0.0))
        space.add_lwpolyline(points, format="xyb", close=True, dxfattribs=look)
        return
    closing = (path.segments[-1][1], path.segments[0][0])
    for segment, arc in zip((*path.segments, closing), (*arcs, None), strict=True):
        if arc is None:
            (x1, y1), (x2, y2) = segment[:2]
            space.add_line((x1, y1 + base), (x2, y2 + base), dxfattribs=look)
            continue
        ends = sorted((arc.start, arc.start + arc.turn))
        x, y = arc.centre
        space.add_ellipse((x, y + base), (*arc.major, 0.0), arc.ratio, *ends, dxfattribs=look)


@dataclass(frozen=True)
class _Page:
    """One printed page, in millimetres.

    Parameters
    ----------
    width, height
        Of the paper.
    across, up
        Size of the window that shows the drawing.
    left, base
        Where the drawing's x = 0 lies from the page's left, its y = 0 from the page's top.
    items
        The drawing.
    frame
        Scale, page number and overlap marks, from the lower left corner of the page.
    """

    width: float
    height: float
    across: float
    up: float
    left: float
    base: float
    items: tuple[Item, ...]
    frame: tuple[Item, ...]


def _pages(plan: Plan, paper: str) -> Iterator[_Page]:
    return _tiles(drawings(plan), paper, _cover(plan, paper))


def _tiles(drawn: Sequence[Drawing], paper: str, cover: Callable[[int], _Page]) -> Iterator[_Page]:
    """Cut drawings into pages that overlap, after a cover that is told how many pages there are."""
    tiles: list[tuple[Drawing, tuple[float, float], int, int, int, int]] = []
    for drawing in drawn:
        options = []
        for size in (PAPERS[paper], PAPERS[paper][::-1]):
            across, up = size[0] - 2 * PAGE_EDGE, size[1] - PAGE_EDGE - PAGE_FOOT
            columns = _count(drawing.used, across)
            rows = _count(drawing.width, up)
            options.append((columns * rows, size, columns, rows))
        _, size, columns, rows = min(options, key=lambda o: o[0])
        tiles += [
            (drawing, size, column, columns, row, rows)
            for row in range(rows)
            for column in range(columns)
        ]
    total = len(tiles) + 1
    yield cover(total)
    for number, (drawing, size, column, columns, row, rows) in enumerate(tiles):
        across, up = size[0] - 2 * PAGE_EDGE, size[1] - PAGE_EDGE - PAGE_FOOT
        x, y = column * (across - OVERLAP), row * (up - OVERLAP)
        foot = (
            f"{drawing.title}: column {column + 1} of {columns}, row {row + 1} of {rows}  -  "
            f"page {number + 2} of {total}"
        )
        frame = [
            Text(size[0] / 2, 8.0, 3.2, foot, "PAGE"),
            Line(((PAGE_EDGE, 13.0), (PAGE_EDGE + SQUARE_SIDE, 13.0)), "SCALE"),
            Line(((PAGE_EDGE, 12.0), (PAGE_EDGE, 14.0)), "SCALE"),
            Line(((PAGE_EDGE + SQUARE_SIDE, 12.0), (PAGE_EDGE + SQUARE_SIDE, 14.0)), "SCALE"),
            Text(PAGE_EDGE + SQUARE_SIDE + 9.0, 13.0, 3.0, f"{SQUARE_SIDE:.0f} mm", "SCALE"),
            *_overlap_marks(size, across, up, column, columns, row, rows),
        ]
        yield _Page(
            width=size[0],
            height=size[1],
            across=across,
            up=up,
            left=PAGE_EDGE - x,
            base=size[1] - PAGE_FOOT + y,
            items=drawing.items,
            frame=tuple(frame),
        )


def _overlap_marks(
    size: tuple[float, float],
    across: float,
    up: float,
    column: int,
    columns: int,
    row: int,
    rows: int,
) -> list[Item]:
    """Draw where the neighbouring pages begin, with crosses that fall on each other."""
    left, right = PAGE_EDGE, PAGE_EDGE + across
    low, high = PAGE_FOOT, PAGE_FOOT + up
    upright = [left + OVERLAP] * (column > 0) + [right - OVERLAP] * (column < columns - 1)
    level = [low + OVERLAP] * (row > 0) + [high - OVERLAP] * (row < rows - 1)
    marks: list[Item] = []
    for x in upright:
        marks.append(Line(((x, low), (x, high)), "PAGE"))
    for y in level:
        marks.append(Line(((left, y), (right, y)), "PAGE"))
    # Crosses halfway into the overlap: the same spot of the sheet on both pages.
    for x in upright:
        middle = x + (-OVERLAP / 2 if x < size[0] / 2 else OVERLAP / 2)
        marks += _cross_mark(middle, low + OVERLAP + 10) + _cross_mark(middle, high - OVERLAP - 10)
    for y in level:
        middle = y + (-OVERLAP / 2 if y < size[1] / 2 else OVERLAP / 2)
        marks += _cross_mark(left + OVERLAP + 10, middle)
        marks += _cross_mark(right - OVERLAP - 10, middle)
    return marks


def _cover(plan: Plan, paper: str) -> Callable[[int], _Page]:
    if paper not in PAPERS:
        raise InputError("paper", paper, "A4 or Letter")
    lines = [
        "Cutting plan, full size",
        "Print at 100 %, without fitting to the page. The square must measure "
        f"{SQUARE_SIDE:.0f} mm each way.",
        f"Pages overlap by {OVERLAP:.0f} mm: lay the crosses on each other.",
        "Double arrows show the grain; it runs along the sheet.",
        f"Sheets: {plan.sheet_count}. Parts fill {100 * plan.area_yield:.0f} % of them. "
        f"Kerf {plan.kerf * 1000:.1f} mm, edge margin {plan.margin * 1000:.1f} mm.",
    ]
    for part, placed in zip(plan.parts, plan.placed, strict=True):
        lines.append(f"{part.name}: {placed} of {part.quantity}")
    for number, _, why in plan.unplaced:
        lines.append(f"{plan.parts[number].name}: not placed, {why}")
    lines += plan.notes
    return _first_page(lines, paper)


def _first_page(lines: Sequence[str], paper: str) -> Callable[[int], _Page]:
    """Return what makes the first page, with the measuring square, of the number of pages."""
    return lambda total: _page_of_words(lines, paper, total)


def _page_of_words(lines: Sequence[str], paper: str, total: int) -> _Page:
    width, height = PAPERS[paper]
    wrapped = [piece for line in lines for piece in _wrapped(line, 88)]
    frame: list[Item] = [
        Text(width / 2, height - PAGE_EDGE - 8 - 6 * k, 5.0 if k == 0 else 3.5, text, "SCALE")
        for k, text in enumerate(wrapped[:30])
    ]
    corner = (width / 2 - SQUARE_SIDE / 2, PAGE_FOOT + 10.0)
    for item in _measuring_square():
        if isinstance(item, Line):
            moved = tuple((x + corner[0], y + corner[1]) for x, y in item.points)
            frame.append(Line(moved, item.layer, item.closed))
        elif isinstance(item, Text):
            frame.append(
                Text(item.x + corner[0], item.y + corner[1], item.height, item.text, item.layer)
            )
    frame.append(Text(width / 2, 8.0, 3.2, f"page 1 of {total}", "PAGE"))
    return _Page(
        width, height, width - 2 * PAGE_EDGE, height - PAGE_EDGE - PAGE_FOOT, 0, 0, (), tuple(frame)
    )


def _measuring_square() -> list[Item]:
    return [
        Line(_box(0, 0, SQUARE_SIDE, SQUARE_SIDE), "SCALE", closed=True),
        Text(
            SQUARE_SIDE / 2,
            SQUARE_SIDE / 2 + 3,
            4.0,
            f"{SQUARE_SIDE:.0f} mm x {SQUARE_SIDE:.0f} mm",
            "SCALE",
        ),
        Text(SQUARE_SIDE / 2, SQUARE_SIDE / 2 - 3, 3.0, "measure before you cut", "SCALE"),
    ]


def _part(placement: Placement) -> list[Item]:
    """Draw one part: outline, holes, grain arrow, label, joint marks."""
    loop = _millimetres(placement.polygon)
    holes = [_millimetres(h) for h in placement.holes]
    items: list[Item] = []
    if placement.circles:
        items += [Circle(x * 1000, y * 1000, r * 1000, "CUT") for x, y, r in placement.circles]
    elif placement.path:
        segments = tuple(_points(_millimetres(segment)) for segment in placement.path)
        items.append(Path(segments, _points(loop), "CUT"))
    else:
        items += [Line(_points(p), "CUT", closed=True) for p in (loop, *holes)]
    middle, room = _roomiest(loop, holes)
    height = min(4.0, 0.45 * room)
    if height >= 1.0:
        items.append(
            Text(float(middle[0]), float(middle[1]) + 0.75 * height, height, placement.label)
        )
    if placement.grain_locked:
        items += _arrow(loop, holes, middle - [0.0, 0.5 * height], min(1.5, 0.25 * room))
    for mark, (a, b) in placement.glue_lines:
        start, end = _millimetres((a, b))
        items += _joint(start, end, mark, middle)
    return items


def _one_of_each(plan: Plan) -> tuple[Drawing, ...]:
    """Return a drawing of one copy of each kind of part and strip, with how many to cut."""
    found: dict[tuple[int, int | None], Drawing] = {}
    counts: Counter[tuple[int, int | None]] = Counter()
    for sheet in plan.sheets:
        for place in sheet.placements:
            counts[place.part, place.piece] += sheet.repeats
    for sheet in plan.sheets:
        for place in sheet.placements:
            key = place.part, place.piece
            if key in found:
                continue
            name = plan.parts[place.part].name
            if place.piece is not None:
                name += place.label[place.label.rindex(" ") :]
            loop = _millimetres(place.polygon)
            low = loop.min(axis=0) - 5.0
            length, width = np.ptp(loop, axis=0) + 10.0
            items = tuple(
                _moved(item, float(low[0]), float(low[1]))
                for item in _part(replace(place, label=name))
            )
            found[key] = Drawing(
                float(length), float(width), float(length), f"{name}: cut {counts[key]}", items
            )
    return tuple(found[key] for key in sorted(found, key=lambda k: (k[0], k[1] or 0)))


def _moved(item: Item, left: float, low: float) -> Item:
    """Return an item moved to the left and down [mm]."""

    def at(points: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
        return tuple((x - left, y - low) for x, y in points)

    if isinstance(item, Line):
        return replace(item, points=at(item.points))
    if isinstance(item, Path):
        return replace(item, segments=tuple(at(s) for s in item.segments), polygon=at(item.polygon))
    return replace(item, x=item.x - left, y=item.y - low)


STRIP_HEIGHT = 40.0
"""Height of the marking strip [mm]."""
PAPER_THICK = 0.1
"""Thickness of office paper [mm] (common practice): the strip runs around its own middle."""
FLAP = 15.0
"""Length of strip beyond the full turn, to hold it by [mm]."""


def _strip(diameter: float, fins: int, *, lug: bool) -> Drawing:
    """Draw a strip to wrap around the tube: a line at each fin, at the lug and at the full turn.

    Parameters
    ----------
    diameter
        Of the tube, outside [mm].
    """
    turn = math.pi * (diameter + PAPER_THICK)
    start, low = 5.0, 5.0
    end = start + turn + FLAP
    items: list[Item] = [Line(_box(start, low, turn + FLAP, STRIP_HEIGHT), "CUT", closed=True)]
    top = low + STRIP_HEIGHT
    for number in range(fins + 1):
        x = start + turn * number / fins
        items.append(Line(((x, low), (x, top)), "JOINT"))
        items.append(Text(x + 3.0, top - 5.0, 3.0, str(number % fins + 1), "JOINT"))
    if lug:
        x = start + turn * 0.5 / fins
        items.append(Line(((x, low), (x, top)), "GRAIN"))
        items.append(Text(x, top - 10.0, 2.5, "lug", "GRAIN"))
    middle = low + 0.5 * STRIP_HEIGHT
    items.append(Line(((start, middle), (end, middle)), "PAGE"))
    items.append(Text(start + 0.5 * turn, low + 4.0, 2.5, "toward the nose above", "LABEL"))
    return Drawing(
        end + 5.0, STRIP_HEIGHT + 10.0, end + 5.0,
        f"strip for a tube of {diameter:.1f} mm: one turn is {turn:.1f} mm", tuple(items),
    )  # fmt: skip


def _guide(
    diameter: float, fins: int, thickness: float, span: float, *, paper: str, lug: bool
) -> Drawing:
    """Draw the guide: a hole for the tube and a slot for each fin, all lengths in mm.

    Slots end before the edge of the page; they hold the fin's root, which is what sets its angle.
    """
    most = 0.5 * (min(PAPERS[paper]) - 2 * PAGE_EDGE) - 6.0
    hole = 0.5 * diameter
    reach = min(hole + span + 5.0, most)
    edge = min(reach + 5.0, most + 4.0)
    x0 = y0 = edge + 1.0
    items: list[Item] = [Circle(x0, y0, hole, "CUT")]
    items += _cross_mark(x0, y0)
    for number in range(fins):
        angle = 2.0 * math.pi * number / fins + 0.5 * math.pi
        along = np.array([math.cos(angle), math.sin(angle)])
        aside = np.array([-along[1], along[0]]) * 0.5 * thickness
        near = math.sqrt(max(hole * hole - 0.25 * thickness * thickness, 0.0))
        corners = [
            (x0 + float(p[0]), y0 + float(p[1]))
            for p in (
                near * along - aside, reach * along - aside,
                reach * along + aside, near * along + aside,
            )
        ]  # fmt: skip
        if reach > hole:
            items.append(Line(tuple(corners), "CUT"))
        at = along * (0.5 * hole)
        items.append(Text(x0 + float(at[0]), y0 + float(at[1]), 3.0, str(number + 1), "JOINT"))
        items.append(
            Line(((x0, y0), (x0 + float(hole * along[0]), y0 + float(hole * along[1]))), "PAGE")
        )
    if lug:
        angle = math.pi / fins + 0.5 * math.pi
        ends = [(x0 + r * math.cos(angle), y0 + r * math.sin(angle)) for r in (hole, edge)]
        items.append(Line(tuple(ends), "GRAIN"))
        items.append(Text(ends[1][0], ends[1][1], 2.5, "lug", "GRAIN"))
    side = 2.0 * edge + 2.0
    short = "" if reach >= hole + span else "; slots are shorter than the fin"
    return Drawing(
        side, side, side, f"guide for {fins} fins of {thickness:.2f} mm{short}", tuple(items)
    )


def _arrow(loop: Array, holes: Sequence[Array], middle: Array, head: float) -> list[Item]:
    """Draw a double arrow along the sheet, inside the part."""
    crossings = []
    for ring in (loop, *holes):
        a, b = ring, np.roll(ring, -1, axis=0)
        spans = (a[:, 1] > middle[1]) != (b[:, 1] > middle[1])
        share = (middle[1] - a[spans, 1]) / (b[spans, 1] - a[spans, 1])
        crossings += (a[spans, 0] + share * (b[spans, 0] - a[spans, 0])).tolist()
    left = max((x for x in crossings if x < middle[0]), default=middle[0])
    right = min((x for x in crossings if x > middle[0]), default=middle[0])
    half = min(20.0, 0.35 * (right - left))
    if half < 1.0:
        return []
    x, y = float(left + right) / 2, float(middle[1])
    head = min(head, half / 2)
    return [
        Line(((x - half, y), (x + half, y)), "GRAIN"),
        Line(
            ((x - half + head, y + head / 2), (x - half, y), (x - half + head, y - head / 2)),
            "GRAIN",
        ),
        Line(
            ((x + half - head, y + head / 2), (x + half, y), (x + half - head, y - head / 2)),
            "GRAIN",
        ),
    ]


def _joint(a: Array, b: Array, mark: str, middle: Array) -> list[Item]:
    """Mark a glue line: dashes along it, its number, and two ticks that meet across the joint."""
    along = b - a
    length = float(np.hypot(*along))
    if length < 1.0:
        return []
    inward = np.array([-along[1], along[0]]) / length
    if np.dot(inward, middle - a) < 0:
        inward = -inward
    items: list[Item] = [Line(_points(np.array([a, b])), "JOINT")]
    for share in (0.25, 0.75):
        foot = a + share * along
        items.append(
            Line(_points(np.array([foot, foot + min(4.0, 0.2 * length) * inward])), "JOINT")
        )
    at = a + 0.25 * along + 2.0 * inward + 2.0 * along / length
    items.append(Text(float(at[0]), float(at[1]), min(2.5, 0.2 * length), mark, "JOINT"))
    return items


def _roomiest(loop: Array, holes: Sequence[Array]) -> tuple[Array, float]:
    """Return the point of the part furthest from its edges, on a grid, and that distance."""
    low, size = loop.min(axis=0), np.ptp(loop, axis=0)
    steps = (np.arange(25) + 0.5) / 25
    grid = low + size * np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
    inside = contains(loop, grid)
    for hole in holes:
        inside &= ~contains(hole, grid)
    grid = grid[inside]
    if not len(grid):
        return loop.mean(axis=0), 0.0
    near = np.full(len(grid), np.inf)
    for ring in (loop, *holes):
        side = np.roll(ring, -1, axis=0) - ring
        gap = grid[:, None] - ring
        share = np.clip(
            np.einsum("gsi,si->gs", gap, side) / np.einsum("si,si->s", side, side), 0, 1
        )
        away = gap - share[..., None] * side
        near = np.minimum(near, np.hypot(away[..., 0], away[..., 1]).min(axis=1))
    best = int(np.argmax(near))
    return grid[best], float(near[best])


def _count(length: float, window: float) -> int:
    """Return how many windows, overlapping, cover a length."""
    if length <= window + 1e-6:
        return 1
    return 1 + math.ceil((length - window) / (window - OVERLAP) - 1e-9)


def _box(x: float, y: float, width: float, height: float) -> tuple[tuple[float, float], ...]:
    return ((x, y), (x + width, y), (x + width, y + height), (x, y + height))


def _points(points: Array) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in points)


def _wrapped(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width) or [""]


def _millimetres(points: Sequence[tuple[float, float]]) -> Array:
    return np.asarray(points, dtype=np.float64) * 1000.0


def _n(value: float) -> str:
    """Write a number to a ten-thousandth of a millimetre."""
    return f"{value:.4f}".rstrip("0").rstrip(".")


def _svg_page(width: float, height: float, body: Sequence[str]) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(width)}mm" height="{_n(height)}mm" '
        f'viewBox="0 0 {_n(width)} {_n(height)}" font-family="sans-serif">\n'
        + "\n".join(body)
        + "\n</svg>\n"
    )


def _svg_item(item: Item, left: float, base: float) -> str:
    """Write one item; `base` is the distance of y = 0 from the top."""
    if isinstance(item, Text):
        return _svg_text(item.x + left, base - item.y, item.height, item.text, item.layer)
    (red, green, blue), width, dash, _ = LAYERS[item.layer]
    look = f'fill="none" stroke="rgb({red},{green},{blue})" stroke-width="{width}"'
    if dash:
        look += f' stroke-dasharray="{dash[0]} {dash[1]}"'
    look += f' class="{item.layer.lower()}"'
    if isinstance(item, Circle):
        return (
            f'<circle cx="{_n(item.x + left)}" cy="{_n(base - item.y)}" '
            f'r="{_n(item.radius)}" {look}/>'
        )
    if isinstance(item, Path):
        return f'<path d="{_svg_path(item, left, base)}" {look}/>'
    points = " ".join(f"{_n(x + left)},{_n(base - y)}" for x, y in item.points)
    return f'<{"polygon" if item.closed else "polyline"} points="{points}" {look}/>'


def _svg_path(path: Path, left: float, base: float) -> str:
    """Return the commands of an outline, whose y points down there."""

    def place(point: tuple[float, float]) -> str:
        return f"{_n(point[0] + left)} {_n(base - point[1])}"

    out = [f"M{place(path.segments[0][0])}"]
    for segment in path.segments:
        if len(segment) == 2:
            out.append(f"L{place(segment[1])}")
            continue
        arc = _arc(segment)
        size = math.hypot(*arc.major)
        lean = -math.degrees(math.atan2(arc.major[1], arc.major[0]))
        out.append(
            f"A{_n(size)} {_n(size * arc.ratio)} {_n(lean)} 0 {int(arc.turn < 0.0)} "
            f"{place(segment[1])}"
        )
    return "".join(out) + "Z"


def _svg_text(
    x: float, y: float, height: float, text: str, layer: str, *, anchor: str = "middle"
) -> str:
    red, green, blue = LAYERS[layer][0]
    # Capitals are about 0.7 of the font size tall; lower the base line by half of that.
    return (
        f'<text x="{_n(x)}" y="{_n(y + 0.5 * height)}" font-size="{_n(height / 0.7)}" '
        f'text-anchor="{anchor}" fill="rgb({red},{green},{blue})">{escape(text)}</text>'
    )


def _pdf_item(pdf: Any, item: Item, left: float, base: float) -> None:
    colour, width, dash, _ = LAYERS[item.layer]
    if isinstance(item, Text):
        text = item.text.encode("latin-1", "replace").decode("latin-1")
        pdf.set_text_color(*colour)
        pdf.set_font("Helvetica", size=item.height / 0.7 * 72 / 25.4)
        wide = pdf.get_string_width(text)
        pdf.text(item.x + left - wide / 2, base - item.y + 0.5 * item.height, text)
        return
    pdf.set_draw_color(*colour)
    pdf.set_line_width(width)
    pdf.set_dash_pattern(*(dash or (0, 0)))
    if isinstance(item, Circle):
        pdf.circle(item.x + left, base - item.y, item.radius)
    elif isinstance(item, Path):
        pdf.polygon([(x + left, base - y) for x, y in item.polygon])
    else:
        points = [(x + left, base - y) for x, y in item.points]
        if item.closed:
            pdf.polygon(points)
        else:
            pdf.polyline(points)


def _cross_mark(x: float, y: float) -> list[Item]:
    return [
        Line(((x - 2.5, y), (x + 2.5, y)), "SCALE"),
        Line(((x, y - 2.5), (x, y + 2.5)), "SCALE"),
    ]


def _no_scaling() -> Any:
    from fpdf import ViewerPreferences

    return ViewerPreferences(print_scaling="None")


def _without_ssl() -> None:
    """Let fpdf2 be imported where Python has no ssl, as in the browser.

    It derives classes from those for https, to fetch pictures by address; there are none here.
    """
    # By name: the browser's standard library lacks both, the libraries' own download brings them.
    client = importlib.import_module("http.client")
    request = importlib.import_module("urllib.request")
    if not hasattr(client, "HTTPSConnection"):
        vars(client)["HTTPSConnection"] = client.HTTPConnection
        vars(request)["HTTPSHandler"] = request.HTTPHandler
