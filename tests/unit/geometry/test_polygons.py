"""Convex parts, sums, offsets and cuts of polygons, against an independent geometry library."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, MultiPoint, Polygon
from shapely.ops import unary_union

from calc.geometry import polygons


@st.composite
def stars(draw: st.DrawFn, least: int = 3, most: int = 12) -> np.ndarray:
    """Star-shaped loops, mostly not convex, of fin size [m]."""
    count = draw(st.integers(least, most))
    # No gap as wide as half a turn: the middle, where a hole may be, stays inside.
    steps = [draw(st.floats(0.55 if count == 3 else 0.4, 1.0)) for _ in range(count)]
    angle = np.cumsum(steps) * 2 * math.pi / sum(steps)
    radius = np.array([draw(st.floats(0.012, 0.05)) for _ in range(count)])
    return radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])


@st.composite
def convex(draw: st.DrawFn) -> np.ndarray:
    """Convex loops, counter-clockwise."""
    hull = Polygon(draw(stars(4))).convex_hull
    return polygons.orient(polygons.cleaned(np.array(hull.exterior.coords[:-1])))


@settings(deadline=None, max_examples=80)
@given(loop=stars(), hole=st.booleans())
def test_convex_parts_cover_the_polygon(loop: np.ndarray, hole: bool) -> None:
    """The parts are convex, do not overlap and together are the polygon, with its hole."""
    holes = (0.3 * loop,) if hole else ()
    parts = polygons.convex_parts(loop, holes)
    shapes = [Polygon(p) for p in parts]
    whole = Polygon(loop, holes)
    assert all(polygons.is_convex(p) for p in parts)
    assert sum(s.area for s in shapes) == pytest.approx(whole.area, rel=1e-9)
    assert unary_union(shapes).symmetric_difference(whole).area < 1e-9 * whole.area + 1e-13


@settings(deadline=None, max_examples=60)
@given(first=convex(), second=convex())
def test_convex_sum_is_the_hull_of_all_sums_of_corners(
    first: np.ndarray, second: np.ndarray
) -> None:
    """The Minkowski sum of convex sets is the hull of the sums of their corners."""
    ours = Polygon(polygons.convex_sum(first, second))
    sums = (first[:, None] + second[None]).reshape(-1, 2)
    hull = MultiPoint(sums).convex_hull
    assert ours.symmetric_difference(hull).area < 1e-9 * hull.area


@settings(deadline=None, max_examples=60)
@given(loop=convex(), distance=st.floats(1e-4, 5e-3))
def test_offset_contains_the_round_offset_closely(loop: np.ndarray, distance: float) -> None:
    """The loop contains the true offset, and no corner exceeds it by more than stated."""
    grown = Polygon(polygons.convex_offset(loop, distance))
    inner = Polygon(loop).buffer(0.9999 * distance, quad_segs=64)
    outer = Polygon(loop).buffer(1.04 * distance, quad_segs=64)
    assert grown.buffer(1e-9).contains(inner)
    assert outer.contains(grown)


@settings(deadline=None, max_examples=80)
@given(loop=stars(4), share=st.floats(0.02, 0.98), hole=st.booleans())
def test_cut_pieces_are_the_two_halves(loop: np.ndarray, share: float, hole: bool) -> None:
    """The pieces below and above a line are the polygon's intersections with half-planes."""
    holes = (0.3 * loop,) if hole else ()
    whole = Polygon(loop, holes)
    level = loop[:, 1].min() + share * np.ptp(loop[:, 1])
    below, above, cuts = polygons.cut_at(loop, holes, level)
    low = unary_union([Polygon(o, i) for o, i in below])
    high = unary_union([Polygon(o, i) for o, i in above])
    plane = Polygon([(-1, -1), (1, -1), (1, level), (-1, level)])
    assert low.symmetric_difference(whole.intersection(plane)).area < 1e-12
    assert high.symmetric_difference(whole.difference(plane)).area < 1e-12
    line = whole.intersection(LineString([(-1, level), (1, level)]))
    assert sum(np.ptp(c[:, 0]) for c in cuts) == pytest.approx(line.length, abs=1e-9)


@pytest.mark.parametrize("count", [30, 120, 400])
def test_grown_outline_of_a_curve_contains_it_with_fewer_corners(count: int) -> None:
    """An ellipse gets far fewer corners, none further out than allowed."""
    angle = np.linspace(0, 2 * math.pi, count, endpoint=False)
    ellipse = np.column_stack([0.06 * np.cos(angle), 0.03 * np.sin(angle)])
    grown = polygons.grown_outline(ellipse, tolerance=1.5e-4)
    assert len(grown) <= 60
    assert Polygon(grown).buffer(1e-10).contains(Polygon(ellipse))
    assert Polygon(ellipse).buffer(1.501e-4, quad_segs=64).contains(Polygon(grown))


@settings(deadline=None, max_examples=60)
@given(loop=stars(4))
def test_grown_outline_never_loses_solid(loop: np.ndarray) -> None:
    """Corners cut inward by the simplification would let parts overlap."""
    grown = polygons.grown_outline(loop, tolerance=5e-4)
    assert Polygon(grown).buffer(1e-10).contains(Polygon(loop))


def test_crossing_outlines_are_told_apart() -> None:
    """A bow tie crosses itself, a square does not, a needle folds back on itself."""
    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    assert polygons.is_simple(square)
    assert not polygons.is_simple(square[[0, 2, 1, 3]])
    assert not polygons.is_simple(np.array([[0.0, 0.0], [1.0, 0.0], [0.5, 0.0], [0.5, 1.0]]))
