"""How stiff and strong a stack of plies is along and across, and whether it stays flat."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from calc import layup as layups
from calc import materials
from calc.calculators import Calculator, Choice, Input
from calc.calculators import common as c
from calc.errors import InputError, ValidityError
from calc.layup import Lamina, Layup, Ply
from calc.materials import Material
from calc.report import Answer, Column, Figure, Report, Step, Table

STACK = "The stack"
MOST_DRAWN = 24
"""Plies that a drawing in section can hold."""
POINT = 0.01
"""A change of moisture of one per cent of the dry mass."""
REACH = 0.1
"""Length over which a bow is told [m]."""
EVENNESS = tuple(range(1, 14))
SOLIDS = ("balsa", "basswood")

INPUTS = (
    Input(
        "source",
        "Which sheet",
        "choice",
        "own",
        "",
        STACK,
        choices=(Choice("own", "a stack I glue"), Choice("stock", "a sheet from the shop")),
    ),
    Input(
        "layup",
        "Plies, lowest first",
        "text",
        "0/90/0",
        "Angles in degrees: 0/90/0, [0/90]s (mirrored), [0_2/±45]s.",
        STACK,
        shown_when={"source": ("own",)},
    ),
    Input("material", "Material", "material", "birch-plywood",
          "Of plywood, the veneer is taken.", STACK),
    Input(
        "measure",
        "Thickness given",
        "choice",
        "total",
        "",
        STACK,
        choices=(Choice("total", "of the whole stack"), Choice("ply", "of one ply")),
        shown_when={"source": ("own",)},
    ),
    Input("thickness", "Thickness", "length", "1/16 in", "", STACK, "in", low=0.00005, high=0.05),
    Input(
        "density",
        "Density of the wood",
        "density",
        "",
        "Weighed, if you have it.",
        STACK,
        "lb/ft3",
        low=50.0,
        high=900.0,
        optional=True,
        shown_when={"material": c.WOODS_BY_DENSITY},
    ),
    *c.without(c.own_inputs(), "spread"),
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Sheet:
    """What the inputs describe: the plies, what they are made of and how they are drawn."""

    material: Material
    stack: Layup
    angles: tuple[float, ...] | None
    """Of the stack as typed [deg]; None for a stock sheet."""


def sheet_of(values: Mapping[str, Any]) -> Sheet:
    """Return the stack that the inputs describe."""
    material = c.material_of(values)
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
    angles = layups.parse_stack(values["layup"])
    total = thickness * len(angles) if values["measure"] == "ply" else thickness
    if total > 0.05:
        raise InputError("thickness", f"{thickness * 1e3:.3g} mm", "at most 50 mm in all")
    return Sheet(material, glued(material, angles, total, values["density"]), angles)


def glued(
    material: Material, angles: tuple[float, ...], thickness: float, density: float | None = None
) -> Layup:
    """Return plies glued from one material, its glue lines counted where the material says so."""
    if material.model == "plywood":
        ply = material.lamina()
        glue = material.values["glue_line"].value * (len(angles) - 1) / thickness
        return layups.stacked(replace(ply, density=ply.density + glue), angles, thickness=thickness)
    ply = material.lamina(density=density)
    return layups.stacked(ply, angles, thickness=thickness)


def strength_across(stack: Layup, direction: float) -> tuple[float, str]:
    """Return the moment per width [N] at first failure when bent about one axis, and how.

    `direction` [rad] is the direction of the stretching, from the stack's 0 direction.
    """
    moments = np.array([[1.0, 0.0, 0.0], [-1.0, 0.0, 0.0]])
    stresses = layups.ply_stresses(stack, moments=moments, angle=-direction)
    found = layups.failure(stack, stresses)
    worst = int(np.argmin(found.factor))
    return float(found.factor[worst]), str(found.mode[worst])


def bow(curvature: float, length: float = REACH) -> float:
    """Return the height of an arc of that curvature [1/m] over a length [m].

    >>> round(bow(1.0, 0.1), 5)
    0.00125
    """
    return abs(curvature) * length**2 / 8.0


def damp_face(stack: Layup, change: float = POINT) -> np.ndarray:
    """Return curvature [1/m] when one face is damper by `change` and the other as before."""
    fine = layups.divided(stack, 8)
    middle = 0.5 * (fine.levels[:-1] + fine.levels[1:])
    share = 0.5 + middle / fine.thickness
    return layups.moisture_curvature(fine, change=change * share).curvature


def answer(**values: Any) -> Report:
    """Answer for SI values by input name."""
    sheet = sheet_of(values)
    stack = sheet.stack
    bend, pull = layups.flexural_constants(stack), layups.in_plane_constants(stack)
    along, mode_along = strength_across(stack, 0.0)
    across, mode_across = strength_across(stack, 0.5 * math.pi)
    square = 6.0 / stack.thickness**2
    warp = layups.moisture_curvature(stack, change=POINT).curvature
    flat = bool(np.abs(warp).max() * stack.thickness < 1e-6)
    if flat:
        warp = np.zeros(3)
    one_side = damp_face(stack)
    ratio_bend = float(bend.modulus_x / bend.modulus_y)
    ratio_pull = float(pull.modulus_x / pull.modulus_y)
    swells = any(p.lamina.swelling_across for p in stack.plies)
    return Report(
        calculator="ply-layup",
        summary=_summary(stack, ratio_bend, flat, swells),
        answers=(
            Answer("bending_along", "Stiffness in bending, along", float(bend.modulus_x),
                   "pressure", note="of a solid sheet as thick that bends alike"),
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
                   note=f"first to give: {mode_along}"),
            Answer("strength_across", "Strength in bending, across", across * square, "pressure",
                   note=f"first to give: {mode_across}"),
            Answer("thickness_all", "Thickness", stack.thickness, "length"),
            Answer("density_all", "Density, glue included",
                   stack.areal_mass / stack.thickness, "density"),
            Answer("plies", "Plies", float(len(stack.plies)), "number", digits=2),
            Answer("warp", f"Bow over {REACH * 1e3:.0f} mm when it all grows 1 % damper",
                   bow(float(np.abs(warp[:2]).max())), "length",
                   note=_flatness(stack, flat, swells)),
            Answer("warp_one_side", f"Bow over {REACH * 1e3:.0f} mm when one face is 1 % damper",
                   bow(float(np.abs(one_side[:2]).max())), "length",
                   note="even a symmetric sheet bows while one face is damper"),
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
        ends = "nothing is on file of how it warps"
    else:
        ends = "it stays flat" if flat else "it warps when its moisture changes"
    return f"{plies}: {even} in bending; {ends}."


def _flatness(stack: Layup, flat: bool, swells: bool) -> str:
    """Return in a few words whether a stack stays flat, and why."""
    if not swells:
        return "not known: no swelling is on file"
    if not flat:
        return "it warps; linear theory: a thin sheet settles into one roll about as tight"
    alike = "the stack reads the same from both faces"
    return f"flat: {alike if stack.symmetric else 'its swelling balances'}"


def _notes(sheet: Sheet, flat: bool, swells: bool) -> tuple[str, ...]:
    notes = []
    if not swells:
        notes.append("No swelling is on file for this material, so nothing is said about warp.")
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


def look_of(material: Material) -> str:
    """Return how plies of a material are drawn in section."""
    return "ply" if material.model == "plywood" else c.LOOKS[material.family]


def stack_figure(stack: Layup, look: str, name: str, *, title: str, caption: str) -> Figure:
    """Return a stack in section; cores are drawn without a direction where they have none."""
    plies = stack.plies
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
                    "label": name,
                }
                for ply in plies
            ]
        },
    )


def _figures(sheet: Sheet) -> tuple[Figure, ...]:
    stack = sheet.stack
    around = np.radians(np.arange(0, 361, 5))
    solid = Layup((Ply(solid_lamina(sheet.material, stack), stack.thickness),))
    stiff = np.asarray(layups.flexural_constants(stack, angle=-around).modulus_x)
    plain = np.asarray(layups.flexural_constants(solid, angle=-around).modulus_x)
    out = []
    if len(stack.plies) <= MOST_DRAWN:
        out.append(
            stack_figure(
                stack,
                look_of(sheet.material),
                "",
                title="The stack in section",
                caption="Cut along the 0 direction, which lies in the picture.",
            )
        )
    series = [{"name": "this stack", "y": stiff.tolist()}]
    if sheet.material.model != "faced" and len(stack.plies) > 1:
        series.append({"name": "one thick ply", "y": plain.tolist()})
    out.append(
        Figure(
            "polar",
            "Stiffness in bending, in every direction",
            "A strip cut at each angle to the 0 direction. Both are as thick as this stack.",
            {
                "angle": around.tolist(),
                "series": series,
                "value": {"label": "Stiffness", "kind": "pressure"},
            },
        )
    )
    return tuple(out)


def solid_lamina(material: Material, stack: Layup) -> Lamina:
    """Return the bare ply of a material, without glue."""
    if material.model == "faced":
        return stack.plies[len(stack.plies) // 2].lamina
    return material.lamina()


def _solid_table(sheet: Sheet) -> Table:
    """Compare with solid sheets of the same mass per area."""
    candidates: list[tuple[str, Lamina]] = []
    if sheet.material.model != "faced" and len(sheet.stack.plies) > 1:
        candidates.append(("one ply of the same", solid_lamina(sheet.material, sheet.stack)))
    for name in SOLIDS:
        if name != sheet.material.name:
            item = materials.load(name)
            candidates.append((f"solid {item.label.lower()}", item.lamina()))
    return same_mass("this stack", sheet.stack, candidates)


def same_mass(name: str, stack: Layup, candidates: Sequence[tuple[str, Lamina]]) -> Table:
    """Return a stack's bending stiffness beside that of solid sheets of the same mass."""
    own = layups.bending(stack)

    def line(label: str, thick: float, d: np.ndarray) -> tuple[Any, ...]:
        terms = [float(d[i, i]) for i in range(3)]
        return (label, thick, *terms, *(t / float(own[i, i]) for i, t in enumerate(terms)))

    rows = [line(name, stack.thickness, own)]
    for label, lamina in candidates:
        thick = stack.areal_mass / lamina.density
        rows.append(line(label, thick, layups.bending(Layup((Ply(lamina, thick),)))))
    return Table(
        "Against the same mass of solid sheet",
        (
            Column("sheet", "Sheet"),
            Column("thickness", "Thickness", "length"),
            Column("along", "D along, N·m", "number"),
            Column("across", "D across, N·m", "number"),
            Column("twist", "D in twist, N·m", "number"),
            Column("along_share", "Along, times this", "number", 2),
            Column("across_share", "Across, times this", "number", 2),
            Column("twist_share", "Twist, times this", "number", 2),
        ),
        tuple(rows),
        note=f"All weigh {stack.areal_mass * 1e3:.0f} g/m². D is bending moment per width and "
        "curvature.",
    )


def evenness(material: Material, thickness: float) -> tuple[tuple[int, float, float, bool], ...]:
    """Return plies, along/across in bending and in stretch, and flatness, for 1 to 13 plies."""
    out = []
    for count in EVENNESS:
        angles = tuple(90.0 * (i % 2) for i in range(count))
        stack = glued(material, angles, thickness)
        bend, pull = layups.flexural_constants(stack), layups.in_plane_constants(stack)
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
        note=f"{material.label}, equal plies, glued in turn. Even counts read differently from the "
        "two faces: they are even in stretch, and they curl.",
    )


def _steps(sheet: Sheet, warp: np.ndarray) -> tuple[Step, ...]:
    stack = sheet.stack
    ply = stack.plies[0].lamina
    d = layups.bending(stack)
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
            "stress of a solid sheet as thick at the moment of first failure",
            ("tsai-wu-1971",),
        ),
    )


def drawing(values: Mapping[str, Any]) -> Figure | None:
    """Return the stack in section, or None while it cannot be drawn."""
    try:
        sheet = sheet_of(values)
    except (InputError, ValidityError):
        return None
    if len(sheet.stack.plies) > MOST_DRAWN:
        return None
    return stack_figure(
        sheet.stack,
        look_of(sheet.material),
        "",
        title="The stack in section",
        caption="Cut along the 0 direction.",
    )


CALCULATOR = Calculator(
    slug="ply-layup",
    title="Ply layup",
    question="How stiff and strong is this stack of plies along and across; will it stay flat?",
    inputs=INPUTS,
    answer=answer,
    drawing=drawing,
)
