"""Lamination theory: identities, limits and refused inputs."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.errors import InputError
from calc.structure.laminate import (
    Lamina,
    Layup,
    Ply,
    bending,
    moisture_curvature,
    moisture_gradient_curvature,
    ply_stresses,
    stacked,
    stiffness,
    subdivide_plies,
    thinned,
    thinned_bending,
)

BIRCH = Lamina(
    15.3e9, 0.765e9, 1.04e9, 0.451, 690.0, 1.13e9, 0.26e9, 114e6, 56e6, 6.3e6, 6.7e6, 13e6
)


def three_ply(thickness: float = 3e-3) -> Layup:
    """Return plain three-ply birch."""
    return stacked(BIRCH, (0, 90, 0), thickness=thickness)


@given(st.lists(st.floats(-90, 90), min_size=1, max_size=6))
def test_mirrored_stacks_do_not_couple(angles):
    """A symmetric stack has no B and is called symmetric."""
    stack = stacked(BIRCH, [*angles, *reversed(angles)], thickness=2e-3)
    full = stiffness(stack)
    assert np.abs(full.B).max() < 1e-9 * np.abs(full.A).max() * stack.thickness
    assert stack.symmetric


@given(st.floats(-math.pi, math.pi))
def test_rotating_the_stack_is_rotating_its_plies(angle):
    """The angle argument is the same as adding it to every ply."""
    stack = three_ply()
    rotated = Layup(tuple(replace(ply, angle=ply.angle + angle) for ply in stack.plies))
    given, made = stiffness(stack, angle=angle), stiffness(rotated)
    for key in ("A", "B", "D"):
        np.testing.assert_allclose(
            getattr(given, key), getattr(made, key), atol=1e-9 * np.abs(made.A).max()
        )


def test_angles_may_be_arrays() -> None:
    """A whole set of directions is one call."""
    angles = np.linspace(0, math.pi, 7)
    many = bending(three_ply(), angle=angles)
    one = bending(three_ply(), angle=angles[3])
    assert many.shape == (7, 3, 3)
    np.testing.assert_allclose(many[3], one)


def test_homogeneous_plate_has_five_sixths_of_its_shear() -> None:
    """One ply: the shear stiffness is 5/6 G h either way."""
    shear = stiffness(stacked(BIRCH, (0,), thickness=2e-3)).transverse_shear
    np.testing.assert_allclose(
        np.diag(shear), 5 / 6 * 2e-3 * np.array([BIRCH.shear_13, BIRCH.shear_23])
    )


def test_sanding_takes_the_outer_plies_first() -> None:
    """Three-ply sanded to half its thickness keeps its core whole and a quarter of each face."""
    half = thinned(three_ply(), 0.5)
    np.testing.assert_allclose([ply.thickness for ply in half.plies], [0.25e-3, 1e-3, 0.25e-3])
    assert thinned(three_ply(), 1.0).thickness == pytest.approx(3e-3)
    with pytest.raises(InputError, match="fraction"):
        thinned(three_ply(), 0.0)


def test_sanding_many_at_once_is_sanding_each() -> None:
    """The vector form agrees with the plain one for an unsymmetric stack too."""
    stack = stacked(BIRCH, (0, 90, 30, 0), thickness=3e-3)
    fractions = np.array([0.1, 0.4, 0.75, 1.0])
    many, mass = thinned_bending(stack, fractions, angle=0.3)
    # Plain sanding centres the rest anew, which changes nothing: the cut is symmetric.
    for k, fraction in enumerate(fractions):
        rest = thinned(stack, fraction)
        np.testing.assert_allclose(many[k], bending(rest, angle=0.3), rtol=1e-9, atol=1e-12)
        assert mass[k] == pytest.approx(rest.areal_mass)


def test_stresses_carry_the_loads() -> None:
    """Integrated over the thickness, the stresses give back force and moment."""
    stack = stacked(BIRCH, (0, 90, 30), thickness=3e-3)
    moment, force = np.array([3.0, -1.0, 0.5]), np.array([100.0, 50.0, -20.0])
    stress = ply_stresses(stack, moments=moment, forces=force, angle=0.4)
    total, bend = np.zeros(3), np.zeros(3)
    for k, ply in enumerate(stack.plies):
        c, s = math.cos(ply.angle + 0.4), math.sin(ply.angle + 0.4)
        back = np.array(
            [[c * c, s * s, -2 * c * s], [s * s, c * c, 2 * c * s], [c * s, -c * s, c * c - s * s]]
        )
        low, high = back @ stress[k, 0], back @ stress[k, 1]
        z0, z1 = stack.levels[k], stack.levels[k + 1]
        total += (z1 - z0) * (low + high) / 2
        # Exact for a stress that is linear between the faces.
        bend += (z1 - z0) / 6 * (low * (2 * z0 + z1) + high * (z0 + 2 * z1))
    np.testing.assert_allclose(total, force, atol=1e-9)
    np.testing.assert_allclose(bend, moment, atol=1e-11)


def test_moisture_on_one_side_bends_a_sheet() -> None:
    """A balanced sheet stays flat when damp evenly and cups when damp on one side."""
    damp = replace(BIRCH, swelling_along=0.005, swelling_across=0.33)
    sheet = subdivide_plies(stacked(damp, (0, 90, 0), thickness=3e-3), 4)
    even = moisture_curvature(sheet, change=0.04)
    assert np.abs(even.curvature).max() < 1e-12
    slope = moisture_curvature(sheet, change=np.linspace(0, 0.04, 12))
    assert slope.curvature[1] > slope.curvature[0] > 0
    with pytest.raises(InputError, match="one number or 12"):
        moisture_curvature(sheet, change=[0.1, 0.2])


def test_impossible_laminas_are_refused_by_name() -> None:
    """Impossible constants raise InputError naming them."""
    with pytest.raises(InputError, match="modulus_along"):
        replace(BIRCH, modulus_along=-1.0)
    with pytest.raises(InputError, match="poisson"):
        replace(BIRCH, poisson=9.0)
    with pytest.raises(InputError, match="thickness"):
        Ply(BIRCH, 0.0)
    with pytest.raises(InputError, match="plies"):
        Layup(())


def test_moisture_gradient_bends_a_single_ply_like_a_heated_strip() -> None:
    """A free strain that grows linearly by e over the thickness t bends a ply to e/t, exactly.

    The layers approach it with 1 - 1 / n^2 (midpoint rule), n = 8.
    """
    damp = replace(BIRCH, swelling_along=0.0, swelling_across=0.3)
    found = moisture_gradient_curvature(stacked(damp, (0,), thickness=2e-3), change=0.01)
    assert found[1] == pytest.approx(0.3 * 0.01 / 2e-3 * (1.0 - 1.0 / 64.0))
    assert found[0] == pytest.approx(0.0, abs=1e-12)
