"""Nothing leaves the device: policy, origins, storage and traffic of the site, page by page."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from http.client import HTTPConnection
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Request

from calc import calculators
from scripts import policy
from scripts.server import Handler, Server
from scripts.test import PORT

from .conftest import until, watched

# Keeps what the policy blocked and what a page tried to send, from before its first script.
WATCH = """
globalThis.blocked = [];
addEventListener('securitypolicyviolation', (event) =>
  blocked.push(`${event.violatedDirective} ${event.blockedURI} ${event.sourceFile}`));
globalThis.sent = [];
navigator.sendBeacon = (url) => { sent.push(`beacon ${url}`); return true; };
for (const name of ['WebSocket', 'EventSource', 'RTCPeerConnection', 'WebTransport']) {
  const original = globalThis[name];
  if (original) globalThis[name] = class extends original {
    constructor(...all) { sent.push(`${name} ${all[0]}`); super(...all); }
  };
}
"""
QUIET = "Object.defineProperty(navigator, 'connection', {value: {saveData: true}});"
PARTS = 4  # of the handbook: a failure names its pages sooner
STRICT = {
    "default-src": "'none'",
    "script-src": "'self' 'wasm-unsafe-eval'",
    "connect-src": "'self'",
    "font-src": "'self'",
    "worker-src": "'self'",
    "manifest-src": "'self'",
    "frame-ancestors": "'none'",
}
KEYS = re.compile(r"finstock:[a-z-]+|/(.*/)?\.__palette")


@pytest.fixture
def requests(context: BrowserContext) -> list[Request]:
    """Return what all pages, workers and service workers of the profile ask for, as they ask."""
    asked: list[Request] = []
    context.on("request", lambda request: asked.append(request))
    context.add_init_script(WATCH)
    return asked


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


def addresses(site: Path) -> list[str]:
    """Return every page of the built site."""
    return sorted(
        path.relative_to(site).as_posix().removesuffix("index.html")
        for path in site.rglob("*.html")
    )


def kept_private(page: Page, requests: list[Request], address: str) -> None:
    """Check that nothing was blocked, sent, stored or asked for elsewhere."""
    where = page.url
    assert page.evaluate("blocked") == [], where
    assert page.evaluate("sent") == [], where
    assert [r.url for r in requests if r.method not in ("GET", "HEAD")] == [], where
    strangers = {r.url for r in requests if not r.url.startswith((address, "data:", "blob:"))}
    assert strangers == set(), where
    # What is typed stays here: it stands in the page's own address, and no request carries it.
    asked = [r for r in requests if "?" in r.url and not r.is_navigation_request()]
    assert [r.url for r in asked] == [], where
    assert page.context.cookies() == [], where
    keys = page.evaluate("Object.keys(localStorage)")
    assert [key for key in keys if not KEYS.fullmatch(key)] == [], where
    # The theme remembers there what it shows next time; it goes with the tab.
    assert page.evaluate("indexedDB.databases().then((all) => all.length)") == 0, where
    complaints = [line for line in page.said if line.startswith(("error", "warning"))]  # type: ignore[attr-defined]
    assert complaints == [], where


def test_policy_is_served_and_strict(strict: Server, site: Path) -> None:
    """The header allows our own files and WebAssembly, and no inline script anywhere."""
    for server_policy in ("served", "published"):
        if server_policy == "served":
            connection = HTTPConnection("127.0.0.1", PORT, timeout=20)
            connection.request("GET", "/")
            text = connection.getresponse().getheader("Content-Security-Policy") or ""
            connection.close()
        else:
            text = policy.header_of(site)
        found = dict(part.strip().split(" ", 1) for part in text.split(";"))
        for directive, value in STRICT.items():
            assert found[directive] == value, (server_policy, directive)
        assert "unsafe-eval'" not in found["script-src"].replace("'wasm-unsafe-eval'", "")


def test_default_server_sends_the_same_script_policy(server: Server) -> None:
    """Reading with ./scripts/serve is as strict about scripts as a published copy."""
    connection = HTTPConnection("127.0.0.1", PORT, timeout=20)
    for path in ("/", "/no/such/page/", "/assets/app/app.js"):
        connection.request("GET", path)
        answer = connection.getresponse()
        answer.read()
        text = answer.getheader("Content-Security-Policy") or ""
        found = dict(part.strip().split(" ", 1) for part in text.split(";"))
        for directive, value in STRICT.items():
            assert found[directive] == value, (path, directive)
        assert answer.getheader("Referrer-Policy") == "no-referrer"
        assert answer.getheader("Set-Cookie") is None
    connection.close()


def test_no_page_holds_a_script_or_calls_eval(site: Path) -> None:
    """Pages carry no inline script or handler; our scripts and the theme's never build code."""
    for path in sorted(site.rglob("*.html")):
        text = path.read_text(encoding="utf-8")
        for found in re.finditer(r"<script([^>]*)>(.*?)</script>", text, re.DOTALL):
            is_data = "application/json" in found[1]
            assert is_data or not found[2].strip(), f"{path}: {found[0][:100]}"
        assert re.search(r"<[a-z][^<>]*\son[a-z]+=", text) is None, path
        assert "javascript:" not in text, path
    for path in sorted((site / "assets" / "app").glob("*.js")):
        code = path.read_text(encoding="utf-8")
        found = re.search(r"\beval\(|new Function\(|document\.write\(|\.cookie\b", code)
        assert found is None, f"{path}: {found}"


@pytest.mark.parametrize("part", range(PARTS))
def test_every_page_stays_within_the_policy(
    part: int, site: Path, strict: Server, context: BrowserContext, requests: list[Request]
) -> None:
    """Each page opens without a violation, a stranger, a cookie or a stored name of its own."""
    # Python, which starts by itself on some pages, is what the next test is about.
    context.add_init_script(QUIET)
    page = watched(context.new_page())
    names = addresses(site)
    assert names.count("404.html") == 1
    for name in names[part::PARTS]:
        page.goto(strict.address + name)
        until(page, "Boolean(globalThis.document$)", seconds=20)
        page.wait_for_load_state("networkidle")
        kept_private(page, requests, strict.address)


@pytest.fixture(scope="module")
def reader(chromium: Browser) -> Iterator[tuple[BrowserContext, list[Request]]]:
    """Return one profile for all calculators, which fetches Python once, and what it asks for."""
    context = chromium.new_context()
    asked: list[Request] = []
    context.on("request", lambda request: asked.append(request))
    context.add_init_script(WATCH)
    yield context, asked
    context.close()


@pytest.mark.parametrize("slug", calculators.SLUGS)
def test_calculator_answers_within_the_policy(
    slug: str,
    strict: Server,
    pages: dict[str, str],
    reader: tuple[BrowserContext, list[Request]],
) -> None:
    """Python starts, answers and refuses under the strict policy; the inputs go nowhere."""
    context, requests = reader
    page = watched(context.new_page())
    page.goto(strict.address + pages[slug])
    box = page.locator(".fs-calc input[type=text]:visible").first
    typed = box.input_value()
    box.fill(f"{typed} ")
    box.press("Enter")
    until(page, "document.querySelector('.fs-calc')?.dataset.state === 'live'")
    until(page, "!document.querySelector('.fs-calc :is([aria-busy], .fs-stale)')")
    box.fill("a secret")
    box.press("Enter")
    until(page, "Boolean(document.querySelector('.fs-calc .fs-status').textContent)")
    until(page, "!document.querySelector('.fs-calc [aria-busy]')")
    kept_private(page, requests, strict.address)
    assert not [request.url for request in requests if "secret" in request.url]
    assert not [request.url for request in requests if request.post_data]
    page.evaluate("localStorage.clear()")
    page.close()


def test_a_whole_visit_leaves_nothing_behind_elsewhere(
    strict: Server,
    pages: dict[str, str],
    context: BrowserContext,
    requests: list[Request],
    tmp_path: Path,
) -> None:
    """Colours switched, a number typed, a file made, a search, another page: all stays here."""
    page = watched(context.new_page())
    page.goto(strict.address + pages["fin-check"])
    until(page, "Boolean(globalThis.document$)")
    page.locator("label[for=__palette_1]").first.click()
    page.locator(".fs-calc [name=thickness]").fill("3/16in")
    page.wait_for_timeout(400)
    until(page, "!document.querySelector('.fs-calc .fs-stale')")
    with page.expect_download() as made:
        page.locator("[data-action=download-json]").click()
    assert made.value.url.startswith("blob:")
    made.value.save_as(tmp_path / "answer.json")
    page.locator("input[name=query]").click()
    page.locator("input[name=query]").press_sequentially("ply", delay=40)
    until(page, "document.querySelectorAll('.md-search-result__item').length > 0")
    page.keyboard.press("Escape")
    kept_private(page, requests, strict.address)
    keys = page.evaluate("Object.keys(localStorage).sort()")
    assert keys == ["/.__palette", "finstock:fin-check"]


def test_policy_would_notice(strict: Server, context: BrowserContext) -> None:
    """The check is awake: an inline script, an eval and a stranger are blocked and reported."""
    context.add_init_script(WATCH)
    page = context.new_page()
    page.goto(strict.address)
    tried: Callable[[str], Any] = page.evaluate
    tried(
        """() => {
          const script = document.createElement('script');
          script.textContent = 'globalThis.ran = true';
          document.body.append(script);
          try { globalThis.setTimeout('globalThis.ran = true'); } catch {}
          fetch('http://127.0.0.2:1/').catch(() => {});
        }"""
    )
    until(page, "blocked.length >= 3", seconds=10)
    directives = {line.split()[0] for line in page.evaluate("blocked")}
    assert {"script-src-elem", "script-src", "connect-src"} <= directives
    assert page.evaluate("globalThis.ran") is None
    # The worker has the policy of the answer that brought it.
    page.goto(f"{strict.address}check/fin-check/")
    with page.expect_worker() as started:
        page.locator(".fs-calc input[type=text]").first.focus()
    refused = started.value.evaluate(
        """() => new Promise((done) => {
          addEventListener('securitypolicyviolation', (event) => done(event.violatedDirective));
          fetch('http://127.0.0.2:1/').catch(() => setTimeout(done, 2000, 'only unreachable'));
        })"""
    )
    assert refused == "connect-src"
