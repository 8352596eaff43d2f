"""Plane polygons: convex parts, sums, offsets and straight cuts, with numpy alone.

A *loop* is an array (n, 2) of vertices without a repeated last point. The solid lies on the left
of every loop: outer loops run counter-clockwise, holes run clockwise.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
TOUCH = 1e-10
"""Points closer than this are the same point [m]."""


def area(loop: Array) -> float:
    """Return the signed area of a loop, positive counter-clockwise [m²].

    Notes
    -----
    A = 1/2 sum(x_i y_(i+1) - x_(i+1) y_i)

    Examples
    --------
    >>> area(np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 1.0], [0.0, 1.0]]))
    2.0
    """
    x, y = loop[:, 0], loop[:, 1]
    return 0.5 * float(np.dot(x, np.roll(y, -1)) - np.dot(np.roll(x, -1), y))


def orient(loop: Array, *, counter_clockwise: bool = True) -> Array:
    """Return the loop, reversed if it does not already run the given way."""
    return loop if (area(loop) > 0) == counter_clockwise else np.ascontiguousarray(loop[::-1])


def cleaned(loop: Array, *, tolerance: float = TOUCH) -> Array:
    """Return a loop without repeated vertices and vertices on a straight line.

    Parameters
    ----------
    loop
        (n, 2) [m].
    tolerance
        Vertices closer than this to each other, or to the chord of their neighbours, go [m].

    Returns
    -------
    (m, 2), with fewer than three rows if nothing is left
    """
    points = np.asarray(loop, dtype=float)
    while len(points) >= 3:
        step = points - np.roll(points, 1, axis=0)
        keep = np.hypot(step[:, 0], step[:, 1]) > tolerance
        if not keep.all():
            points = points[keep]
            continue
        following = np.roll(step, -1, axis=0)
        reach = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
        # Height of the vertex over its neighbours' chord; the chord vanishes at a needle.
        height = np.abs(_cross(step, following)) / np.maximum(
            np.hypot(reach[:, 0], reach[:, 1]), tolerance
        )
        flat = height <= tolerance
        if not flat.any():
            return points
        # Never two neighbours at once: dropping one may lift the other off its line.
        first = np.flatnonzero(flat)[0]
        points = np.delete(points, first, axis=0)
    return points


def is_simple(loop: Array) -> bool:
    """Return whether sides of the loop meet only as neighbours at their shared end."""
    n = len(loop)
    if n < 3:
        return False
    start, end = loop, np.roll(loop, -1, axis=0)
    i, j = np.triu_indices(n, 1)
    apart = (j - i > 1) & ~((i == 0) & (j == n - 1))
    i, j = i[apart], j[apart]
    if len(i) and _touching(start[i], end[i], start[j], end[j]).any():
        return False
    step = end - start
    following = np.roll(step, -1, axis=0)
    folded = (np.abs(_cross(step, following)) <= TOUCH * np.hypot(step[:, 0], step[:, 1])) & (
        np.einsum("ij,ij->i", step, following) < 0
    )
    return not bool(folded.any())


def contains(loop: Array, points: Array) -> NDArray[np.bool_]:
    """Return whether each point (m, 2) lies inside the loop (even-odd rule), edges excluded."""
    a, b = loop, np.roll(loop, -1, axis=0)
    px, py = points[:, 0, None], points[:, 1, None]
    spans = (a[:, 1] > py) != (b[:, 1] > py)
    rise = np.where(a[:, 1] == b[:, 1], 1.0, b[:, 1] - a[:, 1])
    at = a[:, 0] + (py - a[:, 1]) * (b[:, 0] - a[:, 0]) / rise
    return np.asarray(np.count_nonzero(spans & (px < at), axis=1) % 2 == 1)


def is_convex(loop: Array) -> bool:
    """Return whether a counter-clockwise loop has no inward corner."""
    step = np.roll(loop, -1, axis=0) - loop
    turn = _cross(step, np.roll(step, -1, axis=0))
    return bool((turn >= -1e-14 * np.abs(turn).max()).all())


def convex_sum(first: Array, second: Array) -> Array:
    """Return the Minkowski sum of two convex counter-clockwise loops.

    Notes
    -----
    Its sides are all sides of both loops, sorted by direction.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    >>> area(convex_sum(square, square))
    4.0
    """
    sides, start = [], np.zeros(2)
    for loop in (first, second):
        # A level lowest side may carry rounding noise; its left end is the lowest corner.
        level = 1e-12 * float(np.ptp(loop, axis=0).max())
        lowest = np.flatnonzero(loop[:, 1] <= loop[:, 1].min() + level)
        low = int(lowest[np.argmin(loop[lowest, 0])])
        start = start + loop[low]
        rolled = np.roll(loop, -low, axis=0)
        side = np.roll(rolled, -1, axis=0) - rolled
        side[np.abs(side[:, 1]) <= level, 1] = 0.0
        sides.append(side)
    steps = np.concatenate(sides)
    # The lowest, then leftmost corner starts the walk, so directions run from 0 to 2 pi.
    angle = np.arctan2(steps[:, 1], steps[:, 0])
    angle = np.where(angle < 0, angle + 2 * math.pi, angle)
    steps = steps[np.argsort(angle, kind="stable")]
    corners = start + np.concatenate([np.zeros((1, 2)), np.cumsum(steps, axis=0)[:-1]])
    return cleaned(corners)


def convex_offset(loop: Array, distance: float) -> Array:
    """Return a convex loop grown outward by `distance` [m], exactly so along its sides.

    Notes
    -----
    Sharp corners are cut by tangents to the true round corner at most 30 degrees apart, so the
    result lies outside the true offset by less than 3.6 % of the distance.
    """
    if distance == 0:
        return loop
    side = np.roll(loop, -1, axis=0) - loop
    angle = np.arctan2(-side[:, 0], side[:, 1])  # direction of the outward normal
    grown = []
    for corner, before, turn in zip(
        loop, np.roll(angle, 1), np.mod(angle - np.roll(angle, 1), 2 * math.pi), strict=True
    ):
        if turn > math.pi:  # rounding at a straight corner
            turn = 0.0
        parts = max(1, math.ceil(turn / (math.pi / 6) - 1e-9))
        half = turn / parts / 2
        direction = before + half * np.arange(1, 2 * parts, 2)
        reach = distance / math.cos(half)
        grown.append(corner + reach * np.column_stack([np.cos(direction), np.sin(direction)]))
    return cleaned(np.concatenate(grown))


def convex_parts(outer: Array, holes: tuple[Array, ...] = ()) -> list[Array]:
    """Return convex loops that together make up a polygon.

    Parameters
    ----------
    outer, holes
        Simple loops, holes inside the outer loop and apart from each other.

    Notes
    -----
    The polygon is cut into triangles (ears), which are joined while the union stays convex.
    """
    outer = orient(cleaned(outer))
    if not holes and is_convex(outer):
        return [outer]
    ring = _bridged(outer, [orient(cleaned(h), counter_clockwise=False) for h in holes])
    return [cleaned(ring[piece]) for piece in _joined(ring, _ears(ring))]


def grown_outline(loop: Array, *, tolerance: float) -> Array:
    """Return a simpler loop whose solid contains that of the given one.

    Parameters
    ----------
    loop
        (n, 2) [m].
    tolerance
        No point of the new outline lies further than this from the old solid [m].

    Notes
    -----
    A short side between two outward corners is replaced by the meeting point of its neighbours;
    an inward corner is bridged.
    """
    original = cleaned(loop)
    points = list(original)
    slack = [0.0] * len(points)  # how far the sides at a vertex may be off already

    def gain(i: int) -> tuple[float, Array | None]:
        """Return the deviation from dropping vertex i, or the side after it, and the new corner."""
        n = len(points)
        p, q, r, s = points[i - 1], points[i], points[(i + 1) % n], points[(i + 2) % n]
        before, side, after = q - p, r - q, s - r
        turn = float(_cross(before, side))
        if turn < 0:
            chord = r - p
            height = -turn / max(math.hypot(*chord), TOUCH)
            return max(slack[i - 1], slack[i], slack[(i + 1) % n]) + height, None
        meet = float(_cross(before, after))
        if float(_cross(side, after)) <= 0 or meet <= 0:
            return math.inf, None
        tip = q + float(_cross(side, after)) / meet * before
        if abs(float(_cross(side, tip - q))) > tolerance * math.hypot(*side):
            return math.inf, None
        return max(_distance(original, tip), slack[i], slack[(i + 1) % n]), tip

    costs = [gain(i) for i in range(len(points))]
    while len(points) > 4:
        best = min(range(len(points)), key=lambda i: costs[i][0])
        cost, tip = costs[best]
        if cost > tolerance:
            break
        following = (best + 1) % len(points)
        if tip is None:
            slack[best - 1] = slack[following] = cost
        else:
            points[following] = tip
        del points[best], slack[best], costs[best]
        for i in range(best - 3, best + 3):
            costs[i % len(points)] = gain(i % len(points))
    grown = np.array(points)
    return grown if is_simple(grown) and area(grown) * area(loop) > 0 else original


def cut_at(
    outer: Array, holes: tuple[Array, ...], level: float
) -> tuple[
    list[tuple[Array, tuple[Array, ...]]], list[tuple[Array, tuple[Array, ...]]], list[Array]
]:
    """Return the pieces of a polygon cut along the line y = level.

    Returns
    -------
    below, above
        Pieces as (outer, holes).
    cuts
        Segments (2, 2) of the line inside the polygon, left end first.
    """
    loops = [orient(outer)] + [orient(h, counter_clockwise=False) for h in holes]
    chains: dict[int, tuple[Array, int]] = {}
    ends: list[tuple[float, bool]] = []  # x of a crossing; True where the loop goes up
    whole: list[tuple[Array, bool]] = []
    for loop in loops:
        loop = loop.copy()
        loop[np.abs(loop[:, 1] - level) <= TOUCH, 1] = level
        high = loop[:, 1] >= level
        crossing = np.flatnonzero(high != np.roll(high, -1))
        if not len(crossing):
            whole.append((loop, bool(high[0])))
            continue
        first = len(ends)
        for i in crossing:
            p, q = loop[i], loop[(i + 1) % len(loop)]
            ends.append(
                (
                    float(p[0] + (q[0] - p[0]) * (level - p[1]) / (q[1] - p[1])),
                    bool(not high[i]),
                )
            )
        for k, i in enumerate(crossing):
            j = crossing[(k + 1) % len(crossing)]
            count = (j - i) % len(loop) or len(loop)
            run = loop[(i + 1 + np.arange(count)) % len(loop)]
            here, there = first + k, first + (k + 1) % len(crossing)
            body = np.vstack([[ends[here][0], level], run, [ends[there][0], level]])
            chains[here] = (body, there)
    partner, cuts = _paired(ends)
    sides: tuple[list[Array], list[Array]] = ([], [])
    left = set(chains)
    while left:
        start = at = left.pop()
        body, to = chains[at]
        bodies = [body]
        while partner[to] != start:
            at = partner[to]
            left.discard(at)
            body, to = chains[at]
            bodies.append(body)
        sides[ends[start][1]].append(np.vstack(bodies))
    for loop, high_side in whole:
        sides[high_side].append(loop)
    result: list[list[tuple[Array, tuple[Array, ...]]]] = []
    for side in sides:
        loops = [c for c in map(cleaned, side) if len(c) >= 3]
        solid = [c for c in loops if area(c) > TOUCH * TOUCH]
        empty = [c for c in loops if area(c) < -TOUCH * TOUCH]
        result.append([(s, tuple(h for h in empty if contains(s, h[:1])[0])) for s in solid])
    segments = [np.array([[a, level], [b, level]]) for a, b in cuts if b - a > TOUCH]
    return result[0], result[1], segments


def _paired(ends: list[tuple[float, bool]]) -> tuple[dict[int, int], list[tuple[float, float]]]:
    """Return for each entry into the solid the exit that follows it, and the segments between."""
    waiting = sorted(range(len(ends)), key=lambda k: ends[k][0])
    partner: dict[int, int] = {}
    cuts = []
    entry = -1
    want_exit = False
    while waiting:
        x = ends[waiting[0]][0]
        # Crossings at one point may come in any order; entries and exits must alternate.
        pick = next(
            (
                n
                for n, k in enumerate(waiting)
                if ends[k][0] - x <= 1e-12 and ends[k][1] == want_exit
            ),
            0,
        )
        k = waiting.pop(pick)
        if want_exit:
            partner[k], partner[entry] = entry, k
            cuts.append((ends[entry][0], ends[k][0]))
        entry, want_exit = k, not want_exit
    return partner, cuts


def _distance(loop: Array, point: Array) -> float:
    """Return the distance of a point from the nearest side of a loop."""
    side = np.roll(loop, -1, axis=0) - loop
    gap = point - loop
    share = np.einsum("ij,ij->i", gap, side) / np.einsum("ij,ij->i", side, side)
    away = gap - np.clip(share, 0.0, 1.0)[:, None] * side
    return float(np.sqrt(np.einsum("ij,ij->i", away, away).min()))


def _cross(a: Array, b: Array) -> Array:
    """Return the cross product of plane vectors (..., 2)."""
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


def _touching(a: Array, b: Array, c: Array, d: Array) -> NDArray[np.bool_]:
    """Return whether the segments a-b and c-d (m, 2 each) share a point."""
    ab, cd = b - a, d - c
    scale = TOUCH * np.maximum(np.hypot(ab[:, 0], ab[:, 1]), np.hypot(cd[:, 0], cd[:, 1]))
    p, q = _cross(ab, c - a), _cross(ab, d - a)
    r, s = _cross(cd, a - c), _cross(cd, b - c)
    boxes = (np.minimum(a, b) <= np.maximum(c, d) + TOUCH).all(axis=1) & (
        np.minimum(c, d) <= np.maximum(a, b) + TOUCH
    ).all(axis=1)
    split = (np.minimum(p, q) <= scale) & (np.maximum(p, q) >= -scale)
    return np.asarray(boxes & split & (np.minimum(r, s) <= scale) & (np.maximum(r, s) >= -scale))


def _bridged(outer: Array, holes: list[Array]) -> Array:
    """Return one loop that runs in to each hole and back along the same line."""
    ring = outer
    # Holes furthest right first: each then has a free line to the outer loop or an earlier hole.
    for k, hole in enumerate(sorted(holes, key=lambda h: -float(h[:, 0].max()))):
        rest = sorted(holes, key=lambda h: -float(h[:, 0].max()))[k:]
        starts = np.vstack([ring, *rest])
        ends = np.vstack([np.roll(loop, -1, axis=0) for loop in (ring, *rest)])
        at = int(np.argmax(hole[:, 0]))
        point = hole[at]
        for i in np.argsort(np.hypot(*(ring - point).T)):
            goal = ring[i]
            free = ~(
                (np.abs(starts - goal) <= TOUCH).all(1)
                | (np.abs(ends - goal) <= TOUCH).all(1)
                | (np.abs(starts - point) <= TOUCH).all(1)
                | (np.abs(ends - point) <= TOUCH).all(1)
            )
            m = int(free.sum())
            blocked = _touching(
                np.broadcast_to(point, (m, 2)),
                np.broadcast_to(goal, (m, 2)),
                starts[free],
                ends[free],
            ).any()
            if not blocked and _opens(ring, int(i), point):
                break
        else:
            raise ValueError("a hole cannot be reached from the outline")
        reordered = np.roll(hole, -at, axis=0)
        ring = np.vstack([ring[: i + 1], reordered, reordered[:1], ring[i:]])
    return ring


def _opens(ring: Array, i: int, point: Array) -> bool:
    """Return whether the line from vertex i to the point starts inside the solid."""
    before = ring[i] - ring[i - 1]
    after = ring[(i + 1) % len(ring)] - ring[i]
    way = point - ring[i]
    left_before, left_after = _cross(before, way) > 0, _cross(after, way) > 0
    if _cross(before, after) >= 0:
        return bool(left_before and left_after)
    return bool(left_before or left_after)


def _ears(ring: Array) -> list[list[int]]:
    """Return triangles of vertex numbers that fill a loop, which may run twice along a bridge."""
    left = list(range(len(ring)))
    triangles = []
    while len(left) > 3:
        points = ring[left]
        before, after = np.roll(points, 1, axis=0), np.roll(points, -1, axis=0)
        turn = _cross(points - before, after - points)
        ear = -1
        # Roundest first: slivers make bad convex parts later.
        longest = np.maximum(
            np.hypot(*(points - before).T),
            np.maximum(np.hypot(*(after - points).T), np.hypot(*(after - before).T)),
        )
        shape = np.where(turn > 0, turn / np.maximum(longest, TOUCH) ** 2, -1.0)
        inward = points[turn <= 0]
        for i in np.argsort(-shape):
            if shape[i] <= 0:
                break
            a, b, c = before[i], points[i], after[i]
            within = (
                (_cross(b - a, inward - a) >= 0)
                & (_cross(c - b, inward - b) >= 0)
                & (_cross(a - c, inward - c) >= 0)
            )
            corner = np.zeros(len(inward), dtype=bool)
            for p in (a, b, c):
                corner |= (np.abs(inward - p) <= TOUCH).all(1)
            if not (within & ~corner).any():
                ear = int(i)
                break
        if ear < 0:
            flat = int(np.argmin(np.abs(turn)))
            if abs(turn[flat]) > 1e-12 * float(longest.max()) ** 2:
                raise ValueError("the outline crosses itself")
            left.pop(flat)
            continue
        triangles.append([left[ear - 1], left[ear], left[(ear + 1) % len(left)]])
        left.pop(ear)
    triangles.append(left)
    return triangles


def _joined(ring: Array, pieces: list[list[int]]) -> list[list[int]]:
    """Return pieces joined across shared sides while the union stays convex."""
    live = {k: piece for k, piece in enumerate(pieces)}
    owner = {
        (piece[i], piece[(i + 1) % len(piece)]): k
        for k, piece in live.items()
        for i in range(len(piece))
    }
    span = float(np.ptp(ring, axis=0).max()) ** 2
    inner = sorted(
        (e for e in owner if (e[1], e[0]) in owner and e[0] < e[1]),
        key=lambda e: -float(np.hypot(*(ring[e[0]] - ring[e[1]]))),
    )
    for i, j in inner:
        one, two = owner[(i, j)], owner[(j, i)]
        if one == two:
            continue
        a, b = live[one], live[two]
        at, bt = a.index(j), b.index(i)
        union = (a[at:] + a[:at]) + (b[bt:] + b[:bt])[1:-1]
        loop = ring[union]
        step = np.roll(loop, -1, axis=0) - loop
        if (_cross(step, np.roll(step, -1, axis=0)) < -1e-13 * span).any():
            continue
        live[one] = union
        del live[two], owner[(i, j)], owner[(j, i)]
        for n in range(len(union)):
            edge = (union[n], union[(n + 1) % len(union)])
            if edge in owner:
                owner[edge] = one
    return list(live.values())
