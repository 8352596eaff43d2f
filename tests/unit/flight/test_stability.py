"""Balance, static margin and height against fin weight."""

import dataclasses

import numpy as np
import pytest

from calc.errors import InputError, ValidityError
from calc.flight.ascent import Launch
from calc.flight.stability import (
    balance,
    fin_normal_force,
    height_effect,
    nose_ballast,
    nose_normal_force,
)
from calc.geometry.planform import Planform

FIN = Planform(root=0.09, tip=0.05, span=0.06, sweep=0.04)
ROCKET = {
    "nose_length": 0.1,
    "nose_shape": "ogive",
    "body_length": 0.4,
    "diameter": 0.05,
    "bare_mass": 0.15,
    "bare_centre_of_gravity": 0.3,
    "fin_mass": 0.004,
    "count": 3,
    "planform": FIN,
}
LAUNCH = Launch(
    mass=0.162, propellant_mass=0.012, diameter=0.05, drag=0.6, thrust=12.0, burn_time=1.6
)


def test_balance_by_hand():
    """Three 4 g fins behind 150 g, by hand.

    Fin centroid x = [0.04 * 0.19 + 0.0081 + 0.0045 + 0.0025] / 0.42 = 0.054048;
    at 0.5 - 0.09 + 0.054048 = 0.464048 m; cg = (0.15 * 0.3 + 0.012 * 0.464048)/0.162 = 0.312152.
    cp = (2 * 0.0466 + 9.5252 * 0.446071)/11.5252 = 0.376750; margin = 0.064598/0.05 = 1.2920.
    """
    b = balance(**ROCKET)
    assert b.centre_of_gravity == pytest.approx(0.312152, abs=1e-6)
    assert b.shift == pytest.approx(0.012152, abs=1e-6)
    assert b.centre_of_pressure == pytest.approx(0.376750, abs=2e-6)
    assert b.margin == pytest.approx(1.2920, abs=1e-4)


def test_heavier_fins_move_balance_aft():
    """Heavier fins cost static margin, and nose ballast buys it back exactly."""
    light = balance(**ROCKET)
    heavy = balance(**{**ROCKET, "fin_mass": 0.008})
    assert heavy.margin < light.margin
    ballast = nose_ballast(rocket=heavy, position=0.05, margin=light.margin, diameter=0.05)
    again = balance(**{**ROCKET, "fin_mass": 0.008, "extra_mass": ballast, "extra_position": 0.05})
    assert again.margin == pytest.approx(light.margin)
    assert nose_ballast(rocket=light, position=0.05, margin=1.0, diameter=0.05) == 0.0
    with pytest.raises(InputError):
        nose_ballast(rocket=heavy, position=0.49, margin=3.0, diameter=0.05)


def test_centroid_polygon():
    """The centroid equals the shoelace centroid of the outline."""
    x = np.array([0.0, 0.09, 0.09, 0.04])
    y = np.array([0.0, 0.0, 0.06, 0.06])
    cross = x * np.roll(y, -1) - np.roll(x, -1) * y
    area = cross.sum() / 2
    want = [float(((v + np.roll(v, -1)) * cross).sum() / (6 * area)) for v in (x, y)]
    assert FIN.centroid == pytest.approx(want)


def test_compressibility_and_limits():
    """Lift grows toward the speed of sound; outside its range the method refuses."""
    slow = fin_normal_force(count=4, planform=FIN, diameter=0.05)
    fast = fin_normal_force(count=4, planform=FIN, diameter=0.05, mach=0.7)
    assert 1.0 < fast.slope / slow.slope < 1.2
    with pytest.raises(ValidityError):
        fin_normal_force(count=4, planform=FIN, diameter=0.05, mach=1.1)
    with pytest.raises(InputError):
        fin_normal_force(count=5, planform=FIN, diameter=0.05)
    with pytest.raises(InputError):
        nose_normal_force(length=0.1, shape="brick")
    with pytest.raises(InputError):
        balance(**{**ROCKET, "bare_centre_of_gravity": 0.7})


def test_height_lost_per_gram():
    """The local slope predicts the height lost by a gram, flown again."""
    effect = height_effect(launch=LAUNCH, added_mass=[0.0, 0.001, 0.01])
    lost = effect.peak[0] - effect.peak[1]
    assert effect.lost_per_mass * 0.001 == pytest.approx(lost, rel=0.1)
    assert np.all(np.diff(effect.speed) < 0.0)
    assert effect.peak.shape == (3,)


def test_height_per_gram_changes_sign_at_the_best_mass():
    """A light rocket with much drag gains height with mass; a heavy one loses it."""
    light = dataclasses.replace(LAUNCH, drag=1.0, thrust=60.0, burn_time=0.3)
    heavy = dataclasses.replace(light, mass=1.0)
    light = dataclasses.replace(light, mass=0.03)
    assert (
        height_effect(launch=light).lost_per_mass < 0.0 < height_effect(launch=heavy).lost_per_mass
    )
