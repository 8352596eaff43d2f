"""Materials as data: one TOML file each, read on first use. TEMPLATE.md says what a file holds."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from calc import datafiles
from calc.errors import InputError, MaterialError
from calc.materials import paper, schema, wood
from calc.materials.material import Material, faced, own
from calc.materials.schema import (
    GRADES,
    SCATTER,
    Grade,
    Price,
    Source,
    Stock,
    Value,
)

__all__ = [
    "GRADES",
    "SCATTER",
    "Grade",
    "Having",
    "Material",
    "Price",
    "Source",
    "Stock",
    "Value",
    "broken",
    "components",
    "faced",
    "load",
    "names",
    "own",
    "rows",
    "sources",
    "usable",
]

TRIAL_THICKNESS = 1e-3
"""Thickness at which a material without stock sizes is tried out [m]."""


@lru_cache(maxsize=2)
def _files(package: str) -> tuple[str, ...]:
    return datafiles.names(package)


def names() -> tuple[str, ...]:
    """Return the names of every material a fin can be made of, sorted; reads no file."""
    return _files(schema.LIBRARY)


def components() -> tuple[str, ...]:
    """Return the names of the cores and skins that faced materials are made of; reads no file."""
    return _files(schema.COMPONENTS)


def usable() -> tuple[Material, ...]:
    """Return every material whose file is sound, in the order of `names`."""
    broken_ones = broken()
    return tuple(load(name) for name in names() if name not in broken_ones)


def broken() -> Mapping[str, MaterialError]:
    """Return what is wrong with the files that cannot be used, by material; usually nothing."""
    found = {}
    for name in names():
        try:
            load(name)
        except MaterialError as problem:
            found[name] = problem
    return found


@dataclass(frozen=True)
class Having(Collection[str]):
    """Names of the materials that have something.

    To see whether one material is among them only its own file is read. A material whose file is
    broken is never among them; the reader's own neither.

    >>> "balsa" in Having(lambda material: material.model == "wood")
    True
    """

    has: Callable[[Material], bool]

    def __contains__(self, name: object) -> bool:
        """Return whether the named material has it."""
        try:
            return name in names() and self.has(load(str(name)))
        except MaterialError:
            return False

    def __iter__(self) -> Iterator[str]:
        """Yield every name; reads all files."""
        return (name for name in names() if name in self)

    def __len__(self) -> int:
        """Return how many there are; reads all files."""
        return sum(1 for _ in self)


def sources() -> Mapping[str, Source]:
    """Return every source by key."""
    return schema.bibliography()


@lru_cache(maxsize=64)
def load(name: str) -> Material:
    """Return one material, or one core or skin, from its file.

    Raises
    ------
    InputError
        For a name there is not.
    MaterialError
        Naming file, key and reason where the file is broken.

    Examples
    --------
    >>> load("balsa").cuts
    ('B', 'A', 'C')
    """
    if name in names():
        return build(name, schema.read(name))
    if name in components():
        return build(name, schema.read(name, schema.COMPONENTS), component=True)
    raise InputError("material", name, "one of " + ", ".join(names()))


def build(name: str, raw: Mapping[str, Any], *, component: bool = False) -> Material:
    """Return the material that the contents of a file describe.

    Parameters
    ----------
    name
        Name of the file.
    raw
        What it holds.
    component
        True for a core or skin of faced sheets: it needs no price and no grades of work.

    Raises
    ------
    MaterialError
        Naming file, key and reason.
    """
    schema.check_header(name, raw, component=component)
    values = dict(schema.values(name, raw["values"]))
    spread = schema.values(f"{name}: scatter", raw.get("scatter", {}))
    if set(spread) != set(SCATTER):
        raise MaterialError(f"{name}: scatter: needs exactly {', '.join(SCATTER)}")
    model = raw["model"]
    core = skin = None
    if model == "faced":
        core, skin = (_part(name, key, raw.get(key)) for key in ("core", "skin"))
    cuts = schema.cuts(name, raw, core.cuts if core is not None else ())
    if model in ("wood", "plywood"):
        values |= wood.derived(values, raw, cuts[0] if cuts else "A")
    if model == "isotropic":
        values |= schema.isotropic_values(values)
    if model == "sheet" and raw["family"] == "paper":
        values |= paper.derived(values)
    sizes = schema.stock(name, raw.get("stock", []))
    if core is not None and not sizes:
        sizes = _skinned(core, values["skin_thickness"].value)
    made = Material(
        name=name,
        label=raw["label"],
        family=raw["family"],
        kind=raw["kind"],
        model=model,
        summary=raw["summary"],
        grain=raw["grain"],
        values=MappingProxyType(values),
        stock=sizes,
        workability=MappingProxyType({})
        if component
        else schema.workability(name, raw.get("workability")),
        price=None if component else schema.price(name, raw.get("price")),
        cuts=cuts,
        scatter_values=spread,
        notes=tuple(raw.get("notes", ())),
        component=component,
        at_hand=raw.get("at_hand", 0),
        fastest=schema.value(name, "fastest", raw["fastest"]) if "fastest" in raw else None,
        raw=raw,
        core=core,
        skin=skin,
    )
    _try_out(made)
    return made


def _part(name: str, key: str, part: Any) -> Material:
    """Return the core or the skin that a faced material names."""
    if part not in (*names(), *components()):
        raise MaterialError(f"{name}: {key} {part!r} is not a material")
    if part in names() and schema.read(part).get("model") == "faced":
        raise MaterialError(f"{name}: {key} {part!r} is faced itself")
    return load(part)


def _try_out(made: Material) -> None:
    """Build one sheet, so that impossible values are refused with the file's name."""
    try:
        made.layup(thickness=made.thicknesses[0] if made.stock else TRIAL_THICKNESS)
    except MaterialError:
        raise
    except (InputError, ValueError, ArithmeticError) as problem:
        raise MaterialError(f"{made.name}: no sheet can be made of its values: {problem}") from None


def _skinned(core: Material, skin: float) -> tuple[Stock, ...]:
    """Return the stock sheets of a core, thicker by its two skins."""
    return tuple(
        replace(
            item, thickness=item.thickness + 2.0 * skin, trade_label=f"{item.trade_label} + skins"
        )
        for item in core.stock
    )


def rows() -> list[dict[str, Any]]:
    """Return every number of every material, core, skin, glue and tube, one flat row each.

    The rows are what a data page shows and offers as CSV or JSON: material, group (values, scatter,
    adhesive, tube), name, value, low, high, cov, unit, source, basis, note.
    """
    from calc.materials import bonding  # reads its files when it is imported

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
    for name, glue in bonding.GLUE_RECORDS.items():
        add(name, "adhesive", glue.values)
    for name, tube in bonding.TUBE_RECORDS.items():
        add(f"{name}-tube", "tube", tube.values)
    return found
