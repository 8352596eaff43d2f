"""Behaviour of the ascent, its motor and its drag that must hold for any rocket."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc.air import atmosphere
from calc.errors import InputError, ValidityError
from calc.flight.ascent import DragByMach, Launch, ascent, closed_form
from calc.flight.motor import class_limits, motor_class, motor_mass_range, propellant_mass_range

ROCKET = Launch(
    mass=0.5, propellant_mass=0.06, diameter=0.041, drag=0.5, thrust=60.0, burn_time=2.0
)


def test_constant_thrust_is_a_flat_curve():
    """A flat thrust curve flies like the same average thrust."""
    curve = dataclasses.replace(
        ROCKET, thrust=None, burn_time=None, thrust_curve=((0.0, 60.0), (0.7, 60.0), (2.0, 60.0))
    )
    assert ascent(curve).peak.height == pytest.approx(ascent(ROCKET).peak.height, rel=1e-5)
    assert curve.total_impulse == pytest.approx(ROCKET.total_impulse)


def test_main_moments_lie_on_the_curve():
    """Main moments lie on the arrays and the arrays on the dense output."""
    up = ascent(ROCKET)
    assert up.max_speed.speed >= up.speed.max() - 1e-9
    assert up.max_q.dynamic_pressure >= up.dynamic_pressure.max() - 1e-6
    assert up.peak.height == up.height.max()
    assert up.peak.speed == pytest.approx(0.0, abs=1e-6)
    middle = up.at(float(up.times[10]))
    assert middle.speed == pytest.approx(up.speed[10])
    assert up.mass[0] == pytest.approx(0.5)
    assert up.burnout.mass == pytest.approx(0.44)
    np.testing.assert_allclose(up.mach, up.speed / up.sound_speed)
    np.testing.assert_allclose(up.dynamic_pressure, 0.5 * up.density * up.speed**2)


def test_momentum():
    """Mass times acceleration equals thrust less drag less weight along the whole flight."""
    up = ascent(ROCKET)
    slope = np.gradient(up.speed, up.times)
    # The kink at burnout cannot be differentiated across.
    inner = np.abs(up.times - up.burnout.time) > 0.2
    inner[[0, -1]] = False
    np.testing.assert_allclose(slope[inner], up.acceleration[inner], atol=0.6)


def test_thin_air_goes_higher():
    """A high hot site gives more height and a faster rocket than sea level on a standard day."""
    day = atmosphere.site(1800.0, 305.0)
    high = dataclasses.replace(ROCKET, site=1800.0, temperature_offset=day.temperature_offset)
    assert ascent(high).peak.height > ascent(ROCKET).peak.height
    assert ascent(high).max_speed.speed > ascent(ROCKET).max_speed.speed
    assert ascent(high).altitude[0] == 1800.0


def test_waits_on_the_pad():
    """A thrust that builds up slowly leaves the rocket on its pad until it exceeds weight."""
    slow = dataclasses.replace(
        ROCKET, thrust=None, burn_time=None, thrust_curve=((0.0, 0.0), (1.0, 40.0), (2.0, 40.0))
    )
    up = ascent(slow)
    # F = 40 t against (0.5 - burnt) g = 4.9 N: close to 0.12 s.
    assert up.liftoff_time == pytest.approx(0.1225, abs=0.001)
    assert up.at(0.1).height == 0.0
    assert np.all(np.diff(up.height) >= 0.0)


def test_too_weak():
    """A motor that cannot lift the rocket is named, with what it would take."""
    with pytest.raises(InputError, match="thrust"):
        ascent(dataclasses.replace(ROCKET, thrust=4.0))
    with pytest.raises(InputError, match="thrust"):
        closed_form(
            mass=1.0,
            propellant_mass=0.1,
            thrust=5.0,
            burn_time=1.0,
            drag_coefficient=0.5,
            diameter=0.04,
        )


def test_too_high():
    """A flight beyond the model's air is refused, not answered."""
    with pytest.raises(ValidityError):
        ascent(
            Launch(
                mass=20.0,
                propellant_mass=15.0,
                diameter=0.1,
                drag=0.2,
                thrust=4000.0,
                burn_time=9.0,
            )
        )


@pytest.mark.parametrize(
    "change",
    [
        {"mass": 0.0},
        {"propellant_mass": 0.5},
        {"diameter": -1.0},
        {"thrust": None},
        {"burn_time": 0.0},
        {"drag": -0.1},
        {"thrust_curve": ((0.0, 1.0),)},
        {"thrust_curve": ((0.0, 1.0), (0.0, 2.0))},
        {"thrust_curve": ((0.0, 0.0), (1.0, 0.0))},
    ],
)
def test_bad_launch(change):
    """Every impossible input is refused by name."""
    with pytest.raises(InputError):
        dataclasses.replace(ROCKET, **change)


@settings(max_examples=25, deadline=None)
@given(
    mass=st.floats(0.05, 3.0),
    ratio=st.floats(2.0, 30.0),
    burn=st.floats(0.2, 4.0),
    drag=st.floats(0.2, 1.0),
)
def test_more_drag_is_never_faster(mass, ratio, burn, drag):
    """Top speed falls with drag and stays below the speed without drag."""
    base = Launch(
        mass=mass,
        propellant_mass=0.1 * mass,
        diameter=0.05,
        drag=drag,
        thrust=ratio * mass * 9.80665,
        burn_time=burn,
    )
    more = dataclasses.replace(base, drag=1.2 * drag)
    free = ratio * 9.80665 * burn / 0.9
    assert ascent(more).max_speed.speed <= ascent(base).max_speed.speed <= free


def test_drag_rises_through_sound():
    """The drag coefficient is continuous, peaks near Mach 1.1 and falls beyond."""
    drag = DragByMach(low_speed=0.45, nose_fineness=4.0)
    mach = np.linspace(0.0, 4.0, 4001)
    values = np.array([drag(m) for m in mach])
    assert np.abs(np.diff(values)).max() < 0.002
    assert 1.0 <= mach[values.argmax()] <= 1.25
    assert values[-1] < values.max()


def test_motor_inputs():
    """Motor questions outside the classes are refused with the choices."""
    with pytest.raises(InputError, match="1/8A"):
        class_limits("Z")
    with pytest.raises(InputError):
        motor_class(0.0)
    with pytest.raises(InputError):
        motor_class(50_000.0)
    with pytest.raises(InputError, match="composite"):
        propellant_mass_range(total_impulse=10.0, propellant="water")


def test_motor_mass_band():
    """Loaded motors weigh more than their propellant, and the band has its ends in order."""
    for kind in ("black powder", "composite"):
        propellant = propellant_mass_range(total_impulse=20.0, propellant=kind)
        motor = motor_mass_range(total_impulse=20.0, propellant=kind)
        assert propellant[0] < propellant[1]
        assert motor[0] < motor[1]
        assert motor[0] > propellant[0]
