"""What turning the grain does to this fin, and which direction is best."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, Unpack

import numpy as np
from numpy.typing import NDArray

from calc.calculators import shared as c
from calc.fin import check, policy, search
from calc.fin.fin import Fin, Point
from calc.forms import Calculator
from calc.margin import Margin
from calc.report import CAUTION, Answer, Change, Column, Figure, Report, Step, Table
from calc.structure import laminate as layups

Real = NDArray[np.float64]

STEP = 5
"""Degrees between the directions tried."""
DIRECTIONS = tuple(range(-90 + STEP, 91, STEP))
OFF = (10, 20, 45)
"""Degrees off the best direction whose cost is reported."""
FLAT = 0.02
"""Difference of the score below which directions count as equally good."""
DRAWN = 10.0
"""Greatest margin that is drawn."""


class GrainAngleValues(c.OutlineValues, c.StockValues, c.EdgeValues, c.FlyingValues, c.UnitsValues):
    """Values of this calculator."""

    count: int
    body: float


def best_of(degrees: Sequence[int], scores: Sequence[float]) -> int:
    """Return the place of the best direction; among equally good ones the nearest to zero.

    >>> best_of((-5, 0, 5), (1.0, 1.195, 1.2))
    1
    """
    top = max(scores) * (1.0 - FLAT)
    good = [place for place, value in enumerate(scores) if value >= top]
    return min(good, key=lambda place: (abs(degrees[place]), -scores[place]))


def wrapped(degrees: int) -> int:
    """Return a direction between -90 (left out) and 90: grain has no arrowhead.

    >>> wrapped(100), wrapped(-90)
    (-80, 90)
    """
    turned = (degrees + 90) % 180 - 90
    return 90 if turned == -90 else turned


def answer(**values: Unpack[GrainAngleValues]) -> Report:
    """Answer for SI values by input name."""
    fin = c.fin_of(values)
    flying = c.flying(values)
    point = flying.points[search.worst_moment(fin, flying.points)]
    shape = fin.planform
    tube = shape.grain_direction(0.0)
    angles = [*(math.radians(d) for d in DIRECTIONS), fin.grain, tube]
    stack = fin.layup()
    ways = [check.as_cut(stack, shape.grain_direction(a)) for a in angles]
    # as drawn first, in the order of the angles, then as each may be cut
    every = [way[k] for k in range(max(map(len, ways))) for way in ways if k < len(way)]
    found = check.evaluate_batch(fin, [stack] * len(every), every, point)
    at_direction = dict(zip(every, found.margins, strict=True))
    rows = [check.lowest([at_direction[one] for one in way]) for way in ways]
    scores = [policy.score(row) for row in rows[: len(DIRECTIONS)]]
    place = best_of(DIRECTIONS, scores)
    best = DIRECTIONS[place]
    level = max(scores) - min(scores) < FLAT * max(scores)
    at = dict(zip(DIRECTIONS, rows, strict=False))
    yours, along_tube = rows[-2], rows[-1]
    zero = at[0]
    gain = scores[place] / policy.score(zero) - 1.0
    worst = int(np.argmin(scores))
    good = [d for d, s in zip(DIRECTIONS, scores, strict=True) if s >= 0.95 * max(scores)]
    return Report(
        calculator="grain-angle",
        summary=_summary(level, best, gain, at[best], DIRECTIONS[worst], scores, place),
        answers=(
            _degrees("best_angle", "Best direction, from the leading edge", best,
                note="no direction is better than another" if level else _span(good, best)),
            _weakest("best_margin", "Weakest margin there, fin alone", at[best]),
            _speed("best_flutter", "Flutter there", at[best][0]),
            _weakest("margin_yours", "Weakest margin as you have it, fin alone", yours),
            _speed("flutter_yours", "Flutter as you have it", yours[0]),
            _weakest("margin_leading", "Weakest margin, grain along the leading edge, fin alone",
                     zero),
            _speed("flutter_leading", "Flutter, grain along the leading edge", zero[0]),
            _weakest("margin_tube", "Weakest margin, grain along the tube, fin alone", along_tube),
            _speed("flutter_tube", "Flutter, grain along the tube", along_tube[0]),
            _degrees("worst_angle", "Worst direction", DIRECTIONS[worst]),
            _weakest("worst_margin", "Weakest margin in the worst direction, fin alone",
                     rows[worst]),
            *(
                Answer(f"cost_{off}", f"Margin lost {off}° off the best, the worse way",
                       max(0.0, 1.0 - _off(at, best, off)), "fraction", digits=2)
                for off in OFF
            ),
            Answer("set_mass", f"Mass of {fin.count} fins, whichever way the grain runs",
                   float(found.structure.mass[0]) * fin.count, "mass"),
            _degrees("tube_angle", "Angle that lies along the tube", math.degrees(tube)),
            Answer("demand_speed", "Speed it is judged at", point.speed, "speed"),
        ),
        headline=("best_angle", "best_margin", "margin_yours", "cost_20"),
        changes=_changes(fin, best, level, scores[place], yours),
        figures=(
            _polar(at, tube, None if level else best),
            _chart(at, fin, point, c.formatter(values)),
            _sheet_polar(stack),
        ),
        tables=(_costs(at, best, along_tube, tube),),
        steps=_steps(fin, stack, point),
        cautions=(CAUTION,),
        notes=_notes(fin, level, best, gain, at),
        sources=tuple(fin.material.sources),
    )  # fmt: skip


def _weakest(name: str, label: str, margins: Sequence[Margin]) -> Answer:
    """Return the weakest flight margin of a direction, with what it is the margin of."""
    margin = policy.weakest(margins)
    doubts = search.doubts(margins)
    return Answer(name, label, margin.margin, "number", bound=_bound(margin),
                  note=f"{margin.label.lower()}"
                  + (f"; not promised: {doubts}" if doubts else ""))  # fmt: skip


def _degrees(name: str, label: str, degrees: float, note: str = "") -> Answer:
    """Return a direction that is shown in whole degrees."""
    digits = len(f"{abs(degrees):.0f}")
    return Answer(name, label, math.radians(degrees), "angle", digits=digits, note=note)


def _bound(margin: Margin) -> Any:
    return "at least" if margin.bound else ""


def _speed(name: str, label: str, margin: Margin) -> Answer:
    return Answer(
        name, label, margin.capacity.value, "speed", bound=_bound(margin), note=margin.note
    )


def _off(at: Mapping[int, Sequence[Margin]], best: int, off: int) -> float:
    """Return the score `off` degrees from the best over the best one, the worse of two ways."""
    both = [policy.score(at[wrapped(best + sign * off)]) for sign in (1, -1)]
    return min(both) / policy.score(at[best])


def _span(good: Sequence[int], best: int) -> str:
    low, high = min(good), max(good)
    if len(good) != (high - low) // STEP + 1:
        return "more than one direction is nearly as good; see the picture"
    text = f"anything from {low}° to {high}° is within 5 % of it"
    if best in (low, high) and best != 0:
        text += "; of the best, the nearest to the leading edge is named"
    return text.replace("-", "−")


def _summary(
    level: bool,
    best: int,
    gain: float,
    margins: Sequence[Margin],
    worst: int,
    scores: Sequence[float],
    place: int,
) -> str:
    words = _in_words(margins)
    if level:
        return f"Turning the grain changes nothing here: {words} in every direction."
    share = min(scores) / scores[place]
    if best == 0:
        text = (
            f"Grain along the leading edge is best: {words}. The worst direction, {worst}°, leaves "
            f"{share:.0%} of it."
        )
    else:
        text = (
            f"The best direction is {best}° from the leading edge: {words}; {gain:.0%} better than "
            "along the leading edge."
        )
    return text.replace("-", "−")


def _in_words(margins: Sequence[Margin]) -> str:
    """Return which margin limits a direction, and how large it is."""
    margin = policy.weakest(margins)
    bound = "at least " if margin.bound else ""
    doubt = "" if all(m.known for m in margins) else ", but the model cannot promise it"
    return f"{margin.label.lower()} limits it, margin {bound}{margin.margin:.2f}{doubt}"


def _changes(
    fin: Fin, best: int, level: bool, top: float, yours: Sequence[Margin]
) -> tuple[Change, ...]:
    if level or top < 1.02 * policy.score(yours) or abs(fin.grain - math.radians(best)) < 1e-6:
        return ()
    now = policy.weakest(yours)
    gain = top / policy.score(yours) - 1.0
    return (
        Change(
            f"Grain turned to {best}° from the leading edge".replace("-", "−"),
            f"the weakest flight margin grows by {gain:.0%} (now {now.label.lower()} "
            f"{now.margin:.2f})",
            inputs={"grain": str(best)},
        ),
    )


def _notes(
    fin: Fin,
    level: bool,
    best: int,
    gain: float,
    at: Mapping[int, Sequence[Margin]],
) -> tuple[str, ...]:
    notes = []
    if level:
        notes.append(
            "This sheet is nearly the same in every direction, or its limits lie beyond what the "
            "model can tell apart."
        )
    elif best != 0:
        notes.append(
            f"Along the leading edge is not best for this fin: there {_in_words(at[0])}. Turning "
            f"the grain to {best}° gains {gain:.0%} on the weakest of them.".replace("-", "−")
        )
    else:
        notes.append(
            "Along the leading edge is best here, or within 2 % of it; it also keeps the leading "
            "edge from splitting, which the model does not judge."
        )
    notes.append(
        "A margin drawn at the edge of the model (no flutter up to Mach 0.9) is a lower limit, so "
        "directions there may differ more than shown."
    )
    notes.append(
        "Margins here are those of the fin alone. Its glue joint may give way earlier, whichever "
        "way the grain runs; the fin check judges it too."
    )
    if fin.material.kind == "faced-core":
        notes.append("Skins and core turn together here.")
    return tuple(notes)


def _polar(at: Mapping[int, Sequence[Margin]], tube: float, best: int | None) -> Figure:
    """Return the weakest margin of each direction, the same as in the table."""
    # grain has no arrowhead, so the first direction repeats the last
    degrees = [-90, *DIRECTIONS]
    found = [policy.weakest(at[wrapped(d)]) for d in degrees]
    marks = [{"angle": tube, "label": "along the tube"}] if tube <= 0.5 * math.pi else []
    more = [
        "0° is along the leading edge, positive turns the grain toward the tube. The weakest "
        "margin of the flight, of the fin alone, as in the table below."
    ]
    if best is not None:
        more.append(
            f"The arrow is the best direction of the answer: of all within {FLAT:.0%} of the "
            "longest, the one nearest to the leading edge."
        )
    if any(margin.bound and "search ends" in margin.note for margin in found):
        more.append("An even arc is where the search ends: the margin there is at least that.")
    if any(margin.margin > DRAWN for margin in found):
        more.append(f"Margins above {DRAWN:g} are drawn at {DRAWN:g}.")
    return Figure(
        "polar",
        "Weakest margin against the grain's direction",
        " ".join(more),
        {
            "angle": [math.radians(d) for d in degrees],
            "series": [
                {"name": "weakest margin", "y": [min(margin.margin, DRAWN) for margin in found]}
            ],
            "value": {"label": "Weakest margin", "kind": "number"},
            "best": None if best is None else math.radians(best),
            "best_label": f"best direction: {best}°",
            "marks": marks,
        },
    )


def _chart(at: Mapping[int, Sequence[Margin]], fin: Fin, point: Point, fmt: c.Formatter) -> Figure:
    degrees = [-90, *DIRECTIONS]
    series = [
        {
            "name": at[0][place].label.removesuffix(" at the root"),
            "x": [math.radians(d) for d in degrees],
            "y": [min(at[wrapped(d)][place].margin, DRAWN) for d in degrees],
        }
        for place in range(3)
    ]
    yours = math.remainder(fin.grain, math.pi)
    return Figure(
        "chart",
        "Every margin against the grain's direction",
        f"Of the fin alone, at {fmt(point.speed, 'speed')}; margins above {DRAWN:g} are drawn at "
        f"{DRAWN:g}.",
        {
            "x": {
                "label": "Grain from the leading edge",
                "kind": "angle",
                "low": -0.5 * math.pi,
                "high": 0.5 * math.pi,
            },
            "y": {"label": "Margin", "kind": "number"},
            "series": series,
            "marks": [
                {"axis": "y", "value": 1.0, "label": "only just holds"},
                {"axis": "x", "value": yours, "label": "yours"},
            ],
        },
    )


def _sheet_polar(stack: layups.Layup) -> Figure:
    around = np.radians(np.arange(0, 361, 5))
    stiff = layups.flexural_constants(stack, angle=-around).modulus_x
    return Figure(
        "polar",
        "Stiffness of the sheet itself, in every direction",
        "Bending a strip cut at each angle to the grain; 0° is along the grain.",
        {
            "angle": around.tolist(),
            "series": [{"name": "bending stiffness", "y": np.asarray(stiff).tolist()}],
            "value": {"label": "Stiffness", "kind": "pressure"},
        },
    )


def _costs(
    at: Mapping[int, Sequence[Margin]],
    best: int,
    along_tube: Sequence[Margin],
    tube: float,
) -> Table:
    def line(label: str, margins: Sequence[Margin]) -> tuple[Any, ...]:
        margin = policy.weakest(margins)
        return (
            label,
            margins[0].capacity.value,
            margins[1].capacity.value,
            margins[2].margin,
            margin.margin,
            policy.score(margins) / policy.score(at[best]),
            f"{margin.label.lower()}{' (a lower limit)' if margin.bound else ''}",
        )

    rows = [line(f"best, {best}°", at[best])]
    for off in OFF:
        for sign in (1, -1):
            turned = wrapped(best + sign * off)
            rows.append(line(f"{off}° off, at {turned}°", at[turned]))
    rows += [
        line("along the leading edge, 0°", at[0]),
        line(f"along the tube, {math.degrees(tube):.0f}°", along_tube),
    ]
    return Table(
        "What being off costs",
        (
            Column("direction", "Grain"),
            Column("flutter", "Flutter", "speed"),
            Column("divergence", "Divergence", "speed"),
            Column("bending", "Root margin", "number"),
            Column("margin", "Weakest margin", "number"),
            Column("share", "Of the best", "fraction", 2),
            Column("limit", "What limits it"),
        ),
        tuple((row[0].replace("-", "−"), *row[1:]) for row in rows),
        note="“Of the best” compares each margin with what is required: 1.15 in speed, 1.5 in "
        "load.",
    )


def _steps(fin: Fin, stack: layups.Layup, point: Point) -> tuple[Step, ...]:
    sheet = layups.flexural_constants(stack)
    return (
        Step(
            "The sheet in its own axes",
            "E = 12 / (h³ d₁₁), d = D⁻¹",
            f"along {float(sheet.modulus_x) / 1e9:.3g} GPa, across "
            f"{float(sheet.modulus_y) / 1e9:.3g} GPa, twist "
            f"{float(sheet.shear_modulus) / 1e9:.3g} GPa",
            ("kaw-2006", *fin.material.sources[:1]),
        ),
        Step(
            "Turned to the fin",
            "D′ = T⁻¹ D T⁻ᵀ at θ = 90° − (sweep angle + grain angle)",
            f"leading edge swept {math.degrees(fin.planform.sweep_leading):.1f}°; "
            f"{len(DIRECTIONS)} directions, {STEP}° apart",
            ("kaw-2006",),
            note="off its axes a sheet couples bending with twist: bending up may twist the nose "
            "of the fin down (relief) or up (worse)",
        ),
        Step(
            "Each direction",
            "flutter, divergence and root load as in the fin check",
            f"at {point.speed:.0f} m/s, Mach {point.mach:.3f}",
            ("albano-rodden-1969", "hassig-1971", "tsai-wu-1971"),
        ),
        Step(
            "Best",
            "largest of the smallest margin over flutter, divergence and the root",
            "within 2 % directions count as equal and the one nearest to the leading edge is taken",
            ("mil-a-8870", "far-25-303"),
        ),
    )


CALCULATOR = Calculator(
    slug="grain-angle",
    title="Grain angle",
    question="What does turning the grain do to this fin, and which direction is best?",
    inputs=(*c.OUTLINE, *c.stock_inputs(), *c.EDGE, *c.FLYING),
    answer=answer,
    drawing=c.fin_figure,
)
