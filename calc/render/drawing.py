"""From a figure's plain data to an SVG picture.

A picture is a pure function of its data: the same numbers give the same text on every machine,
at build time and in the browser. Colours come from the page's style sheet; without one, lines
are drawn in the current text colour.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from calc.render.pictures import ascent, charts, code, fin, layers, sketches
from calc.report import Figure

DRAWINGS: Mapping[str, Callable[..., str]] = {
    "fin": fin.fin,
    "mode": fin.mode,
    "chart": charts.chart,
    "bars": charts.bars,
    "ascent": ascent.ascent,
    "polar": charts.polar,
    "scatter": charts.scatter,
    "stack": layers.stack,
    "sheet": layers.sheet,
    "strip": sketches.strip,
    "log": sketches.log,
    "edges": sketches.edges,
    "joint": sketches.joint,
    "failures": sketches.failures,
    "qr": code.qr,
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
