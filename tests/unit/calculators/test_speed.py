"""The speed calculator: what more thrust, mass, drag and impulse must do."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc import calculators
from calc.errors import InputError, ValidityError
from calc.flight import ascent, rod

STEADY = ascent.Launch(
    mass=0.1,
    propellant_mass=0.012,
    diameter=0.025,
    drag=0.6,
    thrust_curve=((0.0, 6.0), (1.66, 6.0)),
)


def run(**texts: str):
    """Return the report for some input texts."""
    return calculators.run("speed", texts)


def value(report, name: str) -> float:
    """Return one answer's SI value."""
    return report.answer(name).value


def test_defaults_agree_with_the_closed_form():
    """At low Mach number the flight is that of the textbook's closed form within a few per cent."""
    report = run()
    hand = ascent.closed_form(
        mass=0.165,
        propellant_mass=value(report, "propellant"),
        thrust=12.0,
        burn_time=20.0 / 12.0,
        drag_coefficient=0.5,
        diameter=1.6 * 0.0254,
    )
    assert value(report, "top_speed") == pytest.approx(hand.burnout_speed, rel=0.02)
    assert value(report, "peak") == pytest.approx(hand.peak, rel=0.05)


def test_without_drag_it_is_free_fall_upside_down():
    """With next to no drag the coast gains v^2 / 2 g."""
    report = run(drag="0.05", body="5 mm")
    top = report.tables[0].rows[0]
    rise = value(report, "peak") - top[2]
    assert rise == pytest.approx(value(report, "top_speed") ** 2 / (2 * 9.80665), rel=0.03)


@settings(max_examples=15, deadline=None)
@given(st.floats(0.06, 0.4), st.floats(0.3, 0.9), st.floats(8.0, 30.0))
def test_more_mass_or_drag_is_slower(mass: float, drag: float, thrust: float):
    """Top speed falls with mass and with drag, and rises with impulse."""
    base = {"mass": f"{mass} kg", "drag": f"{drag}", "thrust": f"{thrust} N", "impulse": "15 N s"}
    speed = value(run(**base), "top_speed")
    assert value(run(**{**base, "mass": f"{1.2 * mass} kg"}), "top_speed") < speed
    assert value(run(**{**base, "drag": f"{1.2 * drag}"}), "top_speed") < speed
    assert value(run(**{**base, "impulse": "18 N s"}), "top_speed") > speed


def test_spread_holds_the_answer():
    """The 10 to 90 % range lies around the answer and is wider for height than for speed."""
    report = run()
    for name in ("top_speed", "peak", "dynamic_pressure", "mach"):
        answer = report.answer(name)
        assert answer.low < answer.value < answer.high
    width = {n: math.log(report.answer(n).high / report.answer(n).low) for n in
             ("top_speed", "peak")}  # fmt: skip
    assert width["peak"] > width["top_speed"]


def test_burn_time_and_impulse_say_the_same():
    """Thrust and burn time stand for the impulse; where all three are given they must agree."""
    told = run(thrust="10 N", burn_time="2 s")
    assert value(told, "impulse") == pytest.approx(20.0)
    same = run(thrust="10 N", impulse="20 N s")
    assert value(told, "top_speed") == pytest.approx(value(same, "top_speed"))
    with pytest.raises(InputError, match=r"burn_time.*impulse over thrust"):
        run(thrust="10 N", impulse="20 N s", burn_time="5 s")


def test_a_rocket_too_heavy_is_refused():
    """Thrust below weight names the thrust; a motor heavier than the rocket names the mass."""
    with pytest.raises(InputError) as problem:
        run(thrust="1 N", mass="500 g")
    assert problem.value.name == "thrust"
    with pytest.raises(InputError) as problem:
        run(motor="G", thrust="80 N", mass="60 g")
    assert problem.value.name == "mass"


def test_beyond_the_model_it_does_not_answer():
    """A flight past the top of the atmosphere table is refused rather than answered."""
    with pytest.raises(ValidityError):
        run(motor="O", thrust="10000 N", mass="40 kg", body="2 in", drag="0.05")


def test_rows_open_a_fin_check():
    """The link of a moment fills the fin check, which accepts every input of it."""
    from urllib.parse import parse_qsl

    link = run().tables[0].links[0]
    texts = dict(parse_qsl(link.split("?")[1]))
    values, errors = calculators.load("fin-check").read(texts)
    assert not errors
    assert values["speed"] == pytest.approx(value(run(), "top_speed"), rel=0.001)


def test_hot_and_high_is_faster():
    """Thinner air lets the rocket go faster and higher."""
    low, high = run(site="0 ft"), run(site="8000 ft")
    assert value(high, "top_speed") > value(low, "top_speed")
    assert value(high, "peak") > value(low, "peak")


def test_slow_off_the_rod_is_a_warning_with_its_remedy():
    """Below the speed that fins steer with, the summary warns, and the rod offered is enough."""
    slow = run(rod="36 in")
    assert value(slow, "rod_speed") < 15.0
    assert "Warning" in slow.summary
    remedy = next(change for change in slow.changes if "rod" in change.inputs)
    cured = run(rod=remedy.inputs["rod"])
    assert value(cured, "rod_speed") >= 15.0
    assert "Warning" not in cured.summary
    assert not any("rod" in change.inputs for change in cured.changes)


def test_speed_off_the_rod_follows_the_thrust_curve() -> None:
    """A steady 6 N on 100 g leaves a 1 m rod at the closed form's speed, less a little drag."""
    closed = math.sqrt(2.0 * (6.0 / 0.1 - 9.81))
    flown = rod.rod_speed(ascent.ascent(STEADY), STEADY, length=1.0)
    assert 0.97 * closed < flown < 1.02 * closed


def test_rod_needed_follows_the_thrust_curve() -> None:
    """A steady 6 N on 100 g reaches 15 m/s after the closed form's 2.24 m, or a little later."""
    closed = 15.0**2 / (2.0 * (6.0 / 0.1 - 9.81))
    needed = rod.rod_needed(ascent.ascent(STEADY), STEADY)
    assert needed is not None
    assert 0.97 * closed < needed < 1.03 * closed
