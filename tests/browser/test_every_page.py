"""Every page, opened once: whatever can be asked of it, for every reader, is asked then."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from scripts.server import Server

from .conftest import watched
from .sweep import BENCH, PHONE, ZOOMED, Sweep, addresses

PARTS = 5  # of the handbook: a failure names its pages sooner
PAPER = {"width": 688, "height": 990}  # A4 between the margins that print.css sets, at 96 per inch
# One page of each kind: a door, each sort of calculator, prose, drawings, formulas, code, long
# tables, the lost page.
KEY_PAGES = [
    "",
    "check/fin-check/",
    "choose/material-finder/",
    "fly/field-card/",
    "make/cutting-plan/",
    "teach/",
    "materials/balsa/",
    "understand/plies/",
    "reference/methods/",
    "reference/bulk/",
    "reference/validation/",
    "404.html",
]
ASK = """async () => {
  await sweep.ready();
  sweep.unfold();
  return [...await sweep.both(), ...sweep.nameless(), ...sweep.small(), ...sweep.moving(),
    ...sweep.spaced()];
}"""


@pytest.mark.parametrize("part", range(PARTS))
def test_every_page_on_a_phone_at_any_zoom(
    part: int, site: Path, strict: Server, sweep: Callable[..., Sweep]
) -> None:
    """No page troubles axe by day or night, lacks a name, moves, scrolls sideways or tells anybody.

    Under the strict policy: nothing is blocked, asked for elsewhere, sent or stored but what the
    site says it stores. Folded parts are open.
    """
    names = addresses(site)
    assert names.count("404.html") == 1
    asked = sweep(
        viewport=PHONE, device_scale_factor=2, color_scheme="light", reduced_motion="reduce"
    )
    page = watched(asked.context.new_page())
    complaints: list[str] = []
    for name in names[part::PARTS]:
        page.set_viewport_size(PHONE)
        page.goto(strict.address + name, wait_until="commit")
        complaints += page.evaluate(ASK)
        complaints += asked.width(page, ZOOMED, 450)
        complaints += asked.private(page, strict.address)
    # What a page does late counts too.
    page.wait_for_load_state("networkidle")
    complaints += asked.private(page, strict.address)
    assert complaints == []


def test_key_pages_on_a_bench_and_on_paper(strict: Server, sweep: Callable[..., Sweep]) -> None:
    """On a wide screen axe finds nothing by day or night; paper gets the text and no furniture."""
    asked = sweep(viewport=BENCH, color_scheme="light")
    page = watched(asked.context.new_page())
    complaints: list[str] = []
    for name in KEY_PAGES:
        page.goto(strict.address + name, wait_until="commit")
        page.evaluate("sweep.ready()")
        page.evaluate("sweep.unfold()")
        complaints += page.evaluate("sweep.both()")
        page.set_viewport_size(PAPER)
        page.emulate_media(media="print")
        complaints += page.evaluate("sweep.printed()")
        page.emulate_media(media="screen")
        page.set_viewport_size(BENCH)
    assert complaints == []


FIRST_FRAME = """() => new Promise((go) => {
  const tell = (list) => {
    const [first] = performance.getEntriesByName('first-contentful-paint');
    const {startTime, element} = list.getEntries().at(-1);
    go([startTime - first.startTime, Boolean(element?.closest('.md-content'))]);
  };
  new PerformanceObserver(tell).observe({type: 'largest-contentful-paint', buffered: true});
})"""


@pytest.mark.parametrize("name", KEY_PAGES[:-1])
def test_first_frame_has_the_text_or_the_answer_in_it(
    name: str, server: Server, chromium: Browser
) -> None:
    """What is largest on a page's first screen is painted at once, not after a header alone."""
    context = chromium.new_context(viewport=PHONE)
    page = watched(context.new_page())
    page.goto(server.address + name)
    later, inside = page.evaluate(FIRST_FRAME)
    context.close()
    assert later == pytest.approx(0.0, abs=1.0)
    assert inside
