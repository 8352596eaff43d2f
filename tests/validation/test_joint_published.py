"""Root joint against hand arithmetic, a fibre model and a ring of straight beams."""

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest

from calc.structure import root_joint

ANC = tomllib.loads((Path(__file__).parent / "data/anc_18_glue.toml").read_text())
PSI = 6894.757293168


def test_anc_18_allowables(record):
    """The weaker wood sets an even glue line, a third of it an uneven one, as printed."""
    spruce = ANC["spruce_shear_psi"] * PSI
    assert root_joint.allowable(24e6, spruce) == spruce
    third = root_joint.allowable(24e6, spruce, uneven=True) / PSI
    record(
        case="allowable shear of an unevenly loaded spruce glue line",
        published=ANC["web_to_flange_psi"],
        ours=third,
        unit="psi",
        tolerance="half a unit of the last printed digit",
        source=ANC["source"],
    )
    assert third == pytest.approx(ANC["web_to_flange_psi"], abs=ANC["tolerance_psi"])


def test_butt_by_hand(record):
    """A 3 mm edge: M = 1e6 * 0.003^2 / 6 = 1.5 N m/m, V = 2/3 * 2e6 * 0.003 = 4000 N/m."""
    line = root_joint.butt(thickness=0.003, shear=2e6, tension=1e6)
    record(
        case="glued butt edge of 3 mm",
        parts=("moment, N m/m", "shear, N/m"),
        published=(1.5, 4000.0),
        ours=(line.moment, line.shear),
        tolerance="1e-6: hand arithmetic",
        source="plain section in bending, worked by hand",
        basis="exact",
    )
    assert line.moment == pytest.approx(1.5)
    assert line.shear == pytest.approx(4000.0)


def test_fillet_by_hand(record):
    """A filleted 3 mm fin, equal moduli, is a plain section of width t + 2a.

    r = 5 mm: a = 0.585786 * 5 = 2.92893 mm, width 8.85786 mm; toe at 1 MPa:
    M = 1e6 * 0.00885786^2 / 6 = 13.077 N m/m. V = 1e6 (0.002 + 2 * 0.00292893) = 7857.9 N/m.
    """
    line = root_joint.filleted(
        thickness=0.003,
        radius=0.005,
        fin_modulus=2e9,
        fillet_modulus=2e9,
        butt_tension=1e9,
        toe_tension=1e6,
        face_shear=1e9,
        tube_shear=1e6,
    )
    record(
        case="filleted edge of 3 mm, radius 5 mm",
        parts=("moment, N m/m", "shear, N/m"),
        published=(13.077, 7857.9),
        ours=(line.moment, line.shear),
        tolerance="1e-4: the digits kept",
        source="plain section of the fillet's width, worked by hand",
        basis="exact",
    )
    assert line.moment == pytest.approx(13.077, rel=1e-4)
    assert line.shear == pytest.approx(7857.9, rel=1e-4)
    assert "toe" in line.limit


def test_fillet_fibres(record):
    """A composite section summed fibre by fibre gives the same first failure."""
    t, r, ef, eg = 0.0025, 0.004, 6e9, 1.5e9
    a = (2 - math.sqrt(2)) * r
    z = (np.arange(400_000) + 0.5) / 400_000 * (t / 2 + a)
    dz = z[1] - z[0]
    e = np.where(z < t / 2, ef, eg)
    stiffness = 2 * np.sum(e * z**2) * dz
    stress = e * z / stiffness
    pull = np.sum(stress[z > t / 2]) * dz
    butt_tension, toe, face = 8e6, 5e6, 3e6
    whole = min(
        butt_tension / stress[z < t / 2].max(), toe / stress[z > t / 2].max(), face * a / pull
    )
    e = np.where(z < t / 2, 0.0, eg)
    stress = e * z / (2 * np.sum(e * z**2) * dz)
    alone = min(toe / stress.max(), face * a / (np.sum(stress) * dz))
    ours = root_joint.filleted(
        thickness=t,
        radius=r,
        fin_modulus=ef,
        fillet_modulus=eg,
        butt_tension=butt_tension,
        toe_tension=toe,
        face_shear=face,
        tube_shear=1e6,
    )
    record(
        case="filleted edge of unlike materials, moment at first failure",
        published=max(whole, alone),
        ours=ours.moment,
        unit="N m/m",
        tolerance="1e-4: the fibres' own width",
        source="composite section summed fibre by fibre",
        basis="library",
    )
    assert ours.moment == pytest.approx(max(whole, alone), rel=1e-4)


def test_tab_by_hand(record):
    """A 12 mm tab under 20 N m/m and 500 N/m.

    H = 20 / 0.012 = 1666.7 N/m; wall asks 2166.7 of 15000 N/m at the slot: ratio 6.92;
    end asks 1666.7 of 2/3 * 2e6 * 0.003 = 4000 N/m: ratio 2.4.
    """
    wall, end = root_joint.tab_margins(
        root_joint.RootLoad(moment=20.0, shear=500.0, mean=20.0, root=0.1),
        depth=0.012,
        thickness=0.003,
        leg=0.0,
        end_shear=2e6,
        slot=15e3,
    )
    record(
        case="through-wall tab",
        parts=("tube wall, ratio", "tab end, ratio"),
        published=(6.923, 2.4),
        ours=(wall.ratio, end.ratio),
        tolerance="the digits kept of the hand arithmetic",
        source="couple over the tab's depth, worked by hand",
        basis="exact",
    )
    assert wall.ratio == pytest.approx(6.923, abs=1e-3)
    assert end.ratio == pytest.approx(2.4, abs=1e-6)


def ring_of_beams(*, radius, stiffness, count, loaded, n=360):
    """Rotation of a free ring of straight beams at a loaded fin under a unit moment.

    Plane frame elements (R. D. Cook, Concepts and Applications of Finite Element Analysis, ch. 2),
    made nearly inextensible; the moments are balanced by an even tangential shear flow.
    """
    angle = 2 * np.pi * np.arange(n) / n
    x, y = radius * np.cos(angle), radius * np.sin(angle)
    k = np.zeros((3 * n, 3 * n))
    axial = stiffness / radius**2 * 1e5
    for i in range(n):
        j = (i + 1) % n
        dx, dy = x[j] - x[i], y[j] - y[i]
        length = math.hypot(dx, dy)
        c, s = dx / length, dy / length
        e, f = axial / length, stiffness / length**3
        local = np.array(
            [
                [e, 0, 0, -e, 0, 0],
                [0, 12 * f, 6 * f * length, 0, -12 * f, 6 * f * length],
                [0, 6 * f * length, 4 * f * length**2, 0, -6 * f * length, 2 * f * length**2],
                [-e, 0, 0, e, 0, 0],
                [0, -12 * f, -6 * f * length, 0, 12 * f, -6 * f * length],
                [0, 6 * f * length, 2 * f * length**2, 0, -6 * f * length, 4 * f * length**2],
            ]
        )
        turn = np.kron(np.eye(2), np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]]))
        at = [3 * i, 3 * i + 1, 3 * i + 2, 3 * j, 3 * j + 1, 3 * j + 2]
        k[np.ix_(at, at)] += turn.T @ local @ turn
    load = np.zeros(3 * n)
    fins = [m * n // count for m in range(count if loaded == "all" else 1)]
    for fin in fins:
        load[3 * fin + 2] += 1.0
    flow = -len(fins) / (radius * n)
    load[0::3] += -flow * np.sin(angle)
    load[1::3] += flow * np.cos(angle)
    moved = np.linalg.lstsq(k, load, rcond=1e-12)[0]
    # The work of the whole self-balanced load does not see rigid motion: 2 U = work.
    return float(load @ moved) / len(fins)


@pytest.mark.parametrize(("count", "together"), [(3, True), (4, True), (1, False)])
def test_wall_spring_ring(count, together, record):
    """The tube's spring meets a ring of straight beams within 0.3 per cent."""
    modulus, wall, diameter = 3e9, 0.001, 0.05
    radius = 0.5 * (diameter - wall)
    compliance = ring_of_beams(
        radius=radius,
        stiffness=modulus * wall**3 / 12,
        count=count,
        loaded="all" if together else "one",
    )
    ours = root_joint.wall_spring(
        modulus=modulus, wall=wall, diameter=diameter, count=count, together=together
    )
    record(
        case=f"tube wall as a root spring, {count} fins, "
        + ("all loaded" if together else "one loaded"),
        published=1 / compliance,
        ours=ours,
        unit="N m/rad per m",
        tolerance="0.3 %: a ring of 360 straight beams, nearly inextensible",
        source="plane frame elements, Cook, Concepts and Applications of Finite Element Analysis",
        basis="library",
    )
    assert ours == pytest.approx(1 / compliance, rel=3e-3)
