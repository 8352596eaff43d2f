"""Damp: published moisture contents, and what must follow from them."""

from __future__ import annotations

import pytest

from calc import calculators, materials
from calc.errors import InputError
from calc.report import Report


def run(**texts: str) -> Report:
    """Return the calculator's answer for input texts."""
    return calculators.run("moisture", texts)


@pytest.mark.parametrize(
    ("humidity", "expected"), [("30 %", 0.062), ("65 %", 0.120), ("80 %", 0.160)]
)
def test_wood_settles_where_the_handbook_says(humidity: str, expected: float) -> None:
    """Equilibrium moisture at 70 °F: Wood Handbook (2021), equation 4-5 and table 4-2."""
    report = run(temperature="70 F", humidity=humidity, material="basswood")
    assert report.answer("moisture").value == pytest.approx(expected, abs=0.001)


def test_weight_follows_the_water() -> None:
    """Mass grows as (1 + M)/(1 + M0) for a solid sheet whose size is kept."""
    report = run(material="basswood")
    before, after = (report.answer(n).value for n in ("moisture_before", "moisture"))
    assert report.answer("weight").value == pytest.approx((1 + after) / (1 + before) - 1, rel=1e-6)


def test_width_follows_the_shrinkage() -> None:
    """Across a flat-sawn basswood sheet: total tangential shrinkage over 30 % moisture.

    Wood Handbook (2021), equation 4-9; the size at 12 % moisture is the reference, hence 10 %.
    """
    report = run(material="basswood", width="100 mm")
    total = materials.load("basswood").values["shrinkage_tangential"].value
    moved = report.answer("moisture").value - report.answer("moisture_before").value
    assert report.answer("swelling").value == pytest.approx(0.1 * total * moved / 0.30, rel=0.1)


def test_plywood_swells_less_and_bows_like_a_painted_sheet() -> None:
    """Crossed plies hold each other: plywood grows far less across than a solid sheet does."""
    solid = run(material="basswood").answer("swelling").value
    ply = run(material="birch-plywood").answer("swelling").value
    assert 0.0 < ply < 0.35 * solid


def test_painted_one_side_bows_as_a_gradient() -> None:
    """A solid sheet with moisture in a straight line through it bends by b dM / h."""
    report = run(material="basswood", width="100 mm", thickness="3 mm")
    strain = report.answer("swelling").value / 0.1
    expected = strain / 0.003 * 0.1**2 / 8
    assert report.answer("warp_painted").value == pytest.approx(expected, rel=0.05)


def test_same_air_changes_nothing() -> None:
    """The same air before and after leaves weight, stiffness and width as they were."""
    report = run(humidity="35 %", temperature="70 F")
    for name in ("weight", "stiffness", "swelling", "warp_painted"):
        assert report.answer(name).value == pytest.approx(0.0, abs=1e-12)


def test_plastic_takes_up_nothing() -> None:
    """A plastic sheet is said to take up next to no moisture."""
    assert "next to no moisture" in run(material="styrene").summary


def test_damp_wood_is_softer() -> None:
    """Every wood and paper on file loses stiffness and strength with damp."""
    for name in materials.names():
        if materials.load(name).family in ("wood", "plywood", "paper"):
            report = run(material=name)
            assert report.answer("stiffness").value < -0.05, name
            assert report.answer("strength").value < -0.05, name


def test_own_material_is_refused() -> None:
    """Nothing is known of how a reader's own material takes up damp."""
    with pytest.raises(InputError, match="material"):
        run(material="own")
