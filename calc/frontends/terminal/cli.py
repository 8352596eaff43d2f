"""Command line: the same calculators, from a terminal or a script."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from calc import __version__, calculators, rocket
from calc.errors import InputError
from calc.forms import Calculator
from calc.frontends.terminal import output, rockets
from calc.render import text as as_text
from calc.report import Download, as_json
from calc.units import KINDS


def pairs(words: Sequence[str]) -> dict[str, str]:
    """Return the texts of words such as ``root=3in``, by name."""
    texts: dict[str, str] = {}
    for word in words:
        name, equals, value = word.partition("=")
        if not equals or not name:
            raise InputError("input", word, "name=value, for instance root=3in")
        texts[name] = value
    return texts


def _texts(options: argparse.Namespace, calculator: Calculator) -> dict[str, str]:
    """Return the texts given: those of a rocket's file, and over them those of the command line.

    Beside a rocket, what belongs to other calculators is passed over, as it is in the file.
    """
    texts = pairs(options.inputs)
    if options.rocket is None:
        return texts
    one = rockets.chosen(options.rocket, options.name)
    known = frozenset().union(*(calculators.load(slug).known_names for slug in calculators.SLUGS))
    for name in sorted((texts.keys() & known) - calculator.known_names):
        del texts[name]
        output.complain(f"{name}: not used; {calculator.slug} has no such input")
    return {**rocket.inputs_of(one, calculator), **texts}


def _declared(calculator: Calculator) -> list[dict[str, Any]]:
    return [
        {
            "name": item.name,
            "label": item.label,
            "kind": item.kind,
            "unit": KINDS[item.kind].si if item.kind in KINDS else None,
            "default": item.default,
            "limits": [item.low, item.high],
            "choices": [c.value for c in item.choices],
            "optional": item.optional,
            "applies_when": {k: list(v) for k, v in item.shown_when.items()},
            "help": item.help,
        }
        for item in calculator.all_inputs
    ]


def _write_file(offered: Download, content: str | bytes) -> Path:
    """Write a file that a calculator offers into the current folder; return its path."""
    path = Path(offered.filename)
    path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
    return path


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Returns
    -------
    int
        Exit status: 2 for input that cannot be used or output that cannot be written, 130 after
        Ctrl-C, 141 where the output was closed.
    """
    words = list(sys.argv[1:] if arguments is None else arguments)
    return output.ended(lambda: _run(words))


def _other(words: list[str]) -> int:
    """Run a command that is no calculator."""
    if words[0] == "batch":
        from calc.frontends.terminal import batch

        return batch.main(words[1:])
    from calc.frontends.terminal import outline_file

    return outline_file.main(words[1:])


def _run(words: list[str]) -> int:
    if words[:1] in (["batch"], ["import"]):
        return _other(words)
    parser = argparse.ArgumentParser(
        prog="python -m calc",
        description="Fin calculators of the Finstock handbook. Without a name, lists them.",
        epilog="For a whole table: python -m calc batch FILE.csv (its own --help). An outline from "
        "an SVG or DXF drawing: python -m calc import FILE (its own --help).",
    )
    parser.add_argument("calculator", nargs="?", help="which question to answer")
    parser.add_argument("inputs", nargs="*", help="name=value in any accepted unit: root=3in")
    parser.add_argument("--json", action="store_true", help="answer as JSON in SI units")
    parser.add_argument("--inputs", action="store_true", dest="declared", help="list the inputs")
    parser.add_argument(
        "--file",
        metavar="KIND",
        help="write a file the calculator offers (cutting-plan: svg, pdf-a4, pdf-letter, dxf)",
    )
    parser.add_argument(
        "--rocket", metavar="FILE", type=Path, help="take inputs from a rocket's file first"
    )
    parser.add_argument("--name", help="which rocket, where the file holds several")
    options = parser.parse_intermixed_args(words)
    try:
        if options.calculator is None:
            listed = [calculators.load(slug) for slug in calculators.SLUGS]
            if options.json:
                table = [{"slug": c.slug, "question": c.question} for c in listed]
                output.say_json(table)
            else:
                for calculator in listed:
                    print(f"{calculator.slug:16} {calculator.question}")
            return 0
        calculator = calculators.load(options.calculator)
        if options.declared:
            declared = _declared(calculator)
            if options.json:
                output.say_json(declared)
            else:
                for item in declared:
                    print(f"{item['name']:18} {item['default']:12} {item['label']}")
            return 0
        texts = _texts(options, calculator)
        if options.file:
            outcome = calculators.make(options.calculator, texts, options.file)
        else:
            outcome = calculators.ask(options.calculator, texts)
    except InputError as problem:
        output.complain(problem)
        return 2
    if outcome.errors:
        for error in outcome.errors.values():
            output.complain(error)
        return 2
    if outcome.content is not None:
        print(_write_file(outcome.calculator.offered(options.file), outcome.content))
    if outcome.report is None:
        return 0
    report, values = outcome.report, outcome.values
    if options.json:
        output.say_json(as_json(report, values, version=__version__))
    else:
        output.say(as_text.text(report, units=values["units"]))
    return 0
