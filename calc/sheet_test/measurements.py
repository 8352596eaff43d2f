"""Readings of tests on one sheet, with their errors, and what each test should read.

A test predicts its reading from the properties of the sheet by the formulas of
`calc.sheet_test.mechanics`. Each class states its readings; what all tests have in common is in
`SheetTest`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from calc.errors import InputError, ValidityError
from calc.sheet_test import mechanics
from calc.sheet_test.mechanics import Support

Array = NDArray[np.float64]
Direction = Literal["along", "across"]

MIN_SLENDERNESS = 20.0
"""Length over thickness of a strip below which shear adds more than 2 % along the grain, where
E / G is about 25."""
MAX_SAG = 0.85
"""Largest sag of a clamped strip, as a share of its length; beyond it hangs almost straight."""
MAX_FLEX = 0.1
"""Largest deflection in three-point flex, as a share of the span."""
MAX_PLATE_TWIST = 0.1
"""Largest deflection of a plate's corner, as a share of its shorter side."""
MAX_ERROR = 0.5
"""Largest standard error of a reading that enters a prediction, as a share of the reading."""


@dataclass(frozen=True)
class Reading:
    """One measured number with its standard error.

    Parameters
    ----------
    value
        The reading, SI unit.
    error
        Standard deviation of its error, same unit; 0 means exactly known.
    name
        Readings with the same name are one measurement used in several tests: its error is then
        shared and does not average out.
    """

    value: float
    error: float = 0.0
    name: str = ""

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise InputError(self.name or "reading", self.value, "a finite number")
        if not (math.isfinite(self.error) and self.error >= 0.0):
            raise InputError(self.name or "reading", self.error, "an error of zero or more")


def thickness_reading(*, readings: Sequence[float], error: float) -> Reading:
    """Return the mean thickness of a sheet from readings at several points.

    Parameters
    ----------
    readings
        Thickness at n points spread over the sheet [m].
    error
        Standard error of the gauge itself [m]; it does not average out (zero, jaw pressure).

    Returns
    -------
    Reading
        Mean and its standard error [m].

    Raises
    ------
    InputError
        If a thickness or the error is not above zero.

    Notes
    -----
    Equation: s^2 = ((n - 1) s_n^2 + e^2) / n, error^2 = s^2 / n + e^2. With few points the scatter
    s depends mostly on the gauge error.
    """
    values = np.asarray(readings, dtype=float)
    if values.size == 0 or not np.all(np.isfinite(values)) or np.any(values <= 0.0):
        raise InputError("thickness", list(readings), "one or more thicknesses above zero")
    if not error > 0.0:
        raise InputError("thickness_error", error, "an error above zero")
    scatter = (float(np.sum((values - values.mean()) ** 2)) + error**2) / values.size
    return Reading(float(values.mean()), math.sqrt(scatter / values.size + error**2), "thickness")


class SheetTest:
    """Base of all tests of a sheet; a subclass is a frozen dataclass of its readings.

    Class attributes
    ----------------
    kind
        Name of the test in messages.
    result
        Field that holds the reading the test predicts.
    entering
        Fields whose readings enter the prediction, where they are given.
    may_be_zero
        Inputs that may be zero and may have any error.
    """

    kind: ClassVar[str]
    result: ClassVar[str]
    entering: ClassVar[tuple[str, ...]]
    may_be_zero: ClassVar[frozenset[str]] = frozenset({"method", "anticlastic"})
    thickness: Reading | None

    def __post_init__(self) -> None:
        self._check()
        problem = self.beyond_model()
        if problem:
            raise ValidityError(problem)

    @property
    def target(self) -> str:
        """Which property the test measures: along, across, shear or density."""
        raise NotImplementedError

    @property
    def label(self) -> str:
        """Name of the test in messages, with its target."""
        return f"{self.kind}, {self.target}"

    @property
    def observed(self) -> Reading:
        """The reading that the test predicts."""
        reading: Reading = getattr(self, self.result)
        return reading

    def inputs(self) -> dict[str, Reading]:
        """Return the readings that enter the prediction, by name."""
        given = {name: getattr(self, name) for name in self.entering}
        found = {name: reading for name, reading in given.items() if reading is not None}
        found |= self.method_inputs()
        if self.thickness is not None:
            found["thickness"] = self.thickness
        return found

    def method_inputs(self) -> dict[str, Reading]:
        """Return the uncertainties of the method itself, by name."""
        return {}

    def beyond_model(self) -> str:
        """Return why the readings lie outside the formula, or "" if they do not."""
        return ""

    def predict(self, sheet: Mapping[str, Array], inputs: Mapping[str, Array]) -> Array:
        """Compute the reading from the sheet's properties and the inputs, for many cases."""
        raise NotImplementedError

    def cautions(self, thickness: float) -> tuple[str, ...]:
        """Return warnings about the test on a sheet of a given thickness [m]."""
        del thickness
        return ()

    def _check(self) -> None:
        """Raise InputError if a reading is impossible."""
        if not (self.observed.value > 0.0 and self.observed.error > 0.0):
            raise InputError(self.kind, self.observed, "a reading and an error above zero")
        for name, reading in self.inputs().items():
            free = name in self.may_be_zero
            if reading.value < 0.0 or (reading.value == 0.0 and not free):
                raise InputError(name, reading.value, "a value above zero")
            if reading.error > MAX_ERROR * abs(reading.value) and not free:
                raise InputError(name, reading.error, "an error below half the reading")


class BendingTest(SheetTest):
    """Base of the tests that bend a strip along or across the grain.

    Class attributes
    ----------------
    span_field
        Field that holds the length of the strip that bends.
    """

    span_field: ClassVar[str] = "length"
    direction: Direction
    method_cov: float

    def _check(self) -> None:
        if self.direction not in ("along", "across"):
            raise InputError("direction", self.direction, '"along" or "across"')
        super()._check()

    @property
    def target(self) -> str:
        """Direction of the modulus measured."""
        return self.direction

    def method_inputs(self) -> dict[str, Reading]:
        """Return the errors of the method and of the anticlastic curvature.

        A narrow strip bends with E; a wide one, held flat across, with E / (1 - nu_12 nu_21). The
        position between them (0 to 1, evenly distributed) has mean 0.5 and standard deviation
        1/sqrt(12).
        """
        return {
            "method": Reading(0.0, self.method_cov, f"method {self.kind} {self.direction}"),
            "anticlastic": Reading(0.5, 12.0**-0.5, f"anticlastic {self.direction}"),
        }

    def modulus(self, sheet: Mapping[str, Array], inputs: Mapping[str, Array]) -> Array:
        """Compute the modulus with which the strip bends [Pa]."""
        modulus = sheet["modulus_along" if self.direction == "along" else "modulus_across"]
        coupling = sheet["poisson"] ** 2 * sheet["modulus_across"] / sheet["modulus_along"]
        held = -inputs["anticlastic"] * np.log1p(-np.minimum(coupling, 0.5))
        effective: Array = modulus * np.exp(inputs["method"] + held)
        return effective

    def cautions(self, thickness: float) -> tuple[str, ...]:
        """Return a warning about a short strip whose shear is left out."""
        span: Reading = getattr(self, self.span_field)
        if getattr(self, "shear_modulus", None) or span.value >= MIN_SLENDERNESS * thickness:
            return ()
        return (
            f"The {self.kind} strip is shorter than {MIN_SLENDERNESS:.0f} thicknesses: shear makes "
            "it look softer.",
        )


@dataclass(frozen=True)
class Weighing(SheetTest):
    """Mass of a rectangle of the sheet [kg, m]."""

    mass: Reading
    length: Reading
    width: Reading
    thickness: Reading | None = None
    kind: ClassVar[str] = "weighing"
    result: ClassVar[str] = "mass"
    entering: ClassVar[tuple[str, ...]] = ("length", "width")

    @property
    def target(self) -> str:
        """Density."""
        return "density"

    @property
    def label(self) -> str:
        """Name of the test in messages."""
        return self.kind

    def predict(self, sheet: Mapping[str, Array], inputs: Mapping[str, Array]) -> Array:
        """Compute the mass, rho L b t [kg]."""
        thickness = inputs.get("thickness", sheet["thickness"])
        mass: Array = sheet["density"] * thickness * inputs["length"] * inputs["width"]
        return mass


@dataclass(frozen=True)
class Cantilever(BendingTest):
    """Sag of the tip of a clamped strip under its own weight and a hung mass.

    Parameters
    ----------
    direction
        "along": the grain runs along the strip; "across": square to it.
    length, width, sag
        Free length, width, sag of the tip below the clamp's level [m].
    tip_load
        Hung mass [kg].
    thickness
        Of this strip if measured separately [m]; else the sheet's.
    method_cov
        Coefficient of variation of the modulus due to what the formula leaves out, such as the
        compliance and the edge of the clamp: 3 % is our judgement.
    """

    direction: Direction
    length: Reading
    width: Reading
    sag: Reading
    tip_load: Reading = Reading(0.0)
    thickness: Reading | None = None
    method_cov: float = 0.03
    kind: ClassVar[str] = "cantilever"
    result: ClassVar[str] = "sag"
    entering: ClassVar[tuple[str, ...]] = ("length", "width", "tip_load")
    may_be_zero: ClassVar[frozenset[str]] = BendingTest.may_be_zero | {"tip_load"}

    def beyond_model(self) -> str:
        """Return a message if the strip hangs almost straight down."""
        if self.sag.value <= MAX_SAG * self.length.value:
            return ""
        return "the strip hangs almost straight down; use a shorter strip"

    def predict(self, sheet: Mapping[str, Array], inputs: Mapping[str, Array]) -> Array:
        """Compute the sag by `mechanics.cantilever_sag` [m]."""
        return mechanics.cantilever_sag(
            modulus=self.modulus(sheet, inputs),
            thickness=inputs.get("thickness", sheet["thickness"]),
            width=inputs["width"],
            length=inputs["length"],
            density=sheet["density"],
            tip_load=inputs["tip_load"],
        )


@dataclass(frozen=True)
class Flex(BendingTest):
    """Deflection at mid-span of a strip on two supports under a mass.

    Parameters
    ----------
    direction
        Direction of the grain, see `Cantilever`.
    span, width, deflection
        [m]
    load
        Mass at mid-span [kg].
    own_weight
        True when the deflection is measured from a straight line between the supports; False when
        the zero was set with the strip already lying there.
    overhang
        Length beyond each support [m].
    shear_modulus
        Through the thickness [Pa], with its error; None leaves shear out.
    thickness, method_cov
        See `Cantilever`.
    """

    direction: Direction
    span: Reading
    width: Reading
    load: Reading
    deflection: Reading
    own_weight: bool = False
    overhang: Reading = Reading(0.0)
    shear_modulus: Reading | None = None
    thickness: Reading | None = None
    method_cov: float = 0.03
    kind: ClassVar[str] = "three-point flex"
    result: ClassVar[str] = "deflection"
    entering: ClassVar[tuple[str, ...]] = ("span", "width", "load", "overhang", "shear_modulus")
    may_be_zero: ClassVar[frozenset[str]] = BendingTest.may_be_zero | {"overhang"}
    span_field: ClassVar[str] = "span"

    def beyond_model(self) -> str:
        """Return a message if the strip is bent too far."""
        if self.deflection.value <= MAX_FLEX * self.span.value:
            return ""
        return "deflection above a tenth of the span; use less load"

    def predict(self, sheet: Mapping[str, Array], inputs: Mapping[str, Array]) -> Array:
        """Compute the deflection by `mechanics.flex_deflection` [m]."""
        return mechanics.flex_deflection(
            modulus=self.modulus(sheet, inputs),
            thickness=inputs.get("thickness", sheet["thickness"]),
            width=inputs["width"],
            span=inputs["span"],
            load=inputs["load"],
            density=sheet["density"] if self.own_weight else 0.0,
            overhang=inputs["overhang"],
            shear_modulus=inputs.get("shear_modulus", np.array(np.inf)),
        )


@dataclass(frozen=True)
class Tone(BendingTest):
    """Frequency of a tapped or plucked strip.

    Parameters
    ----------
    direction
        Direction of the grain, see `Cantilever`.
    length, width
        [m]
    frequency
        [Hz]
    support, mode
        See `mechanics.strip_tone`.
    air_density
        [kg/m3]; the error includes that of the air's motion.
    shear_modulus, thickness, method_cov
        See `Flex`; 2 % for the method is our judgement.
    """

    direction: Direction
    length: Reading
    width: Reading
    frequency: Reading
    support: Support = "free"
    mode: int = 1
    air_density: Reading = Reading(1.2, 0.24, "air density")
    shear_modulus: Reading | None = None
    thickness: Reading | None = None
    method_cov: float = 0.02
    kind: ClassVar[str] = "tone"
    result: ClassVar[str] = "frequency"
    entering: ClassVar[tuple[str, ...]] = ("length", "width", "air_density", "shear_modulus")
    may_be_zero: ClassVar[frozenset[str]] = BendingTest.may_be_zero | {"air_density"}

    def predict(self, sheet: Mapping[str, Array], inputs: Mapping[str, Array]) -> Array:
        """Compute the frequency by `mechanics.strip_tone` [Hz]."""
        return mechanics.strip_tone(
            modulus=self.modulus(sheet, inputs),
            density=sheet["density"],
            thickness=inputs.get("thickness", sheet["thickness"]),
            length=inputs["length"],
            support=self.support,
            mode=self.mode,
            width=inputs["width"],
            air_density=inputs["air_density"],
            shear_modulus=inputs.get("shear_modulus"),
        )


@dataclass(frozen=True)
class PlateTwist(SheetTest):
    """Deflection of one corner of a rectangle supported at the other three.

    Parameters
    ----------
    side_along, side_across
        [m]
    load
        Mass added on the free corner [kg].
    deflection
        Of that corner [m].
    thickness, method_cov
        See `Cantilever`; 5 % for the method is our judgement.
    """

    side_along: Reading
    side_across: Reading
    load: Reading
    deflection: Reading
    thickness: Reading | None = None
    method_cov: float = 0.05
    kind: ClassVar[str] = "plate twist"
    result: ClassVar[str] = "deflection"
    entering: ClassVar[tuple[str, ...]] = ("side_along", "side_across", "load")

    @property
    def target(self) -> str:
        """Shear modulus."""
        return "shear"

    def method_inputs(self) -> dict[str, Reading]:
        """Return the error of the method."""
        return {"method": Reading(0.0, self.method_cov, f"method {self.kind}")}

    def beyond_model(self) -> str:
        """Return a message if the plate is bent too far."""
        side = min(self.side_along.value, self.side_across.value)
        if self.deflection.value <= MAX_PLATE_TWIST * side:
            return ""
        return "corner sinks by more than a tenth of a side; use less load"

    def cautions(self, thickness: float) -> tuple[str, ...]:
        """Return a warning about a corner that sinks by more than two thicknesses."""
        if self.deflection.value <= 2.0 * thickness:
            return ()
        return (
            "The corner of the twisted plate sinks by more than two thicknesses: the plate "
            "stretches and looks stiffer.",
        )

    def predict(self, sheet: Mapping[str, Array], inputs: Mapping[str, Array]) -> Array:
        """Compute the deflection by `mechanics.plate_twist` [m]."""
        return mechanics.plate_twist(
            shear_modulus=sheet["shear_modulus"] * np.exp(inputs["method"]),
            thickness=inputs.get("thickness", sheet["thickness"]),
            side_along=inputs["side_along"],
            side_across=inputs["side_across"],
            load=inputs["load"],
        )
