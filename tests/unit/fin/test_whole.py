"""The verdict of the whole fin: what is joined, what is left out, and by which rules."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from calc import calculators, materials
from calc.fin import whole
from calc.fin.fin import angle_in_gust, hand_force
from calc.margin import Margin, Quantity, between
from calc.report import Report

FLIGHT = {"flight": "motor", "motor": "D", "thrust": "12 N", "mass": "165 g"}


def ask(**texts: str) -> Report:
    """Return the fin check's answer for a rocket on its motor."""
    return calculators.run("fin-check", {**FLIGHT, **texts})


def margin(report: Report, name: str) -> float:
    """Return one margin of a report."""
    return next(mode.margin for mode in report.modes if mode.name == name)


def test_the_verdict_is_the_smallest_of_all_margins() -> None:
    """The bold bar and the verdict's number are the same, whatever part is the weakest."""
    for texts in ({}, {"rod": "24 in"}, {"hand": "60 N"}, {"sink": "30 ft/s"}):
        report = ask(**texts)
        assert report.verdict is not None
        assert report.verdict.margin == min(mode.margin for mode in report.modes)


def test_what_is_not_judged_is_said() -> None:
    """Without a motor neither landing nor rod is judged, and the verdict says so."""
    report = calculators.run("fin-check", {})
    assert report.verdict is not None
    assert "landing" not in {mode.name for mode in report.modes}
    said = report.verdict.covers.partition("Not judged:")[2]
    for part in ("landing", "speed off the rod", "stability"):
        assert part in said


def test_landing_is_the_landing_calculators() -> None:
    """The landing's margin is that of the landing calculator for the same descent."""
    report = ask(sink="20 ft/s", length="20 in")
    burnt = calculators.run("speed", {"mass": "165 g"}).answer("propellant").value
    alone = calculators.run(
        "landing",
        {
            "descent": "speed",
            "sink": "20 ft/s",
            "mass": f"{0.165 - burnt} kg",
            "length": "20 in",
            "ground": "turf",
        },
    )
    assert alone.verdict is not None
    assert margin(report, "landing") == pytest.approx(alone.verdict.margin, rel=1e-9)


@pytest.mark.parametrize("texts", [{}, {"joint": "usual", "body": "1 in"}, {"joint": "edge"}])
def test_joint_is_the_root_joint_pages(texts: dict[str, str]) -> None:
    """Fin check and root joint say the same of one joint, also where nothing is said of it."""
    here = calculators.run("fin-check", texts)
    alone = calculators.run("root-joint", texts)
    assert alone.verdict is not None
    worst = min(margin(here, name) for name in ("joint", "joint-hand"))
    assert worst == pytest.approx(alone.verdict.margin, rel=1e-9)


def test_a_tested_joint_counts_in_the_whole_verdict() -> None:
    """What broke on the bench replaces what is computed, here as on the page of the joint."""
    usual, strong = ask(), ask(tested="90 to 160 N")
    assert margin(strong, "joint") > 5.0 * margin(usual, "joint")


def test_rod_speed_by_hand() -> None:
    """v^2 = 2 L (1.5 F / m - g), over the 15 m/s that fins steer with (common practice)."""
    speed = math.sqrt(2.0 * 1.2192 * (1.5 * 12.0 / 0.165 - 9.80665))
    assert margin(ask(rod="48 in"), "rod") == pytest.approx(speed / 15.0, rel=1e-3)


@pytest.mark.parametrize(("share", "state"), [(0.66, "fails"), (0.74, "marginal"), (1.02, "holds")])
def test_a_slow_rod_fails_below_seven_tenths(share: float, state: str) -> None:
    """At 0.7 of the speed fins have half the force to steer with; between there and 1, marginal."""
    length = (15.0 * share) ** 2 / (2.0 * (1.5 * 12.0 / 0.165 - 9.80665))
    report = ask(rod=f"{length:.5f} m")
    assert margin(report, "rod") == pytest.approx(share, rel=1e-3)
    assert report.verdict is not None
    assert (report.verdict.governs, report.verdict.state) == ("rod", state)


def test_a_thrust_curve_replaces_thrust_and_impulse() -> None:
    """An even curve of the same thrust flies as fast; a peak at the start leaves the rod faster."""
    even = calculators.run("speed", {"curve": "0 12, 1.6666 12"})
    usual = calculators.run("speed", {"thrust": "12 N"})
    top = usual.answer("top_speed").value
    peaked = calculators.run("speed", {"curve": "0 30, 0.3 30, 0.301 8, 1.67 8, 1.671 0"})
    assert even.answer("top_speed").value == pytest.approx(top, rel=1e-3)
    assert peaked.answer("impulse").value == pytest.approx(20.0, rel=0.01)
    assert peaked.answer("rod_speed").value > 1.3 * even.answer("rod_speed").value


def test_stability_is_that_of_weight_and_balance() -> None:
    """The static margin is that of the weight calculator for the same balance point."""
    report = ask(balance_point="12 in")
    alone = calculators.run(
        "weight-effect",
        {"mass": "165 g", "weighed": "with", "balance_point": "12 in"},
    )
    assert margin(report, "stability") == pytest.approx(
        alone.answer("static_margin").value, abs=0.01
    )
    nose_heavy, tail_heavy = ask(balance_point="10 in"), ask(balance_point="19 in")
    assert margin(nose_heavy, "stability") > margin(report, "stability")
    assert tail_heavy.verdict is not None
    assert tail_heavy.verdict.state == "fails"


def test_foam_board_ends_where_it_is_known() -> None:
    """Faster than foam board is known for there is no verdict; slower it is judged as any fin."""
    fast = ask(material="foam-board", thickness="5 mm", motor="F", thrust="40 N", descent="none")
    assert fast.verdict is not None
    assert fast.verdict.state in ("unknown", "fails")
    board = materials.load("foam-board")
    assert board.fastest is not None
    slow = whole.known_range(board, 0.5 * board.fastest.value)
    assert slow is not None
    assert slow.known
    assert slow.ratio == pytest.approx(2.0)
    assert whole.known_range(materials.load("balsa"), 300.0) is None


def test_a_hand_takes_the_weight() -> None:
    """A hand pushes with the rocket's weight, a newton at least; 3 N where the mass is unknown."""
    assert hand_force(1.0) == pytest.approx(9.80665)
    assert hand_force(0.02) == 1.0
    assert hand_force(None) == 3.0
    heavy, light = ask(mass="400 g", motor="E", thrust="30 N"), ask()
    assert margin(heavy, "handling") < margin(light, "handling")


def test_gust_of_a_safety_codes_wind() -> None:
    """20 mph at 100 m/s is 5.1 degrees, at 15 m/s more than a fin can use."""
    assert math.degrees(angle_in_gust(speed=100.0, gust=8.9408)) == pytest.approx(5.11, abs=0.01)
    assert math.degrees(angle_in_gust(speed=15.0, gust=8.9408)) == pytest.approx(20.0)
    calm, windy = ask(gust="5 mph"), ask(gust="20 mph")
    assert margin(calm, "bending") > margin(windy, "bending")


def test_chance_of_a_part_with_a_spread() -> None:
    """A part whose lower decile is just enough gives way once in ten; limits and ground never."""
    part = between("joint", "force", demand=1.0, low=1.0, high=4.0)
    assert whole.chance_below(part) == pytest.approx(0.1, abs=1e-9)
    assert (
        whole.chance_below(replace(part, capacity=replace(part.capacity, bound="at least"))) == 0.0
    )
    assert whole.chance_below(replace(part, flight=False)) == 0.0


def test_a_bigger_motor_never_looks_safer() -> None:
    """From class to class the verdict's number falls, though another part may govern.

    The rod is left out of it: there a stronger motor is better.
    """
    last = math.inf
    for motor, thrust in (("C", "12 N"), ("D", "15 N"), ("E", "25 N"), ("F", "40 N")):
        report = ask(motor=motor, thrust=thrust, mass="165 g", rod="3 m", descent="none")
        assert report.verdict is not None
        worst = min(mode.margin for mode in report.modes if mode.name != "rod")
        assert worst <= last * (1 + 1e-9)
        last = worst


def test_a_slow_rod_is_noted_and_fifteen_metres_a_second_is_enough() -> None:
    """Below 15 m/s the margin says why it matters; from there on it says nothing."""
    assert "too slow" in whole.rod(14.9).note
    assert whole.rod(15.0).note == ""
    assert whole.rod(20.0).note == ""


@pytest.mark.parametrize(
    ("capacity", "chance"),
    [
        (Quantity(0.9, 0.9, 0.9), 1.0),
        (Quantity(1.0, 1.0, 1.0), 0.0),
        (Quantity(1.1, 1.1, 1.1), 0.0),
        (Quantity(1.1, 0.0, 2.0), 0.0),
        (Quantity(1.1, 0.5, math.inf), 0.0),
    ],
)
def test_chance_without_a_proper_range_is_all_or_nothing(capacity: Quantity, chance: float) -> None:
    """Where a range has no width, begins at nothing or never ends, the middle value decides."""
    assert whole.chance_below(Margin("glue", 1.0, capacity, "force")) == chance


def test_a_material_is_known_up_to_its_fastest_speed() -> None:
    """Foam board is known at the speed its data say, and no longer 1 % beyond."""
    board = materials.load("foam-board")
    assert board.fastest is not None
    for share, known in ((0.5, True), (1.0, True), (1.01, False)):
        covered = whole.known_range(board, share * board.fastest.value)
        assert covered is not None
        assert covered.known is known
