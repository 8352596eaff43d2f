"""Curved outlines leave the templates as arcs, wherever and however a part lies on its sheet."""

import io
import math
import re

import ezdxf
import numpy as np
import pytest
from ezdxf import path as dxf_path
from shapely import LineString, Point, Polygon

from calc.geometry.free_outline import corners, ellipse
from calc.geometry.outline import Outline
from calc.workshop import layout_search, templates
from calc.workshop.parts import Part, Plan, Sheet

ROUNDED = corners([(0, 0), (0.04, 0.05), (0.07, 0.06), (0.09, 0.05), (0.085, 0)], radius=0.006)
FINS = {
    "rounded": ROUNDED,
    "ellipse": ellipse(root=0.08, span=0.06, sweep=0.0),
    "leaning": ellipse(root=0.08, span=0.06, sweep=0.03),
}


def plan_of(fin: Outline, *, mirror: bool = True) -> Plan:
    """Return three of a fin on one sheet, turned by their grain, perhaps face down."""
    part = Part(
        outline=tuple((float(x), float(y)) for x, y in fin.perimeter()),
        grain=0.7,
        quantity=3,
        root=((0.0, 0.0), (fin.root, 0.0)),
        mirror=mirror,
        path=fin.path(),
    )
    return layout_search.nest([part], [Sheet(length=0.6, width=0.15)], kerf=0.001, iterations=5)


def pieces(plan: Plan, fin: Outline) -> list[Polygon]:
    """Return the parts on the sheet, in millimetres, with very many corners."""
    rim = 1e3 * fin.perimeter(1e-9)
    found = []
    for placed in plan.sheets[0].placements:
        flipped = rim * (1.0, -1.0 if placed.mirrored else 1.0)
        c, s = math.cos(placed.angle), math.sin(placed.angle)
        found.append(Polygon(flipped @ np.array([[c, s], [-s, c]]) + 1e3 * np.array(placed.offset)))
    return found


@pytest.mark.parametrize("fin", FINS.values(), ids=FINS)
def test_dxf_has_arcs_on_the_outline(fin: Outline) -> None:
    """An independent reader finds arcs in the file, and every cut lies on the part's outline."""
    plan = plan_of(fin)
    document = ezdxf.read(io.StringIO(templates.dxf_bytes(plan).decode()))
    cuts = [entity for entity in document.modelspace() if entity.dxf.layer == "CUT"]
    arcs = [
        e for e in cuts if e.dxftype() == "ELLIPSE" or (e.dxftype() == "LWPOLYLINE" and e.has_arc)
    ]
    assert arcs
    outlines = [LineString([*p.exterior.coords]) for p in pieces(plan, fin)]
    length = 0.0
    for entity in cuts:
        exact = entity.dxftype() == "ELLIPSE"  # a path of it would be of Bezier curves
        flat = (entity if exact else dxf_path.make_path(entity)).flattening(1e-4)
        drawn = LineString([(v.x, v.y) for v in flat])
        length += drawn.length
        off = [max(line.distance(Point(at)) for at in drawn.coords) for line in outlines]
        assert min(off) < 1e-3
    assert length == pytest.approx(sum(outline.length for outline in outlines), rel=1e-6)


def sampled(commands: str) -> list[tuple[float, float]]:
    """Return points along SVG path commands M, L and A (SVG 1.1, appendix F.6.5)."""
    points: list[tuple[float, float]] = []
    for letter, rest in re.findall(r"([MLA])([^MLAZ]*)", commands):
        numbers = [float(word) for word in rest.split()]
        x2, y2 = numbers[-2:]
        if letter != "A":
            points.append((x2, y2))
            continue
        (x1, y1), (rx, ry, lean, large, sweep) = points[-1], numbers[:5]
        turn = complex(math.cos(math.radians(lean)), math.sin(math.radians(lean)))
        start = complex(x1 - x2, y1 - y2) / 2.0 / turn
        a, b = start.real / rx, start.imag / ry
        size = math.sqrt(max(1.0 / (a * a + b * b) - 1.0, 0.0))
        sign = 1.0 if large != sweep else -1.0
        centre = sign * size * complex(b * rx, -a * ry)
        first = math.atan2((start - centre).imag / ry, (start - centre).real / rx)
        last = math.atan2((-start - centre).imag / ry, (-start - centre).real / rx)
        step = (last - first) % (2.0 * math.pi) if sweep else -((first - last) % (2.0 * math.pi))
        middle = complex(x1 + x2, y1 + y2) / 2.0
        for share in np.linspace(0.0, 1.0, 60)[1:]:
            t = first + share * step
            place = complex(rx * math.cos(t), ry * math.sin(t)) + centre
            found = place * turn + middle
            points.append((found.real, found.imag))
    return points


@pytest.mark.parametrize("fin", FINS.values(), ids=FINS)
def test_svg_has_arcs_on_the_outline(fin: Outline) -> None:
    """The paths of the drawing, worked out by the standard's formulas, are the parts."""
    plan = plan_of(fin)
    drawing = templates.svg(plan)
    paths = re.findall(r'<path d="([^"]*)"', drawing)
    assert len(paths) == 3
    assert all("A" in path for path in paths)
    areas = sorted(Polygon(sampled(path)).area for path in paths)
    assert areas == pytest.approx([1e6 * fin.area] * 3, rel=1e-3)
    shapes = [Polygon(sampled(path)) for path in paths]
    for first, second in ((0, 1), (0, 2), (1, 2)):
        assert shapes[first].intersection(shapes[second]).area < 1e-6


def test_straight_parts_stay_polygons() -> None:
    """Without arcs the drawing has polygons, as ever."""
    fin = corners([(0, 0), (0.04, 0.05), (0.07, 0.06), (0.085, 0)])
    assert all(len(segment) == 2 for segment in fin.path())
    plan = plan_of(FINS["ellipse"])
    assert templates.pdf_bytes(plan, "A4").startswith(b"%PDF")
