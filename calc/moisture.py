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
    """Moisture content that wood settles at in air of given temperature and humidity.

    M = (1800/W) [K h/(1 - K h) + (K1 K h + 2 K1 K2 K² h²)/(1 + K1 K h + K1 K2 K² h²)] / 100,
    W, K, K1, K2 quadratics of the temperature in °C.

    Parameters
    ----------
    temperature
        (...) [K], about 245 to 400.
    humidity
        (...) [1], 0 to below 1.

    Returns
    -------
    (...) [1], fraction of the dry mass

    Valid for solid softwood and hardwood at rest, halfway between wetting and drying;
    plywood, fibre board and paper settle lower. Source: Wood Handbook 2021, eq. 4-5.

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
    """Moisture content that paper and card settle at near room temperature.

    Straight pieces through 0 at 0, 0.045 at 30 %, 0.07 at 50 %, 0.10 at 70 %, 0.15 at 90 %.

    Source: typical sorption curve of chemical pulp papers, from memory, unverified; real
    papers spread by about a quarter either way.
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
    """Strength or stiffness of clear wood at another moisture content.

    P = P12 (P12/Pg)^((12 - M)/(Mp - 12)), M in per cent.

    Parameters
    ----------
    at_twelve, green
        The property at 12 % and green [any one unit].
    moisture
        (...) [1]; above the intersection the green value stands.
    intersection
        Mp [1]: 0.25 when nothing else is known; 0.27 Sitka spruce and yellow birch.

    Returns
    -------
    (...), same unit

    Valid near 21 °C, not for work, impact bending or tension across the grain. Some
    properties peak between 4 and 12 %, so nothing is gained below 4 % here.
    Source: Wood Handbook 2021, eq. 5-3 and table 5-13.

    >>> float(property_at(at_twelve=103e6, green=66e6, moisture=0.08, intersection=0.24) // 1e5)
    1194.0
    """
    dry = np.asarray(at_twelve, float)
    wet = np.asarray(green, float)
    level = np.clip(np.asarray(moisture, float), 0.04, intersection)
    power = (REFERENCE_MOISTURE - level) / (intersection - REFERENCE_MOISTURE)
    return np.asarray(dry * (dry / wet) ** power)


def factor_per_point(*, per_point: float, moisture: ArrayLike, intersection: float = 0.25) -> Array:
    """Share of a property left when it changes by a given share for each 1 % of moisture.

    f = (1 - p)^(100 (M - 0.12)), applied point by point.

    Parameters
    ----------
    per_point
        p [1], loss per 1 % of moisture gained, for example 0.04.
    moisture
        (...) [1].
    intersection
        [1], above it nothing more is lost.

    Returns
    -------
    (...) [1]

    Source: ANC Bulletin 18 (1944), table 2-2 and its rule of successive application.
    """
    level = np.clip(np.asarray(moisture, float), 0.04, intersection)
    return np.asarray((1.0 - per_point) ** (100.0 * (level - REFERENCE_MOISTURE)))


# Wood Handbook 2021, table 5-15: change from 20 °C at -50 °C and at +50 °C.
TEMPERATURE_CHANGE = {
    "modulus": (0.17, -0.07),
    "bending": (0.35, -0.20),
    "compression": (0.50, -0.25),
}


def temperature_factor(*, group: str, temperature: ArrayLike) -> Array:
    """Share of a wood property at another temperature, relative to 20 °C.

    Straight lines from 20 °C to the tabulated changes at -50 and +50 °C.

    Parameters
    ----------
    group
        ``modulus``, ``bending`` or ``compression``, along the grain at about 12 % moisture.
    temperature
        (...) [K], 223 to 323; held at the ends beyond.

    Source: Wood Handbook 2021, table 5-15 (signs restored from the text).

    >>> float(temperature_factor(group="modulus", temperature=323.15).round(3))
    0.93
    """
    if group not in TEMPERATURE_CHANGE:
        raise InputError("group", group, "one of " + ", ".join(TEMPERATURE_CHANGE))
    cold, hot = TEMPERATURE_CHANGE[group]
    celsius = np.asarray(temperature, float) - ICE_POINT
    return np.asarray(1.0 + np.interp(celsius, (-50.0, 20.0, 50.0), (cold, 0.0, hot)))


def shrinkage(*, total: ArrayLike, moisture: ArrayLike) -> Array:
    """Shrinkage from green size at a moisture content below fibre saturation.

    S = S0 (1 - M/0.30).

    Parameters
    ----------
    total
        S0 [1], green to oven-dry, radial, tangential or volumetric.
    moisture
        (...) [1].

    Source: Wood Handbook 2021, eq. 4-9.
    """
    level = np.clip(np.asarray(moisture, float), 0.0, FIBRE_SATURATION)
    return np.asarray(np.asarray(total, float) * (1.0 - level / FIBRE_SATURATION))


def swelling_coefficient(*, total: float) -> float:
    """Free strain per unit of moisture fraction from the total shrinkage, on the size at 12 %.

    b = (S0/0.30)/(1 - S0 (1 - 0.12/0.30)).

    Source: Wood Handbook 2021, eq. 4-9, differentiated; the form of its table 13-5
    coefficients.

    >>> round(swelling_coefficient(total=0.095) / 100, 5)  # yellow birch, tangential
    0.00336
    """
    return total / FIBRE_SATURATION / (1.0 - total * (1.0 - REFERENCE_MOISTURE / FIBRE_SATURATION))


def specific_gravity_at(*, basic: ArrayLike, moisture: ArrayLike) -> Array:
    """Specific gravity (dry mass over volume at that moisture) from the basic one.

    G = Gb/(1 - 0.265 Gb (1 - M/0.30)).

    Source: Wood Handbook 2021, eq. 4-13.
    """
    level = np.clip(np.asarray(moisture, float), 0.0, FIBRE_SATURATION)
    gb = np.asarray(basic, float)
    return np.asarray(gb / (1.0 - 0.265 * gb * (1.0 - level / FIBRE_SATURATION)))


def density_at(*, basic: ArrayLike, moisture: ArrayLike) -> Array:
    """Density of wood at a moisture content [kg/m³].

    rho = 1000 G (1 + M).

    Parameters
    ----------
    basic
        Gb [1]: dry mass over green volume, relative to water.
    moisture
        (...) [1].

    Source: Wood Handbook 2021, eq. 4-13 and 4-14.

    >>> float(density_at(basic=0.16, moisture=0.12).round())
    184.0
    """
    moist = np.asarray(moisture, float)
    return np.asarray(1000.0 * specific_gravity_at(basic=basic, moisture=moist) * (1.0 + moist))


def mass_factor(*, moisture: ArrayLike, reference: float = REFERENCE_MOISTURE) -> Array:
    """Mass of a piece at a moisture content relative to its mass at the reference one [1]."""
    return np.asarray((1.0 + np.asarray(moisture, float)) / (1.0 + reference))
