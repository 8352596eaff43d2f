"""The table of margins says the same as the bars and the verdict above it."""

import json
import re

import pytest

from calc import calculators
from calc.frontends import browser
from calc.render import html
from calc.report import Column, Table

ROW = re.compile(r"<b>(?:at least )?([\d.]+)</b>(?: \(([\d.]+) to ([\d.]+)\))?</td>")


@pytest.mark.parametrize(
    "texts", [{}, {"thickness": "1/16 in"}, {"flight": "motor", "material": "birch-plywood"}]
)
def test_every_margin_lies_inside_the_range_beside_it(texts: dict[str, str]) -> None:
    """Margin and range stand on the one scale, on which 1 is just what is required."""
    report = calculators.run("fin-check", texts)
    page = json.loads(browser.answer("fin-check", json.dumps(texts)))["fragments"]["result"]
    table = page[page.index("Margins, table") :]
    rows = ROW.findall(table[: table.index("</table>")])
    assert len(rows) == len(report.modes)
    for (margin, low, high), mode in zip(rows, report.modes, strict=True):
        assert float(margin) == pytest.approx(mode.margin, abs=0.006)
        if low:
            assert mode.low_margin is not None
            assert mode.high_margin is not None
            assert float(low) == pytest.approx(mode.low_margin, rel=0.06)
            assert float(high) == pytest.approx(mode.high_margin, rel=0.06)
            assert float(low) <= 1.06 * float(margin)
            assert float(margin) <= 1.06 * float(high)
    governing = next(mode for mode in report.modes if mode.name == report.verdict.governs)
    assert report.verdict.low == governing.low_margin


def test_the_margin_stands_second_and_stresses_share_a_unit() -> None:
    """A phone shows each way to fail beside its margin; stresses of one table are in one unit."""
    report = calculators.run("ring", {})
    page = html.result_html(report, units="inch")
    heads = re.findall(r'<th scope="col">([^<]*)', page)
    assert heads[:4] == ["Way to fail", "Margin", "Required", "Capacity"]
    assert "all strengths low to high" in page
    table = page[page.index('aria-label="Margins, table"') :].partition("</table>")[0]
    assert set(re.findall(r"\d (psi|ksi|Msi)<", table)) == {"psi"}


def test_a_change_that_changes_nothing_is_not_offered() -> None:
    """What would change it names only what leaves another margin."""
    for slug in ("ring", "landing"):
        for change in calculators.run(slug, {}).changes:
            before, arrow, after = change.effect.partition(" → ")
            assert not arrow or before.split()[-1] != after.split()[0]


def test_a_folded_column_keeps_brackets_whole() -> None:
    """Both sheets of a substitution fit a phone, and no range is torn apart."""
    table = Table(
        "Sheets",
        (Column("what", "What"), Column("is", "Is", fold=15)),
        (("Verdict", "holds, margin 1.60 (0.89 to 2.87)"),),
    )
    assert "holds, margin<br>1.60<br>(0.89\xa0to\xa02.87)" in html.table_html(table, "inch")


def test_inches_of_a_column_are_all_fractions_or_all_decimals() -> None:
    """Where one size is no fraction, the column is in decimals; pages give both systems."""
    column = (Column("size", "Size", "length"),)
    mixed = Table("Sizes", column, ((0.0015875,), (0.0019,)))
    assert html.table_html(mixed, "inch").count("/16 in") == 0
    assert "1/16 in" in html.table_html(Table("Sizes", column, ((0.0015875,),)), "inch")
    assert "1.90 mm (0.0748 in)" in html.table_html(mixed, "trade")
