"""The server of ./scripts/serve and of the tests: many readers, odd requests, an orderly end."""

from __future__ import annotations

import contextlib
import gzip
import http.client
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from scripts import serve
from scripts.server import Server

ROOT = Path(__file__).resolve().parents[2]
PAGE = b"<!doctype html><p>fins</p>" * 100
DATA = bytes(range(256)) * 1000


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    """Serve a small site whose connections may be silent for half a second."""
    site = tmp_path / "site"
    (site / "rt" / "0").mkdir(parents=True)
    (site / "index.html").write_bytes(PAGE)
    (site / "404.html").write_bytes(b"lost")
    (site / "rt" / "0" / "a.wasm").write_bytes(DATA)
    (site / "rt" / "0" / "b.zip").write_bytes(DATA)
    (site / "rt" / "0" / "b.zip.gz").write_bytes(gzip.compress(DATA))
    (tmp_path / "secret").write_text("secret")
    (site / "out").symlink_to(tmp_path / "secret")
    running = Server(site, patience=0.5).start()
    yield running
    running.stop()


def ask(
    server: Server, path: str, method: str = "GET", **headers: str
) -> tuple[int, dict[str, str], bytes]:
    """Return status, headers and content of an answer."""
    connection = http.client.HTTPConnection("127.0.0.1", server.server_port, timeout=10)
    connection.request(method, path, headers={k.replace("_", "-"): v for k, v in headers.items()})
    answer = connection.getresponse()
    content = answer.read()
    connection.close()
    return answer.status, {k.lower(): v for k, v in answer.getheaders()}, content


def test_two_hundred_readers_at_once(server: Server) -> None:
    """Everybody who connects before anybody is answered gets the whole page, promptly."""
    readers = []
    began = time.monotonic()
    for _ in range(200):
        readers.append(socket.create_connection(("127.0.0.1", server.server_port), timeout=10))
    for reader in readers:
        reader.sendall(b"GET / HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
    for reader in readers:
        answer = b""
        while piece := reader.recv(1 << 16):
            answer += piece
        assert answer.endswith(PAGE)
        reader.close()
    assert time.monotonic() - began < 10


def test_waiting_readers_are_let_in_later(tmp_path: Path) -> None:
    """Two hundred may connect while the site is still being built."""
    with Server(tmp_path) as waiting:
        readers = [
            socket.create_connection(("127.0.0.1", waiting.server_port), timeout=2)
            for _ in range(200)
        ]
        for reader in readers:
            reader.close()


@pytest.mark.parametrize("sent", [b"", b"GET / HT", b"GET / HTTP/1.1\r\nHost: x\r\n"])
def test_silent_connection_is_closed(server: Server, sent: bytes) -> None:
    """A request that stops half-way is dropped after the time limit, and its thread ends."""
    with socket.create_connection(("127.0.0.1", server.server_port), timeout=10) as half:
        half.sendall(sent)
        assert half.recv(100) == b""
    end = time.monotonic() + 5
    while server.open_connections and time.monotonic() < end:
        time.sleep(0.02)
    assert not server.open_connections


def test_slow_reader_gets_all(server: Server, tmp_path: Path) -> None:
    """The time limit is for silence, not for the whole of a large file."""
    large = os.urandom(1 << 20) * 12
    (server.site / "large.zip").write_bytes(large)
    with socket.socket() as reader:
        reader.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1 << 16)
        reader.settimeout(10)
        reader.connect(("127.0.0.1", server.server_port))
        reader.sendall(b"GET /large.zip HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
        size = 0
        began = time.monotonic()
        while piece := reader.recv(1 << 16):
            size += len(piece)
            time.sleep(0.005)
        assert time.monotonic() - began > 2 * server.patience, "not slow enough to tell"
    assert size > len(large)


@pytest.mark.parametrize("path", ["/", "/rt/0/a.wasm", "/rt/0/b.zip", "/rt", "/none", "/rt/"])
def test_head_is_get_without_content(server: Server, path: str) -> None:
    """Status and headers are those of GET, and nothing follows them but the next answer."""
    line = f"{path} HTTP/1.1\r\nHost: x\r\nAccept-Encoding: gzip\r\n"
    asked = f"HEAD {line}\r\nGET {line}Connection: close\r\n\r\n".encode()
    with socket.create_connection(("127.0.0.1", server.server_port), timeout=10) as reader:
        reader.sendall(asked)
        answer = b""
        while piece := reader.recv(1 << 16):
            answer += piece
    head, whole, _ = answer.split(b"\r\n\r\n", 2)
    dateless = [re.sub(rb"Date: .*", b"", each).splitlines() for each in (head, whole)]
    assert dateless[0] == [line for line in dateless[1] if line != b"Connection: close"]


@pytest.mark.parametrize(
    ("asked", "first", "last"),
    [
        ("bytes=0-9", 0, 9),
        ("bytes=100-", 100, 255_999),
        ("bytes=-7", 255_993, 255_999),
        ("bytes=255990-999999", 255_990, 255_999),
    ],
)
def test_part_of_a_file(server: Server, asked: str, first: int, last: int) -> None:
    """A range gets 206, its bytes uncompressed and their place (RFC 9110, section 14)."""
    status, headers, content = ask(server, "/rt/0/b.zip", Range=asked, Accept_Encoding="gzip")
    assert status == 206
    assert content == DATA[first : last + 1]
    assert headers["content-range"] == f"bytes {first}-{last}/{len(DATA)}"
    assert "content-encoding" not in headers


@pytest.mark.parametrize("asked", ["bytes=999999-", "bytes=-0"])
def test_part_that_is_not_there(server: Server, asked: str) -> None:
    """A range past the end gets 416 with the file's length."""
    status, headers, content = ask(server, "/rt/0/a.wasm", Range=asked)
    assert status == 416
    assert headers["content-range"] == f"bytes */{len(DATA)}"
    assert content == b""


@pytest.mark.parametrize(
    "asked", ["bytes=9-2", "bytes=a-b", "pages=1-2", "bytes=0-1,4-5", "bytes=-"]
)
def test_range_that_cannot_be_read_is_ignored(server: Server, asked: str) -> None:
    """The whole file is the answer then."""
    status, _, content = ask(server, "/rt/0/a.wasm", Range=asked)
    assert (status, content) == (200, DATA)


def test_unchanged_file_is_not_sent_again(server: Server) -> None:
    """The tag differs between plain and compressed, and either gets 304 for its own."""
    tags = set()
    for encoding in ("identity", "gzip"):
        _, headers, _ = ask(server, "/", Accept_Encoding=encoding)
        tags.add(headers["etag"])
        status, _, content = ask(
            server, "/", Accept_Encoding=encoding, If_None_Match=f'"x", {headers["etag"]}'
        )
        assert (status, content) == (304, b"")
    assert len(tags) == 2


@pytest.mark.parametrize(
    "path",
    ["/" + "a" * 300, "/" + "a/" * 4000, "/a%00b", "/../secret", "/%2e%2e/secret", "/out",
     "//example.org/", "/index.html/x", "/\\..\\secret", "/none?x=%ff"],
)  # fmt: skip
def test_path_without_a_file_gets_the_page_that_says_so(server: Server, path: str) -> None:
    """Too long, odd or outside the site: 404 with our page, and the connection goes on."""
    status, headers, content = ask(server, path)
    assert (status, content) == (404, b"lost")
    assert headers["cache-control"] == "no-cache"
    assert "content-security-policy" in headers


def test_endless_path_is_refused(server: Server) -> None:
    """A request line past 64 kB gets 414, with the headers of every answer."""
    status, headers, _ = ask(server, "/" + "a" * 70_000)
    assert status == 414
    assert headers["x-content-type-options"] == "nosniff"


def test_folder_without_its_slash_is_sent_on(server: Server) -> None:
    """The address keeps its query, which is what the reader typed."""
    (server.site / "check").mkdir()
    (server.site / "check" / "index.html").write_bytes(PAGE)
    status, headers, _ = ask(server, "/check?root=3in")
    assert (status, headers["location"]) == (301, "/check/?root=3in")
    assert ask(server, headers["location"])[2] == PAGE


def test_memory_does_not_grow_with_requests(server: Server) -> None:
    """What is kept of requests is bounded in number and in length."""
    assert server.seen.maxlen is not None
    ask(server, "/" + "a" * 5000)
    assert max(map(len, server.seen)) < 1000


def test_taken_port_is_told_before_the_build(
    server: Server, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing is set up or built for an address that cannot be served."""
    monkeypatch.setattr(serve.environment, "ensure", lambda: pytest.fail("went on"))
    monkeypatch.setattr(sys, "argv", ["serve", "--port", str(server.server_port)])
    with restored_signals():
        assert serve.main() == 1
    told = capsys.readouterr().err
    assert f"Port {server.server_port} cannot be used" in told
    assert "--port" in told


@contextlib.contextmanager
def restored_signals() -> Iterator[None]:
    """Put back what a script sets for Ctrl-C and SIGTERM."""
    before = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


@pytest.mark.parametrize("text", ["0", "-1", "65536", "99999", "8e3", "x", ""])
def test_impossible_port_is_refused(
    text: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The command line says what a port is."""
    monkeypatch.setattr(sys, "argv", ["serve", f"--port={text}"])
    with pytest.raises(SystemExit) as left:
        serve.main()
    assert left.value.code == 2
    assert "a whole number from 1 to 65535" in capsys.readouterr().err


SERVES = """
import sys
from pathlib import Path
from scripts import build, environment, runtime, serve
environment.ensure = lambda: None
build.site = lambda folder, address: folder
runtime.staged = lambda: ()
sys.argv = ["serve", "--port", sys.argv[1]]
sys.exit(serve.main())
"""


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_signals_end_it_in_order(number: signal.Signals) -> None:
    """SIGTERM ends serving as Ctrl-C does: status 0, no traceback, the port free again."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        free = probe.getsockname()[1]
    process = subprocess.Popen(
        [sys.executable, "-c", SERVES, str(free)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    line = process.stdout.readline()
    assert f"http://127.0.0.1:{free}/" in line
    process.send_signal(number)
    _, errors = process.communicate(timeout=20)
    assert (process.returncode, errors) == (0, "")
    Server(ROOT, free).server_close()
