"""What the page's worker calls: texts in, finished fragments out, as JSON strings."""

from __future__ import annotations

import base64
import importlib
import json
import sys
import zipimport
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from calc import __version__, calculators, rocket, units
from calc.calculators import outline_file as outlines
from calc.errors import InputError, ValidityError
from calc.fin import boundaries, model
from calc.render import html
from calc.render.outline_file import panel_html
from calc.report import WORDS, as_csv, as_json

_listener: Callable[[int, int, str], Any] | None = None
_early_listener: Callable[[str], Any] | None = None


def set_progress(callback: Callable[[int, int, str], Any] | None) -> None:
    """Register the function that receives the progress of a long run."""
    global _listener
    _listener = callback


def set_early(callback: Callable[[str], Any] | None) -> None:
    """Register the function that receives, as JSON, a verdict known before the full answer."""
    global _early_listener
    _early_listener = callback


def _progress(done: int, total: int, note: str) -> None:
    if _listener is not None:
        _listener(done, total, note)


def _texts(slug: str, inputs_json: str) -> dict[str, str]:
    """Return the texts of a form; names that its calculator does not know are passed over."""
    known = calculators.load(slug).known_names
    return {name: text for name, text in json.loads(inputs_json).items() if name in known}


def _messages(outcome: calculators.Outcome) -> dict[str, str]:
    """Return the sentences to show, by field; under "" the whole error, as no field names it."""
    return {
        name: html.error_text(problem) if name and isinstance(problem, InputError) else str(problem)
        for name, problem in outcome.errors.items()
    }


def _send_early(outcome: calculators.Outcome) -> None:
    """Hand over a verdict that is known before the rest of its answer."""
    if _early_listener is not None and outcome.report is not None:
        slug, report = outcome.calculator.slug, outcome.report
        first = html.first_html(report, units=outcome.values["units"])
        _early_listener(json.dumps({"slug": slug, "first": first, "summary": report.summary}))


def answer(slug: str, inputs_json: str) -> str:
    """Return the fragments, errors by field, summary, JSON, CSV and query of an answer.

    It names its calculator, so that a page can refuse the answer of another.
    """
    outcome = calculators.ask(
        slug, _texts(slug, inputs_json), progress=_progress, early=_send_early
    )
    out: dict[str, Any] = {
        "slug": slug,
        "fragments": {},
        "summary": "",
        "json": None,
        "csv": "",
        "query": outcome.calculator.query(outcome.texts),
    }
    if outcome.report is not None:
        report, values = outcome.report, outcome.values
        try:
            out["fragments"] = html.fragments(outcome.calculator, values, report)
            out["summary"] = report.summary
            out["json"] = as_json(report, values, version=__version__)
            out["csv"] = as_csv(out["json"])
        except (InputError, ValidityError) as problem:
            outcome = outcome.refused(problem)
    out["errors"] = _messages(outcome)
    if outcome.errors:
        # Said aloud: the messages themselves stand beside their fields.
        count = len(outcome.errors)
        out["summary"] = f"{count} input{'s' if count > 1 else ''} to correct."
    return json.dumps(out, ensure_ascii=False, allow_nan=False)


class _Enough(Exception):
    """Ends an answer as soon as its verdict is known."""


COARSE = (
    "While you drag, flutter is worked out at fewer speeds and may be some per cent off; the full "
    "answer follows when you let go."
)


def glance(slug: str, inputs_json: str) -> str:
    """Return the verdict of an answer alone, and errors by field: what follows a dragged corner.

    Flutter is worked out coarsely, and the verdict says so where that left something out: see
    `boundaries.coarsely`. A calculator without an early verdict works its answer out; of a slow
    one there is no glance.
    """
    found: list[calculators.Outcome] = []

    def verdict(outcome: calculators.Outcome) -> None:
        found.append(outcome)
        raise _Enough

    out: dict[str, Any] = {"slug": slug, "first": None, "summary": "", "errors": {}}
    if calculators.load(slug).slow:
        return json.dumps(out)
    try:
        with boundaries.coarsely() as left_out:
            outcome = calculators.ask(slug, _texts(slug, inputs_json), early=verdict)
    except _Enough:
        outcome = found[0]
    out["errors"] = _messages(outcome)
    report = outcome.report
    if report is not None:
        if report.verdict is not None and left_out:
            covers = f"{report.verdict.covers} {COARSE}".strip()
            report = replace(report, verdict=replace(report.verdict, covers=covers))
        out["first"] = html.first_html(report, units=outcome.values["units"])
        out["summary"] = report.summary
    return json.dumps(out, ensure_ascii=False, allow_nan=False)


def practise(slug: str) -> None:
    """Run the default inputs with cold caches, so that the engine compiles and stores the code.

    A first question asks for all that work; an example's outline is known from the start.
    """
    model.air.cache_clear()
    model.model.cache_clear()
    answer(slug, "{}")


def convert(slug: str, name: str, text: str, unit: str) -> str:
    """Return a field's text in another unit, or the text as it is where it cannot be read."""
    item = next(i for i in calculators.load(slug).all_inputs if i.name == name)
    try:
        return units.typed(item.measured(text), item.kind, unit)
    except InputError:
        return text


def download(slug: str, inputs_json: str, make: str) -> str:
    """Return a file that a calculator offers: its name, type, and text or base64.

    Bad inputs come back as errors by field, as from `answer`.
    """
    offered = calculators.load(slug).offered(make)
    outcome = calculators.make(slug, _texts(slug, inputs_json), make)
    out: dict[str, Any] = {
        "filename": offered.filename,
        "mime": offered.mime,
        "errors": _messages(outcome),
    }
    if isinstance(outcome.content, bytes):
        out["base64"] = base64.b64encode(outcome.content).decode("ascii")
    elif outcome.content is not None:
        out["text"] = outcome.content
    return json.dumps(out, ensure_ascii=False, allow_nan=False)


def outline_file(filename: str, content: str, options_json: str, units: str) -> str:
    """Return what a drawing on the device becomes: inputs, a panel to confirm them, or an error.

    The content is base64; it is read and forgotten.
    """
    texts = _clean(json.loads(options_json))
    taken = outlines.take(base64.b64decode(content), filename, texts)
    refused = taken.errors.get("file")
    panel = ""
    if taken.edges or not refused:
        panel = panel_html(
            outlines.OPTIONS,
            texts,
            edges=taken.edges,
            figure=taken.figure,
            notes=taken.notes,
            errors=taken.errors,
            units=units,
        )
    out = {
        "inputs": dict(taken.inputs),
        "panel": panel,
        "error": html.error_text(refused) if refused else "",
    }
    return json.dumps(out, ensure_ascii=False, allow_nan=False)


def portrait(inputs_json: str) -> str:
    """Return a rocket's small picture, its verdict in a word, or why there is none."""
    from calc.calculators.rocket import glance as seen
    from calc.render.svg.fin import small

    texts = _clean(json.loads(inputs_json))
    figure, verdict, problem = seen(texts)
    out: dict[str, Any] = {"picture": small(figure) if figure else "", "problem": problem}
    if verdict is not None:
        out |= {
            "state": verdict.state,
            "mark": html.MARKS[verdict.state],
            "word": WORDS[verdict.state],
            "margin": ""
            if verdict.state == "unknown"
            else f"{verdict.bound} {verdict.margin:.2f}".strip(),
        }
    return json.dumps(out, ensure_ascii=False, allow_nan=False)


def rockets(task: str, text: str) -> str:
    """Return the result of one request about rockets, as JSON: "read", "write" or "link".

    A file is read into {"rockets": …, "sheets": …, "prices": …} or {"error": …}; written from the
    same; a link is the query of the whole rocket's page.
    """
    if task == "read":
        try:
            found = rocket.read(text)
        except InputError as problem:
            return json.dumps({"error": f"This file cannot be used; give {problem.accepts}."})
        out: dict[str, Any] = {"rockets": [], "sheets": {}, "prices": {}}
        for each in found:
            body = {**each.rest, "name": each.name, "inputs": dict(each.inputs)}
            out["rockets"].append(body)
            out["sheets"].update({name: dict(texts) for name, texts in each.sheets.items()})
            out["prices"].update(each.prices)
        return json.dumps(out, ensure_ascii=False, allow_nan=False)
    given = json.loads(text)
    shared = {"sheets": given.get("sheets", {}), "prices": given.get("prices", {})}
    whole = [
        rocket.Rocket(
            each["name"],
            each["inputs"],
            rest={k: v for k, v in each.items() if k not in ("name", "inputs", "id", "inHand")},
            **shared,
        )
        for each in given["rockets"]
    ]
    if task == "write":
        return json.dumps({"text": rocket.write(whole)}, ensure_ascii=False)
    page = calculators.load("rocket")
    return json.dumps({"query": page.query(_clean(rocket.inputs_of(whole[0], page)))})


def _clean(texts: dict[str, str]) -> dict[str, str]:
    """Return texts with lone surrogates, as a broken paste leaves them, replaced."""
    return {
        name: text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")
        for name, text in texts.items()
    }


def files_arrived() -> None:
    """Let Python find modules whose files came after its start.

    Started from its memory image, it remembers the contents of an archive that is not there. And a
    package of the standard library that is split between two places knows only the first.
    """
    # importlib.invalidate_caches() would import a part of the library that is not trimmed in.
    for finder in list(sys.path_importer_cache.values()):
        if isinstance(finder, zipimport.zipimporter):
            finder.invalidate_caches()
    sys.path_importer_cache.clear()
    place = Path(__file__).resolve().parents[2]
    for folder in place.iterdir():
        if folder.name in sys.stdlib_module_names and folder.is_dir():
            package = importlib.import_module(folder.name)
            if str(folder) not in package.__path__:
                package.__path__.append(str(folder))


def tone(samples_json: str, sample_rate: float, support: str = "free") -> str:
    """Return the pitch of a tapped strip from sound samples: frequency, error, remark or refusal.

    The samples are judged and forgotten.
    """
    from calc.sheet_test import pitch

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
