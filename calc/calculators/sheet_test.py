"""Properties of a sheet that was weighed, flexed or tapped."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any, Unpack
from urllib.parse import urlencode

import numpy as np

from calc.calculators import shared as c
from calc.calculators.lists import READINGS, TypedList, thicknesses
from calc.errors import InputError, ValidityError
from calc.forms import Calculator, Choice, Input
from calc.materials import SCATTER, Material, wood
from calc.report import Answer, Change, Column, Figure, Report, Step, Table
from calc.sheet_test import estimate, measurements
from calc.sheet_test.consistency import PRIOR
from calc.sheet_test.measurements import Reading
from calc.structure import laminate as layups
from calc.structure.failure import first_failure_moment
from calc.wording import column_like, range_text

SHEET = "The sheet"
ALONG = "More tests: a strip along the grain"
ACROSS = "More tests: a strip across the grain"
MORE = "More tests: three-point flex and twist"
ERRORS = "More about the measuring"
FIN_CHECK = "../../check/fin-check/"
SPREAD_ORDER = "along, across, in shear, density, strength"
DIGITS = 4
"""Digits with which a tested sheet is written for other calculators."""
KEEP_TITLE = "This sheet, as other calculators read it"
BALSA_DENSITY_COV = 0.35
"""Spread of an unweighed balsa sheet of unknown grade: our judgement from grades that run from
below 96 to above 256 kg/m3 (common practice)."""
LABEL_DENSITY_COV = 0.08
"""Spread of a density from a label or a shop's grade (our judgement)."""

GIVEN = "a reading above zero, or clear the test's own reading to leave the test out"


def _length(
    name: str, label: str, default: str, group: str, help: str = "", *, unit: str = "mm",
    low: float = 0.0005, high: float = 3.0, optional: bool = True,
) -> Input:  # fmt: skip
    return Input(
        name,
        label,
        "length",
        default,
        help=help,
        group=group,
        unit=unit,
        low=low,
        high=high,
        optional=optional,
    )


def _mass(name: str, label: str, default: str, group: str, help: str = "", high: float = 20.0,
          low: float = 1e-5) -> Input:  # fmt: skip
    return Input(
        name,
        label,
        "mass",
        default,
        help=help,
        group=group,
        unit="g",
        low=low,
        high=high,
        optional=True,
    )


def _strip(direction: str, group: str, sag: tuple[str, str]) -> tuple[Input, ...]:
    length, load = sag
    side = "sheet's width" if direction == "along" else "sheet's length"
    return (
        _length(f"strip_{direction}", "Width of the strip", "25 mm", group,
                f"Leave empty for the {side}."),
        _length(f"sag_length_{direction}", "Sag: free length", length, group,
                "From the edge of the clamp to the tip.", low=0.01),
        _length(f"sag_{direction}", "Sag: how far the tip sinks", "", group,
                "Below a straight line from the clamp. Leave empty to skip this test.", low=5e-5),
        _mass(f"sag_load_{direction}", "Sag: mass hung from the tip", load, group,
              "Leave empty for its own weight alone.", low=0.0),
        _length(f"tone_length_{direction}", "Tap: length of the strip",
                "250 mm" if direction == "along" else "75 mm", group, low=0.01),
        Input(f"tone_{direction}", "Tap: frequency of the tone", "frequency", "",
              help="The lowest tone. Leave empty to skip this test.", group=group, unit="Hz",
              low=5.0, high=5000.0, optional=True),
        Input(f"support_{direction}", "Tap: how it is held", "choice", "free", group=group,
              choices=(Choice("free", "at two points 0.22 of the length from its ends"),
                       Choice("clamped", "clamped at one end"))),
    )  # fmt: skip


INPUTS = (
    Input("material", "Material", "material", "balsa", help="What the book says comes first.",
          group=SHEET),
    Input("cut", "How the sheet was sawn", "choice", "unknown",
          help="Not known: the tests judge it.", group=SHEET,
          choices=(Choice("unknown", "not known"), Choice("A", "A grain"), Choice("B", "B grain"),
                   Choice("C", "C grain")), shown_when={"material": ("balsa",)}),
    _mass("sheet_mass", "Mass of the sheet", "", SHEET,
          "Start with this one reading. Leave empty if you cannot weigh it."),
    _length("sheet_length", "Length, along the grain", "36 in", SHEET, unit="in", low=0.02,
            optional=False),
    _length("sheet_width", "Width", "3 in", SHEET, unit="in", low=0.01, optional=False),
    TypedList("thickness", "Thickness at several points", "text", "3/32 in",
              help="With spaces between; the unit once is enough.", group=SHEET, parse=thicknesses,
              wants=READINGS),
    Input("density", "Density from its label", "density", "",
          help="Only where the sheet was not weighed.", group=SHEET, unit="lb/ft3", low=20.0,
          high=9000.0, optional=True),
    *c.own_inputs(),
    *_strip("along", ALONG, ("250 mm", "20 g")),
    *_strip("across", ACROSS, ("60 mm", "20 g")),
    _length("flex_span", "Flex: distance between the supports", "200 mm", MORE,
            "Strip along the grain, width as above.", low=0.02),
    _mass("flex_load", "Flex: mass laid on the middle", "100 g", MORE),
    _length("flex", "Flex: how far the middle sinks", "", MORE,
            "From the unloaded strip. Leave empty to skip this test.", low=2e-5),
    _length("twist_along", "Twist: side along the grain", "76 mm", MORE,
            "A square held under three corners.", low=0.01),
    _length("twist_across", "Twist: side across", "76 mm", MORE, low=0.01),
    _mass("twist_load", "Twist: mass on the free corner", "20 g", MORE),
    _length("twist", "Twist: how far that corner sinks", "", MORE,
            "Leave empty to skip this test.", low=2e-5),
    _mass("mass_error", "Scale is good to", "0.1 g", ERRORS, "One step of its display, or more."),
    _length("length_error", "Ruler is good to", "0.5 mm", ERRORS, low=1e-6, high=0.02),
    _length("gauge_error", "Thickness gauge is good to", "0.02 mm", ERRORS, low=1e-6, high=0.002),
    _length("sag_error", "Sag is read to", "0.3 mm", ERRORS, low=1e-6, high=0.02),
    _length("small_error", "Flex and twist are read to", "0.1 mm", ERRORS, low=1e-6, high=0.02),
    Input("tone_error", "Frequency is good to", "fraction", "1 %",
          help="A tuner or this page: 1 %; by ear against a piano: 3 %.", group=ERRORS, unit="%",
          low=1e-4, high=0.3, optional=True),
)  # fmt: skip

EXAMPLE = {
    "sheet_mass": "23.2 g",
    "thickness": "2.40 2.42 2.41 2.39 2.42 mm",
    "sag_along": "11 mm",
    "tone_along": "188 Hz",
    "sag_across": "6.5 mm",
    "twist": "1.8 mm",
}
"""Readings of an invented sheet, for whoever wants to see what becomes of them."""


class SheetTestValues(c.OwnValues, c.UnitsValues):
    """Values of this calculator."""

    material: str
    cut: str | None
    sheet_mass: float | None
    sheet_length: float
    sheet_width: float
    thickness: tuple[float, ...]
    density: float | None
    strip_along: float | None
    sag_length_along: float | None
    sag_along: float | None
    sag_load_along: float | None
    tone_length_along: float | None
    tone_along: float | None
    support_along: str
    strip_across: float | None
    sag_length_across: float | None
    sag_across: float | None
    sag_load_across: float | None
    tone_length_across: float | None
    tone_across: float | None
    support_across: str
    flex_span: float | None
    flex_load: float | None
    flex: float | None
    twist_along: float | None
    twist_across: float | None
    twist_load: float | None
    twist: float | None
    mass_error: float | None
    length_error: float | None
    gauge_error: float | None
    sag_error: float | None
    small_error: float | None
    tone_error: float | None


SMALLEST = {
    "mass_error": 1e-4,
    "length_error": 5e-4,
    "gauge_error": 2e-5,
    "sag_error": 3e-4,
    "small_error": 1e-4,
    "tone_error": 0.01,
}
"""Errors used where the field is left empty, those of a fresh form."""


def prior_of(values: SheetTestValues, thickness: float) -> estimate.Prior:
    """Return the published properties of the sheet in bending, before any test."""
    material = c.material_of(values)
    given = values["density"] if material.name != "own" else None
    cuts = {None: (None,), "unknown": ("A", "C")}.get(values["cut"], (values["cut"],))
    stacks = [material.layup(thickness=thickness, density=given, cut=cut) for cut in cuts]
    sets = [layups.flexural_constants(stack) for stack in stacks]

    def middle(index: int) -> tuple[float, float]:
        logs = np.log([float(one[index]) for one in sets])
        return float(np.exp(logs.mean())), float(np.ptp(logs)) / 2.0

    (along, _), (across, across_half), (shear, shear_half) = (middle(k) for k in range(3))
    scatter = material.scatter
    power = wood.exponents(material.raw)["modulus"] if material.model == "wood" else 0.0
    density_cov = scatter["density"]
    if given is not None:
        density_cov = LABEL_DENSITY_COV
    elif material.name == "balsa":
        density_cov = BALSA_DENSITY_COV
    shift = power * density_cov
    strengths = _strengths(stacks[0])
    return estimate.Prior(
        modulus_along=along,
        modulus_across=across,
        shear_modulus=shear,
        poisson=float(np.clip(sets[0].poisson, 0.0, 0.69)),
        density=stacks[0].areal_mass / thickness,
        strength_along=strengths[0],
        strength_across=strengths[1],
        shear_strength=strengths[2],
        modulus_cov=math.hypot(scatter["modulus_along"], shift),
        across_cov=math.hypot(scatter["modulus_across"], shift, across_half),
        shear_cov=math.hypot(scatter["shear_modulus"], shift, shear_half),
        density_cov=density_cov,
        strength_cov=(scatter["strength"], 1.5 * scatter["strength"], scatter["strength"]),
        density_exponent=power,
        label=material.label.lower(),
    )


def _strengths(stack: layups.Layup) -> tuple[float, float, float]:
    """Return bending strength along and across, and shear strength, as of one solid sheet [Pa]."""
    lamina = stack.plies[0].lamina
    if len(stack.plies) == 1:
        return (
            min(lamina.tension_along, lamina.compression_along),
            min(lamina.tension_across, lamina.compression_across),
            lamina.shear_strength,
        )
    factor = 6.0 / stack.thickness**2
    along, across = (
        factor * first_failure_moment(stack, direction=turn)[0] for turn in (0.0, math.pi / 2)
    )
    return along, across, min(ply.lamina.shear_strength for ply in stack.plies)


def _errors(values: Mapping[str, Any]) -> dict[str, float]:
    return {name: values[name] or usual for name, usual in SMALLEST.items()}


class _Readings:
    """The form's values as readings with their errors."""

    def __init__(self, values: Mapping[str, Any]) -> None:
        self.values = values
        self.error = _errors(values)

    def given(self, name: str) -> bool:
        """Return whether a field was filled in."""
        return self.values[name] is not None

    def need(self, name: str, error: str) -> Reading:
        """Return a reading that must be there, with the error named."""
        value, doubt = self.values[name], self.error[error]
        if value is None:
            raise InputError(name, "", GIVEN)
        if doubt > 0.5 * value:
            raise InputError(name, f"{value:.3g}", "a reading at least twice its stated error")
        return Reading(value, doubt)

    def side(self, value: float, name: str = "") -> Reading:
        """Return a length's reading; its error is at most three tenths of it.

        Narrow strips are cut to a gauge.
        """
        return Reading(value, min(self.error["length_error"], 0.3 * value), name)

    def width(self, direction: str) -> Reading:
        """Return the width of the strips that lie in a direction."""
        value = self.values[f"strip_{direction}"]
        if value is not None:
            return self.side(value, f"strip {direction}")
        whole = self.values["sheet_width" if direction == "along" else "sheet_length"]
        return self.side(whole, f"sheet {direction}")


def _weighing(form: _Readings) -> measurements.SheetTest:
    return measurements.Weighing(
        form.need("sheet_mass", "mass_error"),
        form.side(form.values["sheet_length"]),
        form.side(form.values["sheet_width"]),
    )


def _sag(form: _Readings, direction: str) -> measurements.SheetTest:
    load = form.values[f"sag_load_{direction}"] or 0.0
    return _made(
        f"sag_{direction}",
        measurements.Cantilever,
        direction=direction,
        length=form.need(f"sag_length_{direction}", "length_error"),
        width=form.width(direction),
        sag=form.need(f"sag_{direction}", "sag_error"),
        tip_load=Reading(load, min(form.error["mass_error"], 0.3 * load)),
    )


def _tone(form: _Readings, direction: str) -> measurements.SheetTest:
    tone = form.values[f"tone_{direction}"]
    return _made(
        f"tone_{direction}",
        measurements.Tone,
        direction=direction,
        length=form.need(f"tone_length_{direction}", "length_error"),
        width=form.width(direction),
        frequency=Reading(tone, form.error["tone_error"] * tone),
        support=form.values[f"support_{direction}"],
    )


def _flex(form: _Readings) -> measurements.SheetTest:
    return _made(
        "flex",
        measurements.Flex,
        direction="along",
        span=form.need("flex_span", "length_error"),
        width=form.width("along"),
        load=form.need("flex_load", "mass_error"),
        deflection=form.need("flex", "small_error"),
    )


def _twist(form: _Readings) -> measurements.SheetTest:
    return _made(
        "twist",
        measurements.PlateTwist,
        side_along=form.need("twist_along", "length_error"),
        side_across=form.need("twist_across", "length_error"),
        load=form.need("twist_load", "mass_error"),
        deflection=form.need("twist", "small_error"),
    )


SHORTEST_STRIP = 4.0
"""Least length of a strip, in thicknesses."""


def tests_of(values: SheetTestValues, thickness: Reading) -> tuple[measurements.SheetTest, ...]:
    """Return the tests whose reading was given; their other fields must then be there too."""
    form = _Readings(values)
    found = [_weighing(form)] if form.given("sheet_mass") else []
    for direction in ("along", "across"):
        for name, make in (("sag", _sag), ("tone", _tone)):
            if form.given(f"{name}_{direction}"):
                found.append(make(form, direction))
    for test in found:
        if isinstance(test, measurements.Cantilever | measurements.Tone):
            field = "sag_length" if isinstance(test, measurements.Cantilever) else "tone_length"
            _check_length(f"{field}_{test.direction}", test.length, thickness)
    if form.given("flex"):
        found.append(_flex(form))
    if form.given("twist"):
        found.append(_twist(form))
    return tuple(found)


def _check_length(name: str, length: Reading, thickness: Reading) -> None:
    if length.value < SHORTEST_STRIP * thickness.value:
        raise InputError(name, f"{length.value:.3g} m", "a strip at least four thicknesses long")


def _made(field: str, kind: Any, **readings: Any) -> measurements.SheetTest:
    """Return a test; a reading outside its model raises InputError beside the field."""
    try:
        test: measurements.SheetTest = kind(**readings)
    except ValidityError as problem:
        raise InputError(field, "", f"a smaller reading: {problem}") from None
    return test


FIELDS = (
    ("modulus_along", "modulus_along", "Stiffness along (modulus)", 1e9, "GPa"),
    ("modulus_across", "modulus_across", "Stiffness across", 1e9, "GPa"),
    ("shear_modulus", "shear_modulus", "Shear modulus", 1e9, "GPa"),
    ("poisson", "poisson", "Poisson's ratio", 1.0, ""),
    ("density", "own_density", "Density", 1.0, "kg/m3"),
    ("strength_along", "strength_along", "Strength along", 1e6, "MPa"),
    ("strength_across", "strength_across", "Strength across", 1e6, "MPa"),
    ("shear_strength", "shear_strength", "Shear strength", 1e6, "MPa"),
)
"""Quantity of a tested sheet, input name elsewhere, label, unit in SI and unit."""


def typed(result: estimate.TestedSheet) -> dict[str, str]:
    """Return the texts that fill a calculator's own material, by input name."""
    own = result.own()
    texts = {
        name: f"{own[key] / factor:.4g} {unit}".strip() for key, name, _, factor, unit in FIELDS
    }
    # One scatter for all strengths, as in every material of our data: that along the grain.
    scatter = {**result.scatter(), "strength": result.strength_along.cov}
    shares = " ".join(f"{100.0 * min(max(scatter[key], 0.001), 1.0):.3g}" for key in SCATTER)
    return {
        "material": "own",
        **texts,
        "thickness": f"{1e3 * result.thickness.value:.4g} mm",
        "spread": f"{shares} %",
    }


def answer(**values: Unpack[SheetTestValues]) -> Report:
    """Answer for SI values by input name."""
    thickness = measurements.thickness_reading(
        readings=values["thickness"], error=_errors(values)["gauge_error"]
    )
    if thickness.error > 0.25 * thickness.value:
        raise InputError("gauge_error", "", "an error far below the thickness")
    prior = prior_of(values, thickness.value)
    tests = tests_of(values, thickness)
    material = c.material_of(values)
    result = estimate.update(
        prior=prior, thickness=thickness, tests=tests, classify_balsa=material.name == "balsa"
    )
    tested = {test.target for test in tests}
    answers = [
        _estimate("density", "Density", "density", result.density, "density" in tested),
        _estimate("modulus_along", "Stiffness along (modulus)", "pressure",
                  result.modulus_along, "along" in tested),
        _estimate("modulus_across", "Stiffness across", "pressure", result.modulus_across,
                  "across" in tested),
        _estimate("shear_modulus", "Shear modulus", "pressure", result.shear_modulus,
                  "shear" in tested),
        Answer("mean_thickness", "Mean thickness", result.thickness.value, "length",
               result.thickness.low, result.thickness.high),
        Answer("ratio", "Stiffness across over along",
               result.modulus_across.value / result.modulus_along.value, "number"),
        *(
            Answer(name, label, one.value, "pressure", one.low, one.high, note="from the book")
            for name, label, one in (
                ("strength_along", "Strength along", result.strength_along),
                ("strength_across", "Strength across", result.strength_across),
                ("shear_strength", "Shear strength", result.shear_strength),
            )
        ),
    ]  # fmt: skip
    if result.cut is not None:
        for letter, chance in zip(
            "abc", (result.cut.probability_a, result.cut.probability_b, result.cut.probability_c),
            strict=True,
        ):  # fmt: skip
            answers.append(
                Answer(f"cut_{letter}", f"Chance that it is {letter.upper()} grain", chance,
                       "fraction", digits=2)
            )  # fmt: skip
    # without a reading, the sheet is the book
    tables = [_compared(prior, result, tested, c.formatter(values))] if tests else []
    if any(test.target != "density" for test in tests):
        tables += [_alone(prior, thickness, tests, result), _agreement(result)]
    tables.append(_carried(result, c.formatter(values)))
    return Report(
        calculator="sheet-test",
        summary=_summary(result, tests, c.formatter(values)),
        answers=tuple(answers),
        headline=("density", "modulus_along", "modulus_across", "shear_modulus"),
        changes=_next(values, tests),
        tables=tuple(tables),
        steps=_steps(values, prior, thickness, tests, result),
        notes=_notes(material, result),
        sources=tuple(material.sources),
        carry=typed(result),
    )


def _next(
    values: Mapping[str, Any], tests: tuple[measurements.SheetTest, ...]
) -> tuple[Change, ...]:
    """Return the reading that is worth most next, and the example while nothing is read."""
    if not tests:
        return (
            Change(
                "Weigh the sheet",
                "one reading, and the most for the least work: a sheet of a known wood is as "
                "stiff as it is heavy, more or less",
            ),
            Change("Fill in an example", "an invented sheet, read in five ways", inputs=EXAMPLE),
        )
    given = {name for name in ("tone_along", "sag_along", "sag_across", "tone_across", "twist")
             if values[name] is not None}  # fmt: skip
    if not given & {"tone_along", "sag_along"}:
        return (
            Change(
                "Next, tap a strip along the grain",
                "its tone narrows the stiffness along; no clamp can give way and no ruler is read",
            ),
        )
    if not given & {"tone_across", "sag_across"}:
        return (
            Change(
                "Next, a strip across the grain",
                "it shows how the sheet was cut, and how easily a fin of it twists",
            ),
        )
    if "twist" not in given:
        return (Change("Next, twist a square", "shear is half of what decides flutter"),)
    return ()


def _estimate(name: str, label: str, kind: str, found: estimate.Estimate, tested: bool) -> Answer:
    return Answer(
        name, label, found.value, kind, found.low, found.high,
        note="book and tests joined" if tested else "not tested: the book's value",
    )  # fmt: skip


WORDS = {
    "along": "Tests along the grain",
    "across": "Tests across the grain",
    "shear": "Tests of shear",
    PRIOR: "All tests and the book",
}
QUANTITIES = {"along": "Stiffness along", "across": "Stiffness across", "shear": "Shear modulus"}


def _summary(
    result: estimate.TestedSheet, tests: tuple[measurements.SheetTest, ...], fmt: c.Formatter
) -> str:
    along = result.modulus_along
    head = (
        f"{fmt(result.density.value, 'density')} and {fmt(along.value, 'pressure', 2)} along the "
        f"grain ({fmt.between(along.low, along.high, 'pressure')})"
    )
    if not tests:
        return f"Nothing was tested yet. The book's values: {head}."
    torn = [entry for entry in result.consistency if not entry.agrees]
    if torn:
        which = "; ".join(f"furthest out: {entry.outlier}" for entry in torn[:1])
        return f"{head}; the readings do not agree, {which}."
    if result.consistency:
        return f"{head}; the readings agree."
    return f"{head}."


def _notes(material: Material, result: estimate.TestedSheet) -> tuple[str, ...]:
    notes = [part for part in re.split(r"(?<=[.?]) (?=[A-Z])", result.note) if part]
    if material.model == "faced":
        notes.append(
            "The core of a faced sheet gives in shear: what a test shows holds for its span, and "
            "shorter strips look softer."
        )
    if material.model in ("plywood", "laminate"):
        notes.append("The moduli are those of the sheet as it bends, of all its plies together.")
    notes.append(
        "The sheet is taken as it was on the bench: damper air makes it heavier and softer."
    )
    return tuple(dict.fromkeys(notes))


def _compared(
    prior: estimate.Prior, result: estimate.TestedSheet, tested: set[str], fmt: c.Formatter
) -> Table:
    mean, covariance = prior.log_spread()
    spread = np.sqrt(np.diag(covariance))
    pairs = []
    for index, (target, found) in enumerate(
        (
            ("along", result.modulus_along),
            ("across", result.modulus_across),
            ("shear", result.shear_modulus),
        )
    ):
        before = estimate.Estimate.lognormal(float(mean[index]), float(spread[index]))
        pairs.append((target, before, found))
    like = column_like((one.value for _, *both in pairs for one in both), "pressure")

    def cell(found: estimate.Estimate) -> str:
        spread = range_text(found.low, found.high, "pressure", fmt.system, like=like)
        return f"{fmt(found.value, 'pressure', like=like)}{spread}"

    return Table(
        "The book against this sheet",
        (
            Column("quantity", "Quantity"),
            Column("book", "Book (10 to 90 %)"),
            Column("sheet", "This sheet (10 to 90 %)"),
            Column("basis", "Rests on"),
        ),
        tuple(
            (
                QUANTITIES[target],
                cell(before),
                cell(found),
                "tested" if target in tested else "book alone",
            )
            for target, before, found in pairs
        ),
        note=f"The book's density is {fmt(prior.density, 'density')}, this sheet's "
        f"{fmt(result.density.value, 'density')}.",
    )


def _alone(
    prior: estimate.Prior,
    thickness: Reading,
    tests: tuple[measurements.SheetTest, ...],
    result: estimate.TestedSheet,
) -> Table:
    weighings = [test for test in tests if isinstance(test, measurements.Weighing)]
    off = dict(next(a for a in result.consistency if a.subject == PRIOR).innovations)
    for entry in result.consistency:
        if entry.subject != PRIOR:
            off.update(entry.innovations)
    rows = []
    for test in tests:
        if test.target == "density":
            continue
        one = estimate.single(prior=prior, thickness=thickness, test=test, weighings=weighings)
        rows.append((test.label, one.value, one.low, one.high, round(off[test.label], 6)))
    return Table(
        "Each test by itself",
        (
            Column("test", "Test"),
            Column("modulus", "Modulus", "pressure"),
            Column("low", "10 %", "pressure"),
            Column("high", "90 %", "pressure"),
            Column("off", "Reading off by, in units of its error", "number", 2),
        ),
        tuple(rows),
        note="Off by: the reading against what the other tests of the same modulus expect, or "
        "the book where there are none; beyond 2 either way is suspect.",
    )


def _agreement(result: estimate.TestedSheet) -> Table:
    rows = []
    for entry in result.consistency:
        says = "agree" if entry.agrees else f"do not agree; furthest out: {entry.outlier}"
        rows.append((WORDS[entry.subject], says, round(entry.probability, 9)))
    return Table(
        "Do the readings agree?",
        (
            Column("which", "Which"),
            Column("says", "They"),
            Column("chance", "Chance of a gap this wide", "fraction", 2),
        ),
        tuple(rows),
        note=f"Below {100 * estimate.AGREEMENT_LEVEL:.0f} % they are said to disagree, and the "
        "spread is widened: test again.",
    )


def _carried(result: estimate.TestedSheet, fmt: c.Formatter) -> Table:
    """Return the sheet as it can be typed into other calculators, and a link that does it."""
    texts, own = typed(result), result.own()
    kinds = {"poisson": "number", "density": "density"}
    rows = [("Check a fin cut from this sheet", "opens with all of these filled in")]
    rows += [
        (label, fmt(own[key], kinds.get(key, "pressure"), DIGITS)) for key, _, label, _, _ in FIELDS
    ]
    rows.append(("Thickness", fmt(result.thickness.value, "length", DIGITS)))
    rows.append((f"How sure these values are: {SPREAD_ORDER}", texts["spread"]))
    link = f"{FIN_CHECK}?{urlencode(texts)}"
    return Table(
        KEEP_TITLE,
        (Column("what", "What"), Column("text", "Type there")),
        tuple(rows),
        note="Every calculator takes these under the material “your own values”. How sure they are "
        "is the scatter that the tests leave, as coefficients of variation; of strength, the "
        "book's.",
        links=(link, *("" for _ in rows[1:])),
    )


def _steps(
    values: SheetTestValues,
    prior: estimate.Prior,
    thickness: Reading,
    tests: tuple[measurements.SheetTest, ...],
    result: estimate.TestedSheet,
) -> tuple[Step, ...]:
    kinds = {test.kind for test in tests}
    steps = [
        Step(
            "Thickness",
            "t = Σ tᵢ/n;  s² = ((n − 1) sₙ² + e²)/n;  error² = s²/n + e²",
            f"{1e3 * thickness.value:.3f} ± {1e3 * thickness.error:.3f} mm from "
            f"{len(values['thickness'])} readings",
            note="stiffness goes with its cube: 1 % here is 3 % there",
        ),
        Step(
            "What the book says",
            "moduli, strengths and density with their spread, in logarithms",
            f"{prior.label}: {prior.density:.0f} kg/m³, {prior.modulus_along / 1e9:.3g} GPa along, "
            f"{prior.modulus_across / 1e9:.3g} across, {prior.shear_modulus / 1e9:.3g} shear",
            tuple(
                s for s in ("wood-handbook-2021",)
                if s in c.material_of(values).sources
            ),
        ),
    ]  # fmt: skip
    if "weighing" in kinds:
        steps.append(Step("Weighing", "ρ = m/(L b t)", f"{result.density.value:.1f} kg/m³"))
    if "cantilever" in kinds:
        steps.append(
            Step(
                "Sag of a clamped strip",
                "θ″ = −(P L²/EI + w L³/EI (1 − s)) cos θ;  small: y = P L³/3EI + w L⁴/8EI",
                "solved for any sag",
                ("bisshopp-drucker-1945",),
            )
        )
    if "three-point flex" in kinds:
        steps.append(
            Step("Three-point flex", "y = P L³/(48 E I);  I = b t³/12", "shear left out",
                 ("wood-handbook-2021",))
        )  # fmt: skip
    if "tone" in kinds:
        steps.append(
            Step(
                "Tap tone",
                "f = λ²/(2π L²) √(E t²/(12 ρ (1 + π ρ_air b/(4 ρ t))));  λ = 4.730 free, 1.875 "
                "clamped",
                "air carried along counted",
                ("blevins-1979",),
            )
        )
    if "plate twist" in kinds:
        steps.append(
            Step("Twist", "y = 3 P a b/(G t³)", "one corner loaded, three held",
                 ("astm-d3044",), note="the surface w = c x y; from memory, unverified")
        )  # fmt: skip
    steps.append(
        Step(
            "Book and tests joined",
            "least (y − f(u))ᵀR⁻¹(y − f(u)) + (u − u₀)ᵀP₀⁻¹(u − u₀)",
            f"along {result.modulus_along.value / 1e9:.3g} GPa ± {result.modulus_along.cov:.0%}, "
            f"across {result.modulus_across.value / 1e9:.3g} GPa ± "
            f"{result.modulus_across.cov:.0%}, shear {result.shear_modulus.value / 1e9:.3g} GPa ± "
            f"{result.shear_modulus.cov:.0%}",
            note="one unknown for each reading that several tests share; spread widened by "
            "√(χ²/freedom) where tests disagree",
        )
    )
    if result.cut is not None:
        steps.append(
            Step("Cut", "p(cut | ratio) from the modulus across at every ring angle",
                 result.cut.note, ("wood-handbook-2021",))
        )  # fmt: skip
    return tuple(steps)


def drawing(values: Mapping[str, Any]) -> Figure | None:
    """Return the sketch of the first test that was given."""
    shown = {name: values.get(name) for name in
             ("sag_along", "sag_across", "tone_along", "tone_across", "flex", "twist")}  # fmt: skip
    for direction in ("along", "across"):
        if shown[f"sag_{direction}"] is not None:
            return Figure(
                "strip", f"Sag of a strip {direction} the grain",
                "Let it settle for a few seconds, then read.",
                {"kind": "cantilever", "length": values.get(f"sag_length_{direction}"),
                 "sag": shown[f"sag_{direction}"],
                 "load": values.get(f"sag_load_{direction}")},
            )  # fmt: skip
        if shown[f"tone_{direction}"] is not None:
            return Figure(
                "strip", f"Tone of a strip {direction} the grain", "Tap softly, listen for the "
                "lowest tone.", {"kind": "tap", "length": values.get(f"tone_length_{direction}")},
            )  # fmt: skip
    if shown["flex"] is not None:
        return Figure(
            "strip", "Three-point flex", "",
            {"kind": "three-point", "length": values.get("flex_span"), "sag": shown["flex"],
             "load": values.get("flex_load")},
        )  # fmt: skip
    return Figure("strip", "Sag of a strip", "", {"kind": "cantilever"})


CALCULATOR = Calculator(
    slug="sheet-test",
    title="Sheet test",
    question="I weighed, flexed or tapped this sheet: what is it really worth?",
    inputs=INPUTS,
    answer=answer,
    drawing=drawing,
)
