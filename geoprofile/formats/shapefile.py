"""Shapefiles on request: short names with a table of names, short texts, what changed is said.

Source of the limits: ESRI Shapefile Technical Description (1998) and the dBASE table it rests on:
names of 10 characters, texts of 254 bytes, no time of day, no true empty number. From memory.
"""

from __future__ import annotations

import csv
import warnings
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from geoprofile.formats._common import TABLES_SETTING, Cell, Sheet, cells, left_out, sheets_of
from geoprofile.plugins import Format, Loss, Written
from geoprofile.schema.short_names import short_names

if TYPE_CHECKING:
    from geoprofile.site import Site

TEXT_BYTES = 254
NAMES = "column_names.csv"
SUFFIXES = (".shp", ".shx", ".dbf", ".prj", ".cpg")
CLOSE = 1e-12  # relative; below it a number counts as unchanged


def write(site: Site, folder: str, settings: Mapping[str, Any]) -> Written:
    """A Shapefile per table with shapes, and a table of the full names.

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
        Renamed columns, cut texts, changed types, rounded numbers and tables left out are losses.
    """
    sheets = sheets_of(site, settings)
    shaped = [s for s in sheets if s.table.geometry]
    flat = (s for s in sheets if not s.table.geometry)
    losses = left_out(flat, "written without shapes they would be no map; see the CSV files")
    files: list[str] = []
    names: list[tuple[str, str, str, str, str]] = []
    for sheet in shaped:
        short = short_names(sheet.columns, sheet.table.columns)
        losses += _write_sheet(Path(folder), sheet, short)
        files += [sheet.name + s for s in SUFFIXES if (Path(folder) / (sheet.name + s)).exists()]
        names += _name_rows(sheet, short)
    _write_names(Path(folder) / NAMES, names)
    return Written((*files, NAMES), tuple(losses))


def _write_sheet(folder: Path, sheet: Sheet, short: Mapping[str, str]) -> list[Loss]:
    import geopandas as gpd
    import pyogrio

    where = f"{sheet.name}.shp"
    columns, losses = _columns(sheet, short)
    frame = gpd.GeoDataFrame(columns, geometry=list(sheet.frame["geometry"]), crs=sheet.frame.crs)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # what it warns of is measured and told as a loss
        pyogrio.write_dataframe(frame, folder / where, driver="ESRI Shapefile", encoding="UTF-8")
    if sheet.frame.crs is None:
        losses.append(Loss(where, "dropped", "no CRS: distance and elevation on the section sheet"))
    return losses + _rounding(folder / where, columns, short)


def _columns(sheet: Sheet, short: Mapping[str, str]) -> tuple[dict[str, pd.Series], list[Loss]]:
    """The columns as a Shapefile takes them, and what was changed on the way."""
    where = f"{sheet.name}.shp"
    columns: dict[str, Any] = {}
    losses, empty = [], []
    for name in sheet.columns:
        place = f"{where}, {name}"
        values = cells(sheet.frame[name])
        if any(isinstance(v, bool) for v in values):
            values = [None if v is None else int(v) for v in values]
            losses.append(Loss(place, "changed", "yes and no became 1 and 0"))
        cut = [_cut(v) for v in values]
        count = sum(a != b for a, b in zip(values, cut, strict=True))
        if count:
            losses.append(Loss(place, "cut", f"{count} text(s) to {TEXT_BYTES} bytes"))
        columns[short[name]] = _series(cut)
        empty += [name] * _is_number_with_gaps(cut)
    if empty:
        what = f"empty numbers in {', '.join(empty)}, which many programs show as 0"
        losses.append(Loss(where, "changed", what))
    renamed = sum(short[n] != n for n in sheet.columns)
    if renamed:
        losses.append(Loss(where, "renamed", f"{renamed} column(s), listed in {NAMES}"))
    return columns, losses


def _cut(value: Cell) -> Cell:
    """A text of at most 254 bytes, never ending inside a character."""
    if not isinstance(value, str):
        return value
    return value.encode()[:TEXT_BYTES].decode(errors="ignore")


def _series(values: list[Cell]) -> Any:
    if any(isinstance(v, str) for v in values):
        return pd.Series(values, dtype=object)
    if any(isinstance(v, float) for v in values):
        return pd.Series([np.nan if v is None else v for v in values], dtype=float)
    return pd.Series(values, dtype="Int64")


def _is_number_with_gaps(values: list[Cell]) -> bool:
    """Whether a column of numbers has empty cells."""
    number = any(isinstance(v, (int, float)) for v in values)
    return number and any(v is None for v in values)


def _rounding(path: Path, columns: Mapping[str, Any], short: Mapping[str, str]) -> list[Loss]:
    """What reading the file back shows of numbers that did not keep all their digits."""
    import pyogrio

    back = pyogrio.read_dataframe(path, read_geometry=False)
    losses = []
    for full, name in short.items():
        if columns[name].dtype != float or name not in back:
            continue
        meant, found = columns[name].to_numpy(), back[name].to_numpy(float)
        with np.errstate(invalid="ignore", divide="ignore"):
            error = np.abs(found - meant) / np.abs(meant)
        worst = float(np.nanmax(np.where(np.isfinite(error), error, 0.0), initial=0.0))
        if worst > CLOSE:
            losses.append(Loss(f"{path.name}, {full}", "rounded", f"by up to {worst:.1g} of value"))
    return losses


def _name_rows(sheet: Sheet, short: Mapping[str, str]) -> list[tuple[str, str, str, str, str]]:
    known = {c.name: c for c in sheet.table.columns}
    return [
        (
            sheet.name,
            short[n],
            n,
            known[n].unit if n in known else "",
            known[n].meaning if n in known else "A column that the user added",
        )
        for n in sheet.columns
    ]


def _write_names(path: Path, rows: list[tuple[str, str, str, str, str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["file", "short_name", "full_name", "unit", "meaning"])
        writer.writerows(rows)


PLUGIN = Format(
    "shapefile",
    "A Shapefile per table, on request: short names, short texts, losses told",
    ".shp",
    write,
    settings=(TABLES_SETTING,),
)
