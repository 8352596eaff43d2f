"""Finishing data is whole, and the sums are right."""

import re

import pytest

from calc.errors import InputError
from calc.workshop import finish


def test_coats_are_whole():
    """Every coat has its low end first, a label and a source."""
    for coat in finish.coats().values():
        assert 0.0 < coat.low <= coat.high < 0.2
        assert coat.label
        assert "unverified" in coat.source


@pytest.mark.parametrize("family", finish.families())
def test_families_are_whole(family):
    """Every family has steps, a caution, and coats that exist with counts in order."""
    usual = finish.usual(family)
    assert usual.steps
    assert usual.warp
    assert usual.source
    for step in usual.steps:
        assert step.do.endswith(".")
        assert step.coat is None or step.coat in finish.coats()
        assert step.times[0] <= step.times[1]
    band = finish.usual_areal_mass(family)
    assert 0.0 <= band.low < band.high < 0.5


def test_grits_are_of_the_scale_that_the_pages_give():
    """Every sandpaper has its P grade, and above 220 P400 has its older US number beside it."""
    for family in finish.families():
        for step in finish.usual(family).steps:
            assert re.fullmatch(r"(P\d+( to P\d+)?( \(US \d+\))?)?", step.grit), step.grit
            assert ("P400" in step.grit) == ("P400 (US 320)" in step.grit)


def test_sum_by_hand():
    """Two faces of one primer and two colour coats: 2 (15 + 2 * 10) = 70 to 2 (40 + 60) = 200."""
    band = finish.areal_mass({"primer": 1, "paint": 2})
    assert (band.low, band.high) == pytest.approx((0.070, 0.200))
    one = finish.areal_mass({"primer": 1, "paint": 2}, faces=1)
    assert one.middle == pytest.approx(band.middle / 2)
    mass = finish.added_mass({"primer": 1, "paint": 2}, area=0.004, count=3)
    assert mass.low == pytest.approx(0.070 * 0.012)


def test_bad_inputs():
    """Unknown coats, families and faces are refused with the choices."""
    with pytest.raises(InputError, match="primer"):
        finish.areal_mass({"tar": 1})
    with pytest.raises(InputError, match="plywood"):
        finish.usual("granite")
    with pytest.raises(InputError, match="faces"):
        finish.areal_mass({"paint": 1}, faces=3)
    with pytest.raises(InputError, match="area"):
        finish.added_mass({"paint": 1}, area=0.0)
