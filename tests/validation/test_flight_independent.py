"""The ascent against SciPy's integrator, the closed form and the exact flow about a cone."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from calc.air import atmosphere
from calc.flight import ascent as flight
from calc.flight.ascent import DragByMach, Launch, ascent, closed_form, wave_drag

CURVE = ((0.0, 0.0), (0.05, 420.0), (0.4, 390.0), (1.2, 260.0), (1.6, 0.0))
LAUNCHES = [
    Launch(mass=0.150, propellant_mass=0.012, diameter=0.025, drag=0.6, thrust=10.0, burn_time=1.0),
    Launch(
        mass=1.4,
        propellant_mass=0.28,
        diameter=0.054,
        drag=DragByMach(low_speed=0.45, nose_fineness=4.0),
        thrust_curve=CURVE,
        site=1500.0,
        temperature_offset=12.0,
    ),
    Launch(
        mass=2.2,
        propellant_mass=1.0,
        diameter=0.054,
        drag=DragByMach(low_speed=0.4, nose_fineness=5.0),
        thrust=800.0,
        burn_time=2.4,
    ),
]


def scipy_ascent(launch):
    """Fly the same rocket with solve_ivp, the atmosphere called directly at every step."""
    points = np.array(launch.points)
    area = math.pi * launch.diameter**2 / 4

    def thrust(t):
        return np.interp(t, points[:, 0], points[:, 1], right=0.0)

    def rates(t, y):
        air = atmosphere.at(
            launch.site + max(y[0], 0.0), temperature_offset=launch.temperature_offset
        )
        mach = abs(y[1]) / air.sound_speed
        cd = launch.drag(mach) if callable(launch.drag) else launch.drag
        drag = 0.5 * air.density * y[1] * abs(y[1]) * cd * area
        mass = launch.mass - launch.propellant_mass * y[2] / launch.total_impulse
        pull = (thrust(t) - drag) / mass - 9.80665
        if y[0] <= 0.0 and y[1] <= 0.0:
            pull = max(pull, 0.0)
        return [y[1], pull, thrust(t)]

    def top(t, y):
        return y[1] if t > 0.3 else 1.0

    top.terminal, top.direction = True, -1
    burnt = points[-1, 0]
    kwargs = {"rtol": 1e-9, "atol": 1e-9, "max_step": 0.01}
    up = solve_ivp(rates, (0.0, burnt), [0.0, 0.0, 0.0], **kwargs)
    coast = solve_ivp(rates, (burnt + 1e-12, 300.0), up.y[:, -1], events=top, rtol=1e-9, atol=1e-9)
    fastest = max(up.y[1].max(), coast.y[1].max())
    return fastest, up.y[1, -1], up.y[0, -1], coast.y[0, -1], coast.t[-1]


@pytest.mark.parametrize("launch", LAUNCHES, ids=["model", "curve", "supersonic"])
@pytest.mark.parametrize(("step_error", "allowed"), [(1e-6, 1e-4), (1e-8, 1e-5)])
def test_scipy(launch, step_error, allowed, record):
    """Top speed, burnout and peak agree with SciPy to a hundred (thousand) step errors.

    Tolerance: the errors of some fifty steps add up, and the air is tabulated to 1e-5.
    """
    up = ascent(launch, tolerance=step_error)
    fastest, speed, height, peak, time = scipy_ascent(launch)
    record(
        case=f"ascent of a {launch.mass:g} kg rocket, step error {step_error:g}",
        parts=(
            "top speed, m/s",
            "burnout speed, m/s",
            "burnout height, m",
            "peak, m",
            "time to peak, s",
        ),
        published=(fastest, speed, height, peak, time),
        ours=(
            up.max_speed.speed,
            up.burnout.speed,
            up.burnout.height,
            up.peak.height,
            up.peak.time,
        ),
        tolerance=f"{allowed:g}: a hundred (a thousand) step errors, and the air's table",
        source="SciPy, solve_ivp",
        basis="library",
    )
    assert up.max_speed.speed == pytest.approx(fastest, rel=allowed)
    assert up.burnout.speed == pytest.approx(speed, rel=allowed)
    assert up.burnout.height == pytest.approx(height, rel=allowed)
    assert up.peak.height == pytest.approx(peak, rel=allowed)
    assert up.peak.time == pytest.approx(time, rel=allowed)


def test_closed_form_arithmetic(record):
    """The closed form reproduces the worked example line by line.

    k = 1.225 * 0.6 * pi * 0.0125^2 / 2 = 1.80396e-4; m_b = 0.144, F - m_b g = 8.58784;
    x = sqrt(k * 8.58784) / 0.144 = 0.27333; v = sqrt(8.58784 / k) tanh x = 58.196.
    """
    answer = closed_form(
        mass=0.150,
        propellant_mass=0.012,
        thrust=10.0,
        burn_time=1.0,
        drag_coefficient=0.6,
        diameter=0.025,
    )
    record(
        case="closed-form ascent",
        parts=("burnout speed, m/s", "burnout height, m", "coast, m", "peak, m", "time, s"),
        published=(58.196, 29.455, 142.502, 171.957, 6.225),
        ours=(
            answer.burnout_speed,
            answer.burnout_height,
            answer.coast_height,
            answer.peak,
            answer.peak_time,
        ),
        tolerance="half a unit of the last digit kept",
        source="worked by hand",
        basis="exact",
    )
    assert answer.burnout_speed == pytest.approx(58.196, abs=5e-4)
    assert answer.burnout_height == pytest.approx(29.455, abs=5e-4)
    assert answer.coast_height == pytest.approx(142.502, abs=5e-4)
    assert answer.peak == pytest.approx(171.957, abs=5e-4)
    assert answer.peak_time == pytest.approx(6.225, abs=5e-4)


def test_closed_form_against_flight(monkeypatch, record):
    """In even air the ascent meets the closed form within what its fixed boost mass costs.

    Independent numbers for linear mass loss: 58.238 m/s, 29.002 m at burnout, 171.677 m.
    """

    def even(altitude, *, temperature_offset=0.0):
        one = np.ones_like(np.asarray(altitude, float))
        return atmosphere.Air(288.15 * one, 101325 * one, 1.225 * one, 340.294 * one, one)

    monkeypatch.setattr(flight.atmosphere, "at", even)
    flight._air_table.cache_clear()
    up = ascent(LAUNCHES[0])
    flight._air_table.cache_clear()
    record(
        case="ascent in even air, linear loss of mass",
        parts=("burnout speed, m/s", "burnout height, m", "peak, m", "time, s"),
        published=(58.238, 29.002, 171.677, 6.228),
        ours=(up.burnout.speed, up.burnout.height, up.peak.height, up.peak.time),
        tolerance="0.001 to 0.002: the digits kept",
        source="independent numerical integration",
        basis="library",
    )
    assert up.burnout.speed == pytest.approx(58.238, abs=1e-3)
    assert up.burnout.height == pytest.approx(29.002, abs=1e-3)
    assert up.peak.height == pytest.approx(171.677, abs=2e-3)
    assert up.peak.time == pytest.approx(6.228, abs=1e-3)


def cone_pressure(mach, angle):
    """Return the surface pressure coefficient of a cone by the exact conical flow.

    G. I. Taylor and J. W. Maccoll, Proc. Royal Society A 139 (1933) 278-311; the shock angle is
    searched until the flow at the surface runs along the cone.
    """
    g = 1.4

    def after(shock):
        normal = (mach * math.sin(shock)) ** 2
        turn = math.atan(
            2 / math.tan(shock) * (normal - 1) / (mach**2 * (g + math.cos(2 * shock)) + 2)
        )
        behind = math.sqrt((1 + (g - 1) / 2 * normal) / (g * normal - (g - 1) / 2)) / math.sin(
            shock - turn
        )
        speed = 1 / math.sqrt(2 / ((g - 1) * behind**2) + 1)
        return speed * math.cos(shock - turn), -speed * math.sin(shock - turn), normal

    def flow(theta, y):
        vr, vt = y
        c = (g - 1) / 2 * (1 - vr**2 - vt**2)
        slope = (vt**2 * vr - c * (2 * vr + vt / math.tan(theta))) / (c - vt**2)
        return [vt, slope]

    def surface(shock):
        vr, vt, normal = after(shock)
        run = solve_ivp(flow, (shock, angle), [vr, vt], rtol=1e-9, atol=1e-11)
        return run.y[1, -1], run.y[0, -1], normal

    shock = brentq(
        lambda b: surface(b)[0], max(math.asin(1 / mach), angle) + 2e-3, angle + math.radians(45)
    )
    _, vr, normal = surface(shock)
    at_surface = math.sqrt(2 / ((g - 1) * (1 / vr**2 - 1)))
    total = ((g + 1) * normal / ((g - 1) * normal + 2)) ** 3.5 * (
        (g + 1) / (2 * g * normal - (g - 1))
    ) ** 2.5
    ratio = total * ((1 + 0.2 * mach**2) / (1 + 0.2 * at_surface**2)) ** 3.5
    return (ratio - 1) * 2 / (g * mach**2)


@pytest.mark.parametrize("mach", [1.5, 2.0, 3.0])
@pytest.mark.parametrize("degrees", [7.5, 10.0, 15.0])
def test_wave_drag_of_cones(mach, degrees, record):
    """The published nose wave drag rule meets the exact cone flow within 8 per cent.

    Tolerance: the rule is a curve fit over cones of many angles and Mach numbers.
    """
    angle = math.radians(degrees)
    rule = wave_drag(mach=mach, nose_fineness=0.5 / math.tan(angle))
    exact = cone_pressure(mach, angle)
    record(
        case=f"wave drag of a cone of {degrees:g} degrees, Mach {mach:g}",
        published=exact,
        ours=rule,
        tolerance="8 %: the rule is a curve fitted over many cones and Mach numbers",
        source="G. I. Taylor and J. W. Maccoll, Proc. Royal Society A 139, 1933, exact cone flow",
        basis="exact",
    )
    assert rule == pytest.approx(exact, rel=0.08)
