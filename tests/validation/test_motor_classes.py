"""Motor classes against the published code."""

import tomllib
from pathlib import Path

import pytest

from calc.flight.motor import class_limits, letters, motor_class

DATA = tomllib.loads((Path(__file__).parent / "data/nfpa_1125_classes.toml").read_text())


@pytest.mark.parametrize(("letter", "upper"), DATA["upper"].items())
def test_class_limits(letter, upper, record):
    """Each class ends at its published limit, which still belongs to it."""
    record(
        case=f"motor class {letter}, upper limit",
        published=upper,
        ours=class_limits(letter)[1],
        unit="N s",
        tolerance="exact",
        source=DATA["source"],
    )
    assert class_limits(letter)[1] == upper
    assert motor_class(upper) == letter
    assert motor_class(upper * 0.51) == letter


def test_order():
    """The classes come in the published order, each starting where the one before ends."""
    assert letters() == tuple(DATA["upper"])
    for before, after in zip(letters(), letters()[1:], strict=False):
        assert class_limits(after)[0] == class_limits(before)[1]
