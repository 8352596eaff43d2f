"""A tab through the wall is part of the part: cut, nested, drawn, weighed and judged."""

from __future__ import annotations

import io
import re
from itertools import pairwise
from urllib.parse import parse_qsl

import ezdxf
import numpy as np
import pytest
from ezdxf import path as dxf_path
from shapely import Polygon
from shapely.ops import polygonize

from calc import calculators
from calc.calculators import cutting_plan, judging, shared
from calc.render.svg import fin as picture
from calc.report import Report

INCH = 25.4
TAB = {"joint": "tab", "tab": "3/8 in", "tab_start": "1/2 in", "tab_length": "2 in"}
NOTCHED = {**TAB, "tab_notches": "1/4 1.5 in", "notch_width": "1/8 in", "notch_depth": "1/4 in"}
NOTCHES = 2 * 0.125 * 0.25
"""Area of both notches, in square inches."""
SHAPES = {
    "straight": {},
    "ellipse": {"outline": "ellipse", "sweep": "0 in"},
    "rounded": {"outline": "corners", "points": "0,0 1.5,2.5 3,2.6 3.2,0 in", "radius": "1/4 in"},
}


def answered(slug: str, **texts: str) -> Report:
    """Return a calculator's answer."""
    outcome = calculators.ask(slug, texts)
    assert outcome.errors == {}
    assert outcome.report is not None
    return outcome.report


def value(report: Report, name: str) -> float:
    """Return one number of an answer."""
    return next(item.value for item in report.answers if item.name == name)


def refused(slug: str, **texts: str) -> str:
    """Return the one input that is refused."""
    (name,) = calculators.ask(slug, texts).errors
    return name


@pytest.mark.parametrize("texts", SHAPES.values(), ids=SHAPES)
def test_templates_and_nesting_carry_the_tab(texts: dict[str, str]) -> None:
    """The outline that an independent reader finds in the DXF has the tab's corners and area."""
    own = {"tries": "2", "count": "1", "sheet": "own", "sheet_width": "8 in", "pieced": "no"}
    bare, tabbed = (
        calculators.make("cutting-plan", {**own, **texts, **more}, "dxf").content
        for more in ({}, TAB)
    )
    areas = []
    for content in (bare, tabbed):
        assert isinstance(content, bytes)
        space = ezdxf.read(io.StringIO(content.decode("cp1252"))).modelspace()
        lines = []
        for entity in space.query('*[layer=="CUT"]'):
            points = [(p.x, p.y) for p in dxf_path.make_path(entity).flattening(0.001)]
            lines += [tuple((round(x, 3), round(y, 3)) for x, y in ends)
                      for ends in pairwise(points)]  # fmt: skip
        (found,) = polygonize([line for line in lines if line[0] != line[1]])
        areas.append(found.area)
    assert areas[1] - areas[0] == pytest.approx(2 * INCH * 0.375 * INCH, rel=2e-3)
    values, _ = calculators.load("cutting-plan").read({**own, **texts, **TAB})
    part = cutting_plan.parts_of(values)[0]
    low = np.array(part.outline)
    inner = low[np.isclose(low[:, 1], -0.375 * INCH / 1e3)]
    assert sorted(inner[:, 0]) == pytest.approx([0.0127, 0.0635])
    plan = cutting_plan.plan_of(values)
    placed = Polygon(plan.sheets[0].placements[0].polygon)
    assert placed.area == pytest.approx(areas[1] * 1e-6, rel=2e-3)


def test_tab_along_the_whole_root_has_no_corner_twice() -> None:
    """Where start and length are not given the tab continues both ends of the root."""
    values, _ = calculators.load("cutting-plan").read({"joint": "tab", "tab": "10 mm"})
    outline = cutting_plan.parts_of(values)[0].outline
    assert len(outline) == len(set(outline)) == 6
    assert Polygon(outline).area == pytest.approx(
        (1.5 + 3) / 2 * 2.5 * 0.0254**2 + 3 * 0.0254 * 0.010
    )


@pytest.mark.parametrize(
    ("slug", "name", "each"),
    [
        ("weight-effect", "set_mass", 3),
        ("weight-effect", "fin_mass", 1),
        ("fin-check", "fin_mass", 1),
        ("fin-check", "set_mass", 3),
        ("cutting-plan", "part_mass", 4),
    ],
)
def test_mass_includes_the_tab(slug: str, name: str, each: int) -> None:
    """Every sum of masses grows by density times the tab's volume, for each fin."""
    stock = {"material": "balsa", "density": "160 kg/m3", "thickness": "1/8 in"}
    if slug == "cutting-plan":
        stock["tries"] = "2"
    more = value(answered(slug, **stock, **TAB), name) - value(answered(slug, **stock), name)
    assert more == pytest.approx(each * 160 * 2 * 0.375 * 0.125 * 0.0254**3, rel=1e-6)


def test_balance_knows_where_the_tab_lies() -> None:
    """A tab farther aft moves the balance point aft, by its mass times the way over the whole."""
    short = {**TAB, "tab_length": "1 in", "added": "0 g"}
    front, rear = (
        answered("weight-effect", **{**short, "tab_start": start}) for start in ("0 in", "2 in")
    )
    values, _ = calculators.load("weight-effect").read(short)
    fin = shared.fin_of(values)
    tab = shared.tab_of(values, fin.planform.root)
    assert tab is not None
    moved = 3 * tab.mass(fin) * 2 * 0.0254 / value(front, "mass")
    found = value(rear, "centre_of_gravity") - value(front, "centre_of_gravity")
    assert value(front, "mass") == value(rear, "mass")
    assert found == pytest.approx(moved, rel=1e-6)


@pytest.mark.parametrize("slug", ["weight-effect", "cutting-plan"])
@pytest.mark.parametrize("joint", ["usual", "edge", "fillet"])
def test_nothing_changes_without_a_tab(slug: str, joint: str) -> None:
    """Whatever is left of a tab's sizes in the form counts for nothing under another joint."""
    texts = {"tries": "2"} if slug == "cutting-plan" else {}
    bare = answered(slug, **texts)
    assert answered(slug, **{**texts, **TAB, "joint": joint}).answers == bare.answers


def test_a_tab_along_part_of_the_root_is_not_counted_for_strength() -> None:
    """It is judged as fillets alone and says so; along the whole root it counts as ever."""
    whole = answered("root-joint", joint="tab")
    part = answered("root-joint", joint="tab", tab_length="2 in")
    fillet = answered("root-joint", joint="fillet")
    assert value(part, "margin") == value(fillet, "margin") < value(whole, "margin")
    assert any("part of the root" in note for note in part.notes)
    assert not any("part of the root" in note for note in whole.notes)
    for slug in ("fin-check", "root-joint"):
        told = answered(slug, joint="tab", tab_length="2 in")
        assert any("part of the root" in note for note in told.notes)
    told = answered("root-joint", joint="tab", tab_length="3 in")
    assert value(told, "margin") == value(whole, "margin")


@pytest.mark.parametrize("slug", ["root-joint", "weight-effect", "cutting-plan", "fin-check"])
def test_a_tab_off_the_root_is_refused_by_its_field(slug: str) -> None:
    """It neither starts behind the root nor ends behind it."""
    assert refused(slug, joint="tab", tab_start="3.5 in") == "tab_start"
    assert refused(slug, joint="tab", tab_start="2 in", tab_length="2 in") == "tab_length"


@pytest.mark.parametrize("texts", SHAPES.values(), ids=SHAPES)
def test_notches_are_cut_and_nested(texts: dict[str, str]) -> None:
    """Parts that lie on the sheet are valid, clear of each other, and lack just the notches."""
    own = {"tries": "2", "count": "4", "sheet": "own", "sheet_width": "8 in", "pieced": "no"}
    areas = []
    for more in (TAB, NOTCHED):
        values, _ = calculators.load("cutting-plan").read({**own, **texts, **more})
        plan = cutting_plan.plan_of(values)
        laid = [[Polygon(placed.polygon) for placed in one.placements] for one in plan.sheets]
        assert all(each.is_valid for sheet in laid for each in sheet)
        for sheet in laid:
            for number, each in enumerate(sheet):
                assert all(each.distance(other) > 0.0 for other in sheet[:number])
        areas.append(laid[0][0].area)
        part = cutting_plan.parts_of(values)[0]
        assert part.area == pytest.approx(areas[-1])
    assert areas[0] - areas[1] == pytest.approx(NOTCHES * 0.0254**2, rel=1e-6)
    corners = {(round(x / 0.0254, 4), round(y / 0.0254, 4)) for x, y in part.outline}
    # the tab begins half an inch behind the root's front
    for place in (0.75, 2.0):
        for x in (place, place + 0.125):
            assert {(x, -0.375), (x, -0.125)} <= corners


@pytest.mark.parametrize("make", ["svg", "dxf", "pdf-a4", "parts-letter"])
def test_every_template_can_be_made_with_notches(make: str) -> None:
    """Drawing, cutter outlines and pages differ from those of the plain tab."""
    plain, notched = (
        calculators.make("cutting-plan", {"tries": "0", **texts}, make).content
        for texts in (TAB, NOTCHED)
    )
    assert plain != notched


@pytest.mark.parametrize(
    ("slug", "name", "each"),
    [
        ("weight-effect", "set_mass", 3),
        ("fin-check", "fin_mass", 1),
        ("cutting-plan", "part_mass", 4),
    ],
)
def test_mass_lacks_the_notches(slug: str, name: str, each: int) -> None:
    """Every sum of masses is less by density times the notches' volume, for each fin."""
    stock = {"material": "balsa", "density": "160 kg/m3", "thickness": "1/8 in"}
    if slug == "cutting-plan":
        stock["tries"] = "2"
    less = value(answered(slug, **stock, **TAB), name) - value(
        answered(slug, **stock, **NOTCHED), name
    )
    assert less == pytest.approx(each * 160 * NOTCHES * 0.125 * 0.0254**3, rel=1e-6)


def test_area_and_centre_of_a_notched_tab_by_hand() -> None:
    """A tab of 60 x 10 mm from 5 mm on with a notch of 10 x 5 mm 10 mm behind its front."""
    tab = shared.Tab(0.005, 0.060, 0.010, (0.010,), 0.010, 0.005)
    assert tab.area == pytest.approx(550e-6)
    assert tab.centre == pytest.approx(0.005 + (600 * 30 - 50 * 15) / 550 * 1e-3)
    assert tab.notched == pytest.approx(1 / 6)
    shape = Polygon(tab.corners)
    assert shape.is_valid
    assert (shape.area, shape.centroid.x) == pytest.approx((tab.area, tab.centre))


def _tab(**texts: str) -> shared.Tab:
    values, errors = calculators.load("root-joint").read({"joint": "tab", **texts})
    assert errors == {}
    tab = shared.tab_of(values, values["root"])
    assert tab is not None
    return tab


def test_a_notch_is_half_the_tab_deep_where_nothing_is_said() -> None:
    """The ring takes the other half."""
    assert _tab(tab="10 mm", tab_notches="20 mm").notch_depth == pytest.approx(0.005)
    assert _tab(tab="10 mm").notch_depth == 0.0


@pytest.mark.parametrize(
    ("texts", "name", "word"),
    [
        ({"tab_notches": "0 mm"}, "tab_notches", "notch 1, clear of the tab's front"),
        ({"tab_notches": "10 12 mm"}, "tab_notches", "notch 2, clear of notch 1"),
        ({"tab_notches": "10 59 mm"}, "tab_notches", "notch 2"),
        ({"tab_notches": "2 mm", "notch_width": "50 mm", "tab_length": "40 mm"}, "tab_notches",
         "no room for notch 1"),
        ({"tab_notches": "10 mm", "notch_depth": "10 mm"}, "notch_depth", "at most 9 mm"),
        ({"tab_notches": "30 10 mm"}, "tab_notches", "rise from the front"),
        ({"tab_notches": "1 1/2 in"}, "tab_notches", "1.5 in"),
        ({"tab_notches": "10"}, "tab_notches", "with a unit"),
        ({"tab_notches": "here"}, "tab_notches", "with a unit"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("slug", ["root-joint", "cutting-plan", "weight-effect", "fin-check"])
def test_a_notch_that_cannot_be_is_refused_by_its_field(
    slug: str, texts: dict[str, str], name: str, word: str
) -> None:
    """The message says which notch, and where it could lie."""
    given = {"joint": "tab", "tab": "10 mm", "root": "60 mm", "notch_width": "3 mm"}
    errors = calculators.ask(slug, {**given, **texts}).errors
    assert set(errors) == {name}
    assert word in errors[name].accepts


@pytest.mark.parametrize(("place", "fits"), [("1 mm", True), ("0.9 mm", False), ("56 mm", True),
                                             ("56.1 mm", False)])  # fmt: skip
def test_a_millimetre_of_the_tab_is_left_beside_a_notch(place: str, fits: bool) -> None:
    """A notch of 3 mm in a tab of 60 mm lies between 1 and 56 mm."""
    texts = {"joint": "tab", "root": "60 mm", "notch_width": "3 mm", "tab_notches": place}
    assert (calculators.ask("root-joint", texts).errors == {}) is fits


def test_notches_take_from_the_glued_length() -> None:
    """What the tab's end bears falls with the share that the notches leave, and the step says it.

    A softer tab turns more, which moves the low end of the band by far less.
    """
    plain = {"joint": "tab", "fillet": "0 in", "root": "3 in", "wall": "1.5 mm"}
    cut = {**plain, "tab_notches": "1 2 in", "notch_width": "0.15 in"}
    ends = []
    for texts in (plain, cut):
        modes = answered("root-joint", **texts).modes
        ends.append(next(m for m in modes if m.name == "glue at the tab's end").capacity.value)
    assert ends[1] / ends[0] == pytest.approx(1.0 - 2 * 0.15 / 3.0, rel=1e-3)
    step = next(s for s in answered("root-joint", **cut).steps if s.title == "The tab")
    assert "leave 90% of its inner end" in step.result


@pytest.mark.parametrize(("width", "counts"), [("0.74 in", True), ("0.76 in", False)])
def test_a_tab_cut_to_a_remnant_is_not_counted(width: str, counts: bool) -> None:
    """Two notches of a quarter root each, half as deep as the tab, are the limit."""
    report = answered("root-joint", joint="tab", tab_notches="0.5 1.75 in", notch_width=width)
    assert counts is not any("wood between them" in note for note in report.notes)
    fillet = answered("root-joint", joint="fillet")
    assert (value(report, "margin") == value(fillet, "margin")) is not counts
    if not counts:
        change = next(c for c in report.changes if "without notches" in c.label)
        again = answered("root-joint", **dict(change.inputs))
        assert value(again, "margin") == pytest.approx(change.margin, rel=1e-6)


def test_notches_count_for_nothing_under_another_joint() -> None:
    """What is left of them in the form changes no answer without a tab."""
    bare = answered("weight-effect", joint="fillet")
    assert answered("weight-effect", **{**NOTCHED, "joint": "fillet"}).answers == bare.answers


def _drawn(slug: str, **texts: str) -> tuple[str, dict[str, object] | None]:
    """Return the fin's picture and what the page can drag in it."""
    calculator = calculators.load(slug)
    assert calculator.drawing is not None
    figure = calculator.drawing(calculator.read(texts)[0])
    assert figure is not None
    return picture.fin(figure, units="inch", id="a"), picture.handles(figure, units="inch")


@pytest.mark.parametrize("slug", ["fin-check", "root-joint", "weight-effect", "material-finder"])
def test_picture_shows_and_names_the_tab(slug: str) -> None:
    """A dashed outline inside the tube, and the description gives its sizes and its notches."""
    bare, before = _drawn(slug)
    drawn, after = _drawn(slug, **NOTCHED)
    assert "through the wall" not in bare
    found = re.search(r"<desc[^>]*>(.*?)</desc>", drawn)
    assert found is not None
    assert "a tab through the wall, 3/8 in deep and 2 in long" in found[1]
    assert "from 1/2 in behind the root" in found[1]
    assert "with 2 notches for rings" in found[1]
    assert drawn.count('"d-dash') == bare.count('"d-dash') + 1
    assert after == before


def test_an_impossible_tab_leaves_the_fin_in_its_picture() -> None:
    """So that a root dragged shorter than the tab can be dragged back."""
    drawn, handles = _drawn("fin-check", joint="tab", tab_length="2 in", root="1.9 in")
    assert handles is not None
    assert "through the wall" not in drawn


def test_materials_are_compared_with_the_tab() -> None:
    """Each row weighs what the fin check that it opens weighs, and the table says so."""
    asked = {"only": "balsa, birch-plywood", **NOTCHED}
    plain, tabbed = (answered("material-finder", **t) for t in ({"only": asked["only"]}, asked))
    table = tabbed.tables[0]
    assert "weighed with each fin" in table.note
    assert "weighed with each fin" not in plain.tables[0].note
    for row, link in zip(table.rows, table.links, strict=True):
        texts = dict(parse_qsl(link.partition("?")[2]))
        assert link.startswith(judging.FIN_CHECK)
        assert value(answered("fin-check", **texts), "set_mass") == pytest.approx(row[2], rel=1e-3)
