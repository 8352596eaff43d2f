"""The Nomenclature page: every public name with its unit and meaning, read from the code itself.

Only the build imports this: it reads the package's own source files, so that nothing has to be
written twice.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from calc import calculators
from calc.report import Column, Table
from calc.units import KINDS
from scripts.handbook.names import answer
from scripts.runtime import ROOT

PACKAGE = ROOT / "calc"
LEFT_OUT = ("frontends", "__main__", "render", "calculators")
"""Parts of the package that draw and carry rather than compute."""

_UNIT = re.compile(r"\[([^\]]{1,40})\]")
_SECTION = re.compile(r"^[A-Z][A-Za-z ]+$")


@dataclass(frozen=True)
class Name:
    """A public function or class: where it lives, what it does, what its arguments are."""

    module: str
    name: str
    meaning: str
    arguments: tuple[tuple[str, str, str], ...]
    """Name, unit and meaning."""


def modules() -> tuple[tuple[str, ast.Module], ...]:
    """Return the computing modules of the package by dotted name, parsed."""
    found = []
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE).with_suffix("").parts
        if parts[-1] == "__init__":
            parts = parts[:-1]
        if parts and not parts[0].startswith(LEFT_OUT):
            found.append((".".join(parts), ast.parse(path.read_text(encoding="utf-8"))))
    return tuple(found)


def sentence(docstring: str) -> str:
    """Return the first sentence of a docstring.

    >>> sentence('''Return the area.
    ...
    ... Equation: …''')
    'Return the area.'
    """
    first = docstring.strip().split("\n\n")[0]
    return " ".join(first.split()).replace("``", "").replace("`", "")


def arguments(docstring: str) -> Iterator[tuple[str, str, str]]:
    """Yield name, unit and meaning of each entry under "Parameters".

    >>> list(arguments('''Do.
    ...
    ... Parameters
    ... ----------
    ... root, tip
    ...     Chords [m].
    ... '''))
    [('root', 'm', 'Chords.'), ('tip', 'm', 'Chords.')]
    """
    lines = docstring.splitlines()
    try:
        at = next(i for i, text in enumerate(lines) if text.strip() == "Parameters") + 2
    except StopIteration:
        return
    while at < len(lines):
        head = lines[at].rstrip()
        if not head or head.startswith(" "):
            at += 1
            continue
        underlined = at + 1 < len(lines) and set(lines[at + 1].strip()) == {"-"}
        if underlined and _SECTION.match(head):
            return
        body = []
        at += 1
        while at < len(lines) and lines[at].startswith("    "):
            body.append(lines[at].strip())
            at += 1
        if not body:
            return
        text = " ".join(body)
        units = _UNIT.findall(text)
        meaning = _UNIT.sub("", text).replace("`", "")
        meaning = re.sub(r"\s+([.,;])", r"\1", re.sub(r",\s*\.", ".", " ".join(meaning.split())))
        entries = [name.strip() for name in head.split(":")[0].split(",")]
        if len(units) != len(entries):
            units = units[:1] * len(entries) or [""] * len(entries)
        yield from ((name, unit, meaning) for name, unit in zip(entries, units, strict=True))


@cache
def names() -> tuple[Name, ...]:
    """Return every public function and class of the computing modules."""
    out = []
    for module, tree in modules():
        for node in tree.body:
            if not isinstance(node, ast.FunctionDef | ast.ClassDef) or node.name.startswith("_"):
                continue
            text = ast.get_docstring(node) or ""
            out.append(Name(module, node.name, sentence(text), tuple(arguments(text))))
    return tuple(out)


def nomenclature_inputs() -> Table:
    """Return every input of every calculator: name, label, SI unit, where it is asked."""
    found: dict[str, tuple[list[str], str, list[str]]] = {}
    for slug in calculators.SLUGS:
        calculator = calculators.load(slug)
        for item in calculator.inputs:
            unit = KINDS[item.kind].si if item.kind in KINDS else item.kind
            labels, _, places = found.setdefault(item.name, ([], unit, []))
            if item.label not in labels:
                labels.append(item.label)
            places.append(slug)
    return Table(
        "Inputs of the calculators",
        (
            Column("name", "Name"),
            Column("meaning", "Meaning"),
            Column("unit", "SI unit or kind"),
            Column("where", "Asked by"),
        ),
        tuple(
            (name, "; ".join(labels), _unit(unit), ", ".join(places))
            for name, (labels, unit, places) in sorted(found.items())
        ),
        note="The same name means the same thing everywhere: in a link, on the command line and "
        "in files.",
    )


def nomenclature_answers() -> Table:
    """Return every answer that a calculator gives for its defaults: name, label, SI unit."""
    found: dict[str, tuple[list[str], list[str], list[str]]] = {}
    for slug in calculators.SLUGS:
        for item in answer(slug).report.answers:
            labels, units, places = found.setdefault(item.name, ([], [], []))
            unit = _unit(KINDS[item.kind].si)
            for text, into in ((item.label, labels), (unit, units)):
                if text not in into:
                    into.append(text)
            places.append(slug)
    return Table(
        "Answers of the calculators",
        (
            Column("name", "Name"),
            Column("meaning", "Meaning"),
            Column("unit", "SI unit"),
            Column("where", "Answered by"),
        ),
        tuple(
            (name, "; ".join(labels), ", ".join(units), ", ".join(places))
            for name, (labels, units, places) in sorted(found.items())
        ),
        note="As the calculators answer with their own defaults; some answers appear only for "
        "other choices.",
    )


def _unit(text: str) -> str:
    return {"1": "–", "": "–"}.get(text, text)


def nomenclature_arguments() -> Table:
    """Return every argument of a public function: name, unit, meaning, and where it is used."""
    found: dict[tuple[str, str], tuple[str, list[str]]] = {}
    for item in names():
        for name, unit, meaning in item.arguments:
            _, places = found.setdefault((name, unit), (meaning, []))
            places.append(f"{item.module}.{item.name}")
    return Table(
        "Arguments",
        (
            Column("name", "Name"),
            Column("unit", "Unit"),
            Column("meaning", "Meaning"),
            Column("where", "For instance in"),
        ),
        tuple(
            (name, _unit(unit), meaning, _first_of(places))
            for (name, unit), (meaning, places) in sorted(found.items())
        ),
        note="Inside the code everything is in SI units and radians.",
    )


def _first_of(places: list[str]) -> str:
    more = len(places) - 1
    return places[0] + (f" and {more} more" if more else "")


def nomenclature_names() -> Table:
    """Return every public function and class: module, name, first sentence of its description."""
    return Table(
        "Functions and classes",
        (Column("name", "Name"), Column("meaning", "What it is or does")),
        tuple((f"calc.{item.module}.{item.name}", item.meaning) for item in names()),
    )
