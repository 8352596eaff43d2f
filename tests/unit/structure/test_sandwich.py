"""Sandwich panels by hand: crushed cores, thin faces, deflection of a strip."""

from __future__ import annotations

import pytest

from calc.errors import InputError
from calc.structure.laminate import Lamina, Layup, Ply, bending, isotropic, stacked
from calc.structure.sandwich import (
    core_mass_share,
    core_shear_stress,
    core_thickness,
    strip_limits,
    thin_face_sandwich,
    tip_deflection,
    with_crushed_core,
)

BIRCH = Lamina(
    15.3e9, 0.765e9, 1.04e9, 0.451, 690.0, 1.13e9, 0.26e9, 114e6, 56e6, 6.3e6, 6.7e6, 13e6
)


def three_ply(thickness: float = 3e-3) -> Layup:
    """Return plain three-ply birch."""
    return stacked(BIRCH, (0, 90, 0), thickness=thickness)


def test_crushing_keeps_mass_and_loses_stiffness() -> None:
    """A dented core weighs the same and bends more, about with the square of its depth."""
    paper = isotropic(modulus=3e9, poisson=0.2, density=700.0, tension=30e6)
    foam = isotropic(modulus=10e6, poisson=0.3, density=35.0, tension=3e5, kind="core")
    board = Layup((Ply(paper, 2e-4), Ply(foam, 4.6e-3), Ply(paper, 2e-4)))
    flat = with_crushed_core(board, 1.6e-3)
    assert flat.areal_mass == pytest.approx(board.areal_mass)
    assert flat.thickness == pytest.approx(3.4e-3)
    ratio = bending(flat)[0, 0] / bending(board)[0, 0]
    assert ratio == pytest.approx((3.2 / 4.8) ** 2, rel=0.02)
    with pytest.raises(InputError, match="crush"):
        with_crushed_core(board, 5e-3)
    with pytest.raises(InputError, match="crush"):
        with_crushed_core(three_ply(), 1e-4)


def test_core_shear_needs_a_sandwich() -> None:
    """Core helpers refuse a stack without a core."""
    with pytest.raises(InputError, match="a core with a face on either side"):
        core_shear_stress(three_ply(), shear=1.0)


PAPER = isotropic(modulus=3e9, poisson=0.0, density=700.0, tension=30e6)
FOAM = isotropic(modulus=10e6, poisson=0.0, density=35.0, tension=3e5, kind="core")
BOARD = Layup((Ply(PAPER, 2e-4), Ply(FOAM, 4.6e-3), Ply(PAPER, 2e-4)))


def test_core_by_hand() -> None:
    """4.6 mm of core weigh 0.161 of 0.441 kg/m2."""
    assert core_thickness(BOARD) == pytest.approx(4.6e-3)
    assert core_mass_share(BOARD) == pytest.approx(0.161 / 0.441)


def test_tip_deflection_by_hand() -> None:
    """F L^3/(3 D b) + F L/(U b) with D and U of thin-face theory (Allen 1969, from memory)."""
    thin = thin_face_sandwich(BOARD)
    found = tip_deflection(BOARD, force=2.0, length=0.1, width=0.05)
    assert found.bending == pytest.approx(2.0 * 0.1**3 / (3.0 * thin.bending * 0.05), rel=0.01)
    assert found.shear == pytest.approx(2.0 * 0.1 / (thin.shear * 0.05), rel=0.02)
    assert found.total == found.bending + found.shear


def test_strip_limits_by_hand() -> None:
    """Wrinkling at 0.5 (E_f E_c G_c)^(1/3) in the middle of the face; shear at strength times h."""
    limits = strip_limits(BOARD)
    stress = 0.5 * (3e9 * 10e6 * 5e6) ** (1 / 3)
    assert limits.wrinkling_stress == pytest.approx(stress)
    # the mean face stress times face thickness and the distance between the faces
    assert limits.wrinkling == pytest.approx(stress * 2e-4 * 4.8e-3, rel=0.02)
    assert limits.shear == pytest.approx(FOAM.shear_strength * 4.8e-3)
    assert limits.face_mode.startswith("skin, ")
    assert limits.moment == min(limits.face, limits.wrinkling)


def test_the_weaker_sign_of_the_moment_counts() -> None:
    """A board whose upper face is weak in compression fails there: strength times face times h."""
    weak = isotropic(
        modulus=3e9, poisson=0.0, density=700.0, tension=30e6, compression=10e6,
        shear_strength=17e6,
    )  # fmt: skip
    board = Layup((Ply(PAPER, 2e-4), Ply(FOAM, 4.6e-3), Ply(weak, 2e-4)))
    assert strip_limits(board).face == pytest.approx(10e6 * 2e-4 * 4.8e-3, rel=0.06)
