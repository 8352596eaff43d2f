"""What scrap fins that were glued on and broken off say of the joint."""

from __future__ import annotations

from typing import Literal, Unpack

from calc.calculators import shared as c
from calc.calculators.lists import PULLS, Pull, TypedList, pulls
from calc.forms import Calculator, Choice, Input
from calc.report import Answer, Column, Figure, Report, Step, Table
from calc.structure import joint_test
from calc.units import STANDARD_GRAVITY

TEST = "The test"
LARGE_SCATTER = 0.35
"""Scatter above which the joints were hardly made alike; common practice."""
INPUTS = (
    TypedList(
        "readings",
        "It broke at",
        "text",
        "620 540 700 580 660 g",
        help="One reading for each scrap, as hung mass or as a scale shows it. Three at least, "
        "five are much better.",
        group=TEST,
        parse=pulls,
        wants=PULLS,
    ),
    Input(
        "lever",
        "Lever arm",
        "length",
        "2 in",
        help="From the tube's surface to where the load pulls, square to the fin.",
        group=TEST,
        unit="in",
        low=0.005,
        high=0.5,
    ),
    Input(
        "root",
        "Glued length of each scrap",
        "length",
        "1 in",
        help="Along the tube.",
        group=TEST,
        unit="in",
        low=0.005,
        high=0.5,
    ),
    Input(
        "broke",
        "What broke",
        "choice",
        "joint",
        group=TEST,
        choices=(
            Choice("joint", "the joint: glue, fillet or tube"),
            Choice("fin", "the scrap fin itself, in some or all of them"),
        ),
    ),
)


class BreakAJointValues(c.UnitsValues):
    """Values of this calculator."""

    readings: tuple[Pull, ...]
    lever: float
    root: float
    broke: str


PER_LENGTH = "moment-per-length"


def carried(found: joint_test.Breaking) -> str:
    """Return the text for the root joint's input `tested`: low and high end."""
    return f"{found.low:.4g} to {found.high:.4g} N"


def answer(**values: Unpack[BreakAJointValues]) -> Report:
    """Answer for SI values by input name."""
    fmt = c.formatter(values)
    lever, root = values["lever"], values["root"]
    forces = values["readings"]
    moments = [joint_test.breaking_moment(force=force, lever=lever, root=root) for force in forces]
    found = joint_test.breaking(moments)
    text = carried(found)
    limit = values["broke"] == "fin"
    bound: Literal["", "at least"] = "at least" if limit else ""
    per_length = fmt(found.middle, PER_LENGTH, digits=3)
    weakest = fmt(found.low, PER_LENGTH, digits=2)
    ends = fmt.between(found.low, found.high, PER_LENGTH, 3)
    return Report(
        calculator="break-a-joint",
        summary=f"Such joints carry {'at least ' * limit}{per_length} in the middle (moment per "
        f"length of root); nine of ten carry {weakest}.",
        answers=(
            Answer("moment", "Breaking moment per length of root", found.middle, PER_LENGTH,
                   found.low, found.high, bound=bound),
            Answer("low", "Nine of ten joints carry", found.low, PER_LENGTH, digits=2,
                   note="with a confidence of 90 %; the root joint page takes this as its low end"),
            Answer("scatter", "Scatter of the joints", found.scatter, "fraction", digits=2,
                   note=f"from {found.tests} joints; taken as {joint_test.LEAST_SCATTER:.0%} at "
                   "least"),
            Answer("scrap", "The same for one scrap", found.middle * root, "moment"),
        ),
        headline=("moment", "low", "scatter"),
        tables=(
            Table(
                "Take it to the root joint",
                (Column("tested", "Tested"), Column("what", "What it is")),
                ((ends, "low and high end per length of root; replaces what would be computed"),),
                links=(f"../root-joint/?tested={text.replace(' ', '+')}",),
                note="Only for a joint made like these: the same tube, glue, fillets, thickness "
                "and grain of the fin, and as dry.",
            ),
            Table(
                "Your readings",
                (
                    Column("typed", "Reading"),
                    Column("force", "Force", "force"),
                    Column("moment", "Per length of root", PER_LENGTH),
                ),
                tuple(
                    (force.typed, force, moment)
                    for force, moment in zip(forces, moments, strict=True)
                ),
            ),
        ),
        steps=_steps(values, found),
        notes=_notes(found, limit=limit),
        sources=("common-practice", "iso-16269-6", "poddar-2024"),
        carry={"tested": text},
    )  # fmt: skip


def drawing(values: BreakAJointValues) -> Figure:
    """Return the picture of the test."""
    return Figure(
        "lever", "The test, seen along the tube", "Not to scale.", {"lever": values.get("lever")}
    )


def _steps(values: BreakAJointValues, found: joint_test.Breaking) -> tuple[Step, ...]:
    factor = joint_test.TOLERANCE[min(found.tests, max(joint_test.TOLERANCE))]
    return (
        Step(
            "Each joint",
            "M = F · lever / root",
            f"lever {1e3 * values['lever']:.3g} mm, root {1e3 * values['root']:.3g} mm; hung "
            f"masses times {STANDARD_GRAVITY:.5g} m/s²",
        ),
        Step(
            "All of them",
            "mean m and standard deviation s of ln M;  exp(m − k s) to exp(m + k s)",
            f"{found.tests} joints: {found.middle:.3g} N·m/m, s = {found.scatter:.3g}, "
            f"k = {factor:.3g}: {found.low:.3g} to {found.high:.3g} N·m/m",
            ("iso-16269-6", "common-practice"),
            note="nine of ten joints beyond, with a confidence of 90 %; few tests make k large",
        ),
    )


def _notes(found: joint_test.Breaking, *, limit: bool) -> tuple[str, ...]:
    notes = [
        "A scrap on a short root bends its tube less far along than a whole fin does. Glue the "
        "scraps to the tube you will fly, with its rings or coupler where the fin will have them.",
        "A slow pull is not a gust: paper carries a little more in a jerk, less under a load that "
        "stays on.",
    ]
    if found.tests < 5:
        notes.append(
            f"With {found.tests} joints little is known of the spread, so the low end is far "
            "down. Two more raise it more than better glue does."
        )
    if found.scatter > LARGE_SCATTER:
        notes.append(
            "The joints differ much. Look at the broken faces: bare spots of glue, shine left on "
            "the tube, a fillet with bubbles."
        )
    if limit:
        notes.append(
            "Where the scrap broke and not the joint, the joint carries more than was read: these "
            "numbers are lower limits."
        )
    return tuple(notes)


CALCULATOR = Calculator(
    slug="break-a-joint",
    title="Break a joint",
    question="I glued scraps to a tube and broke them off: what does the joint carry?",
    inputs=INPUTS,
    answer=answer,
    drawing=drawing,
)
