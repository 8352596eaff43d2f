"""The plate's answers settle as functions and zones are added, and on the value known to us."""

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest

from calc.geometry.planform import Edge, Planform
from calc.structure.plate import assemble, modes, prepare, truncation_error

CASES = tomllib.loads((Path(__file__).parent / "data" / "converged_plates.toml").read_text())
ISOTROPIC = np.array([[1.0, 0.3, 0.0], [0.3, 1.0, 0.0], [0.0, 0.0, 0.35]])
# As anisotropic as light balsa: along : across : twist = 40 : 1 : 2.
BALSA = np.array([[40.0, 0.3, 0.0], [0.3, 1.0, 0.0], [0.0, 0.0, 2.0]])


def outline(name, numbers):
    """Planform and reference length of one line of the table."""
    if name.startswith("rectangle"):
        return Planform(1.0 / numbers[0], 1.0 / numbers[0], 1.0, 0.0), 1.0
    if name.startswith("rhombus"):
        skew = math.radians(numbers[0])
        return Planform(1.0, 1.0, math.cos(skew), math.sin(skew)), 1.0
    if name.startswith("parallelogram"):
        skew = math.radians(numbers[1])
        return Planform(1.0 / numbers[0], 1.0 / numbers[0], 1.0, math.tan(skew)), 1.0
    return Planform(*numbers), numbers[2]


LINES = [
    pytest.param(*outline(group["name"], numbers), values, id=f"{group['name'][:9]} {numbers}")
    for group in CASES["group"]
    for *numbers, values in group["case"]
]


def turned(stiffness, angle):
    """Stiffness of a plate turned by `angle` [rad]."""
    c, s = math.cos(angle), math.sin(angle)
    back = np.array(
        [[c * c, s * s, -2 * c * s], [s * s, c * c, 2 * c * s], [c * s, -c * s, c * c - s * s]]
    )
    return back @ stiffness @ back.T


def found(planform, count, stiffness=ISOTROPIC, **options):
    """Frequencies [rad/s] for unit mass per area."""
    system = assemble(prepare(planform, **options), bending=stiffness, areal_mass=1.0)
    return modes(system, count=count).frequency


@pytest.mark.parametrize(("planform", "length", "values"), LINES)
def test_many_functions_reach_the_converged_values(planform, length, values):
    """14 by 14 functions agree with the earlier program within 0.1 %."""
    ours = found(planform, len(values), spanwise=14, chordwise=14) * length**2
    assert np.allclose(ours, values, rtol=1e-3)


@pytest.mark.parametrize(("planform", "length", "values"), LINES)
def test_default_functions_are_close(planform, length, values):
    """The default 42 functions: modes one to three within 0.5 %, within 3 % at 45 degrees of sweep.

    The root of a strongly swept, untapered plate has a sharp peak of moment that polynomials
    follow slowly; its first mode is still within 0.7 %.
    """
    ratio = found(planform, 3) * length**2 / np.array(values[:3])
    hard = math.radians(40.0) < planform.sweep_of(0.5)
    assert np.all(ratio > 1.0 - 1e-3)
    assert np.all(ratio < (1.03 if hard else 1.005))
    assert ratio[0] < (1.007 if hard else 1.004)


@pytest.mark.parametrize("degrees", [0.0, 45.0, 90.0, 135.0])
def test_more_functions_lower_every_frequency(degrees):
    """Each richer set of functions contains the last, so no frequency rises, and steps shrink."""
    fin = Planform(root=1.0, tip=0.5, span=0.6, sweep=0.5)
    stiffness = turned(BALSA, math.radians(degrees))
    steps = np.array(
        [found(fin, 4, stiffness, spanwise=i, chordwise=i + 1) for i in (4, 6, 8, 11, 14)]
    )
    assert np.all(np.diff(steps, axis=0) <= 1e-7 * steps[1:])
    assert np.all(steps[3] / steps[4] < 1.005)
    assert np.all(np.abs(steps[3] - steps[4]) <= np.abs(steps[0] - steps[1]))


@pytest.mark.parametrize("degrees", [0.0, 45.0, 90.0, 135.0])
def test_default_functions_for_balsa(degrees):
    """On a fin of strongly directional wood 42 functions: mode one within 1 %, mode two 2 %."""
    fin = Planform(root=1.0, tip=0.5, span=0.6, sweep=0.5)
    stiffness = turned(BALSA, math.radians(degrees))
    ratio = found(fin, 2, stiffness) / found(fin, 2, stiffness, spanwise=14, chordwise=14)
    assert np.all(ratio > 1.0 - 1e-9)
    assert ratio[0] < 1.01
    assert ratio[1] < 1.02


@pytest.mark.parametrize("degrees", [40.0, 90.0, 120.0, 135.0])
@pytest.mark.parametrize(("spanwise", "chordwise"), [(6, 7), (10, 10)])
def test_truncation_warns_of_hard_cases(degrees, spanwise, chordwise):
    """The error left in the first mode of a strongly swept balsa fin is foretold.

    With the grain along the leading edge (40 degrees) 42 functions do; square to the root or raked
    forward they are 4 to 7 % high, and 100 functions under 2 %.
    """
    fin = Planform(root=1.0, tip=0.6, span=1.0, sweep=1.2)
    stiffness = turned(BALSA, math.radians(degrees))
    system = assemble(
        prepare(fin, spanwise=spanwise, chordwise=chordwise), bending=stiffness, areal_mass=1.0
    )
    exact = found(fin, 1, stiffness, spanwise=18, chordwise=18)[0]
    error = modes(system, count=1).frequency[0] / exact - 1.0
    fall = truncation_error(system, count=1)[0]
    assert error < 3.0 * fall + 1e-3
    assert fall < 2.0 * error + 1e-3
    assert error < (0.075 if spanwise == 6 else 0.02)


@pytest.mark.parametrize("edge", [Edge("tapered", 0.2), Edge("airfoil", 0.35)])
def test_zones_settle_for_a_layup(edge):
    """A layup whose stiffness does not follow the cube of thickness: eight zones within 1 %.

    Two stiff faces on a light core: sanding removes the faces first, so that stiffness falls from
    that of the faced plate to that of the core's cube.
    """
    fin = Planform(root=1.0, tip=0.5, span=0.6, sweep=0.5)

    def first(zones):
        plate = prepare(fin, edge=edge, zones=zones)
        f = plate.zone_fractions
        core = np.minimum(f, 0.8)
        bending = (core**3 + 10.0 * (f**3 - core**3))[:, None, None] * ISOTROPIC
        system = assemble(plate, bending=bending, areal_mass=core + 3.0 * (f - core))
        return modes(system, count=3).frequency

    fine = first(64)
    coarse = np.abs(first(8) / fine - 1.0)
    assert np.all(coarse < 1e-2)
    assert np.all(np.abs(first(32) / fine - 1.0) < 1.5e-3)


def test_quadrature_of_rounded_edges():
    """Half round edges on a fin that tapers to a point: more points change nothing that matters."""
    fin = Planform(root=1.0, tip=0.0, span=0.6, sweep=0.8)
    options = {"edge": Edge("rounded"), "thickness_ratio": 0.05}
    usual = found(fin, 3, **options)
    # More functions bring more points with them; compare like with like through the square fin.
    gain = found(fin, 3) / found(fin, 3, spanwise=12, chordwise=12)
    fine = found(fin, 3, spanwise=12, chordwise=12, **options)
    assert np.allclose(usual / fine, gain, rtol=2e-3)
