"""Readers who see, hear or type differently: what unfolds, keyboard, screen reader, forced colours.

What is asked of every page and of every calculator is in the files named after them.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from scripts.server import Server
from scripts.test import PORT

from .conftest import until, watched
from .sweep import BENCH, MAIN, PHONE, Sweep


def with_control(site: Path) -> str:
    """Return a page that offers to keep the handbook."""
    return next(
        path.relative_to(site).as_posix().removesuffix("index.html")
        for path in sorted(site.rglob("index.html"))
        if 'class="fs-keep"' in path.read_text(encoding="utf-8")
    )


@pytest.fixture
def opened(sweep: Callable[..., Sweep], server: Server) -> Callable[..., Page]:
    """Return a function that opens a page in a window of its own, Python asleep unless wanted."""

    def open_page(name: str = "", **options: Any) -> Page:
        page = watched(sweep(**{"viewport": PHONE, **options}).context.new_page())
        page.goto(server.address + name)
        page.evaluate("sweep.ready()")
        return page

    return open_page


# what unfolds


def test_axe_finds_nothing_in_search_and_offline(
    opened: Callable[..., Page], server: Server, pages: dict[str, str], site: Path
) -> None:
    """Search results, the kept handbook's control, and a page read without the server."""
    page = opened(viewport=BENCH)
    page.locator("input[name=query]").click()
    page.locator("input[name=query]").press_sequentially("balsa", delay=40)
    until(page, "document.querySelectorAll('.md-search-result__item').length > 0")
    complaints = page.evaluate("sweep.look()")
    page.keyboard.press("Escape")
    page.goto(server.address + with_control(site))
    until(page, "document.querySelector('.fs-keep')?.dataset.state === 'absent'")
    # Keeping lasts until it has been looked at.
    looked_at = threading.Event()
    server.intercept = lambda _, path: "/rt/" in path and not looked_at.wait(60)
    page.locator(".fs-keep button", has_text="Keep for offline use").click()
    until(page, "document.querySelector('.fs-keep')?.dataset.state === 'keeping'")
    complaints += page.evaluate("sweep.look()")
    looked_at.set()
    until(page, "document.querySelector('.fs-keep')?.dataset.state === 'kept'")
    complaints += page.evaluate("sweep.look()")
    server.stop()
    page.context.set_offline(True)
    page.goto(f"http://127.0.0.1:{PORT}/{pages[MAIN]}")
    page.locator(".fs-calc [name=root]").fill("4.4in")
    until(page, "!document.querySelector('.fs-calc .fs-stale')")
    complaints += page.evaluate("sweep.look()")
    assert complaints == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_in_the_open_menu(scheme: str, opened: Callable[..., Page]) -> None:
    """The phone's menu, in the colours that the reader's device asks for."""
    page = opened(color_scheme=scheme, reduced_motion="reduce")
    shown = page.evaluate("document.body.dataset.mdColorScheme")
    assert shown == {"light": "default", "dark": "slate"}[scheme]
    page.locator(".md-header label[for=__drawer]").click()
    menu = "document.querySelector('.md-sidebar--primary')"
    until(page, f"{menu}.checkVisibility({{visibilityProperty: true}})")
    assert page.evaluate("sweep.look()") == []


# keyboard

# What has the focus: a name for it, and whether the reader can see it and that it has it. A part
# is covered when none of nine points of it is on top at its place.
FOCUSED = """async () => {
  // two frames: the browser scrolls to it
  await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  const element = document.activeElement;
  if (!element || element === document.body) return null;
  // A ring drawn around a card or beside a hidden box counts as its own.
  const beside = element.nextElementSibling;
  const around = [element, element.closest('li'), element.parentElement,
    ...(beside?.tagName === 'LABEL' ? [beside] : [])].filter(Boolean);
  const look = () => around.flatMap((each) => ['', '::before', '::after'].map((part) => {
    const style = getComputedStyle(each, part || null);
    return [style.outlineStyle, style.outlineWidth, style.boxShadow, style.borderColor].join();
  })).join('|');
  const focused = look();
  const rects = [element, ...(beside?.tagName === 'LABEL' ? [beside] : [])]
    .flatMap((each) => [...each.getClientRects()]).filter((r) => r.width > 4 && r.height > 4);
  const box = rects[0];
  let seen = false;
  if (box) {
    for (const x of [0.1, 0.5, 0.9]) for (const y of [0.1, 0.5, 0.9]) {
      const top = document.elementFromPoint(box.left + x * box.width, box.top + y * box.height);
      seen ||= Boolean(top) && (element.contains(top)
        || around.some((each) => each !== element.parentElement && each.contains(top)));
    }
  }
  element.blur();
  const ringed = look() !== focused;
  element.focus({preventScroll: true});
  return {
    name: `${element.tagName} ${element.name || element.id || element.textContent.trim()}`
      .slice(0, 60),
    inside: Boolean(element.closest('.fs-calc')),
    // by identity: elements come and go while the focus moves on
    place: (window.stops ??= new Map()).get(element) ?? window.stops.set(element, window.stops.size)
      .get(element),
    fragment: element.closest('[data-fragment]')?.dataset.fragment ?? '',
    seen, ringed,
    box: box ? [box.left, box.top, box.right, box.bottom].map(Math.round).join(' ') : '',
    over: box ? document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2)
      ?.className?.toString() ?? '' : '',
  };
}"""


@pytest.mark.parametrize("viewport", [PHONE, BENCH], ids=["phone", "bench"])
def test_tab_goes_through_the_page_in_sight(
    viewport: dict[str, int], opened: Callable[..., Page], pages: dict[str, str]
) -> None:
    """There and back again: each stop is in view, ringed, not behind a bar; none is left out."""
    page = opened(pages[MAIN], viewport=viewport, reduced_motion="reduce")
    # The last control to appear, once the service worker has told what is kept.
    page.locator(".fs-calc .fs-keep button").first.wait_for(state="visible")
    for key in ("Tab", "Shift+Tab"):
        stops: list[dict[str, Any]] = []
        for _ in range(400):
            page.keyboard.press(key)
            stop = page.evaluate(FOCUSED)
            if stop is None:
                break
            stops.append(stop)
        names = [stop["name"] for stop in stops]
        assert len(stops) < 400, "the focus goes in circles"
        assert [stop for stop in stops if not (stop["seen"] and stop["ringed"])] == []
        assert [stop for stop in stops if stop["fragment"] == "result"], names
        wanted = page.evaluate(
            """() => [...document.querySelectorAll('.fs-calc :is(input, select, button, summary, '
                + 'a, [tabindex="0"])')].filter((e) => e.checkVisibility({visibilityProperty: true})
                && !e.disabled).length"""
        )
        assert len({stop["place"] for stop in stops if stop["inside"]}) == wanted, names
        first = names[0] if key == "Tab" else names[-1]
        assert "skip" in first.lower(), names[:3]


def test_skip_link_and_the_whole_job_without_a_mouse(
    opened: Callable[..., Page], pages: dict[str, str]
) -> None:
    """Skip to the content, change a number, a choice and a unit, unfold, answer, start over."""
    page = opened(pages[MAIN], quiet=False, viewport=BENCH)
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    until(page, "location.hash.length > 1")

    def tab_to(selector: str) -> None:
        for _ in range(120):
            page.keyboard.press("Tab")
            if page.evaluate("(s) => document.activeElement.matches(s)", selector):
                return
        raise AssertionError(f"Tab never reaches {selector}")

    def settled() -> None:
        until(page, "!document.querySelector('.fs-calc :is([aria-busy], .fs-stale)')")

    def answer() -> str:
        return page.locator(".fs-calc .fs-verdict").inner_text()

    # Past the header and the menu: the first stop after the skip link is in the content.
    page.keyboard.press("Tab")
    assert page.evaluate("Boolean(document.activeElement.closest('.md-content'))")
    built = answer()
    if not page.evaluate("document.activeElement.matches('[name=material]')"):
        page.evaluate("document.querySelector('.md-skip').focus()")
        page.keyboard.press("Enter")
        tab_to("[name=material]")
    before = page.locator(".fs-calc [name=material]").input_value()
    page.keyboard.press("ArrowDown")
    settled()
    assert page.locator(".fs-calc [name=material]").input_value() != before
    assert answer() != built
    tab_to("[name=thickness]")
    page.keyboard.press("Control+a")
    page.keyboard.type("1/4")
    page.keyboard.press("Enter")
    settled()
    assert "thickness=1/4in" in page.url
    tab_to("[name='thickness:unit']")
    page.keyboard.type("mm")
    until(page, "document.querySelector('.fs-calc [name=thickness]').value === '6.35'")
    settled()
    tab_to(".fs-calc summary")
    folded = page.evaluate("document.activeElement.parentElement.open")
    page.keyboard.press("Space")
    assert page.evaluate("document.activeElement.parentElement.open") is not folded
    tab_to("[data-action=reset]")
    page.keyboard.press("Space")
    assert answer() == built
    assert "thickness" not in page.url


def test_jumps_within_a_page_leave_it_as_it_is(
    opened: Callable[..., Page], pages: dict[str, str]
) -> None:
    """Skip link, contents and Back move the reader; what is typed and unfolded stays."""
    page = opened(pages[MAIN] + "?thickness=1/4in", viewport=BENCH, reduced_motion="reduce")
    settled = "!document.querySelector('.fs-calc :is([aria-busy], .fs-stale)')"
    until(page, settled)
    page.locator(".fs-calc [name=root]").fill("4.4in")
    until(page, settled)
    page.evaluate("sweep.unfold()")
    page.evaluate("globalThis.calculator = document.querySelector('.fs-calc')")
    address = page.url
    assert "root=4.4in" in address

    def jump(what: str, end: str) -> None:
        until(page, f"location.hash === '{end}'")
        page.wait_for_load_state("networkidle")
        assert page.evaluate("calculator.isConnected"), what
        assert page.evaluate("calculator.querySelector('details').open"), what
        assert page.url == address + end, what

    for again in range(2):
        page.locator(".md-skip").focus()
        page.keyboard.press("Enter")
        jump(f"skip link {again}", "#fin-check")
        page.keyboard.press("Tab")
        assert page.evaluate("Boolean(document.activeElement.closest('.md-content'))")
    page.locator(".headerlink").last.evaluate("(link) => link.click()")
    end = page.locator(".headerlink").last.evaluate("(link) => link.hash")
    jump("heading", end)
    if end != "#fin-check":
        page.go_back()
        jump("back", "#fin-check")


# screen readers

# Every sentence that a screen reader is given to say, and by which region.
LISTEN = """() => {
  globalThis.spoken = [];
  const live = '[role=status], [role=alert], [role=log], output, [aria-live]';
  new MutationObserver((records) => {
    for (const {target} of records) {
      const element = target.nodeType === Node.TEXT_NODE ? target.parentElement : target;
      const region = element?.closest(live);
      const text = region?.textContent.trim();
      const last = spoken.at(-1);
      if (region && text && last?.[1] !== text) spoken.push([region.className, text]);
    }
  }).observe(document.body, {subtree: true, childList: true, characterData: true});
}"""


def test_one_sentence_is_announced(opened: Callable[..., Page], pages: dict[str, str]) -> None:
    """A new answer is said once, in a short sentence with its margin; nothing else speaks up."""
    page = opened(pages[MAIN], quiet=False)
    page.locator(".fs-calc [name=root]").focus()
    until(page, "document.querySelector('.fs-calc')?.dataset.state === 'live'")
    page.evaluate(LISTEN)
    page.locator(".fs-calc [name=thickness]").fill("3/16in")
    until(page, "!document.querySelector('.fs-calc .fs-stale')")
    # Nothing more is said in the time that a reader would take to listen.
    page.wait_for_timeout(500)
    spoken = page.evaluate("spoken")
    assert [region for region, _ in spoken] == ["fs-status"], spoken
    sentence = spoken[0][1]
    assert len(sentence) <= 160, sentence
    assert "margin" in sentence.lower()
    assert re.search(r"\d", sentence)
    assert "<" not in sentence


def test_start_is_announced_without_chatter(
    opened: Callable[..., Page], pages: dict[str, str]
) -> None:
    """While Python comes, at most two waiting sentences; counting bytes is not read out."""
    page = opened(pages[MAIN])
    page.evaluate(LISTEN)
    page.locator(".fs-calc [name=thickness]").fill("3/16in")
    until(page, "document.querySelector('.fs-calc')?.dataset.state === 'live'")
    until(page, "!document.querySelector('.fs-calc [aria-busy]')")
    spoken = [text for region, text in page.evaluate("spoken") if region == "fs-status"]
    assert len(spoken) == len(page.evaluate("spoken"))
    assert 1 <= len(spoken) <= 3, spoken
    assert not any("MB" in text for text in spoken)
    assert page.locator(".fs-bytes").first.get_attribute("aria-hidden") == "true"


def test_errors_are_bound_to_their_field(
    opened: Callable[..., Page], pages: dict[str, str]
) -> None:
    """A refused number is marked invalid and described by help and message, until it is mended."""
    page = opened(pages[MAIN], quiet=False)
    box = page.get_by_role("textbox", name="Thickness", exact=True).first
    box.fill("-1")
    box.press("Enter")
    until(page, "document.querySelector('.fs-calc [name=thickness]').ariaInvalid === 'true'")
    ids = (box.get_attribute("aria-describedby") or "").split()
    texts = [page.locator(f"[id='{key}']").inner_text() for key in ids]
    assert any(text.startswith("Error:") for text in texts), texts
    described = page.evaluate("document.querySelector('.fs-calc .fs-error:not([hidden])').id")
    assert described in ids
    box.fill("1/8")
    box.press("Enter")
    until(page, "!document.querySelector('.fs-calc [name=thickness]').ariaInvalid")


def test_verdict_is_told_in_words_not_in_colour_alone(
    opened: Callable[..., Page], pages: dict[str, str]
) -> None:
    """The accessible tree says the verdict, its margin and its range."""
    page = opened(pages[MAIN])
    tree = page.locator(".fs-calc").aria_snapshot()
    assert 'region "Verdict"' in tree
    verdict = page.get_by_role("region", name="Verdict").inner_text()
    assert re.search(r"(Holds|Marginal|Does not hold|Cannot say)", verdict)
    assert re.search(r"margin (at least )?\d", verdict)


# forced colours


def test_forced_colours_keep_the_verdict_and_the_focus(
    opened: Callable[..., Page], pages: dict[str, str]
) -> None:
    """In a high-contrast theme the verdict keeps its border and a focused field its ring."""
    page = opened(pages[MAIN], forced_colors="active")
    style = "getComputedStyle(document.querySelector('.fs-verdict'))"
    assert page.evaluate(f"parseFloat({style}.borderTopWidth)") >= 2
    assert page.evaluate(f"{style}.borderTopStyle") != "none"
    page.locator(".fs-calc [name=root]").focus()
    page.keyboard.press("Tab")
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") != "none"
