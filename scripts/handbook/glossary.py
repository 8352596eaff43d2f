"""Links the first use of a glossary's word on each page to its entry in the glossary.

The words and their entries are those of the glossary page itself, so a new entry needs nothing
here. Only words in `LINKED` are linked: those that a newcomer stumbles over. Headings, links,
code and the glossary itself stay as they are.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from xml.etree.ElementTree import Element

from markdown import Markdown
from markdown.treeprocessors import Treeprocessor

GLOSSARY = "start/glossary.md"
DOCS = Path(__file__).resolve().parents[2] / "docs"
LINKED: Mapping[str, str] = {
    "airfoil": "airfoil",
    "angle of attack": "angle-of-attack",
    "butt joint": "butt-joint",
    "calibers": "caliber",
    "caliber": "caliber",
    "centre of pressure": "balance-point",
    "coupler": "coupler",
    "divergence": "divergence",
    "dope": "dope",
    "doubler": "doubler",
    "dynamic pressure": "dynamic-pressure",
    "fillets": "fillet",
    "flutter": "flutter",
    "glassine": "glassine",
    "governs": "governs",
    "kerf": "kerf",
    "lathe checks": "lathe-checks",
    "leading edge": "leading-edge",
    "Mach number": "mach-number",
    "machine direction": "machine-direction",
    "microballoons": "microballoons",
    "modulus": "modulus",
    "obeche": "obeche",
    "okoume": "obeche",
    "panel index": "panel-index",
    "range safety officer": "range-safety-officer",
    "rolling shear": "rolling-shear",
    "sanding sealer": "sanding-sealer",
    "scarf": "scarf",
    "shear modulus": "shear-modulus",
    "silkspan": "tissue",
    "static margin": "static-margin",
    "through-wall tab": "through-wall-tab",
    "trailing edge": "trailing-edge",
    "veneers": "veneer",
    "warp and weft": "warp-and-weft",
    "wrinkling": "wrinkling",
}
"""Words that are linked, and the entry that explains each."""
LEFT = {"a", "code", "pre", "h1", "h2", "h3", "h4", "h5", "h6", "dt", "th", "summary", "script"}
"""Elements whose text stays as it is."""
PLACES = {"p", "li", "td", "dd"}
"""Elements whose text is read for words."""


def anchor(term: str) -> str:
    """Return the name of a glossary entry in an address.

    >>> anchor("A, B and C grain (cut)"), anchor("Mach number"), anchor("GPa, MPa; Msi")
    ('a', 'mach-number', 'gpa')
    """
    first = re.split(r"[,;(]", term)[0]
    return re.sub(r"[^a-z0-9]+", "-", first.lower()).strip("-")


class GlossaryLinks(Treeprocessor):
    """Names the glossary's entries, and links words on every other page to them."""

    def run(self, root: Element) -> None:
        """Change a page's tree in place."""
        relative = next((t for t in self.md.treeprocessors if hasattr(t, "file")), None)
        file = getattr(relative, "file", None)
        source = str(getattr(file, "src_uri", ""))
        if source == GLOSSARY:
            for entry in root.iter("dt"):
                entry.set("id", anchor("".join(entry.itertext())))
        elif source.endswith(".md"):
            self._link(root, address(source))

    def _link(self, root: Element, glossary: str) -> None:
        left = dict(LINKED)
        pattern = _pattern(left)
        for element in _places(root):
            if not left:
                return
            # the element's own text first, then what follows each of its children
            for index in range(-1, len(element)):
                child = None if index < 0 else element[index]
                text = element.text if child is None else child.tail
                found = pattern.search(text or "")
                if not text or not found:
                    continue
                word = next(each for each in left if each.lower() == found[0].lower())
                target = left[word]
                for each in [name for name, to in left.items() if to == target]:
                    del left[each]
                link = Element("a", {"class": "fs-term", "href": f"{glossary}#{target}"})
                link.text = found[0]
                link.tail = text[found.end() :]
                if child is None:
                    element.text = text[: found.start()]
                else:
                    child.tail = text[: found.start()]
                element.insert(index + 1, link)
                if not left:
                    return
                pattern = _pattern(left)
                break


def address(source: str) -> str:
    """Return the glossary's address as seen from a page's file.

    >>> address("index.md"), address("make/index.md"), address("make/cutting.md")
    ('start/glossary/', '../start/glossary/', '../../start/glossary/')
    """
    parts = source.removesuffix(".md").split("/")
    if parts[-1] == "index":
        parts.pop()
    return "../" * len(parts) + GLOSSARY.removesuffix(".md") + "/"


def _pattern(words: Mapping[str, str]) -> re.Pattern[str]:
    longest = sorted(words, key=len, reverse=True)
    return re.compile(rf"(?<![\w-])(?:{'|'.join(map(re.escape, longest))})(?![\w-])", re.IGNORECASE)


def _places(element: Element) -> Iterator[Element]:
    for child in element:
        if child.tag in LEFT:
            continue
        if child.tag in PLACES:
            yield child
        yield from _places(child)


def entries() -> set[str]:
    """Return the names of all entries of the glossary, read from its page."""
    text = (DOCS / GLOSSARY).read_text(encoding="utf-8")
    return {anchor(term) for term in re.findall(r"^(.+)\n:   ", text, flags=re.MULTILINE)}


def register(md: Markdown) -> None:
    """Add the step that links words, after all links of the page have their final addresses."""
    md.treeprocessors.register(GlossaryLinks(md), "glossary", -10)
