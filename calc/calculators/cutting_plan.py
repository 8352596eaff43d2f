"""How many fins from which sheets, grain the right way, pieced if too narrow; templates."""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from calc import calculators as cs
from calc import nesting
from calc import units as lengths
from calc.calculators import Calculator, Choice, Input
from calc.calculators import common as c
from calc.calculators.typed import KNOTS, POINTS, TypedList, knots, points
from calc.errors import InputError
from calc.materials import Material
from calc.report import Answer, Change, Column, Download, Figure, Report, Step, Table

PARTS = "The parts"
RINGS = "More parts: rings and bulkheads"
STOCK = "The sheet"
CUTTING = "Cutting"
MORE = "More about the cutting"

SIZES = (
    (3, 24, "in"), (3, 36, "in"), (4, 24, "in"), (4, 36, "in"), (6, 12, "in"), (8.5, 11, "in"),
    (12, 12, "in"), (12, 24, "in"), (12, 48, "in"), (20, 30, "in"),
    (100, 1000, "mm"), (150, 450, "mm"), (200, 200, "mm"), (200, 300, "mm"), (210, 297, "mm"),
    (297, 420, "mm"), (300, 300, "mm"), (300, 600, "mm"), (500, 700, "mm"),
)  # fmt: skip
"""Sheet sizes of the trade, width by length: every one that a material on file is sold in."""
SHEETS = {
    f"{width:g}x{length:g}{unit}": (
        width * lengths.KINDS["length"].units[unit],
        length * lengths.KINDS["length"].units[unit],
    )
    for width, length, unit in SIZES
}
YES_NO = (Choice("yes", "yes"), Choice("no", "no"))
FIN_WHEN = {"shape": ("fin",)}
POINTS_WHEN = {"shape": ("points",)}
OWN_WHEN = {"sheet": ("own",)}
DRAWN = 6
"""Sheets drawn at most; the files hold all."""
LONGER = 200
"""Tries of a long search."""

_outline = {item.name: replace(item, group=PARTS, shown_when=FIN_WHEN) for item in c.OUTLINE}
_stock = {item.name: replace(item, group=STOCK) for item in c.stock_inputs()}

INPUTS = (
    Input("shape", "Outline", "choice", "fin", "", PARTS,
          choices=(Choice("fin", "fin: root, tip, span, sweep"),
                   Choice("points", "any straight-edged outline"))),
    _outline["root"],
    _outline["tip"],
    _outline["span"],
    _outline["sweep"],
    replace(_stock["grain"], group=PARTS, shown_when=FIN_WHEN),
    TypedList("points", "Corners", "text", "0,0 3,0 3,2.5 1.5,2.5 in",
              "As x,y with spaces between; the first side is the one glued to the tube.", PARTS,
              parse=points, wants=POINTS, shown_when=POINTS_WHEN),
    Input("grain_points", "Grain angle to the x axis", "angle", "60",
          "0 lies along x, 90 along y.", PARTS, "deg", low=-math.pi, high=math.pi,
          shown_when=POINTS_WHEN),
    Input("count", "How many", "integer", "4", "", PARTS, low=1, high=60),
    Input("ring_count", "Centring rings", "integer", "0", "", RINGS, low=0, high=40),
    Input("ring_outer", "Ring, outer diameter", "length", "1.5 in", "", RINGS, "in", 0.004, 0.6),
    Input("ring_inner", "Ring, inner diameter", "length", "0.75 in", "", RINGS, "in", 0.001, 0.59),
    Input("bulkhead_count", "Bulkheads", "integer", "0", "", RINGS, low=0, high=40),
    Input("bulkhead", "Bulkhead diameter", "length", "1.5 in", "", RINGS, "in", 0.004, 0.6),
    _stock["material"],
    _stock["thickness"],
    _stock["density"],
    _stock["cut"],
    *(item for item in _stock.values() if item.group == STOCK and item.name in {
        one.name for one in c.without(c.own_inputs(), "spread")}),
    Input("sheet", "Sheet size", "choice", "3x36in", "Width by length; the grain runs along the "
          "length.", STOCK,
          choices=(*(Choice(key, f"{w:g} × {h:g} {u}") for key, (w, h, u) in
                     zip(SHEETS, SIZES, strict=True)), Choice("own", "another size"))),
    Input("sheet_width", "Sheet width", "length", "4 in", "Across the grain.", STOCK, "in", 0.01,
          3.0, shown_when=OWN_WHEN),
    Input("sheet_length", "Sheet length", "length", "36 in", "Along the grain.", STOCK, "in", 0.01,
          5.0, shown_when=OWN_WHEN),
    Input("kerf", "Gap between parts", "length", "1 mm",
          "The width of the cut, and a little room for the knife.", CUTTING, "mm", 0.0, 0.02),
    Input("margin", "Gap to the sheet's edges", "length", "2 mm", "", CUTTING, "mm", 0.0, 0.05),
    TypedList("knots", "Knots and other bad spots", "text", "",
              "On every sheet: along, across, radius from one corner, such as 3in,1in,0.5in; "
              "next.", CUTTING, optional=True, parse=knots, wants=KNOTS),
    Input("mirror", "Are both faces of the sheet alike?", "choice", "yes",
          "Then parts may be cut face down.", CUTTING, choices=YES_NO),
    Input("pieced", "May wide parts be glued up from strips?", "choice", "yes",
          "Glue lines along the grain.", CUTTING, choices=YES_NO),
    Input("available", "Sheets at hand", "integer", "", "Empty: as many as it takes.", MORE,
          low=1, high=200, optional=True),
    Input("tries", "How long to search", "integer", "30",
          "Tries at a better plan; each takes a moment.", MORE, low=0, high=2000),
)  # fmt: skip

FILES = (
    Download("Drawing, full size (SVG)", "cutting-plan.svg", "image/svg+xml", "svg"),
    Download("Pages for A4 (PDF)", "cutting-plan-a4.pdf", "application/pdf", "pdf-a4"),
    Download("Pages for Letter (PDF)", "cutting-plan-letter.pdf", "application/pdf",
             "pdf-letter"),
    Download("Cutter outlines (DXF)", "cutting-plan.dxf", "image/vnd.dxf", "dxf"),
)  # fmt: skip


def make(name: str, values: Mapping[str, Any]) -> str | bytes:
    """Return one of the `FILES` for SI values by input name."""
    from calc import templates

    plan = plan_of(values)
    if name == "svg":
        return templates.svg(plan)
    if name == "pdf-a4":
        return templates.pdf_bytes(plan, "A4")
    if name == "pdf-letter":
        return templates.pdf_bytes(plan, "Letter")
    if name == "dxf":
        return templates.dxf_bytes(plan)
    raise InputError("make", name, f"one of: {', '.join(item.make for item in FILES)}")


def fin_part(values: Mapping[str, Any]) -> nesting.Part:
    """Return the fin, or the free outline, with its grain in the outline's own axes."""
    mirror = values["mirror"] == "yes"
    if values["shape"] == "fin":
        shape = c.planform(values["root"], values["tip"], values["span"], values["sweep"])
        corners = [tuple(map(float, corner)) for corner in shape.corners]
        root = ((0.0, 0.0), (shape.root, 0.0))
        ends = [corner for corner in corners if corner[1] > 0.5 * shape.span]
        return nesting.Part(
            outline=tuple(corners),
            grain=float(shape.grain_direction(values["grain"])),
            quantity=values["count"],
            name="fin",
            root=root,
            keep_clear=tuple(ends),
            mirror=mirror,
        )
    corners = list(values["points"])
    try:
        return nesting.Part(
            outline=tuple(corners),
            grain=values["grain_points"],
            quantity=values["count"],
            name="part",
            root=(corners[0], corners[1]),
            mirror=mirror,
        )
    except InputError as problem:
        raise InputError("points", "", problem.accepts) from None


def parts_of(values: Mapping[str, Any]) -> tuple[nesting.Part, ...]:
    """Return every part asked for, the large ones first."""
    parts = [fin_part(values)]
    if values["ring_count"]:
        if values["ring_inner"] >= 0.98 * values["ring_outer"]:
            raise InputError("ring_inner", "", "a diameter below the ring's outer one")
        parts.append(
            nesting.ring(
                values["ring_outer"], values["ring_inner"], quantity=values["ring_count"],
                name="ring", grain=None,
            )
        )  # fmt: skip
    if values["bulkhead_count"]:
        parts.append(
            nesting.ring(
                values["bulkhead"], quantity=values["bulkhead_count"], name="bulkhead", grain=None
            )
        )
    return tuple(parts)


def areal_mass(material: Material, values: Mapping[str, Any]) -> float:
    """Return the sheet's mass per area [kg/m2]."""
    stack = material.layup(
        thickness=values["thickness"], density=values["density"], cut=values["cut"]
    )
    return float(stack.areal_mass)


def sheet_of(values: Mapping[str, Any], price: float = 0.0) -> nesting.Sheet:
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
    return nesting.Sheet(
        length=length,
        width=width,
        count=values["available"],
        defects=tuple(values["knots"] or ()),
        two_sided=values["mirror"] == "yes",
        areal_mass=areal_mass(c.material_of(values), values),
        price=price,
        name="sheet",
    )


def across_grain(part: nesting.Part) -> float:
    """Return a part's width across its grain [m]."""
    turn = -(part.grain or 0.0)
    return float(np.ptp(part.loop @ np.array([math.sin(turn), math.cos(turn)])))


_kept: OrderedDict[Any, nesting.Plan] = OrderedDict()


def plan_of(values: Mapping[str, Any], progress: cs.Progress | None = None) -> nesting.Plan:
    """Return the cutting plan; the last few are kept, so that files need no second search."""
    names = [item.name for item in INPUTS]
    key = tuple((name, values[name]) for name in names)
    if key in _kept:
        _kept.move_to_end(key)
        return _kept[key]
    parts = parts_of(values)
    sheet = sheet_of(values)
    room = sheet.width - 2.0 * values["margin"]
    wide = across_grain(parts[0])
    if values["pieced"] == "no" and wide > room + nesting.CLEAR:
        raise InputError(
            "pieced", "no",
            f"yes, or a sheet more than {lengths.show(wide + 2 * values['margin'], 'length', 'mm')}"
            " wide: the part is wider across its grain than this sheet",
        )  # fmt: skip

    def report(step: nesting.Step) -> bool:
        if progress is not None:
            found = step.plan
            progress(
                step.iteration,
                step.iterations,
                f"best yet: {_count(len(found.sheets), 'sheet')}, parts fill "
                f"{100 * found.used_yield:.0f} % of the length used",
            )
        return True

    plan = nesting.nest(
        parts,
        [sheet],
        kerf=values["kerf"],
        margin=values["margin"],
        iterations=values["tries"],
        progress=report,
    )
    _kept[key] = plan
    while len(_kept) > 3:
        _kept.popitem(last=False)
    return plan


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def answer(*, progress: cs.Progress | None = None, **values: Any) -> Report:
    """Answer for SI values by input name."""
    plan = plan_of(values, progress)
    material = c.material_of(values)
    sheet = plan.stock[0]
    placed = sum(p.piece in (None, 0) for s in plan.sheets for p in s.placements)
    wanted = sum(part.quantity for part in plan.parts)
    missing = sum(number for _, number, _ in plan.unplaced)
    answers = [
        _whole("sheets", "Sheets", len(plan.sheets)),
        _whole("parts", "Parts placed", placed, f"of {wanted}" if missing else ""),
        Answer("used_yield", "Parts fill, of the length used", plan.used_yield, "fraction",
               digits=2, note="the offcut is kept"),
        Answer("area_yield", "Parts fill, of whole sheets", plan.area_yield, "fraction", digits=2),
        _whole("least_sheets", "Fewest sheets by area alone", plan.least_sheets,
               "no plan can beat it"),
        Answer("used_length", "Length used of the last sheet",
               plan.sheets[-1].used_length if plan.sheets else 0.0, "length"),
        Answer("waste", "Waste and offcut", plan.waste, "area"),
        Answer("offcut", "Offcut good for later", plan.offcut, "area"),
        Answer("part_mass", "Mass of all parts", plan.part_mass, "mass"),
        Answer("sheet_mass", "Mass of the sheets", plan.sheet_mass, "mass"),
    ]  # fmt: skip
    if plan.joints:
        answers.append(
            Answer("glue_line", "Glue lines, all parts together", plan.glue_line_length, "length")
        )
    if material.price is not None and plan.sheets:
        low, high = (plan.sheet_area * p for p in material.price.band(values["thickness"]))
        answers.append(
            Answer("cost", "Price of the sheets (invented demo)", 0.5 * (low + high), "number",
                   low, high, note="invented demo prices, in no currency")
        )  # fmt: skip
    tables = [_placements(plan)]
    if plan.joints:
        tables.append(_joints(plan))
    return Report(
        calculator="cutting-plan",
        summary=_summary(plan, placed, wanted),
        answers=tuple(answers),
        headline=("sheets", "used_yield", "part_mass", *(("glue_line",) if plan.joints else ())),
        changes=_changes(values, plan),
        figures=_figures(
            plan, c.LOOKS[material.family], "in" if values["sheet"].endswith("in") else "mm"
        ),
        tables=tuple(tables),
        steps=_steps(plan, sheet),
        notes=_notes(values, plan),
        sources=(),
        downloads=FILES if plan.sheets else (),
    )


def _whole(name: str, label: str, count: int, note: str = "") -> Answer:
    """Return a count, shown with as many digits as it has."""
    return Answer(name, label, float(count), "number", digits=len(str(count)), note=note)


def _summary(plan: nesting.Plan, placed: int, wanted: int) -> str:
    if not plan.sheets:
        return f"None of the {wanted} parts fits: {plan.unplaced[0][2]}."
    head = f"{_count(placed, 'part')} from {_count(len(plan.sheets), 'sheet')}"
    if plan.unplaced:
        head = f"Only {placed} of {wanted} parts, from {_count(len(plan.sheets), 'sheet')}"
    glued = ", glued up from strips" if plan.joints else ""
    return f"{head}{glued}; parts fill {100 * plan.used_yield:.0f} % of the length used."


def _notes(values: Mapping[str, Any], plan: nesting.Plan) -> tuple[str, ...]:
    notes = [f"{plan.parts[number].name}: {count} not placed, {why}."
             for number, count, why in plan.unplaced]  # fmt: skip
    notes += list(plan.notes)
    notes.append(
        "Outlines are the finished parts. A cutter that takes away a width must be told to cut "
        "outside them."
    )
    if len(plan.sheets) > DRAWN:
        notes.append(f"The first {DRAWN} sheets are drawn; the files hold all.")
    notes.append(
        "Print at 100 %, without fitting to the page, and measure the square before you cut."
    )
    return tuple(notes)


def _changes(values: Mapping[str, Any], plan: nesting.Plan) -> tuple[Change, ...]:
    if not plan.sheets:
        return ()
    changes = []
    if len(plan.sheets) > plan.least_sheets or plan.used_yield < 0.8:
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
    if plan.joints and wider:
        changes.append(
            Change(f"A wider sheet: {_size(wider[0])}", "fewer glue lines, or none",
                   inputs={"sheet": wider[0]})
        )  # fmt: skip
    return tuple(changes)


def _size(key: str) -> str:
    width, length, unit = dict(zip(SHEETS, SIZES, strict=True))[key]
    return f"{width:g} × {length:g} {unit}"


def _placements(plan: nesting.Plan) -> Table:
    rows = []
    for number, sheet in enumerate(plan.sheets, 1):
        for place in sheet.placements:
            corners = np.array(place.polygon)
            low, size = corners.min(axis=0), np.ptp(corners, axis=0)
            rows.append(
                (
                    place.label,
                    number,
                    float(low[0]),
                    float(low[1]),
                    float(size[0]),
                    float(size[1]),
                    math.remainder(place.angle, 2.0 * math.pi),
                    "down" if place.mirrored else "up",
                )
            )
    return Table(
        "Where each part lies",
        (
            Column("part", "Part"),
            Column("sheet", "Sheet"),
            Column("along", "Starts along", "length"),
            Column("across", "Starts across", "length"),
            Column("length", "Takes along", "length"),
            Column("width", "Takes across", "length"),
            Column("turned", "Turned by", "angle"),
            Column("face", "Face"),
        ),
        tuple(rows),
        note="From one corner of the sheet, along and across the grain, to the part's nearest "
        "edges.",
        sortable=True,
    )


def _joints(plan: nesting.Plan) -> Table:
    rows = []
    for joint in plan.joints:
        crossing = ", ".join(f"{1e3 * at:.0f} mm" for at in joint.root_crossings)
        rows.append(
            (joint.mark, plan.parts[joint.part].name, joint.across, joint.length,
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


def _figures(plan: nesting.Plan, look: str, unit: str) -> tuple[Figure, ...]:
    figures = []
    for number, sheet in enumerate(plan.sheets[:DRAWN], 1):
        stock = plan.stock[sheet.stock]
        rows = _rows(sheet, stock, look, stock.defect_loops, unit)
        figures.append(
            Figure(
                "sheet",
                f"Sheet {number} of {len(plan.sheets)}",
                f"{_count(len(sheet.placements), 'piece')}, {100 * sheet.area_yield:.0f} % of "
                "the whole sheet."
                + (" A long sheet is drawn in rows, one below the other." if len(rows) > 1 else "")
                + (" ⇄ is cut face down." if any(p.mirrored for p in sheet.placements) else ""),
                {"sheets": rows},
            )
        )
    return tuple(figures)


def _rows(
    sheet: nesting.SheetPlan,
    stock: nesting.Sheet,
    look: str,
    defects: Sequence[np.ndarray],
    unit: str = "mm",
) -> list[dict[str, Any]]:
    """Cut the used length of a long sheet into rows short enough to read, between parts if it can.

    Drawing data only: what is drawn is clipped, the plan is not.
    """
    row = 4.0 * stock.width
    length = stock.length
    if length > 1.2 * row:
        length = min(length, max(sheet.used_length + 0.1 * stock.width, row))
    breaks = [0.0]
    spans = [(min(x for x, _ in p.polygon), max(x for x, _ in p.polygon)) for p in sheet.placements]
    while breaks[-1] + 1.2 * row < length:
        latest = breaks[-1] + row
        clear = [
            end for _, end in spans
            if breaks[-1] + 0.5 * row < end <= latest and not any(a < end < b for a, b in spans)
        ]  # fmt: skip
        breaks.append(max(clear) + 0.0005 if clear else latest)
    ends = [*breaks[1:], length]
    rows = []
    for low, high in zip(breaks, ends, strict=True):
        label = ""
        if len(ends) > 1 or high < stock.length - 1e-9:
            ends_shown = [lengths.to_unit(end, "length", unit) for end in (low, high, stock.length)]
            label = "from {:.3g} to {:.3g} {unit} of {:.4g} {unit}".format(*ends_shown, unit=unit)
        places = []
        for place, (start, stop) in zip(sheet.placements, spans, strict=True):
            shape = _between(place.polygon, low, high)
            if len(shape) < 3:
                continue
            main = 0.5 * (start + stop)
            places.append(
                {
                    "polygon": shape,
                    "holes": [h for h in (_between(h, low, high) for h in place.holes)
                              if len(h) > 2],
                    "label": place.label if low <= main < high else "",
                    "mirrored": place.mirrored and low <= main < high,
                }
            )  # fmt: skip
        rows.append(
            {
                "length": high - low,
                "width": stock.width,
                "look": look,
                "label": label,
                "placements": places,
                "defects": [
                    {"polygon": shape}
                    for shape in (
                        _between([(float(x), float(y)) for x, y in loop], low, high, stock.width)
                        for loop in defects
                    )
                    if len(shape) > 2
                ],
                # They run along the sheet, so that cutting them at a row's end is one number.
                "glue_lines": [
                    [[max(min(a[0], b[0]), low) - low, a[1]],
                     [min(max(a[0], b[0]), high) - low, b[1]]]
                    for place in sheet.placements
                    for _, (a, b) in place.joints
                    if min(a[0], b[0]) < high and max(a[0], b[0]) > low
                ],
            }
        )  # fmt: skip
    return rows


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


def _steps(plan: nesting.Plan, sheet: nesting.Sheet) -> tuple[Step, ...]:
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
            "Area bound",
            "sheets ≥ Σ part areas / sheet area",
            f"{1e4 * plan.part_area:.4g} cm² of parts, {1e4 * sheet.length * sheet.width:.4g} cm² "
            f"a sheet: at least {_count(plan.least_sheets, 'sheet')}; this plan takes "
            f"{len(plan.sheets)}",
        ),
        Step(
            "Mass",
            "m = area × mass per area",
            f"{1e3 * sheet.areal_mass:.4g} g/m²; parts {1e3 * plan.part_mass:.3g} g",
        ),
    ]
    if plan.joints:
        steps.append(
            Step(
                "Glue lines",
                "fewest strips no wider than the sheet, lines off the root and the tip's corners",
                f"{1e3 * plan.glue_line_length:.4g} mm in all",
            )
        )
    return tuple(steps)


def drawing(values: Mapping[str, Any]) -> Figure | None:
    """Return the picture of the part with its grain."""
    if values.get("shape") != "fin":
        return None
    try:
        shape = c.planform(values["root"], values["tip"], values["span"], values["sweep"])
        material = c.material_of(values)
    except InputError:
        return None
    return Figure(
        "fin",
        "The part, to scale",
        "Lines show the grain.",
        {
            "root": shape.root,
            "tip": shape.tip,
            "span": shape.span,
            "sweep": shape.sweep,
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
    question="How many fins from which sheets, grain the right way, pieced if too narrow?",
    inputs=INPUTS,
    answer=answer,
    drawing=drawing,
    slow=True,
)
