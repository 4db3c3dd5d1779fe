"""Where sections lie: along the user's lines, through boreholes, or along the flow."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from typing import TYPE_CHECKING, Any

import numpy as np

from geoprofile.drawing.levels import nice_step
from geoprofile.errors import DataError
from geoprofile.geometry import SectionPlane
from geoprofile.products.maps.grids import domain_of

if TYPE_CHECKING:
    from geoprofile.site import Site


def line_names(site: Site) -> list[str]:
    """Names of the section lines, in the order of the table."""
    return [str(name) for name in site.table("section_line")["name"]]


def plane_of(site: Site, name: str) -> SectionPlane:
    """The plane of one of the site's section lines.

    Parameters
    ----------
    site : Site
        Its table `section_line` is read.
    name : str
        Of the line.

    Returns
    -------
    SectionPlane
        In map coordinates [m].

    Raises
    ------
    DataError
        No such line, a line of one point or of several parts.
    """
    lines = site.table("section_line")
    found = lines[lines["name"] == name]
    if found.empty:
        known = ", ".join(line_names(site)) or "none yet"
        raise DataError("section", f"'{name}'", f"one of {known}", "Check the name.")
    return _plane(name, found.geometry.iloc[0])


def through(site: Site, boreholes: Sequence[str]) -> SectionPlane:
    """A plane through boreholes, in the order given.

    Parameters
    ----------
    site : Site
        Its table `borehole` is read.
    boreholes : sequence of str
        Two or more names.

    Returns
    -------
    SectionPlane
        From the first collar to the last, running on a little at both ends [m].

    Raises
    ------
    DataError
        An unknown borehole, or fewer than two places.
    """
    collars = site.table("borehole").set_index("borehole")[["x", "y"]]
    unknown = [name for name in boreholes if name not in collars.index]
    if unknown:
        raise DataError(
            "section", f"borehole '{unknown[0]}'", "boreholes of the site", "Check the names."
        )
    inner = SectionPlane(collars.loc[list(boreholes)].to_numpy(np.float64))
    beyond = 0.05 * inner.length_m
    ends = inner.to_map([-beyond, inner.length_m + beyond], [0.0, 0.0])[:, :2]
    return SectionPlane(np.vstack([ends[:1], inner.xy[1:-1], ends[1:]]))


def along_flow(site: Site, *, across: bool = False) -> SectionPlane:
    """A plane along the direction of flow, or across it, through the middle of the boreholes.

    Parameters
    ----------
    site : Site
        Tables flow, borehole and area are read.
    across : bool
        At right angles to the flow, running to its right.

    Returns
    -------
    SectionPlane
        From edge to edge of the site area [m].

    Raises
    ------
    DataError
        The direction of flow is not known, or the line misses the site.
    """
    import shapely

    flow = site.table("flow")
    if flow.empty:
        raise DataError(
            "section", "no direction of flow", "a row in the table flow", "Load static heads."
        )
    angle = np.radians(float(flow["azimuth_deg"].iloc[0]) + (90.0 if across else 0.0))
    way = np.array([np.sin(angle), np.cos(angle)])
    middle = site.table("borehole")[["x", "y"]].to_numpy(np.float64).mean(axis=0)
    area = domain_of(site)
    reach = float(np.hypot(*np.subtract(area.bounds[2:], area.bounds[:2])))
    inside = shapely.LineString([middle - reach * way, middle + reach * way]).intersection(area)
    points = shapely.get_coordinates(inside)
    if len(points) < 2:
        raise DataError("section", "a line that misses the site", "one inside", "Draw a line.")
    order = np.argsort((points - middle) @ way)
    return SectionPlane(points[order[[0, -1]]])


def sheet_step(lengths_m: list[float]) -> float:
    """Distance between the starts of sections on the common sheet.

    Parameters
    ----------
    lengths_m : list of float [m]
        Lengths of the sections.

    Returns
    -------
    float [m]
        The next 1, 2 or 5 times a power of ten above 1.1 times the longest.

    Examples
    --------
    sheet_step([130, 250]) is 500.
    """
    return nice_step(1.1 * max(lengths_m), 1) if lengths_m else 0.0


def sheet_starts(site: Site) -> dict[str, float]:
    """Where each section begins on the common sheet.

    Parameters
    ----------
    site : Site
        Its table `section_line` is read.

    Returns
    -------
    dict of str to float [m]
        By name, in the order of the table; a line that makes no section has none.
    """
    lengths = {}
    for name in line_names(site):
        with suppress(DataError):
            lengths[name] = plane_of(site, name).length_m
    step = sheet_step(list(lengths.values()))
    return {name: k * step for k, name in enumerate(lengths)}


def _plane(name: str, shape: Any) -> SectionPlane:
    """The plane of a drawn line, with the name in the error."""
    where = f"section line '{name}'"
    if shape is not None and shape.geom_type == "MultiLineString" and len(shape.geoms) == 1:
        shape = shape.geoms[0]
    if shape is None or shape.geom_type != "LineString":
        kind = "no shape" if shape is None else f"a {shape.geom_type}"
        raise DataError(where, kind, "one line", "Redraw the line in one piece.")
    try:
        return SectionPlane(np.array(shape.coords)[:, :2])
    except DataError as error:
        fault = error.problem
        raise DataError(where, fault.found, fault.expected, fault.advice) from None
