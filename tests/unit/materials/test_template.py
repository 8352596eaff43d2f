"""The template of material files: complete, and each example a file that works."""

from __future__ import annotations

import re
import tomllib
from importlib import resources
from typing import Any

import pytest

from calc import materials
from calc.materials import schema

TEXT = (resources.files(schema.LIBRARY) / "TEMPLATE.md").read_text(encoding="utf-8")
EXAMPLES = [tomllib.loads(block) for block in re.findall(r"```toml\n(.*?)```", TEXT, re.DOTALL)]


@pytest.mark.parametrize("raw", EXAMPLES, ids=lambda raw: raw["model"])
def test_examples_work_as_they_are(raw: dict[str, Any]) -> None:
    """Each example is a sound file, marked as invented, from which a sheet can be made."""
    made = materials.build("example", raw)
    assert made.layup(thickness=3e-3).areal_mass > 0.0
    for table in (raw["values"], raw["scatter"]):
        assert {value["basis"] for value in table.values()} == {"demo"}


def test_there_is_an_example_of_every_model() -> None:
    """Every model has exactly one example."""
    assert sorted(raw["model"] for raw in EXAMPLES) == sorted(schema.MODELS)


@pytest.mark.parametrize(
    "words",
    [
        schema.KEYS,
        schema.MODELS,
        schema.KINDS,
        set(schema.FAMILIES) - {"own"},
        schema.UNIT_SCALE,
        set(schema.BASES) - {"measured"},
        schema.WORK,
        schema.SCATTER,
        schema.PRICE_CLASSES,
        schema.DENSITY_GROUPS,
        *schema.NEEDED.values(),
        *schema.OPTIONAL.values(),
    ],
)
def test_every_key_is_explained(words: Any) -> None:
    """Whatever the loader accepts is named in the template."""
    named = set(re.findall(r"[\w%/-]+", TEXT))
    assert {word for word in words if word not in named} == set()
