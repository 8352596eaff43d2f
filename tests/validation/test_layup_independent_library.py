"""Random stacks against a general-purpose laminate library (composites, BSD licence)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from calc.structure import laminate as lay
from calc.structure.stack_notation import parse_stack

laminated_plate = pytest.importorskip(
    "composites", reason="the library composites has no wheel for this Python and machine"
).laminated_plate


def random_stack(generator, count):
    """Draw plies of different materials, thicknesses and angles."""
    plies, props, thick, angles = [], [], [], []
    for _ in range(count):
        e1 = generator.uniform(5e9, 180e9)
        e2 = e1 * generator.uniform(0.02, 0.9)
        nu = generator.uniform(0.0, 0.45)
        g12, g13, g23 = e1 * generator.uniform(0.02, 0.3, 3)
        t = generator.uniform(1e-4, 2e-3)
        angle = generator.uniform(-90, 90)
        ply = lay.Lamina(e1, e2, g12, nu, 500.0, g13, g23, 1e7, 1e7, 1e6, 1e6, 1e6)
        plies.append(lay.Ply(ply, t, math.radians(angle)))
        props.append((e1, e2, nu, g12, g13, g23))
        thick.append(t)
        angles.append(angle)
    return lay.Layup(tuple(plies)), laminated_plate(stack=angles, plyts=thick, laminaprops=props)


@pytest.mark.parametrize("count", [1, 2, 3, 5, 8, 13])
@pytest.mark.parametrize("seed", range(5))
def test_random_stacks(count, seed, record):
    """A, B, D of unsymmetric stacks of mixed plies agree to rounding."""
    mine, theirs = random_stack(np.random.default_rng([count, seed]), count)
    full = lay.stiffness(mine)
    record(
        case=f"random stack of {count} plies, draw {seed}, largest bending stiffness",
        published=np.abs(np.asarray(theirs.D)).max(),
        ours=np.abs(full.D).max(),
        unit="N m",
        tolerance="1e-9: same theory, independent code",
        source="composites 0.10.1, general-purpose laminate library",
        basis="library",
    )
    for key in "ABD":
        other = np.asarray(getattr(theirs, key))
        scale = np.abs(np.asarray(theirs.A)).max() * mine.thickness ** "ABD".index(key)
        np.testing.assert_allclose(getattr(full, key), other, rtol=1e-9, atol=1e-11 * scale)


@pytest.mark.parametrize("stack", ["0", "0/90/0", "[0/90]s", "[0/90]2s", "0/90/0/90/0"])
def test_transverse_shear(stack, record):
    """Shear stiffness by equilibrium agrees with the library's for flat cross-ply stacks."""
    angles = parse_stack(stack)
    ply = lay.Lamina(16e9, 0.8e9, 1.05e9, 0.45, 680.0, 1.1e9, 0.27e9, 1e8, 1e8, 6e6, 6e6, 1e7)
    mine = lay.stiffness(lay.stacked(ply, angles, thickness=3e-3)).transverse_shear
    theirs = laminated_plate(
        stack=list(angles),
        plyt=3e-3 / len(angles),
        laminaprop=(16e9, 0.8e9, 0.45, 1.05e9, 1.1e9, 0.27e9),
    )
    record(
        case=f"shear stiffness across the thickness of {stack}",
        parts=("along", "across"),
        published=(theirs.A55, theirs.A44),
        ours=(mine[0, 0], mine[1, 1]),
        unit="N/m",
        tolerance="1e-6: same theory, independent code",
        source="composites 0.10.1, general-purpose laminate library",
        basis="library",
    )
    np.testing.assert_allclose(
        [mine[0, 0], mine[1, 1], mine[0, 1]],
        [theirs.A55, theirs.A44, theirs.A45],
        rtol=1e-6,
        atol=1e-6 * mine[0, 0],
    )
