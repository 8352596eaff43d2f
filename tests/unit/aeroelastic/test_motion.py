"""A mode followed over speed, against closed forms, the boundary's solver and the other p-k one."""

import math

import numpy as np
import pytest

from calc import aeroelastic, materials
from calc.fin import model
from calc.fin.fin import Fin
from calc.geometry.planform import Planform
from tests.damping import damping_curves

OUTLINE = Planform(root=0.15, tip=0.06, span=0.09, sweep=0.07)
FINS = [
    Fin(OUTLINE, materials.load(name), thickness, math.radians(grain))
    for name, thickness, grain in (
        ("birch-plywood", 0.0016, 0.0),
        ("birch-plywood", 0.0032, 30.0),
        ("balsa", 0.0024, 0.0),
        ("balsa", 0.0048, -20.0),
        ("polycarbonate", 0.002, 0.0),
    )
]
DENSITY = 1.2
RATIOS = np.array([0.7, 0.8, 0.9, 0.95, 1.0, 1.03])


def in_one_air(forces: aeroelastic.AirForces, mach: int, count: int) -> aeroelastic.AirForces:
    """Return one candidate's forces at one Mach number for each of several speeds."""
    own = np.broadcast_to(forces.forces[mach], (count, *forces.forces.shape[-3:]))
    return aeroelastic.AirForces(
        np.full(count, forces.machs[mach]), forces.nodes, forces.scale, own
    )


def fluttering() -> list[tuple[aeroelastic.AirForces, np.ndarray, aeroelastic.Flutter, int, int]]:
    """Return what flutters before it diverges: forces, frequencies, flutter, row and Mach."""
    shape = model.model_for(FINS[0])
    found = model.structure(shape, [fin.layup() for fin in FINS], [fin.direction for fin in FINS])
    forces = shape.air.on_modes(found.system.basis, found.modes.shapes)
    result = aeroelastic.flutter(forces, frequency=found.modes.frequency, density=DENSITY)
    pressure = aeroelastic.divergence_pressure(forces, frequency=found.modes.frequency)
    before = 0.5 * DENSITY * (1.03 * result.speed) ** 2 < pressure
    resolved = result.wavenumber < 0.6 * forces.nodes[-1]
    return [
        (
            aeroelastic.AirForces(forces.machs, forces.nodes, forces.scale, forces.forces[row]),
            found.modes.frequency[row],
            result,
            int(row),
            int(mach),
        )
        for row, mach in np.argwhere(before & resolved)
    ]


CASES = fluttering()


def motion(case: tuple, ratios: np.ndarray = RATIOS) -> aeroelastic.Motion:
    """Return the flutter mode of a case around its boundary."""
    forces, frequency, result, row, mach = case
    return aeroelastic.followed(
        in_one_air(forces, mach, ratios.size),
        frequency=frequency,
        density=DENSITY,
        speeds=ratios * result.speed[row, mach],
        start=int(np.abs(ratios - 1.0).argmin()),
        oscillation=float(result.frequency[row, mach]),
        shape=result.shape[row, mach],
    )


def test_there_is_something_to_follow() -> None:
    """The tests below have several materials and Mach numbers to try."""
    assert len(CASES) >= 8
    assert len({case[3] for case in CASES}) >= 3


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"fin {case[3]}, Mach {case[4]}")
def test_growth_turns_at_the_boundary(case: tuple) -> None:
    """The flutter mode dies away below the solver's boundary, stands at it and grows above."""
    _, _, result, row, mach = case
    found = motion(case)
    assert (found.growth[:4] < 0.0).all()
    assert abs(found.growth[4]) < 1e-4 * found.frequency[4]
    assert found.growth[5] > 0.0
    assert found.frequency[4] == pytest.approx(result.frequency[row, mach], rel=1e-4)
    same = np.abs(found.shapes[4].conj() @ result.shape[row, mach])
    assert same == pytest.approx(np.linalg.norm(result.shape[row, mach]), rel=1e-4)


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"fin {case[3]}, Mach {case[4]}")
def test_one_mode_is_followed_without_a_jump(case: tuple) -> None:
    """Half the step of speed halves the change of frequency and growth, which a jump would not."""
    ratios = np.linspace(0.75, 1.03, 57)
    found, fine = motion(case, ratios), motion(case, np.linspace(0.75, 1.03, 113))
    for name in ("frequency", "growth"):
        steps, halves = (
            np.abs(np.diff(getattr(each, name)) / each.frequency[1:]).max()
            for each in (found, fine)
        )
        assert halves < 0.65 * steps
    alike = np.abs(np.sum(found.shapes[1:].conj() * found.shapes[:-1], axis=1))
    assert alike.min() > 0.98
    coarse = motion(case, ratios[::8])
    assert coarse.growth == pytest.approx(found.growth[::8], abs=1e-3 * found.frequency.max())


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"fin {case[3]}, Mach {case[4]}")
def test_the_root_is_one_of_the_whole_solution(case: tuple) -> None:
    """Away from the boundary too the root is among those that a search of all roots finds."""
    forces, frequency, *_, mach = case
    found = motion(case)
    curves = damping_curves(
        forces,
        mach_index=mach,
        frequency=frequency,
        density=DENSITY,
        speeds=found.speeds,
        count=60,
    )
    every = curves.frequency * (curves.damping + 1j * np.sqrt(1.0 - curves.damping**2))
    own = found.growth + 1j * found.frequency
    off = np.nanmin(np.abs(every - own[:, None]), axis=1)
    assert (off < 1e-3 * np.abs(own)).all()


def plain(forces: list[list[complex]], slope: list[list[complex]]) -> aeroelastic.AirForces:
    """Return forces that grow in proportion to the wavenumber, at one speed."""
    nodes = np.array([0.0, 1.0, 2.0])
    matrices = np.array(forces) + nodes[:, None, None] * np.array(slope)
    # the interpolation variable bends the wavenumber; a large scale straightens it
    return aeroelastic.AirForces(np.array([0.0]), nodes, 1e9, matrices[None])


def test_divergence_grows_without_swinging() -> None:
    """Steady air stronger than the spring: ``p = sqrt(q Q - omega^2)``, and no oscillation."""
    found = aeroelastic.followed(
        plain([[1.0, 0.0], [0.0, 0.0]], [[0.0, 0.0], [0.0, 0.0]]),
        frequency=np.array([10.0, 30.0]),
        density=2.0,
        speeds=np.array([50.0]),
        start=0,
        oscillation=0.0,
        shape=np.array([1.0, 0.0], dtype=complex),
    )
    assert found.growth[0] == pytest.approx(math.sqrt(50.0**2 - 10.0**2))
    assert found.frequency[0] == 0.0


def test_damping_of_one_mode_by_the_air() -> None:
    """Air that resists velocity: ``p^2 + omega^2 + i q d k = 0`` with ``k = Im p / U``, by hand."""
    omega, speed, damping = 30.0, 25.0, 0.05
    found = aeroelastic.followed(
        plain([[0.0]], [[-1j * damping]]),
        frequency=np.array([omega]),
        density=2.0,
        speeds=np.array([speed]),
        start=0,
        oscillation=omega,
        shape=np.array([1.0 + 0j]),
    )
    p = complex(found.growth[0], found.frequency[0])
    assert abs(p**2 + omega**2 + 1j * speed * damping * p.imag) < 1e-3 * omega**2
    assert p.real == pytest.approx(-0.5 * speed * damping, rel=1e-3)
