"""Landing: which part of a fin strikes first, with what energy, and whether it survives."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any, NotRequired, TypedDict, Unpack

import numpy as np

from calc.air import atmosphere
from calc.calculators import shared
from calc.errors import InputError
from calc.fin import touchdown
from calc.fin.fin import Fin
from calc.fin.touchdown import FACTOR, GROUNDS, JUDGED, Capacity, capacity_of
from calc.forms import Calculator, Choice, Input
from calc.margin import Margin
from calc.report import (
    CAUTION,
    Answer,
    Change,
    Column,
    Figure,
    Report,
    State,
    Step,
    Table,
    Verdict,
)
from calc.structure import impact
from calc.units import show, typed

DROP = "How it comes down"
ROOTS = 6.0
"""Length of a rocket whose length is not given, in root chords; common practice."""
LABELS = {name: label for name, label, _ in GROUNDS}
UNUSED = ("count", "own_density")
"""Shared inputs that change nothing here: one fin strikes, and its mass is part of the rocket's."""
SPARED = "the tail touches first and spares the fins"

INPUTS = (
    Input(
        "descent",
        "Sinks",
        "choice",
        "parachute",
        group=DROP,
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
        help="Laid out flat.",
        group=DROP,
        unit="in",
        low=0.05,
        high=5.0,
        shown_when={"descent": ("parachute",)},
    ),
    Input(
        "canopy",
        "Canopy",
        "choice",
        "flat circular",
        group=DROP,
        choices=tuple(Choice(name, name) for name in impact.PARACHUTE_DRAG),
        shown_when={"descent": ("parachute",)},
    ),
    Input(
        "spill",
        "Spill hole",
        "length",
        "0 in",
        group=DROP,
        unit="in",
        low=0.0,
        high=4.0,
        shown_when={"descent": ("parachute",)},
    ),
    Input(
        "sink",
        "Sink speed",
        "speed",
        "15 ft/s",
        help="A streamer or tumble descent: time it from a known height.",
        group=DROP,
        unit="ft/s",
        low=0.5,
        high=60.0,
        shown_when={"descent": ("speed",)},
    ),
    Input(
        "mass",
        "Mass as it comes down",
        "mass",
        "140 g",
        help="With the spent motor.",
        group=DROP,
        unit="g",
        low=0.003,
        high=100.0,
    ),
    Input(
        "length",
        "Rocket length",
        "length",
        "20 in",
        help=f"Leave empty for {ROOTS:g} root chords.",
        group=DROP,
        optional=True,
        unit="in",
        low=0.05,
        high=5.0,
    ),
    Input(
        "tail",
        "Tail behind the root",
        "length",
        "0 in",
        help="How far tube or motor reach behind the fin's root; negative if the root overhangs.",
        group=DROP,
        unit="in",
        low=-0.5,
        high=1.0,
    ),
    Input(
        "ground",
        "Ground",
        "choice",
        "turf",
        help="Decides the verdict; the others are shown too.",
        group=DROP,
        choices=(
            Choice("turf", "grass or field"),
            Choice("sports", "dry, hard sports ground"),
            Choice("hard", "road, dry lake bed, ice"),
        ),
    ),
    Input(
        "swing",
        "Swing",
        "angle",
        f"{math.degrees(impact.SWING):.0f}",
        help="How far it swings or hangs askew; 10 to 40 degrees under a flat canopy.",
        group="More about the landing",
        unit="deg",
        low=0.0,
        high=math.radians(80.0),
    ),
    Input(
        "share",
        "Share of the impact on one fin",
        "fraction",
        "50 %",
        help="Half, where the tube or another fin takes the rest; 100 % is the hard case.",
        group="More about the landing",
        unit="%",
        low=0.05,
        high=1.0,
    ),
)


class DropValues(TypedDict):
    """Values of `INPUTS`, except the mass, which is not asked for where a motor gives it."""

    length: float | None
    descent: str
    parachute: float
    canopy: str
    spill: float
    sink: float
    tail: float
    ground: str
    swing: float
    share: float


class LengthValues(TypedDict):
    """What `length_of` reads."""

    length: float | None


class SinkValues(shared.SiteValues):
    """What `sink_speed` reads."""

    descent: str
    parachute: float
    canopy: str
    spill: float
    sink: float
    mass: float


class LandingValues(
    shared.OutlineValues,
    shared.SheetValues,
    shared.EdgeValues,
    DropValues,
    shared.SiteValues,
    shared.UnflownValues,
    shared.UnitsValues,
):
    """Values of this calculator."""

    body: float
    cut: str | None
    grain: float
    modulus_along: float
    modulus_across: float
    shear_modulus: float
    poisson: float
    strength_along: float
    strength_across: float
    shear_strength: float
    spread: tuple[float, ...] | None
    mass: float
    count: NotRequired[int]
    own_density: NotRequired[float]


def sink_speed(values: SinkValues) -> tuple[float, float, float]:
    """Return the sink speed and its low and high end [m/s]."""
    if values["descent"] == "speed":
        return values["sink"], values["sink"], values["sink"]
    low, high = impact.PARACHUTE_DRAG[values["canopy"]]
    air = atmosphere.site(values["site"], values["temperature"]).at(0.0)
    if values["spill"] >= 0.9 * values["parachute"]:
        raise InputError(
            "spill", f"{values['spill']:.3g} m", "a hole smaller than 0.9 of the parachute"
        )
    speeds = [
        impact.descent_speed(
            mass=values["mass"],
            parachute_diameter=values["parachute"],
            drag_coefficient=drag,
            density=float(air.density),
            spill_hole=values["spill"],
        )
        for drag in (0.5 * (low + high), high, low)
    ]
    return speeds[0], speeds[1], speeds[2]


def length_of(values: LengthValues, root: float) -> float:
    """Return the rocket's length [m] beside a root chord [m].

    Raises
    ------
    InputError
        Naming the length, if it is shorter than the root.
    """
    length = values["length"]
    if length is None:
        return ROOTS * root
    if length < root:
        raise InputError("length", f"{length:.3g} m", "a rocket longer than its fins")
    return length


def descent_of(
    values: LandingValues, root: float, *, speed: float, tail: float | None = None
) -> touchdown.Descent:
    """Return how a rocket with this root chord [m] comes down at a sink speed [m/s]."""
    return touchdown.Descent(
        rocket=impact.Rocket(
            mass=values["mass"],
            length=length_of(values, root),
            diameter=values["body"],
            tail=values["tail"] if tail is None else tail,
        ),
        speed=speed,
        ground=values["ground"],
        swing=values["swing"],
        share=values["share"],
    )


def answer(**values: Unpack[LandingValues]) -> Report:
    """Answer for SI values by input name."""
    fin = shared.fin_of(values)
    shape = fin.planform
    speed, slow, quick = sink_speed(values)
    capacity = capacity_of(fin)
    fmt = shared.formatter(values)
    descent = descent_of(values, shape.root, speed=speed)
    landings = {name: touchdown.land(capacity, descent, ground=name) for name, _, _ in GROUNDS}
    judged = landings[JUDGED[values["ground"]]]
    ratio = judged.governs.ratio
    contact = judged.contact
    lands_on_tail = not math.isfinite(ratio)
    fall = 0.5 * values["mass"] * speed**2
    answers = [
        Answer("descent_speed", "Sink speed", speed, "speed",
               slow if quick > slow else None, quick if quick > slow else None),
        Answer("energy", "Energy of the fall", fall, "energy"),
    ]  # fmt: skip
    for name, label, _ in GROUNDS:
        margin = landings[name].governs.ratio
        if math.isfinite(margin):
            safe = speed * math.sqrt(margin)
            answers += [
                Answer(f"safe_speed_{name}", f"Survives up to, on {label}", safe, "speed",
                       safe / math.sqrt(FACTOR), safe * math.sqrt(FACTOR)),
                Answer(f"margin_{name}", f"Margin in energy, {label}", margin, "number",
                       margin / FACTOR, margin * FACTOR),
            ]  # fmt: skip
    answers += [
        Answer("dent", "Corner pressed in on hard ground, edge on", landings["hard"].indentation,
               "length",
               note=f"the sheet crushes at {fmt(capacity.bearing, 'pressure', 2)} along the fall"),
        Answer("flat_force", "Force that breaks it flatwise, at the tip", capacity.tip.force,
               "force", note=f"fails first: {capacity.tip.failing}"),
        Answer("peak_force", "Peak force on the corner if nothing breaks",
               max(judged.flat_force, judged.edge_force), "force"),
        Answer("clearance", f"Touches first: {contact.part}; lower than the tail by",
               contact.clearance, "length"),
    ]  # fmt: skip
    headline = (
        ("descent_speed", "energy")
        if lands_on_tail
        else ("descent_speed", "safe_speed_firm", "safe_speed_hard", "energy")
    )
    return Report(
        calculator="landing",
        summary=_summary(judged, values["ground"]),
        answers=tuple(answers),
        headline=headline,
        verdict=_verdict(judged, landings, values["ground"]),
        modes=() if lands_on_tail else _modes(landings),
        bars="Energy that breaks the fin in each way, divided by the energy of the impact. At 1 it "
        f"only just survives. Thin lines: the method's factor of {FACTOR:.0f} either way.",
        changes=_changes(fin, capacity, values, speed, judged),
        figures=() if lands_on_tail else (_chart(landings, speed),),
        tables=() if lands_on_tail else (_table(landings, fmt),),
        steps=_steps(fin, capacity, values, speed, judged, fall),
        cautions=(CAUTION,),
        notes=_notes(fin, capacity.bearing, fmt),
        sources=tuple(sorted({"common-practice", *fin.material.sources})),
    )


def _state(ratio: float) -> State:
    """Return the state for a margin in energy; below 1 by less than `FACTOR` it is marginal."""
    if not math.isfinite(ratio):
        return "unknown"
    return "holds" if ratio >= 1.0 else "fails" if ratio < 1.0 / FACTOR else "marginal"


def _margin(ratio: float) -> str:
    """Return a margin in words; there is none where the impact puts no energy into a mode."""
    return f"margin {ratio:.2f}" if math.isfinite(ratio) else "the impact puts no energy into it"


def _summary(judged: impact.Touchdown, ground: str) -> str:
    where = LABELS[JUDGED[ground]]
    ratio = judged.governs.ratio
    if not math.isfinite(ratio):
        return f"{SPARED.capitalize()}; toppling afterwards is not modelled."
    word = {"holds": "Holds", "marginal": "Too close to call", "fails": "Does not hold"}[
        _state(ratio)
    ]
    return (
        f"{word} on {where}: margin {ratio:.2f} in energy, good to a factor of {FACTOR:.0f}; the "
        f"{judged.contact.part} strikes first."
    )


def _verdict(
    judged: impact.Touchdown, landings: Mapping[str, impact.Touchdown], ground: str
) -> Verdict:
    ratio = judged.governs.ratio
    if not math.isfinite(ratio):
        return Verdict(
            "unknown",
            "tail",
            0.0,
            "The tail touches first at every tilt within the swing and spares the fins. What "
            "happens when the rocket then topples is not modelled.",
        )
    beside = "firm" if ground == "hard" else "hard"
    other = landings[beside].governs.ratio
    elsewhere = f"the margin is {other:.2f}" if math.isfinite(other) else "the tail takes it"
    meaning = {
        "holds": f"Even {FACTOR:g} times the energy would not break the fin."
        if ratio >= FACTOR
        else f"The fin is likely to survive, but energies are only good to a factor of {FACTOR:g}.",
        "marginal": "The fin is likely to break, but energies are only good to a factor of "
        f"{FACTOR:g}.",
        "fails": f"Even the energy divided by {FACTOR:g} would break the fin.",
    }[_state(ratio)]
    return Verdict(
        _state(ratio),
        judged.governs.name,
        ratio,
        f"{meaning} Fails first: {judged.governs.name}. On {LABELS[beside]} {elsewhere}.",
        ratio / FACTOR,
        ratio * FACTOR,
    )


def _modes(landings: Mapping[str, impact.Touchdown]) -> tuple[Margin, ...]:
    out = []
    for name in ("hard", "firm"):
        label = LABELS[name]
        for margin in landings[name].margins:
            if not math.isfinite(margin.ratio):
                continue
            out.append(
                replace(
                    margin.spread(margin.ratio / FACTOR, margin.ratio * FACTOR),
                    name=f"{margin.name}, {label}",
                    label=f"{margin.label}, {label}",
                    kind="energy",
                    note=f"hanging {math.degrees(landings[name].tilt):.0f}° toward this fin",
                )
            )
    return tuple(out)


def _changes(
    fin: Fin,
    capacity: Capacity,
    values: LandingValues,
    speed: float,
    judged: impact.Touchdown,
) -> tuple[Change, ...]:
    ratio = judged.governs.ratio
    if not math.isfinite(ratio):
        return ()
    hard = values["ground"] == "hard"

    def after(
        changed: Capacity = capacity,
        *,
        sinking: float = speed,
        tail: float | None = None,
        on_hard: bool = hard,
    ) -> float:
        ground = JUDGED["hard" if on_hard else "turf"]
        descent = descent_of(values, fin.planform.root, speed=sinking, tail=tail)
        found = touchdown.land(changed, descent, ground=ground)
        return float(found.governs.ratio)

    fmt = shared.formatter(values)

    def effect(now: float) -> str:
        if not math.isfinite(now):
            return SPARED
        return f"margin {ratio:.2f} → {now:.2f}"

    out = []
    if values["descent"] == "parachute":
        wider = 1.25 * values["parachute"]
        now = after(sinking=speed / 1.25)
        out.append(
            Change(
                f"A parachute of {fmt(wider, 'length')}",
                effect(now),
                now if math.isfinite(now) else None,
                inputs={"parachute": f"{typed(wider, 'length', 'mm')} mm"},
            )
        )
    sizes, unit = shared.stock_sizes(fin)
    limit = 0.25 * min(fin.planform.root, fin.planform.span)
    size = next((t for t in sizes if 1.02 * fin.thickness < t <= limit), None)
    if size is not None:
        now = after(capacity_of(replace(fin, thickness=size)))
        out.append(
            Change(
                f"One size thicker: {show(size, 'length', unit)}",
                effect(now),
                now if math.isfinite(now) else None,
                inputs={"thickness": f"{typed(size, 'length', unit)} {unit}"},
            )
        )
    shape = fin.planform
    lowest = shape.perimeter()[1:-1] @ (1.0, math.tan(values["swing"]))
    reach = float(lowest.max()) - shape.root - values["tail"] + 0.003
    if 0.0 < values["tail"] + reach <= 1.0:
        moved = values["tail"] + reach
        out.append(
            Change(
                f"Fins moved forward, so that {fmt(moved, 'length')} of tail lies behind the root",
                effect(after(tail=moved)),
                inputs={"tail": f"{typed(moved, 'length', 'mm')} mm"},
            )
        )
    # what would change nothing is no change to offer
    out = [change for change in out if change.effect != effect(ratio)]
    on = after(on_hard=not hard)
    if effect(on) == effect(ratio):
        return tuple(out)
    out.append(
        Change(
            "Landing on firm turf" if hard else "Landing on hard ground",
            effect(on),
            on if math.isfinite(on) else None,
            inputs={"ground": "turf" if hard else "hard"},
        )
    )
    return tuple(out)


def _at(landing: impact.Touchdown, speed: float, other: float) -> float:
    """Return the margin at another sink speed; the energy goes with its square."""
    return float(landing.governs.ratio * (speed / other) ** 2)


def _chart(landings: Mapping[str, impact.Touchdown], speed: float) -> Figure:
    top = max(speed, *(speed * math.sqrt(b.governs.ratio) for b in landings.values()))
    speeds = np.linspace(0.15 * top, 1.3 * min(top, 4.0 * speed), 40)
    yours = max(b.governs.ratio for b in landings.values() if math.isfinite(b.governs.ratio))
    # what lies far above 1 needs no room where yours is near it
    high = 4.0 if yours <= 3.0 else 8.0
    series = [
        {
            "name": label,
            "x": [float(f"{v:.4g}") for v in speeds],
            "y": [
                float(f"{ratio:.4g}")
                if (ratio := _at(landings[name], speed, float(v))) <= 2.0 * high
                else None
                for v in speeds
            ],
        }
        for name, label, _ in GROUNDS[1:]
    ]
    return Figure(
        "chart",
        "Margin against sink speed",
        f"In the shaded zone the factor of {FACTOR:g} either way leaves it open.",
        {
            "x": {"label": "Sink speed", "kind": "speed"},
            "y": {"label": "Margin in energy", "kind": "number", "low": 0.0, "high": high},
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


def _table(landings: Mapping[str, impact.Touchdown], fmt: shared.Formatter) -> Table:
    names = [m.name for m in landings["hard"].margins]
    soft = impact.TURF[0]
    rows = []
    for index, name in enumerate(names):
        cells: list[Any] = [name.capitalize()]
        for ground, _, _ in GROUNDS:
            margin = landings[ground].margins[index]
            cells.append(margin.ratio if math.isfinite(margin.ratio) else None)
        rows.append(tuple(cells))
    return Table(
        "Margins in energy on five grounds",
        (Column("mode", "Way to fail"), *(Column(g, label.capitalize(), "number")
                                           for g, label, _ in GROUNDS)),
        tuple(rows),
        note="Each column at the tilt that is worst on that ground. Turf resists a pressed-in "
        f"corner with {fmt(impact.TURF[1], 'pressure', like=soft)} when firm and "
        f"{fmt(soft, 'pressure')} when soft (common practice). All to a factor of "
            f"about {FACTOR:g}. A dash: the impact puts no energy into that way to fail.",
    )  # fmt: skip


def _steps(
    fin: Fin,
    capacity: Capacity,
    values: LandingValues,
    speed: float,
    judged: impact.Touchdown,
    fall: float,
) -> tuple[Step, ...]:
    tip, sheet = capacity.tip, capacity.sheet
    sinking = (
        Step(
            "Sinking",
            "v = √(2 m g / (ρ C_d A))",
            f"{speed:.2f} m/s, C_d from {impact.PARACHUTE_DRAG[values['canopy']][0]:g} to "
            f"{impact.PARACHUTE_DRAG[values['canopy']][1]:g}",
            ("knacke-1991",),
            note="fully open, no wind; wind adds sideways speed",
        )
        if values["descent"] == "parachute"
        else Step("Sinking", "as given", f"{speed:.2f} m/s", ("reader",))
    )
    flat, corner, edge = judged.margins
    governing = judged.governs.ratio
    compared = (
        f"{governing:.2f}, good to a factor of {FACTOR:.0f}: from 1 it holds, below "
        f"{1 / FACTOR:.1f} it does not, between them it is marginal"
    )
    return (
        sinking,
        Step(
            "What strikes first",
            "the point with the largest depth x cos φ + y sin φ",
            f"{judged.contact.part}, {judged.contact.clearance * 1e3:.1f} mm lower than the tail, "
            f"hanging {math.degrees(judged.tilt):.0f}° toward this fin",
            note=f"worst of {impact.TILTS} ways to divide a swing of "
            f"{math.degrees(values['swing']):.0f}° between tilt and sideways impact",
        ),
        Step(
            "The energy",
            "E = share · ½ m_eff v²,  1/m_eff = (1/m)(1 + Σ (a/k)²)",
            f"the fall holds {fall:.3g} J; {judged.flat_energy:.3g} J bend the fin flatwise and "
            f"{judged.edge_energy:.3g} J edgewise, without the ground's part",
            ("goldsmith-1960", "timoshenko-strength"),
        ),
        Step(
            "Bent flatwise",
            "clamped plate with its grain: force to first ply failure and deflection of the tip",
            f"{tip.force:.3g} N, {1e3 * tip.compliance * tip.force:.3g} mm: "
            f"{flat.capacity.value:.3g} J; {_margin(flat.ratio)}",
            ("tsai-wu-1971", *fin.material.sources[:1]),
        ),
        Step(
            "A corner snapped off",
            "P = σ t² tan(β/2) / 3, σ of the sheet's weakest direction",
            f"σ = {sheet.corner_strength / 1e6:.3g} MPa; {corner.capacity.value:.3g} J; "
            f"{_margin(corner.ratio)}",
            ("timoshenko-strength",),
        ),
        Step(
            "Broken edgewise",
            "σ = 6 P y / (t c²), τ = 1.5 P / (t c)",
            f"E = {sheet.edge_modulus / 1e9:.3g} GPa, σ = "
            f"{sheet.edge_strength / 1e6:.3g} MPa; {edge.capacity.value:.3g} J; "
            f"{_margin(edge.ratio)}",
            ("timoshenko-strength",),
        ),
        Step(
            "The ground's share",
            "fin and ground as springs in series;  C_ground = 1 / (2 p t tan(β/2))",
            f"firm turf p = {impact.TURF[1] / 1e6:g} MPa, soft {impact.TURF[0] / 1e6:g} MPa, dry "
            f"sports ground {impact.SPORTS_GROUND / 1e6:g} MPa; the fin's own corner crushes at "
            f"{capacity.bearing / 1e6:.2g} MPa, and the weaker of the two yields",
            ("common-practice", "wood-handbook-2021"),
            note="crushing at an angle to the grain by Hankinson's formula; rigid ground takes "
            "nothing off and is shown as the limit",
        ),
        Step(
            "The margin",
            "margin = energy to break / energy of the impact",
            compared if math.isfinite(governing) else "no energy goes into the fins",
        ),
    )


def _notes(fin: Fin, bearing: float, fmt: shared.Formatter) -> tuple[str, ...]:
    notes = [
        f"The range beside every margin is the factor of {FACTOR:.0f} of the method, not a share "
        "of sheets.",
        "Not modelled: wind drift, dragging, toppling, bounce, rounded corners, the root joint's "
        "own strength, cracks from earlier landings. A dented corner counts as survived: sand it "
        "square or fill it before the next flight.",
    ]
    if bearing <= impact.TURF[1]:
        notes.append(
            f"This sheet's corner crushes at {fmt(bearing, 'pressure', 2)}, less than firm turf "
            "carries: hard ground and firm turf come out alike, and the corner is dented on both."
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
    question="Do the fins survive touchdown?",
    inputs=(
        *shared.without((*shared.OUTLINE, *shared.stock_inputs()), *UNUSED),
        *shared.EDGE,
        *INPUTS,
        *shared.SITE,
    ),
    answer=answer,
    drawing=shared.fin_figure,
    dropped=frozenset(UNUSED),
)
