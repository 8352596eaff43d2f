"""Glues and body tubes: the data of what a bonded joint is made of.

Importing this module reads ``adhesives.toml`` and ``tubes.toml``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from calc.errors import MaterialError
from calc.materials import schema
from calc.materials.schema import Value
from calc.structure.root_joint import Adhesive, Band, Tube

PACKAGE = "calc.materials"
FLAGS = {"soaks", "tough", "damp", "sealed"}
KEYS = {"label", "short", "use", "caution", "values", *FLAGS}
JOINT_VALUES = ("shear_strength", "tension_strength", "modulus")
TUBE_VALUES = (
    "shear_strength",
    "tension_strength",
    "hoop_strength",
    "hoop_modulus",
    "hoop_compression",
    "bending_strength",
    "first_crease",
)


@dataclass(frozen=True)
class Record:
    """A glue or a tube as its file describes it.

    Parameters
    ----------
    name, label
        Key and name for people.
    use
        What it is for.
    values
        Its numbers with unit, band and source.
    short
        Name in forms and sentences; empty for a glue that no joint computes with.
    caution
        What a joint made with it must say; may be empty.
    flags
        Which of `FLAGS` its file sets.
    """

    name: str
    label: str
    use: str
    values: Mapping[str, Value]
    short: str = ""
    caution: str = ""
    flags: frozenset[str] = frozenset()

    def band(self, key: str) -> Band:
        """Return the low and the high end of a value, in SI units."""
        entry = self.values[key]
        if entry.low is None or entry.high is None:
            raise MaterialError(f"{self.name}: {key}: needs low and high")
        return entry.low, entry.high


def record(where: str, name: str, entry: Mapping[str, Any]) -> Record:
    """Return one checked entry of a file.

    Raises
    ------
    MaterialError
        Naming file, entry and key.
    """
    place = f"{where}: {name}"
    extra = set(entry) - KEYS
    if extra:
        raise MaterialError(f"{place}: unknown keys {sorted(extra)}")
    if not entry.get("label") or not entry.get("use"):
        raise MaterialError(f"{place}: needs label and use")
    for flag in FLAGS & set(entry):
        if entry[flag] not in (True, False):
            raise MaterialError(f"{place}: {flag}: needs true or false")
    return Record(
        name=name,
        label=entry["label"],
        use=entry["use"],
        values=schema.values(place, entry.get("values", {})),
        short=entry.get("short", ""),
        caution=entry.get("caution", ""),
        flags=frozenset(flag for flag in FLAGS if entry.get(flag)),
    )


def _read(where: str) -> Mapping[str, Record]:
    entries = schema.read(where, PACKAGE).items()
    return MappingProxyType({name: record(where, name, entry) for name, entry in entries})


def adhesive(glue: Record) -> Adhesive:
    """Return what the joint's mechanics need of a glue.

    Raises
    ------
    MaterialError
        For a glue without a short name or without one of `JOINT_VALUES`.
    """
    _complete(glue, JOINT_VALUES)
    shear, tension, modulus = (glue.band(key) for key in JOINT_VALUES)
    return Adhesive(glue.short, shear, tension, modulus, "soaks" in glue.flags, glue.caution)


def tube(wall: Record) -> Tube:
    """Return what the joint's mechanics need of a tube.

    Raises
    ------
    MaterialError
        For a tube without a short name or without one of `TUBE_VALUES`.
    """
    _complete(wall, TUBE_VALUES)
    shear, tension, strength, modulus, compression, bending, crease = (
        wall.band(key) for key in TUBE_VALUES
    )
    return Tube(
        label=wall.short,
        shear=shear,
        tension=tension,
        hoop_strength=strength,
        hoop_modulus=modulus,
        compression=compression,
        bending=bending,
        crease=crease,
        tough="tough" in wall.flags,
        damp="damp" in wall.flags,
        sealed="sealed" in wall.flags,
        caution=wall.caution,
    )


def _complete(item: Record, keys: tuple[str, ...]) -> None:
    missing = [key for key in keys if key not in item.values]
    if missing or not item.short:
        lacking = ", ".join([*([] if item.short else ["short"]), *missing])
        raise MaterialError(f"{item.name}: a joint cannot be computed without {lacking}")


GLUE_RECORDS: Mapping[str, Record] = _read("adhesives")
"""Every glue and film of the data by name."""

TUBE_RECORDS: Mapping[str, Record] = _read("tubes")
"""Every body tube of the data by name."""

ADHESIVES: Mapping[str, Adhesive] = {
    name: adhesive(item) for name, item in GLUE_RECORDS.items() if item.short
}
"""Glues that joints can be computed with, by name."""

TUBES: Mapping[str, Tube] = {name: tube(item) for name, item in TUBE_RECORDS.items()}
"""Body tubes by name."""
