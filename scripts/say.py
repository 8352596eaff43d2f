"""How the scripts speak: one line for each long step, one clear sentence for a failure."""

from __future__ import annotations

import sys
import time


class Failure(Exception):
    """A step that cannot go on; its text is the one sentence shown to the person."""


_started = time.monotonic()


def step(text: str) -> None:
    """Print a progress line with the seconds since the script began."""
    print(f"[{time.monotonic() - _started:6.1f} s] {text}", flush=True)


def bytes_text(count: int) -> str:
    """Return a byte count as people read it.

    >>> bytes_text(3061234)
    '3.1 MB'
    """
    return f"{count / 1e6:.1f} MB" if count >= 1e5 else f"{count / 1e3:.1f} kB"


def progress(label: str, done: int, total: int) -> None:
    """Redraw one progress line on a terminal; stay silent in a log."""
    if sys.stderr.isatty():
        share = f"{100 * done // total:3d} %" if total else bytes_text(done)
        end = "\n" if total and done >= total else ""
        print(f"\r  {label}: {share}", end=end, file=sys.stderr, flush=True)
