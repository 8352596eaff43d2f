"""Where plate and air meet: flutter and divergence of a fin.

The fin moves as ``z(x, y, t) = sum_j phi_j(x, y) q_j(t)`` over its natural modes. Air answers
with generalised forces ``F = q_dyn Q(M, k) q`` that depend on planform, Mach number and
wavenumber ``k = omega / U`` only. They are computed once per planform; a material then costs a
small eigenvalue problem.

Flutter is found by the classical artificial-damping (V-g) method, exact at the boundary where
the damping needed is zero: for each wavenumber, on mass-normalised modes, ::

    mu x = Lambda^-1 [ k^2 + rho / 2 Q(k) ] x,   mu = (1 + i g) / U^2,   omega = k U

A fin at low speed is damped, so the lowest speed at which any ``mu`` is real and positive is the
onset of flutter. Branches over k are followed by mode shape.

Damping away from the boundary comes from the p-k form ::

    (p^2 M + K - q_dyn Q(k)) x = 0   with   Im p = k U

after H. J. Hassig, "An approximate true damping solution of the flutter equation by determinant
iteration", J. Aircraft 8 (1971) 885, started from a grid of wavenumbers. Over speed the roots are
followed by mode shape.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from calc.structure.plate import Basis

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

SUBSONIC_LIMIT = 0.9
"""Highest Mach number at which the linear subsonic theory is used (see `docs/reference`)."""
STATIC = 0.1
"""Below this share of the first natural frequency a root counts as static, not as flutter."""
LOWEST_S = 0.012
"""End of the search for flutter, in the interpolation variable."""
DAMPING_NOISE_FLOOR = 0.02
"""A branch that is unstable at the highest wavenumber counts only if it comes to need more than
this damping coefficient g. Coarse lattices show such growth of about this size in high modes where
finer ones show none (tests/convergence); wood has about as much damping of its own (common
practice)."""
MAX_TRACKED_SPEED = 1000.0
"""Speed [m/s] above which branches are followed through the first wavenumbers only; no boundary of
the subsonic theory is needed there."""
MAC_MIN, MAC_MIN_RETRY = 0.65, 0.9
"""Lowest modal assurance criterion (1 for equal shapes) at which two roots are taken for the same
branch; the second value is used on retry, where the first led to a wrong branch."""
PLACES = 16
"""Wavenumbers at which roots are computed at least. Of 8000 random fins six then have a first
speed more than 1 % above that found with 60 of them, and nine with 12."""
HALVINGS = 6
"""How often the step of the wavenumber is halved where that is not reached."""
REFINEMENTS = 9
"""Most Newton steps that refine a flutter boundary."""
NEAR_MISS = 0.05
"""Damping coefficient g below which a mode that loses damping with speed, then regains it, is
recorded as a near miss."""
MIN_RESERVE_RATIO = 0.7
"""Least share of the next Mach number's reserve (a/U)^2 taken at a lower one. Compressibility alone
makes it 0.75 to 0.95 on the grid used here; less means that another branch took over."""
NARROW, GRAZING = 0.98, 1.02
"""Where the instability's speed rises with Mach number almost as fast as the flight's, the matched
speed depends on the last digit of the curve. It is therefore at most `GRAZING` times the speed at
which the flight has `NARROW` of the dynamic pressure of the instability. For a curve that does not
rise this changes nothing."""
SUPERSONIC_START = 1.2
"""Mach number from which a flight is called supersonic; no rule depends on it."""


@dataclass(frozen=True)
class AirForces:
    """Generalised air forces on a fin's modes over a grid of Mach numbers and wavenumbers.

    Attributes
    ----------
    machs
        ``(n_m,)``, ascending.
    nodes
        ``(n_k,)`` wavenumbers [rad/m], ascending from zero.
    scale
        Wavenumber [rad/m] at the middle of the interpolation variable.
    forces
        ``(…, n_m, n_k, m, m)`` complex: force = dynamic pressure x forces x modal amplitude.
    """

    machs: Real
    nodes: Real
    scale: float
    forces: Complex

    def weights(self, wavenumbers: Real) -> Real:
        """Return ``(n, n_k)`` interpolation weights of the nodes at wavenumbers.

        Polynomial in ``s = k / (k + scale)``, which maps the quasi-steady and the rapid end to
        the two ends of a short interval where the forces are smooth.
        """
        s_nodes = self.nodes / (self.nodes + self.scale)
        s = np.asarray(wavenumbers, float) / (np.asarray(wavenumbers, float) + self.scale)
        return lagrange(s, s_nodes)

    def weight_slopes(self, wavenumbers: Real) -> Real:
        """Return ``(n, n_k)`` derivatives of the weights over the wavenumber [m/rad]."""
        k = np.asarray(wavenumbers, float)
        s_nodes = self.nodes / (self.nodes + self.scale)
        stretch = self.scale / (k + self.scale) ** 2
        return lagrange_slope(k / (k + self.scale), s_nodes) * stretch[:, None]

    def between(self, machs: Real, usable: NDArray[np.bool_]) -> AirForces:
        """Return the forces at one Mach number for each of ``(c,)`` candidates.

        Polynomial in ``1 / sqrt(1 - M^2)``, to which lift in two dimensions is proportional (the
        Prandtl-Glauert rule), through the Mach numbers ``(c, n_m)`` that are usable. `machs` of
        the result is a placeholder, because each candidate has its own.
        """
        nodes, at = prandtl_glauert(self.machs), prandtl_glauert(machs)
        weights = np.zeros(usable.shape)
        for pattern in np.unique(usable, axis=0):
            rows = np.flatnonzero((usable == pattern).all(axis=-1))
            weights[np.ix_(rows, pattern)] = lagrange(at[rows], nodes[pattern])
        forces = np.einsum("cm,cmkij->ckij", weights, self.forces)[:, None]
        return AirForces(machs[:1], self.nodes, self.scale, forces)

    def at_machs(self, machs: Real) -> AirForces:
        """Return the forces at other Mach numbers ``(n,)``, interpolated likewise."""
        weights = lagrange(prandtl_glauert(machs), prandtl_glauert(self.machs))
        forces = np.einsum("nm,...mkij->...nkij", weights, self.forces)
        return AirForces(machs, self.nodes, self.scale, forces)

    def steady(self, machs: Real) -> AirForces:
        """Return the forces at wavenumber zero at other Mach numbers, interpolated likewise."""
        weights = lagrange(prandtl_glauert(machs), prandtl_glauert(self.machs))
        forces = np.einsum("nm,cmij->cnij", weights, self.forces[:, :, 0])[:, :, None]
        return AirForces(machs, self.nodes[:1], self.scale, forces)

    def at(self, wavenumbers: Real) -> Complex:
        """Return ``(…, n_m, n_wavenumbers, m, m)`` interpolated forces."""
        shape = self.forces.shape
        flat = self.forces.reshape(*shape[:-2], -1)
        return (self.weights(wavenumbers) @ flat).reshape(*shape[:-3], -1, *shape[-2:])


def prandtl_glauert(machs: Real) -> Real:
    """Return ``1 / sqrt(1 - M^2)``, by which compressibility raises lift in two dimensions."""
    return np.asarray(1.0 / np.sqrt(1.0 - np.square(machs)))


def lagrange(at: Real, nodes: Real) -> Real:
    """Return ``(n, n_nodes)`` Lagrange weights, so that ``weights @ values`` interpolates."""
    same = np.eye(nodes.size, dtype=bool)
    above = np.where(same, 1.0, np.reshape(at, (-1, 1, 1)) - nodes)
    below = np.where(same, 1.0, nodes[:, None] - nodes)
    return np.asarray(above.prod(axis=-1) / below.prod(axis=-1))


def lagrange_slope(at: Real, nodes: Real) -> Real:
    """Return the derivatives ``(n, n_nodes)`` of the weights of `lagrange`."""
    # the weights at the nodes' own derivatives: weights are exact for polynomials of this degree
    powers = np.arange(nodes.size)
    slope = powers[1:] * np.reshape(at, (-1, 1)) ** powers[:-1]
    inverse = np.linalg.inv(nodes[:, None] ** powers)
    return np.asarray(slope @ inverse[1:])


def node_wavenumbers(chord: float, *, count: int = 6, highest: float = 2.0) -> tuple[Real, float]:
    """Return Chebyshev-like wavenumber nodes for a fin of mean chord `chord` [m] and their scale.

    `highest` is the largest reduced frequency ``omega c / (2 U)``; faster oscillations than
    that do not take part in the flutter of fins.
    """
    scale = 0.6 / chord
    top = 2.0 * highest / chord
    s_top = top / (top + scale)
    s = 0.5 * s_top * (1.0 - np.cos(np.pi * np.arange(count) / (count - 1)))
    return scale * s / (1.0 - s), scale


@dataclass(frozen=True, eq=False)
class AirGrid:
    """How a fin's panel answers motion, computed once per planform for every material.

    Attributes
    ----------
    response
        ``(n_m, n_k, b, b)`` complex [m2]: lift of each load point over dynamic pressure =
        response @ (dz/dx + i k z) at the control points.
    load_points, control_points
        ``(b, 2)`` [m].
    """

    machs: Real
    nodes: Real
    scale: float
    response: Complex
    load_points: Real
    control_points: Real

    def modal(self, *, load: Real, control: Real, slope: Real) -> AirForces:
        """Return the forces on modes.

        Parameters
        ----------
        load, control
            ``(…, b, m)`` modal deflection at load and control points.
        slope
            ``(…, b, m)`` modal dz/dx at the control points.
        """
        wash = (
            slope[..., None, None, :, :]
            + 1j * self.nodes[:, None, None] * control[..., None, None, :, :]
        )
        lifted = np.swapaxes(load, -1, -2)[..., None, None, :, :]
        forces = np.asarray(lifted @ (self.response @ wash), dtype=np.complex128)
        return AirForces(self.machs, self.nodes, self.scale, forces)

    def basis_shapes(self, basis: Basis) -> tuple[Real, Real]:
        """Return ``(b, n)`` a basis at load points and its dz/dx at control points; kept."""
        return _basis_shapes(self, basis)

    def on_modes(self, basis: Basis, shapes: Real) -> AirForces:
        """Return the forces on modes that are sums of the functions of a plate's basis.

        The same as `modal`, cheaper for many candidates: the forces on the basis are kept.

        Parameters
        ----------
        basis
            The plate's functions.
        shapes
            ``(…, n, m)`` their coefficients in each mode.
        """
        n, m = shapes.shape[-2:]
        machs, nodes = self.machs.size, self.nodes.size
        # real and imaginary parts side by side: (n, mach, node, part, n) as one real matrix
        right = _on_basis(self, basis).reshape(-1, n) @ shapes
        right = right.reshape(*shapes.shape[:-2], n, machs * nodes * 2 * m)
        out = (np.swapaxes(shapes, -1, -2) @ right).reshape(
            *shapes.shape[:-2], m, machs, nodes, 2, m
        )
        paired: Complex = np.empty(out[..., 0, :].shape, dtype=complex)
        paired.real, paired.imag = out[..., 0, :], out[..., 1, :]
        return AirForces(self.machs, self.nodes, self.scale, np.moveaxis(paired, -4, -2))


@lru_cache(maxsize=32)
def _basis_shapes(grid: AirGrid, basis: Basis) -> tuple[Real, Real]:
    """Return a plate's basis at the load points and its dz/dx at the control points."""
    return basis.values(grid.load_points), basis.slopes(grid.control_points)[0]


@lru_cache(maxsize=32)
def _on_basis(grid: AirGrid, basis: Basis) -> Real:
    """Return ``(n, n_m, n_k, 2, n)`` forces on a basis, real and imaginary part."""
    load, slope = grid.basis_shapes(basis)
    control = basis.values(grid.control_points)
    wash = slope + 1j * grid.nodes[:, None, None] * control
    forces = load.T @ (grid.response @ wash)
    return np.ascontiguousarray(np.moveaxis(np.stack([forces.real, forces.imag]), (3, 0), (0, 3)))


def air_grid(
    *,
    influence: Complex,
    areas: Real,
    load_points: Real,
    control_points: Real,
    machs: Real,
    nodes: Real,
    scale: float,
) -> AirGrid:
    """Return the air's answer from a lifting surface's influence ``(n_m, n_k, b, b)``.

    `influence` gives upwash over speed from pressure coefficients, at `machs` and at the
    `nodes` of `node_wavenumbers`.
    """
    response = areas[:, None] * np.linalg.inv(influence)
    return AirGrid(
        machs=np.asarray(machs, float),
        nodes=nodes,
        scale=scale,
        response=response,
        load_points=load_points,
        control_points=control_points,
    )


@dataclass(frozen=True)
class Flutter:
    """A flutter boundary, arrays over the leading axes of the question (candidates, Mach).

    `speed` is infinite where no branch becomes unstable in the range searched; `frequency`
    [rad/s] and `shape` (complex modal amplitudes) belong to the boundary. `near_miss` is the
    lowest speed at which a mode has less damping than `NEAR_MISS` and regains it without flutter;
    infinite where none does.
    """

    speed: Real
    frequency: Real
    wavenumber: Real
    shape: Complex
    near_miss: Real


def flutter(
    forces: AirForces,
    *,
    frequency: Real,
    density: Real | float,
    damping: float = 0.0,
    count: int = PLACES,
) -> Flutter:
    """Return the lowest flutter speed of each candidate at each Mach number of `forces`.

    Roots are computed at `count` wavenumbers, and between them where shapes change fast. Each
    branch is followed by shape and drawn as a cubic with the exact slopes of the roots, and the
    lowest crossing is then closed in on by Newton steps. A branch that grows already at the highest
    wavenumber (light fins in dense air) is followed a quarter beyond it; if it still grows there,
    the speed there is returned, which is then an upper limit of the flutter speed.

    Parameters
    ----------
    forces
        Modal forces ``(…, n_m, n_k, m, m)`` on mass-normalised modes.
    frequency
        ``(…, m)`` natural frequencies [rad/s].
    density
        Air density [kg/m3], broadcastable to ``(…, n_m)``.
    damping
        Structural damping coefficient g taken for granted; zero is the safe side.
    count
        Number of wavenumbers searched, spaced evenly in the interpolation variable.

    Returns
    -------
    Flutter
        Arrays of shape ``(…, n_m)``.
    """
    lead = forces.forces.shape[:-3]
    m = forces.forces.shape[-1]
    natural = np.broadcast_to(frequency[..., None, :], (*lead, m)).reshape(-1, m)
    problem = _Problem(
        forces=forces,
        table=(
            forces.forces.reshape(-1, forces.nodes.size, m, m)
            * (0.5 * np.broadcast_to(density, lead).reshape(-1, 1) / natural**2)[:, None, :, None]
        ).reshape(-1, forces.nodes.size, m * m),
        inverse=1.0 / natural**2,
    )
    s_top = forces.nodes[-1] / (forces.nodes[-1] + forces.scale)
    s = np.linspace(s_top, LOWEST_S, count)
    static = STATIC * natural[:, 0]
    every = np.arange(natural.shape[0])
    row, k, mu, missed = _crossings(problem, every, s, damping, static, MAC_MIN)
    # only what may turn out lowest is refined
    near = mu > 0.8 * mu[np.searchsorted(row, row)]
    row, k, mu, vector, lost = problem.refine_crossing(row[near], k[near], mu[near], damping)
    if lost.size:
        closer = np.linspace(s_top, LOWEST_S, 2 * count)
        again = _crossings(problem, lost, closer, damping, static, MAC_MIN_RETRY)[:3]
        row, k, mu, vector = (
            np.concatenate(pair)
            for pair in zip(
                (row, k, mu, vector), problem.refine_crossing(*again, damping), strict=False
            )
        )
    order = np.lexsort((-mu, row))
    rows, first = np.unique(row[order], return_index=True)
    k, mu, vector = (part[order][first] for part in (k, mu, vector))
    shape = (*lead, m)
    speed = np.full(natural.shape[0], np.inf)
    wavenumber = np.full(natural.shape[0], np.nan)
    shapes = np.zeros(natural.shape, dtype=complex)
    speed[rows], wavenumber[rows], shapes[rows] = 1.0 / np.sqrt(mu), k, vector
    return Flutter(
        speed=speed.reshape(lead),
        frequency=np.where(np.isfinite(speed), speed * wavenumber, np.nan).reshape(lead),
        wavenumber=wavenumber.reshape(lead),
        shape=shapes.reshape(shape),
        near_miss=missed.reshape(lead),
    )


@dataclass(frozen=True, eq=False)
class _Problem:
    """The eigenvalue problem of every row (a candidate at a Mach number).

    `table` is ``(r, n_k, m m)``: half density times the forces over each frequency squared;
    `inverse` is ``(r, m)``: one over each frequency squared.
    """

    forces: AirForces
    table: Complex
    inverse: Real

    def take(self, rows: NDArray[np.intp]) -> _Problem:
        """Return the problem of some rows."""
        return _Problem(self.forces, self.table[rows], self.inverse[rows])

    def at(self, k: Real, weights: Real, order: int = 0) -> Complex:
        """Return ``(r, w, m, m)`` for wavenumbers ``(…, w)`` and the weights of the nodes there.

        Order 1: the derivative over k, with the derivative of the weights.
        """
        m = self.inverse.shape[-1]
        # real arithmetic, because the weights are real
        out: Complex = np.ascontiguousarray(weights @ self.table.view(float)).view(complex)
        own = 2.0 * k if order else k**2
        out[..., :: m + 1] += own[..., None] * self.inverse[:, None, :]
        return out.reshape(*out.shape[:-1], m, m)

    def roots(self, rows: NDArray[np.intp], s: Real) -> _Roots:
        """Return the roots of rows ``(n,)`` at places ``(n,)``."""
        k = self.forces.scale * s / (1.0 - s)
        places, back = np.unique(k, return_inverse=True)
        weights = self.forces.weights(places)[back][:, None]
        turn = self.forces.weight_slopes(places)[back][:, None]
        own = self.take(rows)
        matrix, slope = own.at(k[:, None], weights)[:, 0], own.at(k[:, None], turn, 1)[:, 0]
        return self._solved(rows, s, matrix, slope)

    def everywhere(self, rows: NDArray[np.intp], s: Real) -> _Roots:
        """Return the roots of rows ``(n,)`` at all places ``(w,)``, row by row."""
        k = self.forces.scale * s / (1.0 - s)
        own = self.take(rows)
        matrix = own.at(k, self.forces.weights(k))
        slope = own.at(k, self.forces.weight_slopes(k), 1)
        m = self.inverse.shape[-1]
        return self._solved(
            np.repeat(rows, s.size),
            np.tile(s, rows.size),
            matrix.reshape(-1, m, m),
            slope.reshape(-1, m, m),
        )

    def _solved(self, rows: NDArray[np.intp], s: Real, matrix: Complex, slope: Complex) -> _Roots:
        """Return the roots of matrices ``(n, m, m)`` with derivatives over the wavenumber."""
        values, vectors = np.linalg.eig(matrix)
        left = np.linalg.inv(vectors)
        # per unit of s, because roots run smoothly over s
        stretch = (self.forces.scale / (1.0 - s) ** 2)[:, None]
        slopes = np.einsum("nij,nji->ni", left, slope @ vectors) * stretch
        return _Roots(rows, s, values, slopes, vectors, left)

    def refine_crossing(
        self, rows: NDArray[np.intp], k: Real, mu: Real, damping: float
    ) -> tuple[NDArray[np.intp], Real, Real, Complex, NDArray[np.intp]]:
        """Return row, wavenumber, 1/U^2 and shape where the root near `mu` needs just `damping`.

        Where there is no such root the crossing is left out; last come the rows of those.
        """
        start = k
        low, high = 0.75 * k, 1.25 * k
        m = self.inverse.shape[-1]
        right = np.zeros((rows.size, m, 1), dtype=complex)
        left = np.zeros((rows.size, 1, m), dtype=complex)
        value, excess = np.zeros(rows.size, dtype=complex), np.zeros(rows.size)
        target = mu * (1.0 + 1j * damping)
        own = self.take(rows)
        for step in range(REFINEMENTS):
            matrix = own.at(k[:, None], self.forces.weights(k)[:, None])[:, 0]
            turn = own.at(k[:, None], self.forces.weight_slopes(k)[:, None], 1)[:, 0]
            if step == 0:
                values, vectors = np.linalg.eig(matrix)
                column = np.abs(values - target[:, None]).argmin(axis=-1)[:, None, None]
                right = np.take_along_axis(vectors, column, axis=-1)
                left = np.take_along_axis(np.linalg.inv(vectors), column, axis=-2)
            else:
                # inverse iteration from both sides; off the root itself, which is singular
                shift = (target * (1.0 + 1e-9))[:, None, None] * np.eye(m)
                inverse = np.linalg.inv(matrix - shift)
                right, left = inverse @ right, left @ inverse
                right = right / np.linalg.norm(right, axis=-2, keepdims=True)
            scale = (left @ right)[:, 0, 0]
            left = left / scale[:, None, None]
            value = (left @ matrix @ right)[:, 0, 0]
            slope = (left @ turn @ right)[:, 0, 0]
            excess = value.imag - damping * value.real
            steep = slope.imag - damping * slope.real
            if step == REFINEMENTS - 1 or np.all(np.abs(excess) < 1e-13 * np.abs(value)):
                break
            moved = k - excess / np.where(steep == 0.0, np.inf, steep)
            moved = np.clip(moved, low, high)
            target = value + slope * (moved - k)
            k = moved
        vector = right[..., 0]
        true = (np.abs(excess) < 1e-6 * np.abs(value)) & (value.real > 0.0)
        # growing from the highest wavenumber on: what is known is the state there or beyond
        growing = ~true & (start > (1.0 - 1e-9) * self.forces.nodes[-1])
        beyond = growing & (k > start) & (excess > 0.0) & (value.real > 0.0)
        k = np.where(growing & ~beyond, start, k)
        value = np.where(growing & ~beyond, mu, value)
        true |= growing
        vector = vector[true]
        largest = np.abs(vector).argmax(axis=-1)[:, None]
        shape = vector / np.take_along_axis(vector, largest, axis=-1)
        return rows[true], k[true], value.real[true], shape, np.unique(rows[~true])


@dataclass(frozen=True, eq=False)
class _Roots:
    """Roots of rows at places s of the interpolation variable, arrays over them.

    `values` and `slopes` (per unit of s) are ``(n, m)``, `vectors` and `left` ``(n, m, m)``.
    """

    rows: NDArray[np.intp]
    s: Real
    values: Complex
    slopes: Complex
    vectors: Complex
    left: Complex

    def take(self, which: NDArray[np.intp] | NDArray[np.bool_]) -> _Roots:
        """Return some of them."""
        return _Roots(
            self.rows[which],
            self.s[which],
            self.values[which],
            self.slopes[which],
            self.vectors[which],
            self.left[which],
        )

    def matched(self, match: NDArray[np.intp]) -> _Roots:
        """Return them with values and slopes in the order ``(n, m)`` of other roots."""
        values, slopes = (
            np.take_along_axis(part, match, axis=-1) for part in (self.values, self.slopes)
        )
        return replace(self, values=values, slopes=slopes)


def _crossings(
    problem: _Problem,
    rows: NDArray[np.intp],
    s: Real,
    damping: float,
    static: Real,
    mac_min: float,
) -> tuple[NDArray[np.intp], Real, Real, Real]:
    """Return row, wavenumber and 1/U^2 of every onset, the lowest speed of a row first.

    Last comes the lowest speed of a near miss, for every row of the problem. Where the shapes at
    two neighbouring places are less alike than `mac_min` requires, the interval is halved.
    """
    count = rows.size
    roots = problem.everywhere(rows, s)
    index = np.arange(count * s.size).reshape(count, s.size)
    start, end = roots.take(index[:, :-1].ravel()), roots.take(index[:, 1:].ravel())
    match, sure = _track_modes(start, end, mac_min)
    found = [_unstable_at_k_max(roots, match.reshape(count, s.size - 1, -1), index, damping)]
    missed = np.full(problem.inverse.shape[0], np.inf)
    for level in range(HALVINGS + 1):
        settled = np.flatnonzero(sure if level < HALVINGS else np.ones_like(sure))
        pieces = start.take(settled), end.take(settled).matched(match[settled])
        fine = _interpolated_branches(*pieces)
        found.append(_zero_damping_crossings(*pieces, fine, damping))
        row, mu = _near_misses(*pieces, fine, damping)
        np.minimum.at(missed, row, 1.0 / np.sqrt(mu))
        if settled.size == sure.size:
            break
        start, end = start.take(~sure), end.take(~sure)
        middle = problem.roots(start.rows, 0.5 * (start.s + end.s))
        start = _joined(start, middle)
        end = _joined(middle, end)
        match, sure = _track_modes(start, end, mac_min)
    row, place, mu = (np.concatenate(part) for part in zip(*found, strict=True))
    wavenumber = problem.forces.scale * place / (1.0 - place)
    positive = mu > 0.0
    # a root whose frequency has sunk to nothing is divergence, which is asked for separately
    frequency = wavenumber / np.sqrt(np.where(positive, mu, 1.0))
    kept = np.flatnonzero(positive & (frequency > static[row]))
    kept = kept[np.lexsort((-mu[kept], row[kept]))]
    return row[kept], wavenumber[kept], mu[kept], missed


def _joined(first: _Roots, second: _Roots) -> _Roots:
    """Return two sets of roots as one."""
    return _Roots(
        np.concatenate([first.rows, second.rows]),
        np.concatenate([first.s, second.s]),
        np.concatenate([first.values, second.values]),
        np.concatenate([first.slopes, second.slopes]),
        np.concatenate([first.vectors, second.vectors]),
        np.concatenate([first.left, second.left]),
    )


def _interpolated_branches(start: _Roots, end: _Roots) -> Complex:
    """Return ``(n, m, 5)`` each branch from start to end, a cubic with the exact slopes."""
    h = (end.s - start.s)[:, None]
    part = np.linspace(0.0, 1.0, 5)
    cubic = np.stack(
        [
            (1.0 + 2.0 * part) * (1.0 - part) ** 2,
            part**2 * (3.0 - 2.0 * part),
            part * (1.0 - part) ** 2,
            -(part**2) * (1.0 - part),
        ]
    )
    ends = np.stack([start.values, end.values, start.slopes * h, end.slopes * h], axis=-1)
    return np.asarray(ends @ cubic)


def _zero_damping_crossings(
    start: _Roots, end: _Roots, fine: Complex, damping: float
) -> tuple[NDArray[np.intp], Real, Real]:
    """Return row, place and 1/U^2 where a branch turns from damped to growing as k falls."""
    h = (end.s - start.s)[:, None]
    excess = fine.imag - damping * fine.real
    here, there = excess[..., :-1], excess[..., 1:]
    one, branch, piece = np.nonzero((here <= 0.0) & (there > 0.0))
    at, after = (one, branch, piece), (one, branch, piece + 1)
    inside = excess[at] / (excess[at] - excess[after])
    mu = fine.real[at] + inside * (fine.real[after] - fine.real[at])
    return (
        start.rows[one],
        start.s[one] + (piece + inside) / (fine.shape[-1] - 1) * h[one, 0],
        mu,
    )


def _near_misses(
    start: _Roots, end: _Roots, fine: Complex, damping: float
) -> tuple[NDArray[np.intp], Real]:
    """Return row and 1/U^2 where a branch comes to have less damping than `NEAR_MISS`.

    Only where it regains it before the end.
    """
    # the damping needed, g = Im/Re, rises at the start and falls at the end (s falls on the way)
    turns = (start.slopes.imag * start.values.real < start.values.imag * start.slopes.real) & (
        end.slopes.imag * end.values.real > end.values.imag * end.slopes.real
    )
    one, branch = np.nonzero(turns & (start.values.real > 0.0) & (end.values.real > 0.0))
    way = fine[one, branch]
    needed = way.imag / way.real
    faint = needed > damping - NEAR_MISS
    missed = (needed.max(axis=-1) <= damping) & faint.any(axis=-1)
    slowest = np.where(faint, way.real, 0.0).max(axis=-1)
    return start.rows[one[missed]], slowest[missed]


def _unstable_at_k_max(
    roots: _Roots, match: NDArray[np.intp], index: NDArray[np.intp], damping: float
) -> tuple[NDArray[np.intp], Real, Real]:
    """Return row, place and 1/U^2 of branches that grow already at the highest wavenumber.

    Only those count that go on growing until it cannot be the lattice's error.
    """
    count, steps = index.shape
    branch = np.broadcast_to(np.arange(match.shape[-1]), (count, match.shape[-1]))
    values = roots.values.reshape(count, steps, -1)
    chain = [values[:, 0]]
    for step in range(1, steps):
        branch = np.take_along_axis(match[:, step - 1], branch, axis=-1)
        chain.append(np.take_along_axis(values[:, step], branch, axis=-1))
    followed = np.stack(chain, axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        needed = np.where(followed.real > 0.0, followed.imag / followed.real, -np.inf)
    over, under = needed > damping + DAMPING_NOISE_FLOOR, needed <= damping
    grown = np.where(over.any(axis=1), over.argmax(axis=1), steps)
    row, which = np.nonzero(grown < np.where(under.any(axis=1), under.argmax(axis=1), steps))
    first = index[row, 0]
    return roots.rows[first], roots.s[first], followed.real[row, 0, which]


def _track_modes(
    start: _Roots, end: _Roots, least: float
) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """Return ``(n, m)`` the root at the end for each root at the start, and whether it is sure.

    By the modal assurance criterion: left times right vectors are the unit matrix where nothing has
    changed.
    """
    size = np.linalg.norm(start.left, axis=-1)[..., None]
    mac = np.abs((start.left / size) @ end.vectors)
    m = mac.shape[-1]
    # the left vectors of roots about to meet turn away from their own right vectors
    own = 1.0 / size[..., 0]
    best = np.asarray(mac.argmax(axis=-1))
    like = np.take_along_axis(mac, best[..., None], axis=-1)[..., 0]
    clash = (np.sort(best, axis=-1) != np.arange(m)).any(axis=-1)
    matters = np.maximum(start.values.real, np.take_along_axis(end.values.real, best, axis=-1))
    sure = ((like > least * own) | (matters < 1.0 / MAX_TRACKED_SPEED**2)).all(axis=-1)
    sure &= ~clash | (matters < 1.0 / MAX_TRACKED_SPEED**2).all(axis=-1)
    rest = np.flatnonzero(clash)
    if rest.size:
        work = mac[rest].copy()
        here = np.arange(rest.size)
        for _ in range(m):
            row, column = np.divmod(work.reshape(rest.size, -1).argmax(axis=1), m)
            best[rest, row] = column
            work[here, row, :] = -1.0
            work[here, :, column] = -1.0
    return best, sure


def divergence_pressure(forces: AirForces, *, frequency: Real) -> Real:
    """Return the dynamic pressure [Pa] at which the fin diverges, at each Mach number.

    The lowest positive ``q_dyn`` with ``det(K - q_dyn Q(0)) = 0``; infinite where the fin washes
    out and cannot diverge. Shape ``(…, n_m)``.
    """
    steady = forces.forces[..., 0, :, :].real
    matrix = steady / frequency[..., None, :, None] ** 2
    values = np.linalg.eigvals(matrix)
    real = np.where(np.abs(values.imag) < 1e-9 * np.abs(values).max(), values.real, -1.0)
    largest = real.max(axis=-1)
    return np.where(largest > 0.0, 1.0 / np.where(largest > 0.0, largest, 1.0), np.inf)


def matched_speed(
    machs: Real, speeds: Real, *, sound_speed: Real | float
) -> tuple[Real, NDArray[np.bool_]]:
    """Return the speed at which a boundary is met in flight, and whether that is in range.

    Each Mach number of the grid has its own boundary speed; in flight speed and Mach number are
    tied by ``U = M a``. The first crossing of the two is the answer; a crossing missed by less
    than 1 % counts (`NARROW`). Where the boundary stays above the flight line up to the last Mach
    number, the speed there, ``M_last a``, is a lower limit only and the flag is False.

    Parameters
    ----------
    machs
        ``(n_m,)`` or ``(…, n_m)``, ascending.
    speeds
        ``(…, n_m)`` boundary speed at each Mach number [m/s]; may be infinite.
    sound_speed
        [m/s], broadcastable to ``(…,)``.
    """
    # the stiffness reserve (a/U)^2 varies gently with M^2 and is zero for "never"; straight
    # lines between the grid's Mach numbers cannot overshoot where the critical branch changes
    x: Real = np.square(np.asarray(machs, float))
    reserve = (np.asarray(sound_speed, float)[..., None] / limited_rise(speeds)) ** 2
    met = np.minimum(_met(x, reserve), GRAZING**2 * _met(x, reserve / NARROW))
    found: NDArray[np.bool_] = met <= x[..., -1]
    return np.sqrt(np.where(found, met, x[..., -1])) * sound_speed, found


def limited_rise(speeds: Real) -> Real:
    """Return boundary speeds ``(…, n_m)`` [m/s] limited by those at the next Mach number.

    A mode can stay just damped at one Mach number and flutter at the next; between them it may
    flutter already.
    """
    out = np.array(speeds, dtype=float)
    for lower in range(out.shape[-1] - 2, -1, -1):
        out[..., lower] = np.minimum(
            out[..., lower], out[..., lower + 1] / math.sqrt(MIN_RESERVE_RATIO)
        )
    return out


def interpolated_speed(machs: Real, speeds: Real, at: Real) -> Real:
    """Return ``(…, n)`` boundary speeds [m/s] at other Mach numbers, as `matched_speed` sees them.

    Parameters
    ----------
    machs
        ``(n_m,)`` ascending.
    speeds
        ``(…, n_m)`` `limited_rise` boundary speed at each [m/s]; may be infinite.
    at
        ``(n,)`` Mach numbers within that range.
    """
    x, place = np.square(machs), np.square(at)
    upper = np.clip(np.searchsorted(machs, at), 1, machs.size - 1)
    start, end = (1.0 / np.square(speeds[..., index]) for index in (upper - 1, upper))
    part = (place - x[upper - 1]) / (x[upper] - x[upper - 1])
    reserve = np.where(end > 0.0, start + (end - start) * part, start)
    with np.errstate(divide="ignore"):
        return np.asarray(1.0 / np.sqrt(reserve))


def _met(x: Real, reserve: Real) -> Real:
    """Return the first ``x = M^2`` at which ``x`` times the reserve over ``x`` reaches 1."""
    # on a line r = b + g x that is where g x^2 + b x = 1
    start, end = reserve[..., :-1], reserve[..., 1:]
    low, high = x[..., :-1], x[..., 1:]
    # where a boundary ends between two Mach numbers, it is assumed to last up to the second: the
    # safe side, because the exact end is unknown
    slope = np.where(end > 0.0, end - start, 0.0) / (high - low)
    level = start - slope * low
    square = level**2 + 4.0 * slope
    below = level + np.sqrt(np.maximum(square, 0.0))
    meets = (square >= 0.0) & (below > 0.0)
    met = 2.0 / np.where(meets, below, 1.0)
    # from below only: a flight that starts beyond the boundary has met it at once
    inside = meets & (met >= low * (1.0 - 1e-12)) & (met <= high)
    first = np.where(x[..., 0] * reserve[..., 0] >= 1.0, x[..., 0], np.inf)
    return np.asarray(np.minimum(np.where(inside, met, np.inf).min(axis=-1), first))


@dataclass(frozen=True)
class Damping:
    """Damping and frequency of each mode over speed, ``(n_u, m)``; NaN where a root is lost."""

    speeds: Real
    damping: Real
    frequency: Real


def damping_in_flight(
    forces: AirForces,
    *,
    frequency: Real,
    density: float,
    sound_speed: float,
    speeds: Real,
    count: int = 20,
) -> Damping:
    """Return p-k damping ratios over speed for one candidate that flies faster at one height.

    Each speed is solved in the air of its own Mach number.

    Parameters
    ----------
    forces
        Modal forces ``(n_m, n_k, m, m)``.
    frequency
        ``(m,)`` natural frequencies [rad/s].
    density
        Air density [kg/m3].
    sound_speed
        [m/s].
    speeds
        ``(n_u,)`` ascending [m/s], up to the last Mach number of `forces`.
    count
        Number of wavenumbers searched at each speed.

    Returns
    -------
    Damping
        Damping as ratio ``Re p / |p|``: positive means growing; a root without frequency
        (divergence) has 1 or -1. Roots follow shape. NaN where a root oscillates faster than the
        air forces reach.
    """
    every = replace(
        forces, forces=np.broadcast_to(forces.forces, (speeds.size, *forces.forces.shape))
    )
    usable = np.ones((speeds.size, forces.machs.size), dtype=bool)
    own = every.between(speeds / sound_speed, usable).forces[:, 0]
    return _p_k(forces, own, frequency, density, speeds, count)


def least_damping(curves: Damping) -> tuple[float, float]:
    """Return speed [m/s] and damping ratio (0 or more) at which a mode comes nearest to flutter.

    Counted are minima over speed only: at low speed every mode has little damping, because the air
    provides it, and a mode that keeps losing damping flutters. Both are infinite without a minimum.
    """
    margin = -curves.damping
    here = margin[1:-1]
    with np.errstate(invalid="ignore"):
        turns = (here < margin[:-2]) & (here <= margin[2:]) & (here >= 0.0)
    if not turns.any():
        return math.inf, math.inf
    row, mode = np.unravel_index(int(np.where(turns, here, np.inf).argmin()), here.shape)
    return float(curves.speeds[row + 1]), float(here[row, mode])


def _p_k(
    forces: AirForces, own: Complex, frequency: Real, density: float, speeds: Real, count: int
) -> Damping:
    """Return damping by the forces ``(n_u, n_k, m, m)`` of each speed."""
    table = own.reshape(speeds.size, forces.nodes.size, -1)
    m = frequency.size
    n = speeds.size
    top = np.minimum(1.6 * frequency.max() / speeds, forces.nodes[-1])
    # the roots of low frequency lie close together in k, so the grid is finer there
    ks = top[:, None] * np.linspace(0.0, 1.0, count) ** 1.5
    pressure = 0.5 * density * speeds**2

    def matrices(k: Real) -> Complex:
        """Return ``(n_u, w, m, m)`` for wavenumbers ``(n_u, w)``."""
        out = forces.weights(k.reshape(-1)).reshape(*k.shape, -1) @ table
        out *= -pressure[:, None, None]
        out[..., :: m + 1] += frequency**2
        return np.asarray(out.reshape(*k.shape, m, m))

    def root(square: Complex) -> Complex:
        """Return p of ``p^2 = -square`` with a frequency of zero or more, growing if it is zero."""
        p = 1j * np.sqrt(square)
        flip = (p.imag < 0.0) | ((p.imag == 0.0) & (p.real < 0.0))
        return np.asarray(np.where(flip, -p, p))

    grid = root(np.linalg.eigvals(matrices(ks)))
    # sorted frequencies are continuous in k whatever the branches do
    gap = np.sort(grid.imag, axis=-1) - (ks * speeds[:, None])[..., None]
    crossed = (gap[:, :-1] >= 0.0) & (gap[:, 1:] < 0.0)
    exists = crossed.any(axis=1)
    step = crossed.argmax(axis=1)
    line, rank = np.arange(n)[:, None], np.arange(m)
    low, high = ks[line, step], ks[line, step + 1]
    here, there = gap[line, step, rank], gap[line, step + 1, rank]
    values = np.full((n, m), np.nan + 0j)
    vectors = np.zeros((n, m, m), dtype=complex)
    for closing in (True, True, False):
        k = low + (high - low) * np.where(exists, here / np.where(exists, here - there, 1.0), 0.0)
        if closing:
            p = root(np.linalg.eigvals(matrices(k)))
            f = np.sort(p.imag, axis=-1)[line, rank, rank] - k * speeds[:, None]
            ahead = f >= 0.0
            low, high = np.where(ahead, k, low), np.where(ahead, high, k)
            here, there = np.where(ahead, f, here), np.where(ahead, there, f)
            continue
        squares, columns = np.linalg.eig(matrices(k))
        p = root(squares)
        pick = np.argsort(p.imag, axis=-1)[line, rank, rank]
        values = np.where(exists, p[line, rank, pick], np.nan)
        vectors = columns[line, rank, :, pick]
    return _over_speed(speeds, values, vectors, exists)


def _over_speed(
    speeds: Real, values: Complex, vectors: Complex, exists: NDArray[np.bool_]
) -> Damping:
    """Return roots ``(n_u, m)`` put in order of the modes they grew from, by their shapes."""
    n, m = values.shape
    out = np.full((n, m), np.nan + 0j)
    previous = np.eye(m, dtype=complex)
    for row in range(n):
        mac = np.abs(vectors[row].conj() @ previous)
        mac[~exists[row]] = -1.0
        for _ in range(int(exists[row].sum())):
            found, mode = divmod(int(mac.argmax()), m)
            out[row, mode] = values[row, found]
            previous[:, mode] = vectors[row, found]
            mac[found, :] = -1.0
            mac[:, mode] = -1.0
    return Damping(speeds=speeds, damping=out.real / np.abs(out), frequency=np.abs(out))
