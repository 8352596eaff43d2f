"""Make the site ready for a static host: ``./scripts/publish --address https://example.org/fins/``.

Writes a folder with the site built for that address, every text of it compressed beforehand in two
ways, the headers it wants as plain text, and a configuration for nginx. See docs/reference/
publishing.md for what to do with them.
"""

from __future__ import annotations

import argparse
import gzip
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from urllib.parse import urlsplit

from scripts import build, environment, policy
from scripts.runtime import ROOT, cache_folder, sha256
from scripts.say import Failure, bytes_text, progress, step

TYPES = {
    "html": "text/html",
    "css": "text/css",
    "js": "text/javascript",
    "mjs": "text/javascript",
    "json": "application/json",
    "wasm": "application/wasm",
    "webmanifest": "application/manifest+json",
    "xml": "application/xml",
    "svg": "image/svg+xml",
    "png": "image/png",
    "webp": "image/webp",
    "jpg": "image/jpeg",
    "ico": "image/x-icon",
    "woff2": "font/woff2",
    "txt": "text/plain",
    "csv": "text/csv",
    "toml": "application/toml",
    "pdf": "application/pdf",
    "zip": "application/zip",
    "gz": "application/gzip",
    "br": "application/octet-stream",
    "map": "application/json",
}
"""Media types by the end of a file's name. A browser runs wasm and modules only under theirs."""
PACKED = frozenset(TYPES) - {"png", "webp", "jpg", "ico", "woff2", "pdf", "gz", "br"}
"""What gains from compression; the runtime's zip archives are stored without any of their own."""
SMALLEST = 1024
"""Bytes below which a compressed twin saves nothing: it would travel in one packet anyway."""

FOREVER = "public, max-age=31536000, immutable"
DAY = "public, max-age=86400"
AGAIN = "no-cache"
_LASTS = (
    (re.compile(r"rt/[0-9a-f]{16}/"), FOREVER),
    (re.compile(r"assets/.*\.[0-9a-f]{8}\.min\.(css|js)$"), FOREVER),
    (re.compile(r"assets/app/theme-[0-9a-f]{10}\.js$"), FOREVER),
    (re.compile(r"assets/(fonts|img)/"), DAY),
)


def lasts(name: str) -> str:
    """Return how long a browser may keep a file without asking again, by its name in the site."""
    return next((life for pattern, life in _LASTS if pattern.match(name)), AGAIN)


def prefix_of(address: str) -> str:
    """Return the path of the site's root on its host, with a slash at both ends.

    >>> prefix_of("https://example.org/fins/"), prefix_of("https://example.org")
    ('/fins/', '/')
    """
    parts = urlsplit(address)
    if parts.scheme not in ("http", "https") or not parts.hostname or parts.query:
        raise Failure(f"{address!r} is not an address such as https://example.org/fins/.")
    if not re.fullmatch(r"[\w./~-]*", parts.path):
        raise Failure(f"{address!r}: letters, digits, dots and dashes only in the path, please.")
    return f"/{parts.path.strip('/')}/".replace("//", "/")


def squeeze(content: bytes, quality: int) -> bytes:
    """Return the content compressed by brotli (quality 11 is its best), from the cache if there."""
    import brotli

    kept = cache_folder() / "br" / f"{sha256(content)}.{quality}"
    if not kept.exists():
        kept.parent.mkdir(exist_ok=True)
        scratch = kept.with_name(f"{kept.name}.{os.getpid()}")
        scratch.write_bytes(brotli.compress(content, quality=quality))
        scratch.replace(kept)
    return kept.read_bytes()


def pack(site: Path, *, quality: int = 11) -> dict[str, int]:
    """Write a gzip and a brotli twin beside every file that gains; return bytes by kind."""
    names = [
        path
        for path in sorted(site.rglob("*"))
        if path.is_file() and path.suffix[1:] in PACKED and path.stat().st_size >= SMALLEST
    ]
    sizes = {"plain": 0, "gzip": 0, "brotli": 0}
    for number, path in enumerate(names, 1):
        progress("Compressing", number, len(names))
        content = path.read_bytes()
        twins = {
            "gz": gzip.compress(content, 9, mtime=0),
            "br": squeeze(content, quality),
        }
        for end, twin in twins.items():
            target = path.with_name(f"{path.name}.{end}")
            if len(twin) < 0.95 * len(content):
                target.write_bytes(twin)
            else:
                target.unlink(missing_ok=True)
        sizes["plain"] += len(content)
        sizes["gzip"] += min(len(twins["gz"]), len(content))
        sizes["brotli"] += min(len(twins["br"]), len(content))
    return sizes


def headers_text(site: Path, address: str, csp: str) -> str:
    """Return the headers by path as plain text: a path, then its headers indented.

    No two paths give the same header, because hosts differ in which of them would win.
    """
    prefix = prefix_of(address)
    lines = [
        f"# Headers for {address}: a path (* at its end takes everything below), then its headers.",
        f"# Whatever has no Cache-Control here: {AGAIN}.",
        f"{prefix}*",
        *(f"  {name}: {value}" for name, value in policy.headers(csp).items()),
    ]
    whole: set[str] = set()
    for path in sorted(site.rglob("*")):
        name = path.relative_to(site).as_posix()
        if path.is_dir() or path.suffix in (".gz", ".br"):
            continue
        folder = re.match(r"(rt/[0-9a-f]{16}|assets/fonts|assets/img)/", name)
        if folder and folder[0] not in whole:
            whole.add(folder[0])
            lines += [f"{prefix}{folder[0]}*", f"  Cache-Control: {lasts(name)}"]
        elif not folder and lasts(name) != AGAIN:
            lines += [f"{prefix}{name}", f"  Cache-Control: {lasts(name)}"]
        if path.suffix in (".mjs", ".wasm", ".webmanifest"):
            lines += [f"{prefix}{name}", f"  Content-Type: {TYPES[path.suffix[1:]]}"]
    return "\n".join(lines) + "\n"


def nginx_text(
    root: str, address: str, csp: str, *, listen: str = "80", brotli: bool = True
) -> str:
    """Return nginx's configuration for a site whose files lie in `root` on the server."""
    template = (ROOT / "scripts" / "nginx.conf.in").read_text(encoding="utf-8")
    values = {
        "ADDRESS": address,
        "PREFIX": prefix_of(address),
        "ROOT": root.rstrip("/"),
        "LISTEN": listen,
        "NAME": urlsplit(address).hostname or "_",
        "FOREVER": FOREVER,
        "DAY": DAY,
        "TYPES": "\n".join(f"        {kind} {end};" for end, kind in TYPES.items()),
        "HEADERS": "\n".join(
            f'    add_header {name} "{value}" always;'
            for name, value in policy.headers(csp).items()
        ),
        "BROTLI": "" if brotli else "# ",
    }
    return re.sub(r"@([A-Z]+)@", lambda found: values[found[1]], template)


def prepare(
    built: Path, folder: Path, address: str, *, root: str, quality: int = 11
) -> dict[str, int]:
    """Fill a folder from a built site: ``site/``, ``headers.txt``, ``nginx.conf``.

    `root` is where ``site/`` will lie on the server; `quality` is brotli's, 11 the slowest and
    smallest. Returns the bytes of what was compressed.
    """
    if folder.exists() and any(folder.iterdir()) and not (folder / "headers.txt").exists():
        raise Failure(f"{folder} holds something else: give an empty folder with --to.")
    strange = {p.name for p in built.rglob("*") if p.is_file() and p.suffix[1:] not in TYPES}
    if strange:
        raise Failure(f"No media type is known for {', '.join(sorted(strange))}.")
    for page in built.rglob("*.html"):
        if "Content-Security-Policy" not in page.read_text(encoding="utf-8"):
            raise Failure(f"{page.relative_to(built)} was built without its policy.")
    site = folder / "site"
    shutil.rmtree(site, ignore_errors=True)
    shutil.copytree(built, site)
    sizes = pack(site, quality=quality)
    csp = policy.header_of(site)
    (folder / "headers.txt").write_text(headers_text(site, address, csp), encoding="utf-8")
    (folder / "nginx.conf").write_text(nginx_text(root, address, csp), encoding="utf-8")
    return sizes


def main() -> int:
    """Run the steps; return the exit status."""
    parser = argparse.ArgumentParser(prog="scripts/publish", description=__doc__)
    parser.add_argument(
        "--address",
        default=os.environ.get("FINSTOCK_SITE_URL", ""),
        help="where readers will find the site (default: $FINSTOCK_SITE_URL)",
    )
    parser.add_argument("--to", type=Path, default=ROOT / "dist", help="folder (default dist/)")
    parser.add_argument(
        "--root", default="/var/www/finstock", help="where site/ will lie on the server, for nginx"
    )
    options = parser.parse_args()
    try:
        if not options.address:
            raise Failure("Say where readers will find the site: --address https://example.org/.")
        address = options.address.rstrip("/") + "/"
        prefix_of(address)
        python = environment.ensure()
        if Path(sys.prefix) != environment.VENV:
            # Brotli is one of the pinned packages.
            command = [str(python), "-m", "scripts.publish", *sys.argv[1:]]
            return subprocess.run(command, cwd=ROOT, check=False).returncode
        built = build.site(ROOT / "build" / "publish-site", address)
        step("Compressing (two or three minutes the first time)")
        sizes = prepare(built, options.to, address, root=options.root)
    except Failure as failure:
        print(failure, file=sys.stderr)
        return 1
    step(
        f"Ready: {options.to} (texts {bytes_text(sizes['plain'])}, gzip "
        f"{bytes_text(sizes['gzip'])}, brotli {bytes_text(sizes['brotli'])})"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
