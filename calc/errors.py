"""The one family of errors that a reader of the handbook can cause."""

from __future__ import annotations

import math


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


def require_positive(*, infinite: bool = False, **values: float) -> None:
    """Raise InputError for the first value that is not a number above zero.

    Parameters
    ----------
    infinite
        Whether infinity is accepted (a rigid spring, for instance).
    **values
        The numbers by their public names.

    Examples
    --------
    >>> require_positive(span=0.06, thickness=0.003)
    >>> require_positive(span=0.0)
    Traceback (most recent call last):
    calc.errors.InputError: span: 0.0 cannot be used; give a value above zero
    """
    for name, value in values.items():
        if not value > 0.0 or (math.isinf(value) and not infinite):
            raise InputError(name, value, "a value above zero")


class MaterialError(InputError):
    """A data file of the materials is broken; the message names the file, the key and the reason.

    It counts as an error of the input `material`, so that every front end that shows bad inputs
    shows this one beside that field, and a sound material can be chosen instead.

    >>> str(MaterialError("paulownia: needs label as text"))
    'paulownia: needs label as text'
    """

    def __init__(self, message: str) -> None:
        ValueError.__init__(self, message)
        self.name = "material"
        self.value = message.partition(":")[0]
        self.accepts = f"another material, because this one's file is broken ({message})"

    def __reduce__(self) -> tuple[type[MaterialError], tuple[str]]:
        """Return how a worker process hands the error on."""
        return type(self), (str(self),)
