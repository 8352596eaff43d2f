"""Two to four rockets side by side: outlines, margins, and what differs."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Unpack, cast
from urllib.parse import parse_qsl

from calc import calculators
from calc import rocket as kept
from calc.calculators import rocket as whole
from calc.calculators import shared as c
from calc.errors import InputError, ValidityError
from calc.forms import Calculator, Input
from calc.margin import Margin
from calc.report import CAUTION, WORDS, Answer, Column, Figure, Report, Strong, Table, Verdict
from calc.wording import column_like, listed, with_unit

LETTERS = "ABCD"
WHOLE = "../whole/"
"""The page of the whole rocket, seen from the comparison's."""
LONGEST = 4000
"""Longest link that is read [characters]."""
WANTS = "a link to a rocket, from “Copy link” on its page or on the shelf"


@dataclass(frozen=True)
class LinkInput(Input):
    """A rocket as a link, or as the part of one behind its question mark."""

    def accepts(self) -> str:
        """Return what this input takes, as the end of a sentence."""
        return WANTS

    def read(self, text: str) -> Any:
        """Return the part of the link that holds the rocket; None for one left empty."""
        text = text.strip()
        if not text and self.optional:
            return None
        query = (text.partition("?")[2] if "?" in text else text).partition("#")[0]
        if len(text) > LONGEST or (query and not _given(query)):
            raise InputError(self.name, text[:40], WANTS)
        return query


def _given(query: str) -> dict[str, str]:
    pairs = dict(parse_qsl(query, keep_blank_values=True))
    return {name: text for name, text in pairs.items() if name in whole.KNOWN}


def rocket_of(query: str) -> kept.Rocket:
    """Return the rocket that a link's query holds."""
    return kept.with_inputs(kept.Rocket(), whole.CALCULATOR, _given(query))


INPUTS = tuple(
    LinkInput(
        letter.lower(),
        f"Rocket {letter}",
        "text",
        default,
        group="More: the rockets as links",
        help=help,
        optional=nth > 1 or not default,
    )
    for nth, (letter, default, help) in enumerate(
        (
            ("A", "", "A link. Leave empty for the handbook's example."),
            ("B", "rocket=Thin plywood&material=birch-plywood&thickness=1/16 in", ""),
            ("C", "", ""),
            ("D", "", ""),
        )
    )
)


class CompareValues(c.UnitsValues):
    """Values of this calculator."""

    a: str | None
    b: str
    c: str | None
    d: str | None


@dataclass(frozen=True)
class Design:
    """One rocket of the comparison with what its parts answered."""

    letter: str
    rocket: kept.Rocket
    outcomes: Mapping[str, calculators.Outcome]
    verdict: Verdict
    modes: tuple[Margin, ...]
    spent: tuple[Answer, ...]

    @property
    def name(self) -> str:
        """Return the letter with the rocket's name."""
        unnamed = "no name" if self.rocket.inputs else "the example"
        return f"{self.letter}: {self.rocket.name or unnamed}"

    def answer(self, slug: str, name: str) -> Answer | None:
        """Return one answer of a part or of the money, or None where there is none."""
        if slug == "rocket":
            return next((a for a in self.spent if a.name == name), None)
        return whole.found_in(self.outcomes, slug, name)


def _design(letter: str, rocket: kept.Rocket) -> Design:
    form = whole.CALCULATOR
    found, errors = form.read(kept.inputs_of(rocket, form))
    values = cast(whole.RocketValues, found)
    problem: InputError | ValidityError | None = next(iter(errors.values()), None)
    outcomes: Mapping[str, calculators.Outcome] = {}
    if problem is None:
        outcomes = whole.asked(values)
        problem = next(iter(outcomes["fin-check"].errors.values()), None)
    if problem is not None:
        # the rocket's own field is on its own page
        raise InputError(letter.lower(), rocket.name, f"a rocket that can be judged ({problem})")
    verdict, modes = whole.judged(outcomes)
    return Design(letter, rocket, outcomes, verdict, modes, whole.costs(outcomes, values))


LINES: tuple[tuple[str, str, str, int], ...] = (
    ("fin-check", "set_mass", "Bare fins", 3),
    ("finish", "finished_mass", "Fins with finish", 3),
    ("speed", "top_speed", "Top speed", 3),
    ("speed", "peak", "Highest point", 3),
    ("weight-effect", "static_margin", "Static margin, in calibers", 3),
    ("landing", "descent_speed", "Comes down at", 2),
    ("cutting-plan", "sheets", "Sheets to buy", 0),
    ("cutting-plan", "cost", "Price of the sheets", 3),
    ("rocket", "set_sheet", "Sheet in a set of fins", 3),
    ("rocket", "work", "Bench time for a set, hours", 2),
    ("rocket", "kit_cost", "Fins of a kit", 3),
)
"""Answers compared: calculator, name, what it is called here, significant digits, 0 for counts."""


def _row(label: str, texts: Sequence[str]) -> tuple[Any, ...]:
    """Return a row of a table, bold where the rockets differ."""
    differ = len(set(texts)) > 1
    return (label, *(Strong(text) if differ else text for text in texts))


def _table(
    title: str, designs: Sequence[Design], rows: Sequence[tuple[Any, ...]], note: str = ""
) -> Table:
    columns = tuple(Column(each.letter.lower(), each.name) for each in designs)
    return Table(title, (Column("what", "What"), *columns), tuple(rows), note=note)


def _results(designs: Sequence[Design], fmt: c.Formatter) -> Table:
    rows = [
        _row("Verdict", [WORDS[each.verdict.state] for each in designs]),
        _row("Smallest margin", [_stated(each.verdict) for each in designs]),
        _row("Limited by", [_label(each) for each in designs]),
    ]
    for slug, name, label, digits in LINES:
        found = [each.answer(slug, name) for each in designs]
        if name == "cost":
            # its own label says whether it is invented, and in which currency it is
            called = {each.label for each in found if each}
            label = called.pop() if len(called) == 1 else f"{label} (each by its own prices)"
            label = label.replace("(invented demo)", "(invented demo, no currency)")
        if any(found):
            rows.append(
                _row(
                    label,
                    _alike(found, fmt.system, digits),
                )
            )
    return _table("Results side by side", designs, rows, f"Bold: what differs. {_covered(designs)}")


def _alike(found: Sequence[Answer | None], system: str, digits: int) -> list[str]:
    """Return numbers in one unit, so that they can be compared at sight."""
    like = column_like([each.value for each in found if each], "number")
    return [
        "–"
        if a is None
        else with_unit(a.value, a.kind, system, digits=digits, like=like)
        if digits
        else f"{a.value:.0f}"
        for a in found
    ]


def _stated(item: Verdict | Margin) -> str:
    return f"{item.bound} {item.margin:.2f}".strip()


def _covered(designs: Sequence[Design]) -> str:
    """Return what was judged and what was not: once where it is the same for all."""
    letters: dict[str, list[str]] = {}
    for each in designs:
        letters.setdefault(each.verdict.covers, []).append(each.letter)
    if len(letters) == 1:
        return designs[0].verdict.covers
    return " ".join(f"{listed(which)}: {text}" for text, which in letters.items())


def _head(design: Design, designs: Sequence[Design]) -> str:
    """Return a verdict in a few words: what limits it, and what was judged or as in which other."""
    covers = design.verdict.covers
    first = next(each for each in designs if each.verdict.covers == covers)
    judged = (
        covers.partition(" Not judged")[0] if first is design else f"Judged like {first.letter}."
    )
    return f"{WORDS[design.verdict.state].lower()}, limited by {_label(design)}. {judged}"


def _label(design: Design) -> str:
    return next(m.label for m in design.modes if m.name == design.verdict.governs).lower()


def _differences(designs: Sequence[Design]) -> Table | None:
    """Return what the rockets are made of, where they differ."""
    form = whole.CALCULATOR
    full = [form.complete(kept.inputs_of(each.rocket, form)) for each in designs]
    values = [form.read(texts)[0] for texts in full]
    rows = []
    for item in form.inputs:
        if item.name == "rocket":
            continue
        shown = [
            _called(item, texts[item.name]) if value.get(item.name) is not None else "–"
            for texts, value in zip(full, values, strict=True)
        ]
        if any(not item.same(text, shown[0]) for text in shown[1:]):
            rows.append((item.label, *(Strong(text) for text in shown)))
    return _table("What differs between them", designs, rows) if rows else None


def _called(item: Input, text: str) -> str:
    """Return an input's text as a reader sees it in the form: a choice by its label."""
    return next((one.label for one in item.offered if one.value == text), text) or "–"


def _openings(designs: Sequence[Design]) -> Table:
    links, rows = [], []
    for each in designs:
        query = whole.CALCULATOR.query(kept.inputs_of(each.rocket, whole.CALCULATOR))
        links.append(f"{WHOLE}?{query}" if query else WHOLE)
        rows.append((f"Take {each.name}", _one_line(each)))
    return Table(
        "Take this one",
        (Column("name", "Open the rocket"), Column("verdict", "Verdict")),
        tuple(rows),
        note="The page that opens asks whether to keep it as yours.",
        links=tuple(links),
    )


def _one_line(design: Design) -> str:
    return f"{WORDS[design.verdict.state].lower()}, smallest margin {_stated(design.verdict)}"


def _bars(designs: Sequence[Design]) -> Figure:
    names: dict[str, str] = {}
    for each in designs:
        names.update({mode.name: mode.label for mode in each.modes})
    rows = []
    for name, label in names.items():
        found = [next((m for m in each.modes if m.name == name), None) for each in designs]
        rows.append(
            {
                "label": label,
                "bars": [
                    {
                        "letter": each.letter,
                        "margin": None if mode is None else mode.margin,
                        "bound": "" if mode is None else mode.bound,
                    }
                    for each, mode in zip(designs, found, strict=True)
                ],
            }
        )
    return Figure(
        "side",
        "Margins, side by side",
        "What each part can take, divided by what is required of it. At 1 it is just enough. "
        "Ranges are left out here; each rocket’s own page draws them.",
        {"rows": rows},
    )


def answer(
    *, progress: Callable[[int, int, str], None] | None = None, **values: Unpack[CompareValues]
) -> Report:
    """Answer for the rockets by letter."""
    fmt = c.formatter(values)
    given = zip(LETTERS, (values["a"], values["b"], values["c"], values["d"]), strict=True)
    present = [
        (letter, rocket_of(query or "")) for letter, query in given if query or letter == "A"
    ]
    designs = []
    for done, (letter, rocket) in enumerate(present):
        if progress is not None:
            progress(done, len(present), f"rocket {letter}")
        designs.append(_design(letter, rocket))
    pictures: list[dict[str, Any]] = []
    for each in designs:
        picture = whole.drawing(_values(each.rocket))
        if picture is not None:
            pictures.append({"letter": each.letter, "fin": dict(picture.data)})
    differences = _differences(designs)
    alike = len({_outline(each["fin"]) for each in pictures}) < 2
    return Report(
        calculator="compare",
        summary="; ".join(f"{each.name}: {_one_line(each)}" for each in designs) + ".",
        answers=tuple(
            Answer(f"margin_{each.letter.lower()}", each.name, each.verdict.margin, "number",
                   each.verdict.low, each.verdict.high, bound=each.verdict.bound,
                   note=_head(each, designs))
            for each in designs
        ),
        headline=tuple(f"margin_{each.letter.lower()}" for each in designs),
        figures=(
            *(() if alike else (_outlines(pictures),)),
            _bars(designs),
        ),
        tables=(
            _results(designs, fmt),
            *((differences,) if differences else ()),
            _openings(designs),
        ),
        cautions=(CAUTION,),
        notes=("Their fins have one outline, which is not drawn.",) if alike else (),
    )  # fmt: skip


def _outline(fin: Mapping[str, Any]) -> tuple[Any, ...]:
    """Return what of a picture makes its outline, to the hundredth of a millimetre."""
    corners = [x for corner in fin.get("perimeter", ()) for x in corner]
    sizes = (*(fin[name] for name in ("root", "tip", "span", "sweep")), *corners)
    return tuple(round(size, 5) for size in sizes)


def _outlines(pictures: Sequence[Mapping[str, Any]]) -> Figure:
    """Return the fins over each other; those of one outline share a line."""
    shared: dict[tuple[Any, ...], dict[str, Any]] = {}
    for each in pictures:
        first = shared.setdefault(_outline(each["fin"]), {"letter": "", "fin": each["fin"]})
        first["letter"] += f", {each['letter']}" if first["letter"] else each["letter"]
    return Figure(
        "outlines",
        "Their fins, to one scale",
        "Roots on the tube, fronts level.",
        {"fins": list(shared.values())},
    )


def _values(rocket: kept.Rocket) -> whole.RocketValues:
    found, _ = whole.CALCULATOR.read(kept.inputs_of(rocket, whole.CALCULATOR))
    return cast(whole.RocketValues, found)


CALCULATOR = Calculator(
    slug="compare",
    title="Compare",
    question="Two to four rockets side by side: what differs, and what comes of it?",
    inputs=INPUTS,
    answer=answer,
    slow=True,
)
