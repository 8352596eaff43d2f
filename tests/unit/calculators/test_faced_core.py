"""Skinned cores against hand calculation and the published least-weight theorem."""

from __future__ import annotations

import numpy as np
import pytest

from calc import calculators, materials
from calc.calculators import faced_core
from calc.errors import InputError
from calc.report import Report
from calc.structure import laminate, sandwich


def run(**texts: str) -> Report:
    """Return the calculator's answer for input texts."""
    return calculators.run("faced-core", texts)


def test_thin_face_formula_agrees_with_lamination_theory() -> None:
    """The thin-face formula and the full theory differ by the skins' Poisson effect only."""
    report = run()
    skin = materials.load("foam-board-liner").lamina()
    share = 1.0 - skin.poisson**2 * skin.modulus_across / skin.modulus_along
    full = report.answer("bending_along").value
    assert report.answer("thin_face").value / full == pytest.approx(share, rel=0.02)


def test_sag_by_hand() -> None:
    """Bending and shear sag of a cantilever: F L^3/(3 D b) + F L/(U b), U = G h^2/c.

    Allen, Analysis and Design of Structural Sandwich Panels (1969), from memory; D per width of
    a strip free across, so that its modulus is the liner's.
    """
    report = run(thickness="5 mm", skin_thickness="0.25 mm", glue="0", force="1 N",
                 reach="100 mm", width="100 mm")  # fmt: skip
    skin = materials.load("foam-board-liner").lamina()
    core = materials.load("polystyrene-foam").lamina()
    face, c = 0.25e-3, 4.5e-3
    h = c + face
    d = skin.modulus_along * (face * h**2 / 2 + face**3 / 6) + core.modulus_along * c**3 / 12
    u = core.shear_13 * h**2 / c
    sag = 0.1**3 / (3 * d * 0.1) + 0.1 / (u * 0.1)
    assert report.answer("deflection").value == pytest.approx(sag, rel=0.02)


def test_wrinkling_stress_by_hand() -> None:
    """Foam board wrinkles at 29 MPa: half the cube root of 5 GPa times 8.9 MPa times 4.2 MPa.

    Hoff and Mautner (1945), k of 0.5 from memory; the moduli are those of the materials' files.
    """
    skin = materials.load("foam-board-liner").lamina()
    core = materials.load("polystyrene-foam").lamina()
    found = run().answer("wrinkling_stress").value
    assert (2.0 * found) ** 3 == pytest.approx(
        skin.modulus_along * core.modulus_across * core.shear_13, rel=1e-9
    )
    assert found == pytest.approx(28.6e6, rel=0.002)


def test_crushing_costs_about_the_square() -> None:
    """Stiffness falls with the square of the distance between the faces."""
    board = materials.load("foam-board").layup(thickness=0.005)
    for share, thickness, stiffness, strength in faced_core.crush_rows(board):
        h0, h = 0.005 - 0.2e-3, thickness - 0.2e-3
        assert stiffness == pytest.approx((h / h0) ** 2, rel=0.03), share
        assert strength == pytest.approx(h / h0, rel=0.05), share


def test_crush_input_and_table_agree() -> None:
    """A given dent and the table agree for the same share."""
    core = 3 / 16 * 25.4 - 0.4
    report = run(crush=f"{0.2 * core:.6f} mm")
    row = next(row for row in report.tables[0].rows if row[0] == pytest.approx(0.2))
    assert report.answer("left").value == pytest.approx(row[2], rel=1e-4)


def test_least_weight_for_stiffness_has_two_thirds_in_the_core() -> None:
    """For a given stiffness the lightest sandwich has 2/3 of its mass in the core.

    US Forest Service Research Note FPL-086 (1965), p. 4, skins thin and glue left out.
    """
    skin, core = materials.load("carbon-cloth-skin"), materials.load("polystyrene-foam")
    faces = np.geomspace(2e-5, 4e-4, 60)
    masses, shares = [], []
    for face in faces:
        # thickness that gives the wanted stiffness, by bisection
        low, high = 3.2 * face, 0.05
        for _ in range(50):
            middle = 0.5 * (low + high)
            sheet = materials.faced(core, skin, skin_thickness=float(face), glue_line=0.0)
            stack = sheet.layup(thickness=middle)
            low, high = (middle, high) if laminate.bending(stack)[0, 0] < 60.0 else (low, middle)
        masses.append(stack.areal_mass)
        shares.append(sandwich.core_mass_share(stack))
    assert shares[int(np.argmin(masses))] == pytest.approx(2 / 3, abs=0.05)


def test_bad_shapes_are_refused_by_name() -> None:
    """Skins thicker than the sheet allows and dents deeper than the core are refused."""
    with pytest.raises(InputError, match="skin_thickness"):
        run(thickness="1 mm", skin_thickness="0.5 mm")
    with pytest.raises(InputError, match="crush"):
        run(crush="20 mm")
