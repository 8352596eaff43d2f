"""What glued end grain and scarfs reach at most, after the Wood Handbook."""

from __future__ import annotations

import pytest

from calc.structure import mended


def test_end_grain_reaches_a_quarter() -> None:
    """A butt joint reaches 25 % of the strength along the grain at most (Wood Handbook, ch. 10)."""
    assert mended.END_GRAIN == 0.25
    assert mended.most_load(share=mended.END_GRAIN, strength=40e6, stress=5e6) == 2.0


@pytest.mark.parametrize(("slope", "share"), [(1.0, 0.25), (4.0, 0.4), (8.0, 0.8), (12.0, 1.0)])
def test_scarf_wants_ten_times_the_section(slope: float, share: float) -> None:
    """Ten times the section in glue area bears what the wood does (Wood Handbook, chapter 10)."""
    assert mended.scarf_share(slope) == pytest.approx(share)


def test_no_scarf_is_better_than_the_wood_or_worse_than_a_butt() -> None:
    """A limit lies between that of end grain and the unbroken wood, and grows with the slope."""
    shares = [mended.scarf_share(0.5 * n) for n in range(100)]
    assert shares == sorted(shares)
    assert (min(shares), max(shares)) == (mended.END_GRAIN, 1.0)
