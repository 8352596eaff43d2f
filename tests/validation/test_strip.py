"""Strip theory against Theodorsen's table, textbook sections, the Goland wing and TN 4197."""

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.linalg import eigh
from scipy.special import hankel2

from calc import strip

DATA = Path(__file__).parent / "data"


def published(name: str) -> dict[str, Any]:
    """Read one file of published cases."""
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


def test_theodorsen_function_table() -> None:
    """F and G at eighteen reduced frequencies: NACA TR 496."""
    table = published("theodorsen_tr496")["values"]
    found = strip.theodorsen(table["k"])
    assert found.real == pytest.approx(table["F"], abs=table["tolerance"])
    assert found.imag == pytest.approx(table["G"], abs=table["tolerance"])


def test_theodorsen_function_against_scipy() -> None:
    """The series agree with SciPy's Hankel functions to 1e-9 from 1e-4 to 300."""
    k = np.concatenate([np.geomspace(1e-4, 14.0, 500), np.linspace(14.01, 300.0, 300)])
    exact = hankel2(1, k) / (hankel2(1, k) + 1j * hankel2(0, k))
    assert np.abs(strip.theodorsen(k) - exact).max() < 1e-9


HODGES = published("hodges_pierce_section")


def test_textbook_section_in_steady_flow() -> None:
    """Flutter by merging frequencies, and divergence: Hodges and Pierce."""
    section = strip.TypicalSection(**HODGES["section"])
    case = HODGES["steady"]
    found = strip.typical_section_steady_flutter(section)
    assert found == pytest.approx((case["speed"], case["frequency"]), abs=case["tolerance"])
    divergence = strip.typical_section_divergence(section)
    assert divergence == pytest.approx(case["divergence"], abs=case["tolerance"])


@pytest.mark.parametrize("case", HODGES["unsteady"], ids=lambda case: case["method"])
def test_textbook_section_in_unsteady_flow(case: dict[str, Any]) -> None:
    """The book's two approximate unsteady answers bracket ours within their scatter."""
    point = strip.typical_section_flutter(strip.TypicalSection(**HODGES["section"]))
    assert point is not None
    assert point.speed == pytest.approx(case["speed"], rel=case["tolerance"])
    assert point.frequency == pytest.approx(case["frequency"], rel=case["tolerance"])


def test_textbook_section_with_exact_forces() -> None:
    """Independent solution with exact Theodorsen forces."""
    point = strip.typical_section_flutter(strip.TypicalSection(**HODGES["section"]))
    case = HODGES["exact"]
    assert point is not None
    assert point.speed == pytest.approx(case["speed"], abs=case["tolerance"])
    assert point.frequency == pytest.approx(case["frequency"], abs=case["tolerance"])
    assert point.wavenumber == pytest.approx(case["k"], abs=case["tolerance"])


def test_plate_section_on_springs() -> None:
    """A heavy aluminium section of 0.25 m chord, in metres per second: SDPMflut inputs."""
    data = published("sdpmflut_section")
    case, section = data["answer"], strip.TypicalSection(**data["section"])
    scale = np.pi * case["density"] * (0.5 * case["chord"]) ** 2
    assert section.mass_ratio == pytest.approx(case["mass"] / scale, rel=1e-4)
    point = strip.typical_section_flutter(section)
    assert point is not None
    pitch = 2.0 * np.pi * case["pitch_hz"]
    speed = 0.5 * case["chord"] * pitch
    assert point.speed * speed == pytest.approx(case["speed"], abs=0.05)
    assert point.frequency * pitch == pytest.approx(case["frequency"], abs=0.005)
    assert point.wavenumber == pytest.approx(case["k"], abs=5e-5)
    divergence = strip.typical_section_divergence(section) * speed
    assert divergence == pytest.approx(case["divergence"], abs=0.05)


GOLAND = published("goland_1945_wing")
WING = strip.BeamWing(**GOLAND["wing"])


def test_goland_wing_flutter() -> None:
    """Flutter speed and frequency of the uniform cantilever wing: Goland 1945."""
    case = GOLAND["flutter"]
    point = strip.beam_flutter(WING, density=case["density"])
    assert point is not None
    assert point.speed == pytest.approx(case["speed"], rel=case["speed_tolerance"])
    assert point.frequency == pytest.approx(case["frequency"], abs=case["frequency_tolerance"])


def test_goland_wing_against_an_independent_galerkin_solution() -> None:
    """Speed, frequency and reduced frequency of the same model solved independently."""
    case = GOLAND["flutter_galerkin"]
    point = strip.beam_flutter(WING, density=GOLAND["flutter"]["density"])
    assert point is not None
    assert point.speed == pytest.approx(case["speed"], rel=case["tolerance"])
    assert point.frequency == pytest.approx(case["frequency"], rel=case["tolerance"])
    reduced = point.wavenumber * 0.5 * WING.chord
    assert reduced == pytest.approx(case["k"], rel=case["tolerance"])


def test_goland_wing_divergence() -> None:
    """Divergence speed, closed form and by modes: GEBTAero's published test value."""
    case, density = GOLAND["divergence"], GOLAND["flutter"]["density"]
    exact = strip.beam_divergence(WING, density=density)
    assert exact == pytest.approx(case["speed"], abs=case["tolerance"])
    stiffness, _, forces = strip.beam_system(WING)
    pressure = strip.divergence_pressure(stiffness, forces(np.array([0.0]))[0])
    assert np.sqrt(2.0 * pressure / density) == pytest.approx(exact, rel=1e-6)


def test_goland_wing_frequencies() -> None:
    """Coupled natural frequencies without air."""
    stiffness, mass, _ = strip.beam_system(WING)
    found = np.sqrt(eigh(stiffness, mass, eigvals_only=True))[:4]
    case = GOLAND["frequencies"]
    assert found == pytest.approx(case["value"], rel=case["tolerance"])


TN4197 = published("naca_tn4197")


@pytest.mark.parametrize("case", TN4197["case"])
def test_tn4197_arithmetic(case: dict[str, Any]) -> None:
    """The criterion's arithmetic with its own constant."""
    inputs = {name: value for name, value in case.items() if name != "speed"}
    assert strip.flutter_estimate_tn4197(**inputs) == pytest.approx(case["speed"], abs=0.05)


def test_tn4197_constant() -> None:
    """24 eps gamma p0/pi is the report's 39.3 psi."""
    constant = 24.0 * strip.TN4197_OFFSET * 1.4 * 101325.0 / np.pi / 6894.757
    case = TN4197["constant"]
    assert constant == pytest.approx(case["psi"], abs=case["tolerance"])
