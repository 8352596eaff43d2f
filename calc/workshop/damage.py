"""Damage by damage: what to do about it, and whether to fly again today. All common practice."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Advice:
    """What to do about one kind of damage.

    Attributes
    ----------
    kind
        Short name: "crack", "break", "ply", "dent", "edge", "bent", "joint", "tube", "gone".
    damage, do, fly
        What it looks like, what to do, and whether to fly today, in words.
    """

    kind: str
    damage: str
    do: str
    fly: str


REPAIR: Mapping[str, tuple[Advice, ...]] = {
    "wood": (
        Advice("crack", "Crack along the grain",
               "Run thin glue in, press flat, stiffen with paper or thin glass",
               "One motor class lower, then as before"),
        Advice("break", "Crease or break across",
               "New fin; glued end to end it never carries the load at the root", "No"),
    ),
    "plywood": (
        Advice("ply", "Lifted ply", "Glue under it, clamp between waxed boards",
               "One motor class lower"),
        Advice("break", "Crease or break", "New fin", "No"),
    ),
    "paper": (
        Advice("bent", "Soft or creased", "New fin; dry the rest", "No"),
    ),
    "foam": (
        Advice("dent", "Small dent away from the root", "Leave it; recheck with the core crushed",
               "If it holds"),
        Advice("ply", "Wrinkled or lifted face", "New fin: the face carries the load", "No"),
    ),
    "faced": (
        Advice("dent", "Small dent away from the root", "Fill, new skin over it, twice as wide",
               "One motor class lower"),
        Advice("ply", "Wrinkled or lifted skin", "New fin: the skin carries the load", "No"),
    ),
    "composite": (
        Advice("edge", "Chipped edge", "Sand to sound plies, seal with epoxy", "As before"),
        Advice("ply", "White patch, lifted ply", "New fin", "No"),
    ),
    "plastic": (
        Advice("bent", "Bent by heat", "New fin; keep out of the sun", "No"),
        Advice("break", "White line or crack", "New fin: it has already given there", "No"),
    ),
}  # fmt: skip
"""By family of materials."""
AT_JOINT: tuple[Advice, ...] = (
    Advice("joint", "Loose root or cracked fillet",
           "Scrape to bare wall, rough it, glue, new fillets; full cure", "After the cure"),
    Advice("gone", "Fin gone", "Never fly on the others", "No"),
)  # fmt: skip
"""What every family has in common."""
AT_TUBE = Advice("tube", "Tube soft or dented at the root",
                 "Cut it back or sleeve it; not at the field", "No")  # fmt: skip


def known(family: str) -> tuple[Advice, ...]:
    """Return what is known of a family's damage; of one that is not listed, that of wood."""
    return (*REPAIR.get(family, REPAIR["wood"]), *AT_JOINT)


def advice(family: str, kind: str) -> Advice:
    """Return what to do about one kind of damage; a new fin where nothing better is known.

    >>> advice("wood", "crack").fly, advice("composite", "crack").do
    ('One motor class lower, then as before', 'New fin')
    """
    for each in (*known(family), AT_TUBE):
        if each.kind == kind:
            return each
    return Advice(kind, "", "New fin", "No")
