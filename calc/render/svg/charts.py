"""Charts over two axes: lines and points, lettered directly rather than by legend."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from calc.render.svg.axes import WIDTH, Axis, frame, known, line_style, runs_of, spread_out, summary
from calc.render.svg.canvas import Canvas, Point, polyline, text_width
from calc.report import Figure

LINE = 14.0
"""Height of a line of lettering beside the plot."""
ALIKE = 0.01
"""Difference of two lines, as a share, below which they are drawn and named as one."""


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


@dataclass(frozen=True)
class _Label:
    """What is written beside the plot, and the end of the line that it names."""

    lines: Sequence[str]
    point: Point


def _agree(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    """Whether two lines lie on each other, so that only one of them can be seen."""
    if one.get("style") != other.get("style") or list(one["x"]) != list(other["x"]):
        return False
    for a, b in zip(one["y"], other["y"], strict=True):
        if not known([a]) or not known([b]):
            if bool(known([a])) != bool(known([b])):
                return False
        elif abs(a - b) > ALIKE * max(abs(a), abs(b)):
            return False
    return True


def _merged(series: Sequence[Mapping[str, Any]]) -> list[tuple[Mapping[str, Any], list[str]]]:
    """Return the lines to be seen, each with the names of all that lie on it, a line for each."""
    seen: list[tuple[Mapping[str, Any], list[str]]] = []
    for item in series:
        name = str(item.get("name", ""))
        same = next((names for first, names in seen if name and _agree(first, item)), None)
        if same is None:
            seen.append((item, [name] if name else []))
        else:
            same[-1] += ","
            same.append(name[:1].lower() + name[1:])
    return seen


def _beside(
    labels: Sequence[_Label], pins: Sequence[float], low: float, high: float
) -> list[float]:
    """Return the middles of labels beside the plot, clear of the one at each level marked."""
    wanted = [label.point[1] for label in labels]
    counts = [len(label.lines) for label in labels]
    if len(pins) != 1:
        return spread_out(wanted, LINE, low, high, counts)
    order = sorted(range(len(wanted)), key=lambda k: wanted[k])
    above = [k for k in order if wanted[k] < pins[0]]
    below = order[len(above) :]
    while below and LINE * sum(counts[k] for k in below) > high - pins[0] + 1:
        above.append(below.pop(0))
    while above and LINE * sum(counts[k] for k in above) > pins[0] - low + 1:
        below.insert(0, above.pop())
    out = [0.0] * len(wanted)
    for group, start, stop in ((above, low, pins[0] - LINE), (below, pins[0] + LINE, high)):
        places = spread_out(
            [wanted[k] for k in group], LINE, start, stop, [counts[k] for k in group]
        )
        for k, place in zip(group, places, strict=True):
            out[k] = place
    return out


def chart(figure: Figure, *, units: str, id: str) -> str:
    """Draw lines over one quantity, each named at its end, and so the levels marked across."""
    data = figure.data
    every = list(data.get("series", ()))
    series = _merged(every)
    levels = [m for m in data.get("marks", ()) if m.get("axis", "x") == "y"]
    words = [word for _, lines in series for word in lines]
    words += [str(m.get("label", "")) for m in levels]
    longest = max((text_width(w, "small") for w in words), default=0.0)
    outside = longest <= 130 and len(series) > 0
    right = WIDTH - 12 - (longest + 8 if outside else 0)
    bottom = 232.0
    y = Axis(data["y"], _gather(data, "y"), units=units, start=bottom, stop=34.0, count=5)
    left = 16 + max(text_width(y.tick_text(t), "tick") for t in y.ticks or [0.0])
    x = Axis(data["x"], _gather(data, "x"), units=units, start=left, stop=right, count=5)
    names = [str(item.get("name", "")) for item in every]
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
    labels: list[_Label] = []
    for index, (item, lines) in enumerate(series):
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
        if inside and lines:
            labels.append(_Label(lines, max(inside)))
    canvas.end()
    _marks(canvas, data, x, y, inside=not outside)
    if not outside:
        places = spread_out([label.point[1] for label in labels], LINE, 38, bottom - 2)
        for label, level in zip(labels, places, strict=True):
            text = " ".join(label.lines)
            canvas.text(right - 4, level - 7, text, "small", anchor="end", halo=True)
        return canvas.svg()
    marked = [m for m in levels if y.inside(float(m["value"]))]
    pins = [y.place(float(m["value"])) for m in marked]
    # what names a level stays on its line; the others give way
    places = _beside(labels, pins, 38, bottom + 8) + pins
    labels += [
        _Label([str(m.get("label", ""))], (right, pin)) for m, pin in zip(marked, pins, strict=True)
    ]
    for label, level in zip(labels, places, strict=True):
        point = label.point
        if abs(level - point[1]) > 5 or point[0] < right - 6:
            canvas.path(polyline([(point[0] + 2, point[1]), (right + 5, level)]), "hair")
        top = level + 4 - 0.5 * LINE * (len(label.lines) - 1)
        for row, text in enumerate(label.lines):
            canvas.text(right + 8, top + LINE * row, text, "small")
    return canvas.svg()
