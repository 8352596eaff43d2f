"""Check the JavaScript: ``python -m scripts.javascript types`` (tsc) or ``lint`` (eslint)."""

from __future__ import annotations

import subprocess
import sys

from scripts.runtime import ROOT, install_pyodide
from scripts.say import Failure

TOOLS = {
    # The page's scripts; then the worker's, which meet the strictest settings.
    "types": (
        ("typescript/bin/tsc", "--project", "tsconfig.json"),
        ("typescript/bin/tsc", "--project", "tsconfig.worker.json"),
    ),
    "lint": (("eslint/bin/eslint.js", "docs/assets/app", "scripts"),),
}


def main(arguments: list[str]) -> int:
    """Run the tools of one kind; return the exit status."""
    try:
        # The same package.json names Pyodide and these tools.
        install_pyodide()
    except Failure as failure:
        print(failure, file=sys.stderr)
        return 1
    for tool, *options in TOOLS[arguments[0]]:
        done = subprocess.run(
            ["node", str(ROOT / "node_modules" / tool), *options], cwd=ROOT, check=False
        )
        if done.returncode:
            return done.returncode
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
