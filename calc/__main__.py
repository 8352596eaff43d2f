"""Command line entry point: ``python -m calc``."""

import sys

if __name__ == "__main__":
    try:
        # Inside, because loading takes long enough for an impatient Ctrl-C.
        from calc.frontends.terminal.cli import main

        sys.exit(main())
    except KeyboardInterrupt:
        sys.exit(130)
