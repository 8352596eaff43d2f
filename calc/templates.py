"""Full-size templates of a cutting plan: SVG, PDF pages for A4 or Letter, and DXF.

One drawing in millimetres is made of each sheet; the three writers only translate it. DXF is
written with `ezdxf` and PDF with `fpdf2`, imported when first used so that a page that only shows
the plan does not load them. Outlines are the finished parts: a cutter that takes away a width must
be told to cut outside them.
"""

from __future__ import annotations

import importlib
import io
import math
import textwrap
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any

import numpy as np

from calc.errors import InputError
from calc.nesting import Placement, Plan
from calc.polygons import Array, contains

PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}  # mm; ISO 216 and ANSI/ASME Y14.1
SQUARE = 50.0  # mm, side of the measuring square
EDGE = 10.0  # mm, printers leave less than this blank
FOOT = 18.0  # mm, the lower edge, which carries the page's number
OVERLAP = 10.0  # mm, drawn on both of two neighbouring pages
# Layer: colour as (red, green, blue), line width in mm, dash and gap in mm, DXF colour number.
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


Item = Line | Circle | Text


@dataclass(frozen=True)
class Drawing:
    """A sheet in millimetres, y upward: its length, width, used length and what is drawn."""

    length: float
    width: float
    used: float
    title: str
    items: tuple[Item, ...]


def drawings(plan: Plan) -> tuple[Drawing, ...]:
    """Draw every sheet in use, full size in millimetres."""
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
        result.append(Drawing(length, width, sheet.used_length * 1000, title, tuple(items)))
    return tuple(result)


def svg(plan: Plan) -> str:
    """Draw all sheets at full size, one above the other, with the measuring square below.

    Returns
    -------
    An SVG document whose width and height are in mm, one user unit to the millimetre.
    """
    sheets = drawings(plan)
    gap = 12.0
    length = max([d.length for d in sheets] + [150.0]) + 2 * EDGE
    height = sum(d.width + gap for d in sheets) + SQUARE + 2 * EDGE
    body, top = [], EDGE
    for d in sheets:
        body.append(_svg_text(EDGE, top - 4, 4, d.title, "LABEL", anchor="start"))
        body += [_svg_item(item, EDGE, top + d.width) for item in d.items]
        top += d.width + gap
    body += [_svg_item(item, EDGE, top + SQUARE) for item in _measuring_square()]
    return _svg_page(length, height, body)


def svg_pages(plan: Plan, paper: str = "A4") -> list[str]:
    """Draw the same pages as the PDF, each as an SVG document of the paper's size."""
    pages = []
    for page in _pages(plan, paper):
        body = [
            f'<clipPath id="tile"><rect x="{EDGE}" y="{EDGE}" width="{_n(page.across)}" '
            f'height="{_n(page.up)}"/></clipPath>',
            '<g clip-path="url(#tile)">',
            *(_svg_item(i, page.left, page.base) for i in page.items),
            "</g>",
            *(_svg_item(i, 0.0, page.height) for i in page.frame),
        ]
        pages.append(_svg_page(page.width, page.height, body))
    return pages


def pdf_bytes(plan: Plan, paper: str = "A4") -> bytes:
    """Print the plan at full size over as many pages as it takes, after a page to check the scale.

    Neighbouring pages share 10 mm, with dashed lines and crosses to lay them over each other.
    Names outside Latin-1 are printed with question marks.

    Parameters
    ----------
    plan
        From `calc.nesting.nest`.
    paper
        "A4" or "Letter".
    """
    pages = list(_pages(plan, paper))
    with warnings.catch_warnings():
        # It warns that no pictures can be placed when Pillow is missing; there are none.
        warnings.simplefilter("ignore")
        _without_ssl()
        from fpdf import FPDF

    pdf = FPDF(unit="mm", format=PAPERS[paper])
    pdf.set_auto_page_break(False)
    pdf.set_title("Cutting plan, full size")
    pdf.set_creator("Finstock")
    # Viewers that shrink to fit would spoil the scale; ask for none.
    pdf.viewer_preferences = _no_scaling()
    for page in pages:
        wide = page.width > page.height
        pdf.add_page(orientation="landscape" if wide else "portrait")
        with pdf.rect_clip(EDGE, EDGE, page.across, page.up):
            for item in page.items:
                _pdf_item(pdf, item, page.left, page.base)
        for item in page.frame:
            _pdf_item(pdf, item, 0.0, page.height)
    return bytes(pdf.output())


def dxf_bytes(plan: Plan, sheet: int | None = None) -> bytes:
    """Write the outlines for a laser cutter, in millimetres, cuts on the layer CUT.

    Parameters
    ----------
    plan
        From `calc.nesting.nest`.
    sheet
        Which sheet; None: all, one above the other.
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
            else:
                text = space.add_text(item.text, height=item.height, dxfattribs=look)
                text.set_placement((item.x, item.y + base), align=TextEntityAlignment.MIDDLE_CENTER)
        base += drawing.width + 20.0
    for item in _measuring_square():
        if isinstance(item, Line):
            points = [(x, y - SQUARE - 20.0) for x, y in item.points]
            space.add_lwpolyline(points, close=item.closed, dxfattribs={"layer": "SCALE"})
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode(document.output_encoding, errors="dxfreplace")


@dataclass(frozen=True)
class _Page:
    width: float
    height: float
    across: float  # size of the printed window
    up: float
    left: float  # where the drawing's x = 0 lies on the page
    base: float  # where the drawing's y = 0 lies, measured from the page's top
    items: tuple[Item, ...]
    frame: tuple[Item, ...]  # in page millimetres from the lower left corner


def _pages(plan: Plan, paper: str) -> Iterator[_Page]:
    if paper not in PAPERS:
        raise InputError("paper", paper, "A4 or Letter")
    tiles: list[tuple[Drawing, tuple[float, float], int, int, int, int]] = []
    for drawing in drawings(plan):
        options = []
        for size in (PAPERS[paper], PAPERS[paper][::-1]):
            across, up = size[0] - 2 * EDGE, size[1] - EDGE - FOOT
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
    yield _cover(plan, paper, total)
    for number, (drawing, size, column, columns, row, rows) in enumerate(tiles):
        across, up = size[0] - 2 * EDGE, size[1] - EDGE - FOOT
        x, y = column * (across - OVERLAP), row * (up - OVERLAP)
        foot = (
            f"{drawing.title}: column {column + 1} of {columns}, row {row + 1} of {rows}  -  "
            f"page {number + 2} of {total}"
        )
        frame = [
            Text(size[0] / 2, 8.0, 3.2, foot, "PAGE"),
            Line(((EDGE, 13.0), (EDGE + SQUARE, 13.0)), "SCALE"),
            Line(((EDGE, 12.0), (EDGE, 14.0)), "SCALE"),
            Line(((EDGE + SQUARE, 12.0), (EDGE + SQUARE, 14.0)), "SCALE"),
            Text(EDGE + SQUARE + 9.0, 13.0, 3.0, "50 mm", "SCALE"),
            *_overlap_marks(size, across, up, column, columns, row, rows),
        ]
        yield _Page(
            width=size[0],
            height=size[1],
            across=across,
            up=up,
            left=EDGE - x,
            base=size[1] - FOOT + y,
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
    left, right = EDGE, EDGE + across
    low, high = FOOT, FOOT + up
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


def _cover(plan: Plan, paper: str, total: int) -> _Page:
    width, height = PAPERS[paper]
    lines = [
        "Cutting plan, full size",
        "Print at 100 %, without fitting to the page. The square must measure 50 mm each way.",
        f"Pages overlap by {OVERLAP:.0f} mm: lay the crosses on each other.",
        "Double arrows show the grain; it runs along the sheet.",
        f"Sheets: {len(plan.sheets)}. Parts fill {100 * plan.area_yield:.0f} % of them. "
        f"Kerf {plan.kerf * 1000:.1f} mm, edge margin {plan.margin * 1000:.1f} mm.",
    ]
    for number, part in enumerate(plan.parts):
        placed = {p.copy for s in plan.sheets for p in s.placements if p.part == number}
        lines.append(f"{part.name}: {len(placed)} of {part.quantity}")
    for number, _, why in plan.unplaced:
        lines.append(f"{plan.parts[number].name}: not placed, {why}")
    lines += plan.notes
    wrapped = [piece for line in lines for piece in _wrapped(line, 88)]
    frame: list[Item] = [
        Text(width / 2, height - EDGE - 8 - 6 * k, 5.0 if k == 0 else 3.5, text, "SCALE")
        for k, text in enumerate(wrapped[:30])
    ]
    corner = (width / 2 - SQUARE / 2, FOOT + 10.0)
    for item in _measuring_square():
        if isinstance(item, Line):
            moved = tuple((x + corner[0], y + corner[1]) for x, y in item.points)
            frame.append(Line(moved, item.layer, item.closed))
        elif isinstance(item, Text):
            frame.append(
                Text(item.x + corner[0], item.y + corner[1], item.height, item.text, item.layer)
            )
    frame.append(Text(width / 2, 8.0, 3.2, f"page 1 of {total}", "PAGE"))
    return _Page(width, height, width - 2 * EDGE, height - EDGE - FOOT, 0, 0, (), tuple(frame))


def _measuring_square() -> list[Item]:
    return [
        Line(_box(0, 0, SQUARE, SQUARE), "SCALE", closed=True),
        Text(SQUARE / 2, SQUARE / 2 + 3, 4.0, "50 mm x 50 mm", "SCALE"),
        Text(SQUARE / 2, SQUARE / 2 - 3, 3.0, "measure before you cut", "SCALE"),
    ]


def _part(placement: Placement) -> list[Item]:
    """Draw one part: outline, holes, grain arrow, label, joint marks."""
    loop = _millimetres(placement.polygon)
    holes = [_millimetres(h) for h in placement.holes]
    items: list[Item] = []
    if placement.circles:
        items += [Circle(x * 1000, y * 1000, r * 1000, "CUT") for x, y, r in placement.circles]
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
    for mark, (a, b) in placement.joints:
        start, end = _millimetres((a, b))
        items += _joint(start, end, mark, middle)
    return items


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
    points = " ".join(f"{_n(x + left)},{_n(base - y)}" for x, y in item.points)
    return f'<{"polygon" if item.closed else "polyline"} points="{points}" {look}/>'


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
