"""Does a centring ring carry the motor's thrust into the body tube."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from calc import joint, layup, rings
from calc.calculators import Calculator, Choice, Input
from calc.calculators import common as c
from calc.calculators.landing import DIRECTIONS, bending_strength
from calc.check import REQUIRED_LOAD_MARGIN
from calc.errors import InputError
from calc.materials import Material
from calc.report import (
    CAUTION,
    Answer,
    Change,
    Figure,
    Mode,
    Report,
    State,
    Step,
    Verdict,
)
from calc.units import show, typed

RING = "The ring"
LOAD = "The load"
ROLLING = (0.18, 0.28)
"""Shear strength of wood across its fibres (rolling shear) over that along them: Wood Handbook,
FPL-GTR-282 (2021), ch. 5; from memory, unverified."""
SUDDEN = 2.0
"""Factor for thrust that comes in one step."""

INPUTS = (
    Input("body", "Body tube diameter", "length", "2.2 in", "Outside.", RING, "in", 0.01, 0.5),
    Input("wall", "Body tube wall", "length", "1 mm", "", RING, "mm", low=0.0001, high=0.01),
    Input(
        "motor_tube",
        "Motor tube diameter",
        "length",
        "31 mm",
        "Outside; the ring's hole.",
        RING,
        "mm",
        low=0.005,
        high=0.4,
    ),
    Input(
        "fillet",
        "Fillet radius",
        "length",
        "1/8 in",
        "On both faces, at both tubes; 0 for none.",
        RING,
        "in",
        low=0.0,
        high=0.03,
    ),
    Input(
        "adhesive",
        "Glue",
        "choice",
        "epoxy",
        "",
        RING,
        choices=tuple(Choice(key, glue.label) for key, glue in joint.ADHESIVES.items()),
    ),
    Input(
        "tube",
        "Tubes",
        "choice",
        "kraft",
        "",
        RING,
        choices=tuple(Choice(key, tube.label) for key, tube in joint.TUBES.items()),
    ),
    Input(
        "thrust",
        "Largest thrust",
        "force",
        "60 N",
        "The peak, not the average: often one and a half times the average.",
        LOAD,
        "N",
        low=0.5,
        high=20000.0,
    ),
    Input(
        "rings",
        "Rings that share it",
        "integer",
        "1",
        "1 if only one is butted by the motor's thrust ring or glued well enough.",
        LOAD,
        low=1,
        high=6,
    ),
)


def checked(values: Mapping[str, Any], material: Material, end: int) -> rings.RingCheck:
    """Return the ring's margins with glue, tube and shear strength at their low or high end.

    The low end takes the edges as free to turn; the high end, where there are fillets, as held.
    """
    stack = material.layup(
        thickness=values["thickness"], density=values["density"], cut=values["cut"]
    )
    flat = layup.flexural_constants(stack)
    turns = np.linspace(0.0, math.pi, DIRECTIONS)
    shear = min(ply.lamina.shear_strength for ply in stack.plies)
    rolling = ROLLING[end] if material.family in ("wood", "plywood") else 1.0
    glue, tube = joint.ADHESIVES[values["adhesive"]], joint.TUBES[values["tube"]]
    glued = end == 1 and values["fillet"] > 0.0
    return rings.check(
        outer=0.5 * values["body"] - values["wall"],
        inner=0.5 * values["motor_tube"],
        thickness=values["thickness"],
        thrust=values["thrust"],
        modulus=math.sqrt(float(flat[0]) * float(flat[1])),
        strength=float(bending_strength(stack, turns, plywood=material.family == "plywood").min()),
        shear_strength=rolling * shear,
        glue_shear=joint.allowable(glue.shear[end], shear, tube.shear[end]),
        rings=values["rings"],
        sudden=SUDDEN,
        fillet_radius=values["fillet"],
        outer_edge="clamped" if glued else "simple",
        inner_edge="guided" if glued else "free",
    )


def answer(**values: Any) -> Report:
    """Answer for SI values by input name."""
    outer = 0.5 * values["body"] - values["wall"]
    inner = 0.5 * values["motor_tube"]
    if outer <= 1.02 * inner:
        raise InputError(
            "motor_tube",
            f"{values['motor_tube'] * 1e3:.3g} mm",
            f"less than the body tube's bore, {2e3 * outer:.3g} mm",
        )
    material = c.material_of(values)
    low, high = checked(values, material, 0), checked(values, material, 1)
    # at the high end the edges bend the ring less: counted as capacity, so that both ends share
    # one demand
    bands = [
        (a.name, a.demand, a.capacity, a.demand * b.ratio)
        for a, b in zip(low.margins, high.margins, strict=True)
    ]
    ratios = [math.sqrt(weak * strong) / demand for _, demand, weak, strong in bands]
    worst = int(np.argmin(ratios))
    name, demand, weak, strong = bands[worst]
    ratio = ratios[worst]
    state: State = (
        "fails"
        if ratio < 1.0
        else "holds"
        if ratio >= REQUIRED_LOAD_MARGIN and weak >= demand
        else "marginal"
    )
    word = {"holds": "Holds", "marginal": "Marginal", "fails": "Does not hold"}[state]
    narrow = values["thickness"] > (outer - inner) / 3.0
    stack = material.layup(
        thickness=values["thickness"], density=values["density"], cut=values["cut"]
    )
    mass = math.pi * (outer**2 - inner**2) * stack.areal_mass
    return Report(
        calculator="ring",
        summary=f"{word} with a margin of {ratio:.2f}; {name} governs.",
        answers=(
            Answer("margin", "Smallest margin", ratio, "number", weak / demand, strong / demand),
            Answer("thrust_held", "Thrust at which it would give", values["thrust"] * ratio,
                   "force", values["thrust"] * weak / demand, values["thrust"] * strong / demand,
                   note=f"coming suddenly (factor {SUDDEN:.0f})"),
            Answer("deflection", "How far the motor tube moves", low.deflection, "length",
                   digits=2),
            Answer("ring_mass", "Mass of one ring", mass, "mass"),
            Answer("width", "Width of the ring", outer - inner, "length"),
        ),
        headline=("margin", "thrust_held", "deflection", "ring_mass"),
        verdict=Verdict(
            state, name, ratio,
            f"{name[0].upper()}{name[1:]} comes first. Asked for: {REQUIRED_LOAD_MARGIN:.1f} with "
            "middle strengths, and 1 with the low ones.",
            weak / demand, strong / demand,
        ),
        modes=tuple(
            Mode(n, n[0].upper() + n[1:], d, math.sqrt(a * b), "pressure", r, a / d, b / d,
                 note="reads low: the ring is too narrow to bend" if narrow and n == "ring bending"
                 else "")
            for (n, d, a, b), r in zip(bands, ratios, strict=True)
        ),
        bars="What ring and glue bear, over what the sudden thrust asks. At 1 they only just hold. "
        "Thin lines: from all strengths low to all strengths high.",
        changes=_changes(values, material, ratio),
        figures=(_chart(values, material),),
        steps=_steps(values, low, outer, inner, material),
        cautions=(CAUTION,),
        notes=(
            "Not modelled: heat from the motor, a motor pushed out of line, rings cut oval or "
            "glued with gaps, ejection pressure from above, damp.",
            *(("This ring is narrower than three thicknesses: it hardly bends, and glue and shear "
               "decide.",) if narrow else ()),
        ),
        sources=tuple(sorted({"common-practice", "petrie-2000", *material.sources})),
    )  # fmt: skip


def _middle(values: Mapping[str, Any], material: Material) -> float:
    low, high = checked(values, material, 0), checked(values, material, 1)
    return min(math.sqrt(a.ratio * b.ratio) for a, b in zip(low.margins, high.margins, strict=True))


def _changes(values: Mapping[str, Any], material: Material, before: float) -> tuple[Change, ...]:
    out = []

    def add(label: str, inputs: Mapping[str, str], **other: Any) -> None:
        now = _middle({**values, **other}, material)
        out.append(Change(label, f"margin {before:.2f} → {now:.2f}", now, inputs=inputs))

    sizes = sorted(set(material.thicknesses)) if material.stock else []
    size = next((t for t in sizes if t > 1.1 * values["thickness"]), None)
    if size is not None and size <= 0.03:
        add(f"A thicker sheet: {show(size, 'length', 'in')}",
            {"thickness": f"{typed(size, 'length', 'mm')} mm"}, thickness=size)  # fmt: skip
    more = values["rings"] + 1
    if more <= 6:
        add(f"{more} rings that share the thrust", {"rings": str(more)}, rings=more)
    wider = values["fillet"] + 0.0015875
    if wider <= 0.03:
        add(f"Fillets of {c.told(values)(wider, 'length')}",
            {"fillet": f"{typed(wider, 'length', 'mm')} mm"}, fillet=wider)  # fmt: skip
    return tuple(out)


def _chart(values: Mapping[str, Any], material: Material) -> Figure:
    sizes = values["thickness"] * np.array([0.5, 0.7, 1.0, 1.4, 1.8])
    kept, lines = [], []
    for size in (float(v) for v in sizes):
        try:
            low, high = (checked({**values, "thickness": size}, material, end) for end in (0, 1))
        except InputError:
            continue
        kept.append(size)
        lines.append(
            [
                min(math.sqrt(a.ratio * b.ratio), 20.0)
                for a, b in zip(low.margins, high.margins, strict=True)
            ]
        )
    names = ("bending", "shear", "glue, motor tube", "glue, body tube")
    return Figure(
        "chart",
        "Margin against thickness",
        "Everything else kept.",
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


def _steps(
    values: Mapping[str, Any],
    low: rings.RingCheck,
    outer: float,
    inner: float,
    material: Material,
) -> tuple[Step, ...]:
    force = SUDDEN * values["thrust"] / values["rings"]
    bend, shear, at_motor, at_body = low.margins
    return (
        Step(
            "The load on one ring",
            "P = 2 · thrust / rings",
            f"{force:.4g} N",
            ("timoshenko-strength",),
            note="a load that comes in one step bends an elastic part twice as far as at rest",
        ),
        Step(
            "The ring bends",
            "D ∇⁴ w = 0 with P along the hole; edges free to turn (low end) or, with fillets, held "
            "square (high end); σ = 6 M / t²",
            f"low end: a = {outer * 1e3:.3g} mm, b = {inner * 1e3:.3g} mm, M = "
            f"{low.bending.peak_moment:.3g} N·m/m, σ = {bend.demand / 1e6:.3g} MPa of "
            f"{bend.capacity / 1e6:.3g} MPa in the weakest direction",
            ("timoshenko-plates-1959", "roark-2002", "anc-18", *material.sources[:1]),
        ),
        Step(
            "Shear through the sheet",
            "τ = 1.5 P / (2 π b t)",
            f"{shear.demand / 1e6:.3g} MPa of {shear.capacity / 1e6:.3g} MPa"
            + (
                f"; across the fibres wood bears {ROLLING[0]:.0%} to {ROLLING[1]:.0%} of its shear "
                "strength along them"
                if material.family in ("wood", "plywood")
                else ""
            ),
            ("wood-handbook-2021",),
        ),
        Step(
            "The glue",
            "τ = P / (2 π r (t + 2 a)), a = (2 − √2) fillet radius",
            f"motor tube {at_motor.demand / 1e6:.3g} MPa, body tube {at_body.demand / 1e6:.3g} "
            f"MPa, of {at_motor.capacity / 1e6:.3g} MPa at least",
            ("anc-18", "astm-d905", "common-practice"),
            note="the weaker of glue, ring and tube",
        ),
        Step(
            "What is asked",
            f"≥ {REQUIRED_LOAD_MARGIN:.1f} in load with middle strengths, ≥ 1 with the low ones",
            f"weakest: {low.governs.name}, {low.governs.ratio:.2f} with the low ones",
            ("far-25-303",),
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
