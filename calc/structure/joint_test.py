"""Strength of a joint from scrap joints broken by hand: moments per length and their spread."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from calc.errors import InputError, require_positive

TOLERANCE = {
    3: 4.258,
    4: 3.188,
    5: 2.742,
    6: 2.494,
    7: 2.333,
    8: 2.219,
    9: 2.133,
    10: 2.066,
    11: 2.011,
    12: 1.966,
}
"""Standard deviations from the mean beyond which nine of ten joints lie with a confidence of 90 %,
by number of tests: one-sided factors of ISO 16269-6 for a normal distribution."""

LEAST_SCATTER = 0.10
"""Scatter taken at least, as a share [-]: common practice of glued joints. A few readings that
agree better than that do so by luck."""


@dataclass(frozen=True)
class Breaking:
    """What joints bear per metre of root [N m/m].

    Parameters
    ----------
    middle
        Geometric mean of the tests.
    low, high
        Nine of ten joints bear more than the one and less than the other, with a confidence of
        90 % each.
    scatter
        Standard deviation of the logarithms [-].
    tests
        How many broke.
    """

    middle: float
    low: float
    high: float
    scatter: float
    tests: int


def breaking_moment(*, force: float, lever: float, root: float) -> float:
    """Return the moment per metre of root at which a joint broke [N m/m].

    Parameters
    ----------
    force
        Square to the fin [N].
    lever
        From the tube's surface to the line of the force [m].
    root
        Length of the glued root [m].

    Examples
    --------
    1 kg at 50 mm on a root of 25 mm:

    >>> round(breaking_moment(force=9.80665, lever=0.05, root=0.025), 1)
    19.6
    """
    require_positive(force=force, lever=lever, root=root)
    return force * lever / root


def breaking(moments: Sequence[float]) -> Breaking:
    """Return what joints bear, from those that were broken.

    Parameters
    ----------
    moments
        Moments per metre of root [N m/m], `min(TOLERANCE)` of them at least.

    Raises
    ------
    InputError
        Naming `readings` where they are too few or not above zero.

    Notes
    -----
    Of the logarithms: mean m, standard deviation s (n - 1), at least `LEAST_SCATTER`;
    low = exp(m - k s), high = exp(m + k s) with k from `TOLERANCE`.

    References
    ----------
    ISO 16269-6, one-sided tolerance factors, mean and spread unknown; strengths taken as lognormal
    (common practice).

    Examples
    --------
    >>> found = breaking([18.0, 20.0, 22.0, 19.0, 21.0])
    >>> round(found.middle, 2), round(found.low, 1)
    (19.95, 15.2)
    """
    for moment in moments:
        require_positive(readings=moment)
    if len(moments) < min(TOLERANCE):
        raise InputError(
            "readings",
            f"{len(moments)} of them",
            f"{min(TOLERANCE)} readings or more: fewer tell no spread",
        )
    logs = np.log(np.asarray(moments, float))
    middle = float(logs.mean())
    scatter = max(float(logs.std(ddof=1)), LEAST_SCATTER)
    reach = TOLERANCE[min(len(moments), max(TOLERANCE))] * scatter
    return Breaking(
        math.exp(middle),
        math.exp(middle - reach),
        math.exp(middle + reach),
        scatter,
        len(moments),
    )
