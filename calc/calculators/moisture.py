"""What damp does to weight, stiffness and flatness."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Unpack

import numpy as np
from numpy.typing import NDArray

from calc import materials
from calc.calculators import shared as c
from calc.forms import Calculator, Input
from calc.materials import Material
from calc.materials import moisture as damp
from calc.report import Answer, Column, Figure, Report, Step, Table
from calc.structure import laminate as layups
from calc.structure.failure import first_failure_moment
from calc.structure.laminate import Layup, bow_height

Real = NDArray[np.float64]

AIR = "The air"
SHEET = "The sheet"
HUMIDITIES = (0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9)
THICK_VENEER = 1.1
"""Thickness of one face veneer over the other, in the warp of an uneven plywood."""
BOW_LENGTH = 0.3
"""Length over which a bow along the sheet is reported [m]."""


def _humidity(name: str, label: str, default: str, help: str = "") -> Input:
    return Input(
        name, label, "fraction", default, help=help, group=AIR, unit="%", low=0.0, high=0.98
    )


def _temperature(name: str, label: str, default: str) -> Input:
    return Input(name, label, "temperature", default, group=AIR, unit="C", low=253.15, high=333.15)


INPUTS = (
    _humidity("humidity_before", "Humidity before", "35 %", "A heated room in winter: 25 to 40 %."),
    _temperature("temperature_before", "Temperature before", "70 F"),
    _humidity("humidity", "Humidity after", "80 %", "A cellar, or a field at dawn: 80 to 95 %."),
    _temperature("temperature", "Temperature after", "59 F"),
    Input("material", "Material", "material", "balsa",
          help="Only materials on file: how one of your own takes up damp is not known.",
          group=SHEET, own=False),
    Input("thickness", "Thickness", "length", "3/32 in", group=SHEET, unit="in", low=0.0001,
          high=0.03),
    Input("width", "Width across the grain", "length", "3 in", group=SHEET, unit="in", low=0.005,
          high=1.0),
    Input("density", "Density of the sheet", "density", "", help="Weighed, if you have it.",
          group=SHEET, unit="lb/ft3", low=50.0, high=900.0, optional=True,
          shown_when={"material": c.BY_DENSITY}),
    replace(c.CUT, group=SHEET, help=""),
)  # fmt: skip


class MoistureValues(c.SheetValues, c.UnitsValues):
    """Values of this calculator."""

    humidity_before: float
    temperature_before: float
    humidity: float
    temperature: float
    width: float
    cut: str | None


def takes_up(material: Material) -> str:
    """Return what a material's moisture follows: "wood", "paper" or "none".

    >>> from calc import materials
    >>> [takes_up(materials.load(name)) for name in ("birch-plywood", "card", "styrene")]
    ['wood', 'paper', 'none']
    """
    if material.model in ("wood", "plywood"):
        return "wood"
    return "paper" if "moisture_reference" in material.values else "none"


def settled(kind: str, temperature: float, humidity: float) -> float:
    """Return the moisture a kind of material settles at [1]."""
    if kind == "wood":
        return float(damp.equilibrium_moisture(temperature=temperature, humidity=humidity))
    return float(damp.paper_moisture(humidity=humidity)) if kind == "paper" else 0.0


@dataclass(frozen=True, eq=False)
class State:
    """A sheet in air it has settled in: its plies and the moisture of each."""

    stack: Layup
    moisture: Real
    main: float
    """Moisture of what takes up most: the sheet, or the core of a faced one [1]."""


def state_of(
    material: Material,
    *,
    thickness: float,
    temperature: float,
    humidity: float,
    density: float | None = None,
    cut: str | None = None,
) -> State:
    """Return a sheet settled in air of a temperature [K] and relative humidity."""
    if material.model != "faced":
        kind = takes_up(material)
        level = settled(kind, temperature, humidity)
        stack = material.layup(
            thickness=thickness,
            density=density,
            cut=cut,
            moisture=None if kind == "none" else level,
        )
        return State(stack, np.full(len(stack.plies), level), level)
    core, skin = material.core, material.skin
    assert core is not None
    assert skin is not None
    parts = []
    levels = []
    for part in (core, skin):
        kind = takes_up(part)
        level = settled(kind, temperature, humidity)
        levels.append(level)
        parts.append(material.layup(thickness=thickness, cut=cut, moisture=level))
        if kind == "none":
            parts[-1] = material.layup(thickness=thickness, cut=cut)
    inner, outer = (part.plies for part in parts)
    plies = (outer[0], *inner[1:-1], outer[-1])
    moisture = np.array([levels[1], *([levels[0]] * (len(plies) - 2)), levels[1]])
    return State(Layup(plies), moisture, max(levels))


def one_side(before: State, after: State) -> Real:
    """Return curvature [1/m] when only the bare face changes its moisture, not the painted one.

    Moisture then falls in a straight line from face to face once the sheet has settled.
    """
    change = after.moisture - before.moisture
    return layups.moisture_gradient_curvature(after.stack, change=change)


def uneven(before: State, after: State) -> Real:
    """Return curvature [1/m] of a stack whose top ply is a tenth thicker than it should be."""
    top = after.stack.plies[-1]
    stack = Layup((*after.stack.plies[:-1], replace(top, thickness=THICK_VENEER * top.thickness)))
    change = after.moisture - before.moisture
    return np.asarray(layups.moisture_curvature(stack, change=change).curvature)


def answer(**values: Unpack[MoistureValues]) -> Report:
    """Answer for SI values by input name."""
    material = materials.load(values["material"])

    def at(temperature: float, humidity: float) -> State:
        return state_of(
            material,
            thickness=values["thickness"],
            temperature=temperature,
            humidity=humidity,
            density=values["density"],
            cut=values["cut"],
        )

    before = at(values["temperature_before"], values["humidity_before"])
    after = at(values["temperature"], values["humidity"])
    change = after.moisture - before.moisture
    free = layups.moisture_curvature(after.stack, change=change)
    d0, d1 = layups.bending(before.stack), layups.bending(after.stack)
    strong0, strong1 = (first_failure_moment(s.stack, direction=0.0)[0] for s in (before, after))
    weight = after.stack.areal_mass / before.stack.areal_mass - 1.0
    stiff = float(d1[0, 0] / d0[0, 0]) - 1.0
    painted = one_side(before, after)
    reach = c.formatter(values)(BOW_LENGTH, "length")
    # rounding leaves a trace of curvature in a sheet that reads the same from both faces
    own = free.curvature if not after.stack.symmetric else np.zeros(3)
    answers = [
        Answer("moisture_before", "Moisture before", before.main, "fraction"),
        Answer("moisture", "Moisture after", after.main, "fraction"),
        Answer("weight", "Change in weight", weight, "fraction", digits=2),
        Answer("stiffness", "Change in stiffness, along", stiff, "fraction", digits=2),
        Answer("stiffness_across", "Change in stiffness, across",
               float(d1[1, 1] / d0[1, 1]) - 1.0, "fraction", digits=2),
        Answer("strength", "Change in bending strength, along", strong1 / strong0 - 1.0, "fraction",
               digits=2),
        Answer("swelling", "Change in width, across the grain",
               float(free.strain[1]) * values["width"], "length", digits=2),
        Answer("swelling_along", "Change in length per metre, along the grain",
               float(free.strain[0]), "length", digits=2),
        Answer("areal_mass", "Mass per area after", after.stack.areal_mass, "areal-mass"),
        Answer("warp_painted", "Bow across the width, painted on one side",
               bow_height(float(painted[1]), length=values["width"]), "length", digits=2),
        Answer("warp_painted_along", f"Bow along {reach}, painted on one side",
               bow_height(float(painted[0]), length=BOW_LENGTH), "length", digits=2),
    ]  # fmt: skip
    if not after.stack.symmetric:
        answers.append(
            Answer("warp", "Bow across the width, bare",
                   bow_height(float(own[1]), length=values["width"]), "length", digits=2)
        )  # fmt: skip
    if len(after.stack.plies) > 1 and material.model == "plywood":
        bent = uneven(before, after)
        answers += [
            Answer("warp_uneven", "Bow across the width, one face veneer a tenth thicker",
                   bow_height(float(bent[1]), length=values["width"]), "length", digits=2),
            Answer("warp_uneven_along", f"Bow along {reach}, the same veneer",
                   bow_height(float(bent[0]), length=BOW_LENGTH), "length", digits=2),
        ]  # fmt: skip
    return Report(
        calculator="moisture",
        summary=_summary(material, before, after, weight, stiff),
        answers=tuple(answers),
        headline=("moisture", "weight", "stiffness", "warp_painted"),
        figures=(_chart(material, values),),
        tables=(_table(material, at, values),),
        steps=_steps(material, before, after, free.strain, painted),
        notes=_notes(material),
        sources=tuple(material.sources),
    )


def _summary(material: Material, before: State, after: State, weight: float, stiff: float) -> str:
    if not np.any(after.moisture - before.moisture):
        return f"{material.label} takes up next to no moisture: nothing changes."
    way = "gains" if weight >= 0 else "loses"
    way2 = "loses" if stiff <= 0 else "gains"
    return (
        f"{material.label} goes from {before.main:.1%} to {after.main:.1%} moisture: it {way} "
        f"{abs(weight):.1%} in weight and {way2} {abs(stiff):.0%} of its stiffness."
    )


def _notes(material: Material) -> tuple[str, ...]:
    notes = [
        "Figures are for a sheet left long enough to settle: bare 3/32 in balsa takes hours to "
        "a day, a sealed sheet weeks (common practice).",
        "Not modelled: creep, which lets a sheet held flat stay flat; glue's own water; swelling "
        "in thickness.",
    ]
    if material.model == "plywood":
        notes.append("Plywood settles a little drier than solid wood; the wood's curve is used.")
    if material.name in ("balsa",):
        notes.append(
            "No table gives balsa's loss of stiffness with damp: that of a light hardwood, "
            "yellow-poplar, stands in."
        )
    return tuple(notes)


def _curve(material: Material) -> str:
    if material.model == "faced" and material.core is not None and material.skin is not None:
        kinds = {takes_up(material.core), takes_up(material.skin)}
        return "wood" if "wood" in kinds else "paper" if "paper" in kinds else "none"
    return takes_up(material)


def _chart(material: Material, values: MoistureValues) -> Figure:
    kind = _curve(material)
    humidity = np.linspace(0.05, 0.95, 37)
    return Figure(
        "chart",
        "Moisture against the air's humidity",
        "Settled, at the temperature after. Up to about 30 % moisture it sits in the cell walls.",
        {
            "x": {"label": "Relative humidity", "kind": "fraction"},
            "y": {"label": "Moisture, of the dry mass", "kind": "fraction", "low": 0.0},
            "series": [
                {
                    "name": "",
                    "x": humidity.tolist(),
                    "y": [settled(kind, values["temperature"], float(h)) for h in humidity],
                }
            ],
            "marks": [
                {"axis": "x", "value": values["humidity_before"], "label": "before"},
                {"axis": "x", "value": values["humidity"], "label": "after"},
            ],
        },
    )


def _table(material: Material, at: Any, values: MoistureValues) -> Table:
    base = at(values["temperature"], 0.5)
    d0 = layups.bending(base.stack)
    rows = []
    for humidity in HUMIDITIES:
        now = at(values["temperature"], humidity)
        free = layups.moisture_curvature(now.stack, change=now.moisture - base.moisture)
        d = layups.bending(now.stack)
        rows.append(
            (
                humidity,
                now.main,
                now.stack.areal_mass / base.stack.areal_mass,
                float(d[0, 0] / d0[0, 0]),
                float(free.strain[1]) * values["width"],
            )
        )
    return Table(
        f"{material.label} at other humidities",
        (
            Column("humidity", "Humidity", "fraction", 2),
            Column("moisture", "Moisture", "fraction"),
            Column("weight", "Weight", "fraction"),
            Column("stiffness", "Stiffness", "fraction"),
            Column("width", "Change in width", "length", 2),
        ),
        tuple(rows),
        note="Weight, stiffness and width against those at 50 %.",
    )


def _steps(
    material: Material, before: State, after: State, strain: Real, painted: Real
) -> tuple[Step, ...]:
    kind = _curve(material)
    first = {
        "wood": Step(
            "Moisture the wood settles at",
            "M = (1800/W) [K h/(1 − K h) + (K₁K h + 2K₁K₂K²h²)/(1 + K₁K h + K₁K₂K²h²)] / 100",
            f"{before.main:.2%} before, {after.main:.2%} after",
            ("wood-handbook-2021",),
            note="equation 4-5",
        ),
        "paper": Step(
            "Moisture the paper settles at",
            "read from a curve",
            f"{before.main:.2%} before, {after.main:.2%} after",
            ("niskanen",),
            note="typical curve, from memory, unverified",
        ),
        "none": Step("Moisture", "", "none to speak of"),
    }[kind]
    return (
        first,
        Step(
            "Weight",
            "m = m₀ (1 + M)/(1 + M₀)",
            f"{before.stack.areal_mass * 1e3:.0f} → {after.stack.areal_mass * 1e3:.0f} g/m²",
        ),
        Step(
            "Stiffness and strength",
            "P = P₁₂ (P₁₂/P_green)^((12 − M)/(M_p − 12)), or a loss per point of moisture",
            "applied to every constant of every ply",
            tuple(s for s in ("wood-handbook-2021", "anc-18") if s in material.sources),
        ),
        Step(
            "Swelling",
            "ε = A⁻¹ Σ Q̄ β ΔM (z₁ − z₀)",
            f"{strain[0]:.3%} along, {strain[1]:.3%} across",
            ("kaw-2006",),
            note="each ply's own swelling from its total shrinkage over 30 % moisture",
        ),
        Step(
            "Painted on one side",
            "ΔM falls in a straight line from the bare face to the painted one",
            f"κ = {painted[0]:.3g} along, {painted[1]:.3g} across, 1/m; bow = κ L²/8",
            ("kaw-2006",),
        ),
    )


CALCULATOR = Calculator(
    slug="moisture",
    title="Moisture",
    question="What does damp do to a sheet's weight, stiffness and flatness?",
    inputs=INPUTS,
    answer=answer,
    dropped=frozenset(c.OWN_NAMES),
)
