"""GeoParquet for analysts: every table, typed; shapes as well-known binary with their CRS."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile.formats._common import TABLES_SETTING, library, sheets_of
from geoprofile.plugins import Format, Loss, Written

if TYPE_CHECKING:
    from geoprofile.site import Site


def write(site: Site, folder: str, settings: Mapping[str, Any]) -> Written:
    """A Parquet file per table; with shapes it follows GeoParquet.

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
        if sheet.table.plane == "section":
            what = "no CRS: distance and elevation on the section sheet"
            losses.append(Loss(files[-1], "dropped", what))
    return Written(tuple(files), tuple(losses))


PLUGIN = Format(
    "geoparquet",
    "A Parquet file per table, for analysts",
    ".parquet",
    write,
    needs="parquet",
    settings=(TABLES_SETTING,),
)
