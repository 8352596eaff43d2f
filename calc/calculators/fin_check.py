"""Will this fin hold, and what fails first? The main job of the handbook."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from calc import check
from calc.calculators import Calculator
from calc.calculators import common as c
from calc.errors import InputError
from calc.render.values import with_unit
from calc.report import (
    CAUTION,
    Answer,
    Change,
    Figure,
    Mode,
    Report,
    Step,
    Verdict,
)
from calc.units import show

GRAINS = tuple(math.radians(a) for a in (0.0, 15.0, 30.0, 45.0, 60.0, 90.0, -15.0, -30.0))
"""Grain angles tried for "what would change it"."""


def _worst(fin: check.Fin, flying: c.Flying) -> int:
    """Return which moment of the flight leaves the smallest flight margin."""
    if len(flying.points) == 1:
        return 0
    found = [
        check.survey(fin, [fin.layup()], [fin.direction], point).margins[0]
        for point in flying.points
    ]
    ratios = [min(m.ratio / m.required for m in row if m.flight) for row in found]
    return int(np.argmin(ratios))


def answer(**values: Any) -> Report:
    """Answer the main question for SI values by input name."""
    fin = c.fin_of(values)
    flying = c.flying(values)
    index = _worst(fin, flying)
    point = flying.points[index]
    result = check.check(fin, point)
    governs = result.governs
    frequency = result.structure.modes.frequency[0] / (2.0 * math.pi)
    flutter, divergence = result.margins[0], result.margins[1]
    estimate = check.estimate(fin, result.structure.bending[0], point.air)
    mass = float(result.structure.mass[0])
    return Report(
        calculator="fin-check",
        summary=_summary(result),
        answers=(
            _speed("flutter_speed", "Flutter would begin at", flutter),
            _speed("divergence_speed", "Divergence would begin at", divergence),
            Answer("demand_speed", "Fastest it flies", point.speed, "speed"),
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
            Answer("mach", "Mach number at that moment", point.mach, "number"),
            Answer("dynamic_pressure", "Dynamic pressure", point.pressure, "pressure"),
        ),
        headline=("flutter_speed", "divergence_speed", "demand_speed", "set_mass"),
        verdict=Verdict(
            state=result.state,  # type: ignore[arg-type]
            governs=governs.name,
            margin=governs.ratio,
            low=governs.low,
            high=governs.high,
            shortfall=result.shortfall,
            sentence=_sentence(result),
        ),
        modes=tuple(
            Mode(
                m.name,
                m.label,
                m.demand,
                m.capacity,
                m.kind,
                m.ratio,
                m.low,
                m.high,
                "at least" if m.bound else "",
                m.note,
            )
            for m in result.margins
        ),
        changes=_changes(fin, point, result, values),
        figures=(_mode_figure(result), _thickness_chart(fin, point, result)),
        steps=_steps(fin, point, result, flying, index),
        cautions=(CAUTION,),
        notes=_notes(result),
        sources=tuple(fin.material.sources),
    )


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
        "marginal": f"Marginal: smallest margin {bound}{m.ratio:.2f}",
        "fails": f"Does not hold: margin {m.ratio:.2f}",
        "unknown": f"Cannot say: the model ends here (computed margin {bound}{m.ratio:.2f})",
    }[result.state]
    return f"{head}; {m.label.lower()} governs."


def _sentence(result: check.Check) -> str:
    m = result.governs
    chance = result.shortfall
    odds = (
        "fewer than 1 sheet in 100"
        if chance < 0.01
        else f"about {max(1, round(chance * 100))} sheets in 100"
    )
    if result.state == "unknown":
        doubts = "; ".join(dict.fromkeys(x.note for x in result.margins if not x.known))
        return f"Nothing fails as far as the model goes, but it does not go far enough: {doubts}."
    first = {
        "flutter": "Flutter comes first",
        "divergence": "Divergence (the fin bending away for good) comes first",
        "bending": "The root breaks first",
        "handling": "Handling asks most of it",
    }[m.name]
    wants = f"asked for: {m.required:.2f}"
    return f"{first}, {wants}. With the usual scatter of sheets, {odds} would fall short in flight."


def _notes(result: check.Check) -> tuple[str, ...]:
    notes = [
        "Not modelled: damage, glue gaps, spin, launch-rod whip, a body that bends, and anything "
        "that happens after the fin first gives.",
    ]
    if result.regime != "subsonic":
        notes.append(
            f"Mach {result.point.mach:.2f} is {result.regime}. Between Mach 0.9 and 1.2 no linear "
            "theory is trusted: the margin is bracketed from both sides and cut by a quarter."
        )
    if result.fin.material.model == "faced" and result.fin.edge.kind in ("tapered", "airfoil"):
        notes.append(
            "Shaping this edge cuts through the skins, and that is what is computed. A core shaped "
            "first and skinned after keeps its skins and is stiffer; that is not modelled."
        )
    if result.fin.material.name == "own":
        notes.append("The material is yours: its numbers are not checked against any table.")
    return tuple(notes)


def _changes(
    fin: check.Fin, point: check.Point, result: check.Check, values: Mapping[str, Any]
) -> tuple[Change, ...]:
    base = result.governs
    before = result.margins
    mass = float(result.structure.mass[0]) * fin.count

    def effect(margins: tuple[check.Margin, ...], grams: float | None) -> tuple[str, float]:
        now = check.governing(margins)
        text = f"smallest margin {base.ratio:.2f} → {now.ratio:.2f} ({now.label.lower()})"
        if grams is not None:
            text += f", fins {'+' if grams >= 0 else '−'}{abs(grams) * 1e3:.2g} g"
        return text, now.ratio

    out: list[Change] = []
    sizes = sorted(set(fin.material.thicknesses)) if fin.material.stock else []
    inch = (
        [s.thickness for s in fin.material.stock if s.system == "inch"]
        if values.get("units", "inch") == "inch"
        else []
    )
    sizes = sorted(set(inch)) or sizes
    thicker = [t for t in sizes if t > fin.thickness * 1.02][:1]
    thinner = [t for t in sizes if t < fin.thickness * 0.98][-1:]
    for size, word in ((thicker, "One size thicker"), (thinner, "One size thinner")):
        if size:
            other = replace(fin, thickness=size[0])
            found = check.survey(other, [other.layup()], [other.direction], point)
            grams = float(found.structure.mass[0]) * fin.count - mass
            text, ratio = effect(found.margins[0], grams)
            label = show(size[0], "length", "in" if inch else "mm")
            out.append(Change(f"{word}: {label}", text, ratio, grams, {"thickness": label}))
    turned = [g for g in GRAINS if abs(g - fin.grain) > math.radians(4.0)]
    found = check.survey(
        fin,
        [fin.layup()] * len(turned),
        [fin.planform.grain_direction(g) for g in turned],
        point,
    )
    scores = [min(m.ratio / m.required for m in row if m.flight) for row in found.margins]
    now = min(m.ratio / m.required for m in before if m.flight)
    best = int(np.argmax(scores))
    degrees = round(math.degrees(turned[best]))
    text, ratio = effect(found.margins[best], None)
    if scores[best] > 1.02 * now:
        out.append(
            Change(
                f"Grain turned to {degrees}° from the leading edge",
                text,
                ratio,
                inputs={"grain": str(degrees)},
            )
        )
    elif abs(fin.grain) < math.radians(4.0):
        out.append(Change("Turning the grain", "does not help: along the leading edge is best"))
    if fin.cut in ("A", "B"):
        other = replace(fin, cut="C")
        found = check.survey(other, [other.layup()], [other.direction], point)
        text, ratio = effect(found.margins[0], None)
        out.append(Change("A C-grain (quarter-sawn) sheet", text, ratio, inputs={"cut": "C"}))
    shorter = replace(fin, planform=replace(
        fin.planform, span=0.9 * fin.planform.span, sweep=0.9 * fin.planform.sweep
    ))  # fmt: skip
    found = check.survey(shorter, [shorter.layup()], [shorter.direction], point)
    grams = float(found.structure.mass[0]) * fin.count - mass
    text, ratio = effect(found.margins[0], grams)
    unit = "in" if inch else "mm"
    out.append(
        Change(
            "Span cut by a tenth",
            text,
            ratio,
            grams,
            {
                "span": f"{shorter.planform.span / (0.0254 if inch else 1e-3):.4g} {unit}",
                "sweep": f"{shorter.planform.sweep / (0.0254 if inch else 1e-3):.4g} {unit}",
            },
        )
    )
    return tuple(out)


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


def _thickness_chart(fin: check.Fin, point: check.Point, result: check.Check) -> Figure:
    """Return the margin against thickness, the other things kept."""
    ratios = np.array([0.5, 0.65, 0.8, 1.0, 1.25, 1.5, 1.8])
    stacks = []
    kept = []
    for ratio in ratios:
        try:
            stacks.append(replace(fin, thickness=fin.thickness * ratio).layup())
            kept.append(fin.thickness * ratio)
        except InputError:
            continue
    found = check.survey(fin, stacks, [fin.direction] * len(stacks), point)
    series = []
    for position, margin in enumerate(result.margins):
        if margin.flight:
            series.append(
                {
                    "name": margin.label,
                    "x": kept,
                    "y": [round(min(row[position].ratio, 20.0), 4) for row in found.margins],
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
                {"axis": "x", "value": fin.thickness, "label": "yours"},
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
)
