"""A tab through the wall is part of the part: cut, nested, drawn, weighed and judged."""

from __future__ import annotations

import io
from itertools import pairwise

import ezdxf
import numpy as np
import pytest
from ezdxf import path as dxf_path
from shapely import Polygon
from shapely.ops import polygonize

from calc import calculators
from calc.calculators import cutting_plan, shared
from calc.report import Report

INCH = 25.4
TAB = {"joint": "tab", "tab": "3/8 in", "tab_start": "1/2 in", "tab_length": "2 in"}
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
    told = answered("root-joint", joint="tab", tab_length="3 in")
    assert value(told, "margin") == value(whole, "margin")


@pytest.mark.parametrize("slug", ["root-joint", "weight-effect", "cutting-plan", "fin-check"])
def test_a_tab_off_the_root_is_refused_by_its_field(slug: str) -> None:
    """It neither starts behind the root nor ends behind it."""
    assert refused(slug, joint="tab", tab_start="3.5 in") == "tab_start"
    assert refused(slug, joint="tab", tab_start="2 in", tab_length="2 in") == "tab_length"
