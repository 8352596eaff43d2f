"""What a calculator's own Print button puts on paper: the calculator alone, on a page or two."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page

from calc import calculators

from .conftest import until

HELD = """() => {
  window.print = () => {};
  document.querySelector('.fs-calc [data-action=print]').click();
}"""


@pytest.mark.parametrize("slug", calculators.SLUGS)
def test_a_calculator_prints_on_two_pages(slug: str, visit: Callable[..., Page]) -> None:
    """Its example takes two pages of A4 or Letter at most, and the chapter around it stays away."""
    page = visit(slug, live=False)
    until(page, "document.querySelector('.fs-calc')?.dataset.state")
    for paper in ("A4", "Letter"):
        page.evaluate(HELD)  # each time, because printing ends with the whole page back
        pages = len(re.findall(rb"/Type\s*/Page[^s]", page.pdf(format=paper)))
        assert 1 <= pages <= 2, f"{slug} on {paper}: {pages} pages"
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    assert page.evaluate("document.querySelector('[data-handout], html[data-print]')") is None
