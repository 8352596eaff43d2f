"""A fin to scale on a piece of tube, and the shape it takes when it vibrates."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from calc.render.pictures import texture
from calc.render.pictures.canvas import (
    Canvas,
    Point,
    noise,
    polyline,
    smooth,
    span_inside,
    text_width,
)
from calc.render.values import with_unit
from calc.report import Figure

WIDTH = 360.0
MAGNIFICATIONS = (1, 2, 3, 4, 5, 8, 10, 15, 20, 30, 50)


def edge_of(data: Mapping[str, Any]) -> tuple[str, float]:
    """Return an edge's kind and fraction from "square" or {"kind": …, "fraction": …}."""
    edge = data.get("edge") or "square"
    if isinstance(edge, str):
        return edge, 0.2
    return str(edge.get("kind", "square")), float(edge.get("fraction") or 0.2)


def profile(kind: str, fraction: float, chord: float, thickness: float) -> list[Point]:
    """Return the outline of a section in drawing units, leading edge at the origin."""
    half = thickness / 2
    if kind == "rounded":
        r = min(half, chord / 4)
        turn = [math.pi * k / 8 for k in range(9)]
        left = [(r - r * math.sin(a), -half * math.cos(a)) for a in reversed(turn)]
        right = [(chord - r + r * math.sin(a), -half * math.cos(a)) for a in turn]
        return left + right
    if kind == "tapered":
        bevel = min(max(fraction, 0.02), 0.5) * chord
        lip = half * 0.12
        return [
            (0, lip),
            (0, -lip),
            (bevel, -half),
            (chord - bevel, -half),
            (chord, -lip),
            (chord, lip),
            (chord - bevel, half),
            (bevel, half),
        ]
    if kind == "airfoil":
        peak = min(max(fraction, 0.2), 0.6)
        upper = []
        for k in range(17):
            s = 0.5 * (1 - math.cos(math.pi * k / 16))
            if s <= peak:
                height = math.sqrt(max(0.0, 1 - (1 - s / peak) ** 2))
            else:
                height = 1 - ((s - peak) / (1 - peak)) ** 1.7
            upper.append((s * chord, -half * max(height, 0.04 if s > peak else 0.0)))
        return upper + [(x, -y) for x, y in reversed(upper)]
    return [(0, -half), (chord, -half), (chord, half), (0, half)]


def _break_edge(x1: float, x2: float, y: float, key: int) -> list[Point]:
    return [(x1 + (x2 - x1) * k / 6, y + 3.2 * (noise(key, k) - 0.5) * 2) for k in range(7)]


def tube_piece(canvas: Canvas, left: float, right: float, top: float, bottom: float) -> None:
    """Draw a piece of tube, torn off at both ends, with the shading of a cylinder."""
    upper = _break_edge(left, right, top, 71)
    lower = _break_edge(left, right, bottom, 73)
    shape = polyline([*upper, *reversed(lower)], close=True)
    canvas.path(shape, "tube")
    canvas.begin_clip(shape)
    for share in (0.03, 0.08, 0.15, 0.86, 0.93, 0.97):
        x = left + share * (right - left)
        canvas.line(x, top - 4, x, bottom + 4, "hair")
    canvas.end()
    canvas.path(smooth(upper) + smooth(lower), "hair")
    canvas.line(right, upper[-1][1], right, lower[-1][1], "line")
    canvas.line(left, upper[0][1], left, lower[0][1], "line")


def grain_arrow(canvas: Canvas, polygon: Sequence[Point], angle: float, text: str) -> None:
    """Draw the double arrow that tells the grain's direction, in the middle of a shape."""
    cx = sum(x for x, _ in polygon) / len(polygon)
    cy = sum(y for _, y in polygon) / len(polygon)
    ux, uy = math.cos(angle), math.sin(angle)
    inside = span_inside(polygon, (cx, cy), (ux, uy)) or (-30.0, 30.0)
    half = max(16.0, min(46.0, 0.62 * min(-inside[0], inside[1])))
    canvas.begin("arrow")
    canvas.line(cx - half * ux, cy - half * uy, cx + half * ux, cy + half * uy, "ink")
    canvas.arrow_head(cx + half * ux, cy + half * uy, angle, "solid", 10)
    canvas.arrow_head(cx - half * ux, cy - half * uy, angle + math.pi, "solid", 10)
    canvas.end()
    turn = math.degrees(math.remainder(angle, math.pi))
    if turn > 89.9:
        turn -= 180
    radians = math.radians(turn)
    canvas.text(
        cx + 8 * math.sin(radians),
        cy - 8 * math.cos(radians),
        text,
        "strong",
        anchor="middle",
        turn=turn,
        halo=True,
    )


def _edge_name(canvas: Canvas, start: Point, end: Point, text: str, offset: float) -> None:
    """Letter the name of an edge along it, `offset` to its right-hand side (seen on screen)."""
    length = math.hypot(end[0] - start[0], end[1] - start[1])
    if length < text_width(text, "name") * 0.9:
        return
    angle = math.atan2(end[1] - start[1], end[0] - start[0])
    x = (start[0] + end[0]) / 2 - offset * math.sin(angle)
    y = (start[1] + end[1]) / 2 + offset * math.cos(angle)
    canvas.text(x, y, text, "name", anchor="middle", turn=math.degrees(angle), halo=True)


def _magnify(thickness: float) -> int:
    for factor in MAGNIFICATIONS:
        if thickness * factor >= 8:
            return factor
    return MAGNIFICATIONS[-1]


def section(
    canvas: Canvas,
    x: float,
    y: float,
    chord: float,
    thickness: float,
    data: Mapping[str, Any],
    turn: float,
) -> None:
    """Draw a fin's section with the chord along the page, centred on height `y`."""
    kind, fraction = edge_of(data)
    look = str(data.get("look", "wood"))
    outline = [(x + px, y + py) for px, py in profile(kind, fraction, chord, thickness)]
    shape = polyline(outline, close=True)
    half = thickness / 2
    canvas.path(shape, look)
    canvas.begin_clip(shape)
    if look in ("wood", "plastic"):
        texture.layer(canvas, x, y - half, chord, thickness, look, turn)
    elif look in ("ply", "laminate", "paper"):
        plies = int(data.get("plies") or (3 if look == "ply" else 4))
        for index in range(plies):
            level = y - half + thickness * index / plies
            lean = None if look == "paper" else turn + (math.pi / 2 if index % 2 else 0)
            texture.layer(canvas, x, level, chord, thickness / plies, look, lean)
            if index:
                canvas.line(x, level, x + chord, level, "hair")
    else:
        liner = max(1.2, 0.12 * thickness)
        texture.layer(canvas, x, y - half, chord, thickness, "foam", None)
        canvas.rect(x, y - half, chord, liner, "paper")
        canvas.rect(x, y + half - liner, chord, liner, "paper")
        canvas.line(x, y - half + liner, x + chord, y - half + liner, "hair")
        canvas.line(x, y + half - liner, x + chord, y + half - liner, "hair")
    canvas.end()
    canvas.path(shape, "line")


def fin(figure: Figure, *, units: str, id: str) -> str:
    """Draw a fin with its grain, its sizes, the names of its edges and its thickness."""
    data = figure.data
    root, tip = float(data["root"]), float(data["tip"])
    span, sweep = float(data["span"]), float(data["sweep"])
    thickness = float(data["thickness"])
    theta = float(data.get("theta", math.pi / 2))
    look = str(data.get("look", "wood"))
    body = data.get("body")
    first, last = min(0.0, sweep), max(root, sweep + tip)
    labels = {
        name: with_unit(value, "length", units)
        for name, value in (
            ("root", root),
            ("tip", tip),
            ("span", span),
            ("sweep", abs(sweep)),
            ("thickness", thickness),
        )
    }
    sought = bool(data.get("sought"))
    if sought:
        labels["thickness"] = "?"
    thick = "as thick as the search finds" if sought else f"{labels['thickness']} thick"
    right = 34 + max(text_width(labels["tip"]), text_width(labels["sweep"]))
    left = 78.0
    scale = min((WIDTH - left - right) / span, 290.0 / (last - first))
    # A narrow fin leaves room beside it: share it between the tube and the margin.
    left += 0.5 * max(0.0, WIDTH - right - left - span * scale)
    top = 60.0

    def at(x: float, y: float) -> Point:
        return left + y * scale, top + (x - first) * scale

    bottom = top + (last - first) * scale
    chord_px = 0.5 * (root + tip) * scale
    section_scale = min(1.0, (WIDTH - 110) / chord_px)
    section_y = bottom + 84
    edge, _ = edge_of(data)
    grain_screen = math.atan2(math.cos(theta), math.sin(theta))
    word = {"wood": "wood", "ply": "plywood", "foam": "faced foam"}.get(look, look)
    canvas = Canvas(
        WIDTH,
        section_y + 50,
        id=id,
        title=figure.title or "The fin, to scale",
        description=(
            f"A {word} fin on a rocket tube, nose up: root {labels['root']}, tip {labels['tip']}, "
            f"span {labels['span']}, tip leading edge {labels['sweep']} "
            f"{'ahead of' if sweep < 0 else 'behind'} the root's, {thick}, "
            f"{edge} edges; grain at {math.degrees(theta) % 180:.0f} degrees to the tube."
        ),
    )

    x0 = left
    if body:
        tube_left = max(4.0, x0 - float(body) * scale)
        tube_piece(canvas, tube_left, x0, 10, bottom + 30)
        if float(body) * scale <= x0 - 4:
            middle = 0.5 * (tube_left + x0)
            canvas.line(middle, 14, middle, bottom + 26, "centre")
    else:
        canvas.rect(x0 - 9, 14, 9, bottom + 10, "tube")
        frame = [(x0 - 9, 14.0), (x0, 14.0), (x0, bottom + 24), (x0 - 9, bottom + 24)]
        canvas.path(texture.hatch(frame, -math.pi / 4, 6), "hair")
        canvas.line(x0, 14, x0, bottom + 24, "line")

    outline = [at(0, 0), at(sweep, span), at(sweep + tip, span), at(root, 0)]
    texture.face(canvas, outline, look, grain_screen, str(data.get("cut", "")))
    for x1, y1, x2, y2 in data.get("pieces") or ():
        canvas.path(polyline([at(x1, y1), at(x2, y2)]), "glue")
    canvas.polygon(outline, "ink")

    # The air comes from the nose; its arrow stands over the leading edge, clear of the sizes.
    air_x = x0 + max(0.8 * span * scale, 40.0)
    edge_y = top + (0.8 * sweep - first) * scale
    tail = max(8.0, min(top - 44, edge_y - 96))
    for shift in (-9, 0, 9):
        long = 0 if shift else 6
        canvas.arrow(air_x + shift, tail, air_x + shift, tail + 24 + long, "air", 6)
    canvas.text(air_x + 18, tail + 16, "air", "name", halo=True)

    _edge_name(canvas, outline[0], outline[1], "leading edge", -7)
    _edge_name(canvas, outline[3], outline[2], "trailing edge", 14)
    canvas.begin(f"on-{look}")
    if tip * scale > 34 and span * scale > 60:
        _edge_name(canvas, outline[2], outline[1], "tip", -7)
    if root * scale > 40 and span * scale > 60:
        _edge_name(canvas, outline[3], outline[0], "root", 15)
    grain_arrow(canvas, outline, grain_screen, str(data.get("grain_label", "grain")))
    canvas.end()

    line_x = x0 + span * scale + 20
    root_x = x0 - 14
    canvas.line(x0 - 20, at(0, 0)[1], x0, at(0, 0)[1], "hair")
    canvas.line(x0 - 20, at(root, 0)[1], x0, at(root, 0)[1], "hair")
    fits = text_width(labels["root"]) < root_x - 10
    canvas.dimension(
        root_x, at(0, 0)[1], root_x, at(root, 0)[1], labels["root"], side=-1, upright=fits
    )
    tip_top, tip_bottom = at(sweep, span)[1], at(sweep + tip, span)[1]
    for level in (tip_top, tip_bottom):
        canvas.line(line_x - 16, level, line_x + 5, level, "hair")
    if tip * scale >= 2:
        canvas.dimension(line_x, tip_top, line_x, tip_bottom, labels["tip"])
    if sweep * scale <= -10:
        level = at(0, 0)[1]
        canvas.line(x0 - 20, tip_top, x0 + span * scale - 4, tip_top, "hair")
        fits = text_width(labels["sweep"]) < root_x - 10
        canvas.dimension(root_x, tip_top, root_x, level, labels["sweep"], side=-1, upright=fits)
    if sweep * scale >= 10:
        level = at(0, 0)[1]
        far = abs(sweep) * scale > 40
        canvas.line(x0 + 4 if far else line_x - 16, level, line_x + 5, level, "hair")
        ends = sorted((level, tip_top))
        crowded = abs(ends[1] - ends[0]) < 18 and tip * scale < 40
        if not crowded:
            canvas.dimension(line_x, ends[0], line_x, ends[1], labels["sweep"])
    span_y = bottom + 30
    canvas.line(x0 + span * scale, tip_bottom + 4, x0 + span * scale, span_y + 5, "hair")
    canvas.dimension(x0, span_y, x0 + span * scale, span_y, labels["span"])

    chord = chord_px * section_scale
    drawn = thickness * scale * section_scale
    factor = _magnify(drawn)
    drawn = min(drawn * factor, 34.0)
    start = max(14.0, min(x0, WIDTH - 90 - chord))
    turn = theta
    section(canvas, start, section_y, chord, drawn, data, turn)
    dim_x = start + chord + 12
    for level in (section_y - drawn / 2, section_y + drawn / 2):
        canvas.line(start + chord + 3, level, dim_x + 5, level, "hair")
    canvas.dimension(
        dim_x, section_y - drawn / 2, dim_x, section_y + drawn / 2, labels["thickness"]
    )
    note = "section at half span"
    if factor > 1 and not sought:
        note += f", thickness drawn ×{factor}"
    canvas.text(start, section_y + drawn / 2 + 22, note, "name")
    return canvas.svg()


def _grid(rows: Any) -> list[list[float]]:
    return [[float(v) for v in row] for row in rows]


def _nodal_segments(
    grid: Sequence[Sequence[Point]], values: Sequence[Sequence[float]]
) -> list[tuple[Point, Point]]:
    """Return the pieces of the line along which a gridded value is zero."""
    pieces = []
    for i in range(len(grid) - 1):
        for j in range(len(grid[0]) - 1):
            ring = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)]
            hits: list[Point] = []
            for (a, b), (c, d) in zip(ring, [*ring[1:], ring[0]], strict=True):
                va, vc = values[a][b], values[c][d]
                if (va > 0) != (vc > 0):
                    share = va / (va - vc)
                    (xa, ya), (xc, yc) = grid[a][b], grid[c][d]
                    hits.append((xa + share * (xc - xa), ya + share * (yc - ya)))
            if len(hits) == 2:
                pieces.append((hits[0], hits[1]))
    return pieces


def mode(figure: Figure, *, units: str, id: str) -> str:
    """Draw a fin bent and twisted by a vibration, seen from above and beyond its tip.

    A complex deflection is frozen at the moment of its largest swing; the shape half a period
    later is drawn faintly, and a quarter period later dotted, so that the phase between bending
    and twist can be seen.
    """
    data = figure.data
    grid_x, grid_y = _grid(data["grid_x"]), _grid(data["grid_y"])
    deflection = data["deflection"]
    if isinstance(deflection, Mapping):
        real = _grid(deflection["real"])
        imaginary = _grid(deflection["imag"]) if deflection.get("imag") is not None else None
    else:
        real, imaginary = _grid(deflection), None
    corners = [(float(x), float(y)) for x, y in data["corners"]]
    rows, columns = len(real), len(real[0])
    flat = [
        complex(real[i][j], imaginary[i][j] if imaginary else 0.0)
        for i in range(rows)
        for j in range(columns)
    ]
    largest = max(flat, key=abs)
    size = abs(largest) or 1.0
    turned = (largest / size).conjugate()
    flat = [w * turned / size for w in flat]

    # Oblique view: the tube lies across the page, nose left; the span comes toward the reader.
    chord = max(x for x, _ in corners) - min(x for x, _ in corners)
    span = max(y for _, y in corners) - min(y for _, y in corners)
    lift = 0.36 * max(span, 0.6 * chord)

    def project(x: float, y: float, z: float) -> Point:
        return x - 0.34 * y, 0.06 * x + 0.56 * y - lift * z

    def shape(phase: complex) -> list[list[Point]]:
        return [
            [
                project(grid_x[i][j], grid_y[i][j], (flat[i * columns + j] * phase).real)
                for j in range(columns)
            ]
            for i in range(rows)
        ]

    phases = {"now": 1 + 0j, "quarter": 0 + 1j, "half": -1 + 0j}
    shapes = {name: shape(phase) for name, phase in phases.items()}
    flat_outline = [project(x, y, 0.0) for x, y in corners]
    lead = 0.14 * chord
    depth = 0.24 * chord
    root_ends = [project(min(0.0, corners[0][0]) - lead, 0, 0), project(corners[3][0] + lead, 0, 0)]
    far_ends = [(x, y - depth) for x, y in root_ends]
    drawn = [p for name in shapes for row in shapes[name] for p in row]
    drawn += flat_outline + root_ends + far_ends
    low_x, high_x = min(p[0] for p in drawn), max(p[0] for p in drawn)
    low_y, high_y = min(p[1] for p in drawn), max(p[1] for p in drawn)
    scale = min((WIDTH - 44) / (high_x - low_x), 236.0 / (high_y - low_y))
    shift_x = 22 + 0.5 * (WIDTH - 44 - scale * (high_x - low_x))
    height = scale * (high_y - low_y) + 84

    def place(p: Point) -> Point:
        return shift_x + (p[0] - low_x) * scale, 22 + (p[1] - low_y) * scale

    placed = {n: [[place(p) for p in row] for row in s] for n, s in shapes.items()}
    canvas = Canvas(
        WIDTH,
        height,
        id=id,
        title=figure.title or "How the fin moves",
        description=(
            "The fin seen from above and beyond its tip, bent and twisted as in this vibration; "
            "dashed: the fin at rest; faint: half a swing later; heavy dashes: the line that stays "
            "still. The movement is drawn far larger than it is. " + figure.caption
        ),
    )

    def rim(grid: Sequence[Sequence[Point]]) -> list[Point]:
        last_row, last_column = len(grid) - 1, len(grid[0]) - 1
        return [
            *grid[0],
            *(grid[i][last_column] for i in range(1, last_row + 1)),
            *reversed(grid[last_row][:last_column]),
            *(grid[i][0] for i in range(last_row - 1, 0, -1)),
        ]

    near, far = [place(p) for p in root_ends], [place(p) for p in far_ends]
    canvas.polygon([*near, *reversed(far)], "tube")
    for share in (0.04, 0.1, 0.2, 0.84, 0.94):
        canvas.path(
            polyline(
                (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))
                for a, b in zip(near, far, strict=True)
            ),
            "hair",
        )
    canvas.path(polyline(near) + polyline(far), "line")
    half_rim = rim(placed["half"])
    canvas.path(polyline(half_rim, close=True), "hair")
    canvas.path(polyline([place(p) for p in flat_outline], close=True), "dash")
    quarter_moves = imaginary is not None and max(abs(w.imag) for w in flat) > 0.03
    if quarter_moves:
        canvas.path(polyline(rim(placed["quarter"]), close=True), "dot")
    now = placed["now"]
    now_rim = polyline(rim(now), close=True)
    canvas.path(now_rim, "surface")
    mesh = "".join(polyline(row) for row in now[1:-1])
    mesh += "".join(polyline([now[i][j] for i in range(rows)]) for j in range(1, columns - 1))
    canvas.path(mesh, "grain")
    levels = [[flat[i * columns + j].real for j in range(columns)] for i in range(rows)]
    # A clamped root is at rest everywhere; only a still line out on the fin tells anything.
    still = [
        (a, b)
        for a, b in _nodal_segments(now, levels)
        if max(abs(a[0] - b[0]), abs(a[1] - b[1])) > 0.2
    ]
    canvas.path("".join(polyline(pair) for pair in still), "second")
    canvas.path(now_rim, "ink")
    canvas.path(polyline([place(flat_outline[0]), place(flat_outline[3])]), "accent")
    middle = 0.5 * (near[0][1] + far[0][1])
    canvas.text(near[0][0] + 6, middle + 4, "◂ nose", "name", halo=True)
    for row, index in ((rows - 1, 0), (rows - 1, columns - 1)):
        rest = place(project(grid_x[row][index], grid_y[row][index], 0.0))
        swung = now[row][index]
        if abs(swung[1] - rest[1]) > 14:
            canvas.arrow(
                *rest, swung[0], swung[1] + math.copysign(2, rest[1] - swung[1]), "line", 6
            )
    keys = [("ink", "largest swing"), ("dash", "at rest")]
    if quarter_moves:
        keys.append(("dot", "a quarter later"))
    if still:
        keys.append(("second", "stays still"))
    for index, (kind, text) in enumerate(keys):
        x, y = 20 + 172 * (index % 2), height - 26 + 17 * (index // 2)
        canvas.line(x, y - 4, x + 26, y - 4, kind)
        canvas.text(x + 33, y, text, "small")
    return canvas.svg()
