"""Command line: the same calculators, from a terminal or a script."""

from __future__ import annotations

import argparse
import importlib
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from calc import __version__, calculators
from calc.errors import InputError, ValidityError
from calc.render import text as as_text
from calc.report import as_json
from calc.units import KINDS


def _pairs(words: Sequence[str]) -> dict[str, str]:
    texts: dict[str, str] = {}
    for word in words:
        name, equals, value = word.partition("=")
        if not equals:
            raise InputError(word, word, "inputs as name=value, for instance root=3in")
        texts[name] = value
    return texts


def _declared(slug: str) -> list[dict[str, Any]]:
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
        for item in calculators.load(slug).all_inputs
    ]


def _write_file(slug: str, kind: str, values: dict[str, Any]) -> Path:
    """Write a file that a calculator offers into the current folder; return its path."""
    module = importlib.import_module(f"calc.calculators.{slug.replace('-', '_')}")
    offered = {item.make: item for item in getattr(module, "FILES", ())}
    if kind not in offered:
        raise InputError("file", kind, f"one of: {', '.join(offered) or 'none, here'}")
    content = module.make(kind, values)
    path = Path(offered[kind].filename)
    path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
    return path


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit status (2 for input that cannot be used)."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    if words[:1] == ["batch"]:
        from calc import batch

        return batch.main(words[1:])
    parser = argparse.ArgumentParser(
        prog="python -m calc",
        description="Fin calculators of the Finstock handbook. Without a name, lists them.",
        epilog="For a whole table: python -m calc batch FILE.csv (its own --help).",
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
    options = parser.parse_intermixed_args(words)
    if options.calculator is None:
        listed = [calculators.load(slug) for slug in calculators.SLUGS]
        if options.json:
            print(json.dumps([{"slug": c.slug, "question": c.question} for c in listed], indent=1))
        else:
            for calculator in listed:
                print(f"{calculator.slug:16} {calculator.question}")
        return 0
    try:
        calculator = calculators.load(options.calculator)
        if options.declared:
            declared = _declared(calculator.slug)
            if options.json:
                print(json.dumps(declared, indent=1, ensure_ascii=False))
            else:
                for item in declared:
                    print(f"{item['name']:18} {item['default']:12} {item['label']}")
            return 0
        texts = calculator.complete(_pairs(options.inputs))
        values, errors = calculator.read(texts)
        if errors:
            for problem in errors.values():
                print(problem, file=sys.stderr)
            return 2
        if options.file:
            print(_write_file(calculator.slug, options.file, values))
            return 0
        report = calculators.answer(calculator, values)
    except (InputError, ValidityError) as problem:
        print(problem, file=sys.stderr)
        return 2
    if options.json:
        print(
            json.dumps(as_json(report, values, version=__version__), indent=1, ensure_ascii=False)
        )
    else:
        print(as_text.text(report, units=texts["units"]))
    return 0


if __name__ == "__main__":
    sys.exit(main())
