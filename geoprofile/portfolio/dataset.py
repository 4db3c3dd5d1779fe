"""Tables of all sites as one GeoParquet dataset: a folder per table, a partition per site."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile.formats._common import library, sheets_of
from geoprofile.schema import DERIVED, Column
from geoprofile.whole import private_folder, refusing

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.formats._common import Sheet
    from geoprofile.site import Site

PART = "part-0.parquet"
DEGREES = "EPSG:4326"
# one type in every partition, also where all cells are empty
TYPES = {"real": "float64", "integer": "Int64", "boolean": "boolean"}


def partitions(dataset: Path, site: str) -> Iterator[Path]:
    """The partitions that a site has, table by table."""
    yield from sorted(dataset.glob(f"*/site={site}/{PART}"))


def write_partition(dataset: Path, name: str, site: Site) -> None:
    """Write the derived tables of a site, and take away those that it no longer has.

    Raises
    ------
    UsageError
        The optional library is not installed.

    Notes
    -----
    All tables are written before the first takes its place; `whole.flush_all` has them on the disk.
    Shapes on the map are in degrees (WGS 84), so that sites of different zones lie in one
    table; elevations stay in metres above the site's own datum. Shapes on section sheets have no
    CRS.
    """
    library("pyarrow", "parquet")
    wanted = [table.name for table in DERIVED if table.name in site.tables]
    written = {}
    with refusing(dataset), private_folder(dataset) as work:
        for sheet in sheets_of(site, {"tables": wanted}):
            _typed(sheet).to_parquet(work / sheet.name, index=False)
            written[dataset / sheet.name / f"site={name}" / PART] = work / sheet.name
        for path, beside in written.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            beside.replace(path)
    for path in partitions(dataset, name):
        if path not in written:
            path.unlink()


def _typed(sheet: Sheet) -> pd.DataFrame:
    """The rows with one type per column, and shapes in degrees."""
    frame: Any = sheet.frame.copy()
    if sheet.is_map and "geometry" in frame.columns:
        frame = frame.to_crs(DEGREES)
    for column in sheet.table.columns:
        frame[column.name] = frame[column.name].astype(_type(column))
    return frame  # type: ignore[no-any-return]


def _type(column: Column) -> str:
    return TYPES.get(column.kind, "string[pyarrow]")
