"""How many fins from which sheets, grain the right way, pieced if too narrow; templates."""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any, NotRequired, Unpack

import numpy as np

from calc import forms
from calc import units as lengths
from calc.calculators import money, parts_list
from calc.calculators import shared as c
from calc.calculators.lists import KNOTS, POINTS, TypedList, knots, points
from calc.errors import InputError
from calc.forms import Calculator, Choice, Input
from calc.geometry.planform import Planform
from calc.materials import Material
from calc.report import Answer, Change, Column, Download, Figure, Report, Step, Table
from calc.workshop import repeats
from calc.workshop.layout_search import SearchStep
from calc.workshop.parts import TOUCH_TOL, Part, Placement, Plan, Sheet, SheetPlan, ring

PARTS = "The parts"
RINGS = "More parts: rings, bulkheads, the whole kit"
STOCK = "The sheet"
CUTTING = "Cutting"
MORE = "More about the cutting"
TUBE = "More: strip and guide for the tube"

SIZES = (
    (3, 24, "in"), (3, 36, "in"), (4, 24, "in"), (4, 36, "in"), (6, 12, "in"), (8.5, 11, "in"),
    (12, 12, "in"), (12, 24, "in"), (12, 48, "in"), (20, 30, "in"),
    (100, 1000, "mm"), (150, 450, "mm"), (200, 200, "mm"), (200, 300, "mm"), (210, 297, "mm"),
    (297, 420, "mm"), (300, 300, "mm"), (300, 600, "mm"), (500, 700, "mm"),
)  # fmt: skip
"""Sheet sizes of the trade, width by length: every one that a material in our data is sold in."""
SHEETS = {
    f"{width:g}x{length:g}{unit}": (
        width * lengths.KINDS["length"].units[unit],
        length * lengths.KINDS["length"].units[unit],
    )
    for width, length, unit in SIZES
}
YES_NO = (Choice("yes", "yes"), Choice("no", "no"))
FIN_WHEN = {"outline": ("straight", "ellipse", "corners")}
PART_WHEN = {"outline": ("points",)}
OWN_WHEN = {"sheet": ("own",)}
DRAWN = 6
"""Layouts drawn at most; the files hold all."""
LABELLED = 40
"""Parts in one row up to which each is named; more would write over each other."""
LONGER = 200
"""Tries of a long search."""


class OutlineInput(Input):
    """The outline of the part, which may be any; an older link's word for a fin is known."""

    def read(self, text: str) -> Any:
        """Return one of the choices."""
        return super().read("straight" if text.strip().lower() == "fin" else text)

    def same(self, text: str, other: str) -> bool:
        """Whether two texts are alike."""
        known = {"fin": "straight"}
        return super().same(known.get(text.strip(), text), known.get(other.strip(), other))


_outline = {item.name: replace(item, group=PARTS) for item in c.OUTLINE}
_stock = {item.name: replace(item, group=STOCK) for item in c.stock_inputs()}

MONEY = (money.PRICES, money.CURRENCY, money.ORDER)

INPUTS = (
    OutlineInput("outline", "Outline", "choice", "straight", group=PARTS,
                 choices=(*c.OUTLINES, Choice("points", "no fin: any straight-edged part"))),
    _outline["root"],
    _outline["tip"],
    _outline["span"],
    _outline["sweep"],
    TypedList("points", "Corners", "text", "0,0 3,0 3,2.5 1.5,2.5 in",
              help="As x,y with spaces between; the first side is the one glued to the tube.",
              group=PARTS, parse=points, wants=POINTS, longest=900,
              shown_when={"outline": ("corners", "points")}),
    _outline["radius"],
    replace(_stock["grain"], group=PARTS, shown_when=FIN_WHEN),
    Input("grain_points", "Grain angle to the x axis", "angle", "60",
          help="0 lies along x, 90 along y.", group=PARTS, unit="deg", low=-math.pi, high=math.pi,
          shown_when=PART_WHEN),
    Input("count", "How many", "integer", "4", group=PARTS, low=1, high=parts_list.MOST),
    Input("joint", "Root joint", "choice", "usual",
          help="Only a tab through the wall changes the part; the usual joint is cut without one.",
          group=PARTS, shown_when=FIN_WHEN,
          choices=(Choice("usual", "no tab, or as usual"), Choice("edge", "bare edge"),
                   Choice("fillet", "fillets"), Choice("tab", "tab through the wall"))),
    replace(c.TAB, group=PARTS, shown_when={**FIN_WHEN, **c.TAB_WHEN}),
    *(replace(item, group=PARTS, shown_when={**FIN_WHEN, **c.TAB_WHEN}) for item in c.TAB_PLACE),
    Input("ring_count", "Centring rings", "integer", "0", group=RINGS, low=0,
          high=parts_list.MOST),
    Input("ring_outer", "Ring, outer diameter", "length", "1.5 in", group=RINGS, unit="in",
          low=0.004, high=0.6),
    Input("ring_inner", "Ring, inner diameter", "length", "0.75 in", group=RINGS, unit="in",
          low=0.001, high=0.59),
    Input("bulkhead_count", "Bulkheads", "integer", "0", group=RINGS, low=0,
          high=parts_list.MOST),
    Input("bulkhead", "Bulkhead diameter", "length", "1.5 in", group=RINGS, unit="in", low=0.004,
          high=0.6),
    replace(parts_list.MORE_PARTS, group=RINGS),
    Input("kits", "Kits: how many times all of these", "integer", "1", group=RINGS, low=1,
          high=parts_list.MOST),
    _stock["material"],
    _stock["thickness"],
    _stock["density"],
    _stock["cut"],
    *(item for item in _stock.values() if item.group == STOCK and item.name in {
        one.name for one in c.without(c.own_inputs(), "spread")}),
    Input("sheet", "Sheet size", "choice", "3x36in",
          help="Width by length; the grain runs along the "
          "length.", group=STOCK, choices=(*(Choice(key, f"{w:g} × {h:g} {u}") for key, (w, h, u) in
                     zip(SHEETS, SIZES, strict=True)), Choice("own", "another size"))),
    Input("sheet_width", "Sheet width", "length", "4 in", help="Across the grain.", group=STOCK,
          unit="in", low=0.01, high=3.0, shown_when=OWN_WHEN),
    Input("sheet_length", "Sheet length", "length", "36 in", help="Along the grain.", group=STOCK,
          unit="in", low=0.01, high=5.0, shown_when=OWN_WHEN),
    Input("kerf", "Gap between parts", "length", "1 mm",
          help="The width of the cut, and a little room for the knife.", group=CUTTING, unit="mm",
          low=0.0, high=0.02),
    Input("margin", "Gap to the sheet's edges", "length", "2 mm", group=CUTTING, unit="mm", low=0.0,
          high=0.05),
    TypedList("knots", "Knots and other bad spots", "text", "",
              help="On every sheet: along, across, radius from one corner, such as 3in,1in,0.5in, "
              "with semicolons between spots.", group=CUTTING, optional=True, parse=knots,
              wants=KNOTS),
    Input("mirror", "Are both faces of the sheet alike?", "choice", "yes",
          help="Then parts may be cut face down.", group=CUTTING, choices=YES_NO),
    Input("pieced", "May wide parts be glued up from strips?", "choice", "yes",
          help="Glue lines along the grain.", group=CUTTING, choices=YES_NO),
    Input("available", "Sheets at hand", "integer", "", help="Leave empty for as many as it takes.",
          group=MORE, low=1, high=parts_list.MOST, optional=True),
    Input("tries", "How long to search", "integer", "30",
          help="Tries at a better plan; each takes a moment.", group=MORE, low=0, high=2000),
    replace(_outline["body"], group=TUBE),
    Input("around", "Fins around the tube", "integer", "3", group=TUBE, low=1, high=12),
    Input("lug", "Launch lug", "choice", "between", group=TUBE,
          choices=(Choice("between", "halfway between two fins"), Choice("none", "none"))),
    *MONEY,
)  # fmt: skip


class CuttingPlanValues(
    c.OutlineValues, c.SheetValues, c.OwnProperties, c.TabInputs, c.UnitsValues
):
    """Values of this calculator."""

    cut: str | None
    spread: NotRequired[tuple[float, ...] | None]
    grain: float
    grain_points: float
    count: int
    ring_count: int
    ring_outer: float
    ring_inner: float
    bulkhead_count: int
    bulkhead: float
    sheet: str
    sheet_width: float
    sheet_length: float
    kerf: float
    margin: float
    knots: tuple[tuple[float, float, float], ...] | None
    mirror: str
    pieced: str
    available: int | None
    tries: int
    more_parts: tuple[parts_list.Listed, ...] | None
    kits: int
    body: float
    around: int
    lug: str
    price_list: tuple[money.Priced, ...] | None
    currency: str | None
    minimum_order: int | None


FILES = (
    Download("Drawing, full size (SVG)", "cutting-plan.svg", "image/svg+xml", "svg"),
    Download("Pages for A4 (PDF)", "cutting-plan-a4.pdf", "application/pdf", "pdf-a4"),
    Download("Pages for Letter (PDF)", "cutting-plan-letter.pdf", "application/pdf",
             "pdf-letter"),
    Download("Cutter outlines (DXF)", "cutting-plan.dxf", "image/vnd.dxf", "dxf"),
    Download("One template of each part, A4 (PDF)", "templates-a4.pdf", "application/pdf",
             "parts-a4"),
    Download("One template of each part, Letter (PDF)", "templates-letter.pdf",
             "application/pdf", "parts-letter"),
    Download("Strip and guide for the tube, A4 (PDF)", "tube-a4.pdf", "application/pdf",
             "tube-a4"),
    Download("Strip and guide for the tube, Letter (PDF)", "tube-letter.pdf", "application/pdf",
             "tube-letter"),
)  # fmt: skip


def make(name: str, values: CuttingPlanValues) -> str | bytes:
    """Return one of the `FILES` for SI values by input name."""
    from calc.workshop import templates

    kind, _, size = name.partition("-")
    paper = {"a4": "A4", "letter": "Letter"}.get(size, "")
    if kind == "tube" and paper:
        return templates.tube_pdf(
            diameter=values["body"],
            fins=values["around"],
            thickness=values["thickness"],
            span=_span(values),
            lug=values["lug"] == "between",
            paper=paper,
        )
    plan = plan_of(values)
    if kind == "parts" and paper:
        return templates.parts_pdf(plan, paper)
    if name == "svg":
        return templates.svg(plan)
    if kind == "pdf" and paper:
        return templates.pdf_bytes(plan, paper)
    if name == "dxf":
        return templates.dxf_bytes(plan)
    raise InputError("file", name, f"one of: {', '.join(item.make for item in FILES)}")


def _span(values: CuttingPlanValues) -> float:
    """Return how far the fin stands off the tube [m]; half its diameter where it is no fin."""
    if values["outline"] == "points":
        return 0.5 * float(values["body"])
    return float(c.outline_of(values).span)


def fin_part(values: CuttingPlanValues) -> Part:
    """Return the fin, or the free outline, with its grain in the outline's own axes."""
    mirror = values["mirror"] == "yes"
    if values["outline"] != "points":
        shape = c.outline_of(values)
        tip = shape.sweep, shape.span
        tab = c.tab_of(values, shape.root)
        below = () if tab is None else _below(tab, shape.root)
        return Part(
            outline=(*((float(x), float(y)) for x, y in shape.perimeter()), *below),
            grain=float(shape.grain_direction(values["grain"])),
            quantity=values["count"] * values["kits"],
            name="fin",
            root=((0.0, 0.0), (shape.root, 0.0)),
            keep_clear=(tip, (tip[0] + shape.tip, tip[1])),
            mirror=mirror,
            path=()
            if isinstance(shape, Planform)
            else (*shape.path(), *pairwise((shape.path()[-1][1], *below))),
        )
    corners = list(values["points"])
    try:
        return Part(
            outline=tuple(corners),
            grain=values["grain_points"],
            quantity=values["count"] * values["kits"],
            name="part",
            root=(corners[0], corners[1]),
            mirror=mirror,
        )
    except InputError as problem:
        raise InputError("points", "", problem.accepts) from None


def _below(tab: c.Tab, root: float) -> tuple[tuple[float, float], ...]:
    """Return the corners of a tab that follow the root's rear end; its ends may be the root's."""
    ends = (0.0, root)
    return tuple(
        (x, y) for x, y in tab.corners
        if y < 0.0 or min(abs(x - end) for end in ends) > 1e-9
    )  # fmt: skip


def parts_of(values: CuttingPlanValues) -> tuple[Part, ...]:
    """Return all parts, the large ones first."""
    parts = [fin_part(values)]
    if values["ring_count"]:
        if values["ring_inner"] >= 0.98 * values["ring_outer"]:
            raise InputError("ring_inner", "", "a diameter below the ring's outer one")
        parts.append(
            ring(
                values["ring_outer"], values["ring_inner"],
                quantity=values["ring_count"] * values["kits"], name="ring", grain=None,
            )
        )  # fmt: skip
    if values["bulkhead_count"]:
        parts.append(
            ring(values["bulkhead"], quantity=values["bulkhead_count"] * values["kits"],
                 name="bulkhead", grain=None)
        )  # fmt: skip
    parts += parts_list.parts_of(
        values["more_parts"],
        grain=values["grain"] or 0.0,
        mirror=values["mirror"] == "yes",
        times=values["kits"],
    )
    total = sum(part.quantity for part in parts)
    if total > parts_list.MOST:
        field, number = (
            ("kits", values["kits"]) if values["kits"] > 1 else ("count", values["count"])
        )
        raise InputError(
            field, str(number), f"at most {parts_list.MOST} parts in all; these are {total}"
        )
    return tuple(parts)


def areal_mass(material: Material, values: CuttingPlanValues) -> float:
    """Return the sheet's mass per area [kg/m2]."""
    stack = material.layup(
        thickness=values["thickness"], density=values["density"], cut=values["cut"]
    )
    return float(stack.areal_mass)


def sheet_of(values: CuttingPlanValues, price: float = 0.0) -> Sheet:
    """Return the stock sheet."""
    if values["sheet"] == "own":
        width, length = values["sheet_width"], values["sheet_length"]
    else:
        width, length = SHEETS[values["sheet"]]
    for spot in values["knots"] or ():
        along, across, radius = spot
        if (
            along < -radius
            or across < -radius
            or along > length + radius
            or (across > width + radius)
        ):
            raise InputError("knots", "", "spots that lie on the sheet: along, then across")
    if 2.0 * values["margin"] >= 0.5 * min(width, length):
        raise InputError("margin", "", "a gap far below the sheet's width")
    return Sheet(
        length=length,
        width=width,
        count=values["available"],
        defects=tuple(values["knots"] or ()),
        two_sided=values["mirror"] == "yes",
        areal_mass=areal_mass(c.material_of(values), values),
        price=price,
        name="sheet",
    )


def across_grain(part: Part) -> float:
    """Return a part's width across its grain [m]."""
    turn = -(part.grain or 0.0)
    return float(np.ptp(part.loop @ np.array([math.sin(turn), math.cos(turn)])))


RECENT = 3
"""Plans stored at most."""
_recent: OrderedDict[Any, Plan] = OrderedDict()


def plan_of(
    values: CuttingPlanValues,
    progress: forms.Progress | None = None,
    first: Callable[[Plan], Any] | None = None,
) -> Plan:
    """Return the cutting plan; the last few are stored, so that files need no second search.

    `first` hears the first plan, long before the search ends.
    """
    names = [item.name for item in INPUTS if item not in MONEY and item.group != TUBE]
    key = tuple((name, value) for name, value in values.items() if name in names)
    if key in _recent:
        _recent.move_to_end(key)
        return _recent[key]
    parts = parts_of(values)
    sheet = sheet_of(values)
    room = sheet.width - 2.0 * values["margin"]
    wide = max(across_grain(part) for part in parts if part.grain is not None)
    if values["pieced"] == "no" and wide > room + TOUCH_TOL:
        raise InputError(
            "pieced", "no",
            f"yes, or a sheet more than {lengths.show(wide + 2 * values['margin'], 'length', 'mm')}"
            " wide: a part is wider across its grain than this sheet",
        )  # fmt: skip

    def report(step: SearchStep) -> bool:
        if first is not None and step.iteration == 1:
            first(step.plan)
        if progress is not None:
            found = step.plan
            progress(
                step.iteration,
                step.iterations,
                f"best yet: {_count(found.sheet_count, 'sheet')}, parts fill "
                f"{100 * found.used_yield:.0f} % of the length used",
            )
        return True

    plan = repeats.nest(
        parts,
        [sheet],
        kerf=values["kerf"],
        margin=values["margin"],
        iterations=values["tries"],
        progress=report,
    )
    _recent[key] = plan
    while len(_recent) > RECENT:
        _recent.popitem(last=False)
    return plan


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def answer(
    *,
    progress: forms.Progress | None = None,
    early: Callable[[Report], Any] | None = None,
    **values: Unpack[CuttingPlanValues],
) -> Report:
    """Answer for SI values by input name; the first plan's numbers, alone, to `early`."""

    def first(plan: Plan) -> None:
        if early is not None:
            answers, headline = _numbers(values, plan)
            early(
                Report(
                    calculator="cutting-plan",
                    summary=_summary(plan),
                    answers=answers,
                    headline=headline,
                )
            )

    plan = plan_of(values, progress, first)
    answers, headline = _numbers(values, plan)
    tables = [_kinds(plan), _placements(plan)]
    if plan.glue_lines:
        tables.append(_glue_lines(plan))
    return Report(
        calculator="cutting-plan",
        summary=_summary(plan),
        answers=answers,
        headline=headline,
        changes=_changes(values, plan),
        figures=_figures(
            plan,
            c.LOOKS[c.material_of(values).family],
            "in" if values["sheet"].endswith("in") else "mm",
        ),
        tables=tuple(tables),
        steps=_steps(plan, plan.stock[0]),
        notes=_notes(values, plan),
        sources=(),
        downloads=FILES if plan.sheets else (),
    )


def _numbers(values: CuttingPlanValues, plan: Plan) -> tuple[tuple[Answer, ...], tuple[str, ...]]:
    """Return a plan's numbers and the names of those that are shown large."""
    material = c.material_of(values)
    placed, wanted = sum(plan.placed), sum(part.quantity for part in plan.parts)
    missing = sum(number for _, number, _ in plan.unplaced)
    answers = [
        _whole("sheets", "Sheets", plan.sheet_count,
               f"{_count(len(plan.sheets), 'layout')}" if len(plan.sheets) < plan.sheet_count
               else ""),
        _whole("parts", "Parts placed", placed, f"of {wanted}" if missing else ""),
        Answer("used_yield", "Parts fill, of the length used", plan.used_yield, "fraction",
               digits=2, note="the offcut is kept"),
        Answer("area_yield", "Parts fill, of whole sheets", plan.area_yield, "fraction", digits=2),
        _whole("least_sheets", "Fewest sheets by area and gaps", plan.least_sheets,
               "no plan can beat it"),
        Answer("of_bound", "Sheets over that bound",
               plan.sheet_count / plan.least_sheets if plan.sheets else 1.0, "number",
               note="1 cannot be beaten"),
        *_fit(values, plan),
        Answer("used_length", "Length used of the last sheet",
               plan.sheets[-1].used_length if plan.sheets else 0.0, "length"),
        Answer("waste", "Waste and offcut", plan.waste, "area"),
        Answer("offcut", "Offcut good for later", plan.offcut, "area"),
        Answer("part_mass", "Mass of all parts", plan.part_mass, "mass"),
        Answer("sheet_mass", "Mass of the sheets", plan.sheet_mass, "mass"),
    ]  # fmt: skip
    if plan.glue_lines:
        answers.append(
            Answer("glue_line", "Glue lines, all parts together", plan.glue_line_length, "length")
        )
    own = money.of_plan(values, plan, wanted)
    answers += own
    if material.price is not None and plan.sheets and not own:
        low, high = (plan.sheet_area * p for p in material.price.band(values["thickness"]))
        answers.append(
            Answer("cost", "Price of the sheets (invented demo)", 0.5 * (low + high), "number",
                   low, high, note="invented demo prices, in no currency")
        )  # fmt: skip
    glued = ("glue_line",) if plan.glue_lines else ()
    fit = ("fit",) if any(item.name == "fit" for item in answers) else ()
    return tuple(answers), ("sheets", *fit, "used_yield", "part_mass", *glued)


def _fit(values: CuttingPlanValues, plan: Plan) -> tuple[Answer, ...]:
    """Return how many parts of a single kind one sheet gives; nothing for several kinds.

    At least: the plan's own layout, repeated along the sheet with the gap between parts, and of
    the last repeat the parts that are still whole.
    """
    if len(plan.parts) != 1 or not plan.sheets or plan.glue_lines or values["knots"]:
        return ()
    stock = plan.stock[0]
    room = stock.length - values["margin"] + TOUCH_TOL
    most = 0
    for sheet in plan.sheets:
        reaches = [_reach(place) for place in sheet.placements]
        first, last = min(low for low, _ in reaches), max(high for _, high in reaches)
        step = last - first + values["kerf"]
        fits = 0
        for repeat in range(math.ceil(stock.length / step)):
            fits += sum(high + repeat * step <= room for _, high in reaches)
        most = max(most, fits)
    name = plan.parts[0].name
    return (
        replace(
            _whole("fit", f"Fit on one sheet: {name}s", most, "by repeating this plan along it"),
            bound="at least",
        ),
    )


def _whole(name: str, label: str, count: int, note: str = "") -> Answer:
    """Return a count, shown with as many digits as it has."""
    return Answer(name, label, float(count), "number", digits=len(str(count)), note=note)


def _summary(plan: Plan) -> str:
    placed, wanted = sum(plan.placed), sum(part.quantity for part in plan.parts)
    if not plan.sheets:
        return f"None of the {wanted} parts fits: {plan.unplaced[0][2]}."
    sheets = _count(plan.sheet_count, "sheet")
    head = f"{_count(placed, 'part')} from {sheets}"
    if plan.unplaced:
        head = f"Only {placed} of {wanted} parts, from {sheets}"
    glued = ", glued up from strips" if plan.glue_lines else ""
    bound = (
        f" No plan needs fewer than {plan.least_sheets}."
        if plan.sheet_count > 1 and not plan.unplaced
        else ""
    )
    return f"{head}{glued}; parts fill {100 * plan.used_yield:.0f} % of the length used.{bound}"


def _notes(values: CuttingPlanValues, plan: Plan) -> tuple[str, ...]:
    notes = [f"{plan.parts[number].name}: {count} not placed, {why}."
             for number, count, why in plan.unplaced]  # fmt: skip
    notes += list(plan.notes)
    notes.append(
        "Outlines are the finished parts. Set a cutter that takes away a width to cut outside them."
    )
    if len(plan.sheets) > DRAWN:
        notes.append(f"The first {DRAWN} layouts are drawn; the files hold all.")
    if plan.sheet_count > len(plan.sheets):
        notes.append(
            "Sheets that are cut alike are drawn once, also in the files; each is planned for the "
            "parts still wanted and repeated, so a search over all parts at once may do better."
        )
    notes.append(
        "Print at 100 %, without fitting to the page, and measure the square before you cut."
    )
    return tuple(notes)


def _changes(values: CuttingPlanValues, plan: Plan) -> tuple[Change, ...]:
    if not plan.sheets:
        return ()
    changes = []
    if plan.sheet_count > plan.least_sheets or plan.used_yield < 0.8:
        tries = LONGER if values["tries"] < LONGER else min(2000, 3 * values["tries"])
        changes.append(
            Change(
                f"Search longer: {tries} tries",
                "never worse; this plan stays on the page meanwhile, and when you stop",
                inputs={"tries": str(tries)},
            )
        )
    sheet = plan.stock[0]
    wider = [
        key
        for key, (width, length) in SHEETS.items()
        if width > 1.05 * sheet.width and abs(length - sheet.length) < 0.01 * length
    ]
    if plan.glue_lines and wider:
        changes.append(
            Change(f"A wider sheet: {_size(wider[0])}", "fewer glue lines, or none",
                   inputs={"sheet": wider[0]})
        )  # fmt: skip
    return tuple(changes)


def _size(key: str) -> str:
    width, length, unit = dict(zip(SHEETS, SIZES, strict=True))[key]
    return f"{width:g} × {length:g} {unit}"


def _kinds(plan: Plan) -> Table:
    each = plan.stock[0].areal_mass
    rows = [
        (
            part.name,
            part.quantity,
            placed,
            part.area,
            lengths.Written(part.area * each, like=plan.part_mass),
        )
        for part, placed in zip(plan.parts, plan.placed, strict=True)
    ]
    return Table(
        "Parts by kind",
        (
            Column("part", "Part"),
            Column("wanted", "Wanted"),
            Column("placed", "Placed"),
            Column("area", "Area of one", "area"),
            Column("mass", "Mass of one", "mass"),
        ),
        tuple(rows),
    )


def _placements(plan: Plan) -> Table:
    rows = []
    for number, sheet in enumerate(plan.sheets, 1):
        for place in sheet.placements:
            corners = np.array(place.polygon)
            low, size = corners.min(axis=0), np.ptp(corners, axis=0)
            rows.append(
                (
                    place.label,
                    number,
                    # decimals throughout: places of parts are seldom fractions of an inch
                    *(lengths.Written(each, decimals=True) for each in (*low, *size)),
                    math.remainder(place.angle, 2.0 * math.pi),
                    "down" if place.mirrored else "up",
                )
            )
    return Table(
        "Where each part lies",
        (
            Column("part", "Part"),
            Column("sheet", "Layout"),
            Column("along", "Starts along", "length"),
            Column("across", "Starts across", "length"),
            Column("length", "Takes along", "length"),
            Column("width", "Takes across", "length"),
            Column("turned", "Turned by", "angle"),
            Column("face", "Face"),
        ),
        tuple(rows),
        note="From one corner of the sheet, along and across the grain, to the part's nearest "
        "edges. Sheets cut alike have one layout.",
        sortable=True,
    )


def _glue_lines(plan: Plan) -> Table:
    rows = []
    for line in plan.glue_lines:
        crossing = ", ".join(f"{1e3 * at:.0f} mm" for at in line.root_crossings)
        rows.append(
            (line.mark, plan.parts[line.part].name, line.across, line.length,
             crossing or "does not")
        )  # fmt: skip
    return Table(
        "Glue lines of one part",
        (
            Column("mark", "Mark"),
            Column("part", "Part"),
            Column("across", "From its edge, across the grain", "length"),
            Column("length", "Length", "length"),
            Column("root", "Meets the glued side at"),
        ),
        tuple(rows),
        note="Every line runs with the grain. Marks on the template meet across the joint.",
    )


def _figures(plan: Plan, look: str, unit: str) -> tuple[Figure, ...]:
    """Return each layout: the sheet whole, and a long one in rows that are large enough to read."""
    figures = []
    for number, sheet in enumerate(plan.sheets[:DRAWN], 1):
        stock = plan.stock[sheet.stock]
        rows = _rows(sheet, stock, look, stock.defect_loops, unit)
        name = "Sheet" if len(plan.sheets) == 1 else f"Layout {number} of {len(plan.sheets)}"
        alike = f", {_count(sheet.repeats, 'sheet')} alike" if sheet.repeats > 1 else ""
        words = (
            f"{_count(len(sheet.placements), 'piece')}, {100 * sheet.area_yield:.0f} % of "
            "the whole sheet."
        )
        down = " ⇄ is cut face down." if any(p.mirrored for p in sheet.placements) else ""
        title = f"{name}{alike}"
        if len(rows) > 1:
            whole = _row(sheet.placements, (), stock, 0.0, stock.length, look, stock.defect_loops)
            for place in whole["placements"]:
                place["label"] = ""
            figures.append(Figure("sheet", f"{name}, whole{alike}", words, {"sheets": [whole]}))
            title, words = (
                f"{name}, row by row",
                "The same sheet along its length. Every part is drawn whole in one row; a dashed "
                "one belongs to the row before or after.",
            )
        figures.append(Figure("sheet", title, words + down, {"sheets": rows}))
    return tuple(figures)


def _rows(
    sheet: SheetPlan,
    stock: Sheet,
    look: str,
    defects: Sequence[np.ndarray],
    unit: str = "mm",
) -> list[dict[str, Any]]:
    """Return a long sheet's length in use as rows short enough to read, each part whole in one.

    Rows overlap where no straight cut across the sheet misses all parts.
    """
    row = 4.0 * stock.width
    length = stock.length
    if length > 1.2 * row:
        length = min(length, max(sheet.used_length + 0.1 * stock.width, row))
    if length <= 1.2 * row or not sheet.placements:
        whole = _row(sheet.placements, (), stock, 0.0, length, look, defects)
        if length < stock.length - 1e-9:
            whole["label"] = _ends(0.0, length, stock.length, unit)
        return [whole]
    waiting = sorted(sheet.placements, key=lambda place: _reach(place)[1])
    rows: list[dict[str, Any]] = []
    while waiting:
        start = min(_reach(place)[0] for place in waiting) if rows else 0.0
        here = [place for place in waiting if _reach(place)[1] <= start + row] or waiting[:1]
        waiting = [place for place in waiting if place not in here]
        low = max(0.0, min(_reach(place)[0] for place in here) - 0.0005) if rows else 0.0
        high = max(_reach(place)[1] for place in here) + 0.0005
        high = min(high if waiting else max(high, min(length, low + row)), stock.length)
        others = [place for place in sheet.placements if place not in here]
        one = _row(here, others, stock, low, high, look, defects)
        one["label"] = _ends(low, high, stock.length, unit)
        rows.append(one)
    return rows


def _reach(place: Placement) -> tuple[float, float]:
    """Return where a part begins and ends along the sheet [m]."""
    along = [x for x, _ in place.polygon]
    return min(along), max(along)


def _ends(low: float, high: float, length: float, unit: str) -> str:
    shown = [lengths.to_unit(end, "length", unit) for end in (low, high, length)]
    return "from {:.3g} to {:.3g} {unit} of {:.4g} {unit}".format(*shown, unit=unit)


def _row(
    here: Sequence[Placement],
    others: Sequence[Placement],
    stock: Sheet,
    low: float,
    high: float,
    look: str,
    defects: Sequence[np.ndarray],
) -> dict[str, Any]:
    """Return what to draw of a sheet from `low` to `high`: parts whole, others cut and faint."""
    named = len(here) <= LABELLED
    faint = [_between(place.polygon, low, high) for place in others]
    spots = [
        _between([(float(x), float(y)) for x, y in loop], low, high, stock.width)
        for loop in defects
    ]
    return {
        "length": high - low,
        "width": stock.width,
        "look": look,
        "label": "",
        "placements": [
            {
                "polygon": [[x - low, y] for x, y in place.polygon],
                "holes": [[[x - low, y] for x, y in hole] for hole in place.holes],
                "label": place.label if named else "",
                "mirrored": place.mirrored,
            }
            for place in here
        ],
        "faint": [shape for shape in faint if len(shape) > 2],
        "defects": [{"polygon": shape} for shape in spots if len(shape) > 2],
        "glue_lines": [
            [[a[0] - low, a[1]], [b[0] - low, b[1]]]
            for place in here
            for _, (a, b) in place.glue_lines
        ],
    }


def _between(
    polygon: Sequence[tuple[float, float]], low: float, high: float, width: float | None = None
) -> list[list[float]]:
    """Return the part of a polygon between two lines x = low and x = high, moved to start at low.

    Half-plane clipping; narrow bridges along the lines may be left, which a drawing can bear.
    """
    shape: list[tuple[float, ...]] = list(polygon)
    limits = [(0, 1.0, low), (0, -1.0, -high)]
    if width is not None:
        limits += [(1, 1.0, 0.0), (1, -1.0, -width)]
    for axis, sign, limit in limits:
        kept: list[tuple[float, ...]] = []
        for a, b in zip(shape, [*shape[1:], *shape[:1]], strict=True):
            before, after = sign * a[axis] - limit, sign * b[axis] - limit
            if before >= 0.0:
                kept.append(a)
            if (before > 0.0 > after) or (before < 0.0 < after):
                share = before / (before - after)
                kept.append(tuple(p + share * (q - p) for p, q in zip(a, b, strict=True)))
        shape = kept
    return [[point[0] - low, point[1]] for point in shape]


def _steps(plan: Plan, sheet: Sheet) -> tuple[Step, ...]:
    part = plan.parts[0]
    steps = [
        Step(
            "The part",
            "A = ½ Σ (xᵢ yᵢ₊₁ − xᵢ₊₁ yᵢ)",
            f"{1e4 * part.area:.4g} cm² each; {1e3 * across_grain(part):.4g} mm across its grain",
        ),
        Step(
            "Where parts may lie",
            "no-fit polygon = A ⊕ (−B), grown by the gap between parts",
            "exact corners of the free region; grain along the sheet, turned by 180° or face "
            "down where allowed",
        ),
        Step(
            "Lower bound",
            "sheets ≥ Σ (√A + √π gap/2)² / ((L − 2 m + gap)(W − 2 m + gap)), and whole parts of "
            "each kind a sheet",
            f"{1e4 * plan.part_area:.4g} cm² of parts, {1e4 * sheet.length * sheet.width:.4g} cm² "
            f"a sheet: at least {_count(plan.least_sheets, 'sheet')}; this plan takes "
            f"{plan.sheet_count}",
        ),
        Step(
            "Mass",
            "m = area × mass per area",
            f"{1e3 * sheet.areal_mass:.4g} g/m²; parts {1e3 * plan.part_mass:.3g} g",
        ),
    ]
    if plan.glue_lines:
        steps.append(
            Step(
                "Glue lines",
                "fewest strips no wider than the sheet, lines off the root and the tip's corners",
                f"{1e3 * plan.glue_line_length:.4g} mm in all",
            )
        )
    return tuple(steps)


def drawing(values: CuttingPlanValues) -> Figure | None:
    """Return the picture of the part with its grain."""
    if values.get("outline") in (None, "points"):
        return None
    try:
        shape = c.outline_of(values)
        material = c.material_of(values)
    except InputError:
        return None
    return Figure(
        "fin",
        "The part, to scale",
        "Lines show the grain.",
        {
            **c.outline_sizes(shape),
            "drag": c.drag(values, shape),
            "thickness": values["thickness"],
            "theta": float(shape.grain_direction(values["grain"])),
            "look": c.LOOKS[material.family],
            "body": 0.5 * shape.span,
            "edge": "square",
        },
    )


CALCULATOR = Calculator(
    slug="cutting-plan",
    title="Cutting plan",
    question="How many fins do I get from which sheets, with the grain the right way, glued up "
    "where a sheet is too narrow?",
    inputs=INPUTS,
    answer=answer,
    drawing=drawing,
    aliases={"shape": "outline"},
    slow=True,
    early=True,
    files=FILES,
    make=make,
)
