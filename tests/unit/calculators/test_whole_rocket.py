"""The page of the whole rocket, and two to four of them side by side."""

import pytest

from calc import calculators
from calc.calculators import rocket as whole
from calc.errors import InputError
from calc.render import html
from calc.report import Strong

BIRCH = {"material": "birch-plywood", "thickness": "1/16 in"}


def test_parts_answer_for_the_same_rocket() -> None:
    """Each line is what its own calculator answers for these inputs."""
    texts = {"root": "4 in", "mass": "220 g", "flight": "motor", "descent": "parachute", **BIRCH}
    values, errors = whole.CALCULATOR.read(texts)
    assert not errors
    outcomes = whole.asked(values)
    alone = calculators.run("landing", {"root": "4 in", "mass": "220 g", **BIRCH})
    found = whole.found_in(outcomes, "landing", "descent_speed")
    assert found is not None
    assert found.value == alone.answer("descent_speed").value
    alone = calculators.run("fin-check", texts)
    found = whole.found_in(outcomes, "fin-check", "set_mass")
    assert found is not None
    assert found.value == alone.answer("set_mass").value


def test_verdict_is_the_least_of_all_parts() -> None:
    """The smallest margin governs, and a part that fails in flight fails the whole."""
    report = calculators.run("rocket", BIRCH)
    assert report.verdict is not None
    assert report.verdict.margin == min(mode.margin for mode in report.modes)
    assert {"flutter", "bending", "joint"} <= {mode.name for mode in report.modes}
    thin = calculators.run("rocket", {"thickness": "1/32 in", "speed": "150 m/s"})
    assert thin.verdict is not None
    assert thin.verdict.state == "fails"


def test_balance_is_judged_only_where_it_is_known() -> None:
    """Without a balance point the page says what it needs instead of taking the example's."""
    without = calculators.run("rocket", {})
    assert not any(mode.name == "stability" for mode in without.modes)
    assert any("balance point" in note for note in without.notes)
    given = calculators.run("rocket", {"balance_point": "12 in"})
    assert any(mode.name == "stability" for mode in given.modes)


def test_bad_number_is_named_by_its_field() -> None:
    """What a part refuses is shown beside the field of this page."""
    outcome = calculators.ask("rocket", {"thickness": "1 in"})
    assert set(outcome.errors) == {"thickness"}


def test_links_open_the_same_rocket() -> None:
    """The line of the landing leads to the landing page with this rocket's numbers."""
    report = calculators.run("rocket", {"root": "4 in", "landing_mass": "90 g"})
    link = next(each for each in report.tables[0].links if "landing" in each)
    assert "root=4+in" in link
    assert "mass=90+g" in link


def test_differences_stand_out() -> None:
    """What is not the same for all is bold; what is, is not."""
    report = calculators.run("compare", {"b": "rocket=Owl&material=basswood"})
    rows = {row[0]: row[1:] for row in report.tables[0].rows}
    assert all(isinstance(text, Strong) for text in rows["Bare fins"])
    assert not any(isinstance(text, Strong) for text in rows["Top speed"])
    assert report.tables[1].rows[0][0] == "Material"
    assert "<b>" in html.table_html(report.tables[0], "inch")


def test_fins_of_one_outline_are_not_drawn_over_each_other() -> None:
    """One outline needs no picture; of three fins the two alike share a line."""
    report = calculators.run("compare", {"b": "material=basswood"})
    assert [figure.drawing for figure in report.figures] == ["side"]
    assert "limited by" in report.answers[0].note
    assert "Judged: flutter" in report.answers[0].note
    three = calculators.run("compare", {"b": "material=basswood", "c": "root=4 in"})
    fins = next(f for f in three.figures if f.drawing == "outlines").data["fins"]
    assert [each["letter"] for each in fins] == ["A, B", "C"]


def test_links_of_any_site_are_taken_and_strangers_refused() -> None:
    """A whole address or its query will do; a link to something else is refused by its letter."""
    link = "https://fins.example/rocket/whole/?root=4in&rocket=Owl"
    assert "B: Owl" in calculators.run("compare", {"b": link}).summary
    for text in ("https://fins.example/?colour=red", "hello", "root=" + "9" * 5000):
        outcome = calculators.ask("compare", {"c": text})
        assert set(outcome.errors) == {"c"}
    with pytest.raises(InputError):
        calculators.run("compare", {"b": "thickness=1 in"})


def test_a_column_has_one_unit() -> None:
    """Masses of a column are all in ounces or all in grams."""
    report = calculators.run("material-finder", {})
    text = html.table_html(report.tables[0], "inch")
    assert (" oz<" in text) != (" g<" in text)
