"""The supersonic lifting surface against itself on finer lattices, and over Mach number.

The usual lattice has about 450 boxes, those beside the fin included, in 25 to 60 rows, and a
second one of 0.6 as many columns serves the extrapolation.
"""

from typing import Any

import numpy as np
import pytest

from calc.air import mach_box
from calc.geometry.planform import Planform

FIN = Planform(root=1.0, tip=0.5, span=0.5, sweep=0.5)
SWEPT_BACK = Planform(root=1.0, tip=0.66, span=1.364, sweep=1.449)
FORWARD = Planform(root=1.0, tip=0.6, span=0.6, sweep=-0.3)
POINTED = Planform(root=1.0, tip=0.0, span=0.7, sweep=1.0)
FINE = 4000


@pytest.mark.parametrize("mach", [1.07, 1.2, 1.5, 2.0, 3.0])
@pytest.mark.parametrize("fin", [FIN, SWEPT_BACK, FORWARD, POINTED])
def test_steady_lift_on_the_usual_lattice(fin: Planform, mach: float) -> None:
    """The usual lattice is within 1.5 % of a fine one in lift, 1 % of the root chord in its place.

    With supersonic edges it is within 0.1 %; swept-forward subsonic edges are the worst.
    """
    usual = mach_box.lift_slope(fin, mach=mach)
    fine = mach_box.lift_slope(fin, mach=mach, boxes=FINE)
    assert usual.slope == pytest.approx(fine.slope, rel=0.015)
    assert usual.x == pytest.approx(fine.x, abs=0.01 * fin.root)
    assert usual.y == pytest.approx(fine.y, abs=0.01 * fin.span)


def motions(fin: Planform) -> tuple[Any, Any]:
    """Return bending, twist, second bending and chordwise bending, clamped at the root."""

    def values(points: np.ndarray) -> np.ndarray:
        out = points[:, 1] / fin.span
        x = points[:, 0] / fin.root - 0.5
        return np.stack([out**2, out * x, out**2 * (out - 0.8), out**2 * (x**2 - 0.2)], axis=1)

    def slopes(points: np.ndarray) -> np.ndarray:
        out = points[:, 1] / fin.span
        x = points[:, 0] / fin.root - 0.5
        none = np.zeros_like(x)
        along = np.stack([none, out, none, 2.0 * out**2 * x], axis=1) / fin.root
        return np.stack([along, along])

    return values, slopes


@pytest.mark.parametrize("mach", [1.1, 1.3, 2.0, 3.0])
@pytest.mark.parametrize("fin", [FIN, SWEPT_BACK, FORWARD, POINTED])
def test_unsteady_forces_on_the_usual_lattice(fin: Planform, mach: float) -> None:
    """Forces of four motions at omega root/U = 0, 0.25 and 0.5 within 3 % of their row's largest.

    At Mach 1.1 it is 5 %, for waves against the stream are short there, and 9 % for the leading
    edge swept forward near the Mach line.
    """
    k = [0.0, 0.25, 0.5]
    promised = 0.03
    if mach < 1.2:
        promised = 0.09 if fin is FORWARD else 0.05
    usual = mach_box.generalised_forces(fin, *motions(fin), mach=mach, wavenumbers=k)
    fine = mach_box.generalised_forces(fin, *motions(fin), mach=mach, wavenumbers=k, boxes=FINE)
    largest = np.abs(fine).max(axis=2, keepdims=True)
    assert np.all(np.abs(usual - fine) < promised * largest)


@pytest.mark.parametrize("mach", [1.06, 1.1, 1.3])
def test_highest_wavenumber(mach: float) -> None:
    """Up to the highest wavenumber forces are within 10 % of their row's largest."""
    columns = mach_box.columns_for(SWEPT_BACK, mach=mach)
    k = [mach_box.highest_wavenumber(mach_box.lattice(SWEPT_BACK, mach=mach, columns=columns))]
    shapes = motions(SWEPT_BACK)
    usual = mach_box.generalised_forces(SWEPT_BACK, *shapes, mach=mach, wavenumbers=k)
    fine = mach_box.generalised_forces(SWEPT_BACK, *shapes, mach=mach, wavenumbers=k, boxes=FINE)
    assert np.all(np.abs(usual - fine) < 0.1 * np.abs(fine).max(axis=2, keepdims=True))


@pytest.mark.parametrize("mach", [1.2, 2.0, 3.0])
def test_extrapolation_pays(mach: float) -> None:
    """Two lattices together err less than half as much as the finer one alone."""
    k, shapes = np.array([0.5]), motions(FIN)
    fine = mach_box.generalised_forces(FIN, *shapes, mach=mach, wavenumbers=k, boxes=FINE)
    both = mach_box.generalised_forces(FIN, *shapes, mach=mach, wavenumbers=k)
    columns = mach_box.columns_for(FIN, mach=mach)
    one = mach_box.lattice(FIN, mach=mach, columns=columns)
    parts, at = mach_box.pieces(one), mach_box.control_points(one)
    wash = shapes[1](at)[0] + 1j * k[:, None, None] * shapes[0](at)
    lift = mach_box.lifts(one, parts, wavenumbers=k, normalwash=wash)
    alone = shapes[0](parts.points).T @ lift
    assert np.linalg.norm(both - fine) < 0.5 * np.linalg.norm(alone - fine)


@pytest.mark.parametrize("fin", [FIN, SWEPT_BACK, FORWARD, POINTED])
def test_no_staircase_over_mach_number(fin: Planform) -> None:
    """From one Mach number to the next, 1 % higher, lift and its place move by less than 5 %.

    Nor do they jump back and forth: the change of the step stays below 5 % too.
    """
    machs = np.exp(np.arange(np.log(1.05), np.log(1.8), 0.01))
    found = np.array([mach_box.lift_slope(fin, mach=mach) for mach in machs])
    step = np.diff(np.log(found[:, 0]))
    assert np.abs(step).max() < 0.05
    assert np.abs(np.diff(step)).max() < 0.05
    assert np.abs(np.diff(found[:, 1])).max() < 0.05 * fin.root
    assert np.abs(np.diff(found[:, 2])).max() < 0.02 * fin.span


def test_points_are_enough() -> None:
    """Forces through the usual 6 by 8 points are those of the boxes themselves, within 0.2 %."""
    k = np.array([0.0, 1.0])

    def values(points: np.ndarray) -> np.ndarray:
        out = points[:, 1:] / FIN.span
        return out**2 * np.cos(np.array([0.0, 2.0, 4.0]) * (points[:, :1] + out))

    def slopes(points: np.ndarray) -> np.ndarray:
        out = points[:, 1:] / FIN.span
        turn = np.array([0.0, 2.0, 4.0])
        along = -turn * out**2 * np.sin(turn * (points[:, :1] + out))
        return np.stack([along, along])

    direct = mach_box.generalised_forces(FIN, values, slopes, mach=1.5, wavenumbers=k)
    at = mach_box.points(FIN)
    matrices = mach_box.response(FIN, machs=[1.5], wavenumbers=k)[0]
    wash = slopes(at)[0] + 1j * k[:, None, None] * values(at)
    through = values(at).T @ (matrices @ wash)
    assert np.all(np.abs(through - direct) < 0.002 * np.abs(direct).max(axis=2, keepdims=True))
