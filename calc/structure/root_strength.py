"""Strength of a fin's root in bending and twist under air load and handling.

Loads act on the same plate that flutters, so a flexible fin that twists to a higher angle of
attack carries more than a stiff one. Stresses come from the plate's curvatures along the root,
scaled so that their moment balances that of the load exactly, and are judged ply by ply; a weak
core is also judged by its shear and by the wrinkling of its faces.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.geometry.outline import Outline
from calc.geometry.planform import SQUARE_EDGE, Edge, thickness_fraction
from calc.structure import plate
from calc.structure.failure import first_ply_failure
from calc.structure.laminate import Layup, off_axis_modulus, ply_stresses
from calc.structure.sandwich import core_index, core_shear_stress, wrinkling_stress

Array = NDArray[np.float64]

ROOT_STATIONS = 25
"""Stations along the root chord at which stresses are evaluated."""
WINDOW = 0.15
"""Share of the root chord over which the peak is averaged.

A clamped plate's stress is singular at the ends of the clamp in linear theory; a wooden root
yields and glue rounds the corner. Averaging over a short length is common practice."""
PEAK = 2.0
"""Peak over mean moment along the root where the plate functions do not resolve it, and peak over
mean shear force; 1.5 to 2 are usual for the moment on the fins that they resolve."""


@dataclass(frozen=True)
class RootLoad:
    """Load and strength of the root of a fin.

    Parameters
    ----------
    moment
        Bending moment about the root line [N m].
    shear
        Force across the root [N].
    moments
        ``(n, 3)`` moments per width [N] at stations along the root, x, y and twist.
    stress
        Largest stress along the grain where the root is nearest to failure [Pa].
    factor
        Load factor at the first failure, of a ply or of a core.
    failing
        The first failure in words.
    """

    moment: float
    shear: float
    moments: Array
    stress: float
    factor: float
    failing: str


def root_points(root: float) -> Array:
    """Return ``(n, 2)`` the `ROOT_STATIONS` along a root chord [m]."""
    chord = (np.arange(ROOT_STATIONS) + 0.5) / ROOT_STATIONS
    return np.column_stack([chord * root, np.zeros(ROOT_STATIONS)])


@lru_cache(maxsize=16)
def _root_curvatures(basis: plate.Basis, root: float) -> Array:
    """Return ``(3, n, functions)`` curvatures of a plate's functions along the root."""
    return basis.curvatures(root_points(root))


@lru_cache(maxsize=1)
def smoothing() -> Array:
    """Return the square matrix that averages over `WINDOW` along the root's stations."""
    width = max(1, round(WINDOW * ROOT_STATIONS))
    responses = [np.convolve(one, np.ones(width), "same") for one in np.eye(ROOT_STATIONS)]
    spread = np.stack(responses, axis=1)
    return np.asarray(spread / spread.sum(axis=1, keepdims=True))


def root_moments(
    *,
    system: plate.System,
    planform: Outline,
    bending: Array,
    coefficients: Array,
    moment: Array,
    edge: Edge = SQUARE_EDGE,
    thickness: float = 0.0,
) -> Array:
    """Return ``(l, n, 3)`` bending moments per width along the root [N], of each load.

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
        Shape of the edges and full thickness [m]; where the edges are thinner, the moment returned
        is the one that gives the full thickness the stress of the thinner place.

    Notes
    -----
    ``M = D kappa`` from the Ritz curvatures at the root, multiplied so that the integral of the
    moment about the root line equals `moment`, which equilibrium fixes.
    """
    if system.shear_flexible:
        curvature = plate.bending_curvatures(system, coefficients, root_points(planform.root))
    else:
        # without transverse shear the curvatures depend on outline and basis only
        per_function = _root_curvatures(system.basis, planform.root)
        curvature = np.swapaxes(np.tensordot(coefficients, per_function, (1, 2)), 1, 2)
    chord = (np.arange(ROOT_STATIONS) + 0.5) / ROOT_STATIONS
    local = thickness_fraction(edge, chord, local_thickness_ratio=thickness / planform.root)
    bent = curvature @ bending
    # the stiffness of a thinner edge falls with the cube of its thickness; its stress, for the
    # same curvature, in proportion
    total = (bent[..., 1] * local**3).mean(axis=1) * planform.root
    smooth = smoothing() @ (bent * local[:, None])
    share = total / np.where(moment == 0.0, 1.0, moment)
    resolved = (share > 0.5) & (share < 2.0)
    scale = np.where(resolved, moment / np.where(resolved, total, 1.0), 0.0)
    out = smooth * scale[:, None, None]
    # a load far from the root leaves too little curvature there for the plate functions to
    # resolve (a push on the point of a triangle): take the mean moment with a peak; the clamp
    # leaves curvature across the root line only, so the other moments follow from D
    across = bending[:, 1] / bending[1, 1]
    peak = PEAK * moment[~resolved] / (planform.root * np.mean(local**2))
    out[~resolved] = peak[:, None, None] * across
    return np.asarray(out)


def core_factors(layup: Layup, *, stresses: Array, shear: float) -> tuple[float, float]:
    """Return the load factors at which a face wrinkles and at which the core shears.

    Parameters
    ----------
    layup
        A stack with a core between two faces.
    stresses
        ``(n, n_ply, 2, 3)`` stresses in the plies' own axes [Pa].
    shear
        Largest shear force per width [N/m].

    Notes
    -----
    Wrinkling: `calc.structure.sandwich.wrinkling_stress` over the largest compression in either
    face, with the face's modulus in the direction of that compression and the core's modulus
    across its grain for that through its thickness. Shear: the core's shear strength over the
    mean shear stress. Valid for thin faces.

    References
    ----------
    Hoff and Mautner 1945; Allen 1969 (from memory, unverified).
    """
    core = layup.plies[core_index(layup)[0]].lamina
    wrinkling = np.inf
    for place in (0, len(layup.plies) - 1):
        face = layup.plies[place].lamina
        along, across, twist = np.moveaxis(stresses[:, place].mean(axis=1), -1, 0)
        middle, reach = 0.5 * (along + across), np.hypot(0.5 * (along - across), twist)
        # the direction of the largest compression is square to that of the largest tension
        compressed = 0.5 * np.arctan2(2.0 * twist, along - across) + 0.5 * np.pi
        strength = wrinkling_stress(
            face_modulus=off_axis_modulus(face, compressed),
            core_modulus=core.modulus_across,
            core_shear=min(core.shear_13, core.shear_23),
        )
        share = np.maximum(reach - middle, 0.0) / strength
        if share.max() > 0.0:
            wrinkling = min(wrinkling, 1.0 / float(share.max()))
    mean = abs(float(core_shear_stress(layup, shear=shear)))
    return wrinkling, core.shear_strength / mean if mean > 0.0 else np.inf


def root_loads(
    *,
    system: plate.System,
    planform: Outline,
    layup: Layup,
    angle: float,
    bending: Array,
    coefficients: Array,
    moment: ArrayLike,
    shear: ArrayLike,
    edge: Edge = SQUARE_EDGE,
) -> tuple[RootLoad, ...]:
    """Return load and strength of one fin's root under each of several loads.

    Parameters
    ----------
    system
        The plate the coefficients belong to (one candidate).
    layup, angle
        The fin's plies and the direction of their 0 axis from x [rad].
    bending
        ``(3, 3)`` reduced bending stiffness in x, y axes [N m].
    coefficients
        ``(l, n)`` plate basis amplitudes under each load.
    moment, shear
        ``(l,)`` moments of the loads about the root line [N m] and forces across it [N].
    edge
        Shape of the edges.

    Notes
    -----
    Plies by Tsai-Wu, for either sign of the load; a core as in `core_factors`, with a shear force
    that peaks at `PEAK` times its mean.
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
    stresses = ply_stresses(layup, moments=both, angle=angle)
    result = first_ply_failure(layup, stresses)
    factors, mode = np.asarray(result.factor), np.asarray(result.mode)
    cored = bool(core_index(layup))
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


@dataclass(frozen=True)
class TipCapacity:
    """Force at the middle of a clamped fin's tip, square to the fin, at the first failure.

    Parameters
    ----------
    force
        [N].
    compliance
        Deflection of the tip per force [m/N].
    failing
        The first failure in words.
    """

    force: float
    compliance: float
    failing: str


def tip_capacity(
    *, system: plate.System, planform: Outline, layup: Layup, angle: float, bending: Array
) -> TipCapacity:
    """Return the force that a clamped fin bears at the middle of its tip.

    Parameters
    ----------
    system
        The plate (one candidate).
    planform, layup, angle
        The fin's outline, plies and the direction of their 0 axis from x [rad].
    bending
        ``(3, 3)`` reduced bending stiffness in x, y axes [N m].
    """
    at_tip = system.basis.values(np.array([planform.tip_point]))[0]
    deflected = plate.static(system, load=at_tip)
    root = root_loads(
        system=system,
        planform=planform,
        layup=layup,
        angle=angle,
        bending=bending,
        coefficients=deflected[None],
        moment=[planform.span],
        shear=[1.0],
    )[0]
    return TipCapacity(root.factor, float(at_tip @ deflected), root.failing)
