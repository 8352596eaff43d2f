"""Set everything up, build the site and serve it on this machine: ``./scripts/serve``."""

from __future__ import annotations

import argparse
import contextlib
import sys

from scripts import build, environment, runtime
from scripts.runtime import ROOT
from scripts.say import exit_status, step
from scripts.server import Server, port


def main() -> int:
    """Run the steps; return the exit status."""
    parser = argparse.ArgumentParser(prog="scripts/serve", description=__doc__)
    parser.add_argument(
        "--port", type=port, default=8000, help="port of this machine, 1 to 65535 (default 8000)"
    )
    parser.add_argument("--build-only", action="store_true", help="build into site/ and stop")
    options = parser.parse_args()

    def work() -> None:
        folder = ROOT / "site"
        if options.build_only:
            environment.ensure()
            build.site(folder, f"http://127.0.0.1:{options.port}/")
            step("Built: site/")
            return
        # First of all, so that a port that is taken is reported now, not after the build.
        server = Server.open(folder, options.port, otherwise="choose another with --port")
        try:
            environment.ensure()
            build.site(folder, server.address)
            parts = runtime.staged()
            without = ", without calculators (the reason is above)" * isinstance(parts, str)
            with contextlib.suppress(KeyboardInterrupt):
                step(f"Finstock is at {server.address}{without}. Ctrl-C stops it.")
                server.serve_forever()
        finally:
            server.server_close()

    return exit_status(work)


if __name__ == "__main__":
    sys.exit(main())
