"""Sentences of calculators follow the reader's choice of units, and every field matters."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

import pytest

from calc import calculators, forms, units
from calc.errors import InputError, ValidityError
from calc.forms import Input
from calc.report import Report

INCH_UNITS = re.compile(r"\d (in(?! [a-z])|oz|lbf|psi|ksi|ft|mph)\b")
METRIC_UNITS = re.compile(r"\d (mm|cm|kg|N|kPa|MPa|GPa|m|m/s)\b")
"""Grams are not among them: they stand for less than a tenth of an ounce in both systems."""
GOODS = ("One size", "A thicker sheet", "A tube wall")
"""Changes that name a size as it is sold, in the unit it is sold in."""

CASES = [
    ("landing", {}),
    ("landing", {"ground": "hard", "thickness": "1/16 in"}),
    ("root-joint", {"joint": "tab"}),
    ("root-joint", {"joint": "edge"}),
    ("finish", {"coats": "light"}),
    ("finish", {"coats": "own", "faces": "one"}),
    ("weight-effect", {"balance_point": "17.5 in"}),
]


def sentences(report: Report) -> Iterator[str]:
    """Return what a report says in words, but its working and the names of goods."""
    yield report.summary
    if report.verdict is not None:
        yield report.verdict.sentence
    for answer in report.answers:
        yield f"{answer.label}; {answer.note}"
    for change in report.changes:
        if not change.label.startswith(GOODS):
            yield f"{change.label}; {change.effect}"
    for mode in report.modes:
        yield f"{mode.label}; {mode.note}"
    for table in report.tables:
        yield f"{table.title}; {table.note}"
        for row in table.rows:
            yield from (cell for cell in row if isinstance(cell, str))
    for figure in report.figures:
        yield f"{figure.title}; {figure.caption}"
    yield from report.notes


@pytest.mark.parametrize(("slug", "texts"), CASES)
@pytest.mark.parametrize(("system", "foreign"), [("inch", METRIC_UNITS), ("metric", INCH_UNITS)])
def test_sentences_follow_the_choice_of_units(
    slug: str, texts: dict[str, str], system: str, foreign: re.Pattern[str]
) -> None:
    """No sentence outside the working uses a unit of the other system."""
    report = calculators.run(slug, {**texts, "units": system})
    assert [said for said in sentences(report) if foreign.search(said)] == []


SWIFT = [slug for slug in calculators.SLUGS if not calculators.load(slug).slow]


@pytest.mark.parametrize("slug", SWIFT)
def test_units_change_no_number(slug: str) -> None:
    """The choice of units changes how an answer is written and nothing else."""
    one, other = (calculators.run(slug, {"units": system}) for system in ("inch", "metric"))
    assert [(a.name, a.value, a.low, a.high) for a in one.answers] == [
        (a.name, a.value, a.low, a.high) for a in other.answers
    ]


def numbers(slug: str, texts: Mapping[str, str]) -> object:
    """Return what an answer says in numbers; a refusal counts as an answer of its own."""
    try:
        report = calculators.run(slug, texts)
    except (InputError, ValidityError) as problem:
        return str(problem)
    return report.answers, report.verdict, report.modes, [table.rows for table in report.tables]


def others(item: Input, text: str) -> tuple[str, ...]:
    """Return other texts that an input takes."""
    if item.kind in ("choice", "material"):
        return tuple(choice for choice in item.allowed if choice != text)
    if item.kind == "integer":
        return (str(int(text) + 1),)
    unit = item.unit or units.KINDS[item.kind].si
    if item.low is None or item.high is None:
        return (f"{units.typed(2.0 * item.read(text), item.kind, unit)} {unit}",)
    value = item.read(text) if text else item.low
    moved = 1.03 * value if item.kind == "temperature" else 1.2 * value
    moved = moved if value else item.low + 0.1 * (item.high - item.low)
    return tuple(
        units.typed(v, item.kind, unit) + ("" if unit == "1" else f" {unit}")
        for v in (moved, 0.8 * item.high + 0.2 * item.low)
    )


@pytest.mark.parametrize("slug", ["weight-effect", "root-joint", "landing", "finish", "moisture"])
def test_every_field_matters(slug: str) -> None:
    """Each field that a form shows can change a number of the answer."""
    calculator = calculators.load(slug)
    idle = []
    for item in calculator.inputs:
        if item.kind not in (*forms.NUMERIC, "choice", "material", "integer"):
            continue
        shown = {name: next(iter(allowed)) for name, allowed in item.shown_when.items()}
        if item.name.startswith("notch_"):
            shown["tab_notches"] = "0.5 in"
        starts = [shown, {**shown, **BRITTLE}] if "strength" in item.name else [shown]
        known = {name for name in calculator.defaults()}
        found = False
        for start in starts:
            start = {name: text for name, text in start.items() if name in known}
            base = numbers(slug, start)
            text = calculator.complete(start)[item.name]
            found = found or any(
                numbers(slug, {**start, item.name: other}) != base for other in others(item, text)
            )
        if not found:
            idle.append(item.name)
    assert idle == []


BRITTLE = {"edge": "square", "strength_along": "1 MPa", "shear_strength": "0.2 MPa"}
"""A sheet of one's own so weak that each of its strengths can govern."""

LEFT_OUT = [(slug, name) for slug in SWIFT for name in sorted(calculators.load(slug).dropped)]


@pytest.mark.parametrize(("slug", "name"), LEFT_OUT)
def test_old_links_with_a_field_that_was_left_out(slug: str, name: str) -> None:
    """An address that still names a field which never mattered is answered as without it."""
    calculator = calculators.load(slug)
    assert name not in {item.name for item in calculator.inputs}
    assert name in calculator.known_names
    old = calculator.read({name: "7 anything"})
    assert old == calculator.read({})
    assert name not in calculator.query({name: "7 anything"})


def test_material_of_ones_own_is_not_offered_where_nothing_is_known() -> None:
    """The moisture form lists materials on file only, and says so to an older link."""
    material = next(i for i in calculators.load("moisture").inputs if i.kind == "material")
    assert "own" not in {choice.value for choice in material.offered}
    _, errors = calculators.load("moisture").read({"material": "own"})
    assert "material" in errors


CHANGED = re.compile(r"[+−][\d.]+ (oz|lb|g|kg)\b")


@pytest.mark.parametrize(("system", "unit"), [("inch", "oz"), ("metric", "g")])
@pytest.mark.parametrize("slug", ["fin-check", "substitute", "field-card", "weight-effect"])
def test_changes_in_mass_are_in_the_unit_of_the_set(slug: str, system: str, unit: str) -> None:
    """What other fins would add or save is told in the unit in which the set of fins is told."""
    report = calculators.run(slug, {"units": system})
    texts = [report.summary, *(change.effect for change in report.changes)]
    texts += [str(value) for table in report.tables for row in table.rows for value in row]
    found = [unit for text in texts for unit in CHANGED.findall(text)]
    assert found
    assert set(found) == {unit}
