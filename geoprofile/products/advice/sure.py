"""Tests that results alone call for: the middle of a gap, and holes beside a result above."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geoprofile.kriging.design.gaps import beside_a_result_above, gaps, nearest_zone
from geoprofile.kriging.predict.doubt import is_worth_telling
from geoprofile.products.advice.known import Known, known_of

if TYPE_CHECKING:
    from geoprofile.packers import SetUp
    from geoprofile.products.advice.search import Search
    from geoprofile.products.model.fitted import Field
    from geoprofile.site import Site

HALVES = "halves what lies untested between a result above and one below, whatever the shape"
BESIDE = "first test of that hole, at the level of the nearest result above, whatever the shape"


def sure_setups(
    site: Site, field: Field, free: Sequence[SetUp], search: Search
) -> list[tuple[SetUp, str]]:
    """Set-ups that are worth while whatever shape was fitted, the surest first.

    Nothing where held-out boreholes are predicted well: there the fitted shape advises better.

    Parameters
    ----------
    site : Site
        Table interval.
    field : Field
        With a criterion; nothing for K.
    free : sequence of SetUp
        Those whose zone is new ground.
    search : Search
        All set-ups, and the paths of their holes.

    Returns
    -------
    list of (SetUp, str)
        With a clause that says why.

    Notes
    -----
    Ends of a hole count as below the criterion, as a practitioner would who closes in on an edge.
    """
    if field.criterion is None or not is_worth_telling(field.model.doubt):
        return []
    told = known_of(site, field)
    found: list[tuple[float, SetUp]] = []
    for hole, ends in _ends(search).items():
        mine = [s for s in free if s.borehole == hole]
        if mine:
            results = _results(site, field, told, hole)
            found += [
                (bottom - top, mine[k])
                for top, bottom in gaps(results, ends)
                if (k := nearest_zone(_zones(mine), 0.5 * (top + bottom), (top, bottom)))
                is not None
            ]
    found.sort(key=lambda gap: -gap[0])
    beside = _beside(field.criterion, told, free, search)
    return [*((setup, HALVES) for _, setup in found), *((setup, BESIDE) for setup in beside)]


def _ends(search: Search) -> dict[str, tuple[float, float]]:
    """Between which depths each hole can be tested at all."""
    ends: dict[str, tuple[float, float]] = {}
    for s in search.setups:
        top, bottom = ends.get(s.borehole, (s.top_m, s.bottom_m))
        ends[s.borehole] = min(top, s.top_m), max(bottom, s.bottom_m)
    return ends


def _results(
    site: Site, field: Field, told: Sequence[Known], hole: str
) -> list[tuple[float, float, bool]]:
    """Top, bottom and side of the results of a hole, those of unknown side left out."""
    rows = site.intervals.set_index("interval")
    tops, bottoms = rows["top_m"].to_dict(), rows["bottom_m"].to_dict()
    sides = [one.side(float(field.criterion or 0.0)) for one in told]
    return [
        (float(tops[name]), float(bottoms[name]), side == "above")
        for name, one, side in zip(field.evidence.intervals, told, sides, strict=True)
        if one.borehole == hole and side != "unknown"
    ]


def _zones(setups: Sequence[SetUp]) -> NDArray[np.float64]:
    return np.array([[s.top_m, s.bottom_m] for s in setups])


def _beside(
    criterion: float, told: Sequence[Known], free: Sequence[SetUp], search: Search
) -> list[SetUp]:
    """A set-up in every hole without a result, nearest to a result above, at its elevation."""
    above = [one.xyz for one in told if one.side(criterion) == "above"]
    known = {one.borehole for one in told}
    holes = sorted({s.borehole for s in free} - known)
    if not above or not holes:
        return []
    middles = {hole: _middles(hole, free, search) for hole in holes}
    collars = np.array([middles[hole][:, :2].mean(0) for hole in holes])
    found = []
    for number, nearest in beside_a_result_above(collars, np.array(above)[:, :2]):
        mine = [s for s in free if s.borehole == holes[number]]
        away = np.abs(middles[holes[number]][:, 2] - above[nearest][2])
        found.append(min(zip(away, mine, strict=True), key=lambda z: (z[0], z[1].length_m))[1])
    return found


def _middles(hole: str, free: Sequence[SetUp], search: Search) -> NDArray[np.float64]:
    depths = [0.5 * (s.top_m + s.bottom_m) for s in free if s.borehole == hole]
    return np.asarray(search.paths[hole].at(depths))
