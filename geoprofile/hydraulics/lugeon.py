"""Lugeon values of pressure steps, and the pattern of five pressure steps."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from geoprofile.hydraulics.tests import Array
from geoprofile.hydraulics.water import GRAVITY, density

Pattern = Literal["laminar", "turbulent", "dilation", "wash-out", "void filling", "mixed"]
PATTERN_TOLERANCE = 0.10  # [-] change of Lugeon value that counts; common practice, no source
LUGEON = 1e-3 / 60.0  # [m2/s] 1 L/min per metre
LUGEON_PRESSURE = 1e6  # [Pa]


def lugeon_value(
    flow: Array | float, head: Array | float, length: float, *, temperature_c: float = 10.0
) -> Array:
    """Litres per minute and metre at a net pressure of 1 MPa.

    Parameters
    ----------
    flow : Array, shape (n,) [m3/s]
        Taken by the interval.
    head : Array, shape (n,) [m]
        Net head.
    length : float [m]
        Of the interval.
    temperature_c : float [C]
        Of the water.

    Returns
    -------
    Array, shape (n,) [Lu]
        1 Lu is 1 L/min per metre at 1 MPa, not at 10 kgf/cm2, which is 2 % less.

    References
    ----------
    Lugeon (1933); Houlsby (1976), Quarterly Journal of Engineering Geology 9, 303-313.
    """
    pressure = np.asarray(head) * density(temperature_c) * GRAVITY
    return np.asarray(np.asarray(flow) / (length * LUGEON) * LUGEON_PRESSURE / pressure)


def conductivity_of_lugeon(log_ratio: float, *, temperature_c: float = 20.0) -> float:
    """K of 1 Lu for a given P.

    Parameters
    ----------
    log_ratio : float [-]
        P.
    temperature_c : float [C]
        Of the water.

    Returns
    -------
    float [m/s]
        K per Lu.

    Examples
    --------
    5 m of 38 mm radius by Moye, P 5.186, at 20 C: 1.347e-7 m/s.
    """
    head = LUGEON_PRESSURE / (density(temperature_c) * GRAVITY)
    return LUGEON * log_ratio / (2.0 * math.pi * head)


def step_pattern(lugeon: Array, *, tolerance: float = PATTERN_TOLERANCE) -> Pattern:
    """What five pressure steps low, medium, peak, medium, low tell of the ground.

    Parameters
    ----------
    lugeon : Array, shape (5,) [Lu]
        In the order of the pressure steps.
    tolerance : float [-]
        Change that counts, over the mean.

    Returns
    -------
    str [-]
        laminar, turbulent, dilation, wash-out, void filling or, when none fits, mixed.

    Raises
    ------
    ValueError
        Not five pressure steps.

    References
    ----------
    Houlsby (1976), groups from memory; the tolerance is a setting of this program.
    """
    if len(lugeon) != 5:
        raise ValueError(f"the pattern needs five pressure steps, not {len(lugeon)}")
    value = np.asarray(lugeon) / np.mean(lugeon)
    band = tolerance
    if np.ptp(value) <= band:
        return "laminar"
    symmetric = abs(value[0] - value[4]) <= band and abs(value[1] - value[3]) <= band
    ends = 0.5 * (value[0] + value[4])
    if symmetric and value[2] < ends - band and value[2] <= value.min():
        return "turbulent"
    if symmetric and value[2] > ends + band and value[2] >= value.max():
        return "dilation"
    change = np.diff(value)
    if value[4] > value[0] + band and np.all(change > -0.5 * band):
        return "wash-out"
    if value[4] < value[0] - band and np.all(change < 0.5 * band):
        return "void filling"
    return "mixed"


def pattern_of(lugeon: Array, head: Array, *, tolerance: float = PATTERN_TOLERANCE) -> Pattern:
    """What three or more steps in any order tell of the ground.

    Parameters
    ----------
    lugeon : Array, shape (n,) [Lu]
        In the order of the steps.
    head : Array, shape (n,) [m]
        Net head of each.
    tolerance : float [-]
        Change that counts, over the mean.

    Returns
    -------
    str [-]
        As `step_pattern`, which five steps low, medium, peak, medium, low go through.

    Raises
    ------
    ValueError
        Fewer than three steps.

    Notes
    -----
    Steps at one head (within 10 %) that differ tell of wash-out or filling; else the change from
    the lowest to the highest head tells of turbulence or dilation. Heads that only rise or only
    fall leave the two apart by sign alone.
    """
    if len(lugeon) < 3:
        raise ValueError(f"a pattern needs three steps or more, not {len(lugeon)}")
    if len(lugeon) == 5 and int(np.argmax(head)) == 2:
        return step_pattern(lugeon, tolerance=tolerance)
    value = np.asarray(lugeon) / np.mean(lugeon)
    if np.ptp(value) <= tolerance:
        return "laminar"
    pairs = [
        value[j] - value[i]
        for i in range(len(value))
        for j in range(i + 1, len(value))
        if abs(head[j] / head[i] - 1.0) < 0.10
    ]
    drift = float(max(pairs, key=abs)) if pairs else 0.0
    if abs(drift) > tolerance:
        return "wash-out" if drift > 0 else "void filling"
    low, high = head < 1.1 * np.min(head), head > 0.9 * np.max(head)
    change = float(np.mean(value[high]) - np.mean(value[low]))
    if change < -tolerance:
        return "turbulent"
    if change > tolerance:
        return "dilation"
    return "mixed"


def representative_steps(pattern: Pattern, head: Array) -> tuple[int, ...]:
    """Rows whose mean stands for a test with any number of steps.

    Parameters
    ----------
    pattern : str [-]
        From `pattern_of`.
    head : Array, shape (n,) [m]
        Net heads in the order of the steps.

    Returns
    -------
    tuple of int [-]
        Rows of the pressure steps: highest head, lowest heads, last step, or all.

    References
    ----------
    Houlsby (1976), from memory.
    """
    rows = np.arange(head.size)
    if pattern == "turbulent":
        return (int(np.argmax(head)),)
    if pattern == "dilation":
        return tuple(int(i) for i in rows[head < 1.1 * np.min(head)])
    if pattern in ("wash-out", "void filling"):
        return (int(rows[-1]),)
    return tuple(int(i) for i in rows)
