"""A fin to scale on a piece of tube, with its sizes, its grain and its section."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from calc.render.svg import texture
from calc.render.svg.axes import WIDTH, length_text
from calc.render.svg.canvas import Canvas, Point, noise, polyline, smooth, span_inside, text_width
from calc.report import Figure

TOP = 60.0
"""The page's level of the fin's foremost point, below the arrows of the air."""
SMALL = (36.0, 30.0)
"""Room of the small picture."""
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


def _middle(polygon: Sequence[Point]) -> Point:
    """Return the mean of a shape's corners, or the centre of its area where these are many."""
    if len(polygon) <= 4:
        return (
            sum(x for x, _ in polygon) / len(polygon),
            sum(y for _, y in polygon) / len(polygon),
        )
    area = x_sum = y_sum = 0.0
    for (x1, y1), (x2, y2) in zip(polygon, [*polygon[1:], polygon[0]], strict=True):
        cross = x1 * y2 - x2 * y1
        area += cross
        x_sum += (x1 + x2) * cross
        y_sum += (y1 + y2) * cross
    return x_sum / (3.0 * area), y_sum / (3.0 * area)


def grain_arrow(canvas: Canvas, polygon: Sequence[Point], angle: float, text: str) -> None:
    """Draw the double arrow that tells the grain's direction, in the middle of a shape."""
    cx, cy = _middle(polygon)
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


@dataclass(frozen=True)
class _View:
    """A fin's sizes [m], their lettering and where the fin lies on the page."""

    root: float
    tip: float
    span: float
    sweep: float
    thickness: float
    body: float | None
    """Diameter of the tube [m], or None where only its wall is hinted at."""
    grain: float
    """Direction of the grain from the tube toward the tip [rad]."""
    look: str
    labels: Mapping[str, str]
    sought: bool
    """True where the thickness is what the calculator looks for."""
    scale: float
    left: float
    perimeter: Sequence[Point]
    """The outline [m] from the root's front over the tip to its rear."""
    datum: float
    """Where along the root the sweep is measured from [m]."""
    chord: float
    """Chord at half span [m]."""
    tab: Mapping[str, Any] | None
    """A tab through the wall: its corners, start, length, depth [m] and number of notches."""

    @property
    def first(self) -> float:
        """Return where along the tube the fin begins [m]: ahead of the root if swept forward."""
        return min(x for x, _ in self.perimeter)

    @property
    def bottom(self) -> float:
        """Return the page's level of the fin's rearmost point."""
        last = max(x for x, _ in self.perimeter)
        return TOP + (last - self.first) * self.scale

    @property
    def outline(self) -> list[Point]:
        """Return the outline from the root's front over the tip to its rear, on the page."""
        return [self.at(x, y) for x, y in self.perimeter]

    @property
    def edges(self) -> tuple[list[Point], list[Point]]:
        """Return the leading edge from root to tip and the trailing edge from tip to root."""
        outermost = max(y for _, y in self.perimeter)
        top = [i for i, (_, y) in enumerate(self.perimeter) if y > outermost * (1 - 1e-9)]
        drawn = self.outline
        return drawn[: top[0] + 1], drawn[top[-1] :]

    @property
    def beside(self) -> float:
        """Return where sizes stand beside the tube's wall, clear of the tab if there is room."""
        clear = self.left - float(self.tab["depth"] if self.tab else 0.0) * self.scale - 14
        return clear if clear >= 24 else self.left - 14

    @property
    def grain_on_page(self) -> float:
        """Return the grain's direction in the page's axes [rad]."""
        return math.atan2(math.cos(self.grain), math.sin(self.grain))

    def at(self, x: float, y: float) -> Point:
        """Return where a point lies, `x` along the tube from the root's front, `y` outward [m]."""
        return self.left + y * self.scale, TOP + (x - self.first) * self.scale


def _view(data: Mapping[str, Any], units: str) -> _View:
    """Return the fin scaled to fit between the tube and the lettering of its tip."""
    root, tip = float(data["root"]), float(data["tip"])
    span, sweep = float(data["span"]), float(data["sweep"])
    thickness = float(data["thickness"])
    sought = bool(data.get("sought"))
    sizes = {"root": root, "tip": tip, "span": span, "sweep": abs(sweep), "thickness": thickness}
    labels = {name: length_text(size, units) for name, size in sizes.items()}
    if sought:
        labels["thickness"] = "?"
    perimeter = [(float(x), float(y)) for x, y in data.get("perimeter") or ()] or [
        (0.0, 0.0), (sweep, span), (sweep + tip, span), (root, 0.0)
    ]  # fmt: skip
    left = 78.0
    right = 34 + max(text_width(labels["tip"]), text_width(labels["sweep"]))
    length = max(x for x, _ in perimeter) - min(x for x, _ in perimeter)
    scale = min((WIDTH - left - right) / span, 290.0 / length)
    # A narrow fin leaves room beside it: share it between the tube and the margin.
    left += 0.5 * max(0.0, WIDTH - right - left - span * scale)
    return _View(
        root=root,
        tip=tip,
        span=span,
        sweep=sweep,
        thickness=thickness,
        body=float(data["body"]) if data.get("body") else None,
        grain=float(data.get("theta", math.pi / 2)),
        look=str(data.get("look", "wood")),
        labels=labels,
        sought=sought,
        scale=scale,
        left=left,
        perimeter=perimeter,
        datum=float(data.get("datum") or 0.0),
        chord=float(data.get("chord") or 0.5 * (root + tip)),
        tab=data.get("tab"),
    )


def handles(figure: Figure, *, units: str) -> dict[str, Any] | None:
    """Return what the page needs to let a hand change the fin, or None where it cannot.

    A point ``x`` along the tube, ``y`` outward [m] lies on the page at ``left + y scale`` to the
    right and ``top + (x - first) scale`` down. The section lies from ``left`` on, ``wide``, about
    its ``middle``, its thickness drawn at a ``scale`` of its own.
    """
    drag = figure.data.get("drag")
    if drag is None:
        return None
    view = _view(figure.data, units)
    place = {"left": view.left, "top": TOP, "scale": view.scale, "first": view.first}
    part = _section_of(view)
    cut = {
        "left": part.start,
        "wide": part.chord,
        "middle": part.y,
        "scale": part.thickness / view.thickness,
    }
    return {**drag, **place, "theta": view.grain, "section": cut}


def fin(figure: Figure, *, units: str, id: str) -> str:
    """Draw a fin with its grain, its sizes, the names of its edges and its thickness."""
    data = figure.data
    view = _view(data, units)
    canvas = Canvas(
        WIDTH,
        _section_of(view).y + 50,
        id=id,
        title=figure.title or "The fin, to scale",
        description=_in_words(view, edge_of(data)[0], units),
    )
    _tube(canvas, view)
    _tab(canvas, view)
    texture.face(canvas, view.outline, view.look, view.grain_on_page, str(data.get("cut", "")))
    for x1, y1, x2, y2 in data.get("pieces") or ():
        canvas.path(polyline([view.at(x1, y1), view.at(x2, y2)]), "glue")
    canvas.polygon(view.outline, "ink")
    _air(canvas, view)
    _names(canvas, view, str(data.get("grain_label", "grain")))
    _root_size(canvas, view)
    _tip_sizes(canvas, view)
    _span_size(canvas, view)
    _half_span_section(canvas, view, data)
    return canvas.svg()


def outline_of(data: Mapping[str, Any], units: str) -> list[Point]:
    """Return the outline's corners in metres: aft from the root's front, and outward."""
    view = _view(data, units)
    return [
        ((y - TOP) / view.scale + view.first, (x - view.left) / view.scale) for x, y in view.outline
    ]


def small(figure: Figure) -> str:
    """Return the outline alone, to stand beside a name: nose up, the body at the left."""
    outline = _view(figure.data, "inch").outline
    left, top = (min(point[k] for point in outline) for k in (0, 1))
    wide, high = (max(point[k] for point in outline) - start for k, start in ((0, left), (1, top)))
    scale = min(SMALL[0] / max(wide, 1e-9), SMALL[1] / max(high, 1e-9))
    placed = [((x - left) * scale + 1, (y - top) * scale + 1) for x, y in outline]
    corners = " ".join(f"{x:.1f},{y:.1f}" for x, y in placed)
    return (
        f'<svg class="fs-svg fs-small" viewBox="0 0 {SMALL[0] + 2:g} {SMALL[1] + 2:g}" '
        f'aria-hidden="true"><polygon class="d-wood d-ink" points="{corners}"/></svg>'
    )


def _in_words(view: _View, edge: str, units: str) -> str:
    word = {"wood": "wood", "ply": "plywood", "foam": "faced foam"}.get(view.look, view.look)
    labels = view.labels
    thick = "as thick as the search finds" if view.sought else f"{labels['thickness']} thick"
    way = "ahead of" if view.sweep < 0 else "behind"
    if view.datum:
        tip = f"half an ellipse, its tip {labels['sweep']} {way} the root's middle"
    else:
        tip = f"tip {labels['tip']}, its front {labels['sweep']} {way} the root's"
    return (
        f"A {word} fin on a rocket tube, nose up: root {labels['root']}, "
        f"span {labels['span']}, {tip}, {thick}, "
        f"{edge} edges; grain at {math.degrees(view.grain) % 180:.0f} degrees to the tube."
        + (_tab_in_words(view.tab, units) if view.tab else "")
    )


def _tab_in_words(tab: Mapping[str, Any], units: str) -> str:
    deep, long, behind = (
        length_text(float(tab[name]), units) for name in ("depth", "length", "start")
    )
    place = f"from {behind} behind the root's front" if tab["start"] else "from the root's front"
    number = int(tab["notches"])
    notches = f", with {number} notch{'es' if number > 1 else ''} for rings" if number else ""
    return (
        f" Dashed inside the tube: a tab through the wall, {deep} deep and {long} long, "
        f"{place}{notches}."
    )


def _tube(canvas: Canvas, view: _View) -> None:
    """Draw the tube, as much of it as the page has room for, or its wall alone."""
    x0, bottom = view.left, view.bottom
    if view.body is None:
        canvas.rect(x0 - 9, 14, 9, bottom + 10, "tube")
        frame = [(x0 - 9, 14.0), (x0, 14.0), (x0, bottom + 24), (x0 - 9, bottom + 24)]
        canvas.path(texture.hatch(frame, -math.pi / 4, 6), "hair")
        canvas.line(x0, 14, x0, bottom + 24, "line")
        return
    left = max(4.0, x0 - view.body * view.scale)
    tube_piece(canvas, left, x0, 10, bottom + 30)
    if view.body * view.scale <= x0 - 4:
        middle = 0.5 * (left + x0)
        canvas.line(middle, 14, middle, bottom + 26, "centre")


def _tab(canvas: Canvas, view: _View) -> None:
    """Draw a tab inside the tube, dashed, as much of it as the page has room for."""
    if view.tab is None:
        return
    placed = [view.at(float(x), float(y)) for x, y in view.tab["corners"]]
    canvas.path(polyline([(max(4.0, x), y) for x, y in placed]), "dash")


def _air(canvas: Canvas, view: _View) -> None:
    """Draw the air, which comes from the nose, over the leading edge and clear of the sizes."""
    x = view.left + max(0.8 * view.span * view.scale, 40.0)
    edge_y = TOP + (0.8 * view.sweep - view.first) * view.scale
    tail = max(8.0, min(TOP - 44, edge_y - 96))
    for shift in (-9, 0, 9):
        long = 0 if shift else 6
        canvas.arrow(x + shift, tail, x + shift, tail + 24 + long, "air", 6)
    canvas.text(x + 18, tail + 16, "air", "name", halo=True)


def _names(canvas: Canvas, view: _View, grain_label: str) -> None:
    """Letter the edges that are long enough for it, and the grain."""
    outline = view.outline
    front, rear = view.edges
    tip, root, span = (size * view.scale for size in (view.tip, view.root, view.span))
    _edge_name(canvas, front[0], front[-1], "leading edge", -7 - _bulge(front))
    _edge_name(canvas, rear[-1], rear[0], "trailing edge", 14 + _bulge(rear))
    canvas.begin(f"on-{view.look}")
    if tip > 34 and span > 60:
        _edge_name(canvas, rear[0], front[-1], "tip", -7)
    if root > 40 and span > 60:
        _edge_name(canvas, rear[-1], front[0], "root", 15)
    grain_arrow(canvas, outline, view.grain_on_page, grain_label)
    canvas.end()


def _bulge(edge: Sequence[Point]) -> float:
    """Return how far an edge, walked clockwise round the fin, bulges out of its straight line."""
    (x1, y1), (x2, y2) = edge[0], edge[-1]
    length = math.hypot(x2 - x1, y2 - y1) or 1.0
    return max(0.0, *(((y2 - y1) * (x - x1) - (x2 - x1) * (y - y1)) / length for x, y in edge))


def _root_size(canvas: Canvas, view: _View) -> None:
    """Write the root chord beside the tube."""
    front, rear = view.at(0, 0)[1], view.at(view.root, 0)[1]
    for level in (front, rear):
        canvas.line(view.beside - 6, level, view.left, level, "hair")
    _beside_tube(canvas, view, front, rear, "root")


def _beside_tube(canvas: Canvas, view: _View, start: float, stop: float, name: str) -> None:
    """Write a size in the tube, along the wall where the tube is too narrow for it."""
    x, text = view.beside, view.labels[name]
    side = 0.0 if view.body is None else max(4.0, view.left - view.body * view.scale) + 2
    upright = text_width(text) < x - 10 - side or abs(stop - start) < text_width(text)
    canvas.dimension(x, start, x, stop, text, side=-1, upright=upright)


def _tip_sizes(canvas: Canvas, view: _View) -> None:
    """Write tip chord and sweep outside the tip; forward sweep beside the tube."""
    x = view.left + view.span * view.scale + 20
    front = view.at(view.datum, 0)[1]
    tip_front = view.at(view.datum + view.sweep, view.span)[1]
    tip_rear = view.at(view.datum + view.sweep + view.tip, view.span)[1]
    tip, sweep = view.tip * view.scale, view.sweep * view.scale
    if tip >= 2 or abs(sweep) >= 10:
        canvas.line(x - 16, tip_front, x + 5, tip_front, "hair")
    if tip >= 2:
        canvas.line(x - 16, tip_rear, x + 5, tip_rear, "hair")
        canvas.dimension(x, tip_front, x, tip_rear, view.labels["tip"])
    if sweep <= -10:
        canvas.line(view.beside - 6, tip_front, x - 24, tip_front, "hair")
        _beside_tube(canvas, view, tip_front, front, "sweep")
    if sweep >= 10:
        start = view.left + 4 if sweep > 40 else x - 16
        canvas.line(start, front, x + 5, front, "hair")
        crowded = tip_front - front < 18 and tip < 40
        if not crowded:
            canvas.dimension(x, front, x, tip_front, view.labels["sweep"])


def _span_size(canvas: Canvas, view: _View) -> None:
    tip_x, tip_rear = view.at(view.datum + view.sweep + view.tip, view.span)
    level = view.bottom + 30
    canvas.line(tip_x, tip_rear + 4, tip_x, level + 5, "hair")
    canvas.dimension(view.left, level, tip_x, level, view.labels["span"])


@dataclass(frozen=True)
class _Section:
    """Where the section at half span is drawn, and how many times too thick."""

    start: float
    y: float
    chord: float
    thickness: float
    factor: int


def _section_of(view: _View) -> _Section:
    """Return the section's place; its thickness is enlarged until it can be seen."""
    chord = view.chord * view.scale
    beside = max(90.0, 22.0 + text_width(view.labels["thickness"]))
    shrunk = min(1.0, (WIDTH - 20 - beside) / chord)
    chord *= shrunk
    thickness = view.thickness * view.scale * shrunk
    factor = _magnify(thickness)
    start = max(14.0, min(view.left, WIDTH - beside - chord))
    return _Section(start, view.bottom + 84, chord, min(thickness * factor, 34.0), factor)


def _half_span_section(canvas: Canvas, view: _View, data: Mapping[str, Any]) -> None:
    """Draw the section at half span."""
    part = _section_of(view)
    start, y, chord, thickness = part.start, part.y, part.chord, part.thickness
    section(canvas, start, y, chord, thickness, data, view.grain)
    above, below = y - thickness / 2, y + thickness / 2
    x = start + chord + 12
    for level in (above, below):
        canvas.line(start + chord + 3, level, x + 5, level, "hair")
    canvas.dimension(x, above, x, below, view.labels["thickness"])
    note = "section at half span"
    if part.factor > 1 and not view.sought:
        note += f", thickness drawn ×{part.factor}"
    canvas.text(start, below + 22, note, "name")
