"""The family of rockets, and common practice about thickness and grain, as facts to meet."""

from __future__ import annotations

import math
from dataclasses import replace
from urllib.parse import parse_qsl

import pytest

from calc import calculators, materials
from calc.fin import check
from calc.fin.fin import Fin
from scripts.handbook import rocket_family

BY_NAME = {rocket.name: rocket for rocket in rocket_family.ROCKETS}


def birch(rocket: str, thickness: float) -> check.Check:
    """Return the check of a rocket of the family with birch plywood fins."""
    chosen = BY_NAME[rocket]
    fin = replace(chosen.template, material=materials.load("birch-plywood"), thickness=thickness)
    return check.check(fin, chosen.point)


@pytest.mark.parametrize("rocket", ["tall", "mid"])
def test_eighth_inch_birch_holds_for_f_to_h(rocket: str) -> None:
    """1/8 in birch plywood holds on typical F, G and some H rockets (common practice)."""
    assert birch(rocket, 0.125 * 0.0254).state == "holds"


@pytest.mark.parametrize("rocket", ["tall", "mid"])
def test_half_of_it_does_not(rocket: str) -> None:
    """1/16 in, half of what practice uses there, does not hold.

    3/32 in does by this model; practice keeps the next size, against landing and handling.
    """
    assert birch(rocket, 0.0625 * 0.0254).state != "holds"


def test_quarter_inch_birch_for_h_to_k() -> None:
    """1/4 in birch plywood holds on a typical H to K project, 1/16 in does not (practice).

    1/8 in does by this model; practice keeps the next size.
    """
    assert birch("project", 0.25 * 0.0254).state == "holds"
    assert birch("project", 0.0625 * 0.0254).state == "fails"


@pytest.mark.parametrize("rocket", ["starter", "sport", "payload", "tall"])
def test_grain_along_the_leading_edge_beats_along_the_tube(rocket: str) -> None:
    """Grain along the leading edge is better than along the tube on ordinary swept fins.

    Common practice. The comparison is of the smallest flight margin.
    """
    chosen = BY_NAME[rocket]
    shape = chosen.template.planform
    fin = Fin(planform=shape, material=materials.load("balsa"), thickness=0.0032)
    angles = [0.0, 0.5 * math.pi - shape.sweep_leading]
    found = check.evaluate_batch(
        fin, [fin.layup()] * 2, [shape.grain_direction(a) for a in angles], chosen.point
    )
    leading, tube = (min(m.margin for m in row if m.flight) for row in found.margins)
    assert leading > 1.5 * tube


@pytest.mark.parametrize("name", ["balsa", "birch-plywood"])
@pytest.mark.parametrize("rocket", rocket_family.ROCKETS, ids=lambda rocket: rocket.name)
def test_flutter_comes_latest_with_grain_near_the_leading_edge(
    rocket: rocket_family.Rocket, name: str
) -> None:
    """Grain parallel to the leading edge is best against flutter, or within a tenth of it.

    Common practice for ordinary swept fins; compared with the air of Mach 0.6 at every speed,
    so that no end of the model's range hides a difference.
    """
    shape = rocket.template.planform
    fin = Fin(planform=shape, material=materials.load(name), thickness=0.03 * shape.root)
    degrees = [0, *range(-60, 61, 15)]
    found = check.evaluate_batch(
        fin,
        [fin.layup()] * len(degrees),
        [shape.grain_direction(math.radians(d)) for d in degrees],
        rocket.point,
    )
    speeds = found.boundaries.flutter_by_mach[:, 1]
    assert speeds[0] >= 0.9 * speeds.max()


@pytest.mark.parametrize("rocket", rocket_family.ROCKETS, ids=lambda rocket: rocket.name)
def test_addresses_fill_the_fin_check(rocket: rocket_family.Rocket) -> None:
    """A rocket's address is read by the fin check and gives the rocket back."""
    calculator = calculators.load("fin-check")
    values, errors = calculator.read(dict(parse_qsl(rocket.address)))
    assert not errors
    assert values["root"] == pytest.approx(1e-3 * rocket.root)
    assert values["sweep"] == pytest.approx(1e-3 * rocket.sweep)
    assert values["mass"] == pytest.approx(1e-3 * rocket.mass)
    assert (values["flight"], values["motor"]) == ("motor", rocket.motor)
    assert values["count"] == rocket.count


def test_places_rank_by_mass(monkeypatch: pytest.MonkeyPatch) -> None:
    """The lightest that holds ranks first, and what fails has no rank."""
    few = ("balsa", "birch-plywood", "paper")
    monkeypatch.setattr(rocket_family, "ROCKETS", (BY_NAME["sport"],))
    monkeypatch.setattr(materials, "names", lambda: few)
    rocket_family.survey.cache_clear()
    ranks = {name: rocket_family.places(name)[0].rank for name in few}
    table = rocket_family.suits("paper")
    rocket_family.survey.cache_clear()
    assert ranks == {"balsa": 1, "birch-plywood": 2, "paper": None}
    assert table.rows[0][1] == "does not hold"
    assert table.links[0].startswith(rocket_family.FIN_CHECK)


def test_beyond_the_model_nothing_is_said_to_fail(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the model cannot answer, the row says so, without a margin and with the reason."""
    there = rocket_family.survey(BY_NAME["sprite"])
    mine = next(f for f in there if f.material.name == "paper")
    assert mine.judged is not None
    unsure = replace(mine.judged.margins[0], known=False, note="the model has not been tried there")
    unknown = replace(
        mine, holds=False, judged=replace(mine.judged, margins=(unsure,), state="unknown")
    )
    monkeypatch.setattr(rocket_family, "survey", lambda rocket: (unknown,))
    for row in rocket_family.suits("paper").rows:
        assert row[1] == "cannot say"
        assert row[2] is None
        assert row[3] == "the model has not been tried there"


def test_sizes_and_speeds_are_in_both_systems() -> None:
    """A reader with an inch ruler and one with a metric ruler read the same rocket."""
    sport = BY_NAME["sport"]
    assert rocket_family._outline(sport) == "70, 35, 60, 35 mm (2.8, 1.4, 2.4, 1.4 in)"
    found = next(f for f in rocket_family.survey(sport) if f.material.name == "balsa")
    assert rocket_family._named(found).startswith("Balsa, 1/8 in (3.2 mm), margin ")
    metric = min(found.material.stock, key=lambda item: (item.system == "inch", item.thickness))
    assert f"{metric.trade_label} (" in rocket_family._named(replace(found, stock=metric))
    assert " in), margin " in rocket_family._named(replace(found, stock=metric))
