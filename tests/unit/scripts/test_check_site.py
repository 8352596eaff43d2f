"""The check of the built site finds each kind of fault, and nothing on a clean page."""

from pathlib import Path

import pytest

from scripts.check_site import Site

HEAD = '<!doctype html><html lang="en"><head><title>A page</title></head><body>'
CLEAN = (
    HEAD + '<h1 id="top">A</h1><a href="#top">up</a><a href="other/">on</a>'
    '<a href="mailto:someone">write</a><h2>B</h2><h3>C</h3><h2>D</h2><img src="a.svg" alt="">'
    '<svg role="img"><title>A fin</title><path/></svg><svg aria-hidden="true"/>'
    '<span class="md-icon"><svg/></span></body></html>'
)
OTHER = HEAD + '<h1>Other</h1><a href="../#top">back</a></body></html>'


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """Return a small clean site."""
    (tmp_path / "other").mkdir()
    (tmp_path / "index.html").write_text(CLEAN)
    (tmp_path / "other" / "index.html").write_text(OTHER)
    (tmp_path / "a.svg").write_text("<svg/>")
    (tmp_path / "a.css").write_text("a { background: url(a.svg) } b { background: url('data:,') }")
    (tmp_path / "a.js").write_text('const a = "http://www.w3.org/2000/svg"; // https://a.example')
    return tmp_path


@pytest.mark.parametrize("address", ["http://127.0.0.1:1/", "http://127.0.0.1:1/fins/"])
def test_clean_site(site: Path, address: str) -> None:
    """A site in order has nothing to report, at the root of a host or below it."""
    assert Site(site, address).problems() == []


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ('<a href="gone/">x</a>', "leads nowhere: gone/"),
        ('<a href="other/#gone">x</a>', "no such place on the page: other/#gone"),
        ('<a href="https://a.example/">x</a>', "another origin"),
        ('<script src="//a.example/a.js"></script>', "another origin"),
        ('<img srcset="a.svg 1x, gone.png 2x" alt="">', "leads nowhere: gone.png"),
        ("<h1>Again</h1>", "2 headings of the first level"),
        ("<h4>Deep</h4>", "level 4 after one of level 2"),
        ("<img src='a.svg'>", "no alt"),
        ("<svg><path/></svg>", "do not see"),
        ("<button onclick='a()'>x</button>", "inline event handler onclick"),
        ("<script>a()</script>", "an inline script"),
        ("<a href='javascript:a()'>x</a>", "javascript:"),
        ("<p id='top'></p>", "ids used twice: top"),
    ],
)
def test_faults_are_found(site: Path, body: str, said: str) -> None:
    """Each fault put into the clean page is the one that is reported."""
    (site / "index.html").write_text(CLEAN.replace("</body>", body + "</body>"))
    found = Site(site, "http://127.0.0.1:1/").problems()
    assert len(found) == 1
    assert said in found[0]


def test_scripts_in_data_are_no_scripts(site: Path) -> None:
    """JSON carried in a page is not run and not reported."""
    data = '<script type="application/json">{}</script>'
    (site / "index.html").write_text(CLEAN.replace("</body>", data + "</body>"))
    assert Site(site, "http://127.0.0.1:1/").problems() == []


def test_orphans_and_other_origins_in_files(site: Path) -> None:
    """A page that nothing leads to, a style and a script that name others are reported."""
    (site / "alone.html").write_text(OTHER.replace("../#top", "#"))
    (site / "b.css").write_text('@import "https://a.example/b.css";')
    (site / "b.js").write_text("fetch('https://a.example/b')")
    found = Site(site, "http://127.0.0.1:1/").problems()
    assert sorted(line.split(":")[0] for line in found) == ["alone.html", "b.css", "b.js"]


def test_moved_page_needs_no_way_to_it(site: Path) -> None:
    """A redirect needs no link to it; any other page that nothing links to is reported."""
    (site / "old").mkdir()
    lead = '<meta http-equiv="refresh" content="0; url=../other/">'
    text = OTHER.replace("</head>", lead + "</head>")
    (site / "old" / "index.html").write_text(text)
    assert Site(site, "http://127.0.0.1:1/").problems() == []
    (site / "old" / "index.html").write_text(OTHER)
    found = Site(site, "http://127.0.0.1:1/").problems()
    assert found == ["old/index.html: no way leads here from the first page"]
