"""Materials as data: one TOML file each, read when asked for and not before."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from calc import tables
from calc.errors import InputError
from calc.materials import data, wood
from calc.materials.data import (
    GRADES,
    SCATTER,
    Adhesive,
    Grade,
    MaterialError,
    Price,
    Source,
    Stock,
    Value,
)
from calc.materials.material import Material, faced, own

__all__ = [
    "GRADES",
    "SCATTER",
    "Adhesive",
    "Grade",
    "Material",
    "MaterialError",
    "Price",
    "Source",
    "Stock",
    "Value",
    "adhesives",
    "components",
    "faced",
    "load",
    "names",
    "own",
    "rows",
    "sources",
]

NOT_MATERIALS = ("adhesives", "bibliography")
# Parts of faced sheets, which nobody makes a fin of alone.
COMPONENTS = ("carbon-cloth-skin", "foam-board-liner", "glass-cloth-skin", "polystyrene-foam")
HEADER = {
    "label",
    "family",
    "kind",
    "model",
    "summary",
    "grain",
    "values",
    "stock",
    "workability",
    "price",
    "cuts",
    "scatter",
    "notes",
    "moisture",
    "density_exponents",
    "stack",
    "cut_values",
    "core",
    "skin",
    "skin_angle",
}


@lru_cache(maxsize=1)
def _files() -> tuple[str, ...]:
    return tuple(name for name in tables.names("calc.materials") if name not in NOT_MATERIALS)


def names() -> tuple[str, ...]:
    """Names of every material a fin can be made of, sorted; reads no file."""
    return tuple(name for name in _files() if name not in COMPONENTS)


def components() -> tuple[str, ...]:
    """Names of the cores and skins that faced materials are made of."""
    return tuple(name for name in _files() if name in COMPONENTS)


def sources() -> Mapping[str, Source]:
    """Every source by key."""
    return data.bibliography()


@lru_cache(maxsize=64)
def load(name: str) -> Material:
    """Read and check one material.

    >>> load("balsa").cuts
    ('B', 'A', 'C')
    """
    if name not in _files():
        raise InputError("material", name, "one of " + ", ".join(names()))
    return build(name, data.read(name))


def build(name: str, raw: Mapping[str, Any]) -> Material:
    """Check the contents of a material file against the schema and make the material."""
    data.check_header(name, raw)
    extra = set(raw) - HEADER
    if extra:
        raise MaterialError(f"{name}: unknown keys {sorted(extra)}")
    values = dict(data.values(name, raw.get("values", {})))
    spread = data.values(f"{name}: scatter", raw.get("scatter", {}))
    if set(spread) != set(SCATTER):
        raise MaterialError(f"{name}: scatter: needs exactly {', '.join(SCATTER)}")
    model = raw["model"]
    core = skin = None
    if model == "faced":
        for key in ("core", "skin"):
            if raw.get(key) not in _files():
                raise MaterialError(f"{name}: {key} {raw.get(key)!r} is not a material")
        for key in ("skin_thickness", "glue_line"):
            if key not in values:
                raise MaterialError(f"{name}: values missing for model 'faced': {key}")
        core, skin = load(raw["core"]), load(raw["skin"])
    cuts = tuple(raw.get("cuts", core.cuts if core is not None else ()))
    if model in ("wood", "plywood"):
        unknown = set(cuts) - set(wood.CUTS)
        if unknown:
            raise MaterialError(f"{name}: cuts {sorted(unknown)} are not among A, B, C")
        values |= wood.derived(values, raw, cuts[0] if cuts else "A")
    if model == "isotropic":
        values |= data.isotropic_values(values)
    if model == "laminate" and "stack" not in raw:
        raise MaterialError(f"{name}: model 'laminate' needs a stack such as [0/90]s")
    sizes = data.stock(name, raw.get("stock", []))
    if core is not None and not sizes:
        sizes = _skinned(core, values["skin_thickness"].value)
    component = name in COMPONENTS
    work = raw.get("workability")
    return Material(
        name=name,
        label=raw["label"],
        family=raw["family"],
        kind=raw["kind"],
        model=model,
        summary=raw["summary"],
        grain=raw["grain"],
        values=MappingProxyType(values),
        stock=sizes,
        workability=MappingProxyType({}) if component else data.workability(name, work),
        price=None if component else data.price(name, raw.get("price")),
        cuts=cuts,
        scatter_values=spread,
        notes=tuple(raw.get("notes", ())),
        component=component,
        raw=raw,
        core=core,
        skin=skin,
    )


def _skinned(core: Material, skin: float) -> tuple[Stock, ...]:
    """Stock sheets of a core, thicker by its two skins."""
    return tuple(
        replace(
            item, thickness=item.thickness + 2.0 * skin, trade_label=f"{item.trade_label} + skins"
        )
        for item in core.stock
    )


@lru_cache(maxsize=1)
def adhesives() -> Mapping[str, Adhesive]:
    """Every adhesive by name."""
    found = {}
    for name, entry in data.read("adhesives").items():
        where = f"adhesives: {name}"
        if not entry.get("label") or not entry.get("use"):
            raise MaterialError(f"{where}: needs label and use")
        found[name] = Adhesive(
            name, entry["label"], entry["use"], data.values(where, entry.get("values", {}))
        )
    return MappingProxyType(found)


def rows() -> list[dict[str, Any]]:
    """List every number of every material, core, skin and adhesive, one flat row each.

    The rows are what a data page shows and offers as CSV or JSON: material, group (values,
    scatter), name, value, low, high, cov, unit, source, basis, note.
    """
    found = []

    def add(material: str, group: str, table: Mapping[str, Value]) -> None:
        for key, entry in table.items():
            found.append(
                {
                    "material": material,
                    "group": group,
                    "name": key,
                    "value": entry.value,
                    "low": entry.low,
                    "high": entry.high,
                    "cov": entry.cov,
                    "unit": entry.unit,
                    "source": entry.source,
                    "basis": entry.basis,
                    "note": entry.remark,
                }
            )

    for name in (*names(), *components()):
        material = load(name)
        add(name, "values", material.values)
        add(name, "scatter", material.scatter_values)
    for name, glue in adhesives().items():
        add(name, "adhesive", glue.values)
    return found
