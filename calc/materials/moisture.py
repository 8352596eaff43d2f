"""What damp air does to wood: moisture content, strength, weight and size.

Moisture is a fraction of the oven-dry mass (0.12 = 12 %), temperature in kelvin, humidity a
fraction from 0 to 1.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.errors import InputError

Array = NDArray[np.float64]

FIBRE_SATURATION = 0.30
REFERENCE_MOISTURE = 0.12
ICE_POINT = 273.15


def equilibrium_moisture(*, temperature: ArrayLike, humidity: ArrayLike) -> Array:
    """Return the moisture content that wood settles at in air of a temperature and humidity.

    Parameters
    ----------
    temperature
        (...) [K], about 245 to 400.
    humidity
        (...) [-], 0 to below 1.

    Returns
    -------
    array
        (...) fraction of the dry mass [-].

    Raises
    ------
    InputError
        Naming a temperature or humidity outside the ranges.

    Notes
    -----
    M = (1800/W) [K h/(1 - K h) + (K1 K h + 2 K1 K2 K² h²)/(1 + K1 K h + K1 K2 K² h²)] / 100 with
    W, K, K1, K2 quadratics of the temperature in °C. Valid for solid softwood and hardwood at rest,
    halfway between wetting and drying; plywood, fibre board and paper settle lower.

    References
    ----------
    Wood Handbook, FPL-GTR-282 (2021), eq. 4-5.

    Examples
    --------
    >>> float(equilibrium_moisture(temperature=294.26, humidity=0.65).round(3))
    0.12
    """
    t = np.asarray(temperature, float) - ICE_POINT
    h = np.asarray(humidity, float)
    if np.any(h < 0.0) or np.any(h >= 1.0):
        raise InputError("humidity", humidity, "a relative humidity from 0 to below 100 %")
    if np.any(t < -50.0) or np.any(t > 130.0):
        raise InputError("temperature", temperature, "a temperature from -50 to 130 °C")
    w = 349.0 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    kh = k * h
    bound = k1 * kh + k1 * k2 * kh**2
    percent = 1800.0 / w * (kh / (1.0 - kh) + (k1 * kh + 2.0 * k1 * k2 * kh**2) / (1.0 + bound))
    return np.asarray(percent / 100.0)


def paper_moisture(*, humidity: ArrayLike) -> Array:
    """Return the moisture content that paper and card settle at near room temperature [-].

    Parameters
    ----------
    humidity
        (...) [-], 0 to below 1.

    Notes
    -----
    Straight lines through 0 at 0, 0.045 at 30 %, 0.07 at 50 %, 0.10 at 70 %, 0.15 at 90 %. Real
    papers differ by about a quarter either way.

    References
    ----------
    Typical sorption curve of chemical pulp papers, from memory, unverified.
    """
    h = np.asarray(humidity, float)
    if np.any(h < 0.0) or np.any(h >= 1.0):
        raise InputError("humidity", humidity, "a relative humidity from 0 to below 100 %")
    known = ([0.0, 0.3, 0.5, 0.7, 0.9, 1.0], [0.0, 0.045, 0.07, 0.10, 0.15, 0.20])
    return np.asarray(np.interp(h, *known))


def property_at(
    *,
    at_twelve: ArrayLike,
    green: ArrayLike,
    moisture: ArrayLike,
    intersection: float = 0.25,
) -> Array:
    """Return strength or stiffness of clear wood at another moisture content.

    Parameters
    ----------
    at_twelve, green
        The property at 12 % and green [any one unit].
    moisture
        (...) [-]; above the intersection the green value holds.
    intersection
        Mp [-]: 0.25 when nothing else is known; 0.27 Sitka spruce and yellow birch.

    Returns
    -------
    array
        (...) in the same unit.

    Notes
    -----
    P = P12 (P12/Pg)^((12 - M)/(Mp - 12)), M in per cent. Valid near 21 °C, not for work, impact
    bending or tension across the grain. Some properties peak between 4 and 12 %, so nothing is
    gained below 4 % here.

    References
    ----------
    Wood Handbook, FPL-GTR-282 (2021), eq. 5-3 and table 5-13.

    Examples
    --------
    >>> float(property_at(at_twelve=103e6, green=66e6, moisture=0.08, intersection=0.24) // 1e5)
    1194.0
    """
    dry = np.asarray(at_twelve, float)
    wet = np.asarray(green, float)
    level = np.clip(np.asarray(moisture, float), 0.04, intersection)
    power = (REFERENCE_MOISTURE - level) / (intersection - REFERENCE_MOISTURE)
    return np.asarray(dry * (dry / wet) ** power)


def factor_per_point(*, per_point: float, moisture: ArrayLike, intersection: float = 0.25) -> Array:
    """Return the share of a property left that changes by a given share per 1 % of moisture [-].

    Parameters
    ----------
    per_point
        Loss p per 1 % of moisture gained [-], for example 0.04.
    moisture
        (...) [-].
    intersection
        Moisture above which nothing more is lost [-].

    Notes
    -----
    f = (1 - p)^(100 (M - 0.12)): the loss is applied once for each 1 % of moisture.

    References
    ----------
    ANC Bulletin 18 (1944), table 2-2.

    Examples
    --------
    >>> float(factor_per_point(per_point=0.05, moisture=0.14).round(4))
    0.9025
    """
    level = np.clip(np.asarray(moisture, float), 0.04, intersection)
    return np.asarray((1.0 - per_point) ** (100.0 * (level - REFERENCE_MOISTURE)))


def swelling_coefficient(*, total: float) -> float:
    """Return the free strain per unit of moisture fraction, on the size at 12 % [-].

    Parameters
    ----------
    total
        Shrinkage from green to oven-dry S0 [-].

    Notes
    -----
    b = (S0/0.30)/(1 - S0 (1 - 0.12/0.30)).

    References
    ----------
    Wood Handbook, FPL-GTR-282 (2021), eq. 4-9, differentiated; the form of the coefficients of its
    table 13-5.

    Examples
    --------
    >>> round(swelling_coefficient(total=0.095) / 100, 5)  # yellow birch, tangential
    0.00336
    """
    return total / FIBRE_SATURATION / (1.0 - total * (1.0 - REFERENCE_MOISTURE / FIBRE_SATURATION))


def mass_factor(*, moisture: ArrayLike, reference: float = REFERENCE_MOISTURE) -> Array:
    """Return the mass of a piece at a moisture content over that at the reference one [-]."""
    return np.asarray((1.0 + np.asarray(moisture, float)) / (1.0 + reference))
