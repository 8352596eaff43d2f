"""Inputs that many calculators share, and the things they describe."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Any, NotRequired, TypedDict, cast

import numpy as np

from calc import aeroelastic, materials
from calc.air import atmosphere
from calc.calculators import lists
from calc.calculators.lists import (
    PLACES,
    POINTS,
    RADII,
    SPREADS,
    TypedList,
    places,
    places_text,
    points,
    points_text,
    radii,
    radii_text,
    spreads,
    spreads_text,
    thrust_curve,
)
from calc.errors import InputError, ValidityError
from calc.fin import check, search, whole
from calc.fin.fin import GUST, STALL, Fin, Point, hand_force
from calc.fin.model import FAST_MACHS
from calc.fin.policy import REQUIRED_LOAD_MARGIN, required_speed_margin
from calc.flight import ascent as flight
from calc.flight import motor
from calc.forms import Choice, Input
from calc.geometry import free_outline
from calc.geometry.outline import Outline
from calc.geometry.planform import Edge, Planform
from calc.materials import Material
from calc.report import WORDS, Figure, Verdict
from calc.structure import laminate as layups
from calc.structure import plate
from calc.units import show_range, to_unit
from calc.wording import unit_for, with_unit

if TYPE_CHECKING:
    from typing_extensions import ReadOnly  # in `typing` from Python 3.13 on

# SI values of each group of inputs, by name. An input whose field does not show has None, which
# is not in its type: whoever reads it has asked for the choice that shows the field. A calculator
# joins its groups into a type of its own; what a shared function may do without is declared as
# left out there (NotRequired).

BY_DENSITY = materials.Having(lambda material: material.follows_density)
"""Materials whose stiffness and strength follow the density of the sheet in hand."""
SAWN = materials.Having(lambda material: material.sawn)
"""Materials whose sheets differ by how they were sawn from the log."""

THICKEST = 0.35
"""Thickest place of a sanded airfoil, as a share of the chord; common practice is a third or so."""

FIN = "The fin"
STOCK = "The material"
FLIGHT = "The flight"
OWN = "Your own material"


class UnitsValues(TypedDict):
    """Value of the input that every calculator has."""

    units: str


@dataclass(frozen=True)
class Formatter:
    """Writes numbers with their units into sentences, in the system that the reader chose.

    >>> Formatter("inch")(0.0762, "length"), Formatter("metric").between(0.001, 0.0015, "length")
    ('3 in', '1.0 to 1.5 mm')
    """

    system: str

    def __call__(
        self, value: float, kind: str, digits: int = 3, *, like: float | None = None
    ) -> str:
        """Return one number with its unit, which is that of the value it is to be like."""
        return with_unit(value, kind, self.system, digits=digits, like=like)

    def between(self, low: float, high: float, kind: str, digits: int = 2) -> str:
        """Return "low to high" in one unit, which stands behind the second."""
        unit = unit_for(kind, self.system, high)
        return show_range(low=low, high=high, kind=kind, unit=unit, digits=digits)

    def more(self, mass: float, *, like: float) -> str:
        """Return a mass that is added, or taken off, with its sign, in the unit of `like`.

        >>> Formatter("inch").more(0.0052, like=0.02), Formatter("metric").more(-0.002, like=0.02)
        ('+0.18 oz', '−2 g')
        """
        unit = unit_for("mass", self.system, like)
        amount = round(abs(to_unit(mass, "mass", unit)), 4)
        digits = f"{amount:.0f}" if amount >= 10.0 else f"{amount:.2g}"
        return f"{'+' if mass >= 0 else '−'}{digits} {unit}"


def formatter(values: UnitsValues) -> Formatter:
    """Return the formatter for the units that the reader chose."""
    return Formatter(values.get("units") or "inch")


def without(inputs: Sequence[Input], *names: str) -> tuple[Input, ...]:
    """Return inputs but those that change nothing in an answer."""
    return tuple(item for item in inputs if item.name not in names)


OUTLINES = (
    Choice("straight", "straight edges: root, tip, span, sweep"),
    Choice("ellipse", "half an ellipse"),
    Choice("corners", "any corners"),
)
STRAIGHT_WHEN = {"outline": ("straight",)}
SIZED_WHEN = {"outline": ("straight", "ellipse")}
CORNERS_WHEN = {"outline": ("corners",)}
ROUNDED_WHEN = {"outline": ("straight", "corners")}

OUTLINE = (
    Input("outline", "Outline", "choice", "straight", group=FIN, choices=OUTLINES),
    Input(
        "root",
        "Root chord",
        "length",
        "3 in",
        help="Along the body tube.",
        group=FIN,
        unit="in",
        low=0.005,
        high=2.0,
        shown_when=SIZED_WHEN,
    ),
    Input(
        "tip",
        "Tip chord",
        "length",
        "1.5 in",
        help="0 for a pointed fin.",
        group=FIN,
        unit="in",
        low=0.0,
        high=2.0,
        shown_when=STRAIGHT_WHEN,
    ),
    Input(
        "span",
        "Span",
        "length",
        "2.5 in",
        help="From the tube outward.",
        group=FIN,
        unit="in",
        low=0.005,
        high=1.0,
        shown_when=SIZED_WHEN,
    ),
    Input(
        "sweep",
        "Sweep",
        "length",
        "1.5 in",
        help="How far the tip's leading edge lies behind the root's; for an ellipse, how far "
        "its tip lies behind the root's middle.",
        group=FIN,
        unit="in",
        low=-1.0,
        high=2.0,
        shown_when=SIZED_WHEN,
    ),
    TypedList(
        "points",
        "Corners",
        "text",
        "0,0 1.5,2.5 3,2.5 3,0 in",
        help="From the root's front to its rear: backward along the tube, comma, outward from it.",
        group=FIN,
        parse=points,
        write=points_text,
        wants=POINTS,
        longest=900,
        shown_when=CORNERS_WHEN,
    ),
    TypedList(
        "radius",
        "Corner radius",
        "text",
        "0 in",
        help="One for every corner off the tube, or one for each.",
        group=FIN,
        parse=radii,
        write=radii_text,
        wants=RADII,
        shown_when=ROUNDED_WHEN,
    ),
    Input("count", "Number of fins", "integer", "3", group=FIN, low=1, high=12),
    Input(
        "body", "Body tube diameter", "length", "1.6 in", group=FIN, unit="in", low=0.005, high=0.5
    ),
)


class OutlineValues(TypedDict):
    """Values of `OUTLINE`, except `count` and `body`, which not every calculator asks for."""

    outline: str
    root: float
    tip: float
    span: float
    sweep: float
    points: tuple[tuple[float, float], ...]
    radius: tuple[float, ...]


TAB_WHEN = {"joint": ("tab",)}
TAB = Input(
    "tab",
    "Depth of the tab",
    "length",
    "3/8 in",
    help="From the tube's surface to its inner end.",
    unit="in",
    low=0.001,
    high=0.2,
    shown_when=TAB_WHEN,
)
TAB_PLACE = (
    Input(
        "tab_start",
        "The tab begins behind the root's front",
        "length",
        "0 in",
        unit="in",
        low=0.0,
        high=2.0,
        shown_when=TAB_WHEN,
    ),
    Input(
        "tab_length",
        "Length of the tab",
        "length",
        "",
        help="Along the tube. Leave empty to reach the root's rear end.",
        unit="in",
        low=0.003,
        high=2.0,
        optional=True,
        shown_when=TAB_WHEN,
    ),
    TypedList(
        "tab_notches",
        "Notches for rings in the tab",
        "text",
        "",
        help="The front side of each, behind the tab's front, such as 0.5 2.25 in. They are open "
        "at the tab's inner end. Leave empty for none.",
        optional=True,
        parse=places,
        write=places_text,
        wants=PLACES,
        shown_when=TAB_WHEN,
    ),
    Input(
        "notch_width",
        "Width of a notch",
        "length",
        "1/8 in",
        help="The ring's thickness, and a little room for glue.",
        unit="in",
        low=0.0003,
        high=0.05,
        shown_when=TAB_WHEN,
    ),
    Input(
        "notch_depth",
        "Depth of a notch",
        "length",
        "",
        help="From the tab's inner end outward; the ring is slotted for the rest. Leave empty "
        "for half the tab's depth.",
        unit="in",
        low=0.0003,
        high=0.2,
        optional=True,
        shown_when=TAB_WHEN,
    ),
)
"""Where along the root a through-wall tab lies, and the notches in it."""


class TabInputs(TypedDict):
    """Values of `TAB` and `TAB_PLACE`, with the choice of joint that shows them."""

    joint: str
    tab: float
    tab_start: float
    tab_length: float | None
    tab_notches: tuple[float, ...] | None
    notch_width: float
    notch_depth: float | None


class TabValues(TypedDict):
    """What `tab_of` reads; only a joint with a tab has one."""

    joint: ReadOnly[NotRequired[str]]
    tab: ReadOnly[NotRequired[float]]
    tab_start: ReadOnly[NotRequired[float]]
    tab_length: ReadOnly[NotRequired[float | None]]
    tab_notches: ReadOnly[NotRequired[tuple[float, ...] | None]]
    notch_width: ReadOnly[NotRequired[float]]
    notch_depth: ReadOnly[NotRequired[float | None]]


EDGE = (
    Input(
        "edge",
        "Edge shape",
        "choice",
        "square",
        help="Sanding the edges saves drag and costs stiffness.",
        group=FIN,
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
        help="On each edge.",
        group=FIN,
        unit="%",
        low=0.01,
        high=0.5,
        shown_when={"edge": ("tapered",)},
    ),
)


class EdgeValues(TypedDict):
    """Values of `EDGE`."""

    edge: str
    bevel: float


THICKNESS = Input(
    "thickness",
    "Thickness",
    "length",
    "1/8 in",
    help="Full thickness, before any shaping.",
    group=STOCK,
    unit="in",
    low=0.0002,
    high=0.03,
)


class CutInput(Input):
    """How a sheet was sawn; None for the usual cut, the first in the material's file."""

    def read(self, text: str) -> Any:
        """Return A, B, C, or None for the usual one."""
        cut = super().read(text)
        return None if cut == USUAL_CUT else cut


USUAL_CUT = "usual"
CUT = CutInput(
    "cut",
    "How the sheet was sawn",
    "choice",
    USUAL_CUT,
    help="A bends easily across, C is mottled and stiff across, B lies in between. “As usual” "
    "is the cut that shops mostly sell: B for balsa.",
    group=STOCK,
    choices=(
        Choice(USUAL_CUT, "as usual"),
        Choice("A", "A grain"),
        Choice("B", "B grain"),
        Choice("C", "C grain"),
    ),
    shown_when={"material": SAWN},
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


class SheetValues(TypedDict):
    """Values of what every sheet has."""

    material: str
    thickness: float
    density: float | None


class OwnProperties(TypedDict):
    """Values of `own_inputs`, except how much such sheets differ."""

    modulus_along: float
    modulus_across: float
    shear_modulus: float
    poisson: float
    own_density: float
    strength_along: float
    strength_across: float
    shear_strength: float


class OwnValues(OwnProperties):
    """Values of `own_inputs`."""

    spread: tuple[float, ...] | None


class StockValues(SheetValues, OwnValues):
    """Values of `stock_inputs`."""

    cut: str | None
    grain: float


def stock_inputs(default: str = "balsa") -> tuple[Input, ...]:
    """Return the inputs that describe the sheet and which way its grain runs."""
    return (
        Input("material", "Material", "material", default, group=STOCK),
        THICKNESS,
        Input(
            "density",
            "Density of the sheet",
            "density",
            "",
            help="Weigh it: mass divided by length, width and thickness. Leave empty for the "
            "middle value.",
            group=STOCK,
            unit="lb/ft3",
            low=50.0,
            high=900.0,
            optional=True,
            shown_when={"material": BY_DENSITY},
        ),
        CUT,
        Input(
            "grain",
            "Grain angle to the leading edge",
            "angle",
            "0",
            help="0 is along the leading edge (of an ellipse, from mid-root to tip); more turns it "
            "toward the tube.",
            group=STOCK,
            unit="deg",
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
        return Input(name, label, kind, default, help=help, group=OWN, unit=unit, low=low,
                     high=high, optional=optional, shown_when=when)  # fmt: skip

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
            help="Scatter of stiffness along, across and in shear, of density, of strength. A "
            "tested sheet fills it in; leave empty for 10 15 15 5 15 %.",
            group=OWN,
            optional=True,
            shown_when=when,
            parse=spreads,
            write=spreads_text,
            wants=SPREADS,
        ),
    )


SITE = (
    Input("site", "Site above sea level", "altitude", "0 ft", group="More about the flight",
          unit="ft", low=-400.0, high=4500.0),
    Input("temperature", "Air temperature on the ground", "temperature", "15 C",
          group="More about the flight", unit="C", low=233.15, high=323.15),
)  # fmt: skip


class SiteValues(TypedDict):
    """Values of `SITE`."""

    site: float
    temperature: float


MOTOR_WHEN = {"flight": ("motor",)}
SPEED_WHEN = {"flight": ("speed",)}

CURVE = TypedList(
    "curve",
    "Thrust curve",
    "text",
    "",
    help="Times in seconds and thrusts in newtons, in pairs, typed or pasted. It is used instead "
    "of thrust and impulse.",
    group="More about the flight",
    optional=True,
    shown_when=MOTOR_WHEN,
    parse=thrust_curve,
    wants=lists.CURVE,
    longest=lists.LONGEST_CURVE,
)

FLYING = (
    Input(
        "flight",
        "Fastest moment from",
        "choice",
        "speed",
        group=FLIGHT,
        choices=(Choice("speed", "a speed I know"), Choice("motor", "my motor")),
    ),
    Input(
        "speed",
        "Top speed",
        "speed",
        "100 m/s",
        help="The fastest the rocket will go.",
        group=FLIGHT,
        unit="m/s",
        low=1.0,
        high=1000.0,
        shown_when=SPEED_WHEN,
    ),
    Input(
        "altitude",
        "Height at that moment",
        "altitude",
        "300 ft",
        help="Above the launch site.",
        group=FLIGHT,
        unit="ft",
        low=0.0,
        high=30000.0,
        shown_when=SPEED_WHEN,
    ),
    Input(
        "motor",
        "Motor class",
        "choice",
        "D",
        help="It flies with the most total impulse of its class, unless you give the impulse.",
        group=FLIGHT,
        choices=tuple(Choice(letter, letter) for letter in motor.letters()),
        shown_when=MOTOR_WHEN,
    ),
    Input(
        "thrust",
        "Average thrust",
        "force",
        "12 N",
        help="Printed on the motor after the letter.",
        group=FLIGHT,
        unit="N",
        low=0.1,
        high=20000.0,
        shown_when=MOTOR_WHEN,
    ),
    Input(
        "impulse",
        "Total impulse",
        "impulse",
        "",
        help="Leave empty for the upper limit of the class.",
        group=FLIGHT,
        unit="N s",
        low=0.05,
        high=41000.0,
        optional=True,
        shown_when=MOTOR_WHEN,
    ),
    Input(
        "mass",
        "Mass at lift-off",
        "mass",
        "165 g",
        help="Rocket with loaded motor.",
        group=FLIGHT,
        unit="g",
        low=0.003,
        high=100.0,
        shown_when=MOTOR_WHEN,
    ),
    Input(
        "drag",
        "Drag coefficient",
        "number",
        "0.5",
        help="0.4 sleek and polished, 0.75 rough.",
        group="More about the flight",
        low=0.05,
        high=2.0,
        shown_when=MOTOR_WHEN,
    ),
    CURVE,
    *SITE,
    Input(
        "gust",
        "Side gust",
        "speed",
        f"{to_unit(GUST, 'speed', 'mph'):.0f} mph",
        help="It meets the fin at an angle, which is larger the slower the rocket flies. 20 mph is "
        "the strongest wind the US model rocket safety code (2012) allows.",
        group="More about the flight",
        unit="mph",
        low=0.5,
        high=40.0,
    ),
    Input(
        "attack",
        "Angle of attack",
        "angle",
        "",
        help="Instead of a gust, where you know it.",
        group="More about the flight",
        unit="deg",
        low=math.radians(0.5),
        high=STALL,
        optional=True,
    ),
    Input(
        "hand",
        "Push of a hand on the tip",
        "force",
        "",
        help="Somebody may pick the rocket up or lay it down by one fin. Leave empty for its "
        "weight, at least 1 N, or 3 N where its mass is not given.",
        group="More about the flight",
        unit="N",
        low=0.1,
        high=500.0,
        optional=True,
    ),
)

MOTOR = tuple(
    replace(item, shown_when={})
    for item in FLYING
    if item.name in ("motor", "thrust", "impulse", "mass", "drag", "curve")
)
"""The rocket and its motor, for calculators that always fly."""


class MotorValues(TypedDict):
    """Values of `MOTOR`."""

    motor: str
    thrust: float
    impulse: float | None
    mass: float
    drag: float
    curve: tuple[tuple[float, float], ...] | None


class LoadValues(TypedDict):
    """Values of what loads a fin besides its speed."""

    gust: float
    attack: float | None
    hand: float | None


class FlyingValues(MotorValues, SiteValues, LoadValues):
    """Values of `FLYING`; the propellant is the usual one."""

    flight: str
    speed: float
    altitude: float
    propellant: NotRequired[float | None]


class UnflownValues(TypedDict):
    """Of a calculator that asks for no flight: a hand pushes the fin as usual."""

    flight: NotRequired[str]
    hand: NotRequired[float | None]


PROPELLANT = Input(
    "propellant",
    "Propellant in the motor",
    "mass",
    "",
    help="Leave empty for the usual mass at this impulse.",
    group="More about the flight",
    unit="g",
    low=0.0,
    high=50.0,
    optional=True,
)


class MaterialValues(TypedDict):
    """What `material_of` reads."""

    material: str
    modulus_along: ReadOnly[NotRequired[float]]
    modulus_across: ReadOnly[NotRequired[float]]
    shear_modulus: ReadOnly[NotRequired[float]]
    poisson: ReadOnly[NotRequired[float]]
    own_density: ReadOnly[NotRequired[float]]
    strength_along: ReadOnly[NotRequired[float]]
    strength_across: ReadOnly[NotRequired[float]]
    shear_strength: ReadOnly[NotRequired[float]]
    spread: ReadOnly[NotRequired[tuple[float, ...] | None]]


class HandValues(TypedDict):
    """What `hand_of` reads."""

    flight: ReadOnly[NotRequired[str]]
    hand: ReadOnly[NotRequired[float | None]]
    mass: ReadOnly[NotRequired[float]]


class FinValues(OutlineValues, EdgeValues, MaterialValues, HandValues):
    """What `fin_of` reads."""

    thickness: float
    density: float | None
    cut: ReadOnly[NotRequired[str | None]]
    grain: ReadOnly[NotRequired[float]]
    count: ReadOnly[NotRequired[int]]


class DragValues(OutlineValues):
    """What `drag` reads."""

    grain: ReadOnly[NotRequired[float]]


class DrawnValues(FinValues, TabValues):
    """What `fin_figure` reads."""

    body: ReadOnly[NotRequired[float]]


class LaunchValues(SiteValues):
    """What `launch_of` reads."""

    motor: str
    thrust: float
    impulse: ReadOnly[float | None]
    mass: float
    drag: float
    curve: tuple[tuple[float, float], ...] | None
    body: float
    propellant: ReadOnly[NotRequired[float | None]]


class PointValues(TypedDict):
    """What `point_at` reads."""

    gust: float
    attack: float | None


class FlightValues(LaunchValues, PointValues):
    """What `flying` reads."""

    flight: str
    speed: ReadOnly[NotRequired[float]]
    altitude: ReadOnly[NotRequired[float]]


def planform(root: float, tip: float, span: float, sweep: float) -> Planform:
    """Return the outline; refuses shapes the plate theory cannot carry, by input name."""
    if tip > 4.0 * root:
        raise InputError("tip", f"{tip:.3g} m", "a tip at most four times the root")
    if abs(sweep) > 4.0 * span:
        raise InputError("sweep", f"{sweep:.3g} m", "a sweep within four spans (76 degrees)")
    if span > 8.0 * root:
        raise InputError("span", f"{span:.3g} m", "a span of at most eight root chords")
    return Planform(root=root, tip=tip, span=span, sweep=sweep)


def outline_of(values: OutlineValues) -> Outline:
    """Return the outline that the inputs describe; refuses what the plate theory cannot carry.

    Without the input `outline` it is the one with straight edges.
    """
    kind = values.get("outline") or "straight"
    if kind == "corners":
        return _cornered(values["points"], values["radius"])
    root, span, sweep = values["root"], values["span"], values["sweep"]
    if kind == "ellipse":
        planform(root, 0.0, span, sweep)
        return free_outline.ellipse(root=root, span=span, sweep=sweep)
    shape = planform(root, values["tip"], span, sweep)
    radius = values.get("radius") or (0.0,)
    if not any(radius):
        return shape
    return free_outline.corners([(x, y) for x, y in shape.perimeter().tolist()], radius=radius)


def _cornered(typed: Sequence[tuple[float, float]], radius: Sequence[float]) -> Outline:
    """Return the outline of typed corners."""
    shape = free_outline.corners(typed, radius=radius)
    limits = {item.name: (item.low, item.high) for item in OUTLINE if item.kind == "length"}
    for name, size in (("root", shape.root), ("span", shape.span)):
        low, high = limits[name]
        assert low is not None
        assert high is not None
        if not low * (1 - 1e-9) <= size <= high * (1 + 1e-9):
            between = f"{1e3 * low:.0f} mm and {high:.0f} m"
            raise InputError("points", "these corners", f"corners with a {name} between {between}")
    along = shape.perimeter()[:, 0]
    if shape.span > 8.0 * shape.root:
        raise InputError("points", f"{shape.span:.3g} m", "a span of at most eight root chords")
    if max(along.max() - shape.root, -along.min()) > 4.0 * shape.span:
        raise InputError("points", f"{along.max():.3g} m", "corners within four spans of the root")
    if float(shape.chord(np.linspace(0.0, shape.span, 50)).max()) > 4.0 * shape.root:
        raise InputError("points", f"{shape.root:.3g} m", "a chord of at most four times the root")
    return shape


def stretched(
    values: OutlineValues, factor: float, unit: str
) -> tuple[Outline, dict[str, str]] | None:
    """Return the same fin with another span, its edges as steep, and the inputs that make it.

    None where there is no such fin.
    """

    def text(size: float) -> str:
        return f"{to_unit(size, 'length', unit):.4g}"

    if values.get("outline") == "corners":
        moved = [(x, factor * y) for x, y in values["points"]]
        changed: dict[str, Any] = {"points": moved}
        inputs = {"points": " ".join(f"{text(x)},{text(y)}" for x, y in moved) + f" {unit}"}
    else:
        changed = {"span": factor * values["span"], "sweep": factor * values["sweep"]}
        inputs = {name: f"{text(size)} {unit}" for name, size in changed.items()}
    try:
        return outline_of(cast(OutlineValues, {**values, **changed})), inputs
    except InputError:
        return None


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


def material_of(values: MaterialValues) -> Material:
    """Return the chosen material, the reader's own included.

    Values of one's own that a calculator does not ask for, because they cannot change its
    answer, are the usual ones.
    """
    if values["material"] != "own":
        return materials.load(values["material"])
    own = cast(OwnValues, {**_own_defaults(), **values})
    return materials.own(
        modulus_along=own["modulus_along"],
        modulus_across=own["modulus_across"],
        shear_modulus=own["shear_modulus"],
        poisson=own["poisson"],
        density=own["own_density"],
        strength_along=own["strength_along"],
        strength_across=own["strength_across"],
        shear_strength=own["shear_strength"],
        scatter=None
        if own["spread"] is None
        else dict(zip(materials.SCATTER, own["spread"], strict=True)),
    )


def fin_of(values: FinValues) -> Fin:
    """Return the fin that the outline, edge and stock inputs describe.

    Cut, grain and count are left at what they usually are where a calculator does not ask.
    """
    shape = outline_of(values)
    thickness = values["thickness"]
    if thickness > 0.25 * shape.span or thickness > 0.25 * shape.root:
        raise InputError(
            "thickness", f"{thickness * 1e3:.3g} mm", "at most a quarter of span and root: thin "
            "plate theory ends there"
        )  # fmt: skip
    material = material_of(values)
    return Fin(
        planform=shape,
        material=material,
        thickness=thickness,
        grain=values.get("grain", 0.0),
        edge=edge_of(values["edge"], values["bevel"]),
        density=values["density"],
        cut=values.get("cut") or (material.cuts[0] if material.sawn else None),
        count=values.get("count", 3),
        hand=hand_of(values),
    )


def hand_of(values: HandValues) -> float:
    """Return the push of a hand on the tip: the reader's, else what the rocket's mass suggests."""
    given = values.get("hand")
    if given is not None:
        return float(given)
    return hand_force(values.get("mass") if values.get("flight") == "motor" else None)


def point_at(values: PointValues, speed: float, air: atmosphere.Air) -> Point:
    """Return a moment of the flight in the reader's gust, or at the angle of attack given."""
    if values["attack"] is not None:
        return Point(speed=speed, air=air, attack=values["attack"])
    return Point(speed=speed, air=air, gust=values["gust"])


@dataclass(frozen=True)
class Flying:
    """Moments of the flight at which a fin is judged, the declared one or max-q first."""

    points: tuple[Point, ...]
    times: tuple[float, ...]
    ascent: flight.Ascent | None
    heights: tuple[float, ...]


def flying(values: FlightValues) -> Flying:
    """Return the moments to judge, from a known speed or from the motor."""
    day = atmosphere.site(values["site"], values["temperature"])
    if values["flight"] == "speed":
        air = day.at(values["altitude"])
        point = point_at(values, values["speed"], air)
        return Flying((point,), (0.0,), None, (values["altitude"],))
    launch = launch_of(values)
    up = flight.ascent(launch)
    if up.max_speed.speed < 1.0:
        raise InputError(
            "thrust", f"{values['thrust']:.3g} N", "more thrust than the rocket weighs"
        )
    moments = [up.max_q, up.max_speed, up.burnout]
    middle = up.at(0.5 * (up.max_q.time + up.times[-1]))
    before = up.at(0.6 * up.max_q.time)
    moments += [m for m in (before, middle) if m.speed > 0.2 * up.max_speed.speed]
    moments += _between(up)
    points = tuple(point_at(values, m.speed, day.at(m.height)) for m in moments)
    return Flying(points, tuple(m.time for m in moments), up, tuple(m.height for m in moments))


LOADED = 0.3
"""Share of the greatest speed, or of that at Mach 0.9, below which a moment of the ascent is left
out: its margin is more than three times the smallest."""


PASSAGE = (aeroelastic.SUBSONIC_LIMIT, *FAST_MACHS)
"""Mach numbers at whose passage, upward and back, a flight is judged."""


def _between(up: flight.Ascent) -> list[flight.Moment]:
    """Return moments between the leading ones, from the pad on, and those of passing Mach 1."""
    passage = up.reached("mach", aeroelastic.SUBSONIC_LIMIT)
    top = min(up.max_speed.speed, aeroelastic.SUBSONIC_LIMIT * float(up.sound_speed.max()))
    loaded = up.reached("speed", LOADED * top)
    assert loaded is not None
    leave, enter = passage or (up.max_speed.time, up.max_speed.time)
    times = [*np.linspace(loaded[0], leave, 5)[:-1], *np.linspace(enter, loaded[1], 7)[1:]]
    for mach in PASSAGE:
        times += up.reached("mach", mach) or ()
    return list(up.moments(sorted(times)))


def with_curve(values: LaunchValues) -> LaunchValues:
    """Return the inputs with the thrust curve's own average thrust and impulse, if there is one."""
    curve = values.get("curve")
    if curve is None:
        return values
    time, force = np.array(curve).T
    impulse = float(0.5 * (force[1:] + force[:-1]) @ np.diff(time))
    return {**values, "impulse": impulse, "thrust": impulse / float(time[-1] - time[0])}


def launch_of(values: LaunchValues) -> flight.Launch:
    """Return the rocket on its pad from the motor inputs."""
    values = with_curve(values)
    impulse = values["impulse"] or motor.class_limits(values["motor"])[1]
    given = values.get("propellant")
    usual = motor.propellant_mass(
        total_impulse=impulse,
        specific_impulse=motor.middle_specific_impulse(motor.usual_propellant(impulse)),
    )
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
        thrust_curve=values.get("curve"),
        site=values["site"],
        temperature_offset=day.temperature_offset,
    )


def verdict_of(result: check.Check | whole.Whole, sentence: str) -> Verdict:
    """Return a verdict in a sentence of the calculator's own; a limit has no spread."""
    margin = result.governs
    return Verdict(
        result.state,
        margin.name,
        margin.margin,
        sentence,
        margin.low_margin,
        margin.high_margin,
        result.shortfall,
        margin.bound,
    )


def reserves(mach: float) -> str:
    """Return what is required beyond a flight at a Mach number, in words."""
    return (
        f"{required_speed_margin(mach):.3g} times the speed for flutter and divergence, "
        f"{REQUIRED_LOAD_MARGIN:g} times the load for strength"
    )


def outcome(found: search.Found) -> str:
    """Return what a search says of a material: the size at which it holds, or the verdict's word.

    Where nothing holds the verdict is that of the thickest stock sheet.
    """
    if found.judged is None or found.stock is None:
        return search.NO_SIZE
    word = WORDS[found.judged.state].lower()
    return f"{word} at {found.stock.trade_label}" if found.holds else word


def fin_mass(fin: Fin) -> float:
    """Return the mass of one fin with its edges shaped and its coating [kg]."""
    ratio = round(fin.thickness / fin.planform.root, 4) if fin.edge.kind == "rounded" else None
    prepared = plate.prepare(
        fin.planform, edge=fin.edge, thickness_ratio=ratio, spanwise=2, chordwise=2
    )
    fractions = prepared.zone_fractions
    if fractions.size == 1:
        areal = np.array([fin.layup().areal_mass])
    else:
        areal = layups.thinned_bending(fin.layup(), fractions, angle=fin.direction)[1]
    return float((areal + fin.coating) @ prepared.zone_areas)


@dataclass(frozen=True)
class Tab:
    """A tab through the tube's wall, in the fin's own plane.

    Parameters
    ----------
    start, length
        Its place behind the root's front and its length along the tube [m].
    depth
        From the tube's surface inward [m].
    notches
        Front sides of the notches for rings, behind the tab's front, rising [m].
    notch_width, notch_depth
        Of each notch along the tube, and from the tab's inner end outward [m].
    """

    start: float
    length: float
    depth: float
    notches: tuple[float, ...] = ()
    notch_width: float = 0.0
    notch_depth: float = 0.0

    @property
    def corners(self) -> tuple[tuple[float, float], ...]:
        """Return its corners (x, y) [m] from the rear one on the root to the front one."""
        end = self.start + self.length
        inner, top = -self.depth, self.notch_depth - self.depth
        found = [(end, 0.0), (end, inner)]
        for place in reversed(self.notches):
            front = self.start + place
            rear = front + self.notch_width
            found += [(rear, inner), (rear, top), (front, top), (front, inner)]
        return (*found, (self.start, inner), (self.start, 0.0))

    @property
    def area(self) -> float:
        """Return the area of one face [m2], without the notches."""
        return self.length * self.depth - len(self.notches) * self.notch_width * self.notch_depth

    @property
    def centre(self) -> float:
        """Return where its mass lies behind the root's front [m]."""
        notch = self.notch_width * self.notch_depth
        moment = self.length * self.depth * 0.5 * self.length
        moment -= notch * sum(place + 0.5 * self.notch_width for place in self.notches)
        return self.start + moment / self.area

    @property
    def notched(self) -> float:
        """Return the share of its inner end that the notches take."""
        return len(self.notches) * self.notch_width / self.length

    def mass(self, fin: Fin) -> float:
        """Return its mass, of the fin's bare sheet at full thickness [kg]."""
        return float(fin.layup().areal_mass) * self.area


def tab_of(values: TabValues, root: float) -> Tab | None:
    """Return the tab asked for on a root [m], or None.

    A usual joint's tab is not asked for: where it lies nobody has said.
    """
    if values.get("joint") != "tab":
        return None
    start, length = values.get("tab_start") or 0.0, values.get("tab_length")
    if start > root - 0.003:
        raise InputError("tab_start", f"{start:.3g} m", "a place ahead of the root's rear end")
    if length is None:
        length = root - start
    if start + length > root * (1.0 + 1e-6):
        raise InputError(
            "tab_length",
            f"{length:.3g} m",
            f"a tab of at most {1e3 * (root - start):.4g} mm: it ends where the root does",
        )
    tab = Tab(start, min(length, root - start), values["tab"])
    notches = values.get("tab_notches")
    return _notched(tab, notches, values) if notches else tab


LEAST_BESIDE = 0.001
"""Length of tab that must be left before, between and behind notches [m]; our own choice."""
DEEPEST_NOTCH = 0.9
"""Depth of a notch at most, over the tab's depth; our own choice."""


def _notched(tab: Tab, notches: tuple[float, ...], values: TabValues) -> Tab:
    """Return a tab with its notches; refuse the first that does not fit, by its number."""
    width, depth = values["notch_width"], values.get("notch_depth")
    if depth is None:
        depth = 0.5 * tab.depth
    deepest = DEEPEST_NOTCH * tab.depth
    if depth > deepest * (1.0 + 1e-6):
        raise InputError(
            "notch_depth",
            f"{1e3 * depth:.4g} mm",
            f"a depth of at most {1e3 * deepest:.4g} mm, {DEEPEST_NOTCH:.0%} of the tab's",
        )
    last = tab.length - LEAST_BESIDE - width
    first, after = LEAST_BESIDE, "the tab's front"
    for number, place in enumerate(notches, 1):
        # the limits told are rounded
        if not first - 1e-5 <= place <= last + 1e-5:
            if first > last:
                wanted = f"fewer or narrower notches: there is no room for notch {number}"
            else:
                wanted = (
                    f"a place from {1e3 * first:.5g} to {1e3 * last:.5g} mm for notch {number}, "
                    f"clear of {after} and of the tab's rear end"
                )
            raise InputError("tab_notches", f"{1e3 * place:.4g} mm", wanted)
        first, after = place + width + LEAST_BESIDE, f"notch {number}"
    return replace(tab, notches=notches, notch_width=width, notch_depth=depth)


def mass_and_centre(fin: Fin, tab: Tab | None) -> tuple[float, float]:
    """Return the mass of one fin with its tab [kg], and where it lies behind the root's front [m].

    The fin's own mass is taken to lie at its outline's centroid, whatever its edges.
    """
    bare, centre = fin_mass(fin), float(fin.planform.centroid[0])
    if tab is None:
        return bare, centre
    more = tab.mass(fin)
    return bare + more, (bare * centre + more * tab.centre) / (bare + more)


def set_mass(found: search.Found, tab: Tab | None) -> float:
    """Return the mass of a set of fins with the tab asked for [kg], nan where no size fits."""
    if tab is None or found.result is None:
        return found.mass
    fin = found.result.fin
    return found.mass + tab.mass(fin) * fin.count


def stock_sizes(fin: Fin) -> tuple[tuple[float, ...], str]:
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


def fin_figure(values: DrawnValues) -> Figure | None:
    """Return the picture of the fin that the inputs describe, or None while it is impossible."""
    try:
        fin = fin_of(values)
    except (InputError, ValidityError):
        return None
    return outline_figure(
        fin,
        values.get("body"),
        "Lines show the grain. The nose is at the top; the air comes from there.",
        values=values,
        tab=tab_drawn(values, fin.planform.root),
    )


def tab_drawn(values: TabValues, root: float) -> Tab | None:
    """Return the tab for a picture; one that cannot be does not take the fin out of it."""
    try:
        return tab_of(values, root)
    except InputError:
        return None


def outline_sizes(shape: Outline) -> dict[str, Any]:
    """Return what a picture of the fin needs to know of its outline [m]."""
    sizes: dict[str, Any] = {
        "root": shape.root, "tip": shape.tip, "span": shape.span, "sweep": shape.sweep
    }  # fmt: skip
    if isinstance(shape, free_outline.FreeOutline):
        if len(shape.corners) > 2:
            span = max(y for _, y, _ in shape.corners)
            top = [x for x, y, _ in shape.corners if y == span]
            sizes |= {"tip": top[-1] - top[0], "span": span, "sweep": top[0]}
        else:
            sizes |= {"sweep": shape.sweep - 0.5 * shape.root, "datum": 0.5 * shape.root}
        sizes["perimeter"] = shape.perimeter(1e-4).tolist()
        sizes["chord"] = float(shape.chord(0.5 * shape.span))
    return sizes


def drag(values: DragValues, shape: Outline, *, thickness: float | None = None) -> dict[str, Any]:
    """Return what of the picture can be dragged, and which inputs that sets.

    Returns
    -------
    ``shape`` what is drawn, in metres; ``handles``, each with its place (x, y) [m] and ``sets``,
    the inputs that follow: a size along ``axis`` from ``minus`` on, a corner of the ``points`` by
    its ``index``, or an angle turned from ``zero`` [rad]. The `thickness` drawn can be pulled where
    it is the one that was typed; it lies in the section.
    """
    kind = values.get("outline") or "straight"
    found: dict[str, Any] = {"kind": kind}
    handles: list[dict[str, Any]] = []

    def handle(name: str, label: str, x: float, y: float, *sets: dict[str, Any]) -> None:
        handles.append({"id": name, "label": label, "x": x, "y": y, "sets": sets})

    def size(name: str, axis: str, minus: float = 0.0) -> dict[str, Any]:
        return {"input": name, "axis": axis, "minus": minus}

    if kind == "corners":
        found["points"] = typed = [list(map(float, point)) for point in values["points"]]
        near = 1e-6 * max(abs(value) for point in typed for value in point)
        on_body = [x for x, y in typed if abs(y) <= near]
        found["start"] = start = min(on_body)
        for index, (x, y) in enumerate(typed):
            if abs(y) > near or x > start:
                axes = "xy" if abs(y) > near else "x"
                handle(f"corner-{index + 1}", f"Corner {index + 1}", x - start, y,
                       {"input": "points", "index": index, "axes": axes})  # fmt: skip
    else:
        sizes = {
            "root": values["root"],
            "tip": values["tip"],
            "span": values["span"],
            "sweep": values["sweep"],
        }
        found |= sizes
        datum = 0.5 * sizes["root"] if kind == "ellipse" else 0.0
        front = datum + sizes["sweep"]
        label = "Tip" if kind == "ellipse" else "Tip, front corner"
        handle("tip", label, front, sizes["span"], size("span", "y"), size("sweep", "x", datum))
        if kind == "straight":
            handle("tip-rear", "Tip, rear corner", front + sizes["tip"], sizes["span"],
                   size("tip", "x", front))  # fmt: skip
        handle("root", "Root, rear end", sizes["root"], 0.0, size("root", "x"))
    if values.get("grain") is not None:
        x, y = shape.centroid
        turned = {"input": "grain", "zero": shape.grain_direction(0.0)}
        handle("grain", "Direction of the grain", x, y, turned)
    if thickness is not None and values.get("thickness") == thickness:
        # it lies on the section, not on the outline
        found["thickness"] = thickness
        handle("thickness", "Thickness", 0.0, thickness, size("thickness", "y"))
    return {"shape": found, "handles": handles}


def outline_figure(
    fin: Fin,
    body: float | None,
    caption: str,
    *,
    look: str | None = None,
    sought: bool = False,
    values: DragValues | None = None,
    tab: Tab | None = None,
) -> Figure:
    """Return the picture of a fin on a tube, or on a part of it where its diameter is unknown.

    A thickness that is still sought is drawn without its number. With the values of a form the
    picture has handles, by which the page changes them. A tab is drawn inside the tube.
    """
    thickness = None if sought else fin.thickness
    return Figure(
        "fin",
        "The fin, to scale",
        caption,
        {
            **outline_sizes(fin.planform),
            **({} if values is None else {"drag": drag(values, fin.planform, thickness=thickness)}),
            "thickness": fin.thickness,
            "sought": sought,
            "theta": fin.direction,
            "look": look or LOOKS[fin.material.family],
            "body": body,
            "edge": fin.edge.kind,
            **({} if tab is None else {"tab": _tab_sizes(tab)}),
        },
    )


def _tab_sizes(tab: Tab) -> dict[str, Any]:
    """Return what a picture needs to know of a tab [m]."""
    return {
        "corners": tab.corners,
        "start": tab.start,
        "length": tab.length,
        "depth": tab.depth,
        "notches": len(tab.notches),
    }
