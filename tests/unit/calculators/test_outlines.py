"""Any outline in every calculator with a fin: one fin, one answer, however it is typed."""

import json
import math
import re
from typing import Any
from urllib.parse import parse_qsl

import numpy as np
import pytest

from calc import calculators
from calc.air import atmosphere
from calc.calculators import cutting_plan, shared
from calc.errors import InputError
from calc.fin import check
from calc.fin.fin import Fin, Point
from calc.frontends import browser
from calc.geometry.free_outline import EdgeLine, FreeOutline, Piece
from calc.geometry.planform import Planform
from calc.materials import load
from calc.render.svg import fin
from calc.report import Report

WITH_FIN = tuple(
    slug
    for slug in calculators.SLUGS
    if {"outline", "root"} <= {item.name for item in calculators.load(slug).inputs}
)
QUICK = tuple(slug for slug in WITH_FIN if not calculators.load(slug).slow)
ELLIPSE = {"outline": "ellipse", "root": "80 mm", "span": "60 mm", "sweep": "25 mm"}
FIVE = {"outline": "corners", "points": "0,0 40,45 70,60 95,48 85,0 mm", "radius": "4 mm"}


def numbers(report: Report) -> dict[str, float]:
    """Return the numbers of an answer by name."""
    return {answer.name: answer.value for answer in report.answers}


def test_every_calculator_with_a_fin_takes_outlines() -> None:
    """The inputs are declared once, so no calculator with a root chord is without them."""
    assert len(WITH_FIN) >= 9
    for slug in calculators.SLUGS:
        names = {item.name for item in calculators.load(slug).inputs}
        if {"root", "tip", "span", "sweep"} <= names:
            assert {"outline", "points", "radius"} <= names


@pytest.mark.parametrize("slug", QUICK)
@pytest.mark.parametrize("texts", [ELLIPSE, FIVE], ids=["ellipse", "corners"])
def test_every_calculator_answers(slug: str, texts: dict[str, str]) -> None:
    """Every calculator has an answer and a picture for an ellipse and for rounded corners."""
    answer = json.loads(browser.answer(slug, json.dumps(texts)))
    assert answer["errors"] == {}
    assert answer["summary"]
    assert "<svg" in answer["fragments"]["drawing"]


@pytest.mark.parametrize("slug", WITH_FIN)
def test_impossible_corners_are_told_beside_their_field(slug: str) -> None:
    """Crossing edges are refused beside the corners, and the corner is named."""
    texts = {"outline": "corners", "points": "0,0 2,2 1,2 3,0 in"}
    answer = json.loads(browser.answer(slug, json.dumps(texts)))
    assert "corner 3" in answer["errors"]["points"]


def test_same_fin_by_corners() -> None:
    """The example fin typed as corners is the example fin, to the last number."""
    by_size = numbers(calculators.run("fin-check", {}))
    by_corners = numbers(calculators.run("fin-check", {"outline": "corners"}))
    assert by_corners == pytest.approx(by_size, rel=1e-6)


def test_shortcut_of_straight_edges() -> None:
    """Margins of a trapezoid and of the same fin without its shortcut agree to a millionth."""
    fin = Planform(root=0.0762, tip=0.0381, span=0.0635, sweep=0.0381)
    front = Piece(0.0, fin.span, 0.0, 0.0, fin.sweep / fin.span)
    rear = Piece(0.0, fin.span, fin.root, 0.0, (fin.sweep + fin.tip - fin.root) / fin.span)
    general = FreeOutline(EdgeLine((front,)), EdgeLine((rear,)), fin.sweep_leading)
    point = Point(speed=250.0, air=atmosphere.at(100.0))
    for speed in (250.0, 450.0):
        point = Point(speed=speed, air=atmosphere.at(100.0))
        ours, known = (
            check.check(Fin(shape, load("balsa"), 0.0016, grain=0.2), point).margins
            for shape in (general, fin)
        )
        assert [m.ratio for m in ours] == pytest.approx([m.ratio for m in known], rel=1e-6)


def test_many_corners_make_an_ellipse() -> None:
    """An ellipse typed as fifty corners answers as the ellipse: within half a per cent."""
    t = np.linspace(0.0, math.pi, 50)
    y = 60.0 * np.sin(t)
    x = 40.0 - 40.0 * np.cos(t) + 25.0 * y / 60.0
    typed = " ".join(f"{a:.4f},{abs(b):.4f}" for a, b in zip(x, y, strict=True)) + " mm"
    datum = math.degrees(math.atan2(x[np.argmax(y)], 60.0) - math.atan2(25.0, 60.0))
    smooth = {**ELLIPSE, "speed": "200 m/s"}
    many = {"outline": "corners", "points": typed, "grain": f"{-datum:.6f}", "speed": "200 m/s"}
    one, other = (numbers(calculators.run("fin-check", texts)) for texts in (smooth, many))
    for name in ("flutter_speed", "divergence_speed", "fin_mass", "frequency_1", "frequency_2"):
        assert other[name] == pytest.approx(one[name], rel=5e-3)
    assert other["root_moment"] == pytest.approx(one["root_moment"], rel=1e-2)


def test_mass_is_that_of_the_area() -> None:
    """The mass of a square-edged half ellipse is area times thickness times density."""
    texts = {**ELLIPSE, "thickness": "3 mm", "density": "160 kg/m3"}
    expected = math.pi / 4.0 * 0.08 * 0.06 * 0.003 * 160.0
    assert numbers(calculators.run("fin-check", texts))["fin_mass"] == pytest.approx(expected)


def test_small_radius_changes_little() -> None:
    """Rounding the tip's corners by next to nothing is no other fin; by much it is lighter."""
    sharp, tiny, round_ = (
        numbers(calculators.run("fin-check", {"radius": radius}))
        for radius in ("0 in", "0.01 mm", "15 mm")
    )
    for name in ("flutter_speed", "divergence_speed", "fin_mass", "frequency_1"):
        assert tiny[name] == pytest.approx(sharp[name], rel=1e-3)
    assert round_["fin_mass"] < 0.99 * sharp["fin_mass"]
    assert round_["frequency_1"] > sharp["frequency_1"]


def test_span_cut_by_a_tenth_opens_that_fin() -> None:
    """What would change it names inputs that give the margin it promises."""
    for texts in (ELLIPSE, FIVE, {"radius": "5 mm"}):
        report = calculators.run("fin-check", texts)
        change = next(one for one in report.changes if one.label == "Span cut by a tenth")
        there = calculators.run("fin-check", {**texts, **change.inputs})
        assert there.verdict is not None
        assert there.verdict.margin == pytest.approx(change.margin, rel=2e-3)


def test_links_keep_corners() -> None:
    """A row of the material finder leads to the same corners in the fin check."""
    report = calculators.run("material-finder", {**FIVE, "only": "balsa"})
    given = dict(parse_qsl(report.tables[0].links[0].partition("?")[2]))
    values, errors = calculators.load("fin-check").read(given)
    assert not errors
    typed, _ = calculators.load("fin-check").read(FIVE)
    assert shared.outline_of(values) == shared.outline_of(typed)


def plan(**texts: str) -> Any:
    """Return the cutting plan's first part."""
    values, errors = cutting_plan.CALCULATOR.read(cutting_plan.CALCULATOR.complete(texts))
    assert not errors
    return cutting_plan.fin_part(values)


def test_cutting_plan_cuts_the_outline() -> None:
    """The part has the outline's area; older links for a fin and for any part still open."""
    part = plan(**ELLIPSE)
    assert part.area == pytest.approx(math.pi / 4.0 * 0.08 * 0.06, rel=1e-3)
    assert plan(shape="fin").area == plan().area
    assert plan(shape="points").area == pytest.approx(0.5 * 4.5 * 2.5 * 0.0254**2)
    report = calculators.run("cutting-plan", {**FIVE, "tries": "0"})
    assert numbers(report)["parts"] == 4.0


def test_neck_and_notch_are_refused() -> None:
    """Where the plate would be two plates or a thread, no number is given."""
    with pytest.raises(InputError, match="points"):
        calculators.run("fin-check", {"outline": "corners",
                                      "points": "0,0 29,20 10,40 60,40 31,20 60,0 mm"})  # fmt: skip


@pytest.mark.parametrize("slug", [s for s in WITH_FIN if s not in ("cutting-plan", "rocket")])
@pytest.mark.parametrize("texts", [{}, ELLIPSE, FIVE], ids=["straight", "ellipse", "corners"])
def test_handles_set_the_inputs_they_stand_for(slug: str, texts: dict[str, str]) -> None:
    """Every handle lies where its inputs put it: reading it back gives the typed value."""
    calculator = calculators.load(slug)
    values, errors = calculator.read(texts)
    assert not errors
    assert calculator.drawing is not None
    figure = calculator.drawing(values)
    assert figure is not None
    hand = figure.data["drag"]
    known = {item.name for item in calculator.inputs}
    for handle in hand["handles"]:
        for each in handle["sets"]:
            assert each["input"] in known
            if each["input"] == "points":
                x, y = values["points"][each["index"]]
                assert (handle["x"] + hand["shape"]["start"], handle["y"]) == pytest.approx((x, y))
            elif each["input"] == "grain":
                assert each["zero"] - values["grain"] == pytest.approx(figure.data["theta"])
            else:
                found = handle[each["axis"]] - each["minus"]
                assert found == pytest.approx(values[each["input"]])


def test_thickness_is_pulled_where_it_was_typed() -> None:
    """The section has a handle on its face; where a thickness is sought there is none."""
    values, _ = calculators.load("fin-check").read({"thickness": "3/32 in"})
    figure = calculators.load("fin-check").drawing(values)  # type: ignore[misc]
    assert figure is not None
    hand = fin.handles(figure, units="inch")
    assert hand is not None
    (pulled,) = (one for one in hand["handles"] if one["id"] == "thickness")
    assert pulled["y"] == pytest.approx(3 / 32 * 0.0254)
    # the handle's place is the upper face of the section as it is drawn
    upper = hand["section"]["middle"] - 0.5 * hand["section"]["scale"] * pulled["y"]
    svg = fin.fin(figure, units="inch", id="a")
    drawn = re.findall(r'class="d-wood"[^>]* d="M([^Z]*)Z"/><clipPath', svg)[-1]
    heights = [float(text) for text in re.split(r"[ L]", drawn)[1::2]]
    assert min(heights) == pytest.approx(upper, abs=0.1)
    assert max(heights) == pytest.approx(2.0 * hand["section"]["middle"] - upper, abs=0.1)
    values, _ = calculators.load("material-finder").read({})
    figure = calculators.load("material-finder").drawing(values)  # type: ignore[misc]
    assert figure is not None
    assert all(one["id"] != "thickness" for one in figure.data["drag"]["handles"])


@pytest.mark.parametrize(
    ("texts", "coarse"),
    [({"span": "75 mm"}, True), ({**FIVE, "speed": "250 m/s"}, False)],
    ids=["refined", "not"],
)
def test_glance_is_the_verdict_of_the_answer(texts: dict[str, str], coarse: bool) -> None:
    """What follows a dragged corner is the answer's own verdict, and its errors by field.

    Where it leaves something out its flutter may be some per cent off, and it says so.
    """
    asked = json.dumps(texts)
    full = json.loads(browser.answer("fin-check", asked))
    glance = json.loads(browser.glance("fin-check", asked))
    again = json.loads(browser.answer("fin-check", asked))
    assert again == full, "a glance must leave nothing behind"
    result, first = full["fragments"]["result"], glance["first"]
    assert first.count(browser.COARSE) == coarse
    assert browser.COARSE not in result
    if not coarse:
        assert glance["summary"] == full["summary"]
        assert result.startswith(first)
    margin, near = (
        float(re.findall(r"margin (?:≥ )?([\d.]+)", each["summary"])[0]) for each in (full, glance)
    )
    assert near == pytest.approx(margin, rel=0.1)
    assert "changes" not in first


def test_glance_says_what_it_must() -> None:
    """Errors stand by their field, a slow calculator has none, and a landing has no flutter."""
    landing = json.loads(browser.glance("landing", "{}"))
    assert landing["first"]
    assert browser.COARSE not in landing["first"]
    bad = json.loads(browser.glance("fin-check", json.dumps({"span": "wide"})))
    assert list(bad["errors"]) == ["span"]
    assert bad["first"] is None
    assert json.loads(browser.glance("material-finder", "{}"))["first"] is None
