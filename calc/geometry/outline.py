"""What plate, air, cutting and drawing need to know of a fin's outline, whatever its shape.

Coordinates: ``x`` aft along the body from the front of the root, ``y`` outward from the body's
surface. All lengths in metres, all angles in radians. At every distance from the body there is one
leading and one trailing edge. `calc.geometry.planform` has the fin with straight edges,
`calc.geometry.free_outline` any other.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

SMOOTH = 2e-5
"""Usual distance between a curve and the chords of the polygon that stands for it [m]."""


class Strips(NamedTuple):
    """Strips of a fin along the stream, with straight edges that keep area and first moment.

    Fields, each (n,) except `edges` (n + 1,): `edges` distances of the strips' sides from the body
    [m]; `leading`, `trailing` mean x of the two edges over the strip [m]; `leading_slope`,
    `trailing_slope` their dx/dy.
    """

    edges: Array
    leading: Array
    trailing: Array
    leading_slope: Array
    trailing_slope: Array


Segment = tuple[tuple[float, float], ...]
"""A side of an outline [m]: its start and its end; of an arc also the centre of the ellipse and one
end each of two conjugate half axes. An arc is at most half of its ellipse."""


class Frame(NamedTuple):
    """A straight-edged fin, in whose coordinates the plate's functions are written.

    Fields: `front` x of its leading edge at the body [m]; `root`, `tip` its chords [m]; `sweep`
    distance of its tip's front behind `front` [m]; `span` [m].
    """

    front: float
    root: float
    tip: float
    sweep: float
    span: float

    @property
    def area(self) -> float:
        """Return its area [m²]."""
        return 0.5 * (self.root + self.tip) * self.span


class Outline(ABC):
    """The outline of a fin: what plate, air, cutting and drawing need to know of it."""

    root: float
    """Chord at the body [m]."""
    tip: float
    """Chord at the tip [m], 0 where it is pointed or round."""
    span: float
    """Distance of the tip from the body, measured square to the body [m]."""
    sweep: float
    """Distance of the tip's front behind the front of the root [m]."""

    @abstractmethod
    def leading_edge(self, y: npt.ArrayLike) -> Array:
        """Return x of the leading edge [m] at distances y from the body [m]."""

    @abstractmethod
    def trailing_edge(self, y: npt.ArrayLike) -> Array:
        """Return x of the trailing edge [m] at distances y from the body [m]."""

    @property
    @abstractmethod
    def area(self) -> float:
        """Return the area of one side of the panel [m²]."""

    @property
    @abstractmethod
    def mean_chord(self) -> float:
        """Return the mean aerodynamic chord, the integral of chord² over the area [m]."""

    @property
    @abstractmethod
    def mean_chord_y(self) -> float:
        """Return the distance of the mean aerodynamic chord from the root [m]."""

    @property
    @abstractmethod
    def mean_chord_x(self) -> float:
        """Return how far the mean chord's leading edge lies behind that of the root [m]."""

    @property
    @abstractmethod
    def frame(self) -> Frame:
        """Return the straight-edged fin nearest to this one, of the same span."""

    @abstractmethod
    def spanwise_quadrature(self, count: int) -> tuple[Array, Array]:
        """Return points (m,) and weights (m,) [m] from root to tip for integrals over the panel.

        Parameters
        ----------
        count
            Gauss points that polynomials need on a fin with straight edges.
        """

    @abstractmethod
    def strips(self, count: int, *, tip_inset: float = 0.0) -> Strips:
        """Return strips of the panel along the stream, for a lifting surface.

        Parameters
        ----------
        count
            Number of strips.
        tip_inset
            How far the last strip ends short of the tip, over its own width.
        """

    @property
    @abstractmethod
    def sharp_corners(self) -> Array:
        """Return the corners (n, 2) [m] that are not rounded."""

    @abstractmethod
    def perimeter(self, tolerance: float = SMOOTH) -> Array:
        """Return corners (n, 2) [m] from the root's front over the tip to the root's rear.

        Parameters
        ----------
        tolerance
            Distance between a curve and the polygon's sides at most [m].
        """

    def path(self) -> tuple[Segment, ...]:
        """Return the sides from the root's front over the tip to its rear, arcs as arcs."""
        rim = [(float(x), float(y)) for x, y in self.perimeter()]
        return tuple(pairwise(rim))

    @property
    def aspect_ratio(self) -> float:
        """Return the aspect ratio of the exposed panel, span² over area."""
        return self.span**2 / self.area

    @property
    def taper(self) -> float:
        """Return tip over root chord of the straight-edged fin of this root and area, at least 0.

        The tip chord over the root chord, where the edges are straight.
        """
        return max(2.0 * self.area / (self.span * self.root) - 1.0, 0.0)

    def sweep_of(self, chord_fraction: float) -> float:
        """Return the sweep angle [rad] from root to tip at a fraction of both chords."""
        return math.atan2(self.sweep + (self.tip - self.root) * chord_fraction, self.span)

    @property
    def sweep_leading(self) -> float:
        """Return the sweep angle of the leading edge [rad], from the root's to the tip's front."""
        return self.sweep_of(0.0)

    @property
    def centroid(self) -> tuple[float, float]:
        """Return the centre of area (x, y) [m]."""
        return self.mean_chord_x + 0.5 * self.mean_chord, self.mean_chord_y

    @property
    def tip_point(self) -> tuple[float, float]:
        """Return the middle of the tip (x, y) [m], its outermost point where it is not straight."""
        return self.sweep + 0.5 * self.tip, self.span

    @property
    def grain_datum(self) -> str:
        """Return the name of the line from which the angle of the grain is measured."""
        return "the leading edge"

    def chord(self, y: npt.ArrayLike) -> Array:
        """Return the chord [m] at distances y from the body [m]."""
        return np.asarray(self.trailing_edge(y) - self.leading_edge(y))

    def points(self, chord_fraction: npt.ArrayLike, span_fraction: npt.ArrayLike) -> Array:
        """Return points (..., 2) [m] at fractions of local chord and span, which broadcast."""
        xi, y = (
            np.asarray(chord_fraction, dtype=float),
            np.asarray(span_fraction, float) * self.span,
        )
        nose = self.leading_edge(y)
        chord = self.trailing_edge(y) - nose
        return np.stack(np.broadcast_arrays(nose + chord * xi, y), -1)

    def grain_direction(self, grain: float) -> float:
        """Return the angle of the grain from the x axis [rad].

        Parameters
        ----------
        grain
            Angle between the grain and `grain_datum` [rad]: 0 is parallel to it, positive rotates
            the grain toward the body's axis.
        """
        return 0.5 * math.pi - (self.sweep_leading + grain)
