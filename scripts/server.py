"""Serve a built site on loopback the way a good static host would.

Precompressed twins, right media types, cache lifetimes by kind of address, the security headers
the site is written for. `mkdocs serve` is for people who edit; this is for reading and for tests.
"""

from __future__ import annotations

import contextlib
import gzip
import mimetypes
import socket
import threading
from collections.abc import Callable
from functools import lru_cache, partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

from scripts import policy

# No inline script or style, no eval beyond compiling WebAssembly, no other origin.
POLICY = policy.policy()

for suffix, kind in {
    ".mjs": "text/javascript",
    ".js": "text/javascript",
    ".wasm": "application/wasm",
    ".webmanifest": "application/manifest+json",
    ".woff2": "font/woff2",
}.items():
    mimetypes.add_type(kind, suffix)


# What hosts compress as it goes out.
TEXT = {".html", ".css", ".js", ".json", ".svg", ".xml", ".webmanifest", ".csv", ".txt"}


@lru_cache(maxsize=512)
def _compressed(path: Path, changed: int) -> bytes:
    """Return a file gzipped; `changed` is its time of change, so that an edited one counts anew."""
    return gzip.compress(path.read_bytes(), 6, mtime=0)


class Handler(SimpleHTTPRequestHandler):
    """One request; the server's `intercept` may answer it first (tests break things with it)."""

    protocol_version = "HTTP/1.1"
    good = False

    def do_GET(self) -> None:
        """Answer with the precompressed twin where there is one and the reader accepts it."""
        server: Any = self.server
        path = unquote(urlsplit(self.path).path)
        server.seen.append(path)
        if server.intercept is not None and server.intercept(self, path):
            return
        local = Path(self.translate_path(path))
        if path.endswith("/"):
            local = local / "index.html"
        twin = local.with_name(local.name + ".gz")
        accepted = self.headers.get("Accept-Encoding", "")
        text = local.suffix in TEXT
        if server.compress and "gzip" in accepted and local.is_file() and (text or twin.is_file()):
            content = (
                twin.read_bytes()
                if twin.is_file()
                else _compressed(local, local.stat().st_mtime_ns)
            )
            tag = f'"{local.stat().st_mtime_ns:x}"'
            if self.headers.get("If-None-Match") == tag:
                self.send_response(304)
                self.end_headers()
                return
            self.send_response(200)
            self.send_header("ETag", tag)
            self.send_header("Vary", "Accept-Encoding")
            self.send_header("Content-Type", self.guess_type(str(local)))
            self.send_header("Content-Encoding", "gzip")
            self.send_header("Content-Length", str(len(content)))
            self.end_headers()
            self.wfile.write(content)
            return
        if not local.exists():
            self._lost(Path(self.directory) / "404.html")
            return
        super().do_GET()

    def _lost(self, page: Path) -> None:
        content = page.read_bytes() if page.is_file() else b"Not found"
        self.send_response(404)
        self.send_header("Content-Type", "text/html")
        self.send_header("Content-Length", str(len(content)))
        self.end_headers()
        self.wfile.write(content)

    def send_response(self, code: int, message: str | None = None) -> None:
        """Remember whether this went well: failures must not last."""
        self.good = code == 200
        super().send_response(code, message)

    def end_headers(self) -> None:
        """Add what every answer carries: how long it lasts and what a page may do."""
        lasting = self.good and "/rt/" in self.path and "runtime.json" not in self.path
        self.send_header(
            "Cache-Control", "public, max-age=31536000, immutable" if lasting else "no-cache"
        )
        self.send_header("Content-Security-Policy", POLICY)
        self.send_header("X-Content-Type-Options", "nosniff")
        self.send_header("Referrer-Policy", "no-referrer")
        super().end_headers()

    def log_message(self, format: str, *args: Any) -> None:
        """Stay quiet: the person reads progress lines, not an access log."""


class Server(ThreadingHTTPServer):
    """A static server on loopback, in a thread of its own."""

    daemon_threads = True
    allow_reuse_address = True

    def __init__(self, site: Path, port: int = 0, *, compress: bool = True) -> None:
        self.compress = compress
        self.seen: list[str] = []
        self.intercept: Callable[[Handler, str], bool] | None = None
        self.stopped = False
        self.held: set[socket.socket] = set()
        super().__init__(("127.0.0.1", port), partial(Handler, directory=str(site)))

    @property
    def address(self) -> str:
        """Return the site's address, ending in a slash."""
        return f"http://127.0.0.1:{self.server_port}/"

    def start(self) -> Server:
        """Serve in the background."""
        threading.Thread(target=self.serve_forever, args=(0.05,), daemon=True).start()
        return self

    def stop(self) -> None:
        """Stop serving, hang up on everybody and let go of the port."""
        self.stopped = True
        self.shutdown()
        self.server_close()
        # A connection kept alive would go on being answered by this server, not by the next.
        for held in list(self.held):
            with contextlib.suppress(OSError):
                held.shutdown(socket.SHUT_RDWR)

    def finish_request(self, request: Any, client_address: Any) -> None:
        """Serve one connection, remembered while it lasts."""
        self.held.add(request)
        try:
            if not self.stopped:
                super().finish_request(request, client_address)
        finally:
            self.held.discard(request)

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Ignore readers who hang up."""
