"""Set everything up, build the site and serve it on this machine: ``./scripts/serve``."""

from __future__ import annotations

import argparse
import sys

from scripts import build, environment
from scripts.runtime import ROOT
from scripts.say import Failure, step
from scripts.server import Server


def main() -> int:
    """Run the steps; return the exit status."""
    parser = argparse.ArgumentParser(prog="scripts/serve", description=__doc__)
    parser.add_argument("--port", type=int, default=8000, help="port on loopback (default 8000)")
    parser.add_argument("--build-only", action="store_true", help="build into site/ and stop")
    options = parser.parse_args()
    try:
        environment.ensure()
        site = build.site(ROOT / "site", f"http://127.0.0.1:{options.port}/")
        if options.build_only:
            step("Built: site/")
            return 0
        try:
            server = Server(site, options.port)
        except OSError as error:
            raise Failure(
                f"Port {options.port} cannot be used ({error.strerror}): "
                "choose another with --port."
            ) from error
    except Failure as failure:
        print(failure, file=sys.stderr)
        return 1
    step(f"Finstock is at {server.address} (Ctrl+C stops it)")
    try:
        server.serve_forever()
    except KeyboardInterrupt:
        print()
    return 0


if __name__ == "__main__":
    sys.exit(main())
