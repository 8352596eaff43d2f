"""Tables for pages: every material has its page and its numbers, the download is complete."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pytest

from calc import materials
from calc.materials import GRADES, balsa, bonding
from calc.units import parse
from calc.workshop import finish
from scripts.handbook import names as prose
from scripts.handbook import tables

DOCS = Path(__file__).resolve().parents[3] / "docs"


def test_every_named_function_exists() -> None:
    """Pages may only name functions that the module has."""
    for name in prose.TABLES:
        assert callable(getattr(tables, name))


PATTERN = "docs/materials/basswood.md"


def chapter_of(name: str) -> Path:
    """Return the file of a material's chapter, whether it is there or not."""
    return DOCS / "materials" / f"{tables.CHAPTERS.get(name, name)}.md"


WRITTEN = [name for name in materials.names() if chapter_of(name).is_file()]
"""Materials with a chapter; `test_every_material_has_a_chapter` names the others."""
CHAPTERS = sorted({tables.CHAPTERS.get(name, name) for name in WRITTEN})


def chapter(name: str) -> str:
    """Return the text of a chapter of the materials."""
    return (DOCS / "materials" / f"{name}.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", materials.names())
def test_every_material_has_a_chapter(name: str) -> None:
    """Each material is described on a page of its own or in a chapter that it shares."""
    assert name in WRITTEN, (
        f"{name} is described nowhere: write docs/materials/{name}.md after {PATTERN} and add it "
        "to nav in mkdocs.yml, or name the chapter it shares in CHAPTERS of "
        "scripts/handbook/tables.py"
    )


@pytest.mark.parametrize("name", WRITTEN)
def test_every_material_has_its_place_in_a_chapter(name: str) -> None:
    """The address under which a material is listed is that of a page and of a heading on it."""
    page, _, place = tables.chapter_of(name).partition("/#")
    text = chapter(page.rstrip("/"))
    headings = re.findall(r"^#+ (.*?)(?: \{ #([\w-]+) \})?$", text, re.MULTILINE)
    anchors = [slug or re.sub(r"\W+", "-", title.lower()) for title, slug in headings]
    assert not place or anchors.count(place) == 1


@pytest.mark.parametrize("name", WRITTEN)
def test_chapters_show_each_table_of_a_material_once(name: str) -> None:
    """A material's chapter shows its facts, work, sizes and fins; its values are on the data page.

    Where its stiffness is published, the chapter also says which rockets of the family it suits.
    """
    text = chapter(tables.CHAPTERS.get(name, name))
    for table in ("facts", "work", "stock"):
        call = f'{{{{ material_{table}("{name}") }}}}'
        assert text.count(call) == 1, f"{name}'s chapter needs {call} once"
    stiffness = materials.load(name).values.get("modulus_along")
    published = stiffness is None or stiffness.basis in ("published", "computed")
    suits = f'{{{{ material_suits("{name}") }}}}'
    assert text.count(suits) == 1 or not published, f"{name}'s chapter needs {suits} once"
    assert "../reference/materials-data.md#" in text


@pytest.mark.parametrize("name", CHAPTERS)
def test_chapters_teach(name: str) -> None:
    """A chapter has a drawing with words, a safety box, what to do next, and is worth reading."""
    text = chapter(name)
    drawings = re.findall(r"\n!\[(.*)\]\(\.\./(assets/img/materials/[\w-]+\.svg)", text)
    assert drawings
    for words, file in drawings:
        assert len(words.split()) >= 12
        assert (DOCS / file).is_file()
    assert re.search(r'!!! warning ".*"\n    --8<-- "safety\.md:', text)
    after = text[text.index("## What to do next with ") :]
    assert "../check/fin-check.md?material=" in after
    assert len(re.findall(r"\]\(\.\./(?:make|fly|choose|understand)/", after)) >= 2
    words = re.sub(r"\{\{.*?\}\}|^!.*$|^ {4}.*$", " ", text, flags=re.MULTILINE)
    assert 700 <= len(words.split()) <= 1800


def test_safety_boxes_that_pages_name_exist() -> None:
    """Every box named by a page is written in the one file, and none lies there unused."""
    known = re.findall(
        r"\[start:([\w-]+)\]", (DOCS / "_includes" / "safety.md").read_text(encoding="utf-8")
    )
    pages = [path for path in DOCS.rglob("*.md") if path.parent.name != "_includes"]
    used = set(re.findall(r"safety\.md:([\w-]+)", "".join(p.read_text("utf-8") for p in pages)))
    assert used == set(known)
    assert len(known) == len(set(known))


def test_mass_of_balsa_sheets_by_hand() -> None:
    """1/16 by 3 by 36 in is 1/256 of a cubic foot: ounces times 16 are pounds per cubic foot.

    6.75 in3 of 1728, and 16 ounces of 28.3495 g to the pound (international avoirdupois pound).
    """
    table = tables.balsa_sheets()
    column = [item.label for item in table.columns].index("1/16 in")
    for row in table.rows:
        pounds = float(row[0].split()[0])
        assert 6.75 / 1728 == 1 / 256
        assert float(row[column]) == pytest.approx(pounds / 16 * 28.3495, abs=0.5)
        assert float(row[2]) == pytest.approx(pounds * 16.018, abs=0.6)


def test_every_material_has_a_price_class() -> None:
    """Cheap, medium or expensive, from the material's own file."""
    classes = {tables.price_class(materials.load(name)) for name in materials.names()}
    assert classes == {"cheap", "medium", "expensive"}
    assert tables.price_class(materials.load("polystyrene-foam")) == "–"


@pytest.mark.parametrize("name", [*materials.names(), *materials.components()])
def test_tables_hold_every_value(name: str) -> None:
    """The table of a material has as many rows as there are numbers, each with its source."""
    material = materials.load(name)
    rows = tables.data_of(name).rows
    assert len(rows) == len(material.values) + len(material.scatter_values)
    assert all(row[4] for row in rows)


def test_everything_is_on_the_data_page() -> None:
    """The data page shows every material, component, glue and tube once, by groups of the data."""
    text = (DOCS / "reference" / "materials-data.md").read_text(encoding="utf-8")
    groups = re.findall(r'\{\{ data_tables\("(\w+)"\) \}\}', text)
    families = {materials.load(name).family for name in materials.names()}
    missing = families - set(groups)
    assert not missing, f"docs/reference/materials-data.md needs data_tables() of {missing}"
    shown = [table.title for group in groups for table in tables.data_tables(group)]
    every = [materials.load(name).label for name in (*materials.names(), *materials.components())]
    every += [item.label for item in bonding.GLUE_RECORDS.values()]
    every += [item.label for item in bonding.TUBE_RECORDS.values()]
    assert sorted(shown) == sorted(every)
    with pytest.raises(KeyError, match="metal"):
        tables.data_tables("metal")


def test_downloads_hold_every_row_with_its_source() -> None:
    """CSV and JSON carry the same rows, each with value, unit and source."""
    files = tables.data_files()
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
    assert tables.panel_index(3.74e9, 184.0) == pytest.approx(8.4, abs=0.05)
    assert tables.panel_index(11.9e9, 448.0) == pytest.approx(5.1, abs=0.05)


def test_same_stiffness_by_the_cube() -> None:
    """Each sheet of the table bends along its grain like 1/8 in balsa."""
    balsa = tables.sheet_numbers(materials.load("balsa"))
    wanted = balsa["along"] * balsa["thickness"] ** 3
    for label, thickness, grams in tables.same_stiffness().rows:
        name = next(n for n in materials.names() if materials.load(n).label == label)
        numbers = tables.sheet_numbers(materials.load(name))
        assert numbers["along"] * thickness**3 == pytest.approx(wanted, rel=1e-6)
        assert grams == pytest.approx(thickness * numbers["density"] * 10.0, rel=1e-6)


def test_cuts_of_balsa_follow_the_handbook() -> None:
    """A over C across the grain is the handbook's E_T over E_R: 0.015 to 0.046.

    Wood Handbook (2021), table 5-1.
    """
    rows = {row[0]: row for row in tables.cuts_of("balsa").rows}
    across = [parse(rows[f"{cut} cut"][2].split(" (")[0], "pressure") for cut in "AC"]
    assert across[0] / across[1] == pytest.approx(0.015 / 0.046, rel=0.02)
    assert rows["A cut"][1] == rows["C cut"][1]


def test_work_is_graded_in_words() -> None:
    """Each kind of work has a grade in words and a reason."""
    for name in materials.names():
        for _, grade, words in tables.material_work(name).rows:
            assert grade.split(" (")[0] in GRADES
            assert words


@pytest.mark.parametrize("quantity", ["stiffness", "strength"])
def test_balsa_claims_draw_every_source(quantity: str) -> None:
    """The chart has a line for each source, and the one used passes through the value on file."""
    claims = {"stiffness": balsa.modulus_claims, "strength": balsa.strength_claims}[quantity]
    figure = tables.balsa_claims(quantity)
    names = [line["name"] for line in figure.data["series"]]
    assert len(names) == len(claims(100.0)) == len(set(names))
    ply = materials.load("balsa").lamina(density=184.0)
    used = {"stiffness": ply.modulus_along, "strength": ply.tension_along}[quantity]
    assert float(claims(184.0)[0].values) == pytest.approx(used, rel=0.02)


def test_usual_finishes_lie_between_light_and_full() -> None:
    """Each family's row runs from its light finish, thin, to its full one, thick."""
    table = tables.usual_finishes()
    assert len(table.rows) == len(finish.families())
    assert all(0.0 < low < high for _, low, high in table.rows)
