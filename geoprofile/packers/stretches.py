"""Stretches of a hole: top and bottom along it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeAlias

Stretch: TypeAlias = tuple[float, float]


def without(stretch: Stretch, gone: Iterable[Stretch]) -> list[Stretch]:
    """What is left of a stretch when the insides of others are cut out.

    Parameters
    ----------
    stretch : tuple of float [m]
        Top and bottom along the hole.
    gone : iterable of tuple of float [m]
        In any order; they may overlap.

    Returns
    -------
    list of tuple of float [m]
        In order. Ends belong to what is left, so that a single depth may be.

    References
    ----------
    Own derivation.
    """
    left = [stretch]
    for top, bottom in gone:
        left = [part for piece in left for part in _cut(piece, top, bottom)]
    return left


def _cut(piece: Stretch, top: float, bottom: float) -> list[Stretch]:
    if bottom <= piece[0] or top >= piece[1]:
        return [piece]
    return [part for part in ((piece[0], top), (bottom, piece[1])) if part[1] >= part[0]]
