"""The loops that everybody pays for, compiled.

Targets come as rows (N, 3), data as (G, 3, n): the inner loop runs over contiguous data and uses a
polynomial exponential, so that it fills whole vector registers.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import NDArray
from scipy.special import erfcx

from geoprofile.kriging.covariance import compiled
from geoprofile.kriging.covariance.compiled import (
    MOST_KNOWN,
    SCALED_CENTRE,
    SCALED_COUNT,
    gains,
    slopes,
)

__all__ = ["MOST_KNOWN", "boxes", "fill", "fill_single", "gains", "slopes"]

Array = NDArray[np.float64]


def _scaled_coefficients() -> Array:
    """Of the polynomial in compiled `scaled_erfc`, the highest power first."""
    y = chebyshev.chebpts1(SCALED_COUNT)
    x = SCALED_CENTRE * (1.0 + y) / (1.0 - y)
    fitted = chebyshev.chebfit(y, (1.0 + 2.0 * x) * erfcx(x), SCALED_COUNT - 1)
    return np.ascontiguousarray(chebyshev.cheb2poly(fitted)[::-1])


# in either precision: who calls passes arrays that fit
fill: Callable[..., None] = compiled.fill
fill_single: Callable[..., None] = compiled.fill_single
boxes = partial(compiled.boxes, _scaled_coefficients())
