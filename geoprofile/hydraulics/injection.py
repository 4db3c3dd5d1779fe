"""Constant-head tests: net head of each pressure step, loss that grows with flow, recovery after
them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geoprofile.errors import DataError
from geoprofile.hydraulics.laplace import invert
from geoprofile.hydraulics.losses import pipe_loss
from geoprofile.hydraulics.recovery import log_ratio_transform, radial_modes
from geoprofile.hydraulics.tests import Array, HydraulicTest, PressureStep
from geoprofile.hydraulics.water import GRAVITY, density


@dataclass(frozen=True, eq=False)
class Steps:
    """Flow (n,) [m3/s], net head (n,) [m], loss in the pipe (n,) [m], outside rise (n,) [m]."""

    flow: Array
    head: Array
    loss: Array
    outside: Array


def temperature_c(test: HydraulicTest) -> float:
    """Water temperature, 10 C when not measured.

    Parameters
    ----------
    test : HydraulicTest [-]
        With or without a temperature [C].

    Returns
    -------
    float [C]
        As measured, or 10.
    """
    return 10.0 if test.water_temperature_c is None else test.water_temperature_c


def reference_depth_m(test: HydraulicTest) -> float:
    """Depth to which the gauge column reaches: static water, or mid-interval when that is dry.

    Parameters
    ----------
    test : HydraulicTest [-]
        Vertical depths [m].

    Returns
    -------
    float [m]
        Below ground.

    Raises
    ------
    DataError
        Neither a static level nor depths are known.

    References
    ----------
    Common practice, no source; the same bookkeeping in the USBR Engineering Geology Field Manual,
    chapter 17, from memory.
    """
    middle = None
    if test.top_m is not None and test.bottom_m is not None:
        middle = 0.5 * (test.top_m + test.bottom_m)
    known = [depth for depth in (middle, test.static_depth_m) if depth is not None]
    if not known:
        raise DataError(
            test.where,
            "no static level and no depths",
            "the static level of the zone",
            "Measure it after inflation and give static_depth_m.",
        )
    return min(known)


def net_head(step: PressureStep, test: HydraulicTest) -> tuple[float, float]:
    """Net head at the interval and the loss in the pipe.

    Parameters
    ----------
    step : PressureStep [-]
        Pressure [Pa], flow [m3/s] and gauge height [m].
    test : HydraulicTest [-]
        Depths, pipe and temperature.

    Returns
    -------
    tuple of float [m]
        H = p/(rho g) + z_ref - h_f, and h_f.

    Raises
    ------
    DataError
        No pressure, or no depth to refer it to.
    """
    if step.net_head_m is not None:
        return step.net_head_m, 0.0
    if step.gauge_pressure_pa is None:
        where = f"{test.where} pressure step {step.step}"
        raise DataError(where, "no pressure", "a gauge pressure", "Give the gauge pressure.")
    warm = temperature_c(test)
    loss = 0.0
    if test.pipe is not None:
        loss = pipe_loss(step.flow_m3_per_s, test.pipe, temperature_c=warm)
    column = step.gauge_pressure_pa / (density(warm) * GRAVITY)
    return column + step.gauge_height_m + reference_depth_m(test) - loss, loss


def steps_of(test: HydraulicTest) -> Steps:
    """All pressure steps of a test as arrays.

    Parameters
    ----------
    test : HydraulicTest [-]
        A constant-head test.

    Returns
    -------
    Steps [-]
        Flow [m3/s], net head [m], loss [m], outside rise [m].

    Raises
    ------
    DataError
        A net head is not above 0.
    """
    pairs = [net_head(step, test) for step in test.pressure_steps]
    for step, (head, loss) in zip(test.pressure_steps, pairs, strict=True):
        if not head > 0:
            raise DataError(
                f"{test.where} pressure step {step.step}",
                f"a net head of {head:.2f} m after {loss:.2f} m of pipe loss",
                "above 0 m",
                "Check pressure, static level and pipe; the loss in the pipe may be too large.",
            )
    outside = [
        math.nan if s.outside_head_m is None else s.outside_head_m for s in test.pressure_steps
    ]
    warm = density(temperature_c(test)) * GRAVITY
    flow = np.array(
        [
            max(s.flow_m3_per_s - s.blank_leak_m3_per_s_per_pa * head * warm, 0.0)
            for s, (head, _) in zip(test.pressure_steps, pairs, strict=True)
        ]
    )
    return Steps(
        flow, np.array([p[0] for p in pairs]), np.array([p[1] for p in pairs]), np.array(outside)
    )


def linear_and_square(flow: Array, head: Array) -> tuple[float, float]:
    """A and B of H = A Q + B Q^2 by a line through H/Q.

    Parameters
    ----------
    flow : Array, shape (n,) [m3/s]
        Two or more different flows above 0.
    head : Array, shape (n,) [m]
        Net head; pressure steps without flow are left out.

    Returns
    -------
    tuple of float [s/m2], [s2/m5]
        A, from which K follows without turbulent loss, and B.

    References
    ----------
    Forchheimer (1901); the device of Hantush (1964) and Bierschenk (1963); from memory.

    Examples
    --------
    A 3e4, B 2e8: flows for heads of 2, 4, 8 and 16 m give 3e4 back.
    """
    flows, heads = flow[flow > 0], head[flow > 0]
    slope, intercept = np.polyfit(flows, heads / flows, 1)
    return float(intercept), float(slope)


def constant_head_flow(scaled_time: Array) -> Array:
    """G(td): flow from a well whose head is held, Q = 2 pi T H G.

    Parameters
    ----------
    scaled_time : Array, shape (n,) [-]
        td = T t / (S rw^2), above 0.

    Returns
    -------
    Array, shape (n,) [-]
        G; 1/G is the P in effect after that time.

    References
    ----------
    Jacob and Lohman (1952), Transactions of the American Geophysical Union 33, 559-569.

    Examples
    --------
    td 1: 0.985.
    """
    modes = radial_modes()
    return invert(lambda s: 1.0 / (s * log_ratio_transform(s, 0.5, modes)), scaled_time, nodes=20)


def recovery_after_injection(
    since_stop: Array, head: Array, *, flow: float, duration: float, length: float
) -> tuple[float, float]:
    """K from the head that is left after injection or withdrawal at a steady rate.

    Parameters
    ----------
    since_stop : Array, shape (n,) [s]
        Time since the flow stopped, late enough for the line to be straight.
    head : Array, shape (n,) [m]
        Residual head, above 0.
    flow : float [m3/s]
        Rate before the stop.
    duration : float [s]
        Of the flow.
    length : float [m]
        Of the interval.

    Returns
    -------
    tuple of float [m/s], [-]
        K = Q / (4 pi L slope), slope of head against ln((tp + t)/t); and sd of ln K.

    Raises
    ------
    ValueError
        Fewer than three readings, or a head that does not fall.

    References
    ----------
    Theis (1935), Horner (1951), from memory; radial flow.
    """
    if since_stop.size < 3:
        raise ValueError("a recovery needs three or more readings")
    ratio = np.log((duration + since_stop) / since_stop)
    mean = ratio.mean()
    spread = float(((ratio - mean) ** 2).sum())
    slope = float(((ratio - mean) * (head - head.mean())).sum()) / spread
    if slope <= 0:
        raise ValueError("the residual head does not fall")
    residual = head - head.mean() - slope * (ratio - mean)
    sd = math.sqrt(float(residual @ residual) / max(head.size - 2, 1) / spread)
    return flow / (4.0 * math.pi * length * slope), sd / slope
