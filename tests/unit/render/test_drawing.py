"""Drawings: well formed, to scale, lettered in the reader's units, the same on every machine."""

from __future__ import annotations

import itertools
import math
import re
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc.render.drawing import DRAWINGS, draw
from calc.render.svg.axes import Axis, nice_step
from calc.render.svg.canvas import LETTERING, noise, number, polyline, span_inside
from calc.render.svg.mode import play
from calc.render.svg.scatter import _shapes
from calc.render.svg.texture import LOOKS, grain_lines
from calc.report import Figure
from calc.wording import TRADE

INCH = 0.0254
SVG = "{http://www.w3.org/2000/svg}"
NAUGHTY = "<script>alert(\"x\")</script> & 'quoted'"

FIN = {
    "root": 3 * INCH,
    "tip": 1.5 * INCH,
    "span": 2 * INCH,
    "sweep": 1.5 * INCH,
    "thickness": 3 / 32 * INCH,
    "theta": math.radians(50),
    "look": "wood",
    "body": 1.6 * INCH,
    "edge": "rounded",
}
_ALONG = np.linspace(0.0, 1.0, 6)[:, None]
_ACROSS = np.linspace(0.0, 1.0, 5)[None, :]
MODE = {
    "corners": [[0.0, 0.0], [0.03, 0.05], [0.07, 0.05], [0.08, 0.0]],
    "grid_x": (0.03 * _ALONG + (0.08 - 0.04 * _ALONG) * _ACROSS).tolist(),
    "grid_y": (0.05 * _ALONG + 0.0 * _ACROSS).tolist(),
    "modes": [
        (_ALONG**2 + 0.0 * _ACROSS).tolist(),
        (2.0 * _ALONG * (_ACROSS - 0.5)).tolist(),
    ],
    "kind": "flutter",
    "boundary": 100.0,
    "ratios": [0.5, 0.9, 1.0, 1.1],
    "growth": [-40.0, -20.0, 0.0, 30.0],
    "frequency": [900.0, 800.0, 700.0, 650.0],
    "amplitudes": [[[0.9, 0.0], [0.0, 0.1]], *[[[0.7, 0.0], [0.1, 0.3]]] * 3],
    "flown": 0,
    "flight": "your flight",
}
DATA: dict[str, dict[str, Any]] = {
    "fin": FIN,
    "mode": MODE,
    "drawn": {
        "perimeter": [[0.0, 0.0], [0.03, 0.05], [0.07, 0.05], [0.08, 0.0]],
        "edges": [[[0.0, 0.0], [0.08, 0.0]], [[0.03, 0.05], [0.07, 0.05]]],
    },
    "outlines": {
        "fins": [{"letter": "A", "fin": FIN}, {"letter": "B", "fin": {**FIN, "sweep": -0.01}}]
    },
    "side": {
        "rows": [
            {
                "label": "Flutter",
                "bars": [
                    {"letter": "A", "margin": 1.4, "bound": "at least"},
                    {"letter": "B", "margin": 0.3, "bound": ""},
                ],
            },
            {
                "label": "Root joint",
                "bars": [
                    {"letter": "A", "margin": 12.0, "bound": ""},
                    {"letter": "B", "margin": None, "bound": ""},
                ],
            },
        ]
    },
    "chart": {
        "x": {"label": "Thickness", "kind": "length"},
        "y": {"label": "Margin", "kind": "number"},
        "series": [
            {"name": "flutter", "x": [0.001, 0.002, 0.003], "y": [0.5, 1.4, 2.6]},
            {"name": "bending", "x": [0.001, 0.002, 0.003], "y": [0.8, None, float("nan")]},
        ],
        "bands": [{"x": [0.001, 0.003], "low": [0.4, 2.2], "high": [0.6, 3.0]}],
        "marks": [{"axis": "y", "value": 1.0, "label": "just holds"}],
    },
    "bars": {
        "rows": [
            {"label": "Flutter", "margin": 1.4, "low": 1.2, "high": 1.7, "bound": ""},
            {"label": "Divergence", "margin": math.inf, "low": None, "high": None},
            {"label": "Joint", "margin": 0.8, "bound": "at least"},
        ]
    },
    "polar": {
        "angle": [math.radians(a) for a in range(-90, 91, 15)],
        "series": [{"name": "balsa", "y": [100.0 + 50 * math.cos(a / 40) for a in range(13)]}],
        "value": {"label": "Flutter speed", "kind": "speed"},
        "best": 0.2,
        "marks": [{"angle": 0.9, "label": "along the tube"}],
    },
    "ascent": {
        "time": [0.4, 1.0, 1.6, 3.0, 5.0],
        "series": [
            {"name": "Flutter", "y": [4.1, 2.2, None, 2.9, 4.4]},
            {"name": "Bending at the root", "y": [9.0, 3.1, None, None, 7.5]},
        ],
        "top": 4.5,
        "flight": {"time": [0.0, 1.6, 5.0], "speed": [0.0, 310.0, 60.0]},
        "worst": {
            "time": 1.6,
            "speed": 310.0,
            "margin": 1.5,
            "label": "worst moment: flutter 1.50",
        },
        "burnout": 1.7,
        "outside": [
            {"from": 1.3, "to": 2.4, "label": "above Mach 0.9", "said": "less sure"},
            {"from": 1.5, "to": 1.9, "label": "flutter", "said": "cannot say"},
        ],
    },
    "scatter": {
        "x": {"label": "Mass", "kind": "mass", "log": True},
        "y": {"label": "Speed", "kind": "speed", "log": True},
        "points": [
            {"x": 0.002, "y": 150.0, "label": "balsa", "family": "wood"},
            {"x": 0.004, "y": 260.0, "label": "birch", "family": "plywood"},
        ],
        "guides": [{"x": [0.001, 0.01], "y": [200.0, 200.0], "label": "the flight"}],
    },
    "stack": {
        "plies": [
            {"thickness": 0.0005, "angle_deg": 0, "look": "ply", "label": "birch"},
            {"thickness": 0.0005, "angle_deg": 90, "look": "ply", "label": "birch"},
            {"thickness": 0.0001, "angle_deg": -45, "look": "laminate", "label": "glass"},
            {"thickness": 0.0030, "angle_deg": None, "look": "foam", "label": "foam"},
        ]
    },
    "sheet": {
        "sheets": [
            {
                "width": 3 * INCH,
                "length": 12 * INCH,
                "label": "Sheet 1",
                "placements": [
                    {
                        "polygon": [[0.0, 0.0], [0.07, 0.0], [0.06, 0.05], [0.02, 0.05]],
                        "label": "1",
                        "mirrored": True,
                    }
                ],
                "defects": [{"low": [0.1, 0.01], "high": [0.12, 0.03]}],
                "glue_lines": [[[0.0, 0.03], [0.07, 0.03]]],
            }
        ]
    },
    "strip": {"kind": "cantilever", "length": 0.25, "sag": 0.012, "load": 0.02},
    "log": {},
    "edges": {},
    "joint": {"tab": True, "fillet": 0.004, "thickness": 0.003, "wall": 0.001},
    "lever": {"lever": 0.05},
    "failures": {},
    "qr": {"text": "https://example.org/", "rows": ["101", "010", "111"]},
}


def picture(name: str, data: dict[str, Any] | None = None, units: str = "inch") -> str:
    """Return one picture with the sample data or its own."""
    return draw(
        Figure(name, "A title", "A caption.", DATA[name] if data is None else data),
        units=units,
        id="test",
    )


def letters(svg: str) -> list[str]:
    """Return the texts lettered in a picture."""
    return ["".join(t.itertext()) for t in ElementTree.fromstring(svg).iter(f"{SVG}text")]


def test_sample_data_covers_every_drawing() -> None:
    """Each kind of drawing is tested here."""
    assert set(DATA) == set(DRAWINGS)


@pytest.mark.parametrize("units", ["inch", "metric"])
@pytest.mark.parametrize("name", sorted(DATA))
def test_well_formed_and_named(name: str, units: str) -> None:
    """A picture is XML with a role, a title and a description, and ids under its own prefix."""
    root = ElementTree.fromstring(picture(name, units=units))
    assert root.attrib["role"] == "img"
    title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert title.text
    assert description is not None
    assert description.text
    ids = [e.attrib["id"] for e in root.iter() if "id" in e.attrib]
    assert len(ids) == len(set(ids))
    assert all(i == "test" or i.startswith("test-") for i in ids)
    assert root.attrib["aria-labelledby"] == "test-title test-desc"


@pytest.mark.parametrize("name", sorted(DATA))
def test_colour_comes_from_the_page(name: str) -> None:
    """No colour is written into a picture: only currentColor, none and references to itself."""
    svg = picture(name)
    for value in re.findall(r'(?:fill|stroke|color)="([^"]*)"', svg):
        assert value in ("currentColor", "none")
    assert " style=" not in svg
    assert "<style" not in svg


@pytest.mark.parametrize("name", sorted(DATA))
def test_repeatable_and_rounded(name: str) -> None:
    """The same data give the same text, with coordinates to a tenth."""
    svg = picture(name)
    assert svg == picture(name)
    for path in re.findall(r' d="([^"]*)"', svg):
        assert not re.search(r"\.\d\d", path)
        assert "nan" not in path
        assert "inf" not in path


@pytest.mark.parametrize("name", sorted(DATA))
def test_lettering_stays_on_the_page(name: str) -> None:
    """Horizontal lettering starts and ends inside the picture (by estimated width)."""
    root = ElementTree.fromstring(picture(name))
    width, height = (float(v) for v in root.attrib["viewBox"].split()[2:])
    for item in root.iter(f"{SVG}text"):
        if "transform" in item.attrib:
            continue
        style = item.attrib["class"].split()[0].removeprefix("d-")
        size, _, share = LETTERING[style]
        wide = len("".join(item.itertext())) * size * share
        x, y = float(item.attrib["x"]), float(item.attrib["y"])
        anchor = item.attrib.get("text-anchor", "start")
        left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * wide
        assert left >= -2, item.text
        assert left + wide <= width + 2, item.text
        assert 8 <= y <= height, item.text


def test_hostile_text_is_escaped() -> None:
    """Text from outside cannot become markup."""
    data = {"rows": [{"label": NAUGHTY, "margin": 1.2, "low": None, "high": None}]}
    svg = draw(Figure("bars", NAUGHTY, NAUGHTY, data), units="inch", id='a"><b>')
    root = ElementTree.fromstring(svg)
    assert NAUGHTY in letters(svg)
    assert "<script" not in svg
    assert root.attrib["id"] == "a---b-"


def test_unknown_drawing_names_the_known_ones() -> None:
    """A wrong name is answered with the right ones."""
    with pytest.raises(KeyError, match="polar"):
        draw(Figure("nothing", "", "", {}), units="inch", id="x")


def outline_of(svg: str) -> np.ndarray:
    """Return the corners of the fin drawn in a picture: its only filled four-cornered face."""
    found = re.search(r'class="d-(?:wood|ply|foam|paper|laminate|plastic)"[^>]* d="M([^Z]*)Z"', svg)
    assert found is not None
    numbers = [float(v) for v in re.findall(r"-?\d+(?:\.\d+)?", found[1])]
    return np.array(numbers).reshape(-1, 2)


@settings(max_examples=40, deadline=None)
@given(
    root=st.floats(0.02, 0.5),
    tip=st.floats(0.0, 1.0),
    span=st.floats(0.02, 0.4),
    sweep=st.floats(-0.5, 1.5),
    thickness=st.floats(0.0003, 0.01),
    theta=st.floats(-2.0, 4.0),
    look=st.sampled_from(LOOKS),
    edge=st.sampled_from(["square", "rounded", "tapered", "airfoil"]),
    body=st.one_of(st.none(), st.floats(0.01, 0.2)),
)
def test_fin_is_to_scale(
    root: float,
    tip: float,
    span: float,
    sweep: float,
    thickness: float,
    theta: float,
    look: str,
    edge: str,
    body: float | None,
) -> None:
    """Whatever the fin, its drawn outline has the sizes of the data under one scale."""
    data = {
        "root": root,
        "tip": tip * root,
        "span": span,
        "sweep": sweep * root,
        "thickness": thickness,
        "theta": theta,
        "look": look,
        "edge": edge,
        "body": body,
    }
    svg = picture("fin", data)
    ElementTree.fromstring(svg)
    corners = outline_of(svg)
    drawn = np.array(
        [
            corners[3, 1] - corners[0, 1],
            corners[2, 1] - corners[1, 1],
            corners[1, 0] - corners[0, 0],
            corners[1, 1] - corners[0, 1],
        ]
    )
    true = np.array([root, tip * root, span, sweep * root])
    scale = drawn[2] / span
    # A tenth of a unit on each of two ends, and on the span that gives the scale.
    slack = 0.11 * (1 + np.abs(true) / span)
    assert np.all(np.abs(drawn - scale * true) <= slack)


@given(theta=st.floats(0.0, math.pi))
@settings(max_examples=30, deadline=None)
def test_grain_runs_where_the_data_say(theta: float) -> None:
    """Grain lines lean, on average, along the grain: x is down the page, y to the right."""
    square = [(0.0, 0.0), (200.0, 0.0), (200.0, 200.0), (0.0, 200.0)]
    screen = math.atan2(math.cos(theta), math.sin(theta))
    early, late = grain_lines(square, screen)
    lean = []
    for piece in re.findall(r"M[^M]+", early + late):
        numbers = np.array([float(v) for v in re.findall(r"-?\d+(?:\.\d+)?", piece)]).reshape(-1, 2)
        along = numbers[-1] - numbers[0]
        if np.hypot(*along) > 120:
            lean.append(math.remainder(math.atan2(along[1], along[0]) - screen, math.pi))
    assert lean
    assert abs(np.mean(lean)) < math.radians(1.5)


def test_sizes_follow_the_reader_s_units() -> None:
    """Inch readers see fractions, metric readers millimetres."""
    inches, metric = letters(picture("fin")), letters(picture("fin", units="metric"))
    assert any(t.replace("\u00a0", " ").startswith("3/32") for t in inches)
    assert any("2.38" in t and "mm" in t for t in metric)


@pytest.mark.parametrize("root", [3, 10])
def test_long_thickness_stays_on_the_page(root: float) -> None:
    """A thickness written in both units has room beside the section, however long the chord."""
    data = {**FIN, "root": root * INCH, "thickness": 1 / 32 * INCH}
    svg = ElementTree.fromstring(picture("fin", data, units=TRADE))
    assert any("mm)" in (t.text or "") for t in svg.iter(f"{SVG}text"))
    for text in svg.iter(f"{SVG}text"):
        if "transform" not in text.attrib and text.attrib["class"].startswith("d-label"):
            size, _, share = LETTERING["label"]
            if text.attrib.get("text-anchor", "start") == "start":
                end = float(text.attrib["x"]) + len(text.text or "") * size * share
                assert end <= 362, text.text


def test_margin_bars_keep_their_side() -> None:
    """A bar lies right of the line at 1 where the margin exceeds 1, left of it where not."""
    root = ElementTree.fromstring(picture("bars"))
    one = next(
        float(re.findall(r"-?\d+(?:\.\d+)?", p.attrib["d"])[0])
        for p in root.iter(f"{SVG}path")
        if p.attrib["class"] == "d-ink"
    )
    for bar in root.iter(f"{SVG}rect"):
        x, width = float(bar.attrib["x"]), float(bar.attrib["width"])
        if bar.attrib["class"] == "d-bar":
            assert x == pytest.approx(one, abs=0.15)
        else:
            assert x + width == pytest.approx(one, abs=0.15)


def test_no_line_of_the_scale_crosses_a_name() -> None:
    """The scale is drawn behind the bars alone: rows' names and margins stand clear of it."""
    for name in ("bars", "side"):
        root = ElementTree.fromstring(picture(name))
        names = [
            float(t.attrib["y"])
            for t in root.iter(f"{SVG}text")
            if t.attrib["class"].split()[0] in ("d-strong", "d-label")
        ]
        assert names
        for line in root.iter(f"{SVG}path"):
            if line.attrib.get("class") in ("d-grid", "d-ink"):
                _, top, _, bottom = map(float, re.findall(r"-?\d+(?:\.\d+)?", line.attrib["d"]))
                assert not any(top < y - 2 and bottom > y - 8 for y in names)


def test_levels_are_named_beside_the_plot() -> None:
    """What a level across a chart means is written right of it, where no line of data runs."""
    root = ElementTree.fromstring(picture("chart"))
    right = max(
        float(re.findall(r"-?\d+(?:\.\d+)?", p.attrib["d"])[2])
        for p in root.iter(f"{SVG}path")
        if p.attrib.get("class") == "d-grid"
    )
    label = next(t for t in root.iter(f"{SVG}text") if t.text == "just holds")
    assert float(label.attrib["x"]) > right


def test_lines_that_lie_on_each_other_are_named_once_and_a_level_on_its_own_line() -> None:
    """Two lines within a per cent are one line with both names; a level's name stays beside it."""
    x = [1.0, 2.0, 3.0]
    names = ("Hard ground", "Firm turf", "Soft turf")
    rows = ([4.0, 2.0, 0.6], [4.01, 2.0, 0.602], [5.0, 3.0, 0.9])
    data = {
        "x": {"label": "Speed", "kind": "number"},
        "y": {"label": "Margin", "kind": "number", "low": 0.0},
        "series": [{"name": n, "x": x, "y": y} for n, y in zip(names, rows, strict=True)],
        "marks": [{"axis": "y", "value": 1.0, "label": "only just holds"}],
    }
    root = ElementTree.fromstring(draw(Figure("chart", "A", "", data), units="inch", id="a"))
    texts = {t.text: float(t.attrib["y"]) for t in root.iter(f"{SVG}text")}
    assert {"Hard ground,", "firm turf", "Soft turf"} <= set(texts)
    dashed = [p for p in root.iter(f"{SVG}path") if p.attrib.get("class") == "d-dash"]
    level = float(re.findall(r"-?\d+(?:\.\d+)?", dashed[-1].attrib["d"])[1])
    assert texts["only just holds"] == pytest.approx(level + 4.0, abs=0.1)
    beside = sorted(texts[t] for t in ("Hard ground,", "firm turf", "Soft turf", "only just holds"))
    assert all(b - a >= 13.9 for a, b in itertools.pairwise(beside))


def test_what_must_be_named_is_named_and_a_family_keeps_its_mark() -> None:
    """Among many points the lightest keeps its name; wood has one mark on every page."""
    crowd = [
        {"x": 1.0 + 0.01 * k, "y": 1.5 + 0.02 * k, "label": f"sheet {k}", "family": "plastic"}
        for k in range(20)
    ]
    best = {"x": 1.1, "y": 1.7, "label": "the lightest", "family": "wood"}
    data = {
        "x": {"label": "Mass", "kind": "number"},
        "y": {"label": "Margin", "kind": "number"},
        "points": [*crowd, {**best, "always": True}],
    }
    svg = draw(Figure("scatter", "A", "", data), units="inch", id="a")
    assert "the lightest" in letters(svg)
    assert _shapes(["plastic", "wood"])["wood"] == _shapes(["wood"])["wood"]
    marks = _shapes(["measured", "wood", "the same, finer"])
    assert len(set(marks.values())) == 3


@given(
    rows=st.lists(
        st.tuples(
            st.one_of(st.floats(0.0, 1e6), st.sampled_from([math.inf, math.nan])),
            st.one_of(st.none(), st.floats(0.0, 1e6)),
        ),
        min_size=1,
        max_size=6,
    )
)
@settings(max_examples=40, deadline=None)
def test_margin_bars_take_any_margin(rows: list[tuple[float, float | None]]) -> None:
    """No margin, however large, tiny or undefined, breaks the picture or leaves the page."""
    data = {
        "rows": [
            {"label": f"mode {k}", "margin": m, "low": w, "high": None if w is None else 2 * w}
            for k, (m, w) in enumerate(rows)
        ]
    }
    root = ElementTree.fromstring(picture("bars", data))
    for bar in root.iter(f"{SVG}rect"):
        assert float(bar.attrib["x"]) >= 0
        assert float(bar.attrib["x"]) + float(bar.attrib["width"]) <= 360.1


@given(low=st.floats(-1e6, 1e6), extent=st.floats(1e-3, 1e6), log=st.booleans())
@settings(max_examples=60, deadline=None)
def test_axis_orders_and_encloses(low: float, extent: float, log: bool) -> None:
    """An axis places larger values farther along, and its ticks lie on it."""
    if log:
        low = abs(low) + 1e-3
    axis = Axis(
        {"label": "q", "kind": "number", "log": log},
        [low, low + extent],
        units="metric",
        start=0.0,
        stop=100.0,
        count=5,
    )
    assert axis.place(low) <= axis.place(low + extent)
    assert axis.place(low) >= -0.5
    assert axis.place(low + extent) <= 100.5
    assert all(-0.5 <= axis.place_shown(t) <= 100.5 for t in axis.ticks)


@given(extent=st.floats(1e-6, 1e9), count=st.integers(2, 9))
def test_steps_are_round(extent: float, count: int) -> None:
    """A tick step is 1, 2, 2.5 or 5 times a power of ten and not smaller than asked."""
    step = nice_step(extent, count)
    digits = step / 10 ** math.floor(math.log10(step) + 1e-9)
    assert any(math.isclose(digits, d, rel_tol=1e-5) for d in (1, 2, 2.5, 5, 10))
    assert step >= extent / count * (1 - 1e-6)


def test_mode_at_rest_and_unmoving_mode_draw() -> None:
    """A shape that does not move at all is drawn as the fin at rest."""
    still = {**MODE, "amplitudes": [[[0.0, 0.0]] * 2] * 4}
    ElementTree.fromstring(picture("mode", still))


def played(data: dict[str, Any]) -> dict[str, Any]:
    """Return what a script is given to move the picture."""
    return play(Figure("mode", "", "", data), units="metric")


def test_motion_is_told_in_words() -> None:
    """Each speed says which it is and what happens there, with the time it takes."""
    words = [step["words"] for step in played(MODE)["steps"]]
    assert (
        words[0] == "0.5 of the flutter speed, 50.0 m/s, your flight: dies away, halves in 0.017 s"
    )
    assert words[1] == "0.9 of the flutter speed, 90.0 m/s: dies away, halves in 0.035 s"
    assert words[2] == "At the flutter speed, 100 m/s: neither grows nor dies away"
    assert words[3] == "1.1 of the flutter speed, 110 m/s: grows, doubles in 0.023 s"
    leaning = {**MODE, "kind": "divergence", "frequency": [900.0, 500.0, 1.0, 0.0]}
    words = [step["words"] for step in played(leaning)["steps"]]
    assert "springs back" in words[0]
    assert "leans over without swinging" in words[3]
    unknown = {**MODE, "kind": "none", "growth": [-1.0, -2.0, -3.0, -4.0], "flown": None}
    words = [step["words"] for step in played(unknown)["steps"]]
    assert all("flutter" not in each and "dies away" in each for each in words)


def test_motion_is_slowed_to_a_beat_a_second() -> None:
    """At the boundary a beat takes a second on the screen; growth is slowed as much as it."""
    steps = played(MODE)["steps"]
    assert steps[2]["turn"] == pytest.approx(2.0 * math.pi, rel=1e-3)
    for step, growth, frequency in zip(steps, MODE["growth"], MODE["frequency"], strict=True):
        assert step["growth"] == pytest.approx(step["turn"] * growth / frequency, abs=2e-3)
        # never larger than drawn, and over before anyone tires of it
        size = step["start"] * math.exp(max(step["growth"], 0.0) * step["lasts"])
        assert size == pytest.approx(1.0, abs=0.01)
        assert 1.0 <= step["lasts"] <= 6.0


def test_still_picture_is_where_the_motion_starts() -> None:
    """The surface drawn is the resting points moved by the first speed's largest deflection."""
    data = played(MODE)
    root = ElementTree.fromstring(picture("mode", MODE, "metric"))
    (group,) = (g for g in root.iter(f"{SVG}g") if g.get("class") == "d-swing")
    columns, step = data["columns"], data["steps"][data["at"]]
    rows = len(data["points"]) // columns
    assert len(group) == (rows - 1) * (columns - 1) + 2
    rim = [float(v) for v in re.findall(r"-?[\d.]+", group[-1].get("d") or "")]
    for place in range(columns):
        # the tip comes back after the root and the trailing edge
        point = rows * columns - 1 - place
        x, y = data["points"][point]
        (real, _), (other, _) = step["shape"]
        z = real * data["modes"][0][point] + other * data["modes"][1][point]
        corner = 2 * (columns + rows - 2 + place)
        assert abs(z) > 0.5
        assert rim[corner] == pytest.approx(x, abs=0.11)
        assert rim[corner + 1] == pytest.approx(y - data["lift"] * z, abs=0.16)


@pytest.mark.parametrize("kind", ["cantilever", "three-point", "tap", "twist"])
def test_strip_sketches_letter_the_measurements(kind: str) -> None:
    """Each way of testing a strip shows what was measured, in the reader's units."""
    svg = picture("strip", {"kind": kind, "length": 0.25, "sag": 0.012, "load": 0.02}, "metric")
    words = " ".join(letters(svg)).replace("\u00a0", " ")
    wanted = {"tap": "250 mm", "twist": "20.0 g"}.get(kind, "12.0 mm")
    assert wanted in words


def test_failures_can_be_picked() -> None:
    """Only the asked ways to fail are drawn, in the order asked; unknown ones are left out."""
    words = letters(picture("failures", {"items": ["landing", "nothing", "flutter"]}))
    assert words[0] == "Landing"
    assert words[2] == "Flutter"
    assert len(words) == 4


def test_line_through_a_convex_shape() -> None:
    """Where a line crosses a square is found exactly, and a miss is a miss."""
    square = [(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0)]
    assert span_inside(square, (2.0, 2.0), (0.0, 1.0)) == pytest.approx((-2.0, 2.0))
    assert span_inside(square, (9.0, 9.0), (0.0, 1.0)) is None


def test_numbers_round_alike_everywhere() -> None:
    """Halves round up, tiny negatives lose their sign, so that two machines write one text."""
    assert number(0.25) == number(0.25 - 1e-12) == "0.3"
    assert number(-0.01) == "0"
    assert polyline([(0, 0)]) == "M0 0"
    assert len({noise(k) for k in range(100)}) == 100


def test_outlines_lie_over_each_other_to_one_scale() -> None:
    """Two fins of the same root, one twice the span: their outlines share scale and tube."""
    from calc.render.svg.fin import outline_of

    corners = outline_of(FIN, "inch")
    aft, out = zip(*corners, strict=True)
    assert max(out) == pytest.approx(FIN["span"])
    assert (min(aft), max(aft)) == pytest.approx((0.0, 3 * INCH))
