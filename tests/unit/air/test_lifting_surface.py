"""Structure, symmetry and limits of the lifting surface."""

import numpy as np
import pytest

from calc.air import lifting_surface as surface
from calc.errors import InputError
from calc.geometry.planform import Planform

FIN = Planform(root=0.10, tip=0.05, span=0.06, sweep=0.05)


def test_boxes_cover_the_fin() -> None:
    """Without tip inset the boxes add up to the panel, and their corners enclose their points."""
    lattice = surface.mesh(FIN, tip_inset=0.0)
    assert lattice.areas.sum() == pytest.approx(FIN.area)
    assert lattice.size == 48
    nose = lattice.corners[:, :2, 0].mean(axis=1)
    assert np.allclose(lattice.load_points[:, 0], nose + 0.25 * lattice.chords)
    assert np.allclose(lattice.control_points[:, 0], nose + 0.75 * lattice.chords)
    assert np.allclose(lattice.corners[:, :, 1].mean(axis=1), lattice.load_points[:, 1])


def test_tip_inset_stops_short_of_the_tip() -> None:
    """The last strip ends the stated fraction of a strip before the tip."""
    lattice = surface.mesh(FIN, spanwise=8, tip_inset=0.25)
    width = 2.0 * lattice.strip_half_widths[0]
    assert FIN.span - lattice.corners[:, :, 1].max() == pytest.approx(0.25 * width)


def test_triangle_has_a_lattice() -> None:
    """A fin with no tip chord still gives a finite positive lift slope."""
    lattice = surface.mesh(Planform(root=0.1, tip=0.0, span=0.08, sweep=0.1), tip_inset=0.0)
    matrices = surface.influence(lattice, mach=0.5, wavenumbers=[0.0, 10.0])
    assert np.all(np.isfinite(matrices))
    assert surface.lift_slope(lattice, mach=0.5).slope > 0.0


def test_signs() -> None:
    """Lift toward +z pushes the air at its own place down, and nose-up gives lift."""
    lattice = surface.mesh(FIN)
    steady = surface.influence(lattice, mach=0.3, wavenumbers=0.0)[0]
    assert np.all(np.diag(steady).real < 0.0)
    assert np.all(surface.steady_loads(lattice, mach=0.3, slope=-np.ones(48)) > 0.0)


def test_zero_wavenumber_is_the_vortex_lattice() -> None:
    """The matrix at k = 0 is real, and small k comes to it."""
    lattice = surface.mesh(FIN)
    still, slow = surface.influence(lattice, mach=0.6, wavenumbers=[0.0, 1e-4])
    assert np.all(still.imag == 0.0)
    assert np.abs(slow - still).max() < 1e-4 * np.abs(still).max()


def test_each_wavenumber_stands_alone() -> None:
    """Several wavenumbers at once give the same matrices as one at a time."""
    lattice = surface.mesh(FIN, chordwise=7, spanwise=5)
    k = np.array([3.0, 0.0, 20.0, 7.5])
    together = surface.influence(lattice, mach=0.4, wavenumbers=k)
    for index, value in enumerate(k):
        alone = surface.influence(lattice, mach=0.4, wavenumbers=value)[0]
        assert np.allclose(together[index], alone, rtol=0.0, atol=1e-13)


def test_image_equals_a_second_fin() -> None:
    """The wall at the root gives what a mirrored second panel gives in symmetric motion."""
    # A rectangle twice as long, cut in two, is its own mirror image.
    half = surface.mesh(Planform(1.0, 1.0, 1.0, 0.0), chordwise=3, spanwise=4, tip_inset=0.0)
    full = surface.mesh(Planform(1.0, 1.0, 2.0, 0.0), chordwise=3, spanwise=8, tip_inset=0.0)
    whole = surface.influence(full, mach=0.5, wavenumbers=1.5, image=False)[0]
    outer, inner = slice(12, 24), slice(0, 12)
    mirrored = whole[outer, inner].reshape(12, 4, 3)[:, ::-1].reshape(12, 12)
    expected = whole[outer, outer] + mirrored
    assert np.allclose(surface.influence(half, mach=0.5, wavenumbers=1.5)[0], expected, atol=1e-12)


def test_size_does_not_matter() -> None:
    """A fin twice as large at half the wavenumber has the same matrix."""
    big = Planform(root=0.20, tip=0.10, span=0.12, sweep=0.10)
    small_matrix = surface.influence(surface.mesh(FIN), mach=0.7, wavenumbers=[0.0, 12.0])
    big_matrix = surface.influence(surface.mesh(big), mach=0.7, wavenumbers=[0.0, 6.0])
    assert np.allclose(small_matrix, big_matrix, atol=1e-12)


def test_prandtl_glauert_rule() -> None:
    """Steady lift slope of a fin equals that of the fin stretched by 1/beta, over beta."""
    beta = 0.6
    stretched = Planform(root=0.10 / beta, tip=0.05 / beta, span=0.06, sweep=0.05 / beta)
    fast = surface.lift_slope(surface.mesh(FIN), mach=0.8).slope
    slow = surface.lift_slope(surface.mesh(stretched), mach=0.0).slope
    assert fast == pytest.approx(slow / beta, rel=1e-12)


def test_work_in_pieces_leaves_no_trace(monkeypatch: pytest.MonkeyPatch) -> None:
    """A mesh worked on strip by strip gives the same matrix as all at once."""
    lattice = surface.mesh(FIN, chordwise=4, spanwise=6)
    monkeypatch.setattr(surface, "_CHUNK", 10**9)
    whole = surface.influence(lattice, mach=0.3, wavenumbers=[5.0, 9.0])
    monkeypatch.setattr(surface, "_CHUNK", 1)
    pieces = surface.influence(lattice, mach=0.3, wavenumbers=[5.0, 9.0])
    assert np.allclose(whole, pieces, atol=1e-14)


def test_limits_are_stated() -> None:
    """The Mach range and the finest resolved motion are given."""
    assert surface.valid_mach(0.85)
    assert not surface.valid_mach(0.95)
    coarse = surface.highest_wavenumber(surface.mesh(FIN, chordwise=4))
    fine = surface.highest_wavenumber(surface.mesh(FIN, chordwise=8))
    assert fine == pytest.approx(2.0 * coarse)


@pytest.mark.parametrize("mach", [1.0, 1.4, -0.1, float("nan")])
def test_mach_outside_is_refused(mach: float) -> None:
    """At the speed of sound and above the method gives an error, not a number."""
    with pytest.raises(InputError, match="mach"):
        surface.influence(surface.mesh(FIN), mach=mach, wavenumbers=[1.0])


def test_bad_mesh_and_wavenumbers_are_refused() -> None:
    """Impossible mesh sizes and wavenumbers give errors that name the input."""
    with pytest.raises(InputError, match="chordwise"):
        surface.mesh(FIN, chordwise=0)
    with pytest.raises(InputError, match="spanwise"):
        surface.mesh(FIN, spanwise=0)
    with pytest.raises(InputError, match="tip_inset"):
        surface.mesh(FIN, tip_inset=1.0)
    with pytest.raises(InputError, match="wavenumbers"):
        surface.influence(surface.mesh(FIN), mach=0.1, wavenumbers=[-1.0])
