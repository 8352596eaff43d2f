"""A damaged fin: what is known of mending it, and what can fly today.

No published figure says what a mended fin carries. What can be judged is a new joint on a whole
fin. Of everything else the answer is a limit, which can warn but never reassure: an unbroken fin of
the same sheet on a motor one class lower, and for wood broken at the root what end grain or a scarf
reaches at most.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Unpack, cast

from calc.calculators import field_card, fin_check, judging, weight_effect
from calc.calculators import shared as c
from calc.errors import InputError, ValidityError
from calc.fin import policy, search, whole
from calc.fin.fin import Fin
from calc.flight import motor
from calc.flight.rod import LIFT_OFF
from calc.forms import Calculator, Choice, Input
from calc.margin import Margin, Quantity
from calc.report import CAUTION, Answer, Column, Report, State, Step, Table, Verdict
from calc.structure import mended
from calc.units import STANDARD_GRAVITY
from calc.workshop import damage

HURT = "The damage"
KINDS: Mapping[str, str] = {
    "joint": "loose joint or fillet, fin whole",
    "crack": "crack along the grain, away from the root",
    "root-crack": "crack along the grain that reaches the root",
    "break": "crease or break across the grain, at the root",
    "far-break": "crease or break across the grain, further out",
    "ply": "lifted ply, skin or face",
    "dent": "dent away from the root",
    "edge": "chipped edge",
    "bent": "white line, white patch, bend or soft place",
    "tube": "tube soft or dented at the root",
    "gone": "a fin gone",
}
"""What is damaged, as the form asks it."""
ADVISED_AS = {"far-break": "break", "root-crack": "break"}
"""Damage that is advised on like another: a crack at the root takes the place that carries most."""
MENDS: Mapping[str, str] = {
    "glue": "glue alone",
    "faces": "glue, and paper or thin glass over both faces",
    "doubler": "a patch of the same sheet over both faces (doubler)",
    "scarf": "a new piece on a long slope (scarf)",
}
MENDABLE = ("crack", "root-crack", "break", "far-break")
NEVER = ("tube", "gone")
"""Damage with which nothing flies until it is made good."""
OF_THE_FIN = ("flutter", "divergence", "bending", "handling", "landing")
"""Margins of the fin itself, which mending leaves as large at most."""

INPUTS = (
    Input(
        "damage",
        "What is damaged",
        "choice",
        "joint",
        group=HURT,
        help="The worst of it. Look at the root too: it carries the most.",
        choices=tuple(Choice(value, label) for value, label in KINDS.items()),
    ),
    Input(
        "mend",
        "How it is mended",
        "choice",
        "glue",
        group=HURT,
        choices=tuple(Choice(value, label) for value, label in MENDS.items()),
        shown_when={"damage": MENDABLE},
    ),
    Input(
        "slope",
        "Slope of the scarf, length over thickness",
        "number",
        "12",
        help="12 or flatter is best.",
        group=HURT,
        low=1.0,
        high=50.0,
        shown_when={"damage": MENDABLE, "mend": ("scarf",)},
    ),
    Input(
        "added",
        "What the mending adds",
        "mass",
        "1 g",
        help="Glue and patches, all fins together. Weigh it.",
        group=HURT,
        unit="g",
        low=0.0,
        high=500.0,
    ),
)


class RepairValues(field_card.OnMotorValues):
    """Values of this calculator: a rocket on its motor, and what is damaged."""

    damage: str
    mend: str
    slope: float
    added: float


def below(letter: str) -> str:
    """Return the motor class one lower, or the smallest there is.

    >>> below("D")
    'C'
    """
    letters = motor.letters()
    return letters[max(0, letters.index(letter) - 1)]


def flown(values: RepairValues, letter: str) -> field_card.FlownValues:
    """Return the mended rocket on a motor of a class, with what the mending adds."""
    heavier = cast(RepairValues, {**values, "mass": values["mass"] + values["added"]})
    out = field_card.flown(heavier, letter)
    if values["balance_point"] is not None:
        usual = field_card.flown(values, values["motor"])
        fin = c.fin_of(usual)
        balance = weight_effect.exchanged(usual, fin, fin, added=values["added"])
        out["balance_point"] = balance.centre_of_gravity
    return out


def judged(values: RepairValues, letter: str) -> judging.Judged:
    """Return the whole verdict of the rocket with unbroken fins on a motor of a class."""
    return judging.judge(flown(values, letter))


def limited(values: RepairValues, found: whole.Whole) -> tuple[Margin, ...]:
    """Return the margins of a mended fin: its own at most those of an unbroken one.

    Joint, rod and stability do not hang on how the fin is mended. Where of the unbroken fin only a
    lower limit is known, the mended one has neither.
    """
    out = []
    for margin in found.margins:
        if margin.name in OF_THE_FIN:
            margin = _at_most(margin, margin.capacity.value, "of an unbroken fin, middle value")
        if margin.name == "bending" and (most := _at_root(values, found)) is not None:
            held = most * margin.demand
            if held < margin.capacity.value:
                margin = _at_most(margin, held, _share_words(values))
        out.append(margin)
    return tuple(out)


def _at_most(margin: Margin, held: float, note: str) -> Margin:
    """Return a margin that is not promised, and is no larger than a capacity."""
    if margin.bound == "at least":
        return replace(margin, known=False, note="of an unbroken fin; of a mended one not known")
    return replace(margin, capacity=Quantity(held, bound="at most"), known=False, note=note)


def _share(values: RepairValues) -> float | None:
    """Return the most of its strength that wood broken at the root reaches; None if not known."""
    if values["damage"] != "break":
        return None
    return {"glue": mended.END_GRAIN, "scarf": mended.scarf_share(values["slope"] or 0.0)}.get(
        values["mend"]
    )


def _at_root(values: RepairValues, found: whole.Whole) -> float | None:
    """Return the most that the air's load on a root can grow where the wood was broken there."""
    share, fin = _share(values), found.fin
    if share is None or fin.fin.material.family != "wood" or not fin.root.stress > 0.0:
        return None
    strength = fin.structure.layups[0].plies[0].lamina.tension_along
    return mended.most_load(share=share, strength=strength, stress=fin.root.stress)


def _share_words(values: RepairValues) -> str:
    share = _share(values)
    assert share is not None
    how = "glued end to end" if values["mend"] == "glue" else f"scarfed 1 in {values['slope']:.3g}"
    return f"{how} at the root: at most {share:.0%} of the strength along the grain"


def state_of(values: RepairValues, found: whole.Whole, margins: tuple[Margin, ...]) -> State:
    """Return the state of a mended rocket.

    A new joint on a whole fin is judged like any other. Everything else fails where even the
    limit does, and otherwise cannot be said: it never holds.
    """
    if values["damage"] in NEVER:
        return "unknown"
    if values["damage"] == "joint":
        if found.state != "fails" and not any(m.name == "joint" for m in found.margins):
            return "unknown"
        return found.state
    over = any(m.flight and m.ratio < m.fails_below for m in margins if m.bound == "at most")
    return "fails" if over or found.state == "fails" else "unknown"


def answer(**values: Unpack[RepairValues]) -> Report:
    """Answer for SI values by input name."""
    usual, letter = values["motor"], below(values["motor"])
    new_fin = judged(values, usual)
    weak: InputError | ValidityError | None = None
    try:
        today = judged(values, letter)
    except (InputError, ValidityError) as problem:
        # a class that does not lift the rocket has no flight; the usual one is shown instead
        today, weak, letter = new_fin, problem, usual
    given = flown(values, letter)
    fin, found = today.fin, today.whole
    mendable, never = values["damage"] == "joint", values["damage"] in NEVER
    margins = found.margins if mendable else limited(values, found)
    state = state_of(values, found, margins)
    governs = policy.governing(margins)
    thrust = given["thrust"] / (given["mass"] * STANDARD_GRAVITY)
    what = damage.advice(fin.material.family, ADVISED_AS.get(values["damage"], values["damage"]))
    fmt = c.formatter(values)
    sentence = _sentence(values, what, found, governs, letter, state)
    if thrust < LIFT_OFF or weak is not None:
        sentence += f" {_too_weak(usual, letter, thrust, weak is not None)}"
    return Report(
        calculator="repair",
        summary=_summary(values, what, governs, letter, state),
        answers=(
            *(() if never else (
                Answer("margin", "Smallest margin" if mendable else "Smallest margin, at best",
                       governs.margin, "number", governs.low_margin, governs.high_margin,
                       bound=governs.bound, note=f"{_lower(governs.label)}, {letter} motor"),
            )),
            Answer("demand_speed", f"Fastest on {_a(letter)} motor", found.fin.point.speed,
                   "speed"),
            Answer("thrust", "Average thrust over weight", thrust, "number", digits=2,
                   note=f"at least {LIFT_OFF:.0f} is common practice"),
            Answer("added_mass", "Added by the mending", values["added"], "mass"),
            *_scarf(values, fin),
        ),
        headline=("demand_speed", "thrust") if never else ("margin", "demand_speed", "thrust"),
        verdict=Verdict(
            state,
            governs.name,
            governs.margin,
            sentence,
            governs.low_margin,
            governs.high_margin,
            found.shortfall if mendable else None,
            governs.bound,
            covers="" if never else _covers(values, found),
        ),
        modes=() if never else margins,
        bars="What each part of the rocket can take, divided by what is required of it. At 1 it is "
        "just enough. Thin lines: 10 to 90 % of sheets and joints; a limit (≥ or ≤) has none."
        + ("" if mendable else " ≤: an unbroken fin of this sheet; a mended one can take at most "
        "that."),
        tables=(_motors(values, today, new_fin, margins, state, letter), _known(fin)),
        steps=_steps(values, found, letter),
        cautions=(CAUTION,),
        notes=_notes(values, today, fmt),
        sources=tuple(dict.fromkeys(("common-practice", "wood-handbook-2010",
                                     *fin.material.sources))),
    )  # fmt: skip


def _a(letter: str) -> str:
    return f"an {letter}" if letter in "AEFHILMNO" else f"a {letter}"


def _too_weak(usual: str, letter: str, thrust: float, nothing: bool) -> str:
    if nothing:
        return f"No motor below class {usual} lifts this rocket, so none below it is judged."
    return (
        f"The {letter} motor gives {thrust:.1f} times the weight, less than the {LIFT_OFF:.0f} "
        "that are common practice: too weak to fly this rocket."
    )


def _stated(margin: Margin) -> str:
    return f"{margin.bound} {margin.margin:.2f}".strip()


def _sentence(
    values: RepairValues,
    what: damage.Advice,
    found: whole.Whole,
    governs: Margin,
    letter: str,
    state: State,
) -> str:
    """Return what can be said, what to do and what can fly."""
    least = f"{_stated(governs)} ({governs.label.lower()}) on {_a(letter)} motor"
    if values["damage"] == "joint":
        if state == "unknown":
            why = dict(found.left_out).get("the joint") or search.doubts(found.margins)
            return f"The new joint cannot be judged: {why}."
        return (
            f"With the new joint, fully cured, the smallest margin is {least}. This is only for a "
            f"fin that is whole and a tube wall that is bare, whole and dry.{_rod(governs)}"
        )
    head = f"Not judged. What to do: {_lower(what.do)}." if what.fly == "No" else (
        f"A mended fin is not judged. Common practice: {_lower(what.do)}; fly again: "
        f"{_lower(what.fly)}."
    )  # fmt: skip
    if values["damage"] in NEVER:
        return f"{head} Do not fly it as it is."
    even = "Even unbroken" if state == "fails" else "At best, as if unbroken"
    if governs.name == "bending" and _share(values) is not None:
        even = "Mended like this" if state == "fails" else "Mended like this, at best"
    return f"{head} {even}, its smallest margin is {least}."


def _rod(governs: Margin) -> str:
    if governs.name != "rod" or governs.margin >= 1.0:
        return ""
    return " A longer rod helps: a weaker motor is not always the safer one."


def _lower(text: str) -> str:
    return text[0].lower() + text[1:]


def _summary(
    values: RepairValues, what: damage.Advice, governs: Margin, letter: str, state: State
) -> str:
    if values["damage"] == "joint" and state != "unknown":
        word = {"holds": "holds", "marginal": "is marginal", "fails": "does not hold"}[state]
        return f"The new joint {word}: smallest margin {_stated(governs)} on {_a(letter)} motor."
    return f"Not judged. What to do: {_lower(what.do)}. Fly today: {_lower(what.fly)}."


def _covers(values: RepairValues, found: whole.Whole) -> str:
    if values["damage"] == "joint":
        return fin_check.covers(found)
    return (
        "The mended place is not judged. The margins are those of whole fins of this sheet; "
        f"mended ones have these at most. {fin_check.covers(found)}"
    )


def _scarf(values: RepairValues, fin: Fin) -> tuple[Answer, ...]:
    """Return how long a scarf is; refuses one that is longer than the fin."""
    if values["damage"] not in MENDABLE or values["mend"] != "scarf":
        return ()
    length = values["slope"] * fin.thickness
    if length > fin.planform.span:
        raise InputError(
            "slope",
            f"{values['slope']:.3g}",
            f"at most {math.floor(fin.planform.span / fin.thickness)}: a steeper one is too weak, "
            "a longer one does not fit on this fin, so make a new one",
        )
    return (
        Answer("scarf_length", "Length of the scarf", length, "length",
               note="" if values["slope"] >= mended.SCARF else
               f"1 in {mended.SCARF:.0f} or flatter is best (Wood Handbook)"),
    )  # fmt: skip


def _motors(
    values: RepairValues,
    today: judging.Judged,
    new_fin: judging.Judged,
    margins: tuple[Margin, ...],
    state: State,
    letter: str,
) -> Table:
    """Return what is known by motor: as mended, and with new fins."""
    usual, governs = values["motor"], policy.governing(margins)
    whole_fin = values["damage"] == "joint" and state != "unknown"
    rows: list[tuple[Any, ...]] = []
    links = []

    def row(name: str, motor_class: str, words: str, limit: str) -> None:
        rows.append((f"{name}, {motor_class} motor", words, limit))
        links.append(judging.link(flown(values, motor_class)))

    if not whole_fin:
        words = f"not judged; margin {governs.margin:.2f} at best"
        if values["damage"] in NEVER:
            words = "do not fly"
        elif state == "fails":
            words = f"does not hold, margin {_stated(governs)}"
        limit = "" if values["damage"] in NEVER else governs.label.lower()
        row("As it is" if values["damage"] in NEVER else "As mended", letter, words, limit)
    name = "With the new joint" if whole_fin else "New fins of this sheet"
    for letter_of, each in {letter: today, usual: new_fin}.items():
        row(name, letter_of, judging.words(each.whole), each.whole.governs.label.lower())
    return Table(
        "What can fly",
        (
            Column("what", "What"),
            Column("verdict", "Verdict (10 to 90 %)"),
            Column("limit", "First to give"),
        ),
        tuple(rows),
        note="A row opens the fin check of whole fins on that motor. The weight of the "
        "mending is included. Full impulse of the class, its usual thrust (common practice).",
        links=tuple(links),
    )


def _known(fin: Fin) -> Table:
    rows = (*damage.known(fin.material.family), damage.AT_TUBE)
    return Table(
        f"What we know about {fin.material.label.lower()}",
        (Column("damage", "Damage"), Column("do", "Do"), Column("fly", "Fly it today?")),
        tuple((each.damage, each.do, each.fly) for each in rows),
        note="Common practice. For anything not listed: a new fin.",
    )


def _steps(values: RepairValues, found: whole.Whole, letter: str) -> tuple[Step, ...]:
    steps = [
        Step(
            "The rocket on a motor one class lower",
            "as in the fin check, which opens from each row",
            f"{letter} motor: {found.fin.point.speed:.0f} m/s, whole fins: margin "
            f"{found.governs.margin:.2f}, {found.governs.label.lower()}",
            ("leissa-1969", "albano-rodden-1969", "hassig-1971", "tsai-wu-1971"),
        )
    ]
    most = _at_root(values, found)
    if most is not None:
        steps.append(
            Step(
                "Wood broken across its grain at the root",
                "load may grow share × strength / stress-fold",
                f"share at most {_share(values):.0%}; stress along the grain "
                f"{found.fin.root.stress / 1e6:.3g} MPa → at most {most:.2f}-fold",
                ("wood-handbook-2010",),
                note="end to end at most 25 % of the strength along the grain; a scarf's glue area "
                "carries in shear a tenth of what the wood carries in tension",
            )
        )
    steps.append(
        Step("Everything else of a mended fin", "", "no published figure", ("common-practice",))
    )
    return tuple(steps)


def _notes(values: RepairValues, today: judging.Judged, fmt: c.Formatter) -> tuple[str, ...]:
    notes = [
        "Find all of it first: rock the tip, flex the fin both ways, look along it against the "
        "light, tap it.",
        f"After any repair weigh the rocket: the answer counts {fmt(values['added'], 'mass')} "
        "more. A lighter motor moves the balance point forward, which is not counted.",
    ]
    if values["damage"] in MENDABLE and values["mend"] in ("faces", "doubler"):
        notes.append(
            "Skins and patches are not credited: how much they give back depends on the break and "
            "on the glue, and no published figure says."
        )
    if values["damage"] == "dent":
        notes.append(
            "A dent in a skinned core: see the page on skins and cores for how much stiffness a "
            "crushed core leaves."
        )
    return (*notes, *fin_check.notes(values, today.whole, today.flying))


CALCULATOR = Calculator(
    slug="repair",
    title="Repair",
    question="My fin is damaged: can it be mended, and what can fly today?",
    inputs=(*INPUTS, *field_card.ON_MOTOR),
    answer=answer,
    drawing=c.fin_figure,
)
