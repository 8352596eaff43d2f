"""A drawing from a file, laid on a body, to be confirmed before it becomes a fin."""

from __future__ import annotations

import math

from calc.render.svg.axes import WIDTH
from calc.render.svg.canvas import Canvas, Point, text_width
from calc.report import Figure
from calc.wording import with_unit

TOP = 26.0
TALLEST = 260.0


def drawn(figure: Figure, *, units: str, id: str) -> str:
    """Draw the outline with its root and span, and a number at each edge that may be the root."""
    perimeter = [(float(x), float(y)) for x, y in figure.data["perimeter"]]
    first, last = (end(x for x, _ in perimeter) for end in (min, max))
    span = max(y for _, y in perimeter)
    inmost = min(0.0, *(y for _, y in perimeter))
    root = abs(perimeter[-1][0] - perimeter[0][0])
    labels = {
        name: with_unit(size, "length", units, digits=4)
        for name, size in (("root", root), ("span", span))
    }
    left = 24.0 + text_width(labels["root"])
    scale = min((WIDTH - left - 30.0) / (span - inmost), TALLEST / (last - first))

    def at(x: float, y: float) -> Point:
        return left + (y - inmost) * scale, TOP + (x - first) * scale

    bottom = at(last, 0.0)[1]
    body = at(0.0, 0.0)[0]
    canvas = Canvas(
        WIDTH,
        bottom + 52,
        id=id,
        title=figure.title,
        description=f"An outline with root {labels['root']} and span {labels['span']}; "
        f"{len(figure.data['edges'])} straight edges are numbered.",
    )
    canvas.rect(body - 9, 8, 9, bottom + 8, "tube")
    canvas.line(body, 8, body, bottom + 16, "line")
    canvas.polygon([at(x, y) for x, y in perimeter], "wood")
    canvas.polygon([at(x, y) for x, y in perimeter], "ink")
    ends = sorted((perimeter[0][0], perimeter[-1][0]))
    canvas.line(*at(ends[0], 0.0), *at(ends[1], 0.0), "glue")
    start, stop = (at(x, 0.0)[1] for x in ends)
    canvas.dimension(body - 14, start, body - 14, stop, labels["root"], side=-1)
    canvas.dimension(body, bottom + 24, at(0.0, span)[0], bottom + 24, labels["span"])
    for number, ((x1, y1), (x2, y2)) in enumerate(figure.data["edges"], 1):
        (a, b), (c, d) = at(x1, y1), at(x2, y2)
        long = math.hypot(c - a, d - b) or 1.0
        # inside the outline: beside the edge, on the side of the middle of it all
        middle = at(0.5 * (first + last), 0.5 * span)
        off = (-(d - b) / long, (c - a) / long)
        x, y = 0.5 * (a + c), 0.5 * (b + d)
        side = 11.0 if (middle[0] - x) * off[0] + (middle[1] - y) * off[1] > 0 else -11.0
        canvas.text(
            x + side * off[0], y + side * off[1] + 4.5, str(number), "strong", anchor="middle",
            halo=True,
        )  # fmt: skip
    return canvas.svg()
