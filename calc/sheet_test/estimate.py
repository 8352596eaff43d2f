"""Estimate the properties of one tested sheet from a prior and its tests.

`update` finds the most probable properties given the spread of the prior and the error of every
reading, tests the readings for consistency and classifies the cut of a balsa sheet.

Not modelled: strength (scaled from the prior, see `Prior`), creep, moisture (the result is for the
moisture content during the tests), variation within a sheet, friction at supports, a twist in an
unloaded sheet (turn it over, read again and take the mean).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from calc.errors import InputError
from calc.sheet_test.balsa_cut import Cut, classify_cut
from calc.sheet_test.consistency import PRIOR, ConsistencyTest, consistency_test
from calc.sheet_test.measurements import Reading, SheetTest, Weighing
from calc.sheet_test.posterior import Posterior, fit

Array = NDArray[np.float64]

TARGETS = ("along", "across", "shear", "density")
"""What a test can measure, in the order of `calc.sheet_test.posterior.QUANTITIES`."""
AGREEMENT_LEVEL = 0.05
"""Probability below which readings disagree."""
STRENGTH_SCALING_SD = 0.15
"""Standard deviation of the logarithm of a strength scaled from stiffness: our judgement."""
MAX_CORRELATION = 0.9
"""Largest correlation of a modulus with density in the prior."""
UNINFORMED_VARIANCE = 25.0
"""Variance of the logarithm of a modulus of which nothing is known: a factor of e^5."""
MAX_LOG_SD = 3.0
"""Largest standard deviation of a logarithm reported; wider ones would overflow."""
_DECILE = NormalDist().inv_cdf(0.9)

_WORDS = {
    "along": "modulus along the grain",
    "across": "modulus across the grain",
    "shear": "shear modulus",
}


@dataclass(frozen=True)
class Estimate:
    """A positive quantity known within a lognormal spread.

    Parameters
    ----------
    value
        Median.
    sd, cov
        Standard deviation (same unit) and coefficient of variation.
    low, high
        10 % and 90 % points.
    """

    value: float
    sd: float
    cov: float
    low: float
    high: float

    @classmethod
    def lognormal(cls, log_mean: float, log_sd: float) -> Estimate:
        """Return the estimate whose logarithm has this mean and standard deviation."""
        spread = min(log_sd, MAX_LOG_SD)
        median = math.exp(log_mean)
        cov = math.sqrt(math.expm1(spread**2))
        return cls(
            value=median,
            sd=median * math.exp(0.5 * spread**2) * cov,
            cov=cov,
            low=median * math.exp(-_DECILE * spread),
            high=median * math.exp(_DECILE * spread),
        )


@dataclass(frozen=True)
class Prior:
    """Published properties of the material, before any test of the sheet.

    Parameters
    ----------
    modulus_along, modulus_across, shear_modulus
        Medians [Pa].
    poisson
        nu_12, taken as known [-].
    density
        Median [kg/m3].
    strength_along, strength_across, shear_strength
        [Pa]
    modulus_cov, across_cov, shear_cov, density_cov
        Coefficients of variation between sheets. 22 % for the modulus is the Wood Handbook's; those
        across (30 %), in shear (22 %) and of density (10 %) are our judgement: give wider ones for
        balsa, whose density spans a factor of four.
    strength_cov
        Along, across, shear: 16, 25, 14 %.
    density_exponent
        Exponent with which the moduli rise with density within the species; 0 for manufactured
        boards.
    label
        Name of the material.

    References
    ----------
    Wood Handbook FPL-GTR-282 (2021), table 5-6 (modulus of rupture 16 %, of elasticity 22 %,
    tension across 25 %, shear 14 %). Balsa's axial properties are linear in density (Borrega &
    Gibson, Mech. Mater. 84 (2015) 75); ANC-18 (1944), table 2-1, gives 1.25 for the modulus within
    a species.
    """

    modulus_along: float
    modulus_across: float
    shear_modulus: float
    poisson: float
    density: float
    strength_along: float
    strength_across: float
    shear_strength: float
    modulus_cov: float = 0.22
    across_cov: float = 0.30
    shear_cov: float = 0.22
    density_cov: float = 0.10
    strength_cov: tuple[float, float, float] = (0.16, 0.25, 0.14)
    density_exponent: float = 1.0
    label: str = "own"

    def __post_init__(self) -> None:
        positive = (
            *("modulus_along", "modulus_across", "shear_modulus", "density"),
            *("strength_along", "strength_across", "shear_strength"),
            *("modulus_cov", "across_cov", "shear_cov", "density_cov"),
        )
        for name in positive:
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise InputError(name, value, "a value above zero")
        if not 0.0 <= self.poisson < 1.0:
            raise InputError("poisson", self.poisson, "a value from 0 to 1")

    def log_spread(self) -> tuple[Array, Array]:
        """Return mean (4,) and covariance (4, 4) of the logarithms of moduli and density.

        Each modulus follows density with the stated exponent as far as its own spread allows
        (correlation at most `MAX_CORRELATION`); the rest is independent.
        """
        mean = np.log([self.modulus_along, self.modulus_across, self.shear_modulus, self.density])
        covs = np.array([self.modulus_cov, self.across_cov, self.shear_cov, self.density_cov])
        sd = np.sqrt(np.log1p(covs**2))
        loading = np.append(
            np.minimum(self.density_exponent * sd[3], MAX_CORRELATION * sd[:3]), sd[3]
        )
        covariance = np.outer(loading, loading)
        np.fill_diagonal(covariance, sd**2)
        return mean, covariance


@dataclass(frozen=True)
class TestedSheet:
    """Properties of a sheet from prior and tests together; see `update`.

    `correlation` (5, 5) is between the logarithms, in the order of
    `calc.sheet_test.posterior.QUANTITIES`.
    """

    # pytest would otherwise take the name for a test class.
    __test__: ClassVar[bool] = False

    density: Estimate
    modulus_along: Estimate
    modulus_across: Estimate
    shear_modulus: Estimate
    thickness: Estimate
    poisson: float
    strength_along: Estimate
    strength_across: Estimate
    shear_strength: Estimate
    correlation: tuple[tuple[float, ...], ...]
    consistency: tuple[ConsistencyTest, ...]
    cut: Cut | None
    note: str

    @property
    def agrees(self) -> bool:
        """True when no comparison, between tests or with the prior, fails."""
        return all(entry.agrees for entry in self.consistency)

    def own(self) -> dict[str, float]:
        """Return the fields of a reader's own material, SI."""
        return {
            "modulus_along": self.modulus_along.value,
            "modulus_across": self.modulus_across.value,
            "shear_modulus": self.shear_modulus.value,
            "poisson": self.poisson,
            "density": self.density.value,
            "strength_along": self.strength_along.value,
            "strength_across": self.strength_across.value,
            "shear_strength": self.shear_strength.value,
        }

    def scatter(self) -> dict[str, float]:
        """Return the coefficients of variation; that of strength is the widest of the three."""
        strengths = (self.strength_along, self.strength_across, self.shear_strength)
        return {
            "modulus_along": self.modulus_along.cov,
            "modulus_across": self.modulus_across.cov,
            "shear_modulus": self.shear_modulus.cov,
            "density": self.density.cov,
            "strength": max(strength.cov for strength in strengths),
        }


def update(
    *,
    prior: Prior,
    thickness: Reading,
    tests: Sequence[SheetTest],
    agreement_level: float = AGREEMENT_LEVEL,
    classify_balsa: bool = False,
) -> TestedSheet:
    """Compute the properties of one sheet from its prior and all its tests.

    Parameters
    ----------
    prior
        Values and spread before the tests.
    thickness
        Mean thickness of the sheet [m], see `measurements.thickness_reading`. Stiffness goes with
        its cube, and it is one unknown for all tests of the sheet.
    tests
        Any number, in any order.
    agreement_level
        Probability below which readings disagree [-].
    classify_balsa
        Whether to classify the cut when both directions were tested.

    Returns
    -------
    TestedSheet
        Where tests of one modulus disagree its spread is widened and the note says so.

    Raises
    ------
    InputError
        If the thickness or its error is impossible.

    Notes
    -----
    Gaussian in the logarithms at the most probable point (Laplace's approximation); consistency
    by chi-square, see `ConsistencyTest`.
    """
    if not (thickness.value > 0.0 and 0.0 < thickness.error < 0.3 * thickness.value):
        raise InputError("thickness", thickness, "a thickness with an error above zero and small")
    start = _Start(prior, thickness)
    weighings = [test for test in tests if test.target == "density"]
    others = [test for test in tests if test.target != "density"]
    targets = [t for t in TARGETS[:3] if any(test.target == t for test in others)]
    informed = start.fit([*weighings, *others])
    uninformed = start.fit([*weighings, *others], informed=False) if others else None
    consistency: list[ConsistencyTest] = []
    if uninformed is not None:
        labels = [test.label for test in others]
        innovations = informed.innovations[len(weighings) :].tolist()
        distances = list(zip(labels, innovations, strict=True))
        consistency = [
            *_compared_tests(start, weighings, others, distances, agreement_level),
            consistency_test(
                PRIOR,
                chi_square=informed.objective - uninformed.objective,
                freedom=len(targets),
                level=agreement_level,
                innovations=distances,
                distances=distances,
            ),
        ]
    widening = np.ones(5)
    for entry in consistency:
        if entry.subject != PRIOR:
            widening[TARGETS.index(entry.subject)] = entry.widening
    cut = None
    if classify_balsa and uninformed is not None and {"along", "across"} <= set(targets):
        cut = _cut(uninformed, widening)
    return _tested_sheet(
        prior, informed, widening, consistency, cut, _notes(prior, thickness, tests, consistency)
    )


def single(
    *, prior: Prior, thickness: Reading, test: SheetTest, weighings: Sequence[Weighing] = ()
) -> Estimate:
    """Compute the modulus from one test alone, without the prior's modulus.

    Parameters
    ----------
    prior
        Used for density (if not weighed) and Poisson's ratio only.
    thickness
        Of the sheet [m].
    test
        A bending or twist test.
    weighings
        Weighings of the same sheet.

    Returns
    -------
    Estimate
        The test's modulus [Pa].

    Raises
    ------
    InputError
        If the test is a weighing.
    """
    if test.target == "density":
        raise InputError("test", test.kind, "a bending or twist test")
    found = _Start(prior, thickness).fit([*weighings, test], informed=False)
    place = TARGETS.index(test.target)
    return Estimate.lognormal(
        float(found.mean[place]), math.sqrt(float(found.covariance[place, place]))
    )


class _Start:
    """The prior of one sheet in logarithms, thickness included."""

    def __init__(self, prior: Prior, thickness: Reading) -> None:
        mean, covariance = prior.log_spread()
        self._poisson = prior.poisson
        self._mean = np.append(mean, math.log(thickness.value))
        self._covariance = np.zeros((5, 5))
        self._covariance[:4, :4] = covariance
        self._covariance[4, 4] = (thickness.error / thickness.value) ** 2
        # The moduli then depend on the tests alone; density and thickness keep their prior.
        self._uninformed = np.diag(
            [*[UNINFORMED_VARIANCE] * 3, *np.diag(self._covariance)[3:].tolist()]
        )

    def fit(self, tests: Sequence[SheetTest], *, informed: bool = True) -> Posterior:
        """Return the posterior of some tests, with or without the prior's moduli."""
        covariance = self._covariance if informed else self._uninformed
        return fit(tests, mean=self._mean, covariance=covariance, poisson=self._poisson)


def _compared_tests(
    start: _Start,
    weighings: Sequence[SheetTest],
    others: Sequence[SheetTest],
    distances: Sequence[tuple[str, float]],
    level: float,
) -> list[ConsistencyTest]:
    """Return the consistency of each modulus that was tested more than once, without the prior.

    `distances` of the tests from everything else decide which is the outlier.
    """
    found = []
    base = start.fit(weighings, informed=False).objective
    for target in TARGETS[:3]:
        places = [i for i, test in enumerate(others) if test.target == target]
        if len(places) < 2:
            continue
        alone = start.fit([*weighings, *(others[i] for i in places)], informed=False)
        innovations = alone.innovations[len(weighings) :].tolist()
        found.append(
            consistency_test(
                target,
                chi_square=alone.objective - base,
                freedom=len(places) - 1,
                level=level,
                innovations=[
                    (others[i].label, z) for i, z in zip(places, innovations, strict=True)
                ],
                distances=[distances[i] for i in places],
            )
        )
    return found


def _cut(found: Posterior, widening: Array) -> Cut:
    """Return the cut from the across/along ratio of the tests alone."""
    difference = np.array([-1.0, 1.0, 0.0, 0.0, 0.0]) * widening
    error = math.sqrt(float(difference @ found.covariance[:5, :5] @ difference))
    return classify_cut(ratio=math.exp(float(found.mean[1] - found.mean[0])), log_error=error)


def _notes(
    prior: Prior,
    thickness: Reading,
    tests: Sequence[SheetTest],
    consistency: Sequence[ConsistencyTest],
) -> list[str]:
    """Return what to say about the tests, in the order of importance."""
    notes = []
    for entry in consistency:
        if entry.agrees:
            continue
        if entry.subject == PRIOR:
            notes.append(
                f"The tests lie outside the book's spread for {prior.label} "
                f"(chance {entry.probability:.2g}); furthest out: {entry.outlier}. "
                "A different material or cut, or a slip in a reading?"
            )
        else:
            notes.append(
                f"Tests of the {_WORDS[entry.subject]} do not agree (chance "
                f"{entry.probability:.2g}); furthest out: {entry.outlier}. Its spread is widened "
                f"{entry.widening:.1f} times: test again."
            )
    for test in tests:
        notes.extend(test.cautions(thickness.value))
    tested = {test.target for test in tests}
    notes += [
        f"The {words} was not tested; it rests on the book."
        for target, words in _WORDS.items()
        if target not in tested
    ]
    notes.append("Strengths are scaled from the book, not tested; break a strip to know more.")
    return notes


def _strengths(prior: Prior, mean: Array, sd: Array) -> tuple[Estimate, Estimate, Estimate]:
    """Return strengths scaled by the root of density ratio times modulus ratio.

    Each is scaled by its own modulus. Stiffness tests say little about strength, so
    `STRENGTH_SCALING_SD` and the spread of the tested quantities are added in squares to the
    spread of the prior.
    """
    reference, _ = prior.log_spread()
    strengths = (prior.strength_along, prior.strength_across, prior.shear_strength)
    scaled = []
    for i, strength in enumerate(strengths):
        shift = 0.5 * (mean[i] - reference[i] + mean[3] - reference[3])
        spread = math.sqrt(
            math.log1p(prior.strength_cov[i] ** 2)
            + STRENGTH_SCALING_SD**2
            + (sd[i] ** 2 + sd[3] ** 2) / 4.0
        )
        scaled.append(Estimate.lognormal(math.log(strength) + shift, spread))
    return scaled[0], scaled[1], scaled[2]


def _tested_sheet(
    prior: Prior,
    found: Posterior,
    widening: Array,
    consistency: Sequence[ConsistencyTest],
    cut: Cut | None,
    notes: list[str],
) -> TestedSheet:
    """Return the result for a posterior whose spreads are widened by factors (5,)."""
    covariance = found.covariance[:5, :5]
    sd = np.sqrt(np.diag(covariance * np.outer(widening, widening)))
    along, across, shear, density, thickness = (
        Estimate.lognormal(float(found.mean[i]), float(sd[i])) for i in range(5)
    )
    strengths = _strengths(prior, found.mean, sd)
    spread = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(spread, spread)
    return TestedSheet(
        density=density,
        modulus_along=along,
        modulus_across=across,
        shear_modulus=shear,
        thickness=thickness,
        poisson=prior.poisson,
        strength_along=strengths[0],
        strength_across=strengths[1],
        shear_strength=strengths[2],
        correlation=tuple(tuple(float(c) for c in row) for row in correlation),
        consistency=tuple(consistency),
        cut=cut,
        note=" ".join([*notes, *([cut.note] if cut is not None else [])]),
    )
