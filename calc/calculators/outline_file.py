"""A fin's outline from a file on the device: the inputs that it becomes, and what to confirm."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, cast

import numpy as np

from calc.calculators import shared
from calc.calculators.lists import LONGEST
from calc.errors import InputError
from calc.forms import Choice, Input
from calc.report import Figure
from calc.units import to_unit
from calc.workshop import drawing_file
from calc.workshop.drawing_file import (
    CURVE_TOLERANCE,
    MOST_BYTES,
    MOST_CORNERS,
    UNITS,
    Drawn,
    Placed,
)

__all__ = ["MOST_BYTES", "OPTIONS", "Taken", "take"]

OPTIONS = (
    Input(
        "unit",
        "One unit of the drawing is",
        "choice",
        "file",
        choices=(
            Choice("file", "as the file says"),
            Choice("mm", "1 mm"),
            Choice("cm", "1 cm"),
            Choice("in", "1 in"),
            Choice("px", "1 px, 96 to the inch"),
            Choice("pt", "1 pt, 72 to the inch"),
            Choice("root", "found from the root's length"),
        ),
    ),
    Input(
        "length",
        "Length of the root",
        "length",
        "3 in",
        unit="in",
        low=0.005,
        high=2.0,
        shown_when={"unit": ("root",)},
    ),
    Input(
        "edge",
        "The edge on the body",
        "choice",
        "longest",
        choices=(
            Choice("longest", "the longest"),
            Choice("lowest", "the lowest on the drawing"),
            *(Choice(str(n + 1), f"number {n + 1}") for n in range(drawing_file.MOST_ROOTS)),
        ),
    ),
    Input(
        "turned",
        "Front and rear",
        "choice",
        "no",
        choices=(Choice("no", "the fin trails"), Choice("yes", "the other way round")),
    ),
)
"""What the reader says about a drawing: its scale, its root and which end is the front."""

_LOOSER = (1.0, 2.0, 5.0, 10.0)
"""Multiples of the tolerance tried until the corners are few enough."""
_WAYS = ((True, 0.0), (True, 1e-5), (True, 2e-4), (False, 0.0))
"""Whether arcs become rounded corners, and by what share their radii give way, in turn."""


@dataclass(frozen=True)
class Taken:
    """What a file became under the reader's choices.

    Parameters
    ----------
    inputs
        Texts for ``outline``, ``points`` and ``radius``; empty where something is wrong.
    notes
        What the reader should know.
    errors
        What is wrong, under "file" or the name of an option.
    figure
        The outline to confirm, where there is one.
    edges
        Lengths of the edges that may be the root [m], the longest first.
    """

    inputs: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    errors: Mapping[str, InputError] = field(default_factory=dict)
    figure: Figure | None = None
    edges: tuple[float, ...] = ()


def take(data: bytes, filename: str, texts: Mapping[str, str]) -> Taken:
    """Return the inputs of the fin in a file, under the options given as texts."""
    values: dict[str, Any] = {}
    errors: dict[str, InputError] = {}
    for item in OPTIONS:
        if not item.applies(values):
            values[item.name] = None
            continue
        try:
            values[item.name] = item.read(texts.get(item.name, item.default))
        except InputError as problem:
            errors[item.name] = problem
    if unknown := set(texts) - {item.name for item in OPTIONS}:
        known = ", ".join(item.name for item in OPTIONS)
        errors["file"] = InputError("option", min(unknown), f"one of the options {known}")
    try:
        drawn = drawing_file.read(data, filename)
    except InputError as problem:
        return Taken(errors={"file": problem})
    if errors:
        return Taken(errors=errors)
    try:
        root = _root(drawn, values["edge"])
    except InputError as problem:
        return Taken(errors={problem.name: problem}, edges=_lengths(drawn, drawn.unit))
    unit, inch = _unit(drawn, values, root)
    return _taken(drawn, root, unit, inch, turned=values["turned"] == "yes")


def _root(drawn: Drawn, edge: str) -> int:
    if edge in ("longest", "lowest"):
        return 0 if edge == "longest" else drawn.lowest()
    if int(edge) > len(drawn.roots):
        count = len(drawn.roots)
        accepts = f"an edge from 1 to {count}" if count > 1 else "edge 1, the only straight one"
        raise InputError("edge", edge, accepts)
    return int(edge) - 1


def _unit(drawn: Drawn, values: Mapping[str, Any], root: int) -> tuple[float, bool]:
    """Return the length of the drawing's unit [m], and whether corners read better in inches."""
    choice = values["unit"]
    if choice == "root":
        start, end = drawn.roots[root]
        return values["length"] / abs(end - start), False
    unit = drawn.unit if choice == "file" else UNITS[choice]
    return unit, abs(unit / UNITS["in"] - 1.0) < 1e-9


def _lengths(drawn: Drawn, unit: float) -> tuple[float, ...]:
    return tuple(unit * abs(end - start) for start, end in drawn.roots)


def _taken(drawn: Drawn, root: int, unit: float, inch: bool, *, turned: bool) -> Taken:
    edges = _lengths(drawn, unit)
    notes = [f"The file: {drawn.said}.", *drawn.notes]
    problem: InputError | None = None
    laid: Placed | None = None
    for arcs, slack in _WAYS:
        for looser in _LOOSER:
            tolerance = looser * CURVE_TOLERANCE
            try:
                laid = drawing_file.placed(
                    drawn, unit=unit, root=root, turned=turned, arcs=arcs, tolerance=tolerance,
                    slack=slack,
                )  # fmt: skip
                inputs = _inputs(laid, inch=inch)
                off = _checked(inputs, laid)
            except _TooMany:
                continue
            except InputError as found:
                problem = problem or found
                break
            if off > tolerance:
                break
            notes.append(_exactness(laid, off))
            return Taken(inputs, tuple(notes), figure=_figure(laid), edges=edges)
    if problem is None:
        problem = InputError(
            "file", "this file", f"a simpler outline: {MOST_CORNERS} corners do not carry this one"
        )
    name = problem.name if problem.name in ("edge", "unit") else "file"
    if name == "file" and len(drawn.roots) > 1:
        problem = InputError(name, "this file", f"another edge as the root, or {problem.accepts}")
    figure = None if laid is None else _figure(laid)
    return Taken(notes=tuple(notes), errors={name: problem}, figure=figure, edges=edges)


class _TooMany(Exception):
    """More corners than an outline may have."""


def _inputs(laid: Placed, *, inch: bool) -> dict[str, str]:
    """Return the inputs as they could be typed."""
    unit, digits = ("in", 4) if inch else ("mm", 3)

    def text(size: float) -> str:
        return f"{round(to_unit(size, 'length', unit), digits) + 0.0:.10g}"

    points = " ".join(f"{text(x)},{text(y)}" for x, y in laid.corners) + f" {unit}"
    item = next(item for item in shared.OUTLINE if item.name == "points")
    if len(laid.corners) > MOST_CORNERS or len(points) > item.longest:  # type: ignore[attr-defined]
        raise _TooMany
    radii = [text(radius) for radius in laid.radii]
    radius = " ".join(radii if any(laid.radii) else ["0"]) + f" {unit}"
    if any(laid.radii) and (len(radii) > 30 or len(radius) > LONGEST):
        raise _TooMany
    return {"outline": "corners", "points": points, "radius": radius}


def _checked(inputs: Mapping[str, str], laid: Placed) -> float:
    """Return how far the fin of these inputs lies from the drawing [m]; refuses what is no fin."""
    values: dict[str, Any] = {"outline": "corners"}
    for item in shared.OUTLINE:
        if item.name in ("points", "radius"):
            values[item.name] = item.read(inputs[item.name])
    shape = shared.outline_of(cast(shared.OutlineValues, values))
    return drawing_file.deviation(laid.samples, shape.perimeter(5e-6))


def _exactness(laid: Placed, off: float) -> str:
    count = len(laid.corners)
    rounded = sum(radius > 0.0 for radius in laid.radii)
    said = f"{count} corners" + (f", {rounded} of them rounded," if rounded else "")
    return f"{said} carry the outline to within {max(math.ceil(1e5 * off), 1) / 100:.2f} mm."


def _figure(laid: Placed) -> Figure:
    """Return the picture to confirm: the drawing itself on a body, its straight edges numbered."""
    samples = laid.samples
    size = float(np.ptp(samples, axis=0).max())
    # a picture needs no more points than it has dots
    step = max(1, len(samples) // 800)
    return Figure(
        "drawn",
        "The drawing, laid on the body",
        "The nose is at the top. Numbers mark the straight edges; the one on the body is the root.",
        {
            "perimeter": [*samples[:-1:step].tolist(), samples[-1].tolist()],
            "edges": [[[z.real, z.imag] for z in ends] for ends in laid.roots],
            "size": size,
        },
    )
