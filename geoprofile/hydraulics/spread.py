"""Spread of K from the fit, the geometry and the method itself."""

from __future__ import annotations

import math
from collections.abc import Sequence

from geoprofile.hydraulics.tests import HydraulicTest, Part

RISER_SD = 0.01  # [-] default sd of the riser radius over the radius; common practice, no source
HOLE_SD = 0.03  # [-] default sd of the hole radius over the radius; common practice, no source
LENGTH_SD_M = 0.02  # [m] default sd of the interval length; common practice, no source
WIDEST_LN = 35.0  # [-] an sd of ln K beyond which bounds only say that K is not known
Z95 = 1.959964  # [-] normal deviate of 95 %


def geometry_sd_ln_k(
    test: HydraulicTest, log_ratio: float, *, uses_riser: bool = True, uses_kv: bool = True
) -> float:
    """Sd of ln K that the sds of radii, length and Kv/Kh bring.

    Parameters
    ----------
    test : HydraulicTest [-]
        Lengths [m] and their sds [m]; None takes 1 % of the riser radius, 3 % of the hole radius
        and 0.02 m of the length.
    log_ratio : float [-]
        P, the effective ln(Re/rw).
    uses_riser : bool [-]
        False for tests whose storage is not the riser.
    uses_kv : bool [-]
        False where flow is radial and Kv does not count.

    Returns
    -------
    float [-]
        Sd of ln K.

    Notes
    -----
    sd^2 = (2 sd(rc)/rc)^2 + (sd(L)/L (1 - 1/P))^2 + (sd(rw)/(rw P))^2 + (sd(ln Kv/Kh)/(2 P))^2.

    References
    ----------
    Own derivation from K = rc^2 P / (2 L T0).
    """
    parts = geometry_parts(test, log_ratio, uses_riser=uses_riser)
    kv = test.kv_kh_sd_log10 * math.log(10.0) / (2.0 * log_ratio) if uses_kv else 0.0
    return math.hypot(total(parts), kv)


def geometry_parts(
    test: HydraulicTest, log_ratio: float, *, uses_riser: bool = True
) -> tuple[Part, ...]:
    """Radii and length as inputs of the budget; Kv/Kh is not among them.

    Parameters
    ----------
    test : HydraulicTest [-]
        Lengths [m] and their sds [m].
    log_ratio : float [-]
        P.
    uses_riser : bool [-]
        False for tests whose storage is not the riser.

    Returns
    -------
    tuple of Part [-]
        Riser radius, length and hole radius, normal.

    References
    ----------
    JCGM 100:2008, 5.1; sensitivities from K = rc^2 P / (2 L T0).
    """
    rc, rw = test.effective_riser_radius_m, test.hole_radius_m
    length = max(test.interval_length_m, 2.0 * rw)
    rw_sd = HOLE_SD * rw if test.hole_radius_sd_m is None else test.hole_radius_sd_m
    long_sd = LENGTH_SD_M if test.interval_length_sd_m is None else test.interval_length_sd_m
    parts = [
        Part("length", length, "m", long_sd, "normal", -(1.0 - 1.0 / log_ratio) / length),
        Part("hole radius", rw, "m", rw_sd, "normal", -1.0 / (rw * log_ratio)),
    ]
    if uses_riser and rc:
        rc_sd = RISER_SD * rc if test.riser_radius_sd_m is None else test.riser_radius_sd_m
        parts.insert(0, Part("riser radius", rc, "m", rc_sd, "normal", 2.0 / rc))
    return tuple(parts)


def total(parts: Sequence[Part]) -> float:
    """Sd of ln K from independent parts.

    Parameters
    ----------
    parts : sequence of Part [-]
        Inputs.

    Returns
    -------
    float [-]
        Root of the summed squares, JCGM 100:2008 eq. 10.
    """
    return math.sqrt(sum(part.sd_ln**2 for part in parts))


def relative(name: str, sd_ln: float, *, estimate: float = 1.0) -> Part:
    """An input that multiplies K, as a factor near 1.

    Parameters
    ----------
    name : str [-]
        Of the input.
    sd_ln : float [-]
        Sd of its ln.
    estimate : float [-]
        Of the factor.

    Returns
    -------
    Part [-]
        With sensitivity 1.
    """
    return Part(name, estimate, "1", sd_ln, "log-normal", 1.0)


def bounds(k: float, sd_ln: float, *, bias_ln: float = 0.0) -> tuple[float, float]:
    """Bounds of 95 % around K.

    Parameters
    ----------
    k : float [m/s]
        The value.
    sd_ln : float [-]
        Sd of ln K.
    bias_ln : float [-]
        Known ln(K of the method / true K); moves the bounds, not the value.

    Returns
    -------
    tuple of float [m/s]
        Lower and upper bound.
    """
    centre = k * math.exp(-bias_ln)
    sd_ln = min(sd_ln, WIDEST_LN)
    return centre * math.exp(-Z95 * sd_ln), centre * math.exp(Z95 * sd_ln)
