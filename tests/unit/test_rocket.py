"""One rocket through every calculator, and its file."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc import calculators, rocket
from calc.errors import InputError
from calc.rocket import Rocket

ALL = [calculators.load(slug) for slug in calculators.SLUGS]
FIN = calculators.load("fin-check")
WREN = Rocket("Wren", {"root": "2 in", "mass": "90 g", "thickness": "3/32 in"})


def test_one_name_means_one_thing() -> None:
    """Inputs that share a name in a rocket measure the same kind of thing."""
    for name, takers in rocket.union(ALL).items():
        assert len({item.kind for _, item in takers}) == 1, name


APART = {
    "points": "a part that is no fin is glued along its first side",
    "parts": "a plan cuts as many fins as the rocket has",
    "landing_mass": "what lifts off without its propellant, where the motor is known",
    "flight": "the whole rocket's page flies on its motor",
}
"""Names whose examples differ between calculators though a rocket may leave them out, and why."""


def test_what_is_left_out_is_the_same_everywhere() -> None:
    """Where a page's own example differs, a rocket still means what the others take."""
    asked = [each for each in ALL if each.slug != "compare"]
    for name, takers in rocket.union(asked).items():
        if name in APART or name.startswith("ring_"):
            continue
        meant = {
            rocket.UNSAID.get(each.slug, {}).get(item.name, item.default) for each, item in takers
        }
        assert len(meant) == 1, (name, meant)


@pytest.mark.parametrize("slug", [*rocket.UNSAID])
def test_a_rocket_with_one_value_is_answered(slug: str) -> None:
    """What a rocket means without saying it fits the rest of the page's example."""
    texts = rocket.inputs_of(Rocket("Owl", {"count": "4"}), calculators.load(slug))
    assert texts == {**rocket.UNSAID[slug], **({"count": "4"} if "count" in texts else {})}
    assert calculators.ask(slug, texts).errors == {}


def test_landing_left_out_is_the_fin_checks() -> None:
    """A rocket that says little of its landing has one margin, on both pages."""
    owl = Rocket("Owl", {"root": "2.5 in", "flight": "motor", "landing_mass": "150 g"})
    landing = calculators.load("landing")
    burnt = calculators.run("speed", rocket.inputs_of(owl, calculators.load("speed")))
    heavy = rocket.with_inputs(owl, FIN, {"mass": f"{0.15 + burnt.answer('propellant').value} kg"})
    whole = calculators.run("fin-check", rocket.inputs_of(heavy, FIN))
    alone = calculators.run("landing", rocket.inputs_of(heavy, landing))
    assert alone.verdict is not None
    margin = next(each.margin for each in whole.modes if each.name == "landing")
    assert margin == pytest.approx(alone.verdict.margin, rel=1e-9)


def test_whole_rocket_starts_as_its_parts_do() -> None:
    """The page of the whole rocket has the parts' examples, or leaves a number open."""
    parts = rocket.union([each for each in ALL if each.slug not in ("rocket", "compare", "ring")])
    for item in calculators.load("rocket").inputs:
        # this page flies on the motor, so that landing and rod are judged too
        if item.name in parts and item.default and item.name != "flight":
            assert item.default in {each.default for _, each in parts[item.name]}, item.name


def test_table_names_only_inputs_there_are() -> None:
    """Every line of the table of meanings is about an input of its calculator."""
    for calculator in ALL:
        names = {item.name for item in calculator.all_inputs}
        for name in rocket.MEANS.get(calculator.slug, {}):
            assert name == rocket.WHOLE or name in names, (calculator.slug, name)
    assert set(rocket.MEANS) <= set(calculators.SLUGS)


def test_every_calculator_reads_the_same_fin() -> None:
    """A root chord and a thickness reach every calculator of a fin, and no other."""
    for calculator in ALL:
        texts = rocket.inputs_of(WREN, calculator)
        names = {item.name for item in calculator.inputs}
        names -= rocket.MEANS.get(calculator.slug, {}).keys()
        assert texts.get("root") == ("2 in" if "root" in names else None)
        if calculator.slug in ("ply-layup", "faced-core", "sheet-test", "ring"):
            assert "thickness" not in texts
        elif "thickness" in names:
            assert texts["thickness"] == "3/32 in"


def test_mass_of_the_landing_is_its_own() -> None:
    """The mass that lands follows the mass at lift-off until it is given, and never changes it."""
    landing = calculators.load("landing")
    assert rocket.inputs_of(WREN, landing)["mass"] == "90 g"
    lighter = rocket.with_inputs(WREN, landing, {"mass": "75 g"})
    assert rocket.inputs_of(lighter, landing)["mass"] == "75 g"
    assert rocket.inputs_of(lighter, FIN)["mass"] == "90 g"


def test_a_motor_is_flown_everywhere() -> None:
    """A motor given where the rocket always flies on it is also what the fin check judges."""
    given_motor = rocket.with_inputs(WREN, calculators.load("speed"), {"motor": "C"})
    assert rocket.inputs_of(given_motor, FIN)["flight"] == "motor"
    by_speed = rocket.with_inputs(given_motor, FIN, {"flight": "speed"})
    again = rocket.with_inputs(by_speed, calculators.load("speed"), {"motor": "B"})
    assert rocket.inputs_of(again, FIN)["flight"] == "speed"


@pytest.mark.parametrize("body", ["0.5 in", "0.98 in", "1.6 in", "2.6 in", "4 in"])
@pytest.mark.parametrize("said", [{}, {"joint": "none"}, {"joint": "usual"}])
def test_joint_left_out_is_the_usual_one(body: str, said: dict[str, str]) -> None:
    """A rocket that says nothing of its joint has one answer on every page, on any tube."""
    plan = {"root": "5 in", "tip": "2.5 in", "span": "4 in", "sweep": "3 in", "count": "4"}
    owl = Rocket("Owl", {**plan, "body": body, "material": "basswood", "thickness": "3/16 in"})
    here = rocket.inputs_of(owl, FIN)
    whole = calculators.run("fin-check", here)
    joint = calculators.load("root-joint")
    alone = calculators.run(
        "root-joint", rocket.inputs_of(rocket.with_inputs(owl, FIN, said), joint)
    )
    assert alone.verdict is not None
    worst = min(each.margin for each in whole.modes if each.name in ("joint", "joint-hand"))
    assert worst == pytest.approx(alone.verdict.margin, rel=1e-9)


def test_a_described_joint_is_described_everywhere() -> None:
    """A fillet given on the joint's page is the fillet of the fin check; units change nothing."""
    joint = calculators.load("root-joint")
    filleted = rocket.with_inputs(Rocket(), joint, {"fillet": "1/8 in"})
    assert filleted.inputs == {"fillet": "1/8 in", "joint": "fillet"}
    assert rocket.inputs_of(filleted, FIN) == {"fillet": "1/8 in", "joint": "fillet"}
    wider = rocket.with_inputs(WREN, joint, {"body": "2.6 in"})
    assert "joint" not in wider.inputs
    assert rocket.inputs_of(wider, joint)["joint"] == "usual"
    assert "joint" not in rocket.with_inputs(WREN, joint, {"units": "metric"}).inputs
    assert rocket.inputs_of(Rocket(), joint) == {}


def test_what_a_page_shows_goes_along_with_what_is_given_there() -> None:
    """A lighter rocket that lands under the example's parachute does so everywhere.

    What is of one page only, such as the weather, brings nothing along.
    """
    landing, moisture = calculators.load("landing"), calculators.load("moisture")
    lighter = rocket.with_inputs(Rocket(), landing, {"mass": "75 g"})
    assert lighter.inputs == {"landing_mass": "75 g", "descent": "parachute", "length": "20 in"}
    damp = rocket.with_inputs(Rocket(), moisture, {"humidity": "90 %"})
    assert damp.inputs == {"moisture.humidity": "90 %"}
    spruce = rocket.with_inputs(Rocket(), moisture, {"material": "spruce"})
    assert spruce.inputs == {"material": "spruce", "thickness": "3/32 in"}


def test_card_carries_the_rockets_name() -> None:
    """The name on the field card is the rocket's, and the page's address is never kept."""
    card = calculators.load("field-card")
    assert rocket.inputs_of(WREN, card)["rocket"] == "Wren"
    renamed = rocket.with_inputs(WREN, card, {"rocket": "Owl", "address": "https://a.example/"})
    assert renamed.name == "Owl"
    assert "https://a.example/" not in rocket.write([renamed])


@pytest.mark.parametrize("calculator", ALL, ids=lambda calculator: calculator.slug)
def test_what_a_form_holds_comes_back(calculator) -> None:
    """Texts given to a calculator come back from the rocket as they were."""
    texts = {item.name: f"text {n}" for n, item in enumerate(calculator.all_inputs)}
    kept = rocket.with_inputs(Rocket(), calculator, texts)
    told = {name: text for name, text in texts.items() if rocket.key(calculator.slug, name)}
    assert rocket.inputs_of(kept, calculator) == told


TEXT = st.text(max_size=30)
FILES = st.lists(
    st.builds(
        Rocket,
        name=st.text("abc äöü🚀", max_size=20).map(str.strip),
        inputs=st.dictionaries(st.sampled_from(["root", "ply-layup.layup", "later"]),
                               st.text("3/32 in·½", max_size=12)),
        rest=st.fixed_dictionaries({}, optional={"later_field": st.integers()}),
    ),
    min_size=1,
    max_size=4,
)  # fmt: skip


@given(FILES)
def test_file_gives_back_what_was_written(rockets: list[Rocket]) -> None:
    """Reading what was written returns the same rockets, fields of later editions included."""
    assert rocket.read(rocket.write(rockets)) == rockets


@given(st.one_of(TEXT, st.binary(max_size=40), st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.text(max_size=5)),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(st.sampled_from(["finstock", "name", "inputs", "rockets", "sheets"]), inner),
).map(json.dumps)))  # fmt: skip
def test_anything_else_is_refused_in_words(found: str | bytes) -> None:
    """Whatever the file, it is read or refused with an error that names the file."""
    try:
        read = rocket.read(found)
    except InputError as problem:
        named = problem.name
    else:
        named = "file" if isinstance(read, list) else "nothing"
    assert named == "file"


def test_refusals_say_what_is_wrong() -> None:
    """A truncated file, a foreign file and a newer version give different messages."""
    text = rocket.write([WREN])
    with pytest.raises(InputError, match="line"):
        rocket.read(text[:-20])
    with pytest.raises(InputError, match="begins"):
        rocket.read('{"root": "3 in"}')
    with pytest.raises(InputError, match="newer Finstock"):
        rocket.read(text.replace('"finstock": 1', '"finstock": 2'))
    with pytest.raises(InputError, match="'root'"):
        rocket.read('{"finstock": 1, "inputs": {"root": ["3 in"]}}')


def test_broken_characters_are_replaced() -> None:
    """Half a character becomes the sign for a lost one, and control characters go."""
    [found] = rocket.read('{"finstock": 1, "name": "Wr\\ud83den\\u0007", "inputs": {"root": 3}}')
    assert found.name == "Wr\ufffden"
    assert found.inputs == {"root": "3"}


def test_schema_names_every_input() -> None:
    """The published schema describes every name a rocket may give, and what a file is made of."""
    published = rocket.schema(ALL)["properties"]
    described = {**published["inputs"]["properties"], **published["prices"]["properties"]}
    assert set(described) == set(rocket.union(ALL))
    assert {"ply-layup.layup", "landing_mass"} <= set(described)
    assert set(json.loads(rocket.write([WREN]))) <= set(published)
    assert set(json.loads(rocket.write([WREN, Rocket("Owl")]))) <= set(published)


def test_command_line_and_table_ask_the_same(tmp_path, capsys) -> None:
    """A rocket's file answers on the command line as its inputs do, and gives a row to a table."""
    from calc.frontends.terminal import batch, cli

    path = tmp_path / "rockets.json"
    path.write_text(rocket.write([WREN, Rocket("Owl", {"root": "4 in"})]), encoding="utf-8")
    assert cli.main(["landing", "--rocket", str(path), "--name", "Wren", "--json"]) == 0
    by_file = json.loads(capsys.readouterr().out)
    assert (
        cli.main(
            [
                "landing",
                *["root=2in", "mass=90g", "thickness=3/32in", "descent=speed", "length="],
                "--json",
            ]
        )
        == 0
    )
    assert by_file["answers"] == json.loads(capsys.readouterr().out)["answers"]
    assert cli.main(["landing", "--rocket", str(path)]) == 2
    assert "'Wren', 'Owl'" in capsys.readouterr().err
    table = batch.read(path, calculator="landing")
    assert table.header[:2] == ("calculator", "#rocket")
    assert dict(table.rows[0].texts)["mass"] == "90 g"
    with pytest.raises(InputError, match="--calculator"):
        batch.read(path)


@pytest.mark.parametrize("slug", ["rocket", "field-card", "repair", "moisture"])
def test_a_whole_rocket_asks_every_calculator(slug, tmp_path, capsys) -> None:
    """A file with every input of every calculator answers as if only this one's were in it."""
    from calc.frontends.terminal import cli

    full = WREN
    for calculator in ALL:
        known = full.inputs
        given = {item.name: item.default for item in calculator.all_inputs if item.default}
        full = rocket.with_inputs(full, calculator, given)
        full = Rocket(full.name, {**full.inputs, **known}, prices=full.prices)
    path = tmp_path / "rocket.json"
    path.write_text(rocket.write([full]), encoding="utf-8")
    assert cli.main([slug, "--rocket", str(path), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["answers"]


def test_inputs_of_other_calculators_are_passed_over(tmp_path, capsys) -> None:
    """Beside a file an input of another calculator is named and not used; a slip is refused."""
    from calc.frontends.terminal import cli

    path = tmp_path / "rocket.json"
    path.write_text(rocket.write([WREN]), encoding="utf-8")
    assert cli.main(["speed", "--rocket", str(path), "thickness=1/8in"]) == 0
    assert "thickness: not used" in capsys.readouterr().err
    assert cli.main(["speed", "--rocket", str(path), "thicknes=1/8in"]) == 2
    assert "cannot be used" in capsys.readouterr().err


def test_a_part_that_is_no_fin_leaves_other_pages_their_outline() -> None:
    """The cutting plan's part that is no fin is not taken for an outline of the fins."""
    part = rocket.with_inputs(WREN, calculators.load("cutting-plan"), {"outline": "points"})
    assert rocket.inputs_of(part, calculators.load("cutting-plan"))["outline"] == "points"
    assert "outline" not in rocket.inputs_of(part, FIN)
