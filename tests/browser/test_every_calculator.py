"""Every calculator, taken once through all it can show; whatever can be asked is asked then."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser

from calc import calculators
from scripts.server import Handler, Server

from .conftest import until, watched
from .sweep import PHONE, ZOOMED, Sweep

# A worker that is ready at once, never answers a form, however often asked, and dies of another.
DIES = """
postMessage({type: 'live', version: 'x', milliseconds: 1, trap: 0});
let first;
self.onmessage = ({data}) => {
  if (data.type !== 'answer') return;
  const form = JSON.stringify(data.inputs);
  first ??= form;
  if (form !== first) throw new Error('out of memory');
};
"""


def replies(script: str) -> Callable[[Handler, str], bool]:
    """Return an intercept that puts this script in the worker's place."""

    def intercept(handler: Handler, path: str) -> bool:
        if not path.endswith("worker.js"):
            return False
        handler.send_response(200)
        handler.send_header("Content-Type", "text/javascript")
        handler.send_header("Content-Length", str(len(script)))
        handler.end_headers()
        handler.wfile.write(script.encode())
        return True

    return intercept


@pytest.fixture(scope="module")
def phone(chromium: Browser) -> Iterator[Sweep]:
    """Return one phone for all calculators, so that it fetches Python once."""
    asked = Sweep(chromium, viewport=PHONE, color_scheme="light", reduced_motion="reduce")
    yield asked
    asked.close()


# the comparison takes links, and its boxes are folded away at first
@pytest.mark.parametrize("slug", [slug for slug in calculators.SLUGS if slug != "compare"])
def test_all_that_a_calculator_can_show(
    slug: str, phone: Sweep, strict: Server, pages: dict[str, str]
) -> None:
    """Waiting, broken down, answered, refused: axe is content by day and night, words tell it.

    Nothing moves, has small targets or scrolls sideways, and under the strict policy Python starts
    and the inputs go nowhere.
    """
    complaints: list[str] = []

    def see(state: str) -> None:
        found = page.evaluate("sweep.both('.fs-calc')")
        found += page.evaluate("[...sweep.nameless(), ...sweep.small(), ...sweep.moving()]")
        found += phone.width(page, ZOOMED, 450)
        page.set_viewport_size(PHONE)
        complaints.extend(f"{state}: {each}" for each in found)

    def ask(text: str) -> None:
        box.fill(text)
        box.press("Enter")

    strict.intercept = replies(DIES)
    page = watched(phone.context.new_page())
    # What the last calculator left, perhaps while it closed, goes first.
    phone.context.new_cdp_session(page).send(
        "Storage.clearDataForOrigin",
        {"origin": strict.address.rstrip("/"), "storageTypes": "local_storage"},
    )
    page.goto(strict.address + pages[slug], wait_until="commit")
    page.evaluate("sweep.ready()")
    number = next(
        item.name
        for item in calculators.load(slug).all_inputs
        if item.kind not in ("choice", "material", "text") and not item.shown_when
    )
    box = page.locator(f".fs-calc [name={number}]").first
    status = page.locator(".fs-calc .fs-status").first
    usual = box.input_value()

    ask(f"{usual}5")
    until(page, "Boolean(document.querySelector('.fs-calc [aria-busy=true]'))")
    see("waiting")
    complaints += phone.private(page, strict.address)

    ask(usual)
    until(page, "document.querySelector('.fs-calc')?.dataset.state === 'failed'")
    assert len(status.inner_text()) > 20
    see("broken down")
    assert [line for line in page.said if "out of memory" not in line] == []  # type: ignore[attr-defined]
    page.said.clear()  # type: ignore[attr-defined]

    strict.intercept = None
    page.locator(".fs-calc [data-action=retry]").first.click()
    until(page, "document.querySelector('.fs-calc')?.dataset.state === 'live'")
    until(page, "!document.querySelector('.fs-calc :is([aria-busy], .fs-stale)')")
    assert re.search(r"\d", status.inner_text()), "the answer is said with a number"
    see("answered")

    ask("a secret")
    until(page, f"document.querySelector('.fs-calc [name={number}]').ariaInvalid === 'true'")
    described = (box.get_attribute("aria-describedby") or "").split()
    said = [page.locator(f"[id='{key}']").first.inner_text() for key in described]
    assert any(text.startswith("Error:") for text in said), said
    assert page.locator(".fs-calc .fs-stale").count()
    see("refused")
    complaints += [f"told: {each.url}" for each in phone.requests if "secret" in each.url]
    complaints += phone.private(page, strict.address)

    page.close()
    assert complaints == []
