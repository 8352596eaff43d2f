"""What the page's worker calls: texts in, finished fragments out, as JSON strings."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from calc import __version__, calculators, units
from calc.errors import InputError, ValidityError
from calc.render import html
from calc.report import as_json

_listener: Callable[[int, int, str], Any] | None = None


def set_progress(callback: Callable[[int, int, str], Any] | None) -> None:
    """Register who is told how far a long run is."""
    global _listener
    _listener = callback


def _progress(done: int, total: int, note: str) -> None:
    if _listener is not None:
        _listener(done, total, note)


def answer(slug: str, inputs_json: str) -> str:
    """Return the fragments, errors by field, one-sentence summary, JSON and query of an answer."""
    calculator = calculators.load(slug)
    texts = calculator.complete(
        {k: v for k, v in json.loads(inputs_json).items() if k in calculator.known_names}
    )
    values, errors = calculator.read(texts)
    out: dict[str, Any] = {
        "fragments": {},
        "errors": {},
        "summary": "",
        "json": None,
        "query": calculator.query(texts),
    }
    if not errors:
        try:
            report = calculators.answer(calculator, values, progress=_progress)
            out["fragments"] = html.fragments(calculator, values, report)
            out["summary"] = report.summary
            out["json"] = as_json(report, values, version=__version__)
        except InputError as problem:
            errors = {problem.name: problem}
        except ValidityError as problem:
            out["errors"] = {"": str(problem)}
    if errors:
        out["errors"] = {name: html.error_text(problem) for name, problem in errors.items()}
        count = len(errors)
        out["summary"] = f"{count} input{'s' if count > 1 else ''} to correct."
    return json.dumps(out, ensure_ascii=False, allow_nan=False)


def convert(slug: str, name: str, text: str, unit: str) -> str:
    """Return a field's text in another unit, or the text as it is where it cannot be read."""
    item = next(i for i in calculators.load(slug).all_inputs if i.name == name)
    try:
        return units.typed(item.read(text), item.kind, unit)
    except InputError:
        return text
