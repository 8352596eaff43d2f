"""Standard air from the ground to 47 km, and hot or cold days.

Source: U.S. Standard Atmosphere, 1976, NOAA-S/T 76-1562 (also NASA-TM-X-74335).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.errors import InputError
from calc.units import STANDARD_GRAVITY

GAS_CONSTANT = 8.31432e3 / 28.9644
"""Specific gas constant of dry air [J/(kg K)]: the 1976 standard's own R* and molar mass."""
HEAT_RATIO = 1.4
EARTH_RADIUS = 6.356766e6
SUTHERLAND_FACTOR = 1.458e-6
SUTHERLAND_TEMPERATURE = 110.4
SEA_LEVEL_PRESSURE = 101325.0
SEA_LEVEL_TEMPERATURE = 288.15
LOWEST, HIGHEST = -5000.0, 47000.0

_BASE = np.array([0.0, 11000.0, 20000.0, 32000.0, 47000.0])
_LAPSE = np.array([-6.5e-3, 0.0, 1.0e-3, 2.8e-3])


def _exponent_or_decay(
    temperature: ArrayLike, base: ArrayLike, lapse: ArrayLike, rise: ArrayLike
) -> NDArray[np.float64]:
    """Return the pressure ratio across part of one layer from hydrostatic balance."""
    lapse = np.asarray(lapse, dtype=float)
    base = np.asarray(base, dtype=float)
    safe = np.where(lapse == 0.0, 1.0, lapse)
    power = (base / np.asarray(temperature)) ** (STANDARD_GRAVITY / (GAS_CONSTANT * safe))
    decay = np.exp(-STANDARD_GRAVITY * np.asarray(rise) / (GAS_CONSTANT * base))
    return np.where(lapse == 0.0, decay, power)


_BASE_TEMPERATURE = SEA_LEVEL_TEMPERATURE + np.concatenate(
    [[0.0], np.cumsum(_LAPSE * np.diff(_BASE))]
)
_BASE_PRESSURE = SEA_LEVEL_PRESSURE * np.concatenate(
    [
        [1.0],
        np.cumprod(
            _exponent_or_decay(
                _BASE_TEMPERATURE[1:], _BASE_TEMPERATURE[:-1], _LAPSE, np.diff(_BASE)
            )
        ),
    ]
)


@dataclass(frozen=True)
class Air:
    """State of the air: each field is a float or an array of the altitude's shape.

    Fields: temperature [K], pressure [Pa], density [kg/m3], sound_speed [m/s], viscosity [Pa s].
    """

    temperature: float | NDArray[np.float64]
    pressure: float | NDArray[np.float64]
    density: float | NDArray[np.float64]
    sound_speed: float | NDArray[np.float64]
    viscosity: float | NDArray[np.float64]


def at(altitude: ArrayLike, *, temperature_offset: float = 0.0, geopotential: bool = False) -> Air:
    """Return the 1976 standard air at an altitude above mean sea level.

    Hydrostatic balance in layers of constant lapse rate L:
    ``p = p_b (T_b / T)^(g / (R L))``, or ``p_b exp(-g (H - H_b) / (R T_b))`` where L = 0;
    ``rho = p/(R T)``, ``a = sqrt(1.4 R T)``, ``mu = 1.458e-6 T^1.5 / (T + 110.4)``.
    Geometric altitude Z becomes geopotential ``H = r Z/(r + Z)`` with r = 6 356.766 km.

    Parameters
    ----------
    altitude
        Altitude above mean sea level [m]; scalar or array.
    temperature_offset
        Warmth above the standard day [K]. The pressure stays that of the standard day, so
        `altitude` is then pressure altitude; temperature changes density, sound and viscosity.
    geopotential
        True if `altitude` is already geopotential, as in the standard's own layer limits.

    Returns
    -------
    Air
        Scalars for a scalar altitude, otherwise arrays.

    Valid from -5 km to 47 km (geopotential), dry air. Outside: InputError.
    Source: U.S. Standard Atmosphere, 1976, NOAA-S/T 76-1562.

    >>> round(at(0.0).density, 4)
    1.225
    """
    geometric = np.asarray(altitude, dtype=float)
    if not np.all(np.isfinite(geometric)):
        raise InputError("altitude", altitude, "a number of metres")
    height = geometric if geopotential else EARTH_RADIUS * geometric / (EARTH_RADIUS + geometric)
    if np.any(height < LOWEST) or np.any(height > HIGHEST):
        raise InputError("altitude", altitude, "an altitude from -5 km to 47 km")
    layer = np.clip(np.searchsorted(_BASE, height, side="right") - 1, 0, _LAPSE.size - 1)
    rise = height - _BASE[layer]
    standard = _BASE_TEMPERATURE[layer] + _LAPSE[layer] * rise
    pressure = _BASE_PRESSURE[layer] * _exponent_or_decay(
        standard, _BASE_TEMPERATURE[layer], _LAPSE[layer], rise
    )
    return _state(standard + temperature_offset, pressure)


def _state(temperature: NDArray[np.float64], pressure: NDArray[np.float64]) -> Air:
    """Complete the state of dry air from temperature [K] and pressure [Pa]."""
    if np.any(temperature < 100.0) or np.any(temperature > 400.0):
        raise InputError("temperature", temperature, "an air temperature from 100 K to 400 K")
    fields = (
        temperature,
        pressure,
        pressure / (GAS_CONSTANT * temperature),
        np.sqrt(HEAT_RATIO * GAS_CONSTANT * temperature),
        SUTHERLAND_FACTOR * temperature**1.5 / (temperature + SUTHERLAND_TEMPERATURE),
    )
    if np.ndim(pressure) == 0:
        return Air(*(float(field) for field in fields))
    return Air(*fields)


@dataclass(frozen=True)
class Site:
    """A launch site on a given day: elevation [m] and warmth above the standard day [K]."""

    elevation: float
    temperature_offset: float

    def at(self, height: ArrayLike) -> Air:
        """Return the air at a height above the ground [m], the day's offset kept all the way up."""
        return at(
            self.elevation + np.asarray(height, dtype=float),
            temperature_offset=self.temperature_offset,
        )


def site(elevation: float, temperature: float) -> Site:
    """Describe a hot or cold day at a launch site by its ground temperature.

    ``offset = T_ground - T_standard(elevation)``. The pressure stays the standard pressure at
    the site's elevation (the weather's few per cent of pressure are not modelled), and the
    offset is carried unchanged to all heights.

    Parameters
    ----------
    elevation
        Height of the ground above mean sea level [m].
    temperature
        Air temperature at the ground [K].

    Returns
    -------
    Site
        ``site(...).at(height)`` gives the air at a height above the ground.

    Source: common practice (standard day plus a constant temperature offset).

    >>> round(site(0.0, 308.15).at(0.0).density, 4)
    1.1455
    """
    standard = at(elevation).temperature
    return Site(elevation=float(elevation), temperature_offset=float(temperature - standard))
