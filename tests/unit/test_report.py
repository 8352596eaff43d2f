"""The last guard: no number that is none reaches a reader, wherever in a report it stands."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from calc import calculators
from calc.errors import ValidityError
from calc.forms import Calculator
from calc.frontends import browser
from calc.frontends.terminal import cli
from calc.margin import Margin, Quantity
from calc.report import (
    Answer,
    Change,
    Column,
    Figure,
    LowerLimit,
    Report,
    Step,
    Table,
    Verdict,
    guarded,
)

SOUND = Report(
    calculator="speed",
    summary="Fast enough. Information: infinite patience, a nanometre, Nan's inflated figures.",
    answers=(Answer("drag", "Drag", 1.0, "force", 0.5, 2.0, note="small"),),
    verdict=Verdict("holds", "bending", 2.0, "It holds.", 1.5, 2.5, 0.01),
    modes=(Margin("bending", 1.0, Quantity(2.0, 1.5, 2.5), "moment", note="at the root"),),
    changes=(Change("Thicker", "holds longer", 2.0, 0.01),),
    figures=(Figure("chart", "Speed", "over time", {"y": [1.0, math.nan, None]}),),
    tables=(
        Table(
            "Sizes",
            (Column("a", "Size", "length"), Column("b", "Word")),
            ((1.0, "thin"), (None, "thick"), (LowerLimit(3.0), "")),
            note="as sold",
        ),
    ),
    steps=(Step("Load", "F = m a", "2 N", note="at the tip"),),
    cautions=("An estimate.",),
    notes=("No wind.",),
)
NUMBERS: tuple[tuple[str, Callable[[Any], Report]], ...] = (
    ("Drag", lambda x: replace(SOUND, answers=(replace(SOUND.answers[0], value=x),))),
    ("Drag", lambda x: replace(SOUND, answers=(replace(SOUND.answers[0], low=x),))),
    ("Drag", lambda x: replace(SOUND, answers=(replace(SOUND.answers[0], high=x),))),
    *(
        ("margin", lambda x, part=part: replace(SOUND, verdict=replace(SOUND.verdict, **{part: x})))
        for part in ("margin", "low", "high", "shortfall")
    ),
    *(
        ("Bending", lambda x, part=part: replace(SOUND, modes=(mode_with(part, x),)))
        for part in ("demand", "required")
    ),
    *(
        ("Bending", lambda x, end=end: replace(SOUND, modes=(mode_holding(**{end: x}),)))
        for end in ("value", "low", "high")
    ),
    ("Thicker", lambda x: replace(SOUND, changes=(replace(SOUND.changes[0], margin=x),))),
    ("Thicker", lambda x: replace(SOUND, changes=(replace(SOUND.changes[0], mass=x),))),
    ("Sizes: Size", lambda x: replace(SOUND, tables=(replace(TABLE, rows=((x, "thin"),)),))),
)
TABLE = SOUND.tables[0]
STEP = SOUND.steps[0]
TEXTS: tuple[tuple[str, Callable[[str], Report]], ...] = (
    ("summary", lambda t: replace(SOUND, summary=t)),
    ("margin", lambda t: replace(SOUND, verdict=Verdict("holds", "bending", 2.0, t))),
    ("Drag", lambda t: replace(SOUND, answers=(replace(SOUND.answers[0], note=t),))),
    ("Bending", lambda t: replace(SOUND, modes=(mode_with("note", t),))),
    ("what would change it", lambda t: replace(SOUND, changes=(Change("Thicker", t),))),
    ("Load", lambda t: replace(SOUND, steps=(replace(STEP, result=t),))),
    ("Load", lambda t: replace(SOUND, steps=(replace(STEP, note=t),))),
    ("Speed", lambda t: replace(SOUND, figures=(Figure("chart", "Speed", t, {}),))),
    ("Sizes", lambda t: replace(SOUND, tables=(replace(TABLE, note=t),))),
    ("Sizes", lambda t: replace(SOUND, tables=(replace(TABLE, rows=((1.0, t),)),))),
    ("notes", lambda t: replace(SOUND, notes=(t,))),
    ("notes", lambda t: replace(SOUND, cautions=(t,))),
)


def mode_with(part: str, value: Any) -> Margin:
    """Return the sound report's mode with one part changed."""
    return replace(SOUND.modes[0], **{part: value})


def mode_holding(**ends: Any) -> Margin:
    """Return the sound report's mode with another capacity."""
    return mode_with("capacity", replace(SOUND.modes[0].capacity, **ends))


def test_a_sound_report_passes_unchanged() -> None:
    """Finite numbers, numbers meant to be missing, a chart's gaps and ordinary words pass."""
    assert guarded(SOUND) is SOUND


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, LowerLimit(math.inf)])
@pytest.mark.parametrize(("label", "broken"), NUMBERS)
def test_every_number_is_looked_at(
    label: str, broken: Callable[[Any], Report], value: float
) -> None:
    """A number that is infinite or none is refused by the label of what it belongs to."""
    guarded(broken(1.0))
    with pytest.raises(ValidityError, match=f'no finite number for "{label}" with these inputs'):
        guarded(broken(value))


def test_a_margin_over_no_demand_is_refused() -> None:
    """A margin has no end where nothing is demanded, though demand and capacity are finite."""
    with pytest.raises(ValidityError, match='no finite number for "Bending"'):
        guarded(replace(SOUND, modes=(mode_with("demand", 0.0),)))


@pytest.mark.parametrize("number", ["nan", "-inf", "inf%", "∞ ft/s", "not a number mm"])
@pytest.mark.parametrize(("label", "broken"), TEXTS)
def test_every_sentence_is_looked_at(
    label: str, broken: Callable[[str], Report], number: str
) -> None:
    """A number that is none is found in a sentence too, as each formatter writes it."""
    guarded(broken("margin 1.20"))
    with pytest.raises(ValidityError, match=f'no finite number for "{label}" with these inputs'):
        guarded(broken(f"margin {number} to 3"))


def test_a_reader_s_own_words_are_no_numbers() -> None:
    """A rocket may be called inf, but a number beside its name is still looked at."""
    named = replace(SOUND, summary="nan 2 inf: margin 1.20.")
    assert guarded(named, typed=["nan 2 inf"]) is named
    with pytest.raises(ValidityError):
        guarded(named, typed=["nan 2"])


@pytest.fixture
def broken(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the speed calculator answer with a number that is none."""
    sound = calculators.load("speed")

    def answer(**values: Any) -> Report:
        report = sound.answer(**values)
        first = replace(report.answers[0], label="Rod speed", value=math.nan)
        return replace(report, answers=(first, *report.answers[1:]))

    faulty: Calculator = replace(sound, answer=answer)
    monkeypatch.setattr(calculators, "load", lambda slug: faulty)


@pytest.mark.usefixtures("broken")
def test_page_and_terminal_say_so(capsys: pytest.CaptureFixture[str]) -> None:
    """Instead of the answer, page and terminal show one sentence that names the number."""
    said = json.loads(browser.answer("speed", "{}"))
    assert said["fragments"] == {}
    assert said["json"] is None
    assert list(said["errors"]) == [""]
    assert 'no finite number for "Rod speed"' in said["errors"][""]
    assert cli.main(["speed"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.strip() == said["errors"][""]


def test_landing_where_no_energy_goes_into_the_fins() -> None:
    """A tail that takes the whole impact leaves no margin, and the working says so in words."""
    texts = {"descent": "speed", "sink": "5 m/s", "tail": "1 in"}
    report = calculators.run("landing", texts)
    results = {step.title: step.result for step in report.steps}
    assert report.verdict is not None
    assert report.verdict.state == "unknown"
    assert results["The margin"] == "no energy goes into the fins"
    assert results["Broken edgewise"].endswith("; the impact puts no energy into it")
