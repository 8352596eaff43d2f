"""Set everything up and run every check: ``./scripts/test`` (``--fast`` leaves the browser out)."""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from scripts import build, engines, environment, lock, nginx, runtime
from scripts.runtime import ROOT
from scripts.say import Failure, NoNetwork, exit_status, step
from scripts.server import Server, port

BROWSER = "tests/browser"
PUBLISHED = f"{BROWSER}/test_published.py"
# Few machines have these engines, and one of them is slow: only with --thorough.
ENGINES = f"{BROWSER}/test_engines.py"

try:
    # Instant navigation needs the address that the site was built for, so the tests have a fixed
    # port. They run side by side, each process with a copy for its own port.
    FIRST_PORT = port(os.environ.get("FINSTOCK_TEST_PORT", "8737"))
except argparse.ArgumentTypeError as error:
    sys.exit(f"FINSTOCK_TEST_PORT: {error}")
PORT = FIRST_PORT + int(os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw"))


@dataclass(frozen=True)
class Program:
    """A program that some tests need and that not every machine has."""

    name: str
    packages: tuple[str, ...]
    """Debian's packages that bring it."""
    tests: str
    """What is not run without it."""
    found: Callable[[], object]


def _has_engine(name: str) -> bool:
    return name in engines.found()[0]


CHROMIUM = Program("Chromium", environment.CHROMIUM, "browser tests", environment.find_chromium)
NGINX = Program(
    "nginx with its brotli module", nginx.PACKAGES, "tests of the published site", nginx.find
)
OTHER_ENGINES = [
    Program(
        name,
        engines.PACKAGES[name],
        f"browser tests in {name}",
        partial(_has_engine, name),
    )
    for name in engines.PACKAGES
]


def check(what: str, arguments: list[str], **more: str) -> None:
    """Run one tool of the environment and show what it prints.

    Raises
    ------
    Failure
        Where the tool reports errors.
    """
    step(what)
    # One thread per process: small matrices gain nothing from more, and timings vary less.
    settings = {"OPENBLAS_NUM_THREADS": "1", **os.environ, **more}
    done = subprocess.run(
        [str(environment.PYTHON), "-m", *arguments], cwd=ROOT, env=settings, check=False
    )
    if done.returncode:
        raise Failure(f"{what}: failed, see above.")


def missing(programs: list[Program]) -> list[Program]:
    """Return the programs that this machine lacks, after installing them if that was agreed to.

    Otherwise say for each which tests will not be run and what would install it.

    Raises
    ------
    Failure
        Where it was agreed to and cannot be done.
    """
    lacking = [program for program in programs if not program.found()]
    if lacking and environment.installing_allowed():
        environment.install([package for program in lacking for package in program.packages])
        still = [program.name for program in lacking if not program.found()]
        if still:
            raise Failure(f"Installed, and still not found: {', '.join(still)}")
        return []
    for program in lacking:
        step(
            f"{program.name} was not found: the {program.tests} will not be run. "
            f"`./scripts/test --install` would run: apt-get install {' '.join(program.packages)}"
        )
    return lacking


def browser_tests(left_out: list[str]) -> None:
    """Build the site for the tests and run them in Chromium."""
    site = build.site(ROOT / "build" / "test-site", f"http://127.0.0.1:{FIRST_PORT}/")
    # By file, because a module's tests share what is slow to set up.
    beside = min(os.cpu_count() or 1, 4)
    together = ["-n", str(beside), "--dist", "loadfile"] if beside > 1 else []
    check(
        "Browser tests",
        ["pytest", BROWSER, "-rs", "--durations=30", *together]
        + [f"--ignore={name}" for name in left_out],
        CHROMIUM=environment.chromium(),
        FINSTOCK_TEST_SITE=str(site),
    )


def run(*, fast: bool, thorough: bool) -> list[str]:
    """Run the checks and return what could not be run here."""
    not_run: list[str] = []
    lacking: list[Program] = []
    browser = not fast
    if browser:
        # Before anything slow, so that the person can install what is missing first.
        lacking = missing([CHROMIUM, NGINX, *(OTHER_ENGINES if thorough else [])])
        not_run += [f"{program.tests} (no {program.name})" for program in lacking]
        problem = runtime.node_problem()
        if problem:
            step(f"The browser tests will not be run: {problem}")
            not_run.append("browser tests (no suitable Node)")
        browser = CHROMIUM not in lacking and not problem
    if browser:
        # Ask for the port now, not after the build.
        Server.open(ROOT, FIRST_PORT, otherwise="set FINSTOCK_TEST_PORT").server_close()
    environment.ensure()
    try:
        lock.check()
    except NoNetwork:
        not_run.append("whether all Pythons have wheels (no network)")
    packages = environment.packages_folder()
    if not (packages / "composites").exists():
        not_run.append("layups against the library composites (no wheel for this Python)")
    check("Style (ruff)", ["ruff", "check", "."])
    if [*packages.glob("numpy-2.0.*.dist-info")]:
        check("Types (mypy)", ["mypy"])
    else:
        # Later numpys declare other array types, which one source cannot satisfy as well.
        not_run.append("types (checked with numpy 2.0, so on Python 3.11 and 3.12)")
    if not runtime.node_problem():
        check("JavaScript's types (tsc)", ["scripts.javascript", "types"])
        check("JavaScript's style (eslint)", ["scripts.javascript", "lint"])
    elif fast:
        not_run.append("types and style of the JavaScript (no suitable Node)")
    check(
        "Spelling (codespell)",
        ["codespell_lib", "README.md", "DEVELOPERS.md", "docs", "calc", "scripts", "tests"],
    )
    check("How hard the pages are to read (nothing fails on it)", ["scripts.readability"])
    check(
        "Fast tests",
        ["pytest", f"--ignore={BROWSER}", "-rs", "--durations=30", "-n", str(os.cpu_count() or 1)],
        **({"FINSTOCK_HYPOTHESIS": "exploring"} if thorough else {}),
    )
    check("Validation page", ["scripts.validation"])
    if thorough:
        check("Changed rules and numbers that tests must notice", ["scripts.mutate"])
    if browser:
        browser_tests([PUBLISHED] * (NGINX in lacking) + [ENGINES] * (not thorough))
    return not_run


def main() -> int:
    """Run the checks; return the exit status."""
    parser = argparse.ArgumentParser(prog="scripts/test", description=__doc__)
    parser.add_argument("--fast", action="store_true", help="leave out the browser tests")
    parser.add_argument(
        "--thorough",
        action="store_true",
        help="also test other engines, new random examples, and that tests notice changed rules",
    )
    parser.add_argument(
        "--install",
        action="store_true",
        help="install missing browsers and nginx with apt-get, as root (same: FINSTOCK_INSTALL=1)",
    )
    options = parser.parse_args()
    if options.install:
        os.environ["FINSTOCK_INSTALL"] = "1"

    def work() -> None:
        not_run = run(fast=options.fast, thorough=options.thorough)
        step(f"All that was run has passed. Not run: {'; '.join(not_run)}" if not_run
             else "All passed")  # fmt: skip

    return exit_status(work)


if __name__ == "__main__":
    sys.exit(main())
