"""MkDocs hook: adds the calculators' runtime to the built site and lists its files.

It works on files alone, so that another site generator needs `finish` called on its output and
nothing else.
"""

from __future__ import annotations

import gzip
import json
import logging
import re
import shutil
import sys
from pathlib import Path
from typing import Any

from mkdocs.plugins import event_priority

# MkDocs loads this file by its path, from wherever it was started.
sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from calc import prose_tables
from scripts import library, policy, polish, runtime

log = logging.getLogger("mkdocs.hooks.runtime")

MARKED = 'const EDITION = { build: "", site: [], runtime: [] }; // written by the build'
# The page's own way to the root of the site.
THEME = re.compile(r'<script src="([^"]*)assets/javascripts/bundle')
INLINE = re.compile(r"<script>(.*?)</script>", re.DOTALL)
# The theme's first script only defines what its next one, for the colours, and later ones use.
FIRST = "__md_scope="
# Chooses the tab that an address names: nothing that the first paint waits for.
LATE = "var target=document.getElementById(location.hash"
# Language packs of the search that an English site never asks for, and maps for debuggers.
NOT_KEPT = (
    "assets/javascripts/lunr/",
    "sw.js",
    "assets/app/sw.js",
    "assets/data/",
    "assets/img/screenshot-",
)


@event_priority(-100)
def on_post_build(config: Any, **_: Any) -> None:
    """After everything else has been written, add the runtime and the service worker."""
    parts = runtime.staged()
    if isinstance(parts, str):
        # Not a warning: strict builds stop at those, and this site is complete to read.
        log.info("BUILT WITHOUT CALCULATORS: %s", parts)
    finish(Path(config["site_dir"]), parts, library.staged())


def finish(
    site: Path, parts: tuple[runtime.Part, ...] | str, extra: runtime.Part | None = None
) -> None:
    """Complete a built site: runtime files, their manifest and the service worker.

    `extra` is fetched only when a reader asks for a file that needs it, or keeps the site.
    """
    for page in site.rglob("*.html"):
        _move_scripts_out(site, page)
    polish.polish(site)
    # before the offline list, whose hashes cover the pages
    policy.add_policy(site)
    data = site / "reference" / "materials-data"
    if data.is_dir():
        for name, text in prose_tables.data_files().items():
            (data / name).write_text(text, encoding="utf-8")
    folder = site / "rt"
    folder.mkdir(exist_ok=True)
    rows: list[dict[str, Any]] = []
    lazy: list[dict[str, Any]] = []
    manifest: dict[str, Any]
    if isinstance(parts, str):
        manifest = {"missing": parts}
    else:
        for part in (*parts, *((extra,) if extra else ())):
            shutil.copytree(
                part.folder,
                folder / part.digest,
                ignore=shutil.ignore_patterns("complete"),
                dirs_exist_ok=True,
            )
            (lazy if part is extra else rows).extend(part.entries("rt"))
        memory = runtime.memory_size(parts[2])
        manifest = {"files": rows, "lazy": lazy, "version": parts[1].digest, "memory": memory}
    # The service worker's own list holds everything else a reader can open.
    pages = _pages(site)
    # the library behind PDF and DXF stays out: a third more to download for what a bench does
    # before the field, not at it; drawings and everything else answer without it
    kept = [row for row in (*rows, *pages) if not row.get("spare")]
    total = sum(row["travels"] for row in kept)
    manifest |= {"offline": bool(rows), "total": total}
    text = json.dumps(manifest, indent=1) + "\n"
    (folder / "runtime.json").write_text(text, encoding="utf-8")
    pages.append(_row(site, folder / "runtime.json"))
    _write_service_worker(site, rows, pages)


def _move_scripts_out(site: Path, page: Path) -> None:
    """Put the theme's inline scripts into files, so that the strictest policy can be served.

    As few as can be, because each holds up the first paint. They differ only by how deep the page
    lies, so the files are few and named by content.
    """
    text = page.read_text(encoding="utf-8")
    beside = THEME.search(text)
    if beside is None:
        return
    base = beside[1]

    carried = ""

    def move(found: re.Match[str]) -> str:
        nonlocal carried
        script = found[1].strip()
        if script.startswith(FIRST):
            carried = script + "\n"
            return ""
        late = " defer" if script.startswith(LATE) else ""
        script, carried = carried + script, ""
        name = f"assets/app/theme-{runtime.sha256(script.encode())[:10]}.js"
        (site / "assets" / "app").mkdir(parents=True, exist_ok=True)
        (site / name).write_text(script + "\n", encoding="utf-8")
        return f'<script{late} src="{base}{name}"></script>'

    moved = INLINE.sub(move, text)
    if carried:
        raise RuntimeError(f"{page.name}: the theme's first script has none after it")
    if moved != text:
        page.write_text(moved, encoding="utf-8")


def _pages(site: Path) -> list[dict[str, Any]]:
    rows = []
    for path in sorted(site.rglob("*")):
        name = path.relative_to(site).as_posix()
        if (
            path.is_dir()
            or name.startswith(("rt/", *NOT_KEPT))
            or name.endswith((".map", ".gz", ".br"))
        ):
            continue
        rows.append(_row(site, path))
    return rows


def _row(site: Path, path: Path) -> dict[str, Any]:
    content = path.read_bytes()
    name = path.relative_to(site).as_posix()
    if path.name == "index.html":
        # The address people open; the host answers it with this file.
        name = name[: -len("index.html")] or "./"
    return {
        "url": name,
        "bytes": len(content),
        "sha256": runtime.sha256(content),
        # what a host that compresses sends; such files come as they are here, without a twin
        "travels": min(len(content), len(gzip.compress(content, 6))),
        "gzip": None,
    }


def _write_service_worker(
    site: Path, rows: list[dict[str, Any]], pages: list[dict[str, Any]]
) -> None:
    source = runtime.ROOT / "docs" / "assets" / "app" / "sw.js"
    script = source.read_text(encoding="utf-8")
    if MARKED not in script:
        raise RuntimeError(f"{source.name} has lost the line that the build fills in: {MARKED}")
    listed = json.dumps({"site": pages, "runtime": rows}, separators=(",", ":"))
    build = runtime.sha256((script + listed).encode())[:10]
    edition = f'const EDITION = {{"build":"{build}",{listed[1:]};'
    (site / "sw.js").write_text(script.replace(MARKED, edition), encoding="utf-8")
