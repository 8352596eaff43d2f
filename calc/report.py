"""The plain data of an answer: what every calculator returns and the one renderer draws.

Nothing here computes physics or knows HTML. Values are SI; `kind` says what they measure.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from calc.errors import ValidityError
from calc.margin import Bound, Margin
from calc.units import KINDS

State = Literal["holds", "marginal", "fails", "unknown"]

WORDS: Mapping[str, str] = {
    "holds": "Holds",
    "marginal": "Marginal",
    "fails": "Does not hold",
    "unknown": "Cannot say",
}
"""The word for each state of a verdict, everywhere."""

CAUTION = (
    "This is an estimate with a range, not a clearance to fly. It does not replace the range "
    "safety officer, your national model-rocket safety code, the law where you fly or, above "
    "hobby scale, licensed practice."
)
"""Shown with every result that could lead to a launch."""


@dataclass(frozen=True)
class Answer:
    """One number of an answer: SI value, what it measures, and its 10 to 90 % range if known."""

    name: str
    label: str
    value: float
    kind: str
    low: float | None = None
    high: float | None = None
    digits: int = 3
    note: str = ""
    bound: Bound = ""
    """Set where only a limit is known ("at least 300 m/s: the model ends there")."""


@dataclass(frozen=True)
class Verdict:
    """Does it hold, what governs, and with what margin (capacity over demand; 1 is the edge)."""

    state: State
    governs: str
    margin: float
    sentence: str
    low: float | None = None
    high: float | None = None
    shortfall: float | None = None
    """Chance that the true margin is below 1, between 0 and 1."""
    bound: Bound = ""
    covers: str = ""
    """What was judged and what was not, as sentences."""


@dataclass(frozen=True)
class Step:
    """One line of the working: what is computed, how, and from which source."""

    title: str
    formula: str
    result: str
    sources: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class Change:
    """Something that would change the answer, with what it would do."""

    label: str
    effect: str
    margin: float | None = None
    mass: float | None = None
    inputs: Mapping[str, str] = field(default_factory=dict)
    """Input texts of this calculator that make the change, so that it can be one tap."""
    worse: bool = False
    """Whether it leaves the answer with less than is required, and with less than before."""


@dataclass(frozen=True)
class Column:
    """A column of a table; `kind` None means text."""

    name: str
    label: str
    kind: str | None = None
    digits: int = 3
    fold: int = 0
    """Most characters on a line of a cell's text, so that a column fits a phone; 0 for no limit."""


class LowerLimit(float):
    """A number in a table of which only a lower limit is known; it is shown as "at least"."""


class Strong(str):
    """A text in a table that stands out: what differs from its neighbours."""


@dataclass(frozen=True)
class Table:
    """Rows of SI values or text under columns; `key` names the columns that identify a row."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Any, ...], ...]
    note: str = ""
    links: tuple[str, ...] = ()
    """Optional query string per row that opens the row in a calculator (``slug?query``)."""
    sortable: bool = False


@dataclass(frozen=True)
class Figure:
    """Something to draw: `drawing` names a function of `calc.render.drawing`, `data` its input."""

    drawing: str
    title: str
    caption: str
    data: Mapping[str, Any]


@dataclass(frozen=True)
class Download:
    """A file made on the reader's device when asked: `make` names the maker, `data` its input."""

    label: str
    filename: str
    mime: str
    make: str


ALL_STRENGTHS = "all strengths low to high"
"""A range from every strength at the low end of its band to every strength at the high end."""


@dataclass(frozen=True)
class Report:
    """Everything a calculator answers."""

    calculator: str
    summary: str
    """One short sentence, read out when the answer changes."""
    answers: tuple[Answer, ...]
    verdict: Verdict | None = None
    modes: tuple[Margin, ...] = ()
    bars: str = (
        "What the fin can take, divided by what is required of it. At 1 it is just enough. Thin "
        "lines: 10 to 90 % range."
    )
    """What the bars of the modes and their thin lines are, as the caption of their picture."""
    ranges: str = ""
    """What the ranges of the modes are, at the head of their column, where they are not those of
    the verdict: 10 to 90 %."""
    changes: tuple[Change, ...] = ()
    figures: tuple[Figure, ...] = ()
    tables: tuple[Table, ...] = ()
    steps: tuple[Step, ...] = ()
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    downloads: tuple[Download, ...] = ()
    headline: tuple[str, ...] = ()
    """Names of the answers shown large, in order."""
    carry: Mapping[str, str] = field(default_factory=dict)
    """Texts for inputs of other calculators, such as a tested sheet as a material, by name."""

    def answer(self, name: str) -> Answer:
        """Return one answer by name; KeyError lists the names there are."""
        for item in self.answers:
            if item.name == name:
                return item
        raise KeyError(f"no answer {name!r}; there are: {', '.join(a.name for a in self.answers)}")


NOT_FINITE = re.compile(r"(?<![A-Za-z])(?:nan|inf)(?![A-Za-z])|∞|not a number")
"""How a number that is none reads once it has been written into a sentence."""


def guarded(report: Report, *, typed: Iterable[str] = ()) -> Report:
    """Return a report whose numbers are all finite, in its sentences too.

    The last guard before a reader: an infinite or undefined number is a fault of the model or of
    its page, and an answer that holds one is not to be trusted in its other numbers either.

    Parameters
    ----------
    report
        What a calculator answers. Numbers that are meant to be missing are None in it.
    typed
        Texts of the reader that may stand in its sentences, such as a rocket's name.

    Raises
    ------
    ValidityError
        Naming the first number that is not finite.

    >>> drag = Answer("drag", "Drag", float("nan"), "force")
    >>> guarded(Report("speed", "", (drag,)))  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    calc.errors.ValidityError: No answer: the model gives no finite number for "Drag" with ...
    """
    own = [text for text in typed if NOT_FINITE.search(text)]
    for label, value in _numbers(report):
        if isinstance(value, float) and not math.isfinite(value):
            raise _no_number(label)
    for label, text in _texts(report):
        if not NOT_FINITE.search(text):
            continue
        for name in own:
            text = text.replace(name, "")
        if NOT_FINITE.search(text):
            raise _no_number(label)
    return report


def _no_number(label: str) -> ValidityError:
    return ValidityError(
        f'No answer: the model gives no finite number for "{label}" with these inputs.'
    )


def _numbers(report: Report) -> Iterator[tuple[str, Any]]:
    """Yield every number of a report that a reader or a program may see, with its label."""
    for item in report.answers:
        yield from ((item.label, value) for value in (item.value, item.low, item.high))
    for mode in report.modes:
        ends = (mode.low_margin, mode.high_margin)
        numbers = (mode.demand * mode.required, mode.capacity.value, mode.margin, *ends)
        yield from ((mode.label, value) for value in numbers)
    if report.verdict is not None:
        v = report.verdict
        yield from (("margin", value) for value in (v.margin, v.low, v.high, v.shortfall))
    for change in report.changes:
        yield from ((change.label, value) for value in (change.margin, change.mass))
    for table in report.tables:
        for row in table.rows:
            for column, value in zip(table.columns, row, strict=True):
                yield f"{table.title}: {column.label}", value


def _texts(report: Report) -> Iterator[tuple[str, str]]:
    """Yield every sentence of a report with the label of what it speaks of."""
    yield "summary", report.summary
    if report.verdict is not None:
        yield "margin", report.verdict.sentence
    yield from ((item.label, item.note) for item in report.answers)
    yield from ((item.label, item.note) for item in report.modes)
    for change in report.changes:
        yield "what would change it", f"{change.label} {change.effect}"
    for step in report.steps:
        yield step.title, f"{step.formula} {step.result} {step.note}"
    for figure in report.figures:
        yield figure.title, figure.caption
    for table in report.tables:
        yield table.title, table.note
        for row in table.rows:
            yield from ((table.title, cell) for cell in row if isinstance(cell, str))
    yield from (("notes", text) for text in (*report.notes, *report.cautions))


def as_json(report: Report, inputs: Mapping[str, Any], *, version: str) -> dict[str, Any]:
    """Return the published JSON form of a `guarded` answer, SI units throughout."""
    out: dict[str, Any] = {
        "calculator": report.calculator,
        "version": version,
        "inputs": dict(inputs),
        "summary": report.summary,
        "answers": {
            a.name: {
                "value": a.value,
                "unit": KINDS[a.kind].si,
                "low": a.low,
                "high": a.high,
                **({"bound": a.bound} if a.bound else {}),
                **({"note": a.note} if a.note else {}),
            }
            for a in report.answers
        },
        "verdict": None,
        "modes": [
            {
                "name": m.name,
                "demand": m.demand * m.required,
                "capacity": m.capacity.value,
                "unit": KINDS[m.kind].si,
                "margin": m.margin,
                "low": m.low_margin,
                "high": m.high_margin,
                **({"bound": m.bound} if m.bound else {}),
                **({"note": m.note} if m.note else {}),
                "promised": m.known,
            }
            for m in report.modes
        ],
        "tables": [
            {
                "title": t.title,
                "columns": [c.name for c in t.columns],
                "units": [KINDS[c.kind].si if c.kind else None for c in t.columns],
                "rows": [list(row) for row in t.rows],
                # [row, column] of numbers of which only a lower limit is known
                "at_least": [
                    [place, column.name]
                    for place, row in enumerate(t.rows)
                    for column, value in zip(t.columns, row, strict=True)
                    if isinstance(value, LowerLimit)
                ],
            }
            for t in report.tables
        ],
        "cautions": list(report.cautions),
        "notes": list(report.notes),
        "sources": list(report.sources),
    }
    if report.carry:
        out["carry"] = dict(report.carry)
    if report.verdict is not None:
        v = report.verdict
        out["verdict"] = {
            "state": v.state,
            "governs": v.governs,
            "margin": v.margin,
            **({"bound": v.bound} if v.bound else {}),
            "low": v.low,
            "high": v.high,
            "shortfall": v.shortfall,
            "sentence": v.sentence,
            **({"covers": v.covers} if v.covers else {}),
        }
    return out


NOT_PROMISED = "not promised"
"""Said of a margin that the model cannot promise."""
# What a spreadsheet takes for the start of a formula.
FORMULA = ("=", "+", "-", "@", "\t", "\r")


def as_csv(content: Mapping[str, Any]) -> str:
    """Return the published JSON form of an answer as a table for a spreadsheet.

    Numbers stay numbers. A text that a spreadsheet would run as a formula gets an apostrophe in
    front: it may have come in a link that somebody else made.

    Parameters
    ----------
    content
        From `as_json`.

    Examples
    --------
    >>> print(as_csv({"calculator": "ring", "version": "1", "inputs": {"note": "=1+1"}}), end="")
    kind,name,value,unit,low,high,limit,remark
    edition,ring,1
    input,note,'=1+1
    """
    lines: list[tuple[Any, ...]] = [
        ("kind", "name", "value", "unit", "low", "high", "limit", "remark"),
        ("edition", content["calculator"], content["version"]),
    ]
    lines += [("input", name, value) for name, value in content.get("inputs", {}).items()]
    for name, a in content.get("answers", {}).items():
        ends = (a["low"], a["high"], a.get("bound", ""))
        lines.append(("answer", name, a["value"], a["unit"], *ends, a.get("note", "")))
    for m in content.get("modes", ()):
        ends = (m["low"], m["high"], m.get("bound", ""))
        doubt = [] if m.get("promised", True) else [NOT_PROMISED]
        remark = "; ".join([*doubt, *filter(None, [m.get("note", "")])])
        lines.append(("margin", m["name"], m["margin"], "", *ends, remark))
    if v := content.get("verdict"):
        ends = (v["low"], v["high"], v.get("bound", ""))
        lines.append(("verdict", v["state"], v["margin"], "", *ends, v.get("sentence", "")))
    lines += [("note", "", note) for note in content.get("notes", ())]
    lines += [("caution", "", caution) for caution in content.get("cautions", ())]
    return "".join(f"{','.join(map(_cell, line))}\r\n" for line in lines)


def _cell(value: object) -> str:
    if value is None:
        return ""
    if not isinstance(value, str):
        text = json.dumps(value, ensure_ascii=False)
    else:
        text = f"'{value}" if value.startswith(FORMULA) else value
    if any(mark in text for mark in ',"\r\n'):
        text = '"' + text.replace('"', '""') + '"'
    return text
