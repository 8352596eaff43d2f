"""Local pressure on a thin fin faster than sound: Ackeret, piston and Van Dyke theory.

Each chordwise strip is treated as part of an endless swept wing, so the pressure at a point
follows from the slope and the motion of the surface there. Sign convention as in
`calc.lifting_surface`: cp = (p_lower - p_upper)/q, z and cp positive upward, motion
exp(i omega t), k = omega/U [rad/m].

Sources: Ackeret (1925) and Van Dyke, NACA TR 1081 (1952) (first and second order); Lighthill,
J. Aero. Sci. 20 (1953) 402-406, and Ashley and Zartarian, J. Aero. Sci. 23 (1956) 1109-1118
(piston theory). Report numbers and pages from memory, unverified.

Not modelled: the Mach cones of root and tip (they lower the load near the tip), body, boundary
layer, detached shocks, and transonic flow.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.errors import InputError

if TYPE_CHECKING:
    from calc.planform import Planform

Array = NDArray[np.float64]
Theory = Literal["ackeret", "van-dyke", "piston"]
HEAT_RATIO = 1.4
LOWEST_NORMAL_MACH = 1.2
"""Below this Mach number square to the leading edge no linear theory is trusted."""
LOWEST_PISTON_MACH = 2.5
HIGHEST_MACH = 5.0


def limits(
    mach: float, *, sweep: float = 0.0, surface_slope: float = 0.0, theory: Theory = "ackeret"
) -> tuple[str, ...]:
    """List, in words, what puts a case outside the range of these theories; empty if valid.

    Parameters
    ----------
    mach
        Flight Mach number.
    sweep
        Leading-edge sweep [rad].
    surface_slope
        Steepest slope of the surface to the stream, thickness and angle of attack [rad].
    theory
        Which theory is meant.

    Range: M cos(sweep) at least 1.2 (2.5 for piston theory), M at most 5, M times slope below 1.
    Source: Ashley and Zartarian (1956) for the piston limit; the others common practice.

    >>> limits(2.0)
    ()
    """
    found = []
    normal = mach * np.cos(sweep)
    lowest = LOWEST_PISTON_MACH if theory == "piston" else LOWEST_NORMAL_MACH
    if normal < lowest:
        found.append(f"Mach {normal:.2f} square to the leading edge is below {lowest}")
    if mach > HIGHEST_MACH:
        found.append(f"Mach {mach:.2f} is above {HIGHEST_MACH}")
    if mach * abs(surface_slope) >= 1.0:
        found.append("Mach number times surface slope is not below 1")
    return tuple(found)


def valid(
    mach: float, *, sweep: float = 0.0, surface_slope: float = 0.0, theory: Theory = "ackeret"
) -> bool:
    """Tell whether a case lies in the range given in `limits`."""
    return not limits(mach, sweep=sweep, surface_slope=surface_slope, theory=theory)


def _beta_squared(mach: float, sweep: float) -> float:
    value = mach**2 - 1.0 - np.tan(sweep) ** 2
    if not value > 0.0:
        raise InputError("mach", mach, "a Mach number above 1 square to the leading edge")
    return float(value)


def ackeret_slope(mach: float, *, sweep: float = 0.0) -> float:
    """Give cp = C alpha for a flat strip by first-order (Ackeret) theory.

    ``C = 4/sqrt(M^2 - 1 - tan^2 sweep)``; with no sweep the usual ``4/beta``.

    Parameters
    ----------
    mach
        Flight Mach number, M cos(sweep) above 1.
    sweep
        Sweep of the strip's lines of equal chord fraction [rad].

    Returns
    -------
    float
        Both faces together [1/rad].

    Valid: see `limits`. Source: Ackeret (1925); simple sweep theory.

    >>> round(ackeret_slope(2.0), 4)
    2.3094
    """
    return 4.0 / float(np.sqrt(_beta_squared(mach, sweep)))


def van_dyke_coefficients(
    mach: float, *, sweep: float = 0.0, gamma: float = HEAT_RATIO
) -> tuple[float, float]:
    """Give C1, C2 in cp = C1 theta + C2 theta^2 on one face (second-order theory).

    ``C1 = 2/beta``, ``C2 = [(gamma+1) M^4 - 4 beta^2]/(2 beta^4)``, beta^2 = M^2 - 1. With sweep
    the same holds square to the leading edge: M cos(sweep), theta/cos(sweep), q cos^2(sweep).

    Returns
    -------
    C1 [1/rad], C2 [1/rad2]
        theta is positive where the face is turned into the stream.

    Valid: see `limits`. Source: Busemann; Van Dyke, NACA TR 1081 (1952).
    """
    _beta_squared(mach, sweep)
    cosine = np.cos(sweep)
    normal = mach * cosine
    beta2 = normal**2 - 1.0
    first = 2.0 / np.sqrt(beta2)
    second = ((gamma + 1.0) * normal**4 - 4.0 * beta2) / (2.0 * beta2**2)
    return float(first * cosine), float(second)


def piston_pressure(
    theta: ArrayLike, *, mach: float, order: int = 3, gamma: float = HEAT_RATIO
) -> Array:
    """Give cp on one face turned by theta into the stream, by piston theory.

    ``cp = (2/M^2) [W + (gamma+1)/4 W^2 + (gamma+1)/12 W^3]`` with W = M theta (inward speed of
    the face over the speed of sound), cut after `order` terms.

    Parameters
    ----------
    theta
        Face angle or inward speed over U [rad].
    mach
        Flight Mach number.
    order
        1, 2 or 3.

    Returns
    -------
    array like `theta`

    Valid for M above about 2.5 and |W| < 1. Source: Lighthill (1953); Ashley and Zartarian
    (1956).
    """
    if order not in (1, 2, 3):
        raise InputError("order", order, "1, 2 or 3")
    w = mach * np.asarray(theta, dtype=float)
    terms = (w, (gamma + 1.0) / 4.0 * w**2, (gamma + 1.0) / 12.0 * w**3)
    return np.asarray(2.0 / mach**2 * sum(terms[:order]))


def local_slope(
    mach: float,
    *,
    theory: Theory = "van-dyke",
    sweep: float = 0.0,
    thickness_slope: ArrayLike = 0.0,
    gamma: float = HEAT_RATIO,
) -> Array:
    """Give C in cp = -C (upwash/U) for small motion about a fin of given thickness.

    The pressure law of one face is linearised about the slope t of a symmetrical section's
    half-thickness and both faces are added. Ackeret: ``4/beta``. Van Dyke:
    ``2 (C1 + 2 C2 t)``. Piston: ``(4/M)[1 + (gamma+1)/2 (M t) + (gamma+1)/4 (M t)^2]``.

    Parameters
    ----------
    mach
        Flight Mach number.
    theory
        "ackeret", "van-dyke" or "piston". Piston theory here ignores sweep.
    sweep
        Sweep of the strip [rad], for example of the mid-chord line.
    thickness_slope
        d(half thickness)/dx [-]; positive toward the nose. Scalar or array.

    Returns
    -------
    array like `thickness_slope` [1/rad]

    Valid: see `limits`. Source: Ashley and Zartarian (1956); Van Dyke (1952).
    """
    slope = np.asarray(thickness_slope, dtype=float)
    if theory == "ackeret":
        return np.full_like(slope, ackeret_slope(mach, sweep=sweep))
    if theory == "van-dyke":
        first, second = van_dyke_coefficients(mach, sweep=sweep, gamma=gamma)
        return 2.0 * first + 4.0 * second * slope
    if theory == "piston":
        w = mach * slope
        half = (gamma + 1.0) / 2.0
        return np.asarray(4.0 / mach * (1.0 + half * w + 0.5 * half * w**2))
    raise InputError("theory", theory, " or ".join(get_args(Theory)))


def rate_factor(mach: float, *, sweep: float = 0.0) -> float:
    """Give r, the part of the damping that stays local in slow unsteady flow.

    First order in frequency, two-dimensional linear theory gives
    ``cp = -(4/beta) [dz/dx + i k (r z + (1 - r) z_LE)]``, with
    ``r = (M^2 - 2)/(M^2 - 1)`` and z_LE the motion of the leading edge ahead of the point. With
    sweep, M is replaced by M cos(sweep). r is below zero under M cos(sweep) = 1.41: that is the
    loss of damping a purely local law hides. Piston theory is r = 1.

    Derived by expanding ``phi = -(1/beta) int w exp(-i nu s) J0(nu s/M) ds``, nu = k M^2/beta^2,
    to first order; the classical low-frequency result (Miles; from memory, unverified).
    Valid for k c M^2/beta^2 well below 1.

    >>> rate_factor(2.0**0.5)
    0.0
    """
    beta2 = _beta_squared(mach, sweep)
    return float(np.round(1.0 - (1.0 + np.tan(sweep) ** 2) / beta2, 14))


def generalised_forces(
    planform: Planform,
    values: Callable[[Array], Array],
    slopes: Callable[[Array], Array],
    *,
    mach: float,
    wavenumbers: ArrayLike,
    theory: Theory = "van-dyke",
    sweep: float | None = None,
    thickness_slope: Callable[[Array], Array] | None = None,
    spanwise: int = 12,
    chordwise: int = 12,
) -> NDArray[np.complex128]:
    """Give the matrices Q in F = q Q for motion along the shapes of a plate.

    ``Q_ij = -int C phi_i [d phi_j/dx + i k (r phi_j + (1 - r) phi_j(LE))] dA`` with C from
    `local_slope` and r from `rate_factor` (r = 1 for piston theory).

    Parameters
    ----------
    planform
        The exposed fin.
    values, slopes
        Functions of points (m, 2) that give shapes (m, n) and (2, m, n) d/dx, d/dy.
    mach
        Flight Mach number.
    wavenumbers
        omega/U [rad/m], (n_k,).
    theory, thickness_slope
        As in `local_slope`; `thickness_slope` is a function of points (m, 2).
    sweep
        Sweep for simple sweep theory [rad]; the mid-chord line's if left out.

    Returns
    -------
    array (n_k, n, n), complex [m2 times the units of the shapes]

    Valid: see `limits`. Source: as for the module.
    """
    k = np.atleast_1d(np.asarray(wavenumbers, dtype=float))
    angle = planform.sweep_half if sweep is None else float(sweep)
    points, weights, leading = _quadrature(planform, spanwise, chordwise)
    tangent = thickness_slope(points) if thickness_slope else np.zeros(len(points))
    pressure = local_slope(mach, theory=theory, sweep=angle, thickness_slope=tangent)
    rate = 1.0 if theory == "piston" else rate_factor(mach, sweep=angle)
    shape = values(points)
    moving = rate * shape + (1.0 - rate) * np.repeat(values(leading), chordwise, axis=0)
    weighted = -(weights * pressure)[:, None] * shape
    steady, damping = weighted.T @ slopes(points)[0], weighted.T @ moving
    return np.asarray(steady + 1j * k[:, None, None] * damping)


def _quadrature(planform: Planform, spanwise: int, chordwise: int) -> tuple[Array, Array, Array]:
    """Give Gauss points (m, 2), area weights (m,) and the leading-edge point of each strip."""
    t, wt = np.polynomial.legendre.leggauss(spanwise)  # type: ignore[no-untyped-call]
    s, ws = np.polynomial.legendre.leggauss(chordwise)  # type: ignore[no-untyped-call]
    outward = 0.5 * (1.0 + t)
    chord = planform.root + (planform.tip - planform.root) * outward
    nose = planform.sweep * outward
    x = nose[:, None] + 0.5 * (1.0 + s) * chord[:, None]
    y = np.broadcast_to((outward * planform.span)[:, None], x.shape)
    weights = 0.25 * planform.span * wt[:, None] * ws * chord[:, None]
    leading = np.column_stack([nose, outward * planform.span])
    return np.column_stack([x.ravel(), y.ravel()]), weights.ravel(), leading
