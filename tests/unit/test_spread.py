"""Sampling without chance: quantiles, draws and intervals."""

import numpy as np
import pytest
from scipy import stats

from calc import spread


def test_normal_quantile() -> None:
    """Quantiles agree with an independent library to nine digits, tails included."""
    p = np.array([1e-6, 1e-3, 0.02425, 0.1, 0.3, 0.5, 0.9, 0.97575, 0.999, 1.0 - 1e-6])
    assert np.allclose(spread.normal_quantile(p), stats.norm.ppf(p), rtol=2e-9, atol=1e-9)


@pytest.mark.parametrize("dimensions", [1, 3, 9])
def test_draws_are_standard_normal(dimensions: int) -> None:
    """Every column has mean 0 and variance 1, and columns go independently."""
    draws = spread.draws(dimensions)
    assert draws.shape == (spread.SAMPLES, dimensions)
    # random draws of this number would stray by 0.03 in the mean and 0.1 in a correlation
    assert np.all(np.abs(draws.mean(axis=0)) < 0.03)
    assert np.all(np.abs(draws.std(axis=0) - 1.0) < 0.02)
    if dimensions > 1:
        correlation = np.corrcoef(draws.T) - np.eye(dimensions)
        assert np.abs(correlation).max() < 0.07


def test_draws_are_the_same_every_time() -> None:
    """Nothing is left to chance: two runs give the same numbers."""
    first = spread.draws(5).copy()
    spread.draws.cache_clear()
    assert np.array_equal(first, spread.draws(5))


def test_log_sd() -> None:
    """A lognormal quantity of the returned width has the coefficient of variation asked for."""
    width = float(spread.log_sd(0.22))
    assert stats.lognorm(s=width).std() / stats.lognorm(s=width).mean() == pytest.approx(0.22)


def test_sampled_in_closed_form() -> None:
    """The 10 and 90 % points of a product of powers follow from its variance, within 1 %."""
    slopes, cov, model = np.array([[0.5, -0.3]]), np.array([0.12, 0.20]), np.array([0.08])
    samples = spread.sampled(np.array([2.0]), slopes, cov, model)
    width = np.sqrt(((slopes[0] * spread.log_sd(cov)) ** 2).sum() + spread.log_sd(model[0]) ** 2)
    low, high = spread.interval(samples)
    assert low[0] == pytest.approx(2.0 * np.exp(-1.2816 * width), rel=0.01)
    assert high[0] == pytest.approx(2.0 * np.exp(1.2816 * width), rel=0.01)


def test_infinite_answers_stay_infinite() -> None:
    """What cannot fail is not given a range."""
    samples = spread.sampled(
        np.array([np.inf]), np.array([[0.0]]), np.array([0.1]), np.array([0.1])
    )
    assert np.isinf(samples).all()
