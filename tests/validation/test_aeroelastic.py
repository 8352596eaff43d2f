"""Flutter and divergence of real wings, from published constants alone, against wind tunnels."""

import math
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from calc import aeroelastic
from calc.air import lifting_surface
from calc.fin import model, policy
from calc.geometry.planform import Edge, Planform
from calc.structure import plate

DATA = Path(__file__).parent / "data"


def published(name: str) -> dict[str, Any]:
    """Return a data file."""
    return tomllib.loads((DATA / f"{name}.toml").read_text())


WOOD = published("nasa_tm_100492_wing")
WOOD_FLUTTER = published("nasa_tm_100492_flutter")
METAL = published("naca_rm_l55e11_plate")
METAL_FLUTTER = published("naca_rm_l55e11_flutter")
LAMINATE = published("hollowell_dugundji_1984")

FOOT, INCH, PSI, POUND = 0.3048, 0.0254, 6894.757293168, 0.45359237
SLUG_PER_CUBIC_FOOT = 515.378818


def sheet(case: dict[str, Any], angle: float) -> np.ndarray:
    """Plane-stress stiffness [Pa] in (x, y), fibre at `angle` [rad] from x (Jones 1999, 2.84)."""
    e1, e2, g, nu = (
        case[name] for name in ("modulus_along", "modulus_across", "shear_modulus", "poisson")
    )
    share = 1.0 - nu * nu * e2 / e1
    q = np.array([[e1 / share, nu * e2 / share, 0], [nu * e2 / share, e2 / share, 0], [0, 0, g]])
    c, s = math.cos(angle), math.sin(angle)
    back = np.array(
        [[c * c, s * s, -2 * c * s], [s * s, c * c, 2 * c * s], [c * s, -c * s, c * c - s * s]]
    )
    return back @ q @ back.T


def solved_forces(
    planform: Planform,
    system: plate.System,
    points: list[tuple[float, float]],
    *,
    boxes: tuple[int, int] = (6, 8),
    tip_inset: float = 0.0,
    modes: int = 6,
) -> tuple[aeroelastic.AirForces, np.ndarray]:
    """Return forces on the modes at the Mach numbers of points, and frequencies [rad/s]."""
    machs = np.array([mach for mach, _ in points])
    mesh = lifting_surface.mesh(
        planform, chordwise=boxes[0], spanwise=boxes[1], tip_inset=tip_inset
    )
    nodes, scale = aeroelastic.node_wavenumbers(planform.mean_chord, highest=1.0)
    grid = aeroelastic.air_grid(
        influence=lifting_surface.influence(mesh, mach=machs, wavenumbers=nodes),
        areas=mesh.areas,
        load_points=mesh.load_points,
        control_points=mesh.control_points,
        machs=machs,
        nodes=nodes,
        scale=scale,
    )
    found = plate.modes(system, count=modes)
    return grid.on_modes(system.basis, found.shapes), found.frequency


def solved(
    planform: Planform,
    system: plate.System,
    points: list[tuple[float, float]],
    **options: Any,
) -> tuple[aeroelastic.Flutter, np.ndarray]:
    """Flutter and divergence speed at points (Mach number, density), as a check would compute."""
    _, densities = (np.array(column) for column in zip(*points, strict=True))
    forces, frequency = solved_forces(planform, system, points, **options)
    flutter = aeroelastic.flutter(forces, frequency=frequency, density=densities)
    pressure = aeroelastic.divergence_pressure(forces, frequency=frequency)
    return flutter, np.sqrt(2.0 * pressure / densities)


WING = Planform(WOOD["root"], WOOD["tip"], WOOD["span"], WOOD["sweep"])
WEIGHED = WOOD["panel_mass"] / WOOD["panel_volume"]


def wooden_wing(
    density: float, *, fibre: float = WOOD["fibre_degrees"], terms: tuple[int, int] = (6, 7)
) -> plate.System:
    """Return the mahogany wing: section, fibre direction and constants as published."""
    thickness = 2.0 * max(WOOD["half_thickness"]) / 100.0 * WOOD["root"]

    def section(xi: np.ndarray, eta: np.ndarray) -> np.ndarray:
        half = np.interp(xi, np.array(WOOD["station"]) / 100, WOOD["half_thickness"])
        chord = 1.0 + (WOOD["tip"] / WOOD["root"] - 1.0) * eta
        return np.asarray(half / max(WOOD["half_thickness"]) * chord)

    angle = math.radians(90.0 - fibre)
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    through = WOOD["shear_modulus"] * np.diag([1.0, 0.5])
    return plate.assemble(
        plate.prepare(WING, section=section, spanwise=terms[0], chordwise=terms[1]),
        bending=sheet(WOOD, angle) * thickness**3 / 12.0,
        areal_mass=density * thickness,
        transverse_shear=turn.T @ through @ turn * thickness * 5.0 / 6.0,
    )


def wooden_points(rows: str = "point") -> list[tuple[float, float]]:
    """Mach number and density [kg/m3] of the tests."""
    return [
        (row["mach"], row["density_slug_ft3"] * SLUG_PER_CUBIC_FOOT) for row in WOOD_FLUTTER[rows]
    ]


@pytest.mark.parametrize(
    "density", [WEIGHED, WOOD_FLUTTER["conditions"]["light_density"]], ids=["weighed", "usual"]
)
def test_wooden_wing_flutter_speed(density: float, record: Any) -> None:
    """Measured flutter speed within 8 % at Mach 0.499 to 0.901 and 14 % at 0.960, nothing tuned."""
    flutter, _ = solved(WING, wooden_wing(density), wooden_points())
    for row, speed in zip(WOOD_FLUTTER["point"], flutter.speed, strict=True):
        record(
            case=f"AGARD 445.6 wooden wing of {density:.0f} kg/m3, Mach {row['mach']:.3f}: "
            "flutter speed",
            published=row["speed_ft_s"] * FOOT,
            ours=speed,
            unit="m/s",
            tolerance=f"{row['tolerance']:.0%}: wood constants alone, nothing tuned; "
            "independent predictions of this wing came out 5 to 16 % high",
            source=WOOD_FLUTTER["source"],
            basis="measured",
        )
        assert speed == pytest.approx(row["speed_ft_s"] * FOOT, rel=row["tolerance"])


@pytest.mark.parametrize("place", range(len(WOOD_FLUTTER["point"])))
def test_wooden_wing_dies_away_below_and_grows_above(place: int) -> None:
    """Below the speed measured in the tunnel the flutter mode dies away, above it grows.

    By how much below and above is the tolerance of the measured speed, as above.
    """
    row = WOOD_FLUTTER["point"][place]
    system = wooden_wing(WEIGHED)
    flutter, _ = solved(WING, system, [wooden_points()[place]])
    forces, frequency = solved_forces(WING, system, [wooden_points()[place]])
    measured = row["speed_ft_s"] * FOOT
    ratios = np.array([0.8, 1.0 - row["tolerance"], 1.0, 1.0 + row["tolerance"], 1.2])
    every = np.broadcast_to(forces.forces, (ratios.size, *forces.forces.shape[1:]))
    found = aeroelastic.followed(
        replace(forces, forces=every),
        frequency=frequency,
        density=wooden_points()[place][1],
        speeds=ratios * measured,
        start=2,
        oscillation=float(flutter.frequency[0]),
        shape=flutter.shape[0],
    )
    assert (found.growth[:2] < 0.0).all()
    assert (found.growth[3:] > 0.0).all()


def test_wooden_wing_on_a_fine_lattice(record: Any) -> None:
    """A finer lattice answers later, further from the tunnel: the usual one's error helps here."""
    system = wooden_wing(WEIGHED)
    usual, _ = solved(WING, system, wooden_points())
    fine, _ = solved(WING, system, wooden_points(), boxes=(16, 20), tip_inset=0.25)
    record(
        case=f"AGARD 445.6 wooden wing of {WEIGHED:.0f} kg/m3, lattice of 16 by 20 boxes: "
        "flutter speed",
        parts=[f"Mach {row['mach']:.3f}" for row in WOOD_FLUTTER["point"]],
        published=[row["speed_ft_s"] * FOOT for row in WOOD_FLUTTER["point"]],
        ours=fine.speed,
        unit="m/s",
        tolerance="none promised: shows what the usual lattice's early side contributes",
        within=None,
        source=WOOD_FLUTTER["source"],
        basis="measured",
    )
    assert np.all(fine.speed > usual.speed)


def test_wooden_wing_flutter_frequency(record: Any) -> None:
    """Flutter frequency within 20 % of the measured one: the model's second mode is 1 % high."""
    flutter, _ = solved(WING, wooden_wing(WEIGHED), wooden_points())
    measured = np.array([row["frequency_rad_s"] for row in WOOD_FLUTTER["point"]])
    record(
        case=f"AGARD 445.6 wooden wing of {WEIGHED:.0f} kg/m3, flutter frequency",
        parts=[f"Mach {row['mach']:.3f}" for row in WOOD_FLUTTER["point"]],
        published=measured,
        ours=flutter.frequency,
        unit="rad/s",
        tolerance="20 %: the frequency moves faster along the boundary than the speed",
        source=WOOD_FLUTTER["source"],
        basis="measured",
    )
    assert np.allclose(flutter.frequency, measured, rtol=0.20)


def test_wooden_wing_with_the_fibre_turned() -> None:
    """With the fibre square to the root the wing would flutter far too early at every point."""
    flutter, _ = solved(WING, wooden_wing(WEIGHED, fibre=0.0), wooden_points())
    for row, speed in zip(WOOD_FLUTTER["point"], flutter.speed, strict=True):
        assert speed < (1.0 - row["tolerance"]) * row["speed_ft_s"] * FOOT


METAL_FIN = Planform(
    METAL["chord_in"] * INCH,
    METAL["chord_in"] * INCH,
    METAL["span_in"] * INCH,
    METAL["sweep_in"] * INCH,
)


def metal_plate(root_spring: np.ndarray | float | None = None) -> plate.System:
    """Return the swept aluminium plate with bevelled edges."""
    modulus, shear = METAL["modulus_psi"] * PSI, METAL["shear_modulus_psi"] * PSI
    nu, thickness = modulus / (2.0 * shear) - 1.0, METAL["thickness_in"] * INCH
    stiffness = modulus * thickness**3 / 12.0 / (1.0 - nu * nu)
    return plate.assemble(
        plate.prepare(METAL_FIN, edge=Edge("tapered", METAL["bevel_fraction"])),
        bending=stiffness * np.array([[1, nu, 0], [nu, 1, 0], [0, 0, (1 - nu) / 2]]),
        areal_mass=METAL["density_lb_in3"] * POUND / INCH**3 * thickness,
        root_spring=root_spring,
    )


def sprung_metal_plate() -> plate.System:
    """Return the same on the root spring that gives the first measured frequency."""
    springs = np.geomspace(1e2, 1e5, 200)
    first = plate.modes(metal_plate(springs), count=1).frequency[:, 0] / (2.0 * math.pi)
    return metal_plate(float(np.exp(np.interp(METAL["measured_hz"][0], first, np.log(springs)))))


def test_metal_plate_flutter(record: Any) -> None:
    """Swept metal plate on a flexible root: speed within 5 % and frequency 12 % of the tunnel."""
    point = METAL_FLUTTER["point"]
    flutter, _ = solved(METAL_FIN, sprung_metal_plate(), [(point["mach"], point["density"])])
    record(
        case="swept metal plate on its flexible root, Mach 0.45",
        parts=("flutter speed, m/s", "flutter frequency, Hz"),
        published=(point["speed_ft_s"] * FOOT, point["frequency_hz"]),
        ours=(flutter.speed[0], flutter.frequency[0] / (2.0 * math.pi)),
        tolerance="5 % in speed, 12 % in frequency: what published calculations of this model "
        "differ by, and two accounts of the test",
        source=METAL_FLUTTER["source"],
        basis="measured",
    )
    assert flutter.speed[0] == pytest.approx(
        point["speed_ft_s"] * FOOT, rel=point["tolerance_speed"]
    )
    assert flutter.frequency[0] / (2.0 * math.pi) == pytest.approx(
        point["frequency_hz"], rel=point["tolerance_frequency"]
    )


def test_metal_plate_clamped(record: Any) -> None:
    """A perfect clamp gives more than the tunnel and the flexible root, by less than 8 %."""
    point = METAL_FLUTTER["point"]
    where = [(point["mach"], point["density"])]
    stiff, _ = solved(METAL_FIN, metal_plate(), where)
    soft, _ = solved(METAL_FIN, sprung_metal_plate(), where)
    record(
        case="swept metal plate, perfect clamp, Mach 0.45: flutter speed",
        published=point["speed_ft_s"] * FOOT,
        ours=stiff.speed[0],
        unit="m/s",
        tolerance="high by at most 8 %: the real root gave way",
        source=METAL_FLUTTER["source"],
        basis="measured",
    )
    ratio = stiff.speed[0] / (point["speed_ft_s"] * FOOT)
    assert 1.0 < ratio < 1.08
    assert soft.speed[0] < stiff.speed[0]


def corrected(
    planform: Planform, system: plate.System, mach: float, density: float
) -> tuple[float, float]:
    """Return flutter speed [m/s] and frequency [Hz] beyond Mach 0.9 as a fin check has them."""
    found = plate.modes(system, count=model.MODES)
    machs = (aeroelastic.SUBSONIC_LIMIT, *model.FAST_MACHS)
    air = [(model.air_at(planform, machs[place]), part) for place, part in model.blend(mach, machs)]
    on_modes = [(grid.on_modes(system.basis, found.shapes), part) for grid, part in air]
    forces = aeroelastic.AirForces(
        np.array([mach]),
        on_modes[0][0].nodes,
        on_modes[0][0].scale,
        sum(part * each.forces for each, part in on_modes),
    )
    flutter = aeroelastic.flutter(forces, frequency=found.frequency, density=density)
    hertz = float(flutter.frequency[0]) / (2.0 * math.pi)
    return float(flutter.speed[0] * policy.transonic_factor(mach)), hertz


FASTER = published("naca_rm_l55e11_supersonic")
DECILE = 1.2815515655446004
"""90 % point of the standard normal distribution."""


def fast_points() -> list[dict[str, Any]]:
    """Return every measured flutter beyond Mach 0.95: case, plate and what was measured."""
    wood = [
        {
            "case": f"AGARD 445.6 wooden wing of {density:.0f} kg/m3",
            "fin": WING,
            "plate": wooden_wing(density),
            "density": row["density_slug_ft3"] * SLUG_PER_CUBIC_FOOT,
            "hertz": row["frequency_rad_s"] / (2.0 * math.pi),
            "source": WOOD_FLUTTER["source"],
            **row,
        }
        for density in (WEIGHED, WOOD_FLUTTER["conditions"]["light_density"])
        for row in (*WOOD_FLUTTER["transonic"], *WOOD_FLUTTER["supersonic"])
    ]
    metal = [
        {
            "case": "swept metal plate on its flexible root",
            "fin": METAL_FIN,
            "plate": sprung_metal_plate(),
            "hertz": row["frequency_hz"],
            "source": FASTER["source"],
            **row,
        }
        for row in FASTER["point"]
    ]
    return [*wood, *metal]


def test_flutter_beyond_mach_one_as_answered(record: Any) -> None:
    """Beyond Mach 0.95 no answer is more than 5 % late, and the range given holds the measurement.

    Four in five of it at least: the range is 10 to 90 % of the model's scatter. Nothing is tuned to
    a point; the one factor is that of all of them (see `policy.TRANSONIC_FACTOR`).
    """
    inside = []
    for point in fast_points():
        ours, hertz = corrected(point["fin"], point["plate"], point["mach"], point["density"])
        measured = point["speed_ft_s"] * FOOT
        record(
            case=f"{point['case']}, Mach {point['mach']:.3f}, as a fin check answers: "
            "flutter speed",
            published=measured,
            ours=ours,
            unit="m/s",
            tolerance="at most 5 % late, 20 % early: linear theory times one factor of "
            f"{policy.TRANSONIC_FACTOR:g}",
            source=point["source"],
            basis="measured",
        )
        record(
            case=f"{point['case']}, Mach {point['mach']:.3f}: flutter frequency",
            published=point["hertz"],
            ours=hertz,
            unit="Hz",
            tolerance="none promised: reported as it comes; no factor is put on it",
            within=None,
            source=point["source"],
            basis="measured",
        )
        assert 0.8 * measured < ours < 1.05 * measured
        reach = DECILE * policy.model_cov("flutter", point["mach"])
        inside.append(abs(math.log(ours / measured)) < reach)
    assert np.mean(inside) >= 0.8


def test_metal_plate_clamped_beyond_mach_one(record: Any) -> None:
    """A perfect clamp answers later than the tunnel, by less than 10 %: the real root gave way."""
    system = metal_plate()
    for point in FASTER["point"]:
        ours, _ = corrected(METAL_FIN, system, point["mach"], point["density"])
        record(
            case=f"swept metal plate, perfect clamp, Mach {point['mach']:.3f}, as a fin check "
            "answers: flutter speed",
            published=point["speed_ft_s"] * FOOT,
            ours=ours,
            unit="m/s",
            tolerance="high by at most 10 %: the real root gave way",
            source=FASTER["source"],
            basis="measured",
        )
        assert ours < 1.10 * point["speed_ft_s"] * FOOT


def laminate(angles: list[float]) -> tuple[Planform, plate.System]:
    """Return a graphite/epoxy strip; `angles` of half the stack, positive forward (wash-out)."""
    p = LAMINATE["plate"]
    stack = np.radians([*angles, *reversed(angles)])
    levels = (np.arange(stack.size + 1) - stack.size / 2) * p["ply_thickness"]
    # x points aft, so a fibre turned forward of the span lies beyond 90 degrees from x
    bending = sum(
        sheet(p, math.pi / 2 + angle) * (levels[k + 1] ** 3 - levels[k] ** 3) / 3.0
        for k, angle in enumerate(stack)
    )
    planform = Planform(p["chord"], p["chord"], p["span"], 0.0)
    mass = p["density"] * p["ply_thickness"] * stack.size
    return planform, plate.assemble(plate.prepare(planform), bending=bending, areal_mass=mass)


@pytest.fixture(scope="module")
def laminates() -> dict[str, tuple[float, float, np.ndarray]]:
    """Flutter speed, divergence speed and three frequencies [Hz] of each layup."""
    out = {}
    for row in LAMINATE["layup"]:
        planform, system = laminate(row["angles"])
        flutter, divergence = solved(planform, system, [(0.05, 1.225)])
        hertz = plate.modes(system, count=3).frequency / (2.0 * math.pi)
        out[row["name"]] = (float(flutter.speed[0]), float(divergence[0]), hertz)
    return out


@pytest.mark.parametrize("angle", [15, 30, 45])
def test_laminates_wash_in_and_wash_out(
    laminates: dict[str, tuple[float, float, np.ndarray]], angle: int
) -> None:
    """Plies turned forward never diverge; turned aft they diverge before any of them flutters."""
    out_flutter, out_divergence, _ = laminates[f"[+{angle}_2/0]s"]
    in_flutter, in_divergence, _ = laminates[f"[-{angle}_2/0]s"]
    assert math.isinf(out_divergence)
    assert in_divergence < out_flutter
    assert in_divergence < in_flutter


def test_laminates_order(laminates: dict[str, tuple[float, float, np.ndarray]]) -> None:
    """The more the plies wash in, the earlier the divergence; uncoupled plies diverge last."""
    speeds = [laminates[name][1] for name in ("[0_2/90]s", "[-15_2/0]s", "[-30_2/0]s")]
    assert speeds == sorted(speeds, reverse=True)
    assert laminates["[-45_2/0]s"][1] == pytest.approx(speeds[-1], rel=0.1)


@pytest.mark.parametrize("row", LAMINATE["layup"], ids=lambda row: row["name"])
def test_laminates_measured(
    laminates: dict[str, tuple[float, float, np.ndarray]], row: dict[str, Any], record: Any
) -> None:
    """Measured speeds and frequencies, as remembered, within 15 % and 12 %."""
    flutter, divergence, hertz = laminates[row["name"]]
    tolerance = LAMINATE["tolerance"]
    remembered = {
        "tolerance": "15 % in speed, 12 % in frequency: published constants of this programme "
        "vary by 10 %, and the wall stood near",
        "source": LAMINATE["source"],
        "basis": "measured",
    }
    named = f"graphite/epoxy strip {row['name']}"
    for key, unit, ours in (
        ("measured_flutter", "m/s", flutter),
        ("measured_divergence", "m/s", divergence),
    ):
        if key in row:
            record(
                case=f"{named}: {key.removeprefix('measured_')} speed",
                published=row[key],
                ours=ours,
                unit=unit,
                **remembered,
            )
    if "measured_hz" in row:
        record(
            case=f"{named}: frequency",
            parts=("mode 1", "mode 2", "mode 3"),
            published=row["measured_hz"],
            ours=hertz,
            unit="Hz",
            **remembered,
        )
    if "measured_flutter" in row:
        assert flutter == pytest.approx(row["measured_flutter"], rel=tolerance["flutter"])
    if "measured_divergence" in row:
        assert divergence == pytest.approx(row["measured_divergence"], rel=tolerance["divergence"])
    if "measured_hz" in row:
        assert np.allclose(hertz, row["measured_hz"], rtol=tolerance["frequency"])
