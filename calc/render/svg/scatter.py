"""Points over two axes, each family with its own mark, named where a name fits."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from calc.render.svg.axes import WIDTH, Axis, frame, runs_of, summary
from calc.render.svg.canvas import Canvas, Point, polyline, text_width
from calc.report import Figure

TOP, BOTTOM = 34.0, 262.0
RIGHT = WIDTH - 14
KEY_WIDTH = 172.0
"""Width of a key's entry where two share a row."""
SPOKEN_POINTS = 24
"""Points named in the picture's description; a longer list helps nobody who listens to it."""

Box = tuple[float, float, float, float]
"""Left, top, right and bottom of what is already drawn."""

SHAPES = ("circle", "square", "triangle", "diamond", "cross", "ring", "plus", "star")
FAMILIES = dict(
    zip(
        ("wood", "plywood", "plastic", "paper", "foam", "composite", "faced", "own"),
        SHAPES,
        strict=True,
    )
)
"""The mark of each family of materials, the same in every picture."""


def _shapes(families: Sequence[str]) -> dict[str, str]:
    """Return a mark for each family; others than of materials take those that are left."""
    free = iter([*(s for s in SHAPES if s not in {FAMILIES.get(f) for f in families}), *SHAPES])
    return {family: FAMILIES.get(family) or next(free) for family in families}


def _symbol(canvas: Canvas, x: float, y: float, shape: str) -> None:
    r = 4.4
    if shape == "circle":
        canvas.circle(x, y, r * 0.9, "mark")
    elif shape == "ring":
        canvas.circle(x, y, r * 0.9, "line")
    elif shape == "square":
        canvas.rect(x - r * 0.85, y - r * 0.85, 1.7 * r, 1.7 * r, "mark")
    elif shape == "triangle":
        canvas.polygon([(x, y - r), (x + r, y + 0.8 * r), (x - r, y + 0.8 * r)], "mark")
    elif shape == "diamond":
        canvas.polygon([(x, y - 1.2 * r), (x + r, y), (x, y + 1.2 * r), (x - r, y)], "line")
    elif shape == "cross":
        canvas.path(
            polyline([(x - r, y - r), (x + r, y + r)]) + polyline([(x - r, y + r), (x + r, y - r)]),
            "ink",
        )
    elif shape == "plus":
        canvas.path(polyline([(x - r, y), (x + r, y)]) + polyline([(x, y - r), (x, y + r)]), "ink")
    else:
        canvas.path(
            "".join(
                polyline(
                    [
                        (x - r * math.cos(a), y - r * math.sin(a)),
                        (x + r * math.cos(a), y + r * math.sin(a)),
                    ]
                )
                for a in (0.0, math.pi / 3, 2 * math.pi / 3)
            ),
            "line",
        )


def scatter(figure: Figure, *, units: str, id: str) -> str:
    """Draw points by family, each family with its own mark, and name as many as fit.

    Points with a true "always" are named first, farther off if there is no room beside them.
    """
    data = figure.data
    points = list(data["points"])
    guides = list(data.get("guides", ()))
    families = list(dict.fromkeys(str(p.get("family", "")) for p in points))
    keys = [f for f in families if f]
    in_row = 2 if all(text_width(key, "small") < KEY_WIDTH - 20 for key in keys) else 1
    key_rows = math.ceil(len(keys) / in_row) if len(keys) > 1 else 0
    xs = [float(p["x"]) for p in points]
    ys = [float(p["y"]) for p in points]
    y = Axis(data["y"], ys, units=units, start=BOTTOM, stop=TOP, count=5)
    left = 16 + max(text_width(y.tick_text(t), "tick") for t in y.ticks or [0.0])
    x = Axis(data["x"], xs, units=units, start=left, stop=RIGHT, count=5)
    named = ", ".join(str(p.get("label", "")) for p in points[:SPOKEN_POINTS])
    canvas = Canvas(
        WIDTH,
        BOTTOM + 48 + 17 * key_rows,
        id=id,
        title=figure.title,
        description=summary(families, x, y) + f" Points: {named}. {figure.caption}",
    )
    frame(canvas, x, y)
    for tick in x.ticks:
        canvas.line(x.place_shown(tick), BOTTOM, x.place_shown(tick), TOP, "grid")
    places = [(x.place(a), y.place(b)) for a, b in zip(xs, ys, strict=True)]
    taken: list[Box] = [(px - 5, py - 5, px + 5, py + 5) for px, py in places]
    taken += _guides(canvas, guides, x, y)
    shapes = _shapes(families)
    for point, place in zip(points, places, strict=True):
        _symbol(canvas, *place, shapes[str(point.get("family", ""))])
    order = sorted(range(len(points)), key=lambda k: not points[k].get("always"))
    for k in order:
        always = bool(points[k].get("always"))
        _name(canvas, str(points[k].get("label", "")), places[k], left, taken, always=always)
    if key_rows:
        for index, family in enumerate(keys):
            kx = 20 + (index % in_row) * KEY_WIDTH
            ky = BOTTOM + 54 + 17 * (index // in_row)
            _symbol(canvas, kx, ky - 4, shapes[family])
            canvas.text(kx + 11, ky, family, "small")
    return canvas.svg()


def _guides(canvas: Canvas, guides: Sequence[Mapping[str, Any]], x: Axis, y: Axis) -> list[Box]:
    """Draw dashed lines, cut at the frame, and their labels; return where the labels stand."""
    corners = [(x.start, TOP), (RIGHT, TOP), (RIGHT, BOTTOM), (x.start, BOTTOM)]
    canvas.begin_clip(polyline(corners, close=True))
    lines = [runs_of(guide["x"], guide["y"], x, y) for guide in guides]
    for runs in lines:
        canvas.path("".join(polyline(run) for run in runs), "dash")
    canvas.end()
    boxes: list[Box] = []
    for guide, runs in zip(guides, lines, strict=True):
        inside = [
            point
            for run in runs
            for point in run
            if x.start <= point[0] <= RIGHT - 10 and TOP + 10 <= point[1] <= BOTTOM
        ]
        if inside and guide.get("label"):
            px, py = max(inside)
            text = str(guide["label"])
            canvas.text(px - 4, py - 4, text, "name", anchor="end", halo=True)
            boxes.append((px - 4 - text_width(text, "name"), py - 15, px, py))
    return boxes


BESIDE = (("start", 8.0, 4.0), ("end", -8.0, 4.0), ("middle", 0.0, -8.0), ("middle", 0.0, 16.0))
"""Where a name may stand from its point: its anchor and how far off."""
FARTHER = tuple(
    (anchor, dx, 4.0 + sign * 14.0 * step)
    for step in range(1, 7)
    for sign in (-1, 1)
    for anchor, dx in (("start", 14.0), ("end", -14.0))
)
"""Where else, with a line to its point, a name stands that must not be missing."""


def _name(
    canvas: Canvas, text: str, place: Point, left: float, taken: list[Box], *, always: bool
) -> None:
    """Write a point's name beside, above or below it, or not at all where all four are taken."""
    if not text:
        return
    wide = text_width(text, "small")
    for anchor, dx, dy in (*BESIDE, *FARTHER) if always else BESIDE:
        px, py = place[0] + dx, place[1] + dy
        x1 = px - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
        box = (x1, py - 10, x1 + wide, py + 2)
        free = all(box[2] < b[0] or b[2] < box[0] or box[3] < b[1] or b[3] < box[1] for b in taken)
        if free and x1 > left and x1 + wide < RIGHT and box[1] > TOP - 4 and box[3] < BOTTOM:
            if (anchor, dx, dy) in FARTHER:
                canvas.line(*place, px - math.copysign(2.0, dx), py - 4, "hair")
            canvas.text(px, py, text, "small", anchor=anchor, halo=True)
            taken.append(box)
            return
