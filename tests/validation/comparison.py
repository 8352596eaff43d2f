"""Three ways to a flutter speed, side by side over a family of small fins.

The lifting surface is what every verdict uses. Strip theory and the NACA TN 4197 criterion are
cross-checks from other ideas: strips know nothing of the tip, the criterion nothing of mass,
bending or the direction of the grain. All three get the same plate, the same air and no
compressibility, so what differs is the air's theory alone.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from calc import aeroelastic, materials
from calc.air.atmosphere import Air, at
from calc.fin import check, model
from calc.fin.fin import Fin
from calc.geometry.planform import Planform
from calc.report import Column, Table
from tests import strip_theory as strip

OUTLINES: Mapping[str, Planform] = {
    "clipped delta": Planform(root=0.12, tip=0.05, span=0.07, sweep=0.07),
    "swept": Planform(root=0.10, tip=0.06, span=0.08, sweep=0.09),
    "rectangle": Planform(root=0.08, tip=0.08, span=0.08, sweep=0.0),
    "long and narrow": Planform(root=0.08, tip=0.04, span=0.12, sweep=0.04),
}
"""Invented outlines between the short and the long fins of small rockets [m]."""
MATERIALS = ("balsa", "birch-plywood", "glass-epoxy")
THICKNESSES = (0.0016, 0.0032)


@dataclass(frozen=True)
class Row:
    """One fin: speeds [m/s] of the first instability, flutter or divergence, in sea-level air.

    `surface` by the lifting surface, `strip` by strip theory with 2 pi, `strip_corrected` with
    Helmbold's lift slope, `estimate` by NACA TN 4197; `mass_ratio` is the fin's mass per area over
    air density times mean chord.
    """

    outline: str
    material: str
    thickness: float
    mass_ratio: float
    surface: float
    strip: float
    strip_corrected: float
    estimate: float
    diverges: bool
    """Whether divergence comes before flutter by the lifting surface."""


def first_instability(
    forces: aeroelastic.AirForces, *, frequency: check.Real, density: float
) -> tuple[check.Real, check.Real]:
    """Return ``(…, n_m)`` flutter and divergence speeds [m/s]."""
    flutter = aeroelastic.flutter(forces, frequency=frequency, density=density).speed
    pressure = aeroelastic.divergence_pressure(forces, frequency=frequency)
    return flutter, np.sqrt(2.0 * pressure / density)


def compare(
    outlines: Mapping[str, Planform] = OUTLINES,
    *,
    material_names: Sequence[str] = MATERIALS,
    thicknesses: Sequence[float] = THICKNESSES,
    air: Air | None = None,
) -> tuple[Row, ...]:
    """Return the three methods' answers for every fin of a family, grain along the leading edge.

    Parameters
    ----------
    outlines
        Name to outline.
    material_names, thicknesses
        Each material in each thickness [m].
    air
        Sea level if not given; its compressibility is left out of all three.
    """
    here = at(0.0) if air is None else air
    density = float(here.density)
    rows: list[Row] = []
    for name, outline in outlines.items():
        fins = [
            Fin(outline, materials.load(material), thickness)
            for material in material_names
            for thickness in thicknesses
        ]
        shape = model.model_for(fins[0])
        found = model.structure(
            shape, [fin.layup() for fin in fins], [fin.direction for fin in fins]
        )
        basis, shapes = found.system.basis, found.modes.shapes
        surface = shape.air.on_modes(basis, shapes)
        full = outline.aspect_ratio * 2.0
        slopes = (2.0 * math.pi, strip.helmbold_slope(full, sweep=outline.sweep_of(0.5)))
        answers = [aeroelastic.AirForces(surface.machs[:1], surface.nodes, surface.scale,
                                         surface.forces[:, :1])]  # fmt: skip
        for slope in slopes:
            on_basis = strip.generalised_forces(
                outline, basis.values, basis.slopes, wavenumbers=surface.nodes, lift_slope=slope
            )
            on_modes = np.swapaxes(shapes, -1, -2)[:, None] @ on_basis @ shapes[:, None]
            answers.append(
                aeroelastic.AirForces(
                    surface.machs[:1], surface.nodes, surface.scale, on_modes[:, None]
                )
            )
        speeds = [
            first_instability(forces, frequency=found.modes.frequency, density=density)
            for forces in answers
        ]
        for index, fin in enumerate(fins):
            first = [float(min(both[0][index, 0], both[1][index, 0])) for both in speeds]
            stack = found.layups[index]
            rows.append(
                Row(
                    outline=name,
                    material=fin.material.label,
                    thickness=fin.thickness,
                    mass_ratio=stack.areal_mass / (density * outline.mean_chord),
                    surface=first[0],
                    strip=first[1],
                    strip_corrected=first[2],
                    estimate=check.estimate(fin, found.bending[index], here),
                    diverges=bool(speeds[0][1][index, 0] < speeds[0][0][index, 0]),
                )
            )
    return tuple(rows)


def table(rows: Sequence[Row] | None = None) -> Table:
    """Return the comparison as a table; ratios above 1 are on the unsafe side."""
    chosen = compare() if rows is None else rows
    return Table(
        title="Three ways to a flutter speed",
        columns=(
            Column("outline", "Outline"),
            Column("material", "Material"),
            Column("thickness", "Thickness", "length"),
            Column("surface", "Lifting surface", "speed"),
            Column("first", "What comes first"),
            Column("strip", "Strips, 2π", "number"),
            Column("strip_corrected", "Strips, corrected", "number"),
            Column("estimate", "NACA TN 4197", "number"),
        ),
        rows=tuple(
            (
                row.outline,
                row.material,
                row.thickness,
                row.surface,
                "divergence" if row.diverges else "flutter",
                row.strip / row.surface,
                row.strip_corrected / row.surface,
                row.estimate / row.surface,
            )
            for row in chosen
        ),
        note=(
            "Speed of the first instability in sea-level air, compressibility left out; the last "
            "three columns are shares of it, unsafe above 1. Grain along the leading edge. "
            "The fins are invented."
        ),
        sortable=True,
    )
