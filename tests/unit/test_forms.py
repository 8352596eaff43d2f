"""Inputs: each kind reads its texts, refuses others by name, and cannot be declared mixed up."""

from __future__ import annotations

import math
from typing import Any

import pytest

from calc import calculators, materials
from calc.errors import InputError
from calc.forms import Choice, Input

CHOICE = Input("edge", "Edge", "choice", "b", choices=(Choice("A", "a"), Choice("flat top", "b")))
TEXT = Input("rocket", "Rocket", "text", "")
COUNT = Input("count", "Count", "integer", "3", low=1, high=12)
LENGTH = Input("root", "Root", "length", "3 in", unit="in", low=0.0254, high=0.254)
ANY_ANGLE = Input("grain", "Grain", "angle", "0", unit="deg")
MATERIAL = Input("material", "Material", "material", "balsa")
OPTIONAL = Input("density", "Density", "density", "", unit="kg/m3", optional=True)


@pytest.mark.parametrize(
    ("item", "text", "value"),
    [
        (CHOICE, " FLAT top ", "flat top"),
        (TEXT, "Heron 3", "Heron 3"),
        (COUNT, "12", 12),
        (LENGTH, "1", 0.0254),
        (LENGTH, "254 mm", 0.254),
        (ANY_ANGLE, "-90", -math.pi / 2),
        (MATERIAL, "Balsa", "balsa"),
        (MATERIAL, "own", "own"),
        (OPTIONAL, "  ", None),
        (OPTIONAL, "160", 160.0),
    ],
)
def test_each_kind_reads_its_text(item: Input, text: str, value: Any) -> None:
    """Letters' case and stray spaces do not matter; a bare number takes the input's unit."""
    expected = pytest.approx(value) if isinstance(value, float) else value
    assert item.read(text) == expected


@pytest.mark.parametrize(
    ("item", "text", "accepts"),
    [
        (CHOICE, "round", "one of: A, flat top"),
        (TEXT, "x" * 61, "a text of at most 60 characters"),
        (COUNT, "13", "a whole number from 1 to 12"),
        (COUNT, "0", "a whole number from 1 to 12"),
        (COUNT, "2.5", "a whole number from 1 to 12"),
        (COUNT, "²", "a whole number from 1 to 12"),
        (LENGTH, "0.99", "between 1 in and 10 in"),
        (LENGTH, "255 mm", "between 1 in and 10 in"),
        (LENGTH, "", "a length such as"),
        (LENGTH, "5 kg", "units understood: m, cm"),
        (ANY_ANGLE, "steep", "an angle in degrees such as 45"),
        (MATERIAL, "lead", ", ".join(materials.names())),
    ],
)
def test_each_kind_refuses_by_name(item: Input, text: str, accepts: str) -> None:
    """A text that cannot be used names its input and what would be right."""
    with pytest.raises(InputError) as refused:
        item.read(text)
    assert refused.value.name == item.name
    assert accepts in refused.value.accepts
    assert refused.value.value == text


def test_only_the_first_four_arguments_go_by_place() -> None:
    """Help, group, unit and limits have to be named, so that none can take another's place."""
    with pytest.raises(TypeError):
        Input("root", "Root", "length", "3 in", "Along the tube.")  # type: ignore[misc]


@pytest.mark.parametrize("slug", calculators.SLUGS)
def test_files_are_declared_with_their_maker(slug: str) -> None:
    """Each file a calculator offers is found by its name; any other is refused, naming those."""
    calculator = calculators.load(slug)
    for item in calculator.files:
        assert calculator.offered(item.make) is item
    with pytest.raises(InputError, match=r"^file: 'exe'"):
        calculator.offered("exe")
    if not calculator.files:
        with pytest.raises(InputError, match="makes no files"):
            calculator.make("svg", {})


def test_same_number_in_other_spelling_is_the_default() -> None:
    """Spaces and a unit left out do not make a link longer; another number or unit does."""
    landing = calculators.load("landing")
    share, root = (
        next(item for item in landing.all_inputs if item.name == name) for name in ("share", "root")
    )
    assert share.default == "50 %"
    for text in ("50", "50%", " 50  % "):
        assert share.same(text, share.default), text
        assert landing.query({"share": text}) == ""
        assert landing.complete({"share": text})["share"] == "50 %"
    assert not root.same("2 1/2 in", "21/2 in")
    assert not root.same("3 cm", "3 in")
    assert not share.same("5", "50 %")
