"""Deterministic sampling: draws and intervals against closed forms and SciPy."""

import numpy as np
import pytest
from scipy import stats

from calc.numerics import sampling


@pytest.mark.parametrize("dimensions", [1, 3, 9])
def test_draws_are_standard_normal(dimensions: int) -> None:
    """Every column has mean 0 and variance 1, and columns are uncorrelated."""
    draws = sampling.draws(dimensions)
    assert draws.shape == (sampling.SAMPLES, dimensions)
    # random draws of this number would stray by 0.03 in the mean and 0.1 in a correlation
    assert np.all(np.abs(draws.mean(axis=0)) < 0.03)
    assert np.all(np.abs(draws.std(axis=0) - 1.0) < 0.02)
    if dimensions > 1:
        correlation = np.corrcoef(draws.T) - np.eye(dimensions)
        assert np.abs(correlation).max() < 0.07


def test_draws_are_the_same_every_time() -> None:
    """Two runs give the same numbers."""
    first = sampling.draws(5).copy()
    sampling.draws.cache_clear()
    assert np.array_equal(first, sampling.draws(5))


def test_log_sd() -> None:
    """A lognormal quantity of the returned width has the given coefficient of variation."""
    width = float(sampling.log_sd(0.22))
    assert stats.lognorm(s=width).std() / stats.lognorm(s=width).mean() == pytest.approx(0.22)


def test_sampled_in_closed_form() -> None:
    """The 10 and 90 % points of a product of powers follow from its variance, within 1 %."""
    slopes, cov, model = np.array([[0.5, -0.3]]), np.array([0.12, 0.20]), np.array([0.08])
    samples = sampling.sampled(np.array([2.0]), slopes, cov, model)
    width = np.sqrt(
        ((slopes[0] * sampling.log_sd(cov)) ** 2).sum() + sampling.log_sd(model[0]) ** 2
    )
    low, high = sampling.interval(samples)
    assert low[0] == pytest.approx(2.0 * np.exp(-1.2816 * width), rel=0.01)
    assert high[0] == pytest.approx(2.0 * np.exp(1.2816 * width), rel=0.01)


def test_infinite_answers_stay_infinite() -> None:
    """An infinite margin has no range."""
    samples = sampling.sampled(
        np.array([np.inf]), np.array([[0.0]]), np.array([0.1]), np.array([0.1])
    )
    assert np.isinf(samples).all()
