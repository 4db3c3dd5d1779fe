"""Whether a CRS suits a site: which way its axes point, and where on the globe it holds."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from geoprofile.errors import Problem

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray
    from pyproj import CRS

MARGIN_DEG = 2.0  # around the area of use: sites near its edge are common
SAME_M = 0.01  # two projections are mirror images when they agree this well


def axis_problem(system: CRS, text: str) -> Problem | None:
    """Told when the axes count to the west or the south, so that all directions would be turned.

    Parameters
    ----------
    system : CRS
        Projected.
    text : str
        As the user wrote it.

    Returns
    -------
    Problem or None
        With the CRS of the same projection that counts to the east and north, where one is known.

    Notes
    -----
    Easting and northing in the other order are no fault: x is always the easting. Both axes of a
    polar projection point the same way, from the pole along two meridians, and are kept.
    """
    ways = [axis.direction.lower() for axis in system.axis_info[:2]]
    if ways in (["north", "north"], ["south", "south"]) or not {"west", "south"} & set(ways):
        return None
    twin = east_north_twin(system)
    advice = (
        f"Use {twin}, which is the same projection counted to the east and north, and give the "
        "coordinates with their signs changed."
        if twin
        else "Define the same projection with axes to the east and north, as text for crs (WKT, or "
        "'+proj=... +axis=enu'), and change the signs of the coordinates."
    )
    return Problem(
        "site.toml, crs",
        f"'{text}', whose axes count to the {' and '.join(ways)}",
        "axes to the east and north, or azimuths, flow and maps are turned",
        advice,
    )


def east_north_twin(system: CRS) -> str | None:
    """The listed CRS with the same projection whose axes count to the east and north.

    Parameters
    ----------
    system : CRS
        With axes to the west or south.

    Returns
    -------
    str or None
        Such as "EPSG:5514 (S-JTSK / Krovak East North)"; None where none is listed.

    Notes
    -----
    A candidate counts when it shares the datum and gives the same coordinates with the other sign
    at three places of the area; what a name says is not believed.
    """
    from pyproj.aoi import AreaOfInterest
    from pyproj.database import query_crs_info
    from pyproj.enums import PJType

    area, base = system.area_of_use, system.geodetic_crs
    if area is None or base is None:
        return None
    stem = base.name.split(" ")[0]
    window = AreaOfInterest(area.west, area.south, area.east, area.north)
    listed = query_crs_info(pj_types=[PJType.PROJECTED_CRS], area_of_interest=window, contains=True)
    listed = [i for i in listed if not i.deprecated and i.name.startswith(stem)]
    for info in sorted(listed, key=lambda i: (i.auth_name != "EPSG", i.code)):
        name = f"{info.auth_name}:{info.code}"
        if _is_twin(name, system):
            return f"{name} ({info.name})"
    return None


def _is_twin(name: str, system: CRS) -> bool:
    """Whether a listed CRS counts east and north and mirrors this one at three places."""
    import numpy as np
    from pyproj import CRS, Transformer
    from pyproj.exceptions import CRSError, ProjError

    area, base = system.area_of_use, system.geodetic_crs
    if area is None or base is None:
        return False
    try:
        other = CRS.from_user_input(name)
        ways = {axis.direction.lower() for axis in other.axis_info[:2]}
        if ways != {"east", "north"} or other.geodetic_crs is None:
            return False
        share = np.array([0.3, 0.5, 0.8])
        lon = area.west + share * (area.east - area.west)
        lat = area.south + share[::-1] * (area.north - area.south)
        mine = Transformer.from_crs(base, system, always_xy=True).transform(lon, lat)
        theirs = Transformer.from_crs(other.geodetic_crs, other, always_xy=True).transform(lon, lat)
    except (CRSError, ProjError):
        return False
    ours = np.abs(np.asarray(mine))
    straight = np.abs(np.asarray(theirs))
    # the southing may stand first in the one and the easting in the other
    return any(bool(np.all(np.abs(order - straight) < SAME_M)) for order in (ours, ours[::-1]))


def inside_area(x: ArrayLike, y: ArrayLike, crs: str) -> NDArray[np.bool_]:
    """Which points lie in the area for which a CRS is made, with a margin.

    Parameters
    ----------
    x, y : Array, shape (n,) [m]
        Easting and northing.
    crs : str
        With or without an area of use.

    Returns
    -------
    Array of bool, shape (n,)
        True everywhere for a CRS without an area.

    Notes
    -----
    Longitude and latitude are held against the area; the margin is a distance, so that a degree of
    longitude counts for little near the poles, where an area that reaches them is all round.
    """
    import numpy as np
    from pyproj import CRS, Transformer

    system = CRS.from_user_input(crs)
    easting, northing = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    area = system.area_of_use
    if area is None:
        return np.isfinite(easting) & np.isfinite(northing)
    flat = system.to_2d()
    lon, lat = Transformer.from_crs(flat, "EPSG:4326", always_xy=True).transform(easting, northing)
    back = Transformer.from_crs("EPSG:4326", flat, always_xy=True)
    again_x, again_y = back.transform(lon, lat)
    with np.errstate(invalid="ignore"):
        # far from its area a projection need not find its way back
        returns = (np.abs(again_x - easting) < 1.0) & (np.abs(again_y - northing) < 1.0)
        fits_lat = (lat >= area.south - MARGIN_DEG) & (lat <= area.north + MARGIN_DEG)
        width = (area.east - area.west) % 360.0 or 360.0
        narrow = np.maximum(np.cos(np.radians(np.clip(lat, -90.0, 90.0))), 1e-6)
        margin = np.minimum(MARGIN_DEG / narrow, 180.0)
        east_of = (lon - area.west + margin) % 360.0
        fits_lon = (width + 2 * margin >= 360.0) | (east_of <= width + 2 * margin)
        return np.asarray(
            np.isfinite(lon) & np.isfinite(lat) & returns & fits_lat & fits_lon, dtype=bool
        )


DEGREE_DECIMALS = 6  # about a decimetre, far finer than a hand-held receiver


def longitude_latitude(
    x: Sequence[float], y: Sequence[float], crs: str
) -> list[tuple[float | None, float | None]]:
    """Places in longitude and latitude, WGS 84, as a hand-held receiver takes them.

    Parameters
    ----------
    x, y : sequence of float [m]
        In the CRS.
    crs : str
        CRS of the site.

    Returns
    -------
    list of (float, float) [deg]
        None and None where the CRS has no tie to the globe, such as a mine grid.
    """
    from pyproj import CRS, Transformer
    from pyproj.exceptions import ProjError

    try:
        to_globe = Transformer.from_crs(CRS.from_user_input(crs), 4326, always_xy=True)
        lon, lat = to_globe.transform(list(x), list(y))
    except ProjError:
        return [(None, None)] * len(x)
    rounded = [
        (round(a, DEGREE_DECIMALS), round(b, DEGREE_DECIMALS))
        for a, b in zip(lon, lat, strict=True)
    ]
    return [pair if all(map(math.isfinite, pair)) else (None, None) for pair in rounded]


def crs_name(text: str) -> str:
    """What to call a CRS on a sheet.

    Parameters
    ----------
    text : str
        As the site has it: a code, or the whole text of a system that no authority lists.

    Returns
    -------
    str
        The code, or the name that stands in the text.
    """
    from pyproj import CRS

    return CRS.from_user_input(text).name if "[" in text or "+" in text else text
