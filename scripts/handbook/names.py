"""Numbers, tables and pictures for prose: what a page may ask for between double braces.

A page writes ``{{ answer("fin-check", thickness="1/8 in").flutter_speed | m/s }}`` and gets the
number the calculator gives. Everything a page can name is in `NAMES`.
"""

from __future__ import annotations

import importlib
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, cast

import numpy as np

from calc import calculators, units
from calc.fin import boundaries
from calc.fin import model as fin_model
from calc.report import WORDS, Answer, Column, Report, Table
from calc.wording import unit_for


@dataclass(frozen=True)
class Number:
    """A number on its way into a sentence."""

    value: float
    kind: str = "number"
    low: float | None = None
    high: float | None = None
    source: str = ""
    bound: str = ""
    """ "at least" or "at most" where only a limit is known; it is said with the number."""

    def _with(self, factor: float) -> Number:
        return Number(
            self.value * factor,
            "number" if self.kind in ("number", "fraction") else self.kind,
            None if self.low is None else self.low * factor,
            None if self.high is None else self.high * factor,
            self.source,
            self.bound,
        )

    def __truediv__(self, other: Number | float) -> Number:
        """Return a plain ratio (Number over Number) or a scaled number."""
        if isinstance(other, Number):
            bound = _bound_of(self.bound, OPPOSITE[other.bound])
            return Number(self.value / other.value, bound=bound)
        return self._with(1.0 / other)

    def __mul__(self, other: float) -> Number:
        """Return a scaled number."""
        return self._with(other)

    def __sub__(self, other: Number | float) -> Number:
        """Return a difference."""
        if isinstance(other, Number):
            bound = _bound_of(self.bound, OPPOSITE[other.bound])
            return Number(self.value - other.value, self.kind, source=self.source, bound=bound)
        return Number(self.value - other, self.kind, source=self.source, bound=self.bound)


OPPOSITE = {"": "", "at least": "at most", "at most": "at least"}
"""What a limit becomes when it is taken away or divided by."""


def _bound_of(first: str, second: str) -> str:
    """Return the limit of two together; limits that contradict each other leave none."""
    if first and second and first != second:
        raise ValueError("of two limits that point apart nothing can be said")
    return first or second


class Answers:
    """A report whose answers are attributes: ``answer("fin-check").flutter_speed``."""

    def __init__(self, report: Report) -> None:
        self.report = report

    def __getattr__(self, name: str) -> Number:
        """Return one answer as a number, or the verdict's margin as ``margin``."""
        verdict = self.report.verdict
        if name == "margin" and verdict is not None:
            return Number(verdict.margin, "number", verdict.low, verdict.high, bound=verdict.bound)
        try:
            found: Answer = self.report.answer(name)
        except KeyError as problem:
            raise AttributeError(str(problem)) from None
        return Number(found.value, found.kind, found.low, found.high, bound=found.bound)

    @property
    def state(self) -> str:
        """The verdict's word, lower case, never without its margin in the sentence around it."""
        return WORDS[self.report.verdict.state].lower() if self.report.verdict else "unknown"

    @property
    def summary(self) -> str:
        """The report's one sentence."""
        return self.report.summary

    @property
    def covers(self) -> str:
        """What the verdict judged and what it left out, as sentences."""
        return self.report.verdict.covers if self.report.verdict else ""

    def margin_of(self, mode: str) -> Number:
        """Return the margin of one mode of failure with its range, over what is required."""
        for item in self.report.modes:
            if item.name == mode:
                ends = (item.low_margin, item.high_margin)
                return Number(item.margin, "number", *ends, bound=item.bound)
        raise AttributeError(f"no mode {mode!r}")

    def table(self, index: int = 0) -> Any:
        """Return one of the report's tables, for use in the page."""
        return self.report.tables[index]

    def cell(self, row: str, column: str, index: int = 0) -> Number:
        """Return a number of a table by the text of its row, the first such, and its column."""
        table = self.report.tables[index]
        place = [each.name for each in table.columns].index(column)
        for cells in table.rows:
            if cells[0] == row:
                kind = table.columns[place].kind or "number"
                return Number(float(cells[place]), kind)
        raise AttributeError(f"no row {row!r}")

    def figure(self, index: int = 0) -> Any:
        """Return one of the report's figures, for use in the page."""
        return self.report.figures[index]


@cache
def _run(slug: str, pairs: tuple[tuple[str, str], ...]) -> Report:
    return calculators.run(slug, dict(pairs))


def answer(slug: str, **texts: str) -> Answers:
    """Return a calculator's answer for the given input texts, defaults elsewhere."""
    return Answers(_run(slug, tuple(sorted(texts.items()))))


def drawn(slug: str, **texts: str) -> Any:
    """Return a calculator's picture of its inputs, for use in the page."""
    calculator = calculators.load(slug)
    values, errors = calculator.read(texts)
    if errors or calculator.drawing is None:
        raise ValueError(f"{slug}: no picture for {texts}")
    return calculator.drawing(values)


def value(name: str, quantity: str) -> Number:
    """Return a material's tabulated value with its range and source."""
    from calc import materials

    found = materials.load(name).values[quantity]
    return Number(found.value, _kind_of(found.unit), found.low, found.high, found.source)


def lamina(name: str, **choices: Any) -> Mapping[str, Number]:
    """Return the elastic constants of a material's first ply (``density`` in kg/m3, ``cut``)."""
    from calc import materials

    ply = materials.load(name).layup(thickness=0.002, **choices).plies[0].lamina
    kinds = {
        "modulus_along": "pressure",
        "modulus_across": "pressure",
        "shear_modulus": "pressure",
        "density": "density",
        "poisson": "number",
        "tension_along": "pressure",
        "compression_along": "pressure",
        "tension_across": "pressure",
        "shear_strength": "pressure",
    }
    return {key: Number(getattr(ply, key), kind) for key, kind in kinds.items()}


def shaped(edge: str, **texts: str) -> Mapping[str, Number]:
    """Return what shaping the edges leaves of a square-edged fin, as shares of it.

    ``mass``; ``bending`` and ``twist``: force on the middle of the tip, and couple on the tip
    chord, for the same give; ``frequency``: first natural frequency; ``boundary``: flutter or
    divergence speed, whichever comes first, in air of low Mach number. Inputs are those of the
    fin check.
    """
    pairs = tuple(sorted({**texts, "edge": edge}.items()))
    square = tuple(sorted({**texts, "edge": "square"}.items()))
    now, before = _fin_in_numbers(pairs), _fin_in_numbers(square)
    return {key: Number(now[key] / before[key], "fraction") for key in now}


@cache
def _fin_in_numbers(pairs: tuple[tuple[str, str], ...]) -> Mapping[str, float]:
    """Return mass [kg], stiffnesses, first frequency [rad/s] and boundary speed [m/s] of a fin."""
    from calc.air import atmosphere
    from calc.calculators import shared
    from calc.structure import plate

    values, errors = calculators.load("fin-check").read(dict(pairs))
    if errors:
        raise next(iter(errors.values()))
    fin = shared.fin_of(cast(shared.FinValues, values))
    model = fin_model.model_for(fin)
    found = fin_model.structure(model, [fin.layup()], [fin.direction])
    system = found.single(0)
    shape = fin.planform
    places = [[shape.sweep + share * shape.tip, shape.span] for share in (0.0, 0.5, 1.0)]
    front, middle, rear = system.basis.values(np.array(places))
    couple = (front - rear) / shape.tip
    stable = boundaries.flutter_and_divergence(model, found, atmosphere.at(0.0))
    return {
        "mass": float(found.mass[0]),
        "bending": 1.0 / float(middle @ plate.static(system, load=middle)),
        "twist": 1.0 / float(couple @ plate.static(system, load=couple)),
        "frequency": float(found.modes.frequency[0, 0]),
        "boundary": float(min(stable.flutter_by_mach[0, 0], stable.divergence_by_mach[0, 0])),
    }


def shaping_table(**texts: str) -> Table:
    """Return what rounding, bevelling and an airfoil leave of a square-edged fin."""
    rows = []
    for edge, label in (
        ("square", "square, as cut"),
        ("rounded", "rounded"),
        ("tapered", "bevelled, 15 % of the chord on each edge"),
        ("airfoil", "airfoil all over"),
    ):
        left = shaped(edge, **texts)
        rows.append((label, *(left[key].value for key in SHAPED)))
    return Table(
        "What shaping leaves, square edges being 100 %",
        (
            Column("edge", "Edges"),
            *(Column(key, label, "fraction", 3) for key, label in SHAPED.items()),
        ),
        tuple(rows),
        note="Computed by the fin check's plate and air for the same sheet, the tip edge square.",
    )


SHAPED = {
    "mass": "Mass",
    "bending": "Stiffness in bending",
    "twist": "Stiffness in twist",
    "frequency": "First frequency",
    "boundary": "Flutter or divergence speed",
}


def _kind_of(unit: str) -> str:
    for kind in units.KINDS.values():
        if unit == kind.si and unit != "1":
            return kind.name
    return "number"


def usual(slug: str, name: str) -> Number:
    """Return what an input of a calculator is when the page opens."""
    item = next(i for i in calculators.load(slug).inputs if i.name == name)
    return Number(float(item.read(item.default)), item.kind if item.kind != "integer" else "number")


def constant(where: str, kind: str = "number", key: Any = None) -> Number:
    """Return a constant of the code by module and name, such as ``fin.policy.TRANSONIC_FACTOR``.

    Of a pair or a table of them `key` names one:
    ``constant("structure.rings.ROLLING_SHEAR", "fraction", 0)``.
    """
    module, name = where.rsplit(".", 1)
    found = getattr(importlib.import_module(f"calc.{module}"), name)
    return Number(float(found if key is None else found[key]), kind)


def glued(name: str) -> Mapping[str, Number]:
    """Return the ``shear`` and ``tension`` that a glue or a tube carries, with their bands."""
    from calc.materials import bonding

    found = bonding.GLUE_RECORDS.get(name) or bonding.TUBE_RECORDS[name]
    out = {}
    for key in ("shear", "tension"):
        low, high = found.band(f"{key}_strength")
        source = found.values[f"{key}_strength"].source
        out[key] = Number(math.sqrt(low * high), "pressure", low, high, source)
    return out


def weakest_glue() -> Mapping[str, Number]:
    """Return what the weakest of the usual glues carries at the least, shear and tension."""
    from calc.materials import bonding

    known = [glued(name) for name in bonding.ADHESIVES]
    return {
        key: min((glue[key] for glue in known), key=lambda number: number.low or number.value)
        for key in ("shear", "tension")
    }


def fineness() -> Mapping[str, Number]:
    """Return how finely the fin check models a fin: plate functions, Mach numbers, frequencies."""
    from calc.calculators import shared

    values, _ = calculators.load("fin-check").read({})
    fin = shared.fin_of(cast(shared.FinValues, values))
    coarse, fine = (fin_model.model_for(fin, fine=fine) for fine in (False, True))

    def functions(model: fin_model.Model) -> int:
        return int(model.plate.basis.values(np.zeros((1, 2))).shape[-1])

    return {
        "functions": Number(float(functions(coarse))),
        "functions_fine": Number(float(functions(fine))),
        "frequencies": Number(float(coarse.air.nodes.size)),
        **{f"mach_{i}": Number(float(mach)) for i, mach in enumerate(fin_model.MACHS)},
    }


def version() -> str:
    """Return the edition of the handbook's code."""
    from calc import __version__

    return __version__


def number(amount: float, kind: str = "number") -> Number:
    """Return any SI number as one that prose can show."""
    return Number(float(amount), kind)


def shown(found: Any, style: str = "") -> str:
    """Return the text of a number under a style such as ``m/s``, ``mm 2``, ``range``.

    A size in inches is followed by millimetres.

    >>> shown(Number(0.0762, "length"), "mm"), shown(Number(2.0), "4")
    ('76.2 mm', '2.000')
    >>> shown(Number(0.0762, "length"), "in")
    '3 in (76 mm)'
    """
    if isinstance(found, str):
        return found
    if isinstance(found, int | float):
        found = Number(float(found))
    if not isinstance(found, Number):
        raise TypeError(f"cannot write a {type(found).__name__} in a sentence")
    digits, unit, spread = 3, None, False
    rest: list[str] = []
    for word in style.split():
        if word.isdigit():
            digits = int(word)
        elif word == "range":
            spread = True
        else:
            rest.append(word)
    if rest:
        unit = " ".join(rest)
        if unit not in units.KINDS[found.kind].units:
            raise ValueError(f"{unit!r} is not a unit of {found.kind}")
    if spread:
        if found.low is None or found.high is None or found.bound:
            raise ValueError("this number has no range")
        return units.show_range(
            low=found.low, high=found.high, kind=found.kind, unit=unit, digits=digits
        )
    limit = f"{found.bound} " if found.bound else ""
    if unit == "in":
        millimetres = units.show(found.value, found.kind, "mm", digits=2)
        return f"{limit}{units.show(found.value, found.kind, unit, digits=digits)} ({millimetres})"
    if found.kind == "number" and found.value == math.floor(found.value) and not style:
        return f"{limit}{found.value:.0f}"
    return limit + units.show(found.value, found.kind, unit, digits=digits)


BOTH: Mapping[str, tuple[str, str]] = {
    "altitude": ("m", "ft"),
    "length": ("mm", "in"),
    "mass": ("g", "oz"),
    "speed": ("m/s", "mph"),
}
"""The two units of a number in a table, metric first."""


def both(value: float, kind: str) -> str:
    """Return a number for a table in both systems, with two digits.

    >>> both(0.0635, "length"), both(20.0, "speed"), both(2.0e8, "pressure")
    ('64 mm (2.5 in)', '20 m/s (45 mph)', '200 MPa (29 ksi)')
    """
    if kind == "pressure":
        pair = [unit_for(kind, system, value) for system in ("metric", "inch")]
    else:
        pair = list(BOTH[kind])
    here, there = (
        f"{units.significant(units.to_unit(value, kind, unit), 2)} {unit}" for unit in pair
    )
    return f"{here} ({there})"


def sold_as(label: str, thickness: float) -> str:
    """Return a thickness as it is sold, with the other system beside it.

    >>> sold_as("1/8 in", 0.003175), sold_as("2 mm", 0.002)
    ('1/8 in (3.2 mm)', '2 mm (0.079 in)')
    """
    other = "in" if label.endswith(" mm") else "mm"
    return f"{label} ({units.significant(units.to_unit(thickness, 'length', other), 2)} {other})"


def _later(name: str, module: str = "tables") -> Any:
    """Return a function that is imported from `scripts.handbook` when a page first calls it."""

    def call(*args: Any, **kwargs: Any) -> Any:
        found = importlib.import_module(f"scripts.handbook.{module}")
        return getattr(found, name)(*args, **kwargs)

    return call


TABLES = (
    "balsa_claims",
    "balsa_sheets",
    "bibliography",
    "cuts_of",
    "data_of",
    "data_tables",
    "failures_picture",
    "index_chart",
    "log_picture",
    "material_facts",
    "material_notes",
    "material_stock",
    "material_suits",
    "material_work",
    "materials_comparison",
    "polar_of",
    "rocket_family",
    "same_stiffness",
    "scatter",
    "sheet",
    "stack_picture",
    "usual_finishes",
)
"""Functions of `scripts.handbook.tables` that pages may call."""
VALIDATION = (
    "validation_chart",
    "validation_count",
    "validation_off",
    "validation_summary",
    "validation_table",
)
"""Functions of `scripts.handbook.validation` that pages may call."""
NOMENCLATURE = (
    "nomenclature_answers",
    "nomenclature_arguments",
    "nomenclature_inputs",
    "nomenclature_names",
)
"""Functions of `scripts.handbook.nomenclature` that pages may call."""


def links(group: str, base: str = "../../") -> Any:
    """Return a table of ready links into calculators (`scripts.handbook.links`)."""
    from scripts.handbook import links as ready

    return ready.table(group, base=base)


def link_names(slug: str) -> Any:
    """Return a table of the names that a link into a calculator understands."""
    from scripts.handbook import links as ready

    return ready.names_table(slug)


def picture(drawing: str, title: str = "", caption: str = "", **data: Any) -> Any:
    """Return a drawing by its name in `calc.render.drawing`, for use in the page."""
    from calc.report import Figure

    return Figure(drawing, title, caption, data)


NAMES: dict[str, Any] = {
    **{name: _later(name) for name in TABLES},
    **{name: _later(name, "validation") for name in VALIDATION},
    **{name: _later(name, "nomenclature") for name in NOMENCLATURE},
    "outlines_compared": _later("outlines_compared", "outlines"),
    "outlines_drawn": _later("outlines_drawn", "outlines"),
    "outline_speed": _later("first_speed", "outlines"),
    **{name: _later(name, "bulk") for name in ("range_of_kits", "kits_that")},
    **{
        name: _later(name, "practice") for name in ("thumb_rules", "thickness_cost", "basis_counts")
    },
    **{name: _later(name, "rockets") for name in ("rocket_names",)},
    **{
        name: _later(name, "editions")
        for name in ("verdicts_compared", "verdicts_changed", "changed_verdicts")
    },
    "answer": answer,
    "usual": usual,
    "value": value,
    "lamina": lamina,
    "links": links,
    "link_names": link_names,
    "drawn": drawn,
    "picture": picture,
    "constant": constant,
    "fineness": fineness,
    "glued": glued,
    "weakest_glue": weakest_glue,
    "number": number,
    "shaped": shaped,
    "shaping_table": shaping_table,
    "version": version,
    "price_classes": _later("price_classes", "practice"),
    "atan": math.atan,
    "round": round,
    "min": min,
    "max": max,
    "len": len,
}
"""What a page may name; pages' tables and pictures are added by `scripts.handbook.tables`."""
