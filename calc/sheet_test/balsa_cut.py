"""How a balsa sheet was probably sawn, from its stiffness across and along the grain."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.errors import InputError, ValidityError

Array = NDArray[np.float64]

# Wood Handbook FPL-GTR-282 (2021), tables 5-1 and 5-2, balsa at about 12 % moisture content.
BALSA_TANGENTIAL_RATIO = 0.015
BALSA_RADIAL_RATIO = 0.046
BALSA_ROLLING_SHEAR_RATIO = 0.005
BALSA_POISSON_RT = 0.665

CUT_SCATTER = 0.25
"""Standard deviation of the logarithm of the ratio between sheets of one cut [-]: our judgement
from the 22 % of the modulus (Wood Handbook, table 5-6)."""
CLEAR_PROBABILITY = 0.8
"""Probability from which the most probable cut counts as clear."""


@dataclass(frozen=True)
class Cut:
    """How a balsa sheet was probably sawn.

    Parameters
    ----------
    probability_a, probability_b, probability_c
        They sum to one.
    likely
        "A", "B" or "C".
    clear
        True when the likely one has at least `CLEAR_PROBABILITY`.
    note
        In words.
    """

    probability_a: float
    probability_b: float
    probability_c: float
    likely: str
    clear: bool
    note: str


def ring_angle_ratio(
    *,
    angle: ArrayLike,
    tangential: float = BALSA_TANGENTIAL_RATIO,
    radial: float = BALSA_RADIAL_RATIO,
    rolling_shear: float = BALSA_ROLLING_SHEAR_RATIO,
    poisson_rt: float = BALSA_POISSON_RT,
) -> Array:
    """Compute the across/along modulus ratio of a sheet from the angle of its growth rings.

    Parameters
    ----------
    angle
        From the radial direction to the sheet's across-direction [rad]: 0 is quarter-sawn,
        pi/2 flat-sawn.
    tangential, radial, rolling_shear
        E_T/E_L, E_R/E_L, G_RT/E_L [-].
    poisson_rt
        nu_RT [-].

    Returns
    -------
    Array
        E_across / E_along [-].

    Notes
    -----
    Equation: 1/E = c^4/E_R + s^4/E_T + (1/G_RT - 2 nu_RT/E_R) c^2 s^2. Because G_RT is so low, the
    ratio falls to the flat-sawn value by 40 degrees and hardly changes beyond: stiffness cannot
    distinguish those cuts.

    References
    ----------
    Wood Handbook FPL-GTR-282 (2021), tables 5-1 and 5-2 (balsa); plane transformation of an
    orthotropic compliance (any textbook).

    Examples
    --------
    >>> ring_angle_ratio(angle=[0.0, np.pi / 2]).round(3).tolist()
    [0.046, 0.015]
    """
    phi = np.asarray(angle, dtype=float)
    c2, s2 = np.cos(phi) ** 2, np.sin(phi) ** 2
    compliance = (
        c2**2 / radial
        + s2**2 / tangential
        + (1.0 / rolling_shear - 2.0 * poisson_rt / radial) * c2 * s2
    )
    return np.asarray(1.0 / compliance)


def classify_cut(
    *,
    ratio: float,
    log_error: float,
    scatter: float = CUT_SCATTER,
    prior: tuple[float, float, float] = (1.0, 1.0, 1.0),
) -> Cut:
    """Compute the probability of A, B and C cut from balsa's across/along modulus ratio.

    Parameters
    ----------
    ratio
        E_across / E_along [-].
    log_error
        Standard error of its logarithm [-].
    scatter
        Standard deviation of the logarithm of the ratio between sheets of one cut [-].
    prior
        Weights of A, B, C before the test.

    Returns
    -------
    Cut
        A: across-direction within 22.5 degrees of tangential, C: within 22.5 degrees of radial,
        B: between (common practice; the trade has no fixed limits).

    Raises
    ------
    InputError
        If the ratio is not above zero.
    ValidityError
        If the ratio is far outside balsa's.

    Notes
    -----
    Equation: p(cut | r) ~ p(cut) mean over its ring angles of
    N(ln r; ln r(angle), log_error^2 + scatter^2).
    """
    if not ratio > 0.0:
        raise InputError("ratio", ratio, "a value above zero")
    angles = (np.arange(180) + 0.5) * np.pi / 360.0
    sd = math.hypot(log_error, scatter)
    likelihood = np.exp(
        -0.5 * ((math.log(ratio) - np.log(ring_angle_ratio(angle=angles))) / sd) ** 2
    )
    quarter = len(angles) // 4
    weights = np.array(
        [
            likelihood[-quarter:].mean(),
            likelihood[quarter:-quarter].mean(),
            likelihood[:quarter].mean(),
        ]
    ) * np.asarray(prior, dtype=float)
    if not weights.sum() > 0.0:
        raise ValidityError("an across/along ratio far outside balsa's; check both tests")
    a, b, c = (float(p) for p in weights / weights.sum())
    likely, best = max(zip("ABC", (a, b, c), strict=True), key=lambda pair: pair[1])
    note = f"Across/along ratio {ratio:.3f}: A {a:.0%}, B {b:.0%}, C {c:.0%}."
    if likely != "C":
        note += " A and most B sheets are equally soft across; tell them apart by eye."
    return Cut(a, b, c, likely, best >= CLEAR_PROBABILITY, note)
