"""The built site on a server of its own, and a Chromium to read it with."""

from __future__ import annotations

import gzip
import os
import re
import shutil
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, BrowserContext, Error, Page, sync_playwright

from scripts import build, environment, hooks, library, policy, runtime
from scripts.runtime import ROOT
from scripts.server import Handler, Server
from scripts.test import FIRST_PORT, PORT

from .sweep import PATIENT, Sweep

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PATIENCE = 90.0
"""Seconds; a start of Python takes one on a quiet machine and ten on a busy one."""


def until(page: Page, script: str, *, seconds: float = PATIENCE) -> Any:
    """Return the script's value once it is true (the page's policy forbids the usual eval)."""
    end = time.monotonic() + seconds
    while True:
        try:
            value = page.evaluate(script)
        except Error as error:
            # A page that reloads takes the question with it: ask the new one.
            if "Execution context was destroyed" not in str(error):
                raise
            value = None
        if value:
            return value
        # Which page it is, and what it said last where somebody listens, tell why.
        if time.monotonic() > end:
            said = getattr(page, "said", [])[-5:]
            pytest.fail(f"waited {seconds:g} s in vain for: {script}; {page.title()!r}; {said}")
        time.sleep(0.05)


def computes(page: Page, text: str) -> None:
    """Type a root chord and wait for a fresh answer."""
    # A script fills in what the address says: between choosing the box's text and typing over it, a
    # reader is never so quick.
    until(page, "document.querySelector('.fs-calc')?.dataset.state")
    page.locator(".fs-calc [name=root]").fill(text)
    # On a busy machine the question may be asked much later than the pause after a key.
    page.wait_for_timeout(400)
    until(page, "!document.querySelector('.fs-calc :is([aria-busy], .fs-stale)')")
    assert page.locator(".fs-calc").first.get_attribute("data-state") == "live"


def moved(site: Path, copy: Path, former: str, address: str) -> Path:
    """Return a copy of the built site as a build for another address gives it."""
    shutil.copytree(site, copy)
    prefix = urlsplit(address).path
    for path in [*copy.rglob("*.html"), copy / "sitemap.xml"]:
        text = path.read_text(encoding="utf-8").replace(former, address)
        if path.name == "404.html":
            # The one page that does not know where it is shown: its links start at the host.
            text = re.sub(
                r'((?:href|src|data-\w+)=|"(?:base|search)": ?)"/(?!/)', rf'\1"{prefix}', text
            )
        path.write_text(text, encoding="utf-8")
    # MkDocs keeps a compressed one beside it, which servers hand out instead.
    sitemap = copy / "sitemap.xml"
    sitemap.with_suffix(".xml.gz").write_bytes(gzip.compress(sitemap.read_bytes(), mtime=0))
    parts = runtime.staged()
    assert not isinstance(parts, str), parts
    hooks.finish(copy, parts, library.staged())
    return copy


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the built site's folder; a process beside others has one for its own port."""
    first = f"http://127.0.0.1:{FIRST_PORT}/"
    given = os.environ.get("FINSTOCK_TEST_SITE")
    built = Path(given) if given else build.site(ROOT / "build" / "test-site", first)
    if PORT == FIRST_PORT:
        return built
    copy = tmp_path_factory.mktemp("beside") / "site"
    return moved(built, copy, first, f"http://127.0.0.1:{PORT}/")


@pytest.fixture(scope="session")
def pages(site: Path) -> dict[str, str]:
    """Return the address, within the site, of a page for each calculator."""
    found: dict[str, str] = {}
    for path in sorted(site.rglob("*.html")):
        text = path.read_text(encoding="utf-8")
        for slug in re.findall(r'class="fs-calc"[^>]* data-slug="([a-z-]+)"', text):
            address = path.relative_to(site).as_posix().removesuffix("index.html")
            # The page that is all about it, where there is one.
            if slug not in found or address.strip("/").endswith(slug):
                found[slug] = address
    return found


@pytest.fixture
def server(site: Path) -> Iterator[Server]:
    """Serve the site as a good static host would."""
    running = Server(site, PORT).start()
    yield running
    running.stop()


@pytest.fixture
def strict(server: Server, site: Path) -> Iterator[Server]:
    """Serve pages under the strictest policy that publishing writes, styles included."""
    header = policy.header_of(site)
    original = Handler.send_header

    def send_header(self: Handler, name: str, value: str) -> None:
        original(self, name, header if name == "Content-Security-Policy" else value)

    Handler.send_header = send_header  # type: ignore[method-assign]
    yield server
    Handler.send_header = original  # type: ignore[method-assign]


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Start Debian's Chromium; Playwright's own download is never needed."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=environment.chromium(), headless=True, args=FLAGS
        )
        yield browser
        browser.close()


@pytest.fixture
def sweep(chromium: Browser) -> Iterator[Callable[..., Sweep]]:
    """Return a function that makes a profile whose pages can be asked all that sweep.js asks."""
    made: list[Sweep] = []

    def make(**options: Any) -> Sweep:
        made.append(Sweep(chromium, **options))
        return made[-1]

    yield make
    for each in made:
        each.close()


@pytest.fixture
def context(chromium: Browser) -> Iterator[BrowserContext]:
    """Return a fresh profile: no storage, no cache, no service worker."""
    opened = chromium.new_context()
    opened.add_init_script(PATIENT)
    yield opened
    opened.close()


@pytest.fixture
def page(context: BrowserContext) -> Page:
    """Return a page whose console is kept for the tests in `page.said`."""
    return watched(context.new_page())


def watched(page: Page) -> Page:
    """Collect what the page logs and requests."""
    said: list[str] = []
    asked: list[str] = []
    page.on("console", lambda message: said.append(f"{message.type}: {message.text}"))
    page.on("pageerror", lambda error: said.append(f"error: {error}"))
    page.on("request", lambda request: asked.append(request.url))
    page.said = said  # type: ignore[attr-defined]
    page.asked = asked  # type: ignore[attr-defined]
    return page


@pytest.fixture
def visit(server: Server, pages: dict[str, str], page: Page) -> Callable[..., Page]:
    """Return a function that opens a calculator's page, live unless told otherwise."""

    def open_page(slug: str, query: str = "", *, live: bool = True) -> Page:
        page.goto(server.address + pages[slug] + query)
        if live:
            page.locator(".fs-calc input[type=text]").first.focus()
            until(page, "document.querySelector('.fs-calc')?.dataset.state === 'live'")
            until(page, "!document.querySelector('.fs-calc [aria-busy]')")
        return page

    return open_page
