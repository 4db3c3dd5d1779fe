"""What intake takes and returns: the site's declarations, source files, checked tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile.errors import Problem

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.intake.profiles import Profile

SOURCE_FILE, SOURCE_ROW = "source_file", "source_row"  # columns that say where a row came from


@dataclass(frozen=True)
class SiteSettings:
    """What site.toml says: the site, how its files are written, and settings of each step.

    `decimal`, `thousands`, `delimiter`, `encoding`, `date_format`, `depth_from`, `gallon` and
    `extra_columns` declare how the files are written; a profile says otherwise for some files.
    `profile_files` names the files that profiles came from, `ignore` files to leave alone;
    `max_rows` bounds the rows of one table. `coordinate_m` is the length of one unit of the
    coordinates in text files [m], `coordinate_crs` their CRS where it is not `crs`.
    `allow_far_holes` takes boreholes that lie far from all others.
    """

    crs: str
    name: str = ""
    vertical_datum: str = "not stated"
    time_zone: str = "UTC"
    database: str = "site.gpkg"
    depth_from: str = "ground"
    date_format: tuple[str, ...] = ()
    decimal: str = "."
    thousands: str = ""
    delimiter: str = ","
    encoding: str = "utf-8"
    extra_columns: tuple[str, ...] = ()
    gallon: str = ""
    ignore: tuple[str, ...] = ()
    profiles: tuple[Profile, ...] = ()
    profile_files: tuple[str, ...] = ()
    coordinate_crs: str = ""
    coordinate_m: float = 1.0
    max_rows: int = 5_000_000
    allow_far_holes: bool = False
    settings: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class SourceFile:
    """One file (or one sheet of a workbook) that fills one table.

    `name` is the path relative to the site folder, with `#sheet` added for a sheet. `sha256` covers
    the profile too, so that a file is read again when its profile changes.
    """

    path: Path
    name: str
    table: str
    sha256: str
    size: int
    sheet: str = ""
    profile: Profile | None = None


@dataclass(frozen=True, eq=False)
class Intake:
    """Checked tables, and notes on what was read otherwise than written.

    Each frame has the columns of its table, the declared extra columns, and `source_file` and
    `source_row`, which name the place of the row for messages.
    """

    tables: Mapping[str, pd.DataFrame]
    notes: tuple[Problem, ...] = ()
    table_by_file: Mapping[str, str] = field(default_factory=dict)
    rows_by_file: Mapping[str, int] = field(default_factory=dict)
    remark_by_file: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Merge:
    """What loading changes: rows to store, keys to delete, rows of `loaded`, and findings.

    A finding has the columns of the table `finding` but `step` and `run`. Among the deletes are
    the keys of `loaded` whose row is gone from the files and from the database, and of files that
    are gone and have no row left. `overwritten` counts edits of the database that are undone.
    """

    upserts: Mapping[str, pd.DataFrame]
    deletes: Mapping[str, list[tuple[Any, ...]]]
    loaded: pd.DataFrame
    findings: tuple[Mapping[str, str], ...] = ()
    overwritten: int = 0


@dataclass
class RowChanges:
    """Keys of rows (or batches) of one table, by what differs and what is to happen to them.

    `take`, `delete`, `remember` and `forget` are done; `conflicts`, `edited`, `gone` and `added`
    (changed on both sides, edited, deleted or added in the database), `vanished` and `spared` (gone
    from a file and kept, with the file) are told. `overwritten` counts edits of the database that
    are lost.
    """

    take: list[str] = field(default_factory=list)
    delete: list[str] = field(default_factory=list)
    remember: list[str] = field(default_factory=list)
    forget: list[str] = field(default_factory=list)
    conflicts: list[str] = field(default_factory=list)
    edited: list[str] = field(default_factory=list)
    gone: list[str] = field(default_factory=list)
    added: list[str] = field(default_factory=list)
    vanished: list[tuple[str, str]] = field(default_factory=list)
    spared: list[tuple[str, str]] = field(default_factory=list)
    lost_files: frozenset[str] = frozenset()
    overwritten: int = 0
