"""Fins of any outline: edges as chains of straight lines and arcs.

Coordinates as in `calc.geometry.outline`. Areas and first moments are exact.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from calc.errors import InputError
from calc.geometry.outline import SMOOTH, Array, Frame, Outline, Segment, Strips
from calc.geometry.planform import Planform
from calc.numerics.quadrature import gauss_legendre

LEVEL = 1e-9
"""Heights closer than this share of the span count as the same."""
NECK = 0.15
"""Least chord over any longer chord farther out; a fin with a thinner neck is refused."""
DEEPEST_NOTCH = 0.6
"""Largest share of the chord by which an edge may cut into the straight-sided fin around it."""


@dataclass(frozen=True)
class Piece:
    """A line or an arc: ``x = x0 + slope (y - y0) + reach sqrt(1 - ((y - y0)/height)²)``.

    Parameters
    ----------
    low, high
        Range of y [m].
    x, y
        The centre (x0, y0) of an arc, or a point of a line [m].
    slope
        dx/dy of a line; how far an ellipse leans per height.
    reach
        Half axis of an arc along x [m]: negative ahead of the centre, 0 for a line.
    height
        Half axis of an arc along y [m].
    """

    low: float
    high: float
    x: float
    y: float
    slope: float = 0.0
    reach: float = 0.0
    height: float = 1.0

    def at(self, y: Array) -> Array:
        """Return x [m] at distances y from the body [m]."""
        up = y - self.y
        line = self.x + self.slope * up
        if self.reach == 0.0:
            return np.asarray(line)
        return np.asarray(line + self.reach * np.sqrt(np.maximum(1.0 - (up / self.height) ** 2, 0)))

    def integrals(self, y: Array) -> tuple[Array, Array]:
        """Return antiderivatives of x and of x y at distances y from the body."""
        up = y - self.y
        first = self.x * up + 0.5 * self.slope * up**2
        second = 0.5 * self.x * up**2 + self.slope * up**3 / 3.0
        if self.reach:
            t = np.clip(up / self.height, -1.0, 1.0)
            rest = np.sqrt(1.0 - t**2)
            first = first + 0.5 * self.reach * self.height * (t * rest + np.arcsin(t))
            second = second - self.reach * self.height**2 * rest**3 / 3.0
        return first, self.y * first + second

    def segment(self) -> Segment:
        """Return the piece from its inner to its outer end, an arc as an arc."""
        ends = np.array([self.low, self.high])
        start, end = ((float(x), float(y)) for x, y in zip(self.at(ends), ends, strict=True))
        if self.reach == 0.0:
            return start, end
        along = self.x + self.reach, self.y
        up = self.x + self.slope * self.height, self.y + self.height
        return start, end, (self.x, self.y), along, up

    def polygon(self, tolerance: float) -> Array:
        """Return points (n, 2) [m] along the piece, its two ends among them."""
        if self.reach == 0.0:
            y = np.array([self.low, self.high])
            return np.column_stack([self.at(y), y])
        low, high = (
            math.asin(min(max((y - self.y) / self.height, -1.0), 1.0))
            for y in (self.low, self.high)
        )
        radius = math.hypot(max(abs(self.reach), self.height), self.slope * self.height)
        step = 2.0 * math.acos(max(1.0 - tolerance / radius, 0.0))
        y = self.y + self.height * np.sin(np.linspace(low, high, 2 + int((high - low) / step)))
        y[0], y[-1] = self.low, self.high
        return np.column_stack([self.at(y), y])


@dataclass(frozen=True)
class EdgeLine:
    """The leading or the trailing edge, from the body to the tip, as a chain of pieces."""

    pieces: tuple[Piece, ...]

    @property
    def breaks(self) -> tuple[float, ...]:
        """Return the distances from the body where pieces begin, and the last one's end [m]."""
        return (*(piece.low for piece in self.pieces), self.pieces[-1].high)

    def _by_piece(self, y: Array) -> npt.NDArray[np.intp]:
        return np.clip(
            np.searchsorted(self.breaks[1:-1], y, side="right"), 0, len(self.pieces) - 1
        ).astype(np.intp)

    def at(self, y: npt.ArrayLike) -> Array:
        """Return x [m] at distances y from the body [m]."""
        where = np.asarray(y, dtype=float)
        if len(self.pieces) == 1:
            return self.pieces[0].at(where)
        own, x = self._by_piece(where), np.empty_like(where)
        for number, piece in enumerate(self.pieces):
            mine = own == number
            x[mine] = piece.at(where[mine])
        return x

    def integrals(self, y: Array) -> tuple[Array, Array]:
        """Return the integrals of x [m²] and of x y [m³] from the body to distances y [m]."""
        own = self._by_piece(y)
        first, second = np.empty_like(y), np.empty_like(y)
        before = np.zeros(2)
        for number, piece in enumerate(self.pieces):
            mine = own == number
            start, stop = (
                np.array(piece.integrals(np.array([end]))).ravel()
                for end in (piece.low, piece.high)
            )
            inner = piece.integrals(y[mine])
            first[mine] = before[0] + inner[0] - start[0]
            second[mine] = before[1] + inner[1] - start[1]
            before = before + stop - start
        return first, second

    def polygon(self, tolerance: float) -> Array:
        """Return points (n, 2) [m] along the edge from the body to the tip."""
        parts = [piece.polygon(tolerance) for piece in self.pieces]
        return np.concatenate([*(part[:-1] for part in parts[:-1]), parts[-1]])


@dataclass(frozen=True)
class FreeOutline(Outline):
    """A fin whose edges are chains of straight lines and arcs.

    Parameters
    ----------
    leading, trailing
        The edges, both from the body at y = 0 to the tip; the leading edge starts at x = 0.
    lean
        Sweep of the line from which the grain is measured [rad].
    grain_datum
        Its name.
    corners
        Corners (x, y, radius) [m] before they were rounded, from the root's front to its rear; of
        an ellipse the ends of its root.

    Examples
    --------
    >>> half = ellipse(root=0.1, span=0.06, sweep=0.0)
    >>> round(half.area / (math.pi / 4 * 0.1 * 0.06), 12)
    1.0
    """

    leading: EdgeLine
    trailing: EdgeLine
    lean: float
    grain_datum: str = "the leading edge"
    corners: tuple[tuple[float, float, float], ...] = ()
    root: float = field(init=False, compare=False)
    tip: float = field(init=False, compare=False)
    span: float = field(init=False, compare=False)
    sweep: float = field(init=False, compare=False)

    def __post_init__(self) -> None:
        span = self.leading.breaks[-1]
        (root_front, front), (root_rear, rear) = (
            edge.at(np.array([0.0, span])).tolist() for edge in (self.leading, self.trailing)
        )
        tip = rear - front
        object.__setattr__(self, "root", root_rear - root_front)
        object.__setattr__(self, "tip", tip if tip > LEVEL * span else 0.0)
        object.__setattr__(self, "span", span)
        object.__setattr__(self, "sweep", front)

    def leading_edge(self, y: npt.ArrayLike) -> Array:
        """Return x of the leading edge [m] at distances y from the body [m]."""
        return self.leading.at(y)

    def trailing_edge(self, y: npt.ArrayLike) -> Array:
        """Return x of the trailing edge [m] at distances y from the body [m]."""
        return self.trailing.at(y)

    def grain_direction(self, grain: float) -> float:
        """Return the angle of the grain from the x axis [rad]; see `Outline.grain_direction`."""
        return 0.5 * math.pi - (self.lean + grain)

    @cached_property
    def _moments(self) -> tuple[float, float, float, float]:
        """Return area, first moment about the body, integrals of chord² and of nose times chord."""
        span = np.array([self.span])
        (front, front_y), (rear, rear_y) = (
            [float(value[0]) for value in edge.integrals(span)]
            for edge in (self.leading, self.trailing)
        )
        y, weight = self.spanwise_quadrature(24)
        nose, chord = self.leading.at(y), self.chord(y)
        return (
            rear - front,
            rear_y - front_y,
            float(weight @ chord**2),
            float(weight @ (nose * chord)),
        )

    @property
    def area(self) -> float:
        """Return the area of one side of the panel [m²]."""
        return self._moments[0]

    @property
    def mean_chord(self) -> float:
        """Return the mean aerodynamic chord [m]."""
        return self._moments[2] / self._moments[0]

    @property
    def mean_chord_y(self) -> float:
        """Return the distance of the mean aerodynamic chord from the root [m]."""
        return self._moments[1] / self._moments[0]

    @property
    def mean_chord_x(self) -> float:
        """Return how far the mean chord's leading edge lies behind that of the root [m]."""
        return self._moments[3] / self._moments[0]

    @cached_property
    def frame(self) -> Frame:
        """Return the straight-edged fin nearest to this one, of the same span.

        Straight lines through both edges by least squares; at the tip they meet rather than cross.
        """
        span = self.span
        ends = []
        for edge in (self.leading, self.trailing):
            first, second = (float(value[0]) for value in edge.integrals(np.array([span])))
            mean, slope = first / span, 12.0 * (second - 0.5 * span * first) / span**3
            ends.append((mean - 0.5 * span * slope, mean + 0.5 * span * slope))
        (front, tip_front), (rear, tip_rear) = ends
        middle = 0.5 * (tip_front + tip_rear)
        tip = max(tip_rear - tip_front, 0.0)
        root = max(rear - front, 0.5 * self.root)
        lead = 0.5 * (front + rear) - 0.5 * root
        return Frame(lead, root, tip, middle - 0.5 * tip - lead, span)

    @cached_property
    def breaks(self) -> tuple[float, ...]:
        """Return the distances from the body between which both edges are smooth [m]."""
        every = sorted({*self.leading.breaks, *self.trailing.breaks})
        kept = [every[0]]
        kept += [y for y in every[1:-1] if y - kept[-1] > 1e-6 * self.span]
        if self.span - kept[-1] < 1e-6 * self.span and len(kept) > 1:
            kept.pop()
        return (*kept, self.span)

    def spanwise_quadrature(self, count: int) -> tuple[Array, Array]:
        """Return points (m,) and weights (m,) [m] from root to tip for integrals over the panel.

        Along an arc the points crowd toward both its ends, ``y = middle - half cos(t)``, so that
        edges square to the span are integrated as well as straight ones.
        """
        points, weights = [], []
        for low, high in pairwise(self.breaks):
            middle = np.array([0.5 * (low + high)])
            curved = any(
                edge.pieces[int(edge._by_piece(middle)[0])].reach != 0.0
                for edge in (self.leading, self.trailing)
            )
            half = 0.5 * (high - low)
            if curved:
                t, weight = gauss_legendre(count + 6, low=0.0, high=math.pi)
                points.append(middle - half * np.cos(t))
                weights.append(half * np.sin(t) * weight)
            else:
                t, weight = gauss_legendre(count)
                points.append(middle + half * t)
                weights.append(half * weight)
        return np.concatenate(points), np.concatenate(weights)

    def strips(self, count: int, *, tip_inset: float = 0.0) -> Strips:
        """Return `count` strips from the root to the tip for a lifting surface.

        They are equally wide where the edges are straight and crowd where these turn, in equal
        steps of the length of the edges seen in a stretched plane, in which a half ellipse is a
        half circle.
        """
        y = 0.5 * self.span * (1.0 - np.cos(np.linspace(0.0, math.pi, 257)))
        scale = 2.0 * self.span / float(self.chord(y).max())
        length = np.zeros(y.size)
        for edge in (self.leading, self.trailing):
            slope = scale * np.diff(edge.at(y)) / np.diff(y)
            step = np.diff(y) * np.hypot(1.0, slope - slope[0])
            length[1:] += np.cumsum(step)
        edges = np.interp(np.linspace(0.0, length[-1], count + 1), length, y)
        edges[0], edges[-1] = 0.0, self.span
        edges = edges / (1.0 + tip_inset * (1.0 - edges[-2] / self.span))
        return strips_between(self, edges)

    @property
    def sharp_corners(self) -> Array:
        """Return the corners (n, 2) [m] that are not rounded."""
        return np.array([(x, y) for x, y, radius in self.corners if radius == 0.0])

    def path(self) -> tuple[Segment, ...]:
        """Return the sides from the root's front over the tip to its rear, arcs as arcs."""
        front = [piece.segment() for piece in self.leading.pieces]
        rear = [piece.segment() for piece in reversed(self.trailing.pieces)]
        back = [(end, start, *axes) for start, end, *axes in rear]
        tip = [(front[-1][1], back[0][0])] if self.tip else []
        return (*front, *tip, *back)

    def perimeter(self, tolerance: float = SMOOTH) -> Array:
        """Return corners (n, 2) [m] from the root's front over the tip to the root's rear."""
        front, rear = self.leading.polygon(tolerance), self.trailing.polygon(tolerance)[::-1]
        if self.tip == 0.0:
            rear = rear[1:]
        return np.concatenate([front, rear])


def strips_between(shape: FreeOutline, edges: Array) -> Strips:
    """Return the strips between given distances from the body, (n + 1,) [m]."""
    width, centre = np.diff(edges), 0.5 * (edges[1:] + edges[:-1])
    found = []
    for edge in (shape.leading, shape.trailing):
        first, second = (np.diff(value) for value in edge.integrals(edges))
        found.append((first / width, 12.0 * (second - centre * first) / width**3))
    (leading, leading_slope), (trailing, trailing_slope) = found
    return Strips(edges, leading, trailing, leading_slope, trailing_slope)


def ellipse(*, root: float, span: float, sweep: float) -> FreeOutline:
    """Return half an ellipse on its root, which may lean backward or forward.

    Parameters
    ----------
    root, span
        Chord at the body and distance of the tip from it [m], above zero.
    sweep
        Distance of the tip behind the middle of the root [m]; negative leans forward.

    Notes
    -----
    ``x = root/2 + sweep y/span -+ root/2 sqrt(1 - (y/span)²)``.

    Examples
    --------
    >>> fin = ellipse(root=0.1, span=0.05, sweep=0.02)
    >>> round(fin.mean_chord_y / (4 / (3 * math.pi) * 0.05), 12), fin.tip
    (1.0, 0.0)
    """
    half = 0.5 * root
    front, rear = (
        EdgeLine((Piece(0.0, span, half, 0.0, sweep / span, side * half, span),))
        for side in (-1, 1)
    )
    return FreeOutline(
        front,
        rear,
        math.atan2(sweep, span),
        "the line from the middle of the root to the tip",
        ((0.0, 0.0, 0.0), (root, 0.0, 0.0)),
    )


WANTS = (
    "corners x,y from the root's front round to its rear, x backward along the body, y outward, "
    "the first and the last with y = 0"
)


class _Corner(NamedTuple):
    """A corner with its number as typed, from 1."""

    number: int
    x: float
    y: float
    radius: float


def corners(
    points: Sequence[tuple[float, float]], *, radius: float | Sequence[float] = 0.0
) -> Outline:
    """Return a fin with straight edges between corners, which may be rounded.

    Parameters
    ----------
    points
        Corners (x, y) [m] along the outline, two neighbours of them on the body at y = 0. They may
        start anywhere and run either way; the part of the root's front is moved to x = 0.
    radius
        Of all corners off the body [m], or of each in the order of `points`.

    Returns
    -------
    A `Planform` where two sharp corners lie off the body at one height, or one corner alone.

    Raises
    ------
    InputError
        Naming ``points`` or ``radius``, and the corner by its place in the list.
    """
    chain = _ordered(points, radius)
    shift = chain[0].x
    chain = [corner._replace(x=corner.x - shift) for corner in chain]
    span = max(corner.y for corner in chain)
    chain = [
        corner._replace(y=span) if span - corner.y <= LEVEL * span else corner for corner in chain
    ]
    _check_heights(chain, span)
    top = [corner for corner in chain if corner.y == span]
    root = chain[-1].x
    if len(chain) == 2 + len(top) and not any(corner.radius for corner in chain):
        if top[-1].x < top[0].x:
            raise _crossing(top[-1])
        return Planform(root=root, tip=top[-1].x - top[0].x, span=span, sweep=top[0].x)
    front, rear = _edges(chain)
    straight = top[0].number == chain[1].number
    found = FreeOutline(
        front,
        rear,
        math.atan2(top[0].x, span),
        "the leading edge" if straight else "the line from the root's front to the tip's front",
        tuple((corner.x, corner.y, corner.radius) for corner in chain),
    )
    _check_chords(found, chain)
    return found


def _bad(corner: _Corner | None, reason: str, name: str = "points") -> InputError:
    if corner is None:
        return InputError(name, "these corners", reason)
    return InputError(name, f"corner {corner.number}", f"{reason} (corner {corner.number})")


def _crossing(corner: _Corner) -> InputError:
    return _bad(corner, "edges that do not cross, the leading edge ahead of the trailing edge")


def _ordered(
    points: Sequence[tuple[float, float]], radius: float | Sequence[float]
) -> list[_Corner]:
    """Return the corners from the root's front to its rear."""
    if len(points) < 3:
        raise _bad(None, f"at least three {WANTS}")
    size = max(abs(value) for point in points for value in point)
    level = 1e-6 * max(size, 1e-9)
    on_body = [abs(y) <= level for _, y in points]
    off = [i for i, on in enumerate(on_body) if not on]
    if isinstance(radius, (int, float)):
        radii = [float(radius)] * len(off)
    else:
        radii = [float(r) for r in radius]
        if len(radii) == 1:
            radii *= len(off)
    if len(radii) != len(off):
        raise InputError(
            "radius",
            f"{len(radii)} radii",
            f"one radius for all, or {len(off)}: one for each corner off the body",
        )
    by_place = dict(zip(off, radii, strict=True))
    chain = [
        _Corner(i + 1, x, 0.0 if on_body[i] else y, by_place.get(i, 0.0))
        for i, (x, y) in enumerate(points)
    ]
    inside = next((corner for corner in chain if corner.y < 0.0), None)
    if inside is not None:
        raise _bad(inside, "corners outside the body: y is zero or more")
    count = len(chain)
    if sum(on_body) != 2:
        extra = [corner for corner, on in zip(chain, on_body, strict=True) if on]
        raise _bad(
            extra[2] if len(extra) > 2 else None,
            f"exactly two corners on the body, with y = 0: {WANTS}",
        )
    start = next((i for i in range(count) if on_body[i] and on_body[i - 1]), None)
    if start is None:
        raise _bad(None, f"the two corners on the body next to each other: {WANTS}")
    chain = chain[start:] + chain[:start]
    if chain[0].x > chain[-1].x:
        chain.reverse()
    if chain[-1].x - chain[0].x <= level:
        raise _bad(chain[-1], "a root longer than nothing: the corners on the body lie apart")
    for before, after in pairwise(chain):
        if math.hypot(after.x - before.x, after.y - before.y) <= level:
            raise _bad(after, "corners that lie apart: two lie in one place")
    return chain


def _check_heights(chain: Sequence[_Corner], span: float) -> None:
    """Raise InputError where a distance from the body has no single leading or trailing edge."""
    highest = [i for i, corner in enumerate(chain) if corner.y == span]
    first, last = highest[0], highest[-1]
    for i, (before, after) in enumerate(pairwise(chain)):
        rise = after.y - before.y
        if i < first:
            wrong, edge = rise <= LEVEL * span, "leading"
        elif i < last:
            wrong, edge = rise < 0.0, "tip"
        else:
            wrong, edge = rise >= -LEVEL * span, "trailing"
        if wrong and edge == "tip":
            between = chain[i + 1]
            raise _bad(between, "one tip: between two outermost corners the outline dips inward")
        if wrong:
            way = "farther out than" if edge == "leading" else "nearer the body than"
            raise _bad(
                after,
                f"one {edge} edge at every distance from the body: from the "
                f"{'root’s front to the tip' if edge == 'leading' else 'tip to the root’s rear'} "
                f"each corner lies {way} the one before",
            )


class _Arc(NamedTuple):
    """A rounded corner: centre, radius, and where it begins and ends."""

    x: float
    y: float
    radius: float
    start: tuple[float, float]
    end: tuple[float, float]


def _rounded(before: _Corner, corner: _Corner, after: _Corner) -> tuple[_Arc | None, float]:
    """Return the arc of a rounded corner, and how much of both edges it takes [m]."""
    a = np.array([before.x - corner.x, before.y - corner.y])
    b = np.array([after.x - corner.x, after.y - corner.y])
    a, b = a / math.hypot(*a), b / math.hypot(*b)
    angle = math.acos(float(np.clip(a @ b, -1.0, 1.0)))
    if corner.radius == 0.0 or angle > math.pi - 1e-6:
        return None, 0.0
    taken = corner.radius / math.tan(0.5 * angle)
    middle = (a + b) / math.hypot(*(a + b)) * corner.radius / math.sin(0.5 * angle)
    place = np.array([corner.x, corner.y])
    centre = place + middle
    start, end = place + taken * a, place + taken * b
    return (
        _Arc(float(centre[0]), float(centre[1]), corner.radius,
             (float(start[0]), float(start[1])), (float(end[0]), float(end[1]))),
        taken,
    )  # fmt: skip


def _line(start: tuple[float, float], end: tuple[float, float]) -> Piece:
    (x0, y0), (x1, y1) = sorted((start, end), key=lambda point: point[1])
    return Piece(y0, y1, x0, y0, (x1 - x0) / (y1 - y0))


def _edges(chain: Sequence[_Corner]) -> tuple[EdgeLine, EdgeLine]:
    """Return leading and trailing edge of a chain of corners from the root's front to its rear."""
    arcs = [_rounded(*chain[i - 1 : i + 2]) for i in range(1, len(chain) - 1)]
    taken = [0.0, *(length for _, length in arcs), 0.0]
    for i, (before, after) in enumerate(pairwise(chain)):
        length = math.hypot(after.x - before.x, after.y - before.y)
        if taken[i] + taken[i + 1] > length * (1.0 + 1e-9):
            share = length / (taken[i] + taken[i + 1])
            tight = after if taken[i + 1] >= taken[i] else before
            most = min(corner.radius for corner in (before, after) if corner.radius) * share
            raise _bad(
                tight,
                f"smaller radii: up to {1e3 * most:.3g} mm fit the edge between corners "
                f"{before.number} and {after.number}",
                "radius",
            )
    rising: list[Piece] = []
    falling: list[Piece] = []
    at = (chain[0].x, chain[0].y)
    top = max(corner.y for corner in chain)
    if arcs:
        reached = [
            max(arc.start[1], arc.end[1], arc.y + arc.radius if _over(chain, i) else -math.inf)
            if arc is not None
            else chain[i + 1].y
            for i, (arc, _) in enumerate(arcs)
        ]
        top = max(reached)
    small = LEVEL * top

    def straight(end: tuple[float, float]) -> None:
        if abs(end[1] - at[1]) > small:
            (rising if end[1] > at[1] else falling).append(_line(at, end))

    for i, (arc, _) in enumerate(arcs):
        if arc is None:
            corner = (chain[i + 1].x, chain[i + 1].y)
            straight(corner)
            at = corner
            continue
        straight(arc.start)
        ends = [arc.start[1], arc.end[1]]
        if _over(chain, i):
            ends.insert(1, arc.y + arc.radius)
        for low, high in pairwise(ends):
            if abs(high - low) <= small:
                continue
            rises = high > low
            turns_left = _turn(*chain[i : i + 3]) > 0.0
            # an outward corner of the leading edge bulges forward, one of the trailing edge aft
            ahead = rises != turns_left
            piece = Piece(
                min(low, high), max(low, high), arc.x, arc.y, 0.0,
                -arc.radius if ahead else arc.radius, arc.radius,
            )  # fmt: skip
            (rising if rises else falling).append(piece)
        at = arc.end
    straight((chain[-1].x, chain[-1].y))
    falling.reverse()
    return _closed(rising, top), _closed(falling, top)


def _over(chain: Sequence[_Corner], i: int) -> bool:
    """Return whether the outline turns over its outermost point at corner i + 1."""
    before, corner, after = chain[i : i + 3]
    return corner.y > before.y and corner.y > after.y


def _turn(before: _Corner, corner: _Corner, after: _Corner) -> float:
    """Return the cross product of the edges at a corner: positive toward the left of the way."""
    return (corner.x - before.x) * (after.y - corner.y) - (corner.y - before.y) * (
        after.x - corner.x
    )


def _closed(pieces: Sequence[Piece], top: float) -> EdgeLine:
    """Return an edge whose pieces meet exactly and end at the body and the tip."""
    lows = [0.0, *(piece.low for piece in pieces[1:]), top]
    return EdgeLine(
        tuple(
            Piece(low, high, p.x, p.y, p.slope, p.reach, p.height)
            for p, (low, high) in zip(pieces, pairwise(lows), strict=True)
        )
    )


def _check_chords(shape: FreeOutline, chain: Sequence[_Corner]) -> None:
    """Raise InputError where edges cross, or where the fin has a neck or a deep notch."""
    y = np.unique(np.concatenate([np.linspace(0.0, shape.span, 201), shape.breaks]))
    chord = shape.chord(y)

    def nearest(at: float) -> _Corner:
        return min(chain, key=lambda corner: abs(corner.y - at))

    inner = y < shape.span * (1.0 - 1e-6)
    if np.any(chord[inner] <= 0.0):
        raise _crossing(nearest(float(y[inner][np.argmin(chord[inner])])))
    farther = np.maximum.accumulate(chord[::-1])[::-1]
    thin = chord < NECK * farther
    if np.any(thin):
        raise _bad(
            nearest(float(y[np.argmax(thin)])),
            f"a fin whose chord is nowhere below {NECK:.0%} of the chord farther out: a neck this "
            "thin is no plate",
        )
    cut = _notch(y, -shape.leading_edge(y)), _notch(y, shape.trailing_edge(y))
    deepest = max(cut, key=lambda found: float((found / np.maximum(farther, 1e-12)).max()))
    share = deepest / np.maximum(chord + deepest, 1e-12)
    if share.max() > DEEPEST_NOTCH:
        raise _bad(
            nearest(float(y[np.argmax(share)])),
            f"notches less than {DEEPEST_NOTCH:.0%} of the chord deep: beside a deeper one the "
            "fin is no single plate, and this answer would mislead",
        )


def _notch(y: Array, x: Array) -> Array:
    """Return how far a curve x(y) lies below its upper convex hull."""
    hull: list[int] = []
    for i in range(y.size):
        while len(hull) > 1:
            a, b = hull[-2], hull[-1]
            if (y[b] - y[a]) * (x[i] - x[a]) - (x[b] - x[a]) * (y[i] - y[a]) < 0.0:
                break
            hull.pop()
        hull.append(i)
    return np.asarray(np.interp(y, y[hull], x[hull]) - x)
