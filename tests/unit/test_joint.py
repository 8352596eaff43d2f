"""The root joint as a whole: paths, limits, refusals."""

import pytest

from calc import joint
from calc.errors import InputError

FIN = {
    "moment": 4.0,
    "shear": 200.0,
    "thickness": 0.003,
    "fin_strength": 20e6,
    "fin_modulus": 4e9,
    "fin_shear": 2e6,
    "fin_edge_tension": 4e6,
    "adhesive_shear": 15e6,
    "adhesive_tension": 25e6,
    "adhesive_modulus": 2e9,
    "tube_shear": 1e6,
    "tube_tension": 0.5e6,
    "wall": 0.0005,
    "wall_strength": 25e6,
}


def test_weaker_part_governs():
    """With strong glue the paper of the tube limits the bare edge, not the glue."""
    bare = joint.check(**FIN)
    assert bare.surface[0].capacity == pytest.approx(0.5e6 * 0.003**2 / 6)
    stronger = joint.check(**{**FIN, "adhesive_tension": 100e6, "adhesive_shear": 50e6})
    assert stronger.surface == bare.surface
    assert not bare.as_strong_as_fin


def test_fillets_help_more_as_they_grow():
    """Each larger fillet bears more moment and shear than the one before."""
    checks = [joint.check(**FIN, fillet_radius=r) for r in (0.002, 0.004, 0.008)]
    moments = [c.surface[0].capacity for c in checks]
    shears = [c.surface[1].capacity for c in checks]
    assert moments == sorted(moments)
    assert shears == sorted(shears)
    assert moments[0] > joint.check(**FIN).surface[0].capacity


def test_tab_takes_over():
    """A through-wall tab carries what the surface cannot; the paths are not added."""
    with_tab = joint.check(**FIN, tab_depth=0.012)
    assert with_tab.path == "tab"
    assert with_tab.governs.ratio > joint.check(**FIN).governs.ratio
    assert with_tab.governs in with_tab.tab
    shallow = joint.check(**FIN, tab_depth=1e-5)
    assert shallow.path == "surface"


def test_sign_does_not_matter():
    """A moment the other way is the same demand."""
    there, back = joint.check(**FIN), joint.check(**{**FIN, "moment": -4.0, "shear": -200.0})
    assert there == back


def test_springs():
    """One fin alone turns a softer tube than all together; parts in a row soften, tabs stiffen."""
    shape = {"modulus": 3e9, "wall": 0.0005, "diameter": 0.04, "count": 3}
    alone = joint.wall_spring(**shape)
    assert alone < joint.wall_spring(**shape, together=True)
    glue = joint.glue_spring(thickness=0.003, glue_thickness=1e-4, modulus=1e9)
    tab = joint.tab_spring(modulus=4e9, thickness=0.003, depth=0.01)
    assert joint.root_spring(series=(alone, glue)) < alone
    assert joint.root_spring(series=(alone, glue), parallel=(tab,)) > tab


def test_bands_in_order():
    """Every band of glue and tube has its low end first and names its source."""
    for item in (*joint.ADHESIVES.values(), *joint.TUBES.values()):
        for band in (item.shear, item.tension):
            assert 0.0 < band[0] <= band[1]
        assert item.source


def test_bad_inputs():
    """Negative fillets and missing thickness are refused by name."""
    with pytest.raises(InputError, match="fillet_radius"):
        joint.check(**FIN, fillet_radius=-0.001)
    with pytest.raises(InputError, match="thickness"):
        joint.butt(thickness=0.0, shear=1e6, tension=1e6)
