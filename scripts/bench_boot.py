"""How long a reader waits for the first live answer, and what they download.

Measured against a bare `loadPyodide` + `import numpy` of the same packages, in the same browser,
from the same server, in the same run, by turns, so that a busy machine slows both alike.
"""

from __future__ import annotations

import contextlib
import gzip
import json
import math
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from calc.frontends import browser
from scripts import runtime
from scripts.say import Failure
from scripts.server import BLOCK, Handler, Server

FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)

STOCK = """
import { loadPyodide } from "./pyodide.mjs";
const python = await loadPyodide({ indexURL: new URL(".", import.meta.url).href });
await python.loadPackage("numpy", { messageCallback() {} });
python.runPython("import numpy");
postMessage("ready");
"""

STOCK_PAGE = """
const worker = new Worker(new URL("worker.js", import.meta.url), { type: "module" });
worker.onmessage = () => { document.documentElement.dataset.ready = performance.now(); };
"""

# Waits within the page, because questions from outside would keep a core busy. Tells when the
# verdict stood that the address asks for, and when all of its answer did.
READY = """async () => {
  const late = performance.now() + 120000;
  const once = async (ready) => {
    while (!ready() && performance.now() < late) await new Promise((go) => setTimeout(go, 5));
    return ready() ? performance.now() : 0;
  };
  const calculator = () => document.querySelector('.fs-calc[data-state=live]');
  const complete = () => calculator() && !calculator().querySelector('[aria-busy], .fs-stale');
  const verdict = () => complete() || calculator()?.querySelector('.fs-verdict.fs-fresh');
  return {verdict: await once(verdict), answer: await once(complete)};
}"""
BARE = """async () => {
  const late = performance.now() + 120000;
  const ready = () => Number(document.documentElement.dataset.ready ?? 0);
  while (!ready() && performance.now() < late) await new Promise((go) => setTimeout(go, 5));
  return {ready: ready()};
}"""
# Seconds in which a browser just opened gets over its own start, which is not the page's.
REST = 1.0
# Where the handbook is kept, the examples are answered once while nobody waits (see worker.js).
PRACTISED = """async () => {
  const late = performance.now() + 120000;
  for (;;) {
    for (const name of await caches.keys()) {
      const all = await (await caches.open(name)).keys();
      if (all.some(({url}) => url.endsWith('/practised'))) return true;
    }
    if (performance.now() > late) return false;
    await new Promise((go) => setTimeout(go, 200));
  }
}"""


def sizes(site: Path) -> dict[str, dict[str, int]]:
    """Return bytes of each runtime file: plain, gzip -9, and brotli where its tool exists."""
    brotli = shutil.which("brotli")
    found: dict[str, dict[str, int]] = {}
    for path in sorted((site / "rt").glob("*/*")):
        if path.suffix == ".gz":
            continue
        row = {"plain": path.stat().st_size, "gzip": len(_gzipped(path))}
        if brotli:
            done = subprocess.run(
                [brotli, "-c", "-q", "11", str(path)], capture_output=True, check=True
            )
            row["brotli"] = len(done.stdout)
        found[path.name] = row
    found["total"] = {
        kind: sum(row[kind] for row in found.values()) for kind in next(iter(found.values()))
    }
    return found


def _gzipped(path: Path) -> bytes:
    return gzip.compress(path.read_bytes(), 9, mtime=0)


def stock_site(site: Path) -> None:
    """Add the bare Pyodide page that the measurement compares with, under stock/."""
    folder = site / "stock"
    folder.mkdir(exist_ok=True)
    for name in (
        "pyodide.mjs",
        "pyodide.asm.js",
        "pyodide.asm.wasm",
        "pyodide-lock.json",
        "python_stdlib.zip",
    ):
        shutil.copyfile(runtime.PYODIDE / name, folder / name)
    shutil.copyfile(runtime.numpy_wheel(), folder / runtime.numpy_wheel().name)
    (folder / "worker.js").write_text(STOCK)
    (folder / "page.js").write_text(STOCK_PAGE)
    (folder / "index.html").write_text(
        '<!doctype html><meta charset="utf-8"><title>stock</title>'
        '<script type="module" src="page.js"></script>'
    )
    for path in list(folder.iterdir()):
        if path.suffix in {".js", ".mjs", ".wasm", ".json"}:
            path.with_name(path.name + ".gz").write_bytes(_gzipped(path))


CPU = Path("/sys/fs/cgroup/cpu")
"""Control groups of Linux that limit the processor's time (version 1 has them here)."""
PERIOD = 50_000
"""Time over which a processor's share is counted [microseconds]: shorter than a reader notices."""
ROUND_TRIP, BYTES_A_SECOND = 0.15, 1.6e6 / 8.0
"""A slow 4G line: 150 ms for a round trip, 1.6 Mbit/s, as throttled phones are usually measured."""


@contextlib.contextmanager
def slowed(chromium: str, times: float) -> Iterator[str]:
    """Give a program that runs the whole browser as on processors so many times slower.

    Chromium's own throttle slows a page's main thread and spares its worker, where Python runs.

    Raises
    ------
    Failure
        Where this machine's control groups cannot be used: they need Linux and its administrator.
    """
    group = CPU / "finstock-slow"
    try:
        group.mkdir(exist_ok=True)
        (group / "cpu.cfs_period_us").write_text(str(PERIOD))
        quota = round(PERIOD * (os.cpu_count() or 1) / times)
        (group / "cpu.cfs_quota_us").write_text(str(quota))
    except OSError as problem:
        raise Failure(f"The processor cannot be slowed here ({problem.strerror}).") from problem
    with tempfile.TemporaryDirectory() as folder:
        program = Path(folder) / "chromium"
        program.write_text(
            f'#!/bin/sh\necho $$ > {group}/cgroup.procs || exit 1\nexec "{chromium}" "$@"\n'
        )
        program.chmod(0o755)
        yield str(program)
    with contextlib.suppress(OSError):
        group.rmdir()


@contextlib.contextmanager
def shared(chromium: str, loops: int) -> Iterator[str]:
    """Give a program that runs the whole browser on one core, which endless loops share.

    Raises
    ------
    Failure
        Where there is no ``taskset``, which Linux has.
    """
    taskset = shutil.which("taskset")
    if taskset is None:
        raise Failure("Processes cannot be tied to one core here: taskset was not found.")
    busy = [taskset, "-c", "0", sys.executable, "-c", "while True: pass"]
    running = [subprocess.Popen(busy) for _ in range(loops)]
    try:
        with tempfile.TemporaryDirectory() as folder:
            program = Path(folder) / "chromium"
            program.write_text(f'#!/bin/sh\nexec "{taskset}" -c 0 "{chromium}" "$@"\n')
            program.chmod(0o755)
            yield str(program)
    finally:
        for loop in running:
            loop.kill()
            loop.wait()


class SlowLine(Handler):
    """Answers as over a slow line that all connections of the browser share."""

    line = threading.Lock()

    def _send_content(self, content: bytes) -> None:
        time.sleep(ROUND_TRIP)
        self.send_header("Content-Length", str(len(content)))
        self.end_headers()
        for start in range(0, len(content) if self.command != "HEAD" else 0, BLOCK):
            part = content[start : start + BLOCK]
            with self.line:
                time.sleep(len(part) / BYTES_A_SECOND)
                self.wfile.write(part)


def boot(
    site: Path, chromium: str, page: str, *, rounds: int = 5, slow_line: bool = False
) -> dict[str, Any]:
    """Return median times in ms: first visit, later visits, kept offline; ours and stock.

    `page` is a calculator's address within the site; each round uses a new browser profile, visits
    three times, keeps the handbook and visits three times more, of which the first ("settling")
    lets the device get used to it.
    """
    from playwright.sync_api import sync_playwright

    times: dict[str, list[float]] = {}
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        copy = Path(folder) / "site"
        shutil.copytree(site, copy)
        stock_site(copy)
        server = Server(copy)
        if slow_line:
            server.RequestHandlerClass = SlowLine
        server.start()

        def opened(profile: Path) -> Any:
            return playwright.chromium.launch_persistent_context(
                str(profile), executable_path=chromium, headless=True, args=list(FLAGS)
            )

        def visit(profile: Path, address: str, name: str, probe: str) -> None:
            # A new process each time, as when a reader comes back another day.
            context = opened(profile)
            tab = context.new_page()
            time.sleep(REST)
            tab.goto(server.address + address)
            for what, value in tab.evaluate(probe).items():
                if not value:
                    raise TimeoutError(f"{address} did not get ready in 120 s")
                times.setdefault(f"{name}, {what}", []).append(float(value))
            if "settling" in name and not tab.evaluate(PRACTISED):
                raise TimeoutError("the examples were not answered in 120 s")
            time.sleep(2.0)  # the engine writes its code cache a little later
            context.close()

        ours = f"{page}?root=4in"
        for number in range(rounds):
            profile, other = Path(folder) / f"ours-{number}", Path(folder) / f"stock-{number}"
            for which in ("first", "second", "third"):
                visit(profile, ours, f"ours {which}", READY)
                visit(other, "stock/", f"stock {which}", BARE)
            _keep(opened(profile), server.address)
            for which in ("settling", "kept", "kept"):
                visit(profile, ours, f"ours {which}", READY)
        server.stop()
    medians: dict[str, Any] = {name: round(statistics.median(all)) for name, all in times.items()}
    for which in ("first", "kept"):
        for what in ("verdict", "answer"):
            for stock in ("first", "third"):
                share = medians[f"ours {which}, {what}"] / medians[f"stock {stock}, ready"]
                medians[f"{which} {what} / stock {stock}"] = round(share, 2)
    medians["all"] = {name: [round(value) for value in each] for name, each in times.items()}
    return medians


PHONE: dict[str, Any] = {
    "viewport": {"width": 412, "height": 823}, "device_scale_factor": 1.75, "is_mobile": True,
}  # fmt: skip
# The last entry is the largest; none comes after five seconds without the reader's doing.
LARGEST = """() => new Promise((go) => {
  let last = 0;
  new PerformanceObserver((list) => { last = list.getEntries().at(-1).startTime; })
    .observe({type: 'largest-contentful-paint', buffered: true});
  setTimeout(() => go(last), 5000);
})"""


def paints(
    site: Path, chromium: str, pages: Sequence[str], *, rounds: int = 5, slow_line: bool = False
) -> dict[str, int]:
    """Return the median time [ms] of each page's largest paint, at a first visit with a phone."""
    from playwright.sync_api import sync_playwright

    out: dict[str, int] = {}
    with sync_playwright() as playwright:
        server = Server(site)
        if slow_line:
            server.RequestHandlerClass = SlowLine
        server.start()
        for page in pages:
            times = []
            for _ in range(rounds):
                started = playwright.chromium.launch(executable_path=chromium, args=list(FLAGS))
                tab = started.new_context(**PHONE).new_page()
                # a slowed browser takes longer to get over its own start
                time.sleep(3.0 * REST)
                tab.goto(server.address + page, wait_until="commit")
                times.append(tab.evaluate(LARGEST))
                started.close()
            out[f"/{page}"] = round(statistics.median(times))
        server.stop()
    return out


MOUSE = 0.008
"""Seconds between two reports of a usual mouse."""


def dragging(
    site: Path, chromium: str, page: str, *, seconds: float = 12.0, slowed: float = 4.0
) -> dict[str, float]:
    """Return verdicts and pictures a second while a corner of the fin is dragged.

    Once as the machine is, once with the page's own processor slowed: Chromium slows the page
    alone, not its worker, so the slowed verdicts are those of a page that draws slowly. The first
    third of each drag counts apart: the engine still compiles what it runs for the first times.
    """
    from playwright.sync_api import sync_playwright

    out: dict[str, float] = {}
    with sync_playwright() as playwright:
        server = Server(site).start()
        started = playwright.chromium.launch(executable_path=chromium, args=list(FLAGS))
        tab = started.new_page()
        tab.goto(server.address + page)
        tab.locator(".fs-calc [name=root]").focus()
        if not tab.evaluate(READY)["answer"]:
            raise TimeoutError(f"{page} did not get ready in 120 s")
        inner = tab.context.new_cdp_session(tab)
        for name, rate in (("", 1.0), (f", page slowed {slowed:g} times", slowed)):
            inner.send("Emulation.setCPUThrottlingRate", {"rate": rate})
            handle = tab.locator(".fs-calc [data-handle=tip]")
            handle.scroll_into_view_if_needed()
            box = handle.bounding_box()
            if box is None:
                raise RuntimeError(f"{page} has no fin to drag")
            x, y = box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"]
            tab.evaluate(COUNTED)
            tab.mouse.move(x, y)
            tab.mouse.down()
            begun = time.monotonic()
            for part, share in ((", first third", 1.0 / 3.0), ("", 1.0)):
                before, since = tab.evaluate("({...window.counted})"), time.monotonic()
                while time.monotonic() < begun + share * seconds:
                    turn = 8.0 * (time.monotonic() - begun)
                    tab.mouse.move(x + 12.0 * math.sin(turn), y + 12.0 * math.cos(turn))
                    # no oftener than a mouse reports, or this process takes the page's time
                    time.sleep(MOUSE)
                counted, took = tab.evaluate("window.counted"), time.monotonic() - since
                for what in ("verdicts", "pictures"):
                    rate = (counted[what] - before[what]) / took
                    out[f"{what} a second{name}{part}"] = round(rate, 1)
            tab.mouse.up()
            tab.evaluate(READY)
        started.close()
        server.stop()
    return out


COUNTED = """() => {
  window.counted = {verdicts: 0, pictures: 0};
  const calculator = document.querySelector('.fs-calc');
  const mine = window.counted;
  calculator.addEventListener('finstock:glance', () => { mine.verdicts += 1; });
  const next = () => {
    mine.pictures += 1;
    if (window.counted === mine) requestAnimationFrame(next);
  };
  requestAnimationFrame(next);
}"""


def answers(site: Path, chromium: str, *, repeats: int = 9) -> dict[str, float]:
    """Return median times [ms] of single answers in the browser's worker, and over native ones.

    Each question is asked here and there in turn, so that a machine whose speed changes changes
    both; the ratios are medians of such pairs.
    """
    from playwright.sync_api import sync_playwright

    times: dict[str, list[tuple[float, float]]] = {}
    with sync_playwright() as playwright:
        server = Server(site).start()
        started = playwright.chromium.launch(executable_path=chromium, args=list(FLAGS))
        tab = started.new_page()
        tab.goto(server.address)
        tab.evaluate(ASKER)
        for slug in ("fin-check", "material-finder"):
            for turn in range(repeats + 2):
                outline = {"root": f"{3 + 0.01 * turn + 0.005} in"}
                for what, inputs in (
                    ("new outline", outline),
                    ("same outline", outline | {"speed": f"{90 + turn} m/s"}),
                ):
                    start = time.perf_counter()
                    browser.answer(slug, json.dumps(inputs))
                    here = 1e3 * (time.perf_counter() - start)
                    there = tab.evaluate("([slug, inputs]) => ask(slug, inputs)", [slug, inputs])
                    # engines compile what runs often, so the first turns do not count
                    if turn > 1:
                        times.setdefault(f"{slug}, {what}", []).append((here, there))
        started.close()
        server.stop()
    out: dict[str, float] = {}
    for name, pairs in times.items():
        out[name] = round(statistics.median(there for _, there in pairs), 1)
        out[f"{name}, over native"] = round(
            statistics.median(there / here for here, there in pairs), 2
        )
    return out


ASKER = """async () => {
  const worker = new Worker(new URL('/assets/app/worker.js', location), {type: 'module'});
  await new Promise((resolve) => {
    worker.onmessage = ({data}) => data.type === 'live' && resolve();
  });
  let id = 0;
  window.ask = async (slug, inputs) => {
    const start = performance.now();
    id += 1;
    await new Promise((resolve) => {
      worker.onmessage = ({data}) =>
        data.id === id && !['busy', 'early'].includes(data.type) && resolve();
      worker.postMessage({id, type: 'answer', slug, inputs});
    });
    return performance.now() - start;
  };
}"""


def _keep(context: Any, address: str) -> None:
    """Keep the handbook on this profile, as the pages do."""
    tab = context.new_page()
    tab.goto(address)
    tab.evaluate(
        """async () => {
          const registration = await navigator.serviceWorker.register('/sw.js');
          const worker = (await navigator.serviceWorker.ready).active;
          await new Promise((resolve, reject) => {
            const {port1, port2} = new MessageChannel();
            port1.onmessage = ({data}) => {
              if (data.type === 'kept') resolve();
              if (data.type === 'failed') reject(new Error(data.message));
            };
            worker.postMessage({type: 'keep'}, [port2]);
          });
        }"""
    )
    context.close()
