"""Behaviour of the standard air and of hot and cold days."""

import numpy as np
import pytest

from calc.air import atmosphere
from calc.errors import InputError
from calc.units import STANDARD_GRAVITY


def test_arrays_match_scalars() -> None:
    """An array of altitudes gives the same air as one altitude at a time."""
    heights = np.array([[0.0, 500.0], [11500.0, 30000.0]])
    air = atmosphere.at(heights)
    for index in np.ndindex(heights.shape):
        alone = atmosphere.at(heights[index])
        for name in ("temperature", "pressure", "density", "sound_speed", "viscosity"):
            assert getattr(air, name)[index] == pytest.approx(getattr(alone, name), rel=1e-14)


def test_hot_day_keeps_the_pressure() -> None:
    """Heat changes density, sound and viscosity as a perfect gas does, not the pressure."""
    standard, hot = atmosphere.at(1500.0), atmosphere.at(1500.0, temperature_offset=20.0)
    assert hot.pressure == standard.pressure
    assert hot.density * hot.temperature == pytest.approx(standard.density * standard.temperature)
    assert hot.sound_speed > standard.sound_speed
    assert hot.viscosity > standard.viscosity


def test_site_has_its_ground_temperature() -> None:
    """The air at the ground has the stated temperature and the offset holds aloft."""
    day = atmosphere.site(1400.0, 305.0)
    assert day.at(0.0).temperature == pytest.approx(305.0)
    aloft = day.at(np.array([0.0, 1000.0]))
    standard = atmosphere.at(np.array([1400.0, 2400.0]))
    assert aloft.temperature - standard.temperature == pytest.approx(day.temperature_offset)
    assert aloft.pressure == pytest.approx(standard.pressure)


def test_pressure_falls_with_hydrostatic_balance() -> None:
    """Dp/dH = -rho g everywhere, across the layer limits too."""
    height = np.linspace(-4000.0, 46900.0, 300)
    step = 0.5
    upper = atmosphere.at(height + step, geopotential=True).pressure
    lower = atmosphere.at(height - step, geopotential=True).pressure
    density = atmosphere.at(height, geopotential=True).density
    assert np.allclose((upper - lower) / (2 * step), -density * STANDARD_GRAVITY, rtol=1e-6)


@pytest.mark.parametrize("altitude", [-6000.0, 48000.0, float("nan"), [0.0, 9e4]])
def test_outside_the_tables_is_refused(altitude: object) -> None:
    """An altitude outside the standard's layers gives a clear error."""
    with pytest.raises(InputError, match="altitude"):
        atmosphere.at(altitude)


def test_impossible_temperature_is_refused() -> None:
    """A temperature no launch day has gives a clear error."""
    with pytest.raises(InputError, match="temperature"):
        atmosphere.at(0.0, temperature_offset=300.0)
