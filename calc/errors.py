"""The one family of errors that a reader of the handbook can cause."""

from __future__ import annotations


class InputError(ValueError):
    """An input cannot be used; the message says which, what it was and what is accepted.

    Parameters
    ----------
    name
        Public name of the input (``thickness``), the key under which a form shows the message.
    value
        What was given, kept as typed.
    accepts
        What would be right, as the end of a sentence ("a length such as 3/32 in or 2.4 mm").

    >>> str(InputError("span", "-3 in", "a length above zero"))
    "span: '-3 in' cannot be used; give a length above zero"
    """

    def __init__(self, name: str, value: object, accepts: str) -> None:
        self.name = name
        self.value = value
        self.accepts = accepts
        shown = repr(value) if isinstance(value, str) else str(value)
        if len(shown) > 60:
            shown = shown[:57] + "…'"
        super().__init__(f"{name}: {shown} cannot be used; give {accepts}")


class ValidityError(ValueError):
    """The question lies outside what the model is valid for; answering would mislead."""
