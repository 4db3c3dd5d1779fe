"""The site's reference system: projected, in metres, horizontal; and the plane of the sections."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from geoprofile.errors import DataError

if TYPE_CHECKING:
    from pyproj import CRS

OWN_ORGANISATION = "GEOPROFILE"
CUSTOM_SRS_ID = 100000  # a projected CRS that no authority lists
SECTION_SRS_ID = 100001
SECTION_WKT2 = (
    'ENGCRS["Section sheet (distance, elevation)",EDATUM["Section sheet"],CS[Cartesian,2],'
    'AXIS["distance (x)",east,ORDER[1]],AXIS["elevation (y)",north,ORDER[2]],'
    'LENGTHUNIT["metre",1]]'
)
SECTION_WKT1 = (
    'LOCAL_CS["Section sheet (distance, elevation)",LOCAL_DATUM["Section sheet",32767],'
    'UNIT["metre",1],AXIS["distance (x)",EAST],AXIS["elevation (y)",NORTH]]'
)


@dataclass(frozen=True)
class Reference:
    """One reference system as the file lists it."""

    srs_id: int
    name: str
    organisation: str
    code: int
    wkt1: str
    wkt2: str
    description: str

    @property
    def text(self) -> str:
        """The short name, "EPSG:32631", or the whole text of a system that no authority lists."""
        return (
            self.wkt2
            if self.organisation == OWN_ORGANISATION
            else (f"{self.organisation}:{self.code}")
        )


SECTION = Reference(
    SECTION_SRS_ID,
    "Section sheet",
    OWN_ORGANISATION,
    SECTION_SRS_ID,
    SECTION_WKT1,
    SECTION_WKT2,
    "Vertical plane of the sections: x is the distance along the line, y the elevation, in metres",
)


def site_reference(crs: str | None, *, near: tuple[float, float] | None = None) -> Reference:
    """The reference system of a site from its short name or text.

    `near` is a (longitude, latitude) [deg] on the site, for a better suggestion. DataError when
    the system is missing, unknown, geographic, compound or not in metres.
    """
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    if crs is None or not str(crs).strip():
        raise _refused("no CRS", f"Set crs in site.toml; {_advice(None, near)}")
    try:
        system = CRS.from_user_input(crs)
    except CRSError as error:
        raise _refused(f"'{crs}'", 'Write it as an EPSG code, such as "EPSG:32631".') from error
    _check_projected(system, str(crs), near)
    return _listed(system)


def _check_projected(system: CRS, text: str, near: tuple[float, float] | None) -> None:
    if system.is_compound:
        flat = system.sub_crs_list[0]
        raise _refused(
            f"the compound CRS '{text}'",
            f"Set crs to its horizontal part ({_short(flat)}) and name the heights in "
            "vertical_datum.",
        )
    if system.is_geographic:
        raise _refused(
            f"'{text}', which is geographic: its degrees are no distances",
            _advice(system, near),
        )
    if not system.is_projected or len(system.axis_info) != 2:
        raise _refused(f"'{text}' ({system.type_name})", _advice(system, near))
    units = {axis.unit_name for axis in system.axis_info}
    if units != {"metre"}:
        raise _refused(
            f"'{text}' in {', '.join(sorted(units))}",
            "Choose the CRS of the same zone in metres, and transform the coordinates to it.",
        )
    from geoprofile.places import axis_problem

    turned = axis_problem(system, text)
    if turned is not None:
        raise DataError("crs", turned.found, turned.expected, turned.advice)


def _listed(system: CRS) -> Reference:
    authority = system.to_authority(min_confidence=70)
    wkt1 = system.to_wkt("WKT1_GDAL") or system.to_wkt("WKT1_ESRI")
    wkt2 = system.to_wkt("WKT2_2015")
    area = system.area_of_use.name if system.area_of_use else "a local system"
    known = authority is not None and authority[1].isdigit()
    organisation, code = authority if known and authority else (OWN_ORGANISATION, CUSTOM_SRS_ID)
    number = int(code)
    return Reference(number, system.name, organisation, number, str(wkt1), str(wkt2), area)


def _refused(found: str, advice: str) -> DataError:
    return DataError("crs", found, "a projected CRS in metres, of the horizontal kind", advice)


def _short(system: CRS) -> str:
    authority = system.to_authority()
    return ":".join(authority) if authority else system.name


def _advice(system: CRS | None, near: tuple[float, float] | None) -> str:
    """Name the fitting UTM zone where the place is known, else say how to find it."""
    place = near or _middle(system)
    if place is None:
        return (
            "A UTM zone fits: EPSG:326NN north of the equator, EPSG:327NN south of it, "
            "where NN = (longitude + 180) / 6, rounded up."
        )
    return f"A CRS that fits there: {suggested_crs(*place)}."


def _middle(system: CRS | None) -> tuple[float, float] | None:
    """The middle of a system that covers little more than one zone; None for a wider one."""
    area = system.area_of_use if system is not None else None
    if area is None or not 0 < area.east - area.west <= 12:
        return None
    return (area.west + area.east) / 2, (area.south + area.north) / 2


def suggested_crs(longitude_deg: float, latitude_deg: float) -> str:
    """The WGS 84 / UTM zone of a place, as "EPSG:32631 (WGS 84 / UTM zone 31N)"."""
    zone = int((longitude_deg + 180) % 360 // 6) + 1
    half, base = ("N", 32600) if latitude_deg >= 0 else ("S", 32700)
    return f"EPSG:{base + zone} (WGS 84 / UTM zone {zone}{half})"
