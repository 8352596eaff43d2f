"""Another sheet than planned: what thickness of it holds, and what it does to the rocket."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any, Unpack, cast

from calc import forms, materials
from calc.calculators import fin_check, judging, weight_effect
from calc.calculators import shared as c
from calc.errors import InputError, ValidityError
from calc.fin import check, search, whole
from calc.flight import stability
from calc.flight.rod import LIFT_OFF
from calc.forms import Calculator, Input
from calc.margin import Margin
from calc.materials import Material, Stock
from calc.report import (
    CAUTION,
    WORDS,
    Answer,
    Change,
    Column,
    LowerLimit,
    Report,
    Step,
    Strong,
    Table,
)
from calc.units import STANDARD_GRAVITY, typed
from calc.wording import listed

AT_HAND = "The sheet at hand"
STACKABLE = ("wood", "plywood", "paper")
"""Families of which two sheets are glued face to face; common practice."""

INPUTS = (
    Input(
        "instead",
        "Sheet at hand",
        "material",
        "basswood",
        help="What you have instead of the planned sheet, which is described below.",
        group=AT_HAND,
        own=False,
    ),
    replace(
        c.THICKNESS,
        name="instead_thickness",
        label="Its thickness",
        default="",
        help="Measured. Leave empty to find the thinnest stock sheet that holds.",
        group=AT_HAND,
        optional=True,
    ),
    Input(
        "instead_density",
        "Its density",
        "density",
        "",
        help="Weigh it: mass divided by length, width and thickness. Leave empty for the middle "
        "value.",
        group=AT_HAND,
        unit="lb/ft3",
        low=50.0,
        high=900.0,
        optional=True,
        shown_when={"instead": c.BY_DENSITY},
    ),
    Input(
        "least_margin",
        "Least margin",
        "number",
        "1",
        help="1 is just what is required, reserve included. Ask for more where you want more.",
        group=AT_HAND,
        low=1.0,
        high=10.0,
    ),
)
FIELDS = {
    "material": "instead",
    "thickness": "instead_thickness",
    "density": "instead_density",
}
"""What the fin check calls an input, and what it is called here for the sheet at hand."""


class SubstituteValues(fin_check.FinCheckValues):
    """Values of this calculator: a planned fin and the sheet at hand."""

    instead: str
    instead_thickness: float | None
    instead_density: float | None
    least_margin: float


@dataclass(frozen=True, eq=False)
class Trial:
    """A fin of the sheet at hand on the same rocket, and its whole verdict.

    Attributes
    ----------
    label
        The thickness as it is sold, or as it was measured.
    values
        Inputs of the fin check that give this verdict.
    set_mass
        Of all fins [kg].
    balance
        Of the rocket with these fins; None where its mass or balance point is not known.
    judged
        None where there is no answer, for which `remark` is the reason.
    """

    label: str
    values: Mapping[str, Any]
    set_mass: float
    balance: stability.Balance | None
    judged: judging.Judged | None
    remark: str = ""

    def good(self, least: float) -> bool:
        """Whether it holds with no less margin than asked."""
        if self.judged is None:
            return False
        verdict = self.judged.whole
        return verdict.state == "holds" and verdict.governs.margin >= least

    @property
    def thickness(self) -> float:
        """Return the thickness of the sheet [m]."""
        return float(self.values["thickness"])


def fitted(
    values: SubstituteValues, planned: judging.Judged, thickness: float
) -> tuple[dict[str, Any], float, stability.Balance | None]:
    """Return the values of the same rocket with fins of the sheet at hand.

    The rocket was weighed and balanced with the planned fins: lift-off mass and balance point
    follow the difference. Without a motor no mass is known, so the balance is left open.

    Returns
    -------
    Inputs of the fin check, mass of the new set [kg], and balance where it is known.
    """
    out: dict[str, Any] = {
        **{name: value for name, value in values.items() if name not in c.OWN_NAMES},
        "material": values["instead"],
        "thickness": thickness,
        "density": values["instead_density"],
        "cut": None,
        "balance_point": None,
    }
    fin = c.fin_of(cast(c.FinValues, out))
    now = weight_effect.fins_mass(fin, values)
    if values["flight"] != "motor":
        return out, now, None
    before = weight_effect.fins_mass(planned.fin, values)
    if values["mass"] <= before:
        raise InputError(
            "mass",
            f"{values['mass'] * 1e3:.3g} g",
            f"more than the planned fins alone, {before * 1e3:.3g} g",
        )
    out["mass"] = values["mass"] - before + now
    if values["balance_point"] is None:
        return out, now, None
    balance = weight_effect.exchanged(values, planned.fin, fin)
    out["balance_point"] = balance.centre_of_gravity
    return out, now, balance


def tried(values: SubstituteValues, planned: judging.Judged, thickness: float, label: str) -> Trial:
    """Return the whole verdict of one thickness of the sheet at hand.

    Raises
    ------
    InputError
        Naming the field of the sheet at hand that does not fit this fin.
    """
    with _fields_of_the_sheet():
        given, set_mass, balance = fitted(values, planned, thickness)
        try:
            judged = judging.judge(cast(judging.JudgedValues, given))
        except (InputError, ValidityError) as problem:
            if isinstance(problem, InputError) and problem.name in FIELDS:
                raise
            return Trial(label, given, set_mass, balance, None, _reason(problem))
    return Trial(label, given, set_mass, balance, judged)


@contextmanager
def _fields_of_the_sheet() -> Iterator[None]:
    """Name the field of the sheet at hand where the fin check would name its own."""
    try:
        yield
    except InputError as problem:
        name = FIELDS.get(problem.name, problem.name)
        raise InputError(name, problem.value, problem.accepts) from None


def _reason(problem: InputError | ValidityError) -> str:
    if isinstance(problem, InputError) and problem.name == "thrust":
        return "the motor does not lift it"
    return "outside the model"


def _first(values: SubstituteValues, planned: judging.Judged, sizes: Sequence[Stock]) -> int:
    """Return the place of the thinnest size that the flight of the planned fin leaves enough.

    Only where to begin: each size is then judged on its own flight.
    """
    with _fields_of_the_sheet():
        given = [fitted(values, planned, size.thickness)[0] for size in sizes]
        fins = [c.fin_of(cast(c.FinValues, each)) for each in given]
        found = check.evaluate_variants(fins, planned.whole.fin.point)
    enough = (
        place
        for place, trial in enumerate(found)
        if min(margin.margin for margin in trial.margins) >= values["least_margin"]
    )
    return next(enough, len(sizes) - 1)


def around(
    values: SubstituteValues,
    planned: judging.Judged,
    sizes: Sequence[Stock],
    progress: forms.Progress | None = None,
) -> tuple[tuple[Trial, ...], Trial | None]:
    """Return stock sizes around the thinnest that holds with the margin asked, and that one.

    Each with its own flight: thicker fins are heavier, which slows the rocket and moves its
    balance point. None holds where the second value is None.
    """
    known: dict[int, Trial] = {}
    least = values["least_margin"]

    def at(place: int) -> Trial:
        if place not in known:
            size = sizes[place]
            known[place] = tried(values, planned, size.thickness, size.trade_label)
            if progress is not None:
                progress(len(known), len(sizes) + 1, size.trade_label)
        return known[place]

    place = _first(values, planned, sizes)
    while place > 0 and at(place - 1).good(least):
        place -= 1
    while place < len(sizes) - 1 and not at(place).good(least):
        place += 1
    best = at(place) if at(place).good(least) else None
    if place < len(sizes) - 1:
        at(place + 1)
    return tuple(known[each] for each in sorted(known)), best


def answer(*, progress: forms.Progress | None = None, **values: Unpack[SubstituteValues]) -> Report:
    """Answer for SI values by input name."""
    planned = judging.judge(values)
    material = materials.load(values["instead"])
    sizes = search.sizes(material, planned.fin, judging.stock_system(planned.fin))
    fmt = c.formatter(values)
    given, least = values["instead_thickness"], values["least_margin"]
    mine = None if given is None else tried(values, planned, given, _named(given, material, fmt))
    trials: tuple[Trial, ...] = ()
    best: Trial | None = None
    if mine is None or not mine.good(least):
        thicker = [s for s in sizes if given is None or s.thickness > 1.01 * given]
        if thicker:
            trials, best = around(values, planned, thicker, progress)
    chosen = mine or best or _nearest(trials)
    if chosen is None or chosen.judged is None:
        raise _none(chosen, material, given)
    if progress is not None:
        progress(len(sizes) + 1, len(sizes) + 1, "done")
    return _report(values, planned, material, chosen, trials, best, fmt)


def _named(thickness: float, material: Material, fmt: c.Formatter) -> str:
    """Return a thickness by its trade label, or as it was measured."""
    near = (s for s in material.stock if abs(s.thickness / thickness - 1.0) < 1e-4)
    stock = next(near, None)
    return fmt(thickness, "length") if stock is None else stock.trade_label


def _nearest(trials: Sequence[Trial]) -> Trial | None:
    """Return the trial with the largest smallest margin; None where none was judged."""

    def margin(trial: Trial) -> float:
        return -1.0 if trial.judged is None else trial.judged.whole.governs.margin

    return max(trials, key=margin, default=None)


def _none(chosen: Trial | None, material: Material, given: float | None) -> Exception:
    """Return why there is no answer."""
    if chosen is None:
        return InputError(
            "instead",
            material.label,
            "a material that is sold thin enough for this fin, or its thickness",
        )
    if given is not None:
        return InputError("instead_thickness", chosen.label, f"another one: {chosen.remark}")
    return ValidityError(f"No answer for {material.label}: {chosen.remark}.")


def _name(trial: Trial, material: Material) -> str:
    return f"{material.label}, {trial.label}"


def _report(
    values: SubstituteValues,
    planned: judging.Judged,
    material: Material,
    chosen: Trial,
    trials: Sequence[Trial],
    best: Trial | None,
    fmt: c.Formatter,
) -> Report:
    assert chosen.judged is not None
    judged, before = chosen.judged.whole, planned.whole
    old_mass = weight_effect.fins_mass(planned.fin, values)
    added = chosen.set_mass - old_mass
    old_balance = None
    if chosen.balance is not None:
        old_balance = weight_effect.exchanged(values, planned.fin, planned.fin)
    name = _name(chosen, material)
    words = _words(values, chosen, best, material)
    tables = [_beside(values, planned, chosen, material, (old_mass, old_balance), fmt)]
    shown = trials if chosen in trials else (chosen, *trials)
    tables.append(_sizes(shown, best, material, old_mass, fmt))
    return Report(
        calculator="substitute",
        summary=f"{name}: {judging.words(judged)}; the set weighs "
        f"{fmt(chosen.set_mass, 'mass')} ({fmt.more(added, like=old_mass)}). Planned: "
        f"{judging.words(before)}.",
        answers=(
            _margin("instead_margin", f"Smallest margin of {name}", judged.governs),
            _margin("planned_margin", "Smallest margin of the planned fin", before.governs),
            Answer("instead_thickness", "Its thickness", chosen.thickness, "length"),
            Answer("set_mass", f"Mass of {planned.fin.count} fins from it", chosen.set_mass,
                   "mass"),
            Answer("added_mass", "More than the planned set", added, "mass",
                   note="negative: it is lighter" if added < 0 else ""),
            Answer("demand_speed", "Speed it is judged at", judged.fin.point.speed, "speed"),
            *_balanced(chosen.balance, old_balance),
        ),
        headline=("instead_thickness", "instead_margin", "planned_margin", "added_mass"),
        verdict=replace(
            c.verdict_of(judged, f"{words} {fin_check.sentence(judged)}"),
            covers=fin_check.covers(judged),
        ),
        modes=judged.margins,
        bars="What each part of the substitute can take, divided by what is required of it, "
        "reserve included. At 1 it is just enough. Thin lines: 10 to 90 % of sheets and joints; a "
        "limit (≥) has none.",
        changes=_changes(values, chosen, best, material, old_mass),
        tables=tuple(tables),
        steps=_steps(values, planned, chosen, trials, old_mass, fmt),
        cautions=(CAUTION,),
        notes=(
            *_notes(values, planned, chosen, material),
            *fin_check.notes(values, judged, chosen.judged.flying),
        ),
        sources=tuple(dict.fromkeys((*planned.fin.material.sources, *material.sources))),
    )  # fmt: skip


def _margin(name: str, label: str, margin: Margin) -> Answer:
    return Answer(
        name,
        label,
        margin.margin,
        "number",
        margin.low_margin,
        margin.high_margin,
        bound=margin.bound,
        note=f"{margin.label[0].lower()}{margin.label[1:]} governs",
    )


def _balanced(now: stability.Balance | None, old: stability.Balance | None) -> tuple[Answer, ...]:
    if now is None or old is None:
        return ()
    shift = now.centre_of_gravity - old.centre_of_gravity
    return (
        Answer("balance_shift", "Balance point moves aft by", shift, "length",
               note="negative: it moves forward" if shift < 0 else ""),
        Answer("balance_point", "Balance point from the nose tip", now.centre_of_gravity,
               "length"),
        Answer("static_margin", "Static margin, in calibers", now.margin, "number"),
    )  # fmt: skip


def _words(values: SubstituteValues, chosen: Trial, best: Trial | None, material: Material) -> str:
    """Return what the verdict is about, as its first sentence."""
    assert chosen.judged is not None
    name, least = _name(chosen, material), values["least_margin"]
    asked = f" with a margin of {least:.3g} or more" if least > 1.0 else ""
    if values["instead_thickness"] is None:
        if best is not None:
            return f"{name} is the thinnest stock sheet that holds{asked}."
        does = "can be said to hold" if chosen.judged.whole.state == "unknown" else "holds"
        return f"No stock sheet of {material.label} {does}{asked}; {chosen.label} comes nearest."
    if chosen.judged.whole.state == "unknown":
        return f"For {name} it cannot be said."
    if chosen.good(least):
        return f"{name} can take the planned sheet's place."
    if chosen.judged.whole.state == "holds":
        return f"{name} has less than the margin of {least:.3g} that you asked for."
    if best is not None:
        return f"{name} is not enough; the thinnest stock sheet that holds{asked} is {best.label}."
    return f"{name} is not enough, and neither is any thicker stock sheet of it."


Of = Callable[[whole.Whole], str]
FOLD = 15
"""Most characters on a line of either sheet, so that a phone shows both."""


def _amount(margin: Margin | None) -> str:
    if margin is None:
        return "not judged"
    if margin.bound:
        return f"at least {margin.margin:.2f}"
    low, high = margin.low_margin, margin.high_margin
    spread = "" if low is None or high is None else f" ({low:.2f} to {high:.2f})"
    doubt = "" if margin.known else ", not promised"
    return f"{margin.margin:.2f}{spread}{doubt}"


def _beside(
    values: SubstituteValues,
    planned: judging.Judged,
    chosen: Trial,
    material: Material,
    old: tuple[float, stability.Balance | None],
    fmt: c.Formatter,
) -> Table:
    """Return the whole verdict of the planned fin beside that of the substitute."""
    assert chosen.judged is not None
    both = (planned.whole, chosen.judged.whole)
    plan = planned.fin
    rows: list[tuple[Any, ...]] = []

    def row(label: str, first: str, second: str) -> None:
        rows.append((label, first, Strong(second) if first != second else second))

    def each(label: str, of: Of) -> None:
        row(label, *(of(side) for side in both))

    row(
        "Sheet",
        f"{plan.material.label}, {_named(plan.thickness, plan.material, fmt)}",
        _name(chosen, material),
    )
    each("Verdict", judging.words)
    each("First to give", lambda side: side.governs.label.lower())
    labels = {m.name: m.label for side in both for m in side.margins}
    for name, label in labels.items():
        each(label, lambda side, name=name: _amount(_of(side, name)))  # type: ignore[misc]
    each("Not judged", lambda side: listed(what for what, _ in side.left_out or [("–", "")]))
    each("Judged at", lambda side: fmt(side.fin.point.speed, "speed"))
    row("Set of fins", fmt(old[0], "mass"), fmt(chosen.set_mass, "mass"))
    if values["flight"] == "motor":
        row("Lift-off", fmt(values["mass"], "mass"), fmt(chosen.values["mass"], "mass"))
    if old[1] is not None and chosen.balance is not None:
        row(
            "Balance point",
            fmt(old[1].centre_of_gravity, "length"),
            fmt(chosen.balance.centre_of_gravity, "length"),
        )
    return Table(
        "Planned sheet and substitute",
        (
            Column("what", "What"),
            Column("planned", "Planned", fold=FOLD),
            Column("instead", "Instead", fold=FOLD),
        ),
        tuple(rows),
        note="Margins with their 10 to 90 % range; 1 is just what is required. Bold: what differs.",
    )


def _of(side: whole.Whole, name: str) -> Margin | None:
    return next((m for m in side.margins if m.name == name), None)


def _sizes(
    trials: Sequence[Trial],
    best: Trial | None,
    material: Material,
    old_mass: float,
    fmt: c.Formatter,
) -> Table:
    rows: list[tuple[Any, ...]] = []
    for trial in trials:
        label = Strong(trial.label) if trial is best else trial.label
        change = fmt.more(trial.set_mass - old_mass, like=old_mass)
        if trial.judged is None:
            rows.append((label, "cannot say", None, None, change, trial.remark))
            continue
        verdict = trial.judged.whole
        margin = verdict.governs
        spread = None
        if margin.low_margin is not None and margin.high_margin is not None:
            spread = f"{margin.low_margin:.2f} to {margin.high_margin:.2f}"
        number = LowerLimit(margin.margin) if margin.bound else margin.margin
        state = WORDS[verdict.state].lower()
        rows.append((label, state, number, spread, change, margin.label.lower()))
    return Table(
        f"{material.label} by thickness",
        (
            Column("stock", "Thickness"),
            Column("state", "Verdict"),
            Column("margin", "Margin", "number"),
            Column("spread", "10 to 90 %"),
            Column("mass", "Change in mass"),
            Column("limit", "First to give"),
        ),
        tuple(rows),
        note="Each on its own flight, with its own weight. Open a row to see its fin check. Bold: "
        "the thinnest stock sheet that holds with the margin asked.",
        links=tuple(judging.link(trial.values) for trial in trials),
    )


def _changes(
    values: SubstituteValues,
    chosen: Trial,
    best: Trial | None,
    material: Material,
    old_mass: float,
) -> tuple[Change, ...]:
    """Return what to do where the sheet at hand does not hold."""
    if chosen.good(values["least_margin"]):
        return ()
    assert chosen.judged is not None
    now = chosen.judged.whole.governs
    fmt = c.formatter(values)
    out: list[Change] = []
    if best is not None and best.judged is not None:
        margin = best.judged.whole.governs
        unit = "in" if judging.stock_system(best.judged.fin) == "inch" else "mm"
        out.append(
            Change(
                f"A thicker sheet: {best.label}",
                f"smallest margin {_amount(now)} → {_amount(margin)} ({margin.label.lower()}), "
                f"set {fmt.more(best.set_mass - old_mass, like=old_mass)} against the planned one",
                margin.margin,
                best.set_mass - chosen.set_mass,
                {"instead_thickness": f"{typed(best.thickness, 'length', unit)} {unit}"},
            )
        )
    if material.family in STACKABLE:
        out.append(
            Change(
                "Two sheets glued face to face",
                "grain the same way, thin glue, pressed flat: nearly one sheet of twice the "
                "thickness. Common practice; the glue line is not judged here",
            )
        )
    return tuple(out)


def _steps(
    values: SubstituteValues,
    planned: judging.Judged,
    chosen: Trial,
    trials: Sequence[Trial],
    old_mass: float,
    fmt: c.Formatter,
) -> tuple[Step, ...]:
    assert chosen.judged is not None
    now = chosen.judged.whole
    steps = [
        Step(
            f"The {word} fin",
            "as in the fin check",
            f"{side.governs.label.lower()}: {_amount(side.governs)} of what is required, at "
            f"{side.fin.point.speed:.0f} m/s",
            ("leissa-1969", "albano-rodden-1969", "hassig-1971", "tsai-wu-1971"),
        )
        for word, side in (("planned", planned.whole), ("substitute", now))
    ]
    if values["flight"] == "motor":
        steps.append(
            Step(
                "Mass and balance with the substitute",
                "m' = m − m_planned + m_instead;  x' = (m x + (m_instead − m_planned) x_fins)/m'",
                f"fins {old_mass * 1e3:.3g} g → {chosen.set_mass * 1e3:.3g} g, lift-off "
                f"{values['mass'] * 1e3:.4g} g → {chosen.values['mass'] * 1e3:.4g} g",
                note="the rocket was weighed and balanced with the planned fins on; statics",
            )
        )
    steps.append(
        Step(
            "What is required",
            f"{c.reserves(now.fin.point.mach)}; at most one sheet in ten may fall short in flight",
            f"{len(trials)} stock sizes judged, each on its own flight"
            if trials
            else "the sheet at hand as it was measured",
            ("mil-a-8870", "far-25-303"),
        )
    )
    return tuple(steps)


def _notes(
    values: SubstituteValues, planned: judging.Judged, chosen: Trial, material: Material
) -> tuple[str, ...]:
    notes = [
        "Outline, grain, edges, glue and flight are those of the planned fin; only the sheet "
        "changes. All fins of a set come from one sheet: a mixed set steers."
    ]
    before = planned.whole
    if before.state != "holds" or before.governs.margin < values["least_margin"]:
        notes.append(
            "The planned fin does not have the margin you asked for either: "
            f"{judging.words(before)} ({before.governs.label.lower()})."
        )
    if material.sawn:
        notes.append(
            "The sheet at hand is taken to be sawn as in most shops; open a row to change that."
        )
    if values["flight"] != "motor":
        notes.append(
            "Your top speed is taken as it is. A heavier set slows the rocket and moves its "
            "balance point back: choose “my motor” and give the balance point to see by how much."
        )
    else:
        weight = float(chosen.values["mass"]) * STANDARD_GRAVITY
        thrust = c.with_curve(values)["thrust"]
        if thrust < LIFT_OFF * weight:
            notes.append(
                f"Average thrust is {thrust / weight:.1f} times the weight with these fins; at "
                f"least {LIFT_OFF:.0f} times is common practice."
            )
        if values["balance_point"] is None:
            notes.append("Find the balance point again with these fins on, the motor in.")
    return tuple(notes)


CALCULATOR = Calculator(
    slug="substitute",
    title="Substitute",
    question="I have a different sheet from the one planned: what thickness of it holds?",
    inputs=(*INPUTS, *fin_check.CALCULATOR.inputs),
    answer=answer,
    drawing=c.fin_figure,
    slow=True,
)
