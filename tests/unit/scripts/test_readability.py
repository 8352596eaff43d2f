"""The readability figure: what counts as prose, and which of two texts is harder."""

from __future__ import annotations

from scripts import readability

PLAIN = "Cut the fin. Sand the edge. Glue it to the tube and let it dry. Then go and fly it."
LEARNED = (
    "Aeroelastic instabilities necessitate comprehensive characterisation of orthotropic "
    "constitutive parameters, notwithstanding considerable interlaboratory variability."
)


def test_learned_text_is_harder_than_plain_text() -> None:
    """The figure tells a builder's sentence from a thesis."""
    plain, learned = (readability.reading(text).grade for text in (PLAIN, LEARNED))
    assert plain < 4.0
    assert learned > 18.0


def test_tables_code_and_addresses_are_no_prose() -> None:
    """What is not read as a sentence does not count, and a link counts as its words."""
    dressed = (
        "---\ntitle: Aerodynamic\n---\n# Interdisciplinary\n\n| incomprehensibility | x |\n\n"
        "```calculator fin-check\nthickness = 1/8 in\n```\n\n"
        "[Cut the fin](incomprehensibilities.md). Sand the edge. **Glue** it to the tube and let "
        "it dry.\nThen go and fly it.\n"
    )
    assert readability.reading(dressed) == readability.reading(PLAIN)


def test_pages_of_the_handbook_are_read() -> None:
    """The list starts with the hardest and holds the chapters."""
    grades = [read.grade for _, read in readability.pages()]
    assert grades == sorted(grades, reverse=True)
    assert "materials/balsa.md" in dict(readability.pages())
