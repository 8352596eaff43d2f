"""The drawing board: shapes and lettering as SVG text, coloured only through CSS classes.

Every shape carries plain fallback paint (`currentColor`), so that a drawing saved on its own is
still readable; the site's style sheet paints the classes for paper, night and print. Nothing here
knows fins or charts.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from html import escape
from itertools import pairwise

Point = tuple[float, float]

PAINT = {
    "ink": 'fill="none" stroke="currentColor" stroke-width="1.8" stroke-linejoin="round"',
    "line": 'fill="none" stroke="currentColor" stroke-width="1.2" stroke-linejoin="round"',
    "hair": 'fill="none" stroke="currentColor" stroke-width="0.7" stroke-opacity="0.6"',
    "dash": 'fill="none" stroke="currentColor" stroke-width="1.1" stroke-dasharray="5 4"',
    "dot": 'fill="none" stroke="currentColor" stroke-width="1.6" stroke-dasharray="0.1 4.5" '
    'stroke-linecap="round"',
    "bubbles": 'fill="none" stroke="currentColor" stroke-width="1.8" stroke-opacity="0.4" '
    'stroke-linecap="round"',
    "ends": 'fill="none" stroke="currentColor" stroke-width="1.8" stroke-opacity="0.6" '
    'stroke-linecap="round"',
    "cross": 'fill="none" stroke="currentColor" stroke-width="1" stroke-opacity="0.6" '
    'stroke-dasharray="4 5"',
    "centre": 'fill="none" stroke="currentColor" stroke-width="0.7" stroke-dasharray="12 3 2 3"',
    "grain": 'fill="none" stroke="currentColor" stroke-width="0.7" stroke-opacity="0.45"',
    "grain-late": 'fill="none" stroke="currentColor" stroke-width="1.1" stroke-opacity="0.5"',
    "dim": 'fill="none" stroke="currentColor" stroke-width="0.8"',
    "grid": 'fill="none" stroke="currentColor" stroke-width="0.6" stroke-opacity="0.3"',
    "accent": 'fill="none" stroke="currentColor" stroke-width="2.4" stroke-linecap="round" '
    'stroke-linejoin="round"',
    "second": 'fill="none" stroke="currentColor" stroke-width="2" stroke-dasharray="7 4"',
    "third": 'fill="none" stroke="currentColor" stroke-width="2.2" stroke-dasharray="0.1 5" '
    'stroke-linecap="round"',
    "fourth": 'fill="none" stroke="currentColor" stroke-width="1.6" stroke-dasharray="10 3 2 3"',
    "whisker": 'fill="none" stroke="currentColor" stroke-width="1.4"',
    "glue": 'fill="none" stroke="currentColor" stroke-width="2.6"',
    "solid": 'fill="currentColor"',
    "mark": 'fill="currentColor"',
    "air": 'fill="none" stroke="currentColor" stroke-width="1.4" stroke-linecap="round"',
    "air-tip": 'fill="currentColor"',
    "bar": 'fill="currentColor" fill-opacity="0.35" stroke="currentColor"',
    "bar-short": 'fill="currentColor" fill-opacity="0.12" stroke="currentColor"',
    "band": 'fill="currentColor" fill-opacity="0.1"',
    "sheet": 'fill="none"',
    "rise": 'fill="currentColor"',
    "fall": 'fill="currentColor"',
    "surface": 'fill="currentColor" fill-opacity="0.08"',
    "tube": 'fill="currentColor" fill-opacity="0.05"',
    "wood": 'fill="currentColor" fill-opacity="0.07"',
    "ply": 'fill="currentColor" fill-opacity="0.09"',
    "paper": 'fill="currentColor" fill-opacity="0.03"',
    "foam": 'fill="currentColor" fill-opacity="0.03"',
    "laminate": 'fill="currentColor" fill-opacity="0.12"',
    "plastic": 'fill="currentColor" fill-opacity="0.06"',
    "fillet": 'fill="currentColor" fill-opacity="0.25"',
    "code": 'fill="currentColor" shape-rendering="crispEdges"',
    "code-ground": 'fill="none"',
}
"""Paint of each class where no style sheet is: what a shape looks like on its own."""

LETTERING = {
    "label": (14.0, "", 0.49),
    "strong": (14.0, ' font-weight="700"', 0.53),
    "small": (12.5, "", 0.49),
    "name": (12.5, ' font-style="italic"', 0.46),
    "tick": (12.5, "", 0.49),
    "big": (16.0, ' font-weight="700"', 0.53),
}
"""Lettering: size, extra attributes, mean letter width as a share of the size."""


def number(value: float) -> str:
    """Return a coordinate rounded to a tenth.

    The small push keeps exact halves from rounding differently on two machines whose sines
    differ in the last bit.

    >>> number(12.25), number(-0.04), number(3.0)
    ('12.3', '0', '3')
    """
    text = f"{round(value + 1e-7, 1):.1f}"
    text = text.removesuffix(".0")
    return "0" if text == "-0" else text


def noise(*keys: int) -> float:
    """Return a repeatable number from 0 to 1 for whole-number keys (an integer hash).

    >>> 0 <= noise(3, 7) < 1, noise(3, 7) == noise(3, 7)
    (True, True)
    """
    state = 2166136261
    for key in keys:
        state = ((state ^ (key & 0xFFFFFFFF)) * 2654435761) & 0xFFFFFFFF
        state ^= state >> 15
        state = (state * 2246822519) & 0xFFFFFFFF
        state ^= state >> 13
    return state / 4294967296.0


def text_width(text: str, style: str = "label") -> float:
    """Return the estimated width of a lettering in drawing units.

    >>> text_width("3/32 in") < 60
    True
    """
    size, _, share = LETTERING[style]
    return len(text) * size * share


def polyline(points: Iterable[Point], *, close: bool = False) -> str:
    """Return path data through points.

    >>> polyline([(0, 0), (10, 0), (10, 5.25)], close=True)
    'M0 0L10 0 10 5.3Z'
    """
    pairs = [f"{number(x)} {number(y)}" for x, y in points]
    if not pairs:
        return ""
    rest = f"L{' '.join(pairs[1:])}" if len(pairs) > 1 else ""
    return f"M{pairs[0]}{rest}{'Z' if close else ''}"


def smooth(points: Sequence[Point]) -> str:
    """Return path data of a soft curve: quadratic arcs through the midpoints of a polyline."""
    if len(points) < 3:
        return polyline(points)
    parts = [f"M{number(points[0][0])} {number(points[0][1])}"]
    for (x1, y1), (x2, y2) in pairwise(points[1:-1]):
        middle = f"{number((x1 + x2) / 2)} {number((y1 + y2) / 2)}"
        parts.append(f"Q{number(x1)} {number(y1)} {middle}")
    x1, y1 = points[-2]
    x2, y2 = points[-1]
    parts.append(f"Q{number(x1)} {number(y1)} {number(x2)} {number(y2)}")
    return "".join(parts)


def span_inside(
    polygon: Sequence[Point], origin: Point, direction: Point
) -> tuple[float, float] | None:
    """Return where a line enters and leaves a convex polygon, as distances along it, or None.

    >>> span_inside([(1, 0), (4, 0), (4, 2), (1, 2)], (0, 1), (1, 0))
    (1.0, 4.0)
    """
    hits = []
    for (x1, y1), (x2, y2) in zip(polygon, [*polygon[1:], polygon[0]], strict=True):
        ex, ey = x2 - x1, y2 - y1
        cross = direction[0] * ey - direction[1] * ex
        if abs(cross) < 1e-12:
            continue
        along = ((x1 - origin[0]) * ey - (y1 - origin[1]) * ex) / cross
        share = ((x1 - origin[0]) * direction[1] - (y1 - origin[1]) * direction[0]) / cross
        if -1e-9 <= share <= 1 + 1e-9:
            hits.append(along)
    if len(hits) < 2 or max(hits) - min(hits) < 1e-9:
        return None
    return min(hits), max(hits)


class Canvas:
    """A drawing under way: shapes are added in painting order, `svg` closes it."""

    def __init__(
        self, width: float, height: float, *, id: str, title: str, description: str
    ) -> None:
        self.width = width
        self.height = height
        self.id = id
        self.title = title
        self.description = description
        self._parts: list[str] = []
        self._clips = 0

    def path(self, data: str, kind: str = "line") -> None:
        """Add path data painted as one of `PAINT`."""
        if data:
            self._parts.append(f'<path class="d-{kind}" {PAINT[kind]} d="{data}"/>')

    def shade(self, data: str, kind: str, share: float) -> None:
        """Add path data filled with a share of a paint, from 0 to 1."""
        self._parts.append(
            f'<path class="d-{kind}" {PAINT[kind]} fill-opacity="{share:.2f}" d="{data}"/>'
        )

    def line(self, x1: float, y1: float, x2: float, y2: float, kind: str = "line") -> None:
        """Add a straight line."""
        self.path(polyline([(x1, y1), (x2, y2)]), kind)

    def polygon(self, points: Iterable[Point], kind: str = "line") -> None:
        """Add a closed outline."""
        self.path(polyline(points, close=True), kind)

    def rect(
        self, x: float, y: float, width: float, height: float, kind: str = "line", radius: float = 0
    ) -> None:
        """Add a rectangle."""
        corner = f' rx="{number(radius)}"' if radius else ""
        self._parts.append(
            f'<rect class="d-{kind}" {PAINT[kind]} x="{number(x)}" y="{number(y)}" '
            f'width="{number(max(width, 0.0))}" height="{number(max(height, 0.0))}"{corner}/>'
        )

    def circle(self, x: float, y: float, radius: float, kind: str = "line") -> None:
        """Add a circle."""
        self._parts.append(
            f'<circle class="d-{kind}" {PAINT[kind]} cx="{number(x)}" cy="{number(y)}" '
            f'r="{number(radius)}"/>'
        )

    def text(
        self,
        x: float,
        y: float,
        text: str,
        style: str = "label",
        *,
        anchor: str = "start",
        turn: float = 0.0,
        halo: bool = False,
    ) -> None:
        """Add lettering with its baseline at a point, turned clockwise by degrees."""
        size, extra, _ = LETTERING[style]
        place = f'x="{number(x)}" y="{number(y)}"'
        if turn:
            place += f' transform="rotate({number(turn)} {number(x)} {number(y)})"'
        align = "" if anchor == "start" else f' text-anchor="{anchor}"'
        ring = " d-halo" if halo else ""
        self._parts.append(
            f'<text class="d-{style}{ring}" {place} font-size="{size:g}"{extra}{align} '
            f'fill="currentColor">{escape(text)}</text>'
        )

    def arrow_head(
        self, x: float, y: float, angle: float, kind: str = "solid", size: float = 7.0
    ) -> None:
        """Add an arrow head with its tip at a point, pointing along `angle` [rad, screen axes]."""
        spread = 0.30
        corners = [(x, y)]
        for turn in (math.pi - spread, math.pi + spread):
            corners.append((x + size * math.cos(angle + turn), y + size * math.sin(angle + turn)))
        self.polygon(corners, kind)

    def arrow(
        self, x1: float, y1: float, x2: float, y2: float, kind: str = "line", size: float = 7.0
    ) -> None:
        """Add a line with a head at its end."""
        angle = math.atan2(y2 - y1, x2 - x1)
        back = 0.8 * size
        self.line(x1, y1, x2 - back * math.cos(angle), y2 - back * math.sin(angle), kind)
        self.arrow_head(x2, y2, angle, "air-tip" if kind == "air" else "solid", size)

    def dimension(
        self,
        x1: float,
        y1: float,
        x2: float,
        y2: float,
        text: str,
        *,
        side: float = 1.0,
        upright: bool = True,
    ) -> None:
        """Add a dimension line between two points with its lettering beside it.

        `side` is 1 for lettering to the right of (or below) the line, -1 for the other side.
        Lines shorter than their arrow heads get the heads outside.
        """
        length = math.hypot(x2 - x1, y2 - y1)
        angle = math.atan2(y2 - y1, x2 - x1)
        if length >= 18:
            self.line(x1, y1, x2, y2, "dim")
            self.arrow_head(x1, y1, angle + math.pi, "mark", 6.5)
            self.arrow_head(x2, y2, angle, "mark", 6.5)
        else:
            ux, uy = math.cos(angle), math.sin(angle)
            self.line(x1 - 12 * ux, y1 - 12 * uy, x2 + 12 * ux, y2 + 12 * uy, "dim")
            self.arrow_head(x1, y1, angle, "mark", 6.5)
            self.arrow_head(x2, y2, angle + math.pi, "mark", 6.5)
        mx, my = (x1 + x2) / 2, (y1 + y2) / 2
        vertical = abs(y2 - y1) > abs(x2 - x1)
        if vertical and upright:
            anchor = "start" if side > 0 else "end"
            self.text(mx + 8 * side, my + 4.5, text, anchor=anchor, halo=True)
        elif vertical:
            self.text(mx + (14 if side > 0 else -5), my, text, anchor="middle", turn=-90, halo=True)
        else:
            self.text(mx, my + (15 if side > 0 else -5), text, anchor="middle", halo=True)

    def begin_clip(self, data: str) -> None:
        """Start a group cut to path data; close it with `end`."""
        self._clips += 1
        name = f"{self.id}-clip{self._clips}"
        self._parts.append(
            f'<clipPath id="{escape(name)}"><path d="{data}"/></clipPath>'
            f'<g clip-path="url(#{escape(name)})">'
        )

    def begin(self, kind: str) -> None:
        """Start a group with a class for the style sheet; close it with `end`."""
        self._parts.append(f'<g class="d-{escape(kind)}">')

    def end(self) -> None:
        """Close the innermost group."""
        self._parts.append("</g>")

    def svg(self) -> str:
        """Return the finished drawing."""
        name = escape(self.id)
        return (
            f'<svg class="fs-svg" id="{name}" xmlns="http://www.w3.org/2000/svg" role="img" '
            f'aria-labelledby="{name}-title {name}-desc" '
            f'viewBox="0 0 {number(self.width)} {number(self.height)}" '
            f'width="{number(self.width)}" height="{number(self.height)}" '
            'font-family="sans-serif">'
            f'<title id="{name}-title">{escape(self.title)}</title>'
            f'<desc id="{name}-desc">{escape(self.description)}</desc>'
            f"{''.join(self._parts)}</svg>"
        )
