"""Numbers on their way into sentences."""

from __future__ import annotations

import importlib
import math
import re
from pathlib import Path

import pytest

from calc.report import WORDS
from scripts.handbook import names
from scripts.handbook.extension import DOCS
from scripts.handbook.names import Number, shown


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
    found = names.answer("fin-check", thickness="1/4 in", speed="250 m/s")
    flutter = found.report.answer("flutter_speed")
    assert flutter.bound == "at least"
    assert shown(found.flutter_speed, "m/s").startswith("at least ")
    for mode in found.report.modes:
        assert found.margin_of(mode.name).bound == mode.bound
    governs = next(m for m in found.report.modes if m.name == found.report.verdict.governs)
    assert found.margin.bound == governs.bound


def test_the_range_of_a_margin_is_over_what_is_required() -> None:
    """The ends of a mode's range stand over the same reserve as its middle, as in the verdict."""
    found = names.answer("fin-check")
    assert found.report.verdict.governs == "joint"
    joint = found.margin_of("joint")
    assert (joint.value, joint.low, joint.high) == pytest.approx(
        (found.margin.value, found.margin.low, found.margin.high)
    )
    for mode in found.report.modes:
        margin = found.margin_of(mode.name)
        if mode.bound or mode.low is None:
            assert (margin.low, margin.high) == (None, None)
            continue
        assert (margin.low, margin.high) == pytest.approx(
            (mode.low / mode.required, mode.high / mode.required)
        )


def test_a_cell_is_found_by_its_row_and_column() -> None:
    """A page may name a number of a table by the words it stands under."""
    found = names.answer("root-joint")
    crease = found.cell("First lasting crease of the wall", "middle")
    folding = found.cell("Tube wall folding", "middle")
    assert 0.0 < crease.value < folding.value == pytest.approx(found.margin.value)
    with pytest.raises(AttributeError, match="no row"):
        found.cell("no such part", "middle")


def test_every_state_has_its_own_word() -> None:
    """Beyond the model nothing is said to hold or to fail."""
    assert set(WORDS) == {"holds", "marginal", "fails", "unknown"}
    assert "hold" not in WORDS["unknown"].lower()
    far = names.answer("fin-check", root="4 in", tip="1 in", span="2 in", sweep="6 in",
                       material="glass-epoxy", thickness="1/2 in", speed="950 m/s")  # fmt: skip
    assert far.report.verdict.state == "unknown"
    assert far.state == "cannot say"


def test_what_pages_say_of_the_code_is_read_from_it() -> None:
    """Constants, defaults and strengths in prose are those of the sources that the code cites.

    Their sources stand in ``tests/policy.toml``.
    """
    assert names.constant("structure.rings.ROLLING_SHEAR", "fraction", 1).value == 0.28
    assert names.constant("fin.policy.TRANSONIC_FACTOR").value == 0.85
    assert names.usual("speed", "rod").value == pytest.approx(48 * 0.0254)
    kraft = names.glued("kraft")["tension"]
    assert (kraft.low, kraft.high) == (0.4e6, 1.0e6)
    assert kraft.value == pytest.approx(math.sqrt(0.4e6 * 1.0e6))
    assert names.glued("epoxy")["shear"].low == 15e6
    assert names.weakest_glue()["tension"].low == 5e6
    fine = names.fineness()
    assert (fine["functions"].value, fine["functions_fine"].value) == (42.0, 100.0)
    assert (fine["mach_0"].value, fine["mach_2"].value) == (0.0, 0.9)


@pytest.mark.parametrize("page", sorted(DOCS.rglob("*.md")), ids=lambda page: page.stem)
def test_constants_that_a_page_names_exist(page: Path) -> None:
    """A renamed constant is noticed here, before the site is built."""
    for where in re.findall(r'constant\("([\w.]+)"', page.read_text(encoding="utf-8")):
        module, name = where.rsplit(".", 1)
        assert hasattr(importlib.import_module(f"calc.{module}"), name), where
