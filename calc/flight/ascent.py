"""Vertical ascent of a rocket: speed, height and air at every moment."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.air import atmosphere
from calc.errors import InputError, ValidityError
from calc.numerics.integration import Solution, integrate
from calc.units import STANDARD_GRAVITY

Array = NDArray[np.float64]

WAVE_DRAG_FADE = (0.9, 1.2)
"""Mach numbers between which wave drag is faded in: a convention, not a theory."""
_TABLE_STEP = 50.0
_TABLE_TOP = 30_000.0
_LONGEST_COAST = 600.0


@dataclass(frozen=True, kw_only=True)
class DragByMach:
    """Drag coefficient of a finned body that rises through the speed of sound.

    Parameters
    ----------
    low_speed
        Drag coefficient well below the speed of sound, on the body's frontal area [-].
    nose_fineness
        Length of the nose over the body diameter [-], 0.5 or more.

    Notes
    -----
    Equation: C_d(M) = low_speed + [base(M) - 0.12] + wave(M), with base = 0.12 + 0.13 M^2 up to M =
    1 and 0.25 / M above (coasting body), and wave = (1.59 + 1.83 / M^2) (atan(0.5 /
    nose_fineness))^1.69 above M = 1.2, faded in by x^2 (3 - 2 x), x = (M - 0.9) / 0.3, between Mach
    0.9 and 1.2.

    Validity: Mach 0 to 5. Between 0.9 and 1.2 the fade is a convention, not a theory. Fin wave
    drag, the fall of friction with Mach and the smaller base drag under thrust are left out; at and
    above Mach 1 the rocket comes out somewhat too fast, which is the safe side for flutter.

    References
    ----------
    E. L. Fleeman, Tactical Missile Design, AIAA (2001), body base and wave drag, the wave term
    after M. C. Bonney, Engineering Supersonic Aerodynamics (1950); from memory, unverified; the
    wave term agrees with the exact cone flow (Taylor and Maccoll 1933) in the tests.

    Examples
    --------
    >>> drag = DragByMach(low_speed=0.5, nose_fineness=3.0)
    >>> [round(float(drag(m)), 3) for m in (0.0, 0.8, 1.2, 2.0)]
    [0.5, 0.583, 0.725, 0.603]
    """

    low_speed: float
    nose_fineness: float = 3.0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.low_speed) and self.low_speed >= 0.0):
            raise InputError("drag", self.low_speed, "a drag coefficient of zero or more")
        if not self.nose_fineness >= 0.5:
            raise InputError("nose_fineness", self.nose_fineness, "0.5 or more")

    def __call__(self, mach: float) -> float:
        """Return the drag coefficient at one Mach number."""
        base = 0.12 + 0.13 * mach * mach if mach <= 1.0 else 0.25 / mach
        start, end = WAVE_DRAG_FADE
        fade = min(max((mach - start) / (end - start), 0.0), 1.0)
        fade *= fade * (3.0 - 2.0 * fade)
        return (
            self.low_speed
            + (base - 0.12)
            + fade * wave_drag(mach=max(mach, end), nose_fineness=self.nose_fineness)
        )


def wave_drag(*, mach: float, nose_fineness: float) -> float:
    """Return the supersonic wave drag coefficient of a pointed nose on its base area.

    Parameters
    ----------
    mach
        Mach number M, above about 1.2.
    nose_fineness
        Nose length over base diameter f [-].

    Returns
    -------
    float
        Wave drag coefficient [-].

    Notes
    -----
    Equation: C_d = (1.59 + 1.83 / M^2) (atan(0.5 / f))^1.69.

    References
    ----------
    As `DragByMach`.

    Examples
    --------
    >>> round(wave_drag(mach=2.0, nose_fineness=2.836), 3)
    0.107
    """
    angle = math.atan(0.5 / nose_fineness)
    return float((1.59 + 1.83 / mach**2) * angle**1.69)


@dataclass(frozen=True, kw_only=True)
class Launch:
    """A rocket on its pad: mass, motor, drag and launch site.

    Parameters
    ----------
    mass
        Mass at lift-off, propellant included [kg].
    propellant_mass
        Propellant burnt [kg]; it leaves in proportion to the thrust.
    diameter
        Body diameter that the drag coefficient refers to [m].
    drag
        Drag coefficient on the body's frontal area: a number, or a function of Mach number such
        as `DragByMach`.
    thrust, burn_time
        Constant average thrust [N] and how long it lasts [s]; or
    thrust_curve
        Points (time [s], thrust [N]) joined by straight lines, times rising from 0 or later.
    site
        Elevation of the site above sea level [m].
    temperature_offset
        How much warmer than the standard atmosphere the day is [K]; `calc.air.atmosphere.site`
        turns a temperature read at the site into it.
    """

    mass: float
    propellant_mass: float
    diameter: float
    drag: float | Callable[[float], float] = 0.5
    thrust: float | None = None
    burn_time: float | None = None
    thrust_curve: tuple[tuple[float, float], ...] | None = None
    site: float = 0.0
    temperature_offset: float = 0.0

    def __post_init__(self) -> None:
        for name in ("mass", "diameter"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise InputError(name, value, "a value above zero")
        if not 0.0 <= self.propellant_mass < self.mass:
            raise InputError(
                "propellant_mass", self.propellant_mass, "zero or more, below the lift-off mass"
            )
        if not callable(self.drag) and not (math.isfinite(self.drag) and self.drag >= 0.0):
            raise InputError("drag", self.drag, "a drag coefficient of zero or more")
        if self.thrust_curve is None:
            for name in ("thrust", "burn_time"):
                value = getattr(self, name)
                if value is None or not (math.isfinite(value) and value > 0.0):
                    raise InputError(name, value, "a value above zero, or a thrust curve")
        else:
            times = [t for t, _ in self.thrust_curve]
            rising = all(a < b for a, b in pairwise(times))
            strong = all(math.isfinite(f) and f >= 0.0 for _, f in self.thrust_curve)
            if len(times) < 2 or not rising or times[0] < 0.0 or not strong:
                raise InputError(
                    "thrust_curve",
                    self.thrust_curve,
                    "two or more points with rising times from 0 and thrusts of zero or more",
                )
            if self.total_impulse <= 0.0:
                raise InputError("thrust_curve", self.thrust_curve, "some thrust above zero")

    def stronger(self, factor: float) -> Launch:
        """Return the same launch with its thrust multiplied by a factor at every moment."""
        curve = self.thrust_curve
        return replace(
            self,
            thrust=None if self.thrust is None else factor * self.thrust,
            thrust_curve=None if curve is None else tuple((t, factor * f) for t, f in curve),
        )

    @property
    def points(self) -> tuple[tuple[float, float], ...]:
        """Return the thrust as points (time [s], thrust [N]) from ignition to burnout."""
        if self.thrust_curve is None:
            average, lasting = self.thrust, self.burn_time
            assert average is not None
            assert lasting is not None
            return ((0.0, average), (lasting, average))
        if self.thrust_curve[0][0] > 0.0:
            return ((0.0, 0.0), *self.thrust_curve)
        return self.thrust_curve

    @property
    def total_impulse(self) -> float:
        """Return the thrust integrated over the burn [N s]."""
        t, f = np.array(self.points).T
        return float(0.5 * (f[1:] + f[:-1]) @ np.diff(t))


@dataclass(frozen=True)
class Moment:
    """One moment of the ascent, all in SI units."""

    time: float
    height: float
    altitude: float
    speed: float
    acceleration: float
    mach: float
    density: float
    sound_speed: float
    dynamic_pressure: float
    mass: float


@dataclass(frozen=True)
class Ascent:
    """The flight from ignition to peak; every array has shape (n_moment,).

    Parameters
    ----------
    times
        Time since ignition [s].
    height, altitude
        Height above the pad and altitude above sea level [m].
    speed, acceleration
        Upward [m/s], [m/s2].
    mach, density, sound_speed, dynamic_pressure
        Of the air that meets the rocket [-], [kg/m3], [m/s], [Pa].
    mass, thrust, drag
        Mass of the rocket [kg], thrust [N], drag [N].
    max_speed, max_q, burnout, peak
        The moments of greatest speed, of greatest dynamic pressure, of burnout and of the peak.
    liftoff_time
        When thrust first exceeds weight [s].
    """

    times: Array
    height: Array
    altitude: Array
    speed: Array
    acceleration: Array
    mach: Array
    density: Array
    sound_speed: Array
    dynamic_pressure: Array
    mass: Array
    thrust: Array
    drag: Array
    max_speed: Moment
    max_q: Moment
    burnout: Moment
    peak: Moment
    liftoff_time: float
    _launch: Launch
    _pieces: tuple[Solution, ...]

    def at(self, time: float) -> Moment:
        """Return any moment between ignition and peak, from the dense output."""
        return self.moments([time])[0]

    def moments(self, times: ArrayLike) -> tuple[Moment, ...]:
        """Return several moments, as `at`."""
        wanted = np.clip(np.asarray(times, float), 0.0, float(self.times[-1]))
        history = _history(self._launch, self._pieces, wanted)
        return tuple(_moment(history, index) for index in range(wanted.size))

    def reached(self, name: str, value: float) -> tuple[float, float] | None:
        """Return when a quantity ("speed", "mach") first reaches a value and last leaves it [s].

        From straight lines between the samples; None where it never gets there.
        """
        history = getattr(self, name)
        above = np.flatnonzero(history >= value)
        if not above.size:
            return None
        first, last = int(above[0]), int(above[-1])

        def between(low: int, high: int) -> float:
            part = (value - history[low]) / (history[high] - history[low])
            return float(self.times[low] + part * (self.times[high] - self.times[low]))

        return (
            between(first - 1, first) if first else float(self.times[0]),
            between(last + 1, last) if last + 1 < history.size else float(self.times[-1]),
        )


def ascent(launch: Launch, *, tolerance: float = 1e-6) -> Ascent:
    """Compute a vertical ascent from ignition to peak.

    Parameters
    ----------
    launch
        The rocket, its motor and its site.
    tolerance
        Allowed relative error of each integration step [-].

    Returns
    -------
    Ascent
        Arrays along the flight and its main moments.

    Notes
    -----
    Equation: m dv/dt = F - m g - 0.5 rho(h) v^2 C_d(M) A, dh/dt = v, and m(t) = m_0 - m_p I(t) /
    I(end), I the thrust integrated so far. Until thrust exceeds weight the rocket stands on its
    pad.

    Validity: vertical, no wind, no launch rod friction, constant g; peak within 30 km of the pad. A
    slanted flight is a little slower: the vertical one is the safe side for fins.

    References
    ----------
    Newton's second law; standard atmosphere of `calc.air.atmosphere`; integration by
    `calc.numerics.integration`.

    Examples
    --------
    >>> up = ascent(Launch(mass=0.150, propellant_mass=0.012, diameter=0.025, drag=0.6,
    ...                    thrust=10.0, burn_time=1.0))
    >>> round(up.max_speed.speed, 1), round(up.peak.height)
    (58.2, 172)
    """
    points = launch.points
    liftoff = _liftoff(launch)
    marks = np.array([liftoff, *(t for t, _ in points if t > liftoff + 1e-12)])
    thrusts, masses = _thrust_and_mass(launch, marks)
    slopes = np.diff(thrusts) / np.diff(marks)
    final = launch.mass - launch.propellant_mass
    spans = [
        *zip(marks[:-1], marks[1:], thrusts[:-1], slopes, masses[:-1], strict=True),
        (marks[-1], marks[-1] + _LONGEST_COAST, 0.0, 0.0, final),
    ]
    pieces: list[Solution] = []
    state = np.zeros(2)
    for begin, end, thrust, slope, mass in spans:
        piece = integrate(
            _rates(
                launch,
                begin=float(begin),
                thrust=float(thrust),
                slope=float(slope),
                mass=float(mass),
            ),
            state,
            begin=float(begin),
            end=float(end),
            relative=tolerance,
            absolute=np.array([1e-4, 1e-4]),
            event=lambda t, y: float(y[1]),
        )
        pieces.append(piece)
        state = piece.end
        if piece.stopped:
            return _collect(launch, tuple(pieces), liftoff)
    raise ValidityError(
        f"The rocket still climbs {_LONGEST_COAST / 60:.0f} minutes after burnout: "
        "outside this model."
    )


@lru_cache(maxsize=16)
def _air_table(site: float, offset: float) -> tuple[list[float], list[float]]:
    """Return the logarithm of density and the speed of sound every 50 m above the pad.

    The table makes a step of the integration cheap; linear steps in the logarithm of density
    are within 1e-5 of the atmosphere itself.
    """
    air = atmosphere.at(
        site + np.arange(0.0, _TABLE_TOP + 2 * _TABLE_STEP, _TABLE_STEP),
        temperature_offset=offset,
    )
    return np.log(air.density).tolist(), np.asarray(air.sound_speed, float).tolist()


def _rates(
    launch: Launch, *, begin: float, thrust: float, slope: float, mass: float
) -> Callable[[float, Array], Array]:
    """Return the right-hand side over a piece of the flight on which thrust is linear in time.

    In plain floats: for two unknowns that is several times faster than arrays.
    """
    logs, sounds = _air_table(launch.site, launch.temperature_offset)
    burn_rate = launch.propellant_mass / launch.total_impulse
    area = 0.25 * math.pi * launch.diameter**2
    drag = launch.drag

    def rates(time: float, y: Array) -> Array:
        height, speed = float(y[0]), float(y[1])
        if height > _TABLE_TOP:
            raise ValidityError(
                f"The rocket passes {_TABLE_TOP / 1e3:.0f} km above its pad: outside this model."
            )
        part = time - begin
        force = thrust + slope * part
        now = mass - burn_rate * part * (thrust + 0.5 * slope * part)
        place = max(height, 0.0) / _TABLE_STEP
        cell = int(place)
        part = place - cell
        density = math.exp(logs[cell] + part * (logs[cell + 1] - logs[cell]))
        sound = sounds[cell] + part * (sounds[cell + 1] - sounds[cell])
        coefficient = drag(abs(speed) / sound) if callable(drag) else drag
        force -= 0.5 * density * speed * abs(speed) * coefficient * area
        return np.array([speed, force / now - STANDARD_GRAVITY])

    return rates


def _thrust_and_mass(launch: Launch, times: Array) -> tuple[Array, Array]:
    """Return thrust [N] and mass [kg] at `times`; the burnout moment itself still burns."""
    t, f = np.array(launch.points).T
    gained = np.concatenate([[0.0], np.cumsum(0.5 * (f[1:] + f[:-1]) * np.diff(t))])
    i = np.clip(np.searchsorted(t, times, side="right") - 1, 0, len(t) - 2)
    part = np.clip(times - t[i], 0.0, t[i + 1] - t[i])
    slope = (f[i + 1] - f[i]) / (t[i + 1] - t[i])
    impulse = gained[i] + part * (f[i] + 0.5 * slope * part)
    thrust = np.where(times > t[-1], 0.0, f[i] + slope * part)
    return thrust, launch.mass - launch.propellant_mass * impulse / gained[-1]


def _liftoff(launch: Launch) -> float:
    """Return when thrust first exceeds weight [s]."""
    t = np.array([time for time, _ in launch.points])
    fine = np.unique(np.concatenate([t, np.linspace(t[0], t[-1], 501)]))

    def excess(times: Array) -> Array:
        thrust, mass = _thrust_and_mass(launch, times)
        return np.asarray(thrust - mass * STANDARD_GRAVITY)

    up = np.flatnonzero(excess(fine) > 0.0)
    if up.size == 0:
        raise InputError(
            "thrust",
            float(max(force for _, force in launch.points)),
            f"more than the rocket's weight, {launch.mass * STANDARD_GRAVITY:.3g} N",
        )
    first = int(up[0])
    if first == 0:
        return float(fine[0])
    low, high = float(fine[first - 1]), float(fine[first])
    for _ in range(50):
        middle = 0.5 * (low + high)
        if excess(np.array([middle]))[0] > 0.0:
            high = middle
        else:
            low = middle
    return high


def _history(launch: Launch, pieces: tuple[Solution, ...], times: Array) -> dict[str, Array]:
    """Return every quantity of the flight at `times`, by name, each of the shape of `times`."""
    starts = np.array([piece.knots[0] for piece in pieces])
    owner = np.searchsorted(starts, times, side="right") - 1
    states = np.zeros((times.size, 2))
    for index, piece in enumerate(pieces):
        mine = owner == index
        if mine.any():
            states[mine] = piece(times[mine])
    height, speed = np.maximum(states, 0.0).T
    thrust, mass = _thrust_and_mass(launch, times)
    air = atmosphere.at(launch.site + height, temperature_offset=launch.temperature_offset)
    density, sound = np.asarray(air.density, float), np.asarray(air.sound_speed, float)
    mach = speed / sound
    pressure = 0.5 * density * speed**2
    if callable(launch.drag):
        coefficient = np.array([launch.drag(float(m)) for m in mach])
    else:
        coefficient = np.full_like(mach, launch.drag)
    drag = pressure * coefficient * 0.25 * math.pi * launch.diameter**2
    acceleration = np.where(owner < 0, 0.0, (thrust - drag) / mass - STANDARD_GRAVITY)
    return {
        "times": times,
        "height": height,
        "altitude": launch.site + height,
        "speed": speed,
        "acceleration": acceleration,
        "mach": mach,
        "density": density,
        "sound_speed": sound,
        "dynamic_pressure": pressure,
        "mass": mass,
        "thrust": thrust,
        "drag": drag,
    }


def _moment(history: dict[str, Array], index: int) -> Moment:
    names = set(Moment.__dataclass_fields__) - {"time"}
    return Moment(
        time=float(history["times"][index]),
        **{name: float(history[name][index]) for name in names},
    )


def _collect(launch: Launch, pieces: tuple[Solution, ...], liftoff: float) -> Ascent:
    """Sample the flight four times per integration step and refine its main moments."""
    knots = np.unique(np.concatenate([piece.knots for piece in pieces]))
    inner = knots[:-1, None] + np.diff(knots)[:, None] * np.linspace(0.0, 1.0, 5)[:4]
    # The peak of a flight that ends before burnout lies before the last thrust point.
    burnt = min(launch.points[-1][0], float(knots[-1]))
    times = np.unique(np.concatenate([[0.0], inner.ravel(), [burnt, knots[-1]]]))
    history = _history(launch, pieces, times)

    def greatest(name: str) -> Moment:
        peak = int(np.argmax(history[name]))
        near = np.linspace(times[max(peak - 1, 0)], times[min(peak + 1, times.size - 1)], 81)
        # The fine grid includes the peak itself, so a kink at burnout is not missed.
        near = np.unique(np.append(near, times[peak]))
        close = _history(launch, pieces, near)
        return _moment(close, int(np.argmax(close[name])))

    return Ascent(
        **history,
        max_speed=greatest("speed"),
        max_q=greatest("dynamic_pressure"),
        burnout=_moment(_history(launch, pieces, np.array([burnt])), 0),
        peak=_moment(history, -1),
        liftoff_time=liftoff,
        _launch=launch,
        _pieces=pieces,
    )


@dataclass(frozen=True)
class ClosedForm:
    """Speeds [m/s], heights [m] and times [s] of the closed-form ascent."""

    burnout_speed: float
    burnout_height: float
    coast_height: float
    coast_time: float
    peak: float
    peak_time: float


def closed_form(
    *,
    mass: float,
    propellant_mass: float,
    thrust: float,
    burn_time: float,
    drag_coefficient: float,
    diameter: float,
    density: float = 1.225,
    gravity: float = STANDARD_GRAVITY,
) -> ClosedForm:
    """Return the vertical ascent for constant thrust, constant mass per phase and even air.

    Parameters
    ----------
    mass, propellant_mass
        Lift-off mass m_0 and propellant mass m_p [kg].
    thrust, burn_time
        Average thrust F [N] and burn time t_b [s].
    drag_coefficient, diameter
        C_d [-] on the frontal area A of the body diameter [m].
    density, gravity
        Air density rho [kg/m3] and g [m/s2].

    Returns
    -------
    ClosedForm
        Burnout speed and height, coast, peak.

    Notes
    -----
    Equation: k = rho C_d A / 2, m_b = m_0 - m_p / 2, m_c = m_0 - m_p; x = t_b sqrt(k (F - m_b g)) /
    m_b, v_b = sqrt((F - m_b g) / k) tanh x, h_b = (m_b / k) ln cosh x, h_c = (m_c / 2k) ln(1 + k
    v_b^2 / (m_c g)), t_c = sqrt(m_c / (k g)) atan(v_b sqrt(k / (m_c g))).

    Validity: thrust above m_b g, drag above zero, subsonic, flights low enough for even air.

    References
    ----------
    The Fehskens-Malewicki solution (1960s, model rocketry literature), from memory; it follows from
    Newton's law by integration and is checked numerically in the tests.

    Examples
    --------
    >>> a = closed_form(mass=0.150, propellant_mass=0.012, thrust=10.0, burn_time=1.0,
    ...                 drag_coefficient=0.6, diameter=0.025)
    >>> round(a.burnout_speed, 3), round(a.peak, 3)
    (58.196, 171.957)
    """
    k = 0.125 * density * drag_coefficient * math.pi * diameter**2
    boost = mass - 0.5 * propellant_mass
    coast = mass - propellant_mass
    net = thrust - boost * gravity
    if net <= 0.0:
        raise InputError("thrust", thrust, f"more than the weight, {boost * gravity:.3g} N")
    if not k > 0.0:
        raise InputError("drag", drag_coefficient, "a drag coefficient above zero")
    x = burn_time * math.sqrt(k * net) / boost
    speed = math.sqrt(net / k) * math.tanh(x)
    # ln cosh x written so that a long burn cannot overflow.
    height = boost / k * (x + math.log1p(math.exp(-2.0 * x)) - math.log(2.0))
    climb = coast / (2.0 * k) * math.log1p(k * speed**2 / (coast * gravity))
    time = math.sqrt(coast / (k * gravity)) * math.atan(speed * math.sqrt(k / (coast * gravity)))
    return ClosedForm(speed, height, climb, time, height + climb, burn_time + time)
