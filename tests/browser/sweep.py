"""What a sweep asks of a page: axe, names, sizes, motion, width, that nothing leaves the device.

The questions themselves are in sweep.js.
"""

from __future__ import annotations

import re
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, Page, Request

from scripts import moved, runtime

MAIN = "fin-check"
PHONE = {"width": 360, "height": 740}
BENCH = {"width": 1440, "height": 900}
ZOOMED = (320, 720, 1440)
"""Widths to check: 320 px is a desktop window at 400 %, 720 px is one at 200 %."""
# As patient as the tests are; what happens in the end is a test of its own.
PATIENT = "globalThis.finstockLimits ??= {boot: 120, answer: 120};"
# Python stays asleep, as for readers who save data: what is looked at here is the page.
QUIET = "Object.defineProperty(navigator, 'connection', {value: {saveData: true}});"
KEYS = re.compile(r"finstock:[a-z-]+|/(.*/)?\.__palette")


def questions() -> str:
    """Return what a page must hold to be asked: axe, as package-lock.json pins it, and our own."""
    runtime.install_pyodide()
    axe = runtime.ROOT / "node_modules" / "axe-core" / "axe.min.js"
    ours = Path(__file__).with_name("sweep.js")
    return f"{axe.read_text(encoding='utf-8')}\n{ours.read_text(encoding='utf-8')}"


class Sweep:
    """A profile whose pages can be asked, one after the other, and all that they ask for."""

    def __init__(self, browser: Browser, *, quiet: bool = True, **options: object) -> None:
        self.context: BrowserContext = browser.new_context(**options)  # type: ignore[arg-type]
        self.requests: list[Request] = []
        self.context.on("request", lambda request: self.requests.append(request))
        for script in (PATIENT, *([QUIET] if quiet else []), questions()):
            self.context.add_init_script(script)

    def close(self) -> None:
        """Forget the profile."""
        self.context.close()

    def private(self, page: Page, address: str) -> list[str]:
        """Return what was blocked, sent, stored or asked for elsewhere since the last time."""
        traces = page.evaluate("sweep.traces()")
        requests, self.requests[:] = list(self.requests), []
        # What is typed stays here: it stands in the page's own address, and no request carries it.
        found = {
            "blocked": traces["blocked"],
            "sent": traces["sent"],
            "not a question": [
                r.url for r in requests if r.method not in ("GET", "HEAD") or r.post_data
            ],
            "elsewhere": [
                r.url for r in requests if not r.url.startswith((address, "data:", "blob:"))
            ],
            # A start after a failure marks the files it wants anew.
            "carried": [
                r.url
                for r in requests
                if "?" in r.url.removesuffix("?fresh") and not r.is_navigation_request()
            ],
            "cookie": self.context.cookies(),
            "stored": [key for key in traces["keys"] if not KEYS.fullmatch(key)],
            "database": traces["databases"],
            "console": [line for line in page.said if line.startswith(("error", "warning"))],  # type: ignore[attr-defined]
        }
        return [f"{page.url}: {what}: {each}" for what, all_ in found.items() for each in all_]

    def width(self, page: Page, widths: tuple[int, ...], height: int) -> list[str]:
        """Return at which of these widths the page scrolls sideways; it stays at the last."""
        found: list[str] = []
        for width in widths:
            page.set_viewport_size({"width": width, "height": height})
            found += page.evaluate("sweep.wide()")
        return found


def addresses(site: Path) -> list[str]:
    """Return every page of the built site that stays open; old addresses lead on at once."""
    return sorted(
        path.relative_to(site).as_posix().removesuffix("index.html")
        for path in site.rglob("*.html")
        if moved.MARK not in path.read_text(encoding="utf-8")
    )
