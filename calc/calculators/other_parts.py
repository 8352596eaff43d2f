"""What is judged besides the fin itself: inputs, and the margins that come of them."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from calc.calculators import landing, root_joint, shared, speed, weight_effect
from calc.fin import joint, search, touchdown, whole
from calc.fin.check import Variant
from calc.fin.fin import Fin
from calc.flight.rod import rod_speed
from calc.forms import Choice, Input
from calc.margin import Margin
from calc.structure import impact

JOINT = "More: the joint"
DROP = "More: how it comes down"
BALANCE = "More: balance"


def _shown(item: Input, **when: Collection[str]) -> Input:
    """Return an input that is also shown only under these choices."""
    return replace(item, shown_when={**item.shown_when, **when})


def _joint() -> tuple[Input, ...]:
    """Return the inputs of the joint, which may also be the usual one or left out."""
    out = []
    for item in root_joint.INPUTS:
        if item.name == "joint":
            choices = (*item.choices, Choice("none", "leave this out"))
            item = replace(
                item,
                default="usual",
                choices=choices,
                help="As usual: fillets of wood glue on small paper tubes, epoxy on larger ones, "
                "with a tab to the motor tube on the largest (common practice).",
            )
        else:
            glued = ("usual", *root_joint.DESCRIBED)
            item = _shown(item, joint=item.shown_when.get("joint", glued))
        out.append(replace(item, group=JOINT))
    return tuple(out)


def _drop() -> tuple[Input, ...]:
    """Return the inputs of the landing calculator for a rocket that flies on its motor."""
    out = []
    for item in landing.INPUTS:
        if item.name in ("mass", "ground", "swing", "share", "tail"):
            when = {"flight": ("motor",), "descent": ("parachute", "speed")}
        else:
            when = {"flight": ("motor",)}
        if item.name == "mass":
            continue  # what lifts off, less the propellant
        if item.name == "descent":
            item = replace(
                item, default="speed", choices=(*item.choices, Choice("none", "leave this out"))
            )
        if item.name == "length":
            item = replace(item, default="")
            when["descent"] = ("parachute", "speed")
        out.append(_shown(replace(item, group=DROP), **when))
    return tuple(out)


def _balance() -> tuple[Input, ...]:
    """Return the inputs of the balance, all of which may stay empty."""
    wanted = ("balance_point", "nose_length", "nose", "tube_length", "position")
    out = []
    for item in weight_effect.INPUTS:
        if item.name not in wanted:
            continue
        if item.name == "balance_point":
            item = replace(
                item,
                default="",
                optional=True,
                help="From the tip of the nose, ready to fly. Leave empty to skip stability.",
            )
        out.append(replace(item, group=BALANCE))
    return tuple(out)


FIN_INPUTS = (*_joint(), *_drop())
"""Inputs of what depends on the fin too: how it is glued and how it lands."""

INPUTS = (
    _shown(replace(speed.ROD, group="More about the flight"), flight=("motor",)),
    *FIN_INPUTS,
    *_balance(),
)
"""All of them."""


class FinPartsValues(root_joint.JointValues, landing.DropValues):
    """Values of `FIN_INPUTS`."""


class PartsValues(FinPartsValues, weight_effect.BalanceValues):
    """Values of `INPUTS` and of `ALWAYS_FLOWN`."""

    rod: float
    balance_point: float | None


class OfFinValues(shared.OutlineValues, FinPartsValues, shared.FlightValues):
    """What `of_fin` reads."""


class OthersValues(shared.OutlineValues, PartsValues, shared.FlightValues):
    """What `others` reads."""


ALWAYS_FLOWN = tuple(
    replace(
        item,
        shown_when={name: allowed for name, allowed in item.shown_when.items() if name != "flight"},
    )
    for item in INPUTS
)
"""The same, for a calculator that always flies on a motor."""


Judged = tuple[tuple[Margin, ...], tuple[tuple[str, str], ...]]
"""Margins, and what was not judged with what it takes."""


def of_fin(values: OfFinValues, fin: Fin, found: Variant, flying: shared.Flying) -> Judged:
    """Return the margins that another material or thickness of the fin changes."""
    first, without = glued(values, fin, found, flying)
    margins, left_out = list(first), list(without)
    covered = whole.known_range(fin.material, max(point.speed for point in flying.points))
    if covered is not None:
        margins.insert(0, covered)
    _add_landing(values, fin, margins, left_out)
    return tuple(margins), tuple(left_out)


def others(values: OthersValues, fin: Fin, found: Variant, flying: shared.Flying) -> Judged:
    """Return all margins besides the fin's own."""
    first, without = of_fin(values, fin, found, flying)
    margins, left_out = list(first), list(without)
    if flying.ascent is None:
        left_out.append(("speed off the rod", "choose “my motor”"))
    else:
        launch = shared.launch_of(values)
        margins.append(whole.rod(rod_speed(flying.ascent, launch, length=values["rod"])))
    if values["balance_point"] is None:
        left_out.append(("stability", "give the balance point"))
    else:
        set_mass = found.mass * fin.count
        margins.append(whole.stability(weight_effect.as_weighed(values, fin, set_mass)))
    return tuple(margins), tuple(left_out)


def glued(values: OfFinValues, fin: Fin, found: Variant, flying: shared.Flying) -> Judged:
    """Return the margins of the joint alone."""
    if values["joint"] == "none":
        return (), (("the joint", "say how it is glued"),)
    made = root_joint.joint_of(values)
    if not root_joint.suited(made) and values["tested"] is None:
        return (), (("the joint", root_joint.UNSUITED),)
    hardest = search.worst_moments(flying.points)
    margins = joint.margins(
        fin, made, found.shape, found.structure, hardest, row=found.row, tested=values["tested"]
    )
    return tuple(margins), ()


def _add_landing(
    values: OfFinValues, fin: Fin, found: list[Margin], left_out: list[tuple[str, str]]
) -> None:
    if values["flight"] != "motor":
        left_out.append(("landing", "choose “my motor” and give the mass"))
        return
    if values["descent"] == "none":
        left_out.append(("landing", "say how it comes down"))
        return
    length = landing.length_of(values, fin.planform.root)
    mass = values["mass"] - shared.launch_of(values).propellant_mass
    sink = landing.sink_speed(values | {"mass": mass})[0]
    descent = touchdown.Descent(
        rocket=impact.Rocket(
            mass=mass, length=length, diameter=values["body"], tail=values["tail"]
        ),
        speed=sink,
        ground=values["ground"],
        swing=values["swing"],
        share=values["share"],
    )
    margin = whole.landing(fin, descent)
    if margin is None:
        left_out.append(("landing", "the tail touches first and spares the fins"))
    else:
        found.append(margin)
