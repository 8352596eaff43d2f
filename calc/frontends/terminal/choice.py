"""What a row of the material finder says of the material in use: keep it, or change to which."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, cast

from calc import materials
from calc.calculators import Outcome, material_finder
from calc.report import Report

TEXTS = ("today", "today_verdict", "advice", "why", "best", "runner_up")
"""Columns of words."""
LIGHTER = 0.1
"""Share of a set's mass below which a lighter material is not worth a change of stock (our
judgement)."""


def columns(found: Outcome, today: Outcome | None) -> dict[str, str]:
    """Return the columns of one row.

    Parameters
    ----------
    found
        The finder's answer.
    today
        The fin check of the material in use; None where the row names none.
    """
    assert found.report is not None
    own = bool(found.values["price_list"])
    out: dict[str, str] = {}
    best, runner_up = (*_holding(found.report), None, None)[:2]
    for name, row in (("best", best), ("runner_up", runner_up)):
        if row is not None:
            out[name] = str(row["material"])
            out[f"{name}_mass [kg]"] = repr(float(row["mass"]))
            out[f"{name}_margin [1]"] = repr(float(row["margin"]))
            cost = next((row[key] for key in row if key.startswith("price")), None)
            out |= _cost(name, cost, own=own)
    if today is None:
        return out
    if today.report is None:
        problem = next(iter(today.errors.values()))
        return out | {"today": "not read", "why": f"the material in use: {problem}"}
    values = cast("material_finder.MaterialFinderValues", found.values)
    return out | _today(today, today.report, best, values, own=own)


def _holding(report: Report) -> Sequence[Mapping[str, Any]]:
    """Return the rows of what holds, lightest first, by column."""
    for table in report.tables:
        if table.links:
            names = [column.name for column in table.columns]
            return [dict(zip(names, row, strict=True)) for row in table.rows]
    return ()


def _cost(name: str, cost: float | None, *, own: bool) -> dict[str, str]:
    """Return a cost by the reader's own prices, or by invented ones under a name that says so."""
    if cost is None:
        return {}
    return {f"{name}_{'' if own else 'invented_'}cost [1]": repr(float(cost))}


def _today(
    today: Outcome,
    report: Report,
    best: Mapping[str, Any] | None,
    values: material_finder.MaterialFinderValues,
    *,
    own: bool,
) -> dict[str, str]:
    """Return what is known of the material in use, and whether to keep it."""
    asked = today.values
    material = asked["material"]
    label = material if material == "own" else materials.load(material).label
    verdict = report.verdict
    assert verdict is not None
    mass = report.answer("set_mass").value
    out = {
        "today": f"{label}, {today.texts['thickness']}",
        "today_verdict": verdict.state,
        "today_margin [1]": repr(float(verdict.margin)),
        "today_mass [kg]": repr(float(mass)),
    }
    if material != "own":
        price = material_finder.price(
            materials.load(material),
            asked["thickness"],
            area=float(material_finder.template(values).planform.area),
            count=values["count"],
            listed=values["price_list"],
        )
        out |= _cost("today", None if price is None else 0.5 * sum(price), own=own)
    advice, why = _advice(verdict.state, label, mass, best)
    return out | {"advice": advice, "why": why}


def _advice(state: str, label: str, mass: float, best: Mapping[str, Any] | None) -> tuple[str, str]:
    words = {"holds": "holds", "marginal": "is marginal", "fails": "does not hold"}
    said = words.get(state, "cannot be said to hold")
    if best is None:
        return ("keep" if state == "holds" else "change"), f"today's {said}; nothing tried holds"
    if state != "holds":
        return "change", f"today's {said}; {best['material']}, does"
    saved = mass - best["mass"]
    if saved > LIGHTER * mass:
        return "change", (
            f"today's holds; {best['material']}, too, and is {100.0 * saved / mass:.0f} % lighter"
        )
    return "keep", "today's holds, and nothing tried is much lighter"
