"""Tables and pictures for pages: material data, comparisons, the index chart, downloads.

Every function returns plain report data, so that a page shows what the package knows and
nothing is typed twice. Numbers are in SI units with the unit in the column's head, because the
sources print them so.
"""

from __future__ import annotations

import csv
import io
import json
import math
import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from calc import materials
from calc.calculators import shared as c
from calc.materials import Material, Value, balsa, bonding
from calc.render.html import citation
from calc.report import Column, Figure, Table
from calc.structure import laminate as layups
from calc.structure.failure import first_failure_moment
from calc.units import INCH, KINDS, inch_fraction, plain, show, significant
from calc.workshop import finish
from scripts.handbook import rocket_family as suits
from scripts.handbook.names import both
from scripts.runtime import ROOT

MATERIALS = ROOT / "docs" / "materials"
CHAPTERS: Mapping[str, str] = {
    **dict.fromkeys(("sitka-spruce", "yellow-poplar"), "spruce-and-poplar"),
    **dict.fromkeys(("birch-plywood", "light-plywood"), "plywood"),
    **dict.fromkeys(("paper", "card", "tube-kraft"), "paper-and-card"),
    **dict.fromkeys(("balsa-paper", "balsa-glass", "balsa-carbon"), "skinned-balsa"),
    **dict.fromkeys(
        ("glass-epoxy", "carbon-epoxy-woven", "carbon-epoxy-quasi-isotropic"), "laminates"
    ),
    **dict.fromkeys(("styrene", "abs", "polycarbonate"), "plastics"),
    **dict.fromkeys(("printed-pla", "printed-petg"), "printed-plastics"),
}
"""Chapter of a material that shares one with its kin; the others have one under their own name."""
BALSA_WORDS: Mapping[int, str] = {
    6: "contest to light",
    8: "light to medium",
    10: "medium",
    12: "medium to hard",
    14: "hard",
    16: "hard to extra hard",
}
"""What sellers call balsa of a density [lb/ft3]; the names are not standardised (practice)."""
REFERENCE_THICKNESS = 0.125 * INCH
"""Thickness at which sheets are compared [m]; the nearest stock size is taken."""
SCALES = (("GPa", 1e9), ("MPa", 1e6), ("kPa", 1e3))
USUAL = {
    "m": ("length", "mm"),
    "kg/m2": ("areal-mass", "g/m2"),
    "kg/m3": ("density", "kg/m3"),
}
"""What is measured in an SI unit of the data, and the unit that people use for it."""
WORDS: Mapping[str, str] = {
    "cov": "scatter",
    "ratio_ET": "E_T over E_L",
    "ratio_ER": "E_R over E_L",
    "ratio_GLT": "G_LT over E_L",
    "ratio_GLR": "G_LR over E_L",
    "ratio_GRT": "G_RT over E_L",
    "poisson_LT": "Poisson’s ratio LT",
    "poisson_LR": "Poisson’s ratio LR",
    "poisson_RT": "Poisson’s ratio RT",
    "poisson": "Poisson’s ratio",
    "shear_13": "shear modulus, along and through",
    "shear_23": "shear modulus, across and through",
    "modulus_bending": "modulus in bending, as tabulated",
}


def in_words(key: str) -> str:
    """Return a value's name for people.

    >>> in_words("tension_along")
    'tension along'
    """
    return WORDS.get(key, key.replace("_", " "))


POWER = re.compile(r"(?<![A-Za-z])((?:[A-Za-z]+/)?(?:m|cm|mm|in|ft|yd))([23])(?!\w)")
"""A unit of area or volume, or one per it, as typed: kg/m3."""
DEGREES = re.compile(r"(?<=\d) C\b(?! grain| cut)")


def typeset(text: str) -> str:
    """Return a sentence with the powers of its units raised and degrees marked.

    >>> typeset("1.3 g/cm3 at 23 C, 103 kgf/cm2 (kg/m3)")
    '1.3 g/cm³ at 23 °C, 103 kgf/cm² (kg/m³)'
    >>> typeset("table A2, cm2019")
    'table A2, cm2019'
    """
    text = POWER.sub(lambda m: m[1] + "²³"[int(m[2]) - 2], text.replace("GPa^0.5", "√GPa"))
    return DEGREES.sub(" °C", text)


def amount(value: float, unit: str) -> str:
    """Return an SI value with a unit people use.

    >>> amount(3.4e9, "Pa"), amount(0.0002, "m"), amount(0.015, "1")
    ('3.4 GPa', '0.2 mm', '0.015')
    """
    if unit == "Pa":
        fitting = (name for name, scale in SCALES if abs(value) >= scale)
        return show(value, "pressure", next(fitting, "kPa"), digits=4, trim=True)
    if unit in USUAL:
        return show(value, *USUAL[unit], digits=4, trim=True)
    return plain(value, digits=4)


def _span(item: Value) -> str:
    if item.low is None and item.high is None:
        return f"± {item.cov:.0%}" if item.cov else "–"
    ends = _ends(item.low, item.high, item.unit)
    return ends + (f", ± {item.cov:.0%}" if item.cov else "")


def _ends(low: float | None, high: float | None, unit: str) -> str:
    """Return a band in words; one with a single end is a limit.

    >>> _ends(1.08e10, None, "Pa"), _ends(1e9, 2e9, "Pa")
    ('at least 10.8 GPa', '1 GPa to 2 GPa')
    """
    if high is None:
        return f"at least {amount(low, unit)}" if low is not None else "–"
    return (
        f"at most {amount(high, unit)}"
        if low is None
        else (f"{amount(low, unit)} to {amount(high, unit)}")
    )


def _cite(item: Value) -> str:
    source = materials.sources()[item.source]
    short = ", ".join(
        str(part) for part in (source.title, source.number, source.year) if part not in ("", None)
    )
    return f"{short}. {item.remark}" if item.remark else short


def reference_size(material: Material) -> float:
    """Return the stock thickness nearest to an eighth of an inch [m]."""
    return material.nearest_stock(REFERENCE_THICKNESS).thickness


def sheet_numbers(material: Material) -> dict[str, float]:
    """Return what a sheet of a material is worth at the reference thickness, SI units.

    Keys: thickness, density, areal_mass, along, across, twist (moduli as it bends), strength
    (in bending along), index_along and index_across (E^(1/3)/rho in GPa^(1/3)/(Mg/m3)).
    """
    thickness = reference_size(material)
    stack = material.layup(thickness=thickness)
    bend = layups.flexural_constants(stack)
    density = stack.areal_mass / stack.thickness
    along, across = float(bend.modulus_x), float(bend.modulus_y)
    return {
        "thickness": thickness,
        "density": density,
        "areal_mass": stack.areal_mass,
        "along": along,
        "across": across,
        "twist": float(bend.shear_modulus),
        "strength": first_failure_moment(stack, direction=0.0)[0] * 6.0 / thickness**2,
        "index_along": panel_index(along, density),
        "index_across": panel_index(across, density),
    }


def panel_index(modulus: float, density: float) -> float:
    """Return the index of a light stiff panel, E^(1/3)/rho [GPa^(1/3) m3/Mg].

    Source: Ashby, Materials Selection in Mechanical Design (from memory, unverified).

    >>> round(panel_index(3.74e9, 184.0), 1)
    8.4
    """
    return float((modulus / 1e9) ** (1.0 / 3.0) / (density / 1e3))


def chapter_of(name: str) -> str:
    """Return where a material is described, seen from the materials' index.

    A material without a chapter is at least on the page of data.

    >>> chapter_of("balsa"), chapter_of("birch-plywood")
    ('balsa/', 'plywood/#birch-plywood')
    """
    chapter = CHAPTERS.get(name, name)
    if not (MATERIALS / f"{chapter}.md").is_file():
        return "../reference/materials-data/"
    return f"{name}/" if chapter == name else f"{chapter}/#{name}"


def balsa_sheets() -> Table:
    """Return what a balsa sheet of 3 by 36 in weighs by density and thickness."""
    inches = (1 / 32, 1 / 16, 3 / 32, 1 / 8, 3 / 16, 1 / 4)
    area = 3.0 * 36.0 * INCH**2
    rows = []
    for pounds, words in BALSA_WORDS.items():
        density = pounds * KINDS["density"].units["lb/ft3"]
        grams = (1e3 * density * area * thickness * INCH for thickness in inches)
        shown = (f"{mass:.0f}" if mass >= 10.0 else f"{mass:.1f}" for mass in grams)
        rows.append((f"{pounds} lb/ft³", words, f"{density:.0f}", *shown))
    return Table(
        "What a balsa sheet of 3 × 36 in (76 × 914 mm) weighs, in grams",
        (
            Column("pounds", "Density"),
            Column("words", "Often called"),
            Column("density", "kg/m³"),
            *(Column(f"mass_{64 * x:.0f}", f"{inch_fraction(x * INCH)} in") for x in inches),
        ),
        tuple(rows),
        note="Computed: density times volume. The names are common practice and differ from shop "
        "to shop; the mass does not. A sheet 4 in wide weighs a third more.",
    )


def material_facts(name: str) -> Table:
    """Return the few numbers that describe a sheet, computed from the data."""
    material = materials.load(name)
    n = sheet_numbers(material)
    size = material.nearest_stock(REFERENCE_THICKNESS)
    rows = (
        ("Density", f"{n['density']:.0f} kg/m³"),
        ("Mass of 100 cm²", f"{significant(n['areal_mass'] * 10, 3)} g"),
        ("Stiffness in bending, along", amount(float(f"{n['along']:.3g}"), "Pa")),
        ("Stiffness in bending, across", amount(float(f"{n['across']:.3g}"), "Pa")),
        ("Stiffness in twist", amount(float(f"{n['twist']:.3g}"), "Pa")),
        ("Strength in bending, along", amount(float(f"{n['strength']:.2g}"), "Pa")),
        ("Light stiff panel index, along and across",
         f"{n['index_along']:.1f} and {n['index_across']:.1f}"),
        ("Scatter of stiffness along, one sheet to another",
         f"{material.scatter['modulus_along']:.0%}"),
    )  # fmt: skip
    return Table(
        f"{material.label} in a few numbers",
        (Column("what", "Of a sheet"), Column("value", size.trade_label)),
        rows,
        note="Computed from the values on the data page. The index is ∛E/ρ in ∛GPa per "
        "Mg/m³: "
        "higher is stiffer at the same mass.",
    )


def material_stock(name: str) -> Table:
    """Return the sizes that shops sell, with their mass, and plies where they matter."""
    material = materials.load(name)
    merged: dict[tuple[float, str], list[Any]] = {}
    for item in sorted(material.stock, key=lambda s: (s.system != "inch", s.thickness)):
        key = (item.thickness, item.trade_label)
        size = _size(item.width, item.length, item.system)
        entry = merged.setdefault(key, [item, []])
        if size not in entry[1]:
            entry[1].append(size)
    layered = any(item.plies for item, _ in merged.values())
    rows = []
    for item, sizes in merged.values():
        mass = material.layup(thickness=item.thickness).areal_mass
        row: list[Any] = [item.trade_label, f"{item.thickness * 1e3:.3g}", f"{mass * 10:.3g}"]
        if layered:
            row.append(str(item.plies or "–"))
        rows.append((*row, ", ".join(sizes)))
    columns = [
        Column("label", "Sold as"),
        Column("thickness", "mm"),
        Column("mass", "g per 100 cm²"),
    ]
    if layered:
        columns.append(Column("plies", "Plies"))
    columns.append(Column("sizes", "Sheets"))
    return Table(
        f"{material.label}: sizes often sold",
        tuple(columns),
        tuple(rows),
        note="Common practice; shops differ.",
    )


def _size(width: float, length: float, system: str) -> str:
    if system == "inch":
        return f"{inch_fraction(width)} × {inch_fraction(length)} in"
    return f"{width * 1e3:.0f} × {length * 1e3:.0f} mm"


def material_work(name: str) -> Table:
    """Return how a material is cut, sanded, shaped and finished, graded."""
    material = materials.load(name)
    label = {"cut": "Cutting", "sand": "Sanding", "shape": "Shaping", "finish": "Finishing"}
    return Table(
        f"{material.label}: working it",
        (Column("work", "Work"), Column("grade", "Effort"), Column("words", "How")),
        tuple(
            (label[key], f"{grade.meaning} ({grade.grade} of 5)", grade.words)
            for key, grade in material.workability.items()
        ),
        note="Grades are common practice, not measurements.",
    )


def material_notes(name: str) -> Table:
    """Return what to know of the numbers: contradictions between sources and limits."""
    material = materials.load(name)
    notes = list(material.notes)
    for part in (material.core, material.skin):
        if part is not None:
            notes += [f"{part.label}: {note}" for note in part.notes]
    return Table(
        f"{material.label}: what the numbers assume",
        (Column("number", "No."), Column("note", "Where sources differ, and what is assumed")),
        tuple((str(i), note) for i, note in enumerate(notes, 1)),
    )


def material_suits(name: str) -> Table:
    """Return which rockets of the family this material holds for."""
    return suits.suits(name)


def rocket_family() -> Table:
    """Return the family of invented rockets."""
    return suits.family()


def price_class(material: Material) -> str:
    """Return what a sheet of a material costs beside balsa: cheap, medium or expensive."""
    return "–" if material.price is None else material.price.level


def materials_comparison() -> Table:
    """Return every material side by side, sortable."""
    rows, links = [], []
    for name in materials.names():
        material = materials.load(name)
        n = sheet_numbers(material)
        work = material.workability
        rows.append(
            (
                material.label,
                n["index_along"],
                price_class(material),
                n["density"],
                n["along"] / 1e9,
                n["across"] / 1e9,
                n["strength"] / 1e6,
                n["index_across"],
                work["cut"].grade + work["shape"].grade,
                work["finish"].grade,
                material.family,
            )
        )
        links.append(chapter_of(name))
    return Table(
        "Every material side by side",
        (
            Column("material", "Material"),
            Column("index", "Panel index along (high is good)", "number", 2),
            Column("price", "Price"),
            Column("density", "Density, kg/m³", "number"),
            Column("along", "Stiffness along, GPa", "number", 2),
            Column("across", "Stiffness across, GPa", "number", 2),
            Column("strength", "Strength along, MPa", "number", 2),
            Column("index_across", "Panel index across (high is good)", "number", 2),
            Column("bench", "Bench work (2 easy, 10 hard)", "number", 1),
            Column("finish", "Finishing (1 easy, 5 hard)", "number", 1),
            Column("family", "Family"),
        ),
        tuple(rows),
        note="Sheets of the stock size nearest 1/8 in, as they bend. The panel index ∛E/ρ "
        "ranks stiffness at equal mass. Strength: the load at which the first layer gives; on "
        "paper skins that is the pressed paper. Bench work: the grades of cutting and shaping "
        "added. Price: beside balsa of the same size, common practice, 2026. Tap a heading to "
        "sort.",
        links=tuple(links),
        sortable=True,
    )


def _short(material: Material) -> str:
    """Return a label short enough for a chart: what tells a skinned sheet from its core."""
    first, _, rest = material.label.partition(", ")
    return rest if rest and material.family == "faced" else first


def index_chart() -> Figure:
    """Return the panel index against density for every material."""
    points = []
    for name in materials.names():
        material = materials.load(name)
        n = sheet_numbers(material)
        points.append(
            {
                "x": n["density"],
                "y": n["index_along"],
                "label": _short(material),
                "family": material.family,
            }
        )
    density = np.geomspace(80.0, 2000.0, 25)
    guides = [
        {
            "x": density.tolist(),
            "y": [panel_index(modulus, float(d)) for d in density],
            "label": f"{modulus / 1e9:g} GPa",
        }
        for modulus in (1e9, 10e9, 100e9)
    ]
    return Figure(
        "scatter",
        "Stiffness at equal mass, against density",
        "Panel index ∛E/ρ along the grain of a sheet about 1/8 in thick. Broken lines: "
        "materials of the same stiffness.",
        {
            "x": {"label": "Density", "kind": "density", "log": True},
            "y": {"label": "Panel index", "kind": "number", "log": True},
            "points": points,
            "guides": guides,
        },
    )


CLAIMS = {
    "handbook x 1.10, in proportion (used here)": "used here",
    "handbook, in proportion (used here)": "used here",
    "handbook as tabulated, in proportion": "as tabulated",
    "handbook x 1.10, power 1.25": "power 1.25",
    "handbook, power 1.5": "power 1.5",
    "ideal honeycomb": "honeycomb",
    "straight line through n = 6 sticks": "six sticks",
}
"""Names of `calc.materials.balsa` short enough for a line in a chart."""


def balsa_claims(quantity: str = "stiffness") -> Figure:
    """Return what each source claims of balsa's ``stiffness`` or ``strength`` along the grain."""
    claims = {"stiffness": balsa.modulus_claims, "strength": balsa.strength_claims}[quantity]
    density = np.linspace(64.0, 260.0, 50)
    ideal = {
        "stiffness": "an ideal honeycomb, which tests stay below (Borrega and Gibson)",
        "strength": "an ideal honeycomb as a later text quotes it",
    }[quantity]
    series = [
        {
            "name": CLAIMS.get(claim.label, claim.label),
            "x": density.tolist(),
            "y": [float(v) if np.isfinite(v) else None for v in claim.values],
        }
        for claim in claims(density)
    ]
    return Figure(
        "chart",
        f"Balsa’s {quantity} along the grain, source by source",
        "Each line is what one source says of a sheet of that density, at 12 % moisture: the Wood "
        f"Handbook’s balsa in proportion to density or to a power of it (ANC-18), {ideal}, a line "
        "through six tested sticks. "
        "Where they part nobody knows better: test your sheet.",
        {
            "x": {"label": "Density", "kind": "density"},
            "y": {"label": quantity.capitalize(), "kind": "pressure", "zero": True},
            "series": series,
            "marks": [
                {"axis": "x", "value": balsa.HANDBOOK_DENSITY, "label": "the handbook’s balsa"}
            ],
        },
    )


def usual_finishes() -> Table:
    """Return what the usual finish of each family of material weighs per area of fin."""
    rows = []
    for family in finish.families():
        band = finish.usual_areal_mass(family)
        # g per square metre over a hundred is g on 100 cm2
        rows.append((finish.usual(family).label, 10.0 * band.low, 10.0 * band.high))
    return Table(
        "What the usual finish weighs",
        (
            Column("family", "On"),
            Column("low", "Light work, g per 100 cm²", "number", 2),
            Column("high", "Full work, g per 100 cm²", "number", 2),
        ),
        tuple(sorted(rows, key=lambda row: row[2])),
        note="Dry, on both faces of the fin: all coats thin in the light finish, all thick in the "
        "full one. Common practice, from memory, unverified.",
        sortable=True,
    )


def same_stiffness(reference: str = "balsa") -> Table:
    """Return thickness and mass of sheets that bend like an eighth of an inch of a reference."""
    n0 = sheet_numbers(materials.load(reference))
    wanted = n0["along"] * n0["thickness"] ** 3
    rows = []
    for name in materials.names():
        material = materials.load(name)
        n = sheet_numbers(material)
        thick = (wanted / n["along"]) ** (1.0 / 3.0)
        rows.append((material.label, thick, thick * n["density"] * 10.0))
    rows.sort(key=lambda row: row[2])
    return Table(
        "As stiff as 1/8 in balsa, along the grain",
        (
            Column("material", "Material"),
            Column("thickness", "Thickness", "length"),
            Column("mass", "g per 100 cm²", "number", 2),
        ),
        tuple(rows),
        note="By the cube of the thickness, from the stock size nearest 1/8 in, skins and plies "
        "scaled along with it. A real sheet of another size has other shares of skin and core, or "
        "other plies. Foam board, whose papers are as thin on every board, differs much.",
        sortable=True,
    )


def cuts_of(name: str) -> Table:
    """Return what the saw does to a sheet: stiffness along, across and in twist by cut."""
    material = materials.load(name)
    rows = []
    for cut in sorted(material.cuts):
        ply = material.layup(thickness=0.002, cut=cut).plies[0].lamina
        rows.append(
            (
                f"{cut} cut",
                both(ply.modulus_along, "pressure"),
                both(ply.modulus_across, "pressure"),
                ply.modulus_along / ply.modulus_across,
                both(ply.shear_modulus, "pressure"),
            )
        )
    return Table(
        f"{material.label} by the way it is sawn",
        (
            Column("cut", "Sheet"),
            Column("along", "Stiffness along"),
            Column("across", "Stiffness across"),
            Column("ratio", "Along over across", "number", 2),
            Column("shear", "In shear"),
        ),
        tuple(rows),
        note=f"At {material.values['density'].value:.0f} kg/m³. The cut changes what happens "
        "across the grain; along it all are alike.",
    )


def log_picture() -> Figure:
    """Return the picture of a log and the sheets sawn from it."""
    return Figure(
        "log",
        "How a sheet is sawn from the log",
        "Look at the sheet's end: the rings tell the cut.",
        {},
    )


def failures_picture() -> Figure:
    """Return the small pictures of the ways fins fail."""
    return Figure("failures", "How fins fail", "", {})


def polar_of(name: str) -> Figure:
    """Return the stiffness of a sheet in every direction."""
    material = materials.load(name)
    stack = material.layup(thickness=reference_size(material))
    around = np.radians(np.arange(0, 361, 2))
    stiff = np.asarray(layups.flexural_constants(stack, angle=-around).modulus_x)
    return Figure(
        "polar",
        f"{material.label}: stiffness in every direction",
        "Bending a strip cut at each angle; 0° is along the grain.",
        {
            "angle": around.tolist(),
            "series": [{"name": "stiffness", "y": stiff.tolist()}],
            "value": {"label": "Stiffness", "kind": "pressure"},
        },
    )


def stack_picture(name: str, thickness: float | None = None) -> Figure:
    """Return a sheet of a material in section."""
    material = materials.load(name)
    stack = material.layup(thickness=thickness or reference_size(material))
    last = len(stack.plies) - 1
    skin = material.skin
    plies = []
    for i, ply in enumerate(stack.plies):
        outer = skin is not None and i in (0, last)
        family = material.core.family if material.core is not None else material.family
        look = c.LOOKS[skin.family] if outer and skin is not None else c.LOOKS[family]
        plies.append(
            {
                "thickness": ply.thickness,
                "angle_deg": None if family == "foam" and not outer else math.degrees(ply.angle),
                "look": "ply" if material.model == "plywood" else look,
                "label": _layer(material, outer=outer),
            }
        )
    return Figure(
        "stack",
        f"{material.label} in section",
        "Seen from the side, cut along the grain.",
        {"plies": plies},
    )


def _layer(material: Material, *, outer: bool) -> str:
    """Return what a layer of a skinned sheet is made of; other sheets' layers go by their angle.

    >>> board = materials.load("foam-board")
    >>> _layer(board, outer=True), _layer(board, outer=False)
    ('paper', 'foam')
    >>> _layer(materials.load("balsa-glass"), outer=True)
    'glass cloth'
    """
    if material.skin is None:
        return ""
    part = material.skin if outer else material.core
    if part is None:
        return ""
    if part.family in ("paper", "foam"):
        return part.family
    return part.label.lower().removesuffix(" skin")


def data_of(name: str) -> Table:
    """Return every number of one material, glue or tube, as the download has it."""
    rows = [row for row in materials.rows() if row["material"] == name]
    if not rows:
        raise KeyError(f"no data for {name!r}")
    known = materials.sources()
    return Table(
        _label(name),
        (
            Column("name", "Value of"),
            Column("value", "Value"),
            Column("band", "Band"),
            Column("basis", "Basis"),
            Column("source", "Source"),
            Column("note", "Remark"),
        ),
        tuple(
            (
                ("scatter of " if row["group"] == "scatter" else "") + in_words(row["name"]),
                amount(row["value"], row["unit"]),
                _row_span(row),
                row["basis"],
                known[row["source"]].title,
                typeset(row["note"]) or "–",
            )
            for row in rows
        ),
    )


def data_tables(group: str) -> tuple[Table, ...]:
    """Return the tables of every entry of a family, of the components, adhesives or tubes.

    Materials of a family stand in the order of their names, glues and tubes in that of their file.

    >>> [table.title for table in data_tables("plywood")]
    ['Birch plywood', 'Light plywood']
    """
    members = {
        "components": materials.components(),
        "adhesives": tuple(bonding.GLUE_RECORDS),
        "tubes": tuple(f"{name}-tube" for name in bonding.TUBE_RECORDS),
    }
    names = members.get(group) or tuple(
        name for name in materials.names() if materials.load(name).family == group
    )
    if not names:
        raise KeyError(f"no family {group!r}")
    return tuple(data_of(name) for name in names)


def _row_span(row: Mapping[str, Any]) -> str:
    if row["low"] is None and row["high"] is None:
        return f"± {row['cov']:.0%}" if row["cov"] else "–"
    return _ends(row["low"], row["high"], row["unit"])


def _label(name: str) -> str:
    if name in bonding.GLUE_RECORDS:
        return bonding.GLUE_RECORDS[name].label
    tube = bonding.TUBE_RECORDS.get(name.removesuffix("-tube"))
    if tube is not None and name.endswith("-tube"):
        return tube.label
    return materials.load(name).label


def bibliography() -> Table:
    """Return every source once, as a list."""
    used = {row["source"] for row in materials.rows()}
    return Table(
        "Sources",
        (Column("key", "Key"), Column("source", "Source")),
        tuple(
            (
                key,
                # a title stays as it was published
                citation(replace(source, number=typeset(source.number), note=typeset(source.note))),
            )
            for key, source in materials.sources().items()
            if key in used
        ),
    )


FIELDS = (
    "material", "label", "group", "name", "value", "low", "high", "cov", "unit", "basis",
    "source", "source_title", "note",
)  # fmt: skip


def download_rows() -> list[dict[str, Any]]:
    """Return the rows of the download: every number with its source spelled out, SI units."""
    known = materials.sources()
    return [
        {
            **row,
            "label": _label(row["material"]),
            "source_title": known[row["source"]].title,
        }
        for row in materials.rows()
    ]


def data_files() -> dict[str, str]:
    """Return the downloads by file name: the same rows as CSV and as JSON.

    >>> sorted(data_files())
    ['materials.csv', 'materials.json']
    """
    rows = [{key: row[key] for key in FIELDS} for row in download_rows()]
    out = io.StringIO()
    writer = csv.DictWriter(out, fieldnames=FIELDS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    sources = {
        key: {
            "title": item.title,
            "authors": item.authors,
            "number": item.number,
            "year": item.year,
            "note": item.note,
        }
        for key, item in materials.sources().items()
    }
    text = json.dumps({"values": rows, "sources": sources}, indent=1, ensure_ascii=False)
    return {"materials.csv": out.getvalue(), "materials.json": text + "\n"}


def sheet(name: str, key: str) -> Any:
    """Return one number of `sheet_numbers` for a sentence."""
    from scripts.handbook.names import Number

    kinds = {
        "thickness": "length",
        "density": "density",
        "areal_mass": "areal-mass",
        "along": "pressure",
        "across": "pressure",
        "twist": "pressure",
        "strength": "pressure",
    }
    return Number(sheet_numbers(materials.load(name))[key], kinds.get(key, "number"))


def scatter(name: str, key: str) -> Any:
    """Return a material's scatter from one sheet to another as a fraction."""
    from scripts.handbook.names import Number

    item = materials.load(name).scatter_values[key]
    return Number(item.value, "fraction", source=item.source)
