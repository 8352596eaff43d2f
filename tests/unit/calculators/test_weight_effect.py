"""The weight calculator: statics by hand, and what heavier fins must do."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc import calculators
from calc.errors import InputError
from calc.render import html


def run(**texts: str):
    """Return the report for some input texts."""
    return calculators.run("weight-effect", texts)


def value(report, name: str) -> float:
    """Return one answer's SI value."""
    return report.answer(name).value


def test_balance_by_hand():
    """The balance point with fins is that of two masses on a stick."""
    report = run()
    bare, point = 0.160, 12.5 * 0.0254
    total = value(report, "set_mass")
    place = (20 - 3) * 0.0254
    place += (1.5 * 6 + 9 + 4.5 + 2.25) / (3 * 4.5) * 0.0254
    assert value(report, "centre_of_gravity") == pytest.approx(
        (bare * point + total * place) / (bare + total)
    )
    assert value(report, "mass") == pytest.approx(bare + total)


def test_mass_of_a_plain_sheet():
    """Square-edged fins weigh area times thickness times density."""
    report = run(density="160 kg/m3", added="0 g")
    area = 0.5 * (3 + 1.5) * 2.5 * 0.0254**2
    assert value(report, "set_mass") == pytest.approx(3 * area * 0.125 * 0.0254 * 160)


def test_shaped_edges_weigh_less():
    """Rounding, tapering and an airfoil each take off mass, the airfoil most."""
    masses = [value(run(edge=e), "fin_mass") for e in ("square", "rounded", "tapered", "airfoil")]
    assert masses == sorted(masses, reverse=True)
    assert masses[-1] < 0.8 * masses[0]


def test_static_margin_is_distance_over_diameter():
    """The margin is the gap between balance point and centre of pressure in tube diameters."""
    report = run()
    gap = value(report, "centre_of_pressure") - value(report, "centre_of_gravity")
    assert value(report, "static_margin") == pytest.approx(gap / (1.6 * 0.0254))
    assert report.verdict.margin == pytest.approx(value(report, "static_margin"))


@settings(max_examples=12, deadline=None)
@given(st.sampled_from(["1/32 in", "1/16 in", "3/32 in"]), st.floats(1.3, 2.5))
def test_heavier_fins_are_less_stable(thickness: str, growth: float):
    """Fins of the same shape and more mass move the balance point aft and the margin down."""
    from calc.units import parse

    thick = growth * parse(thickness, "length")
    light, heavy = run(thickness=thickness), run(thickness=f"{thick} m")
    assert value(heavy, "set_mass") > value(light, "set_mass")
    assert value(heavy, "centre_of_gravity") > value(light, "centre_of_gravity")
    assert value(heavy, "static_margin") < value(light, "static_margin")


def test_height_lost_per_gram_predicts_the_next_flight():
    """The slope, times a few grams, is the height lost when flown again."""
    light, heavy = run(added="1 g"), run(added="3 g")
    lost = value(light, "height") - value(heavy, "height")
    assert lost == pytest.approx(2.0 * value(light, "loss_per_gram"), rel=0.03)


def test_a_very_light_rocket_gains_from_a_gram():
    """Below the best mass a gram more carries the rocket higher, and the page says so."""
    report = run(mass="20 g", motor="A", thrust="4 N", added="0 g", material="paper",
                 thickness="0.3 mm", body="2.6 in")  # fmt: skip
    assert value(report, "loss_per_gram") < 0.0
    assert "negative" in report.answer("loss_per_gram").note


def test_weighed_with_fins_is_the_same_rocket():
    """Weighing with or without the fins describes the same rocket."""
    without = run()
    together = run(
        weighed="with",
        mass=f"{value(without, 'mass')} kg",
        balance_point=f"{value(without, 'centre_of_gravity')} m",
    )
    assert value(together, "static_margin") == pytest.approx(value(without, "static_margin"))
    assert value(together, "shift") == pytest.approx(value(without, "shift"))


@pytest.mark.parametrize(
    ("texts", "name"),
    [
        ({"count": "5"}, "count"),
        ({"balance_point": "40 in"}, "balance_point"),
        ({"position": "30 in"}, "position"),
        ({"weighed": "with", "mass": "5 g", "thrust": "2 N"}, "mass"),
        ({"thickness": "25 mm"}, "thickness"),
    ],
)
def test_bad_inputs_are_named(texts: dict[str, str], name: str):
    """Impossible inputs raise InputError naming the input."""
    with pytest.raises(InputError) as problem:
        run(**texts)
    assert problem.value.name == name


def test_unstable_is_told_with_its_remedy():
    """Ahead of the balance point nothing holds; the ballast that helps is worked out."""
    report = run(balance_point="17.5 in")
    assert report.verdict.state == "fails"
    assert any("oz brings the static margin" in change.effect for change in report.changes)


def test_heights_are_told_with_their_sign() -> None:
    """A lighter sheet flies higher, its own size as high; one margin alone has no bars."""
    report = run()
    rows = {round(row[0] / 0.0254, 4): row[-1] for row in report.tables[0].rows}
    assert rows[0.0625].startswith("+")
    assert rows[0.25].startswith("−")
    assert rows[0.125] == "0 ft"
    assert "fs-margins" not in html.result_html(report, units="inch")
