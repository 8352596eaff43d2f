"""Is the glue line (bare edge, fillet, through-wall tab) as strong as the fin."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, NotRequired, TypedDict, Unpack

import numpy as np

from calc.calculators import shared as c
from calc.calculators.lists import BREAKING, TypedList, breaking_moments
from calc.errors import InputError
from calc.fin import check, model, policy, whole
from calc.fin import joint as fin_joint
from calc.fin.fin import Fin, Point
from calc.fin.flexible_root import FlexibleRoot, flexible_root
from calc.fin.joint import Judged
from calc.forms import Calculator, Choice, Input
from calc.margin import Margin, Quantity
from calc.materials import bonding
from calc.report import (
    ALL_STRENGTHS,
    CAUTION,
    Answer,
    Change,
    Column,
    Figure,
    LowerLimit,
    Report,
    State,
    Step,
    Table,
    Verdict,
)
from calc.structure import root_joint
from calc.wording import with_unit

JOINT = "The joint"
REQUIRED = policy.REQUIRED_LOAD_MARGIN
LABELS = {
    "glue line, bending": "Glue line, bending",
    "glue line, shear": "Glue line, shear",
    "glue at the tab's end": "Glue at the tab's inner end",
}
UNSUITED = (
    "Wood glue finds nothing to soak into on this tube, so nothing is promised. Sand the tube and "
    "take epoxy, or the cement made for that plastic."
)

DESCRIBED = ("edge", "fillet", "tab")
"""Joints that the reader describes."""

INPUTS = (
    Input(
        "joint",
        "Joint",
        "choice",
        "fillet",
        group=JOINT,
        choices=(
            Choice("edge", "bare edge glued to the tube"),
            Choice("fillet", "edge with a fillet on both sides"),
            Choice("tab", "tab through the wall, with fillets"),
            Choice("usual", "as usual for such a tube"),
        ),
    ),
    Input(
        "adhesive",
        "Glue",
        "choice",
        "epoxy",
        group=JOINT,
        choices=tuple(Choice(key, glue.label) for key, glue in bonding.ADHESIVES.items()),
        shown_when={"joint": DESCRIBED},
    ),
    Input(
        "fillet",
        "Fillet radius",
        "length",
        "1/4 in",
        help="Radius of the dowel or fingertip that shapes it; 0 for none, with a tab only.",
        group=JOINT,
        unit="in",
        low=0.0,
        high=0.03,
        shown_when={"joint": ("fillet", "tab")},
    ),
    replace(c.TAB, group=JOINT),
    *(replace(item, group=JOINT) for item in c.TAB_PLACE),
    Input(
        "tab_end",
        "The tab's inner end",
        "choice",
        "motor",
        group=JOINT,
        choices=(
            Choice("motor", "glued to the motor tube"),
            Choice("rings", "glued between two rings, clear of the motor tube"),
            Choice("free", "free: held by the wall alone"),
        ),
        shown_when={"joint": ("tab",)},
    ),
    Input(
        "inner_fillet",
        "Fillets inside",
        "length",
        "0 mm",
        help="Radius of the fillets along the tab inside the tube, at the wall and at its inner "
        "end; 0 for none.",
        group=JOINT,
        unit="mm",
        low=0.0,
        high=0.03,
        shown_when={"joint": ("tab",)},
    ),
    Input(
        "cloth",
        "Layers of glass cloth, tip to tip",
        "integer",
        "0",
        help="Over fin, fillet and tube to the tip of the next fin, on both sides.",
        group=JOINT,
        low=0,
        high=6,
        shown_when={"joint": ("fillet", "tab")},
    ),
    Input(
        "tube",
        "Body tube",
        "choice",
        "kraft",
        group=JOINT,
        choices=tuple(Choice(key, tube.label) for key, tube in bonding.TUBES.items()),
        shown_when={"joint": DESCRIBED},
    ),
    Input(
        "wall",
        "Tube wall",
        "length",
        "0.5 mm",
        help="Measure the cut end with a caliper.",
        group=JOINT,
        unit="mm",
        low=0.0001,
        high=0.01,
        shown_when={"joint": DESCRIBED},
    ),
    Input(
        "behind",
        "Inside the tube, under the fin",
        "choice",
        "rings",
        group=JOINT,
        choices=(
            Choice("rings", "two rings of a motor mount, glued in"),
            Choice("motor", "a motor or motor tube close to the wall"),
            Choice("coupler", "a coupler as thick as the wall, glued in"),
            Choice("nothing", "nothing"),
        ),
        shown_when={"joint": DESCRIBED},
    ),
    Input(
        "moisture",
        "Moisture of the tube",
        "fraction",
        "7 %",
        help="Paper kept indoors has about 7 %; after a night in wet grass 12 to 15 %.",
        group=JOINT,
        unit="%",
        low=0.02,
        high=0.25,
        shown_when={
            "joint": DESCRIBED,
            "tube": tuple(key for key, tube in bonding.TUBES.items() if tube.damp),
        },
    ),
    TypedList(
        "tested",
        "Breaking moment of such a joint, tested",
        "text",
        "",
        help="Low and high end per metre of root, from Break a joint, which fills it in. Leave "
        "empty to compute it.",
        group=JOINT,
        optional=True,
        parse=breaking_moments,
        wants=BREAKING,
    ),
)


class JointValues(TypedDict):
    """Values of `INPUTS`."""

    joint: str
    adhesive: str
    fillet: float
    tab: float
    tab_start: float
    tab_length: float | None
    tab_notches: tuple[float, ...] | None
    notch_width: float
    notch_depth: float | None
    tab_end: root_joint.TabEnd | None
    inner_fillet: float | None
    cloth: int | None
    tube: str
    wall: float
    behind: root_joint.Behind
    moisture: float | None
    tested: tuple[float, float] | None


class JointOnTube(c.OutlineValues, JointValues):
    """What `joint_of` reads."""

    body: float


class RootJointValues(
    c.OutlineValues, c.StockValues, JointValues, c.EdgeValues, c.FlyingValues, c.UnitsValues
):
    """Values of this calculator."""

    body: float
    count: NotRequired[int]


@dataclass(frozen=True)
class Own:
    """Load factors of the clamped fin itself under the air's load and under a hand's."""

    air: float
    hand: float

    def of(self, item: Judged) -> float:
        """Return the factor of the load that a joint was judged under."""
        return self.air if item.case.flight else self.hand


@dataclass(frozen=True)
class Bench:
    """A fin ready to be judged on one joint after another."""

    fin: Fin
    shape: model.Model
    structure: model.Structure
    points: tuple[Point, ...]
    own: Own
    tested: root_joint.Band | None = None

    @property
    def root(self) -> root_joint.FinRoot:
        """The fin where it is glued."""
        return fin_joint.root_of(self.fin, self.structure)

    def judged(self, joint: root_joint.Joint, *, computed: bool = False) -> tuple[Judged, Judged]:
        """Return a joint under the air's load and a hand's, as tested unless `computed`."""
        tested = None if computed else self.tested
        return fin_joint.judged(
            self.fin, joint, self.shape, self.structure, self.points, tested=tested
        )


def joint_of(values: JointOnTube) -> root_joint.Joint:
    """Return the joint that the inputs describe.

    Raises
    ------
    InputError
        Naming the input that cannot be.
    """
    if values["joint"] == "usual":
        return fin_joint.usual(values["body"])
    fillet = values["fillet"] if values["joint"] != "edge" else 0.0
    if values["joint"] == "fillet" and fillet <= 0.0:
        raise InputError("fillet", "0", "a fillet radius above zero, or choose the bare edge")
    depth = values["tab"] if values["joint"] == "tab" else 0.0
    if depth > 0.5 * values["body"]:
        raise InputError("tab", f"{depth:.3g} m", "a depth of at most half the body tube")
    tab = _tab(values)
    if tab is not None and _uncounted(values, tab):
        tab, depth = None, 0.0
    if values["wall"] > 0.2 * values["body"]:
        raise InputError(
            "wall", f"{values['wall']:.3g} m", "a wall of at most a fifth of the body tube"
        )
    moisture = values["moisture"]
    return root_joint.Joint(
        bonding.ADHESIVES[values["adhesive"]],
        bonding.TUBES[values["tube"]],
        wall=values["wall"],
        diameter=values["body"],
        fillet=fillet,
        tab=depth,
        tab_end=values["tab_end"] or "motor",
        notched=tab.notched if tab else 0.0,
        notch_depth=tab.notch_depth if tab else 0.0,
        inner_fillet=values["inner_fillet"] or 0.0,
        behind=values["behind"],
        cloth=values["cloth"] or 0,
        moisture=root_joint.DRY if moisture is None else moisture,
    )


WHOLE_ROOT = 0.99
"""Least share of the root along which a tab counts for the joint's strength."""
PART_OF_ROOT = (
    "The tab lies along part of the root only. Its help is not counted: the joint is judged as if "
    "fillets and wall held the fin alone."
)
WEAK_TAB = (
    "The notches take so much of the tab that the wood between them could break before the fin "
    "does. Its help is not counted: the joint is judged as if fillets and wall held the fin alone."
)


def _tab(values: JointOnTube) -> c.Tab | None:
    """Return the tab asked for, if any."""
    return c.tab_of(values, c.outline_of(values).root) if values["joint"] == "tab" else None


def _uncounted(values: JointOnTube, tab: c.Tab) -> str:
    """Return why a tab does not count for the joint's strength; "" where it does.

    What a tab along part of the root adds where there is none beside it is not known. The moment
    in a tab falls evenly from the wall to its inner end: beside notches that reach n of its depth d
    it is n / d of the root's, so the wood there carries no more than the root if its share of the
    length is as large.
    """
    if tab.length < WHOLE_ROOT * c.outline_of(values).root:
        return PART_OF_ROOT
    return WEAK_TAB if 1.0 - tab.notched < tab.notch_depth / tab.depth else ""


def tab_notes(values: JointOnTube) -> tuple[str, ...]:
    """Return what to say of a tab that does not count for the joint's strength."""
    tab = _tab(values)
    why = "" if tab is None else _uncounted(values, tab)
    return (why,) if why else ()


def weakest(results: Sequence[Judged]) -> Judged:
    """Return the load under which the joint's margin is smallest."""
    return min(results, key=lambda item: item.margin)


def suited(joint: root_joint.Joint) -> bool:
    """Return whether the glue holds on the tube at all."""
    return not (joint.adhesive.soaks and joint.tube.sealed)


def _point(flying: c.Flying) -> Point:
    return max(flying.points, key=lambda point: point.pressure)


def _state(results: Sequence[Judged], own: Own, *, known: bool) -> State:
    """Return the verdict on joint and fin together: a joint holds nothing where the fin breaks."""
    air = results[0]
    if air.governs.ratio < 1.0 and not air.at_least:
        return "fails"
    if own.air < 1.0:
        return "fails"
    # A joint cannot be promised more than the load on it is, nor judged by a lower limit.
    if not known or any(item.governs.ratio < 1.0 and item.at_least for item in results):
        return "unknown"
    sure = whole.chance_below(fin_joint.margin_of(air)) <= policy.MOST_SHORT
    enough = own.air >= REQUIRED and own.hand >= 1.0 and all(item.margin >= 1.0 for item in results)
    return "holds" if enough and sure else "marginal"


def answer(**values: Unpack[RootJointValues]) -> Report:
    """Answer for SI values by input name."""
    fin = c.fin_of(values)
    joint = joint_of(values)
    flying = c.flying(values)
    point, fmt = _point(flying), c.formatter(values)
    shape, structure = model.build(fin, [fin.layup()], [fin.direction])
    found = check.batch_margins(fin, shape, structure, point)
    bent = next(m for m in found.margins[0] if m.name == "bending")
    own = Own(found.root[0].factor, found.handling[0].factor)
    bench = Bench(fin, shape, structure, flying.points, own, values["tested"])
    root = bench.root
    results = bench.judged(joint)
    worst = weakest(results)
    air = results[0]
    governs, case = worst.governs, worst.case
    share = governs.ratio / own.of(worst)
    springs = root_joint.springs(root, joint, count=fin.count)
    soft = flexible_root(fin, found, point, spring=springs.total)
    chord = fin.planform.root
    why = next(
        (
            why
            for known, why in (
                (bent.known, f"The load on the root is not known: {bent.note}."),
                (air.case.known, f"The load on the root is not known: {air.case.note}."),
                (suited(joint) or values["tested"] is not None, UNSUITED),
            )
            if not known
        ),
        "",
    )
    state = _state(results, own, known=not why)
    required = fin_joint.margin_of(worst)
    bound = required.bound
    gust = point.speed * math.tan(point.attack) * air.governs.ratio
    push = fin.hand * results[1].governs.ratio
    labels = {"air": "Air load on the root", "hand": f"A hand's {fmt(fin.hand, 'force')} on "
              "the tip"}  # fmt: skip
    creases = [(item.joint.crease.ratio, item) for item in results if item.joint.crease]
    crease = min(creases, key=lambda pair: pair[0]) if creases else None
    return Report(
        calculator="root-joint",
        summary=_summary(state, worst, own),
        answers=(
            Answer("margin", "Smallest margin of the joint", required.margin, "number",
                   required.low_margin, required.high_margin,
                   bound=bound, note=labels[case.name].lower()),
            Answer("joint_to_fin", "Joint's strength over the fin's own", share, "fraction",
                   None if bound else (governs.low or 0.0) / own.of(worst),
                   None if bound else (governs.high or 0.0) / own.of(worst),
                   digits=2, note="above 100 % the fin breaks first", bound=bound),
            Answer("gust", "Side gust at top speed that the joint carries", gust, "speed",
                   bound="at least" if air.at_least else "", digits=2,
                   note="just before it gives way; a fin that stalls first carries less"),
            Answer("push", "Push on the tip that the joint carries", push, "force",
                   bound="at least" if results[1].at_least else "", digits=2),
            Answer("root_moment", "Moment at the root, as if all of it were like its worst spot",
                   case.load.moment * chord, "moment", note=labels[case.name].lower()),
            Answer("root_shear", "Force across the root, likewise", case.load.shear * chord,
                   "force"),
            *((Answer("crease", "Load of the first lasting crease, over the worst load",
                      crease[0], "number", digits=2,
                      note="below 1 the worst load leaves a mark beside the fin; it is not judged"
                      + ("; rings relieve it" if joint.behind == "rings" else ""),
                      bound="at least" if joint.behind == "rings" else ""),)
              if crease else ()),
            Answer("flutter_share", "Flutter or divergence speed kept on this joint",
                   soft.speed_share, "fraction", bound="at least", digits=2,
                   note="the joint lets the fin turn a little; rings and motor tube help, and are "
                   "not counted. The fin check takes a root that cannot turn"),
            Answer("frequency", "First natural frequency with this root", soft.frequency,
                   "frequency", bound="at least"),
            Answer("frequency_clamped", "The same, root clamped", soft.clamped_frequency,
                   "frequency"),
        ),
        headline=("margin", "joint_to_fin", "gust", "flutter_share"),
        verdict=Verdict(
            state, governs.name, required.margin,
            why if state == "unknown" and why else _sentence(worst, own, labels, state),
            required.low_margin, required.high_margin, bound=bound,
        ),
        modes=_modes(worst, own, labels, chord, _clamped(fin, structure)),
        bars="What each part of the joint can take, divided by what the heaviest load requires of "
        "it. At 1 it is just enough. Thin lines: from all strengths low to all strengths high.",
        ranges=ALL_STRENGTHS,
        changes=_changes(values, bench, joint, worst),
        figures=(_picture(fin, joint), _chart(bench, joint)),
        tables=(_table(results, own, labels),),
        steps=_steps(root, joint, worst, own, labels, springs, soft, point),
        cautions=(CAUTION,),
        notes=(*tab_notes(values), *_notes(joint)),
        sources=tuple(
            sorted({"common-practice", "petrie-2000", "correa-2004", *fin.material.sources})
        ),
    )  # fmt: skip


def _name(band: Margin) -> str:
    return LABELS.get(band.name, band.name[0].upper() + band.name[1:])


def _ratio(item: Judged) -> str:
    return ("at least " if item.at_least else "") + f"{item.margin:.2f}"


def _summary(state: State, worst: Judged, own: Own) -> str:
    ratio = _ratio(worst)
    head = {
        "holds": f"Holds with a margin of {ratio}",
        "marginal": f"Marginal: margin {ratio}",
        "fails": f"Does not hold: margin {ratio}",
        "unknown": f"Cannot say: computed margin {ratio}",
    }[state]
    if own.air < 1.0:
        return (
            f"Does not hold: the fin itself breaks at a margin of {own.air / REQUIRED:.2f}; the "
            f"joint's is {ratio}."
        )
    share = worst.governs.ratio / own.of(worst)
    limit = "at least " if worst.at_least else ""
    part = f"is {limit}{share:.0%} as strong as the fin"
    stronger = "outlasts the fin" if share >= 1.0 else part
    return f"{head}; {_name(worst.governs).lower()} governs, and the joint {stronger}."


def _sentence(worst: Judged, own: Own, labels: Mapping[str, str], state: State) -> str:
    share = worst.governs.ratio / own.of(worst)
    if share >= 1.0:
        which = "The joint outlasts the fin: the fin breaks first."
    elif worst.at_least:
        which = "The joint carries at least this; its other load path helps and is not counted."
    else:
        which = "The joint fails before the fin does."
    if own.air < REQUIRED:
        which += (
            f" But the fin's own margin is {own.air / REQUIRED:.2f}, and a strong joint does not "
            "mend that."
        )
    if state == "unknown":
        which += " That is less than the load, so the page cannot say whether it holds."
    return (
        f"{labels[worst.case.name]} is the heaviest load. {which} A margin of 1 is what is "
        f"required: {REQUIRED:.1f} times the load in flight, and the load itself for a hand."
        + ("" if worst.at_least else " The range covers eight joints in ten.")
    )


def _clamped(fin: Fin, structure: model.Structure) -> str:
    """Return what the fin's own margin is, and why the fin check may show a smaller one."""
    off = math.degrees(check.AS_CUT)
    grained = len(check.as_cut(structure.layups[0], fin.direction)) > 1
    also = f", grain as drawn; the fin check also tries it {off:.0f}° off" if grained else ""
    return f"the sheet at a root that cannot turn{also}"


def _modes(
    worst: Judged, own: Own, labels: Mapping[str, str], chord: float, clamped: str
) -> tuple[Margin, ...]:
    out = []
    label = labels[worst.case.name].lower()
    for band in worst.joint.bands:
        forceful = "shear" in band.name or worst.joint.path == "tab"
        held = replace(band.capacity, bound="at least" if worst.at_least else "")
        over = replace(band, label=_name(band), capacity=held, required=worst.required, note=label)
        out.append(over.times(chord, "force" if forceful else "moment"))
    moment, factor = worst.case.load.mean * chord, own.of(worst)
    out.append(
        Margin(
            "fin",
            moment,
            Quantity(moment * factor),
            "moment",
            label="The fin itself at the root",
            required=worst.required,
            note=clamped,
        )
    )
    return tuple(out)


LEAST_HELP = 1.02
"""Growth of the margin below which a change is not offered as help."""
MOST_CHANGES = 7
"""Changes shown, those that help most."""

Option = tuple[str, Mapping[str, str], Mapping[str, Any]]
"""What to do, the inputs that do it, and the joint's own names for it."""


def _changes(
    values: RootJointValues, bench: Bench, joint: root_joint.Joint, worst: Judged
) -> tuple[Change, ...]:
    """Return what would help, the most first; a tested joint is not computed better."""
    if values["tested"] is not None:
        return ()
    fmt = c.formatter(values)
    now = worst.margin
    found: list[tuple[float, Change]] = []
    plain = values["joint"] == "tab" and joint.tab == 0.0
    for label, inputs, other in (*_by_gluing(joint, fmt, plain), *_by_buying(joint, fmt)):
        changed = replace(joint, **other)
        then = weakest(bench.judged(changed))
        gain = then.margin
        if gain >= LEAST_HELP * now and suited(changed):
            effect = f"margin {_ratio(worst)} → {_ratio(then)} ({_name(then.governs).lower()})"
            found.append((gain, Change(label, effect, gain, inputs=inputs)))
    found.sort(key=lambda pair: -pair[0])
    return tuple(change for _, change in found[:MOST_CHANGES])


def _mm(value: float) -> str:
    return f"{value * 1e3:.4g} mm"


PLAIN_TAB = {"tab_start": "0 in", "tab_length": "", "tab_notches": ""}
"""Inputs of a tab along the whole root, without notches."""


def _by_gluing(joint: root_joint.Joint, fmt: c.Formatter, plain: bool) -> Iterator[Option]:
    """Yield what more glue, fillets and a tab would be; a `plain` tab where one is not counted."""
    if joint.fillet > 0.0:
        wider = min(1.5 * joint.fillet, 0.03)
        yield f"Fillets of {fmt(wider, 'length')}", {"fillet": _mm(wider)}, {"fillet": wider}
        more = joint.cloth + 1
        layers = "One layer" if more == 1 else f"{more} layers"
        yield f"{layers} of glass cloth, tip to tip", {"cloth": str(more)}, {"cloth": more}
    else:
        first = 0.00635
        inputs = {"joint": "fillet", "fillet": "1/4 in"}
        yield f"Fillets of {fmt(first, 'length')}", inputs, {"fillet": first}
    if joint.tab > 0.0:
        deeper = min(1.5 * joint.tab, 0.5 * joint.diameter, 0.2)
        yield f"A tab {fmt(deeper, 'length')} deep", {"tab": _mm(deeper)}, {"tab": deeper}
        within = max(0.003, 1.5 * joint.inner_fillet)
        inputs = {"inner_fillet": _mm(within)}
        yield f"Fillets inside of {fmt(within, 'length')}", inputs, {"inner_fillet": within}
        motor = {"tab_end": "motor"}
        yield "The tab glued to the motor tube", motor, motor
    else:
        depth = min(0.009525, 0.4 * joint.diameter)
        inputs = {"joint": "tab", "tab": _mm(depth), "tab_end": "motor"}
        whole_root = ", along the whole root without notches" if plain else ""
        yield (
            f"A tab through the wall, {fmt(depth, 'length')} deep, on the motor tube{whole_root}",
            {**inputs, **PLAIN_TAB} if plain else inputs,
            {"tab": depth, "tab_end": "motor"},
        )
    for key, glue in bonding.ADHESIVES.items():
        yield f"Glued with {glue.label}", {"adhesive": key}, {"adhesive": glue}


def _by_buying(joint: root_joint.Joint, fmt: c.Formatter) -> Iterator[Option]:
    """Yield what another tube, and what lies inside it, would be."""
    if joint.behind in ("nothing", "motor"):
        inside = {"behind": "coupler"}
        yield "A coupler glued in under the fin", inside, inside
    if joint.behind == "nothing":
        inside = {"behind": "rings"}
        yield "A motor mount's rings under the fin", inside, inside
    thicker = min(1.5 * joint.wall, 0.01, 0.2 * joint.diameter)
    # tubes are sold by the millimetre of their wall
    wall = with_unit(thicker, "length", "metric", digits=2)
    if fmt.system == "inch":
        wall = f"{fmt(thicker, 'length', 2)} ({wall})"
    yield f"A tube wall of {wall}", {"wall": _mm(thicker)}, {"wall": thicker}
    for key in ("phenolic", "glass-epoxy"):
        tube = bonding.TUBES[key]
        yield f"A {tube.label}", {"tube": key}, {"tube": tube}
    dry = {"moisture": root_joint.DRY}
    yield "The tube dried to 7 % moisture", {"moisture": "7 %"}, dry


def _picture(fin: Fin, joint: root_joint.Joint) -> Figure:
    held = joint.tab > 0.0 and joint.tab_end == "motor"
    return Figure(
        "joint",
        "The joint, seen along the tube",
        "Not to scale.",
        {
            "thickness": fin.thickness,
            "fillet": joint.fillet,
            "tab": joint.tab > 0.0,
            "inner": held,
            "wall": joint.wall,
        },
    )


def _chart(bench: Bench, joint: root_joint.Joint) -> Figure:
    radii = np.linspace(0.0, max(0.0127, 1.5 * joint.fillet), 13)

    def line(tab: float) -> tuple[list[float], str]:
        base = replace(joint, tab=tab)
        air, hand = bench.judged(base, computed=True)
        cases = (air.case, hand.case)
        part = _name(weakest((air, hand)).governs)
        margins = []
        for radius in radii:
            other = replace(base, fillet=float(radius))
            margins.append(weakest(fin_joint.capacities(cases, bench.root, other)).margin)
        return [float(f"{margin:.4g}") for margin in margins], part

    found, part = line(0.0)
    series = [{"name": "on the surface", "x": radii.tolist(), "y": found}]
    if joint.tab > 0.0:
        found, part = line(joint.tab)
        series.append({"name": "with the tab", "x": radii.tolist(), "y": found})
    governs = f"{part[0].lower()}{part[1:]}"
    where = "At your fillet" if joint.fillet > 0.0 else "Without a fillet, as yours is,"
    caption = f"As computed. {where} this governs: {governs}."
    if any(a == b for a, b in itertools.pairwise(found)):
        caption += " Where the line is level, a larger fillet changes nothing."
    return Figure(
        "chart",
        "Margin against fillet radius",
        caption,
        {
            "x": {"label": "Fillet radius", "kind": "length"},
            "y": {"label": "Smallest margin", "kind": "number", "zero": True},
            "series": series,
            "marks": [
                {"axis": "y", "value": 1.0, "label": "only just holds"},
                {"axis": "x", "value": joint.fillet, "label": "yours"},
            ],
        },
    )


def _table(results: Sequence[Judged], own: Own, labels: Mapping[str, str]) -> Table:
    rows: list[tuple[Any, ...]] = []
    for item in results:
        label = labels[item.case.name]
        creases = (item.joint.crease,) if item.joint.crease else ()
        for band in (*item.joint.bands, *creases):
            over = replace(band, required=item.required)
            middle = LowerLimit(over.margin) if item.at_least else over.margin
            rows.append((_name(band), label, over.low_margin, middle, over.high_margin))
        rows.append(("The fin itself", label, None, own.of(item) / item.required, None))
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
        "once. The first crease is shown and not judged. Landing loads are judged on their own "
        "page.",
    )


def _steps(
    root: root_joint.FinRoot,
    joint: root_joint.Joint,
    worst: Judged,
    own: Own,
    labels: Mapping[str, str],
    springs: root_joint.RootSprings,
    soft: FlexibleRoot,
    point: Point,
) -> tuple[Step, ...]:
    glue, tube = joint.adhesive, joint.tube
    load, stiff = worst.case.load, worst.case.stiff

    def band(pair: tuple[float, float]) -> str:
        return f"{pair[0] / 1e6:.3g} to {pair[1] / 1e6:.3g} MPa"

    foot = joint.foot(root.thickness)
    relief = root_joint.wall_share(width=foot, wall=joint.wall, diameter=joint.diameter)
    held = root_joint.ring_share(root=load.root, wall=joint.wall, diameter=joint.diameter)
    steps = [
        Step(
            "What the root carries",
            "M(x) = k θ(x) along a root that turns against the joint's own spring k",
            f"{labels[worst.case.name].lower()}: {load.moment:.3g} N·m/m and {load.shear:.3g} N/m "
            f"at the worst spot, {load.mean:.3g} N·m/m on average (q = {point.pressure:.0f} Pa at "
            f"the hardest moment); on a root {root_joint.STIFFER:g} times as stiff "
            f"{stiff.moment:.3g} N·m/m",
            ("leissa-1969", "far-25-303"),
            note="a clamped fin would crowd its load at the root's ends; the stiffer root counts "
            "with the low strengths",
        ),
        Step(
            "The glue",
            "strength of glue and of what it holds on to, whichever is weaker",
            f"{glue.label}: shear {band(glue.shear)}, tension {band(glue.tension)}; "
            f"{tube.label}: shear {band(tube.shear)}, tension {band(tube.tension)}; the fin's edge "
            f"in tension {band(root.edge_tension)}, its face in shear "
            f"{root.shear_strength / 1e6:.3g} MPa",
            ("anc-18", "astm-d905", "petrie-2000", "common-practice", "wood-handbook-2010"),
            note="end grain carries {:.0%} to {:.0%} of the strength along the grain".format(
                *root_joint.END_GRAIN
            ),
        ),
        Step(
            "The foot on the tube",
            "w = t + 2 a, a = (2 − √2) r;  layers come apart at M = σ w² / 6, evenly at σ w² / 2",
            f"w = {1e3 * foot:.3g} mm; "
            + "; ".join(f"{_name(b).lower()} {b.ratio:.2f}" for b in worst.joint.bands),
            ("timoshenko-strength", "hillerborg-1976", "anc-18"),
            note="paper lets go slowly, so its real moment lies between the two"
            if tube.tough
            else "",
        ),
        Step(
            "The wall beside it",
            "M/2 on each side, less under the foot: σ = 6 (s M/2) / h²,  "
            "s = 1 − (φ + 2 sin φ) / π,  φ = w / 2R",
            f"s = {relief:.2f}; it folds at {band(tube.bending)}, a first lasting crease comes at "
            f"{band(tube.crease)}"
            + (f"; two rings hold {held:.0%} of the root" if joint.behind == "rings" else "")
            + (
                f"; at {joint.moisture:.0%} moisture {root_joint.damp_share(joint.moisture):.0%} "
                "of the dry strength is left"
                if tube.damp
                else ""
            ),
            ("timoshenko-strength", "correa-2004", "waseda-paper-tubes-1991"),
            note="paper yields in compression long before it tears, so that its bending strength "
            "is less than its tension strength",
        ),
    ]
    if joint.tab > 0.0 and joint.tab_end != "free":
        steps.append(
            Step(
                "The tab",
                "couple H = M / d between wall and inner end"
                if joint.tab_end == "motor"
                else "two patches of d · (⅔ t + 2 a) on the rings, their pull at half the depth",
                f"d = {1e3 * joint.tab:.3g} mm, H = {load.moment / joint.tab:.3g} N/m; "
                + (f"notches leave {joint.glued:.0%} of its inner end; " if joint.notched else "")
                + "the "
                f"{worst.joint.path} is the stronger path and counts",
                ("timoshenko-strength",),
                note="the two paths are not added: glue does not yield until both carry. So the "
                "margin is a lower limit",
            )
        )
    steps += [
        Step(
            "Against the fin",
            "joint's margin / fin's own margin",
            f"{worst.margin:.2f} / {own.of(worst) / worst.required:.2f} = "
            f"{worst.governs.ratio / own.of(worst):.2f}",
            ("tsai-wu-1971",),
            note="the fin's own with its root clamped, the harder case for the fin",
        ),
        Step(
            "How far it turns",
            "1/k = 1/k_wall + 1/k_glue, tab beside them;  k_wall = (E h³/12) / (R (π/6 − 1/π))",
            f"wall {springs.wall:.3g}, glue {springs.glue:.3g}, tab {springs.tab:.3g}: together "
            f"{springs.total:.3g} N·m/rad per metre; first frequency {soft.frequency:.0f} Hz "
            f"against {soft.clamped_frequency:.0f} Hz clamped",
            ("timoshenko-strength",),
            note="a ring as long as the root without help from the tube around it: short roots and "
            "rings nearby make it several times stiffer",
        ),
        Step(
            "What is required",
            f"{REQUIRED:.1f} times the load of the air, the load itself of a hand; the fin itself "
            f"must carry the same; at most {policy.MOST_SHORT:.0%} give way in flight",
            f"margin {_ratio(worst)}",
            ("far-25-303",),
        ),
    ]
    return tuple(steps)


def _notes(joint: root_joint.Joint) -> tuple[str, ...]:
    return (
        "Not modelled: gaps, dust or glaze under the glue, peel from a tube squeezed out of round, "
        "creep, shock at landing, and cracks from earlier flights.",
        *(item.caution for item in (joint.tube, joint.adhesive) if item.caution),
        *(() if suited(joint) else (UNSUITED,)),
    )


CALCULATOR = Calculator(
    slug="root-joint",
    title="Root joint",
    question="Is the glue line as strong as the fin?",
    inputs=(*c.without(c.OUTLINE, "count"), *c.stock_inputs(), *INPUTS, *c.EDGE, *c.FLYING),
    answer=answer,
    drawing=c.fin_figure,
    dropped=frozenset({"count"}),
)
