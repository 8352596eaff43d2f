"""Sketches that explain: a log, a fin's edges, a root joint, ways to fail."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from calc.render.svg import texture
from calc.render.svg.axes import WIDTH
from calc.render.svg.canvas import Canvas, Point, noise, polyline, smooth
from calc.render.svg.fin import grain_arrow, tube_piece
from calc.render.svg.strip import board
from calc.report import Figure
from calc.wording import with_unit


def _rings(cx: float, cy: float, radius: float, count: int) -> list[str]:
    """Return growth rings round a pith, a little out of true as trees grow."""
    rings = []
    for index in range(1, count + 1):
        r0 = radius * (index - 0.35 * noise(index, 83)) / count
        points = []
        for k in range(37):
            a = 2 * math.pi * (k % 36) / 36
            r = r0 * (1 + 0.022 * math.sin(2 * a + 0.7) + 0.016 * math.sin(3 * a + 0.15 * index))
            points.append((cx + r * math.cos(a), cy + r * math.sin(a)))
        rings.append(polyline(points, close=True))
    return rings


def log(figure: Figure, *, units: str, id: str) -> str:
    """Draw a log's end and where A, B and C sheets come from, each sheet's end shown large."""
    canvas = Canvas(
        WIDTH,
        368,
        id=id,
        title=figure.title or "How a sheet is sawn from the log",
        description="End of a log with growth rings. A sheets lie along the rings, C sheets "
        "across them, from heart to bark, B sheets in between. Below, the end of each sheet: in A "
        "the rings run along its width, in B they slant, in C they stand upright. "
        + figure.caption,
    )
    _log_end(canvas, 180.0, 108.0, 98.0)
    for name, angle, distance, turn, lift in SAWN:
        x, y = 180.0 + distance * math.cos(angle), 108.0 + distance * math.sin(angle)
        _sheet_end(canvas, x, y, turn)
        canvas.text(x + lift[0], y + lift[1], name, "strong", anchor="middle", halo=True)
    for index, (name, words) in enumerate(CUTS.items()):
        _cut(canvas, 12 + index * 116.0, 240.0, name, words)
    canvas.text(12, 340, "each sheet seen from its end; its length runs into the page;", "name")
    canvas.text(12, 356, "the lines are growth rings", "name")
    return canvas.svg()


SAWN = (
    ("A", -math.pi / 2, 72.0, 0.0, (0.0, -9.0)),
    ("B", math.radians(38), 62.0, math.radians(38 + 45), (14.0, -6.0)),
    ("C", math.pi, 52.0, 0.0, (0.0, -9.0)),
)
"""Cut, direction and distance from the log's heart, slope of the sheet, place of its letter."""
CUTS = {
    "A": ("along the rings", "bends easily"),
    "B": ("in between", "middling"),
    "C": ("across the rings", "stiff, flecked"),
}


def _log_end(canvas: Canvas, cx: float, cy: float, radius: float) -> None:
    """Draw the end of a log: growth rings, rays and heart."""
    rings = _rings(cx, cy, radius, 13)
    canvas.path(rings[-1], "wood")
    canvas.path("".join(rings[:-1]), "grain-late")
    rays = [
        polyline(
            [
                (cx + 10 * math.cos(a), cy + 10 * math.sin(a)),
                (cx + (radius - 4) * math.cos(a), cy + (radius - 4) * math.sin(a)),
            ]
        )
        for a in (2 * math.pi * (k + 0.4 * noise(k, 89)) / 22 for k in range(22))
    ]
    canvas.path("".join(rays), "grain")
    canvas.path(rings[-1], "ink")
    canvas.circle(cx, cy, 2.4, "mark")


def _sheet_end(canvas: Canvas, x: float, y: float, turn: float) -> None:
    """Draw where a sheet lies in the log, seen from its end."""
    ux, uy = math.cos(turn), math.sin(turn)
    box = []
    for along, across in ((-35.0, -4.5), (35.0, -4.5), (35.0, 4.5), (-35.0, 4.5)):
        box.append((x + along * ux - across * uy, y + along * uy + across * ux))
    canvas.polygon(box, "sheet")
    canvas.polygon(box, "ink")


def _cut(canvas: Canvas, x: float, y: float, name: str, words: tuple[str, ...]) -> None:
    """Draw the end of a sheet, enlarged, with the rings as its cut shows them."""
    wide, high = 104.0, 26.0
    frame = [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]
    canvas.polygon(frame, "wood")
    canvas.begin_clip(polyline(frame, close=True))
    if name == "A":
        arcs = [
            smooth([(x + wide * k / 8, y + 5 + 7 * row + 5 * ((k - 4) / 4) ** 2) for k in range(9)])
            for row in range(-1, 4)
        ]
        canvas.path("".join(arcs), "grain-late")
    elif name == "B":
        canvas.path(texture.hatch(frame, math.pi / 4, 8, jitter=0.5), "grain-late")
    else:
        canvas.path(texture.hatch(frame, math.radians(87), 8, jitter=0.5), "grain-late")
        canvas.path(texture.flecks(frame, math.pi / 2, count=16), "grain")
    canvas.end()
    canvas.polygon(frame, "ink")
    canvas.text(x, y - 9, f"{name} sheet", "strong")
    for row, text in enumerate(words):
        canvas.text(x, y + high + 17 + 15 * row, text, "small")


def edges(figure: Figure, *, units: str, id: str) -> str:
    """Draw a fin with the name of every part that the handbook speaks of."""
    canvas = Canvas(
        WIDTH,
        372,
        id=id,
        title=figure.title or "The names of a fin's parts",
        description="A fin on its tube, nose up. The root edge is glued to the tube, the tip edge "
        "lies farthest out, the leading edge meets the air first, the trailing edge last. Chord "
        "is a length along the tube, span is measured out from it, sweep is how far the tip lies "
        "behind the root. The grain here runs along the leading edge. " + figure.caption,
    )
    x0, top = 96.0, 66.0
    outline: list[Point] = [(x0, top), (266.0, 176.0), (266.0, 282.0), (x0, 262.0)]
    tube_piece(canvas, 14, x0, 10, 330)
    canvas.arrow(55, 42, 55, 18, "line", 7)
    canvas.text(55, 57, "to the nose", "name", anchor="middle", halo=True)
    canvas.text(55, 296, "body tube", "name", anchor="middle", halo=True)
    angle = math.atan2(176 - top, 266 - x0)
    texture.face(canvas, outline, "wood", angle)
    canvas.polygon(outline, "ink")
    for shift in (-9, 0, 9):
        canvas.arrow(236 + shift, 22, 236 + shift, 52 + (0 if shift else 6), "air", 6)
    canvas.text(254, 40, "air", "name")
    middle = (0.5 * (x0 + 266), 0.5 * (top + 176))
    canvas.text(
        middle[0] + 9 * math.sin(angle),
        middle[1] - 9 * math.cos(angle),
        "leading edge",
        "strong",
        anchor="middle",
        turn=math.degrees(angle),
        halo=True,
    )
    lean = math.degrees(math.atan2(20, 266 - x0))
    canvas.text(188, 292, "trailing edge", "strong", anchor="middle", turn=lean, halo=True)
    canvas.begin("on-wood")
    canvas.text(x0 + 16, 176, "root edge", "strong", anchor="middle", turn=-90, halo=True)
    canvas.text(258, 232, "tip edge", "strong", anchor="middle", turn=-90, halo=True)
    grain_arrow(
        canvas, [(x0 + 30, top + 40), (250, 190), (250, 270), (x0 + 30, 250)], angle, "grain"
    )
    canvas.end()
    canvas.dimension(x0 - 18, top, x0 - 18, 262, "root chord", side=-1, upright=False)
    for y in (top, 262.0):
        canvas.line(x0 - 24, y, x0, y, "hair")
    canvas.line(x0 + 4, top, 292, top, "hair")
    for y in (176.0, 282.0):
        canvas.line(270, y, 292, y, "hair")
    canvas.dimension(286, top, 286, 176, "sweep")
    canvas.dimension(286, 176, 286, 282, "tip chord")
    canvas.line(266, 286, 266, 324, "hair")
    canvas.dimension(x0, 318, 266, 318, "span")
    canvas.text(12, 362, "chord: a length along the tube, edge to edge", "name")
    return canvas.svg()


def joint(figure: Figure, *, units: str, id: str) -> str:
    """Draw a root joint seen along the tube: wall, fin, fillets and the tab if there is one."""
    data = figure.data
    tab = bool(data.get("tab"))
    fillet = data.get("fillet")
    has_fillet = fillet is None or float(fillet) > 0
    inner = bool(data.get("inner", tab))
    canvas = Canvas(
        WIDTH,
        290,
        id=id,
        title=figure.title or "The root joint",
        description="The joint seen along the tube: the fin stands on the tube's wall"
        + (", its tab goes through the wall" if tab else "")
        + (" down to the inner tube" if tab and inner else "")
        + (", a fillet of glue on both sides" if has_fillet else "")
        + f". {figure.caption}",
    )
    _walls(canvas, inner=inner)
    foot = WALL_Y + 92 if tab and inner else WALL_Y + 52 if tab else WALL_Y
    fin_box = [(CX - HALF, 12.0), (CX + HALF, 12.0), (CX + HALF, foot), (CX - HALF, foot)]
    if has_fillet:
        for side in (-1, 1):
            _fillet(canvas, side)
    texture.face(canvas, fin_box, "wood", math.pi / 2)
    canvas.polygon(fin_box, "ink")
    canvas.path(polyline([(CX - HALF, foot), (CX + HALF, foot)]), "glue")
    if tab:
        for side in (-1, 1):
            x = CX + side * HALF
            canvas.line(x, WALL_Y, x, WALL_Y + WALL, "glue")
    sizes = {
        name: "" if data.get(name) is None else with_unit(float(data[name]), "length", units)
        for name in ("thickness", "wall", "fillet")
    }
    _joint_names(canvas, sizes, fillet=has_fillet)
    if tab:
        canvas.line(CX - HALF + 4, foot - 22, CX - 56, foot - 8, "hair")
        canvas.text(CX - 60, foot - 2, "through-wall tab", "label", anchor="end", halo=True)
    else:
        canvas.line(CX, WALL_Y + 3, CX, WALL_Y + 44, "hair")
        canvas.text(CX, WALL_Y + 58, "glue line (edge joint)", "label", anchor="middle")
    return canvas.svg()


CX, WALL_Y = 180.0, 150.0
"""Where the fin's middle meets the outside of the tube."""
RADIUS, WALL = 230.0, 12.0
"""Outer radius and wall of the tube, as drawn."""
HALF = 13.0
"""Half of the fin's thickness, as drawn."""


def _tube_arc(r: float, reach: float) -> list[Point]:
    """Return the top of a circle about the tube's middle, as far as `reach` to both sides."""
    half = math.asin(min(0.98, reach / r))
    turns = [-half + 2 * half * k / 24 for k in range(25)]
    return [(CX + r * math.sin(a), WALL_Y + RADIUS - r * math.cos(a)) for a in turns]


def _walls(canvas: Canvas, *, inner: bool) -> None:
    """Draw the tube's wall, and the inner tube's below it."""
    outer, inside = _tube_arc(RADIUS, 164), _tube_arc(RADIUS - WALL, 160)
    canvas.path(polyline([*outer, *reversed(inside)], close=True), "paper")
    canvas.path(smooth(outer) + smooth(inside), "line")
    if inner:
        motor_outer, motor_inner = _tube_arc(RADIUS - 92, 120), _tube_arc(RADIUS - 102, 112)
        canvas.path(polyline([*motor_outer, *reversed(motor_inner)], close=True), "paper")
        canvas.path(smooth(motor_outer) + smooth(motor_inner), "line")
        canvas.text(CX + 60, WALL_Y + 90, "inner tube", "name", halo=True)


def _fillet(canvas: Canvas, side: int) -> None:
    """Draw a hollow fillet between fin and tube, on the right (1) or the left (-1)."""
    size = 30.0
    hollow = []
    for k in range(9):
        reach = HALF + size * (1 - math.sin(math.pi * k / 16))
        drop = RADIUS - math.sqrt(RADIUS**2 - reach**2)
        lift = size * (1 - math.cos(math.pi * k / 16))
        hollow.append((CX + side * reach, WALL_Y + drop * (1 - k / 8) - lift))
    foot_arc = [
        (CX + side * r, WALL_Y + RADIUS - math.sqrt(RADIUS**2 - r**2))
        for r in (HALF, HALF + size / 2)
    ]
    canvas.path(polyline([*foot_arc, *hollow], close=True), "fillet")


def _joint_names(canvas: Canvas, sizes: Mapping[str, str], *, fillet: bool) -> None:
    """Name the parts of a joint, with their sizes where those are known."""
    canvas.line(CX + HALF, 40, CX + 66, 40, "hair")
    canvas.text(CX + 70, 44, "fin", "label")
    if sizes["thickness"]:
        canvas.text(CX + 70, 60, sizes["thickness"], "small")
    wall = _tube_arc(RADIUS, 164)[3]
    canvas.line(wall[0] + 6, wall[1], 62, 118, "hair")
    canvas.text(16, 112, "tube wall", "label")
    if sizes["wall"]:
        canvas.text(16, 98, sizes["wall"], "small")
    if fillet:
        canvas.line(CX + HALF + 9, WALL_Y - 8, CX + 74, WALL_Y - 42, "hair")
        canvas.text(CX + 78, WALL_Y - 40, f"fillet {sizes['fillet']}".rstrip(), "label")


def _end_on(canvas: Canvas, x: float, y: float) -> None:
    """Draw the tube's end as a stub below a fin seen from behind."""
    arc = [
        (x + 34 * math.sin(math.radians(a)), y + 34 - 34 * math.cos(math.radians(a)))
        for a in range(-50, 51, 10)
    ]
    canvas.path(smooth(arc), "line")


def _upright(canvas: Canvas, points: list[Point], kind: str = "ink") -> None:
    canvas.path(smooth(points), kind)


def _flutter(canvas: Canvas, x: float, y: float) -> None:
    _end_on(canvas, x, y + 78)
    for sway, kind in ((-22.0, "hair"), (22.0, "hair"), (0.0, "dash")):
        _upright(
            canvas,
            [(x + sway * (k / 6) ** 2, y + 78 - 11.5 * k) for k in range(7)],
            kind,
        )
    for sway, lean in ((-22.0, 9.0), (22.0, -9.0)):
        canvas.line(x + sway - 9, y + 9 + lean / 2, x + sway + 9, y + 9 - lean / 2, "ink")
    canvas.arrow(x + 4, y + 26, x + 30, y + 26, "line", 6)
    canvas.arrow(x - 4, y + 26, x - 30, y + 26, "line", 6)


def _divergence(canvas: Canvas, x: float, y: float) -> None:
    _end_on(canvas, x, y + 78)
    _upright(canvas, [(x, y + 78 - 11.5 * k) for k in range(7)], "dash")
    _upright(canvas, [(x + 40 * (k / 6) ** 2.2, y + 78 - 10.4 * k) for k in range(7)])
    for k in (2, 4, 6):
        level = y + 78 - 10.4 * k
        canvas.arrow(x - 44, level, x - 16 + 40 * (k / 6) ** 2.2 - 4, level, "air", 6)


def _bending(canvas: Canvas, x: float, y: float) -> None:
    _end_on(canvas, x, y + 78)
    canvas.line(x, y + 78, x - 1, y + 68, "ink")
    crack = [(x - 6, y + 70), (x - 1, y + 66), (x + 2, y + 70), (x + 7, y + 65)]
    canvas.path(polyline(crack), "glue")
    canvas.line(x + 3, y + 64, x + 34, y + 10, "ink")
    canvas.arrow(x - 26, y + 30, x + 12, y + 30, "air", 6)


def _peel(canvas: Canvas, x: float, y: float) -> None:
    _end_on(canvas, x, y + 78)
    canvas.line(x - 9, y + 77, x + 4, y + 77, "glue")
    canvas.line(x - 4, y + 72, x + 26, y + 8, "ink")
    canvas.line(x - 2, y + 73, x + 28, y + 9, "ink")
    canvas.path(smooth([(x - 14, y + 62), (x - 20, y + 50), (x - 16, y + 38)]), "line")
    canvas.arrow_head(x - 15, y + 34, -1.2, "solid", 7)


def _landing(canvas: Canvas, x: float, y: float) -> None:
    tilted = [(x - 40, y + 8), (x + 6, y + 20), (x + 20, y + 58), (x - 16, y + 56)]
    texture.face(canvas, tilted, "wood", 0.6)
    canvas.polygon(tilted, "ink")
    chip = [(x + 24, y + 66), (x + 38, y + 62), (x + 32, y + 76)]
    canvas.polygon(chip, "wood")
    canvas.polygon(chip, "ink")
    canvas.path(
        polyline([(x + 6, y + 58), (x + 14, y + 50), (x + 16, y + 58), (x + 22, y + 52)]), "glue"
    )
    canvas.line(x - 64, y + 80, x + 64, y + 80, "line")
    for k in range(9):
        canvas.line(x - 60 + 15 * k, y + 80, x - 66 + 15 * k, y + 87, "hair")
    canvas.arrow(x - 54, y + 20, x - 54, y + 56, "line", 7)


def _handling(canvas: Canvas, x: float, y: float) -> None:
    """Draw the fin from behind: the thumb pushes its face sideways, and the root breaks."""
    _end_on(canvas, x, y + 78)
    canvas.line(x, y + 78, x - 1, y + 69, "ink")
    crack = [(x - 6, y + 71), (x - 1, y + 67), (x + 2, y + 71), (x + 7, y + 66)]
    canvas.path(polyline(crack), "glue")
    _upright(canvas, [(x + 3, y + 65), (x + 6, y + 50), (x + 13, y + 34), (x + 24, y + 14)])
    thumb = [
        (x - 62, y + 8),
        (x - 36, y + 8),
        (x - 8, y + 10),
        (x + 14, y + 12),
        (x + 20, y + 20),
        (x + 12, y + 27),
        (x - 12, y + 30),
        (x - 36, y + 36),
        (x - 62, y + 38),
    ]
    canvas.path(smooth(thumb), "sheet")
    canvas.path(smooth(thumb), "line")
    canvas.path(smooth([(x + 4, y + 14), (x + 12, y + 15), (x + 15, y + 20)]), "hair")
    canvas.arrow(x + 32, y + 48, x + 58, y + 48, "line", 6)


def _crushing(canvas: Canvas, x: float, y: float) -> None:
    texture.layer(canvas, x - 56, y + 30, 112, 26, "foam", None)
    dent = [
        (x - 56, y + 30),
        (x - 20, y + 30),
        (x - 10, y + 40),
        (x, y + 43),
        (x + 10, y + 40),
        (x + 20, y + 30),
        (x + 56, y + 30),
    ]
    canvas.path(polyline([(x - 18, y + 29), (x + 18, y + 29), (x, y + 44)], close=True), "sheet")
    canvas.path(smooth(dent), "ink")
    canvas.line(x - 56, y + 56, x + 56, y + 56, "ink")
    canvas.circle(x, y + 21, 21, "line")
    canvas.arrow(x, y + 2, x, y + 30, "line", 7)


def _moisture(canvas: Canvas, x: float, y: float) -> None:
    canvas.line(x - 58, y + 66, x + 58, y + 66, "dash")
    curve = [(x - 58 + 116 * k / 8, y + 66 - 26 * (1 - ((k - 4) / 4) ** 2)) for k in range(9)]
    board(canvas, curve, 7)
    for k in (-34, 0, 34):
        lift = 0 if k == 0 else 8
        drop = [
            (x + k, y + 2 + lift),
            (x + k + 5, y + 12 + lift),
            (x + k, y + 17 + lift),
            (x + k - 5, y + 12 + lift),
        ]
        canvas.path(polyline(drop, close=True), "air")


FAILURES: Mapping[str, tuple[str, str, Callable[[Canvas, float, float], None]]] = {
    "flutter": ("Flutter", "shakes itself apart", _flutter),
    "divergence": ("Divergence", "air bends it over", _divergence),
    "bending": ("Bending", "snaps near the root", _bending),
    "joint": ("Root joint", "glue lets go", _peel),
    "landing": ("Landing", "a corner takes the blow", _landing),
    "handling": ("Handling", "a thumb on the tip", _handling),
    "crushing": ("Crushing", "core loses thickness", _crushing),
    "moisture": ("Damp", "cups or warps", _moisture),
}
"""Ways a fin fails: name, one line, sketch."""


def failures(figure: Figure, *, units: str, id: str) -> str:
    """Draw small pictures of the ways fins fail; `items` picks some of `FAILURES`."""
    chosen = [name for name in figure.data.get("items", FAILURES) if name in FAILURES]
    columns = 2
    pitch_x, pitch_y = WIDTH / columns, 148.0
    rows = math.ceil(len(chosen) / columns)
    canvas = Canvas(
        WIDTH,
        rows * pitch_y,
        id=id,
        title=figure.title or "How fins fail",
        description="; ".join(f"{FAILURES[n][0]}: {FAILURES[n][1]}" for n in chosen)
        + f". {figure.caption}",
    )
    for index, name in enumerate(chosen):
        x, y = (index % columns) * pitch_x, (index // columns) * pitch_y
        title, words, sketch = FAILURES[name]
        canvas.rect(x + 3, y + 3, pitch_x - 6, pitch_y - 8, "grid", 4)
        sketch(canvas, x + pitch_x / 2, y + 10)
        canvas.text(x + 12, y + 118, title, "strong", halo=True)
        canvas.text(x + 12, y + 133, words, "small", halo=True)
    return canvas.svg()
