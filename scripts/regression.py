"""Answers that changed since they were last kept, in words that a changelog can use.

``python -m scripts.regression`` asks every question of ``tests/regression/data/questions.toml``
and compares the answers with those kept beside it, ``answers.json``. It prints what changed and by
how much, and exits with 1 if anything did. ``--exact`` also shows changes far below rounding, for
work that must not change any number. ``--against FILE`` compares with the answers of another
edition. ``--write`` prints the same and then keeps today's answers: after a change that was
meant to alter numbers, that is the one command to run; read what it prints before committing.

The kept answers are our own output. They say that a number changed, not that it was right.
"""

from __future__ import annotations

import argparse
import json
import math
import platform
import sys
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from calc import __version__, calculators
from calc.errors import InputError, ValidityError
from calc.report import as_json
from calc.units import spoken
from scripts.runtime import ROOT
from scripts.say import Failure, step

DATA = ROOT / "tests" / "regression" / "data"
QUESTIONS = DATA / "questions.toml"
ANSWERS = DATA / "answers.json"
RENEW = "python -m scripts.regression --write"

TOLERANCE = 1e-6
"""Relative change that counts: larger than what another machine's arithmetic makes of a number."""
EXACT = 1e-9
"""The same for a refactoring on one machine."""
NOTHING = 1e-12
"""Absolute change, in SI units, that never counts: the rounding left where zero is expected."""
DIGITS = 12
"""Significant digits kept."""

Facts = dict[str, Any]
"""What one question was answered, by name: a text, or [unit, value, low, high, bound], or the
numbers of a table's column."""


@dataclass(frozen=True)
class Question:
    """One question to one calculator: the texts a reader would type over the defaults."""

    calculator: str
    title: str
    inputs: Mapping[str, str]

    @property
    def name(self) -> str:
        """Name under which the answer is kept."""
        return f"{self.calculator} · {self.title}"


def questions(path: Path = QUESTIONS) -> tuple[Question, ...]:
    """Return the declared questions, in the order of the file."""
    declared = tomllib.loads(path.read_text(encoding="utf-8"))
    return tuple(
        Question(slug, title, inputs)
        for slug, asked in declared.items()
        for title, inputs in asked.items()
    )


def kept(value: float | None) -> float | None:
    """Return a number with the digits that are kept.

    >>> kept(1.0 / 3.0), kept(None)
    (0.333333333333, None)
    """
    return None if value is None else float(f"{value:.{DIGITS}g}")


def _measured(unit: str, item: Mapping[str, Any], value: str) -> list[Any]:
    low, high = kept(item["low"]), kept(item["high"])
    return [unit, kept(item[value]), low, high, item.get("bound", "")]


def facts(answer: Mapping[str, Any]) -> Facts:
    """Return what is kept of a calculator's published JSON: every number, none of its sentences.

    Parameters
    ----------
    answer
        What `calc.report.as_json` returns.
    """
    out: Facts = {}
    verdict = answer["verdict"]
    if verdict is not None:
        out["verdict"] = verdict["state"]
        out["governing mode"] = verdict["governs"]
        out["margin"] = _measured("1", verdict, "margin")
        if verdict["shortfall"] is not None:
            out["chance of falling short"] = ["1", kept(verdict["shortfall"]), None, None, ""]
    for mode in answer["modes"]:
        out[f"{mode['name']} margin"] = _measured("1", mode, "margin")
        for side in ("demand", "capacity"):
            out[f"{mode['name']} {side}"] = [mode["unit"], kept(mode[side]), None, None, ""]
    for name, item in answer["answers"].items():
        label = name.replace("_", " ")
        # an answer may bear the name of a mode's margin
        label = f"{label} (answer)" if label in out else label
        out[label] = _measured(item["unit"], item, "value")
    for place, table in enumerate(answer["tables"], start=1):
        for column, rows in zip(table["columns"], zip(*table["rows"], strict=True), strict=False):
            numbers = [row for row in rows if isinstance(row, int | float)]
            if numbers:
                cells = [kept(row) if isinstance(row, int | float) else None for row in rows]
                out[f"table {place}, {column}"] = cells
        if table["at_least"]:
            limits = " ".join(f"{row + 1}:{column}" for row, column in table["at_least"])
            out[f"table {place}, lower limits at"] = limits
    return out


def ask(question: Question) -> Facts:
    """Return what a question is answered today; a refusal is an answer too."""
    try:
        report = calculators.run(question.calculator, question.inputs)
    except InputError as problem:
        return {"refused for": problem.name}
    except ValidityError:
        return {"refused for": "lying outside the model's validity"}
    return facts(as_json(report, {}, version=__version__))


def edition(asked: Iterable[Question]) -> dict[str, Any]:
    """Return today's answers with the date and the versions they were computed with."""
    return {
        "about": "Our own output, kept so that no number changes unnoticed; see renew.",
        "renew": RENEW,
        "date": datetime.now(UTC).date().isoformat(),
        "versions": {
            "finstock": __version__,
            "python": platform.python_version(),
            "numpy": np.__version__,
        },
        "answers": {
            question.name: {"inputs": dict(question.inputs), "facts": ask(question)}
            for question in asked
        },
    }


def written(numbers: Mapping[str, Any]) -> str:
    """Return an edition as JSON, one fact a line, so that a version control shows what changed."""
    head = {name: value for name, value in numbers.items() if name != "answers"}
    lines = [json.dumps(head, ensure_ascii=False, indent=1)[:-2] + ',\n "answers": {']
    for place, (name, answer) in enumerate(numbers["answers"].items(), start=1):
        asked = json.dumps(answer["inputs"], ensure_ascii=False)
        lines.append(f'  {json.dumps(name, ensure_ascii=False)}: {{"inputs": {asked}, "facts": {{')
        found = [
            f"   {json.dumps(key, ensure_ascii=False)}: "
            + json.dumps(value, ensure_ascii=False, allow_nan=False)
            for key, value in answer["facts"].items()
        ]
        lines.append(",\n".join(found))
        lines.append("  }}" + ("," if place < len(numbers["answers"]) else ""))
    return "\n".join(lines) + "\n }\n}\n"


def read(path: Path = ANSWERS) -> dict[str, Any]:
    """Return kept answers.

    Raises
    ------
    Failure
        Where the file holds none.
    """
    try:
        found: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        found["answers"].items()
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as problem:
        raise Failure(f"{path} holds no kept answers: make them with {RENEW}") from problem
    return found


def _same(old: Any, new: Any, tolerance: float) -> bool:
    if isinstance(old, int | float) and isinstance(new, int | float):
        return math.isclose(old, new, rel_tol=tolerance, abs_tol=NOTHING)
    return bool(old == new)


def _shown(value: Any, digits: int) -> str:
    if value is None:
        return "none"
    return value if isinstance(value, str) else f"{value:.{digits}g}".replace("-", "−")


def _digits(old: float, new: float) -> int:
    """Return how many digits tell two numbers apart, four at least."""
    for digits in range(4, DIGITS):
        if f"{old:.{digits}g}" != f"{new:.{digits}g}":
            return digits
    return DIGITS


def changed(name: str, old: Any, new: Any, unit: str = "") -> str:
    """Return a change in words: what was, what is, by how much.

    >>> changed("flutter margin", 1.2, 1.15)
    'flutter margin 1.2 → 1.15 (−4.2 %)'
    >>> changed("verdict", "marginal", "holds")
    'verdict marginal → holds'
    >>> changed("flutter speed", 301.1, None, "m/s")
    'flutter speed 301.1 → none m/s'
    """
    unit = "" if unit in ("", "1") else f" {spoken(unit)}"
    if isinstance(old, str) or isinstance(new, str) or old is None or new is None:
        return f"{name} {_shown(old, 4)} → {_shown(new, 4)}{unit}"
    digits = _digits(old, new)
    text = f"{name} {_shown(old, digits)} → {_shown(new, digits)}{unit}"
    if old:
        text += f" ({100.0 * (new - old) / abs(old):+.2g} %)".replace("-", "−")
    return text


def _fact_changes(name: str, old: Any, new: Any, tolerance: float) -> list[str]:
    """Return the changes of one fact that exists on both sides."""
    if isinstance(old, str) or isinstance(new, str) or type(old) is not type(new):
        return [] if old == new else [changed(name, str(old), str(new))]
    if name.startswith("table "):
        if len(old) != len(new):
            return [f"{name}: {len(old)} → {len(new)} rows"]
        moved = [
            changed(f"{name}, row {row}", a, b)
            for row, (a, b) in enumerate(zip(old, new, strict=True), start=1)
            if not _same(a, b, tolerance)
        ]
        return moved[:1] + ([f"and {len(moved) - 1} more rows"] if len(moved) > 1 else [])
    unit = new[0]
    out = [changed(f"{name}: unit", old[0], unit)] if old[0] != unit else []
    ends = (("", 1), (", 10 % point", 2), (", 90 % point", 3))
    for ending, place in ends:
        if not _same(old[place], new[place], tolerance):
            out.append(changed(name + ending, old[place], new[place], unit))
    if old[4] != new[4]:
        out.append(changed(f"{name} is", old[4] or "a value", new[4] or "a value"))
    return out


def compared(
    old: Mapping[str, Any], new: Mapping[str, Any], *, tolerance: float = TOLERANCE
) -> list[str]:
    """Return a line for each question whose answer changed, changed verdicts first.

    Parameters
    ----------
    old, new
        Editions, as `edition` returns them.
    tolerance
        Relative change of a number that counts.
    """
    before, after = old["answers"], new["answers"]
    added = [name for name in after if name not in before]
    graver: list[str] = []
    others: list[str] = []
    for name in before:
        if name not in after:
            others.append(f"{name}: no longer asked")
            continue
        if before[name]["inputs"] != after[name]["inputs"]:
            others.append(f"{name}: asked with other inputs, so not compared")
            continue
        was, now = before[name]["facts"], after[name]["facts"]
        found: list[str] = []
        for fact in [*was, *(fact for fact in now if fact not in was)]:
            if fact not in now:
                found.append(f"{fact} no longer given")
            elif fact not in was:
                found.append(f"{fact} is new")
            else:
                found += _fact_changes(fact, was[fact], now[fact], tolerance)
        if found:
            grave = any(
                was.get(fact) != now.get(fact)
                for fact in ("verdict", "governing mode", "refused for")
            )
            (graver if grave else others).append(f"{name}: {'; '.join(found)}")
    if added:
        others.append(
            f"{len(added)} new questions, with nothing to compare: {added[0]}"
            + (" and others" if added[1:] else "")
        )
    return graver + others


def only(numbers: Mapping[str, Any], slug: str) -> dict[str, Any]:
    """Return an edition's answers of one calculator."""
    answers = numbers["answers"].items()
    return {"answers": {name: item for name, item in answers if name.startswith(f"{slug} · ")}}


def main(arguments: Sequence[str] | None = None) -> int:
    """Compare today's answers with kept ones, or keep them; return the exit status."""
    parser = argparse.ArgumentParser(
        prog="python -m scripts.regression",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--write", action="store_true", help="keep today's answers")
    parser.add_argument("--against", type=Path, metavar="FILE", help="kept answers to compare with")
    parser.add_argument("--tolerance", type=float, default=TOLERANCE, help="relative, 1e-6")
    parser.add_argument(
        "--exact", action="store_const", dest="tolerance", const=EXACT, help="the same as 1e-9"
    )
    options = parser.parse_args(arguments)
    try:
        against = options.against or ANSWERS
        old = {"answers": {}} if options.write and not against.exists() else read(against)
        asked = questions()
        new = edition(asked)
    except Failure as failure:
        print(failure, file=sys.stderr)
        return 1
    lines = compared(old, new, tolerance=options.tolerance)
    print("\n".join(f"- {line}" for line in lines) or f"No answer of {len(asked)} changed.")
    if options.write:
        ANSWERS.write_text(written(new), encoding="utf-8")
        step(f"Kept {len(asked)} answers in {ANSWERS.relative_to(ROOT)}")
        return 0
    return 1 if lines else 0


if __name__ == "__main__":
    sys.exit(main())
