"""Make the site ready for a static host: ``./scripts/publish https://example.org/fins/``.

Writes a folder with the site built for that address, its texts compressed in two ways, the headers
to send as plain text, and a configuration for nginx. docs/reference/publishing.md says what to do
with them.
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
from scripts.say import Failure, bytes_text, exit_status, progress, step

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
"""Kinds of file that compression makes smaller; the runtime's zip archives are not compressed."""
SMALLEST = 1024
"""Bytes below which a compressed copy saves nothing: the file fits into one packet anyway."""

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

    Raises
    ------
    Failure
        Where readers could not open the address, or where a configuration could not hold it.

    Examples
    --------
    >>> prefix_of("https://example.org/fins/"), prefix_of("https://example.org")
    ('/fins/', '/')
    """
    found = re.fullmatch(
        r"https?://(?:[a-z0-9](?:[a-z0-9.-]*[a-z0-9])?|\[[0-9a-f:.]+\])(?::[0-9]{1,5})?(/.*)?",
        address,
        re.IGNORECASE,
    )
    if not found:
        raise Failure(f"{address!r} is not an address such as https://example.org/fins/.")
    path = found[1] or "/"
    if not re.fullmatch(r"[\w./~-]*", path):
        raise Failure(
            f"The path of {address!r} may hold only letters, digits, dots, dashes, ~ and /."
        )
    return f"/{path.strip('/')}/".replace("//", "/")


def quoted(root: str) -> str:
    """Return a folder of the server as nginx reads it: in double quotes.

    Raises
    ------
    Failure
        Where the folder is not absolute, or holds what nginx's quotes cannot: `$` always begins a
        variable there.

    Examples
    --------
    >>> quoted("/srv/my fins/")
    '"/srv/my fins/"'
    """
    if not root.startswith("/") or "$" in root or not root.isprintable():
        raise Failure(
            f"--root {root!r} must be a folder such as /var/www/finstock: it begins with a slash "
            "and holds neither $ nor control characters."
        )
    escaped = root.rstrip("/").replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}/"'


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
    """Write gzip and brotli copies beside each file they make smaller; return bytes by kind."""
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
        "ROOT": quoted(root),
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


def free(folder: Path) -> None:
    """Raise if the folder holds anything but an earlier result."""
    if folder.exists() and not folder.is_dir():
        raise Failure(f"{folder} is not a folder: give an empty one with --to.")
    if folder.exists() and any(folder.iterdir()) and not (folder / "headers.txt").exists():
        raise Failure(f"{folder} holds something else: give an empty folder with --to.")


def prepare(
    built: Path, folder: Path, address: str, *, root: str, quality: int = 11
) -> dict[str, int]:
    """Fill a folder from a built site: ``site/``, ``headers.txt``, ``nginx.conf``.

    `root` is where ``site/`` will lie on the server; `quality` is brotli's, 11 the slowest and
    smallest. Returns the bytes of what was compressed.
    """
    free(folder)
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
        "address",
        nargs="?",
        default=os.environ.get("FINSTOCK_SITE_URL", ""),
        metavar="ADDRESS",
        help="where readers will find the site (default: $FINSTOCK_SITE_URL)",
    )
    parser.add_argument("--to", type=Path, default=ROOT / "dist", help="folder (default dist/)")
    parser.add_argument(
        "--root", default="/var/www/finstock", help="where site/ will lie on the server, for nginx"
    )
    options = parser.parse_args()

    def checked_address() -> str:
        if not options.address:
            raise Failure("Give the address of the site: ./scripts/publish https://example.org/")
        address = str(options.address).rstrip("/") + "/"
        prefix_of(address)
        quoted(options.root)
        free(options.to)
        return address

    def work() -> None:
        address = checked_address()
        built = build.site(ROOT / "build" / "publish-site", address)
        step("Compressing (two or three minutes the first time)")
        sizes = prepare(built, options.to, address, root=options.root)
        step(
            f"Ready: {options.to} (texts {bytes_text(sizes['plain'])}, gzip "
            f"{bytes_text(sizes['gzip'])}, brotli {bytes_text(sizes['brotli'])})"
        )

    def work_in_environment() -> None:
        checked_address()
        python = environment.ensure()
        # Brotli is one of the pinned packages.
        command = [str(python), "-m", "scripts.publish", *sys.argv[1:]]
        status = subprocess.run(command, cwd=ROOT, check=False).returncode
        if status:
            sys.exit(status)

    return exit_status(work if Path(sys.prefix) == environment.VENV else work_in_environment)


if __name__ == "__main__":
    sys.exit(main())
