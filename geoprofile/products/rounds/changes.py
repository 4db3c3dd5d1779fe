"""The change of one interval from a round to the next, and whether it is more than scatter."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

Row = Mapping[str, Any]
NORMAL_95 = 1.959963984540054  # [-]
RISE, FALL, SCATTER, OPEN = "rise", "fall", "within scatter", "not known"
BOTH_BELOW = "not detected in both"


def change_of(before: Row, now: Row) -> tuple[float | None, float, str]:
    """The change of log10, the scatter that 95 % of repeats stay within, and a verdict.

    Parameters
    ----------
    before, now : Mapping
        `value_ug_per_l`, `limit_ug_per_l` [ug/L], `detected`, `sd_log10` [-].

    Returns
    -------
    tuple of float or None [-], float [-] and str
        No change where one is a non-detect; the verdict then goes by its limit.

    Notes
    -----
    Two samples of one water differ by a normal of variance sd1^2 + sd2^2 in log10 (common
    practice, no source).
    """
    spread = NORMAL_95 * float(np.hypot(before["sd_log10"] or 0.0, now["sd_log10"] or 0.0))
    old, new = _value(before), _value(now)
    if old is not None and new is not None:
        change = float(np.log10(new / old))
        return change, spread, _verdict(change, spread)
    if old is None and new is None:
        return None, spread, OPEN if before["detected"] or now["detected"] else BOTH_BELOW
    if new is not None:  # at least the step from the limit
        return None, spread, RISE if _step(before, new) > spread else OPEN
    return None, spread, FALL if _step(now, old) > spread else OPEN


def _verdict(change: float, spread: float) -> str:
    if abs(change) <= spread:
        return SCATTER
    return RISE if change > 0 else FALL


def _step(below: Row, value: float | None) -> float:
    """How far a value lies above the limit of a non-detect, in log10."""
    limit = below["limit_ug_per_l"]
    if below["detected"] or not limit or value is None:
        return -np.inf
    return float(np.log10(value / float(limit)))


def _value(row: Row) -> float | None:
    """A detected value above zero."""
    value = row["value_ug_per_l"]
    return float(value) if row["detected"] and value is not None and value > 0 else None
