"""Old addresses of material pages lead on to the new ones, on any static host."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from scripts import moved

PAGE = (
    '<html lang="en"><head><link rel="canonical" href="https://a.example/x/"></head>'
    '<body><h1 id="x">Plywood &amp; <em>more</em><a class="headerlink">#</a></h1>{}</body></html>'
)


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """Return a built site with a page and its places at every new address."""
    for new in moved.MOVED.values():
        address = new.partition("#")[0]
        places = [n.partition("#")[2] for n in moved.MOVED.values() if n.startswith(address)]
        (tmp_path / address).mkdir(parents=True, exist_ok=True)
        text = PAGE.format("".join(f'<h2 id="{place}">x</h2>' for place in places))
        (tmp_path / address / "index.html").write_text(text, encoding="utf-8")
    return tmp_path


def test_old_addresses_lead_to_a_file_and_a_place(site: Path) -> None:
    """Each old address holds a page without a script that goes on at once, and says where."""
    moved.write(site)
    moved.write(site)  # again, as after a rebuild
    assert "materials/birch-plywood/" in moved.MOVED
    for old in moved.MOVED:
        text = (site / old / "index.html").read_text(encoding="utf-8")
        found = re.search(r'http-equiv="refresh" content="0; url=([^"#]+)#([^"]+)"', text)
        assert found
        target = (site / old / found[1] / "index.html").resolve()
        assert f'id="{found[2]}"' in target.read_text(encoding="utf-8")
        assert f'<a href="{found[1]}#{found[2]}">Plywood &amp; more</a>' in text
        assert '<link rel="canonical" href="https://a.example/x/">' in text
        assert "<script" not in text


def test_old_address_never_hides_a_page(site: Path) -> None:
    """A page that still stands at an old address stops the build instead of being overwritten."""
    old = site / "materials" / "card"
    old.mkdir()
    (old / "index.html").write_text(PAGE.format(""), encoding="utf-8")
    with pytest.raises(RuntimeError, match="materials/card/"):
        moved.write(site)


def test_place_that_is_not_there_stops_the_build(site: Path) -> None:
    """An old address that would lead to the top of a page, or to nothing, is reported."""
    (site / "materials" / "plywood" / "index.html").write_text(PAGE.format(""), encoding="utf-8")
    with pytest.raises(RuntimeError, match="no such place"):
        moved.write(site)
