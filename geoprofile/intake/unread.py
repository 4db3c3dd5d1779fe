"""Every file of a site folder that is not read, with the reason: told by each run and load."""

from __future__ import annotations

import csv
import difflib
import re
from collections.abc import Iterable, Sequence
from pathlib import Path

from geoprofile.errors import DataError, Problem
from geoprofile.intake.files import (
    COMPANIONS,
    DICTIONARY,
    READINGS,
    TABULAR,
    UNSAVED,
    VECTOR,
    WORKBOOK,
    files_below,
    is_ignored,
    sheet_names,
)
from geoprofile.intake.inputs import columns_of
from geoprofile.intake.names import BAROMETER, plural
from geoprofile.intake.problems import listed
from geoprofile.intake.profiles import BOOKS, READ
from geoprofile.intake.sources import SiteSettings, SourceFile
from geoprofile.schema import INPUT

SITE_FILE = "site.toml"
# a safety copy, which carries the reason and the moment in its name
SAFETY_COPY = re.compile(r"\.[a-z]+(-[a-z]+)*-\d{8}T\d{9}$")
OLD_TABLES = (".xls", ".ods", ".xlsb", ".mdb", ".accdb", ".dbf")
PEEK_BYTES = 20_000
MOST_NAMES = 30  # of one kind, named one by one
FEW = 2  # columns in common that make a file look like a table

Reason = tuple[str, str, str]  # found, expected, advice


def unread(
    folder: Path, found: Iterable[SourceFile], settings: SiteSettings
) -> tuple[Problem, ...]:
    """A remark on every file of the folder that is not read, and on every sheet of a workbook.

    Tables and what may be one are told one by one, other files together by their kind and folder.
    The program's own files (settings, profiles, database, safety copies, `out`) are left out.
    """
    folder, sources = Path(folder), tuple(found)
    read = {s.path.resolve() for s in sources}
    own = {folder / SITE_FILE, folder / DICTIONARY, folder / settings.database}
    own.add((folder / settings.database).with_suffix(".qgz"))  # the composed project
    told: list[Problem] = list(_sheets(sources))
    groups: dict[Reason, list[str]] = {}
    for path in files_below(folder):
        if path.resolve() in read or path in own or _is_own(path, settings, read):
            continue
        name = path.relative_to(folder).as_posix()
        alone, reason = _reason(path, name, settings)
        if alone:
            told.append(Problem(name, *reason))
        else:
            groups.setdefault(reason, []).append(name)
    told += [Problem(listed(names, MOST_NAMES), *reason) for reason, names in groups.items()]
    return tuple(told)


def _is_own(path: Path, settings: SiteSettings, read: set[Path]) -> bool:
    """Whether the program wrote the file, or reads it as a part of another."""
    suffix = path.suffix.casefold()
    if suffix in COMPANIONS:
        return path.with_suffix(".shp").resolve() in read
    for ending in (*UNSAVED, "-shm"):  # a GIS that only looks at a GeoPackage leaves them as well
        if path.name.endswith(f".gpkg{ending}"):
            return path.with_name(path.name.removesuffix(ending)).resolve() in read
    if suffix == ".toml":
        return "[[profile]]" in path.read_text(encoding="utf-8", errors="replace")[:PEEK_BYTES]
    base = settings.database
    if path.name in (f"{base}-journal", f"{base}-wal", f"{base}-shm"):
        return True
    return suffix == Path(base).suffix and SAFETY_COPY.search(path.stem) is not None


def _reason(path: Path, name: str, settings: SiteSettings) -> tuple[bool, Reason]:
    """Why a file is not read, and whether that is told of it alone."""
    suffix = path.suffix.casefold()
    if is_ignored(name, settings):
        return False, (
            "files that site.toml says to leave alone; not read",
            "nothing of them",
            "Take them out of [intake] ignore to have them read.",
        )
    may_hold_rows = suffix in (*READ, *VECTOR, *OLD_TABLES)
    if "/" in name and may_hold_rows and not name.startswith(f"{READINGS}/"):
        return False, _elsewhere(name)
    if suffix in OLD_TABLES:
        return True, (
            "a table in a format that is not read; it was not read",
            "CSV or .xlsx",
            "Save it again as .xlsx or CSV under the name of its table.",
        )
    if suffix in TABULAR or suffix in BOOKS:
        return True, _no_table(path)
    if suffix in READ:
        return True, (
            "a text file that no profile describes; it was not read",
            "CSV named after its table, or a profile for it",
            f"Look at it with 'geoprofile inspect {name}', which writes a profile.",
        )
    if suffix in VECTOR:
        return True, (
            "a name that fits no table; the file was not read",
            "a name such as areas, section_lines or boreholes",
            f"If it is one, rename it to, say, areas{path.suffix}.",
        )
    return False, (
        f"files that are no tables ({suffix or 'no suffix'}); not read",
        "tables as CSV or .xlsx, shapes as a vector file",
        "Nothing to do, unless they hold data of the site.",
    )


def _elsewhere(name: str) -> Reason:
    top = name.split("/")[0]
    return (
        f"files in the folder {top}, which is not read",
        f"tables at the top of the site folder, or logger files in {READINGS}",
        f"Load such a folder by itself ('geoprofile load SITE {top}'), or name its files in a "
        "profile: [[intake.profile]] files.",
    )


def _no_table(path: Path) -> Reason:
    """Why a table at the top is not read: nothing in its name says which it is."""
    if path.suffix.casefold() in BOOKS:
        return _no_sheet(path)
    table, common = _looks_like(path)
    rule = "a name that says which table it fills, such as results_May.csv"
    inspect = f"describe it with a profile ('geoprofile inspect {path.name}')"
    if table:
        better = f"{plural(table)}_{path.name}"
        return (
            f"the columns {', '.join(common)}, as {plural(table)} have; the file was not read",
            rule,
            f"Rename it to {better}, or {inspect}.",
        )
    names = {BAROMETER, *(plural(t.name) for t in INPUT)}
    near = difflib.get_close_matches(path.stem.casefold(), names, n=1, cutoff=0.75)
    better = f"rename it to {near[0]}{path.suffix}" if near else "name it after its table"
    return (
        "a name that fits no table; the file was not read",
        rule,
        f"If it is one, {better}, or {inspect}.",
    )


def _no_sheet(path: Path) -> Reason:
    try:
        sheets = ", ".join(sheet_names(path))
    except DataError as error:
        return (f"{error.problem.found}; not read", error.problem.expected, error.problem.advice)
    return (
        f"neither a name nor sheets ({sheets}) that fit a table; the workbook was not read",
        "sheets or a workbook named after tables, such as boreholes or results",
        f"Rename them, or describe it with a profile ('geoprofile inspect {path.name}').",
    )


def _looks_like(path: Path) -> tuple[str, list[str]]:
    """The table whose columns the first lines name, and these; "" for none."""
    with path.open("rb") as handle:
        text = handle.read(PEEK_BYTES).decode("utf-8-sig", errors="replace")
    best: tuple[str, list[str]] = ("", [])
    for line in text.splitlines()[:20]:
        for delimiter in ",;\t|":
            try:
                cells = next(csv.reader([line], delimiter=delimiter), [])
            except csv.Error:
                continue
            heads = {re.sub(r"\s+", "_", c.strip().casefold()) for c in cells}
            for table in INPUT:
                common = [c.name for c in columns_of(table.name) if c.name in heads]
                key = any(k in common for k in table.key)
                if key and len(common) >= max(FEW, len(best[1]) + 1):
                    best = (table.name, common)
    return best


def _sheets(sources: Sequence[SourceFile]) -> list[Problem]:
    """Sheets of workbooks that are read in part, which are not read."""
    read: dict[Path, set[str]] = {}
    names: dict[Path, str] = {}
    for source in sources:
        if source.sheet and source.path.suffix.casefold() in (*WORKBOOK, *BOOKS):
            read.setdefault(source.path, set()).add(source.sheet)
            names[source.path] = source.name.partition("#")[0]
    told = []
    for path, sheets in read.items():
        others = [s for s in sheet_names(path) if s not in sheets]
        if others:
            told.append(
                Problem(
                    names[path],
                    f"sheets that fit no table: {', '.join(others)}; not read",
                    "sheets named after tables",
                    "Rename a sheet that holds data, or describe it with a profile: key sheet.",
                )
            )
    return told
