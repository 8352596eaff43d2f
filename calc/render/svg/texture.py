"""What materials look like under a pencil: grain, veneers, weave and foam as lines.

Lines are organic but repeatable: their wander comes from an integer hash, never from chance.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from calc.render.svg.canvas import Canvas, Point, noise, number, polyline, smooth, span_inside

LOOKS = ("wood", "ply", "paper", "foam", "laminate", "plastic")


def _extent(polygon: Sequence[Point], across: Point) -> tuple[float, float]:
    reach = [x * across[0] + y * across[1] for x, y in polygon]
    return min(reach), max(reach)


def hatch(polygon: Sequence[Point], angle: float, spacing: float, *, jitter: float = 0.0) -> str:
    """Return straight parallel lines inside a convex polygon, `angle` in screen axes [rad]."""
    along = (math.cos(angle), math.sin(angle))
    across = (-along[1], along[0])
    low, high = _extent(polygon, across)
    parts = []
    for index in range(math.ceil(low / spacing), math.floor(high / spacing) + 1):
        offset = (index + jitter * (noise(index, 5) - 0.5)) * spacing
        origin = (offset * across[0], offset * across[1])
        inside = span_inside(polygon, origin, along)
        if inside and inside[1] - inside[0] > 2:
            parts.append(
                polyline([(origin[0] + s * along[0], origin[1] + s * along[1]) for s in inside])
            )
    return "".join(parts)


def grain_lines(
    polygon: Sequence[Point], angle: float, *, spacing: float = 5.5, wander: float = 1.0
) -> tuple[str, str]:
    """Return early-wood and late-wood lines along `angle` over a convex polygon.

    All lines share one slow wave, as neighbouring growth rings do, and each adds a little of its
    own; some fade out and start again.
    """
    along = (math.cos(angle), math.sin(angle))
    across = (-along[1], along[0])
    low, high = _extent(polygon, across)
    early: list[str] = []
    late: list[str] = []
    offset = low + spacing * 0.35
    index = 0
    while offset < high:
        origin = (offset * across[0], offset * across[1])
        inside = span_inside(polygon, origin, along)
        # Rings close up and open again across the board, so the step itself drifts.
        step = spacing * (0.62 + 0.75 * noise(index, 11))
        if inside is not None:
            start, stop = inside[0] - 6, inside[1] + 6
            count = max(3, math.ceil((stop - start) / 26) + 1)
            points = []
            for k in range(count + 1):
                s = start + (stop - start) * k / count
                shift = wander * (
                    1.7 * math.sin(s / 47 + offset / 90)
                    + 0.9 * math.sin(s / 21 + offset / 60 + 1.3)
                    + 0.9 * (noise(index, k, 3) - 0.5)
                )
                points.append(
                    (
                        origin[0] + s * along[0] + shift * across[0],
                        origin[1] + s * along[1] + shift * across[1],
                    )
                )
            if noise(index, 17) < 0.22 and count > 6:
                gap = 2 + int(noise(index, 19) * (count - 4))
                early.append(smooth(points[: gap + 1]))
                early.append(smooth(points[gap + 1 :]))
            elif noise(index, 23) < 0.3:
                late.append(smooth(points))
            else:
                early.append(smooth(points))
        offset += step
        index += 1
    return "".join(early), "".join(late)


def flecks(polygon: Sequence[Point], angle: float, *, count: int = 46) -> str:
    """Return short strokes across the grain: the ray fleck of a quarter-sawn (C) sheet."""
    xs = [x for x, _ in polygon]
    ys = [y for _, y in polygon]
    parts = []
    for index in range(count):
        x = min(xs) + noise(index, 31) * (max(xs) - min(xs))
        y = min(ys) + noise(index, 37) * (max(ys) - min(ys))
        tilt = angle + math.pi / 2 + 0.5 * (noise(index, 41) - 0.5)
        half = 2.5 + 3.5 * noise(index, 43)
        dx, dy = half * math.cos(tilt), half * math.sin(tilt)
        parts.append(polyline([(x - dx, y - dy), (x + dx, y + dy)]))
    return "".join(parts)


def stipple(x: float, y: float, width: float, height: float, *, cell: float = 7.0) -> str:
    """Return the bubbles of a foam over a rectangle, as dots for a round pen."""
    parts = []
    columns, rows = max(1, round(width / cell)), max(1, round(height / cell))
    for row in range(rows):
        for column in range(columns):
            wander = 0.9 * cell
            cx = x + width * (column + 0.5) / columns + wander * (noise(row, column, 47) - 0.5)
            cy = (
                y
                + height * (row + 0.5) / rows
                + min(wander, 0.6 * height / rows) * (noise(row, column, 53) - 0.5)
            )
            if noise(row, column, 59) < 0.85:
                parts.append(f"M{number(cx)} {number(cy)}h.1")
    return "".join(parts)


def shrink(polygon: Sequence[Point], share: float) -> list[Point]:
    """Return a polygon drawn in toward its middle by a share of its size."""
    cx = sum(x for x, _ in polygon) / len(polygon)
    cy = sum(y for _, y in polygon) / len(polygon)
    return [(x + share * (cx - x), y + share * (cy - y)) for x, y in polygon]


def face(canvas: Canvas, polygon: Sequence[Point], look: str, angle: float, cut: str = "") -> None:
    """Draw a material's face over a convex outline, its grain along `angle` (screen axes)."""
    outline = polyline(polygon, close=True)
    canvas.path(outline, look)
    canvas.begin_clip(outline)
    if look == "wood":
        early, late = grain_lines(polygon, angle, wander=0.5 if cut == "C" else 1.0)
        canvas.path(early, "grain")
        canvas.path(late, "grain-late")
        if cut == "C":
            canvas.path(flecks(polygon, angle), "grain-late")
    elif look == "ply":
        early, late = grain_lines(polygon, angle, spacing=4.4, wander=0.45)
        canvas.path(early + late, "grain")
        canvas.path(hatch(polygon, angle + math.pi / 2, 24, jitter=0.5), "cross")
    elif look == "paper":
        canvas.path(hatch(polygon, angle, 9, jitter=0.9), "grain")
        canvas.path(flecks(polygon, angle + math.pi / 2, count=60), "grain")
    elif look == "foam":
        xs = [x for x, _ in polygon]
        ys = [y for _, y in polygon]
        canvas.path(
            stipple(min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys), cell=9), "bubbles"
        )
        canvas.path(polyline(shrink(polygon, 0.05), close=True), "grain-late")
    elif look == "laminate":
        canvas.path(hatch(polygon, angle, 6), "grain")
        canvas.path(hatch(polygon, angle + math.pi / 2, 6), "grain")
    else:
        canvas.path(hatch(polygon, angle, 8), "grain")
    canvas.end()


def layer(
    canvas: Canvas, x: float, y: float, width: float, height: float, look: str, turn: float | None
) -> None:
    """Draw one layer in section: lines along, dots where the grain comes out at the reader.

    `turn` is the angle between the layer's grain and the section's length [rad]; None for a
    layer without direction.
    """
    canvas.rect(x, y, width, height, look)
    frame = [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]
    canvas.begin_clip(polyline(frame, close=True))
    if look == "foam" or turn is None:
        if look == "foam":
            canvas.path(
                stipple(x, y, width, height, cell=min(7.0, max(4.0, height / 2))), "bubbles"
            )
    else:
        folded = math.remainder(turn, math.pi)
        if abs(folded) < math.radians(12):
            rows = max(1, round(height / 4.5))
            for row in range(rows):
                level = y + height * (row + 0.5) / rows
                points = [
                    (x + width * k / 9, level + 0.9 * (noise(row, k, 61) - 0.5)) for k in range(10)
                ]
                canvas.path(smooth(points), "grain-late")
        elif abs(folded) > math.radians(78):
            rows = max(1, round(height / 6))
            columns = max(2, round(width / 8))
            dots = []
            for row in range(rows):
                for column in range(columns):
                    cx = x + width * (column + 0.5 + 0.5 * (row % 2)) / columns
                    cy = y + height * (row + 0.5) / rows
                    if cx < x + width - 1:
                        dots.append(f"M{number(cx - 1)} {number(cy)}h.1")
            canvas.path("".join(dots), "ends")
        else:
            # Tilted strokes: their lean is the sign of the angle, steeper for a larger angle.
            canvas.path(hatch(frame, -folded, 6.5), "grain-late")
    canvas.end()
