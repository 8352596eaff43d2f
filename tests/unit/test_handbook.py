"""The Markdown extension: how prose writes sizes and properties."""

from __future__ import annotations

import re

import pytest
from markdown import markdown

from calc import prose
from calc.render import html
from calc.render.values import TRADE, with_unit
from scripts.handbook import Handbook, PageError


def page(text: str) -> str:
    """Return a page's text as HTML."""
    return markdown(text, extensions=[Handbook(), "tables"])


def test_trade_size_is_followed_by_millimetres_once() -> None:
    """A page's sentences give millimetres where they first name a size, and only there."""
    found = page("Take 1/8 in balsa.\n\nThe 1/8 in sheet, or 1 1/2 in of it, or 3/32 in.")
    assert "Take 1/8 in (3.2 mm) balsa." in found
    assert "The 1/8 in sheet, or 1 1/2 in (38 mm) of it, or 3/32 in (2.4 mm)." in found


def test_sizes_elsewhere_are_left_alone() -> None:
    """Headings, tables, code, quotes and addresses stay as they are written."""
    text = (
        "# In 1/8 in\n\n> 1/8 in\n\n`1/8 in` and [here](x.md?a=1/8in)\n\n| a |\n|---|\n| 1/8 in |"
    )
    assert "mm" not in page(text)


def test_figures_and_tables_of_pages_use_the_same_rule() -> None:
    """Pictures in prose give sizes in inches with millimetres, and properties in SI units."""
    drawn = html.figure_html(prose.drawn("fin-check"), TRADE, "x")
    assert "3 in (76 mm)" in drawn
    claims = html.figure_html(prose.NAMES["balsa_claims"]("stiffness"), TRADE, "y")
    assert "GPa" in claims
    assert "kg/m³" in claims
    assert not re.search(r"ksi|Msi|lb/ft", claims)
    assert with_unit(100.0, "speed", TRADE) == "100 m/s"


def test_page_that_cannot_be_computed_is_refused() -> None:
    """An expression that fails stops the build."""
    with pytest.raises(PageError):
        page('{{ answer("no-such-calculator").margin }}')
