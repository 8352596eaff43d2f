"""Behaviour of strip theory and of the flutter search."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.errors import InputError
from calc.geometry.planform import Planform
from tests import strip_theory

RECTANGLE = Planform(root=2.0, tip=2.0, span=1.0, sweep=0.0)
FIN = Planform(root=0.10, tip=0.05, span=0.06, sweep=0.05)
SECTION = strip_theory.TypicalSection(20.0, -0.2, 0.1, 0.24, 0.4)


def shapes(points: np.ndarray) -> np.ndarray:
    """Heave, nose-up pitch about x = 1.3, and a parabola of camber."""
    x = points[:, 0]
    return np.column_stack([np.ones(len(x)), 1.3 - x, (x - 1.0) ** 2])


def slopes(points: np.ndarray) -> np.ndarray:
    """Slopes of the same shapes."""
    x = points[:, 0]
    along = np.column_stack([np.zeros(len(x)), -np.ones(len(x)), 2.0 * (x - 1.0)])
    return np.stack([along, np.zeros_like(along)])


def test_limits_of_theodorsen() -> None:
    """C is 1 at rest and 1/2 when fast, and has no step where the series change over."""
    assert strip_theory.theodorsen(0.0) == 1.0
    assert strip_theory.theodorsen(1e4) == pytest.approx(0.5, abs=1e-4)
    below, above = strip_theory.theodorsen([14.0, 14.0 + 1e-9])
    assert abs(below - above) < 1e-9
    with pytest.raises(InputError, match="kappa"):
        strip_theory.theodorsen(-0.1)


@given(st.floats(min_value=1e-3, max_value=200.0))
def test_lag_function_stays_in_its_half_disc(kappa: float) -> None:
    """F falls from 1 to 1/2 and G is negative with modulus below 0.19."""
    value = complex(strip_theory.theodorsen(kappa))
    assert 0.5 <= value.real <= 1.0
    assert -0.19 < value.imag < 0.0


def test_plate_strips_contain_the_rigid_section() -> None:
    """Cosine series for heave and pitch equal Theodorsen's closed form, span one metre."""
    k = np.array([0.0, 0.1, 0.5, 2.0])
    q = strip_theory.generalised_forces(RECTANGLE, shapes, slopes, wavenumbers=k, strips=2)
    assert np.allclose(
        q[:, :2, :2], strip_theory.section_forces(k, half_chord=1.0, axis=0.3), atol=1e-12
    )


def test_steady_camber() -> None:
    """A parabolic camber line lifts as thin aerofoil theory says: 4 pi f/c, at mid-chord."""
    # z = -(x-1)^2 on a chord of 2 has f = 1 over the chord ends: CL = 4 pi f/c = 2 pi.
    q = strip_theory.generalised_forces(RECTANGLE, shapes, slopes, wavenumbers=[0.0], strips=2)[0]
    lift, moment = -q[0, 2], -(q[1, 2] - 0.3 * q[0, 2])
    assert lift.real == pytest.approx(2.0 * np.pi * 2.0)
    assert moment.real == pytest.approx(0.0, abs=1e-12)


def test_lift_slope_scales_the_steady_forces() -> None:
    """A lower section lift slope lowers the steady lift in proportion."""
    points = dict(wavenumbers=[0.0], strips=6)
    full = strip_theory.generalised_forces(FIN, shapes, slopes, **points)
    part = strip_theory.generalised_forces(FIN, shapes, slopes, lift_slope=3.0, **points)
    assert part[0, 0, 1] == pytest.approx(full[0, 0, 1] * 3.0 / (2.0 * np.pi))
    area = 2.0 * np.pi * FIN.area
    assert full[0, 0, 1].real == pytest.approx(area)


def test_helmbold_between_its_limits() -> None:
    """The lift slope tends to pi A/2 for a small and to 2 pi for a large aspect ratio."""
    assert strip_theory.helmbold_slope(0.01) == pytest.approx(np.pi * 0.005, rel=1e-4)
    assert strip_theory.helmbold_slope(1e5) == pytest.approx(2.0 * np.pi, rel=1e-4)
    assert strip_theory.helmbold_slope(4.0, sweep=0.8) < strip_theory.helmbold_slope(4.0)


def test_flutter_point_is_a_solution() -> None:
    """At the flutter point the equations of motion have a real solution."""
    stiffness, mass = SECTION.matrices()
    point = strip_theory.typical_section_flutter(SECTION)
    assert point is not None
    force = strip_theory.section_forces(point.wavenumber, half_chord=1.0, axis=SECTION.axis)[0]
    pressure = 0.5 * point.speed**2 / (np.pi * SECTION.mass_ratio)
    dynamic = stiffness - point.frequency**2 * mass - pressure * force
    assert abs(np.linalg.det(dynamic)) < 1e-9
    assert point.frequency == pytest.approx(point.wavenumber * point.speed)


def test_balanced_section_does_not_flutter() -> None:
    """Mass ahead of the quarter chord and the axis there: no flutter and no divergence."""
    safe = strip_theory.TypicalSection(20.0, -0.5, -0.1, 0.24, 0.4)
    assert strip_theory.typical_section_flutter(safe) is None
    assert strip_theory.typical_section_divergence(safe) == float("inf")
    assert strip_theory.typical_section_steady_flutter(safe) is None


def test_divergence_pressure_ignores_negative_roots() -> None:
    """Only a positive dynamic pressure counts; a fin that unloads itself never diverges."""
    assert strip_theory.divergence_pressure(np.eye(2), np.diag([0.5, -4.0])) == pytest.approx(2.0)
    assert strip_theory.divergence_pressure(np.eye(2), np.diag([-0.5, -4.0])) == float("inf")


def test_scan_needs_wavenumbers() -> None:
    """A scan with nothing to scan gives an error."""
    with pytest.raises(InputError, match="wavenumbers"):
        strip_theory.flutter_points(
            np.eye(1), np.eye(1), lambda k: np.zeros((k.size, 1, 1)), density=1.0, wavenumbers=[0.0]
        )
