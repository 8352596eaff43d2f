"""Steady air load on a fin, with the twist that it makes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from calc import aeroelastic
from calc.fin.fin import Point
from calc.fin.model import FAST_MACHS, MACHS, Model, Structure, air_at, blend
from calc.structure import plate

Real = NDArray[np.float64]

MAX_DIVERGENCE_FRACTION = 0.8
"""Share of the divergence pressure up to which the root's load is followed. Twist grows without
limit beyond; a fin with the margin required of divergence stays below it (1 / 1.15^2 = 0.76)."""


@dataclass(frozen=True, eq=False)
class AirLoad:
    """Fins under steady air load, one for each candidate and moment."""

    coefficients: Real
    """``(q, n)`` the fin's shape: plate basis amplitudes [m]."""
    moment: Real
    """``(q,)`` about the root line [N m]."""
    shear: Real
    """``(q,)`` force across the root [N]."""
    near_divergence: NDArray[np.bool_]
    """``(q,)`` True where the twist was only followed up to `MAX_DIVERGENCE_FRACTION` of the
    divergence pressure."""


@dataclass(frozen=True, eq=False)
class _Steady:
    """Steady lift over dynamic pressure at ``(n_m,)`` Mach numbers, on a plate's basis.

    `follows` is the force on each function per amplitude of another, `rigid` that of an angle of
    attack of one; `moment` and `shear` are those of the whole lift, per amplitude and last of the
    angle.
    """

    follows: Real
    """``(n_m, n, n)`` [m2 over m2]."""
    rigid: Real
    """``(n_m, n)``."""
    moment: Real
    """``(n_m, n + 1)``."""
    shear: Real
    """``(n_m, n + 1)``."""

    def blended(self, weights: Real) -> _Steady:
        """Return the same at other Mach numbers, by weights ``(n, n_m)``."""
        return _Steady(
            *(
                np.tensordot(weights, part, axes=1)
                for part in (self.follows, self.rigid, self.moment, self.shear)
            )
        )


@lru_cache(maxsize=32)
def _steady(grid: aeroelastic.AirGrid, basis: plate.Basis) -> _Steady:
    """Return the steady lift of a grid on a basis at its Mach numbers."""
    at_loads, slopes = grid.basis_shapes(basis)
    response = grid.response[:, 0].real
    lift = np.concatenate([response @ slopes, -response.sum(axis=-1, keepdims=True)], axis=-1)
    turned = at_loads.T @ lift
    return _Steady(
        follows=turned[..., :-1],
        rigid=turned[..., -1],
        moment=grid.load_points[:, 1] @ lift,
        shear=lift.sum(axis=-2),
    )


def _steady_at(shape: Model, basis: plate.Basis, machs: Real) -> _Steady:
    """Return the steady lift at any Mach numbers, each in the air of its own side of Mach 1."""
    slow = _steady(shape.air, basis)
    weights = aeroelastic.lagrange(
        np.square(np.minimum(machs, aeroelastic.SUBSONIC_LIMIT)), np.square(MACHS)
    )
    out = slow.blended(weights)
    # straight from Mach 0.9 to the first supersonic one: wide fins rise too steeply toward Mach 1
    nodes = (aeroelastic.SUBSONIC_LIMIT, *(mach for mach in FAST_MACHS if mach > 1.0))
    for place in np.flatnonzero(machs > aeroelastic.SUBSONIC_LIMIT).tolist():
        parts = [
            (
                slow.blended(np.eye(MACHS.size)[-1:])
                if node == 0
                else _steady(air_at(shape.planform, nodes[node]), basis),
                weight,
            )
            for node, weight in blend(min(float(machs[place]), nodes[-1]), nodes)
        ]
        for name in ("follows", "rigid", "moment", "shear"):
            getattr(out, name)[place] = sum(
                weight * getattr(part, name)[0] for part, weight in parts
            )
    return out


def air_load(
    shape: Model, found: Structure, rows: Sequence[int], points: Sequence[Point]
) -> AirLoad:
    """Return the air load on some candidates, each at a moment, with the twist that it makes.

    ``(K - q Q) x = q a L``: the air's stiffness is taken off the plate's. Beyond
    `MAX_DIVERGENCE_FRACTION` of the divergence pressure of this same air the load grows with
    dynamic pressure only.
    """
    row = np.asarray(rows)
    machs, back = np.unique(np.array([point.mach for point in points]), return_inverse=True)
    air = _steady_at(shape, found.system.basis, machs)
    follows = air.follows[back]
    modes, stiffness = found.modes.shapes[row], found.modes.frequency[row] ** 2
    turned = np.linalg.eigvals(np.swapaxes(modes, -1, -2) @ follows @ modes / stiffness[..., None])
    size = np.abs(turned).max(axis=-1, keepdims=True)
    real = np.where(np.abs(turned.imag) < 1e-9 * size, turned.real, 0.0).max(axis=-1)
    most = MAX_DIVERGENCE_FRACTION / np.maximum(real, 1e-30)
    asked = np.array([point.pressure for point in points])
    pressure = np.minimum(asked, most)
    attack = np.array([point.attack for point in points])
    softened = replace(
        found.system,
        stiffness=found.system.stiffness[row] - pressure[:, None, None] * follows,
    )
    load = attack[:, None] * air.rigid[back]
    coefficients = asked[:, None] * plate.static(softened, load=load)

    def whole(part: Real) -> Real:
        """Return the lift's moment or shear."""
        own = part[back]
        twisted = np.sum(own[:, :-1] * coefficients, axis=-1)
        return np.asarray(asked * attack * own[:, -1] + pressure * twisted)

    return AirLoad(
        coefficients=coefficients,
        moment=whole(air.moment),
        shear=whole(air.shear),
        near_divergence=asked > most,
    )


PASSED: tuple[float, ...] = (0.95, 1.0, 1.05, 1.1, 1.15, 1.25, 1.4, 1.7)
"""Mach numbers of the passage at which the root's load is looked at too: lift per angle may fall
faster with Mach number than dynamic pressure grows."""


def passage(point: Point) -> list[Point]:
    """Return the moment and those of `PASSED` that a flight meets before it in the same air."""
    sound = float(point.air.sound_speed)
    return [point, *(replace(point, speed=mach * sound) for mach in PASSED if mach < point.mach)]


@dataclass(frozen=True, eq=False)
class PassingLoad:
    """The load of one candidate at a moment, and those harder ones that it passed before."""

    coefficients: Real
    """``(1 or more, n)``, the moment itself first."""
    moment: Real
    shear: Real


def passing_loads(
    shape: Model, found: Structure, rows: Sequence[int], points: Sequence[Point]
) -> tuple[PassingLoad, ...]:
    """Return the air load on candidates, each at a moment, with what its passage of Mach 1 adds.

    What was passed is kept where its moment about the root is larger than that of the moment.
    """
    met = [passage(point) for point in points]
    place = np.repeat(np.arange(len(met)), [len(moments) for moments in met])
    load = air_load(
        shape, found, np.asarray(rows)[place].tolist(), [one for each in met for one in each]
    )
    first = np.searchsorted(place, np.arange(len(met)))
    kept = load.moment > load.moment[first][place]
    kept[first] = True
    return tuple(
        PassingLoad(load.coefficients[own], load.moment[own], load.shear[own])
        for own in (np.flatnonzero(kept & (place == index)) for index in range(len(met)))
    )
