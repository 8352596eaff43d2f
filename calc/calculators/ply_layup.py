"""Ply layup: stiffness and strength of a stack of plies along and across, and its warp."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import NotRequired, Unpack

import numpy as np

from calc import materials
from calc.calculators import shared
from calc.calculators.stack_views import SectionPly, same_mass, section
from calc.errors import InputError, ValidityError
from calc.forms import Calculator, Choice, Input
from calc.materials import Material
from calc.report import Answer, Column, Figure, Report, Step, Table
from calc.structure import laminate
from calc.structure.failure import first_failure_moment
from calc.structure.laminate import Lamina, Layup, Ply, bow_height
from calc.structure.stack_notation import parse_stack

STACK = "The stack"
MOST_DRAWN = 24
"""Most plies that a drawing in section shows."""
POINT = 0.01
"""A change of moisture of one per cent of the dry mass."""
REACH = 0.1
"""Length of the chord over which a bow is shown [m]."""
EVENNESS = tuple(range(1, 14))
SOLIDS = ("balsa", "basswood")

INPUTS = (
    Input("source", "Which sheet", "choice", "own", group=STACK,
          choices=(Choice("own", "a stack I glue"), Choice("stock", "a sheet from the shop"))),
    Input("layup", "Plies, lowest first", "text", "0/90/0",
          help="Angles in degrees: 0/90/0, [0/90]s (mirrored), [0_2/±45]s.", group=STACK,
          shown_when={"source": ("own",)}),
    Input("material", "Material", "material", "birch-plywood",
          help="Of plywood, the veneer is taken.", group=STACK),
    Input("measure", "Thickness given", "choice", "total", group=STACK,
          choices=(Choice("total", "of the whole stack"), Choice("ply", "of one ply")),
          shown_when={"source": ("own",)}),
    Input("thickness", "Thickness", "length", "1/16 in", group=STACK, unit="in", low=0.00005,
          high=0.05),
    Input("density", "Density of the wood", "density", "", help="Weighed, if you have it.",
          group=STACK, unit="lb/ft3", low=50.0, high=900.0, optional=True,
          shown_when={"material": shared.BY_DENSITY}),
    *shared.without(shared.own_inputs(), "spread"),
)  # fmt: skip


class PlyLayupValues(shared.SheetValues, shared.OwnProperties, shared.UnitsValues):
    """Values of this calculator."""

    source: str
    layup: str
    measure: str
    spread: NotRequired[tuple[float, ...] | None]


@dataclass(frozen=True, eq=False)
class Sheet:
    """The plies that the inputs describe, and their material."""

    material: Material
    stack: Layup
    angles: tuple[float, ...] | None
    """Of the stack as typed [deg]; None for a stock sheet."""


def sheet_of(values: PlyLayupValues) -> Sheet:
    """Return the stack that the inputs describe."""
    material = shared.material_of(values)
    thickness = values["thickness"]
    if values["source"] == "stock":
        stack = material.layup(thickness=thickness, density=values["density"])
        return Sheet(material, stack, None)
    if material.model == "faced":
        raise InputError(
            "material",
            material.name,
            "one that is a single kind of sheet; skinned cores have their own calculator",
        )
    angles = parse_stack(values["layup"])
    total = thickness * len(angles) if values["measure"] == "ply" else thickness
    if total > 0.05:
        raise InputError("thickness", f"{thickness * 1e3:.3g} mm", "at most 50 mm in all")
    return Sheet(material, glued(material, angles, total, values["density"]), angles)


def glued(
    material: Material, angles: tuple[float, ...], thickness: float, density: float | None = None
) -> Layup:
    """Return plies glued from one material, with the mass of glue lines where we have it."""
    if material.model == "plywood":
        ply = material.lamina()
        glue = material.values["glue_line"].value * (len(angles) - 1) / thickness
        return laminate.stacked(
            replace(ply, density=ply.density + glue), angles, thickness=thickness
        )
    ply = material.lamina(density=density)
    return laminate.stacked(ply, angles, thickness=thickness)


def answer(**values: Unpack[PlyLayupValues]) -> Report:
    """Answer for SI values by input name."""
    sheet = sheet_of(values)
    stack = sheet.stack
    bend, pull = laminate.flexural_constants(stack), laminate.in_plane_constants(stack)
    along, mode_along = first_failure_moment(stack, direction=0.0)
    across, mode_across = first_failure_moment(stack, direction=0.5 * math.pi)
    square = 6.0 / stack.thickness**2
    warp = laminate.moisture_curvature(stack, change=POINT).curvature
    flat = bool(np.abs(warp).max() * stack.thickness < 1e-6)
    if flat:
        warp = np.zeros(3)
    one_side = laminate.moisture_gradient_curvature(stack, change=POINT)
    ratio_bend = float(bend.modulus_x / bend.modulus_y)
    ratio_pull = float(pull.modulus_x / pull.modulus_y)
    swells = any(p.lamina.swelling_across for p in stack.plies)
    bowed = f"; for 1 % more moisture, over {shared.formatter(values)(REACH, 'length')}"
    return Report(
        calculator="ply-layup",
        summary=_summary(stack, ratio_bend, flat, swells),
        answers=(
            Answer("bending_along", "Stiffness in bending, along", float(bend.modulus_x),
                   "pressure", note="of a solid sheet of this thickness that bends alike"),
            Answer("bending_across", "Stiffness in bending, across", float(bend.modulus_y),
                   "pressure"),
            Answer("bending_ratio", "Along over across, in bending", ratio_bend, "number"),
            Answer("areal_mass", "Mass per area", stack.areal_mass, "areal-mass"),
            Answer("stretch_along", "Stiffness in stretch, along", float(pull.modulus_x),
                   "pressure"),
            Answer("stretch_across", "Stiffness in stretch, across", float(pull.modulus_y),
                   "pressure"),
            Answer("stretch_ratio", "Along over across, in stretch", ratio_pull, "number"),
            Answer("twist", "Shear modulus in twist", float(bend.shear_modulus), "pressure"),
            Answer("strength_along", "Strength in bending, along", along * square, "pressure",
                   note=f"fails first: {mode_along}"),
            Answer("strength_across", "Strength in bending, across", across * square, "pressure",
                   note=f"fails first: {mode_across}"),
            Answer("thickness_all", "Thickness", stack.thickness, "length"),
            Answer("density_all", "Density, glue included",
                   stack.areal_mass / stack.thickness, "density"),
            Answer("plies", "Plies", float(len(stack.plies)), "number", digits=2),
            Answer("warp", "Bow when all of it is damper",
                   bow_height(float(np.abs(warp[:2]).max()), length=REACH), "length",
                   note=f"{_flatness(stack, flat, swells)}{bowed}"),
            Answer("warp_one_side", "Bow when only one face is damper",
                   bow_height(float(np.abs(one_side[:2]).max()), length=REACH), "length",
                   note=f"even a sheet alike from both faces bows then{bowed}"),
        ),
        headline=("bending_along", "bending_across", "bending_ratio", "warp", "areal_mass"),
        figures=_figures(sheet),
        tables=(_solid_table(sheet), _evenness_table(sheet.material, stack.thickness)),
        steps=_steps(sheet, warp),
        notes=_notes(sheet, flat, swells),
        sources=tuple(sheet.material.sources),
    )  # fmt: skip


def _summary(stack: Layup, ratio: float, flat: bool, swells: bool) -> str:
    count = len(stack.plies)
    plies = f"{count} plies" if count > 1 else "1 ply"
    more = ratio if ratio >= 1.0 else 1.0 / ratio
    way = "along than across" if ratio >= 1.0 else "across than along"
    even = "equally stiff both ways" if more < 1.05 else f"{more:.1f} times stiffer {way}"
    if not swells:
        ends = "we have no data on how it warps"
    else:
        ends = "it stays flat" if flat else "it warps when its moisture changes"
    return f"{plies}: {even} in bending; {ends}."


def _flatness(stack: Layup, flat: bool, swells: bool) -> str:
    """Return a few words on whether a stack stays flat, and why."""
    if not swells:
        return "not known: our data have no swelling"
    if not flat:
        return "it warps; linear theory: a thin sheet settles into one roll about as tight"
    alike = "the stack reads the same from both faces"
    return f"flat: {alike if stack.symmetric else 'its swelling balances'}"


def _notes(sheet: Sheet, flat: bool, swells: bool) -> tuple[str, ...]:
    notes = []
    if not swells:
        notes.append("Our data have no swelling of this material, so warp is not computed.")
    elif flat and not sheet.stack.symmetric:
        notes.append("Not the same from both faces, yet its swelling balances: it stays flat.")
    elif flat:
        notes.append(
            "The same from both faces, so an even change of moisture leaves it flat. Real veneers "
            "differ a little in thickness and grain, so real sheets still bow a little."
        )
    else:
        notes.append(
            "Not the same from both faces: glue such a stack and it curls as soon as the glue's "
            "water leaves it. Add plies until it reads the same from both faces."
        )
    notes.append(
        "Not modelled: thin places and gaps in inner veneers, glue soaked into the wood (which "
        "stiffens very thin plies), creep."
    )
    return tuple(notes)


def _section(sheet: Sheet) -> Figure:
    material = sheet.material
    look = "ply" if material.model == "plywood" else shared.LOOKS[material.family]
    plies = sheet.stack.plies
    return section(
        "The stack in section",
        "Cut along the 0 direction. 0° = the ply's grain runs along the cut, 90° = across it.",
        [SectionPly(ply, look, "") for ply in plies],
    )


def _figures(sheet: Sheet) -> tuple[Figure, ...]:
    stack = sheet.stack
    around = np.radians(np.arange(0, 361, 5))
    solid = Layup((Ply(solid_lamina(sheet.material, stack), stack.thickness),))
    stiff = np.asarray(laminate.flexural_constants(stack, angle=-around).modulus_x)
    plain = np.asarray(laminate.flexural_constants(solid, angle=-around).modulus_x)
    series = [{"name": "this stack", "y": stiff.tolist()}]
    if sheet.material.model != "faced" and len(stack.plies) > 1:
        series.append({"name": "one thick ply", "y": plain.tolist()})
    return (
        Figure(
            "polar",
            "Stiffness in bending, in every direction",
            "A strip cut at each angle to the 0 direction. Both are as thick as this stack.",
            {
                "angle": around.tolist(),
                "series": series,
                "value": {"label": "Stiffness", "kind": "pressure"},
            },
        ),
    )


def solid_lamina(material: Material, stack: Layup) -> Lamina:
    """Return the bare ply of a material, without glue."""
    if material.model == "faced":
        return stack.plies[len(stack.plies) // 2].lamina
    return material.lamina()


def _solid_table(sheet: Sheet) -> Table:
    """Return the comparison with solid sheets of the same mass per area."""
    candidates: list[tuple[str, Lamina]] = []
    if sheet.material.model != "faced" and len(sheet.stack.plies) > 1:
        candidates.append(("one ply of the same", solid_lamina(sheet.material, sheet.stack)))
    for name in SOLIDS:
        if name != sheet.material.name:
            item = materials.load(name)
            candidates.append((f"solid {item.label.lower()}", item.lamina()))
    return same_mass("this stack", sheet.stack, candidates)


def evenness(material: Material, thickness: float) -> tuple[tuple[int, float, float, bool], ...]:
    """Return plies, along/across in bending and in stretch, and flatness, for 1 to 13 plies."""
    out = []
    for count in EVENNESS:
        angles = tuple(90.0 * (i % 2) for i in range(count))
        stack = glued(material, angles, thickness)
        bend, pull = laminate.flexural_constants(stack), laminate.in_plane_constants(stack)
        out.append(
            (
                count,
                float(bend.modulus_x / bend.modulus_y),
                float(pull.modulus_x / pull.modulus_y),
                stack.symmetric,
            )
        )
    return tuple(out)


def _evenness_table(material: Material, thickness: float) -> Table:
    if material.model == "faced":
        material = materials.load("birch-plywood")
    return Table(
        "How many plies until it is even",
        (
            Column("plies", "Plies, 0/90 in turn"),
            Column("bending", "Along over across, bending", "number"),
            Column("stretch", "Along over across, stretch", "number"),
            Column("flat", "Stays flat"),
        ),
        tuple(
            (str(count), bend, pull, "yes" if even else "no")
            for count, bend, pull, even in evenness(material, thickness)
        ),
        note=f"{material.label}, equal plies, glued in turn. 2, 4, 6 … plies are not the "
        "same from both faces: they stretch alike both ways, but they curl when damp.",
    )


def _steps(sheet: Sheet, warp: np.ndarray) -> tuple[Step, ...]:
    stack = sheet.stack
    ply = stack.plies[0].lamina
    d = laminate.bending(stack)
    return (
        Step(
            "One ply",
            "Q₁₁ = E₁/(1 − ν₁₂ν₂₁), Q₂₂ = E₂/(1 − ν₁₂ν₂₁), Q₆₆ = G₁₂",
            f"E along {ply.modulus_along / 1e9:.3g}, across {ply.modulus_across / 1e9:.3g}, "
            f"G {ply.shear_modulus / 1e9:.3g} GPa; {ply.density:.0f} kg/m³",
            ("kaw-2006", *sheet.material.sources[:1]),
        ),
        Step(
            "The stack",
            "A = Σ Q̄ (z₁ − z₀), B = Σ Q̄ (z₁² − z₀²)/2, D = Σ Q̄ (z₁³ − z₀³)/3",
            f"D₁₁ = {d[0, 0]:.3g}, D₂₂ = {d[1, 1]:.3g}, D₁₂ = {d[0, 1]:.3g}, "
            f"D₆₆ = {d[2, 2]:.3g} N·m",
            ("kaw-2006",),
            note="with D − B A⁻¹ B for a stack that differs from face to face",
        ),
        Step(
            "Moisture",
            "[A B; B D] [ε; κ] = Σ Q̄ β Δm {z₁ − z₀, (z₁² − z₀²)/2}",
            f"1 % damper: κ along {warp[0]:.3g}, across {warp[1]:.3g}, twist {warp[2]:.3g} 1/m",
            ("kaw-2006",),
        ),
        Step(
            "Strength",
            "smallest load factor by Tsai and Wu over plies and faces; M = 1; σ = 6 M / h²",
            "stress in a solid sheet of this thickness at first failure",
            ("tsai-wu-1971",),
        ),
    )


def drawing(values: PlyLayupValues) -> Figure | None:
    """Return the stack in section, or None while it cannot be drawn."""
    try:
        sheet = sheet_of(values)
    except (InputError, ValidityError):
        return None
    if len(sheet.stack.plies) > MOST_DRAWN:
        return None
    return _section(sheet)


CALCULATOR = Calculator(
    slug="ply-layup",
    title="Ply layup",
    question="How stiff and strong is this stack of plies along and across; will it stay flat?",
    inputs=INPUTS,
    answer=answer,
    drawing=drawing,
)
