"""Does the root carry it: bending and twist of the fin under air load and hands.

Loads act on the same plate that flutters, so a soft fin that twists into the wind carries more
than a stiff one. Stresses come from the plate's curvatures along the root, scaled so that their
moment balances the load's exactly, and are judged ply by ply.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from calc import layup as layups
from calc import plate
from calc.planform import Edge, Planform, thickness_fraction

Real = NDArray[np.float64]

SQUARE = Edge("square")
ROOT_STATIONS = 25
WINDOW = 0.15
"""Share of the root chord over which the peak is averaged.

A clamped plate's stress is singular at the ends of the clamp in linear theory; a wooden root
yields and glue rounds the corner. Averaging over a short length is common practice."""

PEAK = 2.0
"""Peak over mean moment along the root where the plate cannot tell; 1.5 to 2 are usual on the
fins it can."""


@dataclass(frozen=True)
class RootLoad:
    """What the root carries.

    Attributes
    ----------
    moment
        Bending moment about the root line [N m].
    shear
        Force across the root [N].
    moments
        ``(n, 3)`` moments per width [N] at stations along the root, x, y and twist.
    stress
        Largest stress along the grain where the root is nearest to failing [Pa].
    factor
        Load factor to first ply failure: the load may grow by this much.
    failing
        What fails first, in words.
    """

    moment: float
    shear: float
    moments: Real
    stress: float
    factor: float
    failing: str


def _root_points(root: float) -> Real:
    """Return ``(n, 2)`` stations along a root chord."""
    chord = (np.arange(ROOT_STATIONS) + 0.5) / ROOT_STATIONS
    return np.column_stack([chord * root, np.zeros(ROOT_STATIONS)])


@lru_cache(maxsize=16)
def _root_curvatures(basis: plate.Basis, root: float) -> Real:
    """Return ``(3, n, functions)`` curvatures of a plate's functions along the root."""
    return basis.curvatures(_root_points(root))


def root_moments(
    *,
    system: plate.System,
    planform: Planform,
    bending: Real,
    coefficients: Real,
    moment: float,
    edge: Edge = SQUARE,
    thickness: float = 0.0,
) -> Real:
    """Return ``(n, 3)`` bending moments per width along the root [N].

    ``M = D kappa`` from the Ritz curvatures at the root, multiplied so that the integral of the
    moment about the root line equals `moment`, which equilibrium fixes.

    Parameters
    ----------
    bending
        ``(3, 3)`` bending stiffness of the fin at the root in x, y axes [N m].
    coefficients
        ``(n,)`` plate basis amplitudes.
    moment
        Moment of the load about the root line [N m].
    """
    if system._recovery is None:
        # without transverse shear the curvatures depend on outline and basis only: kept
        curvature = np.tensordot(_root_curvatures(system.basis, planform.root), coefficients, 1).T
    else:
        curvature = plate.bending_curvatures(system, coefficients, _root_points(planform.root))
    chord = (np.arange(ROOT_STATIONS) + 0.5) / ROOT_STATIONS
    local = thickness_fraction(edge, chord, local_thickness_ratio=thickness / planform.root)
    # stiffness falls with the cube of a sanded edge's thickness; its stress, for the same
    # curvature, in proportion
    carried = curvature @ bending * local[:, None] ** 3
    moments = curvature @ bending * local[:, None]
    width = max(1, round(WINDOW * ROOT_STATIONS))
    kernel = np.ones(width) / width
    weight = np.convolve(np.ones(ROOT_STATIONS), kernel, mode="same")
    smooth = np.stack(
        [np.convolve(column, kernel, mode="same") / weight for column in moments.T], axis=1
    )
    total = carried[:, 1].mean() * planform.root
    if not 0.5 < total / moment < 2.0:
        # a load far from the root leaves too little curvature there for the plate functions to
        # resolve (a push on the point of a triangle): take the mean moment with a peak; the clamp
        # leaves curvature across the root line only, so the other moments follow from D
        across = bending[:, 1] / bending[1, 1]
        peak = PEAK * moment / (planform.root * np.mean(local**2))
        return np.asarray(np.ones_like(smooth) * (peak * across))
    return np.asarray(smooth * (moment / total))


def root_load(
    *,
    system: plate.System,
    planform: Planform,
    layup: layups.Layup,
    angle: float,
    bending: Real,
    coefficients: Real,
    moment: float,
    shear: float,
    edge: Edge = SQUARE,
) -> RootLoad:
    """Return what the root carries and how far it is from failing.

    Parameters
    ----------
    system
        The plate the coefficients belong to (one candidate).
    layup, angle
        The fin's plies and the direction of their 0 axis from x [rad].
    bending
        ``(3, 3)`` reduced bending stiffness in x, y axes [N m].
    coefficients
        ``(n,)`` the fin's shape under the load.
    moment, shear
        Moment of the load about the root line [N m] and force across it [N].
    edge
        Shape of the edges; where they are sanded the root is locally thinner.
    """
    moments = root_moments(
        system=system,
        planform=planform,
        bending=bending,
        coefficients=coefficients,
        moment=moment,
        edge=edge,
        thickness=layup.thickness,
    )
    # the wind may come from either side, so either face may be the stretched one
    both = np.concatenate([moments, -moments])
    stresses = layups.ply_stresses(layup, moments=both, angle=angle)
    result = layups.failure(layup, stresses)
    factors = np.asarray(result.factor)
    worst = int(factors.argmin())
    return RootLoad(
        moment=moment,
        shear=shear,
        moments=moments,
        stress=float(np.abs(stresses[worst, ..., 0]).max()),
        factor=float(factors[worst]),
        failing=str(np.asarray(result.mode)[worst]),
    )
