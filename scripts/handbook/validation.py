"""The Validation page: published values beside ours, from the snapshot that the tests wrote.

Only the build imports this: it reads a file of the documentation, not of the package.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from calc.report import Column, Figure, Table
from calc.units import plain
from scripts.handbook.names import Number
from scripts.handbook.tables import typeset
from scripts.runtime import ROOT

FILE = "docs/assets/data/validation.json"
"""The snapshot; `pytest tests/validation --record` renews it."""
_FILE = ROOT / FILE

SHOWN = 8
"""Rows of a table on the page, worst first; the rest is in the download."""


@dataclass(frozen=True)
class Group:
    """A part of the page: its title and the test files it gathers."""

    title: str
    files: tuple[str, ...]


GROUPS: Mapping[str, Group] = {
    "flutter": Group("Flutter and divergence", ("test_aeroelastic", "test_strip")),
    "air": Group(
        "Air", ("test_lifting_surface", "test_outline_air", "test_mach_box", "test_atmosphere")
    ),
    "plate": Group(
        "Plates",
        (
            "test_plate_isotropic",
            "test_plate_orthotropic",
            "test_plate_finite_elements",
            "test_outline_finite_elements",
        ),
    ),
    "material": Group("Materials", ("test_materials_published", "test_wood_moisture_published")),
    "layup": Group("Plies and cores", ("test_layup_published", "test_layup_independent_library")),
    "bench": Group("Sheet tests", ("test_sheet",)),
    "joint": Group(
        "Joints, rings and landing",
        ("test_joint_published", "test_rings_published", "test_landing_published"),
    ),
    "flight": Group(
        "Flight and balance",
        ("test_flight_independent", "test_motor_classes", "test_weight_published"),
    ),
    "cutting": Group("Cutting plans", ("test_nesting",)),
}
"""The parts of the page, in its order."""

BASES = {
    "measured": "measurement",
    "published": "published value",
    "exact": "exact theory",
    "library": "independent calculation",
}
"""What stands on the published side, in words."""


@cache
def _rows() -> tuple[dict[str, Any], ...]:
    if not _FILE.exists():
        raise ValueError(f"{FILE} is missing: make it with pytest tests/validation --record")
    return tuple(json.loads(_FILE.read_text(encoding="utf-8"))["rows"])


def _of(group: str) -> list[dict[str, Any]]:
    if group not in GROUPS:
        raise KeyError(f"no group {group!r}; there are: {', '.join(GROUPS)}")
    found = [row for row in _rows() if row["group"] in GROUPS[group].files]
    return sorted(found, key=_size, reverse=True)


def _size(row: Mapping[str, Any]) -> float:
    return abs(row["difference"]) if row["difference"] is not None else 0.0


def percent(difference: float | None) -> str:
    """Return a relative difference in words a reader can compare.

    >>> percent(0.0341), percent(-0.12), percent(0.0), percent(None)
    ('+3.4 %', '−12 %', 'none', '–')
    """
    if difference is None:
        return "–"
    if difference == 0.0:
        return "none"
    if abs(difference) < 5e-5:
        return "under 0.01 %"
    return f"{float(f'{100.0 * difference:.2g}'):+g} %".replace("-", "−")


def _amount(value: float | None) -> str:
    return "–" if value is None else plain(value, digits=7)


def validation_table(group: str) -> Table:
    """Return one group's comparisons, worst first."""
    rows = _of(group)
    if not rows:
        raise ValueError(f"{FILE} has no rows of {group!r}")
    shown = tuple(
        (
            typeset(row["case"] + (f" [{row['unit']}]" if row["unit"] else "")),
            _amount(row["published"]),
            _amount(row["ours"]),
            percent(row["difference"]),
            typeset(row["tolerance"]),
            BASES[row["basis"]],
            row["source"],
        )
        for row in rows[:SHOWN]
    )
    left = len(rows) - len(shown)
    least = percent(_size(rows[len(shown) - 1])).lstrip("+")
    note = (
        f"The {len(shown)} worst of {len(rows)} comparisons. The other {left} differ by no more "
        f"than the last row ({least}) and are in the download."
        if left
        else f"All {len(rows)} comparisons."
    )
    return Table(
        GROUPS[group].title + ", worst first",
        (
            Column("case", "Case"),
            Column("published", "Published"),
            Column("ours", "Ours"),
            Column("difference", "Difference"),
            Column("tolerance", "Tolerance and where it comes from"),
            Column("basis", "Against"),
            Column("source", "Source"),
        ),
        shown,
        note=note,
    )


UNPROMISED: Mapping[str, str] = {
    "flutter": "frequencies, and speeds on a lattice finer than the one the calculators use, are "
    "shown for comparison only",
    "air": "linear theory alone near and beyond Mach 1, before the fin check's factor; and one "
    "printed run whose mesh is too coarse",
    "cutting": "squares without gaps, where only the very best cut fills the sheet",
}
"""Why a part shows rows without a promise; each part that has such rows is named here."""


def validation_summary() -> Table:
    """Return how many comparisons each part has, how many are measured, and its worst ones."""
    rows, reasons = [], []
    for group, about in GROUPS.items():
        every = _of(group)
        measured = [row for row in every if row["basis"] == "measured"]
        promised = [row for row in every if row["within"] is not None]
        left = [row for row in every if row["within"] is None]
        rows.append(
            (
                about.title,
                str(len(every)),
                str(len(measured) or "–"),
                _worst(row for row in promised if row["basis"] == "measured"),
                _worst(row for row in promised if row["basis"] != "measured"),
                _worst(left),
            )
        )
        if left:
            worst = percent(_size(left[0])).lstrip("+")
            reasons.append(f"{about.title} ({len(left)}, up to {worst}): {UNPROMISED[group]}.")
    return Table(
        "All parts",
        (
            Column("part", "Part"),
            Column("count", "Comparisons"),
            Column("measured", "Of these, measured"),
            Column("worst_measured", "Worst promised, against a measurement"),
            Column("worst_other", "Worst promised, against theory or tables"),
            Column("worst_left", "Worst not promised"),
        ),
        tuple(rows),
        note="Promised means that the test fails beyond the tolerance stated with the row. Some "
        "rows are shown without a promise, and they can be further off; they lead the tables "
        "below. " + " ".join(reasons),
    )


def _worst(rows: Iterable[Mapping[str, Any]]) -> str:
    """Return the difference of the first of rows that stand worst first."""
    first = next(iter(rows), None)
    return "–" if first is None else percent(first["difference"])


def validation_count(basis: str = "") -> Number:
    """Return the number of comparisons, or of those with one basis, for a sentence."""
    return Number(float(sum(row["basis"] == basis or not basis for row in _rows())))


def validation_off(*words: str) -> Number:
    """Return the largest difference, as a size, among the cases that hold all words.

    Cases without a promise count only where there are no others.

    Raises
    ------
    LookupError
        Where no case does.
    """
    found = [row for row in _rows() if all(word in row["case"] for word in words)]
    promised = [row for row in found if row["within"] is not None]
    if not found:
        raise LookupError(f"no validation case holds {' and '.join(map(repr, words))}")
    return Number(max(map(_size, promised or found)), "fraction")


def validation_chart() -> Figure:
    """Return flutter and divergence speeds, ours over measured, against the measured speed."""
    points = []
    off = 0
    for row in _of("flutter"):
        speed = row["unit"] == "m/s" or row["case"].endswith("m/s")
        if row["basis"] != "measured" or not speed or row["ours"] is None:
            continue
        ratio = row["ours"] / row["published"]
        if not 0.5 < ratio < 2.0:
            off += 1
            continue
        family = "measured, answer of the handbook" if row["within"] is not None else (
            "the same on a fine lattice"
        )  # fmt: skip
        label = next((part for part in row["case"].split(", ") if "Mach 0.960" in part), "")
        points.append(
            {
                "x": row["published"],
                "y": ratio,
                "label": label.split(":")[0] if row["within"] is not None else "",
                "family": family,
            }
        )
    ends = [min(p["x"] for p in points) / 1.2, max(p["x"] for p in points) * 1.2]
    return Figure(
        "scatter",
        "Speed at which wings fluttered or diverged: ours over measured",
        "1 is agreement; above it we answer late, the unsafe side. The broken lines are 10 % off."
        + (f" {off} supersonic points lie far below the picture (see the table)." if off else ""),
        {
            "x": {"label": "Measured speed", "kind": "speed", "unit": "m/s", "log": True},
            "y": {"label": "Ours over measured", "kind": "number", "low": 0.8, "high": 1.2},
            "points": points,
            "guides": [{"x": ends, "y": [level, level]} for level in (0.9, 1.0, 1.1)],
        },
    )
