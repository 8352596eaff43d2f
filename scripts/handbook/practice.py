"""Rules of thumb beside computed answers, what thickness costs, what numbers rest on: tables.

What people say is marked common practice. What stands beside it is computed by the calculators
when the page is built, so that neither can drift from the other unseen.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple
from urllib.parse import urlencode

from calc import materials
from calc.materials import bonding
from calc.report import Column, LowerLimit, Table
from calc.units import parse
from scripts.handbook import names
from scripts.handbook.rocket_family import AT_LEAST, FIN_CHECK, MARGINAL, ROCKETS, Rocket, places


class Rule(NamedTuple):
    """What people say for one kind of rocket (common practice, no published source)."""

    words: str
    material: str
    thickness: str
    """The sheet that the rule gives the biggest of the motors."""


RULES: Mapping[str, Rule] = {
    "sprite": Rule("balsa 1/16 in", "balsa", "1/16 in"),
    "starter": Rule("balsa 1/16 to 3/32 in", "balsa", "3/32 in"),
    "sport": Rule("balsa 3/32 to 1/8 in", "balsa", "1/8 in"),
    "payload": Rule("balsa 1/8 in", "balsa", "1/8 in"),
    "dart": Rule("birch plywood 1/8 in", "birch-plywood", "1/8 in"),
    "tall": Rule("birch plywood 1/8 in", "birch-plywood", "1/8 in"),
    "mid": Rule("birch plywood 1/8 in", "birch-plywood", "1/8 in"),
    "project": Rule("birch plywood 1/4 in", "birch-plywood", "1/4 in"),
}
"""Thickness by motor class as fliers pass it on, by the family's rockets (common practice)."""
BESIDE = ("balsa", "basswood", "birch-plywood")
"""Materials whose computed thickness stands beside each rule."""
THICKNESSES = ("1/16 in", "3/32 in", "1/8 in", "3/16 in", "1/4 in")
"""Balsa sheets of the table of what thickness costs."""


LONG_ROD = "6 m"
"""Rod of the checks beside the rules, so that they judge the fin and not the launch."""


def _inputs(rocket: Rocket, rule: Rule) -> dict[str, str]:
    return {
        **rocket.texts,
        "rod": LONG_ROD,
        "material": rule.material,
        "thickness": rule.thickness,
    }


def thumb_rules() -> Table:
    """Return what people say by motor class beside what the search finds for the same rocket."""
    found = {name: places(name) for name in BESIDE}
    rows, links = [], []
    for index, rocket in enumerate(ROCKETS):
        rule = RULES[rocket.name]
        check = names.answer("fin-check", **_inputs(rocket, rule))
        margin = check.margin
        rows.append(
            (
                rocket.motors,
                *(_size(found[name][index].found) for name in BESIDE),
                rule.words,
                check.state,
                LowerLimit(margin.value) if margin.bound else margin.value,
                _limit(check),
                names.both(rocket.speed, "speed"),
                names.both(1e-3 * rocket.span, "length"),
            )
        )
        links.append(f"{FIN_CHECK}?{urlencode(_inputs(rocket, rule))}")
    return Table(
        "Thickness by motor class: what the fin check finds, and what people say",
        (
            Column("motors", "Motors"),
            *(
                Column(name, f"Thinnest {materials.load(name).label.lower().split()[0]}")
                for name in BESIDE
            ),
            Column("said", "People say"),
            Column("state", "That sheet"),
            Column("margin", "Its margin", "number"),
            Column("limit", "What limits it"),
            Column("speed", "At top speed"),
            Column("span", "Span"),
        ),
        tuple(rows),
        note=f"{MARGINAL} {AT_LEAST} Thinnest: the thinnest stock sheet that holds, of birch "
        "plywood for birch. What people say is common practice. The rockets are the eight "
        "invented ones of the materials pages, on the biggest of these motors. Computed for fin, "
        "usual joint, hand and landing, with the grain along the leading edge and square edges. "
        "Open a row to see it.",
        links=tuple(links),
    )


def _limit(check: names.Answers) -> str:
    """Return which margin of a check is the smallest."""
    verdict = check.report.verdict
    assert verdict is not None
    return next(m.label for m in check.report.modes if m.name == verdict.governs).lower()


def _size(found: object) -> str:
    stock = getattr(found, "stock", None)
    return stock.trade_label if getattr(found, "holds", False) and stock is not None else "none"


def thickness_cost() -> Table:
    """Return what each thicker balsa sheet gives and costs on the example fin and rocket."""
    rows, links = [], []
    for thickness in THICKNESSES:
        fin = names.answer("fin-check", thickness=thickness)
        rocket = names.answer("weight-effect", thickness=thickness)
        margin = fin.margin
        rows.append(
            (
                names.sold_as(thickness, parse(thickness, "length")),
                fin.state,
                LowerLimit(margin.value) if margin.bound else margin.value,
                names.both(fin.set_mass.value, "mass"),
                names.both(rocket.shift.value, "length"),
                names.both(rocket.fins_cost.value, "altitude"),
            )
        )
        links.append(f"{FIN_CHECK}?thickness={thickness.replace(' ', '+')}")
    return Table(
        "The example fin in thicker and thicker balsa",
        (
            Column("thickness", "Balsa"),
            Column("state", "Verdict"),
            Column("margin", "Margin", "number"),
            Column("mass", "Set of three"),
            Column("shift", "Balance moves aft"),
            Column("height", "Height the fins cost"),
        ),
        tuple(rows),
        note=f"{MARGINAL} {AT_LEAST} Margin of the fin from the fin check; balance and height from "
        "the calculator of balance and height, with its example rocket, glue and finish counted.",
        links=tuple(links),
    )


LEVELS = ("cheap", "medium", "expensive")
"""Classes of price beside balsa of the same size."""


def price_classes() -> Table:
    """Return which materials are cheap, medium and expensive beside balsa."""
    by_level: dict[str, list[str]] = {level: [] for level in LEVELS}
    for name in materials.names():
        material = materials.load(name)
        if material.price is not None:
            by_level[material.price.level].append(material.label)
    return Table(
        "What a sheet costs beside balsa of the same size",
        (Column("level", "Class"), Column("materials", "Materials")),
        tuple((level, "; ".join(sorted(found))) for level, found in by_level.items()),
        note="Common practice, 2026; shops differ. The class is of one sheet, or a print as big, "
        "beside a balsa sheet of the same length, width and thickness. The material finder's "
        "prices are another thing: invented, until you give your own, and for the material in a "
        "whole set of fins at the thickness that holds. A material that is cheap by the sheet can "
        "be dear by the set, because it must be thicker, and the invented prices need not follow "
        "these classes.",
    )


BASES = ("published", "computed", "memory", "practice")
"""What a value of the materials data can rest on, the firmest first."""
REMEMBERED = ("memory", "practice")
"""Bases without a document that was read."""


def basis_counts() -> Table:
    """Return how many values of the materials data have each kind of basis, scatter apart."""
    bonds = {*bonding.GLUE_RECORDS, *(f"{name}-tube" for name in bonding.TUBE_RECORDS)}
    counted: dict[str, dict[str, int]] = {
        part: dict.fromkeys(BASES, 0)
        for part in ("Sheets, cores and skins", "Glues and tubes", "How much sheets differ")
    }
    sheets, glues, spread = counted
    for row in materials.rows():
        if row["group"] == "scatter":
            part = spread
        else:
            part = glues if row["material"] in bonds else sheets
        counted[part][row["basis"]] += 1
    counted["All"] = {base: sum(part[base] for part in counted.values()) for base in BASES}
    rows = []
    for part, bases in counted.items():
        total = sum(bases.values())
        unread = sum(bases[base] for base in REMEMBERED)
        rows.append((part, *(str(bases[base]) for base in BASES), f"{unread / total:.0%}"))
    return Table(
        "What the values rest on",
        (
            Column("part", "Values of"),
            Column("published", "Published"),
            Column("computed", "Computed"),
            Column("memory", "From memory"),
            Column("practice", "Common practice"),
            Column("unread", "Memory or practice"),
        ),
        tuple(rows),
        note="Counted from the data when the page was built. Hardly anybody publishes how much "
        "two sheets of one kind differ: that row is worked out from the bands of published tables, "
        "or is common practice.",
    )
