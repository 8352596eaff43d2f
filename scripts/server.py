"""Serve a built site on loopback as a good static host does.

Precompressed copies, right media types, cache lifetimes by kind of address, parts of files, the
security headers that the site is written for. `mkdocs serve` is for people who edit; this is for
reading and for tests.
"""

from __future__ import annotations

import argparse
import contextlib
import gzip
import re
import socket
import threading
from collections import deque
from collections.abc import Callable
from functools import lru_cache
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote

from scripts import policy
from scripts.publish import TYPES
from scripts.say import Failure

# No inline script or style, no eval beyond compiling WebAssembly, no other origin.
POLICY = policy.policy()

# What hosts compress as they send it.
TEXT = {".html", ".css", ".js", ".json", ".svg", ".xml", ".webmanifest", ".csv", ".txt"}

BLOCK = 1 << 16
"""Bytes sent at once: the time limit of a slow connection is for each block."""


def port(text: str) -> int:
    """Return a port number for argparse.

    >>> port("8000")
    8000
    """
    if not re.fullmatch(r"[0-9]{1,5}", text) or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"a port is a whole number from 1 to 65535, not {text!r}")
    return int(text)


@lru_cache(maxsize=512)
def _compressed(path: Path, changed: int) -> bytes:
    """Return a file gzipped; `changed` is its time of change, so that an edited file is new."""
    return gzip.compress(path.read_bytes(), 6, mtime=0)


class Handler(BaseHTTPRequestHandler):
    """Answer one connection's requests; the server's `intercept` may answer first (in tests)."""

    protocol_version = "HTTP/1.1"
    server: Server
    path = ""
    """Empty until a request line was read: some refusals come before that."""
    lasting = False

    def setup(self) -> None:
        """Set the connection's time limit."""
        super().setup()
        self.connection.settimeout(self.server.patience)

    def do_GET(self) -> None:
        """Send a file, compressed where the client accepts it, or the range that was requested."""
        target, _, query = self.path.partition("#")[0].partition("?")
        path = unquote(target)
        self.server.seen.append(path[:300])
        if self.server.intercept is not None and self.server.intercept(self, path):
            return
        local = self._local(path)
        if local is None:
            self._send_missing()
        elif local.is_dir():
            # Relative links on the page need the slash.
            self.send_response(301)
            location = quote(f"/{path.strip('/')}/")
            self.send_header("Location", f"{location}?{query}" if query else location)
            self.send_header("Content-Length", "0")
            self.end_headers()
        else:
            self._send_file(local)

    def do_HEAD(self) -> None:
        """Send the headers of the same answer without its content."""
        self.do_GET()

    def _local(self, path: str) -> Path | None:
        """Return the file or folder that a path names, or None where the site has none."""
        wanted = self.server.site / path.lstrip("/")
        try:
            local = (wanted / "index.html" if path.endswith("/") else wanted).resolve()
            inside = local.is_relative_to(self.server.site)
            return local if inside and local.exists() else None
        except (OSError, ValueError):
            # A name that is too long or holds a zero byte.
            return None

    def _send_file(self, local: Path) -> None:
        status = local.stat()
        tag = f"{status.st_mtime_ns:x}-{status.st_size:x}"
        asked = self.headers.get("Range")
        twin = local.with_name(local.name + ".gz")
        packed = (
            self.server.compress
            and asked is None
            and "gzip" in self.headers.get("Accept-Encoding", "")
            and (local.suffix in TEXT or twin.is_file())
        )
        tag = f'"{tag}-gzip"' if packed else f'"{tag}"'
        if tag in re.split(r"\s*,\s*", self.headers.get("If-None-Match", "")):
            self.send_response(304)
            self.send_header("ETag", tag)
            self.end_headers()
            return
        if not packed:
            content = local.read_bytes()
        elif twin.is_file():
            content = twin.read_bytes()
        else:
            content = _compressed(local, status.st_mtime_ns)
        part = slice(None)
        code = 200
        if asked is not None and self.headers.get("If-Range", tag) == tag:
            found = part_of(asked, len(content))
            if found is not None:
                code = 206 if found.start < found.stop else 416
                part = found
        self.send_response(code)
        if code == 206:
            self.send_header("Content-Range", f"bytes {part.start}-{part.stop - 1}/{len(content)}")
        elif code == 416:
            self.send_header("Content-Range", f"bytes */{len(content)}")
        if packed:
            self.send_header("Content-Encoding", "gzip")
        self.send_header("Accept-Ranges", "bytes")
        self.send_header("ETag", tag)
        self.send_header("Vary", "Accept-Encoding")
        self.send_header(
            "Content-Type", TYPES.get(local.suffix.removeprefix("."), "application/octet-stream")
        )
        self._send_content(content[part])

    def _send_missing(self) -> None:
        page = self.server.site / "404.html"
        self.send_response(404)
        self.send_header("Content-Type", "text/html")
        self._send_content(page.read_bytes() if page.is_file() else b"Not found")

    def _send_content(self, content: bytes) -> None:
        self.send_header("Content-Length", str(len(content)))
        self.end_headers()
        if self.command == "HEAD":
            return
        for start in range(0, len(content), BLOCK):
            self.wfile.write(content[start : start + BLOCK])

    def send_response(self, code: int, message: str | None = None) -> None:
        """Note whether the answer may be cached: a failure must not be."""
        self.lasting = (
            code in (200, 206, 304) and "/rt/" in self.path and "runtime.json" not in self.path
        )
        super().send_response(code, message)

    def end_headers(self) -> None:
        """Add the headers of every answer: how long to keep it and what a page may do."""
        self.send_header(
            "Cache-Control", "public, max-age=31536000, immutable" if self.lasting else "no-cache"
        )
        self.send_header("Content-Security-Policy", POLICY)
        self.send_header("X-Content-Type-Options", "nosniff")
        self.send_header("Referrer-Policy", "no-referrer")
        super().end_headers()

    def log_message(self, format: str, *args: Any) -> None:
        """Print nothing: the person reads progress lines, not an access log."""


def part_of(header: str, size: int) -> slice | None:
    """Return the part of a file that a Range header requests, or None where it is ignored.

    Parameters
    ----------
    header
        The header's value. Several ranges at once are ignored, as RFC 9110 allows (14.2).
    size
        Length of the file [bytes].

    Returns
    -------
    slice or None
        An empty slice where the file has no such part.

    Examples
    --------
    >>> part_of("bytes=2-5", 10), part_of("bytes=-3", 10), part_of("bytes=12-", 10)
    (slice(2, 6, None), slice(7, 10, None), slice(0, 0, None))
    """
    found = re.fullmatch(r"bytes=([0-9]{0,18})-([0-9]{0,18})", header.strip())
    if found is None or not (found[1] or found[2]):
        return None
    if not found[1]:
        first, last = max(0, size - int(found[2])), size - 1
    else:
        first, last = int(found[1]), min(size - 1, int(found[2] or size - 1))
        if found[2] and int(found[2]) < first:
            return None
    return slice(first, last + 1) if first <= last else slice(0, 0)


class Server(ThreadingHTTPServer):
    """A static server on loopback with a thread for each connection.

    Parameters
    ----------
    site
        Folder of the built site.
    port
        Port to listen on; 0 takes a free one.
    compress
        Whether to send files gzipped to readers who accept it.
    patience
        Time after which a connection that sends and takes nothing is closed [s].
    """

    daemon_threads = True
    allow_reuse_address = True
    request_queue_size = 1024
    """Readers who may wait at once to be let in; a page with its parts takes several."""

    def __init__(
        self, site: Path, port: int = 0, *, compress: bool = True, patience: float = 20.0
    ) -> None:
        self.site = site.resolve()
        self.compress = compress
        self.patience = patience
        self.seen: deque[str] = deque(maxlen=10_000)
        """The last requested paths, for tests."""
        self.intercept: Callable[[Handler, str], bool] | None = None
        self.stopped = False
        self.open_connections: set[socket.socket] = set()
        super().__init__(("127.0.0.1", port), Handler)

    @classmethod
    def open(cls, site: Path, port: int, *, otherwise: str) -> Server:
        """Return a server that listens on the port.

        Raises
        ------
        Failure
            Where the port cannot be used; `otherwise` says what to do then.
        """
        try:
            return cls(site, port)
        except OSError as error:
            raise Failure(f"Port {port} cannot be used ({error.strerror}): {otherwise}.") from error

    @property
    def address(self) -> str:
        """Return the site's address, ending in a slash."""
        return f"http://127.0.0.1:{self.server_port}/"

    def start(self) -> Server:
        """Serve in the background."""
        threading.Thread(target=self.serve_forever, args=(0.05,), daemon=True).start()
        return self

    def stop(self) -> None:
        """Stop serving, close connections and release the port."""
        self.stopped = True
        self.shutdown()
        self.server_close()
        # A connection kept alive would still be answered by this server, not by the next one.
        for connection in list(self.open_connections):
            with contextlib.suppress(OSError):
                connection.shutdown(socket.SHUT_RDWR)

    def finish_request(self, request: Any, client_address: Any) -> None:
        """Answer one connection's requests, and know of it while it is open."""
        self.open_connections.add(request)
        try:
            if not self.stopped:
                super().finish_request(request, client_address)
        finally:
            self.open_connections.discard(request)

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Print nothing when a reader closes a connection early."""
