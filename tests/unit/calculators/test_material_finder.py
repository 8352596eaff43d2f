"""The material finder: filters, order, links and what it says when nothing holds."""

from __future__ import annotations

import re
from urllib.parse import parse_qsl

import pytest

from calc import calculators
from calc.calculators import judging, material_finder
from calc.errors import InputError
from calc.render.html import result_html, table_html
from calc.report import LowerLimit, Report, as_json


def run(**texts: str) -> Report:
    """Return the calculator's answer for input texts."""
    return calculators.run("material-finder", {"only": "balsa, plywood, paper", **texts})


@pytest.fixture(scope="module")
def report() -> Report:
    """Run once over a handful of materials, with a motor."""
    return run(flight="motor", motor="E", thrust="30 N", mass="250 g")


def test_lightest_first(report: Report) -> None:
    """Rows are in order of mass, and the verdict names the first."""
    table = report.tables[0]
    masses = [row[2] for row in table.rows]
    assert masses == sorted(masses)
    assert report.verdict is not None
    assert str(table.rows[0][0]) in report.verdict.sentence
    assert report.answer("lightest_mass").value == masses[0]


def test_links_open_the_same_fin(report: Report) -> None:
    """Each row's link fills the fin check so that it gives the row's margin and mass."""
    table = report.tables[0]
    names = [column.name for column in table.columns]
    for row, link in zip(table.rows, table.links, strict=True):
        page, _, query = link.partition("?")
        assert page == judging.FIN_CHECK
        there = calculators.run("fin-check", dict(parse_qsl(query)))
        assert there.verdict is not None
        assert there.verdict.state == "holds"
        # another fin changes nothing about the rod, which the finder leaves to the fin check
        smallest = min(mode.margin for mode in there.modes if mode.name != "rod")
        assert smallest == pytest.approx(row[names.index("margin")], rel=1e-3)
        assert there.answer("set_mass").value == pytest.approx(row[2], rel=1e-3)


def test_height_lost_is_none_for_the_lightest(report: Report) -> None:
    """Height lost counts from the lightest set and grows with mass."""
    table = report.tables[0]
    lost = [row[[c.name for c in table.columns].index("lost")] for row in table.rows]
    assert lost[0] == 0.0
    per_gram = report.answer("height_per_gram").value
    assert lost[-1] == pytest.approx(per_gram * 1e3 * (table.rows[-1][2] - table.rows[0][2]))


def test_what_fails_is_told(report: Report) -> None:
    """Paper does not hold and its row says why."""
    rows = {row[0]: row for row in report.tables[1].rows}
    assert rows["Paper"][3] == "does not hold"
    assert re.search(r"margin 0\.\d\d", rows["Paper"][4])


def test_what_decides_is_seen_first(report: Report) -> None:
    """What a phone shows is the sheet with its margin, mass and price; grades of work come last."""
    names = [column.name for column in report.tables[0].columns]
    assert names[:4] == ["material", "margin", "mass", "price"]
    assert names[-2:] == ["bench", "finish"]


def test_margin_at_a_limit_says_at_least() -> None:
    """A margin of which only a limit is known is written so and has no range."""
    table = run(only="composite", speed="260 m/s", joint="none").tables[0]
    names = [column.name for column in table.columns]
    margin, spread = names.index("margin"), names.index("spread")
    limited = [row for row in table.rows if isinstance(row[margin], LowerLimit)]
    assert limited
    for row in limited:
        assert row[spread] is None
    assert table_html(table, "metric").count(">at least ") == len(limited)


def test_filters() -> None:
    """Families, single materials and the hardest work narrow the choice."""
    names = {m.name for m in material_finder.chosen("wood, plywood", "balsa", 5)}
    assert "birch-plywood" in names
    assert "balsa" not in names
    assert "foam-board" not in names
    easy = material_finder.chosen(None, None, 3)
    assert all(m.workability[key].grade <= 3 for m in easy for key in ("cut", "shape", "finish"))
    shaped = material_finder.chosen(None, None, 5, "airfoil")
    assert not any(m.kind == "faced-core" for m in shaped)
    with pytest.raises(InputError) as caught:
        material_finder.chosen("unobtainium", None, 5)
    assert caught.value.name == "only"
    with pytest.raises(InputError):
        material_finder.chosen("balsa", "balsa", 5)


def test_nothing_holds() -> None:
    """When nothing holds the verdict says so, names the nearest and gives its margin."""
    found = calculators.run("material-finder", {"only": "paper", "speed": "250 m/s"})
    assert found.verdict is not None
    assert found.verdict.state == "fails"
    assert "comes nearest" in found.verdict.sentence
    assert found.summary.startswith("None of")
    assert found.cautions


def test_limits_are_limits_in_every_form_of_the_answer() -> None:
    """A margin with only a lower limit says "at least" on the page, in JSON and in tables."""
    texts = {"only": "carbon-epoxy-woven", "joint": "none"}
    report = calculators.run("material-finder", texts)
    assert report.verdict is not None
    assert report.verdict.bound == "at least"
    assert report.verdict.low is None
    out = as_json(report, {}, version="1")
    assert out["verdict"]["bound"] == "at least"
    assert [0, "margin"] in out["tables"][0]["at_least"]
    page = result_html(report, units="inch")
    assert f"margin at least {report.verdict.margin:.2f}" in page


def test_field_card_says_at_least_in_its_verdict() -> None:
    """The card's verdict is a limit where the model ends before the fin does."""
    texts = {"thickness": "1/4in", "material": "carbon-epoxy-woven", "rod": "10 m"}
    report = calculators.run("field-card", {**texts, "descent": "none", "joint": "none"})
    assert report.verdict is not None
    assert report.verdict.bound == "at least"


def test_own_prices_are_not_called_invented() -> None:
    """The note that prices are invented stands only where the reader gave none."""
    texts = {"only": "balsa"}
    invented = "Prices are invented"
    listed = {**texts, "price_list": "balsa 1/8 in 3x36in 2.60"}
    assert any(invented in note for note in calculators.run("material-finder", texts).notes)
    assert not any(invented in note for note in calculators.run("material-finder", listed).notes)


def test_the_verdict_says_what_is_judged_of_every_material(report: Report) -> None:
    """Fin, joint and landing are; the rod and stability are not, which stands beside them."""
    assert report.verdict is not None
    judged, _, left_out = report.verdict.covers.partition(" Not judged: ")
    assert "landing" in judged
    assert "the joint" in judged
    assert left_out.startswith("speed off the rod and stability")
    unflown = run(joint="none").verdict
    assert unflown is not None
    assert "the joint (say how it is glued)" in unflown.covers
