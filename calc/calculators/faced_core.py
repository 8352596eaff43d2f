"""Foam board and skinned cores: stiffness, face and core limits, and what crushing costs."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from calc import layup as layups
from calc import materials
from calc.calculators import Calculator, Choice, Input
from calc.calculators import common as c
from calc.calculators.ply_layup import same_mass
from calc.errors import InputError, ValidityError
from calc.layup import Layup
from calc.materials import Material
from calc.report import Answer, Column, Figure, Mode, Report, Step, Table

SHEET = "The sheet"
LOAD = "The load"
WRINKLING_FACTOR = 0.5
"""k of the wrinkling formula: 0.5 in practice, 0.82 to 0.91 in theory without waviness."""
CRUSHED = (0.0, 0.05, 0.10, 0.20, 0.30, 0.50)
"""Shares of the core's thickness lost that the table shows."""
SOLIDS = ("balsa", "basswood", "card", "styrene")

CORES = (
    Choice("polystyrene-foam", "polystyrene foam"),
    Choice("balsa", "balsa"),
    Choice("basswood", "basswood"),
)
SKINS = (
    Choice("foam-board-liner", "liner of foam board"),
    Choice("paper", "paper"),
    Choice("card", "card"),
    Choice("glass-cloth-skin", "glass cloth and resin"),
    Choice("carbon-cloth-skin", "carbon cloth and resin"),
)

INPUTS = (
    Input("core", "Core", "choice", "polystyrene-foam", "", SHEET, choices=CORES),
    Input("skin", "Skin on both faces", "choice", "foam-board-liner", "", SHEET, choices=SKINS),
    Input("thickness", "Thickness, skins included", "length", "3/16 in", "", SHEET, "in",
          low=0.0005, high=0.05),
    Input("skin_thickness", "Thickness of one skin", "length", "0.2 mm",
          "Peel and measure; ten folded layers measure easier than one.", SHEET, "mm",
          low=0.00002, high=0.005),
    Input("glue", "Glue or resin under each skin", "areal-mass", "15 g/m2", "", SHEET, "g/m2",
          low=0.0, high=0.5),
    Input("skin_angle", "Skin's grain from the core's", "angle", "0", "", SHEET, "deg",
          low=-math.pi, high=math.pi),
    Input("density", "Density of the core", "density", "", "Empty takes the middle value.",
          SHEET, "kg/m3", low=10.0, high=900.0, optional=True),
    Input("cut", "How the core was sawn", "choice", "B", "", SHEET,
          choices=(Choice("A", "A grain"), Choice("B", "B grain"), Choice("C", "C grain")),
          shown_when={"core": ("balsa", "basswood")}),
    Input("crush", "Core crushed by", "length", "0 mm", "How much thickness a dent has taken.",
          SHEET, "mm", low=0.0, high=0.04),
    Input("force", "Force at the free end", "force", "3 N",
          "3 N is a careful thumb; common practice.", LOAD, "N", low=0.01, high=1000.0),
    Input("reach", "Reach of the force", "length", "2.5 in", "The span of a fin.", LOAD, "in",
          low=0.005, high=2.0),
    Input("width", "Width held", "length", "3 in", "The root chord of a fin.", LOAD, "in",
          low=0.005, high=2.0),
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Panel:
    """A skinned core as made and as crushed."""

    material: Material
    whole: Layup
    stack: Layup


@dataclass(frozen=True)
class Limits:
    """Moments per width [N] at which a strip bent along its core's grain gives."""

    face: float
    """First failure of a ply by Tsai and Wu."""
    face_word: str
    wrinkling: float
    wrinkling_stress: float
    """Compressive stress in the face at which it wrinkles [Pa]."""
    shear: float
    """Shear force per width [N/m] that shears the core."""


def panel_of(values: Mapping[str, Any]) -> Panel:
    """Return the sheet that the inputs describe."""
    core, skin = materials.load(values["core"]), materials.load(values["skin"])
    thickness, face = values["thickness"], values["skin_thickness"]
    if thickness < 3.0 * face:
        raise InputError(
            "skin_thickness", f"{face * 1e3:.3g} mm", "a skin at most a third of the whole"
        )
    material = materials.faced(
        core,
        skin,
        skin_thickness=face,
        glue_line=values["glue"],
        skin_angle=values["skin_angle"],
    )
    density = values["density"]
    if core.model != "wood" and density is not None:
        # foam stiffens with density by more than one law; only its weight is taken over
        whole = material.layup(thickness=thickness)
        whole = Layup(
            tuple(
                replace(ply, lamina=replace(ply.lamina, density=density))
                if ply.lamina.kind == "core"
                else ply
                for ply in whole.plies
            )
        )
    else:
        whole = material.layup(thickness=thickness, density=density, cut=values["cut"])
    if values["crush"] >= 0.8 * (thickness - 2.0 * face):
        raise InputError(
            "crush", f"{values['crush'] * 1e3:.3g} mm", "a dent of less than 80 % of the core"
        )
    return Panel(material, whole, layups.crushed(whole, values["crush"]))


def limits(stack: Layup) -> Limits:
    """Return what a strip of a skinned core bears, bent along the core's grain.

    Wrinkling: k (E_f E_c G_c)^(1/3) against the face's stress at its middle, with the core's
    modulus across its grain standing for that through its thickness. Core shear: the mean shear
    stress against the core's shear strength.
    """
    moments = np.array([[1.0, 0.0, 0.0], [-1.0, 0.0, 0.0]])
    stresses = layups.ply_stresses(stack, moments=moments)
    failure = layups.failure(stack, stresses)
    worst = int(np.argmin(failure.factor))
    word = ("skin" if failure.ply[worst] in (0, len(stack.plies) - 1) else "core") + ", "
    face = stack.plies[0]
    core = stack.plies[layups.core_index(stack)[0]].lamina
    turned_modulus = float(layups.off_axis_modulus(face.lamina, face.angle))
    wrinkling = float(
        layups.wrinkling_stress(
            face_modulus=turned_modulus,
            core_modulus=core.modulus_across,
            core_shear=core.shear_13,
            factor=WRINKLING_FACTOR,
        )
    )
    # the face's stress at its middle, turned from the skin's own axes to the strip's
    angle = face.angle
    own = stresses[0, 0].mean(axis=0)
    cos, sin = math.cos(angle), math.sin(angle)
    per_moment = abs(float(own @ [cos * cos, sin * sin, -2.0 * cos * sin]))
    shear = core.shear_strength / float(layups.core_shear_stress(stack, shear=1.0))
    return Limits(
        face=float(failure.factor[worst]),
        face_word=word + str(failure.mode[worst]),
        wrinkling=wrinkling / per_moment,
        wrinkling_stress=wrinkling,
        shear=shear,
    )


def answer(**values: Any) -> Report:
    """Answer for SI values by input name."""
    panel = panel_of(values)
    stack = panel.stack
    found = limits(stack)
    d = layups.bending(stack)
    thin = layups.sandwich(stack)
    width, reach, force = values["width"], values["reach"], values["force"]
    shear_stiffness = float(layups.stiffness(stack).transverse_shear[0, 0])
    strip = 1.0 / float(np.linalg.inv(d)[0, 0])
    bends = force * reach**3 / (3.0 * strip * width)
    shears = force * reach / (shear_stiffness * width)
    modes = _modes(found, force, reach, width)
    governs = min(modes, key=lambda m: m.margin)
    whole = layups.bending(panel.whole)
    left = float(d[0, 0] / whole[0, 0])
    return Report(
        calculator="faced-core",
        summary=(
            f"{stack.areal_mass * 1e3:.0f} g/m², stiffness {float(d[0, 0]):.3g} N·m along and "
            f"{float(d[1, 1]):.3g} N·m across; {governs.label.lower()} comes first, at "
            f"{governs.capacity:.2g} N."
        ),
        answers=(
            Answer("bending_along", "Bending stiffness along, per width", float(d[0, 0]),
                   "moment"),
            Answer("bending_across", "Bending stiffness across, per width", float(d[1, 1]),
                   "moment"),
            Answer("areal_mass", "Mass per area", stack.areal_mass, "areal-mass"),
            Answer("first_force", "Force at the free end that breaks it", governs.capacity,
                   "force", note=f"first: {governs.label.lower()}"),
            Answer("bending_twist", "Stiffness in twist, per width", float(d[2, 2]), "moment"),
            Answer("thin_face", "Bending stiffness along by the thin-face formula", thin.bending,
                   "moment", note="a cross-check"),
            Answer("deflection", "Sag of the free end", bends + shears, "length"),
            Answer("shear_share", "Share of the sag from the core's shear",
                   shears / (bends + shears), "fraction", digits=2),
            Answer("wrinkling_stress", "Face stress at which it wrinkles",
                   found.wrinkling_stress, "pressure"),
            Answer("core_share", "Core's share of the mass", _core_share(stack), "fraction",
                   digits=2,
                   note="two thirds is lightest for stiffness, one half for strength"),
            Answer("left", "Stiffness left after crushing", left, "fraction", digits=2),
            Answer("density_all", "Density of the whole",
                   stack.areal_mass / stack.thickness, "density"),
        ),
        headline=("bending_along", "bending_across", "areal_mass", "first_force"),
        modes=modes,
        figures=(_section(panel), _crush_chart(panel)),
        tables=(_crush_table(panel), _solid_table(panel)),
        steps=_steps(panel, found, thin, shear_stiffness, bends, shears),
        notes=(
            "The strip is bent along the core's grain. Across it, faces and core are weaker.",
            "The core keeps its modulus when crushed in this sum; a crushed foam is softer, so "
            "real losses are larger.",
            "Not modelled: skins coming unglued, dents that start a wrinkle, paint that eats foam.",
        ),
        sources=tuple(panel.material.sources),
    )  # fmt: skip


def _core_share(stack: Layup) -> float:
    core = math.fsum(
        stack.plies[i].thickness * stack.plies[i].lamina.density for i in layups.core_index(stack)
    )
    return core / stack.areal_mass


def _modes(found: Limits, force: float, reach: float, width: float) -> tuple[Mode, ...]:
    rows = (
        ("face", "A ply breaks", found.face * width / reach, f"first: {found.face_word}"),
        ("wrinkling", "The pressed face wrinkles", found.wrinkling * width / reach, ""),
        ("shear", "The core shears", found.shear * width, "mean shear stress in the core"),
    )
    return tuple(
        Mode(name, label, force, capacity, "force", capacity / force, note=note)
        for name, label, capacity, note in rows
    )


def _section(panel: Panel) -> Figure:
    core, skin = panel.material.core, panel.material.skin
    assert core is not None
    assert skin is not None
    last = len(panel.stack.plies) - 1
    return Figure(
        "stack",
        "The sheet in section",
        "Cut along the core's grain.",
        {
            "plies": [
                {
                    "thickness": ply.thickness,
                    "angle_deg": None
                    if ply.lamina.kind == "core" and core.family == "foam"
                    else math.degrees(ply.angle),
                    "look": c.LOOKS[skin.family] if i in (0, last) else c.LOOKS[core.family],
                    "label": "skin" if i in (0, last) else core.label.lower(),
                }
                for i, ply in enumerate(panel.stack.plies)
            ]
        },
    )


def crush_rows(stack: Layup) -> tuple[tuple[float, float, float, float], ...]:
    """Return share lost, thickness left [m], stiffness left and strength left.

    >>> from calc import materials
    >>> board = materials.load("foam-board").layup(thickness=0.005)
    >>> [round(row[2], 2) for row in crush_rows(board)][:3]
    [1.0, 0.91, 0.82]
    """
    core = math.fsum(stack.plies[i].thickness for i in layups.core_index(stack))
    first = layups.bending(stack)[0, 0]
    strong = limits(stack)
    start = min(strong.face, strong.wrinkling)
    out = []
    for share in CRUSHED:
        now = layups.crushed(stack, share * core)
        left = limits(now)
        out.append(
            (
                share,
                now.thickness,
                float(layups.bending(now)[0, 0] / first),
                min(left.face, left.wrinkling) / start,
            )
        )
    return tuple(out)


def _crush_table(panel: Panel) -> Table:
    return Table(
        "What crushing costs",
        (
            Column("lost", "Core thickness lost", "fraction", 2),
            Column("thickness", "Thickness left", "length"),
            Column("stiffness", "Stiffness left", "fraction", 2),
            Column("strength", "Bending strength left", "fraction", 2),
        ),
        crush_rows(panel.whole),
        note="The mass stays. Thickness lost is stiffness lost, about twice over.",
    )


def _crush_chart(panel: Panel) -> Figure:
    core = math.fsum(panel.whole.plies[i].thickness for i in layups.core_index(panel.whole))
    shares = np.linspace(0.0, 0.6, 13)
    first = layups.bending(panel.whole)[0, 0]
    left = [
        float(layups.bending(layups.crushed(panel.whole, float(s) * core))[0, 0] / first)
        for s in shares
    ]
    return Figure(
        "chart",
        "Stiffness left when the core is crushed",
        "Bending along the core's grain.",
        {
            "x": {"label": "Core thickness lost", "kind": "fraction"},
            "y": {"label": "Stiffness left", "kind": "fraction", "low": 0.0},
            "series": [{"name": "", "x": shares.tolist(), "y": left}],
            "marks": [],
        },
    )


def _solid_table(panel: Panel) -> Table:
    loaded = [materials.load(name) for name in SOLIDS]
    candidates = [(item.label, item.layup(thickness=0.002).plies[0].lamina) for item in loaded]
    return same_mass("this sheet", panel.stack, candidates)


def _steps(
    panel: Panel,
    found: Limits,
    thin: layups.Sandwich,
    shear_stiffness: float,
    bends: float,
    shears: float,
) -> tuple[Step, ...]:
    return (
        Step(
            "Stiffness",
            "D = Σ Q̄ (z₁³ − z₀³)/3 over skins and core",
            f"thin-face formula E_f t h²/2 + E_f t³/6 + E_c c³/12 = {thin.bending:.3g} N·m per "
            f"width, faces {thin.depth * 1e3:.3g} mm apart",
            ("kaw-2006",),
        ),
        Step(
            "Sag of the free end",
            "δ = F L³/(3 D b) + F L/(U b)",
            f"{bends * 1e3:.3g} mm from bending and {shears * 1e3:.3g} mm from the core's shear, "
            f"U = {shear_stiffness:.3g} N/m",
            note="Allen, Structural Sandwich Panels (1969); from memory, unverified",
        ),
        Step(
            "Face",
            "Tsai and Wu, ply by ply, for a moment of 1 N·m/m; moment = F L/b",
            f"gives at {found.face:.3g} N·m/m ({found.face_word})",
            ("tsai-wu-1971",),
        ),
        Step(
            "Wrinkling",
            "σ = k (E_f E_c G_c)^(1/3), k = 0.5",
            f"{found.wrinkling_stress / 1e6:.3g} MPa, at {found.wrinkling:.3g} N·m/m",
            note="Hoff and Mautner (1945); k from memory, unverified: 0.82 to 0.91 in theory",
        ),
        Step(
            "Core shear",
            "τ = V/h, h between the middles of the faces",
            f"{found.shear:.3g} N/m",
        ),
    )


def drawing(values: Mapping[str, Any]) -> Figure | None:
    """Return the sheet in section, or None while it is impossible."""
    try:
        return _section(panel_of(values))
    except (InputError, ValidityError):
        return None


CALCULATOR = Calculator(
    slug="faced-core",
    title="Skinned cores",
    question="How stiff and strong is foam board or a skinned core, and what does crushing cost?",
    inputs=INPUTS,
    answer=answer,
    drawing=drawing,
)
