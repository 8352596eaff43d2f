"""Set everything up and run every check: ``./scripts/test`` (``--fast`` leaves the browser out)."""

from __future__ import annotations

import argparse
import os
import subprocess
import sys

from scripts import build, engines, environment, nginx
from scripts.runtime import ROOT
from scripts.say import Failure, step

# A port of its own: instant navigation needs the address that the site was built for. Where
# there are cores enough, browser tests run side by side, each process with a copy for its own port.
FIRST_PORT = int(os.environ.get("FINSTOCK_TEST_PORT", "8737"))
PORT = FIRST_PORT + int(os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw"))

# Engines that few machines have, one of them slow on a busy machine: only when asked for.
RARE = ["--ignore=tests/browser/test_engines.py"]


def check(what: str, arguments: list[str], **more: str) -> None:
    """Run one tool of the environment in plain sight; raise if it is not content."""
    step(what)
    # One thread per process: small matrices gain nothing from more, and timings stay calm.
    settings = {"OPENBLAS_NUM_THREADS": "1", **os.environ, **more}
    done = subprocess.run(
        [str(environment.PYTHON), "-m", *arguments], cwd=ROOT, env=settings, check=False
    )
    if done.returncode:
        raise Failure(f"{what}: failed, see above.")


def main() -> int:
    """Run the steps; return the exit status."""
    parser = argparse.ArgumentParser(prog="scripts/test", description=__doc__)
    parser.add_argument("--fast", action="store_true", help="leave out the browser tests")
    parser.add_argument(
        "--thorough",
        action="store_true",
        help="also try other engines (Firefox, WebKit)",
    )
    options = parser.parse_args()
    try:
        environment.ensure()
        check("Style (ruff)", ["ruff", "check", "."])
        check("Types (mypy)", ["mypy"])
        check(
            "Spelling (codespell)",
            ["codespell_lib", "README.md", "DEVELOPERS.md", "docs", "calc", "scripts", "tests"],
        )
        check("Fast tests", ["pytest", "--ignore=tests/browser", "-n", str(os.cpu_count() or 1)])
        check("Validation page", ["scripts.validation"])
        if not options.fast:
            # Whatever must be installed is, before two processes could try at once.
            browser = environment.chromium()
            nginx.program()
            _, absent = engines.found()
            for sentence in absent.values():
                step(sentence)
            site = build.site(ROOT / "build" / "test-site", f"http://127.0.0.1:{FIRST_PORT}/")
            # A browser wants two cores. By file: what a module's tests share is set up once.
            beside = min((os.cpu_count() or 1) // 2, 4)
            together = ["-n", str(beside), "--dist", "loadfile"] if beside > 1 else []
            check(
                "Browser tests",
                [
                    "pytest",
                    "tests/browser",
                    "--durations=15",
                    *together,
                    *([] if options.thorough else RARE),
                ],
                CHROMIUM=browser,
                FINSTOCK_TEST_SITE=str(site),
            )
    except Failure as failure:
        print(failure, file=sys.stderr)
        return 1
    step("All passed")
    return 0


if __name__ == "__main__":
    sys.exit(main())
