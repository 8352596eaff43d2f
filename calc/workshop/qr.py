"""QR codes: a web address as rows of dark and light modules."""

from __future__ import annotations

from typing import Any

from calc.errors import InputError

QUIET = 4
"""Width of the light border around a code, in modules (ISO/IEC 18004)."""
LARGEST = 25
"""Largest version drawn: 117 modules a side, the finest that a phone reads from a small card."""


def rows(text: str) -> tuple[str, ...]:
    """Return the modules of a QR code, one text of "0" and "1" for each row, without border.

    Parameters
    ----------
    text
        Content of the code, such as a web address with its query.

    Returns
    -------
    tuple
        As many texts as each is long: 21 for version 1 and 4 more for each version above.

    Raises
    ------
    InputError
        If the text is too long for version `LARGEST`, some 990 characters of an address.

    Notes
    -----
    Error correction level M (15 % of the code may be unreadable), raised where it costs no space.

    References
    ----------
    ISO/IEC 18004, by the library segno.

    Examples
    --------
    >>> len(rows("https://example.org/"))
    25
    """
    # The encoder alone: the library's writers need modules that browsers do not download.
    from segno import encoder

    encode: Any = encoder.encode
    try:
        code = encode(text, error="M", micro=False, boost_error=True)
    except encoder.DataOverflowError:
        code = None
    if code is None or code.version > LARGEST:
        raise InputError("address", text, "an address short enough for a code on a card")
    return tuple("".join("1" if module else "0" for module in row) for row in code.matrix)
