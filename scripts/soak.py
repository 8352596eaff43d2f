"""A long day of one reader: mixed visits in one browser, and whether memory grows or a visit fails.

``python -m scripts.soak SITE`` opens a copy of a built site in Chromium and goes on for 500 visits:
links followed within the page, pages opened anew, answers asked for, the handbook kept and removed,
the network cut, the device's storage nearly full, new editions published meanwhile. What is visited
is drawn by chance from a seed, so that a run can be had again. It prints what the browser's
processes hold after every tenth of the visits, and exits with 1 where a visit failed or where the
last fifth holds over `GROWTH` times what the second did.
"""

from __future__ import annotations

import argparse
import os
import random
import re
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from scripts import environment, hooks, library, runtime
from scripts.bench_boot import FLAGS
from scripts.say import Failure, exit_status, step
from scripts.server import Server

GROWTH = 1.15
PATIENCE = 90.0
"""Seconds to wait for an answer: a start of Python takes ten on a busy machine."""
KINDS = {"link": 40, "open": 10, "answer": 35, "keep": 2, "offline": 8, "full": 3, "edition": 2}
"""How often each kind of visit is drawn, in all 100 times."""
SETTLED = """(() => {
  const own = document.querySelector('.fs-calc');
  return !own || Boolean(own.dataset.state) && !own.querySelector('[aria-busy], .fs-stale');
})()"""


def resident(pid: int) -> float:
    """Return what a process and all its descendants hold in memory, shared pages once [MB]."""
    parents: dict[int, list[int]] = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                fields = (entry / "stat").read_text(encoding="utf-8").rpartition(")")[2].split()
            except OSError:
                continue
            parents.setdefault(int(fields[1]), []).append(int(entry.name))
    total, waiting = 0.0, [pid]
    while waiting:
        one = waiting.pop()
        waiting += parents.get(one, [])
        try:
            text = Path(f"/proc/{one}/smaps_rollup").read_text(encoding="utf-8")
        except OSError:
            continue
        found = re.search(r"^Pss:\s+(\d+) kB", text, re.MULTILINE)
        total += int(found[1]) / 1024 if found else 0.0
    return total


class Visitor:
    """One reader with one browser, who visits and notes what goes wrong."""

    def __init__(self, context: Any, server: Server, site: Path, chance: random.Random) -> None:
        self.context, self.server, self.site, self.chance = context, server, site, chance
        self.complaints: list[str] = []
        self.calculators = [
            path.parent.relative_to(site).as_posix() + "/"
            for path in sorted(site.rglob("index.html"))
            if 'class="fs-calc"' in path.read_text(encoding="utf-8")
        ]
        self.pages = [
            path.parent.relative_to(site).as_posix().removeprefix(".") + "/"
            for path in sorted(site.rglob("index.html"))
        ]
        self.page = context.new_page()
        self.doing = "the first page"
        self.offline = False
        self.page.on("pageerror", lambda error: self.complain(f"error: {error}"))
        self.open("check/fin-check/")

    def complain(self, text: str) -> None:
        """Note what went wrong, and at what."""
        self.complaints.append(f"{self.doing}: {text}")

    def until(self, script: str) -> bool:
        """Wait for a script to say yes; complain and say no where it does not."""
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            try:
                if self.page.evaluate(script):
                    return True
            except Exception as error:
                # A page that reloads takes the question with it: ask the new one.
                if "context was destroyed" not in str(error):
                    raise
            time.sleep(0.05)
        self.complain(f"waited {PATIENCE:g} s for {script}")
        return False

    def open(self, address: str) -> None:
        """Open a page anew and let it settle."""
        self.page.goto(self.server.address + address.lstrip("/"))
        self.until(SETTLED)

    def answer(self) -> None:
        """Ask a calculator for an answer to another number."""
        if not self.page.evaluate(
            "document.querySelector('.fs-calc [name=root]')?.checkVisibility() ?? false"
        ):
            self.open(self.chance.choice(["check/fin-check/", "make/landing/", "rocket/whole/"]))
        root = f"{self.chance.uniform(2.5, 4.0):.2f}in"
        self.page.locator(".fs-calc [name=root]").first.fill(root)
        self.page.wait_for_timeout(400)
        self.until(SETTLED)
        state = self.page.locator(".fs-calc").first.get_attribute("data-state")
        if state != "live":
            self.complain(f"the calculator is {state}")

    def link(self) -> None:
        """Follow a link within the page."""
        links = self.page.evaluate(
            "(own) => [...document.links].map((a) => a.href).filter((href) =>"
            " href.startsWith(own) && !href.includes('#') && !/[.](?!html)[a-z]+$/.test(href))",
            self.server.address,
        )
        if not links:
            return self.open("")
        target = self.chance.choice(links)
        self.page.evaluate(
            "(href) => [...document.links].find((a) => a.href === href).click()", target
        )
        self.until(f"location.href.startsWith({target!r})")
        self.until(SETTLED)
        return None

    def kept(self) -> bool:
        """Open the page with the control, and tell whether the handbook is kept."""
        self.open("check/fin-check/")
        self.until("['kept', 'absent'].includes(document.querySelector('.fs-keep')?.dataset.state)")
        return bool(self.page.evaluate("document.querySelector('.fs-keep').dataset.state==='kept'"))

    def keep(self) -> None:
        """Keep the handbook, or remove it where it is kept."""
        kept = self.kept()
        text, wanted = ("Remove", "absent") if kept else ("Keep for offline use", "kept")
        self.page.locator(".fs-keep button", has_text=text).first.click()
        self.until(f"document.querySelector('.fs-keep')?.dataset.state === '{wanted}'")

    def without_network(self) -> None:
        """Cut the network and ask a calculator, from a handbook that is kept."""
        if not self.kept():
            self.keep()
        self.context.set_offline(True)
        try:
            self.open(self.chance.choice(self.calculators))
            self.answer()
        finally:
            self.context.set_offline(False)

    def full(self) -> None:
        """Fill the device but for a little, ask, and make room again."""
        session = self.context.new_cdp_session(self.page)
        origin = self.server.address.rstrip("/")
        session.send("Storage.overrideQuotaForOrigin", {"origin": origin, "quotaSize": 2e4})
        try:
            self.open(self.chance.choice(self.calculators))
            self.answer()
        finally:
            session.send("Storage.overrideQuotaForOrigin", {"origin": origin})
            session.detach()

    def edition(self) -> None:
        """Publish a new edition, and take it where it is offered."""
        path = self.site / "check" / "fin-check" / "index.html"
        text = path.read_text(encoding="utf-8")
        mark = f"<!-- edition {self.chance.random()} -->"
        path.write_text(re.sub(r"(<!-- edition .*? -->)?</body>", f"{mark}</body>", text), "utf-8")
        parts = runtime.staged()
        if isinstance(parts, str):
            raise Failure(parts)
        hooks.finish(self.site, parts, library.staged())
        if self.kept():
            self.page.locator(".fs-edition").first.wait_for(state="visible", timeout=60_000)
            self.page.locator(".fs-edition button").first.click()
            self.page.wait_for_timeout(3000)
            self.until(SETTLED)

    def visit(self, kind: str) -> None:
        """Make one visit."""
        self.doing = f"{kind} at {self.page.url.removeprefix(self.server.address)}"
        try:
            match kind:
                case "link":
                    self.link()
                case "open":
                    self.open(self.chance.choice(self.pages))
                case "answer":
                    self.answer()
                case "keep":
                    self.keep()
                case "offline":
                    self.without_network()
                case "full":
                    self.full()
                case "edition":
                    self.edition()
        except Failure:
            raise
        except Exception as error:
            self.complain(str(error).splitlines()[0])
            self.open("")


def soak(site: Path, chromium: str, visits: int, seed: int) -> list[str]:
    """Make the visits, print what the browser holds meanwhile, and return what went wrong."""
    from playwright.sync_api import sync_playwright

    chance, held = random.Random(seed), []
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        copy = Path(folder) / "site"
        shutil.copytree(site, copy)
        server = Server(copy, 0).start()
        browser = playwright.chromium.launch(executable_path=chromium, args=list(FLAGS))
        context = browser.new_context(bypass_csp=True)
        visitor = Visitor(context, server, copy, chance)
        every = max(1, visits // 10)
        for number in range(1, visits + 1):
            kind = chance.choices(list(KINDS), list(KINDS.values()))[0]
            visitor.visit(kind)
            if number % every == 0:
                session = context.new_cdp_session(visitor.page)
                session.send("HeapProfiler.collectGarbage")
                session.detach()
                held.append(resident(os.getpid()) - resident_of_self())
                step(f"{number:4d} visits: {held[-1]:.0f} MB, {len(visitor.complaints)} complaints")
        complaints = visitor.complaints
        browser.close()
        server.stop()
    fifth = max(1, len(held) // 5)
    before = statistics.median(held[fifth : 2 * fifth])
    after = statistics.median(held[-fifth:])
    step(f"Held in the second fifth {before:.0f} MB, in the last fifth {after:.0f} MB")
    if after > GROWTH * before:
        complaints.append(f"memory grew {after / before:.2f} times")
    return complaints


def resident_of_self() -> float:
    """Return what this process alone holds, which is not the browser's [MB]."""
    text = Path("/proc/self/smaps_rollup").read_text(encoding="utf-8")
    found = re.search(r"^Pss:\s+(\d+) kB", text, re.MULTILINE)
    return int(found[1]) / 1024 if found else 0.0


def main() -> int:
    """Run the soak; return the exit status."""
    parser = argparse.ArgumentParser(prog="python -m scripts.soak", description=__doc__)
    parser.add_argument("site", type=Path, help="a built site")
    parser.add_argument("--visits", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()

    def work() -> None:
        complaints = soak(options.site, environment.chromium(), options.visits, options.seed)
        if complaints:
            raise Failure("\n".join(complaints))
        step("No visit failed, and memory did not grow.")

    return exit_status(work)


if __name__ == "__main__":
    sys.exit(main())
