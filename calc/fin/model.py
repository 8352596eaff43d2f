"""What depends on a fin's outline only, computed once for every material and thickness.

A `Model` holds the plate's integrals and the air's response; `structure` adds stiffness, mass and
modes for a batch of candidates.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from calc import aeroelastic
from calc.air import lifting_surface, mach_box
from calc.errors import ValidityError
from calc.fin.fin import SQUARE, Fin
from calc.geometry.outline import Outline
from calc.geometry.planform import Edge
from calc.structure import laminate as layups
from calc.structure import plate
from calc.structure.laminate import Layup
from calc.structure.sandwich import core_index

Real = NDArray[np.float64]

MACHS: Real = np.array([0.0, 0.6, aeroelastic.SUBSONIC_LIMIT])
"""Mach numbers at which the subsonic air forces are computed; between them the boundary is
interpolated (error shown in tests/convergence)."""


REFINED_MACHS: tuple[tuple[float, ...], ...] = ((0.4,), (0.75, 0.85))
"""Further Mach numbers in each interval of `MACHS`, for fins that need them (see
`_needs_refining`)."""
ALL_MACHS: Real = np.sort(np.concatenate([MACHS, *map(np.array, REFINED_MACHS)]))
"""Both together."""


FAST_MACHS: tuple[float, ...] = (0.95, 1.05, 1.15, 1.3, 1.5, 1.8, 2.2, 2.6, 3.0)
"""Mach numbers above `SUBSONIC_LIMIT` at which air forces are computed for flights that come near:
the doublet lattice below Mach 1, Mach boxes above; never at Mach 1, where neither holds."""


CHORDWISE, SPANWISE = 6, 8
"""Boxes of the lifting surface. Coarse lattices of this kind predict a little too much lift, so
flutter a few per cent early: the safe side (tests/convergence states how much)."""


FAST_BOXES = 250
"""Mach boxes of the supersonic air, about; tests/convergence states what more of them change."""
MOST_BOXES = 8000
"""Most boxes that are solved: of a long and low fin they would take minutes and a gigabyte."""


MODES = 6
"""Natural modes that flutter is made of."""


TRUNCATION = 0.01
"""Fall of a frequency with the last plate functions above which more functions are taken."""


@dataclass(frozen=True, eq=False)
class Model:
    """What depends on a fin's outline and edges only."""

    planform: Outline
    edge: Edge
    plate: plate.RitzIntegrals
    air: aeroelastic.AirGrid
    lift: Real
    """``(n_m, b)`` lift per angle of attack at each load point over dynamic pressure [m2/rad]."""

    @property
    def fractions(self) -> Real:
        """Local over full thickness of the plate's zones."""
        return self.plate.zone_fractions


@lru_cache(maxsize=16)
def air(planform: Outline) -> aeroelastic.AirGrid:
    """Return the air forces of an outline; cached, because all its fins share them."""
    return _air(planform, MACHS)


@lru_cache(maxsize=32)
def air_refined(planform: Outline, interval: int) -> aeroelastic.AirGrid:
    """Return the same at the Mach numbers of `REFINED_MACHS` in an interval; cached too."""
    return _air(planform, np.array(REFINED_MACHS[interval]))


@lru_cache(maxsize=64)
def air_at(planform: Outline, mach: float) -> aeroelastic.AirGrid:
    """Return the same at one of `FAST_MACHS`; cached too."""
    if mach < 1.0:
        return _air(planform, np.array([mach]))
    nodes, scale = aeroelastic.node_wavenumbers(planform.mean_chord, highest=1.0)
    columns = mach_box.columns_for(planform, mach=mach, boxes=FAST_BOXES)
    boxes = mach_box.lattice(planform, mach=mach, columns=columns)
    if boxes.x.size > MOST_BOXES:
        raise ValidityError(
            "No answer: this fin is too long for its span to be worked out near and beyond the "
            "speed of sound. Choose a lower speed, a shorter root or a larger span."
        )
    # what oscillates faster than the boxes resolve is answered as at the highest they do
    highest = mach_box.highest_wavenumber(boxes)
    response = mach_box.response(
        planform,
        machs=mach,
        wavenumbers=np.minimum(nodes, highest),
        chordwise=CHORDWISE,
        spanwise=SPANWISE,
        boxes=FAST_BOXES,
    )
    points = mach_box.points(planform, chordwise=CHORDWISE, spanwise=SPANWISE)
    return aeroelastic.AirGrid(
        machs=np.array([mach]),
        nodes=nodes,
        scale=scale,
        response=response,
        load_points=points,
        control_points=points,
    )


NEAR_SONIC = 1.1
"""From a Mach number below this forces are interpolated straight over Mach number."""


def blend(mach: float, machs: Sequence[float]) -> list[tuple[int, float]]:
    """Return the two places in `machs`, and their weights, between which forces are interpolated.

    Straight over Mach number up to the second supersonic one, near Mach 1, and over
    ``log(M^2 - 1)`` above, which suits wide fins and narrow ones alike (tests/convergence).
    """

    def variable(at: float) -> float:
        return math.log(at**2 - 1.0)

    upper = min(max(int(np.searchsorted(machs, mach)), 1), len(machs) - 1)
    low, high = machs[upper - 1], machs[upper]
    if low > NEAR_SONIC:
        part = (variable(mach) - variable(low)) / (variable(high) - variable(low))
    else:
        part = (mach - low) / (high - low)
    return [(upper - 1, 1.0 - part), (upper, part)]


def _air(planform: Outline, machs: Real) -> aeroelastic.AirGrid:
    """Return the air forces of an outline at some Mach numbers."""
    mesh = lifting_surface.mesh(planform, chordwise=CHORDWISE, spanwise=SPANWISE, tip_inset=0.0)
    nodes, scale = aeroelastic.node_wavenumbers(planform.mean_chord, highest=1.0)
    influence = lifting_surface.influence(mesh, mach=machs, wavenumbers=nodes)
    return aeroelastic.air_grid(
        influence=influence,
        areas=mesh.areas,
        load_points=mesh.load_points,
        control_points=mesh.control_points,
        machs=machs,
        nodes=nodes,
        scale=scale,
    )


@lru_cache(maxsize=16)
def model(
    planform: Outline, edge: Edge = SQUARE, *, thickness_ratio: float = 0.02, fine: bool = False
) -> Model:
    """Return the model of an outline; cached, because every material shares it.

    Parameters
    ----------
    thickness_ratio
        Thickness over root chord; matters for rounded edges only.
    fine
        Take 100 plate functions instead of 42, for grain that the few cannot follow.
    """
    prepared = plate.prepare(
        planform,
        edge=edge,
        thickness_ratio=thickness_ratio if edge.kind == "rounded" else None,
        spanwise=10 if fine else 6,
        chordwise=10 if fine else 7,
    )
    grid = air(planform)
    lift = -grid.response[:, 0].real.sum(axis=-1)
    return Model(planform=planform, edge=edge, plate=prepared, air=grid, lift=lift)


def model_for(fin: Fin, *, fine: bool = False) -> Model:
    """Return the model of a fin's outline and edges."""
    if fin.edge.kind == "rounded":
        ratio = round(fin.thickness / fin.planform.root, 4)
        return model(fin.planform, fin.edge, thickness_ratio=ratio, fine=fine)
    return model(fin.planform, fin.edge, fine=fine)


@dataclass(frozen=True, eq=False)
class Structure:
    """Stiffness and modes of a batch of candidates on one model."""

    layups: tuple[Layup, ...]
    angles: Real
    bending: Real
    """``(c, 3, 3)`` at full thickness, in x, y axes [N m]."""
    system: plate.System
    modes: plate.Modes
    mass: Real
    """``(c,)`` mass of one fin [kg]."""

    def single(self, index: int) -> plate.System:
        """Return the system of one candidate."""
        return self.system.single(index)


def structure(
    shape: Model,
    stacks: Sequence[Layup],
    angles: Sequence[float],
    *,
    coating: float = 0.0,
    root_spring: Sequence[float] | None = None,
) -> Structure:
    """Return stiffness, modes and mass of candidates, all of one kind (weak-cored or not).

    Parameters
    ----------
    root_spring
        Rotational stiffness of each one's root [N m/rad per m]; None for clamped roots.
    """
    direction = np.asarray(angles, float)
    fractions = shape.fractions
    per_zone = np.empty((len(stacks), fractions.size, 3, 3))
    areal = np.empty((len(stacks), fractions.size))
    shear = np.empty((len(stacks), fractions.size, 2, 2))
    bending = np.empty((len(stacks), 3, 3))
    weak = any(core_index(stack) for stack in stacks)
    for row, (stack, angle) in enumerate(zip(stacks, direction, strict=True)):
        bending[row] = layups.bending(stack, angle=angle)
        if fractions.size == 1:
            per_zone[row, 0], areal[row, 0] = bending[row], stack.areal_mass
        else:
            per_zone[row], areal[row] = layups.thinned_bending(stack, fractions, angle=angle)
        if weak:
            shear[row] = (
                layups.stiffness(stack, angle=angle).transverse_shear * fractions[:, None, None]
            )
    areal = areal + coating
    system = plate.assemble(
        shape.plate,
        bending=per_zone,
        areal_mass=areal,
        root_spring=root_spring,
        transverse_shear=shear if weak else None,
    )
    return Structure(
        layups=tuple(stacks),
        angles=direction,
        bending=bending,
        system=system,
        modes=plate.modes(system, count=MODES),
        mass=areal @ shape.plate.zone_areas,
    )


def build(fin: Fin, stacks: Sequence[Layup], angles: Sequence[float]) -> tuple[Model, Structure]:
    """Return the model of a fin's outline and stacks of plies on it, as fine as they need."""
    shape = model_for(fin)
    found = structure(shape, stacks, angles, coating=fin.coating)
    if plate.truncation_error(found.system, count=2, known=found.modes).max() > TRUNCATION:
        shape = model_for(fin, fine=True)
        found = structure(shape, stacks, angles, coating=fin.coating)
    return shape, found
