"""Root strength: no load, weak cores and wrinkling faces, by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from calc import materials
from calc.fin import model
from calc.fin.fin import Fin
from calc.geometry.planform import Planform
from calc.structure import root_strength
from calc.structure.laminate import Layup

SHAPE = Planform(root=0.08, tip=0.05, span=0.06, sweep=0.03)
BOARD = Fin(planform=SHAPE, material=materials.load("foam-board"), thickness=0.005)


def carried(fin: Fin, stack: Layup, *, moment: float, shear: float) -> root_strength.RootLoad:
    """Return the root of a fin pushed at its tip, for a stack of plies."""
    shape = model.model_for(fin)
    found = model.structure(shape, [stack], [fin.direction])
    system = found.single(0)
    push = system.basis.values(np.array([[SHAPE.sweep + 0.5 * SHAPE.tip, SHAPE.span]]))[0]
    return root_strength.root_loads(
        system=system,
        planform=SHAPE,
        layup=stack,
        angle=fin.direction,
        bending=found.bending[0],
        coefficients=np.linalg.solve(system.stiffness, moment / SHAPE.span * push)[None],
        moment=[moment],
        shear=[shear],
    )[0]


def with_core(stack: Layup, **changes: Any) -> Layup:
    """Return a stack whose core has other properties."""
    return Layup(
        tuple(
            replace(ply, lamina=replace(ply.lamina, **changes))
            if ply.lamina.kind == "core"
            else ply
            for ply in stack.plies
        )
    )


def test_no_load_asks_nothing() -> None:
    """Without a load the factor is infinite and no number is undefined."""
    root = carried(BOARD, BOARD.layup(), moment=0.0, shear=0.0)
    assert root.factor == math.inf
    assert np.all(root.moments == 0.0)


def test_core_shears_at_twice_its_mean_stress() -> None:
    """A core without shear strength to speak of gives first, at strength h b / (2 V).

    Twice the mean force along the root: 1.5 to 2 are usual on swept fins (common practice).
    """
    stack = with_core(BOARD.layup(), shear_strength=1e3)
    root = carried(BOARD, stack, moment=0.06, shear=1.0)
    face, core = stack.plies[0].thickness, stack.plies[1].thickness
    assert root.failing == "the core shears"
    assert root.factor == pytest.approx(1e3 * (core + face) * 0.08 / 2.0, rel=1e-9)


def test_face_wrinkles_at_ten_megapascals() -> None:
    """A face of 8 GPa on a core of 1 MPa both ways: 0.5 (8e9 1e6 1e6)^(1/3) = 10 MPa, by hand.

    Hoff and Mautner 1945; Allen 1969 (from memory, unverified).
    """
    soft = with_core(BOARD.layup(), modulus_across=1e6, shear_13=1e6, shear_23=2e6)
    stack = Layup(
        tuple(
            ply
            if ply.lamina.kind == "core"
            else replace(ply, lamina=replace(ply.lamina, modulus_along=8e9))
            for ply in soft.plies
        )
    )
    stresses = np.zeros((1, 3, 2, 3))
    stresses[0, 2, :, 0] = -2e6
    wrinkling, shearing = root_strength.core_factors(stack, stresses=stresses, shear=0.0)
    assert wrinkling == pytest.approx(10e6 / 2e6, rel=1e-9)
    assert shearing == math.inf


def test_pulled_faces_do_not_wrinkle() -> None:
    """Faces pulled in every direction never wrinkle; in pure shear they do, at 45 degrees."""
    stack = BOARD.layup()
    pulled = np.full((1, 3, 2, 3), [2e6, 1e6, 0.0])
    assert root_strength.core_factors(stack, stresses=pulled, shear=1.0)[0] == math.inf
    sheared = np.full((1, 3, 2, 3), [0.0, 0.0, 1e6])
    assert 0.0 < root_strength.core_factors(stack, stresses=sheared, shear=1.0)[0] < math.inf


def test_softer_core_never_bears_more() -> None:
    """A face on a core ten times softer wrinkles at a smaller load."""
    stack = BOARD.layup()
    softer = with_core(
        stack,
        modulus_across=0.1 * stack.plies[1].lamina.modulus_across,
        shear_13=0.1 * stack.plies[1].lamina.shear_13,
        shear_23=0.1 * stack.plies[1].lamina.shear_23,
    )
    pressed = np.full((1, 3, 2, 3), [-2e6, -1e6, 0.5e6])
    assert (
        root_strength.core_factors(softer, stresses=pressed, shear=1.0)[0]
        < root_strength.core_factors(stack, stresses=pressed, shear=1.0)[0]
    )


def test_solid_sheets_have_no_core_to_fail() -> None:
    """A solid sheet is judged by its plies only."""
    fin = replace(BOARD, material=materials.load("basswood"))
    plain = carried(fin, fin.layup(), moment=0.06, shear=1.0)
    heavy = carried(fin, fin.layup(), moment=0.06, shear=100.0)
    assert heavy.factor == plain.factor
