"""What sealing and painting weigh, and the usual steps for each family of material."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from calc import datafiles
from calc.errors import InputError

_COATS = "coats"


@dataclass(frozen=True)
class Coat:
    """One coat on one face: low and high dry mass [kg/m2], and their source."""

    key: str
    label: str
    low: float
    high: float
    source: str
    note: str = ""


@dataclass(frozen=True)
class WorkStep:
    """One step of work; `times` is how often its coat is usually applied, low and high."""

    do: str
    grit: str = ""
    coat: str | None = None
    times: tuple[int, int] = (0, 0)


@dataclass(frozen=True)
class Finish:
    """The usual finish of a family of material.

    Parameters
    ----------
    family, label
        Key and name of the family.
    steps
        In order.
    warp
        Advice on how to keep the fin flat.
    source
        Source of the steps.
    """

    family: str
    label: str
    steps: tuple[WorkStep, ...]
    warp: str
    source: str

    @property
    def light(self) -> dict[str, int]:
        """Return the coats of the lightest usual finish: key and number."""
        return _counted(self.steps, 0)

    @property
    def full(self) -> dict[str, int]:
        """Return the coats of the heaviest usual finish: key and number."""
        return _counted(self.steps, 1)


@dataclass(frozen=True)
class Range:
    """A quantity with its low and high end, in SI units."""

    low: float
    high: float

    @property
    def middle(self) -> float:
        """Return the mean of both ends."""
        return 0.5 * (self.low + self.high)


@lru_cache(maxsize=1)
def coats() -> Mapping[str, Coat]:
    """Return all coats by key.

    >>> coats()["paint"].low
    0.01
    """
    data = datafiles.read("calc.workshop.finishes", _COATS)
    source = data.pop("source")
    return {
        key: Coat(key, c["label"], c["low"], c["high"], source, c.get("note", ""))
        for key, c in data.items()
    }


@lru_cache(maxsize=1)
def families() -> tuple[str, ...]:
    """Return the families that have a usual finish.

    >>> "plywood" in families()
    True
    """
    return tuple(name for name in datafiles.names("calc.workshop.finishes") if name != _COATS)


@lru_cache(maxsize=32)
def usual(family: str) -> Finish:
    """Return the usual finish of a family of material.

    Parameters
    ----------
    family
        One of `families`.

    Returns
    -------
    Finish
        Steps in order, coats and cautions.

    Raises
    ------
    InputError
        If the family has no usual finish.

    References
    ----------
    Common practice; see the data files of calc/workshop/finishes.

    Examples
    --------
    >>> usual("balsa").steps[1].coat
    'dope-first'
    """
    if family not in families():
        raise InputError("material", family, f"one of {', '.join(families())}")
    data = datafiles.read("calc.workshop.finishes", family)
    steps = tuple(
        WorkStep(
            step["do"],
            step.get("grit", ""),
            step.get("coat"),
            (step["times"][0], step["times"][1]) if "times" in step else (0, 0),
        )
        for step in data["steps"]
    )
    return Finish(family, data["label"], steps, data["warp"], data["source"])


def areal_mass(layers: Mapping[str, int], *, faces: int = 2) -> Range:
    """Return the mass per fin area that a finish adds.

    Parameters
    ----------
    layers
        Number of each coat on one face, by key of `coats`.
    faces
        Faces coated: 2 or 1.

    Returns
    -------
    Range
        Added mass per area of the fin's plan [kg/m2].

    Raises
    ------
    InputError
        If a coat is unknown, or a number of coats or faces is impossible.

    Notes
    -----
    Equation: faces * sum(count_i * m_i). Valid for careful hobby work; all coats are at their low
    or at their high end together, so the range is wide. The finish adds no stiffness here, though
    cloth and skins do: model those as plies instead.

    References
    ----------
    Common practice, from memory, unverified; see calc/workshop/finishes/coats.toml.

    Examples
    --------
    >>> band = areal_mass({"primer": 1, "paint": 2})
    >>> round(band.low, 3), round(band.high, 3)
    (0.07, 0.2)
    """
    if faces not in (1, 2):
        raise InputError("faces", faces, "1 or 2")
    known = coats()
    for key, count in layers.items():
        if key not in known:
            raise InputError("coats", key, f"coats among {', '.join(known)}")
        if count < 0:
            raise InputError("coats", count, "a number of coats of zero or more")
    low = math.fsum(count * known[key].low for key, count in layers.items())
    high = math.fsum(count * known[key].high for key, count in layers.items())
    return Range(faces * low, faces * high)


def added_mass(layers: Mapping[str, int], *, area: float, count: int = 1, faces: int = 2) -> Range:
    """Return the mass that a finish adds to a set of fins.

    Parameters
    ----------
    layers
        Number of each coat on one face, by key of `coats`.
    area
        Plan area of one fin [m2].
    count
        Number of fins.
    faces
        Faces coated: 2 or 1.

    Returns
    -------
    Range
        Added mass [kg].

    Notes
    -----
    Equation: m = count * area * `areal_mass`. Edges are left out, which for thin fins is a few per
    cent.

    References
    ----------
    As `areal_mass`.

    Examples
    --------
    >>> band = added_mass({"paint": 1}, area=0.0042, count=3)
    >>> round(1000 * band.low, 2), round(1000 * band.high, 2)
    (0.25, 0.76)
    """
    if not area > 0.0:
        raise InputError("area", area, "an area above zero")
    if count < 1:
        raise InputError("count", count, "1 or more")
    each = areal_mass(layers, faces=faces)
    return Range(count * area * each.low, count * area * each.high)


def usual_areal_mass(family: str) -> Range:
    """Return the mass per fin area of the usual finish, from its lightest to its heaviest.

    Parameters
    ----------
    family
        One of `families`.

    Returns
    -------
    Range
        Added mass per area, both faces [kg/m2].

    References
    ----------
    As `areal_mass`.
    """
    finish = usual(family)
    return Range(areal_mass(finish.light).low, areal_mass(finish.full).high)


def _counted(steps: tuple[WorkStep, ...], end: int) -> dict[str, int]:
    counts: dict[str, int] = {}
    for step in steps:
        if step.coat and step.times[end]:
            counts[step.coat] = counts.get(step.coat, 0) + step.times[end]
    return counts
