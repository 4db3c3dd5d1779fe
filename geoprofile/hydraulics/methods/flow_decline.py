"""Constant head: the decline of flow with time within the first step that was read closely."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
from scipy.optimize import least_squares

from geoprofile.errors import DataError
from geoprofile.hydraulics.boundaries import modes_of
from geoprofile.hydraulics.curve_table import tabulate
from geoprofile.hydraulics.injection import net_head
from geoprofile.hydraulics.recovery import Modes, radial_modes
from geoprofile.hydraulics.situation import is_open_end, spans_aquifer
from geoprofile.hydraulics.spread import bounds, geometry_parts, relative, total
from geoprofile.hydraulics.synthetic import pressure_step_test
from geoprofile.hydraulics.tests import (
    Applicability,
    Array,
    Conductivity,
    HydraulicTest,
    PressureStep,
)
from geoprofile.hydraulics.validity import check_test
from geoprofile.plugins import Method

NAME = "flow-decline"
FEWEST = 6  # readings of the flow
METER_SD_LN = 0.05  # [-] gauge and meter; common practice, no source
READING_SD_LN = 0.02  # [-] of one reading of the flow; common practice, no source
STORAGE, STORAGE_SD_LN = 1e-5, 1.2 * math.log(10.0)  # [1/m], [-] prior as in recoveries
GRID = 40


def _step(test: HydraulicTest) -> PressureStep | None:
    """The first step, if its flow was read closely: later ones ride on those before them."""
    first = test.pressure_steps[0] if test.pressure_steps else None
    if first is None or len(first.flow_time_s) < FEWEST:
        return None
    return first


def _modes(test: HydraulicTest) -> Modes:
    return radial_modes() if spans_aquifer(test) else modes_of(test)


def flow_at_steady_anisotropic(scaled_time: Array, modes: Modes) -> Array:
    """G(td): Q = 2 pi L K H G for any geometry.

    Parameters
    ----------
    scaled_time : Array, shape (n,) [-]
        td = K t / (Ss rw^2), above 0.
    modes : Modes [-]
        The geometry; the radial mode gives the flow of Jacob and Lohman.

    Returns
    -------
    Array, shape (n,) [-]
        G.

    References
    ----------
    Jacob and Lohman (1952), Transactions of the American Geophysical Union 33, 559-569.
    """
    return tabulate(modes).flow(scaled_time)


def applies(test: HydraulicTest) -> Applicability:
    """Whether the flow of the first step was read against time."""
    if test.kind not in PLUGIN.kinds:
        return Applicability(False, 0.0, f"made for constant heads, not {test.kind}")
    if is_open_end(test):
        return Applicability(False, 0.0, "the interval is only the open end of the casing")
    if _step(test) is None:
        reason = f"the flow of the first step was not read {FEWEST} times or more (step_flow)"
        return Applicability(False, 0.0, reason)
    return Applicability(True, 0.72, "flow against time within the first step was read")


def run(test: HydraulicTest) -> Conductivity:
    """Q = 2 pi L K H G(K t / (Ss rw^2)); K and Ss fit the decline of flow.

    Raises
    ------
    DataError
        Bad input, too few readings of the flow, or no flow.

    References
    ----------
    Jacob and Lohman (1952) for radial flow; own solution for an interval in its layer.
    """
    check_test(test)
    step = _step(test)
    if step is None or not any(q > 0 for q in step.flow_course_m3_per_s):
        raise DataError(
            test.where,
            "no flow against time in the first step",
            f"{FEWEST} readings or more",
            "Add them to step_flow, or use the steady flow.",
        )
    head, _ = net_head(step, test)
    time, flow = np.array(step.flow_time_s), np.array(step.flow_course_m3_per_s)
    good = (time > 0) & (flow > 0)
    time, flow = time[good], flow[good]
    return _fitted(test, time, flow, head)


def _fitted(test: HydraulicTest, time: Array, flow: Array, head: float) -> Conductivity:
    """Fit ln K and ln Ss to ln Q."""
    length, rw = test.interval_length_m, test.hole_radius_m
    modes = _modes(test)
    log_td = np.linspace(-8.0, 22.0, GRID)
    log_g = np.log(flow_at_steady_anisotropic(np.exp(log_td), modes))
    unit = 2.0 * math.pi * length * head

    def model(theta: Array) -> Array:
        td = theta[0] + np.log(time) - theta[1] - 2.0 * math.log(rw)
        return np.asarray(math.log(unit) + theta[0] + np.interp(td, log_td, log_g))

    def residual(theta: Array) -> Array:
        prior = (theta[1] - math.log(STORAGE)) / STORAGE_SD_LN
        return np.append((model(theta) - np.log(flow)) / READING_SD_LN, prior)

    start = np.array([math.log(flow[-1] * 3.0 / unit), math.log(STORAGE)])
    fit = least_squares(residual, start)
    excess = max(1.0, 2.0 * float(fit.cost) / max(time.size - 2, 1))
    covariance = np.linalg.inv(fit.jac.T @ fit.jac) * excess
    k = math.exp(fit.x[0])
    p = float(unit * k / flow[-1])
    fit_sd = math.sqrt(float(covariance[0, 0]))
    parts = (
        relative("fit of the flow", fit_sd),
        relative("gauge and meter", METER_SD_LN),
        *geometry_parts(test, max(p, 1.2), uses_riser=False),
    )
    low, high = bounds(k, total(parts))
    misfit = float(np.sqrt(np.mean((model(fit.x) - np.log(flow)) ** 2)))
    poor = fit_sd > 0.35 or misfit > 0.10
    notes = [f"flow of the first step against time, {time.size} readings"]
    if poor:
        notes.append("the decline of flow does not settle K: read it longer and closer")
    return Conductivity(
        method=NAME,
        k_m_per_s=k,
        sd_log10_k=total(parts) / math.log(10.0),
        k_low_m_per_s=low,
        k_high_m_per_s=high,
        grade="qualified" if poor else "accepted",
        notes=tuple(notes),
        specific_storage_per_m=math.exp(fit.x[1]),
        log_ratio=p,
        readings_used=int(time.size),
        misfit=misfit,
        parts=parts,
    )


def example(k: float) -> HydraulicTest:
    """A declining flow at a constant head of 10 m, Ss 2e-5 1/m."""
    base = pressure_step_test(k, log_ratio=4.0)
    time = np.geomspace(0.5, 1800.0, 30)
    td = k * time / (2e-5 * base.hole_radius_m**2)
    flow = (
        2.0
        * math.pi
        * base.interval_length_m
        * k
        * 10.0
        * flow_at_steady_anisotropic(td, _modes(base))
    )
    step = PressureStep(
        step=1,
        flow_m3_per_s=float(flow[-1]),
        net_head_m=10.0,
        minutes=30.0,
        flow_time_s=tuple(float(t) for t in time),
        flow_course_m3_per_s=tuple(float(q) for q in flow),
    )
    return dataclasses.replace(base, pressure_steps=(step,))


PLUGIN = Method(
    name=NAME,
    title="Decline of flow at a constant head",
    kinds=("constant head",),
    applies=applies,
    run=run,
    example=example,
    source="Jacob and Lohman (1952)",
)
