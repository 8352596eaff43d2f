"""The changelog's changed verdicts against the kept answers of both editions."""

import re

from scripts import regression
from scripts.handbook import editions
from scripts.runtime import ROOT

CHANGELOG = (ROOT / "docs" / "reference" / "changelog.md").read_text(encoding="utf-8")
SECTIONS = re.findall(r"^## (\d+\.\d+\.\d+) \((.*)\)$", CHANGELOG, re.M)


def published() -> list[str]:
    """Return the versions of the changelog that are out, newest first."""
    return [version for version, date in SECTIONS if date != "in preparation"]


def test_every_published_edition_has_its_answers() -> None:
    """A published edition's kept answers name its version, so that the next can be compared."""
    assert published()
    for version in published():
        kept = regression.read(regression.DATA / f"edition-{version}.json")
        assert kept["versions"]["finstock"] == version
        assert len(kept["answers"]) >= 80


def test_newest_section_shows_the_changed_verdicts() -> None:
    """The section in preparation counts and lists what differs from the edition before it."""
    assert SECTIONS[0][1] == "in preparation"
    newest = CHANGELOG.split("\n## ")[1]
    before = published()[0]
    for name in ("verdicts_compared", "verdicts_changed", "changed_verdicts"):
        assert f'{{{{ {name}("{before}")' in newest


def test_table_lists_what_the_script_prints() -> None:
    """The table and `python -m scripts.regression --against` find the same verdicts changed."""
    for version in published():
        then = regression.read(regression.DATA / f"edition-{version}.json")
        lines = regression.compared(then, regression.read())
        changed = [line for line in lines if re.search(r": verdict \w+ → ", line)]
        printed = {line.partition(": verdict ")[0] for line in changed}
        rows = editions.changed_verdicts(version).rows
        titles = {f"{row[0]} · {row[1]}" for row in rows}
        assert len(titles) == len(rows) == len(printed) == int(editions.verdicts_changed(version))
        assert {name.partition(" · ")[2] for name in printed} == {row[1] for row in rows}
        assert all(row[2] != row[3] for row in rows)
