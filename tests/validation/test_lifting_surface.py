"""The lifting surface against published solutions and an independent library."""

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from panelaero import DLM, VLM
from scipy.integrate import quad

from calc.air import lifting_surface as surface
from calc.geometry.planform import Planform
from tests import strip_theory

DATA = Path(__file__).parent / "data"


def published(name: str) -> dict[str, Any]:
    """Read one file of published cases."""
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


TUCK = published("tuck_1993_rectangles")
LIBRARY = published("panelaero_2025_8_rectangle")


def rectangle(aspect_ratio: float) -> Planform:
    """One half of a rectangular wing of unit chord."""
    return Planform(root=1.0, tip=1.0, span=0.5 * aspect_ratio, sweep=0.0)


@pytest.mark.parametrize("case", TUCK["case"])
def test_rectangles_reach_the_accurate_solution(case: dict[str, Any], record: Any) -> None:
    """Lift slope of square and 2:1 wings, extrapolated on the mesh: Tuck 1993."""
    fine, coarse = (
        surface.lift_slope(
            surface.mesh(rectangle(case["aspect_ratio"]), chordwise=n, spanwise=n), mach=0.0
        ).slope
        for n in (24, 12)
    )
    # With the tip inset of Hough the error falls with the square of the box size.
    extrapolated = fine + (fine - coarse) / 3.0
    record(
        case=f"lift slope of a flat rectangle, aspect ratio {case['aspect_ratio']:g}",
        published=case["lift_slope"],
        ours=extrapolated,
        unit="per rad",
        tolerance=f"{case['tolerance']:g}: the digits kept",
        source=TUCK["source"],
    )
    assert extrapolated == pytest.approx(case["lift_slope"], abs=case["tolerance"])


def test_swept_wing_of_four_horseshoes(record: Any) -> None:
    """The textbook's four horseshoes on a swept half wing: Bertin and Smith."""
    data = published("bertin_swept_wing")
    case = data["wing"]
    lattice = surface.mesh(
        Planform(case["chord"], case["chord"], case["span"], case["sweep"]),
        chordwise=case["chordwise"],
        spanwise=case["spanwise"],
        tip_inset=0.0,
    )
    slope = surface.lift_slope(lattice, mach=0.0).slope
    record(
        case="lift slope of a swept wing on four horseshoe vortices",
        published=case["lift_slope"],
        ours=slope,
        unit="per rad",
        tolerance=f"{case['tolerance']:g}: printed strengths of four digits",
        source=data["source"],
    )
    assert slope == pytest.approx(case["lift_slope"], abs=case["tolerance"])


def test_tapered_wing_of_public_vortex_lattice_codes(record: Any) -> None:
    """Lift slope of the planar example wing on the codes' own lattice."""
    data = published("vortex_lattice_wing")
    case = data["wing"]
    lattice = surface.mesh(
        Planform(case["root"], case["tip"], case["span"], case["sweep"]),
        chordwise=case["chordwise"],
        spanwise=case["spanwise"],
        tip_inset=0.0,
    )
    slope = surface.lift_slope(lattice, mach=0.0).slope
    record(
        case="lift slope of a tapered wing of aspect ratio 7.5",
        published=case["lift_slope"],
        ours=slope,
        unit="per rad",
        tolerance=f"{case['tolerance']:.1%}: the example's 2 degrees of twist",
        source=data["source"],
    )
    assert slope == pytest.approx(case["lift_slope"], rel=case["tolerance"])


@pytest.mark.parametrize("half_span", [0.025, 0.05])
def test_slender_delta_has_half_pi_aspect_ratio(half_span: float, record: Any) -> None:
    """Lift slope and centre of pressure of a slender triangle: Jones, NACA TR 835 (1946).

    ``C_L_alpha = pi A/2`` with A of both halves, centre of pressure at two thirds of the chord.
    The limit is approached from below by a share of order A, the tolerance here.
    """
    fin = Planform(root=1.0, tip=0.0, span=half_span, sweep=1.0)
    aspect_ratio = 2.0 * fin.aspect_ratio
    result = surface.lift_slope(surface.mesh(fin, chordwise=24, spanwise=12), mach=0.0)
    record(
        case=f"slender triangle of aspect ratio {aspect_ratio:g}",
        parts=("lift slope, per rad", "centre of pressure over chord"),
        published=(0.5 * np.pi * aspect_ratio, 2.0 / 3.0),
        ours=(result.slope, result.x),
        tolerance=f"{0.5 * aspect_ratio:.0%}: the limit holds up to a share of the aspect ratio",
        source="R. T. Jones, NACA TR 835, 1946",
        basis="exact",
    )
    assert result.slope == pytest.approx(0.5 * np.pi * aspect_ratio, rel=0.5 * aspect_ratio)
    assert result.x == pytest.approx(2.0 / 3.0, rel=0.5 * aspect_ratio)


def oscillating(
    planform: Planform, *, boxes: int, mach: float, k: float, tip_inset: float
) -> tuple[complex, complex, complex]:
    """Lift and moment per pitch about mid-chord, and lift per plunge over b, unit chord."""
    lattice = surface.mesh(planform, chordwise=boxes, spanwise=boxes, tip_inset=tip_inset)
    wavenumber = k / 0.5
    matrix = surface.influence(lattice, mach=mach, wavenumbers=wavenumber)[0]
    x = lattice.control_points[:, 0] - 0.5
    pitch = -1.0 - 1j * wavenumber * x
    plunge = np.full(x.shape, -1j * wavenumber * 0.5)
    load = np.linalg.solve(matrix, np.column_stack([pitch, plunge])) * lattice.areas[:, None]
    arm = lattice.load_points[:, 0] - 0.5
    lift = load.sum(axis=0) / lattice.area
    return lift[0], -(load[:, 0] @ arm) / lattice.area, lift[1]


@pytest.mark.parametrize("case", LIBRARY["case"])
def test_oscillating_rectangle(case: dict[str, Any], record: Any) -> None:
    """Pitch and plunge of a 2:1 wing on the same lattice: PanelAero 2025.8."""
    found = oscillating(
        rectangle(2.0),
        boxes=LIBRARY["lattice"]["boxes"],
        mach=case["mach"],
        k=case["k"],
        tip_inset=0.0,
    )
    for value, name in zip(found, ("lift_pitch", "moment_pitch", "lift_plunge"), strict=True):
        record(
            case=f"oscillating rectangle, Mach {case['mach']:g}, k {case['k']:g}, "
            + name.replace("_", " by "),
            parts=("real", "imaginary"),
            published=case[name],
            ours=(value.real, value.imag),
            scale=abs(complex(*case[name])),
            tolerance="0.00075: half a unit of the last digit kept",
            source=LIBRARY["source"],
            basis="library",
        )
        assert value == pytest.approx(complex(*case[name]), abs=LIBRARY["lattice"]["tolerance"]), (
            name
        )


def library_grid(lattice: surface.Mesh) -> dict[str, Any]:
    """Describe a lattice and its mirror image the way PanelAero wants it."""
    half = np.repeat(lattice.strip_half_widths, lattice.chordwise)
    ends = np.column_stack([lattice.sweeps * half, half])
    size = lattice.size

    def both(points: np.ndarray, mirrored: np.ndarray) -> np.ndarray:
        flipped = mirrored * np.array([1.0, -1.0])
        return np.column_stack([np.vstack([points, flipped]), np.zeros(2 * size)])

    load = lattice.load_points
    return {
        "n": 2 * size,
        "offset_j": both(lattice.control_points, lattice.control_points),
        "offset_l": both(load, load),
        "offset_k": both(load, load),
        "offset_P1": both(load - ends, load + ends),
        "offset_P3": both(load + ends, load - ends),
        "N": np.tile([0.0, 0.0, 1.0], (2 * size, 1)),
        "A": np.tile(lattice.areas, 2),
        "l": np.tile(lattice.chords, 2),
    }


def library_influence(lattice: surface.Mesh, *, mach: float, k: float) -> np.ndarray:
    """Influence matrix of the library for symmetric motion, in our sign convention."""
    size = lattice.size
    full = VLM.calc_Ajj(library_grid(lattice), mach)[0].astype(complex)
    if k > 0.0:
        full = full + DLM.calc_Ajj(library_grid(lattice), mach, k, "quartic")
    return full[:size, :size] + full[:size, size:]


@pytest.mark.parametrize("mach", [0.0, 0.5, 0.8])
@pytest.mark.parametrize(
    "fin",
    [
        Planform(root=1.0, tip=0.5, span=0.5, sweep=0.5),
        Planform(root=0.5587, tip=0.3682, span=0.762, sweep=0.8096),
        Planform(root=1.0, tip=0.3, span=0.8, sweep=-0.2),
        Planform(root=1.0, tip=0.15, span=0.4, sweep=0.9),
    ],
)
def test_swept_fins_match_the_library(fin: Planform, mach: float, record: Any) -> None:
    """Whole influence matrices of swept tapered fins: PanelAero 2025.8, quartic, same lattice."""
    lattice = surface.mesh(fin, chordwise=5, spanwise=6)
    wavenumbers = np.array([0.0, 0.05, 0.4, 1.5, 4.0])
    ours = surface.influence(lattice, mach=mach, wavenumbers=wavenumbers)
    for matrix, k in zip(ours, wavenumbers, strict=True):
        theirs = library_influence(lattice, mach=mach, k=k)
        if k == wavenumbers[-1]:
            # which of 900 differences is largest is chance: all are the last bits of arithmetic
            largest = np.unravel_index(np.abs(theirs).argmax(), theirs.shape)
            record(
                case=f"influence of boxes, Mach {mach:g}, {k:g} rad/m, largest of 900, "
                f"fin {fin.root:g}/{fin.tip:g}/{fin.span:g}/{fin.sweep:g} m",
                published=abs(theirs[largest]),
                ours=abs(matrix[largest]),
                scale=np.abs(theirs).max(),
                tolerance="1e-9 of the largest, for all: same method, independent code",
                source=LIBRARY["source"],
                basis="library",
            )
        assert np.abs(matrix - theirs).max() < 1e-9 * np.abs(theirs).max()


def unsteady_kernel(x0: float, y0: float, k: float, mach: float) -> complex:
    """Landahl's planar kernel less its steady value, its integral done numerically."""
    r = abs(y0)
    beta2 = 1.0 - mach**2
    distance = np.sqrt(x0**2 + beta2 * r**2)
    u = (mach * distance - x0) / (beta2 * r)
    kr = k * r

    def part(function: Callable[[float], float]) -> float:
        # The substitution u = tan(angle) makes the range finite.
        return quad(
            lambda angle: function(kr * np.tan(angle)) * np.cos(angle),
            np.arctan(u),
            np.pi / 2,
            epsabs=1e-7,
            limit=60,
        )[0]

    integral = part(np.cos) - 1j * part(np.sin)
    tail = mach * r * np.exp(-1j * kr * u) / (distance * np.sqrt(1.0 + u * u))
    return complex(np.exp(-1j * k * x0) * (integral + tail) - 1.0 - x0 / distance)


@pytest.mark.filterwarnings("ignore::scipy.integrate.IntegrationWarning")
@pytest.mark.parametrize(("mach", "k"), [(0.0, 0.8), (0.6, 0.8), (0.8, 2.0)])
def test_boxes_against_direct_integration(mach: float, k: float, record: Any) -> None:
    """The unsteady action of a box, near and far, against quadrature of Landahl's kernel (1967).

    The kernel holds a term k^2 r^2 log r that no quartic can follow. Interpolating t^2 log t at
    five points over (-1, 1) leaves 0.768 of the integral 2, so the action is off by up to
    0.77 k^2 e chord/(8 pi), e half the strip; that and 1e-5 for the exponential fit is the
    tolerance.
    """
    fin = Planform(root=1.0, tip=0.7, span=1.0, sweep=0.6)
    lattice = surface.mesh(fin, chordwise=4, spanwise=5, tip_inset=0.0)
    still, moving = surface.influence(lattice, mach=mach, wavenumbers=[0.0, k], image=False)
    half, sender = lattice.strip_half_widths[0], 5
    nodes, weights = np.polynomial.legendre.leggauss(10)
    # Split at mid-strip, where the kernel of the box's own strip has a weak singularity.
    eta = 0.5 * half * np.concatenate([nodes - 1.0, nodes + 1.0])
    weight = 0.5 * half * np.concatenate([weights, weights])
    remainder = 0.77 * k**2 * half * lattice.chords[sender] / (8.0 * np.pi)
    for receiver in (3, 4, 5, 7, 10, 19):
        offset = lattice.control_points[receiver] - lattice.load_points[sender]
        x0 = offset[0] - lattice.sweeps[sender] * eta
        y0 = offset[1] - eta
        kernel = np.array([unsteady_kernel(x, y, k, mach) for x, y in zip(x0, y0, strict=True)])
        # On its own strip the integral is Hadamard's finite part about the value at mid-strip.
        within = abs(offset[1]) < half
        middle = 2.0 * (np.exp(-1j * k * offset[0]) - 1.0) if within and offset[0] > 0.0 else 0.0
        exact = np.sum(weight * (kernel - middle) / y0**2) - 2.0 * middle / half
        exact *= lattice.chords[sender] / (8.0 * np.pi)
        found = moving[receiver, sender] - still[receiver, sender]
        record(
            case=f"unsteady action of box 5 on box {receiver}, Mach {mach:g}, k {k:g}",
            parts=("real", "imaginary"),
            published=(exact.real, exact.imag),
            ours=(found.real, found.imag),
            scale=np.abs(moving[:, sender]).max(),
            tolerance=f"{remainder + 1e-5:.1g}: the part of the kernel that no quartic follows",
            source="M. T. Landahl, AIAA J. 5, 1967, integrated numerically",
            basis="exact",
        )
        assert abs(found - exact) < remainder + 1e-5, receiver


@pytest.mark.parametrize(
    ("k", "span", "strips"), [(0.1, 60.0, 60), (0.3, 10.0, 50), (0.6, 10.0, 50), (1.0, 10.0, 50)]
)
def test_long_wing_reaches_theodorsen(k: float, span: float, strips: int, record: Any) -> None:
    """Lift and moment at the root of a very long wing, extrapolated: Theodorsen, NACA TR 496.

    The error falls with the box size, so two lattices extrapolate. The tolerance of 2 % covers
    the finite span: steady lift would be 2 to 3 % low, and the share falls as k rises.
    """
    exact = strip_theory.section_forces(k / 0.5, half_chord=0.5, axis=0.0)[0]
    results = []
    for boxes in (6, 12):
        lattice = surface.mesh(
            Planform(root=1.0, tip=1.0, span=span, sweep=0.0),
            chordwise=boxes,
            spanwise=strips * boxes // 12,
        )
        x = lattice.control_points[:, 0] - 0.5
        wash = np.column_stack([np.full(x.shape, 2j * k), -1.0 - 2j * k * x])
        matrix = surface.influence(lattice, mach=0.0, wavenumbers=k / 0.5)[0]
        load = np.linalg.solve(matrix, wash)[:boxes] / boxes
        arm = lattice.load_points[:boxes, 0] - 0.5
        results.append(np.array([load.sum(axis=0), -(arm @ load)]))
    extrapolated = 2.0 * results[1] - results[0]
    record(
        case=f"root of a very long wing, k {k:g}, size of",
        parts=("lift by plunge", "lift by pitch", "moment by plunge", "moment by pitch"),
        published=np.abs(exact).ravel(),
        ours=np.abs(extrapolated).ravel(),
        tolerance="2 %: the wing's span is finite",
        source="T. Theodorsen, NACA TR 496, 1935",
        basis="exact",
    )
    assert np.all(np.abs(extrapolated / exact - 1.0) < 0.02)
