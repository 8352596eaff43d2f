"""The rows of the Validation page: rounding, citations, comparison with the snapshot, the page."""

import json
import re
from pathlib import Path
from typing import Any

import pytest

from calc.report import Table
from scripts import validation
from scripts.handbook import validation as prose_validation
from scripts.say import Failure


def made(**changes: Any) -> dict[str, Any]:
    """Return a row as a test would record it."""
    given = {
        "group": "test_a",
        "case": "a  case",
        "published": 3.4917,
        "ours": 3.47101234,
        "tolerance": "1 %",
        "source": "a source",
        "test": "test_one",
    }
    return validation.row(**{**given, **changes})


def test_row_is_rounded() -> None:
    """Ours keeps one digit more than the published value, the difference two."""
    row = made()
    assert row["ours"] == 3.47101
    assert row["difference"] == -0.0059
    assert row["case"] == "a case"


@pytest.mark.parametrize(
    ("changes", "difference"),
    [
        ({"published": 0.0, "ours": 0.01}, None),
        ({"published": 0.0, "ours": 0.01, "scale": 2.0}, 0.005),
        ({"ours": float("inf")}, None),
        ({"ours": 3.4917 * (1 + 1e-8)}, 0.0),
    ],
)
def test_difference(changes: dict[str, Any], difference: float | None) -> None:
    """Zero and endless values have no relative difference; what only machines differ by is none."""
    row = made(**changes)
    assert row["difference"] == difference
    json.dumps(row, allow_nan=False)


def test_citation() -> None:
    """A source table becomes one line that says when a value is remembered."""
    table = {"authors": "A", "title": "T", "number": "N", "year": 1, "note": "From memory."}
    assert validation.citation(table) == "A, T, N, 1; from memory in part, unverified"
    assert validation.citation(" a \n b ") == "a b"


def test_snapshot_agrees_with_itself_and_with_rounding() -> None:
    """A last digit that falls the other way is no change; a new digit, row or text is one."""
    old = [made()]
    assert validation.differences(old, old) == []
    assert validation.differences([made(ours=3.47109)], old) == []
    assert validation.differences([made(ours=3.4810)], old)
    assert validation.differences([made(tolerance="2 %")], old)
    assert validation.differences([made(case="b")], old) == ["gone: a case", "new: b"]
    assert validation.differences([made(group="test_b", test="t")], old) == ["new: a case"]


def test_check_says_how_to_renew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A run that differs is refused with one sentence that names the command."""
    monkeypatch.setattr(validation, "FRESH", tmp_path / "fresh.json")
    monkeypatch.setattr(validation, "SNAPSHOT", tmp_path / "snapshot.json")
    with pytest.raises(Failure, match="run pytest tests/validation first"):
        validation.check()
    validation.write(validation.FRESH, [made()])
    with pytest.raises(Failure, match="pytest tests/validation --record"):
        validation.check()
    validation.renew([made()], ["test_a"])
    validation.check()
    certified = json.loads((tmp_path / "certified-values.json").read_text())
    assert "goland_1945_wing" in certified


def test_renewing_one_file_keeps_the_others(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Rows of files that did not run stay, unless their file is gone."""
    monkeypatch.setattr(validation, "SNAPSHOT", tmp_path / "snapshot.json")
    validation.write(
        validation.SNAPSHOT,
        [made(group="test_strip"), made(group="test_nowhere"), made(group="test_sheet")],
    )
    validation.renew([made(group="test_strip", case="new")], ["test_strip"])
    kept = [(row["group"], row["case"]) for row in validation.read(validation.SNAPSHOT)]
    assert kept == [("test_sheet", "a case"), ("test_strip", "new")]


def test_sequences_become_rows_with_names() -> None:
    """A comparison of several values is a row for each, named by its part."""
    common = {"group": "test_a", "test": "t", "tolerance": "t", "source": "s"}
    rows = validation.rows(case="x", published=[1.0, 2.0], ours=(1.0, 2.1), parts="ab", **common)
    assert [row["case"] for row in rows] == ["x, a", "x, b"]
    assert [row["difference"] for row in rows] == [0.0, 0.05]
    plain = validation.rows(case="x", published=[1.0, 2.0], ours=(1.0, 2.1), **common)
    assert [row["case"] for row in plain] == ["x, 1", "x, 2"]
    (row,) = validation.rows(case="y", published=1.0, ours=1.0, within=None, **common)
    assert (row["case"], row["within"]) == ("y", None)
    with pytest.raises(ValueError, match=r"longer|shorter"):
        validation.rows(case="x", published=[1.0, 2.0], ours=[1.0], **common)


SNAPSHOT = validation.read(validation.SNAPSHOT)


def test_every_row_has_a_place_on_the_page() -> None:
    """Each test file that records stands in one group; each row says against what."""
    files = [file for group in prose_validation.GROUPS.values() for file in group.files]
    assert len(files) == len(set(files))
    assert {row["group"] for row in SNAPSHOT} <= set(files)
    assert {row["basis"] for row in SNAPSHOT} <= set(prose_validation.BASES)
    assert all(row["source"] and row["tolerance"] for row in SNAPSHOT)


def test_promised_rows_hold() -> None:
    """No row's promise was broken; where the promise is a share, the printed numbers keep it."""
    assert all(row["within"] in (True, None) for row in SNAPSHOT)
    shares = [(row, re.match(r"([\d.]+) ?%(?: |:|$)", row["tolerance"])) for row in SNAPSHOT]
    promised = [
        (row, 0.01 * float(share[1]))
        for row, share in shares
        if share and row["within"] and row["difference"] is not None
    ]
    assert len(promised) > 200
    for row, share in promised:
        assert abs(row["difference"]) <= 1.005 * share, row["case"]


@pytest.mark.parametrize("group", prose_validation.GROUPS)
def test_tables_show_the_worst_first(group: str) -> None:
    """Each table is cut after the worst and says how many are left."""
    table = prose_validation.validation_table(group)
    assert isinstance(table, Table)
    assert 0 < len(table.rows) <= prose_validation.SHOWN
    assert "comparisons" in table.note


def test_summary_counts_what_the_text_says() -> None:
    """The measured column adds up to the sentence; parts with unpromised rows say why."""
    table = prose_validation.validation_summary()
    names = [column.name for column in table.columns]
    counted = {
        name: sum(
            int(row[names.index(name)]) for row in table.rows if row[names.index(name)] != "–"
        )
        for name in ("count", "measured")
    }
    assert counted["count"] == prose_validation.validation_count().value
    assert counted["measured"] == prose_validation.validation_count("measured").value
    unpromised = {row["group"] for row in SNAPSHOT if row["within"] is None}
    groups = {
        name for name, group in prose_validation.GROUPS.items() if unpromised & {*group.files}
    }
    assert groups == set(prose_validation.UNPROMISED)


def test_downloads_belong_to_the_snapshot() -> None:
    """The CSV and the certified values beside the snapshot were written with it."""
    written = validation.SNAPSHOT.with_suffix(".csv").read_text(encoding="utf-8")
    assert written == validation.as_csv(SNAPSHOT)
    beside = validation.SNAPSHOT.with_name("certified-values.json")
    assert json.loads(beside.read_text(encoding="utf-8")) == validation.certified()
