"""What others show when a page's link is shared: picture, words, steps, and the feed."""

from __future__ import annotations

import io
import json
import re
from html import unescape
from pathlib import Path
from xml.etree import ElementTree

import pytest
from PIL import Image

from scripts import share

PAGE = (
    '<!doctype html><html lang="en"><head><title>Cut &amp; glue - Finstock</title>'
    '<meta name="description" content="How to cut.">'
    '<link rel="canonical" href="https://example.org/fins/make/cutting/"></head><body>'
    '<h1>Cut</h1><h2 id="how">How (common practice)<a class="headerlink">¶</a></h2>\n'
    "<ol><li>Cut <b>both</b>.</li><li>Glue.</li><li>Wait.</li></ol></body></html>"
)


@pytest.fixture
def shared(tmp_path: Path) -> str:
    """Return a page of a small site after it was made fit to share."""
    page = tmp_path / "make" / "cutting" / "index.html"
    page.parent.mkdir(parents=True)
    page.write_text(PAGE, encoding="utf-8")
    share.share(tmp_path)
    text = page.read_text(encoding="utf-8")
    share.share(tmp_path)
    assert page.read_text(encoding="utf-8") == text  # once is enough
    return text


def _tag(text: str, name: str) -> str:
    found = re.search(rf'<meta property="{name}" content="([^"]*)">', text)
    assert found, name
    return unescape(found[1])


def test_tags_name_the_page_and_a_picture_that_is_there(shared: str, tmp_path: Path) -> None:
    """Title, address and picture are absolute and the site's own; the picture is 1200 by 630."""
    assert _tag(shared, "og:title") == "Cut & glue"
    assert _tag(shared, "og:description") == "How to cut."
    assert _tag(shared, "og:url") == "https://example.org/fins/make/cutting/"
    picture = _tag(shared, "og:image")
    root = "https://example.org/fins/"
    assert picture.startswith(root)
    with Image.open(tmp_path / picture.removeprefix(root)) as image:
        assert image.size == (1200, 630)


def test_steps_are_told_as_steps(shared: str) -> None:
    """A page's numbered steps are the steps of its structured data, in their order."""
    found = re.search(r'<script type="application/ld\+json">(.*?)</script>', shared)
    assert found
    data = json.loads(found[1])
    assert data["@type"] == "HowTo"
    assert [step["text"] for step in data["step"]] == ["Cut both.", "Glue.", "Wait."]


def test_titles_differ_on_their_pictures() -> None:
    """Two pages' cards are two pictures, and a long title stays on the card's left part."""
    short, long = share.card("Fin check"), share.card("A very long title " * 6)
    assert short != long
    with Image.open(io.BytesIO(long)) as image:
        margin = image.convert("RGB").crop((790, 120, 818, 560)).getcolors()
    assert margin is not None
    assert len(margin) == 1  # nothing but paper between title and fin


def test_feed_lists_dated_editions() -> None:
    """The feed is well formed, newest first, and leaves out what is still in preparation."""
    feed = share.feed("https://example.org/")
    assert "{{" not in feed
    found = ElementTree.fromstring(feed)
    name = "{http://www.w3.org/2005/Atom}"
    titles = [entry.findtext(f"{name}title") for entry in found.iter(f"{name}entry")]
    text = share.CHANGELOG.read_text(encoding="utf-8")
    dated = re.findall(r"^## (\S+) \(\w+ \d{4}\)$", text, re.MULTILINE)
    assert titles == [f"Finstock {edition}" for edition in dated]
    assert titles
