"""Clean tests with a known K, for the contract check of the methods."""

from __future__ import annotations

import numpy as np
from scipy.special import j0, j1, y0, y1

from geoprofile.hydraulics.tests import Array, HydraulicTest, PressureStep


def exponential_test(k: float, *, log_ratio: float, initial: float = 0.8) -> HydraulicTest:
    """A straddled interval 3 m long whose level recovers along an exact exponential.

    Parameters
    ----------
    k : float [m/s]
        Of the ground.
    log_ratio : float [-]
        P of the formula that is to find K again.
    initial : float [m]
        Displacement at the start; below 0 for a rising head.

    Returns
    -------
    HydraulicTest [-]
        120 readings until 2 % are left.
    """
    riser, length = 0.025, 3.0
    lag = riser**2 * log_ratio / (2.0 * length * k)
    time = np.linspace(0.0, 4.0 * lag, 120)
    return HydraulicTest(
        test="example",
        interval="example",
        borehole="example",
        kind="falling head" if initial > 0 else "rising head",
        interval_length_m=length,
        hole_radius_m=0.048,
        riser_radius_m=riser,
        top_m=12.0,
        bottom_m=15.0,
        static_depth_m=4.0,
        expected_displacement_m=abs(initial),
        elapsed_s=time,
        displacement_m=initial * np.exp(-time / lag),
    )


def pressure_step_test(k: float, *, log_ratio: float) -> HydraulicTest:
    """Five pressure steps of laminar flow into a straddled interval 3 m long.

    Parameters
    ----------
    k : float [m/s]
        Of the ground.
    log_ratio : float [-]
        P of the formula that is to find K again.

    Returns
    -------
    HydraulicTest [-]
        Net heads 4, 8, 12, 8 and 4 m from a transducer in the zone.
    """
    length = 3.0
    heads = (4.0, 8.0, 12.0, 8.0, 4.0)
    rate = 2.0 * np.pi * length * k / log_ratio
    return HydraulicTest(
        test="example",
        interval="example",
        borehole="example",
        kind="constant head",
        interval_length_m=length,
        hole_radius_m=0.048,
        top_m=12.0,
        bottom_m=15.0,
        static_depth_m=4.0,
        pressure_steps=tuple(
            PressureStep(step=i, flow_m3_per_s=float(rate * head), net_head_m=head, minutes=10.0)
            for i, head in enumerate(heads, start=1)
        ),
    )


def radial_recovery(beta: Array, alpha: float) -> Array:
    """H/H0 of a hole through a whole confined aquifer, by a real integral.

    Parameters
    ----------
    beta : Array, shape (n,) [-]
        T t / rc^2, above 0.
    alpha : float [-]
        rw^2 S / rc^2.

    Returns
    -------
    Array, shape (n,) [-]
        Between 0 and 1.

    Notes
    -----
    8 alpha/pi^2 times the integral of exp(-beta u^2/alpha) / (u D(u)), D = (u J0 - 2 alpha J1)^2 +
    (u Y0 - 2 alpha Y1)^2, by the trapezoidal rule in ln u. The methods invert a Laplace transform
    instead, so that the one is a check of the other.

    References
    ----------
    Cooper, Bredehoeft and Papadopulos (1967), Water Resources Research 3(1), 263-269; from memory.
    """
    step = 0.02
    u = np.exp(np.arange(-30.0, 8.0, step))
    real, imaginary = u * j0(u) - 2.0 * alpha * j1(u), u * y0(u) - 2.0 * alpha * y1(u)
    decay = np.exp(-np.outer(beta, u**2 / alpha))
    whole = np.sum(decay / (real**2 + imaginary**2), axis=1)
    return np.asarray(8.0 * alpha / np.pi**2 * step * whole)
