"""Touchdown and handling: what the ground and a thumb do to a fin."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.errors import InputError
from calc.margin import Margin, worst
from calc.motor import STANDARD_GRAVITY

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

THUMB = (5.0, 20.0)
"""Force of a thumb on a fin in handling [N], low and high: common practice, from memory."""

TURF = (0.3e6, 2.0e6)
"""Resistance of lawn and field to a pressed-in point (cone index) [Pa], soft and firm: common
practice, from memory, unverified."""


def descent_speed(
    *,
    mass: float,
    parachute_diameter: float,
    drag_coefficient: float = 0.75,
    density: float = 1.225,
    spill_hole: float = 0.0,
) -> float:
    """Return the steady speed at which a rocket sinks under a parachute.

    Equation: v = sqrt(2 m g / (rho C_d A)), A = pi (D^2 - d_hole^2) / 4.

    Parameters
    ----------
    mass
        Mass that hangs under the canopy, canopy included [kg].
    parachute_diameter
        Laid-out diameter D [m].
    drag_coefficient
        C_d on the laid-out area [-]; see `PARACHUTE_DRAG`.
    density
        Air density at the ground [kg/m3].
    spill_hole
        Diameter of the hole in the middle [m].

    Returns
    -------
    float
        Sink speed [m/s].

    Validity: fully open canopy, no wind; wind adds sideways speed.

    Source: balance of weight and drag; Knacke (1991) for the coefficients, from memory.

    >>> round(descent_speed(mass=0.1, parachute_diameter=0.30), 2)
    5.5
    """
    _positive(mass=mass, parachute_diameter=parachute_diameter, drag=drag_coefficient)
    if not 0.0 <= spill_hole < parachute_diameter:
        raise InputError("spill_hole", spill_hole, "a diameter smaller than the parachute's")
    area = 0.25 * math.pi * (parachute_diameter**2 - spill_hole**2)
    return math.sqrt(2.0 * mass * STANDARD_GRAVITY / (density * drag_coefficient * area))


@dataclass(frozen=True)
class Touch:
    """What of the tail meets the ground first.

    Parameters
    ----------
    part
        "tip trailing corner", "trailing edge", "tip edge", "tip leading corner" or "tail"
        (the body or the root's end comes first and spares the fin until the rocket topples).
    x, y
        The point, behind the root's leading edge and out from the root [m].
    clearance
        How much lower it lies than the tail, measured along the fall [m].
    """

    part: str
    x: float
    y: float
    clearance: float


def touches_first(
    *,
    root: float,
    tip: float,
    span: float,
    sweep: float,
    tail: float = 0.0,
    tilt: float = 0.0,
    tolerance: float = 1e-3,
) -> Touch:
    """Return which part of the fin or tail touches flat ground first.

    Equation: the point with the largest depth x cos(tilt) + y sin(tilt).

    Parameters
    ----------
    root, tip, span, sweep
        Fin shape [m].
    tail
        How far the body reaches behind the root's trailing edge [m]; negative if the root
        overhangs the body.
    tilt
        Angle of the body's axis from the vertical toward this fin [rad]: 0 hangs tail down,
        pi/2 lies on this fin.
    tolerance
        Points closer in depth than this touch together [m].

    Returns
    -------
    Touch
        The part, its place, and how much lower than the tail it lies.

    Validity: flat, level ground; straight fin edges.

    Source: geometry.

    >>> touches_first(root=0.09, tip=0.05, span=0.06, sweep=0.06).part
    'tip trailing corner'
    >>> touches_first(root=0.09, tip=0.05, span=0.06, sweep=0.02).part
    'tail'
    """
    lead, trail = (sweep, span), (sweep + tip, span)

    def depth(point: tuple[float, float]) -> float:
        return point[0] * math.cos(tilt) + point[1] * math.sin(tilt)

    at_tail = max(depth((root, 0.0)), depth((root + tail, 0.0)))
    at_lead, at_trail = depth(lead), depth(trail)
    low = max(at_lead, at_trail)
    if low < at_tail - tolerance:
        return Touch("tail", root + max(tail, 0.0), 0.0, 0.0)
    if abs(at_lead - at_trail) <= tolerance and tip > tolerance:
        return Touch("tip edge", sweep + 0.5 * tip, span, low - at_tail)
    if at_lead > at_trail:
        return Touch("tip leading corner", *lead, low - at_tail)
    if at_trail <= at_tail + tolerance:
        return Touch("trailing edge", *trail, max(low - at_tail, 0.0))
    return Touch("tip trailing corner", *trail, low - at_tail)


def effective_mass(*, mass: float, arms: tuple[tuple[float, float], ...]) -> float:
    """Return the mass that a blow off the centre of gravity has to stop.

    Equation: 1 / m_eff = (1 / m) (1 + sum of (a_i / k_i)^2).

    Parameters
    ----------
    mass
        Mass of the rocket [kg].
    arms
        Pairs (arm of the force about the centre of gravity [m], radius of gyration about that
        axis [m]) for each axis about which the blow turns the rocket.

    Returns
    -------
    float
        Effective mass [kg].

    Validity: rigid, free rocket; axes of symmetry.

    Source: rigid-body impulse, e.g. W. Goldsmith, Impact (1960), ch. 2.

    >>> round(effective_mass(mass=1.0, arms=((0.5, 0.5),)), 3)
    0.5
    """
    return mass / (1.0 + sum((arm / gyration) ** 2 for arm, gyration in arms))


@dataclass(frozen=True)
class Spring:
    """A part of the fin loaded at its end: stiff up to the force that breaks it.

    Parameters
    ----------
    mode
        What breaks.
    force
        Breaking force [N].
    compliance
        Deflection of the loaded point per force [m/N].
    """

    mode: str
    force: float
    compliance: float

    @property
    def energy(self) -> float:
        """Return the strain energy at the breaking force, force^2 * compliance / 2 [J]."""
        return 0.5 * self.force**2 * self.compliance


def flat_strip(
    *, root: float, tip: float, span: float, thickness: float, modulus: float, strength: float
) -> Spring:
    """Return the breaking force and energy of a fin bent flatwise by a force along its tip.

    Equation: cantilever of chord c(y) from tip to root, M = P y, stress 6 P y / (c t^2),
    compliance = integral of y^2 / (E c t^3 / 12) dy. An even chord gives the energy
    s^2 V / (18 E), a pointed one s^2 V / (6 E), V being the volume.

    Parameters
    ----------
    root, tip, span, thickness
        Fin [m].
    modulus, strength
        Flexural modulus E [Pa] and bending strength [Pa] along the span.

    Returns
    -------
    Spring
        Breaking force [N] and compliance [m/N].

    Validity: a strip, without twist; even thickness; straight to failure.

    Source: beam theory, S. Timoshenko, Strength of Materials, Part I.

    >>> strip = flat_strip(root=0.06, tip=0.06, span=0.06, thickness=0.003, modulus=3e9,
    ...                    strength=15e6)
    >>> round(strip.force, 1), round(strip.energy, 4)
    (22.5, 0.045)
    """
    _positive(root=root, span=span, thickness=thickness, modulus=modulus, strength=strength)
    y, weights = _along(span)
    chord = tip + (root - tip) * y / span
    compliance = float(weights @ (y**2 / chord)) * 12.0 / (modulus * thickness**3)
    # y / c(y) never falls toward the root for straight edges, so the root is where it breaks.
    force = strength * root * thickness**2 / (6.0 * span)
    return Spring("fin bent flatwise at the root", force, compliance)


def corner_triangle(
    *, angle: float, leg: float, thickness: float, modulus: float, strength: float
) -> Spring:
    """Return the breaking force and energy of a fin corner bent flatwise at its point.

    Equation: width 2 s tan(angle/2) at distance s from the point, so the stress
    3 P / (t^2 tan(angle/2)) is the same everywhere: P = strength t^2 tan(angle/2) / 3,
    energy = strength^2 V / (6 E), V = leg^2 sin(angle) t / 2.

    Parameters
    ----------
    angle
        Angle between the two edges at the corner [rad], below pi.
    leg
        Length along the edges to where the corner joins the rest (the shorter edge) [m].
    thickness
        [m].
    modulus, strength
        Flexural modulus [Pa] and bending strength [Pa] across the break: that of the weaker
        direction unless you know better.

    Returns
    -------
    Spring
        Breaking force [N] and compliance [m/N].

    Validity: as `flat_strip`; the rounding of a real corner is left out.

    Source: beam of uniform strength, S. Timoshenko, Strength of Materials, Part I.
    """
    _positive(leg=leg, thickness=thickness, modulus=modulus, strength=strength)
    if not 0.0 < angle < math.pi:
        raise InputError("angle", angle, "a corner angle between 0 and 180 degrees")
    force = strength * thickness**2 * math.tan(0.5 * angle) / 3.0
    volume = 0.5 * leg**2 * math.sin(angle) * thickness
    return Spring(
        "fin corner snapped flatwise", force, strength**2 * volume / (3.0 * modulus) / force**2
    )


def edgewise(
    *,
    root: float,
    tip: float,
    span: float,
    thickness: float,
    modulus: float,
    shear_modulus: float,
    strength: float,
    shear_strength: float,
) -> Spring:
    """Return the breaking force and energy of a fin pushed at its tip along the chord.

    Equation: deep cantilever, stress 6 P y / (t c^2) and 1.5 P / (t c); compliance = integral of
    y^2 / (E t c^3 / 12) + 1.2 / (G t c) dy.

    Parameters
    ----------
    root, tip, span, thickness
        Fin [m].
    modulus, shear_modulus
        Modulus along the span E and in-plane shear modulus G [Pa].
    strength, shear_strength
        Along the span, and in the plane [Pa].

    Returns
    -------
    Spring
        Breaking force [N] and compliance [m/N].

    Validity: as `flat_strip`; for a pointed tip the outermost 5 % is taken as already crushed.
    Buckling sideways is left out.

    Source: beam theory with shear, S. Timoshenko, Strength of Materials, Part I.
    """
    _positive(root=root, span=span, thickness=thickness, modulus=modulus)
    _positive(shear_modulus=shear_modulus, strength=strength, shear_strength=shear_strength)
    y, weights = _along(span)
    chord = np.maximum(tip + (root - tip) * y / span, 0.05 * root)
    bend = 12.0 * y**2 / (modulus * thickness * chord**3)
    slide = 1.2 / (shear_modulus * thickness * chord)
    grid = np.linspace(0.0, span, 201)
    wide = np.maximum(tip + (root - tip) * grid / span, 0.05 * root)
    stress = np.max(6.0 * grid / (thickness * wide**2))
    shear = np.max(1.5 / (thickness * wide))
    force = min(strength / float(stress), shear_strength / float(shear))
    return Spring("fin broken edgewise", force, float(weights @ (bend + slide)))


def turf_compliance(*, resistance: float, thickness: float, angle: float) -> float:
    """Return how far a fin corner sinks into turf per force.

    Equation: F = resistance * t * 2 d tan(angle/2) at depth d, so compliance
    = 1 / (2 resistance t tan(angle/2)).

    Parameters
    ----------
    resistance
        Pressure with which the ground resists a pressed-in point [Pa]; see `TURF`.
    thickness
        Fin thickness [m].
    angle
        Angle of the corner [rad].

    Returns
    -------
    float
        Compliance of the ground [m/N].

    Validity: an estimate; the ground gives way and does not spring back.

    Source: common practice (constant resistance to penetration), from memory, unverified.
    """
    return 1.0 / (2.0 * resistance * thickness * math.tan(0.5 * angle))


@dataclass(frozen=True)
class Touchdown:
    """The outcome of a touchdown.

    Parameters
    ----------
    touch
        What touches first.
    speed
        Sink speed [m/s].
    flat_energy, edge_energy
        Energy that bends the fin flatwise and edgewise, the ground's share taken off [J].
    flat_force, edge_force
        Peak forces at the tip if nothing breaks [N]; for the root joint: moment = force * span.
    margins
        Energy demand and capacity of every mode.
    assumptions
        What was assumed, in plain words.
    """

    touch: Touch
    speed: float
    flat_energy: float
    edge_energy: float
    flat_force: float
    edge_force: float
    margins: tuple[Margin, ...]
    assumptions: tuple[str, ...]

    @property
    def governs(self) -> Margin:
        """Return the mode with the smallest margin."""
        return worst(self.margins)


def touchdown(
    *,
    speed: float,
    mass: float,
    length: float,
    diameter: float,
    root: float,
    tip: float,
    span: float,
    sweep: float,
    thickness: float,
    modulus: float,
    strength: float,
    shear_modulus: float,
    shear_strength: float,
    corner_modulus: float | None = None,
    corner_strength: float | None = None,
    edge_modulus: float | None = None,
    edge_strength: float | None = None,
    centre_of_gravity_to_fin: float | None = None,
    tail: float = 0.0,
    tilt: float = 0.0,
    incidence: float = SWING,
    share: float = 1.0,
    ground_resistance: float = math.inf,
    root_spring: float = math.inf,
) -> Touchdown:
    """Return whether a fin survives touchdown, by energy.

    Equation: E = share * m_eff v^2 / 2, split into sin^2 (flatwise) and cos^2 (edgewise) of the
    angle between fall and fin; each part stretches springs in series (fin, joint, ground), so the
    fin takes E C_fin / (C_fin + C_joint + C_ground). Capacity: strain energy at failure.

    Parameters
    ----------
    speed
        Sink speed v [m/s].
    mass, length, diameter
        Rocket as it lands [kg], [m], [m].
    root, tip, span, sweep, thickness
        Fin [m].
    modulus, strength
        Flexural modulus and bending strength along the span [Pa].
    shear_modulus, shear_strength
        In the fin's plane [Pa].
    corner_modulus, corner_strength
        In bending across the corner [Pa]; default as along the span: give those of the weaker
        direction for wood.
    edge_modulus, edge_strength
        In tension and compression along the span [Pa]; default the bending values.
    centre_of_gravity_to_fin
        From the balance point aft to the root's leading edge [m]; default a third of the length.
    tail, tilt
        As in `touches_first`.
    incidence
        Angle between the fall and the fin's plane [rad]: 0 strikes edge on, pi/2 flat on its side.
    share
        Share of the energy that one fin takes [-].
    ground_resistance
        Resistance of soft ground [Pa] (see `TURF`); infinite is rigid ground such as a road.
    root_spring
        Rotational stiffness of the joint per root length [N m/rad per m].

    Returns
    -------
    Touchdown
        Energies, peak forces and margins. If the tail touches first the demand is zero.

    Validity: an estimate to a factor of two or so. Elastic until it breaks, one fin, no wind
    drift, no bounce. Rigid ground is the hard case: a real corner crushes a little and takes
    energy off.

    Source: energy method (Timoshenko, Strength of Materials, Part I); rigid-body impulse
    (Goldsmith, Impact, 1960); shares of springs in series by statics.
    """
    _positive(speed=speed, mass=mass, length=length, diameter=diameter, root_spring=root_spring)
    _positive(ground_resistance=ground_resistance)
    if not 0.0 < share <= 1.0:
        raise InputError("share", share, "a share above 0 and up to 1")
    touch = touches_first(root=root, tip=tip, span=span, sweep=sweep, tail=tail, tilt=tilt)
    angle, leg = tip_corner(root=root, tip=tip, span=span, sweep=sweep)
    strip = flat_strip(
        root=root, tip=tip, span=span, thickness=thickness, modulus=modulus, strength=strength
    )
    corner = corner_triangle(
        angle=angle,
        leg=leg,
        thickness=thickness,
        modulus=corner_modulus or modulus,
        strength=corner_strength or strength,
    )
    edge = edgewise(
        root=root,
        tip=tip,
        span=span,
        thickness=thickness,
        modulus=edge_modulus or modulus,
        shear_modulus=shear_modulus,
        strength=edge_strength or strength,
        shear_strength=shear_strength,
    )
    reach = 0.5 * diameter + touch.y
    aft = (length / 3.0 if centre_of_gravity_to_fin is None else centre_of_gravity_to_fin) + touch.x
    lever = abs(reach * math.cos(tilt) - aft * math.sin(tilt))
    pitch = length / math.sqrt(12.0)
    # A blow on the flat of the fin turns the rocket about its long axis as well; all the mass in
    # the tube's wall is the heaviest case.
    flat_mass = effective_mass(mass=mass, arms=((reach, 0.5 * diameter), (aft, pitch)))
    edge_mass = effective_mass(mass=mass, arms=((lever, pitch),))
    struck = 0.0 if touch.part == "tail" else 0.5 * share * speed**2
    flat = struck * flat_mass * round(math.sin(incidence) ** 2, 12)
    along = struck * edge_mass * round(math.cos(incidence) ** 2, 12)
    ground = (
        turf_compliance(resistance=ground_resistance, thickness=thickness, angle=angle)
        if math.isfinite(ground_resistance)
        else 0.0
    )
    joint = span**2 / (root_spring * root)
    # The corner is softer than the strip or part of it: the larger compliance serves both, so
    # that nothing is counted twice.
    bending = max(strip.compliance, corner.compliance)
    flat_force = math.sqrt(2.0 * flat / (bending + joint + ground))
    edge_force = math.sqrt(2.0 * along / (edge.compliance + ground))
    flat_energy = 0.5 * flat_force**2 * bending
    edge_energy = 0.5 * edge_force**2 * edge.compliance
    margins = (
        Margin(strip.mode, flat_energy, 0.5 * strip.force**2 * bending, "J"),
        Margin(corner.mode, flat_energy, 0.5 * corner.force**2 * bending, "J"),
        Margin(edge.mode, edge_energy, edge.energy, "J"),
    )
    assumptions = (
        "rigid ground"
        if math.isinf(ground_resistance)
        else f"ground resists with {ground_resistance / 1e6:.2g} MPa and does not spring back",
        f"one fin takes {100.0 * share:.0f} % of the energy",
        f"the fall meets the fin's plane at {math.degrees(incidence):.0f} degrees",
        "the rocket is rigid and free; the fin is straight to failure",
        "an estimate to a factor of about two",
    )
    return Touchdown(
        touch, speed, flat_energy, edge_energy, flat_force, edge_force, margins, assumptions
    )


def thumb(
    *,
    force: float,
    root: float,
    span: float,
    thickness: float,
    strength: float,
    reach: float | None = None,
) -> Margin:
    """Return the margin of a fin's root against a thumb that pushes its tip sideways.

    Equation: M = F a; stress = 6 M / (w t^2) with w = min(root, 2 a): the force spreads at
    45 degrees on its way to the root.

    Parameters
    ----------
    force
        Force on the tip F [N]; 5 to 20 N is common (`THUMB`).
    root, span, thickness
        Fin [m].
    strength
        Bending strength along the span [Pa].
    reach
        Distance of the thumb from the root a [m]; default the span.

    Returns
    -------
    Margin
        Bending stress at the root against strength [Pa].

    Validity: thumb on the middle of the tip; at a corner the twist adds stress (see
    `corner_triangle`).

    Source: beam theory; the spread is close to T. J. Jaramillo, J. Appl. Mech. 17 (1950) 67-72:
    an endless cantilever plate with a force F at its free edge bends with 0.51 F per unit width
    at the root (from memory, unverified).

    >>> round(thumb(force=10.0, root=0.06, span=0.06, thickness=0.003, strength=15e6).ratio, 2)
    2.25
    """
    _positive(force=force, root=root, span=span, thickness=thickness, strength=strength)
    arm = span if reach is None else reach
    width = min(root, 2.0 * arm)
    return Margin("thumb on the tip", 6.0 * force * arm / (width * thickness**2), strength, "Pa")


_GAUSS = np.polynomial.legendre.leggauss(24)  # type: ignore[no-untyped-call]


def _along(span: float) -> tuple[Array, Array]:
    """Return Gauss points from the tip (0) to the root (span) and their weights."""
    points, weights = _GAUSS
    return 0.5 * span * (points + 1.0), 0.5 * span * weights


def tip_corner(*, root: float, tip: float, span: float, sweep: float) -> tuple[float, float]:
    """Return the angle of the tip's trailing corner and the shorter edge beside it.

    Parameters
    ----------
    root, tip, span, sweep
        Outline of the fin [m].

    Returns
    -------
    tuple
        Angle [rad] and length [m]; of a pointed tip the leading edge is the other side.

    >>> angle, leg = tip_corner(root=0.08, tip=0.04, span=0.06, sweep=0.04)
    >>> round(math.degrees(angle), 6), leg
    (90.0, 0.04)
    """
    trailing = np.array([root - sweep - tip, -span])
    other = np.array([-tip, 0.0] if tip > 1e-6 else [-sweep, -span])
    lengths = float(np.linalg.norm(trailing)), float(np.linalg.norm(other))
    cosine = float(trailing @ other) / (lengths[0] * lengths[1])
    return math.acos(min(max(cosine, -1.0), 1.0)), min(lengths)


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not value > 0.0:
            raise InputError(name, value, "a value above zero")
