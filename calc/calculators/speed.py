"""How fast will the rocket go, how high, and through what air on the way."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Unpack, cast

import numpy as np
from numpy.typing import NDArray

from calc.calculators import shared as c
from calc.errors import InputError
from calc.flight import ascent, motor
from calc.flight.rod import ROD_SPEED, rod_needed, rod_speed
from calc.forms import Calculator, Input
from calc.numerics import sampling
from calc.report import CAUTION, Answer, Change, Column, Figure, Report, Step, Table
from calc.units import STANDARD_GRAVITY, show, typed

Real = NDArray[np.float64]

SCATTER = {"drag": 0.15, "impulse": 0.05}
"""Coefficients of variation of the drag coefficient (of a guess from pictures and finish) and of
a motor's total impulse: common practice, from memory, unverified."""
STEP = 1.1
"""Factor by which each is moved to find what it does."""
IMPULSE_TOLERANCE = 0.1
"""Share by which thrust times burn time may differ from the total impulse."""
FIN_CHECK = "../../check/fin-check/"

BURN_TIME = Input(
    "burn_time",
    "Burn time",
    "time",
    "",
    help="Leave empty for impulse divided by thrust. If you give it, the impulse may stay empty.",
    group=c.FLIGHT,
    unit="s",
    low=0.02,
    high=60.0,
    optional=True,
)
ROD = Input(
    "rod",
    "Launch rod or rail",
    "length",
    "48 in",
    help="How far the rocket is guided.",
    group="More about the flight",
    unit="in",
    low=0.1,
    high=10.0,
)


class SpeedValues(c.MotorValues, c.SiteValues, c.UnitsValues):
    """Values of this calculator."""

    burn_time: float | None
    body: float
    propellant: float | None
    rod: float


class Resolved(c.SiteValues, c.UnitsValues):
    """The same with one impulse."""

    motor: str
    thrust: float
    impulse: float
    mass: float
    drag: float
    curve: tuple[tuple[float, float], ...] | None
    burn_time: float | None
    body: float
    propellant: float | None
    rod: float


def _resolved(values: SpeedValues) -> Resolved:
    """Return the inputs with one impulse and one thrust that agree with the burn time."""
    out = cast(Resolved, dict(c.with_curve(values)))
    burn = values["burn_time"]
    if values["curve"] is not None:
        return out
    if burn is None:
        out["impulse"] = values["impulse"] or motor.class_limits(values["motor"])[1]
        return out
    impulse = values["impulse"]
    if impulse is None:
        out["impulse"] = values["thrust"] * burn
    elif abs(values["thrust"] * burn / impulse - 1.0) > IMPULSE_TOLERANCE:
        raise InputError(
            "burn_time",
            f"{burn:.3g} s",
            f"about {impulse / values['thrust']:.3g} s, which is impulse over thrust, or leave it "
            "empty",
        )
    else:
        out["thrust"] = impulse / burn
    return out


def _spread(launch: ascent.Launch, names: tuple[str, ...], up: ascent.Ascent) -> Real:
    """Return ``(2, n)`` 10 and 90 % points of the named results."""
    drag = launch.drag
    assert isinstance(drag, ascent.DragByMach)
    assert launch.thrust is not None
    moved = (
        replace(launch, drag=replace(drag, low_speed=drag.low_speed * STEP)),
        launch.stronger(STEP),
    )
    centre = np.array([_value(up, name) for name in names])
    others = np.array([[_value(u, n) for n in names] for u in map(ascent.ascent, moved)])
    slopes = np.log(others / centre).T / math.log(STEP)
    samples = sampling.sampled(
        centre, slopes, np.array([SCATTER["drag"], SCATTER["impulse"]]), np.zeros(len(names))
    )
    return np.array(sampling.interval(samples))


def _value(up: ascent.Ascent, name: str) -> float:
    moment, quantity = name.split(".")
    return float(getattr(getattr(up, moment), quantity))


def answer(**values: Unpack[SpeedValues]) -> Report:
    """Answer for SI values by input name."""
    given = _resolved(values)
    launch = c.launch_of(given)
    up = ascent.ascent(launch)
    names = ("max_speed.speed", "max_q.dynamic_pressure", "peak.height", "max_speed.mach")
    low, high = _spread(launch, names, up)
    fast, hard, top = up.max_speed, up.max_q, up.peak
    rod = rod_speed(up, launch, length=values["rod"])
    pull = float(np.max(up.acceleration)) / STANDARD_GRAVITY
    letter = motor.motor_class(given["impulse"])
    return Report(
        calculator="speed",
        summary=f"Fastest {show(fast.speed, 'speed', 'mph')} ({fast.speed:.0f} m/s, Mach "
        f"{fast.mach:.2f}) after {fast.time:.2f} s; highest {show(top.height, 'altitude', 'ft')} "
        f"({top.height:.0f} m).{_slow(rod, c.formatter(values))}",
        answers=(
            Answer("top_speed", "Top speed", fast.speed, "speed", float(low[0]), float(high[0])),
            Answer("peak", "Highest point above the pad", top.height, "altitude",
                   float(low[2]), float(high[2])),
            Answer("top_time", "Time of top speed", fast.time, "time"),
            Answer("dynamic_pressure", "Largest dynamic pressure", hard.dynamic_pressure,
                   "pressure", float(low[1]), float(high[1])),
            Answer("mach", "Mach number at top speed", fast.mach, "number",
                   float(low[3]), float(high[3])),
            Answer("top_height", "Height at top speed", fast.height, "altitude"),
            Answer("peak_time", "Time to the highest point", top.time, "time"),
            Answer("rod_speed", "Speed at the end of the rod", rod, "speed",
                   note="" if rod >= ROD_SPEED else
                   f"below {c.formatter(values)(ROD_SPEED, 'speed', 2)}, which is "
                   "by common practice the least that fins need to steer"),
            *_needed(up, launch, c.formatter(values)),
            Answer("acceleration", "Largest acceleration, in g", pull, "number"),
            Answer("burn_time", "Burn time", given["impulse"] / given["thrust"], "time"),
            Answer("impulse", f"Total impulse (class {letter})", given["impulse"], "impulse"),
            Answer("propellant", "Propellant burnt", launch.propellant_mass, "mass"),
        ),
        headline=("top_speed", "peak", "top_time", "dynamic_pressure"),
        changes=_changes(launch, up, given),
        figures=_charts(up),
        tables=(_moments(up, values),),
        steps=_steps(launch, up, given, rod, values["rod"]),
        cautions=(*filter(None, (_slow(rod, c.formatter(values)).strip(),)), CAUTION),
        notes=_notes(up, given, letter, values),
        sources=("common-practice",),
    )  # fmt: skip


def _needed(up: ascent.Ascent, launch: ascent.Launch, fmt: c.Formatter) -> tuple[Answer, ...]:
    length = rod_needed(up, launch)
    if length is None:
        return ()
    label = f"Rod or rail that it leaves at {fmt(ROD_SPEED, 'speed', 2)}"
    return (Answer("rod_needed", label, length, "length"),)


def _slow(rod: float, fmt: c.Formatter) -> str:
    """Return the warning that belongs to a speed at the rod's end, or "" where there is none."""
    if rod >= ROD_SPEED:
        return ""
    return (
        f" Warning: it leaves its rod at {fmt(rod, 'speed', 2)}, below the "
        f"{fmt(ROD_SPEED, 'speed', 2)} that fins need to steer."
    )


def _longer_rod(up: ascent.Ascent, launch: ascent.Launch, given: Resolved) -> Change | None:
    """Return the rod that this rocket leaves fast enough, where one as long exists."""
    length = rod_needed(up, launch)
    if length is None or rod_speed(up, launch, length=given["rod"]) >= ROD_SPEED:
        return None
    length = 0.05 * math.ceil(length / 0.05 - 1e-9)
    if ROD.high is not None and length > ROD.high:
        return None
    fmt = c.formatter(given)
    return Change(
        f"A rod or rail of {fmt(length, 'altitude', 2)}",
        f"it leaves at {fmt(rod_speed(up, launch, length=length), 'speed', 2)}",
        inputs={"rod": f"{length:.2f} m"},
    )


def _changes(launch: ascent.Launch, up: ascent.Ascent, given: Resolved) -> tuple[Change, ...]:
    def effect(other: ascent.Launch) -> str:
        new = ascent.ascent(other)
        faster = new.max_speed.speed / up.max_speed.speed - 1.0
        higher = new.peak.height / up.peak.height - 1.0
        return f"top speed {faster:+.1%}, highest point {higher:+.1%}".replace("-", "−")

    drag = launch.drag
    assert isinstance(drag, ascent.DragByMach)
    assert launch.thrust is not None
    longer = _longer_rod(up, launch, given)
    out = [longer] if longer is not None else []
    heavy = replace(launch, mass=1.1 * launch.mass)
    if heavy.mass < 100.0 and launch.thrust > 1.05 * heavy.mass * STANDARD_GRAVITY:
        out.append(
            Change(
                "A tenth heavier",
                effect(heavy),
                inputs={"mass": f"{typed(heavy.mass, 'mass', 'g')} g"},
            )
        )
    smooth = round(0.8 * drag.low_speed, 3)
    if smooth >= 0.05:
        out.append(
            Change(
                f"Smoother: drag coefficient {smooth:g}",
                effect(replace(launch, drag=replace(drag, low_speed=smooth))),
                inputs={"drag": f"{smooth:g}"},
            )
        )
    hot = replace(launch, temperature_offset=launch.temperature_offset + 15.0)
    out.append(Change("A day 15 °C warmer, thinner air", effect(hot)))
    return tuple(out)


def _charts(up: ascent.Ascent) -> tuple[Figure, ...]:
    """Return speed, height and dynamic pressure over time to the highest point."""
    times = np.unique(
        np.concatenate(
            [np.linspace(0.0, up.times[-1], 61), [up.burnout.time, up.max_speed.time]]
        )
    )  # fmt: skip
    moments = [up.at(float(t)) for t in times]

    def one(title: str, label: str, kind: str, quantity: str, caption: str) -> Figure:
        return Figure(
            "chart",
            title,
            caption,
            {
                "x": {"label": "Time", "kind": "time"},
                "y": {"label": label, "kind": kind, "zero": True},
                "series": [
                    {
                        "name": "",
                        "x": [round(float(t), 4) for t in times],
                        "y": [float(f"{getattr(m, quantity):.5g}") for m in moments],
                    }
                ],
                "marks": [{"axis": "x", "value": up.burnout.time, "label": "motor burns out"}],
            },
        )

    return (
        one("Speed", "Speed", "speed", "speed", "From ignition to the highest point."),
        one("Height", "Height above the pad", "altitude", "height", "Straight up, no wind."),
        one(
            "Dynamic pressure",
            "Dynamic pressure",
            "pressure",
            "dynamic_pressure",
            "What bends the fins: half the air's density times speed squared.",
        ),
    )


def _moments(up: ascent.Ascent, values: SpeedValues) -> Table:
    named: dict[float, tuple[str, ascent.Moment]] = {}
    for name, moment in (
        ("largest dynamic pressure", up.max_q),
        ("fastest", up.max_speed),
        ("motor burns out", up.burnout),
    ):
        time = round(moment.time, 2)
        before = f"{named[time][0]}, " if time in named else ""
        named[time] = (before + name, moment)
    found = [(name.capitalize(), moment) for name, moment in named.values()]
    rows = tuple(
        (name, m.time, m.height, m.speed, m.mach, m.density, m.dynamic_pressure)
        for name, m in found
    )
    body = typed(values["body"], "length", "mm")
    links = tuple(
        f"{FIN_CHECK}?flight=speed&speed={m.speed:.1f}+m/s&altitude={m.height:.0f}+m"
        f"&body={body}+mm&site={values['site']:.0f}+m"
        f"&temperature={typed(values['temperature'], 'temperature', 'C')}+C"
        for _, m in found
    )
    return Table(
        "The moments that matter to a fin",
        (
            Column("moment", "Moment"),
            Column("time", "Time", "time"),
            Column("height", "Height", "altitude"),
            Column("speed", "Speed", "speed"),
            Column("mach", "Mach", "number", 2),
            Column("density", "Air density", "density"),
            Column("pressure", "Dynamic pressure", "pressure"),
        ),
        rows,
        note="Open a row to check a fin at that moment.",
        links=links,
    )


def _steps(
    launch: ascent.Launch,
    up: ascent.Ascent,
    given: Resolved,
    rod: float,
    length: float,
) -> tuple[Step, ...]:
    drag = launch.drag
    assert isinstance(drag, ascent.DragByMach)
    assert launch.thrust is not None
    assert launch.burn_time is not None
    start = up.at(0.0)
    even = drag(0.7 * up.max_speed.mach)
    hand = ascent.closed_form(
        mass=launch.mass,
        propellant_mass=launch.propellant_mass,
        thrust=launch.thrust,
        burn_time=launch.burn_time,
        drag_coefficient=even,
        diameter=launch.diameter,
        density=start.density,
    )
    low, high = motor.class_limits(motor.motor_class(given["impulse"]))
    return (
        Step(
            "The motor",
            "I = F t_b",
            f"{given['impulse']:.4g} N·s = {launch.thrust:.4g} N × {launch.burn_time:.3g} s; class "
            f"{motor.motor_class(given['impulse'])} reaches from {low:g} to {high:g} N·s",
            ("nfpa-1125",),
        ),
        Step(
            "The propellant",
            "m_p = I / (g₀ I_sp)",
            f"{launch.propellant_mass * 1e3:.3g} g burnt, leaving in proportion to the thrust",
            ("common-practice",),
            note="specific impulse about {:.0f} s for black powder (to {:.0f} N·s), about "
            "{:.0f} s for composite, unless you give the propellant".format(
                motor.middle_specific_impulse("black powder"),
                motor.BLACK_POWDER_LIMIT,
                motor.middle_specific_impulse("composite"),
            ),
        ),
        Step(
            "The air at the pad",
            "US Standard Atmosphere 1976 at the site's elevation, shifted to the day's temperature",
            f"ρ = {start.density:.3f} kg/m³, speed of sound {start.sound_speed:.1f} m/s",
            ("us-standard-atmosphere-1976",),
        ),
        Step(
            "The drag",
            "C_d(M) = C_d + base drag's growth + nose wave drag, on the tube's frontal area",
            f"{drag.low_speed:.3g} when slow, {drag(up.max_speed.mach):.3g} at Mach "
            f"{up.max_speed.mach:.2f}",
            ("fleeman-2001",),
            note="between Mach {:g} and {:g} a smooth bridge, not a theory".format(
                *ascent.WAVE_DRAG_FADE
            ),
        ),
        Step(
            "The ascent",
            "m dv/dt = F − m g − ½ ρ v² C_d A;  dh/dt = v",
            f"{up.max_speed.speed:.1f} m/s at {up.max_speed.time:.2f} s, {up.peak.height:.0f} m at "
            f"{up.peak.time:.1f} s; {rod:.1f} m/s at the end of {show(length, 'length', 'm')} "
            "of rod",
            note="adaptive Runge–Kutta integration, straight up, no wind",
        ),
        Step(
            "Check by hand: the closed form",
            "v_b = √((F − m_b g)/k) tanh(t_b √(k (F − m_b g)) / m_b),  k = ½ ρ C_d A",
            f"{hand.burnout_speed:.1f} m/s and {hand.burnout_height:.0f} m at burnout (above: "
            f"{up.burnout.speed:.1f} m/s and {up.burnout.height:.0f} m), highest "
            f"{hand.peak:.0f} m (above: {up.peak.height:.0f} m)",
            note=f"one mass while burning, one density, one drag coefficient ({even:.3g}); a large "
            "difference means height or Mach number matters",
        ),
        Step(
            "Spread",
            "log result linear in log drag and log impulse; 10 and 90 % points",
            f"scatter: drag coefficient {SCATTER['drag']:.0%}, total impulse "
            f"{SCATTER['impulse']:.0%}",
            ("common-practice",),
        ),
    )


def _notes(up: ascent.Ascent, given: Resolved, letter: str, values: SpeedValues) -> tuple[str, ...]:
    notes = [
        "Not modelled: wind, a tilted flight, rod friction, spin. A tilted flight is slower: "
        "straight up is the hard case for fins.",
    ]
    if up.max_speed.mach > ascent.WAVE_DRAG_FADE[0]:
        notes.append(
            f"Mach {up.max_speed.mach:.2f}: from Mach {ascent.WAVE_DRAG_FADE[0]:g} the drag is a "
            "convention more than a theory, and the speed comes out rather too high than too low."
        )
    if letter != values["motor"].upper():
        notes.append(
            f"The impulse flown, {given['impulse']:.3g} N·s, belongs to class {letter}, not "
            f"{values['motor']}."
        )
    if given["curve"] is None:
        family = motor.usual_propellant(given["impulse"])
        low, high = motor.PEAK_THRUST[family]
        notes.append(
            "The thrust is taken as even over the burn, which hardly changes the top speed. On "
            f"the rod it is {motor.STARTING_THRUST[family]:g} times the average, the low end of "
            f"what {family} motors start with; their peak is {low:g} to {high:g} times it (common "
            "practice). Paste the thrust curve where you have it."
        )
    return tuple(notes)


CALCULATOR = Calculator(
    slug="speed",
    title="Speed",
    question="How fast will the rocket go, and how high?",
    inputs=(
        *(i for i in c.MOTOR if i.name != "drag"),
        BURN_TIME,
        *(replace(i, group=c.FLIGHT) for i in c.OUTLINE if i.name == "body"),
        *(i for i in c.MOTOR if i.name == "drag"),
        c.PROPELLANT,
        ROD,
        *c.SITE,
    ),
    answer=answer,
)
