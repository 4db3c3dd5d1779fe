"""Many readings made few: means over short stretches of log time, with their counts."""

from __future__ import annotations

import numpy as np

from geoprofile.hydraulics.tests import Array

BINS = 200  # [-] stretches; each spans under 5 % of the time since the start


def thin(time: Array, head: Array, *, bins: int = BINS) -> tuple[Array, Array, Array]:
    """Mean time and head of readings that lie close together in log time.

    Parameters
    ----------
    time : Array, shape (n,) [s]
        Rising, 0 or more.
    head : Array, shape (n,) [m]
        Readings.
    bins : int [-]
        Most means to keep.

    Returns
    -------
    tuple of Array, shape (m,) [s], [m], [-]
        Mean time, mean head and count, in the order of time; the readings themselves when few.

    Notes
    -----
    Within a stretch of 5 % in time a recovery bends by under 1e-3 of its own fall, below any
    sensor. Half the stretches are even in time, so that late readings are kept apart too.
    """
    if time.size <= bins:
        return time, head, np.ones(time.size)
    positive = max(time[1], time[-1] * 1e-6)
    edges = np.union1d(
        np.geomspace(positive, time[-1], bins // 2), np.linspace(positive, time[-1], bins // 2)
    )
    start = np.unique(np.append(0, np.searchsorted(time, edges[:-1])))
    count = np.diff(np.append(start, time.size)).astype(np.float64)
    return np.add.reduceat(time, start) / count, np.add.reduceat(head, start) / count, count
