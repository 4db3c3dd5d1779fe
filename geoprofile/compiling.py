"""Loops that are compiled, and kept between runs where there is a place to keep them.

A shared installation that cannot be written, used by an account without a home, has no such place:
the loops are then compiled anew in each run, which takes some seconds and changes no number.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numba

Loop = TypeVar("Loop", bound=Callable[..., Any])


def compiled(**options: Any) -> Callable[[Loop], Loop]:
    """A decorator that compiles a loop; `options` are those of `numba.njit`.

    What is kept is never put into a folder that others can write: it is code, and would be run.
    """

    def decorate(loop: Loop) -> Loop:
        try:
            kept: Loop = numba.njit(cache=True, **options)(loop)
        except RuntimeError as error:
            if "cannot cache" not in str(error):
                raise
            kept = numba.njit(**options)(loop)
        return kept

    return decorate
