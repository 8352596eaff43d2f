"""Fill the page to print with the core chapters of a built site, in one piece, with contents.

Works on a built site's files. Names within a chapter (``id``) get its number in front, so that
none is used twice; links to pages that are in the book lead to their place in it; headings go down
one step, so that the page has one title. Calculators and folded parts stay behind.
"""

from __future__ import annotations

import posixpath
import re
from html import escape
from pathlib import Path

from scripts.markup import Element, read
from scripts.say import Failure
from scripts.share import plain

PAGE = "reference/print/"
"""Where the book stands, seen from the root of the site."""
CHAPTERS: dict[str, tuple[str, ...]] = {
    "Understand": (
        "understand/stiffness-strength-weight/", "understand/grain/", "understand/sawing/",
        "understand/plies/", "understand/weak-cores/", "understand/how-fins-fail/",
        "understand/what-a-gram-costs/",
    ),
    "Choose and buy": ("choose/rules-of-thumb/", "choose/buying/"),
    "Materials": (
        "materials/balsa/", "materials/basswood/", "materials/spruce-and-poplar/",
        "materials/plywood/", "materials/paper-and-card/", "materials/foam-board/",
        "materials/skinned-balsa/", "materials/laminates/", "materials/plastics/",
        "materials/printed-plastics/",
    ),
    "Make": (
        "make/tools/", "make/flattening-thin-plywood/", "make/edge-gluing/", "make/cutting/",
        "make/shaping-edges/", "make/which-glue/", "make/joints-and-fillets/", "make/sealing/",
    ),
    "Fly": ("fly/substitution/", "fly/repair/"),
    "Words and safety": ("start/glossary/", "reference/safety/"),
}  # fmt: skip
"""Parts of the book and the pages in them, as addresses from the root of the site."""
ORDER = tuple(name for part in CHAPTERS.values() for name in part)
_OPEN = "<div data-book></div>"
_NAMES = ("aria-labelledby", "aria-describedby", "aria-controls", "for")


def fill(site: Path) -> None:
    """Put the chapters into the page to print.

    Raises
    ------
    Failure
        Where the page has no place for them, or a chapter is missing.
    """
    place = site / PAGE / "index.html"
    text = place.read_text(encoding="utf-8")
    if _OPEN not in text:
        raise Failure(f"{PAGE} has no {_OPEN} to fill.")
    number, contents, body = 0, [], []
    for part, names in CHAPTERS.items():
        contents.append(f"<li>{escape(part)}<ol>")
        for name in names:
            number += 1
            title, chapter = _chapter(site, name, number)
            contents.append(f'<li><a href="#chapter-{number}">{escape(title)}</a></li>')
            body.append(f'<section class="fs-sheet" id="chapter-{number}">{chapter}</section>')
        contents.append("</ol></li>")
    book = f'<h2 id="contents">Contents</h2><ol>{"".join(contents)}</ol>{"".join(body)}'
    place.write_text(text.replace(_OPEN, f"<div>{book}</div>", 1), encoding="utf-8")


def _chapter(site: Path, name: str, number: int) -> tuple[str, str]:
    path = site / name / "index.html"
    if not path.is_file():
        raise Failure(f"The page to print names {name}, which is not there.")
    page = read(path, site)
    article = page.one("article")
    left_out = [
        item
        for item in page.elements
        if article.inside <= item.start < article.end and _stays_behind(item)
    ]
    parts, at = [], article.inside
    for item in sorted(left_out, key=lambda each: each.start):
        if item.start >= at:
            parts.append(page.source[at : item.start])
            at = item.stop
    parts.append(page.source[at : article.end])
    text = "".join(parts)
    title = plain(page.content(page.one("h1")))
    return title, moved(text, name, number)


def _stays_behind(item: Element) -> bool:
    return (
        item.tag == "details"
        or (item.tag == "a" and "headerlink" in item.classes)
        or bool({"fs-calc", "fs-keep", "fs-print-only", "fs-rocket"} & set(item.classes))
    )


def moved(text: str, name: str, number: int) -> str:
    """Return a chapter's text for its place in the book.

    >>> moved('<h1 id="a">A</h1><a href="../grain/#b">b</a>', "understand/plies/", 9)
    '<h2 id="c9-a">A</h2><a href="#c2-b">b</a>'
    >>> moved('<a href="#a">a</a><a href="../../fly/">f</a>', "make/tools/", 20)
    '<a href="#c20-a">a</a><a href="../../fly/">f</a>'
    """
    text = re.sub(r"(</?h)([1-4])\b", lambda found: f"{found[1]}{int(found[2]) + 1}", text)
    text = re.sub(r'(\sid=")', rf"\1c{number}-", text)
    text = re.sub(r"url\(#", f"url(#c{number}-", text)
    for attribute in _NAMES:
        text = re.sub(
            rf'(\s{attribute}=")([^"]+)',
            lambda found: found[1] + " ".join(f"c{number}-{each}" for each in found[2].split()),
            text,
        )
    return re.sub(
        r'(\s(?:href|src)=")([^"]*)', lambda found: found[1] + _to(found[2], name, number), text
    )


def _to(address: str, name: str, number: int) -> str:
    """Return where an address of a chapter leads, seen from the book."""
    if re.match(r"[a-z]+:|/", address):
        return address
    path, sign, place = address.partition("#")
    if not path:
        return f"#c{number}-{place}"
    path, question, inputs = path.partition("?")
    whole = posixpath.normpath(posixpath.join(name, path))
    whole = "" if whole == "." else whole + ("/" if path.endswith("/") else "")
    if whole in ORDER and not question:
        chapter = ORDER.index(whole) + 1
        return f"#c{chapter}-{place}" if place else f"#chapter-{chapter}"
    back = posixpath.relpath(whole or ".", PAGE)
    return f"{back}{'/' if whole.endswith('/') or not whole else ''}{question}{inputs}{sign}{place}"
