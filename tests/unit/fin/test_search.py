"""The search for the thinnest stock that holds, against trying every size."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest

from calc import calculators, materials
from calc.air import atmosphere
from calc.calculators import shared
from calc.errors import InputError
from calc.fin import check, search
from calc.fin.fin import Fin, Point
from calc.geometry.planform import Planform
from calc.margin import Margin, Quantity

AIR = atmosphere.site(0.0, 288.15).at(90.0)
FIN = Fin(
    planform=Planform(root=0.07, tip=0.035, span=0.06, sweep=0.035),
    material=materials.load("balsa"),
    thickness=0.002,
)
POINT = Point(speed=140.0, air=AIR)


@pytest.fixture(scope="module")
def found() -> dict[str, search.Found]:
    """Search four materials once."""
    names = ("balsa", "birch-plywood", "foam-board", "paper")
    tried = [materials.load(name) for name in names]
    results = search.find(FIN, (POINT,), tried, system="inch")
    return dict(zip(names, results, strict=True))


@pytest.mark.parametrize("name", ["balsa", "birch-plywood", "foam-board", "paper"])
def test_thinnest_is_what_trying_every_size_gives(
    found: dict[str, search.Found], name: str
) -> None:
    """Checking every stock size in full gives the same thinnest one that holds."""
    material = materials.load(name)
    first = None
    for stock in search.sizes(material, FIN, "inch"):
        fin = replace(FIN, material=material, thickness=stock.thickness)
        if check.check(fin, POINT).state == "holds":
            first = stock
            break
    result = found[name]
    assert result.holds is (first is not None)
    if first is not None:
        assert result.stock == first


def test_winner_is_the_full_check(found: dict[str, search.Found]) -> None:
    """The margins of a winner are those of the fin check, spread included."""
    result = found["balsa"]
    assert result.result is not None
    assert result.stock is not None
    again = check.check(
        replace(FIN, material=result.material, thickness=result.stock.thickness), POINT
    )
    assert [m.ratio for m in again.margins] == pytest.approx(
        [m.ratio for m in result.result.margins]
    )
    assert again.shortfall == result.result.shortfall


def test_thinner_stock_fails(found: dict[str, search.Found]) -> None:
    """A size that is named as thinner is thinner; its margin is too small or too uncertain."""
    for result in found.values():
        if result.thinner is not None:
            assert result.stock is not None
            assert result.thinner[0].thickness < result.stock.thickness
        if result.holds and result.thinner is not None:
            stock, _ = result.thinner
            fin = replace(FIN, material=result.material, thickness=stock.thickness)
            assert check.check(fin, POINT).state != "holds"


def test_failure_is_explained(found: dict[str, search.Found]) -> None:
    """A material that fails names the way it fails at its thickest stock."""
    result = found["paper"]
    assert not result.holds
    assert result.stock == search.sizes(materials.load("paper"), FIN, "inch")[-1]
    assert "margin" in result.reason
    assert re.search(r"margin 0\.\d\d", result.reason)


def test_sizes_follow_the_system() -> None:
    """Inch and metric stock are kept apart; what is sold in one system is always offered."""
    balsa = materials.load("balsa")
    assert {s.system for s in search.sizes(balsa, FIN, "inch")} == {"inch"}
    assert {s.system for s in search.sizes(balsa, FIN, "metric")} == {"metric"}
    assert {s.system for s in search.sizes(materials.load("paper"), FIN, "inch")} == {"metric"}
    thick = [s.thickness for s in search.sizes(balsa, FIN)]
    assert thick == sorted(set(thick))
    with pytest.raises(InputError, match="stock"):
        search.sizes(balsa, FIN, "cubits")


def test_no_size_fits_a_tiny_fin() -> None:
    """A fin smaller than four times every thickness has no size, and that is said."""
    tiny = replace(FIN, planform=Planform(root=0.006, tip=0.004, span=0.006, sweep=0.002))
    (result,) = search.find(tiny, (POINT,), [materials.load("foam-board")])
    assert result.result is None
    assert result.reason == search.NO_SIZE


def test_worst_moments_drop_the_easier_ones() -> None:
    """A moment below another in speed, pressure and Mach number is not judged."""
    slow = Point(speed=100.0, air=AIR)
    high = Point(speed=145.0, air=atmosphere.site(0.0, 288.15).at(3000.0))
    kept = search.worst_moments((slow, POINT, high))
    assert slow not in kept
    assert POINT in kept
    assert high in kept


def test_progress_reaches_the_end() -> None:
    """Progress counts up to its total and names the material at hand."""
    told: list[tuple[int, int, str]] = []
    search.find(FIN, (POINT,), [materials.load("balsa")], progress=lambda *step: told.append(step))
    assert told[-1][0] == told[-1][1]
    assert told[-1][2] == "Balsa"
    assert [step[0] for step in told] == sorted(step[0] for step in told)


def test_only_a_limit_of_an_easier_moment_asks_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """A weaker margin that was found at an easier moment decides; how far was looked there not."""
    slow = Point(speed=80.0, air=AIR)

    def margin(ratio: float, bound: str = "") -> Margin:
        return Margin("flutter", 100.0, Quantity(100.0 * ratio, bound=bound), "speed")

    for easier, harder, worst in [
        (margin(1.1), (margin(2.0, "at least"), margin(1.5)), 0),
        (margin(1.1, "at least"), (margin(2.0, "at least"), margin(1.5)), 1),
        (margin(1.6), (margin(1.2, "at least"),), 1),
    ]:
        found = [(easier,), harder]
        monkeypatch.setattr(check, "along_trajectory", lambda *_, found=found: found)
        assert search.climb(FIN, (slow, POINT)).worst == worst


def test_passage_in_denser_air_is_kept() -> None:
    """Past Mach 0.9 a slower moment in denser air is judged too; a subsonic one is not."""
    thin = atmosphere.site(0.0, 288.15).at(1500.0)
    fastest = Point(speed=520.0, air=thin)
    passage = Point(speed=410.0, air=AIR)
    subsonic = Point(speed=250.0, air=AIR)
    kept = search.worst_moments((subsonic, passage, fastest))
    assert fastest in kept
    assert passage in kept
    assert subsonic not in kept


def test_motor_past_sound_judges_its_passage() -> None:
    """A flight past Mach 1 has the moments at which it passes 0.95, 1.05 and 1.15 among its own."""
    calculator = calculators.load("fin-check")
    texts = {"flight": "motor", "motor": "K", "thrust": "1500 N", "mass": "2 kg", "drag": "0.35"}
    values, errors = calculator.read(texts)
    assert not errors
    flying = shared.flying(values)
    fastest = max(point.mach for point in flying.points)
    assert fastest > 1.25
    for mach in (0.95, 1.05, 1.15):
        assert any(abs(point.mach - mach) < 0.01 for point in flying.points)


def test_worst_moment_is_the_weakest_margin() -> None:
    """Of two moments the faster one in the same air is the worst."""
    slow = Point(speed=80.0, air=AIR)
    assert search.worst_moment(FIN, (slow, POINT)) == 1
    assert search.worst_moment(FIN, (POINT, slow)) == 0


def test_survey_takes_the_worst_moment() -> None:
    """Of several moments a fin is surveyed at the one that leaves any of its margins least."""
    gusty = Point(speed=60.0, air=AIR, attack=math.radians(30.0))
    fast = Point(speed=120.0, air=AIR, attack=math.radians(2.0))
    alone = [search._survey(FIN, [FIN.layup()], [one])[0] for one in (gusty, fast)]
    least, most = ([end(m.margin for m in each) for each in alone] for end in (min, max))
    assert least[0] < least[1]
    assert most[0] > most[1], "or it would not matter which of the margins is looked at"
    for moments in ([gusty, fast], [fast, gusty]):
        (found,) = search._survey(FIN, [FIN.layup()], moments)
        assert found == alone[0]
