"""Glues and tubes: every band in order and sourced, every refusal clear."""

from __future__ import annotations

from dataclasses import astuple
from typing import Any

import pytest

from calc import materials
from calc.errors import MaterialError
from calc.materials import bonding

RECORDS = [*bonding.GLUE_RECORDS.values(), *bonding.TUBE_RECORDS.values()]


@pytest.mark.parametrize("item", RECORDS, ids=lambda item: item.name)
def test_records_say_what_they_are_for(item: bonding.Record) -> None:
    """Every glue and tube has a use, a shear strength, and a source for each value."""
    assert item.use
    assert item.values["shear_strength"].value > 0.0
    assert {value.source for value in item.values.values()} <= set(materials.sources())


@pytest.mark.parametrize("item", [*bonding.ADHESIVES.values(), *bonding.TUBES.values()])
def test_bands_in_order(item: Any) -> None:
    """Every band that joints compute with has its low end first, above zero."""
    bands = [field for field in astuple(item) if isinstance(field, tuple)]
    assert len(bands) >= 3
    assert all(0.0 < low <= high for low, high in bands)


def test_page_and_calculator_show_the_same_numbers() -> None:
    """The rows of the data page carry the very bands that the joint computes with."""
    rows = {(row["material"], row["name"]): (row["low"], row["high"]) for row in materials.rows()}
    for name, glue in bonding.ADHESIVES.items():
        assert rows[name, "shear_strength"] == glue.shear
        assert rows[name, "tension_strength"] == glue.tension
        assert rows[name, "modulus"] == glue.modulus
    for name, tube in bonding.TUBES.items():
        assert rows[f"{name}-tube", "hoop_strength"] == tube.hoop_strength
        assert rows[f"{name}-tube", "hoop_modulus"] == tube.hoop_modulus
        assert rows[f"{name}-tube", "bending_strength"] == tube.bending
        assert rows[f"{name}-tube", "first_crease"] == tube.crease


@pytest.mark.parametrize("name", ["kraft", "vulcanised-fibre"])
def test_paper_folds_as_its_own_strengths_say(name: str) -> None:
    """A wall that yields folds between its compression strength and 3 t c / (t + c).

    That is constant stress on either side of a rectangle's neutral line, in balance: S. Timoshenko,
    Strength of Materials, Part II.
    """
    wall = bonding.TUBES[name]
    for end in (0, 1):
        pulled, pressed = wall.hoop_strength[end], wall.compression[end]
        most = 3.0 * pulled * pressed / (pulled + pressed)
        assert wall.crease[end] <= wall.bending[end] <= most * 1.15
    assert wall.crease == wall.compression
    assert wall.tough
    assert wall.damp


def test_flags_reach_the_joint() -> None:
    """Wood glue soaks in and needs fibres; glass, phenolic and plastic tubes have none to give."""
    soaking = {name for name, glue in bonding.ADHESIVES.items() if glue.soaks}
    sealed = {name for name, tube in bonding.TUBES.items() if tube.sealed}
    assert soaking == {"wood-glue", "pva-water-resistant"}
    assert sealed == {"phenolic", "glass-epoxy", "plastic"}


def entry(**changes: Any) -> dict[str, Any]:
    """Return a glue as a file would hold it, with changes."""
    value = {"value": 2, "low": 1, "high": 3, "unit": "MPa", "source": "demo", "basis": "demo"}
    values = {"shear_strength": value, "tension_strength": value, "modulus": value}
    return {"label": "Glue", "short": "glue", "use": "Tests.", "values": values, **changes}


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"label": ""}, "glues: test: needs label and use"),
        ({"use": ""}, "glues: test: needs label and use"),
        ({"colour": "pink"}, r"unknown keys \['colour'\]"),
        ({"short": ""}, "test: a joint cannot be computed without short"),
        ({"soaks": "yes"}, "test: soaks: needs true or false"),
        ({"values": {}}, "without shear_strength, tension_strength, modulus"),
        (
            {"values": {**entry()["values"], "modulus": {"value": 2, "source": "demo"}}},
            "test: modulus: needs low and high",
        ),
    ],
)
def test_breaks_are_named(changes: dict[str, Any], message: str) -> None:
    """An entry that a joint cannot be computed with is refused by name, key and reason."""
    with pytest.raises(MaterialError, match=message):
        bonding.adhesive(bonding.record("glues", "test", entry(**changes)))
    assert bonding.adhesive(bonding.record("glues", "test", entry())).shear == (1e6, 3e6)
