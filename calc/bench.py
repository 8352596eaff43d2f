"""Bench tests of a flat sheet or strip: what each test should read for given properties.

Weighing, sag of a clamped strip, three-point flex, tone of a tapped strip and twist.  The functions
hold the mechanics; the test classes hold one test's readings with their errors and predict the
reading from the properties of the sheet.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.errors import InputError, ValidityError
from calc.units import STANDARD_GRAVITY

Array = NDArray[np.float64]
Direction = Literal["along", "across"]
Support = Literal["free", "clamped"]

# Roots of cos(x) cosh(x) = 1 (free-free) and -1 (clamped-free); Blevins, Formulas for Natural
# Frequency and Mode Shape (1979), Table 8-1.
_EIGENVALUES: Mapping[str, tuple[float, ...]] = {
    "free": (4.73004074, 7.85320462, 10.9956079),
    "clamped": (1.87510407, 4.69409113, 7.85475744),
}


@dataclass(frozen=True)
class Reading:
    """One measured number with its standard error.

    Parameters
    ----------
    value
        The reading, SI unit.
    error
        Standard deviation of its error, same unit; 0 means exactly known.
    name
        Readings with the same name are one measurement used in several tests: its error is then
        shared, not averaged away.
    """

    value: float
    error: float = 0.0
    name: str = ""

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise InputError(self.name or "reading", self.value, "a finite number")
        if not (math.isfinite(self.error) and self.error >= 0.0):
            raise InputError(self.name or "reading", self.error, "an error of zero or more")


@cache
def _integration(count: int) -> tuple[Array, Array, Array, Array]:
    """Gauss points on (0, 1), weights, and matrices for the integral from 0 and to 1."""
    points, weights = np.polynomial.legendre.leggauss(count)  # type: ignore[no-untyped-call]
    legendre = np.polynomial.legendre.legvander(points, count)  # type: ignore[no-untyped-call]
    # The integral of P_n from -1 is (P_n+1 - P_n-1) / (2 n + 1), and x + 1 for n = 0.
    order = np.arange(1, count)
    integrals = np.empty((count, count))
    integrals[:, 0] = (points + 1.0) / 2.0
    integrals[:, 1:] = (legendre[:, 2:] - legendre[:, :-2]) / (2.0 * (2.0 * order + 1.0))
    from_root = integrals @ np.linalg.inv(legendre[:, :count])
    to_tip = weights / 2.0 - from_root
    return (points + 1.0) / 2.0, weights / 2.0, from_root, to_tip


def elastica_tip(
    *, tip_load: ArrayLike, own_weight: ArrayLike, points: int = 14
) -> tuple[Array, Array, Array]:
    """Tip of a level-clamped strip bent by a hanging tip load and its own weight, any sag.

    theta'' = -(a + b (1 - s)) cos(theta),  theta(0) = 0, theta'(1) = 0

    Parameters
    ----------
    tip_load
        a = P L^2 / (E I) [-].
    own_weight
        b = w L^3 / (E I) [-], w the weight per length.
    points
        Collocation points along the strip.

    Returns
    -------
    sag / L, horizontal reach / L [-], tip slope [rad], each shaped like the loads.

    Notes
    -----
    Inextensible thin strip, linear elastic, no shear; a and b from 0 to 60.
    Source: Bisshopp & Drucker, Q. Appl. Math. 3 (1945) 272 (tip load); the same equation with
    the weight added, solved here by spectral collocation and Newton's method.

    >>> sag, reach, slope = elastica_tip(tip_load=1.0, own_weight=0.0)
    >>> round(float(sag), 5)
    0.30172
    """
    a, b = np.broadcast_arrays(
        np.asarray(tip_load, dtype=float), np.asarray(own_weight, dtype=float)
    )
    shape = a.shape
    a, b = np.clip(a.ravel(), 0.0, 60.0), np.clip(b.ravel(), 0.0, 60.0)
    s, weights, from_root, to_tip = _integration(points)
    green = from_root @ to_tip
    load = a[:, None] + b[:, None] * (1.0 - s)
    # The small-deflection slope, bent over so that it never passes the vertical.
    theta = (np.pi / 2) * np.tanh((load @ green.T) / (np.pi / 2))
    for _ in range(40):
        residual = theta - (load * np.cos(theta)) @ green.T
        jacobian = np.eye(points) + green * (load * np.sin(theta))[:, None, :]
        step = np.linalg.solve(jacobian, residual[..., None])[..., 0]
        theta = theta - step
        # Newton doubles the digits: the step after this one would be below 1e-13.
        if np.max(np.abs(step)) < 1e-7:
            break
    slope = (load * np.cos(theta)) @ (to_tip.T @ weights)
    return (
        (np.sin(theta) @ weights).reshape(shape),
        (np.cos(theta) @ weights).reshape(shape),
        slope.reshape(shape),
    )


def cantilever_sag(
    *,
    modulus: ArrayLike,
    thickness: ArrayLike,
    width: ArrayLike,
    length: ArrayLike,
    density: ArrayLike = 0.0,
    tip_load: ArrayLike = 0.0,
) -> Array:
    """Sag of the tip of a level-clamped strip below its clamp, small or large.

    Small sag: P L^3 / (3 E I) + w L^4 / (8 E I),  I = b t^3 / 12,  w = rho g b t

    Parameters
    ----------
    modulus
        Young's modulus along the strip [Pa].
    thickness, width, length
        Of the free strip [m].
    density
        [kg/m3]; 0 leaves the own weight out.
    tip_load
        Mass hung from the tip [kg].

    Returns
    -------
    Sag [m].

    Notes
    -----
    Thin strip (length over 20 thicknesses), rigid level clamp.  Source: see `elastica_tip`.

    >>> sag = cantilever_sag(modulus=3e9, thickness=2e-3, width=0.03, length=0.2, tip_load=0.01)
    >>> round(1e3 * float(sag), 2)
    4.36
    """
    e, t, b, span = (np.asarray(v, dtype=float) for v in (modulus, thickness, width, length))
    rigidity = e * b * t**3 / 12.0
    weight = np.asarray(density, dtype=float) * STANDARD_GRAVITY * b * t
    sag, _, _ = elastica_tip(
        tip_load=np.asarray(tip_load, dtype=float) * STANDARD_GRAVITY * span**2 / rigidity,
        own_weight=weight * span**3 / rigidity,
    )
    return np.asarray(sag * span)


def flex_deflection(
    *,
    modulus: ArrayLike,
    thickness: ArrayLike,
    width: ArrayLike,
    span: ArrayLike,
    load: ArrayLike,
    density: ArrayLike = 0.0,
    overhang: ArrayLike = 0.0,
    shear_modulus: ArrayLike = np.inf,
) -> Array:
    """Sinking of the middle of a strip on two supports under a central load.

    P L^3/(48 E I) + 5 w L^4/(384 E I) - w a^2 L^2/(16 E I) + (P L/4 + w L^2/8) / (5/6 G b t)

    Parameters
    ----------
    modulus
        Young's modulus along the strip [Pa].
    thickness, width, span
        [m]
    load
        Mass laid on mid-span [kg].
    density
        [kg/m3]; 0 when the zero was set with the strip already lying on its supports.
    overhang
        Length a of strip beyond each support [m]; matters only with own weight.
    shear_modulus
        Through the thickness, in the plane of bending [Pa]; infinite leaves shear out.

    Returns
    -------
    Deflection [m].

    Notes
    -----
    Deflection below a tenth of the span.  Source: Wood Handbook FPL-GTR-282 (2021) ch. 9,
    shear-corrected beam deflection (k_b 1/48 and 5/384, k_s 1/4 and 1/8); overhang term from
    the end moments w a^2/2 by superposition.
    """
    e, t, b, length, a = (
        np.asarray(v, dtype=float) for v in (modulus, thickness, width, span, overhang)
    )
    force = np.asarray(load, dtype=float) * STANDARD_GRAVITY
    weight = np.asarray(density, dtype=float) * STANDARD_GRAVITY * b * t
    rigidity = e * b * t**3 / 12.0
    bending = (
        force * length**3 / 48.0
        + weight * length**4 * 5.0 / 384.0
        - weight * (a * length) ** 2 / 16.0
    ) / rigidity
    shear_area = 5.0 / 6.0 * b * t
    shear = (force * length / 4.0 + weight * length**2 / 8.0) / (
        np.asarray(shear_modulus, dtype=float) * shear_area
    )
    return np.asarray(bending + shear)


def strip_tone(
    *,
    modulus: ArrayLike,
    density: ArrayLike,
    thickness: ArrayLike,
    length: ArrayLike,
    support: Support = "free",
    mode: int = 1,
    width: ArrayLike = 0.0,
    air_density: ArrayLike = 0.0,
    shear_modulus: ArrayLike | None = None,
) -> Array:
    """Frequency of a plucked or tapped strip in bending.

    f = lambda^2 / (2 pi L^2) sqrt(E t^2 / (12 rho T)),  T = 1 + m_air/m + shear and rotation

    Parameters
    ----------
    modulus
        Young's modulus along the strip [Pa].
    density
        [kg/m3]
    thickness, length
        [m]
    support
        "free": held at the two nodes (0.224 L from the ends for mode 1); "clamped": one end held.
    mode
        1, 2 or 3.
    width, air_density
        [m], [kg/m3]; the air carried along weighs pi/4 rho_air b^2 per length (slender flat
        strip).  On a light balsa strip it lowers the tone by several per cent.
    shear_modulus
        Through the thickness [Pa]; given, mode 1 of a free strip is corrected for shear and
        rotation by 1 + (t/L)^2/12 (49.48 + 12.30 E/(5/6 G)).

    Returns
    -------
    Frequency [Hz].

    Notes
    -----
    Thin strip: length over 20 thicknesses, else give `shear_modulus`.  Sources: eigenvalues
    Blevins (1979) Table 8-1; carried air: potential flow about a flat strip, Blevins Table 14-1
    (from memory, unverified); shear and rotation: Goens, Ann. Phys. 403 (1931) 649 (from memory,
    unverified; agrees with the factor 6.585 of ASTM E1876 in the thin limit).
    """
    if support not in _EIGENVALUES:
        raise InputError("support", support, '"free" or "clamped"')
    if mode not in (1, 2, 3):
        raise InputError("mode", mode, "1, 2 or 3")
    e, rho, t, span, b = (
        np.asarray(v, dtype=float) for v in (modulus, density, thickness, length, width)
    )
    inertia = 1.0 + np.pi / 4.0 * np.asarray(air_density, dtype=float) * b / (rho * t)
    if shear_modulus is not None:
        if support != "free" or mode != 1:
            raise InputError("shear_modulus", shear_modulus, "mode 1 of a free strip, or nothing")
        g = np.asarray(shear_modulus, dtype=float)
        inertia = inertia + (t / span) ** 2 / 12.0 * (49.48 + 12.30 * e / (5.0 / 6.0 * g))
    eigenvalue = _EIGENVALUES[support][mode - 1]
    bare = np.sqrt(e * t**2 / (12.0 * rho * inertia))
    return np.asarray(eigenvalue**2 / (2.0 * np.pi * span**2) * bare)


def torsion_factor(*, ratio: ArrayLike) -> Array:
    """Saint-Venant factor k1 of a rectangle: torsion constant J = k1 b t^3.

    k1 = 1/3 (1 - 192/pi^5 (t/b) sum over odd n of tanh(n pi b / 2t) / n^5)

    Parameters
    ----------
    ratio
        b / t, long side over short side, 1 or more [-].

    Returns
    -------
    k1 [-].

    Notes
    -----
    Source: Timoshenko & Goodier, Theory of Elasticity, 3rd ed. (1970), art. 109 and its table.

    >>> round(float(torsion_factor(ratio=2.0)), 3)
    0.229
    """
    r = np.asarray(ratio, dtype=float)[..., None]
    n = np.arange(1, 40, 2)
    series = np.sum(np.tanh(n * np.pi * r / 2.0) / n**5, axis=-1)
    return np.asarray((1.0 - 192.0 / np.pi**5 * series / r[..., 0]) / 3.0)


def strip_twist(
    *,
    shear_modulus: ArrayLike,
    thickness: ArrayLike,
    width: ArrayLike,
    length: ArrayLike,
    torque: ArrayLike,
    shear_ratio: ArrayLike = 1.0,
) -> Array:
    """Angle by which a strip turns under a torque about its long axis.

    phi = T L / (G k1 b t^3)

    Parameters
    ----------
    shear_modulus
        In the plane of the sheet [Pa].
    thickness, width, length
        [m]; length between the grips.
    torque
        [N m]
    shear_ratio
        Through-thickness over in-plane shear modulus [-]; k1 is taken at b/t times its root.

    Returns
    -------
    Angle [rad].

    Notes
    -----
    Free warping (grips short against the length), small twist: angle per width below 0.3 rad.
    Source: Timoshenko & Goodier (1970) art. 109; stretched-coordinate form for two shear moduli,
    Lekhnitskii, Theory of Elasticity of an Anisotropic Body (1981) (from memory, unverified).
    """
    t, b = np.asarray(thickness, dtype=float), np.asarray(width, dtype=float)
    ratio = np.asarray(shear_ratio, dtype=float)
    constant = torsion_factor(ratio=np.sqrt(ratio) * b / t) * b * t**3
    twist: Array = (
        np.asarray(torque, dtype=float)
        * np.asarray(length, dtype=float)
        / (np.asarray(shear_modulus, dtype=float) * constant)
    )
    return twist


def plate_twist(
    *,
    shear_modulus: ArrayLike,
    thickness: ArrayLike,
    side_along: ArrayLike,
    side_across: ArrayLike,
    load: ArrayLike,
) -> Array:
    """Sinking of one corner of a rectangular plate held under the other three corners.

    delta = 3 P a b / (G t^3)

    Parameters
    ----------
    shear_modulus
        In the plane of the sheet [Pa].
    thickness, side_along, side_across
        [m]; sides parallel and square to the grain.
    load
        Mass added on the free corner [kg].

    Returns
    -------
    Movement of the loaded corner from its place before the load [m].

    Notes
    -----
    The plate bends to w = c x y, exact for any orthotropic thin plate with its grain parallel to
    a side; deflection below the thickness or so.  Source: as ASTM D3044, plate shear: with both
    pairs of corners loaded, G = 3 u^2 P / (2 t^3 delta_u) (from memory, unverified), the same
    surface measured at another point.
    """
    stiffness = np.asarray(shear_modulus, dtype=float) * np.asarray(thickness, dtype=float) ** 3
    sides = np.asarray(side_along, dtype=float) * np.asarray(side_across, dtype=float)
    sinking: Array = 3.0 * np.asarray(load, dtype=float) * STANDARD_GRAVITY * sides / stiffness
    return sinking


def thickness_reading(*, readings: Sequence[float], error: float) -> Reading:
    """Mean thickness of a sheet from readings at several points.

    s^2 = ((n - 1) s_n^2 + e^2) / n,  error^2 = s^2 / n + e^2

    Parameters
    ----------
    readings
        Thickness at n points spread over the sheet [m].
    error
        Standard error of the gauge itself [m]; it does not average away (zero, jaw pressure).

    Returns
    -------
    Mean and its error [m].  With few points the scatter s leans on the gauge error.
    """
    values = np.asarray(readings, dtype=float)
    if values.size == 0 or not np.all(np.isfinite(values)) or np.any(values <= 0.0):
        raise InputError("thickness", list(readings), "one or more thicknesses above zero")
    if not error > 0.0:
        raise InputError("thickness_error", error, "an error above zero")
    scatter = (float(np.sum((values - values.mean()) ** 2)) + error**2) / values.size
    return Reading(float(values.mean()), math.sqrt(scatter / values.size + error**2), "thickness")


def weighed_density(
    *, mass: Reading, length: Reading, width: Reading, thickness: Reading
) -> Reading:
    """Density of a weighed rectangle, errors combined as relative squares.

    rho = m / (L b t)

    Parameters
    ----------
    mass
        [kg]
    length, width, thickness
        [m]

    Returns
    -------
    Density [kg/m3].

    >>> rho = weighed_density(mass=Reading(0.0276, 1e-4), length=Reading(0.92, 5e-4),
    ...                       width=Reading(0.0765, 3e-4), thickness=Reading(2.4e-3, 3e-5))
    >>> round(rho.value, 1), round(rho.error, 1)
    (163.4, 2.2)
    """
    parts = (mass, length, width, thickness)
    for reading in parts:
        if reading.value <= 0.0:
            raise InputError(reading.name or "weighing", reading.value, "a value above zero")
    value = mass.value / (length.value * width.value * thickness.value)
    relative = math.sqrt(sum((r.error / r.value) ** 2 for r in parts))
    return Reading(value, value * relative)


@dataclass(frozen=True)
class _Bench:
    """What every bench test shares: a label for messages and optional own thickness."""

    kind: ClassVar[str] = ""

    @property
    def target(self) -> str:
        """Which quantity the test is about: along, across, shear or density."""
        raise NotImplementedError

    @property
    def observed(self) -> Reading:
        """The reading the test predicts."""
        raise NotImplementedError

    def inputs(self) -> dict[str, Reading]:
        """Give the readings that enter the prediction, by field."""
        raise NotImplementedError

    def predict(self, sheet: Mapping[str, Array], inputs: Mapping[str, Array]) -> Array:
        """Predict the reading from the sheet and the inputs, vectorised over cases."""
        raise NotImplementedError

    def cautions(self, thickness: float) -> tuple[str, ...]:
        """Say what in this test strains its formula, for a sheet of the given thickness [m]."""
        return ()

    @property
    def label(self) -> str:
        """Name of the test in messages."""
        where = "" if self.target == "density" else f", {self.target}"
        return f"{self.kind}{where}"

    def _check(self) -> None:
        if not (self.observed.value > 0.0 and self.observed.error > 0.0):
            raise InputError(self.kind, self.observed, "a reading and an error above zero")
        for name, reading in self.inputs().items():
            may_be_zero = name in ("method", "anticlastic", "tip_load", "overhang", "air_density")
            if reading.value < 0.0 or (reading.value == 0.0 and not may_be_zero):
                raise InputError(name, reading.value, "a value above zero")
            if reading.error > 0.5 * abs(reading.value) and not may_be_zero:
                raise InputError(name, reading.error, "an error below half the reading")


def _bending_inputs(test: Cantilever | Flex | Tone) -> dict[str, Reading]:
    """List the two doubts of every bending test: its method and its curl across.

    A narrow strip bends with E; a wide one, held flat across, with E / (1 - nu_12 nu_21).  The
    place between them (0 to 1, even odds) is taken as 0.5 with standard deviation 1/sqrt(12).
    """
    return {
        "method": Reading(0.0, test.method_cov, f"method {test.kind} {test.direction}"),
        "anticlastic": Reading(0.5, 12.0**-0.5, f"anticlastic {test.direction}"),
    }


def _short(test: _Bench, length: Reading, thickness: float) -> tuple[str, ...]:
    # Below 20 thicknesses shear adds more than 2 % along the grain (E / G about 25).
    if length.value >= 20.0 * thickness:
        return ()
    return (f"The {test.kind} strip is shorter than 20 thicknesses: shear makes it look softer.",)


def _bending_modulus(
    direction: Direction, sheet: Mapping[str, Array], inputs: Mapping[str, Array]
) -> Array:
    modulus = sheet["modulus_along" if direction == "along" else "modulus_across"]
    coupling = sheet["poisson"] ** 2 * sheet["modulus_across"] / sheet["modulus_along"]
    held = -inputs["anticlastic"] * np.log1p(-np.minimum(coupling, 0.5))
    effective: Array = modulus * np.exp(inputs["method"] + held)
    return effective


@dataclass(frozen=True)
class Weighing(_Bench):
    """Mass of a rectangle of the sheet [kg, m]."""

    mass: Reading
    length: Reading
    width: Reading
    thickness: Reading | None = None
    kind: ClassVar[str] = "weighing"

    def __post_init__(self) -> None:
        self._check()

    @property
    def target(self) -> str:
        """Density."""
        return "density"

    @property
    def observed(self) -> Reading:
        """Mass [kg]."""
        return self.mass

    def inputs(self) -> dict[str, Reading]:
        """Length and width."""
        return _with_thickness({"length": self.length, "width": self.width}, self.thickness)

    def predict(self, sheet: Mapping[str, Array], inputs: Mapping[str, Array]) -> Array:
        """Mass, rho L b t."""
        thickness = inputs.get("thickness", sheet["thickness"])
        mass: Array = sheet["density"] * thickness * inputs["length"] * inputs["width"]
        return mass


def _with_thickness(inputs: dict[str, Reading], thickness: Reading | None) -> dict[str, Reading]:
    if thickness is not None:
        inputs["thickness"] = thickness
    return inputs


@dataclass(frozen=True)
class Cantilever(_Bench):
    """Sag of the tip of a clamped strip under its weight and a hung mass.

    Parameters
    ----------
    direction
        "along": the grain runs along the strip; "across": square to it.
    length, width, sag
        Free length, width, sag of the tip below the clamp's level [m].
    tip_load
        Hung mass [kg].
    thickness
        Of this strip if measured apart [m]; else the sheet's.
    method_cov
        Spread of what the formula leaves out (give in the clamp, edge of the clamp), as a
        coefficient of variation of the modulus: 3 % is our judgement.
    """

    direction: Direction
    length: Reading
    width: Reading
    sag: Reading
    tip_load: Reading = Reading(0.0)
    thickness: Reading | None = None
    method_cov: float = 0.03
    kind: ClassVar[str] = "cantilever"

    def __post_init__(self) -> None:
        _check_direction(self.direction)
        self._check()
        if self.sag.value > 0.85 * self.length.value:
            raise ValidityError("the strip hangs almost straight down; use a shorter strip")

    @property
    def target(self) -> str:
        """The modulus along the strip."""
        return self.direction

    @property
    def observed(self) -> Reading:
        """Sag [m]."""
        return self.sag

    def inputs(self) -> dict[str, Reading]:
        """Length, width, hung mass and method."""
        own = {"length": self.length, "width": self.width, "tip_load": self.tip_load}
        return _with_thickness(own | _bending_inputs(self), self.thickness)

    def cautions(self, thickness: float) -> tuple[str, ...]:
        """Warn of a short strip."""
        return _short(self, self.length, thickness)

    def predict(self, sheet: Mapping[str, Array], inputs: Mapping[str, Array]) -> Array:
        """`cantilever_sag`."""
        return cantilever_sag(
            modulus=_bending_modulus(self.direction, sheet, inputs),
            thickness=inputs.get("thickness", sheet["thickness"]),
            width=inputs["width"],
            length=inputs["length"],
            density=sheet["density"],
            tip_load=inputs["tip_load"],
        )


@dataclass(frozen=True)
class Flex(_Bench):
    """Three-point flex: sinking of mid-span under a mass.

    Parameters
    ----------
    direction
        Direction of the grain, see `Cantilever`.
    span, width, deflection
        [m]
    load
        Mass on mid-span [kg].
    own_weight
        True when the deflection counts from a straight line between the supports; False when
        the zero was set with the strip already lying there.
    overhang
        Length beyond each support [m].
    shear_modulus
        Through the thickness [Pa], with its error; None leaves shear out.
    thickness, method_cov
        See `Cantilever`.
    """

    direction: Direction
    span: Reading
    width: Reading
    load: Reading
    deflection: Reading
    own_weight: bool = False
    overhang: Reading = Reading(0.0)
    shear_modulus: Reading | None = None
    thickness: Reading | None = None
    method_cov: float = 0.03
    kind: ClassVar[str] = "three-point flex"

    def __post_init__(self) -> None:
        _check_direction(self.direction)
        self._check()
        if self.deflection.value > 0.1 * self.span.value:
            raise ValidityError("deflection above a tenth of the span; use less load")

    @property
    def target(self) -> str:
        """The modulus along the strip."""
        return self.direction

    @property
    def observed(self) -> Reading:
        """Deflection [m]."""
        return self.deflection

    def inputs(self) -> dict[str, Reading]:
        """Span, width, load, overhang, shear and method."""
        own = {
            "span": self.span,
            "width": self.width,
            "load": self.load,
            "overhang": self.overhang,
        }
        if self.shear_modulus is not None:
            own["shear_modulus"] = self.shear_modulus
        return _with_thickness(own | _bending_inputs(self), self.thickness)

    def cautions(self, thickness: float) -> tuple[str, ...]:
        """Warn of a short strip."""
        return () if self.shear_modulus else _short(self, self.span, thickness)

    def predict(self, sheet: Mapping[str, Array], inputs: Mapping[str, Array]) -> Array:
        """`flex_deflection`."""
        return flex_deflection(
            modulus=_bending_modulus(self.direction, sheet, inputs),
            thickness=inputs.get("thickness", sheet["thickness"]),
            width=inputs["width"],
            span=inputs["span"],
            load=inputs["load"],
            density=sheet["density"] if self.own_weight else 0.0,
            overhang=inputs["overhang"],
            shear_modulus=inputs.get("shear_modulus", np.array(np.inf)),
        )


@dataclass(frozen=True)
class Tone(_Bench):
    """Frequency of a tapped or plucked strip.

    Parameters
    ----------
    direction
        Direction of the grain, see `Cantilever`.
    length, width
        [m]
    frequency
        [Hz]
    support, mode
        See `strip_tone`.
    air_density
        [kg/m3]; the error stands for the shape of the air's motion as well.
    shear_modulus, thickness, method_cov
        See `Flex`; 2 % for the method is our judgement.
    """

    direction: Direction
    length: Reading
    width: Reading
    frequency: Reading
    support: Support = "free"
    mode: int = 1
    air_density: Reading = Reading(1.2, 0.24, "air density")
    shear_modulus: Reading | None = None
    thickness: Reading | None = None
    method_cov: float = 0.02
    kind: ClassVar[str] = "tone"

    def __post_init__(self) -> None:
        _check_direction(self.direction)
        self._check()

    @property
    def target(self) -> str:
        """The modulus along the strip."""
        return self.direction

    @property
    def observed(self) -> Reading:
        """Frequency [Hz]."""
        return self.frequency

    def inputs(self) -> dict[str, Reading]:
        """Length, width, air, shear and method."""
        own = {"length": self.length, "width": self.width, "air_density": self.air_density}
        if self.shear_modulus is not None:
            own["shear_modulus"] = self.shear_modulus
        return _with_thickness(own | _bending_inputs(self), self.thickness)

    def cautions(self, thickness: float) -> tuple[str, ...]:
        """Warn of a short strip."""
        return () if self.shear_modulus else _short(self, self.length, thickness)

    def predict(self, sheet: Mapping[str, Array], inputs: Mapping[str, Array]) -> Array:
        """`strip_tone`."""
        return strip_tone(
            modulus=_bending_modulus(self.direction, sheet, inputs),
            density=sheet["density"],
            thickness=inputs.get("thickness", sheet["thickness"]),
            length=inputs["length"],
            support=self.support,
            mode=self.mode,
            width=inputs["width"],
            air_density=inputs["air_density"],
            shear_modulus=inputs.get("shear_modulus"),
        )


@dataclass(frozen=True)
class StripTwist(_Bench):
    """Turning of a strip under a torque.

    Parameters
    ----------
    length, width
        Between the grips, and width [m].
    torque
        [N m]
    angle
        [rad]
    shear_ratio
        Through-thickness over in-plane shear modulus [-].
    thickness, method_cov
        See `Cantilever`; 5 % for the method is our judgement.
    """

    length: Reading
    width: Reading
    torque: Reading
    angle: Reading
    shear_ratio: Reading = Reading(1.0, 0.3, "shear ratio")
    thickness: Reading | None = None
    method_cov: float = 0.05
    kind: ClassVar[str] = "strip twist"

    def __post_init__(self) -> None:
        self._check()
        if self.angle.value * self.width.value > 0.3 * self.length.value:
            raise ValidityError("twist above 0.3 rad per width of strip; use less torque")

    @property
    def target(self) -> str:
        """Shear modulus."""
        return "shear"

    @property
    def observed(self) -> Reading:
        """Angle [rad]."""
        return self.angle

    def inputs(self) -> dict[str, Reading]:
        """Length, width, torque, shear ratio and method."""
        own = {
            "length": self.length,
            "width": self.width,
            "torque": self.torque,
            "shear_ratio": self.shear_ratio,
            "method": Reading(0.0, self.method_cov, f"method {self.kind}"),
        }
        return _with_thickness(own, self.thickness)

    def predict(self, sheet: Mapping[str, Array], inputs: Mapping[str, Array]) -> Array:
        """`strip_twist`."""
        return strip_twist(
            shear_modulus=sheet["shear_modulus"] * np.exp(inputs["method"]),
            thickness=inputs.get("thickness", sheet["thickness"]),
            width=inputs["width"],
            length=inputs["length"],
            torque=inputs["torque"],
            shear_ratio=np.maximum(inputs["shear_ratio"], 0.05),
        )


@dataclass(frozen=True)
class PlateTwist(_Bench):
    """Sinking of one corner of a rectangle held under the other three.

    Parameters
    ----------
    side_along, side_across
        [m]
    load
        Mass added on the free corner [kg].
    deflection
        Movement of that corner [m].
    thickness, method_cov
        See `Cantilever`; 5 % for the method is our judgement.
    """

    side_along: Reading
    side_across: Reading
    load: Reading
    deflection: Reading
    thickness: Reading | None = None
    method_cov: float = 0.05
    kind: ClassVar[str] = "plate twist"

    def __post_init__(self) -> None:
        self._check()
        if self.deflection.value > 0.1 * min(self.side_along.value, self.side_across.value):
            raise ValidityError("corner sinks by more than a tenth of a side; use less load")

    @property
    def target(self) -> str:
        """Shear modulus."""
        return "shear"

    @property
    def observed(self) -> Reading:
        """Deflection [m]."""
        return self.deflection

    def inputs(self) -> dict[str, Reading]:
        """Sides, load and method."""
        own = {
            "side_along": self.side_along,
            "side_across": self.side_across,
            "load": self.load,
            "method": Reading(0.0, self.method_cov, f"method {self.kind}"),
        }
        return _with_thickness(own, self.thickness)

    def cautions(self, thickness: float) -> tuple[str, ...]:
        """Warn of a corner that sinks by more than two thicknesses."""
        if self.deflection.value <= 2.0 * thickness:
            return ()
        return (
            "The corner of the twisted plate sinks by more than two thicknesses: the plate "
            "stretches and looks stiffer.",
        )

    def predict(self, sheet: Mapping[str, Array], inputs: Mapping[str, Array]) -> Array:
        """`plate_twist`."""
        return plate_twist(
            shear_modulus=sheet["shear_modulus"] * np.exp(inputs["method"]),
            thickness=inputs.get("thickness", sheet["thickness"]),
            side_along=inputs["side_along"],
            side_across=inputs["side_across"],
            load=inputs["load"],
        )


Test = Weighing | Cantilever | Flex | Tone | StripTwist | PlateTwist


def _check_direction(direction: str) -> None:
    if direction not in ("along", "across"):
        raise InputError("direction", direction, '"along" or "across"')
