"""The range of a verdict against re-analysing the fin with properties drawn at random."""

import math

import numpy as np
import pytest

from calc import materials
from calc.air import atmosphere
from calc.fin import check, policy
from calc.fin.fin import Fin, Point
from calc.geometry.planform import Edge, Planform
from calc.numerics import sampling

SAMPLES = 200
CASES = {
    "plywood": (
        Fin(
            Planform(root=0.15, tip=0.06, span=0.09, sweep=0.07),
            materials.load("birch-plywood"),
            0.0016,
        ),
        120.0,
    ),
    "balsa": (
        Fin(
            Planform(root=0.08, tip=0.05, span=0.06, sweep=0.03),
            materials.load("balsa"),
            0.0024,
            math.radians(10.0),
            edge=Edge("tapered", 0.2),
        ),
        50.0,
    ),
}


@pytest.fixture(scope="module", params=CASES)
def both(request: pytest.FixtureRequest) -> tuple[check.Check, np.ndarray, np.ndarray]:
    """Return a check and its margins for the same 200 draws, by response surface and re-analysed.

    The scatter of the model itself is left out of both.
    """
    fin, speed = CASES[request.param]
    point = Point(speed, atmosphere.at(200.0))
    answer = check.check(fin, point)
    names = list(answer.slopes)
    cov = np.array([fin.material.scatter[name] for name in names])
    centre = np.array([margin.ratio for margin in answer.margins])
    slopes = np.array([answer.slopes[name] for name in names])
    normal = np.random.default_rng(20_240_817).standard_normal((SAMPLES, len(names)))
    logs = normal * sampling.log_sd(cov)
    stacks = [fin.layup(dict(zip(names, map(float, row), strict=True))) for row in np.exp(logs)]
    # the check quotes the lowest of three cuts
    cuts = [
        check.evaluate_batch(fin, stacks, [direction] * SAMPLES, point).margins
        for direction in check.as_cut(fin.layup(), fin.direction)
    ]
    survey = [check.lowest(row) for row in zip(*cuts, strict=True)]
    brute = np.array(
        [[math.nan if margin.bound else margin.ratio for margin in row] for row in survey]
    )
    return answer, centre * np.exp(logs @ slopes), brute


def test_range(both: tuple[check.Check, np.ndarray, np.ndarray]) -> None:
    """The 10, 50 and 90 % points of flutter and divergence agree within 3 %, of stress within 12 %.

    Stress is the worse because another way to fail comes first in some of the draws; the surface
    knows only the one that comes first in the middle. A limit ("at least") has no range, and a
    draw that is only a limit does not count.
    """
    answer, surface, brute = both
    for index, margin in enumerate(answer.margins):
        if margin.bound:
            continue
        within = 0.03 if margin.kind == "speed" else 0.12
        met = np.isfinite(brute[:, index])
        assert met.mean() > 0.5
        for share in (0.1, 0.5, 0.9):
            ours, theirs = (np.quantile(part[met, index], share) for part in (surface, brute))
            assert ours == pytest.approx(theirs, rel=within), margin.name


def test_single_draws(both: tuple[check.Check, np.ndarray, np.ndarray]) -> None:
    """Draw by draw the surface is off by 3 % in flutter and by 15 % in stress, root mean square.

    The thumb on the tip is left out: near the limit of what the plate functions resolve at the
    root its margin changes from one rule to another.
    """
    answer, surface, brute = both
    for index, margin in enumerate(answer.margins):
        if margin.bound or not margin.flight:
            continue
        within = 0.03 if margin.kind == "speed" else 0.15
        error = np.log(surface[:, index] / brute[:, index])
        assert math.sqrt(np.nanmean(error**2)) < within, margin.name


def test_draws_of_the_check_stand_for_random_ones(
    both: tuple[check.Check, np.ndarray, np.ndarray],
) -> None:
    """The check's own draws give the range that its slopes and scatter have in closed form."""
    answer, _, _ = both
    fin = answer.fin
    cov = np.array([fin.material.scatter[name] for name in answer.slopes])
    slopes = np.array([answer.slopes[name] for name in answer.slopes])
    for index, margin in enumerate(answer.margins):
        if margin.bound:
            # only a limit is known; its draws run on the boundary beyond it and stop at the limit
            assert margin.low <= margin.high <= margin.ratio
            continue
        model = sampling.log_sd(policy.MODEL_COV[margin.name])
        width = math.sqrt(((slopes[:, index] * sampling.log_sd(cov)) ** 2).sum() + model**2)
        assert margin.low == pytest.approx(margin.ratio * math.exp(-1.2816 * width), rel=0.03)
        assert margin.high == pytest.approx(margin.ratio * math.exp(1.2816 * width), rel=0.03)


def test_same_answer_twice() -> None:
    """Two checks of one fin give the same ranges to the last digit."""
    fin, speed = CASES["plywood"]
    point = Point(speed, atmosphere.at(200.0))
    first, second = check.check(fin, point), check.check(fin, point)
    assert np.array_equal(first.samples, second.samples)
    assert first.shortfall == second.shortfall
