"""Finds the files of a site folder by name, with their fingerprints; no table is opened."""

from __future__ import annotations

import difflib
import fnmatch
import hashlib
import os
import zipfile
import zlib
from pathlib import Path
from xml.etree import ElementTree

from geoprofile.errors import DataError
from geoprofile.intake.names import plural, table_of, tables_in
from geoprofile.intake.profiles import BOOKS, Profile, claimed_by, fits_path, profiles_for
from geoprofile.intake.sources import SiteSettings, SourceFile
from geoprofile.schema import INPUT

TABULAR = (".csv",)
WORKBOOK = (".xlsx",)
AGS4 = ".ags"
VECTOR = {
    ".geojson": "GeoJSON",
    ".json": "GeoJSON",
    ".gpkg": "GPKG",
    ".shp": "ESRI Shapefile",
    ".fgb": "FlatGeobuf",
}
COMPANIONS = (".dbf", ".shx", ".prj", ".cpg")
UNSAVED = (
    "-wal",
    "-journal",
)  # beside a GeoPackage, while a program writes or after it was stopped
READINGS = "readings"
DICTIONARY = "columns.csv"  # written beside blank templates; explains, holds no data
OUTPUT = "out"  # what the program writes beside the database
MOST_FILES = 20_000
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


def find_files(
    folder: Path, *, only: Path | None = None, settings: SiteSettings | None = None
) -> tuple[SourceFile, ...]:
    """The files of a site folder that fill tables, in the order of their names.

    Parameters
    ----------
    folder : Path
        Site folder.
    only : Path, optional
        A single file, in the folder or elsewhere, instead of all.
    settings : SiteSettings, optional
        Profiles that describe files by pattern, files to ignore, and the name of the database.

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
        found = _sources(Path(only), folder, settings, inside=False)
        if not found:
            raise _no_table(Path(only))
        return found
    if not folder.is_dir():
        raise DataError(str(folder), "no such folder", "a site folder", "Check the path.")
    candidates = _candidates(folder, settings)
    return tuple(s for p in candidates for s in _sources(p, folder, settings, inside=True))


def _candidates(folder: Path, settings: SiteSettings | None) -> list[Path]:
    """Files that may fill a table: at the top, below `readings`, and where a profile points."""
    wanted = (*TABULAR, *WORKBOOK, *VECTOR, AGS4)
    plain = [p for p in folder.iterdir() if p.suffix.casefold() in wanted]
    below = folder / READINGS
    logs = list(below.rglob("*")) if below.is_dir() else []
    found = {*plain, *(p for p in logs if p.suffix.casefold() in TABULAR)}
    if settings is not None:
        if settings.profiles:
            every = [(p, _relative(p, folder)) for p in files_below(folder)]
            found |= {p for p, name in every if claimed_by(p, name, settings.profiles)}
        found = {p for p in found if not is_ignored(_relative(p, folder), settings)}
        found -= {folder / settings.database}
    return sorted(found)


def files_below(folder: Path) -> list[Path]:
    """Every file of a site folder but hidden ones and those that the program wrote."""
    found: list[Path] = []
    for place, folders, names in os.walk(folder):
        top = Path(place) == folder
        folders[:] = sorted(
            d for d in folders if not d.startswith((".", "__")) and not (top and d == OUTPUT)
        )
        found += [Path(place) / n for n in sorted(names) if not n.startswith((".", "~$"))]
        if len(found) > MOST_FILES:
            raise DataError(
                str(folder),
                f"more than {MOST_FILES} files",
                "the folder of one site",
                "Give the site a folder of its own.",
            )
    return found


def is_ignored(relative: str, settings: SiteSettings) -> bool:
    """Whether site.toml says to leave a file alone."""
    return any(fits_path(pattern, relative) for pattern in settings.ignore)


def _profiles(path: Path, folder: Path, settings: SiteSettings | None) -> tuple[Profile, ...]:
    if settings is None or not settings.profiles:
        return ()
    return profiles_for(path, _relative(path, folder), settings.profiles)


def _sources(
    path: Path, folder: Path, settings: SiteSettings | None, *, inside: bool
) -> tuple[SourceFile, ...]:
    suffix = path.suffix.casefold()
    if profiles := _profiles(path, folder, settings):
        return _profiled(path, folder, profiles, inside=inside)
    below = path.parent != folder and READINGS in path.parts[:-1]
    named = ("reading",) if below and suffix in TABULAR else tables_in(path.stem)
    if suffix == AGS4:
        return _groups(_checked(path, folder, inside=inside), path, folder)
    if suffix in WORKBOOK:
        checked = _checked(path, folder, inside=inside)
        return _sheets(checked, path, folder, named[0] if named else None)
    if not named or path.name == DICTIONARY or suffix not in (*TABULAR, *VECTOR):
        _refuse_unlike(path, _relative(path, folder), settings)
        return ()
    checked = _checked(path, folder, inside=inside)
    size, digest = checked.stat().st_size, _sha256(checked)
    table = named[0] if len(named) == 1 or suffix in VECTOR else _best_of(named, checked, settings)
    return (SourceFile(checked, _relative(path, folder), table, digest, size),)


def _groups(real: Path, path: Path, folder: Path) -> tuple[SourceFile, ...]:
    """One source for each group of an AGS4 file that fills a table."""
    from geoprofile.intake.ags4 import groups_of

    size, digest, name = real.stat().st_size, _sha256(real), _relative(path, folder)
    return tuple(
        SourceFile(real, f"{name}#{group}", table, digest, size, group)
        for group, table in groups_of(real)
    )


def _refuse_unlike(path: Path, name: str, settings: SiteSettings | None) -> None:
    """Refuse a file that fits the pattern of profiles and holds the text of none of them."""
    claims = claimed_by(path, name, () if settings is None else settings.profiles)
    if not claims:
        return
    texts = " or ".join(f"'{p.contains}'" for p in claims)
    raise DataError(
        name,
        f"no {texts} in its first lines",
        f"the text by which the profile {', '.join(p.title for p in claims)} knows its files",
        "Look at the file; correct contains or files in the profile, or name the file in [intake] "
        "ignore.",
    )


def _best_of(named: tuple[str, ...], path: Path, settings: SiteSettings | None) -> str:
    """Of the tables that a name speaks of, the one whose columns the first line has most of."""
    from geoprofile.intake.inputs import columns_of

    delimiter = "," if settings is None else settings.delimiter
    with path.open("rb") as handle:
        first = handle.readline(10_000).decode("utf-8-sig", errors="replace")
    heads = {h.strip().strip('"').casefold() for h in first.split(delimiter)}
    counts = [sum(c.name in heads for c in columns_of(t)) for t in named]
    return named[counts.index(max(counts))]


def _profiled(
    path: Path, folder: Path, profiles: tuple[Profile, ...], *, inside: bool
) -> tuple[SourceFile, ...]:
    """One source per profile; a workbook may have one for each of its sheets."""
    checked, name = _checked(path, folder, inside=inside), _relative(path, folder)
    size, digest = checked.stat().st_size, _sha256(checked)
    if path.suffix.casefold() not in BOOKS:
        if len(profiles) > 1:
            raise _claimed_twice(name, profiles)
        said = _with_profile(digest, profiles[0])
        return (SourceFile(checked, name, profiles[0].table, said, size, profile=profiles[0]),)
    names = sheet_names(checked)
    made: dict[str, SourceFile] = {}
    for profile in profiles:
        for sheet in _sheets_of(profile, names, name):
            if sheet in made:
                raise _claimed_twice(f"{name}#{sheet}", profiles)
            said = _with_profile(digest, profile)
            shown = f"{name}#{sheet}"
            made[sheet] = SourceFile(checked, shown, profile.table, said, size, sheet, profile)
    for sheet in names:
        if sheet not in made and (table := table_of(sheet)):
            made[sheet] = SourceFile(checked, f"{name}#{sheet}", table, digest, size, sheet)
    return tuple(made[s] for s in names if s in made)


def _sheets_of(profile: Profile, names: list[str], name: str) -> list[str]:
    if not profile.sheet:
        return names[:1]
    found = [n for n in names if fnmatch.fnmatchcase(n.casefold(), profile.sheet.casefold())]
    if not found:
        raise DataError(
            name,
            f"no sheet '{profile.sheet}' (its sheets: {', '.join(names)})",
            f"the sheet of the profile {profile.title}",
            "Correct the key sheet of the profile, or the name of the sheet.",
        )
    return found


def _claimed_twice(name: str, profiles: tuple[Profile, ...]) -> DataError:
    return DataError(
        name,
        f"{len(profiles)} profiles that fit it: {', '.join(p.title for p in profiles)}",
        "one profile for each file or sheet",
        "Narrow the key files, or tell them apart with the key contains: a text of the first "
        "lines (for sheets: sheet).",
    )


def _with_profile(digest: str, profile: Profile) -> str:
    return hashlib.sha256(f"{digest} {profile!r}".encode()).hexdigest()


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
    """Digest of a file; of a shapefile with its companions, which hold attributes and CRS.

    Of a GeoPackage with what lies unsaved beside it: it is looked at then, and refused.
    """
    digest = hashlib.sha256()
    is_shape = path.suffix.casefold() == ".shp"
    parts = [path.with_suffix(s) for s in COMPANIONS] if is_shape else unsaved(path)
    for part in [path, *(p for p in parts if p.is_file())]:
        with part.open("rb") as handle:
            while block := handle.read(BLOCK):
                digest.update(block)
    return digest.hexdigest()


def unsaved(path: Path) -> list[Path]:
    """What holds rows beside a GeoPackage; nothing beside files of other formats."""
    if path.suffix.casefold() != ".gpkg":
        return []
    beside = [path.with_name(path.name + ending) for ending in UNSAVED]
    return [p for p in beside if p.is_file() and p.stat().st_size]


def _sheets(real: Path, path: Path, folder: Path, table: str | None) -> tuple[SourceFile, ...]:
    """A workbook named like a table fills it with its only sheet; else sheets go by their names."""
    names = sheet_names(real)
    if table is not None and len(names) == 1:
        wanted = [(names[0], table)]
    else:
        wanted = [(n, t[0]) for n in names if (t := tables_in(n))]
    if not wanted and table is not None:
        wanted = [(names[0], table)]
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
