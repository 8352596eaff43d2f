"""Damaged files, broken storage, odd surroundings: noticed, mended where possible, and said."""

from __future__ import annotations

import json
import mimetypes
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, Route

from scripts.server import Handler, Server

from .conftest import PATIENCE, computes, until, watched
from .test_offline import empty_browser_cache, home, keep  # noqa: F401

MAIN = "fin-check"

# Overwrites a kept file, or removes it where there is no text; true when there was one.
SPOIL = """async ([end, text]) => {
  for (const name of await caches.keys()) {
    const cache = await caches.open(name);
    for (const request of await cache.keys()) {
      if (!request.url.endsWith(end)) continue;
      if (text === null) return cache.delete(request);
      const {headers} = await cache.match(request);
      await cache.put(request, new Response(text, {headers}));
      return true;
    }
  }
  return false;
}"""
KEPT = """async (end) => {
  for (const name of await caches.keys()) {
    const cache = await caches.open(name);
    for (const request of await cache.keys()) {
      if (request.url.endsWith(end)) return (await cache.match(request)).text();
    }
  }
}"""


@pytest.mark.parametrize("text", ["garbage(", None], ids=["damaged", "lost"])
@pytest.mark.parametrize("name", ["rt/runtime.json", "assets/app/app.js", "pyodide.asm.js"])
def test_damaged_kept_file_is_fetched_again(
    name: str,
    text: str | None,
    context: BrowserContext,
    server: Server,
    pages: dict[str, str],
    home: str,  # noqa: F811
) -> None:
    """Without a network the page says what helps; with one it mends itself at the next visit."""
    page = watched(context.new_page())
    keep(page, server.address + home)
    whole = page.evaluate(KEPT, name)
    assert page.evaluate(SPOIL, [name, text])
    empty_browser_cache(context, page)
    context.set_offline(True)
    page.goto(server.address + pages[MAIN] + "?root=3.3in")
    status = "document.querySelector('.fs-calc .fs-status').textContent"
    until(page, f"{status}.includes('onnect to the network')")
    assert page.locator(".fs-calc .fs-verdict").first.text_content()
    context.set_offline(False)
    page.reload()
    computes(page, "4.4in")
    assert page.evaluate(KEPT, name) == whole


@pytest.mark.parametrize("text", ["<p>half a pa", None], ids=["damaged", "lost"])
def test_damaged_page_says_how_to_get_it_back(
    text: str | None,
    context: BrowserContext,
    server: Server,
    pages: dict[str, str],
    home: str,  # noqa: F811
) -> None:
    """A page that lost its content is not shown as if it were one, nor as one that never was."""
    page = watched(context.new_page())
    keep(page, server.address + home)
    assert page.evaluate(SPOIL, [pages[MAIN], text])
    context.set_offline(True)
    page.goto(server.address + pages[MAIN])
    assert "damaged" in page.locator("h1").inner_text()
    assert "reload" in page.locator("body").inner_text()
    context.set_offline(False)
    page.reload()
    computes(page, "4.4in")


@pytest.mark.parametrize("name", ["multiarray_umath.wasm", "start.zip", "pyodide.asm.js"])
def test_fetched_file_with_one_wrong_byte_is_refused(
    name: str, context: BrowserContext, server: Server, pages: dict[str, str], site: Path
) -> None:
    """The length alone does not tell; nothing is computed with such a file, and a retry helps."""
    (path,) = site.glob(f"rt/*/{name}")
    content = bytearray(path.read_bytes())
    # In a text of the code, where nothing else would notice.
    mark = {"multiarray_umath.wasm": b"must be", "pyodide.asm.js": b"This is most likely"}
    at = content.index(mark[name]) if name in mark else len(content) // 2
    content[at] ^= 1

    def altered(handler: Handler, asked: str) -> bool:
        if not asked.removesuffix(".gz").endswith(name):
            return False
        if asked.endswith(".gz"):
            handler.send_error(404)
            return True
        handler.send_response(200)
        handler.send_header(
            "Content-Type", mimetypes.guess_type(asked)[0] or "application/octet-stream"
        )
        handler.send_header("Content-Length", str(len(content)))
        handler.end_headers()
        handler.wfile.write(content)
        return True

    server.intercept = altered
    page = watched(context.new_page())
    page.goto(server.address + pages[MAIN])
    page.locator(".fs-calc [name=root]").fill("4in")
    if name == "start.zip":
        # Its parts stand in for it.
        until(page, "document.querySelector('.fs-calc')?.dataset.state === 'live'")
        assert any("damaged" in line for line in page.said)  # type: ignore[attr-defined]
        return
    until(page, "document.querySelector('.fs-calc')?.dataset.state === 'failed'")
    assert "damaged" in page.locator(".fs-calc .fs-status").inner_text()
    server.intercept = None
    page.locator(".fs-calc [data-action=retry]").click()
    until(page, "!document.querySelector('.fs-calc .fs-stale')")


def test_start_leaves_the_browsers_functions_as_they_were(
    server: Server, pages: dict[str, str], page: Page
) -> None:
    """What is replaced while Python starts is put back."""
    with page.expect_worker() as started:
        page.goto(server.address + pages[MAIN] + "?root=3.3in")
    computes(page, "4.4in")
    script = "() => [WebAssembly.instantiateStreaming, WebAssembly.Module, fetch].map(String)"
    assert all("[native code]" in text for text in started.value.evaluate(script))


def test_half_a_character_is_no_mishap(visit: Callable[..., Page]) -> None:
    """A broken paste gets its message beside the field, and the address stays readable."""
    page = visit(MAIN)
    page.evaluate(
        """() => {
          const box = document.querySelector('.fs-calc [name=root]');
          box.value = '3\\ud83d in';
          box.dispatchEvent(new Event('input', {bubbles: true}));
        }"""
    )
    until(page, "document.querySelector('.fs-calc [name=root]').ariaInvalid === 'true'")
    assert not [line for line in page.said if line.startswith("error")]  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    "stored",
    [
        '{"torn": null, "list": [1], "good": {"modulus_along": "3 GPa", "own_density": "1 kg/m3"}}',
        '{"good": {"modulus_along": "3 GPa", "own_density": "1 kg/m3"}, "torn": {"modulus_al',
    ],
)
def test_broken_shelf_keeps_what_can_be_read(
    stored: str, context: BrowserContext, server: Server, pages: dict[str, str]
) -> None:
    """The whole sheets are still offered, the page wakes, and the next change writes them well."""
    script = f"localStorage.getItem('finstock:sheets') ?? localStorage.setItem('finstock:sheets', {json.dumps(stored)})"  # noqa: E501
    context.add_init_script(script)
    page = watched(context.new_page())
    page.goto(server.address + pages["sheet-test"])
    page.locator(".fs-kept-list li").first.wait_for(timeout=PATIENCE * 1000)
    assert page.locator(".fs-kept-list li").all_inner_texts() == [
        "good: 3 GPa along, 1 kg/m3 Remove"
    ]
    assert not [line for line in page.said if line.startswith("error")]  # type: ignore[attr-defined]
    page.get_by_role("button", name="Remove good").click()
    assert page.evaluate("localStorage.getItem('finstock:sheets')") == "{}"


def test_search_works_where_storage_is_blocked(
    context: BrowserContext, server: Server, pages: dict[str, str]
) -> None:
    """With cookies blocked the theme has storage for the page, and nothing is said to be kept."""
    context.add_init_script(
        """for (const name of ['localStorage', 'sessionStorage']) {
          Object.defineProperty(window, name, {
            configurable: true,
            get() { throw new DOMException('denied', 'SecurityError'); },
          });
        }"""
    )
    page = watched(context.new_page())
    page.goto(server.address + pages["sheet-test"])
    page.locator("input[name=query]").click()
    page.locator("input[name=query]").press_sequentially("balsa", delay=40)
    until(page, "document.querySelectorAll('.md-search-result__item').length > 0")
    page.keyboard.press("Escape")
    page.locator("#keep-sheet-test").fill("mine")
    page.locator(".fs-calc input[type=text]").first.focus()
    until(page, "document.querySelector('.fs-calc')?.dataset.state === 'live'")
    page.get_by_role("button", name="Keep this sheet on this device").click()
    page.locator(".fs-keep-sheet [role=status]").filter(has_text="does not let").wait_for()
    assert not [line for line in page.said if "denied" in line]  # type: ignore[attr-defined]


def test_opened_as_a_file_says_what_is_missing(
    site: Path, pages: dict[str, str], page: Page
) -> None:
    """Browsers run no modules from files: the text is there, the calculator says why it is not."""
    page.goto((site / pages[MAIN] / "index.html").as_uri())
    until(page, "document.querySelector('.fs-calc .fs-status').textContent.includes('server')")


def test_damaged_code_in_the_browsers_own_cache_is_not_run(
    server: Server, context: BrowserContext
) -> None:
    """Code that compiles but has another hash is refused before it runs, and fetched elsewhere."""
    asked = []

    def once_damaged(route: Route) -> None:
        asked.append(route.request.url)
        if len(asked) > 1:
            route.continue_()
            return
        # A section of no meaning at the end: still WebAssembly, for whoever looks at no hash.
        content = route.fetch().body() + b"\x00\x03\x01a\x00"
        route.fulfill(body=content, content_type="application/wasm")

    context.route("**/pyodide.asm.wasm", once_damaged)
    page = watched(context.new_page())
    page.goto(server.address + "check/fin-check/?root=4in")
    until(page, "document.querySelector('.fs-calc')?.dataset.state === 'live'")
    assert len(asked) > 1
