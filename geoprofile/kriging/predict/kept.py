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

    def get(self, key: Hashable) -> Arrays | None:
        """What is held under a key, not to be written to."""
        with self.lock:
            if key not in self.held:
                return None
            self.held.move_to_end(key)
            return self.held[key][1]

    def hold(self, key: Hashable, made: Arrays) -> None:
        """Hold arrays from now on; nobody writes to them any more."""
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

    def clear(self) -> None:
        """Hold nothing any more."""
        with self.lock:
            self.held.clear()
            self.bytes = 0


def _arrays(made: Iterable[Any]) -> Iterable[Array]:
    """The arrays in nested tuples."""
    for one in made:
        if isinstance(one, np.ndarray):
            yield one
        elif isinstance(one, tuple):
            yield from _arrays(one)


_PARTS, _ANSWERS = Pool(PARTS_BYTES), Pool(ANSWERS_BYTES)


def let_parts_go() -> None:
    """Let go of predictions by member: figures ask again only what has been answered."""
    _PARTS.clear()


@dataclass(frozen=True)
class Kept:
    """A model's share of what the process holds; `name` is a digest of the model.

    Models of one name are the same to the last bit. Sent to another process, it begins empty.
    `earlier` looks up what another process has answered, `later` keeps an answer for others.
    """

    name: str
    held_parts: Pool = field(default_factory=lambda: _PARTS, compare=False, repr=False)
    held_answers: Pool = field(default_factory=lambda: _ANSWERS, compare=False, repr=False)
    earlier: Callable[[Hashable], Arrays | None] | None = field(
        default=None, compare=False, repr=False
    )
    later: Callable[[Hashable, Arrays], None] | None = field(
        default=None, compare=False, repr=False
    )

    @property
    def lasting_name(self) -> str | None:
        """The name by which later processes know the model; None where nothing is kept for them."""
        return None if self.later is None else self.name

    def __reduce__(self) -> tuple[Any, ...]:
        """The name alone travels."""
        return Kept, (self.name,)

    def key(self, xyz: Array, exact: bool, wanted: Callable[..., Any] | None = None) -> Hashable:
        """Of predictions for cells (m, 3) [m], or of a question about them."""
        return (self.name, exact, _asked(wanted), _digest(xyz))

    def answered(self, key: Hashable) -> Arrays | None:
        """Columns of a question that was answered before, as copies that are the caller's."""
        held = self.held_answers.get(key)
        if held is None and self.earlier is not None:
            held = self.earlier(key)
            if held is not None:
                self.held_answers.hold(key, held)
        return None if held is None else tuple(column.copy() for column in held)

    def answer(self, key: Hashable, columns: Arrays) -> None:
        """Hold the columns of a question."""
        made = tuple(column.copy() for column in columns)
        self.held_answers.hold(key, made)
        if self.later is not None:
            self.later(key, made)


def _digest(xyz: Array) -> bytes:
    """Tells places apart; their number is in it too."""
    return blake2b(np.ascontiguousarray(xyz).data, digest_size=20).digest()


def _asked(wanted: Callable[..., Any] | None) -> Hashable:
    """A question with its levels."""
    if isinstance(wanted, partial):
        return wanted.func, wanted.args, tuple(sorted(wanted.keywords.items()))
    return wanted
