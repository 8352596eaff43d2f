"""The lifting surface against itself on finer lattices."""

import numpy as np
import pytest

from calc.air import lifting_surface as surface
from calc.geometry.planform import Planform

FINS = [
    Planform(root=1.0, tip=0.5, span=0.5, sweep=0.5),
    Planform(root=1.0, tip=0.4, span=0.8, sweep=0.3),
    Planform(root=1.0, tip=1.0, span=1.0, sweep=0.0),
]


@pytest.mark.parametrize("fin", FINS)
def test_steady_lift_on_the_usual_lattice(fin: Planform) -> None:
    """The 6 x 8 lattice is within 0.5 % of 24 x 32 in lift and 0.5 % of root chord in centre."""
    usual = surface.lift_slope(surface.mesh(fin), mach=0.5)
    fine = surface.lift_slope(surface.mesh(fin, chordwise=24, spanwise=32), mach=0.5)
    assert usual.slope == pytest.approx(fine.slope, rel=0.005)
    assert usual.x == pytest.approx(fine.x, abs=0.005 * fin.root)
    assert usual.y == pytest.approx(fine.y, abs=0.005 * fin.root)


def test_tip_inset_speeds_convergence() -> None:
    """Stopping a quarter strip short of the tip cuts the coarse lattice's error tenfold."""
    fine = surface.lift_slope(surface.mesh(FINS[0], chordwise=24, spanwise=32), mach=0.0).slope
    error = [
        abs(surface.lift_slope(surface.mesh(FINS[0], tip_inset=inset), mach=0.0).slope - fine)
        for inset in (0.25, 0.0)
    ]
    assert error[0] < 0.1 * error[1]


def forces(fin: Planform, *, boxes: tuple[int, int], mach: float, k: float) -> np.ndarray:
    """Generalised forces of heave, pitch, bending and twist at omega/U = k."""
    lattice = surface.mesh(fin, chordwise=boxes[0], spanwise=boxes[1])

    def shapes(points: np.ndarray) -> np.ndarray:
        x, y = points.T
        return np.stack([np.ones_like(x), x - 0.5, y**2, y * (x - 0.5)], axis=1)

    def slopes(points: np.ndarray) -> np.ndarray:
        x, y = points.T
        return np.stack([np.zeros_like(x), np.ones_like(x), np.zeros_like(x), y], axis=1)

    wash = slopes(lattice.control_points) + 1j * k * shapes(lattice.control_points)
    load = np.linalg.solve(surface.influence(lattice, mach=mach, wavenumbers=k)[0], wash)
    return shapes(lattice.load_points).T @ (load * lattice.areas[:, None])


@pytest.mark.parametrize("mach", [0.0, 0.5, 0.8])
@pytest.mark.parametrize("fin", FINS[:2])
def test_unsteady_forces_on_the_usual_lattice(fin: Planform, mach: float) -> None:
    """Forces of four motions at omega root/U = 0.6: the 6 x 8 lattice within 6 % of 18 x 24.

    Heave and bending are within 2 %; twist, the worst, is 4 % at Mach 0 and 6 % at Mach 0.8.
    """
    fine = forces(fin, boxes=(18, 24), mach=mach, k=0.6)
    usual = forces(fin, boxes=(6, 8), mach=mach, k=0.6)
    scale = np.sqrt(np.outer(np.abs(np.diag(fine)), np.abs(np.diag(fine))))
    assert np.all(np.abs(usual - fine) < 0.06 * np.maximum(scale, np.abs(fine)))


def test_error_falls_with_the_box() -> None:
    """Halving the boxes at least halves the error of the unsteady forces."""
    finest = forces(FINS[0], boxes=(24, 32), mach=0.5, k=1.0)
    coarse = np.abs(forces(FINS[0], boxes=(3, 4), mach=0.5, k=1.0) - finest).max()
    middle = np.abs(forces(FINS[0], boxes=(6, 8), mach=0.5, k=1.0) - finest).max()
    fine = np.abs(forces(FINS[0], boxes=(12, 16), mach=0.5, k=1.0) - finest).max()
    assert middle < 0.5 * coarse
    assert fine < 0.5 * middle
