"""What a material's file may hold, and the checks of it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from calc import datafiles, units
from calc.errors import InputError, MaterialError

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
    "m/s": ("m/s", 1.0),
    "1": ("1", 1.0),
    "%": ("1", 1e-2),
}
MODELS = ("wood", "plywood", "sheet", "isotropic", "laminate", "faced")
KINDS = ("solid", "plywood", "laminate", "faced-core", "core", "skin")
FAMILIES = ("wood", "plywood", "paper", "foam", "composite", "plastic", "faced", "own")
SCATTER = ("modulus_along", "modulus_across", "shear_modulus", "density", "strength")
WORK = ("cut", "sand", "shape", "finish")
PRICE_CLASSES = ("cheap", "medium", "expensive")
"""What a sheet costs beside a balsa sheet of the same size: less, about as much, or several times
as much. Common practice, 2026; no price list stands behind it."""
SAWN = ("A", "B", "C")
"""Cuts of wood: flat-sawn, between, quarter-sawn."""
KEYS = frozenset(
    {
        "label",
        "family",
        "kind",
        "model",
        "summary",
        "grain",
        "values",
        "scatter",
        "cuts",
        "cut_values",
        "stack",
        "core",
        "skin",
        "skin_angle",
        "density_exponents",
        "moisture",
        "notes",
        "stock",
        "workability",
        "price",
        "at_hand",
        "fastest",
    }
)
"""Every key at the head of a material file."""
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
    "faced": ("skin_thickness", "glue_line"),
}
WOOD_MOISTURE = {
    "modulus": "modulus_bending",
    "bending": "bending_strength",
    "compression": "compression_along",
    "compression_across": "compression_across",
    "shear": "shear_strength",
}
"""Groups of a wood's values that damp changes, each with the value that stands for it."""
_WOOD_OPTIONAL = tuple(
    name
    for group, key in WOOD_MOISTURE.items()
    for name in (f"green_{key}", f"moisture_loss_{group}")
)
_SWELLING = ("swelling_along", "swelling_across")
_BENDING = ("bending_along", "bending_across")
SHEET_MOISTURE = ("moisture_reference", "moisture_loss_modulus", "moisture_loss_strength")
"""Values of a sheet that softens with damp: all three or none."""
OPTIONAL = {
    "wood": ("density_reference", *_WOOD_OPTIONAL),
    "plywood": _WOOD_OPTIONAL,
    "sheet": (*_BENDING, *_SWELLING, *SHEET_MOISTURE, "interlayer_strength"),
    "isotropic": (*_BENDING, *_SWELLING, *SHEET_MOISTURE, "shear_strength"),
    "laminate": (*_BENDING, *_SWELLING, *SHEET_MOISTURE),
    "faced": (),
}
"""Values that a model can do without."""
PAPER_DERIVED = (
    "shear_modulus",
    "poisson",
    "compression_along",
    "compression_across",
    "shear_strength",
)
"""Values that a sheet of the paper family can do without: `calc.materials.paper` has the rules."""
DENSITY_GROUPS = (
    "modulus",
    "bending",
    "compression",
    "compression_across",
    "shear",
    "tension_across",
)
"""Groups of a wood's values that change with its density, each by a power of its own."""
EXPECTED_UNIT = {
    "density": "kg/m3",
    "glue_line": "kg/m2",
    "shear_correction": "1",
    "poisson": "1",
    "tension": "Pa",
    "compression": "Pa",
}


@dataclass(frozen=True)
class Source:
    """A publication, or what stands in for one, such as common practice."""

    key: str
    title: str
    authors: str = ""
    number: str = ""
    year: int | None = None
    note: str = ""


@dataclass(frozen=True)
class Value:
    """One number with its unit (SI), band, scatter and source.

    `basis` is "published"; "memory" (published, cited from memory, unverified); "computed" from the
    values named in the note; "practice" (common practice); "demo" (invented for demonstration);
    "measured" (by the reader).
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
        """Return the note, with the warning that goes with the basis."""
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
    """How much effort one kind of work takes: 1 very easy to 5 very hard, and why."""

    grade: int
    words: str

    @property
    def meaning(self) -> str:
        """Return the grade in words."""
        return GRADES[self.grade]


@dataclass(frozen=True)
class Price:
    """Invented demo prices: a part per area and a part per volume, with a spread either way."""

    per_area: float
    per_volume: float
    spread: float
    currency: str
    note: str
    level: str
    """One of `PRICE_CLASSES`."""

    def band(self, thickness: float) -> tuple[float, float]:
        """Return the low and high price of a square metre of a thickness [m]."""
        middle = self.per_area + self.per_volume * thickness
        return middle * (1.0 - self.spread), middle * (1.0 + self.spread)


LIBRARY = "calc.materials.library"
"""Where the files of the materials lie."""
COMPONENTS = "calc.materials.cores_and_skins"
"""Where the files of cores and skins lie, which are parts of faced materials."""


@lru_cache(maxsize=64)
def read(name: str, package: str = LIBRARY) -> Mapping[str, Any]:
    """Return the contents of one data file: a material, or another file of a package.

    Raises
    ------
    MaterialError
        For a file that is not valid TOML.
    """
    try:
        return MappingProxyType(datafiles.read(package, name))
    except ValueError as error:
        raise MaterialError(f"{name}.toml: not valid TOML: {error}") from error


@lru_cache(maxsize=1)
def bibliography() -> Mapping[str, Source]:
    """Return every source by key."""
    found = {}
    for key, entry in read("bibliography", "calc.materials").items():
        extra = set(entry) - {"title", "authors", "number", "year", "note"}
        if extra or "title" not in entry:
            raise MaterialError(
                f"bibliography.toml: {key}: needs a title and knows no {sorted(extra)}"
            )
        found[key] = Source(key=key, **entry)
    return MappingProxyType(found)


def value(where: str, key: str, entry: Any, *, default_source: str = "") -> Value:
    """Return one checked value: number, unit, source, band, scatter, basis.

    Raises
    ------
    MaterialError
        Naming `where`, the key and the reason.
    """
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


def reckoned(*inputs: Value) -> str:
    """Return the basis of what is worked out from values: never firmer than the weakest of them."""
    firmest_first = ("published", "computed", "memory", "practice", "demo")
    weakest = max(
        (entry.basis for entry in inputs if entry.basis in firmest_first),
        key=firmest_first.index,
        default="computed",
    )
    return "computed" if weakest == "published" else weakest


def values(where: str, table: Any) -> Mapping[str, Value]:
    """Return a checked table of values."""
    if not isinstance(table, Mapping):
        raise MaterialError(f"{where}: must be a table of values")
    return MappingProxyType({key: value(where, key, entry) for key, entry in table.items()})


def isotropic_values(given: Mapping[str, Value]) -> dict[str, Value]:
    """Return the sheet constants that follow from those of an isotropic material."""
    modulus, poisson, pull = given["modulus"], given["poisson"], given["tension"]
    push = given["compression"]
    shear = replace(
        modulus,
        value=modulus.value / (2.0 * (1.0 + poisson.value)),
        low=None,
        high=None,
        note="E/(2 (1 + n))",
        basis=reckoned(modulus, poisson),
    )
    sliding = replace(
        pull,
        value=math.sqrt(pull.value * push.value / 3.0),
        low=None,
        high=None,
        note="tension over sqrt 3",
        basis=reckoned(pull, push),
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


def _size(where: str, text: Any) -> float:
    """Return a trade size [m]; its unit must be written, because a file has no usual one."""
    if isinstance(text, str) and text.strip()[-1:].isalpha():
        try:
            metres = units.parse(text, "length")
        except InputError:
            metres = math.nan
        if metres > 0.0:
            return metres
    raise MaterialError(f"{where}: stock: {text!r} is no size: give '3/32 in' or '2.5 mm'")


def stock(where: str, groups: Any) -> tuple[Stock, ...]:
    """Return the stock: every thickness in every sheet size of its group, thinnest first."""
    found = []
    if not isinstance(groups, list) or not all(isinstance(group, Mapping) for group in groups):
        raise MaterialError(f"{where}: stock: must be a list of groups, each under [[stock]]")
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
                        thickness=_size(where, label),
                        width=_size(where, width),
                        length=_size(where, long),
                        trade_label=label,
                        plies=count,
                        system=group.get("system", "inch"),
                        note=group.get("note", ""),
                    )
                )
    return tuple(sorted(found, key=lambda item: (item.thickness, item.width, item.length)))


def workability(where: str, table: Any) -> Mapping[str, Grade]:
    """Return the effort grades, all four of them."""
    if not isinstance(table, Mapping) or set(table) != set(WORK):
        raise MaterialError(f"{where}: workability: needs exactly {', '.join(WORK)}")
    found = {}
    for key, entry in table.items():
        if entry.get("grade") not in (1, 2, 3, 4, 5) or not entry.get("words"):
            raise MaterialError(f"{where}: workability.{key}: needs a grade 1-5 and words")
        found[key] = Grade(entry["grade"], entry["words"])
    return MappingProxyType(found)


def price(where: str, table: Any) -> Price:
    """Return the price class and the demo prices."""
    if not isinstance(table, Mapping) or table.get("class") not in PRICE_CLASSES:
        raise MaterialError(f"{where}: price: needs class, one of {', '.join(PRICE_CLASSES)}")
    try:
        return Price(
            per_area=float(table["per_area"]),
            per_volume=float(table["per_volume"]),
            spread=float(table["spread"]),
            currency=table.get("currency", "demo"),
            note=table.get("note", "invented demo data; a shop puts its own prices here"),
            level=table["class"],
        )
    except (KeyError, TypeError, ValueError) as error:
        raise MaterialError(f"{where}: price: needs per_area, per_volume, spread") from error


def cuts(where: str, raw: Mapping[str, Any], inherited: tuple[str, ...]) -> tuple[str, ...]:
    """Return the ways a sheet can lie in the raw material, those of a core where none are given."""
    found = tuple(raw.get("cuts", inherited))
    unknown = set(found) - set(SAWN)
    if unknown and raw["model"] in ("wood", "plywood"):
        raise MaterialError(f"{where}: cuts {sorted(unknown)} are not among {', '.join(SAWN)}")
    changed = raw.get("cut_values", {})
    if not set(changed) <= set(found):
        raise MaterialError(f"{where}: cut_values {sorted(set(changed) - set(found))} are no cuts")
    for cut, replaced in changed.items():
        wrong = {
            key
            for key, number in replaced.items()
            if key not in raw["values"] or not isinstance(number, int | float)
        }
        if wrong:
            raise MaterialError(f"{where}: cut_values.{cut}: {sorted(wrong)}: SI numbers of values")
    return found


def check_header(where: str, raw: Mapping[str, Any], *, component: bool) -> None:
    """Check the keys at the head of a material file and that its model has what it needs.

    Raises
    ------
    MaterialError
        Naming the first key that is wrong, or every value that is missing.
    """
    extra = set(raw) - KEYS
    if extra:
        raise MaterialError(f"{where}: unknown keys {sorted(extra)}")
    for key, choices in (("family", FAMILIES), ("kind", KINDS), ("model", MODELS)):
        if raw.get(key) not in choices:
            raise MaterialError(
                f"{where}: {key} {raw.get(key)!r} is not one of {', '.join(choices)}"
            )
    if component != (raw["kind"] in ("core", "skin")):
        folder = "library" if component else "cores_and_skins"
        raise MaterialError(f"{where}: kind {raw['kind']!r}: its file belongs into {folder}/")
    for key in ("label", "summary", "grain"):
        if not isinstance(raw.get(key), str) or not raw[key]:
            raise MaterialError(f"{where}: needs {key} as text")
    given = raw.get("values", {})
    if not isinstance(given, Mapping):
        raise MaterialError(f"{where}: values: must be a table of values")
    spared = PAPER_DERIVED if raw["model"] == "sheet" and raw["family"] == "paper" else ()
    missing = [key for key in NEEDED[raw["model"]] if key not in {*given, *spared}]
    if missing:
        raise MaterialError(f"{where}: values missing for model {raw['model']!r}: {missing}")
    unknown = sorted(set(given) - {*NEEDED[raw["model"]], *OPTIONAL[raw["model"]]})
    if unknown:
        raise MaterialError(f"{where}: values unknown to model {raw['model']!r}: {unknown}")
    for key, unit in EXPECTED_UNIT.items():
        entry = given.get(key)
        if isinstance(entry, Mapping) and unit_of(entry) != unit:
            raise MaterialError(f"{where}: {key}: unit must be {unit}")
    _check_model(where, raw)


def unit_of(entry: Mapping[str, Any]) -> str:
    """Return the SI unit of a value, "?" for an unknown one."""
    return UNIT_SCALE.get(entry.get("unit", "1"), ("?",))[0]


def _check_damp(where: str, raw: Mapping[str, Any]) -> None:
    """Check that what damp does is known of wood and paper, and whole where it is given."""
    given = raw["values"]
    if raw["model"] in ("wood", "plywood"):
        for group, key in WOOD_MOISTURE.items():
            pair = f"green_{key}", f"moisture_loss_{group}"
            if not set(pair) & set(given):
                raise MaterialError(f"{where}: values: needs {pair[0]} or {pair[1]}")
        return
    missing = [key for key in SHEET_MOISTURE if key not in given]
    wanted = raw["family"] == "paper" or len(missing) < len(SHEET_MOISTURE)
    if missing and wanted:
        raise MaterialError(f"{where}: values missing for what damp does: {missing}")


def _check_model(where: str, raw: Mapping[str, Any]) -> None:
    """Check the keys that only some models have."""
    model = raw["model"]
    if model == "laminate" and "stack" not in raw:
        raise MaterialError(f"{where}: model 'laminate' needs a stack such as [0/90]s")
    _check_damp(where, raw)
    groups = {"density_exponents": DENSITY_GROUPS, "moisture": ("intersection",)}
    for key, known in groups.items():
        unknown = set(raw.get(key, {})) - set(known)
        if unknown:
            raise MaterialError(f"{where}: {key}: {sorted(unknown)}: knows {', '.join(known)}")
    place = raw.get("at_hand", 0)
    if isinstance(place, bool) or not isinstance(place, int) or place < 0:
        raise MaterialError(f"{where}: at_hand {place!r} is not a whole number")
