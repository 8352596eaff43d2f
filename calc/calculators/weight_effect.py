"""What these fins do to balance, stability and height."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NotRequired, TypedDict, Unpack, cast

import numpy as np

from calc.calculators import shared as c
from calc.errors import InputError
from calc.fin.fin import Fin
from calc.fin.whole import STATIC_MARGIN
from calc.flight import ascent, stability
from calc.forms import Calculator, Choice, Input
from calc.geometry.outline import Outline
from calc.margin import Margin, Quantity
from calc.numerics import sampling
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
from calc.units import STANDARD_GRAVITY, show, typed

HIGH_MARGIN = 3.0
"""Static margin above which a rocket turns strongly into the wind; common practice."""
NORMAL_90 = 1.2815515655446004
"""90 % point of the standard normal distribution."""
ROCKET = "The rocket"
UNUSED = ("cut", "grain", *(name for name in c.OWN_NAMES if name not in ("own_density", "spread")))
"""Inputs of other calculators that change no mass."""

NOSES = (
    Choice("ogive", "ogive"),
    Choice("cone", "cone"),
    Choice("parabola", "parabola"),
    Choice("ellipsoid", "ellipsoid (round)"),
    Choice("von Karman", "von Karman"),
)

INPUTS = (
    Input("weighed", "Weighed and balanced", "choice", "without",
          help="With the loaded motor in, as it will fly.", group=ROCKET,
          choices=(Choice("without", "without its fins"), Choice("with", "with these fins on"))),
    Input("mass", "Mass", "mass", "160 g", help="Ready to fly.", group=ROCKET, unit="g", low=0.003,
          high=100.0),
    Input("balance_point", "Balance point", "length", "12.5 in",
          help="From the tip of the nose, found on a finger or an edge.", group=ROCKET, unit="in",
          low=0.01, high=5.0),
    Input("nose_length", "Nose length", "length", "4 in", group=ROCKET, unit="in", low=0.005,
          high=2.0),
    Input("nose", "Nose shape", "choice", "ogive", group=ROCKET, choices=NOSES),
    Input("tube_length", "Body tube length", "length", "16 in",
          help="From the nose's base to the tail.", group=ROCKET, unit="in", low=0.02, high=5.0),
    Input("position", "Fins' front corner from the nose tip", "length", "",
          help="Leave empty if the roots end at the tail.", group=ROCKET, unit="in", low=0.0,
          high=5.0, optional=True),
    Input("joint", "Root joint", "choice", "usual",
          help="Only a tab through the wall adds mass; the usual joint is weighed without one.",
          group=ROCKET,
          choices=(Choice("usual", "no tab, or as usual"), Choice("edge", "bare edge"),
                   Choice("fillet", "fillets"), Choice("tab", "tab through the wall"))),
    replace(c.TAB, group=ROCKET),
    *(replace(item, group=ROCKET) for item in c.TAB_PLACE),
    Input("added", "Glue, fillets and finish, all fins together", "mass", "1 g",
          help="The finish calculator gives the paint's share.", group=ROCKET, unit="g", low=0.0,
          high=5.0),
)  # fmt: skip


class BalanceValues(TypedDict):
    """Values of `INPUTS` that a balanced rocket needs besides its mass and balance point."""

    nose_length: float
    nose: stability.NoseShape
    tube_length: float
    position: float | None


class WeightEffectValues(
    c.OutlineValues,
    c.SheetValues,
    c.EdgeValues,
    BalanceValues,
    c.MotorValues,
    c.SiteValues,
    c.TabInputs,
    c.UnflownValues,
    c.UnitsValues,
):
    """Values of this calculator; what changes no mass is left out."""

    count: int
    body: float
    own_density: float
    spread: tuple[float, ...] | None
    weighed: str
    balance_point: float
    added: float
    propellant: float | None
    cut: NotRequired[str | None]
    grain: NotRequired[float]
    modulus_along: NotRequired[float]
    modulus_across: NotRequired[float]
    shear_modulus: NotRequired[float]
    poisson: NotRequired[float]
    strength_along: NotRequired[float]
    strength_across: NotRequired[float]
    shear_strength: NotRequired[float]


class Unplaced(BalanceValues):
    """A rocket and its fins, as weighed."""

    body: float
    count: int
    planform: Outline
    fin_centre: float
    weighed: str
    mass: float
    balance_point: float


class Placed(TypedDict):
    """Where the fins sit [m], mass [kg] and balance point [m] of the rocket without them."""

    place: float
    bare_mass: float
    bare_point: float


class Balanced(Unplaced, Placed):
    """A rocket with and without its fins."""


class Full(WeightEffectValues, Placed):
    """The values, with the fins in their place."""

    planform: Outline
    fin_centre: float


class WeighedValues(BalanceValues, c.TabValues):
    """What `as_weighed` reads, of a rocket that was balanced."""

    body: float
    flight: str
    mass: float
    balance_point: float | None


def _balance(values: Balanced | Full, set_mass: float) -> stability.Balance:
    """Return the balance with a set of fins of this mass and outline, glue and finish included.

    Where the rocket was weighed with its fins, what it weighs without them is worked out from
    the fins as they are now.
    """
    bare, point = values["bare_mass"], values["bare_point"]
    return stability.balance(
        nose_length=values["nose_length"],
        nose_shape=values["nose"],
        body_length=values["tube_length"],
        diameter=values["body"],
        bare_mass=bare,
        bare_centre_of_gravity=point,
        fin_mass=set_mass / values["count"],
        count=values["count"],
        fin_position=values["place"],
        planform=values["planform"],
        fin_centre=values["fin_centre"],
    )


def _bare(values: Unplaced, set_mass: float) -> Placed:
    """Return the fins' place, and mass and balance point of the rocket without them."""
    length = values["nose_length"] + values["tube_length"]
    place = values["position"]
    if place is None:
        place = length - values["planform"].root
    if place < 0.0 or place + 0.5 * values["planform"].root > length:
        raise InputError(
            "position", f"{place:.3g} m", f"a place on the rocket, which is {length:.3g} m long"
        )
    out: Placed = {
        "place": place,
        "bare_mass": values["mass"],
        "bare_point": values["balance_point"],
    }
    if values["weighed"] == "with":
        rest = values["mass"] - set_mass
        if rest < 0.1 * values["mass"]:
            raise InputError(
                "mass",
                f"{values['mass'] * 1e3:.3g} g",
                f"more than these fins alone, {set_mass * 1e3:.3g} g",
            )
        fin_x = place + values["fin_centre"]
        out["bare_mass"] = rest
        out["bare_point"] = (values["mass"] * values["balance_point"] - set_mass * fin_x) / rest
    if not 0.0 < out["bare_point"] < length:
        raise InputError(
            "balance_point",
            f"{values['balance_point']:.3g} m",
            f"a place on the rocket, which is {length:.3g} m long",
        )
    return out


def as_weighed(values: WeighedValues, fin: Fin, set_mass: float) -> stability.Balance:
    """Return the balance of a rocket that was balanced with these fins on.

    What it weighs does not matter to its stability then; where no mass is given any will do.
    """
    mass = values["mass"] if values["flight"] == "motor" else 20.0 * set_mass
    seen = _seen(values, fin, mass)
    return _balance({**seen, **_bare(seen, set_mass)}, set_mass)


def exchanged(
    values: WeighedValues, old: Fin, new: Fin, *, added: float = 0.0
) -> stability.Balance:
    """Return the balance of a rocket that was weighed and balanced with other fins on.

    Parameters
    ----------
    values
        The rocket with its mass at lift-off and its balance point.
    old, new
        Fins of one outline: those it was balanced with, and those it flies with.
    added
        Mass added at the fins since, such as glue [kg].
    """
    seen = _seen(values, old, values["mass"])
    bare = _bare(seen, fins_mass(old, values))
    return _balance({**seen, **bare}, fins_mass(new, values) + added)


def fins_mass(fin: Fin, values: c.TabValues) -> float:
    """Return the mass of a set of bare fins with the tabs asked for [kg]."""
    return c.mass_and_centre(fin, c.tab_of(values, fin.planform.root))[0] * fin.count


def _seen(values: WeighedValues, fin: Fin, mass: float) -> Unplaced:
    """Return a rocket of this mass [kg] that was balanced with these fins on."""
    assert values["balance_point"] is not None
    tab = c.tab_of(values, fin.planform.root)
    return {
        "nose_length": values["nose_length"],
        "nose": values["nose"],
        "tube_length": values["tube_length"],
        "position": values["position"],
        "body": values["body"],
        "count": fin.count,
        "planform": fin.planform,
        "fin_centre": (
            float(fin.planform.centroid[0]) if tab is None else c.mass_and_centre(fin, tab)[1]
        ),
        "weighed": "with",
        "mass": mass,
        "balance_point": values["balance_point"],
    }


def answer(**values: Unpack[WeightEffectValues]) -> Report:
    """Answer for SI values by input name."""
    fin = c.fin_of(values)
    tab = c.tab_of(values, fin.planform.root)
    each, centre = c.mass_and_centre(fin, tab)
    wood = each * fin.count
    total = wood + values["added"]
    seen = cast(Unplaced, {**values, "planform": fin.planform, "fin_centre": centre})
    full: Full = {
        **values,
        "planform": fin.planform,
        "fin_centre": centre,
        **_bare(seen, total),
    }
    rocket = _balance(full, total)
    launch = c.launch_of(values | {"mass": rocket.mass})
    effect = stability.height_effect(launch=launch, added_mass=[0.0, -total])
    height, weightless = (float(v) for v in effect.peak)
    per_gram = effect.lost_per_mass * 1e-3
    sd = float(sampling.log_sd(fin.material.scatter["density"]))
    light, heavy = (wood * math.exp(s * NORMAL_90 * sd) for s in (-1.0, 1.0))
    margins = [_balance(full, m + values["added"]).margin for m in (heavy, light)]
    show_range = values["weighed"] == "without" and margins[1] - margins[0] > 0.05
    low, high = margins if show_range else (None, None)
    state: State = (
        "holds" if rocket.margin >= STATIC_MARGIN else "marginal" if rocket.margin > 0 else "fails"
    )
    ratio = rocket.margin / STATIC_MARGIN
    fmt = c.formatter(values)
    return Report(
        calculator="weight-effect",
        summary=f"The fins weigh {fmt(total, 'mass')} and move the balance point "
        f"{fmt(rocket.shift, 'length')} aft; static margin {rocket.margin:.2f} calibers; "
        f"each gram more costs {fmt(per_gram, 'altitude', 2)} of height.",
        answers=(
            Answer("set_mass", f"{fin.count} fins with glue and finish", total, "mass",
                   light + values["added"], heavy + values["added"]),
            Answer("shift", "Balance point moved aft by the fins", rocket.shift, "length"),
            Answer("static_margin", "Static margin, in calibers", rocket.margin, "number",
                   low, high),
            Answer("loss_per_gram", "Height lost for each gram more", per_gram, "altitude",
                   note="negative: the rocket is so light that a gram more would carry it higher"
                   if per_gram < 0 else "a gram anywhere on the rocket"),
            Answer("height", "Highest point with these fins", height, "altitude"),
            Answer("fins_cost", "Height that these fins' weight costs", weightless - height,
                   "altitude", note="against fins of the same shape and no weight"),
            Answer("shift_per_gram", "Balance point moved aft by each gram more at the fins",
                   1e-3 * (_fin_place(full) - rocket.centre_of_gravity) / rocket.mass, "length"),
            Answer("centre_of_gravity", "Balance point from the nose tip",
                   rocket.centre_of_gravity, "length"),
            Answer("centre_of_pressure", "Centre of pressure from the nose tip",
                   rocket.centre_of_pressure, "length"),
            Answer("fin_slope", "Normal force of the fins, per radian", rocket.fins.slope,
                   "number", note="on the tube's frontal area, the body's help included"),
            Answer("fin_centre", "Where it acts, behind the root's front", rocket.fins.centre,
                   "length"),
            Answer("slope", "Normal force of nose and fins, per radian", rocket.slope, "number"),
            Answer("fin_mass", "One bare fin", wood / fin.count, "mass", light / fin.count,
                   heavy / fin.count),
            Answer("mass", "Rocket ready to fly", rocket.mass, "mass"),
        ),
        headline=("set_mass", "shift", "static_margin", "loss_per_gram"),
        verdict=Verdict(
            state=state,
            governs="stability",
            margin=ratio,
            low=low,
            high=high,
            sentence=_sentence(rocket, fin.count),
        ),
        modes=(
            Margin("stability", STATIC_MARGIN, Quantity(rocket.margin, low, high), "number",
                   label="Static margin, in calibers",
                 note=f"required: {STATIC_MARGIN:.0f} caliber, common practice; the sheet's "
                 "scatter hardly moves it, the method's own error is a few tenths of a caliber"),
        ),
        changes=_changes(fin, full, rocket, total),
        figures=_charts(full, rocket, launch, total),
        tables=(_alternatives(fin, full, values, launch, rocket, per_gram),),
        steps=_steps(fin, full, rocket, launch, wood, per_gram, height, weightless),
        cautions=(CAUTION,),
        notes=_notes(show_range=show_range),
        sources=tuple(sorted({"common-practice", *fin.material.sources})),
    )  # fmt: skip


def _fin_place(values: Full) -> float:
    """Return where the fins' mass lies behind the nose tip [m]."""
    return float(values["place"] + values["fin_centre"])


def _each(values: Full, fin: Fin) -> float:
    """Return the mass of one bare fin with the tab asked for [kg]."""
    return c.mass_and_centre(fin, c.tab_of(values, fin.planform.root))[0]


def _sentence(rocket: stability.Balance, count: int) -> str:
    margin = rocket.margin
    text = (
        f"The air's force acts {abs(margin):.2f} tube diameters "
        f"{'behind' if margin >= 0 else 'ahead of'} the balance point; at least "
        f"{STATIC_MARGIN:.0f} behind is required (common practice)."
    )
    if margin > HIGH_MARGIN:
        text += " That is a lot: it will turn strongly into the wind."
    return text


def _signed(value: float, kind: str, fmt: c.Formatter, *, like: float) -> str:
    """Return a difference with its sign, in the unit of `like`."""
    if abs(value) <= 1e-6 * abs(like):
        return fmt(0.0, kind, 2, like=like)
    return f"{'+' if value > 0 else '−'}{fmt(abs(value), kind, 2, like=like)}"


def _changes(
    fin: Fin,
    full: Full,
    rocket: stability.Balance,
    total: float,
) -> tuple[Change, ...]:
    out: list[Change] = []
    fmt = c.formatter(full)

    def more(mass: float) -> str:
        return _signed(mass, "mass", fmt, like=total)

    sizes, unit = c.stock_sizes(fin)
    for size, word in (
        (next((t for t in sizes if t > 1.02 * fin.thickness), None), "One size thicker"),
        (next((t for t in reversed(sizes) if t < 0.98 * fin.thickness), None), "One size thinner"),
    ):
        if size is None or size > 0.25 * min(fin.planform.span, fin.planform.root):
            continue
        grams = _each(full, replace(fin, thickness=size)) * fin.count + full["added"]
        margin = _balance(full, grams).margin
        text = f"{more(grams - total)}, static margin {margin:.2f}".replace("-", "−")
        out.append(
            Change(
                f"{word}: {show(size, 'length', unit)}",
                text,
                mass=grams - total,
                inputs={"thickness": f"{typed(size, 'length', unit)} {unit}"},
            )
        )
    longer = c.stretched(full, 1.1, "mm")
    if longer is not None:
        shape, lengths = longer
        grown = replace(fin, planform=shape)
        grams = _each(full, grown) * fin.count + full["added"]
        centre = c.mass_and_centre(grown, c.tab_of(full, shape.root))[1]
        margin = _balance(full | {"planform": shape, "fin_centre": centre}, grams).margin
        out.append(
            Change(
                "Span longer by a tenth",
                f"{more(grams - total)}, static margin {margin:.2f}; a longer fin flutters sooner",
                mass=grams - total,
                inputs=lengths,
            )
        )
    if rocket.margin < STATIC_MARGIN:
        place = 0.6 * full["nose_length"]
        effect = f"cannot bring the static margin to {STATIC_MARGIN:.0f} caliber; larger fins can"
        if rocket.centre_of_pressure - STATIC_MARGIN * full["body"] > place:
            need = stability.nose_ballast(
                rocket=rocket, position=place, margin=STATIC_MARGIN, diameter=full["body"]
            )
            effect = (
                f"{fmt(need, 'mass', 2)} brings the static margin to {STATIC_MARGIN:.0f} caliber"
            )
        out.append(Change("Ballast in the nose", effect))
    return tuple(out)


def _charts(
    full: Full, rocket: stability.Balance, launch: ascent.Launch, total: float
) -> tuple[Figure, ...]:
    masses = np.linspace(0.0, max(3.0 * total, 0.06 * rocket.mass), 9)
    lift = [replace(launch, mass=rocket.mass - total + float(m)) for m in masses]
    flown = [
        (float(m), ascent.ascent(one).peak.height)
        for m, one in zip(masses, lift, strict=True)
        if one.mass * STANDARD_GRAVITY < 0.95 * (launch.thrust or 0.0)
        and one.mass > 1.02 * launch.propellant_mass
    ]
    height = Figure(
        "chart",
        "Height against the fins' mass",
        "Everything else unchanged; the drag too.",
        {
            "x": {"label": "Fins with glue and finish", "kind": "mass"},
            "y": {"label": "Highest point", "kind": "altitude", "zero": True},
            "series": [{"name": "", "x": [m for m, _ in flown], "y": [h for _, h in flown]}],
            "marks": [{"axis": "x", "value": total, "label": "yours"}],
        },
    )
    margins = [_balance(full, float(m)).margin for m in masses]
    stable = Figure(
        "chart",
        "Static margin against the fins' mass",
        "A heavy fin at the tail takes away some of the stability that its size gives.",
        {
            "x": {"label": "Fins with glue and finish", "kind": "mass"},
            "y": {
                "label": "Static margin, calibers",
                "kind": "number",
                # so that what is required lies above the axis
                "zero": min(margins) >= 0.0,
            },
            "series": [
                {
                    "name": "",
                    "x": masses.tolist(),
                    "y": margins,
                }
            ],
            "marks": [
                {"axis": "x", "value": total, "label": "yours"},
                {
                    "axis": "y",
                    "value": STATIC_MARGIN,
                    "label": f"required: {STATIC_MARGIN:.0f} caliber",
                },
            ],
        },
    )
    return height, stable


def _alternatives(
    fin: Fin,
    full: Full,
    values: WeightEffectValues,
    launch: ascent.Launch,
    rocket: stability.Balance,
    per_gram: float,
) -> Table:
    """Return the same outline from the sizes this material is sold in."""
    fmt = c.formatter(values)
    sizes, _ = c.stock_sizes(fin)
    sizes = sizes or (fin.thickness,)
    limit = 0.25 * min(fin.planform.span, fin.planform.root)
    now = _each(full, fin) * fin.count
    rows = []
    for size in sizes:
        if size > limit:
            continue
        mass = _each(full, replace(fin, thickness=size)) * fin.count
        new = _balance(full, mass + values["added"])
        rows.append((size, mass, new.shift, new.margin, -1e3 * per_gram * (mass - now)))
    most = max((abs(row[-1]) for row in rows), default=0.0)
    return Table(
        f"The same fins from other sheets of {fin.material.label}",
        (
            Column("thickness", "Thickness", "length"),
            Column("mass", "Bare fins", "mass"),
            Column("shift", "Moved aft", "length", 2),
            Column("margin", "Static margin", "number", 3),
            Column("height", "Height against yours"),
        ),
        tuple((*row, _signed(gain, "altitude", fmt, like=most)) for *row, gain in rows),
        note="Whether a thickness holds in flight is another question: ask the fin check. Heights "
        "follow from the loss per gram.",
    )


def _steps(
    fin: Fin,
    full: Full,
    rocket: stability.Balance,
    launch: ascent.Launch,
    wood: float,
    per_gram: float,
    height: float,
    weightless: float,
) -> tuple[Step, ...]:
    fins = rocket.fins
    nose_slope, nose_x = stability.nose_normal_force(length=full["nose_length"], shape=full["nose"])
    return (
        Step(
            "The fins' mass",
            "m = N ∫ mass per area dA, edges as shaped",
            f"{fin.count} × {wood / fin.count * 1e3:.3g} g, and {full['added'] * 1e3:.3g} g of "
            "glue and finish",
            fin.material.sources[:1],
        ),
        Step(
            "The balance point",
            "x = Σ m x / Σ m",
            f"without fins {full['bare_point']:.4f} m at {full['bare_mass'] * 1e3:.4g} g; fins "
            f"act at {_fin_place(full):.4f} m; together {rocket.centre_of_gravity:.4f} m",
            note="from the nose tip; statics",
        ),
        Step(
            "Normal force of the fins",
            "C = K · 4 N (s/d)² / (1 + √(1 + (2 l/(c_r + c_t))²)),  K = 1 + f R/(s + R)",
            f"alone {fins.alone:.3f}, K = {fins.interference:.3f}, together {fins.slope:.3f} per "
            f"radian, {fins.centre:.4f} m behind the root's front",
            ("barrowman-1967", "diederich-1951"),
        ),
        Step(
            "Normal force of the nose",
            "C = 2;  x = L − volume / base area",
            f"{nose_slope:.0f} per radian at {nose_x:.4f} m",
            ("barrowman-1967",),
        ),
        Step(
            "Centre of pressure and static margin",
            "x_cp = Σ C x / Σ C;  margin = (x_cp − x_cg) / d",
            f"{rocket.centre_of_pressure:.4f} m, {rocket.centre_of_gravity:.4f} m, "
            f"d = {full['body']:.4f} m → {rocket.margin:.3f} calibers",
            ("barrowman-1967",),
            note="at low speed and small angles; the body's own lift is left out",
        ),
        Step(
            "Height",
            "m dv/dt = F − m g − ½ ρ v² C_d A, flown again with other masses",
            f"{height:.1f} m; without the fins' weight {weightless:.1f} m; slope at this mass "
            f"{per_gram:.3f} m per gram",
            ("us-standard-atmosphere-1976",),
            note=f"lift-off mass {launch.mass * 1e3:.4g} g; the drag stays the same",
        ),
        Step(
            "Spread",
            "lognormal density of the sheet, 10 and 90 % points",
            f"coefficient of variation {fin.material.scatter['density']:.0%}",
            fin.material.sources[:1],
        ),
    )


def _notes(*, show_range: bool) -> tuple[str, ...]:
    scatter = (
        "The range beside the margin is that of heavy and light sheets, 10 to 90 %."
        if show_range
        else "The sheet's scatter hardly moves the static margin."
    )
    return (
        f"{scatter} The method's own error is a few tenths of a caliber.",
        "Not modelled: the lift of a long body in a strong side wind, shoulders and boat tails, "
        "the fins' own drag, lift at Mach 0.9 and above. As the motor burns, its lost mass usually "
        "moves the balance point forward.",
        "Lighter fins of the same shape fly higher and steadier, until they flutter: see the fin "
        "check before you thin them.",
    )


CALCULATOR = Calculator(
    slug="weight-effect",
    title="Weight",
    question="What do these fins do to balance and height?",
    inputs=(
        *c.OUTLINE,
        *c.without(c.stock_inputs(), *UNUSED),
        *c.EDGE,
        *INPUTS,
        *(i for i in c.MOTOR if i.name != "mass"),
        c.PROPELLANT,
        *c.SITE,
    ),
    answer=answer,
    drawing=c.fin_figure,
    dropped=frozenset(UNUSED),
)
