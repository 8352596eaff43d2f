"""Numbers that changed between two editions, as lines for the changelog.

``python -m scripts.numbers write FILE`` keeps this edition's numbers: every answer that every
calculator gives for its defaults, and every validation case. ``python -m scripts.numbers compare
OLD [NEW]`` prints what changed, old value and new value; without NEW it computes the present ones.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from calc import __version__, calculators
from calc.units import KINDS, SPOKEN
from scripts import validation
from scripts.say import Failure, step

DIGITS = 4
"""Digits kept; a change that does not reach them is none."""

Numbers = dict[str, dict[str, Any]]
"""By name: value (None where there is none, or a word), unit."""


def of_calculator(slug: str) -> Numbers:
    """Return what one calculator answers for its defaults, SI units."""
    calculator = calculators.load(slug)
    report = calculators.run(slug, {})
    out: Numbers = {}

    def keep(name: str, value: float | str | None, unit: str) -> None:
        if isinstance(value, float | int):
            value = validation.significant(value, DIGITS) if math.isfinite(value) else None
        out[f"{calculator.title}: {name}"] = {"value": value, "unit": "" if unit == "1" else unit}

    for answer in report.answers:
        unit = KINDS[answer.kind].si
        keep(answer.label, answer.value, unit)
        for end, value in (("10 %", answer.low), ("90 %", answer.high)):
            if value is not None:
                keep(f"{answer.label}, {end} point", value, unit)
    for mode in report.modes:
        keep(f"margin of {mode.label.lower()}", mode.margin, "1")
    if report.verdict is not None:
        keep("verdict", report.verdict.state, "1")
    return out


def of_validation() -> Numbers:
    """Return our value of every validation case in the snapshot."""
    return {
        f"Validation: {row['case']}": {"value": row["ours"], "unit": row["unit"]}
        for row in validation.read(validation.SNAPSHOT)
    }


def edition(slugs: Sequence[str] = calculators.SLUGS) -> dict[str, Any]:
    """Return this edition's numbers under its version."""
    numbers: Numbers = {}
    for slug in slugs:
        numbers |= of_calculator(slug)
    return {"version": __version__, "numbers": numbers | of_validation()}


def _written(item: Mapping[str, Any]) -> str:
    value = item["value"]
    if value is None:
        return "no value"
    if isinstance(value, str):
        return value
    unit = SPOKEN.get(item["unit"], item["unit"])
    return f"{value:.{DIGITS}g} {unit}".strip().replace("-", "−")


def changes(old: Mapping[str, Any], new: Mapping[str, Any]) -> list[str]:
    """Return one line for each number that changed, came or went, in the order of the names.

    >>> was = {"numbers": {"A: b": {"value": 2.0, "unit": "m"}, "A: c": {"value": 1, "unit": ""}}}
    >>> now = {"numbers": {"A: b": {"value": 2.5, "unit": "m"}, "A: d": {"value": 3, "unit": ""}}}
    >>> for line in changes(was, now): print(line)
    - A: b: was 2 m, is 2.5 m (+25 %)
    - A: c: no longer given, was 1
    - A: d: new, 3
    """
    before, after = old["numbers"], new["numbers"]
    lines = []
    for name in sorted(before.keys() | after.keys()):
        if name not in after:
            lines.append(f"- {name}: no longer given, was {_written(before[name])}")
        elif name not in before:
            lines.append(f"- {name}: new, {_written(after[name])}")
        else:
            a, b = before[name]["value"], after[name]["value"]
            numbers = isinstance(a, float | int) and isinstance(b, float | int)
            near = numbers and math.isclose(a, b, rel_tol=1.01 * 10.0 ** (1 - DIGITS))
            if a == b or near:
                continue
            line = f"- {name}: was {_written(before[name])}, is {_written(after[name])}"
            if numbers and a:
                share = float(f"{100.0 * (b - a) / abs(a):.2g}")
                line += f" ({share:+g} %)".replace("-", "−")
            lines.append(line)
    return lines


def _read(path: Path) -> dict[str, Any]:
    try:
        found: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        found["numbers"]
    except (OSError, ValueError, KeyError, TypeError) as problem:
        raise Failure(
            f"{path} holds no numbers of an edition: make it with "
            f"python -m scripts.numbers write {path}"
        ) from problem
    return found


def main() -> int:
    """Write this edition's numbers or print what changed; return the exit status."""
    parser = argparse.ArgumentParser(prog="python -m scripts.numbers", description=__doc__)
    parts = parser.add_subparsers(dest="what", required=True)
    write = parts.add_parser("write", help="keep this edition's numbers")
    write.add_argument("file", type=Path)
    compare = parts.add_parser("compare", help="print what changed, as lines for the changelog")
    compare.add_argument("old", type=Path)
    compare.add_argument("new", type=Path, nargs="?")
    options = parser.parse_args()
    try:
        if options.what == "write":
            text = json.dumps(edition(), indent=1, ensure_ascii=False, allow_nan=False)
            options.file.parent.mkdir(parents=True, exist_ok=True)
            options.file.write_text(text + "\n", encoding="utf-8")
            step(f"Kept in {options.file}")
            return 0
        old = _read(options.old)
        new = _read(options.new) if options.new else edition()
        print("\n".join(changes(old, new)) or "No number changed.")
    except Failure as failure:
        print(failure, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
