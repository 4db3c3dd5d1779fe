"""GeoParquet for analysts: every table, typed; shapes as well-known binary with their CRS."""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile.formats._common import TABLES_SETTING, Sheet, library, sheets_of
from geoprofile.plugins import Format, Loss, Written
from geoprofile.schema import Column

if TYPE_CHECKING:
    from geoprofile.site import Site


def write(site: Site, folder: str, settings: Mapping[str, Any]) -> Written:
    """A Parquet file per table with units and meanings; with shapes it follows GeoParquet.

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
        Section sheets have no CRS: a loss.

    Raises
    ------
    UsageError
        The optional library is not installed.
    """
    library("pyarrow", PLUGIN.needs)
    files, losses = [], []
    for sheet in sheets_of(site, settings):
        files.append(f"{sheet.name}.parquet")
        sheet.frame.to_parquet(Path(folder) / files[-1], index=False)
        _describe(Path(folder) / files[-1], sheet)
        if sheet.table.plane == "section":
            what = "no CRS: distance and elevation on the section sheet"
            losses.append(Loss(files[-1], "dropped", what))
    return Written(tuple(files), tuple(losses))


def _describe(path: Path, sheet: Sheet) -> None:
    """Put unit and meaning into every field, title and description into the file."""
    parquet, arrow = importlib.import_module("pyarrow.parquet"), importlib.import_module("pyarrow")
    table = parquet.read_table(path)
    known = {c.name: c for c in sheet.table.columns}
    fields = [
        field.with_metadata(_told(known[field.name])) if field.name in known else field
        for field in table.schema
    ]
    about = {"title": sheet.table.title, "description": sheet.table.description}
    schema = arrow.schema(fields, {**(table.schema.metadata or {}), **about})
    parquet.write_table(arrow.Table.from_arrays(table.columns, schema=schema), path)


def _told(column: Column) -> dict[str, str]:
    unit = "pure number" if column.unit == "1" else column.unit
    return {"unit": unit, "description": column.meaning}


PLUGIN = Format(
    "geoparquet",
    "A Parquet file per table, for analysts",
    ".parquet",
    write,
    needs="parquet",
    settings=(TABLES_SETTING,),
)
