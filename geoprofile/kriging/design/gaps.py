"""Where results alone say that an edge lies: work whose worth rests on no fitted shape."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Stretch = tuple[float, float]


def gaps(results: Sequence[tuple[float, float, bool]], ends: Stretch) -> list[Stretch]:
    """Untested stretches of a hole between a result above the criterion and one below.

    Parameters
    ----------
    results : sequence of (float, float, bool) [m], [m], [-]
        Top, bottom, and whether it is above, in any order.
    ends : (float, float) [m]
        Between which zones can be tested; beyond them the ground counts as below.

    Returns
    -------
    list of (float, float) [m]
        Top and bottom, longest first; none in a hole without a result.

    Examples
    --------
    >>> gaps([(10.0, 12.0, True), (20.0, 22.0, False)], (4.0, 30.0))
    [(12.0, 20.0), (4.0, 10.0)]
    """
    if not results:
        return []
    first, last = ends
    rows = [(first, first, False), *sorted(results), (last, last, False)]
    found = [
        (upper, lower)
        for (_, upper, above), (lower, _, next_above) in pairwise(rows)
        if above != next_above and lower > upper
    ]
    return sorted(found, key=lambda gap: gap[0] - gap[1])


def beside_a_result_above(holes: Array, above: Array) -> list[tuple[int, int]]:
    """Untested holes, those next to a result above the criterion first.

    Parameters
    ----------
    holes : Array, shape (n, 2) [m]
        Where they stand.
    above : Array, shape (m, 2) [m]
        Where results above the criterion lie.

    Returns
    -------
    list of (int, int) [-]
        Number of the hole, and of the result that is nearest to it; nothing without one.

    Examples
    --------
    >>> beside_a_result_above(np.array([[0.0, 90.0], [0.0, 20.0]]), np.array([[0.0, 0.0]]))
    [(1, 0), (0, 0)]
    """
    if not len(holes) or not len(above):
        return []
    away = np.linalg.norm(holes[:, None, :] - above[None, :, :], axis=2)
    nearest = away.argmin(1)
    order = np.argsort(away.min(1), kind="stable")
    return [(int(k), int(nearest[k])) for k in order]


def nearest_zone(zones: Array, middle: float, within: Stretch) -> int | None:
    """The zone that lies nearest to the middle of a stretch.

    Parameters
    ----------
    zones : Array, shape (n, 2) [m]
        Tops and bottoms of what can be tested.
    middle : float [m]
        Where it should lie.
    within : (float, float) [m]
        What it must not leave.

    Returns
    -------
    int [-] or None
        Its row, the shorter of two as near; None where no zone fits.

    Examples
    --------
    >>> nearest_zone(np.array([[10.0, 12.0], [15.0, 17.0], [14.0, 18.0]]), 16.0, (12.0, 20.0))
    1
    """
    inside = (zones[:, 0] >= within[0] - 1e-6) & (zones[:, 1] <= within[1] + 1e-6)
    if not inside.any():
        return None
    away = np.round(np.abs(zones.mean(1) - middle), 6)
    order = np.lexsort((zones[:, 1] - zones[:, 0], away))
    return int(next(k for k in order if inside[k]))
