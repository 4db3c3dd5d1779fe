"""All tests of a hole at once: rows of its K profile, and better values of its zones."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np
import shapely

from geoprofile.geometry import Path
from geoprofile.hydraulics.hole import HoleProfile, Zones, invert_hole
from geoprofile.hydraulics.leak import Leak
from geoprofile.hydraulics.nuisances import draws_of
from geoprofile.hydraulics.tests import (
    Array,
    Conductivity,
    HydraulicTest,
    IntervalValue,
    TestAnalysis,
)
from geoprofile.remembered import of_records, remembered
from geoprofile.workers import each

FEWEST = 3  # zones of a hole with K
SHARED = ("skin, added to P", "Kv/Kh, log10", "hole radius", "riser radius")
KEPT = of_records("hole", (HoleProfile,), "hydraulics")
Place = Mapping[str, Any]
Asked = tuple[Zones, Array, Mapping[str, float]]


def profiles_of(
    places: Mapping[str, Place],
    analyses: Mapping[str, Sequence[TestAnalysis]],
    tests: Mapping[str, HydraulicTest],
) -> dict[str, tuple[list[str], HoleProfile]]:
    """The K profile of every hole with three zones or more.

    Parameters
    ----------
    places : Mapping
        Interval to its columns.
    analyses : Mapping
        Interval to its tests.
    tests : Mapping
        Test to its record.

    Returns
    -------
    dict
        Borehole to its intervals in the order of the profile's zones, and the profile.
    """
    holes: dict[str, list[tuple[str, TestAnalysis, Conductivity]]] = defaultdict(list)
    for name, of_zone in analyses.items():
        good = [a for a in of_zone if a.best is not None and a.grade != "rejected"]
        good.sort(key=lambda a: a.grade != "accepted")
        if good and good[0].best is not None and good[0].best.log_ratio:
            holes[str(places[name]["borehole"])].append((name, good[0], good[0].best))
    enough = {hole: zones for hole, zones in holes.items() if len(zones) >= FEWEST}
    asked = [_asked(zones, places, tests[zones[0][1].test]) for zones in enough.values()]
    profiles = each(inverted, None, asked)
    return {
        hole: ([n for n, _, _ in zones], profile)
        for (hole, zones), profile in zip(enough.items(), profiles, strict=True)
    }


def inverted(common: None, asked: Asked) -> HoleProfile:
    """The profile of one hole, as remembered, else as computed now.

    Parameters
    ----------
    common : None
        Holes share nothing.
    asked : tuple
        Zones, shifts of ln K by what is not known, and what is known of the hole.

    Returns
    -------
    HoleProfile
        Of the hole.
    """
    tested, shifts, known = asked
    compute = partial(invert_hole, tested, shifts, **known)
    profile: HoleProfile = remembered(asked, compute, KEPT)
    return profile


def _asked(
    zones: Sequence[tuple[str, TestAnalysis, Conductivity]],
    places: Mapping[str, Place],
    test: HydraulicTest,
) -> Asked:
    """What the profile of one hole rests on."""
    best = [b for _, _, b in zones]
    draws = draws_of(test, Leak())
    shared = [
        max(p.sd_ln for p in b.parts if p.name in SHARED[2:])
        for b in best
        if any(p.name in SHARED[2:] for p in b.parts)
    ]
    tested = Zones(
        np.array([float(places[n]["top_m"]) for n, _, _ in zones]),
        np.array([float(places[n]["bottom_m"]) for n, _, _ in zones]),
        np.array([_ln_k(b) for b in best]),
        np.array([min(max(b.log_ratio or 1.0, 1.0), 20.0) for b in best]),
        np.array([_own_sd(b) for b in best]),
    )
    shifts = np.asarray(draws.skin + draws.vertical)
    known = {
        "shared_sd_ln": float(np.mean(shared)) if shared else 0.03,
        "hole_radius_m": test.hole_radius_m,
        "kv_kh": test.kv_kh,
    }
    return tested, shifts, known


def _ln_k(best: Conductivity) -> float:
    """Ln K with nothing added to P, less what passed the element."""
    return math.log(best.k_as_fitted_m_per_s or best.k_m_per_s) - best.bias_ln + best.leak_ln_k


def _own_sd(best: Conductivity) -> float:
    """Sd of ln K by what a test does not share with the others of its hole."""
    return math.sqrt(sum(p.sd_ln**2 for p in best.parts if p.name not in SHARED))


def better(
    value: IntervalValue, name: str, names: list[str], profile: HoleProfile
) -> IntervalValue:
    """The value of a zone from all tests of its hole, where lengths differ enough to tell.

    Parameters
    ----------
    value : IntervalValue
        From its own repeats.
    name : str
        Of the interval.
    names : list of str
        Intervals in the order of the profile's zones.
    profile : HoleProfile
        Of the hole.

    Returns
    -------
    IntervalValue
        The same where the hole says no more.
    """
    if not profile.told or name not in names:
        return value
    row = names.index(name)
    low, middle, high = profile.zones[row]
    words = (
        f"from all tests of the hole: zones of different lengths put {profile.shift[1]:+.1f} on P "
        f"by skin and Kv/Kh (95 % {profile.shift[0]:+.1f} to {profile.shift[2]:+.1f}); alone it "
        f"gives {value.k_m_per_s:.2e} m/s"
    )
    return replace(
        value,
        k_m_per_s=math.exp(middle),
        k_low_m_per_s=math.exp(low),
        k_high_m_per_s=math.exp(high),
        sd_log10_k=float(profile.zone_sd[row]) / math.log(10.0),
        notes=(*value.notes, words),
    )


def cell_rows(
    hole: str, names: list[str], profile: HoleProfile, path: Path
) -> list[dict[str, Any]]:
    """Rows of `k_profile` of one hole, with their lines in space.

    Parameters
    ----------
    hole : str
        Borehole.
    names : list of str
        Intervals that the profile rests on.
    profile : HoleProfile
        K by cell.
    path : Path
        Of the hole.

    Returns
    -------
    list of dict
        From the top down.
    """
    edges = profile.edges_m
    points: Array = path.at(edges)
    words = (
        None if profile.told else "all zones are about as long: skin and Kv/Kh are not told apart"
    )
    return [
        {
            "borehole": hole,
            "top_m": float(edges[i]),
            "bottom_m": float(edges[i + 1]),
            "k_m_per_s": math.exp(profile.cells[i, 1]),
            "k_low_m_per_s": math.exp(profile.cells[i, 0]),
            "k_high_m_per_s": math.exp(profile.cells[i, 2]),
            "sd_log10_k": float(profile.cell_sd[i]) / math.log(10.0),
            "zones": len(names),
            "added_to_p": profile.shift[1],
            "added_to_p_low": profile.shift[0],
            "added_to_p_high": profile.shift[2],
            "notes": words,
            "geometry": shapely.LineString(points[i : i + 2]),
        }
        for i in range(edges.size - 1)
    ]
