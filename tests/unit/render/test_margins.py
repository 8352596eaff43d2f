"""The table of margins says the same as the bars and the verdict above it."""

import json
import re

import pytest

from calc import calculators
from calc.frontends import browser

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
