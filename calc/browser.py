"""What the page's worker calls: texts in, finished fragments out, as JSON strings."""

from __future__ import annotations

import base64
import importlib
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from calc import __version__, calculators, check, units
from calc.errors import InputError, ValidityError
from calc.render import html
from calc.report import Report, as_json

_listener: Callable[[int, int, str], Any] | None = None
_early_listener: Callable[[str], Any] | None = None


def set_progress(callback: Callable[[int, int, str], Any] | None) -> None:
    """Register who is told how far a long run is."""
    global _listener
    _listener = callback


def set_early(callback: Callable[[str], Any] | None) -> None:
    """Register who is told a verdict that is known before the rest of its answer, as JSON."""
    global _early_listener
    _early_listener = callback


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

    def early(report: Report) -> None:
        if _early_listener is not None:
            first = html.first_html(report, units=values["units"])
            _early_listener(json.dumps({"first": first, "summary": report.summary}))

    if not errors:
        try:
            report = calculators.answer(calculator, values, progress=_progress, early=early)
            out["fragments"] = html.fragments(calculator, values, report)
            out["summary"] = report.summary
            out["json"] = as_json(report, values, version=__version__)
        except (InputError, ValidityError) as problem:
            out["errors"] = _placed(calculator, values, problem)
    if errors:
        out["errors"] = {name: html.error_text(problem) for name, problem in errors.items()}
    if out["errors"]:
        # Said aloud: the messages themselves stand beside their fields.
        count = len(out["errors"])
        out["summary"] = f"{count} input{'s' if count > 1 else ''} to correct."
    return json.dumps(out, ensure_ascii=False, allow_nan=False)


def practise(slug: str) -> None:
    """Answer a calculator's example as if nothing were known of its outline yet.

    A first question asks for all that work; an example's outline is known from the start.
    """
    check.air.cache_clear()
    check.model.cache_clear()
    answer(slug, "{}")


def _placed(
    calculator: calculators.Calculator, values: dict[str, Any], problem: InputError | ValidityError
) -> dict[str, str]:
    """Return a message under the field it belongs to, or under "" where no field shows it."""
    if isinstance(problem, InputError):
        shown = {item.name for item in calculator.all_inputs if item.applies(values)}
        if problem.name in shown:
            return {problem.name: html.error_text(problem)}
    return {"": str(problem)}


def convert(slug: str, name: str, text: str, unit: str) -> str:
    """Return a field's text in another unit, or the text as it is where it cannot be read."""
    item = next(i for i in calculators.load(slug).all_inputs if i.name == name)
    try:
        return units.typed(item.read(text), item.kind, unit)
    except InputError:
        return text


def download(slug: str, inputs_json: str, make: str) -> str:
    """Return a file that a calculator offers: its name, type, and text or base64.

    Bad inputs come back as errors by field, as from `answer`.
    """
    calculator = calculators.load(slug)
    module = importlib.import_module(f"calc.calculators.{slug.replace('-', '_')}")
    offered = {item.make: item for item in getattr(module, "FILES", ())}
    if make not in offered:
        raise InputError("make", make, f"one of: {', '.join(offered)}")
    texts = {k: v for k, v in json.loads(inputs_json).items() if k in calculator.known_names}
    values, errors = calculator.read(texts)
    out: dict[str, Any] = {
        "filename": offered[make].filename,
        "mime": offered[make].mime,
        "errors": {name: html.error_text(problem) for name, problem in errors.items()},
    }
    if not errors:
        if sys.platform == "emscripten":
            _complete_packages()
        try:
            content = module.make(make, values)
        except (InputError, ValidityError) as problem:
            out["errors"] = _placed(calculator, values, problem)
        else:
            if isinstance(content, bytes):
                out["base64"] = base64.b64encode(content).decode("ascii")
            else:
                out["text"] = content
    return json.dumps(out, ensure_ascii=False, allow_nan=False)


def _complete_packages() -> None:
    """Let packages of the trimmed standard library find modules that came later, beside `calc`.

    A package that is split between two places otherwise knows only the one it was loaded from.
    """
    # importlib.invalidate_caches() would import a part of the library that is not trimmed in.
    sys.path_importer_cache.clear()
    place = Path(__file__).resolve().parent.parent
    for folder in place.iterdir():
        if folder.name in sys.stdlib_module_names and folder.is_dir():
            package = importlib.import_module(folder.name)
            if str(folder) not in package.__path__:
                package.__path__.append(str(folder))


def tone(samples_json: str, sample_rate: float, support: str = "free") -> str:
    """Return the pitch of a tapped strip from sound samples: frequency, error, remark or refusal.

    The samples are judged and forgotten.
    """
    from calc import tone as pitch

    try:
        found = pitch.fundamental(
            json.loads(samples_json),
            sample_rate=sample_rate,
            support="clamped" if support == "clamped" else "free",
        )
    except (InputError, ValidityError) as problem:
        said = problem.accepts if isinstance(problem, InputError) else str(problem)
        return json.dumps({"error": said})
    return json.dumps(
        {
            "frequency": found.frequency,
            "error_share": found.error / found.frequency,
            "text": f"{found.frequency:.4g} Hz",
            "note": found.note,
        },
        ensure_ascii=False,
        allow_nan=False,
    )
