"""What pages say about shaped edges, against geometry and plain beam theory."""

from __future__ import annotations

import math

import pytest

from scripts.handbook import names


def test_square_is_the_measure():
    """A square edge keeps everything."""
    assert all(number.value == pytest.approx(1.0) for number in names.shaped("square").values())


def test_airfoil_mass_is_its_section():
    """Of a homogeneous sheet an airfoil leaves the share of its section: ellipse and parabola."""
    share = 0.35 * math.pi / 4.0 + 0.65 * 2.0 / 3.0
    assert names.shaped("airfoil")["mass"].value == pytest.approx(share, rel=2e-3)


def test_bevel_of_a_long_strip_bends_as_its_moment_of_inertia():
    """A long isotropic strip with bevels keeps the share of its section's moment of inertia.

    Two triangles of 15 % of the chord on each side: I / I0 = 0.7 + 2 x 0.15 / 4 (integral of the
    cube of a straight taper).
    """
    left = names.shaped(
        "tapered", root="1 in", tip="1 in", span="7 in", sweep="0 in", thickness="2 mm",
        material="own", modulus_along="3 GPa", modulus_across="3 GPa", shear_modulus="1.5 GPa",
        poisson="0",
    )  # fmt: skip
    assert left["bending"].value == pytest.approx(0.7 + 2 * 0.15 / 4, rel=0.01)


def test_order_of_shapes():
    """Rounding costs least, an airfoil most, in mass and in every stiffness."""
    kinds = [names.shaped(edge) for edge in ("square", "rounded", "tapered", "airfoil")]
    for key in ("mass", "bending", "twist"):
        shares = [kind[key].value for kind in kinds]
        assert shares == sorted(shares, reverse=True)
