"""A site CRS in feet: coordinates are read in feet and kept in its twin in metres.

All computing is in metres. The twin is the same projection with the same origin, only counted in
metres, so that directions stay as they are; where the EPSG list has it, it goes by its code.
"""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache

import pandas as pd

from geoprofile.errors import Problem
from geoprofile.intake.sources import SiteSettings


@cache
def metre_twin(crs: str) -> tuple[str, float] | None:
    """The twin in metres of a projected CRS in feet, and the length of its foot [m].

    None for a CRS in metres, or one that is not projected or not known.

    Notes
    -----
    The US survey foot is 1200/3937 m, the international foot 0.3048 m.

    Examples
    --------
    EPSG:2263 (New York Long Island, US survey feet) gives EPSG:32118 and 0.3048006096.
    """
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        system = CRS.from_user_input(crs)
    except CRSError:
        return None
    if not system.is_projected or len(system.axis_info) != 2:
        return None
    lengths = {axis.unit_conversion_factor for axis in system.axis_info}
    if lengths == {1.0} or len(lengths) > 1:
        return None
    said = json.loads(system.to_json())
    for axis in said["coordinate_system"]["axis"]:
        axis["unit"] = "metre"
    for member in ("id", "scope", "usages"):
        said.pop(member, None)
    said["name"] = f"{said['name'].split(' (ft')[0]} (in metres)"
    twin = CRS.from_json_dict(said)
    code = twin.to_epsg(min_confidence=70)
    return (f"EPSG:{code}" if code else twin.to_wkt("WKT2_2019")), lengths.pop()


def in_metres(settings: SiteSettings) -> SiteSettings:
    """The settings with a CRS in feet replaced by its twin in metres."""
    given = settings.coordinate_crs or settings.crs
    found = metre_twin(given)
    if found is None:
        return settings
    return replace(settings, crs=found[0], coordinate_crs=given, coordinate_m=found[1])


def places_in_metres(boreholes: pd.DataFrame, settings: SiteSettings) -> pd.DataFrame:
    """Eastings and northings of a text file in metres."""
    if settings.coordinate_m == 1.0:
        return boreholes
    scale = settings.coordinate_m
    placed = boreholes.assign(x=boreholes["x"] * scale, y=boreholes["y"] * scale)
    placed.attrs.update(boreholes.attrs)
    return placed


def told(settings: SiteSettings) -> Problem:
    """The remark on where coordinates in feet go."""
    twin = settings.crs if settings.crs.startswith("EPSG:") else "the same projection"
    return Problem(
        "site.toml, crs",
        f"'{settings.coordinate_crs}', counted in feet of {settings.coordinate_m:.10g} m",
        f"metres to compute in: coordinates of text files are read in feet and kept in {twin} in "
        "metres",
        "Nothing to do; elevations and depths carry their unit in the name of their column.",
    )
