"""A square code for a telephone's camera."""

from __future__ import annotations

from calc.render.svg.canvas import Canvas
from calc.report import Figure
from calc.workshop.qr import QUIET

MODULE = 4
"""Side of one module in drawing units."""


def qr(figure: Figure, *, units: str, id: str) -> str:
    """Draw a QR code with its quiet zone; the style sheet keeps it black on white.

    `figure.data`: "rows", texts of "0" and "1"; "text", what the code says.
    """
    rows = [str(row) for row in figure.data["rows"]]
    side = (len(rows) + 2 * QUIET) * MODULE
    canvas = Canvas(
        side, side, id=id, title=figure.title, description=f"The code holds: {figure.data['text']}"
    )
    canvas.rect(0, 0, side, side, "code-ground")
    # one path for the whole code: runs of dark modules, so that no hairlines show between them
    parts = []
    for line, row in enumerate(rows):
        start = 0
        while (start := row.find("1", start)) >= 0:
            end = row.find("0", start)
            end = len(row) if end < 0 else end
            x, y = (start + QUIET) * MODULE, (line + QUIET) * MODULE
            width = (end - start) * MODULE
            parts.append(f"M{x} {y}h{width}v{MODULE}h-{width}z")
            start = end
    canvas.path("".join(parts), "code")
    return canvas.svg()
