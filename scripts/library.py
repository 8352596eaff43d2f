"""The part of the runtime that only PDF and DXF files need, fetched when one is asked for.

`calc.templates` writes them with fpdf2 and ezdxf, well-kept libraries of pure Python. Whole, they
and what they lean on weigh tens of megabytes; this takes the files that making a PDF and a DXF
really imports, found by making both inside Pyodide, and byte-compiles them like the rest. Modules
of the standard library that the trimmed one lacks travel along.
"""

from __future__ import annotations

import importlib.metadata
import importlib.util
import json
import shutil
import subprocess
import tempfile
import zipfile
from pathlib import Path
from typing import Any

from scripts import runtime
from scripts.runtime import PYODIDE, ROOT, Part
from scripts.say import Failure, step

PACKAGES = {
    "ezdxf": "ezdxf",
    "fpdf": "fpdf2",
    "fontTools": "fonttools",
    "pyparsing": "pyparsing",
    "typing_extensions": "typing_extensions",
    "defusedxml": "defusedxml",
}
"""Import name and distribution of all that travels."""
TRACER = ROOT / "scripts" / "library.mjs"
TEMPLATES = ("templates.py", "nesting.py", "polygons.py")
STDLIB = PYODIDE / "python_stdlib.zip"
DATA = (".py", ".json", ".icc", ".ttf", ".afm")


def library_part() -> Part:
    """Return the libraries ready for the browser, building when needed."""
    runtime.install_pyodide()
    wheel = runtime.numpy_wheel()
    versions = " ".join(f"{name} {importlib.metadata.version(name)}" for name in PACKAGES.values())
    sources = [ROOT / "calc" / name for name in TEMPLATES]
    key = runtime._key(
        [ROOT / "package-lock.json", Path(__file__), TRACER, runtime.TRIMMED, *sources], versions
    )

    def build(target: Path, work: Path) -> None:
        step("Choosing what PDF and DXF files need (half a minute, once)")
        packages, numpy, packed = work / "packages", work / "numpy", work / "packed"
        _sources(packages)
        runtime._extract(wheel, numpy, lambda name: not runtime.NUMPY_DROPPED.search(name))
        found = _traced({"packages": packages, "numpy": numpy, "calc-source": _calc(work)})
        for name in found["packages"]:
            copy = packed / name
            copy.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(packages / name, copy)
        _missing_stdlib(found["stdlib"], packed)
        runtime._compile(packed)
        runtime._pack(packed, target / "library.zip")

    return runtime._cached("library", key, build)


def _sources(folder: Path) -> None:
    """Copy the packages' Python files alone, so that nothing compiled for this machine counts."""
    for name in PACKAGES:
        spec = importlib.util.find_spec(name)
        if spec is None or spec.origin is None:
            raise Failure(f"{PACKAGES[name]} is not installed.")
        origin = Path(spec.origin)
        if origin.name != "__init__.py":
            folder.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(origin, folder / origin.name)
            continue
        for path in origin.parent.rglob("*"):
            if path.suffix in DATA and "__pycache__" not in path.parts:
                copy = folder / name / path.relative_to(origin.parent)
                copy.parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(path, copy)


def _calc(work: Path) -> Path:
    folder = work / "calc-source"
    shutil.copytree(
        ROOT / "calc", folder / "calc", ignore=shutil.ignore_patterns("__pycache__", "*.pyc")
    )
    return folder


def _traced(folders: dict[str, Path]) -> dict[str, Any]:
    with tempfile.NamedTemporaryFile("w", suffix=".json") as job:
        json.dump(
            {"pyodide": str(PYODIDE), "folders": {k: str(v) for k, v in folders.items()}}, job
        )
        job.flush()
        done = subprocess.run(
            ["node", str(TRACER), job.name], cwd=ROOT, capture_output=True, text=True, check=False
        )
    if done.returncode:
        said = (done.stderr.strip() or "it said nothing").splitlines()[-1]
        raise Failure(f"Making a PDF and a DXF inside Pyodide failed: {said}")
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


def _missing_stdlib(modules: list[str], folder: Path) -> None:
    """Add the modules that the trimmed standard library lacks."""
    with zipfile.ZipFile(STDLIB) as archive:
        names = set(archive.namelist())
        for module in modules:
            path = module.replace(".", "/")
            name = next((n for n in (f"{path}.py", f"{path}/__init__.py") if n in names), None)
            if name is not None and not runtime._keep_stdlib(name):
                archive.extract(name, folder)


def staged() -> Part | None:
    """Return the part, or None where it cannot be built: the site then offers no PDF or DXF."""
    try:
        return library_part()
    except Failure as failure:
        step(f"Going on without PDF and DXF files in the browser: {failure}")
        return None


if __name__ == "__main__":
    for row in library_part().entries("rt"):
        print(row)
