"""The field card: the same answers as the fin check, a code that can be read, no bare verdict."""

from __future__ import annotations

import re
from functools import cache
from urllib.parse import parse_qsl, urlsplit

import numpy as np
import pytest
import zxingcpp

from calc import calculators, materials
from calc.calculators import field_card
from calc.errors import InputError
from calc.flight import motor
from calc.render.drawing import draw
from calc.report import WORDS, Report, Table
from calc.workshop import damage, qr

ADDRESS = "https://example.org/finstock/fly/field-card/"
TEXTS = {"thickness": "3/32 in", "rocket": "Sparrow & co", "date": "1 May", "address": ADDRESS}


@cache
def card() -> Report:
    """Return the card of an invented rocket."""
    return calculators.run("field-card", TEXTS)


def table(title: str) -> Table:
    """Return one of the card's tables."""
    return next(t for t in card().tables if t.title.startswith(title))


def from_link(link: str) -> Report:
    """Return what the calculator behind a row's link answers."""
    address = urlsplit(link)
    assert address.path.endswith("check/fin-check/")
    return calculators.run("fin-check", dict(parse_qsl(address.query)))


def margin_in(words: str) -> float:
    """Return the margin in a verdict's words."""
    found = re.search(r"margin (?:at least )?([\d.]+)", words)
    assert found, words
    return float(found[1])


def read(rows: tuple[str, ...]) -> list[str]:
    """Return what an independent reader (zxing-cpp) finds in a code drawn with its quiet zone."""
    modules = np.array([[int(c) for c in row] for row in rows], dtype=np.uint8)
    light = np.pad(1 - modules, qr.QUIET, constant_values=1)
    picture = np.kron(light * 255, np.ones((4, 4), dtype=np.uint8)).astype(np.uint8)
    return [found.text for found in zxingcpp.read_barcodes(picture)]


def test_every_class_answers_as_the_fin_check() -> None:
    """Each row's link opens a fin check with the margin that the card shows."""
    listed = table("Margin by motor class")
    assert len(listed.rows) == field_card.BELOW + field_card.ABOVE + 1
    for row, link in zip(listed.rows, listed.links, strict=True):
        verdict = from_link(link).verdict
        assert verdict is not None
        assert margin_in(row[3]) == pytest.approx(verdict.margin, abs=0.02)
        assert row[3].startswith(WORDS[verdict.state].lower())


@pytest.mark.parametrize("mass", ["150 g", "1 kg"])
def test_a_hand_pushes_as_hard_as_in_the_fin_check(mass: str) -> None:
    """A light rocket and a heavy one are picked up with their own weight, on both pages."""
    texts = {"thickness": "1/4 in", "motor": "G", "thrust": "80 N", "mass": mass}
    margins = [
        {mode.name: mode.margin for mode in report.modes}
        for report in (
            calculators.run("field-card", {**texts, "only": "balsa"}),
            calculators.run("fin-check", {**texts, "flight": "motor"}),
        )
    ]
    assert margins[0]["handling"] == pytest.approx(margins[1]["handling"])


def test_substitutes_hold_in_the_fin_check() -> None:
    """Each substitute's link opens a fin check that holds with the margin on the card."""
    listed = table("If you only have")
    assert listed.rows
    for row, link in zip(listed.rows, listed.links, strict=True):
        report = from_link(link)
        assert report.verdict is not None
        assert report.verdict.state == "holds", row
        # another fin changes nothing about the rod
        smallest = min(mode.margin for mode in report.modes if mode.name != "rod")
        assert margin_in(row[2]) == pytest.approx(smallest, abs=0.02)


def test_substitutes_leave_out_the_fin_itself() -> None:
    """A sheet of the fin's own material and thickness is no substitute."""
    report = calculators.run("field-card", {"thickness": "3/32 in", "only": "balsa"})
    listed = next(t for t in report.tables if t.title.startswith("If you"))
    assert all(row[1] != "3/32 in" for row in listed.rows)


def test_speed_limit_is_where_a_margin_ends() -> None:
    """Fin and joint have enough margin at the reported limit; 3 % above it, one has not."""
    limit = card().answer("stay_below").value
    flying = ("flutter", "divergence", "bending", "joint")
    altitude = "77.9 m"
    for factor, kept in ((0.99, True), (1.03, False)):
        report = calculators.run(
            "fin-check",
            {"thickness": "3/32 in", "speed": f"{factor * limit} m/s", "altitude": altitude},
        )
        rows = {m.name: m.margin for m in report.modes}
        assert all(rows[name] >= 1.0 for name in flying) is kept


def test_joint_limits_the_speed_too() -> None:
    """The thicker fin of the example is limited by its joint, well before its own bending."""
    glued = calculators.run("field-card", {}).answer("stay_below").value
    alone = calculators.run("field-card", {"joint": "none"}).answer("stay_below").value
    assert glued < 0.9 * alone


def test_no_verdict_without_its_margin() -> None:
    """Wherever the card says holds, marginal or not, the margin stands in the same words."""
    listed = [row[3] for row in table("Margin by motor class").rows]
    listed += [row[2] for row in table("If you only have").rows]
    for words in listed:
        assert "margin" in words
    assert "margin" in card().summary


def test_bigger_motors_go_faster() -> None:
    """Top speed rises with the motor class, and no bigger motor makes the rocket lighter."""
    speeds = [row[2] for row in table("Margin by motor class").rows if row[2] is not None]
    assert speeds == sorted(speeds)
    letters = motor.letters()
    masses = [
        field_card.lift_off_mass(letter, usual="D", impulse=20.0, mass=0.18)
        for letter in letters[letters.index("D") :]
    ]
    assert masses == sorted(masses)


def test_motor_that_does_not_lift_says_so() -> None:
    """A class too weak to lift the rocket says so and has no verdict."""
    report = calculators.run("field-card", {"mass": "900 g", "thrust": "40 N", "motor": "E"})
    rows = {row[0]: row for row in next(t for t in report.tables if "motor" in t.title).rows}
    assert rows["C"][3] == "does not lift it"
    assert rows["C"][2] is None
    with pytest.raises(InputError, match="thrust"):
        calculators.run("field-card", {"mass": "3 kg", "thrust": "12 N"})


def test_code_is_read_by_another_library() -> None:
    """The QR code says the address with the card's inputs, read by an independent decoder."""
    figure = next(f for f in card().figures if f.drawing == "qr")
    (text,) = read(figure.data["rows"])
    assert text == figure.data["text"]
    assert text.startswith(f"{ADDRESS}?")
    back = calculators.load("field-card").complete(dict(parse_qsl(urlsplit(text).query)))
    assert back["rocket"] == "Sparrow & co"
    assert back["thickness"] == "3/32 in"
    assert back["address"] == ""


@pytest.mark.parametrize("length", [20, 100, 300, 900])
def test_codes_of_every_size_are_read(length: int) -> None:
    """Short and long addresses are read by an independent decoder (ISO/IEC 18004)."""
    text = ("https://example.org/?" + "root=3in&" * 200)[:length]
    assert read(qr.rows(text)) == [text]


def test_too_long_for_a_code_is_refused() -> None:
    """An address beyond the largest code drawn is an error of that input."""
    with pytest.raises(InputError, match="address"):
        qr.rows("https://example.org/" + "x" * 1200)


def test_drawing_keeps_the_quiet_zone() -> None:
    """The drawing is the code's modules and four light ones on every side, to scale."""
    figure = next(f for f in card().figures if f.drawing == "qr")
    side = (len(figure.data["rows"]) + 8) * 4
    svg = draw(figure, units="inch", id="code")
    assert f'viewBox="0 0 {side} {side}"' in svg
    dark = sum(int(width) for width in re.findall(r"h(\d+)v4", svg)) // 4
    assert dark == sum(row.count("1") for row in figure.data["rows"])


def test_without_address_no_code() -> None:
    """Without the address of the page there is no code, and the card says why."""
    report = calculators.run("field-card", {"only": "balsa"})
    assert not report.figures
    assert any("QR code" in note for note in report.notes)


@pytest.mark.parametrize("text", ["example.org", "javascript:alert(1)", "https://a b", "x" * 300])
def test_other_addresses_are_refused(text: str) -> None:
    """Only a plain web address may stand in the code."""
    _, errors = calculators.load("field-card").read({"address": text})
    assert "address" in errors


def test_every_family_has_its_looks_and_repairs() -> None:
    """Each family of materials says what damage looks like and what to do about it."""
    families = {materials.load(name).family for name in materials.names()}
    assert families <= set(field_card.FACES)
    assert families <= set(damage.REPAIR)
    assert set(motor.letters()) == set(motor.USUAL_THRUST)


def test_progress_ends_complete() -> None:
    """Progress never runs backward and ends at its total."""
    told: list[tuple[int, int]] = []
    calculators.ask(
        "field-card",
        {"only": "balsa, card"},
        progress=lambda done, total, _: told.append((done, total)),
    )
    assert [done for done, _ in told] == sorted(done for done, _ in told)
    assert told[-1][0] == told[-1][1]


def test_a_much_smaller_motor_leaves_a_rocket() -> None:
    """However light a rocket is given, without its big motor it keeps three tenths of its mass."""
    big, small = motor.class_limits("H")[1], motor.class_limits("A")[1]
    rocket = field_card.lift_off_mass("A", usual="H", impulse=big, mass=0.2)
    lightest = motor.motor_mass_range(
        total_impulse=small, propellant=motor.usual_propellant(small)
    )[0]
    assert rocket == pytest.approx(0.3 * 0.2 + lightest)


@pytest.mark.parametrize(("letter", "thrust"), [("C", 8.0), ("E", 20.0), ("F", 40.0)])
def test_other_classes_have_a_brisk_usual_thrust(letter: str, thrust: float) -> None:
    """A motor of another class is flown with its usual thrust, the given one with its own."""
    values = calculators.load("field-card").read({})[0]
    assert field_card.flown(values, letter)["thrust"] == thrust
    assert field_card.flown(values, values["motor"])["thrust"] == values["thrust"]


def test_rows_of_other_sheets_say_what_they_leave_out() -> None:
    """Their column names what is judged; what is of the rocket stands in the note, with its margin.

    The rod's margin governs the card and is in none of the rows.
    """
    listed, report = table("If you only have"), card()
    assert listed.columns[2].label == "Fin, joint and landing (10 to 90 %)"
    rod = next(mode for mode in report.modes if mode.name == "rod")
    assert f"speed off the rod (margin {rod.margin:.2f} for this fin)" in listed.note
    assert report.verdict is not None
    assert report.verdict.covers.startswith("Judged: ")
    assert "stability" in report.verdict.covers.partition("Not judged: ")[2]
    assert "lower only where the table above" in table("If it is damaged").note


def test_repairs_name_a_lower_class_that_is_too_weak() -> None:
    """Where the class below does not lift the rocket well, the advice to take it says so."""

    def note(mass: str) -> str:
        tables = calculators.run("field-card", {**TEXTS, "mass": mass}).tables
        return next(t.note for t in tables if t.title == "If it is damaged")

    assert "Here class C: too weak for the weight." in note("260 g")
    assert "Here class" not in note("120 g")
    assert "only where the table above says that it still lifts it" in note("120 g")
