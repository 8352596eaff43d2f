"""Rules that every cutting plan must obey, checked with an independent geometry library."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon, box
from shapely.affinity import affine_transform
from shapely.ops import unary_union

from calc.errors import InputError
from calc.workshop.layout_search import SearchStep, nest, search
from calc.workshop.parts import Part, Plan, Sheet, ring

SIZE = 1e-7  # m, depth of overlap or gap; far below any cut, above rounding


@st.composite
def outlines(draw: st.DrawFn, least: float = 0.01, most: float = 0.05) -> tuple:
    """Star-shaped outlines, mostly not convex, of fin size [m]."""
    count = draw(st.integers(3, 7))
    steps = [draw(st.floats(0.4, 1.0)) for _ in range(count)]
    angle = np.cumsum(steps) * 2 * math.pi / sum(steps)
    radius = np.array([draw(st.floats(least, most)) for _ in range(count)])
    return tuple(map(tuple, radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])))


@st.composite
def parts(draw: st.DrawFn) -> Part:
    """One or two of a part with any grain."""
    return Part(
        draw(outlines()),
        grain=draw(st.one_of(st.floats(-math.pi, math.pi), st.just(None))),
        quantity=draw(st.integers(1, 2)),
        mirror=draw(st.booleans()),
    )


@st.composite
def sheets(draw: st.DrawFn) -> Sheet:
    """Sheets with up to two defects."""
    length, width = draw(st.floats(0.15, 0.5)), draw(st.floats(0.05, 0.15))
    spots = draw(
        st.lists(st.tuples(st.floats(0, 1), st.floats(0, 1), st.floats(0.002, 0.015)), max_size=2)
    )
    defects = [
        (x * length, y * width, r)
        if k
        else (
            (x * length, y * width),
            (x * length + r, y * width),
            (x * length + r, y * width + 2 * r),
            (x * length, y * width + 2 * r),
        )
        for k, (x, y, r) in enumerate(spots)
    ]
    return Sheet(
        length,
        width,
        count=draw(st.one_of(st.none(), st.integers(1, 3))),
        defects=tuple(defects),
        two_sided=draw(st.booleans()),
    )


def check(plan: Plan) -> None:
    """Assert everything that must hold of any plan."""
    seen: dict[tuple[int, int | None], int] = {}
    for sheet in plan.sheets:
        stock = plan.stock[sheet.stock]
        shapes = [Polygon(p.polygon, p.holes) for p in sheet.placements]
        inner = box(
            plan.margin, plan.margin, stock.length - plan.margin, stock.width - plan.margin
        ).buffer(SIZE)
        for placed, shape in zip(sheet.placements, shapes, strict=True):
            part = plan.parts[placed.part]
            seen[placed.part, placed.piece] = seen.get((placed.part, placed.piece), 0) + 1
            assert shape.is_valid
            assert inner.contains(shape)
            for defect in stock.defects:
                spot = (
                    Point(defect[:2]).buffer(defect[2], quad_segs=32)
                    if len(defect) == 3 and np.isscalar(defect[0])
                    else Polygon(defect)
                )
                assert shape.buffer(-SIZE).disjoint(spot)
            c, s = math.cos(placed.angle), math.sin(placed.angle)
            flip = -1.0 if placed.mirrored else 1.0
            matrix = [c, -s * flip, s, c * flip, *placed.offset]
            whole = affine_transform(Polygon(part.outline, part.holes), matrix)
            assert shape.difference(whole.buffer(SIZE)).is_empty
            if placed.piece is None:
                assert whole.difference(shape.buffer(SIZE)).is_empty
            if part.grain is not None:
                grain = (math.cos(part.grain), math.sin(part.grain))
                assert abs(s * grain[0] + c * flip * grain[1]) < 1e-9
            if placed.mirrored:
                assert part.mirror
                assert stock.two_sided
            assert max(x for x, _ in placed.polygon) <= sheet.used_length + SIZE
        for one, two in itertools.combinations(shapes, 2):
            if one.distance(two) == 0:
                assert plan.kerf < SIZE
                assert one.buffer(-SIZE).disjoint(two)
            else:
                assert one.distance(two) >= plan.kerf - SIZE
        # Rings count as true circles, drawn as polygons at most 0.02 mm off.
        slack = 2.1e-5 * sum(
            s.length for p, s in zip(sheet.placements, shapes, strict=True) if p.circles
        )
        assert sheet.part_area == pytest.approx(sum(s.area for s in shapes), rel=1e-6, abs=slack)
    for stock_number, stock in enumerate(plan.stock):
        if stock.count is not None:
            assert sum(s.stock == stock_number for s in plan.sheets) <= stock.count
    missing = {number: count for number, count, _ in plan.unplaced}
    for number, part in enumerate(plan.parts):
        if not any(line.part == number for line in plan.glue_lines):
            assert seen.get((number, None), 0) + missing.get(number, 0) == part.quantity


@settings(deadline=None, max_examples=20)
@given(
    wanted=st.lists(parts(), min_size=1, max_size=3),
    stock=st.lists(sheets(), min_size=1, max_size=2),
    kerf=st.sampled_from([0.0, 0.0003, 0.0015, 0.003]),
    margin=st.sampled_from([0.0, 0.001, 0.004]),
    seed=st.integers(0, 5),
)
def test_any_plan_keeps_the_rules(
    wanted: list[Part], stock: list[Sheet], kerf: float, margin: float, seed: int
) -> None:
    """No overlap, kerf kept, grain along, inside margins, clear of defects, all counted."""
    check(nest(wanted, stock, kerf=kerf, margin=margin, iterations=3, seed=seed))


@settings(deadline=None, max_examples=8)
@given(
    outer=st.floats(0.05, 0.1),
    wall=st.floats(0.004, 0.012),
    inner=outlines(0.006, 0.014),
    kerf=st.sampled_from([0.0, 0.001]),
)
def test_parts_may_lie_in_holes(outer: float, wall: float, inner: tuple, kerf: float) -> None:
    """Rings and small parts together keep the rules; the small ones are cut from the holes."""
    wanted = [ring(outer, outer - 2 * wall, quantity=2), Part(inner, quantity=2)]
    plan = nest(wanted, [Sheet(0.4, outer + 0.002)], kerf=kerf, iterations=3)
    check(plan)
    # A part at most 28 mm across surely fits a hole that is wider by the kerf and the 0.6 mm that
    # packing outlines of ring and hole may stand off.
    if outer - 2 * wall > 0.028 + 2 * kerf + 0.001:
        assert plan.sheets[0].used_length <= 2 * outer + kerf + 7e-4


@settings(deadline=None, max_examples=6)
@given(
    outline=outlines(0.03, 0.06),
    grain=st.floats(-math.pi, math.pi),
    width=st.floats(0.04, 0.06),
    kerf=st.sampled_from([0.0, 0.001]),
)
def test_strips_keep_the_rules_and_make_whole_parts(
    outline: tuple, grain: float, width: float, kerf: float
) -> None:
    """Strips on the sheets obey the rules; put back, those of each copy make the part."""
    part = Part(outline, grain=grain, quantity=2)
    plan = nest([part], [Sheet(0.4, width)], kerf=kerf, iterations=1)
    check(plan)
    if not plan.glue_lines:
        return
    for copy in range(part.quantity):
        back = []
        for p in (p for s in plan.sheets for p in s.placements if p.copy == copy):
            c, s = math.cos(p.angle), math.sin(p.angle)
            flip = -1.0 if p.mirrored else 1.0
            moved = np.array(p.polygon) - p.offset
            back.append(Polygon(moved @ np.array([[c, -s], [s, c]]) * [1.0, flip]))
        assert unary_union(back).symmetric_difference(Polygon(outline)).area < 1e-10
        assert sum(b.area for b in back) == pytest.approx(Polygon(outline).area, rel=1e-6)


FIN = Part(
    ((0, 0), (0.15, 0), (0.17, 0.12), (0.1, 0.12)),
    grain=math.pi / 2 - math.atan2(0.1, 0.12),
    quantity=3,
    root=((0, 0), (0.15, 0)),
    keep_clear=((0.17, 0.12), (0.1, 0.12)),
)


def test_glue_lines_across_the_root_are_reported() -> None:
    """With the grain along the leading edge the line meets the root; the plan says where."""
    plan = nest([FIN], [Sheet(0.9144, 0.0762)], iterations=0)
    (line,) = plan.glue_lines
    (crossing,) = line.root_crossings
    assert any("root" in note for note in plan.notes)
    ends = np.array(line.segments).reshape(-1, 2)
    at_root = ends[np.argmin(np.abs(ends[:, 1]))]
    assert at_root[0] == pytest.approx(crossing, abs=1e-9)
    assert plan.glue_line_length == pytest.approx(3 * line.length)


def test_same_seed_gives_the_same_plan() -> None:
    """Two searches with one seed agree in every number."""
    wanted = [FIN, Part(((0, 0), (0.03, 0.0), (0.01, 0.04)), quantity=4)]
    stock = [Sheet(0.9144, 0.1016)]
    first, second = (nest(wanted, stock, kerf=0.001, iterations=8, seed=3) for _ in range(2))
    assert first == second


def test_progress_stops_the_search() -> None:
    """The callback sees every try, and False ends the search with a plan."""
    steps: list[SearchStep] = []

    def progress(step: SearchStep) -> bool:
        steps.append(step)
        return len(steps) < 3

    plan = nest([FIN], [Sheet(0.9144, 0.1016)], iterations=500, progress=progress)
    assert len(steps) == 3
    assert steps[0].iterations >= 500
    assert plan == steps[-1].plan


def test_the_search_never_gets_worse() -> None:
    """Used length never grows from one step to the next on one sheet."""
    wanted = [Part(((0, 0), (0.07, 0), (0.09, 0.05), (0.05, 0.05)), quantity=6)]
    lengths = [
        s.plan.sheets[0].used_length for s in search(wanted, [Sheet(2.0, 0.08)], iterations=20)
    ]
    assert all(a >= b for a, b in itertools.pairwise(lengths))


SLANTED = ((0.0, 0.0), (0.08, 0.0), (0.105, 0.06), (0.065, 0.06))


@settings(deadline=None, max_examples=6)
@given(
    tip=st.floats(0.0, 0.06),
    sweep=st.floats(0.0, 0.08),
    grain=st.floats(-math.pi / 2, math.pi / 2),
    count=st.sampled_from([8, 16, 24]),
    width=st.floats(0.09, 0.5),
    mirror=st.booleans(),
)
def test_many_like_fins_keep_the_rules(
    tip: float, sweep: float, grain: float, count: int, width: float, mirror: bool
) -> None:
    """Rows and columns of fins head to tail never overlap and never lie off the grain."""
    outline = ((0.0, 0.0), (0.07, 0.0), (sweep + tip + 0.002, 0.06), (sweep, 0.06))
    part = Part(outline, grain=grain, quantity=count, mirror=mirror)
    check(nest([part], [Sheet(0.9, width)], kerf=0.001, margin=0.002, iterations=2))


def test_head_to_tail_rows_save_a_sheet() -> None:
    """Sixteen slanted fins fit one 4 in by 36 in sheet, every second one turned by half a turn."""
    plan = nest(
        [Part(SLANTED, quantity=16)], [Sheet(0.9144, 0.1016)], kerf=0.001, margin=0.002,
        iterations=0,
    )  # fmt: skip
    check(plan)
    assert len(plan.sheets) == 1
    turns = {round(math.degrees(p.angle)) % 360 for p in plan.sheets[0].placements}
    assert len(turns) == 2


@pytest.mark.parametrize("grain", [0.0, math.atan2(0.06, 0.025)])
def test_more_tries_never_need_more(grain: float) -> None:
    """With the same seed a longer search of many like fins never uses more of the sheet."""
    used = [
        nest(
            [Part(SLANTED, grain=grain, quantity=16)], [Sheet(0.7, 0.5)], kerf=0.001,
            margin=0.002, iterations=tries,
        ).sheets[0].used_length
        for tries in (0, 6, 12)
    ]  # fmt: skip
    assert used == sorted(used, reverse=True)


def test_parts_too_long_are_refused_with_the_reason() -> None:
    """A part longer than the sheet along its grain is not pieced across the grain."""
    plan = nest([Part(((0, 0), (0.5, 0), (0.5, 0.05), (0, 0.05)))], [Sheet(0.3, 0.1)])
    assert plan.sheets == ()
    assert "across the grain" in plan.unplaced[0][2]


def test_parts_too_large_in_every_orientation_are_refused() -> None:
    """A disc wider than the sheet is not divided: it has no grain direction."""
    plan = nest([ring(0.12, grain=None, quantity=2)], [Sheet(0.3, 0.1)])
    assert plan.sheets == ()
    assert plan.unplaced == ((0, 2, "larger than any sheet"),)


def test_full_sheets_leave_parts_over() -> None:
    """With one sheet for three squares the third is listed as not placed."""
    square = ((0, 0), (0.05, 0), (0.05, 0.05), (0, 0.05))
    plan = nest([Part(square, quantity=3)], [Sheet(0.1, 0.05, count=1)], iterations=2)
    assert len(plan.sheets[0].placements) == 2
    assert plan.unplaced == ((0, 1, "no room left on the sheets given"),)


@pytest.mark.parametrize(
    ("make", "name"),
    [
        (lambda: nest([], [Sheet(1, 1)]), "parts"),
        (lambda: nest([FIN], [Sheet(1, 1)], kerf=-0.1), "kerf"),
        (lambda: nest([FIN], [Sheet(1, 0.1)], margin=0.06), "margin"),
    ],
)
def test_bad_input_is_named(make: object, name: str) -> None:
    """Each input that cannot be used is named in the error."""
    with pytest.raises(InputError) as caught:
        make()  # type: ignore[operator]
    assert caught.value.name == name


@pytest.mark.parametrize("seed", [0, 4])
def test_rounding_does_not_choose_the_layout(seed: int) -> None:
    """Outlines that differ by another machine's rounding are laid in the same places."""
    chance = np.random.default_rng(seed)
    fin = np.array([(0.0, 0.0), (0.0762, 0.0), (0.0762, 0.0635), (0.0381, 0.0635)])
    plans = []
    for size in (0.0, 3e-16, 1e-14, 1e-13):
        other = fin * (1.0 + size * chance.standard_normal(fin.shape))
        wanted = [
            Part(other, grain=math.atan2(0.0635, 0.0381), quantity=4, name="fin", mirror=True),
            ring(0.12, 0.0147, quantity=7),
        ]
        stock = [Sheet(0.675, 0.134)]
        plan = nest(wanted, stock, kerf=0.0031, margin=0.002, iterations=60, seed=seed)
        plans.append(
            [
                (placed.label, np.round(placed.polygon, 6).tolist())
                for sheet in plan.sheets
                for placed in sheet.placements
            ]
        )
    assert all(plan == plans[0] for plan in plans[1:])
