"""The flutter estimate of NACA TN 4197."""

import pytest

from calc.aeroelastic.flutter_estimate import flutter_estimate_tn4197
from calc.errors import InputError


def test_tn4197_trends() -> None:
    """The estimate rises with thickness and altitude, falls with aspect ratio and taper."""
    base = dict(
        aspect_ratio=0.8,
        thickness_ratio=0.03,
        taper=0.5,
        shear_modulus=1e8,
        pressure=101325.0,
        sound_speed=340.0,
    )
    speed = flutter_estimate_tn4197(**base)
    for change, factor in (
        ({"thickness_ratio": 0.06}, 2.0**1.5),
        ({"shear_modulus": 4e8}, 2.0),
        ({"pressure": 101325.0 / 4.0}, 2.0),
    ):
        changed = flutter_estimate_tn4197(**{**base, **change})
        assert changed == pytest.approx(speed * factor)
    assert flutter_estimate_tn4197(**{**base, "aspect_ratio": 1.0}) < speed
    assert flutter_estimate_tn4197(**{**base, "taper": 1.0}) < speed
    with pytest.raises(InputError, match="thickness_ratio"):
        flutter_estimate_tn4197(**{**base, "thickness_ratio": 0.0})
