"""Centring rings: thin annular plates under motor thrust or ejection pressure."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.errors import InputError
from calc.margin import Margin, Quantity, bands, worst
from calc.structure.root_joint import FILLET_LEG, Adhesive, End, Tube, allowable

Array = NDArray[np.float64]
OuterEdge = Literal["simple", "clamped"]
InnerEdge = Literal["free", "guided"]

ROLLING_SHEAR = (0.18, 0.28)
"""Shear strength of wood across its fibres (rolling shear) over that along them, low and high:
Wood Handbook, FPL-GTR-282 (2021), ch. 5; from memory, unverified."""

SUDDEN = 2.0
"""Factor for thrust that comes in one step: an elastic part bends twice as far as at rest.
S. Timoshenko, Vibration Problems in Engineering."""


@dataclass(frozen=True)
class RingBending:
    """Bending of a round plate along its radius; arrays have the shape of `radius`.

    Parameters
    ----------
    radius
        Places from the inner to the outer edge [m].
    deflection
        In the direction of the load [m].
    radial, tangential
        Bending moments per length [N m/m]; positive pulls the far face (away from the load).
    shear
        Transverse shear per length [N/m].
    """

    radius: Array
    deflection: Array
    radial: Array
    tangential: Array
    shear: Array

    @property
    def peak_moment(self) -> float:
        """Return the largest moment per length, either way and either sign [N m/m]."""
        return float(max(np.abs(self.radial).max(), np.abs(self.tangential).max()))


def ring_bending(
    *,
    outer: float,
    inner: float,
    stiffness: float,
    poisson: float = 0.3,
    force: float = 0.0,
    pressure: float = 0.0,
    outer_edge: OuterEdge = "simple",
    inner_edge: InnerEdge = "free",
    radius: ArrayLike | None = None,
) -> RingBending:
    """Return the bending of an annular plate held at its outer edge and pushed at its inner.

    Parameters
    ----------
    outer, inner
        Radii a and b [m].
    stiffness
        Plate stiffness D = E t^3 / (12 (1 - nu^2)) [N m].
    poisson
        Poisson's ratio nu [-].
    force
        Total force P along the inner edge [N].
    pressure
        Pressure q over the ring [Pa].
    outer_edge, inner_edge
        How the edges are held.
    radius
        Where the answer is wanted [m]; default 101 places from b to a.

    Returns
    -------
    RingBending
        Deflection and moments.

    Notes
    -----
    D del^4 w = q, so w = c0 + c1 r^2 + c2 ln r + c3 r^2 ln r + q r^4 / (64 D) with
    c3 = (P - pi b^2 q) / (8 pi D); M_r = -D (w'' + nu w'/r), M_t = -D (w'/r + nu w'').
    Outer edge w = 0 and M_r = 0 (simple) or w' = 0 (clamped); inner edge M_r = 0 (free) or w' = 0
    (guided: glued square to a stiff motor tube). Valid for a thin, flat plate of the same stiffness
    in every direction and for small deflections. For plywood take the mean of both directions for
    stiffness and the weaker direction for strength.

    References
    ----------
    S. Timoshenko and S. Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. (1959), ch. 3;
    same cases as W. C. Young and R. G. Budynas, Roark's Formulas for Stress and Strain, 7th ed.
    (2002), table 11.2, cases 1 and 2.

    Examples
    --------
    >>> bend = ring_bending(outer=1.0, inner=0.5, stiffness=1.0, force=2 * math.pi * 0.5)
    >>> round(bend.peak_moment, 4)
    0.7757
    """
    _ring(outer=outer, inner=inner)
    if not stiffness > 0.0:
        raise InputError("stiffness", stiffness, "a value above zero")
    c3 = (force - math.pi * inner**2 * pressure) / (8.0 * math.pi * stiffness)
    # Radii are scaled by the outer one, which keeps the 3 by 3 system well behaved.
    b = inner / outer
    load = {
        "c3": c3 * outer**2,
        "load": pressure * outer**4 / (64.0 * stiffness),
        "nu": poisson,
    }
    outside, inside = {"simple": 2, "clamped": 1}, {"free": 2, "guided": 1}
    if outer_edge not in outside:
        raise InputError("outer_edge", outer_edge, "simple or clamped")
    if inner_edge not in inside:
        raise InputError("inner_edge", inner_edge, "free or guided")
    conditions = ((1.0, 0), (1.0, outside[outer_edge]), (b, inside[inner_edge]))
    rows = [_free_rows(place, poisson)[row] for place, row in conditions]
    right = [-_load_rows(place, **load)[row] for place, row in conditions]
    c = np.linalg.solve(np.array(rows), np.array(right))
    r = np.linspace(inner, outer, 101) if radius is None else np.asarray(radius, float)
    x = r / outer
    free = np.stack([np.stack(row, -1) for row in _free_rows(x, poisson)])
    w, _, radial, tangential = (free @ c + np.stack(_load_rows(x, **load))).reshape(4, *x.shape)
    scale = stiffness / outer**2
    shear = (force + math.pi * (r**2 - inner**2) * pressure) / (2.0 * math.pi * r)
    return RingBending(r, w, -scale * radial, -scale * tangential, shear)


def _free_rows(x: ArrayLike, nu: float) -> list[tuple[Array, Array, Array]]:
    """Return w, w', w'' + nu w'/x and w'/x + nu w'' of the terms 1, x^2 and ln x."""
    x = np.array(x, np.float64)
    zero, one = np.zeros(x.shape), np.ones(x.shape)
    return [
        (one, x * x, np.log(x)),
        (zero, 2.0 * x, 1.0 / x),
        (zero, 2.0 * (1.0 + nu) * one, (nu - 1.0) / x**2),
        (zero, 2.0 * (1.0 + nu) * one, (1.0 - nu) / x**2),
    ]


def _load_rows(x: ArrayLike, *, c3: float, load: float, nu: float) -> list[Array]:
    """Return the same four quantities of c3 x^2 ln x + load x^4, which the load fixes."""
    x = np.asarray(x, float)
    log = np.log(x)
    first = c3 * x * (2.0 * log + 1.0) + 4.0 * load * x**3
    second = c3 * (2.0 * log + 3.0) + 12.0 * load * x**2
    return [
        c3 * x**2 * log + load * x**4,
        first,
        second + nu * first / x,
        first / x + nu * second,
    ]


@dataclass(frozen=True)
class Ring:
    """A centring ring between motor tube and body tube.

    Parameters
    ----------
    outer, inner
        Radii a and b [m].
    thickness
        Thickness t [m].
    fillet
        Radius of the fillet on both faces at each tube [m]; 0 for none.

    Raises
    ------
    InputError
        Naming a length that cannot be.
    """

    outer: float
    inner: float
    thickness: float
    fillet: float = 0.0

    def __post_init__(self) -> None:
        """Refuse impossible lengths."""
        _ring(outer=self.outer, inner=self.inner)
        _positive(thickness=self.thickness)
        if not self.fillet >= 0.0:
            raise InputError("fillet", self.fillet, "a radius of zero or more")


@dataclass(frozen=True)
class RingSheet:
    """The sheet a ring is cut from.

    Parameters
    ----------
    modulus, strength
        Flexural modulus, mean of both directions, and bending strength in the weakest direction
        [Pa].
    shear_strength
        Shear strength of its plies, along the fibres [Pa].
    rolling
        True for wood and plywood, which shear more easily across their fibres: `ROLLING_SHEAR`.
    poisson
        Poisson's ratio [-].
    """

    modulus: float
    strength: float
    shear_strength: float
    rolling: bool = False
    poisson: float = 0.3

    def __post_init__(self) -> None:
        """Refuse impossible values."""
        _positive(modulus=self.modulus, strength=self.strength, shear_strength=self.shear_strength)

    def through_shear(self, end: End) -> float:
        """Return the shear strength through the thickness at one end of its band [Pa]."""
        return (ROLLING_SHEAR[end] if self.rolling else 1.0) * self.shear_strength


@dataclass(frozen=True)
class RingCheck:
    """A centring ring under thrust.

    Parameters
    ----------
    margins
        Bending, shear through the thickness, glue at the motor tube, glue at the body tube.
    deflection
        How far the motor tube moves [m].
    bending
        The moments behind it.
    """

    margins: tuple[Margin, ...]
    deflection: float
    bending: RingBending

    @property
    def governs(self) -> Margin:
        """Return the mode with the smallest margin."""
        return worst(self.margins)


def ring_force(*, thrust: float, rings: int = 1, sudden: float = SUDDEN) -> float:
    """Return the force on one ring [N].

    Parameters
    ----------
    thrust
        Largest thrust of the motor [N].
    rings
        How many rings share the thrust; 1 if only one is butted by the thrust.
    sudden
        Factor for thrust that comes suddenly [-].

    Returns
    -------
    float
        P = sudden * thrust / rings.

    Examples
    --------
    >>> ring_force(thrust=60.0), ring_force(thrust=60.0, rings=2)
    (120.0, 60.0)
    """
    _positive(thrust=thrust, sudden=sudden)
    if rings < 1:
        raise InputError("rings", rings, "1 or more")
    return sudden * thrust / rings


def check(
    ring: Ring,
    sheet: RingSheet,
    *,
    force: float,
    shear_strength: float,
    glue_shear: float,
    outer_edge: OuterEdge = "simple",
    inner_edge: InnerEdge = "free",
) -> RingCheck:
    """Return the margins of a centring ring that carries motor thrust into the body tube.

    Parameters
    ----------
    ring, sheet
        The ring and what it is cut from.
    force
        Force on the ring P [N], from `ring_force`.
    shear_strength
        Shear strength through the thickness [Pa].
    glue_shear
        Allowable shear of the glue lines [Pa]: weaker of glue, ring and tube.
    outer_edge, inner_edge
        "simple" and "free" are the cautious choice; "clamped" and "guided" suit good fillets.

    Returns
    -------
    RingCheck
        Margins and deflection.

    Notes
    -----
    Stress 6 M_max / t^2 from `ring_bending`; shear 1.5 P / (2 pi b t); glue
    P / (2 pi r (t + 2 a)), a = (2 - sqrt 2) fillet radius. Valid for a thin ring (thickness below
    about a third of a - b) with the same stiffness all round. A ring narrower than that does not
    bend: glue and shear govern, and the bending margin reads low.

    References
    ----------
    S. Timoshenko and S. Woinowsky-Krieger, Theory of Plates and Shells (1959), ch. 3; Roark's
    Formulas for Stress and Strain, 7th ed., table 11.2.

    Examples
    --------
    >>> ring = Ring(outer=0.037, inner=0.0145, thickness=0.003)
    >>> sheet = RingSheet(modulus=4e9, strength=40e6, shear_strength=3e6)
    >>> found = check(ring, sheet, force=200.0, shear_strength=3e6, glue_shear=2e6)
    >>> found.governs.name, round(found.governs.ratio, 1)
    ('ring bending', 1.1)
    """
    _positive(force=force, shear_strength=shear_strength, glue_shear=glue_shear)
    thickness = ring.thickness
    bend = ring_bending(
        outer=ring.outer,
        inner=ring.inner,
        stiffness=sheet.modulus * thickness**3 / (12.0 * (1.0 - sheet.poisson**2)),
        poisson=sheet.poisson,
        force=force,
        outer_edge=outer_edge,
        inner_edge=inner_edge,
    )
    around = 2.0 * math.pi * ring.inner, 2.0 * math.pi * ring.outer
    held = thickness + 2.0 * FILLET_LEG * ring.fillet
    stress = 6.0 * bend.peak_moment / thickness**2
    shear = 1.5 * force / (around[0] * thickness)
    margins = (
        Margin("ring bending", stress, Quantity(sheet.strength), "Pa"),
        Margin("ring shear at the motor tube", shear, Quantity(shear_strength), "Pa"),
        Margin("glue to the motor tube", force / (around[0] * held), Quantity(glue_shear), "Pa"),
        Margin("glue to the body tube", force / (around[1] * held), Quantity(glue_shear), "Pa"),
    )
    return RingCheck(margins, float(np.abs(bend.deflection).max()), bend)


@dataclass(frozen=True)
class RingCapacity:
    """A ring with weak parts, and its margins between weak and strong ones."""

    weak: RingCheck
    bands: tuple[Margin, ...]

    @property
    def governs(self) -> Margin:
        """Return the weakest way to fail."""
        return min(self.bands, key=lambda band: band.ratio)


def capacity(
    ring: Ring, sheet: RingSheet, *, adhesive: Adhesive, tube: Tube, force: float
) -> RingCapacity:
    """Return what a ring bears, each strength between its low and its high end.

    Parameters
    ----------
    ring, sheet
        The ring and what it is cut from.
    adhesive, tube
        What it is glued with, and onto.
    force
        Force on the ring [N], from `ring_force`.

    Returns
    -------
    RingCapacity
        The low end takes the edges as free to turn; the high end, where there are fillets, as held
        square.
    """

    def at(end: End) -> RingCheck:
        held = end == 1 and ring.fillet > 0.0
        return check(
            ring,
            sheet,
            force=force,
            shear_strength=sheet.through_shear(end),
            glue_shear=allowable(adhesive.shear[end], sheet.shear_strength, tube.shear[end]),
            outer_edge="clamped" if held else "simple",
            inner_edge="guided" if held else "free",
        )

    weak = at(0)
    return RingCapacity(weak, bands(weak.margins, at(1).margins))


def _ring(*, outer: float, inner: float) -> None:
    if not (math.isfinite(outer) and outer > 0.0):
        raise InputError("outer", outer, "a radius above zero")
    if not 0.0 < inner < outer:
        raise InputError("inner", inner, "a radius above zero and below the outer one")


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not value > 0.0:
            raise InputError(name, value, "a value above zero")
