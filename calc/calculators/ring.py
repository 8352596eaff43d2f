"""Does a centring ring carry the motor's thrust into the body tube."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Unpack

import numpy as np

from calc import units
from calc.calculators import shared as c
from calc.errors import InputError
from calc.fin import joint, policy, whole
from calc.fin.policy import MOST_SHORT, REQUIRED_LOAD_MARGIN
from calc.forms import Calculator, Choice, Input
from calc.margin import Margin
from calc.materials import Material, bonding
from calc.report import (
    ALL_STRENGTHS,
    CAUTION,
    Answer,
    Change,
    Figure,
    Report,
    Step,
    Verdict,
)
from calc.structure import laminate, rings, root_joint
from calc.structure.failure import weakest_bending

RING = "The ring"
LOAD = "The load"
INPUTS = (
    Input(
        "body",
        "Body tube diameter",
        "length",
        "2.2 in",
        help="Outside.",
        group=RING,
        unit="in",
        low=0.01,
        high=0.5,
    ),
    Input("wall", "Body tube wall", "length", "1 mm", group=RING, unit="mm", low=0.0001, high=0.01),
    Input(
        "motor_tube",
        "Motor tube diameter",
        "length",
        "31 mm",
        help="Outside; the ring's hole.",
        group=RING,
        unit="mm",
        low=0.005,
        high=0.4,
    ),
    Input(
        "fillet",
        "Fillet radius",
        "length",
        "1/8 in",
        help="On both faces, at both tubes; 0 for none.",
        group=RING,
        unit="in",
        low=0.0,
        high=0.03,
    ),
    Input(
        "adhesive",
        "Glue",
        "choice",
        "epoxy",
        group=RING,
        choices=tuple(Choice(key, glue.label) for key, glue in bonding.ADHESIVES.items()),
    ),
    Input(
        "tube",
        "Tubes",
        "choice",
        "kraft",
        group=RING,
        choices=tuple(Choice(key, tube.label) for key, tube in bonding.TUBES.items()),
    ),
    Input(
        "thrust",
        "Largest thrust",
        "force",
        "60 N",
        help="The peak, not the average: about 1.5 times it for composite motors, 2 to 3 times for "
        "small black-powder ones.",
        group=LOAD,
        unit="N",
        low=0.5,
        high=20000.0,
    ),
    Input(
        "rings",
        "Rings that share it",
        "integer",
        "1",
        help="1 if only one is butted by the motor's thrust ring or glued well enough.",
        group=LOAD,
        low=1,
        high=6,
    ),
)


class RingValues(c.SheetValues, c.OwnValues, c.UnitsValues):
    """Values of this calculator."""

    body: float
    wall: float
    motor_tube: float
    fillet: float
    adhesive: str
    tube: str
    thrust: float
    rings: int
    cut: str | None


@dataclass(frozen=True)
class Case:
    """A ring in its tubes with the thrust on it, ready to be judged and changed."""

    ring: rings.Ring
    sheet: rings.RingSheet
    adhesive: root_joint.Adhesive
    tube: root_joint.Tube
    force: float
    areal_mass: float

    @property
    def capacity(self) -> rings.RingCapacity:
        """What the ring carries, between weak and strong parts."""
        return rings.capacity(
            self.ring, self.sheet, adhesive=self.adhesive, tube=self.tube, force=self.force
        )


def case_of(values: RingValues, material: Material) -> Case:
    """Return the ring that the inputs describe.

    Raises
    ------
    InputError
        For a motor tube that leaves no room, or a thickness that the material cannot have.
    """
    stack = material.layup(
        thickness=values["thickness"], density=values["density"], cut=values["cut"]
    )
    flat = laminate.flexural_constants(stack)
    plywood = material.family == "plywood"
    return Case(
        ring=rings.Ring(
            outer=0.5 * values["body"] - values["wall"],
            inner=0.5 * values["motor_tube"],
            thickness=values["thickness"],
            fillet=values["fillet"],
        ),
        sheet=rings.RingSheet(
            modulus=math.sqrt(float(flat[0]) * float(flat[1])),
            strength=weakest_bending(stack, plywood=plywood)[0],
            shear_strength=min(ply.lamina.shear_strength for ply in stack.plies),
            rolling=material.family in ("wood", "plywood"),
        ),
        adhesive=bonding.ADHESIVES[values["adhesive"]],
        tube=bonding.TUBES[values["tube"]],
        force=rings.ring_force(thrust=values["thrust"], rings=values["rings"]),
        areal_mass=stack.areal_mass,
    )


def _refuse_narrow(values: RingValues) -> None:
    outer = 0.5 * values["body"] - values["wall"]
    if outer <= 1.02 * 0.5 * values["motor_tube"]:
        raise InputError(
            "motor_tube",
            f"{values['motor_tube'] * 1e3:.3g} mm",
            f"less than the body tube's bore, {2e3 * outer:.3g} mm",
        )


def margin_of(band: Margin) -> Margin:
    """Return a ring's margin with the reserve required of it and the spread of such rings."""
    required = replace(band, required=REQUIRED_LOAD_MARGIN)
    if band.low is None or band.high is None:
        return required
    return required.spread(*joint.deciles(low=band.low, high=band.high))


def answer(**values: Unpack[RingValues]) -> Report:
    """Answer for SI values by input name."""
    _refuse_narrow(values)
    material = c.material_of(values)
    case = case_of(values, material)
    ring, found = case.ring, case.capacity
    governs = found.governs
    over = margin_of(governs)
    state = policy.verdict_state([over], whole.chance_below(over))
    word = {"holds": "Holds", "marginal": "Marginal", "fails": "Does not hold"}[state]
    first = governs.name[0].upper() + governs.name[1:]
    width = ring.outer - ring.inner
    narrow = ring.thickness > width / 3.0
    mass = math.pi * (ring.outer**2 - ring.inner**2) * case.areal_mass
    return Report(
        calculator="ring",
        summary=f"{word} with a margin of {over.margin:.2f}; {governs.name} governs.",
        answers=(
            Answer("margin", "Smallest margin", over.margin, "number",
                   over.low_margin, over.high_margin),
            Answer("thrust_held", "Thrust at which it would fail", values["thrust"] * over.ratio,
                   "force", values["thrust"] * (over.low or 0.0),
                   values["thrust"] * (over.high or 0.0),
                   note=f"coming suddenly (factor {rings.SUDDEN:.0f})"),
            Answer("deflection", "How far the motor tube moves", found.weak.deflection, "length",
                   digits=2),
            Answer("ring_mass", "Mass of one ring", mass, "mass"),
            Answer("width", "Width of the ring", width, "length"),
        ),
        headline=("margin", "thrust_held", "deflection", "ring_mass"),
        verdict=Verdict(
            state, governs.name, over.margin,
            f"{first} comes first. A margin of 1 is what is required, {REQUIRED_LOAD_MARGIN:.1f} "
            f"times the load; and at most {MOST_SHORT:.0%} of such rings may give way. "
            "The range covers eight rings in ten.",
            over.low_margin, over.high_margin,
        ),
        modes=tuple(
            replace(band, kind="pressure", required=REQUIRED_LOAD_MARGIN,
                 note="reads low: the ring is too narrow to bend"
                 if narrow and band.name == "ring bending" else "")
            for band in found.bands
        ),
        bars="What ring and glue can take, divided by what is required under the sudden thrust. At "
        "1 it is just enough. Thin lines: from all strengths low to all strengths high.",
        ranges=ALL_STRENGTHS,
        changes=_changes(values, material, case, over.margin),
        figures=(_chart(values, material),),
        steps=_steps(case, found.weak, over, material),
        cautions=(CAUTION,),
        notes=(
            "Not modelled: heat from the motor, a motor pushed out of line, rings cut oval or "
            "glued with gaps, ejection pressure from above, damp.",
            *(("This ring is narrower than three thicknesses: it hardly bends, and glue and shear "
               "decide.",) if narrow else ()),
        ),
        sources=tuple(sorted({"common-practice", "petrie-2000", *material.sources})),
    )  # fmt: skip


def _changes(
    values: RingValues, material: Material, case: Case, before: float
) -> tuple[Change, ...]:
    out = []

    def add(label: str, inputs: Mapping[str, str], changed: Case) -> None:
        now = changed.capacity.governs.ratio / REQUIRED_LOAD_MARGIN
        if f"{now:.2f}" == f"{before:.2f}":
            return
        out.append(Change(label, f"margin {before:.2f} → {now:.2f}", now, inputs=inputs))

    size = next((t for t in _sizes(values, material) if t > 1.1 * values["thickness"]), None)
    if size is not None and size <= 0.03:
        add(f"A thicker sheet: {material.nearest_stock(size).trade_label}",
            {"thickness": f"{units.typed(size, 'length', 'mm')} mm"},
            case_of(values | {"thickness": size}, material))  # fmt: skip
    more = values["rings"] + 1
    if more <= 6:
        force = rings.ring_force(thrust=values["thrust"], rings=more)
        add(f"{more} rings that share the thrust", {"rings": str(more)},
            replace(case, force=force))  # fmt: skip
    wider = values["fillet"] + 0.0015875
    if wider <= 0.03:
        add(f"Fillets of {c.formatter(values)(wider, 'length')}",
            {"fillet": f"{units.typed(wider, 'length', 'mm')} mm"},
            replace(case, ring=replace(case.ring, fillet=wider)))  # fmt: skip
    return tuple(out)


def _sizes(values: RingValues, material: Material) -> list[float]:
    """Return stock thicknesses [m], thinnest first, in the system that the ring's sheet is sold in.

    Those of the other system where the material is sold in that alone.
    """
    near = units.inch_fraction(values["thickness"], tolerance=1e-4)
    system = "inch" if near else "metric"
    own = {item.thickness for item in material.stock if item.system == system}
    return sorted(own or {item.thickness for item in material.stock})


def _chart(values: RingValues, material: Material) -> Figure:
    sizes = values["thickness"] * np.array([0.5, 0.7, 1.0, 1.4, 1.8])
    kept, lines = [], []
    for size in (float(v) for v in sizes):
        try:
            found = case_of(values | {"thickness": size}, material).capacity
        except InputError:
            continue
        kept.append(size)
        lines.append([min(band.ratio / REQUIRED_LOAD_MARGIN, 20.0) for band in found.bands])
    names = ("bending", "shear", "glue, motor tube", "glue, body tube")
    return Figure(
        "chart",
        "Margin against thickness",
        "Everything else unchanged.",
        {
            "x": {"label": "Thickness", "kind": "length"},
            "y": {"label": "Margin", "kind": "number", "zero": True},
            "series": [
                {"name": name, "x": kept, "y": [float(f"{row[i]:.4g}") for row in lines]}
                for i, name in enumerate(names)
            ],
            "marks": [
                {"axis": "y", "value": 1.0, "label": "only just holds"},
                {"axis": "x", "value": values["thickness"], "label": "yours"},
            ],
        },
    )


def _steps(case: Case, low: rings.RingCheck, over: Margin, material: Material) -> tuple[Step, ...]:
    outer, inner = case.ring.outer, case.ring.inner
    rolling = rings.ROLLING_SHEAR
    bend, shear, at_motor, at_body = low.margins
    return (
        Step(
            "The load on one ring",
            f"P = {rings.SUDDEN:g} · thrust / rings",
            f"{case.force:.4g} N",
            ("timoshenko-strength",),
            note="a load that comes in one step bends an elastic part twice as far as at rest",
        ),
        Step(
            "The ring bends",
            "D ∇⁴ w = 0 with P along the hole; edges free to turn (low end) or, with fillets, held "
            "square (high end); σ = 6 M / t²",
            f"low end: a = {outer * 1e3:.3g} mm, b = {inner * 1e3:.3g} mm, M = "
            f"{low.bending.peak_moment:.3g} N·m/m, σ = {bend.demand / 1e6:.3g} MPa of "
            f"{bend.capacity.value / 1e6:.3g} MPa in the weakest direction",
            ("timoshenko-plates-1959", "roark-2002", "anc-18", *material.sources[:1]),
        ),
        Step(
            "Shear through the sheet",
            "τ = 1.5 P / (2 π b t)",
            f"{shear.demand / 1e6:.3g} MPa of {shear.capacity.value / 1e6:.3g} MPa"
            + (
                f"; across the fibres wood carries {rolling[0]:.0%} to {rolling[1]:.0%} of its "
                "shear strength along them"
                if case.sheet.rolling
                else ""
            ),
            ("wood-handbook-2021",),
        ),
        Step(
            "The glue",
            "τ = P / (2 π r (t + 2 a)), a = (2 − √2) fillet radius",
            f"motor tube {at_motor.demand / 1e6:.3g} MPa, body tube {at_body.demand / 1e6:.3g} "
            f"MPa, of {at_motor.capacity.value / 1e6:.3g} MPa at least",
            ("anc-18", "astm-d905", "common-practice"),
            note="the weaker of glue, ring and tube",
        ),
        Step(
            "What is required",
            f"≥ {REQUIRED_LOAD_MARGIN:.1f} in load, and at most {MOST_SHORT:.0%} of such rings "
            "below 1",
            f"{over.name}: {over.ratio:.2f}, and {whole.chance_below(over):.1%} below 1",
            ("far-25-303", "common-practice"),
        ),
    )


def _stock() -> tuple[Input, ...]:
    """Return the inputs of the sheet: shared ones, without a direction that a ring has not."""
    return tuple(
        replace(item, help="") if item.name == "thickness" else item
        for item in c.stock_inputs("birch-plywood")
        if item.name != "grain"
    )


CALCULATOR = Calculator(
    slug="ring",
    title="Centring ring",
    question="Does the ring carry the motor's thrust?",
    inputs=(*INPUTS, *_stock()),
    answer=answer,
)
