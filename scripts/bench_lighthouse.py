"""What Lighthouse says of a built site on its throttled phone: ``… SITE [page …]``.

Lighthouse is fetched by npx at the version below when this runs; nothing else needs it. Its
throttling is computed from what this machine took, so a busy machine lowers the score.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
from pathlib import Path

from scripts import environment
from scripts.say import Failure
from scripts.server import Server

LIGHTHOUSE = "lighthouse@12.8.2"
PAGES = ("", "start/", "check/fin-check/", "understand/grain/")
CATEGORIES = ("performance", "accessibility", "best-practices", "seo")
TIMES = (
    "first-contentful-paint",
    "largest-contentful-paint",
    "total-blocking-time",
    "cumulative-layout-shift",
)
FLAGS = "--headless=new --no-sandbox --disable-gpu --disable-background-networking"


def measure(address: str) -> dict[str, str]:
    """Return scores of 100 and the times that a reader feels."""
    done = subprocess.run(
        [
            "npx",
            "--yes",
            LIGHTHOUSE,
            address,
            "--quiet",
            "--output=json",
            f"--chrome-flags={FLAGS}",
            f"--only-categories={','.join(CATEGORIES)}",
        ],
        capture_output=True,
        text=True,
        env={**os.environ, "CHROME_PATH": environment.chromium()},
        check=False,
    )
    if done.returncode:
        raise Failure(f"Lighthouse failed: {done.stderr.strip().splitlines()[-1:]}")
    report = json.loads(done.stdout)
    scores = {name: f"{report['categories'][name]['score'] * 100:.0f}" for name in CATEGORIES}
    return scores | {name: report["audits"][name]["displayValue"] for name in TIMES}


def main() -> int:
    """Print a line a page."""
    parser = argparse.ArgumentParser(prog="python -m scripts.bench_lighthouse", description=__doc__)
    parser.add_argument("site", type=Path, help="folder of the built site")
    parser.add_argument("page", nargs="*", default=PAGES, help="pages (default: four of them)")
    options = parser.parse_args()
    server = Server(options.site).start()
    for page in options.page:
        print(page or "/", json.dumps(measure(server.address + page), ensure_ascii=False))
    server.stop()
    return 0


if __name__ == "__main__":
    sys.exit(main())
