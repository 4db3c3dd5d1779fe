"""Properties of fresh water, and K restated for another temperature or as permeability."""

from __future__ import annotations

import math

GRAVITY = 9.80665  # [m/s2]
ZERO_C = 273.15  # [K]


def viscosity(temperature_c: float) -> float:
    """Dynamic viscosity at 0.1 MPa.

    Parameters
    ----------
    temperature_c : float [C]
        -20 to 110.

    Returns
    -------
    float [Pa s]
        To 1 % of the standard.

    Raises
    ------
    ValueError
        Outside the range of the standard.

    References
    ----------
    IAPWS SR6-08 (2011); coefficients from memory, held against Perry's Handbook table 2-135.

    Examples
    --------
    20 C gives 1.0016e-3 Pa s.
    """
    if not -20.0 <= temperature_c <= 110.0:
        raise ValueError(f"water of {temperature_c:g} C is outside -20 to 110 C")
    x = (temperature_c + ZERO_C) / 300.0
    terms = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))
    return 1e-6 * math.fsum(a * x**b for a, b in terms)


def density(temperature_c: float) -> float:
    """Density of air-free fresh water at 0.1 MPa.

    Parameters
    ----------
    temperature_c : float [C]
        0 to 40; used to 110 with growing error.

    Returns
    -------
    float [kg/m3]
        To 1e-6 within 0 to 40 C.

    Raises
    ------
    ValueError
        Outside -20 to 110 C.

    References
    ----------
    Tanaka et al. (2001), Metrologia 38, 301-309; from memory.

    Examples
    --------
    10 C gives 999.703 kg/m3.
    """
    t = temperature_c
    if not -20.0 <= t <= 110.0:
        raise ValueError(f"water of {t:g} C is outside -20 to 110 C")
    lowered = (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881))
    return 999.974950 * (1.0 - lowered)


def permeability(k_m_per_s: float, temperature_c: float) -> float:
    """Intrinsic permeability of the ground.

    Parameters
    ----------
    k_m_per_s : float [m/s]
        K with water of that temperature.
    temperature_c : float [C]
        Of the water in the ground around the interval.

    Returns
    -------
    float [m2]
        k = K mu / (rho g).

    Examples
    --------
    1e-5 m/s at 10 C gives 1.33204e-12 m2.
    """
    return k_m_per_s * viscosity(temperature_c) / (density(temperature_c) * GRAVITY)


def conductivity_at(k_m_per_s: float, from_c: float, to_c: float = 20.0) -> float:
    """K restated for water of another temperature.

    Parameters
    ----------
    k_m_per_s : float [m/s]
        K as tested.
    from_c, to_c : float [C]
        Temperature of the test and of the result.

    Returns
    -------
    float [m/s]
        K at `to_c`.

    Examples
    --------
    From 10 to 20 C K grows by 1.30191.
    """
    return permeability(k_m_per_s, from_c) * density(to_c) * GRAVITY / viscosity(to_c)
