"""From a site's tables to borehole paths and the 3D lines of its intervals."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from geoprofile.errors import DataError, DataErrors, Problem
from geoprofile.geometry import Path, trajectory
from geoprofile.kept_while import made_of

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.site import Site

Array: TypeAlias = NDArray[np.float64]


@made_of("borehole", "survey", most=4)
def paths_of(site: Site) -> Mapping[str, Path]:
    """The path of every borehole of the site, in the order of the table.

    Parameters
    ----------
    site : Site
        Its tables `borehole` and `survey` are read.

    Returns
    -------
    Mapping of str to Path
        By name of the borehole; positions in x, y, elevation [m].

    Raises
    ------
    DataErrors
        Every survey that makes no path.
    """
    return MappingProxyType(paths_from(site.table("borehole"), site.table("survey")))


def paths_from(boreholes: pd.DataFrame, survey: pd.DataFrame) -> dict[str, Path]:
    """The path of every borehole of a table.

    Parameters
    ----------
    boreholes, survey : DataFrame
        As stored.

    Returns
    -------
    dict of str to Path
        By name of the borehole; positions in x, y, elevation [m].

    Raises
    ------
    DataErrors
        Every survey that makes no path.
    """
    if "depth_m" not in survey:
        survey = survey.reindex(columns=["borehole", "depth_m"])
    groups = dict(tuple(survey.sort_values("depth_m").groupby("borehole", sort=False)))
    paths: dict[str, Path] = {}
    problems: list[Problem] = []
    for hole in boreholes.to_dict("records"):
        rows = groups.get(hole["borehole"])
        stations = None
        if rows is not None:
            depth, lean, turn = (
                rows[c].to_numpy(np.float64) for c in ("depth_m", "inclination_deg", "azimuth_deg")
            )
            stations = (depth, lean, turn)
        collar = (hole["x"], hole["y"], hole["ground_elevation_m"])
        try:
            paths[hole["borehole"]] = trajectory(collar, hole["depth_m"], stations)
        except DataError as error:
            fault = error.problem
            where = f"survey of {hole['borehole']}"
            problems.append(Problem(where, fault.found, fault.expected, fault.advice))
    if problems:
        raise DataErrors(problems)
    return paths


@made_of("borehole", "survey", "interval", most=4)
def interval_lines(site: Site) -> Mapping[str, Array]:
    """The 3D line of every interval of the site.

    Parameters
    ----------
    site : Site
        Its tables `borehole`, `survey` and `interval` are read.

    Returns
    -------
    dict of str to Array, shape (k, 3) [m]
        By name of the interval: x, y, elevation from top to bottom.

    Raises
    ------
    DataErrors
        Intervals in boreholes that are not there, or with their top not above their bottom.
    """
    paths = paths_of(site)
    lines: dict[str, Array] = {}
    problems: list[Problem] = []
    for row in site.table("interval").to_dict("records"):
        where = f"interval {row['interval']}"
        path = paths.get(row["borehole"])
        if path is None:
            problems.append(
                Problem(
                    where,
                    f"borehole '{row['borehole']}'",
                    "a borehole of the site",
                    "Add the borehole, or correct its name.",
                )
            )
            continue
        try:
            lines[row["interval"]] = path.line(row["top_m"], row["bottom_m"])
        except DataError as error:
            fault = error.problem
            problems.append(Problem(where, fault.found, fault.expected, fault.advice))
    if problems:
        raise DataErrors(problems)
    return MappingProxyType(lines)
