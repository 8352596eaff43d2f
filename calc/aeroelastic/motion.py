"""Whether one mode of motion dies away or grows at speeds around a boundary.

The p-k form of the flutter equation, as in `flutter_boundary` ::

    (p^2 M + K - q_dyn Q(k)) x = 0   with   Im p = k U

after H. J. Hassig, "An approximate true damping solution of the flutter equation by determinant
iteration", J. Aircraft 8 (1971) 885. Only one root is followed, from a speed at which it is known,
so that a picture of it costs little. At a flutter boundary it is exact; away from it the forces
are those of a swing that neither grows nor dies away, which is the approximation of the method.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calc.aeroelastic.flutter_boundary import AirForces

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

STEPS = 12
"""Most steps by which the wavenumber of a root is closed in on."""
CLOSE = 1e-5
"""Difference between a root's frequency and the wavenumber's, as a share of the first natural one,
at which it is taken for found."""


SURE = 0.85
"""Likeness of shapes, 1 for equal ones, below which steps are put between two speeds."""
HALVINGS = 4
"""How often such steps are halved."""
NEARER = 0.5
"""What a root's distance from the one before counts against the likeness of their shapes."""


@dataclass(frozen=True)
class Motion:
    """One mode of motion over speed.

    Attributes
    ----------
    speeds
        ``(n,)`` [m/s].
    growth
        ``(n,)`` rate [1/s] at which its size grows; below zero it dies away.
    frequency
        ``(n,)`` [rad/s]; zero where it moves one way only.
    shapes
        ``(n, m)`` complex modal amplitudes, of length 1 and turned in phase like their neighbours.
    """

    speeds: Real
    growth: Real
    frequency: Real
    shapes: Complex


def followed(
    forces: AirForces,
    *,
    frequency: Real,
    density: float,
    speeds: Real,
    start: int,
    oscillation: float,
    shape: Complex,
) -> Motion:
    """Return a root that is known at one speed, and what becomes of it at others.

    Parameters
    ----------
    forces
        Modal forces ``(n, n_k, m, m)`` on mass-normalised modes, with the air of each speed.
    frequency
        ``(m,)`` natural frequencies [rad/s].
    density
        Air density [kg/m3].
    speeds
        ``(n,)`` ascending [m/s], close enough that the shape changes little between neighbours.
    start
        At which of them the root is known.
    oscillation
        Its frequency there [rad/s], about; zero for divergence.
    shape
        ``(m,)`` its modal amplitudes there.
    """
    problem = _Problem(forces, frequency, density)
    n, m = speeds.size, frequency.size
    states: list[_State] = [_State(0.0, complex(0.0, oscillation), shape, True)] * n
    known = states[start]
    states[start] = problem.at(forces.forces[start], speeds[start], known)
    for order in (range(start + 1, n), range(start - 1, -1, -1)):
        before = start
        for place in order:
            states[place] = problem.between(before, place, speeds, states[before], HALVINGS)
            before = place
    roots = np.array([state.root for state in states])
    shapes = np.array([state.shape for state in states]).reshape(n, m)
    return Motion(speeds, roots.real, roots.imag, shapes)


@dataclass(frozen=True)
class _State:
    """A root p at a speed [m/s], its shape of length 1, and whether it surely is the one sought."""

    speed: float
    root: complex
    shape: Complex
    sure: bool


@dataclass(frozen=True, eq=False)
class _Problem:
    """What a fin's roots depend on besides the speed."""

    forces: AirForces
    frequency: Real
    density: float

    def between(
        self, first: int, second: int, speeds: Real, known: _State, halvings: int
    ) -> _State:
        """Return the root at one place from that at another, by as many steps as it takes."""
        here, there = self.forces.forces[first], self.forces.forces[second]
        direct = self.at(there, speeds[second], known)
        if direct.sure or halvings == 0:
            return direct
        # the air changes little from one speed to the next
        steps = 2 ** (HALVINGS - halvings + 1)
        state = known
        for step in range(1, steps + 1):
            part = step / steps
            speed = speeds[first] + part * (speeds[second] - speeds[first])
            state = self.at(here + part * (there - here), speed, state)
            if not state.sure:
                return self.between(first, second, speeds, known, halvings - 1)
        return state

    def at(self, table: Complex, speed: float, known: _State) -> _State:
        """Return the root most like a known one, by forces ``(n_k, m, m)`` of this speed."""
        nodes, frequency = self.forces.nodes, self.frequency
        m, highest = frequency.size, float(self.forces.nodes[-1])
        flat = table.reshape(nodes.size, -1)
        pressure = 0.5 * self.density * speed**2
        shape = known.shape / np.linalg.norm(known.shape)

        def solved(k: float) -> tuple[complex, Complex, float]:
            # what swings faster than the air is known for is answered as at the fastest it is
            weights = self.forces.weights(np.array([min(k, highest)]))
            matrix = (-pressure * (weights @ flat)).reshape(m, m)
            matrix[np.arange(m), np.arange(m)] += frequency**2
            # air that does not swing answers in phase: a root is real then, or one of a pair
            squares, vectors = np.linalg.eig(matrix if k > 0.0 else matrix.real)
            p = 1j * np.sqrt(squares.astype(complex))
            p = np.where((p.imag < 0.0) | ((p.imag == 0.0) & (p.real < 0.0)), -p, p)
            likeness = np.abs(shape.conj() @ vectors)
            # by shape; of roots about to meet, whose shapes are alike, the nearer one
            away = np.minimum(np.abs(p - known.root) / frequency[0], 1.0)
            best = int((likeness - NEARER * away).argmax())
            return complex(p[best]), vectors[:, best].astype(complex), float(likeness[best])

        k = max(known.root.imag, 0.0) / speed
        p, vector, likeness = solved(k)
        last_k, last = k, p.imag - k * speed
        k = p.imag / speed
        for _ in range(STEPS):
            if abs(last) < CLOSE * frequency[0]:
                break
            p, vector, likeness = solved(k)
            miss = p.imag - k * speed
            step = p.imag / speed if miss == last else k - miss * (k - last_k) / (miss - last)
            last_k, last = k, miss
            k = max(step, 0.0)
        turn = shape.conj() @ vector
        if abs(turn) > 0.0:
            vector = vector * abs(turn) / turn
        # what leans over without swinging begins to swing at once when the air no longer wins
        alike = likeness > SURE or (known.root.imag == 0.0 and known.root.real > 0.0)
        sure = alike and abs(last) < CLOSE * frequency[0]
        return _State(speed, p, vector / np.linalg.norm(vector), sure)
