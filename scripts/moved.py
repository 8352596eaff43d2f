"""Keeps old addresses of pages working: a short page at each, which redirects at once.

Works on a built site's files and on any static host, without a script. Material pages were
once one to a material; those that share a chapter now have a place in it.
"""

from __future__ import annotations

import re
from html import escape
from pathlib import Path

from scripts.handbook.tables import CHAPTERS, chapter_of

MOVED: dict[str, str] = {f"materials/{name}/": f"materials/{chapter_of(name)}" for name in CHAPTERS}
"""Old address and new one, seen from the root of the site."""
MARK = '<meta http-equiv="refresh"'
"""What only these pages have."""
_CANONICAL = re.compile(r'<link rel="canonical" href="([^"]+)"')
_TITLE = re.compile(r"<h1[^>]*>(.*?)(?:<a |</h1>)", re.DOTALL)
_PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Moved: {title}</title>{canonical}
{mark} content="0; url={to}">
</head>
<body>
<main>
<h1>This page has moved</h1>
<p>Read on: <a href="{to}">{title}</a>.</p>
</main>
</body>
</html>
"""


def write(site: Path) -> None:
    """Write a page at each old address of a built site that leads to the new one.

    Raises
    ------
    RuntimeError
        If a page still stands at an old address, or the new page or its place is not there.
    """
    for old, new in MOVED.items():
        address, hash_, place = new.partition("#")
        target, stub = site / address / "index.html", site / old / "index.html"
        if stub.is_file() and MARK not in stub.read_text(encoding="utf-8"):
            raise RuntimeError(f"a page still stands at the old address {old}")
        page = target.read_text(encoding="utf-8") if target.is_file() else ""
        if f'id="{place}"' not in page:
            raise RuntimeError(f"{old} has moved to {new}, but there is no such place")
        known, title = _CANONICAL.search(page), _TITLE.search(page)
        to = "../" * old.count("/") + address + hash_ + place
        text = _PAGE.format(
            title=re.sub(r"<[^>]+>", "", title[1]).strip() if title else escape(address),
            canonical=f'\n<link rel="canonical" href="{known[1]}">' if known else "",
            mark=MARK,
            to=escape(to),
        )
        stub.parent.mkdir(parents=True, exist_ok=True)
        stub.write_text(text, encoding="utf-8")
