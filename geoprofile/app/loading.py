"""Files into the site file: all of them or none."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from geoprofile import intake
from geoprofile.app.outcome import Outcome, silent
from geoprofile.errors import ChangedError, DataError, DataErrors, Problem
from geoprofile.schema import INPUT, TABLES
from geoprofile.store import Changes, Store, WriteReport, safety_copy

if TYPE_CHECKING:
    from geoprofile.engine import Announce
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
    store = Store.create(
        path, name=name or path.stem, crs=crs, vertical_datum=vertical_datum, overwrite=overwrite
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
    files = [
        f
        for s in sources
        for f in (intake.find_files(s) if s.is_dir() else intake.find_files(folder, only=s))
    ]
    loaded, remarks = load_into(
        store,
        files,
        settings,
        command="load",
        whole=len(sources) == 1 and sources[0].is_dir(),
        prefer=prefer,
        prune=prune,
        announce=announce,
    )
    return Outcome(path, loaded, remarks=(*store.remarks, *remarks))


def _settings_for(store: Store, folder: Path) -> intake.SiteSettings:
    """site.toml beside the files, or what the site file itself knows."""
    if (folder / "site.toml").exists():
        return intake.read_settings(folder)
    site = store.read(["borehole"])
    known = site.settings
    return intake.SiteSettings(
        name=site.name,
        crs=site.crs,
        vertical_datum=site.vertical_datum,
        time_zone=str(known.get("time_zone", "UTC")),
        depth_from=str(known.get("depth_from", "ground")),
        allow_far_holes=bool(known.get("allow_far_holes", False)),
        settings={k: v for k, v in known.items() if isinstance(v, Mapping)},
    )


def load_into(
    store: Store,
    files: Sequence[Any],
    settings: Any,
    *,
    command: str,
    whole: bool,
    prefer: str | None,
    prune: bool,
    announce: Announce,
) -> tuple[dict[str, int], tuple[str, ...]]:
    """Read the files and store what they change, unless files and input tables are as last loaded.

    `whole` says that these are all files of the site, so that one that was loaded and is not among
    them is missing. What another program saves while the files are read is read again and merged.
    """

    def once() -> tuple[dict[str, int], tuple[str, ...]]:
        return _load_once(
            store,
            files,
            settings,
            command=command,
            whole=whole,
            prefer=prefer,
            prune=prune,
            announce=announce,
        )

    return until_unchanged(once)


TRIES = 4  # of a command whose input another program changes while it works
Done = TypeVar("Done")


def until_unchanged(once: Callable[[], Done]) -> Done:
    """Do it again while another program changes what it rests on; ChangedError in the end."""
    for _ in range(TRIES - 1):
        try:
            return once()
        except ChangedError:
            continue
    return once()


def _load_once(
    store: Store,
    files: Sequence[Any],
    settings: Any,
    *,
    command: str,
    whole: bool,
    prefer: str | None,
    prune: bool,
    announce: Announce,
) -> tuple[dict[str, int], tuple[str, ...]]:
    before = dict(store.rows("source_file", ["source_file", "fingerprint"]))
    lost = set(before) - {f.name for f in files} if whole else set()
    same = not lost and all(before.get(f.name) == f.sha256 for f in files)
    asked = prefer is not None or prune
    same = same and not asked and _is_stored(store, _site_values(settings))
    if same and store.marks().is_as_loaded:
        return {}, ()
    started = now()
    site, marks = store.snapshot()
    taken = intake.read_files(files, settings, site.tables, progress=announce("load"))
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
            source_files=_source_rows(files, taken),
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
    try:
        return store.write(changes)
    except ChangedError:
        if copy is not None:
            copy.unlink(missing_ok=True)
        raise


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


def _source_rows(files: Sequence[Any], taken: Any) -> Any:
    import pandas as pd

    return pd.DataFrame(
        [
            {
                "source_file": f.name,
                "fingerprint": f.sha256,
                "source_table": taken.table_by_file.get(f.name, f.table),
                "rows": taken.rows_by_file.get(f.name, 0),
            }
            for f in files
        ]
    )


def now() -> str:
    """The present moment in UTC, ISO 8601."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


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
