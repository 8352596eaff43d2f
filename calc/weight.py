"""What fins weigh on balance, stability and height."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.errors import InputError, ValidityError
from calc.flight import Launch, ascent

Array = NDArray[np.float64]

NoseShape = Literal["cone", "ogive", "parabola", "ellipsoid", "von Karman"]

NOSE_CENTRE: dict[NoseShape, float] = {
    "cone": 2.0 / 3.0,
    "ogive": 0.466,
    "parabola": 0.5,
    "ellipsoid": 1.0 / 3.0,
    "von Karman": 0.5,
}
"""Centre of pressure from the tip, in nose lengths: 1 - volume / (base area * length)."""

_INTERFERENCE = {3: 1.0, 4: 1.0, 6: 0.5}


@dataclass(frozen=True)
class FinForce:
    """Normal force of a fin set at a small angle of attack.

    Parameters
    ----------
    slope
        Normal-force slope of the set with the body's influence [1/rad], on the area pi d^2 / 4.
    alone
        The same without the body's influence [1/rad].
    interference
        Factor by which the body raises the fins' force [-].
    centre
        Centre of pressure behind the root's leading edge [m].
    """

    slope: float
    alone: float
    interference: float
    centre: float


def fin_normal_force(
    *,
    count: int,
    root: float,
    tip: float,
    span: float,
    sweep: float,
    diameter: float,
    mach: float = 0.0,
) -> FinForce:
    """Return the normal-force slope and centre of pressure of a fin set.

    Equation: C_Na = K 4 N (s/d)^2 / (1 + sqrt(1 + (2 b l / (c_r + c_t))^2)), K = 1 + f R/(s + R),
    l = sqrt(s^2 + (x_R + c_t/2 - c_r/2)^2), b = sqrt(1 - M^2), f = 1 for 3 or 4 fins and 0.5
    for 6; x_cp = (x_R/3)(c_r + 2 c_t)/(c_r + c_t) + (c_r + c_t - c_r c_t/(c_r + c_t))/6.

    Parameters
    ----------
    count
        Number of equal, evenly spaced fins N: 3, 4 or 6.
    root, tip
        Root and tip chord c_r, c_t [m].
    span
        Exposed span of one fin s [m].
    sweep
        Distance of the tip's leading edge behind the root's x_R [m].
    diameter
        Body diameter d = 2 R at the fins [m].
    mach
        Mach number, below 0.9.

    Returns
    -------
    FinForce
        Slope [1/rad] on pi d^2/4, and centre of pressure [m] behind the root's leading edge.

    Validity: small angles, thin flat fins, subsonic; the fins' own drag is not in it.

    Source: J. S. Barrowman, The Practical Calculation of the Aerodynamic Characteristics of
    Slender Finned Vehicles, M.S. thesis, Catholic University of America (1967), and J. S. and
    J. A. Barrowman, The Theoretical Prediction of the Center of Pressure (1966); F. W. Diederich,
    NACA TN 2335 (1951). Equations from memory; the factor for 6 fins unverified.

    >>> set3 = fin_normal_force(count=3, root=0.09, tip=0.05, span=0.06, sweep=0.04, diameter=0.05)
    >>> round(set3.slope, 4), round(set3.centre, 6)
    (9.5252, 0.036071)
    """
    _positive(root=root, span=span, diameter=diameter)
    if not (math.isfinite(tip) and tip >= 0.0):
        raise InputError("tip", tip, "a length of zero or more")
    if not math.isfinite(sweep):
        raise InputError("sweep", sweep, "a length")
    if count not in _INTERFERENCE:
        raise InputError("count", count, "3, 4 or 6 fins")
    if not 0.0 <= mach < 0.9:
        raise ValidityError("Fin lift by the slender-body method is for Mach numbers below 0.9.")
    chords = root + tip
    middle = math.hypot(span, sweep + 0.5 * tip - 0.5 * root)
    beta = math.sqrt(1.0 - mach**2)
    # beta AR / (2 cos(mid-chord sweep)), with AR = 4 s / (c_r + c_t) and cos = s / middle.
    term = 2.0 * beta * middle / chords
    alone = 4.0 * count * (span / diameter) ** 2 / (1.0 + math.sqrt(1.0 + term**2))
    radius = 0.5 * diameter
    factor = 1.0 + _INTERFERENCE[count] * radius / (span + radius)
    centre = sweep / 3.0 * (root + 2.0 * tip) / chords + (chords - root * tip / chords) / 6.0
    return FinForce(factor * alone, alone, factor, centre)


def nose_normal_force(*, length: float, shape: NoseShape = "ogive") -> tuple[float, float]:
    """Return the normal-force slope and centre of pressure of a nose cone.

    Equation: C_Na = 2 per rad on the base area; x_cp = L - V / A_base.

    Parameters
    ----------
    length
        Nose length L [m].
    shape
        "cone", "ogive", "parabola", "ellipsoid" or "von Karman".

    Returns
    -------
    tuple
        Slope [1/rad] and centre of pressure from the tip [m].

    Validity: slender pointed body at a small angle of attack.

    Source: slender-body theory (M. M. Munk, NACA TR 184, 1924), as used by Barrowman (1967).

    >>> nose_normal_force(length=0.1, shape="parabola")
    (2.0, 0.05)
    """
    _positive(nose_length=length)
    if shape not in NOSE_CENTRE:
        raise InputError("nose_shape", shape, f"one of {', '.join(NOSE_CENTRE)}")
    return 2.0, NOSE_CENTRE[shape] * length


def centroid(*, root: float, tip: float, span: float, sweep: float) -> tuple[float, float]:
    """Return the centre of area of a trapezoidal fin.

    Equation: y = (s/3)(c_r + 2 c_t)/(c_r + c_t);
    x = [x_R (c_r + 2 c_t) + c_r^2 + c_r c_t + c_t^2] / (3 (c_r + c_t)).

    Parameters
    ----------
    root, tip, span, sweep
        Fin shape [m].

    Returns
    -------
    tuple
        x behind the root's leading edge and y out from the root [m].

    Validity: fin of even thickness and density.

    Source: geometry of the trapezium.

    >>> [round(v, 6) for v in centroid(root=0.1, tip=0.1, span=0.05, sweep=0.0)]
    [0.05, 0.025]
    """
    chords = root + tip
    x = (sweep * (root + 2.0 * tip) + root**2 + root * tip + tip**2) / (3.0 * chords)
    return x, span / 3.0 * (root + 2.0 * tip) / chords


@dataclass(frozen=True)
class Balance:
    """Balance and static stability; lengths from the nose tip [m].

    Parameters
    ----------
    mass
        Rocket with its fins [kg].
    centre_of_gravity, bare_centre_of_gravity
        With and without fins.
    shift
        How far the fins move the centre of gravity aft (positive).
    centre_of_pressure
        Of nose and fins.
    slope
        Normal-force slope of nose and fins [1/rad] on pi d^2/4.
    margin
        (centre of pressure - centre of gravity) / diameter: static margin in calibers.
    fins
        The fin set's own force.
    """

    mass: float
    centre_of_gravity: float
    bare_centre_of_gravity: float
    shift: float
    centre_of_pressure: float
    slope: float
    margin: float
    fins: FinForce


def balance(
    *,
    nose_length: float,
    nose_shape: NoseShape,
    body_length: float,
    diameter: float,
    bare_mass: float,
    bare_centre_of_gravity: float,
    fin_mass: float,
    count: int,
    root: float,
    tip: float,
    span: float,
    sweep: float,
    fin_position: float | None = None,
    extra_mass: float = 0.0,
    extra_position: float = 0.0,
    mach: float = 0.0,
) -> Balance:
    """Return the balance of a rocket with its fins and its static margin in calibers.

    Equation: x_cg = sum(m_i x_i) / sum(m_i); x_cp = sum(C_i x_i) / sum(C_i) over nose and fins;
    margin = (x_cp - x_cg) / d.

    Parameters
    ----------
    nose_length, nose_shape
        Nose cone length [m] and shape.
    body_length, diameter
        Cylinder behind the nose and its diameter [m].
    bare_mass, bare_centre_of_gravity
        Rocket ready to fly but without fins [kg] and its balance point from the tip [m].
    fin_mass
        One fin, finish and fillets included [kg].
    count, root, tip, span, sweep
        Fin set as in `fin_normal_force`.
    fin_position
        Root's leading edge behind the nose tip [m]; default: the root ends at the tail.
    extra_mass, extra_position
        Ballast or glue [kg] and where [m].
    mach
        Mach number, below 0.9.

    Returns
    -------
    Balance
        Balance point, its shift by the fins, centre of pressure, static margin.

    Validity: slender rocket of one diameter, small angle of attack; the body's own lift is left
    out, which is right for small angles and too good for a long body in a strong side wind.

    Source: statics; Barrowman (1967) as in `fin_normal_force`.

    >>> b = balance(nose_length=0.1, nose_shape="ogive", body_length=0.4, diameter=0.05,
    ...             bare_mass=0.15, bare_centre_of_gravity=0.3, fin_mass=0.004, count=3,
    ...             root=0.09, tip=0.05, span=0.06, sweep=0.04)
    >>> round(b.margin, 2)
    1.29
    """
    _positive(nose_length=nose_length, body_length=body_length, diameter=diameter, mass=bare_mass)
    if not (math.isfinite(fin_mass) and fin_mass >= 0.0):
        raise InputError("fin_mass", fin_mass, "a mass of zero or more")
    length = nose_length + body_length
    if not 0.0 < bare_centre_of_gravity < length:
        raise InputError(
            "balance_point", bare_centre_of_gravity, f"a length between 0 and {length:.3g} m"
        )
    position = length - root if fin_position is None else fin_position
    fins = fin_normal_force(
        count=count, root=root, tip=tip, span=span, sweep=sweep, diameter=diameter, mach=mach
    )
    fin_x = position + centroid(root=root, tip=tip, span=span, sweep=sweep)[0]
    masses = np.array([bare_mass, count * fin_mass, extra_mass])
    places = np.array([bare_centre_of_gravity, fin_x, extra_position])
    total = float(masses.sum())
    gravity = float(masses @ places) / total
    without = float(masses[[0, 2]] @ places[[0, 2]]) / float(masses[[0, 2]].sum())
    nose_slope, nose_x = nose_normal_force(length=nose_length, shape=nose_shape)
    slope = nose_slope + fins.slope
    pressure = (nose_slope * nose_x + fins.slope * (position + fins.centre)) / slope
    return Balance(
        mass=total,
        centre_of_gravity=gravity,
        bare_centre_of_gravity=bare_centre_of_gravity,
        shift=gravity - without,
        centre_of_pressure=pressure,
        slope=slope,
        margin=(pressure - gravity) / diameter,
        fins=fins,
    )


def nose_ballast(*, rocket: Balance, position: float, margin: float, diameter: float) -> float:
    """Return the mass that, put near the nose, brings the static margin to a wanted value.

    Equation: x_wanted = x_cp - margin d; m = M (x_cg - x_wanted) / (x_wanted - x_m), 0 if the
    margin is there already.

    Parameters
    ----------
    rocket
        Balance of the rocket as it is.
    position
        Where the mass goes, from the tip [m].
    margin
        Wanted static margin [calibers].
    diameter
        Body diameter [m].

    Returns
    -------
    float
        Ballast [kg].

    Validity: as `balance`; `position` must lie ahead of the wanted balance point.

    Source: statics.
    """
    wanted = rocket.centre_of_pressure - margin * diameter
    need = rocket.mass * (rocket.centre_of_gravity - wanted)
    if need <= 0.0:
        return 0.0
    if position >= wanted:
        raise InputError(
            "position", position, f"a place ahead of {wanted:.3g} m, the wanted balance point"
        )
    return need / (wanted - position)


@dataclass(frozen=True)
class HeightEffect:
    """What added mass does to the flight; arrays have the shape of `added_mass`.

    Parameters
    ----------
    added_mass
        Mass added to the rocket [kg].
    peak, speed
        Height above the pad [m] and greatest speed [m/s] with it.
    lost_per_mass
        Height lost per added mass at no added mass [m/kg]; times 0.001 it is metres per gram.
        Negative when the rocket is lighter than its best mass: adding mass then adds height.
    """

    added_mass: Array
    peak: Array
    speed: Array
    lost_per_mass: float


def height_effect(*, launch: Launch, added_mass: ArrayLike = 0.0) -> HeightEffect:
    """Return the peak with mass added, by flying again, and the height lost per mass.

    Equation: -dh/dm by central difference of `calc.flight.ascent` with 1 % of the mass.

    Parameters
    ----------
    launch
        The rocket as it is.
    added_mass
        Masses to add [kg], any shape.

    Returns
    -------
    HeightEffect
        Peak and speed for each, and the local slope.

    Validity: as `calc.flight.ascent`; the drag coefficient stays the same.

    Source: Newton's second law, integrated.
    """
    added = np.asarray(added_mass, float)
    flights = [ascent(replace(launch, mass=launch.mass + m)) for m in added.ravel().tolist()]
    step = min(0.01 * launch.mass, 0.5 * (launch.mass - launch.propellant_mass))
    high, low = (
        ascent(replace(launch, mass=launch.mass + s), tolerance=1e-9).peak.height
        for s in (step, -step)
    )
    return HeightEffect(
        added,
        np.reshape([flight.peak.height for flight in flights], added.shape),
        np.reshape([flight.fastest.speed for flight in flights], added.shape),
        (low - high) / (2.0 * step),
    )


def best_mass(*, launch: Launch, lightest: float | None = None) -> tuple[float, float]:
    """Return the lift-off mass at which this motor and body fly highest, and that height.

    Equation: maximum of peak over mass by golden-section search.

    Parameters
    ----------
    launch
        The rocket as it is.
    lightest
        Least lift-off mass considered [kg]; default propellant mass plus 2 % of the mass now.

    Returns
    -------
    tuple
        Best mass [kg] and peak [m]. If the lightest mass flies highest it is that mass.

    Validity: as `calc.flight.ascent`. A rocket lighter than this coasts less far because drag
    stops it sooner; a heavier one is slower at burnout.

    Source: Newton's second law, integrated.
    """
    least = launch.propellant_mass + 0.02 * launch.mass if lightest is None else lightest
    strongest = max(force for _, force in launch.points)
    a, b = math.log(least), math.log(max(0.5 * strongest / 9.80665, 1.01 * least))

    def peak(log_mass: float) -> float:
        return ascent(replace(launch, mass=math.exp(log_mass))).peak.height

    golden = 0.5 * (math.sqrt(5.0) - 1.0)
    c, d = b - golden * (b - a), a + golden * (b - a)
    at_c, at_d = peak(c), peak(d)
    while b - a > 1e-3:
        if at_c >= at_d:
            b, d, at_d = d, c, at_c
            c = b - golden * (b - a)
            at_c = peak(c)
        else:
            a, c, at_c = c, d, at_d
            d = a + golden * (b - a)
            at_d = peak(d)
    best = 0.5 * (a + b)
    return math.exp(best), peak(best)


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0.0):
            raise InputError(name, value, "a value above zero")
