"""Mass that groundwater carries through a section per day: K times gradient times concentration."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array: TypeAlias = NDArray[np.float64]
SECONDS_PER_DAY = 86400.0  # [s/d]
GRAMS_PER_MILLIGRAM = 1e-3  # [g/mg]; 1 ug/L is 1 mg/m3


def mass_discharge(
    k: ArrayLike, concentration: ArrayLike, area: ArrayLike, *, gradient: ArrayLike
) -> Array:
    """Mass discharge through cells of a section, added up.

    Parameters
    ----------
    k : Array, shape (..., n) [m/s]
        Hydraulic conductivity of the cells.
    concentration : Array, shape (..., n) [ug/L]
        Concentration in the cells.
    area : Array, shape (n,) [m2]
        Of the cells in the plane of the section.
    gradient : Array, shape (..., n) [-]
        Hydraulic gradient at right angles to the section; its sign is the direction.

    Returns
    -------
    Array, shape (...) [g/d]
        Net discharge.

    Notes
    -----
    Darcy flux q = K i, J = q C, and the sum of J A over the cells. With one mean gradient the sum
    tends to be too high: where K is high the gradient is flatter than its mean.

    References
    ----------
    ITRC (2010), Use and Measurement of Mass Flux and Mass Discharge: transect method.

    Examples
    --------
    mass_discharge([1e-4], [120], [12], gradient=[0.004]) is 0.0497664.
    """
    flux = np.asarray(k) * SECONDS_PER_DAY * np.asarray(gradient)
    mass = flux * np.asarray(concentration) * GRAMS_PER_MILLIGRAM
    return np.asarray(np.sum(mass * np.asarray(area), axis=-1), dtype=np.float64)


def share_across(line_azimuth_deg: ArrayLike, flow_azimuth_deg: ArrayLike) -> Array:
    """Share of the flow that crosses a vertical plane, positive when it crosses from the left.

    Parameters
    ----------
    line_azimuth_deg : Array, shape (n,) [deg]
        Direction of the line on the map, from grid north, clockwise.
    flow_azimuth_deg : Array, broadcastable [deg]
        Direction of flow.

    Returns
    -------
    Array [-]
        Sine of the angle from line to flow: 1 for flow to the right at right angles, 0 along it.

    Examples
    --------
    share_across(0, 90) is 1.
    """
    turn = np.radians(np.asarray(flow_azimuth_deg) - np.asarray(line_azimuth_deg))
    return np.asarray(np.sin(turn), dtype=np.float64)
