"""What a fin carries when the rocket lands on it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from calc.fin import model
from calc.fin.fin import Fin
from calc.structure import failure, impact, root_strength

FACTOR = 2.0
"""Uncertainty factor of the energy estimate, either way; shown as the range of every margin."""

GROUNDS: tuple[tuple[str, str, float], ...] = (
    ("rigid", "rigid ground, no dent", math.inf),
    ("hard", "hard ground", math.inf),
    ("sports", "dry sports ground", impact.SPORTS_GROUND),
    ("firm", "firm turf", impact.TURF[1]),
    ("soft", "soft turf", impact.TURF[0]),
)
"""Name, label and resistance to a pressed-in point [Pa]. Except on rigid ground, the fin's own
corner crushes where it is weaker than the ground."""

JUDGED = {"hard": "hard", "sports": "sports", "turf": "firm"}
"""The ground that decides the verdict for each choice of the reader."""


@dataclass(frozen=True)
class Capacity:
    """What the fin carries: pushed at its tip, by its sheet, at its corner, and in an impact."""

    tip: root_strength.TipCapacity
    sheet: impact.SheetProperties
    bearing: float
    """Pressure along the fall at which the fin's own corner crushes [Pa]."""
    fin: impact.ImpactedFin


def capacity_of(fin: Fin) -> Capacity:
    """Return what a fin carries at touchdown."""
    layup = fin.layup()
    found = model.structure(
        model.model_for(fin), [failure.tension_limited_across(layup)], [fin.direction]
    )
    tip = root_strength.tip_capacity(
        system=found.single(0),
        planform=fin.planform,
        layup=found.layups[0],
        angle=fin.direction,
        bending=found.bending[0],
    )
    sheet = impact.sheet_properties(
        layup, direction=fin.direction, plywood=fin.material.family == "plywood"
    )
    measured_directly = fin.material.layup(
        thickness=fin.thickness, density=fin.density, cut=fin.cut, strength="direct"
    )
    return Capacity(
        tip=tip,
        sheet=sheet,
        bearing=failure.bearing_strength(measured_directly, direction=fin.direction),
        fin=impact.impacted_fin(fin.planform, thickness=fin.thickness, tip=tip, sheet=sheet),
    )


@dataclass(frozen=True, kw_only=True)
class Descent:
    """How a rocket comes down.

    Parameters
    ----------
    rocket
        Mass, length, diameter and tail of the rocket as it lands.
    speed
        Sink speed [m/s].
    ground
        "turf", "sports" or "hard": where it lands, as in `JUDGED`.
    swing
        Largest angle from the vertical [rad].
    share
        Share of the impact that one fin takes.
    """

    rocket: impact.Rocket
    speed: float
    ground: str = "turf"
    swing: float = impact.SWING
    share: float = 0.5


def land(capacity: Capacity, descent: Descent, *, ground: str | None = None) -> impact.Touchdown:
    """Return the worst touchdown over the rocket's swing.

    `ground` is a name of `GROUNDS`; without one, that of the descent.
    """
    ground = ground or JUDGED[descent.ground]
    resistance = next(pressure for name, _, pressure in GROUNDS if name == ground)
    return impact.worst_touchdown(
        capacity.fin,
        descent.rocket,
        speed=descent.speed,
        swing=descent.swing,
        share=descent.share,
        ground_resistance=resistance if ground == "rigid" else min(resistance, capacity.bearing),
    )
