"""Whether readings agree with each other and with the prior."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

PRIOR = "prior"
"""Subject of the comparison of all tests with the prior."""


@dataclass(frozen=True)
class ConsistencyTest:
    """Chi-square test of whether readings agree.

    Parameters
    ----------
    subject
        "along", "across" or "shear": tests of that modulus against each other; `PRIOR`: all tests
        against the prior.
    chi_square, freedom, probability
        Chi-square, degrees of freedom, and the probability of a disagreement at least this large
        if all stated errors are right.
    agrees
        Whether the probability reaches the required level.
    outlier
        Label of the test furthest from the rest, in its own error, when they do not agree.
    innovations
        (label, reading minus what everything else predicts, over its standard deviation).
    """

    subject: str
    chi_square: float
    freedom: int
    probability: float
    agrees: bool
    outlier: str | None
    innovations: tuple[tuple[str, float], ...]

    @property
    def widening(self) -> float:
        """Factor by which the spread is widened where the readings disagree.

        References
        ----------
        R. T. Birge, Phys. Rev. 40 (1932) 207.
        """
        return 1.0 if self.agrees else math.sqrt(self.chi_square / self.freedom)


def consistency_test(
    subject: str,
    *,
    chi_square: float,
    freedom: int,
    level: float,
    innovations: Sequence[tuple[str, float]],
    distances: Sequence[tuple[str, float]],
) -> ConsistencyTest:
    """Return a chi-square test, its outlier the reading at the greatest distance.

    Parameters
    ----------
    subject, chi_square, freedom, innovations
        As in `ConsistencyTest`; a chi-square below zero is rounding and counts as zero.
    level
        Probability below which readings disagree [-].
    distances
        (label, distance) by which the outlier is chosen.
    """
    chi = max(chi_square, 0.0)
    probability = chi_square_tail(value=chi, freedom=freedom)
    agrees = probability >= level
    outlier = None if agrees else max(distances, key=lambda pair: abs(pair[1]))[0]
    return ConsistencyTest(subject, chi, freedom, probability, agrees, outlier, tuple(innovations))


def chi_square_tail(*, value: float, freedom: int) -> float:
    """Compute the probability that chi-square exceeds a value.

    Parameters
    ----------
    value
        Chi-square [-].
    freedom
        Degrees of freedom, 1 or more.

    Returns
    -------
    float
        Probability [-].

    References
    ----------
    Finite sums, Abramowitz & Stegun (1964) 26.4.4 and 26.4.5.

    Examples
    --------
    >>> round(chi_square_tail(value=3.841, freedom=1), 3)
    0.05
    """
    half = max(value, 0.0) / 2.0
    if freedom % 2 == 0:
        term, total = 1.0, 1.0
        for k in range(1, freedom // 2):
            term *= half / k
            total += term
        return math.exp(-half) * total
    total, term = math.erfc(math.sqrt(half)), math.sqrt(half / math.pi) * 2.0 * math.exp(-half)
    for k in range(1, (freedom - 1) // 2 + 1):
        total += term
        term *= half / (k + 0.5)
    return total
