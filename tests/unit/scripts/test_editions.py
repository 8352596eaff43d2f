"""The changelog's changed verdicts against the kept answers of both editions."""

import re

from calc import __version__
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
    """The newest section counts and lists what differs from the edition before it.

    Once it is out it compares with its own kept answers, so that it stays as it was.
    """
    (newest, date), (before, _) = SECTIONS[:2]
    text = CHANGELOG.split("\n## ")[1]
    given = f'"{before}"' if date == "in preparation" else f'"{before}", "{newest}"'
    for name in ("verdicts_compared", "verdicts_changed", "changed_verdicts"):
        assert f"{{{{ {name}({given})" in text
    assert __version__ == newest + (".dev0" if date == "in preparation" else "")


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
