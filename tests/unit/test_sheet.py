"""A tested sheet: what tests do to the book, how disagreement shows, what is handed on."""

from __future__ import annotations

import dataclasses
import json
import math
from typing import Any

import numpy as np
import pytest
from scipy import stats

from calc import bench, sheet
from calc.bench import Reading
from calc.errors import InputError, ValidityError

BOOK = sheet.Book(
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
THICKNESS = bench.thickness_reading(readings=[2.38e-3, 2.41e-3, 2.42e-3, 2.39e-3], error=3e-5)


def weighing(density: float) -> bench.Weighing:
    """Weigh a whole sheet of the given density, exactly read."""
    mass = density * 0.915 * 0.076 * THICKNESS.value
    return bench.Weighing(Reading(mass, 1e-4), Reading(0.915, 1e-3), Reading(0.076, 2e-4))


def tone(modulus: float, density: float = 160.0, direction: Any = "along") -> bench.Tone:
    """Tap a strip that has the given modulus."""
    frequency = float(
        bench.strip_tone(
            modulus=modulus,
            density=density,
            thickness=THICKNESS.value,
            length=0.25,
            width=0.025,
            air_density=1.2,
        )
    )
    return bench.Tone(
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
) -> bench.Cantilever:
    """Hang a mass from a strip that has the given modulus."""
    sag = float(
        bench.cantilever_sag(
            modulus=modulus,
            density=density,
            thickness=THICKNESS.value,
            length=length,
            width=0.025,
            tip_load=load,
        )
    )
    return bench.Cantilever(
        direction,
        Reading(length, 1e-3),
        Reading(0.025, 2e-4),
        Reading(sag, 5e-4),
        Reading(load),
    )


def test_without_tests_the_book_stays() -> None:
    """No test: medians and spreads are the book's and the note says what was not tested."""
    result = sheet.update(book=BOOK, thickness=THICKNESS, tests=[])
    assert result.modulus_along.value == pytest.approx(BOOK.modulus_along)
    assert result.modulus_along.cov == pytest.approx(BOOK.modulus_cov)
    assert result.density.cov == pytest.approx(BOOK.density_cov)
    assert "was not tested" in result.note
    assert result.agreement == ()
    assert result.cut is None


def test_weighing_alone_sets_density_and_draws_the_moduli_along() -> None:
    """A sheet half as heavy is expected to be less stiff, by as much as the spread allows."""
    result = sheet.update(book=BOOK, thickness=THICKNESS, tests=[weighing(90.0)])
    assert result.density.value == pytest.approx(90.0, rel=0.01)
    assert result.density.cov < 0.03
    assert result.modulus_along.value < 0.75 * BOOK.modulus_along
    assert result.modulus_along.cov < BOOK.modulus_cov


def test_two_agreeing_tests_narrow_the_spread() -> None:
    """Tone and sag of the same modulus agree and leave less spread than either alone."""
    tests = [weighing(160.0), tone(4.2e9), cantilever(4.2e9)]
    both = sheet.update(book=BOOK, thickness=THICKNESS, tests=tests)
    assert both.agrees
    assert both.modulus_along.value == pytest.approx(4.2e9, rel=0.02)
    for test in tests[1:]:
        one = sheet.update(book=BOOK, thickness=THICKNESS, tests=[tests[0], test])
        assert both.modulus_along.cov < one.modulus_along.cov


def test_disagreeing_tests_are_named_and_widen_the_spread() -> None:
    """A sag read as from a sheet twice as soft: the module says so, names it, widens."""
    calm = sheet.update(
        book=BOOK, thickness=THICKNESS, tests=[weighing(160.0), tone(4.0e9), cantilever(4.0e9)]
    )
    torn = sheet.update(
        book=BOOK, thickness=THICKNESS, tests=[weighing(160.0), tone(4.0e9), cantilever(2.0e9)]
    )
    assert not torn.agrees
    entry = next(a for a in torn.agreement if a.subject == "along")
    assert entry.odd_one == "cantilever, along"
    assert "do not agree" in torn.note
    assert torn.modulus_along.cov > 2.0 * calm.modulus_along.cov
    assert torn.modulus_along.low < 3.0e9 < torn.modulus_along.high


def test_a_sheet_outside_the_book_is_said_to_be() -> None:
    """Agreeing tests far above the book put the book in doubt, not each other."""
    result = sheet.update(
        book=BOOK, thickness=THICKNESS, tests=[weighing(160.0), tone(9e9), cantilever(9e9)]
    )
    by_subject = {entry.subject: entry for entry in result.agreement}
    assert by_subject["along"].agrees
    assert not by_subject["book"].agrees
    assert "outside the book's spread" in result.note


def test_shared_thickness_ties_the_results_together() -> None:
    """Too thin a reading would raise density, both moduli and shear modulus alike."""
    result = sheet.update(
        book=BOOK,
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


def test_repeating_a_test_does_not_average_its_method_away() -> None:
    """Ten sags of one strip keep the error of thickness and method."""
    length = Reading(0.3, 1e-3, "free length")
    one = dataclasses.replace(cantilever(4e9), length=length)
    once = sheet.update(book=BOOK, thickness=THICKNESS, tests=[weighing(160.0), one])
    often = sheet.update(book=BOOK, thickness=THICKNESS, tests=[weighing(160.0), *[one] * 10])
    assert often.modulus_along.cov > 0.9 * once.modulus_along.cov


def test_one_name_must_be_one_reading() -> None:
    """Two readings under the same name with different values are refused."""
    a = dataclasses.replace(tone(4e9), width=Reading(0.025, 2e-4, "strip width"))
    b = dataclasses.replace(tone(4e9), width=Reading(0.030, 2e-4, "strip width"))
    with pytest.raises(InputError, match="strip width"):
        sheet.update(book=BOOK, thickness=THICKNESS, tests=[a, b])


def test_own_thickness_of_a_strip_replaces_the_sheets() -> None:
    """A strip 10 % thicker than the sheet's mean does not make the sheet look a third stiffer."""
    thick = dataclasses.replace(
        tone(4e9),
        thickness=Reading(1.1 * THICKNESS.value, 3e-5),
        frequency=Reading(1.1 * tone(4e9).frequency.value, 0.3),
        air_density=Reading(0.0),
    )
    plain = dataclasses.replace(tone(4e9), air_density=Reading(0.0))
    ours = sheet.single(book=BOOK, thickness=THICKNESS, test=thick, weighings=[weighing(160.0)])
    other = sheet.single(book=BOOK, thickness=THICKNESS, test=plain, weighings=[weighing(160.0)])
    assert ours.value == pytest.approx(other.value, rel=0.01)


def test_single_test_returns_what_went_in() -> None:
    """Each kind of test by itself gives back the modulus it was made from."""
    curl = 0.5 * -math.log1p(-(0.3**2) * BOOK.modulus_across / 4e9)
    for test in (tone(4e9), cantilever(4e9)):
        found = sheet.single(book=BOOK, thickness=THICKNESS, test=test, weighings=[weighing(160.0)])
        assert found.value == pytest.approx(4e9 * math.exp(-curl), rel=3e-3)
        assert found.low < 4e9 < found.high
    twist = bench.StripTwist(
        Reading(0.2), Reading(0.03), Reading(2e-3), Reading(1.0, 0.01), method_cov=0.05
    )
    angle = float(
        bench.strip_twist(
            shear_modulus=1.9e8,
            thickness=THICKNESS.value,
            width=0.03,
            length=0.2,
            torque=2e-3,
        )
    )
    twist = dataclasses.replace(twist, angle=Reading(angle, 0.01 * angle))
    found = sheet.single(book=BOOK, thickness=THICKNESS, test=twist)
    assert found.value == pytest.approx(1.9e8, rel=1e-2)


def test_result_converts_to_plain_fields() -> None:
    """Own-material fields and scatter are plain finite numbers; the whole thing goes to JSON."""
    result = sheet.update(book=BOOK, thickness=THICKNESS, tests=[weighing(150.0), tone(4e9)])
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
    """Strength goes with the root of density times modulus, its spread never below the book's."""
    result = sheet.update(book=BOOK, thickness=THICKNESS, tests=[weighing(150.0), tone(4.4e9)])
    scale = math.sqrt(
        result.density.value / BOOK.density * result.modulus_along.value / BOOK.modulus_along
    )
    assert result.strength_along.value == pytest.approx(BOOK.strength_along * scale)
    assert result.strength_along.cov > BOOK.strength_cov[0]


@pytest.mark.parametrize(("ratio", "likely"), [(0.046, "C"), (0.06, "C"), (0.013, "A")])
def test_cut_is_judged_from_the_ratio(ratio: float, likely: str) -> None:
    """Quarter-sawn is told clearly; flat-sawn is likely but never sure against B."""
    cut = sheet.judge_cut(ratio=ratio, log_error=0.08)
    assert cut.likely == likely
    total = cut.probability_a + cut.probability_b + cut.probability_c
    assert total == pytest.approx(1.0)
    assert cut.sure is (likely == "C")
    assert ("by eye" in cut.note) is (likely != "C")


def test_cut_is_judged_in_update_only_when_both_ways_were_tested() -> None:
    """Both directions tested: a cut; one direction: none."""
    across = cantilever(0.046 * 4e9, direction="across", length=0.1)
    tests: list[bench.Test] = [weighing(160.0), tone(4e9), across]
    full = sheet.update(book=BOOK, thickness=THICKNESS, tests=tests, judge_balsa=True)
    assert full.cut is not None
    assert full.cut.likely == "C"
    part = sheet.update(book=BOOK, thickness=THICKNESS, tests=tests[:2], judge_balsa=True)
    assert part.cut is None


@pytest.mark.parametrize("freedom", [1, 2, 3, 4, 7, 10])
def test_chi_square_tail_equals_scipy(freedom: int) -> None:
    """The finite sums equal scipy's survival function."""
    for value in (0.0, 0.1, 1.0, 5.0, 30.0):
        assert sheet.chi_square_tail(value=value, freedom=freedom) == pytest.approx(
            stats.chi2.sf(value, freedom), rel=1e-10
        )


def test_thickness_error_keeps_the_gauge() -> None:
    """Many readings average the scatter away but never the gauge's own error."""
    many = bench.thickness_reading(readings=[2.4e-3, 2.5e-3] * 200, error=3e-5)
    assert many.value == pytest.approx(2.45e-3)
    assert many.error == pytest.approx(3e-5, rel=0.01)
    one = bench.thickness_reading(readings=[2.4e-3], error=3e-5)
    assert one.error == pytest.approx(3e-5 * math.sqrt(2.0))


def test_weighed_density_combines_relative_errors() -> None:
    """Density and its error by hand for one sheet."""
    density = bench.weighed_density(
        mass=Reading(0.02, 2e-4),
        length=Reading(1.0, 0.01),
        width=Reading(0.1, 2e-3),
        thickness=Reading(2e-3, 4e-5),
    )
    assert density.value == pytest.approx(100.0)
    assert density.error == pytest.approx(100.0 * math.sqrt(1e-4 + 1e-4 + 4e-4 + 4e-4))


def test_far_too_much_sag_or_load_is_outside_the_model() -> None:
    """A strip hanging down, a span bent by a tenth and a plate folded are refused."""
    with pytest.raises(ValidityError):
        bench.Cantilever("along", Reading(0.3), Reading(0.02), Reading(0.28, 1e-3))
    with pytest.raises(ValidityError):
        bench.Flex("along", Reading(0.1), Reading(0.02), Reading(0.1), Reading(0.02, 1e-4))
    with pytest.raises(ValidityError):
        bench.PlateTwist(Reading(0.1), Reading(0.1), Reading(0.1), Reading(0.02, 1e-4))
    with pytest.raises(ValidityError):
        bench.StripTwist(Reading(0.1), Reading(0.05), Reading(0.01), Reading(1.0, 0.01))


def test_strained_formulas_are_cautioned() -> None:
    """A stubby strip and a deeply twisted plate are answered with a caution."""
    stubby = cantilever(8e7, direction="across", length=0.04, load=0.005)
    deep = bench.PlateTwist(Reading(0.15), Reading(0.075), Reading(0.03), Reading(6e-3, 1e-4))
    result = sheet.update(book=BOOK, thickness=THICKNESS, tests=[stubby, deep])
    assert "shorter than 20 thicknesses" in result.note
    assert "two thicknesses" in result.note


def test_bad_readings_are_named() -> None:
    """Zero lengths, missing errors and unknown directions raise InputError."""
    good = {"length": Reading(0.3, 1e-3), "width": Reading(0.02), "sag": Reading(0.02, 5e-4)}
    with pytest.raises(InputError, match="length"):
        bench.Cantilever("along", **{**good, "length": Reading(0.0)})
    with pytest.raises(InputError, match="cantilever"):
        bench.Cantilever("along", **{**good, "sag": Reading(0.02)})
    with pytest.raises(InputError, match="direction"):
        bench.Cantilever("diagonal", **good)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="error"):
        Reading(1.0, -1.0)
    with pytest.raises(InputError, match="density"):
        dataclasses.replace(BOOK, density=0.0)
    with pytest.raises(InputError, match="thickness"):
        bench.thickness_reading(readings=[], error=1e-5)
    with pytest.raises(InputError, match="mode"):
        bench.strip_tone(modulus=1e9, density=100.0, thickness=1e-3, length=0.1, mode=4)
