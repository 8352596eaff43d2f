"""Classical lamination theory: stiffness, stresses and moisture curvature of stacks of plies.

Axes: 1 along the ply's grain (or fibre), 2 across it in the sheet, 3 through the thickness.
z runs upward from the middle of the stack; the first ply of a stack is the lowest. Curvature is
the classical k = (-w_xx, -w_yy, -2 w_xy), so that strain = e0 + z k and a positive moment
stretches the upper face. Plywood, a solid sheet, skinned balsa and foam board are all stacks and
use the same functions.

Reference for all equations: A. K. Kaw, Mechanics of Composite Materials, 2nd ed., 2006 ("Kaw").
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.errors import InputError, require_positive
from calc.numerics.quadrature import gauss_legendre

Array = NDArray[np.float64]
Kind = Literal["fibrous", "core", "isotropic"]

POSITIVE = (
    "modulus_along",
    "modulus_across",
    "shear_modulus",
    "density",
    "shear_13",
    "shear_23",
    "tension_along",
    "compression_along",
    "tension_across",
    "compression_across",
    "shear_strength",
)
"""Properties of a lamina that must be above zero."""
MOISTURE_STEPS = 8
"""Layers into which a ply is divided where its moisture changes with depth."""


@dataclass(frozen=True)
class Lamina:
    """One layer of an orthotropic sheet material in plane stress.

    Parameters
    ----------
    modulus_along, modulus_across
        Young's moduli E1 along the grain and E2 across it [Pa].
    shear_modulus
        In-plane shear modulus G12 [Pa].
    poisson
        Ratio n12, of the strain across caused by a stress along; between -sqrt(E1/E2) and
        sqrt(E1/E2).
    density
        [kg/m³].
    shear_13, shear_23
        Transverse shear moduli G13 and G23 [Pa].
    tension_along, compression_along, tension_across, compression_across, shear_strength
        Strengths as positive numbers [Pa].
    swelling_along, swelling_across
        Free strain per unit change of the moisture fraction: 0.01 more moisture strains the sheet
        by 0.01 times this.
    kind
        "fibrous", "core" (of a sandwich) or "isotropic".

    Raises
    ------
    InputError
        Naming a modulus, density or strength that is not above zero, or an impossible Poisson's
        ratio.
    """

    modulus_along: float
    modulus_across: float
    shear_modulus: float
    poisson: float
    density: float
    shear_13: float
    shear_23: float
    tension_along: float
    compression_along: float
    tension_across: float
    compression_across: float
    shear_strength: float
    swelling_along: float = 0.0
    swelling_across: float = 0.0
    kind: Kind = "fibrous"

    def __post_init__(self) -> None:
        require_positive(**{name: getattr(self, name) for name in POSITIVE})
        limit = math.sqrt(self.modulus_along / self.modulus_across)
        if not -limit < self.poisson < limit:
            raise InputError(
                "poisson",
                self.poisson,
                f"a ratio between -{limit:.3g} and {limit:.3g} for these moduli "
                "(otherwise the sheet would give energy away)",
            )


@dataclass(frozen=True)
class Ply:
    """A lamina of some thickness [m] with its grain at ``angle`` [rad] to the stack's 0 axis."""

    lamina: Lamina
    thickness: float
    angle: float = 0.0

    def __post_init__(self) -> None:
        require_positive(thickness=self.thickness)


@dataclass(frozen=True)
class Layup:
    """Plies bonded in a stack, the lowest first."""

    plies: tuple[Ply, ...]

    def __post_init__(self) -> None:
        if not self.plies:
            raise InputError("plies", "()", "at least one ply")

    @property
    def thickness(self) -> float:
        """Return the total thickness [m]."""
        return math.fsum(ply.thickness for ply in self.plies)

    @property
    def areal_mass(self) -> float:
        """Return the mass per unit area [kg/m²]."""
        return math.fsum(ply.thickness * ply.lamina.density for ply in self.plies)

    @property
    def levels(self) -> Array:
        """Return heights (n_ply + 1,) of the ply boundaries above the mid-plane [m]."""
        steps = np.array([ply.thickness for ply in self.plies])
        heights: Array = np.concatenate(([0.0], np.cumsum(steps))) - steps.sum() / 2.0
        return heights

    @property
    def symmetric(self) -> bool:
        """Return whether the stack reads the same from both faces; it then stays flat."""
        return all(
            low.lamina == high.lamina
            and math.isclose(low.thickness, high.thickness, rel_tol=1e-6)
            and math.isclose(math.cos(2 * (low.angle - high.angle)), 1.0, abs_tol=1e-9)
            for low, high in zip(self.plies, reversed(self.plies), strict=True)
        )


class Stiffness(NamedTuple):
    """Stiffness of a stack: forces and moments per unit width from mid-plane strain, curvature.

    ``A`` [N/m], ``B`` [N] and ``D`` [N m] are (..., 3, 3); ``transverse_shear`` [N/m] is
    (..., 2, 2) for the strains (xz, yz), shear correction included.
    """

    A: Array
    B: Array
    D: Array
    transverse_shear: Array
    areal_mass: float
    thickness: float


class EngineeringConstants(NamedTuple):
    """Engineering constants of a whole stack: moduli [Pa] and Poisson's ratio xy."""

    modulus_x: Array
    modulus_y: Array
    shear_modulus: Array
    poisson: Array


class Warp(NamedTuple):
    """Free strain (..., 3) and curvature (..., 3) [1/m] of a stack after a change of moisture."""

    strain: Array
    curvature: Array


def isotropic(
    *,
    modulus: float,
    poisson: float,
    density: float,
    tension: float,
    compression: float | None = None,
    shear_strength: float | None = None,
    swelling: float = 0.0,
    kind: Kind = "isotropic",
    **changes: Any,
) -> Lamina:
    """Return a lamina that is the same in all directions.

    Parameters
    ----------
    modulus, poisson
        E [Pa] and n.
    density
        [kg/m³].
    tension, compression
        Strengths X_t and X_c [Pa]; compression as tension if not given.
    shear_strength
        [Pa]; if not given, sqrt(X_t X_c / 3).
    swelling, kind, **changes
        As in `Lamina`.

    Notes
    -----
    G = E / (2 (1 + n)). With equal strengths and the shear strength not given, the Tsai-Wu
    criterion is von Mises' criterion.
    """
    shear = modulus / (2.0 * (1.0 + poisson))
    push = tension if compression is None else compression
    strength = math.sqrt(tension * push / 3.0) if shear_strength is None else shear_strength
    lamina = Lamina(
        modulus,
        modulus,
        shear,
        poisson,
        density,
        shear,
        shear,
        tension,
        push,
        tension,
        push,
        strength,
        swelling,
        swelling,
        kind,
    )
    return replace(lamina, **changes)


def stacked(lamina: Lamina, angles: Sequence[float], *, thickness: float) -> Layup:
    """Return equal plies at ``angles`` [degrees], lowest first, ``thickness`` [m] in all."""
    each = thickness / len(angles)
    return Layup(tuple(Ply(lamina, each, math.radians(angle)) for angle in angles))


def subdivide_plies(layup: Layup, count: int) -> Layup:
    """Return the stack with every ply split into ``count`` equal plies.

    For properties that change through a ply's thickness, such as its moisture.
    """
    return Layup(
        tuple(
            replace(ply, thickness=ply.thickness / count)
            for ply in layup.plies
            for _ in range(count)
        )
    )


def thinned(layup: Layup, fraction: float) -> Layup:
    """Return the stack sanded equally from both faces, so that the outer plies go first.

    Parameters
    ----------
    layup
        The stack.
    fraction
        Remaining share of the thickness, above 0 and at most 1.

    Examples
    --------
    >>> veneer = Lamina(15e9, 0.7e9, 1e9, 0.4, 690, 1e9, 2e8, 1, 1, 1, 1, 1)
    >>> ply3 = Layup((Ply(veneer, 1e-3), Ply(veneer, 1e-3, math.pi / 2), Ply(veneer, 1e-3)))
    >>> len(thinned(ply3, 0.3).plies)
    1
    """
    if not 0.0 < fraction <= 1.0:
        raise InputError("fraction", fraction, "a share of the thickness above 0 and at most 1")
    half = fraction * layup.thickness / 2.0
    levels = np.clip(layup.levels, -half, half)
    remaining = np.diff(levels)
    least = 1e-9 * layup.thickness
    return Layup(
        tuple(
            replace(ply, thickness=float(thick))
            for ply, thick in zip(layup.plies, remaining, strict=True)
            if thick > least
        )
    )


def reduced_stiffness(lamina: Lamina) -> Array:
    """Return the plane-stress stiffness (3, 3) of a lamina in its own axes [Pa].

    Notes
    -----
    Q11 = E1/(1 - n12 n21), Q22 = E2/(1 - n12 n21), Q12 = n12 Q22, Q66 = G12, with
    n21 = n12 E2/E1.

    References
    ----------
    Kaw, eq. 2.93.

    Examples
    --------
    Graphite/epoxy, Kaw, example 2.6:

    >>> carbon = Lamina(181e9, 10.3e9, 7.17e9, 0.28, 1600, 7.17e9, 4e9, 1, 1, 1, 1, 1)
    >>> (reduced_stiffness(carbon)[:2, :2] / 1e9).round(3).tolist()
    [[181.811, 2.897], [2.897, 10.346]]
    """
    minor = lamina.poisson * lamina.modulus_across / lamina.modulus_along
    share = 1.0 - lamina.poisson * minor
    q11 = lamina.modulus_along / share
    q22 = lamina.modulus_across / share
    q12 = lamina.poisson * q22
    return np.array([[q11, q12, 0.0], [q12, q22, 0.0], [0.0, 0.0, lamina.shear_modulus]], float)


def off_axis_modulus(lamina: Lamina, angle: ArrayLike) -> Array:
    """Return Young's modulus of a lamina pulled at ``angle`` [rad] to its grain [Pa].

    Notes
    -----
    1/E = c⁴/E1 + (1/G12 - 2 n12/E1) s² c² + s⁴/E2, with c and s the cosine and sine of the angle.

    References
    ----------
    Kaw, eq. 2.114.

    Examples
    --------
    Graphite/epoxy at 60 degrees, by hand: 1 / (0.0625/181 + (1/7.17 - 0.56/181) 0.1875 +
    0.5625/10.3) = 12.42 GPa.

    >>> carbon = Lamina(181e9, 10.3e9, 7.17e9, 0.28, 1600, 7.17e9, 4e9, 1, 1, 1, 1, 1)
    >>> round(float(off_axis_modulus(carbon, math.radians(60.0))) / 1e9, 2)
    12.42
    """
    theta = np.asarray(angle, float)
    c2, s2 = np.cos(theta) ** 2, np.sin(theta) ** 2
    mixed = 1.0 / lamina.shear_modulus - 2.0 * lamina.poisson / lamina.modulus_along
    compliance = c2**2 / lamina.modulus_along + mixed * s2 * c2 + s2**2 / lamina.modulus_across
    return np.asarray(1.0 / compliance)


def rotate_stiffness(stiffness_terms: ArrayLike, angle: ArrayLike) -> Array:
    """Return a plane stiffness in axes from which the material lies at ``angle``.

    Parameters
    ----------
    stiffness_terms
        (..., 3, 3) [any unit], symmetric: Q, A, B or D.
    angle
        (...) [rad], from x to the material's 1 axis, positive from x toward y.

    Returns
    -------
    (..., 3, 3), same unit

    Notes
    -----
    Q' = T^-1 Q T^-T with the usual stress transformation T.

    References
    ----------
    Kaw, eq. 2.104.
    """
    matrix = _strain_rotation(angle)
    seen: Array = np.swapaxes(matrix, -1, -2) @ np.asarray(stiffness_terms, float) @ matrix
    return seen


def _strain_rotation(angle: ArrayLike) -> Array:
    """Return (..., 3, 3) that takes engineering strain from (x, y) to axes at ``angle``."""
    theta = np.asarray(angle, float)
    c, s = np.cos(theta), np.sin(theta)
    rows = [
        [c * c, s * s, c * s],
        [s * s, c * c, -c * s],
        [-2.0 * c * s, 2.0 * c * s, c * c - s * s],
    ]
    return np.moveaxis(np.array(rows), (0, 1), (-2, -1))


def _shear_rotation(angle: ArrayLike) -> Array:
    """Return (..., 2, 2) that takes transverse shear strain from (x, y) to axes at ``angle``."""
    c, s = np.cos(angle), np.sin(angle)
    return np.moveaxis(np.array([[c, s], [-s, c]]), (0, 1), (-2, -1))


class _Matrices(NamedTuple):
    """Matrices of a stack that are computed once: of each ply, and of the whole in its axes."""

    levels: Array
    angles: Array
    plane: Array
    """(n_ply, 3, 3) stiffness of each ply in the stack's axes [Pa]."""
    from_strain: Array
    """(n_ply, 3, 3) stress in the ply's axes from strain in the stack's axes [Pa]."""
    shear: Array
    """(n_ply, 2, 2) transverse shear moduli in the stack's axes [Pa]."""
    density: Array
    swelling: Array
    """(n_ply, 3) free strain in the stack's axes per unit of moisture."""
    A: Array
    B: Array
    D: Array
    shift: Array
    """A^-1 B [m]."""
    compliance: Array
    """(D - B A^-1 B)^-1 [1/(N m)]."""


@lru_cache(maxsize=512)
def _matrices(layup: Layup) -> _Matrices:
    """Return the matrices of a stack, kept for the next call."""
    levels = layup.levels
    angles = np.array([ply.angle for ply in layup.plies])
    rotation = _strain_rotation(angles)
    from_strain = np.array([reduced_stiffness(ply.lamina) for ply in layup.plies]) @ rotation
    plane = np.swapaxes(rotation, -1, -2) @ from_strain
    shear = np.array([np.diag([ply.lamina.shear_13, ply.lamina.shear_23]) for ply in layup.plies])
    spin = _shear_rotation(angles)
    shear = np.swapaxes(spin, -1, -2) @ shear @ spin
    free = np.array(
        [[ply.lamina.swelling_along, ply.lamina.swelling_across, 0.0] for ply in layup.plies]
    )
    # Strain in stack axes is the strain in ply axes rotated by minus the ply angle.
    swelling = np.einsum("pij,pj->pi", _strain_rotation(-angles), free)
    total = _integrate(plane, levels)
    shift = np.linalg.solve(total[0], total[1])
    return _Matrices(
        levels,
        angles,
        plane,
        from_strain,
        shear,
        np.array([ply.lamina.density for ply in layup.plies]),
        swelling,
        *total,
        shift,
        np.linalg.inv(total[2] - total[1] @ shift),
    )


def _integrate(plane: Array, levels: Array) -> tuple[Array, Array, Array]:
    """Return A, B, D from per-ply stiffness (p, 3, 3) and boundaries (..., p + 1)."""
    low, high = levels[..., :-1], levels[..., 1:]
    return (
        np.einsum("...p,pij->...ij", high - low, plane),
        np.einsum("...p,pij->...ij", (high**2 - low**2) / 2.0, plane),
        np.einsum("...p,pij->...ij", (high**3 - low**3) / 3.0, plane),
    )


@lru_cache(maxsize=512)
def _transverse_shear(layup: Layup) -> Array:
    """Return the shear stiffness whose energy equals that of the equilibrium shear stresses.

    Notes
    -----
    The shear stress through the thickness follows from dM_x/dx = V_x and dM_y/dy = V_y, the
    other moment gradients taken as zero. A homogeneous plate gives 5/6 G h, a thin-faced sandwich
    G_c h²/c.

    References
    ----------
    K. Rohwer, DFVLR-FB 88-32, 1988 (from memory, unverified).
    """
    stack = _matrices(layup)
    plane, levels = stack.plane, stack.levels
    low, high = levels[:-1], levels[1:]
    # Running integrals of Q and Q z from the lower face to the bottom of each ply.
    first = np.cumsum((high - low)[:, None, None] * plane, axis=0)
    second = np.cumsum(((high**2 - low**2) / 2.0)[:, None, None] * plane, axis=0)
    start_first = np.concatenate((np.zeros((1, 3, 3)), first[:-1]))
    start_second = np.concatenate((np.zeros((1, 3, 3)), second[:-1]))
    # Three Gauss points integrate the squared quadratic stress of each ply exactly.
    points, weights = gauss_legendre(3)
    half = (high - low) / 2.0
    z = ((high + low) / 2.0)[:, None] + half[:, None] * points
    rise = (z - low[:, None])[..., None, None]
    rise2 = ((z**2 - low[:, None] ** 2) / 2.0)[..., None, None]
    q0 = start_first[:, None] + rise * plane[:, None]
    q1 = start_second[:, None] + rise2 * plane[:, None]
    growth = (q1 - q0 @ stack.shift) @ stack.compliance
    stress = -np.stack(
        (
            np.stack((growth[..., 0, 0], growth[..., 2, 1]), axis=-1),
            np.stack((growth[..., 2, 0], growth[..., 1, 1]), axis=-1),
        ),
        axis=-2,
    )
    compliance = np.einsum(
        "p,g,pgji,pjk,pgkl->il", half, weights, stress, np.linalg.inv(stack.shear), stress
    )
    return np.asarray(np.linalg.inv(compliance))


def stiffness(layup: Layup, *, angle: ArrayLike = 0.0) -> Stiffness:
    """Return the stiffness of a stack by classical lamination theory, with transverse shear.

    Parameters
    ----------
    layup
        The stack.
    angle
        (...) [rad], from x to the stack's 0 direction.

    Returns
    -------
    Stiffness with leading axes like ``angle``

    Notes
    -----
    A = sum Q (z1 - z0), B = sum Q (z1² - z0²)/2, D = sum Q (z1³ - z0³)/3. Valid for thin plates
    with perfectly bonded plies and small strain.

    References
    ----------
    Kaw, eq. 4.28; transverse shear by energy, Rohwer 1988 (from memory, unverified).
    """
    stack = _matrices(layup)
    theta = np.asarray(angle, float)
    spin = _shear_rotation(theta)
    return Stiffness(
        rotate_stiffness(stack.A, theta),
        rotate_stiffness(stack.B, theta),
        rotate_stiffness(stack.D, theta),
        np.swapaxes(spin, -1, -2) @ _transverse_shear(layup) @ spin,
        layup.areal_mass,
        layup.thickness,
    )


def bending(layup: Layup, *, angle: ArrayLike = 0.0) -> Array:
    """Return the reduced bending stiffness (..., 3, 3), that of a plate free to stretch [N m].

    Parameters
    ----------
    layup
        The stack.
    angle
        (...) [rad], from x to the stack's 0 direction.

    Notes
    -----
    D* = D - B A^-1 B, which is D for a symmetric stack. Valid where the in-plane edges carry no
    load.

    References
    ----------
    J. M. Whitney, Structural Analysis of Laminated Anisotropic Plates, 1987, ch. 7 (from memory,
    unverified).
    """
    stack = _matrices(layup)
    return rotate_stiffness(_reduced(stack.A, stack.B, stack.D), angle)


def _reduced(a: Array, b: Array, d: Array) -> Array:
    """Return D - B A^-1 B."""
    return d - b @ np.linalg.solve(a, b)


def thinned_bending(
    layup: Layup, fractions: ArrayLike, *, angle: ArrayLike = 0.0
) -> tuple[Array, Array]:
    """Return bending stiffness and areal mass of a stack thinned to each of several thicknesses.

    Parameters
    ----------
    layup
        The stack.
    fractions
        (n,) remaining shares of the thickness, above 0 and at most 1.
    angle
        (...) [rad], from x to the stack's 0 direction.

    Returns
    -------
    (..., n, 3, 3) reduced bending stiffness [N m] and (n,) areal mass [kg/m²]

    Notes
    -----
    The same as ``bending(thinned(layup, f))`` for each f, without the loop.
    """
    share = np.asarray(fractions, float)
    if np.any(share <= 0.0) or np.any(share > 1.0 + 1e-9):
        raise InputError("fractions", fractions, "shares of the thickness above 0 and at most 1")
    stack = _matrices(layup)
    half = (share * layup.thickness / 2.0)[:, None]
    levels = np.clip(stack.levels, -half, half)
    reduced = _reduced(*_integrate(stack.plane, levels))
    mass = np.diff(levels, axis=-1) @ stack.density
    return rotate_stiffness(reduced, np.asarray(angle, float)[..., None]), mass


def in_plane_constants(layup: Layup, *, angle: ArrayLike = 0.0) -> EngineeringConstants:
    """Return the moduli of the stack stretched and sheared in its plane, free to bend.

    Parameters
    ----------
    layup
        The stack.
    angle
        (...) [rad], from x to the stack's 0 direction.

    Notes
    -----
    With a = (A - B D^-1 B)^-1: E_x = 1/(h a11), E_y = 1/(h a22), G = 1/(h a66), n_xy = -a12/a11.

    References
    ----------
    Kaw, section 4.5.
    """
    full = stiffness(layup, angle=angle)
    compliance = np.linalg.inv(full.A - full.B @ np.linalg.solve(full.D, full.B))
    return _constants(compliance * layup.thickness)


def flexural_constants(layup: Layup, *, angle: ArrayLike = 0.0) -> EngineeringConstants:
    """Return the moduli of the homogeneous plate of the same thickness that bends alike.

    Parameters
    ----------
    layup
        The stack.
    angle
        (...) [rad], from x to the stack's 0 direction.

    Notes
    -----
    With d = (D - B A^-1 B)^-1: E_x = 12/(h³ d11), E_y = 12/(h³ d22), G = 12/(h³ d66),
    n_xy = -d12/d11.

    References
    ----------
    Kaw, section 4.5.
    """
    compliance = np.linalg.inv(bending(layup, angle=angle))
    return _constants(compliance * layup.thickness**3 / 12.0)


def _constants(compliance: Array) -> EngineeringConstants:
    """Return engineering constants from a plane compliance (..., 3, 3) [1/Pa]."""
    return EngineeringConstants(
        1.0 / compliance[..., 0, 0],
        1.0 / compliance[..., 1, 1],
        1.0 / compliance[..., 2, 2],
        -compliance[..., 0, 1] / compliance[..., 0, 0],
    )


def ply_stresses(
    layup: Layup,
    *,
    moments: ArrayLike,
    forces: ArrayLike | None = None,
    angle: ArrayLike = 0.0,
) -> Array:
    """Return the stresses at the lower and upper face of every ply, in that ply's own axes.

    Parameters
    ----------
    layup
        The stack.
    moments
        (..., 3) [N m/m]: M_x, M_y, M_xy, positive where they stretch the upper face
        (M = -D w_xx for a symmetric stack).
    forces
        (..., 3) [N/m]: N_x, N_y, N_xy; zero if not given.
    angle
        (...) [rad], from x to the stack's 0 direction; its shape broadcasts with the leading
        axes of ``moments``.

    Returns
    -------
    (..., n_ply, 2, 3) [Pa]: stress along, across, shear

    References
    ----------
    Kaw, section 4.3.
    """
    stack = _matrices(layup)
    moment = np.asarray(moments, float)
    force = np.zeros_like(moment) if forces is None else np.asarray(forces, float)
    # Stress resultants rotate with the inverse transpose of the strain rotation.
    back = np.swapaxes(_strain_rotation(-np.asarray(angle, float)), -1, -2)
    moment = np.einsum("...ij,...j->...i", back, moment)
    force = np.einsum("...ij,...j->...i", back, force)
    stretch = force @ np.linalg.inv(stack.A)
    curvature = (moment - stretch @ stack.B) @ stack.compliance
    strain = stretch - curvature @ stack.shift.T
    heights = np.stack((stack.levels[:-1], stack.levels[1:]), axis=-1)
    at_face = strain[..., None, None, :] + heights[..., None] * curvature[..., None, None, :]
    return np.asarray(at_face @ np.swapaxes(stack.from_strain, -1, -2))


def moisture_curvature(layup: Layup, *, change: ArrayLike, angle: float = 0.0) -> Warp:
    """Return the free strain and curvature after the moisture of the plies has changed.

    Parameters
    ----------
    layup
        The stack.
    change
        Change of moisture fraction (0.01 = one per cent of dry mass): one number or one per
        ply, lowest first; leading axes allowed, the last one being plies when it has their
        number.
    angle
        [rad], from x to the stack's 0 direction.

    Returns
    -------
    Warp
        Strain (..., 3) and curvature (..., 3) [1/m] as k = (-w_xx, -w_yy, -2 w_xy).

    Notes
    -----
    N = sum Q b dm (z1 - z0), M = sum Q b dm (z1² - z0²)/2; then A e + B k = N, B e + D k = M.
    Valid for elastic plies and small rotation: a thin unsymmetric stack snaps into one cylinder
    instead of the saddle that linear theory gives, and creep relaxes the warp.

    References
    ----------
    Kaw, section 4.4 (hygrothermal loads); Timoshenko, J. Opt. Soc. Am. 11 (1925) 233, for two
    layers.
    """
    stack = _matrices(layup)
    moist = np.asarray(change, float)
    if moist.ndim == 0:
        moist = np.broadcast_to(moist, (len(layup.plies),))
    if moist.shape[-1] != len(layup.plies):
        raise InputError("change", change, f"one number or {len(layup.plies)}, one per ply")
    low, high = stack.levels[:-1], stack.levels[1:]
    pull = np.einsum("pij,pj,...p->...pi", stack.plane, stack.swelling, moist)
    force = np.einsum("...pi,p->...i", pull, high - low)
    moment = np.einsum("...pi,p->...i", pull, (high**2 - low**2) / 2.0)
    full = np.block([[stack.A, stack.B], [stack.B, stack.D]])
    answer = np.einsum(
        "ij,...j->...i", np.linalg.inv(full), np.concatenate((force, moment), axis=-1)
    )
    spin = _strain_rotation(-angle)
    return Warp(
        np.einsum("ij,...j->...i", spin, answer[..., :3]),
        np.einsum("ij,...j->...i", spin, answer[..., 3:]),
    )


def moisture_gradient_curvature(layup: Layup, *, change: ArrayLike) -> Array:
    """Return the curvature (3,) [1/m] when only the upper face takes up moisture.

    Parameters
    ----------
    layup
        The stack.
    change
        Change of moisture fraction at the upper face: one number, or (n_ply,) what each ply would
        take up there.

    Notes
    -----
    The moisture falls in a straight line to no change at the lower face, as it does in a settled
    sheet with one sealed face. Each ply is divided into `MOISTURE_STEPS` layers.
    """
    fine = subdivide_plies(layup, MOISTURE_STEPS)
    middle = 0.5 * (fine.levels[:-1] + fine.levels[1:])
    share = 0.5 + middle / fine.thickness
    each = np.broadcast_to(np.asarray(change, float), (len(layup.plies),))
    return moisture_curvature(fine, change=np.repeat(each, MOISTURE_STEPS) * share).curvature


def bow_height(curvature: float, *, length: float) -> float:
    """Return the height of a flat arc over its chord [m].

    Parameters
    ----------
    curvature
        [1/m], of either sign.
    length
        Length of the chord [m].

    Notes
    -----
    h = |k| L² / 8, for arcs much lower than long.

    Examples
    --------
    >>> round(bow_height(1.0, length=0.1), 5)
    0.00125
    """
    return abs(curvature) * length**2 / 8.0
