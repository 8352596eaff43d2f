"""Stacks of plies: stiffness, stresses, first failure, warp, and weak cores.

Axes: 1 along the ply's grain (or fibre), 2 across it in the sheet, 3 through the
thickness. z runs upward from the middle of the stack; the first ply of a stack is the lowest.
Curvature here is the classical k = (-w_xx, -w_yy, -2 w_xy), so that strain = e0 + z k and a
positive moment stretches the upper face. Plywood, a solid sheet, skinned balsa and foam board
are all stacks and go through the same functions.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.errors import InputError

Array = NDArray[np.float64]
Kind = Literal["fibrous", "core", "isotropic"]
Criterion = Literal["tsai-wu", "max-stress", "hashin"]

MOST_PLIES = 200
STRENGTHS = (
    "tension_along",
    "compression_along",
    "tension_across",
    "compression_across",
    "shear_strength",
)
MODES = np.array(
    ["tension along", "compression along", "tension across", "compression across", "shear"]
)
STACK_ACCEPTS = (
    "ply angles in degrees separated by '/', such as 0/90/0, [0/90]s, [0_2/±45]s or (0/90)3"
)


@dataclass(frozen=True)
class Lamina:
    """One layer of an orthotropic sheet material in plane stress, all values in SI units.

    Moduli and strengths in Pa (strengths as positive numbers), density in kg/m³, Poisson's
    ratio ``poisson`` is that of the strain across caused by stress along. Swelling is the free
    strain for a change of one in the moisture fraction (0.01 of moisture moves the sheet by
    0.01 times this).
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
        for name in (
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
        ):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise InputError(name, value, "a number above zero")
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
    """A lamina of some thickness [m] with its grain turned by ``angle`` [rad]."""

    lamina: Lamina
    thickness: float
    angle: float = 0.0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.thickness) and self.thickness > 0.0):
            raise InputError("thickness", self.thickness, "a ply thickness above zero")


@dataclass(frozen=True)
class Layup:
    """Plies bonded in a stack, the lowest first."""

    plies: tuple[Ply, ...]

    def __post_init__(self) -> None:
        if not self.plies:
            raise InputError("plies", "()", "at least one ply")

    @property
    def thickness(self) -> float:
        """Total thickness [m]."""
        return math.fsum(ply.thickness for ply in self.plies)

    @property
    def areal_mass(self) -> float:
        """Mass per unit area [kg/m²]."""
        return math.fsum(ply.thickness * ply.lamina.density for ply in self.plies)

    @property
    def levels(self) -> Array:
        """Heights of the ply boundaries above the mid-plane [m], one more than there are plies."""
        steps = np.array([ply.thickness for ply in self.plies])
        heights: Array = np.concatenate(([0.0], np.cumsum(steps))) - steps.sum() / 2.0
        return heights

    @property
    def symmetric(self) -> bool:
        """Whether the stack reads the same from both faces (then it stays flat)."""
        return all(
            low.lamina == high.lamina
            and math.isclose(low.thickness, high.thickness, rel_tol=1e-6)
            and math.isclose(math.cos(2 * (low.angle - high.angle)), 1.0, abs_tol=1e-9)
            for low, high in zip(self.plies, reversed(self.plies), strict=True)
        )


class Stiffness(NamedTuple):
    """Stiffness of a stack: forces and moments per unit width from mid-plane strain, curvature.

    ``A`` [N/m], ``B`` [N], ``D`` [N m] are (..., 3, 3); ``transverse_shear`` [N/m] is
    (..., 2, 2) for the strains (xz, yz), the shear correction already in it.
    """

    A: Array
    B: Array
    D: Array
    transverse_shear: Array
    areal_mass: float
    thickness: float


class Constants(NamedTuple):
    """Engineering constants of a whole stack: moduli [Pa] and Poisson's ratio xy."""

    modulus_x: Array
    modulus_y: Array
    shear_modulus: Array
    poisson: Array


class Failure(NamedTuple):
    """First failure: load factor, the ply (0 = lowest), its face (0 lower, 1 upper), the mode."""

    factor: Array
    ply: NDArray[np.int64]
    face: NDArray[np.int64]
    mode: NDArray[np.str_]


class Warp(NamedTuple):
    """Free strain (..., 3) and curvature (..., 3) [1/m] of a stack that changed its moisture."""

    strain: Array
    curvature: Array


def reduced_stiffness(lamina: Lamina) -> Array:
    """Plane-stress stiffness of a lamina in its own axes.

    Q11 = E1/(1 - n12 n21), Q22 = E2/(1 - n12 n21), Q12 = n12 Q22, Q66 = G12,
    with n21 = n12 E2/E1.

    Returns
    -------
    (3, 3) array [Pa]

    Source: Kaw, Mechanics of Composite Materials, 2nd ed. 2006, eq. 2.93.

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


def turned(stiffness_terms: ArrayLike, angle: ArrayLike) -> Array:
    """Plane stiffness seen from axes in which the material lies at ``angle``.

    Q' = T^-1 Q T^-T with the usual stress transformation T; A, B and D turn the same way.

    Parameters
    ----------
    stiffness_terms
        (..., 3, 3) [any unit], symmetric.
    angle
        (...) [rad], from x to the material's 1-axis, positive from x toward y.

    Returns
    -------
    (..., 3, 3), same unit

    Source: Kaw 2006, eq. 2.104.
    """
    matrix = _strain_rotation(angle)
    seen: Array = np.swapaxes(matrix, -1, -2) @ np.asarray(stiffness_terms, float) @ matrix
    return seen


def _strain_rotation(angle: ArrayLike) -> Array:
    """(..., 3, 3) that takes engineering strain from (x, y) to axes turned by ``angle``."""
    theta = np.asarray(angle, float)
    c, s = np.cos(theta), np.sin(theta)
    rows = [
        [c * c, s * s, c * s],
        [s * s, c * c, -c * s],
        [-2.0 * c * s, 2.0 * c * s, c * c - s * s],
    ]
    return np.moveaxis(np.array(rows), (0, 1), (-2, -1))


class _Stack(NamedTuple):
    """What a stack needs computed once: per-ply terms and the totals in the stack's axes."""

    levels: Array
    angles: Array
    plane: Array
    shear: Array
    density: Array
    swelling: Array
    A: Array
    B: Array
    D: Array
    own: Array
    strengths: Array
    shift: Array
    flexible: Array


@lru_cache(maxsize=512)
def _stack(layup: Layup) -> _Stack:
    levels = layup.levels
    angles = np.array([ply.angle for ply in layup.plies])
    seen = _strain_rotation(angles)
    own = np.array([reduced_stiffness(ply.lamina) for ply in layup.plies]) @ seen
    plane = np.swapaxes(seen, -1, -2) @ own
    shear = np.array([np.diag([ply.lamina.shear_13, ply.lamina.shear_23]) for ply in layup.plies])
    c, s = np.cos(angles), np.sin(angles)
    spin = np.moveaxis(np.array([[c, s], [-s, c]]), (0, 1), (-2, -1))
    shear = np.swapaxes(spin, -1, -2) @ shear @ spin
    free = np.array(
        [[ply.lamina.swelling_along, ply.lamina.swelling_across, 0.0] for ply in layup.plies]
    )
    # Strain in stack axes is the strain in ply axes turned back by minus the ply angle.
    swelling = np.einsum("pij,pj->pi", _strain_rotation(-angles), free)
    strengths = np.array([[getattr(ply.lamina, name) for name in STRENGTHS] for ply in layup.plies])
    total = _integrate(plane, levels)
    shift = np.linalg.solve(total[0], total[1])
    return _Stack(
        levels,
        angles,
        plane,
        shear,
        np.array([ply.lamina.density for ply in layup.plies]),
        swelling,
        *total,
        own,
        strengths,
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
    """Shear stiffness whose energy equals that of the equilibrium shear stresses.

    The shear stress through the thickness follows from dM_x/dx = V_x and dM_y/dy = V_y, the
    other moment gradients taken as zero (Rohwer, DFVLR-FB 88-32, 1988; from memory,
    unverified). A homogeneous plate gives 5/6 G h, a thin-faced sandwich G_c h²/c.
    """
    stack = _stack(layup)
    plane, shear, levels = stack.plane, stack.shear, stack.levels
    shift, flexible = stack.shift, stack.flexible
    low, high = levels[:-1], levels[1:]
    # Running integrals of Q and Q z from the lower face to the bottom of each ply.
    first = np.cumsum((high - low)[:, None, None] * plane, axis=0)
    second = np.cumsum(((high**2 - low**2) / 2.0)[:, None, None] * plane, axis=0)
    start_first = np.concatenate((np.zeros((1, 3, 3)), first[:-1]))
    start_second = np.concatenate((np.zeros((1, 3, 3)), second[:-1]))
    # Three Gauss points integrate the squared quadratic stress of each ply exactly.
    points = np.array([-math.sqrt(0.6), 0.0, math.sqrt(0.6)])
    weights = np.array([5.0, 8.0, 5.0]) / 9.0
    half = (high - low) / 2.0
    z = ((high + low) / 2.0)[:, None] + half[:, None] * points
    rise = (z - low[:, None])[..., None, None]
    rise2 = ((z**2 - low[:, None] ** 2) / 2.0)[..., None, None]
    q0 = start_first[:, None] + rise * plane[:, None]
    q1 = start_second[:, None] + rise2 * plane[:, None]
    growth = (q1 - q0 @ shift) @ flexible
    stress = -np.stack(
        (
            np.stack((growth[..., 0, 0], growth[..., 2, 1]), axis=-1),
            np.stack((growth[..., 2, 0], growth[..., 1, 1]), axis=-1),
        ),
        axis=-2,
    )
    compliance = np.einsum(
        "p,g,pgji,pjk,pgkl->il", half, weights, stress, np.linalg.inv(shear), stress
    )
    return np.asarray(np.linalg.inv(compliance))


def stiffness(layup: Layup, *, angle: ArrayLike = 0.0) -> Stiffness:
    """Stiffness of a stack by classical lamination theory, with transverse shear.

    A = sum Q (z1 - z0), B = sum Q (z1² - z0²)/2, D = sum Q (z1³ - z0³)/3.

    Parameters
    ----------
    layup
        The stack.
    angle
        (...) [rad], from x to the stack's 0 direction.

    Returns
    -------
    Stiffness with leading axes like ``angle``

    Valid for thin plates with perfectly bonded plies and small strain.
    Source: Kaw 2006, eq. 4.28. Transverse shear by energy (Rohwer 1988, from memory,
    unverified).
    """
    stack = _stack(layup)
    theta = np.asarray(angle, float)
    c, s = np.cos(theta), np.sin(theta)
    spin = np.moveaxis(np.array([[c, s], [-s, c]]), (0, 1), (-2, -1))
    return Stiffness(
        turned(stack.A, theta),
        turned(stack.B, theta),
        turned(stack.D, theta),
        np.swapaxes(spin, -1, -2) @ _transverse_shear(layup) @ spin,
        layup.areal_mass,
        layup.thickness,
    )


def bending(layup: Layup, *, angle: ArrayLike = 0.0) -> Array:
    """Reduced bending stiffness D - B A^-1 B: bending of a plate free to stretch.

    Parameters
    ----------
    layup
        The stack.
    angle
        (...) [rad], from x to the stack's 0 direction.

    Returns
    -------
    (..., 3, 3) [N m]

    Valid when in-plane edges carry no load; equals D for a symmetric stack.
    Source: Whitney, Structural Analysis of Laminated Anisotropic Plates, 1987, ch. 7 (from
    memory, unverified).
    """
    stack = _stack(layup)
    return turned(_reduced(stack.A, stack.B, stack.D), angle)


def _reduced(a: Array, b: Array, d: Array) -> Array:
    return d - b @ np.linalg.solve(a, b)


def sanded(layup: Layup, fraction: float) -> Layup:
    """Thin the stack equally from both faces, outer plies lost first.

    Parameters
    ----------
    layup
        The stack.
    fraction
        Remaining share of the thickness, above 0 and at most 1.

    >>> veneer = Lamina(15e9, 0.7e9, 1e9, 0.4, 690, 1e9, 2e8, 1, 1, 1, 1, 1)
    >>> ply3 = Layup((Ply(veneer, 1e-3), Ply(veneer, 1e-3, math.pi / 2), Ply(veneer, 1e-3)))
    >>> len(sanded(ply3, 0.3).plies)
    1
    """
    if not 0.0 < fraction <= 1.0:
        raise InputError("fraction", fraction, "a share of the thickness above 0 and at most 1")
    half = fraction * layup.thickness / 2.0
    levels = np.clip(layup.levels, -half, half)
    kept = np.diff(levels)
    least = 1e-9 * layup.thickness
    return Layup(
        tuple(
            replace(ply, thickness=float(thick))
            for ply, thick in zip(layup.plies, kept, strict=True)
            if thick > least
        )
    )


def sanded_bending(
    layup: Layup, fractions: ArrayLike, *, angle: ArrayLike = 0.0
) -> tuple[Array, Array]:
    """Bending stiffness and areal mass of a stack sanded to each of several thicknesses.

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

    The same as ``bending(sanded(layup, f))`` for each f, without the loop.
    """
    share = np.asarray(fractions, float)
    if np.any(share <= 0.0) or np.any(share > 1.0 + 1e-9):
        raise InputError("fractions", fractions, "shares of the thickness above 0 and at most 1")
    stack = _stack(layup)
    half = (share * layup.thickness / 2.0)[:, None]
    levels = np.clip(stack.levels, -half, half)
    reduced = _reduced(*_integrate(stack.plane, levels))
    mass = np.diff(levels, axis=-1) @ stack.density
    return turned(reduced, np.asarray(angle, float)[..., None]), mass


def scaled_bending(
    layup: Layup,
    *,
    along: ArrayLike = 1.0,
    across: ArrayLike = 1.0,
    shear: ArrayLike = 1.0,
    density: ArrayLike = 1.0,
    fractions: ArrayLike = (1.0,),
    angle: float = 0.0,
) -> tuple[Array, Array]:
    """Bending stiffness and areal mass for many samples of a material at once.

    Parameters
    ----------
    layup
        The stack at its mean values.
    along, across, shear, density
        (n,) or numbers: multipliers of E1, E2, G12 and the density of every ply; for solid
        wood take them from ``Material.effective``. Poisson's ratio n12 is kept.
    fractions
        (z,) remaining shares of the thickness, as for :func:`sanded_bending`.
    angle
        [rad], from x to the stack's 0 direction.

    Returns
    -------
    (n, z, 3, 3) reduced bending stiffness [N m] and (n, z) areal mass [kg/m²]
    """
    one, two, twist, heavy = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(part, float)) for part in (along, across, shear, density))
    )
    laminas = [ply.lamina for ply in layup.plies]
    e1 = one[:, None] * np.array([lamina.modulus_along for lamina in laminas])
    e2 = two[:, None] * np.array([lamina.modulus_across for lamina in laminas])
    g = twist[:, None] * np.array([lamina.shear_modulus for lamina in laminas])
    poisson = np.array([lamina.poisson for lamina in laminas])
    share = 1.0 - poisson**2 * e2 / e1
    plane = np.zeros((*e1.shape, 3, 3))
    plane[..., 0, 0], plane[..., 1, 1], plane[..., 2, 2] = e1 / share, e2 / share, g
    plane[..., 0, 1] = plane[..., 1, 0] = poisson * e2 / share
    stack = _stack(layup)
    plane = turned(plane, stack.angles)
    half = (np.asarray(fractions, float) * layup.thickness / 2.0)[:, None]
    levels = np.clip(stack.levels, -half, half)
    low, high = levels[:, :-1], levels[:, 1:]
    a, b, d = (
        np.einsum("zp,npij->nzij", (high**power - low**power) / power, plane) for power in (1, 2, 3)
    )
    mass = heavy[:, None] * (np.diff(levels, axis=-1) @ stack.density)
    return turned(_reduced(a, b, d), angle), mass


def in_plane_constants(layup: Layup, *, angle: ArrayLike = 0.0) -> Constants:
    """Moduli of the stack stretched and sheared in its plane, bending left free.

    With a = (A - B D^-1 B)^-1: E_x = 1/(h a11), E_y = 1/(h a22), G = 1/(h a66),
    n_xy = -a12/a11.

    Source: Kaw 2006, section 4.5.
    """
    full = stiffness(layup, angle=angle)
    flexible = np.linalg.inv(full.A - full.B @ np.linalg.solve(full.D, full.B))
    return _constants(flexible * layup.thickness)


def flexural_constants(layup: Layup, *, angle: ArrayLike = 0.0) -> Constants:
    """Moduli that a homogeneous plate of the same thickness would need to bend alike.

    With d = (D - B A^-1 B)^-1: E_x = 12/(h³ d11), E_y = 12/(h³ d22), G = 12/(h³ d66),
    n_xy = -d12/d11.

    Source: Kaw 2006, section 4.5.
    """
    flexible = np.linalg.inv(bending(layup, angle=angle))
    return _constants(flexible * layup.thickness**3 / 12.0)


def _constants(flexible: Array) -> Constants:
    return Constants(
        1.0 / flexible[..., 0, 0],
        1.0 / flexible[..., 1, 1],
        1.0 / flexible[..., 2, 2],
        -flexible[..., 0, 1] / flexible[..., 0, 0],
    )


def off_axis_modulus(lamina: Lamina, angle: ArrayLike) -> Array:
    """Young's modulus of a lamina pulled at ``angle`` [rad] to its grain [Pa].

    1/E = c⁴/E1 + (1/G12 - 2 n12/E1) s² c² + s⁴/E2.

    Source: Kaw 2006, eq. 2.114.
    """
    theta = np.asarray(angle, float)
    c2, s2 = np.cos(theta) ** 2, np.sin(theta) ** 2
    mixed = 1.0 / lamina.shear_modulus - 2.0 * lamina.poisson / lamina.modulus_along
    compliance = c2**2 / lamina.modulus_along + mixed * s2 * c2 + s2**2 / lamina.modulus_across
    return np.asarray(1.0 / compliance)


def hankinson(
    along: ArrayLike, across: ArrayLike, angle: ArrayLike, *, exponent: float = 2.0
) -> Array:
    """Estimate a wood property at an angle to the grain by Hankinson's formula.

    N = P Q/(P sin^n + Q cos^n).

    Parameters
    ----------
    along, across
        P and Q, the property along and across the grain [any one unit].
    angle
        [rad], 0 to pi/2.
    exponent
        n: 1.5-2 bending and tension, 2-2.5 compression, 2 modulus.

    Source: Wood Handbook 2021, eq. 5-2.

    >>> float(hankinson(1.0, 0.1, math.atan(0.1), exponent=1.5).round(2))
    0.77
    """
    theta = np.abs(np.asarray(angle, float))
    p, q = np.asarray(along, float), np.asarray(across, float)
    return np.asarray(p * q / (p * np.sin(theta) ** exponent + q * np.cos(theta) ** exponent))


def ply_stresses(
    layup: Layup,
    *,
    moments: ArrayLike,
    forces: ArrayLike | None = None,
    angle: ArrayLike = 0.0,
) -> Array:
    """Stresses at the lower and upper face of every ply, in that ply's own axes.

    Parameters
    ----------
    layup
        The stack.
    moments
        (..., 3) [N m/m]: M_x, M_y, M_xy, positive where they stretch the upper face
        (M = -D w_xx for a symmetric stack).
    forces
        (..., 3) [N/m]: N_x, N_y, N_xy; none when left out.
    angle
        (...) [rad], from x to the stack's 0 direction; its shape broadcasts with the leading
        axes of ``moments``.

    Returns
    -------
    (..., n_ply, 2, 3) [Pa]: stress along, across, shear

    Source: Kaw 2006, section 4.3.
    """
    stack = _stack(layup)
    moment = np.asarray(moments, float)
    force = np.zeros_like(moment) if forces is None else np.asarray(forces, float)
    # Stress resultants turn with the inverse transpose of the strain rotation.
    back = np.swapaxes(_strain_rotation(-np.asarray(angle, float)), -1, -2)
    moment = np.einsum("...ij,...j->...i", back, moment)
    force = np.einsum("...ij,...j->...i", back, force)
    stretch = force @ np.linalg.inv(stack.A)
    curvature = (moment - stretch @ stack.B) @ stack.flexible
    strain = stretch - curvature @ stack.shift.T
    heights = np.stack((stack.levels[:-1], stack.levels[1:]), axis=-1)
    at_face = strain[..., None, None, :] + heights[..., None] * curvature[..., None, None, :]
    return np.asarray(at_face @ np.swapaxes(stack.own, -1, -2))


def failure(
    layup: Layup,
    stresses: ArrayLike,
    criterion: Criterion = "tsai-wu",
    *,
    across: bool = True,
) -> Failure:
    """Load factor at which the first ply fails when all loads grow together.

    Parameters
    ----------
    layup
        The stack.
    stresses
        (..., n_ply, 2, 3) [Pa] from :func:`ply_stresses`.
    criterion
        ``"tsai-wu"``: (F1 s1 + F2 s2) R + (F11 s1² + F22 s2² + F66 t² + 2 F12 s1 s2) R² = 1
        with F12 = -sqrt(F11 F22)/2. ``"max-stress"``: each stress against its own strength.
        ``"hashin"``: fibre and matrix modes apart. Solid wood and plywood: the handbook's
        choice is Tsai-Wu, because slope of grain makes stress along, across and shear act
        together; max-stress is the upper bracket.
    across
        Whether splitting across the grain counts. ``False`` follows ANC-18 (eq. 2:19, table
        2-8), which leaves the cross plies of plywood out of its strength: then only the
        stress along the grain and the shear stress are judged, each on its own.

    Returns
    -------
    Failure; factor is infinite where nothing is stressed

    Valid for proportional loading and linear plies; not for fatigue, impact or a stack that
    goes on carrying load after its first split. Source: Tsai and Wu, J. Composite Materials 5
    (1971) 58; Hashin, J. Applied Mechanics 47 (1980) 329 (both from memory, unverified);
    Kaw 2006, section 2.8.
    """
    stress = np.asarray(stresses, float)
    s1, s2, t = stress[..., 0], stress[..., 1], stress[..., 2]
    xt, xc, yt, yc, sh = _stack(layup).strengths.T[:, :, None]
    along = np.where(s1 >= 0.0, s1 / xt, -s1 / xc)
    crossing = np.where(s2 >= 0.0, s2 / yt, -s2 / yc)
    shearing = np.abs(t) / sh
    if not across:
        demand, which = _largest([along, shearing])
        index = np.where(which == 0, np.where(s1 >= 0.0, 0, 1), 4)
        factor = _inverse(demand)
    elif criterion == "max-stress":
        demand, which = _largest([along, crossing, shearing])
        index = np.select(
            [which == 0, which == 1], [np.where(s1 >= 0, 0, 1), np.where(s2 >= 0, 2, 3)], 4
        )
        factor = _inverse(demand)
    elif criterion == "tsai-wu":
        f11, f22 = 1.0 / (xt * xc), 1.0 / (yt * yc)
        linear = (1.0 / xt - 1.0 / xc) * s1 + (1.0 / yt - 1.0 / yc) * s2
        square = f11 * s1**2 + f22 * s2**2 + (t / sh) ** 2 - np.sqrt(f11 * f22) * s1 * s2
        factor = _root(square, linear)
        _, which = _largest([along, crossing, shearing])
        index = np.select(
            [which == 0, which == 1], [np.where(s1 >= 0, 0, 1), np.where(s2 >= 0, 2, 3)], 4
        )
    elif criterion == "hashin":
        fibre = np.where(s1 >= 0.0, np.hypot(along, shearing), along)
        # Hashin's compressive matrix mode with the shear strength through the thickness taken as
        # half the compression across: its linear term vanishes and both signs look alike.
        matrix = np.hypot(crossing, shearing)
        factor = _inverse(np.maximum(fibre, matrix))
        index = np.select(
            [(shearing > along) & (shearing > crossing), fibre > matrix],
            [4, np.where(s1 >= 0.0, 0, 1)],
            np.where(s2 >= 0.0, 2, 3),
        )
    else:
        raise InputError("criterion", criterion, "tsai-wu, max-stress or hashin")
    lead = factor.shape[:-2]
    flat = factor.reshape(*lead, -1)
    worst = np.argmin(flat, axis=-1)
    pick = worst[..., None]
    return Failure(
        np.take_along_axis(flat, pick, axis=-1)[..., 0],
        worst // 2,
        worst % 2,
        MODES[np.take_along_axis(index.reshape(*lead, -1), pick, axis=-1)[..., 0]],
    )


def _largest(shares: Sequence[Array]) -> tuple[Array, Array]:
    stacked = np.stack(np.broadcast_arrays(*shares))
    return stacked.max(axis=0), stacked.argmax(axis=0)


def _inverse(demand: Array) -> Array:
    with np.errstate(divide="ignore"):
        return np.asarray(np.where(demand > 0.0, 1.0 / demand, np.inf))


def _root(square: Array, linear: Array) -> Array:
    """Positive R with square R² + linear R = 1, in the form that keeps small terms exact."""
    reach = linear + np.sqrt(linear**2 + 4.0 * np.maximum(square, 0.0))
    with np.errstate(divide="ignore"):
        return np.asarray(np.where(reach > 0.0, 2.0 / reach, np.inf))


_TOKEN = re.compile(
    r"\s*(?:(?P<open>[\[(])|(?P<close>[\])])|(?P<sep>[/,;|])|"
    r"(?P<angle>(?:±|\+/?-|\+-)?\s*[+-]?\d+(?:\.\d+)?)\s*°?)"
)
_COUNT = re.compile(r"_?\{?(\d+)\}?")
_TAIL = re.compile(r"_?\{?(\d*)([sS]?)\}?")


def parse_stack(text: str) -> tuple[float, ...]:
    """Ply angles in degrees from the bracket notation used for laminates.

    Accepts ``0/90/0``, ``[0/90]s`` (mirrored), ``[0_2/±45]s`` (``_2`` repeats a ply, ``±``
    stands for two plies), ``[0/90]2`` and ``(0/90)3`` (repeated groups), ``[0/90]2s``.
    The first angle is the lowest ply.

    >>> parse_stack("[0_2/±45]s")
    (0.0, 0.0, 45.0, -45.0, -45.0, 45.0, 0.0, 0.0)
    """
    source = str(text).strip()
    if not source:
        raise InputError("layup", text, STACK_ACCEPTS)
    angles, position = _group(source, 0, text)
    if position != len(source):
        raise InputError("layup", text, STACK_ACCEPTS)
    if not angles:
        raise InputError("layup", text, STACK_ACCEPTS)
    return tuple(angles)


def _group(source: str, position: int, text: str) -> tuple[list[float], int]:
    """Angles from ``position`` to the closing bracket or the end, and where that is."""
    angles: list[float] = []
    expecting = True
    while position < len(source):
        match = _TOKEN.match(source, position)
        if match is None:
            if source[position:].strip():
                raise InputError("layup", text, STACK_ACCEPTS)
            return angles, len(source)
        if match["close"]:
            if expecting:
                raise InputError("layup", text, STACK_ACCEPTS)
            return angles, match.start("close")
        if match["sep"]:
            if expecting:
                raise InputError("layup", text, STACK_ACCEPTS)
            expecting, position = True, match.end()
            continue
        if not expecting:
            raise InputError("layup", text, STACK_ACCEPTS)
        expecting = False
        if match["open"]:
            inner, end = _group(source, match.end(), text)
            wanted = "]" if match["open"] == "[" else ")"
            if end >= len(source) or source[end] != wanted or not inner:
                raise InputError("layup", text, STACK_ACCEPTS)
            tail = _TAIL.match(source, end + 1)
            assert tail is not None
            repeated = inner * (int(tail[1]) if tail[1] else 1)
            angles += repeated + repeated[::-1] if tail[2] else repeated
            position = tail.end()
        else:
            position = match.end()
            count = (
                _COUNT.match(source, position) if source[position : position + 1] == "_" else None
            )
            plies = _angles(match["angle"], text)
            if count is not None:
                plies = plies * int(count[1])
                position = count.end()
            angles += plies
        if len(angles) > MOST_PLIES:
            raise InputError("layup", text, f"at most {MOST_PLIES} plies")
    if expecting:
        raise InputError("layup", text, STACK_ACCEPTS)
    return angles, position


def _angles(token: str, text: str) -> list[float]:
    bare = token.replace(" ", "")
    both = re.match(r"(±|\+/-|\+-)(.*)", bare)
    value = float(both[2] if both else bare)
    if abs(value) > 180.0:
        raise InputError("layup", text, "ply angles from -180 to 180 degrees")
    return [value, -value] if both else [value]


def stacked(lamina: Lamina, angles: Sequence[float], *, thickness: float) -> Layup:
    """Stack equal plies at ``angles`` [degrees], ``thickness`` [m] in all."""
    each = thickness / len(angles)
    return Layup(tuple(Ply(lamina, each, math.radians(angle)) for angle in angles))


def divided(layup: Layup, count: int) -> Layup:
    """Every ply cut into ``count`` thinner plies, for a moisture that changes with depth."""
    return Layup(
        tuple(
            replace(ply, thickness=ply.thickness / count)
            for ply in layup.plies
            for _ in range(count)
        )
    )


def moisture_curvature(layup: Layup, *, change: ArrayLike, angle: float = 0.0) -> Warp:
    """Free strain and curvature after the moisture of the plies changed.

    N = sum Q b dm (z1 - z0), M = sum Q b dm (z1² - z0²)/2; then A e + B k = N, B e + D k = M.

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
    Warp: strain (..., 3), curvature (..., 3) [1/m] as k = (-w_xx, -w_yy, -2 w_xy)

    Valid for elastic plies and small rotation; a thin unsymmetric stack snaps into one
    cylinder instead of the saddle that linear theory gives, and creep relaxes the warp.
    Source: Kaw 2006, section 4.4 (hygrothermal loads); Timoshenko 1925 for two layers.
    """
    stack = _stack(layup)
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


def core_index(layup: Layup) -> tuple[int, ...]:
    """Places of the core plies in a stack (empty when it has none)."""
    return tuple(i for i, ply in enumerate(layup.plies) if ply.lamina.kind == "core")


def _sandwich(layup: Layup) -> tuple[list[Ply], list[Ply], list[Ply]]:
    cores = core_index(layup)
    if not cores or cores[0] == 0 or cores[-1] == len(layup.plies) - 1:
        raise InputError("layup", f"{len(layup.plies)} plies", "a core with a face on either side")
    return (
        list(layup.plies[: cores[0]]),
        list(layup.plies[cores[0] : cores[-1] + 1]),
        list(layup.plies[cores[-1] + 1 :]),
    )


def core_shear_stress(layup: Layup, *, shear: ArrayLike) -> Array:
    """Mean shear stress in the core of a sandwich with thin faces.

    t = V/h, with h the distance between the middles of the faces.

    Parameters
    ----------
    layup
        A stack with a core between two faces.
    shear
        (...) [N/m], shear force per unit width.

    Returns
    -------
    (...) [Pa]

    Valid for faces much thinner and much stiffer than the core.
    Source: Allen, Analysis and Design of Structural Sandwich Panels, 1969 (from memory,
    unverified).
    """
    lower, core, upper = _sandwich(layup)
    depth = math.fsum(ply.thickness for ply in core) + 0.5 * math.fsum(
        ply.thickness for ply in lower + upper
    )
    return np.asarray(shear, float) / depth


def wrinkling_stress(
    *, face_modulus: ArrayLike, core_modulus: ArrayLike, core_shear: ArrayLike, factor: float = 0.5
) -> Array:
    """Compressive face stress at which a thin face wrinkles into or off its core.

    s = k (E_f E_c G_c)^(1/3).

    Parameters
    ----------
    face_modulus, core_modulus, core_shear
        [Pa]: the face along the stress, the core through the thickness, the core in shear.
    factor
        k: 0.5 practical, 0.82-0.91 in theory without imperfections.

    Returns
    -------
    [Pa]

    Source: Hoff and Mautner, J. Aeronautical Sciences 12 (1945) 285; k from memory,
    unverified; the variables named in US Forest Service Research Note FPL-086 (1965), eq. 19.

    >>> float(wrinkling_stress(face_modulus=3e9, core_modulus=3.31e6, core_shear=4.27e6).round(-5))
    17400000.0
    """
    product = np.asarray(face_modulus, float) * np.asarray(core_modulus) * np.asarray(core_shear)
    return np.asarray(factor * np.cbrt(product))


def crushed(layup: Layup, lost: float) -> Layup:
    """Thin the core by ``lost`` [m] and keep its mass.

    The core's moduli and strengths are kept as they were, which flatters a crushed foam.
    """
    cores = core_index(layup)
    thick = math.fsum(layup.plies[i].thickness for i in cores)
    if not cores or not 0.0 <= lost < thick:
        raise InputError("crush", lost, "a loss from zero to less than the core's thickness")
    share = 1.0 - lost / thick
    return Layup(
        tuple(
            replace(
                ply,
                thickness=ply.thickness * share,
                lamina=replace(ply.lamina, density=ply.lamina.density / share),
            )
            if i in cores
            else ply
            for i, ply in enumerate(layup.plies)
        )
    )


class Sandwich(NamedTuple):
    """The thin-face figures of a sandwich along x, per unit width."""

    bending: float
    shear: float
    depth: float
    core_thickness: float
    face_thickness: float


def sandwich(layup: Layup) -> Sandwich:
    """Bending [N m] and shear stiffness [N/m] of a sandwich along x, by thin-face theory.

    D = E_f t h²/2 + E_f t³/6 + E_c c³/12 for equal faces; U = G_c h²/c.

    Source: Allen 1969 (from memory, unverified); variables named in FPL-086, eq. 1.
    """
    lower, core, upper = _sandwich(layup)
    core_thick = math.fsum(ply.thickness for ply in core)
    low_thick = math.fsum(ply.thickness for ply in lower)
    up_thick = math.fsum(ply.thickness for ply in upper)
    depth = core_thick + (low_thick + up_thick) / 2.0

    def modulus(plies: list[Ply]) -> float:
        whole = math.fsum(ply.thickness for ply in plies)
        return (
            math.fsum(
                ply.thickness * float(off_axis_modulus(ply.lamina, ply.angle)) for ply in plies
            )
            / whole
        )

    low_e, up_e, core_e = modulus(lower), modulus(upper), modulus(core)
    flexible = math.fsum(
        ply.thickness
        / (
            ply.lamina.shear_13 * math.cos(ply.angle) ** 2
            + ply.lamina.shear_23 * math.sin(ply.angle) ** 2
        )
        for ply in core
    )
    pair = low_e * low_thick * up_e * up_thick / (low_e * low_thick + up_e * up_thick)
    own = (low_e * low_thick**3 + up_e * up_thick**3 + core_e * core_thick**3) / 12.0
    return Sandwich(
        pair * depth**2 + own,
        depth**2 / flexible,
        depth,
        core_thick,
        (low_thick + up_thick) / 2.0,
    )


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
    """Make a lamina that is the same in all directions: G = E/(2 (1 + n)), shear X/sqrt 3.

    With equal strengths the Tsai-Wu criterion then is von Mises' criterion.
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
