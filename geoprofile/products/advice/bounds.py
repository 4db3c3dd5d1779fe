"""On which side a plume is not bounded yet: the true reason for a test beside a high result."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
SECTOR = 0.5  # [-] cosine of the half angle, 60 degrees, within which a result lies on that side
WINDS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


def beyond(step: Array, others: Array) -> NDArray[np.bool_]:
    """Which results lie on the side of a high one that a proposed test lies on.

    Parameters
    ----------
    step : Array, shape (3,) [-]
        From the high result to the proposed test, in correlation lengths.
    others : Array, shape (n, 3) [-]
        From the high result to each other one, in correlation lengths.

    Returns
    -------
    Array, shape (n,)
        All of them where the test lies on the high result itself.
    """
    away = np.linalg.norm(step)
    if away < 1e-9:
        return np.ones(len(others), dtype=bool)
    reach = np.linalg.norm(others, axis=1) * away
    return np.asarray(others @ step >= SECTOR * np.maximum(reach, 1e-12))


def side_in_words(step_m: Array, step: Array) -> str:
    """The side of a high result that a proposed test lies on.

    Parameters
    ----------
    step_m : Array, shape (3,) [m]
        From the high result to the test: east, north, up.
    step : Array, shape (3,) [-]
        The same in correlation lengths, which say whether it lies below or beside it.

    Returns
    -------
    str
        "below", "above", or "to the south-east" and the like.
    """
    if abs(step[2]) >= math.hypot(step[0], step[1]):
        return "below" if step[2] < 0 else "above"
    azimuth = math.degrees(math.atan2(step_m[0], step_m[1])) % 360.0
    return f"to the {WINDS[round(azimuth / 45.0) % 8]}"
