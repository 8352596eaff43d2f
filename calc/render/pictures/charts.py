"""Charts: lines, margin bars, directions and points, lettered directly rather than by legend."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from calc import units as measures
from calc.render.pictures.canvas import Canvas, Point, polyline, text_width
from calc.render.pictures.texture import hatch
from calc.render.values import unit_for
from calc.report import Figure

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


def _known(values: Sequence[Any]) -> list[float]:
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
        known = _known(values)
        if self.log:
            known = [v for v in known if v > 0]
        low = min(known, default=0.1 if self.log else 0.0)
        high = max(known, default=1.0)
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
        written = measures.SPOKEN.get(self.unit, self.unit)
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


def _frame(canvas: Canvas, x: Axis, y: Axis) -> None:
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


def _spread_out(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Return positions near the wanted ones, in their order, at least `gap` apart."""
    order = sorted(range(len(wanted)), key=lambda k: wanted[k])
    places = [0.0] * len(wanted)
    previous = low - gap
    for k in order:
        previous = max(wanted[k], previous + gap)
        places[k] = previous
    limit = high
    for k in reversed(order):
        places[k] = min(places[k], limit)
        limit = places[k] - gap
    return places


def _runs(xs: Sequence[Any], ys: Sequence[Any], x: Axis, y: Axis) -> list[list[Point]]:
    runs: list[list[Point]] = [[]]
    for vx, vy in zip(xs, ys, strict=True):
        gap = vx is None or vy is None or not (math.isfinite(vx) and math.isfinite(vy))
        if gap or (x.log and vx <= 0) or (y.log and vy <= 0):
            if runs[-1]:
                runs.append([])
            continue
        runs[-1].append((x.place(vx), y.place(vy)))
    return [run for run in runs if run]


def _gather(data: Mapping[str, Any], axis: str) -> list[float]:
    values: list[float] = []
    for series in data.get("series", ()):
        values += _known(series[axis])
    for band in data.get("bands", ()):
        if axis == "x":
            values += _known(band["x"])
        else:
            values += _known(band["low"]) + _known(band["high"])
    for mark in data.get("marks", ()):
        if mark.get("axis", "x") == axis:
            values += _known([mark["value"]])
    return values


def _marks(canvas: Canvas, data: Mapping[str, Any], x: Axis, y: Axis) -> None:
    row = 0
    for mark in data.get("marks", ()):
        value, text = float(mark["value"]), str(mark.get("label", ""))
        if mark.get("axis", "x") == "x":
            if not x.inside(value):
                continue
            place = x.place(value)
            canvas.line(place, y.start, place, y.stop, "dash")
            to_left = place + text_width(text, "small") + 8 > x.stop
            canvas.text(
                place + (-5 if to_left else 5),
                y.stop + 11 + 14 * row,
                text,
                "small",
                anchor="end" if to_left else "start",
                halo=True,
            )
            row += 1
        elif y.inside(value):
            place = y.place(value)
            canvas.line(x.start, place, x.stop, place, "dash")
            canvas.text(x.start + 5, place - 5, text, "small", halo=True)


def _summary(names: Sequence[str], x: Axis, y: Axis) -> str:
    shown = f": {', '.join(n for n in names if n)}" if any(names) else ""
    return (
        f"{y.title} against {x.title}{shown}. {x.title} from {x.tick_text(x.ticks[0])} to "
        f"{x.tick_text(x.ticks[-1])}; {y.title} from {y.tick_text(y.ticks[0])} to "
        f"{y.tick_text(y.ticks[-1])}."
        if x.ticks and y.ticks
        else f"{y.title} against {x.title}{shown}."
    )


def chart(figure: Figure, *, units: str, id: str) -> str:
    """Draw lines over one quantity, each named at its end."""
    data = figure.data
    series = list(data.get("series", ()))
    names = [str(s.get("name", "")) for s in series]
    longest = max((text_width(n, "small") for n in names), default=0.0)
    outside = longest <= 130 and len(series) > 0
    right = WIDTH - 12 - (longest + 8 if outside else 0)
    bottom = 232.0
    y = Axis(data["y"], _gather(data, "y"), units=units, start=bottom, stop=34.0, count=5)
    left = 16 + max(text_width(y.tick_text(t), "tick") for t in y.ticks or [0.0])
    x = Axis(data["x"], _gather(data, "x"), units=units, start=left, stop=right, count=5)
    canvas = Canvas(
        WIDTH,
        bottom + 44,
        id=id,
        title=figure.title,
        description=_summary(names, x, y) + " " + figure.caption,
    )
    plot = [(left, 34.0), (right, 34.0), (right, bottom), (left, bottom)]
    _frame(canvas, x, y)
    canvas.begin_clip(polyline(plot, close=True))
    for band in data.get("bands", ()):
        lower = _runs(band["x"], band["low"], x, y)
        upper = _runs(band["x"], band["high"], x, y)
        for under, over in zip(lower, upper, strict=False):
            canvas.polygon([*under, *reversed(over)], "band")
    ends: list[tuple[int, Point]] = []
    for index, item in enumerate(series):
        style = NAMED.get(str(item.get("style", "")), STROKES[index % len(STROKES)])
        runs = _runs(item["x"], item["y"], x, y)
        if item.get("style") == "points":
            for run in runs:
                for px, py in run:
                    canvas.circle(px, py, 3.4, "mark")
        else:
            canvas.path("".join(polyline(run) for run in runs), style)
        inside = [p for run in runs for p in run if left - 1 <= p[0] <= right + 1]
        inside = [p for p in inside if 33 <= p[1] <= bottom + 1] or inside
        if inside:
            ends.append((index, max(inside)))
    canvas.end()
    _marks(canvas, data, x, y)
    places = _spread_out([p[1] for _, p in ends], 14, 38, bottom - 2)
    for (index, point), level in zip(ends, places, strict=True):
        if not names[index]:
            continue
        if outside:
            if abs(level - point[1]) > 5 or point[0] < right - 6:
                canvas.path(polyline([(point[0] + 2, point[1]), (right + 5, level)]), "hair")
            canvas.text(right + 8, level + 4, names[index], "small")
        else:
            canvas.text(right - 4, level - 7, names[index], "small", anchor="end", halo=True)
    return canvas.svg()


def bars(figure: Figure, *, units: str, id: str) -> str:
    """Draw margins on a doubling scale: to the right of 1 it holds, to the left it does not."""
    data = figure.data
    rows = list(data["rows"])
    values = [float(r["margin"]) for r in rows]
    known = [v for v in values if math.isfinite(v) and v > 0]
    reach = [
        float(r[k])
        for r in rows
        for k in ("low", "high")
        if r.get(k) is not None and math.isfinite(r[k]) and r[k] > 0
    ]
    low = 2.0 ** max(-3, min(-1, math.floor(math.log2(min([*known, *reach], default=0.5)))))
    high = 2.0 ** min(3, max(2, math.ceil(math.log2(max([*known, *reach], default=4.0)))))
    left, right = 12.0, WIDTH - 16
    top, pitch = 34.0, 42.0
    bottom = top + pitch * len(rows) + 2

    def at(value: float) -> float:
        bounded = min(max(value, low * 0.9), high * 1.1)
        return left + (right - left) * math.log(bounded / low) / math.log(high / low)

    def within(value: float) -> float:
        return min(max(at(value), left), right)

    spoken = "; ".join(
        f"{r['label']}: {(r.get('bound') or '') + ' ' if r.get('bound') else ''}"
        f"{_margin_text(float(r['margin']))}"
        for r in rows
    )
    canvas = Canvas(
        WIDTH,
        bottom + 24,
        id=id,
        title=figure.title or "Margins",
        description=f"Margin of each way to fail, 1 is the edge. {spoken}.",
    )
    one = at(1.0)
    tick = low
    while tick <= high * 1.001:
        canvas.line(at(tick), top - 4, at(tick), bottom, "grid")
        text = f"{tick:g}" if tick >= 1 else {0.5: "½", 0.25: "¼", 0.125: "⅛"}[tick]
        anchor = "start" if tick == low else "end" if tick >= high * 0.999 else "middle"
        canvas.text(at(tick), bottom + 16, text, "tick", anchor=anchor)
        tick *= 2
    canvas.text(one - 6, 14, "◂ does not hold", "name", anchor="end")
    canvas.text(one + 6, 14, "holds ▸", "name")
    canvas.line(one, 4, one, bottom, "ink")
    governing = min(range(len(rows)), key=lambda k: values[k], default=-1)
    for index, row in enumerate(rows):
        level = top + pitch * index
        value = values[index]
        style = "strong" if index == governing else "label"
        canvas.text(left, level + 13, str(row["label"]), style, halo=True)
        sign = {"at least": "≥ ", "at most": "≤ "}.get(str(row.get("bound") or ""), "")
        canvas.text(
            right, level + 13, sign + _margin_text(value), "strong", anchor="end", halo=True
        )
        y = level + 20
        if math.isnan(value):
            canvas.line(left, y + 6, right, y + 6, "dot")
            continue
        end = within(value)
        x1, x2 = min(one, end), max(one, end)
        kind = "bar" if value >= 1 else "bar-short"
        canvas.rect(x1, y, max(x2 - x1, 1.5), 12, kind)
        if value < 1:
            box = [(x1, y), (x2, y), (x2, y + 12), (x1, y + 12)]
            canvas.path(hatch(box, -math.pi / 4, 4.5), "hair")
        if value > high:
            canvas.arrow_head(right + 9, y + 6, 0.0, "solid", 11)
        if value < low:
            canvas.arrow_head(left - 9, y + 6, math.pi, "solid", 11)
        if row.get("low") is not None and row.get("high") is not None:
            a, b = within(float(row["low"])), within(float(row["high"]))
            ends = "".join(
                polyline([(p, y + 2), (p, y + 10)])
                for p, v in ((a, row["low"]), (b, row["high"]))
                if low <= float(v) <= high
            )
            canvas.path(polyline([(a, y + 6), (b, y + 6)]) + ends, "whisker")
    return canvas.svg()


def _margin_text(value: float) -> str:
    if math.isnan(value):
        return "cannot say"
    if math.isinf(value):
        return "no limit" if value > 0 else "none"
    return f"{value:.2f}" if value < 9.995 else measures.significant(value, 2)


def polar(figure: Figure, *, units: str, id: str) -> str:
    """Draw a quantity over direction: a half disc for -90 to 90 degrees, a full one beyond.

    Angles count clockwise from the right, as grain turned from the leading edge toward the tube
    does on a fin drawn nose up with its tip to the right.
    """
    data = figure.data
    angles = [float(a) for a in data["angle"]]
    series = list(data["series"])
    half = max(angles) - min(angles) <= math.pi * 1.001 and min(angles) >= -math.pi / 2 - 1e-6
    spec = data.get("value", {})
    values = [v for s in series for v in _known(s["y"])]
    radius = 140.0 if half else 116.0
    axis = Axis({**spec, "zero": True}, values, units=units, start=0.0, stop=radius, count=3)
    cx = 112.0 if half else WIDTH / 2
    cy = radius + 46
    names = [str(s.get("name", "")) for s in series]
    best = data.get("best")
    told = f" Best direction: {math.degrees(best):.0f} degrees." if best is not None else ""
    height = 2 * cy + 16 * (len([n for n in names if n]) if len(series) > 1 else 0)
    canvas = Canvas(
        WIDTH,
        height,
        id=id,
        title=figure.title,
        description=f"{axis.title} over direction: {', '.join(names)}.{told} {figure.caption}",
    )

    def at(angle: float, r: float) -> Point:
        return cx + r * math.cos(angle), cy + r * math.sin(angle)

    first, last = (-90, 90) if half else (0, 360)
    for tick in axis.ticks:
        r = axis.place_shown(tick)
        if r <= 0:
            continue
        ring = [at(math.radians(a), r) for a in range(first, last + 1, 5)]
        canvas.path(polyline(ring), "grid")
        if half:
            canvas.text(cx - 5, cy - r + 4, axis.tick_text(tick), "tick", anchor="end")
        else:
            x, y = at(math.radians(-75), r)
            canvas.text(x, y + 4, axis.tick_text(tick), "tick", anchor="middle", halo=True)
    for degrees in range(first, last + (1 if half else 0), 30):
        a = math.radians(degrees)
        x1, y1 = at(a, 0.0)
        x2, y2 = at(a, radius + 4)
        canvas.line(x1, y1, x2, y2, "grid")
        x, y = at(a, radius + 9)
        cosine = math.cos(a)
        anchor = "start" if cosine > 0.3 else "end" if cosine < -0.3 else "middle"
        text = f"{degrees}°".replace("-", "−")
        lift = -2 if math.sin(a) < -0.9 else 12 if math.sin(a) > 0.9 else 4
        canvas.text(x, y + lift, text, "tick", anchor=anchor)
    for index, item in enumerate(series):
        style = NAMED.get(str(item.get("style", "")), STROKES[index % len(STROKES)])
        points = [
            at(a, axis.place(v))
            for a, v in zip(angles, item["y"], strict=True)
            if v is not None and math.isfinite(v)
        ]
        closed = not half and math.isclose(angles[-1] - angles[0], 2 * math.pi, rel_tol=1e-6)
        canvas.path(polyline(points, close=closed), style)
    for mark in data.get("marks", ()):
        a = float(mark["angle"])
        x1, y1 = at(a, 6.0)
        x2, y2 = at(a, radius)
        canvas.line(x1, y1, x2, y2, "dash")
        x, y = at(a, radius * 0.84)
        canvas.text(x + 7, y + 2, str(mark["label"]), "small", halo=True)
    if best is not None:
        a = float(best)
        tops = [
            axis.place(s["y"][min(range(len(angles)), key=lambda k: abs(angles[k] - a))])
            for s in series[:1]
        ]
        x2, y2 = at(a, tops[0])
        canvas.arrow(cx, cy, x2, y2, "ink", 10)
        canvas.circle(x2, y2, 5.5, "line")
        label = str(data.get("best_label") or f"best: {math.degrees(a):.0f}°").replace("-", "−")
        mx, my = cx + 0.55 * (x2 - cx), cy + 0.55 * (y2 - cy)
        canvas.text(mx, my - 9, label, "strong", anchor="middle", halo=True)
    canvas.circle(cx, cy, 2.6, "mark")
    canvas.text(8, 16, axis.title, "label")
    if len(series) > 1:
        level = 2 * cy + 2
        for index, name in enumerate(names):
            if not name:
                continue
            style = NAMED.get(str(series[index].get("style", "")), STROKES[index % len(STROKES)])
            canvas.line(14, level - 4, 46, level - 4, style)
            canvas.text(54, level, name, "small")
            level += 16
    return canvas.svg()


SHAPES = ("circle", "square", "triangle", "diamond", "cross", "ring", "plus", "star")


def _symbol(canvas: Canvas, x: float, y: float, shape: str) -> None:
    r = 4.4
    if shape == "circle":
        canvas.circle(x, y, r * 0.9, "mark")
    elif shape == "ring":
        canvas.circle(x, y, r * 0.9, "line")
    elif shape == "square":
        canvas.rect(x - r * 0.85, y - r * 0.85, 1.7 * r, 1.7 * r, "mark")
    elif shape == "triangle":
        canvas.polygon([(x, y - r), (x + r, y + 0.8 * r), (x - r, y + 0.8 * r)], "mark")
    elif shape == "diamond":
        canvas.polygon([(x, y - 1.2 * r), (x + r, y), (x, y + 1.2 * r), (x - r, y)], "line")
    elif shape == "cross":
        canvas.path(
            polyline([(x - r, y - r), (x + r, y + r)]) + polyline([(x - r, y + r), (x + r, y - r)]),
            "ink",
        )
    elif shape == "plus":
        canvas.path(polyline([(x - r, y), (x + r, y)]) + polyline([(x, y - r), (x, y + r)]), "ink")
    else:
        canvas.path(
            "".join(
                polyline(
                    [
                        (x - r * math.cos(a), y - r * math.sin(a)),
                        (x + r * math.cos(a), y + r * math.sin(a)),
                    ]
                )
                for a in (0.0, math.pi / 3, 2 * math.pi / 3)
            ),
            "line",
        )


def scatter(figure: Figure, *, units: str, id: str) -> str:
    """Draw points by family, each family with its own mark, and name as many as fit."""
    data = figure.data
    points = list(data["points"])
    families = list(dict.fromkeys(str(p.get("family", "")) for p in points))
    guides = list(data.get("guides", ()))
    keys = [f for f in families if f]
    bottom = 262.0
    xs = [float(p["x"]) for p in points]
    ys = [float(p["y"]) for p in points]
    y = Axis(data["y"], ys, units=units, start=bottom, stop=34.0, count=5)
    left = 16 + max(text_width(y.tick_text(t), "tick") for t in y.ticks or [0.0])
    right = WIDTH - 14
    x = Axis(data["x"], xs, units=units, start=left, stop=right, count=5)
    per_row = 2
    key_rows = math.ceil(len(keys) / per_row) if len(keys) > 1 else 0
    named = ", ".join(str(p.get("label", "")) for p in points[:24])
    canvas = Canvas(
        WIDTH,
        bottom + 48 + 17 * key_rows,
        id=id,
        title=figure.title,
        description=_summary(families, x, y) + f" Points: {named}. {figure.caption}",
    )
    _frame(canvas, x, y)
    for tick in x.ticks:
        canvas.line(x.place_shown(tick), bottom, x.place_shown(tick), 34, "grid")
    plot = polyline([(left, 34.0), (right, 34.0), (right, bottom), (left, bottom)], close=True)
    canvas.begin_clip(plot)
    for guide in guides:
        canvas.path("".join(polyline(run) for run in _runs(guide["x"], guide["y"], x, y)), "dash")
    canvas.end()
    boxes: list[tuple[float, float, float, float]] = []
    places = [(x.place(a), y.place(b)) for a, b in zip(xs, ys, strict=True)]
    boxes += [(px - 5, py - 5, px + 5, py + 5) for px, py in places]
    for guide in guides:
        inside = [
            p
            for run in _runs(guide["x"], guide["y"], x, y)
            for p in run
            if left <= p[0] <= right - 10 and 44 <= p[1] <= bottom
        ]
        if inside and guide.get("label"):
            px, py = max(inside)
            text = str(guide["label"])
            canvas.text(px - 4, py - 4, text, "name", anchor="end", halo=True)
            boxes.append((px - 4 - text_width(text, "name"), py - 15, px, py))
    for point, (px, py) in zip(points, places, strict=True):
        index = families.index(str(point.get("family", "")))
        _symbol(canvas, px, py, SHAPES[index % len(SHAPES)])
    for point, (px, py) in zip(points, places, strict=True):
        text = str(point.get("label", ""))
        wide = text_width(text, "small")
        for anchor, dx, dy in (
            ("start", 8, 4),
            ("end", -8, 4),
            ("middle", 0, -8),
            ("middle", 0, 16),
        ):
            x1 = px + dx - (wide if anchor == "end" else wide / 2 if anchor == "middle" else 0)
            box = (x1, py + dy - 10, x1 + wide, py + dy + 2)
            free = all(
                box[2] < b[0] or b[2] < box[0] or box[3] < b[1] or b[3] < box[1] for b in boxes
            )
            if text and free and x1 > left and x1 + wide < WIDTH - 2 and box[1] > 30:
                canvas.text(px + dx, py + dy, text, "small", anchor=anchor, halo=True)
                boxes.append(box)
                break
    if key_rows:
        for index, family in enumerate(keys):
            kx = 20 + (index % per_row) * 172
            ky = bottom + 54 + 17 * (index // per_row)
            _symbol(canvas, kx, ky - 4, SHAPES[families.index(family) % len(SHAPES)])
            canvas.text(kx + 11, ky, family, "small")
    return canvas.svg()
