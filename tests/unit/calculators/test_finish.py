"""The finish calculator: sums by hand, and that every material has its steps."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc import calculators, materials
from calc.calculators import finish as page
from calc.render import html
from calc.workshop import finish


def run(**texts: str):
    """Return the report for some input texts."""
    return calculators.run("finish", texts)


def value(report, name: str) -> float:
    """Return one answer's SI value."""
    return report.answer(name).value


def test_own_coats_add_up():
    """Two coats of colour on both faces weigh four times one coat on one face."""
    report = run(coats="own", seal="0", primer="0", paint="2", clear="0")
    area = 3 * 0.5 * (3 + 1.5) * 2.5 * 0.0254**2
    paint = finish.coats()["paint"]
    added = report.answer("added_mass")
    assert added.low == pytest.approx(4 * area * paint.low)
    assert added.high == pytest.approx(4 * area * paint.high)


def test_balance_by_hand():
    """The balance point moves by arm times added mass over the whole mass."""
    report = run(arm="100 mm", mass="200 g")
    added = report.answer("added_mass")
    assert report.answer("shift").high == pytest.approx(0.1 * added.high / (0.2 + added.high))


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 4), st.integers(0, 4), st.integers(0, 4))
def test_more_coats_weigh_more_and_flutter_no_later(seal: int, primer: int, paint: int):
    """Every coat adds mass; mass without stiffness never raises the flutter speed by much."""
    coats = {"coats": "own", "seal": f"{seal}", "primer": f"{primer}", "paint": f"{paint}"}
    now = run(**coats)
    more = run(**{**coats, "paint": f"{paint + 1}"})
    assert value(more, "added_mass") > value(now, "added_mass")
    assert value(more, "flutter_change") <= value(now, "flutter_change") + 0.01


def test_nothing_adds_nothing():
    """No coats, no mass, no shift, no change."""
    report = run(coats="own", seal="0", primer="0", paint="0", clear="0")
    for name in ("added_mass", "share", "shift", "flutter_change"):
        assert value(report, name) == 0.0


def test_change_without_a_number_is_told_in_words():
    """Where only some of the three fins flutter, the speeds are given and no change is computed."""
    report = run(material="foam-board", edge="airfoil")
    assert "flutter_change" not in {answer.name for answer in report.answers} | {*report.headline}
    (told,) = (note for note in report.notes if "cannot be put in a number" in note)
    assert re.search(r"bare \d+ m/s, .* none found, .* heavy end \d+ m/s", told)


def test_other_finish_is_compared_in_one_unit():
    """A lighter or heavier finish is told in the unit of the present one, however little it is."""
    light, full = run().changes[0], run(coats="light").changes[0]
    assert re.fullmatch(r"[\d. to]+ oz instead of [\d. to]+ oz", light.effect)
    assert re.fullmatch(r"[\d. to]+ oz instead of [\d. to]+ oz", full.effect)
    assert light.effect.split(" instead of ") == full.effect.split(" instead of ")[::-1]


def test_one_face_is_half_and_bows():
    """One face takes half the coats; the wet-face bow of a thin sheet is larger than a thick's."""
    both, one = run(), run(faces="one")
    assert value(one, "added_mass") == pytest.approx(0.5 * value(both, "added_mass"))
    assert value(run(thickness="1/16 in"), "bow") > value(run(thickness="1/4 in"), "bow") > 0.0
    assert value(run(material="printed-pla"), "bow") == 0.0


def test_bow_of_one_ply_by_hand():
    """A strip with the outer quarter swollen bends to kappa = 6 b dm d (1 - d) / t.

    Free strain b dm over the outer share d of a beam: M = E b dm d (1 - d) t^2 / 2,
    kappa = 12 M / (E t^3) (S. Timoshenko, Strength of Materials, Part I, thermal stress in a
    beam). Grain along the tube, so the span is the swelling direction.
    """
    from calc.calculators import shared

    values, _ = calculators.load("finish").read(
        {"root": "3 in", "tip": "3 in", "span": "3 in", "sweep": "0 in", "grain": "90"}
    )
    fin = shared.fin_of(values)
    lamina = fin.layup().plies[0].lamina
    kappa = 6 * lamina.swelling_across * 0.05 * 0.25 * (1 - 0.25)
    kappa /= fin.thickness
    assert page._bow(fin) == pytest.approx(0.5 * kappa * 0.0762**2, rel=0.1)


@pytest.mark.parametrize("name", materials.names())
def test_every_material_has_its_steps(name: str):
    """Each material on file gets steps at the bench and a word about warp."""
    material = materials.load(name)
    usual = finish.usual(page.family_of(material))
    assert usual.steps
    thickness = material.thicknesses[len(material.thicknesses) // 2]
    report = run(material=name, thickness=f"{thickness} m", root="4 in", span="4 in")
    assert len(report.tables[0].rows) == len(usual.steps)
    assert usual.warp in report.notes


@pytest.mark.parametrize(("units", "unit"), [("inch", "oz"), ("metric", "g")])
def test_masses_of_the_set_are_in_one_unit(units: str, unit: str) -> None:
    """Large numbers, steps and coats weigh the set in the same unit, however light one coat is."""
    report = calculators.run("finish", {"units": units})
    shown = re.sub(r"<span class=\"fs-also\">.*?</span>", "", html.result_html(report, units=units))
    text = re.sub(r"<[^>]*>", " ", shown.partition('<details class="fs-working"')[0])
    assert {found for found in re.findall(r"\d (oz|g)\b(?!/m)", text)} == {unit}
