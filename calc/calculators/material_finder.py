"""Which materials and stock thicknesses hold for this fin, and what each weighs and costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Unpack

import numpy as np

from calc import forms, materials
from calc.calculators import fin_check, judging, money, other_parts
from calc.calculators import shared as c
from calc.errors import InputError, ValidityError
from calc.fin import check, search
from calc.fin.fin import Fin, Point
from calc.flight import stability
from calc.forms import Calculator, Choice, Input
from calc.margin import Margin
from calc.materials import GRADES, Material, Stock
from calc.report import CAUTION, Answer, Column, Figure, LowerLimit, Report, Step, Table, Verdict
from calc.wording import listed

BENCH = "What you have and can work"
TAB_WEIGHED = " The tab through the wall is weighed with each fin; prices are without it."

INPUTS = (
    *c.OUTLINE,
    Input(
        "grain",
        "Grain angle to the leading edge",
        "angle",
        "0",
        help="The same for every material tried.",
        group=c.FIN,
        unit="deg",
        low=-1.5707963267948966,
        high=3.141592653589793,
    ),
    Input(
        "stock",
        "Stock sizes",
        "choice",
        "inch",
        help="Paper and printed parts are offered in every system.",
        group=BENCH,
        choices=(
            Choice("inch", "inch sheets"),
            Choice("metric", "metric sheets"),
            Choice("both", "both"),
        ),
    ),
    Input(
        "only",
        "Only these",
        "text",
        "",
        help="Materials or families, with commas between: wood, plywood, foam. Leave empty to try "
        "all.",
        group=BENCH,
        optional=True,
    ),
    Input(
        "leave_out",
        "Leave out",
        "text",
        "",
        help="Materials or families you cannot get or do not want.",
        group=BENCH,
        optional=True,
    ),
    Input(
        "hardest",
        "Hardest work you accept",
        "choice",
        "5",
        help="In cutting, shaping or finishing.",
        group=BENCH,
        choices=tuple(Choice(str(n), GRADES[n]) for n in range(1, 6)),
    ),
    *c.EDGE,
    *c.FLYING,
    *other_parts.FIN_INPUTS,
    money.PRICES,
    money.CURRENCY,
)


class MaterialFinderValues(
    c.OutlineValues,
    c.EdgeValues,
    c.FlyingValues,
    other_parts.FinPartsValues,
    c.UnitsValues,
):
    """Values of this calculator."""

    count: int
    body: float
    grain: float
    stock: str
    only: str | None
    leave_out: str | None
    hardest: str
    price_list: tuple[money.Priced, ...] | None
    currency: str | None


@dataclass(frozen=True, eq=False)
class Row:
    """One material of the answer with what it costs."""

    found: search.Found
    mass: float
    """Of the set of fins with their tabs [kg], nan where no size fits."""
    price: tuple[float, float] | None
    bench: int | None
    finish: int | None
    lost: float | None
    """Height lost against the lightest fins that hold [m]; None without a motor."""


def named(text: str | None, name: str) -> frozenset[str]:
    """Return the materials that a list of materials and families names.

    >>> sorted(named("plywood, balsa", "only"))
    ['balsa', 'birch-plywood', 'light-plywood']
    """
    wanted = ["-".join(part.lower().split()) for part in (text or "").split(",") if part.strip()]
    if not wanted:
        return frozenset()
    known = {item.name: item for item in materials.usable()}
    families = sorted({item.family for item in known.values()})
    out: set[str] = set()
    for word in wanted:
        hits = {key for key, item in known.items() if word in (key, item.family)}
        if not hits:
            accepts = (
                f"families ({', '.join(families)}) or materials ({', '.join(known)}), "
                "with commas between"
            )
            raise InputError(name, text or "", accepts)
        out |= hits
    return frozenset(out)


SKINS_SANDED_OFF = ("tapered", "airfoil")
"""Edges that are sanded far into the sheet: a skinned sheet would lose its skins there."""


def chosen(
    only: str | None, leave_out: str | None, hardest: int, edge: str = "square"
) -> tuple[Material, ...]:
    """Return the materials to try."""
    kept = named(only, "only")
    dropped = named(leave_out, "leave_out")
    out = []
    for item in materials.usable():
        name = item.name
        hard = max(item.workability[key].grade for key in ("cut", "shape", "finish"))
        bare = item.kind != "faced-core" or edge not in SKINS_SANDED_OFF
        if (not kept or name in kept) and name not in dropped and hard <= hardest and bare:
            out.append(item)
    if not out:
        raise InputError(
            "only",
            only or "",
            "a choice that leaves a material you accept to work (skinned sheets only with square "
            "or rounded edges)",
        )
    return tuple(out)


def template(values: MaterialFinderValues) -> Fin:
    """Return the fin whose outline every candidate shares."""
    shape = c.outline_of(values)
    return Fin(
        planform=shape,
        material=materials.load("balsa"),
        thickness=min(0.003, 0.02 * shape.root),
        grain=values["grain"],
        edge=c.edge_of(values["edge"], values["bevel"]),
        count=values["count"],
        hand=c.hand_of(values),
    )


def label(found: search.Found) -> str:
    """Return a material with its stock size, short enough for a chart."""
    size = found.stock.trade_label if found.stock else ""
    return f"{found.material.label}, {size}" if size else found.material.label


def price(
    material: Material,
    thickness: float,
    *,
    area: float,
    count: int,
    listed: Sequence[money.Priced] | None,
) -> tuple[float, float] | None:
    """Return the least and most that a set of fins costs, without waste; None where not known.

    Invented prices count only where the reader has given none.

    Parameters
    ----------
    thickness, area
        Of the sheet [m] and of one fin [m2].
    count
        Fins in a set.
    listed
        The reader's own prices.
    """
    mine = money.find(listed, material.name, thickness=thickness)
    if mine is not None:
        return (mine.per_area * area * count,) * 2
    if listed or material.price is None:
        return None
    low, high = material.price.band(thickness)
    return low * area * count, high * area * count


def ranked(
    found: Sequence[search.Found],
    area: float,
    count: int,
    lost_per_mass: float | None,
    listed: Sequence[money.Priced] | None = None,
    tab: c.Tab | None = None,
) -> tuple[Row, ...]:
    """Return the materials that hold, lightest first, then the others by their margin."""
    masses = [c.set_mass(item, tab) for item in found]
    lightest = min(
        (mass for mass, item in zip(masses, found, strict=True) if item.holds), default=0.0
    )
    rows = []
    for mass, item in zip(masses, found, strict=True):
        cost = None
        if item.stock is not None:
            cost = price(item.material, item.stock.thickness, area=area, count=count, listed=listed)
        work = item.material.workability
        lost = None
        if lost_per_mass is not None and item.holds:
            lost = lost_per_mass * (mass - lightest)
        rows.append(
            Row(
                item,
                mass,
                cost,
                work["cut"].grade + work["shape"].grade if work else None,
                work["finish"].grade if work else None,
                lost,
            )
        )

    def order(row: Row) -> tuple[bool, float]:
        if row.found.holds:
            return False, row.mass
        return True, -row.found.judged.governs.margin if row.found.judged else 0.0

    return tuple(sorted(rows, key=order))


def searched(
    values: MaterialFinderValues,
    fin: Fin,
    flying: c.Flying,
    tried: Sequence[Material],
    progress: forms.Progress | None = None,
) -> tuple[search.Found, ...]:
    """Return what holds of each material, its joint and its landing with it."""

    def others(other: Fin, trial: check.Variant) -> tuple[Margin, ...]:
        return other_parts.of_fin(values, other, trial, flying)[0]

    return search.find(
        fin, flying.points, tried, system=values["stock"], others=others, progress=progress
    )


def answer(
    *, progress: forms.Progress | None = None, **values: Unpack[MaterialFinderValues]
) -> Report:
    """Answer for SI values by input name."""
    fin = template(values)
    flying = c.flying(values)
    tried = chosen(values["only"], values["leave_out"], int(values["hardest"]), values["edge"])
    found = searched(values, fin, flying, tried, progress)
    lost_per_mass = None
    if values["flight"] == "motor":
        lost_per_mass = stability.height_effect(launch=c.launch_of(values)).lost_per_mass
    tab = c.tab_of(values, fin.planform.root)
    area = fin.planform.area
    rows = ranked(found, area, fin.count, lost_per_mass, values["price_list"], tab)
    good = [row for row in rows if row.found.holds]
    rest = [row for row in rows if not row.found.holds]
    point = search.worst_moments(flying.points)[0]
    answers = [
        Answer("holding", "Materials that hold", float(len(good)), "number", digits=2),
        Answer("tried", "Materials tried", float(len(rows)), "number", digits=2),
        Answer("demand_speed", "Speed at the hardest moment", point.speed, "speed"),
    ]
    if good:
        best = good[0].found
        assert best.stock is not None
        answers += [
            Answer(
                "lightest_mass", f"Lightest {fin.count} fins that hold", good[0].mass, "mass",
                note=label(best),
            ),
            Answer("lightest_thickness", "Their thickness", best.stock.thickness, "length"),
        ]  # fmt: skip
    if lost_per_mass is not None:
        answers.append(
            Answer(
                "height_per_gram", "Height lost for each gram more", lost_per_mass * 1e-3,
                "altitude", note="negative: the rocket is lighter than its best mass",
            )
        )  # fmt: skip
    tables = [_holding(good, values, tab)] if good else []
    if rest:
        tables.append(_failing(rest, c.formatter(values)))
    return Report(
        calculator="material-finder",
        summary=_summary(good, rows, c.formatter(values)),
        answers=tuple(answers),
        headline=("lightest_mass", "lightest_thickness", "holding", "demand_speed")
        if good
        else ("holding", "demand_speed"),
        verdict=replace(_verdict(good, rows), covers=_covers(values, rows, flying)),
        figures=(_scatter(good),) if len(good) > 1 else (),
        tables=tuple(tables),
        steps=_steps(fin, flying, rows, point, own_prices=bool(values["price_list"])),
        cautions=(CAUTION,),
        notes=(
            *(f"Left out, because its file is broken: {e}" for e in materials.broken().values()),
            *(
                (
                    "Skinned sheets and foam board are left out: sanding these edges would take "
                    "their skins off. Shaping first and skinning after is not modelled.",
                )
                if values["edge"] in SKINS_SANDED_OFF
                else ()
            ),
            *(
                ()
                if values["price_list"]
                else (
                    "Prices are invented demo data, for the material in the fins alone; a shop "
                    "enters its own.",
                )
            ),
            "Bench work adds the grades for cutting and shaping, 1 very easy to 5 very hard "
            "each; finishing has the same grades. They are common practice, not measurements.",
            "Only the stock sheet's usual density and its first cut are tried. A weighed sheet, "
            "another cut or another grain angle can change the order: open the row.",
        ),
        sources=(),
    )


def _spread(margin: Margin) -> str | None:
    """Return the 10 to 90 % range of a margin; a limit has none."""
    if margin.bound or margin.low is None or margin.high is None:
        return None
    return f"{margin.low / margin.required:.2f} to {margin.high / margin.required:.2f}"


def _holding(good: Sequence[Row], values: MaterialFinderValues, tab: c.Tab | None) -> Table:
    motor = good[0].lost is not None
    columns = [
        Column("material", "Material and stock"),
        Column("margin", "Margin", "number"),
        Column("mass", "Set of fins", "mass"),
        Column("price", f"Price{_currency(values)}", "number", 2),
        Column("spread", "10 to 90 %"),
        Column("limit", "Limit"),
        Column("thinner", "One size thinner"),
        Column("bench", "Bench", "number", 1),
        Column("finish", "Finish", "number", 1),
    ]
    if motor:
        columns.insert(4, Column("lost", "Height lost", "altitude", 2))
    out, links = [], []
    for row in good:
        found = row.found
        assert found.judged is not None
        assert found.stock is not None
        margin = found.judged.governs
        cells: list[Any] = [
            label(found),
            LowerLimit(margin.margin) if margin.bound else margin.margin,
            row.mass,
            sum(row.price) / 2.0 if row.price else None,
            _spread(margin),
            margin.label.lower(),
            _thinner(found),
            row.bench,
            row.finish,
        ]
        if motor:
            cells.insert(4, row.lost)
        out.append(tuple(cells))
        links.append(_link(found, values))
    return Table(
        "What holds, lightest first",
        tuple(columns),
        tuple(out),
        note="Open a row to see its fin check. Margins are the smallest of all ways to fail, with "
        "their 10 to 90 % range; “at least” where only a limit is known. Bench work from 2 to 10, "
        "finishing from 1 to 5, higher is harder. "
        + (
            "Prices are from your list, without waste."
            if values["price_list"]
            else "Prices are invented, each the middle of a range."
        )
        + (" Height lost is against the lightest fins that hold." if motor else "")
        + ("" if tab is None else TAB_WEIGHED),
        links=tuple(links),
        sortable=True,
    )


def _currency(values: MaterialFinderValues) -> str:
    if not values["price_list"]:
        return ", invented"
    return f", {values['currency']}" if values["currency"] else ""


def _thinner(found: search.Found) -> str:
    if found.thinner is None:
        return "none thinner sold"
    stock, margin = found.thinner
    if not margin.known:
        return f"{stock.trade_label}: cannot say"
    if margin.margin >= 1.0:
        return f"{stock.trade_label}: margin {margin.margin:.2f}, but not sure enough"
    return f"{stock.trade_label}: {margin.label.lower()} {margin.margin:.2f}"


def _thickest(stock: Stock, fmt: c.Formatter) -> str:
    """Return a stock size by its trade label, and in the page's unit where that is another."""
    if (stock.system == "inch") == (fmt.system == "inch"):
        return stock.trade_label
    return f"{stock.trade_label} ({fmt(stock.thickness, 'length', 2)})"


def _failing(rest: Sequence[Row], fmt: c.Formatter) -> Table:
    return Table(
        "What cannot be said to hold, and why",
        (
            Column("material", "Material"),
            Column("stock", "Thickest tried"),
            Column("mass", "Set of fins", "mass"),
            Column("verdict", "Verdict"),
            Column("reason", "Why"),
        ),
        tuple(
            (
                row.found.material.label,
                _thickest(row.found.stock, fmt) if row.found.stock else None,
                row.mass if row.found.stock else None,
                c.outcome(row.found),
                row.found.reason,
            )
            for row in rest
        ),
        sortable=True,
    )


def _link(found: search.Found, values: MaterialFinderValues) -> str:
    """Return the address that opens this row in the fin check."""
    assert found.stock is not None
    given = {"material": found.material.name, "thickness": found.stock.thickness}
    return judging.link(dict(values) | given)


def _verdict(good: Sequence[Row], rows: Sequence[Row]) -> Verdict:
    if good:
        found = good[0].found
        assert found.judged is not None
        margin = found.judged.governs
        others = f", then {label(good[1].found)}" if len(good) > 1 else ""
        usual = search.usual_choice(row.found for row in good)
        if usual is not None and usual is not found:
            others += f"; the usual choice would be {label(usual)}"
        return c.verdict_of(
            found.judged,
            f"{label(found)} is the lightest that holds{others}. {margin.label} limits it.",
        )
    sized = [row.found for row in rows if row.found.judged is not None]
    if not sized:
        return Verdict("unknown", "stock", float("nan"), "No stock size fits a fin this small.")
    nearest = sized[0]
    assert nearest.judged is not None
    holds = "can be said to hold" if nearest.judged.state == "unknown" else "holds"
    return c.verdict_of(
        nearest.judged,
        f"None of these {holds}. {label(nearest)} comes nearest: {nearest.reason}. Cut the span, "
        "fly slower or allow more materials.",
    )


def _covers(values: MaterialFinderValues, rows: Sequence[Row], flying: c.Flying) -> str:
    """Return what is judged of every material and what is not, as sentences; "" if none was."""
    first = next((row.found for row in rows if row.found.judged is not None), None)
    if first is None or first.judged is None or first.result is None:
        return ""
    result = first.result
    left_out = other_parts.of_fin(values, result.fin, result.variant, flying)[1]
    parts = dict.fromkeys(
        fin_check.PARTS[m.name] for m in first.judged.margins if m.name != "material"
    )
    gaps = "".join(f"; {what} ({how})" for what, how in left_out)
    return (
        f"Judged of each material: {listed(parts)}; and the speed it is known for, where that has "
        "a limit. Not judged: speed off the rod and stability, which hardly depend on the sheet "
        f"(see the fin check){gaps}."
    )


def _summary(good: Sequence[Row], rows: Sequence[Row], fmt: c.Formatter) -> str:
    if not good:
        unsaid = any(r.found.judged and r.found.judged.state == "unknown" for r in rows)
        holds = "can be said to hold" if unsaid else "holds"
        return f"None of {len(rows)} materials {holds} for this fin and flight."
    best = good[0].found
    assert best.judged is not None
    margin = best.judged.governs
    bound = "at least " if margin.bound else ""
    return (
        f"{len(good)} of {len(rows)} materials hold. Lightest: {label(best)}, "
        f"{fmt(good[0].mass, 'mass')} a set, margin {bound}{margin.margin:.2f}."
    )


def _scatter(good: Sequence[Row]) -> Figure:
    points = []
    named = (good[0].found, search.usual_choice(row.found for row in good))
    for row in good:
        assert row.found.judged is not None
        points.append(
            {
                "x": row.mass,
                "y": row.found.judged.governs.margin,
                "label": label(row.found),
                "family": row.found.material.family,
                "always": any(row.found is one for one in named),
            }
        )
    masses = np.geomspace(0.5 * min(row.mass for row in good), 2.0 * max(row.mass for row in good))
    return Figure(
        "scatter",
        "Mass against margin, each at its thinnest size that holds",
        "Left is lighter, up is safer. What fails is not drawn.",
        {
            "x": {"label": "Set of fins", "kind": "mass", "log": True},
            "y": {"label": "Smallest margin", "kind": "number", "low": 0.9},
            "points": points,
            "guides": [
                {"x": masses.tolist(), "y": [1.0] * masses.size, "label": "only just holds"}
            ],
        },
    )


def _steps(
    fin: Fin, flying: c.Flying, rows: Sequence[Row], point: Point, *, own_prices: bool
) -> tuple[Step, ...]:
    area = fin.planform.area
    steps = [
        Step(
            "The moment judged",
            "q = ½ ρ V²",
            f"{point.speed:.0f} m/s, Mach {point.mach:.3f}, q = {point.pressure:.0f} Pa",
            ("us-standard-atmosphere-1976",),
            note="every fin at the worst of the moments that no other moment exceeds in speed, "
            "pressure and Mach number",
        ),
        Step(
            "The search",
            "halve the list of stock sizes until one holds and the next thinner does not",
            f"{len(rows)} materials on one outline of {area * 1e4:.3g} cm²",
            ("albano-rodden-1969", "hassig-1971", "leissa-1969"),
            note="margins are taken to grow with thickness",
        ),
        Step(
            "What is required",
            f"{c.reserves(point.mach)}; at most one sheet in ten may fall short in flight",
            "the same rules as in the fin check, which opens from each row",
            ("mil-a-8870", "far-25-303"),
        ),
        Step(
            "Price",
            "price per area × area × fins",
            "your own prices, without waste",
        )
        if own_prices
        else Step(
            "Price",
            "(per area + per volume × thickness) × area × fins",
            "invented demo prices, without waste",
            ("demo",),
        ),
    ]
    if flying.ascent is not None:
        steps.insert(
            3,
            Step(
                "Height lost",
                "−dh/dm × (mass − lightest mass), dh/dm by flying again with 1 % more and less",
                f"peak now {flying.ascent.peak.height:.0f} m",
                ("us-standard-atmosphere-1976",),
            ),
        )
    return tuple(steps)


def figure(values: MaterialFinderValues) -> Figure | None:
    """Return the picture of the outline, or None while it is impossible."""
    try:
        fin = template(values)
    except (InputError, ValidityError):
        return None
    return c.outline_figure(
        fin,
        values["body"],
        "Lines show the grain. The section is a sketch: its thickness is what the search finds.",
        look="wood",
        sought=True,
        values=values,
        tab=c.tab_drawn(values, fin.planform.root),
    )


CALCULATOR = Calculator(
    slug="material-finder",
    title="Material finder",
    question="Which materials and stock thicknesses hold for this fin, and what does each cost?",
    inputs=INPUTS,
    answer=answer,
    drawing=figure,
    slow=True,
)
