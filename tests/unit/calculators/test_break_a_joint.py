"""Break a joint: readings in any unit, and the way into the root joint."""

from __future__ import annotations

import pytest

from calc import calculators
from calc.errors import InputError


def run(**texts: str):
    """Return the report for some input texts."""
    return calculators.run("break-a-joint", texts)


def test_by_hand():
    """Three scraps of 25 mm that let go at 1 kg on 50 mm: 9.80665 * 0.05 / 0.025 = 19.6 N m/m."""
    report = run(readings="1 1 1 kg", lever="50 mm", root="25 mm")
    assert report.answer("moment").value == pytest.approx(19.6133, rel=1e-5)
    assert report.answer("scrap").value == pytest.approx(0.490333, rel=1e-5)
    assert report.answer("low").value == pytest.approx(report.answer("moment").low)


def test_units_of_readings():
    """Grams on a scale, pounds in a bag and newtons are the same loads."""
    grams = run(readings="500 600 700 g").answer("moment").value
    newtons = run(readings="4.903325 5.88399 6.864655 N").answer("moment").value
    pounds = run(readings="1.10231131 1.32277357 1.54323584 lb").answer("moment").value
    assert grams == pytest.approx(newtons)
    assert grams == pytest.approx(pounds)


def test_readings_stand_in_the_table_as_they_were_typed():
    """Each row begins with the reader's own number and unit, before it is turned into a force."""
    rows = run(readings="500 600 g; 1.5 lb").tables[1].rows
    assert [row[0] for row in rows] == ["500 g", "600 g", "1.5 lb"]
    assert [row[1] for row in rows] == pytest.approx([4.903325, 5.88399, 6.672333], rel=1e-6)


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        ("500 600 g", "3 readings or more"),
        ("500 600 700", "unit is missing"),
        ("a lot", "masses or forces"),
        ("5 6 7 mm", "masses or forces"),
        ("500 600 0 g", "between 0.1 g and 10 t"),
    ],
)
def test_bad_readings_are_named(readings: str, words: str):
    """Too few readings, no unit, no number and a load of nothing are refused beside the field."""
    with pytest.raises(InputError) as problem:
        run(readings=readings)
    assert problem.value.name == "readings"
    assert words in str(problem.value)


def test_it_carries_into_the_root_joint():
    """What the test found stands in a link that the root joint reads and judges by."""
    report = run()
    text = report.carry["tested"]
    (link,) = report.tables[0].links
    assert link == f"../root-joint/?tested={text.replace(' ', '+')}"
    joint = calculators.run("root-joint", {"tested": text, "joint": "edge"})
    assert joint.modes[0].name == "the joint as tested"
    stronger = run(readings="6.2 5.4 7.0 5.8 6.6 kg").carry["tested"]
    more = calculators.run("root-joint", {"tested": stronger, "joint": "edge"})
    ratio = more.answer("margin").value / joint.answer("margin").value
    assert ratio == pytest.approx(10.0, rel=1e-3)


def test_a_scrap_that_broke_is_a_lower_limit():
    """Where the wood broke and not the joint, the moment is "at least"."""
    assert run(broke="fin").answer("moment").bound == "at least"
    assert run().answer("moment").bound == ""
    assert "at least" in run(broke="fin").summary


def test_what_a_builder_should_hear():
    """Few joints, or very different ones, give a note on what to do."""
    assert any("Two more" in note for note in run(readings="5 6 7 N").notes)
    assert not any("Two more" in note for note in run().notes)
    assert any("broken faces" in note for note in run(readings="2 6 3 9 4 N").notes)
