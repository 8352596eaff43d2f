"""Random fins for the searches of a first instability, the same ones at every run."""

from __future__ import annotations

import math

import numpy as np

from calc.air import atmosphere
from calc.fin import model, policy
from calc.geometry.planform import Planform
from calc.structure import laminate


def sheet(random: np.random.Generator, root: float, lightest: float) -> laminate.Layup:
    """Return a random orthotropic sheet, not lighter than `lightest` [kg/m2]."""
    while True:
        along = 10.0 ** random.uniform(9.3, 10.2)
        across = along * 10.0 ** random.uniform(-1.4, 0.0)
        shear = along * 10.0 ** random.uniform(-1.4, -0.4)
        density = 10.0 ** random.uniform(1.9, 3.2)
        poisson = 0.2 * math.sqrt(across / along)
        strengths = [1e8] * 5
        lamina = laminate.Lamina(along, across, shear, poisson, density, shear, shear, *strengths)
        one = laminate.Layup((laminate.Ply(lamina, root * random.uniform(0.008, 0.03)),))
        if one.areal_mass > lightest:
            return one


def fins(
    random: np.random.Generator, count: int, *, thicker: float = 1.0
) -> tuple[model.Model, model.Structure, atmosphere.Air]:
    """Return fins of one random outline in random air: model, fins and air.

    Light and heavy, swept forward and back, grain to 75 degrees either way; thickness times
    `thicker`.
    """
    root = random.uniform(0.05, 0.16)
    outline = Planform(
        root=root,
        tip=root * random.uniform(0.2, 1.0),
        span=root * random.uniform(0.5, 1.5),
        sweep=root * random.uniform(-0.3, 1.0),
    )
    air = atmosphere.at(random.uniform(0.0, 6000.0))
    lightest = policy.MIN_MASS_RATIO * float(air.density) * outline.mean_chord
    stacks = [sheet(random, thicker * root, lightest) for _ in range(count)]
    grains = np.radians(random.uniform(-75.0, 75.0, count))
    shape = model.model(outline)
    found = model.structure(
        shape, stacks, [outline.grain_direction(float(grain)) for grain in grains]
    )
    return shape, found, air
