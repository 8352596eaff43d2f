"""Numbers on their way into sentences."""

from __future__ import annotations

import pytest

from calc import check, joint, prose
from calc.prose import Number, shown
from calc.report import WORDS


def test_a_limit_is_said_with_its_number() -> None:
    """A number of which only a limit is known carries "at least" or "at most" into the sentence."""
    assert shown(Number(300.0, "speed", bound="at least"), "m/s") == "at least 300 m/s"
    assert shown(Number(2.0, bound="at most")) == "at most 2"


def test_a_limit_has_no_range() -> None:
    """The ends of a limit's spread are not given out as a range."""
    with pytest.raises(ValueError, match="no range"):
        shown(Number(3.0, low=2.0, high=4.0, bound="at least"), "range")


def test_limits_through_arithmetic() -> None:
    """Scaling keeps a limit, dividing by one turns it round; two that pull apart are refused."""
    least, plain = Number(4.0, bound="at least"), Number(2.0)
    assert (least * 2.0).bound == (least / 2.0).bound == (least - 1.0).bound == "at least"
    assert (plain / least).bound == (plain - least).bound == "at most"
    with pytest.raises(ValueError, match="point apart"):
        least / least


def test_limits_of_reports_reach_the_page() -> None:
    """Answers, margins and the verdict's margin of a report keep the limit the report gives."""
    found = prose.answer("fin-check", thickness="1/4 in", speed="250 m/s")
    flutter = found.report.answer("flutter_speed")
    assert flutter.bound == "at least"
    assert shown(found.flutter_speed, "m/s").startswith("at least ")
    for mode in found.report.modes:
        assert found.margin_of(mode.name).bound == mode.bound
    governs = next(m for m in found.report.modes if m.name == found.report.verdict.governs)
    assert found.margin.bound == governs.bound


def test_every_state_has_its_own_word() -> None:
    """Beyond the model nothing is said to hold or to fail."""
    assert set(WORDS) == {"holds", "marginal", "fails", "unknown"}
    assert "hold" not in WORDS["unknown"].lower()
    far = prose.answer("fin-check", root="4 in", tip="1 in", span="2 in", sweep="6 in",
                       material="glass-epoxy", thickness="1/8 in", speed="400 m/s")  # fmt: skip
    assert far.report.verdict.state == "unknown"
    assert far.state == "cannot say"


def test_what_pages_say_of_the_code_is_read_from_it() -> None:
    """Constants, defaults and strengths in prose are the code's own."""
    assert prose.constant("joint.KRAFT_HOOP", "pressure", 1).value == joint.KRAFT_HOOP[1]
    assert prose.usual("speed", "rod").value == pytest.approx(36 * 0.0254)
    kraft = prose.glued("kraft")["tension"]
    assert (kraft.low, kraft.high) == joint.TUBES["kraft"].tension
    lows = [glue.tension[0] for glue in joint.ADHESIVES.values()]
    assert prose.weakest_glue()["tension"].low == min(lows)
    fine = prose.fineness()
    assert fine["functions"].value < fine["functions_fine"].value
    assert fine["mach_2"].value == check.MACHS[-1]
