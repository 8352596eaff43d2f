"""A stack of plies in section."""

from __future__ import annotations

import math
from typing import Any

from calc.render.svg import texture
from calc.render.svg.axes import WIDTH, length_text, spread_out
from calc.render.svg.canvas import Canvas, polyline, text_width
from calc.report import Figure


def stack(figure: Figure, *, units: str, id: str) -> str:
    """Draw a layup in section, top ply first, its direction shown by lines and dots."""
    data = figure.data
    plies = [dict(p) for p in reversed(list(data["plies"]))]
    total = sum(float(p["thickness"]) for p in plies)
    names = [_ply_name(p) or length_text(float(p["thickness"]), units) for p in plies]
    room = 118 + 20 * min(len(plies), 12)
    least = 9.0 if len(plies) <= 12 else 4.0
    heights = [max(least, room * float(p["thickness"]) / total) for p in plies]
    true_to_scale = all(h > least for h in heights)
    left = 30 + text_width(length_text(total, units))
    right = WIDTH - 30 - max(text_width(n, "small") for n in names)
    top = 30.0
    bottom = top + sum(heights)
    middles = []
    level = top
    for h in heights:
        middles.append(level + h / 2)
        level += h
    label_levels = spread_out(middles, 15, 24, max(bottom, 24 + 15 * len(plies)))
    height = max(bottom, label_levels[-1]) + 52
    described = "; ".join(
        f"{n}, {length_text(float(p['thickness']), units)}"
        for n, p in zip(names, plies, strict=True)
    )
    canvas = Canvas(
        WIDTH,
        height,
        id=id,
        title=figure.title or "The layup in section",
        description=f"From the top: {described}. Together "
        f"{length_text(total, units)}. {figure.caption}",
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
    canvas.dimension(left - 18, top, left - 18, bottom, length_text(total, units), side=-1)
    y = bottom + 22
    canvas.text(left, y, "0°", "small")
    canvas.arrow(left + 22, y - 4, left + 76, y - 4, "line", 7)
    if not true_to_scale:
        thin = "thin layers drawn thicker"
        canvas.text(min(left + 88, WIDTH - 2 - text_width(thin, "name")), y, thin, "name")
    canvas.text(8, height - 8, "lines: along · dots: toward you · slants: in between", "name")
    return canvas.svg()


def _ply_name(ply: dict[str, Any]) -> str:
    degrees = ply.get("angle_deg")
    label = str(ply.get("label", ""))
    if degrees is None:
        return label
    turned = f"{float(degrees):+.0f}°" if float(degrees) not in (0.0, 90.0) else f"{degrees:.0f}°"
    return f"{turned} {label}".replace("-", "−").strip()
