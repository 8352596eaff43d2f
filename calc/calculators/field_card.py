"""One card for the field: the fin, its margins, what to look at, what to take instead."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, NotRequired, Unpack, cast

from calc import __version__, forms, materials, units
from calc.air.atmosphere import Air
from calc.calculators import fin_check, judging, other_parts
from calc.calculators import material_finder as mf
from calc.calculators import shared as c
from calc.calculators.lists import TypedList
from calc.errors import InputError, ValidityError
from calc.fin import check, search, whole
from calc.fin.fin import Fin, Point
from calc.flight import motor
from calc.flight.rod import LIFT_OFF
from calc.forms import Calculator, Input
from calc.geometry.outline import Outline
from calc.margin import Margin
from calc.report import (
    CAUTION,
    Answer,
    Column,
    Figure,
    Report,
    Step,
    Table,
    Verdict,
)
from calc.wording import listed, with_unit
from calc.workshop import damage, qr

CARD = "More for the card"
WEAK = "too weak for the weight"
BELOW, ABOVE = 2, 3
"""Motor classes shown below and above the usual one."""
LIGHTEST = 0.3
"""Least share of the lift-off mass that is taken to stay when the motor is taken out."""
BLANK = "________"
"""A line to write on."""


LOOK: tuple[tuple[str, str], ...] = (
    ("Root joint, both sides", "No crack, gap or loose fillet; the tip does not rock"),
    ("Faces, slanting light", "No crease, crack or lifted skin"),
    ("Edges", "No nick deeper than half the thickness"),
    ("Sight along each fin", "Flat, in line with the tube, the set evenly spaced"),
    ("Tube at the fins", "Round and firm; no soft spot or dent"),
    ("Motor against this card", "Class and thrust at most what the table allows"),
    ("Balance, motor in", "Balance point where it was when stability was checked"),
)
"""Common practice; what the faces must show depends on the material."""

FACES: Mapping[str, str] = {
    "wood": "No crack along the grain, no crease across it; held to light it is evenly dark",
    "plywood": "No blister, no ply lifting at an edge, no crease across the outer grain",
    "paper": "No crease, no damp or soft corner",
    "foam": "No dent, no wrinkle in the paper, no face that lifts when pressed",
    "faced": "No dent, no white or wrinkled patch, no skin that lifts when pressed",
    "composite": "No white patch, no ply lifting at an edge, no dull sound when tapped",
    "plastic": "No white line, no crack between layers, no warp from heat",
}
"""What damage looks like on each family's faces; common practice."""


def _address(text: str, name: str) -> str:
    if not re.fullmatch(r"https?://[^\s?#]+", text):
        raise InputError(name, text, "a web address such as https://example.org/fly/field-card/")
    return text


ON_MOTOR = (
    *c.OUTLINE,
    *c.stock_inputs(),
    *c.EDGE,
    *c.MOTOR,
    *c.SITE,
    *(item for item in c.FLYING if item.name in ("gust", "attack", "hand")),
    *other_parts.ALWAYS_FLOWN,
)
"""A rocket that always flies on a motor, with all that is judged of it."""

INPUTS = (
    *ON_MOTOR,
    Input(
        "only",
        "What you have instead",
        "text",
        "",
        help="Materials or families, with commas between. Leave empty to try common ones.",
        group=CARD,
        optional=True,
    ),
    Input("rocket", "Rocket's name", "text", "", group=CARD, optional=True),
    Input("date", "Date on the card", "text", "", group=CARD, optional=True),
    TypedList(
        "address",
        "Address for the QR code",
        "text",
        "",
        help="Filled in by the page.",
        group=CARD,
        optional=True,
        parse=_address,
        wants="a web address such as https://example.org/fly/field-card/",
    ),
)


class OnMotorValues(
    c.OutlineValues,
    c.StockValues,
    c.EdgeValues,
    c.MotorValues,
    c.SiteValues,
    c.LoadValues,
    other_parts.PartsValues,
    c.UnitsValues,
):
    """Values of `ON_MOTOR`."""

    count: int
    body: float
    propellant: NotRequired[float | None]
    speed: NotRequired[float]
    altitude: NotRequired[float]


class FieldCardValues(OnMotorValues):
    """Values of this calculator."""

    only: str | None
    rocket: str | None
    date: str | None
    address: str | None


class FlownValues(OnMotorValues):
    """The same, flown on a motor: without this a fin would not know the rocket's weight."""

    flight: str


@dataclass(frozen=True, eq=False)
class Row:
    """One motor class of the table: thrust, weight and the verdict on the fin."""

    letter: str
    thrust: float
    weight: float
    """Weight at lift-off [N]."""
    result: whole.Whole | None
    """None where it does not lift off or the model ends."""
    remark: str


def lift_off_mass(letter: str, *, usual: str, impulse: float, mass: float) -> float:
    """Return the lift-off mass [kg] with a motor of another class in the same rocket.

    The difference of the lightest usual loaded motors is added or taken off: a light rocket is
    a fast one. A bigger motor is never taken to be lighter than the usual one.

    >>> lift_off_mass("D", usual="D", impulse=20.0, mass=0.18)
    0.18
    """
    if letter == usual:
        return mass
    now, other = (_motor_mass(total) for total in (impulse, motor.class_limits(letter)[1]))
    if motor.class_limits(letter)[1] > motor.class_limits(usual)[1]:
        return mass + max(0.0, other - now)
    return max(mass - now, LIGHTEST * mass) + other


def _motor_mass(impulse: float) -> float:
    propellant = motor.usual_propellant(impulse)
    return motor.motor_mass_range(total_impulse=impulse, propellant=propellant)[0]


def around(letter: str) -> tuple[str, ...]:
    """Return the classes the card shows, smallest first.

    >>> around("D")
    ('B', 'C', 'D', 'E', 'F', 'G')
    """
    letters = motor.letters()
    place = letters.index(letter)
    return letters[max(0, place - BELOW) : place + ABOVE + 1]


def flown(values: OnMotorValues, letter: str) -> FlownValues:
    """Return the values with a motor of another class; the usual one stays as given."""
    usual = values["motor"]
    out = cast(FlownValues, {**values, "flight": "motor"})
    if letter != usual:
        given = values["impulse"] or motor.class_limits(usual)[1]
        out |= {
            "motor": letter,
            "impulse": None,
            "thrust": motor.USUAL_THRUST[letter],
            "mass": lift_off_mass(letter, usual=usual, impulse=given, mass=values["mass"]),
        }
    return out


def by_class(fin: Fin, values: OnMotorValues, letter: str) -> Row:
    """Return the verdict on the fin with one motor class."""
    given = flown(values, letter)
    fin = replace(fin, hand=c.hand_of(given))
    thrust, weight = given["thrust"], given["mass"] * units.STANDARD_GRAVITY
    if thrust <= 1.05 * weight:
        return Row(letter, thrust, weight, None, "does not lift it")
    try:
        flying = c.flying(given)
        points = search.worst_moments(flying.points)
        result = search.worst(fin, points)
        judged = whole.whole(result, *other_parts.others(given, fin, result.variant, flying))
    except InputError:
        return Row(letter, thrust, weight, None, "too much motor for this mass")
    except ValidityError:
        return Row(letter, thrust, weight, None, "outside the model")
    remark = "" if thrust >= LIFT_OFF * weight else WEAK
    return Row(letter, thrust, weight, judged, remark)


def stay_below(fin: Fin, values: FlownValues, air: Air) -> tuple[float, bool]:
    """Return the speed [m/s] up to which every margin in flight is at least what is required.

    Those of the fin and of its joint. Found by halving, in the given air, up to Mach 0.9, where the
    subsonic model ends; the second value is True where that limit was reached.
    """

    def keeps(speed: float) -> bool:
        there = c.point_at(values, speed, air)
        found = check.evaluate_variants([fin], there)[0]
        alone = c.Flying((there,), (0.0,), None, (values["site"],))
        margins = (*found.margins, *other_parts.of_fin(values, fin, found, alone)[0])
        return all(m.known and m.ratio >= m.required for m in margins if m.flight)

    top = float(0.9 * air.sound_speed)
    if keeps(top):
        return top, True
    low, high = 0.0, top
    while high - low > 0.005 * top:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if keeps(middle) else (low, middle)
    return low, False


def grain_words(fin: Fin) -> str:
    """Return which way the grain runs, in words that can be checked against the fin.

    >>> from calc.geometry.planform import Planform
    >>> shape = Planform(root=0.08, tip=0.04, span=0.06, sweep=0.06)
    >>> grain_words(check.Fin(shape, materials.load("balsa"), 0.003))
    'along the leading edge'
    """
    degrees = math.degrees(fin.grain)
    tube = math.degrees(fin.planform.grain_direction(0.0))
    datum = fin.planform.grain_datum
    if abs(degrees) < 1.0:
        return f"along {datum}"
    if abs(degrees - tube) < 1.0:
        return "along the tube"
    way = "toward the tube" if degrees > 0 else "toward the tip"
    return f"{abs(degrees):.0f}° off {datum}, {way}"


def answer(*, progress: forms.Progress | None = None, **values: Unpack[FieldCardValues]) -> Report:
    """Answer for SI values by input name."""
    given = flown(values, values["motor"])
    fin = c.fin_of(given)
    tried = _shelf(values["only"], fin)
    letters = around(values["motor"])
    total = len(letters) + 3 + len(tried)
    rows = []
    for done, letter in enumerate(letters):
        rows.append(by_class(fin, values, letter))
        if progress is not None:
            progress(done + 1, total, f"{letter} motor")
    usual = rows[letters.index(values["motor"])]
    if usual.result is None:
        _refuse(usual, values)
    assert usual.result is not None
    flying = c.flying(given)
    points = flying.points

    def others(other: Fin, trial: check.Variant) -> tuple[Margin, ...]:
        return other_parts.of_fin(given, other, trial, flying)[0]

    def later(done: int, _all: int, note: str) -> None:
        if progress is not None:
            progress(min(len(letters) + done, total), total, note)

    system = judging.stock_system(fin)
    found = search.find(fin, points, tried, system=system, others=others, progress=later)
    limit, open_ended = stay_below(fin, given, usual.result.fin.point.air)
    code = _code(values)
    tab = c.tab_of(values, fin.planform.root)
    mass = float(usual.result.fin.structure.mass[0]) + (tab.mass(fin) if tab else 0.0)
    return Report(
        calculator="field-card",
        summary=_summary(fin, values, rows, usual.result),
        answers=_answers(fin, usual.result.fin, limit, open_ended, tab),
        headline=("stay_below", "demand_speed", "set_mass"),
        verdict=_verdict(usual.result, values),
        modes=usual.result.margins,
        figures=(code,) if code else (),
        tables=(
            _this_fin(fin, values),
            _classes(rows, values),
            _checklist(fin),
            _instead(fin, found, values, (mass * fin.count, tab), usual.result),
            _repairs(fin, rows, values["motor"]),
        ),
        steps=_steps(fin, usual.result, points, limit, open_ended),
        cautions=(CAUTION,),
        notes=_notes(code is not None, rows),
        sources=tuple(fin.material.sources),
    )


def _refuse(usual: Row, values: FieldCardValues) -> None:
    """Raise what the usual motor's row could not answer, by the input to change."""
    if usual.remark == "does not lift it":
        raise InputError(
            "thrust",
            f"{values['thrust']:.3g} N",
            f"more thrust than the rocket weighs, {usual.weight:.2g} N",
        )
    c.flying(flown(values, values["motor"]))
    raise ValidityError(f"a {usual.letter} motor takes this fin outside the model")


def _shelf(only: str | None, fin: Fin) -> tuple[materials.Material, ...]:
    wanted = mf.named(only, "only")
    if wanted:
        return tuple(item for item in materials.usable() if item.name in wanted)
    usual = sorted(
        (item for item in materials.usable() if item.at_hand), key=lambda item: item.at_hand
    )
    if fin.material.name not in ("own", *(item.name for item in usual)):
        usual.append(fin.material)
    return tuple(usual)


def _answers(
    fin: Fin, result: check.Check, limit: float, open_ended: bool, tab: c.Tab | None
) -> tuple[Answer, ...]:
    mass = float(result.structure.mass[0]) + (tab.mass(fin) if tab else 0.0)
    by_name = {m.name: m for m in result.margins}
    first = min((by_name["flutter"], by_name["divergence"]), key=lambda m: m.capacity.value)
    return (
        Answer(
            "stay_below",
            "Keep it below",
            limit,
            "speed",
            bound="at least" if open_ended else "",
            note="up to there every margin of fin and joint in flight is at least what is required"
            + ("; the model ends there" if open_ended else ""),
        ),
        Answer("demand_speed", "Speed on the usual motor", result.point.speed, "speed"),
        Answer("set_mass", f"Mass of {fin.count} fins", mass * fin.count, "mass"),
        Answer(
            "first_speed",
            f"{first.label} would begin at",
            first.capacity.value,
            "speed",
            None if first.bound or first.low is None else first.low * first.demand,
            None if first.bound or first.high is None else first.high * first.demand,
            bound="at least" if first.bound else "",
            note=first.note,
        ),
        Answer("fin_mass", "Mass of one fin", mass, "mass"),
        Answer("mach", "Mach number at that moment", result.point.mach, "number"),
    )


def _verdict(result: whole.Whole, values: FieldCardValues) -> Verdict:
    margin = result.governs
    name = f"{values['rocket']}. " if values["rocket"] else ""
    governs = f"{margin.label} governs."
    if result.state == "unknown":
        governs = f"The model does not go far enough: {search.doubts(result.margins)}."
    found = c.verdict_of(
        result, f"{name}Judged on a {values['motor']} motor of {values['thrust']:.3g} N. {governs}"
    )
    return replace(found, covers=fin_check.covers(result))


def _summary(fin: Fin, values: FieldCardValues, rows: Sequence[Row], result: whole.Whole) -> str:
    good = [row.letter for row in rows if row.result is not None and row.result.state == "holds"]
    head = f"{values['motor']} motor: {judging.words(result)}."
    if not good:
        open_ended = any(row.result is None or row.result.state == "unknown" for row in rows)
        words = "can be said to hold" if open_ended else "holds"
        return f"{head} No class on the card {words}."
    return f"{head} Biggest class on the card that holds: {good[-1]}."


def _sizes(shape: Outline, values: FieldCardValues) -> tuple[tuple[str, Any], ...]:
    """Return the outline's rows of the card."""
    if values["outline"] == "corners":
        return (("Outline", f"{len(values['points'])} corners"), ("Root", shape.root),
                ("Span", shape.span))  # fmt: skip
    rows: list[tuple[str, Any]] = [
        ("Root", values["root"]),
        ("Tip", values["tip"]),
        ("Span", values["span"]),
        ("Sweep", values["sweep"]),
    ]
    if values["outline"] == "ellipse":
        rows[1] = ("Outline", "half an ellipse")
    elif any(values["radius"]):
        rows.append(("Tip corners", "rounded"))
    return tuple(rows)


def _this_fin(fin: Fin, values: FieldCardValues) -> Table:
    cut = f", {fin.cut} grain" if fin.cut else ""
    fmt = c.formatter(values)
    rows: list[tuple[Any, ...]] = [
        ("Rocket", values["rocket"] or BLANK),
        ("Material", f"{fin.material.label}{cut}"),
        ("Thickness", fin.thickness),
    ]
    if fin.density is not None:
        rows.append(("Density", fmt(fin.density, "density")))
    rows += [
        ("Grain", grain_words(fin)),
        *_sizes(fin.planform, values),
        ("Fins, edges", f"{fin.count}, {fin.edge.kind}"),
        ("Lift-off mass", f"{fmt(values['mass'], 'mass')} with {values['motor']} motor"),
        ("Date", values["date"] or BLANK),
        ("Edition", f"Finstock {__version__}"),
    ]
    return Table("This fin", (Column("what", "What"), Column("is", "Is", "length")), tuple(rows))


def _classes(rows: Sequence[Row], values: FieldCardValues) -> Table:
    out: list[tuple[Any, ...]] = []
    links = []
    for row in rows:
        mark = " (usual)" if row.letter == values["motor"] else ""
        if row.result is None:
            out.append((f"{row.letter}{mark}", f"{row.thrust:.3g} N", None, row.remark, ""))
        else:
            first = row.result.governs.label.lower()
            remark = f"{first}; {row.remark}" if row.remark else first
            out.append(
                (
                    f"{row.letter}{mark}",
                    f"{row.thrust:.3g} N",
                    row.result.fin.point.speed,
                    judging.words(row.result),
                    remark,
                )
            )
        links.append(judging.link(flown(values, row.letter)))
    return Table(
        "Margin by motor class",
        (
            Column("motor", "Motor"),
            Column("thrust", "Thrust"),
            Column("speed", "Top speed", "speed", 2),
            Column("verdict", "Verdict (10 to 90 %)"),
            Column("limit", "First to give"),
        ),
        tuple(out),
        note="Full impulse of the class. Thrust of the other classes and motor masses: common "
        "practice. A motor that fits and holds may still be too much for the field.",
        links=tuple(links),
    )


def _checklist(fin: Fin) -> Table:
    rows = [
        (name, FACES.get(fin.material.family, good) if name.startswith("Faces") else good, "☐")
        for name, good in LOOK
    ]
    return Table(
        "Look before flight",
        (Column("look", "Look at"), Column("good", "Good when"), Column("done", "Done")),
        tuple(rows),
        note="Common practice.",
    )


def _instead(
    fin: Fin,
    found: Sequence[search.Found],
    values: FieldCardValues,
    own: tuple[float, c.Tab | None],
    usual: whole.Whole,
) -> Table:
    """Return what holds instead; `own` is the mass of the fin's own set, and the tab of each."""
    mass, tab = own
    masses = [(c.set_mass(item, tab), item) for item in found if item.holds]
    rows, links = [], []
    for other, item in sorted(masses, key=lambda pair: pair[0]):
        assert item.stock is not None
        assert item.judged is not None
        if item.material.name == fin.material.name and math.isclose(
            item.stock.thickness, fin.thickness, rel_tol=0.01
        ):
            continue
        rows.append(
            (
                item.material.label,
                item.stock.trade_label,
                judging.words(item.judged),
                c.formatter(values).more(other - mass, like=mass),
            )
        )
        links.append(judging.link(_other(values, item)))
    rest = [f for f in found if not f.holds]
    unsaid = [f.material.label for f in rest if f.judged and f.judged.state == "unknown"]
    bad = [f.material.label for f in rest if f.material.label not in unsaid]
    note = "The thinnest stock sheet that holds, grain as here, usual motor; mass of the whole set."
    if bad:
        note += f" No stock size of these holds: {', '.join(bad)}."
    if unsaid:
        note += f" The model cannot say: {', '.join(unsaid)}."
    note += _left_out(usual)
    return Table(
        "If you only have …",
        (
            Column("material", "Material"),
            Column("stock", "Take"),
            Column("verdict", f"{_of_the_sheet(usual)} (10 to 90 %)"),
            Column("mass", "Change in mass"),
        ),
        tuple(rows),
        note=note,
        links=tuple(links),
    )


OF_THE_ROCKET = ("rod", "stability")
"""Margins that hardly depend on the sheet."""


def _of_the_sheet(usual: whole.Whole) -> str:
    """Return what of a sheet is judged instead, as the head of its column.

    The material itself belongs to the fin.
    """
    judged = {m.name for m in usual.margins}
    parts = ["fin"]
    parts += ["joint"] if "joint" in judged else []
    parts += ["landing"] if "landing" in judged else []
    words = listed(parts)
    return words[0].upper() + words[1:]


def _left_out(usual: whole.Whole) -> str:
    """Return which margins of the rocket do not count there, with what they are, as sentences."""
    kept = [m for m in usual.margins if m.name in OF_THE_ROCKET]
    if not kept:
        return ""
    each = listed(f"{fin_check.PARTS[m.name]} ({_stated(m)})" for m in kept)
    they = "it hardly depends" if len(kept) == 1 else "they hardly depend"
    return f" Left out of these rows: {each}; {they} on the sheet."


def _stated(margin: Margin) -> str:
    doubt = "" if margin.known else ", not promised"
    return f"margin {'at least ' if margin.bound else ''}{margin.margin:.2f} for this fin{doubt}"


def _other(values: FieldCardValues, item: search.Found) -> dict[str, Any]:
    assert item.stock is not None
    return dict(values) | {
        "flight": "motor",
        "material": item.material.name,
        "thickness": item.stock.thickness,
        "density": None,
        "cut": None,
    }


def _repairs(fin: Fin, rows: Sequence[Row], usual: str) -> Table:
    known = damage.known(fin.material.family)
    note = "Common practice."
    if any("class lower" in each.fly for each in known):
        note += " One motor class lower only where the table above says that it still lifts it."
        lower = next((a for a, b in pairwise(rows) if b.letter == usual), None)
        if lower is not None and (lower.result is None or lower.remark):
            note += f" Here class {lower.letter}: {lower.remark}."
    return Table(
        "If it is damaged",
        (Column("damage", "Damage"), Column("do", "Do"), Column("fly", "Fly it today?")),
        tuple((each.damage, each.do, each.fly) for each in known),
        note=note,
    )


def state(values: FieldCardValues) -> str:
    """Return the query that opens this card again."""
    kept = {name: value for name, value in values.items() if name != "address"}
    return CALCULATOR.query(judging.texts(CALCULATOR, kept))


def _code(values: FieldCardValues) -> Figure | None:
    """Return the QR code of this card's page, or None while the page has not sent its address."""
    if values["address"] is None:
        return None
    query = state(values)
    text = f"{values['address']}?{query}" if query else str(values["address"])
    return Figure(
        "qr",
        "This card, live",
        "Point a telephone's camera here. What you keep offline opens offline.",
        {"text": text, "rows": list(qr.rows(text))},
    )


def _notes(coded: bool, rows: Sequence[Row]) -> tuple[str, ...]:
    notes = [
        "This card does not say whether the motor fits, whether the rocket is stable with it, "
        "how high it goes and whether your field allows it.",
        "Not modelled: damage, repairs, glue gaps, spin, and anything after the fin first gives.",
    ]
    if any(row.remark == WEAK for row in rows):
        notes.append(
            f"“{WEAK.capitalize()}”: average thrust below {LIFT_OFF:.0f} times the weight (common "
            "practice). Never take a motor too weak to lift the rocket quickly for a safer one."
        )
    if not coded:
        notes.append("The QR code appears once the page runs on your device.")
    return tuple(notes)


def _steps(
    fin: Fin,
    result: whole.Whole,
    points: Sequence[Point],
    limit: float,
    open_ended: bool,
) -> tuple[Step, ...]:
    moments = search.worst_moments(points)
    return (
        Step(
            "The flight on each motor",
            "m dv/dt = F − m g − ½ ρ v² C_d A",
            f"usual motor: fastest {max(p.speed for p in points):.0f} m/s, "
            f"{len(moments)} moment{'s' if len(moments) > 1 else ''} judged",
            ("us-standard-atmosphere-1976", "nfpa-1125"),
            note="full impulse of the class; other classes with the lightest usual motor and a "
            "brisk thrust (common practice)",
        ),
        Step(
            "The fin on each flight",
            "as in the fin check, which opens from each row",
            f"margin {result.governs.margin:.2f}, {result.governs.label.lower()}",
            ("leissa-1969", "albano-rodden-1969", "hassig-1971", "tsai-wu-1971"),
        ),
        Step(
            "Keep it below",
            "largest speed at which flutter, divergence ≥ 1.15 and root ≥ 1.5",
            f"{'at least ' if open_ended else ''}{limit:.0f} m/s in the air of that moment",
            ("mil-a-8870", "far-25-303"),
            note="middle values of the sheet; the spread stands beside the margins",
        ),
        Step(
            "If you only have …",
            "halve each list of stock sizes until one holds and the next thinner does not",
            f"outline of {with_unit(fin.planform.area, 'area', 'metric')}, grain as here",
            ("mil-a-8870", "far-25-303"),
        ),
        Step(
            "Checklist and repairs",
            "",
            "no computation stands behind them",
            ("common-practice",),
        ),
    )


CALCULATOR = Calculator(
    slug="field-card",
    title="Field card",
    question="What do I need to know about this fin when I stand in the field?",
    inputs=INPUTS,
    answer=answer,
    drawing=c.fin_figure,
    slow=True,
)
