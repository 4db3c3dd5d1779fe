"""Rows of the curve of each test: what was read, and what the preferred method makes of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geoprofile.hydraulics.tests import TestAnalysis

MOST_READINGS = 48  # kept of a test: the shape of a curve in a small figure needs no more
L_MIN_PER_M3_S = 60_000.0


def curve_rows(place: Mapping[str, Any], analysis: TestAnalysis) -> list[dict[str, Any]]:
    """Readings and fitted curve of the preferred method."""
    best = analysis.best
    if best is None or not len(best.time_s):
        return []
    start = {
        **{name: place[name] for name in ("interval", "borehole")},
        "test": analysis.test,
        "method": best.method,
    }
    in_steps = bool(best.step_lugeon.size)
    x, measured, fitted = (
        ("flow_l_min", "net_head_m", "fitted_net_head_m")
        if in_steps
        else ("elapsed_s", "normalised_head", "fitted_normalised_head")
    )
    scale = L_MIN_PER_M3_S if in_steps else 1.0
    every_used = len(best.used) != len(best.time_s)
    return [
        {
            **start,
            x: scale * float(best.time_s[i]),
            measured: float(best.measured[i]),
            fitted: float(best.fitted[i]),
            "used": every_used or bool(best.used[i]),
        }
        for i in _kept(len(best.time_s))
    ]


def _kept(count: int) -> NDArray[np.intp]:
    """Rows of a record that are kept: half of them at even steps, half close to the start."""
    if count <= MOST_READINGS:
        return np.arange(count)
    half = MOST_READINGS // 2
    early, even = np.geomspace(1, count, half) - 1, np.linspace(0, count - 1, half)
    return np.unique(np.concatenate([early, even]).astype(np.intp))
