"""Laws of the plate for any material, and inputs that must be refused."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc.errors import InputError
from calc.geometry.planform import Edge, Planform
from calc.structure.plate import System, assemble, bending_curvatures, modes, prepare, static

FIN = Planform(root=0.12, tip=0.05, span=0.08, sweep=0.06)
TRIANGLE = Planform(root=0.1, tip=0.0, span=0.08, sweep=0.1)
ISOTROPIC = np.array([[1.0, 0.3, 0.0], [0.3, 1.0, 0.0], [0.0, 0.0, 0.35]])
# A wood-like plate with its grain at 35 degrees: every entry of D differs from zero.
GRAIN = np.array([[10.0, 0.3, 0.0], [0.3, 0.7, 0.0], [0.0, 0.0, 0.6]])


def rotated(stiffness, angle):
    """Return the stiffness of a plate rotated by `angle` [rad], by the tensor transformation."""
    c, s = math.cos(angle), math.sin(angle)
    back = np.array(
        [[c * c, s * s, -2 * c * s], [s * s, c * c, 2 * c * s], [c * s, -c * s, c * c - s * s]]
    )
    return back @ stiffness @ back.T


SKEWED = rotated(GRAIN, math.radians(35.0))
shapes = st.builds(
    Planform,
    root=st.floats(0.5, 2.0),
    tip=st.floats(0.0, 2.0),
    span=st.floats(0.5, 2.0),
    sweep=st.floats(-1.0, 2.0),
)


def frequencies(planform, stiffness=SKEWED, count=5, mass=1.0, **options):
    """Return the natural frequencies of a fin."""
    system = assemble(prepare(planform, **options), bending=stiffness, areal_mass=mass)
    return modes(system, count=count).frequency


@pytest.mark.parametrize("planform", [FIN, TRIANGLE])
@pytest.mark.parametrize("root", ["clamped", "hinged", "free"])
def test_functions_are_orthonormal(planform, root):
    """The mass matrix of a uniform fin is its mass times the identity."""
    plate = prepare(planform, root=root)
    system = assemble(plate, bending=ISOTROPIC, areal_mass=2.0)
    assert np.allclose(system.mass, 2.0 * planform.area * np.eye(plate.size), atol=1e-12)
    assert np.allclose(system.stiffness, system.stiffness.T)


@pytest.mark.parametrize("planform", [FIN, TRIANGLE])
def test_derivatives_match_differences(planform):
    """Slopes and curvatures are the derivatives of the values, and of each other."""
    plate, step = prepare(planform), 1e-6
    points = planform.points([0.2, 0.5, 0.9], [0.3, 0.6, 0.95])
    along, outward = np.array([step, 0.0]), np.array([0.0, step])
    slopes, curvatures = plate.slopes(points), plate.curvatures(points)

    def difference(function, move):
        return (function(points + move) - function(points - move)) / (2 * step)

    scale = np.abs(slopes).max()
    assert np.allclose(difference(plate.values, along), slopes[0], atol=1e-6 * scale)
    assert np.allclose(difference(plate.values, outward), slopes[1], atol=1e-6 * scale)
    scale = np.abs(curvatures).max()
    by_x, by_y = difference(plate.slopes, along), difference(plate.slopes, outward)
    assert np.allclose(by_x[0], curvatures[0], atol=1e-6 * scale)
    assert np.allclose(by_y[1], curvatures[1], atol=1e-6 * scale)
    assert np.allclose(by_x[1] + by_y[0], curvatures[2], atol=1e-6 * scale)


def test_clamped_root_has_no_deflection_and_no_slope():
    """On the root line every function and its slopes are zero."""
    points = FIN.points(np.linspace(0, 1, 5), 0.0)
    assert np.all(prepare(FIN).values(points) == 0.0)
    assert np.all(prepare(FIN).slopes(points) == 0.0)


def test_free_plate_has_three_rigid_modes():
    """A free fin has three rigid-body modes without stiffness."""
    found = frequencies(FIN, root="free", count=4)
    assert np.all(found[:3] < 1e-3 * found[3])


@settings(max_examples=25, deadline=None)
@given(shapes, st.floats(0.1, 10.0), st.floats(0.1, 10.0), st.floats(0.1, 10.0))
def test_scaling(planform, size, stiffness, mass):
    """Frequency goes with the root of stiffness over mass and the inverse square of size."""
    small = frequencies(planform)
    grown = Planform(
        size * planform.root, size * planform.tip, size * planform.span, size * planform.sweep
    )
    found = frequencies(grown, stiffness * SKEWED, mass=mass)
    assert np.allclose(found, small * math.sqrt(stiffness / mass) / size**2, rtol=1e-6)


@settings(max_examples=25, deadline=None)
@given(shapes)
def test_mirrored_fin_sounds_the_same(planform):
    """A mirrored fin with its grain mirrored too has the same frequencies."""
    mirrored = Planform(
        planform.root, planform.tip, planform.span, planform.root - planform.tip - planform.sweep
    )
    flip = np.array([[1, 1, -1], [1, 1, -1], [-1, -1, 1]])
    assert np.allclose(frequencies(mirrored, SKEWED * flip), frequencies(planform), rtol=1e-6)


def test_free_parallelogram_does_not_know_its_root():
    """A free parallelogram described from either pair of sides has the same frequencies."""
    side, other, corner = 1.0, 0.8, math.radians(65.0)
    first = Planform(side, side, other * math.sin(corner), other * math.cos(corner))
    second = Planform(other, other, side * math.sin(corner), side * math.cos(corner))
    # Seen from the second pair of sides the fin is turned by the corner angle and mirrored.
    mirror = np.diag([1.0, 1.0, -1.0])
    seen = mirror @ rotated(SKEWED, -corner) @ mirror
    order = {"root": "free", "spanwise": 12, "chordwise": 12, "count": 8}
    expected = frequencies(first, **order)[3:]
    assert np.allclose(frequencies(second, seen, **order)[3:], expected, rtol=1e-5)


def test_candidates_together_equal_candidates_alone():
    """Two hundred candidates in one call give what each gives alone."""
    plate = prepare(FIN, edge=Edge("tapered", 0.15))
    many = np.linspace(1.0, 3.0, 200)
    stacked = assemble(
        plate, bending=many[:, None, None, None] * SKEWED, areal_mass=many[:, None] ** 0.5
    )
    together = modes(stacked, count=3)
    assert together.frequency.shape == (200, 3)
    for i in (0, 77, 199):
        alone = modes(assemble(plate, bending=many[i] * SKEWED, areal_mass=many[i] ** 0.5), count=3)
        assert np.allclose(together.frequency[i], alone.frequency, rtol=1e-9)
        assert np.allclose(together.shapes[i], alone.shapes, rtol=1e-5, atol=1e-7)


def test_candidates_with_spring_and_shear():
    """Springs and shear stiffnesses may differ from candidate to candidate."""
    plate = prepare(FIN)
    springs = np.array([5.0, 50.0])
    shear = np.array([1e3, 1e4])[:, None, None, None] * np.eye(2)
    both = assemble(
        plate, bending=SKEWED, areal_mass=1.0, root_spring=springs, transverse_shear=shear
    )
    together = modes(both, count=2).frequency
    for i in range(2):
        one = assemble(
            plate,
            bending=SKEWED,
            areal_mass=1.0,
            root_spring=springs[i],
            transverse_shear=shear[i],
        )
        assert np.allclose(together[i], modes(one, count=2).frequency)


def test_modes_diagonalise():
    """Mode shapes have unit modal mass and the square of their frequency as modal stiffness."""
    system = assemble(prepare(FIN), bending=SKEWED, areal_mass=1.3)
    found = modes(system, count=6)
    assert np.allclose(found.shapes.T @ system.mass @ found.shapes, np.eye(6), atol=1e-9)
    stiffness = found.shapes.T @ system.stiffness @ found.shapes
    assert np.allclose(np.diag(stiffness), found.frequency**2, rtol=1e-8)


@pytest.mark.parametrize(
    "options",
    [
        {"edge": Edge("tapered", 0.2)},
        {"edge": Edge("airfoil", 0.35)},
        {"edge": Edge("rounded"), "thickness_ratio": 0.05},
    ],
)
def test_homogeneous_fin_does_not_feel_the_zones(options):
    """One material: stiffness by the cube and mass by thickness, however many zones."""
    few, many = (frequencies(FIN, zones=zones, **options) for zones in (2, 12))
    assert np.allclose(few, many, rtol=1e-9)


def test_zone_values_replace_the_cube_law():
    """Values given per zone by the cube law equal a value given once."""
    plate = prepare(FIN, edge=Edge("tapered", 0.2))
    once = assemble(plate, bending=SKEWED, areal_mass=1.0)
    zones = plate.zone_fractions
    each = assemble(plate, bending=SKEWED * zones[:, None, None] ** 3, areal_mass=zones)
    assert np.allclose(once.stiffness, each.stiffness)
    assert np.allclose(once.mass, each.mass)


def test_section_function_equals_the_edge_it_copies():
    """A thickness given as a function of place agrees with the same shape given as an edge."""
    edge = Edge("tapered", 0.2)
    by_function = frequencies(
        FIN, section=lambda xi, eta: np.minimum(np.minimum(xi, 1 - xi) / 0.2, 1.0)
    )
    assert np.allclose(by_function, frequencies(FIN, edge=edge), rtol=1e-9)


def test_thinner_edges_weigh_less():
    """A bevelled fin's rigid mass is its section's area times its span."""
    plate = prepare(FIN, edge=Edge("tapered", 0.25), root="free")
    coefficients = np.zeros(plate.size)
    coefficients[0] = 1.0 / plate.values([[0.01, 0.01]])[0, 0]
    mass = coefficients @ assemble(plate, bending=SKEWED, areal_mass=1.0).mass @ coefficients
    assert mass == pytest.approx(0.75 * FIN.area)


@pytest.mark.parametrize("planform", [FIN, TRIANGLE])
def test_stiff_spring_is_a_clamp(planform):
    """With a stiffer root spring the frequencies rise to the clamped ones."""
    plate = prepare(planform)
    clamped = modes(assemble(plate, bending=SKEWED, areal_mass=1.0), count=4).frequency
    rising = [
        modes(assemble(plate, bending=SKEWED, areal_mass=1.0, root_spring=spring), count=4)
        for spring in (0.0, 1.0, 1e2, 1e4, 1e8)
    ]
    steps = np.array([found.frequency for found in rising])
    assert np.all(np.diff(steps, axis=0) > 0.0)
    assert np.allclose(steps[-1], clamped, rtol=1e-5)
    endless = assemble(plate, bending=SKEWED, areal_mass=1.0, root_spring=math.inf)
    assert np.array_equal(modes(endless, count=4).frequency, clamped)


@pytest.mark.parametrize("planform", [FIN, TRIANGLE])
@pytest.mark.parametrize("spring", [None, 30.0])
def test_stiff_core_is_a_thin_plate(planform, spring):
    """With a stiffer core the frequencies rise to those of the thin plate, without locking."""
    plate = prepare(planform)
    options = {"bending": SKEWED, "areal_mass": 1.0, "root_spring": spring}
    thin = modes(assemble(plate, **options), count=4).frequency
    steps = np.array(
        [
            modes(assemble(plate, transverse_shear=shear * np.eye(2), **options), count=4).frequency
            for shear in (1e2, 1e4, 1e6, 1e9)
        ]
    )
    assert np.all(np.diff(steps, axis=0) > 0.0)
    assert np.all(steps <= thin * (1 + 1e-6))
    assert np.allclose(steps[-1], thin, rtol=2e-4)


def test_curvatures_give_back_the_load():
    """The bending moment across a strip equals the tip load times its arm, core weak or not."""
    strip = Planform(root=0.1, tip=0.1, span=1.0, sweep=0.0)
    plate = prepare(strip, chordwise=3)
    stiffness = np.diag([2.0, 3.0, 1.0])
    # Half the load at each of the two Gauss points is an even load along the tip.
    edge = strip.points(0.5 + np.array([-0.5, 0.5]) / math.sqrt(3.0), 1.0)
    place = strip.points(0.5, [0.0, 0.4, 0.8])
    for options in ({}, {"transverse_shear": 20.0 * np.eye(2)}):
        system = assemble(plate, bending=stiffness, areal_mass=1.0, **options)
        found = static(system, load=system.basis.values(edge).T @ np.array([0.5, 0.5]))
        moment = (bending_curvatures(system, found, place) @ stiffness)[:, 1] * strip.root
        assert np.allclose(moment, [1.0, 0.6, 0.2], atol=1e-6)


def test_shear_curvatures_reduce_to_thin_ones():
    """With a stiff core the curvatures by bending are the second derivatives of the deflection."""
    plate = prepare(FIN)
    place = FIN.points([0.3, 0.6], [0.4, 0.7])
    thin = assemble(plate, bending=SKEWED, areal_mass=1.0)
    stiff = assemble(
        plate, bending=SKEWED, areal_mass=1.0, transverse_shear=1e9 * np.eye(2), root_spring=1e9
    )
    tip = FIN.points([0.5], 1.0)
    found = [
        bending_curvatures(system, static(system, load=system.basis.values(tip)[0]), place)
        for system in (thin, stiff)
    ]
    assert np.allclose(found[0], found[1], rtol=2e-3, atol=1e-3 * np.abs(found[0]).max())


def test_static_of_many_loads():
    """Several loads are solved in one call, and the deflection is symmetric between two points."""
    system = assemble(prepare(FIN), bending=SKEWED, areal_mass=1.0)
    values = system.basis.values(FIN.points([0.1, 0.8], [0.9, 0.7]))
    found = static(system, load=values)
    response = found @ values.T
    assert found.shape == values.shape
    assert response[0, 1] == pytest.approx(response[1, 0])


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"bending": np.ones(3)}, "bending"),
        ({"bending": np.ones((5, 3, 3))}, "bending"),
        ({"areal_mass": np.ones(5)}, "areal_mass"),
        ({"transverse_shear": np.ones((3, 3))}, "transverse_shear"),
        ({"root_spring": -1.0}, "root_spring"),
        ({"root_spring": math.nan}, "root_spring"),
        ({"root_spring": [1.0, math.inf]}, "root_spring"),
    ],
)
def test_assemble_refuses(change, name):
    """Arrays of the wrong shape and impossible springs raise InputError naming the input."""
    plate = prepare(FIN, edge=Edge("tapered", 0.2), zones=4)
    with pytest.raises(InputError, match=f"^{name}: "):
        assemble(plate, **{"bending": SKEWED, "areal_mass": 1.0, **change})


def test_shear_and_endless_springs_need_a_clamped_start():
    """A plate prepared hinged or free is not silently clamped."""
    plate = prepare(FIN, root="hinged")
    with pytest.raises(InputError, match=r"^transverse_shear: "):
        assemble(plate, bending=SKEWED, areal_mass=1.0, transverse_shear=np.eye(2))
    with pytest.raises(InputError, match=r"^root_spring: "):
        assemble(plate, bending=SKEWED, areal_mass=1.0, root_spring=math.inf)


@pytest.mark.parametrize(
    ("options", "name"),
    [
        ({"spanwise": 0}, "spanwise"),
        ({"chordwise": 0}, "chordwise"),
        ({"zones": 0}, "zones"),
        ({"root": "glued"}, "root_support"),
        ({"edge": Edge("rounded")}, "thickness_ratio"),
        ({"section": lambda xi, eta: 2.0 * xi}, "section"),
    ],
)
def test_prepare_refuses(options, name):
    """Counts below one, an unknown root and a section thicker than the sheet are refused."""
    with pytest.raises(InputError, match=f"^{name}: "):
        prepare(FIN, **options)


def test_system_can_be_built_by_hand():
    """A system of any matrices in a plate's functions can be solved, for instance constrained."""
    plate = prepare(FIN)
    system = assemble(plate, bending=SKEWED, areal_mass=1.0)
    copy = System(system.stiffness, system.mass, system.basis)
    assert np.array_equal(modes(copy).frequency, modes(system).frequency)
