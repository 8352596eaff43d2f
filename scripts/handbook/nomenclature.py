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
from calc.units import KINDS, spoken
from scripts.handbook.names import answer
from scripts.runtime import ROOT

PACKAGE = ROOT / "calc"
LEFT_OUT = ("frontends", "__main__", "render", "calculators")
"""Parts of the package that draw and carry rather than compute."""

_UNIT = re.compile(r"\[(-|1|1/[a-z]+|[A-Za-z][^\]]{0,39})\](?![\w(])")
"""A unit in a docstring; [0/90]s is a stack of plies."""
_SHAPE = re.compile(
    r"\((?:\.\.\.|…|[\w ,.…]*\b(?:n|m|n_\w+|c|p|l|N|count|cases|\d)\b[\w ,.…]*)\)"
    r"(?= ?[,;:.]| or | |$)"
)
"""The shape of an array, such as (…, n_m), where it opens a meaning."""
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
        text = re.sub(r"\.\.\.", "…", " ".join(body)).replace("`", "")
        units = _UNIT.findall(text)
        entries = [name.strip() for name in head.split(":")[0].split(",")]
        if len(units) != len(entries):
            units = units[:1] * len(entries) or [""] * len(entries)
        for name, unit in zip(entries, units, strict=True):
            yield name, written(unit), meaning_of(name, entries, text)


def meaning_of(name: str, group: list[str], text: str) -> str:
    """Return what an entry says of a name: whole words, without the units, any shape at its end.

    >>> meaning_of("skin_thickness", ["skin_thickness"], "[m], each skin.")
    'Skin thickness, each skin.'
    >>> meaning_of("frequency", ["frequency"], "(…, m) natural frequencies [rad/s].")
    'Natural frequencies; shape (…, m).'
    """
    # a direction given inside the brackets belongs to the meaning
    said = _UNIT.sub(lambda m: f", from {m[1].partition(' from ')[2]}" * (" from " in m[1]), text)
    said = re.sub(r"\s+([.,;:])", r"\1", " ".join(said.split()))
    said = re.sub(r",(?=[ ,]*[.,;])[ ,]*", "", said)
    shapes = []
    while found := _SHAPE.match(said):
        shapes.append(found[0])
        said = said[found.end() :].removeprefix(" or").strip()
    while said[:1] in (",", ";", ":", ".") and said[1:2] in (",", ";", ":", ".", ""):
        said = said[1:]
    words = name.replace("_", " ")
    if re.match(r"[,;]", said):
        said = words + said
    elif re.match(r"ascending\b", said):
        said = f"{words}, {said}"
    elif re.match(r"on ", said):
        said = f"{words} {said}"
    elif re.match(r"and ", said):
        said = f"{group[0].replace('_', ' ')} {said}"
    elif re.match(r"of ", said):
        said = f"{words}: {said}"
    elif re.fullmatch(r"[A-Za-z]{1,2}(?:_\w+)?\.", said):
        said = f"{words}, {said}"
    said = said.lstrip(",;:. ") or f"{words}."
    if shapes:
        body, stop, rest = said.partition(". ")
        said = f"{body.removesuffix('.')}; shape {' or '.join(shapes)}."
        said += f" {rest}" if stop else ""
    # a word opens with a capital; a symbol or a value that is typed does not
    if re.match(r"[a-z]{3,}[ ,;.]", said) and said.split()[0] not in ("omega", "sqrt"):
        said = said[0].upper() + said[1:]
    return said


def written(unit: str) -> str:
    """Return a docstring's unit as the page writes it.

    >>> written("kg/m3"), written("-"), written("any one unit"), written("rad from x")
    ('kg/m³', '–', 'any unit', 'rad')
    """
    plain = unit.partition(" from ")[0].replace("any one unit", "any unit")
    plain = re.sub(r"(?<=[a-z])[23]\b", lambda m: "²³"[int(m[0]) - 2], plain)
    return _unit(plain.replace("N m", "N·m"))


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
    return {"1": "–", "-": "–", "": "–"}.get(text, spoken(text))


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
            (name, unit, meaning, _first_of(places))
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
