"""Whether coordinates fit the CRS that the site declares: the slips that move a site elsewhere."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geoprofile.errors import Problem
from geoprofile.intake.problems import listed, place
from geoprofile.intake.sources import SOURCE_FILE, SOURCE_ROW
from geoprofile.places import axis_problem, inside_area

Reals = NDArray[np.float64]
ZONE_PREFIX = 1_000_000.0  # eastings written with the zone number in front


def crs_problems(text: str) -> list[Problem]:
    """What is wrong with the site's CRS: unknown, geographic, or no plane coordinates."""
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        crs = CRS.from_user_input(text)
    except CRSError as error:
        reason = str(error).split(":")[0]
        advice = "Write such as EPSG:32632."
        return [Problem("site.toml, crs", f"'{text}', unknown ({reason})", "a known CRS", advice)]
    if not crs.is_geographic and not crs.is_geocentric:
        return _unit_problems(crs, text)
    return [
        Problem(
            "site.toml, crs",
            f"'{text}', a CRS in degrees" if crs.is_geographic else f"'{text}'",
            "a projected CRS, in which distances are lengths",
            "Project the coordinates, for instance to the UTM zone of the site (EPSG:326 and the "
            "zone number in the north, EPSG:327 in the south).",
        )
    ]


def _unit_problems(crs: Any, text: str) -> list[Problem]:
    """Told when the axes of the CRS count in anything but metres."""
    units = [axis.unit_name for axis in crs.axis_info if axis.unit_conversion_factor != 1.0]
    if not units:
        turned = axis_problem(crs, text)
        return [] if turned is None else [turned]
    return [
        Problem(
            "site.toml, crs",
            f"'{text}', a CRS in {units[0]}",
            "a projected CRS in metres",
            "Bring the coordinates to a CRS in metres, such as the UTM zone of the site.",
        )
    ]


def check_places(boreholes: pd.DataFrame, crs: str, problems: list[Problem]) -> None:
    """Tell boreholes that lie outside the area for which the CRS is made, with the likely slip."""
    x, y = boreholes["x"].to_numpy(dtype=float), boreholes["y"].to_numpy(dtype=float)
    full = np.isfinite(x) & np.isfinite(y)
    outside = full & ~_inside(x, y, crs)
    if not outside.any():
        return
    rows = np.flatnonzero(outside)
    first = boreholes.iloc[rows[0]]
    where = place(str(first[SOURCE_FILE]), int(first[SOURCE_ROW]), "x and y")
    names = listed(boreholes["borehole"].iloc[rows].astype(str))
    problems.append(
        Problem(
            where,
            f"{x[rows[0]]:.10g}, {y[rows[0]]:.10g}, far outside the area of {crs} "
            f"(boreholes: {names})",
            "easting and northing in the site CRS",
            _likely(x[rows], y[rows], crs),
        )
    )


def _inside(x: Reals, y: Reals, crs: str) -> NDArray[np.bool_]:
    return inside_area(x, y, crs) & ~_out_of_use(x, y, crs)


def _out_of_use(x: Reals, y: Reals, crs: str) -> NDArray[np.bool_]:
    """Values like degrees, in a CRS that has an area: a polar origin may well be the site."""
    from pyproj import CRS

    system = CRS.from_user_input(crs)
    if system.area_of_use is None or _is_polar(system):
        return np.zeros(len(x), dtype=bool)
    return _like_degrees(x, y)


def _is_polar(system: Any) -> bool:
    """Whether both axes point away from, or towards, a pole."""
    ways = {axis.direction.lower() for axis in system.axis_info[:2]}
    return len(ways) == 1 and ways <= {"north", "south"}


def _like_degrees(x: Reals, y: Reals) -> NDArray[np.bool_]:
    """Within 180 m of the origin of a projection, which lies far from any site: rather degrees."""
    return np.asarray((np.abs(x) <= 180) & (np.abs(y) <= 180))


def _likely(x: Reals, y: Reals, crs: str) -> str:
    if np.all(_like_degrees(x, y)):
        return f"They look like degrees: project them to {crs} first."
    if np.all(_inside(y, x, crs)):
        return "Easting and northing seem to be swapped: exchange the two columns."
    cut = x % ZONE_PREFIX
    if np.all((x > ZONE_PREFIX) & (x < 61 * ZONE_PREFIX)) and np.all(_inside(cut, y, crs)):
        return "The zone number seems to stand before the easting: leave its digits out."
    if np.all(_inside(x * 0.3048, y * 0.3048, crs)):
        return "They may be in feet: convert them to metres, or correct the CRS in site.toml."
    return "Check crs in site.toml against the source of the coordinates, and their units."
