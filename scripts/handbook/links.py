"""Ready links: calculators with the numbers filled in, for lessons, kits and other people's pages.

Each link is made by the calculator itself, so that it cannot name an input there is not.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from calc import calculators
from calc.report import Column, Table

PAGES: Mapping[str, str] = {
    "fin-check": "check/fin-check/",
    "material-finder": "choose/material-finder/",
    "grain-angle": "understand/grain-angle/",
    "ply-layup": "understand/ply-layup/",
    "faced-core": "understand/faced-core/",
    "moisture": "understand/moisture/",
    "speed": "fly/speed/",
    "weight-effect": "fly/weight-effect/",
    "field-card": "fly/field-card/",
}
"""Page of each calculator that a ready link opens, from the root of the site; the calculator is
the page's first, whose inputs stand in the address under their plain names."""

OUTLINE = {"root": "70 mm", "tip": "35 mm", "span": "60 mm", "sweep": "35 mm", "body": "41 mm"}
"""The outline of an invented sport rocket, in metric."""
FAST = {"root": "60 mm", "tip": "25 mm", "span": "40 mm", "sweep": "45 mm", "body": "29 mm"}
"""The outline of an invented fast, thin rocket."""


@dataclass(frozen=True)
class Ready:
    """A question with the link that answers it."""

    group: str
    question: str
    look: str
    """What to look at, or to try next."""
    slug: str
    texts: Mapping[str, str]

    @property
    def query(self) -> str:
        """The part of the address behind the question mark."""
        return calculators.load(self.slug).query(self.texts)

    @property
    def path(self) -> str:
        """The address from the root of the site."""
        query = self.query
        return f"{PAGES[self.slug]}?{query}" if query else PAGES[self.slug]


LESSON, SIZES, WHOLE = "Grain and plies", "Thickness and material", "The whole rocket"

READY: tuple[Ready, ...] = (
    Ready(LESSON, "Grain along the leading edge", "The margin, and the picture of the flutter",
          "fin-check", {"thickness": "3/32 in"}),
    Ready(LESSON, "The same fin, grain along the tube", "Which way to fail has taken over?",
          "fin-check", {"thickness": "3/32 in", "grain": "59"}),
    Ready(LESSON, "Every grain direction at once", "How wide is the good range?",
          "grain-angle", {"thickness": "3/32 in"}),
    Ready(LESSON, "A soft A-grain sheet", "Change A to C and watch the margin",
          "fin-check", {"thickness": "3/32 in", "cut": "A"}),
    Ready(LESSON, "One sheet, no crossed plies", "Along over across",
          "ply-layup", {"layup": "0", "thickness": "1/16 in", "material": "basswood"}),
    Ready(LESSON, "Three crossed plies of the same", "How much did across gain, and along lose?",
          "ply-layup", {"layup": "0/90/0", "thickness": "1/16 in", "material": "basswood"}),
    Ready(LESSON, "Two crossed plies", "Why does it warp?",
          "ply-layup", {"layup": "0/90", "thickness": "1/16 in", "material": "basswood"}),
    Ready(SIZES, "1/16 in balsa", "Then 3/32 and 1/8: the third power at work",
          "fin-check", {"thickness": "1/16 in"}),
    Ready(SIZES, "1/16 in birch plywood instead", "Compare margin and mass with balsa",
          "fin-check", {"material": "birch-plywood", "thickness": "1/16 in"}),
    Ready(SIZES, "1/8 in foam board", "What would a dent do? Open the skinned core next",
          "fin-check", {"material": "foam-board", "thickness": "1/8 in"}),
    Ready(SIZES, "A skinned core, crushed by 1 mm", "What is left of the stiffness",
          "faced-core", {"thickness": "5 mm", "crush": "1 mm"}),
    Ready(SIZES, "A damp day", "Weight, stiffness, bow",
          "moisture", {"humidity": "85 %", "material": "balsa"}),
    Ready(SIZES, "Everything that holds, lightest first", "Leave out what you do not have",
          "material-finder", {**OUTLINE, "stock": "metric"}),
    Ready(WHOLE, "How fast on a D motor?", "Try half the mass",
          "speed", {"motor": "D", "thrust": "12 N", "mass": "150 g", "body": "41 mm"}),
    Ready(WHOLE, "A sport fin on its motor", "Which moment of the flight is the worst?",
          "fin-check", {**OUTLINE, "thickness": "2.5 mm", "flight": "motor", "motor": "D",
                        "thrust": "12 N", "mass": "150 g", "units": "metric"}),
    Ready(WHOLE, "A fast, thin rocket", "Now the root stress counts too",
          "fin-check", {**FAST, "material": "glass-epoxy", "thickness": "1.5 mm",
                        "speed": "240 m/s", "altitude": "150 m", "units": "metric"}),
    Ready(WHOLE, "What the fins do to the balance", "Heavier fins, smaller static margin",
          "weight-effect", {"material": "birch-plywood", "thickness": "1/8 in"}),
    Ready(WHOLE, "A card for the field", "Print it",
          "field-card", {**OUTLINE, "thickness": "2.5 mm", "motor": "D", "mass": "150 g",
                         "units": "metric"}),
)  # fmt: skip
"""Rockets and numbers are invented."""


def groups() -> tuple[str, ...]:
    """Return the groups in their order."""
    return tuple(dict.fromkeys(item.group for item in READY))


def table(group: str, *, base: str = "../../") -> Table:
    """Return the links of one group, to stand in a page.

    Parameters
    ----------
    group
        One of `groups`.
    base
        Way from the page that holds the table to the root of the site.
    """
    chosen = [item for item in READY if item.group == group]
    if not chosen:
        raise KeyError(f"no group {group!r}; there are: {', '.join(groups())}")
    return Table(
        group,
        (Column("question", "Open"), Column("look", "Look at"), Column("slug", "Calculator")),
        tuple(
            (item.question, item.look, calculators.load(item.slug).title.lower()) for item in chosen
        ),
        links=tuple(f"{base}{item.path}" for item in chosen),
    )


def names_table(slug: str) -> Table:
    """Return what a link into a calculator may name: input, what it is, example."""
    calculator = calculators.load(slug)
    rows = tuple(
        (item.name, item.label, item.default or "(left open)", item.accepts())
        for item in calculator.all_inputs
        if not item.name.startswith(("modulus", "strength", "shear", "poisson", "own_", "spread"))
    )
    return Table(
        f"Names a link to the {calculator.title.lower()} understands",
        (
            Column("name", "Name"),
            Column("label", "What it is"),
            Column("usual", "Left out, it is"),
            Column("accepts", "It takes"),
        ),
        rows,
    )
