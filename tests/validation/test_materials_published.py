"""The material files against tables they were not typed from."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest

from calc import materials
from calc.materials import balsa, paper
from calc.structure import laminate as lay

DATA = Path(__file__).parent / "data"


def read(name):
    """Read one published case."""
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


INCH = read("wood_handbook_2021_inch_pound")
BALSA = read("balsa_points")


@pytest.mark.parametrize("row", INCH["row"], ids=lambda row: row["material"])
@pytest.mark.parametrize("key", sorted(INCH["tolerance"]))
def test_metric_values_agree_with_the_inch_pound_table(row, key, record):
    """Each mean of table 5-3a against the separately rounded table 5-3b."""
    found = materials.load(row["material"]).values[key].value
    record(
        case=f"{row['material']}, {key.replace('_', ' ')}",
        published=row[key],
        ours=found / INCH["pound_per_square_inch"],
        unit="psi",
        tolerance=f"{INCH['tolerance'][key]:.1%}: both tables round by themselves",
        source=INCH["source"],
    )
    assert found / INCH["pound_per_square_inch"] == pytest.approx(
        row[key], rel=INCH["tolerance"][key]
    )


def test_balsa_band_holds_published_moduli(record):
    """Published moduli lie between the lowest and the highest claim at their density."""
    for point in BALSA["modulus"]:
        low, high = balsa.band(balsa.modulus_claims(point["density"]))
        middle = materials.load("balsa").lamina(density=point["density"]).modulus_along
        record(
            case=f"balsa of {point['density']} kg/m3, stiffness along the grain",
            published=point["value"],
            ours=middle / 1e9,
            unit="GPa",
            tolerance=f"inside the band of {low / 1e9:.2g} to {high / 1e9:.2g} GPa that sources "
            "claim at this density",
            source=f"{BALSA['source']}: {point['origin']}",
            basis="measured",
        )
        assert low <= point["value"] * 1e9 <= high


def test_balsa_crushing_band_holds_published_points(record):
    """Published crushing strengths lie in the file's band, carried in proportion to density."""
    entry = materials.load("balsa").values["compression_along"]
    for point in BALSA["crushing"]:
        share = point["density"] / balsa.HANDBOOK_DENSITY
        record(
            case=f"balsa of {point['density']} kg/m3, crushing strength along the grain",
            published=point["value"],
            ours=entry.value * share / 1e6,
            unit="MPa",
            tolerance=f"inside the file's band, {entry.low * share / 1e6:.2g} to "
            f"{entry.high * share / 1e6:.2g} MPa at this density",
            source=f"{BALSA['source']}: {point['origin']}",
            basis="measured",
        )
        assert entry.low * share <= point["value"] * 1e6 <= entry.high * share


def test_heaviest_balsa_stays_near_the_largest_measured(record):
    """At 300 kg/m3 the law gives no more than the largest stiffness and strength measured."""
    case = BALSA["largest"]
    sheet = materials.load("balsa").lamina(density=case["density"])
    record(
        case=f"balsa of {case['density']} kg/m3 against the largest measured",
        parts=("stiffness, GPa", "strength, MPa"),
        published=(case["modulus"], case["strength"]),
        ours=(sheet.modulus_along / 1e9, sheet.tension_along / 1e6),
        tolerance="stiffness 5 %, strength not above: largest values of a series",
        source=case["note"],
        basis="measured",
    )
    assert sheet.modulus_along == pytest.approx(case["modulus"] * 1e9, rel=0.05)
    assert sheet.tension_along <= case["strength"] * 1e6


def test_plywood_turned_45_degrees_follows_the_aircraft_rule(record):
    """ANC-18 (2:20 ff.): shear modulus of 45 degree plywood is about 5 times the mean G, E_L/16."""
    ply = materials.load("birch-plywood")
    even = lay.stacked(ply.lamina(), (0, 90, 90, 0), thickness=3e-3)
    found = lay.in_plane_constants(even, angle=math.pi / 4).shear_modulus
    rule = 5.0 * ply.lamina().modulus_along / 16.0
    record(
        case="shear stiffness of plywood turned 45 degrees",
        published=rule / 1e9,
        ours=found / 1e9,
        unit="GPa",
        tolerance="20 %: the rule says about",
        source="ANC Bulletin 18, Design of Wood Aircraft Structures, 1944, 2:20",
    )
    assert found == pytest.approx(rule, rel=0.20)


def test_plywood_poisson_ratio_follows_the_aircraft_formula(record):
    """ANC-18 (2:22): n_wx = E_L n_TL/E_x for plywood of one species."""
    ply = materials.load("birch-plywood")
    veneer = ply.lamina()
    stretch = lay.in_plane_constants(ply.layup(thickness=3e-3))
    minor = veneer.poisson * veneer.modulus_across / veneer.modulus_along
    # The formula leaves out the coupling 1 - n_LT n_TL, here one per cent.
    rule = veneer.modulus_along * minor / stretch.modulus_y
    record(
        case="Poisson's ratio of plywood",
        published=rule,
        ours=stretch.poisson,
        tolerance="1.5 %: the formula leaves out the coupling of both directions",
        source="ANC Bulletin 18, Design of Wood Aircraft Structures, 1944, 2:22",
    )
    assert stretch.poisson == pytest.approx(rule, rel=0.015)


def test_paper_shear_follows_the_published_rule(record):
    """Carton board: our shear modulus from both moduli against the measured one (TAPPI 1980)."""
    board = {"along": 7.44e9, "across": 3.47e9}
    measured = 2.04e9
    found = paper.shear_modulus(**board)
    record(
        case="shear stiffness of carton board from its stiffness along and across",
        published=measured / 1e9,
        ours=found / 1e9,
        unit="GPa",
        tolerance="5 %: the rule's scatter over papers",
        source="ultrasonic constants of a carton board, TAPPI 63(2), 1980, 163; from memory",
        basis="measured",
    )
    assert found == pytest.approx(measured, rel=0.05)


def test_foam_board_weighs_what_boards_weigh(record):
    """5 mm board of liners and foam weighs within the range of 450-650 g/m2."""
    mass = materials.load("foam-board").layup(thickness=5e-3).areal_mass
    record(
        case="foam board of 5 mm, mass per area",
        published=0.55,
        ours=mass,
        unit="kg/m2",
        tolerance="0.45 to 0.65: the range that boards are sold at",
        source="common practice",
    )
    assert 0.45 <= mass <= 0.65


def test_quasi_isotropic_sheet_is_isotropic_in_its_plane(record):
    """A [0/45/90/-45]s stack stretches alike in every direction (Kaw 2006, section 5.2)."""
    sheet = materials.load("carbon-epoxy-quasi-isotropic").layup(thickness=2e-3)
    moduli = lay.in_plane_constants(sheet, angle=np.radians(np.arange(0, 180, 15))).modulus_x
    record(
        case="quasi-isotropic carbon sheet, least over greatest stiffness in its plane",
        published=1.0,
        ours=np.min(moduli) / np.max(moduli),
        tolerance="1e-9: exact by symmetry",
        source="Kaw, Mechanics of Composite Materials, 2006, section 5.2",
        basis="exact",
    )
    np.testing.assert_allclose(moduli, moduli[0], rtol=1e-9)
