"""The built site as text: nothing leads nowhere, nothing goes unsaid, nobody else is asked."""

from pathlib import Path

import pytest

from scripts.check_site import Site
from scripts.test import PORT


@pytest.fixture(scope="module")
def problems(site: Path) -> list[str]:
    """Return everything that the check finds on the built site."""
    return Site(site, f"http://127.0.0.1:{PORT}/").problems()


@pytest.mark.parametrize(
    "kind",
    [
        "leads nowhere",
        "no such place",
        "another origin",
        "heading",
        "ids used twice",
        "no title or no language",
        "no alt",
        "do not see",
        "inline",
        "no way leads here",
    ],
)
def test_built_site(problems: list[str], kind: str) -> None:
    """Links arrive, headings descend, pictures have words, no page is alone."""
    assert [line for line in problems if kind in line] == []


def test_every_page_of_the_handbook_is_built(site: Path) -> None:
    """Each Markdown file under docs has become a page."""
    docs = Path(__file__).resolve().parents[2] / "docs"
    for path in docs.rglob("*.md"):
        inside = path.relative_to(docs).with_suffix("")
        if inside.parts[0] == "_includes":  # parts of pages
            continue
        page = inside.parent if inside.name == "index" else inside
        assert (site / page / "index.html").is_file(), inside
