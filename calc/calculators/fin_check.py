"""Will this fin hold, and what fails first? The main job of the handbook."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, Unpack

import numpy as np

from calc.calculators import ascent, judging, other_parts
from calc.calculators import shared as c
from calc.calculators.root_joint import JointOnTube, tab_notes
from calc.errors import InputError
from calc.fin import boundaries, check, model, motion, policy, search, whole
from calc.fin.fin import Fin, Point
from calc.forms import Calculator
from calc.margin import Margin
from calc.report import (
    CAUTION,
    Answer,
    Change,
    Figure,
    Report,
    Step,
)
from calc.structure.sandwich import core_index
from calc.units import Written, show
from calc.wording import listed, range_text, with_unit

GRAINS = tuple(math.radians(a) for a in (0.0, 15.0, 30.0, 45.0, 60.0, 90.0, -15.0, -30.0))
"""Grain angles tried for "what would change it"."""


class FinCheckValues(
    c.OutlineValues,
    c.StockValues,
    c.EdgeValues,
    c.FlyingValues,
    other_parts.PartsValues,
    c.UnitsValues,
):
    """Values of this calculator."""

    count: int
    body: float


def answer(
    *, early: Callable[[Report], Any] | None = None, **values: Unpack[FinCheckValues]
) -> Report:
    """Answer the main question for SI values by input name; the verdict first, to `early`."""
    found = judging.judge(values)
    fin, flying, climb, judged = found.fin, found.flying, found.climb, found.whole
    index = 0 if climb is None else climb.worst
    result = judged.fin
    point = result.point
    frequency = result.structure.modes.frequency[0] / (2.0 * math.pi)
    flutter, divergence = result.margins[0], result.margins[1]
    estimate = check.estimate(fin, result.structure.bending[0], point.air)
    tab = c.tab_of(values, fin.planform.root)
    mass = float(result.structure.mass[0]) + (tab.mass(fin) if tab else 0.0)
    stack = result.structure.layups[0]
    report = Report(
        calculator="fin-check",
        summary=_summary(judged),
        answers=(
            _speed("flutter_speed", "Flutter would begin at", flutter),
            _speed("divergence_speed", "Divergence would begin at", divergence),
            Answer("demand_speed", "Speed it is judged at", point.speed, "speed"),
            # in the unit of the line below it
            Answer("fin_mass", "Mass of one fin", Written(mass, like=mass * fin.count), "mass"),
            Answer("set_mass", f"Mass of {fin.count} fins", mass * fin.count, "mass"),
            Answer(
                "frequency_1", "First natural frequency (bending)", float(frequency[0]), "frequency"
            ),
            Answer("frequency_2", "Second natural frequency", float(frequency[1]), "frequency"),
            Answer(
                "root_stress",
                "Stress along the grain at the root",
                result.root.stress,
                "pressure",
            ),
            Answer("root_moment", "Bending moment at the root", result.root.moment, "moment"),
            Answer(
                "flutter_estimate",
                "Flutter estimate of NACA TN 4197",
                estimate,
                "speed",
                note="a cross-check without mass, sweep or grain; not used for the verdict",
            ),
            Answer(
                "sheet_density",
                "Density of the sheet",
                stack.areal_mass / stack.thickness,
                "density",
                note="the middle value of our data; sheets differ, so weigh yours"
                if _unweighed(fin)
                else "",
            ),
            Answer("mach", "Mach number at that moment", point.mach, "number"),
            Answer("dynamic_pressure", "Dynamic pressure", point.pressure, "pressure"),
        ),
        headline=("flutter_speed", "divergence_speed", "demand_speed", "set_mass"),
        verdict=replace(c.verdict_of(judged, sentence(judged)), covers=covers(judged)),
        modes=judged.margins,
        bars="What each part can take, divided by what is required of it, reserve included. At 1 "
        "it is just enough. Thin lines: 10 to 90 % of sheets and joints; a limit (≥) has none.",
        tables=() if climb is None else (ascent.table(flying, climb),),
        steps=_steps(fin, point, judged, flying, index),
        cautions=(CAUTION,),
        notes=notes(values, judged, flying),
        sources=tuple(fin.material.sources),
    )
    if early is not None:
        early(report)

    def also(other: Fin, trial: check.Variant) -> tuple[Margin, ...]:
        return other_parts.others(values, other, trial, flying)[0]

    def glued(other: Fin, trial: check.Variant) -> tuple[Margin, ...]:
        return other_parts.glued(values, other, trial, flying)[0]

    changes, thicknesses = _rest(fin, point, judged, also, glued, values)
    return replace(
        report,
        changes=changes,
        figures=(
            *(() if climb is None else (ascent.figure(flying, climb, result),)),
            _mode_figure(result, values.get("units") or "inch"),
            thicknesses,
        ),
    )


def _unweighed(fin: Fin) -> bool:
    """Whether the sheet's density could be given and was left open."""
    return fin.density is None and fin.material.follows_density


def _speed(name: str, label: str, margin: Margin) -> Answer:
    ratio_low = None if margin.low is None else margin.low * margin.demand
    ratio_high = None if margin.high is None else margin.high * margin.demand
    return Answer(
        name,
        label,
        margin.capacity.value,
        "speed",
        None if margin.bound else ratio_low,
        None if margin.bound else ratio_high,
        bound="at least" if margin.bound else "",
        note=margin.note,
    )


def _summary(judged: whole.Whole) -> str:
    m = judged.governs
    bound = "at least " if m.bound else ""
    spread = range_text(m.low_margin, m.high_margin, "number", "")
    head = {
        "holds": f"Holds with a margin of {bound}{m.margin:.2f}{spread}",
        "marginal": f"Marginal: smallest margin {bound}{m.margin:.2f}",
        "fails": f"Does not hold: smallest margin {bound}{m.margin:.2f}",
        "unknown": f"Cannot say: the model ends here (computed margin {bound}{m.margin:.2f})",
    }[judged.state]
    return f"{head}; {m.label[0].lower()}{m.label[1:]} governs."


def covers(judged: whole.Whole) -> str:
    """Return what a verdict covers and what it leaves out, as sentences."""
    parts = [PARTS[m.name] for m in judged.margins]
    text = f"Judged: {listed(dict.fromkeys(parts))}."
    if judged.left_out:
        gaps = "; ".join(f"{what} ({how})" for what, how in judged.left_out)
        text += f" Not judged: {gaps}."
    return text


PARTS = {
    "flutter": "flutter",
    "divergence": "divergence",
    "bending": "bending at the root",
    "handling": "a hand on the tip",
    "material": "the speed the material is known for",
    "joint": "the joint",
    "joint-hand": "the joint",
    "landing": "landing",
    "rod": "speed off the rod",
    "stability": "stability",
}
"""What each margin judges, in a list."""

FIRST = {
    "flutter": "Flutter comes first",
    "divergence": "Divergence (the fin bending away for good) comes first",
    "bending": "The root breaks first",
    "joint": "The joint gives way first",
    "joint-hand": "A hand on the tip is the hardest on the joint",
    "material": "What is known of the material limits it",
    "handling": "A hand on the tip is the hardest on it",
    "landing": "The landing is the hardest on it",
    "rod": "The speed off the rod is its smallest margin",
    "stability": "Stability is its smallest margin",
}
"""How a verdict names the smallest margin."""


def sentence(judged: whole.Whole) -> str:
    """Return what gives way first, what else is short, and how many such fins would."""
    m = judged.governs
    chance = judged.shortfall
    if chance < 0.01:
        odds = "fewer than 1 in 100"
    elif chance > 0.99:
        odds = "more than 99 in 100"
    else:
        odds = f"about {round(chance * 100)} in 100"
    if judged.state == "unknown":
        return _cannot_say(judged)
    first = FIRST[m.name]
    if m.bound:
        first = f"{m.label} limits the answer{f' ({m.note})' if m.note else ''}"
    short = [
        f"{o.label[0].lower()}{o.label[1:]} {o.margin:.2f}"
        for o in judged.margins
        if o.margin < 1.0 and o is not m
    ]
    also = f" Also short of what is required: {listed(short)}." if short else ""
    if judged.state != "fails" and not m.flight:
        first = f"In flight it holds. {first}" if _flies(judged) else first
    given = judged.fin.fin.material.scatter_values["density"].source == "reader"
    scatter = "the scatter you gave for this sheet" if given else "the usual scatter of sheets"
    return f"{first}.{also} With {scatter} and of the model, {odds} would give way in flight."


def _flies(judged: whole.Whole) -> bool:
    """Whether everything that belongs to the flight has what is required."""
    return all(m.margin >= 1.0 and m.known for m in judged.margins if m.flight)


def _cannot_say(judged: whole.Whole) -> str:
    """Return why there is no verdict, which margins are known and what would give one."""
    doubtful = [m for m in judged.margins if not m.known]
    firm = [f"{m.label.lower()} {_amount(m)}" for m in judged.margins if m.known and m.flight]
    computed = [f"{m.label.lower()} {_amount(m)}" for m in doubtful]
    remedies = dict.fromkeys(check.REMEDIES[m.note] for m in doubtful if m.note in check.REMEDIES)
    sentences = [
        "Nothing fails as far as the model goes, but it does not go far enough: "
        f"{search.doubts(judged.margins)}.",
        f"Computed but not promised: {', '.join(computed)}.",
    ]
    if firm:
        sentences.append(f"Promised: {', '.join(firm)}.")
    if remedies:
        sentences.append(f"What would get an answer: {'; or '.join(remedies)}.")
    return " ".join(sentences)


def _amount(margin: Margin) -> str:
    return f"{'at least ' if margin.bound else ''}{margin.margin:.2f}"


def notes(values: JointOnTube, judged: whole.Whole, flying: c.Flying) -> tuple[str, ...]:
    """Return what to know of a verdict: what a margin is, what is not modelled or less sure."""
    result = judged.fin
    found = [
        *tab_notes(values),
        f"A margin of 1 is just what is required: {c.reserves(result.point.mach)}; the load itself "
        "for a hand and for the landing, whose energy is only known to a factor of two.",
        "Not modelled: damage, glue gaps, spin, launch-rod whip, a body that bends, and anything "
        "that happens after the fin first gives.",
    ]
    if not any(m.name == "joint" for m in judged.margins):
        found.append(
            "The glue joint at the root is not among these: a bare butt joint is often weaker than "
            "the fin, and one that gives lets the fin flutter sooner. See Root joint."
        )
    if result.regime != "subsonic":
        found.append(
            f"Mach {result.point.mach:.2f} is {result.regime}, where flutter and divergence are "
            f"less sure. Linear theory is taken on both sides of Mach 1, never at it, and "
            f"multiplied by {policy.TRANSONIC_FACTOR:g}, a factor from wind-tunnel tests. "
            f"{policy.REQUIRED_TRANSONIC_MARGIN:.2f} times the speed is required instead of "
            f"{policy.REQUIRED_SPEED_MARGIN:.2f}. The lowest margin on the way through Mach 1 "
            "counts, not only that of the top speed."
        )
    if result.regime == "supersonic" and flying.ascent is None:
        found.append(
            "The passage through Mach 1 is judged in the air of the height you gave. It happens "
            "lower, in denser air: where the height is large, check Mach 1.2 at the lower "
            "height too."
        )
    faint = boundaries.near_flutter(result.structure, result.boundaries, result.point)
    if faint is not None:
        speed, damping = faint
        found.append(
            f"At {speed / result.point.speed:.2f} times the speed it is judged at, this fin nearly "
            f"flutters: one of its modes keeps {damping:.1%} of critical damping there and then "
            "recovers. A slightly different sheet, edge or joint can turn that into flutter."
        )
    if _unweighed(result.fin):
        found.append(
            "No density was given, so the middle value of our data was taken (it is under "
            "“More numbers”). Sheets differ much: weigh yours."
        )
    if result.fin.material.model == "faced" and result.fin.edge.kind in ("tapered", "airfoil"):
        found.append(
            "Shaping this edge cuts through the skins, and that is what is computed. A core shaped "
            "first and skinned after keeps its skins and is stiffer; that is not modelled."
        )
    if result.fin.material.name == "own":
        found.append("The material is yours: its numbers are not checked against any table.")
    return tuple(found)


def _stated(margin: Margin) -> str:
    doubt = "" if margin.known else ", not promised"
    bound = "at least " if margin.bound else ""
    return f"{bound}{margin.margin:.2f} ({margin.label.lower()}{doubt})"


def _rest(
    fin: Fin,
    point: Point,
    judged: whole.Whole,
    others: search.Others,
    glued: search.Others,
    values: FinCheckValues,
) -> tuple[tuple[Change, ...], Figure]:
    """Return what would change the answer, and the chart of thicknesses.

    Both are answered in one go: most of their fins share an outline. `glued` returns the margins
    of the joint alone.
    """
    fmt = c.formatter(values)
    sizes, unit = c.stock_sizes(fin)
    thicker = [t for t in sizes if t > fin.thickness * 1.02][:1]
    thinner = [t for t in sizes if t < fin.thickness * 0.98][-1:]
    options: list[tuple[str, Fin, dict[str, str]]] = []
    for size, word in ((thicker, "One size thicker"), (thinner, "One size thinner")):
        if size:
            label = show(size[0], "length", unit)
            other = replace(fin, thickness=size[0])
            options.append((f"{word}: {label}", other, {"thickness": label}))
    resized = len(options)
    if fin.cut in ("A", "B"):
        other = replace(fin, cut="C")
        options.append(("A C-grain (quarter-sawn) sheet", other, {"cut": "C"}))
    shorter = c.stretched(values, 0.9, unit)
    if shorter is not None:
        shape, lengths = shorter
        options.append(("Span cut by a tenth", replace(fin, planform=shape), lengths))
    charted = _thicknesses(fin, [*thicker, *thinner])
    found = check.evaluate_variants([*(other for _, other, _ in options), *charted], point)
    rows = [
        (other.thickness, (*trial.margins, *glued(other, trial)))
        for other, trial in zip(charted, found[len(options) :], strict=True)
    ]
    changes = []
    for place, ((title, other, inputs), trial) in enumerate(zip(options, found, strict=False)):
        now = (*trial.margins, *others(other, trial))
        changes.append(_change(title, trial, judged, now, inputs, fmt))
        if place < resized and CHART[0] <= other.thickness / fin.thickness <= CHART[1]:
            rows.append((other.thickness, now))
    changes.insert(resized, _turned(fin, point, judged, others, fmt))
    return tuple(changes), _thickness_chart(rows, judged)


def _change(
    title: str,
    trial: check.Variant,
    judged: whole.Whole,
    margins: Sequence[Margin],
    inputs: dict[str, str],
    fmt: c.Formatter,
) -> Change:
    """Return what one other fin with these margins would do instead."""
    result = judged.fin
    mass = float(result.structure.mass[0])
    added = (trial.mass - mass) * result.fin.count
    now = policy.governing(margins)
    worse = now.margin < min(1.0, 0.995 * judged.governs.margin)
    text = f"smallest margin {_stated(judged.governs)} → {_stated(now)}"
    if abs(added) > 1e-9:  # a turned or quarter-sawn sheet weighs the same
        text = f"{text}, fins {fmt.more(added, like=mass * result.fin.count)}"
        return Change(title, text, now.margin, added, inputs, worse)
    return Change(title, text, now.margin, inputs=inputs, worse=worse)


def _turned(
    fin: Fin, point: Point, judged: whole.Whole, others: search.Others, fmt: c.Formatter
) -> Change:
    """Return what another direction of the grain would do at best."""
    turned = [g for g in GRAINS if abs(g - fin.grain) > math.radians(4.0)]
    fins = [replace(fin, grain=grain) for grain in turned]
    found = check.evaluate_variants(fins, point)
    scores = [policy.score(trial.margins) for trial in found]
    best = int(np.argmax(scores))
    if scores[best] <= 1.02 * policy.score(judged.fin.margins):
        return Change("Turning the grain", "gains less than 2 % in any direction tried")
    degrees = round(math.degrees(turned[best]))
    title = f"Grain turned to {degrees}° from the leading edge".replace("-", "−")
    now = (*found[best].margins, *others(fins[best], found[best]))
    return _change(title, found[best], judged, now, {"grain": str(degrees)}, fmt)


def _mode_figure(result: check.Check, units: str) -> Figure:
    """Return the picture of how the fin moves around the speed of its first instability."""
    found = motion.moving(result)
    shape, row = result.fin.planform, found.row
    # closer together toward a tip, which may close
    outward = np.sin(np.linspace(0.0, 0.5 * np.pi, 9))
    grid = np.meshgrid(np.linspace(0.0, 1.0, 7), outward)
    points = shape.points(*grid)
    values = result.structure.system.basis.values(points.reshape(-1, 2))
    modes = values @ result.structure.modes.shapes[row]
    sizes = np.abs(modes).max(axis=0)
    amplitudes = found.motion.shapes * sizes
    modes = modes / sizes
    moved = np.abs(amplitudes @ modes.T)
    amplitudes = amplitudes / moved.max(axis=1)[:, None]
    at = int(np.abs(found.ratios - 1.0).argmin()) if found.flown is None else found.flown
    # what moves most in the motion shown first is at its farthest there
    turned = amplitudes @ modes[int(moved[at].argmax())]
    amplitudes = amplitudes * (np.abs(turned) / turned)[:, None]
    on_its_way = found.mach is not None and found.mach < result.point.mach
    return Figure(
        "mode",
        *_mode_words(result, found, units),
        {
            "kind": found.kind,
            "boundary": found.boundary,
            "ratios": found.ratios.tolist(),
            "growth": found.motion.growth.tolist(),
            "frequency": found.motion.frequency.tolist(),
            "flown": found.flown,
            "flight": "your flight on its way" if on_its_way else "your flight",
            "corners": shape.perimeter(2e-4).tolist(),
            "grid_x": points[..., 0].tolist(),
            "grid_y": points[..., 1].tolist(),
            "modes": modes.T.reshape(-1, *points.shape[:2]).tolist(),
            "amplitudes": np.stack([amplitudes.real, amplitudes.imag], axis=-1).tolist(),
        },
    )


def _mode_words(result: check.Check, found: motion.Moving, units: str) -> tuple[str, str]:
    """Return title and caption of the picture of how the fin moves."""
    flutter = result.margins[0]
    speed = with_unit(found.boundary, "speed", units)
    at = int(np.abs(found.ratios - 1.0).argmin())
    hertz = with_unit(found.motion.frequency[at] / (2.0 * math.pi), "frequency", units)
    air = "" if found.mach is None else f" (in the air of Mach {found.mach:.2f})"
    more = ["Time runs slowly here and the deflection is drawn far larger than it is."]
    turned = f"with the grain {math.degrees(check.AS_CUT):.0f}° off"
    if turned in flutter.note:
        more.append(f"This is the fin {turned}, which can happen in cutting; it gives way first.")
    if not flutter.known:
        more.append(f"Computed, not promised: {flutter.note}.")
    if found.kind == "flutter":
        title = "How it would flutter"
        first = (
            f"Flutter begins at {speed}{air}, at {hertz}: bending and twist feed each other with "
            "energy from the air. At lower speeds it dies away, at higher speeds it grows."
        )
    elif found.kind == "divergence":
        title = "How it moves in the air"
        first = (
            f"Divergence comes before any flutter here: at {speed}{air} the air bends this fin as "
            "hard as it springs back, and it leans over for good, without beating."
        )
        if found.flown is not None and found.ratios[found.flown] < 1.0:
            first += (
                " The picture opens at your flight, which is slower: there the fin only swings "
                "back after a push. Raise the speed to see it lean over."
            )
        else:
            first += " At lower speeds you see how it swings back after a push."
    else:
        title = "How it would swing (first natural mode)"
        first = (
            f"No flutter was found up to {speed}{air}. What lies beyond is not known. "
            f"This is the first natural mode, {hertz} in that wind: it dies away at each speed "
            "shown."
        )
        if (found.motion.growth > 0.0).any():
            first = first.replace("it dies away at each speed shown", "see what becomes of it")
    return title, " ".join([first, *more])


def _thicknesses(fin: Fin, stock: Sequence[float]) -> list[Fin]:
    """Return the fin in other thicknesses, as far as there are such sheets, for the chart.

    Stock sizes beside its own, judged anyway, take the place of the nearest ones, or their number
    stays smaller by one on a side that has none.
    """
    out = []
    for ratios in ((CHART[0], 0.65, 0.8), (1.25, 1.5, CHART[1])):
        sold = [t for t in stock if ratios[0] <= t / fin.thickness <= ratios[-1]]
        spared = sold[0] / fin.thickness if sold else ratios[1]
        nearest = min(ratios, key=lambda ratio: abs(ratio - spared))
        for ratio in ratios:
            if ratio == nearest:
                continue
            other = replace(fin, thickness=fin.thickness * ratio)
            try:
                other.layup()
            except InputError:
                continue
            out.append(other)
    return out


CHART = (0.5, 1.8)
"""Least and greatest thickness in the chart over the fin's own."""

CHARTED = ("flutter", "divergence", "bending", "joint")
"""Margins that are drawn against the thickness."""

HIGHEST_DRAWN = 20.0
"""Margin above which the chart of thicknesses draws no more."""


def _thickness_chart(rows: Sequence[tuple[float, Sequence[Margin]]], judged: whole.Whole) -> Figure:
    """Return the margin against thickness, the other things kept.

    Parameters
    ----------
    rows
        Thicknesses beside its own [m], each with its margins; the joint's where it is judged.
    judged
        The fin as it is.
    """
    thickness = judged.fin.fin.thickness
    ordered = sorted([*rows, (thickness, judged.margins)], key=lambda row: row[0])
    series = []
    ends = set()
    for margin in (m for m in judged.margins if m.name in CHARTED):
        line: list[float | None] = []
        for _, margins in ordered:
            found = next(m for m in margins if m.name == margin.name)
            if found.name == "joint" and not found.known:
                line.append(None)  # a limit, which says nothing against the joint
                continue
            line.append(round(min(found.margin, HIGHEST_DRAWN), 4))
            if found.bound:
                ends.add(found.note)
        series.append({"name": margin.label, "x": [size for size, _ in ordered], "y": line})
    more = ["Everything else unchanged. Stiffness grows with the cube of the thickness."]
    if any("search ends" in note for note in ends):
        more.append("A level line is where the search ends: the margin is at least that.")
    if any("before the fin diverges" in note for note in ends):
        more.append("Flutter lies on divergence where none was found before the fin diverges.")
    if any(None in item["y"] for item in series):
        more.append("The root joint is drawn only where its margin can be promised.")
    if any(HIGHEST_DRAWN in item["y"] for item in series):
        more.append(f"Margins above {HIGHEST_DRAWN:g} are drawn at {HIGHEST_DRAWN:g}.")
    names = [m.name.replace("joint-hand", "handling") for m in judged.margins]
    rest = [PARTS[name] for name in names if name not in CHARTED]
    if "joint" not in names:
        rest.insert(0, PARTS["joint"])
    more.append(f"Not drawn: {listed(dict.fromkeys(rest))}.")
    return Figure(
        "chart",
        "Margin against thickness",
        " ".join(more),
        {
            "x": {"label": "Thickness", "kind": "length"},
            "y": {"label": "Margin", "kind": "number"},
            "series": series,
            "marks": [
                {"axis": "y", "value": 1.0, "label": "only just holds"},
                {"axis": "x", "value": thickness, "label": "yours"},
            ],
        },
    )


def _steps(
    fin: Fin, point: Point, judged: whole.Whole, flying: c.Flying, index: int
) -> tuple[Step, ...]:
    result = judged.fin
    shape = fin.planform
    d = result.structure.bending[0]
    stack = result.structure.layups[0]
    frequency = result.structure.modes.frequency[0] / (2 * math.pi)
    detail = result.boundaries.detail
    steps = []
    if flying.ascent is not None:
        up = flying.ascent
        steps.append(
            Step(
                "The flight",
                "m dv/dt = F − m g − ½ ρ v² C_d A",
                f"fastest {up.max_speed.speed:.0f} m/s at {up.max_speed.time:.2f} s and "
                f"{up.max_speed.height:.0f} m; judged at {flying.times[index]:.2f} s, the moment "
                "with the smallest margin",
                ("us-standard-atmosphere-1976",),
            )
        )
    steps += [
        Step(
            "The air at that moment",
            "q = ½ ρ V²",
            f"ρ = {point.air.density:.3f} kg/m³, a = {point.air.sound_speed:.1f} m/s, "
            f"Mach {point.mach:.3f}, q = {point.pressure:.0f} Pa",
            ("us-standard-atmosphere-1976",),
        ),
        Step(
            "The sheet",
            "D = Σ Q̄ (z₁³ − z₀³)/3 over the plies, turned to the fin's axes",
            f"{len(stack.plies)} ply; D₁₁ = {d[0, 0]:.3g}, D₂₂ = {d[1, 1]:.3g}, "
            f"D₁₂ = {d[0, 1]:.3g}, D₆₆ = {d[2, 2]:.3g}, D₁₆ = {d[0, 2]:.3g}, "
            f"D₂₆ = {d[1, 2]:.3g} N·m; {stack.areal_mass:.3g} kg/m²",
            ("kaw-2006", *fin.material.sources[:1]),
            note="x along the tube, y outward; 16 and 26 couple bending and twist",
        ),
        Step(
            "Natural modes",
            "Rayleigh–Ritz, clamped root: det(K − ω² M) = 0",
            ", ".join(f"{f:.0f} Hz" for f in frequency[:4]),
            ("leissa-1969",),
        ),
        Step(
            "The air's answer",
            "doublet lattice, body as a plane of symmetry: w/U = A c_p",
            f"{model.CHORDWISE} × {model.SPANWISE} boxes at Mach "
            + ", ".join(f"{m:g}" for m in model.MACHS),
            ("albano-rodden-1969", "rodden-1998"),
        ),
        Step(
            "Flutter",
            "(1 + i g)/ω² K x = [M + ρ/(2 k²) Q(k)] x;  g = 0 at the boundary;  U = M a",
            "boundary with the air of each Mach number: "
            + ", ".join(
                f"M {m:g}: {s:.0f} m/s" if np.isfinite(s) else f"M {m:g}: none"
                for m, s in zip(model.MACHS, result.boundaries.flutter_by_mach[0], strict=True)
            )
            + (
                f"; {np.nanmin(detail.frequency[0]) / (2 * math.pi):.0f} Hz"
                if np.isfinite(detail.frequency[0]).any()
                else ""
            ),
            ("hassig-1971",),
            note="held against measured flutter of a wooden wing (AGARD 445.6); see Validation",
        ),
        *_fast_step(result),
        Step(
            "Divergence",
            "det(K − q Q(0)) = 0",
            ", ".join(
                f"M {m:g}: {s:.0f} m/s" if np.isfinite(s) else f"M {m:g}: none"
                for m, s in zip(model.MACHS, result.boundaries.divergence_by_mach[0], strict=True)
            ),
        ),
        Step(
            "Root under air load",
            "(K − q Q(0)) x = q α L;  M = D κ along the root;  Tsai–Wu ply by ply",
            f"moment {result.root.moment:.3g} N·m, shear {result.root.shear:.3g} N; load may grow "
            f"{result.root.factor:.2f}-fold ({result.root.failing})",
            ("tsai-wu-1971", "far-25-303"),
            note="the core too: the pressed face wrinkles at k (E_f E_c G_c)^(1/3), k = 0.5, the "
            "core shears at V/h; Hoff and Mautner (1945), Allen (1969), from memory, unverified"
            if core_index(stack)
            else "",
        ),
        Step(
            "Cross-check: NACA TN 4197",
            "(V/a)² = G / [C A³/((t/c)³ (A+2)) · (λ+1)/2 · p/p₀]",
            f"G as it twists = "
            f"{with_unit(check.effective_shear_modulus(d, fin.thickness), 'pressure', 'metric')}, "
            f"A = {shape.aspect_ratio:.3f} → "
            f"{check.estimate(fin, d, point.air):.0f} m/s",
            ("naca-tn-4197",),
            note="t/c with the mean chord, area over span; ignores mass, sweep and grain",
        ),
        Step(
            "Spread",
            "log margin linear in log property; lognormal scatter; 10 and 90 % points",
            "scatter: "
            + ", ".join(
                f"{name.replace('_', ' ')} {fin.material.scatter[name]:.0%}"
                for name in result.slopes
            )
            + f"; flutter model {policy.model_cov('flutter', point.mach):.0%}, "
            f"stress model {policy.STRENGTH_MODEL_COV:.0%}",
        ),
        Step(
            "What is required",
            f"{c.reserves(point.mach)}; at most {policy.MOST_SHORT:.0%} give way in flight",
            f"{judged.governs.label}: {judged.governs.margin:.2f}",
            ("mil-a-8870", "far-25-303"),
        ),
    ]
    return tuple(steps)


def _fast_step(result: check.Check) -> tuple[Step, ...]:
    """Return the step on air beyond Mach 0.9, where it was used."""
    fast = result.boundaries.fast
    if fast is None or not fast.judged[0]:
        return ()
    speeds = ", ".join(
        f"M {mach:g}: {speed:.0f} m/s" if np.isfinite(speed) else f"M {mach:g}: none"
        for mach, speed in zip(fast.machs, fast.first_by_mach[0], strict=True)
        if not np.isnan(speed)
    )
    return (
        Step(
            "Beyond Mach 0.9",
            "Mach boxes on and beside the fin; boundary × 0.85 from Mach 0.95 on",
            f"first instability, factor included: {speeds}",
            ("yates-1987",),
            note="doublet lattice up to Mach 0.95, Mach boxes from 1.05 on, between them forces "
            "run straight over Mach number; the factor is measured over linear theory, see "
            "Validation",
        ),
    )


CALCULATOR = Calculator(
    slug="fin-check",
    title="Fin check",
    question="Will this fin hold, and what fails first?",
    inputs=(*c.OUTLINE, *c.stock_inputs(), *c.EDGE, *c.FLYING, *other_parts.INPUTS),
    answer=answer,
    drawing=c.fin_figure,
    early=True,
)
