"""From handbook values of a wood to a lamina: grain cut, density, moisture, shear correction."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Literal

from calc.errors import InputError
from calc.materials import moisture as damp
from calc.materials.schema import WOOD_MOISTURE, Value
from calc.structure.laminate import Lamina

Strength = Literal["bending", "direct"]

# Within one species, ANC Bulletin 18 (1944), table 2-1: value = value' (g/g')^n. Shear and
# tension across are not in it; the Wood Handbook's "nearer linear within one species" stands in.
DENSITY_EXPONENTS = {
    "modulus": 1.25,
    "bending": 1.50,
    "compression": 1.25,
    "compression_across": 2.50,
    "shear": 1.0,
    "tension_across": 1.0,
}


def ring_modulus(
    *, radial: float, tangential: float, shear_rt: float, poisson_rt: float, ring_angle: float
) -> float:
    """Return Young's modulus across the grain where the growth rings lie at an angle [Pa].

    Parameters
    ----------
    radial, tangential, shear_rt
        E_R, E_T, G_RT [Pa].
    poisson_rt
        n_RT [1].
    ring_angle
        Angle of the sheet's cross direction from the radial one [rad]: 0 for quarter-sawn (C),
        pi/2 for flat-sawn (A).

    Notes
    -----
    1/E = c⁴/E_R + (1/G_RT - 2 n_RT/E_R) s² c² + s⁴/E_T, with c and s the cosine and sine of the
    ring angle. Valid for straight rings.

    References
    ----------
    A. K. Kaw, Mechanics of Composite Materials (2006), eq. 2.114, in the radial-tangential plane.

    Examples
    --------
    >>> ring_modulus(radial=4e8, tangential=2e8, shear_rt=5e7, poisson_rt=0.6, ring_angle=0.0)
    400000000.0
    """
    c2, s2 = math.cos(ring_angle) ** 2, math.sin(ring_angle) ** 2
    mixed = 1.0 / shear_rt - 2.0 * poisson_rt / radial
    return 1.0 / (c2**2 / radial + mixed * s2 * c2 + s2**2 / tangential)


def ring_angle(cut: str) -> float:
    """Return the angle of the sheet's cross direction from the radial one for a cut [rad]."""
    angles = {"A": math.pi / 2.0, "B": math.pi / 4.0, "C": 0.0}
    if cut not in angles:
        raise InputError("cut", cut, "A (flat-sawn), B (between) or C (quarter-sawn)")
    return angles[cut]


def elastic(modulus: float, values: Mapping[str, Value], cut: str) -> dict[str, float]:
    """Return the elastic constants of a sheet cut from a wood whose E_L is `modulus` [Pa]."""

    def get(key: str) -> float:
        return values[key].value

    angle = ring_angle(cut)
    s2, c2 = math.sin(angle) ** 2, math.cos(angle) ** 2
    g_lt, g_lr = get("ratio_GLT") * modulus, get("ratio_GLR") * modulus
    g_rt = get("ratio_GRT") * modulus
    return {
        "modulus_along": modulus,
        "modulus_across": ring_modulus(
            radial=get("ratio_ER") * modulus,
            tangential=get("ratio_ET") * modulus,
            shear_rt=g_rt,
            poisson_rt=get("poisson_RT"),
            ring_angle=angle,
        ),
        # Shear compliances turn about the grain like a second-order tensor.
        "shear_modulus": 1.0 / (s2 / g_lt + c2 / g_lr),
        "shear_13": 1.0 / (s2 / g_lr + c2 / g_lt),
        "shear_23": g_rt,
        "poisson": s2 * get("poisson_LT") + c2 * get("poisson_LR"),
    }


def exponents(raw: Mapping[str, Any]) -> Mapping[str, float]:
    """Return the density exponents of a wood: of its file, else those within one species."""
    return {**DENSITY_EXPONENTS, **raw.get("density_exponents", {})}


def moisture_factors(
    values: Mapping[str, Value], raw: Mapping[str, Any], moisture: float
) -> dict[str, float]:
    """Return stiffness and strengths at a moisture content over those at 12 % [-]."""
    if not 0.0 <= moisture <= 0.40:
        raise InputError("moisture", moisture, "a moisture fraction from 0 to 0.40")
    table = raw.get("moisture", {})
    point = table.get("intersection", 0.25)
    found = {}
    for group, key in WOOD_MOISTURE.items():
        green = values.get(f"green_{key}")
        loss = values.get(f"moisture_loss_{group}")
        if green is not None:
            ratio = float(
                damp.property_at(
                    at_twelve=1.0,
                    green=green.value / values[key].value,
                    moisture=moisture,
                    intersection=point,
                )
            )
        elif loss is not None:
            ratio = float(
                damp.factor_per_point(per_point=loss.value, moisture=moisture, intersection=point)
            )
        else:
            ratio = 1.0
        found[group] = ratio
    # Eq. 5-3 does not hold for tension across the grain: left unchanged.
    found["tension_across"] = 1.0
    return found


def lamina(
    values: Mapping[str, Value],
    raw: Mapping[str, Any],
    *,
    density: float | None,
    cut: str,
    moisture: float | None,
    factors: Mapping[str, float],
    strength: Strength,
) -> Lamina:
    """Return one layer of wood as a sheet.

    Parameters
    ----------
    values, raw
        Values and whole contents of the wood's file.
    density
        At 12 % moisture [kg/m³]; the file's where None.
    cut
        A (flat-sawn), B (between) or C (quarter-sawn).
    moisture
        Fraction of the dry mass; 12 % where None.
    factors
        Multipliers of modulus_along, modulus_across, shear_modulus, density, strength [-].
    strength
        "bending" takes the modulus of rupture for both faces, "direct" the crushing strength in
        compression.

    Notes
    -----
    E_L is the tabulated bending modulus times the shear correction, scaled by
    (density/reference)^n, by moisture and by the factors; the other constants follow by the
    ratios of the handbook.

    References
    ----------
    Wood Handbook, FPL-GTR-282 (2021), tables 5-1, 5-2, 5-3a, 5-5a, eq. 5-3; ANC Bulletin 18
    (1944), table 2-1.
    """

    def get(key: str) -> float:
        return values[key].value

    reference = get("density_reference") if "density_reference" in values else get("density")
    at_twelve = (get("density") if density is None else density) * factors.get("density", 1.0)
    if not at_twelve > 0.0:
        raise InputError("density", at_twelve, "a density above zero")
    heavier = at_twelve / reference
    power = exponents(raw)
    damped = dict.fromkeys(DENSITY_EXPONENTS, 1.0)
    mass = 1.0
    if moisture is not None:
        damped = moisture_factors(values, raw, moisture)
        mass = float(damp.mass_factor(moisture=moisture))
    scale = {key: heavier ** power[key] * damped[key] for key in DENSITY_EXPONENTS}
    modulus = get("modulus_bending") * get("shear_correction") * scale["modulus"]
    stiff = elastic(modulus, values, cut)
    for key in ("modulus_along", "modulus_across", "shear_modulus"):
        stiff[key] *= factors.get(key, 1.0)
    stiff["shear_13"] *= factors.get("shear_modulus", 1.0)
    stiff["shear_23"] *= factors.get("shear_modulus", 1.0)
    strong = factors.get("strength", 1.0)
    rupture = get("bending_strength") * scale["bending"] * strong
    crush = get("compression_along") * scale["compression"] * strong
    angle = ring_angle(cut)
    s2, c2 = math.sin(angle) ** 2, math.cos(angle) ** 2
    tangential = damp.swelling_coefficient(total=get("shrinkage_tangential"))
    radial = damp.swelling_coefficient(total=get("shrinkage_radial"))
    return Lamina(
        modulus_along=stiff["modulus_along"],
        modulus_across=stiff["modulus_across"],
        shear_modulus=stiff["shear_modulus"],
        poisson=stiff["poisson"],
        shear_13=stiff["shear_13"],
        shear_23=stiff["shear_23"],
        density=at_twelve * mass,
        tension_along=rupture,
        compression_along=rupture if strength == "bending" else crush,
        tension_across=get("tension_across") * scale["tension_across"] * strong,
        compression_across=get("compression_across") * scale["compression_across"] * strong,
        shear_strength=get("shear_strength") * scale["shear"] * strong,
        swelling_along=damp.swelling_coefficient(total=get("shrinkage_along")),
        swelling_across=s2 * tangential + c2 * radial,
    )


def derived(values: Mapping[str, Value], raw: Mapping[str, Any], cut: str) -> dict[str, Value]:
    """Return the sheet constants that follow from the handbook values, each with how."""
    made = lamina(
        values,
        raw,
        density=values["density_reference"].value if "density_reference" in values else None,
        cut=cut,
        moisture=None,
        factors={},
        strength="bending",
    )
    bend, correction = values["modulus_bending"], values["shear_correction"].value
    axis = {"A": "T", "B": "between R and T", "C": "R"}[cut]
    source = bend.source

    def computed(number: float, note: str, **band: float | None) -> Value:
        unit = "1" if note.startswith("n") else "Pa"
        return Value(number, unit, source, note=note, basis="computed", **band)

    found = {
        "modulus_along": computed(
            made.modulus_along,
            f"E_L = {correction:g} x bending modulus; the low end leaves the correction out",
            low=bend.low if bend.low is not None else bend.value,
            high=None if bend.high is None else bend.high * correction,
            cov=bend.cov,
        ),
        "modulus_across": computed(
            made.modulus_across, f"E_L times the ratio of table 5-1 ({axis} direction, {cut} cut)"
        ),
        "shear_modulus": computed(
            made.shear_modulus, f"E_L times the ratio of table 5-1 (L and {axis}, {cut} cut)"
        ),
        "shear_13": computed(made.shear_13, "across the thickness, along the grain, table 5-1"),
        "shear_23": computed(made.shear_23, "rolling shear G_RT, table 5-1"),
        "poisson": computed(made.poisson, f"n_L and {axis}, table 5-2"),
        "tension_along": computed(
            made.tension_along, "modulus of rupture used for tension (ANC-18, 2.111)"
        ),
        "swelling_along": Value(
            made.swelling_along, "1", source, note="per unit moisture fraction", basis="computed"
        ),
        "swelling_across": Value(
            made.swelling_across,
            "1",
            source,
            note="per unit moisture fraction, from the shrinkage (eq. 4-9)",
            basis="computed",
        ),
    }
    return {key: entry for key, entry in found.items() if key not in values}
