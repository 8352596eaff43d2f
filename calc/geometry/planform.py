"""The outline of a fin seen from the side, and the shape of its edges.

Coordinates: ``x`` aft along the body from the leading edge of the root, ``y`` outward from the
body's surface. All lengths in metres, all angles in radians.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

from calc.errors import InputError
from calc.geometry.outline import SMOOTH, Frame, Outline, Strips
from calc.numerics.quadrature import gauss_legendre

Array = npt.NDArray[np.float64]
EdgeKind = Literal["square", "rounded", "tapered", "airfoil"]


def _length(name: str, value: float, *, zero: bool = False, signed: bool = False) -> float:
    """Return `value` as a float; raise InputError if it is no such length."""
    if signed:
        accepts = "a length (negative when the tip lies ahead of the root)"
    else:
        accepts = "a length of zero or more" if zero else "a length above zero"
    try:
        number = float(value)
    except (TypeError, ValueError):
        raise InputError(name, value, accepts) from None
    too_low = not signed and (number < 0.0 if zero else number <= 0.0)
    if not math.isfinite(number) or too_low:
        raise InputError(name, value, accepts)
    return number


@dataclass(frozen=True)
class Planform(Outline):
    """A fin with a straight root, a straight tip parallel to it and straight edges.

    Parameters
    ----------
    root, tip
        Chord at the body and at the tip [m]; a tip of zero makes a triangle.
    span
        Distance of the tip from the body, measured square to the body [m].
    sweep
        Distance the tip's leading edge lies behind the root's [m]; negative is forward sweep.

    Notes
    -----
    Mean aerodynamic chord of a trapezoid (standard geometry, derivable)::

        c_mean = 2/3 (root^2 + root tip + tip^2) / (root + tip)
        y_mean = span/3 (root + 2 tip) / (root + tip)

    Examples
    --------
    >>> fin = Planform(root=0.10, tip=0.05, span=0.06, sweep=0.05)
    >>> round(fin.area, 6), round(fin.aspect_ratio, 3), fin.taper
    (0.0045, 0.8, 0.5)
    """

    root: float
    tip: float
    span: float
    sweep: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "root", _length("root", self.root))
        object.__setattr__(self, "tip", _length("tip", self.tip, zero=True))
        object.__setattr__(self, "span", _length("span", self.span))
        object.__setattr__(self, "sweep", _length("sweep", self.sweep, signed=True))

    @property
    def area(self) -> float:
        """Return the area of one side of the panel [m²]."""
        return 0.5 * (self.root + self.tip) * self.span

    @property
    def taper(self) -> float:
        """Return tip chord over root chord."""
        return self.tip / self.root

    @property
    def mean_chord(self) -> float:
        """Return the mean aerodynamic chord [m]."""
        r, t = self.root, self.tip
        return 2.0 / 3.0 * (r * r + r * t + t * t) / (r + t)

    @property
    def mean_chord_y(self) -> float:
        """Return the distance of the mean aerodynamic chord from the root [m]."""
        return self.span / 3.0 * (self.root + 2.0 * self.tip) / (self.root + self.tip)

    @property
    def mean_chord_x(self) -> float:
        """Return how far the mean chord's leading edge lies behind that of the root [m]."""
        return self.sweep * self.mean_chord_y / self.span

    @property
    def corners(self) -> Array:
        """Return the corners (4, 2) [m]: leading edge at root and tip, trailing at tip and root."""
        return np.array(
            [
                [0.0, 0.0],
                [self.sweep, self.span],
                [self.sweep + self.tip, self.span],
                [self.root, 0.0],
            ]
        )

    def points(self, chord_fraction: npt.ArrayLike, span_fraction: npt.ArrayLike) -> Array:
        """Return points (..., 2) [m] at fractions of local chord and span, which broadcast."""
        xi = np.asarray(chord_fraction, dtype=float)
        eta = np.asarray(span_fraction, dtype=float)
        chord = self.root + (self.tip - self.root) * eta
        return np.stack(np.broadcast_arrays(self.sweep * eta + chord * xi, self.span * eta), -1)

    def leading_edge(self, y: npt.ArrayLike) -> Array:
        """Return x of the leading edge [m] at distances y from the body [m]."""
        return np.asarray(self.sweep / self.span * np.asarray(y, dtype=float))

    def trailing_edge(self, y: npt.ArrayLike) -> Array:
        """Return x of the trailing edge [m] at distances y from the body [m]."""
        behind = (self.sweep + self.tip - self.root) / self.span
        return np.asarray(self.root + behind * np.asarray(y, dtype=float))

    @property
    def frame(self) -> Frame:
        """Return the fin itself."""
        return Frame(0.0, self.root, self.tip, self.sweep, self.span)

    def spanwise_quadrature(self, count: int) -> tuple[Array, Array]:
        """Return points (count,) and weights (count,) [m] from root to tip."""
        eta, weight = gauss_legendre(count, low=0.0, high=1.0)
        return self.span * eta, self.span * weight

    def strips(self, count: int, *, tip_inset: float = 0.0) -> Strips:
        """Return `count` equally wide strips from the root to the tip."""
        edges = np.linspace(0.0, self.span, count + 1) * (count / (count + tip_inset))
        centre = 0.5 * (edges[1:] + edges[:-1])
        lean = self.sweep / self.span
        behind = (self.sweep + self.tip - self.root) / self.span
        return Strips(
            edges,
            self.leading_edge(centre),
            self.trailing_edge(centre),
            np.full(count, lean),
            np.full(count, behind),
        )

    @property
    def sharp_corners(self) -> Array:
        """Return the corners (n, 2) [m] that are not rounded: all of them."""
        return self.perimeter()

    def perimeter(self, tolerance: float = SMOOTH) -> Array:
        """Return the corners (n, 2) [m] from the root's front over the tip to the root's rear."""
        found = self.corners
        return found if self.tip > 0.0 else found[[0, 1, 3]]


@dataclass(frozen=True)
class Edge:
    """Shape of the leading and trailing edges of a fin; the tip edge stays square.

    Parameters
    ----------
    kind
        ``square``: as cut. ``rounded``: half round at both edges, radius half the thickness.
        ``tapered``: both edges bevelled straight to nothing. ``airfoil``: sanded to an ellipse
        ahead of the thickest place and to a parabola behind it, both edges thin to nothing.
    fraction
        ``tapered``: length of the bevel at each edge over the local chord, above 0 up to 0.5.
        ``airfoil``: thickest place over the local chord, between 0 and 1. Unused otherwise.

    Notes
    -----
    The section of ellipse and parabola represents what is sanded by hand with a template (common
    practice); it belongs to no published family.
    """

    kind: EdgeKind = "square"
    fraction: float = 0.0

    def __post_init__(self) -> None:
        if self.kind not in get_args(EdgeKind):
            raise InputError("edge", self.kind, "one of " + ", ".join(get_args(EdgeKind)))
        if self.kind == "tapered" and not 0.0 < self.fraction <= 0.5:
            raise InputError("edge", self.fraction, "a bevel above 0 and up to 0.5 of the chord")
        if self.kind == "airfoil" and not 0.0 < self.fraction < 1.0:
            raise InputError("edge", self.fraction, "a thickest place between 0 and 1 of the chord")


SQUARE_EDGE = Edge("square")


def _half_round(edge: Edge, local_thickness_ratio: npt.ArrayLike | None) -> Array:
    """Return the radius of a rounded edge over the local chord."""
    if local_thickness_ratio is None:
        raise InputError("thickness_ratio", None, "thickness over chord for a rounded edge")
    ratio = np.asarray(local_thickness_ratio, dtype=float)
    if np.any(~(ratio > 0.0)):
        raise InputError("thickness_ratio", local_thickness_ratio, "a ratio above zero")
    return 0.5 * ratio


def thickness_fraction(
    edge: Edge,
    chord_fraction: npt.ArrayLike,
    *,
    local_thickness_ratio: npt.ArrayLike | None = None,
) -> Array:
    """Return the local thickness over the full thickness at places along the chord.

    Parameters
    ----------
    edge
        Shape of the edges.
    chord_fraction
        Places ``xi`` from 0 (leading edge) to 1 (trailing edge).
    local_thickness_ratio
        Full thickness over local chord; needed for rounded edges, broadcast with the places.

    Returns
    -------
    Fractions between 0 and 1, in the broadcast shape.

    Raises
    ------
    InputError
        Naming ``thickness_ratio`` if a rounded edge has none, or one that is not above zero.

    Notes
    -----
    With ``d`` the distance to the nearer edge over the chord::

        square     1
        rounded    sqrt(1 - (1 - d/r)^2) for d < r, r = local_thickness_ratio / 2, else 1
        tapered    d/fraction for d < fraction, else 1
        airfoil    sqrt(1 - (1 - xi/f)^2) ahead of f, 1 - ((xi - f)/(1 - f))^2 behind it

    Examples
    --------
    >>> thickness_fraction(Edge("tapered", 0.25), [0.0, 0.125, 0.5, 1.0]).tolist()
    [0.0, 0.5, 1.0, 0.0]
    """
    xi = np.clip(np.asarray(chord_fraction, dtype=float), 0.0, 1.0)
    nearer = np.minimum(xi, 1.0 - xi)
    if edge.kind == "rounded":
        depth = np.minimum(nearer / _half_round(edge, local_thickness_ratio), 1.0)
        return np.asarray(np.sqrt(depth * (2.0 - depth)))
    if edge.kind == "tapered":
        return np.asarray(np.minimum(nearer / edge.fraction, 1.0))
    if edge.kind == "airfoil":
        front = np.minimum(xi / edge.fraction, 1.0)
        rear = np.maximum(xi - edge.fraction, 0.0) / (1.0 - edge.fraction)
        return np.asarray(np.sqrt(front * (2.0 - front)) - rear**2)
    return np.ones_like(xi)


def chord_breaks(edge: Edge, *, local_thickness_ratio: npt.ArrayLike | None = None) -> Array:
    """Return the places along the chord between which the thickness is smooth.

    Parameters
    ----------
    edge
        Shape of the edges.
    local_thickness_ratio
        Full thickness over local chord (...,); needed for rounded edges.

    Returns
    -------
    Rising fractions of the chord (..., n), the first 0 and the last 1.

    Examples
    --------
    >>> chord_breaks(Edge("tapered", 0.125)).tolist()
    [0.0, 0.125, 0.875, 1.0]
    """
    if edge.kind == "rounded":
        radius = np.minimum(_half_round(edge, local_thickness_ratio), 0.5)
        zero, one = np.zeros_like(radius), np.ones_like(radius)
        return np.stack([zero, radius, 1.0 - radius, one], axis=-1)
    inner: Sequence[float] = ()
    if edge.kind == "tapered":
        inner = (edge.fraction, 1.0 - edge.fraction)
    elif edge.kind == "airfoil":
        inner = (edge.fraction,)
    return np.array([0.0, *inner, 1.0])
