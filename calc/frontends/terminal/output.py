"""What the terminal's commands print, and how they end where nothing can be printed."""

from __future__ import annotations

import contextlib
import json
import os
import re
import signal
import sys
from collections.abc import Callable
from typing import Any

CANNOT_WRITE = 2
"""Exit status where output or a file cannot be written, as for input that cannot be used."""
CLOSED = 141
"""Exit status where whatever reads the output has closed it, counted in the same way."""
EXTRAS = {
    **dict.fromkeys(("defusedxml", "ezdxf", "fpdf", "segno", "svgelements"), "files"),
    "distributed": "bulk",
}
"""Modules of optional libraries and the extra of this package that installs them."""
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff]")
"""Control characters, and halves of a character, which no encoding takes."""


def plain(text: str) -> str:
    r"""Return a text without control characters, which could colour or clear a terminal.

    >>> plain("\x1b[31mX\a and a\nnew line")
    '[31mX and a\nnew line'
    """
    return _CONTROL.sub("", text)


def say(text: str) -> None:
    """Print a text."""
    print(plain(text))


def say_json(value: Any) -> None:
    """Print a value as JSON, in ASCII where the output's encoding has not every character."""
    utf = (sys.stdout.encoding or "").lower().startswith("utf")
    text = json.dumps(value, indent=1, ensure_ascii=not utf)
    print(_CONTROL.sub(lambda found: f"\\u{ord(found[0]):04x}", text))


def complain(problem: object) -> None:
    """Print what is wrong to standard error."""
    print(plain(str(problem)), file=sys.stderr)


def needed(problem: ModuleNotFoundError) -> str | None:
    """Return what to install where an optional library is missing; None for any other module.

    >>> needed(ModuleNotFoundError("No module named 'ezdxf'", name="ezdxf"))
    "This needs the library ezdxf: pip install '.[files]' in the project's folder."
    """
    library = (problem.name or "").partition(".")[0]
    if library not in EXTRAS:
        return None
    extra = EXTRAS[library]
    return f"This needs the library {library}: pip install '.[{extra}]' in the project's folder."


def interrupted(signal_number: int = signal.SIGINT) -> int:
    """Return the exit status after Ctrl-C or another signal, as shells count it.

    >>> interrupted()
    130
    """
    return 128 + signal_number


def ended(command: Callable[[], int]) -> int:
    """Run a command and return its exit status, with one sentence where it cannot go on."""
    try:
        status = command()
        sys.stdout.flush()
    except BrokenPipeError:
        _drop_output()
        complain("The output was closed before its end.")
        return CLOSED
    except UnicodeEncodeError as problem:
        sign = problem.object[problem.start]
        complain(
            f"The output's encoding, {problem.encoding}, has no character {sign!a}; "
            "set PYTHONIOENCODING=utf-8, or use --json."
        )
        return CANNOT_WRITE
    except OSError as problem:
        if problem.filename is None:
            _drop_output()
        place = problem.filename or "The output"
        complain(f"{place} cannot be written: {problem.strerror}.")
        return CANNOT_WRITE
    except ModuleNotFoundError as problem:
        install = needed(problem)
        if install is None:
            raise
        complain(install)
        return CANNOT_WRITE
    except KeyboardInterrupt:
        complain("Stopped.")
        return interrupted()
    return status


def _drop_output() -> None:
    """Discard output that is still buffered, or Python would fail with it at exit."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)
