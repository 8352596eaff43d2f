"""Links into the glossary: each word once on a page, to an entry that exists."""

from __future__ import annotations

import re

from markdown import Markdown
from markdown.treeprocessors import Treeprocessor

from scripts.handbook import glossary


class _File:
    """A page's file, as MkDocs' link processor carries it."""

    def __init__(self, src_uri: str) -> None:
        self.src_uri = src_uri


class _Relative(Treeprocessor):
    """Stands in for MkDocs' link processor."""

    def __init__(self, md: Markdown, src_uri: str) -> None:
        super().__init__(md)
        self.file = _File(src_uri)


def page(text: str, source: str = "make/cutting.md") -> str:
    """Return a page's HTML with its glossary links."""
    md = Markdown(extensions=["def_list", "tables"])
    md.treeprocessors.register(_Relative(md, source), "relpath", 0)
    glossary.register(md)
    return md.convert(text)


def test_every_linked_word_has_its_entry() -> None:
    """No link leads to an entry that is not there."""
    assert set(glossary.LINKED.values()) <= glossary.entries()


def test_entries_have_names_of_their_own() -> None:
    """Two entries never share an address."""
    text = (glossary.DOCS / glossary.GLOSSARY).read_text(encoding="utf-8")
    named = [glossary.anchor(term) for term in re.findall(r"^(.+)\n:   ", text, re.MULTILINE)]
    assert len(named) == len(set(named))
    found = page(text, glossary.GLOSSARY)
    assert all(f'<dt id="{name}">' in found for name in named)


def test_first_use_only_is_linked() -> None:
    """The first use links; later ones, headings, links and code stay as they are."""
    found = page(
        "# Flutter\n\nA `flutter` in [flutter](x.md).\n\n"
        "*Speed* of Flutter: flutter comes.\n\n- Flutter again, and veneers."
    )
    assert found.count('class="fs-term"') == 2
    assert (
        '<em>Speed</em> of <a class="fs-term" href="../../start/glossary/#flutter">Flutter</a>: '
        "flutter comes." in found
    )
    assert '<a class="fs-term" href="../../start/glossary/#veneer">veneers</a>' in found


def test_longer_word_wins_and_parts_of_words_do_not() -> None:
    """A "shear modulus" is no "modulus", and "kerfs" and "re-dope" are no uses."""
    found = page("The shear modulus, then kerfs and re-dope.")
    assert found.count("fs-term") == 1
    assert "#shear-modulus" in found
    assert "#kerf" not in found
    assert "#dope" not in found


def test_glossary_does_not_link_itself() -> None:
    """The glossary's own text carries no such links."""
    assert "fs-term" not in page("Flutter\n:   A flutter of a fin.", glossary.GLOSSARY)
