"""Does the root carry it: bending and twist of the fin under air load and hands.

Loads act on the same plate that flutters, so a soft fin that twists into the wind carries more
than a stiff one. Stresses come from the plate's curvatures along the root, scaled so that their
moment balances the load's exactly, and are judged ply by ply; a weak core also by its shear and
by the wrinkling of the face that it holds.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

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
"""Peak over mean moment along the root where the plate cannot tell, and peak over mean shear
force; 1.5 to 2 are usual for the moment on the fins it can tell."""


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
        Load factor to the first failure, of a ply or of a core: the load may grow by this much.
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


@lru_cache(maxsize=1)
def _smoothing() -> Real:
    """Return the square matrix that averages over `WINDOW` along the root's stations."""
    width = max(1, round(WINDOW * ROOT_STATIONS))
    responses = [np.convolve(one, np.ones(width), "same") for one in np.eye(ROOT_STATIONS)]
    spread = np.stack(responses, axis=1)
    return np.asarray(spread / spread.sum(axis=1, keepdims=True))


def root_moments(
    *,
    system: plate.System,
    planform: Planform,
    bending: Real,
    coefficients: Real,
    moment: Real,
    edge: Edge = SQUARE,
    thickness: float = 0.0,
) -> Real:
    """Return ``(l, n, 3)`` bending moments per width along the root [N], of each load.

    ``M = D kappa`` from the Ritz curvatures at the root, multiplied so that the integral of the
    moment about the root line equals `moment`, which equilibrium fixes.

    Parameters
    ----------
    system
        The plate the coefficients belong to (one candidate).
    bending
        ``(3, 3)`` bending stiffness of the full thickness in x, y axes [N m].
    coefficients
        ``(l, n)`` plate basis amplitudes under each load.
    moment
        ``(l,)`` moments of the loads about the root line [N m].
    edge, thickness
        Shape of the edges and full thickness [m]; where the edges are sanded, the moment returned
        is the one that gives the full thickness the stress of the thinner place.
    """
    if system.gives_in_shear:
        curvature = plate.bending_curvatures(system, coefficients, _root_points(planform.root))
    else:
        # without transverse shear the curvatures depend on outline and basis only: kept
        kept = _root_curvatures(system.basis, planform.root)
        curvature = np.swapaxes(np.tensordot(coefficients, kept, (1, 2)), 1, 2)
    chord = (np.arange(ROOT_STATIONS) + 0.5) / ROOT_STATIONS
    local = thickness_fraction(edge, chord, local_thickness_ratio=thickness / planform.root)
    bent = curvature @ bending
    # stiffness falls with the cube of a sanded edge's thickness; its stress, for the same
    # curvature, in proportion
    total = (bent[..., 1] * local**3).mean(axis=1) * planform.root
    smooth = _smoothing() @ (bent * local[:, None])
    share = total / np.where(moment == 0.0, 1.0, moment)
    told = (share > 0.5) & (share < 2.0)
    out = smooth * np.where(told, moment / np.where(told, total, 1.0), 0.0)[:, None, None]
    # a load far from the root leaves too little curvature there for the plate functions to
    # resolve (a push on the point of a triangle): take the mean moment with a peak; the clamp
    # leaves curvature across the root line only, so the other moments follow from D
    across = bending[:, 1] / bending[1, 1]
    peak = PEAK * moment[~told] / (planform.root * np.mean(local**2))
    out[~told] = peak[:, None, None] * across
    return np.asarray(out)


def core_factors(layup: layups.Layup, *, stresses: Real, shear: float) -> tuple[float, float]:
    """Return the load factors at which a face wrinkles and at which the core shears.

    Wrinkling: ``k (E_f E_c G_c)^(1/3)`` over the largest compression in either face, with the
    face's modulus in the direction of that compression and the core's modulus across its grain
    for that through its thickness. Shear: the core's shear strength over the mean shear stress.

    Parameters
    ----------
    layup
        A stack with a core between two faces.
    stresses
        ``(n, n_ply, 2, 3)`` stresses in the plies' own axes [Pa].
    shear
        Largest shear force per width [N/m].

    Validity: thin faces, k = 0.5 for faces that are never quite flat (from memory, unverified).

    Source: Hoff and Mautner 1945; Allen 1969 (from memory, unverified).
    """
    core = layup.plies[layups.core_index(layup)[0]].lamina
    wrinkling = np.inf
    for place in (0, len(layup.plies) - 1):
        face = layup.plies[place].lamina
        along, across, twist = np.moveaxis(stresses[:, place].mean(axis=1), -1, 0)
        middle, reach = 0.5 * (along + across), np.hypot(0.5 * (along - across), twist)
        # the pressed direction stands across the pulled one
        turned = 0.5 * np.arctan2(2.0 * twist, along - across) + 0.5 * np.pi
        bears = layups.wrinkling_stress(
            face_modulus=layups.off_axis_modulus(face, turned),
            core_modulus=core.modulus_across,
            core_shear=min(core.shear_13, core.shear_23),
        )
        share = np.maximum(reach - middle, 0.0) / bears
        if share.max() > 0.0:
            wrinkling = min(wrinkling, 1.0 / float(share.max()))
    mean = abs(float(layups.core_shear_stress(layup, shear=shear)))
    return wrinkling, core.shear_strength / mean if mean > 0.0 else np.inf


def root_loads(
    *,
    system: plate.System,
    planform: Planform,
    layup: layups.Layup,
    angle: float,
    bending: Real,
    coefficients: Real,
    moment: ArrayLike,
    shear: ArrayLike,
    edge: Edge = SQUARE,
) -> tuple[RootLoad, ...]:
    """Return what the root of one fin carries under each of several loads, and how far it may grow.

    Parameters
    ----------
    system
        The plate the coefficients belong to (one candidate).
    layup, angle
        The fin's plies and the direction of their 0 axis from x [rad].
    bending
        ``(3, 3)`` reduced bending stiffness in x, y axes [N m].
    coefficients
        ``(l, n)`` the fin's shape under each load.
    moment, shear
        ``(l,)`` moments of the loads about the root line [N m] and forces across it [N].
    edge
        Shape of the edges; where they are sanded the root is locally thinner.
    """
    about, across = np.asarray(moment, float), np.asarray(shear, float)
    moments = root_moments(
        system=system,
        planform=planform,
        bending=bending,
        coefficients=coefficients,
        moment=about,
        edge=edge,
        thickness=layup.thickness,
    )
    # the wind may come from either side, so either face may be the stretched one
    both = np.concatenate([moments, -moments], axis=1)
    stresses = layups.ply_stresses(layup, moments=both, angle=angle)
    result = layups.failure(layup, stresses)
    factors, mode = np.asarray(result.factor), np.asarray(result.mode)
    cored = bool(layups.core_index(layup))
    out = []
    for load, worst in enumerate(factors.argmin(axis=1)):
        ways = [(float(factors[load, worst]), str(mode[load, worst]))]
        if cored:
            wrinkling, shearing = core_factors(
                layup, stresses=stresses[load], shear=PEAK * across[load] / planform.root
            )
            ways += [(wrinkling, "the pressed face wrinkles"), (shearing, "the core shears")]
        factor, failing = min(ways)
        out.append(
            RootLoad(
                moment=float(about[load]),
                shear=float(across[load]),
                moments=moments[load],
                stress=float(np.abs(stresses[load, worst, ..., 0]).max()),
                factor=factor,
                failing=failing,
            )
        )
    return tuple(out)
