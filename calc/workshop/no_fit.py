"""No-fit polygons: where a part may lie beside others on a sheet.

The *no-fit polygon* of a fixed and a moving shape holds the positions of the moving one at which
the two overlap: the Minkowski sum of the fixed shape with the moving one mirrored through the
origin, grown by the kerf. Here it is a union of convex polygons, one for each pair of convex
pieces, and the outer boundary of that union. The corners of the region that several no-fit
polygons leave free are the candidate positions of a part.

References
----------
R. C. Art, "An approach to the two dimensional irregular cutting stock problem", IBM Cambridge
Scientific Center report 36.Y08 (1966), from memory, unverified. Splitting into convex pieces and
placing at corners of the free region are common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from calc.geometry.polygons import Array, convex_offset, convex_sum
from calc.workshop.parts import TOUCH_TOL

PARALLEL_TOL = 1e-9
"""Sine of the angle below which two sides count as parallel."""
_ROWS_AT_ONCE = 256


@dataclass(frozen=True)
class NoFit:
    """Positions of one shape that overlap another: a union of convex polygons.

    Parameters
    ----------
    normals, offsets
        Half-planes (k, m, 2) and (k, m): a point p lies inside polygon k where
        ``normals @ p < offsets`` for all m.
    starts, ends
        Sides (s, 2) of the outer boundary of the union [m].
    low, high
        Corners (2,) of the bounding box [m].
    """

    normals: Array
    offsets: Array
    starts: Array
    ends: Array
    low: Array
    high: Array


@dataclass(frozen=True)
class FreeRegion:
    """Positions left free for one shape, described by their corners.

    Parameters
    ----------
    corners
        Free corners (n, 2), the candidate positions [m].
    counted
        How many parts of the sheet have been subtracted so far.
    taken
        Half-planes and bounding box of each subtracted no-fit polygon.
    starts, ends
        Sides (s, 2) of all of them within reach [m].
    """

    corners: Array
    counted: int = 0
    taken: tuple[tuple[Array, Array, Array], ...] = ()
    starts: Array = field(default_factory=lambda: np.zeros((0, 2)))
    ends: Array = field(default_factory=lambda: np.zeros((0, 2)))


def no_fit_polygon(fixed: Sequence[Array], moving: Sequence[Array], *, kerf: float) -> NoFit:
    """Return the no-fit polygon of two shapes.

    Parameters
    ----------
    fixed, moving
        Convex counter-clockwise pieces (n, 2) of each shape [m].
    kerf
        Gap to leave between them [m].

    Returns
    -------
    NoFit
        Positions of the moving shape's origin that overlap the fixed shape.
    """
    sums = [convex_offset(convex_sum(a, -b), kerf) for a in fixed for b in moving]
    most = max(map(len, sums))
    starts = np.concatenate(sums)
    ends = np.concatenate([np.roll(s, -1, axis=0) for s in sums])
    owner = np.repeat(np.arange(len(sums)), [len(s) for s in sums])
    side = ends - starts
    normal = np.column_stack([side[:, 1], -side[:, 0]]) / np.hypot(side[:, 0], side[:, 1])[:, None]
    offset = np.einsum("ij,ij->i", normal, starts)
    normals, offsets = np.zeros((len(sums), most, 2)), np.zeros((len(sums), most))
    for k in range(len(sums)):
        # Polygons with fewer sides repeat their last one.
        mine = np.flatnonzero(owner == k)
        mine = np.concatenate([mine, np.repeat(mine[-1:], most - len(mine))])
        normals[k], offsets[k] = normal[mine], offset[mine]
    if len(sums) > 1:
        starts, ends = _outer_boundary(starts, ends, owner, normals, offsets)
    return NoFit(
        normals,
        offsets,
        starts,
        ends,
        np.minimum(starts, ends).min(0),
        np.maximum(starts, ends).max(0),
    )


def rectangle(low: Array, high: Array) -> FreeRegion:
    """Return the free region of an empty sheet: all positions between two corners (2,) [m].

    The region is empty where `high` is below `low` by more than the tolerance.
    """
    if (high < low - TOUCH_TOL).any():
        return FreeRegion(np.zeros((0, 2)))
    high = np.maximum(high, low)
    return FreeRegion(
        np.array([[low[0], low[1]], [high[0], low[1]], [low[0], high[1]], [high[0], high[1]]])
    )


def subtract_no_fit(
    free: FreeRegion, no_fit: NoFit, at: Array, *, low: Array, high: Array
) -> FreeRegion:
    """Return a free region without the no-fit polygon of a part that lies on the sheet.

    Parameters
    ----------
    free
        Region before.
    no_fit
        Of the part on the sheet and the shape to place.
    at
        Position (2,) of that part [m].
    low, high
        Corners (2,) of the rectangle of possible positions [m].

    Notes
    -----
    Old corners inside the polygon go. New corners are those of the polygon itself and its
    intersections with the rectangle and with earlier polygons, unless an earlier polygon covers
    them.
    """
    box = np.stack([no_fit.low + at, no_fit.high + at])
    if (box[0] > high).any() or (box[1] < low).any():
        return free
    normals = no_fit.normals
    offsets = no_fit.offsets + normals @ at
    old = free.corners[~_inside(free.corners, normals, offsets)]
    starts, ends = _sides_in_box(no_fit.starts + at, no_fit.ends + at, low, high)
    near = _sides_in_box(free.starts, free.ends, *box)
    corners = np.concatenate(
        [
            starts,
            ends,
            _crossings_with_rectangle(starts, ends, low, high),
            _crossings(starts, ends, *near),
        ]
    )
    corners = corners[((corners >= low - TOUCH_TOL) & (corners <= high + TOUCH_TOL)).all(axis=1)]
    corners = np.minimum(np.maximum(corners, low), high)
    for other_normals, other_offsets, other_box in free.taken:
        if not len(corners):
            break
        within = ((corners > other_box[0]) & (corners < other_box[1])).all(axis=1)
        if within.any():
            within[within] = _inside(corners[within], other_normals, other_offsets)
            corners = corners[~within]
    return FreeRegion(
        corners=np.concatenate([old, _distinct(corners)]),
        counted=free.counted,
        taken=(*free.taken, (normals, offsets, box)),
        starts=np.concatenate([free.starts, starts]),
        ends=np.concatenate([free.ends, ends]),
    )


def _outer_boundary(
    starts: Array, ends: Array, owner: NDArray[np.intp], normals: Array, offsets: Array
) -> tuple[Array, Array]:
    """Return the parts of each side that lie inside no other convex polygon of the union.

    Notes
    -----
    Along a side a + t (b - a) a half-plane of another polygon reads slope t < room, so each
    polygon covers one interval of t.
    """
    outer_starts, outer_ends = [], []
    for first in range(0, len(starts), _ROWS_AT_ONCE):
        rows = slice(first, first + _ROWS_AT_ONCE)
        a, b = starts[rows], ends[rows]
        slope = np.einsum("kmj,sj->skm", normals, b - a)
        room = offsets - np.einsum("kmj,sj->skm", normals, a) - TOUCH_TOL
        with np.errstate(divide="ignore", invalid="ignore"):
            at = room / slope
        level = np.abs(slope) < 1e-13
        enter = np.where(
            level, np.where(room > 0, -np.inf, np.inf), np.where(slope < 0, at, -np.inf)
        )
        leave = np.where(level, np.inf, np.where(slope > 0, at, np.inf))
        enter, leave = np.maximum(enter.max(2), 0.0), np.minimum(leave.min(2), 1.0)
        # A polygon never covers its own sides.
        enter[np.arange(len(a)), owner[rows]] = 2.0
        covered = enter < leave
        for s in range(len(a)):
            done = 0.0
            which = np.flatnonzero(covered[s])
            for k in which[np.argsort(enter[s, which])]:
                if enter[s, k] > done:
                    outer_starts.append(a[s] + done * (b[s] - a[s]))
                    outer_ends.append(a[s] + enter[s, k] * (b[s] - a[s]))
                done = max(done, float(leave[s, k]))
            if done < 1.0:
                outer_starts.append(a[s] + done * (b[s] - a[s]))
                outer_ends.append(b[s])
    return np.array(outer_starts).reshape(-1, 2), np.array(outer_ends).reshape(-1, 2)


def _sides_in_box(starts: Array, ends: Array, low: Array, high: Array) -> tuple[Array, Array]:
    """Return the sides (s, 2) whose bounding boxes touch a box."""
    touches = (
        (np.maximum(starts, ends) >= low - TOUCH_TOL)
        & (np.minimum(starts, ends) <= high + TOUCH_TOL)
    ).all(axis=1)
    return starts[touches], ends[touches]


def _crossings_with_rectangle(starts: Array, ends: Array, low: Array, high: Array) -> Array:
    """Return the points (n, 2) where sides cross the four lines that bound a rectangle."""
    bounds = np.concatenate([low, high])
    with np.errstate(divide="ignore", invalid="ignore"):
        share = (bounds - np.tile(starts, 2)) / np.tile(ends - starts, 2)
    i, line = np.nonzero((share >= 0) & (share <= 1))
    points = starts[i] + share[i, line, None] * (ends - starts)[i]
    points[np.arange(len(i)), line % 2] = bounds[line]
    return np.asarray(points)


def _crossings(starts: Array, ends: Array, other_starts: Array, other_ends: Array) -> Array:
    """Return the points (n, 2) where two sets of sides cross.

    Notes
    -----
    Side i crosses side j at t = (gap x other) / (side x other). The crossing of nearly parallel
    sides is ill-conditioned; their ends are candidates anyway.
    """
    if not len(other_starts):
        return np.zeros((0, 2))
    side, other = ends - starts, other_ends - other_starts
    cross = np.outer(side[:, 0], other[:, 1]) - np.outer(side[:, 1], other[:, 0])
    gap_x = other_starts[:, 0] - starts[:, 0, None]
    gap_y = other_starts[:, 1] - starts[:, 1, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        t = (gap_x * other[:, 1] - gap_y * other[:, 0]) / cross
        u = (gap_x * side[:, 1, None] - gap_y * side[:, 0, None]) / cross
    i, j = np.nonzero((np.abs(t - 0.5) <= 0.5) & (np.abs(u - 0.5) <= 0.5))
    lengths = np.hypot(*side[i].T) * np.hypot(*other[j].T)
    sharp = np.abs(cross[i, j]) > PARALLEL_TOL * lengths
    i, j = i[sharp], j[sharp]
    return np.asarray(starts[i] + t[i, j, None] * side[i])


def _inside(points: Array, normals: Array, offsets: Array) -> NDArray[np.bool_]:
    """Return which points (n, 2) lie inside any of the convex polygons; touching does not count."""
    k, m, _ = normals.shape
    depth = offsets.reshape(1, -1) - points @ normals.reshape(-1, 2).T
    return np.asarray((depth.reshape(len(points), k, m).min(axis=2) > TOUCH_TOL).any(axis=1))


def _distinct(points: Array) -> Array:
    """Return points (n, 2) sorted, without repetitions."""
    if len(points) < 2:
        return points
    # By rounded places, so that every machine meets equal points in the same order.
    points = points[np.lexsort(np.round(points / TOUCH_TOL).T)]
    fresh = np.ones(len(points), dtype=bool)
    fresh[1:] = (np.abs(np.diff(points, axis=0)) > TOUCH_TOL / 10).any(axis=1)
    return np.asarray(points[fresh])
