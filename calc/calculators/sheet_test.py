"""What a sheet that was weighed, flexed or tapped is really worth."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

import numpy as np

from calc import bench, sheet
from calc import layup as layups
from calc.bench import Reading
from calc.calculators import Calculator, Choice, Input
from calc.calculators import common as c
from calc.calculators.ply_layup import strength_across
from calc.calculators.typed import READINGS, TypedList, thicknesses
from calc.errors import InputError, ValidityError
from calc.materials import SCATTER, Material, wood
from calc.report import Answer, Column, Figure, Report, Step, Table

SHEET = "The sheet"
ALONG = "Strip along the grain"
ACROSS = "Strip across the grain"
MORE = "More tests: three-point flex and twist"
ERRORS = "More about the measuring"
FIN_CHECK = "../../check/fin-check/"
KEEP_TITLE = "Use this sheet in other calculators"
"""Title of the table whose rows the page reads to keep the sheet on the reader's device."""

BALSA_DENSITY_COV = 0.35
"""Spread of an unweighed balsa sheet of unknown grade: our judgement from grades that run from
below 96 to above 256 kg/m3 (common practice)."""
LABEL_DENSITY_COV = 0.08
"""How far a density from a label or a shop's grade is trusted (our judgement)."""

GIVEN = "a reading above zero, or clear the test's own reading to leave the test out"


def _length(
    name: str, label: str, default: str, group: str, help: str = "", *, unit: str = "mm",
    low: float = 0.0005, high: float = 3.0, optional: bool = True,
) -> Input:  # fmt: skip
    return Input(name, label, "length", default, help, group, unit, low, high, optional=optional)


def _mass(name: str, label: str, default: str, group: str, help: str = "", high: float = 20.0,
          low: float = 1e-5) -> Input:  # fmt: skip
    return Input(name, label, "mass", default, help, group, "g", low, high, optional=True)


def _strip(direction: str, group: str, sag: tuple[str, str, str], tone: str) -> tuple[Input, ...]:
    length, reading, load = sag
    side = "sheet's width" if direction == "along" else "sheet's length"
    return (
        _length(f"strip_{direction}", "Width of the strip", "25 mm", group,
                f"Empty: the {side}."),
        _length(f"sag_length_{direction}", "Sag: free length", length, group,
                "From the edge of the clamp to the tip.", low=0.01),
        _length(f"sag_{direction}", "Sag: how far the tip sinks", reading, group,
                "Below a straight line from the clamp. Empty leaves this test out.", low=5e-5),
        _mass(f"sag_load_{direction}", "Sag: mass hung from the tip", load, group,
              "Empty: its own weight alone.", low=0.0),
        _length(f"tone_length_{direction}", "Tap: length of the strip",
                "250 mm" if direction == "along" else "75 mm", group, low=0.01),
        Input(f"tone_{direction}", "Tap: frequency of the tone", "frequency", tone,
              "The lowest tone. Empty leaves this test out.", group, "Hz", 5.0, 5000.0,
              optional=True),
        Input(f"support_{direction}", "Tap: how it is held", "choice", "free", "", group,
              choices=(Choice("free", "at two points 0.22 of the length from its ends"),
                       Choice("clamped", "clamped at one end"))),
    )  # fmt: skip


INPUTS = (
    Input("material", "Material", "material", "balsa", "What the book says comes first.", SHEET),
    Input("cut", "How the sheet was sawn", "choice", "unknown",
          "Not known: the tests judge it.", SHEET,
          choices=(Choice("unknown", "not known"), Choice("A", "A grain"), Choice("B", "B grain"),
                   Choice("C", "C grain")),
          shown_when={"material": ("balsa",)}),
    _mass("sheet_mass", "Mass of the sheet", "23.2 g", SHEET, "Empty if you cannot weigh it."),
    _length("sheet_length", "Length, along the grain", "36 in", SHEET, unit="in", low=0.02,
            optional=False),
    _length("sheet_width", "Width", "3 in", SHEET, unit="in", low=0.01, optional=False),
    TypedList("thickness", "Thickness at several points", "text", "2.40 2.42 2.41 2.39 2.42 mm",
              "With spaces between; the unit once is enough.", SHEET, parse=thicknesses,
              wants=READINGS),
    Input("density", "Density from its label", "density", "",
          "Only where the sheet was not weighed.", SHEET, "lb/ft3", 20.0, 9000.0, optional=True),
    *c.own_inputs(),
    *_strip("along", ALONG, ("250 mm", "11 mm", "20 g"), "188 Hz"),
    *_strip("across", ACROSS, ("60 mm", "6.5 mm", "20 g"), ""),
    _length("flex_span", "Flex: distance between the supports", "200 mm", MORE,
            "Strip along the grain, width as above.", low=0.02),
    _mass("flex_load", "Flex: mass laid on the middle", "100 g", MORE),
    _length("flex", "Flex: how far the middle sinks", "", MORE,
            "From the unloaded strip. Empty leaves this test out.", low=2e-5),
    _length("twist_along", "Twist: side along the grain", "76 mm", MORE,
            "A square held under three corners.", low=0.01),
    _length("twist_across", "Twist: side across", "76 mm", MORE, low=0.01),
    _mass("twist_load", "Twist: mass on the free corner", "20 g", MORE),
    _length("twist", "Twist: how far that corner sinks", "1.8 mm", MORE,
            "Empty leaves this test out.", low=2e-5),
    _mass("mass_error", "Scale is good to", "0.1 g", ERRORS, "One step of its display, or more."),
    _length("length_error", "Ruler is good to", "0.5 mm", ERRORS, low=1e-6, high=0.02),
    _length("gauge_error", "Thickness gauge is good to", "0.02 mm", ERRORS, low=1e-6, high=0.002),
    _length("sag_error", "Sag is read to", "0.3 mm", ERRORS, low=1e-6, high=0.02),
    _length("small_error", "Flex and twist are read to", "0.1 mm", ERRORS, low=1e-6, high=0.02),
    Input("tone_error", "Frequency is good to", "fraction", "1 %",
          "A tuner or this page: 1 %; by ear against a piano: 3 %.", ERRORS, "%", 1e-4, 0.3,
          optional=True),
)  # fmt: skip

SMALLEST = {
    "mass_error": 1e-4,
    "length_error": 5e-4,
    "gauge_error": 2e-5,
    "sag_error": 3e-4,
    "small_error": 1e-4,
    "tone_error": 0.01,
}
"""Errors taken where the field is left empty, those of a fresh form."""


def book_of(values: Mapping[str, Any], thickness: float) -> sheet.Book:
    """Return what the book says of the sheet before it is tested, as it bends."""
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
    return sheet.Book(
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
    along, across = (factor * strength_across(stack, turn)[0] for turn in (0.0, math.pi / 2))
    return along, across, min(ply.lamina.shear_strength for ply in stack.plies)


def _errors(values: Mapping[str, Any]) -> dict[str, float]:
    return {name: values[name] or usual for name, usual in SMALLEST.items()}


def tests_of(values: Mapping[str, Any], thickness: Reading) -> tuple[bench.Test, ...]:
    """Return the tests whose reading was given; their other fields must then be there too."""
    error = _errors(values)
    ruler, scale = error["length_error"], error["mass_error"]

    def need(name: str, doubt: float) -> Reading:
        value = values[name]
        if value is None:
            raise InputError(name, "", GIVEN)
        if doubt > 0.5 * value:
            raise InputError(name, f"{value:.3g}", "a reading at least twice its stated error")
        return Reading(value, doubt)

    def width(direction: str) -> Reading:
        value = values[f"strip_{direction}"]
        if value is not None:
            return Reading(value, _share(ruler, value), f"strip {direction}")
        whole = values["sheet_width" if direction == "along" else "sheet_length"]
        return Reading(whole, _share(ruler, whole), f"sheet {direction}")

    found: list[bench.Test] = []
    if values["sheet_mass"] is not None:
        mass = need("sheet_mass", scale)
        sides = (values["sheet_length"], values["sheet_width"])
        length, across = (Reading(side, _share(ruler, side)) for side in sides)
        found.append(bench.Weighing(mass, length, across))
    for direction in ("along", "across"):
        if values[f"sag_{direction}"] is not None:
            load = values[f"sag_load_{direction}"] or 0.0
            hung = Reading(load, min(scale, 0.3 * load)) if load else Reading(0.0)
            found.append(
                _made(
                    f"sag_{direction}",
                    bench.Cantilever,
                    direction=direction,
                    length=need(f"sag_length_{direction}", ruler),
                    width=width(direction),
                    sag=need(f"sag_{direction}", error["sag_error"]),
                    tip_load=hung,
                )
            )
        if values[f"tone_{direction}"] is not None:
            tone = values[f"tone_{direction}"]
            found.append(
                _made(
                    f"tone_{direction}",
                    bench.Tone,
                    direction=direction,
                    length=need(f"tone_length_{direction}", ruler),
                    width=width(direction),
                    frequency=Reading(tone, error["tone_error"] * tone),
                    support=values[f"support_{direction}"],
                )
            )
    if values["flex"] is not None:
        found.append(
            _made(
                "flex",
                bench.Flex,
                direction="along",
                span=need("flex_span", ruler),
                width=width("along"),
                load=need("flex_load", scale),
                deflection=need("flex", error["small_error"]),
            )
        )
    if values["twist"] is not None:
        found.append(
            _made(
                "twist",
                bench.PlateTwist,
                side_along=need("twist_along", ruler),
                side_across=need("twist_across", ruler),
                load=need("twist_load", scale),
                deflection=need("twist", error["small_error"]),
            )
        )
    for test in found:
        for name, reading in test.inputs().items():
            if name in ("length", "span") and reading.value < 4.0 * thickness.value:
                field = {"cantilever": "sag_length", "tone": "tone_length"}.get(test.kind, "")
                if field:
                    raise InputError(
                        f"{field}_{test.target}", f"{reading.value:.3g} m",
                        "a strip at least four thicknesses long",
                    )  # fmt: skip
    return tuple(found)


def _share(error: float, value: float) -> float:
    """Return a length's error, at most three tenths of it: narrow strips are cut to a gauge."""
    return min(error, 0.3 * value)


def _made(field: str, kind: Any, **readings: Any) -> Any:
    """Make a test; what it refuses is told beside the field of its reading."""
    try:
        return kind(**readings)
    except ValidityError as problem:
        raise InputError(field, "", f"a smaller reading: {problem}") from None


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


def typed(result: sheet.TestedSheet) -> dict[str, str]:
    """Return the texts that fill a calculator's own material, by input name."""
    own = result.own()
    texts = {
        name: f"{own[key] / factor:.4g} {unit}".strip() for key, name, _, factor, unit in FIELDS
    }
    # one share for all strengths, as in every material on file: that along the grain
    scatter = {**result.scatter(), "strength": result.strength_along.cov}
    shares = " ".join(f"{100.0 * min(max(scatter[key], 0.001), 1.0):.3g}" for key in SCATTER)
    return {
        "material": "own",
        **texts,
        "thickness": f"{1e3 * result.thickness.value:.4g} mm",
        "spread": f"{shares} %",
    }


def answer(**values: Any) -> Report:
    """Answer for SI values by input name."""
    thickness = bench.thickness_reading(
        readings=values["thickness"], error=_errors(values)["gauge_error"]
    )
    if thickness.error > 0.25 * thickness.value:
        raise InputError("gauge_error", "", "an error far below the thickness")
    book = book_of(values, thickness.value)
    tests = tests_of(values, thickness)
    material = c.material_of(values)
    result = sheet.update(
        book=book, thickness=thickness, tests=tests, judge_balsa=material.name == "balsa"
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
    tables = [_compared(book, result, tested)]
    if any(test.target != "density" for test in tests):
        tables += [_alone(book, thickness, tests, result), _agreement(result)]
    tables.append(_carried(result))
    return Report(
        calculator="sheet-test",
        summary=_summary(result, tests),
        answers=tuple(answers),
        headline=("density", "modulus_along", "modulus_across", "shear_modulus"),
        tables=tuple(tables),
        steps=_steps(values, book, thickness, tests, result),
        notes=_notes(material, result),
        sources=tuple(material.sources),
    )


def _estimate(name: str, label: str, kind: str, found: sheet.Estimate, tested: bool) -> Answer:
    return Answer(
        name, label, found.value, kind, found.low, found.high,
        note="book and tests joined" if tested else "not tested: the book's value",
    )  # fmt: skip


WORDS = {
    "along": "Tests along the grain",
    "across": "Tests across the grain",
    "shear": "Tests of shear",
    "book": "All tests and the book",
}
QUANTITIES = {"along": "Stiffness along", "across": "Stiffness across", "shear": "Shear modulus"}


def _summary(result: sheet.TestedSheet, tests: tuple[bench.Test, ...]) -> str:
    if not tests:
        return "Nothing was tested: these are the book's values."
    head = (
        f"{result.density.value:.0f} kg/m³ and {result.modulus_along.value / 1e9:.2g} GPa along "
        f"the grain ({result.modulus_along.low / 1e9:.2g} to "
        f"{result.modulus_along.high / 1e9:.2g})"
    )
    torn = [entry for entry in result.agreement if not entry.agrees]
    if torn:
        which = "; ".join(f"furthest out: {entry.odd_one}" for entry in torn[:1])
        return f"{head}; the readings do not agree, {which}."
    if result.agreement:
        return f"{head}; the readings agree."
    return f"{head}."


def _notes(material: Material, result: sheet.TestedSheet) -> tuple[str, ...]:
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


def _compared(book: sheet.Book, result: sheet.TestedSheet, tested: set[str]) -> Table:
    mean, covariance = book.log_spread()
    spread = np.sqrt(np.diag(covariance))
    rows = []
    for index, (target, found) in enumerate(
        (
            ("along", result.modulus_along),
            ("across", result.modulus_across),
            ("shear", result.shear_modulus),
        )
    ):
        before = sheet.Estimate.lognormal(float(mean[index]), float(spread[index]))
        rows.append(
            (QUANTITIES[target], before.value, before.low, before.high, found.value, found.low,
             found.high, "tested" if target in tested else "book alone")
        )  # fmt: skip
    return Table(
        "The book against this sheet",
        (
            Column("quantity", "Quantity"),
            Column("book", "Book", "pressure"),
            Column("book_low", "Book, 10 %", "pressure"),
            Column("book_high", "Book, 90 %", "pressure"),
            Column("sheet", "This sheet", "pressure"),
            Column("low", "10 %", "pressure"),
            Column("high", "90 %", "pressure"),
            Column("basis", "Rests on"),
        ),
        tuple(rows),
        note=f"The book's density is {book.density:.0f} kg/m³, this sheet's "
        f"{result.density.value:.0f} kg/m³.",
    )


def _alone(
    book: sheet.Book,
    thickness: Reading,
    tests: tuple[bench.Test, ...],
    result: sheet.TestedSheet,
) -> Table:
    weighings = [test for test in tests if isinstance(test, bench.Weighing)]
    off = dict(next(a for a in result.agreement if a.subject == "book").innovations)
    for entry in result.agreement:
        if entry.subject != "book":
            off.update(entry.innovations)
    rows = []
    for test in tests:
        if test.target == "density":
            continue
        one = sheet.single(book=book, thickness=thickness, test=test, weighings=weighings)
        rows.append((test.label, one.value, one.low, one.high, round(off[test.label], 6)))
    return Table(
        "Each test by itself",
        (
            Column("test", "Test"),
            Column("modulus", "Modulus", "pressure"),
            Column("low", "10 %", "pressure"),
            Column("high", "90 %", "pressure"),
            Column("off", "Reading off by, in its errors", "number", 2),
        ),
        tuple(rows),
        note="Off by: the reading against what the other tests of the same modulus expect, or "
        "the book where there are none; beyond 2 either way is suspect.",
    )


def _agreement(result: sheet.TestedSheet) -> Table:
    rows = []
    for entry in result.agreement:
        says = "agree" if entry.agrees else f"do not agree; furthest out: {entry.odd_one}"
        rows.append((WORDS[entry.subject], says, round(entry.probability, 9)))
    return Table(
        "Do the readings agree?",
        (
            Column("which", "Which"),
            Column("says", "They"),
            Column("chance", "Chance of a gap this wide", "fraction", 2),
        ),
        tuple(rows),
        note="Below 5 % they are said to disagree, and the spread is widened: test again.",
    )


def _carried(result: sheet.TestedSheet) -> Table:
    texts = typed(result)
    rows = [("Check a fin cut from this sheet", "own", "material")]
    rows += [(label, texts[name], name) for _, name, label, _, _ in FIELDS]
    rows.append(("Thickness", texts["thickness"], "thickness"))
    rows.append(("How sure these values are", texts["spread"], "spread"))
    link = f"{FIN_CHECK}?{urlencode(texts)}"
    return Table(
        KEEP_TITLE,
        (Column("what", "What"), Column("text", "As typed there"), Column("name", "Input")),
        tuple(rows),
        note="Every calculator takes these under the material “your own values”. How sure they are "
        "is the scatter that the tests leave, as coefficients of variation; of strength, the "
        "book's.",
        links=(link, *("" for _ in rows[1:])),
    )


def _steps(
    values: Mapping[str, Any],
    book: sheet.Book,
    thickness: Reading,
    tests: tuple[bench.Test, ...],
    result: sheet.TestedSheet,
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
            f"{book.label}: {book.density:.0f} kg/m³, {book.modulus_along / 1e9:.3g} GPa along, "
            f"{book.modulus_across / 1e9:.3g} across, {book.shear_modulus / 1e9:.3g} shear",
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
