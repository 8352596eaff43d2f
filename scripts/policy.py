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
from html import unescape
from pathlib import Path

# What the calculators may use is listed by name; a tap on a sheet is heard with the microphone.
PERMISSIONS = (
    "microphone=(self), camera=(), geolocation=(), payment=(), usb=(), serial=(), "
    "midi=(), display-capture=(), accelerometer=(), gyroscope=(), magnetometer=()"
)

_SCRIPT = re.compile(r"<script(?P<attributes>[^>]*)>(?P<body>.*?)</script>", re.DOTALL | re.I)
_STYLE = re.compile(r"<style[^>]*>(?P<body>.*?)</style>", re.DOTALL | re.I)
_STYLED = re.compile(r"""<[a-z][^<>]*?\sstyle=("[^"]*"|'[^']*')""", re.I)
_HANDLER = re.compile(r"<[a-z][^<>]*?\s(on[a-z]+)\s*=", re.I)
_META = re.compile(r'<meta http-equiv="Content-Security-Policy"[^>]*>\n?', re.I)
_CHARSET = re.compile(r'<meta charset="?utf-8"?>\n?', re.I)


def _hash(text: str) -> str:
    digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
    return f"'sha256-{digest}'"


def hashes(page: str) -> tuple[set[str], set[str], set[str]]:
    """Return the hashes of a page's inline scripts, style elements and style attributes.

    Data blocks, such as the theme's JSON settings, are no scripts and need none.
    """
    scripts = {
        _hash(found["body"])
        for found in _SCRIPT.finditer(page)
        if not re.search(r"\ssrc\s*=", found["attributes"], re.I)
        and not re.search(r"""\stype\s*=\s*["']?[a-z]+/[a-z.+]*json""", found["attributes"], re.I)
    }
    bare = _SCRIPT.sub("", page)
    styles = {_hash(found["body"]) for found in _STYLE.finditer(bare)}
    attributes = {_hash(unescape(found[1][1:-1])) for found in _STYLED.finditer(bare)}
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

    An inline event handler cannot be let through by a hash and raises, naming the page.
    """
    found: tuple[set[str], set[str], set[str]] = (set(), set(), set())
    for path in sorted(site.rglob("*.html")):
        text = path.read_text(encoding="utf-8")
        handler = _HANDLER.search(_SCRIPT.sub("", text))
        if handler is not None:
            raise ValueError(
                f"{path.relative_to(site)}: the inline handler {handler[1]} would be blocked"
            )
        for kind, more in zip(found, hashes(text), strict=True):
            kind |= more
    scripts, styles, attributes = (frozenset(kind) for kind in found)
    return policy(scripts, styles, attributes)


def add_policy(site: Path) -> str:
    """Write the policy into every page of a built site; return it as a header carries it.

    Calling it again changes nothing.
    """
    header = header_of(site)
    # A page cannot forbid its own framing; a browser that finds that here only complains.
    inside = header.partition("; frame-ancestors")[0]
    tag = f'<meta http-equiv="Content-Security-Policy" content="{inside}">\n'
    for path in sorted(site.rglob("*.html")):
        text = path.read_text(encoding="utf-8")
        bare = _META.sub("", text)
        start = _CHARSET.search(bare)
        if start is None:
            raise ValueError(f"{path.relative_to(site)}: no <meta charset> to put the policy after")
        changed = f"{bare[: start.end()]}{tag}{bare[start.end() :]}"
        if changed != text:
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
