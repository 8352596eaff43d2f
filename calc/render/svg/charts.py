"""Charts over two axes: lines and points, lettered directly rather than by legend."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from calc.render.svg.axes import WIDTH, Axis, frame, known, line_style, runs_of, spread_out, summary
from calc.render.svg.canvas import Canvas, Point, polyline, text_width
from calc.report import Figure


def _gather(data: Mapping[str, Any], axis: str) -> list[float]:
    values: list[float] = []
    for series in data.get("series", ()):
        values += known(series[axis])
    for band in data.get("bands", ()):
        if axis == "x":
            values += known(band["x"])
        else:
            values += known(band["low"]) + known(band["high"])
    for mark in data.get("marks", ()):
        if mark.get("axis", "x") == axis:
            values += known([mark["value"]])
    return values


def _marks(canvas: Canvas, data: Mapping[str, Any], x: Axis, y: Axis, *, inside: bool) -> None:
    """Draw dashed lines at values; letter those across the plot only if it has no room outside."""
    row = 0
    for mark in data.get("marks", ()):
        value, text = float(mark["value"]), str(mark.get("label", ""))
        if mark.get("axis", "x") == "x":
            if not x.inside(value):
                continue
            place = x.place(value)
            canvas.line(place, y.start, place, y.stop, "dash")
            to_left = place + text_width(text, "small") + 8 > x.stop
            canvas.text(
                place + (-5 if to_left else 5),
                y.stop + 11 + 14 * row,
                text,
                "small",
                anchor="end" if to_left else "start",
                halo=True,
            )
            row += 1
        elif y.inside(value):
            place = y.place(value)
            canvas.line(x.start, place, x.stop, place, "dash")
            if inside:
                canvas.text(x.start + 5, place - 5, text, "small", halo=True)


def chart(figure: Figure, *, units: str, id: str) -> str:
    """Draw lines over one quantity, each named at its end, and so the levels marked across."""
    data = figure.data
    series = list(data.get("series", ()))
    names = [str(s.get("name", "")) for s in series]
    levels = [m for m in data.get("marks", ()) if m.get("axis", "x") == "y"]
    words = [*names, *(str(m.get("label", "")) for m in levels)]
    longest = max((text_width(w, "small") for w in words), default=0.0)
    outside = longest <= 130 and len(series) > 0
    right = WIDTH - 12 - (longest + 8 if outside else 0)
    bottom = 232.0
    y = Axis(data["y"], _gather(data, "y"), units=units, start=bottom, stop=34.0, count=5)
    left = 16 + max(text_width(y.tick_text(t), "tick") for t in y.ticks or [0.0])
    x = Axis(data["x"], _gather(data, "x"), units=units, start=left, stop=right, count=5)
    canvas = Canvas(
        WIDTH,
        bottom + 44,
        id=id,
        title=figure.title,
        description=summary(names, x, y) + " " + figure.caption,
    )
    plot = [(left, 34.0), (right, 34.0), (right, bottom), (left, bottom)]
    frame(canvas, x, y)
    canvas.begin_clip(polyline(plot, close=True))
    for band in data.get("bands", ()):
        lower = runs_of(band["x"], band["low"], x, y)
        upper = runs_of(band["x"], band["high"], x, y)
        for under, over in zip(lower, upper, strict=False):
            canvas.polygon([*under, *reversed(over)], "band")
    ends: list[tuple[int, Point]] = []
    for index, item in enumerate(series):
        style = line_style(item, index)
        runs = runs_of(item["x"], item["y"], x, y)
        if item.get("style") == "points":
            for run in runs:
                for px, py in run:
                    canvas.circle(px, py, 3.4, "mark")
        else:
            canvas.path("".join(polyline(run) for run in runs), style)
        inside = [p for run in runs for p in run if left - 1 <= p[0] <= right + 1]
        inside = [p for p in inside if 33 <= p[1] <= bottom + 1] or inside
        if inside:
            ends.append((index, max(inside)))
    canvas.end()
    _marks(canvas, data, x, y, inside=not outside)
    for mark in levels if outside else ():
        if y.inside(float(mark["value"])):
            ends.append((len(names), (right, y.place(float(mark["value"])))))
            names.append(str(mark.get("label", "")))
    places = spread_out([p[1] for _, p in ends], 14, 38, bottom - 2)
    for (index, point), level in zip(ends, places, strict=True):
        if not names[index]:
            continue
        if outside:
            if abs(level - point[1]) > 5 or point[0] < right - 6:
                canvas.path(polyline([(point[0] + 2, point[1]), (right + 5, level)]), "hair")
            canvas.text(right + 8, level + 4, names[index], "small")
        else:
            canvas.text(right - 4, level - 7, names[index], "small", anchor="end", halo=True)
    return canvas.svg()
