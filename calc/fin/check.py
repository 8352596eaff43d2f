"""All margins of a fin at a moment of flight: what fails first, and with what spread.

A `Model` holds what depends on the outline only (plate integrals, the air's answer); it is made
once and reused for every material, thickness and grain angle. `evaluate` answers for a batch of
candidates at once; `check` adds loads, spread and the verdict for one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calc import aeroelastic
from calc.aeroelastic.flutter_estimate import flutter_estimate_tn4197
from calc.air.atmosphere import Air
from calc.errors import InputError
from calc.fin.boundaries import AeroelasticBoundaries, judged
from calc.fin.fin import Fin, Point
from calc.fin.loads import passing_loads
from calc.fin.model import Model, Structure, build
from calc.fin.policy import (
    HIGHEST_MACH,
    MIN_MASS_RATIO,
    REQUIRED_LOAD_MARGIN,
    governing,
    model_cov,
    regime,
    required_speed_margin,
    verdict_state,
)
from calc.margin import Margin, Quantity
from calc.numerics import sampling
from calc.report import State
from calc.structure import laminate as layups
from calc.structure import plate, root_strength
from calc.structure.laminate import Layup
from calc.structure.sandwich import core_index

Real = NDArray[np.float64]


FACTORS = ("modulus_along", "modulus_across", "shear_modulus", "density", "strength")


AS_CUT = math.radians(2.0)
"""How far off the grain of a fin as cut may be (common practice: nobody cuts closer by eye)."""


NOTED = 0.95
"""Share of the margin of the fin as drawn below which a smaller one as cut is mentioned."""


STEP = 1.1
"""Factor by which each property is moved to find what it does to the margins."""


LIGHT = "the fin weighs less than the air around it: the model has not been tried there"
RAPID = "beats faster than the air model resolves: it may come earlier than this"
FAST = f"faster than Mach {HIGHEST_MACH:g} the model has not been tried against tests"
REMEDIES = {
    LIGHT: "a thicker or denser sheet, or a smaller fin",
    RAPID: "a thicker or denser sheet, or a smaller fin",
    FAST: f"a flight that stays below Mach {HIGHEST_MACH:g}",
}
"""What to change to get an answer where the model cannot judge a margin."""


@dataclass(frozen=True, eq=False)
class Check:
    """The full answer for one fin at its worst moment."""

    fin: Fin
    point: Point
    margins: tuple[Margin, ...]
    governs: Margin
    state: State
    shortfall: float
    shape: Model
    structure: Structure
    boundaries: AeroelasticBoundaries
    root: root_strength.RootLoad
    handling: root_strength.RootLoad
    samples: Real
    """``(n, n_margins)`` sampled margins."""
    slopes: Mapping[str, Real]
    """d log(margin) / d log(property) for each property, over the margins."""
    regime: str
    """"subsonic", "transonic" or "supersonic": which air the demand lies in."""
    flutter_row: int
    """Which candidate of `structure` and `boundaries` flutters first: as drawn, or as cut."""

    @property
    def variant(self) -> Variant:
        """Return the fin as one of several that are compared."""
        return Variant(self.margins, self.root, self.handling, self.shape, self.structure, 0)


def _speed_margin(
    name: str, label: str, stable: AeroelasticBoundaries, row: int, demand: Point
) -> Margin:
    """Return the margin of an instability at the demand's speed, whatever its Mach number."""
    flutters = name == "flutter"
    fast = stable.fast
    if fast is not None and fast.judged[row]:
        ratio = float((fast.first_ratio if flutters else fast.divergence_ratio)[row])
        bound = bool((fast.first_bound if flutters else fast.divergence_bound)[row])
        mach = float((fast.first_mach if flutters else fast.divergence_mach)[row])
        if bound:
            note = f"none found up to Mach {mach:.2f}, where the search ends"
        elif mach > aeroelastic.SUBSONIC_LIMIT:
            how = "passing" if mach < demand.mach else "at"
            note = f"{how} Mach {mach:.2f}, where linear theory is corrected by wind-tunnel tests"
        else:
            note = ""
        if flutters and fast.by_divergence[row] and not bound:
            bound, note = True, "not before the fin diverges"
    else:
        speed = float((stable.flutter_speed if flutters else stable.divergence_speed)[row])
        bound = not (stable.flutter_found if flutters else stable.divergence_found)[row]
        ratio = speed / demand.speed if demand.speed > 0 else math.inf
        note = ""
        if bound and speed >= 0.999 * aeroelastic.SUBSONIC_LIMIT * demand.air.sound_speed:
            note = "none found up to Mach 0.9, where the search ends"
        elif bound:
            note = "not before the fin diverges"
    known = demand.mach <= HIGHEST_MACH
    if not known:
        note = FAST
    return Margin(
        name,
        demand.speed,
        Quantity(ratio * demand.speed, bound="at least" if bound else ""),
        "speed",
        label=label,
        required=required_speed_margin(demand.mach),
        note=note,
        known=known,
    )


def _doubt(shape: Model, mass: float, stable: AeroelasticBoundaries, point: Point, row: int) -> str:
    """Return why a flutter speed of a fin of one mass [kg] cannot be promised, or ""."""
    areal = mass / shape.planform.area
    if areal < MIN_MASS_RATIO * point.air.density * shape.planform.mean_chord:
        return LIGHT
    fast = stable.fast
    beyond = fast is not None and fast.judged[row]
    if fast.unresolved[row] if fast is not None and beyond else stable.unresolved[row]:
        return RAPID
    return ""


def _unstable(
    shape: Model,
    found: Structure,
    stable: AeroelasticBoundaries,
    point: Point,
    row: int,
    candidate: int,
) -> tuple[Margin, Margin]:
    """Return the flutter and divergence margin of a row of `stable`, of one of the candidates."""
    flutter = _speed_margin("flutter", "Flutter", stable, row, point)
    divergence = _speed_margin("divergence", "Divergence", stable, row, point)
    doubt = _doubt(shape, float(found.mass[candidate]), stable, point, row)
    if doubt:
        flutter = replace(flutter, known=False, note=doubt)
    return flutter, divergence


def _at_root(
    fin: Fin, found: Structure, row: int, coefficients: Real, moment: Real, shear: Real
) -> tuple[root_strength.RootLoad, ...]:
    """Return what the root of one candidate carries in each of several shapes."""
    return root_strength.root_loads(
        system=found.single(row),
        planform=fin.planform,
        layup=found.layups[row],
        angle=float(found.angles[row]),
        bending=found.bending[row],
        coefficients=coefficients,
        moment=moment,
        shear=shear,
        edge=fin.edge,
    )


def _bending(
    point: Point, loads: Sequence[root_strength.RootLoad]
) -> tuple[Margin, root_strength.RootLoad]:
    """Return the margin of a root under the air's load, and that load.

    The first load is that of the moment, others those of the passage of Mach 1.
    """
    hardest = min(range(len(loads)), key=lambda index: loads[index].factor)
    root = loads[hardest]
    where = ", while passing Mach 1" if hardest else ""
    bending = Margin(
        "bending",
        root.stress,
        Quantity(root.stress * root.factor),
        "pressure",
        label="Bending at the root",
        required=REQUIRED_LOAD_MARGIN,
        note=f"first to give: {root.failing}; angle of attack "
        f"{math.degrees(point.attack):.3g}°{where}",
    )
    return bending, root


def _handling(hand: root_strength.RootLoad, push: float) -> Margin:
    """Return the margin of a root under the push of a hand [N] on the tip."""
    return Margin(
        "handling",
        push,
        Quantity(push * hand.factor),
        "force",
        label="A hand on the tip",
        note=f"first to give: {hand.failing}",
        flight=False,
    )


@dataclass(frozen=True, eq=False)
class BatchMargins:
    """Margins of several candidates on one outline, without spread."""

    shape: Model
    structure: Structure
    boundaries: AeroelasticBoundaries
    margins: tuple[tuple[Margin, ...], ...]
    root: tuple[root_strength.RootLoad, ...]
    handling: tuple[root_strength.RootLoad, ...]


def evaluate_batch(
    fin: Fin, stacks: Sequence[Layup], angles: Sequence[float], point: Point
) -> BatchMargins:
    """Return the margins of stacks of plies on a fin's outline; the planform's work is shared."""
    return batch_margins(fin, *build(fin, stacks, angles), point)


def batch_margins(fin: Fin, shape: Model, found: Structure, point: Point) -> BatchMargins:
    """Return the margins of candidates whose stiffness and modes are known."""
    every = range(len(found.layups))
    stable = judged(shape, found, [point] * len(every), one_air=True)
    loads = passing_loads(shape, found, every, [point] * len(every))
    basis = found.system.basis
    push = fin.hand * basis.values(np.array([fin.planform.tip_point]))[0]
    pushed = plate.static(found.system, load=np.broadcast_to(push, (len(every), push.size)))
    margins, roots, thumbs = [], [], []
    for row in every:
        *under_air, thumb = _at_root(
            fin,
            found,
            row,
            np.vstack([loads[row].coefficients, pushed[row]]),
            np.append(loads[row].moment, fin.hand * fin.planform.span),
            np.append(loads[row].shear, fin.hand),
        )
        bending, root = _bending(point, under_air)
        flying = _unstable(shape, found, stable, point, row, row)
        margins.append((*flying, bending, _handling(thumb, fin.hand)))
        roots.append(root)
        thumbs.append(thumb)
    return BatchMargins(
        shape=shape,
        structure=found,
        boundaries=stable,
        margins=tuple(margins),
        root=tuple(roots),
        handling=tuple(thumbs),
    )


def as_cut(stack: Layup, angle: float) -> tuple[float, ...]:
    """Return the directions of grain that a fin cut at `angle` may have, that itself first."""
    turned = (angle - AS_CUT, angle + AS_CUT)
    nominal = layups.bending(stack, angle=angle)
    alike = (np.allclose(layups.bending(stack, angle=a), nominal, rtol=1e-6) for a in turned)
    return (angle,) if all(alike) else (angle, *turned)


def _soonest(margin: Margin) -> tuple[float, bool]:
    """Return what tells which of several candidates gives way first."""
    return margin.ratio, bool(margin.bound)


def lowest(judged: Sequence[tuple[Margin, ...]]) -> tuple[Margin, ...]:
    """Return each margin where it is smallest of a fin as drawn, first, and as it may be cut."""
    out = []
    for choices in zip(*judged, strict=True):
        least = min(choices, key=_soonest)
        # what one of them cannot promise, none can
        doubtful = next((margin for margin in choices if not margin.known), None)
        if doubtful is not None:
            least = replace(least, known=False, note=doubtful.note)
        elif least.ratio < NOTED * choices[0].ratio:
            off = f"with the grain {math.degrees(AS_CUT):.0f}° off"
            least = replace(least, note=f"{least.note}; {off}" if least.note else off)
        out.append(least)
    return tuple(out)


@dataclass(frozen=True, eq=False)
class Variant:
    """What one of several fins would do: its margins as cut, without spread, and its model."""

    margins: tuple[Margin, ...]
    root: root_strength.RootLoad
    """Under the air's load."""
    handling: root_strength.RootLoad
    """Under a hand on the tip."""
    shape: Model
    structure: Structure
    row: int
    """Which of the candidates in `structure` it is."""

    @property
    def mass(self) -> float:
        """Mass of the fin [kg]."""
        return float(self.structure.mass[self.row])


def evaluate_variants(fins: Sequence[Fin], point: Point) -> tuple[Variant, ...]:
    """Return what several fins would do at one moment; those of one outline share its work."""
    groups: dict[tuple[object, ...], list[int]] = {}
    stacks = [fin.layup() for fin in fins]
    for place, (fin, stack) in enumerate(zip(fins, stacks, strict=True)):
        rounding = fin.thickness if fin.edge.kind == "rounded" else None
        kind = (fin.planform, fin.edge, rounding, fin.coating, fin.hand, bool(core_index(stack)))
        groups.setdefault(kind, []).append(place)
    found: dict[int, Variant] = {}
    for places in groups.values():
        first = fins[places[0]]
        ways = [as_cut(stacks[i], fins[i].direction) for i in places]
        together = evaluate_batch(
            first,
            [stacks[i] for i, each in zip(places, ways, strict=True) for _ in each],
            [angle for each in ways for angle in each],
            point,
        )
        row = 0
        for place, each in zip(places, ways, strict=True):
            margins = lowest(together.margins[row : row + len(each)])
            root, handling = together.root[row], together.handling[row]
            found[place] = Variant(margins, root, handling, together.shape, together.structure, row)
            row += len(each)
    return tuple(found[place] for place in range(len(fins)))


def along_trajectory(
    fin: Fin, shape: Model, found: Structure, points: Sequence[Point]
) -> tuple[tuple[Margin, ...], ...]:
    """Return one candidate's margins of the flight at each of many moments, in one go.

    Parameters
    ----------
    fin, shape, found
        The fin, its model, and one candidate on it.
    points
        Moments in any air.
    """
    if not points:
        return ()
    stable = judged(shape, found, points, one_air=False)
    loads = passing_loads(shape, found, [0] * len(points), points)
    each = _at_root(
        fin,
        found,
        0,
        np.vstack([load.coefficients for load in loads]),
        np.concatenate([load.moment for load in loads]),
        np.concatenate([load.shear for load in loads]),
    )
    ends = np.cumsum([load.moment.size for load in loads])
    roots = [each[end - load.moment.size : end] for load, end in zip(loads, ends, strict=True)]
    return tuple(
        (*_unstable(shape, found, stable, point, row, 0), _bending(point, roots[row])[0])
        for row, point in enumerate(points)
    )


def _unlimited(margin: Margin, stable: AeroelasticBoundaries, row: int, point: Point) -> float:
    """Return a margin's ratio as if the last air computed continued beyond it."""
    if not margin.bound:
        return margin.ratio
    fast = stable.fast
    if fast is not None and fast.judged[row]:
        return max(margin.ratio, float(fast.beyond[row, 0 if margin.name == "flutter" else 1]))
    by_mach = stable.flutter_by_mach if margin.name == "flutter" else stable.divergence_by_mach
    return max(margin.ratio, float(by_mach[row, -1]) / point.speed)


def _ratios(found: BatchMargins, point: Point) -> Real:
    """Return ``(c, n_margins)`` ratios to judge scatter about.

    Where a margin is only a limit, scatter is judged on the boundary beyond the limit, so that a
    sheet much softer than usual can still fall below it.
    """
    return np.array(
        [
            [_unlimited(margin, found.boundaries, row, point) for margin in margins]
            for row, margins in enumerate(found.margins)
        ]
    )


def _slopes(moved: Real, base: Real) -> Real:
    """Return d log(margin) / d log(property) from ratios with each property moved by `STEP`."""
    with np.errstate(invalid="ignore", divide="ignore"):
        slopes = np.log(moved / base) / math.log(STEP)
    return np.where(np.isfinite(slopes), slopes, 0.0)


def check(fin: Fin, point: Point) -> Check:
    """Return every margin of a fin at one moment of flight, with spread and verdict.

    Raises
    ------
    InputError
        Where the fin or the moment is outside what the model is made for.
    """
    if not point.speed > 0.0:
        raise InputError("speed", point.speed, "a speed above zero")
    scatter = fin.material.scatter
    names = [name for name in FACTORS if scatter.get(name, 0.0) > 0.0]
    moved: list[dict[str, float]] = [{}, *({name: STEP} for name in names)]
    stacks = [fin.layup(factors) for factors in moved]
    _, *turned = as_cut(stacks[0], fin.direction)
    directions = [*[fin.direction] * len(stacks), *turned]
    found = evaluate_batch(fin, [*stacks, *stacks[:1] * len(turned)], directions, point)
    cut = [0, *range(len(stacks), len(directions))]
    base = lowest([found.margins[row] for row in cut])
    ratios = _ratios(found, point)
    centre = ratios[cut].min(axis=0)
    slopes = _slopes(ratios[1 : len(stacks)], ratios[0])
    # a boundary that only the turned grain meets moves with the properties as it does there
    met = {
        place: min(cut, key=lambda row, place=place: found.margins[row][place].ratio)  # type: ignore[misc]
        for place, margin in enumerate(found.margins[0])
        if names and margin.bound and not base[place].bound
    }
    for row in set(met.values()):
        there = evaluate_batch(fin, stacks[1:], [directions[row]] * len(names), point)
        own = [place for place, at in met.items() if at == row]
        slopes[:, own] = _slopes(_ratios(there, point), ratios[row])[:, own]
    samples = sampling.sampled(
        centre,
        slopes.T,
        np.array([scatter[name] for name in names]),
        np.array([model_cov(margin.name, point.mach) for margin in base]),
    )
    limit = np.array([margin.ratio if margin.bound else np.inf for margin in base])
    samples = np.minimum(samples, limit)
    low, high = sampling.interval(samples)
    margins = tuple(margin.spread(float(low[i]), float(high[i])) for i, margin in enumerate(base))
    in_flight = [i for i, margin in enumerate(margins) if margin.flight]
    shortfall = float((samples[:, in_flight] < 1.0).any(axis=1).mean())
    return Check(
        fin=fin,
        point=point,
        margins=margins,
        governs=governing(margins),
        state=verdict_state(margins, shortfall),
        shortfall=shortfall,
        shape=found.shape,
        structure=found.structure,
        boundaries=found.boundaries,
        root=min((found.root[row] for row in cut), key=lambda root: root.factor),
        handling=found.handling[0],
        samples=samples,
        slopes={name: slopes[i] for i, name in enumerate(names)},
        regime=regime(point.mach),
        flutter_row=min(cut, key=lambda row: _soonest(found.margins[row][0])),
    )


def effective_shear_modulus(bending: Real, thickness: float) -> float:
    """Return the shear modulus of a uniform sheet that would twist as this fin does [Pa].

    ``G = 12/t^3 (D66 - D26^2 / D22)``: twist about the span with bending along it left free.
    """
    return float(12.0 / thickness**3 * (bending[2, 2] - bending[1, 2] ** 2 / bending[1, 1]))


def estimate(fin: Fin, bending: Real, air: Air) -> float:
    """Return the NACA TN 4197 flutter estimate [m/s], a cross-check only."""
    mean = fin.planform.area / fin.planform.span
    return float(
        flutter_estimate_tn4197(
            aspect_ratio=fin.planform.aspect_ratio,
            thickness_ratio=fin.thickness / mean,
            taper=fin.planform.taper,
            shear_modulus=effective_shear_modulus(bending, fin.thickness),
            pressure=float(air.pressure),
            sound_speed=float(air.sound_speed),
        )
    )
