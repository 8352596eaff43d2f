"""Strength of plies and stacks: failure criteria, first ply failure, strength in bending."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.errors import InputError
from calc.structure.laminate import Layup, ply_stresses

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Criterion = Literal["tsai-wu", "max-stress", "hashin"]

STRENGTHS = (
    "tension_along",
    "compression_along",
    "tension_across",
    "compression_across",
    "shear_strength",
)
"""Strengths of a lamina, in the order of `MODES`."""
MODES = np.array(
    ["tension along", "compression along", "tension across", "compression across", "shear"]
)
DIRECTIONS = 37
"""Directions of the sheet, every 5 degrees, in which the weakest is searched."""


class FirstPlyFailure(NamedTuple):
    """First failure: load factor, the ply (0 = lowest), its face (0 lower, 1 upper), the mode."""

    factor: Array
    ply: Index
    face: Index
    mode: NDArray[np.str_]


class _Shares(NamedTuple):
    """Each stress over its own strength, (..., n_ply, 2), and the sign of the normal stresses."""

    along: Array
    across: Array
    shear: Array
    pulled_along: NDArray[np.bool_]
    pulled_across: NDArray[np.bool_]

    @property
    def along_mode(self) -> Index:
        """Return the place in `MODES` of a failure along the grain."""
        return np.where(self.pulled_along, 0, 1)

    @property
    def across_mode(self) -> Index:
        """Return the place in `MODES` of a failure across the grain."""
        return np.where(self.pulled_across, 2, 3)

    def largest(self) -> tuple[Array, Index]:
        """Return the largest share and the place of its mode."""
        share, which = _largest([self.along, self.across, self.shear])
        return share, np.select([which == 0, which == 1], [self.along_mode, self.across_mode], 4)


@lru_cache(maxsize=512)
def _strengths(layup: Layup) -> Array:
    """Return the strengths (5, n_ply, 1) of the plies [Pa]."""
    rows = [[getattr(ply.lamina, name) for name in STRENGTHS] for ply in layup.plies]
    return np.array(rows).T[:, :, None]


def first_ply_failure(
    layup: Layup,
    stresses: ArrayLike,
    criterion: Criterion = "tsai-wu",
    *,
    across: bool = True,
) -> FirstPlyFailure:
    """Return the load factor at which the first ply fails when all loads grow together.

    Parameters
    ----------
    layup
        The stack.
    stresses
        (..., n_ply, 2, 3) [Pa] from `calc.structure.laminate.ply_stresses`.
    criterion
        ``"tsai-wu"``: stresses along and across and the shear stress act together, as they do
        where the grain slopes. ``"max-stress"``: each stress against its own strength, an upper
        bracket. ``"hashin"``: fibre and matrix modes apart.
    across
        Whether splitting across the grain counts. ``False`` follows ANC Bulletin 18 (eq. 2:19,
        table 2-8), which leaves the cross plies of plywood out of its strength: only the stress
        along the grain and the shear stress are judged, each on its own.

    Returns
    -------
    FirstPlyFailure
        Without the last three axes of ``stresses``; the factor is infinite where nothing is
        stressed.

    Raises
    ------
    InputError
        Naming an unknown criterion.

    Notes
    -----
    Tsai-Wu: (F1 s1 + F2 s2) R + (F11 s1² + F22 s2² + F66 t² + 2 F12 s1 s2) R² = 1 with
    F12 = -sqrt(F11 F22)/2. Valid for proportional loading and linear plies; not for fatigue,
    impact or a stack that still carries load after its first split.

    References
    ----------
    Tsai and Wu, J. Composite Materials 5 (1971) 58; Hashin, J. Applied Mechanics 47 (1980) 329
    (both from memory, unverified); Kaw, Mechanics of Composite Materials, 2nd ed., 2006, section
    2.8.
    """
    stress = np.asarray(stresses, float)
    strengths = _strengths(layup)
    if criterion == "tsai-wu" and across:
        factor = _tsai_wu(stress, strengths)
        flat = factor.reshape(*factor.shape[:-2], -1)
        worst = np.argmin(flat, axis=-1)
        # the mode is only asked for where the first ply fails
        there = stress.reshape(*flat.shape, 3)
        there = np.take_along_axis(there, worst[..., None, None], axis=-2)[..., 0, :]
        mode = _shares(there, strengths[:, worst // 2, 0]).largest()[1]
    else:
        factor, modes = _factors(_shares(stress, strengths), criterion, across=across)
        flat = factor.reshape(*factor.shape[:-2], -1)
        worst = np.argmin(flat, axis=-1)
        modes = modes.reshape(flat.shape)
        mode = np.take_along_axis(modes, worst[..., None], axis=-1)[..., 0]
    least = np.take_along_axis(flat, worst[..., None], axis=-1)[..., 0]
    return FirstPlyFailure(least, worst // 2, worst % 2, MODES[mode])


def _shares(stress: Array, strengths: Array) -> _Shares:
    """Return each stress (..., 3) over its own of the strengths (5, ...)."""
    s1, s2, t = stress[..., 0], stress[..., 1], stress[..., 2]
    xt, xc, yt, yc, sh = strengths
    return _Shares(
        np.where(s1 >= 0.0, s1 / xt, -s1 / xc),
        np.where(s2 >= 0.0, s2 / yt, -s2 / yc),
        np.abs(t) / sh,
        s1 >= 0.0,
        s2 >= 0.0,
    )


def _factors(shares: _Shares, criterion: str, *, across: bool) -> tuple[Array, Index]:
    """Return the load factor of a criterion of single stresses, and the place of the mode."""
    if not across:
        demand, which = _largest([shares.along, shares.shear])
        return _inverse(demand), np.where(which == 0, shares.along_mode, 4)
    if criterion == "max-stress":
        demand, mode = shares.largest()
        return _inverse(demand), mode
    if criterion == "hashin":
        return _hashin(shares)
    raise InputError("criterion", criterion, "tsai-wu, max-stress or hashin")


def _tsai_wu(stress: Array, strengths: Array) -> Array:
    """Return the load factor R of the Tsai-Wu criterion."""
    s1, s2, t = stress[..., 0], stress[..., 1], stress[..., 2]
    xt, xc, yt, yc, sh = strengths
    f11, f22 = 1.0 / (xt * xc), 1.0 / (yt * yc)
    linear = (1.0 / xt - 1.0 / xc) * s1 + (1.0 / yt - 1.0 / yc) * s2
    square = f11 * s1**2 + f22 * s2**2 + (t / sh) ** 2 - np.sqrt(f11 * f22) * s1 * s2
    # The positive root of square R² + linear R = 1, in the form that keeps small terms exact.
    reach = linear + np.sqrt(linear**2 + 4.0 * np.maximum(square, 0.0))
    with np.errstate(divide="ignore"):
        return np.asarray(np.where(reach > 0.0, 2.0 / reach, np.inf))


def _hashin(shares: _Shares) -> tuple[Array, Index]:
    """Return the load factor of Hashin's criterion and the place of the mode.

    The shear strength through the thickness is taken as half the compression across; the linear
    term of the compressive matrix mode then vanishes and both signs have the same form.
    """
    fibre = np.where(shares.pulled_along, np.hypot(shares.along, shares.shear), shares.along)
    matrix = np.hypot(shares.across, shares.shear)
    mode = np.select(
        [(shares.shear > shares.along) & (shares.shear > shares.across), fibre > matrix],
        [np.full(fibre.shape, 4), shares.along_mode],
        shares.across_mode,
    )
    return _inverse(np.maximum(fibre, matrix)), mode


def _largest(shares: Sequence[Array]) -> tuple[Array, Index]:
    """Return the largest of several arrays, element by element, and which it is."""
    stacked = np.stack(np.broadcast_arrays(*shares))
    return stacked.max(axis=0), stacked.argmax(axis=0)


def _inverse(demand: Array) -> Array:
    """Return the load factor for a demand, infinite where there is none."""
    with np.errstate(divide="ignore"):
        return np.asarray(np.where(demand > 0.0, 1.0 / demand, np.inf))


def hankinson(
    along: ArrayLike, across: ArrayLike, angle: ArrayLike, *, exponent: float = 2.0
) -> Array:
    """Return a wood property at an angle to the grain by Hankinson's formula.

    Parameters
    ----------
    along, across
        P and Q, the property along and across the grain [any one unit].
    angle
        Angle to the grain a [rad], 0 to pi/2.
    exponent
        n: 1.5-2 bending and tension, 2-2.5 compression, 2 modulus.

    Returns
    -------
    N in the unit of P and Q

    Notes
    -----
    N = P Q/(P sin^n a + Q cos^n a).

    References
    ----------
    Wood Handbook, FPL-GTR-282 (2021), eq. 5-2.

    Examples
    --------
    >>> float(hankinson(1.0, 0.1, math.atan(0.1), exponent=1.5).round(2))
    0.77
    """
    theta = np.abs(np.asarray(angle, float))
    p, q = np.asarray(along, float), np.asarray(across, float)
    return np.asarray(p * q / (p * np.sin(theta) ** exponent + q * np.cos(theta) ** exponent))


def bearing_strength(layup: Layup, *, direction: float) -> float:
    """Return the pressure on a sheet's edge at which it crushes [Pa].

    Parameters
    ----------
    layup
        The stack, with strengths measured directly (not in bending).
    direction
        Angle from the pressure to the stack's 0 direction [rad].

    Notes
    -----
    Compressive strength of each ply at its angle to the pressure by Hankinson's formula, averaged
    over the thickness.

    Examples
    --------
    A ply pressed along its grain bears its compressive strength:

    >>> from calc.structure.laminate import Lamina, Ply
    >>> basswood = Lamina(10e9, 0.66e9, 0.46e9, 0.36, 410, 0.56e9, 0.2e9, 60e6, 32e6, 2e6, 3e6, 7e6)
    >>> round(bearing_strength(Layup((Ply(basswood, 0.003),)), direction=0.0))
    32000000
    """
    # with the exponent 2 the formula holds for angles beyond a right angle as well
    return (
        math.fsum(
            ply.thickness
            * float(
                hankinson(
                    ply.lamina.compression_along,
                    ply.lamina.compression_across,
                    ply.angle + direction,
                )
            )
            for ply in layup.plies
        )
        / layup.thickness
    )


def tension_limited_across(layup: Layup) -> Layup:
    """Return the stack with plies that bear at least as much compression as tension across.

    Wood pressed across its grain yields and still carries load; in bending it breaks on the
    stretched side.
    """
    return Layup(
        tuple(
            replace(
                ply,
                lamina=replace(
                    ply.lamina,
                    compression_across=max(
                        ply.lamina.compression_across, ply.lamina.tension_across
                    ),
                ),
            )
            for ply in layup.plies
        )
    )


def first_failure_moment(layup: Layup, *, direction: float) -> tuple[float, str]:
    """Return the bending moment per width at which the first ply fails [N], and its mode.

    Parameters
    ----------
    layup
        The stack.
    direction
        Direction of the bending stress, from the stack's 0 direction [rad].

    Notes
    -----
    Tsai-Wu, for the weaker sign of the moment.
    """
    moments = np.array([[1.0, 0.0, 0.0], [-1.0, 0.0, 0.0]])
    found = first_ply_failure(layup, ply_stresses(layup, moments=moments, angle=-direction))
    worst = int(np.argmin(found.factor))
    return float(found.factor[worst]), str(found.mode[worst])


def bending_strength(layup: Layup, *, direction: ArrayLike, plywood: bool = False) -> Array:
    """Return the bending strength (...) of a stack as of one solid sheet [Pa].

    Parameters
    ----------
    layup
        The stack.
    direction
        (...) direction of the bending stress, from the stack's 0 direction [rad].
    plywood
        Whether a split along a cross ply is not counted (ANC Bulletin 18, eq. 2:19).

    Notes
    -----
    6 M / t² at the moment M per width at which the first ply fails, for the weaker sign.
    """
    angle = -np.asarray(direction, float)[..., None]
    unit = layup.thickness**2 / 6.0
    moments = np.broadcast_to([[unit, 0.0, 0.0], [-unit, 0.0, 0.0]], (*angle.shape[:-1], 2, 3))
    stresses = ply_stresses(layup, moments=moments, angle=angle)
    return np.asarray(first_ply_failure(layup, stresses, across=not plywood).factor.min(axis=-1))


def weakest_bending(layup: Layup, *, plywood: bool = False) -> tuple[float, float]:
    """Return the smallest bending strength of a stack [Pa] and the direction it has it in [rad].

    Parameters
    ----------
    layup, plywood
        As in `bending_strength`.

    Notes
    -----
    The weakest of `DIRECTIONS` directions from 0 to pi.
    """
    directions = np.linspace(0.0, math.pi, DIRECTIONS)
    strengths = bending_strength(layup, direction=directions, plywood=plywood)
    weakest = int(np.argmin(strengths))
    return float(strengths[weakest]), float(directions[weakest])


def in_plane_strength(layup: Layup, *, angle: float) -> tuple[float, float]:
    """Return the strength of a stack along x, the weaker sign, and in shear of its plane [Pa].

    Parameters
    ----------
    layup
        The stack.
    angle
        From x to the stack's 0 direction [rad].

    Notes
    -----
    Mean stress over the thickness at the first ply failure by Tsai-Wu.
    """
    forces = layup.thickness * np.array([[1.0, 0.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    stresses = ply_stresses(layup, moments=np.zeros((3, 3)), forces=forces, angle=np.full(3, angle))
    factors = first_ply_failure(layup, stresses).factor
    return float(factors[:2].min()), float(factors[2])
