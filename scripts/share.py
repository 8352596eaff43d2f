"""Give each built page what others show when its link is shared: a picture, title and description.

The pictures are drawn when the site is built, 1200 by 630, with the site's own fonts and colours,
and lie on the site itself. Pages with numbered steps also carry them as structured data
(schema.org, HowTo), which search engines read. Editions of the changelog become a feed (Atom).
Works on a built site's files.
"""

from __future__ import annotations

import io
import json
import re
import textwrap
from datetime import datetime
from functools import cache
from html import escape, unescape
from pathlib import Path

from fontTools.ttLib import TTFont
from PIL import Image, ImageDraw, ImageFont

from scripts.markup import Page, read
from scripts.moved import MARK
from scripts.runtime import ROOT, sha256

FOLDER = "assets/img/share"
"""Where the pictures lie, seen from the root of the site."""
SIZE = (1200, 630)
PAPER, INK, SOFT, WOOD, LINE, ACCENT = (
    "#fbf6ec", "#292524", "#57504a", "#ead09b", "#a8662a", "#9a3412",
)  # fmt: skip
FEED = "changes.xml"
CHANGELOG = ROOT / "docs" / "reference" / "changelog.md"
FONTS = ROOT / "docs" / "assets" / "fonts"
_HOW = re.compile(r"\bHow\b|common practice")
"""What headings say above the steps of a piece of work."""
FEWEST_STEPS = 3
"""A page has steps worth telling a search engine from this number on."""
FIN = ((880, 150), (1120, 320), (1120, 500), (880, 470))
"""The fin on every card, root on the left [px]."""
_STEPS = re.compile(
    r'<h2 id="[^"]*">(?P<head>(?:(?!</h2>).)*)</h2>\s*<ol>(?P<list>.*?)</ol>', re.DOTALL
)


def share(site: Path) -> None:
    """Add a card, tags and structured data to every page of a built site that has an address."""
    (site / FOLDER).mkdir(parents=True, exist_ok=True)
    for path in sorted(site.rglob("index.html")):
        text = path.read_text(encoding="utf-8")
        if MARK in text or "og:image" in text:
            continue
        page = read(path, site)
        address = next(iter(page.find("link", rel="canonical")), None)
        if address is None:
            continue
        url = address.attributes["href"]
        root = url.removesuffix(page.name.removesuffix("index.html"))
        title = unescape(page.content(page.find("title")[0])).removesuffix(" - Finstock")
        about = next(iter(page.find("meta", name="description")), None)
        words = unescape(about.attributes["content"]) if about else ""
        name = f"{sha256(f'{title}{FIN}{SIZE}'.encode())[:12]}.png"
        (site / FOLDER / name).write_bytes(card(title))
        tags = {
            "og:type": "article",
            "og:site_name": "Finstock",
            "og:title": title,
            "og:description": words,
            "og:url": url,
            "og:image": f"{root}{FOLDER}/{name}",
            "og:image:width": str(SIZE[0]),
            "og:image:height": str(SIZE[1]),
            "og:image:alt": f"Finstock: {title}",
            "twitter:card": "summary_large_image",
        }
        newest = feed(root)
        added = "".join(
            f'<meta property="{key}" content="{escape(value)}">' for key, value in tags.items()
        )
        if newest:
            (site / FEED).write_text(newest, encoding="utf-8")
            added += (
                '<link rel="alternate" type="application/atom+xml" '
                f'title="What is new in Finstock" href="{root}{FEED}">'
            )
        found = how_to(page, title, words)
        if found:
            data = json.dumps(found, ensure_ascii=False).replace("</", "<\\/")
            added += f'<script type="application/ld+json">{data}</script>'
        path.write_text(text.replace("</head>", f"{added}</head>", 1), encoding="utf-8")


@cache
def feed(root: str) -> str:
    """Return the editions of the changelog that have a date as an Atom feed; "" if none has."""
    text = CHANGELOG.read_text(encoding="utf-8")
    entries, newest = [], ""
    parts = re.split(r"^## (\S+) \((.+)\)$", text, flags=re.MULTILINE)[1:]
    for edition, when, body in zip(parts[::3], parts[1::3], parts[2::3], strict=True):
        try:
            day = datetime.strptime(when, "%B %Y").strftime("%Y-%m-01T00:00:00Z")
        except ValueError:
            continue  # in preparation
        newest = newest or day
        address = f"{root}reference/changelog/"
        # what the build fills in stands on the page only
        told = "\n".join(line for line in body.splitlines() if "{{" not in line)
        words = re.sub(r"\[([^\]]*)\]\([^)]*\)|[*`]", r"\1", told).split("*Read next:*")[0].strip()
        entries.append(
            f"<entry><title>Finstock {edition}</title><id>{escape(address)}#{edition}</id>"
            f'<link href="{escape(address)}"/><updated>{day}</updated>'
            f"<summary>{escape(words)}</summary></entry>"
        )
    if not entries:
        return ""
    return (
        '<?xml version="1.0" encoding="utf-8"?>\n<feed xmlns="http://www.w3.org/2005/Atom">'
        f"<title>What is new in Finstock</title><id>{escape(root)}{FEED}</id>"
        f'<link rel="self" href="{escape(root)}{FEED}"/><updated>{newest}</updated>'
        f"<author><name>Finstock</name></author>{''.join(entries)}</feed>\n"
    )


def how_to(page: Page, title: str, words: str) -> dict[str, object] | None:
    """Return a page's steps as schema.org data, or None where it has too few."""
    for match in _STEPS.finditer(page.source):
        steps = [plain(step) for step in re.findall(r"<li>(.*?)</li>", match["list"], re.DOTALL)]
        if len(steps) >= FEWEST_STEPS and _HOW.search(plain(match["head"])):
            return {
                "@context": "https://schema.org",
                "@type": "HowTo",
                "name": title,
                "description": words,
                "step": [{"@type": "HowToStep", "text": step} for step in steps],
            }
    return None


def plain(text: str) -> str:
    """Return a piece of a page without its marks.

    >>> plain('Cut <strong>both</strong> edges&nbsp;now.')
    'Cut both edges now.'
    """
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", "", text))).strip().strip("¶").strip()


@cache
def font(name: str, size: int, weight: int) -> ImageFont.FreeTypeFont:
    """Return one of the site's fonts at a size [px] and weight."""
    opened = TTFont(FONTS / name)
    opened.flavor = None
    out = io.BytesIO()
    opened.save(out)
    out.seek(0)
    found = ImageFont.truetype(out, size)
    found.set_variation_by_axes([weight])
    return found


def card(title: str) -> bytes:
    """Draw the picture of a page: its title, and a fin with its grain, as PNG."""
    picture = Image.new("RGB", SIZE, PAPER)
    draw = ImageDraw.Draw(picture)
    for index in range(76):
        tall = 26 if index % 8 == 0 else 16 if index % 4 == 0 else 10
        draw.line([(16 * index, 0), (16 * index, tall)], fill=INK, width=2)
    (x1, y1), (x2, y2), *_ = FIN
    draw.rectangle([x1 - 60, 90, x1, SIZE[1] - 60], fill="#efe7d8", outline=INK, width=3)
    fin = Image.new("RGB", SIZE, WOOD)
    grain = ImageDraw.Draw(fin)
    slope = (y2 - y1) / (x2 - x1)
    for offset in range(-400, 700, 14):
        start, stop = (x1, y1 + offset), (x2, y1 + offset + slope * (x2 - x1))
        grain.line([start, stop], fill=LINE, width=1 + (offset % 42 == 0))
    shape = Image.new("L", SIZE, 0)
    ImageDraw.Draw(shape).polygon(FIN, fill=255)
    picture.paste(fin, mask=shape)
    draw.line([*FIN, FIN[0]], fill=INK, width=5, joint="curve")
    size = 68 if len(title) <= 60 else 56
    lines = textwrap.wrap(title, 1320 // size)[:5]
    for index, line in enumerate(lines):
        draw.text(
            (70, 130 + index * size * 1.2), line, fill=INK, font=font("besley.woff2", size, 800)
        )
    name = font("besley.woff2", 40, 700)
    draw.text((70, SIZE[1] - 100), "Finstock", fill=ACCENT, font=name)
    draw.text(
        (280, SIZE[1] - 92), "a handbook that computes", fill=SOFT,
        font=font("source-sans-3.woff2", 34, 400),
    )  # fmt: skip
    out = io.BytesIO()
    picture.quantize(64).save(out, "PNG", optimize=True)
    return out.getvalue()
