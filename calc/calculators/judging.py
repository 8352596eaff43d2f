"""The whole verdict of one fin, and how pages word it and link to it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from calc import calculators, forms, units
from calc.calculators import other_parts
from calc.calculators import shared as c
from calc.calculators.lists import TypedList
from calc.fin import check, search, whole
from calc.fin.fin import Fin
from calc.forms import Calculator
from calc.report import WORDS

FIN_CHECK = "../../check/fin-check/"
"""Address of the fin check, relative to the pages that lead to it."""


class JudgedValues(c.FinValues, other_parts.OthersValues):
    """What `judge` reads."""


@dataclass(frozen=True, eq=False)
class Judged:
    """A fin with its flight and its whole verdict at the worst moment.

    Attributes
    ----------
    climb
        Margins along the flight; None where a speed was given instead of a motor.
    """

    fin: Fin
    flying: c.Flying
    climb: search.Climb | None
    whole: whole.Whole


def judge(values: JudgedValues) -> Judged:
    """Return the whole verdict of a fin: what the fin check says, and every page that asks it."""
    fin = c.fin_of(values)
    flying = c.flying(values)
    climb = search.climb(fin, flying.points) if flying.ascent is not None else None
    point = flying.points[0 if climb is None else climb.worst]
    result = check.check(fin, point)
    others, left_out = other_parts.others(values, fin, result.variant, flying)
    return Judged(fin, flying, climb, whole.whole(result, others, left_out))


def words(result: whole.Whole) -> str:
    """Return the word of a verdict, never without its margin."""
    margin, word = result.governs, WORDS[result.state].lower()
    if result.state == "unknown":
        return f"{word}: the model does not reach that far"
    if margin.bound:
        return f"{word}, margin at least {margin.margin:.2f}"
    spread = ""
    if margin.low is not None and margin.high is not None:
        spread = f" ({margin.low / margin.required:.2f} to {margin.high / margin.required:.2f})"
    return f"{word}, margin {margin.margin:.2f}{spread}"


def stock_system(fin: Fin) -> str:
    """Return in which system a fin's sheet is sold: "inch" or "metric"."""
    return "inch" if units.inch_fraction(fin.thickness, tolerance=1e-4) else "metric"


def link(values: Mapping[str, Any]) -> str:
    """Return the address that opens these values in the fin check."""
    calculator = calculators.load("fin-check")
    return f"{FIN_CHECK}?{calculator.query(texts(calculator, values))}"


def texts(calculator: Calculator, values: Mapping[str, Any]) -> dict[str, str]:
    """Return input texts that read back as these SI values."""
    out: dict[str, str] = {}
    for item in calculator.inputs:
        value = values.get(item.name)
        if value is None:
            continue
        if isinstance(item, TypedList) and item.write is not None:
            if not item.default or item.read(item.default) != value:
                out[item.name] = item.write(value)
            continue
        if item.kind not in forms.NUMERIC:
            out[item.name] = str(value)
            continue
        unit = item.unit or units.KINDS[item.kind].si
        if item.default and abs(item.read(item.default) - value) <= 1e-9 * max(1.0, abs(value)):
            continue
        if item.kind == "length" and units.inch_fraction(value, tolerance=1e-4) is None:
            unit = "mm"
        written = units.typed(value, item.kind, unit)
        out[item.name] = written if unit in ("1", "deg") else f"{written} {unit}"
    return out
