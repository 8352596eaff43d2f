"""The square code that a telephone's camera reads: an address as rows of dark and light."""

from __future__ import annotations

from typing import Any

from calc.errors import InputError

QUIET = 4
"""Light modules that must stand around a code (ISO/IEC 18004)."""
LARGEST = 25
"""Largest version drawn: 117 modules a side, the finest a telephone reads off a small card."""


def rows(text: str) -> tuple[str, ...]:
    """Return the modules of a QR code, one text of "0" and "1" per row, without quiet zone.

    Parameters
    ----------
    text
        What the code holds, for a web address with its query.

    Returns
    -------
    tuple
        As many texts as each is long: 21 for version 1 and 4 more for each version above.

    Validity: up to version 25, some 990 characters of an address. Error correction level M
    (15 % of the code may be unreadable), raised where it costs no space.

    Source: ISO/IEC 18004, by the library segno.

    >>> len(rows("https://example.org/"))
    25
    """
    # The encoder alone: the library's writers want modules that do not travel to the browser.
    from segno import encoder

    encode: Any = encoder.encode
    try:
        code = encode(text, error="M", micro=False, boost_error=True)
    except encoder.DataOverflowError:
        code = None
    if code is None or code.version > LARGEST:
        raise InputError("address", text, "an address short enough for a code on a card")
    return tuple("".join("1" if module else "0" for module in row) for row in code.matrix)
