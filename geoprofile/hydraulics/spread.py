"""Spread of K from the fit, the geometry and the method itself."""

from __future__ import annotations

import math

from geoprofile.hydraulics.tests import HydraulicTest

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
    rc, rw = test.effective_riser_radius_m, test.hole_radius_m
    length = max(test.interval_length_m, 2.0 * rw)
    rc_sd = RISER_SD if test.riser_radius_sd_m is None or not rc else test.riser_radius_sd_m / rc
    rw_sd = HOLE_SD if test.hole_radius_sd_m is None else test.hole_radius_sd_m / rw
    length_sd = (
        LENGTH_SD_M if test.interval_length_sd_m is None else test.interval_length_sd_m
    ) / length
    parts = (
        2.0 * rc_sd if uses_riser else 0.0,
        length_sd * (1.0 - 1.0 / log_ratio),
        rw_sd / log_ratio,
        test.kv_kh_sd_log10 * math.log(10.0) / (2.0 * log_ratio) if uses_kv else 0.0,
    )
    return math.hypot(*parts)


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
