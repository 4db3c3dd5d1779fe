"""The barometer's record, and times as seconds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Reals = NDArray[np.float64]
SECONDS = 1e9  # nanoseconds in one


@dataclass(frozen=True, eq=False)
class Air:
    """Air pressure: times [s since 1970] and pressures [kPa], in order of time; may be empty."""

    times: Reals
    pressures: Reals


def seconds_of(texts: pd.Series) -> Reals:
    """UTC times as seconds since 1970; NaN for none."""
    times = pd.to_datetime(texts, utc=True, format="ISO8601").dt.as_unit("ns")
    values = times.astype("int64").to_numpy(dtype=np.float64) / SECONDS
    values[times.isna().to_numpy()] = np.nan
    return np.asarray(values)


def air_of(frame: pd.DataFrame | None) -> Air:
    """The barometer file as arrays in order of time."""
    if frame is None or frame.empty:
        return Air(np.empty(0), np.empty(0))
    times = seconds_of(frame["measured_at"])
    order = np.argsort(times, kind="stable")
    return Air(times[order], frame["pressure_kpa"].to_numpy(dtype=float)[order])
