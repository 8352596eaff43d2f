"""Readers who see, hear, touch or type differently: axe, keyboard, screen reader, zoom, motion."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page

from scripts import runtime
from scripts.server import Handler, Server
from scripts.test import PORT

from .conftest import until, watched

MAIN = "fin-check"
PHONE = {"width": 360, "height": 740}
BENCH = {"width": 1440, "height": 900}
# One page of each kind: a door, each sort of calculator, prose, long tables, the lost page.
KEY_PAGES = [
    "",
    "check/fin-check/",
    "choose/material-finder/",
    "fly/field-card/",
    "make/cutting-plan/",
    "teach/",
    "materials/balsa/",
    "reference/methods/",
    "reference/validation/",
    "404.html",
]
SILENT = """postMessage({type: 'live', version: 'x', milliseconds: 1, trap: 0});"""
DIES = f"{SILENT} self.onmessage = () => {{ throw new Error('out of memory'); }};"
# Python stays asleep, as for readers who save data: what is looked at here is the page.
QUIET = "Object.defineProperty(navigator, 'connection', {value: {saveData: true}});"


@pytest.fixture(scope="module")
def axe() -> str:
    """Return axe-core, the version that package-lock.json pins."""
    runtime.install_pyodide()
    return (runtime.ROOT / "node_modules" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")


def look(page: Page, axe: str) -> list[str]:
    """Return everything that axe objects to on the page as it stands, best practices included."""
    page.evaluate("document.fonts.ready.then(() => true)")
    page.evaluate(axe)
    found = page.evaluate(
        "axe.run(document, {resultTypes: ['violations'], preload: false}).then((r) => r.violations)"
    )
    return [
        f"{page.url}: {rule['id']}: {node['html'][:160]}: {node['failureSummary'][:300]}"
        for rule in found
        for node in rule["nodes"]
    ]


def addresses(site: Path) -> list[str]:
    """Return every page of the built site."""
    return sorted(
        path.relative_to(site).as_posix().removesuffix("index.html")
        for path in site.rglob("*.html")
    )


def with_control(site: Path) -> str:
    """Return a page that offers to keep the handbook."""
    return next(
        path.relative_to(site).as_posix().removesuffix("index.html")
        for path in sorted(site.rglob("index.html"))
        if 'class="fs-keep"' in path.read_text(encoding="utf-8")
    )


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


@pytest.fixture
def opened(chromium: Browser, server: Server) -> Iterator[Callable[..., Page]]:
    """Return a function that opens a page in a window of its own, Python asleep unless wanted."""
    contexts: list[BrowserContext] = []

    def open_page(name: str = "", *, quiet: bool = True, **options: Any) -> Page:
        context = chromium.new_context(**{"viewport": PHONE, **options})
        contexts.append(context)
        if quiet:
            context.add_init_script(QUIET)
        page = watched(context.new_page())
        page.goto(server.address + name)
        return page

    yield open_page
    for context in contexts:
        context.close()


# axe


def test_axe_finds_nothing_on_any_page(
    site: Path, axe: str, opened: Callable[..., Page], server: Server
) -> None:
    """Every page on a phone in daylight, and no page wider than its screen at any zoom.

    320 px is a desktop window at 400 %, 720 px at twice the density is one at 200 %.
    """
    page = opened(device_scale_factor=2, color_scheme="light")
    complaints: list[str] = []
    for name in addresses(site):
        page.set_viewport_size(PHONE)
        page.goto(server.address + name)
        complaints += look(page, axe)
        for width in (320, 720, 1440):
            page.set_viewport_size({"width": width, "height": 450})
            wide = page.evaluate("document.scrollingElement.scrollWidth")
            if wide > width:
                complaints.append(f"/{name}: {wide} px of content on {width} px")
    assert complaints == []


@pytest.mark.parametrize("viewport", [PHONE, BENCH], ids=["phone", "bench"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_with_everything_unfolded(
    scheme: str, viewport: dict[str, int], axe: str, opened: Callable[..., Page], server: Server
) -> None:
    """Key pages in both colours on both sizes, folded parts open."""
    page = opened(viewport=viewport, color_scheme=scheme)
    complaints = []
    for name in KEY_PAGES:
        page.goto(server.address + name)
        page.evaluate("for (const d of document.querySelectorAll('details')) d.open = true")
        complaints += look(page, axe)
        shown = page.evaluate("document.body.dataset.mdColorScheme")
        assert shown == {"light": "default", "dark": "slate"}[scheme]
    assert complaints == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_while_things_go_wrong(
    scheme: str, axe: str, opened: Callable[..., Page], server: Server, pages: dict[str, str]
) -> None:
    """An error beside its field, an answer that no longer fits, a worker that died, a menu open."""
    complaints = []
    page = opened(pages[MAIN], quiet=False, color_scheme=scheme)
    box = page.locator(".fs-calc [name=root]")
    box.fill("-3")
    box.press("Enter")
    until(page, "document.querySelector('.fs-calc [name=root]').ariaInvalid === 'true'")
    complaints += look(page, axe)
    assert page.locator(".fs-calc .fs-stale").count()

    server.intercept = replies(SILENT)
    page = opened(pages[MAIN], color_scheme=scheme)
    page.locator(".fs-calc [name=root]").fill("4in")
    until(page, "Boolean(document.querySelector('.fs-calc [aria-busy=true]'))")
    complaints += look(page, axe)

    server.intercept = replies(DIES)
    page = opened(pages[MAIN], color_scheme=scheme)
    page.locator(".fs-calc [name=root]").fill("4in")
    until(page, "document.querySelector('.fs-calc').dataset.state === 'failed'")
    complaints += look(page, axe)
    server.intercept = None

    page.locator(".md-header label[for=__drawer]").click()
    page.wait_for_timeout(400)
    complaints += look(page, axe)
    assert complaints == []


def test_axe_finds_nothing_in_search_and_offline(
    axe: str, context: BrowserContext, server: Server, pages: dict[str, str], site: Path
) -> None:
    """Search results, the kept handbook's control, and a page read without the server."""
    page = watched(context.new_page())
    page.goto(server.address)
    page.set_viewport_size(BENCH)
    page.locator("input[name=query]").click()
    page.locator("input[name=query]").press_sequentially("balsa", delay=40)
    until(page, "document.querySelectorAll('.md-search-result__item').length > 0")
    page.wait_for_timeout(400)
    complaints = look(page, axe)
    page.keyboard.press("Escape")
    page.goto(server.address + with_control(site))
    page.locator(".fs-keep button", has_text="Keep for offline use").click()
    until(page, "document.querySelector('.fs-keep').dataset.state === 'keeping'")
    complaints += look(page, axe)
    until(page, "document.querySelector('.fs-keep').dataset.state === 'kept'")
    complaints += look(page, axe)
    server.stop()
    context.set_offline(True)
    page.goto(f"http://127.0.0.1:{PORT}/{pages[MAIN]}")
    page.locator(".fs-calc [name=root]").fill("4.4in")
    page.wait_for_timeout(400)
    until(page, "!document.querySelector('.fs-calc .fs-stale')")
    complaints += look(page, axe)
    assert complaints == []


# keyboard

# What has the focus: a name for it, and whether the reader can see it and that it has it. A part
# is covered when none of nine points of it is on top at its place.
FOCUSED = """() => {
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
    """From the address bar to the end: each stop is in view, ringed and not behind a bar."""
    page = opened(pages[MAIN], viewport=viewport, reduced_motion="reduce")
    until(page, "Boolean(globalThis.document$)")
    stops: list[dict[str, Any]] = []
    hidden = []
    for _ in range(400):
        page.keyboard.press("Tab")
        page.wait_for_timeout(40)  # the browser scrolls to it
        stop = page.evaluate(FOCUSED)
        if stop is None:
            break
        stops.append(stop)
        if not (stop["seen"] and stop["ringed"]):
            hidden.append(stop)
    names = [stop["name"] for stop in stops]
    assert "skip" in names[0].lower(), names[:3]
    assert [stop for stop in stops if stop["inside"]], names
    assert [stop for stop in stops if stop["fragment"] == "result"], names
    assert len(stops) < 400, "the focus goes in circles"
    assert hidden == []


def test_skip_link_and_the_whole_job_without_a_mouse(
    opened: Callable[..., Page], pages: dict[str, str]
) -> None:
    """Skip to the content, change a number, a choice and a unit, unfold, answer, start over."""
    page = opened(pages[MAIN], quiet=False, viewport=BENCH)
    until(page, "Boolean(globalThis.document$)")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")

    def tab_to(selector: str) -> None:
        for _ in range(120):
            page.keyboard.press("Tab")
            if page.evaluate("(s) => document.activeElement.matches(s)", selector):
                return
        raise AssertionError(f"Tab never reaches {selector}")

    def settled() -> None:
        page.wait_for_timeout(400)
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


def test_targets_are_large_enough_to_touch(opened: Callable[..., Page], server: Server) -> None:
    """Every control on a phone is at least 24 px each way, links in running text apart."""
    page = opened()
    small = []
    for name in KEY_PAGES:
        page.goto(server.address + name)
        small += page.evaluate(
            """() => [...document.querySelectorAll(
                '.md-content :is(button, input, select, summary), .md-header label')]
              .filter((e) => e.checkVisibility({visibilityProperty: true}))
              .map((e) => [e, e.getBoundingClientRect()])
              .filter(([e, r]) => r.width && (r.width < 24 || r.height < 24)
                // a button whose whole card is its target
                && getComputedStyle(e, '::before').position !== 'absolute')
              .map(([e, r]) => `${location.pathname} ${e.outerHTML.slice(0, 90)} `
                + `${r.width.toFixed()}x${r.height.toFixed()}`)"""
        )
    assert small == []


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
    until(page, "document.querySelector('.fs-calc').dataset.state === 'live'")
    page.evaluate(LISTEN)
    page.locator(".fs-calc [name=thickness]").fill("3/16in")
    page.wait_for_timeout(500)
    until(page, "!document.querySelector('.fs-calc [aria-busy]')")
    page.wait_for_timeout(300)
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
    until(page, "document.querySelector('.fs-calc').dataset.state === 'live'")
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


def test_every_control_and_picture_has_a_name(
    site: Path, opened: Callable[..., Page], server: Server
) -> None:
    """On every page: labels on inputs, title and description on drawings, names on regions."""
    page = opened()
    nameless = []
    for name in addresses(site):
        page.goto(server.address + name)
        nameless += page.evaluate(
            """() => {
              const bad = [];
              const note = (element, why) =>
                bad.push(`${location.pathname} ${why}: ${element.outerHTML.slice(0, 90)}`);
              const text = (ids) => (ids ?? '').split(' ').filter(Boolean)
                .map((id) => document.getElementById(id)?.textContent.trim() ?? '');
              const content = document.querySelector('.md-content');
              for (const box of content.querySelectorAll('input, select, textarea')) {
                if (!box.labels?.length && !box.ariaLabel) note(box, 'no label');
                if (box.getAttribute('aria-describedby')) {
                  for (const id of box.getAttribute('aria-describedby').split(' ')) {
                    if (!document.getElementById(id)) note(box, `describes nothing ${id}`);
                  }
                }
              }
              for (const svg of content.querySelectorAll('svg.fs-svg, svg[role=img]')) {
                if (svg.closest('[aria-hidden=true]')) continue;
                const named = text(svg.getAttribute('aria-labelledby'));
                if (svg.getAttribute('role') !== 'img') note(svg, 'no role');
                if (named.length < 2 || named.some((part) => part.length < 3)) {
                  note(svg, 'no title or description');
                }
              }
              for (const part of content.querySelectorAll('[role=region], progress, form')) {
                if (!part.ariaLabel && !text(part.getAttribute('aria-labelledby')).join('')) {
                  note(part, 'no name');
                }
              }
              for (const status of content.querySelectorAll('.fs-calc')) {
                if (status.querySelectorAll('.fs-bar [role=status]').length !== 1) {
                  note(status, 'not one status');
                }
              }
              return bad;
            }"""
        )
    assert nameless == []


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


# motion and forced colours


def test_reduced_motion_is_respected(opened: Callable[..., Page], server: Server) -> None:
    """Nothing moves by itself for readers who asked for that."""
    page = opened(reduced_motion="reduce")
    for name in KEY_PAGES:
        page.goto(server.address + name)
        moving = page.evaluate(
            """() => [...document.querySelectorAll('*')].flatMap((e) =>
              ['', '::before', '::after'].map((part) => {
                const style = getComputedStyle(e, part || null);
                const still = (text) => text.split(',').every((t) => parseFloat(t) === 0);
                return (style.animationName === 'none' || still(style.animationDuration))
                  && still(style.transitionDuration) && style.scrollBehavior === 'auto'
                  ? '' : `${e.tagName}.${e.className}${part}`;
              })).filter(Boolean)"""
        )
        assert moving == [], name
        assert page.evaluate("document.querySelectorAll('animate, animateTransform').length") == 0


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
