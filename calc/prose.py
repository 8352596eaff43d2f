"""Numbers, tables and pictures for prose: what a page may ask for between double braces.

A page writes ``{{ answer("fin-check", thickness="1/8 in").flutter_speed | m/s }}`` and gets the
number the calculator gives. Everything a page can name is in `NAMES`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from calc import calculators, units
from calc.report import Answer, Report


@dataclass(frozen=True)
class Number:
    """A number on its way into a sentence."""

    value: float
    kind: str = "number"
    low: float | None = None
    high: float | None = None
    source: str = ""

    def _with(self, factor: float) -> Number:
        return Number(
            self.value * factor,
            "number" if self.kind in ("number", "fraction") else self.kind,
            None if self.low is None else self.low * factor,
            None if self.high is None else self.high * factor,
            self.source,
        )

    def __truediv__(self, other: Number | float) -> Number:
        """Return a plain ratio (Number over Number) or a scaled number."""
        if isinstance(other, Number):
            return Number(self.value / other.value)
        return self._with(1.0 / other)

    def __mul__(self, other: float) -> Number:
        """Return a scaled number."""
        return self._with(other)

    def __sub__(self, other: Number | float) -> Number:
        """Return a difference."""
        taken = other.value if isinstance(other, Number) else other
        return Number(self.value - taken, self.kind, source=self.source)


class Answers:
    """A report whose answers are attributes: ``answer("fin-check").flutter_speed``."""

    def __init__(self, report: Report) -> None:
        self.report = report

    def __getattr__(self, name: str) -> Number:
        """Return one answer as a number, or the verdict's margin as ``margin``."""
        verdict = self.report.verdict
        if name == "margin" and verdict is not None:
            return Number(verdict.margin, "number", verdict.low, verdict.high)
        try:
            found: Answer = self.report.answer(name)
        except KeyError as problem:
            raise AttributeError(str(problem)) from None
        return Number(found.value, found.kind, found.low, found.high)

    @property
    def state(self) -> str:
        """The verdict's word, lower case, never without its margin in the sentence around it."""
        from calc.render.html import WORDS

        return WORDS[self.report.verdict.state].lower() if self.report.verdict else "unknown"

    @property
    def summary(self) -> str:
        """The report's one sentence."""
        return self.report.summary

    def margin_of(self, mode: str) -> Number:
        """Return the margin of one mode of failure."""
        for item in self.report.modes:
            if item.name == mode:
                return Number(item.margin, "number", item.low, item.high)
        raise AttributeError(f"no mode {mode!r}")

    def table(self, index: int = 0) -> Any:
        """Return one of the report's tables, to stand in the page."""
        return self.report.tables[index]

    def figure(self, index: int = 0) -> Any:
        """Return one of the report's figures, to stand in the page."""
        return self.report.figures[index]


@cache
def _run(slug: str, pairs: tuple[tuple[str, str], ...]) -> Report:
    return calculators.run(slug, dict(pairs))


def answer(slug: str, **texts: str) -> Answers:
    """Return a calculator's answer for the given input texts, defaults elsewhere."""
    return Answers(_run(slug, tuple(sorted(texts.items()))))


def value(name: str, quantity: str) -> Number:
    """Return a material's tabulated value with its range and source."""
    from calc import materials

    found = materials.load(name).values[quantity]
    return Number(found.value, _kind_of(found.unit), found.low, found.high, found.source)


def lamina(name: str, **choices: Any) -> Mapping[str, Number]:
    """Return the elastic constants of a material's first ply (``density`` in kg/m3, ``cut``)."""
    from calc import materials

    ply = materials.load(name).layup(thickness=0.002, **choices).plies[0].lamina
    kinds = {
        "modulus_along": "pressure",
        "modulus_across": "pressure",
        "shear_modulus": "pressure",
        "density": "density",
        "poisson": "number",
        "tension_along": "pressure",
        "compression_along": "pressure",
        "tension_across": "pressure",
        "shear_strength": "pressure",
    }
    return {key: Number(getattr(ply, key), kind) for key, kind in kinds.items()}


def _kind_of(unit: str) -> str:
    for kind in units.KINDS.values():
        if unit == kind.si and unit != "1":
            return kind.name
    return "number"


def number(amount: float, kind: str = "number") -> Number:
    """Return any SI number as one that prose can show."""
    return Number(float(amount), kind)


def shown(found: Any, style: str = "") -> str:
    """Return the text of a number under a style such as ``m/s``, ``mm 2``, ``range``.

    >>> shown(Number(0.0762, "length"), "mm"), shown(Number(2.0), "4")
    ('76.2 mm', '2.000')
    """
    if isinstance(found, str):
        return found
    if isinstance(found, int | float):
        found = Number(float(found))
    if not isinstance(found, Number):
        raise TypeError(f"cannot write a {type(found).__name__} in a sentence")
    digits, unit, spread = 3, None, False
    rest: list[str] = []
    for word in style.split():
        if word.isdigit():
            digits = int(word)
        elif word == "range":
            spread = True
        else:
            rest.append(word)
    if rest:
        unit = " ".join(rest)
        if unit not in units.KINDS[found.kind].units:
            raise ValueError(f"{unit!r} is not a unit of {found.kind}")
    if spread:
        if found.low is None or found.high is None:
            raise ValueError("this number has no range")
        low = units.show(found.low, found.kind, unit, digits=digits)
        high = units.show(found.high, found.kind, unit, digits=digits)
        bare = low.rsplit(" ", 1)[0] if low.rsplit(" ", 1)[-1] == high.rsplit(" ", 1)[-1] else low
        return f"{bare} to {high}"
    if found.kind == "number" and found.value == math.floor(found.value) and not style:
        return f"{found.value:.0f}"
    return units.show(found.value, found.kind, unit, digits=digits)


NAMES: dict[str, Any] = {
    "answer": answer,
    "value": value,
    "lamina": lamina,
    "number": number,
    "round": round,
    "min": min,
    "max": max,
    "len": len,
}
"""What a page may name; pages' tables and pictures are added by `calc.prose_tables`."""
