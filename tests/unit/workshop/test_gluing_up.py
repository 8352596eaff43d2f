"""Glue lines of a part divided into strips."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon
from shapely.ops import unary_union

from calc.errors import InputError
from calc.workshop.gluing_up import divide_into_strips
from calc.workshop.parts import Part

FIN = Part(
    ((0, 0), (0.15, 0), (0.17, 0.12), (0.1, 0.12)),
    grain=math.pi / 2 - math.atan2(0.1, 0.12),
    quantity=3,
    root=((0, 0), (0.15, 0)),
    keep_clear=((0.17, 0.12), (0.1, 0.12)),
)


def test_glue_lines_keep_off_the_tip_corners() -> None:
    """The line lies at least the asked distance from both tip corners, and its length is right."""
    strips = divide_into_strips(FIN, width=0.075, corner_clearance=0.012)
    (line,) = strips.glue_lines
    a, b = np.array(line.segments[0])
    along = (b - a) / np.hypot(*(b - a))
    for corner in FIN.keep_clear:
        gap = np.array(corner) - a
        assert abs(along[0] * gap[1] - along[1] * gap[0]) >= 0.012 - 1e-9
    assert line.length == pytest.approx(np.hypot(*(b - a)))
    assert abs(math.remainder(math.atan2(along[1], along[0]) - FIN.grain, math.pi)) < 1e-9


def test_glue_lines_stay_off_a_root_along_the_grain() -> None:
    """With the grain along the tube no line touches the root, and none is reported to."""
    part = Part(FIN.outline, grain=0.0, root=FIN.root, keep_clear=FIN.keep_clear)
    strips = divide_into_strips(part, width=0.07)
    (line,) = strips.glue_lines
    assert line.root_crossings == ()
    assert strips.notes == ()


def test_impossible_clearance_gives_equal_strips_and_a_note() -> None:
    """If the tip corners cannot be kept clear the strips are equal and a note says so."""
    strips = divide_into_strips(FIN, width=0.06, corner_clearance=0.2)
    assert len(strips.glue_lines) >= 1
    assert "keeps the glue lines" in strips.notes[0]
    heights = [0.0, *(line.across for line in strips.glue_lines)]
    assert np.diff(heights) == pytest.approx(np.diff(heights)[0])


def test_a_part_as_wide_as_the_sheet_stays_whole() -> None:
    """One strip, no glue line."""
    strips = divide_into_strips(Part(FIN.outline, grain=0.0), width=0.12)
    assert len(strips.pieces) == 1
    assert strips.glue_lines == ()


def test_strips_need_a_grain_direction() -> None:
    """Without a grain direction there is no direction for the glue lines."""
    with pytest.raises(InputError) as caught:
        divide_into_strips(Part(FIN.outline, grain=None), width=0.05)
    assert caught.value.name == "grain"


@given(
    radii=st.lists(st.floats(0.03, 0.08), min_size=3, max_size=9),
    grain=st.floats(-math.pi, math.pi),
    width=st.floats(0.03, 0.06),
)
def test_strips_make_the_part_and_fit_the_sheet(
    radii: list[float], grain: float, width: float
) -> None:
    """Any star-shaped part: no strip is wider than the sheet, none overlap, nothing is lost."""
    angles = 2 * math.pi * np.arange(len(radii)) / len(radii)
    outline = np.array(radii)[:, None] * np.column_stack([np.cos(angles), np.sin(angles)])
    strips = divide_into_strips(Part(outline.tolist(), grain=grain), width=width)
    across = np.array([-math.sin(grain), math.cos(grain)])
    assert all(np.ptp(loop @ across) <= width + 1e-8 for loop, _ in strips.pieces)
    shapes = [Polygon(loop) for loop, _ in strips.pieces]
    assert unary_union(shapes).symmetric_difference(Polygon(outline)).area < 1e-10
    assert sum(shape.area for shape in shapes) == pytest.approx(Polygon(outline).area, rel=1e-6)
    assert sum(line.length > 0 for line in strips.glue_lines) == len(strips.glue_lines)


def test_strips_are_equal_where_nothing_is_in_the_way() -> None:
    """A part 2.5 sheets wide without corners to keep clear of: three equal strips."""
    part = Part(((0.0, 0.0), (0.3, 0.0), (0.3, 0.15), (0.0, 0.15)))
    lines = divide_into_strips(part, width=0.06).glue_lines
    assert [line.across for line in lines] == pytest.approx([0.05, 0.1])
    assert [line.length for line in lines] == pytest.approx([0.3, 0.3])
