"""Classification of a balsa sheet's cut."""

from __future__ import annotations

import pytest

from calc.sheet_test import balsa_cut


@pytest.mark.parametrize(("ratio", "likely"), [(0.046, "C"), (0.06, "C"), (0.013, "A")])
def test_cut_is_classified_from_the_ratio(ratio: float, likely: str) -> None:
    """Quarter-sawn is clear; flat-sawn is likely but never clear against B."""
    cut = balsa_cut.classify_cut(ratio=ratio, log_error=0.08)
    assert cut.likely == likely
    total = cut.probability_a + cut.probability_b + cut.probability_c
    assert total == pytest.approx(1.0)
    assert cut.clear is (likely == "C")
    assert ("by eye" in cut.note) is (likely != "C")
