"""Makes a built page quick and safe to serve: its scripts in files, one stylesheet, names for all.

Works on a built site's files, like the rest of what follows the build. What is done here depends
on how the theme writes its pages; where a page is otherwise, the build stops and says what is
missing.
"""

from __future__ import annotations

import re
from pathlib import Path

from scripts.markup import Element, Page, read
from scripts.runtime import ROOT, sha256

_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
# Strings and addresses stay as they are; outside them, space beside these signs means nothing.
_KEPT = re.compile(r'("(?:[^"\\]|\\.)*"|\'(?:[^\'\\]|\\.)*\'|url\([^)]*\))', re.DOTALL)
_LOOSE = re.compile(r"\s*([{};,])\s*")

BUNDLE = "assets/javascripts/bundle."
"""How the theme's script begins; what stands before it is the page's way to the site's root."""
APP = "assets/app/app.js"
# The theme's first script only defines what its next one, for the colours, and later ones use.
FIRST = "__md_scope="
STORAGE = ROOT / "docs" / "assets" / "app" / "storage.js"
"""Goes before it: a stand-in where the browser refuses storage."""
# Chooses the tab that an address names: nothing that the first paint waits for.
LATE = "var target=document.getElementById(location.hash"
BUTTONS = {"__drawer": "Menu", "__search": "Search"}
"""What the labels in the header open on a phone, by the theme's names for it."""
LOGO = {"width": "50", "height": "56"}
"""Proportions of the logo before it is there, so that the header does not move; the style sets its
size."""


def polish(site: Path) -> None:
    """Rewrite every page of a site that has just been built.

    Raises
    ------
    Failure
        Naming the page and what the theme no longer writes as it did.
    """
    joined: dict[tuple[str, ...], str] = {}
    for path in sorted(site.rglob("*.html")):
        page = read(path, site)
        base = _scripts_later(page)
        _scripts_in_files(site, page, base)
        _one_sheet(site, page, joined)
        _preloads_in_body(page)
        _name_search_and_buttons(page)
        _name_sections(page)
        _way_past_the_header(page)
        _reach_code(page)
        _size_logo(page)
        path.write_text(page.text(), encoding="utf-8")
    for names in joined:
        for name in names:
            (site / name).unlink(missing_ok=True)
            (site / f"{name}.map").unlink(missing_ok=True)


def _scripts_later(page: Page) -> str:
    """Leave the long scripts to theme.js, which starts them after the first paint.

    Returns the page's way to the root of the site.
    """
    scripts = page.find("script")
    bundles = [item for item in scripts if BUNDLE in item.attributes.get("src", "")]
    apps = [item for item in scripts if item.attributes.get("src", "").endswith(APP)]
    if len(bundles) != 1 or len(apps) != 1:
        raise page.fault(f"{len(bundles)} scripts {BUNDLE}… and {len(apps)} {APP}, not one of each")
    source = bundles[0].attributes["src"]
    base = source.partition(BUNDLE)[0]
    page.replace(*page.line(apps[0]), "")
    page.replace(
        bundles[0].start,
        bundles[0].stop,
        f'<script defer src="{base}assets/app/theme.js" data-script="{source}" '
        f'data-app="{apps[0].attributes["src"]}"></script>',
    )
    return base


def _scripts_in_files(site: Path, page: Page, base: str) -> None:
    """Put the theme's inline scripts into files, so that the strictest policy can be served.

    As few as can be, because each holds up the first paint. They differ only by how deep the page
    lies, so the files are few and named by content.
    """
    inline = [item for item in page.find("script") if not item.attributes]
    contents = [page.content(item).strip() for item in inline]
    if [text.startswith(FIRST) for text in contents[:-1]].count(True) != 1:
        raise page.fault(f"not one inline script that starts with {FIRST}, with another after it")
    carried = ""
    for item, text in zip(inline, contents, strict=True):
        if text.startswith(FIRST):
            carried = f"{STORAGE.read_text(encoding='utf-8')}{text}\n"
            page.replace(item.start, item.stop, "")
            continue
        late = " defer" if text.startswith(LATE) else ""
        script, carried = carried + text, ""
        name = f"assets/app/theme-{sha256(script.encode())[:10]}.js"
        (site / "assets" / "app").mkdir(parents=True, exist_ok=True)
        (site / name).write_text(script + "\n", encoding="utf-8")
        page.replace(item.start, item.stop, f'<script{late} src="{base}{name}"></script>')


def _one_sheet(site: Path, page: Page, joined: dict[tuple[str, ...], str]) -> None:
    """Join the site's stylesheets into one; `joined` knows those of earlier pages."""
    links = [item for item in page.find("link", rel="stylesheet") if _is_local(item)]
    if len(links) < 2:
        raise page.fault(f"{len(links)} stylesheets in the place of the theme's and the site's own")
    bases, names = zip(*(_split(item.attributes["href"]) for item in links), strict=True)
    if names not in joined:
        # Every sheet lies two folders deep, so that its relative addresses stay true here.
        if any(name.count("/") != 2 for name in names):
            raise page.fault(f"stylesheets at different depths: {', '.join(names)}")
        css = "\n".join(tight((site / name).read_text(encoding="utf-8")) for name in names)
        joined[names] = f"assets/style/all.{sha256(css.encode())[:8]}.min.css"
        (site / joined[names]).write_text(css + "\n", encoding="utf-8")
    one = f'      <link rel="stylesheet" href="{bases[0]}{joined[names]}">\n'
    for text, link in zip((one, *("" for _ in links[1:])), links, strict=True):
        page.replace(*page.line(link), text)


def _is_local(link: Element) -> bool:
    return ":" not in link.attributes.get("href", ":")


def _split(address: str) -> tuple[str, str]:
    """Return the way to the site's root and the name of a file there."""
    base, assets, rest = address.partition("assets/")
    return base, assets + rest


def _preloads_in_body(page: Page) -> None:
    """Move what is loaded early behind the head.

    In the head, the theme would ask for it again on its way from page to page.
    """
    body = page.one("body")
    preloads = [item for item in page.find("link", rel="preload") if item.start < body.start]
    if not preloads:
        raise page.fault("no preloaded font in the head")
    place = page.after_line(body.inside)
    for item in preloads:
        start, stop = page.line(item)
        page.insert(place, page.source[start:stop])
        page.replace(start, stop, "")


def _name_search_and_buttons(page: Page) -> None:
    """Name the search, and let the Tab key reach what opens it and the menu on a phone.

    There these labels are the buttons; the theme presses a focused label on Enter.
    """
    page.set(page.one("div", data_md_component="search", role="dialog"), "aria-label", "Search")
    for key, name in BUTTONS.items():
        button = page.one("label", class_="md-header__button md-icon", for_=key)
        page.set(button, "tabindex", "0")
        page.insert(button.inside, f'<span class="fs-sr">{name}</span>')


def _name_sections(page: Page) -> None:
    """Name the menu's sections, which the theme names by a label that holds an icon only."""
    sections = [
        item
        for item in page.find("nav", class_="md-nav")
        if item.attributes.get("aria-labelledby", "").startswith("__nav_")
    ]
    if not sections:
        raise page.fault("no section of the menu")
    for item in sections:
        label = item.attributes["aria-labelledby"]
        title = _title(page, item, label.removesuffix("_label"))
        page.rename(item, f'aria-labelledby="{label}"', f'aria-label="{title}"')
        opener = page.one("label", id=label, class_="md-nav__link")
        page.insert(opener.inside, f'\n<span class="fs-sr">Pages of {title}</span>')


def _title(page: Page, section: Element, key: str) -> str:
    """Return a section's title, as it stands in the page behind the icon of its first label."""
    for label in page.find("label", class_="md-nav__title", for_=key):
        if section.inside <= label.start < section.end:
            title = page.content(label).rpartition("</span>")[2].strip()
            if title:
                return title
    raise page.fault(f"no title in the section {key} of the menu")


def _way_past_the_header(page: Page) -> None:
    """Add the way to the content that the theme leaves out without a table of contents."""
    skip = page.one("div", data_md_component="skip")
    if page.content(skip).strip():
        return
    headings = page.find("h1")
    if not headings:
        raise page.fault("no heading to skip to")
    name = headings[0].attributes.get("id")
    if not name:
        name = "content"
        page.set(headings[0], "id", name)
    link = f'<a href="#{name}" class="md-skip">Skip to content</a>'
    page.replace(skip.inside, skip.end, link)


def _reach_code(page: Page) -> None:
    """Let the Tab key reach each block of code before the theme has measured it.

    A long line of code scrolls, which a reader without a mouse has to reach.
    """
    blocks = {item.inside for item in page.find("pre")}
    for item in page.find("code"):
        before = page.source[: item.start].removesuffix("<span></span>")
        if len(before) in blocks and "tabindex" not in item.attributes:
            page.set(item, "tabindex", "0")


def _size_logo(page: Page) -> None:
    logos = [
        item
        for item in page.find("img")
        if item.attributes.get("src", "").endswith("assets/img/logo.svg")
    ]
    if not logos:
        raise page.fault("no logo")
    for item in logos:
        for name, value in LOGO.items():
            page.set(item, name, value)


def tight(css: str) -> str:
    """Return a stylesheet without comments and idle space.

    >>> tight('/* a */ a { color : red;  b: "x  ; y" }')
    'a{color : red;b: "x  ; y"}'
    """
    css = css.removeprefix('@charset "UTF-8";')
    parts = _KEPT.split(_COMMENT.sub("", css))
    parts[::2] = [_LOOSE.sub(r"\1", re.sub(r"\s+", " ", part)) for part in parts[::2]]
    return "".join(parts).strip()
