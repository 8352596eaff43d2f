"""Where plate and air meet: generalised air forces, flutter and divergence of a fin."""

from calc.aeroelastic.flutter_boundary import (
    SUBSONIC_LIMIT,
    SUPERSONIC_START,
    AirForces,
    AirGrid,
    Damping,
    Flutter,
    air_grid,
    damping_in_flight,
    divergence_pressure,
    flutter,
    interpolated_speed,
    lagrange,
    lagrange_slope,
    least_damping,
    limited_rise,
    matched_speed,
    node_wavenumbers,
)
from calc.aeroelastic.motion import Motion, followed

__all__ = [
    "SUBSONIC_LIMIT",
    "SUPERSONIC_START",
    "AirForces",
    "AirGrid",
    "Damping",
    "Flutter",
    "Motion",
    "air_grid",
    "damping_in_flight",
    "divergence_pressure",
    "flutter",
    "followed",
    "interpolated_speed",
    "lagrange",
    "lagrange_slope",
    "least_damping",
    "limited_rise",
    "matched_speed",
    "node_wavenumbers",
]
