"""The supersonic lifting surface: interface, limits, outlines and the thickness factor."""

import numpy as np
import pytest

from calc.air import mach_box
from calc.errors import InputError
from calc.geometry.planform import Planform

FIN = Planform(root=0.10, tip=0.05, span=0.06, sweep=0.05)


def heave_and_pitch(points: np.ndarray) -> np.ndarray:
    """Return a rise of one and a turn nose up about the root's leading edge."""
    return np.column_stack([np.ones(len(points)), -points[:, 0]])


def their_slopes(points: np.ndarray) -> np.ndarray:
    """Return their slopes along x and y."""
    along = np.column_stack([np.zeros(len(points)), -np.ones(len(points))])
    return np.stack([along, np.zeros_like(along)])


@pytest.mark.parametrize("mach", [0.9, 1.0, 1.04, 3.1, float("nan")])
def test_mach_number_out_of_range(mach: float) -> None:
    """Mach numbers outside 1.05 to 3 are refused by name."""
    with pytest.raises(InputError, match="mach"):
        mach_box.lift_slope(FIN, mach=mach)


@pytest.mark.parametrize("wavenumbers", [[-1.0], [float("nan")], [[0.0, 1.0]]])
def test_wavenumbers_out_of_range(wavenumbers: object) -> None:
    """Negative, missing or nested wavenumbers are refused by name."""
    with pytest.raises(InputError, match="wavenumbers"):
        mach_box.response(FIN, machs=[2.0], wavenumbers=wavenumbers)


def test_lattices_out_of_range() -> None:
    """Absurd numbers of boxes and columns are refused by name."""
    with pytest.raises(InputError, match="boxes"):
        mach_box.lift_slope(FIN, mach=2.0, boxes=1)
    with pytest.raises(InputError, match="columns"):
        mach_box.lattice(FIN, mach=2.0, columns=1)


def test_size_does_not_matter() -> None:
    """A fin ten times as large has the same lift slope, its lift ten times as far away."""
    large = Planform(*(10.0 * a for a in (FIN.root, FIN.tip, FIN.span, FIN.sweep)))
    one, ten = mach_box.lift_slope(FIN, mach=1.4), mach_box.lift_slope(large, mach=1.4)
    assert ten.slope == pytest.approx(one.slope, rel=1e-9)
    assert (ten.x, ten.y) == pytest.approx((10.0 * one.x, 10.0 * one.y), rel=1e-9)


@pytest.mark.parametrize("mach", [1.07, 1.5, 3.0])
def test_response_is_the_steady_lift(mach: float) -> None:
    """Pitch without oscillation gives the lift slope and its moment, through the points too."""
    found = mach_box.lift_slope(FIN, mach=mach)
    direct = mach_box.generalised_forces(
        FIN, heave_and_pitch, their_slopes, mach=mach, wavenumbers=[0.0]
    )[0]
    places = mach_box.points(FIN)
    matrix = mach_box.response(FIN, machs=[mach], wavenumbers=[0.0])[0, 0]
    through = heave_and_pitch(places).T @ matrix @ their_slopes(places)[0]
    for forces in (direct, through):
        assert forces[0, 1].real == pytest.approx(found.slope * FIN.area, rel=1e-9)
        assert -forces[1, 1].real / forces[0, 1].real == pytest.approx(found.x, rel=1e-9)
        assert np.all(forces.imag == 0.0)
        assert np.abs(forces[:, 0]).max() < 1e-12


def test_response_for_several_mach_numbers() -> None:
    """Several Mach numbers at once give what each gives alone."""
    k = [0.0, 5.0]
    both = mach_box.response(FIN, machs=[1.3, 2.0], wavenumbers=k)
    assert both.shape == (2, 2, 48, 48)
    assert np.array_equal(both[1], mach_box.response(FIN, machs=[2.0], wavenumbers=k)[0])


def test_slow_heave_is_a_steady_angle() -> None:
    """A fin that rises slowly meets the air at the angle of its speed over the flight's."""
    k = 1e-4
    forces = mach_box.generalised_forces(
        FIN, heave_and_pitch, their_slopes, mach=1.5, wavenumbers=[k]
    )[0]
    assert forces[0, 0].imag / k == pytest.approx(-forces[0, 1].real, rel=1e-3)


def test_points_lie_on_the_panel() -> None:
    """Points run from nose to tail, then from root to tip, all on the fin."""
    places = mach_box.points(FIN, chordwise=3, spanwise=2)
    assert places.shape == (6, 2)
    assert np.all(np.diff(places[:3, 0]) > 0.0)
    assert places[0, 1] == places[2, 1] < places[3, 1] < FIN.span
    edges = mach_box.edges(FIN)
    assert np.all(places[:, 0] > edges.leading_edge(places[:, 1]))
    assert np.all(places[:, 0] < edges.trailing_edge(places[:, 1]))


def test_control_points_stay_near_the_panel() -> None:
    """Motions are asked for on the fin or a little behind it, at a pointed tip too."""
    delta = Planform(1.0, 0.0, 0.5, 1.0)
    boxes = mach_box.lattice(delta, mach=1.5, columns=20)
    for x, y in (mach_box.control_points(boxes).T, mach_box.pieces(boxes).points.T):
        chord = 1.0 - 2.0 * y
        assert np.all(y < delta.span)
        assert np.all(x >= 2.0 * y - 0.151 * chord)
        assert np.all(x <= 1.0 + 0.151 * chord)


def ellipse(span: float) -> mach_box.Edges:
    """Return half an ellipse with a root chord of one."""

    def half(y: np.ndarray) -> np.ndarray:
        return 0.5 * np.sqrt(np.maximum(1.0 - (y / span) ** 2, 0.0))

    return mach_box.Edges(lambda y: 0.5 - half(y), lambda y: 0.5 + half(y), span)


@pytest.mark.parametrize("mach", [1.2, 1.5, 2.0, 3.0])
def test_half_ellipse(mach: float) -> None:
    """Finer boxes change the lift of half an ellipse by less than 1 %."""
    outline = ellipse(0.5)
    assert outline.area == pytest.approx(np.pi / 8.0, rel=1e-4)
    found = mach_box.lift_slope(outline, mach=mach)
    fine = mach_box.lift_slope(outline, mach=mach, boxes=3000)
    assert found.slope == pytest.approx(fine.slope, rel=0.01)
    assert found.x == pytest.approx(fine.x, abs=0.01)
    assert 0.4 < found.y / outline.span < 0.45
    matrix = mach_box.response(outline, machs=[mach], wavenumbers=[1.0])
    assert np.all(np.isfinite(matrix))


def test_outline_with_a_corner() -> None:
    """A trapezoid given as a function, with a superfluous corner, is the same fin."""
    given = mach_box.edges(FIN)
    bent = mach_box.Edges(
        lambda y: np.interp(y, [0.0, 0.02, 0.06], [0.0, 0.05 / 3.0, 0.05]),
        lambda y: np.interp(y, [0.0, 0.06], [0.10, 0.10]),
        0.06,
    )
    assert mach_box.lift_slope(bent, mach=1.3) == pytest.approx(
        mach_box.lift_slope(given, mach=1.3), rel=1e-9
    )


@pytest.mark.parametrize("mach", [1.05, 1.4, 3.0])
@pytest.mark.parametrize(
    "fin",
    [
        Planform(1.0, 0.0, 0.5, 1.0),
        Planform(1.0, 0.0, 0.5, 0.2),
        Planform(1.0, 0.5, 0.5, -0.3),
        Planform(1.0, 0.5, 0.6, 1.2),
        Planform(1.0, 1.0, 0.4, 0.0),
        Planform(1.0, 0.4, 2.0, 0.5),
    ],
)
def test_every_kind_of_fin(fin: Planform, mach: float) -> None:
    """Pointed, swept forward, swept back, low and wide fins lift, and somewhere on the panel."""
    found = mach_box.lift_slope(fin, mach=mach)
    assert 0.5 < found.slope < 4.0 / np.sqrt(mach**2 - 1.0) * 1.03
    assert min(0.0, fin.sweep) < found.x < max(fin.root, fin.sweep + fin.tip)
    assert 0.33 < found.y / fin.span < 0.55


@pytest.mark.parametrize(("mach", "gain"), [(1.3, 3.57), (1.5, 2.56), (2.0, 2.54), (3.0, 3.59)])
def test_thickness_factor(mach: float, gain: float) -> None:
    """The factor is 1 + 2 (C2/C1) slope, worked out by hand, and what strip theory has."""
    slope = np.array([-0.04, 0.0, 0.04])
    found = mach_box.thickness_factor(slope, mach=mach)
    assert (found - 1.0) / 0.04 == pytest.approx(np.array([-gain, 0.0, gain]), rel=2e-3)


def test_thickness_factor_near_mach_one() -> None:
    """Where second order blows up it is refused, on its own and with a section."""
    with pytest.raises(InputError, match="mach"):
        mach_box.thickness_factor(0.0, mach=1.2)
    with pytest.raises(InputError, match="mach"):
        mach_box.response(
            FIN, machs=[1.2], wavenumbers=[0.0], half_thickness=lambda at: np.zeros(len(at))
        )


def test_thickness_moves_the_load_forward() -> None:
    """Bevels add load near the nose and take it away near the tail; square edges do neither."""

    def bevelled(points: np.ndarray) -> np.ndarray:
        x, y = points.T
        nose, tail = FIN.sweep * y / FIN.span, FIN.root + 0.0 * y
        return np.minimum(np.minimum(x - nose, tail - x) * 0.1, 0.001)

    def moment(section: object) -> float:
        forces = mach_box.generalised_forces(
            FIN,
            heave_and_pitch,
            their_slopes,
            mach=2.0,
            wavenumbers=[0.0],
            half_thickness=section,
        )[0]
        return float(-forces[1, 1].real / forces[0, 1].real)

    thin = moment(None)
    assert moment(lambda at: np.full(len(at), 0.001)) == pytest.approx(thin, rel=1e-12)
    assert moment(bevelled) < thin - 0.02 * FIN.root
