"""No-fit polygons and free regions, checked with an independent geometry library."""

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon
from shapely.affinity import translate

from calc.geometry.polygons import convex_parts
from calc.workshop.no_fit import no_fit_polygon, rectangle, subtract_no_fit
from calc.workshop.parts import Array

SIZE = 1e-7  # m


def star(seed: int, count: int) -> Array:
    """Return a star-shaped loop, mostly not convex [m]."""
    rng = np.random.default_rng(seed)
    angle = np.cumsum(rng.uniform(0.4, 1.0, count))
    angle *= 2 * math.pi / angle[-1]
    return rng.uniform(0.01, 0.05, (count, 1)) * np.column_stack([np.cos(angle), np.sin(angle)])


@settings(deadline=None, max_examples=20)
@given(
    seed=st.integers(0, 10_000),
    corners=st.tuples(st.integers(3, 8), st.integers(3, 8)),
    kerf=st.sampled_from([0.0, 0.001]),
)
def test_no_fit_polygon_holds_exactly_the_overlaps(
    seed: int, corners: tuple[int, int], kerf: float
) -> None:
    """A position is inside where the shapes come closer than the kerf, by shapely's distance.

    Outside corners are mitred, so positions there are left out of the comparison.
    """
    fixed, moving = star(seed, corners[0]), star(seed + 1, corners[1])
    no_fit = no_fit_polygon(convex_parts(fixed), convex_parts(moving), kerf=kerf)
    rng = np.random.default_rng(seed)
    at = rng.uniform(no_fit.low, no_fit.high, (60, 2))
    depth = no_fit.offsets[None] - np.einsum("kmj,pj->pkm", no_fit.normals, at)
    inside = (depth.min(axis=2) > SIZE).any(axis=1)
    clear = (depth.min(axis=2) < -SIZE).all(axis=1)
    for position, within, outside in zip(at, inside, clear, strict=True):
        gap = Polygon(fixed).distance(translate(Polygon(moving), *position))
        if within and kerf == 0.0:
            assert gap == 0.0
        if outside:
            assert gap > kerf - SIZE
        if gap == 0.0:
            assert not outside


@settings(deadline=None, max_examples=20)
@given(seed=st.integers(0, 10_000), count=st.integers(1, 4))
def test_free_corners_touch_and_never_overlap(seed: int, count: int) -> None:
    """Every corner of a free region is a position without overlap, on the edge of one with it."""
    rng = np.random.default_rng(seed)
    moving = star(seed, 5)
    low, high = np.zeros(2), np.array([0.25, 0.15])
    free = rectangle(low, high)
    laid = []
    for index in range(count):
        shape, at = star(seed + 1 + index, 6), rng.uniform(low, high)
        laid.append(translate(Polygon(shape), *at))
        no_fit = no_fit_polygon(convex_parts(shape), convex_parts(moving), kerf=0.0)
        free = subtract_no_fit(free, no_fit, at, low=low, high=high)
    edges = np.concatenate([low, high])
    for corner in free.corners:
        placed = translate(Polygon(moving), *corner)
        assert all(placed.buffer(-SIZE).disjoint(other) for other in laid)
        on_edge = np.abs(np.tile(corner, 2) - edges).min() < SIZE
        assert on_edge or any(placed.distance(other) < SIZE for other in laid)


def test_a_shape_larger_than_the_sheet_has_no_free_corner() -> None:
    """The rectangle of positions is empty; one as large as the sheet has a single position."""
    assert len(rectangle(np.zeros(2), np.array([0.1, -0.01])).corners) == 0
    assert np.ptp(rectangle(np.zeros(2), np.zeros(2)).corners, axis=0).max() == 0.0
