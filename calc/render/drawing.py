"""From a figure's plain data to an SVG picture.

A picture is a pure function of its data: the same numbers give the same text on every machine,
at build time and in the browser. Colours come from the page's style sheet; without one, lines
are drawn in the current text colour.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from calc.render.svg import (
    ascent,
    bars,
    charts,
    compare,
    drawn,
    fin,
    lever,
    mode,
    polar,
    qr,
    scatter,
    sheet,
    sketches,
    stack,
    strip,
)
from calc.report import Figure

DRAWINGS: Mapping[str, Callable[..., str]] = {
    "fin": fin.fin,
    "drawn": drawn.drawn,
    "mode": mode.mode,
    "chart": charts.chart,
    "bars": bars.bars,
    "ascent": ascent.ascent,
    "polar": polar.polar,
    "scatter": scatter.scatter,
    "stack": stack.stack,
    "sheet": sheet.sheet,
    "strip": strip.strip,
    "log": sketches.log,
    "edges": sketches.edges,
    "joint": sketches.joint,
    "lever": lever.lever,
    "failures": sketches.failures,
    "qr": qr.qr,
    "outlines": compare.outlines,
    "side": compare.side_by_side,
}
"""Every kind of picture by the name a `Figure` asks for it."""


def draw(figure: Figure, *, units: str, id: str) -> str:
    """Return a figure as an SVG element.

    Parameters
    ----------
    figure
        What to draw; `figure.drawing` is a key of `DRAWINGS`.
    units
        "inch" or "metric": how sizes are lettered.
    id
        Prefix of every id inside, unique on the page; other signs than letters, digits, "-" and
        "_" are replaced.

    Raises
    ------
    KeyError
        For an unknown drawing, naming those there are.

    >>> sketch = draw(Figure("edges", "A fin's edges", "", {}), units="inch", id="a")
    >>> sketch.startswith('<svg class="fs-svg" id="a"')
    True
    """
    if figure.drawing not in DRAWINGS:
        raise KeyError(f"no drawing {figure.drawing!r}; there are: {', '.join(DRAWINGS)}")
    clean = re.sub(r"[^A-Za-z0-9_-]", "-", id) or "drawing"
    return DRAWINGS[figure.drawing](figure, units=units, id=clean)
