"""What the outline alone does: fins of one area, span, sheet and grain, compared."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import cast

from calc import calculators
from calc.calculators import shared
from calc.report import Column, LowerLimit, Report, Table

SPAN = "2.5 in"
SHEET = {"material": "birch-plywood", "thickness": "1/32 in", "speed": "100 m/s"}
"""Plywood bends nearly alike both ways, so that the outline decides and not the grain."""
OUTLINES: Mapping[str, Mapping[str, str]] = {
    "rectangle": {"root": "2.25 in", "tip": "2.25 in", "sweep": "0 in"},
    "tapered": {"root": "3 in", "tip": "1.5 in", "sweep": "0.75 in"},
    "tapered, swept": {"root": "3 in", "tip": "1.5 in", "sweep": "1.5 in"},
    "tapered, strongly swept": {"root": "3 in", "tip": "1.5 in", "sweep": "3 in"},
    "clipped delta": {"root": "3.75 in", "tip": "0.75 in", "sweep": "3 in"},
    "delta": {"root": "4.5 in", "tip": "0 in", "sweep": "4.5 in"},
    "half ellipse": {"outline": "ellipse", "root": "2.865 in", "sweep": "0 in"},
    "leaning ellipse": {"outline": "ellipse", "root": "2.865 in", "sweep": "1.5 in"},
}
"""Eight fins of 5.625 square inches and one span, by the inputs of the fin check."""


def texts(name: str) -> dict[str, str]:
    """Return the inputs of one of the fins."""
    return {**OUTLINES[name], "span": SPAN, **SHEET}


@cache
def checked(name: str) -> Report:
    """Return the fin check's answer for one of the fins."""
    return calculators.run("fin-check", texts(name))


def first_speed(name: str) -> float:
    """Return the speed at which one of the fins first flutters or diverges [m/s]."""
    report = checked(name)
    return min(report.answer(f"{way}_speed").value for way in ("flutter", "divergence"))


def _fills(name: str) -> float:
    """Return the share of the length used that twelve of the fins fill of a square sheet."""
    inputs = {**texts(name), "sheet": "12x12in", "count": "12", "tries": "20"}
    del inputs["speed"]
    return calculators.run("cutting-plan", inputs).answer("used_yield").value


def outlines_compared() -> Table:
    """Return the governing results of each of the fins, for use in a page."""
    rows = []
    for name in OUTLINES:
        report = checked(name)
        values, _ = calculators.load("fin-check").read(texts(name))
        shape = shared.outline_of(cast(shared.OutlineValues, values))
        pressure = shape.mean_chord_x + 0.25 * shape.mean_chord
        ratios = {mode.name: mode.margin for mode in report.modes}
        bounds = [report.answer(f"{way}_speed").bound for way in ("flutter", "divergence")]
        speed = first_speed(name)
        rows.append(
            (
                name.capitalize(),
                LowerLimit(speed) if all(bounds) else speed,
                report.answer("frequency_1").value,
                ratios["bending"],
                ratios["handling"],
                pressure,
                _fills(name),
            )
        )
    return Table(
        "Eight outlines of one area and one span",
        (
            Column("outline", "Outline"),
            Column("speed", "First flutters or diverges at", "speed", 3),
            Column("frequency", "First frequency", "frequency", 3),
            Column("root", "Margin of the root in bending", "number"),
            Column("thumb", "Margin under a thumb on the tip", "number"),
            Column("pressure", "Air acts behind the root's front", "length", 2),
            Column("fills", "Twelve fill of the sheet", "fraction", 2),
        ),
        tuple(rows),
        note="Birch plywood 1/32 in, square edges, grain along the leading edge, judged at "
        "100 m/s near the ground. Mass is the same for all.",
        sortable=True,
    )
