"""Files into the site file: all of them or none."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile import intake
from geoprofile.app.moments import now
from geoprofile.app.outcome import Outcome, silent
from geoprofile.errors import DataError, DataErrors, Problem
from geoprofile.schema import INPUT, TABLES
from geoprofile.store import Changes, Store, WriteReport, needed, safety_copy, until_unchanged

if TYPE_CHECKING:
    from geoprofile.engine.computing import Announce
    from geoprofile.site import Site

MOST_TOLD = 5  # findings of a load that are told at once


def create(
    path: Path, *, crs: str, name: str = "", vertical_datum: str = "", overwrite: bool = False
) -> Outcome:
    """A new, empty site file.

    Parameters
    ----------
    path : Path
        File to make.
    crs : str
        Projected CRS, such as EPSG:32632.
    name, vertical_datum : str
        In words.
    overwrite : bool
        Replace a file that is there.

    Returns
    -------
    Outcome
        The file.
    """
    given = intake.in_metres(intake.SiteSettings(crs=crs))
    store = Store.create(
        path,
        name=name or path.stem,
        crs=given.crs,
        vertical_datum=vertical_datum,
        settings={"coordinate_crs": crs} if given.coordinate_crs else {},
        overwrite=overwrite,
    )
    return Outcome(path, {}, files=(path,), remarks=store.remarks)


def load(
    path: Path,
    sources: Sequence[Path],
    *,
    prefer: str | None = None,
    prune: bool = False,
    announce: Announce = silent,
) -> Outcome:
    """Load tables into a site file: all of them or none.

    Parameters
    ----------
    path : Path
        Site file.
    sources : Sequence of Path
        A site folder, or single files.
    prefer, prune, announce
        As for `run`.

    Returns
    -------
    Outcome
        Rows stored by table.
    """
    store = Store.open(path)
    folder = sources[0] if len(sources) == 1 and sources[0].is_dir() else sources[0].parent
    settings = _settings_for(store, folder)
    whole = len(sources) == 1 and sources[0].is_dir()
    files = [
        f
        for s in sources
        for f in (
            intake.find_files(s, settings=settings)
            if s.is_dir()
            else intake.find_files(folder, only=s, settings=settings)
        )
    ]
    left = [p for s in sources if s.is_dir() for p in _unread(s, files, settings)]
    loaded, remarks = load_into(
        store,
        files,
        settings,
        command="load",
        whole=whole,
        folder=folder,
        prefer=prefer,
        prune=prune,
        announce=announce,
    )
    return Outcome(path, loaded, remarks=(*store.remarks, *left, *remarks))


def _unread(folder: Path, files: Sequence[Any], settings: Any) -> tuple[str, ...]:
    return tuple(str(problem) for problem in intake.unread(folder, files, settings))


def _origin(database: Path, folder: Path) -> str:
    """The folder of some files as seen from the database; "" for the database's own."""
    home = database.resolve().parent
    try:
        seen = Path(os.path.relpath(folder.resolve(), home)).as_posix()
    except ValueError:  # on another drive
        seen = folder.resolve().as_posix()
    return "" if seen == "." else seen


def _keyed(files: Sequence[Any], origin: str) -> dict[str, str]:
    """Under which name the database keeps each file: two folders may have a file of one name."""
    return {f.name: f"{origin}/{f.name}" if origin else f.name for f in files}


def _under_keys(taken: intake.Intake, keys: Mapping[str, str]) -> intake.Intake:
    """What was read, with the names under which the database keeps the files."""
    if all(name == key for name, key in keys.items()):
        return taken
    import pandas as pd

    tables = {}
    for name, frame in taken.tables.items():
        homes = [keys.get(f, f) for f in frame["source_file"]]
        tables[name] = frame.assign(source_file=pd.Series(homes, frame.index, dtype="object"))
        tables[name].attrs["files"] = tuple(keys[f] for f in frame.attrs.get("files", ()))
    return replace(
        taken,
        tables=tables,
        table_by_file={keys[f]: t for f, t in taken.table_by_file.items()},
        rows_by_file={keys[f]: n for f, n in taken.rows_by_file.items()},
        remark_by_file={keys[f]: r for f, r in taken.remark_by_file.items()},
    )


def _settings_for(store: Store, folder: Path) -> intake.SiteSettings:
    """site.toml beside the files, or what the site file itself knows."""
    if (folder / "site.toml").exists():
        return intake.in_metres(intake.read_settings(folder))
    site = store.read(["borehole"])
    known = site.settings
    settings = intake.SiteSettings(
        name=site.name,
        crs=site.crs,
        coordinate_crs=str(known.get("coordinate_crs", "")),
        vertical_datum=site.vertical_datum,
        time_zone=str(known.get("time_zone", "UTC")),
        depth_from=str(known.get("depth_from", "ground")),
        allow_far_holes=bool(known.get("allow_far_holes", False)),
        settings={k: v for k, v in known.items() if isinstance(v, Mapping)},
    )
    return intake.in_metres(settings)


def load_into(
    store: Store,
    files: Sequence[Any],
    settings: Any,
    *,
    command: str,
    whole: bool,
    folder: Path,
    prefer: str | None,
    prune: bool,
    announce: Announce,
) -> tuple[dict[str, int], tuple[str, ...]]:
    """Read the files and store what they change, unless files and input tables are as last loaded.

    `whole` says that these are all files of `folder`, so that one that was loaded from there and is
    not among them is missing; what came from other folders is no concern of this load. What another
    program saves while the files are read is read again and merged.
    """

    def once() -> tuple[dict[str, int], tuple[str, ...]]:
        return _load_once(
            store,
            files,
            settings,
            command=command,
            folder=folder,
            whole=whole,
            prefer=prefer,
            prune=prune,
            announce=announce,
        )

    return until_unchanged(once)


def _load_once(
    store: Store,
    files: Sequence[Any],
    settings: Any,
    *,
    command: str,
    folder: Path,
    whole: bool,
    prefer: str | None,
    prune: bool,
    announce: Announce,
) -> tuple[dict[str, int], tuple[str, ...]]:
    origin = _origin(store.path, folder)
    keys = _keyed(files, origin)
    known = store.rows("source_file", ["source_file", "fingerprint", "folder"])
    before = {name: print_ for name, print_, _ in known}
    here = {name for name, _, came_from in known if (came_from or "") == origin}
    lost = here - set(keys.values()) if whole else set()
    same = not lost and all(before.get(keys[f.name]) == f.sha256 for f in files)
    asked = prefer is not None or prune
    same = same and not asked and _is_stored(store, _site_values(settings))
    if same and store.marks().is_as_loaded:
        return {}, ()
    started = now()
    site, marks = store.snapshot()
    taken = intake.read_files(files, settings, site.tables, progress=announce("load"))
    taken = _under_keys(taken, keys)
    merged = intake.merge(
        taken.tables,
        site.tables,
        site.table("loaded"),
        {table: file for file, table in taken.table_by_file.items()},
        prefer=prefer,
        prune=prune,
        lost_files=lost,
    )
    copy, kept = _kept_before(store, merged)
    report = _written(
        store,
        copy,
        Changes(
            command=command,
            settings={"prefer": prefer, "prune": prune},
            inputs=hashes(files),
            started_at=started,
            upserts=merged.upserts,
            deletes=merged.deletes,
            findings=_load_findings(merged.findings),
            steps_that_found=("load",),
            found_in=None if whole else list(taken.tables),
            seen=marks.without_steps(),
            is_whole_load=whole or marks.is_as_loaded or _is_empty(site),
            loaded=merged.loaded,
            source_files=_source_rows(files, taken, keys, origin),
            site=_site_values(settings),
        ),
    )
    stored = {name: len(rows) for name, rows in merged.upserts.items() if len(rows)}
    told = _told(merged.findings) if command == "load" else ()
    return stored, (*(str(note) for note in taken.notes), *kept, *told, *report.remarks)


def _told(findings: Sequence[Mapping[str, str]]) -> tuple[str, ...]:
    """What this load found, for the user; the whole of it is in the table `finding`."""
    if not findings:
        return ()
    shown = [f"{f['source_table']} {f['row_key']} {f['what']}" for f in findings[:MOST_TOLD]]
    more = len(findings) - len(shown)
    rest = [f"{more} more; 'geoprofile show SITE finding' lists them"] if more else []
    return (f"{len(findings)} finding(s) where files and database differ", *shown, *rest)


def _written(store: Store, copy: Path | None, changes: Changes) -> WriteReport:
    """Store the changes; a safety copy that was taken for nothing goes."""
    with needed(copy, store.path):
        return store.write(changes)


def _is_empty(site: Site) -> bool:
    """Whether no input table has a row."""
    return not any(len(site.table(t.name)) for t in INPUT)


def _kept_before(store: Store, merged: Any) -> tuple[Path | None, tuple[str, ...]]:
    """A safety copy before rows are deleted or edits undone, and the remark that says so."""
    deleted = sum(len(keys) for t, keys in merged.deletes.items() if TABLES[t].owner == "input")
    if not deleted and not merged.overwritten:
        return None, ()
    copy = safety_copy(store.path, "before-load")
    done = [
        text
        for count, text in (
            (deleted, f"{deleted} row(s) or sets of rows deleted"),
            (merged.overwritten, f"{merged.overwritten} edit(s) of the database undone"),
        )
        if count
    ]
    remark = (
        f"{' and '.join(done)} as asked; the state before is in {copy.name} ('geoprofile restore')."
    )
    return copy, (remark,)


def _site_values(settings: Any) -> dict[str, Any]:
    """What the site file keeps of site.toml."""
    said = plain(settings)
    kept = {k: said[k] for k in ("name", "vertical_datum", "time_zone", "depth_from")}
    if said["allow_far_holes"]:
        kept["allow_far_holes"] = True
    if settings.coordinate_crs:
        kept["coordinate_crs"] = settings.coordinate_crs
    return {**said["settings"], **kept}


def _is_stored(store: Store, values: Mapping[str, Any]) -> bool:
    """Whether the site file has these settings."""
    stored = {name: json.loads(value) for name, value in store.rows("site", ["name", "value"])}
    return all(name in stored and stored[name] == value for name, value in values.items())


def _load_findings(new: Sequence[Mapping[str, str]]) -> Any:
    """The findings of this load, as rows of the table."""
    import pandas as pd

    names = ("source_table", "row_key", "what", "severity", "what_to_do")
    return pd.DataFrame(list(new), columns=pd.Index(names), dtype="object").assign(step="load")


def with_edits(error: DataError, store: Store) -> DataError:
    """The error, after what was edited in the database since it was loaded: a likely cause."""
    columns = ["step", "severity", "source_table", "row_key", "what", "what_to_do"]
    edits = [
        Problem(f"{table} {key}", f"that it {what}", "the same in files and database", advice)
        for step, severity, table, key, what, advice in store.rows("finding", columns)
        if step == "load" and severity != "note"
    ]
    return DataErrors([*edits, *error.problems]) if edits else error


def _source_rows(
    files: Sequence[Any], taken: intake.Intake, keys: Mapping[str, str], origin: str
) -> Any:
    import pandas as pd

    return pd.DataFrame(
        [
            {
                "source_file": key,
                "fingerprint": f.sha256,
                "source_table": taken.table_by_file.get(key, f.table),
                "rows": taken.rows_by_file.get(key, 0),
                "folder": origin,
                "profile": f.profile.title if f.profile else None,
                "remarks": taken.remark_by_file.get(key),
            }
            for f, key in ((f, keys[f.name]) for f in files)
        ]
    )


def plain(settings: Any) -> dict[str, Any]:
    """The settings as plain values, the same every time."""
    values: dict[str, Any] = json.loads(json.dumps(settings.__dict__, sort_keys=True, default=str))
    return values


def hashes(files: Sequence[Any]) -> dict[str, str]:
    """SHA-256 of each file by its name in the folder."""
    return {str(f.name): f.sha256 for f in files}


def create_from(database: Path, settings: Any) -> Store:
    """A new site file as site.toml describes it."""
    return Store.create(
        database,
        name=settings.name,
        crs=settings.crs,
        vertical_datum=settings.vertical_datum,
        settings=settings.settings,
    )
