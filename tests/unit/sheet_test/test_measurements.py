"""Readings of sheet tests: errors, limits of the formulas and impossible values."""

from __future__ import annotations

import math

import pytest

from calc.errors import InputError, ValidityError
from calc.sheet_test import measurements, mechanics
from calc.sheet_test.measurements import Reading


def test_thickness_error_includes_the_gauge() -> None:
    """Many readings average out the scatter but not the gauge's own error."""
    many = measurements.thickness_reading(readings=[2.4e-3, 2.5e-3] * 200, error=3e-5)
    assert many.value == pytest.approx(2.45e-3)
    assert many.error == pytest.approx(3e-5, rel=0.01)
    one = measurements.thickness_reading(readings=[2.4e-3], error=3e-5)
    assert one.error == pytest.approx(3e-5 * math.sqrt(2.0))


def test_too_much_load_is_outside_the_model() -> None:
    """A strip hanging down, a span bent by a tenth and a folded plate raise ValidityError."""
    with pytest.raises(ValidityError):
        measurements.Cantilever("along", Reading(0.3), Reading(0.02), Reading(0.28, 1e-3))
    with pytest.raises(ValidityError):
        measurements.Flex("along", Reading(0.1), Reading(0.02), Reading(0.1), Reading(0.02, 1e-4))
    with pytest.raises(ValidityError):
        measurements.PlateTwist(Reading(0.1), Reading(0.1), Reading(0.1), Reading(0.02, 1e-4))


def test_bad_readings_are_named() -> None:
    """Zero lengths, missing errors and unknown directions raise InputError."""
    good = {"length": Reading(0.3, 1e-3), "width": Reading(0.02), "sag": Reading(0.02, 5e-4)}
    with pytest.raises(InputError, match="length"):
        measurements.Cantilever("along", **{**good, "length": Reading(0.0)})
    with pytest.raises(InputError, match="cantilever"):
        measurements.Cantilever("along", **{**good, "sag": Reading(0.02)})
    with pytest.raises(InputError, match="direction"):
        measurements.Cantilever("diagonal", **good)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="error"):
        Reading(1.0, -1.0)
    with pytest.raises(InputError, match="thickness"):
        measurements.thickness_reading(readings=[], error=1e-5)
    with pytest.raises(InputError, match="mode"):
        mechanics.strip_tone(modulus=1e9, density=100.0, thickness=1e-3, length=0.1, mode=4)
