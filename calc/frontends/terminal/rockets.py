"""Rockets from a file, for the command line and for tables."""

from __future__ import annotations

from pathlib import Path

from calc import rocket
from calc.errors import InputError


def read_rockets(path: Path) -> list[rocket.Rocket]:
    """Return the rockets of a file.

    Raises
    ------
    InputError
        Naming "rocket", where there is no such file, or it is no rocket's.
    """
    try:
        found = rocket.read(path.read_bytes())
    except OSError as problem:
        raise InputError("rocket", str(path), f"a file to read ({problem.strerror})") from None
    except InputError as problem:
        raise InputError("rocket", str(path), problem.accepts) from None
    if not found:
        raise InputError("rocket", str(path), "a file with at least one rocket")
    return found


def chosen(path: Path, name: str | None) -> rocket.Rocket:
    """Return the only rocket of a file, or the one of this name."""
    found = read_rockets(path)
    if name is None and len(found) == 1:
        return found[0]
    named = [each for each in found if each.name == name]
    if len(named) != 1:
        names = ", ".join(repr(each.name) for each in found)
        raise InputError("name", name or "", f"--name with one of: {names}")
    return named[0]
