"""The pieces of field work that a programme chooses from, and what each costs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from geoprofile.kriging.design.programme import Work
from geoprofile.products.advice.candidates import promising, undecided_setups, untested
from geoprofile.products.advice.places import Places, depths_of, zones_of
from geoprofile.products.advice.search import K, Search
from geoprofile.products.advice.sure import sure_setups
from geoprofile.products.model.fitted import Field
from geoprofile.products.packer_plan.inputs import known_stretches

if TYPE_CHECKING:
    from geoprofile.packers import SetUp
    from geoprofile.site import Site

Array = NDArray[np.float64]
MOST_HOLES = 20  # for each quantity
UNDECIDED = 0.05  # [-] least chance of either side in the middle of a zone
RIG = "rig"


@dataclass(frozen=True, eq=False)
class Piece:
    """One test in a hole that exists, or one new borehole with all its zones.

    `lines` are the zones in space and `zones` their depths [m]; `collar` (3,) and `centre` (3,)
    [m]; `borehole` and `depth_m` are empty for a new hole and for a test; `samples` says whether
    water is taken. `sure` above 0 [-] where results alone call for it, with `why` in words.
    """

    borehole: str | None
    zones: tuple[tuple[float, float], ...]
    lines: tuple[Array, ...]
    collar: Array
    centre: Array
    depth_m: float | None
    samples: bool
    sure: float = 0.0
    why: str = ""


def pieces_of(
    site: Site,
    fields: Sequence[Field],
    search: Search,
    places: Places,
    settings: Mapping[str, Any],
) -> list[Piece]:
    """What could be done, least decided first for every quantity.

    Parameters
    ----------
    site : Site
        As for the advice.
    fields : sequence of Field
        What is asked.
    search : Search
        Set-ups that the equipment can hold.
    places : Places
        Where a borehole may be drilled [m].
    settings : Mapping
        Of the layer field_programme.

    Returns
    -------
    list of Piece
        Tests, then new boreholes [m].
    """
    samples = any(field.quantity != K for field in fields)
    return [
        *_tests(site, fields, search, settings, samples=samples),
        *_holes(fields, places, settings, samples=samples),
    ]


def works_of(
    pieces: Sequence[Piece], settings: Mapping[str, Any]
) -> tuple[list[Work], dict[str, tuple[float, float]]]:
    """Every piece with its money and days, and what has to be paid once.

    Parameters
    ----------
    pieces : sequence of Piece
        Whose zones are the candidates, in their order.
    settings : Mapping
        Costs and days of the layer field_programme.

    Returns
    -------
    list of Work, dict
        Money and days by the name of what comes once.
    """
    cost = {name: float(settings[name]) for name in settings if name.startswith("cost_")}
    hole = (cost["cost_hole"], float(settings["days_hole"]))
    once = {RIG: (cost["cost_rig"], float(settings["days_rig"]))}
    works, row = [], 0
    for number, piece in enumerate(pieces):
        count = len(piece.zones)
        each = cost["cost_test"] + (cost["cost_sample"] if piece.samples else 0.0)
        money, days = count * each, count / float(settings["tests_a_day"])
        needs = RIG
        if piece.borehole is not None:
            needs = f"hole {piece.borehole}"
            once[needs] = hole
        else:
            metres = float(piece.depth_m or 0.0)
            money += metres * cost["cost_metre"] + hole[0]
            days += metres / float(settings["metres_a_day"]) + hole[1]
        rows = tuple(range(row, row + count))
        row += count
        bars = _barred(number, pieces, settings)
        works.append(Work(rows, money, days, (needs,), bars, piece.sure))
    return works, once


def _barred(number: int, pieces: Sequence[Piece], settings: Mapping[str, Any]) -> tuple[int, ...]:
    """Pieces that test the same ground: overlapping zones of a hole, a hole beside a new one."""
    mine = pieces[number]
    found = []
    for other, piece in enumerate(pieces):
        if other == number or (piece.borehole is None) != (mine.borehole is None):
            continue
        if mine.borehole is None:
            away = float(np.linalg.norm(piece.collar[:2] - mine.collar[:2]))
            near = away < float(settings["distance_m"])
        else:
            near = piece.borehole == mine.borehole and _overlap(piece, mine) > float(
                settings["overlap"]
            )
        if near:
            found.append(other)
    return tuple(found)


def _overlap(one: Piece, other: Piece) -> float:
    """Share of a zone that another one covers."""
    (top, bottom), (first, last) = one.zones[0], other.zones[0]
    return max(min(bottom, last) - max(top, first), 0.0) / (bottom - top)


def _tests(
    site: Site,
    fields: Sequence[Field],
    search: Search,
    settings: Mapping[str, Any],
    *,
    samples: bool,
) -> list[Piece]:
    chosen: dict[tuple[str, float, float], SetUp] = {}
    sure: dict[tuple[str, float, float], tuple[float, str]] = {}
    for field in fields:
        known = known_stretches(site, field.quantity, field.round)
        free = untested(search.setups, known, overlap=float(settings["overlap"]))
        for setup in undecided_setups(field, free, search, least=UNDECIDED):
            chosen[setup.borehole, setup.top_m, setup.bottom_m] = setup
        for place, (setup, why) in enumerate(sure_setups(site, field, free, search), start=1):
            spot = setup.borehole, setup.top_m, setup.bottom_m
            chosen[spot] = setup
            sure[spot] = max(sure.get(spot, (0.0, "")), (1.0 / place, why))
    pieces = []
    for spot, setup in chosen.items():
        path = search.paths[setup.borehole]
        line = path.line(setup.top_m, setup.bottom_m)
        pieces.append(
            Piece(
                setup.borehole,
                ((setup.top_m, setup.bottom_m),),
                (line,),
                np.asarray(path.at([0.0])[0]),
                np.asarray(path.at([0.5 * (setup.top_m + setup.bottom_m)])[0]),
                None,
                samples,
                *sure.get(spot, (0.0, "")),
            )
        )
    return pieces


def _holes(
    fields: Sequence[Field], places: Places, settings: Mapping[str, Any], *, samples: bool
) -> list[Piece]:
    if not len(places.xy):
        return []
    zones = zones_of(
        places,
        first_m=float(settings["casing_m"]),
        length_m=float(settings["zone_m"]),
        spacing_m=float(settings["spacing_m"]),
    )
    if not len(zones.place):
        return []
    found: dict[tuple[float, float], Piece] = {}
    for field in fields:
        some, theirs = promising(field, places, zones, most=MOST_HOLES)
        depths = depths_of(some, theirs, float(settings["sump_m"]))
        support = theirs.support(some)
        for place in np.unique(theirs.place):
            rows = np.flatnonzero(theirs.place == place)
            x, y = (float(v) for v in some.xy[place])
            found.setdefault(
                (x, y),
                Piece(
                    None,
                    tuple((float(theirs.top[k]), float(theirs.bottom[k])) for k in rows),
                    tuple(_line(some, int(place), theirs.top[k], theirs.bottom[k]) for k in rows),
                    np.array([x, y, some.ground[place]]),
                    np.asarray(support.centre[rows].mean(0)),
                    round(float(depths[place]), 1),
                    samples,
                ),
            )
    return list(found.values())


def _line(places: Places, place: int, top: float, bottom: float) -> Array:
    ground, (x, y) = places.ground[place], places.xy[place]
    return np.array([[x, y, ground - top], [x, y, ground - bottom]])
