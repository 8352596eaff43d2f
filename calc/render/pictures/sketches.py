"""Sketches that explain: a test strip, a log, a fin's edges, a root joint, ways to fail."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

from calc.render.pictures import texture
from calc.render.pictures.canvas import Canvas, Point, noise, polyline, smooth
from calc.render.pictures.fin import grain_arrow, tube_piece
from calc.render.values import with_unit
from calc.report import Figure

WIDTH = 360.0


def _quantity(data: Mapping[str, Any], key: str, kind: str, units: str, letter: str) -> str:
    value = data.get(key)
    return letter if value is None else f"{letter} {with_unit(float(value), kind, units)}"


def _weight(canvas: Canvas, x: float, y: float, text: str) -> None:
    canvas.line(x, y, x, y + 16, "line")
    outline = [(x - 9, y + 16), (x + 9, y + 16), (x + 13, y + 40), (x - 13, y + 40)]
    canvas.polygon(outline, "tube")
    canvas.polygon(outline, "ink")
    canvas.text(x, y + 55, text, "label", anchor="middle", halo=True)


def strip(figure: Figure, *, units: str, id: str) -> str:
    """Draw how a strip of sheet is tested: on a table edge, on two supports, tapped or twisted."""
    data = figure.data
    kind = str(data.get("kind", "cantilever"))
    length = _quantity(data, "length", "length", units, "length")
    sag = _quantity(data, "sag", "length", units, "sag")
    load = _quantity(data, "load", "mass", units, "load")
    words = {
        "cantilever": "A strip clamped on a table's edge, loaded at its free end; the sag is "
        "measured at the end.",
        "three-point": "A strip laid on two supports and loaded in the middle; the sag is "
        "measured there.",
        "tap": "A strip held by a thread a little in from each end, tapped in the middle.",
        "twist": "A square plate held up at two opposite corners and loaded at the other two.",
    }
    canvas = Canvas(
        WIDTH,
        206,
        id=id,
        title=figure.title,
        description=f"{words.get(kind, words['cantilever'])} {length}, {sag}, {load}.",
    )
    if kind == "three-point":
        left, right, level, dip = 44.0, 316.0, 74.0, 46.0
        points = [(left - 20 + (right - left + 40) * k / 14, 0.0) for k in range(15)]
        bent = [
            (x, level + dip * math.sin(math.pi * (x - left) / (right - left))) for x, _ in points
        ]
        for x in (left, right):
            canvas.polygon([(x, level + 3), (x + 11, level + 27), (x - 11, level + 27)], "tube")
            canvas.polygon([(x, level + 3), (x + 11, level + 27), (x - 11, level + 27)], "ink")
            canvas.line(x - 22, level + 27, x + 22, level + 27, "line")
        canvas.line(left, level, right, level, "dash")
        _board(canvas, bent, 7)
        middle = 0.5 * (left + right)
        _weight(canvas, middle, level + dip + 4, load)
        canvas.dimension(left, 40, right, 40, length, side=-1)
        for x in (left, right):
            canvas.line(x, 34, x, level - 8, "hair")
        canvas.dimension(middle, level, middle, level + dip - 4, "")
        canvas.text(middle + 8, level + 15, sag, halo=True)
    elif kind == "tap":
        left, right, level = 30.0, 330.0, 96.0
        bent = [(left + (right - left) * k / 14, level) for k in range(15)]
        swing = [
            (x, level + 16 * (math.cos(2 * math.pi * (x - left) / (right - left)) * 0.5 + 0.06))
            for x, _ in bent
        ]
        _board(canvas, bent, 7)
        canvas.path(smooth(swing), "dash")
        for share in (0.224, 0.776):
            x = left + share * (right - left)
            canvas.path(
                smooth([(x - 10, 20), (x - 2, 60), (x, level + 8), (x + 2, 60), (x + 10, 20)]),
                "line",
            )
            canvas.line(x, level + 12, x, 150, "hair")
        canvas.arrow(180, 46, 180, level - 8, "air", 8)
        canvas.text(188, 58, "tap here", "name")
        canvas.dimension(left, 164, right, 164, length)
        canvas.text(left + 4, 142, "threads 0.22 of the length from each end", "name", halo=True)
    elif kind == "twist":
        plate = [(70.0, 96.0), (206.0, 56.0), (300.0, 96.0), (160.0, 142.0)]
        texture.face(canvas, plate, "wood", -0.28)
        canvas.polygon(plate, "ink")
        for index in (0, 2):
            x, y = plate[index]
            canvas.line(x, y, x, y + 46, "ink")
            canvas.line(x - 14, y + 46, x + 14, y + 46, "line")
            canvas.text(x, y + 62, "held", "name", anchor="middle")
        for index in (1, 3):
            x, y = plate[index]
            canvas.arrow(
                x, y - 44 if index == 1 else y + 4, x, y - 4 if index == 1 else y + 44, "air", 8
            )
            canvas.text(x + 9, y - 26 if index == 1 else y + 36, load + " each", "label", halo=True)
        canvas.text(169, 194, sag, "label", halo=True)
    else:
        edge, tip, level, dip = 118.0, 250.0, 74.0, 44.0
        table = [(10.0, level + 8), (edge, level + 8), (edge, level + 34), (10.0, level + 34)]
        canvas.polygon(table, "tube")
        canvas.path(texture.hatch(table, math.pi / 4, 8), "hair")
        canvas.polygon(table, "line")
        canvas.line(30, level + 34, 30, 196, "line")
        canvas.line(42, level + 34, 42, 196, "line")
        points = [(24.0, level + 4), (60.0, level + 4), (edge - 4, level + 4)]
        for k in range(1, 13):
            s = k / 12
            points.append((edge + (tip - edge) * s, level + 4 + dip * (1.5 * s * s - 0.5 * s**3)))
        canvas.line(edge, level + 4, tip + 18, level + 4, "dash")
        _board(canvas, points, 7)
        block = [(66.0, level - 22), (edge - 2, level - 22), (edge - 2, level), (66.0, level)]
        texture.face(canvas, block, "wood", 0.0)
        canvas.polygon(block, "ink")
        canvas.arrow(92, 22, 92, level - 24, "line", 8)
        canvas.text(100, 34, "clamp", "name")
        _weight(canvas, tip - 4, level + dip + 6, load)
        canvas.dimension(edge, 44, tip - 4, 44, length, side=-1)
        canvas.line(edge, 38, edge, level - 24, "hair")
        canvas.line(tip - 4, 38, tip - 4, level, "hair")
        x = tip + 10
        canvas.line(tip, level + 4 + dip, x + 6, level + 4 + dip, "hair")
        canvas.dimension(x, level + 4, x, level + 4 + dip, sag)
    return canvas.svg()


def _board(canvas: Canvas, points: list[Point], thick: float) -> None:
    """Draw a thin board along a curve, its underside following."""
    upper = [(x, y - thick / 2) for x, y in points]
    lower = [(x, y + thick / 2) for x, y in points]
    canvas.path(polyline([*upper, *reversed(lower)], close=True), "wood")
    canvas.path(smooth(points), "grain-late")
    canvas.path(polyline([*upper, *reversed(lower)], close=True), "line")


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
        352,
        id=id,
        title=figure.title or "How a sheet is sawn from the log",
        description="End of a log with growth rings. A sheets lie along the rings, C sheets "
        "across them, from heart to bark, B sheets in between. Below, the end of each sheet: in A "
        "the rings run along its width, in B they slant, in C they stand upright. "
        + figure.caption,
    )
    cx, cy, radius = 180.0, 108.0, 98.0
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
    thick = 9.0
    for name, angle, distance, turn in (
        ("A", -math.pi / 2, 72.0, 0.0),
        ("B", math.radians(38), 62.0, math.radians(38 + 45)),
        ("C", math.pi, 52.0, 0.0),
    ):
        mx, my = cx + distance * math.cos(angle), cy + distance * math.sin(angle)
        ux, uy = math.cos(turn), math.sin(turn)
        box = []
        for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
            a, b = sx * 35.0, sy * thick / 2
            box.append((mx + a * ux - b * uy, my + a * uy + b * ux))
        canvas.polygon(box, "sheet")
        canvas.polygon(box, "ink")
        lift = {"A": (0.0, -9.0), "B": (14.0, -6.0), "C": (0.0, -9.0)}[name]
        canvas.text(mx + lift[0], my + lift[1], name, "strong", anchor="middle", halo=True)
    for index, (name, words) in enumerate(
        (
            ("A", ("along the rings", "bends easily")),
            ("B", ("in between", "middling")),
            ("C", ("across the rings", "stiff, flecked")),
        )
    ):
        x, y, wide, high = 12 + index * 116.0, 240.0, 104.0, 26.0
        frame = [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]
        canvas.polygon(frame, "wood")
        canvas.begin_clip(polyline(frame, close=True))
        if name == "A":
            arcs = [
                smooth(
                    [(x + wide * k / 8, y + 5 + 7 * row + 5 * ((k - 4) / 4) ** 2) for k in range(9)]
                )
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
    canvas.text(12, 340, "each sheet seen from its end; its length runs into the page", "name")
    return canvas.svg()


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
    canvas.text(55, 36, "body tube", "name", anchor="middle", halo=True)
    canvas.arrow(55, 78, 55, 48, "line", 7)
    canvas.text(55, 94, "to the nose", "name", anchor="middle", halo=True)
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
    cx, wall_y, radius, wall = 180.0, 150.0, 230.0, 12.0
    cy = wall_y + radius

    def arc(r: float, reach: float) -> list[Point]:
        half = math.asin(min(0.98, reach / r))
        return [
            (
                cx + r * math.sin(-half + 2 * half * k / 24),
                cy - r * math.cos(-half + 2 * half * k / 24),
            )
            for k in range(25)
        ]

    outer, inside = arc(radius, 164), arc(radius - wall, 160)
    canvas.path(polyline([*outer, *reversed(inside)], close=True), "paper")
    canvas.path(smooth(outer) + smooth(inside), "line")
    if inner:
        motor_outer, motor_inner = arc(radius - 92, 120), arc(radius - 102, 112)
        canvas.path(polyline([*motor_outer, *reversed(motor_inner)], close=True), "paper")
        canvas.path(smooth(motor_outer) + smooth(motor_inner), "line")
        canvas.text(cx + 60, wall_y + 90, "inner tube", "name", halo=True)
    half = 13.0
    foot = wall_y + 92 if tab and inner else wall_y + 52 if tab else wall_y
    fin_box = [(cx - half, 12.0), (cx + half, 12.0), (cx + half, foot), (cx - half, foot)]
    if has_fillet:
        size = 30.0
        for side in (-1, 1):
            hollow = []
            for k in range(9):
                reach = half + size * (1 - math.sin(math.pi * k / 16))
                drop = radius - math.sqrt(radius**2 - reach**2)
                lift = size * (1 - math.cos(math.pi * k / 16))
                hollow.append((cx + side * reach, wall_y + drop * (1 - k / 8) - lift))
            foot_arc = [
                (cx + side * r, wall_y + radius - math.sqrt(radius**2 - r**2))
                for r in (half, half + size / 2)
            ]
            canvas.path(polyline([*foot_arc, *hollow], close=True), "fillet")
    texture.face(canvas, fin_box, "wood", math.pi / 2)
    canvas.polygon(fin_box, "ink")
    canvas.path(polyline([(cx - half, foot), (cx + half, foot)]), "glue")
    if tab:
        for side in (-1, 1):
            x = cx + side * half
            canvas.line(x, wall_y, x, wall_y + wall, "glue")
    canvas.line(cx + half, 40, cx + 66, 40, "hair")
    canvas.text(cx + 70, 44, "fin", "label")
    if data.get("thickness") is not None:
        canvas.text(cx + 70, 60, with_unit(float(data["thickness"]), "length", units), "small")
    canvas.line(outer[3][0] + 6, outer[3][1], 62, 118, "hair")
    canvas.text(16, 112, "tube wall", "label")
    if data.get("wall") is not None:
        canvas.text(16, 98, with_unit(float(data["wall"]), "length", units), "small")
    if has_fillet:
        canvas.line(cx + half + 9, wall_y - 8, cx + 74, wall_y - 42, "hair")
        text = "fillet" if fillet is None else f"fillet {with_unit(float(fillet), 'length', units)}"
        canvas.text(cx + 78, wall_y - 40, text, "label")
    if tab:
        canvas.line(cx - half + 4, foot - 22, cx - 56, foot - 8, "hair")
        canvas.text(cx - 60, foot - 2, "through-wall tab", "label", anchor="end", halo=True)
    else:
        canvas.line(cx, wall_y + 3, cx, wall_y + 44, "hair")
        canvas.text(cx, wall_y + 58, "glue line (edge joint)", "label", anchor="middle")
    return canvas.svg()


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


def _small_fin(x: float, y: float) -> list[Point]:
    return [(x - 34, y + 6), (x + 34, y + 40), (x + 34, y + 78), (x - 34, y + 70)]


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
    outline = _small_fin(x, y)
    texture.face(canvas, outline, "wood", 0.46)
    canvas.polygon(outline, "ink")
    canvas.path(
        polyline([(x + 8, y + 27), (x + 12, y + 46), (x + 18, y + 52), (x + 20, y + 76)]), "glue"
    )
    thumb = [
        (x + 62, y + 34),
        (x + 46, y + 40),
        (x + 28, y + 48),
        (x + 24, y + 56),
        (x + 32, y + 61),
        (x + 48, y + 58),
        (x + 64, y + 56),
    ]
    canvas.path(smooth(thumb), "sheet")
    canvas.path(smooth(thumb), "line")


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
    _board(canvas, curve, 7)
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
    pitch_x, pitch_y = WIDTH / columns, 142.0
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
        canvas.text(x + 12, y + 112, title, "strong", halo=True)
        canvas.text(x + 12, y + 127, words, "small", halo=True)
    return canvas.svg()
