"""Mechanics of simple tests on a strip or a plate: sag, three-point flex, tone and twist.

Every function predicts the reading of one test for given properties of the sheet.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.errors import InputError
from calc.numerics.quadrature import gauss_legendre
from calc.units import STANDARD_GRAVITY

Array = NDArray[np.float64]
Support = Literal["free", "clamped"]

_EIGENVALUES: Mapping[str, tuple[float, ...]] = {
    "free": (4.73004074, 7.85320462, 10.9956079),
    "clamped": (1.87510407, 4.69409113, 7.85475744),
}
"""Roots of cos(x) cosh(x) = 1 (free-free) and -1 (clamped-free): Blevins, Formulas for Natural
Frequency and Mode Shape (1979), table 8-1."""
MAX_LOAD = 60.0
"""Greatest dimensionless load of the elastica; larger ones are taken as this."""
SHEAR_FACTOR = 5.0 / 6.0
"""Effective share of a rectangle's area in shear."""


@cache
def _integration(count: int) -> tuple[Array, Array, Array, Array]:
    """Return Gauss points on (0, 1), weights, and matrices that integrate from 0 and to 1."""
    points, weights = gauss_legendre(count)
    legendre = np.polynomial.legendre.legvander(points, count)  # type: ignore[no-untyped-call]
    # The integral of P_n from -1 is (P_n+1 - P_n-1) / (2 n + 1), and x + 1 for n = 0.
    order = np.arange(1, count)
    integrals = np.empty((count, count))
    integrals[:, 0] = (points + 1.0) / 2.0
    integrals[:, 1:] = (legendre[:, 2:] - legendre[:, :-2]) / (2.0 * (2.0 * order + 1.0))
    from_root = integrals @ np.linalg.inv(legendre[:, :count])
    to_tip = weights / 2.0 - from_root
    return (points + 1.0) / 2.0, weights / 2.0, from_root, to_tip


def elastica_tip(
    *, tip_load: ArrayLike, own_weight: ArrayLike, points: int = 14
) -> tuple[Array, Array, Array]:
    """Compute the tip of a level-clamped strip bent by a tip load and its own weight, at any sag.

    Parameters
    ----------
    tip_load
        a = P L^2 / (E I) [-], 0 to `MAX_LOAD`.
    own_weight
        b = w L^3 / (E I) [-], w the weight per length, 0 to `MAX_LOAD`.
    points
        Collocation points along the strip.

    Returns
    -------
    tuple
        Sag / L, horizontal reach / L [-], tip slope [rad], each shaped like the loads.

    Notes
    -----
    Equation: theta'' = -(a + b (1 - s)) cos(theta), theta(0) = 0, theta'(1) = 0, solved by
    spectral collocation and Newton's method. Inextensible thin strip, linear elastic, no shear.

    References
    ----------
    Bisshopp & Drucker, Q. Appl. Math. 3 (1945) 272, for the tip load; the same equation with the
    weight added.

    Examples
    --------
    >>> sag, reach, slope = elastica_tip(tip_load=1.0, own_weight=0.0)
    >>> round(float(sag), 5)
    0.30172
    """
    a, b = np.broadcast_arrays(
        np.asarray(tip_load, dtype=float), np.asarray(own_weight, dtype=float)
    )
    shape = a.shape
    a, b = np.clip(a.ravel(), 0.0, MAX_LOAD), np.clip(b.ravel(), 0.0, MAX_LOAD)
    s, weights, from_root, to_tip = _integration(points)
    green = from_root @ to_tip
    load = a[:, None] + b[:, None] * (1.0 - s)
    # Start from the small-deflection slope, limited so that it never passes the vertical.
    theta = (np.pi / 2) * np.tanh((load @ green.T) / (np.pi / 2))
    for _ in range(40):
        residual = theta - (load * np.cos(theta)) @ green.T
        jacobian = np.eye(points) + green * (load * np.sin(theta))[:, None, :]
        step = np.linalg.solve(jacobian, residual[..., None])[..., 0]
        theta = theta - step
        # Newton doubles the digits: the step after this one would be below 1e-13.
        if np.max(np.abs(step)) < 1e-7:
            break
    slope = (load * np.cos(theta)) @ (to_tip.T @ weights)
    return (
        (np.sin(theta) @ weights).reshape(shape),
        (np.cos(theta) @ weights).reshape(shape),
        slope.reshape(shape),
    )


def cantilever_sag(
    *,
    modulus: ArrayLike,
    thickness: ArrayLike,
    width: ArrayLike,
    length: ArrayLike,
    density: ArrayLike = 0.0,
    tip_load: ArrayLike = 0.0,
) -> Array:
    """Compute the sag of the tip of a level-clamped strip below its clamp, small or large.

    Parameters
    ----------
    modulus
        Young's modulus along the strip [Pa].
    thickness, width, length
        Of the free strip [m].
    density
        [kg/m3]; 0 leaves the own weight out.
    tip_load
        Mass hung from the tip [kg].

    Returns
    -------
    Array
        Sag [m].

    Notes
    -----
    For a small sag: P L^3 / (3 E I) + w L^4 / (8 E I), I = b t^3 / 12, w = rho g b t. Thin strip
    (length over 20 thicknesses), rigid level clamp.

    References
    ----------
    As `elastica_tip`.

    Examples
    --------
    >>> sag = cantilever_sag(modulus=3e9, thickness=2e-3, width=0.03, length=0.2, tip_load=0.01)
    >>> round(1e3 * float(sag), 2)
    4.36
    """
    e, t, b, span = (np.asarray(v, dtype=float) for v in (modulus, thickness, width, length))
    rigidity = e * b * t**3 / 12.0
    weight = np.asarray(density, dtype=float) * STANDARD_GRAVITY * b * t
    sag, _, _ = elastica_tip(
        tip_load=np.asarray(tip_load, dtype=float) * STANDARD_GRAVITY * span**2 / rigidity,
        own_weight=weight * span**3 / rigidity,
    )
    return np.asarray(sag * span)


def flex_deflection(
    *,
    modulus: ArrayLike,
    thickness: ArrayLike,
    width: ArrayLike,
    span: ArrayLike,
    load: ArrayLike,
    density: ArrayLike = 0.0,
    overhang: ArrayLike = 0.0,
    shear_modulus: ArrayLike = np.inf,
) -> Array:
    """Compute the deflection at mid-span of a strip on two supports under a central load.

    Parameters
    ----------
    modulus
        Young's modulus along the strip [Pa].
    thickness, width, span
        [m]
    load
        Mass at mid-span [kg].
    density
        [kg/m3]; 0 when the zero was set with the strip already lying on its supports.
    overhang
        Length a of strip beyond each support [m]; matters only with own weight.
    shear_modulus
        Through the thickness, in the plane of bending [Pa]; infinite leaves shear out.

    Returns
    -------
    Array
        Deflection [m].

    Notes
    -----
    Equation: P L^3/(48 E I) + 5 w L^4/(384 E I) - w a^2 L^2/(16 E I)
    + (P L/4 + w L^2/8) / (5/6 G b t). Deflection below a tenth of the span.

    References
    ----------
    Wood Handbook FPL-GTR-282 (2021) ch. 9, shear-corrected beam deflection (k_b 1/48 and 5/384,
    k_s 1/4 and 1/8); overhang term from the end moments w a^2/2 by superposition.
    """
    e, t, b, length, a = (
        np.asarray(v, dtype=float) for v in (modulus, thickness, width, span, overhang)
    )
    force = np.asarray(load, dtype=float) * STANDARD_GRAVITY
    weight = np.asarray(density, dtype=float) * STANDARD_GRAVITY * b * t
    rigidity = e * b * t**3 / 12.0
    bending = (
        force * length**3 / 48.0
        + weight * length**4 * 5.0 / 384.0
        - weight * (a * length) ** 2 / 16.0
    ) / rigidity
    shear_area = SHEAR_FACTOR * b * t
    shear = (force * length / 4.0 + weight * length**2 / 8.0) / (
        np.asarray(shear_modulus, dtype=float) * shear_area
    )
    return np.asarray(bending + shear)


def strip_tone(
    *,
    modulus: ArrayLike,
    density: ArrayLike,
    thickness: ArrayLike,
    length: ArrayLike,
    support: Support = "free",
    mode: int = 1,
    width: ArrayLike = 0.0,
    air_density: ArrayLike = 0.0,
    shear_modulus: ArrayLike | None = None,
) -> Array:
    """Compute the bending frequency of a plucked or tapped strip.

    Parameters
    ----------
    modulus
        Young's modulus along the strip [Pa].
    density
        [kg/m3]
    thickness, length
        [m]
    support
        "free": held at the two nodes (0.224 L from the ends for mode 1); "clamped": one end held.
    mode
        1, 2 or 3.
    width, air_density
        [m], [kg/m3]; 0 leaves the added mass of the air out. On a light balsa strip it lowers the
        tone by several per cent.
    shear_modulus
        Through the thickness [Pa]; None leaves shear and rotary inertia out. Only for mode 1 of a
        free strip.

    Returns
    -------
    Array
        Frequency [Hz].

    Raises
    ------
    InputError
        If support or mode is unknown, or a shear modulus is given for another mode or support.

    Notes
    -----
    Equation: f = lambda^2 / (2 pi L^2) sqrt(E t^2 / (12 rho T)), where T = 1 + m_air/m
    + (t/L)^2/12 (49.48 + 12.30 E/(5/6 G)) and the added mass of the air is m_air =
    pi/4 rho_air b^2 per length (slender flat strip). Thin strip: length over 20 thicknesses, else
    give `shear_modulus`.

    References
    ----------
    Eigenvalues: Blevins (1979), table 8-1. Added mass: potential flow about a flat strip, Blevins,
    table 14-1 (from memory, unverified). Shear and rotary inertia: Goens, Ann. Phys. 403 (1931)
    649 (from memory, unverified; agrees with the factor 6.585 of ASTM E1876 in the thin limit).
    """
    if support not in _EIGENVALUES:
        raise InputError("support", support, '"free" or "clamped"')
    if mode not in (1, 2, 3):
        raise InputError("mode", mode, "1, 2 or 3")
    e, rho, t, span, b = (
        np.asarray(v, dtype=float) for v in (modulus, density, thickness, length, width)
    )
    inertia = 1.0 + np.pi / 4.0 * np.asarray(air_density, dtype=float) * b / (rho * t)
    if shear_modulus is not None:
        if support != "free" or mode != 1:
            raise InputError("shear_modulus", shear_modulus, "mode 1 of a free strip, or nothing")
        g = np.asarray(shear_modulus, dtype=float)
        inertia = inertia + (t / span) ** 2 / 12.0 * (49.48 + 12.30 * e / (SHEAR_FACTOR * g))
    eigenvalue = _EIGENVALUES[support][mode - 1]
    bare = np.sqrt(e * t**2 / (12.0 * rho * inertia))
    return np.asarray(eigenvalue**2 / (2.0 * np.pi * span**2) * bare)


def plate_twist(
    *,
    shear_modulus: ArrayLike,
    thickness: ArrayLike,
    side_along: ArrayLike,
    side_across: ArrayLike,
    load: ArrayLike,
) -> Array:
    """Compute the deflection of a corner of a rectangular plate supported at the other three.

    Parameters
    ----------
    shear_modulus
        In the plane of the sheet [Pa].
    thickness, side_along, side_across
        [m]; sides parallel and square to the grain.
    load
        Mass added on the free corner [kg].

    Returns
    -------
    Array
        Deflection of the loaded corner due to the load [m].

    Notes
    -----
    Equation: delta = 3 P a b / (G t^3). The plate bends to w = c x y, exact for any orthotropic
    thin plate with its grain parallel to a side; deflection below about one thickness.

    References
    ----------
    As ASTM D3044, plate shear: with both pairs of corners loaded, G = 3 u^2 P / (2 t^3 delta_u)
    (from memory, unverified), the same surface measured at another point.
    """
    stiffness = np.asarray(shear_modulus, dtype=float) * np.asarray(thickness, dtype=float) ** 3
    sides = np.asarray(side_along, dtype=float) * np.asarray(side_across, dtype=float)
    deflection: Array = 3.0 * np.asarray(load, dtype=float) * STANDARD_GRAVITY * sides / stiffness
    return deflection
