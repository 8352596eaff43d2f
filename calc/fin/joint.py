"""Margins of the root joint under the air's load and under a hand's.

The load on a joint is that of the fin on the joint's own spring. A clamped fin crowds its load at
the ends of the root; one that turns as a whole spreads it, and a paper tube lets it turn.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from calc.fin.fin import Fin, Point
from calc.fin.loads import air_load
from calc.fin.model import Model, Structure, structure
from calc.fin.policy import REQUIRED_LOAD_MARGIN
from calc.margin import Margin, Quantity
from calc.materials import bonding
from calc.structure import plate, root_joint, root_strength

Real = NDArray[np.float64]

USUAL: tuple[tuple[float, str, float, float, bool, root_joint.Behind], ...] = (
    (0.020, "wood-glue", 0.0025, 0.00033, False, "motor"),
    (0.030, "wood-glue", 0.0030, 0.00033, False, "rings"),
    (0.050, "epoxy", 0.00635, 0.0005, False, "rings"),
    (0.070, "epoxy", 0.0060, 0.0008, True, "rings"),
    (float("inf"), "epoxy", 0.0100, 0.0015, True, "rings"),
)
"""For tubes up to a diameter [m]: glue, fillet radius [m], wall [m], whether a tab reaches the
motor tube, and what lies behind the wall. Common practice."""

BAND_COVERAGE = 0.95
"""Share of joints taken to lie between a joint with all its strengths at the low end of their
bands and one with all at the high end; our own choice. All low at once is rarer than one low."""

USUAL_TAB = 0.25
"""Depth of a usual tab as a share of the tube's diameter; common practice."""


def usual(diameter: float) -> root_joint.Joint:
    """Return the joint that is usual on a kraft paper tube of an outer diameter [m].

    Notes
    -----
    Common practice: fillets of wood glue on small tubes, of epoxy on larger ones, and on the
    largest a tab to the motor tube with fillets inside and outside.
    """
    _, glue, fillet, wall, tab, behind = next(row for row in USUAL if diameter <= row[0])
    return root_joint.Joint(
        bonding.ADHESIVES[glue],
        bonding.TUBES["kraft"],
        wall=min(wall, 0.1 * diameter),
        diameter=diameter,
        fillet=fillet,
        tab=USUAL_TAB * diameter if tab else 0.0,
        inner_fillet=0.5 * fillet if tab else 0.0,
        behind=behind,
    )


@dataclass(frozen=True)
class JointLoad:
    """A load on the root of a fin that its joint lets turn.

    Parameters
    ----------
    name, note
        "air" or "hand", and what to know of it.
    load, stiff
        On the joint's own spring, and on one `root_joint.STIFFER` times as stiff.
    flight
        False for what can break a joint on the ground only.
    known
        False where the load has no known end.
    """

    name: str
    load: root_joint.RootLoad
    stiff: root_joint.RootLoad
    flight: bool = True
    known: bool = True
    note: str = ""


@dataclass(frozen=True)
class Judged:
    """A joint under one load."""

    case: JointLoad
    joint: root_joint.JointCapacity

    @property
    def governs(self) -> Margin:
        """The weakest way to fail."""
        return self.joint.governs

    @property
    def required(self) -> float:
        """Capacity over the load that is required: of a hand, which ends no flight, 1."""
        return REQUIRED_LOAD_MARGIN if self.case.flight else 1.0

    @property
    def margin(self) -> float:
        """The weakest way to fail, over what is required."""
        return self.governs.ratio / self.required

    @property
    def at_least(self) -> bool:
        """True where the margin is a lower limit, which the joint may well exceed."""
        return self.joint.at_least and self.joint.most >= 1.0


@lru_cache(maxsize=16)
def _turning(basis: plate.Basis, root: float) -> Real:
    """Return ``(s, n)`` the rotation of a plate's functions along the root."""
    return np.asarray(basis.slopes(root_strength.root_points(root))[1])


@lru_cache(maxsize=32)
def _at_tip(basis: plate.Basis, x: float, y: float) -> Real:
    return np.asarray(basis.values(np.array([[x, y]]))[0])


def root_of(fin: Fin, found: Structure, row: int = 0) -> root_joint.FinRoot:
    """Return the fin where it is glued."""
    return root_joint.fin_root(
        found.layups[row],
        direction=float(found.angles[row]),
        span_stiffness=float(found.bending[row][1, 1]),
    )


def loads(
    fin: Fin,
    shape: Model,
    found: Structure,
    points: Sequence[Point],
    *,
    spring: float,
    row: int = 0,
) -> tuple[JointLoad, JointLoad]:
    """Return the loads of the air and of a hand on a root that turns against a spring.

    Parameters
    ----------
    fin, shape, found, row
        The fin, its model and the candidate on it.
    points
        Moments of the flight; the one that loads the root most counts.
    spring
        Rotational stiffness of the joint [N m/rad per m].

    Notes
    -----
    M(x) = k theta(x) along the root, of the plate on the spring; its mean times the root is the
    whole moment, exactly. Averaged over `root_strength.WINDOW` as stresses of a clamped root are.
    """
    springs = [spring, root_joint.STIFFER * spring]
    soft = structure(
        shape,
        [found.layups[row]] * 2,
        [float(found.angles[row])] * 2,
        coating=fin.coating,
        root_spring=springs,
    )
    times = len(points)
    air = air_load(shape, soft, [0] * times + [1] * times, [*points, *points])
    plan, basis = fin.planform, soft.system.basis
    at_tip = _at_tip(basis, plan.sweep + 0.5 * plan.tip, plan.span)
    pushed = plate.static(soft.system, load=np.broadcast_to(fin.hand * at_tip, (2, at_tip.size)))
    smooth = root_strength.smoothing()

    def carried(end: int) -> tuple[root_joint.RootLoad, root_joint.RootLoad]:
        shapes = np.vstack([air.coefficients[end * times : (end + 1) * times], pushed[end]])
        if soft.system.shear_flexible:
            stations = root_strength.root_points(plan.root)
            turned = plate.root_rotations(soft.single(end), shapes, stations)
        else:
            turned = shapes @ _turning(basis, plan.root).T
        moments = springs[end] * turned
        averaged = moments @ smooth.T
        # averaging loses a little at the ends, and the whole moment must stay
        whole = np.where(averaged.mean(axis=1) == 0.0, 1.0, averaged.mean(axis=1))
        moments = averaged * (moments.mean(axis=1) / whole)[:, None]
        shears = [*air.shear[end * times : (end + 1) * times], fin.hand]
        found = [
            root_joint.root_load(moment, shear=float(shear), root=plan.root)
            for moment, shear in zip(moments, shears, strict=True)
        ]
        return max(found[:-1], key=lambda load: load.moment), found[-1]

    (in_air, in_hand), (stiff_air, stiff_hand) = carried(0), carried(1)
    near = bool(air.near_divergence.any())
    return (
        JointLoad(
            "air",
            in_air,
            stiff_air,
            known=not near,
            note="so close to the speed at which a fin on this root bends away for good, its load "
            "has no known limit"
            if near
            else "",
        ),
        JointLoad("hand", in_hand, stiff_hand, flight=False),
    )


def judged(
    fin: Fin,
    joint: root_joint.Joint,
    shape: Model,
    found: Structure,
    points: Sequence[Point],
    *,
    row: int = 0,
    tested: root_joint.Band | None = None,
) -> tuple[Judged, Judged]:
    """Return a joint under the air's load and a hand's; parameters as of `margins`."""
    root = root_of(fin, found, row)
    spring = root_joint.springs(root, joint, count=fin.count).total
    cases = loads(fin, shape, found, points, spring=spring, row=row)
    return capacities(cases, root, joint, tested=tested)


def capacities(
    cases: tuple[JointLoad, JointLoad],
    root: root_joint.FinRoot,
    joint: root_joint.Joint,
    *,
    tested: root_joint.Band | None = None,
) -> tuple[Judged, Judged]:
    """Return a joint under loads that are known."""
    air, hand = (
        Judged(case, root_joint.capacity(case.load, root, joint, stiff=case.stiff, tested=tested))
        for case in cases
    )
    return air, hand


LABELS = {"air": "Root joint in flight", "hand": "Root joint, a hand on the tip"}


def margins(
    fin: Fin,
    joint: root_joint.Joint,
    shape: Model,
    found: Structure,
    points: Sequence[Point],
    *,
    row: int = 0,
    tested: root_joint.Band | None = None,
) -> tuple[Margin, ...]:
    """Return the margins of the joint that holds a fin.

    Parameters
    ----------
    fin
        The fin.
    joint
        How it is glued on; `usual` is what common practice does on a paper tube.
    shape, found, row
        From `model.build`, and which of its candidates.
    points
        Moments of the flight at which the air may load the root most.
    tested
        Moment per metre at which such joints broke, low and high [N m/m]; None computes it.

    Returns
    -------
    tuple of Margin
        "joint" (flight) and "joint-hand" (ground). A `bound` one with a ratio below 1 says nothing
        against the joint: it is then not `known`, and must not be read as a failure. The first
        lasting crease of a paper tube is not among them: it ends no flight.
    """
    results = judged(fin, joint, shape, found, points, row=row, tested=tested)
    return tuple(margin_of(item) for item in results)


def deciles(*, low: float, high: float) -> tuple[float, float]:
    """Return the 10 and 90 % points of a lognormal ratio from the ends of its band.

    Examples
    --------
    >>> [round(end, 3) for end in deciles(low=1.0, high=4.0)]
    [1.271, 3.147]
    """
    if not 0.0 < low < high < math.inf:
        return low, high
    normal = NormalDist()
    share = normal.inv_cdf(0.9) / normal.inv_cdf(0.5 + 0.5 * BAND_COVERAGE)
    middle, half = 0.5 * math.log(low * high), 0.5 * math.log(high / low)
    return math.exp(middle - share * half), math.exp(middle + share * half)


def margin_of(item: Judged) -> Margin:
    """Return the margin of a joint under one load, with what governs in its note."""
    case, band = item.case, item.governs
    forceful = any(word in band.name for word in ("shear", "slot", "tab"))
    limited = item.at_least and band.ratio < 1.0
    helped = "at least: another part of the joint helps and is not counted" if limited else ""
    per_metre = Margin(
        "joint" if case.flight else "joint-hand",
        band.demand,
        Quantity(band.capacity.value, bound="at least" if item.at_least else ""),
        band.kind,
        label=LABELS[case.name],
        required=item.required,
        note="; ".join(note for note in (band.name, helped, case.note) if note),
        flight=case.flight,
        known=case.known and not limited,
    )
    found = per_metre.times(case.load.root, "force" if forceful else "moment")
    if band.low is None or band.high is None:
        return found
    return found.spread(*deciles(low=band.low, high=band.high))
