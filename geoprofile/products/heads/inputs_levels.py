"""Water levels as depths: what a crew wrote down, along the hole or vertical, said in one way."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from geoprofile.geometry import Depth, Path, along_hole, depth_of
from geoprofile.products.boreholes.inputs import paths_from
from geoprofile.schema.inputs import DEPTH_ALONG, DEPTH_VERTICAL
from geoprofile.site import records_of

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.site import Site

Row = Mapping[str, Any]
# what an empty cell means: a tape lies along the hole; a zone's level was always asked for vertical
USUAL = {"water_level": DEPTH_ALONG, "interval": DEPTH_VERTICAL}
APART_M = 0.02  # [m] the two ways agree within the error of a dip


def dipped_level(path: Path, row: Row) -> Depth:
    """The level of a row of the table water_level.

    Parameters
    ----------
    path : Path
        Of its borehole.
    row : Mapping
        `depth_to_water_m` and `depth_is`, which may be empty or missing: along the hole then.

    Returns
    -------
    Depth
        In all three ways [m].
    """
    way = row.get("depth_is") or USUAL["water_level"]
    return depth_of(path, float(row["depth_to_water_m"]), str(way))


def zone_level(path: Path, row: Row) -> Depth | None:
    """The static level of a row of the table interval.

    Parameters
    ----------
    path : Path
        Of its borehole.
    row : Mapping
        `static_depth_m` and `static_depth_is`, which may be empty or missing: vertical then.

    Returns
    -------
    Depth or None
        In all three ways [m]; None where no level was given.
    """
    if row.get("static_depth_m") is None:
        return None
    way = row.get("static_depth_is") or USUAL["interval"]
    return depth_of(path, float(row["static_depth_m"]), str(way))


def with_vertical_levels(
    intervals: pd.DataFrame, boreholes: pd.DataFrame, survey: pd.DataFrame
) -> pd.DataFrame:
    """Intervals whose static depths are all vertical, for readings that count from the level.

    Parameters
    ----------
    intervals, boreholes, survey : DataFrame
        As they will be stored.

    Returns
    -------
    DataFrame
        `static_depth_m` vertical [m].
    """
    if "static_depth_is" not in intervals or "static_depth_m" not in intervals:
        return intervals
    along = (intervals["static_depth_is"] == DEPTH_ALONG) & intervals["static_depth_m"].notna()
    if not along.any():
        return intervals
    paths = paths_from(boreholes, survey)
    depths = intervals["static_depth_m"].astype("float64").copy()
    for label in intervals.index[along]:
        path = paths.get(str(intervals.at[label, "borehole"]))
        if path is not None:
            depths[label] = along_hole(path, float(depths[label])).vertical_m
    return intervals.assign(static_depth_m=depths)


def unsaid_levels(site: Site, paths: Mapping[str, Path]) -> dict[str, tuple[str, float, float]]:
    """Holes with levels that do not say how they were measured, where it makes a difference.

    Parameters
    ----------
    site : Site
        Tables interval and water_level.
    paths : Mapping of str to Path
        By borehole.

    Returns
    -------
    dict of str to (table, depth, elevation apart)
        By borehole: where the level is, what it says [m], and how far the two ways lie apart [m].
    """
    found: dict[str, tuple[str, float, float]] = {}
    for table, value, way in (
        ("water_level", "depth_to_water_m", "depth_is"),
        ("interval", "static_depth_m", "static_depth_is"),
    ):
        for row in records_of(site.table(table)):
            depth, hole = row[value], str(row["borehole"])
            if depth is None or row.get(way) or hole not in paths:
                continue
            apart = apart_m(paths[hole], float(depth))
            if apart > max(APART_M, found.get(hole, ("", 0.0, 0.0))[2]):
                found[hole] = (table, float(depth), apart)
    return found


def apart_m(path: Path, depth_m: float) -> float:
    """How far apart a level lies if its depth is taken in one way or the other [m].

    Parameters
    ----------
    path : Path
        Of the borehole.
    depth_m : float [m]
        As written.

    Returns
    -------
    float [m]
        0 in a vertical hole.
    """
    heights = [depth_of(path, depth_m, way).elevation_m for way in (DEPTH_ALONG, DEPTH_VERTICAL)]
    return abs(heights[0] - heights[1])


def latest_levels(
    paths: Mapping[str, Path], zones: Sequence[Row], dips: Sequence[Row]
) -> dict[str, Depth]:
    """The level of each hole: the latest of the open hole, else the highest of its zones.

    Parameters
    ----------
    paths : Mapping of str to Path
        By borehole.
    zones, dips : sequence of Mapping
        Rows of the tables interval and water_level.

    Returns
    -------
    dict of str to Depth
        By borehole. The highest level of a zone stands in, since more water outside a packer
        element asks for more pressure.
    """
    found: dict[str, Depth] = {}
    for row in zones:
        level = zone_level(paths[str(row["borehole"])], row)
        known = found.get(str(row["borehole"]))
        if level is not None and (known is None or level.vertical_m < known.vertical_m):
            found[str(row["borehole"])] = level
    open_hole = [r for r in dips if not r["interval"] and r["depth_to_water_m"] is not None]
    for row in sorted(open_hole, key=lambda r: str(r["measured_at"] or "")):
        found[str(row["borehole"])] = dipped_level(paths[str(row["borehole"])], row)
    return found
