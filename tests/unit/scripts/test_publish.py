"""The policy of the pages and the folder that goes to a host."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from scripts import policy, publish
from scripts.markup import Page
from scripts.say import Failure

PAGE = """<!doctype html>
<html><head><meta charset="utf-8"><script src="a.js"></script></head>
<body><script type="application/json">{"a": 1}</script><p>one</p></body></html>
"""


def write(site: Path, **pages: str) -> None:
    """Write pages into a folder."""
    site.mkdir(exist_ok=True)
    for name, text in pages.items():
        (site / f"{name}.html").write_text(text, encoding="utf-8")


def test_hash_is_the_specification_s() -> None:
    """The example of W3C, Content Security Policy Level 2 (2016), on hashes for script elements."""
    scripts, _, _ = policy.hashes(Page("<script>alert('Hello, world.');</script>", "a.html"))
    assert scripts == {"'sha256-qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng='"}


def test_data_blocks_and_linked_scripts_need_no_hash() -> None:
    """Only what a browser would run inline is hashed."""
    assert policy.hashes(Page(PAGE, "a.html")) == (set(), set(), set())


def test_policy_stands_in_every_page_before_the_first_script(tmp_path: Path) -> None:
    """The tag comes first, without what a page cannot set; adding it again changes nothing."""
    write(tmp_path, one=PAGE, two=PAGE)
    header = policy.add_policy(tmp_path)
    text = (tmp_path / "one.html").read_text(encoding="utf-8")
    assert text.index("http-equiv") < text.index("<script")
    tag = re.search(r'content="(default-src[^"]*)"', text)
    assert tag is not None
    assert f"{tag[1]}; frame-ancestors 'none'" == header
    assert "unsafe-inline" not in header
    assert policy.add_policy(tmp_path) == header
    assert (tmp_path / "one.html").read_text(encoding="utf-8") == text


def test_inline_pieces_are_let_through_by_hash_alone(tmp_path: Path) -> None:
    """A page's own inline script, style and style attribute are listed; nothing wider is."""
    inline = PAGE.replace(
        "<p>one</p>",
        '<script>run()</script><style>p {}</style><p style="color: &quot;red&quot;">x</p>',
    )
    write(tmp_path, one=PAGE, two=inline)
    header = policy.add_policy(tmp_path)
    found = dict(part.strip().split(" ", 1) for part in header.split(";"))
    assert len(re.findall("sha256-", found["script-src"])) == 1
    assert len(re.findall("sha256-", found["style-src"])) == 2
    assert "'unsafe-hashes'" in found["style-src"]
    assert policy._hash('color: "red"') in found["style-src"]
    assert "unsafe-inline" not in header


def test_inline_handler_stops_the_build(tmp_path: Path) -> None:
    """A hash cannot let a handler through, so the page is named."""
    write(tmp_path, one=PAGE.replace("<p>", '<p onclick="run()">'))
    with pytest.raises(Failure, match=r"one\.html.*onclick"):
        policy.add_policy(tmp_path)


@pytest.mark.parametrize(
    "address",
    [
        "example.org",
        "ftp://example.org/",
        "https://",
        "https://a/b c/",
        "https://a;b/",
        "https://a b/",
        "https://someone@a/",
        "https://a/?b",
        "https://a/\n}",
        "https://a/#b",
        "https://a:port/",
    ],
)
def test_address_nobody_can_open_is_refused(address: str) -> None:
    """An address without a host, of another kind or with odd letters is refused in a sentence."""
    with pytest.raises(Failure, match=r"address|letters"):
        publish.prefix_of(address)


@pytest.mark.parametrize(
    ("root", "written"),
    [
        ("/srv/fins/", '"/srv/fins/"'),
        ("/srv/my fins", '"/srv/my fins/"'),
        ("/srv/a;b{c}", '"/srv/a;b{c}/"'),
        ('/srv/"a\\b', '"/srv/\\"a\\\\b/"'),
    ],
)
def test_folder_is_quoted_for_nginx(root: str, written: str) -> None:
    """Spaces, semicolons, braces, quotes and backslashes stay part of the folder's name."""
    assert publish.quoted(root) == written


@pytest.mark.parametrize("root", ["", "srv", "/srv/$host", "/srv/a\nb", "/srv/a\0"])
def test_folder_that_nginx_cannot_name_is_refused(root: str) -> None:
    """A relative folder, a variable and control characters are refused in a sentence."""
    with pytest.raises(Failure, match="--root"):
        publish.quoted(root)


def built(site: Path) -> Path:
    """Write a small site with one file of each kind that matters."""
    digest = "0123456789abcdef"
    for name, text in {
        "index.html": PAGE + "<p>words</p>" * 200,
        "sw.js": "// small",
        f"rt/{digest}/numpy.zip": "stored " * 500,
        "rt/runtime.json": "{}",
        "assets/javascripts/bundle.0a1b2c3d.min.js": "let a = 1;" * 300,
        "assets/app/app.js": "let b = 1;",
        "assets/fonts/a.woff2": "font",
    }.items():
        path = site / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    policy.add_policy(site)
    return site


def test_folder_is_complete_and_made_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Site with twins, headers and configuration; what an earlier run left is gone."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    site = built(tmp_path / "built")
    target = tmp_path / "dist"
    address = "https://example.org/fins/"
    publish.prepare(site, target, address, root="/srv/fins")
    (target / "site" / "left.html").write_text("old", encoding="utf-8")
    publish.prepare(site, target, address, root="/srv/fins")
    made = {p.relative_to(target / "site").as_posix() for p in (target / "site").rglob("*.*")}
    assert "left.html" not in made
    assert {"index.html.gz", "index.html.br"} <= made
    assert "sw.js.br" not in made, "too small to gain"
    assert "assets/fonts/a.woff2.br" not in made, "compressed already"
    nginx = (target / "nginx.conf").read_text(encoding="utf-8")
    assert 'alias "/srv/fins/";' in nginx
    assert "server_name example.org;" in nginx
    assert not re.search(r"@[A-Z]+@", nginx)
    text = (target / "headers.txt").read_text(encoding="utf-8")
    assert "/fins/rt/0123456789abcdef/*\n  Cache-Control: public, max-age=31536000" in text
    assert "/fins/assets/javascripts/bundle.0a1b2c3d.min.js\n  Cache-Control: public" in text
    assert "/fins/sw.js" not in text


def test_no_path_gets_a_header_twice(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Hosts join or choose between rules that overlap, so none do for the same header."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    site = built(tmp_path / "built")
    text = publish.headers_text(site, "https://example.org/", policy.header_of(site))
    rules: dict[str, set[str]] = {}
    for line in text.splitlines():
        if line.startswith("/"):
            path = line
            rules[path] = set()
        elif line.startswith("  "):
            rules[path].add(line.split(":")[0].strip())
    for path, names in rules.items():
        for other, others in rules.items():
            if other != path and other.endswith("*") and path.startswith(other[:-1]):
                assert not names & others, (path, other)


def test_other_folders_are_left_alone(tmp_path: Path) -> None:
    """A folder that holds something else is not emptied."""
    site = built(tmp_path / "built")
    (tmp_path / "home").mkdir()
    (tmp_path / "home" / "letter.txt").write_text("dear", encoding="utf-8")
    with pytest.raises(Failure, match="something else"):
        publish.prepare(site, tmp_path / "home", "https://example.org/", root="/x")
    assert (tmp_path / "home" / "letter.txt").exists()


def test_page_without_policy_and_unknown_file_are_refused(tmp_path: Path) -> None:
    """A page that the build left open, or a file whose type nobody stated, stops publishing."""
    write(tmp_path / "open", one=PAGE)
    with pytest.raises(Failure, match="policy"):
        publish.prepare(tmp_path / "open", tmp_path / "a", "https://example.org/", root="/x")
    site = built(tmp_path / "built")
    (site / "what.xyz").write_text("?", encoding="utf-8")
    with pytest.raises(Failure, match=r"what\.xyz"):
        publish.prepare(site, tmp_path / "b", "https://example.org/", root="/x")
