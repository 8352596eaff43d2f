"""Bending and vibration of a fin as a thin orthotropic plate held along its root.

Rayleigh-Ritz method (Leissa, NASA SP-160, 1969, describes it for plates). The deflection is a sum
of polynomials; the energy integrals are exact for a plate of one thickness. Everything that
depends on outline and edge shape alone is computed once in `prepare`; the six bending stiffnesses
of a material then enter linearly in `assemble`.

Symbols: ``w`` deflection, ``D`` (3, 3) bending stiffness [N m] relating moments per length to the
curvatures ``(w_xx, w_yy, 2 w_xy)``, ``m`` mass per area, ``S`` (2, 2) transverse shear stiffness
[N/m] relating shear forces per length to the shear strains ``(gamma_xz, gamma_yz)``.

Not modelled: large deflection, in-plane load, rotary inertia, damping, the taper of a bevelled tip.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

from calc.errors import InputError
from calc.geometry.outline import Frame, Outline
from calc.geometry.planform import Edge, chord_breaks, thickness_fraction
from calc.numerics.quadrature import gauss_legendre

Array = npt.NDArray[np.float64]
Root = Literal["clamped", "hinged", "free"]
Section = Callable[[Array, Array], npt.ArrayLike]

# Lowest power of the span coordinate in the deflection that each way of holding the root allows.
_ROOT_POWER: dict[Root, int] = {"clamped": 2, "hinged": 1, "free": 0}

# Pairs of curvatures that D11, D22, D12, D66, D16 and D26 multiply in the strain energy.
_PAIRS = ((0, 0), (1, 1), (0, 1), (2, 2), (0, 2), (1, 2))
_SHEAR_PAIRS = ((0, 0), (1, 1), (0, 1))


@dataclass(frozen=True, eq=False)
class PolynomialBasis:
    """Polynomials ``eta^power Q_ij(eta) c^j P_j(2 xi - 1)``, mean square one over the frame.

    Notes
    -----
    ``eta`` and ``xi`` are the fractions of span and local chord, ``c`` the local chord over the
    largest. ``P_j`` are Legendre polynomials; for each ``j`` the ``Q_ij`` are the polynomials that
    make the functions orthogonal over the panel. The factor ``c^j`` makes every function a
    polynomial in x and y, so that nothing grows without bound where the tip chord is zero.
    """

    frame: Frame
    power: int
    spanwise: int
    chordwise: int

    @property
    def lower(self) -> npt.NDArray[np.bool_]:
        """Return a mask (n,) of the functions without the highest degree along span and chord."""
        along_span = np.arange(self.spanwise) < max(self.spanwise - 1, 1)
        along_chord = np.arange(self.chordwise) < max(self.chordwise - 1, 1)
        return np.asarray(np.outer(along_span, along_chord).ravel())

    @cached_property
    def _recurrence(self) -> tuple[Array, Array, Array]:
        """Return start (J,), shift (I, J) and scale (I, J) of the recurrence of Q_ij.

        Discretised Stieltjes procedure: the Gauss points integrate every product exactly.
        """
        p, degree = self.frame, np.arange(self.chordwise)
        eta, weight = gauss_legendre(self.power + self.spanwise + self.chordwise, low=0.0, high=1.0)
        chord = (p.root + (p.tip - p.root) * eta) / max(p.root, p.tip)
        measure = (
            weight
            * eta ** (2 * self.power)
            * chord ** (2 * degree[:, None] + 1)
            * (p.span * max(p.root, p.tip) / p.area / (2 * degree[:, None] + 1))
        )
        start = 1.0 / np.sqrt(measure.sum(axis=1))
        shift = np.zeros((self.spanwise, self.chordwise))
        scale = np.ones((self.spanwise, self.chordwise))
        before = np.zeros((self.chordwise, eta.size))
        now = np.repeat(start[:, None], eta.size, axis=1)
        for i in range(self.spanwise - 1):
            shift[i] = np.sum(measure * eta * now**2, axis=1)
            after = (eta - shift[i][:, None]) * now
            if i:
                after -= scale[i - 1][:, None] * before
            scale[i] = np.sqrt(np.sum(measure * after**2, axis=1))
            before, now = now, after / scale[i][:, None]
        return start, shift, scale

    def _span_part(self, eta: Array, order: int) -> list[Array]:
        """Return ``eta^power Q_ij`` and its first `order` derivatives, each (I, J, m)."""
        start, shift, scale = self._recurrence
        q = np.zeros((order + 1, self.spanwise, self.chordwise, eta.size))
        q[0, 0] = start[:, None]
        rank = np.arange(order + 1)[:, None, None]
        for i in range(self.spanwise - 1):
            after = (eta - shift[i][:, None]) * q[:, i]
            after[1:] += rank[1:] * q[:-1, i]
            if i:
                after -= scale[i - 1][:, None] * q[:, i - 1]
            q[:, i + 1] = after / scale[i][:, None]
        a = self.power
        lead = [eta**a, a * eta ** max(a - 1, 0), a * (a - 1) * eta ** max(a - 2, 0)]
        return [
            np.asarray(sum(math.comb(k, r) * lead[r] * q[k - r] for r in range(k + 1)), dtype=float)
            for k in range(order + 1)
        ]

    def _chord_part(self, x: Array, c: Array, order: int) -> dict[str, Array]:
        """Return homogeneous Legendre polynomials ``c^j P_j(x/c)`` and derivatives, each (J, m)."""
        names = ("", "x", "c", "xx", "xc", "cc")[: (1, 3, 6)[order]]
        p = {name: np.zeros((self.chordwise, x.size)) for name in names}
        p[""][0] = 1.0
        for j in range(self.chordwise - 1):
            a, b = (2 * j + 1) / (j + 1), j / (j + 1)
            now = {name: p[name][j] for name in names}
            old = {name: p[name][j - 1] if j else 0.0 * x for name in names}
            p[""][j + 1] = a * x * now[""] - b * c * c * old[""]
            if order:
                p["x"][j + 1] = a * (now[""] + x * now["x"]) - b * c * c * old["x"]
                p["c"][j + 1] = a * x * now["c"] - b * (2 * c * old[""] + c * c * old["c"])
            if order > 1:
                p["xx"][j + 1] = a * (2 * now["x"] + x * now["xx"]) - b * c * c * old["xx"]
                p["xc"][j + 1] = a * (now["c"] + x * now["xc"]) - b * (
                    2 * c * old["x"] + c * c * old["xc"]
                )
                p["cc"][j + 1] = a * x * now["cc"] - b * (
                    2 * old[""] + 4 * c * old["c"] + c * c * old["cc"]
                )
        return p

    def evaluate(self, points: Array, order: int) -> Array:
        """Return values (1, m, n), slopes (2, m, n) or curvatures (3, m, n) for order 0, 1, 2."""
        plan = self.frame
        longest = max(plan.root, plan.tip)
        eta = points[:, 1] / plan.span
        c = (plan.root + (plan.tip - plan.root) * eta) / longest
        x = 2.0 * (points[:, 0] - plan.front - plan.sweep * eta) / longest - c
        f = self._span_part(eta, order)
        p = self._chord_part(x, c, order)
        x_x, c_eta = 2.0 / longest, (plan.tip - plan.root) / longest
        x_eta = -2.0 * plan.sweep / longest - c_eta
        s = plan.span
        if order == 0:
            parts = [f[0] * p[""]]
        else:
            p_eta = x_eta * p["x"] + c_eta * p["c"]
            if order == 1:
                parts = [x_x * f[0] * p["x"], (f[1] * p[""] + f[0] * p_eta) / s]
            else:
                p_x_eta = x_eta * p["xx"] + c_eta * p["xc"]
                p_eta_eta = x_eta * p_x_eta + c_eta * (x_eta * p["xc"] + c_eta * p["cc"])
                parts = [
                    x_x**2 * f[0] * p["xx"],
                    (f[2] * p[""] + 2.0 * f[1] * p_eta + f[0] * p_eta_eta) / s**2,
                    2.0 * x_x * (f[1] * p["x"] + f[0] * p_x_eta) / s,
                ]
        out = np.stack(parts).reshape(len(parts), self.spanwise * self.chordwise, -1)
        return np.ascontiguousarray(np.swapaxes(out, 1, 2))


@dataclass(frozen=True, eq=False)
class Basis:
    """Functions whose sum, each times a coefficient [m], is the deflection of the fin."""

    blocks: tuple[PolynomialBasis, ...]

    @property
    def size(self) -> int:
        """Return the number of functions."""
        return sum(block.spanwise * block.chordwise for block in self.blocks)

    def _evaluate(self, points: npt.ArrayLike, order: int) -> Array:
        """Return the functions of all blocks side by side."""
        places = np.asarray(points, dtype=float).reshape(-1, 2)
        parts = [block.evaluate(places, order) for block in self.blocks]
        return parts[0] if len(parts) == 1 else np.concatenate(parts, axis=2)

    def values(self, points: npt.ArrayLike) -> Array:
        """Return the deflection (m, n) of each function at points (m, 2) [m]."""
        return np.asarray(self._evaluate(points, 0)[0])

    def slopes(self, points: npt.ArrayLike) -> Array:
        """Return slopes (2, m, n) [1/m] of each function along x and y at points (m, 2) [m]."""
        return self._evaluate(points, 1)

    def curvatures(self, points: npt.ArrayLike) -> Array:
        """Return second derivatives w_xx, w_yy, 2 w_xy (3, m, n) [1/m²] at points (m, 2) [m]."""
        return self._evaluate(points, 2)


@dataclass(frozen=True, eq=False)
class _Quadrature:
    """Points of the energy integrals, sorted by zone."""

    points: Array
    weights: Array
    relative: Array  # local thickness over that of its zone
    starts: tuple[int, ...]  # first point of each zone, and one past the last


def _products(left: Array, right: Array, pairs: tuple[tuple[int, int], ...]) -> Array:
    """Return symmetric sums of ``left_a^T right_b`` for pairs (a, b), from (k, m, n) arrays."""
    k, _, n = left.shape
    gram = np.swapaxes(left, 0, 1).reshape(-1, k * n).T @ np.swapaxes(right, 0, 1).reshape(
        -1, k * n
    )
    blocks = gram.reshape(k, n, k, n)
    return np.stack(
        [blocks[a, :, b] if a == b else blocks[a, :, b] + blocks[b, :, a] for a, b in pairs]
    )


def _stiffness_terms(curvature: Array, quadrature: _Quadrature) -> Array:
    """Return bending energy terms (n_zone, 6, n, n) of curvatures (3, m, n) at the points."""
    weighted = curvature * (quadrature.weights * quadrature.relative**3)[:, None]
    cuts = quadrature.starts
    return np.stack(
        [_products(curvature[:, a:b], weighted[:, a:b], _PAIRS) for a, b in pairwise(cuts)]
    )


@dataclass(frozen=True, eq=False)
class _ShearTerms:
    """Energy terms of the plate with transverse shear, outer unknowns first.

    Outer unknowns: the clamped functions, then one function per chordwise term with a slope at the
    root, which the shear at the root causes. Inner unknowns: rotation of the root per chordwise
    term (only with a root spring) and the rest of the shear strains. With a large shear stiffness
    the inner unknowns vanish and the thin plate of the same functions remains, so there is no
    shear locking.
    """

    basis: Basis
    inner: PolynomialBasis
    outer_size: int
    root_size: int
    bending: Array  # (n_zone, 6, N, N)
    shear: Array  # (n_zone, 3, N, N)
    mass: Array  # (n_zone, outer, outer)
    root: Array  # (N, N)


@dataclass(frozen=True, eq=False)
class RitzIntegrals:
    """Energy integrals of a plate, which depend on outline and edge shape only; see `prepare`.

    Parameters
    ----------
    zone_fractions
        Thickness of each zone over full thickness (n_zone,).
    stiffness_terms
        (n_zone, 6, n, n) for D11, D22, D12, D66, D16, D26 of each zone: the stiffness matrix is the
        sum of each D times its term.
    mass_terms
        (n_zone, n, n) for the mass per area of each zone.
    """

    planform: Outline
    edge: Edge
    root: Root
    basis: Basis
    zone_fractions: Array
    stiffness_terms: Array
    mass_terms: Array
    _quadrature: _Quadrature

    @property
    def size(self) -> int:
        """Return the number of functions in the basis."""
        return self.basis.size

    @property
    def zone_areas(self) -> Array:
        """Return the area of each zone (n_zone,) [m²]."""
        return np.add.reduceat(self._quadrature.weights, self._quadrature.starts[:-1])

    def values(self, points: npt.ArrayLike) -> Array:
        """Return the deflection (m, n) of each function at points (m, 2) [m]."""
        return self.basis.values(points)

    def slopes(self, points: npt.ArrayLike) -> Array:
        """Return slopes (2, m, n) [1/m] along x and y at points (m, 2) [m]."""
        return self.basis.slopes(points)

    def curvatures(self, points: npt.ArrayLike) -> Array:
        """Return second derivatives w_xx, w_yy, 2 w_xy (3, m, n) [1/m²] at points (m, 2) [m]."""
        return self.basis.curvatures(points)

    @property
    def _block(self) -> PolynomialBasis:
        return self.basis.blocks[0]

    @cached_property
    def _root_line(self) -> tuple[Array, Array]:
        """Return points (m, 2) along the root and their weights [m]."""
        xi, weight = gauss_legendre(self._block.chordwise + 1, low=0.0, high=1.0)
        return self.planform.points(xi, 0.0), weight * self.planform.root

    @cached_property
    def root_term(self) -> Array:
        """Return the term (n, n) that a rotational spring along the root multiplies [1/m]."""
        points, weights = self._root_line
        slope = self.slopes(points)[1]
        return np.asarray((slope * weights[:, None]).T @ slope)

    @cached_property
    def hinged(self) -> RitzIntegrals:
        """Return the same fin with its root free to rotate about the root line."""
        block = replace(self._block, power=1, spanwise=self._block.spanwise + 1)
        return _integrated(
            self.planform, self.edge, "hinged", block, self._quadrature, self.zone_fractions
        )

    @cached_property
    def _shear(self) -> _ShearTerms:
        """Return the energy terms with transverse shear, for a root that may rotate."""
        clamped, quadrature = self._block, self._quadrature
        root_only = replace(clamped, power=1, spanwise=1)
        inner = replace(clamped, power=1)
        basis = Basis((clamped, root_only))
        n, extra, size = basis.size, root_only.chordwise, inner.spanwise * inner.chordwise
        total = n + extra + 2 * size
        outer = slice(n - extra, n)
        turn = slice(n, n + extra)
        gx, gy = slice(n + extra, n + extra + size), slice(n + extra + size, total)
        m = quadrature.weights.size

        slope_root = root_only.evaluate(quadrature.points, 1)
        value = inner.evaluate(quadrature.points, 0)[0]
        slope = inner.evaluate(quadrature.points, 1)
        curvature = np.zeros((3, m, total))
        curvature[:, :, : n - extra] = clamped.evaluate(quadrature.points, 2)
        curvature[:, :, turn] = root_only.evaluate(quadrature.points, 2)
        curvature[0, :, gx], curvature[1, :, gy] = -slope[0], -slope[1]
        curvature[2, :, gx], curvature[2, :, gy] = -slope[1], -slope[0]
        strain = np.zeros((2, m, total))
        strain[:, :, outer], strain[:, :, turn] = slope_root, -slope_root
        strain[0, :, gx], strain[1, :, gy] = value, value

        cuts = quadrature.starts
        weighted = strain * (quadrature.weights * quadrature.relative)[:, None]
        shear = [
            _products(strain[:, a:b], weighted[:, a:b], _SHEAR_PAIRS) for a, b in pairwise(cuts)
        ]
        points, weights = self._root_line
        turned = root_only.evaluate(points, 1)[1]
        root = np.zeros((total, total))
        root[turn, turn] = (turned * weights[:, None]).T @ turned
        return _ShearTerms(
            basis=basis,
            inner=inner,
            outer_size=n,
            root_size=extra,
            bending=_stiffness_terms(curvature, quadrature),
            shear=np.stack(shear),
            mass=_mass_terms(basis, quadrature),
            root=root,
        )


@dataclass(frozen=True, eq=False)
class System:
    """Stiffness and mass matrices of a fin, (..., n, n), and the functions they belong to.

    `basis` converts coefficients to deflections. It is the basis of the `RitzIntegrals` that the
    system came from, except that a root spring or transverse shear adds functions with a slope at
    the root.
    """

    stiffness: Array
    mass: Array
    basis: Basis
    _recovery: Array | None = None
    _inner: PolynomialBasis | None = None

    @property
    def shear_flexible(self) -> bool:
        """Return whether transverse shear is part of the deflection."""
        return self._recovery is not None

    def single(self, index: int) -> System:
        """Return one system of a stack of them, (n, n)."""
        return replace(
            self,
            stiffness=self.stiffness[index],
            mass=self.mass[index],
            _recovery=None if self._recovery is None else self._recovery[index],
        )


@dataclass(frozen=True, eq=False)
class Modes:
    """Natural modes, lowest first.

    Parameters
    ----------
    frequency
        (..., count) [rad/s].
    shapes
        Coefficients (..., n, count), each column scaled to a modal mass of 1 kg.
    basis
        Functions the coefficients multiply.
    """

    frequency: Array
    shapes: Array
    basis: Basis


def _mass_terms(basis: Basis, quadrature: _Quadrature) -> Array:
    """Return kinetic energy terms (n_zone, n, n)."""
    value = basis.values(quadrature.points)
    weighted = value * (quadrature.weights * quadrature.relative)[:, None]
    cuts = quadrature.starts
    return np.stack([value[a:b].T @ weighted[a:b] for a, b in pairwise(cuts)])


def _integration(
    planform: Outline,
    edge: Edge,
    thickness_ratio: float | None,
    section: Section | None,
    spanwise: int,
    chordwise: int,
    zones: int,
) -> tuple[_Quadrature, Array]:
    """Return quadrature points in zones of similar thickness, and the zones' fractions."""
    shaped = section is not None or edge.kind != "square"
    # Two more for the hinged root and its higher degree, four more for a thickness that varies.
    count = spanwise + chordwise + 3 + (4 if section is not None else 0)
    y, y_weight = planform.spanwise_quadrature(count)
    eta, chord = y / planform.span, planform.chord(y)
    ratio = None
    if section is None and edge.kind == "rounded" and thickness_ratio is not None:
        ratio = thickness_ratio * planform.root / chord
    if section is not None:
        breaks = np.broadcast_to(np.linspace(0.0, 1.0, 6), (eta.size, 6))
    else:
        ends = chord_breaks(edge, local_thickness_ratio=ratio)
        breaks = np.broadcast_to(ends, (eta.size, ends.shape[-1]))
    inner, inner_weight = gauss_legendre(
        max(chordwise, 8) if shaped else chordwise, low=0.0, high=1.0
    )
    width = np.diff(breaks, axis=1)
    xi = breaks[:, :-1, None] + width[:, :, None] * inner
    weight = y_weight[:, None, None] * chord[:, None, None] * width[:, :, None] * inner_weight
    span_fraction = np.broadcast_to(eta[:, None, None], xi.shape)
    if section is not None:
        fraction = np.asarray(section(xi.ravel(), span_fraction.ravel()), dtype=float)
        if fraction.shape != (xi.size,) or not np.all((fraction >= 0.0) & (fraction <= 1.0)):
            raise InputError("section", fraction.shape, "fractions between 0 and 1, one per point")
    else:
        local = None if ratio is None else ratio[:, None, None]
        fraction = thickness_fraction(edge, xi, local_thickness_ratio=local).ravel()
    points = planform.points(xi, span_fraction).reshape(-1, 2)
    return _zoned(points, weight.ravel(), fraction, zones)


def _zoned(points: Array, weights: Array, fraction: Array, zones: int) -> tuple[_Quadrature, Array]:
    """Return points in zones: full thickness by itself, the rest in equal steps of thickness."""
    full = fraction > 1.0 - 1e-9
    steps = max(zones - 1, 1) if np.any(full) else zones
    number = np.where(full, steps, np.minimum((fraction * steps).astype(int), steps - 1))
    keep = (weights > 0.0) & (fraction > 0.0)
    order = np.flatnonzero(keep)[np.argsort(number[keep], kind="stable")]
    _, starts = np.unique(number[order], return_index=True)
    cuts = (*(int(start) for start in starts), order.size)
    weights, fraction = weights[order], fraction[order]
    area = np.add.reduceat(weights, starts)
    zone = np.add.reduceat(weights * fraction, starts) / area
    zone[np.isclose(zone, 1.0, rtol=0.0, atol=1e-9)] = 1.0
    relative = fraction / np.repeat(zone, np.diff(cuts))
    return _Quadrature(points[order], weights, relative, cuts), zone


def _integrated(
    planform: Outline,
    edge: Edge,
    root: Root,
    block: PolynomialBasis,
    quadrature: _Quadrature,
    zone_fractions: Array,
) -> RitzIntegrals:
    """Return the energy integrals of one basis."""
    basis = Basis((block,))
    return RitzIntegrals(
        planform=planform,
        edge=edge,
        root=root,
        basis=basis,
        zone_fractions=zone_fractions,
        stiffness_terms=_stiffness_terms(basis.curvatures(quadrature.points), quadrature),
        mass_terms=_mass_terms(basis, quadrature),
        _quadrature=quadrature,
    )


def prepare(
    planform: Outline,
    *,
    edge: Edge | None = None,
    thickness_ratio: float | None = None,
    spanwise: int = 6,
    chordwise: int = 7,
    zones: int = 8,
    root: Root = "clamped",
    section: Section | None = None,
) -> RitzIntegrals:
    """Return the energy integrals of a fin, which serve all materials and thicknesses.

    Parameters
    ----------
    planform
        Outline.
    edge
        Shape of the edges; square if not given.
    thickness_ratio
        Full thickness over root chord; needed for rounded edges only.
    spanwise, chordwise
        Number of functions along span and chord; their product is the size of the problem.
    zones
        Most zones of similar thickness into which a shaped fin is divided. Within a zone bending
        stiffness follows the cube of the thickness and mass the thickness, so the division does
        not matter for a fin of one homogeneous material.
    root
        ``clamped``: no deflection and no slope. ``hinged``: no deflection. ``free``: neither.
    section
        Local thickness over full thickness as a function of (fraction of local chord, fraction of
        span), instead of `edge`, for instance of a published airfoil.

    Returns
    -------
    RitzIntegrals
        Reusable as long as outline and edge stay the same.

    Raises
    ------
    InputError
        Naming an unknown root support, a count below 1 or a section outside 0 to 1.

    References
    ----------
    Rayleigh-Ritz: A. W. Leissa, Vibration of Plates, NASA SP-160 (1969). Gauss quadrature, the
    Stieltjes procedure for orthogonal polynomials: standard numerical mathematics.

    Examples
    --------
    >>> from calc.geometry.planform import Planform
    >>> plate = prepare(Planform(root=1.0, tip=1.0, span=1.0, sweep=0.0))
    >>> plate.size, plate.zone_fractions.tolist()
    (42, [1.0])
    """
    edge = Edge("square") if edge is None else edge
    if root not in get_args(Root):
        raise InputError("root_support", root, "one of " + ", ".join(get_args(Root)))
    for name, number in (("spanwise", spanwise), ("chordwise", chordwise), ("zones", zones)):
        if number < 1:
            raise InputError(name, number, "a whole number of 1 or more")
    block = PolynomialBasis(planform.frame, _ROOT_POWER[root], spanwise, chordwise)
    quadrature, zone_fractions = _integration(
        planform, edge, thickness_ratio, section, spanwise, chordwise, zones
    )
    return _integrated(planform, edge, root, block, quadrature, zone_fractions)


def _per_zone(name: str, value: npt.ArrayLike, fractions: Array, square: int, power: int) -> Array:
    """Return a stiffness as (..., n_zone, square, square), thinned where given only once."""
    given = np.asarray(value, dtype=float)
    shape = f"({square}, {square}) or (..., {fractions.size}, {square}, {square})"
    if given.ndim < 2 or given.shape[-2:] != (square, square):
        raise InputError(name, given.shape, f"an array of shape {shape}")
    if given.ndim == 2:
        given = given[None]
    if given.shape[-3] == 1:
        return np.asarray(given * (fractions**power)[:, None, None])
    if given.shape[-3] != fractions.size:
        raise InputError(name, given.shape, f"an array of shape {shape}")
    return given


def _mass_per_zone(value: npt.ArrayLike, fractions: Array) -> Array:
    """Return a mass per area as (..., n_zone), thinned where given only once."""
    given = np.asarray(value, dtype=float)
    if given.ndim == 0:
        given = given[None]
    if given.shape[-1] == 1:
        return np.asarray(given * fractions)
    if given.shape[-1] != fractions.size:
        raise InputError("areal_mass", given.shape, f"one value, or (..., {fractions.size})")
    return given


def _combine(coefficients: Array, terms: Array) -> Array:
    """Return the sum of coefficients (..., n_zone, k) times terms (n_zone, k, n, n)."""
    n = terms.shape[-1]
    lead = coefficients.shape[:-2]
    flat = coefficients.reshape(-1, terms.shape[0] * terms.shape[1]) @ terms.reshape(-1, n * n)
    return np.asarray(flat.reshape(*lead, n, n))


def assemble(
    prepared: RitzIntegrals,
    *,
    bending: npt.ArrayLike,
    areal_mass: npt.ArrayLike,
    root_spring: npt.ArrayLike | None = None,
    transverse_shear: npt.ArrayLike | None = None,
) -> System:
    """Return the stiffness and mass matrices of a fin in one material, or in many at once.

    Parameters
    ----------
    prepared
        From `prepare`.
    bending
        ``D`` [N m], (3, 3), or (..., n_zone, 3, 3) for each zone. The third axis from the end is
        always that of the zones; candidates come before it. Where it is missing or 1, the value is
        that of full thickness and thins with the cube of the thickness (right for one homogeneous
        material; a sanded layup needs its own value per zone).
    areal_mass
        ``m`` [kg/m2], one number or (..., n_zone); given once, it thins with the thickness.
    root_spring
        ``k`` [N m/rad per m of root chord] against rotation about the root line; None or infinite
        for a clamped root. One number or one per candidate, all finite or all infinite.
    transverse_shear
        ``S`` [N/m], (2, 2) or (..., n_zone, 2, 2), for cores weak in shear; None for a thin plate.

    Returns
    -------
    System
        Its matrices have the candidates' axes in front.

    Raises
    ------
    InputError
        Naming an array of the wrong shape, or an impossible root spring.

    Notes
    -----
    Strain and kinetic energy for coefficients ``a``::

        U = 1/2 sum over zones of integral of kappa^T D kappa + gamma^T S gamma
            + 1/2 k integral over the root of w_y^2
        T = 1/2 sum over zones of integral of m (dw/dt)^2

    Valid for small deflection. Without `transverse_shear` the plate should be thinner than about a
    twentieth of the shortest wavelength that matters; a foam core never is.

    References
    ----------
    Energy of a thin anisotropic plate: Leissa, NASA SP-160 (1969), chapter 9. With transverse
    shear: R. D. Mindlin, J. Appl. Mech. 18 (1951) 31-38, without rotary inertia (from memory,
    unverified).

    Examples
    --------
    >>> from calc.geometry.planform import Planform
    >>> plate = prepare(Planform(root=1.0, tip=1.0, span=1.0, sweep=0.0))
    >>> D = [[1.0, 0.3, 0.0], [0.3, 1.0, 0.0], [0.0, 0.0, 0.35]]
    >>> found = modes(assemble(plate, bending=D, areal_mass=1.0), count=2)
    >>> found.frequency.round(2).tolist()
    [3.47, 8.51]
    """
    spring = _finite_spring(prepared, root_spring)
    if transverse_shear is not None:
        return _assemble_shear(prepared, bending, areal_mass, spring, transverse_shear)
    use = prepared
    if spring is not None and prepared.root == "clamped":
        use = prepared.hinged
    d = _per_zone("bending", bending, use.zone_fractions, 3, 3)
    stiffness = _combine(_six(d), use.stiffness_terms)
    if spring is not None:
        stiffness = stiffness + spring[..., None, None] * use.root_term
    mass = _mass_per_zone(areal_mass, use.zone_fractions)
    return System(stiffness, _combine(mass[..., None], use.mass_terms[:, None]), use.basis)


def _six(d: Array) -> Array:
    """Return the six independent entries of symmetric (..., 3, 3) in the order of the terms."""
    return np.stack([d[..., a, b] for a, b in _PAIRS], axis=-1)


def _finite_spring(prepared: RitzIntegrals, root_spring: npt.ArrayLike | None) -> Array | None:
    """Return the checked spring, or None for a root that does not rotate."""
    if root_spring is None:
        return None
    spring = np.asarray(root_spring, dtype=float)
    accepts = "a spring of zero or more [N m/rad per m], or infinity for a clamped root"
    infinite = np.isinf(spring)
    if np.any(np.isnan(spring)) or np.any(spring < 0.0) or (infinite.any() and not infinite.all()):
        raise InputError("root_spring", root_spring, accepts)
    if infinite.all():
        if prepared.root != "clamped":
            raise InputError(
                "root_spring", root_spring, "a finite spring for a root that can rotate"
            )
        return None
    return spring


def _assemble_shear(
    prepared: RitzIntegrals,
    bending: npt.ArrayLike,
    areal_mass: npt.ArrayLike,
    spring: Array | None,
    transverse_shear: npt.ArrayLike,
) -> System:
    """Return matrices with transverse shear, its inner unknowns condensed statically."""
    if prepared.root != "clamped":
        raise InputError("transverse_shear", prepared.root, "it with a clamped or sprung root only")
    terms, fractions = prepared._shear, prepared.zone_fractions
    d = _per_zone("bending", bending, fractions, 3, 3)
    s = _per_zone("transverse_shear", transverse_shear, fractions, 2, 1)
    energy = _combine(_six(d), terms.bending) + _combine(
        np.stack([s[..., a, b] for a, b in _SHEAR_PAIRS], axis=-1), terms.shear
    )
    outer, turn = terms.outer_size, terms.root_size
    first = outer + turn
    if spring is not None:
        energy = energy + spring[..., None, None] * terms.root
        first = outer
    inner = energy[..., first:, first:]
    coupling = energy[..., first:, :outer]
    recovery = -np.linalg.solve(inner, coupling)
    stiffness = energy[..., :outer, :outer] + np.swapaxes(coupling, -1, -2) @ recovery
    if first > outer:
        # A root that does not rotate: the recovered unknowns have the same layout all the same.
        still = np.zeros((*recovery.shape[:-2], turn, outer))
        recovery = np.concatenate([still, recovery], axis=-2)
    mass = _mass_per_zone(areal_mass, fractions)
    return System(
        stiffness=0.5 * (stiffness + np.swapaxes(stiffness, -1, -2)),
        mass=_combine(mass[..., None], terms.mass[:, None]),
        basis=terms.basis,
        _recovery=recovery,
        _inner=terms.inner,
    )


def modes(system: System, *, count: int = 8) -> Modes:
    """Return natural frequencies and mode shapes, lowest first.

    Parameters
    ----------
    system
        From `assemble`; stacked systems are solved together.
    count
        Number of modes wanted (all there are, if fewer).

    Returns
    -------
    Modes
        Frequencies [rad/s] and mass-normalised shapes. The largest coefficient of each is positive.

    Notes
    -----
    ``M a = (1/omega^2) K a``, made standard with the Cholesky factor of ``K``.
    """
    try:
        # the wanted modes are the largest roots of the inverse problem, M a = (1/omega^2) K a, and
        # come out to full relative accuracy; of the direct problem they would be the smallest
        factor = np.linalg.inv(np.linalg.cholesky(system.stiffness))
    except np.linalg.LinAlgError:
        return _modes_with_rigid(system, count)
    across = np.swapaxes(factor, -1, -2)
    inverse, vectors = np.linalg.eigh(factor @ system.mass @ across)
    inverse, vectors = inverse[..., : -count - 1 : -1], vectors[..., : -count - 1 : -1]
    shapes = across @ vectors / np.sqrt(inverse)[..., None, :]
    return Modes(1.0 / np.sqrt(inverse), _signed(shapes), system.basis)


def _signed(shapes: Array) -> Array:
    """Return columns signed so that the largest coefficient of each is positive."""
    largest = np.argmax(np.abs(shapes), axis=-2)[..., None, :]
    return np.asarray(shapes * np.sign(np.take_along_axis(shapes, largest, axis=-2)))


def _modes_with_rigid(system: System, count: int) -> Modes:
    """Return the modes of a fin that is not held at all, some of them without stiffness."""
    factor = np.linalg.inv(np.linalg.cholesky(system.mass))
    across = np.swapaxes(factor, -1, -2)
    squared, vectors = np.linalg.eigh(factor @ system.stiffness @ across)
    squared, vectors = squared[..., :count], vectors[..., :count]
    return Modes(np.sqrt(np.maximum(squared, 0.0)), _signed(across @ vectors), system.basis)


def truncation_error(system: System, *, count: int = 3, known: Modes | None = None) -> Array:
    """Return an estimate of the error of the lowest frequencies from the truncated basis.

    Parameters
    ----------
    system
        From `assemble`.
    count
        Number of modes compared.
    known
        The system's own modes, at least `count` of them, if they have been computed already.

    Returns
    -------
    Relative fall (..., count) of each frequency, zero or more, when the last functions were added.

    Notes
    -----
    The system is solved again without the highest polynomial along span and chord. The error that
    remains is one to three times the fall: small on most fins, several per cent with 42 functions
    where a stiff grain runs square to the root of a strongly swept fin. More functions are then
    needed (10 by 10 quarter the error).

    Examples
    --------
    >>> from calc.geometry.planform import Planform
    >>> plate = prepare(Planform(root=1.0, tip=1.0, span=1.0, sweep=0.0))
    >>> D = [[1.0, 0.3, 0.0], [0.3, 1.0, 0.0], [0.0, 0.0, 0.35]]
    >>> bool(truncation_error(assemble(plate, bending=D, areal_mass=1.0)).max() < 2e-3)
    True
    """
    keep = np.concatenate([block.lower for block in system.basis.blocks])
    fewer = replace(
        system,
        stiffness=system.stiffness[..., keep, :][..., keep],
        mass=system.mass[..., keep, :][..., keep],
    )
    whole = (known or modes(system, count=count)).frequency[..., :count]
    factor = np.linalg.inv(np.linalg.cholesky(fewer.stiffness))
    inverse = np.linalg.eigvalsh(factor @ fewer.mass @ np.swapaxes(factor, -1, -2))
    return np.asarray(1.0 / np.sqrt(inverse[..., : -count - 1 : -1]) / whole - 1.0)


def static(system: System, *, load: npt.ArrayLike) -> Array:
    """Return the coefficients (..., n) of the deflection under a steady load [m].

    Parameters
    ----------
    system
        From `assemble`.
    load
        Generalised forces (..., n) [N]: ``system.basis.values(points).T @ forces``.

    Returns
    -------
    ``system.basis.values(points) @ coefficients`` is the deflection.
    """
    forces = np.asarray(load, dtype=float)
    return np.asarray(np.linalg.solve(system.stiffness, forces[..., None])[..., 0])


def bending_curvatures(system: System, coefficients: npt.ArrayLike, points: npt.ArrayLike) -> Array:
    """Return the curvatures due to bending, from which moments follow as ``D kappa``.

    Parameters
    ----------
    system
        One system (not stacked) from `assemble`.
    coefficients
        (..., n) [m], from `static` or a mode shape.
    points
        (m, 2) [m].

    Returns
    -------
    (..., m, 3) [1/m]: kappa_x, kappa_y, kappa_xy with the factor 2 in the last

    Notes
    -----
    In a thin plate they are the second derivatives of the deflection; with transverse shear the
    part of the deflection due to shear is left out. Moments are singular at the ends of a clamped
    root: average along it.
    """
    a = np.asarray(coefficients, dtype=float)
    if system._recovery is None or system._inner is None:
        return np.asarray(np.einsum("kmn,...n->...mk", system.basis.curvatures(points), a))
    clamped, turning = system.basis.blocks
    places = np.asarray(points, dtype=float).reshape(-1, 2)
    hidden = a @ system._recovery.T
    n, extra = clamped.spanwise * clamped.chordwise, turning.chordwise
    size = system._inner.spanwise * system._inner.chordwise
    x, y = hidden[..., extra : extra + size], hidden[..., extra + size :]
    slope = system._inner.evaluate(places, 1)
    kappa = np.einsum("kmn,...n->...mk", clamped.evaluate(places, 2), a[..., :n])
    kappa = kappa + np.einsum("kmn,...n->...mk", turning.evaluate(places, 2), hidden[..., :extra])
    kappa[..., 0] -= x @ slope[0].T
    kappa[..., 1] -= y @ slope[1].T
    kappa[..., 2] -= x @ slope[1].T + y @ slope[0].T
    return np.asarray(kappa)


def root_rotations(system: System, coefficients: npt.ArrayLike, points: npt.ArrayLike) -> Array:
    """Return how far a fin has turned about its root line, where a spring lets it.

    Parameters
    ----------
    system
        One system (not stacked) from `assemble` with a root spring.
    coefficients
        (..., n) [m], from `static` or a mode shape.
    points
        (m, 2) on the root line [m].

    Returns
    -------
    (..., m) [rad]; times the spring it is the moment per length that the root carries.

    Notes
    -----
    The slope along the span; with transverse shear without the slope that shear makes.
    """
    a = np.asarray(coefficients, dtype=float)
    if system._recovery is None or system._inner is None:
        return np.asarray(a @ system.basis.slopes(points)[1].T)
    turning = system.basis.blocks[1]
    places = np.asarray(points, dtype=float).reshape(-1, 2)
    turned = (a @ system._recovery.T)[..., : turning.spanwise * turning.chordwise]
    return np.asarray(turned @ turning.evaluate(places, 1)[1].T)
