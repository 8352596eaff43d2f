"""Strip theory: each slice of the fin in two-dimensional unsteady flow (Theodorsen).

A second theory for the tests, independent of `calc.air.lifting_surface`, and the one behind the
classic worked examples.
It overrates the lift of a low fin, because no air escapes round the tip, unless a lift slope is
given. Incompressible flow.

Conventions: z up, angle nose-up, motion exp(i omega t), k = omega/U [rad/m]; the reduced
frequency of a section is kappa = omega b/U with b half the chord. An axis position a is given
in half chords aft of mid-chord.

Sources: Theodorsen, NACA TR 496 (1935); Kuessner and Schwarz, Luftfahrtforschung 17 (1940),
as given in Fung, An Introduction to the Theory of Aeroelasticity (1955) (from memory,
unverified).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.errors import InputError
from calc.numerics.quadrature import gauss_legendre

if TYPE_CHECKING:
    from calc.geometry.planform import Planform

Array = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
Forces = Callable[[Array], ComplexArray]

_SERIES_LIMIT = 14.0
_TERMS = 60


def _series() -> tuple[Array, Array, Array, Array]:
    """Give power-series coefficients in -(k/2)^2 of J0, 2 J1/k and of the Y0, Y1 remainders."""
    order = np.arange(_TERMS)
    factorial = np.cumprod(np.maximum(order, 1.0))
    harmonic = np.concatenate([[0.0], np.cumsum(1.0 / order[1:])])
    j0 = 1.0 / factorial**2
    j1 = j0 / (order + 1.0)
    y1 = (2.0 * harmonic + 1.0 / (order + 1.0) - 2.0 * np.euler_gamma) * j1
    return j0, j1, harmonic * j0, y1


_J0, _J1, _Y0, _Y1 = _series()


def _power_series(q: Array, coefficients: Array) -> Array:
    """Sum a power series by Horner's rule."""
    total = np.zeros_like(q)
    for coefficient in coefficients[::-1]:
        total = total * q + coefficient
    return total


def _hankel_sum(order: int, k: Array) -> ComplexArray:
    """Sum the asymptotic series of the Hankel function of the second kind, phase left out."""
    total = np.ones(k.shape, dtype=complex)
    term = np.ones(k.shape, dtype=complex)
    for m in range(1, 25):
        term = term * (-1j) * (4.0 * order**2 - (2.0 * m - 1.0) ** 2) / (8.0 * m * k)
        total = total + term
    return total


def theodorsen(kappa: ArrayLike) -> ComplexArray:
    """Give Theodorsen's function C(kappa) = F + iG.

    ``C = H1/(H1 + i H0)``, Hankel functions of the second kind; power series up to kappa = 14,
    asymptotic series above. Error below 1e-9.

    Parameters
    ----------
    kappa
        Reduced frequency omega b/U, zero or more.

    Returns
    -------
    complex array like `kappa`

    Source: Theodorsen, NACA TR 496 (1935); series from Abramowitz and Stegun 9.1 and 9.2.

    >>> bool(abs(theodorsen(0.2) - (0.72758 - 0.18862j)) < 1e-5)
    True
    """
    k = np.asarray(kappa, dtype=float)
    if np.any(k < 0.0) or not np.all(np.isfinite(k)):
        raise InputError("kappa", kappa, "a reduced frequency of zero or more")
    low = np.where((k > 0.0) & (k <= _SERIES_LIMIT), k, 1.0)
    q = -(low**2) / 4.0
    j0, j1 = _power_series(q, _J0), 0.5 * low * _power_series(q, _J1)
    log = np.log(0.5 * low)
    y0 = 2.0 / np.pi * ((log + np.euler_gamma) * j0 - _power_series(q, _Y0))
    y1 = 2.0 / np.pi * (log * j1 - 1.0 / low) - low / (2.0 * np.pi) * _power_series(q, _Y1)
    h0, h1 = j0 - 1j * y0, j1 - 1j * y1
    high = np.maximum(k, _SERIES_LIMIT)
    far1, far0 = _hankel_sum(1, high), _hankel_sum(0, high)
    result = np.where(k <= _SERIES_LIMIT, h1 / (h1 + 1j * h0), far1 / (far1 + far0))
    return np.asarray(np.where(k == 0.0, 1.0 + 0.0j, result))


def section_forces(
    wavenumbers: ArrayLike, *, half_chord: float, axis: float, lift_slope: float = 2.0 * np.pi
) -> ComplexArray:
    """Give S in [lift, moment] = q S [z, angle] per unit span of a rigid section.

    Theodorsen's lift and moment about an axis at ``a b`` aft of mid-chord, with h = -z:
    ``L = pi rho b^2 (h'' + U angle' - b a angle'') + 2 pi rho U b C (h' + U angle +
    b (1/2 - a) angle')`` and the matching moment. `lift_slope` replaces 2 pi in the circulatory
    part.

    Parameters
    ----------
    wavenumbers
        omega/U [rad/m], (n_k,).
    half_chord
        b [m].
    axis
        a, in half chords aft of mid-chord.
    lift_slope
        Section lift slope [1/rad].

    Returns
    -------
    complex (n_k, 2, 2)
        Lift up [m per m of z, m per rad], moment nose-up.

    Source: Theodorsen, NACA TR 496 (1935).
    """
    k = np.atleast_1d(np.asarray(wavenumbers, dtype=float))
    b, a = half_chord, axis
    ik = 1j * k
    circulation = 2.0 * lift_slope * b * theodorsen(k * b)
    wash_z, wash_angle = -ik, 1.0 + ik * b * (0.5 - a)
    mass = 2.0 * np.pi * b**2
    result = np.empty((k.size, 2, 2), dtype=complex)
    result[:, 0, 0] = -mass * ik**2 + circulation * wash_z
    result[:, 0, 1] = mass * (ik - b * a * ik**2) + circulation * wash_angle
    arm = b * (a + 0.5)
    result[:, 1, 0] = -mass * b * a * ik**2 + arm * circulation * wash_z
    result[:, 1, 1] = (
        -mass * b * (ik * (0.5 - a) + b * (0.125 + a**2) * ik**2) + arm * circulation * wash_angle
    )
    return result


def generalised_forces(
    planform: Planform,
    values: Callable[[Array], Array],
    slopes: Callable[[Array], Array],
    *,
    wavenumbers: ArrayLike,
    strips: int = 12,
    lift_slope: float = 2.0 * np.pi,
    chordwise: int = 16,
) -> ComplexArray:
    """Give the matrices Q in F = q Q for motion along the shapes of a plate.

    On every strip the downwash is expanded as ``P0 + 2 sum P_n cos(n t)``, x = b cos t from
    mid-chord, trailing edge at t = 0, and the load is ``cp = 4 a0 tan(t/2) + 8 sum a_n sin(n t)``
    with ``a0 = C (P0 + P1) - P1`` and ``a_n = P_n + i kappa/(2n) (P_{n-1} - P_{n+1})``. So
    curvature of the section counts too; a rigid section gives Theodorsen's lift and moment.

    Parameters
    ----------
    planform
        The exposed fin; strips lie along the stream, sweep only shifts them.
    values, slopes
        Functions of points (m, 2) that give shapes (m, n) and (2, m, n) d/dx, d/dy.
    wavenumbers
        omega/U [rad/m], (n_k,).
    strips
        Number of Gauss points along the span.
    lift_slope
        Section lift slope [1/rad] in the circulatory part: 2 pi for no tip effect, or for
        instance `helmbold_slope` for a crude one.
    chordwise
        Points along the chord (8 or more).

    Returns
    -------
    complex (n_k, n, n) [m2 times the units of the shapes]

    Valid: high aspect ratio, low Mach number, attached flow. Source: Kuessner and Schwarz
    (1940); Fung (1955).
    """
    k = np.atleast_1d(np.asarray(wavenumbers, dtype=float))
    t, weight = gauss_legendre(strips)
    outward = 0.5 * (1.0 + t)
    chord = planform.root + (planform.tip - planform.root) * outward
    angle = np.pi * (np.arange(chordwise) + 0.5) / chordwise
    x = (planform.sweep * outward)[:, None] + 0.5 * chord[:, None] * (1.0 + np.cos(angle))
    y = np.broadcast_to((planform.span * outward)[:, None], x.shape)
    points = np.column_stack([x.ravel(), y.ravel()])
    shape = values(points).reshape(strips, chordwise, -1)
    slope = slopes(points)[0].reshape(shape.shape)
    terms = chordwise // 2
    number = np.arange(terms + 1)
    cosines = np.cos(number[:, None] * angle) / chordwise
    still = -(cosines @ slope)
    moving = -(cosines @ shape)
    ik = 1j * k[:, None, None, None]
    wash = still + ik * moving
    kappa = 0.5 * k[:, None] * chord
    lag = theodorsen(kappa)[..., None] * (lift_slope / (2.0 * np.pi))
    n = number[1:terms, None]
    load = np.empty((k.size, strips, terms, shape.shape[-1]), dtype=complex)
    load[:, :, 0] = 4.0 * (lag * (wash[:, :, 0] + wash[:, :, 1]) - wash[:, :, 1])
    load[:, :, 1:] = 8.0 * (
        wash[:, :, 1:terms]
        + 1j * kappa[..., None, None] / (2.0 * n) * (wash[:, :, : terms - 1] - wash[:, :, 2:])
    )
    profile = np.sin(number[:terms, None] * angle)
    profile[0] = np.tan(0.5 * angle)
    strip_weight = 0.5 * planform.span * weight * 0.5 * chord * np.pi / chordwise
    work = (profile * np.sin(angle)) @ shape * strip_weight[:, None, None]
    return np.asarray(np.einsum("smi,ksmj->kij", work, load))


def helmbold_slope(aspect_ratio: float, *, sweep: float = 0.0) -> float:
    """Give the lift slope of a plain wing from its full aspect ratio.

    ``2 pi A/(2 + sqrt(4 + (A/cos sweep)^2))`` with A of fin and mirror image together, twice the
    exposed panel's; sweep of the mid-chord line [rad].

    Source: Helmbold (1942); Diederich, NACA TN 2335 (1951). From memory, unverified; 2 to 8 %
    above the lifting surface between A = 1 and 4.
    """
    a = float(aspect_ratio)
    return float(2.0 * np.pi * a / (2.0 + np.sqrt(4.0 + (a / np.cos(sweep)) ** 2)))


@dataclass(frozen=True)
class FlutterPoint:
    """A neutral oscillation: speed [m/s], frequency [rad/s], wavenumber omega/U [rad/m]."""

    speed: float
    frequency: float
    wavenumber: float


def flutter_points(
    stiffness: Array,
    mass: Array,
    forces: Forces,
    *,
    density: float,
    wavenumbers: ArrayLike,
) -> tuple[FlutterPoint, ...]:
    """Find the speeds at which a structure without damping oscillates steadily in the flow.

    At each k the eigenvalues 1/omega^2 of ``K^-1 (M + rho Q(k)/(2 k^2))`` are followed; where
    one becomes real the motion is neutral. The crossing is refined by the secant rule.

    Parameters
    ----------
    stiffness, mass
        (n, n), stiffness positive definite.
    forces
        Function of wavenumbers (n_k,) giving Q (n_k, n, n) with F = q Q.
    density
        Air density [kg/m3].
    wavenumbers
        Grid of omega/U [rad/m] to scan, above zero.

    Returns
    -------
    tuple of FlutterPoint
        In order of rising speed. Structural damping is zero.

    Source: the k-method (Theodorsen 1935; Smilg and Wasserman 1942).
    """
    inverse = np.linalg.inv(stiffness)

    def roots(k: Array) -> ComplexArray:
        air = density / (2.0 * k[:, None, None] ** 2) * forces(k)
        return np.asarray(np.linalg.eigvals(inverse @ (mass + air)))

    scan = np.sort(np.asarray(wavenumbers, dtype=float))[::-1]
    if scan.size < 2 or not scan[-1] > 0.0:
        raise InputError("wavenumbers", wavenumbers, "two or more values above zero")
    branches = _branches(roots, scan)
    found = []
    for (high, before), (low, after) in pairwise(branches):
        crossed = (before.imag * after.imag < 0.0) & (before.real > 0.0) & (after.real > 0.0)
        for index in np.flatnonzero(crossed):
            k, value = _neutral(roots, (high, before[index]), (low, after[index]))
            frequency = float(1.0 / np.sqrt(value))
            found.append(FlutterPoint(frequency / k, frequency, k))
    return tuple(sorted(found, key=lambda point: point.speed))


_LARGEST_STEP = 0.3
_SMALLEST_INTERVAL = 1e-3


def _pair(old: ComplexArray, new: ComplexArray) -> tuple[ComplexArray, float]:
    """Put `new` in the order of `old`, nearest pairs first; give the largest relative step."""
    distance = np.abs(np.log(new[None, :] / old[:, None]))
    paired, largest = np.empty_like(new), 0.0
    for _ in range(old.size):
        row, column = np.unravel_index(int(np.argmin(distance)), distance.shape)
        largest = max(largest, float(distance[row, column]))
        paired[row] = new[column]
        distance[row, :], distance[:, column] = np.inf, np.inf
    return paired, largest


def _branches(
    roots: Callable[[Array], ComplexArray], scan: Array
) -> list[tuple[float, ComplexArray]]:
    """Follow the roots down the scan, with more wavenumbers where a root moves fast."""
    table = list(zip(scan.tolist(), roots(scan), strict=True))[::-1]
    k, values = table.pop()
    followed = [(k, values)]
    while table:
        ahead, raw = table[-1]
        paired, step = _pair(values, raw)
        if step > _LARGEST_STEP and k - ahead > _SMALLEST_INTERVAL * k:
            middle = 0.5 * (k + ahead)
            table.append((middle, roots(np.array([middle]))[0]))
            continue
        k, values = ahead, paired
        followed.append((k, values))
        table.pop()
    return followed


def _neutral(
    roots: Callable[[Array], ComplexArray],
    first: tuple[float, complex],
    second: tuple[float, complex],
) -> tuple[float, float]:
    """Close in on the k at which a root turns real; give k and the root 1/omega^2."""
    k, value = first
    for _ in range(60):
        share = first[1].imag / (first[1].imag - second[1].imag)
        # Kept off the ends of the bracket so that both ends close in.
        share = min(max(share, 0.02), 0.98)
        k = first[0] + share * (second[0] - first[0])
        guess = first[1] + share * (second[1] - first[1])
        candidates = roots(np.array([k]))[0]
        value = complex(candidates[np.argmin(np.abs(np.log(candidates / guess)))])
        if abs(value.imag) < 1e-11 * abs(value.real):
            break
        if first[1].imag * value.imag > 0.0:
            first = (k, value)
        else:
            second = (k, value)
    return float(k), float(value.real)


def divergence_pressure(stiffness: Array, steady_forces: Array) -> float:
    """Give the lowest dynamic pressure q with K - q Q(0) singular [Pa]; inf if there is none.

    Parameters
    ----------
    stiffness
        (n, n).
    steady_forces
        Q at zero frequency, (n, n) real.

    Source: standard static aeroelasticity.
    """
    values = np.linalg.eigvals(np.linalg.solve(stiffness, np.real(steady_forces)))
    real = values.real[(np.abs(values.imag) < 1e-9 * np.abs(values).max()) & (values.real > 0.0)]
    return float(1.0 / real.max()) if real.size else float("inf")


@dataclass(frozen=True)
class TypicalSection:
    """A rigid section on springs, in the ratios of the textbooks.

    Fields: mass_ratio mu = m/(pi rho b^2); axis a (half chords aft of mid-chord);
    static_offset x_theta (centre of mass aft of the axis, half chords); gyration_squared r^2
    about the axis (half chords squared); frequency_ratio sigma = omega_h/omega_theta.
    """

    mass_ratio: float
    axis: float
    static_offset: float
    gyration_squared: float
    frequency_ratio: float

    def matrices(self) -> tuple[Array, Array]:
        """Give stiffness and mass for [z/b, angle] with m = b = omega_theta = 1."""
        x, r2 = self.static_offset, self.gyration_squared
        return (
            np.diag([self.frequency_ratio**2, r2]),
            np.array([[1.0, -x], [-x, r2]]),
        )


def typical_section_flutter(section: TypicalSection) -> FlutterPoint | None:
    """Give the flutter point of a two-degree-of-freedom section in Theodorsen's flow.

    Returns
    -------
    FlutterPoint
        Speed as U/(b omega_theta), frequency as omega/omega_theta, wavenumber as
        kappa = omega b/U. None if it does not flutter for kappa from 0.01 to 3.

    Source: Theodorsen, NACA TR 496 (1935).

    >>> book = TypicalSection(20.0, -0.2, 0.1, 0.24, 0.4)
    >>> point = typical_section_flutter(book)
    >>> round(point.speed, 3), round(point.frequency, 3)
    (2.184, 0.649)
    """
    stiffness, mass = section.matrices()
    points = flutter_points(
        stiffness,
        mass,
        lambda k: section_forces(k, half_chord=1.0, axis=section.axis),
        density=1.0 / (np.pi * section.mass_ratio),
        wavenumbers=np.geomspace(0.01, 3.0, 200),
    )
    return points[0] if points else None


def typical_section_steady_flutter(section: TypicalSection) -> tuple[float, float] | None:
    """Give U/(b omega_theta) and omega/omega_theta where the two frequencies meet, steady lift.

    With lift 2 pi rho b U^2 angle at the quarter chord and no air damping, the frequency
    equation is quadratic in omega^2; flutter is where its roots merge. None if they never do.

    Source: Hodges and Pierce, Introduction to Structural Dynamics and Aeroelasticity (steady-flow
    p-method).
    """
    x, r2 = section.static_offset, section.gyration_squared
    s2, arm = section.frequency_ratio**2, 0.5 + section.axis
    # lambda^2 (r2 - x^2) + lambda (b0 + b1 g) + (c0 + c1 g) = 0 with g = 2 U^2/mu.
    lead, b0, b1, c0, c1 = r2 - x * x, -r2 * (1.0 + s2), arm + x, s2 * r2, -s2 * arm
    discriminant = np.roots([b1**2, 2.0 * b0 * b1 - 4.0 * lead * c1, b0**2 - 4.0 * lead * c0])
    merging = [
        float(g.real)
        for g in discriminant
        if abs(g.imag) < 1e-12 and g.real > 0.0 and -(b0 + b1 * g.real) > 0.0
    ]
    if not merging:
        return None
    g = min(merging)
    return (
        float(np.sqrt(0.5 * g * section.mass_ratio)),
        float(np.sqrt(-(b0 + b1 * g) / (2.0 * lead))),
    )


def typical_section_divergence(section: TypicalSection) -> float:
    """Give U/(b omega_theta) at divergence: ``sqrt(mu r^2/(1 + 2 a))``; inf if a <= -1/2.

    Source: Hodges and Pierce; standard static aeroelasticity.
    """
    arm = 1.0 + 2.0 * section.axis
    if arm <= 0.0:
        return float("inf")
    return float(np.sqrt(section.mass_ratio * section.gyration_squared / arm))


@dataclass(frozen=True)
class BeamWing:
    """A uniform cantilever wing with straight elastic axis, unswept.

    Fields: span, chord [m]; bending_stiffness EI, torsion_stiffness GJ [N m2]; mass per length
    [kg/m]; inertia per length about the elastic axis [kg m]; elastic_axis and mass_axis as
    fractions of the chord from the leading edge.
    """

    span: float
    chord: float
    bending_stiffness: float
    torsion_stiffness: float
    mass: float
    inertia: float
    elastic_axis: float
    mass_axis: float


_CANTILEVER_ROOTS = np.array([1.875104068711961, 4.694091132974175, 7.854757438237613])


def _beam_shapes(count: int, fraction: Array) -> tuple[Array, Array]:
    """Give cantilever mode shapes (count, m) at fractions of the span and their roots (beta l)."""
    roots = (2.0 * np.arange(1, count + 1) - 1.0) * np.pi / 2.0
    roots[:3] = _CANTILEVER_ROOTS[: min(count, 3)]
    s = (np.cosh(roots) + np.cos(roots)) / (np.sinh(roots) + np.sin(roots))
    z = roots[:, None] * fraction
    # cosh - s sinh without the overflow of either.
    tail = 0.5 * ((1.0 - s)[:, None] * np.exp(z) + (1.0 + s)[:, None] * np.exp(-z))
    return tail - np.cos(z) + s[:, None] * np.sin(z), roots


def beam_system(
    wing: BeamWing, *, bending: int = 6, torsion: int = 6
) -> tuple[Array, Array, Forces]:
    """Give stiffness, mass and strip forces of a beam wing in its uncoupled modes (Galerkin).

    Parameters
    ----------
    wing
        The beam.
    bending, torsion
        Number of uncoupled cantilever bending and torsion modes.

    Returns
    -------
    stiffness (n, n), mass (n, n), forces
        `forces` maps wavenumbers (n_k,) to Q (n_k, n, n), F = q Q.

    Source: Bisplinghoff, Ashley and Halfman, Aeroelasticity (1955) (method).
    """
    t, weight = gauss_legendre(60)
    fraction, weight = 0.5 * (1.0 + t), 0.5 * weight * wing.span
    up, roots = _beam_shapes(bending, fraction)
    twist_roots = (np.arange(1, torsion + 1) - 0.5) * np.pi
    twist = np.sin(twist_roots[:, None] * fraction)
    zz = (up * weight) @ up.T
    za = (up * weight) @ twist.T
    aa = (twist * weight) @ twist.T
    offset = (wing.mass_axis - wing.elastic_axis) * wing.chord
    mass = np.block(
        [
            [wing.mass * zz, -wing.mass * offset * za],
            [-wing.mass * offset * za.T, wing.inertia * aa],
        ]
    )
    bend = wing.bending_stiffness / wing.span**4 * roots**4 * np.diag(zz)
    turn = wing.torsion_stiffness / wing.span**2 * twist_roots**2 * np.diag(aa)
    half, axis = 0.5 * wing.chord, 2.0 * wing.elastic_axis - 1.0

    def forces(wavenumbers: Array) -> ComplexArray:
        s = section_forces(wavenumbers, half_chord=half, axis=axis)
        s = s[:, :, :, None, None]
        upper = np.concatenate([s[:, 0, 0] * zz, s[:, 0, 1] * za], axis=2)
        lower = np.concatenate([s[:, 1, 0] * za.T, s[:, 1, 1] * aa], axis=2)
        return np.concatenate([upper, lower], axis=1)

    return np.diag(np.concatenate([bend, turn])), mass, forces


def beam_flutter(
    wing: BeamWing, *, density: float, bending: int = 6, torsion: int = 6
) -> FlutterPoint | None:
    """Give the lowest flutter point of a uniform beam wing by strip theory, no damping.

    Parameters
    ----------
    wing
        The beam.
    density
        Air density [kg/m3].

    Returns
    -------
    FlutterPoint or None
        None if nothing is found for reduced frequencies from 0.02 to 2.

    Source: Goland, J. Appl. Mech. 12 (1945) A197-A208 (the exact solution it approaches).
    """
    stiffness, mass, forces = beam_system(wing, bending=bending, torsion=torsion)
    scan = np.geomspace(0.02, 2.0, 160) / (0.5 * wing.chord)
    points = flutter_points(stiffness, mass, forces, density=density, wavenumbers=scan)
    return points[0] if points else None


def beam_divergence(wing: BeamWing, *, density: float, lift_slope: float = 2.0 * np.pi) -> float:
    """Give the divergence speed of a uniform beam wing by strip theory [m/s].

    ``q_D = (pi/(2 l))^2 GJ/(c e a0)``, e the distance from the quarter chord to the elastic axis
    behind it; inf if the elastic axis lies ahead.

    Source: Bisplinghoff, Ashley and Halfman, Aeroelasticity (1955).
    """
    arm = (wing.elastic_axis - 0.25) * wing.chord
    if arm <= 0.0:
        return float("inf")
    q = (0.5 * np.pi / wing.span) ** 2 * wing.torsion_stiffness / (wing.chord * arm * lift_slope)
    return float(np.sqrt(2.0 * q / density))
