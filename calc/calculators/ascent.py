"""How a fin's margins run along its flight: a picture and a table of the moments judged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calc import check, finder
from calc.aeroelastic import SUBSONIC_LIMIT
from calc.calculators import common as c
from calc.report import Column, Figure, LowerLimit, Table

TITLE = "Margin along the ascent"
NEAR = 0.01
"""Share of the time shown within which two moments are told as one."""
REACH = 3.0
"""The chart reaches to so many times the lowest margin, and to as much at least."""
BEYOND = f"above Mach {SUBSONIC_LIMIT:g}"
UP_TO = f"up to Mach {SUBSONIC_LIMIT:g}"
TABLED = ("flutter", "divergence", "bending")


@dataclass(frozen=True)
class Row:
    """One moment of the ascent with the margins there, by name."""

    place: int
    time: float
    height: float
    point: check.Point
    margins: dict[str, check.Margin]

    @property
    def beyond(self) -> bool:
        """Whether the moment is faster than the subsonic model goes."""
        return self.point.mach > SUBSONIC_LIMIT


def rows(flying: c.Flying, climb: finder.Climb) -> tuple[Row, ...]:
    """Return the moments in the order of time; of nearly equal ones the more telling one."""
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


def _told(margin: check.Margin) -> bool:
    """Whether a margin may be shown: one that cannot be promised may warn, never reassure."""
    return margin.known or margin.ratio < 1.0


def _said(row: Row, name: str, passes: bool) -> float | None:
    """Return a margin, or None where nothing can be said: beyond Mach 0.9, or not known.

    A mere limit is that of the model's end; a flight that passes it has not met a boundary there.
    """
    margin = row.margins.get(name)
    if margin is None or row.beyond or not _told(margin) or (passes and margin.bound):
        return None
    return margin.ratio


def figure(flying: c.Flying, climb: finder.Climb, result: check.Check) -> Figure:
    """Return margins and airspeed over time, the worst moment and what cannot be said."""
    assert flying.ascent is not None
    found = rows(flying, climb)
    weakest = check.weakest(result.margins)
    passes = any(row.beyond for row in found)
    slow = [row for row in found if not row.beyond]
    limits = {name: [row.margins[name].bound for row in slow] for name in TABLED}
    lines = {name: [_said(row, name, passes) for row in found] for name in TABLED}
    names = {"flutter": "Flutter", "divergence": "Divergence", "bending": "Bending at the root"}
    if all(limits["flutter"]) and all(limits["divergence"]):
        # the same limit twice, the end of the model
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
    top = max(REACH, REACH * min([weakest.ratio, *lowest.values()]))
    shown = [name for name in lowest if lowest[name] < top or name == weakest.name]
    caption = [
        "From the pad to where the air hardly loads the fin any more; straight lines between the "
        "moments computed."
    ]
    if "flutter" not in lines:
        caption.append("Flutter comes no earlier than divergence.")
    if passes and not all(name in lowest for name in lines):
        caption.append(f"No boundary of flutter or divergence is met {UP_TO}.")
    caption += [
        f"{names[name]} stays above {top:.2g}{f' {UP_TO}' if passes else ''}."
        for name in lowest
        if name not in shown
    ]
    bound = "at least " if weakest.bound else ""
    said = f"{bound}{weakest.ratio:.2f}" if _told(weakest) else "cannot say"
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
                "margin": weakest.ratio if _told(weakest) else None,
                "label": f"worst moment: {weakest.label.lower()} {said}",
            },
            "burnout": burnout,
            "outside": _outside(flying, found),
        },
    )


def _outside(flying: c.Flying, found: tuple[Row, ...]) -> list[dict[str, object]]:
    """Return the stretches of time about which the model says nothing."""
    assert flying.ascent is not None
    out: list[dict[str, object]] = []
    passage = flying.ascent.reached("mach", SUBSONIC_LIMIT)
    if passage is not None:
        out.append({"from": passage[0], "to": passage[1], "label": BEYOND})
    doubtful = [row.time for row in found if not row.beyond and not row.margins["flutter"].known]
    if doubtful:
        out.append({"from": doubtful[0], "to": doubtful[-1], "label": "flutter"})
    return out


def table(flying: c.Flying, climb: finder.Climb) -> Table:
    """Return the moments with their margins."""
    assert flying.ascent is not None
    found = rows(flying, climb)
    burnout = flying.ascent.burnout.time
    passes = any(row.beyond for row in found)
    nearest = min(found, key=lambda row: abs(row.time - burnout))
    lines = []
    for row in found:
        worst = row.place == climb.worst
        remarks = ["worst moment"] if worst else []
        if row is nearest:
            remarks.append("motor burns out")
        # beyond Mach 0.9 the margin is a bracket, told where it is the verdict's
        told = {
            name: margin.ratio
            for name, margin in row.margins.items()
            if (row.beyond and worst and _told(margin)) or _said(row, name, passes) is not None
        }
        if row.beyond:
            remarks.append(f"{BEYOND}: {'bracketed' if told else 'cannot say'}")
        else:
            unmet = [name for name in TABLED if name not in told and row.margins[name].bound]
            unknown = [name for name in TABLED if name not in told and name not in unmet]
            if unmet:
                remarks.append(f"{' and '.join(unmet)}: no boundary {UP_TO}")
            if unknown:
                remarks.append(f"{' and '.join(unknown)}: cannot say")
        lines.append(
            (
                row.time,
                *(
                    LowerLimit(told[name])
                    if name in told and row.margins[name].bound
                    else told.get(name)
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
        note="Margins are capacity over demand at that moment; 1 is the edge. “At least”: no "
        "boundary as far as the model goes, or flutter not before divergence.",
    )
