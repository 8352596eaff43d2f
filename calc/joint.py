"""The root joint: whether the glue is as strong as the fin, and how stiff it is.

Everything is per metre of root chord: moment [N m/m], shear [N/m], stiffness [N m/rad per m].
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from calc.errors import InputError
from calc.margin import Margin, worst

FILLET_LEG = 2.0 - math.sqrt(2.0)
"""Leg of the largest 45-degree triangle inside a concave fillet, in fillet radii [-].

A quarter-round hollow comes within (sqrt(2) - 1) r of the corner; its 45-degree tangent cuts legs
of (2 - sqrt(2)) r. The feather edges beyond are left out, as welding practice does."""


@dataclass(frozen=True)
class Adhesive:
    """A glue with the shear and tension it bears between strong parts.

    Parameters
    ----------
    label
        Trade name of the kind.
    shear, tension
        Low and high strength [Pa].
    modulus
        Low and high Young's modulus of the set glue [Pa].
    source
        Where the values come from.
    """

    label: str
    shear: tuple[float, float]
    tension: tuple[float, float]
    modulus: tuple[float, float]
    source: str


ADHESIVES: dict[str, Adhesive] = {
    "wood-glue": Adhesive(
        "wood glue (polyvinyl acetate)",
        (24e6, 28e6),
        (10e6, 20e6),
        (0.3e9, 1.5e9),
        "shear: block shear on hard maple after ASTM D905, mostly wood failure, from memory, "
        "unverified; tension and modulus: common practice, from memory",
    ),
    "epoxy": Adhesive(
        "epoxy",
        (15e6, 28e6),
        (25e6, 50e6),
        (2.0e9, 3.5e9),
        "shear: block shear on maple after ASTM D905, dry, from memory, unverified; tension and "
        "modulus: common practice, from memory",
    ),
    "cyanoacrylate": Adhesive(
        "cyanoacrylate",
        (5.4e6, 22.8e6),
        (5e6, 20e6),
        (0.8e9, 1.5e9),
        "shear on acrylic (low, where the plastic failed) and steel (high): E. M. Petrie, Handbook "
        "of Adhesives and Sealants, table 10.16; no value for wood found; tension and modulus: "
        "common practice, from memory",
    ),
}
"""Glues by key. The wood or paper beside the glue is usually weaker: see `allowable`."""


@dataclass(frozen=True)
class Surface:
    """What the glue holds on to: shear and tension that its outer layer bears [Pa]."""

    label: str
    shear: tuple[float, float]
    tension: tuple[float, float]
    source: str


TUBES: dict[str, Surface] = {
    "kraft": Surface(
        "wound kraft paper tube",
        (1.0e6, 2.5e6),
        (0.4e6, 1.0e6),
        "tension across the paper (ply bond) and shear between plies: common practice, from "
        "memory, unverified; a glassine skin left on is weaker still",
    ),
    "glass-epoxy": Surface(
        "glass and epoxy tube",
        (20e6, 40e6),
        (10e6, 25e6),
        "shear and tension between layers: common practice, from memory, unverified",
    ),
}
"""Body tubes by key."""

KRAFT_HOOP = (20e6, 40e6)
"""Tensile strength of tube kraft around the tube [Pa]: generic, from memory, unverified."""

KRAFT_MODULUS = (2e9, 4e9)
"""Young's modulus of tube kraft [Pa]: generic, from memory, unverified."""

END_GRAIN = 0.25
"""Share of the wood's strength along the grain that a glued end-grain butt reaches at most:
Wood Handbook, FPL-GTR-282 (2021), ch. 10 on end joints; from memory, unverified. A fin whose
grain runs outward meets the tube with its end grain."""


def allowable(*strengths: float, uneven: bool = False) -> float:
    """Return the stress a glue line may bear: that of the weakest of glue and parts.

    Equation: allowable = min(strengths), a third of it where the stress is uneven and not
    computed.

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

    Source: ANC Bulletin 18, Design of Wood Aircraft Structures (1944), section 2.910 (shear of
    the weaker wood where stress is uniform) and 2.912 (a third, web to flange).

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

    Equation: M = tension t^2 / 6, V = (2/3) shear t (parabolic shear).

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

    Validity: glue line fully wetted, elastic; no fillet.

    Source: beam theory; allowables after ANC-18, section 2.910.

    >>> joint = butt(thickness=0.003, shear=2e6, tension=1e6)
    >>> round(joint.moment, 6), joint.shear
    (1.5, 4000.0)
    """
    _positive(thickness=thickness, shear=shear, tension=tension)
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

    Equation: section at the tube's surface of width t + 2 a, a = (2 - sqrt 2) r;
    EI = E_f t^3/12 + (2 E_g/3)[(t/2 + a)^3 - (t/2)^3]. The moment is limited by the butt line at
    z = t/2, the fillet's toe at z = t/2 + a, and the pull of one fillet,
    E_g (M/EI) [(t/2 + a)^2 - (t/2)^2]/2 <= face_shear a. If the butt line gives way first, the
    fillets alone (E_f = 0) may still bear more: the larger counts.
    V = (2/3) tube_shear t + 2 tube_shear a.

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

    Validity: elastic composite section; both fillets sound; the tube's curvature left out.

    Source: composite beam theory; effective leg after welding practice for concave fillets.
    """
    _positive(thickness=thickness, radius=radius, fin_modulus=fin_modulus)
    _positive(fillet_modulus=fillet_modulus, butt_tension=butt_tension, toe_tension=toe_tension)
    _positive(face_shear=face_shear, tube_shear=tube_shear)
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


def wall_moment(*, wall: float, strength: float) -> float:
    """Return the moment per metre at which the tube's wall creases beside a surface-glued fin.

    Equation: the wall takes M/2 on each side of the fin, stress 6 (M/2) / h^2: M = strength h^2/3.

    Parameters
    ----------
    wall
        Wall thickness h [m].
    strength
        Strength of the wall around the tube [Pa].

    Returns
    -------
    float
        Moment per metre of root [N m/m].

    Validity: a lower bound: the wall ahead of and behind the fin helps and is left out.

    Source: ring theory (see `wall_spring`).

    >>> round(wall_moment(wall=0.001, strength=30e6), 6)
    10.0
    """
    _positive(wall=wall, strength=strength)
    return strength * wall**2 / 3.0


def tab_margins(
    *,
    moment: float,
    shear: float,
    depth: float,
    thickness: float,
    end_shear: float,
    wall: float,
    wall_strength: float,
) -> tuple[Margin, ...]:
    """Return the margins of a tab through the tube's wall, glued at its inner end.

    Equation: the moment becomes a couple H = M / d between the wall and the tab's end;
    wall: H + V <= strength h (the slot's edge tears or crushes), end: H <= (2/3) end_shear t.

    Parameters
    ----------
    moment, shear
        Demand at the root per metre [N m/m], [N/m].
    depth, thickness
        Depth of the tab from the tube's surface to its glued end d, and its thickness t [m].
    end_shear
        Allowable shear of the glue at the tab's end [Pa].
    wall, wall_strength
        Wall thickness h [m] and its strength around the tube [Pa].

    Returns
    -------
    tuple of Margin
        Wall tearing and tab end, forces per metre [N/m].

    Validity: tab glued along its whole end to a motor tube or between rings; the slot fits. The
    tab must run along most of the root.

    Source: statics; glue after ANC-18, section 2.910.
    """
    _positive(depth=depth, thickness=thickness, end_shear=end_shear)
    _positive(wall=wall, wall_strength=wall_strength)
    couple = abs(moment) / depth
    return (
        Margin("tube wall tearing at the slot", couple + abs(shear), wall_strength * wall, "N/m"),
        Margin("glue at the tab's end", couple, 2.0 / 3.0 * end_shear * thickness, "N/m"),
    )


@dataclass(frozen=True)
class JointCheck:
    """The joint against its demand.

    Parameters
    ----------
    surface
        Margins of glue line or fillets and of the tube's wall.
    tab
        Margins of the through-wall tab; empty without one.
    fin
        The fin's own bending at the root under the same demand.
    governs
        The weakest margin of the load path that counts: the stronger of surface and tab.
    path
        "surface" or "tab".
    """

    surface: tuple[Margin, ...]
    tab: tuple[Margin, ...]
    fin: Margin
    governs: Margin
    path: str

    @property
    def as_strong_as_fin(self) -> bool:
        """Return whether the joint outlasts the fin."""
        return self.governs.ratio >= self.fin.ratio


def check(
    *,
    moment: float,
    shear: float,
    thickness: float,
    fin_strength: float,
    fin_modulus: float,
    fin_shear: float,
    fin_edge_tension: float,
    adhesive_shear: float,
    adhesive_tension: float,
    adhesive_modulus: float,
    tube_shear: float,
    tube_tension: float,
    wall: float,
    wall_strength: float,
    fillet_radius: float = 0.0,
    tab_depth: float = 0.0,
) -> JointCheck:
    """Return the margins of a root joint: bare edge, with fillets, or with a through-wall tab.

    Equation: `butt` or `filleted`, `wall_moment` and `tab_margins`, each with the weaker of glue
    and part; where there is a tab, the stronger path counts and the two are not added (any
    balanced share is a lower bound, and glue does not yield).

    Parameters
    ----------
    moment, shear
        Largest moment [N m/m] and shear [N/m] per metre of root chord. From a total, divide by
        the root chord and multiply by how uneven the load is (1.5 to 2 for swept fins, common
        practice), or take the peak from the plate.
    thickness
        Fin thickness at the root [m].
    fin_strength, fin_modulus
        Bending strength and modulus along the span [Pa].
    fin_shear
        Shear strength of the fin's face [Pa].
    fin_edge_tension
        Tension that the fin's root edge bears [Pa]: across the grain if the grain runs along the
        tube, `END_GRAIN` of the strength along the grain if it runs outward.
    adhesive_shear, adhesive_tension, adhesive_modulus
        Of glue and fillet [Pa]; the low values of `ADHESIVES` are the cautious choice.
    tube_shear, tube_tension
        Of the tube's outer layer [Pa].
    wall, wall_strength
        Tube wall thickness [m] and strength around the tube [Pa].
    fillet_radius, tab_depth
        [m]; 0 for none.

    Returns
    -------
    JointCheck
        Margins and what governs.

    Validity: static load; sound, fully glued joint; no peel from tube ovality, no creep or damp.

    Source: beam theory; ANC-18 (1944), section 2.910.
    """
    if fillet_radius < 0.0 or tab_depth < 0.0:
        name = "fillet_radius" if fillet_radius < 0.0 else "tab_depth"
        raise InputError(name, min(fillet_radius, tab_depth), "a length of zero or more")
    edge = allowable(adhesive_tension, fin_edge_tension, tube_tension)
    if fillet_radius > 0.0:
        line = filleted(
            thickness=thickness,
            radius=fillet_radius,
            fin_modulus=fin_modulus,
            fillet_modulus=adhesive_modulus,
            butt_tension=edge,
            toe_tension=allowable(adhesive_tension, tube_tension),
            face_shear=allowable(adhesive_shear, fin_shear),
            tube_shear=allowable(adhesive_shear, tube_shear),
        )
    else:
        line = butt(
            thickness=thickness,
            shear=allowable(adhesive_shear, fin_shear, tube_shear),
            tension=edge,
        )
    m, v = abs(moment), abs(shear)
    surface = (
        Margin(f"{line.limit}, bending", m, line.moment, "N m/m"),
        Margin("glue line, shear", v, line.shear, "N/m"),
        Margin("tube wall creasing", m, wall_moment(wall=wall, strength=wall_strength), "N m/m"),
    )
    tab: tuple[Margin, ...] = ()
    if tab_depth > 0.0:
        tab = tab_margins(
            moment=m,
            shear=v,
            depth=tab_depth,
            thickness=thickness,
            end_shear=allowable(adhesive_shear, fin_shear, tube_shear),
            wall=wall,
            wall_strength=wall_strength,
        )
    fin = Margin("fin at the root", m, fin_strength * thickness**2 / 6.0, "N m/m")
    through = bool(tab) and worst(tab).ratio > worst(surface).ratio
    return JointCheck(
        surface, tab, fin, worst(tab if through else surface), "tab" if through else "surface"
    )


def wall_spring(
    *, modulus: float, wall: float, diameter: float, count: int, together: bool = False
) -> float:
    """Return the rotational stiffness that a thin tube's wall gives a fin glued on its surface.

    Equation: ring of bending stiffness E h^3/12 per metre, mean radius R, turned by a moment
    balanced by an even shear flow. All fins turning the same way: k = N E h^3 / (2 pi R). One fin
    alone: k = (E h^3/12) / (R (pi/6 - 1/pi)), which is softer.

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

    Validity: a lower bound: a ring as long as the root, with no help from the tube ahead and behind
    (a dent in a thin tube spreads over some R sqrt(R/h) along it, so a short root can be several
    times stiffer), from rings or from a motor tube. Clamped is the upper bound.

    Source: thin ring theory by Castigliano's theorem (S. Timoshenko, Strength of Materials,
    Part II); derived here and checked against a ring of straight beams in the tests.

    >>> round(wall_spring(modulus=3e9, wall=0.001, diameter=0.05, count=3, together=True), 1)
    58.5
    """
    _positive(modulus=modulus, wall=wall, diameter=diameter, count=count)
    radius = 0.5 * (diameter - wall)
    if together:
        return count * modulus * wall**3 / (2.0 * math.pi * radius)
    return modulus * wall**3 / 12.0 / (radius * (math.pi / 6.0 - 1.0 / math.pi))


def glue_spring(*, thickness: float, glue_thickness: float, modulus: float) -> float:
    """Return the rotational stiffness of a flat glue line.

    Equation: k = E_g t^3 / (12 t_g).

    Parameters
    ----------
    thickness
        Width of the glue line t: fin thickness, plus 2 (2 - sqrt 2) r with fillets [m].
    glue_thickness
        Thickness of the glue t_g [m]; 0.05 to 0.2 mm is common practice.
    modulus
        Young's modulus of the glue E_g [Pa].

    Returns
    -------
    float
        Stiffness per metre of root [N m/rad per m].

    Validity: thin even layer, no voids.

    Source: elastic foundation of even stiffness E_g / t_g.

    >>> round(glue_spring(thickness=0.003, glue_thickness=0.0001, modulus=1e9))
    22500
    """
    _positive(thickness=thickness, glue_thickness=glue_thickness, modulus=modulus)
    return modulus * thickness**3 / (12.0 * glue_thickness)


def tab_spring(*, modulus: float, thickness: float, depth: float) -> float:
    """Return the rotational stiffness of a tab held by the wall and pinned at its inner end.

    Equation: k = 3 (E t^3 / 12) / d.

    Parameters
    ----------
    modulus, thickness
        Of the fin along the span E [Pa] and t [m].
    depth
        Depth of the tab d [m].

    Returns
    -------
    float
        Stiffness per metre of root [N m/rad per m].

    Validity: wall and motor tube do not move sideways; glued along the whole tab.

    Source: beam theory, simply supported beam turned at one end.

    >>> round(tab_spring(modulus=4e9, thickness=0.003, depth=0.012), 6)
    2250.0
    """
    _positive(modulus=modulus, thickness=thickness, depth=depth)
    return 0.25 * modulus * thickness**3 / depth


def root_spring(*, series: tuple[float, ...], parallel: tuple[float, ...] = ()) -> float:
    """Return the joint's stiffness from parts in a row (tube, glue) and paths beside it (tab).

    Equation: k = 1 / sum(1 / k_i) + sum(k_j).

    Parameters
    ----------
    series
        Stiffness of the parts that the surface path goes through [N m/rad per m].
    parallel
        Stiffness of paths beside it, such as a tab [N m/rad per m].

    Returns
    -------
    float
        Stiffness per metre of root, ready for the plate's root spring [N m/rad per m].

    >>> root_spring(series=(60.0, 30.0), parallel=(5.0,))
    25.0
    """
    _positive(**{f"series_{i}": k for i, k in enumerate(series)})
    return 1.0 / sum(1.0 / k for k in series) + sum(parallel)


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not value > 0.0:
            raise InputError(name, value, "a value above zero")
