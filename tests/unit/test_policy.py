"""The policy that turns numbers into a verdict: every constant, every rule, both sides of each.

The constants with their sources stand in ``tests/policy.toml``, and ``python -m scripts.mutate``
changes each of them, and each comparison of the rules, to see that a test notices.
"""

from __future__ import annotations

import ast
import importlib
import inspect
import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from statistics import NormalDist
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from calc import aeroelastic, calculators, materials
from calc import margin as margins_
from calc.air import atmosphere, lifting_surface
from calc.calculators import landing, ring, root_joint, shared
from calc.errors import InputError
from calc.fin import boundaries, check, loads, model, policy, search, touchdown
from calc.fin import joint as fin_joint
from calc.fin.fin import HAND, Fin, Point
from calc.flight import motor
from calc.geometry.planform import Planform
from calc.margin import Margin, Quantity
from calc.materials import bonding
from calc.structure import impact
from calc.structure import rings as ring_physics
from calc.structure import root_joint as joint
from scripts import mutate

CONSTANTS = mutate.constants()
AIR = atmosphere.at(0.0)
SOUND = float(AIR.sound_speed)
JUST = 1.0 + 1e-9
"""Factor to the other side of a limit."""
TENTH = 2.0 ** (NormalDist().inv_cdf(0.975) / NormalDist().inv_cdf(0.9))
"""Half the spread of a joint about 2, as a factor, of whose like one in ten bears less than 1: its
ends hold 95 % of joints, and their logarithms are normal."""


# --- every constant as its source has it ------------------------------------------------------


def plain(value: Any) -> Any:
    """Return a constant as TOML would hold it."""
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    return value


@pytest.mark.parametrize("item", CONSTANTS, ids=lambda item: f"{item.group}.{item.name}")
def test_constant_is_as_sourced(item: mutate.Constant) -> None:
    """Each constant has the value that its source gives; the sources stand beside the values."""
    assert item.source.strip()
    module = importlib.import_module(item.module)
    if item.inside is not None:
        name, number = item.inside
        assert mutate.literals(ast.parse(inspect.getsource(module)), name, number)
        assert number == item.value
        return
    found = plain(mutate.reached(module, item.path))
    if isinstance(item.value, float) or (
        isinstance(item.value, list) and not isinstance(item.value[0], str)
    ):
        assert found == pytest.approx(item.value, rel=1e-9)
    else:
        assert found == item.value


@pytest.mark.parametrize("group", mutate.table()["modules"])
def test_no_constant_is_forgotten(group: str) -> None:
    """Each number named in a module that makes verdicts is in the table, or is left out by name."""
    module = importlib.import_module(mutate.table()["modules"][group])
    known = {item.path[0] for item in CONSTANTS if item.group == group}
    known |= set(mutate.table()["left_out"].get(group, {}))
    for node in ast.parse(inspect.getsource(module)).body:
        value = getattr(node, "value", None)
        if not isinstance(node, ast.Assign | ast.AnnAssign) or value is None:
            continue
        called = {n.func.id for n in ast.walk(value) if isinstance(n, ast.Call)
                  and isinstance(n.func, ast.Name)}  # fmt: skip
        if called & {"Input", "Calculator", "Choice"}:
            continue
        numbers = [
            n.value
            for n in ast.walk(value)
            if isinstance(n, ast.Constant) and type(n.value) in (int, float)
        ]
        if numbers:
            assert set(mutate.names_of(node)) <= known, "add it to tests/policy.toml"


def test_table_names_what_is_there() -> None:
    """Modules, calculators and test files of the table exist."""
    table = mutate.table()
    for group in (*table["constants"], *table["rules"], *table["left_out"]):
        assert group in table["modules"], group
    for group in {*table["constants"], *table["rules"]}:
        assert set(table["asked"][group]) <= set(calculators.SLUGS)
    for paths in table["tests"].values():
        assert all((mutate.ROOT / path).exists() for path in paths), paths


def test_every_reason_is_needed() -> None:
    """Each change that is excused is one that the mutation run makes."""
    excused = mutate.tomllib.loads(mutate.SURVIVORS.read_text(encoding="utf-8"))["survivors"]
    assert set(excused) <= {mutant.name for mutant in mutate.mutants()}
    assert all(len(reason) > 20 for reason in excused.values())


# --- the verdict ------------------------------------------------------------------------------


def flying(ratio: float, **more: Any) -> Margin:
    """Return a margin of the flight, 1.15 asked of it."""
    kept = {"name": "flutter", "kind": "speed", "required": 1.15, **more}
    held = Quantity(100.0 * ratio, bound="at least" if kept.pop("bound", False) else "")
    return Margin(demand=100.0, capacity=held, **kept)


def ground(ratio: float, **more: Any) -> Margin:
    """Return a margin of handling, 1 asked of it."""
    return flying(ratio, **{"name": "handling", "required": 1.0, "flight": False, **more})


GOOD = flying(2.0)


@pytest.mark.parametrize(
    ("margins", "shortfall", "state"),
    [
        # everything at or above what is asked, one sheet in ten at most short
        ([flying(1.15)], 0.0, "holds"),
        ([flying(1.15)], 0.10, "holds"),
        ([flying(1.15)], 0.10 * JUST, "marginal"),
        ([flying(1.15 / JUST)], 0.0, "marginal"),
        ([flying(1.5, required=1.5)], 0.0, "holds"),
        ([flying(1.5 / JUST, required=1.5)], 0.0, "marginal"),
        ([GOOD, GOOD], 1.0, "marginal"),
        # one margin below what is asked is enough, wherever it stands
        ([GOOD, flying(1.1), GOOD], 0.0, "marginal"),
        ([flying(1.1), GOOD], 0.0, "marginal"),
        # below 1 the flight fails, and nothing else makes up for it
        ([flying(1.0)], 0.0, "marginal"),
        ([flying(1.0 / JUST)], 0.0, "fails"),
        ([GOOD, flying(0.9), GOOD], 0.0, "fails"),
        ([flying(0.9), flying(2.0, known=False)], 0.0, "fails"),
        ([flying(0.9, known=False)], 0.0, "fails"),
        # what breaks on the ground ends no flight
        ([GOOD, ground(0.2)], 0.0, "marginal"),
        ([GOOD, ground(1.0)], 0.0, "holds"),
        ([GOOD, ground(1.0 / JUST)], 0.0, "marginal"),
        # what the model cannot promise is never said to hold, and comes before marginal
        ([flying(9.0, known=False)], 0.0, "unknown"),
        ([GOOD, flying(9.0, known=False)], 0.0, "unknown"),
        ([flying(9.0, known=False), flying(1.1)], 0.5, "unknown"),
        ([GOOD, ground(0.2, known=False)], 0.0, "unknown"),
        # a limit that is high enough is enough
        ([flying(1.15, bound=True)], 0.0, "holds"),
        # and one below 1 does not say that anything fails
        ([flying(0.9, bound=True)], 0.0, "marginal"),
        # a part may bear less than is required of it before it gives way
        ([flying(0.75, required=1.0, fails_below=0.7)], 0.0, "marginal"),
        ([flying(0.7 / JUST, required=1.0, fails_below=0.7)], 0.0, "fails"),
        # where the model ends, a limit below 1 says nothing
        ([flying(0.9, bound=True, known=False)], 0.0, "unknown"),
    ],
)
def test_verdict_state(margins: list[Margin], shortfall: float, state: str) -> None:
    """Holds, marginal, fails or unknown, by the rules the handbook gives, on both sides of each."""
    assert policy.verdict_state(margins, shortfall) == state


@pytest.mark.parametrize(
    ("margins", "first"),
    [
        # against what is asked of each, not by itself
        ([flying(1.4, name="a", required=1.5), flying(1.3, name="b")], "a"),
        ([flying(1.3, name="b"), flying(1.4, name="a", required=1.5)], "a"),
        # in flight and on the ground alike
        ([ground(0.1, name="a"), flying(0.9, name="b")], "a"),
        ([flying(0.9, name="a"), flying(0.8, name="b"), flying(0.95, name="c")], "b"),
        ([ground(0.5, name="a"), flying(1.0, name="b", required=1.5)], "a"),
        ([ground(0.8, name="a"), flying(1.0, name="b", required=1.5)], "b"),
        # of equal ones the known value comes before the limit
        ([flying(1.2, name="a", bound=True), flying(1.2, name="b")], "b"),
    ],
)
def test_governing(margins: list[Margin], first: str) -> None:
    """The smallest margin against what is required governs, so that a verdict has one number."""
    assert policy.governing(margins).name == first


def test_weakest_is_of_the_flight() -> None:
    """A handling margin never decides how a flight is scored."""
    margins = [ground(0.1), flying(1.3, name="b"), flying(1.4, name="c", required=1.5)]
    assert policy.weakest(margins).name == "c"
    assert policy.score(margins) == pytest.approx(1.4 / 1.5)


@pytest.mark.parametrize(
    ("mach", "air"),
    [
        (0.5, "subsonic"),
        (0.9, "subsonic"),
        (0.9 * JUST, "transonic"),
        (1.2 / JUST, "transonic"),
        (1.2, "supersonic"),
        (2.0, "supersonic"),
    ],
)
def test_regime(mach: float, air: str) -> None:
    """Subsonic up to Mach 0.9, supersonic from 1.2, transonic between."""
    assert policy.regime(mach) == air


def test_model_scatter_by_mode() -> None:
    """Flutter and divergence carry the flutter model's scatter, strength its own."""
    assert policy.MODEL_COV == {
        "flutter": 0.08, "divergence": 0.08, "bending": 0.15, "handling": 0.15,
    }  # fmt: skip


def at_mach(mach: float) -> Point:
    """Return a moment in sea-level air at a Mach number that is exact in floating point."""
    air = replace(AIR, sound_speed=np.float64(320.0))
    return Point(speed=320.0 * mach, air=air)


def speed_margin(flight: float, speed: float, found: bool, **fast: Any) -> Margin:
    """Return the margin of a boundary at a speed [m/s], or of one beyond Mach 0.9."""
    beyond = None
    if fast:
        kept = {"bound": False, "by_divergence": False, "mach": 1.1, **fast}
        beyond = SimpleNamespace(
            judged=np.array([kept.get("judged", True)]),
            first_ratio=np.array([kept["ratio"]]),
            first_bound=np.array([kept["bound"]]),
            first_mach=np.array([kept["mach"]]),
            by_divergence=np.array([kept["by_divergence"]]),
        )
    stable = SimpleNamespace(
        flutter_speed=np.array([speed]), flutter_found=np.array([found]), fast=beyond
    )
    return check._speed_margin("flutter", "Flutter", stable, 0, at_mach(flight))  # type: ignore[arg-type]


def test_subsonic_margin_is_boundary_over_speed() -> None:
    """Up to Mach 0.9 the margin is the boundary over the speed, asked 1.15 of it."""
    margin = speed_margin(0.5, 240.0, True)
    assert (margin.ratio, margin.required) == (1.5, 1.15)
    assert not margin.bound
    assert margin.known
    assert margin.note == ""
    assert speed_margin(0.9, 432.0, True).ratio == pytest.approx(1.5)


def test_subsonic_limit_is_told_as_one() -> None:
    """Without a boundary the margin is a lower limit, and says how far was looked."""
    end = speed_margin(0.5, 0.9 * 320.0, False)
    assert end.bound
    assert "Mach 0.9" in end.note
    edge = speed_margin(0.5, 0.999 * 0.9 * 320.0, False)
    assert "Mach 0.9" in edge.note
    hidden = speed_margin(0.5, 0.99 * 0.9 * 320.0, False)
    assert hidden.bound
    assert "diverges" in hidden.note


def test_margin_beyond_is_that_of_the_fast_air() -> None:
    """Where the boundary lies beyond Mach 0.9 its own margin counts, by name of its Mach number."""
    margin = speed_margin(1.0, 100.0, False, ratio=1.1, mach=1.1)
    assert (margin.ratio, margin.bound, margin.known) == (1.1, "", True)
    assert "at Mach 1.10" in margin.note
    assert "at Mach 1.10" in speed_margin(1.1, 100.0, False, ratio=1.1, mach=at_mach(1.1).mach).note
    assert "passing Mach 0.95" in speed_margin(1.3, 100.0, False, ratio=1.1, mach=0.95).note
    assert speed_margin(0.8, 100.0, False, ratio=1.1, mach=0.9).note == ""
    limit = speed_margin(1.0, 100.0, False, ratio=1.25, bound=True, mach=1.25)
    assert limit.bound
    assert "up to Mach 1.25" in limit.note
    early = speed_margin(1.0, 100.0, False, ratio=1.1, by_divergence=True)
    assert (early.ratio, early.bound) == (1.1, "at least")
    assert early.note == "not before the fin diverges"
    # a row that is settled below is judged as ever
    assert speed_margin(1.0, 160.0, True, ratio=9.0, judged=False).ratio == 0.5


def test_faster_than_tests_nothing_is_promised() -> None:
    """Above Mach 2.5 a margin may warn but never reassure."""
    assert speed_margin(2.5, 100.0, False, ratio=1.2, mach=2.0).known
    beyond = speed_margin(2.5 * JUST, 100.0, False, ratio=1.2, mach=2.0)
    assert not beyond.known
    assert "Mach 2.5" in beyond.note


@pytest.mark.parametrize(
    ("mach", "factor", "required", "scatter"),
    [
        (0.5, 1.0, 1.15, 0.08),
        (0.9, 1.0, 1.15, 0.08),
        (0.925, 0.925, 1.175, 0.09),
        (0.95, 0.85, 1.2, 0.10),
        (1.3, 0.85, 1.2, 0.10),
        (3.0, 0.85, 1.2, 0.10),
    ],
)
def test_transonic_rules(mach: float, factor: float, required: float, scatter: float) -> None:
    """From Mach 0.9 to 0.95 the factor of the wind tunnel, more margin and more scatter set in."""
    assert policy.transonic_factor(mach) == pytest.approx(factor)
    assert policy.required_speed_margin(mach) == pytest.approx(required)
    for name in ("flutter", "divergence"):
        assert policy.model_cov(name, mach) == pytest.approx(scatter)
    assert policy.model_cov("bending", mach) == 0.15
    assert speed_margin(mach, 100.0, True).required == pytest.approx(required)


def doubt(mass: float, *, unresolved: bool = False, fast: Any = None) -> str:
    """Return the doubt about a fin of 1 m2 and 0.5 m chord in air of 1.2 kg/m3."""
    shape = SimpleNamespace(planform=SimpleNamespace(area=1.0, mean_chord=0.5))
    stable = SimpleNamespace(unresolved=np.array([unresolved]), fast=fast)
    point = Point(speed=100.0, air=replace(AIR, density=np.float64(1.2)))
    return check._doubt(shape, mass, stable, point, 0)  # type: ignore[arg-type]


def test_doubt_about_light_fins() -> None:
    """A fin lighter than the air around it is promised nothing; one exactly as heavy is judged."""
    assert "weighs less" in doubt(0.6 / JUST)
    assert doubt(0.6 * JUST) == ""
    assert doubt(0.6) == ""


def test_doubt_about_rapid_flutter() -> None:
    """Flutter at the highest wavenumber of the air model may really come earlier."""
    assert "faster" in doubt(10.0, unresolved=True)
    assert doubt(10.0) == ""
    # beyond Mach 0.9 it is the flutter there that counts
    for judged, rapid, told in ((True, True, True), (True, False, False), (False, True, False)):
        fast = SimpleNamespace(judged=np.array([judged]), unresolved=np.array([rapid]))
        assert bool(doubt(10.0, fast=fast)) is told
        assert bool(doubt(10.0, fast=fast, unresolved=True)) is (told or not judged)


@pytest.mark.parametrize(
    ("wavenumber", "speeds", "unresolved"),
    [
        (1.0, (100.0, 90.0, 95.0), True),
        (0.999, (100.0, 90.0, 95.0), True),
        (0.998, (100.0, 90.0, 95.0), False),
        # Only the wavenumber at the lowest speed counts.
        (1.0, (80.0, 90.0, 95.0), False),
    ],
)
def test_flutter_at_the_last_wavenumber_is_unresolved(
    wavenumber: float, speeds: tuple[float, ...], unresolved: bool
) -> None:
    """The lowest flutter speed is unresolved from 99.9 % of the highest wavenumber on."""
    curves = boundaries._Boundaries(
        machs=np.array([0.0, 0.6, 0.9]),
        flutter=np.array([speeds]),
        divergence=np.full((1, 3), np.inf),
        wavenumber=np.array([[0.1, wavenumber, 0.1]]),
        solved=np.ones((1, 3), dtype=bool),
    )
    assert curves.unresolved(1.0).tolist() == [unresolved]


def root(factor: float) -> Any:
    """Return a root load with a factor to failure."""
    return SimpleNamespace(factor=factor, stress=2e6, failing="a ply")


def test_bending_takes_the_hardest_load() -> None:
    """The moment and the passage of Mach 1 are judged; the note says when it was the passage."""
    margin, hardest = check._bending(at_mach(2.0), [root(3.0), root(2.0), root(2.5)])
    assert (margin.ratio, margin.required, hardest.factor) == (2.0, 1.5, 2.0)
    assert "while passing Mach 1" in margin.note
    margin, _ = check._bending(at_mach(2.0), [root(2.0), root(3.0)])
    assert "passing" not in margin.note


def test_thumb_is_three_newtons_and_must_be_borne() -> None:
    """A careful hand of 3 N is asked once over, and never called a matter of the flight."""
    margin = check._handling(root(2.0), HAND)
    assert (margin.demand, margin.capacity, margin.required) == (3.0, Quantity(6.0), 1.0)
    assert not margin.flight


def test_scatter_of_a_limit_is_judged_beyond_it() -> None:
    """A lower limit scatters about the boundary of Mach 0.9's air going on beyond it."""
    stable = SimpleNamespace(
        flutter_by_mach=np.array([[1.0, 2.0, 400.0]]),
        divergence_by_mach=np.array([[1.0, 2.0, 200.0]]),
        fast=None,
    )
    point = Point(speed=100.0, air=AIR)
    seen = [
        check._unlimited(margin, stable, 0, point)  # type: ignore[arg-type]
        for margin in (
            flying(3.0),
            flying(3.0, bound=True),
            flying(3.0, bound=True, name="divergence"),
        )
    ]
    assert seen == [3.0, 4.0, 3.0]
    stable.fast = SimpleNamespace(judged=np.array([True]), beyond=np.array([[5.0, 3.5]]))
    beyond = [
        check._unlimited(flying(3.0, bound=True, name=name), stable, 0, point)  # type: ignore[arg-type]
        for name in ("flutter", "divergence")
    ]
    assert beyond == [5.0, 3.5]


@pytest.mark.parametrize("mach", [1.5, 2.0, 3.0])
def test_air_load_beyond_sound(mach: float) -> None:
    """The load on a rectangle is that of exact linear theory, its ends included.

    C_L,alpha = (4/beta)[1 - 1/(2 beta A)] with A that of fin and mirror image (Harmon, NACA TR
    925, 1949). A stiff fin, so that twist adds little; forces run straight between Mach numbers.
    """
    fin = Fin(
        Planform(root=0.08, tip=0.08, span=0.06, sweep=0.0),
        materials.load("carbon-epoxy-quasi-isotropic"),
        0.02,
    )
    shape, found = model.build(fin, [fin.layup()], [fin.direction])
    point = Point(speed=mach * SOUND, air=AIR, attack=0.01)
    load = loads.air_load(shape, found, [0], [point])
    slope = float(load.shear[0]) / (point.pressure * fin.planform.area * point.attack)
    beta = math.sqrt(mach**2 - 1.0)
    assert slope == pytest.approx(4.0 / beta * (1.0 - 1.0 / (2.0 * beta * 1.5)), rel=0.03)


def test_passage_of_mach_one_counts() -> None:
    """A flight is loaded at every Mach number that it passed in the same air, and at no other."""
    machs = [round(moment.mach, 6) for moment in loads.passage(at_mach(1.3))]
    assert machs == [1.3, 0.95, 1.0, 1.05, 1.1, 1.15, 1.25]
    assert [moment.mach for moment in loads.passage(at_mach(0.9))] == [0.9]


def test_no_speed_no_answer() -> None:
    """A fin that does not fly is not judged, however little it misses zero by."""
    fin = Fin(Planform(0.0762, 0.0381, 0.0635, 0.0381), materials.load("balsa"), 0.003)
    with pytest.raises(InputError, match="speed"):
        check.check(fin, Point(speed=0.0, air=AIR))


# --- the joint --------------------------------------------------------------------------------


def test_allowable_is_the_weakest_and_a_third_where_uneven() -> None:
    """ANC Bulletin 18, 2.910 and 2.912: the weakest partner; a third of it web to flange."""
    assert joint.allowable(3e6, 9e6) == 3e6
    assert joint.allowable(9e6, 6e6, uneven=True) == 2e6


def test_margin_without_demand_is_endless() -> None:
    """Nothing asked is borne any number of times; the worst of several is the smallest."""
    assert Margin("a", 0.0, Quantity(1.0), "N").ratio == math.inf
    assert Margin("a", 1e-300, Quantity(1.0), "N").ratio < math.inf
    low, high = (
        Margin(name, 1.0, Quantity(value), "N") for name, value in (("a", 1.0), ("b", 2.0))
    )
    assert margins_.worst((high, low)).name == "a"


def band(low: float, high: float, name: str = "glue line, bending") -> Margin:
    """Return a way to fail under a demand of one newton metre."""
    return margins_.between(name, "N m/m", demand=1.0, low=low, high=high)


def test_margins_between_weak_and_strong_parts() -> None:
    """The middle is the geometric mean of both ends; a lower demand counts as capacity."""
    glue = margins_.between("glue", "N", demand=2.0, low=2.0, high=18.0)
    assert (glue.low, glue.ratio, glue.high) == (1.0, 3.0, 9.0)
    idle = margins_.between("glue", "N", demand=0.0, low=2.0, high=18.0)
    assert (idle.low, idle.ratio, idle.high) == (math.inf,) * 3
    tiny = margins_.between("glue", "N", demand=1e-300, low=2.0, high=18.0)
    assert max(tiny.low, tiny.ratio, tiny.high) < math.inf
    weak, strong = (Margin("glue", 2.0, Quantity(capacity), "N") for capacity in (3.0, 5.0))
    assert margins_.bands([weak], [strong]) == (
        margins_.between("glue", "N", demand=2.0, low=3.0, high=5.0),
    )
    assert margins_.bands([strong], [weak]) == (
        margins_.between("glue", "N", demand=2.0, low=3.0, high=5.0),
    )
    eased = Margin("glue", 1.0, Quantity(3.0), "N")
    assert margins_.bands([weak], [eased]) == (
        margins_.between("glue", "N", demand=2.0, low=3.0, high=6.0),
    )
    idle_ends = [Margin("glue", 0.0, Quantity(capacity), "N") for capacity in (3.0, 5.0)]
    (none,) = margins_.bands(idle_ends[:1], idle_ends[1:])
    assert (none.capacity.low, none.capacity.high) == (3.0, 5.0)


@pytest.mark.parametrize(
    ("low", "high", "known", "state"),
    [
        (1.0, 2.25, True, "holds"),
        (1.0, 2.25 / JUST**2, True, "marginal"),
        (2.0 / TENTH * JUST, 2.0 * TENTH / JUST, True, "holds"),
        (2.0 / TENTH / JUST, 2.0 * TENTH * JUST, True, "marginal"),
        (1.0, 1.0, True, "marginal"),
        (1.0 / JUST, 1.0 / JUST, True, "fails"),
        (0.5, 9.0, True, "marginal"),
        (2.0, 9.0, False, "unknown"),
        (0.1, 0.2, False, "fails"),
        (1.0, 1.0, False, "unknown"),
    ],
)
def test_joint_verdict(
    monkeypatch: pytest.MonkeyPatch, low: float, high: float, known: bool, state: str
) -> None:
    """1.5 in the middle and one in ten giving way holds; below 1 fails; a doubtful load neither.

    The middle is the geometric mean of both ends; 1.5, a margin of 1, is the square root of 2.25.
    """
    survey = check.batch_margins

    def doubtful(*given: Any) -> check.BatchMargins:
        found = survey(*given)
        row = tuple(replace(m, known=known) for m in found.margins[0])
        return replace(found, margins=(row,))

    monkeypatch.setattr(check, "batch_margins", doubtful)
    monkeypatch.setattr(joint, "capacity", lambda *_, **__: bears(band(low, high)))
    report = calculators.run("root-joint", {})
    assert report.verdict is not None
    assert report.verdict.state == state
    assert report.verdict.margin == pytest.approx(math.sqrt(low * high) / 1.5)


def bears(*parts: Margin, at_least: bool = False, most: float = 9.0) -> Any:
    """Return a joint that bears some loads."""
    return joint.JointCapacity(parts, "surface", None, most, at_least)


def case(name: str, *, known: bool = True) -> fin_joint.JointLoad:
    """Return a load on a joint, of the air or of a hand."""
    return fin_joint.JointLoad(name, LOAD, LOAD, flight=name == "air", known=known)


def on_joint(air: Any, hand: Any, *, known: bool = True) -> tuple[fin_joint.Judged, ...]:
    """Return a joint judged under the air's load and a hand's."""
    return (
        fin_joint.Judged(case("air", known=known), air),
        fin_joint.Judged(case("hand"), hand),
    )


def test_joint_is_judged_by_its_weakest_part_and_load(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of several ways to fail, the smallest margin over its requirement is reported.

    A flight asks 1.5, a hand 1: 4 times the load of the air is less than 3 times a hand's.
    """
    for hand, first, margin in ((3.0, "air 4.0", 4.0 / 1.5), (2.6, "hand 2.6", 2.6)):
        bear = on_joint(
            bears(band(9.0, 9.0, "air 9"), band(4.0, 4.0, "air 4.0")),
            bears(band(7.0, 7.0, "hand 7"), band(hand, hand, f"hand {hand}")),
        )
        monkeypatch.setattr(fin_joint, "judged", lambda *_, bear=bear, **__: bear)
        report = calculators.run("root-joint", {})
        assert report.verdict is not None
        assert report.verdict.governs == first
        assert report.verdict.margin == pytest.approx(margin)


@pytest.mark.parametrize(
    ("air", "hand", "own", "known", "state"),
    [
        # air low and high end, hand low and high end, the fin's own two margins
        ((1.0, 2.25), (1.0, 1.0), (1.5, 1.0), True, "holds"),
        ((1.0, 2.25), (1.0 / JUST, 1.0 / JUST), (1.5, 1.0), True, "marginal"),
        ((1.0, 2.25), (0.1, 0.1), (9.0, 9.0), True, "marginal"),
        # the fin itself: a strong joint is worth nothing on a fin that breaks
        ((9.0, 9.0), (9.0, 9.0), (1.0 / JUST, 9.0), True, "fails"),
        ((9.0, 9.0), (9.0, 9.0), (1.0, 9.0), True, "marginal"),
        ((9.0, 9.0), (9.0, 9.0), (1.5 / JUST, 9.0), True, "marginal"),
        ((9.0, 9.0), (9.0, 9.0), (1.5, 1.0 / JUST), True, "marginal"),
        ((9.0, 9.0), (9.0, 9.0), (9.0, 9.0), False, "unknown"),
    ],
)
def test_joint_and_fin_together(
    air: tuple[float, float],
    hand: tuple[float, float],
    own: tuple[float, float],
    known: bool,
    state: str,
) -> None:
    """Joint and fin have to bear 1.5 of the flight and 1 of a hand; a hand ends no flight."""
    results = on_joint(bears(band(*air)), bears(band(*hand)))
    assert root_joint._state(results, root_joint.Own(*own), known=known) == state


@pytest.mark.parametrize(
    ("ratio", "most", "state"),
    [
        (0.4, 1.0, "unknown"),
        (0.4, 1.0 / JUST, "fails"),
        (1.0, 2.0, "marginal"),
        (2.0, 3.0, "holds"),
    ],
)
def test_a_lower_limit_never_fails_a_joint(ratio: float, most: float, state: str) -> None:
    """A margin "at least" below 1 says nothing, unless even both load paths together are below."""
    weak = bears(band(ratio, ratio), at_least=True, most=most)
    fine = bears(band(9.0, 9.0))
    results = on_joint(weak, fine)
    assert results[0].at_least == (most >= 1.0)
    own = root_joint.Own(9.0, 9.0)
    assert root_joint._state(results, own, known=True) == state
    margin = fin_joint.margin_of(results[0])
    assert margin.bound == ("at least" if most >= 1.0 else "")
    assert margin.known == (not (most >= 1.0 > ratio))
    handled = root_joint._state(on_joint(fine, weak), own, known=True)
    assert handled == {"fails": "marginal"}.get(state, state if ratio < 1.0 else "holds")


def test_wood_glue_promises_nothing_where_it_cannot_soak_in() -> None:
    """Wood glue on a glass tube is never said to hold; on paper it is."""
    glass = {"tube": "glass-epoxy", "adhesive": "wood-glue"}
    report = calculators.run("root-joint", glass)
    assert report.verdict is not None
    assert report.verdict.state == "unknown"
    assert "soak" in report.verdict.sentence
    assert calculators.run("root-joint", {**glass, "adhesive": "epoxy"}).verdict.state == "holds"
    assert calculators.run("root-joint", {**glass, "tube": "kraft"}).verdict.state == "holds"


@pytest.mark.parametrize(
    ("diameter", "glue", "wall", "tab"),
    [
        (0.019, "wood-glue", 0.00033, False),
        (0.020, "wood-glue", 0.00033, False),
        (0.020 * JUST, "wood-glue", 0.00033, False),
        (0.030, "wood-glue", 0.00033, False),
        (0.030 * JUST, "epoxy", 0.0005, False),
        (0.050, "epoxy", 0.0005, False),
        (0.050 * JUST, "epoxy", 0.0008, True),
        (0.070, "epoxy", 0.0008, True),
        (0.070 * JUST, "epoxy", 0.0015, True),
    ],
)
def test_usual_joints(diameter: float, glue: str, wall: float, tab: bool) -> None:
    """Small tubes have fillets of wood glue, larger ones epoxy and a tab (common practice)."""
    found = fin_joint.usual(diameter)
    assert found.adhesive is bonding.ADHESIVES[glue]
    assert found.wall == wall
    assert (found.tab > 0.0) == (found.inner_fillet > 0.0) == tab
    assert found.behind == ("rings" if diameter > 0.020 else "motor")


@pytest.mark.parametrize(
    ("surface", "tab", "path", "first"),
    [
        ((2.0, 5.0), (3.0, 9.0), "tab", 3.0),
        ((3.0, 5.0), (2.0, 9.0), "surface", 3.0),
        ((3.0, 5.0), (3.0, 9.0), "surface", 3.0),
        ((4.0, 3.0), (9.0, 3.5), "tab", 3.5),
    ],
)
def test_stronger_path_counts(
    monkeypatch: pytest.MonkeyPatch,
    surface: tuple[float, ...],
    tab: tuple[float, ...],
    path: str,
    first: float,
) -> None:
    """Of glue on the surface and a tab the path whose weakest part is stronger counts, not both."""

    def margins(name: str, values: tuple[float, ...]) -> tuple[Margin, ...]:
        return tuple(Margin(f"{name} {x}", 1.0, Quantity(x), "N/m") for x in values)

    found = joint.JointMargins(margins("s", surface), margins("t", tab), None)
    monkeypatch.setattr(joint, "check", lambda *_, **__: found)
    result = joint.capacity(*JOINT)
    assert (result.path, result.governs.ratio) == (path, pytest.approx(first))


LOAD = joint.RootLoad(moment=10.0, shear=100.0, mean=10.0, root=0.06)
ROOT = joint.FinRoot(thickness=0.003, modulus=4e9, shear_strength=5e6, edge_tension=(5e6, 5e6))
GLUE = joint.Adhesive("glue", (20e6, 20e6), (20e6, 20e6), (2e9, 2e9))
TUBE = joint.Tube(
    label="tube",
    shear=(2e6, 2e6),
    tension=(1e6, 1e6),
    hoop_strength=(30e6, 30e6),
    hoop_modulus=(3e9, 3e9),
    compression=(15e6, 15e6),
    bending=(30e6, 30e6),
    crease=(15e6, 15e6),
)
BARE = joint.Joint(GLUE, TUBE, wall=0.001, diameter=0.04)
JOINT = (LOAD, ROOT, BARE)


def test_joint_takes_the_weaker_of_glue_fin_and_tube() -> None:
    """A bare edge by hand: M = sigma t^2 / 6 and V = 2/3 tau t of the weakest of three partners."""
    for place in range(3):
        glue, fin, tube = (0.5e6 if place == part else 8e6 for part in range(3))
        found = joint.check(
            LOAD,
            replace(ROOT, edge_tension=(fin, fin), shear_strength=fin),
            replace(
                BARE,
                adhesive=replace(GLUE, tension=(glue, glue), shear=(glue, glue)),
                tube=replace(TUBE, tension=(tube, tube), shear=(tube, tube)),
                tab=0.01,
            ),
        )
        weakest = min(item.capacity.value for item in found.surface[:2])
        assert weakest == pytest.approx(0.5e6 * 0.003**2 / 6.0)
        assert found.surface[2].capacity.value == pytest.approx(2.0 / 3.0 * 0.5e6 * 0.003)
        assert found.tab[1].capacity.value == pytest.approx(2.0 / 3.0 * 0.5e6 * 0.003)


def test_joint_path() -> None:
    """The stronger path governs, by its weakest part."""
    bare = joint.capacity(*JOINT)
    assert bare.path == "surface"
    assert bare.governs.ratio == min(band.ratio for band in bare.bands)
    tabbed = joint.capacity(LOAD, ROOT, replace(BARE, tab=0.01))
    assert tabbed.path == "tab"
    assert tabbed.governs.ratio == min(band.ratio for band in tabbed.bands)
    soft = replace(TUBE, compression=(30e4, 30e4))
    weak = joint.capacity(LOAD, ROOT, replace(BARE, tube=soft, tab=1e-4))
    assert weak.path == "surface"


@pytest.mark.parametrize("name", ["fillet", "tab"])
def test_joint_refuses_negative_lengths(name: str) -> None:
    """A fillet or tab of less than nothing is refused by name; none at all is fine."""
    with pytest.raises(InputError, match=name):
        replace(BARE, **{name: -1e-9})
    assert joint.check(LOAD, ROOT, replace(BARE, **{name: 0.0})).tab == ()


def test_fillets_bear_alone_where_the_butt_line_opens() -> None:
    """Where the butt line gives way first, the fillets alone count if they bear more."""
    given = {
        "thickness": 0.003, "radius": 0.006, "fin_modulus": 4e9, "fillet_modulus": 2e9,
        "toe_tension": 1e6, "face_shear": 2e6, "tube_shear": 1e6,
    }  # fmt: skip
    opened = joint.filleted(**given, butt_tension=1e4)
    assert "butt line open" in opened.limit
    leg = (2.0 - math.sqrt(2.0)) * 0.006
    inner, outer = 0.0015, 0.0015 + leg
    alone = 2.0 / 3.0 * 2e9 * (outer**3 - inner**3)
    pull = 0.5 * 2e9 * (outer**2 - inner**2)
    expected = min(1e6 * alone / (2e9 * outer), 2e6 * leg * alone / pull)
    assert opened.moment == pytest.approx(expected)
    whole = joint.filleted(**given, butt_tension=1e8)
    assert "open" not in whole.limit
    assert whole.moment > opened.moment


@pytest.mark.parametrize(
    ("texts", "refused"),
    [
        ({"joint": "tab", "tab": "20 mm", "body": "40 mm", "wall": "1 mm"}, ""),
        ({"joint": "tab", "tab": "20.1 mm", "body": "40 mm", "wall": "1 mm"}, "tab"),
        ({"wall": "8 mm", "body": "40 mm"}, ""),
        ({"wall": "8.1 mm", "body": "40 mm"}, "wall"),
        ({"joint": "tab", "fillet": "0 mm"}, ""),
        ({"joint": "fillet", "fillet": "0 mm"}, "fillet"),
        ({"joint": "edge", "fillet": "0 mm"}, ""),
    ],
)
def test_joints_that_cannot_be(texts: dict[str, str], refused: str) -> None:
    """A tab past the middle, a wall of a fifth of the tube and a fillet of nothing are refused."""
    values, errors = calculators.load("root-joint").read(texts)
    assert not errors
    if not refused:
        root_joint.joint_of(values)
        return
    with pytest.raises(InputError) as problem:
        root_joint.joint_of(values)
    assert problem.value.name == refused


def test_end_grain_reaches_a_quarter() -> None:
    """Wood Handbook, ch. 10: an end-grain butt bears at most a quarter of the strength along."""
    stack = materials.load("birch-plywood").layup(thickness=0.003)
    spruce = materials.load("sitka-spruce").layup(thickness=0.003)
    ply = spruce.plies[0].lamina
    ends = joint.edge_tension(spruce, direction=0.5 * math.pi)
    assert ends == pytest.approx((0.1 * ply.tension_along, 0.25 * ply.tension_along))
    beside = joint.edge_tension(spruce, direction=0.0)
    assert beside == pytest.approx((ply.tension_across, ply.tension_across))
    # whichever side the grain leans to
    lean = [joint.edge_tension(spruce, direction=0.5 * math.pi + turn)[1] for turn in (0.5, -0.5)]
    assert lean[0] == pytest.approx(lean[1])
    assert ply.tension_across < lean[0] < 0.25 * ply.tension_along
    assert joint.edge_tension(stack, direction=0.0)[0] > 0.0
    # a wood as strong across as along gains nothing from being called end grain
    strong = replace(ply, tension_across=2.0 * ply.tension_along)
    odd = replace(spruce, plies=tuple(replace(p, lamina=strong) for p in spruce.plies))
    both = joint.edge_tension(odd, direction=0.5 * math.pi)
    assert both == pytest.approx((ply.tension_along, ply.tension_along))


# --- the ring ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("low", "high", "state"),
    [
        (1.0, 2.25, "holds"),
        (1.0, 2.25 / JUST**2, "marginal"),
        (2.0 / TENTH * JUST, 2.0 * TENTH / JUST, "holds"),
        (2.0 / TENTH / JUST, 2.0 * TENTH * JUST, "marginal"),
        (1.0, 1.0, "marginal"),
        (1.0 / JUST, 1.0 / JUST, "fails"),
        (0.5, 9.0, "marginal"),
    ],
)
def test_ring_verdict(monkeypatch: pytest.MonkeyPatch, low: float, high: float, state: str) -> None:
    """As the joint: 1.5 in the middle and one in ten giving way holds; below 1 fails."""
    capacity = ring_physics.capacity

    def made(*given: Any, **more: Any) -> ring_physics.RingCapacity:
        found = capacity(*given, **more)
        ends = ((9.0, 9.0), (9.0, 9.0), (low, high), (9.0, 9.0))
        return replace(
            found,
            bands=tuple(
                margins_.between(b.name, b.kind, demand=1.0, low=weak, high=strong)
                for b, (weak, strong) in zip(found.bands, ends, strict=True)
            ),
        )

    monkeypatch.setattr(ring_physics, "capacity", made)
    report = calculators.run("ring", {})
    assert report.verdict is not None
    assert report.verdict.state == state
    assert report.verdict.margin == pytest.approx(math.sqrt(low * high) / 1.5)
    assert report.verdict.governs == "glue to the motor tube"


@pytest.mark.parametrize(
    ("fillet", "edges"),
    [
        (0.003, [("simple", "free"), ("clamped", "guided")]),
        (0.0, [("simple", "free"), ("simple", "free")]),
    ],
)
def test_ring_edges(
    monkeypatch: pytest.MonkeyPatch, fillet: float, edges: list[tuple[str, str]]
) -> None:
    """Edges count as held square only at the high end and with fillets."""
    seen: list[tuple[str, str]] = []
    checked = ring_physics.check

    def noted(*given: Any, **more: Any) -> ring_physics.RingCheck:
        seen.append((more["outer_edge"], more["inner_edge"]))
        return checked(*given, **more)

    monkeypatch.setattr(ring_physics, "check", noted)
    ring_physics.capacity(
        ring_physics.Ring(outer=0.03, inner=0.015, thickness=0.003, fillet=fillet),
        ring_physics.RingSheet(modulus=4e9, strength=40e6, shear_strength=3e6),
        adhesive=GLUE, tube=TUBE, force=100.0,
    )  # fmt: skip
    assert seen == edges


def test_ring_takes_twice_the_thrust() -> None:
    """Thrust in one step bends an elastic part twice as far; rings share it."""
    values, _ = calculators.load("ring").read({"thrust": "50 N", "rings": "2"})
    assert ring.case_of(values, materials.load("birch-plywood")).force == 50.0


@pytest.mark.parametrize(("motor_tube", "refused"), [("51.99 mm", True), ("51.9 mm", False)])
def test_ring_needs_room(motor_tube: str, refused: bool) -> None:
    """The bore must be at least 2 % wider than the motor tube: 53 mm is 1.02 times 51.96 mm."""
    texts = {"body": "55 mm", "wall": "1 mm", "motor_tube": motor_tube}
    if not refused:
        assert calculators.run("ring", texts).verdict is not None
        return
    with pytest.raises(InputError, match="motor_tube"):
        calculators.run("ring", texts)


def test_ring_shears_across_the_fibres() -> None:
    """Wood and plywood bear 18 to 28 % of their shear strength across the fibres, others all."""
    values, _ = calculators.load("ring").read({})
    for name, shares in (
        ("birch-plywood", (0.18, 0.28)),
        ("basswood", (0.18, 0.28)),
        ("abs", (1.0, 1.0)),
    ):
        material = materials.load(name)
        strength = material.layup(thickness=values["thickness"]).plies[0].lamina.shear_strength
        sheet = ring.case_of(values, material).sheet
        ends = [sheet.through_shear(end) / strength for end in (0, 1)]
        assert ends == pytest.approx(list(shares))


# --- touchdown --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ratio", "state"),
    [
        (math.inf, "unknown"),
        (1.0, "holds"),
        (1.0 / JUST, "marginal"),
        (0.5, "marginal"),
        (0.5 / JUST, "fails"),
        (0.0, "fails"),
    ],
)
def test_landing_state(ratio: float, state: str) -> None:
    """From 1 it holds, below half it fails, between them it is marginal; no blow, nothing."""
    assert landing._state(ratio) == state


def test_turf_is_judged_firm_and_hard_ground_hard() -> None:
    """The ground chosen decides, turf by its firm end; the other is reported beside it."""
    texts = {"material": "birch-plywood", "descent": "speed", "sink": "9 m/s"}
    cases = (("turf", "firm", "hard"), ("hard", "hard", "firm"), ("sports", "sports", "hard"))
    for chosen, judged, other in cases:
        report = calculators.run("landing", {**texts, "ground": chosen})
        assert report.verdict is not None
        grounds = ("rigid", "hard", "sports", "firm", "soft")
        margins = {g: report.answer(f"margin_{g}").value for g in grounds}
        assert report.verdict.margin == margins[judged]
        assert f"{margins[other]:.2f}" in report.verdict.sentence
        assert margins["rigid"] < margins["hard"] <= margins["sports"] < margins["firm"]
        assert margins["firm"] < margins["soft"]


TOUCH = {"root": 0.10, "tip": 0.05, "span": 0.06}


@pytest.mark.parametrize(
    ("sweep", "more", "part"),
    [
        (0.0489, {}, "tail"),
        (0.0491, {}, "trailing edge"),
        (0.0509, {}, "trailing edge"),
        (0.0511, {}, "tip trailing corner"),
        (0.0511, {"tail": 0.01}, "tail"),
        (0.0511, {"tail": -0.01}, "tip trailing corner"),
        (0.2, {"tilt": 0.5 * math.pi}, "tip edge"),
        (0.2, {"tilt": 0.6 * math.pi}, "tip leading corner"),
        (0.2, {"tip": 0.0, "tilt": 0.5 * math.pi}, "tip trailing corner"),
    ],
)
def test_what_touches_first(sweep: float, more: dict[str, float], part: str) -> None:
    """Within a millimetre two points touch together; a tail that reaches lower spares the fin."""
    outline = Planform(**{**TOUCH, "tip": more.get("tip", TOUCH["tip"])}, sweep=sweep)
    found = impact.first_contact(outline, **{n: v for n, v in more.items() if n != "tip"})
    assert found.part == part
    assert found.clearance >= 0.0


def test_parachutes_are_as_published() -> None:
    """Under Knacke's middle drag coefficient the weight is borne: m g = q C_d A."""
    for canopy, (low, high) in {
        "flat circular": (0.75, 0.80),
        "hemispherical": (0.62, 0.77),
        "cross": (0.60, 0.85),
    }.items():
        report = calculators.run("landing", {"canopy": canopy, "mass": "100 g", "tail": "2 in"})
        sink = report.answer("descent_speed")
        area = 0.25 * math.pi * (15 * 0.0254) ** 2
        for speed, drag in ((sink.value, 0.5 * (low + high)), (sink.low, high), (sink.high, low)):
            assert speed is not None
            assert 0.5 * 1.225 * speed**2 * drag * area == pytest.approx(0.1 * 9.80665, rel=1e-3)


def test_landing_is_the_worst_of_the_swing() -> None:
    """The worst tilt within the swing decides: no single tilt leaves less."""
    values, _ = calculators.load("landing").read({"ground": "hard", "swing": "30"})
    fin = shared.fin_of(values)
    capacity = touchdown.capacity_of(fin)
    descent = landing.descent_of(values, fin.planform.root, speed=5.0)
    worst = touchdown.land(capacity, descent, ground="rigid")
    rocket = impact.Rocket(
        mass=values["mass"], length=values["length"], diameter=values["body"], tail=values["tail"]
    )
    for part in np.linspace(0.0, 0.5 * math.pi, 5):
        down = impact.touchdown(
            capacity.fin, rocket, speed=5.0, tilt=values["swing"] * math.sin(part),
            incidence=values["swing"] * math.cos(part), share=values["share"],
        )  # fmt: skip
        assert worst.governs.ratio <= down.governs.ratio * JUST


# --- the finder -------------------------------------------------------------------------------


def balsa_fin(**more: Any) -> Fin:
    """Return a balsa fin."""
    shape = Planform(root=0.08, tip=0.04, span=0.06, sweep=0.03)
    return replace(Fin(shape, materials.load("balsa"), 0.003), **more)


def test_stock_up_to_a_quarter_of_the_fin() -> None:
    """Stock is offered up to a quarter of the smaller of span and root, that size included."""
    board = materials.load("foam-board")
    thick = max(stock.thickness for stock in board.stock)
    for root_, span in ((4.0 * thick, 0.2), (0.2, 4.0 * thick)):
        fits = balsa_fin(planform=Planform(root=root_, tip=root_, span=span, sweep=0.0))
        assert search.sizes(board, fits)[-1].thickness == thick
    small = Planform(root=0.2, tip=0.2, span=4.0 * thick / JUST, sweep=0.0)
    assert thick not in [s.thickness for s in search.sizes(board, balsa_fin(planform=small))]


def moment(speed: float, density: float, sound: float = 320.0) -> Point:
    """Return a moment in air of a density and a speed of sound."""
    air = replace(AIR, density=np.float64(density), sound_speed=np.float64(sound))
    return Point(speed=speed, air=air)


def test_moments_that_another_covers() -> None:
    """A moment is passed over only where another asks as much of speed, pressure and Mach number.

    Beyond Mach 0.9 that other must be in air at least as dense, since it judges the passage there.
    """
    hard = moment(200.0, 1.2)
    assert search.worst_moments((hard, moment(200.0, 1.2))) == (hard,)
    assert search.worst_moments((hard, moment(199.0, 1.2))) == (hard,)
    for other in (
        moment(210.0, 1.0),
        moment(199.0, 1.3),
        moment(199.0, 1.2, 300.0),
    ):
        assert set(search.worst_moments((hard, other))) == {hard, other}
    fast = moment(400.0, 1.0)
    assert search.worst_moments((fast, moment(350.0, 1.0))) == (fast,)
    denser = moment(350.0, 1.1)
    assert set(search.worst_moments((fast, denser))) == {fast, denser}
    # at Mach 0.9 itself a faster moment in thinner air covers it, just beyond it does not
    at_limit, beyond = moment(288.0, 1.1), moment(288.0 * JUST, 1.1)
    assert search.worst_moments((fast, at_limit)) == (fast,)
    assert set(search.worst_moments((fast, beyond))) == {fast, beyond}


def test_flight_is_judged_at_its_worst_moment(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of the checks of several moments the smallest share of what is asked is taken."""
    ratios = {100.0: 2.0, 120.0: 1.2, 140.0: 1.5}
    points = [moment(speed, 1.2) for speed in ratios]

    def judged(_: Fin, point: Point) -> Any:
        return SimpleNamespace(margins=(flying(ratios[point.speed]), ground(0.1)), point=point)

    monkeypatch.setattr(check, "check", judged)
    assert search.worst(balsa_fin(), points).point.speed == 120.0


def test_ascent_is_judged_at_every_moment() -> None:
    """The worst moment of an ascent is that of the smallest margin, each judged by itself."""
    fin = balsa_fin(thickness=0.0024)
    points = [moment(speed, rho) for speed, rho in ((60.0, 1.2), (150.0, 0.9), (140.0, 1.2))]
    alone = [policy.score(check.check(fin, point).margins) for point in points]
    up = search.climb(fin, points)
    assert up.worst == int(np.argmin(alone))
    shares = [policy.score(margins) for margins in up.margins]
    assert shares == pytest.approx(alone, rel=1e-6)


def stub(monkeypatch: pytest.MonkeyPatch, margin_at: Callable[[float], Margin]) -> list[float]:
    """Let the finder ask a made-up fin; return the thicknesses that are checked in full."""
    checked: list[float] = []

    def surveyed(template: Fin, stacks: Any, points: Any) -> list[Any]:
        return [(margin_at(stack.thickness),) for stack in stacks]

    def full(fin: Fin, points: Any) -> Any:
        checked.append(fin.thickness)
        margin = margin_at(fin.thickness)
        state = policy.verdict_state([margin], 0.0)
        return SimpleNamespace(
            governs=margin, state=state, margins=(margin,), fin=fin, shortfall=0.0
        )

    monkeypatch.setattr(search, "_survey", surveyed)
    monkeypatch.setattr(search, "worst", full)
    return checked


@pytest.mark.parametrize("place", [0, 1, 2, 3, 6])
def test_thinnest_that_holds_is_found(monkeypatch: pytest.MonkeyPatch, place: int) -> None:
    """Whichever stock size is the first to reach what is asked exactly, it is the one found."""
    balsa = materials.load("balsa")
    stock = search.sizes(balsa, balsa_fin(), "inch")
    edge = stock[place].thickness
    checked = stub(monkeypatch, lambda t: flying(1.15 if t >= edge else 1.14))
    (found,) = search.find(balsa_fin(), (moment(100.0, 1.2),), [balsa], system="inch")
    assert found.holds
    assert found.stock == stock[place]
    assert checked == [edge]
    if place:
        assert found.thinner is not None
        assert found.thinner[0] == stock[place - 1]
    else:
        assert found.thinner is None


def test_nothing_holds(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no size is enough, the thickest is reported, with the reason."""
    balsa = materials.load("balsa")
    stub(monkeypatch, lambda t: flying(1.1))
    (found,) = search.find(balsa_fin(), (moment(100.0, 1.2),), [balsa])
    assert not found.holds
    assert found.stock == search.sizes(balsa, balsa_fin())[-1]
    assert found.reason == "flutter: margin 0.96"


def test_reason_at_the_edge() -> None:
    """A margin that is as much as asked did not let the fin down: the spread did."""
    result = SimpleNamespace(governs=flying(1.15), state="marginal", shortfall=0.25, margins=())
    found = search.Found(materials.load("balsa"), None, None, False, judged=result)  # type: ignore[arg-type]
    assert found.reason == "too uncertain: 25% would give way in flight"
    result = SimpleNamespace(**{**vars(result), "governs": flying(1.15 / JUST)})
    assert replace(found, judged=result).reason == "flutter: margin 1.00"
    doubtful = (GOOD, flying(1.0, known=False, note="why"))
    result = SimpleNamespace(**{**vars(result), "state": "unknown", "margins": doubtful})
    assert replace(found, judged=result).reason == "why"


# --- limits of what is answered ---------------------------------------------------------------


@pytest.mark.parametrize(("root_", "span"), [("40 mm", "90 mm"), ("90 mm", "40 mm")])
def test_fins_thicker_than_a_quarter_are_refused(root_: str, span: str) -> None:
    """A quarter of span and root is the thickest plate answered, that itself included."""
    texts = {"root": root_, "tip": "30 mm", "span": span, "sweep": "0 mm"}
    values, errors = calculators.load("fin-check").read({**texts, "thickness": "10 mm"})
    assert not errors
    assert shared.fin_of({**values, "thickness": 0.25 * 0.04}).thickness == 0.01
    with pytest.raises(InputError, match="thickness"):
        shared.fin_of({**values, "thickness": 0.25 * 0.04 * JUST})


def test_speeds_of_the_theories() -> None:
    """The subsonic lattice is asked up to Mach 0.9, or 0.95 on the way to Mach 1; never Mach 1."""
    assert model.MACHS[-1] == aeroelastic.SUBSONIC_LIMIT == 0.9
    assert model.FAST_MACHS[:2] == (0.95, 1.05)
    assert aeroelastic.SUPERSONIC_START == 1.2


def test_lattice_takes_twelve_boxes_to_a_wave() -> None:
    """A wave along the chord must be as long as twelve boxes (common practice)."""
    wing = Planform(root=0.6, tip=0.6, span=0.4, sweep=0.0)
    mesh = lifting_surface.mesh(wing, chordwise=6, spanwise=8)
    assert lifting_surface.highest_wavenumber(mesh) == pytest.approx(2.0 * math.pi / (12 * 0.1))


def test_motor_masses_by_hand() -> None:
    """20 N s of black powder weigh 24 to 27 g, their motor 48 to 109 g; composite 160 N s likewise.

    Specific impulse 75 to 85 s and 180 to 210 s, propellant 25 to 50 % and 40 to 60 % of the
    loaded motor: common practice, from memory, unverified.
    """
    found = motor.motor_mass_range(total_impulse=20.0, propellant="black powder")
    assert found == pytest.approx((20 / (9.80665 * 85) / 0.50, 20 / (9.80665 * 75) / 0.25))
    found = motor.motor_mass_range(total_impulse=160.0)
    assert found == pytest.approx((160 / (9.80665 * 210) / 0.60, 160 / (9.80665 * 180) / 0.40))


def test_sheets_from_a_twentieth_to_fifty_millimetres() -> None:
    """Thinner and thicker sheets than any material is sold in are refused."""
    balsa = materials.load("balsa")
    for thickness in (5e-5, 0.05):
        assert balsa.layup(thickness=thickness).thickness == pytest.approx(thickness)
    for thickness in (5e-5 / JUST, 0.05 * JUST):
        with pytest.raises(InputError, match="thickness"):
            balsa.layup(thickness=thickness)


@pytest.mark.parametrize(
    ("strength", "field", "power"),
    [
        ("bending", "modulus_along", 1.25),
        ("bending", "tension_along", 1.5),
        ("direct", "compression_along", 1.25),
        ("direct", "compression_across", 2.5),
        ("direct", "tension_across", 1.0),
        ("direct", "shear_strength", 1.0),
    ],
)
def test_heavier_wood_of_one_species(strength: Any, field: str, power: float) -> None:
    """A heavier sheet of basswood is stiffer and stronger by ANC Bulletin 18 (1944), table 2-1.

    Shear and tension across, which that table leaves out, in proportion (Wood Handbook).
    """
    basswood = materials.load("basswood")
    light, heavy = (
        getattr(
            basswood.layup(thickness=0.003, density=rho, strength=strength).plies[0].lamina, field
        )
        for rho in (400.0, 480.0)
    )
    assert heavy / light == pytest.approx(1.2**power, rel=1e-6)


def test_slow_off_the_rod_is_told() -> None:
    """A motor that pushes less than five times the weight is too weak (common practice)."""
    weight = 0.165 * 9.80665
    for times, slow in ((4.9, True), (5.1, False)):
        report = calculators.run("field-card", {"thrust": f"{times * weight:.6g} N"})
        table = next(t for t in report.tables if "motor" in [c.name for c in t.columns])
        row = next(row for row in table.rows if str(row[0]).startswith("D"))
        assert any("too weak" in str(cell) for cell in row) is slow


def test_a_lot_of_stability_is_told() -> None:
    """Above three calibers a rocket turns strongly into the wind (common practice); at two not."""
    for balance, much in (("13 in", False), ("10 in", True)):
        report = calculators.run("weight-effect", {"balance_point": balance})
        assert report.verdict is not None
        assert (report.verdict.margin > 3.0) is much
        assert 1.6 < report.verdict.margin < 5.0
        assert ("a lot" in report.verdict.sentence) is much
