"""Gauss-Legendre rules against an independent library and exact integrals."""

import numpy as np
import pytest
from scipy import special

from calc.numerics.quadrature import gauss_legendre


@pytest.mark.parametrize("count", [1, 2, 8, 24, 60])
def test_points_and_weights_are_scipys(count: int) -> None:
    """Points and weights on -1 to 1 agree with SciPy."""
    points, weights = gauss_legendre(count)
    expected, shares = special.roots_legendre(count)
    assert np.allclose(points, expected, rtol=0.0, atol=1e-14)
    assert np.allclose(weights, shares, rtol=0.0, atol=1e-14)


def test_highest_degree_is_exact_and_the_next_is_not() -> None:
    """Four points integrate x^7 from 1 to 3 exactly, (3^8 - 1) / 8 = 820, but not x^8."""
    points, weights = gauss_legendre(4, low=1.0, high=3.0)
    assert float(weights @ points**7) == pytest.approx(820.0, rel=1e-13)
    assert float(weights @ points**8) != pytest.approx((3.0**9 - 1.0) / 9.0, rel=1e-7)


def test_shared_rules_cannot_be_changed() -> None:
    """The cached arrays are read-only, so that no caller spoils them for the next."""
    points, weights = gauss_legendre(3)
    for array in (points, weights):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0.0
