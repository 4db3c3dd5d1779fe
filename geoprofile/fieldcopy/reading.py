"""What a copy holds when it comes back: the GeoPackage of a tablet, or what the page has saved."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path

from geoprofile.errors import DataError, UsageError
from geoprofile.fieldcopy.known import MARK
from geoprofile.fieldcopy.photos import TABLE as PHOTOS
from geoprofile.fieldcopy.photos import Source, photos_beside, photos_within
from geoprofile.fieldcopy.rows import Rows, rows_of
from geoprofile.schema import INPUT, TABLES, Table
from geoprofile.store import Store


@dataclass(frozen=True)
class Came:
    """The rows of a copy by table, whether it has all that it was given, and its photos."""

    mark: str
    rows: Mapping[str, Rows]
    is_whole: bool
    photos: Mapping[Path, Source] = field(default_factory=dict)
    told: Mapping[str, str] = field(default_factory=dict)


def read_copy(file: Path, home: Path) -> Came:
    """What a copy holds; `home` is the folder of the site, into which its photos go."""
    if file.suffix == ".json":
        return _read_page(file, home)
    store = Store.open(file)
    mark = store.settings().get(MARK)
    if not isinstance(mark, str):
        raise UsageError(
            file.name,
            "a site file that is no field copy",
            "a file that 'geoprofile field out' made",
            "Load other files with 'geoprofile load'.",
        )
    site = store.read([t.name for t in INPUT])
    rows: dict[str, Rows] = {t.name: rows_of(t, site.table(t.name)) for t in INPUT}
    holes = [str(row["borehole"]) for row in rows["borehole"].values()]
    photos = photos_beside(file, mark, rows[PHOTOS], holes, home)
    rows[PHOTOS] = photos.rows
    return Came(mark, rows, True, photos.files, photos.told)


def _read_page(file: Path, home: Path) -> Came:
    """What the page of a field copy has saved."""
    try:
        told = json.loads(file.read_text(encoding="utf-8"))
        mark, tables = str(told["copy"]), dict(told["rows"])
        rows: dict[str, Rows] = {}
        for name, listed in tables.items():
            table = TABLES[name]
            columns = {c.name for c in table.columns}
            rows[name] = {
                tuple(row[k] for k in table.key): {c: row[c] for c in row if c in columns}
                for row in listed
            }
        photos = photos_within(mark, told.get("photos", []), home)
        for name, found in {**rows, PHOTOS: photos.rows}.items():
            _check_times(TABLES[name], found)
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise DataError(
            file.name,
            f"a file that cannot be read ({type(error).__name__})",
            "what the page of a field copy has saved",
            "Save it again from the page.",
        ) from error
    if photos.rows:
        rows[PHOTOS] = photos.rows
    return Came(mark, rows, False, photos.files, photos.told)


def _check_times(table: Table, rows: Rows) -> None:
    """ValueError for a time or day that is none: the store takes them as they stand."""
    for column in table.columns:
        if column.kind not in ("datetime", "date"):
            continue
        for row in rows.values():
            text = row.get(column.name)
            if text is None:
                continue
            if column.kind == "date":
                date.fromisoformat(text)
            elif datetime.fromisoformat(text).tzinfo is None or not text.endswith("Z"):
                raise ValueError("a time without its zone")
