"""Inputs that many calculators share, and the things they describe."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np

from calc import aeroelastic, atmosphere, check, finder, flight, materials, motor, plate
from calc import layup as layups
from calc.calculators import Choice, Input
from calc.calculators.typed import SPREADS, TypedList, spreads
from calc.errors import InputError, ValidityError
from calc.materials import Material
from calc.planform import Edge, Planform
from calc.render.values import unit_for, with_unit
from calc.report import WORDS, Figure, Mode, Verdict
from calc.units import show

WOODS_BY_DENSITY = ("balsa", "basswood")
"""Materials sold by feel rather than by grade, for which the sheet's own density is asked."""

THICKEST = 0.35
"""Thickest place of a sanded airfoil, as a share of the chord; common practice is a third or so."""

FIN = "The fin"
STOCK = "The material"
FLIGHT = "The flight"
OWN = "Your own material"


@dataclass(frozen=True)
class Told:
    """Writes numbers into a report's sentences, in the reader's choice of units.

    >>> Told("inch")(0.0762, "length"), Told("metric").between(0.001, 0.0015, "length")
    ('3 in', '1.0 to 1.5 mm')
    """

    system: str

    def __call__(self, value: float, kind: str, digits: int = 3) -> str:
        """Return one number with its unit."""
        return with_unit(value, kind, self.system, digits=digits)

    def between(self, low: float, high: float, kind: str, digits: int = 2) -> str:
        """Return "low to high" in one unit, which stands behind the second."""
        unit = unit_for(kind, self.system, high)
        first, last = (show(v, kind, unit, digits=digits) for v in (low, high))
        return f"{first.rsplit(' ', 1)[0]} to {last}"


METRIC = Told("metric")


def told(values: Mapping[str, Any]) -> Told:
    """Return how to write numbers for the reader who chose these values."""
    return Told(values.get("units") or "inch")


def without(inputs: Sequence[Input], *names: str) -> tuple[Input, ...]:
    """Return inputs but those that change nothing in an answer."""
    return tuple(item for item in inputs if item.name not in names)


OUTLINE = (
    Input(
        "root",
        "Root chord",
        "length",
        "3 in",
        "Along the body tube.",
        FIN,
        "in",
        low=0.005,
        high=2.0,
    ),
    Input("tip", "Tip chord", "length", "1.5 in", "0 for a pointed fin.", FIN, "in", 0.0, 2.0),
    Input(
        "span", "Span", "length", "2.5 in", "From the tube outward.", FIN, "in", low=0.005, high=1.0
    ),
    Input(
        "sweep",
        "Sweep",
        "length",
        "1.5 in",
        "How far the tip's leading edge lies behind the root's.",
        FIN,
        "in",
        low=-1.0,
        high=2.0,
    ),
    Input("count", "Number of fins", "integer", "3", "", FIN, low=1, high=12),
    Input("body", "Body tube diameter", "length", "1.6 in", "", FIN, "in", 0.005, 0.5),
)

EDGE = (
    Input(
        "edge",
        "Edge shape",
        "choice",
        "square",
        "Sanding the edges saves drag and costs stiffness.",
        FIN,
        choices=(
            Choice("square", "square"),
            Choice("rounded", "rounded"),
            Choice("tapered", "tapered (bevelled)"),
            Choice("airfoil", "airfoil all over"),
        ),
    ),
    Input(
        "bevel",
        "Bevel length, share of the chord",
        "fraction",
        "15 %",
        "On each edge.",
        FIN,
        "%",
        low=0.01,
        high=0.5,
        shown_when={"edge": ("tapered",)},
    ),
)


THICKNESS = Input(
    "thickness",
    "Thickness",
    "length",
    "1/8 in",
    "Full thickness, before any shaping.",
    STOCK,
    "in",
    low=0.0002,
    high=0.03,
)


OWN_NAMES = (
    "modulus_along",
    "modulus_across",
    "shear_modulus",
    "poisson",
    "own_density",
    "strength_along",
    "strength_across",
    "shear_strength",
    "spread",
)
"""Names of `own_inputs`."""


def stock_inputs(default: str = "balsa") -> tuple[Input, ...]:
    """Return the inputs that describe the sheet and which way its grain runs."""
    return (
        Input("material", "Material", "material", default, "", STOCK),
        THICKNESS,
        Input(
            "density",
            "Density of the sheet",
            "density",
            "",
            "Weigh it: mass over length, width and thickness. Empty takes the middle value.",
            STOCK,
            "lb/ft3",
            low=50.0,
            high=900.0,
            optional=True,
            shown_when={"material": WOODS_BY_DENSITY},
        ),
        Input(
            "cut",
            "How the sheet was sawn",
            "choice",
            "B",
            "A bends easily across, C is mottled and stiff across, B lies between.",
            STOCK,
            choices=(Choice("A", "A grain"), Choice("B", "B grain"), Choice("C", "C grain")),
            shown_when={"material": ("balsa",)},
        ),
        Input(
            "grain",
            "Grain angle to the leading edge",
            "angle",
            "0",
            "0 is along the leading edge; more turns it toward the tube.",
            STOCK,
            "deg",
            low=-math.pi / 2,
            high=math.pi,
        ),
        *own_inputs(),
    )


def own_inputs() -> tuple[Input, ...]:
    """Return the inputs of a material the reader describes."""
    when = {"material": ("own",)}

    def one(name: str, label: str, kind: str, default: str, unit: str, low: float, high: float,
            help: str = "", optional: bool = False) -> Input:  # fmt: skip
        return Input(name, label, kind, default, help, OWN, unit, low, high,
                     optional=optional, shown_when=when)  # fmt: skip

    return (
        one("modulus_along", "Stiffness along (modulus)", "pressure", "3.2 GPa", "GPa", 1e6, 5e11),
        one("modulus_across", "Stiffness across", "pressure", "0.1 GPa", "GPa", 1e5, 5e11),
        one("shear_modulus", "Shear modulus", "pressure", "0.15 GPa", "GPa", 1e5, 2e11),
        one("poisson", "Poisson's ratio", "number", "0.3", "", 0.0, 0.7),
        one("own_density", "Density", "density", "160 kg/m3", "kg/m3", 10.0, 9000.0),
        one("strength_along", "Strength along", "pressure", "20 MPa", "MPa", 1e4, 5e9),
        one("strength_across", "Strength across", "pressure", "1 MPa", "MPa", 1e3, 5e9),
        one("shear_strength", "Shear strength", "pressure", "2 MPa", "MPa", 1e3, 2e9),
        TypedList(
            "spread",
            "How sure these values are",
            "text",
            "",
            "Scatter of stiffness along, across and in shear, of density, of strength. A tested "
            "sheet fills it in; empty takes 10 15 15 5 15 %.",
            OWN,
            optional=True,
            shown_when=when,
            parse=spreads,
            wants=SPREADS,
        ),
    )


SITE = (
    Input("site", "Site above sea level", "altitude", "0 ft", "", "More about the flight", "ft",
          -400.0, 4500.0),
    Input("temperature", "Air temperature on the ground", "temperature", "15 C", "",
          "More about the flight", "C", 233.15, 323.15),
)  # fmt: skip

MOTOR_WHEN = {"flight": ("motor",)}
SPEED_WHEN = {"flight": ("speed",)}

FLYING = (
    Input(
        "flight",
        "Fastest moment from",
        "choice",
        "speed",
        "",
        FLIGHT,
        choices=(Choice("speed", "a speed I know"), Choice("motor", "my motor")),
    ),
    Input(
        "speed",
        "Top speed",
        "speed",
        "100 m/s",
        "The fastest the rocket will go.",
        FLIGHT,
        "m/s",
        low=1.0,
        high=1000.0,
        shown_when=SPEED_WHEN,
    ),
    Input(
        "altitude",
        "Height at that moment",
        "altitude",
        "300 ft",
        "Above the launch site.",
        FLIGHT,
        "ft",
        low=0.0,
        high=30000.0,
        shown_when=SPEED_WHEN,
    ),
    Input(
        "motor",
        "Motor class",
        "choice",
        "D",
        "The class's upper limit of total impulse is flown, unless you give the impulse.",
        FLIGHT,
        choices=tuple(Choice(letter, letter) for letter in motor.letters()),
        shown_when=MOTOR_WHEN,
    ),
    Input(
        "thrust",
        "Average thrust",
        "force",
        "12 N",
        "Printed on the motor after the letter.",
        FLIGHT,
        "N",
        low=0.1,
        high=20000.0,
        shown_when=MOTOR_WHEN,
    ),
    Input(
        "impulse",
        "Total impulse",
        "impulse",
        "",
        "Empty takes the upper limit of the class.",
        FLIGHT,
        "N s",
        low=0.05,
        high=41000.0,
        optional=True,
        shown_when=MOTOR_WHEN,
    ),
    Input(
        "mass",
        "Mass at lift-off",
        "mass",
        "180 g",
        "Rocket with loaded motor.",
        FLIGHT,
        "g",
        low=0.003,
        high=100.0,
        shown_when=MOTOR_WHEN,
    ),
    Input(
        "drag",
        "Drag coefficient",
        "number",
        "0.5",
        "0.4 sleek and polished, 0.75 rough.",
        "More about the flight",
        low=0.05,
        high=2.0,
        shown_when=MOTOR_WHEN,
    ),
    *SITE,
    Input(
        "attack",
        "Angle of attack at top speed",
        "angle",
        "5",
        "A gust or a wobble; 5 degrees is common practice for a stable rocket.",
        "More about the flight",
        "deg",
        low=math.radians(0.5),
        high=math.radians(20.0),
    ),
)

MOTOR = tuple(
    replace(item, shown_when={})
    for item in FLYING
    if item.name in ("motor", "thrust", "impulse", "mass", "drag")
)
"""The rocket and its motor, for calculators that always fly."""

PROPELLANT = Input(
    "propellant",
    "Propellant in the motor",
    "mass",
    "",
    "Empty takes a usual value for the impulse.",
    "More about the flight",
    "g",
    low=0.0,
    high=50.0,
    optional=True,
)


def planform(root: float, tip: float, span: float, sweep: float) -> Planform:
    """Return the outline; refuses shapes the plate theory cannot carry, by input name."""
    if tip > 4.0 * root:
        raise InputError("tip", f"{tip:.3g} m", "a tip at most four times the root")
    if abs(sweep) > 4.0 * span:
        raise InputError("sweep", f"{sweep:.3g} m", "a sweep within four spans (76 degrees)")
    if span > 8.0 * root:
        raise InputError("span", f"{span:.3g} m", "a span of at most eight root chords")
    return Planform(root=root, tip=tip, span=span, sweep=sweep)


def edge_of(edge: str, bevel: float | None) -> Edge:
    """Return the edge shape of the inputs `edge` and `bevel`."""
    if edge == "tapered":
        return Edge("tapered", bevel if bevel is not None else 0.15)
    if edge == "airfoil":
        return Edge("airfoil", THICKEST)
    return Edge(edge)  # type: ignore[arg-type]


@cache
def _own_defaults() -> Mapping[str, float]:
    return {item.name: item.read(item.default) for item in own_inputs()}


def material_of(values: Mapping[str, Any]) -> Material:
    """Return the chosen material, the reader's own included.

    Values of one's own that a calculator does not ask for, because they cannot change its
    answer, are the usual ones.
    """
    if values["material"] != "own":
        return materials.load(values["material"])
    values = {**_own_defaults(), **values}
    return materials.own(
        modulus_along=values["modulus_along"],
        modulus_across=values["modulus_across"],
        shear_modulus=values["shear_modulus"],
        poisson=values["poisson"],
        density=values["own_density"],
        strength_along=values["strength_along"],
        strength_across=values["strength_across"],
        shear_strength=values["shear_strength"],
        scatter=None
        if values.get("spread") is None
        else dict(zip(materials.SCATTER, values["spread"], strict=True)),
    )


def fin_of(values: Mapping[str, Any]) -> check.Fin:
    """Return the fin that the outline, edge and stock inputs describe.

    Cut, grain and count are left at what they usually are where a calculator does not ask.
    """
    shape = planform(values["root"], values["tip"], values["span"], values["sweep"])
    thickness = values["thickness"]
    if thickness > 0.25 * values["span"] or thickness > 0.25 * values["root"]:
        raise InputError(
            "thickness", f"{thickness * 1e3:.3g} mm", "at most a quarter of span and root: thin "
            "plate theory ends there"
        )  # fmt: skip
    return check.Fin(
        planform=shape,
        material=material_of(values),
        thickness=thickness,
        grain=values.get("grain", 0.0),
        edge=edge_of(values["edge"], values["bevel"]),
        density=values["density"],
        cut=values.get("cut"),
        count=values.get("count", 3),
    )


@dataclass(frozen=True)
class Flying:
    """Moments of the flight at which a fin is judged, the declared or hardest one first."""

    points: tuple[check.Point, ...]
    times: tuple[float, ...]
    ascent: flight.Ascent | None
    heights: tuple[float, ...]


def flying(values: Mapping[str, Any]) -> Flying:
    """Return the moments to judge, from a known speed or from the motor."""
    day = atmosphere.site(values["site"], values["temperature"])
    attack = values["attack"]
    if values["flight"] == "speed":
        air = day.at(values["altitude"])
        point = check.Point(speed=values["speed"], air=air, attack=attack)
        return Flying((point,), (0.0,), None, (values["altitude"],))
    launch = launch_of(values)
    up = flight.ascent(launch)
    if up.fastest.speed < 1.0:
        raise InputError(
            "thrust", f"{values['thrust']:.3g} N", "more thrust than the rocket weighs"
        )
    moments = [up.hardest, up.fastest, up.burnout]
    middle = up.at(0.5 * (up.hardest.time + up.times[-1]))
    before = up.at(0.6 * up.hardest.time)
    moments += [m for m in (before, middle) if m.speed > 0.2 * up.fastest.speed]
    if up.fastest.mach > aeroelastic.SUPERSONIC_START:
        # a faster moment judges the transonic passage too, but in its own, thinner air
        after = int(np.argmax(up.mach >= aeroelastic.SUPERSONIC_START))
        passing = slice(after - 1, after + 1)
        time = np.interp(aeroelastic.SUPERSONIC_START, up.mach[passing], up.times[passing])
        moments.append(up.at(float(time)))
    moments += _between(up)
    points = tuple(check.Point(speed=m.speed, air=day.at(m.height), attack=attack) for m in moments)
    return Flying(points, tuple(m.time for m in moments), up, tuple(m.height for m in moments))


LOADED = 0.3
"""Share of the greatest speed, or of that at Mach 0.9, below which a moment of the ascent is left
out: its margin is more than three times the smallest."""


def _between(up: flight.Ascent) -> list[flight.Moment]:
    """Return moments between the leading ones, from the pad on, as far as Mach 0.9."""
    end = NEAR_SOUND * aeroelastic.SUBSONIC_LIMIT
    passage = up.reached("mach", end)
    top = min(up.fastest.speed, end * float(up.sound_speed.max()))
    loaded = up.reached("speed", LOADED * top)
    assert loaded is not None
    leave, enter = passage or (up.fastest.time, up.fastest.time)
    times = [*np.linspace(loaded[0], leave, 5), *np.linspace(enter, loaded[1], 7)]
    moments = up.moments(times if passage else times[:4] + times[6:])
    return [m for m in moments if m.mach <= aeroelastic.SUBSONIC_LIMIT]


NEAR_SOUND = 0.999
"""Share of the last Mach number of the subsonic model at which its range is taken to end."""


def launch_of(values: Mapping[str, Any]) -> flight.Launch:
    """Return the rocket on its pad from the motor inputs."""
    impulse = values["impulse"] or motor.class_limits(values["motor"])[1]
    kind: motor.Propellant = "black powder" if impulse <= 20.0 else "composite"
    low, high = motor.SPECIFIC_IMPULSE[kind]
    given = values.get("propellant")
    usual = impulse / (0.5 * (low + high) * motor.STANDARD_GRAVITY)
    propellant = usual if given is None else given
    if propellant >= 0.9 * values["mass"]:
        raise InputError(
            "mass",
            f"{values['mass'] * 1e3:.3g} g",
            f"more than the motor's propellant alone, about {propellant * 1e3:.3g} g",
        )
    day = atmosphere.site(values["site"], values["temperature"])
    return flight.Launch(
        mass=values["mass"],
        propellant_mass=propellant,
        diameter=values["body"],
        drag=flight.DragByMach(low_speed=values["drag"]),
        thrust=values["thrust"],
        burn_time=impulse / values["thrust"],
        site=values["site"],
        temperature_offset=day.temperature_offset,
    )


def modes(margins: Sequence[check.Margin]) -> tuple[Mode, ...]:
    """Return margins as a report shows them."""
    return tuple(
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
        for m in margins
    )


def verdict_of(result: check.Check, sentence: str) -> Verdict:
    """Return a check's verdict in a sentence of the calculator's own; a limit has no spread."""
    margin = result.governs
    return Verdict(
        result.state,  # type: ignore[arg-type]
        margin.name,
        margin.ratio,
        sentence,
        None if margin.bound else margin.low,
        None if margin.bound else margin.high,
        result.shortfall,
        "at least" if margin.bound else "",
    )


def outcome(found: finder.Found) -> str:
    """Return what a search says of a material: the size at which it holds, or the verdict's word.

    Where nothing holds the verdict is that of the thickest stock sheet.
    """
    if found.result is None or found.stock is None:
        return finder.NO_SIZE
    word = WORDS[found.result.state].lower()
    return f"{word} at {found.stock.trade_label}" if found.holds else word


def fin_mass(fin: check.Fin) -> float:
    """Return the mass of one fin with its edges shaped and its coating [kg]."""
    ratio = round(fin.thickness / fin.planform.root, 4) if fin.edge.kind == "rounded" else None
    prepared = plate.prepare(
        fin.planform, edge=fin.edge, thickness_ratio=ratio, spanwise=2, chordwise=2
    )
    fractions = prepared.zone_fractions
    if fractions.size == 1:
        areal = np.array([fin.layup().areal_mass])
    else:
        areal = layups.sanded_bending(fin.layup(), fractions, angle=fin.direction)[1]
    return float((areal + fin.coating) @ prepared.zone_areas)


def stock_sizes(fin: check.Fin) -> tuple[tuple[float, ...], str]:
    """Return the stock thicknesses [m] of the fin's own system of units, and that unit.

    A fin of an inch size is offered inch sizes, any other one metric sizes where there are some.
    """
    stock = fin.material.stock
    inch = sorted({s.thickness for s in stock if s.system == "inch"})
    metric = sorted({s.thickness for s in stock if s.system != "inch"})
    near = any(abs(t / fin.thickness - 1.0) < 0.01 for t in inch)
    if near or not metric:
        return tuple(inch), "in"
    return tuple(metric), "mm"


LOOKS = {
    "wood": "wood",
    "plywood": "ply",
    "paper": "paper",
    "foam": "foam",
    "composite": "laminate",
    "plastic": "plastic",
    "faced": "foam",
    "own": "wood",
}
"""How each family of materials is drawn."""


def fin_figure(values: Mapping[str, Any]) -> Figure | None:
    """Return the picture of the fin that the inputs describe, or None while it is impossible."""
    try:
        fin = fin_of(values)
    except (InputError, ValidityError):
        return None
    return outline_figure(
        fin,
        values.get("body"),
        "Lines show the grain. The nose is at the top; the air comes from there.",
    )


def outline_figure(
    fin: check.Fin,
    body: float | None,
    caption: str,
    *,
    look: str | None = None,
    sought: bool = False,
) -> Figure:
    """Return the picture of a fin on a tube, or on a part of it where its diameter is unknown.

    A thickness that is still sought is drawn without its number.
    """
    return Figure(
        "fin",
        "The fin, to scale",
        caption,
        {
            "root": fin.planform.root,
            "tip": fin.planform.tip,
            "span": fin.planform.span,
            "sweep": fin.planform.sweep,
            "thickness": fin.thickness,
            "sought": sought,
            "theta": fin.direction,
            "look": look or LOOKS[fin.material.family],
            "body": body,
            "edge": fin.edge.kind,
        },
    )
