"""Where each calculator stands in the built handbook, for links in tables."""

from __future__ import annotations

from collections.abc import Mapping

PAGES: Mapping[str, str] = {
    "fin-check": "check/fin-check/",
    "material-finder": "choose/material-finder/",
    "grain-angle": "understand/grain-angle/",
    "ply-layup": "understand/ply-layup/",
    "faced-core": "understand/faced-core/",
    "sheet-test": "make/test-your-sheet/",
    "moisture": "understand/moisture/",
    "speed": "fly/speed/",
    "weight-effect": "fly/weight-effect/",
    "root-joint": "make/root-joint/",
    "break-a-joint": "make/break-a-joint/",
    "landing": "make/landing/",
    "cutting-plan": "make/cutting-plan/",
    "finish": "make/finish/",
    "ring": "make/rings/",
    "field-card": "fly/field-card/",
    "substitute": "fly/substitution/",
    "repair": "fly/repair/",
    "rocket": "rocket/whole/",
    "compare": "rocket/compare/",
}
"""Page of each calculator, from the root of the site."""


def link(site: str, slug: str, query: str) -> str:
    """Return the address that opens a calculator filled in.

    >>> link("https://example.org/fins", "speed", "mass=3+oz")
    'https://example.org/fins/fly/speed/?mass=3+oz'
    """
    page = f"{site.rstrip('/')}/{PAGES[slug]}"
    return f"{page}?{query}" if query else page
