"""Outlines from drawings: what SVG and DXF files become, and which are refused with a sentence."""

from __future__ import annotations

import base64
import io
import json
import math
import random
import time
from collections.abc import Callable
from typing import Any

import ezdxf
import numpy as np
import pytest
from ezdxf import units as dxf_units
from shapely import LineString, Polygon, affinity

from calc import calculators
from calc.calculators import outline_file, shared
from calc.calculators.outline_file import Taken, take
from calc.frontends import browser
from calc.geometry.outline import Outline
from calc.workshop import drawing_file

PAGE = '<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="90mm" viewBox="0 0 120 90">'


def svg(body: str, page: str = PAGE) -> bytes:
    """Return a drawing whose unit is the millimetre, written by hand."""
    return f"{page}{body}</svg>".encode()


def dxf(fill: Callable[[Any], object], units: int = dxf_units.MM, version: str = "R2010") -> bytes:
    """Return what an independent library writes."""
    document = ezdxf.new(version, units=units)
    fill(document.modelspace())
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def fin(found: Taken) -> Outline:
    """Return the fin that a calculator makes of the texts."""
    assert found.errors == {}
    values, errors = calculators.load("fin-check").read(found.inputs)
    assert not errors
    return shared.outline_of(values)


def shape(found: Taken) -> Polygon:
    """Return the same as a polygon in millimetres, x aft and y outward."""
    return Polygon(1e3 * fin(found).perimeter(1e-7))


def off(found: Taken, wanted: Polygon) -> float:
    """Return how far two outlines lie apart at most [mm], the wanted one with its root on y = 0."""
    return shape(found).exterior.hausdorff_distance(wanted.exterior)


def refusal(data: bytes, name: str = "a.svg", **options: str) -> str:
    """Return the sentence by which a file is refused; nothing may be filled in."""
    found = take(data, name, options)
    assert found.inputs == {}
    (problem,) = found.errors.values()
    return problem.accepts


TRAPEZOID = Polygon([(0, 0), (38, 64), (58, 64), (76, 0)])


@pytest.mark.parametrize(
    "body",
    [
        '<path d="M10 70 H86 L68 6 H48 Z"/>',
        '<path d="m 10,70 76,0 -18,-64 -20,0 z"/>',
        '<path d="M10-70h76l-18-64-20 0z" transform="translate(3 150)"/>',
        '<polygon points="10,70 86,70 68,6 48,6"/>',
        '<path d="M10 70 48 6 68 6 86 70"/>',
        '<g transform="translate(40 12)"><g transform="rotate(25)"><path d="M0 0h76l-18-64h-20z"/>'
        "</g></g>",
        '<g transform="scale(2)"><path transform="matrix(.5 0 0 .5 3 4)" d="M0 0h76l-18-64h-20z"/>'
        "</g>",
        '<path transform="scale(-1 1)" d="M0 0h76l-18-64h-20z"/>',
        '<line x1="10" y1="70" x2="86" y2="70"/><line x1="86" y1="70" x2="68" y2="6"/>'
        '<polyline points="10,70 48,6 68,6"/>',
        '<defs><rect width="9" height="9"/></defs><text>fin</text>'
        '<path d="M10 70h76l-18-64h-20z"/><g style="display:none"><circle r="9"/></g>',
    ],
)
def test_svg_by_any_way_of_writing(body: str) -> None:
    """Relative and absolute commands, transforms and loose lines all give the same fin."""
    assert off(take(svg(body), "fin.svg", {}), TRAPEZOID) < 2e-3


def test_scale_of_an_svg() -> None:
    """The page's size over its viewBox is the unit; without one a unit is a pixel of 1/96 inch."""
    inches = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="4in" height="4in" viewBox="0 0 400 400">'
    )
    found = take(svg('<path d="M0 300h300l-50-250h-100z"/>', inches), "a.svg", {})
    assert shape(found).bounds == pytest.approx((0, 0, 76.2, 63.5), abs=2e-3)
    bare = '<svg xmlns="http://www.w3.org/2000/svg">'
    body = '<path d="M0 240h288l-48-240h-96z"/>'
    assert shape(take(svg(body, bare), "a.svg", {})).bounds[2] == pytest.approx(76.2, abs=2e-3)
    for unit, long in (("mm", 288.0), ("pt", 288 / 72 * 25.4), ("px", 76.2)):
        found = take(svg(body, bare), "a.svg", {"unit": unit})
        assert shape(found).bounds[2] == pytest.approx(long, abs=3e-3), unit
    found = take(svg(body, bare), "a.svg", {"unit": "root", "length": "5 in"})
    assert shape(found).bounds[2] == pytest.approx(127.0, abs=2e-3)
    assert shape(found).bounds[3] == pytest.approx(127.0 * 240 / 288, abs=2e-3)


@pytest.mark.parametrize(
    ("code", "inch"),
    [(dxf_units.MM, 1 / 25.4), (dxf_units.IN, 1.0), (dxf_units.CM, 1 / 2.54), (dxf_units.FT, 12.0)],
)
def test_scale_of_a_dxf(code: int, inch: float) -> None:
    """The header's unit is the proposed one."""
    corners = [(0, 0), (3, 0), (2.5, 2.5), (1.5, 2.5)]
    drawn = dxf(
        lambda space: space.add_lwpolyline([(x / inch, y / inch) for x, y in corners], close=True),
        code,
    )
    assert shape(take(drawn, "fin.dxf", {})).bounds == pytest.approx((0, 0, 76.2, 63.5), abs=3e-3)


def test_inches_stay_round() -> None:
    """A drawing in inches gives corners in inches, as its author would type them."""
    drawn = dxf(
        lambda space: space.add_lwpolyline([(0, 0), (3, 0), (2.5, 2.5), (1.5, 2.5)], close=True),
        dxf_units.IN,
    )
    assert take(drawn, "fin.dxf", {}).inputs == {
        "outline": "corners",
        "points": "0,0 1.5,2.5 2.5,2.5 3,0 in",
        "radius": "0 in",
    }


def rounded(radius: float) -> Polygon:
    """Return a fin whose rear tip corner is rounded, made by growing a smaller one."""
    square = Polygon([(0, 0), (0, 60), (60, 60), (60, 0)])
    inner = Polygon([(60 - 2 * radius, 60 - 2 * radius), (60, 60 - 2 * radius), (60, 60),
                     (60 - 2 * radius, 60)])  # fmt: skip
    disc = inner.centroid.buffer(radius, quad_segs=400)
    corner = Polygon([(60 - radius, 60 - radius), (60, 60 - radius), (60, 60), (60 - radius, 60)])
    return square.difference(corner.difference(disc))


def test_arcs_become_rounded_corners() -> None:
    """An SVG arc, a bulge and an ARC are one corner with its radius each."""
    wanted = rounded(20)
    files = {
        "arc.svg": svg('<path d="M10 70v-60h40a20 20 0 0 1 20 20v40z"/>'),
        "turned.svg": svg(
            '<path transform="rotate(40 30 30)" d="M10 70v-60h40a20 20 0 0 1 20 20v40z"/>'
        ),
        "bulge.dxf": dxf(
            lambda s: s.add_lwpolyline(
                [(0, 0), (60, 0), (60, 40, math.tan(math.pi / 8)), (40, 60), (0, 60)],
                format="xyb",
                close=True,
            )
        ),
        "old.dxf": dxf(
            lambda s: s.add_polyline2d(
                [(0, 0), (60, 0), (60, 40, math.tan(math.pi / 8)), (40, 60), (0, 60)],
                format="xyb",
                close=True,
            ),
            version="R12",
        ),
        "loose.dxf": dxf(
            lambda s: (
                s.add_line((0, 60), (0, 0)),
                s.add_arc((40, 40), 20, 0, 90),
                s.add_line((0, 0), (60, 0)),
                s.add_line((60, 0), (60, 40)),
                s.add_line((0, 60), (40, 60)),
            )
        ),
        "behind.dxf": dxf(
            lambda s: s.add_lwpolyline(
                [(0, 0), (60, 0), (60, 40, math.tan(math.pi / 8)), (40, 60), (0, 60)],
                format="xyb",
                close=True,
                dxfattribs={"extrusion": (0, 0, -1)},
            )
        ),
    }
    for name, data in files.items():
        # two edges are equally long: the one along which the other's arc lies aft
        options = [{"edge": edge, "turned": turned} for edge in "12" for turned in ("no", "yes")]
        found = min((take(data, name, each) for each in options), key=lambda t: off(t, wanted))
        assert off(found, wanted) < 5e-3, name
        assert found.inputs["radius"].split()[0] in ("0", "20"), name
        assert found.inputs["radius"].count("20") == 1, name


def test_half_a_disc_is_two_rounded_corners() -> None:
    """An arc of half a turn is carried exactly too."""
    found = take(svg('<path d="M10 60 A 35 35 0 0 1 80 60 z"/>'), "a.svg", {})
    disc = Polygon(
        [(35 - 35 * math.cos(t), 35 * math.sin(t)) for t in np.linspace(0, math.pi, 4000)]
    )
    assert off(found, disc) < 0.01
    assert len(found.inputs["points"].split()) == 5


def curve(points: list[complex]) -> Polygon:
    """Return a Bezier curve by repeated halving of its control polygon (de Casteljau)."""

    def halves(p: list[complex], depth: int) -> list[complex]:
        if depth == 0:
            return [p[0]]
        rows = [p]
        while len(rows[-1]) > 1:
            rows.append([0.5 * (a + b) for a, b in zip(rows[-1], rows[-1][1:], strict=False)])
        left, right = [row[0] for row in rows], [row[-1] for row in rows[::-1]]
        return halves(left, depth - 1) + halves(right, depth - 1)

    return Polygon([(z.real, z.imag) for z in [*halves(points, 12), points[-1]]])


def test_curves_stay_within_the_stated_tolerance() -> None:
    """Bezier curves, leaning ellipses and splines become corners near enough to the curve."""
    bezier = take(svg('<path d="M10 80 C 20 20 70 0 80 80 z"/>'), "a.svg", {"turned": "no"})
    wanted = curve([0j, 10 + 60j, 60 + 80j, 70 + 0j])
    assert off(bezier, wanted) < 0.1
    short = take(svg('<path d="M10 80 q 35 -90 70 0 z"/>'), "a.svg", {})
    assert off(short, curve([0j, 35 + 90j, 70 + 0j])) < 0.1
    half = [(40 - 40 * math.cos(t), 24 * math.sin(t)) for t in np.linspace(0, math.pi, 3000)]
    drawn = dxf(
        lambda s: (s.add_line((0, 0), (80, 0)), s.add_ellipse((40, 0), (40, 0), 0.6, 0, math.pi))
    )
    assert off(take(drawn, "a.dxf", {}), Polygon(half)) < 0.1
    arcs = take(svg('<path d="M10 60 a 40 24 0 0 1 80 0 z"/>'), "a.svg", {})
    assert off(arcs, Polygon(half)) < 0.1


def test_spline_of_known_control_points() -> None:
    """A cubic spline with four control points is the Bezier curve of these."""
    controls = [(80, 0), (80, 60), (30, 70), (0, 0)]

    def fill(space: Any) -> None:
        space.add_line((0, 0), (80, 0))
        space.add_open_spline([(x, y, 0) for x, y in controls], degree=3)

    wanted = curve([complex(80 - x, y) for x, y in controls])
    found = take(dxf(fill), "a.dxf", {"turned": "no"})
    mirrored = affinity.scale(wanted, -1, 1, origin=(40, 0))
    assert min(off(found, wanted), off(found, mirrored)) < 0.1


def test_stated_deviation_is_true() -> None:
    """The number in the note is that of an independent measurement, rounded up."""
    found = take(svg('<path d="M10 80 C 20 20 70 0 80 80 z"/>'), "a.svg", {})
    wanted = curve([0j, 10 + 60j, 60 + 80j, 70 + 0j])
    said = float(found.notes[-1].rsplit(" ", 2)[1])
    ring = LineString(shape(found).exterior.coords)
    true = max(ring.distance(point) for point in map(_point, wanted.exterior.coords))
    assert true - 0.01 <= said <= true + 0.02


def _point(place: tuple[float, float]) -> Any:
    return LineString([place, place]).centroid


def test_root_and_front_are_the_readers_choice() -> None:
    """The longest edge is the root at first; any other, the lowest too, and either end may be."""
    drawn = svg('<path d="M10 20 h60 l-10 50 h-36 z"/>')  # the root on top
    longest = fin(take(drawn, "a.svg", {}))
    assert longest.root == pytest.approx(0.060, abs=2e-6)
    assert longest.span == pytest.approx(0.050, abs=2e-6)
    lowest = take(drawn, "a.svg", {"edge": "lowest"})
    assert fin(lowest).root == pytest.approx(0.036, abs=2e-6)
    assert take(drawn, "a.svg", {"edge": "4"}).inputs == lowest.inputs
    one, other = (fin(take(drawn, "a.svg", {"turned": t})) for t in ("no", "yes"))
    assert one.sweep == pytest.approx(0.014, abs=2e-6)
    assert other.sweep == pytest.approx(0.010, abs=2e-6)
    assert "edge from 1 to 4" in refusal(drawn, edge="5")


@pytest.mark.parametrize("make", ["svg", "dxf"])
@pytest.mark.parametrize(
    "texts",
    [
        {},
        {"outline": "corners", "points": "0,0 1.5,2.5 3,2.6 3.2,0 in", "radius": "1/4 1/2 in"},
        {"outline": "ellipse", "sweep": "0 in"},
        {"outline": "ellipse", "sweep": "1 in"},
    ],
)
def test_our_own_templates_come_back(make: str, texts: dict[str, str]) -> None:
    """The fin of a cutting plan, exported and imported, is itself within the tolerance."""
    texts = {"tries": "2", "sheet": "own", "sheet_width": "8 in", "pieced": "no", **texts}
    content = calculators.make("cutting-plan", texts, make).content
    assert content is not None
    data = content if isinstance(content, bytes) else content.encode()
    values, _ = calculators.load("cutting-plan").read(texts)
    wanted = Polygon(1e3 * shared.outline_of(values).perimeter(1e-7))
    found = [take(data, f"plan.{make}", {"turned": turned}) for turned in ("no", "yes")]
    flipped = affinity.scale(wanted, -1, 1, origin=(0.5 * 1e3 * fin(found[0]).root, 0))
    assert min(off(each, like) for each in found for like in (wanted, flipped)) < 0.1
    assert "4 times" in " ".join(found[0].notes)


ENTITY = '<?xml version="1.0"?><!DOCTYPE b [<!ENTITY a "ha">' + "".join(
    f'<!ENTITY a{n} "{f"&a{n - 1 if n > 1 else str()};" * 10}">' for n in range(1, 10)
)  # fmt: skip
BOMB = f'{ENTITY}]><svg xmlns="http://www.w3.org/2000/svg"><text>&a9;</text></svg>'.encode()
HOSTILE = {
    "nothing": (b"", "not empty"),
    "blanks": (b" \n\t", "not empty"),
    "50 MB": (b"M" * 50_000_000, "at most 1 MB"),
    "binary": (bytes(range(256)) * 40, "some other kind"),
    "binary dxf": (b"AutoCAD Binary DXF\r\n\x1a\x00" + bytes(999), "as text (ASCII)"),
    "words": (b"This is no drawing.", "some other kind"),
    "entity bomb": (BOMB, "without entities"),
    "page": (b"<html><body/></html>", "some other kind"),
    "torn svg": (PAGE.encode() + b'<path d="M0 0h5', "whole"),
    "torn dxf": (b"0\nSECTION\n2\nENTITIES\n0\nLINE\n10\n", "with lines"),
    "deep": (svg("<g>" * 90_000 + "</g>" * 90_000), "too many parts"),
    "copies": (svg('<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>'), "(use)"),
    "empty drawing": (svg(""), "with lines in it"),
    "text alone": (svg("<text>fin</text>"), "with lines in it"),
    "not a number": (svg('<path d="M0 0 h50 v1e999 z"/>'), "numbers"),
    "far away": (svg('<path d="M0 0 h1e30 v1e30 z"/>'), "near its origin"),
    "endless": (svg('<path d="' + "M0 0h5v5z" * 60_000 + '"/>'), "5000 lines"),
    "circle": (svg('<circle r="20"/>'), "straight edge"),
    "two": (svg('<rect width="9" height="9"/><rect width="9" height="8"/>'), "has 2 different"),
    "a hole": (svg('<path d="M0 0h50v50z M 30 10 h9 v9z"/>'), "has 2 different"),
    "loose lines": (svg('<path d="M0 0h50"/><path d="M0 9h50"/>'), "comes back"),
    "crossing": (svg('<path d="M0 50 h60 L0 0 h50 z"/>'), "another edge"),
    "two chords": (svg('<path d="M0 80h80v-60h-20v30h-30v-30h-30z"/>'), "another edge"),
    "a dot": (svg('<path d="M0 5 h.01 l-.005 -.01 z"/>'), "between 5 mm and 2 m"),
}


@pytest.mark.parametrize(("data", "said"), HOSTILE.values(), ids=HOSTILE)
def test_what_cannot_be_used_is_refused_with_a_sentence(data: bytes, said: str) -> None:
    """Empty, broken, hostile and ambiguous files: a sentence, quickly, and nothing filled in."""
    began = time.process_time()
    name = "a.svg" if data.lstrip().startswith(b"<") else "a.dxf"
    assert said in refusal(data, name)
    assert time.process_time() - began < 5.0


@pytest.mark.parametrize(
    ("fill", "said"),
    [
        (lambda s: s.add_line((0, 0), (math.nan, 4)), "numbers"),
        (lambda s: s.add_ellipse((math.inf, 0), (4, 0), 0.5), "numbers"),
        (lambda s: s.add_blockref(s.doc.blocks.new("x").name, (0, 0)), "blocks"),
        (lambda s: s.add_3dface([(0, 0), (9, 0), (9, 9), (0, 9)]), "3DFACE"),
        (lambda s: s.add_text("fin"), "with lines in it"),
        (lambda s: [s.add_line((n, 0), (n, 1)) for n in range(5001)], "5000 lines"),
    ],
    ids=["nan", "inf", "block", "face", "text", "too many"],
)
def test_dxf_that_cannot_be_used_is_refused(fill: Callable[[Any], object], said: str) -> None:
    """What a well-written DXF may hold and no fin does."""
    data = dxf(fill)
    assert said in refusal(data, "a.dxf") or len(data) > drawing_file.MOST_BYTES


def test_layers_that_are_off_count_for_nothing() -> None:
    """A frame on a layer that is switched off or frozen does not hide the fin."""

    def fill(space: Any) -> None:
        space.doc.layers.add("frame").off()
        space.doc.layers.add("notes").freeze()
        space.add_lwpolyline([(0, 0), (9, 0), (9, 9)], close=True, dxfattribs={"layer": "frame"})
        space.add_circle((0, 0), 5, dxfattribs={"layer": "Notes"})
        space.add_lwpolyline([(0, 0), (76, 0), (58, 64), (38, 64)], close=True)

    assert off(take(dxf(fill), "a.dxf", {}), TRAPEZOID) < 2e-3


def test_damaged_files_never_raise() -> None:
    """A file with bytes changed, lost or doubled is read or refused, never an error."""
    dice = random.Random(7)
    whole = [
        (svg('<path transform="rotate(9)" d="M0 0h50a9 9 0 0 1 9 9c1 1 2 9-9 9z"/>'), "a.svg"),
        (dxf(lambda s: (s.add_line((0, 0), (80, 0)), s.add_arc((40, 0), 40, 0, 180)),
             version="R12"), "a.dxf"),
    ]  # fmt: skip
    for data, name in whole:
        assert take(data, name, {}).inputs
        for _ in range(60):
            broken = bytearray(data)
            for _ in range(dice.randint(1, 6)):
                at = dice.randrange(len(broken))
                if dice.random() < 0.5:
                    broken[at] = dice.randrange(256)
                else:
                    del broken[at : at + dice.randint(1, 40)]
            found = take(bytes(broken), name, {})
            assert bool(found.inputs) != bool(found.errors)


def test_options_are_checked_by_name() -> None:
    """A choice that does not exist is refused beside its own field, the file's sentence aside."""
    good = svg('<path d="M10 70 H86 L68 6 H48 Z"/>')
    assert set(take(good, "a.svg", {"unit": "furlong"}).errors) == {"unit"}
    assert set(take(good, "a.svg", {"unit": "root", "length": "-3"}).errors) == {"length"}
    assert set(take(good, "a.svg", {"edge": "9"}).errors) == {"edge"}
    assert "option" in str(take(good, "a.svg", {"colour": "red"}).errors["file"])


def test_the_page_gets_a_panel_or_a_sentence() -> None:
    """The browser's answer has the picture, the choices and the inputs, or one sentence alone."""
    good = base64.b64encode(svg('<path d="M10 70 H86 L68 6 H48 Z"/>')).decode()
    found = json.loads(browser.outline_file("a.svg", good, "{}", "metric"))
    assert found["inputs"]["points"] == "0,0 38,64 58,64 76,0 mm"
    assert found["error"] == ""
    for item in outline_file.OPTIONS:
        assert f'name="{item.name}"' in found["panel"]
    assert "<svg" in found["panel"]
    assert "1: 76.00 mm" in found["panel"]
    wrong = json.loads(browser.outline_file("a.svg", good, '{"edge": "8"}', "metric"))
    assert 'aria-invalid="true"' in wrong["panel"] or "Error: give an edge" in wrong["panel"]
    assert wrong["inputs"] == {}
    bad = json.loads(browser.outline_file("<b>.svg", "", "{}", "metric"))
    assert bad == {"inputs": {}, "panel": "", "error": "Error: give a file that is not empty."}
