"""Unsteady lifting surface faster than sound: Mach boxes on one fin panel.

The flow of a thin fin is that of sources on its plane. A source is felt only inside the Mach cone
behind it, so the plane is cut into boxes whose sides are Mach lines, and rows of boxes are solved
one after the other from the nose backward. On the fin the source strength is the normalwash. Beside
the fin, where the air can flow round a side edge or a subsonic leading edge, the unknown strength
makes the velocity potential vanish; behind a subsonic trailing edge it makes the potential drift
backward with the stream (Kutta condition). The root lies on a reflection plane.

With ``r = x - beta y, s = x + beta y`` the distance of the kernel is the square root of a product
and each box is integrated exactly. A box that the outline cuts is treated as the mean, by area, of
a box on the fin and a box off it; the answer then changes smoothly with outline and Mach number.

Sign convention as in `calc.air.lifting_surface`: z and cp = (p_lower - p_upper)/q positive upward,
motion exp(i omega t), k = omega/U [rad/m], normalwash/U = dz/dx + i k z.

Sources: Garrick and Rubinow, NACA TR 872 (1947) (the kernel); Evvard, NACA TR 951 (1950) (sources
off the wing); Pines, Dugundji and Neuringer, J. Aero. Sci. 22 (1955) 693-700, and Zartarian and
Hsu, WADC TR 56-97 (1956) (Mach boxes). All from memory, unverified; the tests compare with closed
forms. The mean by area in cut boxes is our own; tests/convergence shows its error.

Accuracy of the usual lattices: lift slope 0.1 % where all edges are supersonic, 0.6 % elsewhere
(2 % for leading edges swept forward near the Mach line); centre of pressure 0.5 % of the root
chord; forces of bending and twist at omega root/U = 0.5 about 2 %, up to 4 % below Mach 1.2. Beyond
`highest_wavenumber` they are worse: near Mach 1 waves against the stream are short. Five
wavenumbers take 20 ms.

Not modelled: thickness other than by `thickness_factor`, shocks (so not valid near Mach 1),
viscosity, the round shape and the end of the body, and the other fins.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.errors import InputError

if TYPE_CHECKING:
    from calc.geometry.outline import Outline

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Index = NDArray[np.intp]

LOWEST_MACH = 1.05
"""Below this shocks rule, and the lattice would need very many rows."""
HIGHEST_MACH = 3.0
"""Highest Mach number at which the method was compared with exact values."""
LOWEST_THICKNESS_MACH = 1.25
"""Below this the second-order thickness factor grows without limit and is refused."""
BOXES = 450
"""Usual number of boxes, those beside the fin included."""
BOXES_PER_CHORD = 8.0
"""Least number of boxes along the mean chord, whatever that costs (wide fins at high Mach)."""
FEWEST_COLUMNS = 8
BOXES_PER_WAVE = 6.0
"""Boxes along the stream that a wave travelling against it needs (see tests/convergence)."""
COARSE = 0.6
"""Columns of the second, coarser lattice over those of the first."""
NEARLY_SONIC = 0.12
"""How far past the Mach line, in tangents, a leading edge must be swept for air to flow round it
freely in boxes it cuts; in between it does so in part."""
ORDER = 1.5
"""Power of the box length that the error is taken to fall with: it is 2 for smooth loads and about
1 for what subsonic edges add."""
TIP_PHASE = 0.95
"""Distance of the trailing edge behind the last box centre at the tip, in boxes."""
OUTSIDE = 0.15
"""How far outside the panel, in local chords, motions are evaluated at most."""
HEAT_RATIO = 1.4

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(8)  # type: ignore[no-untyped-call]
# Gauss points over each half of a box's width, whose chord falls linearly to both corners.
_ACROSS = np.concatenate([0.5 * (_NODES - 1.0), 0.5 * (_NODES + 1.0)])
_ACROSS_WEIGHTS = 0.5 * np.concatenate([_WEIGHTS, _WEIGHTS])


@dataclass(frozen=True)
class Edges:
    """A fin's outline by its two edges, functions of the distance y from the root [m].

    Fields: leading_edge and trailing_edge give x [m] at y (n,); span [m]. The edges may meet at
    the tip and may have corners.
    """

    leading_edge: Callable[[Array], Array]
    trailing_edge: Callable[[Array], Array]
    span: float

    @property
    def area(self) -> float:
        """Area of the panel [m2]."""
        y = (np.arange(4000) + 0.5) * (self.span / 4000)
        return float(np.sum(self.trailing_edge(y) - self.leading_edge(y)) * self.span / 4000)


def edges(planform: Outline) -> Edges:
    """Return the two edges of a fin."""
    return Edges(planform.leading_edge, planform.trailing_edge, planform.span)


@dataclass(frozen=True, eq=False)
class Lattice:
    """Mach boxes on and beside one fin panel at one Mach number, by rows from the nose backward.

    Fields: outline; mach; beta = sqrt(mach^2 - 1); length of a box along the stream and width =
    distance between columns of boxes [m]; row and column (n,) of each box; x, y (n,) its centre
    [m]; cover (n,) the part of it on the fin if the fin had no trailing edge; free (n,) the part
    where the potential must vanish; starts (rows + 1,) first box of each row; up (n,) the box
    ahead in the same column, n where there is none.
    The columns that cross the fin have a trailing edge at tails (c,) [m] with the potential
    (1 - share) of box `before` + share of box `after` (c,); `last` (c,) is the last box ahead of
    it. wake (n,) is the part of a box's share of the fin that lies behind the trailing edge; there
    the potential drifts from the boxes drift_before and drift_after, mixed alike by drift_share.
    """

    outline: Edges
    mach: float
    beta: float
    length: float
    width: float
    row: Index
    column: Index
    x: Array
    y: Array
    cover: Array
    free: Array
    starts: Index
    up: Index
    tails: Array
    before: Index
    after: Index
    last: Index
    share: Array
    wake: Array
    drift_before: Index
    drift_after: Index
    drift_share: Array

    @property
    def size(self) -> int:
        """Number of boxes, those beside the fin included."""
        return self.x.size


class LiftSlope(NamedTuple):
    """Lift per angle of attack: slope [1/rad] on the panel area, and where it acts (x, y) [m]."""

    slope: float
    x: float
    y: float


def _as_edges(shape: Edges | Outline) -> Edges:
    return shape if isinstance(shape, Edges) else edges(shape)


def _beta(mach: float) -> float:
    if not LOWEST_MACH <= mach <= HIGHEST_MACH:
        raise InputError("mach", mach, f"a Mach number from {LOWEST_MACH} to {HIGHEST_MACH}")
    return float(np.sqrt(mach**2 - 1.0))


class _Grid(NamedTuple):
    length: float
    width: float
    first: float
    row: Index
    column: Index


def _grid(shape: Edges, beta: float, columns: int) -> _Grid:
    """Lay boxes where the fin can feel them and where they can feel the fin."""
    # the side edge runs midway between two columns, where it converges fastest (tests/convergence)
    width = shape.span / (columns + 0.5)
    length = 2.0 * beta * width
    along = np.linspace(0.0, shape.span, 65)
    nose, tail = shape.leading_edge(along), shape.trailing_edge(along)
    # rows so that the trailing edge passes the last column's boxes at the same place in every
    # lattice, or pointed tips make the answer uneven over Mach number
    place = float(shape.trailing_edge(np.array([columns * width]))[0]) - TIP_PHASE * length
    steps = int(np.ceil((place - float(nose.min())) / (0.5 * length))) + 1
    first = place - 0.5 * length * (steps + (steps - columns) % 2)
    rows = int((float(tail.max()) - first) / (0.5 * length)) + 4
    at = np.arange(columns + rows) * width
    gap = beta * np.abs(at[:, None] - along)
    felt = (tail - gap).max(axis=1)
    # one box behind the trailing edge, to interpolate at it
    own = shape.trailing_edge(np.minimum(at[: columns + 2], shape.span)) + 1.001 * length
    felt[: columns + 2] = np.maximum(felt[: columns + 2], own)
    reached = (nose + gap).min(axis=1) - 0.5 * length
    row, column = np.indices((rows, at.size))
    x = first + 0.5 * length * row
    keep = ((row - column) % 2 == 0) & (x <= felt) & (x > reached)
    row, column = np.nonzero(keep)
    return _Grid(length, width, first, row, column)


def columns_for(shape: Edges | Outline, *, mach: float, boxes: int = BOXES) -> int:
    """Return how many columns of boxes across a fin give about `boxes` boxes.

    More where the mean chord would be cut into fewer than eight.
    """
    if not 20 <= boxes <= 20_000:
        raise InputError("boxes", boxes, "a number of boxes from 20 to 20000")
    fin, beta = _as_edges(shape), _beta(mach)
    trial = 12
    wanted = (trial + 0.5) * np.sqrt(boxes / _grid(fin, beta, trial).row.size)
    fine = 2.0 * beta * fin.span**2 * BOXES_PER_CHORD / fin.area
    return max(int(np.ceil(max(wanted, fine))), FEWEST_COLUMNS)


def _cover(shape: Edges, x: Array, y: Array, length: float, width: float) -> tuple[Array, Array]:
    """Return the part of each box on the fin and its wake, and the part on the fin alone."""
    across = np.abs(y[:, None] + _ACROSS * width)
    half = 0.5 * length * (1.0 - np.abs(_ACROSS))
    at = np.minimum(across, shape.span).ravel()
    start = np.maximum(shape.leading_edge(at).reshape(across.shape), x[:, None] - half)
    end = np.minimum(shape.trailing_edge(at).reshape(across.shape), x[:, None] + half)
    both = [
        np.where(across < shape.span, np.maximum(stop - start, 0.0), 0.0) @ _ACROSS_WEIGHTS
        for stop in (x[:, None] + half, end)
    ]
    return both[0] / length, both[1] / length


def _lean(edge: Callable[[Array], Array], y: Array, width: float, span: float) -> Array:
    """Return the tangent of an edge's sweep, without sign, over the columns at y; none beyond."""
    inner, outer = np.clip(y - 0.5 * width, 0.0, span), np.clip(y + 0.5 * width, 0.0, span)
    return np.asarray(np.abs(edge(outer) - edge(inner)) / np.maximum(outer - inner, 1e-9 * span))


def _free(shape: Edges, beta: float, y: Array, width: float, cover: Array) -> Array:
    """Return the part of each box where the potential vanishes as air flows round an edge.

    Ahead of a supersonic leading edge there is nothing to vanish: only the side edge counts there.
    """
    inside = np.abs(y[:, None] + _ACROSS * width) < shape.span
    side = np.where(inside, 1.0 - np.abs(_ACROSS), 0.0) @ _ACROSS_WEIGHTS
    lean = _lean(shape.leading_edge, y, width, shape.span)
    round_edge = np.clip((lean / beta - 1.0) / NEARLY_SONIC, 0.0, 1.0)
    return np.asarray(1.0 - round_edge * cover - (1.0 - round_edge) * side)


def _kutta(distance: Array) -> Array:
    """Return the step from the last box to the trailing edge over that between the last two.

    Toward a subsonic trailing edge the potential runs out as distance to the power 3/2, for the
    load vanishes as its root. `distance` is from the last box to the edge, in boxes.
    """
    d = np.maximum(distance, 0.0)
    return np.asarray(d**1.5 / ((1.0 + d) ** 1.5 - d**1.5))


def lattice(shape: Edges | Outline, *, mach: float, columns: int) -> Lattice:
    """Lay Mach boxes on and beside a fin panel.

    Parameters
    ----------
    shape
        The exposed fin.
    mach
        Mach number, 1.05 to 3.
    columns
        Number of columns of boxes across the fin; see `columns_for`.

    Returns
    -------
    Lattice
    """
    if not 3 <= columns <= 1000:
        raise InputError("columns", columns, "a number of columns from 3 to 1000")
    fin, beta = _as_edges(shape), _beta(mach)
    length, width, first, row, column = _grid(fin, beta, columns)
    x, y = first + 0.5 * length * row, column * width
    size = x.size
    place = np.full((row[-1] + 5, column.max() + 1), size)
    place[row + 2, column] = np.arange(size)
    # the last of them only touches the fin
    crossing = columns + 2
    at = np.minimum(np.arange(crossing) * width, fin.span)
    tails = fin.trailing_edge(at)
    subsonic = _lean(fin.trailing_edge, at, width, fin.span) > beta
    # the last row ahead of each column's trailing edge, of the column's own parity
    ahead = np.floor((tails - first) / (0.5 * length)).astype(int)
    ahead -= (ahead - np.arange(crossing)) % 2
    near = place[
        np.maximum(ahead[:, None] + 2 + np.array([-2, 0, 2]), 0), np.arange(crossing)[:, None]
    ]
    behind = (tails - (first + 0.5 * length * ahead)) / length
    up = place[row, column]
    cover, on_fin = _cover(fin, x, y, length, width)
    # at a supersonic trailing edge the fin is continued by one box, which the fin cannot feel
    own = np.minimum(column, crossing - 1)
    part = np.where(subsonic[own], cover - on_fin, np.where(row > ahead[own] + 2, cover, 0.0))
    to_tail = (tails[own] - x) / length + 1.0
    in_wake = to_tail < 0.0
    return Lattice(
        outline=fin,
        mach=float(mach),
        beta=beta,
        length=length,
        width=width,
        row=row,
        column=column,
        x=x,
        y=y,
        cover=cover,
        free=_free(fin, beta, y, width, cover),
        starts=np.searchsorted(row, np.arange(row[-1] + 2)),
        up=up,
        tails=tails,
        before=np.where(subsonic, near[:, 0], near[:, 1]),
        after=np.where(subsonic, near[:, 1], near[:, 2]),
        last=near[:, 1],
        share=np.where(subsonic, 1.0 + _kutta(behind), behind),
        wake=np.where(column < crossing, part / np.maximum(cover, 1e-12), 0.0),
        drift_before=np.append(up, size)[up],
        drift_after=up,
        drift_share=1.0 + np.where(in_wake, 0.0, _kutta(to_tail)),
    )


def _kernel(boxes: Lattice, wavenumbers: Array, steps: int) -> Array:
    """Return the potential of a box of unit strength over distances, (n_k, 2 steps, 2 steps).

    ``-1/(2 pi beta) a_p a_q cos(nu h sqrt(p q)/M)``, a_p the integral of 1/sqrt(r) over a box p
    steps away, with the factor exp(-i nu x) left out; zero outside the Mach cone. The distance
    zero stands at index `steps`.
    """
    h = boxes.length
    edge = np.sqrt(np.maximum(np.arange(steps + 1) - 0.5, 0.0) * h)
    a = 2.0 * np.diff(edge)
    p = np.arange(steps)
    nu = wavenumbers * (boxes.mach / boxes.beta) ** 2
    table = np.zeros((wavenumbers.size, 2 * steps, 2 * steps))
    table[:, steps:, steps:] = (np.outer(a, a) / (-2.0 * np.pi * boxes.beta)) * np.cos(
        (nu * h / boxes.mach)[:, None, None] * np.sqrt(np.outer(p, p))
    )
    return table


def _wake_factors(boxes: Lattice, wavenumbers: Array, nu: Array) -> Complex:
    """Return (2, n_k, n): what the two boxes ahead give to the wake in a box.

    The potential drifts with the stream: phi exp(i k x) stays the same behind the trailing edge.
    """
    x = np.append(boxes.x, 0.0)
    turn = 1j * (nu - wavenumbers)
    return np.stack(
        [
            (1.0 - boxes.drift_share) * np.exp(turn * (boxes.x - x[boxes.drift_before])),
            boxes.drift_share * np.exp(turn * (boxes.x - x[boxes.drift_after])),
        ]
    )


def _potential(boxes: Lattice, wavenumbers: Array, normalwash: Array | Complex) -> Complex:
    """Return the potential (n_k, n + 1, cases) of normalwash (n_k or 1, n, cases) on the boxes.

    The last row is zero and stands for boxes that are not there.
    """
    size, cases = boxes.size, normalwash.shape[-1]
    k = wavenumbers[:, None]
    nu = k * (boxes.mach / boxes.beta) ** 2
    # characteristic numbers of the boxes: a step of p or q crosses one Mach line
    p, q = (boxes.row - boxes.column) // 2, (boxes.row + boxes.column) // 2
    p, q = p - p.min(), q - p.min()
    steps = int(max(p.max(), q.max())) + 1
    table = _kernel(boxes, wavenumbers, steps)
    own = float(table[0, steps, steps])
    table = table.reshape(wavenumbers.size, -1)
    here = (p + steps) * 2 * steps + q + steps
    itself, mirror = p * 2 * steps + q, q * 2 * steps + p
    # on the reflection plane a box is its own mirror image
    once = np.where(boxes.column == 0, 0.5, 1.0)[:, None]
    turn = np.exp(1j * nu * boxes.x)
    # within a box the wave turns; its mean over a diamond
    mean = np.sinc(nu * boxes.length / (4.0 * np.pi)) ** 2
    known = (boxes.cover * turn * mean)[..., None] * normalwash
    strength = np.zeros((wavenumbers.size, size, cases), dtype=complex)
    potential = np.zeros((wavenumbers.size, size + 1, cases), dtype=complex)
    wake = np.flatnonzero(boxes.wake > 0.0)
    edges = np.searchsorted(wake, boxes.starts)
    drift = _wake_factors(boxes, k, nu)[..., None] if wake.size else None
    for (start, stop), (low, high) in zip(pairwise(boxes.starts), pairwise(edges), strict=True):
        near = here[start:stop, None]
        influence = np.take(table, near - itself[:start], axis=1)
        influence += np.take(table, near - mirror[:start], axis=1)
        earlier = (influence @ strength.view(float)[:, :start]).view(complex)
        free = boxes.free[start:stop, None] / own
        new = known[:, start:stop] - free * earlier
        value = earlier + own * new
        if drift is not None and high > low:
            at = wake[low:high]
            here_too = at - start
            drifted = (
                drift[0][:, at] * potential[:, boxes.drift_before[at]]
                + drift[1][:, at] * potential[:, boxes.drift_after[at]]
            )
            value[:, here_too] += boxes.wake[at, None] * (drifted - value[:, here_too])
            new[:, here_too] = (value[:, here_too] - earlier[:, here_too]) / own
        potential[:, start:stop] = value
        strength[:, start:stop] = once[start:stop] * new
    potential[:, :-1] *= turn.conj()[..., None]
    return potential


def _tail_of(boxes: Lattice, column: Index) -> Array:
    """Return the trailing edge of each column, that of the tip beside the fin."""
    return np.asarray(boxes.tails[np.minimum(column, boxes.tails.size - 1)])


def _near(fin: Edges, x: Array, y: Array) -> Array:
    """Return points (n, 2) moved along the stream until they lie near the panel."""
    out = np.minimum(y, (1.0 - 1e-6) * fin.span)
    nose, tail = fin.leading_edge(out), fin.trailing_edge(out)
    margin = OUTSIDE * (tail - nose)
    return np.column_stack([np.clip(x, nose - margin, tail + margin), out])


def control_points(boxes: Lattice) -> Array:
    """Return the points (n, 2) [m] where the boxes need the normalwash.

    They lie on the panel or a little behind it, where the motion must be continued.
    """
    y = np.minimum(boxes.y, boxes.outline.span)
    return _near(boxes.outline, np.maximum(boxes.x, boxes.outline.leading_edge(y)), y)


def highest_wavenumber(boxes: Lattice) -> float:
    """Return the largest omega/U [rad/m] that the lattice resolves along the stream.

    ``k_max = 2 pi (M - 1)/(M 6 length)``: six boxes to the waves that travel against the stream,
    whose length is that of sound times (M - 1).
    """
    return 2.0 * np.pi * (boxes.mach - 1.0) / (boxes.mach * BOXES_PER_WAVE * boxes.length)


@dataclass(frozen=True, eq=False)
class Pieces:
    """Stretches of the columns that carry the lift, each from one box centre to the next.

    Fields: start, end (m,) along the stream; y (m,); width (m,) on this side of the root [m];
    points (m, 2) [m] where the lift acts; after, ahead (m,) boxes at both ends, n and more for
    the trailing edges of the columns.
    """

    start: Array
    end: Array
    y: Array
    width: Array
    points: Array
    after: Index
    ahead: Index


def pieces(boxes: Lattice) -> Pieces:
    """Cut the columns that cross the fin at the centres of the boxes."""
    columns = np.arange(boxes.tails.size)
    on = (boxes.cover > 0.0) & (boxes.column < columns.size)
    on &= boxes.x <= _tail_of(boxes, boxes.column)
    here = np.flatnonzero(on)
    column = np.concatenate([boxes.column[here], columns])
    span = boxes.outline.span
    nose = boxes.outline.leading_edge(np.minimum(columns * boxes.width, span))
    x_last = np.append(boxes.x, 0.0)[boxes.last]
    x_last = np.where(boxes.last < boxes.size, x_last, np.minimum(nose, boxes.tails))
    start = np.concatenate([boxes.x[here] - boxes.length, x_last])
    end = np.concatenate([boxes.x[here], boxes.tails])
    y = np.minimum(column * boxes.width, span)
    return Pieces(
        start=start,
        end=end,
        y=y,
        points=_near(boxes.outline, 0.5 * (start + end), y),
        width=np.where(column == 0, 0.5, 1.0) * boxes.width,
        after=np.concatenate([here, boxes.size + 1 + columns]),
        ahead=np.concatenate([boxes.up[here], boxes.last]),
    )


def lifts(
    boxes: Lattice, parts: Pieces, *, wavenumbers: ArrayLike, normalwash: ArrayLike
) -> Complex:
    """Return the lift over dynamic pressure [m2] of each piece of the panel.

    ``4 (dphi/dx + i k phi)`` integrated over the piece, with phi linear along it.

    Parameters
    ----------
    boxes, parts
        From `lattice` and `pieces`.
    wavenumbers
        omega/U [rad/m], (n_k,).
    normalwash
        dz/dx + i k z at `control_points`, (n_k or 1, n, cases), complex or real.

    Returns
    -------
    array (n_k, m, cases), complex
    """
    k = np.atleast_1d(np.asarray(wavenumbers, dtype=float))
    if k.ndim != 1 or not np.all(np.isfinite(k)) or np.any(k < 0.0):
        raise InputError("wavenumbers", wavenumbers, "a list of values of omega/U, zero or more")
    potential = _potential(boxes, k, np.asarray(normalwash))
    # mixed with the drift taken out, or a subsonic trailing edge would still carry load
    x = np.append(boxes.x, 0.0)
    before = (1.0 - boxes.share) * np.exp(1j * k[:, None] * (x[boxes.before] - boxes.tails))
    after = boxes.share * np.exp(1j * k[:, None] * (x[boxes.after] - boxes.tails))
    tail = before[..., None] * potential[:, boxes.before]
    tail += after[..., None] * potential[:, boxes.after]
    ends = np.concatenate([potential, tail], axis=1)
    step = 0.5j * k[:, None] * (parts.end - parts.start)
    wide = 4.0 * parts.width
    lift = np.take(ends, parts.after, axis=1)
    lift *= (wide * (1.0 + step))[..., None]
    ahead = np.take(ends, parts.ahead, axis=1)
    ahead *= (wide * (1.0 - step))[..., None]
    lift -= ahead
    return np.asarray(lift)


Solved = TypeVar("Solved", Array, Complex)


def _extrapolated(
    fin: Edges, mach: float, boxes: int, solve: Callable[[Lattice, Pieces], Solved]
) -> Solved:
    """Return what `solve` gives on boxes of no length, from two lattices.

    After Richardson; the mean over edges of all kinds decides the power.
    """
    columns = columns_for(fin, mach=mach, boxes=boxes)
    coarse = lattice(fin, mach=mach, columns=max(round(COARSE * columns), 3))
    fine = lattice(fin, mach=mach, columns=columns)
    beyond = 1.0 / ((coarse.length / fine.length) ** ORDER - 1.0)
    found = solve(fine, pieces(fine))
    found += beyond * (found - solve(coarse, pieces(coarse)))
    return found


def lift_slope(shape: Edges | Outline, *, mach: float, boxes: int = BOXES) -> LiftSlope:
    """Return the lift slope of the flat panel and its centre of pressure.

    Parameters
    ----------
    shape
        The exposed fin.
    mach
        Mach number, 1.05 to 3.
    boxes
        About how many boxes.

    Returns
    -------
    LiftSlope
        slope [1/rad] on the exposed panel area, x and y [m]. The root bending moment per angle of
        attack and dynamic pressure is slope times area times y.
    """
    fin = _as_edges(shape)

    def moments(found: Lattice, parts: Pieces) -> Array:
        wash = -np.ones((1, found.size, 1))
        lift = lifts(found, parts, wavenumbers=0.0, normalwash=wash)[0, :, 0].real
        return np.array([lift.sum(), *(lift @ parts.points)])

    total, x, y = _extrapolated(fin, mach, boxes, moments)
    return LiftSlope(float(total / fin.area), float(x / total), float(y / total))


def generalised_forces(
    shape: Edges | Outline,
    values: Callable[[Array], Array],
    slopes: Callable[[Array], Array],
    *,
    mach: float,
    wavenumbers: ArrayLike,
    boxes: int = BOXES,
    half_thickness: Callable[[Array], Array] | None = None,
) -> Complex:
    """Return the matrices Q in F = q Q for motion along given shapes.

    ``Q_ij = int phi_i cp_j dA``, cp_j the load of ``dphi_j/dx + i k phi_j``.

    Parameters
    ----------
    shape
        The exposed fin.
    values, slopes
        Functions of points (m, 2) that give shapes (m, n) and (2, m, n) d/dx, d/dy; they are
        evaluated up to one box outside the panel.
    mach
        Mach number, 1.05 to 3.
    wavenumbers
        omega/U [rad/m], (n_k,).
    boxes
        About how many boxes.
    half_thickness
        Half the thickness [m] at points (m, 2), for `thickness_factor`; none for a thin plate.

    Returns
    -------
    array (n_k, n, n), complex [m2 times the units of the shapes]
    """
    k = np.atleast_1d(np.asarray(wavenumbers, dtype=float))

    def forces(found: Lattice, parts: Pieces) -> Complex:
        at = control_points(found)
        wash = slopes(at)[0] + 1j * k[:, None, None] * values(at)
        lift = lifts(found, parts, wavenumbers=k, normalwash=wash)
        if half_thickness is not None:
            lift *= _piece_factors(found, parts, half_thickness)[:, None]
        return np.asarray(values(parts.points).T @ lift)

    return _extrapolated(_as_edges(shape), mach, boxes, forces)


def points(shape: Edges | Outline, *, chordwise: int = 6, spanwise: int = 8) -> Array:
    """Return the points (b, 2) [m] of `response`, from nose to tail, then from root to tip.

    They are Gauss points of the local chord and of the span.
    """
    fin = _as_edges(shape)
    along, out = _gauss(chordwise), _gauss(spanwise)
    y = np.repeat(out * fin.span, chordwise)
    nose = fin.leading_edge(y)
    x = nose + np.tile(along, spanwise) * (fin.trailing_edge(y) - nose)
    return np.column_stack([x, y])


def response(
    shape: Edges | Outline,
    *,
    machs: ArrayLike,
    wavenumbers: ArrayLike,
    chordwise: int = 6,
    spanwise: int = 8,
    boxes: int = BOXES,
    half_thickness: Callable[[Array], Array] | None = None,
) -> Complex:
    """Return the matrices R in ``lift at points / q = R @ normalwash at points``.

    Normalwash and deflection are polynomials through `points`, of degree chordwise - 1 along the
    chord and spanwise - 1 along the span; the lift at a point is the load times the polynomial
    that is one there and zero at the others. So generalised forces are sums over the points,
    exact for motions of those degrees.

    Parameters
    ----------
    shape
        The exposed fin.
    machs
        Mach numbers, (n_m,), 1.05 to 3.
    wavenumbers
        omega/U [rad/m], (n_k,).
    chordwise, spanwise
        Number of points along the chord and the span.
    boxes
        About how many boxes.
    half_thickness
        As in `generalised_forces`.

    Returns
    -------
    array (n_m, n_k, b, b), complex [m2]
    """
    fin = _as_edges(shape)
    k = np.atleast_1d(np.asarray(wavenumbers, dtype=float))

    def matrix(found: Lattice, parts: Pieces) -> Complex:
        wash = _polynomials(fin, control_points(found), chordwise, spanwise)
        lift = lifts(found, parts, wavenumbers=k, normalwash=wash[None])
        if half_thickness is not None:
            lift *= _piece_factors(found, parts, half_thickness)[:, None]
        weights = _polynomials(fin, parts.points, chordwise, spanwise)
        return np.asarray((weights.T @ lift.view(float)).view(complex))

    several = np.atleast_1d(np.asarray(machs, dtype=float)).tolist()
    return np.stack([_extrapolated(fin, mach, boxes, matrix) for mach in several])


def _gauss(count: int) -> Array:
    """Return Gauss points of the interval from 0 to 1."""
    nodes, _ = np.polynomial.legendre.leggauss(count)  # type: ignore[no-untyped-call]
    return np.asarray(0.5 * (nodes + 1.0))


def _through(at: Array, count: int) -> Array:
    """Return (n, count) polynomials that are one at one Gauss point and zero at the others."""
    both = np.concatenate([_gauss(count), at])
    basis = np.polynomial.legendre.legvander(2.0 * both - 1.0, count - 1)  # type: ignore[no-untyped-call]
    return np.asarray(basis[count:] @ np.linalg.inv(basis[:count]))


def _polynomials(fin: Edges, at: Array, chordwise: int, spanwise: int) -> Array:
    """Return (n, b) the polynomials of `response` at points on or near the panel."""
    x, y = at.T
    nose = fin.leading_edge(y)
    chord = np.maximum(fin.trailing_edge(y) - nose, 1e-9 * fin.span)
    along = _through((x - nose) / chord, chordwise)
    both = _through(y / fin.span, spanwise)[:, :, None] * along[:, None, :]
    return both.reshape(len(at), -1)


def thickness_factor(slope: ArrayLike, *, mach: float, gamma: float = HEAT_RATIO) -> Array:
    """Return by what thickness multiplies the linear load of a symmetrical section at a point.

    ``1 + 2 (C2/C1) slope``, ``C1 = 2/beta``, ``C2 = [(gamma + 1) M^4 - 4 beta^2]/(2 beta^4)``: the
    part of second order that is linear in the motion, taken locally.

    Parameters
    ----------
    slope
        d(half thickness)/dx [-], positive where the section thickens.
    mach
        Mach number, 1.25 to 3; C2/C1 grows without limit toward Mach 1.
    gamma
        Ratio of specific heats [-].

    Returns
    -------
    array like `slope`

    Source: Busemann (1935); Van Dyke, NACA TR 1081 (1952); from memory, unverified.

    >>> round(float(thickness_factor(0.1, mach=2.0)), 3)
    1.254
    """
    if not LOWEST_THICKNESS_MACH <= mach <= HIGHEST_MACH:
        raise InputError(
            "mach", mach, f"a Mach number from {LOWEST_THICKNESS_MACH} to {HIGHEST_MACH}"
        )
    beta2 = mach**2 - 1.0
    second = ((gamma + 1.0) * mach**4 - 4.0 * beta2) / (2.0 * beta2**2)
    return np.asarray(1.0 + np.sqrt(beta2) * second * np.asarray(slope, dtype=float))


def _piece_factors(
    boxes: Lattice, parts: Pieces, half_thickness: Callable[[Array], Array]
) -> Array:
    """Return the thickness factor (m,) of each piece, from its mean slope."""
    fin = boxes.outline
    nose, tail = fin.leading_edge(parts.y), fin.trailing_edge(parts.y)
    # pieces that begin ahead of the fin see its first half box at least
    start = np.clip(parts.start, nose, np.maximum(tail - 0.5 * boxes.length, nose))
    end = np.clip(parts.end, np.minimum(start + 0.5 * boxes.length, tail), tail)
    run = np.maximum(end - start, 1e-9 * fin.span)
    rise = half_thickness(np.column_stack([end, parts.y]))
    rise = rise - half_thickness(np.column_stack([start, parts.y]))
    return thickness_factor(rise / run, mach=boxes.mach)
