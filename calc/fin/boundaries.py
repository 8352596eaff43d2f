"""Flutter and divergence of a batch of candidates at moments of flight."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calc import aeroelastic
from calc.air.atmosphere import Air
from calc.fin.fin import Point
from calc.fin.high_speed import HighSpeed, high_speed
from calc.fin.model import ALL_MACHS, MACHS, REFINED_MACHS, Model, Structure, air_refined

Real = NDArray[np.float64]

SAME_SPEED = 1.01
"""An instability is called divergence if the matched divergence speed is at most this many times
the speed of the first instability; otherwise it is called flutter."""


CLOSE_SPEED = 1.1
"""Ratio of these speeds up to which more Mach numbers are used to decide between the two."""


SAME_SHAPE, SAME_WAVENUMBER = 0.8, 1.25
"""Minimum modal assurance criterion and maximum ratio of wavenumbers at which the flutter modes at
two neighbouring Mach numbers count as one branch."""


STEEP = 0.6
"""Minimum ratio of the stiffness reserves (a/U)^2 at two neighbouring Mach numbers at which a
straight line between them is used."""


BENT = 0.005
"""Maximum estimated error of that line, as a share of the reserve (twice the error in speed)."""


HIGH_WAVENUMBER = 0.6
"""Share of the highest wavenumber above which the flutter speed of so coarse a lattice may fall and
rise again between two Mach numbers of `MACHS`."""


REACH, CLOSE_REACH = 0.6, 0.85
"""Share of the dynamic pressure of an instability that the flight must reach in an interval before
that interval is refined; the second where only a small error is expected."""


_LEFT_OUT: ContextVar[list[int] | None] = ContextVar("left_out", default=None)


@contextmanager
def coarsely() -> Iterator[list[int]]:
    """Within the block, interpolate flutter between `MACHS` and refine nothing.

    A third less work, for a verdict that follows a hand on the drawing. Of 2 000 random fins 96 in
    100 keep their speed within 3 % and all but one in 100 within 10 %
    (tests/convergence/test_first_instability.py).

    Yields
    ------
    list
        How many fins would have been refined, each time; empty where nothing was left out.
    """
    left_out: list[int] = []
    token = _LEFT_OUT.set(left_out)
    try:
        yield left_out
    finally:
        _LEFT_OUT.reset(token)


@dataclass(frozen=True, eq=False)
class AeroelasticBoundaries:
    """Flutter and divergence of a batch at one moment of flight; arrays ``(c,)``.

    Speeds are those at which the boundary is met when flying faster at the same height. Where
    `*_found` is False the speed is only a lower limit, the end of the model's range, or for flutter
    the divergence that comes first.
    """

    flutter_speed: Real
    flutter_found: NDArray[np.bool_]
    divergence_speed: Real
    divergence_found: NDArray[np.bool_]
    flutter_by_mach: Real
    """``(c, n_m)`` boundary speed with the air of each Mach number [m/s]; may be infinite."""
    divergence_by_mach: Real
    detail: aeroelastic.Flutter
    forces: aeroelastic.AirForces
    unresolved: NDArray[np.bool_]
    """True where the flutter lies at or beyond the highest wavenumber of the air forces."""
    fast: HighSpeed | None = None
    """The margins of flights that come near or go beyond Mach 0.9; see `judged`."""


@dataclass(frozen=True, eq=False)
class _Boundaries:
    """Speeds of instability [m/s] of a batch at Mach numbers, arrays ``(c, n_m)``.

    Flutter is solved where `solved` is True and interpolated over Mach number elsewhere.
    `wavenumber` belongs to solved flutter.
    """

    machs: Real
    flutter: Real
    divergence: Real
    wavenumber: Real
    solved: NDArray[np.bool_]

    @property
    def first(self) -> Real:
        """Speed of the first instability of either kind [m/s]."""
        return np.minimum(self.flutter, self.divergence)

    def take(self, rows: NDArray[np.intp]) -> _Boundaries:
        """Return some rows of the batch."""
        return _Boundaries(
            self.machs,
            self.flutter[rows],
            self.divergence[rows],
            self.wavenumber[rows],
            self.solved[rows],
        )

    def unresolved(self, highest: float) -> NDArray[np.bool_]:
        """Return whether the lowest flutter speed lies at or beyond the highest wavenumber."""
        speed = np.where(self.solved, self.flutter, np.inf)
        wavenumber = self.wavenumber[np.arange(speed.shape[0]), speed.argmin(axis=-1)]
        return np.asarray(np.nan_to_num(wavenumber) >= 0.999 * highest)


@dataclass(frozen=True, eq=False)
class _Fluttering:
    """What the flutter of a batch depends on besides Mach number."""

    frequency: Real
    """``(c, m)`` [rad/s]."""
    density: Real
    """``(c, 1)`` [kg/m3]."""
    sound: Real
    """``(c,)`` [m/s]."""

    def take(self, rows: NDArray[np.intp]) -> _Fluttering:
        """Return some rows of the batch."""
        return _Fluttering(self.frequency[rows], self.density[rows], self.sound[rows])

    def flutter(self, forces: aeroelastic.AirForces) -> aeroelastic.Flutter:
        """Return flutter at the Mach numbers of the forces."""
        return aeroelastic.flutter(forces, frequency=self.frequency, density=self.density)

    def divergence(self, forces: aeroelastic.AirForces) -> Real:
        """Return divergence speeds at the Mach numbers of the forces [m/s]."""
        pressure = aeroelastic.divergence_pressure(forces, frequency=self.frequency)
        return np.asarray(np.sqrt(2.0 * pressure / self.density))


def _over_mach(
    forces: aeroelastic.AirForces, detail: aeroelastic.Flutter, divergence: Real, one: _Fluttering
) -> _Boundaries:
    """Return boundaries at all Mach numbers of `MACHS` and `REFINED_MACHS` from those at `MACHS`.

    Between `MACHS` flutter is interpolated from the first instability at either end, the safe side
    where divergence comes first at one of them. Divergence is computed from interpolated steady
    forces, which costs little.
    """
    shape = (divergence.shape[0], ALL_MACHS.size)
    wavenumber, solved = np.zeros(shape), np.zeros(shape, dtype=bool)
    first = aeroelastic.limited_rise(np.minimum(detail.speed, divergence))
    flutter = aeroelastic.interpolated_speed(MACHS, first, ALL_MACHS)
    diverging = one.divergence(forces.steady(ALL_MACHS))
    at = np.searchsorted(ALL_MACHS, MACHS)
    flutter[:, at] = aeroelastic.limited_rise(detail.speed)
    diverging[:, at] = divergence
    wavenumber[:, at], solved[:, at] = detail.wavenumber, True
    return _Boundaries(ALL_MACHS, flutter, diverging, wavenumber, solved)


def _needs_refining(
    detail: aeroelastic.Flutter,
    divergence: Real,
    one: _Fluttering,
    highest: float,
    speed: Real,
    diverging: Real,
) -> NDArray[np.bool_]:
    """Return ``(c, n_m - 1)`` whether an interval of `MACHS` needs more Mach numbers.

    True where the flight reaches the interval below `speed` and interpolated flutter is not good
    enough: flutter starts or ends, it is not clear whether flutter or divergence comes first, the
    flutter mode changes, a mode nearly flutters, the flutter's wavenumber is high, or the curve
    is steep or bent.
    """
    x, sound = np.square(MACHS), one.sound[:, None]
    low, high = x[:-1], x[1:]
    met = (speed / one.sound)[:, None] ** 2
    first = np.minimum(detail.speed, divergence)
    reserve = (sound / first) ** 2
    lowest = np.minimum(reserve[:, :-1], reserve[:, 1:])
    highest_reserve = np.maximum(reserve[:, :-1], reserve[:, 1:])
    reached = np.where(low <= met, highest_reserve * high, 0.0)

    ends = np.isfinite(first)
    flutters = detail.speed < divergence
    unclear = (diverging > SAME_SPEED * speed) & (diverging < CLOSE_SPEED * speed)
    changes = ends[:, :-1] != ends[:, 1:]
    changes |= unclear[:, None] & (flutters[:, :-1] != flutters[:, 1:])

    size = np.linalg.norm(detail.shape, axis=-1)
    product = np.abs(np.sum(detail.shape[:, :-1].conj() * detail.shape[:, 1:], axis=-1))
    both = flutters[:, :-1] & flutters[:, 1:]
    changes |= both & (product**2 < SAME_SHAPE * (size[:, :-1] * size[:, 1:]) ** 2)
    misses = np.minimum(detail.near_miss[:, :-1], detail.near_miss[:, 1:])
    changes |= misses < np.minimum(speed[:, None], np.sqrt(high) * sound)
    changes |= lowest < STEEP * highest_reserve

    ratio = detail.wavenumber[:, 1:] / detail.wavenumber[:, :-1]
    drifts = np.maximum(ratio, 1.0 / ratio) > SAME_WAVENUMBER
    drifts |= detail.wavenumber[:, :-1] > HIGH_WAVENUMBER * highest
    slope = np.diff(reserve, axis=-1) / np.diff(x)
    curved = np.maximum(slope[:, :-1] - slope[:, 1:], 0.0) / (x[2:] - x[:-2])
    curved = np.pad(curved, ((0, 0), (1, 1)))
    curved = np.maximum(curved[:, :-1], curved[:, 1:])
    drifts &= both
    # divergence alone is computed at all Mach numbers, so its bend does not matter
    either = flutters[:, :-1] | flutters[:, 1:]
    drifts |= either & (curved * (met - low) * (high - met) * met > BENT)
    return np.asarray(((reached > REACH) & changes) | ((reached > CLOSE_REACH) & drifts))


def _refined(
    rough: _Boundaries, forces: aeroelastic.AirForces, needed: NDArray[np.bool_], one: _Fluttering
) -> _Boundaries:
    """Return boundaries with those ``(c, n_m)`` that are needed solved by their own forces."""
    row, place = np.nonzero(needed)
    own = replace(forces, machs=forces.machs[:1], forces=forces.forces[row, place][:, None])
    pairs = one.take(row)
    detail = pairs.flutter(own)
    flutter, divergence = rough.flutter.copy(), rough.divergence.copy()
    wavenumber, solved = rough.wavenumber.copy(), rough.solved | needed
    flutter[row, place], wavenumber[row, place] = detail.speed[:, 0], detail.wavenumber[:, 0]
    divergence[row, place] = pairs.divergence(own)[:, 0]
    return _Boundaries(rough.machs, flutter, divergence, wavenumber, solved)


def _solved_at_match(
    found: _Boundaries, forces: aeroelastic.AirForces, one: _Fluttering, speed: Real
) -> tuple[Real, NDArray[np.bool_]]:
    """Return matched speeds after solving each fin at its own matched Mach number.

    A fin that is unstable there already gets the lower speed between that Mach number and the
    one below. Second comes whether the flutter lies at or beyond the highest wavenumber.
    """
    mach = speed / one.sound
    own = forces.between(mach, found.solved)
    detail = one.flutter(own)
    there = np.minimum(detail.speed, one.divergence(own))
    lower = found.solved & (found.machs < mach[:, None] * (1.0 - 1e-6))
    below = np.where(lower, np.arange(found.machs.size), 0).max(axis=-1)[:, None]
    machs = np.concatenate([found.machs[below], mach[:, None]], axis=1)
    firsts = np.concatenate([np.take_along_axis(found.first, below, axis=1), there], axis=1)
    closer, met = aeroelastic.matched_speed(machs, firsts, sound_speed=one.sound)
    earlier = met & (closer < speed)
    highest = forces.nodes[-1]
    rapid = np.nan_to_num(detail.wavenumber[:, 0]) >= 0.999 * highest
    return np.where(earlier, closer, speed), np.where(earlier, rapid, found.unresolved(highest))


def flutter_and_divergence(
    shape: Model, found: Structure, air: Air | Sequence[Air]
) -> AeroelasticBoundaries:
    """Return flutter and divergence of a batch in one air, or of one candidate in several airs.

    With several airs the batch is that of the moments: row by row the one candidate in each air.
    """
    airs = [air] if isinstance(air, Air) else list(air)
    shapes = found.modes.shapes
    count = max(len(airs), shapes.shape[0])
    one = _Fluttering(
        np.broadcast_to(found.modes.frequency, (count, shapes.shape[-1])),
        np.broadcast_to(np.array([float(each.density) for each in airs])[:, None], (count, 1)),
        np.broadcast_to([float(each.sound_speed) for each in airs], count),
    )

    def on_modes(grid: aeroelastic.AirGrid, rows: NDArray[np.intp]) -> aeroelastic.AirForces:
        """Return the forces on the modes of rows of the batch."""
        if shapes.shape[0] > 1:
            return grid.on_modes(found.system.basis, shapes[rows])
        forces = grid.on_modes(found.system.basis, shapes)
        matrices = np.broadcast_to(forces.forces, (rows.size, *forces.forces.shape[1:]))
        return replace(forces, forces=matrices)

    forces = on_modes(shape.air, np.arange(count))
    highest = float(forces.nodes[-1])
    detail, divergence = one.flutter(forces), one.divergence(forces)
    rough = _over_mach(forces, detail, divergence, one)
    diverging, diverges = aeroelastic.matched_speed(
        ALL_MACHS, rough.divergence, sound_speed=one.sound
    )
    speed, met = aeroelastic.matched_speed(ALL_MACHS, rough.first, sound_speed=one.sound)
    unresolved = rough.unresolved(highest)
    refine = _needs_refining(detail, divergence, one, highest, speed, diverging)
    rows = np.flatnonzero(refine.any(axis=-1))
    left_out = _LEFT_OUT.get()
    if rows.size and left_out is not None:
        left_out.append(rows.size)
    elif rows.size:
        # what is not needed may be anything
        matrices = np.zeros((rows.size, ALL_MACHS.size, *forces.forces.shape[2:]), dtype=complex)
        matrices[:, np.searchsorted(ALL_MACHS, MACHS)] = forces.forces[rows]
        needed = np.zeros((rows.size, ALL_MACHS.size), dtype=bool)
        for interval in np.flatnonzero(refine.any(axis=0)).tolist():
            at = np.searchsorted(ALL_MACHS, REFINED_MACHS[interval])
            grid = air_refined(shape.planform, interval)
            matrices[:, at] = on_modes(grid, rows).forces
            needed[:, at] = refine[rows, interval, None]
        all_forces = replace(forces, machs=ALL_MACHS, forces=matrices)
        some = one.take(rows)
        fine = _refined(rough.take(rows), all_forces, needed, some)
        speed[rows], met[rows] = aeroelastic.matched_speed(
            ALL_MACHS, fine.first, sound_speed=some.sound
        )
        diverging[rows], diverges[rows] = aeroelastic.matched_speed(
            ALL_MACHS, fine.divergence, sound_speed=some.sound
        )
        unresolved[rows] = fine.unresolved(highest)
        inside = np.flatnonzero(met[rows])
        if inside.size:
            rows = rows[inside]
            speed[rows], unresolved[rows] = _solved_at_match(
                fine.take(inside),
                replace(all_forces, forces=matrices[inside]),
                some.take(inside),
                speed[rows],
            )
    # linear theory starts from the undeformed fin, so beyond divergence flutter is only known to
    # come later. The first instability found is reported in any case, under one name or the other
    by_divergence = met & diverges & (diverging <= SAME_SPEED * speed)
    return AeroelasticBoundaries(
        flutter_speed=np.where(by_divergence, diverging, speed),
        flutter_found=met & ~by_divergence,
        divergence_speed=diverging,
        divergence_found=diverges,
        flutter_by_mach=np.minimum(detail.speed, divergence),
        divergence_by_mach=divergence,
        detail=detail,
        forces=forces,
        unresolved=unresolved,
    )


def judged(
    shape: Model, found: Structure, points: Sequence[Point], *, one_air: bool
) -> AeroelasticBoundaries:
    """Return flutter and divergence at moments of flight, as far as each moment needs.

    Beyond Mach 0.9 that depends on the flight's own speed, so `fast` holds margins, not speeds.

    Parameters
    ----------
    points
        The moment of each candidate, or many moments of the one.
    one_air
        Whether all moments are in the same air.
    """
    airs = points[0].air if one_air else [point.air for point in points]
    stable = flutter_and_divergence(shape, found, airs)
    fast = high_speed(
        shape,
        found,
        stable.forces,
        points,
        first_by_mach=stable.flutter_by_mach,
        divergence_by_mach=stable.divergence_by_mach,
        settled=stable.flutter_found | stable.divergence_found,
    )
    return replace(stable, fast=fast)


FAINT = 0.02
"""Damping ratio below which a mode is reported as close to flutter; wood has about half as much of
its own (common practice)."""

NEARBY = 1.15
"""Up to how many times the flight's speed such a mode is reported: the margin that flutter itself
must have."""


def near_flutter(
    found: Structure, stable: AeroelasticBoundaries, point: Point
) -> tuple[float, float] | None:
    """Return where a mode of the first candidate nearly flutters and then recovers, or None.

    Speed [m/s] and damping ratio there, below Mach 0.9 and below the first instability.
    """
    sound = float(point.air.sound_speed)
    first = min(float(stable.flutter_speed[0]), float(stable.divergence_speed[0]))
    top = min(NEARBY * point.speed, float(MACHS[-1]) * sound, first)
    if not (stable.detail.near_miss[0] < top).any():
        return None
    forces = replace(stable.forces, forces=stable.forces.forces[0])
    curves = aeroelastic.damping_in_flight(
        forces,
        frequency=found.modes.frequency[0],
        density=float(point.air.density),
        sound_speed=sound,
        speeds=np.linspace(0.1 * top, top, 40),
    )
    speed, damping = aeroelastic.least_damping(curves)
    return (speed, damping) if damping < FAINT else None
