"""Stock sheets with the fins laid out on them."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

from calc.render.svg import texture
from calc.render.svg.axes import WIDTH, nice_step
from calc.render.svg.canvas import Canvas, Point, polyline, text_width
from calc.report import Figure
from calc.units import KINDS, to_unit
from calc.wording import unit_for, with_unit

LEFT = 46.0
"""Where every sheet starts."""
BETWEEN = 58.0
"""Height between sheets, for a label above and a length below."""

Place = Callable[[Any], Point]
"""From a point of a sheet, along and across its length [m], to the page."""


def sheet(figure: Figure, *, units: str, id: str) -> str:
    """Draw stock sheets with the fins laid out on them, grain along each sheet's length.

    Sheets lie with their length across the page; a long, narrow sheet is cut into rows by the
    caller, not here.
    """
    sheets = list(figure.data["sheets"])
    longest = max(float(s["length"]) for s in sheets)
    widest = max(float(s["width"]) for s in sheets)
    scale = min((WIDTH - 62) / longest, 220.0 / widest)
    tops = []
    level = 30.0
    for item in sheets:
        tops.append(level)
        level += float(item["width"]) * scale + BETWEEN
    count = sum(len(s.get("placements", ())) for s in sheets)
    canvas = Canvas(
        WIDTH,
        level + 12,
        id=id,
        title=figure.title or "Cutting plan",
        description=f"{len(sheets)} sheet(s) with {count} piece(s) laid out, grain along the "
        f"length of each sheet. {figure.caption}",
    )
    for item, top in zip(sheets, tops, strict=True):
        _sheet(canvas, item, top, scale, units)
    _grain(canvas, level - 2)
    _ruler(canvas, level - 2, longest, scale, units)
    return canvas.svg()


def _sheet(canvas: Canvas, item: Mapping[str, Any], top: float, scale: float, units: str) -> None:
    length, width = float(item["length"]) * scale, float(item["width"]) * scale
    look = str(item.get("look", "wood"))
    _stock(canvas, top, length, width, look)
    label = str(item.get("label", ""))
    if label:
        canvas.text(LEFT, top - 8, label, "label")

    def at(p: Any) -> Point:
        return LEFT + float(p[0]) * scale, top + float(p[1]) * scale

    for defect in item.get("defects", ()):
        _defect(canvas, defect, at)
    for shape in item.get("faint", ()):
        # The end of a part that is drawn whole in another row.
        canvas.path(polyline([at(p) for p in shape], close=True), "dash")
    for placement in item.get("placements", ()):
        _part(canvas, placement, look, at)
    for line in item.get("glue_lines", ()):
        canvas.path(polyline([at(p) for p in line]), "glue")
    texts = [with_unit(float(item[side]), "length", units) for side in ("length", "width")]
    under = top + width + 12
    canvas.dimension(LEFT, under, LEFT + length, under, texts[0])
    canvas.line(LEFT - 18, top, LEFT - 3, top, "hair")
    canvas.line(LEFT - 18, top + width, LEFT - 3, top + width, "hair")
    beside = LEFT - 12
    canvas.dimension(beside, top, beside, top + width, texts[1], side=-1, upright=False)


def _stock(canvas: Canvas, top: float, length: float, width: float, look: str) -> None:
    """Draw a bare sheet with its grain."""
    right, bottom = LEFT + length, top + width
    frame: list[Point] = [(LEFT, top), (right, top), (right, bottom), (LEFT, bottom)]
    early, late = texture.grain_lines(frame, 0.0, spacing=8)
    canvas.rect(LEFT, top, length, width, look)
    canvas.begin_clip(polyline(frame, close=True))
    canvas.path(early, "grain")
    canvas.path(late, "grain")
    canvas.end()
    canvas.rect(LEFT, top, length, width, "line")


def _defect(canvas: Canvas, defect: Mapping[str, Any], at: Place) -> None:
    """Hatch a bad spot crosswise: an outline, or a rectangle by two opposite corners."""
    if "polygon" in defect:
        outline = [at(p) for p in defect["polygon"]]
    else:
        (x1, y1), (x2, y2) = at(defect["low"]), at(defect["high"])
        outline = [(x1, y1), (x2, y1), (x2, y2), (x1, y2)]
    canvas.polygon(outline, "surface")
    canvas.path(texture.hatch(outline, math.pi / 4, 4), "line")
    canvas.path(texture.hatch(outline, -math.pi / 4, 4), "line")


def _part(canvas: Canvas, placement: Mapping[str, Any], look: str, at: Place) -> None:
    """Draw a part with its holes, its name and the direction of its grain."""
    outline = [at(p) for p in placement["polygon"]]
    canvas.polygon(outline, "sheet")
    canvas.polygon(outline, "ink")
    for hole in placement.get("holes", ()):
        canvas.polygon([at(p) for p in hole], look)
        canvas.polygon([at(p) for p in hole], "ink")
    text = str(placement.get("label", ""))
    if not text:
        return
    cx = sum(p[0] for p in outline) / len(outline)
    cy = sum(p[1] for p in outline) / len(outline)
    if placement.get("mirrored"):
        text += " ⇄"
    canvas.text(cx, cy + 1, text, "strong", anchor="middle", halo=True)
    canvas.line(cx - 14, cy + 8, cx + 14, cy + 8, "dim")
    canvas.arrow_head(cx + 17, cy + 8, 0.0, "mark", 6)
    canvas.arrow_head(cx - 17, cy + 8, math.pi, "mark", 6)


def _grain(canvas: Canvas, y: float) -> None:
    canvas.text(LEFT, y + 4, "grain", "name")
    canvas.arrow(LEFT + 66, y, LEFT + 34, y, "line", 7)
    canvas.arrow(LEFT + 66, y, LEFT + 98, y, "line", 7)


def _ruler(canvas: Canvas, y: float, longest: float, scale: float, units: str) -> None:
    """Draw a round length to scale at the right, where there is room for it."""
    unit = unit_for("length", units, longest)
    length = nice_step(to_unit(longest, "length", unit), 4) * KINDS["length"].units[unit]
    right = WIDTH - 16
    left = right - length * scale
    if left > LEFT + 120 + text_width("1 in"):
        ends = [(left, y - 4), (left, y), (right, y), (right, y - 4)]
        canvas.path(polyline(ends), "line")
        text = with_unit(length, "length", units)
        canvas.text(left - 6, y + 4, text, "small", anchor="end")
