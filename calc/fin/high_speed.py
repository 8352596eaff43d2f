"""Flutter and divergence beyond Mach 0.9: through the speed of sound and on to Mach 3.

Linear theory has two sides: the doublet lattice up to Mach 0.95 and Mach boxes from Mach 1.05 on.
At Mach 1 itself neither is evaluated. The generalised forces run straight over Mach number up to
Mach 1.15, straight over ``log(M^2 - 1)`` above. From these forces flutter and divergence are solved
as below Mach 0.9, and their speeds are multiplied by the measured `transonic_factor`.

A flight that goes on to Mach number M meets every lower one on its way. Its margin is therefore the
smallest of three: how much faster it could fly at its height before the first instability (constant
altitude), the smallest ratio of boundary speed to flight speed at the Mach numbers it passes
(constant Mach number), and the end of what was looked at. MIL-A-8870 asks for the first two. None
of the three grows when the same fin flies faster.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc import aeroelastic
from calc.fin.fin import Point
from calc.fin.model import FAST_MACHS, MACHS, Model, Structure, air_at, blend
from calc.fin.policy import transonic_factor
from calc.geometry.outline import Outline

Real = NDArray[np.float64]
Flags = NDArray[np.bool_]

LOOK_AHEAD = 1.25
"""Boundaries are searched up to this many times the flight's speed: more than any margin
requires, so that "at least" this much is enough."""

TOP = FAST_MACHS[-1]
"""Highest Mach number of the model."""

BETWEEN: tuple[float, ...] = (1.0, 1.1, 1.22, 1.4, 1.65, 2.0, 2.4, 2.8)
"""Further Mach numbers, solved where the margin depends on them."""

STEEPEST = 4.0
"""Largest fall of the boundary's speed with Mach number, as a power of it. A mode that is just
damped at one Mach number and flutters at the next may flutter between them already."""

WAVENUMBERS = 16
"""Wavenumbers searched for flutter, more where shapes change fast; a few more than below Mach 0.9
cost little and miss fewer faint modes."""

CLOSE, FAR = 1.3, 2.0
"""An interval is solved more closely where its ratio of boundary to flight speed is below `CLOSE`
times the smallest, and below `FAR`: beyond that no verdict depends on it."""


@dataclass(frozen=True, eq=False)
class HighSpeed:
    """Margins in speed of a batch of which the flight or the boundary lies beyond Mach 0.9.

    Arrays ``(c,)``; rows that `judged` does not mark are settled below Mach 0.9 and hold nothing.
    Ratios are boundary over flight speed, "first" of either instability. `*_bound` says that the
    ratio is only a limit; `*_mach` is the Mach number that decides.
    """

    judged: Flags
    first_ratio: Real
    first_bound: Flags
    first_mach: Real
    by_divergence: Flags
    """Whether the first instability is divergence."""
    divergence_ratio: Real
    divergence_bound: Flags
    divergence_mach: Real
    unresolved: Flags
    """True where the deciding flutter lies at or beyond the highest wavenumber."""
    beyond: Real
    """``(c, 2)`` ratio with the boundary of the last Mach number going on: first, divergence."""
    machs: Real
    """``(n,)`` Mach numbers solved for all."""
    first_by_mach: Real
    """``(c, n)`` speed of the first instability there [m/s], factor included; may be infinite."""


@dataclass(frozen=True, eq=False)
class _Curves:
    """Boundary speeds ``(c, n)`` [m/s] at Mach numbers ``(n,)``, NaN where not solved."""

    machs: Real
    first: Real
    divergence: Real
    rapid: Flags

    def place(self, mach: float) -> int:
        """Return the column of a Mach number."""
        return int(np.abs(self.machs - mach).argmin())


class _Air:
    """Generalised forces on the modes of a batch at Mach numbers above 0.9, computed on demand."""

    machs = (float(MACHS[-1]), *FAST_MACHS)

    def __init__(self, shape: Model, found: Structure, forces: aeroelastic.AirForces) -> None:
        self.shape, self.found, self.known = shape, found, forces
        self.kept: dict[int, NDArray[np.complex128]] = {0: forces.forces[:, len(MACHS) - 1]}

    def node(self, place: int) -> NDArray[np.complex128]:
        """Return ``(c, n_k, m, m)`` forces at one of `machs`."""
        if place not in self.kept:
            grid = air_at(self.shape.planform, self.machs[place])
            forces = grid.on_modes(self.found.system.basis, self.found.modes.shapes).forces[:, 0]
            self.kept[place] = np.broadcast_to(forces, self.kept[0].shape)
        return self.kept[place]

    def at(self, rows: NDArray[np.intp], machs: Real) -> aeroelastic.AirForces:
        """Return forces ``(n, 1, n_k, m, m)`` for pairs of a row and a Mach number."""
        out = np.zeros((rows.size, *self.kept[0].shape[1:]), dtype=complex)
        for mach in np.unique(machs).tolist():
            own = np.flatnonzero(machs == mach)
            for place, weight in blend(mach, self.machs):
                if weight:
                    out[own] += weight * self.node(place)[rows[own]]
        known = self.known
        return aeroelastic.AirForces(machs[:1], known.nodes, known.scale, out[:, None])


def forces_at(
    planform: Outline, found: Structure, known: aeroelastic.AirForces, *, row: int, mach: float
) -> aeroelastic.AirForces:
    """Return forces ``(1, n_k, m, m)`` on one candidate's modes at one Mach number above 0.9.

    `known` are its forces at `MACHS`.
    """
    total = np.zeros(known.forces.shape[1:], dtype=complex)
    for place, weight in blend(mach, _Air.machs):
        if place == 0:
            total += weight * known.forces[len(MACHS) - 1]
        elif weight:
            grid = air_at(planform, _Air.machs[place])
            total += weight * grid.on_modes(found.system.basis, found.modes.shapes[row]).forces[0]
    return aeroelastic.AirForces(np.array([mach]), known.nodes, known.scale, total[None])


@dataclass(frozen=True, eq=False)
class _Batch:
    """What the boundaries of rows depend on besides the air's forces."""

    air: _Air
    frequency: Real
    density: Real
    sound: Real
    flight: Real
    """``(c,)`` the flight's Mach number."""

    @property
    def end(self) -> Real:
        """``(c,)`` Mach number up to which boundaries are looked for."""
        return np.clip(LOOK_AHEAD * self.flight, MACHS[-1], TOP)

    def solve(self, curves: _Curves, wanted: Flags) -> None:
        """Fill in what is wanted ``(c, n)`` of the curves."""
        row, place = np.nonzero(wanted)
        if not row.size:
            return
        machs = curves.machs[place]
        forces = self.air.at(row, machs)
        frequency, density = self.frequency[row], self.density[row, None]
        flutter = aeroelastic.flutter(
            forces, frequency=frequency, density=density, count=WAVENUMBERS
        )
        pressure = aeroelastic.divergence_pressure(forces, frequency=frequency)
        diverges = np.sqrt(2.0 * pressure / density)[:, 0]
        factor = transonic_factor(machs)
        rapid = np.nan_to_num(flutter.wavenumber[:, 0]) >= 0.999 * forces.nodes[-1]
        curves.first[row, place] = factor * np.minimum(flutter.speed[:, 0], diverges)
        curves.divergence[row, place] = factor * diverges
        curves.rapid[row, place] = rapid & (flutter.speed[:, 0] < diverges)


@dataclass(frozen=True)
class _Reading:
    """What one row's curve says: see `HighSpeed`."""

    ratio: float
    bound: bool
    mach: float
    beyond: float


def _limited(machs: Real, speeds: Real) -> Real:
    """Return speeds ``(n,)`` that fall no more steeply than `STEEPEST` with Mach number."""
    out = speeds.copy()
    for lower in range(out.size - 2, -1, -1):
        ratio = machs[lower + 1] / machs[lower]
        out[lower] = min(out[lower], out[lower + 1] * ratio**STEEPEST)
    return out


def _read(machs: Real, speeds: Real, *, sound: float, flight: float, end: float) -> _Reading:
    """Return the margin of a flight below boundary speeds ``(n,)`` at Mach numbers solved.

    Between two Mach numbers the speed is a power of Mach number; where the boundary ends it is
    taken to last up to the next.
    """
    speeds = _limited(machs, speeds)
    height = np.log(speeds / (machs * sound))
    x = np.log(machs)
    # coming from below: where a boundary ends its speed is kept up to the next Mach number
    kept = np.concatenate([[np.inf], height[:-1] - np.diff(x)])
    arriving = np.where(np.isfinite(height), height, kept)
    upper = min(max(int(np.searchsorted(machs, flight)), 1), machs.size - 1)
    part = (math.log(flight) - x[upper - 1]) / (x[upper] - x[upper - 1])
    start, stop = height[upper - 1], arriving[upper]
    here = start + part * (stop - start) if math.isfinite(start) else start
    passed = [(float(arriving[i]), float(machs[i])) for i in range(upper) if machs[i] < flight]
    lowest, critical = min([*passed, (float(here), flight)])
    choices = [(end / flight, end, True), (math.exp(min(lowest, 700.0)), critical, False)]
    below = np.flatnonzero(arriving <= 0.0)
    if below.size:
        first = int(below[0])
        met = float(x[first])
        if first > 0:
            # a boundary that begins with a Mach number has been limited, so it is finite below
            over, under = height[first - 1], arriving[first]
            met = float(x[first - 1] + over / (over - under) * (x[first] - x[first - 1]))
        if math.exp(met) <= end:
            choices.append((math.exp(met) / flight, math.exp(met), False))
    ratio, mach, bound = min(choices)
    beyond = float(speeds[-1]) / (flight * sound)
    return _Reading(float(ratio), bound, float(mach), max(beyond, float(ratio)))


def _reading(curves: _Curves, batch: _Batch, row: int, kind: str) -> _Reading:
    """Return what one kind of boundary says of one row."""
    speeds = getattr(curves, kind)[row]
    solved = ~np.isnan(speeds)
    return _read(
        curves.machs[solved],
        speeds[solved],
        sound=float(batch.sound[row]),
        flight=float(batch.flight[row]),
        end=float(batch.end[row]),
    )


def _depends(curves: _Curves, batch: _Batch, row: int) -> Flags:
    """Return ``(n,)`` which unsolved Mach numbers the margin of a row depends on."""
    solved = np.flatnonzero(~np.isnan(curves.first[row]))
    machs = curves.machs[solved]
    ratio = _limited(machs, curves.first[row, solved]) / (machs * batch.sound[row])
    flight, end = float(batch.flight[row]), float(batch.end[row])
    smallest = float(ratio[machs <= max(flight, machs[0])].min())
    met = np.flatnonzero(ratio <= 1.0)
    last = machs[met[0]] if met.size else end
    out = np.zeros(curves.machs.size, dtype=bool)
    for left, right in zip(range(machs.size - 1), range(1, machs.size), strict=True):
        near = min(ratio[left], ratio[right])
        on_way = machs[left] < flight and near < min(CLOSE * smallest, FAR)
        ahead = machs[left] < min(end, last) and near < CLOSE
        if on_way or ahead:
            out[solved[left] + 1 : solved[right]] = True
    return out


def high_speed(
    shape: Model,
    found: Structure,
    forces: aeroelastic.AirForces,
    points: Sequence[Point],
    *,
    first_by_mach: Real,
    divergence_by_mach: Real,
    settled: Flags,
) -> HighSpeed | None:
    """Return the margins beyond Mach 0.9 of rows at their moments; None where no row needs them.

    Parameters
    ----------
    shape, found
        The model, and candidates on it: one for each row, or one for all.
    forces
        Modal forces ``(c, n_m, …)`` at `MACHS`.
    points
        ``(c,)`` the moment of each row.
    first_by_mach, divergence_by_mach
        ``(c, n_m)`` speeds [m/s] of the first instability and of divergence at `MACHS`.
    settled
        ``(c,)`` rows whose first instability lies below Mach 0.9.
    """
    flight = np.array([point.mach for point in points])
    judged = ~settled & (LOOK_AHEAD * flight > MACHS[-1])
    if not judged.any():
        return None
    count = flight.size
    modes = found.modes.frequency
    batch = _Batch(
        air=_Air(shape, found, forces),
        frequency=np.broadcast_to(modes, (count, modes.shape[-1])),
        density=np.array([float(point.air.density) for point in points]),
        sound=np.array([float(point.air.sound_speed) for point in points]),
        flight=flight,
    )
    most = float(batch.end[judged].max())
    nodes = [mach for mach in FAST_MACHS if mach < most]
    nodes.append(min((mach for mach in FAST_MACHS if mach >= most), default=TOP))
    nodes = sorted(set(nodes))
    slow = MACHS[MACHS > 0.0]
    machs = np.sort([*slow, *nodes, *(mach for mach in BETWEEN if mach < nodes[-1])])
    empty = np.full((count, machs.size), np.nan)
    curves = _Curves(machs, empty.copy(), empty.copy(), np.zeros(empty.shape, dtype=bool))
    for place, mach in enumerate(MACHS):
        if mach > 0.0:
            column = curves.place(mach)
            curves.first[:, column] = first_by_mach[:, place]
            curves.divergence[:, column] = divergence_by_mach[:, place]
    # each row as far as it looks itself, so that no answer depends on its neighbours
    below = np.array([max([m for m in nodes if m < e], default=0.0) for e in batch.end])
    wanted = np.zeros(empty.shape, dtype=bool)
    for mach in nodes:
        previous = max([m for m in nodes if m < mach], default=0.0)
        wanted[:, curves.place(mach)] = judged & (previous <= below)
    batch.solve(curves, wanted)
    closer = np.zeros_like(wanted)
    for row in np.flatnonzero(judged).tolist():
        closer[row] = _depends(curves, batch, row)
    batch.solve(curves, closer)

    def column_of(readings: list[_Reading | None], name: str, fill: float) -> Real:
        return np.array([fill if r is None else getattr(r, name) for r in readings], dtype=float)

    rows = [row if judged[row] else None for row in range(count)]
    first = [None if row is None else _reading(curves, batch, row, "first") for row in rows]
    diverge = [None if row is None else _reading(curves, batch, row, "divergence") for row in rows]
    first_mach = column_of(first, "mach", 0.0)
    at = np.array([np.abs(machs - mach).argmin() for mach in first_mach])
    every = np.arange(count)
    first_ratio = column_of(first, "ratio", np.inf)
    divergence_ratio = column_of(diverge, "ratio", np.inf)
    keep = [curves.place(mach) for mach in nodes]
    return HighSpeed(
        judged=judged,
        first_ratio=first_ratio,
        first_bound=column_of(first, "bound", 1.0).astype(bool),
        first_mach=first_mach,
        by_divergence=divergence_ratio <= 1.01 * first_ratio,
        divergence_ratio=divergence_ratio,
        divergence_bound=column_of(diverge, "bound", 1.0).astype(bool),
        divergence_mach=column_of(diverge, "mach", 0.0),
        unresolved=judged & curves.rapid[every, at],
        beyond=np.column_stack(
            [column_of(first, "beyond", np.inf), column_of(diverge, "beyond", np.inf)]
        ),
        machs=np.array(nodes),
        first_by_mach=curves.first[:, keep],
    )
