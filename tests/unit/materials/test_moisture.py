"""Moisture functions: limits, monotony, refusals."""

from __future__ import annotations

import numpy as np
import pytest

from calc.errors import InputError
from calc.materials import moisture as damp


def test_damper_air_means_damper_wood():
    """Moisture rises with humidity and falls with warmth."""
    humidity = np.linspace(0, 0.98, 50)
    wet = damp.equilibrium_moisture(temperature=293.15, humidity=humidity)
    assert wet[0] == 0
    assert (np.diff(wet) > 0).all()
    warm = damp.equilibrium_moisture(temperature=313.15, humidity=humidity[1:])
    assert (warm < wet[1:]).all()


def test_paper_takes_less_water_than_wood():
    """Paper settles below solid wood at every humidity up to 90 %."""
    humidity = np.linspace(0.2, 0.9, 8)
    wood = damp.equilibrium_moisture(temperature=296.15, humidity=humidity)
    assert (damp.paper_moisture(humidity=humidity) < wood).all()


@pytest.mark.parametrize("humidity", [-0.1, 1.0, 65.0])
def test_humidity_outside_its_range_is_refused(humidity):
    """A percentage typed as a fraction is caught."""
    with pytest.raises(InputError, match="humidity"):
        damp.equilibrium_moisture(temperature=293.15, humidity=humidity)
    with pytest.raises(InputError, match="humidity"):
        damp.paper_moisture(humidity=humidity)


def test_celsius_typed_for_kelvin_is_refused():
    """20 K is no weather."""
    with pytest.raises(InputError, match="temperature"):
        damp.equilibrium_moisture(temperature=20.0, humidity=0.5)


def test_property_meets_both_ends():
    """At 12 % the dry value, above the intersection the green one."""
    found = damp.property_at(at_twelve=60.0, green=34.0, moisture=[0.12, 0.25, 0.40])
    np.testing.assert_allclose(found, [60.0, 34.0, 34.0])


def test_loss_by_the_point():
    """Two points of moisture lose the share twice over."""
    assert damp.factor_per_point(per_point=0.05, moisture=0.14) == pytest.approx(0.95**2)


def test_mass_follows_moisture():
    """Five points more than 12 % weigh 1.17/1.12."""
    assert damp.mass_factor(moisture=0.17) == pytest.approx(1.17 / 1.12)
