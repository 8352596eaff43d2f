"""Templates read back by independent readers: true size, right pages, cuts where the plan says."""

import io
import math
import re
import xml.etree.ElementTree as ElementTree

import ezdxf
import numpy as np
import pytest
from pypdf import PdfReader

from calc.errors import InputError
from calc.workshop.layout_search import nest
from calc.workshop.parts import Part, Plan, Sheet, ring
from calc.workshop.templates import OVERLAP, PAPERS, _pages, drawings, dxf_bytes, pdf_bytes, svg

POINT = 25.4 / 72  # mm


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Nest a pieced fin, a small fin and rings on narrow sheets with a knot."""
    fin = Part(
        ((0, 0), (0.15, 0), (0.17, 0.12), (0.1, 0.12)),
        grain=math.pi / 2 - math.atan2(0.1, 0.12),
        quantity=3,
        root=((0, 0), (0.15, 0)),
        keep_clear=((0.17, 0.12), (0.1, 0.12)),
        name="main & fin",
    )
    small = Part(((0, 0), (0.06, 0), (0.05, 0.04), (0.02, 0.04)), grain=0.5, quantity=4)
    sheet = Sheet(0.9144, 0.0762, defects=((0.4, 0.03, 0.008),))
    return nest([fin, small, ring(0.07, 0.04, quantity=2)], [sheet], kerf=0.001, iterations=0)


def test_svg_is_in_millimetres(plan: Plan) -> None:
    """Width and height are in mm, one unit to the mm, and the square is 50 by 50."""
    root = ElementTree.fromstring(svg(plan))
    view = [float(v) for v in root.attrib["viewBox"].split()]
    assert root.attrib["width"] == f"{view[2]:g}mm"
    assert float(root.attrib["height"].removesuffix("mm")) == pytest.approx(view[3])
    space = "{http://www.w3.org/2000/svg}"
    (square,) = root.findall(f"{space}polygon[@class='scale']")
    points = np.array([p.split(",") for p in square.attrib["points"].split()], dtype=float)
    assert np.ptp(points, axis=0) == pytest.approx([50.0, 50.0], abs=1e-6)
    outlines = root.findall(f"{space}polygon[@class='cut']")
    placed = [p for s in plan.sheets for p in s.placements]
    assert len(outlines) == sum(not p.circles for p in placed)
    assert len(root.findall(f"{space}circle")) == 4


def test_svg_outline_has_the_true_size(plan: Plan) -> None:
    """The sides of the first outline measure what the part's sides measure."""
    first = next(p for p in plan.sheets[0].placements if not p.circles)
    ours = np.array(first.polygon) * 1000
    root = ElementTree.fromstring(svg(plan))
    drawn = root.find("{http://www.w3.org/2000/svg}polygon[@class='cut']")
    assert drawn is not None
    points = np.array([p.split(",") for p in drawn.attrib["points"].split()], dtype=float)
    for loop in (ours, points):
        loop -= loop[0]
    assert points * [1, -1] == pytest.approx(ours, abs=2e-4)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_pdf_pages_and_measuring_square(plan: Plan, paper: str) -> None:
    """Every page has the paper's size; the square on the first measures 50 mm to 0.01 mm."""
    reader = PdfReader(io.BytesIO(pdf_bytes(plan, paper)))
    assert len(reader.pages) == len(list(_pages(plan, paper)))
    for page in reader.pages:
        size = sorted(float(v) * POINT for v in (page.mediabox.width, page.mediabox.height))
        assert size == pytest.approx(sorted(PAPERS[paper]), abs=0.01)
    stream = reader.pages[0].get_contents().get_data().decode("latin-1")
    corners = [
        np.array(re.findall(r"(-?[\d.]+) (-?[\d.]+) [ml]\b", path), dtype=float) * POINT
        for path in re.findall(r"(-?[\d.]+ -?[\d.]+ m(?:\s+-?[\d.]+ -?[\d.]+ l)+)\s+[hs]", stream)
    ]
    assert any(np.ptp(c, axis=0) == pytest.approx([50.0, 50.0], abs=0.01) for c in corners)
    assert reader.viewer_preferences.print_scaling == "/None"
    text = " ".join(page.extract_text() for page in reader.pages)
    assert f"page {len(reader.pages)} of {len(reader.pages)}" in text
    assert "small" not in text
    assert "main & fin 1 a" in text


def test_pages_cover_the_sheet_and_overlap(plan: Plan) -> None:
    """Laid edge to edge less the overlap, the windows reach the end of the last part."""
    tiles = list(_pages(plan, "A4"))[1:]
    used = [d.used for d in drawings(plan)]
    first = [t for t in tiles if t.items == drawings(plan)[0].items]
    starts = [10.0 - t.left for t in first]
    assert starts[0] == 0.0
    for tile, following in zip(first, starts[1:], strict=False):
        assert 10.0 - tile.left + tile.across - following == pytest.approx(OVERLAP)
    assert starts[-1] + first[-1].across >= used[0]


def test_dxf_reads_back_with_the_plans_outlines(plan: Plan) -> None:
    """An audit finds no errors; units are mm; every cut lies where the plan puts it."""
    document = ezdxf.read(io.StringIO(dxf_bytes(plan, 0).decode("cp1252")))
    assert not document.audit().errors
    assert document.units == ezdxf.units.MM
    space = document.modelspace()
    cuts = [
        np.array(e.get_points("xy")) for e in space.query("LWPOLYLINE[layer=='CUT']") if e.closed
    ]
    placed = [p for p in plan.sheets[0].placements if not p.circles]
    assert len(cuts) == len(placed)
    for cut, placement in zip(cuts, placed, strict=True):
        assert cut == pytest.approx(np.array(placement.polygon) * 1000, abs=1e-6)
    every = ezdxf.read(io.StringIO(dxf_bytes(plan).decode("cp1252"))).modelspace()
    assert sorted(round(c.dxf.radius, 6) for c in every.query("CIRCLE[layer=='CUT']")) == [
        20.0,
        20.0,
        35.0,
        35.0,
    ]
    (square,) = every.query("LWPOLYLINE[layer=='SCALE']")
    assert np.ptp(np.array(square.get_points("xy")), axis=0) == pytest.approx([50.0, 50.0])


def test_grain_arrows_lie_along_the_sheet_inside_their_part(plan: Plan) -> None:
    """Every part with a locked grain carries a level double arrow within its outline."""
    from shapely import LineString, Polygon

    for drawing, sheet in zip(drawings(plan), plan.sheets, strict=True):
        shafts = [
            LineString(i.points)
            for i in drawing.items
            if getattr(i, "layer", "") == "GRAIN" and len(i.points) == 2
        ]
        assert len(shafts) == len(sheet.placements)
        for shaft, placed in zip(shafts, sheet.placements, strict=True):
            outline = Polygon(
                np.array(placed.polygon) * 1000, [np.array(h) * 1000 for h in placed.holes]
            )
            assert outline.contains(shaft)
            assert np.ptp(np.array(shaft.coords)[:, 1]) < 1e-9


def test_odd_letters_do_not_break_the_writers() -> None:
    """Names in other scripts give a file all the same."""
    part = Part(((0, 0), (0.06, 0), (0.02, 0.04)), name="Стабилизатор 翼 <1>")
    plan = nest([part], [Sheet(0.3, 0.1)], iterations=0)
    assert pdf_bytes(plan).startswith(b"%PDF")
    assert ElementTree.fromstring(svg(plan)) is not None
    assert b"SECTION" in dxf_bytes(plan)


def test_unknown_paper_is_named(plan: Plan) -> None:
    """Only A4 and Letter are offered."""
    with pytest.raises(InputError, match="paper"):
        pdf_bytes(plan, "A5")
