"""What the outline alone does: fins of one area, span, sheet and grain, compared."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from html import escape
from typing import cast

from calc import calculators
from calc.calculators import shared
from calc.geometry.outline import Outline
from calc.render.svg.axes import WIDTH
from calc.render.svg.canvas import Canvas, Point
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


def _shape(name: str) -> Outline:
    values, _ = calculators.load("fin-check").read(texts(name))
    return shared.outline_of(cast(shared.OutlineValues, values))


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
        shape = _shape(name)
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


IN_A_ROW = 4
HIGH = 92.0
"""Height of the tallest of the outlines drawn [px]."""
NAMED = 34.0
"""Room under an outline for its name, on at most two lines [px]."""
BODY = 8.0
"""Width of the piece of body tube drawn beside each root [px]."""


@dataclass(frozen=True)
class Silhouettes:
    """A picture of outlines side by side: names, and corners aft and outward from the root [m]."""

    title: str
    caption: str
    shapes: Mapping[str, tuple[Point, ...]]

    def svg(self, id: str) -> str:
        """Return the outlines to one scale, noses up, each on a piece of body tube."""
        lengths = {name: _length(points) for name, points in self.shapes.items()}
        scale = HIGH / max(lengths.values())
        cell = WIDTH / IN_A_ROW
        rows = -(-len(self.shapes) // IN_A_ROW)
        deep = HIGH + NAMED + 20.0
        canvas = Canvas(
            WIDTH, rows * deep, id=id, title=self.title,
            description=f"To one scale, front edge up: {', '.join(self.shapes)}.",
        )  # fmt: skip
        for nth, (name, points) in enumerate(self.shapes.items()):
            left = (nth % IN_A_ROW) * cell + BODY + 1.0
            foot = (nth // IN_A_ROW) * deep + HIGH + 12.0
            last = max(x for x, _ in points)
            placed = [(left + y * scale, foot - (last - x) * scale) for x, y in points]
            top = foot - HIGH - 4.0
            canvas.rect(left - BODY, top, BODY, HIGH + 8.0, "tube")
            canvas.line(left, top, left, foot + 4.0, "line")
            canvas.polygon(placed, "wood")
            canvas.polygon(placed, "ink")
            for line, words in enumerate(_in_lines(name.capitalize())):
                canvas.text(left - BODY, foot + 20.0 + 14.0 * line, words, "small")
        return canvas.svg()

    def html(self, key: str) -> str:
        """Return the picture with its title and caption."""
        return (
            f'<figure class="fs-figure"><p class="fs-figure-title">{escape(self.title)}</p>'
            f"{self.svg(key)}<figcaption>{escape(self.caption)}</figcaption></figure>"
        )


def _length(points: tuple[Point, ...]) -> float:
    return max(x for x, _ in points) - min(x for x, _ in points)


def _in_lines(name: str) -> tuple[str, ...]:
    """Return a name on one line or two.

    >>> _in_lines("Delta"), _in_lines("Tapered, strongly swept"), _in_lines("Half ellipse")
    (('Delta',), ('Tapered,', 'strongly swept'), ('Half ellipse',))
    """
    first, comma, rest = name.partition(", ")
    return (f"{first},", rest) if comma else (name,)


def outlines_drawn() -> Silhouettes:
    """Return the eight outlines side by side, for use in a page."""
    return Silhouettes(
        "The eight outlines, to one scale",
        "One area and one span. The body tube is on the left, the nose above.",
        {
            name: tuple((float(x), float(y)) for x, y in _shape(name).perimeter(1e-4))
            for name in OUTLINES
        },
    )
