"""Blank tables to fill in, and the dictionary that explains every column."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from pathlib import Path

from geoprofile.errors import UsageError
from geoprofile.intake.files import DICTIONARY
from geoprofile.intake.inputs import BAROMETER_COLUMNS, columns_of
from geoprofile.intake.names import BAROMETER, plural
from geoprofile.intake.settings import FILE
from geoprofile.schema import INPUT, OFFSET, Column
from geoprofile.whole import whole_files

HEADINGS = ("file", "column", "unit", "needed", "meaning", "allowed", "limits")
SITE_LINES = """\
# The site. Only crs has no default: write the projected CRS of the coordinates.
# crs = "EPSG:32632"
# name = "..."
# vertical_datum = "..."
# time_zone = "UTC"               # for times without an offset
# database = "site.gpkg"
# depth_from = "ground"           # or "measuring point" (the same as "top of casing")

# How the files are written, where it is not as usual.
# [intake]
# decimal = "."                   # or ","
# thousands = "none"              # or ",", ".", " ", "'"
# gallon = "US"                   # or "imperial", for columns in gal or gpm
# delimiter = ","                 # or ";", tab as "\\t", "|"
# encoding = "utf-8"
# date_format = "%d/%m/%Y %H:%M"  # beside ISO 8601
# extra_columns = []              # columns of your own to keep
# ignore = ["old/*", "draft*.csv"]  # files to leave alone
# profiles = ["../profiles/lab.toml"]  # how other people write their files: geoprofile inspect FILE
"""


def _to_fill_in(table: str) -> tuple[Column, ...]:
    """The columns of a blank table: without those that intake fills."""
    return tuple(c for c in columns_of(table) if not c.name.endswith(OFFSET))


def write_templates(folder: Path, overwrite: bool = False) -> list[Path]:
    """Write a blank CSV per input table, a dictionary of columns, and a site.toml to fill in.

    Parameters
    ----------
    folder : Path
        Folder; made if it is not there.
    overwrite : bool
        Replace tables that are there; a site.toml is never replaced.

    Returns
    -------
    list of Path
        Files written.

    Raises
    ------
    UsageError
        One of the tables is there already; nothing is written then.
    """
    folder = Path(folder)
    tables = {plural(t.name): _to_fill_in(t.name) for t in INPUT} | {BAROMETER: BAROMETER_COLUMNS}
    paths = {name: folder / f"{name}.csv" for name in tables}
    there = [p.name for p in (*paths.values(), folder / DICTIONARY) if p.exists()]
    if there and not overwrite:
        raise UsageError(
            str(folder),
            f"{', '.join(there)} there already",
            "a folder without these files",
            "Choose another folder, or add --overwrite to replace them by blank ones.",
        )
    texts = {path: _text([[c.name for c in tables[n]]]) for n, path in paths.items()}
    texts[folder / DICTIONARY] = _text(_dictionary(tables))
    if not (folder / FILE).exists():
        texts[folder / FILE] = SITE_LINES
    with whole_files(list(texts)) as besides:
        for beside, text in zip(besides, texts.values(), strict=True):
            beside.write_text(text, encoding="utf-8", newline="")
    return list(texts)


def _text(rows: Iterable[Iterable[str]]) -> str:
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue()


def _dictionary(tables: dict[str, tuple[Column, ...]]) -> list[list[str]]:
    rows = [list(HEADINGS)]
    for name, columns in tables.items():
        for c in columns:
            needed = "yes" if c.required else "no"
            allowed = ", ".join(c.allowed)
            rows.append([f"{name}.csv", c.name, c.unit, needed, c.meaning, allowed, _limits(c)])
    return rows


def _limits(column: Column) -> str:
    parts = []
    if column.low is not None:
        parts.append(f"{column.low:g} or more")
    if column.above is not None:
        parts.append(f"above {column.above:g}")
    if column.high is not None:
        parts.append(f"at most {column.high:g}")
    return ", ".join(parts)
