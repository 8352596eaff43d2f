"""Properties of a tested sheet: effect of tests on the prior, disagreement, and results."""

from __future__ import annotations

import dataclasses
import json
import math
from typing import Any

import numpy as np
import pytest

from calc.errors import InputError
from calc.sheet_test import estimate, measurements, mechanics
from calc.sheet_test.measurements import Reading

PRIOR = estimate.Prior(
    modulus_along=3.74e9,
    modulus_across=1.0e8,
    shear_modulus=1.7e8,
    poisson=0.3,
    density=160.0,
    strength_along=21.6e6,
    strength_across=1.0e6,
    shear_strength=2.1e6,
    density_cov=0.25,
    across_cov=0.5,
    label="balsa",
)
THICKNESS = measurements.thickness_reading(
    readings=[2.38e-3, 2.41e-3, 2.42e-3, 2.39e-3], error=3e-5
)


def weighing(density: float) -> measurements.Weighing:
    """Weigh a whole sheet of the given density, exactly read."""
    mass = density * 0.915 * 0.076 * THICKNESS.value
    return measurements.Weighing(Reading(mass, 1e-4), Reading(0.915, 1e-3), Reading(0.076, 2e-4))


def tone(modulus: float, density: float = 160.0, direction: Any = "along") -> measurements.Tone:
    """Tap a strip that has the given modulus."""
    frequency = float(
        mechanics.strip_tone(
            modulus=modulus,
            density=density,
            thickness=THICKNESS.value,
            length=0.25,
            width=0.025,
            air_density=1.2,
        )
    )
    return measurements.Tone(
        direction,
        Reading(0.25, 5e-4),
        Reading(0.025, 2e-4),
        Reading(frequency, 0.005 * frequency),
    )


def cantilever(
    modulus: float,
    density: float = 160.0,
    direction: Any = "along",
    length: float = 0.3,
    load: float = 0.04,
) -> measurements.Cantilever:
    """Hang a mass from a strip that has the given modulus."""
    sag = float(
        mechanics.cantilever_sag(
            modulus=modulus,
            density=density,
            thickness=THICKNESS.value,
            length=length,
            width=0.025,
            tip_load=load,
        )
    )
    return measurements.Cantilever(
        direction,
        Reading(length, 1e-3),
        Reading(0.025, 2e-4),
        Reading(sag, 5e-4),
        Reading(load),
    )


def test_without_tests_the_prior_is_returned() -> None:
    """No test: medians and spreads are the prior's and the note says what was not tested."""
    result = estimate.update(prior=PRIOR, thickness=THICKNESS, tests=[])
    assert result.modulus_along.value == pytest.approx(PRIOR.modulus_along)
    assert result.modulus_along.cov == pytest.approx(PRIOR.modulus_cov)
    assert result.density.cov == pytest.approx(PRIOR.density_cov)
    assert "was not tested" in result.note
    assert result.consistency == ()
    assert result.cut is None


def test_weighing_alone_sets_density_and_shifts_the_moduli() -> None:
    """A sheet half as heavy is expected to be less stiff, by as much as the spread allows."""
    result = estimate.update(prior=PRIOR, thickness=THICKNESS, tests=[weighing(90.0)])
    assert result.density.value == pytest.approx(90.0, rel=0.01)
    assert result.density.cov < 0.03
    assert result.modulus_along.value < 0.75 * PRIOR.modulus_along
    assert result.modulus_along.cov < PRIOR.modulus_cov


def test_two_agreeing_tests_narrow_the_spread() -> None:
    """Tone and sag of the same modulus agree and leave less spread than either alone."""
    tests = [weighing(160.0), tone(4.2e9), cantilever(4.2e9)]
    both = estimate.update(prior=PRIOR, thickness=THICKNESS, tests=tests)
    assert both.agrees
    assert both.modulus_along.value == pytest.approx(4.2e9, rel=0.02)
    for test in tests[1:]:
        one = estimate.update(prior=PRIOR, thickness=THICKNESS, tests=[tests[0], test])
        assert both.modulus_along.cov < one.modulus_along.cov


def test_disagreeing_tests_are_named_and_widen_the_spread() -> None:
    """A sag read as from a sheet twice as soft is named as the outlier and widens the spread."""
    calm = estimate.update(
        prior=PRIOR, thickness=THICKNESS, tests=[weighing(160.0), tone(4.0e9), cantilever(4.0e9)]
    )
    torn = estimate.update(
        prior=PRIOR, thickness=THICKNESS, tests=[weighing(160.0), tone(4.0e9), cantilever(2.0e9)]
    )
    assert not torn.agrees
    entry = next(a for a in torn.consistency if a.subject == "along")
    assert entry.outlier == "cantilever, along"
    assert "do not agree" in torn.note
    assert torn.modulus_along.cov > 2.0 * calm.modulus_along.cov
    assert torn.modulus_along.low < 3.0e9 < torn.modulus_along.high


@pytest.mark.parametrize(("modulus", "agrees"), [(3.7e9, True), (3.5e9, False)])
def test_readings_agree_unless_one_in_twenty_would_differ_as_much(
    modulus: float, agrees: bool
) -> None:
    """A tone of 4 GPa and a sag of 3.7 differ by chance, 8 in 100; 4 and 3.5 do not, 3 in 1000."""
    tests = [weighing(160.0), tone(4.0e9), cantilever(modulus)]
    result = estimate.update(prior=PRIOR, thickness=THICKNESS, tests=tests)
    assert result.agrees is agrees


def test_a_sheet_outside_the_prior_is_reported() -> None:
    """Agreeing tests far above the prior disagree with the prior, not with each other."""
    result = estimate.update(
        prior=PRIOR, thickness=THICKNESS, tests=[weighing(160.0), tone(9e9), cantilever(9e9)]
    )
    by_subject = {entry.subject: entry for entry in result.consistency}
    assert by_subject["along"].agrees
    assert not by_subject["prior"].agrees
    assert "outside the book's spread" in result.note


def test_shared_thickness_correlates_the_results() -> None:
    """Too thin a reading would raise density, both moduli and shear modulus alike."""
    result = estimate.update(
        prior=PRIOR,
        thickness=THICKNESS,
        tests=[
            weighing(160.0),
            cantilever(4e9),
            cantilever(8e7, direction="across", length=0.07),
        ],
    )
    correlation = np.array(result.correlation)
    assert correlation[0, 4] < -0.5
    assert correlation[1, 4] < -0.5
    assert correlation[0, 1] > 0.3


def test_repeating_a_test_does_not_average_out_its_method() -> None:
    """Ten sags of one strip still have the error of thickness and method."""
    length = Reading(0.3, 1e-3, "free length")
    one = dataclasses.replace(cantilever(4e9), length=length)
    once = estimate.update(prior=PRIOR, thickness=THICKNESS, tests=[weighing(160.0), one])
    often = estimate.update(prior=PRIOR, thickness=THICKNESS, tests=[weighing(160.0), *[one] * 10])
    assert often.modulus_along.cov > 0.9 * once.modulus_along.cov


def test_one_name_must_be_one_reading() -> None:
    """Two readings under the same name with different values are refused."""
    a = dataclasses.replace(tone(4e9), width=Reading(0.025, 2e-4, "strip width"))
    b = dataclasses.replace(tone(4e9), width=Reading(0.030, 2e-4, "strip width"))
    with pytest.raises(InputError, match="strip width"):
        estimate.update(prior=PRIOR, thickness=THICKNESS, tests=[a, b])


def test_own_thickness_of_a_strip_replaces_the_sheets() -> None:
    """A strip 10 % thicker than the sheet's mean does not make the sheet look a third stiffer."""
    thick = dataclasses.replace(
        tone(4e9),
        thickness=Reading(1.1 * THICKNESS.value, 3e-5),
        frequency=Reading(1.1 * tone(4e9).frequency.value, 0.3),
        air_density=Reading(0.0),
    )
    plain = dataclasses.replace(tone(4e9), air_density=Reading(0.0))
    ours = estimate.single(
        prior=PRIOR, thickness=THICKNESS, test=thick, weighings=[weighing(160.0)]
    )
    other = estimate.single(
        prior=PRIOR, thickness=THICKNESS, test=plain, weighings=[weighing(160.0)]
    )
    assert ours.value == pytest.approx(other.value, rel=0.01)


def test_single_test_returns_what_went_in() -> None:
    """Each kind of test by itself gives back the modulus it was made from."""
    curl = 0.5 * -math.log1p(-(0.3**2) * PRIOR.modulus_across / 4e9)
    for test in (tone(4e9), cantilever(4e9)):
        found = estimate.single(
            prior=PRIOR, thickness=THICKNESS, test=test, weighings=[weighing(160.0)]
        )
        assert found.value == pytest.approx(4e9 * math.exp(-curl), rel=3e-3)
        assert found.low < 4e9 < found.high
    sides = {"side_along": Reading(0.076), "side_across": Reading(0.076), "load": Reading(0.02)}
    sinking = float(
        mechanics.plate_twist(
            shear_modulus=1.9e8,
            thickness=THICKNESS.value,
            side_along=0.076,
            side_across=0.076,
            load=0.02,
        )
    )
    twist = measurements.PlateTwist(**sides, deflection=Reading(sinking, 0.01 * sinking))
    found = estimate.single(prior=PRIOR, thickness=THICKNESS, test=twist)
    assert found.value == pytest.approx(1.9e8, rel=1e-2)


def test_result_converts_to_plain_fields() -> None:
    """Own-material fields and scatter are plain finite numbers; the whole thing goes to JSON."""
    result = estimate.update(prior=PRIOR, thickness=THICKNESS, tests=[weighing(150.0), tone(4e9)])
    own = result.own()
    assert list(own) == [
        "modulus_along",
        "modulus_across",
        "shear_modulus",
        "poisson",
        "density",
        "strength_along",
        "strength_across",
        "shear_strength",
    ]
    assert all(type(value) is float and value > 0.0 for value in own.values())
    assert set(result.scatter()) == {
        "modulus_along",
        "modulus_across",
        "shear_modulus",
        "density",
        "strength",
    }
    assert json.loads(json.dumps(dataclasses.asdict(result)))["poisson"] == 0.3


def test_strength_follows_the_stated_rule() -> None:
    """Strength goes with the root of density times modulus, its spread never below the prior's."""
    result = estimate.update(prior=PRIOR, thickness=THICKNESS, tests=[weighing(150.0), tone(4.4e9)])
    scale = math.sqrt(
        result.density.value / PRIOR.density * result.modulus_along.value / PRIOR.modulus_along
    )
    assert result.strength_along.value == pytest.approx(PRIOR.strength_along * scale)
    assert result.strength_along.cov > PRIOR.strength_cov[0]


def test_cut_is_classified_only_when_both_directions_were_tested() -> None:
    """Both directions tested: a cut; one direction: none."""
    across = cantilever(0.046 * 4e9, direction="across", length=0.1)
    tests: list[measurements.SheetTest] = [weighing(160.0), tone(4e9), across]
    full = estimate.update(prior=PRIOR, thickness=THICKNESS, tests=tests, classify_balsa=True)
    assert full.cut is not None
    assert full.cut.likely == "C"
    part = estimate.update(prior=PRIOR, thickness=THICKNESS, tests=tests[:2], classify_balsa=True)
    assert part.cut is None


def test_tests_near_the_limits_give_a_caution() -> None:
    """A stubby strip and a deeply twisted plate give a caution."""
    stubby = cantilever(8e7, direction="across", length=0.04, load=0.005)
    deep = measurements.PlateTwist(
        Reading(0.15), Reading(0.075), Reading(0.03), Reading(6e-3, 1e-4)
    )
    result = estimate.update(prior=PRIOR, thickness=THICKNESS, tests=[stubby, deep])
    assert "shorter than 20 thicknesses" in result.note
    assert "two thicknesses" in result.note


def test_an_impossible_prior_is_refused() -> None:
    """A property at zero raises InputError naming it."""
    with pytest.raises(InputError, match="density"):
        dataclasses.replace(PRIOR, density=0.0)
