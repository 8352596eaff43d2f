"""A built page, its elements found by a parser and its text edited in place.

A page is never written anew from a tree: what is not edited stays to the letter, and so do the
hashes of what it holds.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

from scripts.say import Failure

VOID = frozenset(
    (
        "area",
        "base",
        "br",
        "col",
        "embed",
        "hr",
        "img",
        "input",
        "link",
        "meta",
        "source",
        "track",
        "wbr",
    )
)
"""Elements without an end tag."""


@dataclass(frozen=True)
class Element:
    """One element of a page; its places count from the start of the page's text."""

    tag: str
    attributes: Mapping[str, str]
    """Values without references (``&amp;``); "" for an attribute without a value."""
    start: int
    """Where its start tag begins."""
    inside: int
    """Where its content begins, behind the start tag."""
    end: int
    """Where its end tag begins; the same as `inside` for an element without one."""
    stop: int
    """Where whatever follows the element begins."""

    @property
    def classes(self) -> list[str]:
        """Return the words of its class attribute."""
        return self.attributes.get("class", "").split()


class _Reader(HTMLParser):
    """Collects the elements of a page in the order of their start tags."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self._lines = [0]
        for line in text.split("\n"):
            self._lines.append(self._lines[-1] + len(line) + 1)
        self._text = text
        self._open: list[int] = []
        self.found: list[Element] = []
        self.feed(text)
        self.close()

    def _place(self) -> int:
        line, column = self.getpos()
        return self._lines[line - 1] + column

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_startendtag(tag, attrs)
        if tag not in VOID:
            self._open.append(len(self.found) - 1)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        start = self._place()
        inside = start + len(self.get_starttag_text() or "")
        attributes = {name: value or "" for name, value in attrs}
        self.found.append(Element(tag, attributes, start, inside, inside, inside))

    def handle_endtag(self, tag: str) -> None:
        end = self._place()
        for depth in range(len(self._open) - 1, -1, -1):
            index = self._open[depth]
            item = self.found[index]
            if item.tag == tag:
                del self._open[depth:]
                stop = self._text.index(">", end) + 1
                self.found[index] = Element(
                    tag, item.attributes, item.start, item.inside, end, stop
                )
                return


class Page:
    """A page with its elements and the requested edits.

    >>> page = Page('<p id="a">one<br></p>', "index.html")
    >>> page.set(page.one("p", id="a"), "class", "b & c")
    >>> page.insert(page.one("br").stop, "two")
    >>> page.text()
    '<p id="a" class="b &amp; c">one<br>two</p>'
    """

    def __init__(self, text: str, name: str) -> None:
        self.source = text
        self.name = name
        self.elements = _Reader(text).found
        self._edits: list[tuple[int, int, str]] = []

    def find(self, tag: str, **wanted: str) -> list[Element]:
        """Return the elements of a tag with the given attributes.

        Parameters
        ----------
        tag
            Name of the element, in small letters.
        wanted
            Attributes and their values, "_" for "-" and at the end of Python's own words. Of
            `class_`, each word must be among the element's.
        """
        classes = wanted.pop("class_", "").split()
        attributes = {name.rstrip("_").replace("_", "-"): v for name, v in wanted.items()}
        return [
            item
            for item in self.elements
            if item.tag == tag
            and all(item.attributes.get(name) == value for name, value in attributes.items())
            and all(word in item.classes for word in classes)
        ]

    def one(self, tag: str, **wanted: str) -> Element:
        """Return the only element of its kind.

        Raises
        ------
        Failure
            Where there is none or more than one, naming page and element.
        """
        found = self.find(tag, **wanted)
        if len(found) != 1:
            raise self.fault(f"{len(found)} elements <{tag}> with {wanted} where one is expected")
        return found[0]

    def fault(self, what: str) -> Failure:
        """Return the error for a page that is not as the theme used to write it."""
        return Failure(
            f"{self.name}: {what}. The theme seems to have changed; what works on its pages must "
            "follow."
        )

    def content(self, item: Element) -> str:
        """Return the text between an element's tags, as it stands in the page."""
        return self.source[item.inside : item.end]

    def insert(self, place: int, text: str) -> None:
        """Put text at a place; texts for one place keep the order of the calls."""
        self._edits.append((place, place, text))

    def replace(self, start: int, stop: int, text: str) -> None:
        """Replace a text."""
        self._edits.append((start, stop, text))

    def set(self, item: Element, attribute: str, value: str) -> None:
        """Give an element an attribute that it does not have."""
        if attribute in item.attributes:
            raise self.fault(f"<{item.tag}> has the attribute {attribute} already")
        slash = 1 if self.source[item.inside - 2] == "/" else 0
        self.insert(item.inside - 1 - slash, f' {attribute}="{escape(value, quote=True)}"')

    def rename(self, item: Element, old: str, new: str) -> None:
        """Put another text in the place of one that a start tag holds once."""
        tag = self.source[item.start : item.inside]
        if tag.count(old) != 1:
            raise self.fault(f"{tag} does not hold {old} once")
        start = item.start + tag.index(old)
        self.replace(start, start + len(old), new)

    def line(self, item: Element) -> tuple[int, int]:
        """Return where an element starts and stops with the space before and the line's end."""
        start = item.start
        while start and self.source[start - 1] in " \t":
            start -= 1
        return start, self.after_line(item.stop)

    def after_line(self, place: int) -> int:
        """Return the place behind the end of line that follows, or the place itself."""
        return place + self.source.startswith("\n", place)

    def text(self) -> str:
        """Return the page with all edits made.

        Raises
        ------
        ValueError
            Where two edits overlap.
        """
        edits = sorted(self._edits, key=lambda edit: edit[:2])
        for (_, stop, _), (start, _, _) in pairwise(edits):
            if start < stop:
                raise ValueError(f"{self.name}: two edits overlap at {start}")
        parts, place = [], 0
        for start, stop, text in edits:
            parts += [self.source[place:start], text]
            place = stop
        return "".join([*parts, self.source[place:]])


def read(path: Path, site: Path) -> Page:
    """Return a page of a built site."""
    return Page(path.read_text(encoding="utf-8"), path.relative_to(site).as_posix())
