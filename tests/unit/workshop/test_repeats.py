"""Plans of many parts: every part cut once, no two too close, the bound kept, identical sheets."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, box

from calc.errors import InputError
from calc.workshop import layout_search, repeats
from calc.workshop.parts import Part, Plan, Sheet, ring

FIN = ((0.0, 0.0), (0.0762, 0.0), (0.0635, 0.0635), (0.0254, 0.0635))
SLACK = 1e-7
"""Far below any cut, above rounding [m]."""


def obeys(plan: Plan, *, kerf: float, margin: float) -> None:
    """Check gaps, edges and knots of every sheet by an independent geometry library."""
    for sheet in plan.sheets:
        stock = plan.stock[sheet.stock]
        inside = box(margin, margin, stock.length - margin, stock.width - margin).buffer(SLACK)
        shapes = [Polygon(place.polygon, place.holes) for place in sheet.placements]
        assert all(inside.covers(shape) for shape in shapes)
        for one, other in itertools.combinations(shapes, 2):
            assert one.distance(other) > kerf - SLACK
            assert one.intersection(other).area < 1e-10
        for loop in stock.defect_loops:
            assert all(shape.intersection(Polygon(loop)).area < 1e-10 for shape in shapes)


def cut(plan: Plan) -> dict[int, int]:
    """Count whole parts by hand, over all sheets."""
    found: Counter[int] = Counter()
    for sheet in plan.sheets:
        for place in sheet.placements:
            if place.piece in (None, 0):
                found[place.part] += sheet.repeats
    return dict(found)


@pytest.mark.parametrize(
    ("counts", "sheet"),
    [
        ((200, 0, 0), Sheet(0.9144, 0.0762)),
        ((90, 120, 40), Sheet(0.6, 0.3)),
        ((60, 0, 30), Sheet(0.9144, 0.0762, defects=((0.3, 0.03, 0.008),))),
        ((0, 600, 0), Sheet(0.6, 0.1)),
    ],
    ids=["fins", "a kit", "knots", "small parts"],
)
def test_every_part_is_cut_once_and_none_too_close(counts: tuple[int, ...], sheet: Sheet) -> None:
    """Hundreds of fins, tabs and rings: as many as wanted, apart by the gap, on the sheet."""
    tab = ((0.0, 0.0), (0.03, 0.0), (0.03, 0.01), (0.0, 0.01))
    kinds = (
        lambda n: Part(FIN, grain=1.2, quantity=n, name="fin"),
        lambda n: Part(tab, quantity=n, name="tab"),
        lambda n: ring(0.04, 0.02, quantity=n, grain=None),
    )
    parts = [make(n) for make, n in zip(kinds, counts, strict=True) if n]
    plan = repeats.nest(parts, [sheet], kerf=0.001, margin=0.002, iterations=0)
    obeys(plan, kerf=0.001, margin=0.002)
    assert plan.unplaced == ()
    assert cut(plan) == {k: part.quantity for k, part in enumerate(parts)}
    assert plan.placed == tuple(part.quantity for part in parts)
    assert len(plan.sheets) < plan.sheet_count
    assert plan.least_sheets <= plan.sheet_count


def test_fins_too_wide_are_glued_up_from_strips_also_by_the_hundred() -> None:
    """A hundred fins wider than the sheet: each strip is cut as often as the fin is wanted."""
    wide = ((0.0, 0.0), (0.15, 0.0), (0.16, 0.12), (0.06, 0.12))
    plan = repeats.nest([Part(wide, quantity=100)], [Sheet(0.9144, 0.0762)], kerf=0.001,
                        iterations=0)  # fmt: skip
    strips: Counter[int | None] = Counter()
    for sheet in plan.sheets:
        for place in sheet.placements:
            strips[place.piece] += sheet.repeats
    assert len(strips) == 2
    assert set(strips.values()) == {100}
    obeys(plan, kerf=0.001, margin=0.0)


def test_sheets_at_hand_are_not_exceeded() -> None:
    """With ten sheets for more fins than they hold, ten are cut and the rest is said missing."""
    plan = repeats.nest([Part(FIN, quantity=500)], [Sheet(0.9144, 0.0762, count=10)], iterations=0)
    assert plan.sheet_count == 10
    ((part, missing, _),) = plan.unplaced
    assert part == 0
    assert missing + plan.placed[0] == 500


@pytest.mark.parametrize("rings", [20, 60, 140])
def test_a_longer_search_is_never_worse(rings: int) -> None:
    """Each plan is as good as those before it: sheets first, then the length used."""
    parts = [Part(FIN, grain=1.2, quantity=40), ring(0.04, 0.02, quantity=rings, grain=None)]
    keys = []
    for step in repeats.search(parts, [Sheet(0.6, 0.1)], kerf=0.001, iterations=30):
        used = sum(s.used_length * s.repeats for s in step.plan.sheets)
        keys.append((step.plan.sheet_count, used))
    assert len(keys) == 4
    assert keys == sorted(keys, reverse=True)
    assert step.iteration == step.iterations


def test_a_worse_plan_never_takes_the_place_of_a_better(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a longer search ends worse, the plan found before stays."""
    fill, keys = repeats._Work.fill, []

    def worse(work: object, tries: int | None, *, in_proportion: bool) -> object:
        found = fill(work, tries, in_proportion=in_proportion)
        keys.append(found)
        more = [(found.sheets[0][0], found.sheets[0][1] + len(keys)), *found.sheets[1:]]
        return replace(found, sheets=more, key=(0.0, float(len(keys)), 0.0))

    monkeypatch.setattr(repeats._Work, "fill", worse)
    steps = list(repeats.search([Part(FIN, quantity=30)], [Sheet(0.3, 0.1)], iterations=0))
    assert len(steps) == len(keys) == 2
    assert [step.improved for step in steps] == [True, False]
    assert steps[0].plan is steps[1].plan


def test_sheets_with_knots_are_never_put_together_from_pieces() -> None:
    """A square that is left over does not go behind another part, where this sheet has its knot."""
    knotty = Sheet(0.3, 0.08, defects=((0.235, 0.04, 0.03),))
    square = Part(((0, 0), (0.05, 0), (0.05, 0.05), (0, 0.05)), quantity=29)
    large = Part(((0, 0), (0.2, 0), (0.2, 0.07), (0, 0.07)))
    plan = repeats.nest([large, square], [knotty], kerf=0.001, iterations=0)
    obeys(plan, kerf=0.001, margin=0.0)
    assert plan.placed == (1, 29)
    assert plan.sheet_count == 9


def test_few_parts_are_laid_together() -> None:
    """Up to two dozen parts the plan is that of the search over all parts at once."""
    part, sheet = Part(FIN, quantity=20), Sheet(0.4, 0.0762)
    assert repeats.nest([part], [sheet], iterations=0) == layout_search.nest(
        [part], [sheet], iterations=0
    )


def test_squares_that_tile_a_sheet_meet_the_bound() -> None:
    """Squares of a sixteenth of the sheet: a thousand take exactly 63 sheets, one proves it."""
    side = 0.05
    square = Part(((0, 0), (side, 0), (side, side), (0, side)), quantity=1000)
    plan = repeats.nest([square], [Sheet(8 * side, 2 * side)], iterations=0)
    assert plan.sheet_count == plan.least_sheets == math.ceil(1000 / 16)


@settings(max_examples=25, deadline=None)
@given(
    st.floats(0.02, 0.09), st.floats(0.02, 0.09), st.integers(25, 90), st.floats(0.0, 0.004),
    st.floats(0.0, 0.01),
)  # fmt: skip
def test_no_plan_beats_the_bound(
    length: float, width: float, number: int, kerf: float, margin: float
) -> None:
    """The lower bound on sheets lies below the plan and, for rectangles, below any grid."""
    rectangle = ((0, 0), (length, 0), (length, width), (0, width))
    sheet = Sheet(0.4, 0.12)
    plan = repeats.nest([Part(rectangle, quantity=number)], [sheet], kerf=kerf, margin=margin,
                        iterations=0)  # fmt: skip
    along = math.floor((sheet.length - 2 * margin + kerf) / (length + kerf) + 1e-9)
    across = math.floor((sheet.width - 2 * margin + kerf) / (width + kerf) + 1e-9)
    assert plan.unplaced == ()
    assert plan.least_sheets <= plan.sheet_count
    assert plan.least_sheets <= math.ceil(number / (along * across))


def test_impossible_gaps_are_refused_as_for_few_parts() -> None:
    """A margin of half the sheet is named, whatever the number of parts."""
    with pytest.raises(InputError, match="margin"):
        repeats.nest([Part(FIN, quantity=100)], [Sheet(0.9, 0.1)], margin=0.05)
