"""The integrator: orders, dense output, events."""

import numpy as np
import pytest
from scipy.integrate import RK45

from calc.numerics import integration
from calc.numerics.integration import integrate


def oscillator(t, y):
    """Return the rates of a unit oscillator."""
    return np.array([y[1], -y[0]])


@pytest.mark.parametrize("name", ["A", "B", "C", "E", "P"])
def test_coefficients(name):
    """Every coefficient equals that of SciPy's own Dormand-Prince pair."""
    np.testing.assert_array_equal(getattr(integration, f"_{name}"), getattr(RK45, name))


def test_dense_output():
    """The dense output follows the exact solution between the steps too."""
    run = integrate(oscillator, [0.0, 1.0], begin=0.0, end=10.0, relative=1e-9, absolute=1e-9)
    t = np.linspace(0.0, 10.0, 777)
    np.testing.assert_allclose(run(t)[:, 0], np.sin(t), atol=2e-7)


def test_error_follows_tolerance():
    """A hundred times tighter tolerance cuts the error at least twenty times."""
    errors = []
    for relative in (1e-4, 1e-6, 1e-8):
        run = integrate(
            oscillator, [0.0, 1.0], begin=0.0, end=6.0, relative=relative, absolute=relative
        )
        errors.append(abs(run.end[0] - np.sin(6.0)))
    assert errors[1] < errors[0] / 20
    assert errors[2] < errors[1] / 20


def test_event():
    """The run ends where the event function crosses zero, and the last piece fits."""
    run = integrate(
        oscillator,
        [1.0, 0.0],
        begin=0.0,
        end=9.0,
        relative=1e-9,
        absolute=1e-9,
        event=lambda t, y: y[0],
    )
    assert run.stopped
    assert run.knots[-1] == pytest.approx(np.pi / 2, abs=1e-7)
    assert run(run.knots[-1])[1] == pytest.approx(-1.0, abs=1e-7)
    t = np.linspace(run.knots[-2], run.knots[-1], 9)
    np.testing.assert_allclose(run(t)[:, 0], np.cos(t), atol=1e-7)


def test_gives_up():
    """An end before the start, and too few steps, raise an error."""
    with pytest.raises(ValueError, match="begin"):
        integrate(oscillator, [0.0, 1.0], begin=1.0, end=0.0)
    with pytest.raises(ArithmeticError):
        integrate(oscillator, [0.0, 1.0], begin=0.0, end=1e6, steps=20)
