"""Unsteady lifting surface below the speed of sound: doublet lattice on one fin panel.

The fin is cut into boxes. Each box carries its load as a line of acceleration doublets on its
quarter-chord line, and the flow must follow the fin at its three-quarter-chord mid-span point.
The steady part is a horseshoe vortex, integrated exactly, so at zero frequency the method is
the vortex lattice with the Prandtl-Glauert rule. The frequency-dependent rest of the kernel is
interpolated by a quartic across each box and integrated in closed form.

Sources: Albano and Rodden, AIAA J. 7 (1969) 279-285 (the method); Landahl, AIAA J. 5 (1967)
1045-1046 (the kernel); Desmarais, AIAA 82-0687 (1982) (the exponential fit); Rodden, Taylor and
McIntosh, J. Aircraft 35 (1998) 720-727 (the quartic).

Accuracy of the usual 6 x 8 lattice with its tip inset, against finer ones: steady lift 0.5 %;
forces of heave and bending 2 %, of twist 4 % (6 % at Mach 0.8) at omega root/U = 0.6. The steady
lift of a lattice without tip inset is 5 % too high, which makes flutter come 3 to 5 % too early.

Not modelled: thickness, viscosity, separation, shocks (so not valid near Mach 1), the round
shape and the end of the body, and the other fins. The body is a flat wall at the root, which
gives a little more lift than a round body would.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.errors import InputError
from calc.numerics.quadrature import gauss_legendre

if TYPE_CHECKING:
    from calc.geometry.outline import Outline

MACH_LIMIT = 0.9
"""Above this the linear theory misses the transonic dip; see `valid_mach`."""
BOXES_PER_WAVE = 12.0
"""Chordwise boxes per wavelength U/f that the lattice needs (common practice)."""

# Exponential fit 1 - u/sqrt(1+u^2) = sum a_n exp(-2^n b u), u >= 0 (Desmarais 1982, 12 terms).
_FIT_RATE = 0.009054814793
_FIT = np.array(
    [
        0.000319759140,
        -0.000055461471,
        0.002726074362,
        0.005749551566,
        0.031455895072,
        0.106031126212,
        0.406838011567,
        0.798112357155,
        -0.417749229098,
        0.077480713894,
        -0.012677284771,
        0.001787032960,
    ]
)
_RATES = _FIT_RATE * 2.0 ** np.arange(1, 13)
_SAMPLES = np.array([-1.0, -0.5, 0.0, 0.5, 1.0])
_TO_SAMPLES = np.linalg.inv(np.vander(_SAMPLES, 5, increasing=True))
_GAUSS_NODES, _GAUSS_WEIGHTS = gauss_legendre(12)
_GAUSS_POWERS = np.vander(_GAUSS_NODES, 5, increasing=True)
# Kernel samples times frequencies worked on at once: small enough to stay in the cache.
_CHUNK = 40_000


@dataclass(frozen=True)
class Mesh:
    """A lattice of boxes on one fin panel; boxes run from nose to tail, then root to tip.

    Fields: load_points (n, 2) quarter-chord mid-span points [m]; control_points (n, 2)
    three-quarter-chord mid-span points [m]; areas (n,) [m2]; chords (n,) mean box chords [m];
    sweeps (n,) tangents of the sweep of the box quarter-chord lines; corners (n, 4, 2) [m],
    in the order nose root, nose tip, tail tip, tail root;
    strip_centres and strip_half_widths (spanwise,) [m]; area of the whole panel [m2].
    """

    chordwise: int
    spanwise: int
    load_points: NDArray[np.float64]
    control_points: NDArray[np.float64]
    areas: NDArray[np.float64]
    chords: NDArray[np.float64]
    sweeps: NDArray[np.float64]
    corners: NDArray[np.float64]
    strip_centres: NDArray[np.float64]
    strip_half_widths: NDArray[np.float64]
    area: float

    @property
    def size(self) -> int:
        """Number of boxes."""
        return self.areas.size


@dataclass(frozen=True)
class LiftSlope:
    """Lift per angle of attack: slope [1/rad] on the panel area, and where it acts (x, y) [m]."""

    slope: float
    x: float
    y: float


def mesh(
    planform: Outline, *, chordwise: int = 6, spanwise: int = 8, tip_inset: float = 0.25
) -> Mesh:
    """Cut a fin panel into equal fractions of the local chord and strips of the span.

    The strips are equally wide on a fin with straight edges and crowd where edges turn, so toward
    a round tip; each has straight edges that keep its area and first moment.

    Parameters
    ----------
    planform
        The exposed fin.
    chordwise, spanwise
        Number of boxes along the chord and along the span.
    tip_inset
        How far the last strip ends short of the tip, as a fraction of a strip's width. One
        quarter makes the lift of coarse lattices converge much faster (Hough, J. Aircraft 10
        (1973) 314-317, from memory, unverified; shown in the tests). Zero is the usual lattice.

    Returns
    -------
    Mesh

    A box should not be more than about ten times as wide as long at high frequency.
    """
    if int(chordwise) < 1 or chordwise > 60:
        raise InputError("chordwise", chordwise, "a number of boxes from 1 to 60")
    if int(spanwise) < 1 or spanwise > 200:
        raise InputError("spanwise", spanwise, "a number of strips from 1 to 200")
    if not 0.0 <= tip_inset < 1.0:
        raise InputError("tip_inset", tip_inset, "a fraction of a strip from 0 to below 1")
    strips = planform.strips(int(spanwise), tip_inset=tip_inset)
    width = np.diff(strips.edges)
    sides = np.array([[-0.5], [0.5]]) * width
    nose = strips.leading + strips.leading_slope * sides
    chord = strips.trailing + strips.trailing_slope * sides - nose
    chord_lines = np.linspace(0.0, 1.0, chordwise + 1)

    def line(fraction: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return x (2, strips, n) at the inner and the outer side of each strip."""
        return np.asarray(nose[..., None] + fraction * chord[..., None])

    corner_x = line(chord_lines)
    quarter = line(chord_lines[:-1] + 0.25 / chordwise)
    three_quarter = line(chord_lines[:-1] + 0.75 / chordwise)
    centre = 0.5 * (strips.edges[1:] + strips.edges[:-1])
    box_chord = np.diff(0.5 * (corner_x[0] + corner_x[1]), axis=1)
    y_box = np.repeat(centre, chordwise)
    y_edges = np.stack([strips.edges[:-1], strips.edges[1:]])[..., None]
    nodes = np.stack([corner_x, np.broadcast_to(y_edges, corner_x.shape)], axis=-1)
    corners = np.stack(
        [nodes[0, :, :-1], nodes[1, :, :-1], nodes[1, :, 1:], nodes[0, :, 1:]], axis=2
    )
    return Mesh(
        chordwise=int(chordwise),
        spanwise=int(spanwise),
        load_points=np.column_stack([0.5 * (quarter[0] + quarter[1]).ravel(), y_box]),
        control_points=np.column_stack(
            [(0.5 * (three_quarter[0] + three_quarter[1])).ravel(), y_box]
        ),
        areas=(box_chord * width[:, None]).ravel(),
        chords=box_chord.ravel(),
        sweeps=((quarter[1] - quarter[0]) / width[:, None]).ravel(),
        corners=corners.reshape(-1, 4, 2),
        strip_centres=centre,
        strip_half_widths=0.5 * width,
        area=planform.area,
    )


def valid_mach(mach: float) -> bool:
    """Return whether linear subsonic theory may be trusted at this Mach number (0 to 0.9)."""
    return 0.0 <= mach <= MACH_LIMIT


def highest_wavenumber(lattice: Mesh) -> float:
    """Return the largest omega/U [rad/m] that the lattice resolves along the chord.

    ``k_max = 2 pi / (12 longest box chord)``: twelve boxes to a wavelength U/f.
    Source: common practice for doublet lattices.
    """
    return 2.0 * np.pi / (BOXES_PER_WAVE * float(lattice.chords.max()))


def _check_mach(mach: float) -> float:
    if not 0.0 <= mach < 1.0:
        raise InputError("mach", mach, "a Mach number from 0 to below 1")
    return float(mach)


def _signs(image: bool) -> NDArray[np.float64]:
    # A mirrored box acts on a point as the box itself acts on the mirrored point.
    return np.array([1.0, -1.0]) if image else np.array([1.0])


def _steady(lattice: Mesh, beta: float, signs: NDArray[np.float64]) -> NDArray[np.float64]:
    """Integrate the steady kernel (1 + x0/R)/y0^2 exactly along each box's quarter-chord line.

    With X the streamwise distance of the point from the (extended) line and y0 the spanwise
    distance from its ends, the integral is the difference of (1 + R/X)/y0 between the ends
    (Hadamard's finite part within the strip). This is a horseshoe vortex.
    """
    half = np.repeat(lattice.strip_half_widths, lattice.chordwise)
    y_send = lattice.load_points[:, 1]
    x0 = lattice.control_points[:, 0][:, None] - lattice.load_points[:, 0]
    tangent = lattice.sweeps
    total = np.zeros_like(x0)
    for sign in signs:
        y0 = sign * lattice.control_points[:, 1][:, None] - y_send
        near, far = y0 - half, y0 + half
        offset = x0 - tangent * y0
        slant_near = np.hypot(offset / near + tangent, beta)
        slant_far = np.hypot(offset / far + tangent, beta)
        inverse_near, inverse_far = 1.0 / near, 1.0 / far
        # Beside the strip R/X is a small difference of large terms, so it is rationalised;
        # within the strip X cannot vanish and the plain form holds.
        beside = (
            np.sign(near)
            * (inverse_near - inverse_far)
            * (offset * (inverse_near + inverse_far) + 2.0 * tangent)
            / (slant_near + slant_far)
        )
        within = -(slant_near + slant_far) / np.where(near * far < 0.0, offset, 1.0)
        ends = inverse_near - inverse_far + np.where(near * far < 0.0, within, beside)
        total += ends
    return total * lattice.chords / (8.0 * np.pi)


def _quartic_weights(position: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return weights w_j with integral of f(t)/(Y - t)^2 over (-1, 1) = sum w_j f(t_j).

    f is the quartic through the five samples; the integral is Hadamard's finite part where Y
    lies inside. Far away the closed form loses digits, so Gauss-Legendre takes over.
    """
    y = position[..., None]
    near = np.abs(y) < 4.0
    close = np.where(near, y, 0.0)
    first = 2.0 / (close**2 - 1.0)
    log = np.log(((close - 1.0) / (close + 1.0)) ** 2)
    powers = np.concatenate(
        [
            first,
            close * first + 0.5 * log,
            close**2 * first + close * log + 2.0,
            close**3 * first + 1.5 * close**2 * log + 4.0 * close,
            close**4 * first + 2.0 * close**3 * log + 6.0 * close**2 + 2.0 / 3.0,
        ],
        axis=-1,
    )
    distant = np.where(near, 10.0, y)
    smooth = (_GAUSS_WEIGHTS / (distant - _GAUSS_NODES) ** 2) @ _GAUSS_POWERS
    return np.where(near, powers, smooth) @ _TO_SAMPLES


def _oscillatory(
    lattice: Mesh,
    machs: NDArray[np.float64],
    wavenumbers: NDArray[np.float64],
    signs: NDArray[np.float64],
) -> NDArray[np.complex128]:
    """Integrate the frequency-dependent part of the planar kernel (steady part taken out).

    Kernel: K = exp(-i k x0) [I1 + M r exp(-i k r u) / (R sqrt(1 + u^2))], with
    u = (M R - x0) / (beta^2 r). I1(u) for u >= 0 is
    exp(-i k r u) [1 - u/sqrt(1+u^2) - i k r I0], and for u < 0 it follows from the symmetry
    I1(u) = 2 Re I1(0) - conj(I1(-u)). The phase of both parts is k M (R - M x0)/beta^2.

    The spanwise distance r is the same for all boxes of two strips, so the sum of exponentials
    is one small matrix product per pair of strips, and the exponentials serve all frequencies.
    """
    nc, ns = lattice.chordwise, lattice.spanwise
    half = lattice.strip_half_widths
    n_k, per_pair = wavenumbers.size, signs.size * _SAMPLES.size
    x_receive = lattice.control_points[:, 0].reshape(ns, nc)
    x_send = lattice.load_points[:, 0].reshape(ns, nc)
    lean = lattice.sweeps.reshape(ns, nc) * half[:, None]
    on_lines = x_send[:, None, :] + _SAMPLES[:, None] * lean[:, None, :]
    # exp(i k x0) is a product of a factor of the receiving and one of the sending point, so that
    # sines and cosines are taken of the points and not of all their pairs
    turn_receive = np.exp(1j * wavenumbers[:, None] * x_receive[:, None, :])
    turn_send = np.exp(-1j * wavenumbers[:, None] * on_lines[:, :, None, :])
    result = np.empty((machs.size, n_k, ns, nc, ns, nc), dtype=complex)
    step = max(1, _CHUNK // (ns * per_pair * nc * nc * max(n_k, 2)))
    positions = (signs * lattice.strip_centres[:, None])[:, None, :]
    positions = (positions - lattice.strip_centres[:, None]) / half[:, None]
    all_weights = _quartic_weights(positions) / half[:, None, None]
    for start in range(0, ns, step):
        rows = slice(start, min(start + step, ns))
        position = positions[rows]
        count = position.shape[0]
        shape = (count, ns, per_pair)
        weights = all_weights[rows].reshape(count, ns, 1, -1)
        # r = 0 on a box's own mid-line: a tiny r reproduces the limit of the kernel.
        r = np.maximum(np.abs(position[..., None] - _SAMPLES), 1e-9) * half[:, None, None]
        x0 = x_receive[rows][:, None, None, :, None] - on_lines[:, :, None, :]
        x0 = x0.reshape(count, ns, 1, _SAMPLES.size, nc * nc)
        kr = wavenumbers * r.reshape(*shape, 1)
        scaled = _FIT / (_RATES**2 + kr[..., None] ** 2) * kr[..., None]
        factors = np.concatenate([-scaled * kr[..., None], -scaled * _RATES], axis=-2)
        turn = turn_receive[rows][:, None, None, ..., None] * turn_send[:, :, :, None, :]
        turn = turn.reshape(count, ns, 1, _SAMPLES.size, n_k, nc * nc)
        wake = (1.0 + factors[..., :n_k, :].sum(axis=-1)).reshape(*r.shape, n_k, 1) * turn
        powers = np.empty((*shape, _RATES.size, nc * nc))
        for place, mach in enumerate(machs):
            beta2 = 1.0 - mach**2
            distance = np.sqrt(x0**2 + beta2 * r[..., None] ** 2)
            u = (mach * distance - x0) / (beta2 * r[..., None])
            size = np.abs(u)
            sign = np.where(u < 0.0, -1.0, 1.0)
            root = np.sqrt(1.0 + u * u)
            frequency_free = sign / (root * (root + size)) + mach * r[..., None] / (distance * root)
            powers[..., 0, :] = np.exp(-_RATES[0] * size).reshape(*shape, nc * nc)
            for term in range(1, _RATES.size):
                np.square(powers[..., term - 1, :], out=powers[..., term, :])
            sums = factors @ powers
            flat_sign = sign.reshape(*shape, 1, nc * nc)
            real = frequency_free.reshape(*shape, 1, nc * nc) + flat_sign * sums[..., :n_k, :]
            imag = sums[..., n_k:, :]
            steady = (1.0 + x0 / distance).reshape(*shape, 1, nc * nc)
            if mach > 0.0:
                delay = (mach / beta2) * (distance - mach * x0)
                phase = wavenumbers[:, None] * delay.reshape(*shape, 1, nc * nc)
                cosine, sine = np.cos(phase), np.sin(phase)
                real, imag = cosine * real + sine * imag, cosine * imag - sine * real
            behind = (1.0 - sign)[..., None, :]
            real += (behind * wake.real).reshape(real.shape) - steady
            imag = imag - (behind * wake.imag).reshape(real.shape)
            flat = (count, ns, per_pair, n_k * nc * nc)
            block = weights @ real.reshape(flat) + 1j * (weights @ imag.reshape(flat))
            block = block.reshape(count, ns, n_k, nc, nc).transpose(2, 0, 3, 1, 4)
            result[place, :, rows] = block
    flat_result = result.reshape(machs.size, n_k, lattice.size, lattice.size)
    flat_result *= lattice.chords / (8.0 * np.pi)
    return flat_result


def influence(
    lattice: Mesh, *, mach: ArrayLike, wavenumbers: ArrayLike, image: bool = True
) -> NDArray[np.complex128]:
    """Return the matrices A in ``upwash/U = A @ cp`` for harmonic motion exp(i omega t).

    ``cp = (p_lower - p_upper)/q`` is positive for lift toward +z. For a displacement z the
    boundary condition is ``upwash/U = dz/dx + i k z`` at the control points, k = omega/U.
    Generalised forces follow as ``F_i = q * sum(phi_i(load points) * areas * cp)``.

    Parameters
    ----------
    lattice
        From `mesh`.
    mach
        Mach number, or (n_m,) of them, 0 to below 1; see `valid_mach`.
    wavenumbers
        omega/U [rad/m], (n_k,), zero or more; see `highest_wavenumber`.
    image
        True: the root plane y = 0 is a wall (the body); False: the panel alone in free air.

    Returns
    -------
    array (n_k, n, n), complex; (n_m, n_k, n, n) for several Mach numbers
        Exactly the real vortex lattice with the Prandtl-Glauert rule where k = 0.

    Source: Albano and Rodden (1969); Rodden, Taylor and McIntosh (1998); Desmarais (1982).
    """
    machs = np.array([_check_mach(one) for one in np.ravel(np.asarray(mach, float)).tolist()])
    k = np.atleast_1d(np.asarray(wavenumbers, dtype=float))
    if k.ndim != 1 or not np.all(np.isfinite(k)) or np.any(k < 0.0):
        raise InputError("wavenumbers", wavenumbers, "a list of values of omega/U, zero or more")
    signs = _signs(image)
    matrices = np.empty((machs.size, k.size, lattice.size, lattice.size), dtype=complex)
    for place, one in enumerate(machs):
        matrices[place] = _steady(lattice, np.sqrt(1.0 - one**2), signs)
    moving = k > 0.0
    if np.any(moving):
        matrices[:, moving] += _oscillatory(lattice, machs, k[moving], signs)
    return matrices if np.ndim(mach) else matrices[0]


def steady_loads(
    lattice: Mesh, *, mach: float, slope: ArrayLike, image: bool = True
) -> NDArray[np.float64]:
    """Return the steady load cp on each box of a fin of given shape.

    Parameters
    ----------
    lattice
        From `mesh`.
    mach
        Mach number, 0 to below 1.
    slope
        dz/dx at the control points, (n,) or (n, cases); a fin at angle of attack alpha has
        -alpha everywhere.

    Returns
    -------
    array like `slope`
        cp = (p_lower - p_upper)/q.

    Source: vortex lattice with the Prandtl-Glauert rule (Hedman, FFA Report 105 (1965), from
    memory, unverified).
    """
    beta = np.sqrt(1.0 - _check_mach(mach) ** 2)
    return np.linalg.solve(_steady(lattice, beta, _signs(image)), np.asarray(slope, dtype=float))


def lift_slope(lattice: Mesh, *, mach: float, image: bool = True) -> LiftSlope:
    """Return the lift slope of the flat panel and its centre of pressure.

    ``C_L_alpha = sum(cp * areas)/(area * alpha)``; the centre is the load-weighted mean place.

    Returns
    -------
    LiftSlope
        slope [1/rad] on the exposed panel area, x and y [m].
    """
    load = steady_loads(lattice, mach=mach, slope=-np.ones(lattice.size), image=image)
    load = load * lattice.areas
    total = load.sum()
    x, y = load @ lattice.load_points / total
    return LiftSlope(slope=float(total / lattice.area), x=float(x), y=float(y))
