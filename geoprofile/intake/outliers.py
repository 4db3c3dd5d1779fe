"""Boreholes that lie far from all others: most often in the coordinates of another zone."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geoprofile.errors import Problem
from geoprofile.intake.problems import listed, place
from geoprofile.intake.sources import SOURCE_FILE, SOURCE_ROW

Reals = NDArray[np.float64]
FAR_M = 20_000.0  # no site of packer tests is this wide without its holes between
TIMES = 20.0  # how much wider a gap may be than the parts on its sides
NEAR_M = 5_000.0  # a hole this near to the others in another zone was written in that zone


def check_far_holes(
    boreholes: pd.DataFrame, known: pd.DataFrame | None, crs: str, problems: list[Problem]
) -> None:
    """Tell boreholes that lie far from the rest, with the zone in which they would not.

    The holes are joined where they lie within 20 km of each other. Where that leaves more than
    one group, and the gap is more than 20 times as wide as the widest group (two groups of one
    hole each have no width), the smaller groups are questioned.
    """
    names = boreholes["borehole"].to_numpy(dtype=object)
    xy = boreholes[["x", "y"]].to_numpy(dtype=np.float64)
    old = _others(known, names)
    every = np.vstack([xy, old])
    if len(every) < 2 or not np.isfinite(every).all():
        return
    group = _groups(every)
    if group.max() == 0:
        return
    sizes = np.bincount(group)
    main = int(np.argmax(sizes))
    far = np.flatnonzero(group[: len(xy)] != main)
    rest = every[group == main]
    if not len(far):  # what is stored lies far from what comes
        far, rest = np.arange(len(xy)), every[group != main]
    width = max(float(np.hypot(*np.ptp(every[group == g], axis=0))) for g in set(group.tolist()))
    gap = _gap(xy[far], rest)
    if gap < max(FAR_M, TIMES * width):
        return
    first = boreholes.iloc[far[0]]
    problems.append(
        Problem(
            place(str(first[SOURCE_FILE]), int(first[SOURCE_ROW]), "x and y"),
            f"{listed(pd.Series(names[far]))} at {gap / 1000:.0f} km from all other boreholes",
            "boreholes of one site in one CRS",
            _advice(names[far], xy[far], rest, crs),
        )
    )


def _others(known: pd.DataFrame | None, names: NDArray[np.object_]) -> Reals:
    """Holes of the database that are not in the files."""
    if known is None or known.empty or "x" not in known:
        return np.empty((0, 2))
    kept = known[~known["borehole"].astype(str).isin(set(names))]
    return kept[["x", "y"]].to_numpy(dtype=np.float64)


def _groups(xy: Reals) -> NDArray[np.intp]:
    """Number of the group of each hole: holes within 20 km of each other are of one group."""
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    cells, inverse = np.unique(np.floor(xy / 100.0), axis=0, return_inverse=True)
    tree = cKDTree(cells * 100.0)
    pairs = tree.sparse_distance_matrix(tree, FAR_M)
    return np.asarray(connected_components(pairs, directed=False)[1][inverse.ravel()])


def _gap(these: Reals, those: Reals) -> float:
    from scipy.spatial import cKDTree

    return float(cKDTree(those).query(these)[0].min())


def _advice(names: NDArray[np.object_], xy: Reals, rest: Reals, crs: str) -> str:
    found = _zone_where_near(xy, rest, crs)
    listed_names = listed(pd.Series(names))
    truly = "If they truly lie there, write allow_far_holes = true under [intake] in site.toml."
    if found is None:
        return f"Check the coordinates of {listed_names} for slips and for another CRS. {truly}"
    zone, distance = found
    return (
        f"{listed_names} would lie {distance:.0f} m from the others if their coordinates are in "
        f"{zone}: bring them to {crs}. {truly}"
    )


def _zone_where_near(xy: Reals, rest: Reals, crs: str) -> tuple[str, float] | None:
    """The neighbouring zone of the same projection in which the holes lie nearest the others."""
    from pyproj import Transformer
    from pyproj.exceptions import CRSError, ProjError

    best: tuple[str, float] | None = None
    for zone in neighbouring_zones(crs):
        try:
            moved = Transformer.from_crs(zone, crs, always_xy=True).transform(xy[:, 0], xy[:, 1])
        except (CRSError, ProjError):
            continue
        points = np.column_stack(moved)
        if not np.isfinite(points).all():
            continue
        distance = _gap(points, rest)
        if distance < (NEAR_M if best is None else best[1]):
            best = (zone, distance)
    return best


def neighbouring_zones(crs: str) -> list[str]:
    """CRSs of the same series with the zones beside this one, such as EPSG:32631 and 32633.

    A series is listed with rising codes: a neighbour is within two codes and differs in name only
    in its digits.
    """
    import re

    from pyproj import CRS
    from pyproj.exceptions import CRSError

    system = CRS.from_user_input(crs)
    authority = system.to_authority(min_confidence=70)
    if authority is None or not authority[1].isdigit():
        return []
    stem = re.sub(r"\d+", "#", system.name.split("/")[-1])
    found = []
    for step in (1, -1, 2, -2, 100, -100):  # by 100: the same zone south of the equator
        name = f"{authority[0]}:{int(authority[1]) + step}"
        try:
            other = CRS.from_user_input(name)
        except CRSError:
            continue
        if other.is_projected and _alike(re.sub(r"\d+", "#", other.name.split("/")[-1]), stem):
            found.append(name)
    return found


def _alike(one: str, other: str) -> bool:
    return one == other or one[:-1] == other[:-1]
