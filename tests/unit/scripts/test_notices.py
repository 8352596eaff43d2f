"""Whatever a site ships has a known owner and a full licence text, or the build stops."""

from __future__ import annotations

import hashlib
import importlib.metadata
import json
import re
import zipfile
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from scripts import notices, runtime
from scripts.say import Failure

PART = "rt/0123456789abcdef"
PAGE = "<h1>Licences</h1>" + "".join(
    f'<div data-notices="{name}"></div>\n' for name in ("list", "sources", "texts")
)


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """Return a small site with one library under the LGPL in it."""
    if not runtime.PYODIDE.exists():
        runtime.install_pyodide()
    put(tmp_path, "reference/licences/index.html", PAGE)
    put(tmp_path, "rt/runtime.json", "{}")
    put(tmp_path, "sw.js", "// ours")
    pack(tmp_path, "library.zip", "fpdf/fpdf.pyc", "mimetypes.pyc")
    return tmp_path


def put(site: Path, name: str, text: str) -> None:
    """Write a file into the site."""
    (site / name).parent.mkdir(parents=True, exist_ok=True)
    (site / name).write_text(text, encoding="utf-8")


def pack(site: Path, name: str, *members: str) -> None:
    """Write an archive with such members into the site's runtime."""
    (site / PART).mkdir(parents=True, exist_ok=True)
    with zipfile.ZipFile(site / PART / name, "w") as archive:
        for member in members:
            archive.writestr(member, b"")


def filled(site: Path) -> str:
    """Return the page of licences as people read it."""
    return unescape((site / notices.PAGE).read_text(encoding="utf-8"))


def test_whole_texts_of_a_library_under_the_lgpl(site: Path) -> None:
    """The page holds the library's own licence file and the GPL it refers to, word for word."""
    notices.add(site)
    text = filled(site)
    own = importlib.metadata.distribution("fpdf2").read_text("licenses/LICENSE")
    assert own is not None
    assert "GNU LESSER GENERAL PUBLIC LICENSE" in own
    assert own.strip() in text
    assert "GNU GENERAL PUBLIC LICENSE" in text
    assert "15. Disclaimer of Warranty." in text, "the GPL's text is whole"
    assert "PYTHON SOFTWARE FOUNDATION LICENSE VERSION 2" in text, "for the standard library"


def test_source_of_a_library_under_the_lgpl_lies_beside_the_page(site: Path) -> None:
    """Its archive has every module as installed, the scripts that pack it and words how to."""
    notices.add(site)
    (found,) = re.findall(r'href="\.\./\.\./(assets/data/fpdf2-[^"]*-source\.zip)"', filled(site))
    with zipfile.ZipFile(site / found) as archive:
        names = set(archive.namelist())
        for file in importlib.metadata.files("fpdf2") or ():
            if file.suffix == ".py":
                assert archive.read(str(file)) == Path(str(file.locate())).read_bytes()
        version = importlib.metadata.version("fpdf2")
        assert f"fpdf2 {version}" in archive.read("HOW.txt").decode()
    assert {"scripts/library.py", "scripts/bytecode.mjs", "scripts/runtime.py"} <= names


@pytest.mark.parametrize(
    "name",
    [
        "assets/vendor.js",
        "assets/app/vendor.js",
        "assets/javascripts/lunr/wordcut.js",
        "assets/fonts/unnamed.woff2",
        f"{PART}/strange.zip.gz",
        "about.pdf",
    ],
)
def test_unknown_file_stops_the_build(site: Path, name: str) -> None:
    """A file that is nobody's is named and nothing is written."""
    put(site, name, "")
    with pytest.raises(Failure, match=re.escape(f"{name}: whose is it?")):
        notices.add(site)
    assert filled(site) == PAGE


def test_unknown_member_of_an_archive_stops_the_build(site: Path) -> None:
    """So does a package that travels inside an archive."""
    pack(site, "library.zip", "fpdf/fpdf.pyc", "leftpad/__init__.pyc")
    with pytest.raises(Failure, match=r"library\.zip: leftpad/__init__\.pyc: whose is it"):
        notices.add(site)


def test_package_joined_into_a_script_needs_a_notice(site: Path) -> None:
    """A script's source map tells what was joined into it; a package without an entry is named."""
    script = "assets/javascripts/bundle.01234567.min.js"
    put(site, script, "")
    sources = ["src/templates/a.ts", "node_modules/lunr/lunr.js"]
    put(site, f"{script}.map", json.dumps({"sources": sources}))
    notices.add(site)
    assert "Oliver Nightingale" in filled(site)
    put(site, f"{script}.map", json.dumps({"sources": [*sources, "node_modules/leftpad/i.js"]}))
    with pytest.raises(Failure, match="leftpad: travels"):
        notices.add(site)
    (site / f"{script}.map").unlink()
    with pytest.raises(Failure, match=r"bundle.*whose is it"):
        notices.add(site)


def test_script_of_others_among_ours_is_found(
    site: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file in our own folder that names another's copyright or licence is not taken for ours."""
    root = tmp_path / "elsewhere"
    root.mkdir()
    (root / "LICENSE").write_text("ours")
    monkeypatch.setattr(notices, "ROOT", root)
    for text, known in (("draw();", True), ("/* @license MIT */ draw();", False)):
        put(root, "docs/assets/app/draw.js", text)
        path = site / "assets" / "app" / "draw.js"
        put(site, "assets/app/draw.js", text)
        owners, strange = notices._owners(site, path, "assets/app/draw.js")
        assert (owners == {"Finstock"}) is known
        assert bool(strange) is not known


def test_icons_are_named_by_what_is_drawn(site: Path) -> None:
    """An icon in a page brings its set's licence; a page without icons brings none."""
    notices.add(site)
    assert "Octicons" not in filled(site)
    icon = next((notices._theme() / ".icons" / "octicons").glob("*.svg")).read_text()
    put(site, "index.html", icon)
    notices.add(site)
    assert "GitHub Inc." in filled(site)


def test_list_of_what_is_compiled_in_belongs_to_its_version(
    site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With another Pyodide, or where a part's mark is gone, somebody must look again."""
    # each mark as plain text: letters and digits in place of what the pattern leaves open
    marks: dict[str, str] = {}
    for entry in notices._table()["component"].values():
        if entry.get("within") == "Pyodide":
            plain = entry["mark"].split("|")[0].replace(r"([\d.]+)", "1.2.13").replace("\\", "")
            marks[entry["file"]] = marks.get(entry["file"], "") + plain + "\n"
    for name, text in marks.items():
        if name.endswith(".zip"):
            pack(site, name, "asyncio/sslproto.pyc", "pyodide/code.pyc")
        else:
            put(site, f"{PART}/{name}", text)
    found = notices.survey(site)
    assert found.problems == []
    parts = {c.name: c for c in found.components if c.within == "Pyodide"}
    assert parts["zlib"].version == "1.2.13", "read off the file"
    put(site, f"{PART}/pyodide.mjs", "")
    assert notices.survey(site).problems == [
        "error-stack-parser: no mark of it in pyodide.mjs",
    ]
    put(site, f"{PART}/pyodide.mjs", marks["pyodide.mjs"])
    table: dict[str, Any] = {**notices._table(), "checked": {"Pyodide": "0.1"}}
    monkeypatch.setattr(notices, "_table", lambda: table)
    (problem,) = notices.survey(site).problems
    assert "look again" in problem


def test_site_without_the_runtime_has_its_page_too(site: Path) -> None:
    """Built without calculators, the page lists what is left and asks for no source."""
    notices.add(site)
    (site / PART / "library.zip").unlink()
    notices.add(site)
    text = filled(site)
    assert "Finstock" in text
    assert "mkdocs-material" in text
    assert "fpdf2" not in text
    assert "Nothing in this copy asks" in text
    assert not list((site / "assets" / "data").glob("*-source.zip"))


def test_doing_it_twice_changes_nothing(site: Path) -> None:
    """The page and everything beside it are the same after a second time."""

    def state() -> dict[str, str]:
        return {
            str(path): hashlib.sha256(path.read_bytes()).hexdigest()
            for path in site.rglob("*")
            if path.is_file()
        }

    notices.add(site)
    once = state()
    notices.add(site)
    assert state() == once


def test_page_without_a_place_for_the_notices_stops_the_build(site: Path) -> None:
    """A page that has lost a place would leave readers without the texts."""
    put(site, "reference/licences/index.html", PAGE.replace('"texts"', '"words"'))
    with pytest.raises(Failure, match='no <div data-notices="texts">'):
        notices.add(site)


@pytest.mark.parametrize("name", sorted({*notices._table()["component"]} - {"numpy"}))
def test_every_entry_has_a_licence_and_says_what_it_does(site: Path, name: str) -> None:
    """Each entry of the table says licence and purpose, and its texts are whole."""
    found = notices.component(name)
    assert found.licence
    assert found.what.endswith(".")
    assert found.texts
    for title, text in found.texts:
        assert len(text) > 250, title
        assert "<year>" not in text or title.startswith("GPL"), "somebody else's form, unfilled"


def test_list_for_other_programs(site: Path) -> None:
    """The CycloneDX list names each component with version, licence and files with their sums."""
    notices.add(site)
    bill = json.loads((site / notices.LIST).read_text(encoding="utf-8"))
    assert (bill["bomFormat"], bill["specVersion"]) == ("CycloneDX", "1.6")
    named = {c["name"]: c for c in bill["components"]}
    library = named["fpdf2"]
    assert library["purl"] == f"pkg:pypi/fpdf2@{importlib.metadata.version('fpdf2')}"
    assert library["licenses"] == [{"expression": "LGPL-3.0-only"}]
    content = (site / PART / "library.zip").read_bytes()
    (file,) = library["components"]
    assert file["hashes"][0]["content"] == hashlib.sha256(content).hexdigest()


def test_every_footer_leads_to_the_page() -> None:
    """The theme's footer, in every page, links to the page by the page's own way to the root."""
    partial = (runtime.ROOT / "overrides" / "partials" / "copyright.html").read_text()
    assert """href="{{ 'reference/licences/' | url }}\"""" in partial
