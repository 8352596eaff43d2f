"""The house's own rules: imports point one way, public things have words, data have sources."""

import ast
import tomllib
from collections.abc import Iterator
from graphlib import TopologicalSorter
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "calc"
NEVER = {"mkdocs", "markdown", "js", "pyodide", "latex2mathml", "scipy"}
BROWSER_ONLY = {"frontends.browser"}


def sources() -> dict[str, ast.Module]:
    """Return every module of the package by dotted name, parsed."""
    found = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        found[name] = ast.parse(path.read_text(encoding="utf-8"))
    return found


SOURCES = sources()

ORDER = (
    ("errors", "datafiles"),
    ("units",),
    ("margin",),
    ("wording", "report"),
    ("numerics",),
    ("geometry",),
    ("structure",),
    ("materials",),
    ("air",),
    ("aeroelastic",),
    ("flight",),
    ("fin",),
    ("sheet_test",),
    ("workshop",),
    ("forms",),
    ("rocket",),
    ("calculators",),
    ("render",),
    ("frontends",),
    ("__main__",),
)
"""Folders and single modules in the order of the work: each imports only from those before it."""
PLACE = {name: place for place, names in enumerate(ORDER) for name in names}
PHYSICS = PLACE["sheet_test"]


def folder(module: str) -> str:
    """Return the folder, or the single module, at the top of the package."""
    return module.split(".")[0]


def level(module: str) -> int:
    """Return where a module stands in the order of the work."""
    return PLACE[folder(module)]


def imported(tree: ast.Module, *, late: bool = True) -> Iterator[tuple[str, bool]]:
    """Yield what a module imports, functions included if `late`, and whether it is ours."""
    for node in ast.walk(tree) if late else tree.body:
        if isinstance(node, ast.Import):
            yield from ((alias.name, False) for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            if node.module.split(".")[0] != "calc":
                yield node.module, False
                continue
            base = node.module.removeprefix("calc").removeprefix(".")
            for alias in node.names:
                whole = f"{base}.{alias.name}".removeprefix(".")
                yield (whole if whole in SOURCES else base), True


def own_imports(name: str, *, late: bool = True) -> set[str]:
    """Return the modules of the package that a module imports."""
    found = imported(SOURCES[name], late=late)
    return {other for other, ours in found if ours and other and other != name}


@pytest.mark.parametrize("name", [n for n in SOURCES if n])
def test_imports_point_one_way(name: str) -> None:
    """A module imports from its own folder and from folders before it, never from later ones."""
    later = {
        other
        for other in own_imports(name)
        if level(other) > level(name)
        or (level(other) == level(name) and folder(other) != folder(name))
    }
    assert not later


def test_no_circles() -> None:
    """No chain of imports leads back to where it started while modules are loading."""
    TopologicalSorter({name: own_imports(name, late=False) for name in SOURCES}).prepare()


VOCABULARY = {"errors", "datafiles", "units", "margin", "wording", "report"}
"""Small modules that all folders may use; the developers' notes name them once."""


def arrows() -> str:
    """Return which folder imports from which, a line each, as the developers' notes print it."""
    found: dict[str, set[str]] = {}
    for name in filter(None, SOURCES):
        known = {folder(other) for other in own_imports(name)}
        found.setdefault(folder(name), set()).update(known - VOCABULARY - {folder(name)})
    order = [name for names in ORDER for name in names if name not in VOCABULARY]
    lines = (f"{name:12} {' '.join(n for n in order if n in found[name])}" for name in order)
    return "\n".join(line.rstrip() for line in lines)


def test_arrows_in_the_developers_notes_are_the_real_ones() -> None:
    """DEVELOPERS.md prints the imports between folders as they are; copy them from here."""
    notes = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert f"```imports\n{arrows()}\n```" in notes, arrows()


@pytest.mark.parametrize("name", [n for n in SOURCES if n not in BROWSER_ONLY])
def test_package_knows_no_site_and_no_browser(name: str) -> None:
    """The package runs without a site generator, a browser or SciPy."""
    foreign = {other.split(".")[0] for other, ours in imported(SOURCES[name]) if not ours}
    assert not foreign & NEVER


def public(tree: ast.Module) -> Iterator[tuple[str, ast.FunctionDef | ast.ClassDef]]:
    """Yield the public functions, classes and methods of a module by name."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            yield node.name, node
            if isinstance(node, ast.ClassDef):
                for part in node.body:
                    if isinstance(part, ast.FunctionDef) and not part.name.startswith("_"):
                        yield f"{node.name}.{part.name}", part


@pytest.mark.parametrize("name", SOURCES)
def test_everything_public_says_what_it_is(name: str) -> None:
    """Modules, public functions, classes and methods have a docstring that ends a sentence."""
    assert ast.get_docstring(SOURCES[name])
    for what, node in public(SOURCES[name]):
        first = (ast.get_docstring(node) or "").split("\n\n")[0].strip()
        assert first.endswith((".", "?", ":", "…")), what


SEVERAL_NUMBERS = {
    "air.atmosphere.site": "elevation and temperature are the site",
    "structure.failure.hankinson": "the formula's own order: along, across, angle",
    "structure.laminate.rotate_stiffness": "a stiffness and the angle it is rotated by",
    "workshop.parts.ring": "outer and inner diameter, larger first",
    "units.significant": "a value and its digits",
    "numerics.sampling.draws": "rows and columns of a table",
}
"""Functions that take more than one number by position, and why that cannot be mixed up."""
PLAIN = {"float", "int", "float | int", "ArrayLike"}


@pytest.mark.parametrize("name", [n for n in SOURCES if n and level(n) <= PHYSICS])
def test_numbers_are_named(name: str) -> None:
    """Physics takes its subject by position and every further number by name."""
    for what, node in public(SOURCES[name]):
        if not isinstance(node, ast.FunctionDef) or "." in what:
            continue
        given = [*node.args.posonlyargs, *node.args.args]
        numbers = [a.arg for a in given if a.annotation and ast.unparse(a.annotation) in PLAIN]
        known = f"{name}.{what}" in SEVERAL_NUMBERS
        assert len(numbers) <= 1 or known, (what, numbers)


def test_exceptions_are_still_needed() -> None:
    """Each function that takes several numbers by position is still there."""
    there = {f"{name}.{what}" for name, tree in SOURCES.items() for what, _ in public(tree)}
    assert set(SEVERAL_NUMBERS) <= there


def tables(data: Any, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield every table of a TOML file with its place."""
    if isinstance(data, dict):
        yield path, data
        for key, value in data.items():
            yield from tables(value, f"{path}.{key}".removeprefix("."))
    elif isinstance(data, list):
        for index, value in enumerate(data):
            yield from tables(value, f"{path}[{index}]")


BIBLIOGRAPHY = tomllib.loads((PACKAGE / "materials" / "bibliography.toml").read_text("utf-8"))


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("*.toml")), ids=lambda path: path.stem)
def test_every_value_has_a_source(path: Path) -> None:
    """Whatever says `value` says `source`; a material's source stands in the bibliography."""
    if path.stem == "bibliography":
        assert all(entry.get("title") for entry in BIBLIOGRAPHY.values())
        return
    data = tomllib.loads(path.read_text("utf-8"))
    for place, table in tables(data):
        if isinstance(table.get("value"), int | float):
            assert table.get("source"), place
            if "materials" in path.parts:
                assert table["source"] in BIBLIOGRAPHY, (place, table["source"])
    if path.parent.name == "finishes":
        assert data.get("source")


@pytest.mark.parametrize(
    "path",
    sorted((ROOT / "tests" / "validation" / "data").glob("*.toml")),
    ids=lambda path: path.stem,
)
def test_every_published_case_has_a_source(path: Path) -> None:
    """A file of published cases names its publication, or the proof that makes it certain."""
    text = path.read_text("utf-8")
    data = tomllib.loads(text)
    assert any("source" in table or "proof" in table for _, table in tables(data))
