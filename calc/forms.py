"""What a calculator declares: its inputs, what they accept and how they are read.

The build, the browser, the terminal and the tests derive forms and messages from this.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import KW_ONLY, dataclass, field
from typing import Any
from urllib.parse import quote_plus, urlencode

from calc import materials, units
from calc.errors import InputError
from calc.report import Download, Report

Progress = Callable[[int, int, str], None]
"""Called with (done, total, note) by runs that take long."""

NUMERIC = frozenset(units.KINDS)
_BEFORE_UNIT = re.compile(r" (?=[^\d.,/+-])")


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
    _: KW_ONLY
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
    shown_when: Mapping[str, Collection[str]] = field(default_factory=dict)
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
        """Return the values of a choice; a material is any in our data, or the reader's own."""
        if self.kind == "material":
            return (*materials.names(), "own") if self.own else materials.names()
        return tuple(choice.value for choice in self.choices)

    @property
    def offered(self) -> tuple[Choice, ...]:
        """Choices with their labels; reads every material's file, so only for drawing a form."""
        if self.kind != "material":
            return self.choices
        known = [Choice(m.name, m.label, m.family.capitalize()) for m in materials.usable()]
        # offered all the same, so that whoever wrote the file is shown what is wrong with it
        known += [
            Choice(name, f"{name} (its file is broken)", "Broken") for name in materials.broken()
        ]
        own = [Choice("own", "your own values", "Your own")] if self.own else []
        return (*known, *own)

    def applies(self, values: Mapping[str, Any]) -> bool:
        """Whether this input counts under the choices made, so whether its field is shown."""
        return all(values.get(name) in allowed for name, allowed in self.shown_when.items())

    def same(self, text: str, other: str) -> bool:
        """Whether two texts say the same: "3in" is "3 in", and so is "3" where it means inches."""
        if self.kind not in NUMERIC:
            return text.strip() == other.strip()
        numbers = [
            _BEFORE_UNIT.sub("", " ".join(each.split())).removesuffix(self.unit)
            for each in (text, other)
        ]
        return numbers[0] == numbers[1]

    def accepts(self) -> str:
        """Return what this input takes, as the end of a sentence."""
        return _READERS.get(self.kind, _QUANTITY).accepts(self)

    def read(self, text: str) -> Any:
        """Return the SI value of a text, or None for an optional input left empty.

        Raises
        ------
        InputError
            Naming this input and what it accepts.
        """
        # a longer text is refused as it is, and need not be searched to its end
        text = text[: 4 * units.LONGEST].strip()
        if not text and self.optional:
            return None
        return _READERS.get(self.kind, _QUANTITY).read(self, text)

    def measured(self, text: str) -> Any:
        """Return the SI value of a text, also where `read` hands on something else."""
        return self.read(text)

    def refused(self, text: str) -> InputError:
        """Return the error for a text that this input does not take."""
        return InputError(self.name, text, self.accepts())


@dataclass(frozen=True)
class _Reader:
    """How inputs of one kind say what they accept, and how their text is read."""

    accepts: Callable[[Input], str]
    read: Callable[[Input, str], Any]


def _one_of(item: Input) -> str:
    return f"one of: {', '.join(item.allowed)}"


def _read_choice(item: Input, text: str) -> str:
    for choice in item.allowed:
        if text.lower() == choice.lower():
            return choice
    raise item.refused(text)


def _short_text(item: Input) -> str:
    return f"a text of at most {units.LONGEST} characters"


def _read_text(item: Input, text: str) -> str:
    if len(text) > units.LONGEST:
        raise item.refused(text)
    return text


def _whole_number(item: Input) -> str:
    return f"a whole number from {item.low:g} to {item.high:g}"


def _read_integer(item: Input, text: str) -> int:
    if not text.isascii() or not text.isdigit() or len(text) > 6:
        raise item.refused(text)
    number = int(text)
    if (item.low is not None and number < item.low) or (
        item.high is not None and number > item.high
    ):
        raise item.refused(text)
    return number


def _quantity(item: Input) -> str:
    measure = units.KINDS[item.kind]
    if item.low is None or item.high is None:
        return measure.example
    unit = item.unit or measure.si
    low, high = (units.show(limit, item.kind, unit) for limit in (item.low, item.high))
    return f"{measure.example}, between {low} and {high}"


def _read_quantity(item: Input, text: str) -> float:
    try:
        value = units.parse(text, item.kind, unit=item.unit or None, name=item.name)
    except InputError as problem:
        raise InputError(item.name, text, problem.accepts) from None
    # a limit typed in another unit must not be refused for the rounding of its conversion
    slack = 1e-9
    if (item.low is not None and value < item.low * (1 - slack) - 1e-15) or (
        item.high is not None and value > item.high * (1 + slack) + 1e-15
    ):
        raise item.refused(text)
    return value


_QUANTITY = _Reader(_quantity, _read_quantity)
_READERS: Mapping[str, _Reader] = {
    "choice": _Reader(_one_of, _read_choice),
    "material": _Reader(_one_of, _read_choice),
    "text": _Reader(_short_text, _read_text),
    "integer": _Reader(_whole_number, _read_integer),
}
"""Kinds that are no physical quantity; every other kind is a key of `units.KINDS`."""


UNITS_INPUT = Input(
    name="units",
    label="Show lengths in",
    kind="choice",
    default="inch",
    choices=(Choice("inch", "inches"), Choice("metric", "millimetres")),
    group="Show",
)
"""Every calculator has this one: how numbers are shown, never what they are."""


NO_FILE = "nothing here: this calculator makes no files"


def _no_file(kind: str, values: Mapping[str, Any]) -> str | bytes:
    raise InputError("file", kind, NO_FILE)


@dataclass(frozen=True)
class Calculator:
    """A question the handbook computes."""

    slug: str
    title: str
    question: str
    inputs: tuple[Input, ...]
    answer: Callable[..., Report]
    """Takes the SI values by input name, the choice of units for its sentences among them, and an
    optional `progress` or `early`. Its `values` are a TypedDict of exactly these inputs."""
    version: int = 1
    drawing: Callable[[Any], Any] | None = None
    """Takes the SI values by input name; returns a figure of them, drawn beside the form."""
    aliases: Mapping[str, str] = field(default_factory=dict)
    """Input names of older links, mapped to today's."""
    dropped: frozenset[str] = frozenset()
    """Input names of older links that never changed this answer: passed over."""
    slow: bool = False
    """True where an answer may take long enough to want progress and a stop."""
    early: bool = False
    """True where the verdict is known long before the rest of the answer; of a slow one, where a
    first answer is known that the search may better."""
    files: tuple[Download, ...] = ()
    """Files that this calculator makes of its inputs."""
    make: Callable[[str, Any], str | bytes] = _no_file
    """Takes the `make` of one of `files` and the SI values by input name; returns its content."""

    @property
    def all_inputs(self) -> tuple[Input, ...]:
        """The declared inputs and the shared choice of units."""
        return (*self.inputs, UNITS_INPUT)

    @property
    def known_names(self) -> frozenset[str]:
        """Input names of today and of older links."""
        today = frozenset(item.name for item in self.all_inputs)
        return today | frozenset(self.aliases) | self.dropped

    def offered(self, kind: str) -> Download:
        """Return a file that this calculator offers, by its `make`.

        Raises
        ------
        InputError
            For a file that is not offered, naming "file".
        """
        for item in self.files:
            if item.make == kind:
                return item
        kinds = ", ".join(item.make for item in self.files)
        raise InputError("file", kind, f"one of: {kinds}" if kinds else NO_FILE)

    def defaults(self) -> dict[str, str]:
        """Return the texts a fresh form holds."""
        return {item.name: item.default for item in self.all_inputs}

    def complete(self, texts: Mapping[str, str]) -> dict[str, str]:
        """Return the texts of a full form: given ones over the defaults, older names translated.

        What says the same as a default is spelt as the default is, so that links are alike.

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
        for item in self.all_inputs:
            if item.same(known[item.name], item.default):
                known[item.name] = item.default
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
            item.name: " ".join(full[item.name].split())
            for item in self.all_inputs
            if not item.same(full[item.name], item.default)
        }
        return urlencode(changed, quote_via=quote_plus, safe="/.,:", errors="replace")
