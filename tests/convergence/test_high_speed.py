"""Flutter, divergence and root load through Mach 1: no jump, nothing safer when faster, never late.

Random fins as in `test_first_instability`.
"""

import functools
import math
from dataclasses import dataclass, replace

import numpy as np
import pytest

from calc.air import mach_box
from calc.fin import boundaries, check, high_speed, loads, model, policy
from calc.fin.fin import Point
from calc.geometry.planform import Planform
from calc.margin import Margin
from tests.convergence.random_fins import fins
from tests.convergence.test_first_instability import LATE, divergence, hard_flutter

OUTLINES, FINS, STEPS = 40, 10, 16
STEP = 0.01
LARGEST, TWISTED = 0.05, 0.06


@dataclass(frozen=True, eq=False)
class Family:
    """Fins of one outline in one air, at speeds each 1 % above the last."""

    shape: model.Model
    found: model.Structure
    points: list[Point]
    speed_margins: list[list[tuple[Margin, Margin]]]
    """By speed, by fin: flutter and divergence."""
    moments: np.ndarray
    """``(speeds, fins)`` largest moment about the root [N m]."""


@functools.cache
def families() -> tuple[Family, ...]:
    """Return random fins on their way through a random stretch of Mach 0.6 to 2."""
    random = np.random.default_rng(20250309)
    out = []
    for number in range(OUTLINES):
        # twice as thick as in `test_first_instability`, or few would reach Mach 1
        shape, found, air = fins(random, FINS, thicker=2.0)
        sound = float(air.sound_speed)
        # most of them near Mach 1, where the air changes fastest
        start = random.uniform(0.8, 1.15) if number % 4 else random.uniform(0.6, 1.7)
        points = [
            Point(float(start * sound * math.exp(STEP * step)), air, math.radians(2.0))
            for step in range(STEPS)
        ]
        margins, moments = [], []
        for point in points:
            stable = boundaries.judged(shape, found, [point] * FINS, one_air=True)
            margins.append(
                [check._unstable(shape, found, stable, point, row, row) for row in range(FINS)]
            )
            carried = loads.passing_loads(shape, found, range(FINS), [point] * FINS)
            moments.append([load.moment.max() for load in carried])
        out.append(Family(shape, found, points, margins, np.array(moments)))
    return tuple(out)


@pytest.mark.parametrize("kind", [0, 1], ids=["flutter", "divergence"])
def test_boundaries_do_not_jump(kind: int) -> None:
    """No step of 1 % in speed moves a boundary by more than 5 %, or to the safer side.

    A limit moves with how far was looked, so for limits only the second holds. Safer means a larger
    margin against what is asked.
    """
    checked = 0
    for family in families():
        ratio = np.array([[m[kind].ratio for m in row] for row in family.speed_margins])
        bound = np.array([[bool(m[kind].bound) for m in row] for row in family.speed_margins])
        asked = np.array([row[0][kind].required for row in family.speed_margins])
        speed = np.array([point.speed for point in family.points])
        steps = np.diff(np.log(ratio * speed[:, None]), axis=0)
        steps = steps[~bound[1:] & ~bound[:-1]]
        assert np.abs(steps).max(initial=0.0) <= LARGEST
        assert np.diff(np.log(ratio / asked[:, None]), axis=0).max() <= 1e-9
        checked += steps.size
    assert checked > 1000


def stiffened(found: model.Structure) -> model.Structure:
    """Return fins a million times as stiff, which the air does not twist."""
    system = replace(found.system, stiffness=1e6 * found.system.stiffness)
    return replace(
        found, system=system, modes=replace(found.modes, frequency=1e3 * found.modes.frequency)
    )


def test_root_load_does_not_jump() -> None:
    """No step of 1 % in speed moves the root's load by more than 5 %, or lowers it by over 1 %.

    That of fins that do not twist. Twist multiplies the load, so of fins that twist and have the
    margins asked of flutter and divergence the step may be as many times larger as the load is; and
    up to 6 % where a fin sheds load by twisting, and less so as the load moves aft past Mach 1.
    """
    checked = 0
    for family in families():
        stiff = stiffened(family.found)
        rigid = np.array(
            [
                [
                    load.moment.max()
                    for load in loads.passing_loads(
                        family.shape, stiff, range(FINS), [point] * FINS
                    )
                ]
                for point in family.points
            ]
        )
        steps = np.diff(np.log(rigid), axis=0)
        assert steps.min() >= -STEP
        assert steps.max() <= LARGEST
        steps = np.diff(np.log(family.moments), axis=0)
        larger = np.maximum(family.moments / rigid, 1.0)[1:]
        for row in range(FINS):
            both = [margins[row] for margins in family.speed_margins]
            holds = np.array([all(m.ratio >= m.required for m in pair) for pair in both])
            kept = holds[1:] & holds[:-1]
            assert steps[kept, row].min(initial=0.0) >= -STEP
            assert (steps / larger)[kept, row].max(initial=0.0) <= TWISTED
            checked += int(kept.sum())
    assert checked > 1000


def forces_at(family: Family, machs: np.ndarray, rows: np.ndarray) -> tuple[np.ndarray, ...]:
    """Return wavenumbers and forces ``(pairs, w, m, m)`` of the model's own air."""
    slow = family.shape.air.on_modes(family.found.system.basis, family.found.modes.shapes)
    air = high_speed._Air(family.shape, family.found, slow)
    own = air.at(rows, machs)
    s = np.linspace(own.nodes[-1] / (own.nodes[-1] + own.scale), 0.004, 60)
    k = own.scale * s / (1.0 - s)
    steady = own.forces[:, 0, 0].real
    return k, own.at(k)[:, 0], steady


def test_first_speed_is_never_late_beyond_mach_one() -> None:
    """No first speed is above 1.01 times the first of a fine scan of the model's own air.

    The scan goes in steps of 1.5 % of Mach number, the model's factor included.
    """
    checked = 0
    late = []
    for family in families():
        point = family.points[-1]
        sound, density = float(point.air.sound_speed), float(point.air.density)
        frequency = family.found.modes.frequency
        for row in range(FINS):
            margin = min(family.speed_margins[-1][row], key=lambda m: m.ratio)
            end = margin.ratio * point.mach / LATE
            machs = np.exp(np.arange(math.log(0.905), math.log(max(end, 0.905)), 0.015))
            if not machs.size:
                continue
            rows = np.full(machs.size, row)
            k, forces, steady = forces_at(family, machs, rows)
            flutters = hard_flutter(forces, frequency[rows], k, density)
            diverges = divergence(steady, frequency[rows], density)
            first = policy.transonic_factor(machs) * np.minimum(flutters, diverges)
            if (first < machs * sound * (1.0 - 1e-6)).any():
                late.append((family.shape.planform, row, margin.ratio, machs, first / sound))
            checked += 1
    assert late == []
    assert checked > 150


@pytest.mark.parametrize("mach", [1.1, 1.2, 1.4, 1.65, 2.0, 2.4, 2.8])
def test_forces_between_mach_numbers(mach: float) -> None:
    """Steady lift from interpolated forces is within 3 % of that of the Mach number's own air.

    From Mach 1.4 on within 1.5 %.
    """
    promised = 0.03 if mach < 1.4 else 0.015
    for fin in (
        Planform(root=1.0, tip=0.5, span=0.5, sweep=0.5),
        Planform(root=1.0, tip=0.66, span=1.364, sweep=1.449),
        Planform(root=1.0, tip=1.0, span=0.7, sweep=0.0),
    ):
        nodes = (0.9, *model.FAST_MACHS)
        lift = sum(
            weight * -model.air_at(fin, nodes[place]).response[0, 0].real.sum()
            for place, weight in model.blend(mach, nodes)
        )
        own = mach_box.lift_slope(fin, mach=mach, boxes=2000)
        assert lift / fin.area == pytest.approx(own.slope, rel=promised)
