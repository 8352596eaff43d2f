"""Rings against a published table and an independent finite-difference plate."""

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from scipy.linalg import solve_banded

from calc.structure.rings import ring_bending

ROARK = tomllib.loads((Path(__file__).parent / "data/roark_table_11_2.toml").read_text())


@pytest.mark.parametrize("case", ROARK["case"], ids=lambda c: c["name"])
def test_roark(case, record):
    """Deflection and moment factors agree with the published table to its printed digits."""
    for i, b in enumerate(ROARK["ratio"]):
        load = {"force": 2 * math.pi * b} if case["load"] == "line" else {"pressure": 1.0}
        bend = ring_bending(
            outer=1.0,
            inner=b,
            stiffness=1.0,
            outer_edge=case["outer_edge"],
            inner_edge=case["inner_edge"],
            **load,
        )
        row = bend.tangential if case["moment_name"].startswith("tangential") else bend.radial
        moment = row[-1 if case["moment_name"].endswith("outer edge") else 0]
        record(
            case=f"annular plate, case {case['name']}, hole {b:g}",
            parts=("moment factor", "deflection factor"),
            published=(case["moment"][i], case["deflection"][i]),
            ours=(moment, bend.deflection[0]),
            tolerance=f"{ROARK['tolerance']:g}: {ROARK['tolerance_note']}",
            source=ROARK["source"],
        )
        assert moment == pytest.approx(case["moment"][i], abs=ROARK["tolerance"])
        assert bend.deflection[0] == pytest.approx(case["deflection"][i], abs=ROARK["tolerance"])


def finite_difference(*, outer, inner, shear, nu, outer_edge, inner_edge, n=4000):
    """Solve (1/r (r s)')' = shear / D for the slope s with D = 1, by central differences.

    Returns radii, radial and tangential moments for w positive along the load.
    """
    r = np.linspace(inner, outer, n + 1)
    h = r[1] - r[0]
    low, mid, up = 1 / h**2 - 1 / (2 * h * r), -2 / h**2 - 1 / r**2, 1 / h**2 + 1 / (2 * h * r)
    right = shear(r)
    mid, right = mid.copy(), right.copy()
    if outer_edge == "clamped":
        low[-1], mid[-1], right[-1] = 0.0, 1.0, 0.0
    else:
        mid[-1] -= up[-1] * 2 * h * nu / r[-1]
        low[-1] += up[-1]
    if inner_edge == "guided":
        up[0], mid[0], right[0] = 0.0, 1.0, 0.0
    else:
        mid[0] += low[0] * 2 * h * nu / r[0]
        up[0] += low[0]
    bands = np.zeros((3, n + 1))
    bands[0, 1:], bands[1], bands[2, :-1] = up[:-1], mid, low[1:]
    s = solve_banded((1, 1), bands, right)
    bend = np.gradient(s, h, edge_order=2)
    return r, -(bend + nu * s / r), -(s / r + nu * bend)


@pytest.mark.parametrize("outer_edge", ["simple", "clamped"])
@pytest.mark.parametrize("inner_edge", ["free", "guided"])
@pytest.mark.parametrize("inner", [0.2, 0.6])
def test_ring_finite_difference(outer_edge, inner_edge, inner, record):
    """The closed form meets a finite-difference plate for line load and pressure together."""
    force, pressure, nu = 3.0, 2.0, 0.25

    def shear(r):
        return (force + math.pi * (r**2 - inner**2) * pressure) / (2 * math.pi * r)

    r, radial, tangential = finite_difference(
        outer=1.0, inner=inner, shear=shear, nu=nu, outer_edge=outer_edge, inner_edge=inner_edge
    )
    bend = ring_bending(
        outer=1.0,
        inner=inner,
        stiffness=1.0,
        poisson=nu,
        force=force,
        pressure=pressure,
        outer_edge=outer_edge,
        inner_edge=inner_edge,
        radius=r,
    )
    scale = bend.peak_moment
    record(
        case=f"ring, {outer_edge} outside, {inner_edge} inside, hole {inner:g}: largest moment",
        published=max(np.abs(radial).max(), np.abs(tangential).max()),
        ours=scale,
        tolerance="2e-4 of the largest: the differences' own step",
        source="finite differences, solved independently",
        basis="library",
    )
    np.testing.assert_allclose(bend.radial, radial, atol=2e-4 * scale)
    np.testing.assert_allclose(bend.tangential, tangential, atol=2e-4 * scale)
