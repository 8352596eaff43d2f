"""Tables for pages: every material has its page and its numbers, the download is complete."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pytest

from calc import finish, materials, prose, prose_tables
from calc.materials import GRADES, balsa

DOCS = Path(__file__).resolve().parents[2] / "docs"


def test_every_named_function_exists() -> None:
    """Pages may only name functions that the module has."""
    for name in prose.TABLES:
        assert callable(getattr(prose_tables, name))


@pytest.mark.parametrize("name", materials.names())
def test_every_material_has_a_page_with_its_tables(name: str) -> None:
    """A material's page shows its facts, fins, work, sizes and every value with its source."""
    text = (DOCS / "materials" / f"{name}.md").read_text(encoding="utf-8")
    for table in ("facts", "suits", "work", "stock", "values"):
        assert f'{{{{ material_{table}("{name}") }}}}' in text
    words = re.sub(r"\{\{.*?\}\}", " ", text)
    assert 150 <= len(words.split()) <= 450


@pytest.mark.parametrize("name", [*materials.names(), *materials.components()])
def test_every_value_is_on_the_data_page(name: str) -> None:
    """The data page lists every entry of the data, with as many rows as there are numbers."""
    text = (DOCS / "reference" / "materials-data.md").read_text(encoding="utf-8")
    assert f'data_of("{name}")' in text
    material = materials.load(name)
    rows = prose_tables.data_of(name).rows
    assert len(rows) == len(material.values) + len(material.scatter_values)
    assert all(row[4] for row in rows)


def test_glues_are_on_the_data_page() -> None:
    """Every adhesive is listed too."""
    text = (DOCS / "reference" / "materials-data.md").read_text(encoding="utf-8")
    assert all(f'data_of("{name}")' in text for name in materials.adhesives())


def test_downloads_hold_every_row_with_its_source() -> None:
    """CSV and JSON carry the same rows, each with value, unit and source."""
    files = prose_tables.data_files()
    table = list(csv.DictReader(io.StringIO(files["materials.csv"])))
    tree = json.loads(files["materials.json"])
    assert len(table) == len(tree["values"]) == len(materials.rows())
    for row, entry in zip(table, tree["values"], strict=True):
        assert float(row["value"]) == entry["value"]
        assert row["unit"] == entry["unit"]
        assert entry["source"] in tree["sources"]
        assert entry["source_title"]


def test_panel_index_against_hand_calculation() -> None:
    """E^(1/3)/rho of the Wood Handbook's balsa (3.74 GPa, 184 kg/m3) is 8.4, Sitka's 5.1.

    Ashby's index of a light stiff panel; moduli from the Wood Handbook (2021), tables 5-3a and
    5-5a, times 1.10 for shear.
    """
    assert prose_tables.panel_index(3.74e9, 184.0) == pytest.approx(8.4, abs=0.05)
    assert prose_tables.panel_index(11.9e9, 448.0) == pytest.approx(5.1, abs=0.05)


def test_same_stiffness_by_the_cube() -> None:
    """Each sheet of the table bends along its grain like 1/8 in balsa."""
    balsa = prose_tables.sheet_numbers(materials.load("balsa"))
    wanted = balsa["along"] * balsa["thickness"] ** 3
    for label, thickness, grams in prose_tables.same_stiffness().rows:
        name = next(n for n in materials.names() if materials.load(n).label == label)
        numbers = prose_tables.sheet_numbers(materials.load(name))
        assert numbers["along"] * thickness**3 == pytest.approx(wanted, rel=1e-6)
        assert grams == pytest.approx(thickness * numbers["density"] * 10.0, rel=1e-6)


def test_cuts_of_balsa_follow_the_handbook() -> None:
    """A over C across the grain is the handbook's E_T over E_R: 0.015 to 0.046.

    Wood Handbook (2021), table 5-1.
    """
    rows = {row[0]: row for row in prose_tables.cuts_of("balsa").rows}
    assert rows["A cut"][2] / rows["C cut"][2] == pytest.approx(0.015 / 0.046, rel=1e-6)
    assert rows["A cut"][1] == rows["C cut"][1]


def test_work_is_graded_in_words() -> None:
    """Each kind of work has a grade in words and a reason."""
    for name in materials.names():
        for _, grade, words in prose_tables.material_work(name).rows:
            assert grade.split(" (")[0] in GRADES
            assert words


@pytest.mark.parametrize("quantity", ["stiffness", "strength"])
def test_balsa_claims_draw_every_source(quantity: str) -> None:
    """The chart has a line for each source, and the one used passes through the value on file."""
    claims = {"stiffness": balsa.modulus_claims, "strength": balsa.strength_claims}[quantity]
    figure = prose_tables.balsa_claims(quantity)
    names = [line["name"] for line in figure.data["series"]]
    assert len(names) == len(claims(100.0)) == len(set(names))
    ply = materials.load("balsa").lamina(density=184.0)
    used = {"stiffness": ply.modulus_along, "strength": ply.tension_along}[quantity]
    assert float(claims(184.0)[0].values) == pytest.approx(used, rel=0.02)


def test_usual_finishes_lie_between_light_and_full() -> None:
    """Each family's row runs from its light finish, thin, to its full one, thick."""
    table = prose_tables.usual_finishes()
    assert len(table.rows) == len(finish.families())
    assert all(0.0 < low < high for _, low, high in table.rows)
