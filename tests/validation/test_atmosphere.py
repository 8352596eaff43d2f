"""The standard air against the U.S. Standard Atmosphere, 1976."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from calc.air import atmosphere

DATA = Path(__file__).parent / "data"
TABLE = tomllib.loads((DATA / "us_standard_atmosphere_1976.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("case", TABLE["case"])
def test_air_matches_the_table(case: dict[str, Any], record: Any) -> None:
    """Temperature, pressure, density, speed of sound and viscosity of NOAA-S/T 76-1562."""
    air = atmosphere.at(case["altitude"], geopotential=case["geopotential"])
    for name in ("temperature", "pressure", "density", "sound_speed", "viscosity"):
        value, tolerance = case[name]
        kind = "geopotential" if case["geopotential"] else "geometric"
        record(
            case=f"{name.replace('_', ' ')} at {case['altitude']:g} m {kind}",
            published=value,
            ours=getattr(air, name),
            unit={
                "temperature": "K",
                "pressure": "Pa",
                "density": "kg/m3",
                "sound_speed": "m/s",
                "viscosity": "Pa s",
            }[name],
            tolerance=f"{tolerance:g}: half a unit of the last printed digit",
            source=TABLE["source"],
        )
        assert getattr(air, name) == pytest.approx(value, abs=tolerance), name


@pytest.mark.parametrize("layer", TABLE["layer"])
def test_layer_limits(layer: dict[str, Any], record: Any) -> None:
    """Temperature and pressure at the standard's layer limits."""
    air = atmosphere.at(layer["altitude"], geopotential=True)
    record(
        case=f"layer limit at {layer['altitude']:g} m geopotential",
        parts=("temperature, K", "pressure, Pa"),
        published=(layer["temperature"], layer["pressure"][0]),
        ours=(air.temperature, air.pressure),
        tolerance="exact; half a unit of the last printed digit of the pressure",
        source=TABLE["source"],
    )
    assert air.temperature == pytest.approx(layer["temperature"], abs=1e-9)
    assert air.pressure == pytest.approx(layer["pressure"][0], abs=layer["pressure"][1])
