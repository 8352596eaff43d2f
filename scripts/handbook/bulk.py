"""The worked range of kits for the page on bulk runs: its table, computed when the site is built.

Only the build imports this: it reads a file of the documentation, not of the package.
"""

from __future__ import annotations

from functools import cache

from calc import units
from calc.frontends.terminal import batch
from calc.report import WORDS, Column, Table
from scripts.handbook.links import PAGES
from scripts.handbook.names import Number, both, sold_as
from scripts.handbook.rocket_family import DOES_NOT_HOLD, MARGINAL
from scripts.runtime import ROOT

FILE = "docs/assets/data/range-of-kits.csv"
"""The invented range that the page offers for download."""
_FILE = ROOT / FILE


@cache
def _answered() -> tuple[dict[str, str], ...]:
    """Return the rows of the file with their answers; a bad row stops the build."""
    table = batch.read(_FILE)
    rows = []
    for cells, row, problem in zip(table.cells, table.rows, table.problems, strict=True):
        answered = {"error": problem} if problem else batch.answer_row(row)
        if "error" in answered:
            raise ValueError(f"{FILE}: {answered['error']}")
        rows.append(dict(zip(table.header, cells, strict=True)) | answered)
    return tuple(rows)


def range_of_kits(up: str = "../../") -> Table:
    """Return the table of the worked range; `up` leads from the page to the root of the site."""
    rows = tuple(
        (
            f"{row['#kit']}, {row['#fin']}",
            _said(row),
            row["governs"],
            sold_as(row["thickness"], units.parse(row["thickness"], "length")),
            both(units.parse(row["demand_speed [m/s]"], "speed"), "speed"),
            both(units.parse(row["set_mass [kg]"], "mass"), "mass"),
        )
        for row in _answered()
    )
    return Table(
        "A range of kits (invented), answered as one table",
        (
            Column("fin", "Kit and fin"),
            Column("verdict", "Verdict", fold=20),
            Column("governs", "What governs"),
            Column("thickness", "Thickness"),
            Column("speed", "Judged at"),
            Column("mass", "All its fins"),
        ),
        rows,
        note="Each line opens the fin check filled in. Each fin is judged at the moment of its "
        f"flight that leaves it the smallest margin. {MARGINAL} {DOES_NOT_HOLD}",
        links=tuple(f"{up}{PAGES['fin-check']}?{row['query']}" for row in _answered()),
    )


def _said(row: dict[str, str]) -> str:
    """Return the verdict's word with its margin; beyond the model no margin is promised."""
    word = WORDS[row["verdict"]]
    if row["verdict"] == "unknown":
        return f"{word}: the model does not reach that far"
    return f"{word}, margin {_margin(row)}"


def _margin(row: dict[str, str]) -> str:
    limit = "at least " if row.get("only_limits", "").startswith("margin ") else ""
    spread = ""
    if "margin_low" in row:
        spread = f" ({float(row['margin_low']):.2f} to {float(row['margin_high']):.2f})"
    return f"{limit}{float(row['margin']):.2f}{spread}"


def kits_that(state: str) -> Number:
    """Return how many rows of the worked range have this verdict (``holds``, ``fails`` ...)."""
    return Number(float(sum(row["verdict"] == state for row in _answered())))


NAMES = {"range_of_kits": range_of_kits, "kits_that": kits_that}
"""What a page may ask for; `scripts.handbook.names` adds these to its own."""
