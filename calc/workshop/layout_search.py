"""Cutting plans: parts laid on stock sheets, every part with its grain along the sheet.

Where a part may lie is found exactly from no-fit polygons. Parts are laid one after another at the
best free corner by a placing rule: first in a few plain orders, then like parts head to tail in
rows and columns. After that a local search improves the order and the orientation of each part.

Not modelled: common cuts shared by two parts, the order of cuts, sheets that are not rectangles.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from enum import Enum, auto
from typing import TypedDict, Unpack

import numpy as np

from calc.errors import InputError
from calc.geometry.polygons import Array, convex_parts, grown_outline, orient
from calc.workshop.items import OUTLINE_TOL, Items, Shape, items_of, placement_matrix
from calc.workshop.no_fit import (
    FreeRegion,
    NoFit,
    no_fit_polygon,
    rectangle,
    subtract_no_fit,
)
from calc.workshop.parts import TOUCH_TOL, Part, Placement, Plan, Sheet, SheetPlan

ROW_SHRINK = 0.98
"""Length allowed to rows of given length, as a share of the best plan's."""
ROW_SLACK = 1.05
"""Length allowed to rows within the used length, as a share of that length."""
LOSS_CHANCE = 0.03
"""Chance that the local search goes on from a worse layout."""
RESTART_EVERY = 25
"""Tries after which the local search goes back to the best layout."""
SCORE_DECIMALS = 9
"""Decimals to which places [m] and layouts [m, m2] are told apart: a thousandth of a micron."""
NO_ROOM = "no room left on the sheets given"


@dataclass(frozen=True)
class SearchStep:
    """Progress of the search.

    Parameters
    ----------
    iteration, iterations
        Number of this try, and of all.
    improved
        Whether this try is better than all before.
    plan
        Best plan so far.
    """

    iteration: int
    iterations: int
    improved: bool
    plan: Plan


class Options(TypedDict, total=False):
    """Options of `search` beside parts and sheets."""

    kerf: float
    margin: float
    corner_clearance: float
    iterations: int
    seed: int


def nest(
    parts: Sequence[Part],
    sheets: Sequence[Sheet],
    *,
    progress: Callable[[SearchStep], bool | None] | None = None,
    **options: Unpack[Options],
) -> Plan:
    """Return a cutting plan.

    Parameters
    ----------
    parts, sheets, options
        As in `search`.
    progress
        Called after every try; returning False stops with the best plan so far.
    """
    return last_plan(search(parts, sheets, **options), progress)


def last_plan(
    steps: Iterable[SearchStep], progress: Callable[[SearchStep], bool | None] | None
) -> Plan:
    """Return the plan of a search's last step, or of the one at which `progress` stopped it."""
    plan = None
    for step in steps:
        plan = step.plan
        if progress is not None and progress(step) is False:
            break
    assert plan is not None
    return plan


def search(
    parts: Sequence[Part],
    sheets: Sequence[Sheet],
    *,
    kerf: float = 0.0,
    margin: float = 0.0,
    corner_clearance: float = 0.01,
    iterations: int = 40,
    seed: int = 0,
) -> Iterator[SearchStep]:
    """Yield the best plan so far after every try.

    Parameters
    ----------
    parts, sheets
        What to cut, and from what; sheets are tried in the order given.
    kerf
        Gap between parts [m], 0 or more.
    margin
        Gap to the sheet's edges [m], 0 or more.
    corner_clearance
        Least distance between a glue line and a part's `keep_clear` points [m], 0 or more.
    iterations
        Tries of the local search after the first plans. The same seed and number of tries give the
        same plan.
    seed
        Of the local search.

    Raises
    ------
    InputError
        If parts or sheets are missing, or a gap is impossible.
    """
    if not parts:
        raise InputError("parts", "none", "at least one part")
    if not sheets:
        raise InputError("sheets", "none", "at least one sheet")
    for name, value in (("kerf", kerf), ("margin", margin), ("corner_clearance", corner_clearance)):
        if not (math.isfinite(value) and value >= 0):
            raise InputError(name, value, "a length from zero")
    if all(min(s.length, s.width) <= 2 * margin for s in sheets):
        raise InputError("margin", margin, "less than half a sheet's width")
    items = items_of(parts, sheets, kerf=kerf, margin=margin, corner_clearance=corner_clearance)
    walk = Walk(items, random.Random(seed))
    starts, pairs = first_schemes(items), paired_schemes(items)
    before = len(starts) + len(pairs)
    total = before + iterations
    plan: Plan | None = None
    for number in range(total):
        if number >= len(starts) and walk.cannot_improve:
            break
        if number < len(starts):
            improved = walk.start(starts[number])
        elif number < before:
            improved = walk.insert(pairs[number - len(starts)])
        else:
            improved = walk.step(number - before)
        if improved:
            laid, missing = walk.best.states[-1]
            plan = plan_of(items, [(sheet, 1) for sheet in laid], missing)
        if number == len(starts) - 1:
            walk.return_to_best()
        assert plan is not None
        yield SearchStep(number + 1, total, improved, plan)


class PlacingRule(Enum):
    """Which free corner a part takes; ties go to the sheet's edges, not its middle."""

    SHORT_THEN_LOW = auto()
    """Least length used by the part, then nearest to the lower edge."""
    SHORT_THEN_HIGH = auto()
    """Least length used by the part, then nearest to the upper edge."""
    CENTRE_FIRST = auto()
    """Mean of the part's corners nearest to the sheet's start, then nearest to either edge."""
    LEAST_GROWTH = auto()
    """Least growth of the length used by all parts, then as `SHORT_THEN_LOW`."""
    ROWS_IN_USED_LENGTH = auto()
    """Row upon row within the length used so far."""
    ROWS_OF_GIVEN_LENGTH = auto()
    """Row upon row within a given length."""


_FREE_RULES = (
    PlacingRule.SHORT_THEN_LOW,
    PlacingRule.SHORT_THEN_HIGH,
    PlacingRule.CENTRE_FIRST,
    PlacingRule.LEAST_GROWTH,
    PlacingRule.ROWS_IN_USED_LENGTH,
)
"""Rules that need no length, as the local search draws them."""


@dataclass(frozen=True)
class _Scheme:
    """All choices from which a layout follows.

    Parameters
    ----------
    order
        Indices of the items in the order of laying.
    orientation
        For each place in the order: which orientation, -1 for the best.
    rule
        Placing rule for all items.
    stock
        Indices of the stock in the order in which new sheets are opened.
    row_length
        Length along the sheet of `PlacingRule.ROWS_OF_GIVEN_LENGTH` [m].
    """

    order: tuple[int, ...]
    orientation: tuple[int, ...]
    rule: PlacingRule
    stock: tuple[int, ...]
    row_length: float = math.inf


@dataclass(frozen=True)
class LaidSheet:
    """A sheet with items on it; never changed, so that layouts can share their first sheets.

    `free` alone is filled as it is needed, with the free region of each shape by its index.
    """

    stock: int
    shapes: tuple[int, ...] = ()
    items: tuple[int, ...] = ()
    places: tuple[tuple[float, float], ...] = ()
    used: float = 0.0
    area: float = 0.0
    free: dict[int, FreeRegion] = field(default_factory=dict)


_Key = tuple[float, ...]
"""Quality of a layout, smaller is better: area not placed, price, and how the sheets are used."""
_State = tuple[tuple[LaidSheet, ...], tuple[int, ...]]
"""Sheets, and indices of items that found no place."""
_EMPTY: _State = ((), ())
_GIVEN_UP: _Key = (math.inf,)
_UNBOUNDED: _Key = (-1.0,)


@dataclass(frozen=True)
class _Layout:
    """A scheme carried out: the state after each item, and the quality of the last."""

    scheme: _Scheme
    states: list[_State]
    key: _Key

    @property
    def given_up(self) -> bool:
        """Whether the layout was left unfinished because it cannot beat another."""
        return self.key == _GIVEN_UP


class Walk:
    """The local search: the best layout so far and the one it goes on from."""

    def __init__(
        self, items: Items, rng: random.Random, pairs: dict[tuple[int, int], NoFit] | None = None
    ) -> None:
        self._items = items
        self._rng = rng
        self._layer = Layer(items, pairs)
        self._bound = _bound(items)
        self._best: _Layout | None = None
        self._current: _Layout | None = None

    @property
    def best(self) -> _Layout:
        """Return the best layout so far."""
        assert self._best is not None
        return self._best

    @property
    def cannot_improve(self) -> bool:
        """Return whether the best layout meets a bound that none can beat."""
        return self.best.key <= self._bound

    def return_to_best(self) -> None:
        """Go on from the best layout."""
        self._current = self.best

    def start(self, scheme: _Scheme) -> bool:
        """Try one of the first schemes; return whether it is the best so far."""
        layout = self._layer.lay(scheme)
        current = self._current
        if current is None or layout.key <= current.key or self._accepts_loss():
            self._current = layout
        return self._keep(layout)

    def insert(self, scheme: _Scheme) -> bool:
        """Try a scheme without going on from it; return whether it is the best so far.

        Rows of given length end a little before the best layout on a single sheet does.
        """
        laid, _ = self.best.states[-1]
        if scheme.rule is PlacingRule.ROWS_OF_GIVEN_LENGTH and len(laid) == 1:
            scheme = replace(scheme, row_length=ROW_SHRINK * laid[0].used)
        return self._keep(self._layer.lay(scheme, limit=self.best.key))

    def step(self, number: int) -> bool:
        """Change one thing in the current scheme; return whether the result is the best so far.

        Equal layouts are accepted, and now and then a worse one.
        """
        if number % RESTART_EVERY == RESTART_EVERY - 1:
            self.return_to_best()
        current = self._current
        assert current is not None
        scheme, unchanged = _mutated(current.scheme, self._items, self._rng)
        base = current if unchanged else None
        layout = self._layer.lay(scheme, base=base, unchanged=unchanged, limit=current.key)
        if layout.key <= current.key:
            self._current = layout
        elif self._accepts_loss():
            if layout.given_up:
                self._current = self._layer.lay(scheme, base=base, unchanged=unchanged)
            else:
                self._current = layout
        return self._keep(layout)

    def _accepts_loss(self) -> bool:
        return self._rng.random() < LOSS_CHANCE

    def _keep(self, layout: _Layout) -> bool:
        """Remember a layout if it is the best so far, and return whether it is."""
        improved = self._best is None or layout.key < self._best.key
        if improved:
            self._best = layout
        return improved


class Layer:
    """Lays items on sheets by a scheme; remembers every no-fit polygon it has computed.

    `pairs` are those of another layer for the same shapes, to which this one adds.
    """

    def __init__(self, items: Items, pairs: dict[tuple[int, int], NoFit] | None = None) -> None:
        self._items = items
        self._pairs: dict[tuple[int, int], NoFit] = {} if pairs is None else pairs
        self._defects: dict[tuple[int, int], list[NoFit]] = {}

    def lay(
        self,
        scheme: _Scheme,
        *,
        base: _Layout | None = None,
        unchanged: int = 0,
        limit: _Key | None = None,
    ) -> _Layout:
        """Return the layout of a scheme.

        Parameters
        ----------
        base, unchanged
            Another layout whose first `unchanged` places are the same.
        limit
            Quality of a layout on a single sheet; a longer layout is given up.
        """
        states = [_EMPTY] if base is None else base.states[: unchanged + 1]
        # The key of a single sheet with all parts on it ends in zero.
        single = limit is not None and len(limit) == 4 and not limit[0] and not limit[3]
        longest = limit[2] if single and limit is not None else math.inf
        for place in range(len(states) - 1, len(scheme.order)):
            laid, missing = states[-1]
            if longest < math.inf and laid and (len(laid) > 1 or laid[0].used > longest):
                return _Layout(scheme, states, _GIVEN_UP)
            states.append(self._put(laid, missing, scheme, place))
        laid, missing = states[-1]
        return _Layout(scheme, states, _key(self._items, laid, missing))

    def _put(
        self,
        laid: tuple[LaidSheet, ...],
        missing: tuple[int, ...],
        scheme: _Scheme,
        place: int,
    ) -> _State:
        """Return the state with one more item, on a sheet in use if possible, else on a new one."""
        item, choice = scheme.order[place], scheme.orientation[place]
        every = self._items.items[item].shapes
        chosen = every if choice < 0 else (every[choice % len(every)],)
        # A given orientation that fits nowhere gives way to the others before a sheet is opened.
        for shapes in (chosen, every) if chosen != every else (chosen,):
            for number, sheet in enumerate(laid):
                spot = self._spot(sheet, shapes, scheme)
                if spot is not None:
                    filled = self._with(sheet, item, *spot)
                    return (*laid[:number], filled, *laid[number + 1 :]), missing
        for stock in scheme.stock:
            count = self._items.stock[stock].count
            if count is not None and sum(s.stock == stock for s in laid) >= count:
                continue
            sheet = LaidSheet(stock)
            for shapes in (chosen, every):
                spot = self._spot(sheet, shapes, scheme)
                if spot is not None:
                    return (*laid, self._with(sheet, item, *spot)), missing
        return laid, (*missing, item)

    def _with(self, sheet: LaidSheet, item: int, shape: int, at: tuple[float, float]) -> LaidSheet:
        """Return a sheet with one more item."""
        return replace(
            sheet,
            shapes=(*sheet.shapes, shape),
            items=(*sheet.items, item),
            places=(*sheet.places, at),
            used=max(sheet.used, at[0] + self._items.shapes[shape].size[0]),
            area=sheet.area + self._items.items[item].area,
            free=dict(sheet.free),
        )

    def _spot(
        self, sheet: LaidSheet, shapes: tuple[int, ...], scheme: _Scheme
    ) -> tuple[int, tuple[float, float]] | None:
        """Return the shape and the free corner that the placing rule prefers, or None."""
        best, found = math.inf, None
        stock = self._items.stock[sheet.stock]
        for number in shapes:
            shape = self._items.shapes[number]
            if shape.mirrored and not stock.two_sided:
                continue
            corners = self._corners(sheet, number)
            if not len(corners):
                continue
            scores = _scores(scheme, corners, shape, width=stock.width, used=sheet.used)
            k = int(np.argmin(scores))
            if scores[k] < best - TOUCH_TOL:
                best = float(scores[k])
                found = (number, (float(corners[k, 0]), float(corners[k, 1])))
        return found

    def _corners(self, sheet: LaidSheet, number: int) -> Array:
        """Return the corners (n, 2) of the region where a shape can go on a sheet."""
        shape, stock = self._items.shapes[number], self._items.stock[sheet.stock]
        margin = self._items.margin
        low = np.array([margin, margin])
        high = np.array([stock.length, stock.width]) - margin - shape.size
        free = sheet.free.get(number)
        new = free is None
        if free is None:
            free = rectangle(low, high)
        high = np.maximum(high, low)
        if new and len(free.corners):
            for defect in self._no_fit_defects(sheet.stock, number):
                free = subtract_no_fit(free, defect, np.zeros(2), low=low, high=high)
        for k in range(free.counted, len(sheet.shapes)):
            if not len(free.corners):
                # A region once empty stays empty: parts only ever take room.
                break
            no_fit = self._no_fit(sheet.shapes[k], number)
            at = np.array(sheet.places[k])
            free = replace(subtract_no_fit(free, no_fit, at, low=low, high=high), counted=k + 1)
        sheet.free[number] = free
        return free.corners

    def _no_fit(self, fixed: int, moving: int) -> NoFit:
        """Return where one shape lies too close to another at the origin."""
        key = (fixed, moving)
        if key not in self._pairs:
            a, b = self._items.shapes[fixed], self._items.shapes[moving]
            # Only one of two parts can lie in a hole of the other.
            first = a.pieces if a.admits(b) else a.filled
            second = b.pieces if b.admits(a) else b.filled
            self._pairs[key] = no_fit_polygon(first, second, kerf=self._items.kerf)
        return self._pairs[key]

    def _no_fit_defects(self, stock: int, moving: int) -> list[NoFit]:
        """Return where a shape overlaps each defect of a stock."""
        key = (stock, moving)
        if key not in self._defects:
            pieces = self._items.shapes[moving].pieces
            self._defects[key] = [
                no_fit_polygon(
                    convex_parts(grown_outline(loop, tolerance=OUTLINE_TOL)), pieces, kerf=0.0
                )
                for loop in self._items.stock[stock].defect_loops
            ]
        return self._defects[key]


def _scores(scheme: _Scheme, corners: Array, shape: Shape, *, width: float, used: float) -> Array:
    """Return a score (n,) for each free corner (n, 2), smaller is better [m].

    Parameters
    ----------
    width, used
        Width of the sheet and length used so far [m].
    """
    x, y = corners[:, 0], corners[:, 1]
    right, top = x + shape.size[0], y + shape.size[1]
    match scheme.rule:
        case PlacingRule.SHORT_THEN_LOW:
            scores = right + 1e-3 * y
        case PlacingRule.SHORT_THEN_HIGH:
            scores = right + 1e-3 * (width - top)
        case PlacingRule.CENTRE_FIRST:
            middle = x + float(np.mean(shape.loop[:, 0]))
            scores = middle + 1e-3 * np.minimum(y, width - top)
        case PlacingRule.LEAST_GROWTH:
            scores = np.maximum(right, used) + 1e-2 * right + 1e-4 * y
        case PlacingRule.ROWS_IN_USED_LENGTH:
            beyond = right > max(used, shape.size[0]) * ROW_SLACK
            scores = top + 1e-3 * x + beyond.astype(float)
        case PlacingRule.ROWS_OF_GIVEN_LENGTH:
            beyond = right > scheme.row_length
            scores = top + 1e-3 * x + beyond * (1.0 + right)
    # Two corners as good as each other must tie on every machine, not differ by its rounding.
    return np.asarray(np.round(scores, SCORE_DECIMALS))


def _price(stock: Sheet) -> float:
    """Return the price of a sheet, or its area where no price is given."""
    return stock.price or stock.length * stock.width


def _key(items: Items, laid: tuple[LaidSheet, ...], missing: tuple[int, ...]) -> _Key:
    """Return the quality of a layout: all placed, cheap, and the last sheet nearly empty."""
    left_over = sum(items.items[i].area for i in missing)
    price = sum(_price(items.stock[s.stock]) for s in laid)
    if len(laid) == 1:
        last, trimmed = laid[0].used, 0.0
    else:
        last = min((s.area for s in laid), default=0.0)
        trimmed = sum(s.used * items.stock[s.stock].width for s in laid)
    # Rounded as scores are, so that layouts as good as each other tie on every machine.
    return (
        round(left_over, SCORE_DECIMALS),
        round(price, SCORE_DECIMALS),
        round(last, SCORE_DECIMALS),
        round(trimmed, SCORE_DECIMALS),
    )


def _bound(items: Items) -> _Key:
    """Return a key that no layout can beat, to stop early when it is reached."""
    if len(items.stock) > 1 or not items.items or items.stock[0].defects:
        return _UNBOUNDED
    sheet = items.stock[0]
    if items.total_area > sheet.length * sheet.width:
        return _UNBOUNDED
    longest = max(min(items.shapes[s].size[0] for s in item.shapes) for item in items.items)
    least = max(longest, items.total_area / items.room(sheet)[1]) + items.margin
    return (0.0, round(_price(sheet), SCORE_DECIMALS), least + 1e-7, math.inf)


def _orders(items: Items) -> list[tuple[int, ...]]:
    """Return the distinct orders to start from: largest first by area, width and length."""

    def size(item: int, axis: int) -> float:
        largest = max(items.shapes[s].size[axis] for s in items.items[item].shapes)
        return round(largest, SCORE_DECIMALS)

    senses: tuple[Callable[[int], _Key], ...] = (
        lambda i: (-round(items.items[i].area, SCORE_DECIMALS),),
        lambda i: (-size(i, 1), -size(i, 0)),
        lambda i: (-size(i, 0), -size(i, 1)),
    )
    every = range(len(items.items))
    return list(dict.fromkeys(tuple(sorted(every, key=sense)) for sense in senses))


def first_schemes(items: Items) -> list[_Scheme]:
    """Return the schemes to start from: large items first, by several placing rules."""
    count, orders, stock = len(items.items), _orders(items), tuple(range(len(items.stock)))
    best = (-1,) * count
    by_turns = tuple(k % 2 for k in range(count))
    return [
        *(_Scheme(order, best, rule, stock) for order in orders for rule in _FREE_RULES),
        _Scheme(orders[0], by_turns, PlacingRule.SHORT_THEN_LOW, stock),
        _Scheme(orders[0], by_turns, PlacingRule.SHORT_THEN_HIGH, stock),
    ]


def paired_schemes(items: Items) -> list[_Scheme]:
    """Return schemes that lay like parts head to tail, in rows along and columns across.

    An item's second orientation is its first rotated by half a turn, its fourth the third so
    rotated. Which of a pair comes first matters at the sheet's end and at its edge.
    """
    most = max((len(item.shapes) for item in items.items), default=0)
    if most < 2:
        return []
    order, stock = _orders(items)[0], tuple(range(len(items.stock)))
    room = items.room(items.stock[0])[1] + items.kerf
    tall = items.shapes[items.items[order[0]].shapes[0]].size[1] + items.kerf
    column = max(1, math.floor(room / tall + 1e-9))

    def by_turns(pair: tuple[int, int], run: int) -> tuple[int, ...]:
        return tuple(pair[k // run % 2] for k in range(len(order)))

    pairs = [pair for pair in ((0, 1), (1, 0), (3, 2), (2, 3)) if max(pair) < most]
    rows = [
        _Scheme(order, by_turns(pair, 1), PlacingRule.ROWS_IN_USED_LENGTH, stock) for pair in pairs
    ]
    columns = [
        _Scheme(order, by_turns(pair, column), rule, stock)
        for pair in pairs[:2]
        for rule in (PlacingRule.SHORT_THEN_HIGH, PlacingRule.SHORT_THEN_LOW)
        if column > 1
    ]
    limited = [replace(scheme, rule=PlacingRule.ROWS_OF_GIVEN_LENGTH) for scheme in rows]
    return rows + columns + limited


def _mutated(scheme: _Scheme, items: Items, rng: random.Random) -> tuple[_Scheme, int]:
    """Change one thing; also return how many first places stay as they were."""
    order, orientation = list(scheme.order), list(scheme.orientation)
    kind = rng.random()
    if kind < 0.15 or len(order) < 2:
        stock = list(scheme.stock)
        if len(stock) > 1 and rng.random() < 0.5:
            rng.shuffle(stock)
        rule = _FREE_RULES[rng.randrange(len(_FREE_RULES))]
        return replace(scheme, rule=rule, stock=tuple(stock)), 0
    i, j = sorted(rng.sample(range(len(order)), 2))
    different = items.items[order[i]] is not items.items[order[j]]
    if kind < 0.65 and different:
        if rng.random() < 0.5:
            order[i], order[j] = order[j], order[i]
            orientation[i], orientation[j] = orientation[j], orientation[i]
        else:
            order.insert(i, order.pop(j))
            orientation.insert(i, orientation.pop(j))
        return replace(scheme, order=tuple(order), orientation=tuple(orientation)), i
    if kind < 0.75:
        # A run of items in two orientations by turns: how like parts interlock.
        choices = (rng.randrange(-1, 4), rng.randrange(-1, 4))
        for k in range(i, j + 1):
            orientation[k] = choices[k % 2]
    else:
        orientation[i] = rng.randrange(-1, len(items.items[order[i]].shapes))
    return replace(scheme, orientation=tuple(orientation)), i


def plan_of(items: Items, laid: Sequence[tuple[LaidSheet, int]], missing: Sequence[int]) -> Plan:
    """Return sheets, each with how many are cut alike, as the plan to show.

    The parts get their true outlines. `missing` are the indices of items without a place.
    """
    seen: Counter[tuple[int, int | None]] = Counter()
    sheets = []
    for sheet, repeats in laid:
        stock = items.stock[sheet.stock]
        before = seen.copy()
        sheets.append(
            SheetPlan(
                stock=sheet.stock,
                placements=_placements(items, sheet, seen),
                used_length=sheet.used,
                part_area=sheet.area,
                sheet_area=stock.length * stock.width,
                repeats=repeats,
            )
        )
        for key, number in (seen - before).items():
            seen[key] += number * (repeats - 1)
    lost = Counter(items.items[item].part for item in missing)
    return Plan(
        parts=items.parts,
        stock=items.stock,
        sheets=tuple(sheets),
        unplaced=(*items.unplaced, *((part, lost[part], NO_ROOM) for part in sorted(lost))),
        glue_lines=tuple(items.glue_lines),
        notes=tuple(items.notes),
        kerf=items.kerf,
        margin=items.margin,
    )


def _placements(
    items: Items, sheet: LaidSheet, seen: Counter[tuple[int, int | None]]
) -> tuple[Placement, ...]:
    """Return what lies on a sheet; copies are numbered in the order they lie along it.

    `seen` counts the copies of each part and strip on the sheets before, and is brought up to date.
    """
    numbers: dict[int, int] = {}
    places = [tuple(round(x, SCORE_DECIMALS) for x in place) for place in sheet.places]
    for k in sorted(range(len(sheet.items)), key=places.__getitem__):
        item = items.items[sheet.items[k]]
        numbers[k] = seen[item.part, item.piece]
        seen[item.part, item.piece] += 1
    return tuple(_placement(items, sheet, k, numbers[k]) for k in range(len(sheet.items)))


def _placement(items: Items, sheet: LaidSheet, k: int, copy: int) -> Placement:
    """Return the k-th item of a sheet with its true outline, its label and its glue lines."""
    item, shape = items.items[sheet.items[k]], items.shapes[sheet.shapes[k]]
    part = items.parts[item.part]
    matrix = placement_matrix(shape.angle, mirrored=shape.mirrored)
    offset = np.array(shape.shift) + sheet.places[k]

    def moved(points: Array) -> tuple[tuple[float, float], ...]:
        return tuple((float(x), float(y)) for x, y in points @ matrix.T + offset)

    label = part.name if part.quantity == 1 else f"{part.name} {copy + 1}"
    glue_lines: list[tuple[str, tuple[tuple[float, float], tuple[float, float]]]] = []
    circles, path = part.circles, part.path
    if item.piece is not None:
        label += " " + _letter(item.piece)
        circles, path = (), ()
        for line in items.glue_lines:
            for segment in map(np.array, line.segments if line.part == item.part else ()):
                if _on_outline(item.loop, segment):
                    start, end = moved(segment)
                    glue_lines.append((line.mark, (start, end)))
    return Placement(
        part=item.part,
        copy=copy,
        piece=item.piece,
        polygon=moved(orient(item.loop, counter_clockwise=not shape.mirrored)),
        holes=tuple(moved(orient(h, counter_clockwise=shape.mirrored)) for h in item.holes),
        angle=math.remainder(shape.angle, 2 * math.pi),
        mirrored=shape.mirrored,
        offset=(float(offset[0]), float(offset[1])),
        label=label,
        circles=tuple((*moved(np.array([[x, y]]))[0], r) for x, y, r in circles),
        glue_lines=tuple(glue_lines),
        grain_locked=part.grain is not None,
        path=tuple(moved(np.array(segment)) for segment in path),
    )


def _letter(number: int) -> str:
    """Return the letter of a strip."""
    return chr(ord("a") + number) if number < 26 else f"z{number - 25}"


def _on_outline(loop: Array, segment: Array) -> bool:
    """Return whether the middle of a segment (2, 2) lies on a side of the loop."""
    middle = segment.mean(axis=0)
    a, b = loop, np.roll(loop, -1, axis=0)
    side = b - a
    share = np.einsum("ij,ij->i", middle - a, side) / np.einsum("ij,ij->i", side, side)
    nearest = a + np.clip(share, 0, 1)[:, None] * side
    return bool((np.hypot(*(middle - nearest).T) < 1e-8).any())
