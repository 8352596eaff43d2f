"""The calculators: each declared once, read by the build, the browser, the tests and the docs.

A calculator is a question, a list of declared inputs and a function from SI values to a
`Report`. Modules are imported on first use, so that a page loads only what it asks.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import quote_plus, urlencode

from calc import materials, units
from calc.errors import InputError
from calc.report import Report

Progress = Callable[[int, int, str], None]
"""Told (done, total, note) by runs that take long."""

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
    "landing",
    "cutting-plan",
    "finish",
    "ring",
    "field-card",
)
"""Every calculator there is, in the order of the handbook."""

NUMERIC = frozenset(units.KINDS)


@dataclass(frozen=True)
class Choice:
    """One value of a choice input."""

    value: str
    label: str
    group: str = ""


@dataclass(frozen=True)
class Input:
    """A declared input: what it is called, what it accepts, what it starts with."""

    name: str
    label: str
    kind: str
    """A key of `units.KINDS`, or "integer", "choice", "text", "material"."""
    default: str
    """As a reader would type it, with unit; "" for an optional input left open."""
    help: str = ""
    group: str = "The fin"
    unit: str = ""
    """Unit of a bare number; the first unit offered."""
    low: float | None = None
    high: float | None = None
    choices: tuple[Choice, ...] = ()
    optional: bool = False
    own: bool = True
    """Whether a material may be one that the reader describes."""
    shown_when: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Other choice inputs and the values under which this one applies."""

    @property
    def units(self) -> tuple[str, ...]:
        """Units offered beside the field, the default one first."""
        if self.kind not in NUMERIC:
            return ()
        shown = units.KINDS[self.kind].shown
        first = self.unit or units.KINDS[self.kind].si
        return (first, *(u for u in shown if u != first))

    @property
    def allowed(self) -> tuple[str, ...]:
        """Values a choice may take; a material is any sheet on file, or the reader's own."""
        if self.kind == "material":
            return (*materials.names(), "own") if self.own else materials.names()
        return tuple(choice.value for choice in self.choices)

    @property
    def offered(self) -> tuple[Choice, ...]:
        """Choices with their labels; reads every material's file, so only for drawing a form."""
        if self.kind != "material":
            return self.choices
        found = [materials.load(name) for name in materials.names()]
        filed = tuple(Choice(m.name, m.label, m.family.capitalize()) for m in found)
        return (*filed, Choice("own", "your own values", "Your own")) if self.own else filed

    def applies(self, values: Mapping[str, Any]) -> bool:
        """Whether this input counts under the choices made, so whether its field is shown."""
        return all(values.get(name) in allowed for name, allowed in self.shown_when.items())

    def accepts(self) -> str:
        """Return what this input takes, as the end of a sentence."""
        if self.kind in ("choice", "material"):
            return f"one of: {', '.join(self.allowed)}"
        if self.kind == "text":
            return f"a text of at most {units.LONGEST} characters"
        if self.kind == "integer":
            return f"a whole number from {self.low:g} to {self.high:g}"
        example = units.KINDS[self.kind].example
        if self.low is None or self.high is None:
            return example
        unit = self.unit or units.KINDS[self.kind].si
        low = units.show(self.low, self.kind, unit)
        high = units.show(self.high, self.kind, unit)
        return f"{example}, between {low} and {high}"

    def read(self, text: str) -> Any:
        """Return the SI value of a text, or None for an optional input left empty.

        Raises
        ------
        InputError
            Naming this input and what it accepts.
        """
        text = text.strip() if len(text) <= 4 * units.LONGEST else text[: 4 * units.LONGEST]
        if not text and self.optional:
            return None
        if self.kind in ("choice", "material"):
            for choice in self.allowed:
                if text.lower() == choice.lower():
                    return choice
            raise InputError(self.name, text, self.accepts())
        if self.kind == "text":
            if len(text) > units.LONGEST:
                raise InputError(self.name, text, self.accepts())
            return text
        if self.kind == "integer":
            if not text.isascii() or not text.isdigit() or len(text) > 6:
                raise InputError(self.name, text, self.accepts())
            number = int(text)
            if (self.low is not None and number < self.low) or (
                self.high is not None and number > self.high
            ):
                raise InputError(self.name, text, self.accepts())
            return number
        try:
            value = units.parse(text, self.kind, unit=self.unit or None, name=self.name)
        except InputError as problem:
            raise InputError(self.name, text, problem.accepts) from None
        slack = 1e-9
        if (self.low is not None and value < self.low * (1 - slack) - 1e-15) or (
            self.high is not None and value > self.high * (1 + slack) + 1e-15
        ):
            raise InputError(self.name, text, self.accepts())
        return value


UNITS_INPUT = Input(
    name="units",
    label="Show lengths in",
    kind="choice",
    default="inch",
    choices=(Choice("inch", "inches"), Choice("metric", "millimetres")),
    group="Show",
)
"""Every calculator has this one: how numbers are shown, never what they are."""


@dataclass(frozen=True)
class Calculator:
    """A question the handbook computes."""

    slug: str
    title: str
    question: str
    inputs: tuple[Input, ...]
    answer: Callable[..., Report]
    """Takes the SI values by input name, the choice of units for its sentences, and an optional
    `progress` or `early`."""
    version: int = 1
    drawing: Callable[[Mapping[str, Any]], Any] | None = None
    """Figure of the inputs, drawn beside the form."""
    aliases: Mapping[str, str] = field(default_factory=dict)
    """Input names of older links, mapped to today's."""
    dropped: frozenset[str] = frozenset()
    """Input names of older links that never changed this answer: passed over."""
    slow: bool = False
    """True where an answer may take long enough to want progress and a stop."""
    early: bool = False
    """True where the verdict is known long before the rest of the answer."""

    @property
    def all_inputs(self) -> tuple[Input, ...]:
        """The declared inputs and the shared choice of units."""
        return (*self.inputs, UNITS_INPUT)

    @property
    def known_names(self) -> frozenset[str]:
        """Input names of today and of older links."""
        today = frozenset(item.name for item in self.all_inputs)
        return today | frozenset(self.aliases) | self.dropped

    def defaults(self) -> dict[str, str]:
        """Return the texts a fresh form holds."""
        return {item.name: item.default for item in self.all_inputs}

    def complete(self, texts: Mapping[str, str]) -> dict[str, str]:
        """Return the texts of a full form: given ones over the defaults, older names translated.

        Raises
        ------
        InputError
            For a name this calculator does not have.
        """
        known = self.defaults()
        for name, text in texts.items():
            current = self.aliases.get(name, name)
            if current in self.dropped:
                continue
            if current not in known:
                raise InputError(name, text, f"one of the inputs {', '.join(known)}")
            known[current] = text
        return known

    def read(self, texts: Mapping[str, str]) -> tuple[dict[str, Any], dict[str, InputError]]:
        """Return SI values and the errors by input name; values exist only for good inputs.

        An input that does not apply under the current choices is not read, so that a bad text
        left in a hidden field cannot block the answer.
        """
        full = self.complete(texts)
        values: dict[str, Any] = {}
        errors: dict[str, InputError] = {}
        for item in self.all_inputs:
            if not item.applies(values):
                values[item.name] = None
                continue
            try:
                values[item.name] = item.read(full[item.name])
            except InputError as problem:
                errors[item.name] = problem
        return values, errors

    def query(self, texts: Mapping[str, str]) -> str:
        """Return the part of an address that fills this form: what differs from the defaults."""
        full = self.complete(texts)
        changed = {
            name: " ".join(full[name].split())
            for name, default in self.defaults().items()
            if full[name].strip() != default
        }
        return urlencode(changed, quote_via=quote_plus, safe="/.,:")


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


def run(slug: str, texts: Mapping[str, str], *, progress: Progress | None = None) -> Report:
    """Answer one question from texts.

    Raises
    ------
    InputError
        The first bad input, by name.
    """
    calculator = load(slug)
    values, errors = calculator.read(texts)
    if errors:
        raise next(iter(errors.values()))
    return answer(calculator, values, progress=progress)


def answer(
    calculator: Calculator,
    values: Mapping[str, Any],
    *,
    progress: Progress | None = None,
    early: Callable[[Report], Any] | None = None,
) -> Report:
    """Answer from SI values; only slow calculators are told where to report progress.

    `early` is called with the verdict, its numbers and margins by a calculator that knows them
    before the rest.
    """
    told: dict[str, Any] = {}
    if calculator.slow:
        told["progress"] = progress
    if calculator.early:
        told["early"] = early
    return calculator.answer(**told, **values)
