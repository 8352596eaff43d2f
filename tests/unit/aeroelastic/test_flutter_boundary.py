"""The pieces of the flutter solution against each other and against plain algebra."""

import math

import numpy as np
import pytest

from calc import aeroelastic, calculators, materials
from calc.air import atmosphere
from calc.calculators import shared
from calc.fin import boundaries, check, model, policy
from calc.fin.fin import Fin
from calc.geometry.planform import Planform
from tests import strip_theory
from tests.damping import damping_curves

OUTLINE = Planform(root=0.15, tip=0.06, span=0.09, sweep=0.07)
FINS = [
    Fin(OUTLINE, materials.load(name), thickness, math.radians(grain))
    for name, thickness, grain in (
        ("birch-plywood", 0.0016, 0.0),
        ("birch-plywood", 0.0032, 30.0),
        ("balsa", 0.0024, 0.0),
        ("balsa", 0.0048, -20.0),
        ("polycarbonate", 0.002, 0.0),
        ("carbon-epoxy-woven", 0.0015, 0.0),
    )
]
DENSITY = 1.2


@pytest.fixture(scope="module")
def batch() -> tuple[model.Model, model.Structure, aeroelastic.AirForces]:
    """Return six fins of one outline with the air's forces on their modes."""
    shape = model.model_for(FINS[0])
    found = model.structure(shape, [fin.layup() for fin in FINS], [fin.direction for fin in FINS])
    forces = shape.air.on_modes(found.system.basis, found.modes.shapes)
    return shape, found, forces


def single(forces: aeroelastic.AirForces, row: int) -> aeroelastic.AirForces:
    """Return the forces of one candidate."""
    return aeroelastic.AirForces(forces.machs, forces.nodes, forces.scale, forces.forces[row])


def test_lagrange_reproduces_polynomials() -> None:
    """Weights and their slopes are exact for a polynomial of the nodes' degree."""
    nodes = np.array([0.0, 0.2, 0.5, 1.0])
    at = np.array([0.1, 0.2, 0.77, 1.1])

    def cubic(x: np.ndarray) -> np.ndarray:
        return 1.0 + 2.0 * x - 3.0 * x**2 + 0.5 * x**3

    assert np.allclose(aeroelastic.lagrange(at, nodes) @ cubic(nodes), cubic(at))
    slope = 2.0 - 6.0 * at + 1.5 * at**2
    assert np.allclose(aeroelastic.lagrange_slope(at, nodes) @ cubic(nodes), slope)


def test_weight_slopes(batch: tuple) -> None:
    """Derivatives of the interpolation weights agree with differences."""
    forces = batch[2]
    k, step = np.array([1.0, 5.0, 12.0]), 1e-5
    difference = (forces.weights(k + step) - forces.weights(k - step)) / (2.0 * step)
    assert np.allclose(forces.weight_slopes(k), difference, rtol=1e-6, atol=1e-8)


def test_forces_on_modes_both_ways(batch: tuple) -> None:
    """Forces by way of the plate's basis equal those from the modes at the points themselves."""
    shape, found, forces = batch
    basis, shapes = found.system.basis, found.modes.shapes
    direct = shape.air.modal(
        load=basis.values(shape.air.load_points) @ shapes,
        control=basis.values(shape.air.control_points) @ shapes,
        slope=basis.slopes(shape.air.control_points)[0] @ shapes,
    )
    assert np.allclose(direct.forces, forces.forces, atol=1e-9 * np.abs(direct.forces).max())


def test_batch_equals_one_by_one(batch: tuple) -> None:
    """Each candidate of a batch has the boundary it has alone."""
    _, found, forces = batch
    together = aeroelastic.flutter(forces, frequency=found.modes.frequency, density=DENSITY)
    for row in range(len(FINS)):
        alone = aeroelastic.flutter(
            single(forces, row), frequency=found.modes.frequency[row], density=DENSITY
        )
        assert np.allclose(alone.speed, together.speed[row], rtol=1e-6)


def test_boundary_is_a_neutral_oscillation(batch: tuple) -> None:
    """The returned shape, speed and frequency satisfy the equation of motion without damping."""
    _, found, forces = batch
    result = aeroelastic.flutter(forces, frequency=found.modes.frequency, density=DENSITY)
    checked = 0
    for row, mach in np.argwhere(np.isfinite(result.speed)):
        k = result.wavenumber[row, mach]
        if k >= forces.nodes[-1]:
            continue
        air = single(forces, row).at(np.array([k]))[mach, 0]
        stiff = np.diag(found.modes.frequency[row] ** 2)
        speed, omega = result.speed[row, mach], result.frequency[row, mach]
        matrix = stiff - omega**2 * np.eye(len(stiff)) - 0.5 * DENSITY * speed**2 * air
        left = matrix @ result.shape[row, mach]
        assert np.abs(left).max() < 1e-5 * stiff.max()
        assert omega == pytest.approx(speed * k)
        checked += 1
    assert checked >= 12


def test_damping_crosses_zero_at_the_boundary(batch: tuple) -> None:
    """Damping by the p-k method is zero at the V-g boundary, positive above, negative below."""
    _, found, forces = batch
    result = aeroelastic.flutter(forces, frequency=found.modes.frequency, density=DENSITY)
    pressure = aeroelastic.divergence_pressure(forces, frequency=found.modes.frequency)
    before_divergence = 0.5 * DENSITY * (1.03 * result.speed) ** 2 < pressure
    checked = 0
    for row, mach in np.argwhere(before_divergence):
        if result.wavenumber[row, mach] >= forces.nodes[-1]:
            continue
        speed = result.speed[row, mach]
        curves = damping_curves(
            single(forces, row),
            mach_index=int(mach),
            frequency=found.modes.frequency[row],
            density=DENSITY,
            speeds=speed * np.array([0.7, 0.97, 1.0, 1.03]),
        )
        critical = np.nanargmin(
            np.abs(curves.damping[2])
            + np.abs(curves.frequency[2] / result.frequency[row, mach] - 1)
        )
        assert abs(curves.damping[2, critical]) < 1e-4
        assert curves.frequency[2, critical] == pytest.approx(result.frequency[row, mach], rel=1e-3)
        assert np.nanmax(curves.damping[1]) < 0.0
        assert np.nanmax(curves.damping[3]) > 0.0
        checked += 1
    assert checked >= 10


def test_damping_curves_are_steady(batch: tuple) -> None:
    """The curves of a finer choice of speeds pass through those of a coarser one."""
    _, found, forces = batch
    speeds = np.linspace(60.0, 300.0, 25)
    fine, coarse = (
        damping_curves(
            single(forces, 1),
            mach_index=1,
            frequency=found.modes.frequency[1],
            density=DENSITY,
            speeds=chosen,
        )
        for chosen in (speeds, speeds[::4])
    )
    assert np.allclose(fine.damping[::4, :2], coarse.damping[:, :2], atol=1e-5, equal_nan=True)


def test_damping_of_a_diverged_fin() -> None:
    """Past divergence a root without frequency grows."""
    nodes = np.array([0.0, 1.0, 2.0])
    forces = np.zeros((1, 3, 2, 2), dtype=complex)
    forces[0, :, 0, 0] = 1.0
    forces[0, :, 1, 1] = -0.1j * nodes
    air = aeroelastic.AirForces(np.array([0.0]), nodes, 1.0, forces)
    curves = damping_curves(
        air,
        mach_index=0,
        frequency=np.array([10.0, 30.0]),
        density=2.0,
        speeds=np.array([9.0, 50.0]),
    )
    assert curves.damping[1, 0] == pytest.approx(1.0)
    assert curves.frequency[1, 0] == pytest.approx(math.sqrt(50.0**2 - 10.0**2))


def test_structural_damping_delays_flutter(batch: tuple) -> None:
    """Taking structural damping for granted never lowers the boundary."""
    _, found, forces = batch
    none, some = (
        aeroelastic.flutter(
            forces, frequency=found.modes.frequency, density=DENSITY, damping=damping
        ).speed
        for damping in (0.0, 0.02)
    )
    assert np.all(some >= none * (1.0 - 1e-6))


def test_flutter_without_a_boundary() -> None:
    """A mode that the air only damps has no flutter speed."""
    nodes = np.array([0.0, 1.0, 2.0, 4.0])
    forces = -0.1j * nodes[None, :, None, None] * np.eye(2)
    air = aeroelastic.AirForces(np.array([0.0]), nodes, 1.0, forces)
    result = aeroelastic.flutter(air, frequency=np.array([10.0, 30.0]), density=1.0)
    assert np.isinf(result.speed[0])
    assert np.isnan(result.frequency[0])


@pytest.mark.parametrize(("share", "counts"), [(0.3, True), (0.05, False)])
def test_slow_swings_are_divergence(share: float, counts: bool) -> None:
    """One mode with known air: its flutter is met exactly, unless it hardly swings any more.

    The air pushes with q0 in phase and turns from damping to driving at wavenumber 1/2, so there
    ``1/U^2 = (k^2 + rho q0 / 2) / omega^2``; q0 is chosen for the share of the natural frequency.
    """
    crossing, omega = 0.5, 40.0
    in_phase = 2.0 * (crossing / share) ** 2 - 2.0 * crossing**2
    nodes = np.array([0.0, 0.3, 1.0, 3.0])
    placed = nodes / (nodes + 1.0)
    table = in_phase + 1j * (crossing / (crossing + 1.0) - placed)
    air = aeroelastic.AirForces(np.array([0.0]), nodes, 1.0, table[None, :, None, None])
    result = aeroelastic.flutter(air, frequency=np.array([omega]), density=1.0)
    if counts:
        assert result.speed[0] == pytest.approx(omega * share / crossing, rel=1e-9)
        assert result.frequency[0] == pytest.approx(share * omega, rel=1e-9)
    else:
        assert np.isinf(result.speed[0])


def test_flutter_of_the_next_mach_number_is_felt_at_those_below() -> None:
    """A boundary that appears only at a high Mach number lowers those below it, by 0.7 in U^-2."""
    speeds = aeroelastic.limited_rise(np.array([np.inf, np.inf, 210.0]))
    assert speeds == pytest.approx([300.0, 210.0 / math.sqrt(0.7), 210.0])
    unchanged = np.array([230.0, 220.0, 210.0])
    assert aeroelastic.limited_rise(unchanged) == pytest.approx(unchanged)


def test_divergence_against_direct_solution(batch: tuple) -> None:
    """At the divergence pressure the stiffness left is singular, and not below it."""
    _, found, forces = batch
    pressure = aeroelastic.divergence_pressure(forces, frequency=found.modes.frequency)
    assert np.isfinite(pressure).any()
    for row, mach in np.argwhere(np.isfinite(pressure)):
        stiff = np.diag(found.modes.frequency[row] ** 2)
        steady = forces.forces[row, mach, 0].real
        other = strip_theory.divergence_pressure(stiff, steady)
        assert pressure[row, mach] == pytest.approx(other, rel=1e-8)
        left = np.linalg.eigvals(np.linalg.solve(stiff, stiff - pressure[row, mach] * steady))
        assert np.abs(left).min() < 1e-8
        below = np.linspace(0.0, 0.99, 12)[:, None, None] * pressure[row, mach] * steady
        assert np.all(np.linalg.det(np.linalg.solve(stiff, stiff - below)) > 0.0)


def test_matched_speed_in_closed_form() -> None:
    """A boundary at 200 m/s whatever the Mach number is met at 200 m/s."""
    machs = np.array([0.0, 0.6, 0.9])
    speed, found = aeroelastic.matched_speed(machs, np.full(3, 200.0), sound_speed=340.0)
    assert found
    assert speed == pytest.approx(200.0, rel=1e-3)


def test_matched_speed_interpolates_the_reserve() -> None:
    """Where (a/U)^2 is a straight line in M^2 the crossing follows from a quadratic."""
    machs, sound = np.array([0.0, 0.6, 0.9]), 340.0
    reserve = 2.0 + 1.5 * machs**2
    square = (-2.0 + math.sqrt(4.0 + 6.0)) / 3.0
    speed, found = aeroelastic.matched_speed(machs, sound / np.sqrt(reserve), sound_speed=sound)
    assert found
    assert speed == pytest.approx(sound * math.sqrt(square), rel=1e-4)


def test_matched_speed_out_of_range() -> None:
    """A boundary that stays ahead of the flight is a lower limit at the last Mach number."""
    machs = np.array([0.0, 0.6, 0.9])
    never = np.array([[400.0, 420.0, 390.0], [np.inf, np.inf, np.inf]])
    speed, found = aeroelastic.matched_speed(machs, never, sound_speed=340.0)
    assert not found.any()
    assert np.allclose(speed, 0.9 * 340.0)


def test_matched_speed_of_a_boundary_that_ends() -> None:
    """A boundary found at one Mach number and not at the next is taken to last between them."""
    machs = np.array([0.0, 0.6, 0.9])
    speed, found = aeroelastic.matched_speed(
        machs, np.array([210.0, 210.0, np.inf]), sound_speed=330.0
    )
    assert found
    assert speed == pytest.approx(210.0, rel=1e-3)


def test_matched_speed_of_a_boundary_that_keeps_ahead() -> None:
    """A boundary less than 1 % ahead of the flight counts as met, one 3 % ahead does not."""
    machs = np.linspace(0.3, 0.9, 61)
    ahead = np.array([[1.005], [1.03]]) * machs * 330.0
    speed, found = aeroelastic.matched_speed(machs, ahead, sound_speed=np.full(2, 330.0))
    assert found.tolist() == [True, False]
    assert speed[0] == pytest.approx(0.3 * 330.0, rel=0.03)


def test_interpolated_speed_lies_on_the_lines() -> None:
    """More Mach numbers put on the lines between the others leave the matched speed as it is."""
    machs, more = np.array([0.0, 0.6, 0.9]), np.array([0.4, 0.75])
    speeds = np.array([[250.0, 240.0, 180.0], [260.0, 270.0, np.inf], [900.0, 260.0, 200.0]])
    between = aeroelastic.interpolated_speed(machs, aeroelastic.limited_rise(speeds), more)
    order = np.argsort(np.concatenate([machs, more]))
    every = np.concatenate([aeroelastic.limited_rise(speeds), between], axis=1)[:, order]
    few, many = (
        aeroelastic.matched_speed(at, of, sound_speed=np.full(3, 330.0))
        for at, of in ((machs, speeds), (np.concatenate([machs, more])[order], every))
    )
    assert few[1].all()
    assert np.allclose(few[0], many[0], rtol=1e-9)


def test_forces_between_mach_numbers(batch: tuple) -> None:
    """At a Mach number of the grid the forces between are those of the grid, usable or not."""
    forces = batch[2]
    at = np.resize(forces.machs, len(FINS))
    usable = np.ones((len(FINS), forces.machs.size), dtype=bool)
    usable[0, 1] = False
    between = forces.between(at, usable).forces[:, 0]
    own = forces.forces[np.arange(len(FINS)), np.arange(len(FINS)) % forces.machs.size]
    assert np.allclose(between, own, atol=1e-9 * np.abs(own).max())


OWN = {
    "material": "own",
    "strength_along": "300 MPa",
    "strength_across": "100 MPa",
    "shear_strength": "100 MPa",
}
GRAIN_BACK = {
    **OWN,
    "root": "0.129667 m",
    "tip": "0.064681 m",
    "span": "0.141641 m",
    "sweep": "0.020618 m",
    "grain": "-63 deg",
    "altitude": "2112.57 m",
    "speed": "215 m/s",
    "thickness": "2.38125 mm",
    "modulus_along": "7.93456 GPa",
    "modulus_across": "4.79559 GPa",
    "shear_modulus": "0.445073 GPa",
    "poisson": "0.08",
    "own_density": "595.533 kg/m3",
    "attack": "0.5 deg",
}
SWEPT_FORWARD = {
    **OWN,
    "root": "0.0524451 m",
    "tip": "0.0495717 m",
    "span": "0.0604694 m",
    "sweep": "-0.00447147 m",
    "grain": "1 deg",
    "altitude": "2662.09 m",
    "thickness": "0.8 mm",
    "modulus_along": "11.3133 GPa",
    "modulus_across": "1.327226 GPa",
    "shear_modulus": "0.783006 GPa",
    "poisson": "0.35",
    "own_density": "574.235 kg/m3",
}


def as_drawn(texts: dict[str, str]) -> tuple[policy.Margin, ...]:
    """Return flutter and divergence of a fin whose grain runs exactly as given."""
    values, errors = calculators.load("fin-check").read(texts)
    assert not errors
    one, (point,) = shared.fin_of(values), shared.flying(values).points
    return check.evaluate_batch(one, [one.layup()], [one.direction], point).margins[0][:2]


def test_divergence_that_ends_below_mach_09_is_reported() -> None:
    """A fin that diverges at 205 m/s, and with the air of Mach 0.9 not at all, does not hold 215.

    With the air of Mach 0, 0.6 and 0.9 it flutters at 233, 234 and 217 m/s and diverges at 209, 204
    and never; a lattice of 10 by 14 boxes and 81 plate functions puts divergence at 212 m/s.
    """
    flutter, divergence = as_drawn(GRAIN_BACK)
    assert not divergence.bound
    assert divergence.capacity.value == pytest.approx(204.5, rel=0.01)
    assert flutter.bound
    assert flutter.capacity.value == pytest.approx(divergence.capacity.value)
    report = calculators.run("fin-check", {**GRAIN_BACK, "joint": "none"})
    assert report.verdict is not None
    assert report.verdict.state == "fails"
    assert report.verdict.governs == "divergence"


def test_flutter_is_not_hidden_by_a_later_divergence() -> None:
    """Flutter that comes before divergence at one Mach number and after it at the next is found.

    The same lattice solved at the matched Mach number 0.326 puts flutter at 105.5 m/s, one of 10
    by 14 boxes at 106.9; divergence would come at 118.5.
    """
    flutter, divergence = as_drawn({**SWEPT_FORWARD, "speed": "100 m/s"})
    assert not flutter.bound
    assert flutter.capacity.value == pytest.approx(105.5, rel=0.005)
    assert divergence.capacity.value == pytest.approx(118.5, rel=0.02)


def test_stability_in_a_batch_is_that_alone() -> None:
    """Fins that need more Mach numbers and fins that do not are answered alike with others."""
    outline = Planform(root=0.118, tip=0.116, span=0.098, sweep=-0.0227)
    shape = model.model(outline)
    air = atmosphere.at(1000.0)
    stacks, angles = [], []
    for name, thickness in (("balsa", 0.0024), ("birch-plywood", 0.0016), ("basswood", 0.0016)):
        for grain in np.radians([-60.0, -30.0, 0.0, 30.0, 60.0]):
            stacks.append(Fin(outline, materials.load(name), thickness).layup())
            angles.append(outline.grain_direction(float(grain)))
    together = boundaries.flutter_and_divergence(shape, model.structure(shape, stacks, angles), air)
    for row, (stack, angle) in enumerate(zip(stacks, angles, strict=True)):
        alone = boundaries.flutter_and_divergence(
            shape, model.structure(shape, [stack], [angle]), air
        )
        for name in ("flutter_speed", "divergence_speed"):
            assert getattr(alone, name)[0] == pytest.approx(getattr(together, name)[row], rel=1e-6)
        for name in ("flutter_found", "divergence_found", "unresolved"):
            assert getattr(alone, name)[0] == getattr(together, name)[row]


def test_least_damping_is_where_a_mode_turns() -> None:
    """A mode that loses damping with speed and regains it reports its least damping."""
    speeds = np.linspace(50.0, 100.0, 6)
    loses = -np.array([0.01, 0.02, 0.012, 0.008, 0.02, 0.03])
    curves = aeroelastic.Damping(
        speeds, np.stack([loses, -0.001 * speeds], axis=1), np.ones((6, 2))
    )
    assert aeroelastic.least_damping(curves) == pytest.approx((80.0, 0.008))
    steady = aeroelastic.Damping(speeds, -0.001 * speeds[:, None], np.ones((6, 1)))
    assert aeroelastic.least_damping(steady) == (math.inf, math.inf)


def test_damping_in_flight_is_zero_at_the_matched_speed(batch: tuple) -> None:
    """A mode that was damped before has no damping left where the flight meets flutter."""
    shape, found, forces = batch
    air = atmosphere.at(0.0)
    stable = boundaries.flutter_and_divergence(shape, found, air)
    checked = 0
    for row in np.flatnonzero(stable.flutter_found & ~stable.unresolved):
        speed = float(stable.flutter_speed[row])
        curves = aeroelastic.damping_in_flight(
            single(forces, row),
            frequency=found.modes.frequency[row],
            density=float(air.density),
            sound_speed=float(air.sound_speed),
            speeds=speed * np.array([0.9, 1.0, 1.02]),
        )
        most = np.nanmax(curves.damping, axis=1)
        assert most[0] < 0.0 < most[2]
        assert abs(most[1]) < 0.02
        checked += 1
    assert checked >= 2


def test_flutter_speed_of_similar_fins() -> None:
    """A fin scaled in all lengths keeps its flutter speed: only ratios matter."""
    air = atmosphere.at(0.0)
    speeds = []
    for factor in (1.0, 2.0):
        outline = Planform(*(factor * side for side in (0.15, 0.06, 0.09, 0.07)))
        fin = Fin(outline, materials.load("polycarbonate"), factor * 0.002)
        shape = model.model_for(fin)
        found = model.structure(shape, [fin.layup()], [fin.direction])
        speeds.append(boundaries.flutter_and_divergence(shape, found, air).detail.speed[0])
    assert np.allclose(speeds[0], speeds[1], rtol=1e-4)
