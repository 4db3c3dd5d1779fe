"""One function per command: read, compute, write once, say what was done."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile import __version__, intake
from geoprofile.errors import DataError, UsageError
from geoprofile.plugs import Layer, no_progress
from geoprofile.schema import FIELD
from geoprofile.store import Changes, Store

if TYPE_CHECKING:
    from geoprofile.site import Site
    from geoprofile.steps import Announce

STATE = "last_run.json"  # in the output folder: what the last run saw, wrote and said
OUTPUT = "out"  # folder for figures, beside the database


def silent(name: str) -> Any:
    """Announce nothing."""
    return no_progress


@dataclass(frozen=True)
class Outcome:
    """What a command did: the rows it stored, the layers it computed, the files it wrote."""

    database: Path
    loaded: Mapping[str, int]
    computed: tuple[str, ...]
    files: tuple[Path, ...]
    summary: tuple[str, ...]
    unchanged: bool = False


def run(
    folder: Path,
    *,
    overrides: Mapping[str, str] | None = None,
    prefer: str | None = None,
    prune: bool = False,
    again: bool = False,
    announce: Announce = silent,
) -> Outcome:
    """The main job: load what changed, compute what is stale, write layers and figures.

    Parameters
    ----------
    folder : Path
        Site folder with site.toml and the tables.
    overrides : Mapping, optional
        A value per "layer.setting".
    prefer : str, optional
        "files" or "database" where both changed a row.
    prune : bool
        Delete rows that vanished from the files.
    again : bool
        Compute every layer, stale or not.
    announce : callable
        Gives the progress for a step by its name.

    Returns
    -------
    Outcome
        With a summary to read aloud.

    Raises
    ------
    GeoprofileError
        Nothing is changed by the part that fails.
    """
    settings = intake.read_settings(folder)
    files = intake.find_files(folder)
    database = folder / settings.database
    asked = {"overrides": dict(overrides or {}), "settings": _plain(settings)}
    if not again:
        known = _unchanged(database, files, asked)
        if known is not None:
            return Outcome(database, {}, (), known[0], known[1], unchanged=True)
    store = Store.open(database) if database.exists() else _create(database, settings)
    loaded = _load(
        store, files, settings, command="run", prefer=prefer, prune=prune, announce=announce
    )
    computed, site = _derive(store, None, overrides or {}, "run", again, announce)
    written = _figures(site, database.parent / OUTPUT, announce)
    said = _summary(site)
    _remember(database, _state(store, files, asked), written, said)
    return Outcome(database, loaded, computed, written, said)


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
    Store.create(
        path, name=name or path.stem, crs=crs, vertical_datum=vertical_datum, overwrite=overwrite
    )
    return Outcome(path, {}, (), (path,), ())


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
    loaded = _load(
        store, files, settings, command="load", prefer=prefer, prune=prune, announce=announce
    )
    return Outcome(path, loaded, (), (), ())


def derive(
    path: Path,
    targets: Sequence[str],
    *,
    command: str,
    overrides: Mapping[str, str] | None = None,
    again: bool = False,
    announce: Announce = silent,
) -> tuple[Outcome, Site]:
    """Compute some layers, and what they rest on, where they are stale.

    Parameters
    ----------
    path : Path
        Site file.
    targets : Sequence of str
        Names of layers.
    command : str
        For the record of runs.
    overrides, again, announce
        As for `run`.

    Returns
    -------
    tuple of Outcome and Site
        What was computed, and the site with it.
    """
    store = Store.open(path)
    computed, site = _derive(store, targets, overrides or {}, command, again, announce)
    return Outcome(path, {}, computed, (), ()), site


def read(path: Path) -> Site:
    """A frozen snapshot of a site file.

    Parameters
    ----------
    path : Path
        Site file.

    Returns
    -------
    Site
        All tables.
    """
    return Store.open(path).read()


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
        settings={k: v for k, v in known.items() if isinstance(v, Mapping)},
    )


def open_site(path: str | Path) -> Site:
    """A frozen snapshot of a site file, for work in Python.

    Parameters
    ----------
    path : str or Path
        Site file.

    Returns
    -------
    Site
        Its tables, and `site.field(quantity)` for the fitted fields.
    """
    return read(Path(path))


def run_folder(folder: str | Path) -> Outcome:
    """The main job on a site folder, as the command `run` does it.

    Parameters
    ----------
    folder : str or Path
        Site folder.

    Returns
    -------
    Outcome
        What was done.
    """
    return run(Path(folder))


def _create(database: Path, settings: Any) -> Store:
    return Store.create(
        database,
        name=settings.name,
        crs=settings.crs,
        vertical_datum=settings.vertical_datum,
        settings=settings.settings,
    )


def _plain(settings: Any) -> dict[str, Any]:
    plain: dict[str, Any] = json.loads(json.dumps(settings.__dict__, sort_keys=True, default=str))
    return plain


def _hashes(files: Sequence[Any]) -> dict[str, str]:
    return {str(f.name): f.sha256 for f in files}


def _state(store: Store, files: Sequence[Any], asked: Mapping[str, Any]) -> str:
    """One hash over all that a run depends on and all that it wrote."""
    parts = {
        "version": __version__,
        "files": _hashes(files),
        "asked": asked,
        "tables": store.fingerprints([t.name for t in FIELD]),
        "steps": sorted(store.rows("step", ["step", "fingerprint"])),
    }
    return hashlib.sha256(json.dumps(parts, sort_keys=True, default=str).encode()).hexdigest()


def _unchanged(
    database: Path, files: Sequence[Any], asked: Mapping[str, Any]
) -> tuple[tuple[Path, ...], tuple[str, ...]] | None:
    """Figures and summary of the last run, if nothing at all has changed since; else None."""
    note = database.parent / OUTPUT / STATE
    if not (database.exists() and note.exists()):
        return None
    try:
        last = json.loads(note.read_text(encoding="utf-8"))
        written = tuple(database.parent / name for name in last["files"])
        state, said = str(last["state"]), tuple(last["summary"])
    except (ValueError, KeyError, TypeError):
        return None
    if not all(p.exists() for p in written) or state != _state(Store.open(database), files, asked):
        return None
    return written, said


def _remember(database: Path, state: str, written: Sequence[Path], said: Sequence[str]) -> None:
    names = [p.relative_to(database.parent).as_posix() for p in written]
    note = database.parent / OUTPUT / STATE
    note.parent.mkdir(exist_ok=True)
    text = json.dumps({"state": state, "files": names, "summary": list(said)}, indent=1)
    note.write_text(text, encoding="utf-8")


def _load(
    store: Store,
    files: Sequence[Any],
    settings: Any,
    *,
    command: str,
    prefer: str | None,
    prune: bool,
    announce: Announce,
) -> dict[str, int]:
    """Read the files unless all are as they were last loaded, and store what they change."""
    before = dict(store.rows("source_file", ["source_file", "fingerprint"]))
    same = all(before.get(f.name) == f.sha256 for f in files)
    if same and prefer is None and not prune and _is_stored(store, _site_values(settings)):
        return {}
    started = _now()
    site = store.read()
    taken = intake.read_files(files, settings, site.tables, progress=announce("load"))
    merged = intake.merge(
        taken.tables,
        site.tables,
        site.table("loaded"),
        {table: file for file, table in taken.table_by_file.items()},
        prefer=prefer,
        prune=prune,
    )
    store.write(
        Changes(
            command=command,
            settings={"prefer": prefer, "prune": prune},
            inputs=_hashes(files),
            started_at=started,
            upserts=merged.upserts,
            deletes=merged.deletes,
            derived={"finding": _load_findings(site, merged.findings)},
            loaded=merged.loaded,
            source_files=_source_rows(files, taken),
            site=_site_values(settings),
        )
    )
    return {name: len(rows) for name, rows in merged.upserts.items() if len(rows)}


def _site_values(settings: Any) -> dict[str, Any]:
    """What the site file keeps of site.toml."""
    plain = _plain(settings)
    kept = {k: plain[k] for k in ("name", "vertical_datum", "time_zone", "depth_from")}
    return {**plain["settings"], **kept}


def _is_stored(store: Store, values: Mapping[str, Any]) -> bool:
    """Whether the site file has these settings."""
    stored = {name: json.loads(value) for name, value in store.rows("site", ["name", "value"])}
    return all(name in stored and stored[name] == value for name, value in values.items())


def _load_findings(site: Site, new: Sequence[Mapping[str, str]]) -> Any:
    """The findings of other steps, and those of this load."""
    import pandas as pd

    old = site.table("finding")
    kept = old[old["step"] != "load"].drop(columns="run", errors="ignore")
    if not new:
        return kept
    return pd.concat([kept, pd.DataFrame(new).assign(step="load")], ignore_index=True)


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


def _now() -> str:
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _derive(
    store: Store,
    targets: Sequence[str] | None,
    overrides: Mapping[str, str],
    command: str,
    again: bool,
    announce: Announce,
) -> tuple[tuple[str, ...], Site]:
    from geoprofile import steps
    from geoprofile.registry import plugs

    started = _now()
    layers: Mapping[str, Layer] = plugs("layers")
    steps.check_overrides(overrides, layers)
    ordered = steps.in_order(layers)
    site = store.read()
    settings = {
        layer.name: steps.chosen_settings(layer, site.settings_of(layer.name), overrides)
        for layer in ordered
    }
    contents = store.fingerprints([t.name for t in FIELD])
    prints = steps.fingerprints(ordered, settings, contents.__getitem__)
    done = {} if again else dict(store.rows("step", ["step", "fingerprint"]))
    wanted = steps.needed(ordered, targets)
    stale = [x for x in ordered if x.name in wanted and done.get(x.name) != prints[x.name]]
    if not stale:
        return (), site
    if site.boreholes.empty:
        raise DataError(
            str(store.path),
            "no boreholes",
            "at least one",
            "Load the boreholes and intervals first.",
        )
    derived, site = steps.compute(site, stale, settings, announce)
    store.write(
        Changes(
            command=command,
            settings={x.name: settings[x.name] for x in stale},
            inputs={},
            started_at=started,
            derived=derived,
            steps={x.name: prints[x.name] for x in stale},
        )
    )
    return tuple(x.name for x in stale), site


def _figures(site: Site, folder: Path, announce: Announce) -> tuple[Path, ...]:
    from geoprofile.gallery import draw_run

    return draw_run(site, folder, announce("figures"))


def _summary(site: Site) -> tuple[str, ...]:
    from geoprofile.summary import summary

    return summary(site)


def check_choice(prefer: str | None) -> None:
    """Refuse a preference that is neither side.

    Parameters
    ----------
    prefer : str or None
        "files" or "database".

    Raises
    ------
    UsageError
        Anything else.
    """
    if prefer not in (None, "files", "database"):
        raise UsageError("--prefer", repr(prefer), "files or database", "Choose one of them.")


def plain_rows(site: Site, table: str, columns: Sequence[str]) -> list[tuple[Any, ...]]:
    """Columns of a table as plain Python values, None for what is empty.

    Parameters
    ----------
    site : Site
        Snapshot.
    table : str
        Table of the schema.
    columns : Sequence of str
        Its columns.

    Returns
    -------
    list of tuple
        One per row.
    """
    chosen = site.table(table)[list(columns)].astype(object)
    return [
        tuple(_cell(value) for value in row)
        for row in chosen.where(chosen.notna(), None).to_numpy()
    ]


def _cell(value: Any) -> Any:
    """A plain value that JSON and CSV can hold."""
    return value.item() if hasattr(value, "item") else value


def show(
    path: Path, table: str, columns: Sequence[str] | None = None
) -> tuple[list[str], list[tuple[Any, ...]]]:
    """A table of a site file, as it is stored.

    Parameters
    ----------
    path : Path
        Site file.
    table : str
        Table of the schema.
    columns : Sequence of str, optional
        All but the geometry when left out.

    Returns
    -------
    tuple of list of str and list of tuple
        Names and rows.

    Raises
    ------
    DataError
        No such table or column.
    """
    site = read(path)
    frame = site.table(table)
    known = [c for c in frame.columns if c not in ("geometry", "model")]
    for name in columns or ():
        if name not in frame.columns:
            raise DataError(
                f"table {table}",
                f"no column '{name}'",
                f"one of {', '.join(known)}",
                "Check the name.",
            )
    names = list(columns) if columns else known
    return names, plain_rows(site, table, names)


def check(path: Path, *, repair: bool = False) -> list[tuple[str, str, str, str]]:
    """What is damaged in a site file, each with the first thing to do.

    Parameters
    ----------
    path : Path
        Site file.
    repair : bool
        Mend what can be mended from what is there, after a safety copy.

    Returns
    -------
    list of tuple of str
        Code, place, what, what to do; empty when sound.
    """
    from geoprofile.store import inspect

    if repair:
        from geoprofile.store import repair as mend

        mend(path)
    return [(f.code, f.place, f.what, f.what_to_do) for f in inspect(path)]
