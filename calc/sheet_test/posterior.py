"""Most probable properties of a sheet, given a prior and the readings of its tests.

A sheet is described by five numbers, `QUANTITIES`; all are handled by their logarithms.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.errors import InputError
from calc.sheet_test.measurements import Reading, SheetTest

Array = NDArray[np.float64]

QUANTITIES = ("modulus_along", "modulus_across", "shear_modulus", "density", "thickness")
"""Modulus along the grain, across it, in-plane shear modulus, density and mean thickness."""

_COUNT = len(QUANTITIES)
_LOG_STEP = 1e-4
"""Step of the central differences for the logarithms."""
_INPUT_STEP = 1e-2
"""The same for inputs, in units of their standard errors."""
_CONVERGED = 1e-5
_MAX_ITERATIONS = 60
_MAX_LOG_CHANGE = 1.5
"""Largest change of a logarithm in one step: more can leave the range of the elastica."""
_MIN_STEP_SCALE = 1e-6


@dataclass(frozen=True)
class Posterior:
    """Result of `fit`.

    Parameters
    ----------
    mean, covariance
        Of the state: logarithms of `QUANTITIES`, then the uncertain inputs in units of their
        errors.
    objective
        Value of the minimised function; its differences are chi-square.
    innovations
        For each test: its reading minus what everything else predicts, over its standard
        deviation.
    """

    mean: Array
    covariance: Array
    objective: float
    innovations: Array


def fit(tests: Sequence[SheetTest], *, mean: Array, covariance: Array, poisson: float) -> Posterior:
    """Compute the most probable state and its Gaussian spread by Gauss-Newton iteration.

    Parameters
    ----------
    tests
        Any number, in any order.
    mean, covariance
        Prior of the logarithms of `QUANTITIES`, (5,) and (5, 5).
    poisson
        nu_12, taken as known [-].

    Raises
    ------
    InputError
        If two different readings have the same name.

    Notes
    -----
    Minimises (y - f(u))^T R^-1 (y - f(u)) + (u - u0)^T P0^-1 (u - u0). The state u contains every
    uncertain input of every test, so an error that two tests share (thickness, a length, the
    method) is one unknown.

    References
    ----------
    A. Gelb, Applied Optimal Estimation (1974), for normalised innovations (from memory,
    unverified).
    """
    problem = _Problem(tests, mean, covariance, poisson)
    state = problem.centre.copy()
    around = problem.predict(state + problem.offsets)
    best = problem.objective(state, around[0])
    for _ in range(_MAX_ITERATIONS):
        weighted = problem.weighted_jacobian(around)
        information = weighted.T @ weighted + problem.precision
        gradient = weighted.T @ problem.residual(around[0]) - problem.precision @ (
            state - problem.centre
        )
        step = np.linalg.solve(information, gradient)
        if np.max(np.abs(step)) < _CONVERGED:
            break
        trial, beyond, value = _line_search(problem, state, step, best)
        if not value <= best:
            break
        state, best, around = trial, value, beyond
    spread = np.linalg.inv(information)
    leverage = np.einsum("ij,jk,ik->i", weighted, spread, weighted)
    innovations = problem.residual(around[0]) / np.sqrt(np.maximum(1.0 - leverage, 1e-9))
    return Posterior(state, spread, best, innovations)


class _Problem:
    """Tests with a prior, as a function of the state."""

    def __init__(
        self, tests: Sequence[SheetTest], mean: Array, covariance: Array, poisson: float
    ) -> None:
        self._tests = tests
        self._poisson = poisson
        self._readings, self._keys = _shared_readings(tests)
        uncertain = [key for key, reading in self._readings.items() if reading.error > 0.0]
        self._column = {key: _COUNT + place for place, key in enumerate(uncertain)}
        size = _COUNT + len(uncertain)
        self.centre = np.concatenate([mean, np.zeros(len(uncertain))])
        self.precision = np.eye(size)
        self.precision[:_COUNT, :_COUNT] = np.linalg.inv(covariance)
        self._observed = np.array([test.observed.value for test in tests])
        self._errors = np.array([test.observed.error for test in tests])
        self._steps = np.where(np.arange(size) < _COUNT, _LOG_STEP, _INPUT_STEP)
        self.offsets = np.vstack([np.zeros(size), np.diag(self._steps), -np.diag(self._steps)])

    def predict(self, states: Array) -> Array:
        """Compute every test's reading, shape (n, n_test), for states (n, n_state)."""
        if not self._tests:
            return np.zeros((states.shape[0], 0))
        sheet = {name: np.exp(states[:, i]) for i, name in enumerate(QUANTITIES)}
        sheet["poisson"] = np.array(self._poisson)
        return np.stack(
            [
                test.predict(
                    sheet, {field: self._values(states, key) for field, key in named.items()}
                )
                for test, named in zip(self._tests, self._keys, strict=True)
            ],
            axis=-1,
        )

    def weighted_jacobian(self, around: Array) -> Array:
        """Compute d(reading)/d(state) over the readings' errors from predictions at `offsets`."""
        size = self._steps.size
        difference = around[1 : size + 1] - around[size + 1 :]
        jacobian = (difference / (2.0 * self._steps[:, None])).T
        return np.asarray(jacobian / self._errors[:, None])

    def residual(self, predicted: Array) -> Array:
        """Return readings minus predictions over the readings' errors, (n_test,)."""
        return np.asarray((self._observed - predicted) / self._errors)

    def objective(self, state: Array, predicted: Array) -> float:
        """Compute the function that is minimised."""
        residual = self.residual(predicted)
        away = state - self.centre
        return float(residual @ residual + away @ self.precision @ away)

    def _values(self, states: Array, key: str) -> Array:
        reading = self._readings[key]
        if key not in self._column:
            return np.full(states.shape[0], reading.value)
        moved: Array = reading.value + reading.error * states[:, self._column[key]]
        return moved


def _shared_readings(
    tests: Sequence[SheetTest],
) -> tuple[dict[str, Reading], list[dict[str, str]]]:
    """Return all inputs by key, and for each test the key of each of its inputs.

    A reading with a name has that name as its key, so that tests share it.
    """
    shared: dict[str, Reading] = {}
    keys: list[dict[str, str]] = []
    for index, test in enumerate(tests):
        named: dict[str, str] = {}
        for field, reading in test.inputs().items():
            key = reading.name or f"{index} {field}"
            if shared.setdefault(key, reading) != reading:
                raise InputError(key, reading.value, "the same value wherever the name is used")
            named[field] = key
        keys.append(named)
    return shared, keys


def _line_search(
    problem: _Problem, state: Array, step: Array, best: float
) -> tuple[Array, Array, float]:
    """Return a new state on the step that is no worse, with predictions and objective there.

    The step is halved until the objective does not rise, or hardly anything of it is left. Where
    readings contradict each other a full step may lead to a negative length or modulus, and to no
    prediction there or right beside: such a step is too long as well.
    """
    largest = float(np.max(np.abs(step[:_COUNT])) + 1e-300)
    scale = min(1.0, _MAX_LOG_CHANGE / largest)
    while True:
        trial = state + scale * step
        with np.errstate(invalid="ignore"):
            around = problem.predict(trial + problem.offsets)
        predicted = bool(np.all(np.isfinite(around)))
        value = problem.objective(trial, around[0]) if predicted else np.inf
        if value <= best or scale < _MIN_STEP_SCALE:
            return trial, around, value
        scale *= 0.5
