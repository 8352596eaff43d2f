"""The runtime's making: what is trimmed, how archives are packed, what a failure says."""

from __future__ import annotations

import ast
import zipfile
from pathlib import Path

import pytest

from scripts import library, runtime
from scripts.say import Failure


def imports(path: Path, *, at_once: bool = False) -> set[str]:
    """Return the modules that a source file imports, or those only that it imports at once."""
    found: set[str] = set()
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in tree.body if at_once else ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            found.add(node.module)
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def test_calc_imports_nothing_that_is_trimmed() -> None:
    """No module of calc that travels to the browser imports what does not travel.

    What files need later is traced and travels with the libraries for them.
    """
    dropped, _ = runtime.dropped_modules()
    traced = {path for name in library.TEMPLATES for path in (runtime.ROOT / "calc").glob(name)}
    for path in (runtime.ROOT / "calc").rglob("*.py"):
        if runtime.TERMINAL in path.parents or path.name == "__main__.py":
            continue
        for name in imports(path, at_once=path in traced):
            parts = name.split(".")
            if name.startswith("calc."):
                assert not name.startswith("calc.frontends.terminal"), f"{path}: {name}"
            short = {"/".join(parts[: n + 1]) for n in range(len(parts))}
            if parts[0] == "numpy":
                folder = "/".join(parts) + "/"
                assert not runtime.NUMPY_DROPPED.search(folder), f"{path} imports {name}"
            else:
                assert not short & dropped, f"{path} imports {name}"


def test_archives_are_stored_and_reproducible(tmp_path: Path) -> None:
    """Packing a tree twice gives the same bytes, uncompressed inside, with a gzipped twin."""
    tree = tmp_path / "tree"
    (tree / "inside").mkdir(parents=True)
    (tree / "inside" / "data.txt").write_text("fin " * 500)
    for name in ("one.zip", "two.zip"):
        runtime._pack(tree, tmp_path / name)
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "two.zip").read_bytes()
    with zipfile.ZipFile(tmp_path / "one.zip") as archive:
        assert [item.compress_type for item in archive.infolist()] == [zipfile.ZIP_STORED]
    assert (tmp_path / "one.zip.gz").stat().st_size < 500


def test_wheel_with_another_hash_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever its source, a wheel counts only with the sha256 of Pyodide's own lock file."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.setattr(runtime, "numpy_entry", lambda: ("numpy.whl", "0" * 64))
    monkeypatch.setattr(runtime, "_wheel_from_distribution", lambda name: b"something else")

    def unreachable(name: str) -> bytes:
        raise Failure("no network")

    monkeypatch.setattr(runtime, "_wheel_from_carrier", unreachable)
    with pytest.raises(Failure, match=r"wrong sha256.*no network"):
        runtime.numpy_wheel()
    assert not (tmp_path / "finstock" / "numpy.whl").exists()


def test_second_source_is_used_when_the_first_is_out_of_reach(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A refused or silent distribution site is not the end."""
    content = b"the very wheel"
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.setattr(runtime, "numpy_entry", lambda: ("numpy.whl", runtime.sha256(content)))

    def unreachable(name: str) -> bytes:
        raise OSError("name not known")

    monkeypatch.setattr(runtime, "_wheel_from_distribution", unreachable)
    monkeypatch.setattr(runtime, "_wheel_from_carrier", lambda name: content)
    assert runtime.numpy_wheel().read_bytes() == content


def test_address_of_the_distribution_stands_in_the_npm_package() -> None:
    """The pattern that reads the address out of the package still finds it."""
    if not runtime.PYODIDE.exists():
        if runtime.node_problem():
            pytest.skip(runtime.node_problem())
        runtime.install_pyodide()
    script = (runtime.PYODIDE / "pyodide.mjs").read_text(encoding="utf-8")
    assert runtime.DISTRIBUTION.search(script)
