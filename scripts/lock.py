"""Make ``requirements.lock`` and check that wheels exist for every supported Python.

``python -m scripts.lock`` renews the lock, keeping the versions that still fit (``--upgrade`` takes
the newest of all). ``./scripts/test`` checks it: one set of pinned packages must install from
wheels alone, without a compiler, on the oldest and the newest Python and on all between.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from itertools import product

from scripts import environment
from scripts.runtime import ROOT, cache_folder, run, sha256
from scripts.say import Failure, NoNetwork, step

SOURCE = ROOT / "requirements.in"
PLATFORMS = (
    "x86_64-unknown-linux-gnu",
    "aarch64-unknown-linux-gnu",
    "aarch64-apple-darwin",
    "x86_64-apple-darwin",
)
"""Machines that the lock must serve, in uv's names. Windows has no Unix shell to start from."""


def pythons() -> list[str]:
    """Return the first release of each supported Python, oldest first.

    >>> pythons()[0]
    '3.11.0'
    """
    (major, oldest), (_, newest) = environment.OLDEST, environment.NEWEST
    return [f"{major}.{minor}.0" for minor in range(oldest, newest + 1)]


def renew(*, upgrade: bool = False) -> None:
    """Write requirements.lock from requirements.in, one version for all Pythons where one fits."""
    command = [
        *_uv("compile"),
        "--universal",
        f"--python-version={pythons()[0]}",
        "--fork-strategy=fewest",
        "--generate-hashes",
        "--no-emit-index-url",
        "--no-emit-find-links",
        f"--output-file={environment.LOCK.name}",
        *(["--upgrade"] if upgrade else []),
        SOURCE.name,
    ]
    said = {"UV_CUSTOM_COMPILE_COMMAND": ".venv/bin/python -m scripts.lock"}
    done = subprocess.run(
        command, cwd=ROOT, env={**os.environ, **said}, stdout=subprocess.DEVNULL, check=False
    )
    if done.returncode:
        raise Failure("requirements.lock was not renewed: uv's reason stands above.")


def check() -> None:
    """Raise unless the lock resolves from wheels for every supported Python and platform.

    Nothing is downloaded but the index's lists of files. The result is remembered for this lock.

    Raises
    ------
    Failure
        With the Python, the platform and uv's reason.
    NoNetwork
        Where the package index cannot be asked.
    """
    key = sha256(environment.LOCK.read_bytes() + f"{pythons()} {PLATFORMS}".encode())
    stamp = cache_folder() / "lock" / key
    if stamp.exists():
        return
    step(f"Checking that all packages have wheels for Python {pythons()[0]} to {pythons()[-1]}")
    with tempfile.TemporaryDirectory() as empty, ThreadPoolExecutor(2) as pool:
        every = [
            pool.submit(_resolve, python, platform, empty)
            for python, platform in product(pythons(), PLATFORMS)
        ]
        for each in every:
            each.result()
    stamp.parent.mkdir(exist_ok=True)
    stamp.touch()


def _resolve(python: str, platform: str, target: str) -> None:
    run(
        [
            *_uv("install"),
            "--dry-run",
            "--no-deps",
            "--require-hashes",
            f"--python-version={python}",
            f"--python-platform={platform}",
            f"--target={target}",
            f"--requirement={environment.LOCK.name}",
        ],
        f"requirements.lock cannot be installed on Python {python}, {platform}, from wheels",
    )


def _uv(command: str) -> list[str]:
    return [
        str(environment.PYTHON),
        "-m",
        "uv",
        "pip",
        command,
        "--only-binary=:all:",
        "--no-python-downloads",
        "--python",
        str(environment.PYTHON),
    ]


def main() -> int:
    """Renew the lock; return the exit status."""
    parser = argparse.ArgumentParser(prog="python -m scripts.lock", description=__doc__)
    parser.add_argument("--upgrade", action="store_true", help="take the newest version of all")
    options = parser.parse_args()
    try:
        renew(upgrade=options.upgrade)
        check()
    except (Failure, NoNetwork) as failure:
        print(failure, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
