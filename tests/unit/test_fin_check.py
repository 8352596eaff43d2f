"""The main job held against physics that needs no computation: what must grow, grows."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc import aeroelastic, atmosphere, calculators, check, materials
from calc.errors import InputError
from calc.planform import Edge, Planform

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


def fin(shape: Planform, name: str, share: float, **more: float) -> check.Fin:
    """Return a fin whose thickness is a share of its root."""
    return check.Fin(
        planform=shape, material=materials.load(name), thickness=share * shape.root, **more
    )


def boundaries(one: check.Fin, altitude: float = 0.0) -> tuple[float, float]:
    """Return flutter and divergence speed with air of Mach 0 and the density of an altitude."""
    point = check.Point(speed=50.0, air=atmosphere.at(altitude))
    found = check.survey(one, [one.layup()], [one.direction], point)
    return (
        float(found.stability.flutter_by_mach[0, 0]),
        float(found.stability.divergence_by_mach[0, 0]),
    )


def beat(one: check.Fin, altitude: float) -> tuple[float, bool]:
    """Return the flutter frequency with air of Mach 0 [rad/s], and whether that flutter is hard.

    Hard means that a structural damping coefficient of 0.03, more than wood has, moves the speed by
    less than 3 %. Where there is no flutter the frequency is 1.
    """
    shape, found = check.shaped(one, [one.layup()], [one.direction])
    forces = shape.air.on_modes(found.system.basis, found.modes.shapes)
    density = np.full(check.MACHS.size, atmosphere.at(altitude).density)
    free, damped = (
        aeroelastic.flutter(
            forces, frequency=found.modes.frequency, density=density, damping=damping
        )
        for damping in (0.0, 0.03)
    )
    frequency = float(free.frequency[0, 0])
    hard = bool(damped.speed[0, 0] < 1.03 * free.speed[0, 0])
    return (frequency if math.isfinite(frequency) else 1.0), hard


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
def test_denser_air_never_later(shape: Planform, name: str, share: float, altitude: float) -> None:
    """Flutter and divergence come no later in the denser air below than in the thin air above.

    Air that a plate carries along adds to its mass, pi/4 of density times chord a square metre
    (thin-aerofoil theory: Theodorsen, NACA Report 496, 1935). On light fins denser air may delay
    flutter by as much as that share grows, as on hydrofoils; fins hardly heavier than the air
    around them are left out. Flutter is compared in steps of a kilometre at most, where it is the
    same flutter, told by its beat, and a hard one, which a little structural damping does not put
    off: a faint branch, whose damping just reaches zero, can appear, shift and vanish on the way.
    """
    one = fin(shape, name, share)
    heights = np.linspace(0.0, altitude, math.ceil(altitude / 1000.0) + 1)
    carried = [
        math.pi / 4 * atmosphere.at(float(h)).density * shape.mean_chord / one.layup().areal_mass
        for h in heights
    ]
    if carried[0] > 0.25:
        return
    found = [(*boundaries(one, float(h)), *beat(one, float(h))) for h in heights]
    for (low, below), (high, above) in pairwise(zip(found, carried, strict=True)):
        assert low[1] <= high[1] * 1.005
        if low[3] and high[3] and abs(low[2] / high[2] - 1.0) < 0.025:
            assert low[0] <= high[0] * 1.005 * (1.0 + below) / (1.0 + above)


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
        assert mode.low is None or mode.low <= mode.margin * 1.001
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
    """With a motor the answer is judged at a moment of that flight and says so."""
    report = calculators.run("fin-check", {"flight": "motor", "motor": "E", "thrust": "25 N"})
    fastest = report.answer("demand_speed").value
    assert 30.0 < fastest < 300.0
    assert report.steps[0].title == "The flight"


def test_transonic_is_bracketed_and_said() -> None:
    """Between Mach 0.9 and 1.2 the answer says that no linear theory holds there."""
    report = calculators.run("fin-check", {"speed": "340 m/s", "thickness": "1/4 in"})
    assert any("no linear theory" in note for note in report.notes)
    assert report.verdict is not None


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
    one = check.Fin(Planform(0.0762, 0.0381, 0.0635, 0.0381), materials.load("balsa"), 0.0024)
    air = atmosphere.at(0.0)
    shape = check.model_for(one)
    found = check.structure(shape, [one.layup()], [one.direction])
    stable = check.stability(shape, found, air)
    edge = float(stable.divergence_speed[0]) / check.REQUIRED_SPEED_MARGIN
    moments = [check.Point(speed=part * edge, air=air) for part in (0.1, 1.0, 1.5)]
    load = check.air_load(shape, found, [0, 0, 0], moments)
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
    report = calculators.run("fin-check", {})
    flutter, divergence = report.modes[:2]
    assert flutter.bound == "at least"
    assert flutter.margin >= divergence.margin
    assert report.verdict is not None
    assert report.verdict.governs == "divergence"


def test_a_limit_is_never_said_to_come_first() -> None:
    """Where nothing is found up to the model's end the sentence says so instead of "first"."""
    report = calculators.run("fin-check", {"material": "glass-epoxy"})
    assert report.verdict is not None
    assert "comes first" not in report.verdict.sentence
    assert "Mach 0.9" in report.verdict.sentence


def test_beyond_sound_no_margin_is_endless() -> None:
    """A boundary that is never met beyond Mach 0.9 is told as a limit, not as infinity."""
    report = calculators.run(
        "fin-check",
        {"material": "carbon-epoxy-woven", "thickness": "3/16 in", "speed": "500 m/s"},
    )
    divergence = report.modes[1]
    assert divergence.margin == check.MOST
    assert divergence.bound == "at least"


def test_trials_say_what_a_check_says() -> None:
    """Fins tried together, of several outlines and edges, get the margins of a check of each."""
    shape = Planform(0.0762, 0.0381, 0.0635, 0.0381)
    one = check.Fin(shape, materials.load("balsa"), 0.003)
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
    point = check.Point(speed=120.0, air=atmosphere.at(0.0))
    for fin_, trial in zip(fins, check.trials(fins, point), strict=True):
        alone = check.check(fin_, point)
        ratios = [margin.ratio for margin in trial.margins]
        assert ratios == pytest.approx([margin.ratio for margin in alone.margins], rel=1e-9)
        assert trial.mass == pytest.approx(float(alone.structure.mass[0]), rel=1e-12)


def test_loads_together_are_the_loads_alone() -> None:
    """Many moments of a flight asked in one go get the root loads of each asked alone."""
    one = check.Fin(Planform(0.0762, 0.0381, 0.0635, 0.0381), materials.load("balsa"), 0.0024)
    shape, found = check.shaped(one, [one.layup()], [one.direction])
    moments = [
        check.Point(speed=speed, air=atmosphere.at(height), attack=attack)
        for speed, height, attack in ((30.0, 0.0, 0.1), (150.0, 900.0, 0.03), (400.0, 500.0, 0.02))
    ]
    together = check.air_load(shape, found, [0, 0, 0], moments)
    for place, moment in enumerate(moments):
        alone = check.air_load(shape, found, [0], [moment])
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
