"""Fins of any outline: their sizes, what they share with straight-edged ones, what is refused."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from shapely import Polygon
from shapely.geometry import Point as ShapelyPoint

from calc.errors import InputError
from calc.geometry.free_outline import EdgeLine, FreeOutline, Piece, corners, ellipse
from calc.geometry.planform import Planform
from calc.structure import plate

FIVE = [(0.0, 0.0), (0.03, 0.04), (0.07, 0.06), (0.1, 0.05), (0.09, 0.0)]
FOUR = [(0.0, 0.0), (0.05, 0.06), (0.09, 0.06), (0.1, 0.0)]
KINKED = [(0.0, 0.0), (0.06, 0.03), (0.07, 0.06), (0.1, 0.06), (0.08, 0.02), (0.1, 0.0)]


def as_general(fin: Planform) -> FreeOutline:
    """Return a fin with straight edges as one of any outline, without the shortcut."""
    span = fin.span
    front = Piece(0.0, span, 0.0, 0.0, fin.sweep / span)
    rear = Piece(0.0, span, fin.root, 0.0, (fin.sweep + fin.tip - fin.root) / span)
    return FreeOutline(EdgeLine((front,)), EdgeLine((rear,)), fin.sweep_leading)


straight = st.builds(
    Planform,
    root=st.floats(0.5, 2.0),
    tip=st.floats(0.0, 2.0),
    span=st.floats(0.5, 2.0),
    sweep=st.floats(-1.0, 2.0),
)


@given(straight)
@settings(max_examples=40, deadline=None)
def test_straight_edges_are_a_shortcut_that_changes_nothing(fin: Planform) -> None:
    """A trapezoid as one of any outline has the trapezoid's sizes, strips and frequencies."""
    general = as_general(fin)
    for name in ("area", "mean_chord", "mean_chord_x", "mean_chord_y", "taper", "aspect_ratio"):
        assert getattr(general, name) == pytest.approx(getattr(fin, name), rel=1e-9, abs=1e-12)
    assert general.tip_point == pytest.approx(fin.tip_point)
    assert general.grain_direction(0.3) == pytest.approx(fin.grain_direction(0.3))
    assert np.allclose(general.frame, fin.frame, rtol=0.0, atol=1e-9)
    for ours, known in zip(general.strips(8), fin.strips(8), strict=True):
        assert np.allclose(ours, known, rtol=0.0, atol=1e-9)
    bending = np.array([[10.0, 0.3, 0.5], [0.3, 0.7, 0.1], [0.5, 0.1, 0.6]])
    found, expected = (
        plate.modes(
            plate.assemble(plate.prepare(one), bending=bending, areal_mass=1.0), count=4
        ).frequency
        for one in (general, fin)
    )
    assert np.allclose(found, expected, rtol=1e-6)


def test_corners_of_a_trapezoid_are_the_trapezoid() -> None:
    """However its four corners are typed, they are the fin of four numbers; so are three."""
    sizes = (0.1, 0.04, 0.06, 0.05)
    for start in range(4):
        turned = FOUR[start:] + FOUR[:start]
        for typed in (turned, turned[::-1], [(x + 0.3, y) for x, y in turned]):
            fin = corners(typed)
            assert isinstance(fin, Planform)
            assert (fin.root, fin.tip, fin.span, fin.sweep) == pytest.approx(sizes, rel=1e-12)
    triangle = corners([(0.0, 0.0), (0.05, 0.06), (0.1, 0.0)])
    assert triangle == Planform(root=0.1, tip=0.0, span=0.06, sweep=0.05)


@pytest.mark.parametrize("sweep", [0.0, 0.04, -0.03])
def test_half_ellipse_has_the_textbook_sizes(sweep: float) -> None:
    """Area pi/4 a b, centroid 4/(3 pi) of the span out, mean chord 8/(3 pi) of the root."""
    fin = ellipse(root=0.1, span=0.06, sweep=sweep)
    assert fin.area == pytest.approx(math.pi / 4 * 0.1 * 0.06, rel=1e-12)
    assert fin.mean_chord == pytest.approx(8.0 / (3.0 * math.pi) * 0.1, rel=1e-9)
    x, y = fin.centroid
    assert y == pytest.approx(4.0 / (3.0 * math.pi) * 0.06, rel=1e-9)
    assert x == pytest.approx(0.05 + sweep * y / 0.06, rel=1e-9)
    # a quarter of the mean chord behind its front: 0.2878 of the root, where it does not lean
    centre = fin.mean_chord_x + 0.25 * fin.mean_chord
    assert centre - sweep * y / 0.06 == pytest.approx(0.2878 * 0.1, rel=1e-3)


@pytest.mark.parametrize("points", [FIVE, FOUR, KINKED])
@pytest.mark.parametrize("radius", [0.0, 0.004])
def test_sizes_agree_with_a_polygon_library(
    points: list[tuple[float, float]], radius: float
) -> None:
    """Area and centroid of corners, sharp and rounded, are those of the shape drawn."""
    fin = corners(points, radius=radius)
    drawn = Polygon(fin.perimeter(1e-8))
    assert drawn.is_valid
    assert fin.area == pytest.approx(drawn.area, rel=1e-6)
    assert fin.centroid == pytest.approx((drawn.centroid.x, drawn.centroid.y), rel=1e-5)
    strips = fin.strips(8)
    width = np.diff(strips.edges)
    assert width @ (strips.trailing - strips.leading) == pytest.approx(fin.area, rel=1e-9)


@pytest.mark.parametrize("points", [FIVE, FOUR])
def test_rounding_is_that_of_circles(points: list[tuple[float, float]]) -> None:
    """Outward corners rounded by a radius: the shape shrunk by it and grown again, off the root."""
    radius = 0.005
    shape = Polygon([*points, (points[-1][0], -0.05), (0.0, -0.05)])
    grown = shape.buffer(-radius, quad_segs=400).buffer(radius, quad_segs=400)
    above = grown.intersection(Polygon([(-1, 0.001), (1, 0.001), (1, 1), (-1, 1)]))
    ours = Polygon(corners(points, radius=radius).perimeter(1e-8))
    ours = ours.intersection(Polygon([(-1, 0.001), (1, 0.001), (1, 1), (-1, 1)]))
    assert ours.symmetric_difference(above).area < 2e-4 * ours.area


@pytest.mark.parametrize(
    "fin",
    [ellipse(root=0.1, span=0.06, sweep=0.02), corners(FIVE, radius=0.004), corners(KINKED)],
    ids=["ellipse", "five rounded", "kinked"],
)
def test_quadrature_and_moments(fin: FreeOutline) -> None:
    """Integrals over the panel are those of an adaptive rule, and strips keep first moments."""
    y, weight = fin.spanwise_quadrature(16)

    def moment(power: int) -> float:
        return float(
            quad(
                lambda at: float(fin.chord(np.array([at]))[0]) * at**power,
                0.0, fin.span, points=fin.breaks[1:-1], epsabs=0.0, epsrel=1e-11, limit=200,
            )[0]
        )  # fmt: skip

    for power in range(6):
        assert weight @ (fin.chord(y) * y**power) == pytest.approx(moment(power), rel=1e-7)
    strips = fin.strips(8)
    width, centre = np.diff(strips.edges), 0.5 * (strips.edges[1:] + strips.edges[:-1])
    chord = strips.trailing - strips.leading
    lean = strips.trailing_slope - strips.leading_slope
    first = width * (centre * chord + lean * width**2 / 12.0)
    assert first.sum() == pytest.approx(moment(1), rel=1e-9)


def test_points_lie_inside() -> None:
    """Fractions of chord and span give points within the outline."""
    fin = corners(KINKED, radius=0.002)
    area = Polygon(fin.perimeter(1e-7)).buffer(1e-7)
    points = fin.points(np.linspace(0, 1, 7), np.linspace(0, 1, 9)[:, None]).reshape(-1, 2)
    assert all(area.covers(ShapelyPoint(point)) for point in points)


@pytest.mark.parametrize(
    ("points", "radius", "name", "says"),
    [
        ([(0, 0), (0.02, 0.05), (0.01, 0.05), (0.1, 0)], 0.0, "points", "corner 3"),
        ([(0, 0), (0.06, 0.02), (0.02, 0.05), (0.05, 0.02), (0.1, 0)], 0.0, "points", "corner"),
        ([(0, 0), (0.02, 0.05), (0.05, 0.02), (0.08, 0.05), (0.1, 0)], 0.0, "points", "corner 3"),
        ([(0, 0), (0.02, 0.05), (0.09, 0.05), (0.1, -0.01)], 0.0, "points", "corner 4"),
        ([(0, 0), (0.02, 0.03), (0.04, 0.03), (0.06, 0.05), (0.1, 0)], 0.0, "points", "corner 3"),
        ([(0, 0), (0.1, 0.05)], 0.0, "points", "three"),
        ([(0, 0.01), (0.02, 0.05), (0.09, 0.05), (0.1, 0.01)], 0.0, "points", "y = 0"),
        ([(0, 0), (0.02, 0.05), (0.02, 0.05), (0.1, 0)], 0.0, "points", "corner 3"),
        ([(0, 0), (0.049, 0.03), (0.02, 0.06), (0.09, 0.06), (0.051, 0.03), (0.1, 0)], 0.0,
         "points", "corner"),
        (FOUR, 0.05, "radius", "up to"),
        (FOUR, (0.001, 0.001, 0.001), "radius", "one radius for all, or 2"),
    ],
)  # fmt: skip
def test_impossible_outlines_are_refused(
    points: list[tuple[float, float]], radius: float, name: str, says: str
) -> None:
    """An impossible outline raises InputError naming the input and the corner."""
    with pytest.raises(InputError) as refused:
        corners(points, radius=radius)
    assert refused.value.name == name
    assert says in refused.value.accepts


def test_radii_one_by_one() -> None:
    """A radius of its own for each corner off the body, in the order typed."""
    front, rear = corners(FOUR, radius=(0.01, 0.0)), corners(FOUR, radius=(0.0, 0.01))
    assert front.sharp_corners.tolist() == [[0.0, 0.0], [0.09, 0.06], [0.1, 0.0]]
    assert rear.sharp_corners.tolist() == [[0.0, 0.0], [0.05, 0.06], [0.1, 0.0]]
    backward = corners(FOUR[::-1], radius=(0.0, 0.01))
    assert backward.area == pytest.approx(front.area)
    assert np.allclose(backward.perimeter(), front.perimeter())
