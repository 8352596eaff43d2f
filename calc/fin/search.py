"""For one fin and flight: every material at its thinnest stock thickness that holds.

Thicker is stiffer and stronger, so each material is searched by halving its list of stock
thicknesses; all materials are evaluated together, one batch a round, on the one model of the
outline. The winner is then checked in full, with spread, and has to hold by the same rules as
in `calc.fin.check`; where it does not, the next thickness is checked.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from calc.aeroelastic import SUBSONIC_LIMIT
from calc.errors import InputError
from calc.fin import check, model, policy, whole
from calc.fin.fin import Fin, Point
from calc.margin import Margin
from calc.materials import Material, Stock
from calc.structure.laminate import Layup
from calc.structure.sandwich import core_index

Progress = Callable[[int, int, str], None]

Others = Callable[[Fin, check.Variant], tuple[Margin, ...]]
"""Returns the margins besides the fin's own that a fin would have."""

SYSTEMS = ("inch", "metric", "both")
MOST_THICKNESS = 0.25
"""Thickness over the smaller of span and root chord at which thin-plate theory is given up."""
NO_SIZE = "no stock size fits"
"""Message where a material is only sold too thick for this fin, or not in this system."""


@dataclass(frozen=True, eq=False)
class Found:
    """What the search found for one material.

    Attributes
    ----------
    material, stock
        The material and the stock sheet: the thinnest that holds, else the thickest there is.
    result
        Full answer at that thickness and at the worst moment; None where no size fits.
    judged
        The verdict of that fin with what else was judged; None where no size fits.
    holds
        Whether it holds by the rules of `calc.fin.check`.
    thinner
        The next thinner stock sheet and the margin that lets it down, None for the thinnest.
    """

    material: Material
    stock: Stock | None
    result: check.Check | None
    holds: bool
    thinner: tuple[Stock, Margin] | None = None
    judged: whole.Whole | None = None

    @property
    def mass(self) -> float:
        """Mass of the set of fins [kg], nan where no size fits."""
        if self.result is None:
            return math.nan
        return float(self.result.structure.mass[0]) * self.result.fin.count

    @property
    def reason(self) -> str:
        """Why it does not hold: what fails at the thickest stock, and by how much."""
        if self.judged is None:
            return NO_SIZE
        margin = self.judged.governs
        if self.judged.state == "unknown":
            return doubts(self.judged.margins)
        if margin.margin >= 1.0:
            return f"too uncertain: {self.judged.shortfall:.0%} would give way in flight"
        return f"{margin.label.lower()}: margin {margin.margin:.2f}"


USUAL_FAMILIES = ("wood", "plywood")
"""Families that most builders reach for first; common practice."""


def usual_choice(found: Iterable[Found]) -> Found | None:
    """Return the lightest plain wood or plywood at hand in most shops that holds, if any does."""
    good = [
        item
        for item in found
        if item.holds and item.material.at_hand and item.material.family in USUAL_FAMILIES
    ]
    return min(good, key=lambda item: item.mass, default=None)


def doubts(margins: Sequence[Margin]) -> str:
    """Return why a margin cannot be promised, in words; "" where all can."""
    return "; ".join(dict.fromkeys(margin.note for margin in margins if not margin.known))


def sizes(material: Material, fin: Fin, system: str = "both") -> tuple[Stock, ...]:
    """Return one stock sheet per thickness that this outline can carry, thinnest first.

    A material sold in one system only is offered in every system: a printed part and a sheet of
    paper have no inch sizes, yet every reader can have them.
    """
    if system not in SYSTEMS:
        raise InputError("stock", system, f"one of {', '.join(SYSTEMS)}")
    sold = {item.system for item in material.stock}
    wanted = sold if system == "both" or system not in sold else {system}
    most = MOST_THICKNESS * min(fin.planform.span, fin.planform.root)
    kept: dict[float, Stock] = {}
    for item in sorted(material.stock, key=lambda item: item.thickness):
        if item.system in wanted and item.thickness <= most:
            kept.setdefault(round(item.thickness, 6), item)
    return tuple(kept.values())


def worst_moments(points: Sequence[Point]) -> tuple[Point, ...]:
    """Return the moments that can be the worst: no other is at once faster and harder.

    Flutter, divergence and load grow with dynamic pressure, the effect of compressibility with
    the Mach number; a moment below another in all of these requires less. Beyond
    Mach 0.9 it must also be in thinner air: a faster moment judges the passage of Mach 1.2 in
    its own air, which covers an earlier one only where that was no denser.
    """

    def above(a: Point, b: Point) -> bool:
        if b.mach > SUBSONIC_LIMIT and float(a.air.density) < float(b.air.density):
            return False
        if a.pressure * a.attack < b.pressure * b.attack:  # in thin air a gust turns less
            return False
        return a.speed >= b.speed and a.pressure >= b.pressure and a.mach >= b.mach

    kept: list[Point] = []
    for point in sorted(points, key=lambda p: -p.pressure):
        if not any(above(other, point) for other in kept):
            kept.append(point)
    return tuple(kept)


@dataclass
class _Search:
    """Where the search for one material stands."""

    material: Material
    stock: tuple[Stock, ...]
    low: int = -1
    """Index of the thickest stock known to fail."""
    high: int = 0
    """Index of the thinnest stock taken to be good; the number of sizes when none is known."""
    failing: Margin | None = None
    """What let the stock at `low` down."""

    @property
    def middle(self) -> int:
        return (self.low + self.high) // 2


def _fin(template: Fin, material: Material, thickness: float) -> Fin:
    return replace(template, material=material, thickness=thickness, density=None, cut=None)


def _score(margins: Sequence[Margin]) -> float:
    return min(margin.margin for margin in margins)


def _survey(
    template: Fin, stacks: Sequence[Layup], points: Sequence[Point]
) -> list[tuple[Margin, ...]]:
    """Return the worst margins of each stack over the moments; weak cores in their own batch."""
    out: list[tuple[Margin, ...]] = [()] * len(stacks)
    for weak in (False, True):
        rows = [i for i, stack in enumerate(stacks) if bool(core_index(stack)) is weak]
        if not rows:
            continue
        shape, known = model.build(
            template, [stacks[i] for i in rows], [template.direction] * len(rows)
        )
        found = [check.batch_margins(template, shape, known, point).margins for point in points]
        for place, row in enumerate(rows):
            choices = [moment[place] for moment in found]
            out[row] = min(choices, key=_score)
    return out


def find(
    template: Fin,
    points: Sequence[Point],
    materials: Sequence[Material],
    *,
    system: str = "both",
    others: Others | None = None,
    progress: Progress | None = None,
) -> tuple[Found, ...]:
    """Return, for every material, the thinnest stock that holds, or why none does.

    Parameters
    ----------
    template
        A fin whose outline, edges, grain angle, count and finish are used; its material and
        thickness are replaced.
    points
        Moments of the flight; every fin is judged at its worst one.
    materials
        What to try.
    system
        "inch", "metric" or "both": which stock sizes are offered.
    others
        Returns the margins besides the fin's own that a fin would have.
    progress
        Called with (done, total, note) after every batch and every full check.

    Returns
    -------
    tuple
        One `Found` per material, in the given order.

    Validity: as `calc.fin.check`. Margins are taken to grow with thickness, which a change in the
    number of plies can upset by one size; edges rounded in proportion are judged as the
    template's.
    """
    moments = worst_moments(points)
    searches = []
    for material in materials:
        stock = sizes(material, template, system)
        searches.append(_Search(material, stock, high=len(stock)))
    longest = max((len(search.stock) for search in searches), default=0)
    rounds = max(1, math.ceil(math.log2(longest + 1)))
    total = rounds + len(searches)
    done = 0
    while True:
        open_ = [search for search in searches if search.high - search.low > 1]
        if not open_:
            break
        stacks = [_fin(template, s.material, s.stock[s.middle].thickness).layup() for s in open_]
        for search, margins in zip(open_, _survey(template, stacks, moments), strict=True):
            if all(margin.ratio >= margin.required for margin in margins):
                search.high = search.middle
            else:
                search.low, search.failing = search.middle, policy.governing(margins)
        done += 1
        if progress is not None:
            progress(done, total, f"narrowing {len(open_)} materials")
    out = []
    for number, search in enumerate(searches):
        out.append(_confirm(template, moments, search, others))
        if progress is not None:
            progress(rounds + number + 1, total, search.material.label)
    return tuple(out)


def _confirm(
    template: Fin, moments: Sequence[Point], search: _Search, others: Others | None
) -> Found:
    """Check the winner in full, and thicker ones while they do not hold."""
    if not search.stock:
        return Found(search.material, None, None, False)
    thinner = None
    place = min(search.high, len(search.stock) - 1)
    if 0 <= search.low < place and search.failing is not None:
        thinner = (search.stock[search.low], search.failing)
    while True:
        fin = _fin(template, search.material, search.stock[place].thickness)
        result = worst(fin, moments)
        judged = whole.whole(result, others(fin, result.variant) if others is not None else ())
        holds = judged.state == "holds"
        if holds or place == len(search.stock) - 1:
            stock = search.stock[place]
            return Found(search.material, stock, result, holds, thinner, judged)
        thinner = (search.stock[place], judged.governs)
        place += 1


def worst(fin: Fin, moments: Sequence[Point]) -> check.Check:
    """Return the full check of a fin at the moment that leaves it the smallest margin."""
    results = [check.check(fin, point) for point in moments]
    return min(results, key=lambda result: policy.score(result.margins))


@dataclass(frozen=True)
class Climb:
    """One fin along a flight.

    Attributes
    ----------
    worst
        Place of the moment that leaves the weakest margin; the first of equal ones.
    margins
        Margins at each moment.
    """

    worst: int
    margins: tuple[tuple[Margin, ...], ...]


def climb(fin: Fin, points: Sequence[Point]) -> Climb:
    """Return the margins of a fin at the moments of a flight, and the worst of these.

    Stiffness and modes are computed once, and the air of all moments is searched together.
    """
    every = list(dict.fromkeys(points))
    stack = fin.layup()
    ways = [
        check.along_trajectory(fin, *model.build(fin, [stack], [angle]), every)
        for angle in check.as_cut(stack, fin.direction)
    ]
    judged = [check.lowest(moment) for moment in zip(*ways, strict=True)]
    known = dict(zip(every, judged, strict=True))
    hardest = worst_moments(points)
    scores = {}
    for place, point in enumerate(points):
        # a limit is only as far as was looked, so that of an easier moment asks nothing
        counts = [m for m in known.get(point, ()) if point in hardest or not m.bound]
        if counts:
            # to nine digits, so that of equal moments every machine takes the same one
            scores[place] = float(f"{policy.score(counts):.9g}")
    worst = min(scores, key=lambda place: (scores[place], place))
    return Climb(worst, tuple(known.get(point, ()) for point in points))


def worst_moment(fin: Fin, points: Sequence[Point]) -> int:
    """Return the place of the moment that leaves a fin the weakest margin; first of equal ones."""
    return climb(fin, points).worst if len(points) > 1 else 0
