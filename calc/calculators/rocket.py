"""The whole rocket on one page: what every calculator says of it, each in a line."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Unpack, cast

from calc import calculators
from calc import rocket as kept
from calc.calculators import money
from calc.calculators import shared as c
from calc.errors import InputError, ValidityError
from calc.forms import Calculator, Input
from calc.margin import Margin
from calc.report import (
    CAUTION,
    WORDS,
    Answer,
    Column,
    Figure,
    Report,
    Table,
    Verdict,
)

PARTS: Mapping[str, tuple[str, str]] = {
    "fin-check": ("", "../../check/fin-check/"),
    "speed": ("More about the flight", "../../fly/speed/"),
    "root-joint": ("More: the joint", "../../make/root-joint/"),
    "landing": ("More: landing", "../../make/landing/"),
    "weight-effect": ("More: balance", "../../fly/weight-effect/"),
    "finish": ("More: finish", "../../make/finish/"),
    "cutting-plan": ("More: sheets", "../../make/cutting-plan/"),
}
"""Calculators that this page runs, with the heading of their own inputs and the address of
their page, relative to this one."""
LEFT_OUT = frozenset(
    {
        "grain_points", "tries", "available", "mirror", "knots", "weighed", "units", "kits",
        "more_parts", "lug",
    }
)  # fmt: skip
"""Inputs of the parts that this page does not ask for: they change little here."""
BALANCED = ("balanced_mass", "balanced_point")
"""What only the page of balance and height asks for: here the rocket is balanced as it flies."""
OPEN = {
    "landing_mass": "Leave empty for the mass at lift-off.",
    "parts": "Leave empty for one set of fins.",
}
"""Inputs that may stay empty here, with what that does."""
TRIES = "10"
"""Tries at a cutting plan: this page only counts its sheets."""


@dataclass(frozen=True, kw_only=True)
class Passed(Input):
    """An input of another calculator, read by its own rules and passed on as the text it is."""

    of: Input

    def accepts(self) -> str:
        """Return what the input takes, as the end of a sentence."""
        return self.of.accepts()

    def read(self, text: str) -> Any:
        """Return the text, or None for an optional input left empty."""
        if not text.strip() and self.optional:
            return None
        try:
            value = self.of.read(text)
        except InputError as problem:
            raise InputError(self.name, text, problem.accepts) from None
        chosen = self.kind in ("choice", "material") and isinstance(value, str)
        return value if chosen else text.strip()

    def measured(self, text: str) -> Any:
        """Return the SI value of a text."""
        return self.of.read(text)


def _passed(slug: str, item: Input, heading: str) -> Passed:
    """Return an input of a calculator under its name in a rocket."""
    name = kept.key(slug, item.name)
    fields = {each: getattr(item, each) for each in Input.__dataclass_fields__}
    fields["name"] = name
    fields["group"] = heading or item.group
    fields["shown_when"] = {kept.key(slug, n): v for n, v in item.shown_when.items()}
    if name == "flight":
        # with the motor known, landing and rod are judged too
        fields["default"] = "motor"
    if name in OPEN:
        fields |= {"default": "", "optional": True, "help": OPEN[name]}
    return Passed(**fields, of=item)


def _inputs() -> tuple[Input, ...]:
    times = {item.name: item for item in money.TIME}
    name = Input("rocket", "Rocket's name", "text", "", group=c.FIN, optional=True)
    found: dict[str, Input] = {"rocket": name}
    for slug, (heading, _) in PARTS.items():
        for item in calculators.load(slug).inputs:
            called = kept.key(slug, item.name)
            if (
                called in found
                or called in BALANCED
                or item.name in LEFT_OUT
                or not called.isidentifier()
            ):
                continue
            one = _passed(slug, item, heading)
            if set(one.shown_when) <= set(found):
                found[called] = one
            elif not set(one.shown_when) - LEFT_OUT:
                found[called] = replace(one, shown_when={})
    return tuple({**found, **times}.values())


class RocketValues(money.TimeValues, c.UnitsValues):
    """Values that this calculator reads itself; it passes the others on as texts."""

    rocket: str | None
    count: str
    currency: str | None


def texts_of(values: RocketValues) -> dict[str, str]:
    """Return the texts of a rocket from this calculator's values."""
    own = {"rocket", *(item.name for item in money.TIME)}
    return {n: str(v) for n, v in values.items() if n not in own and v is not None}


def asked(values: RocketValues, slugs: Iterable[str] = PARTS) -> dict[str, calculators.Outcome]:
    """Return the answer of every part for a rocket; a part with too few inputs is skipped."""
    texts = texts_of(values)
    whole = kept.Rocket(str(values.get("rocket") or ""), texts)
    outcomes = {}
    for slug in slugs:
        calculator = calculators.load(slug)
        given = kept.inputs_of(whole, calculator)
        if slug == "weight-effect":
            if "balance_point" not in given:
                continue
            if "mass" not in given:
                given |= {"mass": texts["mass"], "weighed": "with"} if "mass" in texts else {}
        if slug == "cutting-plan":
            given["tries"] = TRIES
        outcomes[slug] = calculators.ask(slug, given)
    return outcomes


def judged(outcomes: Mapping[str, calculators.Outcome]) -> tuple[Verdict, tuple[Margin, ...]]:
    """Return the verdict of the whole rocket, that of its fin check, and the margins in order."""
    checked = outcomes["fin-check"].report
    assert checked is not None
    assert checked.verdict is not None
    return checked.verdict, tuple(sorted(checked.modes, key=lambda mode: mode.margin))


JUDGED = ("fin-check", "root-joint", "landing", "weight-effect")
"""Calculators that the verdict takes."""
LABELS = {"joint": "Root joint", "landing": "Landing", "stability": "Static margin, in calibers"}


# Calculator, answer, label, and digits to show: 0 for as many as that calculator shows.
LINES: tuple[tuple[str, str, str, int], ...] = (
    ("fin-check", "set_mass", "Bare fins", 3),
    ("finish", "added_mass", "Finish on them", 2),
    ("weight-effect", "static_margin", "Static margin, in calibers", 3),
    ("weight-effect", "shift", "Balance point moved aft by the fins", 2),
    ("speed", "top_speed", "Top speed", 3),
    ("speed", "peak", "Highest point", 3),
    ("speed", "rod_speed", "Speed off the rod", 3),
    ("root-joint", "margin", "Smallest margin of the joint", 3),
    ("landing", "descent_speed", "Comes down at", 2),
    ("cutting-plan", "sheets", "Sheets to buy", 0),
    ("cutting-plan", "used_yield", "Parts fill, of the length used", 2),
    ("cutting-plan", "cost", "", 3),
    ("cutting-plan", "cost_each", "", 3),
    ("rocket", "work", "", 2),
    ("rocket", "set_sheet", "", 3),
    ("rocket", "kit_cost", "", 3),
    ("rocket", "thousand_kits", "", 4),
)
"""Answers shown, in order: calculator, name, what it is called here if otherwise, digits."""


def costs(outcomes: Mapping[str, calculators.Outcome], values: RocketValues) -> tuple[Answer, ...]:
    """Return what a set of fins, a kit and a thousand kits cost, as far as the reader's prices go.

    Parameters
    ----------
    outcomes
        Of `asked`.
    values
        Of this calculator.
    """
    each = found_in(outcomes, "cutting-plan", "cost_each")
    parts = int(values["count"])
    return money.of_rocket(values, None if each is None else each.value, parts)


def found_in(outcomes: Mapping[str, calculators.Outcome], slug: str, name: str) -> Answer | None:
    """Return one answer of a part, or None where there is none."""
    outcome = outcomes.get(slug)
    if outcome is None or outcome.report is None:
        return None
    return next((a for a in outcome.report.answers if a.name == name), None)


def _lines(
    outcomes: Mapping[str, calculators.Outcome], spent: Sequence[Answer], fmt: c.Formatter
) -> Table:
    rows, links = [], []
    own = {answer.name: answer for answer in spent}
    for slug, name, label, digits in LINES:
        found = own.get(name) if slug == "rocket" else found_in(outcomes, slug, name)
        if found is None:
            continue
        bound = f"{found.bound} " if found.bound else ""
        title, link = "", ""
        if slug != "rocket":
            calculator = outcomes[slug].calculator
            query = calculator.query(outcomes[slug].texts)
            title, link = calculator.title, f"{PARTS[slug][1]}{'?' if query else ''}{query}"
        shown = f"{bound}{fmt(found.value, found.kind, digits or found.digits)}"
        rows.append((label or found.label, shown, title, found.note))
        links.append(link)
    return Table(
        "Line by line",
        (
            Column("what", "Open"),
            Column("value", "Value"),
            Column("page", "Calculator"),
            Column("note", "Remark"),
        ),
        tuple(rows),
        links=tuple(links),
    )


def answer(**values: Unpack[RocketValues]) -> Report:
    """Answer for the texts of a rocket by name."""
    outcomes = asked(values)
    checked = outcomes["fin-check"]
    if checked.report is None:
        raise _here(checked)
    fmt = c.formatter(values)
    verdict, modes = judged(outcomes)
    report = checked.report
    name = values.get("rocket") or "This rocket"
    silent = [
        f"{outcome.calculator.title}: {next(iter(outcome.errors.values()))}"
        for outcome in outcomes.values()
        if outcome.report is None
    ]
    if "weight-effect" not in outcomes:
        silent.append("Balance and height: give the balance point.")
    margin = f"{verdict.bound} {verdict.margin:.2f}".strip()
    answers = [report.answer("set_mass")]
    for slug, wanted in (("speed", "top_speed"), ("speed", "peak"), ("cutting-plan", "sheets")):
        found = outcomes[slug].report
        if found is not None:
            answers.append(found.answer(wanted))
    spent = costs(outcomes, values)
    answers += [each for each in spent if each.name == "kit_cost"]
    plan = outcomes["cutting-plan"]
    size = next(
        choice.label
        for item in plan.calculator.inputs
        if item.name == "sheet"
        for choice in item.choices
        if choice.value == plan.texts["sheet"]
    )
    return Report(
        calculator="rocket",
        summary=f"{name}: {WORDS[verdict.state].lower()}, smallest margin {margin}.",
        answers=tuple(answers),
        headline=tuple(each.name for each in answers),
        verdict=verdict,
        modes=modes,
        bars="What each part can take, divided by what is required of it. At 1 it is just enough. "
        "Thin lines: 10 to 90 % range.",
        figures=_figures(outcomes),
        tables=(_lines(outcomes, spent, fmt),),
        cautions=(CAUTION,),
        notes=(
            *(f"Not judged: {each}" for each in silent),
            f"Sheets: {size}. The cutting plan itself has the drawing and the files.",
            *(each for each in report.notes if each.startswith("Not modelled")),
        ),
        sources=report.sources,
    )


def _here(outcome: calculators.Outcome) -> InputError | ValidityError:
    """Return the error of a part under this calculator's name for the field."""
    problem = next(iter(outcome.errors.values()))
    if isinstance(problem, InputError):
        name = kept.key(outcome.calculator.slug, problem.name) or problem.name
        return InputError(name, problem.value, problem.accepts)
    return problem


def _figures(outcomes: Mapping[str, calculators.Outcome]) -> tuple[Figure, ...]:
    """Return the first picture of the cutting plan."""
    report = outcomes["cutting-plan"].report
    return report.figures[:1] if report is not None else ()


def glance(texts: Mapping[str, str]) -> tuple[Figure | None, Verdict | None, str]:
    """Return a rocket's picture, its verdict and why there is none, for the texts of a rocket."""
    found, errors = CALCULATOR.read({n: t for n, t in texts.items() if n in KNOWN})
    if errors:
        return None, None, str(next(iter(errors.values())))
    values = cast(RocketValues, found)
    outcomes = asked(values, JUDGED)
    if outcomes["fin-check"].report is None:
        return drawing(values), None, str(_here(outcomes["fin-check"]))
    return drawing(values), judged(outcomes)[0], ""


def drawing(values: RocketValues) -> Figure | None:
    """Return the picture of the fin, or None while it is impossible."""
    checker = calculators.load("fin-check")
    whole = kept.Rocket("", texts_of(values))
    read, errors = checker.read(kept.inputs_of(whole, checker))
    return None if errors or checker.drawing is None else checker.drawing(read)


CALCULATOR = Calculator(
    slug="rocket",
    title="The whole rocket",
    question="What holds, what does it weigh, how high does it fly, and what must I buy?",
    inputs=_inputs(),
    answer=answer,
    drawing=drawing,
)
KNOWN = frozenset(item.name for item in CALCULATOR.all_inputs)
"""Names of a rocket that this calculator reads."""
