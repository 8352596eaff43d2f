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
BROWSER_ONLY = {"browser"}


def sources() -> dict[str, ast.Module]:
    """Return every module of the package by dotted name, parsed."""
    found = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        found[name] = ast.parse(path.read_text(encoding="utf-8"))
    return found


SOURCES = sources()

LEVELS = {
    "errors": 0,
    "tables": 0,
    "units": 1,
    "atmosphere": 1,
    "moisture": 1,
    "materials": 2,
    "layup": 2,
    "planform": 3,
    "plate": 4,
    "lifting_surface": 4,
    "supersonic": 4,
    "strip": 4,
    "aeroelastic": 5,
    "strength": 5,
    "check": 6,
    "finder": 6,
    "report": 7,
    "render.values": 7,
    "qr": 7,
    "templates": 7,
    "calculators": 8,
    "suits": 8,
    "comparison": 8,
    "links": 9,
    "batch": 9,
    "render": 9,
    "__main__": 10,
    "browser": 10,
    "prose": 10,
}
"""How high a module stands; each may know those of its own level and below."""
KNOW_NOBODY = {"errors": set(), "units": {"errors"}, "atmosphere": {"errors"}}
PHYSICS = 6
"""Modules not named above are physics beside `check`: they may know nothing higher."""


def level(module: str) -> int:
    """Return the level of a module, by its own name or its package's."""
    if module.startswith("prose"):
        return LEVELS["prose"]
    while module not in LEVELS and "." in module:
        module = module.rsplit(".", 1)[0]
    return LEVELS.get(module, PHYSICS)


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
    """A module knows nothing that stands above it."""
    above = {other for other in own_imports(name) if level(other) > level(name)}
    assert not above


def test_no_circles() -> None:
    """No chain of imports leads back to where it started while modules are loading."""
    TopologicalSorter({name: own_imports(name, late=False) for name in SOURCES}).prepare()


@pytest.mark.parametrize("name", sorted(KNOW_NOBODY))
def test_foundations_know_nobody(name: str) -> None:
    """Units, errors and the atmosphere stand by themselves."""
    assert own_imports(name) <= KNOW_NOBODY[name]


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
    "atmosphere.site": "elevation and temperature are the site",
    "flight.interpolated_drag": "a table of two columns",
    "layup.hankinson": "the formula's own order: along, across, angle",
    "layup.turned": "a stiffness and the angle it is turned by",
    "nesting.ring": "outer and inner diameter, larger first",
    "units.significant": "a value and its digits",
    "spread.draws": "rows and columns of a table",
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
            if path.parent.name == "materials":
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
