"""Kept for offline use: the same pages and calculators with the server gone."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page

from calc import calculators
from calc.frontends import browser as python
from scripts import hooks, runtime
from scripts.server import Handler, Server
from scripts.test import PORT

from .conftest import PATIENCE, computes, until, watched

MAIN = "fin-check"


@pytest.fixture
def home(site: Path) -> str:
    """Return the address of a page that has the offline control."""
    for path in sorted(site.rglob("*.html")):
        if 'class="fs-keep"' in path.read_text(encoding="utf-8"):
            return path.relative_to(site).as_posix().removesuffix("index.html")
    raise AssertionError("no page offers to keep the handbook for offline use")


def keep(page: Page, address: str) -> None:
    """Open the page with the control and keep the handbook."""
    page.goto(address)
    button = page.locator(".fs-keep button", has_text="Keep for offline use")
    button.wait_for(state="visible")
    assert re.search(r"\d+\.\d MB", button.inner_text())
    button.click()
    until(page, "document.querySelector('.fs-keep')?.dataset.state === 'kept'")


def test_reload_second_page_and_fresh_answer_without_network(
    context: BrowserContext, server: Server, pages: dict[str, str], home: str
) -> None:
    """Once kept, everything works with the server stopped and the network cut."""
    page = watched(context.new_page())
    keep(page, server.address + home)
    address = server.address
    server.stop()
    context.set_offline(True)
    page.reload()
    assert page.locator("h1").first.is_visible()
    page.goto(address + pages[MAIN])
    computes(page, "4.4in")
    page.goto(address + pages[MAIN] + "?root=3.3in")
    computes(page, "4.6in")
    page.goto(address + "no/such/page/")
    assert page.locator("body").inner_text().strip()


def empty_browser_cache(context: BrowserContext, page: Page) -> None:
    """Throw away what the browser itself keeps, as it may at any time."""
    context.new_cdp_session(page).send("Network.clearBrowserCache")


def test_kept_is_enough_when_the_browser_has_thrown_its_own_cache_away(
    context: BrowserContext, server: Server, pages: dict[str, str], home: str
) -> None:
    """The compiled code is lost then, not the file."""
    page = watched(context.new_page())
    keep(page, server.address + home)
    page.goto(server.address + pages[MAIN])
    computes(page, "4.3in")
    empty_browser_cache(context, page)
    address = server.address
    server.stop()
    context.set_offline(True)
    page.goto(address + pages[MAIN] + "?root=3.3in")
    computes(page, "4.4in")


@pytest.mark.parametrize("own_cache", ["whole", "thrown away"])
def test_every_calculator_answers_offline_as_soon_as_the_handbook_is_kept(
    own_cache: str, context: BrowserContext, server: Server, pages: dict[str, str], home: str
) -> None:
    """No calculator was used before; each gives its own answer, and the files it offers."""
    page = watched(context.new_page())
    keep(page, server.address + home)
    if own_cache == "thrown away":
        empty_browser_cache(context, page)
    address = server.address
    server.stop()
    context.set_offline(True)
    wrong = []
    for slug in calculators.SLUGS:
        page.goto(f"{address}{pages[slug]}?units=metric")
        until(page, "document.querySelector('.fs-calc')?.dataset.state")
        until(page, "!document.querySelector('.fs-calc [aria-busy]')")
        texts = {"units": "metric", "address": address + pages[slug]}
        own = json.loads(python.answer(slug, json.dumps(texts)))
        said = page.locator(".fs-calc .fs-status").first.text_content()
        result = page.locator(".fs-calc [data-fragment=result]").first
        # The player of the mode that is about to flutter is the page's own, not the answer's.
        players = result.locator("[class^=fs-swing]")
        players.evaluate_all("all => all.forEach((one) => one.remove())")
        shown = re.sub(r"\s", "", result.text_content() or "")
        wanted = page.evaluate(
            "html => new DOMParser().parseFromString(html, 'text/html').body.textContent",
            own["fragments"]["result"],
        )
        if said != own["summary"] or shown != re.sub(r"\s", "", wanted):
            wrong.append(f"{slug}: {said}")
    assert wrong == []
    page.goto(address + pages["cutting-plan"])
    until(page, "document.querySelector('.fs-calc')?.dataset.state")
    for make, start in {"svg": b"<svg", "pdf-a4": b"%PDF", "dxf": b"  0"}.items():
        with page.expect_download(timeout=PATIENCE * 1000) as found:
            page.locator(f'[data-make="{make}"]').click()
        assert Path(found.value.path()).read_bytes().startswith(start)


def test_once_kept_the_example_is_answered_while_nobody_waits(
    context: BrowserContext, server: Server, pages: dict[str, str], home: str
) -> None:
    """It shows nowhere, leaves the calculator free for the reader, and goes with the rest."""
    marks = """caches.keys().then(async (names) => {
      const found = await Promise.all(names.map(async (name) => (await caches.open(name)).keys()));
      return found.flat().filter(({url}) => url.endsWith('/practised')).length;
    })"""
    page = watched(context.new_page())
    keep(page, server.address + home)
    assert page.evaluate(marks) == 0
    page.goto(server.address + pages[MAIN])
    computes(page, "4.4in")
    shown = page.locator(".fs-calc").first.inner_text()
    until(page, marks)
    assert page.locator(".fs-calc").first.inner_text() == shown
    computes(page, "4.5in")
    page.locator(".fs-keep button", has_text="Remove").click()
    until(page, "document.querySelector('.fs-keep')?.dataset.state === 'absent'")
    assert page.evaluate("caches.keys()") == []


def test_progress_size_and_removal(context: BrowserContext, server: Server, home: str) -> None:
    """The control shows one size and the edition, looks for a newer one, removes everything."""
    page = watched(context.new_page())
    page.goto(server.address + home)
    button = page.locator(".fs-keep button", has_text="Keep for offline use")
    button.wait_for(state="visible")
    before = re.search(r"\((\d+\.\d) MB\)", button.inner_text())
    keep(page, server.address + home)
    text = page.locator(".fs-keep").first.inner_text()
    after = re.search(r"edition [0-9a-f]{10} \((\d+\.\d) MB\)", text)
    assert before
    assert after
    assert before[1] == after[1]
    # 12 for pages and calculators, 2.5 for the libraries behind PDF and DXF
    assert 5 < float(after[1]) <= 16.0, "what a phone downloads once, compressed [MB]"
    page.locator(".fs-keep button", has_text="Look for a new edition").click()
    until(page, "document.querySelector('.fs-keep').innerText.includes('latest edition')")
    page.locator(".fs-keep button", has_text="Remove").click()
    until(page, "document.querySelector('.fs-keep')?.dataset.state === 'absent'")
    assert page.evaluate("caches.keys()") == []


def test_edition_that_the_browser_removed_is_not_brought_back(
    context: BrowserContext, server: Server, pages: dict[str, str], home: str
) -> None:
    """Where a browser short of room has thrown all away, pages come from the network again."""
    page = watched(context.new_page())
    keep(page, server.address + home)
    page.evaluate(
        "async () => { for (const name of await caches.keys()) await caches.delete(name); }"
    )
    page.goto(server.address + pages["fin-check"])
    computes(page, "4.4in")
    page.goto(server.address + home)
    until(page, "document.querySelector('.fs-keep')?.dataset.state === 'absent'")
    kept_files = page.evaluate(
        """async () => {
          const found = [];
          for (const name of await caches.keys()) {
            found.push(...(await (await caches.open(name)).keys()));
          }
          return found.map(({url}) => url);
        }"""
    )
    assert kept_files == []


def test_interrupted_download_goes_on_where_it_stopped(
    context: BrowserContext, server: Server, home: str
) -> None:
    """A download that breaks says how far it came; the next try fetches only what is missing."""

    def broken(handler: Handler, path: str) -> bool:
        if "start.zip" not in path:
            return False
        handler.send_response(500)
        handler.send_header("Content-Length", "0")
        handler.end_headers()
        return True

    server.intercept = broken
    page = watched(context.new_page())
    page.goto(server.address + home)
    page.locator(".fs-keep button", has_text="Keep for offline use").click()
    until(page, "document.querySelector('.fs-keep')?.dataset.state === 'failed'")
    assert "stopped at" in page.locator(".fs-keep").first.inner_text()
    server.intercept = None
    server.seen.clear()
    page.locator(".fs-keep button", has_text="Keep for offline use").click()
    until(page, "document.querySelector('.fs-keep')?.dataset.state === 'kept'")
    fetched = [path for path in server.seen if path.startswith("/rt/")]
    assert any("start.zip" in path for path in fetched)
    # First in the list, so begun before the failure.
    assert not any("multiarray_umath" in path for path in fetched), "this file was there already"


def test_damaged_download_is_refused(context: BrowserContext, server: Server, home: str) -> None:
    """A file whose sha256 is wrong is not kept."""

    def altered(handler: Handler, path: str) -> bool:
        if not path.endswith("pyodide.mjs"):
            return False
        handler.send_response(200)
        handler.send_header("Content-Type", "text/javascript")
        handler.send_header("Content-Length", "5")
        handler.end_headers()
        handler.wfile.write(b"oops;")
        return True

    server.intercept = altered
    page = watched(context.new_page())
    page.goto(server.address + home)
    page.locator(".fs-keep button", has_text="Keep for offline use").click()
    until(page, "document.querySelector('.fs-keep')?.dataset.state === 'failed'")
    assert "damaged" in page.locator(".fs-keep").first.inner_text()


def test_damaged_cache_is_mended(
    context: BrowserContext, server: Server, pages: dict[str, str], home: str
) -> None:
    """A stored file that lost its bytes is noticed, fetched again and stored."""
    page = watched(context.new_page())
    keep(page, server.address + home)
    empty_browser_cache(context, page)
    page.evaluate(
        """async () => {
          for (const name of await caches.keys()) {
            const cache = await caches.open(name);
            for (const request of await cache.keys()) {
              if (request.url.endsWith('pyodide.asm.wasm')) {
                const headers = {'content-type': 'application/wasm'};
                await cache.put(request, new Response('lost', {headers}));
              }
            }
          }
        }"""
    )
    page.goto(server.address + pages[MAIN])
    computes(page, "4in")
    assert any("fetching it again" in line for line in page.said)  # type: ignore[attr-defined]
    server.seen.clear()
    page.reload()
    computes(page, "4.2in")
    assert not any(path.endswith("pyodide.asm.wasm") for path in server.seen)


# Hears what the page's own worker says of its start.
HEAR = """(() => {
  const Plain = Worker;
  window.Worker = class extends Plain {
    constructor(...all) {
      super(...all);
      this.addEventListener('message', ({data}) => {
        if (data.type === 'live') window.heardLive = data;
      });
    }
  };
})()"""


SPARE = tuple(runtime.SPARE)


def test_start_image_is_used_and_replaced_when_damaged(
    context: BrowserContext, server: Server, pages: dict[str, str], home: str
) -> None:
    """Python starts from its image alone; a damaged one is replaced first."""
    context.add_init_script(HEAR)
    page = watched(context.new_page())
    keep(page, server.address + home)

    def image_used(query: str) -> bool:
        page.goto(server.address + pages[MAIN] + query)
        until(page, "window.heardLive")
        return bool(page.evaluate("heardLive.image"))

    assert image_used("?root=4in")
    computes(page, "4.2in")
    assert not any(path.endswith(SPARE) for path in server.seen)

    page.evaluate(
        """async () => {
          for (const name of await caches.keys()) {
            const cache = await caches.open(name);
            for (const request of await cache.keys()) {
              if (!request.url.endsWith('start.zip')) continue;
              const {headers, whole} = await cache.match(request).then(async (response) =>
                ({headers: response.headers, whole: await response.arrayBuffer()}));
              new Uint8Array(whole).fill(7, 8_000_000, 8_005_000);
              await cache.put(request, new Response(whole, {headers}));
            }
          }
        }"""
    )
    server.seen.clear()
    assert image_used("?root=4.1in")
    computes(page, "4.3in")
    assert any("start.zip is damaged" in line for line in page.said)  # type: ignore[attr-defined]
    assert any(path.endswith("start.zip") for path in server.seen)
    server.seen.clear()
    assert image_used("?root=4.2in")
    computes(page, "4.4in")
    assert not any(path.endswith("start.zip") for path in server.seen)


def test_refused_space_is_told(context: BrowserContext, server: Server, home: str) -> None:
    """A device without room says so and keeps no half of it."""
    page = watched(context.new_page())
    page.goto(server.address + home)
    session = context.new_cdp_session(page)
    session.send(
        "Storage.overrideQuotaForOrigin",
        {"origin": server.address.rstrip("/"), "quotaSize": 6_000_000},
    )
    page.locator(".fs-keep button", has_text="Keep for offline use").click()
    until(page, "document.querySelector('.fs-keep')?.dataset.state === 'failed'")
    assert "refused the space" in page.locator(".fs-keep").first.inner_text()
    assert page.evaluate("caches.keys()") == []


@pytest.fixture
def editions(site: Path, tmp_path: Path) -> Iterator[tuple[Path, Server]]:
    """Return a copy of the site that a test may publish new editions of, and its server."""
    copy = tmp_path / "site"
    shutil.copytree(site, copy)
    running = Server(copy, PORT).start()
    yield copy, running
    running.stop()


def test_new_edition_waits_for_the_reader(
    context: BrowserContext, editions: tuple[Path, Server], home: str
) -> None:
    """A new edition arrives in the background, is offered, and changes nothing until taken."""
    folder, server = editions
    page = watched(context.new_page())
    keep(page, server.address + home)
    first = page.locator(".fs-keep").first.inner_text()

    path = folder / home / "index.html"
    path.write_text(path.read_text().replace("<h1", '<p id="second">Second edition</p><h1', 1))
    parts = runtime.staged()
    assert not isinstance(parts, str)
    hooks.finish(folder, parts)
    server.seen.clear()
    page.reload()
    page.locator(".fs-edition").wait_for(state="visible", timeout=60_000)
    assert "New edition ready" in page.locator(".fs-edition").inner_text()
    assert page.locator("#second").count() == 0
    page.reload()
    assert page.locator("#second").count() == 0, "the page in use must keep its edition"
    assert not any(p.endswith((".wasm", ".zip")) for p in server.seen), "the runtime did not change"
    page.locator(".fs-edition button", has_text="Reload").click()
    until(page, "document.getElementById('second') !== null")
    until(page, "document.querySelector('.fs-keep')?.dataset.state === 'kept'")
    assert page.locator(".fs-keep").first.inner_text() != first
