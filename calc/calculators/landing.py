"""Does the fin survive touchdown: which part strikes first, with what energy, on what ground."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc import atmosphere, check, landing, plate, strength
from calc import layup as layups
from calc.calculators import Calculator, Choice, Input
from calc.calculators import common as c
from calc.errors import InputError
from calc.margin import Margin
from calc.report import (
    CAUTION,
    Answer,
    Change,
    Column,
    Figure,
    Mode,
    Report,
    State,
    Step,
    Table,
    Verdict,
)
from calc.units import show, typed

Real = NDArray[np.float64]

FACTOR = 2.0
"""The estimate is good to about this factor in energy; shown as the range of every margin."""
DROP = "How it comes down"
GROUNDS: tuple[tuple[str, str, float], ...] = (
    ("rigid", "rigid ground, no dent", math.inf),
    ("hard", "hard ground", math.inf),
    ("firm", "firm turf", landing.TURF[1]),
    ("soft", "soft turf", landing.TURF[0]),
)
"""Name, label and resistance to a pressed-in point [Pa]. Except in the first, the fin's own
corner crushes where it is weaker than the ground."""
JUDGED = {"hard": "hard", "turf": "firm"}
"""Which of them decides for each choice of the reader."""
UNUSED = ("count", "own_density")
"""Inputs of other calculators that change nothing here: one fin strikes, and its own mass is lost
in the rocket's."""
DIRECTIONS = 37
"""Directions of the sheet tried for the weakest corner."""
TILTS = 5
"""Tilts of the rocket tried between hanging straight and the full swing."""

INPUTS = (
    Input(
        "descent",
        "Sinks",
        "choice",
        "parachute",
        "",
        DROP,
        choices=(
            Choice("parachute", "under a parachute"),
            Choice("speed", "at a speed I know"),
        ),
    ),
    Input(
        "parachute",
        "Parachute diameter",
        "length",
        "15 in",
        "Laid out flat.",
        DROP,
        "in",
        low=0.05,
        high=5.0,
        shown_when={"descent": ("parachute",)},
    ),
    Input(
        "canopy",
        "Canopy",
        "choice",
        "flat circular",
        "",
        DROP,
        choices=tuple(Choice(name, name) for name in landing.PARACHUTE_DRAG),
        shown_when={"descent": ("parachute",)},
    ),
    Input(
        "spill",
        "Spill hole",
        "length",
        "0 in",
        "",
        DROP,
        "in",
        low=0.0,
        high=4.0,
        shown_when={"descent": ("parachute",)},
    ),
    Input(
        "sink",
        "Sink speed",
        "speed",
        "15 ft/s",
        "A streamer or tumble descent: time it from a known height.",
        DROP,
        "ft/s",
        low=0.5,
        high=60.0,
        shown_when={"descent": ("speed",)},
    ),
    Input(
        "mass",
        "Mass as it comes down",
        "mass",
        "150 g",
        "With the spent motor.",
        DROP,
        "g",
        low=0.003,
        high=100.0,
    ),
    Input("length", "Rocket length", "length", "20 in", "", DROP, "in", low=0.05, high=5.0),
    Input(
        "tail",
        "Tail behind the root",
        "length",
        "0 in",
        "How far tube or motor reach behind the fin's root; negative if the root overhangs.",
        DROP,
        "in",
        low=-0.5,
        high=1.0,
    ),
    Input(
        "ground",
        "Ground",
        "choice",
        "turf",
        "Decides the verdict; both are shown.",
        DROP,
        choices=(Choice("turf", "grass or field"), Choice("hard", "road, dry lake bed, ice")),
    ),
    Input(
        "swing",
        "Swing",
        "angle",
        "20",
        "How far it swings or hangs askew; 10 to 40 degrees under a flat canopy.",
        "More about the landing",
        "deg",
        low=0.0,
        high=math.radians(80.0),
    ),
    Input(
        "share",
        "Share of the blow on one fin",
        "fraction",
        "50 %",
        "Half, where the tube or another fin takes the rest; 100 % is the hard case.",
        "More about the landing",
        "%",
        low=0.05,
        high=1.0,
    ),
)


def breaking(stack: layups.Layup) -> layups.Layup:
    """Return the stack with pressure across the grain bearing no less than tension.

    Wood pressed across its grain dents and goes on carrying; it breaks on the stretched side.
    """
    return layups.Layup(
        tuple(
            replace(
                ply,
                lamina=replace(
                    ply.lamina,
                    compression_across=max(
                        ply.lamina.compression_across, ply.lamina.tension_across
                    ),
                ),
            )
            for ply in stack.plies
        )
    )


def crushing(fin: check.Fin) -> float:
    """Return the pressure at which the fin's own corner crushes along the fall [Pa].

    Each ply's crushing strength at its angle to the tube by Hankinson's formula, averaged over
    the thickness.
    """
    stack = fin.material.layup(
        thickness=fin.thickness, density=fin.density, cut=fin.cut, strength="direct"
    )
    total = 0.0
    for ply in stack.plies:
        turned = (ply.angle + fin.direction) % math.pi
        angle = min(turned, math.pi - turned)
        found = layups.hankinson(ply.lamina.compression_along, ply.lamina.compression_across, angle)
        total += ply.thickness * float(found)
    return total / stack.thickness


@dataclass(frozen=True)
class Stiff:
    """What a clamped fin bears at the middle of its tip: force [N] and compliance [m/N]."""

    force: float
    compliance: float
    failing: str


def bending_strength(stack: layups.Layup, direction: ArrayLike, *, plywood: bool = False) -> Real:
    """Return ``(...)`` bending strength where the stress runs `direction` from the grain [Pa].

    ``6 M / t^2`` at the moment M per width that makes the first ply fail, either face: by Tsai-Wu,
    or for plywood by ANC Bulletin 18, eq. 2:19, which does not count a split along a cross ply.
    """
    turned = -np.asarray(direction, float)[..., None]
    unit = stack.thickness**2 / 6.0
    moments = np.broadcast_to([[unit, 0.0, 0.0], [-unit, 0.0, 0.0]], (*turned.shape[:-1], 2, 3))
    stresses = layups.ply_stresses(stack, moments=moments, angle=turned)
    factors: Real = np.asarray(layups.failure(stack, stresses, across=not plywood).factor)
    return np.asarray(factors.min(axis=-1))


def pushed(fin: check.Fin) -> Stiff:
    """Return what the clamped fin bears at the middle of its tip, from the plate and its plies."""
    shape = check.model_for(fin)
    found = check.structure(shape, [breaking(fin.layup())], [fin.direction])
    system = found.single(0)
    tip = np.array([[fin.planform.sweep + 0.5 * fin.planform.tip, fin.planform.span]])
    at_tip = system.basis.values(tip)[0]
    bent = plate.static(system, load=at_tip)
    root = strength.root_loads(
        system=system,
        planform=fin.planform,
        layup=found.layups[0],
        angle=fin.direction,
        bending=found.bending[0],
        coefficients=bent[None],
        moment=[fin.planform.span],
        shear=[1.0],
    )[0]
    return Stiff(root.factor, float(at_tip @ bent), root.failing)


def _properties(fin: check.Fin) -> tuple[dict[str, float], Stiff]:
    """Return the sheet properties that `landing.touchdown` takes.

    Flatwise, they are those of a plain strip that breaks at the same force and gives way as far
    as the clamped plate with its grain; across the corner, the weakest direction of the sheet;
    edgewise, the sheet's own along the span.
    """
    shape, stack, t = fin.planform, breaking(fin.layup()), fin.thickness
    stiff = pushed(fin)
    outline = {"root": shape.root, "tip": shape.tip, "span": shape.span}
    unit = landing.flat_strip(**outline, thickness=t, modulus=1.0, strength=1.0)
    turns = np.linspace(0.0, math.pi, DIRECTIONS)
    strengths = bending_strength(stack, turns, plywood=fin.material.family == "plywood")
    weak = int(np.argmin(strengths))
    weak_modulus = float(layups.flexural_constants(stack, angle=-float(turns[weak]))[0])
    turned = fin.direction - 0.5 * math.pi
    plane = layups.in_plane_constants(stack, angle=turned)
    force = stack.thickness * np.array([[1.0, 0.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    stresses = layups.ply_stresses(
        stack, moments=np.zeros((3, 3)), forces=force, angle=np.full(3, turned)
    )
    factors = np.asarray(layups.failure(stack, stresses).factor)
    return {
        "modulus": unit.compliance / stiff.compliance,
        "strength": stiff.force / unit.force,
        "corner_modulus": weak_modulus,
        "corner_strength": float(strengths[weak]),
        "edge_modulus": float(plane[0]),
        "edge_strength": float(factors[:2].min()),
        "shear_modulus": float(plane[2]),
        "shear_strength": float(factors[2]),
    }, stiff


def _speed(values: Mapping[str, Any]) -> tuple[float, float, float]:
    """Return the sink speed and its low and high end [m/s]."""
    if values["descent"] == "speed":
        return values["sink"], values["sink"], values["sink"]
    low, high = landing.PARACHUTE_DRAG[values["canopy"]]
    air = atmosphere.site(values["site"], values["temperature"]).at(0.0)
    if values["spill"] >= 0.9 * values["parachute"]:
        raise InputError(
            "spill", f"{values['spill']:.3g} m", "a hole smaller than 0.9 of the parachute"
        )
    speeds = [
        landing.descent_speed(
            mass=values["mass"],
            parachute_diameter=values["parachute"],
            drag_coefficient=drag,
            density=float(air.density),
            spill_hole=values["spill"],
        )
        for drag in (0.5 * (low + high), high, low)
    ]
    return speeds[0], speeds[1], speeds[2]


@dataclass(frozen=True)
class Blow:
    """The worst touchdown on one ground, over the rocket's swing."""

    down: landing.Touchdown
    tilt: float
    governs: Margin
    dent: float
    """How deep the corner is crushed or sinks in, edge on [m]."""


def blow(
    fin: check.Fin,
    properties: Mapping[str, float],
    values: Mapping[str, Any],
    *,
    speed: float,
    resistance: float,
    tail: float | None = None,
) -> Blow:
    """Return the touchdown with the smallest margin among tilts from none to the full swing.

    Tilted toward the fin by a part of the swing, the rocket meets the fin's plane at the rest of
    it: the two share one swing as the sides of a right angle.
    """
    shape = fin.planform
    angle, leg = landing.tip_corner(
        root=shape.root, tip=shape.tip, span=shape.span, sweep=shape.sweep
    )
    found = []
    for part in np.linspace(0.0, 0.5 * math.pi, TILTS):
        tilt = values["swing"] * math.sin(float(part))
        down = landing.touchdown(
            speed=speed,
            mass=values["mass"],
            length=values["length"],
            diameter=values["body"],
            root=shape.root,
            tip=shape.tip,
            span=shape.span,
            sweep=shape.sweep,
            thickness=fin.thickness,
            tail=values["tail"] if tail is None else tail,
            tilt=tilt,
            incidence=values["swing"] * math.cos(float(part)),
            share=values["share"],
            ground_resistance=resistance,
            **properties,
        )
        give = (
            landing.turf_compliance(resistance=resistance, thickness=fin.thickness, angle=angle)
            if math.isfinite(resistance)
            else 0.0
        )
        found.append(Blow(down, tilt, down.governs, min(give * down.edge_force, leg)))
    return min(found, key=lambda item: item.governs.ratio)


def answer(**values: Any) -> Report:
    """Answer for SI values by input name."""
    fin = c.fin_of(values)
    shape = fin.planform
    if values["length"] < shape.root:
        raise InputError("length", f"{values['length']:.3g} m", "a rocket longer than its fins")
    speed, slow, quick = _speed(values)
    properties, stiff = _properties(fin)
    crush = crushing(fin)
    told = c.told(values)
    blows = {
        name: blow(
            fin,
            properties,
            values,
            speed=speed,
            resistance=resistance if name == "rigid" else min(resistance, crush),
        )
        for name, _, resistance in GROUNDS
    }
    judged = blows[JUDGED[values["ground"]]]
    ratio = judged.governs.ratio
    touch = judged.down.touch
    lands_on_tail = not math.isfinite(ratio)
    fall = 0.5 * values["mass"] * speed**2
    answers = [
        Answer("descent_speed", "Sink speed", speed, "speed",
               slow if quick > slow else None, quick if quick > slow else None),
        Answer("energy", "Energy of the fall", fall, "energy"),
    ]  # fmt: skip
    for name, label, _ in GROUNDS:
        margin = blows[name].governs.ratio
        if math.isfinite(margin):
            safe = speed * math.sqrt(margin)
            answers += [
                Answer(f"safe_speed_{name}", f"Survives up to, on {label}", safe, "speed",
                       safe / math.sqrt(FACTOR), safe * math.sqrt(FACTOR)),
                Answer(f"margin_{name}", f"Margin in energy, {label}", margin, "number",
                       margin / FACTOR, margin * FACTOR),
            ]  # fmt: skip
    answers += [
        Answer("dent", "Corner pressed in on hard ground, edge on", blows["hard"].dent, "length",
               note=f"the sheet crushes at {told(crush, 'pressure', 2)} along the fall"),
        Answer("flat_force", "Force that breaks it flatwise, at the tip", stiff.force, "force",
               note=f"first to give: {stiff.failing}"),
        Answer("peak_force", "Peak force on the corner if nothing breaks",
               max(judged.down.flat_force, judged.down.edge_force), "force"),
        Answer("clearance", f"Touches first: {touch.part}; lower than the tail by",
               touch.clearance, "length"),
    ]  # fmt: skip
    headline = (
        ("descent_speed", "energy")
        if lands_on_tail
        else ("descent_speed", "safe_speed_firm", "safe_speed_hard", "energy")
    )
    return Report(
        calculator="landing",
        summary=_summary(judged, values["ground"], touch.part),
        answers=tuple(answers),
        headline=headline,
        verdict=_verdict(judged, blows, values["ground"]),
        modes=() if lands_on_tail else _modes(blows),
        bars="Energy that breaks the fin in each way, over the energy of the blow. At 1 it only "
        f"just survives. Thin lines: the method's factor of {FACTOR:.0f} either way.",
        changes=_changes(fin, properties, values, speed, judged),
        figures=() if lands_on_tail else (_chart(blows, speed),),
        tables=() if lands_on_tail else (_table(blows, told),),
        steps=_steps(fin, properties, stiff, values, speed, judged, fall),
        cautions=(CAUTION,),
        notes=_notes(fin, crush, told),
        sources=tuple(sorted({"common-practice", *fin.material.sources})),
    )


def _state(ratio: float) -> State:
    """Return a verdict only where the factor of two leaves one."""
    if not math.isfinite(ratio):
        return "unknown"
    return "holds" if ratio >= FACTOR else "fails" if ratio < 1.0 / FACTOR else "marginal"


def _summary(judged: Blow, ground: str, part: str) -> str:
    where = "hard ground" if ground == "hard" else "firm turf"
    ratio = judged.governs.ratio
    if not math.isfinite(ratio):
        return "The tail touches first and spares the fins; what the topple does is not modelled."
    word = {"holds": "Holds", "marginal": "Too close to call", "fails": "Does not hold"}[
        _state(ratio)
    ]
    return (
        f"{word} on {where}: margin {ratio:.2f} in energy, good to a factor of {FACTOR:.0f}; the "
        f"{part} strikes first."
    )


def _verdict(judged: Blow, blows: Mapping[str, Blow], ground: str) -> Verdict:
    ratio = judged.governs.ratio
    if not math.isfinite(ratio):
        return Verdict(
            "unknown",
            "tail",
            0.0,
            "The tail touches first at every tilt within the swing and spares the fins. What "
            "happens when the rocket then topples is not modelled.",
        )
    other = blows["firm" if ground == "hard" else "hard"].governs.ratio
    meaning = {
        "holds": "Even twice the energy would not break it.",
        "marginal": "The method cannot tell: energies are good to a factor of two.",
        "fails": "Even half the energy would break it.",
    }[_state(ratio)]
    return Verdict(
        _state(ratio),
        judged.governs.name,
        ratio,
        f"{meaning} First to give: {judged.governs.name}. On "
        f"{'firm turf' if ground == 'hard' else 'hard ground'} the margin is {other:.2f}.",
        ratio / FACTOR,
        ratio * FACTOR,
    )


def _modes(blows: Mapping[str, Blow]) -> tuple[Mode, ...]:
    out = []
    for name, label, _ in GROUNDS[1:3]:
        for margin in blows[name].down.margins:
            if not math.isfinite(margin.ratio):
                continue
            out.append(
                Mode(
                    f"{margin.name}, {label}",
                    f"{margin.name.capitalize()}, {label}",
                    margin.demand,
                    margin.capacity,
                    "energy",
                    margin.ratio,
                    margin.ratio / FACTOR,
                    margin.ratio * FACTOR,
                    note=f"hanging {math.degrees(blows[name].tilt):.0f}° toward this fin",
                )
            )
    return tuple(out)


def _changes(
    fin: check.Fin,
    properties: Mapping[str, float],
    values: Mapping[str, Any],
    speed: float,
    judged: Blow,
) -> tuple[Change, ...]:
    ratio = judged.governs.ratio
    if not math.isfinite(ratio):
        return ()
    hard = values["ground"] == "hard"

    def after(
        other: check.Fin = fin,
        *,
        sinking: float = speed,
        tail: float | None = None,
        on_hard: bool = hard,
    ) -> float:
        sheet = properties if other is fin else _properties(other)[0]
        pressure = min(crushing(other), math.inf if on_hard else landing.TURF[1])
        hit = blow(other, sheet, values, speed=sinking, resistance=pressure, tail=tail)
        return float(hit.governs.ratio)

    told = c.told(values)

    def effect(now: float) -> str:
        if not math.isfinite(now):
            return "the tail touches first and spares the fins"
        return f"margin {ratio:.2f} → {now:.2f}"

    out = []
    if values["descent"] == "parachute":
        wider = 1.25 * values["parachute"]
        now = after(sinking=speed / 1.25)
        out.append(
            Change(
                f"A parachute of {told(wider, 'length')}",
                effect(now),
                now,
                inputs={"parachute": f"{typed(wider, 'length', 'mm')} mm"},
            )
        )
    sizes, unit = c.stock_sizes(fin)
    limit = 0.25 * min(fin.planform.root, fin.planform.span)
    size = next((t for t in sizes if 1.02 * fin.thickness < t <= limit), None)
    if size is not None:
        now = after(replace(fin, thickness=size))
        out.append(
            Change(
                f"One size thicker: {show(size, 'length', unit)}",
                effect(now),
                now,
                inputs={"thickness": f"{typed(size, 'length', unit)} {unit}"},
            )
        )
    shape = fin.planform
    ahead = shape.sweep + shape.tip - shape.root - values["tail"]
    reach = ahead + shape.span * math.tan(values["swing"]) + 0.003
    if 0.0 < values["tail"] + reach <= 1.0:
        moved = values["tail"] + reach
        out.append(
            Change(
                f"Fins moved forward, so that {told(moved, 'length')} of tail stands behind the "
                "root",
                effect(after(tail=moved)),
                inputs={"tail": f"{typed(moved, 'length', 'mm')} mm"},
            )
        )
    on = after(on_hard=not hard)
    out.append(
        Change(
            "Landing on firm turf" if hard else "Landing on hard ground",
            effect(on),
            on,
            inputs={"ground": "turf" if hard else "hard"},
        )
    )
    return tuple(out)


def _at(hit: Blow, speed: float, other: float) -> float:
    """Return the margin at another sink speed: energy goes with its square."""
    return float(hit.governs.ratio * (speed / other) ** 2)


def _chart(blows: Mapping[str, Blow], speed: float) -> Figure:
    top = max(speed, *(speed * math.sqrt(b.governs.ratio) for b in blows.values()))
    speeds = np.linspace(0.15 * top, 1.3 * min(top, 4.0 * speed), 40)
    series = [
        {
            "name": label,
            "x": [float(f"{v:.4g}") for v in speeds],
            "y": [
                float(f"{ratio:.4g}")
                if (ratio := _at(blows[name], speed, float(v))) <= 8.0
                else None
                for v in speeds
            ],
        }
        for name, label, _ in GROUNDS[1:]
    ]
    return Figure(
        "chart",
        "Margin against sink speed",
        "The shaded zone is where a factor of two either way leaves it open.",
        {
            "x": {"label": "Sink speed", "kind": "speed"},
            "y": {"label": "Margin in energy", "kind": "number", "low": 0.0, "high": 8.0},
            "series": series,
            "bands": [
                {
                    "x": [float(speeds[0]), float(speeds[-1])],
                    "low": [1.0 / FACTOR, 1.0 / FACTOR],
                    "high": [FACTOR, FACTOR],
                }
            ],
            "marks": [
                {"axis": "x", "value": speed, "label": "yours"},
                {"axis": "y", "value": 1.0, "label": "only just holds"},
            ],
        },
    )


def _table(blows: Mapping[str, Blow], told: c.Told) -> Table:
    names = [m.name for m in blows["hard"].down.margins]
    rows = []
    for index, name in enumerate(names):
        cells: list[Any] = [name.capitalize()]
        for ground, _, _ in GROUNDS:
            margin = blows[ground].down.margins[index]
            cells.append(margin.ratio if math.isfinite(margin.ratio) else None)
        rows.append(tuple(cells))
    return Table(
        "Margins in energy on four grounds",
        (Column("mode", "Way to fail"), *(Column(g, label.capitalize(), "number")
                                           for g, label, _ in GROUNDS)),
        tuple(rows),
        note="Each column at the tilt that is worst on that ground. Turf resists a pressed-in "
        f"corner with {told(landing.TURF[1], 'pressure')} when firm and "
        f"{told(landing.TURF[0], 'pressure')} when soft (common practice). All to a factor of "
        "about two.",
    )  # fmt: skip


def _steps(
    fin: check.Fin,
    properties: Mapping[str, float],
    stiff: Stiff,
    values: Mapping[str, Any],
    speed: float,
    judged: Blow,
    fall: float,
) -> tuple[Step, ...]:
    down = judged.down
    sinking = (
        Step(
            "Sinking",
            "v = √(2 m g / (ρ C_d A))",
            f"{speed:.2f} m/s, C_d from {landing.PARACHUTE_DRAG[values['canopy']][0]:g} to "
            f"{landing.PARACHUTE_DRAG[values['canopy']][1]:g}",
            ("knacke-1991",),
            note="fully open, no wind; wind adds sideways speed",
        )
        if values["descent"] == "parachute"
        else Step("Sinking", "as given", f"{speed:.2f} m/s", ("reader",))
    )
    flat, corner, edge = down.margins
    return (
        sinking,
        Step(
            "What strikes first",
            "the point with the largest depth x cos φ + y sin φ",
            f"{down.touch.part}, {down.touch.clearance * 1e3:.1f} mm lower than the tail, hanging "
            f"{math.degrees(judged.tilt):.0f}° toward this fin",
            note=f"worst of {TILTS} ways to share a swing of "
            f"{math.degrees(values['swing']):.0f}° between tilt and sideways blow",
        ),
        Step(
            "The energy",
            "E = share · ½ m_eff v²,  1/m_eff = (1/m)(1 + Σ (a/k)²)",
            f"the fall holds {fall:.3g} J; {down.flat_energy:.3g} J bend the fin flatwise and "
            f"{down.edge_energy:.3g} J edgewise, the ground's part taken off",
            ("goldsmith-1960", "timoshenko-strength"),
        ),
        Step(
            "Bent flatwise",
            "clamped plate with its grain: force to first ply failure and give at the tip",
            f"{stiff.force:.3g} N, {1e3 * stiff.compliance * stiff.force:.3g} mm: "
            f"{flat.capacity:.3g} J; margin {flat.ratio:.2f}",
            ("tsai-wu-1971", *fin.material.sources[:1]),
        ),
        Step(
            "A corner snapped off",
            "P = σ t² tan(β/2) / 3, σ of the sheet's weakest direction",
            f"σ = {properties['corner_strength'] / 1e6:.3g} MPa; {corner.capacity:.3g} J; margin "
            f"{corner.ratio:.2f}",
            ("timoshenko-strength",),
        ),
        Step(
            "Broken edgewise",
            "σ = 6 P y / (t c²), τ = 1.5 P / (t c)",
            f"E = {properties['edge_modulus'] / 1e9:.3g} GPa, σ = "
            f"{properties['edge_strength'] / 1e6:.3g} MPa; {edge.capacity:.3g} J; margin "
            f"{edge.ratio:.2f}",
            ("timoshenko-strength",),
        ),
        Step(
            "The ground's share",
            "fin and ground as springs in a row;  C_ground = 1 / (2 p t tan(β/2))",
            f"firm turf p = {landing.TURF[1] / 1e6:g} MPa, soft {landing.TURF[0] / 1e6:g} MPa; the "
            f"fin's own corner crushes at {crushing(fin) / 1e6:.2g} MPa, and the weaker of the two "
            "gives way",
            ("common-practice", "wood-handbook-2021"),
            note="crushing at an angle to the grain by Hankinson's formula; rigid ground takes "
            "nothing off and is shown as the limit",
        ),
        Step(
            "What is asked",
            "margin = energy to break / energy of the blow",
            f"{judged.governs.ratio:.2f}, good to a factor of {FACTOR:.0f}: above {FACTOR:.0f} it "
            f"holds, below {1 / FACTOR:.1f} it does not, between them nobody can say",
        ),
    )


def _notes(fin: check.Fin, crush: float, told: c.Told) -> tuple[str, ...]:
    notes = [
        f"The range beside every margin is the factor of {FACTOR:.0f} of the method, not a share "
        "of sheets.",
        "Not modelled: wind drift, dragging, toppling, bounce, rounded corners, the root joint's "
        "own strength, cracks from earlier landings. A dented corner counts as survived: sand it "
        "square or fill it before the next flight.",
    ]
    if crush <= landing.TURF[1]:
        notes.append(
            f"This sheet's corner crushes at {told(crush, 'pressure', 2)}, less than firm turf "
            "bears: hard ground and firm turf come out alike, and the corner is dented on both."
        )
    if any(ply.lamina.kind == "core" for ply in fin.layup().plies):
        notes.append(
            "A core dents long before the fin breaks: the crushed edge costs stiffness in the next "
            "flight."
        )
    return tuple(notes)


CALCULATOR = Calculator(
    slug="landing",
    title="Landing",
    question="Does it survive touchdown?",
    inputs=(*c.without((*c.OUTLINE, *c.stock_inputs()), *UNUSED), *c.EDGE, *INPUTS, *c.SITE),
    answer=answer,
    drawing=c.fin_figure,
    dropped=frozenset(UNUSED),
)
