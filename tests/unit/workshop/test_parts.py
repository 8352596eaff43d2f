"""Parts, sheets and the totals of a plan."""

import math

import numpy as np
import pytest

from calc.errors import InputError
from calc.workshop.layout_search import nest
from calc.workshop.parts import Part, Sheet, circle_outline, ring


def test_mass_and_waste_add_up() -> None:
    """Two squares of a quarter sheet each: half the sheet is waste."""
    square = ((0, 0), (0.05, 0), (0.05, 0.05), (0, 0.05))
    sheet = Sheet(0.2, 0.05, areal_mass=0.4)
    plan = nest([Part(square, quantity=2)], [sheet])
    assert plan.area_yield == pytest.approx(0.5)
    assert plan.used_yield == pytest.approx(1.0)
    assert plan.waste == pytest.approx(0.005)
    assert plan.offcut == pytest.approx(0.005)
    assert plan.part_mass == pytest.approx(0.002)
    assert plan.sheet_mass == pytest.approx(0.004)


@pytest.mark.parametrize("radius", [0.005, 0.04, 0.2])
@pytest.mark.parametrize("inside", [False, True])
def test_circle_outline_stays_on_its_side(radius: float, inside: bool) -> None:
    """The polygon's sides touch the circle from outside, or its corners from inside."""
    loop = circle_outline(radius, centre=(0.1, -0.2), inside=inside, tolerance=1e-4) - (0.1, -0.2)
    corners = np.hypot(*loop.T)
    sides = np.hypot(*((loop + np.roll(loop, 1, axis=0)) / 2).T)
    touching, away = (corners, sides) if inside else (sides, corners)
    assert touching == pytest.approx(np.full(len(loop), radius))
    assert np.all(np.abs(away - radius) <= 1e-4)


def test_ring_has_the_area_of_true_circles() -> None:
    """The area does not depend on the polygons that stand for the circles."""
    assert ring(0.05, 0.03).area == pytest.approx(math.pi * (0.025**2 - 0.015**2), rel=1e-12)


@pytest.mark.parametrize(
    ("make", "name"),
    [
        (lambda: Part(((0, 0), (1, 0))), "outline"),
        (lambda: Part(((0, 0), (1, 1), (1, 0), (0, 1))), "outline"),
        (lambda: Part(((0, 0), (1, 0), (1, 1)), quantity=0), "quantity"),
        (lambda: Part(((0, 0), (1, 0), (1, 1)), holes=(((2, 2), (3, 2), (3, 3)),)), "holes"),
        (lambda: Sheet(0.0, 0.1), "length"),
        (lambda: Sheet(1.0, 0.1, price=-1), "price"),
        (lambda: ring(0.05, 0.06), "inner_diameter"),
    ],
)
def test_bad_input_is_named(make: object, name: str) -> None:
    """Each input that cannot be used is named in the error."""
    with pytest.raises(InputError) as caught:
        make()  # type: ignore[operator]
    assert caught.value.name == name
