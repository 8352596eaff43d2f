"""The project's own environment: ``.venv`` with the packages that requirements.lock pins.

Standard library only: this runs with any supported Python, before anything is installed.
"""

from __future__ import annotations

import importlib.util
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from scripts.runtime import ROOT, run, sha256
from scripts.say import Failure, step

OLDEST = (3, 11)
NEWEST = (3, 15)
"""Pythons for which every pinned package has wheels; scripts/launch looks for the same."""

VENV = ROOT / ".venv"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
LOCK = ROOT / "requirements.lock"
STAMP = VENV / ".finstock-stamp"


def ensure() -> Path:
    """Make or refresh the environment and return its Python; instant when nothing changed.

    Raises
    ------
    Failure
        Where the Python is not supported or incomplete, or with the installer's own reason.
    """
    if STAMP.exists() and STAMP.read_text() == _state():
        return PYTHON
    if not _usable():
        _make()
    packages = len(set(re.findall(r"^([\w.-]+)==", LOCK.read_text(), re.MULTILINE)))
    step(f"Installing {packages} pinned packages (one to four minutes, once)")
    run(
        [
            str(PYTHON),
            "-m",
            "pip",
            "install",
            "--quiet",
            "--disable-pip-version-check",
            "--no-deps",
            "--only-binary=:all:",
            "--require-hashes",
            "--requirement",
            str(LOCK),
        ],
        "The pinned packages could not be installed",
    )
    # So that `mkdocs` and `pytest` find `calc` and `scripts` wherever they are started.
    (packages_folder() / "finstock.pth").write_text(f"{ROOT}\n")
    STAMP.write_text(_state())
    return PYTHON


def _state() -> str:
    """Return what the environment depends on: the lock, its Python's version, its folder."""
    return f"{sha256(LOCK.read_bytes())} {_version()} {ROOT}"


def _version() -> str:
    """Return the version of the Python in .venv, such as "3.11"; nothing where it does not run."""
    code = "import sys; print('.'.join(map(str, sys.version_info[:2])))"
    try:
        done = subprocess.run(
            [str(PYTHON), "-c", code], capture_output=True, text=True, check=False
        )
    except OSError:
        return ""
    return done.stdout.strip() if done.returncode == 0 else ""


def _usable() -> bool:
    """Return whether .venv has a supported Python that runs, with its pip."""
    version = tuple(int(part) for part in _version().split(".") if part)
    if not OLDEST <= version <= NEWEST:
        return False
    command = [str(PYTHON), "-m", "pip", "--version"]
    return subprocess.run(command, capture_output=True, check=False).returncode == 0


def _make() -> None:
    version = sys.version_info[:2]
    name = f"Python {version[0]}.{version[1]} ({sys.executable})"
    if not OLDEST <= version <= NEWEST:
        raise Failure(
            f"{name} is not supported: the pinned packages have wheels for "
            f"Python {OLDEST[0]}.{OLDEST[1]} to {NEWEST[0]}.{NEWEST[1]}."
        )
    # Debian packs both apart from Python.
    lacking = [module for module in ("venv", "ensurepip") if not importlib.util.find_spec(module)]
    if lacking:
        raise Failure(
            f"{name} lacks its module{'s' * (len(lacking) > 1)} {' and '.join(lacking)}, needed to "
            "make .venv. On Debian and Ubuntu: "
            f"sudo apt-get install python{version[0]}.{version[1]}-venv"
        )
    step(f"Making the environment .venv with {name}")
    shutil.rmtree(VENV, ignore_errors=True)
    try:
        # As a program of its own, so that what it prints can be shown.
        run([sys.executable, "-m", "venv", str(VENV)], "The environment .venv could not be made")
    except Failure:
        # Half an environment would be taken for a whole one next time.
        shutil.rmtree(VENV, ignore_errors=True)
        raise


def packages_folder() -> Path:
    """Return the environment's folder of installed packages."""
    code = "import sysconfig; print(sysconfig.get_path('purelib'))"
    return Path(run([str(PYTHON), "-c", code], "The Python in .venv does not run").strip())


def installing_allowed() -> bool:
    """Return whether the person agreed that missing programs are installed with apt-get."""
    return os.environ.get("FINSTOCK_INSTALL") == "1"


def install(packages: Sequence[str]) -> None:
    """Install Debian packages with apt-get, if the person agreed to it.

    Raises
    ------
    Failure
        Where nobody agreed, where this is not Debian or not root, or with apt-get's reason.
    """
    names = " ".join(packages)
    if not installing_allowed():
        raise Failure(f"Not installed without being asked to: {names}")
    if shutil.which("apt-get") is None:
        raise Failure(f"There is no apt-get here to install {names} with.")
    if os.geteuid() != 0:
        raise Failure(f"Only root can install programs: sudo apt-get install {names}")
    step(f"Installing with apt-get, as agreed: {names}")
    quiet = ["apt-get", "--quiet", "--quiet", "--yes"]
    run([*quiet, "update"], "apt-get update failed")
    run(
        [*quiet, "install", "--no-install-recommends", *packages],
        f"apt-get install {names} failed",
    )


CHROMIUM = ("chromium",)
"""Debian's package."""


def find_chromium() -> str | None:
    """Return the path of a Chromium: the one that $CHROMIUM names, or one in a usual place."""
    names = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
    places = (
        "/usr/bin/chromium",
        "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
        "/Applications/Chromium.app/Contents/MacOS/Chromium",
    )
    given = os.environ.get("CHROMIUM")
    if given:
        return given if Path(given).exists() else None
    return next((path for name in names if (path := shutil.which(name))), None) or next(
        (path for path in places if Path(path).exists()), None
    )


def chromium() -> str:
    """Return the path of a Chromium.

    Raises
    ------
    Failure
        Where there is none.
    """
    found = find_chromium()
    if found is None:
        raise Failure(
            "Chromium is needed and was not found: install it (Debian: sudo apt-get install "
            "chromium) or give its path in CHROMIUM."
        )
    return found
