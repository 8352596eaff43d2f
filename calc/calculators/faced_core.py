"""Foam board and skinned cores: stiffness, face and core limits, and what crushing costs."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Unpack

import numpy as np

from calc import materials
from calc.calculators import shared
from calc.calculators.stack_views import SectionPly, same_mass, section
from calc.errors import InputError, ValidityError
from calc.forms import Calculator, Choice, Input
from calc.margin import Margin, Quantity
from calc.materials import Material
from calc.report import Answer, Column, Figure, Report, Step, Table
from calc.structure import laminate, sandwich
from calc.structure.laminate import Layup

SHEET = "The sheet"
LOAD = "The load"
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
    Input("core", "Core", "choice", "polystyrene-foam", group=SHEET, choices=CORES),
    Input("skin", "Skin on both faces", "choice", "foam-board-liner", group=SHEET, choices=SKINS),
    Input("thickness", "Thickness, skins included", "length", "3/16 in", group=SHEET, unit="in",
          low=0.0005, high=0.05),
    Input("skin_thickness", "Thickness of one skin", "length", "0.2 mm",
          help="Peel one off and measure; ten layers folded together are easier to measure than "
          "one.", group=SHEET, unit="mm", low=0.00002, high=0.005),
    Input("glue", "Glue or resin under each skin", "areal-mass", "15 g/m2", group=SHEET,
          unit="g/m2", low=0.0, high=0.5),
    Input("skin_angle", "Skin's grain, angle to the core's", "angle", "0", group=SHEET, unit="deg",
          low=-math.pi, high=math.pi),
    Input("density", "Density of the core", "density", "", help="Leave empty for the middle value.",
          group=SHEET, unit="kg/m3", low=10.0, high=900.0, optional=True),
    Input("cut", "How the core was sawn", "choice", "B", group=SHEET,
          choices=(Choice("A", "A grain"), Choice("B", "B grain"), Choice("C", "C grain")),
          shown_when={"core": ("balsa", "basswood")}),
    Input("crush", "Core crushed by", "length", "0 mm", help="How much thickness a dent has taken.",
          group=SHEET, unit="mm", low=0.0, high=0.04),
    Input("force", "Force at the free end", "force", "3 N",
          help="3 N is a careful thumb; common practice.", group=LOAD, unit="N", low=0.01,
          high=1000.0),
    Input("reach", "Reach of the force", "length", "2.5 in", help="The span of a fin.", group=LOAD,
          unit="in", low=0.005, high=2.0),
    Input("width", "Width held", "length", "3 in", help="The root chord of a fin.", group=LOAD,
          unit="in", low=0.005, high=2.0),
)  # fmt: skip


class FacedCoreValues(shared.UnitsValues):
    """Values of this calculator."""

    core: str
    skin: str
    thickness: float
    skin_thickness: float
    glue: float
    skin_angle: float
    density: float | None
    cut: str | None
    crush: float
    force: float
    reach: float
    width: float


@dataclass(frozen=True, eq=False)
class Panel:
    """A skinned core before and after crushing."""

    material: Material
    whole: Layup
    stack: Layup


def panel_of(values: FacedCoreValues) -> Panel:
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
        # foams of one density differ in stiffness: only the mass follows a weighed density
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
    return Panel(material, whole, sandwich.with_crushed_core(whole, values["crush"]))


def answer(**values: Unpack[FacedCoreValues]) -> Report:
    """Answer for SI values by input name."""
    panel = panel_of(values)
    stack = panel.stack
    found = sandwich.strip_limits(stack)
    d = laminate.bending(stack)
    thin = sandwich.thin_face_sandwich(stack)
    width, reach, force = values["width"], values["reach"], values["force"]
    sag = sandwich.tip_deflection(stack, force=force, length=reach, width=width)
    modes = _modes(found, force, reach, width)
    governs = min(modes, key=lambda m: m.margin)
    whole = laminate.bending(panel.whole)
    left = float(d[0, 0] / whole[0, 0])
    return Report(
        calculator="faced-core",
        bars="The force at the free end that each way to fail can take, divided by the force you "
        "gave. At 1 it is just enough.",
        summary=(
            f"{stack.areal_mass * 1e3:.0f} g/m², stiffness {float(d[0, 0]):.3g} N·m along and "
            f"{float(d[1, 1]):.3g} N·m across; {governs.label.lower()} first, at "
            f"{governs.capacity.value:.2g} N."
        ),
        answers=(
            Answer("bending_along", "Bending stiffness along, per width", float(d[0, 0]),
                   "moment"),
            Answer("bending_across", "Bending stiffness across, per width", float(d[1, 1]),
                   "moment"),
            Answer("areal_mass", "Mass per area", stack.areal_mass, "areal-mass"),
            Answer("first_force", "Force at the free end that breaks it", governs.capacity.value,
                   "force", note=f"first: {governs.label.lower()}"),
            Answer("bending_twist", "Stiffness in twist, per width", float(d[2, 2]), "moment"),
            Answer("thin_face", "Bending stiffness along by the thin-face formula", thin.bending,
                   "moment", note="a cross-check"),
            Answer("deflection", "Sag of the free end", sag.total, "length"),
            Answer("shear_share", "Share of the sag from the core's shear",
                   sag.shear / sag.total, "fraction", digits=2),
            Answer("wrinkling_stress", "Face stress at which it wrinkles",
                   found.wrinkling_stress, "pressure"),
            Answer("core_share", "Core's share of the mass", sandwich.core_mass_share(stack),
                   "fraction", digits=2,
                   note="two thirds is lightest for stiffness, one half for strength"),
            Answer("left", "Stiffness left after crushing", left, "fraction", digits=2),
            Answer("density_all", "Density of the whole",
                   stack.areal_mass / stack.thickness, "density"),
        ),
        headline=("bending_along", "bending_across", "areal_mass", "first_force"),
        modes=modes,
        figures=(_crush_chart(panel),),
        tables=(_crush_table(panel), _solid_table(panel)),
        steps=_steps(panel, found, thin, sag),
        notes=(
            "The strip is bent along the core's grain. Across it, faces and core are weaker.",
            "The core's modulus is taken as unchanged by crushing; a crushed foam is softer, so "
            "real losses are larger.",
            "Not modelled: skins coming unglued, dents that start a wrinkle, paint that eats foam.",
        ),
        sources=tuple(panel.material.sources),
    )  # fmt: skip


def _modes(
    found: sandwich.StripLimits, force: float, reach: float, width: float
) -> tuple[Margin, ...]:
    rows = (
        ("face", "A ply breaks", found.face * width / reach, f"first: {found.face_mode}"),
        ("wrinkling", "The pressed face wrinkles", found.wrinkling * width / reach, ""),
        ("shear", "The core shears", found.shear * width, "mean shear stress in the core"),
    )
    return tuple(
        Margin(name, force, Quantity(capacity), "force", label=label, note=note)
        for name, label, capacity, note in rows
    )


def _section(panel: Panel) -> Figure:
    core, skin = panel.material.core, panel.material.skin
    assert core is not None
    assert skin is not None
    plies = panel.stack.plies
    face, middle = shared.LOOKS[skin.family], shared.LOOKS[core.family]
    drawn = [SectionPly(ply, middle, core.label.lower()) for ply in plies]
    for place in (0, -1):
        drawn[place] = SectionPly(plies[place], face, "skin")
    return section("The sheet in section", "Cut along the core's grain. 0° = along it.", drawn)


def crush_rows(stack: Layup) -> tuple[tuple[float, float, float, float], ...]:
    """Return share lost, thickness left [m], stiffness left and strength left.

    Examples
    --------
    >>> from calc import materials
    >>> board = materials.load("foam-board").layup(thickness=0.005)
    >>> [round(row[2], 2) for row in crush_rows(board)][:3]
    [1.0, 0.91, 0.82]
    """
    core = sandwich.core_thickness(stack)
    first = laminate.bending(stack)[0, 0]
    strong = sandwich.strip_limits(stack)
    start = strong.moment
    out = []
    for share in CRUSHED:
        now = sandwich.with_crushed_core(stack, share * core)
        left = sandwich.strip_limits(now)
        out.append(
            (
                share,
                now.thickness,
                float(laminate.bending(now)[0, 0] / first),
                left.moment / start,
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
    core = sandwich.core_thickness(panel.whole)
    shares = np.linspace(0.0, 0.6, 13)
    first = laminate.bending(panel.whole)[0, 0]
    left = [
        float(
            laminate.bending(sandwich.with_crushed_core(panel.whole, float(s) * core))[0, 0] / first
        )
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
    found: sandwich.StripLimits,
    thin: sandwich.ThinFaceSandwich,
    sag: sandwich.TipDeflection,
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
            f"{sag.bending * 1e3:.3g} mm from bending and {sag.shear * 1e3:.3g} mm from the core's "
            f"shear, U = {float(laminate.stiffness(panel.stack).transverse_shear[0, 0]):.3g} N/m",
            note="Allen, Structural Sandwich Panels (1969); from memory, unverified",
        ),
        Step(
            "Face",
            "Tsai and Wu, ply by ply, for a moment of 1 N·m/m; moment = F L/b",
            f"fails at {found.face:.3g} N·m/m ({found.face_mode})",
            ("tsai-wu-1971",),
        ),
        Step(
            "Wrinkling",
            f"σ = k (E_f E_c G_c)^(1/3), k = {sandwich.WRINKLING_FACTOR:g}",
            f"{found.wrinkling_stress / 1e6:.3g} MPa, at {found.wrinkling:.3g} N·m/m",
            note="Hoff and Mautner (1945); k from memory, unverified: 0.82 to 0.91 in theory",
        ),
        Step(
            "Core shear",
            "τ = V/h, h between the middles of the faces",
            f"{found.shear:.3g} N/m",
        ),
    )


def drawing(values: FacedCoreValues) -> Figure | None:
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
