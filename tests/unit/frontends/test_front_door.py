"""One way from texts to an answer: every front end gives the same numbers and the same errors."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from html import unescape
from typing import Any

import pytest
from markdown import markdown

from calc import __version__, calculators
from calc.errors import InputError, ValidityError
from calc.frontends import browser
from calc.frontends.terminal import batch, cli
from calc.render import html
from calc.report import as_json
from scripts.handbook import extension

GOOD: list[tuple[str, dict[str, str]]] = [
    ("fin-check", {}),
    ("fin-check", {"root": "60mm", "thickness": "1/16 in", "units": "METRIC", "grain": "-30"}),
    ("fin-check", {"flight": "speed", "thrust": "left in a hidden field"}),
    ("ply-layup", {"layup": "0/90/0"}),
    ("speed", {"mass": "123 g"}),
    ("moisture", {}),
]
BAD: list[tuple[str, dict[str, str], set[str]]] = [
    ("fin-check", {"span": "wide"}, {"span"}),
    ("fin-check", {"span": "wide", "root": "-3 in", "material": "cheese"},
     {"span", "root", "material"}),
    ("speed", {"mass": ""}, {"mass"}),
    ("ply-layup", {"layup": "0/90/x"}, {"layup"}),
]  # fmt: skip


def page_block(slug: str, texts: Mapping[str, str]) -> str:
    """Return a page with one calculator, as the build writes it."""
    rows = "".join(f"{name} = {text}\n" for name, text in texts.items())
    return markdown(f"```calculator {slug}\n{rows}```\n", extensions=[extension.Handbook()])


def numbers(report_json: Mapping[str, Any]) -> dict[str, float]:
    """Return the answers of a JSON by the name that a table's column has."""
    return {f"{n} [{a['unit']}]": a["value"] for n, a in report_json["answers"].items()}


@dataclass
class Refusal:
    """What each front end said of a question that cannot be answered."""

    page: str
    terminal: list[str]
    batch: str
    browser: dict[str, str]
    outcome: calculators.Outcome


def refusals(slug: str, texts: dict[str, str], capsys: pytest.CaptureFixture) -> Refusal:
    """Ask every front end and return what they refused with."""
    with pytest.raises(extension.PageError) as fault:
        page_block(slug, texts)
    pairs = [f"{name}={text}" for name, text in texts.items()]
    assert cli.main([slug, *pairs]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    row = batch.answer_row(batch.Row(slug, tuple(sorted(texts.items()))))
    said = json.loads(browser.answer(slug, json.dumps(texts)))
    assert said["json"] is None
    assert said["fragments"] == {}
    outcome = calculators.ask(slug, texts)
    assert outcome.report is None
    return Refusal(str(fault.value), err.splitlines(), row["error"], said["errors"], outcome)


@pytest.mark.parametrize(("slug", "texts"), GOOD)
def test_good_questions_are_answered_alike(
    slug: str,
    texts: dict[str, str],
    capsys: pytest.CaptureFixture,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Terminal and browser write the same JSON; batch and page build have the same numbers."""
    built = []
    block = html.block
    monkeypatch.setattr(html, "block", lambda *parts: built.append(parts) or block(*parts))
    assert page_block(slug, texts)
    ((_, _, values, report),) = built
    assert cli.main([slug, *(f"{name}={text}" for name, text in texts.items()), "--json"]) == 0
    typed = json.loads(capsys.readouterr().out)
    said = json.loads(browser.answer(slug, json.dumps(texts)))
    assert said["errors"] == {}
    assert said["json"] == typed
    assert json.loads(json.dumps(as_json(report, values, version=__version__))) == typed
    row = batch.answer_row(batch.Row(slug, tuple(sorted(texts.items()))))
    assert "error" not in row
    assert {name: float(row[name]) for name in numbers(typed)} == numbers(typed)
    assert row.get("query", "") == said["query"]


@pytest.mark.parametrize(("slug", "texts", "fields"), BAD)
def test_bad_questions_are_refused_alike(
    slug: str, texts: dict[str, str], fields: set[str], capsys: pytest.CaptureFixture
) -> None:
    """Every front end names every bad input with what it accepts, the browser under its field."""
    found = refusals(slug, texts, capsys)
    assert set(found.browser) == set(found.outcome.errors) == fields
    sentences = [str(problem) for problem in found.outcome.errors.values()]
    assert found.terminal == sentences
    assert found.batch == "; ".join(sentences)
    assert found.page == f"page: {'; '.join(sentences)}"
    for name, problem in found.outcome.errors.items():
        assert isinstance(problem, InputError)
        assert found.browser[name] == f"Error: give {problem.accepts}."
    assert found.outcome.texts == {**found.outcome.calculator.defaults(), **texts}


@pytest.mark.parametrize(
    ("problem", "field"),
    [
        (InputError("span", "3 in", "a span above the root's"), "span"),
        (InputError("thrust", "0 N", "more thrust than weight"), ""),
        (InputError("rivets", "3", "no rivets"), ""),
        (ValidityError("This lies outside the model."), ""),
    ],
)
def test_refused_answers_stand_under_one_field(
    problem: InputError | ValidityError,
    field: str,
    capsys: pytest.CaptureFixture,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A model's refusal stands under the field it names, or under "" if that is not shown."""

    def refuse(**_: object) -> None:
        raise problem

    refusing = replace(calculators.load("fin-check"), answer=refuse)
    monkeypatch.setattr(calculators, "load", lambda slug: refusing)
    found = refusals("fin-check", {}, capsys)
    assert list(found.browser) == list(found.outcome.errors) == [field]
    assert found.terminal == [str(problem)]
    assert found.batch == str(problem)
    assert found.page == f"page: {problem}"
    shown = f"Error: give {problem.accepts}." if field else str(problem)  # type: ignore[union-attr]
    assert found.browser == {field: shown}


def test_unknown_input_is_an_error_without_a_field(capsys: pytest.CaptureFixture) -> None:
    """A misspelt input is refused; a page passes over it, for it comes from an old link.

    A table for several calculators has columns that one of them does not know: it names them.
    """
    texts = {"wings": "3", "root": "2 in"}
    outcome = calculators.ask("fin-check", texts)
    assert list(outcome.errors) == [""]
    assert outcome.texts["root"] == "2 in"
    assert cli.main(["fin-check", "wings=3"]) == 2
    assert "wings: '3' cannot be used" in capsys.readouterr().err
    with pytest.raises(extension.PageError, match="wings"):
        page_block("fin-check", texts)
    assert batch.answer_row(batch.Row("fin-check", (("wings", "3"),)))["not_used"] == "wings"
    assert json.loads(browser.answer("fin-check", json.dumps(texts)))["errors"] == {}


def test_run_raises_what_ask_returns() -> None:
    """A caller that expects an answer hears the first error in the order of the form."""
    with pytest.raises(InputError, match="tip: 'broad'"):
        calculators.run("fin-check", {"span": "wide", "tip": "broad"})


@pytest.mark.parametrize(
    ("texts", "field"),
    [
        ({"root": "wide"}, "root"),
        ({"shape": "points", "points": "0,0 3,2 3,0 0,2 in"}, "points"),
    ],
)
def test_files_are_refused_as_answers_are(
    texts: dict[str, str], field: str, capsys: pytest.CaptureFixture
) -> None:
    """A file that cannot be made has the errors of its answer, in terminal and browser."""
    answered = calculators.ask("cutting-plan", texts)
    made = calculators.make("cutting-plan", texts, "svg")
    assert made.content is None
    assert {n: str(p) for n, p in made.errors.items()} == {
        n: str(p) for n, p in answered.errors.items()
    }
    assert list(made.errors) == [field]
    said = json.loads(browser.download("cutting-plan", json.dumps(texts), "svg"))
    assert list(said["errors"]) == list(made.errors)
    pairs = [f"{name}={text}" for name, text in texts.items()]
    assert cli.main(["cutting-plan", *pairs, "--file", "svg"]) == 2
    assert capsys.readouterr().err.splitlines() == [str(p) for p in made.errors.values()]


def test_early_verdict_is_the_final_one() -> None:
    """The verdict that comes first has the full form's values and stays as it is."""
    early: list[calculators.Outcome] = []
    outcome = calculators.ask("fin-check", {"root": "3.2 in"}, early=early.append)
    (first,) = early
    assert outcome.report is not None
    assert first.report is not None
    assert first.report.verdict == outcome.report.verdict
    assert first.values == outcome.values


def test_page_shows_the_summary_of_the_answer() -> None:
    """The built block holds the verdict of the same question asked alone."""
    report = calculators.run("fin-check", {"root": "2 in"})
    assert report.verdict is not None
    shown = unescape(re.sub(r"<[^>]+>", "", page_block("fin-check", {"root": "2 in"})))
    assert f"{report.verdict.margin:.2f}" in shown
