"""The worked range of kits on the page about bulk runs."""

from __future__ import annotations

from urllib.parse import parse_qsl

import pytest

from calc import calculators
from calc.frontends.terminal import batch
from calc.report import Table
from scripts.handbook import bulk


@pytest.fixture(scope="module")
def table() -> Table:
    """Return the page's table."""
    return bulk.range_of_kits()


def test_every_verdict_has_its_margin(table: Table) -> None:
    """No line says that a fin holds without saying by how much."""
    assert len(table.rows) == 10
    for row in table.rows:
        assert ", margin " in row[1]


def test_states_in_the_sentence_are_the_fin_checks_own() -> None:
    """The counts in the page's sentence are those of the fin check asked row by row."""
    asked = [
        calculators.run("fin-check", dict(row.texts)).verdict for row in batch.read(bulk._FILE).rows
    ]
    for state in ("holds", "marginal", "fails", "unknown"):
        told = bulk.kits_that(state).value
        assert told == sum(verdict is not None and verdict.state == state for verdict in asked)


def test_the_range_teaches(table: Table) -> None:
    """Some fins hold and some do not, for several reasons; one kit has no fin that holds."""
    rows = bulk._answered()
    assert {row["verdict"] for row in rows} == {"holds", "marginal", "fails"}
    assert len({row["governs"] for row in rows}) >= 4
    assert sum(row["governs"] == "rod" for row in rows) <= 2
    holding = {row["#kit"] for row in rows if row["verdict"] == "holds"}
    assert len({row["#kit"] for row in rows} - holding) == 1


def test_link_opens_the_row(table: Table) -> None:
    """A line's link fills the form with what its row asked."""
    rows = batch.read(bulk._FILE).rows
    for link, row in zip(table.links, rows, strict=True):
        address, _, query = link.partition("?")
        assert address.endswith("check/fin-check/")
        calculator = calculators.load("fin-check")
        asked = calculator.read(dict(row.texts))[0]
        assert calculator.read(dict(parse_qsl(query)))[0] == asked
