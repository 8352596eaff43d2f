"""Plans of many like parts: one good sheet for the mix is planned and cut again and again.

A search over hundreds of parts would take minutes and gain little. Here a sheet is filled with the
parts in the proportions in which they are still wanted, and repeated while there are enough of
each; then the next sheet is planned for what is left. Small parts are planned on a part of the
sheet's length, which is repeated along it.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Unpack

from calc.workshop import layout_search
from calc.workshop.items import Item, Items, items_of
from calc.workshop.layout_search import (
    LaidSheet,
    Options,
    SearchStep,
    Walk,
    first_schemes,
    last_plan,
    paired_schemes,
    plan_of,
)
from calc.workshop.no_fit import NoFit
from calc.workshop.parts import Part, Plan, Sheet

FEW = 24
"""Parts and strips up to which all are laid together, and after which sheets are repeated."""
AT_ONCE = 60
"""Parts up to which all are laid together where one sheet may hold them."""
CROWDED = 24
"""Parts above which a sheet is planned piece by piece along its length."""
FILL = 0.8
"""Share of a sheet that parts are expected to fill, for a first guess of how many fit."""
SIMPLE = 5
"""Schemes from which the search for a later sheet starts."""
LADDER = (30, 200, 600, 2000)
"""Tries at each sheet, one plan after the other; a longer search makes all plans of a shorter."""


def nest(
    parts: Sequence[Part],
    sheets: Sequence[Sheet],
    *,
    progress: Callable[[SearchStep], bool | None] | None = None,
    **options: Unpack[Options],
) -> Plan:
    """Return a cutting plan of few or many parts; as `layout_search.nest`."""
    return last_plan(search(parts, sheets, **options), progress)


def search(
    parts: Sequence[Part], sheets: Sequence[Sheet], **options: Unpack[Options]
) -> Iterator[SearchStep]:
    """Yield the best plan so far after every try; as `layout_search.search`."""
    if len(sheets) == 1 and sum(part.quantity for part in parts) > FEW:
        margin, kerf = options.get("margin", 0.0), options.get("kerf", 0.0)
        room = (sheets[0].length - 2 * margin + kerf) * (sheets[0].width - 2 * margin + kerf)
        area = sum(part.area * part.quantity for part in parts)
        many = sum(part.quantity for part in parts) > AT_ONCE
        if room > 0.0 and (many or area > room):
            yield from _repeating(parts, sheets[0], options)
            return
    yield from layout_search.search(parts, sheets, **options)


def _repeating(parts: Sequence[Part], sheet: Sheet, options: Options) -> Iterator[SearchStep]:
    # A first question to the other search checks the inputs in the same words.
    once: Options = {**options, "iterations": 0}
    next(layout_search.search([replace(parts[0], quantity=1)], [sheet], **once))
    items = items_of(
        parts,
        [sheet],
        kerf=options.get("kerf", 0.0),
        margin=options.get("margin", 0.0),
        corner_clearance=options.get("corner_clearance", 0.01),
    )
    iterations = options.get("iterations", 40)
    work = _Work(items, options.get("seed", 0))
    ways = (True,) if len(work.kinds) < 2 else (True, False)
    asked: list[tuple[int | None, bool]] = [(None, way) for way in ways]
    longer = [0, *(level for level in LADDER if level <= iterations)]
    total = len(asked) + len(longer)
    best: _Filled | None = None
    plan: Plan | None = None
    better = True
    for number in range(total):
        if number < len(asked):
            level, way = asked[number]
        else:
            # Only the way that has done better is searched further.
            level, way = longer[number - len(asked)], better
        found = work.fill(level, in_proportion=way)
        improved = best is None or found.key < best.key
        if improved:
            best, better = found, way
            plan = plan_of(items, found.sheets, found.missing)
        assert plan is not None
        yield SearchStep(number + 1, total, improved, plan)


@dataclass(frozen=True)
class _Filled:
    """A whole plan: sheets and how often each is cut, items without a place, quality."""

    sheets: list[tuple[LaidSheet, int]]
    missing: list[int]
    key: tuple[float, ...]


@dataclass
class _Row:
    """A sheet that is being put together from lengths planned before, and how often it is cut."""

    strips: list[LaidSheet]
    repeats: int
    left: float
    """Length still free [m]."""


class _Work:
    """The kinds of items and what is remembered between plans."""

    def __init__(self, items: Items, seed: int) -> None:
        self._items = items
        self._seed = seed
        self._pairs: dict[tuple[int, int], NoFit] = {}
        self._sheet = items.stock[0]
        first: dict[int, int] = {}
        wanted: Counter[int] = Counter()
        for index, item in enumerate(items.items):
            number = first.setdefault(id(item), index)
            wanted[number] += 1
        self.kinds = sorted(wanted, key=lambda k: -items.items[k].area)
        """Index of one item of each kind, the largest first."""
        self._wanted = wanted
        self._length = self._strip_length()

    def _item(self, kind: int) -> Item:
        return self._items.items[kind]

    def _strip_length(self) -> float:
        """Return the length of sheet that is planned at a time [m], with its margins."""
        room, width = self._items.room(self._sheet)
        if not self.kinds or self._sheet.defects:
            return self._sheet.length
        mean = self._items.total_area / len(self._items.items)
        held = FILL * room * width / mean
        longest = max(
            min(self._items.shapes[s].size[0] for s in self._item(kind).shapes)
            for kind in self.kinds
        )
        pieces = min(math.floor(held / CROWDED), math.floor(room / (1.5 * longest)))
        if pieces < 2:
            return self._sheet.length
        kerf = self._items.kerf
        return (room + kerf) / pieces - kerf + 2 * self._items.margin

    def fill(self, tries: int | None, *, in_proportion: bool) -> _Filled:
        """Return a whole plan.

        Parameters
        ----------
        tries
            Of the local search at each sheet; None: lay each sheet once, by the first scheme.
        in_proportion
            Whether a sheet is offered the parts in the proportions wanted, rather than as many of
            each as it might hold, the largest first.
        """
        left = Counter({kind: self._wanted[kind] for kind in self.kinds})
        rows: list[_Row] = []
        most = self._sheet.count or math.inf
        while sum(left.values()):
            laid, counts = self._best(left, tries, in_proportion=in_proportion, first=not rows)
            if not counts:
                break
            repeats = min(left[kind] // number for kind, number in counts.items())
            placed = self._add(rows, laid, repeats, most)
            for kind, number in counts.items():
                left[kind] -= number * placed
            left = +left
            if placed < repeats:
                break
        missing = [kind for kind, number in left.items() for _ in range(number)]
        sheets = [(self._joined(row), row.repeats) for row in rows]
        key = (
            sum(self._item(kind).area for kind in missing),
            float(sum(number for _, number in sheets)),
            sum(sheet.used * number for sheet, number in sheets),
        )
        return _Filled(sheets, missing, key)

    def _best(
        self, left: Counter[int], tries: int | None, *, in_proportion: bool, first: bool
    ) -> tuple[LaidSheet, dict[int, int]]:
        """Return the fullest length of sheet for what is left, and its items by kind.

        The first sheet is cut most often; what is left over deserves a shorter search.
        """
        offered = self._offer(left, in_proportion=in_proportion)
        order = [kind for kind, number in offered.items() for _ in range(number)]
        sheet = replace(self._sheet, length=self._length, count=1)
        items = replace(self._items, items=[self._item(kind) for kind in order], stock=(sheet,))
        walk = Walk(items, random.Random(self._seed), self._pairs)
        starts, pairs = first_schemes(items), paired_schemes(items)
        if tries is None:
            walk.start(pairs[0] if pairs else starts[0])
        else:
            for scheme in starts if first else starts[:SIMPLE]:
                walk.start(scheme)
                if walk.cannot_improve:
                    break
            for scheme in () if walk.cannot_improve else pairs:
                walk.insert(scheme)
            walk.return_to_best()
            for number in range(tries if first else tries // 3):
                if walk.cannot_improve:
                    break
                walk.step(number)
        laid, _ = walk.best.states[-1]
        if not laid:
            return LaidSheet(0), {}
        found = replace(laid[0], items=tuple(order[k] for k in laid[0].items), free={})
        return found, dict(Counter(found.items))

    def _offer(self, left: Counter[int], *, in_proportion: bool) -> dict[int, int]:
        """Return how many of each kind to try on one length of sheet: a little more than fit."""
        margin, kerf = self._items.margin, self._items.kerf
        width = self._sheet.width - 2 * margin + kerf
        room = (self._length - 2 * margin + kerf) * width
        takes = {
            kind: (math.sqrt(self._item(kind).area) + 0.5 * math.sqrt(math.pi) * kerf) ** 2
            for kind in left
        }
        if not in_proportion:
            found: dict[int, int] = {}
            for kind in self.kinds:
                if kind in left and sum(found.values()) < 2 * CROWDED:
                    found[kind] = min(left[kind], 2 * CROWDED, math.ceil(room / takes[kind]))
            return found
        lengths = max(1.0, sum(takes[kind] * left[kind] for kind in left) / room)
        shares = {kind: min(left[kind], round(left[kind] / lengths)) for kind in left}
        offered = {kind: number for kind, number in shares.items() if number}
        return offered or {max(left, key=lambda kind: takes[kind] * left[kind]): 1}

    def _add(self, rows: list[_Row], laid: LaidSheet, repeats: int, most: float) -> int:
        """Put a length of sheet into the rows as often as wanted; return how often it found room.

        Sheets with knots are planned whole, and never share.
        """
        margin, kerf = self._items.margin, self._items.kerf
        room = self._items.room(self._sheet)[0]
        takes = laid.used - margin
        alone = bool(self._sheet.defects)
        wanted = repeats
        for row in rows:
            while wanted and not alone and row.repeats == 1 and row.left >= takes + kerf - 1e-9:
                row.strips.append(laid)
                row.left -= takes + kerf
                wanted -= 1
        each = 1 if alone else max(1, math.floor((room + kerf) / (takes + kerf) + 1e-9))
        while wanted:
            free = most - sum(row.repeats for row in rows)
            if free < 1:
                break
            number = min(each, wanted)
            many = int(min(wanted // number, free))
            left = room - number * takes - (number - 1) * kerf
            rows.append(_Row([laid] * number, many, left))
            wanted -= number * many
        return repeats - wanted

    def _joined(self, row: _Row) -> LaidSheet:
        """Return the sheet of a row: its lengths one after the other."""
        start = 0.0
        shapes: list[int] = []
        items: list[int] = []
        places: list[tuple[float, float]] = []
        used = area = 0.0
        for strip in row.strips:
            shapes += strip.shapes
            items += strip.items
            places += [(x + start, y) for x, y in strip.places]
            area += strip.area
            used = start + strip.used
            start += strip.used - self._items.margin + self._items.kerf
        return LaidSheet(0, tuple(shapes), tuple(items), tuple(places), used, area)
