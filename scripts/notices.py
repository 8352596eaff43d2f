"""Notices and licence texts of all that a built site ships, from what really lies in it.

Every file of the site, and every member of an archive in it, must belong to a component that is
known with its licence text; whatever does not stops the build. The rest follows from that list: the
page of licences, a CycloneDX list for other programs, and the source of libraries under the LGPL.

``python -m scripts.notices SITE`` prints what is in a built site and what is wrong.
"""

from __future__ import annotations

import email
import functools
import importlib.metadata
import importlib.util
import io
import json
import re
import sys
import tomllib
import uuid
import zipfile
from dataclasses import dataclass, field
from html import escape
from pathlib import Path
from typing import Any

from calc import __version__
from scripts import library, runtime
from scripts.runtime import PYODIDE, ROOT, sha256
from scripts.say import Failure

PAGE = "reference/licences/index.html"
LIST = "assets/data/components.cdx.json"
TEXTS = ROOT / "scripts" / "licences"
TABLE = ROOT / "scripts" / "notices.toml"

DISTRIBUTIONS = frozenset({*library.PACKAGES.values(), "segno", "mkdocs-material"})
"""Python packages whose own metadata says licence, home and version."""
THEME = "mkdocs-material"

# Whose each file is, by its name; what an archive holds is looked into.
_PART = r"rt/[0-9a-f]{16}/"
_RULES = (
    (re.compile(_PART + r"pyodide(\.mjs|\.asm\.js|\.asm\.wasm|-lock\.json)"), "Pyodide"),
    (re.compile(r"rt/runtime\.json|sw\.js|sitemap\.xml|search/search_index\.json"), "Finstock"),
    (re.compile(r"reference/materials-data/materials\.(csv|json)"), "Finstock"),
    (re.compile(r"reference/rocket-file/rocket\.schema\.json"), "Finstock"),
    (re.compile(re.escape(LIST)), "Finstock"),
    # drawn by scripts/share.py, and the feed it writes
    (re.compile(r"assets/img/share/[0-9a-f]{12}\.png|changes\.xml"), "Finstock"),
    (re.compile(r"assets/images/favicon\.png|assets/app/theme-[0-9a-f]{10}\.js"), THEME),
)
_SCRIPT = re.compile(r"assets/javascripts/(workers/)?(bundle|search)\.[0-9a-f]{8}\.min\.js")
_SHEET = re.compile(r"assets/style/all\.[0-9a-f]{8}\.min\.css")
_FONT = re.compile(r"assets/fonts/([a-z0-9-]+?)(-italic|-greek)?\.woff2")
_FONT_TEXT = re.compile(r"assets/fonts/([a-z0-9-]+)-LICENSE\.txt")
_SOURCE = re.compile(r"assets/data/([a-z0-9_-]+)-[\w.]+-source\.zip")
# Folders of docs/ that hold nothing but our own.
_OURS = re.compile(r"assets/(app|data|img|style)/[^/]+|manifest\.webmanifest")
_FOREIGN = re.compile(r"@licen[cs]e|\bcopyright\b|SPDX-License|\(c\) ?(19|20)\d\d", re.IGNORECASE)
_TEXT = frozenset({".js", ".mjs", ".css", ".svg"})
# An icon of the theme, in a page or as an address in a style.
_ICON = re.compile(r"<svg[^>]*viewBox=[\"']0 0 \d+ \d+[\"'][^>]*>(.*?)</svg>", re.DOTALL)
_DRAWN = re.compile(r"\sd=[\"']([^\"']+)[\"']")
# Where a licence's text leaves room for the name of whoever gives it, or has one of its own.
_HOLDER = re.compile(r"^Copyright .*(?:<year>|YEAR by|Internet S).*\n+", re.MULTILINE)


@dataclass(frozen=True)
class Component:
    """One piece of work in the site: whose it is, under which licence, with which words."""

    name: str
    version: str
    licence: str
    """SPDX expression."""
    what: str
    home: str = ""
    kind: str = "generic"
    """Of package: pypi, npm, generic."""
    within: str = ""
    copyright: tuple[str, ...] = ()
    texts: tuple[tuple[str, str], ...] = ()
    """Title and full text: the licence's own, and others that it leans on."""


@dataclass
class Survey:
    """What lies in a site: its components, whose each file is, and what is wrong."""

    components: list[Component] = field(default_factory=list)
    files: dict[str, set[str]] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)

    def names(self) -> set[str]:
        """Return the names of all components that own a file."""
        return {name for owners in self.files.values() for name in owners}


def add(site: Path) -> None:
    """Write page, list and sources into a built site; raise where a file has no notice."""
    # of an earlier time: what they belong to may be gone
    for old in (site / "assets" / "data").glob("*-source.zip"):
        old.unlink()
    found = survey(site)
    if found.problems:
        raise Failure("The site ships something without a notice. " + "\n".join(found.problems))
    sources = {c.name: _source(site, c) for c in found.components if c.licence.startswith("LGPL")}
    (site / LIST).parent.mkdir(parents=True, exist_ok=True)
    (site / LIST).write_text(bill(site, found), encoding="utf-8")
    page = site / PAGE
    if page.exists():
        text = page.read_text(encoding="utf-8")
        parts = {
            "list": _listed(found.components),
            "sources": _sources(found.components, sources),
            "texts": _texts(found.components),
        }
        for name, content in parts.items():
            start, opened, rest = text.partition(f'<div data-notices="{name}">')
            if not opened:
                raise Failure(f'{PAGE} has no <div data-notices="{name}"> to fill.')
            _, closed, rest = rest.partition("</div>")
            text = f"{start}{opened}\n{content}\n{closed}{rest}"
        page.write_text(text, encoding="utf-8")


def survey(site: Path) -> Survey:
    """Return what lies in a built site, down to the members of its archives."""
    found = Survey()
    for path in sorted(site.rglob("*")):
        name = path.relative_to(site).as_posix()
        # a compressed twin is its file's
        whole = path.with_suffix("") if path.suffix in (".gz", ".br") else path
        if not path.is_file() or (whole != path and whole.is_file()):
            continue
        owners, strange = _owners(site, path, name)
        found.files[name] = owners
        found.problems += [f"{place}: whose is it?" for place in strange]
    _image(found)
    for name in sorted(found.names(), key=str.lower):
        try:
            found.components.append(component(name))
        except Failure as failure:
            found.problems.append(str(failure))
    _inside(site, found)
    found.problems += [
        f"{c.name}: no licence text" for c in found.components if not c.texts or not c.licence
    ]
    return found


def _owners(site: Path, path: Path, name: str) -> tuple[set[str], list[str]]:
    """Return whose a file is, and the places in it that are nobody's."""
    for pattern, owner in _RULES:
        if pattern.fullmatch(name):
            return {owner}, []
    if re.fullmatch(_PART + r".+\.zip", name):
        return _members(path, name)
    if re.fullmatch(_PART + r".+\.wasm", name) and path.name in _numpy_files():
        return {"numpy"}, []
    if _SCRIPT.fullmatch(name.removesuffix(".map")):
        mapped = site / f"{name.removesuffix('.map')}.map"
        return _mapped(mapped, name) if mapped.exists() else (set(), [name])
    if _SHEET.fullmatch(name):
        owners, strange = {"Finstock", *_icons(path)}, []
        for sheet in sorted((_theme() / "assets" / "stylesheets").glob("*.css.map")):
            more, odd = _mapped(sheet, name)
            owners |= more
            strange += odd
        return owners, strange
    if path.suffix == ".html":
        return {"Finstock", THEME, *_icons(path)}, []
    family = _FONT.fullmatch(name) or _FONT_TEXT.fullmatch(name)
    if family and (site / f"assets/fonts/{family[1]}-LICENSE.txt").exists():
        return {f"font {family[1]}"}, []
    source = _SOURCE.fullmatch(name)
    if source:
        return {source[1]}, []
    if _OURS.fullmatch(name) and (ROOT / "docs" / name).is_file():
        text = path.read_text(encoding="utf-8") if path.suffix in _TEXT else ""
        if _FOREIGN.search(text) is None:
            return {"Finstock"}, []
    if name == "sitemap.xml.gz":
        return {"Finstock"}, []
    return set(), [name]


def _members(path: Path, name: str) -> tuple[set[str], list[str]]:
    """Return whose the members of an archive are, by the folder they lie in."""
    folders = {
        "calc": "Finstock",
        "segno": "segno",
        "numpy": "numpy",
        "pyodide": "Pyodide",
        "_pyodide": "Pyodide",
        **library.PACKAGES,
    }
    owners, strange = set(), []
    with zipfile.ZipFile(path) as archive:
        members = [item.filename for item in archive.infolist() if not item.is_dir()]
    if set(members) <= {"start.json", "places.json", "memory", "blocks"}:
        return {"image"}, []
    for member in members:
        top = member.partition("/")[0].partition("-")[0].removesuffix(".pyc").removesuffix(".py")
        if top in folders:
            owners.add(folders[top])
        elif top in library.UNUSED and re.search(r"/__init__\.pyc?$", member):
            # A stand-in of ours for a module of which only names are imported.
            owners.add("Finstock")
        elif member.removesuffix("c").removesuffix(".py") in _standard_library():
            owners.add("CPython")
        else:
            strange.append(f"{name}: {member}")
    return owners, strange


def _image(found: Survey) -> None:
    """Give the image of memory to all whose code was loaded when it was taken."""
    loaded = {
        owner
        for name, owners in found.files.items()
        if re.fullmatch(_PART + r"((stdlib|numpy|calc)\.zip|pyodide\.asm\.wasm)", name)
        for owner in owners
    }
    for owners in found.files.values():
        if "image" in owners:
            owners.remove("image")
            owners |= loaded


def _mapped(source_map: Path, name: str) -> tuple[set[str], list[str]]:
    """Return the packages that a script or style was joined from, as its source map tells."""
    owners, strange = {THEME}, []
    for source in json.loads(source_map.read_text(encoding="utf-8"))["sources"]:
        package = re.search(r"node_modules/((?:@[^/]+/)?[^/]+)/", source)
        if package:
            owners.add(package[1])
        elif not re.match(r"(\.\./)*src/", source):
            strange.append(f"{name}: {source}")
    return owners, strange


def _icons(path: Path) -> set[str]:
    """Return the sets of icons that a page or style draws from."""
    text = path.read_text(encoding="utf-8")
    drawn = {d for icon in _ICON.findall(text) for d in _DRAWN.findall(icon)}
    folders = {_icon_folders()[d] for d in drawn if d in _icon_folders()}
    return {name for name, entry in _table()["component"].items() if entry.get("folder") in folders}


@functools.cache
def _icon_folders() -> dict[str, str]:
    icons = _theme() / ".icons"
    return {
        drawn: path.relative_to(icons).parts[0]
        for path in icons.rglob("*.svg")
        for drawn in _DRAWN.findall(path.read_text(encoding="utf-8"))
    }


@functools.cache
def _theme() -> Path:
    spec = importlib.util.find_spec("material")
    if spec is None or spec.origin is None:
        raise Failure(f"{THEME} is not installed.")
    return Path(spec.origin).parent / "templates"


@functools.cache
def _standard_library() -> frozenset[str]:
    with zipfile.ZipFile(PYODIDE / "python_stdlib.zip") as archive:
        return frozenset(name.removesuffix(".py") for name in archive.namelist())


@functools.cache
def _numpy_files() -> frozenset[str]:
    """Return the names under which numpy's large extension modules travel."""
    with zipfile.ZipFile(runtime.numpy_wheel()) as wheel:
        modules = [Path(name).name for name in wheel.namelist() if name.endswith(".so")]
    return frozenset(f"{name.partition('.')[0].strip('_')}.wasm" for name in modules)


@functools.cache
def _table() -> dict[str, Any]:
    return tomllib.loads(TABLE.read_text(encoding="utf-8"))


def component(name: str) -> Component:
    """Return a component with its licence text; raise where nothing is known of it."""
    if name.startswith("font "):
        return _font(name.removeprefix("font "))
    entry = _table()["component"].get(name)
    if entry is None and name not in DISTRIBUTIONS:
        raise Failure(f"{name}: travels, but scripts/notices.toml says nothing of it.")
    entry = entry or {}
    given: dict[str, Any] = {
        "name": name,
        "version": "",
        "licence": entry.get("licence", ""),
        "what": entry.get("what", ""),
        "home": entry.get("home", ""),
        "within": entry.get("within", ""),
        "copyright": tuple(entry.get("copyright", ())),
    }
    texts: list[tuple[str, str]] = []
    if name in DISTRIBUTIONS:
        given |= {"kind": "pypi", **_distribution(name, texts, given["licence"])}
    elif name == "Finstock":
        given["version"] = __version__
        texts.append(("LICENSE", (ROOT / "LICENSE").read_text(encoding="utf-8")))
    elif name == "Pyodide":
        package = json.loads((PYODIDE / "package.json").read_text(encoding="utf-8"))
        given |= {"kind": "npm", "version": package["version"], "home": package["homepage"]}
    elif name == "numpy":
        given |= {"kind": "pypi", **_numpy(texts)}
    elif name in ("CPython", "Emscripten"):
        given["version"] = _built_with()[name]
    elif "folder" in entry:
        (path,) = (_theme() / ".icons" / entry["folder"]).glob("LICENSE*")
        texts.append((path.name, path.read_text(encoding="utf-8")))
    if not texts:
        texts += [(word, _text(word)) for word in _identifiers(given["licence"])]
    texts += [(word, _text(word)) for word in entry.get("more", ())]
    return Component(**given, texts=tuple((title, text.strip()) for title, text in texts))


def _identifiers(licence: str) -> list[str]:
    return [w for w in re.split(r"[\s()]+", licence) if w and w not in ("AND", "OR", "WITH")]


def _text(identifier: str) -> str:
    path = TEXTS / f"{identifier}.txt"
    if not path.exists():
        raise Failure(f"{identifier}: its text is not in scripts/licences/.")
    return _HOLDER.sub("", path.read_text(encoding="utf-8"))


def _distribution(name: str, texts: list[tuple[str, str]], licence: str) -> dict[str, str]:
    """Return what an installed package says about itself; add its licence files."""
    installed = importlib.metadata.distribution(name)
    about: Any = installed.metadata
    for file in installed.files or ():
        in_metadata = file.parts[0].endswith(".dist-info")
        if in_metadata and re.match(r"(LICEN[CS]E|COPYING|NOTICE)", file.name, re.IGNORECASE):
            texts.append((file.name, Path(str(file.locate())).read_text(encoding="utf-8")))
    return {
        "version": installed.version,
        "licence": about.get("License-Expression") or licence,
        "home": _home(about.get("Home-page"), about.get_all("Project-URL") or []),
    }


def _numpy(texts: list[tuple[str, str]]) -> dict[str, str]:
    """Return what numpy's wheel for Pyodide says about itself; add its licence files."""
    with zipfile.ZipFile(runtime.numpy_wheel()) as wheel:
        for member in wheel.namelist():
            whole = ".dist-info/" in member or not runtime.NUMPY_DROPPED.search(member)
            if whole and re.search(r"/LICENSE(\.\w+)?$", member):
                texts.append((member, wheel.read(member).decode()))
        (path,) = (n for n in wheel.namelist() if n.endswith(".dist-info/METADATA"))
        about = email.message_from_string(wheel.read(path).decode())
    return {
        "version": about["Version"],
        "home": _home(about["Home-page"], about.get_all("Project-URL") or []),
    }


def _home(page: str | None, links: list[str]) -> str:
    """Return a project's public address, its source's where there is a choice."""
    named = {label.lower(): link for label, link in (x.split(", ", 1) for x in links)}
    wanted = ("source", "code", "repository", "homepage")
    found = next((named[label] for label in wanted if label in named), page or "")
    return found.removesuffix(".git")


@functools.cache
def _built_with() -> dict[str, str]:
    lock = json.loads((PYODIDE / "pyodide-lock.json").read_text(encoding="utf-8"))["info"]
    return {
        "CPython": lock["python"],
        "Emscripten": lock["platform"].removeprefix("emscripten_").replace("_", "."),
    }


def _font(family: str) -> Component:
    """Return a font, named and claimed as its own name table says."""
    from fontTools.ttLib import TTFont

    folder = ROOT / "docs" / "assets" / "fonts"
    names = TTFont(folder / f"{family}.woff2")["name"]
    claim = str(names.getDebugName(0) or "")
    if "OFL" not in str(names.getDebugName(14)):
        raise Failure(f"{family}: the font does not name the SIL Open Font License.")
    return Component(
        name=family.replace("-", " ").title(),
        version=str(names.getDebugName(5)).removeprefix("Version ").partition(";")[0],
        licence="OFL-1.1",
        what="The type of pages.",
        copyright=(claim,),
        texts=(
            ("OFL-1.1", (folder / f"{family}-LICENSE.txt").read_text(encoding="utf-8").strip()),
        ),
    )


def _inside(site: Path, found: Survey) -> None:
    """Add what is compiled into Pyodide and numpy, each shown by a mark in the file itself."""
    table = _table()
    for whole in [c for c in found.components if c.name in table["checked"]]:
        if whole.version != table["checked"][whole.name]:
            found.problems.append(
                f"{whole.name} {whole.version}: scripts/notices.toml lists what is inside "
                f"{table['checked'][whole.name]}; look again and renew it."
            )
        for name, entry in table["component"].items():
            if entry.get("within") != whole.name:
                continue
            marks = [
                mark
                for path in site.glob(f"rt/*/{entry['file']}")
                if (mark := re.search(entry["mark"].encode(), path.read_bytes()))
            ]
            if not marks:
                found.problems.append(f"{name}: no mark of it in {entry['file']}")
                continue
            part = component(name)
            version = marks[0][1].decode() if marks[0].groups() else part.version
            found.components.append(Component(**{**vars(part), "version": version}))


def _parted(address: str) -> str:
    return re.sub(r"(?<=[^/:]/)(?=[^/])", "<wbr>", address)


def _listed(components: list[Component]) -> str:
    rows = []
    for c in _in_order(components):
        within = f" (in {c.within})" if c.within else ""
        # an address breaks after its strokes, not inside its words
        home = f"<br><small>{_parted(escape(c.home))}</small>" if c.home else ""
        rows.append(
            f"<tr><td>{escape(f'{c.name} {c.version}'.strip())}{within}{home}</td>"
            f"<td>{escape(c.what)}</td>"
            f'<td><a href="#{_anchor(c.texts[0][1])}">{escape(c.licence)}</a></td></tr>'
        )
    head = "<tr><th>Work</th><th>What it does here</th><th>Licence</th></tr>"
    return (
        f"<table><thead>{head}</thead><tbody>\n" + "\n".join(rows) + "\n</tbody></table>\n"
        f'<p>The same list <a href="../../{LIST}" download>for other programs</a> '
        "follows CycloneDX 1.6.</p>"
    )


def _in_order(components: list[Component]) -> list[Component]:
    """Return each whole followed by what is inside it, our own first."""
    return sorted(
        components,
        key=lambda c: (
            c.name != "Finstock",
            (c.within or c.name).lower(),
            bool(c.within),
            c.name.lower(),
        ),
    )


def _anchor(text: str) -> str:
    return f"text-{sha256(text.encode())[:8]}"


def _texts(components: list[Component]) -> str:
    """Return each text once, under the names and copyright lines of all that stand under it."""
    under: dict[str, list[Component]] = {}
    titles: dict[str, str] = {}
    for c in _in_order(components):
        for title, text in dict.fromkeys(c.texts):
            under.setdefault(text, []).append(c)
            own = re.match(r"(.*/)?(LICEN[CS]E|COPYING)(\.\w+)?$", title) is not None
            titles.setdefault(text, c.licence if own and "external" not in title else title)
    blocks = []
    for text, owners in under.items():
        names = ", ".join(c.name for c in owners)
        lines = "".join(
            f"<li>{escape(c.name)}: {escape('; '.join(c.copyright))}</li>"
            for c in owners
            if c.copyright
        )
        blocks.append(
            f"<details><summary>{escape(titles[text])}: {escape(names)}</summary>"
            + (f"<ul>{lines}</ul>" if lines else "")
            + f'<pre class="fs-licence" id="{_anchor(text)}">{escape(text)}</pre></details>'
        )
    return "\n".join(blocks)


def _sources(components: list[Component], archives: dict[str, str]) -> str:
    """Return where the source of each work lies whose licence asks for that."""
    said = []
    for c in components:
        label = escape(f"{c.name} {c.version}")
        if c.name in archives:
            said.append(
                f"<p><strong>{label}</strong> ({escape(c.licence)}) is used by this site, which "
                "offers it in compiled form in <code>library.zip</code>. Its complete source, as "
                f'used here, lies beside this page: <a href="../../{archives[c.name]}" download>'
                f"{escape(Path(archives[c.name]).name)}</a>, with the scripts that compile and "
                "pack it. You may change it and put your own version in its place; the file "
                "<code>HOW.txt</code> in the archive says how.</p>"
            )
        elif c.licence.startswith("MPL"):
            said.append(
                f"<p><strong>{label}</strong> ({escape(c.licence)}) is offered in compiled form. "
                f"Its source is public, free of charge, at {escape(c.home)}, under the tag "
                f"{escape(c.version)}. Changed here: of its parts in Python, those that no "
                "calculator needs are left out and the rest is compiled; its list of packages is "
                "emptied.</p>"
            )
    return "\n".join(said) or "<p>Nothing in this copy asks for its source to be offered.</p>"


def _source(site: Path, c: Component) -> str:
    """Write a library's source and the scripts that pack it into the site; return its address."""
    installed = importlib.metadata.distribution(c.name)
    name = f"assets/data/{c.name}-{c.version}-source.zip"
    scripts = ("library.py", "library.mjs", "runtime.py", "bytecode.mjs", "stdlib-dropped.txt")
    tops = {top for top, package in library.PACKAGES.items() if package == c.name}
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as archive:
        files = {
            str(file): Path(str(file.locate())).read_bytes()
            for file in installed.files or ()
            if (file.parts[0] in tops and file.suffix != ".pyc")
            or (file.parts[0].endswith(".dist-info") and file.name != "RECORD")
        }
        files |= {f"scripts/{s}": (ROOT / "scripts" / s).read_bytes() for s in scripts}
        how = (TEXTS / "HOW.txt").read_text(encoding="utf-8")
        files["HOW.txt"] = how.format(name=c.name, version=c.version).encode()
        for path in sorted(files):
            # the same bytes at each build
            archive.writestr(
                zipfile.ZipInfo(path, (1980, 1, 1, 0, 0, 0)),
                files[path],
                compress_type=zipfile.ZIP_DEFLATED,
            )
    (site / name).parent.mkdir(parents=True, exist_ok=True)
    (site / name).write_bytes(content.getvalue())
    return name


def bill(site: Path, found: Survey) -> str:
    """Return the list of components for other programs (CycloneDX 1.6, JSON)."""
    refs = {c.name: f"{c.name} {c.version}".strip() for c in found.components}

    def described(c: Component) -> dict[str, Any]:
        at = f"@{c.version}" if c.version else ""
        said: dict[str, Any] = {
            "type": "application" if c.name == "Finstock" else "library",
            "bom-ref": refs[c.name],
            "name": c.name,
            "description": c.what,
            "licenses": [{"expression": c.licence}],
        }
        if c.version:
            said["version"] = c.version
        if c.copyright:
            said["copyright"] = "; ".join(c.copyright)
        if c.kind != "generic" or c.within:
            package = re.sub(r"[^a-z0-9.-]+", "-", c.name.lower()).strip("-")
            said["purl"] = f"pkg:{c.kind}/{package}{at}"
        if c.home:
            said["externalReferences"] = [{"type": "website", "url": c.home}]
        parts = [described(part) for part in found.components if part.within == c.name]
        files = [
            {
                "type": "file",
                "name": name,
                "hashes": [{"alg": "SHA-256", "content": sha256((site / name).read_bytes())}],
            }
            for name, owners in found.files.items()
            if name.startswith("rt/") and name != "rt/runtime.json" and c.name in owners
        ]
        if parts or files:
            said["components"] = parts + files
        return said

    whole = next(c for c in found.components if c.name == "Finstock")
    others = [described(c) for c in found.components if not c.within and c is not whole]
    body = {
        "metadata": {"component": {**described(whole), "components": []}},
        "components": others,
    }
    mark = uuid.uuid5(uuid.NAMESPACE_URL, json.dumps(body, sort_keys=True))
    head = {
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "serialNumber": f"urn:uuid:{mark}",
        "version": 1,
    }
    return json.dumps(head | body, indent=1, ensure_ascii=False) + "\n"


def main() -> int:
    """Print the components of a site and what is wrong; return 1 if anything is."""
    if len(sys.argv) != 2:
        print("python -m scripts.notices SITE", file=sys.stderr)
        return 2
    found = survey(Path(sys.argv[1]))
    for c in _in_order(found.components):
        print(f"{'  ' if c.within else ''}{c.name} {c.version}: {c.licence}")
    print("\n".join(found.problems), file=sys.stderr)
    return 1 if found.problems else 0


if __name__ == "__main__":
    sys.exit(main())
