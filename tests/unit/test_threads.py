"""Linear algebra is held to one thread inside, and let go again outside."""

from __future__ import annotations

import numpy as np
from threadpoolctl import threadpool_info, threadpool_limits

from geoprofile.threads import one_thread_each


def blas_threads() -> set[int]:
    """Of every library of linear algebra in this process."""
    assert np.dot(1.0, 1.0) == 1.0  # it is loaded
    return {one["num_threads"] for one in threadpool_info() if one["user_api"] == "blas"}


def test_one_thread_inside_and_as_many_as_before_outside() -> None:
    """Entered twice it lets go at the last exit only."""
    with threadpool_limits(2, user_api="blas"):
        with one_thread_each():
            assert blas_threads() == {1}
            with one_thread_each():
                assert blas_threads() == {1}
            assert blas_threads() == {1}
        assert blas_threads() == {2}
