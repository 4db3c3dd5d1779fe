"""GeoJSON after RFC 7946: WGS 84, seven decimals, right-hand rings, cut at the antimeridian."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile.formats._common import (
    HEIGHTS,
    TABLES_SETTING,
    Sheet,
    cells,
    left_out,
    sheets_of,
)
from geoprofile.formats._wgs84 import coordinates_of, to_wgs84
from geoprofile.plugins import Format, Loss, Written

if TYPE_CHECKING:
    from geoprofile.site import Site

DECIMALS = 7  # about 1 cm on the ground (RFC 7946, 11.2, speaks of 6 for about 10 cm)
WHY = "GeoJSON carries shapes on the map of the world only"


def write(site: Site, folder: str, settings: Mapping[str, Any]) -> Written:
    """A GeoJSON file per map table.

    Parameters
    ----------
    site : Site
        What may leave.
    folder : str
        Empty folder.
    settings : Mapping
        `tables`.

    Returns
    -------
    Written
        Tables without a place on the map, rounding and unshifted heights are losses.
    """
    sheets = sheets_of(site, settings)
    losses = left_out((s for s in sheets if not s.is_map), WHY)
    files = []
    for sheet in (s for s in sheets if s.is_map):
        files.append(f"{sheet.name}.geojson")
        (Path(folder) / files[-1]).write_text(_document(site, sheet), encoding="utf-8")
    return Written(tuple(files), (*losses, *_losses(site, sheets)))


def _document(site: Site, sheet: Sheet) -> str:
    """The feature collection, a feature a line."""
    features = ",\n".join(json.dumps(f, ensure_ascii=False) for f in _features(site, sheet))
    head = json.dumps(_members(site, sheet), ensure_ascii=False)[1:-1]
    return f'{{"type": "FeatureCollection", {head}, "features": [\n{features}\n]}}\n'


def _members(site: Site, sheet: Sheet) -> dict[str, str]:
    """Name, title and what the heights are, where programs show them (RFC 7946, 6.1)."""
    about = f"{sheet.table.title}. {sheet.table.description}."
    told = {"name": sheet.name, "title": sheet.table.title, "description": about}
    if not (sheet.table.geometry or "").endswith("Z"):
        return told
    datum = site.vertical_datum or "not named"
    heights = HEIGHTS.format(datum=datum)
    told["description"] += f" Third coordinates: {heights}."
    return {**told, "vertical_datum": datum, "vertical_unit": "m"}


def _features(site: Site, sheet: Sheet) -> Iterator[dict[str, Any]]:
    shapes = to_wgs84(list(sheet.frame["geometry"]), site.crs)
    columns = [cells(sheet.frame[name]) for name in sheet.columns]
    for row, shape in enumerate(shapes):
        yield {
            "type": "Feature",
            "id": row + 1,
            "geometry": None
            if shape is None
            else {"type": shape.geom_type, "coordinates": coordinates_of(shape, DECIMALS)},
            "properties": {n: c[row] for n, c in zip(sheet.columns, columns, strict=True)},
        }


def _losses(site: Site, sheets: Sequence[Sheet]) -> list[Loss]:
    """What happened to the coordinates of every file, told once."""
    drawn = [s for s in sheets if s.is_map]
    if not drawn:
        return []
    what = f"coordinates to {DECIMALS} decimals of a degree, WGS 84"
    found = [Loss("every .geojson", "rounded", what)]
    high = [s.name for s in drawn if (s.table.geometry or "").endswith("Z")]
    if high:
        words = HEIGHTS.format(datum=site.vertical_datum or "not named")
        found.append(Loss(", ".join(high), "not shifted", words))
    return found


PLUGIN = Format(
    "geojson",
    "A GeoJSON file per map table (RFC 7946, WGS 84), for the web",
    ".geojson",
    write,
    settings=(TABLES_SETTING,),
)
