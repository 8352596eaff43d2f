"""How a fin moves at speeds around its first instability: what a picture of it needs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calc import aeroelastic
from calc.fin.check import Check
from calc.fin.high_speed import HighSpeed, forces_at
from calc.fin.model import MACHS
from calc.fin.policy import transonic_factor

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

BELOW = (0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0)
ABOVE = (1.05, 1.1)
"""Speeds shown, over that of the boundary. More would cost time and show the same."""
SLOWEST = 0.2
"""Least share of the boundary's speed at which a flight's own is shown."""
APART = 0.02
"""A flight's own speed is shown too, unless another is as close as this."""
BEFORE_DIVERGENCE = 0.98
"""Flutter is shown up to this share of the speed at which the fin diverges as well."""
AT_BOUNDARY = 0.02
"""Damping ratio, of either sign, that a motion may have at its boundary, which is interpolated over
Mach number where that is good enough (see `boundaries`)."""


@dataclass(frozen=True, eq=False)
class Moving:
    """The motion that grows first, or the slowest natural one where none is known to grow.

    Attributes
    ----------
    kind
        "flutter", "divergence" or "none".
    boundary
        Speed [m/s] at which it begins to grow; with "none" the highest speed looked at.
    ratios
        Speeds over `boundary`, ascending.
    motion
        What happens there.
    mach
        The Mach number whose air is taken at all speeds; None where each speed has its own.
    row
        The candidate of the check's batch that moves.
    flown
        Which of the speeds is the flight's own, or that at which it passes `mach`; None if none is.
    """

    kind: str
    boundary: float
    ratios: Real
    motion: aeroelastic.Motion
    mach: float | None
    row: int
    flown: int | None


@dataclass(frozen=True, eq=False)
class _Start:
    """Where a motion is known: speed [m/s], frequency [rad/s] and shape."""

    speed: float
    oscillation: float
    shape: Complex


@dataclass(frozen=True, eq=False)
class _Candidate:
    """The candidate of a check that moves, in the air of its moment.

    `air` gives forces ``(n, n_k, m, m)`` at speeds ``(n,)`` of linear theory, `factor` what the
    verdict multiplies these speeds by, and `mach` the Mach number that is kept, if one is.
    """

    row: int
    flight: float
    frequency: Real
    density: float
    air: Callable[[Real], aeroelastic.AirForces]
    mach: float | None = None

    @property
    def factor(self) -> float:
        return 1.0 if self.mach is None else float(transonic_factor(self.mach))

    def shown(self, kind: str, start: _Start | None, boundary: float, top: float) -> Moving:
        """Return the motion around a boundary [m/s], up to `top` times its speed or to itself."""
        top = max(top, 1.0)
        flown = self.flight / boundary
        ratios = [ratio for ratio in (*BELOW, *ABOVE) if ratio <= top]
        if kind != "none" and ratios[-1] <= 1.0 and top > 1.0:
            ratios.append(top)
        if SLOWEST < flown < ratios[-1]:
            ratios = [ratio for ratio in ratios if abs(ratio - flown) > APART or ratio == 1.0]
            ratios += [flown] if abs(flown - 1.0) > APART else []
        shares = np.array(sorted(ratios))
        speeds = shares * boundary / self.factor
        forces = self.air(speeds)
        last = int(np.searchsorted(shares, 1.0))
        followed = np.ones(shares.size, dtype=bool)
        if start is None:
            at, start = 0, _Start(0.0, float(self.frequency[0]), np.eye(self.frequency.size)[0])
        else:
            at = last
        if kind == "divergence":
            # at the boundary it neither moves nor swings; beyond, its shape is that of the boundary
            followed[last] = False
        motion = aeroelastic.followed(
            replace(forces, forces=forces.forces[followed]),
            frequency=self.frequency,
            density=self.density,
            speeds=speeds[followed],
            start=at,
            oscillation=start.oscillation,
            shape=start.shape,
        )
        if kind == "divergence":
            leaning = start.shape / np.linalg.norm(start.shape)
            motion = aeroelastic.Motion(
                speeds,
                np.insert(motion.growth, last, 0.0),
                np.insert(motion.frequency, last, 0.0),
                np.insert(motion.shapes, last, leaning, axis=0),
            )
        # what swings faster than the air is known for is left out, unless that is all there is
        fit = motion.frequency <= forces.nodes[-1] * speeds
        first = int(np.flatnonzero(fit)[0]) if fit[: last + 1].any() else last
        keep = slice(min(first, last), None)
        shown = aeroelastic.Motion(
            speeds[keep], motion.growth[keep], motion.frequency[keep], motion.shapes[keep]
        )
        own = np.flatnonzero(np.abs(shares[keep] - flown) < 1e-9)
        place = int(own[0]) if own.size else None
        return Moving(kind, boundary, shares[keep], shown, self.mach, self.row, place)

    def fluttering(self) -> _Start | None:
        """Return the flutter of the Mach number that is kept, or None."""
        found = aeroelastic.flutter(
            self.air(np.ones(1)), frequency=self.frequency, density=self.density
        )
        if not np.isfinite(found.speed[0]):
            return None
        return _Start(float(found.speed[0]), float(found.frequency[0]), found.shape[0])

    def leaning(self, speed: float) -> _Start:
        """Return the shape into which the fin diverges at a speed [m/s]."""
        pressure = 0.5 * self.density * speed**2
        steady = self.air(np.array([speed])).forces[0, 0].real
        squares, shapes = np.linalg.eig(np.diag(self.frequency**2) - pressure * steady)
        static = np.abs(squares.imag) < 1e-9 * np.abs(squares).max()
        lowest = int(np.where(static, squares.real, np.inf).argmin())
        return _Start(speed, 0.0, shapes[:, lowest].real.astype(complex))


def moving(result: Check) -> Moving:
    """Return how a checked fin moves, in the air of its moment.

    Below Mach 0.9 each speed has the air of its own Mach number. Beyond, the air is kept at the
    Mach number that decides, and speeds are those of linear theory times its factor, as in the
    verdict.
    """
    row, stable, point = result.flutter_row, result.boundaries, result.point
    known = replace(stable.forces, forces=stable.forces.forces[row])
    sound = float(point.air.sound_speed)

    def in_flight(speeds: Real) -> aeroelastic.AirForces:
        return known.at_machs(np.minimum(speeds / sound, MACHS[-1]))

    def kept(mach: float) -> _Candidate:
        if mach > MACHS[-1]:
            one = forces_at(result.fin.planform, result.structure, known, row=row, mach=mach)
        else:
            one = known.at_machs(np.array([mach]))

        def air(speeds: Real) -> aeroelastic.AirForces:
            shape = (speeds.size, *one.forces.shape[1:])
            return replace(one, forces=np.broadcast_to(one.forces, shape))

        # a flight that goes on beyond a Mach number passes it at that Mach number's speed
        passed = min(point.speed, mach * sound)
        return replace(own, air=air, mach=mach, flight=passed)

    own = _Candidate(
        row, point.speed, result.structure.modes.frequency[row], float(point.air.density), in_flight
    )
    fast = stable.fast
    if fast is not None and fast.judged[row]:
        return _beyond(fast, kept, own)
    boundary = float(stable.flutter_speed[row])
    diverging = float(stable.divergence_speed[row]) if stable.divergence_found[row] else np.inf
    flutters = bool(stable.flutter_found[row])
    if not flutters and diverging > boundary:
        return own.shown("none", None, boundary, 1.0)
    if not flutters:
        return own.shown("divergence", own.leaning(boundary), boundary, np.inf)
    detail = stable.detail
    # shape and frequency are those of the Mach number that lies nearest
    solved = np.flatnonzero(np.isfinite(detail.speed[row]))
    if not solved.size:
        return own.shown("none", None, boundary, 1.0)
    place = int(solved[np.abs(MACHS[solved] - boundary / sound).argmin()])
    speed, oscillation = float(detail.speed[row, place]), float(detail.frequency[row, place])
    start = _Start(speed, oscillation, detail.shape[row, place])
    shown = own.shown("flutter", start, boundary, BEFORE_DIVERGENCE * diverging / boundary)
    if turns(shown):
        return shown
    # the verdict takes a boundary to begin as early as it may; then one that is solved is shown
    return kept(float(MACHS[place])).shown("flutter", start, speed, ABOVE[-1])


def _beyond(fast: HighSpeed, kept: Callable[[float], _Candidate], own: _Candidate) -> Moving:
    """Return the motion of a candidate that was judged beyond Mach 0.9."""
    row = own.row
    mach, boundary = float(fast.first_mach[row]), float(fast.first_ratio[row]) * own.flight
    if fast.first_bound[row]:
        return kept(mach).shown("none", None, boundary, 1.0)
    solved = fast.machs[np.isfinite(fast.first_by_mach[row])]
    near = solved[np.abs(solved - mach).argsort()].tolist()
    for each in (mach, *near):
        there = kept(each)
        pressure = aeroelastic.divergence_pressure(there.air(np.ones(1)), frequency=there.frequency)
        diverging = float(np.sqrt(2.0 * pressure[0] / there.density))
        start = there.fluttering()
        if start is not None and start.speed < diverging:
            top = BEFORE_DIVERGENCE * diverging / start.speed
            return there.shown("flutter", start, start.speed * there.factor, top)
        if np.isfinite(diverging):
            start = there.leaning(diverging)
            return there.shown("divergence", start, diverging * there.factor, np.inf)
    return kept(mach).shown("none", None, boundary, 1.0)


def turns(moving: Moving) -> bool:
    """Return whether a motion dies away below the boundary and grows above it."""
    growth, frequency = moving.motion.growth, moving.motion.frequency
    below, above = moving.ratios < 1.0 - APART, moving.ratios > 1.0
    at = np.abs(moving.ratios - 1.0).argmin()
    return bool(
        (growth[below] < 0.0).all()
        and above.any()
        and growth[above][0] > 0.0
        and abs(growth[at]) < AT_BOUNDARY * max(float(frequency[at]), float(abs(growth[above][0])))
    )
