"""A stack of plies in section, and sheets with fins laid out on them."""

from __future__ import annotations

import math
from typing import Any

from calc.render.pictures import texture
from calc.render.pictures.canvas import Canvas, Point, polyline, text_width
from calc.render.pictures.charts import _spread_out, nice_step
from calc.render.values import unit_for, with_unit
from calc.report import Figure
from calc.units import KINDS, to_unit

WIDTH = 360.0


def stack(figure: Figure, *, units: str, id: str) -> str:
    """Draw a layup in section, top ply first, its direction told by lines and dots."""
    data = figure.data
    plies = [dict(p) for p in reversed(list(data["plies"]))]
    total = sum(float(p["thickness"]) for p in plies)
    names = [_ply_name(p) or with_unit(float(p["thickness"]), "length", units) for p in plies]
    room = 118 + 20 * min(len(plies), 12)
    least = 9.0 if len(plies) <= 12 else 4.0
    heights = [max(least, room * float(p["thickness"]) / total) for p in plies]
    true_to_scale = all(h > least for h in heights)
    left = 30 + text_width(with_unit(total, "length", units))
    right = WIDTH - 30 - max(text_width(n, "small") for n in names)
    top = 30.0
    bottom = top + sum(heights)
    middles = []
    level = top
    for h in heights:
        middles.append(level + h / 2)
        level += h
    label_levels = _spread_out(middles, 15, 24, max(bottom, 24 + 15 * len(plies)))
    height = max(bottom, label_levels[-1]) + 52
    described = "; ".join(
        f"{n}, {with_unit(float(p['thickness']), 'length', units)}"
        for n, p in zip(names, plies, strict=True)
    )
    canvas = Canvas(
        WIDTH,
        height,
        id=id,
        title=figure.title or "The layup in section",
        description=f"From the top: {described}. Together "
        f"{with_unit(total, 'length', units)}. {figure.caption}",
    )
    level = top
    for index, (ply, h) in enumerate(zip(plies, heights, strict=True)):
        look = str(ply.get("look", "wood"))
        degrees = ply.get("angle_deg")
        turn = None if degrees is None else math.radians(float(degrees))
        texture.layer(canvas, left, level, right - left, h, look, turn)
        if index:
            canvas.line(left, level, right, level, "line")
        wanted = label_levels[index]
        canvas.path(
            polyline([(right, middles[index]), (right + 8, middles[index]), (right + 16, wanted)]),
            "hair",
        )
        canvas.text(right + 20, wanted + 4, names[index], "small")
        level += h
    canvas.rect(left, top, right - left, bottom - top, "ink")
    for y in (top, bottom):
        canvas.line(left - 24, y, left - 4, y, "hair")
    canvas.dimension(left - 18, top, left - 18, bottom, with_unit(total, "length", units), side=-1)
    y = bottom + 22
    canvas.text(left, y, "0°", "small")
    canvas.arrow(left + 22, y - 4, left + 76, y - 4, "line", 7)
    if not true_to_scale:
        canvas.text(left + 88, y, "thin layers drawn thicker", "name")
    canvas.text(8, height - 8, "lines: along · dots: toward you · slants: in between", "name")
    return canvas.svg()


def _ply_name(ply: dict[str, Any]) -> str:
    degrees = ply.get("angle_deg")
    label = str(ply.get("label", ""))
    if degrees is None:
        return label
    turned = f"{float(degrees):+.0f}°" if float(degrees) not in (0.0, 90.0) else f"{degrees:.0f}°"
    return f"{turned} {label}".replace("-", "−").strip()


def sheet(figure: Figure, *, units: str, id: str) -> str:
    """Draw stock sheets with the fins laid out on them, grain along each sheet's length.

    Sheets lie with their length across the page; a long, narrow sheet is cut into rows by the
    caller, not here.
    """
    data = figure.data
    sheets = list(data["sheets"])
    longest = max(float(s["length"]) for s in sheets)
    widest = max(float(s["width"]) for s in sheets)
    scale = min((WIDTH - 62) / longest, 220.0 / widest)
    x0 = 46.0
    blocks = []
    level = 30.0
    for item in sheets:
        blocks.append(level)
        level += float(item["width"]) * scale + 50
    count = sum(len(s.get("placements", ())) for s in sheets)
    canvas = Canvas(
        WIDTH,
        level + 12,
        id=id,
        title=figure.title or "Cutting plan",
        description=f"{len(sheets)} sheet(s) with {count} piece(s) laid out, grain along the "
        f"length of each sheet. {figure.caption}",
    )
    for item, top in zip(sheets, blocks, strict=True):
        length, width = float(item["length"]) * scale, float(item["width"]) * scale
        frame: list[Point] = [
            (x0, top),
            (x0 + length, top),
            (x0 + length, top + width),
            (x0, top + width),
        ]
        early, late = texture.grain_lines(frame, 0.0, spacing=8)
        look = str(item.get("look", "wood"))
        canvas.rect(x0, top, length, width, look)
        canvas.begin_clip(polyline(frame, close=True))
        canvas.path(early, "grain")
        canvas.path(late, "grain")
        canvas.end()
        canvas.rect(x0, top, length, width, "line")
        label = str(item.get("label", ""))
        if label:
            canvas.text(x0, top - 8, label, "label")

        def at(p: Any, top: float = top) -> Point:
            return x0 + float(p[0]) * scale, top + float(p[1]) * scale

        for defect in item.get("defects", ()):
            outline = [at(p) for p in defect["polygon"]] if "polygon" in defect else None
            if outline is None:
                (x1, y1), (x2, y2) = at(defect["low"]), at(defect["high"])
                outline = [(x1, y1), (x2, y1), (x2, y2), (x1, y2)]
            canvas.polygon(outline, "surface")
            canvas.path(texture.hatch(outline, math.pi / 4, 4), "line")
            canvas.path(texture.hatch(outline, -math.pi / 4, 4), "line")
        for place in item.get("placements", ()):
            outline = [at(p) for p in place["polygon"]]
            canvas.polygon(outline, "sheet")
            canvas.polygon(outline, "ink")
            for hole in place.get("holes", ()):
                canvas.polygon([at(p) for p in hole], look)
                canvas.polygon([at(p) for p in hole], "ink")
            text = str(place.get("label", ""))
            if not text:
                # The rest of a part that is named in another row.
                continue
            cx = sum(p[0] for p in outline) / len(outline)
            cy = sum(p[1] for p in outline) / len(outline)
            if place.get("mirrored"):
                text += " ⇄"
            canvas.text(cx, cy + 1, text, "strong", anchor="middle", halo=True)
            canvas.line(cx - 14, cy + 8, cx + 14, cy + 8, "dim")
            canvas.arrow_head(cx + 17, cy + 8, 0.0, "mark", 6)
            canvas.arrow_head(cx - 17, cy + 8, math.pi, "mark", 6)
        for line in item.get("glue_lines", ()):
            canvas.path(polyline([at(p) for p in line]), "glue")
        canvas.dimension(
            x0,
            top + width + 12,
            x0 + length,
            top + width + 12,
            with_unit(float(item["length"]), "length", units),
        )
        canvas.line(x0 - 18, top, x0 - 3, top, "hair")
        canvas.line(x0 - 18, top + width, x0 - 3, top + width, "hair")
        canvas.dimension(
            x0 - 12,
            top,
            x0 - 12,
            top + width,
            with_unit(float(item["width"]), "length", units),
            side=-1,
            upright=False,
        )
    y = level - 2
    canvas.text(x0, y + 4, "grain", "name")
    canvas.arrow(x0 + 66, y, x0 + 34, y, "line", 7)
    canvas.arrow(x0 + 66, y, x0 + 98, y, "line", 7)
    unit = unit_for("length", units, longest)
    ruler = nice_step(to_unit(longest, "length", unit), 4) * KINDS["length"].units[unit]
    x2 = WIDTH - 16
    x1 = x2 - ruler * scale
    if x1 > x0 + 120 + text_width("1 in"):
        canvas.path(polyline([(x1, y - 4), (x1, y), (x2, y), (x2, y - 4)]), "line")
        canvas.text(x1 - 6, y + 4, with_unit(ruler, "length", units), "small", anchor="end")
    return canvas.svg()
