"""The root joint as a whole: load paths, limits, refusals."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from calc import materials
from calc.errors import InputError
from calc.margin import Margin
from calc.structure import root_joint
from calc.structure.laminate import isotropic, stacked

LOAD = root_joint.RootLoad(moment=4.0, shear=200.0, mean=3.0, root=0.06)
FIN = root_joint.FinRoot(thickness=0.003, modulus=4e9, shear_strength=2e6, edge_tension=(4e6, 5e6))
GLUE = root_joint.Adhesive("a glue", (15e6, 30e6), (25e6, 50e6), (2e9, 3e9))
TUBE = root_joint.Tube(
    label="a tube",
    shear=(1e6, 2e6),
    tension=(0.5e6, 1e6),
    hoop_strength=(25e6, 40e6),
    hoop_modulus=(2e9, 4e9),
    compression=(9e6, 18e6),
    bending=(20e6, 36e6),
    crease=(9e6, 18e6),
    tough=True,
    damp=True,
)
BARE = root_joint.Joint(GLUE, TUBE, wall=0.0005, diameter=0.04)


def named(margins: tuple[Margin, ...], name: str) -> Margin:
    """Return a margin by name."""
    return next(item for item in margins if item.name == name)


def test_weaker_part_governs() -> None:
    """With strong glue the paper of the tube limits the bare edge, not the glue."""
    bare = root_joint.check(LOAD, FIN, BARE)
    layers = named(bare.surface, "tube layers under the joint")
    assert layers.capacity.value == pytest.approx(0.5e6 * 0.003**2 / 6)
    assert layers.ratio < named(bare.surface, "glue line, bending").ratio
    strong = replace(GLUE, tension=(100e6, 200e6), shear=(50e6, 100e6))
    stronger = root_joint.check(LOAD, FIN, replace(BARE, adhesive=strong))
    assert named(stronger.surface, "tube layers under the joint") == layers


def test_fillets_help_more_as_they_grow() -> None:
    """Each larger fillet bears more moment and shear than the one before."""
    checks = [
        root_joint.check(LOAD, FIN, replace(BARE, fillet=radius)).surface
        for radius in (0.0, 0.002, 0.004, 0.008)
    ]
    for place in range(len(checks[0])):
        capacities = [surface[place].capacity.value for surface in checks]
        assert capacities == sorted(capacities)
        assert capacities[0] < capacities[1]


def test_tab_takes_over() -> None:
    """A through-wall tab carries what the surface cannot; the paths are not added."""
    bare = root_joint.capacity(LOAD, FIN, BARE)
    tabbed = root_joint.capacity(LOAD, FIN, replace(BARE, tab=0.012))
    assert (bare.path, tabbed.path) == ("surface", "tab")
    assert tabbed.governs.ratio > bare.governs.ratio
    assert {band.name for band in tabbed.bands}.isdisjoint(band.name for band in bare.bands)
    shallow = root_joint.capacity(LOAD, FIN, replace(BARE, tab=1e-5))
    assert (shallow.path, shallow.governs) == ("surface", bare.governs)


def test_ends_are_those_of_the_bands() -> None:
    """Capacities run from all strengths low to all strengths high."""
    found = root_joint.capacity(LOAD, FIN, BARE)
    low, high = (root_joint.check(LOAD, FIN, BARE, end=end) for end in (0, 1))
    for band, weak, strong in zip(found.bands, low.surface, high.surface, strict=True):
        assert (band.low, band.high) == pytest.approx((weak.ratio, strong.ratio))


def test_sign_does_not_matter() -> None:
    """A moment the other way is the same demand."""
    joint = replace(BARE, tab=0.01)
    back = replace(LOAD, moment=-4.0, shear=-200.0)
    assert root_joint.check(LOAD, FIN, joint) == root_joint.check(back, FIN, joint)


def test_load_where_the_root_carries_most() -> None:
    """By hand: moments 1, 2, -6 have the mean 3 and the peak 6, so shear counts twice its mean."""
    load = root_joint.root_load(np.array([1.0, 2.0, -6.0]), shear=-8.0, root=0.1)
    assert (load.moment, load.shear) == (6.0, pytest.approx(2.0 * 8.0 / 0.1))
    assert (load.mean, load.root) == (3.0, 0.1)


def test_edge_tension_of_wood() -> None:
    """Grain along the tube glues with its strength across; end grain with a part of that along.

    Wood Handbook ch. 10: a quarter at the very best. A plastic has neither.
    """
    stack = materials.load("basswood").layup(thickness=0.003)
    lamina = stack.plies[0].lamina
    along = root_joint.edge_tension(stack, direction=0.0)
    end = root_joint.edge_tension(stack, direction=math.pi / 2)
    assert along == pytest.approx((lamina.tension_across, lamina.tension_across))
    assert end[1] == pytest.approx(0.25 * lamina.tension_along)
    assert end[0] == pytest.approx(max(0.1 * lamina.tension_along, lamina.tension_across))
    sheet = isotropic(modulus=2e9, poisson=0.35, density=1200.0, tension=40e6)
    plastic = stacked(sheet, [0.0], thickness=0.003)
    assert root_joint.edge_tension(plastic, direction=0.7) == pytest.approx((40e6, 40e6))


def test_fin_root_of_a_plain_sheet() -> None:
    """The modulus of a sheet of one material comes back from its stiffness, D = E t^3 / 12."""
    stack = materials.load("basswood").layup(thickness=0.003)
    fin = root_joint.fin_root(stack, direction=0.0, span_stiffness=5e9 * 0.003**3 / 12.0)
    assert fin.modulus == pytest.approx(5e9)
    assert fin.thickness == pytest.approx(0.003)
    assert fin.shear_strength == stack.plies[0].lamina.shear_strength


def test_springs() -> None:
    """One fin alone turns a softer tube than all together; parts in a row soften, tabs stiffen."""
    shape = {"modulus": 3e9, "wall": 0.0005, "diameter": 0.04, "count": 3}
    alone = root_joint.wall_spring(**shape)
    assert alone < root_joint.wall_spring(**shape, together=True)
    assert root_joint.RootSprings(wall=60.0, glue=30.0, tab=5.0).total == pytest.approx(25.0)
    bare, tabbed = (
        root_joint.springs(FIN, joint, count=3) for joint in (BARE, replace(BARE, tab=0.01))
    )
    assert bare.tab == 0.0
    assert bare.total < bare.wall
    assert tabbed.total == pytest.approx(bare.total + tabbed.tab)


def test_springs_by_hand() -> None:
    """Each modulus is the geometric mean of its band: 2 to 8 GPa counts as 4 GPa."""
    joint = replace(
        BARE,
        adhesive=replace(GLUE, modulus=(2e9, 8e9)),
        tube=replace(TUBE, hoop_modulus=(2e9, 8e9)),
        fillet=0.001,
    )
    found = root_joint.springs(FIN, joint, count=3)
    width = 0.003 + 2.0 * (2.0 - math.sqrt(2.0)) * 0.001
    assert found.glue == pytest.approx(4e9 * width**3 / (12.0 * 1e-4))
    radius = 0.5 * (0.04 - 0.0005)
    wall = 4e9 * 0.0005**3 / 12.0 / (radius * (math.pi / 6.0 - 1.0 / math.pi))
    assert found.wall == pytest.approx(wall)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("fillet", -0.001),
        ("tab", -1e-9),
        ("notched", -1e-9),
        ("notched", 1.0),
        ("notch_depth", -1e-9),
        ("wall", 0.0),
        ("diameter", math.nan),
        ("inner_fillet", math.nan),
        ("moisture", -0.1),
        ("cloth", -1),
    ],
)
def test_impossible_joints(name: str, value: float) -> None:
    """Negative fillets and tabs, and tubes without a wall or a diameter, are refused by name."""
    with pytest.raises(InputError, match=name):
        replace(BARE, **{name: value})


def test_missing_thickness() -> None:
    """A glue line without width is refused by name."""
    with pytest.raises(InputError, match="thickness"):
        root_joint.butt(thickness=0.0, shear=1e6, tension=1e6)


# --- the wall ---------------------------------------------------------------------------------


def test_wall_moment_falls_beside_the_fin() -> None:
    """A wide foot relieves the wall: the bending moment of the very ring that gives the spring.

    The share at an angle integrates, squared, to the ring's compliance, pi / 6 - 1 / pi.
    """
    half = np.linspace(0.0, root_joint.WIDEST_FOOT, 101)
    share = [root_joint.wall_share(width=2.0 * a, wall=0.0, diameter=2.0) for a in half]
    assert np.all(np.diff(share) < 0.0)
    assert share[0] == 1.0
    turn = np.linspace(0.0, math.pi, 20_001)
    moment = 0.5 * (1.0 - (turn + 2.0 * np.sin(turn)) / math.pi)
    compliance = 2.0 * float(np.sum(0.5 * (moment[1:] ** 2 + moment[:-1] ** 2)) * turn[1])
    assert compliance == pytest.approx(math.pi / 6.0 - 1.0 / math.pi, rel=1e-6)
    assert share == pytest.approx(2.0 * np.interp(half, turn, moment), abs=1e-6)


def test_crease_comes_before_the_fold() -> None:
    """The first lasting crease is a margin of its own, below the fold; a brittle wall has none."""
    found = root_joint.capacity(LOAD, FIN, replace(BARE, fillet=0.004))
    fold = next(band for band in found.bands if band.name == "tube wall folding")
    assert found.crease is not None
    assert found.crease.ratio < fold.ratio
    glass = replace(TUBE, crease=TUBE.bending)
    assert root_joint.capacity(LOAD, FIN, replace(BARE, tube=glass)).crease is None


def test_damp_takes_strength_from_paper_only() -> None:
    """At 15 % moisture 0.9^8 = 0.43 of a paper tube's strength is left (Correa), of others all."""
    wet = TUBE.at(0.15)
    for name in ("shear", "tension", "hoop_strength", "compression", "bending", "crease"):
        dry = getattr(TUBE, name)
        assert getattr(wet, name) == pytest.approx((0.43 * dry[0], 0.43 * dry[1]), rel=0.01)
    assert wet.hoop_modulus == TUBE.hoop_modulus
    assert TUBE.at(0.05) == TUBE
    glass = replace(TUBE, damp=False)
    assert glass.at(0.15) == glass
    dry_joint, wet_joint = (
        root_joint.capacity(LOAD, FIN, replace(BARE, fillet=0.004, moisture=m))
        for m in (0.07, 0.15)
    )
    assert wet_joint.governs.ratio == pytest.approx(0.43 * dry_joint.governs.ratio, rel=0.01)


def test_layers_between_brittle_and_tough() -> None:
    """Tough layers bear up to three times a brittle joint's moment; brittle ones no more.

    The foot that pulls evenly about its far edge: sigma w * w / 2.
    """
    assert root_joint.layers_moment(width=0.006, tension=1e6, even=True) == pytest.approx(18.0)
    name = "tube layers under the joint"
    filleted = replace(BARE, fillet=0.004)
    tough = named(root_joint.check(LOAD, FIN, filleted, end=1).surface, name)
    brittle_tube = replace(TUBE, tough=False)
    brittle = named(
        root_joint.check(LOAD, FIN, replace(filleted, tube=brittle_tube), end=1).surface, name
    )
    assert tough.capacity.value == pytest.approx(3.0 * brittle.capacity.value)
    assert (tough.demand, brittle.demand) == (LOAD.mean, LOAD.moment)


def test_what_lies_behind_the_wall() -> None:
    """Rings and a coupler help the wall, a close motor keeps it from folding at all."""
    fold = "tube wall folding"
    base = replace(BARE, fillet=0.004)
    plain = named(root_joint.check(LOAD, FIN, base).surface, fold)
    coupler = named(root_joint.check(LOAD, FIN, replace(base, behind="coupler")).surface, fold)
    rings = named(root_joint.check(LOAD, FIN, replace(base, behind="rings")).surface, fold)
    assert coupler.capacity.value == pytest.approx(2.0 * plain.capacity.value)
    glued = named(root_joint.check(LOAD, FIN, replace(base, behind="coupler"), end=1).surface, fold)
    alone = named(root_joint.check(LOAD, FIN, base, end=1).surface, fold)
    assert glued.capacity.value == pytest.approx(4.0 * alone.capacity.value)
    assert rings.capacity.value > plain.capacity.value
    motor = root_joint.check(LOAD, FIN, replace(base, behind="motor"))
    assert fold not in [margin.name for margin in motor.surface]
    assert motor.crease is not None


def test_rings_by_hand() -> None:
    """Two 3 mm rings under a 60 mm root, R 20 mm, wall 0.5 mm: reach sqrt(10) = 3.16 mm.

    2 (3 + 6.32) / 60 = 0.311; a brittle wall counts the rings or itself, not both.
    """
    share = root_joint.ring_share(root=0.06, wall=0.0005, diameter=0.0405)
    assert share == pytest.approx(0.311, abs=0.001)
    assert root_joint.ring_share(root=0.005, wall=0.0005, diameter=0.04) == 1.0
    base = replace(BARE, fillet=0.004)
    fold = "tube wall folding"
    ringed = named(root_joint.check(LOAD, FIN, replace(base, behind="rings")).surface, fold)
    plain = named(root_joint.check(LOAD, FIN, base).surface, fold)
    layers = named(root_joint.check(LOAD, FIN, base).surface, "tube layers under the joint")
    part = root_joint.ring_share(root=LOAD.root, wall=0.0005, diameter=0.04)
    mixed = part * layers.capacity.value + (1.0 - part) * plain.capacity.value
    assert ringed.capacity.value == pytest.approx(mixed)
    # fillets inside spare the outer layers, not those that tie the wall to a ring, nor does cloth
    for more in ({"tab": 0.012, "tab_end": "free", "inner_fillet": 0.004}, {"cloth": 3}):
        other = named(
            root_joint.check(LOAD, FIN, replace(base, behind="rings", **more)).surface, fold
        )
        assert other == ringed
    brittle = replace(base, tube=replace(TUBE, tough=False), behind="rings")
    hard = named(root_joint.check(LOAD, FIN, brittle).surface, fold)
    best = max(plain.capacity.value, part * layers.capacity.value)
    assert hard.capacity.value == pytest.approx(best)


def test_a_fold_counts_the_whole_root() -> None:
    """Paper that folds keeps its moment, so the mean counts; a brittle wall cracks at the peak."""
    fold = "tube wall folding"
    brittle = replace(BARE, tube=replace(TUBE, tough=False))
    assert named(root_joint.check(LOAD, FIN, BARE).surface, fold).demand == LOAD.mean
    assert named(root_joint.check(LOAD, FIN, brittle).surface, fold).demand == LOAD.moment


# --- tabs, cloth, tests -----------------------------------------------------------------------


def test_fillets_inside_hold_the_tab() -> None:
    """Fillets at the tab's end widen its glue, and a fin gripped through the wall peels nothing."""
    tabbed = replace(BARE, tab=0.012)
    bare, inside = (
        root_joint.check(LOAD, FIN, replace(tabbed, inner_fillet=r)) for r in (0.0, 0.005)
    )
    end = "glue at the tab's end"
    leg = (2.0 - math.sqrt(2.0)) * 0.005
    shear = 1e6
    assert named(inside.tab, end).capacity.value == pytest.approx(shear * (0.002 + 2.0 * leg))
    assert named(bare.tab, end).capacity.value == pytest.approx(shear * 0.002)
    assert "tube layers under the joint" not in [m.name for m in inside.surface]


def test_tab_between_rings_by_hand() -> None:
    """Two patches of 12 x 2 mm at 1 MPa of card, pulls at 6 mm: 0.288 N m of 0.18 asked."""
    ringed = root_joint.check(LOAD, FIN, replace(BARE, tab=0.012, tab_end="rings"))
    (margin,) = ringed.tab
    assert margin.ratio == pytest.approx(2 * 1e6 * 0.012 * 0.002 * 0.006 / 0.18)
    assert margin.demand * LOAD.root == pytest.approx(0.18 / 0.012)


def test_notches_leave_less_glue_and_a_softer_tab() -> None:
    """A fifth of the length cut half-way: 4/5 of the glue, the spring over 1 + 1/8 (5/4 - 1)."""
    whole = replace(BARE, tab=0.012)
    cut = replace(whole, notched=0.2, notch_depth=0.006)
    end, wall = "glue at the tab's end", "tube wall at the slot"
    before, after = (root_joint.check(LOAD, FIN, joint).tab for joint in (whole, cut))
    assert named(after, end).capacity.value == pytest.approx(
        0.8 * named(before, end).capacity.value
    )
    assert named(after, wall) == named(before, wall)
    stiff, soft = (root_joint.springs(FIN, joint, count=3).tab for joint in (whole, cut))
    assert soft == pytest.approx(stiff / (1.0 + 0.25 / 8.0))
    ringed = [replace(joint, tab_end="rings") for joint in (whole, cut)]
    assert root_joint.check(LOAD, FIN, ringed[0]).tab == root_joint.check(LOAD, FIN, ringed[1]).tab


def test_free_tab_is_no_second_path() -> None:
    """A tab that nothing holds inside leaves the wall to bend, and gives no stiffness."""
    free = replace(BARE, tab=0.012, tab_end="free")
    found = root_joint.capacity(LOAD, FIN, free)
    assert (found.path, found.at_least) == ("surface", False)
    assert root_joint.springs(FIN, free, count=3).tab == 0.0
    assert root_joint.springs(FIN, replace(free, tab_end="rings"), count=3).tab > 0.0


def test_cloth_adds_its_pull_over_the_fin() -> None:
    """One layer of 20 kN/m at most, anchored by 1 MPa over pi D / 8, pulls at the fin's faces."""
    plain = root_joint.check(LOAD, FIN, BARE)
    sewn = root_joint.check(LOAD, FIN, replace(BARE, cloth=1))
    anchored = min(20e3, 1e6 * math.pi * 0.04 / 8.0)
    for name in ("glue line, bending", "tube layers under the joint"):
        gain = named(sewn.surface, name).capacity.value - named(plain.surface, name).capacity.value
        assert gain == pytest.approx(anchored * 0.003)
    assert named(sewn.surface, "tube wall folding") == named(plain.surface, "tube wall folding")
    assert root_joint.capacity(LOAD, FIN, replace(BARE, cloth=1)).at_least


def test_one_path_alone_is_a_lower_limit() -> None:
    """With two load paths the margin is "at least", and the joint can exceed it up to their sum."""
    bare = root_joint.capacity(LOAD, FIN, BARE)
    assert not bare.at_least
    assert bare.most == min(band.high for band in bare.bands)
    tabbed = root_joint.capacity(LOAD, FIN, replace(BARE, tab=0.012))
    assert tabbed.at_least
    assert tabbed.most == pytest.approx(bare.most + min(b.high for b in tabbed.bands))


def test_a_stiffer_root_lowers_the_low_end() -> None:
    """A load that a stiffer root would crowd to 1.5 times takes a third off the low ends only."""
    plain = root_joint.capacity(LOAD, FIN, BARE)
    crowded = root_joint.capacity(LOAD, FIN, BARE, stiff=replace(LOAD, moment=6.0))
    for one, other in zip(plain.bands, crowded.bands, strict=True):
        assert (other.low, other.high) == (pytest.approx(one.low / 1.5), one.high)
    eased = root_joint.capacity(LOAD, FIN, BARE, stiff=replace(LOAD, moment=3.0))
    assert eased == plain


def test_a_tested_joint_replaces_what_is_computed() -> None:
    """Joints that broke at 6 to 24 N m/m hold 4 N m/m with 1.5 to 6, whatever the glue."""
    found = root_joint.capacity(LOAD, FIN, BARE, tested=(6.0, 24.0))
    (band,) = found.bands
    assert (band.low, band.ratio, band.high) == pytest.approx((1.5, 3.0, 6.0))
    assert not found.at_least


def test_coupler_stiffens_the_root() -> None:
    """Two walls side by side are twice as stiff, one of both eight times: between them four."""
    plain, doubled = (
        root_joint.springs(FIN, replace(BARE, behind=b), count=3).wall
        for b in ("nothing", "coupler")
    )
    assert 4.0 * plain == pytest.approx(doubled, rel=0.02)


def test_a_bare_edge_has_a_bead_at_its_best() -> None:
    """Pressed-out glue of 1 mm radius widens a bare foot at the high end only, by 1.17 mm."""
    name = "tube layers under the joint"
    low, high = (named(root_joint.check(LOAD, FIN, BARE, end=end).surface, name) for end in (0, 1))
    wide = 0.003 + 2.0 * (2.0 - math.sqrt(2.0)) * 0.001
    assert low.capacity.value == pytest.approx(0.5e6 * 0.003**2 / 6.0)
    assert high.capacity.value == pytest.approx(1e6 * wide**2 / 2.0)
    assert BARE.foot(0.003) == 0.003


def test_wall_at_the_slot_by_hand() -> None:
    """The slot's edge crushes at 9 MPa * 0.5 mm; a fillet of 4 mm pulls with 1 MPa besides."""
    name = "tube wall at the slot"
    bare, filleted = (
        named(root_joint.check(LOAD, FIN, replace(BARE, tab=0.012, fillet=r)).tab, name)
        for r in (0.0, 0.004)
    )
    assert bare.capacity.value == pytest.approx(9e6 * 0.0005)
    leg = (2.0 - math.sqrt(2.0)) * 0.004
    assert filleted.capacity.value == pytest.approx(9e6 * 0.0005 + 1e6 * leg)
    assert bare.demand == pytest.approx(4.0 / 0.012 + 200.0)


def test_a_wide_foot_relieves_the_wall_up_to_half_a_radian() -> None:
    """By the ring's formula a foot of 0.2 rad leaves 81 % of half the moment, any wide one 53 %."""
    thin = {"wall": 0.0, "diameter": 0.04}
    assert root_joint.wall_share(width=0.008, **thin) == pytest.approx(0.8099, abs=1e-4)
    assert root_joint.wall_share(width=0.020, **thin) == pytest.approx(0.5356, abs=1e-4)
    assert root_joint.wall_share(width=0.036, **thin) == pytest.approx(0.5356, abs=1e-4)


def test_root_without_a_moment() -> None:
    """A root that carries shear alone carries it evenly, and any joint bears its moment."""
    load = root_joint.root_load(np.zeros(3), shear=-10.0, root=0.1)
    assert load == root_joint.RootLoad(moment=0.0, shear=100.0, mean=0.0, root=0.1)
    found = root_joint.capacity(load, FIN, BARE, stiff=LOAD)
    assert found.governs.name == "glue line, shear"


def test_no_tab_is_no_path() -> None:
    """Whatever would hold its inner end, a tab of no depth carries nothing.

    And fillets inside spare no layer of the tube.
    """
    for end in ("motor", "rings"):
        found = root_joint.check(LOAD, FIN, replace(BARE, tab=0.0, tab_end=end, inner_fillet=0.003))
        assert not found.tab
        assert named(found.surface, "tube layers under the joint")
