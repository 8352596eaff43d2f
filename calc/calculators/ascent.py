"""How a fin's margins run along its flight: a picture and a table of the moments judged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calc.calculators import shared as c
from calc.fin import check, policy, search
from calc.fin.fin import Point
from calc.margin import Margin
from calc.report import Column, Figure, LowerLimit, Table

TITLE = "Margin along the ascent"
NEAR = 0.01
"""Share of the time shown within which two moments are listed as one."""
REACH = 3.0
"""The chart reaches to so many times the lowest margin, and to as much at least."""
LESS_SURE = f"above Mach {policy.TRANSONIC_RANGE[0]:g}"
"""Where the air's theory is corrected by wind-tunnel tests and more margin is required."""
TABLED = ("flutter", "divergence", "bending")


@dataclass(frozen=True)
class Row:
    """One moment of the ascent with the margins there, by name."""

    place: int
    time: float
    height: float
    point: Point
    margins: dict[str, Margin]


def rows(flying: c.Flying, climb: search.Climb) -> tuple[Row, ...]:
    """Return the moments in the order of time; of nearly simultaneous ones the more critical."""
    assert flying.ascent is not None
    burnout = flying.times.index(flying.ascent.burnout.time)
    leading = [climb.worst, burnout, *range(len(flying.points))]
    first, last = min(flying.times), max(flying.times)
    kept: list[int] = []
    for place in dict.fromkeys(leading):
        time = flying.times[place]
        if all(abs(time - flying.times[other]) > NEAR * (last - first) for other in kept):
            kept.append(place)
    return tuple(
        Row(
            place,
            flying.times[place],
            flying.heights[place],
            flying.points[place],
            {m.name: m for m in climb.margins[place] if m.flight},
        )
        for place in sorted(kept, key=lambda place: flying.times[place])
    )


def _reportable(margin: Margin) -> bool:
    """Whether a margin may be shown: one that cannot be promised may warn, never reassure."""
    return margin.known or margin.margin < 1.0


def _reported_margin(row: Row, name: str) -> float | None:
    """Return a margin, or None where nothing can be said."""
    margin = row.margins.get(name)
    return margin.margin if margin is not None and _reportable(margin) else None


def figure(flying: c.Flying, climb: search.Climb, result: check.Check) -> Figure:
    """Return margins and airspeed over time, the worst moment and what cannot be said."""
    assert flying.ascent is not None
    found = rows(flying, climb)
    weakest = policy.weakest(result.margins)
    limits = {name: [row.margins[name].bound for row in found] for name in TABLED}
    lines = {name: [_reported_margin(row, name) for row in found] for name in TABLED}
    names = {"flutter": "Flutter", "divergence": "Divergence", "bending": "Bending at the root"}
    if all(limits["flutter"]) and all(limits["divergence"]):
        # the same limit twice, the end of what was looked at
        names["flutter"] = "Flutter and divergence"
        del lines["divergence"]
    elif all(limits["flutter"]):
        del lines["flutter"]
    elif all(limits["divergence"]):
        del lines["divergence"]
    for name in ("flutter", "divergence"):
        if any(limits[name]):
            names[name] += ", at least"
    lowest = {
        name: min(known)
        for name, line in lines.items()
        if (known := [value for value in line if value is not None])
    }
    top = max(REACH, REACH * min([weakest.margin, *lowest.values()]))
    shown = [name for name in lowest if lowest[name] < top or name == weakest.name]
    caption = [
        "From the pad to where the air hardly loads the fin any more; straight lines between the "
        "moments computed."
    ]
    if "flutter" not in lines:
        caption.append("Flutter comes no earlier than divergence.")
    caption += [f"{names[name]} stays above {top:.2g}." for name in lowest if name not in shown]
    bound = "at least " if weakest.bound else ""
    shown_margin = f"{bound}{weakest.margin:.2f}" if _reportable(weakest) else "cannot say"
    span = np.linspace(0.0, found[-1].time, 49)
    burnout = flying.ascent.burnout.time
    times = np.unique(np.append(span, [burnout, flying.times[climb.worst]]))
    return Figure(
        "ascent",
        TITLE,
        " ".join(caption),
        {
            "time": [row.time for row in found],
            "series": [{"name": names[name], "y": lines[name]} for name in shown],
            "top": top,
            "flight": {
                "time": times.tolist(),
                "speed": [moment.speed for moment in flying.ascent.moments(times)],
            },
            "worst": {
                "time": flying.times[climb.worst],
                "speed": result.point.speed,
                "margin": weakest.margin if _reportable(weakest) else None,
                "label": f"worst moment: {weakest.label.lower()} {shown_margin}",
            },
            "burnout": burnout,
            "outside": _outside(flying, found),
        },
    )


def _outside(flying: c.Flying, found: tuple[Row, ...]) -> list[dict[str, object]]:
    """Return the stretches of time about which the model is less sure or says nothing."""
    assert flying.ascent is not None
    out: list[dict[str, object]] = []
    passage = flying.ascent.reached("mach", policy.TRANSONIC_RANGE[0])
    if passage is not None:
        out.append({"from": passage[0], "to": passage[1], "label": LESS_SURE, "said": "less sure"})
    doubtful = [row.time for row in found if not row.margins["flutter"].known]
    if doubtful:
        out.append(
            {"from": doubtful[0], "to": doubtful[-1], "label": "flutter", "said": "cannot say"}
        )
    return out


def table(flying: c.Flying, climb: search.Climb) -> Table:
    """Return the moments with their margins."""
    assert flying.ascent is not None
    found = rows(flying, climb)
    burnout = flying.ascent.burnout.time
    nearest = min(found, key=lambda row: abs(row.time - burnout))
    lines = []
    for row in found:
        worst = row.place == climb.worst
        remarks = ["worst moment"] if worst else []
        if row is nearest:
            remarks.append("motor burns out")
        ratios = {
            name: ratio for name in TABLED if (ratio := _reported_margin(row, name)) is not None
        }
        if row.point.mach > policy.TRANSONIC_RANGE[0]:
            remarks.append(f"{LESS_SURE}: less sure")
        unknown = [name for name in TABLED if name not in ratios]
        if unknown:
            remarks.append(f"{' and '.join(unknown)}: cannot say")
        lines.append(
            (
                row.time,
                *(
                    LowerLimit(ratios[name])
                    if name in ratios and row.margins[name].bound
                    else ratios.get(name)
                    for name in TABLED
                ),
                row.point.speed,
                row.point.mach,
                row.height,
                "; ".join(remarks),
            )
        )
    return Table(
        TITLE,
        (
            Column("time", "Time", "time"),
            Column("flutter", "Flutter", "number"),
            Column("divergence", "Divergence", "number"),
            Column("bending", "Bending", "number"),
            Column("speed", "Airspeed", "speed"),
            Column("mach", "Mach", "number", 2),
            Column("height", "Height", "altitude"),
            Column("remark", "Remark"),
        ),
        tuple(lines),
        note="Margins are capacity over demand at that moment; 1 is the edge. “At least”: none "
        "was found as far as the search went, or flutter does not come before divergence.",
    )
