"""Glue-line planning: divide a part that is wider than any sheet into strips along the grain.

Not modelled: wood lost when the edges of a glue joint are trued.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.errors import InputError
from calc.geometry.polygons import Array, cut_at
from calc.workshop.parts import TOUCH_TOL, GlueLine, Part, rotation

Outline = tuple[Array, tuple[Array, ...]]
"""Outer loop and holes."""

EXTRA_STRIPS = 2
"""Most strips beyond the fewest possible that are accepted to keep glue lines clear of corners."""
MAX_NARROWING = 3.0
"""Mean width of the strips over the least width of one."""
CANDIDATE_LINES = 201
"""Evenly spaced positions tried for a glue line, beside those that follow from the part."""
ROOT_CROSSING_COST = 10.0
"""Cost of a glue line that crosses the root; a shift by the whole height of the part costs 1."""


@dataclass(frozen=True)
class Strips:
    """A part divided into strips.

    Parameters
    ----------
    pieces
        Outer loop and holes of each strip, in the part's coordinates [m].
    glue_lines
        Lines between neighbouring strips, from the part's lowest edge upward.
    notes
        Sentences to show with the plan.
    """

    pieces: tuple[Outline, ...]
    glue_lines: tuple[GlueLine, ...]
    notes: tuple[str, ...]


def divide_into_strips(
    part: Part, *, width: float, corner_clearance: float = 0.01, number: int = 0
) -> Strips:
    """Return a part divided into strips along the grain, each no wider than a sheet.

    The division has the fewest strips, of nearly equal width, that keep every glue line away from
    the `keep_clear` points and, where possible, off the root edge. Up to `EXTRA_STRIPS` more are
    accepted for the clearance. Where that fails the strips are equal and a note says so.

    Parameters
    ----------
    part
        With a grain direction.
    width
        Greatest strip width [m].
    corner_clearance
        Least distance of a glue line from a `keep_clear` point [m].
    number
        Index of the part, copied into the glue lines.

    Returns
    -------
    Strips
        Pieces, glue lines and notes.

    Raises
    ------
    InputError
        If the part has no grain direction.
    """
    if part.grain is None:
        raise InputError("grain", None, "a grain direction for a part that is glued up from strips")
    turn = rotation(-part.grain)
    loop = part.loop @ turn.T
    holes = tuple(h @ turn.T for h in part.hole_loops)
    base, height = float(loop[:, 1].min()), float(np.ptp(loop[:, 1]))
    corners = np.asarray(part.keep_clear, dtype=float).reshape(-1, 2) @ turn.T
    root = None if part.root is None else np.asarray(part.root, dtype=float) @ turn.T
    span = None if root is None else sorted((root[:, 1] - base).tolist())
    notes: list[str] = []
    fewest = math.ceil(height / width - 1e-9)
    lines = _placed_lines(
        fewest,
        height=height,
        width=width,
        avoid=corners[:, 1] - base,
        clearance=corner_clearance,
        root=span,
    )
    if lines is None:
        lines = [height * k / fewest for k in range(1, fewest)]
        notes.append(
            f"{part.name}: no division into strips keeps the glue lines "
            f"{corner_clearance * 1000:.0f} mm from the tip corners; the strips are equal instead."
        )
    pieces: list[Outline] = []
    glue_lines: list[GlueLine] = []
    rest: list[Outline] = [(loop, holes)]
    for index, line in enumerate(lines):
        above: list[Outline] = []
        segments: list[Array] = []
        for outer, inner in rest:
            low, high, cuts = cut_at(outer, inner, base + line)
            pieces += low
            above += high
            segments += cuts
        rest = above
        glue_lines.append(
            GlueLine(
                part=number,
                across=line,
                segments=tuple(
                    ((float(s[0, 0]), float(s[0, 1])), (float(s[1, 0]), float(s[1, 1])))
                    for s in (c @ turn for c in segments)
                ),
                length=sum(float(s[1, 0] - s[0, 0]) for s in segments),
                root_crossings=_root_crossings(root, base=base, line=line),
                mark=f"{index + 1}",
            )
        )
    pieces += rest
    crossings = [f"{x * 1000:.1f} mm" for line in glue_lines for x in line.root_crossings]
    if crossings:
        notes.append(
            f"{part.name}: the grain crosses the root, so the glue lines meet it "
            f"{', '.join(crossings)} from its front end."
        )
    return Strips(
        pieces=tuple((outer @ turn, tuple(h @ turn for h in inner)) for outer, inner in pieces),
        glue_lines=tuple(glue_lines),
        notes=tuple(notes),
    )


def _root_crossings(root: Array | None, *, base: float, line: float) -> tuple[float, ...]:
    """Return how far from its first point a root edge (2, 2) is crossed by a glue line [m]."""
    if root is None:
        return ()
    low, high = sorted((root[:, 1] - base).tolist())
    if not low < line < high:
        return ()
    share = (base + line - root[0, 1]) / (root[1, 1] - root[0, 1])
    return (float(share * np.hypot(*(root[1] - root[0]))),)


def _placed_lines(
    fewest: int,
    *,
    height: float,
    width: float,
    avoid: Array,
    clearance: float,
    root: list[float] | None,
) -> list[float] | None:
    """Return the heights of the glue lines for the fewest strips that keep the clearance, or None.

    Parameters
    ----------
    fewest
        Fewest strips to try.
    height, width
        Height of the part across the grain and greatest width of a strip [m].
    avoid, clearance
        Heights (n,) to avoid and by how much [m].
    root
        Lowest and highest point of the root edge [m].
    """
    for count in range(fewest, fewest + EXTRA_STRIPS + 1):
        if count == 1:
            return []
        lines = _candidate_lines(count, height, width, avoid, clearance, root)
        found = _cheapest_lines(lines, count, height, width, root) if len(lines) else None
        if found is not None:
            return found
    return None


def _candidate_lines(
    count: int,
    height: float,
    width: float,
    avoid: Array,
    clearance: float,
    root: list[float] | None,
) -> Array:
    """Return every height (n,) considered for a glue line, sorted; all keep the clearance."""
    inner = np.arange(1, count)
    heights = np.unique(
        np.concatenate(
            [
                avoid - clearance,
                avoid + clearance,
                height / count * inner,
                width * inner,
                height - width * inner,
                np.array(root or ()),
                np.linspace(0, height, CANDIDATE_LINES),
            ]
        )
    )
    heights = heights[(heights > 0) & (heights < height)]
    clear = np.abs(heights[:, None] - avoid) >= clearance - TOUCH_TOL
    return np.asarray(heights[clear.all(axis=1)])


def _cheapest_lines(
    lines: Array, count: int, height: float, width: float, root: list[float] | None
) -> list[float] | None:
    """Return the `count` - 1 of the lines (n,) nearest to equal strips, or None if none fit.

    Notes
    -----
    Dynamic programming over the lines from the lowest up. The cost is the sum of the squared
    shifts from equal strips, as shares of the height, and `ROOT_CROSSING_COST` for each crossing.
    """
    least, most = height / count / MAX_NARROWING, width + TOUCH_TOL

    def allowed(strip: Array) -> NDArray[np.bool_]:
        return np.asarray((strip <= most) & (strip >= least))

    crossing = np.zeros(len(lines))
    if root is not None:
        crosses = (lines > root[0] + TOUCH_TOL) & (lines < root[1] - TOUCH_TOL)
        crossing = ROOT_CROSSING_COST * crosses
    shifts = [
        ((lines - even) / height) ** 2 + crossing for even in height / count * np.arange(1, count)
    ]
    cost = np.where(allowed(lines), shifts[0], np.inf)
    strip = lines[None, :] - lines[:, None]
    previous: list[NDArray[np.intp]] = []
    for shift in shifts[1:]:
        step = np.where(allowed(strip), cost[:, None], np.inf)
        previous.append(np.argmin(step, axis=0))
        cost = step.min(axis=0) + shift
    cost = np.where(allowed(height - lines), cost, np.inf)
    at = int(np.argmin(cost))
    if not math.isfinite(cost[at]):
        return None
    chosen = [float(lines[at])]
    for back in reversed(previous):
        at = int(back[at])
        chosen.append(float(lines[at]))
    return chosen[::-1]
