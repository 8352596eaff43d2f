"""A quantity over direction, such as flutter speed over the grain's angle."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from calc.render.svg.axes import WIDTH, Axis, known, line_style
from calc.render.svg.canvas import Canvas, Point, polyline
from calc.report import Figure


@dataclass(frozen=True)
class _Disc:
    """The disc, or its right half, on which directions lie."""

    cx: float
    cy: float
    radius: float
    half: bool

    def at(self, angle: float, r: float) -> Point:
        """Return a point by its direction [rad] and distance from the centre."""
        return self.cx + r * math.cos(angle), self.cy + r * math.sin(angle)


def polar(figure: Figure, *, units: str, id: str) -> str:
    """Draw a quantity over direction: a half disc for -90 to 90 degrees, a full one beyond.

    Angles count clockwise from the right, as grain turned from the leading edge toward the tube
    does on a fin drawn nose up with its tip to the right.
    """
    data = figure.data
    angles = [float(a) for a in data["angle"]]
    series = list(data["series"])
    half = max(angles) - min(angles) <= math.pi * 1.001 and min(angles) >= -math.pi / 2 - 1e-6
    radius = 140.0 if half else 116.0
    disc = _Disc(cx=112.0 if half else WIDTH / 2, cy=radius + 46, radius=radius, half=half)
    values = [v for s in series for v in known(s["y"])]
    spec = {**data.get("value", {}), "zero": True}
    axis = Axis(spec, values, units=units, start=0.0, stop=radius, count=3)
    names = [str(s.get("name", "")) for s in series]
    best = data.get("best")
    said = f" Best direction: {math.degrees(best):.0f} degrees." if best is not None else ""
    keys = len([n for n in names if n]) if len(series) > 1 else 0
    canvas = Canvas(
        WIDTH,
        2 * disc.cy + 16 * keys,
        id=id,
        title=figure.title,
        description=f"{axis.title} over direction: {', '.join(names)}.{said} {figure.caption}",
    )
    _rings(canvas, disc, axis)
    _directions(canvas, disc)
    for index, item in enumerate(series):
        _line(canvas, disc, axis, angles, item, line_style(item, index))
    for mark in data.get("marks", ()):
        angle = float(mark["angle"])
        canvas.line(*disc.at(angle, 6.0), *disc.at(angle, radius), "dash")
        x, y = disc.at(angle, radius * 0.84)
        canvas.text(x + 7, y + 2, str(mark["label"]), "small", halo=True)
    if best is not None and series:
        nearest = min(range(len(angles)), key=lambda k: abs(angles[k] - float(best)))
        tip = disc.at(float(best), axis.place(series[0]["y"][nearest]))
        label = str(data.get("best_label") or f"best: {math.degrees(float(best)):.0f}°")
        _best(canvas, disc, tip, label.replace("-", "−"))
    canvas.circle(disc.cx, disc.cy, 2.6, "mark")
    canvas.text(8, 16, axis.title, "label")
    if keys:
        _key(canvas, series, names, 2 * disc.cy + 2)
    return canvas.svg()


def _rings(canvas: Canvas, disc: _Disc, axis: Axis) -> None:
    """Draw a lettered ring for each tick of the quantity."""
    first, last = (-90, 90) if disc.half else (0, 360)
    for tick in axis.ticks:
        r = axis.place_shown(tick)
        if r <= 0:
            continue
        ring = [disc.at(math.radians(a), r) for a in range(first, last + 1, 5)]
        canvas.path(polyline(ring), "grid")
        text = axis.tick_text(tick)
        if disc.half:
            canvas.text(disc.cx - 5, disc.cy - r + 4, text, "tick", anchor="end")
        else:
            x, y = disc.at(math.radians(-75), r)
            canvas.text(x, y + 4, text, "tick", anchor="middle", halo=True)


def _directions(canvas: Canvas, disc: _Disc) -> None:
    """Draw a lettered spoke every 30 degrees."""
    for degrees in range(-90, 91, 30) if disc.half else range(0, 360, 30):
        angle = math.radians(degrees)
        canvas.line(*disc.at(angle, 0.0), *disc.at(angle, disc.radius + 4), "grid")
        x, y = disc.at(angle, disc.radius + 9)
        cosine, sine = math.cos(angle), math.sin(angle)
        anchor = "start" if cosine > 0.3 else "end" if cosine < -0.3 else "middle"
        lift = -2 if sine < -0.9 else 12 if sine > 0.9 else 4
        text = f"{degrees}°".replace("-", "−")
        canvas.text(x, y + lift, text, "tick", anchor=anchor)


def _line(
    canvas: Canvas,
    disc: _Disc,
    axis: Axis,
    angles: Sequence[float],
    item: Mapping[str, Any],
    style: str,
) -> None:
    points = [
        disc.at(angle, axis.place(value))
        for angle, value in zip(angles, item["y"], strict=True)
        if value is not None and math.isfinite(value)
    ]
    closed = not disc.half and math.isclose(angles[-1] - angles[0], 2 * math.pi, rel_tol=1e-6)
    canvas.path(polyline(points, close=closed), style)


def _best(canvas: Canvas, disc: _Disc, tip: Point, label: str) -> None:
    """Draw an arrow from the centre to the best direction's point, with its label along it."""
    x, y = tip
    canvas.arrow(disc.cx, disc.cy, x, y, "ink", 10)
    canvas.circle(x, y, 5.5, "line")
    angle = math.atan2(y - disc.cy, x - disc.cx)
    if abs(angle) > 0.5 * math.pi + 1e-9:
        angle -= math.copysign(math.pi, angle)
    middle = disc.cx + 0.48 * (x - disc.cx), disc.cy + 0.48 * (y - disc.cy)
    canvas.text(
        middle[0] + 9 * math.sin(angle),
        middle[1] - 9 * math.cos(angle),
        label,
        "strong",
        anchor="middle",
        turn=math.degrees(angle),
        halo=True,
    )


def _key(
    canvas: Canvas, series: Sequence[Mapping[str, Any]], names: Sequence[str], level: float
) -> None:
    for index, (item, name) in enumerate(zip(series, names, strict=True)):
        if not name:
            continue
        canvas.line(14, level - 4, 46, level - 4, line_style(item, index))
        canvas.text(54, level, name, "small")
        level += 16
