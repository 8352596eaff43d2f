"""Another sheet than planned: the fin check's own verdict, the thinnest that holds, the balance."""

from __future__ import annotations

from functools import cache
from urllib.parse import parse_qsl

import pytest

from calc import calculators, materials
from calc.calculators import judging
from calc.calculators.shared import Formatter
from calc.report import LowerLimit, Report, Strong, Table
from calc.units import parse

MOTOR = {"flight": "motor", "balance_point": "12 in", "rod": "3 m"}


@cache
def asked(*texts: tuple[str, str]) -> Report:
    """Return an answer, worked out once."""
    return calculators.run("substitute", dict(texts))


def run(**texts: str) -> Report:
    """Return the calculator's answer for input texts."""
    return asked(*texts.items())


def sizes(report: Report) -> Table:
    """Return the table of thicknesses."""
    return report.tables[1]


@pytest.mark.parametrize(
    "texts",
    [
        {},
        {"instead": "birch-plywood", **MOTOR},
        {"instead": "balsa", "instead_density": "12 lb/ft3", **MOTOR},
        {"instead": "glass-epoxy", "thickness": "3 mm", "edge": "rounded", "units": "metric"},
        {"instead_thickness": "1/32 in", **MOTOR},
        {"instead": "foam-board", "joint": "tab", **MOTOR},
    ],
)
def test_rows_are_the_fin_check_of_that_sheet(texts: dict[str, str]) -> None:
    """Each row's link opens a fin check of the same state, margin and mass."""
    report = run(**texts)
    table = sizes(report)
    assert len(table.rows) == len(table.links) >= 1
    planned = report.answer("set_mass").value - report.answer("added_mass").value
    for row, link in zip(table.rows, table.links, strict=True):
        page, _, query = link.partition("?")
        assert page == judging.FIN_CHECK
        there = calculators.run("fin-check", dict(parse_qsl(query)))
        assert there.verdict is not None
        assert row[2] == pytest.approx(there.verdict.margin, rel=1e-4)
        assert isinstance(row[2], LowerLimit) == bool(there.verdict.bound)
        assert judging.WORDS[there.verdict.state].lower() == row[1]
        change = there.answer("set_mass").value - planned
        assert row[4] == Formatter(texts.get("units", "inch")).more(change, like=planned)


@pytest.mark.parametrize("texts", [{}, MOTOR])
def test_the_planned_sheet_is_its_own_substitute(texts: dict[str, str]) -> None:
    """The same sheet instead of itself changes neither verdict nor mass nor balance."""
    same = run(instead="balsa", instead_thickness="1/8 in", **texts)
    there = calculators.run("fin-check", texts)
    assert same.verdict is not None
    assert there.verdict is not None
    assert same.verdict.margin == there.verdict.margin
    assert same.verdict.shortfall == there.verdict.shortfall
    assert same.verdict.covers == there.verdict.covers or "balance_point" not in texts
    assert same.answer("planned_margin").value == there.verdict.margin
    assert same.answer("added_mass").value == 0.0
    assert [m.margin for m in same.modes] == pytest.approx([m.margin for m in there.modes])


def test_verdicts_stand_side_by_side() -> None:
    """Planned and substitute show each margin that was judged of either, and never a bare word."""
    table = run(instead="birch-plywood", **MOTOR).tables[0]
    rows = {row[0]: row[1:] for row in table.rows}
    assert {"Flutter", "Divergence", "Bending at the root", "Landing", "Set of fins"} <= set(rows)
    assert all("margin" in words for words in rows["Verdict"])
    assert isinstance(rows["Set of fins"][1], Strong)


@pytest.mark.parametrize("least", ["1", "1.8"])
def test_thinnest_that_holds_with_the_margin_asked(least: str) -> None:
    """The size found has the margin; the next thinner one, by its fin check, does not hold so."""
    report = run(least_margin=least)
    assert report.verdict is not None
    assert report.verdict.state == "holds"
    assert report.verdict.margin >= float(least)
    rows = list(sizes(report).rows)
    best = next(place for place, row in enumerate(rows) if isinstance(row[0], Strong))
    assert report.answer("instead_thickness").value == pytest.approx(parse(rows[best][0], "length"))
    assert rows[best - 1][1] != "holds" or rows[best - 1][2] < float(least)
    sold = sorted({s.thickness for s in materials.load("basswood").stock if s.system == "inch"})
    place = next(
        i for i, t in enumerate(sold) if t == pytest.approx(parse(rows[best][0], "length"))
    )
    assert parse(rows[best - 1][0], "length") == pytest.approx(sold[place - 1])


def test_stiffness_grows_with_the_cube_of_the_thickness() -> None:
    """Half thicker diverges at 1.5 to the power 3/2 the speed: q is as the plate's stiffness."""
    thin = {"instead": "basswood", "instead_thickness": "0.4 mm", "speed": "15 m/s"}
    speeds = [
        next(m for m in run(**{**thin, "instead_thickness": t}).modes if m.name == "divergence")
        for t in ("0.4 mm", "0.6 mm")
    ]
    assert not any(margin.bound for margin in speeds)
    ratio = speeds[1].capacity.value / speeds[0].capacity.value
    # air a little less yielding at a few hundredths of Mach more
    assert ratio == pytest.approx(1.5**1.5, rel=0.02)


def test_mass_follows_density_and_thickness() -> None:
    """A weighed sheet weighs outline times thickness times density."""
    report = run(instead="balsa", instead_thickness="3 mm", instead_density="200 kg/m3")
    area = 0.5 * (3.0 + 1.5) * 2.5 * 0.0254**2
    assert report.answer("set_mass").value == pytest.approx(3 * area * 0.003 * 200.0, rel=1e-3)


def test_balance_moves_as_a_lever() -> None:
    """What is added at the fins moves the balance point by its share of the rocket's mass."""
    report = run(instead="birch-plywood", **MOTOR)
    added = report.answer("added_mass").value
    mass = parse("165 g", "mass")
    # centroid of the outline: roots end at the tail, nose 4 in and tube 16 in long
    a, b, m = 3.0, 1.5, 1.5
    centroid = (a * a + a * b + b * b + m * (a + 2.0 * b)) / (3.0 * (a + b))
    place = (20.0 - 3.0 + centroid) * 0.0254
    moved = added * (place - 12.0 * 0.0254) / (mass + added)
    assert report.answer("balance_shift").value == pytest.approx(moved, rel=1e-3)
    assert (
        report.answer("demand_speed").value
        < calculators.run("fin-check", MOTOR).answer("demand_speed").value
    )  # a heavier rocket is slower


def test_without_a_mass_stability_is_left_open() -> None:
    """At a known speed the rocket's mass is not known, so the substitute's balance is not said."""
    report = run(balance_point="12 in")
    assert report.verdict is not None
    assert not any(mode.name == "stability" for mode in report.modes)
    assert "stability" in report.verdict.covers.partition("Not judged")[2]
    assert any("balance point" in note for note in report.notes)


def test_what_does_not_hold_says_what_to_take() -> None:
    """Too thin a sheet fails and names a thicker one, one tap away, that holds."""
    report = run(instead_thickness="1/32 in")
    assert report.verdict is not None
    assert report.verdict.state == "fails"
    taken = next(change for change in report.changes if change.inputs)
    there = run(instead_thickness=taken.inputs["instead_thickness"])
    assert there.verdict is not None
    assert there.verdict.state == "holds"
    assert there.verdict.margin == pytest.approx(taken.margin)
    glued = next(change for change in report.changes if "face to face" in change.label)
    assert glued.margin is None
    assert "not judged" in glued.effect


def test_a_material_that_never_holds_is_not_said_to() -> None:
    """Where no stock sheet holds, the nearest is shown with its margin, and no size is bold."""
    report = run(instead="paper", speed="200 m/s")
    assert report.verdict is not None
    assert report.verdict.state == "fails"
    assert report.verdict.sentence.startswith("No stock sheet of Paper holds")
    assert not any(isinstance(row[0], Strong) for row in sizes(report).rows)


@pytest.mark.parametrize(
    ("texts", "field"),
    [
        ({"instead_thickness": "1 in"}, "instead_thickness"),
        ({"instead_density": "20 kg/m3"}, "instead_density"),
        ({"instead": "own"}, "instead"),
        ({"thickness": "1 in"}, "thickness"),
        ({"instead": "foam-board", "root": "10 mm", "span": "10 mm", "tip": "5 mm", "sweep": "0 in",
          "thickness": "1 mm"}, "instead"),
    ],
)  # fmt: skip
def test_refusals_stand_beside_their_field(texts: dict[str, str], field: str) -> None:
    """What cannot be used of the sheet at hand is told beside its own field."""
    assert set(calculators.ask("substitute", texts).errors) == {field}
