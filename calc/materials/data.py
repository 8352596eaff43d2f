"""What a material file may say, and the reading and checking of it."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from calc import tables

BASES = ("published", "memory", "computed", "practice", "demo", "measured")
UNIT_SCALE = {
    "Pa": ("Pa", 1.0),
    "kPa": ("Pa", 1e3),
    "MPa": ("Pa", 1e6),
    "GPa": ("Pa", 1e9),
    "kg/m3": ("kg/m3", 1.0),
    "kg/m2": ("kg/m2", 1.0),
    "g/m2": ("kg/m2", 1e-3),
    "m": ("m", 1.0),
    "mm": ("m", 1e-3),
    "1": ("1", 1.0),
    "%": ("1", 1e-2),
}
MODELS = ("wood", "plywood", "sheet", "isotropic", "laminate", "faced")
KINDS = ("solid", "plywood", "laminate", "faced-core", "core", "skin")
FAMILIES = ("wood", "plywood", "paper", "foam", "composite", "plastic", "faced", "own")
SCATTER = ("modulus_along", "modulus_across", "shear_modulus", "density", "strength")
WORK = ("cut", "sand", "shape", "finish")
GRADES = ("", "very easy", "easy", "some care", "hard", "very hard")

LAMINA_VALUES = (
    "density",
    "modulus_along",
    "modulus_across",
    "shear_modulus",
    "poisson",
    "shear_13",
    "shear_23",
    "tension_along",
    "compression_along",
    "tension_across",
    "compression_across",
    "shear_strength",
)
WOOD_VALUES = (
    "density",
    "modulus_bending",
    "shear_correction",
    "ratio_ET",
    "ratio_ER",
    "ratio_GLT",
    "ratio_GLR",
    "ratio_GRT",
    "poisson_LT",
    "poisson_LR",
    "poisson_RT",
    "bending_strength",
    "compression_along",
    "compression_across",
    "tension_across",
    "shear_strength",
    "shrinkage_radial",
    "shrinkage_tangential",
    "shrinkage_along",
)
NEEDED = {
    "wood": WOOD_VALUES,
    "plywood": (*WOOD_VALUES, "glue_line"),
    "sheet": LAMINA_VALUES,
    "isotropic": ("density", "modulus", "poisson", "tension", "compression"),
    "laminate": LAMINA_VALUES,
    "faced": (),
}
EXPECTED_UNIT = {
    "density": "kg/m3",
    "glue_line": "kg/m2",
    "shear_correction": "1",
    "poisson": "1",
    "tension": "Pa",
    "compression": "Pa",
}


class MaterialError(ValueError):
    """A material file breaks the schema; the message names the file, the key and the reason."""


@dataclass(frozen=True)
class Source:
    """A publication, or the honest name of what stands in for one."""

    key: str
    title: str
    authors: str = ""
    number: str = ""
    year: int | None = None
    note: str = ""


@dataclass(frozen=True)
class Value:
    """One number with its unit (SI), band, scatter and where it comes from.

    ``basis``: ``published``; ``memory`` (published, cited from memory, unverified);
    ``computed`` from the values named in the note; ``practice`` (common practice); ``demo``
    (invented for demonstration); ``measured`` (by the reader).
    """

    value: float
    unit: str
    source: str
    low: float | None = None
    high: float | None = None
    cov: float | None = None
    note: str = ""
    basis: str = "published"

    @property
    def remark(self) -> str:
        """The note, with the warning that goes with the basis."""
        warning = {
            "memory": "from memory, unverified",
            "practice": "common practice",
            "demo": "invented demo data",
        }.get(self.basis, "")
        return "; ".join(part for part in (self.note, warning) if part)


@dataclass(frozen=True)
class Stock:
    """A size that shops sell: thickness, width and length [m] under its trade label."""

    thickness: float
    width: float
    length: float
    trade_label: str
    plies: int | None = None
    system: str = "inch"
    note: str = ""


@dataclass(frozen=True)
class Grade:
    """How much effort one kind of work asks: 1 very easy to 5 very hard, and why."""

    grade: int
    words: str

    @property
    def meaning(self) -> str:
        """The grade in words."""
        return GRADES[self.grade]


@dataclass(frozen=True)
class Price:
    """Invented demo prices: a part per area and a part per volume, with a spread either way."""

    per_area: float
    per_volume: float
    spread: float
    currency: str
    note: str

    def band(self, thickness: float) -> tuple[float, float]:
        """Low and high price of a square metre ``thickness`` [m] thick."""
        middle = self.per_area + self.per_volume * thickness
        return middle * (1.0 - self.spread), middle * (1.0 + self.spread)


@dataclass(frozen=True)
class Adhesive:
    """A glue or filler: its values and what it is for."""

    name: str
    label: str
    use: str
    values: Mapping[str, Value]


_LENGTH = re.compile(r"^(?:(\d+(?:\.\d+)?)\s+)?(\d+(?:\.\d+)?)(?:/(\d+))?\s*(in|mm|m)$")
_METRES = {"in": 0.0254, "mm": 1e-3, "m": 1.0}


def length(text: str) -> float:
    """Read a trade length such as ``3/32 in``, ``1 1/2 in`` or ``2.5 mm`` into metres.

    >>> round(length("3/32 in"), 9)
    0.00238125
    """
    match = _LENGTH.match(text.strip())
    if match is None or (match[1] and not match[3]):
        raise MaterialError(f"length {text!r}: give '3/32 in', '1 1/2 in' or '2.5 mm'")
    whole, top, bottom, unit = match.groups()
    number = float(top) / (float(bottom) if bottom else 1.0) + (float(whole) if whole else 0.0)
    return number * _METRES[unit]


@lru_cache(maxsize=64)
def read(name: str) -> Mapping[str, Any]:
    """Read one data file of this package."""
    try:
        return MappingProxyType(tables.read("calc.materials", name))
    except ValueError as error:
        raise MaterialError(f"{name}.toml: not valid TOML: {error}") from error


@lru_cache(maxsize=1)
def bibliography() -> Mapping[str, Source]:
    """Every source by key."""
    found = {}
    for key, entry in read("bibliography").items():
        extra = set(entry) - {"title", "authors", "number", "year", "note"}
        if extra or "title" not in entry:
            raise MaterialError(
                f"bibliography.toml: {key}: needs a title and knows no {sorted(extra)}"
            )
        found[key] = Source(key=key, **entry)
    return MappingProxyType(found)


def value(where: str, key: str, entry: Any, *, default_source: str = "") -> Value:
    """Read one value and check it: number, unit, source, band, scatter, basis."""
    place = f"{where}: {key}"
    if not isinstance(entry, Mapping):
        raise MaterialError(f"{place}: must be a table with value, unit and source")
    extra = set(entry) - {"value", "low", "high", "cov", "unit", "source", "note", "basis"}
    if extra:
        raise MaterialError(f"{place}: unknown keys {sorted(extra)}")
    unit = entry.get("unit", "1")
    if unit not in UNIT_SCALE:
        raise MaterialError(f"{place}: unit {unit!r} is not one of {', '.join(UNIT_SCALE)}")
    base, scale = UNIT_SCALE[unit]
    numbers: dict[str, float | None] = {}
    for part in ("value", "low", "high"):
        number = entry.get(part)
        if number is None:
            numbers[part] = None
            continue
        if isinstance(number, bool) or not isinstance(number, int | float):
            raise MaterialError(f"{place}: {part} {number!r} is not a number")
        if not math.isfinite(number):
            raise MaterialError(f"{place}: {part} {number!r} is not finite")
        # Rounding drops the last-bit noise of the unit conversion, nothing else.
        numbers[part] = float(f"{number * scale:.12g}")
    middle = numbers["value"]
    if middle is None:
        raise MaterialError(f"{place}: has no value")
    low, high = numbers["low"], numbers["high"]
    if (low is not None and low > middle) or (high is not None and high < middle):
        raise MaterialError(f"{place}: value {middle:g} lies outside its band {low} to {high}")
    cov = entry.get("cov")
    if cov is not None and not 0.0 < cov < 1.0:
        raise MaterialError(f"{place}: cov {cov!r} must lie between 0 and 1")
    source = entry.get("source", default_source)
    if source not in bibliography():
        raise MaterialError(f"{place}: source {source!r} is not in bibliography.toml")
    basis = entry.get("basis", "published")
    if basis not in BASES:
        raise MaterialError(f"{place}: basis {basis!r} is not one of {', '.join(BASES)}")
    return Value(middle, base, source, low, high, cov, entry.get("note", ""), basis)


def values(where: str, table: Any) -> Mapping[str, Value]:
    """Read a table of values."""
    if not isinstance(table, Mapping):
        raise MaterialError(f"{where}: must be a table of values")
    return MappingProxyType({key: value(where, key, entry) for key, entry in table.items()})


def isotropic_values(given: Mapping[str, Value]) -> dict[str, Value]:
    """Spell out the sheet constants that follow from those of an isotropic material."""
    modulus, poisson, pull = given["modulus"], given["poisson"], given["tension"]
    push = given["compression"]
    shear = replace(
        modulus,
        value=modulus.value / (2.0 * (1.0 + poisson.value)),
        low=None,
        high=None,
        note="E/(2 (1 + n))",
        basis="computed",
    )
    sliding = replace(
        pull,
        value=math.sqrt(pull.value * push.value / 3.0),
        low=None,
        high=None,
        note="tension over sqrt 3",
        basis="computed",
    )
    found = {
        "modulus_along": modulus,
        "modulus_across": modulus,
        "shear_modulus": shear,
        "shear_13": shear,
        "shear_23": shear,
        "tension_along": pull,
        "tension_across": pull,
        "compression_along": push,
        "compression_across": push,
        "shear_strength": sliding,
    }
    return {key: entry for key, entry in found.items() if key not in given}


def stock(where: str, groups: Any) -> tuple[Stock, ...]:
    """Expand the stock groups: every thickness in every sheet size of its group."""
    found = []
    for group in groups:
        extra = set(group) - {"thickness", "size", "plies", "system", "note"}
        if extra:
            raise MaterialError(f"{where}: stock: unknown keys {sorted(extra)}")
        thick = group.get("thickness", [])
        plies = group.get("plies", [None] * len(thick))
        if not thick or len(plies) != len(thick) or not group.get("size"):
            raise MaterialError(
                f"{where}: stock: needs thickness, size, and one ply count per thickness"
            )
        for label, count in zip(thick, plies, strict=True):
            for width, long in group["size"]:
                found.append(
                    Stock(
                        thickness=length(label),
                        width=length(width),
                        length=length(long),
                        trade_label=label,
                        plies=count,
                        system=group.get("system", "inch"),
                        note=group.get("note", ""),
                    )
                )
    return tuple(sorted(found, key=lambda item: (item.thickness, item.width, item.length)))


def workability(where: str, table: Any) -> Mapping[str, Grade]:
    """Read the effort grades and check that all four are there."""
    if not isinstance(table, Mapping) or set(table) != set(WORK):
        raise MaterialError(f"{where}: workability: needs exactly {', '.join(WORK)}")
    found = {}
    for key, entry in table.items():
        if entry.get("grade") not in (1, 2, 3, 4, 5) or not entry.get("words"):
            raise MaterialError(f"{where}: workability.{key}: needs a grade 1-5 and words")
        found[key] = Grade(entry["grade"], entry["words"])
    return MappingProxyType(found)


def price(where: str, table: Any) -> Price:
    """Read the demo prices."""
    try:
        return Price(
            per_area=float(table["per_area"]),
            per_volume=float(table["per_volume"]),
            spread=float(table["spread"]),
            currency=table.get("currency", "demo"),
            note=table.get("note", "invented demo data; a shop puts its own prices here"),
        )
    except (KeyError, TypeError) as error:
        raise MaterialError(f"{where}: price: needs per_area, per_volume, spread") from error


def check_header(where: str, raw: Mapping[str, Any]) -> None:
    """Check the names at the head of a material file and that its model has what it needs."""
    for key, choices in (("family", FAMILIES), ("kind", KINDS), ("model", MODELS)):
        if raw.get(key) not in choices:
            raise MaterialError(
                f"{where}: {key} {raw.get(key)!r} is not one of {', '.join(choices)}"
            )
    for key in ("label", "summary", "grain"):
        if not isinstance(raw.get(key), str) or not raw[key]:
            raise MaterialError(f"{where}: needs {key} as text")
    missing = [key for key in NEEDED[raw["model"]] if key not in raw.get("values", {})]
    if missing:
        raise MaterialError(f"{where}: values missing for model {raw['model']!r}: {missing}")
    for key, unit in EXPECTED_UNIT.items():
        entry = raw.get("values", {}).get(key)
        if entry is not None and UNIT_SCALE.get(entry.get("unit", "1"), ("?",))[0] != unit:
            raise MaterialError(f"{where}: {key}: unit must be {unit}")
