"""The part of the runtime that only PDF, DXF and SVG files need, fetched when one is needed.

`calc.workshop.templates` writes PDF and DXF with fpdf2 and ezdxf, `calc.workshop.drawing_file`
reads outlines with ezdxf and svgelements: libraries of pure Python. Whole, they and what they lean
on weigh tens of megabytes; this takes the files that making and reading them really imports, found
by doing so inside Pyodide, and byte-compiles them like the rest.
Modules of the standard library travel along, because the browser's Python, started from its memory
image, has no files of them. A device that keeps the handbook keeps this too.
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
    "pyparsing": "pyparsing",
    "typing_extensions": "typing_extensions",
    "defusedxml": "defusedxml",
    "svgelements": "svgelements",
}
"""Import name and distribution of all that travels."""
UNUSED = {
    "fontTools": "embeds fonts of the caller's own; ours is one of the 14 that PDF readers have",
    "unittest": "is imported for signing a PDF, and by a module of test helpers",
}
"""Packages of which only names are imported, and why nothing of them is called."""
STAND_IN = """
class _Name(type):
    def __getattr__(cls, name):
        return __getattr__(name)


def __getattr__(name):
    if name.startswith("__"):
        raise AttributeError(name)
    return _Name(name, (), {})
"""
"""What travels in place of such a module: any name in it is a class without content."""
TRACER = ROOT / "scripts" / "library.mjs"
TEMPLATES = ("workshop/*.py", "geometry/polygons.py")
STDLIB = PYODIDE / "python_stdlib.zip"
DATA = (".py", ".json", ".icc", ".ttf", ".afm")


def library_part() -> Part:
    """Return the libraries ready for the browser, building when needed."""
    runtime.install_pyodide()
    wheel = runtime.numpy_wheel()
    versions = " ".join(f"{name} {importlib.metadata.version(name)}" for name in PACKAGES.values())
    sources = [path for name in TEMPLATES for path in sorted((ROOT / "calc").glob(name))]
    key = runtime._key(
        [
            ROOT / "package-lock.json",
            Path(__file__),
            TRACER,
            runtime.TRIMMED,
            runtime.COMPILER,
            *sources,
        ],
        versions,
    )

    def build(target: Path, work: Path) -> None:
        step("Choosing what PDF, DXF and SVG files need (half a minute, once)")
        packages, numpy, packed = work / "packages", work / "numpy", work / "packed"
        _sources(packages)
        runtime._extract(wheel, numpy, lambda name: not runtime.NUMPY_DROPPED.search(name))
        found = _traced({"packages": packages, "numpy": numpy, "calc-source": _calc(work)})
        for name in found["packages"]:
            copy = packed / name
            copy.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(packages / name, copy)
        _stdlib(found["stdlib"], packed)
        for name in found["unused"]:
            module = packed.joinpath(*name.split("."), "__init__.py")
            module.parent.mkdir(parents=True, exist_ok=True)
            module.write_text(STAND_IN)
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
            {
                "pyodide": str(PYODIDE),
                "folders": {k: str(v) for k, v in folders.items()},
                "unused": dict.fromkeys(UNUSED, STAND_IN),
            },
            job,
        )
        job.flush()
        done = subprocess.run(
            ["node", str(TRACER), job.name], cwd=ROOT, capture_output=True, text=True, check=False
        )
    if done.returncode:
        said = (done.stderr.strip() or "it said nothing").splitlines()[-1]
        raise Failure(f"Making and reading files inside Pyodide failed: {said}")
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


def _stdlib(modules: list[str], folder: Path) -> None:
    """Add modules of the standard library."""
    with zipfile.ZipFile(STDLIB) as archive:
        names = set(archive.namelist())
        for module in modules:
            path = module.replace(".", "/")
            name = next((n for n in (f"{path}.py", f"{path}/__init__.py") if n in names), None)
            if name is not None:
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
