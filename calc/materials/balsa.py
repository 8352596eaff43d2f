"""What published sources say of balsa's stiffness and strength at a density, side by side."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

HANDBOOK_DENSITY = 184.0
SOLID_DENSITY = 1557.0
# The straight-line fit was drawn against pounds per cubic foot.
POUND_PER_CUBIC_FOOT = 16.01846
LIGHTEST_TESTED = 96.0


class Claim(NamedTuple):
    """What one source claims: a value per density [Pa], its source, and where it ends."""

    label: str
    values: Array
    source: str
    note: str


def modulus_claims(density: ArrayLike) -> tuple[Claim, ...]:
    """Return Young's modulus along the grain by each source [Pa].

    Parameters
    ----------
    density
        At 12 % moisture (...) [kg/m³].

    Returns
    -------
    tuple of Claim
        Values are nan where a source does not reach.

    Examples
    --------
    >>> [round(float(claim.values) / 1e9, 2) for claim in modulus_claims(184.0)]
    [3.74, 3.4, 3.74, 4.85, 2.75]
    """
    rho = np.asarray(density, float)
    share = rho / HANDBOOK_DENSITY
    fit = 0.388e9 * rho / POUND_PER_CUBIC_FOOT - 1.71e9
    return (
        Claim(
            "handbook x 1.10, in proportion (used here)",
            3.4e9 * 1.10 * share,
            "wood-handbook-2021",
            "shear correction made; linear in density after Borrega and Gibson 2015",
        ),
        Claim(
            "handbook as tabulated, in proportion",
            3.4e9 * share,
            "wood-handbook-2021",
            "apparent bending modulus, no shear correction",
        ),
        Claim(
            "handbook x 1.10, power 1.25",
            3.4e9 * 1.10 * share**1.25,
            "anc-18",
            "within-species exponent of table 2-1",
        ),
        Claim(
            "ideal honeycomb",
            41e9 * rho / SOLID_DENSITY,
            "borrega-gibson-2015",
            "upper bound; tests stay below, at most about 6 GPa",
        ),
        Claim(
            "straight line through n = 6 sticks",
            np.where(rho >= LIGHTEST_TESTED, fit, np.nan),
            "balsa-sticks-2022",
            "six sticks 1/16 in square, bent as cantilevers; not below 96 kg/m3",
        ),
    )


def strength_claims(density: ArrayLike) -> tuple[Claim, ...]:
    """Return the bending strength along the grain by each source [Pa], as `modulus_claims`."""
    rho = np.asarray(density, float)
    share = rho / HANDBOOK_DENSITY
    fit = 2.77e6 * rho / POUND_PER_CUBIC_FOOT - 4.28e6
    return (
        Claim(
            "handbook, in proportion (used here)",
            21.6e6 * share,
            "wood-handbook-2021",
            "linear in density after Borrega and Gibson 2015",
        ),
        Claim(
            "handbook, power 1.5",
            21.6e6 * share**1.5,
            "anc-18",
            "within-species exponent of table 2-1",
        ),
        Claim(
            "ideal honeycomb",
            185e6 * rho / SOLID_DENSITY,
            "borrega-gibson-2015",
            "as quoted in a later text",
        ),
        Claim(
            "straight line through n = 6 sticks",
            np.where(rho >= LIGHTEST_TESTED, fit, np.nan),
            "balsa-sticks-2022",
            "six sticks 1/16 in square; not below 96 kg/m3",
        ),
    )


def band(claims: tuple[Claim, ...]) -> tuple[Array, Array]:
    """Return the lowest and the highest of the claims at each density."""
    stacked = np.stack([claim.values for claim in claims])
    return np.nanmin(stacked, axis=0), np.nanmax(stacked, axis=0)
