"""Motor classes by total impulse, with their usual propellant, mass and thrust."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Literal

from calc.errors import InputError
from calc.units import STANDARD_GRAVITY

Propellant = Literal["black powder", "composite"]

SPECIFIC_IMPULSE: dict[Propellant, tuple[float, float]] = {
    "black powder": (75.0, 85.0),
    "composite": (180.0, 210.0),
}
"""Delivered specific impulse [s], low and high: common practice, from memory, unverified."""

PROPELLANT_SHARE: dict[Propellant, tuple[float, float]] = {
    "black powder": (0.25, 0.50),
    "composite": (0.40, 0.60),
}
"""Propellant mass over loaded motor mass, low and high: common practice, from memory."""

STARTING_THRUST: dict[Propellant, float] = {"black powder": 1.5, "composite": 1.1}
"""Mean thrust while a rocket is on its rod, over the average of the burn: the low end of what is
common, since more makes a rocket leave its rod faster. Common practice, from memory, unverified;
a thrust curve, where you have one, counts instead."""

PEAK_THRUST: dict[Propellant, tuple[float, float]] = {
    "black powder": (2.0, 3.0),
    "composite": (1.3, 2.0),
}
"""Peak thrust over the average of the burn, low and high: common practice, from memory,
unverified. A certification sheet or a thrust curve tells the motor's own."""

BLACK_POWDER_LIMIT = 20.0
"""Largest total impulse of a motor that is taken to burn black powder [N s], the top of class D:
common practice."""

USUAL_THRUST: Mapping[str, float] = {
    "1/8A": 1.5,
    "1/4A": 2.5,
    "1/2A": 3.0,
    "A": 5.0,
    "B": 6.0,
    "C": 8.0,
    "D": 12.0,
    "E": 20.0,
    "F": 40.0,
    "G": 80.0,
    "H": 150.0,
    "I": 250.0,
    "J": 450.0,
    "K": 800.0,
    "L": 1400.0,
    "M": 2200.0,
    "N": 4000.0,
    "O": 7000.0,
}
"""Average thrust assumed for a class [N]: the upper half of what is common. Common practice, from
memory; the thrust printed on a motor counts."""

_LETTERS: tuple[str, ...] = ("1/8A", "1/4A", "1/2A", *"ABCDEFGHIJKLMNO")
_FIRST_UPPER = 0.3125


def letters() -> tuple[str, ...]:
    """Return the class names from the smallest to the largest, ("1/8A", ..., "O").

    Examples
    --------
    >>> letters()[:5]
    ('1/8A', '1/4A', '1/2A', 'A', 'B')
    """
    return _LETTERS


def class_limits(letter: str) -> tuple[float, float]:
    """Return the total impulse limits of a motor class.

    Parameters
    ----------
    letter
        Class name, "1/8A" to "O", any case.

    Returns
    -------
    tuple
        Lower limit (not included) and upper limit (included) [N s].

    Notes
    -----
    Equation: upper limit = 2.5 * 2^n N s for the n-th letter after A; above the previous class's
    limit, up to and including its own.

    References
    ----------
    NFPA 1125, Code for the Manufacture of Model Rocket and High Power Rocket Motors; doubling rule
    from memory, unverified against the printed code.

    Examples
    --------
    >>> class_limits("G")
    (80.0, 160.0)
    """
    try:
        index = _LETTERS.index(letter.strip().upper())
    except (ValueError, AttributeError):
        raise InputError("motor", letter, f"one of {', '.join(_LETTERS)}") from None
    upper = _FIRST_UPPER * 2.0**index
    return (0.0 if index == 0 else upper / 2.0), upper


def motor_class(total_impulse: float) -> str:
    """Return the letter of the class that a total impulse falls in.

    Parameters
    ----------
    total_impulse
        Thrust integrated over the burn [N s], above 0 and up to 40 960.

    Returns
    -------
    str
        Class name, "1/8A" to "O".

    References
    ----------
    As `class_limits`.

    Examples
    --------
    >>> motor_class(20.0), motor_class(20.01), motor_class(120.0)
    ('D', 'E', 'G')
    """
    if not (math.isfinite(total_impulse) and total_impulse > 0.0):
        raise InputError("total_impulse", total_impulse, "a total impulse above zero")
    for index, letter in enumerate(_LETTERS):
        if total_impulse <= _FIRST_UPPER * 2.0**index:
            return letter
    raise InputError("total_impulse", total_impulse, "at most 40 960 N s, the top of class O")


def usual_propellant(total_impulse: float) -> Propellant:
    """Return the propellant that a motor of a total impulse [N s] usually burns.

    References
    ----------
    Common practice, see `BLACK_POWDER_LIMIT`.

    Examples
    --------
    >>> usual_propellant(20.0), usual_propellant(20.1)
    ('black powder', 'composite')
    """
    return "black powder" if total_impulse <= BLACK_POWDER_LIMIT else "composite"


def middle_specific_impulse(propellant: Propellant) -> float:
    """Return the middle of the usual specific impulses of a propellant [s].

    Examples
    --------
    >>> middle_specific_impulse("composite")
    195.0
    """
    low, high = _band(SPECIFIC_IMPULSE, propellant)
    return 0.5 * (low + high)


def propellant_mass(*, total_impulse: float, specific_impulse: float) -> float:
    """Return the propellant mass that gives a total impulse.

    Parameters
    ----------
    total_impulse
        Total impulse I [N s].
    specific_impulse
        Delivered specific impulse I_sp [s].

    Returns
    -------
    float
        Propellant mass [kg].

    Notes
    -----
    Equation: m_p = I / (g0 I_sp).

    References
    ----------
    Definition of specific impulse, e.g. G. P. Sutton and O. Biblarz, Rocket Propulsion Elements,
    ch. 2.

    Examples
    --------
    >>> round(propellant_mass(total_impulse=20.0, specific_impulse=80.0), 4)
    0.0255
    """
    return total_impulse / (STANDARD_GRAVITY * specific_impulse)


def propellant_mass_range(
    *, total_impulse: float, propellant: Propellant = "composite"
) -> tuple[float, float]:
    """Return the low and high propellant mass usual for a total impulse.

    Parameters
    ----------
    total_impulse
        Total impulse [N s].
    propellant
        "black powder" or "composite".

    Returns
    -------
    tuple
        Low and high propellant mass [kg].

    References
    ----------
    Common practice; the specific impulses are from memory, unverified. Use the figures printed for
    the motor where you have them.

    Examples
    --------
    >>> [round(1000 * m) for m in propellant_mass_range(total_impulse=160.0)]
    [78, 91]
    """
    low, high = _band(SPECIFIC_IMPULSE, propellant)
    return (
        propellant_mass(total_impulse=total_impulse, specific_impulse=high),
        propellant_mass(total_impulse=total_impulse, specific_impulse=low),
    )


def motor_mass_range(
    *, total_impulse: float, propellant: Propellant = "composite"
) -> tuple[float, float]:
    """Return the low and high mass of a loaded motor usual for a total impulse.

    Parameters
    ----------
    total_impulse
        Total impulse [N s].
    propellant
        "black powder" or "composite".

    Returns
    -------
    tuple
        Low and high loaded motor mass [kg].

    Notes
    -----
    Equation: loaded mass = propellant mass / propellant share.

    References
    ----------
    Common practice, from memory, unverified: propellant is 25 to 50 % of a black powder motor and
    40 to 60 % of a composite one. Weigh the motor where you can.

    Examples
    --------
    >>> [round(1000 * m) for m in motor_mass_range(total_impulse=160.0)]
    [129, 227]
    """
    light, heavy = propellant_mass_range(total_impulse=total_impulse, propellant=propellant)
    low, high = _band(PROPELLANT_SHARE, propellant)
    return light / high, heavy / low


def _band(
    table: dict[Propellant, tuple[float, float]], propellant: Propellant
) -> tuple[float, float]:
    if propellant not in table:
        raise InputError("propellant", propellant, f"one of {', '.join(table)}")
    return table[propellant]
