"""Margin bars on a doubling scale: to the right of 1 it holds, to the left it does not."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from calc import units as measures
from calc.render.svg.axes import WIDTH
from calc.render.svg.canvas import Canvas, polyline
from calc.render.svg.texture import hatch
from calc.report import Figure

LEFT, RIGHT = 12.0, WIDTH - 16
TOP = 34.0
PITCH = 42.0
"""Height of one row: a mode's name over its bar."""
FRACTIONS = {0.5: "½", 0.25: "¼", 0.125: "⅛"}
SIGNS = {"at least": "≥ ", "at most": "≤ "}


@dataclass(frozen=True)
class _Scale:
    """The doubling scale from `low` to `high`, both powers of two."""

    low: float
    high: float
    left: float = LEFT
    right: float = RIGHT

    def place(self, margin: float) -> float:
        """Return where a margin lies; one beyond an end lies a little outside it."""
        bounded = min(max(margin, self.low * 0.9), self.high * 1.1)
        share = math.log(bounded / self.low) / math.log(self.high / self.low)
        return self.left + (self.right - self.left) * share

    def inside(self, margin: float) -> float:
        """Return where a margin lies, or the end of the scale that it lies beyond."""
        return min(max(self.place(margin), self.left), self.right)


def bars(figure: Figure, *, units: str, id: str) -> str:
    """Draw margins on a doubling scale: to the right of 1 it holds, to the left it does not."""
    rows = list(figure.data["rows"])
    margins = [float(row["margin"]) for row in rows]
    scale = _scale(rows, margins)
    bottom = TOP + PITCH * len(rows) + 2
    canvas = Canvas(
        WIDTH,
        bottom + 24,
        id=id,
        title=figure.title or "Margins",
        description=f"Margin of each way to fail, 1 is the edge. {_in_words(rows)}.",
    )
    _grid(canvas, scale, bottom, [TOP + PITCH * k + 20 for k in range(len(rows))], 12)
    governing = min(range(len(rows)), key=lambda k: margins[k], default=-1)
    for index, row in enumerate(rows):
        level = TOP + PITCH * index
        _letter(canvas, row, level + 13, strong=index == governing)
        _bar(canvas, row, level + 20, scale)
    return canvas.svg()


def _scale(rows: Iterable[Mapping[str, Any]], margins: Iterable[float]) -> _Scale:
    """Return a scale from an eighth or more to eight or less that shows margins and ranges."""
    ends = [row.get(end) for row in rows for end in ("low", "high")]
    shown = [float(v) for v in (*margins, *ends) if v is not None and math.isfinite(v) and v > 0]
    lowest, highest = min(shown, default=0.5), max(shown, default=4.0)
    return _Scale(
        low=2.0 ** max(-3, min(-1, math.floor(math.log2(lowest)))),
        high=2.0 ** min(3, max(2, math.ceil(math.log2(highest)))),
    )


def _in_words(rows: Sequence[Mapping[str, Any]]) -> str:
    parts = []
    for row in rows:
        bound = f"{row['bound']} " if row.get("bound") else ""
        parts.append(f"{row['label']}: {bound}{_margin_text(float(row['margin']))}")
    return "; ".join(parts)


def _grid(canvas: Canvas, scale: _Scale, bottom: float, tops: Sequence[float], high: float) -> None:
    """Draw the scale behind each stretch of bars, `high` from its top: no line crosses a name."""
    tick = scale.low
    while tick <= scale.high * 1.001:
        place = scale.place(tick)
        for top in tops:
            canvas.line(place, top - 4, place, top + high + 4, "grid")
        canvas.line(place, bottom - 3, place, bottom + 3, "grid")
        text = f"{tick:g}" if tick >= 1 else FRACTIONS[tick]
        last = tick >= scale.high * 0.999
        anchor = "start" if tick == scale.low else "end" if last else "middle"
        canvas.text(place, bottom + 16, text, "tick", anchor=anchor)
        tick *= 2
    one = scale.place(1.0)
    # whether less than 1 is marginal or does not hold is for the verdict to say
    canvas.text(one - 6, 14, "◂ too little", "name", anchor="end")
    canvas.text(one + 6, 14, "enough ▸", "name")
    canvas.line(one, 4, one, 20, "ink")
    for top in tops:
        canvas.line(one, top - 4, one, top + high + 4, "ink")


def _letter(canvas: Canvas, row: Mapping[str, Any], level: float, *, strong: bool) -> None:
    """Write a mode's name at the left and its margin at the right."""
    canvas.text(LEFT, level, str(row["label"]), "strong" if strong else "label", halo=True)
    sign = SIGNS.get(str(row.get("bound") or ""), "")
    text = sign + _margin_text(float(row["margin"]))
    canvas.text(RIGHT, level, text, "strong", anchor="end", halo=True)


def _bar(canvas: Canvas, row: Mapping[str, Any], y: float, scale: _Scale) -> None:
    """Draw one margin from the line at 1, and its range as a thin line over it."""
    margin = float(row["margin"])
    if math.isnan(margin):
        canvas.line(LEFT, y + 6, RIGHT, y + 6, "dot")
        return
    one, end = scale.place(1.0), scale.inside(margin)
    x1, x2 = min(one, end), max(one, end)
    canvas.rect(x1, y, max(x2 - x1, 1.5), 12, "bar" if margin >= 1 else "bar-short")
    if margin < 1:
        box = [(x1, y), (x2, y), (x2, y + 12), (x1, y + 12)]
        canvas.path(hatch(box, -math.pi / 4, 4.5), "hair")
    _beyond(canvas, margin, y + 6, scale)
    if row.get("low") is None or row.get("high") is None:
        return
    spread = [float(row[end]) for end in ("low", "high")]
    ends = "".join(
        polyline([(scale.inside(value), y + 2), (scale.inside(value), y + 10)])
        for value in spread
        if scale.low <= value <= scale.high
    )
    line = polyline([(scale.inside(value), y + 6) for value in spread])
    canvas.path(line + ends, "whisker")


def _beyond(canvas: Canvas, margin: float, level: float, scale: _Scale) -> None:
    """Draw an arrow where a bar ends with the scale and its margin lies beyond."""
    if margin > scale.high:
        canvas.arrow_head(scale.right + 9, level, 0.0, "solid", 11)
    if margin < scale.low:
        canvas.arrow_head(scale.left - 9, level, math.pi, "solid", 11)


def _margin_text(value: float) -> str:
    if math.isnan(value):
        return "cannot say"
    if math.isinf(value):
        return "no limit" if value > 0 else "none"
    return f"{value:.2f}" if value < 9.995 else measures.significant(value, 2)
