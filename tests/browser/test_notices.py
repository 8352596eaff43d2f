"""The built site carries its notices: nothing in it is nobody's, and every footer leads there."""

from __future__ import annotations

import re
from pathlib import Path
from urllib.parse import urljoin

from scripts import moved, notices


def test_nothing_in_the_built_site_is_without_a_notice(site: Path) -> None:
    """Every file and every member of every archive has an owner with a licence text on the page."""
    found = notices.survey(site)
    assert found.problems == []
    text = (site / notices.PAGE).read_text(encoding="utf-8")
    for component in found.components:
        for _, licence in component.texts:
            assert f'id="{notices._anchor(licence)}"' in text, component.name
    assert {"Pyodide", "CPython", "numpy", "fpdf2", "musl", "lunr"} <= {
        component.name for component in found.components
    }


def test_every_footer_leads_to_the_notices(site: Path) -> None:
    """Every page, the one for lost readers too, links to the licences from its footer.

    A page at an old address only leads on to such a page.
    """
    for path in site.rglob("*.html"):
        page = path.read_text(encoding="utf-8")
        if moved.MARK in page:
            continue
        footer = page.partition('class="md-copyright"')[2]
        link = re.search(r'<a href="([^"]*)">Licences</a>', footer)
        name = path.relative_to(site).as_posix()
        assert link is not None, name
        assert urljoin(f"http://a/{name}", link[1]) == "http://a/reference/licences/", name
