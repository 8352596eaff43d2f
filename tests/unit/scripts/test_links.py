"""Links are filled-in pages: ready links, links in the pages, and links made long ago."""

from __future__ import annotations

import math
import re
import tomllib
from pathlib import Path
from urllib.parse import parse_qsl

import pytest

from calc import calculators
from scripts.handbook import links

ROOT = Path(__file__).resolve().parents[3]
DOCS = ROOT / "docs"
FENCE = re.compile(r"^```calculator ([a-z-]+)$", re.MULTILINE)
LINK = re.compile(r"\]\(([^)\s]*\.md)\?([^)\s]*)\)")
FROZEN = tomllib.loads((ROOT / "tests/regression/data/links.toml").read_text(encoding="utf-8"))[
    "link"
]


def read(slug: str, query: str) -> dict[str, object]:
    """Return the SI inputs that a link fills in."""
    values, errors = calculators.load(slug).read(dict(parse_qsl(query, keep_blank_values=True)))
    assert not errors, (slug, query, errors)
    return values


def in_pages() -> list[tuple[str, str, str]]:
    """Return (page, target page, query) of every link in the handbook with inputs in it."""
    found = []
    for page in sorted(DOCS.rglob("*.md")):
        for target, query in LINK.findall(page.read_text(encoding="utf-8")):
            found.append(
                (
                    page.relative_to(DOCS).as_posix(),
                    (page.parent / target).resolve().relative_to(DOCS).as_posix(),
                    query,
                )
            )
    return found  # fmt: skip


@pytest.mark.parametrize("item", links.READY, ids=lambda item: item.question)
def test_ready_links_fill_their_form(item: links.Ready) -> None:
    """A ready link reads back to the texts it was made from, all of them good inputs."""
    read(item.slug, item.query)
    again = calculators.load(item.slug).complete(dict(parse_qsl(item.query)))
    assert again == calculators.load(item.slug).complete(item.texts)


@pytest.mark.parametrize("item", [i for i in links.READY if not calculators.load(i.slug).slow],
                         ids=lambda item: item.question)  # fmt: skip
def test_ready_links_are_answered(item: links.Ready) -> None:
    """What a ready link asks, its calculator answers."""
    assert calculators.run(item.slug, dict(parse_qsl(item.query))).summary


@pytest.mark.parametrize("slug", sorted(links.PAGES))
def test_ready_links_open_pages_that_exist(slug: str) -> None:
    """Each page named holds that calculator first, where plain names in the address reach it."""
    page = DOCS / f"{links.PAGES[slug].rstrip('/')}.md"
    assert page.exists()
    assert FENCE.findall(page.read_text(encoding="utf-8"))[0] == slug


def test_tables_hold_every_link_once() -> None:
    """The tables of the page show every ready link, with the way to the root in front."""
    shown = [link for group in links.groups() for link in links.table(group).links]
    assert shown == [f"../../{item.path}" for item in links.READY]
    with pytest.raises(KeyError, match="no group"):
        links.table("nothing")


@pytest.mark.parametrize("place", in_pages(), ids=lambda place: f"{place[0]}: {place[2]}")
def test_links_in_pages_parse(place: tuple[str, str, str]) -> None:
    """A link in a page's prose names only inputs that its calculator has, with good values."""
    _, target, query = place
    slug = FENCE.findall((DOCS / target).read_text(encoding="utf-8"))[0]
    read(slug, query)


@pytest.mark.parametrize("row", FROZEN, ids=lambda row: f"{row['slug']}: {row['query']}")
def test_older_links_still_mean_the_same(row: dict) -> None:
    """A link published on the date beside it still fills in the same inputs, in SI units."""
    values = read(row["slug"], row["query"])
    calculator = calculators.load(row["slug"])
    for name, wanted in row["inputs"].items():
        found = values[calculator.aliases.get(name, name)]
        if isinstance(wanted, float):
            assert isinstance(found, float)
            assert math.isclose(found, wanted, rel_tol=1e-9, abs_tol=1e-12), name
        else:
            assert found == wanted, name


def test_frozen_list_is_dated_and_covers_the_ready_links_calculators() -> None:
    """Every frozen link carries its day, and each calculator that links open is in the list."""
    assert all(re.fullmatch(r"\d{4}-\d\d-\d\d", str(row["since"])) for row in FROZEN)
    assert {row["slug"] for row in FROZEN} >= set(links.PAGES)
