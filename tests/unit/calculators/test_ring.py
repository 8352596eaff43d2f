"""The ring calculator: what thrust, rings and fillets must do."""

from __future__ import annotations

import math

import pytest

from calc import calculators, materials
from calc.calculators import ring
from calc.errors import InputError
from calc.fin.policy import REQUIRED_LOAD_MARGIN


def run(**texts: str):
    """Return the report for some input texts."""
    return calculators.run("ring", texts)


def test_margin_is_inverse_to_thrust():
    """Twice the thrust halves the margin, two rings double it."""
    base = run().verdict.margin
    assert run(thrust="120 N").verdict.margin == pytest.approx(0.5 * base)
    assert run(rings="2").verdict.margin == pytest.approx(2.0 * base)


def test_glue_by_hand():
    """The glue at the motor tube carries twice the thrust over its own area."""
    report = run(fillet="0 mm")
    mode = next(m for m in report.modes if m.name == "glue to the motor tube")
    assert mode.demand == pytest.approx(2 * 60.0 / (math.pi * 0.031 * 0.003175))


def test_bending_against_the_published_coefficient():
    """A ring without fillets bears k P / t^2 with k = 1.48 for a = 2 b and Poisson's ratio 0.3.

    S. Timoshenko and S. Woinowsky-Krieger, Theory of Plates and Shells (1959), table 3, case 1
    (outer edge supported, force along the hole); from memory, unverified.
    """
    report = run(body="64 mm", wall="1 mm", motor_tube="31 mm", fillet="0 mm", thickness="2 mm")
    mode = next(m for m in report.modes if m.name == "ring bending")
    assert mode.demand == pytest.approx(1.48 * 120.0 / 0.002**2, rel=0.01)


def test_fillets_and_thickness_help():
    """Larger fillets and thicker sheets never lower the margin."""
    base = run(fillet="2 mm").verdict.margin
    assert run(fillet="4 mm").verdict.margin >= base
    assert run(fillet="2 mm", thickness="1/4 in").verdict.margin > base


def test_range_holds_the_answer():
    """The margin lies between its ends; what holds bears its load in nine rings of ten.

    The answer's ends are the 10 and 90 % points; those of the bars are all strengths low and high.
    """
    states = []
    for thrust in ("20 N", "60 N", "200 N", "800 N"):
        report = run(thrust=thrust)
        verdict = report.verdict
        bar = min(report.modes, key=lambda mode: mode.margin)
        assert bar.low_margin <= verdict.low <= verdict.margin <= verdict.high <= bar.high_margin
        assert verdict.state != "holds" or verdict.low >= 1.0 / REQUIRED_LOAD_MARGIN
        states.append(verdict.state)
    assert states[0] == "holds"
    assert states[-1] == "fails"


def test_a_ring_without_width_is_refused():
    """A motor tube as wide as the body's bore names the motor tube."""
    with pytest.raises(InputError) as problem:
        run(motor_tube="54 mm")
    assert problem.value.name == "motor_tube"


def test_a_thicker_sheet_is_sold_in_the_system_of_the_ring() -> None:
    """An inch sheet is followed by the next inch size, a metric one by the next metric size."""
    for thickness, unit in (("1/8 in", " in"), ("3 mm", " mm")):
        report = calculators.run("ring", {"thickness": thickness})
        (label,) = (c.label for c in report.changes if c.label.startswith("A thicker sheet"))
        assert label.endswith(unit)


def test_only_a_narrow_ring_is_said_to_be_narrow() -> None:
    """Below a width of three thicknesses bending reads low: its bar says so, and so does a note."""
    remark = "reads low: the ring is too narrow to bend"
    for thickness, narrow in (("2 mm", False), ("6 mm", True)):
        report = run(body="56 mm", wall="1 mm", motor_tube="40 mm", thickness=thickness)
        noted = {mode.name for mode in report.modes if mode.note == remark}
        assert noted == ({"ring bending"} if narrow else set())
        assert any("narrower than three" in note for note in report.notes) is narrow


def test_the_weakest_layer_shears_first() -> None:
    """In a sandwich it is the core, not the skins, that a ring's force shears."""
    values, _ = calculators.load("ring").read({"material": "balsa-glass", "thickness": "4 mm"})
    stack = materials.load("balsa-glass").layup(thickness=0.004)
    weakest = stack.plies[len(stack.plies) // 2].lamina.shear_strength
    assert ring.case_of(values, materials.load("balsa-glass")).sheet.shear_strength == weakest
    assert weakest < stack.plies[0].lamina.shear_strength
