"""Failure criteria against plain strengths, closed forms and one another."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.errors import InputError
from calc.structure.failure import (
    bearing_strength,
    bending_strength,
    first_failure_moment,
    first_ply_failure,
    in_plane_strength,
    tension_limited_across,
    weakest_bending,
)
from calc.structure.laminate import Lamina, Layup, Ply, isotropic, ply_stresses, stacked

BIRCH = Lamina(
    15.3e9, 0.765e9, 1.04e9, 0.451, 690.0, 1.13e9, 0.26e9, 114e6, 56e6, 6.3e6, 6.7e6, 13e6
)


def three_ply(thickness: float = 3e-3) -> Layup:
    """Return plain three-ply birch."""
    return stacked(BIRCH, (0, 90, 0), thickness=thickness)


def test_single_ply_breaks_at_its_bending_strength() -> None:
    """Six M over h squared reaches the strength at factor one, whatever the criterion."""
    wood = replace(BIRCH, compression_along=114e6)
    sheet = stacked(wood, (0,), thickness=2e-3)
    moment = 114e6 * sheet.thickness**2 / 6
    stress = ply_stresses(sheet, moments=[moment, 0, 0])
    for criterion in ("tsai-wu", "max-stress", "hashin"):
        found = first_ply_failure(sheet, stress, criterion)
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
    sheet = stacked(BIRCH, (0,), thickness=1e-3)
    state = np.broadcast_to(np.array(stress, float), (1, 2, 3))
    found = first_ply_failure(sheet, state, criterion)
    assert found.factor == pytest.approx(getattr(BIRCH, strength), rel=1e-9)
    assert str(found.mode) == strength.replace("_strength", "").replace("_", " ")


@given(st.floats(-50e6, 50e6), st.floats(-50e6, 50e6), st.floats(-50e6, 50e6))
def test_isotropic_sheet_yields_by_von_mises(sx, sy, t):
    """Tsai-Wu with equal strengths is von Mises' criterion."""
    plain = isotropic(modulus=2e9, poisson=0.35, density=1000.0, tension=40e6)
    sheet = stacked(plain, (0,), thickness=1e-3)
    mises = math.sqrt(sx**2 - sx * sy + sy**2 + 3 * t**2)
    if mises < 1e3:
        return
    found = first_ply_failure(sheet, np.broadcast_to([sx, sy, t], (1, 2, 3)))
    assert found.factor == pytest.approx(40e6 / mises, rel=1e-6)


def test_leaving_out_splits_leaves_the_cross_ply_out() -> None:
    """Plywood bent across its face grain first splits its faces, then breaks its core."""
    sheet = three_ply()
    stress = ply_stresses(sheet, moments=[0, 1.0, 0])
    first = first_ply_failure(sheet, stress)
    last = first_ply_failure(sheet, stress, across=False)
    assert first.ply in (0, 2)
    assert str(first.mode) == "tension across"
    assert last.ply == 1
    assert last.factor > first.factor


def test_failure_is_vectorised_and_quiet_when_nothing_loads() -> None:
    """Leading axes stay; without stress the factor is infinite."""
    stress = ply_stresses(three_ply(), moments=np.zeros((4, 5, 3)))
    found = first_ply_failure(three_ply(), stress)
    assert found.factor.shape == found.ply.shape == found.mode.shape == (4, 5)
    assert np.isinf(found.factor).all()


def test_unknown_criterion_is_refused() -> None:
    """The message lists the criteria."""
    with pytest.raises(InputError, match="tsai-wu, max-stress or hashin"):
        first_ply_failure(three_ply(), np.zeros((3, 2, 3)), "guess")


def test_bending_strength_of_one_ply() -> None:
    """Along the grain a single ply bears its own strength in bending, across it that across."""
    stack = tension_limited_across(stacked(BIRCH, (0,), thickness=3e-3))
    found = bending_strength(stack, direction=[0.0, math.pi / 2])
    assert found[0] == pytest.approx(min(BIRCH.tension_along, BIRCH.compression_along))
    assert found[1] == pytest.approx(BIRCH.tension_across)


def test_compression_across_is_raised_to_the_tension() -> None:
    """A ply weaker in compression across than in tension is raised; a stronger one stays."""
    soft = stacked(replace(BIRCH, compression_across=2e6), (0, 90), thickness=2e-3)
    raised = tension_limited_across(soft)
    assert [ply.lamina.compression_across for ply in raised.plies] == [BIRCH.tension_across] * 2
    assert tension_limited_across(three_ply()) == three_ply()


def test_first_failure_moment_of_one_ply() -> None:
    """Pulled across its grain a ply of strength s bears s t^2 / 6 per width, in that mode."""
    thin = stacked(BIRCH, (0,), thickness=2e-3)
    moment, mode = first_failure_moment(thin, direction=math.pi / 2)
    assert moment == pytest.approx(BIRCH.tension_across * 2e-3**2 / 6)
    assert mode == "tension across"


def test_the_weaker_sign_of_the_moment_counts() -> None:
    """A stack that differs from face to face bears less one way round; that sign decides."""
    stack = stacked(BIRCH, (0, 90), thickness=2e-3)
    factors = [
        float(first_ply_failure(stack, ply_stresses(stack, moments=[sign, 0.0, 0.0])).factor)
        for sign in (1.0, -1.0)
    ]
    assert max(factors) > 1.01 * min(factors)
    assert first_failure_moment(stack, direction=0.0)[0] == pytest.approx(min(factors))
    strength = bending_strength(stack, direction=0.0)
    assert float(strength) == pytest.approx(6.0 * min(factors) / 2e-3**2)


def test_weakest_bending_of_one_ply_is_across_its_grain() -> None:
    """The weakest direction of a single ply is square to its grain."""
    strength, direction = weakest_bending(stacked(BIRCH, (30,), thickness=2e-3))
    assert direction == pytest.approx(math.radians(120.0))
    assert strength == pytest.approx(BIRCH.tension_across, rel=1e-6)


def test_plywood_counts_no_split_of_its_cross_plies() -> None:
    """ANC-18, eq. 2:19: bent across its faces, three-ply bears what its inner ply bears along.

    By hand, without Poisson's effect: EI = (15.3e9 * 1 + 0.765e9 * 26) * 1e-9 / 12 = 2.93 N m,
    M = 56e6 EI / (15.3e9 * 0.5e-3) = 21.5 N, 6 M / h^2 = 14.3 MPa.
    """
    strict, _ = weakest_bending(three_ply())
    plywood, direction = weakest_bending(three_ply(), plywood=True)
    assert plywood == pytest.approx(14.3e6, rel=0.01)
    assert direction == pytest.approx(math.pi / 2)
    assert strict < 0.8 * plywood


def test_in_plane_strength_of_one_ply() -> None:
    """A ply bears its weaker strength along the grain, and its shear strength."""
    axial, shear = in_plane_strength(stacked(BIRCH, (0,), thickness=2e-3), angle=0.0)
    assert axial == pytest.approx(min(BIRCH.tension_along, BIRCH.compression_along))
    assert shear == pytest.approx(BIRCH.shear_strength)


def test_bearing_strength_follows_hankinson() -> None:
    """At 45 degrees Hankinson's formula gives 2 P Q / (P + Q); crossed plies give the mean."""
    p, q = BIRCH.compression_along, BIRCH.compression_across
    one = stacked(BIRCH, (0,), thickness=1e-3)
    assert bearing_strength(one, direction=math.pi / 4) == pytest.approx(2 * p * q / (p + q))
    for direction in (-math.pi / 4, 0.75 * math.pi, 1.25 * math.pi):
        assert bearing_strength(one, direction=direction) == pytest.approx(2 * p * q / (p + q))
    crossed = Layup((Ply(BIRCH, 1e-3), Ply(BIRCH, 1e-3, math.pi / 2)))
    assert bearing_strength(crossed, direction=0.0) == pytest.approx((p + q) / 2)
