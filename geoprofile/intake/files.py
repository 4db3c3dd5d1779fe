"""Finds the files of a site folder by name, with their fingerprints; no table is opened."""

from __future__ import annotations

import difflib
import hashlib
import os
import re
import zipfile
import zlib
from collections.abc import Mapping
from pathlib import Path
from xml.etree import ElementTree

from geoprofile.errors import DataError, Problem
from geoprofile.intake.sources import SourceFile
from geoprofile.schema import INPUT, renamed

TABULAR = (".csv",)
WORKBOOK = (".xlsx",)
VECTOR = {
    ".geojson": "GeoJSON",
    ".json": "GeoJSON",
    ".gpkg": "GPKG",
    ".shp": "ESRI Shapefile",
    ".fgb": "FlatGeobuf",
}
COMPANIONS = (".dbf", ".shx", ".prj", ".cpg")
IRREGULAR = {"criterion": "criteria", "lithology": "lithologies", "construction": "constructions"}
READINGS = "readings"
BAROMETER = "barometer"
DICTIONARY = "columns.csv"  # written beside blank templates; explains, holds no data
BLOCK = 1 << 20
SHEET_LIST = "xl/workbook.xml"
MOST_XML = 1 << 20
# how reading a part of a damaged archive, or of one packed in an unusual way, may fail
BROKEN_ZIP = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    OSError,
    KeyError,
    ValueError,
    RuntimeError,  # its kinds include what an unknown packing raises
)


def _names() -> dict[str, str]:
    names = {BAROMETER: BAROMETER}
    for table in INPUT:
        names[table.name] = table.name
        names[plural(table.name)] = table.name
    for old, new in renamed.TABLES.items():
        if new in names:
            names |= {old: new, plural(old): new}
    return names


def plural(table: str) -> str:
    """The name under which a file of that table usually goes."""
    return IRREGULAR.get(table, table + "s")


def table_of(name: str) -> str | None:
    """The table that a file or sheet of that name fills, in singular or plural; else None."""
    return _names().get(re.sub(r"[\s-]+", "_", name.strip().casefold()))


def find_files(folder: Path, *, only: Path | None = None) -> tuple[SourceFile, ...]:
    """The files of a site folder that fill tables, in the order of their names.

    Parameters
    ----------
    folder : Path
        Site folder.
    only : Path, optional
        A single file, in the folder or elsewhere, instead of all.

    Returns
    -------
    tuple of SourceFile
        One per file, or per sheet of a workbook.

    Raises
    ------
    DataError
        No such file or folder, a name that fits no table, or a link that leaves the folder.
    """
    folder = Path(folder)
    if only is not None:
        found = _sources(Path(only), folder, inside=False)
        if not found:
            raise _no_table(Path(only))
        return found
    if not folder.is_dir():
        raise DataError(str(folder), "no such folder", "a site folder", "Check the path.")
    return tuple(s for path in _candidates(folder) for s in _sources(path, folder, inside=True))


def strays(folder: Path) -> tuple[Problem, ...]:
    """Files whose name comes close to a table's but fits none, so that they are not read."""
    names, found = _names(), []
    for path in sorted(p for p in folder.iterdir() if p.suffix.casefold() in TABULAR + WORKBOOK):
        if path.name == DICTIONARY or table_of(path.stem):
            continue
        near = difflib.get_close_matches(path.stem.casefold(), names, n=1, cutoff=0.75)
        if near:
            found.append(
                Problem(
                    path.name,
                    "a name that fits no table; the file was not read",
                    "the name of a table",
                    f"If it is one, rename it to {near[0]}{path.suffix}.",
                )
            )
    return tuple(found)


def source_suffixes() -> Mapping[str, str]:
    """File suffixes of vector files that are read, with the driver that may open each."""
    return VECTOR


def _candidates(folder: Path) -> list[Path]:
    wanted = (*TABULAR, *WORKBOOK, *VECTOR)
    plain = [p for p in folder.iterdir() if p.suffix.casefold() in wanted]
    below = folder / READINGS
    logs = list(below.rglob("*")) if below.is_dir() else []
    return sorted([*plain, *(p for p in logs if p.suffix.casefold() in TABULAR)])


def _sources(path: Path, folder: Path, *, inside: bool) -> tuple[SourceFile, ...]:
    suffix = path.suffix.casefold()
    below = path.parent != folder and READINGS in path.parts[:-1]
    table = "reading" if below and suffix in TABULAR else table_of(path.stem)
    if suffix in WORKBOOK:
        checked = _checked(path, folder, inside=inside)
        return _sheets(checked, path, folder, table)
    if table is None or path.name == DICTIONARY or suffix not in (*TABULAR, *VECTOR):
        return ()
    checked = _checked(path, folder, inside=inside)
    size, digest = checked.stat().st_size, _sha256(checked)
    return (SourceFile(checked, _relative(path, folder), table, digest, size),)


def _relative(path: Path, folder: Path) -> str:
    try:
        return path.resolve().relative_to(folder.resolve()).as_posix()
    except ValueError:
        return path.name


def _checked(path: Path, folder: Path, *, inside: bool) -> Path:
    """The real path of a regular file; in a site folder it must lie within."""
    if not path.exists():
        raise DataError(path.name, "no such file", "a file that exists", "Check the path.")
    real = path.resolve()
    if inside and folder.resolve() not in real.parents:
        raise DataError(
            path.name,
            "a link that leaves the site folder",
            "a file in the site folder",
            "Copy the file itself into the site folder.",
        )
    if not real.is_file():
        raise DataError(path.name, "no regular file", "a file", "Check the path.")
    if not os.access(real, os.R_OK):
        raise DataError(
            path.name, "a file that may not be read", "a readable file", "Change its permissions."
        )
    return real


def _sha256(path: Path) -> str:
    """Digest of a file; of a shapefile with its companions, which hold attributes and CRS."""
    digest = hashlib.sha256()
    is_shape = path.suffix.casefold() == ".shp"
    parts = [path.with_suffix(s) for s in COMPANIONS] if is_shape else []
    for part in [path, *(p for p in parts if p.is_file())]:
        with part.open("rb") as handle:
            while block := handle.read(BLOCK):
                digest.update(block)
    return digest.hexdigest()


def _sheets(real: Path, path: Path, folder: Path, table: str | None) -> tuple[SourceFile, ...]:
    """A workbook named like a table fills it with its only sheet; else sheets go by their names."""
    names = sheet_names(real)
    if table is not None and len(names) == 1:
        wanted = [(names[0], table)]
    else:
        wanted = [(n, t) for n in names if (t := table_of(n)) is not None]
    if not wanted:
        return ()
    size, digest = real.stat().st_size, _sha256(real)
    name = _relative(path, folder)
    return tuple(SourceFile(real, f"{name}#{sheet}", t, digest, size, sheet) for sheet, t in wanted)


def sheet_names(path: Path) -> list[str]:
    """Names of the sheets of a workbook, read from its list alone.

    Raises
    ------
    DataError
        The file is no workbook.
    """
    try:
        with zipfile.ZipFile(path) as archive, archive.open(SHEET_LIST) as handle:
            content = handle.read(MOST_XML)
        if b"<!DOCTYPE" in content:
            raise ElementTree.ParseError("a document type")
        root = ElementTree.fromstring(content)  # noqa: S314  (bounded, no document type)
    except (*BROKEN_ZIP, ElementTree.ParseError) as error:
        raise DataError(
            path.name,
            f"a file that is no workbook ({error})",
            "an .xlsx workbook",
            "Save the table again as .xlsx or .csv.",
        ) from error
    return [e.attrib.get("name", "") for e in root.iter() if e.tag.rpartition("}")[2] == "sheet"]


def _no_table(path: Path) -> DataError:
    names = sorted({plural(t.name) for t in INPUT})
    near = difflib.get_close_matches(path.stem.casefold(), names, n=1)
    hint = f" Did you mean '{near[0]}'?" if near else ""
    return DataError(
        path.name,
        "a name that fits no table",
        f"a .csv, .xlsx or vector file named {', '.join(names)}",
        f"Rename the file after the table it fills.{hint}",
    )
