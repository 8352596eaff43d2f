"""What the handbook prints of a rocket's file: its names, an example, its schema."""

from __future__ import annotations

import json

from calc import calculators, rocket
from calc.forms import Calculator
from calc.report import Column, Table


def _all() -> list[Calculator]:
    return [calculators.load(slug) for slug in calculators.SLUGS]


def rocket_names(*, own: bool = False) -> Table:
    """Return the names of a rocket's file with what they are.

    Parameters
    ----------
    own
        Whether to list what only one calculator keeps for itself ("sheet-test.sag_along").
    """
    rows = []
    for name, takers in rocket.union(_all()).items():
        if (name.partition(".")[2] != "") is own:
            item = takers[0][1]
            where = dict.fromkeys(c.title for c, _ in takers if c.slug != "rocket")
            rows.append((name, item.label, item.default or "(left open)", ", ".join(where)))
    return Table(
        "Kept by one calculator" if own else "What a rocket may say",
        (
            Column("name", "Name"),
            Column("label", "What it is"),
            Column("usual", "Left out, it is"),
            Column("where", "Used by"),
        ),
        tuple(rows),
    )


def schema_text() -> str:
    """Return the JSON Schema as the site offers it."""
    return json.dumps(rocket.schema(_all()), ensure_ascii=False, indent=1) + "\n"
