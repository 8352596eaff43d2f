"""Cutting plan: flat parts on stock sheets, every part with its grain along the sheet.

A sheet lies with its length (and grain) along x and its width along y, corner at (0, 0). A part
may be put down four ways: grain forward or backward, either face up if the sheet is the same on
both sides. Where a part may go is found exactly from *no-fit polygons*: the positions of a part at
which it would overlap another (its Minkowski sum with the other, mirrored through a point, grown by
the kerf). Parts are put down one after another at the best free corner of these regions: first in
a few plain orders, then like parts head to tail in rows and columns, and then the order and the
turn of each part are improved by local search.

The no-fit polygon goes back to Art, "An approach to the two dimensional irregular cutting stock
problem", IBM Cambridge Scientific Center report 36.Y08 (1966) (from memory, unverified); splitting
into convex parts and placing at corners of the free region are common practice.

Parts touch or keep the kerf to within a nanometre; curves are packed as polygons up to 0.15 mm
outside them (0.4 mm inside a hole), so they lie a little further apart than the kerf.

Not modelled: common cuts shared by two parts, the order of cuts, sheets that are not rectangles,
wood lost when the edges of a glue joint are trued.
"""

from __future__ import annotations

import math
import random
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TypedDict, Unpack

import numpy as np
from numpy.typing import NDArray

from calc.errors import InputError
from calc.polygons import (
    Array,
    area,
    cleaned,
    contains,
    convex_offset,
    convex_parts,
    convex_sum,
    cut_at,
    grown_outline,
    is_simple,
    turned,
)

Points = Sequence[Sequence[float]]
CLEAR = 1e-9  # m; parts may touch, and touching is judged to this
OUTLINE = 1.5e-4  # m; curves are packed as polygons that stand out from them by at most this
SHORTER = 0.98  # of the best plan's length: how far rows of given length may run
HOLE = 4e-4  # m; the same for holes, which cost more corners


@dataclass(frozen=True)
class Part:
    """A flat part in its own coordinates.

    Parameters
    ----------
    outline
        Corners (n, 2) [m]; a curve is given as a fine polygon around it.
    grain
        Direction of the grain in the part's coordinates [rad from x]; None: the part may be turned
        by any quarter turn.
    quantity
        How many are wanted.
    holes
        Outlines of holes; smaller parts may be cut from them.
    name
        Shown on the template.
    root
        Two points of the edge that is glued to the tube, the front end first; glue lines keep off
        it where they can.
    keep_clear
        Points (tip corners) that a glue line must not come close to.
    circles
        (x, y, radius) of true circles that the outline and the holes stand for, so that a template
        can draw them as circles and the area is that of the circles.
    mirror
        Whether the part may be cut face down.
    """

    outline: Points
    grain: float | None = 0.0
    quantity: int = 1
    holes: tuple[Points, ...] = ()
    name: str = "part"
    root: Points | None = None
    keep_clear: Points = ()
    circles: tuple[tuple[float, float, float], ...] = ()
    mirror: bool = True

    def __post_init__(self) -> None:
        if self.quantity < 1 or self.quantity != int(self.quantity):
            raise InputError("quantity", self.quantity, "a whole number of parts from 1")
        if self.grain is not None and not math.isfinite(self.grain):
            raise InputError("grain", self.grain, "an angle")
        _checked_loop("outline", self.outline)
        outer = self.loop
        for hole in self.hole_loops:
            _checked_loop("holes", hole)
            if not contains(outer, hole).all():
                raise InputError("holes", self.name, "holes that lie inside the outline")

    @cached_property
    def loop(self) -> Array:
        """Outline (n, 2), counter-clockwise [m]."""
        return turned(cleaned(np.asarray(self.outline, dtype=float)))

    @cached_property
    def hole_loops(self) -> tuple[Array, ...]:
        """Holes, each (n, 2), clockwise [m]."""
        return tuple(
            turned(cleaned(np.asarray(h, dtype=float)), counter_clockwise=False) for h in self.holes
        )

    @cached_property
    def area(self) -> float:
        """Area of one part [m2]."""
        if self.circles:
            radii = sorted((c[2] for c in self.circles), reverse=True)
            return math.pi * (radii[0] ** 2 - sum(r * r for r in radii[1:]))
        return area(self.loop) + sum(area(h) for h in self.hole_loops)


@dataclass(frozen=True)
class Sheet:
    """Stock of one size, grain along the length.

    Parameters
    ----------
    length, width
        Along and across the grain [m].
    count
        How many there are; None: as many as needed.
    defects
        Places to avoid on each sheet: polygons as points, or circles as (x, y, radius) [m].
    two_sided
        Whether both faces are alike, so that parts may be cut face down.
    areal_mass
        [kg/m2]
    price
        Price of one sheet, in any currency.
    """

    length: float
    width: float
    count: int | None = None
    defects: tuple[Points | tuple[float, float, float], ...] = ()
    two_sided: bool = True
    areal_mass: float = 0.0
    price: float = 0.0
    name: str = "sheet"

    def __post_init__(self) -> None:
        for name in ("length", "width"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0):
                raise InputError(name, value, "a length above zero")
        if self.count is not None and self.count < 1:
            raise InputError("count", self.count, "a whole number of sheets from 1, or nothing")
        for name in ("areal_mass", "price"):
            if not getattr(self, name) >= 0:
                raise InputError(name, getattr(self, name), "a number from zero")
        for loop in self.defect_loops:
            _checked_loop("defects", loop)

    @cached_property
    def defect_loops(self) -> tuple[Array, ...]:
        """Defects as polygons, circles by a polygon around them."""
        return tuple(
            circle_outline(float(d[2]), centre=(float(d[0]), float(d[1])))  # type: ignore[arg-type]
            if _is_circle(d)
            else turned(cleaned(np.asarray(d, dtype=float)))
            for d in self.defects
        )


@dataclass(frozen=True)
class Joint:
    """A glue line of a part pieced from strips, parallel to the grain.

    Parameters
    ----------
    part
        Index of the part.
    across
        Distance of the line from the part's lowest edge, measured across the grain [m].
    segments
        Ends of the line inside the part, in the part's coordinates [m].
    length
        Glue line length of one part [m].
    root_crossings
        Distances along the root from its first point where the line meets it [m].
    mark
        Letters of the strips that meet, for the template.
    """

    part: int
    across: float
    segments: tuple[tuple[tuple[float, float], tuple[float, float]], ...]
    length: float
    root_crossings: tuple[float, ...]
    mark: str


@dataclass(frozen=True)
class Placement:
    """One part, or one strip of a part, on a sheet.

    The outline on the sheet is turned(angle) applied to the part's points (with y reversed first
    when `mirrored`), plus `offset`.
    """

    part: int
    copy: int
    piece: int | None
    polygon: tuple[tuple[float, float], ...]
    holes: tuple[tuple[tuple[float, float], ...], ...]
    angle: float
    mirrored: bool
    offset: tuple[float, float]
    label: str
    circles: tuple[tuple[float, float, float], ...] = ()
    joints: tuple[tuple[str, tuple[tuple[float, float], tuple[float, float]]], ...] = ()
    grain_locked: bool = True


@dataclass(frozen=True)
class SheetPlan:
    """One sheet in use: which stock, what lies on it, and how far along it is used [m]."""

    stock: int
    placements: tuple[Placement, ...]
    used_length: float
    part_area: float
    sheet_area: float

    @property
    def area_yield(self) -> float:
        """Part area over sheet area."""
        return self.part_area / self.sheet_area


@dataclass(frozen=True)
class Plan:
    """A cutting plan.

    Parameters
    ----------
    parts, stock
        What was asked.
    sheets
        Sheets in use.
    unplaced
        (part index, how many, why) of what could not be placed.
    joints
        Glue lines of pieced parts.
    notes
        Sentences to show with the plan.
    kerf, margin
        As asked [m].
    """

    parts: tuple[Part, ...]
    stock: tuple[Sheet, ...]
    sheets: tuple[SheetPlan, ...]
    unplaced: tuple[tuple[int, int, str], ...]
    joints: tuple[Joint, ...]
    notes: tuple[str, ...]
    kerf: float
    margin: float

    @property
    def part_area(self) -> float:
        """Area of the parts placed [m2]."""
        return sum(s.part_area for s in self.sheets)

    @property
    def sheet_area(self) -> float:
        """Area of the sheets in use [m2]."""
        return sum(s.sheet_area for s in self.sheets)

    @property
    def area_yield(self) -> float:
        """Part area over the area of the whole sheets in use."""
        return self.part_area / self.sheet_area if self.sheets else 0.0

    @property
    def used_yield(self) -> float:
        """Part area over the sheet area up to the end of the last part, the offcut being kept."""
        used = sum(s.used_length * self.stock[s.stock].width for s in self.sheets)
        return self.part_area / used if used else 0.0

    @property
    def waste(self) -> float:
        """Sheet area that becomes no part, offcut included [m2]."""
        return self.sheet_area - self.part_area

    @property
    def offcut(self) -> float:
        """Sheet area beyond the last part, good for later use [m2]."""
        return sum(
            (self.stock[s.stock].length - s.used_length) * self.stock[s.stock].width
            for s in self.sheets
        )

    @property
    def part_mass(self) -> float:
        """Mass of all parts placed [kg]."""
        return sum(s.part_area * self.stock[s.stock].areal_mass for s in self.sheets)

    @property
    def sheet_mass(self) -> float:
        """Mass of the sheets in use [kg]."""
        return sum(s.sheet_area * self.stock[s.stock].areal_mass for s in self.sheets)

    @property
    def cost(self) -> float:
        """Price of the sheets in use."""
        return sum(self.stock[s.stock].price for s in self.sheets)

    @property
    def glue_line_length(self) -> float:
        """Glue line of all pieced parts asked for [m]."""
        return sum(j.length * self.parts[j.part].quantity for j in self.joints)

    @property
    def least_sheets(self) -> int:
        """Fewest sheets of the largest stock that hold the parts' area: no plan can beat it."""
        largest = max(s.length * s.width for s in self.stock)
        return math.ceil(self.part_area / largest - 1e-9)


@dataclass(frozen=True)
class Step:
    """Progress of the search: so many of so many tries, and the best plan yet."""

    iteration: int
    iterations: int
    improved: bool
    plan: Plan


def circle_outline(
    radius: float,
    *,
    centre: tuple[float, float] = (0.0, 0.0),
    inside: bool = False,
    tolerance: float = 2e-5,
) -> Array:
    """Draw a polygon around a circle, or inside it for a hole.

    Parameters
    ----------
    radius
        [m]
    centre
        [m]
    inside
        True: corners on the circle; False: sides touch the circle.
    tolerance
        Greatest distance between polygon and circle [m].

    Returns
    -------
    Loop (n, 2), counter-clockwise [m].
    """
    if not (math.isfinite(radius) and radius > 0):
        raise InputError("radius", radius, "a length above zero")
    # The corner of a polygon around the circle stands out by r (1/cos(pi/n) - 1).
    half = math.acos(1 / (1 + tolerance / radius))
    n = min(max(12, 4 * math.ceil(math.pi / half / 4)), 240)
    angle = (np.arange(n) + 0.5) * 2 * math.pi / n
    reach = radius if inside else radius / math.cos(math.pi / n)
    middle: Array = np.array(centre, dtype=float)
    return middle + reach * np.column_stack([np.cos(angle), np.sin(angle)])


def ring(
    outer_diameter: float,
    inner_diameter: float = 0.0,
    *,
    quantity: int = 1,
    name: str = "ring",
    grain: float | None = 0.0,
) -> Part:
    """Describe a centring ring, or a bulkhead when there is no inner diameter [m]."""
    if not 0 <= inner_diameter < outer_diameter:
        raise InputError("inner_diameter", inner_diameter, "a length below the outer diameter")
    outer, inner = outer_diameter / 2, inner_diameter / 2
    return Part(
        outline=circle_outline(outer),  # type: ignore[arg-type]
        holes=(circle_outline(inner, inside=True),) if inner else (),  # type: ignore[arg-type]
        circles=((0.0, 0.0, outer), (0.0, 0.0, inner)) if inner else ((0.0, 0.0, outer),),
        quantity=quantity,
        name=name,
        grain=grain,
    )


class Options(TypedDict, total=False):
    """What `search` may be told beside parts and sheets."""

    kerf: float
    margin: float
    corner_clearance: float
    iterations: int
    time_limit: float | None
    seed: int


def nest(
    parts: Sequence[Part],
    sheets: Sequence[Sheet],
    *,
    progress: Callable[[Step], bool | None] | None = None,
    **options: Unpack[Options],
) -> Plan:
    """Make a cutting plan.

    Parameters
    ----------
    parts, sheets, options
        As `search` takes them.
    progress
        Called after every try; returning False stops with the best plan yet.
    """
    plan = None
    for step in search(parts, sheets, **options):
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
    time_limit: float | None = None,
    seed: int = 0,
) -> Iterator[Step]:
    """Yield the best plan yet after every try.

    Parameters
    ----------
    parts, sheets
        What to cut, from what; sheets are tried in the order given.
    kerf
        Gap between parts [m].
    margin
        Gap to the sheet's edges [m].
    corner_clearance
        Least distance between a glue line and a part's `keep_clear` points [m].
    iterations
        Tries of the local search after the first plans. The same seed and number of tries give the
        same plan.
    time_limit
        Stop after so many seconds; the plan then depends on the machine.
    seed
        Of the local search.
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
    started = time.perf_counter()
    job = _Job(tuple(parts), tuple(sheets), kerf, margin, corner_clearance)
    rng = random.Random(seed)
    best: _Trial | None = None
    plan: Plan | None = None
    starts = job.first_genes()
    pairs = job.paired_genes()
    before = len(starts) + len(pairs)
    total = before + iterations
    current: _Trial | None = None
    for number in range(total):
        if number < len(starts):
            trial = job.run(starts[number], None, 0)
            if current is None or trial.key <= current.key or rng.random() < 0.03:
                current = trial
        elif number < before:
            # these stand beside the walk, which takes them up when it goes back to the best
            assert best is not None
            if best.key <= job.bound:
                continue
            trial = job.run(job.shortened(pairs[number - len(starts)], best), None, 0, best.key)
        else:
            assert best is not None
            assert current is not None
            if best.key <= job.bound:
                break
            # Back to the best now and then: the walk accepts equals and small losses.
            if (number - before) % 25 == 24:
                current = best
            genes, first = _mutated(current.genes, job, rng)
            base = current if first else None
            trial = job.run(genes, base, first, current.key)
            if trial.key <= current.key:
                current = trial
            elif rng.random() < 0.03:
                current = trial if len(trial.key) > 1 else job.run(genes, base, first)
        improved = best is None or trial.key < best.key
        if improved:
            best = trial
            plan = job.plan(trial)
        assert best is not None
        assert plan is not None
        if number == len(starts) - 1:
            current = best
        yield Step(number + 1, total, improved, plan)
        if time_limit is not None and time.perf_counter() - started > time_limit:
            break


@dataclass(frozen=True)
class _Shape:
    """An item turned one way, moved so that its bounding box starts at (0, 0)."""

    loop: Array
    holes: tuple[Array, ...]
    size: tuple[float, float]
    angle: float
    mirrored: bool
    shift: tuple[float, float]

    @cached_property
    def filled(self) -> list[Array]:
        return convex_parts(self.loop)

    @cached_property
    def parts(self) -> list[Array]:
        return convex_parts(self.loop, self.holes) if self.holes else self.filled

    @cached_property
    def hole_sizes(self) -> list[tuple[float, float]]:
        return [(float(np.ptp(h[:, 0])), float(np.ptp(h[:, 1]))) for h in self.holes]

    def admits(self, other: _Shape) -> bool:
        """Whether the other might lie in one of this shape's holes."""
        return any(
            w > other.size[0] - CLEAR and h > other.size[1] - CLEAR for w, h in self.hole_sizes
        )


@dataclass(frozen=True)
class _NoFit:
    """Positions of one shape that overlap another: convex parts, and the outer line of all."""

    normals: Array  # (k, m, 2)
    offsets: Array  # (k, m): inside is normals @ p < offsets
    starts: Array  # (s, 2)
    ends: Array  # (s, 2)
    low: Array
    high: Array


@dataclass(frozen=True)
class _Item:
    part: int
    piece: int | None
    loop: Array
    holes: tuple[Array, ...]
    area: float


@dataclass(frozen=True)
class _Genes:
    order: tuple[int, ...]  # item numbers
    way: tuple[int, ...]  # for each place in the order: which way up, -1 = the best
    rule: int
    stock: tuple[int, ...]
    reach: float = math.inf  # m; how far along the sheet the rows of rule 5 run


@dataclass
class _Free:
    """Free corners for one shape on one sheet, up to date for the first `seen` parts."""

    seen: int
    points: Array
    taken: tuple[tuple[Array, Array, Array], ...] = ()  # normals, offsets, box of each no-fit
    starts: Array = field(default_factory=lambda: np.zeros((0, 2)))
    ends: Array = field(default_factory=lambda: np.zeros((0, 2)))


@dataclass(frozen=True)
class _Laid:
    """A sheet with parts; never changed, so that tries can share what they have in common."""

    stock: int
    shapes: tuple[int, ...] = ()
    items: tuple[int, ...] = ()
    places: tuple[tuple[float, float], ...] = ()
    used: float = 0.0
    area: float = 0.0
    free: dict[int, _Free] = field(default_factory=dict)


Key = tuple[float, ...]
_State = tuple[tuple[_Laid, ...], tuple[int, ...]]  # sheets, items without a place
_EMPTY: _State = ((), ())


@dataclass(frozen=True)
class _Trial:
    genes: _Genes
    states: list[_State]
    key: Key


class _Job:
    """Everything that stays the same during one search."""

    def __init__(
        self,
        parts: tuple[Part, ...],
        stock: tuple[Sheet, ...],
        kerf: float,
        margin: float,
        corner_clearance: float,
    ) -> None:
        self.parts, self.stock, self.kerf, self.margin = parts, stock, kerf, margin
        self.joints: list[Joint] = []
        self.notes: list[str] = []
        self.unplaced: list[tuple[int, int, str]] = []
        self.items: list[_Item] = []
        self.shapes: list[_Shape] = []
        self.ways: list[tuple[int, ...]] = []  # shapes of each item
        self.no_fits: dict[tuple[int, int], _NoFit] = {}
        self.defects: dict[tuple[int, int], list[_NoFit]] = {}
        for number, part in enumerate(parts):
            self._add(number, part, corner_clearance)
        self.total_area = sum(i.area for i in self.items)

    @cached_property
    def bound(self) -> Key:
        """A key no plan can beat, to stop early when it is reached."""
        if len(self.stock) > 1 or not self.items or self.stock[0].defects:
            return (-1.0,)
        sheet = self.stock[0]
        if self.total_area > sheet.length * sheet.width:
            return (-1.0,)
        longest = max(min(self.shapes[s].size[0] for s in w) for w in self.ways)
        height = sheet.width - 2 * self.margin
        least = max(longest, self.total_area / height) + self.margin
        price = sheet.price or sheet.length * sheet.width
        return (0.0, price, least + 1e-7, math.inf)

    def _add(self, number: int, part: Part, corner_clearance: float) -> None:
        loop, holes = part.loop, part.hole_loops
        pieces: list[tuple[Array, tuple[Array, ...]]] = [(loop, holes)]
        pieced = False
        if part.grain is not None:
            turn = _turn(-part.grain)
            across = float(np.ptp((loop @ turn.T)[:, 1]))
            along = float(np.ptp((loop @ turn.T)[:, 0]))
            long_enough = [s for s in self.stock if s.length - 2 * self.margin >= along - CLEAR]
            widest = max((s.width - 2 * self.margin for s in long_enough), default=0.0)
            if not long_enough:
                self.unplaced.append(
                    (
                        number,
                        part.quantity,
                        "longer along the grain than any sheet; a joint across the grain "
                        "would carry no bending",
                    )
                )
                return
            if across > widest + CLEAR:
                strips = strips_of(
                    part, number=number, width=widest, corner_clearance=corner_clearance
                )
                pieces, joints, notes = strips
                self.joints += joints
                self.notes += notes
                pieced = True
        for index, (outer, inner) in enumerate(pieces):
            size = part.area if not pieced else area(outer) + sum(area(h) for h in inner)
            item = _Item(
                part=number, piece=index if pieced else None, loop=outer, holes=inner, area=size
            )
            ways = self._ways(part, outer, inner)
            if not ways:
                self.unplaced.append((number, part.quantity, "larger than any sheet"))
                continue
            for _ in range(part.quantity):
                self.items.append(item)
                self.ways.append(ways)

    def _ways(self, part: Part, loop: Array, holes: tuple[Array, ...]) -> tuple[int, ...]:
        """Add the distinct ways to put a part down, as shape numbers."""
        outer, inner = _packing_outline(part, loop, holes)
        grain = part.grain or 0.0
        turns: tuple[float, ...] = (0.0, math.pi)
        if part.grain is None:
            turns = (0.0, math.pi / 2, math.pi, 3 * math.pi / 2)
        two_sided = part.mirror and any(s.two_sided for s in self.stock)
        kept: list[int] = []
        seen: list[tuple[Array, ...]] = []
        for mirrored in (False, True) if two_sided else (False,):
            for extra in turns:
                angle = (grain if mirrored else -grain) + extra
                matrix = _turn(angle) @ np.diag([1.0, -1.0 if mirrored else 1.0])
                moved = outer @ matrix.T
                low = moved.min(axis=0)
                shape = _Shape(
                    loop=turned(moved - low),
                    holes=tuple(turned(h @ matrix.T - low, counter_clockwise=False) for h in inner),
                    size=tuple(np.ptp(moved, axis=0).tolist()),
                    angle=angle,
                    mirrored=mirrored,
                    shift=(-float(low[0]), -float(low[1])),
                )
                fits = any(
                    shape.size[0] <= s.length - 2 * self.margin + CLEAR
                    and shape.size[1] <= s.width - 2 * self.margin + CLEAR
                    for s in self.stock
                )
                # Symmetry is judged on the true outline: the simpler one need not share it.
                true = tuple(p @ matrix.T - low for p in (loop, *holes))
                twin = any(all(map(_same, other, true)) for other in seen)
                if fits and not twin:
                    seen.append(true)
                    self.shapes.append(shape)
                    kept.append(len(self.shapes) - 1)
        return tuple(kept)

    def no_fit(self, fixed: int, moving: int) -> _NoFit:
        """Where shape `moving` would lie too close to shape `fixed` at the origin."""
        key = (fixed, moving)
        if key not in self.no_fits:
            a, b = self.shapes[fixed], self.shapes[moving]
            # Only one of two parts can lie in a hole of the other.
            first = a.parts if a.admits(b) else a.filled
            second = b.parts if b.admits(a) else b.filled
            self.no_fits[key] = _no_fit(first, second, self.kerf)
        return self.no_fits[key]

    def run(
        self, genes: _Genes, base: _Trial | None, first: int, limit: Key | None = None
    ) -> _Trial:
        """Put all items down in order; start from another try where the first places agree.

        A try that is already longer than one sheet with the key `limit` is given up.
        """
        states = [_EMPTY] if base is None else base.states[: first + 1]
        # the key of a single sheet with all parts on it ends in zero
        longest = math.inf if limit is None or len(limit) < 4 or limit[0] or limit[3] else limit[2]
        for place in range(len(states) - 1, len(genes.order)):
            laid, missing = states[-1]
            if longest < math.inf and laid and (len(laid) > 1 or laid[0].used > longest):
                return _Trial(genes, states, (math.inf,))
            item = genes.order[place]
            ways = self.ways[item]
            choice = genes.way[place]
            options = ways if choice < 0 else (ways[choice % len(ways)],)
            states.append(self._put(laid, missing, item, options, ways, genes))
        laid, missing = states[-1]
        return _Trial(genes, states, self._key(laid, missing))

    def _put(
        self,
        laid: tuple[_Laid, ...],
        missing: tuple[int, ...],
        item: int,
        options: tuple[int, ...],
        ways: tuple[int, ...],
        genes: _Genes,
    ) -> tuple[tuple[_Laid, ...], tuple[int, ...]]:
        # A fixed way up that fits nowhere gives way to the others before a new sheet is opened.
        for allowed in (options, ways) if options != ways else (options,):
            for number, sheet in enumerate(laid):
                spot = self._spot(sheet, allowed, genes)
                if spot is not None:
                    grown = self._with(sheet, item, *spot)
                    return (*laid[:number], grown, *laid[number + 1 :]), missing
        for stock in genes.stock:
            count = self.stock[stock].count
            if count is not None and sum(s.stock == stock for s in laid) >= count:
                continue
            sheet = _Laid(stock)
            for allowed in (options, ways):
                spot = self._spot(sheet, allowed, genes)
                if spot is not None:
                    return (*laid, self._with(sheet, item, *spot)), missing
        return laid, (*missing, item)

    def _with(self, sheet: _Laid, item: int, shape: int, at: tuple[float, float]) -> _Laid:
        return replace(
            sheet,
            shapes=(*sheet.shapes, shape),
            items=(*sheet.items, item),
            places=(*sheet.places, at),
            used=max(sheet.used, at[0] + self.shapes[shape].size[0]),
            area=sheet.area + self.items[item].area,
            free=dict(sheet.free),
        )

    def _spot(
        self, sheet: _Laid, options: tuple[int, ...], genes: _Genes
    ) -> tuple[int, tuple[float, float]] | None:
        """Return the best shape and free corner by the rule, or None."""
        rule = genes.rule
        best, found = math.inf, None
        stock = self.stock[sheet.stock]
        for number in options:
            shape = self.shapes[number]
            if shape.mirrored and not stock.two_sided:
                continue
            points = self._corners(sheet, number)
            if not len(points):
                continue
            x, y = points[:, 0], points[:, 1]
            right, top = x + shape.size[0], y + shape.size[1]
            # The small terms break ties: parts go to the edges, not the middle.
            if rule == 0:
                score = right + 1e-3 * y
            elif rule == 1:
                score = right + 1e-3 * (stock.width - top)
            elif rule == 2:
                middle = x + float(np.mean(shape.loop[:, 0]))
                score = middle + 1e-3 * np.minimum(y, stock.width - top)
            elif rule == 3:
                score = np.maximum(right, sheet.used) + 1e-2 * right + 1e-4 * y
            elif rule == 4:
                score = top + 1e-3 * x + (right > max(sheet.used, shape.size[0]) * 1.05)
            else:
                score = top + 1e-3 * x + (right > genes.reach) * (1.0 + right)
            k = int(np.argmin(score))
            if score[k] < best - CLEAR:
                best = float(score[k])
                found = (number, (float(x[k]), float(y[k])))
        return found

    def _corners(self, sheet: _Laid, number: int) -> Array:
        """Corners (n, 2) of the region where a shape can go on a sheet."""
        shape, stock = self.shapes[number], self.stock[sheet.stock]
        low = np.array([self.margin, self.margin])
        high = np.array([stock.length, stock.width]) - self.margin - shape.size
        free = sheet.free.get(number)
        if free is None:
            points = np.zeros((0, 2))
            if (high >= low - CLEAR).all():
                high = np.maximum(high, low)
                points = np.array(
                    [[low[0], low[1]], [high[0], low[1]], [low[0], high[1]], [high[0], high[1]]]
                )
            free = _Free(seen=0, points=points)
            for hindrance in self._hindrances(sheet.stock, number):
                free = _hindered(free, hindrance, np.zeros(2), low, high)
        high = np.maximum(high, low)
        for k in range(free.seen, len(sheet.shapes)):
            if not len(free.points):
                # A region once empty stays empty: parts only ever take room.
                break
            hindrance = self.no_fit(sheet.shapes[k], number)
            free = replace(
                _hindered(free, hindrance, np.array(sheet.places[k]), low, high), seen=k + 1
            )
        sheet.free[number] = free
        return free.points

    def _hindrances(self, stock: int, number: int) -> list[_NoFit]:
        key = (stock, number)
        if key not in self.defects:
            shape = self.shapes[number]
            self.defects[key] = [
                _no_fit(convex_parts(grown_outline(d, tolerance=OUTLINE)), shape.parts, 0.0)
                for d in self.stock[stock].defect_loops
            ]
        return self.defects[key]

    def _key(self, laid: tuple[_Laid, ...], missing: tuple[int, ...]) -> Key:
        """Smaller is better: all placed, cheap, and the last sheet nearly empty."""
        price = sum(
            self.stock[s.stock].price or self.stock[s.stock].length * self.stock[s.stock].width
            for s in laid
        )
        if len(laid) == 1:
            return (sum(self.items[i].area for i in missing), price, laid[0].used, 0.0)
        return (
            sum(self.items[i].area for i in missing),
            price,
            min((s.area for s in laid), default=0.0),
            sum(s.used * self.stock[s.stock].width for s in laid),
        )

    def first_genes(self) -> list[_Genes]:
        """Orders to start from: large first, in three senses, by several placing rules."""
        count = len(self.items)

        def size(item: int, axis: int) -> float:
            return max(self.shapes[s].size[axis] for s in self.ways[item])

        senses: list[Callable[[int], Key]] = [
            lambda i: (-self.items[i].area,),
            lambda i: (-size(i, 1), -size(i, 0)),
            lambda i: (-size(i, 0), -size(i, 1)),
        ]
        orders: list[tuple[int, ...]] = []
        for sense in senses:
            order = tuple(sorted(range(count), key=sense))
            if order not in orders:
                orders.append(order)
        stock = tuple(range(len(self.stock)))
        free = (-1,) * count
        genes = [_Genes(o, free, rule, stock) for o in orders for rule in (0, 1, 2, 3, 4)]
        by_turns = tuple(k % 2 for k in range(count))
        genes += [_Genes(orders[0], by_turns, rule, stock) for rule in (0, 1)]
        return genes

    def paired_genes(self) -> list[_Genes]:
        """Return starts that lay like parts head to tail, in rows along and columns across.

        A part's second way to lie is its first turned by half a turn, its fourth the third so
        turned. Which of a pair comes first matters at the sheet's end and at its edge.
        """
        most = max(map(len, self.ways), default=0)
        if most < 2:
            return []
        order, stock = self.first_genes()[0].order, tuple(range(len(self.stock)))
        room = self.stock[0].width - 2 * self.margin + self.kerf
        tall = self.shapes[self.ways[order[0]][0]].size[1] + self.kerf
        column = max(1, math.floor(room / tall + 1e-9))

        def turns(pair: tuple[int, int], run: int) -> tuple[int, ...]:
            return tuple(pair[k // run % 2] for k in range(len(order)))

        pairs = [pair for pair in ((0, 1), (1, 0), (3, 2), (2, 3)) if max(pair) < most]
        rows = [_Genes(order, turns(pair, 1), 4, stock) for pair in pairs]
        columns = [
            _Genes(order, turns(pair, column), rule, stock)
            for pair in pairs[:2]
            for rule in (1, 0)
            if column > 1
        ]
        return rows + columns + [replace(genes, rule=5) for genes in rows]

    def shortened(self, genes: _Genes, best: _Trial) -> _Genes:
        """Let rows of a given length end a little before the best plan on one sheet does."""
        laid, _ = best.states[-1]
        if genes.rule != 5 or len(laid) != 1:
            return genes
        return replace(genes, reach=SHORTER * laid[0].used)

    def plan(self, trial: _Trial) -> Plan:
        """Turn a try into the plan to show, with the parts' true outlines."""
        laid, missing = trial.states[-1]
        marks = _copy_numbers(self, laid)
        sheets = []
        for n, sheet in enumerate(laid):
            placements = tuple(
                self._placement(sheet, k, marks[(n, k)]) for k in range(len(sheet.items))
            )
            stock = self.stock[sheet.stock]
            sheets.append(
                SheetPlan(
                    stock=sheet.stock,
                    placements=placements,
                    used_length=sheet.used,
                    part_area=sheet.area,
                    sheet_area=stock.length * stock.width,
                )
            )
        lost: dict[int, int] = {}
        for item in missing:
            part = self.items[item].part
            lost[part] = lost.get(part, 0) + 1
        unplaced = tuple(self.unplaced) + tuple(
            (p, n, "no room left on the sheets given") for p, n in sorted(lost.items())
        )
        return Plan(
            parts=self.parts,
            stock=self.stock,
            sheets=tuple(sheets),
            unplaced=unplaced,
            joints=tuple(self.joints),
            notes=tuple(self.notes),
            kerf=self.kerf,
            margin=self.margin,
        )

    def _placement(self, sheet: _Laid, k: int, copy: int) -> Placement:
        item, shape = self.items[sheet.items[k]], self.shapes[sheet.shapes[k]]
        part = self.parts[item.part]
        matrix = _turn(shape.angle) @ np.diag([1.0, -1.0 if shape.mirrored else 1.0])
        offset = np.array(shape.shift) + sheet.places[k]

        def moved(points: Array) -> tuple[tuple[float, float], ...]:
            return tuple((float(x), float(y)) for x, y in points @ matrix.T + offset)

        whole = item.piece is None
        label = part.name if part.quantity == 1 else f"{part.name} {copy + 1}"
        joints: list[tuple[str, tuple[tuple[float, float], tuple[float, float]]]] = []
        if item.piece is not None:
            label += " " + _letter(item.piece)
            for joint in self.joints:
                if joint.part == item.part:
                    for segment in joint.segments:
                        if _on_outline(item.loop, np.array(segment)):
                            a, b = moved(np.array(segment))
                            joints.append((joint.mark, (a, b)))
        return Placement(
            part=item.part,
            copy=copy,
            piece=item.piece,
            polygon=moved(turned(item.loop, counter_clockwise=not shape.mirrored)),
            holes=tuple(moved(turned(h, counter_clockwise=shape.mirrored)) for h in item.holes),
            angle=math.remainder(shape.angle, 2 * math.pi),
            mirrored=shape.mirrored,
            offset=(float(offset[0]), float(offset[1])),
            label=label,
            circles=tuple(
                (*moved(np.array([[x, y]]))[0], r) for x, y, r in (part.circles if whole else ())
            ),
            joints=tuple(joints),
            grain_locked=part.grain is not None,
        )


def strips_of(
    part: Part, *, width: float, corner_clearance: float = 0.01, number: int = 0
) -> tuple[list[tuple[Array, tuple[Array, ...]]], list[Joint], list[str]]:
    """Divide a part into strips along the grain, each no wider than a sheet.

    The fewest strips are taken, of nearly equal width, that keep every glue line away from the
    `keep_clear` points and, where it can be done, off the root edge; up to two strips more are
    accepted for the clearance.

    Parameters
    ----------
    part
        With a grain direction.
    width
        Greatest strip width [m].
    corner_clearance
        Least distance of a glue line from a `keep_clear` point [m].
    number
        Index of the part, copied into the joints.

    Returns
    -------
    Pieces as (outer, holes) in the part's coordinates, joints, and notes to show.
    """
    if part.grain is None:
        raise InputError("grain", None, "a grain direction for a part that is to be pieced")
    turn = _turn(-part.grain)
    loop = part.loop @ turn.T
    holes = tuple(h @ turn.T for h in part.hole_loops)
    base, height = float(loop[:, 1].min()), float(np.ptp(loop[:, 1]))
    corners = np.asarray(part.keep_clear, dtype=float).reshape(-1, 2) @ turn.T
    avoid = corners[:, 1] - base
    root = None if part.root is None else np.asarray(part.root, dtype=float) @ turn.T
    span = None if root is None else sorted((root[:, 1] - base).tolist())
    fewest = math.ceil(height / width - 1e-9)
    notes: list[str] = []
    lines = None
    for count in range(fewest, fewest + 3):
        lines = _glue_lines(height, count, width, avoid, corner_clearance, span)
        if lines is not None:
            break
    if lines is None:
        lines = [height * k / fewest for k in range(1, fewest)]
        notes.append(
            f"{part.name}: no division into strips keeps the glue lines "
            f"{corner_clearance * 1000:.0f} mm from the tip corners; the strips are equal instead."
        )
    pieces: list[tuple[Array, tuple[Array, ...]]] = []
    joints: list[Joint] = []
    rest: list[tuple[Array, tuple[Array, ...]]] = [(loop, holes)]
    for k, line in enumerate(lines):
        above: list[tuple[Array, tuple[Array, ...]]] = []
        segments: list[Array] = []
        for outer, inner in rest:
            low, high, cuts = cut_at(outer, inner, base + line)
            pieces += low
            above += high
            segments += cuts
        rest = above
        crossings: list[float] = []
        if root is not None and span is not None and span[0] < line < span[1]:
            share = (base + line - root[0, 1]) / (root[1, 1] - root[0, 1])
            crossings.append(float(share * np.hypot(*(root[1] - root[0]))))
        joints.append(
            Joint(
                part=number,
                across=line,
                segments=tuple(
                    ((float(s[0, 0]), float(s[0, 1])), (float(s[1, 0]), float(s[1, 1])))
                    for s in (c @ turn for c in segments)
                ),
                length=sum(float(s[1, 0] - s[0, 0]) for s in segments),
                root_crossings=tuple(crossings),
                mark=f"{k + 1}",
            )
        )
    pieces += rest
    crossing = [f"{x * 1000:.1f} mm" for j in joints for x in j.root_crossings]
    if crossing:
        notes.append(
            f"{part.name}: the grain crosses the root, so the glue lines meet it "
            f"{', '.join(crossing)} from its front end."
        )
    return [(o @ turn, tuple(h @ turn for h in i)) for o, i in pieces], joints, notes


def _glue_lines(
    height: float,
    count: int,
    width: float,
    avoid: Array,
    clearance: float,
    root: list[float] | None,
) -> list[float] | None:
    """Return heights of the glue lines nearest to equal strips that keep clear, or None."""
    even = height / count * np.arange(1, count)
    edges = np.concatenate(
        [
            avoid - clearance,
            avoid + clearance,
            even,
            width * np.arange(1, count),
            height - width * np.arange(1, count),
        ]
    )
    if root is not None:
        edges = np.concatenate([edges, np.array(root)])
    spots = np.unique(np.concatenate([edges, np.linspace(0, height, 201)]))
    spots = spots[(spots > 0) & (spots < height)]
    if len(avoid):
        spots = spots[(np.abs(spots[:, None] - avoid) >= clearance - CLEAR).all(axis=1)]
    if not len(spots):
        return None if count > 1 else []
    # A line on the root costs more than any shift; strips stay wider than a third of the mean.
    crosses = np.zeros(len(spots))
    if root is not None:
        crosses = 10.0 * ((spots > root[0] + CLEAR) & (spots < root[1] - CLEAR))
    narrow = height / count / 3
    cost = np.full(len(spots), np.inf)
    came: list[NDArray[np.intp]] = []
    for k in range(count - 1):
        here = ((spots - even[k]) / height) ** 2 + crosses
        if k == 0:
            ok = (spots <= width + CLEAR) & (spots >= narrow)
            cost = np.where(ok, here, np.inf)
            came.append(np.zeros(len(spots), dtype=np.intp))
            continue
        gap = spots[None, :] - spots[:, None]
        step = np.where((gap <= width + CLEAR) & (gap >= narrow), cost[:, None], np.inf)
        came.append(np.argmin(step, axis=0))
        cost = step.min(axis=0) + here
    last = height - spots
    cost = np.where((last <= width + CLEAR) & (last >= narrow), cost, np.inf)
    at = int(np.argmin(cost))
    if not math.isfinite(cost[at]):
        return None
    lines = [float(spots[at])]
    for back in came[:0:-1]:
        at = int(back[at])
        lines.append(float(spots[at]))
    return lines[::-1]


def _packing_outline(
    part: Part, loop: Array, holes: tuple[Array, ...]
) -> tuple[Array, tuple[Array, ...]]:
    """Return an outline with few corners that contains the part."""
    if part.circles and loop is part.loop and len(part.circles) == 1 + len(holes):
        # Around the corners of the part's own polygon, not just around the circle.
        (x, y, _), *_ = sorted(part.circles, key=lambda c: -c[2])
        radius = float(np.hypot(*(loop - (x, y)).T).max())
        return circle_outline(radius, centre=(x, y), tolerance=OUTLINE), tuple(
            turned(
                circle_outline(
                    float(np.hypot(*((hole + np.roll(hole, 1, axis=0)) / 2 - centre).T).min()),
                    centre=(float(centre[0]), float(centre[1])),
                    inside=True,
                    tolerance=HOLE,
                ),
                counter_clockwise=False,
            )
            for hole in holes
            for centre in (hole.mean(axis=0),)
        )
    return (
        grown_outline(loop, tolerance=OUTLINE),
        tuple(grown_outline(h, tolerance=HOLE) for h in holes),
    )


def _no_fit(fixed: list[Array], moving: list[Array], kerf: float) -> _NoFit:
    """Build the no-fit polygon of two sets of convex parts."""
    sums = [convex_offset(convex_sum(a, _through_origin(b)), kerf) for a in fixed for b in moving]
    most = max(map(len, sums))
    starts = np.concatenate(sums)
    ends = np.concatenate([np.roll(s, -1, axis=0) for s in sums])
    owner = np.repeat(np.arange(len(sums)), [len(s) for s in sums])
    side = ends - starts
    normal = np.column_stack([side[:, 1], -side[:, 0]]) / np.hypot(side[:, 0], side[:, 1])[:, None]
    offset = np.einsum("ij,ij->i", normal, starts)
    normals, offsets = np.zeros((len(sums), most, 2)), np.zeros((len(sums), most))
    for k in range(len(sums)):
        mine = np.flatnonzero(owner == k)
        mine = np.concatenate([mine, np.repeat(mine[-1:], most - len(mine))])
        normals[k], offsets[k] = normal[mine], offset[mine]
    if len(sums) > 1:
        starts, ends = _outer_line(starts, ends, owner, normals, offsets)
    return _NoFit(
        normals,
        offsets,
        starts,
        ends,
        np.minimum(starts, ends).min(0),
        np.maximum(starts, ends).max(0),
    )


def _outer_line(
    starts: Array, ends: Array, owner: NDArray[np.intp], normals: Array, offsets: Array
) -> tuple[Array, Array]:
    """Keep what of each side lies inside no other convex part."""
    kept_from, kept_to = [], []
    for first in range(0, len(starts), 256):
        rows = slice(first, first + 256)
        a, b = starts[rows], ends[rows]
        # Along a + t (b - a) the part's half-plane reads slope t < room.
        slope = np.einsum("kmj,sj->skm", normals, b - a)
        room = offsets - np.einsum("kmj,sj->skm", normals, a) - CLEAR
        with np.errstate(divide="ignore", invalid="ignore"):
            at = room / slope
        small = np.abs(slope) < 1e-13
        enter = np.where(
            small, np.where(room > 0, -np.inf, np.inf), np.where(slope < 0, at, -np.inf)
        )
        leave = np.where(small, np.inf, np.where(slope > 0, at, np.inf))
        enter, leave = np.maximum(enter.max(2), 0.0), np.minimum(leave.min(2), 1.0)
        enter[np.arange(len(a)), owner[rows]] = 2.0
        hit = enter < leave
        for s in range(len(a)):
            done = 0.0
            which = np.flatnonzero(hit[s])
            for k in which[np.argsort(enter[s, which])]:
                if enter[s, k] > done:
                    kept_from.append(a[s] + done * (b[s] - a[s]))
                    kept_to.append(a[s] + enter[s, k] * (b[s] - a[s]))
                done = max(done, float(leave[s, k]))
            if done < 1.0:
                kept_from.append(a[s] + done * (b[s] - a[s]))
                kept_to.append(b[s])
    return np.array(kept_from).reshape(-1, 2), np.array(kept_to).reshape(-1, 2)


def _hindered(free: _Free, no_fit: _NoFit, at: Array, low: Array, high: Array) -> _Free:
    """Take a no-fit polygon at a place out of the free region and add the new corners."""
    box_low, box_high = no_fit.low + at, no_fit.high + at
    if (box_low > high).any() or (box_high < low).any():
        return free
    normals = no_fit.normals
    offsets = no_fit.offsets + normals @ at
    old = free.points[~_inside(free.points, normals, offsets)]
    starts, ends = no_fit.starts + at, no_fit.ends + at
    reach = (
        (np.maximum(starts, ends) >= low - CLEAR) & (np.minimum(starts, ends) <= high + CLEAR)
    ).all(axis=1)
    starts, ends = starts[reach], ends[reach]
    side = ends - starts
    new = [starts, ends]
    with np.errstate(divide="ignore", invalid="ignore"):
        # Where the sides meet the four lines that bound the shape's positions.
        bounds = np.concatenate([low, high])
        share = (bounds - np.tile(starts, 2)) / np.tile(side, 2)
        i, line = np.nonzero((share >= 0) & (share <= 1))
        points = starts[i] + share[i, line, None] * side[i]
        points[np.arange(len(i)), line % 2] = bounds[line]
        new.append(points)
        if len(free.starts):
            near = (
                (np.maximum(free.starts, free.ends) >= box_low - CLEAR)
                & (np.minimum(free.starts, free.ends) <= box_high + CLEAR)
            ).all(axis=1)
            base = free.starts[near]
            other = free.ends[near] - base
            # Side i meets other side j at starts + t side: t = gap x other / side x other.
            cross = np.outer(side[:, 0], other[:, 1]) - np.outer(side[:, 1], other[:, 0])
            gap_x = base[:, 0] - starts[:, 0, None]
            gap_y = base[:, 1] - starts[:, 1, None]
            t = (gap_x * other[:, 1] - gap_y * other[:, 0]) / cross
            u = (gap_x * side[:, 1, None] - gap_y * side[:, 0, None]) / cross
            i, j = np.nonzero((np.abs(t - 0.5) <= 0.5) & (np.abs(u - 0.5) <= 0.5))
            # Nearly parallel sides meet too vaguely; their ends are candidates already.
            sharp = np.abs(cross[i, j]) > 1e-9 * np.hypot(*side[i].T) * np.hypot(*other[j].T)
            i, j = i[sharp], j[sharp]
            new.append(starts[i] + t[i, j, None] * side[i])
    points = np.concatenate(new)
    points = points[((points >= low - CLEAR) & (points <= high + CLEAR)).all(axis=1)]
    points = np.minimum(np.maximum(points, low), high)
    for n, o, box in free.taken:
        if not len(points):
            break
        within = ((points > box[0]) & (points < box[1])).all(axis=1)
        if within.any():
            within[within] = _inside(points[within], n, o)
            points = points[~within]
    if len(points) > 1:
        order = np.lexsort(points.T)
        points = points[order]
        fresh = np.ones(len(points), dtype=bool)
        fresh[1:] = (np.abs(np.diff(points, axis=0)) > CLEAR / 10).any(axis=1)
        points = points[fresh]
    return _Free(
        seen=free.seen,
        points=np.concatenate([old, points]),
        taken=(*free.taken, (normals, offsets, np.stack([box_low, box_high]))),
        starts=np.concatenate([free.starts, starts]),
        ends=np.concatenate([free.ends, ends]),
    )


def _inside(points: Array, normals: Array, offsets: Array) -> NDArray[np.bool_]:
    """Tell which points (n, 2) lie inside any convex part, touching not counted."""
    k, m, _ = normals.shape
    depth = offsets.reshape(1, -1) - points @ normals.reshape(-1, 2).T
    return np.asarray((depth.reshape(len(points), k, m).min(axis=2) > CLEAR).any(axis=1))


def _mutated(genes: _Genes, job: _Job, rng: random.Random) -> tuple[_Genes, int]:
    """Change one thing; also return how many first places stay as they were."""
    order, way, stock = list(genes.order), list(genes.way), list(genes.stock)
    count = len(order)
    kind = rng.random()
    if kind < 0.15 or count < 2:
        if len(stock) > 1 and rng.random() < 0.5:
            rng.shuffle(stock)
        return replace(genes, rule=rng.randrange(5), stock=tuple(stock)), 0
    i, j = sorted(rng.sample(range(count), 2))
    different = job.items[order[i]] is not job.items[order[j]]
    if kind < 0.65 and different:
        if rng.random() < 0.5:
            order[i], order[j] = order[j], order[i]
            way[i], way[j] = way[j], way[i]
        else:
            order.insert(i, order.pop(j))
            way.insert(i, way.pop(j))
        return replace(genes, order=tuple(order), way=tuple(way)), i
    if kind < 0.75:
        # A run of parts by turns: how like parts interlock.
        choices = (rng.randrange(-1, 4), rng.randrange(-1, 4))
        for k in range(i, j + 1):
            way[k] = choices[k % 2]
    else:
        way[i] = rng.randrange(-1, len(job.ways[order[i]]))
    return replace(genes, way=tuple(way)), i


def _copy_numbers(job: _Job, laid: tuple[_Laid, ...]) -> dict[tuple[int, int], int]:
    """Count like parts, or like strips, in the order they lie on the sheets."""
    seen: dict[tuple[int, int | None], int] = {}
    numbers = {}
    for n, sheet in enumerate(laid):
        order = sorted(range(len(sheet.items)), key=lambda k: sheet.places[k])
        for k in order:
            item = job.items[sheet.items[k]]
            key = (item.part, item.piece)
            numbers[(n, k)] = seen.get(key, 0)
            seen[key] = numbers[(n, k)] + 1
    return numbers


def _letter(number: int) -> str:
    return chr(ord("a") + number) if number < 26 else f"z{number - 25}"


def _turn(angle: float) -> Array:
    """Rotation matrix, exact for quarter turns."""
    c, s = math.cos(angle), math.sin(angle)
    if abs(s) < 1e-15:
        c, s = math.copysign(1.0, c), 0.0
    if abs(c) < 1e-15:
        c, s = 0.0, math.copysign(1.0, s)
    return np.array([[c, -s], [s, c]])


def _through_origin(loop: Array) -> Array:
    return -loop


def _same(a: Array, b: Array) -> bool:
    """Tell whether two loops have the same corners, wherever they start."""
    if len(a) != len(b):
        return False
    distance = np.abs(a[:, None] - b[None]).max(axis=2).min(axis=1)
    return bool((distance < CLEAR).all())


def _on_outline(loop: Array, segment: Array) -> bool:
    """Tell whether both ends of a segment lie on the loop's sides along one of them."""
    middle = segment.mean(axis=0)
    a, b = loop, np.roll(loop, -1, axis=0)
    side = b - a
    share = np.einsum("ij,ij->i", middle - a, side) / np.einsum("ij,ij->i", side, side)
    nearest = a + np.clip(share, 0, 1)[:, None] * side
    return bool((np.hypot(*(middle - nearest).T) < 1e-8).any())


def _is_circle(defect: object) -> bool:
    return (
        isinstance(defect, Sequence)
        and len(defect) == 3
        and all(isinstance(v, (int, float)) for v in defect)
    )


def _checked_loop(name: str, points: Points | Array) -> None:
    loop = np.asarray(points, dtype=float)
    if loop.ndim != 2 or loop.shape[1] != 2 or not np.isfinite(loop).all():
        raise InputError(name, "points", "points as pairs of numbers")
    loop = cleaned(loop)
    if len(loop) < 3 or abs(area(loop)) < 1e-12:
        raise InputError(name, f"{len(loop)} corners", "at least three corners around an area")
    if len(loop) > 2000:
        raise InputError(name, f"{len(loop)} corners", "at most 2000 corners")
    if not is_simple(loop):
        raise InputError(name, "an outline", "an outline that does not cross itself")
