"""The loops that everybody pays for, compiled.

Targets come as rows (N, 3), data as (G, 3, n): the inner loop runs over contiguous data and uses a
polynomial exponential, so that it fills whole vector registers.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from geoprofile.kriging.covariance import compiled, single
from geoprofile.kriging.covariance.compiled import (
    MOST_KNOWN,
    gains,
    slopes,
)

__all__ = ["MOST_KNOWN", "add_single", "fill", "fill_single", "gains", "slopes"]

Array = NDArray[np.float64]


# in either precision: who calls passes arrays that fit
fill: Callable[..., None] = compiled.fill
fill_single: Callable[..., None] = single.fill_single
add_single: Callable[..., None] = single.add_single
