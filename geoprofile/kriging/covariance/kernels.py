"""The loops that everybody pays for, compiled.

Targets come as rows (N, 3), data as (G, 3, n): the inner loop runs over contiguous data and uses a
polynomial exponential, so that it fills whole vector registers.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from geoprofile.kriging.covariance import compiled
from geoprofile.kriging.covariance.compiled import (
    MOST_KNOWN,
    gains,
    slopes,
)

__all__ = ["MOST_KNOWN", "fill", "fill_single", "gains", "slopes"]

Array = NDArray[np.float64]


# in either precision: who calls passes arrays that fit
fill: Callable[..., None] = compiled.fill
fill_single: Callable[..., None] = compiled.fill_single
