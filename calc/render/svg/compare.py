"""Two to four fins over each other, and their margins side by side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from calc.render.svg import bars
from calc.render.svg import fin as one
from calc.render.svg.axes import WIDTH
from calc.render.svg.canvas import Canvas, text_width
from calc.report import Figure

LINES = ("accent", "second", "third", "fourth")
"""How each fin's outline is drawn, in their order."""
TALL = 250.0
LEFT = 40.0
BAR = 15.0
"""Height of one bar with the space below it."""


def outlines(figure: Figure, *, units: str, id: str) -> str:
    """Draw the fins' outlines over each other to one scale, roots on the tube, fronts level."""
    fins = [(str(f["letter"]), one.outline_of(f["fin"], units)) for f in figure.data["fins"]]
    points = [point for _, outline in fins for point in outline]
    front, back = min(x for x, _ in points), max(x for x, _ in points)
    out = max(y for _, y in points)
    scale = min((WIDTH - LEFT - 60) / max(out, 1e-9), TALL / max(back - front, 1e-9))
    high = (back - front) * scale
    names = ", ".join(letter for letter, _ in fins)
    canvas = Canvas(
        WIDTH, high + 50, id=id, title=figure.title, description=f"Outlines of {names}, to scale."
    )
    canvas.rect(LEFT - 26, 12, 26, high + 26, "tube")
    canvas.line(LEFT, 12, LEFT, high + 38, "ink")
    ends: list[tuple[float, float, float]] = []
    for nth, (letter, outline) in enumerate(fins):
        corners = [(LEFT + y * scale, 25 + (x - front) * scale) for x, y in outline]
        canvas.polygon(corners, LINES[nth])
        # at the tip's rear end and its front end in turn, so that fins alike keep theirs apart
        side = -1 if nth % 2 else 1
        x, y = max(corners, key=lambda corner: (corner[0], side * corner[1]))
        start, wide = x + 6, text_width(letter, "strong")
        for left, right, level in sorted(ends):
            if abs(level - y) < 14 and left < start + wide and start < right:
                start = right
        ends.append((start, start + wide + 5, y))
        canvas.text(start, y + 4, letter, "strong", halo=True)
    return canvas.svg()


def side_by_side(figure: Figure, *, units: str, id: str) -> str:
    """Draw each margin as one bar for each design, on the doubling scale of all margins."""
    rows = list(figure.data["rows"])
    flat = [bar for row in rows for bar in row["bars"] if bar["margin"] is not None]
    scale = replace(
        bars._scale(flat, [float(bar["margin"]) for bar in flat]),
        left=bars.LEFT + 24,
        right=bars.RIGHT - 10 - max((text_width(_margin(bar), "small") for bar in flat), default=0),
    )
    heights = [18 + BAR * len(row["bars"]) + 8 for row in rows]
    bottom = bars.TOP + sum(heights)
    canvas = Canvas(
        WIDTH,
        bottom + 24,
        id=id,
        title=figure.title,
        description="; ".join(f"{row['label']}: {_in_words(row)}" for row in rows) + ".",
    )
    tops = [bars.TOP + sum(heights[:k]) + 18 for k in range(len(rows))]
    most = max((len(row["bars"]) for row in rows), default=1)
    bars._grid(canvas, scale, bottom, tops, BAR * most - 5)
    level = bars.TOP
    for row, height in zip(rows, heights, strict=True):
        canvas.text(bars.LEFT, level + 12, str(row["label"]), "strong", halo=True)
        for nth, bar in enumerate(row["bars"]):
            _bar(canvas, bar, level + 18 + BAR * nth, scale)
        level += height
    return canvas.svg()


def _bar(canvas: Canvas, bar: Mapping[str, Any], y: float, scale: bars._Scale) -> None:
    canvas.text(bars.LEFT, y + 9, str(bar["letter"]), "small")
    if bar["margin"] is None:
        canvas.text(scale.place(1.0) + 6, y + 9, "not judged", "small")
        return
    margin = float(bar["margin"])
    start, end = scale.place(1.0), scale.inside(margin)
    low, high = min(start, end), max(start, end)
    canvas.rect(low, y, max(high - low, 1.5), 10, "bar" if margin >= 1 else "bar-short")
    bars._beyond(canvas, margin, y + 5, scale)
    canvas.text(bars.RIGHT + 8, y + 9, _margin(bar), "small", anchor="end")


def _margin(bar: Mapping[str, Any]) -> str:
    if bar["margin"] is None:
        return "not judged"
    sign = bars.SIGNS.get(str(bar.get("bound") or ""), "")
    return f"{sign}{bars._margin_text(float(bar['margin']))}"


def _in_words(row: Mapping[str, Any]) -> str:
    return ", ".join(f"{bar['letter']} {_margin(bar)}" for bar in row["bars"])
