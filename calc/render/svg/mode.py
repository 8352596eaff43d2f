"""How a fin moves around the speed at which it begins to flutter: a still picture and its play.

The picture is complete without a script: the fin at its largest deflection, and how that deflection
goes on in time. `play` gives a script all it needs to move both; it computes nothing itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from calc.render.svg.axes import WIDTH
from calc.render.svg.canvas import Canvas, Point, number, polyline, text_width
from calc.report import Figure
from calc.wording import with_unit

Net = list[list[Point]]
"""A fin's surface on the page: points by row (outward from the root) and column (rearward)."""

LOOP = 6.0
"""Longest time [s] on the screen before a swing starts anew; one beat takes about a second."""
SMALL = 0.05
"""Share of the largest deflection at which a motion that grows starts, and one that dies ends."""
SHORTEST = 1.5
"""Shortest time [s] on the screen, so that something can be seen."""
STEADY = 0.02
"""Damping ratio below which the motion at the boundary is said to stay as it is."""
TRACE = 44.0
"""Height of the strip that shows the deflection over time."""
SAMPLES = 121


@dataclass(frozen=True)
class _Step:
    """The motion at one speed; rates are those of the screen, where time runs slowly."""

    words: str
    shape: Sequence[complex]
    """Amplitude of each mode."""
    growth: float
    turn: float
    start: float
    """Size of the deflection where the play starts, over the largest."""
    lasts: float


@dataclass(frozen=True)
class _Scene:
    """A figure's data, ready to be drawn."""

    x: Sequence[Sequence[float]]
    y: Sequence[Sequence[float]]
    modes: Sequence[Sequence[Sequence[float]]]
    corners: Sequence[Point]
    steps: Sequence[_Step]
    at: int
    """Which step is shown first."""
    slow: float
    """How many times more slowly time runs on the screen."""
    name: str

    def deflection(self, step: _Step) -> list[list[complex]]:
        """Return the deflection at each point of the grid at the start of a step."""
        out = [[0j] * len(row) for row in self.x]
        for amplitude, mode in zip(step.shape, self.modes, strict=True):
            for row, values in zip(out, mode, strict=True):
                for j, value in enumerate(values):
                    row[j] += amplitude * value
        return out

    def watched(self) -> tuple[int, int]:
        """Return row and column of the point that moves most in the step shown first."""
        w = self.deflection(self.steps[self.at])
        places = [(i, j) for i in range(len(w)) for j in range(len(w[0]))]
        return max(places, key=lambda place: abs(w[place[0]][place[1]]))


def _scene(data: Mapping[str, Any], units: str) -> _Scene:
    kind, ratios = data["kind"], data["ratios"]
    frequency, growth = data["frequency"], data["growth"]
    base = min(range(len(ratios)), key=lambda place: abs(ratios[place] - 1.0))
    beat = frequency[base] if kind == "flutter" else max(frequency)
    slow = max(beat, 1e-9) / (2.0 * math.pi)
    steps = []
    for place, ratio in enumerate(ratios):
        rate = growth[place] / slow
        words = _words(
            kind,
            ratio=ratio,
            speed=with_unit(ratio * data["boundary"], "speed", units),
            growth=growth[place],
            frequency=frequency[place],
            flown="" if place != data["flown"] else data["flight"],
        )
        # until it has grown from hardly anything to the largest, or died away to hardly anything
        lasts = -math.log(SMALL) / abs(rate) if rate else LOOP
        lasts = min(max(lasts, SHORTEST), LOOP)
        start = math.exp(-rate * lasts) if rate > 0.0 else 1.0
        shape = [complex(*pair) for pair in data["amplitudes"][place]]
        steps.append(_Step(words, shape, rate, frequency[place] / slow, start, lasts))
    return _Scene(
        x=data["grid_x"],
        y=data["grid_y"],
        modes=data["modes"],
        corners=[(float(x), float(y)) for x, y in data["corners"]],
        steps=steps,
        at=base if data["flown"] is None else data["flown"],
        slow=slow,
        name="Airspeed",
    )


def _words(
    kind: str, *, ratio: float, speed: str, growth: float, frequency: float, flown: str
) -> str:
    """Return what happens at a speed, as it is written under the picture and spoken."""
    settled = kind != "none" and abs(ratio - 1.0) < 1e-6
    place = speed
    if settled:
        place = f"At the {kind} speed, {speed}"
    elif kind != "none":
        place = f"{round(ratio, 2):g} of the {kind} speed, {speed}"
    if flown:
        place += f", {flown}"
    time = with_unit(math.log(2.0) / max(abs(growth), 1e-9), "time", "metric", digits=2)
    if kind == "divergence":
        if settled:
            return f"{place}: leans over and stays so"
        if growth > 0.0:
            return f"{place}: leans over without swinging, twice as far every {time}"
        return f"{place}: springs back, halves in {time}"
    if settled and abs(growth) < STEADY * frequency:
        return f"{place}: neither grows nor dies away"
    if growth > 0.0:
        return f"{place}: grows, doubles in {time}"
    return f"{place}: dies away, halves in {time}"


def _extent(values: Iterable[float]) -> float:
    known = list(values)
    return max(known) - min(known)


@dataclass(frozen=True)
class _View:
    """Oblique view: the tube lies across the page, nose left; the span comes to the reader."""

    lift: float
    """Height of the largest deflection, in metres of the fin."""
    low: Point
    """Upper left corner of all that is drawn, before scaling."""
    scale: float
    left: float
    height: float
    """Height of all that is drawn, on the page."""

    def at(self, x: float, y: float, z: float = 0.0) -> Point:
        """Return where a point of the fin lies on the page, `z` being its deflection."""
        px, py = _project(x, y, z * self.lift)
        return self.left + (px - self.low[0]) * self.scale, 12 + (py - self.low[1]) * self.scale

    def net(self, scene: _Scene, w: Sequence[Sequence[float]]) -> Net:
        """Return the surface with a deflection at each point of the grid."""
        return [
            [self.at(*point) for point in zip(*row, strict=True)]
            for row in zip(scene.x, scene.y, w, strict=True)
        ]


def _project(x: float, y: float, height: float) -> Point:
    return x - 0.34 * y, 0.06 * x + 0.56 * y - height


@dataclass(frozen=True)
class _Tube:
    """A piece of the tube's surface: its edge at the fin, and how far it reaches behind it [m]."""

    nose: float
    tail: float
    depth: float


def _tube(corners: Sequence[Point]) -> _Tube:
    chord = _extent(x for x, _ in corners)
    lead = 0.14 * chord
    return _Tube(min(0.0, corners[0][0]) - lead, corners[-1][0] + lead, 0.24 * chord)


def _view(corners: Sequence[Point], tube: _Tube) -> _View:
    """Return the view that shows the fin however it is deflected, and the tube."""
    chord, span = _extent(x for x, _ in corners), _extent(y for _, y in corners)
    lift = 0.24 * max(span, 0.6 * chord)
    shown = [_project(x, y, side * lift) for x, y in corners for side in (-y / span, 0, y / span)]
    for x in (tube.nose, tube.tail):
        px, py = _project(x, 0.0, 0.0)
        shown += [(px, py), (px, py - tube.depth)]
    wide, high = _extent(x for x, _ in shown), _extent(y for _, y in shown)
    scale = min((WIDTH - 40) / wide, 236.0 / high)
    return _View(
        lift=lift,
        low=(min(x for x, _ in shown), min(y for _, y in shown)),
        scale=scale,
        left=20 + 0.5 * (WIDTH - 40 - scale * wide),
        height=scale * high,
    )


def mode(figure: Figure, *, units: str, id: str) -> str:
    """Draw a fin at its largest deflection in the first speed's motion, and how that goes on."""
    scene = _scene(figure.data, units)
    tube = _tube(scene.corners)
    view = _view(scene.corners, tube)
    step = scene.steps[scene.at]
    floor = view.height + 44
    canvas = Canvas(
        WIDTH,
        floor + TRACE + 62,
        id=id,
        title=figure.title or "How the fin moves",
        description=(
            "The fin seen from above and beyond its tip, bent and twisted as in this motion, drawn "
            "far larger than it is; dashed: the fin at rest; the darker, the farther from rest. "
            f"Below: its farthest point over time. Shown: {step.words}."
        ),
    )
    w = [[value.real for value in row] for row in scene.deflection(step)]
    net = view.net(scene, w)
    rest = [view.at(x, y) for x, y in scene.corners]
    _draw_tube(canvas, view, tube)
    canvas.begin("swing")
    canvas.path(polyline(_rim(net), close=True), "surface")
    for data, level in _faces(net, w):
        canvas.shade(data, "rise" if level > 0.0 else "fall", abs(level))
    canvas.path(polyline(_rim(net), close=True), "ink")
    canvas.end()
    canvas.path(polyline(rest, close=True), "dash")
    canvas.path(polyline([rest[0], rest[-1]]), "accent")
    _letter(canvas, scene, view, tube)
    _draw_trace(canvas, scene, step, floor)
    return canvas.svg()


def _rim(net: Net) -> list[Point]:
    """Return the edge of a surface, once round."""
    last_row, last_column = len(net) - 1, len(net[0]) - 1
    return [
        *net[0],
        *(net[i][last_column] for i in range(1, last_row + 1)),
        *reversed(net[last_row][:last_column]),
        *(net[i][0] for i in range(last_row - 1, 0, -1)),
    ]


def _faces(net: Net, w: Sequence[Sequence[float]]) -> list[tuple[str, float]]:
    """Return the surface in pieces, from the root outward, each with its mean deflection."""
    texts = [[f"{number(x)} {number(y)}" for x, y in row] for row in net]
    out = []
    for i in range(len(net) - 1):
        for j in range(len(net[0]) - 1):
            (a, b), (d, c) = texts[i][j : j + 2], texts[i + 1][j : j + 2]
            level = (w[i][j] + w[i][j + 1] + w[i + 1][j] + w[i + 1][j + 1]) / 4.0
            out.append((f"M{a}L{b} {c} {d}Z", level))
    return out


def _draw_tube(canvas: Canvas, view: _View, tube: _Tube) -> None:
    """Draw the piece of tube behind the fin."""
    near = [view.at(tube.nose, 0.0), view.at(tube.tail, 0.0)]
    far = [(x, y - tube.depth * view.scale) for x, y in near]
    canvas.polygon([*near, *reversed(far)], "tube")
    canvas.path(polyline(near) + polyline(far), "line")
    x, y = near[0]
    canvas.text(x + 6, y - 0.5 * tube.depth * view.scale + 4, "◂ nose", "name", halo=True)
    # air comes from the nose, along the tube
    slope = 0.06
    for share in (0.25, 0.6):
        y0 = near[0][1] + share * (view.height - near[0][1] + 12)
        canvas.arrow(4, y0, 34, y0 + 30 * slope, "air", 6)
    canvas.text(
        4, near[0][1] + 0.25 * (view.height - near[0][1] + 12) - 7, "air", "name", halo=True
    )


def _letter(canvas: Canvas, scene: _Scene, view: _View, tube: _Tube) -> None:
    """Name the edges where they lie at rest."""
    middle = min(range(len(scene.y)), key=lambda i: abs(scene.y[i][0] - 0.62 * scene.y[-1][0]))
    for column, text, anchor, side in (
        (0, "leading edge", "end", -8.0),
        (-1, "trailing edge", "start", 8.0),
    ):
        x, y = view.at(scene.x[middle][column], scene.y[middle][column])
        wide = text_width(text, "small")
        x += side
        x = max(x, wide + 2.0) if anchor == "end" else min(x, WIDTH - wide - 2.0)
        canvas.text(x, y + 4, text, "small", anchor=anchor, halo=True)
    x, y = view.at(0.5 * (scene.corners[0][0] + scene.corners[-1][0]), 0.0)
    canvas.text(x, y - 6, "root", "small", anchor="middle", halo=True)


def _trace(scene: _Scene, step: _Step, floor: float) -> list[Point]:
    """Return the deflection of the point that moves most over time, on the page."""
    i, j = scene.watched()
    w = scene.deflection(step)[i][j]
    points = []
    for sample in range(SAMPLES):
        time = LOOP * sample / (SAMPLES - 1)
        if time > step.lasts and step.growth > 0.0:
            break
        size = step.start * math.exp(step.growth * time)
        value = size * (w * complex(math.cos(step.turn * time), math.sin(step.turn * time))).real
        points.append((20 + (WIDTH - 40) * time / LOOP, floor + TRACE * (0.5 - 0.5 * value)))
    return points


def _draw_trace(canvas: Canvas, scene: _Scene, step: _Step, floor: float) -> None:
    """Draw the deflection over time, and the key."""
    canvas.line(20, floor + 0.5 * TRACE, WIDTH - 20, floor + 0.5 * TRACE, "grid")
    canvas.begin("trace")
    canvas.path(polyline(_trace(scene, step, floor)), "accent")
    canvas.end()
    lasts = with_unit(LOOP / scene.slow, "time", "metric", digits=2)
    canvas.text(20, floor + TRACE + 16, f"its farthest point over {lasts}", "small")
    y = floor + TRACE + 36
    canvas.line(20, y - 4, 46, y - 4, "dash")
    canvas.text(53, y, "at rest", "small")
    for place, (kind, text) in enumerate((("rise", "up from rest"), ("fall", "down"))):
        x = 118 + 118 * place
        for part, share in enumerate((0.3, 0.6, 0.9)):
            left = x + 9 * part
            canvas.shade(
                polyline(
                    [(left, y - 10), (left + 9, y - 10), (left + 9, y), (left, y)], close=True
                ),
                kind,
                share,
            )
        canvas.text(x + 33, y, text, "small")


def play(figure: Figure, *, units: str) -> dict[str, Any]:
    """Return what a script needs to move the picture: places on the page, rates on the screen."""
    scene = _scene(figure.data, units)
    view = _view(scene.corners, _tube(scene.corners))
    i, j = scene.watched()
    rest = view.net(scene, [[0.0] * len(row) for row in scene.x])

    def short(value: float) -> float:
        return round(value, 3)

    return {
        "name": scene.name,
        "columns": len(scene.x[0]),
        "points": [[round(v, 1) for v in point] for row in rest for point in row],
        "lift": short(view.lift * view.scale),
        "modes": [[short(v) for row in mode for v in row] for mode in scene.modes],
        "watch": i * len(scene.x[0]) + j,
        "at": scene.at,
        "loop": LOOP,
        "samples": SAMPLES,
        "trace": {"left": 20, "width": WIDTH - 40, "top": short(view.height + 44), "height": TRACE},
        "steps": [
            {
                "words": step.words,
                "shape": [[short(a.real), short(a.imag)] for a in step.shape],
                "growth": short(step.growth),
                "turn": short(step.turn),
                "start": short(step.start),
                "lasts": short(step.lasts),
            }
            for step in scene.steps
        ],
    }
