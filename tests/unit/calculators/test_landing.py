"""The landing calculator: energies by hand, effects of ground, speed, grain and thickness."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc import calculators
from calc.calculators import landing as page
from calc.calculators import shared
from calc.errors import InputError


def run(**texts: str):
    """Return the report for some input texts."""
    return calculators.run("landing", texts)


def value(report, name: str) -> float:
    """Return one answer's SI value."""
    return report.answer(name).value


def test_energy_of_the_fall():
    """The fall holds half the mass times the square of the sink speed."""
    report = run(descent="speed", sink="5 m/s", mass="200 g")
    assert value(report, "energy") == pytest.approx(2.5)


def test_weight_equals_drag_under_the_parachute():
    """At the sink speed drag equals weight."""
    report = run(mass="150 g", parachute="15 in")
    speed = value(report, "descent_speed")
    area = math.pi / 4 * (15 * 0.0254) ** 2
    assert 0.5 * 1.225 * speed**2 * 0.775 * area == pytest.approx(0.150 * 9.80665, rel=1e-3)


@settings(max_examples=10, deadline=None)
@given(
    st.sampled_from(["balsa", "basswood", "birch-plywood", "printed-pla"]),
    st.floats(2.0, 9.0),
    st.floats(0.0, 1.2),
)
def test_softer_ground_is_kinder(material: str, speed: float, grain: float):
    """Rigid ground is hardest, then hard ground that dents the corner, then firm and soft turf."""
    report = run(
        material=material, descent="speed", sink=f"{speed} m/s", grain=f"{math.degrees(grain)}"
    )
    ratios = [value(report, f"margin_{name}") for name, _, _ in page.GROUNDS]
    assert all(a <= b * (1 + 1e-9) for a, b in pairwise(ratios))


def test_margin_falls_with_the_square_of_the_speed():
    """Twice the speed is four times the energy, so a quarter of the margin."""
    slow = value(run(descent="speed", sink="3 m/s"), "margin_firm")
    fast = value(run(descent="speed", sink="6 m/s"), "margin_firm")
    assert slow == pytest.approx(4.0 * fast)
    report = run(descent="speed", sink="3 m/s")
    assert value(report, "safe_speed_firm") == pytest.approx(3.0 * math.sqrt(slow))


def test_the_factor_of_two_is_shown_and_decides():
    """Every margin has a range of a factor of two either way; within it the state is marginal."""
    for speed in ("1 m/s", "3 m/s", "5 m/s", "9 m/s"):
        report = run(descent="speed", sink=speed)
        verdict = report.verdict
        assert verdict.low == pytest.approx(verdict.margin / 2)
        assert verdict.high == pytest.approx(verdict.margin * 2)
        claimed = {"holds": verdict.low >= 1, "fails": verdict.high < 1}
        assert claimed.get(verdict.state, verdict.low < 1 <= verdict.high)


def test_tail_first_claims_nothing():
    """If the tail lands first there is no margin and the state is unknown."""
    report = run(sweep="0 in", tail="1 in")
    assert report.verdict.state == "unknown"
    assert not report.modes


def test_grain_and_thickness():
    """Grain along the tube breaks off sooner than along the leading edge; thicker is stronger."""
    good, bad = run(), run(grain="59")
    assert value(bad, "flat_force") < 0.3 * value(good, "flat_force")
    assert value(run(thickness="3/16 in"), "margin_firm") > value(good, "margin_firm")


def test_clamped_strip_of_even_wood():
    """A long narrow isotropic strip bends as a textbook cantilever does at its tip."""
    values, errors = calculators.load("landing").read(
        {
            "material": "own", "modulus_along": "3 GPa", "modulus_across": "3 GPa",
            "shear_modulus": "1.5 GPa", "poisson": "0", "strength_along": "30 MPa",
            "strength_across": "30 MPa", "shear_strength": "17.3 MPa",
            "root": "1 in", "tip": "1 in", "span": "6 in", "sweep": "0 in", "thickness": "2 mm",
        }
    )  # fmt: skip
    assert not errors
    tip = page.capacity_of(shared.fin_of(values)).tip
    width, span, t = 0.0254, 0.1524, 0.002
    assert tip.compliance == pytest.approx(4 * span**3 / (3e9 * width * t**3), rel=0.02)
    assert tip.force == pytest.approx(30e6 * width * t**2 / (6 * span), rel=0.05)


@pytest.mark.parametrize(
    ("texts", "name"),
    [
        ({"spill": "14.5 in"}, "spill"),
        ({"length": "2.5 in"}, "length"),
        ({"thickness": "20 mm"}, "thickness"),
    ],
)
def test_bad_inputs_are_named(texts: dict[str, str], name: str):
    """Impossible inputs raise InputError naming the input."""
    with pytest.raises(InputError) as problem:
        run(**texts)
    assert problem.value.name == name


@pytest.mark.parametrize(
    ("parachute", "words"),
    [
        ("24 in", "Even 2 times the energy would not break the fin."),
        ("20 in", "The fin is likely to survive"),
        ("15 in", "The fin is likely to break"),
        ("6 in", "Even the energy divided by 2 would break the fin."),
    ],
)
def test_words_follow_the_methods_factor(parachute: str, words: str) -> None:
    """From twice the energy on the fin is sure to survive, below half of it sure to break."""
    verdict = run(parachute=parachute).verdict
    assert verdict is not None
    assert verdict.sentence.startswith(words)
