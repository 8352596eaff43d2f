"""One rocket through every calculator, and the file that keeps it.

A rocket is a mapping from names to texts as they were typed: ``{"root": "3 in", "motor": "D"}``.
Every calculator takes from it what it declares, under the same name, unless `MEANS` says that the
name means something of this calculator's own. The address of a page, a row of a table, the command
line, the reader's device and the file hold the same mapping.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from calc.errors import InputError
from calc.forms import Calculator, Input

VERSION = 1
"""Version of the file; raised only when an older reader could misread a newer file."""
NAME = "name"
"""Stands in `MEANS` for the rocket's own name, which is no input of a calculator."""
LONGEST_NAME = 60
LONGEST_TEXT = 4000
"""Longest text of one input [characters]; anything longer is a file gone wrong."""
ABOUT = (
    "Rockets kept by Finstock, a handbook of fins for small rockets. Inputs are texts as a person "
    "typed them, with units: 3/32 in is three thirty-seconds of an inch. The names are explained "
    "in the handbook under Reference, The rocket's file."
)
"""First words of every file, so that a person who finds it knows what it is."""

WHOLE = "*"
MEANS: Mapping[str, Mapping[str, str]] = {
    "break-a-joint": {"root": "break-a-joint.root"},
    "cutting-plan": {"count": "parts", "around": "count"},
    "field-card": {
        "rocket": NAME,
        "only": "field-card.only",
        "date": "field-card.date",
        "address": "",
    },
    "landing": {"mass": "landing_mass"},
    "moisture": {
        "temperature": "moisture.temperature",
        "temperature_before": "moisture.temperature_before",
        "humidity_before": "moisture.humidity_before",
        "humidity": "moisture.humidity",
        "width": "moisture.width",
    },
    "ring": {
        name: f"ring_{name}"
        for name in (
            "material", "thickness", "density", "cut", "adhesive", "fillet", "thrust",
            "modulus_along", "modulus_across", "shear_modulus", "poisson", "own_density",
            "strength_along", "strength_across", "shear_strength", "spread",
        )
    },
    "weight-effect": {"mass": "balanced_mass", "balance_point": "balanced_point"},
    "repair": {name: f"repair.{name}" for name in ("damage", "mend", "slope", "added")},
    "substitute": {
        name: f"substitute.{name}"
        for name in ("instead", "instead_thickness", "instead_density", "least_margin")
    },
    "rocket": {"rocket": NAME},
    "compare": {WHOLE: ""},
    "ply-layup": {WHOLE: "ply-layup."},
    "faced-core": {WHOLE: "faced-core."},
    "sheet-test": {WHOLE: "sheet-test."},
}  # fmt: skip
"""By calculator and input, the name in a rocket of what means something else there.

A scrap joint is shorter than a fin's root, the mass of the landing is that of the empty motor, a
rocket may be balanced without its fins, a ring is cut from a sheet of its own, and a stack of plies
is no fin yet. `WHOLE` stands for every input that has no line of its own. An empty name is never
kept.
"""
ELSE: Mapping[str, str] = {
    "landing_mass": "mass",
    "parts": "count",
    "balanced_point": "balance_point",
}
"""What stands in for a name that a rocket does not give.

The mass at lift-off is more than the mass that lands, so it errs toward a harder landing. A plan
cuts as many fins as the rocket has.
"""
BENCH = frozenset(
    {
        "currency", "price_list", "minimum_order", "hourly_rate", "set_minutes",
        "kit_sets",
    }
)  # fmt: skip
"""Names that belong to the reader's bench and not to one rocket: the file's "prices"."""
SHARED = frozenset({"units"})
"""Names that mean the same on every page, also on those that keep everything else to themselves."""
UNSAID: Mapping[str, Mapping[str, str]] = {
    "landing": {"descent": "speed", "length": ""},
    "moisture": {"thickness": "1/8 in"},
    "ring": {"body": "1.6 in", "wall": "0.5 mm"},
    "root-joint": {"joint": "usual"},
}
"""By calculator and input, what a rocket means that leaves this name out.

It means what the check of the whole rocket takes, so that one rocket has one answer. The examples
of these calculators show something else: a joint that is described, a landing under a parachute.
"""
FLIES = ("motor", "thrust", "impulse")
"""Given where the rocket always flies on its motor, one of these says that it does elsewhere."""

ELSEWHERE = ("usual", "none", "points")
"""Choices that only some pages offer: a page that judges many parts leaves one of them as usual or
out, and the cutting plan may cut a part that is no fin. Any other page starts from its own example
instead."""

Texts = Mapping[str, str]


@dataclass(frozen=True)
class Rocket:
    """One rocket with the sheets and prices that came with it."""

    name: str = ""
    inputs: Texts = field(default_factory=dict)
    """Texts by name in the rocket; what is left out is as in the handbook's example."""
    sheets: Mapping[str, Texts] = field(default_factory=dict)
    """Tested sheets by name: texts of a material of one's own."""
    prices: Texts = field(default_factory=dict)
    rest: Mapping[str, Any] = field(default_factory=dict)
    """Fields of the file that this edition does not know, kept for the one that does."""


# Names


def key(slug: str, name: str) -> str:
    """Return the name in a rocket of a calculator's input; "" for one that is never kept.

    >>> key("fin-check", "mass"), key("landing", "mass"), key("ply-layup", "thickness")
    ('mass', 'landing_mass', 'ply-layup.thickness')
    """
    own = MEANS.get(slug, {})
    if name in own:
        return own[name]
    if WHOLE in own and name not in SHARED:
        return own[WHOLE] + name if own[WHOLE] else ""
    return name


def implied(calculator: Calculator, name: str) -> dict[str, str | None]:
    """Return what giving this input says besides, by name in the rocket.

    The fin check judges a known speed or a motor. Where a calculator has no such choice, a reader
    who gives a motor means that the rocket flies on it. None stands for what this form shows there:
    a reader who gives a fillet's radius means a joint with a fillet, though only its radius is new.
    """
    names = {item.name for item in calculator.inputs}
    if name in FLIES and key(calculator.slug, name) == name and "flight" not in names:
        return {"flight": "motor"}
    own = key(calculator.slug, name)
    # what is only of this page, such as the weather that a sheet lies in, says nothing of the fin
    apart = name in SHARED or (own != name and own not in ELSE)
    others = {} if apart else UNSAID.get(calculator.slug, {})
    return {other: None for other in others if other != name}


def union(calculators: Iterable[Calculator]) -> dict[str, list[tuple[Calculator, Input]]]:
    """Return every name a rocket may give, with the inputs that take it."""
    found: dict[str, list[tuple[Calculator, Input]]] = {}
    for calculator in calculators:
        for item in calculator.all_inputs:
            name = key(calculator.slug, item.name)
            if name:
                found.setdefault(name, []).append((calculator, item))
    found.pop(NAME, None)
    return found


# Views


def inputs_of(rocket: Rocket, calculator: Calculator) -> dict[str, str]:
    """Return the texts that a calculator takes from a rocket; the rest of its form is as usual."""
    given = {**rocket.prices, **rocket.inputs, **({NAME: rocket.name} if rocket.name else {})}
    texts = {}
    for item in calculator.all_inputs:
        name = key(calculator.slug, item.name)
        if name not in given:
            name = ELSE.get(name, "")
        # left open elsewhere, it is here as it usually is
        elsewhere = (
            item.kind == "choice"
            and given.get(name) in ELSEWHERE
            and given[name] not in item.allowed
        )
        if elsewhere or (name not in given and rocket.inputs):
            unsaid = UNSAID.get(calculator.slug, {}).get(item.name)
            if unsaid is not None:
                texts[item.name] = unsaid
        elif name in given and (given[name].strip() or item.optional):
            texts[item.name] = given[name]
    return texts


def with_inputs(rocket: Rocket, calculator: Calculator, texts: Texts) -> Rocket:
    """Return a rocket with what was given to a calculator.

    Older input names are translated. Names that this calculator does not have are passed over.
    """
    inputs, prices, named = dict(rocket.inputs), dict(rocket.prices), rocket.name
    shown = {**calculator.defaults(), **inputs_of(rocket, calculator), **texts}
    known = {item.name for item in calculator.all_inputs}
    for old, text in texts.items():
        name = calculator.aliases.get(old, old)
        place = key(calculator.slug, name)
        if name not in known or not place:
            continue
        if place == NAME:
            named = text
        elif place in BENCH:
            prices[place] = text
        else:
            inputs[place] = text
            for other, said in implied(calculator, name).items():
                if said is None and shown[other] == UNSAID[calculator.slug][other]:
                    continue
                inputs.setdefault(other, shown[other] if said is None else said)
    return replace(rocket, name=named, inputs=inputs, prices=prices)


# The file

_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")


def _clean(text: str) -> str:
    r"""Return a text without control characters; half a character becomes the sign for a lost one.

    >>> _clean("Wren\x07 \ud83d")
    'Wren \ufffd'
    """
    whole = text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")
    return _CONTROL.sub("", whole)


def _refused(value: object, wants: str) -> InputError:
    return InputError("file", value if isinstance(value, str) else json.dumps(value)[:60], wants)


def _texts(found: Any, where: str) -> dict[str, str]:
    """Return a mapping of names to texts; a number is taken as the text that writes it."""
    if not isinstance(found, dict):
        raise _refused(found, f"{where} as an object of names and texts")
    texts = {}
    for name, value in found.items():
        if isinstance(value, int | float) and not isinstance(value, bool):
            value = repr(value)
        if not isinstance(value, str):
            raise _refused(value, f'{where}, {_clean(name)!r}: a text such as "3/32 in"')
        if len(value) > LONGEST_TEXT:
            raise _refused(value, f"{where}, {_clean(name)!r}: at most {LONGEST_TEXT} characters")
        texts[_clean(name)] = _clean(value)
    return texts


_KNOWN = ("finstock", "about", "schema", "name", "inputs", "sheets", "prices", "rockets")


def _rocket(found: Any, where: str) -> Rocket:
    if not isinstance(found, dict):
        raise _refused(found, f"{where} as an object")
    name = found.get("name", "")
    if not isinstance(name, str):
        raise _refused(name, f"{where}: name as a text")
    sheets = found.get("sheets", {})
    if not isinstance(sheets, dict):
        raise _refused(sheets, f"{where}: sheets as an object")
    return Rocket(
        name=_clean(name).strip()[:LONGEST_NAME],
        inputs=_texts(found.get("inputs", {}), f"{where}: inputs"),
        sheets={
            _clean(title): _texts(texts, f"{where}: sheet {_clean(title)!r}")
            for title, texts in sheets.items()
        },
        prices=_texts(found.get("prices", {}), f"{where}: prices"),
        rest={name: value for name, value in found.items() if name not in _KNOWN},
    )


def read(text: str | bytes) -> list[Rocket]:
    """Return the rockets of a file.

    A file holds one rocket, or several under "rockets" with the sheets and prices that all share.
    Unknown fields are kept, broken characters replaced.

    Raises
    ------
    InputError
        Naming "file", where it is no file of ours, or of a later version.
    """
    if isinstance(text, bytes):
        try:
            text = text.decode("utf-8-sig")
        except UnicodeDecodeError as problem:
            raise InputError("file", "", f"a text in UTF-8 ({problem.reason})") from None
    try:
        found = json.loads(text.removeprefix("\ufeff"))
    except RecursionError:
        raise InputError("file", "", "a rocket's file: this one is nested too deep") from None
    except ValueError as problem:
        raise InputError("file", text[:40], f"a rocket's file, which is JSON ({problem})") from None
    if not isinstance(found, dict) or "finstock" not in found:
        raise InputError("file", text[:40], 'a rocket\'s file, which begins {"finstock": 1')
    version = found["finstock"]
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        raise _refused(version, '"finstock" as the number of the file\'s version')
    if version > VERSION:
        raise InputError(
            "file", f"version {version}", f"version {VERSION} or earlier, or a newer Finstock"
        )
    if "rockets" not in found:
        return [_rocket(found, "the rocket")]
    if not isinstance(found["rockets"], list):
        raise _refused(found["rockets"], "rockets as a list")
    common = _rocket({**found, "name": "", "inputs": {}}, "the file")
    rockets = [_rocket(each, f"rocket {n}") for n, each in enumerate(found["rockets"], 1)]
    return [
        replace(
            each,
            sheets={**common.sheets, **each.sheets},
            prices={**common.prices, **each.prices},
        )
        for each in rockets
    ]


def write(rockets: Sequence[Rocket]) -> str:
    """Return the text of a file that holds these rockets.

    Sheets and prices are written once. What `read` makes of it is these rockets again, each with
    the sheets and prices of all.
    """
    head: dict[str, Any] = {"finstock": VERSION, "about": ABOUT}
    bodies = [{**each.rest, "name": each.name, "inputs": dict(each.inputs)} for each in rockets]
    shared: dict[str, Any] = {"sheets": {}, "prices": {}}
    for each in rockets:
        shared["sheets"].update({title: dict(texts) for title, texts in each.sheets.items()})
        shared["prices"].update(each.prices)
    shared = {name: value for name, value in shared.items() if value}
    whole = {**head, **bodies[0], **shared} if len(bodies) == 1 else {
        **head, "rockets": bodies, **shared
    }  # fmt: skip
    return json.dumps(whole, ensure_ascii=False, indent=1) + "\n"


def schema(calculators: Sequence[Calculator]) -> dict[str, Any]:
    """Return the JSON Schema of a rocket's file, from the inputs that the calculators declare."""
    names = union(calculators)
    text = {"type": "string", "maxLength": LONGEST_TEXT}

    def described(name: str) -> dict[str, Any]:
        item = names[name][0][1]
        pages = ", ".join(dict.fromkeys(each.slug for each, _ in names[name]))
        return {
            **text,
            "title": item.label,
            "description": f"Takes {item.accepts()}. Used by {pages}.",
            "examples": [item.default] if item.default else [],
        }

    inputs = {name: described(name) for name in names if name not in BENCH}
    prices = {name: described(name) for name in names if name in BENCH}
    loose = {"type": "object", "additionalProperties": text}
    parts = {
        "name": {"type": "string", "maxLength": LONGEST_NAME},
        "inputs": {**loose, "properties": inputs},
        "sheets": {"type": "object", "additionalProperties": loose},
        "prices": {**loose, "properties": prices},
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A rocket's file of Finstock",
        "description": "One rocket, or several under rockets. Unknown names are kept and ignored.",
        "type": "object",
        "required": ["finstock"],
        "properties": {
            "finstock": {"type": "integer", "minimum": 1, "maximum": VERSION},
            "about": {"type": "string"},
            **parts,
            "rockets": {"type": "array", "items": {"type": "object", "properties": parts}},
        },
    }
