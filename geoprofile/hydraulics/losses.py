"""Head lost in the pipe between gauge and interval."""

from __future__ import annotations

import math

from geoprofile.hydraulics.tests import Pipe
from geoprofile.hydraulics.water import GRAVITY, density, viscosity

LAMINAR, TURBULENT = 2300.0, 4000.0  # [-] Reynolds numbers that bound the transition


def friction_factor(reynolds: float, relative_roughness: float) -> float:
    """Friction factor f of h = f (L/d) V^2 / (2 g).

    Parameters
    ----------
    reynolds : float [-]
        Above 0.
    relative_roughness : float [-]
        Roughness over inner diameter.

    Returns
    -------
    float [-]
        64/Re below 2300, Colebrook above 4000, a straight line in between.

    References
    ----------
    Colebrook (1939); Moody (1944); from memory.

    Examples
    --------
    Re 14 657 with e/d 0.15/26.6: 0.036527.
    """
    if reynolds <= LAMINAR:
        return 64.0 / reynolds
    if reynolds < TURBULENT:
        share = (reynolds - LAMINAR) / (TURBULENT - LAMINAR)
        rough = _colebrook(TURBULENT, relative_roughness)
        return (1.0 - share) * 64.0 / LAMINAR + share * rough
    return _colebrook(reynolds, relative_roughness)


def _colebrook(reynolds: float, relative_roughness: float) -> float:
    """Fixed point on 1/sqrt(f), from Swamee and Jain's explicit value."""
    inverse = -2.0 * math.log10(relative_roughness / 3.7 + 5.74 / reynolds**0.9)
    for _ in range(50):
        new = -2.0 * math.log10(relative_roughness / 3.7 + 2.51 * inverse / reynolds)
        if abs(new - inverse) < 1e-13:
            break
        inverse = new
    return 1.0 / inverse**2


def pipe_loss(flow: float, pipe: Pipe, *, temperature_c: float = 10.0) -> float:
    """Head lost along the string.

    Parameters
    ----------
    flow : float [m3/s]
        0 or more.
    pipe : Pipe [-]
        Length, inner diameter and roughness [m]; a loss measured at surface goes first.
    temperature_c : float [C]
        Of the water.

    Returns
    -------
    float [m]
        a Q^n if measured, else Darcy-Weisbach with minor losses.

    Examples
    --------
    24 L/min through 45 m of 26.6 mm pipe of 0.15 mm roughness at 10 C: 1.632 m.
    """
    if flow <= 0:
        return 0.0
    if pipe.measured_coefficient is not None:
        power = 1.85 if pipe.measured_exponent is None else pipe.measured_exponent
        return float(pipe.measured_coefficient * flow**power)
    d = pipe.inner_diameter_m
    speed = flow / (0.25 * math.pi * d**2)
    reynolds = density(temperature_c) * speed * d / viscosity(temperature_c)
    factor = friction_factor(reynolds, pipe.roughness_m / d)
    return (factor * pipe.length_m / d + pipe.minor_loss) * speed**2 / (2.0 * GRAVITY)


def hazen_williams_loss(flow: float, length: float, diameter: float, smoothness: float) -> float:
    """Head lost in turbulent flow by the Hazen-Williams formula.

    Parameters
    ----------
    flow : float [m3/s]
        0 or more.
    length, diameter : float [m]
        Of the pipe; diameter above some 50 mm.
    smoothness : float [-]
        C, 140 for smooth plastic, 100 for old steel.

    Returns
    -------
    float [m]
        10.67 L Q^1.852 / (C^1.852 d^4.8704).

    References
    ----------
    Handbook formula, from memory; water near 15 C.
    """
    return float(10.67 * length * flow**1.852 / (smoothness**1.852 * diameter**4.8704))
