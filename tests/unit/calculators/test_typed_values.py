"""The values that a calculator's functions read are typed as its inputs declare them."""

from __future__ import annotations

import inspect
import types
from typing import Any, NotRequired, Union, get_args, get_origin, get_type_hints

import pytest

from calc import calculators
from calc.calculators.rocket import Passed
from calc.forms import NUMERIC, Input


def declared(slug: str) -> dict[str, Any]:
    """Return the types of a calculator's values by name, as its `answer` takes them."""
    answer = calculators.load(slug).answer
    (values,) = get_args(get_type_hints(answer, include_extras=True)["values"])
    assert inspect.signature(answer).parameters["values"].kind is inspect.Parameter.VAR_KEYWORD
    return get_type_hints(values, include_extras=True)


def members(kind: Any) -> tuple[Any, ...]:
    """Return the types of a union, or the one type."""
    return get_args(kind) if get_origin(kind) in (Union, types.UnionType) else (kind,)


def expected(item: Input) -> type | None:
    """Return the type of an input's value; None where its own `read` decides."""
    if type(item).read is not Input.read:
        return None
    return float if item.kind in NUMERIC else int if item.kind == "integer" else str


@pytest.mark.parametrize("slug", calculators.SLUGS)
def test_values_are_typed_under_the_names_of_the_inputs(slug: str) -> None:
    """Every declared input has a type; what is not asked for is marked as left out.

    The whole rocket passes texts on to other calculators and types only what it reads itself.
    """
    found = declared(slug)
    left_out = {name for name, kind in found.items() if get_origin(kind) is NotRequired}
    inputs = {item.name: item for item in calculators.load(slug).all_inputs}
    needed = {name for name, item in inputs.items() if not isinstance(item, Passed)}
    assert needed <= set(found) - left_out <= set(inputs)
    assert not left_out & set(inputs)


@pytest.mark.parametrize("slug", calculators.SLUGS)
def test_values_have_the_type_that_the_input_reads(slug: str) -> None:
    """A number is a float, a count an int; only an optional or hidden input may be None."""
    found = declared(slug)
    for item in calculators.load(slug).all_inputs:
        if isinstance(item, Passed):
            continue
        kinds = members(found[item.name])
        may_be_none = type(None) in kinds
        wanted = expected(item)
        if wanted is not None:
            plain = [type(get_args(kind)[0]) if get_args(kind) else kind for kind in kinds]
            assert wanted in plain, item.name
        assert may_be_none or not item.optional, item.name
        assert not may_be_none or item.optional or item.shown_when or wanted is None, item.name
