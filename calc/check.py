"""Everything a fin must stand, in one place: margins, what fails first, and how sure that is.

A `Model` holds what depends on the outline only (plate integrals, the air's answer); it is made
once and reused for every material, thickness and grain angle. `evaluate` answers for a batch of
candidates at once; `check` adds loads, spread and the verdict for one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from calc import aeroelastic, lifting_surface, plate, spread, strength, strip, supersonic
from calc import layup as layups
from calc.atmosphere import Air
from calc.errors import InputError
from calc.layup import Layup
from calc.materials import Material
from calc.planform import Edge, Planform

Real = NDArray[np.float64]

MACHS: Real = np.array([0.0, 0.6, aeroelastic.SUBSONIC_LIMIT])
"""Mach numbers at which the subsonic air forces are computed; between them the boundary is
interpolated (error shown in tests/convergence)."""
CHORDWISE, SPANWISE = 6, 8
"""Boxes of the lifting surface. Coarse lattices of this kind predict a little too much lift, so
flutter a few per cent early: the safe side (tests/convergence states how much)."""
MODES = 6
"""Natural modes that flutter is made of."""
LIGHTEST = 1.0
"""Lowest ratio of a fin's mass per area to air density times chord that is answered."""
MOST = 3.0
"""Largest margin in speed stated beyond Mach 0.9; a boundary farther off, or none, is a limit."""
NEAR = 0.8
"""Share of the divergence pressure up to which the root's load is followed. Twist grows without
limit beyond; a fin with the margin asked of divergence stays below it (1 / 1.15^2 = 0.76)."""
TRUNCATION = 0.01
"""Fall of a frequency with the last plate functions above which more functions are taken."""
SQUARE = Edge("square")
TRANSONIC_FACTOR = 0.75
"""Share of the linear flutter speed taken between Mach 0.9 and 1.2. Measured for the AGARD 445.6
wing (NASA TM 100492): the flutter speed index falls from 0.370 at Mach 0.90 to 0.306 at Mach
0.954, a factor of 0.83; the rest is allowance for other shapes."""
REQUIRED_SPEED_MARGIN = 1.15
"""Margin in speed asked of flutter and divergence (MIL-A-8870: 15 %)."""
REQUIRED_LOAD_MARGIN = 1.5
"""Margin in load asked of strength (14 CFR 25.303: factor of safety 1.5)."""
FLUTTER_MODEL_COV = 0.08
"""Scatter of the flutter model itself, from the validation cases with measured flutter."""
STRENGTH_MODEL_COV = 0.15
"""Scatter of the root-stress model; common practice, wood joints."""


@dataclass(frozen=True)
class Fin:
    """A fin: outline, edges, what it is made of and which way the grain runs."""

    planform: Planform
    material: Material
    thickness: float
    grain: float = 0.0
    edge: Edge = SQUARE
    density: float | None = None
    cut: str | None = None
    moisture: float | None = None
    count: int = 3
    coating: float = 0.0
    """Finish on both sides together [kg/m2]."""

    def layup(self, factors: Mapping[str, float] | None = None) -> Layup:
        """Return the plies, their properties multiplied by `factors`."""
        return self.material.layup(
            thickness=self.thickness,
            density=self.density,
            cut=self.cut,
            moisture=self.moisture,
            factors=factors,
        )

    @property
    def direction(self) -> float:
        """Direction of the grain from the x axis [rad]."""
        return self.planform.grain_direction(self.grain)


@dataclass(frozen=True)
class Point:
    """A moment of the flight: speed [m/s], the air there and the angle of attack [rad]."""

    speed: float
    air: Air
    attack: float = math.radians(5.0)

    @property
    def mach(self) -> float:
        """Speed over the speed of sound."""
        return float(self.speed / self.air.sound_speed)

    @property
    def pressure(self) -> float:
        """Dynamic pressure [Pa]."""
        return float(0.5 * self.air.density * self.speed**2)


@dataclass(frozen=True, eq=False)
class Model:
    """What depends on a fin's outline and edges only."""

    planform: Planform
    edge: Edge
    plate: plate.Prepared
    air: aeroelastic.AirGrid
    lift: Real
    """``(n_m, b)`` lift per angle of attack at each load point over dynamic pressure [m2/rad]."""

    @property
    def fractions(self) -> Real:
        """Local over full thickness of the plate's zones."""
        return self.plate.zone_fractions


@lru_cache(maxsize=16)
def air(planform: Planform) -> aeroelastic.AirGrid:
    """Return how the air answers an outline; kept, because every fin of it shares it."""
    mesh = lifting_surface.mesh(planform, chordwise=CHORDWISE, spanwise=SPANWISE, tip_inset=0.0)
    nodes, scale = aeroelastic.node_wavenumbers(planform.mean_chord, highest=1.0)
    influence = lifting_surface.influence(mesh, mach=MACHS, wavenumbers=nodes)
    return aeroelastic.air_grid(
        influence=influence,
        areas=mesh.areas,
        load_points=mesh.load_points,
        control_points=mesh.control_points,
        machs=MACHS,
        nodes=nodes,
        scale=scale,
    )


@lru_cache(maxsize=16)
def model(
    planform: Planform, edge: Edge = SQUARE, *, thickness_ratio: float = 0.02, fine: bool = False
) -> Model:
    """Return the model of an outline; kept, because every material shares it.

    Parameters
    ----------
    thickness_ratio
        Thickness over root chord; matters for rounded edges only.
    fine
        Take 100 plate functions instead of 42, for grain that the few cannot follow.
    """
    prepared = plate.prepare(
        planform,
        edge=edge,
        thickness_ratio=thickness_ratio if edge.kind == "rounded" else None,
        spanwise=10 if fine else 6,
        chordwise=10 if fine else 7,
    )
    grid = air(planform)
    lift = -grid.response[:, 0].real.sum(axis=-1)
    return Model(planform=planform, edge=edge, plate=prepared, air=grid, lift=lift)


def model_for(fin: Fin, *, fine: bool = False) -> Model:
    """Return the model of a fin's outline and edges."""
    if fin.edge.kind == "rounded":
        ratio = round(fin.thickness / fin.planform.root, 4)
        return model(fin.planform, fin.edge, thickness_ratio=ratio, fine=fine)
    return model(fin.planform, fin.edge, fine=fine)


@dataclass(frozen=True, eq=False)
class Structure:
    """Stiffness and modes of a batch of candidates on one model."""

    layups: tuple[Layup, ...]
    angles: Real
    bending: Real
    """``(c, 3, 3)`` at full thickness, in x, y axes [N m]."""
    system: plate.System
    modes: plate.Modes
    mass: Real
    """``(c,)`` mass of one fin [kg]."""

    def single(self, index: int) -> plate.System:
        """Return the system of one candidate."""
        return self.system.single(index)


def structure(
    shape: Model, stacks: Sequence[Layup], angles: Sequence[float], *, coating: float = 0.0
) -> Structure:
    """Return stiffness, modes and mass of candidates, all of one kind (weak-cored or not)."""
    direction = np.asarray(angles, float)
    fractions = shape.fractions
    per_zone = np.empty((len(stacks), fractions.size, 3, 3))
    areal = np.empty((len(stacks), fractions.size))
    shear = np.empty((len(stacks), fractions.size, 2, 2))
    bending = np.empty((len(stacks), 3, 3))
    weak = any(layups.core_index(stack) for stack in stacks)
    for row, (stack, angle) in enumerate(zip(stacks, direction, strict=True)):
        bending[row] = layups.bending(stack, angle=angle)
        if fractions.size == 1:
            per_zone[row, 0], areal[row, 0] = bending[row], stack.areal_mass
        else:
            per_zone[row], areal[row] = layups.sanded_bending(stack, fractions, angle=angle)
        if weak:
            shear[row] = (
                layups.stiffness(stack, angle=angle).transverse_shear * fractions[:, None, None]
            )
    areal = areal + coating
    system = plate.assemble(
        shape.plate,
        bending=per_zone,
        areal_mass=areal,
        transverse_shear=shear if weak else None,
    )
    return Structure(
        layups=tuple(stacks),
        angles=direction,
        bending=bending,
        system=system,
        modes=plate.modes(system, count=MODES),
        mass=areal @ shape.plate.zone_areas,
    )


@dataclass(frozen=True, eq=False)
class Stability:
    """Flutter and divergence of a batch at one moment of flight; arrays ``(c,)``.

    Speeds are those at which the boundary is met when flying faster at the same height. Where
    `*_found` is False the speed is only a lower limit, the end of the model's range.
    """

    flutter_speed: Real
    flutter_found: NDArray[np.bool_]
    divergence_speed: Real
    divergence_found: NDArray[np.bool_]
    flutter_by_mach: Real
    """``(c, n_m)`` boundary speed with the air of each Mach number [m/s]; may be infinite."""
    divergence_by_mach: Real
    detail: aeroelastic.Flutter
    forces: aeroelastic.AirForces


def stability(shape: Model, found: Structure, air: Air | Sequence[Air]) -> Stability:
    """Return flutter and divergence of a batch in one air, or of one candidate in several airs.

    With several airs the batch is that of the moments: row by row the one candidate in each air.
    """
    forces = shape.air.on_modes(found.system.basis, found.modes.shapes)
    frequency = found.modes.frequency
    airs = [air] if isinstance(air, Air) else list(air)
    density = np.array([float(one.density) for one in airs])[:, None]
    sound = np.array([float(one.sound_speed) for one in airs])
    pressure = aeroelastic.divergence_pressure(forces, frequency=frequency)
    if len(airs) > 1:
        matrices = forces.forces
        forces = replace(forces, forces=np.broadcast_to(matrices, (len(airs), *matrices.shape[1:])))
        frequency = np.broadcast_to(frequency, (len(airs), frequency.shape[1]))
    detail = aeroelastic.flutter(forces, frequency=frequency, density=density)
    diverging = np.sqrt(2.0 * pressure / density)
    # past divergence the fin is no longer where the linear theory starts from, so flutter beyond
    # it is only known to come later
    first = np.minimum(detail.speed, diverging)
    flutter_speed, flutter_found = aeroelastic.matched_speed(MACHS, first, sound_speed=sound)
    divergence_speed, divergence_found = aeroelastic.matched_speed(
        MACHS, diverging, sound_speed=sound
    )
    near_mach = np.abs(MACHS - (flutter_speed / sound)[:, None]).argmin(axis=-1)
    diverges_first = np.take_along_axis(detail.speed > diverging, near_mach[:, None], axis=-1)[:, 0]
    return Stability(
        # the two are interpolated over Mach apart; where divergence hides flutter its speed is
        # the limit of both
        flutter_speed=np.where(
            diverges_first, np.maximum(flutter_speed, divergence_speed), flutter_speed
        ),
        flutter_found=flutter_found & ~diverges_first,
        divergence_speed=divergence_speed,
        divergence_found=divergence_found.astype(bool),
        flutter_by_mach=first,
        divergence_by_mach=diverging,
        detail=detail,
        forces=forces,
    )


@dataclass(frozen=True)
class Margin:
    """One way to fail: demand and capacity in one unit, their ratio, and what is asked of it."""

    name: str
    label: str
    demand: float
    capacity: float
    kind: str
    ratio: float
    required: float
    bound: bool = False
    """True where the ratio is only a lower limit."""
    low: float | None = None
    high: float | None = None
    note: str = ""
    flight: bool = True
    """False for what can break a fin on the ground but not end a flight."""
    known: bool = True
    """False where the model cannot promise the ratio, so that it may warn but never reassure."""


FACTORS = ("modulus_along", "modulus_across", "shear_modulus", "density", "strength")
STEP = 1.1
"""Factor by which each property is moved to find what it does to the margins."""


@dataclass(frozen=True, eq=False)
class Check:
    """The full answer for one fin at its worst moment."""

    fin: Fin
    point: Point
    margins: tuple[Margin, ...]
    governs: Margin
    state: str
    shortfall: float
    structure: Structure
    stability: Stability
    root: strength.RootLoad
    handling: strength.RootLoad
    samples: Real
    """``(n, n_margins)`` sampled margins."""
    slopes: Mapping[str, Real]
    """d log(margin) / d log(property) for each property, over the margins."""
    regime: str
    """"subsonic", "transonic" or "supersonic": which air the demand lies in."""


@dataclass(frozen=True, eq=False)
class AirLoad:
    """Fins under steady air load, one for each question."""

    coefficients: Real
    """``(q, n)`` the fin's shape: plate basis amplitudes [m]."""
    moment: Real
    """``(q,)`` about the root line [N m]."""
    shear: Real
    """``(q,)`` force across the root [N]."""
    near_divergence: NDArray[np.bool_]
    """``(q,)`` True where the twist was only followed up to `NEAR` of the divergence pressure."""


def air_load(
    shape: Model, found: Structure, rows: Sequence[int], points: Sequence[Point]
) -> AirLoad:
    """Return the air load on some candidates, each at a moment, with the twist that it makes.

    ``(K - q Q) x = q a L``: the air's stiffness is taken off the plate's. Above the subsonic limit
    the load is not less than Ackeret's. Beyond `NEAR` of the divergence pressure of this same air
    the load grows with dynamic pressure only.
    """
    row = np.asarray(rows)
    machs, back = np.unique(np.array([point.mach for point in points]), return_inverse=True)
    weights = aeroelastic.lagrange(
        np.minimum(machs, aeroelastic.SUBSONIC_LIMIT) ** 2, np.square(MACHS)
    )
    steady = np.tensordot(weights, shape.air.response[:, 0].real, axes=1)
    for place in np.flatnonzero(machs > aeroelastic.SUBSONIC_LIMIT):
        fast = max(float(machs[place]), aeroelastic.SUPERSONIC_START)
        slope = -steady[place].sum() / shape.planform.area
        steady[place] *= max(1.0, 4.0 / math.sqrt(fast**2 - 1.0) / slope)
    at_loads, slopes = shape.air.basis_shapes(found.system.basis)
    follows = (at_loads.T @ (steady @ slopes))[back]
    modes, stiffness = found.modes.shapes[row], found.modes.frequency[row] ** 2
    turned = np.linalg.eigvals(np.swapaxes(modes, -1, -2) @ follows @ modes / stiffness[..., None])
    size = np.abs(turned).max(axis=-1, keepdims=True)
    real = np.where(np.abs(turned.imag) < 1e-9 * size, turned.real, 0.0).max(axis=-1)
    most = NEAR / np.maximum(real, 1e-30)
    asked = np.array([point.pressure for point in points])
    pressure = np.minimum(asked, most)
    rigid = -steady.sum(axis=-1)[back] * np.array([point.attack for point in points])[:, None]
    softened = replace(
        found.system,
        stiffness=found.system.stiffness[row] - pressure[:, None, None] * follows,
    )
    coefficients = asked[:, None] * plate.static(softened, load=rigid @ at_loads)
    twisted = (steady[back] @ (coefficients @ slopes.T)[..., None])[..., 0]
    lift = asked[:, None] * rigid + pressure[:, None] * twisted
    return AirLoad(
        coefficients=coefficients,
        moment=lift @ shape.air.load_points[:, 1],
        shear=lift.sum(axis=-1),
        near_divergence=asked > most,
    )


def _speed_margin(
    name: str,
    label: str,
    speed: float,
    found: bool,
    by_mach: Real,
    demand: Point,
    supersonic_speed: Real | None,
) -> Margin:
    """Return the margin of an instability at the demand's speed, whatever its Mach number."""
    if demand.mach <= aeroelastic.SUBSONIC_LIMIT:
        ratio = speed / demand.speed if demand.speed > 0 else math.inf
        note = ""
        if not found and speed >= 0.999 * aeroelastic.SUBSONIC_LIMIT * demand.air.sound_speed:
            note = "no boundary up to Mach 0.9, where the model ends"
        elif not found:
            note = "not before the fin diverges"
        return Margin(
            name,
            label,
            demand.speed,
            speed,
            "speed",
            ratio,
            REQUIRED_SPEED_MARGIN,
            bound=not found,
            note=note,
        )
    through = min(demand.speed, aeroelastic.SUPERSONIC_START * float(demand.air.sound_speed))
    known = supersonic_speed is not None
    if supersonic_speed is None:
        ratio = TRANSONIC_FACTOR * float(by_mach[-1]) / demand.speed
        note = (
            "only the subsonic side, times 0.75: behind so swept an edge the supersonic theory "
            "does not hold, so nothing is promised"
        )
    else:
        passage = min(float(by_mach[-1]), float(supersonic_speed[0]))
        ratio = TRANSONIC_FACTOR * passage / through
        note = "no linear theory holds between Mach 0.9 and 1.2: both sides' lower, times 0.75"
        if demand.mach > aeroelastic.SUPERSONIC_START:
            ratio = min(ratio, float(supersonic_speed[1]) / demand.speed)
            note = "the lower of the bracketed transonic passage and supersonic theory"
    far = ratio > MOST
    if far:
        ratio, note = MOST, f"none nearer than {MOST:g} times this speed; {note}"
    return Margin(
        name,
        label,
        demand.speed,
        ratio * demand.speed,
        "speed",
        ratio,
        REQUIRED_SPEED_MARGIN,
        bound=far,
        note=note,
        known=known,
    )


def supersonic_boundary(shape: Model, found: Structure, point: Point) -> Real | None:
    """Return ``(c, 2)`` the lower of flutter and divergence speed by local supersonic theory.

    First at Mach 1.2, which every faster flight passes, then at the demand's own Mach number.
    None where the leading edge is so swept that the theory does not hold at both.
    """
    machs = (aeroelastic.SUPERSONIC_START, max(point.mach, aeroelastic.SUPERSONIC_START))
    if any(supersonic.limits(mach, sweep=shape.planform.sweep_leading) for mach in machs):
        return None
    basis, shapes = found.system.basis, found.modes.shapes
    # of a strongly tapered fin the middle line is swept more than the leading edge judged above
    sweep = min(abs(shape.planform.sweep_half), abs(shape.planform.sweep_leading))
    on_basis = np.stack(
        [
            supersonic.generalised_forces(
                shape.planform,
                basis.values,
                basis.slopes,
                mach=mach,
                wavenumbers=shape.air.nodes,
                sweep=sweep,
            )
            for mach in machs
        ]
    )
    turned = np.swapaxes(shapes, -1, -2)[:, None, None]
    forces = aeroelastic.AirForces(
        np.array(machs), shape.air.nodes, shape.air.scale, turned @ on_basis @ shapes[:, None, None]
    )
    frequency = found.modes.frequency
    flutters = aeroelastic.flutter(
        forces, frequency=frequency, density=np.full(2, float(point.air.density))
    ).speed
    pressure = aeroelastic.divergence_pressure(forces, frequency=frequency)
    return np.minimum(flutters, np.sqrt(2.0 * pressure / point.air.density))


THUMB = 3.0
"""Force of a careful hand on the tip [N]; common practice (a kitchen scale under the tip tells)."""


def _doubt(shape: Model, mass: float, stable: Stability, point: Point, row: int) -> str:
    """Return why a flutter speed of a fin of one mass [kg] cannot be promised, or ""."""
    areal = mass / shape.planform.area
    if areal < LIGHTEST * point.air.density * shape.planform.mean_chord:
        return "the fin weighs less than the air around it: the model has not been tried there"
    by_mach = stable.detail.speed[row]
    critical = int(np.argmin(by_mach))
    if (
        np.isfinite(by_mach[critical])
        and stable.detail.wavenumber[row, critical] >= 0.999 * shape.air.nodes[-1]
    ):
        return "beats faster than the air model resolves: it may come earlier than this"
    return ""


def _unstable(
    shape: Model,
    found: Structure,
    stable: Stability,
    point: Point,
    row: int,
    candidate: int,
    fast: Real | None,
) -> tuple[Margin, Margin]:
    """Return the flutter and divergence margin of a row of `stable`, of one of the candidates."""
    flutter = _speed_margin(
        "flutter",
        "Flutter",
        float(stable.flutter_speed[row]),
        bool(stable.flutter_found[row]),
        stable.flutter_by_mach[row],
        point,
        fast,
    )
    divergence = _speed_margin(
        "divergence",
        "Divergence",
        float(stable.divergence_speed[row]),
        bool(stable.divergence_found[row]),
        stable.divergence_by_mach[row],
        point,
        fast,
    )
    doubt = _doubt(shape, float(found.mass[candidate]), stable, point, row)
    if doubt:
        flutter = replace(flutter, known=False, note=doubt)
    return flutter, divergence


def _at_root(
    fin: Fin, found: Structure, row: int, coefficients: Real, moment: Real, shear: Real
) -> tuple[strength.RootLoad, ...]:
    """Return what the root of one candidate carries in each of several shapes."""
    return strength.root_loads(
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
    point: Point, loads: Sequence[strength.RootLoad], near_divergence: Sequence[bool]
) -> tuple[Margin, strength.RootLoad]:
    """Return the margin of a root under the air's load, and that load.

    Where there are two loads the second is that of the passage of Mach 1.
    """
    hardest = min(range(len(loads)), key=lambda index: loads[index].factor)
    root = loads[hardest]
    where = f", while passing Mach {aeroelastic.SUPERSONIC_START:g}" if hardest else ""
    bending = Margin(
        "bending",
        "Bending at the root",
        root.stress,
        root.stress * root.factor,
        "pressure",
        root.factor,
        REQUIRED_LOAD_MARGIN,
        note=f"first to give: {root.failing}; angle of attack "
        f"{math.degrees(point.attack):.3g}°{where}",
    )
    if near_divergence[hardest] and point.mach > aeroelastic.SUBSONIC_LIMIT:
        # below that limit the divergence margin is of the same air and says it by itself
        bending = replace(
            bending, known=False, note="so near divergence the load on the root has no known end"
        )
    return bending, root


def _handling(thumb: strength.RootLoad) -> Margin:
    """Return the margin of a root under a thumb on the tip."""
    return Margin(
        "handling",
        "A thumb on the tip",
        THUMB,
        THUMB * thumb.factor,
        "force",
        thumb.factor,
        1.0,
        note=f"first to give: {thumb.failing}",
        flight=False,
    )


MODEL_COV = {
    "flutter": FLUTTER_MODEL_COV,
    "divergence": FLUTTER_MODEL_COV,
    "bending": STRENGTH_MODEL_COV,
    "handling": STRENGTH_MODEL_COV,
}


@dataclass(frozen=True, eq=False)
class Survey:
    """Margins of several candidates on one outline, without spread."""

    structure: Structure
    stability: Stability
    margins: tuple[tuple[Margin, ...], ...]
    root: tuple[strength.RootLoad, ...]
    handling: tuple[strength.RootLoad, ...]


def shaped(fin: Fin, stacks: Sequence[Layup], angles: Sequence[float]) -> tuple[Model, Structure]:
    """Return the model of a fin's outline and stacks of plies on it, as fine as they need."""
    shape = model_for(fin)
    found = structure(shape, stacks, angles, coating=fin.coating)
    if plate.truncation(found.system, count=2, known=found.modes).max() > TRUNCATION:
        shape = model_for(fin, fine=True)
        found = structure(shape, stacks, angles, coating=fin.coating)
    return shape, found


def survey(fin: Fin, stacks: Sequence[Layup], angles: Sequence[float], point: Point) -> Survey:
    """Return the margins of stacks of plies on a fin's outline; the planform's work is shared."""
    return surveyed(fin, *shaped(fin, stacks, angles), point)


def surveyed(fin: Fin, shape: Model, found: Structure, point: Point) -> Survey:
    """Return the margins of candidates whose stiffness and modes are known."""
    stable = stability(shape, found, point.air)
    fast = (
        supersonic_boundary(shape, found, point)
        if point.mach > aeroelastic.SUBSONIC_LIMIT
        else None
    )
    every = range(len(found.layups))
    moments = [point]
    if point.mach > aeroelastic.SUPERSONIC_START:
        # lift per angle falls with Mach number, so the passage may ask more than the top speed
        passage = aeroelastic.SUPERSONIC_START * float(point.air.sound_speed)
        moments.append(replace(point, speed=passage))
    loads = [air_load(shape, found, every, [moment] * len(every)) for moment in moments]
    basis, tip = found.system.basis, fin.planform.sweep + 0.5 * fin.planform.tip
    push = THUMB * basis.values(np.array([[tip, fin.planform.span]]))[0]
    pushed = plate.static(found.system, load=np.broadcast_to(push, (len(every), push.size)))
    margins, roots, thumbs = [], [], []
    for row in every:
        *under_air, thumb = _at_root(
            fin,
            found,
            row,
            np.stack([*(load.coefficients[row] for load in loads), pushed[row]]),
            np.array([*(load.moment[row] for load in loads), THUMB * fin.planform.span]),
            np.array([*(load.shear[row] for load in loads), THUMB]),
        )
        bending, root = _bending(point, under_air, [load.near_divergence[row] for load in loads])
        limit = None if fast is None else fast[row]
        flying = _unstable(shape, found, stable, point, row, row, limit)
        margins.append((*flying, bending, _handling(thumb)))
        roots.append(root)
        thumbs.append(thumb)
    return Survey(
        structure=found,
        stability=stable,
        margins=tuple(margins),
        root=tuple(roots),
        handling=tuple(thumbs),
    )


@dataclass(frozen=True, eq=False)
class Trial:
    """What one of several fins would do: its margins, without spread, and its mass [kg]."""

    margins: tuple[Margin, ...]
    mass: float


def trials(fins: Sequence[Fin], point: Point) -> tuple[Trial, ...]:
    """Return what several fins would do at one moment; those of one outline share its work."""
    groups: dict[tuple[object, ...], list[int]] = {}
    stacks = [fin.layup() for fin in fins]
    for place, (fin, stack) in enumerate(zip(fins, stacks, strict=True)):
        rounding = fin.thickness if fin.edge.kind == "rounded" else None
        kind = (fin.planform, fin.edge, rounding, fin.coating, bool(layups.core_index(stack)))
        groups.setdefault(kind, []).append(place)
    found: dict[int, Trial] = {}
    for places in groups.values():
        first = fins[places[0]]
        together = survey(
            first, [stacks[i] for i in places], [fins[i].direction for i in places], point
        )
        masses = together.structure.mass
        for row, place in enumerate(places):
            found[place] = Trial(together.margins[row], float(masses[row]))
    return tuple(found[place] for place in range(len(fins)))


def along(
    fin: Fin, shape: Model, found: Structure, points: Sequence[Point]
) -> tuple[tuple[Margin, ...], ...]:
    """Return one candidate's margins of the flight at each of many moments, in one go.

    Parameters
    ----------
    fin, shape, found
        The fin, its model, and one candidate on it.
    points
        Moments at Mach 0.9 at most, in any air.
    """
    if not points:
        return ()
    stable = stability(shape, found, [point.air for point in points])
    load = air_load(shape, found, [0] * len(points), points)
    roots = _at_root(fin, found, 0, load.coefficients, load.moment, load.shear)
    near = load.near_divergence.tolist()
    return tuple(
        (
            *_unstable(shape, found, stable, point, row, 0, None),
            _bending(point, roots[row : row + 1], near[row : row + 1])[0],
        )
        for row, point in enumerate(points)
    )


def _share(margin: Margin) -> tuple[float, bool]:
    """Return a margin over what is asked of it; of equal ones a limit comes after a value."""
    return margin.ratio / margin.required, margin.bound


def governing(margins: Sequence[Margin]) -> Margin:
    """Return the margin that is smallest against what is asked of it, what ends a flight first."""
    failing = [m for m in margins if m.flight and m.ratio < 1.0]
    return min(failing or margins, key=_share)


def weakest(margins: Sequence[Margin]) -> Margin:
    """Return the margin of the flight that is smallest against what is asked of it."""
    return min((m for m in margins if m.flight), key=_share)


def score(margins: Sequence[Margin]) -> float:
    """Return the weakest flight margin over what is asked of it: 1 and above is enough."""
    return _share(weakest(margins))[0]


def _unlimited(margin: Margin, stable: Stability, row: int, point: Point) -> float:
    """Return a margin's ratio as it would be with the air of Mach 0.9 going on beyond it."""
    if not margin.bound:
        return margin.ratio
    by_mach = stable.flutter_by_mach if margin.name == "flutter" else stable.divergence_by_mach
    return max(margin.ratio, float(by_mach[row, -1]) / point.speed)


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
    found = survey(fin, stacks, [fin.direction] * len(stacks), point)
    base = found.margins[0]
    # where a margin is only a limit, scatter is judged on the boundary beyond the limit, so that
    # a sheet much softer than usual can still fall below it
    ratios = np.array(
        [
            [_unlimited(margin, found.stability, row, point) for margin in margins]
            for row, margins in enumerate(found.margins)
        ]
    )
    centre, moved_ratio = ratios[0], ratios[1:]
    with np.errstate(invalid="ignore", divide="ignore"):
        slopes = np.log(moved_ratio / centre) / math.log(STEP)
    slopes = np.where(np.isfinite(slopes), slopes, 0.0)
    samples = spread.sampled(
        centre,
        slopes.T,
        np.array([scatter[name] for name in names]),
        np.array([MODEL_COV[margin.name] for margin in base]),
    )
    limit = np.array([margin.ratio if margin.bound else np.inf for margin in base])
    samples = np.minimum(samples, limit)
    low, high = spread.interval(samples)
    margins = tuple(
        replace(margin, low=float(low[i]), high=float(high[i])) for i, margin in enumerate(base)
    )
    in_flight = [i for i, margin in enumerate(margins) if margin.flight]
    shortfall = float((samples[:, in_flight] < 1.0).any(axis=1).mean())
    return Check(
        fin=fin,
        point=point,
        margins=margins,
        governs=governing(margins),
        state=verdict_state(margins, shortfall),
        shortfall=shortfall,
        structure=found.structure,
        stability=found.stability,
        root=found.root[0],
        handling=found.handling[0],
        samples=samples,
        slopes={name: slopes[i] for i, name in enumerate(names)},
        regime=regime(point.mach),
    )


def regime(mach: float) -> str:
    """Return which air a Mach number lies in."""
    if mach <= aeroelastic.SUBSONIC_LIMIT:
        return "subsonic"
    return "transonic" if mach < aeroelastic.SUPERSONIC_START else "supersonic"


def verdict_state(margins: Sequence[Margin], shortfall: float) -> str:
    """Return "holds", "marginal", "fails" or "unknown".

    Holds: every margin at or above what is asked of it, and at most one chance in ten that any
    is below 1. Fails: a margin of the flight below 1. Between the two it is marginal. Unknown:
    nothing fails, but the model ends before it could promise that.
    """
    if any(margin.ratio < 1.0 and margin.flight for margin in margins):
        return "fails"
    if not all(margin.known for margin in margins):
        return "unknown"
    if all(margin.ratio >= margin.required for margin in margins) and shortfall <= 0.10:
        return "holds"
    return "marginal"


def effective_shear_modulus(bending: Real, thickness: float) -> float:
    """Return the shear modulus of a uniform sheet that would twist as this fin does [Pa].

    ``G = 12/t^3 (D66 - D26^2 / D22)``: twist about the span with bending along it left free.
    """
    return float(12.0 / thickness**3 * (bending[2, 2] - bending[1, 2] ** 2 / bending[1, 1]))


def estimate(fin: Fin, bending: Real, air: Air) -> float:
    """Return the NACA TN 4197 flutter estimate [m/s], a cross-check only."""
    mean = 0.5 * (fin.planform.root + fin.planform.tip)
    return float(
        strip.flutter_estimate_tn4197(
            aspect_ratio=fin.planform.aspect_ratio,
            thickness_ratio=fin.thickness / mean,
            taper=fin.planform.taper,
            shear_modulus=effective_shear_modulus(bending, fin.thickness),
            pressure=float(air.pressure),
            sound_speed=float(air.sound_speed),
        )
    )
