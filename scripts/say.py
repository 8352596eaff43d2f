"""Messages of the scripts: one line for each long step, a clear reason for each failure."""

from __future__ import annotations

import re
import signal
import sys
import time
from collections.abc import Callable


class Failure(Exception):
    """A step cannot go on; the text says why and what to do, and is all the person sees."""


class NoNetwork(Failure):
    """A step cannot go on because a server on the network could not be reached."""


_started = time.monotonic()

_UNREACHED = re.compile(
    r"temporary failure (in name resolution|resolving)|name or service not known|nodename nor"
    r"|could not resolve|failed to (establish a new connection|lookup address)|network is unreach"
    r"|no route to host|connection refused|connect(ion)? ?time(d )?out|read timed out|dns error"
    r"|tcp connect error|error sending request|proxyerror"
    r"|ENOTFOUND|EAI_AGAIN|ECONNREFUSED|ETIMEDOUT|ENETUNREACH",
    re.IGNORECASE,
)
"""What pip, uv, npm and apt-get print when they cannot reach a server."""

_TELLING = re.compile(
    r"error|fail|cause|hint|requires|unable|cannot|could not|denied|no space|^[EW]:", re.IGNORECASE
)
_LINES = 20
"""Most lines of another program's output that a failure shows."""


def step(text: str) -> None:
    """Print a progress line with the seconds since the script began."""
    print(f"[{time.monotonic() - _started:6.1f} s] {text}", flush=True)


def failure_of(what: str, output: str) -> Failure:
    """Return the failure of another program, with the reasons that it printed.

    Parameters
    ----------
    what
        What failed, as the beginning of a sentence.
    output
        What the program printed. Repeated lines and notices are left out, and where there are too
        many lines only those that name an error are kept.

    Returns
    -------
    Failure
        A `NoNetwork` where the program could not reach a server.
    """
    lines: list[str] = []
    known: set[str] = set()
    for line in output.splitlines():
        # pip counts down its attempts in otherwise equal lines.
        alike = re.sub(r"total=\d+|0x[0-9a-f]+", "", line.strip())
        if alike and alike not in known and not alike.startswith("[notice]"):
            known.add(alike)
            lines.append(line.rstrip())
    if len(lines) > _LINES:
        lines = ([line for line in lines if _TELLING.search(line)] or lines)[-_LINES:]
    reasons = "\n".join(f"  {line}" for line in lines) or "  (it printed no reason)"
    if _UNREACHED.search(output):
        return NoNetwork(
            f"{what}: no network. A server could not be reached; connect this machine and run the "
            f"same command again. The reason in full:\n{reasons}"
        )
    return Failure(f"{what}:\n{reasons}")


def exit_status(work: Callable[[], None]) -> int:
    """Run a script's work and return its exit status: 0, 1 for a failure, 130 when stopped.

    SIGTERM stops it as Ctrl-C does. A failure is printed as its text alone.
    """

    def stop(number: int, frame: object) -> None:
        raise KeyboardInterrupt

    signal.signal(signal.SIGTERM, stop)
    # A shell starts a background job with Ctrl-C ignored; a signal sent on purpose must stop it.
    signal.signal(signal.SIGINT, stop)
    try:
        work()
    except Failure as failure:
        print(failure, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nStopped.", file=sys.stderr)
        return 130
    return 0


def bytes_text(count: int) -> str:
    """Return a number of bytes as people read it.

    >>> bytes_text(3061234)
    '3.1 MB'
    """
    return f"{count / 1e6:.1f} MB" if count >= 1e5 else f"{count / 1e3:.1f} kB"


def progress(label: str, done: int, total: int) -> None:
    """Redraw one progress line on a terminal; print nothing into a log."""
    if sys.stderr.isatty():
        share = f"{100 * done // total:3d} %" if total else bytes_text(done)
        end = "\n" if total and done >= total else ""
        print(f"\r  {label}: {share}", end=end, file=sys.stderr, flush=True)
