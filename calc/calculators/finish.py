"""What sealing and painting weigh, what they do to balance and flutter, and the usual steps."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, NotRequired, TypedDict, Unpack

from calc.air import atmosphere
from calc.calculators import shared as c
from calc.fin import boundaries, model
from calc.fin.fin import Fin
from calc.forms import Calculator, Choice, Input
from calc.report import CAUTION, Answer, Change, Column, Figure, Report, Step, Table
from calc.structure import laminate
from calc.units import Written, show_range, typed
from calc.wording import unit_for
from calc.workshop import finish

WORK = "The finish"
OWN = {"coats": ("own",)}
FAMILIES = {
    "wood": "wood",
    "plywood": "plywood",
    "paper": "paper",
    "foam": "faced-core",
    "faced": "faced-core",
    "composite": "laminate",
    "plastic": "plastic",
    "own": "wood",
}
"""Which usual finish suits each family of material."""
BY_NAME = {
    "balsa": "balsa",
    "balsa-paper": "paper",
    "balsa-glass": "laminate",
    "balsa-carbon": "laminate",
}
"""Materials whose finish follows from what lies outside, not from their family."""
SLOW_AIR = (
    "computed in slow air at sea level to compare bare and finished; what your flight meets first "
    "is in the fin check"
)
UNUSED = ("body", "strength_along", "strength_across", "shear_strength")
"""Inputs of other calculators that change nothing here."""
COVERS = ("tissue", "silkspan", "paper-skin", "film", "glass-25", "glass-49")
WETTING_MOISTURE = 0.05
"""Moisture that a water-based coat can bring into the outer quarter of a thin sheet, as a share
of dry mass; an illustration, common practice, from memory, unverified."""
WETTING_DEPTH = 0.25
"""Share of the thickness that it reaches."""


def _times(name: str, label: str, default: str, help: str = "") -> Input:
    return Input(
        name, label, "integer", default, help=help, group=WORK, low=0, high=12, shown_when=OWN
    )


INPUTS = (
    Input(
        "coats",
        "Finish",
        "choice",
        "full",
        help="On each face.",
        group=WORK,
        choices=(
            Choice("light", "usual for this material, light"),
            Choice("full", "usual for this material, full"),
            Choice("own", "my own coats"),
        ),
    ),
    Input(
        "cover",
        "Covering",
        "choice",
        "none",
        group=WORK,
        choices=(
            Choice("none", "none"),
            *(Choice(key, finish.coats()[key].label) for key in COVERS),
        ),
        shown_when=OWN,
    ),
    _times("seal", "Coats of dope or sealer", "2"),
    _times("filler", "Coats of thinned wood filler", "0"),
    _times("resin", "Thin coats of epoxy", "0"),
    _times("primer", "Coats of primer", "1"),
    _times("paint", "Coats of colour", "2"),
    _times("clear", "Clear coats", "0"),
    Input(
        "faces",
        "Faces",
        "choice",
        "both",
        group=WORK,
        choices=(Choice("both", "both faces"), Choice("one", "one face only")),
    ),
    Input(
        "mass",
        "Rocket's mass",
        "mass",
        "165 g",
        help="Ready to fly, before this finish.",
        group="The rocket",
        unit="g",
        low=0.003,
        high=100.0,
    ),
    Input(
        "arm",
        "Fins behind the balance point",
        "length",
        "6 in",
        help="From the balance point to the middle of the fins.",
        group="The rocket",
        unit="in",
        low=0.0,
        high=4.0,
    ),
)


class CoatValues(TypedDict):
    """Values of `INPUTS` that say which coats."""

    coats: str
    cover: str
    seal: int
    filler: int
    resin: int
    primer: int
    paint: int
    clear: int


class FinishValues(
    c.OutlineValues,
    c.SheetValues,
    c.EdgeValues,
    CoatValues,
    c.UnflownValues,
    c.UnitsValues,
):
    """Values of this calculator."""

    count: int
    body: NotRequired[float]
    cut: str | None
    grain: float
    modulus_along: float
    modulus_across: float
    shear_modulus: float
    poisson: float
    own_density: float
    spread: tuple[float, ...] | None
    strength_along: NotRequired[float]
    strength_across: NotRequired[float]
    shear_strength: NotRequired[float]
    faces: str
    mass: float
    arm: float


def family_of(material: Any) -> str:
    """Return the usual finish's family for a material.

    >>> from calc import materials
    >>> family_of(materials.load("birch-plywood")), family_of(materials.load("balsa"))
    ('plywood', 'balsa')
    """
    return BY_NAME.get(material.name) or FAMILIES[material.family]


def layers_of(values: CoatValues, family: str) -> dict[str, int]:
    """Return the coats on one face that the inputs mean, by key of `calc.workshop.finish.coats`."""
    usual = finish.usual(family)
    if values["coats"] == "light":
        return usual.light
    if values["coats"] == "full":
        return usual.full
    own: dict[str, int] = {}
    if values["seal"]:
        own["dope-first"] = 1
        if values["seal"] > 1:
            own["dope"] = values["seal"] - 1
    for coats, key in (
        (values["filler"], "wood-filler"),
        (values["resin"], "epoxy-coat"),
        (values["primer"], "primer"),
        (values["paint"], "paint"),
        (values["clear"], "clear"),
    ):
        if coats:
            own[key] = coats
    if values["cover"] != "none":
        own[values["cover"]] = 1
    return own


def answer(**values: Unpack[FinishValues]) -> Report:
    """Answer for SI values by input name."""
    fin = c.fin_of(values)
    fmt = c.formatter(values)
    family = family_of(fin.material)
    usual = finish.usual(family)
    layers = layers_of(values, family)
    faces = 2 if values["faces"] == "both" else 1
    areal = finish.areal_mass(layers, faces=faces)
    area = fin.planform.area
    set_mass = finish.Range(fin.count * area * areal.low, fin.count * area * areal.high)
    bare = c.fin_mass(fin) * fin.count
    # one unit for all masses of the set, that of the largest
    most = bare + set_mass.high
    shift = [values["arm"] * m / (values["mass"] + m) for m in (set_mass.low, set_mass.high)]
    speeds, found = _boundaries(fin, areal)
    change = _change(speeds, found)
    bow = _bow(fin)
    return Report(
        calculator="finish",
        summary=f"This finish adds {_between(set_mass, fmt, most)} to "
        f"{fin.count} fins, {set_mass.middle / bare:.0%} of their bare mass, and moves the balance "
        f"point {fmt(0.5 * sum(shift), 'length', 2)} aft.",
        answers=(
            Answer("added_mass", f"Added to {fin.count} fins",
                   Written(set_mass.middle, like=most), "mass", set_mass.low, set_mass.high),
            Answer("share", "Share of the bare fins' mass", set_mass.middle / bare, "fraction",
                   set_mass.low / bare, set_mass.high / bare, digits=2),
            Answer("shift", "Balance point moved aft", 0.5 * sum(shift), "length",
                   shift[0], shift[1]),
            *((change,) if change else ()),
            Answer("areal_mass", "Added per area of fin", areal.middle, "areal-mass", areal.low,
                   areal.high, note=f"{faces} face{'s' if faces > 1 else ''}, dry"),
            Answer("bare_mass", f"{fin.count} bare fins", Written(bare, like=most), "mass"),
            Answer("finished_mass", f"{fin.count} finished fins",
                   Written(bare + set_mass.middle, like=most), "mass", bare + set_mass.low, most),
            Answer("bow", "Bow over the span if one face is wetted", bow, "length", digits=2,
                   note="an illustration: 5 % more moisture in the outer quarter of one face")
            if bow is not None
            else Answer("bow", "Bow over the span if one face is wetted", 0.0, "length",
                        note="this material does not take up water"),
        ),
        headline=("added_mass", "share", "shift", *(("flutter_change",) if change else ())),
        changes=_changes(values, fin, family, set_mass, most),
        figures=(_chart(fin, layers, faces),) if layers else (),
        tables=(_bench(usual, fin, faces, fmt, most), _coats(fin, faces, most)),
        steps=_steps(fin, layers, faces, areal, set_mass, shift, values, speeds),
        cautions=(
            "Spray and dope outdoors or in moving air, away from flames, with gloves and a mask "
            "made for organic vapour. Dust from sanding wood, filler, glass and carbon wants a "
            "particle mask; sand glass and carbon wet.",
            CAUTION,
        ),
        notes=(
            usual.warp,
            *(
                ()
                if change
                else (
                    "The change of the flutter or divergence speed cannot be put in a number here: "
                    f"bare {_speed(speeds[0])}, with the light end of this finish "
                    f"{_speed(speeds[1])}, with the heavy end {_speed(speeds[2])}.",
                )
            ),
            "All weights of coats are common practice without a published standard: weigh one fin "
            "before and after to get your own. No stiffness is added here, though hardened paper, "
            "tissue and glass add some: choose the skinned material to count it.",
            *(
                ("Finished on one face only, a thin fin bends: see the bow above.",)
                if faces == 1
                else ()
            ),
        ),
        sources=tuple(sorted({"common-practice", *fin.material.sources})),
    )  # fmt: skip


def _between(band: finish.Range, fmt: c.Formatter, most: float) -> str:
    """Return a range of masses of the set in the unit of the largest."""
    unit = unit_for("mass", fmt.system, most)
    return show_range(low=band.low, high=band.high, kind="mass", unit=unit, digits=2)


def _boundaries(fin: Fin, areal: finish.Range) -> tuple[list[float], str]:
    """Return flutter or divergence speed bare and with the finish's low and high mass [m/s].

    And in words which of the two it is, in slow air: in the air of a flight, which the fin check
    takes, the other may come first.
    """
    air = atmosphere.at(0.0)
    shape = model.model_for(fin)
    speeds, kinds = [], []
    for coating in (0.0, areal.low, areal.high):
        found = model.structure(shape, [fin.layup()], [fin.direction], coating=coating)
        stable = boundaries.flutter_and_divergence(shape, found, air)
        flutter = float(stable.detail.speed[0, 0])
        diverging = float(stable.divergence_by_mach[0, 0])
        speeds.append(min(flutter, diverging))
        kinds.append("flutter" if flutter < diverging else "divergence")
    if not math.isfinite(speeds[0]):
        return speeds, "neither flutter nor divergence was found"
    if kinds[0] == kinds[-1] == "divergence":
        return speeds, f"divergence, which mass does not change; {SLOW_AIR}"
    return speeds, f"{kinds[0]}; {SLOW_AIR}"


def _change(speeds: list[float], found: str) -> Answer | None:
    """Return the change of the first boundary's speed, or None where only some have one."""
    bare, *finished = speeds
    change = [0.0, 0.0]
    if any(math.isfinite(speed) for speed in speeds):
        if not all(math.isfinite(speed) for speed in speeds):
            return None
        # differences of nearly equal speeds: what lies below a millionth is rounding, not finish
        change = [round(speed / bare - 1.0, 6) for speed in finished]
    middle = round(0.5 * sum(change), 6)
    return Answer("flutter_change", "Change of flutter or divergence speed", middle, "fraction",
                  min(change), max(change), digits=2, note=found)  # fmt: skip


def _speed(value: float) -> str:
    return f"{value:.0f} m/s" if math.isfinite(value) else "none found"


def _bow(fin: Fin) -> float | None:
    """Return how far the tip lifts when the outer quarter of one face takes up water [m]."""
    stack = fin.layup()
    if max(p.lamina.swelling_across for p in stack.plies) <= 0.0:
        return None
    fine = laminate.subdivide_plies(stack, 4 * len(stack.plies))
    top = 0.0
    wet = []
    edge = (1.0 - WETTING_DEPTH) * fine.thickness
    for ply in fine.plies:
        inside = max(0.0, top + ply.thickness - max(edge, top))
        wet.append(WETTING_MOISTURE * min(1.0, inside / ply.thickness))
        top += ply.thickness
    warp = laminate.moisture_curvature(fine, change=wet, angle=fin.direction)
    shape = fin.planform
    corners = shape.perimeter()
    x = corners[:, 0] - 0.5 * shape.root
    y = corners[:, 1]
    k = warp.curvature
    lift = 0.5 * (k[0] * x**2 + k[1] * y**2 + k[2] * x * y)
    return float(lift.max() - lift.min())


def _changes(
    values: FinishValues, fin: Fin, family: str, now: finish.Range, most: float
) -> tuple[Change, ...]:
    usual, fmt = finish.usual(family), c.formatter(values)
    faces = 2 if values["faces"] == "both" else 1
    out = []
    for name, label, layers in (
        ("light", "The light finish", usual.light),
        ("full", "The full finish", usual.full),
    ):
        if values["coats"] == name:
            continue
        band = finish.added_mass(layers, area=fin.planform.area, count=fin.count, faces=faces)
        then, before = (_between(each, fmt, most) for each in (band, now))
        out.append(
            Change(
                label,
                f"{then} instead of {before}",
                mass=band.middle - now.middle,
                inputs={"coats": name},
            )
        )
    if faces == 1:
        out.append(Change("Both faces", "twice the weight, and it stays flat",
                          inputs={"faces": "both"}))  # fmt: skip
    return tuple(out)


def _bench(usual: finish.Finish, fin: Fin, faces: int, fmt: c.Formatter, most: float) -> Table:
    known = finish.coats()
    area = fin.count * fin.planform.area * faces
    rows = []
    for number, step in enumerate(usual.steps, 1):
        adds = "–"
        if step.coat and step.times[1]:
            coat = known[step.coat]
            low, high = area * step.times[0] * coat.low, area * step.times[1] * coat.high
            adds = _between(finish.Range(low, high), fmt, most)
        times = (
            ""
            if not step.times[1]
            else str(step.times[0])
            if step.times[0] == step.times[1]
            else f"{step.times[0]} to {step.times[1]}"
        )
        rows.append((str(number), step.do, adds, step.grit or "–", times or "–"))
    return Table(
        f"At the bench: {usual.label}",
        (
            Column("step", "Step"),
            Column("do", "Do", fold=26),
            Column("adds", "Adds"),
            Column("grit", "Grit"),
            Column("times", "Times"),
        ),
        tuple(rows),
        note="Common practice. Masses are for your whole set.",
    )


def _coats(fin: Fin, faces: int, most: float) -> Table:
    area = fin.count * fin.planform.area * faces
    rows = tuple(
        (
            coat.label,
            coat.low,
            coat.high,
            Written(area * coat.low, like=most),
            Written(area * coat.high, like=most),
        )
        for coat in sorted(finish.coats().values(), key=lambda item: item.low + item.high)
    )
    return Table(
        "What each coat weighs, lightest first",
        (
            Column("coat", "Coat"),
            Column("low", "Per face, at least", "areal-mass", 2),
            Column("high", "At most", "areal-mass", 2),
            Column("set_low", "Your set, at least", "mass", 2),
            Column("set_high", "At most", "mass", 2),
        ),
        rows,
        note="Dry, one coat. Common practice, from memory, unverified.",
        sortable=True,
    )


def _chart(fin: Fin, layers: Mapping[str, int], faces: int) -> Figure:
    known = finish.coats()
    area = fin.count * fin.planform.area * faces
    low, high, steps = [0.0], [0.0], [0.0]
    for key, count in layers.items():
        for _ in range(count):
            low.append(low[-1] + area * known[key].low)
            high.append(high[-1] + area * known[key].high)
            steps.append(steps[-1] + 1.0)
    return Figure(
        "chart",
        "Mass coat by coat",
        "All coats thin, or all thick, in the order of work.",
        {
            "x": {"label": "Coats on each face", "kind": "number", "zero": True},
            "y": {"label": "Added to the set", "kind": "mass", "zero": True},
            "series": [
                {"name": "thin", "x": steps, "y": low},
                {"name": "thick", "x": steps, "y": high},
            ],
            "bands": [{"x": steps, "low": low, "high": high}],
        },
    )


def _steps(
    fin: Fin,
    layers: Mapping[str, int],
    faces: int,
    areal: finish.Range,
    set_mass: finish.Range,
    shift: list[float],
    values: FinishValues,
    speeds: list[float],
) -> tuple[Step, ...]:
    known = finish.coats()
    listed = (
        ", ".join(f"{count} × {known[key].label}" for key, count in layers.items()) or "nothing"
    )

    return (
        Step(
            "Mass per area",
            "faces · Σ coats · mass of each",
            f"{listed}; {areal.low * 1e3:.3g} to {areal.high * 1e3:.3g} g/m² on {faces} "
            f"face{'s' if faces > 1 else ''}",
            ("common-practice",),
        ),
        Step(
            "Mass of the set",
            "m = N A · mass per area",
            f"{fin.count} × {fin.planform.area * 1e4:.3g} cm²: {set_mass.low * 1e3:.3g} to "
            f"{set_mass.high * 1e3:.3g} g",
            note="edges left out, a few per cent",
        ),
        Step(
            "Balance",
            "Δx = arm · m / (M + m)",
            f"{shift[0] * 1e3:.3g} to {shift[1] * 1e3:.3g} mm at "
            f"{typed(values['arm'], 'length', 'mm')} mm arm",
        ),
        Step(
            "Flutter",
            "the fin check's model with mass added and stiffness kept, air of low Mach number",
            f"bare {_speed(speeds[0])}, finished {_speed(speeds[1])} to {_speed(speeds[2])}",
            ("albano-rodden-1969", "hassig-1971"),
        ),
        Step(
            "Bow from one wet face",
            "N = Σ Q β Δm (z₁ − z₀), M = Σ Q β Δm (z₁² − z₀²)/2, elastic",
            f"{WETTING_MOISTURE:.0%} moisture in the outer {WETTING_DEPTH:.0%} of the thickness",
            ("kaw-2006", "wood-handbook-2021"),
            note="wetting depth and amount are an illustration; most of it goes back on drying, "
            "what glue or paint locks in stays",
        ),
    )


CALCULATOR = Calculator(
    slug="finish",
    title="Finish",
    question="What do sealing and painting weigh, and in which steps?",
    inputs=(*c.without((*c.OUTLINE, *c.stock_inputs()), *UNUSED), *c.EDGE, *INPUTS),
    answer=answer,
    drawing=c.fin_figure,
    dropped=frozenset(UNUSED),
)
