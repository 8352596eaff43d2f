"""Behaviour of the supersonic strip relations."""

import numpy as np
import pytest

from calc import supersonic
from calc.errors import InputError
from calc.planform import Planform

FIN = Planform(root=0.10, tip=0.05, span=0.06, sweep=0.03)


def shapes(points: np.ndarray) -> np.ndarray:
    """Heave and nose-up pitch about x = 0.04."""
    return np.column_stack([np.ones(len(points)), 0.04 - points[:, 0]])


def slopes(points: np.ndarray) -> np.ndarray:
    """Slopes of the same shapes."""
    along = np.column_stack([np.zeros(len(points)), -np.ones(len(points))])
    return np.stack([along, np.zeros_like(along)])


def test_theories_agree_where_all_hold() -> None:
    """At high Mach number Ackeret, Van Dyke and piston theory give nearly one slope."""
    values = [
        float(supersonic.local_slope(5.0, theory=theory))
        for theory in ("ackeret", "van-dyke", "piston")
    ]
    assert values[0] == pytest.approx(values[1])
    assert values[2] == pytest.approx(values[0], rel=0.025)


def test_sweep_is_the_flow_square_to_the_edge() -> None:
    """A swept strip equals an unswept one at the normal Mach number, in normal quantities."""
    sweep, mach = 0.5, 2.2
    normal = supersonic.ackeret_slope(mach * np.cos(sweep)) * np.cos(sweep)
    assert supersonic.ackeret_slope(mach, sweep=sweep) == pytest.approx(normal)
    first, _ = supersonic.van_dyke_coefficients(mach, sweep=sweep)
    assert 2.0 * first == pytest.approx(normal)
    turned = mach * np.cos(sweep)
    expected = (turned**2 - 2.0) / (turned**2 - 1.0)
    assert supersonic.rate_factor(mach, sweep=sweep) == pytest.approx(expected)


def test_slope_is_the_derivative_of_the_pressure() -> None:
    """The local slope with thickness is the derivative of the two faces' pressure."""
    mach, thickness, step = 3.0, 0.08, 1e-5
    angle = np.array([step, -step])
    lower = supersonic.piston_pressure(thickness + angle, mach=mach)
    upper = supersonic.piston_pressure(thickness - angle, mach=mach)
    slope = ((lower - upper)[0] - (lower - upper)[1]) / (2.0 * step)
    found = supersonic.local_slope(mach, theory="piston", thickness_slope=thickness)
    assert float(found) == pytest.approx(slope, rel=1e-8)
    first, second = supersonic.van_dyke_coefficients(mach)
    found = supersonic.local_slope(mach, thickness_slope=np.array([0.0, thickness]))
    assert found == pytest.approx([2.0 * first, 2.0 * first + 4.0 * second * thickness])


def test_heave_and_pitch_forces() -> None:
    """A flat fin in pitch lifts by its slope times its area, at the area's centre."""
    q = supersonic.generalised_forces(
        FIN, shapes, slopes, mach=2.0, wavenumbers=[0.0, 5.0], theory="ackeret", sweep=0.0
    )
    slope = supersonic.ackeret_slope(2.0)
    assert q[0, 0, 1] == pytest.approx(slope * FIN.area)
    assert q[0, 0, 0] == 0.0
    # Heave: the leading edge moves as the point does, so the whole i k z counts.
    assert q[1, 0, 0] == pytest.approx(-5j * slope * FIN.area)


def test_piston_damping_is_local() -> None:
    """In piston theory every point is damped by its own speed alone."""
    q = supersonic.generalised_forces(
        FIN, shapes, slopes, mach=3.0, wavenumbers=[2.0], theory="piston"
    )[0]
    assert q[1, 1].imag < 0.0
    assert q[0, 0] == pytest.approx(-2j * 4.0 / 3.0 * FIN.area)


def test_thickness_raises_the_load_of_the_nose() -> None:
    """A wedge-shaped nose half and tail half change pitch moment but hardly the lift."""

    def wedge(points: np.ndarray) -> np.ndarray:
        chord = FIN.root + (FIN.tip - FIN.root) * points[:, 1] / FIN.span
        nose = FIN.sweep * points[:, 1] / FIN.span
        return np.where(points[:, 0] < nose + 0.5 * chord, 0.05, -0.05)

    flat = supersonic.generalised_forces(FIN, shapes, slopes, mach=2.5, wavenumbers=[0.0])[0]
    thick = supersonic.generalised_forces(
        FIN, shapes, slopes, mach=2.5, wavenumbers=[0.0], thickness_slope=wedge
    )[0]
    assert thick[0, 1].real == pytest.approx(flat[0, 1].real, rel=1e-6)
    assert thick[1, 1].real > flat[1, 1].real


def test_limits_name_the_reason() -> None:
    """Every reason a case lies outside is given in words; a good case has none."""
    assert supersonic.valid(2.0, sweep=0.5)
    assert not supersonic.valid(1.3, sweep=0.8)
    assert not supersonic.valid(2.0, theory="piston")
    reasons = supersonic.limits(6.0, surface_slope=0.3)
    assert len(reasons) == 2


@pytest.mark.parametrize("mach", [0.8, 1.0])
def test_subsonic_edges_are_refused(mach: float) -> None:
    """No answer is given where the flow square to the edge is not faster than sound."""
    with pytest.raises(InputError, match="mach"):
        supersonic.ackeret_slope(mach)
    with pytest.raises(InputError, match="mach"):
        supersonic.local_slope(1.2, sweep=0.8)


def test_unknown_theory_and_order_are_refused() -> None:
    """Other theories and orders give errors that name what is accepted."""
    with pytest.raises(InputError, match="van-dyke"):
        supersonic.local_slope(2.0, theory="newton")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="order"):
        supersonic.piston_pressure(0.1, mach=3.0, order=4)
