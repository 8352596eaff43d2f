"""Where plate and air meet: flutter and divergence of a fin.

The fin moves as ``z(x, y, t) = sum_j phi_j(x, y) q_j(t)`` over its natural modes. Air answers
with generalised forces ``F = q_dyn Q(M, k) q`` that depend on planform, Mach number and
wavenumber ``k = omega / U`` only. They are computed once per planform; a material then costs a
small eigenvalue problem.

Flutter is found by the classical artificial-damping (V-g) method, exact at the boundary where
the damping needed is zero: for each wavenumber ::

    (1 + i g) / omega^2  K x = [ M + rho / (2 k^2) Q(k) ] x,   U = omega / k

and branches are followed by mode shape. Damping away from the boundary comes from the p-k form ::

    (p^2 M + K - q_dyn Q(k)) x = 0   with   Im p = k U

after H. J. Hassig, "An approximate true damping solution of the flutter equation by determinant
iteration", J. Aircraft 8 (1971) 885, solved over a grid of wavenumbers instead of by iteration.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

SUBSONIC_LIMIT = 0.9
"""Highest Mach number at which the linear subsonic theory is used (see `docs/reference`)."""
STATIC = 0.1
"""Below this share of the first natural frequency a root counts as static, not as flutter."""
SUPERSONIC_START = 1.2
"""Lowest Mach number at which the linear supersonic theory is used."""


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

    def at(self, wavenumbers: Real) -> Complex:
        """Return ``(…, n_m, n_wavenumbers, m, m)`` interpolated forces."""
        shape = self.forces.shape
        flat = self.forces.reshape(*shape[:-2], -1)
        return (self.weights(wavenumbers) @ flat).reshape(*shape[:-3], -1, *shape[-2:])


def lagrange(at: Real, nodes: Real) -> Real:
    """Return ``(n, n_nodes)`` Lagrange weights, so that ``weights @ values`` interpolates."""
    out = np.ones((np.size(at), nodes.size))
    for j, node in enumerate(nodes):
        for m, other in enumerate(nodes):
            if m != j:
                out[:, j] *= (at - other) / (node - other)
    return out


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


@dataclass(frozen=True)
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
        return AirForces(self.machs, self.nodes, self.scale, lifted @ (self.response @ wash))


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
    [rad/s] and `shape` (complex modal amplitudes) belong to the boundary.
    """

    speed: Real
    frequency: Real
    wavenumber: Real
    shape: Complex


def _follow(vectors: Complex, previous: Complex) -> NDArray[np.intp]:
    """Return for each branch the column of `vectors` most like it, each column used once."""
    likeness = np.abs(np.einsum("...ij,...ik->...jk", previous.conj(), vectors))
    count = likeness.shape[-1]
    taken = np.empty(likeness.shape[:-1], dtype=np.intp)
    work = likeness.reshape(-1, count, count).copy()
    flat = taken.reshape(-1, count)
    rows = np.arange(work.shape[0])
    for _ in range(count):
        best = work.reshape(work.shape[0], -1).argmax(axis=1)
        branch, column = best // count, best % count
        flat[rows, branch] = column
        work[rows, branch, :] = -1.0
        work[rows, :, column] = -1.0
    return taken


def flutter(
    forces: AirForces,
    *,
    frequency: Real,
    density: Real | float,
    damping: float = 0.0,
    count: int = 48,
) -> Flutter:
    """Return the lowest flutter speed of each candidate at each Mach number of `forces`.

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
    s_top = forces.nodes[-1] / (forces.nodes[-1] + forces.scale)
    s = np.linspace(s_top, 0.012, count)
    ks = forces.scale * s / (1.0 - s)
    vectors, values = _branches(forces.at(ks), frequency, density, ks)
    order = np.broadcast_to(
        np.arange(values.shape[-1]), (*values.shape[:-2], values.shape[-1])
    ).copy()
    tracked = np.empty_like(values)
    previous = np.take_along_axis(vectors[..., 0, :, :], order[..., None, :], axis=-1)
    tracked[..., 0, :] = np.take_along_axis(values[..., 0, :], order, axis=-1)
    for step in range(1, count):
        order = _follow(vectors[..., step, :, :], previous)
        previous = np.take_along_axis(vectors[..., step, :, :], order[..., None, :], axis=-1)
        tracked[..., step, :] = np.take_along_axis(values[..., step, :], order, axis=-1)
    real = tracked.real
    usable = real > 0.0
    omega = np.where(usable, 1.0 / np.sqrt(np.where(usable, real, 1.0)), np.nan)
    g = np.where(usable, tracked.imag / np.where(usable, real, 1.0), np.nan)
    before, after = g[..., :-1, :] - damping, g[..., 1:, :] - damping
    with np.errstate(invalid="ignore", divide="ignore"):
        crossing = (before <= 0.0) & (after > 0.0)
        # a root whose frequency has sunk to nothing is divergence, which is asked for separately
        crossing &= omega[..., 1:, :] > STATIC * frequency[..., None, None, :1]
        part = np.where(crossing, before / (before - after), 0.0)
    k_cross = ks[:-1, None] + part * (ks[1:] - ks[:-1])[:, None]
    omega_cross = omega[..., :-1, :] + part * (omega[..., 1:, :] - omega[..., :-1, :])
    u_cross = np.where(crossing, omega_cross / k_cross, np.inf)
    flat = u_cross.reshape(*u_cross.shape[:-2], -1)
    first = flat.argmin(axis=-1)
    lowest = np.take_along_axis(flat, first[..., None], axis=-1)[..., 0]
    k_low = np.take_along_axis(
        np.broadcast_to(k_cross, u_cross.shape).reshape(flat.shape), first[..., None], axis=-1
    )[..., 0]
    return _refine(forces, frequency, density, damping, lowest, k_low, ks)


def _branches(
    q: Complex, frequency: Real, density: Real | float, ks: Real
) -> tuple[Complex, Complex]:
    """Return eigenvectors and eigenvalues (1 + i g) / omega^2 at wavenumbers ``(…, n_m, w)``."""
    rho = np.asarray(density, float)[..., None, None, None]
    m = q.shape[-1]
    inverse = 1.0 / frequency**2
    matrix = np.eye(m) + rho / (2.0 * ks[:, None, None] ** 2) * q
    matrix = inverse[..., None, None, :, None] * matrix
    values, vectors = np.linalg.eig(matrix)
    return vectors, values


def _refine(
    forces: AirForces,
    frequency: Real,
    density: Real | float,
    damping: float,
    speed: Real,
    wavenumber: Real,
    ks: Real,
) -> Flutter:
    """Sharpen each boundary by secant steps of g over k on the branch that crosses there."""
    shape = np.zeros((*speed.shape, forces.forces.shape[-1]), dtype=complex)
    frequencies = np.full(speed.shape, np.nan)
    out_speed = speed.copy()
    out_k = wavenumber.copy()
    rho = np.broadcast_to(np.asarray(density, float), speed.shape)
    spacing = np.abs(np.diff(ks)).min()
    for index in np.argwhere(np.isfinite(speed)):
        key = tuple(index)
        lead, mach = key[:-1], key[-1]
        table = forces.forces[(*lead, mach)]
        natural = frequency[lead]
        target = out_speed[key]

        def at(
            k: float,
            near: float,
            table: Complex = table,
            natural: Real = natural,
            rho_here: float = float(rho[key]),
        ) -> tuple[float, float, Complex]:
            weights = forces.weights(np.array([k]))[0]
            q = np.tensordot(weights, table, axes=1)
            matrix = (np.eye(len(natural)) + rho_here / (2 * k * k) * q) / natural[:, None] ** 2
            values, vectors = np.linalg.eig(matrix)
            good = values.real > 0
            omega = np.where(good, 1.0 / np.sqrt(np.where(good, values.real, 1.0)), np.inf)
            damp = np.where(good, values.imag / np.where(good, values.real, 1.0), np.inf)
            # the branch that crosses: near in speed and near zero in damping
            pick = int(np.argmin(np.abs(omega / k / near - 1.0) + np.abs(damp - damping)))
            return float(damp[pick]) - damping, float(omega[pick]), vectors[:, pick]

        k0 = float(out_k[key])
        g0, omega, vector = at(k0, target)
        k1 = k0 * (1.0 + min(0.02, 0.2 * spacing / k0))
        for _ in range(6):
            g1, omega1, vector1 = at(k1, target)
            if not np.isfinite(g1) or g1 == g0:
                break
            k2 = k1 - g1 * (k1 - k0) / (g1 - g0)
            k0, g0, omega, vector = k1, g1, omega1, vector1
            if not 0.5 * out_k[key] < k2 < 1.5 * out_k[key]:
                break
            k1 = k2
            target = omega / k0
            if abs(g0) < 1e-9:
                break
        if abs(omega / k0 / speed[key] - 1.0) < 0.1:
            out_speed[key], out_k[key] = omega / k0, k0
        frequencies[key] = out_speed[key] * out_k[key]
        phase = vector[int(np.argmax(np.abs(vector)))]
        shape[key] = vector / phase
    return Flutter(speed=out_speed, frequency=frequencies, wavenumber=out_k, shape=shape)


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


def matched_speed(machs: Real, speeds: Real, *, sound_speed: float) -> tuple[Real, Real]:
    """Return the speed at which a boundary is met in flight, and whether that is in range.

    Each Mach number of the grid has its own boundary speed; in flight speed and Mach number are
    tied by ``U = M a``. The first crossing of the two is the answer. Where the boundary stays
    above the flight line up to the last Mach number, the speed there, ``M_last a``, is a lower
    limit only and the flag is False.

    Parameters
    ----------
    machs
        ``(n_m,)`` ascending.
    speeds
        ``(…, n_m)`` boundary speed at each Mach number [m/s]; may be infinite.
    sound_speed
        [m/s].
    """
    # the stiffness reserve (a/U)^2 varies gently with M^2 and is zero for "never"; straight
    # lines between the grid's Mach numbers cannot overshoot where the critical branch changes
    fine = np.linspace(machs[0], machs[-1], 241)
    nodes = np.asarray(machs, float) ** 2
    reserve = (sound_speed / np.asarray(speeds, float)) ** 2
    cell = np.clip(np.searchsorted(nodes, fine**2, side="right") - 1, 0, nodes.size - 2)
    part = (fine**2 - nodes[cell]) / (nodes[cell + 1] - nodes[cell])
    curve = reserve[..., cell] * (1.0 - part) + reserve[..., cell + 1] * part
    beyond = fine**2 * curve - 1.0
    crossed = beyond >= 0.0
    any_crossed = crossed.any(axis=-1)
    first = crossed.argmax(axis=-1)
    lower = np.maximum(first - 1, 0)
    take = np.take_along_axis
    b0 = take(beyond, lower[..., None], axis=-1)[..., 0]
    b1 = take(beyond, first[..., None], axis=-1)[..., 0]
    part = np.where(b1 > b0, -b0 / np.where(b1 > b0, b1 - b0, 1.0), 0.0)
    mach = fine[lower] + np.clip(part, 0, 1) * (fine[first] - fine[lower])
    return np.where(any_crossed, mach, machs[-1]) * sound_speed, any_crossed


@dataclass(frozen=True)
class Damping:
    """Damping and frequency of each mode over speed, ``(n_u, m)``; NaN where a root is lost."""

    speeds: Real
    damping: Real
    frequency: Real


def damping_curves(
    forces: AirForces,
    *,
    mach_index: int,
    frequency: Real,
    density: float,
    speeds: Real,
    count: int = 64,
) -> Damping:
    """Return p-k damping ratios over speed for one candidate at one Mach number.

    Parameters
    ----------
    forces
        Modal forces ``(n_m, n_k, m, m)``.
    mach_index
        Which Mach number of `forces`.
    frequency
        ``(m,)`` natural frequencies [rad/s].
    density
        Air density [kg/m3].
    speeds
        ``(n_u,)`` ascending [m/s].
    count
        Number of wavenumbers searched at each speed.

    Returns
    -------
    Damping
        Damping as ratio ``Re p / |p|``: positive means growing. Roots follow shape.
    """
    table = forces.forces[mach_index]
    m = frequency.size
    top = 1.6 * frequency.max() / speeds
    out_d = np.full((speeds.size, m), np.nan)
    out_f = np.full((speeds.size, m), np.nan)
    previous = np.eye(m, dtype=complex)
    for row, speed in enumerate(speeds):
        ks = np.linspace(0.0, min(top[row], forces.nodes[-1]), count)
        q_air = 0.5 * density * speed**2
        air = np.einsum("wk,kij->wij", forces.weights(ks), table, optimize=True)
        values, vectors = np.linalg.eig(np.diag(frequency**2) - q_air * air)
        p = 1j * np.sqrt(values)
        p = np.where(p.imag < 0, -p, p)
        gap = p.imag - ks[:, None] * speed
        found: list[tuple[complex, Complex]] = []
        columns = np.arange(m)
        order = columns.copy()
        for step in range(count - 1):
            following = _follow(vectors[step + 1], vectors[step][:, order])
            here, there = gap[step, order], gap[step + 1, following]
            for branch in np.flatnonzero((here >= 0.0) & (there < 0.0)):
                part = here[branch] / (here[branch] - there[branch])
                p0, p1 = p[step, order[branch]], p[step + 1, following[branch]]
                found.append((p0 + part * (p1 - p0), vectors[step + 1][:, following[branch]]))
            order = following
        if not found:
            continue
        shapes = np.stack([vector for _, vector in found], axis=1)
        likeness = np.abs(previous.conj().T @ shapes)
        for _ in range(min(m, len(found))):
            mode, root = np.unravel_index(int(likeness.argmax()), likeness.shape)
            if likeness[mode, root] < 0.0:
                break
            value = found[int(root)][0]
            out_d[row, mode] = value.real / abs(value)
            out_f[row, mode] = abs(value)
            previous[:, mode] = shapes[:, root] / np.linalg.norm(shapes[:, root])
            likeness[mode, :] = -1.0
            likeness[:, root] = -1.0
    return Damping(speeds=speeds, damping=out_d, frequency=out_f)
