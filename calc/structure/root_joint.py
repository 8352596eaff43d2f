"""The root joint: whether the glue is as strong as the fin, and how stiff it is.

Everything is per metre of root chord: moment [N m/m], shear [N/m], stiffness [N m/rad per m].
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from calc.errors import InputError, require_positive
from calc.margin import Margin, Quantity, bands, between
from calc.structure import failure, laminate

Array = NDArray[np.float64]

Band = tuple[float, float]
"""Low and high end of a value."""
End = Literal[0, 1]
"""Which end of every band is taken at once: 0 the low one, 1 the high one."""

FILLET_LEG = 2.0 - math.sqrt(2.0)
"""Leg of the largest 45-degree triangle inside a concave fillet, in fillet radii [-].

A quarter-round hollow comes within (sqrt(2) - 1) r of the corner; its 45-degree tangent cuts legs
of (2 - sqrt(2)) r. The feather edges beyond are left out, as welding practice does."""

END_GRAIN = (0.10, 0.25)
"""Share of the wood's strength along the grain that a glued end-grain butt reaches, low and high:
"even with special techniques, butt joints reach only about 25 %" (Wood Handbook, FPL-GTR-190
(2010), ch. 10, End-Grain Joints); the low end for ordinary gluing from memory, unverified. A fin
whose grain runs outward meets the tube with its end grain."""

GLUE_THICKNESS = 1e-4
"""Thickness of a glue line [m]; 0.05 to 0.2 mm is common practice."""

DRY = 0.07
"""Moisture of paper up to which its strength is taken whole [-]: about that of a room."""
DAMP_LOSS = 0.10
"""Share of a paper tube's strength lost with each per cent of moisture above `DRY`: C. Correa,
Designing with Paper Tubes (2004), from tests at Dortmund."""

WIDEST_FOOT = 0.5
"""Half the angle of the tube that the foot of a joint may cover and still relieve the wall [rad].
Our own choice: the ring behind it ends where the next fin's foot begins."""

CLOTH_PULL = (20e3, 40e3)
"""Tension that one layer of glass cloth bears [N/m], low and high: 0.1 and 0.17 mm of a hand-laid
laminate of 210 to 250 MPa; common practice, cloth of 100 to 200 g/m2."""

STIFFER = 10.0
"""How many times stiffer than a plain ring the wall may hold a fin: the tube reaches on beyond the
root, and rings stiffen it. Our own choice; the loads of both ends are taken."""

BEAD = 0.001
"""Radius of the bead of glue that is pressed out along a bare edge, at most [m]; the low end counts
none. Common practice."""

RING_WIDTH = 0.003
"""Thickness of a motor mount's ring [m]; common practice, 1/8 in plywood or 3 mm of card."""
RING_FACE = (1.0e6, 3.0e6)
"""Shear strength of a ring's face, low and high [Pa]: layers of card at the low end, rolling shear
of birch plywood at the high one; from memory, unverified."""
RINGS = 2
"""Rings of a motor mount under a root; common practice."""

Behind = Literal["nothing", "rings", "motor", "coupler"]
"""What lies behind the tube's wall under the root: nothing, the rings of a motor mount glued in, a
motor or motor tube close to the wall, or a coupler of the wall's own thickness glued in."""
TabEnd = Literal["motor", "rings", "free"]
"""What the inner end of a tab is glued to: the motor tube, rings at both its ends, or nothing."""


@dataclass(frozen=True)
class Adhesive:
    """A glue: low and high ends of what it bears between strong parts.

    Parameters
    ----------
    label
        Name in sentences.
    shear, tension
        Strength [Pa].
    modulus
        Young's modulus of the set glue [Pa].
    soaks
        True for a glue that holds only where it soaks into fibres, as wood glue does.
    caution
        What a joint made with it must say; may be empty.
    """

    label: str
    shear: Band
    tension: Band
    modulus: Band
    soaks: bool = False
    caution: str = ""


@dataclass(frozen=True)
class Tube:
    """A body tube: low and high ends of what its wall bears.

    Parameters
    ----------
    label
        Name in sentences.
    shear, tension
        Strength between the wall's layers, which is what the glue holds on to [Pa].
    hoop_strength, hoop_modulus
        Tension strength and Young's modulus around the tube [Pa].
    compression
        Compression strength around the tube [Pa].
    bending
        Bending strength 6 M / h^2 at which the wall folds or breaks [Pa].
    crease
        Bending stress 6 M / h^2 of the first lasting crease [Pa]; equal to `bending` where the wall
        breaks without one.
    tough
        True where layers let go slowly, as paper does, so that the whole foot may pull at once.
    damp
        True where damp weakens it: `damp_share`.
    sealed
        True where wood glue finds no fibres to soak into.
    caution
        What a joint on it must say; may be empty.
    """

    label: str
    shear: Band
    tension: Band
    hoop_strength: Band
    hoop_modulus: Band
    compression: Band
    bending: Band
    crease: Band
    tough: bool = False
    damp: bool = False
    sealed: bool = False
    caution: str = ""

    def at(self, moisture: float) -> Tube:
        """Return the same tube at a moisture of its paper."""
        share = damp_share(moisture) if self.damp else 1.0
        if share == 1.0:
            return self

        def less(band: Band) -> Band:
            return band[0] * share, band[1] * share

        return replace(
            self,
            shear=less(self.shear),
            tension=less(self.tension),
            hoop_strength=less(self.hoop_strength),
            compression=less(self.compression),
            bending=less(self.bending),
            crease=less(self.crease),
        )


def damp_share(moisture: float) -> float:
    """Return the share of its dry strength that paper keeps at a moisture.

    Parameters
    ----------
    moisture
        Water over dry mass [-].

    Notes
    -----
    0.9 for each per cent above `DRY`, compounded.

    References
    ----------
    C. Correa, Designing with Paper Tubes (2004): sensitive above about 7 %, then 10 % per 1 %.

    Examples
    --------
    >>> damp_share(0.05), round(damp_share(0.15), 2)
    (1.0, 0.43)
    """
    return float((1.0 - DAMP_LOSS) ** (100.0 * max(moisture - DRY, 0.0)))


@dataclass(frozen=True)
class Joint:
    """How a fin is glued on.

    Parameters
    ----------
    adhesive, tube
        What is glued with, and onto.
    wall, diameter
        Thickness of the tube's wall and outer diameter of the tube [m], above zero.
    fillet
        Radius of the fillet outside, on both sides [m]; 0 for none.
    tab
        Depth of the through-wall tab from the tube's surface to its inner end [m]; 0 for none.
    tab_end
        What holds the tab's inner end.
    notched, notch_depth
        Share of the tab's length that notches for rings take [-], below 1, and how deep they
        reach from its inner end outward [m].
    inner_fillet
        Radius of the fillets on both sides of the tab inside, at the wall and at the tab's inner
        end [m]; 0 for none.
    behind
        What lies behind the wall under the root.
    cloth
        Layers of glass cloth laid from tip to tip over fillet and tube on each side.
    moisture
        Of a paper tube [-].

    Raises
    ------
    InputError
        Naming a value that cannot be.
    """

    adhesive: Adhesive
    tube: Tube
    wall: float
    diameter: float
    fillet: float = 0.0
    tab: float = 0.0
    tab_end: TabEnd = "motor"
    notched: float = 0.0
    notch_depth: float = 0.0
    inner_fillet: float = 0.0
    behind: Behind = "nothing"
    cloth: int = 0
    moisture: float = DRY

    def __post_init__(self) -> None:
        """Refuse impossible values."""
        require_positive(wall=self.wall, diameter=self.diameter)
        for name in ("fillet", "tab", "notched", "notch_depth", "inner_fillet", "moisture"):
            if not getattr(self, name) >= 0.0:
                raise InputError(name, getattr(self, name), "a value of zero or more")
        if not self.notched < 1.0:
            raise InputError("notched", self.notched, "a share of the tab's length below 1")
        if self.cloth < 0:
            raise InputError("cloth", self.cloth, "a number of layers, 0 for none")

    @property
    def glued(self) -> float:
        """Return the share of the tab's inner end that is glued: all but the notches."""
        return 1.0 - self.notched

    def foot(self, thickness: float, end: End = 0) -> float:
        """Return the width of the joint on the tube of a fin of a thickness [m].

        At the high end a bare edge has a bead of glue beside it.
        """
        return thickness + 2.0 * FILLET_LEG * max(self.fillet, BEAD * end)


@dataclass(frozen=True)
class FinRoot:
    """The fin where it is glued.

    Parameters
    ----------
    thickness
        At the root [m].
    modulus
        Bending modulus along the span [Pa].
    shear_strength
        Of the fin's face [Pa].
    edge_tension
        Tension that the root edge bears, low and high [Pa], from `edge_tension`.
    """

    thickness: float
    modulus: float
    shear_strength: float
    edge_tension: Band


@dataclass(frozen=True)
class RootLoad:
    """Load on a root.

    Parameters
    ----------
    moment, shear
        Moment [N m/m] and shear [N/m] per metre where the root carries most.
    mean
        Mean moment per metre [N m/m].
    root
        Root chord [m].
    """

    moment: float
    shear: float
    mean: float
    root: float


def root_load(moments: Array, *, shear: float, root: float) -> RootLoad:
    """Return the load per metre at the most heavily loaded place of the root.

    Parameters
    ----------
    moments
        Moment per metre along the root, from the plate (n,) [N m/m].
    shear
        Whole force across the root [N].
    root
        Root chord [m].

    Returns
    -------
    RootLoad
        Largest and mean moment, and the mean shear times how uneven the moment is.

    Notes
    -----
    M = max |M(x)|, V = |V| / root * M / mean |M(x)|: shear is taken as uneven as the moment.

    Examples
    --------
    >>> root_load(np.array([1.0, 3.0]), shear=10.0, root=0.1)
    RootLoad(moment=3.0, shear=150.0, mean=2.0, root=0.1)
    """
    size = np.abs(moments)
    peak, mean = float(size.max()), float(size.mean())
    uneven = peak / mean if mean > 0.0 else 1.0
    return RootLoad(peak, abs(shear) / root * uneven, mean, root)


def edge_tension(stack: laminate.Layup, *, direction: float) -> Band:
    """Return the tension that the fin's root edge bears where it is glued, low and high [Pa].

    Parameters
    ----------
    stack
        The fin's plies.
    direction
        Angle of the stack's 0 direction from the root chord [rad].

    Returns
    -------
    (float, float)
        Mean over the plies by thickness.

    Notes
    -----
    Across the grain as the wood does; on end grain `END_GRAIN` of the strength along the grain, but
    never less than across it; between them by Hankinson's formula.

    References
    ----------
    Wood Handbook, FPL-GTR-190 (2010), chapters 5 and 10.
    """
    low = high = 0.0
    for ply in stack.plies:
        lamina = ply.lamina
        turned = (ply.angle + direction - 0.5 * math.pi) % math.pi
        angle = min(turned, math.pi - turned)
        along, across = lamina.tension_along, lamina.tension_across
        if lamina.kind == "isotropic":
            weak = strong = along
        else:
            weak, strong = (max(end * along, min(across, along)) for end in END_GRAIN)
        low += ply.thickness * float(failure.hankinson(weak, across, angle))
        high += ply.thickness * float(failure.hankinson(strong, across, angle))
    return low / stack.thickness, high / stack.thickness


def fin_root(stack: laminate.Layup, *, direction: float, span_stiffness: float) -> FinRoot:
    """Return a fin's root from its plies.

    Parameters
    ----------
    stack
        The fin's plies; the first one is the face.
    direction
        Angle of the stack's 0 direction from the root chord [rad].
    span_stiffness
        Bending stiffness D22 of the plate along the span [N m].

    Returns
    -------
    FinRoot
        With the modulus of a plain strip of the same stiffness, E = 12 D / t^3.
    """
    return FinRoot(
        thickness=stack.thickness,
        modulus=12.0 * span_stiffness / stack.thickness**3,
        shear_strength=stack.plies[0].lamina.shear_strength,
        edge_tension=edge_tension(stack, direction=direction),
    )


def allowable(*strengths: float, uneven: bool = False) -> float:
    """Return the stress a glue line may bear: that of the weakest of glue and parts.

    Parameters
    ----------
    strengths
        Strength of the glue and of each part beside it, in the same sense (shear or tension) [Pa].
    uneven
        True when the stress along the line is neither even nor computed.

    Returns
    -------
    float
        Allowable stress [Pa].

    Notes
    -----
    allowable = min(strengths), a third of it where the stress is uneven and not computed.

    References
    ----------
    ANC Bulletin 18, Design of Wood Aircraft Structures (1944), section 2.910 (shear of the weaker
    wood where stress is uniform) and 2.912 (a third, web to flange).

    Examples
    --------
    >>> allowable(24e6, 5.86e6), round(allowable(24e6, 5.86e6, uneven=True) / 6894.757)
    (5860000.0, 283)
    """
    return min(strengths) / (3.0 if uneven else 1.0)


@dataclass(frozen=True)
class Capacity:
    """What one load path bears per metre of root: moment [N m/m], shear [N/m], and what limits."""

    moment: float
    shear: float
    limit: str


def butt(*, thickness: float, shear: float, tension: float) -> Capacity:
    """Return the capacity of a bare glue line between the fin's edge and the tube.

    Parameters
    ----------
    thickness
        Fin thickness at the root t [m].
    shear, tension
        Allowable stresses [Pa] from `allowable`.

    Returns
    -------
    Capacity
        Per metre of root.

    Notes
    -----
    M = tension t^2 / 6, V = (2/3) shear t (parabolic shear). Valid for a glue line that is fully
    wetted and elastic, without a fillet.

    References
    ----------
    Beam theory; allowables after ANC Bulletin 18 (1944), section 2.910.

    Examples
    --------
    >>> joint = butt(thickness=0.003, shear=2e6, tension=1e6)
    >>> round(joint.moment, 6), joint.shear
    (1.5, 4000.0)
    """
    require_positive(thickness=thickness, shear=shear, tension=tension)
    return Capacity(tension * thickness**2 / 6.0, 2.0 / 3.0 * shear * thickness, "glue line")


def filleted(
    *,
    thickness: float,
    radius: float,
    fin_modulus: float,
    fillet_modulus: float,
    butt_tension: float,
    toe_tension: float,
    face_shear: float,
    tube_shear: float,
) -> Capacity:
    """Return the capacity of a butt joint with a concave fillet on each side.

    Parameters
    ----------
    thickness, radius
        Fin thickness t and fillet radius r [m].
    fin_modulus, fillet_modulus
        Modulus of the fin along the span E_f and of the fillet E_g [Pa].
    butt_tension
        Allowable tension of the butt line [Pa].
    toe_tension
        Allowable tension where the fillet meets the tube [Pa].
    face_shear
        Allowable shear between fillet and fin face [Pa].
    tube_shear
        Allowable shear along the tube's surface [Pa].

    Returns
    -------
    Capacity
        Per metre of root.

    Notes
    -----
    Section at the tube's surface of width t + 2 a, a = (2 - sqrt 2) r;
    EI = E_f t^3/12 + (2 E_g/3)[(t/2 + a)^3 - (t/2)^3]. The moment is limited by the butt line at
    z = t/2, the fillet's toe at z = t/2 + a, and the pull of one fillet,
    E_g (M/EI) [(t/2 + a)^2 - (t/2)^2]/2 <= face_shear a. If the butt line fails first, the fillets
    alone (E_f = 0) may still bear more: the larger counts. V = (2/3) tube_shear t
    + 2 tube_shear a. Valid for an elastic composite section with both fillets sound; the tube's
    curvature is left out.

    References
    ----------
    Composite beam theory; effective leg after welding practice for concave fillets.
    """
    require_positive(thickness=thickness, radius=radius, fin_modulus=fin_modulus)
    require_positive(
        fillet_modulus=fillet_modulus, butt_tension=butt_tension, toe_tension=toe_tension
    )
    require_positive(face_shear=face_shear, tube_shear=tube_shear)
    leg = FILLET_LEG * radius
    inner, outer = 0.5 * thickness, 0.5 * thickness + leg
    fillets = 2.0 / 3.0 * fillet_modulus * (outer**3 - inner**3)
    pull = 0.5 * fillet_modulus * (outer**2 - inner**2)

    def limits(stiffness: float) -> dict[str, float]:
        return {
            "fillet toe on the tube": toe_tension * stiffness / (fillet_modulus * outer),
            "fillet on the fin's face": face_shear * leg * stiffness / pull,
        }

    whole_stiffness = fin_modulus * thickness**3 / 12.0 + fillets
    whole = limits(whole_stiffness)
    whole["butt line"] = butt_tension * whole_stiffness / (fin_modulus * inner)
    alone = limits(fillets)
    together, apart = min(whole, key=lambda k: whole[k]), min(alone, key=lambda k: alone[k])
    if alone[apart] > whole[together]:
        limit, moment = f"{apart} (butt line open)", alone[apart]
    else:
        limit, moment = together, whole[together]
    return Capacity(moment, tube_shear * (2.0 / 3.0 * thickness + 2.0 * leg), limit)


def layers_moment(*, width: float, tension: float, even: bool) -> float:
    """Return the moment per metre at which a tube's layers come apart under a joint's foot.

    Parameters
    ----------
    width
        Width of the foot w: fin thickness and the legs of the fillets [m].
    tension
        Strength across the layers [Pa].
    even
        False where the first fibres to let go are the end of it; True where the whole foot pulls
        evenly before anything is lost, and turns about its far edge.

    Returns
    -------
    float
        Moment per metre of root [N m/m].

    Notes
    -----
    M = tension w^2 / 6, or tension w^2 / 2. Paper lets go slowly: splitting it takes some 200 J/m2
    (tube board 200 to 500, from memory, unverified), so at 0.6 MPa its layers go on pulling over
    about 0.3 mm of opening, which is far more than they stretch before. Its real moment lies
    between the two.

    References
    ----------
    Beam theory; A. Hillerborg, M. Modéer and P.-E. Petersson, Cement and Concrete Research 6 (1976)
    773-782, for the step from one to the other in slowly opening materials (from memory).

    Examples
    --------
    >>> round(layers_moment(width=0.006, tension=0.5e6, even=False), 9)
    3.0
    """
    require_positive(width=width, tension=tension)
    return tension * width**2 / (2.0 if even else 6.0)


def wall_share(*, width: float, wall: float, diameter: float) -> float:
    """Return how much of half the moment reaches the tube's wall at the edge of a joint's foot.

    Parameters
    ----------
    width
        Width of the foot [m].
    wall, diameter
        Wall thickness and outside diameter of the tube [m].

    Notes
    -----
    In a ring that carries a couple M at one place, its bending moment falls from M/2 on either side
    of it as M (1/2 - phi / (2 pi) - sin(phi) / pi); the foot covers phi = width / (2 R), at most
    `WIDEST_FOOT`. The tube ahead of and behind the root only makes it fall faster.

    References
    ----------
    Thin ring theory by Castigliano's theorem (S. Timoshenko, Strength of Materials, Part II); the
    same ring as `wall_spring`.

    Examples
    --------
    >>> wall_share(width=0.0, wall=0.001, diameter=0.04)
    1.0
    """
    angle = min(width / (diameter - wall), WIDEST_FOOT)
    return 1.0 - (angle + 2.0 * math.sin(angle)) / math.pi


def wall_moment(*, wall: float, strength: float, share: float = 1.0) -> float:
    """Return the moment per metre at which the tube's wall creases beside a surface-glued fin.

    Parameters
    ----------
    wall
        Wall thickness h [m].
    strength
        Bending strength of the wall around the tube [Pa].
    share
        From `wall_share`.

    Returns
    -------
    float
        Moment per metre of root [N m/m].

    Notes
    -----
    The wall takes share M/2 on each side of the fin, stress 6 (share M/2) / h^2, so
    M = strength h^2 / (3 share). The moment in the wall must jump by the fin's moment at every
    place along the root, however long the tube.

    References
    ----------
    Ring theory (see `wall_spring`).

    Examples
    --------
    >>> round(wall_moment(wall=0.001, strength=30e6), 6)
    10.0
    """
    require_positive(wall=wall, strength=strength, share=share)
    return strength * wall**2 / (3.0 * share)


def ring_share(*, root: float, wall: float, diameter: float) -> float:
    """Return the share of a root that the rings of a motor mount hold.

    Parameters
    ----------
    root
        Root chord [m].
    wall, diameter
        Wall thickness h and outside diameter of the tube [m].

    Notes
    -----
    `RINGS` times (`RING_WIDTH` + 2 sqrt(R h)) over the root, at most 1: the wall is held on the
    ring and as far beside it as bending of a shell reaches.

    References
    ----------
    Edge bending of a cylinder dies out over 0.8 sqrt(R h): S. Timoshenko and S. Woinowsky-Krieger,
    Theory of Plates and Shells, 2nd ed. (1959), article 114.

    Examples
    --------
    >>> round(ring_share(root=0.06, wall=0.0005, diameter=0.0405), 2)
    0.31
    """
    reach = math.sqrt(0.5 * (diameter - wall) * wall)
    return min(1.0, RINGS * (RING_WIDTH + 2.0 * reach) / root)


def tab_margins(
    load: RootLoad,
    *,
    depth: float,
    thickness: float,
    leg: float,
    end_shear: float,
    slot: float,
    glued: float = 1.0,
) -> tuple[Margin, ...]:
    """Return the margins of a tab through the tube's wall, glued to the motor tube.

    Parameters
    ----------
    load
        Load on the root.
    depth, thickness
        Depth of the tab from the tube's surface to its glued end d, and its thickness t [m].
    leg
        Leg of the fillet on each side of the tab's end a [m]; 0 for none.
    end_shear
        Allowable shear of the glue at the tab's end [Pa].
    slot
        Force that the wall bears at the slot [N/m].
    glued
        Share of the tab's end that is glued g [-]; notches for rings take the rest.

    Returns
    -------
    tuple of Margin
        Wall at the slot and tab end, forces per metre [N/m].

    Notes
    -----
    The moment becomes a couple H = M / d between the wall and the tab's end; wall: H + V <= slot,
    end: H <= g end_shear (2/3 t + 2 a). Valid for a tab glued along its whole end, but for notches
    that are short against it, to a motor tube that rings hold, in a slot that fits, and running
    along most of the root. The rings in the notches help and are not counted.

    References
    ----------
    Statics; glue after ANC Bulletin 18 (1944), section 2.910.
    """
    require_positive(depth=depth, thickness=thickness, end_shear=end_shear, slot=slot)
    couple = abs(load.moment) / depth
    held = glued * end_shear * (2.0 / 3.0 * thickness + 2.0 * leg)
    return (
        Margin("tube wall at the slot", couple + abs(load.shear), Quantity(slot), "N/m"),
        Margin("glue at the tab's end", couple, Quantity(held), "N/m"),
    )


def ring_margin(
    load: RootLoad, *, depth: float, thickness: float, leg: float, shear: float
) -> Margin:
    """Return the margin of a tab whose front and rear ends are glued against rings.

    Parameters
    ----------
    load
        Load on the root.
    depth, thickness, leg
        As in `tab_margins` [m].
    shear
        Allowable shear between tab and ring [Pa].

    Notes
    -----
    Two patches of width 2/3 t + 2 a and depth d, each with its pull at half the depth, bear the
    whole moment: M root = shear (2/3 t + 2 a) d^2. The fin carries it along the root to them: valid
    for roots up to some ten times the depth.

    References
    ----------
    Statics; glue after ANC Bulletin 18 (1944), section 2.910.
    """
    require_positive(depth=depth, thickness=thickness, shear=shear)
    patch = shear * (2.0 / 3.0 * thickness + 2.0 * leg) * depth
    couple = load.mean * load.root / depth
    return Margin(
        "glue between tab and rings", couple / load.root, Quantity(patch / load.root), "N/m"
    )


@dataclass(frozen=True)
class JointMargins:
    """Margins of both load paths, and of the first lasting crease.

    Parameters
    ----------
    surface
        Glue line or fillets with the wall.
    tab
        The tab; empty where there is none, or where nothing holds its inner end.
    crease
        First lasting crease of the wall; None where the wall does not crease.
    """

    surface: tuple[Margin, ...]
    tab: tuple[Margin, ...]
    crease: Margin | None


def check(load: RootLoad, fin: FinRoot, joint: Joint, *, end: End = 0) -> JointMargins:
    """Return the margins of a root joint with every strength at one end of its band.

    Parameters
    ----------
    load
        Load per metre where the root carries most; its sign does not matter.
    fin
        The fin at its root.
    joint
        How it is glued on.
    end
        0 for the low end of every band of glue and tube, 1 for the high end.

    Returns
    -------
    JointMargins
        Of each load path.

    Notes
    -----
    Glue and fin by `butt` or `filleted`; the tube's layers under the foot by `layers_moment`, in a
    tough tube evenly at the high end; the wall by `wall_moment`; the tab by `tab_margins` or
    `ring_margin`. Cloth from tip to tip adds its pull times the fin's thickness to glue and layers
    and nothing to the wall. A fin that reaches through the wall pulls on no layers alone if it has
    fillets inside. A tough wall folds at a moment that it keeps, so its mean along the root counts,
    and where rings lie behind it the joint on them bears besides (`ring_share`). A motor close
    behind the wall keeps it from folding, not from creasing. Valid for a static load on a sound,
    fully glued joint; peel from a tube squeezed out of round and creep are left out.

    References
    ----------
    Beam theory; ANC Bulletin 18 (1944), section 2.910.
    """
    glue, tube = joint.adhesive, joint.tube.at(joint.moisture)
    shear, tension, modulus = glue.shear[end], glue.tension[end], glue.modulus[end]
    edge = allowable(tension, fin.edge_tension[end])
    in_tube = allowable(shear, tube.shear[end])
    # a bare edge has, at its best, the bead of glue that was pressed out
    fillet = joint.fillet or BEAD * end
    if fillet > 0.0:
        line = filleted(
            thickness=fin.thickness,
            radius=fillet,
            fin_modulus=fin.modulus,
            fillet_modulus=modulus,
            butt_tension=edge,
            toe_tension=tension,
            face_shear=allowable(shear, fin.shear_strength),
            tube_shear=in_tube,
        )
    else:
        line = butt(
            thickness=fin.thickness, shear=allowable(in_tube, fin.shear_strength), tension=edge
        )
    moment, across = abs(load.moment), abs(load.shear)
    foot = joint.foot(fin.thickness, end)
    inside = FILLET_LEG * joint.inner_fillet
    # the cloth is anchored on the tube as far as half-way to the next of four fins
    strap = joint.cloth * min(CLOTH_PULL[end], tube.shear[end] * math.pi * joint.diameter / 8.0)
    sewn = strap * fin.thickness
    limit = line.limit if joint.fillet > 0.0 else "glue line"
    surface = [Margin(f"{limit}, bending", moment, Quantity(line.moment + sewn), "N m/m")]
    # layers that let go slowly pull together along the root as they do across the foot
    even = tube.tough and end == 1
    layers = layers_moment(width=foot, tension=allowable(tension, tube.tension[end]), even=even)
    if not (joint.tab > 0.0 and joint.inner_fillet > 0.0):
        pulled = load.mean if even else moment
        surface.append(
            Margin("tube layers under the joint", pulled, Quantity(layers + sewn), "N m/m")
        )
    surface.append(Margin("glue line, shear", across, Quantity(line.shear), "N/m"))
    share = wall_share(width=foot, wall=joint.wall, diameter=joint.diameter)
    # a coupler beside the wall bends with it, or as one with it where all of it is glued
    times = (2.0, 4.0)[end] if joint.behind == "coupler" else 1.0
    folding, creasing = (
        times * wall_moment(wall=joint.wall, strength=strength[end], share=share)
        for strength in (tube.bending, tube.crease)
    )
    if joint.behind == "rings":
        # what ties the wall to a ring, inside, is again layers of the tube
        held = min(line.moment + sewn, layers)
        by_rings = ring_share(root=load.root, wall=joint.wall, diameter=joint.diameter)
        if tube.tough:
            folding = max(folding, by_rings * held + (1.0 - by_rings) * folding)
        else:
            folding = max(folding, by_rings * held)
    if joint.behind != "motor":
        # a fold of paper goes on carrying its moment, so that the whole root counts
        bent = load.mean if tube.tough else moment
        surface.append(Margin("tube wall folding", bent, Quantity(folding), "N m/m"))
    crease = None
    if tube.crease != tube.bending:
        crease = Margin("first lasting crease of the wall", moment, Quantity(creasing), "N m/m")
    tab: tuple[Margin, ...] = ()
    if joint.tab > 0.0 and joint.tab_end == "motor":
        other = min(tube.hoop_strength[end] * joint.wall, in_tube * FILLET_LEG * joint.fillet)
        tab = tab_margins(
            load,
            depth=joint.tab,
            thickness=fin.thickness,
            leg=inside,
            end_shear=allowable(in_tube, fin.shear_strength),
            glued=joint.glued,
            slot=tube.compression[end] * joint.wall + other,
        )
    elif joint.tab > 0.0 and joint.tab_end == "rings":
        ends = allowable(shear, fin.shear_strength, RING_FACE[end])
        tab = (ring_margin(load, depth=joint.tab, thickness=fin.thickness, leg=inside, shear=ends),)
    return JointMargins(tuple(surface), tab, crease)


@dataclass(frozen=True)
class JointCapacity:
    """What a joint bears of a load, each strength between its low and its high end.

    Parameters
    ----------
    bands
        Ways to fail of the load path that counts.
    path
        "surface" or "tab".
    crease
        First lasting crease of the wall; None where the wall does not crease, or where the tab
        keeps it from bending.
    most
        Margin that the joint cannot exceed: both paths with strong parts, added.
    at_least
        True where the margin is only a lower limit, because the other path helps and is not added.
    """

    bands: tuple[Margin, ...]
    path: str
    crease: Margin | None
    most: float
    at_least: bool

    @property
    def governs(self) -> Margin:
        """The weakest way to fail on the path that counts."""
        return min(self.bands, key=lambda band: band.ratio)


TESTED = "the joint as tested"


def _weaker(band: Margin, more: float) -> Margin:
    """Return a band whose low end is so many times lower."""
    held = band.capacity
    assert held.low is not None
    assert held.high is not None
    return between(band.name, band.kind, demand=band.demand, low=held.low / more, high=held.high)


def _most(margins: Sequence[Margin]) -> float:
    """Return the ratio that no more than these ways to fail allow at best."""
    return min(math.inf if item.high is None else item.high for item in margins)


def capacity(
    load: RootLoad,
    fin: FinRoot,
    joint: Joint,
    *,
    stiff: RootLoad | None = None,
    tested: Band | None = None,
) -> JointCapacity:
    """Return what a joint bears of a load, each strength between its low and its high end.

    Parameters
    ----------
    load, fin, joint
        As for `check`.
    stiff
        The load where the root turns less than expected; a larger load there lowers the low ends.
    tested
        Moment per metre at which such joints broke, low and high [N m/m]; it replaces all that
        would be computed.

    Returns
    -------
    JointCapacity
        Of the stronger path: surface and tab are not added, because glue does not yield until both
        carry. What both bear together can be no more than `most`.
    """
    more = max(1.0, stiff.moment / load.moment) if stiff and load.moment > 0.0 else 1.0
    if tested is not None:
        band = between(TESTED, "N m/m", demand=load.moment, low=tested[0] / more, high=tested[1])
        return JointCapacity((band,), "tested", None, _most((band,)), at_least=False)
    low, high = check(load, fin, joint, end=0), check(load, fin, joint, end=1)

    def banded(weak: tuple[Margin, ...], strong: tuple[Margin, ...]) -> tuple[Margin, ...]:
        return tuple(_weaker(band, more) for band in bands(weak, strong))

    surface, tab = banded(low.surface, high.surface), banded(low.tab, high.tab)
    crease = None
    if low.crease and high.crease:
        (crease,) = banded((low.crease,), (high.crease,))
    most = _most(surface)
    if not tab:
        return JointCapacity(surface, "surface", crease, most, joint.cloth > 0)
    most += _most(tab)
    if min(x.ratio for x in tab) > min(x.ratio for x in surface):
        return JointCapacity(tab, "tab", None, most, True)
    return JointCapacity(surface, "surface", crease, most, True)


def wall_spring(
    *, modulus: float, wall: float, diameter: float, count: int, together: bool = False
) -> float:
    """Return the rotational stiffness that a thin tube's wall gives a fin glued on its surface.

    Parameters
    ----------
    modulus
        Young's modulus of the wall around the tube E [Pa].
    wall, diameter
        Wall thickness h and outside diameter [m].
    count
        Number of fins N.
    together
        True for all fins turning the same way, False for one alone (the softer case).

    Returns
    -------
    float
        Stiffness per metre of root [N m/rad per m].

    Notes
    -----
    Ring of bending stiffness E h^3/12 per metre, mean radius R, turned by a moment balanced by an
    even shear flow. All fins turning the same way: k = N E h^3 / (2 pi R). One fin alone:
    k = (E h^3/12) / (R (pi/6 - 1/pi)), which is softer. A lower bound: a ring as long as the root,
    with no help from the tube ahead and behind (a dent in a thin tube spreads over some R sqrt(R/h)
    along it, so a short root can be several times stiffer), from rings or from a motor tube. A
    clamped root is the upper bound.

    References
    ----------
    Thin ring theory by Castigliano's theorem (S. Timoshenko, Strength of Materials, Part II);
    derived here and checked against a ring of straight beams in the tests.

    Examples
    --------
    >>> round(wall_spring(modulus=3e9, wall=0.001, diameter=0.05, count=3, together=True), 1)
    58.5
    """
    require_positive(modulus=modulus, wall=wall, diameter=diameter, count=count)
    radius = 0.5 * (diameter - wall)
    if together:
        return count * modulus * wall**3 / (2.0 * math.pi * radius)
    return modulus * wall**3 / 12.0 / (radius * (math.pi / 6.0 - 1.0 / math.pi))


def glue_spring(*, thickness: float, glue_thickness: float, modulus: float) -> float:
    """Return the rotational stiffness of a flat glue line.

    Parameters
    ----------
    thickness
        Width of the glue line t: fin thickness, plus 2 (2 - sqrt 2) r with fillets [m].
    glue_thickness
        Thickness of the glue t_g [m].
    modulus
        Young's modulus of the glue E_g [Pa].

    Returns
    -------
    float
        Stiffness per metre of root [N m/rad per m].

    Notes
    -----
    k = E_g t^3 / (12 t_g). Valid for a thin even layer without voids.

    References
    ----------
    Elastic foundation of even stiffness E_g / t_g.

    Examples
    --------
    >>> round(glue_spring(thickness=0.003, glue_thickness=0.0001, modulus=1e9))
    22500
    """
    require_positive(thickness=thickness, glue_thickness=glue_thickness, modulus=modulus)
    return modulus * thickness**3 / (12.0 * glue_thickness)


def tab_spring(
    *,
    modulus: float,
    thickness: float,
    depth: float,
    glued: float = 1.0,
    notch_depth: float = 0.0,
) -> float:
    """Return the rotational stiffness of a tab held by the wall and pinned at its inner end.

    Parameters
    ----------
    modulus, thickness
        Of the fin along the span E [Pa] and t [m].
    depth
        Depth of the tab d [m].
    glued, notch_depth
        Share of the tab's length that notches for rings leave g [-], and how deep they reach from
        its inner end n [m].

    Returns
    -------
    float
        Stiffness per metre of root [N m/rad per m].

    Notes
    -----
    k = 3 (E t^3 / 12) / d / (1 + (n / d)^3 (1 / g - 1)): the moment grows evenly from the inner
    end, and the share g of the length carries it as far as the notches reach. Valid where wall and
    motor tube do not move sideways and the tab is glued along its whole length but the notches.

    References
    ----------
    Beam theory, simply supported beam turned at one end.

    Examples
    --------
    >>> round(tab_spring(modulus=4e9, thickness=0.003, depth=0.012), 6)
    2250.0
    """
    require_positive(modulus=modulus, thickness=thickness, depth=depth, glued=glued)
    softer = 1.0 + (notch_depth / depth) ** 3 * (1.0 / glued - 1.0)
    return 0.25 * modulus * thickness**3 / depth / softer


@dataclass(frozen=True)
class RootSprings:
    """Rotational stiffness of wall, glue line, tab (0 without one) and all [N m/rad per m]."""

    wall: float
    glue: float
    tab: float

    @property
    def total(self) -> float:
        """Return 1 / (1 / k_wall + 1 / k_glue) + k_tab, the plate's root spring."""
        return 1.0 / (1.0 / self.wall + 1.0 / self.glue) + self.tab


def springs(fin: FinRoot, joint: Joint, *, count: int) -> RootSprings:
    """Return how stiff a joint is, each modulus at the geometric mean of its band.

    Parameters
    ----------
    fin, joint
        As for `check`.
    count
        Number of fins on the tube.

    Returns
    -------
    RootSprings
        The wall as for one fin that turns alone, the softer case.
    """
    # a coupler: between two walls side by side (twice as stiff) and one (eight times)
    doubled = 4.0 ** (1.0 / 3.0) if joint.behind == "coupler" else 1.0
    return RootSprings(
        wall=wall_spring(
            modulus=math.sqrt(math.prod(joint.tube.hoop_modulus)),
            wall=doubled * joint.wall,
            diameter=joint.diameter,
            count=count,
        ),
        glue=glue_spring(
            thickness=joint.foot(fin.thickness),
            glue_thickness=GLUE_THICKNESS,
            modulus=math.sqrt(math.prod(joint.adhesive.modulus)),
        ),
        tab=tab_spring(
            modulus=fin.modulus,
            thickness=fin.thickness,
            depth=joint.tab,
            glued=joint.glued,
            notch_depth=joint.notch_depth,
        )
        if joint.tab > 0.0 and joint.tab_end != "free"
        else 0.0,
    )
