"""The calculators: each declared once, read by the build, the browser, the tests and the docs.

A calculator is a question, a list of declared inputs and a function from SI values to a
`Report`. `ask` takes a question from the texts to its answer, or to the errors beside its fields.
Modules are imported on first use, so that a page loads only what it asks.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from calc.errors import InputError, ValidityError
from calc.forms import Calculator, Progress
from calc.report import Report, guarded

SLUGS: tuple[str, ...] = (
    "fin-check",
    "material-finder",
    "grain-angle",
    "ply-layup",
    "faced-core",
    "sheet-test",
    "moisture",
    "speed",
    "weight-effect",
    "root-joint",
    "break-a-joint",
    "landing",
    "cutting-plan",
    "finish",
    "ring",
    "field-card",
    "substitute",
    "repair",
    "rocket",
    "compare",
)
"""Every calculator there is, in the order of the handbook."""


def load(slug: str) -> Calculator:
    """Return a calculator by slug.

    Raises
    ------
    InputError
        For a slug there is not.
    """
    if slug not in SLUGS:
        raise InputError("calculator", slug, f"one of: {', '.join(SLUGS)}")
    module = importlib.import_module(f"calc.calculators.{slug.replace('-', '_')}")
    calculator: Calculator = module.CALCULATOR
    return calculator


@dataclass(frozen=True)
class Outcome:
    """The result of one question: a report, or the errors that prevent it."""

    calculator: Calculator
    texts: Mapping[str, str]
    """The full form: the given texts over the defaults, older input names translated."""
    values: Mapping[str, Any]
    """SI values of the good inputs; None for an input that does not apply."""
    errors: Mapping[str, InputError | ValidityError]
    """Errors by the name of the field that shows them, "" where no field does."""
    report: Report | None = None
    """The answer; None where there are errors."""
    content: str | bytes | None = None
    """Content of the file that `make` returns."""

    def refused(self, problem: InputError | ValidityError) -> Outcome:
        """Return this outcome with an error instead of an answer.

        The error goes under the field that it names, or under "" where no field shows it.
        """
        shown = {item.name for item in self.calculator.all_inputs if item.applies(self.values)}
        name = problem.name if isinstance(problem, InputError) else ""
        return replace(
            self,
            errors={name if name in shown else "": problem},
            report=None,
            content=None,
        )


def ask(
    slug: str,
    texts: Mapping[str, str],
    *,
    progress: Progress | None = None,
    early: Callable[[Outcome], Any] | None = None,
) -> Outcome:
    """Return the answer to one question, or its errors by field.

    Every front end (page build, browser, terminal and batch) comes through here, so that all of
    them answer alike and refuse alike.

    Parameters
    ----------
    slug
        Which calculator.
    texts
        Inputs as typed, by name; the calculator's defaults elsewhere.
    progress
        Called with (done, total, note) by a calculator that takes long.
    early
        Called with an outcome that has only the verdict, its numbers and margins, by a calculator
        that knows them before the rest.

    Raises
    ------
    InputError
        For a calculator there is not. Every other error is part of the outcome.
    """
    outcome = _read(slug, texts)
    if outcome.errors:
        return outcome
    calculator = outcome.calculator
    typed = [text for text in outcome.values.values() if isinstance(text, str)]

    def first(report: Report) -> None:
        if early is not None:
            early(replace(outcome, report=guarded(report, typed=typed)))

    options: dict[str, Any] = {}
    if calculator.slow:
        options["progress"] = progress
    if calculator.early:
        options["early"] = early and first
    try:
        report = guarded(calculator.answer(**options, **outcome.values), typed=typed)
    except (InputError, ValidityError) as problem:
        return outcome.refused(problem)
    return replace(outcome, report=report)


def make(slug: str, texts: Mapping[str, str], kind: str) -> Outcome:
    """Return the outcome with the content of a file that a calculator offers, or with errors.

    Parameters
    ----------
    slug, texts
        As for `ask`.
    kind
        The `make` of one of the calculator's `files`.

    Raises
    ------
    InputError
        For a calculator there is not.
    """
    outcome = _read(slug, texts)
    if outcome.errors:
        return outcome
    try:
        outcome.calculator.offered(kind)
        content = outcome.calculator.make(kind, outcome.values)
    except (InputError, ValidityError) as problem:
        return outcome.refused(problem)
    return replace(outcome, content=content)


def run(slug: str, texts: Mapping[str, str]) -> Report:
    """Return the report of one question, for callers that expect an answer.

    Raises
    ------
    InputError, ValidityError
        The first error of the outcome.
    """
    outcome = ask(slug, texts)
    if outcome.report is None:
        raise next(iter(outcome.errors.values()))
    return outcome.report


def _read(slug: str, texts: Mapping[str, str]) -> Outcome:
    """Return an outcome with the full form read: its values and errors, no answer yet.

    A broken paste, or bytes of another encoding, may hold one surrogate of a pair, which no
    encoding takes: it is replaced.
    """
    calculator = load(slug)
    texts = {
        name: text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")
        for name, text in texts.items()
    }
    try:
        full = calculator.complete(texts)
    except InputError as problem:
        known = {name: text for name, text in texts.items() if name in calculator.known_names}
        return Outcome(calculator, calculator.complete(known), {}, {"": problem})
    values, errors = calculator.read(full)
    return Outcome(calculator, full, values, errors)
