"""The published folder on Debian's nginx, at the root of a host and under a path."""

from __future__ import annotations

import gzip
import http.client
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import brotli
import pytest
from playwright.sync_api import BrowserContext, Page

from scripts import policy, publish
from scripts.nginx import Nginx
from scripts.test import PORT

from .conftest import computes, moved, until, watched

MAIN = "fin-check"
ROOT_ADDRESS = f"http://127.0.0.1:{PORT}/"


@dataclass
class Host:
    """A published site and the nginx that serves it."""

    folder: Path
    address: str
    nginx: Nginx

    @property
    def site(self) -> Path:
        """The folder of files."""
        return self.folder / "site"

    def get(self, name: str, accept: str = "") -> tuple[int, dict[str, str], bytes]:
        """Return status, headers (names in lower case) and the body as it travelled."""
        connection = http.client.HTTPConnection("127.0.0.1", PORT, timeout=20)
        asked = {"Accept-Encoding": accept} if accept else {}
        connection.request("GET", publish.prefix_of(self.address) + name, headers=asked)
        answer = connection.getresponse()
        found = {key.lower(): value for key, value in answer.getheaders()}
        body = answer.read()
        connection.close()
        return answer.status, found, body


@pytest.fixture(scope="module", params=["", "handbook/"], ids=["root", "path"])
def folder(
    request: pytest.FixtureRequest, site: Path, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, str]:
    """Publish the site for an address; return the folder and the address."""
    address = ROOT_ADDRESS + request.param
    base = tmp_path_factory.mktemp("published")
    built = moved(site, base / "built", ROOT_ADDRESS, address) if request.param else site
    # A name that nginx would misread outside quotes.
    target = base / 'my "fins"; {dist}'
    # Fast rather than small: what is checked here does not depend on it.
    publish.prepare(built, target, address, root=str(target / "site"), quality=7)
    return target, address


@pytest.fixture
def host(folder: tuple[Path, str]) -> Iterator[Host]:
    """Serve the published folder with the configuration it brings."""
    target, address = folder
    configuration = (target / "nginx.conf").read_text(encoding="utf-8")
    configuration = configuration.replace("listen 80;", f"listen 127.0.0.1:{PORT};")
    nginx = Nginx(configuration, PORT)
    yield Host(target, address, nginx)
    nginx.stop()


def runtime_file(host: Host, name: str) -> str:
    """Return the name within the site of a runtime file."""
    rows = json.loads((host.site / "rt" / "runtime.json").read_text())["files"]
    return next(row["url"] for row in rows if row["url"].endswith(name))


def untroubled(page: Page, host: Host) -> None:
    """Check that nothing was blocked or failed, and that nothing went to another address."""
    said = [line for line in page.said if not line.startswith(("log:", "info:"))]  # type: ignore[attr-defined]
    assert said == []
    strangers = [url for url in page.asked if not url.startswith((host.address, "data:", "blob:"))]  # type: ignore[attr-defined]
    assert strangers == []


def test_headers_of_every_kind_of_file(host: Host, pages: dict[str, str]) -> None:
    """Pages ask again, digests last a year, and the security headers stand on all, errors too."""
    csp = policy.header_of(host.site)
    bundle = next(host.site.glob("assets/javascripts/bundle.*.min.js"))
    expected = {
        "": ("text/html; charset=utf-8", publish.AGAIN),
        pages[MAIN]: ("text/html; charset=utf-8", publish.AGAIN),
        "sw.js": ("text/javascript; charset=utf-8", publish.AGAIN),
        "rt/runtime.json": ("application/json; charset=utf-8", publish.AGAIN),
        "assets/app/worker.js": ("text/javascript; charset=utf-8", publish.AGAIN),
        "manifest.webmanifest": ("application/manifest+json; charset=utf-8", publish.AGAIN),
        f"assets/javascripts/{bundle.name}": ("text/javascript; charset=utf-8", publish.FOREVER),
        runtime_file(host, ".wasm"): ("application/wasm", publish.FOREVER),
        runtime_file(host, "pyodide.mjs"): ("text/javascript; charset=utf-8", publish.FOREVER),
        runtime_file(host, "start.zip"): ("application/zip", publish.FOREVER),
        "assets/fonts/besley.woff2": ("font/woff2", publish.DAY),
        "assets/img/icon-192.png": ("image/png", publish.DAY),
    }
    for name, (kind, life) in expected.items():
        status, found, _ = host.get(name)
        assert status == 200, name
        assert found["content-type"] == kind, name
        assert found["cache-control"] == life, name
        assert publish.lasts(name) == life, name
        for header, value in policy.headers(csp).items():
            assert found[header.lower()] == value, name
    for name in ("no/such/page/", "rt/0123456789abcdef/start.zip"):
        status, found, body = host.get(name)
        assert status == 404
        assert found["content-security-policy"] == csp
        assert found["cache-control"] == publish.AGAIN, "a failure must not last"
        assert b"<html" in body


def test_policy_is_the_strict_one(host: Host) -> None:
    """No inline script, no inline style, no eval, no other origin, no form, no frame."""
    found = dict(
        part.strip().split(" ", 1) for part in host.get("")[1]["content-security-policy"].split(";")
    )
    assert found == {
        "default-src": "'none'",
        "script-src": "'self' 'wasm-unsafe-eval'",
        "style-src": "'self'",
        "img-src": "'self' data:",
        "font-src": "'self'",
        "connect-src": "'self'",
        "worker-src": "'self'",
        "manifest-src": "'self'",
        "base-uri": "'none'",
        "form-action": "'none'",
        "frame-ancestors": "'none'",
    }


@pytest.mark.parametrize(
    "name", ["", "sw.js", "manifest.webmanifest", "search/search_index.json", "start.zip", ".wasm"]
)
def test_compression(host: Host, name: str) -> None:
    """Brotli, gzip and plain answers carry the same bytes, each smaller than the last."""
    address = runtime_file(host, name) if name in ("start.zip", ".wasm") else name
    plain = host.get(address)
    packed = host.get(address, "gzip")
    tight = host.get(address, "gzip, deflate, br")
    assert "content-encoding" not in plain[1]
    if len(plain[2]) < publish.SMALLEST:
        assert "content-encoding" not in tight[1]
        return
    assert packed[1]["content-encoding"] == "gzip"
    assert tight[1]["content-encoding"] == "br"
    assert "accept-encoding" in tight[1]["vary"].lower()
    assert gzip.decompress(packed[2]) == plain[2]
    assert brotli.decompress(tight[2]) == plain[2]
    assert len(tight[2]) < len(packed[2]) < len(plain[2])


def test_no_twin_is_older_than_its_file(host: Host) -> None:
    """Every twin in the folder unpacks to the file it stands for."""
    for twin in host.site.rglob("*.gz"):
        if twin.name != "sitemap.xml.gz":
            assert gzip.decompress(twin.read_bytes()) == twin.with_suffix("").read_bytes(), twin
    twins = list(host.site.rglob("*.br"))
    assert twins
    for twin in twins:
        assert brotli.decompress(twin.read_bytes()) == twin.with_suffix("").read_bytes(), twin


def test_plain_headers_agree_with_nginx(host: Host) -> None:
    """What headers.txt lists for a path is what nginx sends there."""
    prefix = publish.prefix_of(host.address)
    rules: dict[str, dict[str, str]] = {}
    for line in (host.folder / "headers.txt").read_text(encoding="utf-8").splitlines():
        if line.startswith("/"):
            path = line
            rules[path] = {}
        elif line.startswith("  "):
            name, _, value = line.strip().partition(": ")
            rules[path][name.lower()] = value
    assert f"{prefix}*" in rules
    for path, wanted in rules.items():
        if path.endswith("*"):
            inside = sorted(host.site.glob(f"{path[len(prefix) : -1]}**/*"))
            name = next(p for p in inside if p.is_file()).relative_to(host.site).as_posix()
        else:
            name = path[len(prefix) :]
        status, found, _ = host.get(name)
        assert status == 200, path
        for header, value in wanted.items():
            assert found[header].partition(";")[0] == value.partition(";")[0], (path, header)


def test_pages_answer_and_nothing_is_blocked(
    host: Host, context: BrowserContext, pages: dict[str, str]
) -> None:
    """Home, search, the way to the calculator and its answers work under the strict policy."""
    page = watched(context.new_page())
    page.goto(host.address)
    until(page, "document.fonts.status === 'loaded'")
    assert page.locator("h1").first.is_visible()
    untroubled(page, host)
    page.goto(host.address + pages[MAIN])
    before = page.locator(".fs-calc [data-fragment=result]").inner_text()
    page.locator(".fs-calc input[type=text]").first.focus()
    until(page, "document.querySelector('.fs-calc')?.dataset.state === 'live'")
    computes(page, "4.4in")
    assert page.locator(".fs-calc [data-fragment=result]").inner_text() != before
    assert "root=4.4in" in page.url
    untroubled(page, host)
    page.locator("input[name=query]").click()
    page.locator("input[name=query]").press_sequentially("balsa", delay=50)
    until(page, "document.querySelectorAll('.md-search-result__item').length > 0")
    untroubled(page, host)
    encodings = {
        answer
        for answer in page.evaluate(
            "performance.getEntriesByType('resource').map(e => e.contentEncoding ?? '')"
        )
        if answer
    }
    assert encodings <= {"br", "gzip"}


def test_page_there_is_not_looks_like_ours(host: Host, context: BrowserContext) -> None:
    """The error page finds its style and scripts from any depth."""
    page = watched(context.new_page())
    answer = page.goto(f"{host.address}no/such/page/")
    assert answer is not None
    assert answer.status == 404
    assert page.evaluate("document.styleSheets.length") >= 1
    wrong = [line for line in page.said if "404" not in line and line.startswith("error")]  # type: ignore[attr-defined]
    assert wrong == []


def test_kept_copy_works_without_the_server(
    host: Host, context: BrowserContext, pages: dict[str, str]
) -> None:
    """Kept from this host, the pages open and answer with nginx gone and the network cut."""
    page = watched(context.new_page())
    address = next(
        path.relative_to(host.site).as_posix().removesuffix("index.html")
        for path in sorted(host.site.rglob("index.html"))
        if 'class="fs-keep"' in path.read_text(encoding="utf-8")
    )
    page.goto(host.address + address)
    button = page.locator(".fs-keep button", has_text="Keep for offline use")
    button.wait_for(state="visible")
    button.click()
    until(page, "document.querySelector('.fs-keep')?.dataset.state === 'kept'")
    untroubled(page, host)
    host.nginx.stop()
    context.set_offline(True)
    page.goto(host.address)
    assert page.locator("h1").first.is_visible()
    page.goto(host.address + pages[MAIN] + "?root=3.3in")
    computes(page, "4.6in")
    assert not any("Security Policy" in line for line in page.said)  # type: ignore[attr-defined]
