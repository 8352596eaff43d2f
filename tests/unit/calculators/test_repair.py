"""A damaged fin: only a new joint is judged; the rest is a limit that never says "holds"."""

from __future__ import annotations

from functools import cache
from urllib.parse import parse_qsl

import pytest

from calc import calculators, materials
from calc.calculators import judging, repair
from calc.fin.fin import Fin
from calc.geometry.planform import Planform
from calc.report import Report
from calc.structure import mended
from calc.units import parse
from calc.workshop import damage

SPORT = {"motor": "E", "thrust": "20 N", "rod": "3 m"}


@cache
def asked(*texts: tuple[str, str]) -> Report:
    """Return an answer, worked out once."""
    return calculators.run("repair", dict(texts))


def run(**texts: str) -> Report:
    """Return the calculator's answer for input texts."""
    return asked(*texts.items())


def margin(report: Report, name: str) -> float:
    """Return one margin of an answer."""
    return next(m.margin for m in report.modes if m.name == name)


@pytest.mark.parametrize("hurt", [kind for kind in repair.KINDS if kind != "joint"])
@pytest.mark.parametrize(
    "texts", [{"thickness": "1/4 in"}, {"thickness": "1/4 in", **SPORT}, {"thickness": "1/32 in"}]
)
def test_a_mended_fin_never_holds(hurt: str, texts: dict[str, str]) -> None:
    """Whatever is damaged but the joint, there is no "holds", and the advice stands there."""
    report = run(damage=hurt, **texts)
    assert report.verdict is not None
    assert report.verdict.state in ("unknown", "fails")
    assert report.verdict.bound != "at least"
    said = f"{report.summary} {report.verdict.sentence}".lower()
    assert "not judged" in said
    assert " holds" not in said
    assert report.tables[0].rows[0][1].startswith(("not judged", "does not hold", "do not fly"))


def test_a_new_joint_is_the_fin_check_on_that_motor() -> None:
    """A new joint on a whole fin has the verdict of the fin check one motor class lower."""
    report = run(rod="3 m")
    assert report.verdict is not None
    table = report.tables[0]
    for row, link in zip(table.rows, table.links, strict=True):
        page, _, query = link.partition("?")
        assert page == judging.FIN_CHECK
        there = calculators.run("fin-check", dict(parse_qsl(query)))
        assert there.verdict is not None
        assert f"{there.verdict.margin:.2f}" in row[1]
        if row is table.rows[0]:
            assert report.verdict.state == there.verdict.state == "holds"
            # a link writes the mass to a few digits
            assert report.verdict.margin == pytest.approx(there.verdict.margin, rel=1e-4)
    assert "motor=C" in table.links[0]
    assert "motor=C" not in table.links[1]  # the example's own class is the default


def test_a_weaker_glue_shows_in_the_new_joint() -> None:
    """The joint is judged as it will be made: a bare edge bears less than fillets."""
    bare = run(rod="3 m", joint="edge", adhesive="wood-glue")
    filleted = run(rod="3 m", joint="fillet", adhesive="wood-glue")
    assert margin(bare, "joint") < margin(filleted, "joint")


@pytest.mark.parametrize("texts", [{"joint": "none"}, {"material": "polycarbonate"}])
def test_a_joint_that_is_not_judged_never_holds(texts: dict[str, str]) -> None:
    """Without a judgement of the joint a new joint cannot be said to hold."""
    report = run(rod="3 m", **texts)
    if any(m.name == "joint" for m in report.modes):
        return
    assert report.verdict is not None
    assert report.verdict.state != "holds"


def test_end_grain_bears_a_quarter_of_the_wood() -> None:
    """Glued end to end at the root the limit is 25 % of strength over stress (Wood Handbook)."""
    butt, whole = run(damage="break", **SPORT), run(damage="far-break", **SPORT)
    bending = next(m for m in butt.modes if m.name == "bending")
    assert bending.bound == "at most"
    shape = Planform(root=0.08, tip=0.04, span=0.06, sweep=0.04)
    sheet = Fin(shape, materials.load("balsa"), parse("1/8 in", "length"), cut="B").layup()
    expected = 0.25 * sheet.plies[0].lamina.tension_along / bending.demand / bending.required
    assert bending.margin == pytest.approx(expected, rel=1e-6)
    assert bending.margin < margin(whole, "bending")


def test_a_flatter_scarf_has_the_higher_limit() -> None:
    """The limit grows with the slope, up to the unbroken wood, and its length is told."""
    limits = [
        margin(run(damage="break", mend="scarf", slope=slope, **SPORT), "bending")
        for slope in ("1", "4", "12")
    ]
    assert limits == sorted(limits)
    assert limits[1] / limits[0] == pytest.approx(0.4 / mended.END_GRAIN)
    assert limits[2] <= margin(run(damage="far-break", **SPORT), "bending")
    length = run(damage="break", mend="scarf", slope="12", **SPORT).answer("scarf_length").value
    assert length == pytest.approx(12 * parse("1/8 in", "length"))
    assert set(
        calculators.ask("repair", {"damage": "break", "mend": "scarf", "slope": "40"}).errors
    ) == {"slope"}


def test_unbroken_is_an_upper_bound() -> None:
    """No margin of the fin itself is promised, and none is larger than that of a whole fin."""
    report = run(damage="crack", **SPORT)
    whole = calculators.run(
        "fin-check", dict(parse_qsl(report.tables[0].links[0].partition("?")[2]))
    )
    assert {m.name for m in report.modes} == {m.name for m in whole.modes}
    for mode, other in zip(report.modes, whole.modes, strict=True):
        assert mode.margin <= other.margin * (1 + 1e-4)  # a link writes a few digits
        if mode.name in repair.OF_THE_FIN:
            assert not mode.known
            assert mode.bound == ("at least" if other.bound else "at most")


def test_weight_of_the_mending_counts() -> None:
    """Glue at the fins makes the rocket heavier, slower and less stable."""
    light, heavy = (
        run(damage="crack", added=a, balance_point="12 in", **SPORT) for a in ("0 g", "20 g")
    )
    assert heavy.answer("demand_speed").value < light.answer("demand_speed").value
    assert heavy.answer("thrust").value < light.answer("thrust").value
    # a lever about the nose: the fins' middle lies well behind the balance point
    assert margin(heavy, "stability") < margin(light, "stability")


def test_a_motor_too_weak_is_said() -> None:
    """Where one class lower has less than five times the weight, the answer says so."""
    report = run(motor="D", thrust="12 N", mass="250 g")
    assert report.verdict is not None
    assert "too weak" in report.verdict.sentence
    assert report.answer("thrust").value < 5.0


def test_advice_has_one_home() -> None:
    """What the field card lists of a family is what this page lists."""
    for name in ("balsa", "birch-plywood", "foam-board", "glass-epoxy"):
        card = calculators.run(
            "field-card", {"material": name, "thickness": "1/8 in", "only": "balsa"}
        )
        mine = run(material=name, thickness="1/8 in", damage="gone")
        listed = next(t for t in card.tables if t.title == "If it is damaged").rows
        assert mine.tables[1].rows[: len(listed)] == listed
    assert damage.advice("plywood", "crack").fly == "No"
