"""Sandwich panels: thin-face stiffness, core shear, face wrinkling and crushed cores.

Reference for the formulas without another one: H. G. Allen, Analysis and Design of Structural
Sandwich Panels, 1969 (from memory, unverified).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.errors import InputError
from calc.structure.failure import first_ply_failure
from calc.structure.laminate import (
    Layup,
    Ply,
    bending,
    off_axis_modulus,
    ply_stresses,
    stiffness,
)

Array = NDArray[np.float64]

WRINKLING_FACTOR = 0.5
"""k of the wrinkling formula: 0.5 in practice, 0.82 to 0.91 in theory for perfectly flat faces;
Hoff and Mautner 1945, Allen 1969 (k from memory, unverified)."""


def core_index(layup: Layup) -> tuple[int, ...]:
    """Return the places of the core plies in a stack, lowest first; empty if there is no core."""
    return tuple(i for i, ply in enumerate(layup.plies) if ply.lamina.kind == "core")


def core_thickness(layup: Layup) -> float:
    """Return the thickness of all core plies together [m]."""
    return math.fsum(layup.plies[i].thickness for i in core_index(layup))


def core_mass_share(layup: Layup) -> float:
    """Return the mass of the core plies over that of the whole stack."""
    plies = layup.plies
    core = math.fsum(plies[i].thickness * plies[i].lamina.density for i in core_index(layup))
    return core / layup.areal_mass


def _faces_and_core(layup: Layup) -> tuple[list[Ply], list[Ply], list[Ply]]:
    """Return the plies of the lower face, the core and the upper face."""
    cores = core_index(layup)
    if not cores or cores[0] == 0 or cores[-1] == len(layup.plies) - 1:
        raise InputError("layup", f"{len(layup.plies)} plies", "a core with a face on either side")
    return (
        list(layup.plies[: cores[0]]),
        list(layup.plies[cores[0] : cores[-1] + 1]),
        list(layup.plies[cores[-1] + 1 :]),
    )


def core_shear_stress(layup: Layup, *, shear: ArrayLike) -> Array:
    """Return the mean shear stress in the core of a sandwich with thin faces (...) [Pa].

    Parameters
    ----------
    layup
        A stack with a core between two faces.
    shear
        (...) shear force V per unit width [N/m].

    Raises
    ------
    InputError
        Naming ``layup`` if there is no core between two faces.

    Notes
    -----
    t = V/h, with h the distance between the middles of the faces. Valid for faces much thinner
    and much stiffer than the core.
    """
    lower, core, upper = _faces_and_core(layup)
    depth = math.fsum(ply.thickness for ply in core) + 0.5 * math.fsum(
        ply.thickness for ply in lower + upper
    )
    return np.asarray(shear, float) / depth


def wrinkling_stress(
    *,
    face_modulus: ArrayLike,
    core_modulus: ArrayLike,
    core_shear: ArrayLike,
    factor: float = WRINKLING_FACTOR,
) -> Array:
    """Return the compressive face stress at which a thin face wrinkles into or off its core [Pa].

    Parameters
    ----------
    face_modulus
        E_f of the face along the stress [Pa].
    core_modulus, core_shear
        E_c of the core through the thickness and G_c of the core in shear [Pa].
    factor
        k: see `WRINKLING_FACTOR`.

    Notes
    -----
    s = k (E_f E_c G_c)^(1/3).

    References
    ----------
    Hoff and Mautner, J. Aeronautical Sciences 12 (1945) 285; k from memory, unverified; the
    variables named in US Forest Service Research Note FPL-086 (1965), eq. 19.

    Examples
    --------
    >>> float(wrinkling_stress(face_modulus=3e9, core_modulus=3.31e6, core_shear=4.27e6).round(-5))
    17400000.0
    """
    product = np.asarray(face_modulus, float) * np.asarray(core_modulus) * np.asarray(core_shear)
    return np.asarray(factor * np.cbrt(product))


def with_crushed_core(layup: Layup, lost: float) -> Layup:
    """Return the stack with a core thinner by ``lost`` [m], its mass unchanged.

    Raises
    ------
    InputError
        Naming ``crush`` if there is no core or it would be gone.

    Notes
    -----
    Moduli and strengths of the core stay as they were, which is kind to a crushed foam.
    """
    cores = core_index(layup)
    thick = core_thickness(layup)
    if not cores or not 0.0 <= lost < thick:
        raise InputError("crush", lost, "a loss from zero to less than the core's thickness")
    share = 1.0 - lost / thick
    return Layup(
        tuple(
            replace(
                ply,
                thickness=ply.thickness * share,
                lamina=replace(ply.lamina, density=ply.lamina.density / share),
            )
            if i in cores
            else ply
            for i, ply in enumerate(layup.plies)
        )
    )


class ThinFaceSandwich(NamedTuple):
    """Properties of a sandwich along x per unit width, by thin-face theory.

    Bending stiffness [N m], shear stiffness [N/m], distance between the middles of the faces,
    thickness of the core and mean thickness of a face [m].
    """

    bending: float
    shear: float
    depth: float
    core_thickness: float
    face_thickness: float


def thin_face_sandwich(layup: Layup) -> ThinFaceSandwich:
    """Return the stiffness of a sandwich along x by thin-face theory.

    Parameters
    ----------
    layup
        A stack with a core between two faces.

    Raises
    ------
    InputError
        Naming ``layup`` if there is no core between two faces.

    Notes
    -----
    D = E_f t h²/2 + E_f t³/6 + E_c c³/12 for equal faces; U = G_c h²/c.

    References
    ----------
    Allen 1969; the variables named in US Forest Service Research Note FPL-086 (1965), eq. 1.
    """
    lower, core, upper = _faces_and_core(layup)
    core_thick = math.fsum(ply.thickness for ply in core)
    low_thick = math.fsum(ply.thickness for ply in lower)
    up_thick = math.fsum(ply.thickness for ply in upper)
    depth = core_thick + (low_thick + up_thick) / 2.0

    def modulus(plies: list[Ply]) -> float:
        whole = math.fsum(ply.thickness for ply in plies)
        return (
            math.fsum(
                ply.thickness * float(off_axis_modulus(ply.lamina, ply.angle)) for ply in plies
            )
            / whole
        )

    low_e, up_e, core_e = modulus(lower), modulus(upper), modulus(core)
    compliance = math.fsum(
        ply.thickness
        / (
            ply.lamina.shear_13 * math.cos(ply.angle) ** 2
            + ply.lamina.shear_23 * math.sin(ply.angle) ** 2
        )
        for ply in core
    )
    pair = low_e * low_thick * up_e * up_thick / (low_e * low_thick + up_e * up_thick)
    own = (low_e * low_thick**3 + up_e * up_thick**3 + core_e * core_thick**3) / 12.0
    return ThinFaceSandwich(
        pair * depth**2 + own,
        depth**2 / compliance,
        depth,
        core_thick,
        (low_thick + up_thick) / 2.0,
    )


@dataclass(frozen=True)
class StripLimits:
    """Loads per width at which a sandwich strip bent along its core's grain fails.

    Parameters
    ----------
    face
        Moment at the first ply failure by Tsai-Wu [N].
    face_mode
        The part and mode of that failure.
    wrinkling
        Moment at which the compressed face wrinkles [N].
    wrinkling_stress
        Compressive stress in the face at which it wrinkles [Pa].
    shear
        Shear force at which the core shears [N/m].
    """

    face: float
    face_mode: str
    wrinkling: float
    wrinkling_stress: float
    shear: float

    @property
    def moment(self) -> float:
        """Return the smaller of the two moments [N]."""
        return min(self.face, self.wrinkling)


def strip_limits(layup: Layup) -> StripLimits:
    """Return the loads that a strip of a sandwich bears, bent along the core's grain.

    Parameters
    ----------
    layup
        A stack of one ply of core between two single plies.

    Notes
    -----
    Wrinkling: `wrinkling_stress` against the compressive stress at the middle of the face, with
    the core's modulus across its grain for that through its thickness. Core shear: the core's
    shear strength over the mean shear stress.
    """
    moments = np.array([[1.0, 0.0, 0.0], [-1.0, 0.0, 0.0]])
    stresses = ply_stresses(layup, moments=moments)
    failure = first_ply_failure(layup, stresses)
    worst = int(np.argmin(failure.factor))
    part = "skin" if failure.ply[worst] in (0, len(layup.plies) - 1) else "core"
    face = layup.plies[0]
    core = layup.plies[core_index(layup)[0]].lamina
    wrinkling = float(
        wrinkling_stress(
            face_modulus=float(off_axis_modulus(face.lamina, face.angle)),
            core_modulus=core.modulus_across,
            core_shear=core.shear_13,
        )
    )
    # stress at the middle of the face, from the skin's own axes to those of the strip
    cos, sin = math.cos(face.angle), math.sin(face.angle)
    middle = stresses[0, 0].mean(axis=0)
    per_moment = abs(float(middle @ [cos * cos, sin * sin, -2.0 * cos * sin]))
    return StripLimits(
        face=float(failure.factor[worst]),
        face_mode=f"{part}, {failure.mode[worst]}",
        wrinkling=wrinkling / per_moment,
        wrinkling_stress=wrinkling,
        shear=core.shear_strength / float(core_shear_stress(layup, shear=1.0)),
    )


class TipDeflection(NamedTuple):
    """Deflection of a cantilever strip's free end [m] by bending and by transverse shear."""

    bending: float
    shear: float

    @property
    def total(self) -> float:
        """Return the whole deflection [m]."""
        return self.bending + self.shear


def tip_deflection(layup: Layup, *, force: float, length: float, width: float) -> TipDeflection:
    """Return the deflection of a cantilever strip along x under a force at its free end.

    Parameters
    ----------
    layup
        The stack.
    force
        F [N].
    length, width
        L and b of the strip [m].

    Notes
    -----
    F L³/(3 D b) + F L/(U b), with D the bending stiffness of a strip that is free to bend across
    and U the transverse shear stiffness, both per width.
    """
    strip = 1.0 / float(np.linalg.inv(bending(layup))[0, 0])
    shear = float(stiffness(layup).transverse_shear[0, 0])
    return TipDeflection(
        force * length**3 / (3.0 * strip * width), force * length / (shear * width)
    )
