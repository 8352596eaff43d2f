"""The start of the calculators in Firefox and WebKit, against bare Pyodide in the same window.

``.venv/bin/python -m scripts.bench_engines FOLDER_OF_A_BUILT_SITE``. See bench_boot.py for
Chromium. A visit here is a page load in one window: later ones find what the engine kept of the
first. Bare and ours take turns, so that a busy machine slows both alike.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from pathlib import Path

from scripts import engines
from scripts.bench_boot import stock_site
from scripts.server import Server

PAGE = "check/fin-check/?root=4in"
READY = {
    "ours": "(document.querySelector('.fs-calc')?.dataset.state === 'live' && "
    "!document.querySelector('.fs-calc [aria-busy], .fs-calc .fs-stale')) ? performance.now() : 0",
    "bare": "Number(document.documentElement.dataset.ready ?? 0)",
}
VISITS = ("first", "second", "third")


def visit(engine: engines.Engine, address: str, which: str) -> float:
    """Return the milliseconds from navigation to the first live answer, or to numpy imported."""
    engine.open("about:blank")
    engine.open(address)
    value = float(engine.until(READY[which], seconds=180))
    time.sleep(1.0)
    return value


def boot(site: Path, name: str, *, rounds: int = 3) -> dict[str, list[float]]:
    """Return the times by kind of page and visit; each round has a new profile."""
    times: dict[str, list[float]] = {}
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "site"
        copy.symlink_to(site.resolve())
        bare = Path(folder) / "bare"
        bare.mkdir()
        stock_site(bare)
        ours, stock = Server(copy).start(), Server(bare).start()
        for _ in range(rounds):
            for which, address in (
                ("bare", f"{stock.address}stock/"),
                ("ours", ours.address + PAGE),
            ):
                engine = engines.found()[0][name]()
                try:
                    for count in VISITS:
                        times.setdefault(f"{which} {count}", []).append(
                            visit(engine, address, which)
                        )
                finally:
                    engine.close()
        ours.stop()
        stock.stop()
    return times


def main() -> int:
    """Print medians and ratios for every engine that is here."""
    here, absent = engines.found()
    for sentence in absent.values():
        print(sentence)
    for name in here:
        times = boot(Path(sys.argv[1]), name)
        medians = {kind: statistics.median(all_of) for kind, all_of in times.items()}
        print(name, {kind: [round(t) for t in all_of] for kind, all_of in times.items()})
        for count in VISITS:
            ratio = medians[f"ours {count}"] / medians[f"bare {count}"]
            print(
                f"{name}, {count} visit: {medians[f'ours {count}']:.0f} ms against "
                f"{medians[f'bare {count}']:.0f} ms bare, {ratio:.2f} of it",
                flush=True,
            )
    return 0


if __name__ == "__main__":
    sys.exit(main())
