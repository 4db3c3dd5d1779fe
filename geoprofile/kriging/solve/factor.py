"""Cholesky factor in place and by tiles, so that threads share it and the bits stay the same."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack, solve_triangular

from geoprofile.threads import one_thread_each, own_processors

Array = NDArray[np.float64]

# Wide enough for matrix products at full speed; up to here there is one tile.
TILE = 1024


def factorise(matrix: Array) -> int | None:
    """Replace a symmetric matrix by its lower Cholesky factor.

    Parameters
    ----------
    matrix : Array, shape (n, n) [any unit]
        Positive definite, rows contiguous; only the lower triangle is read. Overwritten; the
        upper triangle becomes zero.

    Returns
    -------
    int or None [-]
        Number of the first row that those before it determine; None if there is none.

    Notes
    -----
    Right-looking: factor of a tile on the diagonal, the tiles below it, then what they take off
    the rest. Each tile is one task on one BLAS thread: any number of threads gives the same bits.

    References
    ----------
    Golub & Van Loan (2013), section 4.2.6 (from memory).
    """
    n = len(matrix)
    if n <= TILE:
        return _corner(matrix, 0, n)
    with one_thread_each(), ThreadPoolExecutor(own_processors()) as pool:
        for first in range(0, n, TILE):
            last = min(first + TILE, n)
            bad = _corner(matrix, first, last)
            if bad is not None:
                return bad
            below = [slice(row, min(row + TILE, n)) for row in range(last, n, TILE)]
            here, corner = slice(first, last), matrix[first:last, first:last]

            def solve(rows: slice, here: slice = here, corner: Array = corner) -> None:
                left = matrix[rows, here].T
                matrix[rows, here] = solve_triangular(
                    corner, left, lower=True, check_finite=False
                ).T

            def subtract(rows: slice, here: slice = here, last: int = last) -> None:
                rest = slice(last, rows.stop)
                matrix[rows, rest] -= matrix[rows, here] @ matrix[rest, here].T

            list(pool.map(solve, below))
            # The longest rows first: no thread is left with one of them at the end.
            list(pool.map(subtract, below[::-1]))
    return None


def _corner(matrix: Array, first: int, last: int) -> int | None:
    """Factor of a tile on the diagonal; what stands to the right of it becomes zero."""
    here = slice(first, last)
    # By columns, as LAPACK reads it, the lower triangle is the upper one: nothing is turned.
    upper, info = lapack.dpotrf(matrix[here, here].T, lower=0, clean=1, overwrite_a=1)
    matrix[here, here] = upper.T
    matrix[here, last:] = 0.0
    return first + int(info) - 1 if info else None
