"""The material: its data, and the stack of plies a sheet of it is."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any

from calc.errors import InputError, MaterialError
from calc.materials import wood
from calc.materials.schema import LAMINA_VALUES, SCATTER, Grade, Price, Stock, Value
from calc.materials.wood import Strength
from calc.structure.laminate import Lamina, Layup, Ply, isotropic
from calc.structure.stack_notation import parse_stack

THINNEST, THICKEST = 5e-5, 0.05


@dataclass(frozen=True, eq=False)
class Material:
    """A sheet material with its values, sizes, workability and demo price.

    `kind` is solid, plywood, laminate, faced-core, core or skin. `values` hold SI numbers with
    band, source and note. `cuts` are the ways the sheet can lie in the raw material (balsa A, B,
    C; a printed part flat or upright), the first being the default.
    """

    name: str
    label: str
    family: str
    kind: str
    model: str
    summary: str
    grain: str
    values: Mapping[str, Value]
    stock: tuple[Stock, ...]
    workability: Mapping[str, Grade]
    price: Price | None
    cuts: tuple[str, ...]
    scatter_values: Mapping[str, Value]
    notes: tuple[str, ...] = ()
    component: bool = False
    at_hand: int = 0
    """Place among the sheets likely to lie about near a launch; 0 for the others."""
    fastest: Value | None = None
    """Speed [m/s] up to which what is known of it carries a verdict; its note says why."""
    raw: Mapping[str, Any] = field(default_factory=dict, repr=False)
    core: Material | None = field(default=None, repr=False)
    skin: Material | None = field(default=None, repr=False)

    @property
    def scatter(self) -> Mapping[str, float]:
        """Return the coefficient of variation of each factor that `layup` takes."""
        return MappingProxyType({key: self.scatter_values[key].value for key in SCATTER})

    @property
    def follows_density(self) -> bool:
        """Return whether stiffness and strength follow the density of the sheet in hand."""
        return self.model == "wood"

    @property
    def sawn(self) -> bool:
        """Return whether sheets differ by how they were sawn from the log."""
        return self.model == "wood" and len(self.cuts) > 1

    @property
    def sources(self) -> tuple[str, ...]:
        """Return the keys of every source of this material's values."""
        keys = {entry.source for entry in self.values.values()}
        keys |= {entry.source for entry in self.scatter_values.values()}
        for part in (self.core, self.skin):
            keys |= set(part.sources) if part is not None else set()
        return tuple(sorted(keys))

    @property
    def thicknesses(self) -> tuple[float, ...]:
        """Return the stock thicknesses [m], thinnest first, each once."""
        return tuple(sorted({round(item.thickness, 9) for item in self.stock}))

    def nearest_stock(self, thickness: float) -> Stock:
        """Return the stock sheet whose thickness is nearest in proportion."""
        if not self.stock:
            raise InputError("material", self.name, "a material with stock sizes")
        return min(self.stock, key=lambda item: abs(math.log(item.thickness / thickness)))

    def effective(self, factors: Mapping[str, Any]) -> dict[str, Any]:
        """Return factors with the density law included: a heavier piece of wood is stiffer too.

        Parameters
        ----------
        factors
            Multipliers of modulus_along, modulus_across, shear_modulus, density, strength;
            numbers or arrays.

        Returns
        -------
        dict
            The same five, as multipliers of the finished stack's constants (strength by the
            bending exponent).
        """
        unknown = set(factors) - set(SCATTER)
        if unknown:
            raise InputError("factors", sorted(unknown), "factors among " + ", ".join(SCATTER))
        found: dict[str, Any] = {key: factors.get(key, 1.0) for key in SCATTER}
        if self.model == "wood":
            power = wood.exponents(self.raw)
            for key in ("modulus_along", "modulus_across", "shear_modulus"):
                found[key] = found[key] * found["density"] ** power["modulus"]
            found["strength"] = found["strength"] * found["density"] ** power["bending"]
        return found

    def layup(
        self,
        *,
        thickness: float,
        density: float | None = None,
        cut: str | None = None,
        moisture: float | None = None,
        factors: Mapping[str, float] | None = None,
        strength: Strength = "bending",
    ) -> Layup:
        """Return the stack of plies that a sheet of this material is.

        Parameters
        ----------
        thickness
            [m]; need not be a stock one: plywood takes the ply count of the nearest stock
            sheet, scaled.
        density
            [kg/m³] at 12 % moisture, if weighed; of the core for faced sheets. Wood scales
            its stiffness and strength with it.
        cut
            One of `cuts`; the first when left out.
        moisture
            Fraction of dry mass; the reference condition when left out. Thickness is kept.
        factors
            Multipliers of modulus_along, modulus_across, shear_modulus, density, strength.
            For solid wood the density factor acts before the density law.
        strength
            "bending": woods carry their modulus of rupture on both faces; "direct": crushing
            strength in compression (faces of a sandwich, columns).

        Returns
        -------
        Layup
            With the grain, fibre or face ply along its 0 direction.

        Raises
        ------
        InputError
            Naming a thickness, density, cut, moisture or factor that cannot be.
        """
        if not (math.isfinite(thickness) and THINNEST <= thickness <= THICKEST):
            raise InputError("thickness", thickness, "a sheet thickness from 0.05 mm to 50 mm")
        if density is not None and not (math.isfinite(density) and 5.0 <= density <= 10000.0):
            raise InputError("density", density, "a density from 5 to 10000 kg/m³")
        chosen = self._cut(cut)
        scale = dict(factors or {})
        unknown = set(scale) - set(SCATTER)
        if unknown:
            raise InputError("factors", sorted(unknown), "factors among " + ", ".join(SCATTER))
        if self.model == "faced":
            return self._faced(thickness, density, cut, moisture, scale, strength)
        if self.model == "plywood":
            return self._plywood(thickness, density, moisture, scale, strength)
        lamina = self.lamina(
            density=density, cut=chosen, moisture=moisture, factors=scale, strength=strength
        )
        if self.model == "laminate":
            angles = parse_stack(self.raw["stack"])
            each = thickness / len(angles)
            return Layup(tuple(Ply(lamina, each, math.radians(angle)) for angle in angles))
        return Layup((Ply(lamina, thickness),))

    def lamina(
        self,
        *,
        density: float | None = None,
        cut: str | None = None,
        moisture: float | None = None,
        factors: Mapping[str, float] | None = None,
        strength: Strength = "bending",
    ) -> Lamina:
        """Return one layer of this material: the sheet, veneer or ply itself.

        Parameters are those of `layup`. Faced materials have no single lamina.
        """
        scale = dict(factors or {})
        if self.model == "faced":
            raise InputError("material", self.name, "a material that is not a faced core")
        if self.model in ("wood", "plywood"):
            return wood.lamina(
                self.values,
                self.raw,
                density=density,
                cut=self._cut(cut) or "A",
                moisture=moisture,
                factors=scale,
                strength=strength,
            )
        return self._direct(density, self._cut(cut), moisture, scale, strength)

    def _cut(self, cut: str | None) -> str:
        if cut is None:
            return self.cuts[0] if self.cuts else ""
        if self.cuts and cut not in self.cuts:
            raise InputError("cut", cut, "one of " + ", ".join(self.cuts))
        return cut if self.cuts else ""

    def _direct(
        self,
        density: float | None,
        cut: str,
        moisture: float | None,
        factors: Mapping[str, float],
        strength: Strength,
    ) -> Lamina:
        """Return a lamina whose constants are in the file as they are."""
        changed = self.raw.get("cut_values", {}).get(cut, {})

        def get(key: str) -> float:
            return float(changed.get(key, self.values[key].value))

        if self.model == "isotropic":
            made = isotropic(
                modulus=get("modulus"),
                poisson=get("poisson"),
                density=get("density"),
                tension=get("tension"),
                compression=get("compression"),
                kind="core" if self.kind == "core" else "isotropic",
            )
        else:
            made = Lamina(
                **{key: get(key) for key in LAMINA_VALUES},
                kind="core" if self.kind == "core" else "fibrous",
            )
        swell = self.values.get("swelling_along"), self.values.get("swelling_across")
        made = replace(
            made,
            swelling_along=swell[0].value if swell[0] else 0.0,
            swelling_across=swell[1].value if swell[1] else 0.0,
        )
        if "shear_strength" in self.values:
            made = replace(made, shear_strength=get("shear_strength"))
        if strength == "bending" and "bending_along" in self.values:
            made = replace(
                made, tension_along=get("bending_along"), compression_along=get("bending_along")
            )
        if strength == "bending" and "bending_across" in self.values:
            made = replace(
                made,
                tension_across=get("bending_across"),
                compression_across=get("bending_across"),
            )
        soft, weak, mass = 1.0, 1.0, 1.0
        if moisture is not None and "moisture_reference" in self.values:
            rest = self.values["moisture_reference"].value
            points = 100.0 * (moisture - rest)
            soft = max(0.1, 1.0 - self.values["moisture_loss_modulus"].value * points)
            weak = max(0.1, 1.0 - self.values["moisture_loss_strength"].value * points)
            mass = (1.0 + moisture) / (1.0 + rest)
        heavy = made.density if density is None else density
        shear = factors.get("shear_modulus", 1.0) * soft
        strong = factors.get("strength", 1.0) * weak
        return replace(
            made,
            modulus_along=made.modulus_along * factors.get("modulus_along", 1.0) * soft,
            modulus_across=made.modulus_across * factors.get("modulus_across", 1.0) * soft,
            shear_modulus=made.shear_modulus * shear,
            shear_13=made.shear_13 * shear,
            shear_23=made.shear_23 * shear,
            density=heavy * factors.get("density", 1.0) * mass,
            tension_along=made.tension_along * strong,
            compression_along=made.compression_along * strong,
            tension_across=made.tension_across * strong,
            compression_across=made.compression_across * strong,
            shear_strength=made.shear_strength * strong,
        )

    def plies(self, thickness: float) -> int:
        """Return how many plies a sheet has; plywood as many as the nearest stock sheet."""
        if self.model != "plywood":
            return 1 if self.model != "laminate" else len(parse_stack(self.raw["stack"]))
        count = self.nearest_stock(thickness).plies
        if count is None:
            raise MaterialError(f"{self.name}: stock without a ply count")
        return count

    def _plywood(
        self,
        thickness: float,
        density: float | None,
        moisture: float | None,
        factors: Mapping[str, float],
        strength: Strength,
    ) -> Layup:
        count = self.plies(thickness)
        # The panel's density says little of its veneer's stiffness, much of it being glue, so
        # neither a weighed panel nor the density factor goes through the density law.
        stiff = {key: number for key, number in factors.items() if key != "density"}
        veneer = self.lamina(moisture=moisture, factors=stiff, strength=strength)
        glue = self.values["glue_line"].value * (count - 1) / thickness
        panel = veneer.density + glue if density is None else density
        veneer = replace(veneer, density=panel * factors.get("density", 1.0))
        each = thickness / count
        return Layup(tuple(Ply(veneer, each, (i % 2) * math.pi / 2.0) for i in range(count)))

    def _faced(
        self,
        thickness: float,
        density: float | None,
        cut: str | None,
        moisture: float | None,
        factors: Mapping[str, float],
        strength: Strength,
    ) -> Layup:
        core, skin = self.core, self.skin
        if core is None or skin is None:
            raise MaterialError(f"{self.name}: a faced material needs a core and a skin")
        skin_thick = self.values["skin_thickness"].value
        inner = thickness - 2.0 * skin_thick
        if inner <= 0.1 * thickness:
            raise InputError(
                "thickness",
                thickness,
                f"more than {2.3 * skin_thick * 1e3:.2g} mm, skins included, for {self.label}",
            )
        heavy = factors.get("density", 1.0)
        # The density factor only adds mass here: the skins carry the stiffness, and a factor on
        # the whole sheet cannot tell the core's share of it.
        plain = {key: number for key, number in factors.items() if key != "density"}
        middle = core.layup(
            thickness=inner,
            density=density,
            cut=cut,
            moisture=moisture,
            factors=plain,
            strength=strength,
        )
        # Faces on a core are pressed and pulled evenly, so they take their direct strengths.
        face = skin.lamina(moisture=moisture, factors=plain, strength="direct")
        glue = self.values["glue_line"].value / skin_thick
        face = replace(face, density=(face.density + glue) * heavy)
        turn = math.radians(float(self.raw.get("skin_angle", 0.0)))
        outer = Ply(face, skin_thick, turn)
        inside = tuple(
            replace(
                ply,
                lamina=replace(ply.lamina, kind="core", density=ply.lamina.density * heavy),
            )
            for ply in middle.plies
        )
        return Layup((outer, *inside, outer))


OWN_SCATTER: Mapping[str, float] = MappingProxyType(
    {
        "modulus_along": 0.10,
        "modulus_across": 0.15,
        "shear_modulus": 0.15,
        "density": 0.05,
        "strength": 0.15,
    }
)
"""Coefficients of variation of a reader's own values where none are given (common practice)."""


def own(
    *,
    modulus_along: float,
    modulus_across: float | None = None,
    shear_modulus: float | None = None,
    poisson: float = 0.3,
    density: float,
    strength_along: float,
    strength_across: float | None = None,
    shear_strength: float | None = None,
    scatter: Mapping[str, float] | None = None,
) -> Material:
    """Return a material of a reader's own numbers, in SI units.

    Left out, the values across equal those along, the shear modulus is E/(2 (1 + n)) with the
    geometric mean of the two moduli, and the shear strength X/sqrt 3 with that of the two
    strengths: a plain isotropic sheet when only one modulus and strength are given. `scatter` holds
    the coefficients of variation by name, all of `SCATTER`; without it usual ones are taken.

    >>> own(modulus_along=3e9, density=1200, strength_along=60e6).layup(thickness=2e-3).areal_mass
    2.4
    """
    across = modulus_along if modulus_across is None else modulus_across
    for key, number in (
        ("modulus_along", modulus_along),
        ("modulus_across", across),
        ("density", density),
        ("strength_along", strength_along),
    ):
        if not (math.isfinite(number) and number > 0.0):
            raise InputError(key, number, "a number above zero")
    shear = (
        math.sqrt(modulus_along * across) / (2.0 * (1.0 + poisson))
        if shear_modulus is None
        else shear_modulus
    )
    weak = strength_along if strength_across is None else strength_across
    sliding = math.sqrt(strength_along * weak / 3.0) if shear_strength is None else shear_strength
    numbers = {
        "density": (density, "kg/m3"),
        "modulus_along": (modulus_along, "Pa"),
        "modulus_across": (across, "Pa"),
        "shear_modulus": (shear, "Pa"),
        "poisson": (poisson, "1"),
        "shear_13": (shear, "Pa"),
        "shear_23": (shear, "Pa"),
        "tension_along": (strength_along, "Pa"),
        "compression_along": (strength_along, "Pa"),
        "tension_across": (weak, "Pa"),
        "compression_across": (weak, "Pa"),
        "shear_strength": (sliding, "Pa"),
    }
    material = Material(
        name="own",
        label="Your own material",
        family="own",
        kind="solid",
        model="sheet",
        summary="Values given by the reader.",
        grain="As the reader gave it.",
        values=MappingProxyType(
            {
                key: Value(float(number), unit, "reader", basis="measured")
                for key, (number, unit) in numbers.items()
            }
        ),
        stock=(),
        workability=MappingProxyType({}),
        price=None,
        cuts=(),
        scatter_values=MappingProxyType(
            {
                key: Value(spread, "1", "common-practice", basis="practice")
                if scatter is None
                else Value(float(scatter[key]), "1", "reader", basis="measured")
                for key, spread in OWN_SCATTER.items()
            }
        ),
    )
    # Builds the lamina once, so that impossible numbers are refused here and by name.
    material.lamina()
    return material


def faced(
    core: Material,
    skin: Material,
    *,
    skin_thickness: float,
    glue_line: float = 0.03,
    skin_angle: float = 0.0,
) -> Material:
    """Return a core sheet with a skin bonded to both faces.

    Parameters
    ----------
    core, skin
        Materials; the skin must not be faced itself.
    skin_thickness
        [m], each skin.
    glue_line
        [kg/m²] of glue under each skin.
    skin_angle
        [rad], direction of the skin's own grain from the core's.
    """
    values = {
        "skin_thickness": Value(skin_thickness, "m", "reader", basis="measured"),
        "glue_line": Value(glue_line, "kg/m2", "reader", basis="measured"),
    }
    return replace(
        core,
        name=f"{core.name}+{skin.name}",
        label=f"{core.label} faced with {skin.label.lower()}",
        family="faced",
        kind="faced-core",
        model="faced",
        values=MappingProxyType({**core.values, **values}),
        stock=(),
        price=None,
        raw=MappingProxyType({"skin_angle": math.degrees(skin_angle)}),
        core=core,
        skin=skin,
    )
