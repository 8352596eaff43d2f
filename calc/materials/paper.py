"""What follows for paper and card from stiffness and strength along and across the machine.

A file of the paper family may leave these values out; they are then worked out here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from calc.materials import schema
from calc.materials.schema import Value

SHEAR_RULE = 0.387
"""In-plane shear modulus over the geometric mean of both moduli [-]."""
POISSON_RULE = 0.293
"""Geometric mean of both Poisson's ratios [-]."""
CRUSHING = 1.0 / 3.0
"""Compression strength over tension strength in the same direction [-]."""
SHEARING = 0.4
"""Shear strength in the plane over the mean tension strength of both directions [-]."""


def shear_modulus(*, along: float, across: float) -> float:
    """Return the shear modulus in the plane of a paper [Pa].

    Parameters
    ----------
    along, across
        Moduli in the machine and the cross direction [Pa].

    Notes
    -----
    G = 0.387 sqrt(E_MD E_CD). Machine-made papers of chemical pulp, a few per cent either way.

    References
    ----------
    Baum, Brennan and Habeger, TAPPI 64(8), 1981, 97-101; from memory, unverified.
    """
    return SHEAR_RULE * math.sqrt(along * across)


def derived(given: Mapping[str, Value]) -> dict[str, Value]:
    """Return the values of a paper that its file leaves out, each no firmer than what it rests on.

    Parameters
    ----------
    given
        The values of the file: both moduli and both tension strengths at least.

    Notes
    -----
    Compression strength is a third of tension strength, because fibres buckle (an industry body's
    text on paper); Poisson's ratio n_xy = 0.293 sqrt(E_x/E_y) (Baum et al. 1981) and shear strength
    0.4 of the mean tension strength are from memory, unverified.
    """
    stiff = given["modulus_along"], given["modulus_across"]
    pull = given["tension_along"], given["tension_across"]
    along, across = (entry.value for entry in stiff)
    found = {
        "shear_modulus": Value(
            shear_modulus(along=along, across=across),
            "Pa",
            "baum-1981",
            note="0.387 sqrt(E_MD E_CD)",
            basis="memory",
        ),
        "poisson": Value(
            POISSON_RULE * math.sqrt(along / across),
            "1",
            "baum-1981",
            note="from sqrt(n_xy n_yx) = 0.293",
            basis="memory",
        ),
        "shear_strength": Value(
            SHEARING * 0.5 * (pull[0].value + pull[1].value),
            "Pa",
            "niskanen",
            note="about 0.4 of the mean tension of both directions",
            basis="memory",
        ),
    }
    for key, entry in zip(("compression_along", "compression_across"), pull, strict=True):
        found[key] = Value(
            entry.value * CRUSHING,
            "Pa",
            "paper-compression",
            low=None if entry.low is None else entry.low * CRUSHING,
            high=None if entry.high is None else entry.high * CRUSHING,
            note="a third of tension; fibres buckle",
            basis=schema.reckoned(entry),
        )
    return {key: entry for key, entry in found.items() if key not in given}
