"""An outline from a drawing, for the command line: ``python -m calc import FILE``."""

from __future__ import annotations

import argparse
import shlex
import sys
from collections.abc import Sequence
from pathlib import Path

from calc.calculators import outline_file
from calc.errors import InputError
from calc.frontends.terminal import output


def main(words: Sequence[str]) -> int:
    """Print the inputs of the fin in a file, ready to follow a calculator's name."""
    from calc.frontends.terminal.cli import pairs

    parser = argparse.ArgumentParser(
        prog="python -m calc import",
        description="Reads a fin's outline from an SVG or DXF drawing and prints it as inputs.",
        epilog="Options: "
        + "; ".join(
            f"{item.name} ({item.label.lower()}): "
            + (", ".join(item.allowed) if item.choices else f"such as {item.default}")
            for item in outline_file.OPTIONS
        ),
    )
    parser.add_argument("file", type=Path)
    parser.add_argument("options", nargs="*", help="name=value: unit=in edge=2 turned=yes")
    options = parser.parse_intermixed_args(list(words))
    try:
        texts = pairs(options.options)
        with options.file.open("rb") as opened:
            data = opened.read(outline_file.MOST_BYTES + 1)
        taken = outline_file.take(data, options.file.name, texts)
    except OSError as problem:
        why = f"a drawing to read ({problem.strerror})"
        output.complain(InputError("file", str(options.file), why))
        return 2
    except InputError as problem:
        output.complain(problem)
        return 2
    for note in taken.notes:
        print(note, file=sys.stderr)
    for error in taken.errors.values():
        output.complain(error)
    if not taken.inputs:
        return 2
    output.say(" ".join(shlex.quote(f"{name}={text}") for name, text in taken.inputs.items()))
    return 0
