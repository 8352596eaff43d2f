"""Will this fin hold, and what fails first? The main job of the handbook."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from calc import check, finder
from calc.calculators import Calculator, ascent
from calc.calculators import common as c
from calc.errors import InputError
from calc.layup import core_index
from calc.render.values import with_unit
from calc.report import (
    CAUTION,
    Answer,
    Change,
    Figure,
    Report,
    Step,
)
from calc.units import show, to_unit

GRAINS = tuple(math.radians(a) for a in (0.0, 15.0, 30.0, 45.0, 60.0, 90.0, -15.0, -30.0))
"""Grain angles tried for "what would change it"."""


def answer(*, early: Callable[[Report], Any] | None = None, **values: Any) -> Report:
    """Answer the main question for SI values by input name; the verdict first, to `early`."""
    fin = c.fin_of(values)
    flying = c.flying(values)
    climb = finder.climb(fin, flying.points) if flying.ascent is not None else None
    index = 0 if climb is None else climb.worst
    point = flying.points[index]
    result = check.check(fin, point)
    frequency = result.structure.modes.frequency[0] / (2.0 * math.pi)
    flutter, divergence = result.margins[0], result.margins[1]
    estimate = check.estimate(fin, result.structure.bending[0], point.air)
    mass = float(result.structure.mass[0])
    stack = result.structure.layups[0]
    report = Report(
        calculator="fin-check",
        summary=_summary(result),
        answers=(
            _speed("flutter_speed", "Flutter would begin at", flutter),
            _speed("divergence_speed", "Divergence would begin at", divergence),
            Answer("demand_speed", "Speed it is judged at", point.speed, "speed"),
            Answer("fin_mass", "Mass of one fin", mass, "mass"),
            Answer("set_mass", f"Mass of {fin.count} fins", mass * fin.count, "mass"),
            Answer(
                "frequency_1", "First natural frequency (bending)", float(frequency[0]), "frequency"
            ),
            Answer("frequency_2", "Second natural frequency", float(frequency[1]), "frequency"),
            Answer(
                "root_stress",
                "Stress along the grain at the root",
                result.root.stress,
                "pressure",
            ),
            Answer("root_moment", "Bending moment at the root", result.root.moment, "moment"),
            Answer(
                "flutter_estimate",
                "Flutter estimate of NACA TN 4197",
                estimate,
                "speed",
                note="a cross-check without mass, sweep or grain; not used for the verdict",
            ),
            Answer(
                "sheet_density",
                "Density of the sheet",
                stack.areal_mass / stack.thickness,
                "density",
                note="the middle value on file; sheets differ, so weigh yours"
                if _unweighed(fin)
                else "",
            ),
            Answer("mach", "Mach number at that moment", point.mach, "number"),
            Answer("dynamic_pressure", "Dynamic pressure", point.pressure, "pressure"),
        ),
        headline=("flutter_speed", "divergence_speed", "demand_speed", "set_mass"),
        verdict=c.verdict_of(result, _sentence(result)),
        modes=c.modes(result.margins),
        bars="Speed or load that the fin bears, over what flight and hand ask. At 1 it only just "
        "holds. Thin lines: 10 to 90 % of sheets; a limit (≥) has none.",
        tables=() if climb is None else (ascent.table(flying, climb),),
        steps=_steps(fin, point, result, flying, index),
        cautions=(CAUTION,),
        notes=_notes(result, flying),
        sources=tuple(fin.material.sources),
    )
    if early is not None:
        early(report)
    changes, thicknesses = _rest(fin, point, result)
    return replace(
        report,
        changes=changes,
        figures=(
            *(() if climb is None else (ascent.figure(flying, climb, result),)),
            _mode_figure(result),
            thicknesses,
        ),
    )


def _unweighed(fin: check.Fin) -> bool:
    """Whether the sheet's density was asked for and left open."""
    return fin.density is None and fin.material.name in c.WOODS_BY_DENSITY


def _speed(name: str, label: str, margin: check.Margin) -> Answer:
    ratio_low = None if margin.low is None else margin.low * margin.demand
    ratio_high = None if margin.high is None else margin.high * margin.demand
    return Answer(
        name,
        label,
        margin.capacity,
        "speed",
        None if margin.bound else ratio_low,
        None if margin.bound else ratio_high,
        bound="at least" if margin.bound else "",
        note=margin.note,
    )


def _summary(result: check.Check) -> str:
    m = result.governs
    bound = "at least " if m.bound else ""
    head = {
        "holds": f"Holds with a margin of {bound}{m.ratio:.2f}",
        "marginal": f"Marginal: weakest margin {bound}{m.ratio:.2f}",
        "fails": f"Does not hold: margin {bound}{m.ratio:.2f}",
        "unknown": f"Cannot say: the model ends here (computed margin {bound}{m.ratio:.2f})",
    }[result.state]
    return f"{head}; {m.label.lower()} governs."


def _sentence(result: check.Check) -> str:
    m = result.governs
    chance = result.shortfall
    if chance < 0.01:
        odds = "fewer than 1 fin in 100"
    elif chance > 0.99:
        odds = "more than 99 fins in 100"
    else:
        odds = f"about {round(chance * 100)} fin{'s' if chance >= 0.015 else ''} in 100"
    if result.state == "unknown":
        return (
            "Nothing fails as far as the model goes, but it does not go far enough: "
            f"{finder.doubts(result.margins)}."
        )
    first = {
        "flutter": "Flutter comes first",
        "divergence": "Divergence (the fin bending away for good) comes first",
        "bending": "The root breaks first",
        "handling": "Handling asks most of it",
    }[m.name]
    if m.bound:
        first = f"{m.label} limits the answer ({m.note})"
    given = result.fin.material.scatter_values["density"].source == "reader"
    scatter = "the scatter you gave for this sheet" if given else "the usual scatter of sheets"
    return (
        f"{first}, asked for: {m.required:.2f}. With {scatter} and of the model, {odds} would fall "
        "short in flight."
    )


def _notes(result: check.Check, flying: c.Flying) -> tuple[str, ...]:
    notes = [
        "The glue joint at the root has a margin of its own and is not among these: a bare butt "
        "joint is often far weaker than the fin, and one that gives lets the fin flutter sooner. "
        "See Root joint.",
        "Not modelled: damage, glue gaps, spin, launch-rod whip, a body that bends, and anything "
        "that happens after the fin first gives.",
    ]
    if result.regime != "subsonic":
        notes.append(
            f"Mach {result.point.mach:.2f} is {result.regime}. Between Mach 0.9 and 1.2 no linear "
            "theory is trusted: the margin is bracketed from both sides and cut by a quarter."
        )
    if result.regime == "supersonic" and flying.ascent is None:
        notes.append(
            "The passage of Mach 1 is judged in the air of the height you gave. It happens lower, "
            "in denser air: where the height is large, check Mach 1.2 at the lower height too."
        )
    if _unweighed(result.fin):
        notes.append(
            "No density was given, so the middle value on file was taken (it stands under “More "
            "numbers”). Sheets differ much: weigh yours."
        )
    if result.fin.material.model == "faced" and result.fin.edge.kind in ("tapered", "airfoil"):
        notes.append(
            "Shaping this edge cuts through the skins, and that is what is computed. A core shaped "
            "first and skinned after keeps its skins and is stiffer; that is not modelled."
        )
    if result.fin.material.name == "own":
        notes.append("The material is yours: its numbers are not checked against any table.")
    return tuple(notes)


def _stated(margin: check.Margin) -> str:
    doubt = "" if margin.known else ", not promised"
    bound = "at least " if margin.bound else ""
    return f"{bound}{margin.ratio:.2f} ({margin.label.lower()}{doubt})"


def _grams(mass: float) -> str:
    grams = abs(mass) * 1e3
    digits = f"{grams:.0f}" if grams >= 10.0 else f"{grams:.2g}"
    return f"{'+' if mass >= 0 else '−'}{digits} g"


def _rest(
    fin: check.Fin, point: check.Point, result: check.Check
) -> tuple[tuple[Change, ...], Figure]:
    """Return what would change the answer, and the chart of thicknesses.

    Both are answered in one go: most of their fins share an outline.
    """
    sizes, unit = c.stock_sizes(fin)
    thicker = [t for t in sizes if t > fin.thickness * 1.02][:1]
    thinner = [t for t in sizes if t < fin.thickness * 0.98][-1:]
    options: list[tuple[str, check.Fin, dict[str, str]]] = []
    for size, word in ((thicker, "One size thicker"), (thinner, "One size thinner")):
        if size:
            label = show(size[0], "length", unit)
            other = replace(fin, thickness=size[0])
            options.append((f"{word}: {label}", other, {"thickness": label}))
    resized = len(options)
    if fin.cut in ("A", "B"):
        other = replace(fin, cut="C")
        options.append(("A C-grain (quarter-sawn) sheet", other, {"cut": "C"}))
    shape = fin.planform
    shorter = replace(shape, span=0.9 * shape.span, sweep=0.9 * shape.sweep)
    lengths = {
        name: f"{to_unit(value, 'length', unit):.4g} {unit}"
        for name, value in (("span", shorter.span), ("sweep", shorter.sweep))
    }
    options.append(("Span cut by a tenth", replace(fin, planform=shorter), lengths))
    charted = _thicknesses(fin)
    found = check.trials([*(other for _, other, _ in options), *charted], point)
    changes = [
        _change(title, trial, result, inputs)
        for (title, _, inputs), trial in zip(options, found, strict=False)
    ]
    changes.insert(resized, _turned(fin, point, result))
    return tuple(changes), _thickness_chart(charted, found[len(options) :], result)


def _change(title: str, trial: check.Trial, result: check.Check, inputs: dict[str, str]) -> Change:
    """Return what one other fin would do instead."""
    added = (trial.mass - float(result.structure.mass[0])) * result.fin.count
    now = check.governing(trial.margins)
    text = f"weakest margin {_stated(result.governs)} → {_stated(now)}"
    if abs(added) > 1e-9:  # a turned or quarter-sawn sheet weighs the same
        return Change(title, f"{text}, fins {_grams(added)}", now.ratio, added, inputs)
    return Change(title, text, now.ratio, inputs=inputs)


def _turned(fin: check.Fin, point: check.Point, result: check.Check) -> Change:
    """Return what another direction of the grain would do at best."""
    others = [g for g in GRAINS if abs(g - fin.grain) > math.radians(4.0)]
    found = check.trials([replace(fin, grain=grain) for grain in others], point)
    scores = [check.score(trial.margins) for trial in found]
    best = int(np.argmax(scores))
    if scores[best] <= 1.02 * check.score(result.margins):
        return Change("Turning the grain", "gains less than 2 % in any direction tried")
    degrees = round(math.degrees(others[best]))
    title = f"Grain turned to {degrees}° from the leading edge".replace("-", "−")
    return _change(title, found[best], result, {"grain": str(degrees)})


def _mode_figure(result: check.Check) -> Figure:
    """Return the picture of the flutter mode, or of the first natural mode without flutter."""
    shape = result.fin.planform
    across, outward = np.meshgrid(np.linspace(0, 1, 9), np.linspace(0, 1, 11))
    points = shape.points(across, outward)
    system = result.structure.single(0)
    values = system.basis.values(points.reshape(-1, 2)) @ result.structure.modes.shapes[0]
    detail = result.stability.detail
    index = int(np.nanargmin(np.where(np.isfinite(detail.speed[0]), detail.speed[0], np.inf)))
    amplitudes = detail.shape[0, index]
    flutters = bool(np.isfinite(detail.speed[0, index])) and bool(np.abs(amplitudes).max() > 0)
    if not flutters:
        amplitudes = np.eye(values.shape[1], dtype=complex)[0]
    z = values @ amplitudes
    z = z / z[int(np.argmax(np.abs(z)))]
    z = np.round(z.reshape(across.shape), 4)
    hz = detail.frequency[0, index] / (2 * math.pi)
    return Figure(
        "mode",
        "How it would flutter" if flutters else "How it would swing (first natural mode)",
        (
            f"One beat of the flutter mode at {hz:.0f} Hz, exaggerated: bending and twisting feed "
            "each other from the air."
            if flutters
            else "No flutter was found in the range searched; this is the first natural mode."
        ),
        {
            "corners": shape.corners.tolist(),
            "grid_x": points[..., 0].tolist(),
            "grid_y": points[..., 1].tolist(),
            "deflection": {"real": z.real.tolist(), "imag": z.imag.tolist()},
        },
    )


def _thicknesses(fin: check.Fin) -> list[check.Fin]:
    """Return the fin in other thicknesses, as far as there are such sheets, for the chart."""
    out = []
    for ratio in (0.5, 0.65, 0.8, 1.25, 1.5, 1.8):
        other = replace(fin, thickness=fin.thickness * ratio)
        try:
            other.layup()
        except InputError:
            continue
        out.append(other)
    return out


def _thickness_chart(
    fins: Sequence[check.Fin], found: Sequence[check.Trial], result: check.Check
) -> Figure:
    """Return the margin against thickness, the other things kept."""
    rows = [(fin.thickness, trial.margins) for fin, trial in zip(fins, found, strict=True)]
    rows.append((result.fin.thickness, result.margins))
    rows.sort(key=lambda row: row[0])
    series = []
    for position, margin in enumerate(result.margins):
        if margin.flight:
            series.append(
                {
                    "name": margin.label,
                    "x": [thickness for thickness, _ in rows],
                    "y": [round(min(margins[position].ratio, 20.0), 4) for _, margins in rows],
                }
            )
    return Figure(
        "chart",
        "Margin against thickness",
        "Everything else kept. Stiffness grows with the cube of the thickness.",
        {
            "x": {"label": "Thickness", "kind": "length"},
            "y": {"label": "Margin", "kind": "number"},
            "series": series,
            "marks": [
                {"axis": "y", "value": 1.0, "label": "only just holds"},
                {"axis": "x", "value": result.fin.thickness, "label": "yours"},
            ],
        },
    )


def _steps(
    fin: check.Fin, point: check.Point, result: check.Check, flying: c.Flying, index: int
) -> tuple[Step, ...]:
    shape = fin.planform
    d = result.structure.bending[0]
    stack = result.structure.layups[0]
    frequency = result.structure.modes.frequency[0] / (2 * math.pi)
    detail = result.stability.detail
    steps = []
    if flying.ascent is not None:
        up = flying.ascent
        steps.append(
            Step(
                "The flight",
                "m dv/dt = F − m g − ½ ρ v² C_d A",
                f"fastest {up.fastest.speed:.0f} m/s at {up.fastest.time:.2f} s and "
                f"{up.fastest.height:.0f} m; judged at {flying.times[index]:.2f} s, the moment "
                "with the smallest margin",
                ("us-standard-atmosphere-1976",),
            )
        )
    steps += [
        Step(
            "The air at that moment",
            "q = ½ ρ V²",
            f"ρ = {point.air.density:.3f} kg/m³, a = {point.air.sound_speed:.1f} m/s, "
            f"Mach {point.mach:.3f}, q = {point.pressure:.0f} Pa",
            ("us-standard-atmosphere-1976",),
        ),
        Step(
            "The sheet",
            "D = Σ Q̄ (z₁³ − z₀³)/3 over the plies, turned to the fin's axes",
            f"{len(stack.plies)} ply; D₁₁ = {d[0, 0]:.3g}, D₂₂ = {d[1, 1]:.3g}, "
            f"D₁₂ = {d[0, 1]:.3g}, D₆₆ = {d[2, 2]:.3g}, D₁₆ = {d[0, 2]:.3g}, "
            f"D₂₆ = {d[1, 2]:.3g} N·m; {stack.areal_mass:.3g} kg/m²",
            ("kaw-2006", *fin.material.sources[:1]),
            note="x along the tube, y outward; 16 and 26 couple bending and twist",
        ),
        Step(
            "Natural modes",
            "Rayleigh–Ritz, clamped root: det(K − ω² M) = 0",
            ", ".join(f"{f:.0f} Hz" for f in frequency[:4]),
            ("leissa-1969",),
        ),
        Step(
            "The air's answer",
            "doublet lattice, body as a plane of symmetry: w/U = A c_p",
            f"{check.CHORDWISE} × {check.SPANWISE} boxes at Mach "
            + ", ".join(f"{m:g}" for m in check.MACHS),
            ("albano-rodden-1969", "rodden-1998"),
        ),
        Step(
            "Flutter",
            "(1 + i g)/ω² K x = [M + ρ/(2 k²) Q(k)] x;  g = 0 at the boundary;  U = M a",
            "boundary with the air of each Mach number: "
            + ", ".join(
                f"M {m:g}: {s:.0f} m/s" if np.isfinite(s) else f"M {m:g}: none"
                for m, s in zip(check.MACHS, result.stability.flutter_by_mach[0], strict=True)
            )
            + (
                f"; {np.nanmin(detail.frequency[0]) / (2 * math.pi):.0f} Hz"
                if np.isfinite(detail.frequency[0]).any()
                else ""
            ),
            ("hassig-1971",),
            note="held against measured flutter of a wooden wing (AGARD 445.6); see Validation",
        ),
        Step(
            "Divergence",
            "det(K − q Q(0)) = 0",
            ", ".join(
                f"M {m:g}: {s:.0f} m/s" if np.isfinite(s) else f"M {m:g}: none"
                for m, s in zip(check.MACHS, result.stability.divergence_by_mach[0], strict=True)
            ),
        ),
        Step(
            "Root under air load",
            "(K − q Q(0)) x = q α L;  M = D κ along the root;  Tsai–Wu ply by ply",
            f"moment {result.root.moment:.3g} N·m, shear {result.root.shear:.3g} N; load may grow "
            f"{result.root.factor:.2f}-fold ({result.root.failing})",
            ("tsai-wu-1971", "far-25-303"),
            note="the core too: the pressed face wrinkles at k (E_f E_c G_c)^(1/3), k = 0.5, the "
            "core shears at V/h; Hoff and Mautner (1945), Allen (1969), from memory, unverified"
            if core_index(stack)
            else "",
        ),
        Step(
            "Cross-check: NACA TN 4197",
            "(V/a)² = G / [C A³/((t/c)³ (A+2)) · (λ+1)/2 · p/p₀]",
            f"G as it twists = "
            f"{with_unit(check.effective_shear_modulus(d, fin.thickness), 'pressure', 'metric')}, "
            f"A = {shape.aspect_ratio:.3f} → "
            f"{check.estimate(fin, d, point.air):.0f} m/s",
            ("naca-tn-4197",),
            note="ignores mass, sweep and grain",
        ),
        Step(
            "Spread",
            "log margin linear in log property; lognormal scatter; 10 and 90 % points",
            "scatter: "
            + ", ".join(
                f"{name.replace('_', ' ')} {fin.material.scatter[name]:.0%}"
                for name in result.slopes
            )
            + f"; flutter model {check.FLUTTER_MODEL_COV:.0%}, "
            f"stress model {check.STRENGTH_MODEL_COV:.0%}",
        ),
        Step(
            "What is asked",
            "flutter, divergence ≥ 1.15 in speed; root ≥ 1.5 in load; at most 1 sheet in 10 short",
            f"{result.governs.label}: {result.governs.ratio:.2f}",
            ("mil-a-8870", "far-25-303"),
        ),
    ]
    return tuple(steps)


CALCULATOR = Calculator(
    slug="fin-check",
    title="Fin check",
    question="Will this fin hold, and what fails first?",
    inputs=(*c.OUTLINE, *c.stock_inputs(), *c.EDGE, *c.FLYING),
    answer=answer,
    drawing=c.fin_figure,
    early=True,
)
