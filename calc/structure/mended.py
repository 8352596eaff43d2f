"""What wood that was broken across its grain can bear at most, glued end to end or on a slope.

Only limits are published, none of them for a fin: they can say that a mended fin gives way, never
that it holds.
"""

from __future__ import annotations

END_GRAIN = 0.25
"""Most of its strength along the grain that wood reaches when glued end to end, even with special
techniques (Wood Handbook, FPL-GTR-190, chapter 10)."""
TENSION_OVER_SHEAR = 10.0
"""How much stronger wood is in tension along its grain than in shear (Wood Handbook, FPL-GTR-190,
chapter 10), so that a scarf wants at least as many times the area of the section."""
SCARF = 12.0
"""Slope of a scarf, length over thickness, from which on it is best (the same chapter)."""


def scarf_share(slope: float) -> float:
    """Return the most of the strength along the grain that a scarf of a slope can reach.

    The glue area is `slope` times the section, and wood in shear along it bears one part in
    `TENSION_OVER_SHEAR` of what it bears in tension. Never less than a butt joint's limit.

    Parameters
    ----------
    slope
        Length over thickness.

    >>> scarf_share(5.0), scarf_share(12.0), scarf_share(1.0)
    (0.5, 1.0, 0.25)
    """
    return min(1.0, max(END_GRAIN, slope / TENSION_OVER_SHEAR))


def most_load(*, share: float, strength: float, stress: float) -> float:
    """Return the most that a load can grow before a mended section gives way in tension.

    Parameters
    ----------
    share
        Of the strength that the joint can reach at most.
    strength
        In tension along the grain, unbroken [Pa].
    stress
        Along the grain at the section, under the load [Pa]; above zero.
    """
    return share * strength / stress
