"""Readers who see, hear, touch or type differently: axe, keyboard, screen reader, zoom, motion.

Every page is opened once and every calculator is taken once through all it can show; whatever can
be asked of a page in that state is asked then.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page

from calc import calculators
from scripts import runtime
from scripts.server import Handler, Server
from scripts.test import PORT

from .conftest import until, watched

MAIN = "fin-check"
PARTS = 4  # of the handbook: a failure names its pages sooner
PHONE = {"width": 360, "height": 740}
BENCH = {"width": 1440, "height": 900}
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
# A worker that is ready at once, never answers the first question and dies of the second.
DIES = """
postMessage({type: 'live', version: 'x', milliseconds: 1, trap: 0});
let asked = 0;
self.onmessage = () => { asked += 1; if (asked > 1) throw new Error('out of memory'); };
"""
# Python stays asleep, as for readers who save data: what is looked at here is the page.
QUIET = "Object.defineProperty(navigator, 'connection', {value: {saveData: true}});"


@pytest.fixture(scope="module")
def axe() -> str:
    """Return axe-core, the version that package-lock.json pins."""
    runtime.install_pyodide()
    return (runtime.ROOT / "node_modules" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")


# What axe objects to within a part of the page, best practices included.
LOOK = """async ([part, rules]) => {
  await document.fonts.ready;
  const options = {resultTypes: ['violations'], preload: false};
  if (rules) options.runOnly = rules;
  const {violations} = await axe.run(part ? document.querySelector(part) : document, options);
  return violations.flatMap(({id, nodes}) => nodes.map(({html, failureSummary}) =>
    `${location.pathname}: ${id}: ${html.slice(0, 160)}: ${failureSummary.slice(0, 300)}`));
}"""


def look(page: Page, axe: str, part: str = "", rules: tuple[str, ...] = ()) -> list[str]:
    """Return everything that axe objects to on the page, or a part of it, as it stands."""
    if not page.evaluate("'axe' in globalThis"):
        page.evaluate(axe)
    return list(page.evaluate(LOOK, [part, list(rules) or None]))


# The reader's own switch; done once the colours have stopped fading.
SWITCH = """async ([number, scheme]) => {
  document.getElementById(`__palette_${number}`).click();
  const end = performance.now() + 20000;
  const still = () => document.body.dataset.mdColorScheme === scheme
    && document.getAnimations().length === 0;
  while (!still() && performance.now() < end) await new Promise((go) => setTimeout(go, 20));
  if (!still()) throw new Error(`the page does not turn ${scheme}`);
}"""


def look_at_night(page: Page, axe: str, part: str = "") -> list[str]:
    """Return what axe objects to about the dark colours; only colours differ from the day's."""
    page.evaluate(SWITCH, [1, "slate"])
    found = look(page, axe, part, ("color-contrast",))
    page.evaluate(SWITCH, [0, "default"])
    return [f"dark: {each}" for each in found]


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


# every page

UNFOLD = "for (const d of document.querySelectorAll('details')) d.open = true"

NAMELESS = """() => {
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
  const count = (selector) => document.querySelectorAll(selector).length;
  for (const one of ['main', 'h1', 'header[data-md-component=header]', '.md-skip']) {
    if (count(one) !== 1) bad.push(`${location.pathname} ${count(one)} ${one}`);
  }
  return bad;
}"""

# Controls on a phone below 24 px either way, links in running text apart.
SMALL = """() => [...document.querySelectorAll(
    '.md-content :is(button, input, select, summary), .md-header label')]
  .filter((e) => e.checkVisibility({visibilityProperty: true}))
  .map((e) => [e, e.getBoundingClientRect()])
  .filter(([e, r]) => r.width && (r.width < 24 || r.height < 24)
    // a button whose whole card is its target
    && getComputedStyle(e, '::before').position !== 'absolute')
  .map(([e, r]) => `${location.pathname} ${e.outerHTML.slice(0, 90)} `
    + `${r.width.toFixed()}x${r.height.toFixed()}`)"""

# What moves by itself, or takes its time, for readers who asked that nothing does.
MOVING = """() => [...document.querySelectorAll('*')].flatMap((e) =>
  ['', '::before', '::after'].map((part) => {
    const style = getComputedStyle(e, part || null);
    const still = (text) => text.split(',').every((t) => parseFloat(t) === 0);
    return (style.animationName === 'none' || still(style.animationDuration))
      && still(style.transitionDuration) && style.scrollBehavior === 'auto'
      ? '' : `${location.pathname} moves: ${e.tagName}.${e.className}${part}`;
  })).filter(Boolean).concat(
    [...document.querySelectorAll('animate, animateTransform')].map((e) => e.outerHTML))"""

# Text spaced as WCAG 2.2, 1.4.12 allows readers to space it; what is then cut off.
SPACED = """() => {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync(`* { line-height: 1.5 !important; letter-spacing: 0.12em !important;
    word-spacing: 0.16em !important } p { margin-bottom: 2em !important }`);
  document.adoptedStyleSheets.push(sheet);
  const cut = [...document.querySelectorAll('.md-content *')].filter((e) => {
    const style = getComputedStyle(e);
    return /hidden|clip/.test(style.overflowX + style.overflowY)
      && !/INPUT|SELECT|PROGRESS/.test(e.tagName) && !e.closest('svg, .fs-sr')
      && e.textContent.trim() && e.clientWidth > 1
      && (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1);
  }).map((e) => `${location.pathname} cut when spaced: ${e.outerHTML.slice(0, 90)}`);
  const wide = document.scrollingElement.scrollWidth;
  if (wide > innerWidth) cut.push(`${location.pathname} ${wide} px wide when spaced`);
  document.adoptedStyleSheets.pop();
  return cut;
}"""


# Asks a page all of this as soon as it stands.
ASK = f"""addEventListener('load', () => {{
  globalThis.found = (async () => {{
    while (!globalThis.document$) await new Promise((go) => setTimeout(go, 20));
    {UNFOLD};
    const all = await ({LOOK})(['', null]);
    for (const ask of [{NAMELESS}, {SMALL}, {MOVING}, {SPACED}]) all.push(...ask());
    return all;
  }})().catch((error) => [`${{location.pathname}} ${{error}}`]);
}});"""

FOUND = """async () => {
  while (!globalThis.found) await new Promise((go) => setTimeout(go, 20));
  return await globalThis.found;
}"""


@pytest.mark.parametrize("part", range(PARTS))
def test_every_page_on_a_phone_at_any_zoom(
    part: int, site: Path, axe: str, opened: Callable[..., Page], server: Server
) -> None:
    """No page troubles axe, lacks a name, moves, has small targets or scrolls sideways.

    320 px is a desktop window at 400 %, 720 px at twice the density is one at 200 %. Folded parts
    are open.
    """
    page = opened(device_scale_factor=2, color_scheme="light", reduced_motion="reduce")
    page.context.add_init_script(f"{axe}\n{ASK}")
    complaints: list[str] = []
    for name in addresses(site)[part::PARTS]:
        page.set_viewport_size(PHONE)
        page.goto(server.address + name, wait_until="commit")
        complaints += page.evaluate(FOUND)
        for width in (320, 720, 1440):
            page.set_viewport_size({"width": width, "height": 450})
            wide = page.evaluate("document.scrollingElement.scrollWidth")
            if wide > width:
                complaints.append(f"/{name}: {wide} px of content on {width} px")
    assert complaints == []


def test_key_pages_on_a_bench_and_on_paper(axe: str, opened: Callable[..., Page]) -> None:
    """On a wide screen axe finds nothing by day or night; paper gets the text and no furniture."""
    page = opened(viewport=BENCH, color_scheme="light")
    address = page.url
    complaints = []
    for name in KEY_PAGES:
        page.goto(address + name)
        until(page, "Boolean(globalThis.document$)")
        page.evaluate(UNFOLD)
        complaints += look(page, axe) + look_at_night(page, axe)
        page.set_viewport_size(PAPER)
        page.emulate_media(media="print")
        complaints += page.evaluate(
            """() => {
              const shown = (e) => e.checkVisibility({visibilityProperty: true})
                && e.getBoundingClientRect().width > 1;
              const furniture = '.md-header, .md-tabs, .md-sidebar, .md-footer__inner, .md-skip, '
                + '.fs-buttons, .fs-actions, .fs-bar, .fs-keep, .headerlink';
              const bad = [...document.querySelectorAll(furniture)].filter(shown)
                .map((e) => `printed: ${e.className}`);
              if (!shown(document.querySelector('h1'))
                && !document.querySelector('[data-slug=field-card]')) bad.push('no heading');
              for (const verdict of document.querySelectorAll('.fs-verdict')) {
                if (!shown(verdict)) bad.push('no verdict');
                if (getComputedStyle(verdict).position !== 'static') bad.push('verdict stands');
              }
              const wide = document.scrollingElement.scrollWidth;
              if (wide > innerWidth) bad.push(`${wide} px on ${innerWidth} px of paper`);
              return bad.map((each) => `${location.pathname} ${each}`);
            }"""
        )
        page.emulate_media(media="screen")
        page.set_viewport_size(BENCH)
    assert complaints == []


# every calculator


@pytest.fixture(scope="module")
def reader(chromium: Browser) -> Iterator[BrowserContext]:
    """Return one phone for all calculators, so that it fetches Python once."""
    context = chromium.new_context(viewport=PHONE, color_scheme="light")
    context.add_init_script(QUIET)
    yield context
    context.close()


@pytest.mark.parametrize("slug", calculators.SLUGS)
def test_axe_finds_nothing_in_all_that_a_calculator_can_show(
    slug: str, axe: str, reader: BrowserContext, server: Server, pages: dict[str, str]
) -> None:
    """Waiting, broken down, answered and refused, by day and by night; each is said in words."""
    complaints: list[str] = []
    calculator = ".fs-calc"

    def see(state: str, *, at_night: bool) -> None:
        found = look(page, axe, calculator)
        if at_night:
            found += look_at_night(page, axe, calculator)
        complaints.extend(f"{state}: {each}" for each in found)

    server.intercept = replies(DIES)
    page = watched(reader.new_page())
    page.goto(server.address + pages[slug])
    until(page, "Boolean(globalThis.document$)")
    number = next(
        item.name
        for item in calculators.load(slug).all_inputs
        if item.kind not in ("choice", "material", "text") and not item.shown_when
    )
    box = page.locator(f".fs-calc [name={number}]").first
    status = page.locator(".fs-calc .fs-status").first
    usual = box.input_value()

    box.fill(f"{usual} ")
    until(page, "Boolean(document.querySelector('.fs-calc [aria-busy=true]'))")
    see("waiting", at_night=slug == MAIN)
    box.fill(usual)
    until(page, "document.querySelector('.fs-calc')?.dataset.state === 'failed'")
    assert len(status.inner_text()) > 20
    see("broken down", at_night=slug == MAIN)

    server.intercept = None
    page.locator(".fs-calc [data-action=retry]").first.click()
    until(page, "document.querySelector('.fs-calc')?.dataset.state === 'live'")
    until(page, "!document.querySelector('.fs-calc :is([aria-busy], .fs-stale)')")
    assert re.search(r"\d", status.inner_text()), "the answer is said with a number"
    see("answered", at_night=True)

    box.fill("nonsense")
    box.press("Enter")
    until(page, f"document.querySelector('.fs-calc [name={number}]').ariaInvalid === 'true'")
    described = (box.get_attribute("aria-describedby") or "").split()
    said = [page.locator(f"[id='{key}']").first.inner_text() for key in described]
    assert any(text.startswith("Error:") for text in said), said
    assert page.locator(".fs-calc .fs-stale").count()
    see("refused", at_night=True)

    page.evaluate("localStorage.clear()")
    page.close()
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
    until(page, "document.querySelector('.fs-keep')?.dataset.state === 'keeping'")
    complaints += look(page, axe)
    until(page, "document.querySelector('.fs-keep')?.dataset.state === 'kept'")
    complaints += look(page, axe)
    server.stop()
    context.set_offline(True)
    page.goto(f"http://127.0.0.1:{PORT}/{pages[MAIN]}")
    page.locator(".fs-calc [name=root]").fill("4.4in")
    page.wait_for_timeout(400)
    until(page, "!document.querySelector('.fs-calc .fs-stale')")
    complaints += look(page, axe)
    assert complaints == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_in_the_open_menu(
    scheme: str, axe: str, opened: Callable[..., Page]
) -> None:
    """The phone's menu, in the colours that the reader's device asks for."""
    page = opened(color_scheme=scheme, reduced_motion="reduce")
    until(page, "Boolean(globalThis.document$)")
    shown = page.evaluate("document.body.dataset.mdColorScheme")
    assert shown == {"light": "default", "dark": "slate"}[scheme]
    page.locator(".md-header label[for=__drawer]").click()
    menu = "document.querySelector('.md-sidebar--primary')"
    until(page, f"{menu}.checkVisibility({{visibilityProperty: true}})")
    assert look(page, axe) == []


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
    place: [...document.querySelectorAll('*')].indexOf(element),
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
    until(page, "Boolean(globalThis.document$)")
    wanted = page.evaluate(
        """() => [...document.querySelectorAll('.fs-calc :is(input, select, button, summary, a, '
            + '[tabindex="0"])')].filter((e) => e.checkVisibility({visibilityProperty: true})
            && !e.disabled).length"""
    )
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
        assert len({stop["place"] for stop in stops if stop["inside"]}) == wanted, names
        first = names[0] if key == "Tab" else names[-1]
        assert "skip" in first.lower(), names[:3]


def test_skip_link_and_the_whole_job_without_a_mouse(
    opened: Callable[..., Page], pages: dict[str, str]
) -> None:
    """Skip to the content, change a number, a choice and a unit, unfold, answer, start over."""
    page = opened(pages[MAIN], quiet=False, viewport=BENCH)
    until(page, "Boolean(globalThis.document$)")
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
