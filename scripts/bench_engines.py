"""The start of the calculators in Firefox and WebKit, against bare Pyodide in the same window.

``.venv/bin/python -m scripts.bench_engines FOLDER_OF_A_BUILT_SITE``. See bench_boot.py for
Chromium. A visit here is a page load in one window: later ones find what the engine kept of the
first. Bare and ours take turns, so that a busy machine slows both alike.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
import time
from pathlib import Path

from scripts import engines
from scripts.bench_boot import stock_site
from scripts.server import Server

PAGE = "check/fin-check/?root=4in"
_LIVE = "document.querySelector('.fs-calc')?.dataset.state === 'live'"
_FRESH = "document.querySelector('.fs-calc .fs-verdict.fs-fresh')"
_IDLE = "!document.querySelector('.fs-calc [aria-busy], .fs-calc .fs-stale')"
READY = {
    "bare": {"bare": "Number(document.documentElement.dataset.ready ?? 0)"},
    "ours": {
        "live": f"{_LIVE} ? performance.now() : 0",
        "verdict": f"{_LIVE} && ({_FRESH} || {_IDLE}) ? performance.now() : 0",
        "answer": f"{_LIVE} && {_IDLE} ? performance.now() : 0",
    },
}
VISITS = ("first", "second", "third")


def visit(engine: engines.Engine, address: str, which: str) -> dict[str, float]:
    """Return milliseconds from navigation until Python runs, and until its first answer stands."""
    engine.open("about:blank")
    engine.open(address)
    found = {
        name: float(engine.until(script, seconds=180)) for name, script in READY[which].items()
    }
    time.sleep(1.0)
    return found


def boot(site: Path, name: str, *, rounds: int = 3) -> dict[tuple[str, str], list[float]]:
    """Return the times by what was waited for and visit; each round has a new profile."""
    times: dict[tuple[str, str], list[float]] = {}
    with tempfile.TemporaryDirectory() as folder:
        stock_site(Path(folder))
        ours, stock = Server(site).start(), Server(Path(folder)).start()
        places = {"bare": f"{stock.address}stock/", "ours": ours.address + PAGE}
        for _ in range(rounds):
            for which, address in places.items():
                engine = engines.found()[0][name]()
                try:
                    for count in VISITS:
                        for kind, value in visit(engine, address, which).items():
                            times.setdefault((kind, count), []).append(value)
                finally:
                    engine.close()
        ours.stop()
        stock.stop()
    return times


def main() -> int:
    """Print medians and ratios for every engine that is here, or for those named."""
    parser = argparse.ArgumentParser(prog="python -m scripts.bench_engines", description=__doc__)
    parser.add_argument("site", type=Path, help="folder of the built site")
    parser.add_argument("engine", nargs="*", help="firefox, webkit (default: all that are here)")
    options = parser.parse_args()
    here, absent = engines.found()
    for sentence in absent.values():
        print(sentence)
    for name in here.keys() & set(options.engine or here):
        times = boot(options.site, name)
        for count in VISITS:
            bare = statistics.median(times["bare", count])
            parts = [f"bare {bare:.0f} ms"]
            for kind in ("live", "verdict", "answer"):
                ours = statistics.median(times[kind, count])
                parts.append(f"{kind} {ours:.0f} ms ({ours / bare:.2f})")
            print(f"{name}, {count} visit: {', '.join(parts)}", flush=True)
        print({" ".join(key): [round(t) for t in each] for key, each in times.items()})
    return 0


if __name__ == "__main__":
    sys.exit(main())
