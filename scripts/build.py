"""Build the site with MkDocs, unless the built one is up to date."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
from pathlib import Path

from scripts import environment, runtime
from scripts.runtime import ROOT
from scripts.say import Failure, step

SOURCES = ("docs", "calc", "overrides", "scripts", "tests/validation/data")
FILES = ("mkdocs.yml", "requirements.lock", "package-lock.json", "README.md")


def site(folder: Path, address: str) -> Path:
    """Build into a folder for the given address and return the folder.

    Raises
    ------
    Failure
        Where MkDocs reports an error; it has printed the reason.
    """
    parts = runtime.staged()
    if isinstance(parts, str):
        step(f"The site is built without calculators. {parts}")
        state = "without"
    else:
        state = " ".join(part.digest for part in parts)
    key = _key(f"{address} {state}")
    stamp = ROOT / "build" / f"{folder.name}.json"
    if stamp.exists() and json.loads(stamp.read_text()) == key and (folder / "sw.js").exists():
        step("The site is up to date")
        return folder
    stamp.unlink(missing_ok=True)
    step("Building the site (every number on it is computed now)")
    command = [
        str(environment.PYTHON),
        "-m",
        "mkdocs",
        "build",
        "--quiet",
        "--site-dir",
        str(folder),
    ]
    done = subprocess.run(
        command,
        cwd=ROOT,
        env={**os.environ, "FINSTOCK_SITE_URL": address, "NO_MKDOCS_2_WARNING": "1"},
        check=False,
    )
    if done.returncode:
        raise Failure("The site could not be built; the lines above name the file and the reason.")
    stamp.parent.mkdir(exist_ok=True)
    stamp.write_text(json.dumps(key))
    return folder


def _key(extra: str) -> str:
    content = hashlib.sha256(extra.encode())
    paths = [ROOT / name for name in FILES]
    for folder in SOURCES:
        paths += sorted((ROOT / folder).rglob("*"))
    for path in paths:
        if path.is_file() and "__pycache__" not in path.parts:
            content.update(f"{path.relative_to(ROOT)}\n".encode())
            content.update(path.read_bytes())
    return content.hexdigest()
