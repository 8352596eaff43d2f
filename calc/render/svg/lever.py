"""A scrap fin on a tube, pulled at a lever arm until its joint breaks."""

from __future__ import annotations

import math

from calc.render.svg import texture
from calc.render.svg.axes import WIDTH
from calc.render.svg.canvas import Canvas, polyline
from calc.report import Figure
from calc.wording import with_unit

CX, CY, RADIUS, WALL = 104.0, 112.0, 52.0, 5.0
"""Middle, outer radius and wall of the tube, as drawn."""
HALF, TIP = 6.0, 330.0
"""Half of the scrap's thickness, and where it ends."""
PULL = 292.0
"""Where the load hangs."""


def lever(figure: Figure, *, units: str, id: str) -> str:
    """Draw the test seen along the tube: tube in a cradle, scrap level, a bag hung from it."""
    canvas = Canvas(
        WIDTH,
        262,
        id=id,
        title=figure.title or "Break a joint",
        description="Seen along the tube, which lies strapped in a cradle: a scrap fin stands out "
        "level from its side, with fillets, and a bag hangs from it at the lever arm, measured "
        f"from the tube's surface. {figure.caption}",
    )
    block = [(30.0, 208.0), (44, 118), (62, 152), (146, 152), (164, 118), (178, 208)]
    canvas.polygon(block, "sheet")
    canvas.polygon(block, "ink")
    for radius, kind in ((RADIUS, "paper"), (RADIUS, "line"), (RADIUS - WALL, "line")):
        canvas.circle(CX, CY, radius, kind)
    strap = [
        (CX + (RADIUS + 4) * math.sin(a), CY - (RADIUS + 4) * math.cos(a))
        for a in (math.radians(-70 + 5 * k) for k in range(27))
    ]
    canvas.path(polyline([(44.0, 118.0), *strap]), "second")
    canvas.text(16, 56, "strap", "small")
    surface = CX + RADIUS
    fin = [(surface, CY - HALF), (TIP, CY - HALF), (TIP, CY + HALF), (surface, CY + HALF)]
    for side in (-1, 1):
        corner = CY + side * HALF
        bow = [
            (surface - 3 + 18 * (1 - math.sin(t)), corner + side * 18 * (1 - math.cos(t)))
            for t in (math.pi * k / 16 for k in range(9))
        ]
        canvas.path(polyline([(surface - 3, corner), *bow], close=True), "fillet")
    texture.face(canvas, fin, "wood", 0.0)
    canvas.polygon(fin, "ink")
    canvas.line(surface, CY - HALF, surface, CY + HALF, "glue")
    canvas.text(232, CY - 16, "scrap", "label", halo=True)
    canvas.line(PULL, CY - HALF - 4, PULL, CY + HALF + 46, "line")
    bag = [(PULL - 20, 206.0), (PULL - 10, 172), (PULL, 160), (PULL + 10, 172), (PULL + 20, 206)]
    canvas.polygon(bag, "surface")
    canvas.polygon(bag, "ink")
    canvas.text(PULL, 224, "sand or water", "small", anchor="middle")
    arm = figure.data.get("lever")
    words = "lever arm" if arm is None else with_unit(float(arm), "length", units)
    canvas.line(surface, 60, surface, CY - HALF - 24, "hair")
    canvas.line(PULL, 60, PULL, CY - HALF - 6, "hair")
    canvas.dimension(surface, 66, PULL, 66, words, side=-1)
    canvas.text(CX, CY + 4, "tube", "name", anchor="middle")
    canvas.text(180, 252, "fill the bag slowly until the joint lets go", "name", anchor="middle")
    return canvas.svg()
