"""Lamination functions: identities, notation, refusals."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc import layup as lay
from calc.errors import InputError

BIRCH = lay.Lamina(
    15.3e9, 0.765e9, 1.04e9, 0.451, 690.0, 1.13e9, 0.26e9, 114e6, 56e6, 6.3e6, 6.7e6, 13e6
)


def three_ply(thickness=3e-3):
    """Build plain three-ply birch."""
    return lay.stacked(BIRCH, (0, 90, 0), thickness=thickness)


@pytest.mark.parametrize(
    ("text", "angles"),
    [
        ("0", (0,)),
        ("0/90/0", (0, 90, 0)),
        (" 0 / 90 / 0 ", (0, 90, 0)),
        ("[0/90]s", (0, 90, 90, 0)),
        ("[0/90]S", (0, 90, 90, 0)),
        ("[0/90]_s", (0, 90, 90, 0)),
        ("[0_2/±45]s", (0, 0, 45, -45, -45, 45, 0, 0)),
        ("[0/+-30]", (0, 30, -30)),
        ("±45", (45, -45)),
        ("(0/90)2", (0, 90, 0, 90)),
        ("(0/90)_2/0", (0, 90, 0, 90, 0)),
        ("[0/90]2s", (0, 90, 0, 90, 90, 0, 90, 0)),
        ("[(0/90)2/45]s", (0, 90, 0, 90, 45, 45, 90, 0, 90, 0)),
        ("22.5/-22.5", (22.5, -22.5)),
        ("0,90,0", (0, 90, 0)),
        ("0°/90°", (0, 90)),
    ],
)
def test_stack_notation(text, angles):
    """Bracket notation is read as laminators write it."""
    assert lay.parse_stack(text) == angles


@pytest.mark.parametrize(
    "text", ["", "/", "0/", "/0", "0//90", "[0/90", "0/90]", "ply", "0 90", "0/400", "[]", "(0/90]"]
)
def test_stack_notation_refuses_and_says_what_is_accepted(text):
    """A stack that cannot be read is refused with the accepted form."""
    with pytest.raises(InputError, match="cannot be used; give"):
        lay.parse_stack(text)


def test_too_many_plies_are_refused():
    """A group repeated thousands of times does not run away."""
    with pytest.raises(InputError, match="at most 200 plies"):
        lay.parse_stack("(0/90)9999")


@given(st.text(alphabet="0123456789/[]()_sS±+- .,", max_size=12))
def test_stack_notation_never_breaks(text):
    """Whatever is typed gives angles or an InputError."""
    try:
        angles = lay.parse_stack(text)
    except InputError:
        return
    assert 1 <= len(angles) <= lay.MOST_PLIES


@given(st.lists(st.floats(-90, 90), min_size=1, max_size=6))
def test_mirrored_stacks_do_not_couple(angles):
    """A symmetric stack has no B and is called symmetric."""
    stack = lay.stacked(BIRCH, [*angles, *reversed(angles)], thickness=2e-3)
    full = lay.stiffness(stack)
    assert np.abs(full.B).max() < 1e-9 * np.abs(full.A).max() * stack.thickness
    assert stack.symmetric


@given(st.floats(-math.pi, math.pi))
def test_turning_the_stack_is_turning_its_plies(angle):
    """The angle argument does what turning every ply would do."""
    stack = three_ply()
    turned = lay.Layup(tuple(replace(ply, angle=ply.angle + angle) for ply in stack.plies))
    asked, made = lay.stiffness(stack, angle=angle), lay.stiffness(turned)
    for key in ("A", "B", "D"):
        np.testing.assert_allclose(
            getattr(asked, key), getattr(made, key), atol=1e-9 * np.abs(made.A).max()
        )


def test_angles_may_be_arrays():
    """A whole set of directions is one call."""
    angles = np.linspace(0, math.pi, 7)
    many = lay.bending(three_ply(), angle=angles)
    one = lay.bending(three_ply(), angle=angles[3])
    assert many.shape == (7, 3, 3)
    np.testing.assert_allclose(many[3], one)


def test_homogeneous_plate_has_five_sixths_of_its_shear():
    """One ply: the shear stiffness is 5/6 G h either way."""
    shear = lay.stiffness(lay.stacked(BIRCH, (0,), thickness=2e-3)).transverse_shear
    np.testing.assert_allclose(
        np.diag(shear), 5 / 6 * 2e-3 * np.array([BIRCH.shear_13, BIRCH.shear_23])
    )


def test_sanding_takes_the_outer_plies_first():
    """Three-ply sanded to half its thickness keeps its core whole and a quarter of each face."""
    half = lay.sanded(three_ply(), 0.5)
    np.testing.assert_allclose([ply.thickness for ply in half.plies], [0.25e-3, 1e-3, 0.25e-3])
    assert lay.sanded(three_ply(), 1.0).thickness == pytest.approx(3e-3)
    with pytest.raises(InputError, match="fraction"):
        lay.sanded(three_ply(), 0.0)


def test_sanding_many_at_once_is_sanding_each():
    """The vector form agrees with the plain one for an unsymmetric stack too."""
    stack = lay.stacked(BIRCH, (0, 90, 30, 0), thickness=3e-3)
    fractions = np.array([0.1, 0.4, 0.75, 1.0])
    many, mass = lay.sanded_bending(stack, fractions, angle=0.3)
    # Plain sanding centres the rest anew, which changes nothing: the cut is symmetric.
    for k, fraction in enumerate(fractions):
        rest = lay.sanded(stack, fraction)
        np.testing.assert_allclose(many[k], lay.bending(rest, angle=0.3), rtol=1e-9, atol=1e-12)
        assert mass[k] == pytest.approx(rest.areal_mass)


def test_many_samples_at_once_are_each_sample():
    """Scaled constants in one call agree with stacks made one by one."""
    stack = lay.stacked(BIRCH, (0, 90, 0), thickness=3e-3)
    along, across, shear = np.array([[0.8, 1.2], [1.1, 0.9], [0.7, 1.0]])
    many, mass = lay.scaled_bending(
        stack, along=along, across=across, shear=shear, density=[1.0, 1.1], fractions=[0.5, 1.0]
    )
    assert many.shape == (2, 2, 3, 3)
    for k in range(2):
        other = replace(
            BIRCH,
            modulus_along=BIRCH.modulus_along * along[k],
            modulus_across=BIRCH.modulus_across * across[k],
            shear_modulus=BIRCH.shear_modulus * shear[k],
        )
        made = lay.stacked(other, (0, 90, 0), thickness=3e-3)
        np.testing.assert_allclose(many[k, 1], lay.bending(made), rtol=1e-9)
        np.testing.assert_allclose(many[k, 0], lay.bending(lay.sanded(made, 0.5)), rtol=1e-9)
    np.testing.assert_allclose(mass[:, 1], stack.areal_mass * np.array([1.0, 1.1]))


def test_stresses_carry_the_loads():
    """Integrated over the thickness, the stresses give back force and moment."""
    stack = lay.stacked(BIRCH, (0, 90, 30), thickness=3e-3)
    moment, force = np.array([3.0, -1.0, 0.5]), np.array([100.0, 50.0, -20.0])
    stress = lay.ply_stresses(stack, moments=moment, forces=force, angle=0.4)
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


def test_single_ply_breaks_at_its_bending_strength():
    """Six M over h squared reaches the strength at factor one, whatever the criterion."""
    wood = replace(BIRCH, compression_along=114e6)
    sheet = lay.stacked(wood, (0,), thickness=2e-3)
    moment = 114e6 * sheet.thickness**2 / 6
    stress = lay.ply_stresses(sheet, moments=[moment, 0, 0])
    for criterion in ("tsai-wu", "max-stress", "hashin"):
        found = lay.failure(sheet, stress, criterion)
        assert found.factor == pytest.approx(1.0, rel=1e-9)
        assert str(found.mode).endswith("along")


@pytest.mark.parametrize("criterion", ["tsai-wu", "max-stress", "hashin"])
@pytest.mark.parametrize(
    ("stress", "strength"),
    [
        ((1, 0, 0), "tension_along"),
        ((-1, 0, 0), "compression_along"),
        ((0, 1, 0), "tension_across"),
        ((0, -1, 0), "compression_across"),
        ((0, 0, -1), "shear_strength"),
    ],
)
def test_every_criterion_meets_every_plain_strength(criterion, stress, strength):
    """Under one stress alone the factor is that strength."""
    sheet = lay.stacked(BIRCH, (0,), thickness=1e-3)
    state = np.broadcast_to(np.array(stress, float), (1, 2, 3))
    found = lay.failure(sheet, state, criterion)
    assert found.factor == pytest.approx(getattr(BIRCH, strength), rel=1e-9)
    assert str(found.mode) == strength.replace("_strength", "").replace("_", " ")


@given(st.floats(-50e6, 50e6), st.floats(-50e6, 50e6), st.floats(-50e6, 50e6))
def test_isotropic_sheet_yields_by_von_mises(sx, sy, t):
    """Tsai-Wu with equal strengths is von Mises' criterion."""
    plain = lay.isotropic(modulus=2e9, poisson=0.35, density=1000.0, tension=40e6)
    sheet = lay.stacked(plain, (0,), thickness=1e-3)
    mises = math.sqrt(sx**2 - sx * sy + sy**2 + 3 * t**2)
    if mises < 1e3:
        return
    found = lay.failure(sheet, np.broadcast_to([sx, sy, t], (1, 2, 3)))
    assert found.factor == pytest.approx(40e6 / mises, rel=1e-6)


def test_leaving_out_splits_leaves_the_cross_ply_out():
    """Plywood bent across its face grain first splits its faces, then breaks its core."""
    sheet = three_ply()
    stress = lay.ply_stresses(sheet, moments=[0, 1.0, 0])
    first = lay.failure(sheet, stress)
    last = lay.failure(sheet, stress, across=False)
    assert first.ply in (0, 2)
    assert str(first.mode) == "tension across"
    assert last.ply == 1
    assert last.factor > first.factor


def test_failure_is_vectorised_and_quiet_when_nothing_loads():
    """Leading axes pass through; no stress means no failure."""
    stress = lay.ply_stresses(three_ply(), moments=np.zeros((4, 5, 3)))
    found = lay.failure(three_ply(), stress)
    assert found.factor.shape == found.ply.shape == found.mode.shape == (4, 5)
    assert np.isinf(found.factor).all()


def test_unknown_criterion_is_refused():
    """The message names the criteria there are."""
    with pytest.raises(InputError, match="tsai-wu, max-stress or hashin"):
        lay.failure(three_ply(), np.zeros((3, 2, 3)), "guess")


def test_moisture_on_one_side_bends_a_sheet():
    """A balanced sheet stays flat when damp evenly and cups when damp on one side."""
    damp = replace(BIRCH, swelling_along=0.005, swelling_across=0.33)
    sheet = lay.divided(lay.stacked(damp, (0, 90, 0), thickness=3e-3), 4)
    even = lay.moisture_curvature(sheet, change=0.04)
    assert np.abs(even.curvature).max() < 1e-12
    slope = lay.moisture_curvature(sheet, change=np.linspace(0, 0.04, 12))
    assert slope.curvature[1] > slope.curvature[0] > 0
    with pytest.raises(InputError, match="one number or 12"):
        lay.moisture_curvature(sheet, change=[0.1, 0.2])


def test_crushing_keeps_mass_and_loses_stiffness():
    """A dented core weighs the same and bends more, about with the square of its depth."""
    paper = lay.isotropic(modulus=3e9, poisson=0.2, density=700.0, tension=30e6)
    foam = lay.isotropic(modulus=10e6, poisson=0.3, density=35.0, tension=3e5, kind="core")
    board = lay.Layup((lay.Ply(paper, 2e-4), lay.Ply(foam, 4.6e-3), lay.Ply(paper, 2e-4)))
    flat = lay.crushed(board, 1.6e-3)
    assert flat.areal_mass == pytest.approx(board.areal_mass)
    assert flat.thickness == pytest.approx(3.4e-3)
    ratio = lay.bending(flat)[0, 0] / lay.bending(board)[0, 0]
    assert ratio == pytest.approx((3.2 / 4.8) ** 2, rel=0.02)
    with pytest.raises(InputError, match="crush"):
        lay.crushed(board, 5e-3)
    with pytest.raises(InputError, match="crush"):
        lay.crushed(three_ply(), 1e-4)


def test_core_shear_needs_a_sandwich():
    """Core helpers refuse a stack without a core."""
    with pytest.raises(InputError, match="a core with a face on either side"):
        lay.core_shear_stress(three_ply(), shear=1.0)


def test_impossible_laminas_are_refused_by_name():
    """Bad constants are named."""
    with pytest.raises(InputError, match="modulus_along"):
        replace(BIRCH, modulus_along=-1.0)
    with pytest.raises(InputError, match="poisson"):
        replace(BIRCH, poisson=9.0)
    with pytest.raises(InputError, match="thickness"):
        lay.Ply(BIRCH, 0.0)
    with pytest.raises(InputError, match="plies"):
        lay.Layup(())
