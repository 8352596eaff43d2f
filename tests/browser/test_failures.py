"""Messages for the reader when the runtime is missing, crashes or takes too long."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page

from scripts import bench_boot, hooks
from scripts.server import Handler, Server

from .conftest import until, watched

MAIN = "fin-check"
DIES = """postMessage({type: 'live', version: 'x', milliseconds: 1, trap: 0});
self.onmessage = () => { setTimeout(() => { throw new Error('out of memory'); }, 50); };"""
SILENT = """postMessage({type: 'live', version: 'x', milliseconds: 1, trap: 0});"""
RAISES = """postMessage({type: 'live', version: 'x', milliseconds: 1, trap: 0});
self.onmessage = ({data}) => postMessage(
  {id: data.id, type: "failed", stage: "answer",
   message: "ZeroDivisionError: division by zero"});"""


def replies(status: int, body: bytes, kind: str, match: str) -> Callable[[Handler, str], bool]:
    """Return an intercept that answers matching paths with this."""

    def intercept(handler: Handler, path: str) -> bool:
        if match not in path:
            return False
        handler.send_response(status)
        handler.send_header("Content-Type", kind)
        handler.send_header("Content-Length", str(len(body)))
        handler.end_headers()
        handler.wfile.write(body)
        return True

    return intercept


def told(page: Page, *words: str) -> None:
    """Check the sentence, the retry button and that the built answer is still there."""
    until(page, "document.querySelector('.fs-calc')?.dataset.state === 'failed'")
    said = page.locator(".fs-calc .fs-status").inner_text()
    for word in words:
        assert word in said, said
    assert page.locator(".fs-calc [data-action=retry]").is_visible()
    assert page.locator(".fs-calc [data-fragment=result]").inner_text().strip()


def opened(context: BrowserContext, server: Server, pages: dict[str, str]) -> Page:
    """Open the main calculator's page and touch it."""
    page = watched(context.new_page())
    page.goto(server.address + pages[MAIN])
    page.locator(".fs-calc [name=root]").fill("4in")
    return page


@pytest.mark.parametrize(
    ("match", "status"),
    [
        ("worker.js", 404),
        ("runtime.json", 500),
        (".wasm", 404),
        (".zip", 404),
        ("pyodide.mjs", 503),
        ("pyodide.asm.js", 404),
    ],
)
def test_runtime_that_cannot_be_loaded(
    match: str, status: int, context: BrowserContext, server: Server, pages: dict[str, str]
) -> None:
    """A missing file gives a message in plain words; once it is back, the retry works."""
    server.intercept = replies(status, b"gone", "text/plain", match)
    page = opened(context, server, pages)
    told(page, "could not be loaded")
    server.intercept = None
    page.locator(".fs-calc [data-action=retry]").click()
    until(page, "document.querySelector('.fs-calc')?.dataset.state === 'live'")
    until(page, "!document.querySelector('.fs-calc .fs-stale')")


@pytest.mark.parametrize(("status", "content"), [(404, b"gone"), (200, b"PK not really")])
def test_start_image_that_is_lost(
    status: int, content: bytes, context: BrowserContext, server: Server, pages: dict[str, str]
) -> None:
    """Without a usable start image Python loads its parts, and the reader notices nothing."""
    server.intercept = replies(status, content, "application/zip", "start.zip")
    page = opened(context, server, pages)
    until(page, "document.querySelector('.fs-calc')?.dataset.state === 'live'")
    until(page, "!document.querySelector('.fs-calc .fs-stale')")
    assert any(path.endswith("numpy.zip") for path in server.seen)


def test_slow_line_brings_the_parts(
    context: BrowserContext,
    server: Server,
    pages: dict[str, str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Where the start image would take long to come, Python starts from its smaller parts.

    So it does at the next visit, which finds them here and fetches nothing of Python.
    """
    monkeypatch.setattr(bench_boot, "BYTES_A_SECOND", 4e5)
    server.RequestHandlerClass = bench_boot.SlowLine
    for visit in range(2):
        server.seen.clear()
        page = opened(context, server, pages)
        until(page, "document.querySelector('.fs-calc')?.dataset.state === 'live'")
        until(page, "!document.querySelector('.fs-calc .fs-stale')")
        assert any(path.endswith("numpy.zip") for path in server.seen) is (visit == 0)
        assert any(path.endswith("start.zip") for path in server.seen) is (visit == 0)
        page.close()


def test_damaged_archive_is_noticed_and_fetched_again(
    context: BrowserContext, server: Server, pages: dict[str, str]
) -> None:
    """A runtime file of the wrong size is named; the retry asks for it afresh."""
    server.intercept = replies(200, b"PK not really", "application/zip", ".zip")
    page = opened(context, server, pages)
    told(page, "could not be loaded")
    server.intercept = None
    page.locator(".fs-calc [data-action=retry]").click()
    until(page, "!document.querySelector('.fs-calc .fs-stale')")


def test_worker_that_dies(context: BrowserContext, server: Server, pages: dict[str, str]) -> None:
    """A crash in mid-answer gives a message, and a retry starts a new worker."""
    server.intercept = replies(200, DIES.encode(), "text/javascript", "worker.js")
    page = opened(context, server, pages)
    told(page, "out of memory")
    server.intercept = None
    page.locator(".fs-calc [data-action=retry]").click()
    until(page, "!document.querySelector('.fs-calc .fs-stale')")


def test_answer_that_exceeds_its_time(
    context: BrowserContext, server: Server, pages: dict[str, str]
) -> None:
    """An answer that does not come in time is ended, in a plain sentence."""
    context.add_init_script("globalThis.finstockLimits = {answer: 1};")
    server.intercept = replies(200, SILENT.encode(), "text/javascript", "worker.js")
    told(opened(context, server, pages), "No answer came in time", "1 seconds")


def test_start_that_exceeds_its_time(
    context: BrowserContext, server: Server, pages: dict[str, str]
) -> None:
    """A start without a sign of life is ended, in a plain sentence."""
    context.add_init_script("globalThis.finstockLimits = {boot: 1};")
    server.intercept = replies(200, b"self.onmessage = () => {};", "text/javascript", "worker.js")
    told(opened(context, server, pages), "nothing happened for 1 seconds")


def test_answer_that_raises_puts_the_last_one_aside(
    context: BrowserContext, server: Server, pages: dict[str, str]
) -> None:
    """An error inside Python gives a message, keeps the worker and removes the old verdict."""
    server.intercept = replies(200, RAISES.encode(), "text/javascript", "worker.js")
    page = opened(context, server, pages)
    until(page, "document.querySelector('.fs-calc .fs-status').textContent.includes('failed')")
    said = page.locator(".fs-calc .fs-status").inner_text()
    assert "division by zero" in said
    assert "earlier answer is folded away" in said
    verdict = page.locator(".fs-calc .fs-verdict")
    assert verdict.count() == 1
    assert not verdict.is_visible()
    assert page.locator(".fs-calc [data-fragment=result].fs-stale").count() == 1
    assert page.locator(".fs-calc").get_attribute("data-state") == "live"


# Answers as another calculator would, once early and once in full.
ANOTHER = """postMessage({type: 'live', version: 'x', milliseconds: 1, trap: 0});
self.onmessage = ({data}) => {
  const first = '<div class="fs-verdict">of another calculator</div>';
  postMessage({id: data.id, type: 'early', result: {slug: 'ring', first, summary: 'another'}});
  const fragments = {result: first};
  const result = {slug: 'ring', fragments, errors: {}, summary: 'another', json: {}, query: ''};
  setTimeout(() => postMessage({id: data.id, type: 'answer', result}), 300);
};"""


def test_no_page_shows_the_answer_of_another_calculator(
    context: BrowserContext, server: Server, pages: dict[str, str]
) -> None:
    """Whatever the worker sends, a page takes only what its own calculator answered."""
    server.intercept = replies(200, ANOTHER.encode(), "text/javascript", "worker.js")
    page = opened(context, server, pages)
    seen = "document.querySelector('.fs-calc').textContent.includes('of another calculator')"
    said = "document.querySelector('.fs-calc .fs-status').textContent"
    until(page, f"{seen} || {said}.includes('Another')")
    assert not page.evaluate(seen)
    assert not page.locator(".fs-calc .fs-verdict").is_visible()


def test_stop_ends_a_long_answer(
    context: BrowserContext, server: Server, pages: dict[str, str]
) -> None:
    """While an answer runs there is a Stop; it keeps the last answer and starts Python again."""
    server.intercept = replies(200, SILENT.encode(), "text/javascript", "worker.js")
    page = opened(context, server, pages)
    stop = page.locator(".fs-calc [data-action=stop]")
    stop.wait_for(state="visible")
    stop.click()
    assert "Stopped" in page.locator(".fs-calc .fs-status").inner_text()
    assert page.locator(".fs-calc [data-fragment=result]").inner_text().strip()


def test_site_built_without_the_runtime_says_so(
    context: BrowserContext, server: Server, pages: dict[str, str]
) -> None:
    """A build that could not get the runtime is readable, says so, and offers no vain retry."""
    missing = json.dumps({"missing": "numpy's browser wheel could not be had."}).encode()
    server.intercept = replies(200, missing, "application/json", "runtime.json")
    page = opened(context, server, pages)
    until(page, "document.querySelector('.fs-calc')?.dataset.state === 'failed'")
    said = page.locator(".fs-calc .fs-status").inner_text()
    assert "built without the calculators" in said
    assert not page.locator(".fs-calc [data-action=retry]").is_visible()
    assert page.locator(".fs-calc [data-fragment=result]").inner_text().strip()


def test_build_without_runtime_is_complete(tmp_path: Path) -> None:
    """The hook finishes a site whose runtime could not be had: manifest and service worker."""
    (tmp_path / "index.html").write_text('<meta charset="utf-8"><p>readable</p>')
    hooks.finish(tmp_path, "no source of the runtime could be reached.")
    manifest = json.loads((tmp_path / "rt" / "runtime.json").read_text())
    assert manifest["missing"].startswith("no source")
    assert manifest["offline"] is False
    assert '"build":' in (tmp_path / "sw.js").read_text()
