"""Touchdown: what strikes the ground first, with what energy, and whether the fin survives.

An energy method: the share of the fall's energy that one fin takes against the strain energy that
it holds at failure, bent flatwise, at its corner and edgewise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.errors import InputError, require_positive
from calc.geometry.outline import Outline
from calc.margin import Margin, Quantity, worst
from calc.numerics.quadrature import gauss_legendre
from calc.structure.failure import in_plane_strength, tension_limited_across, weakest_bending
from calc.structure.laminate import Layup, flexural_constants, in_plane_constants
from calc.structure.root_strength import TipCapacity
from calc.units import STANDARD_GRAVITY

Array = NDArray[np.float64]

PARACHUTE_DRAG: dict[str, tuple[float, float]] = {
    "flat circular": (0.75, 0.80),
    "hemispherical": (0.62, 0.77),
    "cross": (0.60, 0.85),
}
"""Drag coefficient on the canopy's laid-out area, low and high: T. W. Knacke, Parachute Recovery
Systems Design Manual, NWC TP 6575 (1991), table 5-1; from memory, unverified."""
SWING = math.radians(20.0)
"""Swing of a rocket under a flat canopy [rad]; Knacke (1991), table 5-1, gives 10 to 40 degrees
for flat circular canopies; from memory, unverified."""
TURF = (0.3e6, 2.0e6)
"""Resistance of lawn and field to a pressed-in point (cone index) [Pa], soft and firm: common
practice, from memory, unverified."""
SPORTS_GROUND = 4.8e6
"""The same of a dry, hard sports ground [Pa]: 600 to 800 psi (4.1 to 5.5 MPa) is not unusual there,
manual of a penetrometer's maker."""
BALANCE_AHEAD = 1.0 / 3.0
"""Distance from the balance point aft to the root's leading edge, over the rocket's length: common
practice, from memory."""
TILTS = 5
"""Tilts of the rocket that are tried between hanging straight and the full swing."""


def descent_speed(
    *,
    mass: float,
    parachute_diameter: float,
    drag_coefficient: float = 0.75,
    density: float = 1.225,
    spill_hole: float = 0.0,
) -> float:
    """Return the steady sink speed of a rocket under a parachute [m/s].

    Parameters
    ----------
    mass
        Mass m under the canopy, canopy included [kg].
    parachute_diameter
        Laid-out diameter D [m].
    drag_coefficient
        C_d on the laid-out area [-]; see `PARACHUTE_DRAG`.
    density
        Air density rho at the ground [kg/m³].
    spill_hole
        Diameter d of the hole in the middle [m], below D.

    Raises
    ------
    InputError
        Naming a value that is not above zero, or the spill hole if it is too large.

    Notes
    -----
    v = sqrt(2 m g / (rho C_d A)), A = pi (D² - d²) / 4. Valid for a fully open canopy without
    wind; wind adds sideways speed.

    References
    ----------
    Balance of weight and drag; Knacke (1991) for the coefficients, from memory.

    Examples
    --------
    >>> round(descent_speed(mass=0.1, parachute_diameter=0.30), 2)
    5.5
    """
    require_positive(mass=mass, parachute_diameter=parachute_diameter, drag=drag_coefficient)
    if not 0.0 <= spill_hole < parachute_diameter:
        raise InputError("spill_hole", spill_hole, "a diameter smaller than the parachute's")
    area = 0.25 * math.pi * (parachute_diameter**2 - spill_hole**2)
    return math.sqrt(2.0 * mass * STANDARD_GRAVITY / (density * drag_coefficient * area))


@dataclass(frozen=True)
class FirstContact:
    """The part of the tail that meets the ground first.

    Parameters
    ----------
    part
        "tip trailing corner", "trailing edge", "tip edge", "tip leading corner", "tip" where that
        is round, "trailing corner" nearer the body, "leading edge" or "tail" (the
        body or the end of the root, which spares the fin until the rocket topples).
    x, y
        The point, behind the root's leading edge and out from the root [m].
    clearance
        How much lower it lies than the tail, measured along the fall [m].
    """

    part: str
    x: float
    y: float
    clearance: float


def first_contact(
    planform: Outline, *, tail: float = 0.0, tilt: float = 0.0, tolerance: float = 1e-3
) -> FirstContact:
    """Return the part of fin or tail that touches flat ground first.

    Parameters
    ----------
    planform
        Outline of the fin.
    tail
        How far the body reaches behind the root's trailing edge [m]; negative if the root
        overhangs the body.
    tilt
        Angle of the body's axis from the vertical toward this fin [rad]: 0 hangs tail down,
        pi/2 lies on this fin.
    tolerance
        Points closer in depth than this touch together [m].

    Notes
    -----
    The point with the largest depth x cos(tilt) + y sin(tilt). Valid for flat, level ground.

    Examples
    --------
    >>> from calc.geometry.planform import Planform
    >>> first_contact(Planform(root=0.09, tip=0.05, span=0.06, sweep=0.06)).part
    'tip trailing corner'
    >>> first_contact(Planform(root=0.09, tip=0.05, span=0.06, sweep=0.02)).part
    'tail'
    """
    root = planform.root

    def depth(points: Array) -> Array:
        return np.asarray(points @ (math.cos(tilt), math.sin(tilt)))

    at_tail = float(depth(np.array([[root, 0.0], [root + tail, 0.0]])).max())
    rim = planform.perimeter()
    depths = depth(rim)
    # of points equally deep the rearmost one
    deepest = rim.shape[0] - 2 - int(np.argmax(depths[-2:0:-1]))
    low = float(depths[deepest])
    if low < at_tail - tolerance:
        return FirstContact("tail", root + max(tail, 0.0), 0.0, 0.0)
    if planform.tip > tolerance:
        ends = np.array([[planform.sweep, planform.span],
                         [planform.sweep + planform.tip, planform.span]])  # fmt: skip
        if depth(ends).min() >= low - tolerance:
            x, y = planform.tip_point
            return FirstContact("tip edge", x, y, low - at_tail)
    x, y = (float(value) for value in rim[deepest])
    part = _part(planform, rim, deepest)
    if part != "tip leading corner" and low <= at_tail + tolerance:
        part = "trailing edge"
    return FirstContact(part, x, y, max(low - at_tail, 0.0))


ROUND_REACH = 0.25
"""Length of outline, over the span, either side of a round tip's middle that breaks off with it."""


def _angle(corner: Array, before: Array, after: Array) -> float:
    """Return the angle at a corner between the directions to two points [rad]."""
    one, two = before - corner, after - corner
    cosine = float(one @ two) / (float(np.linalg.norm(one)) * float(np.linalg.norm(two)))
    return math.acos(min(max(cosine, -1.0), 1.0))


def _is_sharp(planform: Outline, point: Array) -> bool:
    """Return whether a point of the perimeter is a corner that is not rounded."""
    return bool(np.any(np.linalg.norm(planform.sharp_corners - point, axis=1) < 1e-9))


def _part(planform: Outline, rim: Array, place: int) -> str:
    """Return what a point of the perimeter is called."""
    x, y = rim[place]
    sharp = _is_sharp(planform, rim[place])
    behind = x >= planform.tip_point[0] - 1e-9
    if y >= planform.span * (1.0 - 1e-6):
        if not sharp:
            return "tip"
        return "tip trailing corner" if behind else "tip leading corner"
    if place > int(np.argmax(rim[:, 1])):
        return "trailing corner" if sharp else "trailing edge"
    return "leading edge"


def effective_mass(*, mass: float, arms: tuple[tuple[float, float], ...]) -> float:
    """Return the mass that an impact away from the centre of gravity has to stop [kg].

    Parameters
    ----------
    mass
        Mass m of the rocket [kg].
    arms
        Pairs (arm a of the force about the centre of gravity [m], radius of gyration k about that
        axis [m]) for each axis about which the impact turns the rocket.

    Notes
    -----
    1 / m_eff = (1 / m) (1 + sum of (a_i / k_i)²). Valid for a rigid, free rocket and axes of
    symmetry.

    References
    ----------
    Rigid-body impulse, e.g. W. Goldsmith, Impact (1960), ch. 2.

    Examples
    --------
    >>> round(effective_mass(mass=1.0, arms=((0.5, 0.5),)), 3)
    0.5
    """
    return mass / (1.0 + sum((arm / gyration) ** 2 for arm, gyration in arms))


@dataclass(frozen=True)
class FailureSpring:
    """A part of the fin loaded at one point: linear up to the force at which it fails.

    Parameters
    ----------
    mode
        How it fails.
    force
        Force at failure [N].
    compliance
        Deflection of the loaded point per force [m/N].
    """

    mode: str
    force: float
    compliance: float

    @property
    def energy(self) -> float:
        """Return the strain energy at failure, force² compliance / 2 [J]."""
        return 0.5 * self.force**2 * self.compliance


def corner_triangle(
    *, angle: float, leg: float, thickness: float, modulus: float, strength: float
) -> FailureSpring:
    """Return force and compliance at failure of a fin corner bent flatwise at its point.

    Parameters
    ----------
    angle
        Angle b between the two edges at the corner [rad], below pi.
    leg
        Length along the edges to where the corner joins the rest (the shorter edge) [m].
    thickness
        t [m].
    modulus, strength
        Flexural modulus E and bending strength s across the break [Pa]: those of the weakest
        direction of the sheet.

    Raises
    ------
    InputError
        Naming a value that is not above zero, or an impossible angle.

    Notes
    -----
    The width is 2 d tan(b/2) at distance d from the point, so the stress 3 P / (t² tan(b/2)) is
    the same everywhere: P = s t² tan(b/2) / 3, energy = s² V / (6 E), V = leg² sin(b) t / 2. Valid
    for a strip without twist that stays linear up to failure; a real corner is rounded.

    References
    ----------
    Beam of uniform strength, S. Timoshenko, Strength of Materials, Part I.

    Examples
    --------
    A right-angled corner by hand: 15e6 * 0.003² * tan 45° / 3 = 45 N.

    >>> corner = corner_triangle(angle=math.pi / 2, leg=0.04, thickness=0.003, modulus=3e9,
    ...                          strength=15e6)
    >>> round(corner.force, 6)
    45.0
    """
    require_positive(leg=leg, thickness=thickness, modulus=modulus, strength=strength)
    if not 0.0 < angle < math.pi:
        raise InputError("angle", angle, "a corner angle between 0 and 180 degrees")
    force = strength * thickness**2 * math.tan(0.5 * angle) / 3.0
    volume = 0.5 * leg**2 * math.sin(angle) * thickness
    return FailureSpring(
        "fin corner snapped flatwise", force, strength**2 * volume / (3.0 * modulus) / force**2
    )


def edgewise(
    planform: Outline,
    *,
    thickness: float,
    modulus: float,
    shear_modulus: float,
    strength: float,
    shear_strength: float,
) -> FailureSpring:
    """Return force and compliance at failure of a fin pushed at its tip along the chord.

    Parameters
    ----------
    planform
        Outline of the fin.
    thickness
        t [m].
    modulus, shear_modulus
        Modulus along the span E and in-plane shear modulus G [Pa].
    strength, shear_strength
        Along the span, and in the plane [Pa].

    Raises
    ------
    InputError
        Naming a value that is not above zero.

    Notes
    -----
    Deep cantilever of chord c(y) at the distance y from the tip: stress 6 P y / (t c²) and
    1.5 P / (t c), compliance = integral of y² / (E t c³ / 12) + 1.2 / (G t c) dy. Valid for even
    thickness, linear up to failure, without sideways buckling; the outermost 5 % of a pointed or
    round tip counts as already crushed.

    References
    ----------
    Beam theory with shear, S. Timoshenko, Strength of Materials, Part I.
    """
    require_positive(thickness=thickness, modulus=modulus, shear_modulus=shear_modulus)
    require_positive(strength=strength, shear_strength=shear_strength)
    span = planform.span
    crushed = 0.05
    least = crushed * planform.root
    if planform.tip == 0.0:
        least = float(planform.chord((1.0 - crushed) * span))
    y, weights = gauss_legendre(24, low=0.0, high=span)
    chord = np.maximum(planform.chord(span - y), least)
    bend = 12.0 * y**2 / (modulus * thickness * chord**3)
    slide = 1.2 / (shear_modulus * thickness * chord)
    grid = np.linspace(0.0, span, 201)
    wide = np.maximum(planform.chord(span - grid), least)
    stress = np.max(6.0 * grid / (thickness * wide**2))
    shear = np.max(1.5 / (thickness * wide))
    force = min(strength / float(stress), shear_strength / float(shear))
    return FailureSpring("fin broken edgewise", force, float(weights @ (bend + slide)))


def tip_corner(planform: Outline) -> tuple[float, float]:
    """Return the angle of the tip's trailing corner [rad] and the shorter edge beside it [m].

    Notes
    -----
    The leading edge is the other side of a pointed tip. Where the tip is round, the corner is that
    between the points `ROUND_REACH` of the span along the outline to either side: as wide as the
    tip is there.

    Examples
    --------
    >>> from calc.geometry.planform import Planform
    >>> angle, leg = tip_corner(Planform(root=0.08, tip=0.04, span=0.06, sweep=0.04))
    >>> round(math.degrees(angle), 6), round(leg, 12)
    (90.0, 0.04)
    """
    rim = planform.perimeter()
    outermost = np.flatnonzero(rim[:, 1] >= planform.span * (1.0 - 1e-9))
    place = int(outermost[-1])
    corner, before, after = rim[place], rim[place - 1], rim[place + 1]
    if float(np.linalg.norm(before - corner)) <= 1e-6:
        before = rim[place - 2]
    if not _is_sharp(planform, corner):
        away = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(rim, axis=0), axis=1))])
        reach = ROUND_REACH * planform.span
        before, after = (
            np.array([np.interp(at, away, rim[:, axis]) for axis in (0, 1)])
            for at in (away[place] - reach, away[place] + reach)
        )
    angle = _angle(corner, before, after)
    legs = (float(np.linalg.norm(other - corner)) for other in (before, after))
    return angle, min(legs)


def indentation_compliance(*, resistance: float, thickness: float, angle: float) -> float:
    """Return how far a fin corner sinks in, or is crushed, per force [m/N].

    Parameters
    ----------
    resistance
        Pressure p at which the ground, or the corner itself, yields [Pa]; see `TURF`. Infinite
        is rigid.
    thickness
        Fin thickness t [m].
    angle
        Angle b of the corner [rad].

    Notes
    -----
    F = 2 p t d tan(b/2) at depth d, so the compliance is 1 / (2 p t tan(b/2)). An estimate: what
    yields does not spring back.

    References
    ----------
    Common practice (constant resistance to penetration), from memory, unverified.
    """
    return 1.0 / (2.0 * resistance * thickness * math.tan(0.5 * angle))


@dataclass(frozen=True)
class SheetProperties:
    """Properties of a fin's sheet for an impact at its corner and on its edge.

    Parameters
    ----------
    corner_modulus, corner_strength
        In bending, in the direction of the smallest bending strength [Pa].
    edge_modulus, edge_strength
        In the plane, along the span [Pa].
    shear_modulus, shear_strength
        In the plane, between span and chord [Pa].
    """

    corner_modulus: float
    corner_strength: float
    edge_modulus: float
    edge_strength: float
    shear_modulus: float
    shear_strength: float


def sheet_properties(layup: Layup, *, direction: float, plywood: bool = False) -> SheetProperties:
    """Return the properties of a fin's sheet for an impact.

    Parameters
    ----------
    layup
        The fin's plies.
    direction
        From the root's direction x to the stack's 0 direction [rad].
    plywood
        Whether a split along a cross ply is not counted in bending.

    Notes
    -----
    Compression across the grain is taken no weaker than tension: see
    `calc.structure.failure.tension_limited_across`.
    """
    stack = tension_limited_across(layup)
    strength, weakest = weakest_bending(stack, plywood=plywood)
    along_span = direction - 0.5 * math.pi
    plane = in_plane_constants(stack, angle=along_span)
    edge_strength, shear_strength = in_plane_strength(stack, angle=along_span)
    return SheetProperties(
        corner_modulus=float(flexural_constants(stack, angle=-weakest).modulus_x),
        corner_strength=strength,
        edge_modulus=float(plane.modulus_x),
        edge_strength=edge_strength,
        shear_modulus=float(plane.shear_modulus),
        shear_strength=shear_strength,
    )


@dataclass(frozen=True)
class ImpactedFin:
    """A fin with what it bears at its tip in each way of being hit.

    Parameters
    ----------
    planform, thickness
        Outline and thickness [m].
    corner_angle, corner_edge
        Angle of the tip's trailing corner [rad] and the shorter edge beside it [m].
    flatwise, corner, edgewise
        The three ways to fail.
    """

    planform: Outline
    thickness: float
    corner_angle: float
    corner_edge: float
    flatwise: FailureSpring
    corner: FailureSpring
    edgewise: FailureSpring

    @property
    def flatwise_compliance(self) -> float:
        """Return the compliance of the tip struck flatwise [m/N].

        The corner's compliance and that of the whole fin overlap: the larger one serves for both,
        so that nothing is counted twice.
        """
        return max(self.flatwise.compliance, self.corner.compliance)


def impacted_fin(
    planform: Outline, *, thickness: float, tip: TipCapacity, sheet: SheetProperties
) -> ImpactedFin:
    """Return the ways in which a fin can fail at touchdown.

    Parameters
    ----------
    planform, thickness
        Outline and thickness [m].
    tip
        Force and compliance of the clamped fin pushed flatwise at its tip.
    sheet
        From `sheet_properties`.
    """
    angle, leg = tip_corner(planform)
    return ImpactedFin(
        planform=planform,
        thickness=thickness,
        corner_angle=angle,
        corner_edge=leg,
        flatwise=FailureSpring("fin bent flatwise at the root", tip.force, tip.compliance),
        corner=corner_triangle(
            angle=angle,
            leg=leg,
            thickness=thickness,
            modulus=sheet.corner_modulus,
            strength=sheet.corner_strength,
        ),
        edgewise=edgewise(
            planform,
            thickness=thickness,
            modulus=sheet.edge_modulus,
            shear_modulus=sheet.shear_modulus,
            strength=sheet.edge_strength,
            shear_strength=sheet.shear_strength,
        ),
    )


@dataclass(frozen=True)
class Rocket:
    """A rocket as it lands.

    Parameters
    ----------
    mass, length, diameter
        [kg], [m], [m].
    tail
        How far the body reaches behind the root's trailing edge [m]; negative if the root
        overhangs.

    Raises
    ------
    InputError
        Naming a value that is not above zero.
    """

    mass: float
    length: float
    diameter: float
    tail: float = 0.0

    def __post_init__(self) -> None:
        require_positive(mass=self.mass, length=self.length, diameter=self.diameter)


@dataclass(frozen=True)
class Touchdown:
    """The outcome of a touchdown.

    Parameters
    ----------
    contact
        What touches first.
    tilt
        Tilt of the body toward the fin [rad].
    flat_energy, edge_energy
        Energy that bends the fin flatwise and edgewise, without the ground's share [J].
    flat_force, edge_force
        Peak forces at the tip if nothing breaks [N].
    indentation
        How deep the corner sinks in or is crushed, edge on [m].
    margins
        Energy demand and capacity of every mode.
    """

    contact: FirstContact
    tilt: float
    flat_energy: float
    edge_energy: float
    flat_force: float
    edge_force: float
    indentation: float
    margins: tuple[Margin, ...]

    @property
    def governs(self) -> Margin:
        """Return the mode with the smallest margin."""
        return worst(self.margins)


def touchdown(
    fin: ImpactedFin,
    rocket: Rocket,
    *,
    speed: float,
    tilt: float,
    incidence: float,
    share: float = 1.0,
    ground_resistance: float = math.inf,
) -> Touchdown:
    """Return whether a fin survives touchdown, by energy.

    Parameters
    ----------
    fin
        From `impacted_fin`.
    rocket
        The rocket as it lands.
    speed
        Sink speed v [m/s].
    tilt
        As in `first_contact` [rad].
    incidence
        Angle a between the fall and the fin's plane [rad]: 0 strikes edge on, pi/2 flat on its
        side.
    share
        Share of the energy that one fin takes, above 0 and up to 1.
    ground_resistance
        Pressure at which the ground or the fin's corner yields [Pa] (see `TURF`); infinite is
        rigid.

    Returns
    -------
    Touchdown
        Energies, peak forces and margins; the demand is zero if the tail touches first.

    Raises
    ------
    InputError
        Naming a speed or resistance that is not above zero, or an impossible share.

    Notes
    -----
    E = share m_eff v² / 2, of which sin² a bends the fin flatwise and cos² a edgewise. Fin and
    ground are springs in series, so the fin takes E C_fin / (C_fin + C_ground). Capacity: strain
    energy at failure. An estimate to a factor of two or so: linear up to failure, one fin, no wind
    drift, no bounce, a rigid root joint. The balance point lies `BALANCE_AHEAD` of the length
    ahead of the root. Rigid ground is the hard case: a real corner crushes a little and takes
    energy off.

    References
    ----------
    Energy method: Timoshenko, Strength of Materials, Part I; rigid-body impulse: Goldsmith,
    Impact (1960); shares of springs in series by statics.
    """
    require_positive(speed=speed)
    require_positive(infinite=True, ground_resistance=ground_resistance)
    if not 0.0 < share <= 1.0:
        raise InputError("share", share, "a share above 0 and up to 1")
    contact = first_contact(fin.planform, tail=rocket.tail, tilt=tilt)
    reach = 0.5 * rocket.diameter + contact.y
    aft = rocket.length * BALANCE_AHEAD + contact.x
    lever = abs(reach * math.cos(tilt) - aft * math.sin(tilt))
    pitch = rocket.length / math.sqrt(12.0)
    # An impact on the flat of the fin turns the rocket about its long axis as well; all the mass
    # in the tube's wall is the heaviest case.
    flat_mass = effective_mass(
        mass=rocket.mass, arms=((reach, 0.5 * rocket.diameter), (aft, pitch))
    )
    edge_mass = effective_mass(mass=rocket.mass, arms=((lever, pitch),))
    per_mass = 0.0 if contact.part == "tail" else 0.5 * share * speed**2
    flat = per_mass * flat_mass * round(math.sin(incidence) ** 2, 12)
    along = per_mass * edge_mass * round(math.cos(incidence) ** 2, 12)
    ground = indentation_compliance(
        resistance=ground_resistance, thickness=fin.thickness, angle=fin.corner_angle
    )
    bending = fin.flatwise_compliance
    flat_force = math.sqrt(2.0 * flat / (bending + ground))
    edge_force = math.sqrt(2.0 * along / (fin.edgewise.compliance + ground))
    flat_energy = 0.5 * flat_force**2 * bending
    edge_energy = 0.5 * edge_force**2 * fin.edgewise.compliance
    return Touchdown(
        contact=contact,
        tilt=tilt,
        flat_energy=flat_energy,
        edge_energy=edge_energy,
        flat_force=flat_force,
        edge_force=edge_force,
        indentation=min(ground * edge_force, fin.corner_edge),
        margins=(
            Margin(
                fin.flatwise.mode, flat_energy, Quantity(0.5 * fin.flatwise.force**2 * bending), "J"
            ),
            Margin(
                fin.corner.mode, flat_energy, Quantity(0.5 * fin.corner.force**2 * bending), "J"
            ),
            Margin(fin.edgewise.mode, edge_energy, Quantity(fin.edgewise.energy), "J"),
        ),
    )


def worst_touchdown(
    fin: ImpactedFin,
    rocket: Rocket,
    *,
    speed: float,
    swing: float,
    share: float = 1.0,
    ground_resistance: float = math.inf,
) -> Touchdown:
    """Return the touchdown with the smallest margin over the rocket's swing.

    Parameters
    ----------
    fin, rocket, speed, share, ground_resistance
        As in `touchdown`.
    swing
        Largest angle from the vertical [rad].

    Notes
    -----
    Tilted toward the fin by a part of the swing, the rocket meets the fin's plane at the rest of
    it: tilt and incidence are the sides of a right angle whose hypotenuse is the swing. `TILTS`
    ways to divide it are tried.
    """
    found = [
        touchdown(
            fin,
            rocket,
            speed=speed,
            tilt=swing * math.sin(float(part)),
            incidence=swing * math.cos(float(part)),
            share=share,
            ground_resistance=ground_resistance,
        )
        for part in np.linspace(0.0, 0.5 * math.pi, TILTS)
    ]
    return min(found, key=lambda item: item.governs.ratio)
