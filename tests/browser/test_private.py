"""Nothing leaves the device: the policy, and a visit under it.

What each page and each calculator does under it is asked where they are swept, see sweep.py.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from http.client import HTTPConnection
from pathlib import Path

from scripts import policy
from scripts.server import Server
from scripts.test import PORT

from .conftest import until, watched
from .sweep import Sweep

STRICT = {
    "default-src": "'none'",
    "script-src": "'self' 'wasm-unsafe-eval'",
    "connect-src": "'self'",
    "font-src": "'self'",
    "worker-src": "'self'",
    "manifest-src": "'self'",
    "frame-ancestors": "'none'",
}


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
            is_data = re.search(r"application/(ld\+)?json", found[1])
            assert is_data or not found[2].strip(), f"{path}: {found[0][:100]}"
        assert re.search(r"<[a-z][^<>]*\son[a-z]+=", text) is None, path
        assert "javascript:" not in text, path
    for path in sorted((site / "assets" / "app").glob("*.js")):
        code = path.read_text(encoding="utf-8")
        found = re.search(r"\beval\(|new Function\(|document\.write\(|\.cookie\b", code)
        assert found is None, f"{path}: {found}"


def test_a_whole_visit_leaves_nothing_behind_elsewhere(
    strict: Server, pages: dict[str, str], sweep: Callable[..., Sweep], tmp_path: Path
) -> None:
    """Colours switched, a number typed, a file made, a search, another page: all stays here."""
    reader = sweep(quiet=False)
    page = watched(reader.context.new_page())
    page.goto(strict.address + pages["fin-check"])
    page.evaluate("sweep.ready()")
    page.locator("label[for=__palette_1]").first.click()
    page.locator(".fs-calc [name=thickness]").fill("3/16in")
    until(page, "!document.querySelector('.fs-calc .fs-stale')")
    with page.expect_download() as made:
        page.locator("[data-action=download-json]").click()
    assert made.value.url.startswith("blob:")
    made.value.save_as(tmp_path / "answer.json")
    page.locator("input[name=query]").click()
    page.locator("input[name=query]").press_sequentially("ply", delay=40)
    until(page, "document.querySelectorAll('.md-search-result__item').length > 0")
    page.keyboard.press("Escape")
    page.locator(".md-tabs a", has_text="Teach").click()
    until(page, "location.pathname.endsWith('/teach/')")
    page.wait_for_load_state("networkidle")
    assert reader.private(page, strict.address) == []
    keys = page.evaluate("Object.keys(localStorage).sort()")
    assert [re.sub("-[a-z]{10}$", "", key) for key in keys] == [
        "/.__palette",
        "finstock:rocket",
        "finstock:shelf",
    ]


def test_policy_would_notice(strict: Server, sweep: Callable[..., Sweep]) -> None:
    """The check is awake: an inline script, an eval and a stranger are blocked and reported."""
    page = sweep().context.new_page()
    page.goto(strict.address)
    page.evaluate(
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


def test_sweep_would_notice(strict: Server, sweep: Callable[..., Sweep]) -> None:
    """The check is awake: each way of telling, keeping or doing what is not allowed is named."""
    reader = sweep()
    page = watched(reader.context.new_page())
    page.goto(strict.address)
    page.evaluate("sweep.ready()")
    assert reader.private(page, strict.address) == []
    page.evaluate(
        """async () => {
          document.cookie = 'mine=1';
          localStorage.setItem('mine', '1');
          await new Promise((done) => { indexedDB.open('mine').onsuccess = done; });
          await fetch('/?typed=secret').catch(() => {});
          await fetch('/', {method: 'POST', body: 'secret'}).catch(() => {});
          new Image().src = 'http://127.0.0.2:1/';
          navigator.sendBeacon('/');
        }"""
    )
    until(page, "blocked.length")
    found = " ".join(reader.private(page, strict.address))
    for what in ("blocked", "sent", "not a question", "carried", "cookie", "stored", "database"):
        assert f": {what}: " in found, found
    assert "console" in found
