"""The Markdown extension: how prose writes sizes and properties."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest
from markdown import markdown

from calc import calculators, materials
from calc.render import html
from calc.render.svg.canvas import LETTERING, PAINT
from calc.wording import TRADE, with_unit
from scripts.handbook import names, outlines, tables
from scripts.handbook.extension import DOCS, Handbook, PageError


def page(text: str) -> str:
    """Return a page's text as HTML."""
    return markdown(text, extensions=[Handbook(), "tables"])


def test_trade_size_is_followed_by_millimetres_once() -> None:
    """A page's sentences give millimetres where they first name a size, and only there."""
    found = page("Take 1/8 in balsa.\n\nThe 1/8 in sheet, or 1 1/2 in of it, or 3/32 in.")
    assert "Take 1/8 in (3.2 mm) balsa." in found
    assert "The 1/8 in sheet, or 1 1/2 in (38 mm) of it, or 3/32 in (2.4 mm)." in found


def test_sizes_elsewhere_are_left_alone() -> None:
    """Headings, tables, code, quotes and addresses stay as they are written."""
    text = (
        "# In 1/8 in\n\n> 1/8 in\n\n`1/8 in` and [here](x.md?a=1/8in)\n\n| a |\n|---|\n| 1/8 in |"
    )
    assert "mm" not in page(text)


def test_figures_and_tables_of_pages_use_the_same_rule() -> None:
    """Pictures in prose give sizes in inches with millimetres, and properties in SI units."""
    drawn = html.figure_html(names.drawn("fin-check"), TRADE, "x")
    assert "3 in (76 mm)" in drawn
    claims = html.figure_html(names.NAMES["balsa_claims"]("stiffness"), TRADE, "y")
    assert "GPa" in claims
    assert "kg/m³" in claims
    assert not re.search(r"ksi|Msi|lb/ft", claims)
    assert with_unit(100.0, "speed", TRADE) == "100 m/s"


def test_several_tables_on_one_line() -> None:
    """An expression alone on a line may give several tables, each shown by itself."""
    found = page('Before.\n\n{{ data_tables("plywood") }}\n\nAfter.')
    assert found.count("<table") == 2
    assert found.index("Before") < found.index("Birch plywood") < found.index("Light plywood")
    assert found.index("Light plywood") < found.index("After")


DRAWN = '![Three faces "A" & B. A is plain.](../assets/img/materials/balsa-faces.svg "Look here.")'


def test_drawing_alone_on_a_line_is_put_into_the_page() -> None:
    """A drawing takes the page's colours, so it is the page's own and says what it shows."""
    found = page(f"Words.\n\n{DRAWN}\n\nMore words.")
    assert "<img" not in found
    assert 'role="img" aria-labelledby="page-figure-1-title page-figure-1-desc"' in found
    assert '<title id="page-figure-1-title">Three faces &quot;A&quot; &amp; B</title>' in found
    assert '<desc id="page-figure-1-desc">A is plain.</desc>' in found
    assert "<figcaption>Look here.</figcaption>" in found
    assert found.count("<svg") == found.count("</svg>") == 1
    assert found.index("Words.") < found.index("<svg") < found.index("More words.")


def test_drawings_of_one_page_have_names_of_their_own() -> None:
    """Two drawings and a table on one page: what names one picture does not name another."""
    found = page(f'{DRAWN}\n\n{{{{ material_facts("balsa") }}}}\n\n{DRAWN}')
    named = re.findall(r'<(?:title|desc) id="([^"]+)"', found)
    assert len(named) == len(set(named)) == 4


@pytest.mark.parametrize("name", ["birch-plywood", "light-plywood"])
def test_table_of_rockets_is_named_after_its_material(name: str) -> None:
    """Two materials on one page: a reader who hears the tables' names can tell them apart."""
    assert materials.load(name).label in tables.material_suits(name).title


@pytest.mark.parametrize(
    "line",
    ["![](../assets/img/materials/balsa-faces.svg)", "![A face](../assets/img/materials/no.svg)"],
)
def test_drawing_without_words_or_file_is_refused(line: str) -> None:
    """A picture that is not there, or says nothing to those who do not see it, stops the build."""
    with pytest.raises(PageError):
        page(line)


def test_drawings_use_the_painted_classes_only() -> None:
    """Static drawings carry no colour and no style of their own; names inside are theirs alone."""
    ids: list[str] = []
    for path in sorted((DOCS / "assets" / "img").rglob("*/*.svg")):
        svg = path.read_text(encoding="utf-8")
        assert not re.search(r"<style|\sstyle=|<script|href=|#[0-9a-f]{3,6}\b", svg), path.name
        kinds = set(re.findall(r'class="d-([\w-]+)', svg))
        assert kinds <= PAINT.keys() | LETTERING.keys(), path.name
        ids += re.findall(r'id="([^"]+)"', svg)
    assert len(ids) == len(set(ids))


def test_outlines_side_by_side_have_their_names_and_one_area() -> None:
    """The eight outlines are drawn as they are computed: to one scale, of one area and one span."""
    found = outlines.outlines_drawn()
    assert list(found.shapes) == list(outlines.OUTLINES)
    for points in found.shapes.values():
        twice = sum(a * d - b * c for (a, b), (c, d) in pairwise([*points, points[0]]))
        assert abs(0.5 * twice) == pytest.approx(5.625 * 0.0254**2, rel=3e-3)
        assert max(y for _, y in points) == pytest.approx(2.5 * 0.0254)
    drawn = page("{{ outlines_drawn() }}")
    assert drawn.count('class="d-wood"') == 8
    for name in outlines.OUTLINES:
        for words in name.capitalize().split(", "):
            assert words in drawn
    places = [float(x) for x in re.findall(r'<text class="d-small" x="([\d.]+)"', drawn)]
    assert 0.0 <= min(places) < max(places) < 300.0


def test_folded_part_keeps_its_table() -> None:
    """A table inside a folded part stays inside."""
    text = '??? note "Numbers"\n    {{ material_stock("balsa") }}\n\nAfter.'
    found = markdown(text, extensions=[Handbook(), "pymdownx.details"])
    assert found.index("<details") < found.index("<table") < found.index("</details>")
    assert found.index("</details>") < found.index("After.")


def test_page_that_cannot_be_computed_is_refused() -> None:
    """An expression that fails stops the build."""
    with pytest.raises(PageError):
        page('{{ answer("no-such-calculator").margin }}')


def test_common_practice_is_a_remark_and_no_numbered_source() -> None:
    """What has no document behind it stands beside the number, not in the list of documents."""
    report = calculators.run("root-joint", {})
    assert any("common-practice" in step.sources for step in report.steps)
    found = html.result_html(report, units="inch")
    assert '<span class="fs-cite">common practice</span>' in found
    assert "Common practice of the trade" not in found
    numbers = [int(number) for number in re.findall(r'source-(\d+)">\[\d+\]', found)]
    assert sorted(set(numbers)) == list(range(1, len(set(numbers)) + 1))
