"""CSV: one file per table, shapes as well-known text, and a data dictionary with units."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile.formats._common import TABLES_SETTING, Cell, Sheet, cells, safe_name, sheets_of
from geoprofile.formats._datapackage import FILE as PACKAGE
from geoprofile.formats._datapackage import descriptor
from geoprofile.plugins import Format, Loss, Setting, Written
from geoprofile.schema import Column

if TYPE_CHECKING:
    from geoprofile.site import Site

FORMULA = ("=", "+", "-", "@", "\t", "\r")  # a spreadsheet would compute such a cell
GUARD = "'"
# types of columns as a GIS reads them beside a table (GDAL, driver CSV; from memory)
TYPES = {
    "real": "Real",
    "integer": "Integer64",
    "date": "Date",
    "datetime": "DateTime",
    "boolean": "Integer(Boolean)",
    "wkt": "WKT",
}
DICTIONARY = "data_dictionary.csv"
HEADINGS = ("table", "column", "type", "unit", "meaning", "allowed", "key", "may_be_empty")


def write(site: Site, folder: str, settings: Mapping[str, Any]) -> Written:
    """A CSV file per table (UTF-8, decimal points, ISO 8601 times), its types, the descriptor.

    Parameters
    ----------
    site : Site
        What may leave.
    folder : str
        Empty folder.
    settings : Mapping
        `tables`, `excel_safe`, `byte_order_mark`.

    Returns
    -------
    Written
        Cells that were guarded are losses.
    """
    encoding = "utf-8-sig" if settings.get("byte_order_mark") else "utf-8"
    guard = bool(settings.get("excel_safe", True))
    sheets = sheets_of(site, settings)
    losses: list[Loss] = []
    files = []
    for sheet in sheets:
        files.append(f"{sheet.name}.csv")
        names, columns, changed = _columns(sheet, guard)
        losses += changed
        _save(Path(folder) / files[-1], names, zip(*columns, strict=True), encoding)
        files.append(f"{sheet.name}.csvt")
        kinds = ",".join(f'"{TYPES.get(c.kind, "String")}"' for c in _described(sheet))
        (Path(folder) / files[-1]).write_text(f"{kinds}\n", encoding="ascii")
    rows = [_entry(s.name, c) for s in sheets for c in _described(s)]
    _save(Path(folder) / DICTIONARY, HEADINGS, rows, encoding)
    text = descriptor(
        safe_name(site.name).lower(),
        site.name,
        [(s, _described(s)) for s in sheets],
        encoding=encoding,
    )
    (Path(folder) / PACKAGE).write_text(text, encoding="utf-8")
    return Written((*files, DICTIONARY, PACKAGE), tuple(losses))


def _columns(sheet: Sheet, guard: bool) -> tuple[list[str], list[list[Cell]], list[Loss]]:
    names, columns, losses = list(sheet.columns), [], []
    for name in sheet.columns:
        values = cells(sheet.frame[name])
        count = sum(_is_formula(v) for v in values)
        if guard and count:
            values = [guarded(v) for v in values]
            losses.append(
                Loss(
                    f"{sheet.name}.csv, {name}",
                    "changed",
                    f"{count} text(s) that a spreadsheet would compute begin with an apostrophe",
                )
            )
        columns.append(values)
    if sheet.table.geometry:
        names.append("geometry_wkt")
        columns.append([None if g is None else g.wkt for g in sheet.frame["geometry"]])
    return names, columns, losses


def guarded(value: Any) -> Any:
    """A cell that no spreadsheet computes.

    Parameters
    ----------
    value : object
        A cell.

    Returns
    -------
    object
        With an apostrophe before it if it is a text that begins like a formula.
    """
    return f"{GUARD}{value}" if _is_formula(value) else value


def _is_formula(value: Cell) -> bool:
    """Whether it is a text that begins like a formula; a negative number is a number."""
    return isinstance(value, str) and value.startswith(FORMULA)


def _described(sheet: Sheet) -> list[Column]:
    known = {c.name: c for c in sheet.table.columns}
    shape = [Column("geometry_wkt", "text", "m", _shape_words(sheet))]
    users = Column("", "text", "", "A column that the user added")
    listed = [known.get(n, Column(n, users.kind, "", users.meaning)) for n in sheet.columns]
    return listed + (shape if sheet.table.geometry else [])


def _shape_words(sheet: Sheet) -> str:
    if sheet.table.plane == "section":
        return "Shape on the section sheet: distance along the line, elevation"
    return "Shape in the site CRS: easting, northing and, where there is a third, elevation"


def _entry(table: str, column: Column) -> tuple[str, ...]:
    return (
        table,
        column.name,
        column.kind,
        "pure number" if column.unit == "1" else column.unit,
        column.meaning,
        "; ".join(column.allowed),
        "yes" if column.key else "no",
        "no" if column.required else "yes",
    )


def _save(path: Path, names: Sequence[str], rows: Any, encoding: str) -> None:
    with path.open("w", encoding=encoding, newline="") as file:
        writer = csv.writer(file, lineterminator="\r\n")  # RFC 4180
        writer.writerow(names)
        writer.writerows([_written(v) for v in row] for row in rows)


def _written(value: Cell) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return repr(value) if isinstance(value, float) else str(value)


PLUGIN = Format(
    "csv",
    "A CSV file per table and a data dictionary with units",
    ".csv",
    write,
    settings=(
        TABLES_SETTING,
        Setting("excel_safe", True, "", "Put an apostrophe before texts that begin like a formula"),
        Setting("byte_order_mark", False, "", "Begin files with the UTF-8 byte order mark"),
    ),
)
