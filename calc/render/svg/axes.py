"""Common parts of every chart: axes with round ticks, their frame, lines broken at gaps."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from calc import units as measures
from calc.render.svg.canvas import Canvas, Point, text_width
from calc.wording import TRADE, unit_for, with_unit

WIDTH = 360.0
STROKES = ("accent", "second", "third", "fourth")
NAMED = {
    "solid": "accent",
    "thick": "accent",
    "thin": "line",
    "dash": "second",
    "dot": "third",
    "dashdot": "fourth",
}


def line_style(series: Mapping[str, Any], index: int) -> str:
    """Return the paint of a series: the one it asks for, or the next of `STROKES`."""
    return NAMED.get(str(series.get("style", "")), STROKES[index % len(STROKES)])


def length_text(value: float, units: str) -> str:
    """Return a length as it is lettered in a picture: in prose, always with both rulers.

    >>> length_text(0.0635, TRADE), length_text(0.0728, TRADE), length_text(0.0728, "metric")
    ('2 1/2 in (64 mm)', '2.87 in (73 mm)', '72.8 mm')

    Who typed 4.2 in is to read that, and not the nearest sixty-fourth:

    >>> length_text(4.2 * 0.0254, "inch"), length_text(4.25 * 0.0254, "inch")
    ('4.2 in', '4 1/4 in')
    """
    if units == "inch" and not _is_fraction(value):
        return f"{measures.plain(measures.to_unit(value, 'length', 'in'), digits=3)} in"
    text = with_unit(value, "length", units)
    if units != TRADE or "(" in text or value == 0.0:
        return text
    inches = measures.significant(measures.to_unit(value, "length", "in"))
    return f"{inches} in ({measures.show(value, 'length', 'mm', digits=2)})"


HAIR = 0.0005 * measures.INCH
"""What no rule shows [m]: a fraction of an inch that is farther off is not what somebody meant."""


def _is_fraction(value: float) -> bool:
    return value <= 0.0 or measures.inch_fraction(value, tolerance=HAIR / value) is not None


def known(values: Sequence[Any]) -> list[float]:
    """Return the finite numbers among values, of which None means a gap."""
    return [float(v) for v in values if v is not None and math.isfinite(v)]


def nice_step(extent: float, count: int) -> float:
    """Return a round step that cuts an extent into about `count` parts.

    >>> nice_step(9.3, 5), nice_step(0.8, 4)
    (2.0, 0.2)
    """
    rough = extent / max(count, 1)
    power = 10.0 ** math.floor(math.log10(rough))
    for factor in (1, 2, 2.5, 5, 10):
        if rough <= factor * power * (1 + 1e-9):
            return float(f"{factor * power:.6g}")
    return 10 * power


class Axis:
    """One axis: from an SI value to a place on the page, with its ticks."""

    def __init__(
        self,
        spec: Mapping[str, Any],
        values: Sequence[float],
        *,
        units: str,
        start: float,
        stop: float,
        count: int,
    ) -> None:
        self.kind = str(spec.get("kind") or "number")
        self.log = bool(spec.get("log"))
        self.start, self.stop = start, stop
        found = [v for v in known(values) if v > 0 or not self.log]
        low = min(found, default=0.1 if self.log else 0.0)
        high = max(found, default=1.0)
        asked = spec.get("unit")
        if isinstance(asked, Mapping):
            asked = asked.get(units)
        self.unit = str(asked or unit_for(self.kind, units, high))
        low, high = self._shown(low), self._shown(high)
        if spec.get("low") is not None:
            low = self._shown(float(spec["low"]))
        elif not self.log and (spec.get("zero") or 0 <= low < 0.35 * high):
            low = 0.0
        if spec.get("high") is not None:
            high = self._shown(float(spec["high"]))
        if high - low <= 1e-12 * max(abs(high), abs(low), 1e-300):
            low, high = low - abs(low or 1) * 0.1, high + abs(high or 1) * 0.1
        if self.log:
            self.low, self.high = low / 1.08, high * 1.08
            self.ticks = self._log_ticks(count)
        else:
            step = nice_step(high - low, count)
            self.low = low if spec.get("low") is not None else math.floor(low / step + 1e-6) * step
            self.high = (
                high if spec.get("high") is not None else math.ceil(high / step - 1e-6) * step
            )
            first = math.ceil(self.low / step - 1e-6)
            last = math.floor(self.high / step + 1e-6)
            self.ticks = [k * step for k in range(first, last + 1)]
        written = measures.spoken(self.unit)
        self.title = str(spec.get("label", ""))
        if written:
            self.title += f", {written}"

    def _shown(self, value: float) -> float:
        return measures.to_unit(value, self.kind, self.unit)

    def _log_ticks(self, count: int) -> list[float]:
        ticks: list[float] = []
        first, last = math.floor(math.log10(self.low)), math.ceil(math.log10(self.high))
        for steps in ((1,), (1, 3), (1, 2, 5), (1, 1.5, 2, 3, 4, 5, 7)):
            ticks = [m * 10.0**p for p in range(first, last + 1) for m in steps]
            ticks = [t for t in ticks if self.low <= t <= self.high]
            if len(ticks) >= max(3, count - 2):
                break
        return ticks

    def place_shown(self, shown: float) -> float:
        """Return where a value in the axis's own unit lies."""
        if self.log:
            if shown <= 0:
                return self.start - (self.stop - self.start)
            share = math.log(shown / self.low) / math.log(self.high / self.low)
        else:
            share = (shown - self.low) / (self.high - self.low)
        share = min(max(share, -4.0), 5.0)
        return self.start + share * (self.stop - self.start)

    def place(self, value: float) -> float:
        """Return where an SI value lies on the page."""
        return self.place_shown(self._shown(value))

    def inside(self, value: float) -> bool:
        """Tell whether an SI value lies on the axis."""
        shown = self._shown(value)
        slack = 1e-9 * (self.high - self.low)
        return self.low - slack <= shown <= self.high + slack

    def tick_text(self, shown: float) -> str:
        """Return a tick's lettering."""
        if shown == 0:
            return "0"
        if self.log:
            return measures.significant(shown, 2).removesuffix(".0")
        step = self.ticks[1] - self.ticks[0] if len(self.ticks) > 1 else abs(shown)
        decimals = max(0, -math.floor(math.log10(step) + 1e-9))
        if abs(step * 10**decimals - round(step * 10**decimals)) > 1e-6:
            decimals += 1
        text = f"{shown:,.{decimals}f}".replace(",", "\u202f").replace("-", "−")
        return text


def frame(canvas: Canvas, x: Axis, y: Axis) -> None:
    """Draw the grid, the ticks and the titles of two axes."""
    left, right, bottom, top = x.start, x.stop, y.start, y.stop
    for tick in y.ticks:
        level = y.place_shown(tick)
        canvas.line(left, level, right, level, "grid")
        canvas.text(left - 6, level + 4, y.tick_text(tick), "tick", anchor="end")
    taken = -1e9
    for tick in x.ticks:
        place = x.place_shown(tick)
        canvas.line(place, bottom, place, bottom + 4, "dim")
        text = x.tick_text(tick)
        half = 0.5 * text_width(text, "tick")
        if place - half > taken + 6:
            canvas.text(place, bottom + 16, text, "tick", anchor="middle")
            taken = place + half
    canvas.line(left, bottom, right, bottom, "line")
    canvas.text(0.5 * (left + right), bottom + 34, x.title, "label", anchor="middle")
    canvas.text(max(4.0, left - 40), top - 14, y.title, "label")


def spread_out(
    wanted: Sequence[float],
    gap: float,
    low: float,
    high: float,
    lines: Sequence[int] | None = None,
) -> list[float]:
    """Return middles of labels near the wanted ones, in their order, none over another.

    `gap` is the height of a line, `lines` says how many each label has; `low` and `high` are the
    first and last middle of a line.

    >>> spread_out([10.0, 12.0], 14.0, 0.0, 100.0)
    [10.0, 24.0]
    >>> spread_out([50.0, 52.0], 14.0, 0.0, 100.0, [3, 1])
    [50.0, 78.0]
    """
    halves = [0.5 * gap * count for count in lines or [1] * len(wanted)]
    order = sorted(range(len(wanted)), key=lambda k: wanted[k])
    places = [0.0] * len(wanted)
    edge = low - 0.5 * gap
    for k in order:
        places[k] = max(wanted[k], edge + halves[k])
        edge = places[k] + halves[k]
    edge = high + 0.5 * gap
    for k in reversed(order):
        places[k] = min(places[k], edge - halves[k])
        edge = places[k] - halves[k]
    return places


def runs_of(xs: Sequence[Any], ys: Sequence[Any], x: Axis, y: Axis) -> list[list[Point]]:
    """Return the stretches of a line between its gaps, as points on the page."""
    runs: list[list[Point]] = [[]]
    for vx, vy in zip(xs, ys, strict=True):
        gap = vx is None or vy is None or not (math.isfinite(vx) and math.isfinite(vy))
        if gap or (x.log and vx <= 0) or (y.log and vy <= 0):
            if runs[-1]:
                runs.append([])
            continue
        runs[-1].append((x.place(vx), y.place(vy)))
    return [run for run in runs if run]


def summary(names: Sequence[str], x: Axis, y: Axis) -> str:
    """Return in words what is drawn against what, and from where to where."""
    shown = f": {', '.join(n for n in names if n)}" if any(names) else ""
    return (
        f"{y.title} against {x.title}{shown}. {x.title} from {x.tick_text(x.ticks[0])} to "
        f"{x.tick_text(x.ticks[-1])}; {y.title} from {y.tick_text(y.ticks[0])} to "
        f"{y.tick_text(y.ticks[-1])}."
        if x.ticks and y.ticks
        else f"{y.title} against {x.title}{shown}."
    )
