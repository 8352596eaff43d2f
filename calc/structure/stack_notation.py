"""Read a stack of plies in the bracket notation that laminators write."""

from __future__ import annotations

import re

from calc.errors import InputError

MAX_PLIES = 200
"""Most plies accepted; a typed repeat count could otherwise ask for millions."""
ACCEPTED = "ply angles in degrees separated by '/', such as 0/90/0, [0/90]s, [0_2/±45]s or (0/90)3"

_TOKEN = re.compile(
    r"\s*(?:(?P<open>[\[(])|(?P<close>[\])])|(?P<sep>[/,;|])|"
    r"(?P<angle>(?:±|\+/?-|\+-)?\s*[+-]?\d+(?:\.\d+)?)\s*°?)"
)
_COUNT = re.compile(r"_?\{?(\d{1,12})\}?")
_TAIL = re.compile(r"_?\{?(\d{0,12})([sS]?)\}?")


def parse_stack(text: str) -> tuple[float, ...]:
    """Return the ply angles [degrees] written in the bracket notation of laminates, lowest first.

    Parameters
    ----------
    text
        ``0/90/0``; ``[0/90]s`` (mirrored); ``[0_2/±45]s`` (``_2`` repeats a ply, ``±`` stands for
        two plies); ``[0/90]2`` and ``(0/90)3`` (repeated groups); ``[0/90]2s``.

    Raises
    ------
    InputError
        Naming ``layup`` if the text cannot be read, an angle is beyond 180 degrees or there are
        more than `MAX_PLIES` plies.

    Examples
    --------
    >>> parse_stack("[0_2/±45]s")
    (0.0, 0.0, 45.0, -45.0, -45.0, 45.0, 0.0, 0.0)
    """
    source = str(text).strip()
    if not source:
        raise InputError("layup", text, ACCEPTED)
    angles, position = _group(source, 0, text)
    if position != len(source):
        raise InputError("layup", text, ACCEPTED)
    if not angles:
        raise InputError("layup", text, ACCEPTED)
    return tuple(angles)


def _group(source: str, position: int, text: str) -> tuple[list[float], int]:
    """Return the angles up to the closing bracket or the end, and the position of that."""
    angles: list[float] = []
    expecting = True
    while position < len(source):
        match = _TOKEN.match(source, position)
        if match is None:
            if source[position:].strip():
                raise InputError("layup", text, ACCEPTED)
            return angles, len(source)
        if match["close"]:
            if expecting:
                raise InputError("layup", text, ACCEPTED)
            return angles, match.start("close")
        if match["sep"]:
            if expecting:
                raise InputError("layup", text, ACCEPTED)
            expecting, position = True, match.end()
            continue
        if not expecting:
            raise InputError("layup", text, ACCEPTED)
        expecting = False
        if match["open"]:
            inner, end = _group(source, match.end(), text)
            wanted = "]" if match["open"] == "[" else ")"
            if end >= len(source) or source[end] != wanted or not inner:
                raise InputError("layup", text, ACCEPTED)
            tail = _TAIL.match(source, end + 1)
            assert tail is not None
            repeated = _repeated(inner, tail[1] or "1", text)
            angles += repeated + repeated[::-1] if tail[2] else repeated
            position = tail.end()
        else:
            position = match.end()
            count = (
                _COUNT.match(source, position) if source[position : position + 1] == "_" else None
            )
            plies = _angles(match["angle"], text)
            if count is not None:
                plies = _repeated(plies, count[1], text)
                position = count.end()
            angles += plies
        _repeated(angles, "1", text)
    if expecting:
        raise InputError("layup", text, ACCEPTED)
    return angles, position


def _repeated(angles: list[float], count: str, text: str) -> list[float]:
    """Return angles repeated ``count`` times; raise InputError, before making them, if too many."""
    times = int(count)
    if len(angles) * times > MAX_PLIES:
        raise InputError("layup", text, f"at most {MAX_PLIES} plies")
    return angles * times


def _angles(token: str, text: str) -> list[float]:
    """Return the one angle, or the two of a ±, that a token stands for [degrees]."""
    bare = token.replace(" ", "")
    both = re.match(r"(±|\+/-|\+-)(.*)", bare)
    value = float(both[2] if both else bare)
    if abs(value) > 180.0:
        raise InputError("layup", text, "ply angles from -180 to 180 degrees")
    return [value, -value] if both else [value]
