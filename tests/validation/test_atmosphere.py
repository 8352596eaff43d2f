"""The standard air against the U.S. Standard Atmosphere, 1976."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from calc import atmosphere

DATA = Path(__file__).parent / "data"
TABLE = tomllib.loads((DATA / "us_standard_atmosphere_1976.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("case", TABLE["case"])
def test_air_matches_the_table(case: dict[str, Any]) -> None:
    """Temperature, pressure, density, speed of sound and viscosity of NOAA-S/T 76-1562."""
    air = atmosphere.at(case["altitude"], geopotential=case["geopotential"])
    for name in ("temperature", "pressure", "density", "sound_speed", "viscosity"):
        value, tolerance = case[name]
        assert getattr(air, name) == pytest.approx(value, abs=tolerance), name


@pytest.mark.parametrize("layer", TABLE["layer"])
def test_layer_limits(layer: dict[str, Any]) -> None:
    """Temperature and pressure at the standard's layer limits."""
    air = atmosphere.at(layer["altitude"], geopotential=True)
    assert air.temperature == pytest.approx(layer["temperature"], abs=1e-9)
    assert air.pressure == pytest.approx(layer["pressure"][0], abs=layer["pressure"][1])
