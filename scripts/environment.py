"""The project's own environment: ``.venv`` with the packages that requirements.lock pins.

Standard library only: this runs with whatever Python 3.11 or newer the machine has.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import venv
from pathlib import Path

from scripts.runtime import ROOT, run, sha256
from scripts.say import Failure, step

VENV = ROOT / ".venv"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
LOCK = ROOT / "requirements.lock"
STAMP = VENV / ".finstock-stamp"


def ensure() -> Path:
    """Make or refresh the environment; return its Python. Instant when nothing changed."""
    wanted = sha256(LOCK.read_bytes())
    if STAMP.exists() and STAMP.read_text() == wanted and PYTHON.exists():
        return PYTHON
    if not PYTHON.exists():
        step("Making the environment .venv")
        try:
            venv.create(VENV, with_pip=True, clear=VENV.exists())
        except (OSError, subprocess.CalledProcessError) as error:
            raise Failure(
                f"Could not make .venv ({error}); on Debian, install python3-venv."
            ) from error
    packages = len(re.findall(r"^[A-Za-z0-9._-]+==", LOCK.read_text(), re.MULTILINE))
    step(f"Installing {packages} pinned packages (about a minute, once)")
    run(
        [
            str(PYTHON),
            "-m",
            "pip",
            "install",
            "--quiet",
            "--disable-pip-version-check",
            "--no-deps",
            "--require-hashes",
            "--requirement",
            str(LOCK),
        ],
        "Installing the pinned packages failed",
    )
    # So that `mkdocs` and `pytest` find `calc` and `scripts` however they are started.
    (packages_folder() / "finstock.pth").write_text(f"{ROOT}\n")
    STAMP.write_text(wanted)
    return PYTHON


def packages_folder() -> Path:
    """Return the environment's folder of installed packages."""
    code = "import sysconfig; print(sysconfig.get_path('purelib'))"
    return Path(run([str(PYTHON), "-c", code], "The Python in .venv does not run").strip())


def chromium() -> str:
    """Return the path of a Chromium for the browser tests, installing Debian's where it can."""
    names = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
    places = (
        "/usr/bin/chromium",
        "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
        "/Applications/Chromium.app/Contents/MacOS/Chromium",
    )

    def find() -> str | None:
        given = os.environ.get("CHROMIUM")
        if given:
            return given if Path(given).exists() else None
        return next((p for n in names if (p := shutil.which(n))), None) or next(
            (p for p in places if Path(p).exists()), None
        )

    found = find()
    if found:
        return found
    if "CHROMIUM" not in os.environ and shutil.which("apt-get") and os.geteuid() == 0:
        step("Installing Debian's Chromium for the browser tests (once)")
        quiet = ["apt-get", "--quiet", "--quiet", "--yes"]
        run([*quiet, "update"], "apt-get update failed")
        run(
            [*quiet, "install", "--no-install-recommends", "chromium"],
            "apt-get install chromium failed",
        )
        found = find()
        if found:
            return found
    raise Failure(
        "The browser tests need Chromium: install it (Debian: sudo apt-get install chromium) "
        "or give its path in CHROMIUM."
    )
