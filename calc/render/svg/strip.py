"""How a strip or a plate of sheet is tested, each test as a sketch."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from calc.render.svg import texture
from calc.render.svg.axes import WIDTH
from calc.render.svg.canvas import Canvas, polyline, smooth
from calc.report import Figure
from calc.wording import with_unit

BOARD = 7.0
"""Thickness of a strip seen from its edge."""


@dataclass(frozen=True)
class _Letters:
    """What is lettered: each word, with its size where that is known."""

    length: str
    sag: str
    load: str


def strip(figure: Figure, *, units: str, id: str) -> str:
    """Draw how a strip of sheet is tested: on a table edge, on two supports, tapped or twisted."""
    data = figure.data
    letters = _Letters(
        length=_quantity(data, "length", "length", units),
        sag=_quantity(data, "sag", "length", units),
        load=_quantity(data, "load", "mass", units),
    )
    kind = str(data.get("kind", "cantilever"))
    words, draw = TESTS.get(kind, TESTS["cantilever"])
    canvas = Canvas(
        WIDTH,
        206,
        id=id,
        title=figure.title,
        description=f"{words} {letters.length}, {letters.sag}, {letters.load}.",
    )
    draw(canvas, letters)
    return canvas.svg()


def _quantity(data: Mapping[str, Any], key: str, kind: str, units: str) -> str:
    value = data.get(key)
    return key if value is None else f"{key} {with_unit(float(value), kind, units)}"


def board(canvas: Canvas, points: list[tuple[float, float]], thick: float) -> None:
    """Draw a thin board along a curve, its underside following."""
    upper = [(x, y - thick / 2) for x, y in points]
    lower = [(x, y + thick / 2) for x, y in points]
    canvas.path(polyline([*upper, *reversed(lower)], close=True), "wood")
    canvas.path(smooth(points), "grain-late")
    canvas.path(polyline([*upper, *reversed(lower)], close=True), "line")


def _weight(canvas: Canvas, x: float, y: float, text: str) -> None:
    """Draw a weight hanging from a point."""
    canvas.line(x, y, x, y + 16, "line")
    outline = [(x - 9, y + 16), (x + 9, y + 16), (x + 13, y + 40), (x - 13, y + 40)]
    canvas.polygon(outline, "tube")
    canvas.polygon(outline, "ink")
    canvas.text(x, y + 55, text, "label", anchor="middle", halo=True)


def _cantilever(canvas: Canvas, letters: _Letters) -> None:
    edge, tip, level, dip = 118.0, 250.0, 74.0, 44.0
    table = [(10.0, level + 8), (edge, level + 8), (edge, level + 34), (10.0, level + 34)]
    canvas.polygon(table, "tube")
    canvas.path(texture.hatch(table, math.pi / 4, 8), "hair")
    canvas.polygon(table, "line")
    for leg in (30, 42):
        canvas.line(leg, level + 34, leg, 196, "line")
    points = [(24.0, level + 4), (60.0, level + 4), (edge - 4, level + 4)]
    for k in range(1, 13):
        # shape of a cantilever under a force at its end
        s = k / 12
        points.append((edge + (tip - edge) * s, level + 4 + dip * (1.5 * s * s - 0.5 * s**3)))
    canvas.line(edge, level + 4, tip + 18, level + 4, "dash")
    board(canvas, points, BOARD)
    block = [(66.0, level - 22), (edge - 2, level - 22), (edge - 2, level), (66.0, level)]
    texture.face(canvas, block, "wood", 0.0)
    canvas.polygon(block, "ink")
    canvas.arrow(92, 22, 92, level - 24, "line", 8)
    canvas.text(100, 34, "clamp", "name")
    _weight(canvas, tip - 4, level + dip + 6, letters.load)
    canvas.dimension(edge, 44, tip - 4, 44, letters.length, side=-1)
    canvas.line(edge, 38, edge, level - 24, "hair")
    canvas.line(tip - 4, 38, tip - 4, level, "hair")
    x = tip + 10
    canvas.line(tip, level + 4 + dip, x + 6, level + 4 + dip, "hair")
    canvas.dimension(x, level + 4, x, level + 4 + dip, letters.sag)


def _three_point(canvas: Canvas, letters: _Letters) -> None:
    left, right, level, dip = 44.0, 316.0, 74.0, 46.0
    xs = [left - 20 + (right - left + 40) * k / 14 for k in range(15)]
    bent = [(x, level + dip * math.sin(math.pi * (x - left) / (right - left))) for x in xs]
    for x in (left, right):
        support = [(x, level + 3), (x + 11, level + 27), (x - 11, level + 27)]
        canvas.polygon(support, "tube")
        canvas.polygon(support, "ink")
        canvas.line(x - 22, level + 27, x + 22, level + 27, "line")
    canvas.line(left, level, right, level, "dash")
    board(canvas, bent, BOARD)
    middle = 0.5 * (left + right)
    _weight(canvas, middle, level + dip + 4, letters.load)
    canvas.dimension(left, 40, right, 40, letters.length, side=-1)
    for x in (left, right):
        canvas.line(x, 34, x, level - 8, "hair")
    canvas.dimension(middle, level, middle, level + dip - 4, "")
    canvas.text(middle + 8, level + 15, letters.sag, halo=True)


def _tap(canvas: Canvas, letters: _Letters) -> None:
    left, right, level = 30.0, 330.0, 96.0
    rest = [(left + (right - left) * k / 14, level) for k in range(15)]
    swing = [
        (x, level + 16 * (math.cos(2 * math.pi * (x - left) / (right - left)) * 0.5 + 0.06))
        for x, _ in rest
    ]
    board(canvas, rest, BOARD)
    canvas.path(smooth(swing), "dash")
    # the still points of a free bar's first bending vibration
    for share in (0.224, 0.776):
        x = left + share * (right - left)
        canvas.path(
            smooth([(x - 10, 20), (x - 2, 60), (x, level + 8), (x + 2, 60), (x + 10, 20)]),
            "line",
        )
        canvas.line(x, level + 12, x, 127, "hair")
    canvas.arrow(180, 46, 180, level - 8, "air", 8)
    canvas.text(188, 58, "tap here", "name")
    canvas.dimension(left, 164, right, 164, letters.length)
    canvas.text(left + 4, 142, "threads 0.22 of the length from each end", "name", halo=True)


def _twist(canvas: Canvas, letters: _Letters) -> None:
    plate = [(70.0, 96.0), (206.0, 56.0), (300.0, 96.0), (160.0, 142.0)]
    texture.face(canvas, plate, "wood", -0.28)
    canvas.polygon(plate, "ink")
    for x, y in (plate[0], plate[2]):
        canvas.line(x, y, x, y + 46, "ink")
        canvas.line(x - 14, y + 46, x + 14, y + 46, "line")
        canvas.text(x, y + 62, "held", "name", anchor="middle")
    load = f"{letters.load} each"
    (x, y), (far_x, far_y) = plate[1], plate[3]
    canvas.arrow(x, y - 44, x, y - 4, "air", 8)
    canvas.text(x + 9, y - 26, load, "label", halo=True)
    canvas.arrow(far_x, far_y + 4, far_x, far_y + 44, "air", 8)
    canvas.text(far_x + 9, far_y + 36, load, "label", halo=True)
    canvas.text(169, 194, letters.sag, "label", halo=True)


TESTS: Mapping[str, tuple[str, Callable[[Canvas, _Letters], None]]] = {
    "cantilever": (
        "A strip clamped on a table's edge, loaded at its free end; the sag is measured at the "
        "end.",
        _cantilever,
    ),
    "three-point": (
        "A strip laid on two supports and loaded in the middle; the sag is measured there.",
        _three_point,
    ),
    "tap": ("A strip held by a thread a little in from each end, tapped in the middle.", _tap),
    "twist": (
        "A square plate held up at two opposite corners and loaded at the other two.",
        _twist,
    ),
}
"""Each test in words and its sketch."""
