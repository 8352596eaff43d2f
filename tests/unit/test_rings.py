"""Centring rings: margins move the right way and bad rings are refused."""

import pytest

from calc.errors import InputError
from calc.rings import bulkhead_moment, check, ring_bending

RING = {
    "outer": 0.037,
    "inner": 0.0145,
    "thickness": 0.003,
    "thrust": 100.0,
    "modulus": 4e9,
    "strength": 40e6,
    "shear_strength": 3e6,
    "glue_shear": 1e6,
}


def test_more_rings_and_thickness_help():
    """Two rings halve the demand; bending strength grows with thickness squared."""
    one, two = check(**RING), check(**RING, rings=2)
    assert two.governs.ratio == pytest.approx(2 * one.governs.ratio)
    thick = check(**{**RING, "thickness": 0.006})
    assert thick.margins[0].ratio == pytest.approx(4 * one.margins[0].ratio)


def test_held_edges_help():
    """Clamping and guiding lower deflection and moment; fillets lower glue stress."""
    loose = check(**RING)
    held = check(**RING, outer_edge="clamped", inner_edge="guided", fillet_radius=0.003)
    assert held.deflection < loose.deflection
    assert all(a.ratio >= b.ratio for a, b in zip(held.margins, loose.margins, strict=True))


def test_glue_by_hand():
    """Glue at the motor tube: 2 * 100 / (2 pi 0.0145 * 0.003) = 0.7318 MPa."""
    glue = next(m for m in check(**RING).margins if m.name == "glue to the motor tube")
    assert glue.demand == pytest.approx(0.7318e6, rel=1e-3)


def test_bad_rings():
    """Rings inside out and unknown edges are refused by name."""
    with pytest.raises(InputError, match="inner"):
        check(**{**RING, "inner": 0.05})
    with pytest.raises(InputError, match="outer_edge"):
        ring_bending(outer=1.0, inner=0.5, stiffness=1.0, outer_edge="nailed")
    with pytest.raises(InputError, match="patch"):
        bulkhead_moment(radius=0.02, force=10.0)
