"""What a page of this site may do: the Content-Security-Policy and its companions.

Scripts, styles and WebAssembly of the site itself, and nothing else: no inline script, no eval, no
other origin. The policy stands in every page, so that it holds on any host, and is sent as a header
where the host can send headers (only there may it forbid framing, and only there does it bind
workers).
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterable
from pathlib import Path

from scripts.markup import Page, read
from scripts.say import Failure

# What the calculators may use is listed by name; a tap on a sheet is heard with the microphone.
PERMISSIONS = (
    "microphone=(self), camera=(), geolocation=(), payment=(), usb=(), serial=(), "
    "midi=(), display-capture=(), accelerometer=(), gyroscope=(), magnetometer=()"
)

# Data blocks, such as the theme's JSON settings, are no scripts.
_DATA = re.compile(r"[a-z]+/[a-z.+]*json", re.I)


def _hash(text: str) -> str:
    digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
    return f"'sha256-{digest}'"


def hashes(page: Page) -> tuple[set[str], set[str], set[str]]:
    """Return the hashes of a page's inline scripts, style elements and style attributes."""
    scripts = {
        _hash(page.content(item))
        for item in page.find("script")
        if "src" not in item.attributes and not _DATA.match(item.attributes.get("type", ""))
    }
    styles = {_hash(page.content(item)) for item in page.find("style")}
    attributes = {
        _hash(item.attributes["style"]) for item in page.elements if "style" in item.attributes
    }
    return scripts, styles, attributes


def policy(
    scripts: frozenset[str] = frozenset(),
    styles: frozenset[str] = frozenset(),
    attributes: frozenset[str] = frozenset(),
) -> str:
    """Return the policy as a header carries it, letting through the inline pieces hashed here."""
    style = ["'self'", *sorted(styles)]
    if attributes:
        # Only the listed attributes pass: the keyword makes hashes count for them too.
        style += ["'unsafe-hashes'", *sorted(attributes)]
    directives = {
        "default-src": "'none'",
        "script-src": " ".join(["'self'", "'wasm-unsafe-eval'", *sorted(scripts)]),
        "style-src": " ".join(style),
        "img-src": "'self' data:",
        "font-src": "'self'",
        "connect-src": "'self'",
        "worker-src": "'self'",
        "manifest-src": "'self'",
        "base-uri": "'none'",
        "form-action": "'none'",
        "frame-ancestors": "'none'",
    }
    return "; ".join(f"{name} {value}" for name, value in directives.items())


def header_of(site: Path) -> str:
    """Return the policy that fits every page of a built site, as a header carries it.

    Raises
    ------
    Failure
        Naming a page with an inline event handler, which a hash cannot let through.
    """
    return _header(read(path, site) for path in sorted(site.rglob("*.html")))


def _header(pages: Iterable[Page]) -> str:
    found: tuple[set[str], set[str], set[str]] = (set(), set(), set())
    for page in pages:
        for item in page.elements:
            handler = next((name for name in item.attributes if name.startswith("on")), None)
            if handler is not None:
                raise Failure(f"{page.name}: the inline handler {handler} would be blocked")
        for kind, more in zip(found, hashes(page), strict=True):
            kind |= more
    scripts, styles, attributes = (frozenset(kind) for kind in found)
    return policy(scripts, styles, attributes)


def add_policy(site: Path) -> str:
    """Write the policy into every page of a built site; return it as a header carries it.

    Calling it again changes nothing.

    Raises
    ------
    Failure
        Where a page holds what no policy can let through, or does not name its encoding.
    """
    pages = {path: read(path, site) for path in sorted(site.rglob("*.html"))}
    header = _header(pages.values())
    # A page cannot forbid its own framing; a browser that finds that here only complains.
    inside = header.partition("; frame-ancestors")[0]
    tag = f'<meta http-equiv="Content-Security-Policy" content="{inside}">\n'
    for path, page in pages.items():
        metas = page.find("meta")
        charsets = [item for item in metas if item.attributes.get("charset", "").lower() == "utf-8"]
        if not charsets:
            raise Failure(f"{page.name}: no <meta charset> to put the policy after")
        for item in metas:
            if item.attributes.get("http-equiv", "").lower() == "content-security-policy":
                page.replace(item.start, page.after_line(item.stop), "")
        page.insert(page.after_line(charsets[0].stop), tag)
        changed = page.text()
        if changed != page.source:
            path.write_text(changed, encoding="utf-8")
    return header


def headers(csp: str) -> dict[str, str]:
    """Return every security header that a page is served with."""
    return {
        "Content-Security-Policy": csp,
        "X-Content-Type-Options": "nosniff",
        "Referrer-Policy": "no-referrer",
        "Permissions-Policy": PERMISSIONS,
        "Cross-Origin-Opener-Policy": "same-origin",
    }
