"""Random questions: every calculator answers with finite numbers or refuses in a sentence."""

from __future__ import annotations

import json
import math
import os
import random
import secrets
import shlex
import traceback
import warnings
from collections.abc import Iterable, Mapping, Sequence
from typing import Any
from urllib.parse import urlencode

import pytest

from calc import calculators
from calc.forms import NUMERIC, Calculator, Input
from calc.frontends import browser
from calc.report import NOT_FINITE
from calc.units import to_unit

THOROUGH = os.environ.get("FINSTOCK_HYPOTHESIS") == "exploring"
SEED = secrets.randbits(32) if THOROUGH else 1
QUESTIONS: Mapping[str, tuple[int, int]] = {
    "fin-check": (8, 500),
    "material-finder": (1, 100),
    "grain-angle": (8, 500),
    "ply-layup": (80, 10_000),
    "faced-core": (100, 20_000),
    "sheet-test": (80, 10_000),
    "moisture": (200, 20_000),
    "speed": (80, 10_000),
    "weight-effect": (80, 10_000),
    "root-joint": (50, 5_000),
    "break-a-joint": (2_000, 20_000),
    "landing": (100, 20_000),
    "cutting-plan": (15, 500),
    "finish": (50, 8_000),
    "ring": (150, 20_000),
    "field-card": (2, 300),
    "substitute": (2, 200),
    "repair": (5, 400),
    "rocket": (6, 500),
    "compare": (2, 200),
}
"""How many questions in range, by default and with --thorough: fewer where an answer takes long."""
REFUSED = 20_000 if THOROUGH else 2_000
"""How many questions with something wrong in them; none is worked out, so they cost little."""

HOSTILE: Sequence[str] = (
    "", " ", "0", "-0", "-1", "1e308", "1e-308", "-1e300", "1e999", "nan", "inf", "-inf", "1/0",
    "0/1", "9" * 400, "3 parsecs", "½ in", "１２", "3 in 4 in", "=1+1", "\x1b[31m1", "\x00",
    "\ud83d", "<b>1</b>", "' onload='x", "1,2,3", "0x10", "1_000", "٣", "a" * 5_000,
)  # fmt: skip
"""Texts that a careless hand, another program or somebody's link may put into any field."""


def _number(rng: random.Random, low: float, high: float) -> float:
    """Return a number between two limits: an end, evenly in between, or evenly in powers."""
    way = rng.random()
    if way < 0.1:
        return rng.choice((low, high))
    if way < 0.6 or high <= 0.0:
        return rng.uniform(low, high)
    least = low if low > 0.0 else high * 1e-6
    return max(low, math.exp(rng.uniform(math.log(least), math.log(high))))


def _quantity(rng: random.Random, item: Input) -> str:
    """Return a text for a physical quantity within the limits of its field."""
    low = 1e-6 if item.low is None else item.low
    high = 1e6 if item.high is None else item.high
    unit = rng.choice(item.units)
    value = to_unit(_number(rng, low, high), item.kind, unit)
    number = f"{value:.{rng.choice((2, 4, 17))}g}"
    return number if unit == "1" else f"{number} {unit}"


def _points(rng: random.Random) -> str:
    """Return corners of a fin, most of them in good order."""
    count = rng.randint(2, 9)
    span = rng.choice((0.5, 2.0, 6.0))
    corners = [(rng.uniform(0, 3), rng.uniform(0, span)) for _ in range(count)]
    if rng.random() < 0.7:
        corners.sort()
        corners = [(0.0, 0.0), *corners, (3.0, 0.0)]
    return " ".join(f"{x:.3g},{y:.3g}" for x, y in corners) + rng.choice((" in", " mm", ""))


def _radius(rng: random.Random) -> str:
    """Return one radius for the corners at the tip or several."""
    return " ".join(f"{rng.uniform(0, 2):.2g}" for _ in range(rng.randint(1, 4))) + " in"


def _curve(rng: random.Random) -> str:
    """Return a thrust curve of pairs of time and thrust, sometimes out of order."""
    times = [rng.uniform(0, 3) for _ in range(rng.randint(1, 8))]
    if rng.random() < 0.8:
        times.sort()
    return ", ".join(f"{time:.3g} {rng.uniform(0, 60):.3g}" for time in times)


def _readings(rng: random.Random, unit: str) -> str:
    """Return several readings of one thing."""
    middle = 10 ** rng.uniform(-1, 3)
    scatter = rng.choice((0.0, 0.05, 0.5))
    return (
        " ".join(
            f"{middle * (1 + rng.uniform(-scatter, scatter)):.4g}" for _ in range(rng.randint(1, 9))
        )
        + f" {unit}"
    )


def _text(rng: random.Random, item: Input) -> str:
    """Return a text of the field's own grammar."""
    match item.name:
        case "points":
            return _points(rng)
        case "radius":
            return _radius(rng)
        case "curve":
            return _curve(rng)
        case "readings":
            return _readings(rng, rng.choice(("g", "kg", "N", "oz", "")))
        case "tested":
            return " ".join(f"{10 ** rng.uniform(-1, 3):.3g}" for _ in range(2)) + " N"
        case "tab_notches":
            places = sorted(rng.uniform(0, 5) for _ in range(rng.randint(1, 5)))
            return " ".join(f"{place:.3g}" for place in places) + " in"
        case "thickness":
            return _readings(rng, "mm")
        case "layup":
            return "/".join(str(rng.choice((0, 90, 45, -45, 30))) for _ in range(rng.randint(1, 7)))
        case "a" | "b" | "c" | "d":
            rocket = calculators.load("rocket")
            return urlencode(_some(rng, rocket, wild=0.0), errors="replace")
        case "knots":
            return f"{rng.uniform(0, 40):.3g}in,{rng.uniform(0, 5):.3g}in,{rng.uniform(0, 1):.2g}in"
        case "more_parts":
            sizes = {"fin": 4, "ring": 2, "bulkhead": 1, "tab": 2}
            kind = rng.choice(tuple(sizes))
            lengths = " x ".join(f"{rng.uniform(0.1, 5):.3g}" for _ in range(sizes[kind]))
            return f"{rng.randint(1, 30)} {kind}s {lengths} in"
        case "spread":
            return " ".join(f"{rng.uniform(0, 60):.2g}%" for _ in range(5))
        case "price_list":
            return f"balsa 1/{rng.choice((8, 16))} in 3x36 in {10 ** rng.uniform(-3, 6):.3g}"
    return rng.choice(("nan", "inf", "Infinity", "balsa", "balsa, birch-plywood", "1 2 3", "€"))


def _one(rng: random.Random, item: Input) -> str:
    """Return a text that a field should take."""
    if item.optional and rng.random() < 0.2:
        return ""
    if item.kind in NUMERIC:
        return _quantity(rng, item)
    if item.kind == "integer":
        assert item.low is not None
        assert item.high is not None
        return str(rng.randint(int(item.low), int(item.high)))
    if item.allowed:
        return rng.choice(item.allowed)
    return _text(rng, item)


def _some(rng: random.Random, calculator: Calculator, *, wild: float) -> dict[str, str]:
    """Return texts for some of a calculator's fields; `wild` is the share of hostile ones."""
    few = rng.choice((1, 2, 4, 12))
    # Choices first and often, because they decide which other fields count.
    choices = [item for item in calculator.inputs if item.kind in ("choice", "material")]
    items = [item for item in choices if rng.random() < 0.35]
    items += rng.sample(calculator.inputs, min(few, len(calculator.inputs)))
    return {
        item.name: rng.choice(HOSTILE) if rng.random() < wild else _one(rng, item) for item in items
    }


def _said(content: Mapping[str, Any]) -> str:
    """Return what is wrong with the numbers of an answer in its published form, or nothing."""
    for name, each in content["answers"].items():
        low, high = each["low"], each["high"]
        if low is not None and high is not None and low > high:
            return f"{name}: its low end {low} is above its high end {high}"
    verdict = content["verdict"]
    if verdict and verdict["state"] == "holds" and verdict["margin"] < 1.0:
        return f"it holds with a margin of {verdict['margin']}"
    return ""


def _wrong(slug: str, texts: Mapping[str, str]) -> str:
    """Return what is wrong with the answer to a question, or nothing."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            answer = json.loads(browser.answer(slug, json.dumps(texts)))
        except Exception as problem:
            where = traceback.extract_tb(problem.__traceback__)[-1]
            return f"{type(problem).__name__} at {where.name}, line {where.lineno}: {problem}"
    told = answer["errors"]
    if told:
        if not all(told.values()):
            return "a refusal without a sentence"
        # The last guard before a reader has held it back: its cause is not mended.
        return next((text for text in told.values() if "no finite number" in text), "")
    shown = "".join(answer["fragments"].values())
    if NOT_FINITE.search(shown) and not NOT_FINITE.search("".join(texts.values())):
        return "a number in the drawing or the text is not finite"
    return _said(answer["json"])


def _failures(questions: Iterable[tuple[str, dict[str, str]]]) -> str:
    """Return the first questions that went wrong, each with the command that repeats it."""
    found = []
    for slug, texts in questions:
        wrong = _wrong(slug, texts)
        if wrong:
            words = " ".join(shlex.quote(f"{name}={text}") for name, text in texts.items())
            found.append(f"{wrong}\n    python -m calc {slug} {words}")
        if len(found) == 5:
            break
    return "\n".join(found)


@pytest.fixture(params=calculators.SLUGS)
def calculator(request: pytest.FixtureRequest) -> Calculator:
    """Return each calculator in turn."""
    return calculators.load(request.param)


def test_questions_in_range_get_numbers_or_a_sentence(calculator: Calculator) -> None:
    """Whatever a form takes, no answer is undefined and no warning of numpy's escapes."""
    rng = random.Random(f"{SEED} {calculator.slug}")
    count = QUESTIONS[calculator.slug][THOROUGH]

    def questions() -> Iterable[tuple[str, dict[str, str]]]:
        for _ in range(count):
            texts = _some(rng, calculator, wild=0.2 if rng.random() < 0.2 else 0.0)
            if calculator.slug == "cutting-plan":
                texts["tries"] = "2"
            yield calculator.slug, texts

    assert not (found := _failures(questions())), f"seed {SEED}\n{found}"


def test_hostile_questions_are_refused(calculator: Calculator) -> None:
    """Whatever stands in the fields of a form, it is refused beside them, in a sentence."""
    rng = random.Random(f"{SEED} hostile {calculator.slug}")

    def questions() -> Iterable[tuple[str, dict[str, str]]]:
        for _ in range(REFUSED):
            texts = _some(rng, calculator, wild=0.7)
            yield calculator.slug, {**texts, "units": rng.choice(("parsecs", "\ud83d", "=1+1"))}

    assert not (found := _failures(questions())), f"seed {SEED}\n{found}"
