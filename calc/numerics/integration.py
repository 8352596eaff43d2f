"""Adaptive integration of ordinary differential equations, with dense output.

The Dormand-Prince embedded pair of orders 5 and 4 (J. R. Dormand and P. J. Prince, "A family of
embedded Runge-Kutta formulae", J. Comput. Appl. Math. 6 (1980) 19-26) with the fourth-order
interpolant of L. F. Shampine, "Some practical Runge-Kutta formulas", Math. Comput. 46 (1986)
135-150. Coefficients from memory; the tests compare them with those of SciPy.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

_C = np.array([0.0, 1 / 5, 3 / 10, 4 / 5, 8 / 9, 1.0])
_A = np.array(
    [
        [0, 0, 0, 0, 0],
        [1 / 5, 0, 0, 0, 0],
        [3 / 40, 9 / 40, 0, 0, 0],
        [44 / 45, -56 / 15, 32 / 9, 0, 0],
        [19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729, 0],
        [9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656],
    ]
)
_B = np.array([35 / 384, 0, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84])
_E = np.array([-71 / 57600, 0, 71 / 16695, -71 / 1920, 17253 / 339200, -22 / 525, 1 / 40])
_P = np.array(
    [
        [
            1,
            -8048581381 / 2820520608,
            8663915743 / 2820520608,
            -12715105075 / 11282082432,
        ],
        [0, 0, 0, 0],
        [
            0,
            131558114200 / 32700410799,
            -68118460800 / 10900136933,
            87487479700 / 32700410799,
        ],
        [0, -1754552775 / 470086768, 14199869525 / 1410260304, -10690763975 / 1880347072],
        [
            0,
            127303824393 / 49829197408,
            -318862633887 / 49829197408,
            701980252875 / 199316789632,
        ],
        [0, -282668133 / 205662961, 2019193451 / 616988883, -1453857185 / 822651844],
        [0, 40617522 / 29380423, -110615467 / 29380423, 69997945 / 29380423],
    ]
)


@dataclass(frozen=True)
class Solution:
    """A piecewise fourth-order polynomial through the steps that were taken.

    Parameters
    ----------
    knots
        Times of the step ends, rising, shape (n_step + 1,).
    start
        State at the start of each step, shape (n_step, n).
    coefficients
        Interpolant of each step in powers 1 to 4 of the step's fraction, (n_step, n, 4).
    end
        State at the last knot, shape (n,).
    stopped
        True when the event ended the integration before the given end time.
    """

    knots: Array
    start: Array
    coefficients: Array
    end: Array
    stopped: bool

    def __call__(self, times: ArrayLike) -> Array:
        """Return the states at `times` (any shape), shape times.shape + (n,)."""
        t = np.asarray(times, float)
        i = np.clip(np.searchsorted(self.knots, t, side="right") - 1, 0, len(self.start) - 1)
        h = self.knots[i + 1] - self.knots[i]
        f = (t - self.knots[i]) / h
        powers = f[..., None] ** np.arange(1, 5)
        step = np.einsum("...nk,...k->...n", self.coefficients[i], powers)
        return np.asarray(self.start[i] + h[..., None] * step)


def integrate(
    rates: Callable[[float, Array], Array],
    start: ArrayLike,
    *,
    begin: float,
    end: float,
    relative: float = 1e-6,
    absolute: ArrayLike = 1e-6,
    event: Callable[[float, Array], float] | None = None,
    steps: int = 20_000,
) -> Solution:
    """Return the solution of dy/dt = rates(t, y), with steps that keep the local error small.

    Parameters
    ----------
    rates
        Right-hand side; takes a time and a state of shape (n,), returns shape (n,).
    start
        State at `begin`, shape (n,).
    begin, end
        First and last time; `end` above `begin`.
    relative, absolute
        Allowed local error per step relative to the state, and absolute (scalar or (n,)).
    event
        A function whose change from positive to zero or below ends the integration there.
    steps
        Most steps allowed.

    Returns
    -------
    Solution
        Callable dense output; `stopped` is true if the event ended it.

    Raises
    ------
    ValueError
        If `end` is not above `begin`.
    ArithmeticError
        If it takes more than `steps` steps.

    Notes
    -----
    Dormand-Prince 5(4) with local extrapolation and step factor 0.9 (1/error)^(1/5). Valid for a
    right-hand side that is smooth between `begin` and `end`: split the range where it jumps.

    Examples
    --------
    >>> s = integrate(lambda t, y: -y, [1.0], begin=0.0, end=1.0, relative=1e-8, absolute=1e-10)
    >>> round(float(s(1.0)[0]), 6)
    0.367879
    """
    y = np.array(start, float)
    if not end > begin:
        raise ValueError("end must lie after begin")
    allowed = np.broadcast_to(np.asarray(absolute, float), y.shape)
    t = float(begin)
    k = np.empty((7, y.size))
    k[0] = rates(t, y)
    h = _first_step(rates, t, y, k[0], end - begin, relative, allowed)
    knots, starts, coefficients = [t], [], []
    stopped = False
    before = event(t, y) if event else 1.0
    for _ in range(steps):
        h = min(h, end - t)
        for i in range(1, 6):
            k[i] = rates(t + _C[i] * h, y + h * (_A[i, :i] @ k[:i]))
        new = y + h * (_B @ k[:6])
        k[6] = rates(t + h, new)
        scale = allowed + relative * np.maximum(np.abs(y), np.abs(new))
        error = float(np.sqrt(np.mean((h * (_E @ k) / scale) ** 2)))
        if error > 1.0:
            h *= max(0.2, 0.9 * error**-0.2)
            continue
        q = k.T @ _P
        last = end - (t + h) <= 1e-14 * max(1.0, abs(end))
        after = event(t + h, new) if event else 1.0
        knots.append(end if last else t + h)
        starts.append(y)
        coefficients.append(q)
        if event and before > 0.0 >= after:
            stopped = True
            fraction, new = _crossing(event, t, h, y, q)
            knots[-1] = t + fraction * h
            # The stored piece is shortened, so its powers are rescaled to the new length.
            coefficients[-1] = q * fraction ** np.arange(4)
            break
        if last:
            break
        t, y, before = t + h, new, after
        k[0] = k[6]
        h *= min(10.0, 0.9 * error**-0.2) if error > 0.0 else 10.0
    else:
        raise ArithmeticError("the integration needed more steps than allowed")
    return Solution(np.array(knots), np.array(starts), np.array(coefficients), new, stopped)


def _first_step(
    rates: Callable[[float, Array], Array],
    t: float,
    y: Array,
    slope: Array,
    length: float,
    relative: float,
    absolute: Array,
) -> float:
    """Return a first step by Hairer, Norsett & Wanner, Solving ODEs I (1993), section II.4."""
    scale = absolute + relative * np.abs(y)
    size, speed = np.linalg.norm(y / scale), np.linalg.norm(slope / scale)
    trial = min(length, 1e-6 if size < 1e-5 or speed < 1e-5 else 0.01 * float(size / speed))
    bend = np.linalg.norm((rates(t + trial, y + trial * slope) - slope) / scale) / trial
    most = max(float(speed), float(bend))
    second = max(1e-6, trial * 1e-3) if most <= 1e-15 else (0.01 / most) ** 0.2
    return min(100 * trial, second, length)


def _crossing(
    event: Callable[[float, Array], float], t: float, h: float, y: Array, q: Array
) -> tuple[float, Array]:
    """Return the step fraction where the event function reaches zero, by bisection."""

    def state(f: float) -> Array:
        return np.asarray(y + h * (q @ f ** np.arange(1, 5)))

    low, high = 0.0, 1.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        if event(t + middle * h, state(middle)) > 0.0:
            low = middle
        else:
            high = middle
    return high, state(high)
