"""Supersonic strip relations against tabulated cases and exact two-dimensional theory."""

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import jv

from calc import supersonic
from calc.planform import Planform

DATA = Path(__file__).parent / "data"
TABLE = tomllib.loads((DATA / "supersonic_plate.toml").read_text(encoding="utf-8"))
TOLERANCE = TABLE["check"]["tolerance"]


@pytest.mark.parametrize("case", TABLE["case"])
@pytest.mark.parametrize("side", ["plus", "minus"])
def test_pressure_of_a_turned_face(case: dict[str, Any], side: str, record: Any) -> None:
    """First, second and third order pressure of a face at 5 degrees."""
    mach = case["mach"]
    theta = np.radians(5.0 if side == "plus" else -5.0)
    first, second = supersonic.van_dyke_coefficients(mach)
    found = {
        "linear": supersonic.piston_pressure(theta, mach=mach, order=1),
        "third": supersonic.piston_pressure(theta, mach=mach),
        "ackeret": 0.5 * supersonic.ackeret_slope(mach) * theta,
        "second": first * theta + second * theta**2,
    }
    for name, value in found.items():
        record(
            case=f"face turned 5 degrees {'into' if side == 'plus' else 'away from'} the stream, "
            f"Mach {mach:g}, {name}",
            published=case[side][name],
            ours=float(value),
            tolerance=f"{TOLERANCE:g}: half a unit of the last digit, doubled for both sides",
            source=TABLE["source"],
        )
        assert float(value) == pytest.approx(case[side][name], abs=TOLERANCE), name
    assert found["third"] == pytest.approx(case[side]["simple_wave"], abs=1e-3)


@pytest.mark.parametrize("case", TABLE["case"])
def test_slopes(case: dict[str, Any], record: Any) -> None:
    """Slopes of both faces together: 4/beta and 4/M."""
    mach = case["mach"]
    found = supersonic.ackeret_slope(mach), float(supersonic.local_slope(mach, theory="piston"))
    record(
        case=f"pressure slope of both faces, Mach {mach:g}",
        parts=("Ackeret", "piston"),
        published=(case["ackeret_slope"], case["piston_slope"]),
        ours=found,
        tolerance="0.0006: half a unit of the last digit",
        source=TABLE["source"],
    )
    assert found[0] == pytest.approx(case["ackeret_slope"], abs=6e-4)
    assert found[1] == pytest.approx(case["piston_slope"], abs=6e-4)


@pytest.mark.parametrize("mach", [2.0, 3.0])
def test_second_order_against_the_oblique_shock(mach: float, record: Any) -> None:
    """A 5 degree wedge: exact shock relations of NACA Report 1135 (1953).

    Second-order theory leaves a term of third order, about theta^3, which is the tolerance.
    """
    theta = np.radians(5.0)
    # Wave angle from the theta-beta-M relation, the weak root by bisection from the Mach angle.
    low, high = np.arcsin(1.0 / mach), np.radians(60.0)
    for _ in range(80):
        wave = 0.5 * (low + high)
        normal = (mach * np.sin(wave)) ** 2
        turn = np.arctan(
            2.0 / np.tan(wave) * (normal - 1.0) / (mach**2 * (1.4 + np.cos(2.0 * wave)) + 2.0)
        )
        low, high = (wave, high) if turn < theta else (low, wave)
    exact = 4.0 / (2.4 * mach**2) * (normal - 1.0)
    first, second = supersonic.van_dyke_coefficients(mach)
    found = first * theta + second * theta**2
    record(
        case=f"pressure on a 5 degree wedge, Mach {mach:g}",
        published=exact,
        ours=found,
        tolerance=f"{3.0 * theta**3:.2g}: what a second-order theory leaves out",
        source="Ames Research Staff, NACA Report 1135, 1953, exact oblique shock",
        basis="exact",
    )
    assert found == pytest.approx(exact, abs=3.0 * theta**3)


def exact_forces(mach: float, k: float, chord: float) -> np.ndarray:
    """Heave and pitch (about the nose) forces of a strip by exact linear theory.

    ``phi(x) = -(1/beta) int_0^x w(s) exp(-i nu (x-s)) J0(nu (x-s)/M) ds``, nu = k M^2/beta^2,
    and ``cp = (p_lower - p_upper)/q = 4 (d/dx + i k) phi`` (Garrick and Rubinow, NACA TR 846).
    """
    beta = np.sqrt(mach**2 - 1.0)
    nu = k * mach**2 / beta**2
    nodes, weights = np.polynomial.legendre.leggauss(24)
    x, weight = 0.5 * chord * (nodes + 1.0), 0.5 * chord * weights

    def kernel(s: float) -> complex:
        return complex(np.exp(-1j * nu * s) * jv(0, nu * s / mach))

    def rate(s: float) -> complex:
        return complex(
            np.exp(-1j * nu * s)
            * (-1j * nu * jv(0, nu * s / mach) - nu / mach * jv(1, nu * s / mach))
        )

    result = np.zeros((2, 2), dtype=complex)
    for column, wash in enumerate((lambda s: 1j * k, lambda s: -1.0 - 1j * k * s)):
        load = []
        for place in x:

            def integrand(s: float, place: float = place, wash: Any = wash) -> complex:
                return wash(s) * (rate(place - s) + 1j * k * kernel(place - s))

            integral = sum(
                unit * quad(lambda s, p=pick: getattr(integrand(s), p), 0.0, place)[0]
                for pick, unit in (("real", 1.0), ("imag", 1j))
            )
            load.append(-(wash(place) + integral) * 4.0 / beta)
        result[0, column] = weight @ np.array(load)
        result[1, column] = weight @ (np.array(load) * -x)
    return result


@pytest.mark.parametrize("mach", [1.5, 2.0, 3.0])
def test_slow_motion_against_exact_linear_theory(mach: float, record: Any) -> None:
    """Damping and stiffness of heave and pitch: exact oscillating theory, first order in k.

    Halving the frequency must cut the difference of the forces by at least three and a half
    times, since what is left out is of second order.
    """
    strip = Planform(root=1.0, tip=1.0, span=1.0, sweep=0.0)

    def shapes(points: np.ndarray) -> np.ndarray:
        return np.column_stack([np.ones(len(points)), -points[:, 0]])

    def slopes(points: np.ndarray) -> np.ndarray:
        along = np.column_stack([np.zeros(len(points)), -np.ones(len(points))])
        return np.stack([along, np.zeros_like(along)])

    differences = []
    for k in (0.08, 0.04):
        found = supersonic.generalised_forces(
            strip, shapes, slopes, mach=mach, wavenumbers=[k], theory="ackeret"
        )[0]
        exact = exact_forces(mach, k, 1.0)
        record(
            case=f"slow motion of a strip, Mach {mach:g}, k {k:g}, size of",
            parts=("lift by heave", "lift by pitch", "moment by heave", "moment by pitch"),
            published=np.abs(exact).ravel(),
            ours=np.abs(found).ravel(),
            scale=supersonic.ackeret_slope(mach),
            tolerance="1 % of the pressure slope at k 0.04, falling with the square of k",
            source="I. E. Garrick and S. I. Rubinow, NACA TR 846, 1946, integrated numerically",
            basis="exact",
        )
        differences.append(np.abs(found - exact))
    assert np.all(differences[1] < differences[0] / 3.5)
    assert differences[1].max() < 0.01 * supersonic.ackeret_slope(mach)
