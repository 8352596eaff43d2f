"""Outline and edge shapes by hand arithmetic, and inputs that must be refused."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.errors import InputError
from calc.geometry.planform import Edge, Planform, chord_breaks, thickness_fraction

FIN = Planform(root=0.12, tip=0.06, span=0.09, sweep=0.05)
lengths = st.floats(0.01, 1.0)


def test_hand_geometry():
    """Area, aspect ratio, taper and sweep angles follow from the four lengths."""
    assert FIN.area == pytest.approx(0.0081)
    assert FIN.aspect_ratio == pytest.approx(1.0)
    assert FIN.taper == pytest.approx(0.5)
    assert math.tan(FIN.sweep_leading) == pytest.approx(0.05 / 0.09)
    assert math.tan(FIN.sweep_of(0.25)) == pytest.approx((0.05 - 0.015) / 0.09)
    assert math.tan(FIN.sweep_of(0.5)) == pytest.approx((0.05 - 0.03) / 0.09)
    assert FIN.corners.tolist() == [[0, 0], [0.05, 0.09], [0.11, 0.09], [0.12, 0]]


@given(lengths, st.floats(0.0, 1.0), lengths, st.floats(-1.0, 1.0))
def test_mean_chord_is_the_integral(root, tip, span, sweep):
    """The mean chord and its position equal the chord-weighted integrals that define them."""
    fin = Planform(root, tip, span, sweep)
    points, weights = np.polynomial.legendre.leggauss(8)
    eta, weights = (points + 1) / 2, weights / 2 * span
    chord = root + (tip - root) * eta
    assert fin.mean_chord == pytest.approx(np.sum(weights * chord**2) / fin.area)
    assert fin.mean_chord_y == pytest.approx(np.sum(weights * chord * span * eta) / fin.area)
    leading = np.sum(weights * chord * sweep * eta) / fin.area
    assert fin.mean_chord_x == pytest.approx(leading, abs=1e-12)


def test_points_at_the_corners():
    """Fractions 0 and 1 of chord and span give the corners."""
    found = FIN.points([0.0, 0.0, 1.0, 1.0], [0.0, 1.0, 1.0, 0.0])
    assert np.allclose(found, FIN.corners)


def test_grain_along_the_tube():
    """Rotated by a right angle less the sweep, the grain lies along the tube."""
    grain = math.pi / 2 - FIN.sweep_leading
    assert FIN.grain_direction(grain) == pytest.approx(0.0, abs=1e-12)
    edge = FIN.grain_direction(0.0)
    assert (math.cos(edge), math.sin(edge)) == pytest.approx(
        (math.sin(FIN.sweep_leading), math.cos(FIN.sweep_leading))
    )


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("root", 0.0),
        ("root", -1.0),
        ("root", math.nan),
        ("tip", -0.01),
        ("tip", math.inf),
        ("span", 0.0),
        ("span", "wide"),
        ("sweep", math.nan),
        ("sweep", None),
    ],
)
def test_refuses_bad_lengths(name, value):
    """Impossible lengths raise InputError naming the input."""
    lengths = {"root": 0.1, "tip": 0.05, "span": 0.1, "sweep": 0.0, name: value}
    with pytest.raises(InputError, match=f"^{name}: ") as caught:
        Planform(**lengths)
    assert caught.value.name == name


def test_triangle_and_forward_sweep_are_accepted():
    """A tip of zero and a negative sweep are ordinary fins."""
    assert Planform(0.1, 0.0, 0.1, 0.1).taper == 0.0
    assert Planform(0.1, 0.1, 0.1, -0.05).sweep_leading < 0.0


@pytest.mark.parametrize(
    "edge",
    [("round", 0.1), ("tapered", 0.0), ("tapered", 0.6), ("airfoil", 0.0), ("airfoil", 1.0)],
)
def test_refuses_bad_edges(edge):
    """An unknown edge, or a bevel or thickest place outside the chord, is refused."""
    with pytest.raises(InputError, match=r"^edge: "):
        Edge(*edge)


def test_rounded_edge_needs_the_thickness():
    """A half-round edge needs the thickness."""
    with pytest.raises(InputError, match=r"^thickness_ratio: "):
        thickness_fraction(Edge("rounded"), 0.5)
    with pytest.raises(InputError, match=r"^thickness_ratio: "):
        chord_breaks(Edge("rounded"), local_thickness_ratio=0.0)


@pytest.mark.parametrize(
    ("edge", "ratio", "area"),
    [
        (Edge("square"), None, 1.0),
        (Edge("tapered", 0.2), None, 0.8),
        (Edge("rounded"), 0.1, 1.0 - (1.0 - math.pi / 4) * 0.1),
        (Edge("airfoil", 0.4), None, 0.4 * math.pi / 4 + 0.6 * 2 / 3),
    ],
)
def test_section_areas(edge, ratio, area):
    """The sections' areas equal those of the rectangles, circles and parabolas they are made of."""
    ends = chord_breaks(edge, local_thickness_ratio=ratio)
    points, weights = np.polynomial.legendre.leggauss(200)
    xi = ends[:-1, None] + np.diff(ends)[:, None] * (points + 1) / 2
    height = thickness_fraction(edge, xi, local_thickness_ratio=ratio)
    assert np.sum(height * weights / 2 * np.diff(ends)[:, None]) == pytest.approx(area, rel=1e-6)
    assert height.min() >= 0.0
    assert height.max() <= 1.0


def test_rounded_edges_meet_on_a_short_chord():
    """Where the chord is shorter than the thickness the two roundings meet in the middle."""
    assert chord_breaks(Edge("rounded"), local_thickness_ratio=3.0).tolist() == [0, 0.5, 0.5, 1]
    middle = thickness_fraction(Edge("rounded"), 0.5, local_thickness_ratio=3.0)
    assert 0.0 < middle < 1.0
