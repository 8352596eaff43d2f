"""What every calculator owes its readers, whatever it computes."""

from __future__ import annotations

import csv
import io
import json
import math
import re
import tomllib
from dataclasses import replace
from html import unescape
from typing import Any

import pytest

from calc import calculators, materials
from calc.air import lifting_surface
from calc.calculators import sheet_test
from calc.errors import InputError
from calc.forms import Calculator, Input
from calc.frontends import browser
from calc.frontends.terminal.cli import main
from calc.render import html
from calc.report import Report, as_json
from calc.units import KINDS
from scripts.runtime import ROOT

BAD = ["", "words", "-3", "1e12", "nan", "3 parsecs", "x" * 300, "<script>"]


@pytest.fixture(params=calculators.SLUGS)
def calculator(request: pytest.FixtureRequest) -> Calculator:
    """Each calculator in turn."""
    return calculators.load(request.param)


def _report(calculator: Calculator) -> Report:
    return calculators.run(calculator.slug, {})


def test_defaults_answer(calculator: Calculator) -> None:
    """A fresh form answers, with a sentence, finite numbers of known kinds and known sources."""
    report = _report(calculator)
    assert report.calculator == calculator.slug
    assert report.summary.endswith(".")
    assert report.answers
    for answer in report.answers:
        assert answer.kind in KINDS
        assert math.isfinite(answer.value)
        if answer.low is not None and answer.high is not None:
            assert answer.low <= answer.value * (1 + 1e-9) or answer.bound
            assert answer.high >= answer.value * (1 - 1e-9) or answer.bound
    assert set(report.headline) <= {a.name for a in report.answers}
    known = set(materials.sources())
    assert set(report.sources) <= known
    for step in report.steps:
        assert set(step.sources) <= known


NAMES = tomllib.loads((ROOT / "tests/regression/data/names.toml").read_text(encoding="utf-8"))


def test_published_names_and_units_stay(calculator: Calculator) -> None:
    """What spreadsheets and programs read of an answer keeps its name and unit."""
    assert calculator.slug in NAMES, "add the calculator's names to names.toml"
    answers = as_json(_report(calculator), {}, version="")["answers"]
    units = {name: answer["unit"] for name, answer in answers.items()}
    assert units | NAMES[calculator.slug] == units
    assert set(units) == set(NAMES[calculator.slug]), "add the new names to names.toml"


def test_no_verdict_without_its_margin_and_caution(calculator: Calculator) -> None:
    """Where something holds or not, the margin and the caution stand beside it."""
    report = _report(calculator)
    if report.verdict is not None and report.verdict.state != "unknown":
        assert math.isfinite(report.verdict.margin)
        assert report.cautions
        assert (
            f"{report.verdict.margin:.2f}"
            in json.loads(browser.answer(calculator.slug, "{}"))["fragments"]["result"]
        )


def test_bad_inputs_are_told_beside_their_field(calculator: Calculator) -> None:
    """Each field's bad input gives a message for that field, and nothing else goes wrong."""
    usual = calculator.defaults()
    for item in calculator.all_inputs:
        context = {name: next(iter(allowed)) for name, allowed in item.shown_when.items()}
        for text in BAD:
            if item.kind == "text" and text != "x" * 300:
                continue
            if not text and item.optional:
                continue
            answer = json.loads(
                browser.answer(calculator.slug, json.dumps({**usual, **context, item.name: text}))
            )
            if text == "-3" and not answer["errors"]:
                continue
            assert item.name in answer["errors"], (item.name, text)
            assert answer["errors"][item.name].startswith("Error: give ")
            assert not answer["fragments"]


def test_query_fills_the_form_again(calculator: Calculator) -> None:
    """The query of an answer, read back, gives the same texts."""
    from urllib.parse import parse_qsl

    texts = calculator.defaults()
    changed = {i.name: i.default.replace("3 in", "3 1/8 in") for i in calculator.inputs}
    full = calculator.complete({**texts, **changed})
    again = calculator.complete(dict(parse_qsl(calculator.query(full), keep_blank_values=True)))
    assert again == full
    assert calculator.query(texts) == ""


def test_names_are_unique_and_plain(calculator: Calculator) -> None:
    """Input names are unique lower-case words, the same in links, on the command line and here."""
    names = [item.name for item in calculator.all_inputs]
    assert len(names) == len(set(names))
    assert all(name.replace("_", "").isalnum() and name == name.lower() for name in names)


def test_command_line_answers_in_si(calculator: Calculator, capsys: pytest.CaptureFixture) -> None:
    """The command line's JSON has the calculator, SI inputs, answers with units and the verdict."""
    assert main([calculator.slug, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["calculator"] == calculator.slug
    assert set(answer) >= {"inputs", "answers", "verdict", "cautions", "sources"}
    assert all({"value", "unit", "low", "high"} <= set(a) for a in answer["answers"].values())


def test_command_line_refuses_with_status_2(capsys: pytest.CaptureFixture) -> None:
    """Bad input on the command line exits with 2 and names the input and what it accepts."""
    assert main(["fin-check", "span=wide"]) == 2
    assert "span: 'wide' cannot be used; give a length such as 3/32 in" in capsys.readouterr().err
    assert main(["fin-check", "wings=3"]) == 2
    assert "wings" in capsys.readouterr().err
    assert main(["no-such"]) == 2


def test_declared_inputs_are_listed(capsys: pytest.CaptureFixture) -> None:
    """The declared inputs can be read by another program."""
    assert main(["fin-check", "--inputs", "--json"]) == 0
    listed = {row["name"]: row for row in json.loads(capsys.readouterr().out)}
    assert listed["root"]["unit"] == "m"
    assert set(listed) >= {
        "root", "tip", "span", "sweep", "thickness", "edge", "material", "grain", "count", "body",
        "speed", "altitude", "site", "temperature", "mass", "modulus_along", "poisson",
    }  # fmt: skip


def test_unknown_calculator_is_refused() -> None:
    """A slug there is not names those there are."""
    with pytest.raises(InputError, match="fin-check"):
        calculators.load("fin-wish")


def test_refusal_without_a_field_is_still_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """An error that names no visible field is shown in full above the answer."""

    def refuse(*_: object, **__: object) -> None:
        raise InputError("layup", "0/0", "a core with a face on either side")

    refusing = replace(calculators.load("fin-check"), answer=refuse)
    monkeypatch.setattr(calculators, "load", lambda slug: refusing)
    errors = json.loads(browser.answer("fin-check", "{}"))["errors"]
    assert list(errors) == [""]
    assert "layup" in errors[""]
    assert "a core with a face" in errors[""]


def test_refusal_of_a_hidden_field_is_still_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """An error that names a hidden field is shown above the answer."""

    def refuse(*_: object, **__: object) -> None:
        raise InputError("thrust", "0 N", "more thrust than the rocket weighs")

    refusing = replace(calculators.load("fin-check"), answer=refuse)
    monkeypatch.setattr(calculators, "load", lambda slug: refusing)
    hidden = json.loads(browser.answer("fin-check", "{}"))["errors"]
    shown = json.loads(browser.answer("fin-check", json.dumps({"flight": "motor"})))["errors"]
    assert list(hidden) == [""]
    assert list(shown) == ["thrust"]


def test_practice_asks_for_the_work_of_a_first_question(monkeypatch: pytest.MonkeyPatch) -> None:
    """Practising works the air of an outline out again, though an answer has just asked for it."""
    worked_out = []
    influence = lifting_surface.influence

    def counted(*given: Any, **named: Any) -> Any:
        worked_out.append(named["mach"])
        return influence(*given, **named)

    browser.answer("fin-check", "{}")
    monkeypatch.setattr(lifting_surface, "influence", counted)
    browser.answer("fin-check", "{}")
    assert not worked_out
    browser.practise("fin-check")
    assert worked_out


def test_csv_never_hands_a_formula_to_a_spreadsheet() -> None:
    """A text from a link stays a text; numbers, also negative ones, stay numbers."""
    hostile = {"rocket": '=HYPERLINK("http://x","<b>")', "date": "@SUM(1)"}
    content = json.loads(browser.answer("field-card", json.dumps(hostile)))["csv"]
    rows = {tuple(row[:2]): row for row in csv.reader(io.StringIO(content))}
    assert rows["input", "rocket"][2] == "'" + hostile["rocket"]
    assert rows["input", "date"][2] == "'" + hostile["date"]
    assert all(row[2][:1] not in set("=+@\t") for row in rows.values() if len(row) > 2)
    cold = json.loads(browser.answer("fin-check", '{"grain": "-30"}'))
    number = {row[1]: row[2] for row in csv.reader(io.StringIO(cold["csv"]))}["grain"]
    assert float(number) == cold["json"]["inputs"]["grain"] < 0
    verdict = next(row for row in csv.reader(io.StringIO(cold["csv"])) if row[0] == "verdict")
    assert float(verdict[2]) == cold["json"]["verdict"]["margin"]


def test_a_tested_sheet_is_sent_as_texts_for_other_calculators() -> None:
    """What the page keeps fills the fin check's own material without a complaint."""
    carry = json.loads(browser.answer("sheet-test", json.dumps(sheet_test.EXAMPLE)))["json"][
        "carry"
    ]
    assert carry["material"] == "own"
    kept = json.loads(browser.answer("fin-check", json.dumps(carry)))
    assert kept["errors"] == {}
    assert kept["json"]["inputs"]["material"] == "own"


def test_conditions_of_a_field_are_sent_whole() -> None:
    """A value with a space reaches the page as one value."""
    item = Input(
        "depth", "Depth", "length", "1 in", shown_when={"shape": ("flat circular", "cone")}
    )
    found = re.search(r'data-when="([^"]*)"', html.field_html("x", item, "1 in"))
    assert found
    assert json.loads(unescape(found[1])) == {"shape": ["flat circular", "cone"]}
