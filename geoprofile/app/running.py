"""The main job: load, compute, draw, say what was found; nothing at all if nothing has changed."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile import __version__, intake
from geoprofile.app.composing import keep_composed
from geoprofile.app.deriving import OUTPUT, STATE, Asked, derive_once
from geoprofile.app.durations import FIRST, LATER, Clock, Seconds, said_of, stored
from geoprofile.app.loading import create_from, hashes, load_into, plain, with_edits
from geoprofile.app.outcome import Outcome, silent
from geoprofile.errors import DataError, GeoprofileError, UsageError
from geoprofile.plugins.registry import installed
from geoprofile.store import Marks, Store, put_in_place, until_unchanged
from geoprofile.whole import private_folder, real_place, refusing, write_text

if TYPE_CHECKING:
    from geoprofile.engine.computing import Announce

LARGE_BYTES = 300_000  # of input, from which a worker, 3 s of a processor to start, saves time


def run(
    folder: Path,
    *,
    overrides: Mapping[str, str] | None = None,
    prefer: str | None = None,
    prune: bool = False,
    again: bool = False,
    workers: int | None = 0,
    announce: Announce = silent,
    tell_left: Callable[[float], None] | None = None,
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
    workers : int, optional
        Processes that take a share of the work beside this one; None: as many as the site and the
        machine are worth. A script that asks for any needs `if __name__ == "__main__":`.
    announce : callable
        Gives the progress for a step by its name.
    tell_left : callable, optional
        Told how much time is left [s], as often as progress is.

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
    files = intake.find_files(folder, settings=settings)
    left = tuple(str(problem) for problem in intake.unread(folder, files, settings))
    database = folder / settings.database
    asked = {"overrides": dict(overrides or {}), "settings": plain(settings)}
    if not (again or prefer or prune):
        known = _unchanged(database, files, asked)
        if known is not None:
            return Outcome(database, {}, (), *known, remarks=left, unchanged=True)
    # a run that has nothing to do waits for none of it
    from geoprofile.app.warming import get_ready, warm
    from geoprofile.threads import give_back, share_one_heap
    from geoprofile.workers import at_hand

    share_one_heap()
    count = _worthwhile(files) if workers is None else workers
    output = database.parent / OUTPUT
    prepare = get_ready if (output / STATE).exists() else warm
    with ExitStack() as workers_gone, at_hand(count, prepare):
        from geoprofile.app.ahead import Ahead
        from geoprofile.app.figures import draw_run
        from geoprofile.kriging import let_parts_go
        from geoprofile.remembered import NAME, remembering
        from geoprofile.report.summary import summary

        before = said_of(stored(output / STATE))
        kind = LATER if (output / NAME).exists() and not again else FIRST
        clock = Clock(_expected(folder, overrides, again, tell_left), tell_left)
        announce = clock.announce(announce)
        store, loaded, remarks = _load(
            database,
            files,
            intake.in_metres(settings),
            prefer=prefer,
            prune=prune,
            announce=announce,
        )
        ahead = Ahead(output, workers_gone)
        with remembering(output, again=again):
            try:
                wanted = Asked("run", overrides=overrides or {}, again=again)
                once = partial(derive_once, store, wanted, announce, {}, ahead.begin)
                done, site, marks = until_unchanged(once)
            except DataError as error:
                raise with_edits(error, store) from error
            composed = keep_composed(database)  # while workers draw
            # stopped while drawing, the next run must draw again
            (output / STATE).unlink(missing_ok=True)
            let_parts_go()
            give_back()
            with ahead.used():
                drawn = draw_run(site, output, announce("figures"))
        said = (*summary(site), *drawn.remarks)
        clock.end_step()
        took = before | {kind: before.get(kind, {}) | clock.took}
        if _came_of(store, files):
            _remember(database, _state(marks, files, asked), drawn.files, said, took)
        remarks = (
            *left,
            *(str(one) for one in intake.old_settings(folder)),
            *remarks,
            *done.remarks,
            *composed,
        )
        told = tuple(dict.fromkeys(remarks))
        return Outcome(database, loaded, done.computed, drawn.files, said, told)


def _worthwhile(files: Sequence[Any]) -> int:
    """Workers that these files are worth: a small site is done before they have started."""
    from geoprofile.workers import worthwhile

    size = sum(file.path.stat().st_size for file in files)
    return worthwhile() if size >= LARGE_BYTES else 0


def _expected(
    folder: Path, overrides: Mapping[str, str] | None, again: bool, asked: Any
) -> dict[str, float]:
    """Durations of the steps to come [s], if anybody asks."""
    if asked is None:
        return {}
    from geoprofile.app.staleness import expected_of_folder, stale_of_folder

    layers, files = stale_of_folder(folder, overrides or {}, again=again)
    return expected_of_folder(folder, layers, files, again=again)


def _load(
    database: Path, files: Sequence[Any], settings: Any, **how: Any
) -> tuple[Store, dict[str, int], tuple[str, ...]]:
    """Load into the site file, a new one if need be, which goes again if the load is refused."""
    how = {"command": "run", "whole": True, "folder": database.parent, **how}
    if database.exists():
        store = Store.open(database)
        return store, *load_into(store, files, settings, **how)
    made = _load_new(database, files, settings, **how)
    return _load(database, files, settings, **how) if made is None else made


def _load_new(
    database: Path, files: Sequence[Any], settings: Any, **how: Any
) -> tuple[Store, dict[str, int], tuple[str, ...]] | None:
    """Make and load a new site file, which gets its name once it is loaded.

    None when another program has made one meanwhile: its rows may be edited already.
    """
    place = real_place(database)
    with refusing(place), private_folder(place.parent) as work:
        store = create_from(work / place.name, settings)
        beside = {**how, "folder": store.path.parent}  # as it will lie beside the files
        loaded, remarks = load_into(store, files, settings, **beside)
        try:
            moved = put_in_place(store.path, place)
        except UsageError:
            return None
    return Store.open(database), loaded, (*moved, *remarks)


def is_unchanged(folder: Path) -> bool:
    """Whether `run` on a site folder would have nothing to do.

    Parameters
    ----------
    folder : Path
        Site folder.

    Returns
    -------
    bool
        False also where something is wrong with it.
    """
    try:
        settings = intake.read_settings(folder)
        files = intake.find_files(folder, settings=settings)
        asked: dict[str, Any] = {"overrides": {}, "settings": plain(settings)}
        return _unchanged(folder / settings.database, files, asked) is not None
    except GeoprofileError:
        return False


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


def _state(marks: Marks, files: Sequence[Any], asked: Mapping[str, Any]) -> str:
    """One hash over all that a run depends on, as it was read, and all that it wrote.

    The steps are those of what should be stored: a file that has the same is fresh throughout.
    """
    parts = {
        "version": __version__,
        "installed": installed(),
        "files": hashes(files),
        "asked": asked,
        "fields": marks.fields,
        "findings": marks.tables["finding"],
        "steps": dict(marks.steps),
        "stored": marks.settings,
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
    if not all(p.exists() for p in written):
        return None
    marks = Store.open(database).marks()
    if not marks.is_as_loaded or state != _state(marks, files, asked):
        return None
    return written, said


def _came_of(store: Store, files: Sequence[Any]) -> bool:
    """Whether what was computed came of these files, and not of a state put back meanwhile."""
    known = dict(store.rows("source_file", ["source_file", "fingerprint"]))
    return all(known.get(name) == told for name, told in hashes(files).items())


def _remember(
    database: Path, state: str, written: Sequence[Path], said: Sequence[str], took: Seconds
) -> None:
    names = [p.relative_to(database.parent).as_posix() for p in written]
    note = {"state": state, "files": names, "summary": list(said), "seconds": took}
    text = json.dumps(note, indent=1)
    write_text(database.parent / OUTPUT / STATE, text)
