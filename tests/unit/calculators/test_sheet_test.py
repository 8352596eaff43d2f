"""The sheet test from typed texts: values recovered, messages, and what it hands on."""

from __future__ import annotations

import json
import math
from typing import Any
from urllib.parse import parse_qsl

import numpy as np
import pytest

from calc import calculators, materials, units
from calc.calculators import sheet_test
from calc.calculators.lists import lengths
from calc.errors import InputError
from calc.frontends import browser
from calc.report import Report, Table
from calc.sheet_test import mechanics

EMPTY = {"sag_along": "", "tone_along": "", "sag_across": "", "tone_across": "", "flex": "",
         "twist": "", "sheet_mass": ""}  # fmt: skip


def run(**texts: str) -> Report:
    """Answer for the example with other texts here and there."""
    return calculators.run("sheet-test", {**sheet_test.EXAMPLE, **texts})


def table(report: Report, title: str) -> Table:
    """Return a table by title."""
    return next(t for t in report.tables if t.title == title)


def bench_texts(
    *, along: float, across: float, shear: float, density: float, thickness: float,
    rng: np.random.Generator,
) -> dict[str, str]:  # fmt: skip
    """Read every instrument once, each with its stated error, as typed texts."""

    def off(value: Any, error: float) -> float:
        return float(value) + error * float(rng.standard_normal())

    def sag(modulus: float, length: float, load: float) -> Any:
        return mechanics.cantilever_sag(
            modulus=modulus,
            thickness=thickness,
            width=0.025,
            length=length,
            density=density,
            tip_load=load,
        )

    tone = mechanics.strip_tone(
        modulus=along * np.exp(0.02 * rng.standard_normal()),
        density=density,
        thickness=thickness,
        length=0.25,
        width=0.025,
        air_density=off(1.2, 0.24),
    )
    twist = mechanics.plate_twist(
        shear_modulus=shear * np.exp(0.05 * rng.standard_normal()),
        thickness=thickness,
        side_along=0.076,
        side_across=0.076,
        load=0.02,
    )
    method = np.exp(0.03 * rng.standard_normal(2))
    # The gauge's zero is off by one amount for all readings; the ruler by another each time.
    zero = 2e-5 * float(rng.standard_normal())
    readings = [thickness + zero + off(0.0, 1e-5) for _ in range(5)]
    ruled = {
        name: f"{1e3 * off(length, 5e-4):.2f} mm"
        for name, length in {
            "sheet_length": 0.9144, "sheet_width": 0.0762, "strip_along": 0.025,
            "strip_across": 0.025, "sag_length_along": 0.25, "sag_length_across": 0.06,
            "tone_length_along": 0.25, "twist_along": 0.076, "twist_across": 0.076,
        }.items()
    }  # fmt: skip
    return {
        **ruled,
        "thickness": " ".join(f"{1e3 * t:.3f}" for t in readings) + " mm",
        "sheet_mass": f"{1e3 * off(density * 0.9144 * 0.0762 * thickness, 1e-4):.2f} g",
        "sag_load_along": f"{1e3 * off(0.02, 1e-4):.2f} g",
        "sag_load_across": f"{1e3 * off(0.02, 1e-4):.2f} g",
        "twist_load": f"{1e3 * off(0.02, 1e-4):.2f} g",
        "sag_along": f"{1e3 * off(sag(along * method[0], 0.25, 0.02), 3e-4):.2f} mm",
        "sag_across": f"{1e3 * off(sag(across * method[1], 0.06, 0.02), 3e-4):.2f} mm",
        "tone_along": f"{float(tone) * (1 + 0.01 * rng.standard_normal()):.1f} Hz",
        "twist": f"{1e3 * off(twist, 1e-4):.2f} mm",
    }


def test_simulated_bench_recovers_the_truth_at_the_stated_rate() -> None:
    """Of 60 balsa sheets read with the stated errors, the 10 to 90 % range holds 4 in 5.

    With 60 draws at 80 % the binomial spread is 5 %: 65 % to 95 % are three of them.
    """
    rng = np.random.default_rng(5)
    held = {"modulus_along": 0, "modulus_across": 0, "shear_modulus": 0, "density": 0}
    for _ in range(60):
        density = 160.0 * np.exp(0.25 * rng.standard_normal())
        truth = {
            "density": density,
            "modulus_along": 3.3e9 * density / 160 * np.exp(0.2 * rng.standard_normal()),
            "modulus_across": 0.08e9 * density / 160 * np.exp(0.3 * rng.standard_normal()),
            "shear_modulus": 0.14e9 * density / 160 * np.exp(0.2 * rng.standard_normal()),
        }
        texts = bench_texts(
            along=truth["modulus_along"],
            across=truth["modulus_across"],
            shear=truth["shear_modulus"],
            density=density,
            thickness=2.4e-3 * np.exp(0.02 * rng.standard_normal()),
            rng=rng,
        )
        report = run(**texts)
        for name in held:
            found = report.answer(name)
            assert found.low is not None
            assert found.high is not None
            held[name] += found.low <= truth[name] <= found.high
    for name, count in held.items():
        assert 39 <= count <= 58, (name, count)


def test_weighing_by_hand() -> None:
    """24 g from 914.4 by 76.2 by 2.4 mm is 143.5 kg/m3, mass over volume."""
    report = run(**{**EMPTY, "sheet_mass": "24 g", "thickness": "2.4 2.4 2.4 mm"})
    assert report.answer("density").value == pytest.approx(143.5, rel=0.01)
    assert "not tested" in report.answer("modulus_across").note


def test_nothing_tested_gives_the_book() -> None:
    """Without a reading the answer is the book's, and says so."""
    report = run(**EMPTY)
    assert report.summary.startswith("Nothing was tested yet. The book's values: ")
    book = materials.load("balsa").values["density"]
    assert units.show(book.value, "density", "lb/ft3") in report.summary
    # without a reading there is nothing to hold against the book
    assert [t.title for t in report.tables] == [sheet_test.KEEP_TITLE]
    assert next(t.title for t in run().tables) == "The book against this sheet"


def test_the_form_starts_empty_and_asks_for_one_reading_first() -> None:
    """Without readings the book answers; each reading names the one that is worth most next."""
    fresh = calculators.run("sheet-test", {})
    assert "Nothing was tested yet" in fresh.summary
    first, example = fresh.changes
    assert first.label == "Weigh the sheet"
    assert dict(example.inputs) == sheet_test.EXAMPLE
    weighed = calculators.run("sheet-test", {"sheet_mass": "23.2 g"})
    assert weighed.answer("density").note == "book and tests joined"
    steps = [weighed]
    texts = {"sheet_mass": "23.2 g"}
    for name in ("tone_along", "sag_across", "twist"):
        texts[name] = sheet_test.EXAMPLE[name]
        steps.append(calculators.run("sheet-test", texts))
    labels = [report.changes[0].label if report.changes else "" for report in steps]
    assert ["tap" in labels[0], "across" in labels[1], "twist" in labels[2]] == [True] * 3
    assert labels[3] == ""
    ranges = [r.answer("modulus_along").high / r.answer("modulus_along").low
              for r in (fresh, *steps[:2])]  # fmt: skip
    assert ranges[0] > ranges[1] > ranges[2]


def test_disagreeing_tests_are_named() -> None:
    """A flex half as deep as it should be is named and the spread grows."""
    calm, torn = run(), run(flex="0.3 mm")
    assert "agree" in calm.summary
    assert "do not agree, furthest out: three-point flex, along" in torn.summary
    rows = {row[0]: row for row in table(torn, "Do the readings agree?").rows}
    assert rows["Tests along the grain"][1].startswith("do not agree")

    def width(report: Report) -> float:
        found = report.answer("modulus_along")
        assert found.low is not None
        assert found.high is not None
        return found.high / found.low

    assert width(torn) > 1.5 * width(calm)


@pytest.mark.parametrize(("sag", "cut"), [("6.5 mm", "b"), ("2.6 mm", "c")])
def test_cut_is_judged_from_both_directions(sag: str, cut: str) -> None:
    """A strip across that sags little for its length is C grain; chances add up to one."""
    report = run(sag_across=sag)
    chances = {letter: report.answer(f"cut_{letter}").value for letter in "abc"}
    assert sum(chances.values()) == pytest.approx(1.0)
    assert max(chances, key=lambda letter: chances[letter]) == cut


def test_the_sheet_is_carried_to_the_fin_check() -> None:
    """The table's link fills the fin check with the tested sheet, and it answers."""
    report = run()
    carried = table(report, sheet_test.KEEP_TITLE)
    slug, query = carried.links[0].split("?")
    assert slug.endswith("check/fin-check/")
    texts = dict(parse_qsl(query))
    assert texts["material"] == "own"
    values, errors = calculators.load("fin-check").read(texts)
    assert not errors
    for name in ("modulus_along", "modulus_across", "shear_modulus"):
        assert values[name] == pytest.approx(report.answer(name).value, rel=1e-3)
    assert values["own_density"] == pytest.approx(report.answer("density").value, rel=1e-3)
    assert values["thickness"] == pytest.approx(report.answer("mean_thickness").value, rel=1e-3)
    # what a reader can type instead is the same sheet, in the page's units
    kinds = {"poisson": "number", "own_density": "density"}
    for (_, name, label, _, _), row in zip(sheet_test.FIELDS, carried.rows[1:], strict=False):
        assert row[0] == label
        said = units.parse(row[1], kinds.get(name, "pressure"))
        assert said == pytest.approx(values[name], rel=1e-3)
    assert carried.rows[-1][1] == texts["spread"]
    found = report.answer("modulus_along")
    assert found.low is not None
    # a lognormal's 10 % point lies 1.2816 standard deviations below its middle
    share = math.log(found.value / found.low) / 1.2815515655446004
    assert values["spread"][0] == pytest.approx(share, rel=0.01)
    page = json.loads(browser.answer("sheet-test", "{}"))
    assert page["fragments"]["result"].count("check/fin-check/?material=own") == 1
    titles = [t["title"] for t in page["json"]["tables"]]
    assert sheet_test.KEEP_TITLE in titles


def carried_to_fin_check(report: Report) -> dict[str, str]:
    """Return the texts that fill the fin check with a tested sheet."""
    return dict(parse_qsl(table(report, sheet_test.KEEP_TITLE).links[0].split("?")[1]))


def fin_check_range(texts: dict[str, str], mode: str) -> float:
    """Return the 90 % over the 10 % point of a margin of the fin check."""
    report = calculators.run("fin-check", texts)
    found = next(item for item in report.modes if item.name == mode)
    assert found.low is not None
    assert found.high is not None
    return found.high / found.low


def test_a_tested_sheet_narrows_the_verdict() -> None:
    """The flutter range of a tested sheet is narrower than that of the same one from the book."""
    tested = carried_to_fin_check(run(sag_across="6.5 mm"))
    book = carried_to_fin_check(run(**EMPTY))
    assert fin_check_range(tested, "flutter") < 0.85 * fin_check_range(book, "flutter")
    untold = {name: text for name, text in book.items() if name != "spread"}
    assert fin_check_range(untold, "flutter") != fin_check_range(book, "flutter")


def test_better_readings_narrow_it_more() -> None:
    """A coarser thickness gauge leaves more scatter in the sheet, so a wider range of the fin."""
    fine = carried_to_fin_check(run(sag_across="6.5 mm", gauge_error="0.01 mm"))
    coarse = carried_to_fin_check(run(sag_across="6.5 mm", gauge_error="0.2 mm"))
    assert fin_check_range(fine, "flutter") < fin_check_range(coarse, "flutter")


def test_a_sheet_kept_before_still_means_the_same() -> None:
    """Values without their spread take the usual one, and the middle of the answer is the same."""
    texts = carried_to_fin_check(run())
    without = {name: text for name, text in texts.items() if name != "spread"}
    old, new = (calculators.run("fin-check", item) for item in (without, texts))
    usual = calculators.run("fin-check", {**without, "spread": "10 15 15 5 15 %"})
    assert [m.margin for m in old.modes] == [m.margin for m in new.modes]
    assert [(m.low, m.high) for m in old.modes] == [(m.low, m.high) for m in usual.modes]


@pytest.mark.parametrize("text", ["5 %", "5 12 10 1.5 16", "5 12 10 1.5 sure %", "0 12 10 2 16 %"])
def test_a_bad_spread_is_told_beside_its_field(text: str) -> None:
    """Four or six numbers, no % sign, words and zero are refused by name."""
    answer = json.loads(
        browser.answer("fin-check", json.dumps({"material": "own", "spread": text}))
    )
    assert list(answer["errors"]) == ["spread"]


@pytest.mark.parametrize(
    "material", ["birch-plywood", "basswood", "glass-epoxy", "styrene", "card"]
)
def test_other_materials_start_from_their_book(material: str) -> None:
    """Untested, the moduli are those of the material's stack as it bends."""
    from calc import materials
    from calc.structure import laminate

    report = run(**{**EMPTY, "material": material, "thickness": "1.6 mm"})
    stack = materials.load(material).layup(thickness=1.6e-3)
    found = laminate.flexural_constants(stack)
    assert report.answer("modulus_along").value == pytest.approx(float(found.modulus_x), rel=1e-6)
    assert report.answer("modulus_across").value == pytest.approx(float(found.modulus_y), rel=1e-6)


@pytest.mark.parametrize(
    ("texts", "field"),
    [
        ({"thickness": "thin"}, "thickness"),
        ({"thickness": "2.4 2.4"}, "thickness"),
        ({"thickness": "2.4 9 mm"}, "thickness"),
        ({"thickness": "2.4 mm, or so"}, "thickness"),
        ({"sag_length_along": ""}, "sag_length_along"),
        ({"flex": "1 mm", "flex_span": ""}, "flex_span"),
        ({"sag_along": "0.3 mm"}, "sag_along"),
        (
            {"thickness": "6.0 6.1 6.0 6.1 mm", "sag_length_along": "20 mm", "sag_along": "2 mm"},
            "sag_length_along",
        ),
        ({"sag_along": "240 mm"}, "sag_along"),
        ({"flex": "60 mm"}, "flex"),
        ({"gauge_error": "2 mm"}, "gauge_error"),
    ],
)
def test_slips_are_told_beside_their_field(texts: dict[str, str], field: str) -> None:
    """A missing length, an unlikely reading or a text without a unit names its own field."""
    answer = json.loads(browser.answer("sheet-test", json.dumps({**sheet_test.EXAMPLE, **texts})))
    assert list(answer["errors"]) == [field]


def test_a_short_strip_will_do() -> None:
    """A strip twenty thicknesses long is long enough to be bent."""
    texts = {**sheet_test.EXAMPLE, "sag_length_along": "46 mm", "sag_along": "2 mm"}
    assert json.loads(browser.answer("sheet-test", json.dumps(texts)))["errors"] == {}


@pytest.mark.parametrize(
    ("text", "millimetres"),
    [
        ("2.40 2.38 2.41 mm", [2.40, 2.38, 2.41]),
        ("2.40mm;2.38mm", [2.40, 2.38]),
        ("3/32 in 0.095in", [2.38125, 2.413]),
        ("0.1 in 2.5 mm", [2.54, 2.5]),
        ("2,4 2,5 mm", [2.4, 2.5]),
    ],
)
def test_several_readings_in_one_field(text: str, millimetres: list[float]) -> None:
    """Spaces or semicolons between; any unit, which may stand once at the end."""
    assert [1e3 * value for value in lengths(text)] == pytest.approx(millimetres)


def test_readings_that_are_none_are_refused() -> None:
    """Words between the numbers are not skipped."""
    with pytest.raises(InputError, match="thickness"):
        lengths("2.4 about 2.5 mm")


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize(
    "texts",
    [
        {"strip_along": "0.69 m"},
        {"strip_along": "2 m", "tone_along": "3200 Hz", "sag_along": ""},
        {"strip_along": "330 mm", "material": "polycarbonate", "support_across": "clamped"},
    ],
)
def test_readings_that_contradict_each_other_give_finite_numbers(texts: dict[str, str]) -> None:
    """A mistyped strip length leaves finite numbers, no warning and a word on the disagreement."""
    report = run(**texts)
    for answer in report.answers:
        assert math.isfinite(answer.value)
        assert answer.low is None or answer.high is None or answer.low <= answer.high < math.inf
    assert "do not agree" in report.summary


def test_tone_from_samples() -> None:
    """The page's samples of a decaying 188 Hz tone come back as that frequency."""
    rate = 22050
    time = np.arange(int(1.2 * rate)) / rate - 0.15
    sound = np.where(time > 0, np.exp(-np.maximum(time, 0) / 0.2), 0) * np.sin(
        2 * np.pi * 188.0 * time
    ) + 0.01 * np.random.default_rng(1).standard_normal(time.size)
    samples = json.dumps(np.round(20000 * sound).astype(int).tolist())
    found = json.loads(browser.tone(samples, rate, "free"))
    assert found["frequency"] == pytest.approx(188.0, rel=0.005)
    silent = json.loads(browser.tone(json.dumps([0] * rate), rate))
    assert "silent" in silent["error"]
