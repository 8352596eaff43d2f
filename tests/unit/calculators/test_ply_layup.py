"""Stacks of plies against identities of lamination theory and published plywood rows."""

from __future__ import annotations

import pytest

from calc import calculators, materials
from calc.calculators import ply_layup, stack_views
from calc.errors import InputError
from calc.report import Report
from calc.structure import laminate


def run(**texts: str) -> Report:
    """Return the calculator's answer for input texts."""
    return calculators.run("ply-layup", texts)


def test_balanced_plywood_identity() -> None:
    """E along plus E across is the same in stretch and in bending, for any count of plies.

    ANC Bulletin 18 (1944), section 2.52: E_L + E_T = E_w + E_x = E_fw + E_fx, which holds
    without Poisson coupling; with it the sums differ by a few per cent at most.
    """
    for stack in ("0/90/0", "0/90/0/90/0", "0/90/0/90/0/90/0"):
        report = run(layup=stack)
        stretch = report.answer("stretch_along").value + report.answer("stretch_across").value
        bend = report.answer("bending_along").value + report.answer("bending_across").value
        assert bend == pytest.approx(stretch, rel=0.03)


def test_three_plies_bend_like_the_face_veneers() -> None:
    """Three equal plies: E_f along = (26 E_L + E_T)/27, across = (E_L + 26 E_T)/27.

    NACA TR-84 (1920) and ANC-18 equation 2:17; Poisson coupling raises both by up to 2 %.
    """
    ply = materials.load("birch-plywood").lamina()
    along = (26 * ply.modulus_along + ply.modulus_across) / 27
    across = (ply.modulus_along + 26 * ply.modulus_across) / 27
    report = run(layup="0/90/0")
    assert report.answer("bending_along").value == pytest.approx(along, rel=0.02)
    assert report.answer("bending_across").value == pytest.approx(across, rel=0.02)


def test_more_plies_are_more_even() -> None:
    """The ratio along over across falls toward that in stretch with every two plies more."""
    rows = ply_layup.evenness(materials.load("birch-plywood"), 0.003)
    odd = [row for row in rows if row[0] % 2]
    assert [row[0] for row in rows] == list(range(1, 14))
    assert [row[1] for row in odd] == sorted((row[1] for row in odd), reverse=True)
    assert all(row[3] == bool(row[0] % 2) for row in rows)


def test_unsymmetric_stack_warps_like_the_birch_saddle() -> None:
    """0/90 of 1 mm yellow birch plies curls by about 4.7 1/m for 4 % of moisture.

    Timoshenko, J. Opt. Soc. Am. 11 (1925) 233, on the same veneer with E ratio 20: 4.72 1/m;
    1 % then bows 100 mm by 1.46 mm. Our veneer has its own swelling, hence 10 %.
    """
    report = run(layup="0/90", measure="ply", thickness="1 mm", material="birch-plywood")
    assert report.answer("warp").value == pytest.approx(4.72 / 4 * 0.1**2 / 8, rel=0.1)
    assert "warps" in report.summary


def test_symmetric_stack_stays_flat() -> None:
    """A symmetric stack does not curl when all plies take up moisture."""
    report = run(layup="[0/90]s")
    assert report.answer("warp").value == 0.0
    assert "stays flat" in report.summary


def test_one_ply_is_the_solid_sheet() -> None:
    """A single ply has the lamina's own constants in bending and in stretch."""
    ply = materials.load("basswood").lamina()
    report = run(layup="0", material="basswood")
    for name in ("bending_along", "stretch_along"):
        assert report.answer(name).value == pytest.approx(ply.modulus_along)
    assert report.answer("twist").value == pytest.approx(ply.shear_modulus)
    assert report.answer("strength_along").value == pytest.approx(ply.tension_along, rel=0.05)


def test_stock_sheet_is_the_material() -> None:
    """A sheet from the shop has the plies and the mass that the material file gives."""
    report = run(source="stock", material="birch-plywood", thickness="1/4 in")
    stack = materials.load("birch-plywood").layup(thickness=0.25 * 0.0254)
    assert report.answer("plies").value == len(stack.plies)
    assert report.answer("areal_mass").value == pytest.approx(stack.areal_mass)


def test_same_mass_comparison_is_of_the_same_mass() -> None:
    """Solid sheets in the comparison weigh what the stack weighs."""
    stack = materials.load("birch-plywood").layup(thickness=0.003)
    balsa = materials.load("balsa").lamina()
    table = stack_views.same_mass("this", stack, [("balsa", balsa)])
    thick = table.rows[1][1]
    assert thick * balsa.density == pytest.approx(stack.areal_mass)
    alone = laminate.Layup((laminate.Ply(balsa, thick),))
    assert table.rows[1][2] == pytest.approx(float(laminate.bending(alone)[0, 0]))


@pytest.mark.parametrize("text", ["0/x", "[0/90", "", "0//90"])
def test_bad_stacks_are_refused_by_name(text: str) -> None:
    """A stack that cannot be read is refused with the name of its input."""
    with pytest.raises(InputError) as caught:
        run(layup=text)
    assert caught.value.name == "layup"


def test_faced_material_is_refused() -> None:
    """A skinned core is not one kind of ply."""
    with pytest.raises(InputError) as caught:
        run(material="foam-board")
    assert caught.value.name == "material"


@pytest.mark.parametrize(
    ("texts", "word"),
    [
        ({"layup": "0/90"}, "warps"),
        ({"layup": "0/90/0"}, "stays flat"),
        ({"layup": "0/90", "material": "glass-epoxy"}, "no data"),
    ],
)
def test_headline_says_flat_or_warps(texts: dict[str, str], word: str) -> None:
    """Summary and headline state whether the stack stays flat, or that there are no data."""
    report = run(**texts)
    assert word in report.summary
    assert "warp" in report.headline
    note = report.answer("warp").note
    assert note.startswith(("it warps", "flat", "not known"))
