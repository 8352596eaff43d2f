"""Material files: every one sound, every refusal clear."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from calc import calculators, materials, units
from calc.errors import InputError, MaterialError
from calc.frontends import browser
from calc.frontends.terminal import cli
from calc.materials import schema
from calc.structure import laminate as lay
from calc.structure.sandwich import core_index

EVERY = (*materials.names(), *materials.components())


@pytest.mark.parametrize("name", EVERY)
def test_material_is_sound(name):
    """Loads, cites known sources, makes a stack in every cut and bends."""
    material = materials.load(name)
    assert set(material.sources) <= set(materials.sources())
    assert set(material.scatter) == set(materials.SCATTER)
    for cut in material.cuts or (None,):
        for thickness in material.thicknesses or (1e-3,):
            stack = material.layup(thickness=thickness, cut=cut)
            assert stack.thickness == pytest.approx(thickness)
            assert np.linalg.eigvalsh(lay.bending(stack)).min() > 0
            assert stack.symmetric


@pytest.mark.parametrize("name", materials.names())
def test_material_can_be_bought_worked_and_priced(name):
    """Has stock sizes, four effort grades in words, and a demo price marked as invented."""
    material = materials.load(name)
    assert material.stock
    assert set(material.workability) == {"cut", "sand", "shape", "finish"}
    assert all(grade.words and grade.meaning for grade in material.workability.values())
    low, high = material.price.band(1.5e-3)
    assert 0 < low < high
    assert "invented demo data" in material.price.note
    for item in material.stock:
        assert 5e-5 < item.thickness < 0.03
        assert 0.05 < item.width <= item.length < 2.0


@pytest.mark.parametrize("name", materials.names())
def test_lamina_values_are_spelt_out(name):
    """Materials with one lamina list every constant of it, with unit and source."""
    material = materials.load(name)
    if material.model == "faced":
        with pytest.raises(InputError, match="not a faced core"):
            material.lamina()
        return
    for key in schema.LAMINA_VALUES:
        assert material.values[key].unit in ("Pa", "kg/m3", "1")
    made = material.lamina(cut=material.cuts[0] if material.cuts else None)
    if name != "balsa":
        assert material.values["modulus_along"].value == pytest.approx(made.modulus_along)
        assert material.values["shear_modulus"].value == pytest.approx(made.shear_modulus)


def test_values_from_memory_say_so():
    """Every value cited from memory carries the warning in its remark."""
    for row in materials.rows():
        if row["basis"] == "memory":
            assert "from memory, unverified" in row["note"]
        if row["basis"] == "practice":
            assert "common practice" in row["note"]


def test_importing_reads_no_file():
    """Import and names() stay cheap: no file is parsed before it is needed."""
    code = (
        "import tomllib, calc.materials as m; calls = []; real = tomllib.loads\n"
        "tomllib.loads = lambda text: calls.append(1) or real(text)\n"
        "m.names(); assert not calls; m.load('balsa'); assert len(calls) == 2, calls"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_balsa_is_linear_in_density():
    """Stiffness and strength along the grain follow density in proportion, 60 to 300 kg/m3."""
    balsa = materials.load("balsa")
    light, heavy = (balsa.lamina(density=rho) for rho in (60.0, 300.0))
    assert heavy.modulus_along / light.modulus_along == pytest.approx(5.0)
    assert heavy.tension_along / light.tension_along == pytest.approx(5.0)
    assert heavy.density / light.density == pytest.approx(5.0)


def test_balsa_cuts_differ_across_not_along():
    """C is stiffest across, A bends easily, B lies between."""
    balsa = materials.load("balsa")
    a, b, c = (balsa.lamina(cut=cut) for cut in "ABC")
    assert a.modulus_along == b.modulus_along == c.modulus_along
    assert a.modulus_across < b.modulus_across < c.modulus_across
    assert a.modulus_across / a.modulus_along == pytest.approx(0.015)
    assert c.modulus_across / c.modulus_along == pytest.approx(0.046)
    assert a.shear_modulus < b.shear_modulus < c.shear_modulus


@pytest.mark.parametrize(
    ("label", "count"),
    [
        ("1/64 in", 3),
        ("1/32 in", 3),
        ("1/16 in", 3),
        ("3/32 in", 3),
        ("1/8 in", 3),
        ("3/16 in", 5),
        ("1/4 in", 5),
        ("2.2 mm", 3),
        ("5 mm", 5),
    ],
)
def test_plywood_has_real_ply_counts(label, count):
    """Stock thicknesses have their plies, odd ones those of the nearest stock."""
    ply = materials.load("birch-plywood")
    thickness = units.parse(label, "length")
    stack = ply.layup(thickness=thickness)
    assert len(stack.plies) == count == ply.plies(thickness)


def test_thin_plywood_is_heavier_for_its_size():
    """Glue lines weigh the same in thin sheets."""
    ply = materials.load("birch-plywood")
    thin, thick = (ply.layup(thickness=t) for t in (0.4e-3, 6e-3))
    assert thin.areal_mass / thin.thickness > 1.1 * thick.areal_mass / thick.thickness


@pytest.mark.parametrize("name", EVERY)
def test_factors_scale_what_they_name(name):
    """Each factor moves its own constant and leaves the others."""
    material = materials.load(name)
    if material.model == "faced":
        return
    base = material.lamina()
    for key in ("modulus_along", "modulus_across", "shear_modulus"):
        made = material.lamina(factors={key: 1.3})
        assert getattr(made, key) == pytest.approx(1.3 * getattr(base, key))
    strong = material.lamina(factors={"strength": 0.5})
    assert strong.tension_along == pytest.approx(0.5 * base.tension_along)
    assert strong.shear_strength == pytest.approx(0.5 * base.shear_strength)
    with pytest.raises(InputError, match="factors"):
        material.layup(thickness=2e-3, factors={"luck": 2.0})


@pytest.mark.parametrize(
    "name", ["balsa", "basswood", "birch-plywood", "glass-epoxy", "balsa-glass", "foam-board"]
)
def test_effective_factors_are_those_of_the_stack(name):
    """Arrays of factors through effective() match stacks built one by one."""
    material = materials.load(name)
    factors = {"modulus_along": 1.1, "modulus_across": 0.8, "shear_modulus": 0.9, "density": 1.2}
    made = material.layup(thickness=3e-3, factors=factors)
    scale = material.effective(factors)
    names = ("modulus_along", "modulus_across", "shear_modulus", "density")
    plain = material.layup(thickness=3e-3)
    scaled = lay.Layup(
        tuple(
            replace(
                ply,
                lamina=replace(
                    ply.lamina,
                    **{name: float(scale[name]) * getattr(ply.lamina, name) for name in names},
                ),
            )
            for ply in plain.plies
        )
    )
    np.testing.assert_allclose(lay.bending(scaled), lay.bending(made), rtol=1e-9)
    assert scaled.areal_mass == pytest.approx(made.areal_mass)


@pytest.mark.parametrize("name", ["balsa", "basswood", "birch-plywood", "card", "light-plywood"])
def test_damp_softens_weakens_and_adds_weight(name):
    """More moisture means less stiffness and strength, more mass."""
    material = materials.load(name)
    dry, wet = (material.layup(thickness=2e-3, moisture=m) for m in (0.07, 0.16))
    assert lay.bending(wet)[0, 0] < lay.bending(dry)[0, 0]
    assert wet.plies[0].lamina.tension_along < dry.plies[0].lamina.tension_along
    assert wet.areal_mass > dry.areal_mass


def test_reference_moisture_changes_nothing():
    """12 % is where the wood values were taken."""
    wood = materials.load("basswood")
    assert wood.lamina(moisture=0.12) == wood.lamina()


def test_direct_strength_is_the_crushing_strength():
    """A strip in plain compression crushes before it would break in bending."""
    wood = materials.load("basswood")
    assert wood.lamina().compression_along == pytest.approx(60e6)
    assert wood.lamina(strength="direct").compression_along == pytest.approx(32.6e6)


def test_upright_prints_are_weak_across_their_layers():
    """Printed upright, the strength across is that between layers."""
    pla = materials.load("printed-pla")
    assert pla.lamina(cut="upright").tension_across == pytest.approx(17e6)
    assert pla.lamina(cut="flat").tension_across > 50e6


def test_skins_stiffen_balsa_across():
    """Paper skins multiply the stiffness across the grain; core and skins are found."""
    plain = lay.bending(materials.load("balsa").layup(thickness=3e-3))
    stack = materials.load("balsa-paper").layup(thickness=3e-3)
    assert lay.bending(stack)[1, 1] > 5 * plain[1, 1]
    assert core_index(stack) == (1,)
    with pytest.raises(InputError, match="thickness"):
        materials.load("balsa-paper").layup(thickness=0.2e-3)


def test_any_core_can_be_faced_with_any_skin():
    """A composed material weighs core, skins and glue."""
    made = materials.faced(
        materials.load("basswood"), materials.load("paper"), skin_thickness=1e-4, glue_line=0.04
    )
    stack = made.layup(thickness=2e-3)
    expected = 1.8e-3 * 414 + 2 * (1e-4 * 800 + 0.04)
    assert stack.areal_mass == pytest.approx(expected)


def test_own_material_needs_little_and_refuses_nonsense():
    """One modulus, a density and a strength make an isotropic sheet."""
    plain = materials.own(modulus_along=3e9, density=1200.0, strength_along=50e6)
    made = plain.lamina()
    assert made.modulus_across == 3e9
    assert made.shear_modulus == pytest.approx(3e9 / 2.6)
    with pytest.raises(InputError, match="density"):
        materials.own(modulus_along=3e9, density=-1.0, strength_along=50e6)
    with pytest.raises(InputError, match="poisson"):
        materials.own(modulus_along=3e9, density=900.0, strength_along=5e7, poisson=2.0)


def test_refusals_name_the_input():
    """Unknown names, cuts and thicknesses are refused with what is accepted."""
    with pytest.raises(InputError, match="material: 'adamant' cannot be used; give one of abs"):
        materials.load("adamant")
    balsa = materials.load("balsa")
    with pytest.raises(InputError, match="cut: 'D' cannot be used; give one of B, A, C"):
        balsa.layup(thickness=2e-3, cut="D")
    for bad in (0.0, -1.0, 1.0, float("nan")):
        with pytest.raises(InputError, match="thickness"):
            balsa.layup(thickness=bad)
    with pytest.raises(InputError, match="density"):
        balsa.layup(thickness=2e-3, density=0.0)
    with pytest.raises(InputError, match="moisture"):
        balsa.layup(thickness=2e-3, moisture=12.0)


def broken(**changes):
    """Copy the balsa file's contents with some parts replaced."""
    return {**schema.read("balsa"), **changes}


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"family": "metal"}, "family 'metal' is not one of"),
        ({"label": ""}, "needs label as text"),
        ({"colour": "pink"}, r"unknown keys \['colour'\]"),
        ({"values": {}}, "values missing for model 'wood'"),
        ({"scatter": {}}, "scatter: needs exactly"),
        ({"workability": {}}, "workability: needs exactly cut, sand, shape, finish"),
        ({"price": {}}, "price: needs class, one of cheap, medium, expensive"),
        ({"price": {"class": "dear"}}, "price: needs class"),
        ({"price": {"class": "cheap"}}, "price: needs per_area"),
        ({"stock": [{"size": [["3 in", "36 in"]]}]}, "stock: needs thickness, size"),
        ({"stock": "3 in"}, r"each under \[\[stock\]\]"),
        ({"values": "none"}, "values: must be a table"),
        ({"at_hand": -1}, "at_hand -1 is not a whole number"),
        ({"moisture": {"crossing": 0.2}}, r"moisture: \['crossing'\]: knows intersection"),
        ({"density_exponents": {"mood": 1.0}}, r"density_exponents: \['mood'\]: knows modulus"),
        (
            {"values": {**schema.read("balsa")["values"], "gren_modulus_bending": {}}},
            r"values unknown to model 'wood': \['gren_modulus_bending'\]",
        ),
        ({"cut_values": {"A": {"mood": 1.0}}}, r"cut_values.A: \['mood'\]: SI numbers of values"),
        ({"cut_values": {"Z": {}}}, r"cut_values \['Z'\] are no cuts"),
        ({"kind": "core"}, "kind 'core': its file belongs into cores_and_skins/"),
        ({"stock": [{"thickness": ["1/16 in"]}]}, "stock: needs thickness, size"),
        ({"cuts": ["Z"]}, r"cuts \['Z'\] are not among A, B, C"),
        ({"model": "faced"}, "values missing for model 'faced'"),
        ({"model": "laminate"}, "values missing for model 'laminate'"),
    ],
)
def test_schema_breaks_are_named(changes, message):
    """A file that breaks the schema is refused by file, key and reason."""
    with pytest.raises(MaterialError, match=message):
        materials.build("test", broken(**changes))


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"core": "adamant"}, "test: core 'adamant' is not a material"),
        ({"skin": None}, "test: skin None is not a material"),
        ({"core": "balsa-glass"}, "test: core 'balsa-glass' is faced itself"),
    ],
)
def test_faces_need_a_core_and_a_skin(changes, message):
    """A faced material names a core and a skin that are not faced themselves."""
    with pytest.raises(MaterialError, match=message):
        materials.build("test", {**schema.read("balsa-paper"), **changes})


def test_impossible_stiffness_is_named():
    """A Poisson's ratio that no stiffness can have is refused with the file's name."""
    poisson = {"value": 30.0, "unit": "1", "source": "demo", "basis": "demo"}
    values = {**schema.read("card")["values"], "poisson": poisson}
    with pytest.raises(MaterialError, match="test: no sheet can be made of its values"):
        materials.build("test", {**schema.read("card"), "values": values})


def test_damp_needs_all_of_its_values():
    """A sheet that softens with damp says by how much, and from which moisture on."""
    softens = {
        key: entry
        for key, entry in schema.read("card")["values"].items()
        if key in ("moisture_reference", "moisture_loss_modulus")
    }
    raw = schema.read("glass-epoxy")
    with pytest.raises(MaterialError, match=r"what damp does: \['moisture_loss_strength'\]"):
        materials.build("test", {**raw, "values": {**raw["values"], **softens}})


def test_what_damp_does_to_wood_and_paper_is_known():
    """Neither wood nor paper is let in without what damp does to it; a plastic may be."""
    wood = dict(schema.read("balsa")["values"])
    del wood["moisture_loss_shear"]
    with pytest.raises(MaterialError, match="needs green_shear_strength or moisture_loss_shear"):
        materials.build("test", broken(values=wood))
    card = {k: v for k, v in schema.read("card")["values"].items() if "moisture" not in k}
    with pytest.raises(MaterialError, match="what damp does"):
        materials.build("test", {**schema.read("card"), "values": card})
    plastic = schema.read("printed-pla")
    assert not any("moisture" in key for key in plastic["values"])
    assert materials.build("test", plastic).layup(thickness=1e-3)


def test_cores_and_skins_lie_in_their_own_folder():
    """A core's file is refused among the materials that fins are made of."""
    foam = schema.read("polystyrene-foam", schema.COMPONENTS)
    assert materials.build("foam", foam, component=True).component
    with pytest.raises(MaterialError, match="belongs into cores_and_skins/"):
        materials.build("foam", foam)
    with pytest.raises(MaterialError, match="belongs into library/"):
        materials.build("balsa", schema.read("balsa"), component=True)
    assert not set(materials.names()) & set(materials.components())


@pytest.mark.parametrize("name", materials.names())
def test_fields_follow_from_the_data(name):
    """Forms ask for the density of woods with a density law, and for the cut of sawn woods."""
    material = materials.load(name)
    heavy, light = (material.layup(thickness=3e-3, density=d) for d in (500.0, 250.0))
    across = [stack.plies[0].lamina.modulus_along for stack in (heavy, light)]
    assert material.follows_density == (material.kind == "solid" and across[0] > across[1])
    assert material.sawn == (material.family == "wood" and len(material.cuts) == 3)


@pytest.fixture
def broken_basswood(monkeypatch):
    """Let the file of basswood lack its label."""
    read = schema.read

    def without_label(name, package=schema.LIBRARY):
        raw = read(name, package)
        return {**raw, "label": ""} if name == "basswood" else raw

    monkeypatch.setattr(schema, "read", without_label)
    materials.load.cache_clear()
    yield
    materials.load.cache_clear()


@pytest.mark.usefixtures("broken_basswood")
def test_a_broken_file_breaks_only_itself():
    """Other materials, forms and searches go on; choosing the broken one says what is wrong."""
    assert list(materials.broken()) == ["basswood"]
    assert {item.name for item in materials.usable()} == set(materials.names()) - {"basswood"}
    assert "basswood" not in materials.Having(lambda material: material.sawn)
    load = calculators.load
    chooser = next(item for item in load("fin-check").inputs if item.name == "material")
    (offer,) = [choice for choice in chooser.offered if choice.value == "basswood"]
    assert "broken" in offer.label
    assert calculators.run("fin-check", {}).verdict is not None
    found = calculators.run("material-finder", {"only": "balsa"})
    assert any("basswood: needs label as text" in note for note in found.notes)
    for slug in ("fin-check", "field-card"):
        with pytest.raises(InputError, match=r"^basswood: needs label as text$") as problem:
            calculators.run(slug, {"material": "basswood"})
        assert problem.value.name == "material"


@pytest.mark.usefixtures("broken_basswood")
def test_the_terminal_names_a_broken_file(capsys):
    """The command line prints one sentence and exits with 2, without a traceback."""
    assert cli.main(["fin-check", "material=basswood"]) == 2
    assert capsys.readouterr().err == "basswood: needs label as text\n"
    assert cli.main(["fin-check", "--inputs"]) == 0
    assert cli.main(["fin-check"]) == 0


@pytest.mark.usefixtures("broken_basswood")
def test_the_page_shows_a_broken_file_beside_the_material():
    """In the browser the message appears beside the field for the material."""
    answer = json.loads(browser.answer("fin-check", '{"material": "basswood"}'))
    assert "basswood: needs label as text" in answer["errors"]["material"]


@pytest.mark.parametrize(
    ("entry", "message"),
    [
        (3.0, "must be a table"),
        ({"unit": "Pa", "source": "kaw-2006"}, "has no value"),
        ({"value": "3", "unit": "Pa", "source": "kaw-2006"}, "is not a number"),
        ({"value": float("inf"), "unit": "Pa", "source": "kaw-2006"}, "is not finite"),
        ({"value": 3, "unit": "psi", "source": "kaw-2006"}, "unit 'psi' is not one of"),
        ({"value": 3, "unit": "Pa", "source": "rumour"}, "source 'rumour' is not in"),
        ({"value": 3, "unit": "Pa", "source": "kaw-2006", "low": 4}, "outside its band"),
        ({"value": 3, "unit": "Pa", "source": "kaw-2006", "cov": 2.0}, "between 0 and 1"),
        ({"value": 3, "unit": "Pa", "source": "kaw-2006", "basis": "hunch"}, "basis 'hunch'"),
        ({"value": 3, "unit": "Pa", "source": "kaw-2006", "mood": 1}, "unknown keys"),
    ],
)
def test_bad_values_are_named(entry, message):
    """A value without number, unit, source or sane band is refused."""
    with pytest.raises(MaterialError, match=message):
        schema.value("test", "modulus", entry)


@pytest.mark.parametrize(
    ("text", "metres"),
    [("1/64 in", 0.000396875), ("1 1/2 in", 0.0381), ("2.5 mm", 0.0025), ("36 in", 0.9144)],
)
def test_trade_sizes(text, metres):
    """Fractions, mixed numbers and millimetres are read."""
    made = materials.build("test", broken(stock=[{"thickness": ["1 mm"], "size": [[text, "2 m"]]}]))
    (size,) = made.stock
    assert (size.thickness, size.width, size.length) == pytest.approx((1e-3, metres, 2.0))


@pytest.mark.parametrize("text", ["", "3", "1 2 in", "3/32", "two mm", "0 mm", "-1 mm", 3])
def test_bad_trade_sizes_are_refused(text):
    """A size without a unit, with two whole numbers or not above zero is refused."""
    with pytest.raises(MaterialError, match=r"test: stock: .* is no size"):
        materials.build("test", broken(stock=[{"thickness": [text], "size": [["1 m", "2 m"]]}]))
