"""Plates of any outline against an independent finite-element library (scikit-fem)."""

import math

import numpy as np
import pytest
import skfem
from scipy.sparse.linalg import eigsh
from skfem.helpers import dd

from calc.fin.model import TRUNCATION
from calc.geometry.free_outline import corners, ellipse
from calc.structure import plate

ALUMINIUM = np.array([[1.0, 0.33, 0.0], [0.33, 1.0, 0.0], [0.0, 0.0, 0.335]])
# Bending stiffness of balsa in its own axes over that along the grain; ratios of the Wood Handbook
# (FPL-GTR-282, 2021, table 5-1): E_T/E_L = 0.015, E_R/E_L = 0.046, G_LR/G_LT of 0.054 and 0.037.
BALSA = np.array([[1.0, 0.0075, 0.0], [0.0075, 0.03, 0.0], [0.0, 0.0, 0.045]])

FIVE = [(0.0, 0.0), (0.04, 0.045), (0.07, 0.06), (0.1, 0.05), (0.09, 0.0)]
DELTA = [(0.0, 0.0), (0.06, 0.06), (0.09, 0.06), (0.1, 0.0)]
TRAILING = [(0.0, 0.0), (0.07, 0.05), (0.12, 0.06), (0.13, 0.04), (0.08, 0.0)]


def orient(stiffness, angle):
    """Return the stiffness of a plate turned by `angle` [rad]."""
    c, s = math.cos(angle), math.sin(angle)
    back = np.array(
        [[c * c, s * s, -2 * c * s], [s * s, c * c, 2 * c * s], [c * s, -c * s, c * c - s * s]]
    )
    return back @ stiffness @ back.T


def half_ellipse(root, span, sweep, refinements):
    """Return a mesh of a leaning half ellipse, made from one of a circle."""
    mesh = skfem.MeshTri.init_circle(refinements)
    centre = mesh.p[:, mesh.t].mean(axis=1)
    mesh = mesh.restrict(np.flatnonzero(centre[1] > 0.0))
    x, y = mesh.p
    return skfem.MeshTri(np.stack([0.5 * root * (1.0 + x) + sweep * y, span * y]), mesh.t)


def polygon(points, refinements):
    """Return a mesh of a polygon that a point in its middle can see all of."""
    outer = np.array(points).T
    count = outer.shape[1]
    nodes = np.column_stack([outer, outer.mean(axis=1)])
    fan = np.array([[i, (i + 1) % count, count] for i in range(count)]).T
    return skfem.MeshTri(nodes, fan).refined(refinements)


def finite_elements(mesh, bending):
    """Return the three lowest frequencies with Morley triangles, clamped along the root."""
    basis = skfem.Basis(mesh, skfem.ElementTriMorley(), intorder=4)

    @skfem.BilinearForm
    def stiffness(u, v, w):
        a, b = ((dd(f)[0, 0], dd(f)[1, 1], 2.0 * dd(f)[0, 1]) for f in (u, v))
        return sum(bending[i, j] * a[i] * b[j] for i in range(3) for j in range(3))

    @skfem.BilinearForm
    def mass(u, v, w):
        return u * v

    free = basis.complement_dofs(basis.get_dofs(lambda x: x[1] < 1e-9))
    k, m = (form.assemble(basis)[free][:, free].tocsc() for form in (stiffness, mass))
    squared = eigsh(k, k=3, M=m, sigma=0.0, v0=np.ones(free.size), return_eigenvectors=False)
    return np.sqrt(np.sort(squared))


def ours(shape, bending):
    """Return our three lowest frequencies, with as many functions as a fin's model takes."""
    few = plate.assemble(plate.prepare(shape), bending=bending, areal_mass=1.0)
    if plate.truncation_error(few, count=2).max() <= TRUNCATION:
        return plate.modes(few, count=3).frequency
    many = plate.prepare(shape, spanwise=10, chordwise=10)
    return plate.modes(plate.assemble(many, bending=bending, areal_mass=1.0), count=3).frequency


HALF, LEANING = (0.1, 0.06, 0.0), (0.1, 0.06, 0.04)
CASES = [
    ("half ellipse, aluminium", HALF, ALUMINIUM, 0.0),
    ("half ellipse, balsa, grain square to the root", HALF, BALSA, 90.0),
    ("half ellipse, balsa, grain along the root", HALF, BALSA, 0.0),
    ("leaning ellipse, balsa, grain along its lean", LEANING, BALSA, 56.31),
    ("five corners, aluminium", FIVE, ALUMINIUM, 0.0),
    ("five corners, balsa, grain at 60 degrees", FIVE, BALSA, 60.0),
    ("clipped delta, balsa, grain along the leading edge", DELTA, BALSA, 45.0),
    ("tip behind the root, balsa, grain along the leading edge", TRAILING, BALSA, 35.54),
]


def both(shape, bending, refinements):
    """Return our frequencies and those of finite elements, of two meshes extrapolated."""
    if len(shape) == 3:
        root, span, sweep = shape
        fin = ellipse(root=root, span=span, sweep=sweep)
        meshes = [half_ellipse(root, span, sweep, n) for n in refinements]
    else:
        fin = corners(shape)
        meshes = [polygon(shape, n) for n in refinements]
    coarse, fine = (finite_elements(mesh, bending) for mesh in meshes)
    return ours(fin, bending), fine + (fine - coarse) / 3.0


@pytest.mark.parametrize(("name", "shape", "stiffness", "degrees"), CASES)
def test_free_outline(name, shape, stiffness, degrees, record):
    """Three frequencies of any outline within 0.5 %."""
    found, reference = both(shape, orient(stiffness, math.radians(degrees)), (4, 5))
    record(
        case=f"fin of any outline: {name}",
        parts=("mode 1", "mode 2", "mode 3"),
        published=reference,
        ours=found,
        tolerance="0.5 %",
        source="scikit-fem 12.0, Morley triangles, two meshes extrapolated",
        basis="library",
    )
    assert np.allclose(found, reference, rtol=5e-3)


def test_tip_far_behind_the_root_of_metal(record):
    """Where the rear end of the root is a wide corner, polynomials err by 1 % and on the high side.

    The moment there has a peak without limit, as on a strongly swept fin with straight edges.
    """
    found, reference = both(TRAILING, ALUMINIUM, (5, 6))
    record(
        case="fin of any outline: tip behind the root, aluminium",
        parts=("mode 1", "mode 2", "mode 3"),
        published=reference,
        ours=found,
        tolerance="1.5 %: polynomials follow the peak of moment at the root's rear end slowly",
        source="scikit-fem 12.0, Morley triangles, two meshes extrapolated",
        basis="library",
    )
    assert np.all(found > reference)
    assert np.allclose(found, reference, rtol=1.5e-2)
