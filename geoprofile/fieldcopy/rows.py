"""Rows of input tables as plain values by key, and back; a geometry is a column like others."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from geoprofile.schema import Table
from geoprofile.site import records_of

if TYPE_CHECKING:
    import pandas as pd

GEOMETRY = "geometry"
Key = tuple[Any, ...]
Rows = Mapping[Key, dict[str, Any]]


def rows_of(table: Table, frame: pd.DataFrame) -> dict[Key, dict[str, Any]]:
    """The columns of the schema by key; the geometry as hexadecimal WKB."""
    own = [c.name for c in table.columns if c.name in frame.columns]
    columns = [*own, *([GEOMETRY] if table.geometry else [])]
    found = {}
    for row in records_of(frame[columns]):
        plain = {name: _plain(value) for name, value in row.items()}
        found[tuple(plain[k] for k in table.key)] = plain
    return found


def _plain(value: Any) -> Any:
    if hasattr(value, "wkb_hex"):
        import shapely

        return shapely.to_wkb(value, hex=True, output_dimension=3 if value.has_z else 2)
    return value.item() if hasattr(value, "item") else value


def frame_of(table: Table, rows: Rows, crs: str) -> pd.DataFrame:
    """Rows as a frame that the store takes."""
    import pandas as pd

    frame = pd.DataFrame(list(rows.values()))
    if table.geometry is None or GEOMETRY not in frame:
        return frame
    import geopandas as gpd
    import shapely

    shapes = [None if text is None else shapely.from_wkb(text) for text in frame.pop(GEOMETRY)]
    located: pd.DataFrame = gpd.GeoDataFrame(frame, geometry=shapes, crs=crs)
    return located
