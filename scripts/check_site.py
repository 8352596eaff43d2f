"""Check a built site as text: links, headings, pictures' words, foreign addresses, orphans.

``python -m scripts.check_site FOLDER ADDRESS`` prints what is wrong, one line each; ADDRESS is the
one that the site was built for.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urljoin, urlsplit

VOID = frozenset(
    ("area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track",
     "wbr")
)  # fmt: skip
REFERENCES = {
    "a": ("href",),
    "link": ("href",),
    "script": ("src",),
    "img": ("src", "srcset"),
    "source": ("src", "srcset"),
    "use": ("href", "xlink:href"),
    "image": ("href", "xlink:href"),
    "iframe": ("src",),
    "object": ("data",),
    "form": ("action",),
    "video": ("src", "poster"),
    "audio": ("src",),
}
"""Attributes that lead somewhere, by element."""
HEADING = re.compile(r"h([1-6])$")
HANDLER = re.compile(r"on[a-z]")
CSS_ADDRESS = re.compile(r"""(?:url\(\s*['"]?|@import\s+['"])([^'")\s]+)""")
SCRIPT_ADDRESS = re.compile(r"""['"`](?:https?:)?//[a-z0-9.-]+[^'"`\s]*""", re.IGNORECASE)
NAMESPACE = "http://www.w3.org/"
"""Names of vocabularies look like addresses; nobody asks for them."""
NOT_OURS = ("rt/", "assets/javascripts/")
"""Scripts of others: what they request is tested in the browser."""


@dataclass
class Page:
    """What a page says that can be checked without drawing it."""

    name: str
    ids: list[str] = field(default_factory=list)
    links: list[tuple[str, str]] = field(default_factory=list)
    """Element and address."""
    headings: list[int] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    title: str = ""
    language: str = ""
    moved: bool = False
    """The page only leads on to another."""


class Reader(HTMLParser):
    """Reads one page into a `Page`."""

    def __init__(self, page: Page) -> None:
        super().__init__()
        self.page = page
        self.open: list[tuple[str, dict[str, str]]] = []
        self.pictures: list[tuple[int, bool]] = []
        """Depth of each open SVG, and whether words for it were found."""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note what an element says about itself."""
        given = {name: value or "" for name, value in attrs}
        page = self.page
        if given.get("id"):
            page.ids.append(given["id"])
        if tag == "a" and given.get("name"):
            page.ids.append(given["name"])
        for name in REFERENCES.get(tag, ()):
            if given.get(name):
                parts = given[name].split(",") if name == "srcset" else [given[name]]
                page.links += [(tag, part.split()[0]) for part in parts if part.strip()]
        page.problems += [
            f"inline event handler {name} on <{tag}>" for name in given if HANDLER.match(name)
        ]
        if given.get("href", "").lower().startswith("javascript:"):
            page.problems.append("a javascript: address")
        if tag == "meta" and given.get("http-equiv", "").lower() == "refresh":
            page.moved = True
        if tag == "html":
            page.language = given.get("lang", "")
        if tag == "script" and "src" not in given and "json" not in given.get("type", ""):
            page.problems.append("an inline script")
        heading = HEADING.match(tag)
        if heading and not self._inside("template"):
            page.headings.append(int(heading[1]))
        if tag == "img" and "alt" not in given:
            page.problems.append(f"no alt on the picture {given.get('src', '')}")
        if tag == "svg" and not self._inside("svg"):
            self.pictures.append((len(self.open), self._spoken_for(given)))
        if tag == "title" and self.pictures and self.open and self.open[-1][0] == "svg":
            self.pictures[-1] = (self.pictures[-1][0], True)
        if tag not in VOID:
            self.open.append((tag, given))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Read an element that closes itself, as SVG has them."""
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        """Close an element, and judge a picture once it is complete."""
        while any(name == tag for name, _ in self.open):
            name, _ = self.open.pop()
            if name == "svg" and self.pictures and self.pictures[-1][0] == len(self.open):
                _, named = self.pictures.pop()
                if not named:
                    self.page.problems.append("a drawing without a text for those who do not see")
            if name == tag:
                break

    def handle_data(self, data: str) -> None:
        """Keep the page's title."""
        if self.open and self.open[-1][0] == "title" and not self._inside("svg"):
            self.page.title += data.strip()

    def _inside(self, tag: str) -> bool:
        return any(name == tag for name, _ in self.open)

    def _spoken_for(self, given: dict[str, str]) -> bool:
        """Tell whether a drawing has words of its own or is only an ornament beside some."""
        if given.get("aria-hidden") == "true" or given.get("role") in ("presentation", "none"):
            return True
        if given.get("aria-label") or given.get("aria-labelledby"):
            return True
        return any(
            about.get("aria-hidden") == "true"
            or about.get("aria-label")
            or "icon" in about.get("class", "")
            for _, about in self.open
        )


@dataclass(frozen=True)
class Site:
    """A built site in a folder, and the address it was built for."""

    folder: Path
    address: str

    @cached_property
    def pages(self) -> dict[str, Page]:
        """Return every page by its file's name."""
        found = {}
        for path in sorted(self.folder.rglob("*.html")):
            name = path.relative_to(self.folder).as_posix()
            page = Page(name)
            Reader(page).feed(path.read_text(encoding="utf-8"))
            found[name] = page
        return found

    def where(self, page: str, link: str) -> tuple[str | None, str]:
        """Return the file and anchor that a link leads to; no file where it leaves the site."""
        base = self.address.rstrip("/") + "/"
        full = urlsplit(urljoin(base + page, link))
        start = urlsplit(base)
        if full.scheme not in ("http", "https"):
            return "", ""
        if full.netloc != start.netloc or not full.path.startswith(start.path):
            return None, ""
        name = unquote(full.path[len(start.path) :])
        if not name or name.endswith("/"):
            name += "index.html"
        elif (self.folder / name).is_dir():
            name += "/index.html"
        return name, unquote(full.fragment)

    def problems(self) -> list[str]:
        """Return everything wrong, one line each, beginning with the file's name."""
        return [*self._links(), *self._pages(), *self._orphans(), *self._styles_and_scripts()]

    def _links(self) -> Iterator[str]:
        for page in self.pages.values():
            for tag, link in page.links:
                name, anchor = self.where(page.name, link)
                if name is None:
                    yield f"{page.name}: <{tag}> leads to another origin: {link}"
                elif name and not (self.folder / name).is_file():
                    yield f"{page.name}: <{tag}> leads nowhere: {link}"
                elif anchor and name in self.pages and anchor not in self.pages[name].ids:
                    yield f"{page.name}: no such place on the page: {link}"

    def _pages(self) -> Iterator[str]:
        for page in self.pages.values():
            yield from (f"{page.name}: {problem}" for problem in dict.fromkeys(page.problems))
            if page.headings.count(1) != 1:
                yield f"{page.name}: {page.headings.count(1)} headings of the first level"
            for before, after in zip([0, *page.headings], page.headings, strict=False):
                if after > before + 1:
                    yield f"{page.name}: a heading of level {after} after one of level {before}"
                    break
            twice = sorted({name for name in page.ids if page.ids.count(name) > 1})
            if twice:
                yield f"{page.name}: ids used twice: {', '.join(twice)}"
            if not page.title or not page.language:
                yield f"{page.name}: no title or no language"

    def _orphans(self) -> Iterator[str]:
        seen, new = set(), ["index.html"]
        while new:
            name = new.pop()
            if name in seen or name not in self.pages:
                continue
            seen.add(name)
            for tag, link in self.pages[name].links:
                if tag == "a":
                    new.append(self.where(name, link)[0] or "")
        for name, page in self.pages.items():
            # only old links from elsewhere lead to the address of a page that has moved
            if name not in seen and name != "404.html" and not page.moved:
                yield f"{name}: no way leads here from the first page"

    def _styles_and_scripts(self) -> Iterator[str]:
        for path in sorted([*self.folder.rglob("*.css"), *self.folder.rglob("*.js")]):
            name = path.relative_to(self.folder).as_posix()
            text = path.read_text(encoding="utf-8", errors="replace")
            if path.suffix == ".css":
                for link in CSS_ADDRESS.findall(text):
                    if not link.startswith(("data:", "#")) and self.where(name, link)[0] is None:
                        yield f"{name}: leads to another origin: {link}"
            elif not name.startswith(NOT_OURS):
                for link in SCRIPT_ADDRESS.findall(text):
                    if not link[1:].startswith(NAMESPACE):
                        yield f"{name}: names another origin: {link[1:]}"


def main() -> int:
    """Print the problems of a site; return 1 if there are any."""
    if len(sys.argv) != 3:
        print("python -m scripts.check_site FOLDER ADDRESS", file=sys.stderr)
        return 2
    found = Site(Path(sys.argv[1]), sys.argv[2]).problems()
    print("\n".join(found))
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
