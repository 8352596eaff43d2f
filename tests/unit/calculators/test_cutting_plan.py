"""The cutting plan from typed texts: parts, sheets, glue-up, files, and what it refuses."""

from __future__ import annotations

import base64
import io
import itertools
import json
import math
import re

import ezdxf
import pytest
from pypdf import PdfReader
from shapely import Polygon

from calc import calculators, materials
from calc.calculators import cutting_plan
from calc.errors import InputError
from calc.frontends import browser
from calc.render import html
from calc.report import Report
from calc.workshop import templates
from calc.workshop.parts import Plan


def run(**texts: str) -> Report:
    """Answer for texts, with a short search."""
    return calculators.run("cutting-plan", {"tries": "5", **texts})


def plan(**texts: str) -> Plan:
    """Return the plan itself."""
    values, errors = calculators.load("cutting-plan").read({"tries": "5", **texts})
    assert not errors
    return cutting_plan.plan_of(values)


def test_every_stock_size_on_file_is_offered() -> None:
    """A sheet that a material on file is sold in can be chosen."""
    offered = {(round(w, 4), round(h, 4)) for w, h in cutting_plan.SHEETS.values()}
    sold = {
        (round(stock.width, 4), round(stock.length, 4))
        for name in materials.names()
        for stock in materials.load(name).stock
    }
    assert sold <= offered, f"SIZES of calc/calculators/cutting_plan.py lacks {sold - offered} [m]"


def test_grain_of_the_fin_lies_along_the_sheet() -> None:
    """The leading edge of a fin with its grain along it is parallel to the sheet's length."""
    found = plan(sweep="1.2 in", grain="0")
    assert len(found.sheets[0].placements) == 4
    for place in found.sheets[0].placements:
        corners = [complex(*point) for point in place.polygon]
        sides = [b - a for a, b in itertools.pairwise([*corners, corners[0]])]
        leading = math.hypot(1.2, 2.5) * 0.0254
        matching = [side for side in sides if abs(abs(side) - leading) < 1e-7]
        assert any(abs(side.imag) < 1e-9 for side in matching)


def test_free_outline_keeps_its_grain_angle() -> None:
    """A rectangle with the grain along its long side lies along the sheet, no matter how drawn."""
    found = plan(shape="points", points="0,0 1,0 1,3 0,3 in", grain_points="90", count="2")
    for place in found.sheets[0].placements:
        xs, ys = zip(*place.polygon, strict=True)
        assert max(xs) - min(xs) == pytest.approx(3 * 0.0254)
        assert max(ys) - min(ys) == pytest.approx(1 * 0.0254)


def test_yield_and_sheets_against_the_area_bound() -> None:
    """Twelve 3 by 3 in squares fill a 3 by 36 in sheet without gaps: yield 1, bound reached."""
    report = run(shape="points", points="0,0 3,0 3,3 0,3 in", grain_points="0", count="12",
                 kerf="0 mm", margin="0 mm")  # fmt: skip
    assert report.answer("sheets").value == 1.0
    assert report.answer("least_sheets").value == 1.0
    assert report.answer("area_yield").value == pytest.approx(1.0)
    assert report.answer("waste").value == pytest.approx(0.0, abs=1e-9)


def test_mass_of_the_parts_is_area_times_mass_per_area() -> None:
    """Four rectangles of 100 by 50 by 2 mm at 200 kg/m3 weigh 8 g."""
    report = run(shape="points", points="0,0 100,0 100,50 0,50 mm", grain_points="0", count="4",
                 material="balsa", density="200 kg/m3", thickness="2 mm")  # fmt: skip
    assert report.answer("part_mass").value == pytest.approx(0.008)


def test_wide_fin_is_glued_up_and_said_so() -> None:
    """A fin wider across its grain than the sheet is pieced, with the glue line's length."""
    texts = {"root": "6in", "tip": "4in", "span": "5in", "sweep": "2in", "grain": "0", "count": "2"}
    report = run(**texts)
    assert "glued up" in report.summary
    assert report.answer("glue_line").value > 0.1
    assert {table.title for table in report.tables} >= {"Glue lines of one part"}
    with pytest.raises(InputError, match="pieced"):
        run(**texts, pieced="no")


def test_parts_never_overlap_each_other_or_a_knot() -> None:
    """Fins, rings and bulkheads on a knotty sheet, by an independent geometry library."""
    found = plan(
        count="6", ring_count="3", bulkhead_count="2", knots="3in,1in,0.4in; 8in,2in,0.3in"
    )
    for sheet in found.sheets:
        shapes = [Polygon(p.polygon, p.holes) for p in sheet.placements]
        for one, other in itertools.combinations(shapes, 2):
            assert one.intersection(other).area < 1e-10
        for loop in found.stock[0].defect_loops:
            assert all(shape.intersection(Polygon(loop)).area < 1e-10 for shape in shapes)


def test_drawn_rows_hold_every_part_once() -> None:
    """A long sheet drawn in rows has each part whole in just one, inside the row, with its name."""
    for texts in ({"count": "10"}, {"count": "14", "root": "4 in", "tip": "1 in", "sweep": "3 in"}):
        found = plan(**texts)
        rows = cutting_plan._rows(found.sheets[0], found.stock[0], "wood", [])
        assert len(rows) > 1
        drawn = [p for row in rows for p in row["placements"]]
        assert sorted(Polygon(p["polygon"]).area for p in drawn) == pytest.approx(
            sorted(Polygon(p.polygon).area for p in found.sheets[0].placements)
        )
        assert sorted(p["label"] for p in drawn) == sorted(
            p.label for p in found.sheets[0].placements
        )
        for row in rows:
            along = [x for p in row["placements"] for x, _ in p["polygon"]]
            assert min(along) > -1e-9
            assert max(along) < row["length"] + 1e-9
            # What belongs to another row is only hinted at, up to the row's ends.
            faint = [x for shape in row["faint"] for x, _ in shape]
            assert all(-1e-9 < x < row["length"] + 1e-9 for x in faint)


def test_drawn_glue_lines_stay_in_their_row() -> None:
    """Glue lines lie in the row of their strip and keep their length."""
    found = plan(root="6in", tip="4in", span="5in", sweep="2in", count="3")
    rows = cutting_plan._rows(found.sheets[0], found.stock[0], "wood", [])
    lines = [(line, row["length"]) for row in rows for line in row["glue_lines"]]
    assert all(-1e-9 <= x <= length + 1e-9 for line, length in lines for x, _ in line)
    drawn = sum(abs(b[0] - a[0]) for (a, b), _ in lines)
    # Each line stands on both strips that it joins.
    assert drawn == pytest.approx(2.0 * found.glue_line_length, rel=1e-6)


KIT = {
    "count": "4", "kits": "30", "sheet": "12x24in", "tries": "0",
    "more_parts": "3 fins 2 x 1 x 1.5 x 1 in; 4 rings 1.5 x 0.75 in; 2 bulkheads 38 mm; "
    "8 tabs 2 x 1/2 in",
}  # fmt: skip


def test_a_kit_is_planned_whole() -> None:
    """Fins of two sets, rings, bulkheads and tabs for thirty kits, each as often as wanted."""
    report = run(**KIT)
    kinds = next(table for table in report.tables if table.title == "Parts by kind")
    assert [(row[1], row[2]) for row in kinds.rows] == [(n, n) for n in (120, 90, 120, 60, 240)]
    areas = [row[3] for row in kinds.rows]
    inch = 0.0254**2
    assert areas[1] == pytest.approx(0.5 * (2 + 1) * 1.5 * inch)
    assert areas[2] == pytest.approx(math.pi / 4 * (1.5**2 - 0.75**2) * inch)
    assert areas[3] == pytest.approx(math.pi / 4 * 0.038**2)
    assert areas[4] == pytest.approx(inch)
    assert report.answer("parts").value == 630
    assert report.answer("least_sheets").value <= report.answer("sheets").value
    assert any("alike" in figure.title for figure in report.figures)
    # One of each on its own page, after the first page; a copy is no page.
    pages = PdfReader(io.BytesIO(cutting_plan.make("parts-a4", values(**KIT)))).pages
    assert len(pages) == 1 + 5
    words = " ".join(page.extract_text() for page in pages)
    assert "fin B: cut 90" in words
    assert "tab E: cut 240" in words


def values(**texts: str) -> dict:
    """Return the SI values of texts."""
    found, errors = calculators.load("cutting-plan").read(texts)
    assert not errors
    return found


def test_two_hundred_fins_are_planned_and_told_at_once() -> None:
    """The first plan's numbers come before the search ends, and hold all fins."""
    told = []
    texts = {"count": "200", "tries": "5"}
    outcome = calculators.ask("cutting-plan", texts, early=told.append)
    assert outcome.report is not None
    (first,) = told
    assert first.report.summary.startswith("200 parts from ")
    assert first.report.answer("sheets").value >= outcome.report.answer("sheets").value
    assert len(outcome.report.figures) <= 4


def test_more_than_two_thousand_parts_are_refused_beside_their_field() -> None:
    """The limit counts all kinds and kits together."""
    errors = calculators.ask("cutting-plan", {"count": "4", "kits": "501"}).errors
    assert "2004" in str(errors["kits"])


def test_strip_wraps_the_tube_once() -> None:
    """Fin lines on the strip lie a third of the circumference apart; the lug lies between two."""
    drawn = templates._strip(40.0, 3, lug=True)
    lines = [i for i in drawn.items if isinstance(i, templates.Line) and len(i.points) == 2]
    fins = sorted(i.points[0][0] for i in lines if i.layer == "JOINT")
    (lug,) = [i.points[0][0] for i in lines if i.layer == "GRAIN"]
    steps = [b - a for a, b in itertools.pairwise(fins)]
    # Paper of a tenth of a millimetre adds 0.3 mm to a turn.
    assert steps == pytest.approx([math.pi * 40.0 / 3] * 3, abs=0.11)
    assert sum(steps) > math.pi * 40.0
    assert lug == pytest.approx(0.5 * (fins[0] + fins[1]))


def test_guide_holds_fins_square_to_the_tube() -> None:
    """Each slot is as wide as the fin, points at the middle, and starts at the tube's edge."""
    drawn = templates._guide(40.0, 4, 3.0, 60.0, paper="A4", lug=False)
    (hole,) = [i for i in drawn.items if isinstance(i, templates.Circle)]
    assert hole.radius == 20.0
    slots = [i.points for i in drawn.items if i.layer == "CUT" and isinstance(i, templates.Line)]
    assert len(slots) == 4
    turns = []
    for a, b, c, d in slots:
        assert math.dist(a, d) == pytest.approx(3.0)
        assert math.dist(b, c) == pytest.approx(3.0)
        assert math.dist(a, (hole.x, hole.y)) == pytest.approx(20.0)
        turns.append(math.atan2(b[1] + c[1] - 2 * hole.y, b[0] + c[0] - 2 * hole.x))
    gaps = [(b - a) % (2 * math.pi) for a, b in itertools.pairwise(turns)]
    assert gaps == pytest.approx([math.pi / 2] * 3)
    assert max(x for slot in slots for x, _ in slot) < drawn.length <= 190.0


def test_parts_that_do_not_fit_are_said_not_to() -> None:
    """A sheet at hand that is too small: the summary counts what is missing and the notes why."""
    report = run(count="40", available="1")
    assert report.summary.startswith("Only ")
    assert any("not placed" in note for note in report.notes)
    empty = run(sheet="own", sheet_length="2 in", sheet_width="2 in")
    assert empty.summary.startswith("None of the 4 parts fits")
    assert empty.downloads == ()


def test_progress_is_told_and_longer_searches_are_never_worse() -> None:
    """Each try is counted; the same search carried on keeps what it had found."""
    seen: list[tuple[int, int, str]] = []

    def told(done: int, total: int, note: str) -> None:
        seen.append((done, total, note))

    texts = {"count": "9", "root": "3.1in"}
    short = calculators.ask("cutting-plan", {**texts, "tries": "4"}, progress=told).report
    assert short is not None
    assert seen
    assert seen[-1][0] <= seen[-1][1]
    assert "best yet: 1 sheet" in seen[-1][2]
    long = run(**{**texts, "tries": "40"})
    assert long.answer("used_length").value <= short.answer("used_length").value + 1e-9


@pytest.mark.parametrize("make", [item.make for item in cutting_plan.FILES])
def test_files_as_the_page_asks_for_them(make: str) -> None:
    """SVG, PDF and DXF come with name and type, and independent readers open them."""
    answer = json.loads(browser.download("cutting-plan", json.dumps({"tries": "2"}), make))
    assert not answer["errors"]
    if make == "svg":
        assert 'width="' in answer["text"]
        assert answer["text"].startswith("<svg")
        return
    content = base64.b64decode(answer["base64"])
    if make == "dxf":
        document = ezdxf.read(io.StringIO(content.decode("cp1252")))
        cuts = [e for e in document.modelspace() if e.dxf.layer == "CUT"]
        assert len(cuts) == 4
        assert document.header["$INSUNITS"] == 4
    else:
        page = PdfReader(io.BytesIO(content)).pages[0]
        width = {"a4": 210.0, "letter": 215.9}[make.rpartition("-")[2]]
        assert float(page.mediabox.width) == pytest.approx(width / 25.4 * 72, abs=0.1)


def test_file_with_a_bad_input_gives_its_message() -> None:
    """A bad input raises InputError with its name; an unknown file lists those there are."""
    answer = json.loads(browser.download("cutting-plan", json.dumps({"span": "wide"}), "svg"))
    assert answer["errors"]["span"].startswith("Error: give ")
    assert "text" not in answer
    with pytest.raises(InputError, match="svg"):
        browser.download("cutting-plan", "{}", "exe")
    with pytest.raises(InputError, match="makes no files"):
        browser.download("fin-check", "{}", "svg")


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("points", "0,0 1,1"),
        ("points", "0,0 1,0 1,1,1"),
        ("points", "0,0 2,2 2,0 0,2 in"),
        ("points", "a,b c,d e,f in"),
        ("knots", "3in,1in"),
        ("knots", "3in,1in,0in"),
        ("knots", "90in,1in,0.5in"),
        ("ring_inner", "2 in"),
        ("margin", "40 mm"),
        ("more_parts", "8 fins 3 x 1.5 in"),
        ("more_parts", "4 rings 1 x 2 in"),
        ("more_parts", "3 wings 1 x 2 in"),
        ("more_parts", "0 tabs 1 x 2 in"),
    ],
)
def test_slips_are_told_beside_their_field(name: str, text: str) -> None:
    """Too few corners, three numbers for two, crossing sides: each names its own field."""
    texts = {"shape": "points" if name == "points" else "fin", "ring_count": "1", name: text}
    answer = json.loads(browser.answer("cutting-plan", json.dumps(texts)))
    assert name in answer["errors"]


def test_what_fits_on_one_sheet_is_a_plan_that_can_be_cut() -> None:
    """So many fins as the page says do come from one sheet; several kinds get no such number."""
    small = {"sheet": "3x24in", "tries": "0"}
    fit = calculators.run("cutting-plan", {**small, "count": "2"}).answer("fit")
    assert fit.bound == "at least"
    assert fit.value > 2
    whole = calculators.run("cutting-plan", {**small, "count": f"{fit.value:.0f}"})
    assert whole.answer("sheets").value == 1
    mixed = calculators.run("cutting-plan", {**small, "ring_count": "1"})
    assert "fit" not in mixed.headline


def test_places_are_written_in_one_form() -> None:
    """No row of places mixes fractions and decimals of an inch."""
    report = calculators.run("cutting-plan", {"tries": "0"})
    (listed,) = (t for t in report.tables if t.title == "Where each part lies")
    assert "/" not in re.sub(r"<[^>]*>", "", html.table_html(listed, "inch"))
