"""The supersonic lifting surface against exact linear theory, other codes and wind tunnels."""

import importlib.util
import math
import tomllib
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import ellipe, jv

from calc import aeroelastic
from calc.air import mach_box
from calc.geometry.planform import Edge, Planform, thickness_fraction
from calc.structure import plate

DATA = Path(__file__).parent / "data"


def published(name: str) -> dict[str, Any]:
    """Return a data file."""
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


def module(name: str) -> Any:
    """Return a test module from beside this one, for the wings it builds."""
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    assert spec is not None
    assert spec.loader is not None
    found = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(found)
    return found


wings = module("test_aeroelastic")
RECTANGLES = published("naca_tr925_rectangles")
BEHIND = published("stewart_1946_deltas")
AHEAD = published("puckett_1946_deltas")
PANELS = published("independent_supersonic_panels")
OSCILLATION = published("independent_supersonic_oscillation")
PRINTED = published("ha145fb_swept_plate")


def judge(
    record: Any,
    case: str,
    planform: Planform,
    mach: float,
    exact: tuple[float, float, float],
    check: dict[str, float],
    source: Any,
    basis: str = "exact",
) -> None:
    """Compare lift slope, centre of pressure in root chords and distance from the root."""
    found = mach_box.lift_slope(planform, mach=mach)
    ours = (found.slope, found.x / planform.root, found.y / planform.span)
    record(
        case=f"{case}, Mach {mach:g}",
        parts=("lift slope, 1/rad", "centre of pressure, root chords", "lift's place, spans"),
        published=exact,
        ours=ours,
        tolerance=f"{check['slope']:.0%} in slope, {check['x']:g} root chords, {check['y']:.0%} "
        "along the span: the usual lattice",
        source=source,
        basis=basis,
    )
    assert ours[0] == pytest.approx(exact[0], rel=check["slope"])
    assert ours[1] == pytest.approx(exact[1], abs=check["x"])
    assert ours[2] == pytest.approx(exact[2], rel=check["y"])


@pytest.mark.parametrize("case", RECTANGLES["case"])
def test_rectangles(case: dict[str, Any], record: Any) -> None:
    """Lift and its place on rectangular wings, as the closed forms have it."""
    ratio, mach = case["aspect_ratio"], case["mach"]
    beta = math.sqrt(mach**2 - 1.0)
    slope = 4.0 / beta * (1.0 - 1.0 / (2.0 * beta * ratio))
    assert slope == pytest.approx(case["slope"], rel=1e-5)
    x = (beta * ratio - 2.0 / 3.0) / (2.0 * beta * ratio - 1.0)
    assert x == pytest.approx(case["x"], abs=1e-5)
    panel = Planform(1.0, 1.0, 0.5 * ratio, 0.0)
    exact = (slope, x, case["y"])
    named = f"rectangular wing of aspect ratio {ratio:g}"
    judge(record, named, panel, mach, exact, RECTANGLES["check"], RECTANGLES["source"])


@pytest.mark.parametrize("case", BEHIND["case"])
def test_deltas_behind_the_mach_line(case: dict[str, Any], record: Any) -> None:
    """Lift and its place on triangular wings with subsonic leading edges."""
    s, mach = case["semispan"], case["mach"]
    m = math.sqrt(mach**2 - 1.0) * s
    slope = 2.0 * math.pi * s / float(ellipe(1.0 - m * m))
    assert slope == pytest.approx(case["slope"], rel=1e-4)
    exact = (slope, 2.0 / 3.0, 4.0 / (3.0 * math.pi))
    panel = Planform(1.0, 0.0, s, 1.0)
    named = f"triangular wing of semispan {s:g} root chords"
    judge(record, named, panel, mach, exact, BEHIND["check"], BEHIND["source"])


@pytest.mark.parametrize("case", AHEAD["case"])
def test_deltas_ahead_of_the_mach_line(case: dict[str, Any], record: Any) -> None:
    """Lift and its place on triangular wings with supersonic leading edges."""
    s, mach = case["semispan"], case["mach"]
    slope = 4.0 / math.sqrt(mach**2 - 1.0)
    assert slope == pytest.approx(case["slope"], rel=1e-4)
    panel = Planform(1.0, 0.0, s, 1.0)
    named = f"triangular wing of semispan {s:g} root chords"
    exact = (slope, 2.0 / 3.0, case["y"])
    judge(record, named, panel, mach, exact, AHEAD["check"], AHEAD["source"])


def steady_pressure(
    planform: Planform, *, mach: float, boxes: int = 1500
) -> tuple[np.ndarray, np.ndarray]:
    """Return places (m, 2) and load per angle of attack on full pieces of one fine lattice."""
    columns = mach_box.columns_for(planform, mach=mach, boxes=boxes)
    found = mach_box.lattice(planform, mach=mach, columns=columns)
    parts = mach_box.pieces(found)
    wash = -np.ones((1, found.size, 1))
    lift = mach_box.lifts(found, parts, wavenumbers=0.0, normalwash=wash)[0, :, 0].real
    run = parts.end - parts.start
    whole = run > 0.99 * found.length
    return parts.points[whole], lift[whole] / (parts.width * run)[whole]


@pytest.mark.parametrize("case", AHEAD["case"])
def test_conical_loading_of_a_delta(case: dict[str, Any], record: Any) -> None:
    """The load over a triangular wing is constant ahead of the Mach cone and falls inside it."""
    s, mach = case["semispan"], case["mach"]
    beta = math.sqrt(mach**2 - 1.0)
    m = beta * s
    points, load = steady_pressure(Planform(1.0, 0.0, s, 1.0), mach=mach)
    t = beta * points[:, 1] / points[:, 0]
    # two boxes from the edge and where the cone is many boxes wide
    inside = (points[:, 0] > 0.3) & (t < m * (1.0 - 0.1))
    t, load = t[inside], load[inside]
    cone = np.minimum(t, 1.0) ** 2
    exact = 1.0 - 2.0 / math.pi * np.arcsin(np.sqrt((1.0 - cone) / (m * m - cone)))
    exact *= 4.0 / beta * m / math.sqrt(m * m - 1.0)
    off = float(np.mean(np.abs(load - exact)) / exact.max())
    record(
        case=f"conical load of a triangular wing of semispan {s:g} root chords, Mach {mach:g}: "
        "mean over the panel",
        published=float(np.mean(exact)),
        ours=float(np.mean(load)),
        tolerance=f"{AHEAD['check']['loading']:.0%} of the largest load, mean of the differences",
        source=AHEAD["source"],
        basis="exact",
    )
    assert off < AHEAD["check"]["loading"]


def test_loading_near_a_side_edge(record: Any) -> None:
    """In the Mach cone of a side edge the load falls as (2/pi) asin sqrt(t)."""
    mach, span = 2.0, 1.0
    beta = math.sqrt(mach**2 - 1.0)
    points, load = steady_pressure(Planform(1.0, 1.0, span, 0.0), mach=mach)
    t = beta * (span - points[:, 1]) / points[:, 0]
    inside = (t < 1.0) & (points[:, 0] > 0.3) & (t > 0.1)
    exact = 4.0 / beta * 2.0 / math.pi * np.arcsin(np.sqrt(t[inside]))
    off = np.abs(load[inside] - exact) / (4.0 / beta)
    record(
        case="load in the Mach cone of a side edge, Mach 2: mean over the cone",
        published=float(np.mean(exact)),
        ours=float(np.mean(load[inside])),
        tolerance="3 % of the load outside the cone, mean of the differences",
        source=RECTANGLES["source"],
        basis="exact",
    )
    assert np.mean(off) < 0.03


@pytest.mark.parametrize("case", PANELS["case"])
def test_swept_tapered_panels(case: dict[str, Any], record: Any) -> None:
    """Lift and its place on swept tapered panels, as other codes of the same theory have it."""
    panel = Planform(1.0, case["tip"], case["span"], case["sweep"])
    check = dict(PANELS["check"])
    check["slope"] = check[f"{case['leading_edge']}_slope"]
    named = f"panel of tip {case['tip']:g}, span {case['span']:g}, sweep {case['sweep']:g}"
    exact = (case["slope"], case["x"], case["y"] / case["span"])
    judge(record, named, panel, case["mach"], exact, check, PANELS["source"], "library")


@pytest.mark.parametrize(
    ("panel", "machs"),
    [
        (Planform(1.0, 0.5, 0.5, 0.5), (1.15, 1.3, 1.6, 2.0, 3.0)),
        (Planform(1.0, 0.6, 0.6, -0.3), (1.15, 1.3, 1.6, 2.0, 3.0)),
        (Planform(1.0, 0.0, 0.7, 1.0), (1.15, 1.3, 1.6, 2.0, 3.0)),
    ],
)
def test_reverse_flow(panel: Planform, machs: tuple[float, ...], record: Any) -> None:
    """A panel has the lift slope of its mirror image flying backward.

    Every edge changes its part: leading and trailing, Kutta condition and none.
    """
    turned = Planform(panel.root, panel.tip, panel.span, panel.root - panel.sweep - panel.tip)
    for mach in machs:
        ahead = mach_box.lift_slope(panel, mach=mach).slope
        back = mach_box.lift_slope(turned, mach=mach).slope
        record(
            case=f"panel of tip {panel.tip:g}, span {panel.span:g}, sweep {panel.sweep:g} flying "
            f"backward, Mach {mach:g}: lift slope",
            published=ahead,
            ours=back,
            unit="1/rad",
            tolerance="2 %: two lattices, each within 1 %",
            source="reverse-flow theorem: F. Ursell and G. N. Ward, Quarterly Journal of Mechanics "
            "and Applied Mathematics 3 (1950) 326; from memory, unverified",
            basis="exact",
        )
        assert back == pytest.approx(ahead, rel=0.02)


def low_powers(points: np.ndarray, planform: Planform, *, turned: bool) -> np.ndarray:
    """Return four simple functions of the place on a panel, from its other end if turned."""
    x = points[:, 0] / planform.root
    x, y = (1.0 - x if turned else x) - 0.5, points[:, 1] / planform.span
    return np.column_stack([np.ones_like(x), x, y**2, x * y])


@pytest.mark.parametrize("mach", [1.1, 1.2, 1.5, 2.0])
@pytest.mark.parametrize(
    "panel",
    [
        Planform(1.0, 0.5, 0.6, 1.0),
        Planform(1.0, 0.5, 0.5, 0.5),
        Planform(1.0, 0.66, 1.364, 1.449),
        Planform(1.0, 0.0, 0.7, 1.0),
    ],
)
def test_oscillation_in_reverse_flow(panel: Planform, mach: float, record: Any) -> None:
    """The load of one normalwash on another is that of the other on it in reverse flow.

    This holds oscillating too, and only if the wake drifts as it must.
    """
    turned = Planform(panel.root, panel.tip, panel.span, panel.root - panel.sweep - panel.tip)
    k = [0.5, 1.0]
    both = []
    for one in (panel, turned):
        powers = low_powers(mach_box.points(one), one, turned=one is turned)
        matrix = mach_box.response(one, machs=[mach], wavenumbers=k)[0]
        both.append(powers.T @ (matrix @ powers))
    ahead, back = both[0], both[1].swapaxes(-1, -2)
    largest = np.abs(ahead).max(axis=(1, 2))
    worst = np.abs(back - ahead).max(axis=(1, 2))
    record(
        case=f"panel of tip {panel.tip:g}, span {panel.span:g}, sweep {panel.sweep:g} oscillating "
        f"in reverse flow, Mach {mach:g}: largest force",
        parts=[f"omega root/U {one:g}" for one in k],
        published=largest.tolist(),
        ours=np.abs(back).max(axis=(1, 2)).tolist(),
        tolerance="2.5 % of the largest: two lattices",
        source="reverse-flow theorem for oscillating wings: A. H. Flax, Journal of the "
        "Aeronautical Sciences 20 (1953) 120; from memory, unverified",
        basis="exact",
    )
    assert np.all(worst < 0.025 * largest)


@pytest.mark.parametrize(("mach", "k"), [(1.5, 0.6), (2.0, 0.6), (3.0, 1.5)])
def test_oscillating_root_of_a_wide_panel(mach: float, k: float, record: Any) -> None:
    """At the root, which the tip's Mach cone does not reach, the flow is two-dimensional.

    The potential is ``-(1/beta) int w exp(-i nu s) J0(nu s/M) ds``; lift of heave and of pitch.
    """
    beta = math.sqrt(mach**2 - 1.0)
    nu = k * mach**2 / beta**2
    planform = Planform(1.0, 1.0, 1.2 / beta, 0.0)
    columns = mach_box.columns_for(planform, mach=mach)
    found = mach_box.lattice(planform, mach=mach, columns=columns)
    parts = mach_box.pieces(found)
    x = mach_box.control_points(found)[:, 0]
    wash = np.column_stack([np.full(x.size, 1j * k), 1.0 + 1j * k * x])
    lift = mach_box.lifts(found, parts, wavenumbers=k, normalwash=wash[None])[0]
    root = parts.y == 0.0
    ours = lift[root].sum(axis=0) / parts.width[root][0]

    def potential(x: float, pitch: bool) -> complex:
        def part(s: float, turn: Any) -> float:
            w = 1.0 + 1j * k * (x - s) if pitch else 1j * k
            return float(turn(w * np.exp(-1j * nu * s) * jv(0, nu * s / mach)))

        value = quad(part, 0.0, x, args=(np.real,))[0] + 1j * quad(part, 0.0, x, args=(np.imag,))[0]
        return complex(-value / beta)

    nodes, weights = np.polynomial.legendre.leggauss(20)
    for pitch, name in enumerate(("heave", "pitch")):
        within = sum(
            w * potential(a, bool(pitch))
            for a, w in zip(0.5 * (nodes + 1.0), 0.5 * weights, strict=True)
        )
        exact = 4.0 * (potential(1.0, bool(pitch)) + 1j * k * within)
        record(
            case=f"two-dimensional lift in {name}, Mach {mach:g}, omega c/U {k:g}",
            parts=("in phase", "out of phase"),
            published=(exact.real, exact.imag),
            ours=(ours[pitch].real, ours[pitch].imag),
            scale=abs(exact),
            tolerance="1.5 % of its size: one lattice, not extrapolated",
            source="I. E. Garrick and S. I. Rubinow, NACA TR 846 (1946); from memory, unverified",
            basis="exact",
        )
        assert abs(ours[pitch] - exact) < 0.015 * abs(exact)


def rigid_and_bending(planform: Planform) -> tuple[Any, Any]:
    """Return heave, pitch nose up about half the root chord, and bending with the span squared."""

    def values(points: np.ndarray) -> np.ndarray:
        x, y = points.T
        return np.column_stack([np.ones_like(x), 0.5 - x, (y / planform.span) ** 2])

    def slopes(points: np.ndarray) -> np.ndarray:
        along = np.zeros((len(points), 3))
        along[:, 1] = -1.0
        return np.stack([along, along])

    return values, slopes


@pytest.mark.parametrize("row", OSCILLATION["row"])
def test_oscillating_panels(row: dict[str, Any], record: Any) -> None:
    """Forces of heave, pitch and bending within 3 % of the largest, as another code has them."""
    shape = OSCILLATION["panel"][row["panel"]]
    panel = Planform(1.0, shape["tip"], shape["span"], shape["sweep"])
    k = 2.0 * row["reduced_frequency"]
    q = mach_box.generalised_forces(
        panel, *rigid_and_bending(panel), mach=row["mach"], wavenumbers=[k]
    )[0]
    ours = q[[0, 0, 1, 1, 2, 2], [0, 1, 0, 1, 2, 1]] / panel.area
    names = ("hh", "ha", "ah", "aa", "bb", "ba")
    theirs = np.array([complex(*row[name]) for name in names])
    largest = float(np.abs(theirs).max())
    record(
        case=f"oscillating {row['panel']} panel, Mach {row['mach']:g}, reduced frequency "
        f"{row['reduced_frequency']:g}, size of the force",
        parts=names,
        published=np.abs(theirs).tolist(),
        ours=np.abs(ours).tolist(),
        scale=largest,
        tolerance="3 % of the largest",
        source=OSCILLATION["source"],
        basis="library",
    )
    assert np.abs(ours - theirs).max() < OSCILLATION["check"]["tolerance"] * largest


def spline(points: np.ndarray, deflections: np.ndarray) -> tuple[Any, Any]:
    """Return a thin-plate spline through modes at points and its slopes."""
    count = len(points)

    def kernel(at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        apart = at[:, None] - points
        square = np.maximum((apart**2).sum(axis=-1), 1e-30)
        return square * np.log(square), 2.0 * apart[..., 0] * (np.log(square) + 1.0)

    plane = np.column_stack([np.ones(count), points])
    system = np.block([[kernel(points)[0], plane], [plane.T, np.zeros((3, 3))]])
    weights = np.linalg.solve(system, np.vstack([deflections, np.zeros((3, deflections.shape[1]))]))

    def values(at: np.ndarray) -> np.ndarray:
        return np.column_stack([kernel(at)[0], np.ones(len(at)), at]) @ weights

    def slopes(at: np.ndarray) -> np.ndarray:
        along = np.column_stack([np.zeros(len(at)), np.ones(len(at)), np.zeros(len(at))])
        turned = np.column_stack([kernel(at)[1], along]) @ weights
        return np.stack([turned, turned])

    return values, slopes


@lru_cache(maxsize=1)
def printed_case() -> np.ndarray:
    """Return our forces (2, 4, 4) for the printed case, through `response`."""
    plan = PRINTED["planform"]
    panel = Planform(plan["chord"], plan["chord"], plan["span"], plan["sweep"])
    modes = PRINTED["modes"]
    values, slopes = spline(np.array(modes["points"]), np.array(modes["deflections"]))
    k = np.array([0.0, 0.1]) / plan["half_chord"]
    return mach_box.generalised_forces(panel, values, slopes, mach=plan["mach"], wavenumbers=k)


@pytest.mark.parametrize("row", PRINTED["row"])
def test_printed_forces_of_a_swept_plate(row: dict[str, Any], record: Any) -> None:
    """The printed forces within their mesh's error, those of a finer lattice within 3 %.

    The coarse printed run differs from finer ones by more in the small rows of the higher modes;
    these are reported and not promised.
    """
    ours = printed_case()[int(row["k"] > 0.0), row["number"] - 1]
    for key, basis in (("printed", "published"), ("finer", "library")):
        theirs = np.array([complex(*pair) for pair in row[key]])
        largest = float(np.abs(theirs).max())
        promised = key == "finer" or row["number"] < 3
        record(
            case=f"15 degree swept plate, Mach 1.3, k {row['k']:g}, {key} forces on mode "
            f"{row['number']}, size",
            parts=[f"of mode {number}" for number in range(1, 5)],
            published=np.abs(theirs).tolist(),
            ours=np.abs(ours).tolist(),
            scale=largest,
            tolerance=f"{PRINTED['check'][key]:.0%} of the largest of the row"
            if promised
            else "none promised: the printed run's mesh is too coarse for this row",
            within=True if promised else None,
            source=PRINTED["source"],
            basis=basis,
        )
        if promised:
            assert np.abs(ours - theirs).max() < PRINTED["check"][key] * largest


def air_grid(
    planform: Planform, machs: list[float], half_thickness: Any = None
) -> aeroelastic.AirGrid:
    """Return the air's answer as a check of a fin would use it."""
    nodes, scale = aeroelastic.node_wavenumbers(planform.mean_chord, highest=1.0)
    matrices = mach_box.response(
        planform, machs=machs, wavenumbers=nodes, half_thickness=half_thickness
    )
    places = mach_box.points(planform)
    return aeroelastic.AirGrid(np.array(machs), nodes, scale, matrices, places, places)


def bevelled(planform: Planform, thickness: float, fraction: float) -> Any:
    """Return half the thickness of a plate with both edges bevelled to nothing."""

    def half_thickness(points: np.ndarray) -> np.ndarray:
        x, y = points.T
        along = (x - planform.sweep * y / planform.span) / planform.root
        return 0.5 * thickness * thickness_fraction(Edge("tapered", fraction), along)

    return half_thickness


def test_printed_flutter_of_a_swept_plate(record: Any) -> None:
    """The deck's modes and masses flutter where the printed output has it.

    Thin, within 2 %. Second-order thickness lowers the speed by 10.9 % in the printed run, another
    form of the theory, and here by that within 3 %.
    """
    plan, case, modes = PRINTED["planform"], PRINTED["flutter"], PRINTED["modes"]
    panel = Planform(plan["chord"], plan["chord"], plan["span"], plan["sweep"])
    values, slopes = spline(np.array(modes["points"]), np.array(modes["deflections"]))
    mass = np.sqrt(case["generalised_mass"])
    speed, hertz = [], []
    for half in (None, bevelled(panel, case["thickness"], case["bevel_fraction"])):
        grid = air_grid(panel, [plan["mach"]], half)
        forces = grid.modal(
            load=values(grid.load_points),
            control=values(grid.control_points),
            slope=slopes(grid.control_points)[0],
        )
        scaled = forces.forces / np.outer(mass, mass)
        found = aeroelastic.flutter(
            aeroelastic.AirForces(forces.machs, forces.nodes, forces.scale, scaled),
            frequency=2.0 * math.pi * np.array(case["frequency_hz"]),
            density=case["density"],
        )
        speed.append(found.speed[0] / 12.0)
        hertz.append(found.frequency[0] / (2.0 * math.pi))
    printed = (case["speed_ft_s"], case["second_order_speed_ft_s"])
    for name, theirs, ours, tolerance in zip(
        ("thin", "with thickness"),
        printed,
        speed,
        ("2 %: the printed run's mesh", "3 % in what thickness takes: another second-order theory"),
        strict=True,
    ):
        record(
            case=f"15 degree swept plate, Mach 1.3, {name}: flutter speed of the printed modes",
            published=theirs,
            ours=ours,
            unit="ft/s",
            tolerance=tolerance,
            source=PRINTED["source"],
        )
    assert speed[0] == pytest.approx(printed[0], rel=case["tolerance"])
    assert hertz[0] == pytest.approx(case["flutter_hz"], rel=case["tolerance"])
    assert speed[1] / speed[0] == pytest.approx(printed[1] / printed[0], abs=0.03)


def test_wooden_wing_past_the_speed_of_sound(record: Any) -> None:
    """At Mach 1.072 and 1.141 linear theory flutters later than the tunnel, by less than 30 %."""
    rows, points = wings.WOOD_FLUTTER["supersonic"], wings.wooden_points("supersonic")
    system = wings.wooden_wing(wings.WEIGHED)
    modes = plate.modes(system, count=6)
    forces = air_grid(wings.WING, [mach for mach, _ in points]).on_modes(system.basis, modes.shapes)
    density = np.array([one for _, one in points])
    flutter = aeroelastic.flutter(forces, frequency=modes.frequency, density=density)
    for row, speed in zip(rows, flutter.speed, strict=True):
        measured = row["speed_ft_s"] * wings.FOOT
        record(
            case=f"AGARD 445.6 wooden wing of {wings.WEIGHED:.0f} kg/m3, Mach {row['mach']:.3f}: "
            "flutter speed, linear lifting surface",
            published=measured,
            ours=speed,
            unit="m/s",
            tolerance="none promised: reported as it comes; linear theory misses the transonic dip",
            within=None,
            source=wings.WOOD_FLUTTER["source"],
            basis="measured",
        )
        assert 1.0 < speed / measured < 1.3


@lru_cache(maxsize=1)
def sprung_plate() -> plate.System:
    """Return the metal plate on its flexible root, worked out once."""
    return wings.sprung_metal_plate()


TUNNEL = published("naca_rm_l55e11_supersonic")


@pytest.mark.parametrize("point", TUNNEL["point"], ids=lambda point: f"Mach {point['mach']:g}")
def test_metal_plate_past_the_speed_of_sound(point: dict[str, Any], record: Any) -> None:
    """Linear theory flutters later than the tunnel, by less than 30 %; thickness brings it nearer.

    With second-order thickness what is left is at most 15 %.
    """
    system = sprung_plate()
    modes = plate.modes(system, count=6)
    fin = wings.METAL_FIN
    half = bevelled(fin, wings.METAL["thickness_in"] * wings.INCH, wings.METAL["bevel_fraction"])
    measured = point["speed_ft_s"] * wings.FOOT
    ratio = {}
    for name, section in (("thin", None), ("with second-order thickness", half)):
        forces = air_grid(fin, [point["mach"]], section).on_modes(system.basis, modes.shapes)
        flutter = aeroelastic.flutter(
            forces, frequency=modes.frequency, density=np.array([point["density"]])
        )
        record(
            case=f"swept metal plate on its flexible root, Mach {point['mach']:g}, {name}",
            parts=("flutter speed, m/s", "flutter frequency, Hz"),
            published=(measured, point["frequency_hz"]),
            ours=(flutter.speed[0], flutter.frequency[0] / (2.0 * math.pi)),
            tolerance="none promised: reported as it comes, nothing tuned",
            within=None,
            source=TUNNEL["source"],
            basis="measured",
        )
        ratio[name] = flutter.speed[0] / measured
    assert 1.0 < ratio["thin"] < 1.3
    assert 0.85 < ratio["with second-order thickness"] < 1.15
    assert ratio["with second-order thickness"] < ratio["thin"]
