"""One tested sheet: the bench joined with the book, test held against test, the cut judged.

A sheet is described by five numbers: modulus along the grain, modulus across it, in-plane shear
modulus, density and mean thickness.  `update` finds the most probable five numbers given the
book's spread and every reading's error.

Not modelled: strength (scaled from the book, see `Book`), creep, moisture (the result holds for
the moisture the sheet had on the bench), differences between one end of a sheet and the other,
friction at supports, a twist in an unloaded sheet (turn it over, read again and take the mean).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.bench import Reading, Test, Weighing
from calc.errors import InputError, ValidityError

Array = NDArray[np.float64]

QUANTITIES = ("modulus_along", "modulus_across", "shear_modulus", "density", "thickness")
_TARGETS = {"along": 0, "across": 1, "shear": 2, "density": 3}

# Wood Handbook FPL-GTR-282 (2021), Tables 5-1 and 5-2, balsa at about 12 % moisture content.
BALSA_TANGENTIAL_RATIO = 0.015
BALSA_RADIAL_RATIO = 0.046
BALSA_ROLLING_SHEAR_RATIO = 0.005
BALSA_POISSON_RT = 0.665

_DECILE = NormalDist().inv_cdf(0.9)


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
        """Estimate whose logarithm has mean `log_mean` and standard deviation `log_sd`."""
        # A very wide spread would overflow; beyond a factor e^3 the numbers say "unknown" anyway.
        spread = min(log_sd, 3.0)
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
class Book:
    """What the book says of the material before the sheet is touched.

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
        Coefficients of variation of the whole spread between sheets.  22 % for the modulus is the
        Wood Handbook's; across (30 %), shear (22 %) and density (10 %) defaults are our judgement:
        give wider ones for balsa, whose density spans a factor of four.
    strength_cov
        Along, across, shear: 16, 25, 14 %.
    density_exponent
        Power of density with which the moduli rise within the species; 0 for made boards.
    label
        Name of the material.

    Notes
    -----
    Sources: Wood Handbook FPL-GTR-282 (2021) Table 5-6 (modulus of rupture 16 %, of elasticity
    22 %, tension across 25 %, shear 14 %).  Balsa's axial properties are linear in density
    (Borrega & Gibson, Mech. Mater. 84 (2015) 75); ANC-18 (1944) Table 2-1 gives 1.25 for the
    modulus within a species.
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
        """Mean (4,) and covariance (4, 4) of the logarithms of moduli and density.

        Each modulus follows density with the stated exponent as far as its own spread allows
        (correlation at most 0.9); the rest is independent.
        """
        mean = np.log([self.modulus_along, self.modulus_across, self.shear_modulus, self.density])
        covs = np.array([self.modulus_cov, self.across_cov, self.shear_cov, self.density_cov])
        sd = np.sqrt(np.log1p(covs**2))
        loading = np.append(np.minimum(self.density_exponent * sd[3], 0.9 * sd[:3]), sd[3])
        covariance = np.outer(loading, loading)
        np.fill_diagonal(covariance, sd**2)
        return mean, covariance


@dataclass(frozen=True)
class Agreement:
    """Whether readings of one quantity agree.

    Parameters
    ----------
    subject
        "along", "across", "shear" (tests against each other) or "book" (tests against the book).
    chi_square, freedom, probability
        Chance of a disagreement at least this large if all stated errors were right.
    agrees
        Probability at or above the level asked for.
    odd_one
        Label of the test that lies furthest out, in its own error, when they do not agree.
    innovations
        (label, reading minus what everything else predicts, over its standard deviation).
    """

    subject: str
    chi_square: float
    freedom: int
    probability: float
    agrees: bool
    odd_one: str | None
    innovations: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Cut:
    """How a balsa sheet was probably sawn.

    Parameters
    ----------
    probability_a, probability_b, probability_c
        They sum to one.
    likely
        "A", "B" or "C".
    sure
        True when the likely one has at least 80 %.
    note
        In words.
    """

    probability_a: float
    probability_b: float
    probability_c: float
    likely: str
    sure: bool
    note: str


@dataclass(frozen=True)
class TestedSheet:
    """A sheet as the bench and the book together know it; see `update`.

    `correlation` (5, 5) is between the logarithms, in the order of `QUANTITIES`.
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
    agreement: tuple[Agreement, ...]
    cut: Cut | None
    note: str

    @property
    def agrees(self) -> bool:
        """True when no comparison, between tests or with the book, fails."""
        return all(entry.agrees for entry in self.agreement)

    def own(self) -> dict[str, float]:
        """Fields of a reader's own material, SI."""
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
        """Coefficient of variation by factor, the widest of the three strengths."""
        strengths = (self.strength_along, self.strength_across, self.shear_strength)
        return {
            "modulus_along": self.modulus_along.cov,
            "modulus_across": self.modulus_across.cov,
            "shear_modulus": self.shear_modulus.cov,
            "density": self.density.cov,
            "strength": max(strength.cov for strength in strengths),
        }


@dataclass(frozen=True)
class _Fit:
    mean: Array  # state: five logarithms, then inputs in units of their errors
    covariance: Array
    objective: float
    innovations: Array  # per test


def _fit(tests: Sequence[Test], prior_mean: Array, prior_covariance: Array, poisson: float) -> _Fit:
    """Most probable state and its Gaussian spread: Gauss-Newton on the full posterior.

    minimise (y - f(u))^T R^-1 (y - f(u)) + (u - u0)^T P0^-1 (u - u0)

    The state u holds log of the five quantities and every uncertain input of every test, so an
    error that two tests share (thickness, a length, the method) is one unknown, counted once.
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
    uncertain = [key for key, reading in shared.items() if reading.error > 0.0]
    column = {key: 5 + place for place, key in enumerate(uncertain)}
    size = 5 + len(uncertain)

    center = np.concatenate([prior_mean, np.zeros(len(uncertain))])
    precision = np.eye(size)
    precision[:5, :5] = np.linalg.inv(prior_covariance)
    observed = np.array([test.observed.value for test in tests])
    errors = np.array([test.observed.error for test in tests])

    def values(states: Array, key: str) -> Array:
        reading = shared[key]
        if key not in column:
            return np.full(states.shape[0], reading.value)
        moved: Array = reading.value + reading.error * states[:, column[key]]
        return moved

    def predict(states: Array) -> Array:
        if not tests:
            return np.zeros((states.shape[0], 0))
        sheet = {name: np.exp(states[:, i]) for i, name in enumerate(QUANTITIES)}
        sheet["poisson"] = np.array(poisson)
        return np.stack(
            [
                test.predict(sheet, {field: values(states, key) for field, key in named.items()})
                for test, named in zip(tests, keys, strict=True)
            ],
            axis=-1,
        )

    def objective(state: Array, predicted: Array) -> float:
        residual = (observed - predicted) / errors
        away = state - center
        return float(residual @ residual + away @ precision @ away)

    # Central differences: log quantities by 1e-4, inputs by a hundredth of their error.
    steps = np.where(np.arange(size) < 5, 1e-4, 1e-2)
    offsets = np.vstack([np.zeros(size), np.diag(steps), -np.diag(steps)])
    state = center.copy()
    around = predict(state + offsets)
    best = objective(state, around[0])
    for _ in range(60):
        jacobian = ((around[1 : size + 1] - around[size + 1 :]) / (2.0 * steps[:, None])).T
        weighted = jacobian / errors[:, None]
        information = weighted.T @ weighted + precision
        gradient = weighted.T @ ((observed - around[0]) / errors) - precision @ (state - center)
        step = np.linalg.solve(information, gradient)
        if np.max(np.abs(step)) < 1e-5:
            break
        # A change of more than e^1.5 at once can leave the range of the elastica; shorten it.
        scale = min(1.0, 1.5 / float(np.max(np.abs(step[:5])) + 1e-300))
        while True:
            trial = state + scale * step
            beyond = predict(trial + offsets)
            value = objective(trial, beyond[0])
            if value <= best or scale < 1e-6:
                break
            scale *= 0.5
        if not value <= best:
            break
        state, best, around = trial, value, beyond
    covariance = np.linalg.inv(information)
    leverage = np.einsum("ij,jk,ik->i", weighted, covariance, weighted)
    residual = (observed - around[0]) / errors
    innovations = residual / np.sqrt(np.maximum(1.0 - leverage, 1e-9))
    return _Fit(state, covariance, best, innovations)


def chi_square_tail(*, value: float, freedom: int) -> float:
    """Probability that chi-square exceeds a value.

    Parameters
    ----------
    value
        Chi-square [-].
    freedom
        Degrees of freedom, 1 or more.

    Returns
    -------
    Probability [-].

    Notes
    -----
    Finite sums, Abramowitz & Stegun (1964) 26.4.4 and 26.4.5.

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


def ring_angle_ratio(
    *,
    angle: ArrayLike,
    tangential: float = BALSA_TANGENTIAL_RATIO,
    radial: float = BALSA_RADIAL_RATIO,
    rolling_shear: float = BALSA_ROLLING_SHEAR_RATIO,
    poisson_rt: float = BALSA_POISSON_RT,
) -> Array:
    """Across/along modulus ratio of a sheet whose across-direction lies between R and T.

    1/E = c^4/E_R + s^4/E_T + (1/G_RT - 2 nu_RT/E_R) c^2 s^2

    Parameters
    ----------
    angle
        From the radial direction to the sheet's across-direction [rad]: 0 is quarter-sawn,
        pi/2 flat-sawn.
    tangential, radial, rolling_shear
        E_T/E_L, E_R/E_L, G_RT/E_L [-].
    poisson_rt
        nu_RT [-].

    Returns
    -------
    E_across / E_along [-].

    Notes
    -----
    Because G_RT is so low, the ratio falls to the flat-sawn value by 40 degrees and stays there:
    stiffness cannot tell those cuts apart.  Sources: Wood Handbook FPL-GTR-282 (2021) Tables 5-1
    and 5-2 (balsa); plane transformation of an orthotropic compliance (any textbook).
    """
    phi = np.asarray(angle, dtype=float)
    c2, s2 = np.cos(phi) ** 2, np.sin(phi) ** 2
    compliance = (
        c2**2 / radial
        + s2**2 / tangential
        + (1.0 / rolling_shear - 2.0 * poisson_rt / radial) * c2 * s2
    )
    return np.asarray(1.0 / compliance)


def judge_cut(
    *,
    ratio: float,
    log_error: float,
    scatter: float = 0.25,
    before: tuple[float, float, float] = (1.0, 1.0, 1.0),
) -> Cut:
    """Chance of A, B and C cut from the measured across/along modulus ratio of balsa.

    p(cut | r) ~ p(cut) mean over its ring angles of N(ln r; ln r(angle), error^2 + scatter^2)

    Parameters
    ----------
    ratio
        E_across / E_along [-].
    log_error
        Standard error of its logarithm [-].
    scatter
        Spread of the ratio between sheets of one cut, as standard deviation of the logarithm [-];
        0.25 is our judgement from the 22 % of the modulus (Wood Handbook Table 5-6).
    before
        Weights of A, B, C before the test.

    Returns
    -------
    Cut.  A: across-direction within 22.5 degrees of tangential, C: within 22.5 degrees of radial,
    B: between (common practice; the trade has no fixed limits).
    """
    if not ratio > 0.0:
        raise InputError("ratio", ratio, "a value above zero")
    angles = (np.arange(180) + 0.5) * np.pi / 360.0
    sd = math.hypot(log_error, scatter)
    likelihood = np.exp(
        -0.5 * ((math.log(ratio) - np.log(ring_angle_ratio(angle=angles))) / sd) ** 2
    )
    third = len(angles) // 4
    parts = np.array(
        [
            likelihood[-third:].mean(),
            likelihood[third:-third].mean(),
            likelihood[:third].mean(),
        ]
    ) * np.asarray(before, dtype=float)
    if not parts.sum() > 0.0:
        raise ValidityError("an across/along ratio far outside balsa's; check both tests")
    a, b, c = (float(p) for p in parts / parts.sum())
    likely, best = max(zip("ABC", (a, b, c), strict=True), key=lambda pair: pair[1])
    note = f"Across/along ratio {ratio:.3f}: A {a:.0%}, B {b:.0%}, C {c:.0%}."
    if likely != "C":
        note += " A and most B sheets are equally soft across; tell them apart by eye."
    return Cut(a, b, c, likely, best >= 0.8, note)


def _strengths(book: Book, mean: Array, sd: Array) -> tuple[Estimate, Estimate, Estimate]:
    """Strengths scaled by the root of (density ratio x modulus ratio), each for its own modulus.

    Stiffness tests say little of strength, so 15 % (our judgement) and the tested quantities'
    own spread are added in squares to the book's spread.
    """
    reference, _ = book.log_spread()
    strengths = (book.strength_along, book.strength_across, book.shear_strength)
    scaled = []
    for i, strength in enumerate(strengths):
        shift = 0.5 * (mean[i] - reference[i] + mean[3] - reference[3])
        spread = math.sqrt(
            math.log1p(book.strength_cov[i] ** 2) + 0.15**2 + (sd[i] ** 2 + sd[3] ** 2) / 4.0
        )
        scaled.append(Estimate.lognormal(math.log(strength) + shift, spread))
    return scaled[0], scaled[1], scaled[2]


def update(
    *,
    book: Book,
    thickness: Reading,
    tests: Sequence[Test],
    agreement_level: float = 0.05,
    judge_balsa: bool = False,
) -> TestedSheet:
    """Join the book with every bench test of one sheet.

    Parameters
    ----------
    book
        Values and spread before the tests.
    thickness
        Mean thickness of the sheet [m], see `thickness_reading`.  It enters stiffness cubed and
        is one unknown for all tests of the sheet.
    tests
        Any number, in any order.
    agreement_level
        Probability below which readings are said to disagree [-].
    judge_balsa
        Judge the cut when both directions were tested.

    Returns
    -------
    TestedSheet.  Where tests of one modulus disagree its spread is widened by
    sqrt(chi-square / freedom) and the note says so.

    Notes
    -----
    Gaussian in the logarithms at the most probable point (Laplace); normalised innovations and
    chi-square as in Gelb, Applied Optimal Estimation (1974) (from memory, unverified); widening
    after Birge, Phys. Rev. 40 (1932) 207.
    """
    if not (thickness.value > 0.0 and 0.0 < thickness.error < 0.3 * thickness.value):
        raise InputError("thickness", thickness, "a thickness with an error above zero and small")
    book_mean, book_covariance = book.log_spread()
    mean = np.append(book_mean, math.log(thickness.value))
    covariance = np.zeros((5, 5))
    covariance[:4, :4] = book_covariance
    covariance[4, 4] = (thickness.error / thickness.value) ** 2
    # With a prior of a factor e^5 the moduli rest on the tests alone; density keeps its book.
    open_covariance = np.diag([25.0, 25.0, 25.0, covariance[3, 3], covariance[4, 4]])

    weighings = [test for test in tests if test.target == "density"]
    others = [test for test in tests if test.target != "density"]
    targets = [t for t in ("along", "across", "shear") if any(o.target == t for o in others)]
    full = _fit([*weighings, *others], mean, covariance, book.poisson)
    book_innovations = dict(enumerate(full.innovations[len(weighings) :]))

    agreement = []
    notes = []
    widening = np.ones(5)
    base = _fit(weighings, mean, open_covariance, book.poisson).objective if others else 0.0
    for target in targets:
        places = [i for i, test in enumerate(others) if test.target == target]
        if len(places) < 2:
            continue
        group = [others[i] for i in places]
        alone = _fit([*weighings, *group], mean, open_covariance, book.poisson)
        chi = max(alone.objective - base, 0.0)
        freedom = len(group) - 1
        probability = chi_square_tail(value=chi, freedom=freedom)
        agrees = probability >= agreement_level
        odd = None
        if not agrees:
            odd = others[max(places, key=lambda i: abs(book_innovations[i]))].label
            factor = math.sqrt(chi / freedom)
            widening[_TARGETS[target]] = factor
            notes.append(
                f"Tests of the {_words(target)} do not agree (chance {probability:.2g}); "
                f"furthest out: {odd}. Its spread is widened {factor:.1f} times: test again."
            )
        innovations = tuple(
            (test.label, float(z))
            for test, z in zip(group, alone.innovations[len(weighings) :], strict=True)
        )
        agreement.append(Agreement(target, chi, freedom, probability, agrees, odd, innovations))

    if others:
        opened = _fit([*weighings, *others], mean, open_covariance, book.poisson)
        chi = max(full.objective - opened.objective, 0.0)
        probability = chi_square_tail(value=chi, freedom=len(targets))
        agrees = probability >= agreement_level
        labels = tuple((test.label, float(book_innovations[i])) for i, test in enumerate(others))
        odd = None if agrees else max(labels, key=lambda pair: abs(pair[1]))[0]
        if not agrees:
            notes.append(
                f"The tests lie outside the book's spread for {book.label} "
                f"(chance {probability:.2g}); furthest out: {odd}. "
                "A different material or cut, or a slip in a reading?"
            )
        agreement.append(Agreement("book", chi, len(targets), probability, agrees, odd, labels))
    for test in tests:
        notes.extend(test.cautions(thickness.value))
    for target in ("along", "across", "shear"):
        if target not in targets:
            notes.append(f"The {_words(target)} was not tested; it rests on the book.")

    posterior = full.covariance[:5, :5] * np.outer(widening, widening)
    sd = np.sqrt(np.diag(posterior))
    estimates = [Estimate.lognormal(float(full.mean[i]), float(sd[i])) for i in range(5)]
    strengths = _strengths(book, full.mean, sd)
    notes.append("Strengths are scaled from the book, not tested; break a strip to know more.")

    cut = None
    if judge_balsa and "along" in targets and "across" in targets:
        difference = np.array([-1.0, 1.0, 0.0, 0.0, 0.0]) * widening
        ratio_error = math.sqrt(float(difference @ opened.covariance[:5, :5] @ difference))
        cut = judge_cut(
            ratio=math.exp(float(opened.mean[1] - opened.mean[0])), log_error=ratio_error
        )
        notes.append(cut.note)

    spread = np.sqrt(np.diag(full.covariance)[:5])
    correlation = full.covariance[:5, :5] / np.outer(spread, spread)
    return TestedSheet(
        density=estimates[3],
        modulus_along=estimates[0],
        modulus_across=estimates[1],
        shear_modulus=estimates[2],
        thickness=estimates[4],
        poisson=book.poisson,
        strength_along=strengths[0],
        strength_across=strengths[1],
        shear_strength=strengths[2],
        correlation=tuple(tuple(float(c) for c in row) for row in correlation),
        agreement=tuple(agreement),
        cut=cut,
        note=" ".join(notes),
    )


def single(
    *, book: Book, thickness: Reading, test: Test, weighings: Sequence[Weighing] = ()
) -> Estimate:
    """Take one test by itself, the book's modulus set aside.

    Parameters
    ----------
    book
        Gives density (if not weighed) and Poisson's ratio only.
    thickness
        Of the sheet [m].
    test
        A bending or twist test.
    weighings
        Weighings of the same sheet.

    Returns
    -------
    Estimate of the test's modulus [Pa].
    """
    if test.target == "density":
        raise InputError("test", test.kind, "a bending or twist test; see weighed_density")
    bare = replace(book, density_exponent=0.0)
    book_mean, book_covariance = bare.log_spread()
    mean = np.append(book_mean, math.log(thickness.value))
    spread = np.diag(
        [25.0, 25.0, 25.0, book_covariance[3, 3], (thickness.error / thickness.value) ** 2]
    )
    fit = _fit([*weighings, test], mean, spread, book.poisson)
    place = _TARGETS[test.target]
    return Estimate.lognormal(
        float(fit.mean[place]), math.sqrt(float(fit.covariance[place, place]))
    )


def _words(target: str) -> str:
    return {
        "along": "modulus along the grain",
        "across": "modulus across the grain",
        "shear": "shear modulus",
    }[target]
