"""The plain data of an answer: what every calculator returns and the one renderer draws.

Nothing here computes physics or knows HTML. Values are SI; `kind` says what they measure.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

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
    bound: Literal["", "at least", "at most"] = ""
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
    bound: Literal["", "at least", "at most"] = ""


@dataclass(frozen=True)
class Mode:
    """One way to fail: demand against capacity, in the same unit."""

    name: str
    label: str
    demand: float
    capacity: float
    kind: str
    margin: float
    low: float | None = None
    high: float | None = None
    bound: Literal["", "at least", "at most"] = ""
    note: str = ""


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


@dataclass(frozen=True)
class Column:
    """A column of a table; `kind` None means text."""

    name: str
    label: str
    kind: str | None = None
    digits: int = 3


class LowerLimit(float):
    """A number in a table of which only a lower limit is known; it is shown as "at least"."""


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


@dataclass(frozen=True)
class Report:
    """Everything a calculator answers."""

    calculator: str
    summary: str
    """One short sentence, read out when the answer changes."""
    answers: tuple[Answer, ...]
    verdict: Verdict | None = None
    modes: tuple[Mode, ...] = ()
    bars: str = (
        "What the fin bears, over what is asked of it. At 1 it only just holds. Thin lines: 10 to "
        "90 % range."
    )
    """What the bars of the modes and their thin lines are, as the caption of their picture."""
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

    def answer(self, name: str) -> Answer:
        """Return one answer by name; KeyError lists the names there are."""
        for item in self.answers:
            if item.name == name:
                return item
        raise KeyError(f"no answer {name!r}; there are: {', '.join(a.name for a in self.answers)}")


def finite(value: float | None) -> float | None:
    """Return a number that JSON can hold; infinite and undefined become None."""
    return value if value is not None and math.isfinite(value) else None


def as_json(report: Report, inputs: Mapping[str, Any], *, version: str) -> dict[str, Any]:
    """Return the published JSON form of an answer, SI units throughout."""
    out: dict[str, Any] = {
        "calculator": report.calculator,
        "version": version,
        "inputs": dict(inputs),
        "summary": report.summary,
        "answers": {
            a.name: {
                "value": finite(a.value),
                "unit": KINDS[a.kind].si,
                "low": finite(a.low),
                "high": finite(a.high),
                **({"bound": a.bound} if a.bound else {}),
            }
            for a in report.answers
        },
        "verdict": None,
        "modes": [
            {
                "name": m.name,
                "demand": finite(m.demand),
                "capacity": finite(m.capacity),
                "unit": KINDS[m.kind].si,
                "margin": finite(m.margin),
                "low": finite(m.low),
                "high": finite(m.high),
                **({"bound": m.bound} if m.bound else {}),
            }
            for m in report.modes
        ],
        "tables": [
            {
                "title": t.title,
                "columns": [c.name for c in t.columns],
                "units": [KINDS[c.kind].si if c.kind else None for c in t.columns],
                "rows": [[finite(v) if isinstance(v, float) else v for v in row] for row in t.rows],
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
    if report.verdict is not None:
        v = report.verdict
        out["verdict"] = {
            "state": v.state,
            "governs": v.governs,
            "margin": finite(v.margin),
            **({"bound": v.bound} if v.bound else {}),
            "low": finite(v.low),
            "high": finite(v.high),
            "shortfall": finite(v.shortfall),
            "sentence": v.sentence,
        }
    return out
