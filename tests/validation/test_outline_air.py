"""The lifting surface of elliptic fins against closed forms."""

import math
from typing import Any

import pytest

from calc.air import lifting_surface as surface
from calc.geometry.free_outline import FreeOutline, ellipse


def wing(aspect_ratio: float) -> FreeOutline:
    """Return one half of an elliptic wing of unit chord at its middle."""
    return ellipse(root=1.0, span=aspect_ratio * math.pi / 8.0, sweep=0.0)


def slope(fin: FreeOutline, chordwise: int, spanwise: int) -> float:
    """Return the lift slope; without tip inset the error falls with the number of strips."""
    coarse, fine = (
        surface.lift_slope(
            surface.mesh(fin, chordwise=n * chordwise, spanwise=n * spanwise, tip_inset=0.0),
            mach=0.0,
        ).slope
        for n in (1, 2)
    )
    return 2.0 * fine - coarse


def test_circular_wing(record: Any) -> None:
    """The exact lift slope of a circular wing, 32/(8 + pi²), within 0.2 %."""
    exact, found = 32.0 / (8.0 + math.pi**2), slope(wing(4.0 / math.pi), 10, 20)
    record(
        case="lift slope of a flat circular wing",
        published=exact,
        ours=found,
        unit="per rad",
        tolerance="0.2 %: two lattices extrapolated",
        source="Hauptman and Miloh, Q. J. Mech. Appl. Math. 39 (1986) 41-66, 32/(8 + pi²); from "
        "memory, unverified",
        basis="exact",
    )
    assert found == pytest.approx(exact, rel=2e-3)


@pytest.mark.parametrize("aspect_ratio", [12.0, 20.0])
def test_elliptic_wing_of_high_aspect_ratio(aspect_ratio: float, record: Any) -> None:
    """Lifting-line theory of third order: slope within 0.5 %."""
    higher = 16.0 / (math.pi * aspect_ratio) ** 2 * (math.log(math.pi * aspect_ratio) - 9.0 / 8.0)
    theory = 2.0 * math.pi / (1.0 + 2.0 / aspect_ratio + higher)
    found = slope(wing(aspect_ratio), 6, 24)
    record(
        case=f"lift slope of a flat elliptic wing, aspect ratio {aspect_ratio:g}",
        published=theory,
        ours=found,
        unit="per rad",
        tolerance="0.5 %: terms of the next order",
        source="M. Van Dyke, Archiwum Mechaniki Stosowanej 16 (1964) 601: lifting line as a "
        "singular perturbation; from memory, unverified",
        basis="exact",
    )
    assert found == pytest.approx(theory, rel=5e-3)


def test_slender_elliptic_wing(record: Any) -> None:
    """A slender wing's slope is pi/2 times its aspect ratio, whatever its outline: within 0.5 %."""
    found = slope(wing(0.1), 24, 12)
    record(
        case="lift slope of a slender elliptic wing, aspect ratio 0.1",
        published=0.05 * math.pi,
        ours=found,
        unit="per rad",
        tolerance="0.5 %: the limit of a small aspect ratio",
        source="R. T. Jones, NACA TR 835 (1946)",
        basis="exact",
    )
    assert found == pytest.approx(0.05 * math.pi, rel=5e-3)


def test_elliptic_load(record: Any) -> None:
    """The lift of a long elliptic wing acts at 4/(3 pi) of the half span: within 0.5 %."""
    fin = wing(20.0)
    found = surface.lift_slope(
        surface.mesh(fin, chordwise=6, spanwise=48, tip_inset=0.25), mach=0.0
    )
    record(
        case="where the lift of an elliptic wing acts, over the half span",
        published=4.0 / (3.0 * math.pi),
        ours=found.y / fin.span,
        tolerance="0.5 %",
        source="lifting-line theory: elliptic load",
        basis="exact",
    )
    assert found.y / fin.span == pytest.approx(4.0 / (3.0 * math.pi), rel=5e-3)
