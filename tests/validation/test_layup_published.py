"""Lamination theory against textbooks, plywood tables and tests."""

from __future__ import annotations

import math
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from calc import materials
from calc.structure import laminate as lay
from calc.structure.failure import first_ply_failure
from calc.structure.sandwich import thin_face_sandwich, wrinkling_stress
from calc.structure.stack_notation import parse_stack

DATA = Path(__file__).parent / "data"


def read(name):
    """Read one published case."""
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


def lamina(constants, **changes):
    """Make a lamina with the constants that a published case gives and plain strengths."""
    base = {
        "density": 1600.0,
        "shear_13": constants["shear_modulus"],
        "shear_23": constants["shear_modulus"],
        "tension_along": 1e9,
        "compression_along": 1e9,
        "tension_across": 1e8,
        "compression_across": 1e8,
        "shear_strength": 1e8,
    }
    known = {key: constants[key] for key in ("modulus_along", "modulus_across", "poisson")}
    return lay.Lamina(shear_modulus=constants["shear_modulus"], **known, **{**base, **changes})


KAW = read("layup_kaw_2006")
MALLICK = read("layup_mallick_2008")
FINNISH = read("layup_finnish_plywood_2002")
NACA = read("layup_naca_tr84_1920")
WARP = read("layup_warp_timoshenko_1925")
SANDWICH = read("sandwich_fpl086_1965")
RATIOS = read("wood_ratios_handbook_2021")
OARS = read("ashby_oars")


UPPER = np.triu_indices(3)
TERMS = [f"term {i + 1}{j + 1}" for i, j in zip(*UPPER, strict=True)]


def close(found, wanted, relative):
    """Hold a matrix to printed digits: relative to its own entries, zeros to its largest."""
    wanted = np.asarray(wanted, float)
    np.testing.assert_allclose(
        found, wanted, rtol=relative, atol=1e-9 * max(1.0, np.abs(wanted).max())
    )


def test_reduced_and_turned_stiffness_match_kaw(record):
    """Kaw's examples 2.6 and 2.7 to the printed digits."""
    q = lay.reduced_stiffness(lamina(KAW["lamina"]))
    printed = KAW["reduced"]
    record(
        case="stiffness of one ply",
        parts=("Q11, GPa", "Q12, GPa", "Q22, GPa", "Q66, GPa"),
        published=[printed[k] / 1e9 for k in ("q11", "q12", "q22", "q66")],
        ours=q[[0, 0, 1, 2], [0, 1, 1, 2]] / 1e9,
        tolerance="0.05 %: the printed digits",
        source=KAW["source"],
    )
    record(
        case="stiffness of a ply turned 60 degrees",
        parts=TERMS,
        published=np.array(KAW["turned_60"]["matrix"])[UPPER] / 1e9,
        ours=lay.rotate_stiffness(q, math.radians(60))[UPPER] / 1e9,
        unit="GPa",
        tolerance="0.05 %: the printed digits",
        source=KAW["source"],
    )
    close(q[[0, 0, 1, 2], [0, 1, 1, 2]], [printed[k] for k in ("q11", "q12", "q22", "q66")], 5e-4)
    close(lay.rotate_stiffness(q, math.radians(60)), KAW["turned_60"]["matrix"], 5e-4)


def test_unsymmetric_stack_matches_kaw(record):
    """A, B and D of [0/30/-45], Kaw's example 4.2."""
    case = KAW["laminate"]
    stack = lay.stacked(
        lamina(KAW["lamina"]), parse_stack(case["stack"]), thickness=case["thickness"]
    )
    full = lay.stiffness(stack)
    for key in "ABD":
        record(
            case=f"unsymmetric stack {case['stack']}, matrix {key}",
            parts=TERMS,
            published=np.array(case[key])[UPPER],
            ours=getattr(full, key)[UPPER],
            scale=np.abs(case[key]).max(),
            tolerance="0.05 %: the printed digits",
            source=KAW["source"],
        )
        close(getattr(full, key), case[key], case["tolerance"])


def test_midplane_strain_and_curvature_match_kaw(record):
    """Example 4.3: strains recovered from the stresses at the faces of the stack."""
    case, load = KAW["laminate"], KAW["load"]
    stack = lay.stacked(
        lamina(KAW["lamina"]), parse_stack(case["stack"]), thickness=case["thickness"]
    )
    full = lay.stiffness(stack)
    whole = np.block([[full.A, full.B], [full.B, full.D]])
    answer = np.linalg.solve(whole, np.concatenate((load["forces"], [0, 0, 0])))
    record(
        case="unsymmetric stack under a pull",
        parts=(
            "strain x",
            "strain y",
            "shear strain",
            "curvature x, 1/m",
            "curvature y, 1/m",
            "twist, 1/m",
        ),
        published=(*load["strain"], *load["curvature"]),
        ours=answer,
        tolerance="0.05 %: the printed digits",
        source=KAW["source"] + "; from memory, reproduced",
    )
    close(answer[:3], load["strain"], load["tolerance"])
    close(answer[3:], load["curvature"], load["tolerance"])
    stress = lay.ply_stresses(stack, moments=[0.0, 0.0, 0.0], forces=load["forces"])
    bottom = np.asarray(load["strain"]) - 0.0075 * np.asarray(load["curvature"])
    close(stress[0, 0], lay.reduced_stiffness(stack.plies[0].lamina) @ bottom, 3e-3)


def test_cross_ply_constants_match_kaw(record):
    """In-plane engineering constants of [0/90/0], example 4.4."""
    case = KAW["cross_ply"]
    stack = lay.stacked(
        lamina(KAW["lamina"]), parse_stack(case["stack"]), thickness=case["thickness"]
    )
    found = lay.in_plane_constants(stack)
    for key in ("modulus_x", "modulus_y", "shear_modulus", "poisson"):
        record(
            case=f"crossed plies {case['stack']}, {key.replace('_', ' ')}",
            published=case[key],
            ours=getattr(found, key),
            unit="" if key == "poisson" else "Pa",
            tolerance="0.05 %: the printed digits",
            source=KAW["source"] + "; from memory, reproduced",
        )
        assert getattr(found, key) == pytest.approx(case[key], rel=case["tolerance"])


@pytest.mark.parametrize("criterion", ["max-stress", "tsai-wu"])
def test_failure_of_an_angle_ply_matches_kaw(criterion, record):
    """Examples 2.17 and 2.19: the largest load on a 60 degree ply."""
    case = KAW["failure"]
    xt, xc, yt, yc, sh = case["strengths"]
    ply = lamina(
        KAW["lamina"],
        tension_along=xt,
        compression_along=xc,
        tension_across=yt,
        compression_across=yc,
        shear_strength=sh,
    )
    stack = lay.stacked(ply, (case["angle"],), thickness=1e-3)
    forces = np.array(case["state"]) * stack.thickness
    stress = lay.ply_stresses(stack, moments=[0.0, 0.0, 0.0], forces=forces)
    wanted = case[criterion.replace("-", "_")]
    found = first_ply_failure(stack, stress, criterion).factor
    record(
        case=f"first failure of a ply at 60 degrees, {criterion}",
        published=wanted / 1e6,
        ours=found / 1e6,
        unit="MPa",
        tolerance="0.05 %: the printed digits",
        source="Kaw, Mechanics of Composite Materials, 2nd ed., 2006, examples 2.17 and 2.19; "
        "from memory, reproduced",
    )
    assert found == pytest.approx(wanted, rel=case["tolerance"])


@pytest.mark.parametrize("case", MALLICK["case"], ids=lambda case: case["stack"])
def test_angle_ply_matches_mallick(case, record):
    """A, B16 and D of the 45 degree family, Mallick's example 3.7."""
    angles = parse_stack(case["stack"])
    stack = lay.stacked(
        lamina(MALLICK["lamina"]), angles, thickness=case["ply_thickness"] * len(angles)
    )
    full = lay.stiffness(stack)
    for key in "AD":
        record(
            case=f"plies {case['stack']}, matrix {key}",
            parts=TERMS,
            published=np.array(case[key])[UPPER],
            ours=getattr(full, key)[UPPER],
            scale=np.abs(case[key]).max(),
            tolerance="0.05 %: the printed digits",
            source=MALLICK["source"],
        )
    np.testing.assert_allclose(full.A, case["A"], rtol=case["tolerance"], atol=1.0)
    np.testing.assert_allclose(full.D, case["D"], rtol=case["tolerance"], atol=1e-6)
    np.testing.assert_allclose(
        full.B[0, 2], case["B16"], rtol=case["tolerance"], atol=1e-6 * abs(case["A"][0][0])
    )


def finnish_stack(row):
    """Build a Finnish panel: sanded faces, next to nothing across the veneer."""
    veneer = lay.Lamina(
        modulus_along=FINNISH["modulus_along"] * 1e6,
        modulus_across=1.0,
        shear_modulus=1e6,
        poisson=0.0,
        density=FINNISH["density"],
        shear_13=1e9,
        shear_23=1e8,
        tension_along=FINNISH["bending"] * 1e6,
        compression_along=FINNISH["bending"] * 1e6,
        tension_across=1e6,
        compression_across=1e6,
        shear_strength=1e7,
    )
    count = row["plies"]
    thick = [FINNISH["face"] if i in (0, count - 1) else FINNISH["veneer"] for i in range(count)]
    return lay.Layup(
        tuple(lay.Ply(veneer, t * 1e-3, (i % 2) * math.pi / 2) for i, t in enumerate(thick))
    )


@pytest.mark.parametrize("row", FINNISH["row"], ids=lambda row: f"{row['plies']} plies")
def test_birch_plywood_rows(row, record):
    """Every stiffness and strength of the plywood table to its last printed digit."""
    stack = finnish_stack(row)
    assert stack.thickness * 1e3 == pytest.approx(row["thickness"], abs=1e-9)
    bend, pull = lay.flexural_constants(stack), lay.in_plane_constants(stack)
    for found, wanted in (
        ((bend.modulus_x, bend.modulus_y), row["bending_modulus"]),
        ((pull.modulus_x, pull.modulus_y), row["direct_modulus"]),
    ):
        what = "bending" if wanted is row["bending_modulus"] else "stretching"
        record(
            case=f"birch plywood of {row['plies']} plies, stiffness in {what}",
            parts=("along", "across"),
            published=wanted,
            ours=np.asarray(found) / 1e6,
            unit="MPa",
            tolerance="half a unit of the last printed digit",
            source=FINNISH["source"],
        )
        np.testing.assert_allclose(np.asarray(found) / 1e6, wanted, atol=0.51)
    section = stack.thickness**2 / 6.0
    moments = np.eye(3)[:2] * section
    stress = lay.ply_stresses(stack, moments=moments)
    strength = first_ply_failure(stack, stress, across=False).factor / 1e6
    record(
        case=f"birch plywood of {row['plies']} plies, bending strength",
        parts=("along", "across"),
        published=row["bending_strength"],
        ours=strength,
        unit="MPa",
        tolerance="half a unit of the last printed digit",
        source=FINNISH["source"],
    )
    np.testing.assert_allclose(strength, row["bending_strength"], atol=0.051)
    strong = lay.Layup(
        tuple(
            replace(
                ply,
                lamina=replace(
                    ply.lamina,
                    tension_along=FINNISH["tension"] * 1e6,
                    compression_along=FINNISH["compression"] * 1e6,
                ),
            )
            for ply in stack.plies
        )
    )
    for sign, key in ((1.0, "tension_strength"), (-1.0, "compression_strength")):
        forces = sign * np.eye(3)[:2] * strong.thickness
        stress = lay.ply_stresses(strong, moments=np.zeros((2, 3)), forces=forces)
        found = first_ply_failure(strong, stress, across=False).factor / 1e6
        record(
            case=f"birch plywood of {row['plies']} plies, {key.replace('_', ' ')}",
            parts=("along", "across"),
            published=row[key],
            ours=found,
            unit="MPa",
            tolerance="half a unit of the last printed digit",
            source=FINNISH["source"],
        )
        np.testing.assert_allclose(found, row[key], atol=0.051)


@pytest.mark.parametrize("count", [3, 5, 7, 9])
def test_balanced_plywood_keeps_the_sum_of_moduli(count, record):
    """ANC-18, 2.52: E_L + E_T = E_w + E_x = E_fw + E_fx for one species, no Poisson coupling."""
    veneer = lamina(
        {"modulus_along": 15.3e9, "modulus_across": 0.76e9, "poisson": 0.0, "shear_modulus": 1e9}
    )
    stack = lay.stacked(veneer, [90.0 * (i % 2) for i in range(count)], thickness=3e-3)
    total = 15.3e9 + 0.76e9
    for found in (lay.in_plane_constants(stack), lay.flexural_constants(stack)):
        assert found.modulus_x + found.modulus_y == pytest.approx(total, rel=1e-12)
    record(
        case=f"plywood of {count} plies, sum of both moduli",
        published=total / 1e9,
        ours=(found.modulus_x + found.modulus_y) / 1e9,
        unit="GPa",
        tolerance="1e-12: an identity",
        source="ANC Bulletin 18, Design of Wood Aircraft Structures, 1944, 2.52",
        basis="exact",
    )


@pytest.mark.parametrize("row", NACA["row"], ids=lambda row: row["species"])
def test_veneer_constants_behind_plywood_tests_of_1920(row, record):
    """Bending tests of three-ply sheets give back the handbook's constants within its scatter."""
    pair = np.array([row["along"], row["across"]]) * 6.894757e6
    # Three equal plies: 26/27 of the section bends along the faces, 1/27 across.
    along, across = np.linalg.solve([[26 / 27, 1 / 27], [1 / 27, 26 / 27]], pair)
    record(
        case=f"{row['species']} veneer out of three-ply bending tests",
        parts=("stiffness along, Pa", "across over along"),
        published=(along, across / along),
        ours=(row["handbook_modulus"], row["handbook_ratio"]),
        tolerance="20 %: the handbook's scatter of stiffness",
        source=NACA["source"],
        basis="measured",
    )
    assert along == pytest.approx(row["handbook_modulus"], rel=NACA["tolerance"])
    assert across / along == pytest.approx(row["handbook_ratio"], rel=NACA["tolerance"])
    veneer = lamina(
        {"modulus_along": along, "modulus_across": across, "poisson": 0.4, "shear_modulus": 1e9}
    )
    bend = lay.flexural_constants(lay.stacked(veneer, (0, 90, 0), thickness=3e-3))
    # Only the Poisson coupling, which the 26/27 rule leaves out, may differ.
    np.testing.assert_allclose((bend.modulus_x, bend.modulus_y), pair, rtol=0.01)


def test_birch_plywood_file_bends_like_the_tests_of_1920(record):
    """The birch plywood material predicts the three-ply bending tests within 20 %."""
    row = NACA["row"][0]
    bend = lay.flexural_constants(materials.load("birch-plywood").layup(thickness=3e-3))
    pair = np.array([row["along"], row["across"]]) * 6.894757e6
    record(
        case="three-ply birch sheet in bending",
        parts=("along, GPa", "across, GPa"),
        published=pair / 1e9,
        ours=(bend.modulus_x / 1e9, bend.modulus_y / 1e9),
        tolerance="20 %: the handbook's scatter of stiffness",
        source=NACA["source"],
        basis="measured",
    )
    np.testing.assert_allclose((bend.modulus_x, bend.modulus_y), pair, rtol=NACA["tolerance"])


def test_two_layer_strip_curls_like_timoshenko(record):
    """Equal layers with 1 % difference of strain over 0.2 mm curl at 75 1/m."""
    case = WARP["strip"]
    strip = lay.isotropic(modulus=1e9, poisson=0.0, density=1.0, tension=1e6)
    wet = replace(strip, swelling_along=case["difference"])
    stack = lay.Layup(tuple(lay.Ply(part, case["thickness"] / 2) for part in (strip, wet)))
    curl = lay.moisture_curvature(stack, change=1.0).curvature
    record(
        case="curl of two equal layers",
        published=case["curvature"],
        ours=abs(curl[0]),
        unit="1/m",
        tolerance="1e-9: closed form",
        source=WARP["source"],
    )
    assert abs(curl[0]) == pytest.approx(case["curvature"], rel=1e-9)


@pytest.mark.parametrize(("m", "n"), [(0.5, 2.0), (1.0, 20.0), (3.0, 0.7)])
def test_unequal_strip_follows_timoshenko(m, n, record):
    """The general formula for layers of different thickness and stiffness."""
    base = lay.isotropic(modulus=1e9, poisson=0.0, density=1.0, tension=1e6)
    other = replace(base, modulus_along=n * 1e9, swelling_along=0.01)
    h = 1e-3
    thin = h / (1 + m)
    stack = lay.Layup((lay.Ply(other, m * thin), lay.Ply(base, thin)))
    formula = (
        6 * (1 + m) ** 2 * 0.01 / (h * (3 * (1 + m) ** 2 + (1 + m * n) * (m**2 + 1 / (m * n))))
    )
    found = lay.moisture_curvature(stack, change=1.0).curvature[0]
    record(
        case=f"curl of two layers, thickness {m:g} to 1, stiffness {n:g} to 1",
        published=formula,
        ours=abs(found),
        unit="1/m",
        tolerance="1e-9: closed form",
        source=WARP["source"] + "; formula from memory",
        basis="exact",
    )
    assert abs(found) == pytest.approx(formula, rel=1e-9)


def test_crossed_birch_veneers_make_a_saddle(record):
    """Two crossed veneers warp into a saddle within 1 % of the strip formula; three stay flat."""
    case = WARP["veneer"]
    veneer = replace(
        lamina(case), swelling_along=case["swelling_along"], swelling_across=case["swelling_across"]
    )
    two = lay.stacked(veneer, (0, 90), thickness=case["thickness"])
    curl = lay.moisture_curvature(two, change=case["change"]).curvature
    record(
        case="saddle of two crossed birch veneers, 4 % drier",
        published=case["strip"],
        ours=abs(curl[0]),
        unit="1/m",
        tolerance="1 %: a plate for a strip",
        source=WARP["source"] + "; constants of the Wood Handbook, 2021",
        basis="exact",
    )
    assert curl[0] == pytest.approx(-curl[1], rel=1e-9)
    assert abs(curl[0]) == pytest.approx(case["strip"], rel=0.01)
    three = lay.stacked(veneer, (0, 90, 0), thickness=0.003)
    flat = lay.moisture_curvature(three, change=case["change"])
    assert np.abs(flat.curvature).max() < 1e-9
    record(
        case="shrinkage of three crossed birch veneers, 4 % drier",
        parts=("along", "across"),
        published=case["three_ply_strain"],
        ours=flat.strain[:2],
        tolerance="5e-6: the digits kept of the hand calculation",
        source="lamination theory by hand, constants of the Wood Handbook, 2021",
        basis="exact",
    )
    np.testing.assert_allclose(
        flat.strain[:2], case["three_ply_strain"], atol=case["strain_tolerance"]
    )


def foam_board():
    """Build the sandwich of the worked example."""
    case = SANDWICH["example"]
    face = lay.isotropic(modulus=case["face_modulus"], poisson=0.0, density=700.0, tension=3e7)
    core = lay.Lamina(
        case["core_modulus"],
        case["core_modulus"],
        case["core_shear"],
        0.0,
        29.0,
        case["core_shear"],
        case["core_shear"],
        1e5,
        1e5,
        1e5,
        1e5,
        1e5,
        kind="core",
    )
    skin = lay.Ply(face, case["face_thickness"])
    return lay.Layup((skin, lay.Ply(core, case["core_thickness"]), skin)), case


def test_foam_board_example(record):
    """Stiffness, the two parts of the sag and the wrinkling stress of the worked example."""
    board, case = foam_board()
    thin = thin_face_sandwich(board)
    width, long, load = case["width"], case["length"], case["load"]
    bend = thin.bending * width
    wrinkle = wrinkling_stress(
        face_modulus=case["face_modulus"],
        core_modulus=case["core_modulus"],
        core_shear=case["core_shear"],
    )
    record(
        case="foam board strip",
        parts=(
            "bending stiffness, N m2",
            "shear stiffness, N",
            "sag by bending, m",
            "sag by shear, m",
            "wrinkling stress, Pa",
        ),
        published=[case[k] for k in ("bending", "shear", "bent", "sheared", "wrinkling")],
        ours=(
            bend,
            thin.shear * width,
            load * long**3 / (3 * bend),
            load * long / (thin.shear * width),
            wrinkle,
        ),
        tolerance="the digits kept of the hand calculation",
        source="H. G. Allen, Analysis and Design of Structural Sandwich Panels, 1969; from memory",
        basis="exact",
    )
    assert bend == pytest.approx(case["bending"], rel=case["tolerance"])
    assert thin.shear * width == pytest.approx(case["shear"], rel=case["tolerance"])
    assert load * long**3 / (3 * bend) == pytest.approx(case["bent"], rel=case["tolerance"])
    assert load * long / (thin.shear * width) == pytest.approx(case["sheared"], rel=0.02)
    assert wrinkle == pytest.approx(case["wrinkling"], rel=case["tolerance"])


def test_lamination_theory_agrees_with_thin_face_theory(record):
    """D and the energy shear stiffness against Allen's thin-face figures."""
    board, _ = foam_board()
    thin, full = thin_face_sandwich(board), lay.stiffness(board)
    record(
        case="foam board, full theory against thin faces",
        parts=("bending stiffness, N m", "shear stiffness, N/m"),
        published=(thin.bending, thin.shear),
        ours=(full.D[0, 0], full.transverse_shear[0, 0]),
        tolerance="1e-6 in bending; 2 % in shear, where the faces' own shear is left out",
        source="H. G. Allen, Analysis and Design of Structural Sandwich Panels, 1969; from memory",
        basis="exact",
    )
    assert full.D[0, 0] == pytest.approx(thin.bending, rel=1e-6)
    # Allen lets the core shear stress be constant and forgets the faces' own shear.
    assert full.transverse_shear[0, 0] == pytest.approx(thin.shear, rel=0.02)


def test_lightest_sandwich_for_stiffness_and_for_moment(record):
    """FPL-086: the core weighs 2/3 of the lightest panel for stiffness, 1/2 for moment."""
    case = SANDWICH["minimum_weight"]
    face = lay.isotropic(modulus=10e9, poisson=0.0, density=700.0, tension=3e7)
    soft = lay.isotropic(modulus=1.0, poisson=0.0, density=30.0, tension=1e5, kind="core")

    def panel(face_thick, core_thick):
        skin = lay.Ply(face, face_thick)
        return lay.Layup((skin, lay.Ply(soft, core_thick), skin))

    def share(thickness_for):
        def weight(log_core):
            core = math.exp(log_core)
            return panel(thickness_for(core), core).areal_mass

        best = minimize_scalar(
            weight,
            bounds=(math.log(1e-3), math.log(0.1)),
            method="bounded",
            options={"xatol": 1e-9},
        )
        core = math.exp(best.x)
        return core * soft.density / panel(thickness_for(core), core).areal_mass

    def for_stiffness(core):
        # Thin faces: solve E t (c + t)²/2 = D by the theorem's own assumption t << c.
        return 2.0 * 50.0 / (face.modulus_along * core**2)

    def for_moment(core):
        return 100.0 / (face.tension_along * core)

    record(
        case="core's share in the weight of the lightest sandwich",
        parts=("for stiffness", "for moment"),
        published=(case["stiffness_core_share"], case["moment_core_share"]),
        ours=(share(for_stiffness), share(for_moment)),
        tolerance="0.01: the theorem's thin faces",
        source=SANDWICH["source"],
    )
    assert share(for_stiffness) == pytest.approx(
        case["stiffness_core_share"], abs=case["tolerance"]
    )
    assert share(for_moment) == pytest.approx(case["moment_core_share"], abs=case["tolerance"])
    # The thin-face shortcut agrees with the full stiffness of the panel it designs.
    made = panel(for_stiffness(0.02), 0.02)
    assert lay.stiffness(made).D[0, 0] == pytest.approx(50.0, rel=0.08)


@pytest.mark.parametrize("key", ["balsa_A", "balsa_C", "yellow_birch"])
def test_modulus_at_an_angle_to_the_grain(key, record):
    """Off-axis modulus ratios from the handbook's constants."""
    case = RATIOS[key]
    cut = None if case["material"] == "birch-plywood" else case["cut"]
    veneer = materials.load(case["material"]).lamina(cut=cut)
    found = lay.off_axis_modulus(veneer, np.radians(RATIOS["angle"])) / veneer.modulus_along
    record(
        case=f"stiffness off the grain, {key.replace('_', ' ')}",
        parts=[f"{angle} degrees" for angle in RATIOS["angle"]],
        published=case["ratio"],
        ours=found,
        tolerance="5e-5: half a unit of the last digit",
        source=RATIOS["source"],
    )
    np.testing.assert_allclose(found, case["ratio"], rtol=0.0, atol=5.1e-5)


def test_birch_and_carbon_lie_in_the_published_oar_bands(record):
    """The beam index of birch along its grain and of quasi-isotropic carbon sheet."""
    birch = materials.load("birch-plywood").lamina()
    # The veneer's own density; glue is not part of the wood's index.
    index = math.sqrt(birch.modulus_along / 1e9) / (birch.density / 1e3)
    record(
        case="beam index of birch, middle of the published band",
        published=sum(OARS["woods"]) / 2.0,
        ours=index,
        unit="GPa^0.5 m3/Mg",
        tolerance=f"inside the band, {OARS['woods'][0]} to {OARS['woods'][1]}",
        source=OARS["source"] + "; from memory, unverified",
    )
    assert OARS["woods"][0] < index < OARS["woods"][1]
    sheet = materials.load("carbon-epoxy-quasi-isotropic").layup(thickness=2e-3)
    modulus = float(lay.flexural_constants(sheet).modulus_x)
    index = math.sqrt(modulus / 1e9) / (sheet.areal_mass / 2.0)
    record(
        case="beam index of carbon sheet, middle of the published band",
        published=sum(OARS["carbon"]) / 2.0,
        ours=index,
        unit="GPa^0.5 m3/Mg",
        tolerance=f"inside the band, {OARS['carbon'][0]} to {OARS['carbon'][1]}",
        source=OARS["source"] + "; from memory, unverified",
    )
    assert OARS["carbon"][0] < index < OARS["carbon"][1]
