"""What every page of the handbook owes its reader, whatever it is about."""

from __future__ import annotations

import re

import pytest
from mkdocs.utils.meta import get_data

from calc import calculators
from scripts.handbook import names
from scripts.handbook.extension import DOCS

PAGES = sorted(
    path.relative_to(DOCS).as_posix()
    for path in DOCS.rglob("*.md")
    if path.parent.name != "_includes"
)
SHOWN = re.compile(r"^!\[.*\.svg|^\{\{ (?:picture|drawn)\(|_picture\(|^```calculator", re.MULTILINE)


def _text(page: str) -> str:
    return (DOCS / page).read_text(encoding="utf-8")


@pytest.mark.parametrize("page", [page for page in PAGES if page not in {"index.md"}])
def test_page_says_what_to_do_next(page: str) -> None:
    """No page is a dead end: each ends in a next step, and the page to print is the last."""
    text = _text(page)
    assert page == "reference/print.md" or "*Read next:*" in text or "## What to do next" in text


@pytest.mark.parametrize(
    "page",
    [
        page
        for page in PAGES
        if page.startswith(("make/", "fly/"))
        and not page.endswith(("index.md", "joints-and-fillets.md", "field-card.md"))
    ],
)
def test_page_for_hands_shows_something(page: str) -> None:
    """A page about work at the bench or the field has a drawing, or a calculator that draws."""
    assert SHOWN.search(_text(page))


def test_every_drawing_is_used_and_described() -> None:
    """No drawing lies about unused, and the words for it are more than its name."""
    used: set[str] = set()
    for page in PAGES:
        for words, name in re.findall(
            r"!\[([^\]]*)\]\((?:\.\./)*assets/img/(\S+?\.svg)", _text(page)
        ):
            used.add(name)
            assert len(words.split()) >= 12, (page, name)
    there = {
        path.relative_to(DOCS / "assets" / "img").as_posix()
        for path in (DOCS / "assets" / "img").glob("*/*.svg")
    }
    assert used == there


def test_navigation_and_indexes_of_sections_agree() -> None:
    """What a section's first page lists comes in the order of the navigation."""
    navigation = (DOCS.parent / "mkdocs.yml").read_text(encoding="utf-8")
    for section in ("understand", "make"):
        listed = re.findall(
            r"^\d+\. \[[^\]]*\]\(([\w-]+\.md)\)", _text(f"{section}/index.md"), re.M
        )
        places = [navigation.index(f"{section}/{name}") for name in listed]
        assert len(places) >= 8
        assert places == sorted(places)


def test_titles_and_descriptions_are_for_search_engines() -> None:
    """Titles differ, and neither title nor description is cut off in a list of results."""
    titles = []
    for page in PAGES:
        title = re.search(r'^title: "?(.+?)"?$', _text(page), re.MULTILINE)
        about = re.search(r"^description: (.+)$", _text(page), re.MULTILINE)
        if title and about:
            titles.append(title[1])
            assert 15 <= len(title[1]) <= 85, page
            assert 40 <= len(about[1]) <= 180, page
    assert len(titles) == len(set(titles)) >= 60


@pytest.mark.parametrize("page", PAGES)
def test_head_of_a_page_is_understood(page: str) -> None:
    """Title, description and what is hidden reach the site, which drops a head it cannot read."""
    text = _text(page)
    if text.startswith("---"):
        assert get_data(text)[1], f"{page}: quote a title or description that holds a colon"


@pytest.mark.parametrize("page", PAGES)
def test_what_a_page_calls_is_there_to_be_called(page: str) -> None:
    """Every function that a page names between its braces is one that pages may call."""
    for body in re.findall(r"\{\{(.+?)\}\}", re.sub(r"`[^`]*`", "", _text(page))):
        bare = re.sub(r'"[^"]*"', "", body.partition("|")[0])
        for name in re.findall(r"(?<![\w.])([a-z_]+)\(", bare):
            assert name in names.NAMES, f"{page}: {name}"


@pytest.mark.parametrize("slug", calculators.SLUGS)
def test_every_calculator_has_a_page(slug: str) -> None:
    """Each calculator stands on a page that the navigation lists."""
    fence = re.compile(rf"^```calculator {slug}$", re.MULTILINE)
    shown = [page for page in PAGES if fence.search(_text(page))]
    assert shown, f"write a page with the fence ```calculator {slug}, as DEVELOPERS.md says"
    listed = (DOCS.parent / "mkdocs.yml").read_text(encoding="utf-8")
    assert any(page in listed for page in shown), f"add {shown[0]} to nav in mkdocs.yml"
