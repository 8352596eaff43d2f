"""What follows the build on each page: done where the theme writes as expected, else it stops."""

from __future__ import annotations

from pathlib import Path

import pytest

from scripts.markup import Page
from scripts.polish import STORAGE, polish
from scripts.say import Failure

PAGE = """<!doctype html>
<html><head>
<meta charset="utf-8">
  <link rel="stylesheet" href="../assets/stylesheets/main.min.css">
  <link href="../assets/style/site.css" rel="stylesheet">
<script>__md_scope=1</script>
  <link rel="preload" as="font" href="../assets/fonts/a.woff2">
</head>
<body dir="ltr">
<div data-md-component="skip">
</div>
<img src="../assets/img/logo.svg" alt="logo">
<label class="md-header__button md-icon" for="__drawer"></label>
<script>use(__md_scope) < 2</script>
<label class="md-header__button md-icon" for="__search"></label>
<div class="md-search" data-md-component="search" role="dialog"></div>
<label class="md-nav__link md-nav__link--active" for="__nav_2" id="__nav_2_label" tabindex="">
<span class="md-nav__icon md-icon"></span></label>
<nav class="md-nav" data-md-level="1" aria-labelledby="__nav_2_label" aria-expanded="false">
<label class="md-nav__title" for="__nav_2"><span class="md-nav__icon md-icon"></span>
 Make &amp; fly
</label></nav>
<h1>Title</h1>
<pre><span></span><code>one</code></pre><p><code>two</code></p>
<script>var target=document.getElementById(location.hash.slice(1))</script>
<script src="../assets/javascripts/bundle.12ab.min.js"></script>
  <script src="../assets/app/app.js" type="module"></script>
</body></html>
"""


def build(site: Path, text: str = PAGE) -> Page:
    """Write a site of one page, polish it and return the page."""
    (site / "make").mkdir()
    for name in ("stylesheets/main.min.css", "style/site.css"):
        sheet = site / "assets" / name
        sheet.parent.mkdir(parents=True)
        sheet.write_text("a { b : c }")
    path = site / "make" / "index.html"
    path.write_text(text)
    polish(site)
    return Page(path.read_text(), "make/index.html")


def test_page_is_named_and_reached(tmp_path: Path) -> None:
    """Search, buttons, sections and code have names and a place in the order of the Tab key."""
    page = build(tmp_path)
    assert page.one("div", role="dialog").attributes["aria-label"] == "Search"
    for key, name in (("__drawer", "Menu"), ("__search", "Search")):
        button = page.one("label", for_=key)
        assert button.attributes["tabindex"] == "0"
        assert page.content(button) == f'<span class="fs-sr">{name}</span>'
    section = page.one("nav").attributes
    assert section["aria-label"] == "Make & fly"
    assert "aria-labelledby" not in section
    assert "Pages of Make &amp; fly" in page.content(page.one("label", id="__nav_2_label"))
    block, inline = page.find("code")
    assert block.attributes == {"tabindex": "0"}
    assert inline.attributes == {}
    skip = page.one("a", class_="md-skip")
    assert page.one("h1").attributes["id"] == skip.attributes["href"].removeprefix("#")
    assert page.one("img").attributes["width"] == "50"


def test_scripts_and_styles_come_from_files(tmp_path: Path) -> None:
    """No inline script is left, one stylesheet is, and the fonts are fetched behind the head."""
    page = build(tmp_path)
    scripts = [item.attributes for item in page.find("script")]
    assert [item["src"].rpartition("/")[0] for item in scripts] == ["../assets/app"] * 3
    first = tmp_path / "assets" / "app" / scripts[0]["src"].rpartition("/")[2]
    stand_in = STORAGE.read_text(encoding="utf-8")
    assert first.read_text() == f"{stand_in}__md_scope=1\nuse(__md_scope) < 2\n"
    assert ["defer" in item for item in scripts] == [False, True, True]
    assert scripts[2]["data-script"] == "../assets/javascripts/bundle.12ab.min.js"
    assert scripts[2]["data-app"] == "../assets/app/app.js"
    sheet = page.one("link", rel="stylesheet").attributes["href"].removeprefix("../")
    assert (tmp_path / sheet).read_text() == "a{b : c}\na{b : c}\n"
    assert not (tmp_path / "assets/style/site.css").exists()
    assert page.one("link", rel="preload").start > page.one("body").start


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("javascripts/bundle.", "javascripts/main.", "0 scripts assets/javascripts/bundle"),
        ('<script src="../assets/app/app.js" type="module"></script>', "", "0 assets/app/app.js"),
        ("<script>__md_scope=1", "<script>let __md_scope=1", "starts with __md_scope="),
        ('href="../assets/style/site.css"', 'href="https://example.org/a.css"', "1 stylesheets"),
        ("assets/style/site.css", "assets/site.css", "stylesheets at different depths"),
        ('rel="preload"', 'rel="prefetch"', "no preloaded font"),
        ('role="dialog"', "", "0 elements <div>"),
        ('for="__drawer"', 'for="__menu"', "'__drawer'"),
        ("md-header__button md-icon", "md-button", "'__drawer'"),
        ("aria-labelledby", "aria-label", "no section of the menu"),
        ("md-nav__title", "md-nav__name", "no title in the section __nav_2"),
        ("Make &amp; fly", "", "no title in the section __nav_2"),
        ('id="__nav_2_label"', "", "'__nav_2_label'"),
        ('data-md-component="skip"', "", "0 elements <div>"),
        ("h1>", "h2>", "no heading to skip to"),
        ("logo.svg", "mark.svg", "no logo"),
        ('alt="logo"', 'alt="logo" width="3"', "has the attribute width already"),
    ],
)
def test_changed_theme_stops_the_build(tmp_path: Path, old: str, new: str, message: str) -> None:
    """Where the theme writes a page otherwise, the page and what is missing are named."""
    assert old in PAGE
    with pytest.raises(Failure, match=message) as stopped:
        build(tmp_path, PAGE.replace(old, new))
    assert str(stopped.value).startswith("make/index.html: ")


def test_reads_pages_as_they_are() -> None:
    """Attributes without quotes, SVG, comments and scripts with signs of HTML do not confuse it."""
    page = Page(
        "<p class=a>&lt;b\n<svg><path d='M0'/></svg><!-- <p> --><script>'<p>'</script><br>x</p>é",
        "a.html",
    )
    assert [item.tag for item in page.elements] == ["p", "svg", "path", "script", "br"]
    assert page.content(page.one("p")).endswith("<br>x")
    assert page.content(page.one("svg")) == "<path d='M0'/>"
    assert page.content(page.one("script")) == "'<p>'"
    page.set(page.one("path"), "fill", "none")
    page.replace(page.one("script").start, page.one("script").stop, "")
    assert "<path d='M0' fill=\"none\"/></svg><!-- <p> --><br>x</p>é" in page.text()


def test_overlapping_edits_are_refused() -> None:
    """Two edits of one place cannot both be made."""
    page = Page("<p>one</p>", "a.html")
    page.replace(0, 5, "")
    page.replace(3, 6, "")
    with pytest.raises(ValueError, match=r"a\.html: two edits overlap"):
        page.text()
