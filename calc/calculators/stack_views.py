"""Figure and table that the calculators of ply stacks share."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from calc.report import Column, Figure, Table
from calc.structure.laminate import Lamina, Layup, Ply, bending


class SectionPly(NamedTuple):
    """A ply as it is drawn in section: with a look of the renderer and a label."""

    ply: Ply
    look: str
    label: str


def section(title: str, caption: str, plies: Sequence[SectionPly]) -> Figure:
    """Return a stack in section, lowest ply first; plies without a grain get no direction."""
    return Figure(
        "stack",
        title,
        caption,
        {
            "plies": [
                {
                    "thickness": ply.thickness,
                    "angle_deg": None
                    if ply.lamina.modulus_along == ply.lamina.modulus_across
                    and ply.lamina.kind != "fibrous"
                    else math.degrees(ply.angle),
                    "look": look,
                    "label": label,
                }
                for ply, look, label in plies
            ]
        },
    )


def same_mass(name: str, stack: Layup, candidates: Sequence[tuple[str, Lamina]]) -> Table:
    """Return a stack's bending stiffness beside that of solid sheets of the same mass."""
    own = bending(stack)

    def line(label: str, thick: float, d: np.ndarray) -> tuple[Any, ...]:
        terms = [float(d[i, i]) for i in range(3)]
        return (label, thick, *terms, *(t / float(own[i, i]) for i, t in enumerate(terms)))

    rows = [line(name, stack.thickness, own)]
    for label, lamina in candidates:
        thick = stack.areal_mass / lamina.density
        rows.append(line(label, thick, bending(Layup((Ply(lamina, thick),)))))
    return Table(
        "Against the same mass of solid sheet",
        (
            Column("sheet", "Sheet"),
            Column("thickness", "Thickness", "length"),
            Column("along", "Stiffness along", "moment"),
            Column("across", "Stiffness across", "moment"),
            Column("twist", "Stiffness in twist", "moment"),
            Column("along_share", "Along, times this", "number", 2),
            Column("across_share", "Across, times this", "number", 2),
            Column("twist_share", "Twist, times this", "number", 2),
        ),
        tuple(rows),
        note=f"All weigh {stack.areal_mass * 1e3:.0f} g/m². Stiffness: the moment that bends a "
        "strip of the sheet, per width and curvature (D of plate theory).",
    )
