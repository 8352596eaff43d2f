"""Margins along the ascent: the lowest is the verdict's, and each moment is a check of its own."""

from __future__ import annotations

import math
from xml.etree import ElementTree

import numpy as np
import pytest

from calc import calculators
from calc.calculators import ascent
from calc.calculators import shared as c
from calc.fin import check, search
from calc.fin.fin import Fin
from calc.render import drawing
from calc.report import LowerLimit, as_json

SPORT = {"flight": "motor", "motor": "E", "thrust": "25 N"}
SLOW = {"flight": "motor", "motor": "F", "thrust": "10 N", "mass": "250 g", "drag": "0.9"}
PLY = {"flight": "motor", "motor": "H", "thrust": "60 N", "mass": "600 g", "drag": "1.2",
       "material": "birch-plywood"}  # fmt: skip
PAPER = {"flight": "motor", "motor": "A", "thrust": "5 N", "mass": "40 g", "material": "paper",
         "thickness": "0.3 mm"}  # fmt: skip
FAST = {"flight": "motor", "motor": "I", "thrust": "300 N", "mass": "1200 g", "drag": "0.4",
        "material": "birch-plywood"}  # fmt: skip
FLIGHTS = {"sport": SPORT, "slow": SLOW, "ply": PLY, "paper": PAPER, "fast": FAST}


def flown(texts: dict[str, str]) -> tuple[Fin, c.Flying, search.Climb]:
    """Return the fin, its flight and its margins along it."""
    values, errors = calculators.load("fin-check").read(texts)
    assert not errors
    fin, flying = c.fin_of(values), c.flying(values)
    return fin, flying, search.climb(fin, flying.points)


@pytest.mark.parametrize("name", FLIGHTS)
def test_the_lowest_point_is_the_verdicts(name: str) -> None:
    """Nothing drawn or tabled asks more than the moment that the verdict is given for."""
    report = calculators.run("fin-check", FLIGHTS[name])
    assert report.verdict is not None
    names = [column.name for column in report.tables[0].columns]
    shares = []
    for row in report.tables[0].rows:
        cells = dict(zip(names, row, strict=True))
        for mode in ("flutter", "divergence", "bending"):
            if cells[mode] is not None:
                worst = not cells["remark"].startswith("worst moment")
                shares.append((round(cells[mode], 9), worst, mode, cells[mode]))
    # of equal lower limits, the reported one
    _, worst, mode, margin = min(shares)
    assert not worst
    assert margin == pytest.approx(next(m.margin for m in report.modes if m.name == mode), rel=1e-9)
    figure = next(item for item in report.figures if item.drawing == "ascent")
    assert figure.data["worst"]["margin"] == pytest.approx(margin, rel=1e-9)
    assert f"{margin:.2f}" in figure.data["worst"]["label"]


@pytest.mark.parametrize("name", ["sport", "slow", "paper"])
def test_each_moment_is_a_check_of_its_own(name: str) -> None:
    """A moment's margins along the ascent are those of a survey of that moment alone."""
    fin, flying, climb = flown(FLIGHTS[name])
    for point, margins in list(zip(flying.points, climb.margins, strict=True))[3::3]:
        alone = check.evaluate_variants([fin], point)[0].margins
        for one, other in zip(margins, alone, strict=False):
            assert (one.name, one.bound, one.known) == (other.name, other.bound, other.known)
            assert one.ratio == pytest.approx(other.ratio, rel=1e-9)


def test_divergence_keeps_its_dynamic_pressure() -> None:
    """In slow air a fin diverges at one dynamic pressure, whatever the height.

    The static aeroelastic eigenvalue is a dynamic pressure (Bisplinghoff, Ashley and Halfman,
    Aeroelasticity, 1955, chapter 8). Squared margin times the moment's own pressure is that value;
    it may only change by compressibility, at most the factor 1/sqrt(1 - M^2) (Prandtl and Glauert)
    between the Mach numbers at which the boundary is met.
    """
    _, flying, climb = flown({**SLOW, "thickness": "1/16 in", "site": "0 ft"})
    pairs = [
        (point, margins[1])
        for point, margins in zip(flying.points, climb.margins, strict=True)
        if margins and not margins[1].bound
    ]
    assert len(pairs) > 10
    pressures = np.array([margin.ratio**2 * point.pressure for point, margin in pairs])
    met = np.array([margin.ratio * point.mach for point, margin in pairs])
    height = np.ptp([float(point.air.density) for point, _ in pairs])
    assert height > 0.05
    stretch = math.sqrt((1.0 - met.min() ** 2) / (1.0 - met.max() ** 2))
    assert pressures.max() / pressures.min() < 1.0 + 1.05 * (stretch - 1.0)
    # thinner air is met faster, at a higher Mach number, so at a lower pressure
    assert np.all(np.diff(pressures[np.argsort(met)]) <= 1e-9 * pressures.max())


def test_lines_go_on_through_mach_one() -> None:
    """Above Mach 0.9 lines and table go on, in a stretch that says how sure they are."""
    report = calculators.run("fin-check", FAST)
    figure = report.figures[0]
    (stretch,) = figure.data["outside"]
    assert (stretch["label"], stretch["said"]) == ("above Mach 0.9", "less sure")
    inside = [stretch["from"] < time < stretch["to"] for time in figure.data["time"]]
    assert sum(inside) >= 6
    for line in figure.data["series"]:
        assert None not in line["y"]
    told = "".join(ElementTree.fromstring(drawing.draw(figure, units="inch", id="a")).itertext())
    assert "less sure" in told
    assert "cannot say" not in told
    for row in report.tables[0].rows:
        assert None not in row[1:4]
        assert ("less sure" in row[-1]) is (row[5] > 0.9)


def test_faster_than_any_test_says_so() -> None:
    """Beyond Mach 2.5 the chart and the table say that flutter is not known."""
    texts = {**FAST, "motor": "J", "impulse": "1200 N s", "thrust": "900 N", "drag": "0.15"}
    texts |= {"material": "carbon-epoxy-quasi-isotropic", "thickness": "1/4 in"}
    report = calculators.run("fin-check", texts)
    assert max(row[5] for row in report.tables[0].rows) > 2.5
    said = [stretch["said"] for stretch in report.figures[0].data["outside"]]
    assert said == ["less sure", "cannot say"]


def test_a_limit_is_called_one() -> None:
    """Where no boundary is met the line and the table's rows say "at least"."""
    report = calculators.run("fin-check", PLY)
    (line,) = report.figures[0].data["series"]
    assert line["name"] == "Flutter and divergence, at least"
    assert all(isinstance(row[1], LowerLimit) for row in report.tables[0].rows)
    assert "at least" in report.figures[0].data["worst"]["label"]


def test_a_known_speed_has_no_ascent() -> None:
    """Without a motor there is one moment only, and neither chart nor table."""
    report = calculators.run("fin-check", {})
    assert report.tables == ()
    assert all(item.drawing != "ascent" for item in report.figures)


def test_moments_run_from_the_pad_on() -> None:
    """Between 12 and 20 moments in the order of time, burnout and the worst one named once."""
    for texts in (SPORT, SLOW, FAST):
        (table,) = calculators.run("fin-check", texts).tables
        times = [row[0] for row in table.rows]
        assert 12 <= len(times) <= 20
        assert times == sorted(set(times))
        told = " ".join(str(row[-1]) for row in table.rows)
        assert told.count("worst moment") == told.count("burns out") == 1


def test_the_answer_as_data_holds_the_ascent() -> None:
    """The published form carries the moments in SI units."""
    report = calculators.run("fin-check", SPORT)
    (table,) = as_json(report, {}, version="1")["tables"]
    assert table["title"] == ascent.TITLE
    assert dict(zip(table["columns"], table["units"], strict=True))["speed"] == "m/s"
    assert all(isinstance(row[0], float) for row in table["rows"])
