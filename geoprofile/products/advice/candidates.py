"""Which set-ups of the packers on hand are worth a closer look: new ground, and undecided."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geoprofile.products.advice.places import Places, Zones
from geoprofile.products.advice.search import Search, uncertain

if TYPE_CHECKING:
    from geoprofile.packers import SetUp
    from geoprofile.products.model.fitted import Field

MOST_CANDIDATES = 80
MOST_PLACES = 40
KEEP_FROM = 0.15  # [-] of the least decided zone of a hole: zones below that are not proposed


def untested(
    setups: Sequence[SetUp],
    known: Mapping[str, Sequence[tuple[float, float]]],
    *,
    overlap: float,
) -> list[SetUp]:
    """The set-ups whose zone is new ground.

    Parameters
    ----------
    setups : sequence of SetUp
        What is possible.
    known : Mapping
        Stretches already known [m] by borehole.
    overlap : float [-]
        Largest share of a zone that may be known already.

    Returns
    -------
    list of SetUp
        In the same order.
    """
    return [s for s in setups if _overlap(s, known.get(s.borehole, ())) <= overlap + 1e-9]


def _overlap(setup: SetUp, known: Sequence[tuple[float, float]]) -> float:
    """Share of a zone that known stretches cover; they may overlap each other."""
    covered, reached = 0.0, setup.top_m
    for top, bottom in sorted(known):
        start, end = max(top, reached), min(bottom, setup.bottom_m)
        if end > start:
            covered += end - start
            reached = end
    return covered / setup.length_m


def undecided_setups(
    field: Field, setups: Sequence[SetUp], search: Search, *, least: float
) -> list[SetUp]:
    """The set-ups that are undecided themselves, least decided first, and no shifts of the same.

    Parameters
    ----------
    field : Field
        What is asked.
    setups : sequence of SetUp
        What is possible.
    search : Search
        With the paths of their holes.
    least : float [-]
        Chance of either side that is undecided; for K, share of the largest variance.

    Returns
    -------
    list of SetUp
        At most `MOST_CANDIDATES`.

    Notes
    -----
    The expected gain takes the field as normal, which makes a test far from the edge look better
    than it is: a zone whose answer is known already is no candidate.
    """
    score = _score(field, setups, search)
    if field.criterion is None and len(score):
        least *= float(score.max())
    order = np.argsort(-score * _by_length(setups), kind="stable")
    return _spread([setups[k] for k in order if score[k] >= least], MOST_CANDIDATES)


def promising_setups(field: Field, setups: Sequence[SetUp], search: Search) -> list[SetUp]:
    """The set-ups that are least decided themselves; aiming at the edge is what counts most."""
    score = _score(field, setups, search) * _by_length(setups)
    return [setups[k] for k in np.sort(np.argsort(-score, kind="stable")[:MOST_CANDIDATES])]


def _by_length(setups: Sequence[SetUp]) -> NDArray[np.float64]:
    return np.sqrt([s.length_m for s in setups])


def _score(field: Field, setups: Sequence[SetUp], search: Search) -> NDArray[np.float64]:
    """How uncertain the middle of each zone is."""
    middles = np.empty((len(setups), 3))
    for name, path in search.paths.items():
        here = [k for k, s in enumerate(setups) if s.borehole == name]
        if here:
            middles[here] = path.at([0.5 * (setups[k].top_m + setups[k].bottom_m) for k in here])
    return uncertain(field, middles)


def _spread(setups: Sequence[SetUp], most: int) -> list[SetUp]:
    """The first few of which none covers half of one before it: shifts by a step teach the same."""
    kept: list[SetUp] = []
    taken: dict[str, list[tuple[float, float]]] = {}
    for setup in setups:
        mine = taken.setdefault(setup.borehole, [])
        if all(
            min(setup.bottom_m, last) - max(setup.top_m, first) <= 0.5 * setup.length_m
            for first, last in mine
        ):
            mine.append((setup.top_m, setup.bottom_m))
            kept.append(setup)
        if len(kept) == most:
            break
    return kept


def promising(
    field: Field, places: Places, zones: Zones, *, most: int = MOST_PLACES
) -> tuple[Places, Zones]:
    """The places whose zones are least decided, and of each the zones that matter.

    Parameters
    ----------
    field : Field
        What is asked.
    places, zones : Places, Zones
        All of them [m].
    most : int [-]
        Places to keep.

    Returns
    -------
    Places, Zones
        Fewer, renumbered [m].
    """
    score = uncertain(field, zones.support(places).centre)
    worst = np.zeros(len(places.xy))
    np.maximum.at(worst, zones.place, score)
    useful = score >= KEEP_FROM * worst[zones.place]
    total = np.bincount(zones.place[useful], weights=score[useful], minlength=len(places.xy))
    best = np.sort(np.argsort(-total, kind="stable")[:most])
    number = np.full(len(places.xy), -1)
    number[best] = np.arange(len(best))
    kept = zones.take(np.flatnonzero(useful & (number[zones.place] >= 0)))
    return places.take(best), Zones(number[kept.place].astype(np.intp), kept.top, kept.bottom)
