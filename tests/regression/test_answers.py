"""Kept answers: no number of any calculator changes unnoticed.

They are our own output, dated, not values of the world (those are in ``tests/validation``). After
a change that was meant to alter numbers, ``python -m scripts.regression --write`` prints what
changed and keeps the new answers.
"""

import json
import tomllib
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from calc import calculators, materials
from scripts import regression
from scripts.say import Failure

QUESTIONS = regression.questions()
KEPT = regression.read()


@pytest.mark.parametrize("slug", calculators.SLUGS)
def test_answers_are_as_kept(slug: str) -> None:
    """Every question to a calculator is answered as it was when the answers were kept."""
    today = regression.edition(q for q in QUESTIONS if q.calculator == slug)
    changes = regression.compared(regression.only(KEPT, slug), today)
    assert not changes, "\n".join([*changes, f"If this was meant: {regression.RENEW}"])


def test_kept_answers_are_dated_and_complete() -> None:
    """The file says when and with what it was made, and holds an answer to every question."""
    date.fromisoformat(KEPT["date"])
    assert set(KEPT["versions"]) == {"finstock", "python", "numpy"}
    assert KEPT["renew"] == regression.RENEW
    assert list(KEPT["answers"]) == [question.name for question in QUESTIONS]


def test_every_calculator_is_asked_several_questions() -> None:
    """Five questions at least for each calculator, and eighty at least about whole fins."""
    asked = [question.calculator for question in QUESTIONS]
    few = [slug for slug in calculators.SLUGS if asked.count(slug) < 5]
    assert not few, (
        f"ask five questions of {few} in {regression.QUESTIONS.name}, then run {regression.RENEW}"
    )
    assert set(asked) == set(calculators.SLUGS)
    fins = ("fin-check", "material-finder", "field-card", "grain-angle")
    assert sum(asked.count(slug) for slug in fins) >= 80


def test_every_choice_is_asked() -> None:
    """Each edge, joint, glue, tube, ground, canopy … of some calculator is asked at least once."""
    asked: dict[str, set[str]] = {}
    offered: dict[str, set[str]] = {}
    for question in QUESTIONS:
        calculator = calculators.load(question.calculator)
        values, texts = calculator.read(question.inputs)[0], calculator.complete(question.inputs)
        for item in calculator.all_inputs:
            if item.applies(values):
                asked.setdefault(item.name, set()).add(texts[item.name])
    for slug in calculators.SLUGS:
        for item in calculators.load(slug).inputs:
            if 2 <= len(item.choices) <= 7:
                offered.setdefault(item.name, set()).update(c.value for c in item.choices)
    assert {"edge", "joint", "adhesive", "tube", "ground", "canopy"} <= set(offered)
    missing = {name: values - asked[name] for name, values in offered.items()}
    assert not {name: values for name, values in missing.items() if values}


def test_every_material_regime_and_state_is_asked() -> None:
    """Fins of each material, in each air, with each state of the verdict, are among them."""
    read = calculators.load("fin-check").read
    fins = [read(q.inputs)[0] for q in QUESTIONS if q.calculator == "fin-check"]
    missing = {*materials.names(), "own"} - {values.get("material") for values in fins}
    assert not missing, (
        f"ask for a fin of {sorted(missing)} in {regression.QUESTIONS.name}, then run "
        f"{regression.RENEW}"
    )
    found: dict[str, set[str]] = {"subsonic": set(), "transonic": set(), "supersonic": set()}
    for name, answer in KEPT["answers"].items():
        facts = answer["facts"]
        if name.startswith("fin-check · ") and "mach" in facts:
            mach = facts["mach"][1]
            air = "subsonic" if mach <= 0.9 else "transonic" if mach < 1.2 else "supersonic"
            found[air].add(facts["verdict"])
    assert found["subsonic"] == {"holds", "marginal", "fails", "unknown"}
    assert found["transonic"] == {"holds", "marginal", "fails"}  # there the model has been tried
    assert found["supersonic"] >= {"holds", "fails", "unknown"}


def edition(**facts: Any) -> dict[str, Any]:
    """Return an edition with one question, answered with these facts."""
    return {"answers": {"ring · a": {"inputs": {}, "facts": facts}}}


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (["1", 1.2, 1.0, 1.4, ""], ["1", 1.15, 1.0, 1.4, ""], "load 1.2 → 1.15 (−4.2 %)"),
        (["N", 1.0, None, None, ""], ["N", 0.5, None, None, ""], "load 1 → 0.5 N (−50 %)"),
        (["1", 1.0, 0.5, 2.0, ""], ["1", 1.0, 0.5, 2.5, ""], "load, 90 % point 2 → 2.5 (+25 %)"),
        (["1", 1.0, 0.5, 2.0, ""], ["1", 1.0, None, 2.0, ""], "load, 10 % point 0.5 → none"),
        (["1", 0.0, None, None, ""], ["1", 0.1, None, None, ""], "load 0 → 0.1"),
        (["1", 9.0, None, 9, ""], ["1", 9.0, None, 9, "at least"], "load is a value → at least"),
        (["N", 1.0, None, None, ""], ["Pa", 1.0, None, None, ""], "load: unit N → Pa"),
        ("holds", "fails", "load holds → fails"),
    ],
)  # fmt: skip
def test_changes_are_written_out(old: Any, new: Any, words: str) -> None:
    """A change says what was, what is, and by how much where that has a meaning."""
    assert regression.compared(edition(load=old), edition(load=new)) == [f"ring · a: {words}"]


def test_tables_are_compared() -> None:
    """A changed cell is named by its column and row; more of them are counted."""
    old = {"table 1, mass": [1.0, 2.0, 3.0, None]}
    new = {"table 1, mass": [1.0, 2.2, 3.3, None]}
    assert regression.compared(edition(**old), edition(**new)) == [
        "ring · a: table 1, mass, row 2 2 → 2.2 (+10 %); and 1 more rows"
    ]
    short = {"table 1, mass": [1.0]}
    assert regression.compared(edition(**old), edition(**short)) == [
        "ring · a: table 1, mass: 4 → 1 rows"
    ]


def test_changed_verdicts_come_first() -> None:
    """A verdict that turns is read before any number that moves."""
    one, two = ["1", 1.0, None, None, ""], ["1", 2.0, None, None, ""]
    old: dict[str, Any] = {"answers": {}}
    new: dict[str, Any] = {"answers": {}}
    for name, state in (("a", "holds"), ("b", "fails")):
        was, now = {"verdict": "holds", "m": one}, {"verdict": state, "m": two}
        old["answers"][name] = {"inputs": {}, "facts": was}
        new["answers"][name] = {"inputs": {}, "facts": now}
    lines = regression.compared(old, new)
    assert lines[0].startswith("b: verdict holds → fails")
    assert lines[1].startswith("a: m 1 → 2")


def test_tolerance_is_the_callers() -> None:
    """A change below the tolerance is none; a refactoring may look closer."""
    old, new = edition(m=["1", 1.0, None, None, ""]), edition(m=["1", 1.0 + 1e-8, None, None, ""])
    assert regression.compared(old, new) == []
    assert len(regression.compared(old, new, tolerance=regression.EXACT)) == 1


def test_questions_that_come_go_or_differ_are_told() -> None:
    """A question with other inputs is not compared, and a missing one is reported."""
    old, new = edition(m="x"), edition(m="y")
    new["answers"]["ring · a"]["inputs"] = {"root": "3 in"}
    assert "other inputs" in regression.compared(old, new)[0]
    assert "no longer asked" in regression.compared(old, {"answers": {}})[0]
    assert "1 new questions" in regression.compared({"answers": {}}, new)[0]


def test_facts_that_come_or_go_are_told() -> None:
    """An answer that is no longer given, or is new, is a change."""
    assert regression.compared(edition(a="x"), edition(b="x")) == [
        "ring · a: a no longer given; b is new"
    ]


def test_a_wrong_file_is_refused(tmp_path: Path) -> None:
    """A file without kept answers is refused with the command that makes one."""
    (tmp_path / "a.json").write_text("[]")
    with pytest.raises(Failure, match=r"scripts\.regression --write"):
        regression.read(tmp_path / "a.json")


def test_the_command_keeps_and_compares(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """It compares with 0 for no change, 1 for one; it keeps on request, in a readable file."""
    few = tmp_path / "questions.toml"
    few.write_text('[ply-layup]\n"one" = {}\n', encoding="utf-8")
    kept = regression.ROOT / "build" / "answers.json"
    kept.parent.mkdir(exist_ok=True)
    kept.unlink(missing_ok=True)
    monkeypatch.setattr(regression, "ANSWERS", kept)
    asked = regression.questions(few)
    monkeypatch.setattr(regression, "questions", lambda: asked)
    assert regression.main(["--write"]) == 0
    found = json.loads(kept.read_text(encoding="utf-8"))
    assert regression.main(["--exact"]) == 0
    assert "No answer of 1 changed" in capsys.readouterr().out
    found["answers"]["ply-layup · one"]["facts"]["plies"][1] = 2.0
    other = tmp_path / "other.json"
    other.write_text(regression.written(found), encoding="utf-8")
    assert regression.main(["--against", str(other)]) == 1
    assert "- ply-layup · one: plies 2 → 3 (+50 %)" in capsys.readouterr().out
    assert regression.main(["--against", str(tmp_path / "none.json")]) == 1
    kept.unlink()


def test_questions_are_typed_texts() -> None:
    """Inputs are what a reader would type, under names that the calculator has."""
    declared = tomllib.loads(regression.QUESTIONS.read_text(encoding="utf-8"))
    for slug, asked in declared.items():
        for inputs in asked.values():
            assert all(isinstance(text, str) for text in inputs.values())
            calculators.load(slug).complete(inputs)
