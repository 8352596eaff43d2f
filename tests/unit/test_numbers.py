"""The list of changed numbers: what is kept of an edition and what counts as a change."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from scripts import numbers
from scripts.runtime import ROOT
from scripts.say import Failure

QUICK = ("ply-layup",)


def edition(**values: Any) -> dict[str, Any]:
    """Return an edition with a few numbers in metres."""
    return {"version": "1", "numbers": {k: {"value": v, "unit": "m"} for k, v in values.items()}}


def test_an_edition_is_plain_json() -> None:
    """Answers and validation cases have a name, a value and a unit that JSON can hold."""
    found = numbers.edition(QUICK)
    json.dumps(found, allow_nan=False)
    assert any(name.startswith("Validation: ") for name in found["numbers"])
    assert any(not name.startswith("Validation: ") for name in found["numbers"])
    assert all(set(item) == {"value", "unit"} for item in found["numbers"].values())


def test_the_same_edition_has_no_changes() -> None:
    """Computing twice gives the same numbers."""
    assert numbers.changes(numbers.edition(QUICK), numbers.edition(QUICK)) == []


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        (2.0, 1.0, "- a: was 2 m, is 1 m (−50 %)"),
        (0.0, 1.0, "- a: was 0 m, is 1 m"),
        (None, 1.0, "- a: was no value, is 1 m"),
        ("holds", "marginal", "- a: was holds, is marginal"),
        (-1.0, -1.5, "- a: was −1 m, is −1.5 m (−50 %)"),
    ],
)
def test_changes_are_written_out(old: Any, new: Any, line: str) -> None:
    """A change says what was, what is, and by how much where that has a meaning."""
    assert numbers.changes(edition(a=old), edition(a=new)) == [line]


def test_rounding_is_no_change() -> None:
    """A last digit that falls the other way on another machine is not reported."""
    assert numbers.changes(edition(a=1.234), edition(a=1.235)) == []
    assert numbers.changes(edition(a=1.234), edition(a=1.237))


def test_a_wrong_file_is_refused(tmp_path: Path) -> None:
    """A file that is no edition is refused with the command that makes one."""
    (tmp_path / "a.json").write_text("[]")
    with pytest.raises(Failure, match=r"scripts\.numbers write"):
        numbers._read(tmp_path / "a.json")


def test_command_compares_two_files(tmp_path: Path) -> None:
    """The command prints the lines for the changelog."""
    for name, value in (("old", 1.0), ("new", 2.0)):
        (tmp_path / f"{name}.json").write_text(json.dumps(edition(a=value)))
    done = subprocess.run(
        [sys.executable, "-m", "scripts.numbers", "compare",
         str(tmp_path / "old.json"), str(tmp_path / "new.json")],
        cwd=ROOT, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert done.stdout == "- a: was 1 m, is 2 m (+100 %)\n"
