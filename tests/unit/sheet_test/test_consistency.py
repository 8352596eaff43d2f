"""Chi-square tests of whether readings agree."""

from __future__ import annotations

import pytest
from scipy import stats

from calc.sheet_test import consistency


@pytest.mark.parametrize("freedom", [1, 2, 3, 4, 7, 10])
def test_chi_square_tail_equals_scipy(freedom: int) -> None:
    """The finite sums equal scipy's survival function."""
    for value in (0.0, 0.1, 1.0, 5.0, 30.0):
        assert consistency.chi_square_tail(value=value, freedom=freedom) == pytest.approx(
            stats.chi2.sf(value, freedom), rel=1e-10
        )


def test_outlier_and_widening_only_where_readings_disagree() -> None:
    """Chi-square 8 with 2 degrees of freedom has a probability of exp(-4) = 1.8 %."""
    innovations = [("sag", 0.4), ("tone", -2.6), ("flex", 1.1)]

    def tested(level: float) -> consistency.ConsistencyTest:
        return consistency.consistency_test(
            "along",
            chi_square=8.0,
            freedom=2,
            level=level,
            innovations=innovations,
            distances=innovations,
        )

    assert tested(0.01).agrees
    assert tested(0.01).outlier is None
    assert tested(0.01).widening == 1.0
    assert not tested(0.05).agrees
    assert tested(0.05).outlier == "tone"
    assert tested(0.05).widening == pytest.approx(2.0)
