"""Rules of thumb: what people say is checked by the same code, and shown with its answer."""

from __future__ import annotations

from itertools import pairwise
from urllib.parse import parse_qsl

import pytest

from calc import calculators, materials
from calc.report import LowerLimit
from calc.units import parse
from scripts.handbook import practice
from scripts.handbook.rocket_family import ROCKETS


def test_every_rocket_has_a_rule_on_the_shelf() -> None:
    """A rule names a sheet that shops sell, and its words name that sheet."""
    assert set(practice.RULES) == {rocket.name for rocket in ROCKETS}
    for rule in practice.RULES.values():
        sold = {item.thickness for item in materials.load(rule.material).stock}
        thickness = parse(rule.thickness, "length")
        assert min(abs(thickness - each) for each in sold) < 1e-5
        assert rule.thickness.split()[0] in rule.words


def test_rules_are_answered_by_the_fin_check() -> None:
    """The verdict beside a rule is the one a reader gets who opens the row."""
    table = practice.thumb_rules()
    assert len(table.rows) == len(ROCKETS)
    for rocket, row, link in zip(ROCKETS, table.rows, table.links, strict=True):
        texts = dict(parse_qsl(link.partition("?")[2]))
        verdict = calculators.run("fin-check", texts).verdict
        assert verdict is not None
        margin = row[[column.name for column in table.columns].index("margin")]
        assert margin == pytest.approx(verdict.margin, rel=1e-6), rocket.name
        assert isinstance(margin, LowerLimit) == (verdict.bound == "at least")


def test_thicker_is_stiffer_and_heavier() -> None:
    """Down the table the fins get heavier and cost more, and never lose margin."""
    kinds = ("length", "mass", "length", "altitude")
    rows = [
        [
            parse(text.split(" (")[0], kind)
            for text, kind in zip((row[0], *row[3:]), kinds, strict=True)
        ]
        for row in practice.thickness_cost().rows
    ]
    for thin, thick in pairwise(rows):
        assert thick[1] == pytest.approx(thin[1] * thick[0] / thin[0], rel=0.03)
        assert thick[2] > thin[2]
        assert thick[3] > thin[3]


def test_tables_give_both_systems() -> None:
    """What a size or a height is in one unit it is in the other, within two digits."""
    for row in practice.thickness_cost().rows:
        for text, kind in zip(
            (row[0], *row[3:]), ("length", "mass", "length", "altitude"), strict=True
        ):
            here, there = text.removesuffix(")").split(" (")
            assert parse(there, kind) == pytest.approx(parse(here, kind), rel=0.06), text


def test_counts_by_basis_cover_all_data() -> None:
    """No value is left out or counted twice, and the share is of all of them."""
    rows = [tuple(map(str, row)) for row in practice.basis_counts().rows]
    parts, every = rows[:-1], rows[-1]
    for column in range(1, 5):
        assert sum(int(row[column]) for row in parts) == int(every[column])
    assert sum(map(int, every[1:5])) == len(materials.rows())
    remembered = [row for row in materials.rows() if row["basis"] in {"memory", "practice"}]
    assert every[5] == f"{len(remembered) / len(materials.rows()):.0%}"


def test_every_priced_material_stands_in_one_class() -> None:
    """The list of prices has each material once, in the class that its own data name."""
    rows = {str(row[0]): str(row[1]).split("; ") for row in practice.price_classes().rows}
    for name in materials.names():
        material = materials.load(name)
        if material.price is not None:
            assert material.label in rows[material.price.level]
    priced = [name for name in materials.names() if materials.load(name).price is not None]
    assert sum(map(len, rows.values())) == len(priced)
