"""A reader at a calculator: typing, mistakes, links, units, moving to another page."""

from __future__ import annotations

import json
import math
from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, Page

from calc import calculators
from calc.frontends import browser as python
from calc.render import html
from scripts.server import Server

from .conftest import until, watched

MAIN = "fin-check"
BAD = ["", "thick", "-3", "1e99", "NaN", "3 parsec", "9" * 300]
Visit = Callable[..., Page]


def settled(page: Page) -> None:
    """Wait until the calculator has nothing left to do."""
    page.wait_for_timeout(400)
    until(page, "!document.querySelector('.fs-calc [aria-busy]')")


def result(page: Page) -> str:
    """Return the answer's text."""
    return page.locator(".fs-calc [data-fragment=result]").first.inner_text()


def test_page_is_complete_without_javascript(
    server: Server, pages: dict[str, str], chromium: object
) -> None:
    """The build-computed answer is readable where scripts are off."""
    context = chromium.new_context(java_script_enabled=False)  # type: ignore[attr-defined]
    page = context.new_page()
    page.goto(server.address + pages[MAIN])
    assert page.locator(".fs-calc .fs-verdict").inner_text().strip()
    assert "Without JavaScript" in page.locator(".fs-calc noscript").inner_text()
    context.close()


def test_typing_changes_answer_address_and_memory(visit: Visit) -> None:
    """A new number gives a new answer, a readable address and the same form on the next visit."""
    page = visit(MAIN)
    before = result(page)
    page.locator(".fs-calc [name=root]").fill("4.25in")
    settled(page)
    assert result(page) != before
    assert "root=4.25in" in page.url
    assert page.locator(".fs-calc .fs-stale").count() == 0
    assert page.locator(".fs-calc .fs-status").inner_text().strip()
    address = page.url.partition("?")[0]
    page.goto(address)
    until(page, "document.querySelector('.fs-calc [name=root]').value === '4.25'")
    settled(page)
    assert "4.25" in page.locator(".fs-calc [name=root]").input_value()


def test_link_is_the_filled_in_page(visit: Visit) -> None:
    """An address with inputs fills the form and answers without a touch."""
    page = visit(MAIN, "?root=80mm&thickness=1/8in")
    settled(page)
    assert page.locator(".fs-calc [name=root]").input_value() == "80"
    assert page.locator(".fs-calc [name='root:unit']").input_value() == "mm"
    assert page.locator(".fs-calc [name=thickness]").input_value() == "1/8"
    assert page.locator(".fs-calc .fs-stale").count() == 0


@pytest.mark.parametrize("typed", ["4.25", "2.", "7 mm", "3  1/2 in", "it's (a) @*!~%&+=# é"])
def test_page_and_python_split_units_and_write_addresses_alike(
    typed: str, server: Server, pages: dict[str, str], page: Page
) -> None:
    """A link made by the page is one that Python would write, and fills the form likewise."""
    page.goto(server.address + pages[MAIN])
    until(page, "document.querySelector('.fs-calc')?.dataset.state")
    page.locator(".fs-calc [name=root]").fill(typed)
    until(page, "location.search")
    sent = f"{typed}in" if typed[-1] in "0123456789." else typed
    calculator = calculators.load(MAIN)
    assert page.evaluate("location.search") == f"?{calculator.query({'root': sent})}"
    page.reload()
    until(page, "document.querySelector('.fs-calc')?.dataset.state")
    root = next(item for item in calculator.inputs if item.name == "root")
    box, unit = html.split_unit(root, " ".join(sent.split()))
    assert page.locator(".fs-calc [name=root]").input_value() == box
    assert page.locator(".fs-calc [name='root:unit']").input_value() == unit


def test_verdict_comes_before_the_rest_and_stays(visit: Visit) -> None:
    """On the way to a full answer its own verdict stands already, undimmed and in its place."""
    page = visit(MAIN)
    page.evaluate(
        """() => {
          const place = document.querySelector('.fs-calc [data-fragment=result]');
          window.early = [];
          new MutationObserver(() => {
            const fresh = place.querySelector(':scope > .fs-verdict.fs-fresh');
            if (fresh && !window.early.length) window.early.push(
              fresh.innerText, place.getAttribute('aria-busy'), getComputedStyle(fresh).opacity,
              fresh.offsetTop, fresh.offsetHeight);
          }).observe(place, {childList: true});
        }"""
    )
    page.locator(".fs-calc [name=root]").fill("4.35in")
    settled(page)
    verdict, busy, opacity, *place = page.evaluate("window.early")
    assert (busy, opacity) == ("true", "1")
    final = page.locator(".fs-calc .fs-verdict").first
    assert verdict == final.inner_text()
    assert place == final.evaluate("part => [part.offsetTop, part.offsetHeight]")
    assert page.locator(".fs-calc .fs-fresh").count() == 0


def test_unit_chooser_converts_the_number(visit: Visit) -> None:
    """Another unit means the same length, so the number follows and the answer stays."""
    page = visit(MAIN, "?root=3in")
    settled(page)
    before = result(page)
    page.locator(".fs-calc [name='root:unit']").select_option("mm")
    until(page, "document.querySelector('.fs-calc [name=root]').value === '76.2'")
    settled(page)
    assert result(page) == before


def test_start_over_brings_the_example_back(visit: Visit) -> None:
    """Reset restores fields, answer and address, at once."""
    page = visit(MAIN)
    built = result(page)
    page.locator(".fs-calc [name=root]").fill("5in")
    settled(page)
    page.locator(".fs-calc [data-action=reset]").click()
    assert result(page) == built
    assert "root" not in page.url
    assert page.locator(".fs-calc .fs-stale").count() == 0


@pytest.mark.parametrize("slug", calculators.SLUGS)
def test_bad_inputs_get_a_message_beside_the_field(slug: str, visit: Visit) -> None:
    """What is typed stays, the message stands by the field, the last good answer stays, dimmed."""
    page = visit(slug)
    page.locator(".fs-calc form").first.evaluate("(form) => form.requestSubmit()")
    until(page, "!document.querySelector('.fs-calc [aria-busy]')")
    good = result(page)
    calculator = calculators.load(slug)
    said = 0
    boxes = []
    for item in calculator.all_inputs:
        field = page.locator(f".fs-calc .fs-field[data-name='{item.name}']").first
        if field.evaluate("(f) => !f.hidden && Boolean(f.querySelector('input[type=text]'))"):
            boxes.append((item, field))
    # A dozen fields of a long form show how the page behaves; the fast tests try every mistake in
    # every field.
    for number, (item, field) in enumerate(boxes[:: math.ceil(len(boxes) / 12)]):
        field.evaluate("(f) => f.closest('details')?.setAttribute('open', '')")
        box = field.locator("input[type=text]")
        usual = box.input_value()
        bad = BAD[number % len(BAD)]
        box.fill(bad)
        box.evaluate("(b) => b.form.requestSubmit()")
        until(page, "!document.querySelector('.fs-calc [aria-busy]')")
        assert box.input_value() == bad
        # what Python says of the same texts, from reading them and from answering
        texts = {**calculator.defaults(), item.name: bad}
        errors = json.loads(python.answer(slug, json.dumps(texts)))["errors"]
        message = field.locator(".fs-error")
        if item.name in errors:
            said += 1
            assert message.is_visible(), f"{item.name}={bad!r} says nothing"
            assert message.inner_text().startswith("Error:")
            assert box.get_attribute("aria-invalid") == "true"
            assert message.get_attribute("id") in (box.get_attribute("aria-describedby") or "")
            assert page.locator(".fs-calc [data-fragment=result].fs-stale").count() == 1
            assert result(page)
        else:
            assert not message.is_visible(), f"{item.name}={bad!r} is a good input"
        box.fill(usual)
    assert said, "no mistake was noticed"
    page.locator(".fs-calc form").first.evaluate("(form) => form.requestSubmit()")
    until(page, "!document.querySelector('.fs-calc [aria-busy]')")
    assert page.locator(".fs-calc .fs-error:visible").count() == 0
    assert result(page) == good


def test_moving_to_another_page_keeps_python_alive(
    visit: Visit, server: Server, pages: dict[str, str]
) -> None:
    """Under instant navigation the second page's calculator is live at once."""
    page = visit(MAIN)
    page.evaluate("window.stillHere = true")
    # The theme, which makes moving instant, starts when there is nothing else to do.
    until(page, "Boolean(window.document$)")
    links = page.locator("nav a[href], .md-tabs a[href]")
    target = next(
        href
        for href in links.evaluate_all("(all) => all.map((a) => a.href)")
        if href.startswith(server.address)
        and href.partition("#")[0] != page.url.partition("#")[0].partition("?")[0]
    )
    page.evaluate("(href) => [...document.links].find((a) => a.href === href).click()", target)
    until(page, f"location.href.startsWith({target!r})")
    page.go_back()
    until(page, "Boolean(document.querySelector('.fs-calc'))")
    until(page, "document.querySelector('.fs-calc')?.dataset.state === 'live'", seconds=5)
    assert page.evaluate("window.stillHere") is True
    assert server.seen.count("/assets/app/worker.js") == 1
    page.locator(".fs-calc [name=root]").fill("4.5in")
    settled(page)
    assert page.locator(".fs-calc .fs-stale").count() == 0


def test_nothing_leaves_the_site(visit: Visit, server: Server, context: BrowserContext) -> None:
    """No request to another origin, no cookie, no complaint in the console."""
    page = visit(MAIN)
    page.locator(".fs-calc [name=root]").fill("4in")
    settled(page)
    asked = page.asked  # type: ignore[attr-defined]
    strangers = [u for u in asked if not u.startswith((server.address, "data:", "blob:"))]
    assert strangers == []
    assert context.cookies() == []
    said = page.said  # type: ignore[attr-defined]
    assert [line for line in said if line.startswith("error")] == []


def test_works_where_storage_is_refused(
    server: Server, pages: dict[str, str], context: BrowserContext
) -> None:
    """A window that refuses local storage and service workers still computes."""
    context.add_init_script(
        """Object.defineProperty(window, 'localStorage', {get() { throw new Error('refused'); }});
        Object.defineProperty(navigator, 'serviceWorker', {value: undefined});"""
    )
    page = watched(context.new_page())
    page.goto(server.address + pages[MAIN])
    page.locator(".fs-calc [name=root]").fill("4in")
    settled(page)
    assert page.locator(".fs-calc .fs-stale").count() == 0
    assert "root=4in" in page.url
