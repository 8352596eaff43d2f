"""A family of small rockets, and which of them a material suits: computed, not asserted.

The rockets are invented. They span what people build, from a tiny one on a 13 mm motor to a
98 mm project, with an outline and a top speed each. For every rocket every material is searched
once (`calc.finder`); the tables on the material pages are read off that.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from calc import atmosphere, check, finder, materials
from calc.calculators import common
from calc.planform import Planform
from calc.report import Column, LowerLimit, Table

FIN_CHECK = "../../check/fin-check/"
"""Where the fin check stands, seen from a material's page."""


@dataclass(frozen=True)
class Rocket:
    """An invented rocket: what it is, its fins and the fastest it flies.

    Lengths in millimetres and speed in m/s, as a builder would write them down.
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
    speed: float
    height: float
    """Height above the ground at top speed [m]."""

    @property
    def planform(self) -> Planform:
        """The fin's outline [m]."""
        return Planform(
            root=self.root * 1e-3,
            tip=self.tip * 1e-3,
            span=self.span * 1e-3,
            sweep=self.sweep * 1e-3,
        )

    @property
    def point(self) -> check.Point:
        """The fastest moment, at a site at sea level on a 15 °C day."""
        air = atmosphere.site(0.0, 288.15).at(self.height)
        return check.Point(speed=self.speed, air=air)

    @property
    def template(self) -> check.Fin:
        """The fin with a material that the search replaces."""
        return check.Fin(
            planform=self.planform,
            material=materials.load("balsa"),
            thickness=0.002,
            count=self.count,
        )

    @property
    def address(self) -> str:
        """Outline and flight as the part of an address that fills a calculator."""
        return (
            f"root={self.root:g}+mm&tip={self.tip:g}+mm&span={self.span:g}+mm"
            f"&sweep={self.sweep:g}+mm&count={self.count}&body={self.body:g}+mm"
            f"&speed={self.speed:g}+m/s&altitude={self.height:g}+m"
        )


ROCKETS: tuple[Rocket, ...] = (
    Rocket("sprite", "Tiny, 13 mm", "1/4A to A", 14, 25, 15, 20, 8, 3, 40, 20),
    Rocket("starter", "First rocket, 25 mm", "A to C", 25, 45, 25, 40, 20, 3, 80, 60),
    Rocket("sport", "Sport, 41 mm", "C, D", 41, 70, 35, 60, 35, 3, 100, 80),
    Rocket("payload", "Payload, 57 mm", "D, E", 57, 90, 55, 75, 30, 4, 90, 80),
    Rocket("dart", "Fast and thin, 29 mm", "F, G", 29, 60, 25, 40, 45, 3, 240, 150),
    Rocket("tall", "Sport, 66 mm", "F, G", 66, 125, 65, 100, 60, 3, 130, 150),
    Rocket("mid", "Certification, 75 mm", "G, H", 75, 150, 75, 110, 75, 3, 170, 200),
    Rocket("project", "Project, 98 mm", "H to K", 98, 230, 100, 150, 120, 3, 260, 300),
)
"""The family, slowest and smallest first. Invented; typical of what flies on such motors."""


@lru_cache(maxsize=len(ROCKETS))
def survey(rocket: Rocket) -> tuple[finder.Found, ...]:
    """Return what the search finds for every material on one rocket; kept for every page."""
    tried = [materials.load(name) for name in materials.names()]
    return finder.find(rocket.template, (rocket.point,), tried, system="inch")


@dataclass(frozen=True, eq=False)
class Place:
    """How a material does on one rocket."""

    rocket: Rocket
    found: finder.Found
    rank: int | None
    """1 for the lightest that holds; None where it does not hold."""
    of: int
    """How many materials hold."""
    lightest: finder.Found | None


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
        told = found.result is not None and found.result.state != "unknown"
        margin = found.result.governs if found.result is not None and told else None
        rows.append(
            (
                place.rocket.label,
                common.outcome(found),
                None
                if margin is None
                else LowerLimit(margin.ratio)
                if margin.bound
                else margin.ratio,
                found.reason if margin is None else margin.label.lower(),
                found.mass * 1e3 if found.holds else None,
                f"{place.rank} of {place.of}" if place.rank is not None else None,
                place.rocket.motors,
                place.rocket.speed,
            )
        )
        size = found.stock or found.material.stock[-1]
        links.append(
            f"{FIN_CHECK}?{place.rocket.address}&material={material}"
            f"&thickness={size.thickness * 1e3:.4g}+mm"
        )
    return Table(
        "On eight invented rockets",
        (
            Column("rocket", "Rocket"),
            Column("state", "Thinnest stock"),
            Column("margin", "Margin", "number"),
            Column("limit", "What limits it"),
            Column("mass", "Set of fins, g", "number"),
            Column("rank", "By mass"),
            Column("motors", "Motors"),
            Column("speed", "Top speed, m/s", "number"),
        ),
        tuple(rows),
        note="Computed with grain along the leading edge, square "
        "edges and inch stock where there is any. Where nothing holds, the verdict and margin are "
        "those of the thickest stock; where the model ends before, it cannot say. Open a row to "
        "see the fin checked.",
        links=tuple(links),
    )


def family() -> Table:
    """Return the family itself, with the lightest material that holds for each."""
    rows = []
    for rocket in ROCKETS:
        good = sorted((f for f in survey(rocket) if f.holds), key=lambda f: f.mass)
        best = good[0] if good else None
        rows.append(
            (
                rocket.label,
                rocket.motors,
                rocket.root,
                rocket.tip,
                rocket.span,
                rocket.sweep,
                str(rocket.count),
                rocket.speed,
                f"{best.material.label}, {best.stock.trade_label}, margin "
                f"{'at least ' if best.result.governs.bound else ''}"
                f"{best.result.governs.ratio:.2f}"
                if best is not None and best.stock is not None and best.result is not None
                else "none",
            )
        )
    return Table(
        "The family of rockets",
        (
            Column("rocket", "Rocket (invented)"),
            Column("motors", "Motors"),
            Column("root", "Root, mm", "number"),
            Column("tip", "Tip, mm", "number"),
            Column("span", "Span, mm", "number"),
            Column("sweep", "Sweep, mm", "number"),
            Column("count", "Fins"),
            Column("speed", "Top speed, m/s", "number"),
            Column("lightest", "Lightest that holds"),
        ),
        tuple(rows),
        note="Invented, typical of what flies on such motors.",
    )
