"""Strip theory against Theodorsen's table, textbook sections, the Goland wing and TN 4197."""

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.linalg import eigh
from scipy.special import hankel2

from calc import aeroelastic
from calc.aeroelastic import flutter_estimate
from tests import strip_theory

DATA = Path(__file__).parent / "data"


def published(name: str) -> dict[str, Any]:
    """Read one file of published cases."""
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


def test_theodorsen_function_table(record: Any) -> None:
    """F and G at eighteen reduced frequencies: NACA TR 496."""
    data = published("theodorsen_tr496")
    table = data["values"]
    found = strip_theory.theodorsen(table["k"])
    for name, ours in (("F", found.real), ("G", found.imag)):
        record(
            case=f"Theodorsen's function {name}",
            parts=[f"k {k:g}" for k in table["k"]],
            published=table[name],
            ours=ours,
            tolerance=f"{table['tolerance']:g}: half a unit of the last digit",
            source=data["source"],
        )
    assert found.real == pytest.approx(table["F"], abs=table["tolerance"])
    assert found.imag == pytest.approx(table["G"], abs=table["tolerance"])


def test_theodorsen_function_against_scipy() -> None:
    """The series agree with SciPy's Hankel functions to 1e-9 from 1e-4 to 300."""
    k = np.concatenate([np.geomspace(1e-4, 14.0, 500), np.linspace(14.01, 300.0, 300)])
    exact = hankel2(1, k) / (hankel2(1, k) + 1j * hankel2(0, k))
    assert np.abs(strip_theory.theodorsen(k) - exact).max() < 1e-9


HODGES = published("hodges_pierce_section")


def test_textbook_section_in_steady_flow(record: Any) -> None:
    """Flutter by merging frequencies, and divergence: Hodges and Pierce."""
    section = strip_theory.TypicalSection(**HODGES["section"])
    case = HODGES["steady"]
    found = strip_theory.typical_section_steady_flutter(section)
    assert found == pytest.approx((case["speed"], case["frequency"]), abs=case["tolerance"])
    divergence = strip_theory.typical_section_divergence(section)
    record(
        case="textbook section, steady flow",
        parts=("flutter speed", "flutter frequency", "divergence speed"),
        published=(case["speed"], case["frequency"], case["divergence"]),
        ours=(*found, divergence),
        tolerance=f"{case['tolerance']:g}: half a unit of the last digit",
        source=HODGES["source"],
    )
    assert divergence == pytest.approx(case["divergence"], abs=case["tolerance"])


@pytest.mark.parametrize("case", HODGES["unsteady"], ids=lambda case: case["method"])
def test_textbook_section_in_unsteady_flow(case: dict[str, Any], record: Any) -> None:
    """The book's two approximate unsteady answers bracket ours within their scatter."""
    point = strip_theory.typical_section_flutter(strip_theory.TypicalSection(**HODGES["section"]))
    assert point is not None
    record(
        case=f"textbook section, {case['method']}",
        parts=("flutter speed", "flutter frequency"),
        published=(case["speed"], case["frequency"]),
        ours=(point.speed, point.frequency),
        tolerance="1 %: the book's two approximate answers differ by as much",
        source=HODGES["source"],
    )
    assert point.speed == pytest.approx(case["speed"], rel=case["tolerance"])
    assert point.frequency == pytest.approx(case["frequency"], rel=case["tolerance"])


def test_textbook_section_with_exact_forces(record: Any) -> None:
    """Independent solution with exact Theodorsen forces."""
    point = strip_theory.typical_section_flutter(strip_theory.TypicalSection(**HODGES["section"]))
    case = HODGES["exact"]
    assert point is not None
    record(
        case="textbook section, exact Theodorsen forces",
        parts=("flutter speed", "flutter frequency", "reduced frequency"),
        published=(case["speed"], case["frequency"], case["k"]),
        ours=(point.speed, point.frequency, point.wavenumber),
        tolerance=f"{case['tolerance']:g}: the digits kept",
        source=case["note"],
        basis="library",
    )
    assert point.speed == pytest.approx(case["speed"], abs=case["tolerance"])
    assert point.frequency == pytest.approx(case["frequency"], abs=case["tolerance"])
    assert point.wavenumber == pytest.approx(case["k"], abs=case["tolerance"])


def test_plate_section_on_springs(record: Any) -> None:
    """A heavy aluminium section of 0.25 m chord, in metres per second: SDPMflut inputs."""
    data = published("sdpmflut_section")
    case, section = data["answer"], strip_theory.TypicalSection(**data["section"])
    scale = np.pi * case["density"] * (0.5 * case["chord"]) ** 2
    assert section.mass_ratio == pytest.approx(case["mass"] / scale, rel=1e-4)
    point = strip_theory.typical_section_flutter(section)
    assert point is not None
    pitch = 2.0 * np.pi * case["pitch_hz"]
    speed = 0.5 * case["chord"] * pitch
    record(
        case="aluminium section on springs",
        parts=("flutter speed, m/s", "frequency, rad/s", "reduced frequency", "divergence, m/s"),
        published=(case["speed"], case["frequency"], case["k"], case["divergence"]),
        ours=(
            point.speed * speed,
            point.frequency * pitch,
            point.wavenumber,
            strip_theory.typical_section_divergence(section) * speed,
        ),
        tolerance="half a unit of the last digit kept",
        source=data["source"],
        basis="library",
    )
    assert point.speed * speed == pytest.approx(case["speed"], abs=0.05)
    assert point.frequency * pitch == pytest.approx(case["frequency"], abs=0.005)
    assert point.wavenumber == pytest.approx(case["k"], abs=5e-5)
    divergence = strip_theory.typical_section_divergence(section) * speed
    assert divergence == pytest.approx(case["divergence"], abs=0.05)


GOLAND = published("goland_1945_wing")
WING = strip_theory.BeamWing(**GOLAND["wing"])


def test_goland_wing_flutter(record: Any) -> None:
    """Flutter speed and frequency of the uniform cantilever wing: Goland 1945."""
    case = GOLAND["flutter"]
    point = strip_theory.beam_flutter(WING, density=case["density"])
    assert point is not None
    record(
        case="uniform cantilever wing, strip theory",
        parts=("flutter speed, m/s", "flutter frequency, rad/s"),
        published=(case["speed"], case["frequency"]),
        ours=(point.speed, point.frequency),
        tolerance="0.5 %: published answers for this wing scatter by as much",
        source=GOLAND["source"],
    )
    assert point.speed == pytest.approx(case["speed"], rel=case["speed_tolerance"])
    assert point.frequency == pytest.approx(case["frequency"], abs=case["frequency_tolerance"])


def test_goland_wing_against_an_independent_galerkin_solution(record: Any) -> None:
    """Speed, frequency and reduced frequency of the same model solved independently."""
    case = GOLAND["flutter_galerkin"]
    point = strip_theory.beam_flutter(WING, density=GOLAND["flutter"]["density"])
    assert point is not None
    assert point.speed == pytest.approx(case["speed"], rel=case["tolerance"])
    assert point.frequency == pytest.approx(case["frequency"], rel=case["tolerance"])
    reduced = point.wavenumber * 0.5 * WING.chord
    record(
        case="uniform cantilever wing, independent solution",
        parts=("flutter speed, m/s", "flutter frequency, rad/s", "reduced frequency"),
        published=(case["speed"], case["frequency"], case["k"]),
        ours=(point.speed, point.frequency, reduced),
        tolerance="0.05 %: the digits kept",
        source=case["note"],
        basis="library",
    )
    assert reduced == pytest.approx(case["k"], rel=case["tolerance"])


def test_goland_wing_dies_away_below_and_grows_above() -> None:
    """The flutter mode dies away below the published speed and grows above it.

    The tolerance is that of the published flutter speed, to either side of it.
    """
    case = GOLAND["flutter"]
    stiffness, mass, strips = strip_theory.beam_system(WING, bending=3, torsion=3)
    squares, shapes = eigh(stiffness, mass)
    nodes, scale = aeroelastic.node_wavenumbers(WING.chord, count=10)
    ratios = np.array([0.8, 0.9, 1.0 - case["speed_tolerance"], 1.0 + case["speed_tolerance"], 1.1])
    # strip theory has no answer at rest itself
    forces = shapes.T @ strips(np.maximum(nodes, 1e-4)) @ shapes
    found = aeroelastic.followed(
        aeroelastic.AirForces(
            np.zeros(ratios.size),
            nodes,
            scale,
            np.broadcast_to(forces, (ratios.size, *forces.shape)),
        ),
        frequency=np.sqrt(squares),
        density=case["density"],
        speeds=ratios * case["speed"],
        start=2,
        oscillation=case["frequency"],
        shape=np.array([1.0, 1.0j, 0.0, 0.0, 0.0, 0.0]),
    )
    assert (found.growth[:3] < 0.0).all()
    assert (found.growth[3:] > 0.0).all()
    at = np.interp(case["speed"], found.speeds, found.frequency)
    assert at == pytest.approx(case["frequency"], abs=case["frequency_tolerance"])


def test_goland_wing_divergence(record: Any) -> None:
    """Divergence speed, closed form and by modes: GEBTAero's published test value."""
    case, density = GOLAND["divergence"], GOLAND["flutter"]["density"]
    exact = strip_theory.beam_divergence(WING, density=density)
    record(
        case="uniform cantilever wing, divergence speed",
        published=case["speed"],
        ours=exact,
        unit="m/s",
        tolerance="1 m/s: the published program's own tolerance",
        source=case["note"],
    )
    assert exact == pytest.approx(case["speed"], abs=case["tolerance"])
    stiffness, _, forces = strip_theory.beam_system(WING)
    pressure = strip_theory.divergence_pressure(stiffness, forces(np.array([0.0]))[0])
    assert np.sqrt(2.0 * pressure / density) == pytest.approx(exact, rel=1e-6)


def test_goland_wing_frequencies(record: Any) -> None:
    """Coupled natural frequencies without air."""
    stiffness, mass, _ = strip_theory.beam_system(WING)
    found = np.sqrt(eigh(stiffness, mass, eigvals_only=True))[:4]
    case = GOLAND["frequencies"]
    record(
        case="uniform cantilever wing in still air",
        parts=[f"mode {k}" for k in range(1, 5)],
        published=case["value"],
        ours=found,
        unit="rad/s",
        tolerance="0.05 %: the digits kept",
        source=case["note"],
        basis="library",
    )
    assert found == pytest.approx(case["value"], rel=case["tolerance"])


TN4197 = published("naca_tn4197")


@pytest.mark.parametrize("case", TN4197["case"])
def test_tn4197_arithmetic(case: dict[str, Any], record: Any) -> None:
    """The criterion's arithmetic with its own constant."""
    inputs = {name: value for name, value in case.items() if name != "speed"}
    found = flutter_estimate.flutter_estimate_tn4197(**inputs)
    record(
        case=f"flutter estimate, aspect ratio {case['aspect_ratio']:g}, "
        f"thickness {case['thickness_ratio']:.1%}, G {case['shear_modulus'] / 1e9:.3g} GPa",
        published=case["speed"],
        ours=found,
        unit="m/s",
        tolerance="half a unit of the last digit; arithmetic only, not a measurement",
        source=TN4197["source"],
        basis="exact",
    )
    assert found == pytest.approx(case["speed"], abs=0.05)


def test_tn4197_constant(record: Any) -> None:
    """24 eps gamma p0/pi is the report's 39.3 psi."""
    constant = 24.0 * flutter_estimate.TN4197_OFFSET * 1.4 * 101325.0 / np.pi / 6894.757
    case = TN4197["constant"]
    record(
        case="constant of the flutter estimate",
        published=case["psi"],
        ours=constant,
        unit="psi",
        tolerance="half a unit of the last printed digit",
        source=TN4197["source"],
    )
    assert constant == pytest.approx(case["psi"], abs=case["tolerance"])
