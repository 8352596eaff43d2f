"""Puts a page's text on the screen sooner: one stylesheet, the script after the first paint.

Works on a built site's files, like the rest of what follows the build. Doing it twice changes
nothing.
"""

from __future__ import annotations

import re
from pathlib import Path

from scripts.runtime import sha256

_SHEET = re.compile(r'[ \t]*<link rel="stylesheet" href="([^":]*?)(assets/[^":]+\.css)">\n?')
_BUNDLE = re.compile(
    r'<script src="([^"]*)(assets/javascripts/bundle\.[0-9a-f]+\.min\.js)"></script>'
)
_APP = re.compile(r'[ \t]*<script src="([^"]*assets/app/app\.js)" type="module"></script>\n?')
# In the head, the theme would ask for them again on its way from page to page.
_PRELOAD = re.compile(r'[ \t]*<link rel="preload"[^>]*>\n?')
_BODY = re.compile(r"<body[^>]*>\n?")
_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
# Strings and addresses stay as they are; outside them, space beside these signs means nothing.
_KEPT = re.compile(r'("(?:[^"\\]|\\.)*"|\'(?:[^\'\\]|\\.)*\'|url\([^)]*\))', re.DOTALL)
_LOOSE = re.compile(r"\s*([{};,])\s*")
_SEARCH = '<div class="md-search" data-md-component="search" role="dialog"'
# A section of the menu is named by a label that holds an icon only; its title follows.
_SECTION = re.compile(
    r'<nav class="md-nav" (data-md-level="\d+") aria-labelledby="(__nav_\w+)_label"([^>]*>\s*'
    r'<label class="md-nav__title" for="\2">\s*<span class="md-nav__icon md-icon"></span>\s*)'
    r"([^<]*?)(\s*</label>)"
)
# On a phone these two labels are the buttons; the theme presses a focused label on Enter.
_BUTTONS = {
    '<label class="md-header__button md-icon" for="__drawer">': "Menu",
    '<label class="md-header__button md-icon" for="__search">': "Search",
}
# A long line of code scrolls; the Tab key must get there before the theme's script has measured it.
_CODE = re.compile(r"(<pre[^>]*>(?:<span></span>)?<code)(?=[ >])(?![^>]*tabindex)")
# Its proportions before it is there, so that the header does not move; the style sets its size.
_LOGO = re.compile(r'(<img src="[^"]*assets/img/logo\.svg" alt="[^"]*")>')
# The theme leaves its way past the header out of a page without a table of contents.
_UNSKIPPED = re.compile(r'(<div data-md-component="skip">)\s*(</div>)')
_SKIP = r'\1<a href="#content" class="md-skip">Skip to content</a>\2'
_OPENER = '<label class="md-nav__link " for="{0}" id="{0}_label" tabindex="{1}">\n'


def polish(site: Path) -> None:
    """Rewrite every page of a built site."""
    joined: dict[tuple[str, ...], str] = {}
    for page in sorted(site.rglob("*.html")):
        text = page.read_text(encoding="utf-8")
        changed = _one_sheet(site, text, joined)
        changed = _scripts_later(changed)
        changed = _named(_preloads_in_body(changed))
        if changed != text:
            page.write_text(changed, encoding="utf-8")
    for names in joined:
        for name in names:
            (site / name).unlink(missing_ok=True)
            (site / f"{name}.map").unlink(missing_ok=True)


def _scripts_later(text: str) -> str:
    """Leave the long scripts to theme.js, which starts them after the first paint."""
    app = _APP.search(text)
    if app is None:
        return text
    starter = (
        r'<script defer src="\1assets/app/theme.js" data-script="\1\2"'
        rf' data-app="{app[1]}"></script>'
    )
    return _BUNDLE.sub(starter, _APP.sub("", text))


def _named(text: str) -> str:
    """Name the search, the sections of the menu and what opens them; let code be reached."""
    text = text.replace(f"{_SEARCH}>", f'{_SEARCH} aria-label="Search">')
    for button, name in _BUTTONS.items():
        reached = button.replace(">", ' tabindex="0">')
        text = text.replace(button, f'{reached}<span class="fs-sr">{name}</span>')
    if _UNSKIPPED.search(text) and "<h1>" in text:
        text = _UNSKIPPED.sub(_SKIP, text).replace("<h1>", '<h1 id="content">', 1)
    text = _CODE.sub(r'\1 tabindex="0"', text)
    text = _LOGO.sub(r'\1 width="50" height="56">', text)
    for section in list(_SECTION.finditer(text)):
        level, key, before, title, after = section.groups()
        text = text.replace(
            section[0],
            f'<nav class="md-nav" {level} aria-label="{title}"{before}{title}{after}',
        )
        for index in ("0", ""):
            opener = _OPENER.format(key, index)
            said = f'<span class="fs-sr">Pages of {title}</span>\n'
            text = text.replace(opener, opener + said)
    return text


def _preloads_in_body(text: str) -> str:
    head, body, rest = text.partition("<body")
    preloads = "".join(_PRELOAD.findall(head))
    if not preloads:
        return text
    return _BODY.sub(lambda found: found[0] + preloads, _PRELOAD.sub("", head) + body + rest, 1)


def _one_sheet(site: Path, text: str, joined: dict[tuple[str, ...], str]) -> str:
    links = list(_SHEET.finditer(text))
    names = tuple(link[2] for link in links)
    if len(names) < 2:
        return text
    if names not in joined:
        css = "\n".join(tight((site / name).read_text(encoding="utf-8")) for name in names)
        # Every sheet lies two folders deep, so that its relative addresses stay true here.
        if any(name.count("/") != 2 for name in names):
            raise RuntimeError(f"stylesheets at different depths: {', '.join(names)}")
        joined[names] = f"assets/style/all.{sha256(css.encode())[:8]}.min.css"
        (site / joined[names]).write_text(css + "\n", encoding="utf-8")
    first = links[0]
    one = f'      <link rel="stylesheet" href="{first[1]}{joined[names]}">\n'
    rest = _SHEET.sub("", text[first.end() :])
    return text[: first.start()] + one + rest


def tight(css: str) -> str:
    """Return a stylesheet without comments and idle space.

    >>> tight('/* a */ a { color : red;  b: "x  ; y" }')
    'a{color : red;b: "x  ; y"}'
    """
    css = css.removeprefix('@charset "UTF-8";')
    parts = _KEPT.split(_COMMENT.sub("", css))
    parts[::2] = [_LOOSE.sub(r"\1", re.sub(r"\s+", " ", part)) for part in parts[::2]]
    return "".join(parts).strip()
