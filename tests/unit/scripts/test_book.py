"""The page to print: every chapter once, names of their own, links that arrive."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

from scripts import book
from scripts.handbook.extension import DOCS
from scripts.say import Failure


def _write(site: Path, name: str, article: str) -> None:
    path = site / name / "index.html"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(f"<html><body><article>{article}</article></body></html>", encoding="utf-8")


@pytest.fixture
def printed(tmp_path: Path) -> str:
    """Return the page to print of a small site in which each chapter links to the next."""
    _write(tmp_path, book.PAGE, "<h1>To print</h1><div data-book></div>")
    for name, after in zip(book.ORDER, [*book.ORDER[1:], book.ORDER[0]], strict=True):
        _write(
            tmp_path,
            name,
            f'<h1 id="top">About {name}<a class="headerlink" href="#top">¶</a></h1>'
            f'<p><a href="../../{after}#top">on</a> <a href="../../fly/speed/?mass=1#x">out</a></p>'
            '<svg aria-labelledby="t"><title id="t">A</title><g clip-path="url(#t)"></g></svg>'
            '<div class="fs-calc"><h2 id="sum">Sum</h2></div>'
            "<details><summary>More</summary>folded</details>",
        )
    book.fill(tmp_path)
    return (tmp_path / book.PAGE / "index.html").read_text(encoding="utf-8")


def test_chapters_are_pages_of_the_handbook() -> None:
    """What the book names is there to be built."""
    for name in book.ORDER:
        assert (DOCS / f"{name.removesuffix('/')}.md").is_file(), name


def test_every_name_is_used_once_and_every_link_arrives(printed: str) -> None:
    """No two elements share a name, and each link within the page has its place."""
    names = re.findall(r'\sid="([^"]+)"', printed)
    assert [name for name, count in Counter(names).items() if count > 1] == []
    within = re.findall(r'href="#([^"]+)"', printed)
    assert set(within) <= set(names)
    assert len(within) == 2 * len(book.ORDER)  # contents, and each chapter's link to the next
    for inside in (
        *re.findall(r'labelledby="([^"]+)"', printed),
        *re.findall(r"url\(#(.*?)\)", printed),
    ):
        assert inside in names


def test_links_out_of_the_book_lead_from_where_it_stands(printed: str) -> None:
    """A link to a page that is not in the book still reaches it, with its inputs."""
    assert printed.count('href="../../fly/speed/?mass=1#x"') == len(book.ORDER)


def test_one_title_and_nothing_that_paper_cannot_do(printed: str) -> None:
    """Chapters' titles go down a step; calculators and folded parts stay behind."""
    assert printed.count("<h1") == 1
    assert printed.count("<h2") == 1 + len(book.ORDER)
    assert "folded" not in printed
    assert "Sum" not in printed


def test_missing_chapter_stops_the_build(tmp_path: Path) -> None:
    """A chapter that was renamed is said by name."""
    _write(tmp_path, book.PAGE, "<div data-book></div>")
    with pytest.raises(Failure, match=book.ORDER[0]):
        book.fill(tmp_path)
