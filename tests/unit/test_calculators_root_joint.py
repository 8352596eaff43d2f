"""The root-joint calculator: statics, and what fillets, tabs and better glue must do."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc import calculators, check, joint, materials
from calc.calculators import root_joint as page
from calc.errors import InputError
from calc.layup import isotropic, stacked


def run(**texts: str):
    """Return the report for some input texts."""
    return calculators.run("root-joint", texts)


def value(report, name: str) -> float:
    """Return one answer's SI value."""
    return report.answer(name).value


def test_bare_edge_by_hand():
    """The glue line of a bare edge bears sigma t^2 / 6 of the weaker partner."""
    report = run(joint="edge")
    mode = next(m for m in report.modes if m.name == "glue line, bending")
    values, _ = calculators.load("root-joint").read({})
    from calc.calculators import common

    fin = common.fin_of(values)
    edge = page.edge_tension(fin.layup(), fin.direction)
    ends = [
        min(joint.ADHESIVES["epoxy"].tension[i], joint.TUBES["kraft"].tension[i], edge)
        for i in (0, 1)
    ]
    per_metre = math.sqrt(ends[0] * ends[1]) * fin.thickness**2 / 6.0
    assert mode.capacity == pytest.approx(per_metre * fin.planform.root)


def test_edge_tension_of_wood():
    """Grain along the tube glues with its strength across; end grain with a quarter of that along.

    Wood Handbook ch. 10 for the quarter.
    """
    stack = materials.load("basswood").layup(thickness=0.003)
    lamina = stack.plies[0].lamina
    assert page.edge_tension(stack, 0.0) == pytest.approx(lamina.tension_across)
    assert page.edge_tension(stack, math.pi / 2) == pytest.approx(0.25 * lamina.tension_along)
    plastic = stacked(
        isotropic(modulus=2e9, poisson=0.35, density=1200.0, tension=40e6), [0.0], thickness=0.003
    )
    assert page.edge_tension(plastic, 0.7) == pytest.approx(40e6)


@settings(max_examples=10, deadline=None)
@given(st.floats(2.0, 9.0), st.floats(1.1, 1.8), st.sampled_from(["epoxy", "wood-glue"]))
def test_larger_fillets_never_weaken(radius: float, growth: float, glue: str):
    """A larger fillet never lowers the margin, nor does a thicker tube wall."""
    base = {"fillet": f"{radius} mm", "adhesive": glue}
    small = value(run(**base), "margin")
    assert value(run(**{**base, "fillet": f"{radius * growth} mm"}), "margin") >= small * 0.999
    assert value(run(**base, wall="1.2 mm"), "margin") >= small * 0.999


def test_order_of_joints():
    """A bare edge is weakest, fillets help, and a through-wall tab helps most."""
    edge, fillet, tab = (value(run(joint=j), "margin") for j in ("edge", "fillet", "tab"))
    assert edge < fillet < tab


def test_faster_asks_more():
    """The air's moment grows at least with the square of the speed, since the fin twists into it.

    Speeds at which the air, not the hand, asks most.
    """
    slow, fast = run(speed="100 m/s"), run(speed="150 m/s")
    assert "air" in slow.answer("root_moment").note
    ratio = fast.answer("root_moment").value / slow.answer("root_moment").value
    assert ratio >= 1.5**2 * 0.97


def test_peak_moment_balances_the_load():
    """The worst spot carries no less than the mean moment along the root."""
    report = run(speed="120 m/s")
    fin_check = calculators.run("fin-check", {"speed": "120 m/s"})
    assert report.answer("root_moment").value >= fin_check.answer("root_moment").value


def test_range_spans_weak_and_strong_partners():
    """The answer lies between its ends, and holding needs the low end to bear the load."""
    for joint_kind in ("edge", "fillet", "tab"):
        report = run(joint=joint_kind)
        verdict = report.verdict
        assert verdict.low <= verdict.margin <= verdict.high
        if verdict.state == "holds":
            assert verdict.low >= 1.0
            assert verdict.margin >= check.REQUIRED_LOAD_MARGIN


def test_soft_root_lowers_frequency_and_flutter():
    """A tube wall that gives never raises frequency or flutter; a stiffer wall gives less."""
    thin, thick = run(wall="0.5 mm"), run(wall="2 mm")
    for report in (thin, thick):
        assert value(report, "frequency") < value(report, "frequency_clamped")
        assert 0.0 < value(report, "flutter_share") <= 1.0
    assert value(thin, "frequency") < value(thick, "frequency")
    assert value(thin, "flutter_share") <= value(thick, "flutter_share")


def test_stiffest_root_is_a_clamped_one():
    """A spring without end leaves the clamped frequency."""
    from calc.calculators import common

    values, _ = calculators.load("root-joint").read({})
    fin = common.fin_of(values)
    point = common.flying(values).points[0]
    _, found = page.demands(fin, point)
    stiff = page.softness(fin, found, point, 1e7)
    assert stiff.frequency == pytest.approx(stiff.clamped_frequency, rel=0.01)


@pytest.mark.parametrize(
    ("texts", "name"),
    [
        ({"joint": "fillet", "fillet": "0 mm"}, "fillet"),
        ({"joint": "tab", "tab": "1 in"}, "tab"),
        ({"wall": "9.9 mm"}, "wall"),
    ],
)
def test_bad_inputs_are_named(texts: dict[str, str], name: str):
    """Whatever cannot be is told by the input's name."""
    with pytest.raises(InputError) as problem:
        run(**texts)
    assert problem.value.name == name


def test_a_load_beyond_the_model_gives_no_verdict(monkeypatch: pytest.MonkeyPatch):
    """Where the fin check cannot tell the load on the root, a strong joint is not said to hold."""
    assert run(joint="tab").verdict.state == "holds"
    survey = check.survey

    def unsure(*args):
        found = survey(*args)
        row = tuple(replace(m, known=False, note="no known end") for m in found.margins[0])
        return replace(found, margins=(row, *found.margins[1:]))

    monkeypatch.setattr(check, "survey", unsure)
    report = run(joint="tab")
    assert report.verdict.state == "unknown"
    assert report.summary.startswith("Cannot say")
    assert "no known end" in report.verdict.sentence
