"""Fin-set normal force against lifting-surface values, nose cones against slender-body theory."""

import math
import tomllib
from pathlib import Path

import pytest
from scipy.integrate import quad

from calc.flight.stability import NOSE_CENTRE, fin_normal_force, nose_normal_force
from calc.geometry.planform import Planform

TUCK = tomllib.loads((Path(__file__).parent / "data/tuck_1993_rectangles.toml").read_text())


@pytest.mark.parametrize("case", TUCK["case"], ids=lambda c: f"AR {c['aspect_ratio']}")
def test_slope_of_rectangles(case, record):
    """Half wings of known lift slope come out within 6 per cent, on the high side.

    Tolerance: the method is an interpolation formula (Diederich); its own figures show some 5 per
    cent at an aspect ratio of 2. Slope of the set = N/2 panels of the wing's slope, on pi d^2/4.
    """
    span = 0.5 * case["aspect_ratio"]
    fins = fin_normal_force(count=4, planform=Planform(1.0, 1.0, span, 0.0), diameter=1.0)
    slope = fins.alone * (math.pi / 4) / (2.0 * span)
    record(
        case=f"fin-set formula, flat rectangle of aspect ratio {case['aspect_ratio']:g}",
        published=case["lift_slope"],
        ours=slope,
        unit="per rad",
        tolerance="high by at most 6 %: the interpolation formula's own figures show about 5 %",
        source=TUCK["source"],
    )
    assert case["lift_slope"] < slope < 1.06 * case["lift_slope"]


def test_fin_like_slope(record):
    """A swept tapered fin meets a vortex-lattice value (1.846 per rad) within 2 per cent.

    Span 0.5, root 1, tip 0.5, sweep 0.5 on a plane of symmetry; vortex lattice refined and
    extrapolated independently of this package.
    """
    fins = fin_normal_force(count=4, planform=Planform(1.0, 0.5, 0.5, 0.5), diameter=1.0)
    slope = fins.alone * (math.pi / 4) / (2.0 * 0.375)
    record(
        case="fin-set formula, swept tapered fin",
        published=1.846,
        ours=slope,
        unit="per rad",
        tolerance="2 %: the interpolation formula against a lifting surface",
        source="independent vortex lattice, refined and extrapolated",
        basis="library",
    )
    assert slope == pytest.approx(1.846, rel=0.02)


def test_worked_fin_set(record):
    """The fin set of the worked example follows from the printed equations by hand.

    l = sqrt(0.06^2 + (0.04 + 0.025 - 0.045)^2) = 0.0632456;
    root term = sqrt(1 + (0.1264911/0.14)^2) = 1.3477134; 4 N (0.06/0.05)^2 = 17.28 for N = 3;
    17.28 / 2.3477134 = 7.3603; K = 1 + 0.025/0.085 = 1.2941176; product 9.5252.
    x = (0.04/3)(0.19/0.14) + (0.14 - 0.0045/0.14)/6 = 0.0180952 + 0.0179762 = 0.0360714.
    """
    shape = {"planform": Planform(0.09, 0.05, 0.06, 0.04), "diameter": 0.05}
    three, four = fin_normal_force(count=3, **shape), fin_normal_force(count=4, **shape)
    record(
        case="normal force of the worked fin set",
        parts=(
            "three fins alone",
            "three fins on the body",
            "four fins alone",
            "four fins on the body",
            "centre behind the root's leading edge, m",
        ),
        published=(7.3604, 9.5252, 9.8138, 12.7002, 0.0360714),
        ours=(three.alone, three.slope, four.alone, four.slope, three.centre),
        tolerance="the digits kept of the hand arithmetic",
        source="the method's printed equations, worked by hand",
        basis="exact",
    )
    assert three.alone == pytest.approx(7.3604, abs=1e-4)
    assert three.slope == pytest.approx(9.5252, abs=1e-4)
    assert four.alone == pytest.approx(9.8138, abs=1e-4)
    assert four.slope == pytest.approx(12.7002, abs=1e-4)
    assert three.centre == pytest.approx(0.0360714, abs=1e-6)


PROFILES = {
    "cone": lambda x: x**2,
    "ogive": lambda x: (1 - (1 - x) ** 2) ** 2,
    "parabola": lambda x: x,
    "ellipsoid": lambda x: 1 - (1 - x) ** 2,
    "von Karman": lambda x: (
        (math.acos(1 - 2 * x) - 0.5 * math.sin(2 * math.acos(1 - 2 * x))) / math.pi
    ),
}


@pytest.mark.parametrize("shape", NOSE_CENTRE)
def test_nose_centre(shape, record):
    """Each nose's centre of pressure is 1 - volume/(base area x length) of its own profile.

    The profiles are radius squared over base radius squared, slender noses. Tolerance 0.001: the
    ogive's 0.466 is printed to three digits.
    """
    volume, _ = quad(PROFILES[shape], 0.0, 1.0)
    slope, centre = nose_normal_force(length=1.0, shape=shape)
    record(
        case=f"centre of pressure of a nose, {shape}",
        published=1.0 - volume,
        ours=centre,
        tolerance="0.001: the ogive's value is printed to three digits",
        source="slender-body theory, the profile's volume integrated numerically",
        basis="exact",
        unit="lengths",
    )
    assert slope == 2.0
    assert centre == pytest.approx(1.0 - volume, abs=1e-3)
