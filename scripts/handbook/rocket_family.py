"""A family of small rockets, and which of them a material suits: computed, not asserted.

The rockets are invented. They span what people build, from a tiny one on a 13 mm motor to a
98 mm project, with outline, mass and motor each; their speed is computed. For every rocket every
material is searched once (`calc.fin.search`); the tables on the material pages are read off that.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import cast
from urllib.parse import urlencode

from calc import materials
from calc.calculators import material_finder, shared
from calc.calculators.fin_check import PARTS
from calc.fin import policy, search
from calc.fin.fin import Fin, Point
from calc.report import Column, LowerLimit, Table
from calc.units import significant
from calc.wording import listed
from scripts.handbook.names import both, sold_as

FINDER = material_finder.CALCULATOR
FIN_CHECK = "../../check/fin-check/"
"""Address of the fin check, relative to a material's page."""
MARGINAL = (
    f"Marginal: a margin falls short of 1, though nothing gives way in flight; or more than "
    f"{100 * policy.MOST_SHORT:.0f}\N{NO-BREAK SPACE}% of such fins would."
)
"""What the word says, for the note of a table with verdicts."""
DOES_NOT_HOLD = (
    "Does not hold: something gives way at the load of the flight itself, without any reserve, or "
    "the rocket leaves its rod far too slowly. Reserves differ, so one fin may be marginal at a "
    "margin at which another does not hold."
)
"""What the words say, for the note of a table with verdicts."""
AT_LEAST = "At least: the calculation ended there, and the margin may be larger."
"""What a lower limit is, for the note of a table with margins."""


@dataclass(frozen=True)
class Rocket:
    """An invented rocket: what it is, its fins, its mass and the biggest motor it flies on.

    Lengths in millimetres, mass in grams and thrust in newtons, as a builder would write them.
    """

    name: str
    label: str
    motors: str
    body: float
    root: float
    tip: float
    span: float
    sweep: float
    count: int
    mass: float
    """At lift-off, with the biggest motor."""
    motor: str
    thrust: float
    """Average thrust of that motor."""

    @property
    def texts(self) -> dict[str, str]:
        """Inputs of a calculator as a reader would type them."""
        return {
            "root": f"{self.root:g} mm",
            "tip": f"{self.tip:g} mm",
            "span": f"{self.span:g} mm",
            "sweep": f"{self.sweep:g} mm",
            "count": str(self.count),
            "body": f"{self.body:g} mm",
            "flight": "motor",
            "motor": self.motor,
            "thrust": f"{self.thrust:g} N",
            "mass": f"{self.mass:g} g",
        }

    @property
    def address(self) -> str:
        """The same as the part of an address that fills a calculator."""
        return urlencode(self.texts)

    @property
    def template(self) -> Fin:
        """The fin with a material that the search replaces."""
        return material_finder.template(_values(self))

    @property
    def point(self) -> Point:
        """The hardest moment of its flight."""
        return search.worst_moments(_flown(self).points)[0]

    @property
    def speed(self) -> float:
        """Top speed on the biggest motor [m/s]."""
        return max(point.speed for point in _flown(self).points)


ROCKETS: tuple[Rocket, ...] = (
    Rocket("sprite", "Tiny, 13 mm", "1/4A to A", 14, 25, 15, 20, 8, 3, 28, "A", 4),
    Rocket("starter", "First rocket, 25 mm", "A to C", 25, 45, 25, 40, 20, 3, 75, "C", 7),
    Rocket("sport", "Sport, 41 mm", "C, D", 41, 70, 35, 60, 35, 3, 150, "D", 12),
    Rocket("payload", "Payload, 57 mm", "D, E", 57, 90, 55, 75, 30, 4, 330, "E", 24),
    Rocket("dart", "Fast and thin, 29 mm", "E, F", 29, 60, 25, 40, 45, 3, 330, "F", 40),
    Rocket("tall", "Sport, 66 mm", "F, G", 66, 125, 65, 100, 60, 3, 850, "G", 80),
    Rocket("mid", "Certification, 75 mm", "G, H", 75, 150, 75, 110, 75, 3, 1500, "H", 150),
    Rocket("project", "Project, 98 mm", "H to J", 98, 230, 100, 150, 120, 3, 5500, "J", 450),
)
"""The family, slowest and smallest first. Invented; typical of what flies on such motors."""


def _values(rocket: Rocket) -> material_finder.MaterialFinderValues:
    """Return the finder's inputs for one rocket [SI]."""
    outcome, errors = FINDER.read(FINDER.complete({**rocket.texts, "stock": "inch"}))
    if errors:
        raise next(iter(errors.values()))
    return cast(material_finder.MaterialFinderValues, outcome)


@lru_cache(maxsize=16)
def _flown(rocket: Rocket) -> shared.Flying:
    """Return the flight of one rocket on its biggest motor."""
    return shared.flying(_values(rocket))


@lru_cache(maxsize=len(ROCKETS))
def survey(rocket: Rocket) -> tuple[search.Found, ...]:
    """Return what the search finds for every material on one rocket; cached for every page."""
    tried = [materials.load(name) for name in materials.names()]
    values = _values(rocket)
    return material_finder.searched(values, material_finder.template(values), _flown(rocket), tried)


@dataclass(frozen=True, eq=False)
class Place:
    """How a material does on one rocket."""

    rocket: Rocket
    found: search.Found
    rank: int | None
    """1 for the lightest that holds; None where it does not hold."""
    of: int
    """How many materials hold."""
    lightest: search.Found | None


def places(material: str) -> tuple[Place, ...]:
    """Return how a material does on each rocket of the family."""
    out = []
    for rocket in ROCKETS:
        found = survey(rocket)
        good = sorted((f for f in found if f.holds), key=lambda f: f.mass)
        mine = next(f for f in found if f.material.name == material)
        rank = good.index(mine) + 1 if mine.holds else None
        out.append(Place(rocket, mine, rank, len(good), good[0] if good else None))
    return tuple(out)


def suits(material: str) -> Table:
    """Return for which rockets of the family a material holds, and how it ranks by mass."""
    rows, links = [], []
    for place in places(material):
        found = place.found
        # beyond the model a margin promises nothing, so none is shown
        known = found.judged is not None and found.judged.state != "unknown"
        margin = found.judged.governs if found.judged is not None and known else None
        rows.append(
            (
                place.rocket.label,
                shared.outcome(found),
                None
                if margin is None
                else LowerLimit(margin.margin)
                if margin.bound
                else margin.margin,
                found.reason if margin is None else margin.label.lower(),
                both(found.mass, "mass") if found.holds else None,
                f"{place.rank} of {place.of}" if place.rank is not None else None,
                place.rocket.motors,
                both(place.rocket.speed, "speed"),
            )
        )
        size = found.stock or found.material.stock[-1]
        links.append(
            f"{FIN_CHECK}?{place.rocket.address}&material={material}"
            f"&thickness={size.thickness * 1e3:.4g}+mm"
        )
    return Table(
        f"{materials.load(material).label}: on eight invented rockets",
        (
            Column("rocket", "Rocket"),
            Column("state", "Thinnest stock"),
            Column("margin", "Margin", "number"),
            Column("limit", "What limits it"),
            Column("mass", "Set of fins"),
            Column("rank", "By mass"),
            Column("motors", "Motors"),
            Column("speed", "Top speed"),
        ),
        tuple(rows),
        note=f"{MARGINAL} {AT_LEAST} Computed with grain along the leading edge, square "
        "edges and inch stock where there is any. Where nothing holds, the verdict and margin are "
        "those of the thickest stock; where the model ends before, it cannot say. Open a row to "
        "see the fin checked.",
        links=tuple(links),
    )


def _outline(rocket: Rocket) -> str:
    """Return root, tip, span and sweep in millimetres and in inches."""
    sizes = (rocket.root, rocket.tip, rocket.span, rocket.sweep)
    inches = ", ".join(significant(size / 25.4, 2) for size in sizes)
    return f"{', '.join(f'{size:g}' for size in sizes)} mm ({inches} in)"


def _named(found: search.Found) -> str:
    """Return a material with its thickness in both systems, and its margin."""
    assert found.stock is not None
    assert found.judged is not None
    governs = found.judged.governs
    bound = "at least " if governs.bound else ""
    sold = sold_as(found.stock.trade_label, found.stock.thickness)
    return f"{found.material.label}, {sold}, margin {bound}{governs.margin:.2f}"


def _usual(rocket: Rocket) -> str:
    """Return the usual choice for one rocket, with its margin."""
    found = search.usual_choice(survey(rocket))
    if found is None or found.stock is None or found.judged is None:
        return "none"
    return _named(found)


def judged() -> str:
    """Return what the margins of the family cover and what they leave out, as a sentence or two."""
    known = [found.judged for rocket in ROCKETS for found in survey(rocket) if found.judged]
    names = {margin.name for each in known for margin in each.margins}
    told = [name for name in PARTS if name != "material"]
    covered = listed(dict.fromkeys(PARTS[name] for name in told if name in names))
    left = listed(dict.fromkeys(PARTS[name] for name in told if name not in names))
    return (
        f"Margin: the smallest of those judged; 1 is just what is required. Judged: {covered}."
        + (f" Not judged: {left}." if left else "")
    )


def family() -> Table:
    """Return the family itself, with the lightest material that holds for each."""
    rows = []
    for rocket in ROCKETS:
        good = sorted((f for f in survey(rocket) if f.holds), key=lambda f: f.mass)
        rows.append(
            (
                rocket.label,
                both(rocket.speed, "speed"),
                _named(good[0]) if good else "none",
                _usual(rocket),
                rocket.motors,
                f"{rocket.count}: {_outline(rocket)}",
            )
        )
    return Table(
        "The family of rockets",
        (
            Column("rocket", "Rocket (invented)"),
            Column("speed", "Top speed", fold=10),
            Column("lightest", "Lightest that holds", fold=20),
            Column("usual", "Usual choice", fold=20),
            Column("motors", "Motors"),
            Column("fins", "Fins: root, tip, span, sweep"),
        ),
        tuple(rows),
        note=f"{judged()} {AT_LEAST} Invented, typical of what flies on such motors. Speed on the "
        "biggest of the motors, computed. The usual choice is the lightest plain wood or plywood "
        "that holds (common practice).",
    )
