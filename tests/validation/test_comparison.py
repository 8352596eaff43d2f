"""Where cheaper ways to a flutter speed agree with the lifting surface, and where they mislead."""

import numpy as np
import pytest

from calc.air import atmosphere
from tests.validation import comparison


@pytest.fixture(scope="module")
def family() -> tuple[comparison.Row, ...]:
    """Return 24 invented fins at sea level."""
    return comparison.compare()


def ratios(rows: tuple[comparison.Row, ...], name: str) -> np.ndarray:
    """Return a method's speed over the lifting surface's."""
    return np.array([getattr(row, name) / row.surface for row in rows])


def test_family(family: tuple[comparison.Row, ...]) -> None:
    """Four outlines in three materials and two thicknesses."""
    assert len(family) == 24
    assert len({(row.outline, row.material, row.thickness) for row in family}) == 24


def test_plain_strips_are_safe(family: tuple[comparison.Row, ...]) -> None:
    """Strips with 2 pi take too much lift at the tip: 10 to 40 % early on every fin."""
    strips = ratios(family, "strip")
    assert np.all((strips > 0.60) & (strips < 0.90))


def test_corrected_strips_err_both_ways(family: tuple[comparison.Row, ...]) -> None:
    """With the lift slope corrected strips scatter around the surface and are unsafe at times."""
    strips = ratios(family, "strip_corrected")
    assert 0.8 < np.median(strips) < 1.05
    assert 1.10 < strips.max() < 1.25


def test_estimate_is_safe_on_light_fins_at_sea_level(family: tuple[comparison.Row, ...]) -> None:
    """Of wood at sea level the NACA TN 4197 estimate is a fifth to a half too low."""
    light = tuple(row for row in family if row.mass_ratio < 25.0)
    assert np.all(ratios(light, "estimate") < 0.85)


def test_estimate_is_unsafe_on_a_heavy_swept_fin(family: tuple[comparison.Row, ...]) -> None:
    """On a swept fin of glass laminate the estimate lies above, because it knows no sweep."""
    unsafe = [row for row in family if row.estimate > row.surface]
    assert unsafe
    assert {row.outline for row in unsafe} == {"swept"}
    assert {row.material for row in unsafe} == {"Glass/epoxy laminate"}


def test_estimate_worsens_with_height(family: tuple[comparison.Row, ...]) -> None:
    """In thin air more fins lie below the estimate: it knows no mass ratio."""
    high = comparison.compare(air=atmosphere.at(10_000.0))
    low_ratio, high_ratio = ratios(family, "estimate"), ratios(high, "estimate")
    assert (high_ratio > 1.0).sum() > (low_ratio > 1.0).sum()
    assert np.median(high_ratio) > np.median(low_ratio)


def test_thickness_leaves_ratios_alone_for_the_heavy(family: tuple[comparison.Row, ...]) -> None:
    """At high mass ratio all methods go with thickness to the power 1.5, so ratios keep."""
    glass = [row for row in family if row.material.startswith("Glass")]
    for thin, thick in zip(glass[::2], glass[1::2], strict=True):
        assert thin.estimate / thin.surface == pytest.approx(
            thick.estimate / thick.surface, rel=0.03
        )


def test_table(family: tuple[comparison.Row, ...]) -> None:
    """The table shows one row per fin and columns of ratios."""
    table = comparison.table(family)
    assert len(table.rows) == 24
    assert all(len(row) == len(table.columns) for row in table.rows)
