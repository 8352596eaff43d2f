"""The first instability met in flight against a fine scan of the same lattice over Mach number."""

import functools
import math
from dataclasses import dataclass

import numpy as np
import pytest

from calc import aeroelastic
from calc.air import lifting_surface
from calc.fin import boundaries, model
from calc.geometry.planform import Planform
from tests.convergence.random_fins import fins

OUTLINES, FINS = 25, 80
MACHS = np.linspace(0.0, aeroelastic.SUBSONIC_LIMIT, 16)
WAVENUMBERS, CLOSE = 44, 400
"""Wavenumbers of the scan, and of a closer one of the few fins for which it matters."""
LATE = 1.01
HARD = 0.02
"""Structural damping coefficient that does not take a flutter away which counts here. Coarse
lattices show fainter growth in high modes where finer ones show none."""


@dataclass(frozen=True, eq=False)
class Family:
    """Fins of one outline in one air: what is reported, and what a fine scan finds."""

    outline: Planform
    found: model.Structure
    density: float
    sound: float
    stable: boundaries.AeroelasticBoundaries
    flutter: np.ndarray
    divergence: np.ndarray

    @property
    def reported(self) -> np.ndarray:
        """Speed of the first instability reported, or the end of the range."""
        return np.minimum(self.stable.flutter_speed, self.stable.divergence_speed)


def lattice(outline: Planform, machs: np.ndarray) -> aeroelastic.AirGrid:
    """Return the air's answer by the lattice of a check at any Mach numbers."""
    mesh = lifting_surface.mesh(
        outline, chordwise=model.CHORDWISE, spanwise=model.SPANWISE, tip_inset=0.0
    )
    nodes, scale = aeroelastic.node_wavenumbers(outline.mean_chord, highest=1.0)
    return aeroelastic.air_grid(
        influence=lifting_surface.influence(mesh, mach=machs, wavenumbers=nodes),
        areas=mesh.areas,
        load_points=mesh.load_points,
        control_points=mesh.control_points,
        machs=machs,
        nodes=nodes,
        scale=scale,
    )


def hard_flutter(
    forces: np.ndarray, frequency: np.ndarray, k: np.ndarray, rho: float
) -> np.ndarray:
    """Return the lowest flutter speed by plain scanning, infinite where there is none.

    Eigenvalues of the V-g problem at every wavenumber ``k`` (descending), joined to branches by
    nearness to where each was heading. `forces` are ``(p, w, m, m)``, `frequency` ``(p, m)``.
    """
    count, steps, m = forces.shape[:3]
    stiff = frequency[:, None, :, None] ** 2
    mu = np.linalg.eigvals((k[:, None, None] ** 2 * np.eye(m) + 0.5 * rho * forces) / stiff)
    every = np.arange(count)
    for step in range(1, steps):
        before, now = mu[:, step - 1], mu[:, step].copy()
        heading = before if step == 1 else 2.0 * before - mu[:, step - 2]
        apart = np.abs(heading[:, :, None] - now[:, None, :])
        apart /= np.abs(before)[:, :, None] + np.abs(now)[:, None, :]
        for _ in range(m):
            branch, root = np.divmod(apart.reshape(count, -1).argmin(axis=1), m)
            mu[every, step, branch] = now[every, root]
            apart[every, branch, :] = np.inf
            apart[every, :, root] = np.inf
    positive = mu.real > 0.0
    needed = np.where(positive, mu.imag / np.where(positive, mu.real, 1.0), -1.0)
    most, peak = np.zeros((count, m)), np.zeros_like(needed)
    for step in range(steps - 1, -1, -1):
        most = np.where(needed[:, step] > 0.0, np.maximum(most, needed[:, step]), 0.0)
        peak[:, step] = most
    here, there = needed[:, :-1], needed[:, 1:]
    onset = (here <= 0.0) & (there > 0.0) & (peak[:, 1:] > HARD)
    onset &= positive[:, 1:] & positive[:, :-1]
    part = here / np.where(onset, here - there, 1.0)
    met = mu.real[:, :-1] + part * np.diff(mu.real, axis=1)
    highest = np.where(onset, met, 0.0).max(axis=(1, 2))
    return np.where(highest > 0.0, 1.0 / np.sqrt(np.where(highest > 0.0, highest, 1.0)), np.inf)


def divergence(steady: np.ndarray, frequency: np.ndarray, rho: float) -> np.ndarray:
    """Return the divergence speed of ``(p, m, m)`` steady forces, infinite where there is none."""
    values = np.linalg.eigvals(steady / frequency[:, :, None] ** 2)
    real = np.abs(values.imag) < 1e-9 * np.abs(values).max(axis=-1, keepdims=True)
    largest = np.where(real, values.real, 0.0).max(axis=-1)
    with np.errstate(divide="ignore"):
        return np.sqrt(2.0 / (rho * np.maximum(largest, 0.0)))


def scan(
    air: aeroelastic.AirGrid,
    found: model.Structure,
    density: float,
    wanted: np.ndarray,
    *,
    count: int = WAVENUMBERS,
) -> tuple[np.ndarray, np.ndarray]:
    """Return flutter and divergence speeds ``(c, n_m)``; NaN for flutter that is not wanted."""
    forces = air.on_modes(found.system.basis, found.modes.shapes)
    top = air.nodes[-1] / (air.nodes[-1] + air.scale)
    s = np.linspace(top, 0.004, count)
    k = air.scale * s / (1.0 - s)
    row, place = np.nonzero(wanted)
    flutters = np.full(wanted.shape, np.nan)
    frequency = found.modes.frequency
    flutters[row, place] = hard_flutter(forces.at(k)[row, place], frequency[row], k, density)
    diverges = np.stack(
        [
            divergence(forces.forces[:, index, 0].real, frequency, density)
            for index in range(air.machs.size)
        ],
        axis=1,
    )
    return flutters, diverges


@functools.cache
def families() -> tuple[Family, ...]:
    """Return random fins with what is reported of them and what a fine scan finds."""
    random = np.random.default_rng(20240607)
    out = []
    for _ in range(OUTLINES):
        shape, found, air = fins(random, FINS)
        outline = shape.planform
        density, sound = float(air.density), float(air.sound_speed)
        stable = boundaries.flutter_and_divergence(shape, found, air)
        reported = np.minimum(stable.flutter_speed, stable.divergence_speed)
        # what comes later than reported is not asked for, but for one Mach number beyond
        wanted = np.roll(MACHS, 1) < reported[:, None] / sound
        wanted[:, 0] = True
        out.append(
            Family(
                outline,
                found,
                density,
                sound,
                stable,
                *scan(lattice(outline, MACHS), found, density, wanted),
            )
        )
    return tuple(out)


def crossing(speeds: np.ndarray, sound: float) -> np.ndarray:
    """Return the speed at which flights meet boundaries ``(c, n_m)``, infinite where they do not.

    Between the Mach numbers (a/U)^2 runs straight over M^2.
    """
    x = np.linspace(0.0, MACHS[-1], 3000) ** 2
    reserve = np.nan_to_num((sound / speeds) ** 2)
    out = np.full(speeds.shape[0], np.inf)
    for row, own in enumerate(reserve):
        unstable = x * np.interp(x, MACHS**2, own) >= 1.0
        if unstable.any():
            out[row] = math.sqrt(x[unstable.argmax()]) * sound
    return out


def late(family: Family) -> list[tuple[float, float]]:
    """Return speeds reported above 1.01 times a flight already beyond a boundary, with that flight.

    Fins that the scan and the line between its Mach numbers accuse are scanned again, closer in
    wavenumber and at the Mach number of the speed reported too.
    """
    speeds, reported = np.fmin(family.flutter, family.divergence), family.reported
    out = []
    for row in np.flatnonzero(crossing(speeds, family.sound) < reported / LATE):
        machs = np.append(MACHS, reported[row] / LATE / family.sound)
        machs = np.unique(machs[machs <= machs[-1]])
        one = model.structure(
            model.model(family.outline), [family.found.layups[row]], [family.found.angles[row]]
        )
        every = np.ones((1, machs.size), dtype=bool)
        flutters, diverges = scan(
            lattice(family.outline, machs), one, family.density, every, count=CLOSE
        )
        boundary = np.minimum(flutters, diverges)[0]
        beyond = np.flatnonzero(boundary < machs * family.sound * (1.0 - 1e-6))
        if beyond.size:
            out.append((float(reported[row]), float(machs[beyond[0]] * family.sound)))
    return out


def test_first_speed_is_never_late() -> None:
    """No first speed, found or "at least", is above 1.01 times the first of the fine scan.

    2000 random fins. The scan counts flutter that 2 % of structural damping does not take away.
    In three other draws none, two and five fins of 2000 were late, six of these by little more
    than 1 % and one by 18 %: it flutters at the highest wavenumber, where no margin is promised.
    """
    assert sum(family.reported.size for family in families()) >= 2000
    assert [case for family in families() for case in late(family)] == []


def test_first_speed_is_seldom_early() -> None:
    """Of the fins whose scan finds a boundary, 95 in 100 are reported at most 3 % early."""
    early, count = 0, 0
    for family in families():
        fine = crossing(np.fmin(family.flutter, family.divergence), family.sound)
        met = np.isfinite(fine)
        count += int(met.sum())
        early += int((family.reported[met] < 0.97 * fine[met]).sum())
    assert count > 1000
    assert early < 0.05 * count


def test_kind_is_that_of_the_scan() -> None:
    """What is reported as divergence diverges, and divergence that comes first is reported.

    Within 3 %, because the speed reported may be early where flutter is about to take over.
    """
    checked = 0
    for family in families():
        stable = family.stable
        diverges = crossing(family.divergence, family.sound)
        says = stable.divergence_found & ~stable.flutter_found
        assert diverges[says] == pytest.approx(stable.divergence_speed[says], rel=0.03)
        first = diverges < 0.97 * crossing(family.flutter, family.sound)
        near_end = diverges > 0.99 * MACHS[-1] * family.sound
        # growth that the scan does not count may come before
        early = stable.flutter_found & (stable.flutter_speed < 0.99 * diverges)
        assert np.all(says | ~first | near_end | early)
        checked += int(says.sum())
    assert checked > 300


def test_coarse_speeds_are_near() -> None:
    """While a drawing is dragged, 96 speeds in 100 are within 3 % and 99 within 10 %."""
    random = np.random.default_rng(20250308)
    off = []
    for _ in range(OUTLINES):
        shape, found, air = fins(random, FINS)
        full = boundaries.flutter_and_divergence(shape, found, air)
        with boundaries.coarsely():
            coarse = boundaries.flutter_and_divergence(shape, found, air)
        ratio = np.minimum(coarse.flutter_speed, coarse.divergence_speed) / np.minimum(
            full.flutter_speed, full.divergence_speed
        )
        off.append(np.abs(ratio - 1.0))
    every = np.concatenate(off)
    assert (every > 0.03).mean() < 0.04
    assert (every > 0.1).mean() < 0.01
    assert (every > 1e-6).any(), "nothing was left out"
