"""Touchdown and handling: which corner, how much energy, what margin."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.errors import InputError
from calc.landing import THUMB, descent_speed, effective_mass, thumb, touchdown, touches_first

FIN = {
    "root": 0.09,
    "tip": 0.05,
    "span": 0.06,
    "sweep": 0.06,
    "thickness": 0.003,
    "modulus": 3e9,
    "strength": 15e6,
    "shear_modulus": 0.15e9,
    "shear_strength": 2.5e6,
}
ROCKET = {"speed": 5.0, "mass": 0.15, "length": 0.5, "diameter": 0.05}


@pytest.mark.parametrize(
    ("sweep", "tail", "tilt", "part"),
    [
        (0.06, 0.0, 0.0, "tip trailing corner"),
        (0.06, 0.05, 0.0, "tail"),
        (0.04, 0.0, 0.0, "trailing edge"),
        (0.02, 0.0, 0.0, "tail"),
        (0.02, 0.0, math.radians(40), "tip trailing corner"),
        (0.06, 0.0, math.pi / 2, "tip edge"),
        (0.06, 0.0, math.radians(130), "tip leading corner"),
    ],
)
def test_what_touches_first(sweep, tail, tilt, part):
    """Sweep, tail length and tilt decide what meets the ground, seen on a drawing."""
    touch = touches_first(root=0.09, tip=0.05, span=0.06, sweep=sweep, tail=tail, tilt=tilt)
    assert touch.part == part
    assert touch.clearance >= 0.0


def test_tail_first_spares_the_fin():
    """If the tail touches first the fin is asked for nothing."""
    down = touchdown(**ROCKET, **{**FIN, "sweep": 0.01})
    assert down.touch.part == "tail"
    assert down.governs.ratio == math.inf


def test_energy_is_conserved():
    """On rigid ground the fin takes the whole share of the fall's energy, as flat and edge."""
    down = touchdown(**ROCKET, **FIN, share=0.5)
    assert down.flat_energy + down.edge_energy < 0.5 * 0.5 * 0.15 * 5.0**2
    edge = touchdown(**ROCKET, **FIN, incidence=0.0)
    lever = 0.025 + 0.06
    free = effective_mass(mass=0.15, arms=((lever, 0.5 / math.sqrt(12)),))
    assert edge.edge_energy == pytest.approx(0.5 * free * 25.0)
    assert edge.flat_energy == 0.0


def test_soft_ground_and_soft_joint_help():
    """Turf and a springy joint take energy off the fin; a slower fall helps with its square."""
    hard = touchdown(**ROCKET, **FIN)
    soft = touchdown(**ROCKET, **FIN, ground_resistance=1e6)
    sprung = touchdown(**ROCKET, **FIN, root_spring=50.0)
    slow = touchdown(**{**ROCKET, "speed": 2.5}, **FIN)
    assert soft.governs.ratio > hard.governs.ratio
    assert sprung.flat_energy < hard.flat_energy
    assert slow.flat_energy == pytest.approx(hard.flat_energy / 4)
    assert "rigid ground" in hard.assumptions
    assert "rigid ground" not in soft.assumptions


def test_thicker_is_tougher():
    """Every margin grows with thickness."""
    thin, thick = (touchdown(**ROCKET, **{**FIN, "thickness": t}).margins for t in (0.002, 0.004))
    assert all(b.ratio > a.ratio for a, b in zip(thin, thick, strict=True))


@given(
    sweep=st.floats(-0.05, 0.2),
    tip=st.floats(0.0, 0.1),
    tilt=st.floats(0.0, 3.0),
)
def test_touch_is_the_lowest_point(sweep, tip, tilt):
    """No corner of the fin lies lower than the point that is said to touch first."""
    touch = touches_first(root=0.09, tip=tip, span=0.06, sweep=sweep, tilt=tilt)
    corners = [(0.09, 0.0), (sweep, 0.06), (sweep + tip, 0.06)]
    depth = [x * math.cos(tilt) + y * math.sin(tilt) for x, y in corners]
    mine = touch.x * math.cos(tilt) + touch.y * math.sin(tilt)
    assert mine >= max(depth) - 1.1e-3


def test_thumb():
    """A harder thumb leaves less margin, in proportion."""
    low, high = (
        thumb(force=f, root=0.09, span=0.06, thickness=0.003, strength=15e6) for f in THUMB
    )
    assert low.ratio == pytest.approx(4.0 * high.ratio)


def test_bad_inputs():
    """Impossible parachutes, speeds and shares are refused by name."""
    with pytest.raises(InputError, match="spill_hole"):
        descent_speed(mass=0.1, parachute_diameter=0.3, spill_hole=0.3)
    with pytest.raises(InputError, match="speed"):
        touchdown(**{**ROCKET, "speed": 0.0}, **FIN)
    with pytest.raises(InputError, match="share"):
        touchdown(**ROCKET, **FIN, share=1.5)
