"""Damping over speed at one Mach number, from all roots: an oracle for the boundary's solver."""

import numpy as np

from calc import aeroelastic
from calc.aeroelastic import flutter_boundary


def damping_curves(
    forces: aeroelastic.AirForces,
    *,
    mach_index: int,
    frequency: np.ndarray,
    density: float,
    speeds: np.ndarray,
    count: int = 20,
) -> aeroelastic.Damping:
    """Return damping ratios over speed in the air of one Mach number."""
    own = np.broadcast_to(forces.forces[mach_index], (speeds.size, *forces.forces.shape[-3:]))
    return flutter_boundary._p_k(forces, own, frequency, density, speeds, count)
