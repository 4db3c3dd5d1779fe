"""Loops that are compiled, and kept between runs where there is a place to keep them.

A shared installation that cannot be written, used by an account without a home, has no such place:
the loops are then compiled anew in each run, which takes some seconds and changes no number.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numba
import numpy as np
from numpy.typing import NDArray

# ln(x) = e ln 2 + s (L0 + L1 s^2 + ...), s = (m - 1)/(m + 1), m from root 1/2 to root 2: through
# Chebyshev's points, to 3e-16.
L0, L1, L2, L3 = 2.0000000000000004, 0.6666666666655292, 0.40000000061741614, 0.2857141602110767
L4, L5, L6 = 0.22223434547517906, 0.18121934431215214, 0.16837659970680488
LN2, ROOT_2 = 0.6931471805599453, 1.4142135623730951
FRACTION, ONE_BITS = 0x000FFFFFFFFFFFFF, 0x3FF0000000000000

# Python's check for division by zero would keep the loops from filling vector registers.
LOOSE = {"contract", "reassoc", "nsz"}

Loop = TypeVar("Loop", bound=Callable[..., Any])


def compiled(**options: Any) -> Callable[[Loop], Loop]:
    """A decorator that compiles a loop; `options` are those of `numba.njit`.

    What is kept is never put into a folder that others can write: it is code, and would be run.
    """
    options = {"no_cfunc_wrapper": True, **options}  # nobody calls them from C

    def decorate(loop: Loop) -> Loop:
        try:
            kept: Loop = numba.njit(cache=True, **options)(loop)
        except RuntimeError as error:
            if "cannot cache" not in str(error):
                raise
            kept = numba.njit(**options)(loop)
        return kept

    return decorate


def fixed(array: NDArray[np.float64]) -> NDArray[np.float64]:
    """A view that cannot be written to: a loop that gets both kinds is compiled twice."""
    view = array.view()
    view.flags.writeable = False
    return view


@compiled(nogil=True, fastmath=LOOSE, error_model="numpy", forceinline=True)
def ln(x: float) -> float:
    """Natural logarithm, for loops that fill vector registers; absolute error below 1e-15.

    Parameters
    ----------
    x : float [-]
        Above 1e-300.

    Returns
    -------
    float [-]
        ln(x).
    """
    bits = np.float64(x).view(np.int64)
    m = np.int64((bits & FRACTION) | ONE_BITS).view(np.float64)
    half = m > ROOT_2
    e = np.float64(np.int32(bits >> 52) - 1023) + (1.0 if half else 0.0)
    m = 0.5 * m if half else m
    s = (m - 1.0) / (m + 1.0)
    q = s * s
    return e * LN2 + s * (L0 + q * (L1 + q * (L2 + q * (L3 + q * (L4 + q * (L5 + q * L6))))))
