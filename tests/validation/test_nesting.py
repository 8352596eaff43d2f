"""Cutting plans against instances whose best plan is known from how they were made."""

import random
import tomllib
from pathlib import Path

import pytest

from calc.workshop.layout_search import nest
from calc.workshop.parts import Part, Sheet

DATA = Path(__file__).parent / "data" / "constructed_tilings.toml"
INSTANCES = tomllib.loads(DATA.read_text())["instance"]


def metres(points: list[list[float]]) -> tuple[tuple[float, float], ...]:
    """Turn a list of points in mm into metres."""
    return tuple((x / 1000, y / 1000) for x, y in points)


@pytest.mark.parametrize("case", INSTANCES, ids=lambda c: c["name"])
def test_known_best_plan_is_found(case: dict, record) -> None:
    """The least sheet length, proved in the data file, is reached within a micrometre."""
    parts = [
        Part(
            metres(p["outline"]),
            holes=tuple(metres(h) for h in p.get("holes", [])),
            quantity=p["quantity"],
            mirror=p["mirror"],
        )
        for p in case["parts"]
    ]
    sheet = Sheet(2 * case["best_length"] / 1000, case["width"] / 1000)
    plan = nest(parts, [sheet], kerf=case["kerf"] / 1000, iterations=100)
    record(
        case=f"sheet length used, {case['name']}",
        published=case["best_length"],
        ours=plan.sheets[0].used_length * 1000,
        unit="mm",
        tolerance="a micrometre: the least length is proved",
        source="constructed so that the best plan is known: " + case["proof"],
        basis="exact",
    )
    assert plan.unplaced == ()
    assert plan.sheets[0].used_length == pytest.approx(case["best_length"] / 1000, abs=1e-6)


def rectangles(seed: int) -> list[tuple[int, int]]:
    """Cut a 900 x 300 sheet into ten rectangles by straight cuts right through."""
    rng = random.Random(seed)
    pieces = [(900, 300)]
    while len(pieces) < 10:
        pieces.sort(key=lambda p: -p[0] * p[1])
        a, b = pieces.pop(0)
        share = rng.uniform(0.3, 0.7)
        if rng.random() < a / (a + b):
            cut = round(a * share)
            pieces += [(cut, b), (a - cut, b)]
        else:
            cut = round(b * share)
            pieces += [(a, cut), (a, b - cut)]
    return pieces


def test_rectangles_cut_from_a_sheet_fit_back(record) -> None:
    """Eight sheets cut into ten rectangles: the mean used yield stays within 1 % of the bound."""
    yields = []
    for seed in range(8):
        parts = [Part(metres([[0, 0], [a, 0], [a, b], [0, b]])) for a, b in rectangles(seed)]
        plan = nest(parts, [Sheet(1.8, 0.3)], iterations=100)
        yields.append(plan.used_yield)
    record(
        case="eight sheets cut into ten rectangles, mean yield when put back",
        published=1.0,
        ours=sum(yields) / len(yields),
        tolerance="1 %: a search, not a proof",
        source="constructed so that the best plan is known",
        basis="exact",
    )
    assert max(yields) <= 1 + 1e-9
    assert sum(yields) / len(yields) >= 0.99


def test_two_sheets_filled_exactly() -> None:
    """Eight right trapezoids fill two sheets of 240 x 50; the area bound is met."""
    trapezoid = metres([[0, 0], [80, 0], [40, 50], [0, 50]])
    plan = nest([Part(trapezoid, quantity=8)], [Sheet(0.24, 0.05)], iterations=60)
    assert len(plan.sheets) == plan.least_sheets == 2
    assert plan.area_yield == pytest.approx(1.0)


JIGSAWS = tomllib.loads((DATA.parent / "terashima_2010_tilings.toml").read_text())


@pytest.mark.parametrize("case", JIGSAWS["instance"], ids=lambda c: c["name"])
def test_bound_is_the_published_optimum_of_jigsaws(case: dict, record) -> None:
    """Thirty pieces cut from full squares: the lower bound is the optimum; the plan is reported."""
    side = JIGSAWS["side"] / 1000
    parts = [
        Part(metres([piece[k : k + 2] for k in range(0, len(piece), 2)]), mirror=False)
        for piece in case["pieces"]
    ]
    assert sum(part.area for part in parts) == pytest.approx(case["optimum"] * side**2)
    plan = nest(parts, [Sheet(side, side, two_sided=False)], iterations=0)
    record(
        case=f"squares for the pieces of {case['name']}",
        published=case["optimum"],
        ours=plan.sheet_count,
        tolerance="reported as it comes: without gaps, only the very cut fills a sheet",
        source=JIGSAWS["source"],
        basis="exact",
        within=None,
    )
    assert plan.unplaced == ()
    assert plan.least_sheets == case["optimum"]
    assert plan.sheet_count >= plan.least_sheets
