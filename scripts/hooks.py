"""MkDocs hook: adds the calculators' runtime to the built site and lists its files.

It works on files alone: another site generator needs `finish` called on its output and nothing
else. `polish` is for pages as the theme mkdocs-material writes them, and stops the build where one
is otherwise.
"""

from __future__ import annotations

import gzip
import json
import logging
import shutil
import sys
from pathlib import Path
from typing import Any

from mkdocs.exceptions import PluginError
from mkdocs.plugins import event_priority

# MkDocs loads this file by its path, from wherever it was started.
sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from scripts import book, library, moved, notices, policy, polish, runtime, share
from scripts.handbook import rockets, tables
from scripts.say import Failure

log = logging.getLogger("mkdocs.hooks.runtime")

MARKED = 'const EDITION = { build: "", site: [], runtime: [] }; // written by the build'
SCHEMA = "rocket.schema.json"
# Language packs of the search: an English site never asks for them, so they do not travel.
LANGUAGES = "assets/javascripts/lunr"
NOT_KEPT = (
    "sw.js",
    "assets/app/sw.js",
    "assets/app/storage.js",
    "assets/data/",
    "assets/img/screenshot-",
    f"{share.FOLDER}/",
    share.FEED,
)


@event_priority(-100)
def on_post_build(config: Any, **_: Any) -> None:
    """After everything else has been written, add the runtime and the service worker."""
    parts = runtime.staged()
    if isinstance(parts, str):
        # Not a warning: strict builds stop at those, and this site is complete to read.
        log.info("BUILT WITHOUT CALCULATORS: %s", parts)
    site = Path(config["site_dir"])
    try:
        book.fill(site)
        polish.polish(site)
        share.share(site)
        finish(site, parts, library.staged())
    except Failure as failure:
        # said as one message, without the way through the code
        raise PluginError(str(failure)) from failure


def finish(
    site: Path, parts: tuple[runtime.Part, ...] | str, extra: runtime.Part | None = None
) -> None:
    """Complete a built site: runtime files, their manifest and the service worker.

    Calling it again brings them up to date with a site that has changed or moved. `extra` is
    fetched only when a reader asks for a file that needs it, or keeps the site.
    """
    shutil.rmtree(site / LANGUAGES, ignore_errors=True)
    if (site / "materials").is_dir():
        moved.write(site)
    # before the offline list, whose hashes cover the pages
    policy.add_policy(site)
    data = site / "reference" / "materials-data"
    if data.is_dir():
        for name, text in tables.data_files().items():
            (data / name).write_text(text, encoding="utf-8")
    described = site / "reference" / "rocket-file"
    if described.is_dir():
        (described / SCHEMA).write_text(rockets.schema_text(), encoding="utf-8")
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
    # all that travels is there by now; the page it fills is one of those kept
    notices.add(site)
    # The service worker's own list holds everything else a reader can open.
    pages = _pages(site)
    kept = [row for row in (*rows, *lazy, *pages) if not row.get("spare")]
    total = sum(row["travels"] for row in kept)
    manifest |= {"offline": bool(rows), "total": total}
    text = json.dumps(manifest, indent=1) + "\n"
    (folder / "runtime.json").write_text(text, encoding="utf-8")
    pages.append(_row(site, folder / "runtime.json"))
    _write_service_worker(site, [*rows, *lazy], pages)


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
