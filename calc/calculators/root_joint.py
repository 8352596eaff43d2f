"""Is the glue line (bare edge, fillet, through-wall tab) as strong as the fin."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calc import check, joint, plate
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

Real = NDArray[np.float64]

JOINT = "The joint"
GLUE_THICKNESS = 1e-4
"""Thickness of a glue line [m]; 0.05 to 0.2 mm is common practice."""
REQUIRED = check.REQUIRED_LOAD_MARGIN
LABELS = {
    "glue line, bending": "Glue line, bending",
    "glue line, shear": "Glue line, shear",
    "tube wall creasing": "Tube wall creasing",
    "tube wall tearing at the slot": "Tube wall tearing at the slot",
    "glue at the tab's end": "Glue at the tab's inner end",
}

INPUTS = (
    Input(
        "joint",
        "Joint",
        "choice",
        "fillet",
        "",
        JOINT,
        choices=(
            Choice("edge", "bare edge glued to the tube"),
            Choice("fillet", "edge with a fillet on both sides"),
            Choice("tab", "through-wall tab with fillets"),
        ),
    ),
    Input(
        "adhesive",
        "Glue",
        "choice",
        "epoxy",
        "",
        JOINT,
        choices=tuple(Choice(key, glue.label) for key, glue in joint.ADHESIVES.items()),
    ),
    Input(
        "fillet",
        "Fillet radius",
        "length",
        "1/4 in",
        "The dowel or fingertip that shapes it; 0 for none with a tab.",
        JOINT,
        "in",
        low=0.0,
        high=0.03,
        shown_when={"joint": ("fillet", "tab")},
    ),
    Input(
        "tab",
        "Depth of the tab",
        "length",
        "3/8 in",
        "From the tube's surface to its glued inner end, on the motor tube or between rings.",
        JOINT,
        "in",
        low=0.001,
        high=0.2,
        shown_when={"joint": ("tab",)},
    ),
    Input(
        "tube",
        "Body tube",
        "choice",
        "kraft",
        "",
        JOINT,
        choices=tuple(Choice(key, tube.label) for key, tube in joint.TUBES.items()),
    ),
    Input(
        "wall",
        "Tube wall",
        "length",
        "0.8 mm",
        "Measure the cut end with a caliper.",
        JOINT,
        "mm",
        low=0.0001,
        high=0.01,
    ),
)

WALL_STRENGTH = {"kraft": joint.KRAFT_HOOP, "glass-epoxy": (150e6, 250e6)}
WALL_MODULUS = {"kraft": joint.KRAFT_MODULUS, "glass-epoxy": (10e9, 18e9)}
"""Strength and modulus around the tube [Pa], low and high; glass and epoxy: common practice,
from memory, unverified."""


@dataclass(frozen=True)
class Demand:
    """What the root must carry per metre where it carries most: [N m/m], [N/m]."""

    name: str
    label: str
    moment: float
    shear: float
    fin: float
    """How much the fin itself could carry of this load."""
    note: str


@dataclass(frozen=True)
class Kind:
    """A joint as the reader describes it."""

    adhesive: str
    tube: str
    fillet: float
    tab: float
    wall: float
    body: float


def kind_of(values: Mapping[str, Any]) -> Kind:
    """Return the joint that the inputs describe."""
    fillet = values["fillet"] if values["joint"] != "edge" else 0.0
    if values["joint"] == "fillet" and fillet <= 0.0:
        raise InputError("fillet", "0", "a fillet radius above zero, or choose the bare edge")
    depth = values["tab"] if values["joint"] == "tab" else 0.0
    if depth > 0.5 * values["body"]:
        raise InputError("tab", f"{depth:.3g} m", "a depth of at most half the body tube")
    if values["wall"] > 0.2 * values["body"]:
        raise InputError(
            "wall", f"{values['wall']:.3g} m", "a wall of at most a fifth of the body tube"
        )
    return Kind(values["adhesive"], values["tube"], fillet, depth, values["wall"], values["body"])


def edge_tension(stack: layups.Layup, theta: float) -> float:
    """Return the tension that the fin's root edge bears where it is glued [Pa].

    Across the grain as the wood does; on end grain `calc.joint.END_GRAIN` of the strength along;
    between them by Hankinson's formula. Averaged over the plies.
    """
    total = 0.0
    for ply in stack.plies:
        lamina = ply.lamina
        turned = (ply.angle + theta - 0.5 * math.pi) % math.pi
        angle = min(turned, math.pi - turned)
        along = lamina.tension_along
        if lamina.kind != "isotropic":
            along = max(joint.END_GRAIN * along, min(lamina.tension_across, along))
        total += ply.thickness * float(layups.hankinson(along, lamina.tension_across, angle))
    return total / stack.thickness


def demands(
    fin: check.Fin, point: check.Point, told: c.Told = c.METRIC
) -> tuple[tuple[Demand, ...], check.Survey]:
    """Return what air and a hand ask of the root, from the plate's moments along it."""
    found = check.survey(fin, [fin.layup()], [fin.direction], point)
    out = []
    for name, label, load, note in (
        ("air", "Air at the hardest moment", found.root[0],
         f"angle of attack {math.degrees(point.attack):.0f}°"),
        ("hand", f"A hand's {told(check.THUMB, 'force')} on the tip", found.handling[0], ""),
    ):  # fmt: skip
        moments = np.abs(load.moments[:, 1])
        peak = float(moments.max())
        uneven = peak / float(moments.mean())
        shear = abs(load.shear) / fin.planform.root * uneven
        out.append(Demand(name, label, peak, shear, load.factor, note))
    return tuple(out), found


def checked(
    demand: Demand, fin: check.Fin, kind: Kind, bending: Real, end: int
) -> joint.JointCheck:
    """Return the joint's margins with every strength at its low (0) or high (1) end."""
    glue, tube = joint.ADHESIVES[kind.adhesive], joint.TUBES[kind.tube]
    stack = fin.layup()
    outer = stack.plies[0].lamina
    t = fin.thickness
    return joint.check(
        moment=demand.moment,
        shear=demand.shear,
        thickness=t,
        fin_strength=demand.fin * demand.moment * 6.0 / t**2,
        fin_modulus=12.0 * float(bending[1, 1]) / t**3,
        fin_shear=outer.shear_strength,
        fin_edge_tension=edge_tension(stack, fin.direction),
        adhesive_shear=glue.shear[end],
        adhesive_tension=glue.tension[end],
        adhesive_modulus=glue.modulus[end],
        tube_shear=tube.shear[end],
        tube_tension=tube.tension[end],
        wall=kind.wall,
        wall_strength=WALL_STRENGTH[kind.tube][end],
        fillet_radius=kind.fillet,
        tab_depth=kind.tab,
    )


@dataclass(frozen=True)
class Band:
    """One way for the joint to fail: demand, and capacity from low to high strengths."""

    name: str
    demand: float
    low: float
    high: float

    @property
    def middle(self) -> float:
        """Geometric mean of both ends."""
        return math.sqrt(self.low * self.high)

    @property
    def ratio(self) -> float:
        """Middle capacity over demand."""
        return self.middle / self.demand if self.demand > 0.0 else math.inf


@dataclass(frozen=True)
class Verified:
    """The joint under one load: the path that counts and its bands."""

    demand: Demand
    bands: tuple[Band, ...]
    path: str

    @property
    def governs(self) -> Band:
        """The weakest way to fail on the path that counts."""
        return min(self.bands, key=lambda band: band.ratio)


def verified(demand: Demand, fin: check.Fin, kind: Kind, bending: Real) -> Verified:
    """Return the joint under one load, each strength between its low and its high end."""
    low, high = (checked(demand, fin, kind, bending, end) for end in (0, 1))

    def bands(a: tuple[Margin, ...], b: tuple[Margin, ...]) -> tuple[Band, ...]:
        return tuple(
            Band(x.name, x.demand, min(x.capacity, y.capacity), max(x.capacity, y.capacity))
            for x, y in zip(a, b, strict=True)
        )

    surface = bands(low.surface, high.surface)
    if low.tab:
        tab = bands(low.tab, high.tab)
        if min(x.ratio for x in tab) > min(x.ratio for x in surface):
            return Verified(demand, tab, "tab")
    return Verified(demand, surface, "surface")


@dataclass(frozen=True)
class Softness:
    """What a joint that gives does to the fin, against a perfectly clamped one."""

    spring: float
    frequency: float
    clamped_frequency: float
    flutter: float
    clamped_flutter: float


def springs(fin: check.Fin, kind: Kind, bending: Real) -> tuple[float, float, float, float]:
    """Return stiffness of wall, glue line and tab (0 without one) and of all [N m/rad per m]."""
    wall = joint.wall_spring(
        modulus=math.sqrt(math.prod(WALL_MODULUS[kind.tube])),
        wall=kind.wall,
        diameter=kind.body,
        count=fin.count,
    )
    glue = joint.glue_spring(
        thickness=fin.thickness + 2.0 * joint.FILLET_LEG * kind.fillet,
        glue_thickness=GLUE_THICKNESS,
        modulus=math.sqrt(math.prod(joint.ADHESIVES[kind.adhesive].modulus)),
    )
    beside: tuple[float, ...] = ()
    if kind.tab > 0.0:
        modulus = 12.0 * float(bending[1, 1]) / fin.thickness**3
        beside = (joint.tab_spring(modulus=modulus, thickness=fin.thickness, depth=kind.tab),)
    whole = joint.root_spring(series=(wall, glue), parallel=beside)
    return wall, glue, sum(beside), whole


def softness(fin: check.Fin, found: check.Survey, point: check.Point, spring: float) -> Softness:
    """Return what a root that turns against a spring does to frequency and flutter.

    Edges are taken square here: it is the ratio to the clamped fin that counts.
    """
    shape = check.model(fin.planform)
    clamped = check.structure(shape, found.structure.layups, [fin.direction])
    system = plate.assemble(
        shape.plate,
        bending=clamped.bending[:, None],
        areal_mass=np.array([[clamped.layups[0].areal_mass]]),
        root_spring=spring,
    )
    soft = replace(clamped, system=system, modes=plate.modes(system, count=check.MODES))

    def both(one: check.Structure) -> tuple[float, float]:
        stable = check.stability(shape, one, point.air)
        first = min(float(stable.flutter_by_mach[0, 0]), float(stable.divergence_by_mach[0, 0]))
        return float(one.modes.frequency[0, 0]) / (2.0 * math.pi), first

    (frequency, boundary), (stiff_frequency, stiff_boundary) = both(soft), both(clamped)
    return Softness(spring, frequency, stiff_frequency, boundary, stiff_boundary)


def _moments(flying: c.Flying) -> check.Point:
    return max(flying.points, key=lambda point: point.pressure)


def answer(**values: Any) -> Report:
    """Answer for SI values by input name."""
    fin = c.fin_of(values)
    kind = kind_of(values)
    point = _moments(c.flying(values))
    loads, found = demands(fin, point, c.told(values))
    bending = found.structure.bending[0]
    results = [verified(load, fin, kind, bending) for load in loads]
    worst = min(results, key=lambda item: item.governs.ratio)
    governs, demand = worst.governs, worst.demand
    low, high = governs.low / governs.demand, governs.high / governs.demand
    ratio = governs.ratio
    share = ratio / demand.fin
    # the joint can be promised no more than the load on it
    bent = next(m for m in found.margins[0] if m.name == "bending")
    parts = springs(fin, kind, bending)
    soft = softness(fin, found, point, parts[3])
    root = fin.planform.root
    state: State = (
        "fails"
        if ratio < 1.0
        else "unknown"
        if not bent.known
        else "holds"
        if ratio >= REQUIRED and low >= 1.0
        else "marginal"
    )
    slower = _ratio(soft.flutter, soft.clamped_flutter)
    return Report(
        calculator="root-joint",
        summary=_summary(state, ratio, governs, share),
        answers=(
            Answer("margin", "Smallest margin of the joint", ratio, "number", low, high),
            Answer("joint_to_fin", "Joint's strength over the fin's own", share, "fraction",
                   low / demand.fin, high / demand.fin,
                   note="above 100 % the fin breaks first"),
            Answer("root_moment", "Moment at the root, as if all of it were like its worst spot",
                   demand.moment * root, "moment", note=demand.label.lower()),
            Answer("root_shear", "Force across the root, likewise", demand.shear * root, "force"),
            Answer("flutter_share", "Flutter or divergence speed left with a root that gives",
                   slower, "fraction", bound="at least",
                   note="a bare tube wall without help from rings or motor tube: the soft end; the "
                   "fin check clamps the root, the stiff end"),
            Answer("frequency", "First natural frequency with this root", soft.frequency,
                   "frequency", bound="at least"),
            Answer("frequency_clamped", "The same, root clamped", soft.clamped_frequency,
                   "frequency"),
        ),
        headline=("margin", "joint_to_fin", "root_moment", "flutter_share"),
        verdict=Verdict(
            state, governs.name, ratio,
            f"The load on the root is not known: {bent.note}." if state == "unknown"
            else _sentence(worst, share), low, high
        ),
        modes=_modes(worst, root),
        bars="What each part of the joint bears, over what the hardest load asks of it. At 1 it "
        "only just holds. Thin lines: from all strengths low to all strengths high.",
        changes=_changes(values, fin, loads, bending, ratio),
        figures=(_picture(fin, kind), _chart(fin, kind, loads, bending)),
        tables=(_table(results),),
        steps=_steps(fin, kind, worst, parts, soft, bending, point),
        cautions=(CAUTION,),
        notes=_notes(kind),
        sources=tuple(sorted({"common-practice", "petrie-2000", *fin.material.sources})),
    )  # fmt: skip


def _ratio(soft: float, clamped: float) -> float:
    if not math.isfinite(clamped):
        return 1.0 if not math.isfinite(soft) else 0.0
    return min(1.0, soft / clamped)


def _name(band: Band) -> str:
    return LABELS.get(band.name, band.name[0].upper() + band.name[1:])


def _summary(state: State, ratio: float, governs: Band, share: float) -> str:
    head = {
        "holds": f"Holds with a margin of {ratio:.2f}",
        "marginal": f"Marginal: margin {ratio:.2f}",
        "fails": f"Does not hold: margin {ratio:.2f}",
        "unknown": f"Cannot say: the model ends here (computed margin {ratio:.2f})",
    }[state]
    stronger = "outlasts the fin" if share >= 1.0 else f"is {share:.0%} as strong as the fin"
    return f"{head}; {_name(governs).lower()} governs, and the joint {stronger}."


def _sentence(worst: Verified, share: float) -> str:
    which = (
        "The joint outlasts the fin: the fin breaks first."
        if share >= 1.0
        else "The joint gives before the fin does."
    )
    return (
        f"{worst.demand.label} asks most. {which} Asked for: {REQUIRED:.1f} in load with middle "
        "strengths, and 1 with the low ones."
    )


def _modes(worst: Verified, root: float) -> tuple[Mode, ...]:
    out = []
    for band in worst.bands:
        forceful = "shear" in band.name or worst.path == "tab"
        out.append(
            Mode(
                band.name,
                _name(band),
                band.demand * root,
                band.middle * root,
                "force" if forceful else "moment",
                band.ratio,
                band.low / band.demand,
                band.high / band.demand,
                note=worst.demand.label.lower()
                + ("; a lower bound, the tube around helps" if "creasing" in band.name else ""),
            )
        )
    fin = worst.demand
    out.append(
        Mode(
            "fin",
            "The fin itself at the root",
            fin.moment * root,
            fin.moment * fin.fin * root,
            "moment",
            fin.fin,
            note="first ply failure, from the fin check",
        )
    )
    return tuple(out)


def _weakest(
    fin: check.Fin, kind: Kind, loads: tuple[Demand, ...], bending: Real
) -> tuple[float, Band]:
    found = [verified(load, fin, kind, bending).governs for load in loads]
    band = min(found, key=lambda item: item.ratio)
    return band.ratio, band


def _changes(
    values: Mapping[str, Any],
    fin: check.Fin,
    loads: tuple[Demand, ...],
    bending: Real,
    before: float,
) -> tuple[Change, ...]:
    kind, told = kind_of(values), c.told(values)
    out = []

    def add(label: str, other: Kind, inputs: Mapping[str, str]) -> None:
        now, band = _weakest(fin, other, loads, bending)
        effect = f"margin {before:.2f} → {now:.2f} ({_name(band).lower()})"
        out.append(Change(label, effect, now, inputs=inputs))

    if kind.fillet > 0.0:
        wider = min(1.5 * kind.fillet, 0.03)
        add(f"Fillets of {told(wider, 'length')}", replace(kind, fillet=wider),
            {"fillet": f"{wider * 1e3:.4g} mm"})  # fmt: skip
    else:
        add(f"Fillets of {told(0.00635, 'length')}", replace(kind, fillet=0.00635),
            {"joint": "fillet", "fillet": "1/4 in"})  # fmt: skip
    if kind.tab > 0.0:
        add("Without the tab", replace(kind, tab=0.0), {"joint": "fillet"})
    else:
        depth = min(0.0095, 0.4 * kind.body)
        add(f"A through-wall tab {told(depth, 'length')} deep", replace(kind, tab=depth),
            {"joint": "tab", "tab": f"{depth * 1e3:.4g} mm"})  # fmt: skip
    for key, glue in joint.ADHESIVES.items():
        if key != kind.adhesive:
            add(f"Glued with {glue.label}", replace(kind, adhesive=key), {"adhesive": key})
    thicker = 1.5 * kind.wall
    add(f"A tube wall of {told(thicker, 'length')}", replace(kind, wall=thicker),
        {"wall": f"{thicker * 1e3:.4g} mm"})  # fmt: skip
    return tuple(out)


def _picture(fin: check.Fin, kind: Kind) -> Figure:
    return Figure(
        "joint",
        "The joint, seen along the tube",
        "Not to scale.",
        {
            "thickness": fin.thickness,
            "fillet": kind.fillet,
            "tab": kind.tab > 0.0,
            "inner": kind.tab > 0.0,
            "wall": kind.wall,
        },
    )


def _chart(fin: check.Fin, kind: Kind, loads: tuple[Demand, ...], bending: Real) -> Figure:
    radii = np.linspace(0.0, max(0.0127, 1.5 * kind.fillet), 13)

    def line(tab: float) -> list[float]:
        return [
            float(f"{_weakest(fin, replace(kind, fillet=r, tab=tab), loads, bending)[0]:.4g}")
            for r in (float(v) for v in radii)
        ]

    series = [{"name": "on the surface", "x": radii.tolist(), "y": line(0.0)}]
    if kind.tab > 0.0:
        series.append({"name": "with the tab", "x": radii.tolist(), "y": line(kind.tab)})
    return Figure(
        "chart",
        "Margin against fillet radius",
        "Where the line is level, something other than the glue governs.",
        {
            "x": {"label": "Fillet radius", "kind": "length"},
            "y": {"label": "Smallest margin", "kind": "number", "zero": True},
            "series": series,
            "marks": [
                {"axis": "y", "value": 1.0, "label": "only just holds"},
                {"axis": "x", "value": kind.fillet, "label": "yours"},
            ],
        },
    )


def _table(results: list[Verified]) -> Table:
    rows: list[tuple[Any, ...]] = []
    for item in results:
        for band in item.bands:
            rows.append(
                (
                    _name(band),
                    item.demand.label,
                    band.low / band.demand,
                    band.ratio,
                    band.high / band.demand,
                )
            )
        rows.append(("The fin itself", item.demand.label, None, item.demand.fin, None))
    return Table(
        "Every load on every part",
        (
            Column("part", "Part"),
            Column("load", "Load"),
            Column("low", "Margin, weak glue and tube", "number"),
            Column("middle", "Middle", "number"),
            Column("high", "Strong", "number"),
        ),
        tuple(rows),
        note="Weak and strong are the ends of the published or usual band of every strength at "
        "once. Landing loads are judged on their own page.",
    )


def _steps(
    fin: check.Fin,
    kind: Kind,
    worst: Verified,
    parts: tuple[float, float, float, float],
    soft: Softness,
    bending: Real,
    point: check.Point,
) -> tuple[Step, ...]:
    glue, tube = joint.ADHESIVES[kind.adhesive], joint.TUBES[kind.tube]
    edge = edge_tension(fin.layup(), fin.direction)
    demand = worst.demand

    def band(pair: tuple[float, float]) -> str:
        return f"{pair[0] / 1e6:.3g} to {pair[1] / 1e6:.3g} MPa"

    steps = [
        Step(
            "What the root carries",
            "M = D κ along the clamped root, scaled to balance the load; the peak, per metre",
            f"{demand.label.lower()}: {demand.moment:.3g} N·m/m and {demand.shear:.3g} N/m at the "
            f"worst spot (q = {point.pressure:.0f} Pa)",
            ("far-25-303",),
            note="shear taken as uneven as the moment; see the fin check for the air load",
        ),
        Step(
            "The glue",
            "strength of glue and of what it holds on to, whichever is weaker",
            f"{glue.label}: shear {band(glue.shear)}, tension {band(glue.tension)}; "
            f"{tube.label}: shear {band(tube.shear)}, tension {band(tube.tension)}; the fin's edge "
            f"in tension {edge / 1e6:.3g} MPa, its face in shear "
            f"{fin.layup().plies[0].lamina.shear_strength / 1e6:.3g} MPa",
            ("anc-18", "astm-d905", "petrie-2000", "common-practice", "wood-handbook-2021"),
            note="end grain bears a quarter of the strength along the grain at most",
        ),
        Step(
            "Edge and fillets" if kind.fillet > 0.0 else "The bare edge",
            "section of width t + 2 a, a = (2 − √2) r:  M = EI σ / (E z)"
            if kind.fillet > 0.0
            else "M = σ t² / 6,  V = ⅔ τ t",
            (f"a = {1e3 * joint.FILLET_LEG * kind.fillet:.3g} mm; " if kind.fillet > 0.0 else "")
            + "; ".join(f"{_name(b).lower()} {b.ratio:.2f}" for b in worst.bands),
            ("timoshenko-strength", "anc-18"),
        ),
    ]
    if kind.tab > 0.0:
        steps.append(
            Step(
                "The tab",
                "couple H = M / d between wall and inner end",
                f"d = {1e3 * kind.tab:.3g} mm, H = {demand.moment / kind.tab:.3g} N/m; the "
                f"{'tab' if worst.path == 'tab' else 'surface'} is the stronger path and counts",
                ("timoshenko-strength",),
                note="the two paths are not added: glue does not yield until both carry",
            )
        )
    steps += [
        Step(
            "Against the fin",
            "joint's margin / fin's own margin",
            f"{worst.governs.ratio:.2f} / {demand.fin:.2f} = "
            f"{worst.governs.ratio / demand.fin:.2f}",
            ("tsai-wu-1971",),
        ),
        Step(
            "How far it gives",
            "1/k = 1/k_wall + 1/k_glue, tab beside them;  k_wall = (E h³/12) / (R (π/6 − 1/π))",
            f"wall {parts[0]:.3g}, glue {parts[1]:.3g}, tab {parts[2]:.3g}: together "
            f"{parts[3]:.3g} N·m/rad per metre; first frequency {soft.frequency:.0f} Hz against "
            f"{soft.clamped_frequency:.0f} Hz clamped",
            ("timoshenko-strength",),
            note="a ring as long as the root without help from the tube around it: short roots and "
            "rings nearby make it several times stiffer",
        ),
        Step(
            "What is asked",
            f"≥ {REQUIRED:.1f} in load with middle strengths, ≥ 1 with the low ones",
            f"{worst.governs.ratio:.2f} and {worst.governs.low / worst.governs.demand:.2f}",
            ("far-25-303",),
        ),
    ]
    return tuple(steps)


def _notes(kind: Kind) -> tuple[str, ...]:
    notes = [
        "Not modelled: gaps, dust or glaze under the glue, peel from a tube squeezed out of round, "
        "creep, damp, shock at landing, and cracks from earlier flights.",
    ]
    if kind.tube == "kraft":
        notes.append(
            "A kraft tube's outer layer is the weak partner. A shiny glassine skin is weaker "
            "still: sand or peel it off where the fin goes."
        )
    if kind.adhesive == "cyanoacrylate":
        notes.append(
            "Cyanoacrylate is brittle, and no published strength on wood was found: use it to hold "
            "parts while another glue sets."
        )
    return tuple(notes)


CALCULATOR = Calculator(
    slug="root-joint",
    title="Root joint",
    question="Is the glue line as strong as the fin?",
    inputs=(*c.without(c.OUTLINE, "count"), *c.stock_inputs(), *INPUTS, *c.EDGE, *c.FLYING),
    answer=answer,
    drawing=c.fin_figure,
    dropped=frozenset({"count"}),
)
