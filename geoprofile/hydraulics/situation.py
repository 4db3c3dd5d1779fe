"""Where an interval lies: under a water table, under an upper boundary, through the whole
thickness.
"""

from __future__ import annotations

import math

from geoprofile.errors import DataError
from geoprofile.hydraulics.tests import HydraulicTest


def length_in_water(test: HydraulicTest) -> float:
    """Part of the interval that lies below the static level.

    Parameters
    ----------
    test : HydraulicTest [-]
        Depths [m].

    Returns
    -------
    float [m]
        The interval length, shortened when the water level crosses the interval.
    """
    if test.top_m is None or test.bottom_m is None or test.static_depth_m is None:
        return test.interval_length_m
    span = test.bottom_m - test.top_m
    if test.static_depth_m <= test.top_m or span <= 0:
        return test.interval_length_m
    return test.interval_length_m * (test.bottom_m - test.static_depth_m) / span


def crosses_water_table(test: HydraulicTest) -> bool:
    """Whether the static level lies within the interval.

    Parameters
    ----------
    test : HydraulicTest [-]
        Depths [m].

    Returns
    -------
    bool [-]
        False when depths are unknown.
    """
    return length_in_water(test) < test.interval_length_m


def below_water_m(test: HydraulicTest) -> float | None:
    """Lw: vertical distance from the static level to the bottom of the interval.

    Parameters
    ----------
    test : HydraulicTest [-]
        Depths [m].

    Returns
    -------
    float [m]
        None when a depth is unknown.
    """
    if test.bottom_m is None or test.static_depth_m is None:
        return None
    return test.bottom_m - test.static_depth_m


def saturated_m(test: HydraulicTest) -> float:
    """D: vertical distance from the static level to the base.

    Parameters
    ----------
    test : HydraulicTest [-]
        Depths [m].

    Returns
    -------
    float [m]
        Infinity when the base is unknown.
    """
    if test.aquifer_base_m is None or test.static_depth_m is None:
        return math.inf
    return test.aquifer_base_m - test.static_depth_m


def touches_upper_boundary(test: HydraulicTest) -> bool:
    """Whether the interval starts at the impermeable upper boundary of a confined aquifer.

    Parameters
    ----------
    test : HydraulicTest [-]
        Depths [m].

    Returns
    -------
    bool [-]
        Within 5 % of the interval length.
    """
    if not test.confined or test.aquifer_top_m is None or test.top_m is None:
        return False
    return abs(test.top_m - test.aquifer_top_m) <= 0.05 * test.interval_length_m


def spans_aquifer(test: HydraulicTest) -> bool:
    """Whether the interval opens the whole thickness of a confined aquifer.

    Parameters
    ----------
    test : HydraulicTest [-]
        Depths [m].

    Returns
    -------
    bool [-]
        Upper boundary and base both within 5 % of the interval length.
    """
    if not touches_upper_boundary(test) or test.aquifer_base_m is None or test.bottom_m is None:
        return False
    return abs(test.bottom_m - test.aquifer_base_m) <= 0.05 * test.interval_length_m


def is_open_end(test: HydraulicTest) -> bool:
    """Whether water passes only through the flat end of the casing.

    Parameters
    ----------
    test : HydraulicTest [-]
        Length and radius [m].

    Returns
    -------
    bool [-]
        True below half a hole radius of open length.
    """
    return test.interval_length_m < 0.5 * test.hole_radius_m


def refuse_open_end(test: HydraulicTest) -> None:
    """Refuse an interval without an open wall.

    Parameters
    ----------
    test : HydraulicTest [-]
        Length and radius [m].

    Returns
    -------
    None [-]
        When the wall is open.

    Raises
    ------
    DataError
        When it is not.
    """
    if is_open_end(test):
        raise DataError(
            test.where,
            f"an interval of {test.interval_length_m:.4g} m",
            "half a hole radius or more",
            "Use a method for open ends.",
        )
