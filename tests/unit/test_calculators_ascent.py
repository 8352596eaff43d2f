"""Margins along the ascent: the lowest is the verdict's, and each moment is a check of its own."""

from __future__ import annotations

import math
from xml.etree import ElementTree

import numpy as np
import pytest

from calc import calculators, check, finder
from calc.calculators import ascent
from calc.calculators import common as c
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


def flown(texts: dict[str, str]) -> tuple[check.Fin, c.Flying, finder.Climb]:
    """Return the fin, its flight and its margins along it."""
    values, errors = calculators.load("fin-check").read(texts)
    assert not errors
    fin, flying = c.fin_of(values), c.flying(values)
    return fin, flying, finder.climb(fin, flying.points)


@pytest.mark.parametrize("name", FLIGHTS)
def test_the_lowest_point_is_the_verdicts(name: str) -> None:
    """Nothing drawn or tabled asks more than the moment that the verdict is given for."""
    report = calculators.run("fin-check", FLIGHTS[name])
    assert report.verdict is not None
    required = {"flutter": 1.15, "divergence": 1.15, "bending": 1.5}
    names = [column.name for column in report.tables[0].columns]
    shares = {}
    for row in report.tables[0].rows:
        cells = dict(zip(names, row, strict=True))
        for mode, asked in required.items():
            if cells[mode] is not None:
                shares[cells[mode] / asked] = (mode, cells[mode], cells["remark"])
    mode, margin, remark = shares[min(shares)]
    assert remark.startswith("worst moment")
    assert margin == pytest.approx(report.verdict.margin, rel=1e-9)
    assert margin == pytest.approx(next(m.margin for m in report.modes if m.name == mode), rel=1e-9)
    figure = next(item for item in report.figures if item.drawing == "ascent")
    assert figure.data["worst"]["margin"] == pytest.approx(margin, rel=1e-9)
    assert f"{margin:.2f}" in figure.data["worst"]["label"]


@pytest.mark.parametrize("name", ["sport", "slow", "paper"])
def test_each_moment_is_a_check_of_its_own(name: str) -> None:
    """A moment's margins along the ascent are those of a survey of that moment alone."""
    fin, flying, climb = flown(FLIGHTS[name])
    for point, margins in list(zip(flying.points, climb.margins, strict=True))[3::3]:
        alone = check.survey(fin, [fin.layup()], [fin.direction], point).margins[0]
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


def test_beyond_the_model_nothing_is_drawn() -> None:
    """Above Mach 0.9 there is no line but a stretch that says so; the table says it too."""
    report = calculators.run("fin-check", FAST)
    figure = report.figures[0]
    (stretch,) = figure.data["outside"]
    assert "Mach 0.9" in stretch["label"]
    for line in figure.data["series"]:
        for time, value in zip(figure.data["time"], line["y"], strict=True):
            assert value is None or not stretch["from"] < time < stretch["to"]
    svg = drawing.draw(figure, units="inch", id="a")
    assert "cannot say" in "".join(ElementTree.fromstring(svg).itertext())
    for row in report.tables[0].rows:
        if row[5] > 0.9 and "worst" not in row[-1]:
            assert row[1:4] == (None, None, None)
            assert "cannot say" in row[-1]


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
