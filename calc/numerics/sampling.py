"""Range of an answer from the scatter of its inputs, the same on every run and machine.

The logarithm of the answer is taken as linear in the logarithms of the scattering properties, with
slopes computed by the model itself; the properties are drawn as lognormal from a fixed
low-discrepancy sequence. `tests/convergence` compares this with the full analysis of each draw.
"""

from __future__ import annotations

from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

SAMPLES = 1024
"""Number of draws."""
LOW, HIGH = 0.10, 0.90
"""Quantiles between which a range is stated."""


@lru_cache(maxsize=4)
def draws(dimensions: int, count: int = SAMPLES) -> Array:
    """Return ``(count, dimensions)`` standard normal draws from an additive recurrence.

    Notes
    -----
    Uniform draws are multiples, modulo 1, of the powers of 1/phi_d, with phi_d the positive root
    of ``x^(d+1) = x + 1``; the normal quantile function maps them.

    References
    ----------
    M. Roberts' generalisation of the golden-ratio sequence (2018, common practice in
    quasi-Monte-Carlo).
    """
    root = 2.0
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (dimensions + 1))
    steps = root ** -np.arange(1, dimensions + 1)
    uniform = (0.5 + np.arange(1, count + 1)[:, None] * steps) % 1.0
    inside = np.clip(uniform, 1e-6, 1.0 - 1e-6)
    quantile = NormalDist().inv_cdf
    return np.array([[quantile(p) for p in row] for row in inside.tolist()])


def log_sd(coefficient_of_variation: Array | float) -> Array:
    """Return the standard deviation of the logarithm of a lognormal quantity.

    Notes
    -----
    sqrt(ln(1 + c²)) for a coefficient of variation c.

    Examples
    --------
    >>> round(float(log_sd(0.2)), 4)
    0.198
    """
    return np.asarray(np.sqrt(np.log1p(np.asarray(coefficient_of_variation, float) ** 2)))


def sampled(
    centre: Array, slopes: Array, cov: Array, model_cov: Array, *, count: int = SAMPLES
) -> Array:
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
    count
        Number of samples.
    """
    n, p = slopes.shape
    z = draws(p + n, count)
    logs = (z[:, :p] * log_sd(cov)) @ slopes.T + z[:, p:] * log_sd(model_cov)
    return np.asarray(centre[None, :] * np.exp(logs))


def interval(samples: Array) -> tuple[Array, Array]:
    """Return the `LOW` and `HIGH` quantiles of samples ``(count, n)``."""
    ordered = np.sort(samples, axis=0)
    count = len(ordered)
    return ordered[int(LOW * count)], ordered[int(HIGH * count)]
