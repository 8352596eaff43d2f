"""Broken scrap joints: the factors of few tests, and what they say of the next joint."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from calc.errors import InputError
from calc.structure import joint_test


@pytest.mark.parametrize("tests", joint_test.TOLERANCE)
def test_factors_are_those_of_the_noncentral_t(tests: int) -> None:
    """Factors for nine of ten at a confidence of 90 % from their definition, an independent way."""
    root = math.sqrt(tests)
    exact = stats.nct.ppf(0.9, tests - 1, stats.norm.ppf(0.9) * root) / root
    assert joint_test.TOLERANCE[tests] == pytest.approx(exact, abs=6e-4)


def test_nine_of_ten_as_promised() -> None:
    """Of many builders with five scraps nine in ten get a low end that nine in ten joints bear."""
    rng = np.random.default_rng(7)
    true_scatter = 0.25
    kept = 0
    for _ in range(2000):
        moments = np.exp(rng.normal(0.0, true_scatter, 5))
        low = joint_test.breaking(moments.tolist()).low
        kept += stats.norm.sf(math.log(low) / true_scatter) >= 0.9
    assert 0.88 <= kept / 2000 <= 0.92


def test_by_hand() -> None:
    """Joints at 8, 10 and 12.5 N m/m: middle 10, scatter ln 1.25, low 10 exp(-4.258 * 0.223)."""
    found = joint_test.breaking([8.0, 10.0, 12.5])
    assert found.middle == pytest.approx(10.0)
    assert found.scatter == pytest.approx(math.log(1.25))
    assert found.low == pytest.approx(10.0 * math.exp(-4.258 * math.log(1.25)))
    assert found.low * found.high == pytest.approx(found.middle**2)


def test_luck_is_no_knowledge() -> None:
    """Readings that agree to the gram still get the least scatter of glued joints."""
    found = joint_test.breaking([10.0] * 5)
    assert found.scatter == joint_test.LEAST_SCATTER
    assert found.low == pytest.approx(10.0 * math.exp(-2.742 * joint_test.LEAST_SCATTER))


def test_more_tests_say_more() -> None:
    """The same spread from more joints lifts the low end; beyond twelve the factor stays."""
    lows = [joint_test.breaking([8.0, 12.5] * n).low for n in (2, 3, 4, 5, 6)]
    assert lows == sorted(lows)
    assert joint_test.breaking([8.0, 12.5] * 10).low < 10.0


@pytest.mark.parametrize("moments", [[], [10.0], [10.0, 11.0], [10.0, 0.0, 9.0], [1.0, -2.0, 3.0]])
def test_too_little_is_refused(moments: list[float]) -> None:
    """Fewer than three joints, and loads of nothing, are refused by name."""
    with pytest.raises(InputError, match="readings"):
        joint_test.breaking(moments)


def test_too_few_joints_are_told_how_many_suffice() -> None:
    """The number in the message is the one that is accepted."""
    with pytest.raises(InputError, match="3 readings or more"):
        joint_test.breaking([18.0, 20.0])
    assert joint_test.breaking([18.0, 20.0, 22.0]).middle > 0.0
