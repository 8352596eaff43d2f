"""Static stability of a rocket, and the effect of added mass on its height."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.aeroelastic import SUBSONIC_LIMIT
from calc.errors import InputError, ValidityError, require_positive
from calc.flight.ascent import Launch, ascent
from calc.geometry.outline import Outline

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
    *, count: int, planform: Outline, diameter: float, mach: float = 0.0
) -> FinForce:
    """Return the normal-force slope and centre of pressure of a fin set.

    Parameters
    ----------
    count
        Number of equal, evenly spaced fins N: 3, 4 or 6.
    planform
        Outline of one fin: area A and exposed span s.
    diameter
        Body diameter d = 2 R at the fins [m].
    mach
        Mach number, below `SUBSONIC_LIMIT`.

    Returns
    -------
    FinForce
        Slope [1/rad] on pi d^2/4, and centre of pressure [m] behind the root's leading edge.

    Notes
    -----
    Equation: C_Na = K 4 N (s/d)^2 / (1 + sqrt(1 + (b l s/A)^2)), K = 1 + f R/(s + R), l the length
    of the mid-chord line from root to tip, b = sqrt(1 - M^2), f = 1 for 3 or 4 fins and 0.5 for 6;
    x_cp is a quarter of the mean aerodynamic chord behind its leading edge. On other than straight
    edges the mid-chord line is that of the straight-edged fin nearest to them.

    Validity: small angles, thin flat fins, subsonic; the fins' own drag is not in it.

    References
    ----------
    J. S. Barrowman, The Practical Calculation of the Aerodynamic Characteristics of Slender Finned
    Vehicles, M.S. thesis, Catholic University of America (1967), and J. S. and J. A. Barrowman, The
    Theoretical Prediction of the Center of Pressure (1966); F. W. Diederich, NACA TN 2335 (1951).
    Equations from memory; the factor for 6 fins unverified.

    Examples
    --------
    >>> from calc.geometry.planform import Planform
    >>> fin = Planform(root=0.09, tip=0.05, span=0.06, sweep=0.04)
    >>> set3 = fin_normal_force(count=3, planform=fin, diameter=0.05)
    >>> round(set3.slope, 4), round(set3.centre, 6)
    (9.5252, 0.036071)
    """
    require_positive(diameter=diameter)
    if count not in _INTERFERENCE:
        raise InputError("count", count, "3, 4 or 6 fins")
    if not 0.0 <= mach < SUBSONIC_LIMIT:
        raise ValidityError(
            f"Fin lift by the slender-body method is for Mach numbers below {SUBSONIC_LIMIT:g}."
        )
    frame, span = planform.frame, planform.span
    middle = math.hypot(span, frame.sweep + 0.5 * frame.tip - 0.5 * frame.root)
    beta = math.sqrt(1.0 - mach**2)
    # beta AR / (2 cos(mid-chord sweep)), with AR = 2 s^2 / A of both sides and cos = s / middle.
    term = beta * middle * span / planform.area
    alone = 4.0 * count * (span / diameter) ** 2 / (1.0 + math.sqrt(1.0 + term**2))
    radius = 0.5 * diameter
    factor = 1.0 + _INTERFERENCE[count] * radius / (span + radius)
    centre = planform.mean_chord_x + 0.25 * planform.mean_chord
    return FinForce(factor * alone, alone, factor, centre)


def nose_normal_force(*, length: float, shape: NoseShape = "ogive") -> tuple[float, float]:
    """Return the normal-force slope and centre of pressure of a nose cone.

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

    Notes
    -----
    Equation: C_Na = 2 per rad on the base area; x_cp = L - V / A_base.

    Validity: slender pointed body at a small angle of attack.

    References
    ----------
    Slender-body theory (M. M. Munk, NACA TR 184, 1924), as used by Barrowman (1967).

    Examples
    --------
    >>> nose_normal_force(length=0.1, shape="parabola")
    (2.0, 0.05)
    """
    require_positive(nose_length=length)
    if shape not in NOSE_CENTRE:
        raise InputError("nose_shape", shape, f"one of {', '.join(NOSE_CENTRE)}")
    return 2.0, NOSE_CENTRE[shape] * length


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
    planform: Outline,
    fin_position: float | None = None,
    fin_centre: float | None = None,
    extra_mass: float = 0.0,
    extra_position: float = 0.0,
    mach: float = 0.0,
) -> Balance:
    """Compute the balance point of a rocket with its fins and its static margin in calibers.

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
    count, planform
        Fin set as in `fin_normal_force`.
    fin_position
        Root's leading edge behind the nose tip [m]; default: the root ends at the tail.
    fin_centre
        Where a fin's mass lies behind its root's front [m]; default: at the outline's centroid.
    extra_mass, extra_position
        Ballast or glue [kg] and where [m].
    mach
        Mach number, below `SUBSONIC_LIMIT`.

    Returns
    -------
    Balance
        Balance point, its shift by the fins, centre of pressure, static margin.

    Notes
    -----
    Equation: x_cg = sum(m_i x_i) / sum(m_i); x_cp = sum(C_i x_i) / sum(C_i) over nose and fins;
    margin = (x_cp - x_cg) / d.

    Validity: slender rocket of one diameter, small angle of attack; the body's own lift is left
    out, which is right for small angles and too good for a long body in a strong side wind.

    References
    ----------
    Statics; Barrowman (1967) as in `fin_normal_force`.

    Examples
    --------
    >>> from calc.geometry.planform import Planform
    >>> b = balance(nose_length=0.1, nose_shape="ogive", body_length=0.4, diameter=0.05,
    ...             bare_mass=0.15, bare_centre_of_gravity=0.3, fin_mass=0.004, count=3,
    ...             planform=Planform(root=0.09, tip=0.05, span=0.06, sweep=0.04))
    >>> round(b.margin, 2)
    1.29
    """
    require_positive(
        nose_length=nose_length, body_length=body_length, diameter=diameter, mass=bare_mass
    )
    if not (math.isfinite(fin_mass) and fin_mass >= 0.0):
        raise InputError("fin_mass", fin_mass, "a mass of zero or more")
    length = nose_length + body_length
    if not 0.0 < bare_centre_of_gravity < length:
        raise InputError(
            "balance_point", bare_centre_of_gravity, f"a length between 0 and {length:.3g} m"
        )
    position = length - planform.root if fin_position is None else fin_position
    fins = fin_normal_force(count=count, planform=planform, diameter=diameter, mach=mach)
    fin_x = position + (planform.centroid[0] if fin_centre is None else fin_centre)
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
    """Compute the nose ballast that brings the static margin to a given value.

    Parameters
    ----------
    rocket
        Balance of the rocket as it is.
    position
        Where the mass goes, from the tip [m].
    margin
        Required static margin [calibers].
    diameter
        Body diameter [m].

    Returns
    -------
    float
        Ballast [kg].

    Notes
    -----
    Equation: x_required = x_cp - margin d; m = M (x_cg - x_required) / (x_required - x_m), 0 if the
    margin is there already.

    Validity: as `balance`; `position` must lie ahead of the required balance point.

    References
    ----------
    Statics.
    """
    required = rocket.centre_of_pressure - margin * diameter
    need = rocket.mass * (rocket.centre_of_gravity - required)
    if need <= 0.0:
        return 0.0
    if position >= required:
        raise InputError(
            "position", position, f"a place ahead of {required:.3g} m, the required balance point"
        )
    return need / (required - position)


@dataclass(frozen=True)
class HeightEffect:
    """Effect of added mass on the flight; arrays have the shape of `added_mass`.

    Parameters
    ----------
    added_mass
        Mass added to the rocket [kg].
    peak, speed
        Height above the pad [m] and greatest speed [m/s] with it.
    lost_per_mass
        Height lost per added mass at no added mass [m/kg]; times 0.001 it is metres per gram.
        Negative when the rocket is so light that drag stops it early: more mass then adds height.
    """

    added_mass: Array
    peak: Array
    speed: Array
    lost_per_mass: float


def height_effect(*, launch: Launch, added_mass: ArrayLike = 0.0) -> HeightEffect:
    """Compute the peak with mass added, and the height lost per mass.

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

    Notes
    -----
    Equation: -dh/dm by central difference of `calc.flight.ascent.ascent` with 1 % of the mass.

    Validity: as `calc.flight.ascent.ascent`; the drag coefficient stays the same.

    References
    ----------
    Newton's second law, integrated.
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
        np.reshape([flight.max_speed.speed for flight in flights], added.shape),
        (low - high) / (2.0 * step),
    )
