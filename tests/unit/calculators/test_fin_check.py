"""The main job held against physics that needs no computation: what must grow, grows."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc import calculators, materials
from calc.air import atmosphere
from calc.calculators import shared
from calc.errors import InputError, ValidityError
from calc.fin import boundaries as fin_boundaries
from calc.fin import check, high_speed, loads, model, policy, search
from calc.fin.fin import Fin, Point
from calc.frontends.terminal import batch
from calc.geometry.planform import Edge, Planform
from calc.margin import Margin, Quantity
from calc.render import text
from calc.report import as_csv, as_json

OUTLINES = st.builds(
    lambda root, taper, aspect, rake: Planform(
        root=root, tip=taper * root, span=aspect * root, sweep=rake * root
    ),
    root=st.floats(0.03, 0.25),
    taper=st.floats(0.0, 1.0),
    aspect=st.floats(0.4, 1.3),
    rake=st.floats(0.0, 1.0),
)
NAMES = st.sampled_from(["balsa", "basswood", "birch-plywood"])


def fin(shape: Planform, name: str, share: float, **more: float) -> Fin:
    """Return a fin whose thickness is a share of its root."""
    return Fin(planform=shape, material=materials.load(name), thickness=share * shape.root, **more)


def boundaries(one: Fin, altitude: float = 0.0) -> tuple[float, float]:
    """Return flutter and divergence speed with air of Mach 0 and the density of an altitude."""
    point = Point(speed=50.0, air=atmosphere.at(altitude))
    found = check.evaluate_batch(one, [one.layup()], [one.direction], point)
    return (
        float(found.boundaries.flutter_by_mach[0, 0]),
        float(found.boundaries.divergence_by_mach[0, 0]),
    )


@settings(max_examples=25, deadline=None)
@given(OUTLINES, NAMES, st.floats(0.012, 0.04), st.floats(1.05, 1.6))
def test_thicker_never_flutters_sooner(
    shape: Planform, name: str, share: float, growth: float
) -> None:
    """More thickness of the same wood never brings flutter or divergence earlier.

    Stiffness grows with the cube of thickness and mass only in proportion. Plywood is kept within
    one ply count, since another count is another material.
    """
    thin, thick = fin(shape, name, share), fin(shape, name, share * growth)
    if thin.material.plies(thin.thickness) != thick.material.plies(thick.thickness):
        return
    before, after = boundaries(thin), boundaries(thick)
    assert after[0] >= before[0] * 0.995
    assert after[1] >= before[1] * 0.995


@settings(max_examples=25, deadline=None)
@given(OUTLINES, NAMES, st.floats(0.015, 0.04), st.floats(500.0, 6000.0))
def test_divergence_is_a_pressure(
    shape: Planform, name: str, share: float, altitude: float
) -> None:
    """Divergence comes at one dynamic pressure, so its speed goes with 1 / sqrt(density).

    R. L. Bisplinghoff, H. Ashley and R. L. Halfman, Aeroelasticity (1955), ch. 8.
    """
    one = fin(shape, name, share)
    low, high = boundaries(one)[1], boundaries(one, altitude)[1]
    thinner = atmosphere.at(0.0).density / atmosphere.at(altitude).density
    assert high == low or high / low == pytest.approx(math.sqrt(thinner), rel=1e-9)


@pytest.mark.parametrize("name", ["balsa", "basswood", "birch-plywood", "glass-epoxy"])
@pytest.mark.parametrize("share", [0.02, 0.03])
@pytest.mark.parametrize(
    "shape",
    [
        Planform(root=0.0762, tip=0.0381, span=0.0635, sweep=0.0381),
        Planform(root=0.12, tip=0.05, span=0.07, sweep=0.07),
        Planform(root=0.10, tip=0.06, span=0.08, sweep=0.09),
    ],
    ids=["swept", "clipped delta", "far swept"],
)
def test_swept_fins_flutter_earlier_low_down(shape: Planform, share: float, name: str) -> None:
    """In denser air an ordinary swept fin flutters or diverges earlier, at every kilometre.

    Fins without sweep are not among them: their faint branches, whose damping just reaches zero,
    appear and vanish with height.
    """
    one = fin(shape, name, share)
    first = [min(boundaries(one, height)) for height in (0.0, 1e3, 2e3, 4e3, 6e3)]
    assert all(low < high for low, high in pairwise(first))


@settings(max_examples=20, deadline=None)
@given(
    st.fixed_dictionaries(
        {
            "root": st.floats(0.02, 0.4),
            "tip": st.floats(0.0, 0.4),
            "span": st.floats(0.02, 0.3),
            "sweep": st.floats(-0.1, 0.4),
            "thickness": st.floats(0.0004, 0.012),
            "grain": st.floats(-90, 180),
            "speed": st.floats(5, 900),
        }
    ),
    st.sampled_from(materials.names()),
    st.sampled_from(["square", "rounded", "tapered", "airfoil"]),
)
def test_no_exception_and_no_nonsense(numbers: dict, material: str, edge: str) -> None:
    """Any fin a reader can describe is answered with finite margins, or refused by name."""
    texts = {
        name: f"{value:.6g} {'m' if name not in ('grain', 'speed') else ''}".strip()
        for name, value in numbers.items()
    }
    texts["speed"] += " m/s"
    report = None
    refused = ""
    try:
        report = calculators.run("fin-check", {**texts, "material": material, "edge": edge})
    except InputError as problem:
        refused = problem.name
    if report is None:
        assert refused in calculators.load("fin-check").known_names
        return
    assert report.verdict is not None
    assert math.isfinite(report.verdict.margin)
    assert report.verdict.margin > 0.0
    for mode in report.modes:
        assert mode.margin > 0.0
        assert mode.low_margin is None or mode.low_margin <= mode.margin * 1.001
    if report.verdict.state == "holds":
        assert min(m.margin for m in report.modes if m.name != "handling") >= 1.0


@pytest.mark.parametrize("name", ["balsa", "basswood", "birch-plywood"])
def test_faster_leaves_less(name: str) -> None:
    """The same fin flown faster has a smaller margin in every mode of the flight."""
    margins = []
    for speed in (60, 120, 180, 240):
        report = calculators.run("fin-check", {"material": name, "speed": f"{speed} m/s"})
        margins.append([m.margin for m in report.modes if m.name != "handling"])
    for before, after in pairwise(margins):
        assert all(b >= a for b, a in zip(before, after, strict=True))


def test_own_material_equals_the_book_one() -> None:
    """Basswood's numbers typed in as an own material give basswood's flutter speed."""
    ply = materials.load("basswood").layup(thickness=0.003).plies[0].lamina
    book = calculators.run("fin-check", {"material": "basswood", "thickness": "3 mm"})
    own = calculators.run(
        "fin-check",
        {
            "material": "own",
            "thickness": "3 mm",
            "modulus_along": f"{ply.modulus_along:.9g} Pa",
            "modulus_across": f"{ply.modulus_across:.9g} Pa",
            "shear_modulus": f"{ply.shear_modulus:.9g} Pa",
            "poisson": f"{ply.poisson:.9g}",
            "own_density": f"{ply.density:.9g}",
            "strength_along": f"{ply.tension_along:.9g} Pa",
            "strength_across": f"{ply.tension_across:.9g} Pa",
            "shear_strength": f"{ply.shear_strength:.9g} Pa",
        },
    )
    for name in ("flutter_speed", "divergence_speed", "frequency_1", "fin_mass"):
        assert own.answer(name).value == pytest.approx(book.answer(name).value, rel=1e-6)


def test_motor_flight_judges_the_worst_moment() -> None:
    """With a motor the reported margin is the smallest of all moments judged."""
    texts = {"flight": "motor", "motor": "E", "thrust": "25 N", "thickness": "3/32 in"}
    report = calculators.run("fin-check", texts)
    values, errors = calculators.load("fin-check").read(texts)
    assert not errors
    one = shared.fin_of(values)
    found = [
        check.evaluate_variants([one], point)[0].margins for point in shared.flying(values).points
    ]
    shares = [min(m.margin for m in margins if m.flight) for margins in found]
    assert len(shares) > 5
    assert max(shares) > 1.5 * min(shares)
    told = min(m.margin for m in report.modes if m.name in ("flutter", "divergence", "bending"))
    assert told == pytest.approx(min(shares), rel=1e-6)
    assert report.steps[0].title == "The flight"


def test_transonic_gets_a_verdict_and_is_less_sure() -> None:
    """At Mach 1 a stiff fin holds, with more asked of it, and the notes say that it is less sure.

    A fin swept behind its own Mach cone is answered too.
    """
    texts = {"speed": "340 m/s", "altitude": "0 ft", "sweep": "0 in", "tip": "2 in", "span": "2 in"}
    texts |= {"material": "birch-plywood", "thickness": "3/16 in", "attack": "1"}
    report = calculators.run("fin-check", texts)
    assert report.verdict is not None
    assert report.verdict.state == "holds"
    swept = calculators.run("fin-check", {"speed": "340 m/s", "thickness": "1/4 in"})
    assert swept.verdict is not None
    assert swept.verdict.state != "unknown"
    for answer in (report, swept):
        assert any("less sure" in note and "0.85" in note for note in answer.notes)
    slow = calculators.run("fin-check", {**texts, "speed": "300 m/s"})
    assert not any("less sure" in note for note in slow.notes)


def test_long_low_fin_is_not_worked_out_for_ever() -> None:
    """Beyond the speed of sound a fin much longer than its span is refused; slower it is not."""
    with pytest.raises(ValidityError, match="too long for its span"):
        calculators.run("fin-check", {"root": "51 in", "speed": "486 m/s"})
    assert calculators.run("fin-check", {"root": "51 in", "speed": "150 m/s"}).verdict
    assert calculators.run("fin-check", {"root": "12 in", "speed": "486 m/s"}).verdict


def test_zero_span_is_refused_by_name() -> None:
    """A fin without span is refused beside the span."""
    with pytest.raises(InputError) as refused:
        calculators.run("fin-check", {"span": "0"})
    assert refused.value.name == "span"


def bending(texts: dict[str, str]) -> float:
    """Return the root's margin in load."""
    report = calculators.run("fin-check", texts)
    return next(m.margin for m in report.modes if m.name == "bending")


@pytest.mark.parametrize("speed", ["280 m/s", "320 m/s", "500 m/s", "1000 m/s"])
def test_root_near_divergence_follows_thickness_and_speed(speed: str) -> None:
    """However near divergence, a thicker fin's root bears more and a faster flight's less."""
    sizes = ("1/16 in", "3/32 in", "1/8 in", "3/16 in", "1/4 in", "3/8 in")
    margins = [bending({"speed": speed, "thickness": size}) for size in sizes]
    assert all(thin < thick for thin, thick in pairwise(margins))
    slower = f"{0.95 * float(speed.split()[0]):.6g} m/s"
    assert bending({"speed": speed}) <= bending({"speed": slower}) * 1.001


def test_root_of_a_fin_that_can_hold_sees_its_own_load() -> None:
    """Up to the margin asked of divergence the load is that of the flight, twist included."""
    one = Fin(Planform(0.0762, 0.0381, 0.0635, 0.0381), materials.load("balsa"), 0.0024)
    air = atmosphere.at(0.0)
    shape = model.model_for(one)
    found = model.structure(shape, [one.layup()], [one.direction])
    stable = fin_boundaries.flutter_and_divergence(shape, found, air)
    edge = float(stable.divergence_speed[0]) / policy.REQUIRED_SPEED_MARGIN
    moments = [Point(speed=part * edge, air=air) for part in (0.1, 1.0, 1.5)]
    load = loads.air_load(shape, found, [0, 0, 0], moments)
    assert load.near_divergence.tolist() == [False, False, True]
    assert load.moment[1] > 100.0 * load.moment[0]


def test_passage_of_the_speed_of_sound_is_judged() -> None:
    """A flight past Mach 1.2 never asks less of the root than passing Mach 1.2 itself does."""
    texts = {"material": "birch-plywood", "thickness": "1/4 in", "altitude": "0 ft"}
    sound = float(atmosphere.at(0.0).sound_speed)
    passing = bending({**texts, "speed": f"{1.2 * sound:.9g} m/s"})
    for mach in (1.25, 1.4, 1.6):
        assert bending({**texts, "speed": f"{mach * sound:.9g} m/s"}) <= passing * (1.0 + 1e-6)


def test_divergence_that_hides_flutter_governs() -> None:
    """Where flutter is only known to come after divergence, divergence is what comes first."""
    report = calculators.run("fin-check", {"attack": "2", "joint": "none"})
    flutter, divergence = report.modes[:2]
    assert flutter.bound == "at least"
    assert flutter.margin >= divergence.margin
    assert report.verdict is not None
    assert report.verdict.governs == "divergence"


def test_a_limit_is_never_said_to_come_first() -> None:
    """Where nothing is found up to the model's end the sentence says so instead of "first"."""
    report = calculators.run("fin-check", {"material": "glass-epoxy", "joint": "none"})
    assert report.verdict is not None
    assert "comes first" not in report.verdict.sentence
    assert "Mach 0.9" in report.verdict.sentence


def test_beyond_sound_no_margin_is_endless() -> None:
    """A boundary that is never met beyond Mach 0.9 is reported as a limit, not as infinity."""
    report = calculators.run(
        "fin-check",
        {"material": "carbon-epoxy-woven", "thickness": "3/16 in", "speed": "500 m/s"},
    )
    divergence = report.modes[1]
    assert divergence.margin == pytest.approx(high_speed.LOOK_AHEAD / 1.2)
    assert divergence.bound == "at least"


def test_trials_say_what_a_check_says() -> None:
    """Fins tried together, of several outlines and edges, get the margins of a check of each."""
    shape = Planform(0.0762, 0.0381, 0.0635, 0.0381)
    one = Fin(shape, materials.load("balsa"), 0.003)
    board = replace(one, material=materials.load("foam-board"), thickness=0.005)
    rounded = replace(one, edge=Edge("rounded"))
    fins = [
        one,
        board,
        rounded,
        replace(one, grain=0.6),
        replace(one, planform=replace(shape, span=0.05)),
        replace(rounded, thickness=0.004),
        replace(one, coating=0.05),
    ]
    point = Point(speed=120.0, air=atmosphere.at(0.0))
    for fin_, trial in zip(fins, check.evaluate_variants(fins, point), strict=True):
        alone = check.check(fin_, point)
        ratios = [margin.ratio for margin in trial.margins]
        assert ratios == pytest.approx([margin.ratio for margin in alone.margins], rel=1e-9)
        assert trial.mass == pytest.approx(float(alone.structure.mass[0]), rel=1e-12)


def test_loads_together_are_the_loads_alone() -> None:
    """Many moments of a flight asked in one go get the root loads of each asked alone."""
    one = Fin(Planform(0.0762, 0.0381, 0.0635, 0.0381), materials.load("balsa"), 0.0024)
    shape, found = model.build(one, [one.layup()], [one.direction])
    moments = [
        Point(speed=speed, air=atmosphere.at(height), attack=attack)
        for speed, height, attack in ((30.0, 0.0, 0.1), (150.0, 900.0, 0.03), (400.0, 500.0, 0.02))
    ]
    together = loads.air_load(shape, found, [0, 0, 0], moments)
    for place, moment in enumerate(moments):
        alone = loads.air_load(shape, found, [0], [moment])
        assert together.moment[place] == pytest.approx(alone.moment[0], rel=1e-9)
        assert together.shear[place] == pytest.approx(alone.shear[0], rel=1e-9)
        scale = np.abs(alone.coefficients).max()
        apart = together.coefficients[place] - alone.coefficients[0]
        assert np.abs(apart).max() < 1e-9 * scale


def test_changes_keep_the_sizes_system() -> None:
    """A metric sheet is compared with metric sheets, an inch sheet with inch sheets."""
    metric = calculators.run("fin-check", {"thickness": "3 mm"}).changes
    inch = calculators.run("fin-check", {"thickness": "1/8 in"}).changes
    assert metric[0].inputs["thickness"].endswith("mm")
    assert metric[-1].inputs["span"].endswith("mm")
    assert inch[0].inputs["thickness"].endswith("in")


def test_unweighed_sheet_says_which_density_was_taken() -> None:
    """Without a weighed density the middle value is stated; with one, the reader's is."""
    open_ = calculators.run("fin-check", {})
    given = calculators.run("fin-check", {"density": "120 kg/m3"})
    middle = materials.load("balsa").layup(thickness=0.003).plies[0].lamina.density
    assert open_.answer("sheet_density").value == pytest.approx(middle)
    assert any("middle value" in note for note in open_.notes)
    assert given.answer("sheet_density").value == pytest.approx(120.0)
    assert not any("middle value" in note for note in given.notes)


def test_no_wind_at_all_is_refused() -> None:
    """A flight without any angle of attack would ask nothing of the root, so it is refused."""
    with pytest.raises(InputError) as refused:
        calculators.run("fin-check", {"attack": "0"})
    assert refused.value.name == "attack"


def test_grain_is_judged_as_it_may_be_cut() -> None:
    """Each margin is the lowest of the grain as drawn and two degrees off either way."""
    one = Fin(Planform(0.0762, 0.0381, 0.0635, 0.0381), materials.load("balsa"), 0.003)
    point = Point(speed=120.0, air=atmosphere.at(0.0))
    turns = [one.direction + math.radians(angle) for angle in (0.0, -2.0, 2.0)]
    each = check.evaluate_batch(one, [one.layup()] * 3, turns, point).margins
    alone = [[margins[k].ratio for margins in each] for k in range(len(each[0]))]
    found = check.check(one, point)
    assert [m.ratio for m in found.margins] == pytest.approx([min(row) for row in alone])
    assert any(min(row) < 0.999 * row[0] for row in alone)
    assert found.root.factor == pytest.approx(min(alone[2]))
    up = search.climb(one, (point,))
    assert [m.ratio for m in up.margins[0]] == pytest.approx([min(row) for row in alone[:3]])


def test_grain_that_does_not_matter_is_not_turned() -> None:
    """A sheet alike in all directions is judged once."""
    plastic = materials.load("abs").layup(thickness=0.002)
    assert check.as_cut(plastic, 0.3) == (0.3,)
    balsa = materials.load("balsa").layup(thickness=0.002)
    off = math.radians(2.0)
    assert check.as_cut(balsa, 0.3) == pytest.approx((0.3, 0.3 - off, 0.3 + off))


def test_what_the_cut_takes_is_told() -> None:
    """A margin that two degrees lower by more than 5 % says so; doubt of one is doubt of all."""

    def one(ratio: float, **more: Any) -> tuple[Margin]:
        return (Margin("flutter", 1.0, Quantity(ratio), "speed", required=1.15, **more),)

    (told,) = check.lowest([one(2.0), one(1.8), one(2.1)])
    assert (told.ratio, told.note) == (1.8, "with the grain 2° off")
    (slight,) = check.lowest([one(2.0, note="a"), one(1.95), one(2.1)])
    assert (slight.ratio, slight.note) == (1.95, "")
    (doubtful,) = check.lowest([one(2.0), one(2.2, known=False, note="why")])
    assert (doubtful.ratio, doubtful.known, doubtful.note) == (2.0, False, "why")


UNTRIED = {
    "material": "carbon-epoxy-quasi-isotropic",
    "thickness": "3/8 in",
    "speed": "1000 m/s",
    "attack": "0.5",
}
"""A fin in a flight faster than any measured flutter."""


def test_cannot_say_tells_what_stands() -> None:
    """Without a verdict the sentence has the reason, the bound, what stands and what would help."""
    report = calculators.run("fin-check", UNTRIED)
    assert report.verdict is not None
    assert report.verdict.state == "unknown"
    sentence = report.verdict.sentence
    for words in ("faster than Mach 2.5", "flutter at least", "not promised", "Promised:",
                  "bending at the root", "stays below Mach 2.5"):  # fmt: skip
        assert words in sentence
    assert sentence in text.text(report, units="inch")


def test_doubt_reaches_every_form_of_the_answer() -> None:
    """JSON, CSV and a batch's row say what is not promised and why, and repeat the sentence."""
    report = calculators.run("fin-check", UNTRIED)
    assert report.verdict is not None
    out = as_json(report, {}, version="1")
    modes = {mode["name"]: mode for mode in out["modes"]}
    assert not modes["flutter"]["promised"]
    assert "Mach 2.5" in modes["flutter"]["note"]
    assert modes["bending"]["promised"]
    table = as_csv(out)
    assert "not promised; faster than Mach 2.5" in table
    assert report.verdict.sentence in table.replace('""', '"')
    row = batch.answer_row(batch.Row("fin-check", tuple(sorted(UNTRIED.items()))))
    assert row["not_promised"] == "flutter, divergence"
    assert row["sentence"] == report.verdict.sentence
    assert "flutter: faster than Mach 2.5" in row["notes"]
    sure = batch.answer_row(batch.Row("fin-check", ()))
    assert "not_promised" not in sure
    assert "angle of attack" in sure["notes"]


def test_the_motion_shown_is_of_the_cut_that_flutters_first() -> None:
    """Of a fin as drawn and with its grain 2 degrees off, the first to flutter is shown."""
    outline = Planform(root=0.0762, tip=0.0381, span=0.0635, sweep=0.1)
    fin = Fin(outline, materials.load("balsa"), 0.0024, grain=math.radians(10.0))
    result = check.check(fin, Point(100.0, atmosphere.at(300.0)))
    speeds = result.boundaries.flutter_speed
    assert speeds[result.flutter_row] == pytest.approx(result.margins[0].capacity.value)
    assert speeds[result.flutter_row] < 0.999 * speeds[0]


def test_a_boundary_of_the_turned_grain_moves_with_the_sheet_as_it_does_there() -> None:
    """Where only grain cut 3 degrees off flutters, its scatter is that of the fin cut so."""
    fin = Fin(
        Planform(root=0.0537, tip=0.0375, span=0.0660, sweep=0.0268),
        materials.load("basswood"),
        0.0024,
        grain=-0.2176,
    )
    point = Point(speed=186.16, air=atmosphere.site(0.0, 288.15).at(100.0))
    found = check.check(fin, point)
    flutter = found.margins[0]
    assert not flutter.bound
    stack, ways = fin.layup(), check.as_cut(fin.layup(), fin.direction)
    alone = [check.evaluate_batch(fin, [stack], [way], point).margins[0][0] for way in ways]
    assert [bool(margin.bound) for margin in alone] == [True, True, False]
    names = list(found.slopes)
    moved = [stack, *(fin.layup({name: check.STEP}) for name in names)]
    # without the limit at which the search ends, where a stiffer sheet may meet nothing
    there = check.evaluate_batch(fin, moved, [ways[2]] * len(moved), point)
    ratio = check._ratios(there, point)[:, 0]
    expected = np.log(ratio[1:] / ratio[0]) / math.log(check.STEP)
    assert [found.slopes[name][0] for name in names] == pytest.approx(expected, abs=1e-6)


def test_the_joint_is_drawn_against_the_thickness() -> None:
    """The chart shows the joint where it is judged, and the sizes its neighbours are sold in."""
    report = calculators.run("fin-check", {})
    figure = next(f for f in report.figures if f.title == "Margin against thickness")
    lines = {line["name"]: line for line in figure.data["series"]}
    joint = lines["Root joint in flight"]
    own = next(m for m in report.modes if m.name == "joint")
    assert own.margin == pytest.approx(joint["y"][joint["x"].index(0.125 * 0.0254)], abs=1e-4)
    thicker = next(c for c in report.changes if c.label.startswith("One size thicker"))
    size = 3 / 16 * 0.0254
    place = min(range(len(joint["x"])), key=lambda k: abs(joint["x"][k] - size))
    assert joint["x"][place] == pytest.approx(size)
    drawn = min(line["y"][place] for line in lines.values())
    assert thicker.margin == pytest.approx(drawn, abs=1e-4)
    assert "the search ends" in figure.caption
    bare = calculators.run("fin-check", {"joint": "none"}).figures[-1]
    assert "Not drawn: the joint" in bare.caption


def test_one_fin_and_all_fins_are_weighed_in_one_unit() -> None:
    """Two lines below each other, of which one would be in grams, are both in ounces."""
    report = calculators.run("fin-check", {})
    lines = [
        line
        for line in text.text(report, units="inch").splitlines()
        if line.strip().startswith("Mass of")
    ]
    assert [line.split()[-1] for line in lines] == ["oz", "oz"]
