"""A flutter speed from outline, thickness and shear modulus alone: NACA TN 4197 (1958)."""

from __future__ import annotations

import numpy as np

from calc.errors import InputError

TN4197_OFFSET = 0.25
"""Distance of the centre of mass behind the quarter chord, in chords, in the TN 4197 estimate."""


def flutter_estimate_tn4197(
    *,
    aspect_ratio: float,
    thickness_ratio: float,
    taper: float,
    shear_modulus: float,
    pressure: float,
    sound_speed: float,
) -> float:
    """Estimate the flutter speed of a thin solid fin by the NACA TN 4197 criterion.

    ``(V/a)^2 = G / { C A^3/((t/c)^3 (A + 2)) * (taper + 1)/2 * (p/p0) }`` with
    ``C = 24 eps gamma p0/pi``: eps = 0.25 chords from the quarter chord to the centre of mass,
    gamma = 1.4, p0 = 101325 Pa. C is then 2.709e5 Pa, that is 39.3 psi. p0 cancels against
    p/p0, so ``C p/p0 = 24 eps gamma p/pi``. The factor 24 A^3/(A + 2) joins the torsion stiffness
    of a thin solid plate (proportional to G (t/c)^3) with the low-aspect-ratio lift slope
    proportional to A/(A + 2).

    Parameters
    ----------
    aspect_ratio
        A of one exposed panel, span^2/area.
    thickness_ratio
        Thickness over streamwise chord.
    taper
        Tip chord over root chord.
    shear_modulus
        Effective G [Pa].
    pressure
        Ambient pressure [Pa].
    sound_speed
        a [m/s].

    Returns
    -------
    float
        Speed [m/s].

    Not in it: mass ratio, sweep, bending, fibre direction. Against measured cases here -12 % to
    +14 % at moderate density and up to 56 % too high at high altitude, so it is an estimate
    for comparison and never a proof. Source: Martin, NACA TN 4197 (1958); formula from memory,
    unverified, constant re-derived.

    >>> round(flutter_estimate_tn4197(aspect_ratio=0.8, thickness_ratio=0.03, taper=0.5,
    ...     shear_modulus=2e9, pressure=101325.0, sound_speed=340.294), 1)
    410.2
    """
    for name, value in (
        ("aspect_ratio", aspect_ratio),
        ("thickness_ratio", thickness_ratio),
        ("shear_modulus", shear_modulus),
        ("pressure", pressure),
        ("sound_speed", sound_speed),
    ):
        if not value > 0.0:
            raise InputError(name, value, "a value above zero")
    if not taper >= 0.0:
        raise InputError("taper", taper, "a ratio of zero or more")
    constant = 24.0 * TN4197_OFFSET * 1.4 * pressure / np.pi
    shape = aspect_ratio**3 / (thickness_ratio**3 * (aspect_ratio + 2.0)) * 0.5 * (taper + 1.0)
    return float(sound_speed * np.sqrt(shear_modulus / (constant * shape)))
