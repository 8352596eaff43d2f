"""Centring rings: margins move the right way and bad rings are refused."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from calc.errors import InputError
from calc.materials import bonding
from calc.structure import rings
from calc.structure.root_joint import Adhesive

RING = rings.Ring(outer=0.037, inner=0.0145, thickness=0.003)
SHEET = rings.RingSheet(modulus=4e9, strength=40e6, shear_strength=3e6)
GLUE = Adhesive("a glue", (15e6, 30e6), (25e6, 50e6), (2e9, 3e9))
TUBE = replace(bonding.TUBES["kraft"], shear=(1e6, 2e6), tension=(0.5e6, 1e6))


def check(ring: rings.Ring = RING, force: float = 200.0, **edges: Any) -> rings.RingCheck:
    """Return the margins of a ring under a force."""
    return rings.check(ring, SHEET, force=force, shear_strength=3e6, glue_shear=1e6, **edges)


def test_less_force_and_thickness_help() -> None:
    """Half the force doubles the margin; bending strength grows with thickness squared."""
    one, half = check(), check(force=100.0)
    assert half.governs.ratio == pytest.approx(2 * one.governs.ratio)
    thick = check(replace(RING, thickness=0.006))
    assert thick.margins[0].ratio == pytest.approx(4 * one.margins[0].ratio)


def test_held_edges_help() -> None:
    """Clamping and guiding lower deflection and moment; fillets lower glue stress."""
    loose = check()
    held = check(replace(RING, fillet=0.003), outer_edge="clamped", inner_edge="guided")
    assert held.deflection < loose.deflection
    assert all(a.ratio >= b.ratio for a, b in zip(held.margins, loose.margins, strict=True))


def test_glue_by_hand() -> None:
    """Glue at the motor tube: 2 * 100 / (2 pi 0.0145 * 0.003) = 0.7318 MPa."""
    force = rings.ring_force(thrust=100.0)
    glue = next(m for m in check(force=force).margins if m.name == "glue to the motor tube")
    assert glue.demand == pytest.approx(0.7318e6, rel=1e-3)


@pytest.mark.parametrize(("count", "force"), [(1, 120.0), (2, 60.0), (3, 40.0)])
def test_force_of_a_sudden_thrust(count: int, force: float) -> None:
    """Thrust that comes in one step counts twice and is shared by the rings."""
    assert rings.ring_force(thrust=60.0, rings=count) == pytest.approx(force)


@pytest.mark.parametrize(
    ("fillet", "rolling", "edges"),
    [
        (0.003, True, ("clamped", "guided")),
        (0.0, True, ("simple", "free")),
        (0.003, False, ("clamped", "guided")),
    ],
)
def test_ends_of_the_bands(fillet: float, rolling: bool, edges: tuple[Any, Any]) -> None:
    """Weak: loose edges, low strengths. Strong: high strengths, edges held where filleted."""
    ring, sheet = replace(RING, fillet=fillet), replace(SHEET, rolling=rolling)
    found = rings.capacity(ring, sheet, adhesive=GLUE, tube=TUBE, force=200.0)
    low, high = (0.18 * 3e6, 0.28 * 3e6) if rolling else (3e6, 3e6)
    weak = rings.check(ring, sheet, force=200.0, shear_strength=low, glue_shear=1e6)
    strong = rings.check(
        ring, sheet, force=200.0, shear_strength=high, glue_shear=2e6,
        outer_edge=edges[0], inner_edge=edges[1],
    )  # fmt: skip
    assert found.weak.margins == weak.margins
    for band, a, b in zip(found.bands, weak.margins, strong.margins, strict=True):
        assert band.low == pytest.approx(a.ratio)
        assert band.high == pytest.approx(b.ratio)


def test_weakest_of_glue_ring_and_tube() -> None:
    """The glue line bears what the weakest of its three partners bears."""
    for weak in ("glue", "tube", "sheet"):
        glue = replace(GLUE, shear=(0.1e6, 0.2e6)) if weak == "glue" else GLUE
        tube = replace(TUBE, shear=(0.1e6, 0.2e6)) if weak == "tube" else TUBE
        sheet = replace(SHEET, shear_strength=0.1e6) if weak == "sheet" else SHEET
        found = rings.capacity(RING, sheet, adhesive=glue, tube=tube, force=200.0)
        assert found.weak.margins[2].capacity.value == 0.1e6


def test_bad_rings() -> None:
    """Rings inside out, without thickness or thrust, and unknown edges are refused by name."""
    with pytest.raises(InputError, match="inner"):
        replace(RING, inner=0.05)
    with pytest.raises(InputError, match="thickness"):
        replace(RING, thickness=0.0)
    with pytest.raises(InputError, match="fillet"):
        replace(RING, fillet=-0.001)
    with pytest.raises(InputError, match="strength"):
        replace(SHEET, strength=0.0)
    with pytest.raises(InputError, match="thrust"):
        rings.ring_force(thrust=0.0)
    with pytest.raises(InputError, match="rings"):
        rings.ring_force(thrust=10.0, rings=0)
    with pytest.raises(InputError, match="outer_edge"):
        rings.ring_bending(outer=1.0, inner=0.5, stiffness=1.0, outer_edge="nailed")  # type: ignore[arg-type]
