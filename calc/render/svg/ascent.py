"""Margins and airspeed along a flight, one above the other over the same time."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from calc.render.svg.axes import STROKES, WIDTH, Axis
from calc.render.svg.canvas import Canvas, Point, polyline, text_width
from calc.render.svg.texture import hatch
from calc.report import Figure
from calc.wording import with_unit

TOP, MIDDLE = 46.0, 204.0
"""Upper and lower end of the margins."""
UNDER, BOTTOM = 236.0, 304.0
"""Upper and lower end of the airspeed."""
RIGHT = WIDTH - 14


def ascent(figure: Figure, *, units: str, id: str) -> str:
    """Draw margins over time, the airspeed below them, and mark what happens when."""
    data = figure.data
    times = [float(t) for t in data["time"]]
    path = data["flight"]
    speeds = [float(v) for v in path["speed"]]
    series = list(data["series"])
    worst: Mapping[str, Any] = data["worst"]
    top = float(data["top"])
    margin = Axis(
        {"label": "Margin", "low": 0.0, "high": top}, [0.0, top], units=units, start=MIDDLE,
        stop=TOP, count=4,
    )  # fmt: skip
    speed = Axis(
        {"label": "Airspeed", "kind": "speed", "zero": True}, speeds,
        units=units, start=BOTTOM, stop=UNDER, count=3,
    )  # fmt: skip
    left = 16 + max(
        text_width(axis.tick_text(t), "tick") for axis in (margin, speed) for t in axis.ticks
    )
    time = Axis(
        {"label": "Time", "kind": "time", "low": 0.0}, [0.0, *times], units=units, start=left,
        stop=RIGHT, count=6,
    )  # fmt: skip
    keys, levels = _places([str(s["name"]) for s in series], BOTTOM + 58)
    canvas = Canvas(
        WIDTH,
        (levels[-1] if levels else BOTTOM + 34) + 10,
        id=id,
        title=figure.title,
        description=_in_words(data, units) + " " + figure.caption,
    )
    _grid(canvas, time, margin, speed)
    for stretch in data["outside"]:
        _stretch(canvas, time, stretch)
    canvas.begin_clip(_box(left, TOP, RIGHT, MIDDLE))
    for index, item in enumerate(series):
        _path(canvas, _runs(times, item["y"], time, margin), STROKES[index % len(STROKES)])
    canvas.end()
    _path(canvas, _runs(path["time"], speeds, time, speed), "ink")
    one = margin.place(1.0)
    canvas.line(left, one, RIGHT, one, "dash")
    at = time.place(float(worst["time"]))
    burnt = time.place(float(data["burnout"]))
    canvas.line(burnt, UNDER, burnt, BOTTOM, "dot")
    _beside(canvas, burnt, UNDER + 12, left, "motor burns out")
    canvas.line(at, TOP - 8, at, BOTTOM, "line")
    text = str(worst["label"])
    canvas.text(_centred(at, text, left), TOP - 12, text, "small")
    canvas.circle(at, speed.place(float(worst["speed"])), 3.4, "mark")
    if worst["margin"] is not None:
        canvas.circle(at, margin.place(min(float(worst["margin"]), top)), 4.4, "mark")
    right = at < 0.5 * (left + RIGHT)
    canvas.text(
        RIGHT - 5 if right else left + 5, one + 13, "1: only just holds", "small",
        halo=True, anchor="end" if right else "start",
    )  # fmt: skip
    for index, ((x, y), item) in enumerate(zip(keys, series, strict=True)):
        canvas.line(x, y - 4, x + 26, y - 4, STROKES[index % len(STROKES)])
        canvas.text(x + 32, y, str(item["name"]), "small")
    return canvas.svg()


def _grid(canvas: Canvas, time: Axis, margin: Axis, speed: Axis) -> None:
    for axis in (margin, speed):
        for tick in axis.ticks:
            level = axis.place_shown(tick)
            canvas.line(time.start, level, time.stop, level, "grid")
            canvas.text(time.start - 6, level + 4, axis.tick_text(tick), "tick", anchor="end")
        canvas.line(time.start, axis.start, time.stop, axis.start, "line")
        canvas.text(
            max(4.0, time.start - 40),
            axis.stop - (30 if axis is margin else 12),
            axis.title,
            "label",
        )
    taken = -1e9
    for tick in time.ticks:
        place, text = time.place_shown(tick), time.tick_text(tick)
        canvas.line(place, BOTTOM, place, BOTTOM + 4, "dim")
        half = 0.5 * text_width(text, "tick")
        if place - half > taken + 6:
            canvas.text(place, BOTTOM + 16, text, "tick", anchor="middle")
            taken = place + half
    canvas.text(0.5 * (time.start + time.stop), BOTTOM + 34, time.title, "label", anchor="middle")


def _stretch(canvas: Canvas, time: Axis, stretch: Mapping[str, Any]) -> None:
    """Shade a stretch of time and say how sure it is; hatch it where nothing can be said."""
    first = min(max(time.place(float(stretch["from"])), time.start), time.stop)
    last = min(max(time.place(float(stretch["to"])), time.start), time.stop)
    canvas.rect(first, TOP, max(last - first, 1.0), MIDDLE - TOP, "band")
    corners = [(first, TOP), (last, TOP), (last, MIDDLE), (first, MIDDLE)]
    if last - first > 2.0 and stretch["said"] == "cannot say":
        canvas.path(hatch(corners, -math.pi / 4, 9.0), "hair")
    for row, text in enumerate((f"{stretch['label']}:", str(stretch["said"]))):
        middle = 0.5 * (first + last)
        canvas.text(_centred(middle, text, time.start), TOP + 15 + 15 * row, text, "small",
                    halo=True)  # fmt: skip


def _centred(middle: float, text: str, left: float) -> float:
    """Return where a text centred on a place starts, kept between the sides."""
    wide = text_width(text, "small")
    return min(max(middle - 0.5 * wide, left + 4), RIGHT - wide)


def _beside(canvas: Canvas, place: float, level: float, left: float, text: str) -> None:
    room = RIGHT - place > text_width(text, "small") + 8 or place - left < RIGHT - place
    canvas.text(place + (6 if room else -6), level, text, "small",
                anchor="start" if room else "end", halo=True)  # fmt: skip


def _runs(xs: list[float], ys: list[Any], x: Axis, y: Axis) -> list[list[Point]]:
    runs: list[list[Point]] = [[]]
    for vx, vy in zip(xs, ys, strict=True):
        if vy is None:
            runs.append([])
        else:
            runs[-1].append((x.place(vx), y.place(float(vy))))
    return [run for run in runs if run]


def _path(canvas: Canvas, runs: list[list[Point]], kind: str) -> None:
    canvas.path("".join(polyline(run) for run in runs if len(run) > 1), kind)
    for run in runs:
        if len(run) == 1:
            canvas.circle(*run[0], 2.4, "mark")


def _box(x1: float, y1: float, x2: float, y2: float) -> str:
    return polyline([(x1, y1), (x2, y1), (x2, y2), (x1, y2)], close=True)


def _places(names: list[str], level: float) -> tuple[list[Point], list[float]]:
    """Return where the key's entries start, as many in a row as fit, and the rows' levels."""
    places: list[Point] = []
    x = 14.0
    for name in names:
        wide = 32 + text_width(name, "small")
        if places and x + wide > RIGHT:
            x, level = 14.0, level + 18
        places.append((x, level))
        x += wide + 16
    return places, sorted({y for _, y in places})


def _in_words(data: Mapping[str, Any], units: str) -> str:
    """Return the picture in words."""
    worst = data["worst"]
    names = ", ".join(str(s["name"]) for s in data["series"])
    parts = [
        f"Margins over time{': ' if names else ''}{names}; airspeed below.",
        f"{str(worst['label']).capitalize()}, at {with_unit(worst['time'], 'time', units)} and "
        f"{with_unit(worst['speed'], 'speed', units)}.",
        f"The motor burns out at {with_unit(data['burnout'], 'time', units)}.",
    ]
    parts += [
        f"From {with_unit(s['from'], 'time', units)} to {with_unit(s['to'], 'time', units)} "
        f"{s['label']}: {s['said']}."
        for s in data["outside"]
    ]
    return " ".join(parts)
