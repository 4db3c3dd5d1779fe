"""What a fitted model has already said of places: asked again, it is not computed again."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass, field
from functools import partial
from hashlib import blake2b
from threading import Lock
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Arrays = tuple[Any, ...]

# Predictions by member and shape of some 17,000 cells; and columns of some 400,000.
PARTS_BYTES, ANSWERS_BYTES = 24 * 2**20, 12 * 2**20


class Pool:
    """Arrays by their key, up to so many bytes; the longest unused go first."""

    def __init__(self, most_bytes: int) -> None:
        self.most_bytes = most_bytes
        self.held: OrderedDict[Hashable, tuple[int, Arrays]] = OrderedDict()
        self.bytes = 0
        self.lock = Lock()

    def get(self, key: Hashable, compute: Callable[[], Arrays]) -> Arrays:
        """What is held under a key, else computed and held from now on, not to be written to."""
        with self.lock:
            if key in self.held:
                self.held.move_to_end(key)
                return self.held[key][1]
        made = compute()
        arrays = list(_arrays(made))
        for one in arrays:
            one.flags.writeable = False
        size = sum(one.nbytes for one in arrays)
        with self.lock:
            if key not in self.held and size <= self.most_bytes:
                self.held[key] = size, made
                self.bytes += size
            while self.bytes > self.most_bytes:
                _, (less, _) = self.held.popitem(last=False)
                self.bytes -= less
        return made


def _arrays(made: Iterable[Any]) -> Iterable[Array]:
    """The arrays in nested tuples."""
    for one in made:
        if isinstance(one, np.ndarray):
            yield one
        elif isinstance(one, tuple):
            yield from _arrays(one)


_PARTS, _ANSWERS = Pool(PARTS_BYTES), Pool(ANSWERS_BYTES)


@dataclass(frozen=True)
class Kept:
    """A model's share of what the process holds; `name` is a digest of the model.

    Models of one name are the same to the last bit. Sent to another process, it begins empty.
    `beyond` looks up what another process may have answered, else computes.
    """

    name: str
    held_parts: Pool = field(default_factory=lambda: _PARTS, compare=False, repr=False)
    held_answers: Pool = field(default_factory=lambda: _ANSWERS, compare=False, repr=False)
    beyond: Callable[[Hashable, Callable[[], Arrays]], Arrays] | None = field(
        default=None, compare=False, repr=False
    )

    def __reduce__(self) -> tuple[Any, ...]:
        """The name alone travels."""
        return Kept, (self.name,)

    def parts(self, xyz: Array, exact: bool, compute: Callable[[], Arrays]) -> Arrays:
        """Predictions of the members for a block of cells (m, 3) [m]."""
        return self.held_parts.get((self.name, exact, _digest(xyz)), compute)

    def answers(
        self, xyz: Array, wanted: Callable[..., Any], exact: bool, compute: Callable[[], Arrays]
    ) -> Arrays:
        """Columns (n,) of one question about cells (n, 3) [m], as copies that are the caller's."""
        key = (self.name, exact, _asked(wanted), _digest(xyz))
        beyond = self.beyond
        found = compute if beyond is None else lambda: beyond(key, compute)
        return tuple(column.copy() for column in self.held_answers.get(key, found))


def _digest(xyz: Array) -> bytes:
    """Tells places apart; their number is in it too."""
    return blake2b(np.ascontiguousarray(xyz).data, digest_size=20).digest()


def _asked(wanted: Callable[..., Any]) -> Hashable:
    """A question with its levels."""
    if isinstance(wanted, partial):
        return wanted.func, wanted.args, tuple(sorted(wanted.keywords.items()))
    return wanted
