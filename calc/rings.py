"""Centring rings and bulkheads: thin round plates under motor thrust or ejection pressure."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.errors import InputError
from calc.joint import FILLET_LEG
from calc.margin import Margin, worst

Array = NDArray[np.float64]
OuterEdge = Literal["simple", "clamped"]
InnerEdge = Literal["free", "guided"]


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

    Equation: D del^4 w = q, so w = c0 + c1 r^2 + c2 ln r + c3 r^2 ln r + q r^4 / (64 D) with
    c3 = (P - pi b^2 q) / (8 pi D); M_r = -D (w'' + nu w'/r), M_t = -D (w'/r + nu w'').
    Outer edge w = 0 and M_r = 0 (simple) or w' = 0 (clamped); inner edge M_r = 0 (free) or w' = 0
    (guided: glued square to a stiff motor tube).

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

    Validity: thin, flat, same stiffness in every direction, small deflections. For plywood take
    the mean of both directions for stiffness and the weaker direction for strength.

    Source: S. Timoshenko and S. Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. (1959),
    ch. 3; same cases as W. C. Young and R. G. Budynas, Roark's Formulas for Stress and Strain,
    7th ed. (2002), table 11.2, cases 1 and 2.

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


def check(
    *,
    outer: float,
    inner: float,
    thickness: float,
    thrust: float,
    modulus: float,
    strength: float,
    shear_strength: float,
    glue_shear: float,
    poisson: float = 0.3,
    rings: int = 1,
    sudden: float = 2.0,
    fillet_radius: float = 0.0,
    outer_edge: OuterEdge = "simple",
    inner_edge: InnerEdge = "free",
) -> RingCheck:
    """Return the margins of a centring ring that carries motor thrust into the body tube.

    Equation: P = sudden * thrust / rings; stress = 6 M_max / t^2 from `ring_bending`; shear
    1.5 P / (2 pi b t); glue P / (2 pi r (t + 2 a)), a = (2 - sqrt 2) fillet radius.

    Parameters
    ----------
    outer, inner
        Radii of the ring a and b [m].
    thickness
        Ring thickness t [m].
    thrust
        Largest thrust of the motor [N].
    modulus, strength
        Flexural modulus and bending strength of the sheet, weaker direction [Pa].
    shear_strength
        Shear strength through the thickness [Pa].
    glue_shear
        Allowable shear of the glue lines [Pa]: weaker of glue, ring and tube.
    poisson
        Poisson's ratio [-].
    rings
        How many rings share the thrust; 1 if only one is butted by the thrust.
    sudden
        Factor for thrust that comes suddenly; 2 for a step on an elastic part.
    fillet_radius
        Fillet on both faces at each tube [m].
    outer_edge, inner_edge
        "simple" and "free" are the cautious choice; "clamped" and "guided" suit good fillets.

    Returns
    -------
    RingCheck
        Margins and deflection.

    Validity: thin ring (thickness below about a third of a - b), same stiffness all round. A ring
    narrower than that does not bend: glue and shear govern, and the bending margin reads low.

    Source: Timoshenko and Woinowsky-Krieger (1959), ch. 3; Roark's Formulas, 7th ed., table 11.2;
    factor 2 for a sudden load: S. Timoshenko, Vibration Problems in Engineering.

    >>> ring = check(outer=0.037, inner=0.0145, thickness=0.003, thrust=100.0, modulus=4e9,
    ...              strength=40e6, shear_strength=3e6, glue_shear=2e6)
    >>> ring.governs.name, round(ring.governs.ratio, 1)
    ('ring bending', 1.1)
    """
    _ring(outer=outer, inner=inner)
    for name, value in (
        ("thickness", thickness),
        ("thrust", thrust),
        ("modulus", modulus),
        ("strength", strength),
        ("shear_strength", shear_strength),
        ("glue_shear", glue_shear),
        ("sudden", sudden),
    ):
        if not value > 0.0:
            raise InputError(name, value, "a value above zero")
    if rings < 1:
        raise InputError("rings", rings, "1 or more")
    force = sudden * thrust / rings
    bend = ring_bending(
        outer=outer,
        inner=inner,
        stiffness=modulus * thickness**3 / (12.0 * (1.0 - poisson**2)),
        poisson=poisson,
        force=force,
        outer_edge=outer_edge,
        inner_edge=inner_edge,
    )
    held = thickness + 2.0 * FILLET_LEG * fillet_radius
    margins = (
        Margin("ring bending", 6.0 * bend.peak_moment / thickness**2, strength, "Pa"),
        Margin(
            "ring shear at the motor tube",
            1.5 * force / (2.0 * math.pi * inner * thickness),
            shear_strength,
            "Pa",
        ),
        Margin("glue to the motor tube", force / (2.0 * math.pi * inner * held), glue_shear, "Pa"),
        Margin("glue to the body tube", force / (2.0 * math.pi * outer * held), glue_shear, "Pa"),
    )
    return RingCheck(margins, float(np.abs(bend.deflection).max()), bend)


def bulkhead_moment(
    *,
    radius: float,
    poisson: float = 0.3,
    pressure: float = 0.0,
    force: float = 0.0,
    patch: float = 0.0,
    edge: OuterEdge = "simple",
) -> float:
    """Return the largest bending moment in a full disc under pressure and a pull at its middle.

    Equation: simple edge, at the middle: (3 + nu) q a^2 / 16
    + (P/4 pi)[(1 + nu) ln(a/c) + 1 - (1 - nu) c^2/(4 a^2)];
    clamped: the larger of the middle, (1 + nu) q a^2/16 + (1 + nu)(P/4 pi)[ln(a/c) + c^2/(4 a^2)],
    and the edge, q a^2/8 + (P/4 pi)[1 - c^2/(2 a^2)].

    Parameters
    ----------
    radius
        Disc radius a [m].
    poisson
        Poisson's ratio nu [-].
    pressure
        Ejection pressure q [Pa].
    force, patch
        Pull P [N] spread over a circle of radius c [m] (washer of a screw eye).
    edge
        "simple" or "clamped".

    Returns
    -------
    float
        Moment per length [N m/m]; bending stress is 6 M / t^2.

    Validity: thin plate; patch radius at least half the thickness.

    Source: Timoshenko and Woinowsky-Krieger (1959), sections 16 and 19.

    >>> round(bulkhead_moment(radius=1.0, pressure=1.0), 5)
    0.20625
    """
    if not radius > 0.0:
        raise InputError("radius", radius, "a value above zero")
    if edge not in ("simple", "clamped"):
        raise InputError("edge", edge, "simple or clamped")
    if force != 0.0 and not 0.0 < patch <= radius:
        raise InputError("patch", patch, "a radius above zero, within the disc")
    load = pressure * radius**2
    line = force / (4.0 * math.pi)
    ratio = patch / radius if force else 1.0
    spread = -math.log(ratio)
    if edge == "simple":
        return (3.0 + poisson) * load / 16.0 + line * (
            (1.0 + poisson) * spread + 1.0 - (1.0 - poisson) * ratio**2 / 4.0
        )
    middle = (1.0 + poisson) * (load / 16.0 + line * (spread + ratio**2 / 4.0))
    return max(abs(middle), abs(load / 8.0 + line * (1.0 - ratio**2 / 2.0)))


def _ring(*, outer: float, inner: float) -> None:
    if not (math.isfinite(outer) and outer > 0.0):
        raise InputError("outer", outer, "a radius above zero")
    if not 0.0 < inner < outer:
        raise InputError("inner", inner, "a radius above zero and below the outer one")
