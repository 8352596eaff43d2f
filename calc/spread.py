"""From the scatter of sheets to the range of an answer, the same on every run and machine.

The answer's logarithm is taken as linear in the logarithms of the scattering properties (its
slopes are computed by the model itself), and the properties are drawn as lognormal from a fixed
low-discrepancy sequence. `tests/convergence` holds this against brute-force re-analysis.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Real = NDArray[np.float64]

SAMPLES = 1024
LOW, HIGH = 0.10, 0.90


def normal_quantile(p: Real) -> Real:
    """Return the standard normal quantile of probabilities.

    Rational approximation of P. J. Acklam (2003), relative error below 1.2e-9 in the quantile.

    >>> np.round(normal_quantile(np.array([0.5, 0.9])), 4).tolist()
    [0.0, 1.2816]
    """
    a: tuple[float, ...] = (-39.69683028665376, 220.9460984245205, -275.9285104469687)
    a += (138.3577518672690, -30.66479806614716, 2.506628277459239)
    b: tuple[float, ...] = (-54.47609879822406, 161.5858368580409, -155.6989798598866)
    b += (66.80131188771972,)
    b += (-13.28068155288572, 1.0)
    c: tuple[float, ...] = (-0.007784894002430293, -0.3223964580411365, -2.400758277161838)
    c += (-2.549732539343734, 4.374664141464968, 2.938163982698783)
    d = (0.007784695709041462, 0.3224671290700398, 2.445134137142996, 3.754408661907416, 1.0)
    p = np.asarray(p, float)
    tail = np.minimum(p, 1.0 - p)
    q = np.sqrt(-2.0 * np.log(tail))
    far = np.polyval(c, q) / np.polyval(d, q) * np.where(p > 0.5, -1.0, 1.0)
    middle = p - 0.5
    r = middle * middle
    near = middle * np.polyval(a, r) / np.polyval(b, r)
    return np.where(tail < 0.02425, far, near)


@lru_cache(maxsize=4)
def draws(dimensions: int, count: int = SAMPLES) -> Real:
    """Return ``(count, dimensions)`` standard normal draws from an additive recurrence.

    Multiples of the powers of 1/phi_d, the positive root of ``x^(d+1) = x + 1``: M. Roberts'
    generalisation of the golden-ratio sequence (2018, common practice in quasi-Monte-Carlo).
    """
    root = 2.0
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (dimensions + 1))
    steps = root ** -np.arange(1, dimensions + 1)
    uniform = (0.5 + np.arange(1, count + 1)[:, None] * steps) % 1.0
    return normal_quantile(np.clip(uniform, 1e-6, 1.0 - 1e-6))


def log_sd(coefficient_of_variation: Real | float) -> Real:
    """Return the standard deviation of the logarithm of a lognormal quantity."""
    return np.asarray(np.sqrt(np.log1p(np.asarray(coefficient_of_variation, float) ** 2)))


def sampled(
    centre: Real, slopes: Real, cov: Real, model_cov: Real, *, count: int = SAMPLES
) -> Real:
    """Return ``(count, n)`` samples of `n` answers.

    Parameters
    ----------
    centre
        ``(n,)`` answers for the middle properties; infinite answers stay infinite.
    slopes
        ``(n, p)`` d log(answer) / d log(property).
    cov
        ``(p,)`` coefficients of variation of the properties.
    model_cov
        ``(n,)`` coefficient of variation of the model itself for each answer, drawn separately.
    """
    n, p = slopes.shape
    z = draws(p + n, count)
    logs = (z[:, :p] * log_sd(cov)) @ slopes.T + z[:, p:] * log_sd(model_cov)
    return np.asarray(centre[None, :] * np.exp(logs))


def interval(samples: Real) -> tuple[Real, Real]:
    """Return the 10 % and 90 % points of samples ``(count, n)``."""
    ordered = np.sort(samples, axis=0)
    count = len(ordered)
    return ordered[int(LOW * count)], ordered[int(HIGH * count)]
