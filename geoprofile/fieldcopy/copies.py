"""Copies of a part of the site file for the field, and the way back."""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile.errors import ChangedError, DataError, UsageError
from geoprofile.fieldcopy.merging import (
    WHOLE_ROW,
    Disagreement,
    Record,
    Records,
    bring_in,
    disagreements,
)
from geoprofile.fieldcopy.page import ENTERED, write_page
from geoprofile.fieldcopy.photos import TABLE as PHOTOS
from geoprofile.fieldcopy.photos import copy_photos, folder_of, photos_of
from geoprofile.fieldcopy.rows import Key, Rows, frame_of, rows_of
from geoprofile.schema import INPUT, TABLES, Table
from geoprofile.site import Site
from geoprofile.store import Changes, Marks, Store, until_unchanged

if TYPE_CHECKING:
    import pandas as pd

STEP = "field"  # under which what came back is found
MARK = "field_copy"  # the setting by which a copy is known
READ = (*(t.name for t in INPUT), MARK)  # what a copy rests on, and what comes back is merged into
ALWAYS = ("packer", "spacer", "criterion", "area", "pipe_loss")  # whole, whichever borehole


@dataclass(frozen=True)
class Taken:
    """What was written for the field."""

    mark: str
    files: tuple[Path, ...]
    boreholes: tuple[str, ...]


@dataclass(frozen=True)
class Returned:
    """What came back: rows changed and added by table, and what is to be decided."""

    changed: Mapping[str, int]
    open_cells: tuple[str, ...]


def take_out(path: Path, boreholes: Sequence[str], folder: Path) -> Taken:
    """Write a copy of some boreholes for the field, and keep its base in the site file.

    Files of a copy that was stopped before its base was kept are written over: nobody could bring
    them back. UsageError for a borehole that there is not.
    """
    return until_unchanged(lambda: _take_out(path, boreholes, folder))


def _take_out(path: Path, boreholes: Sequence[str], folder: Path) -> Taken:
    store = Store.open(path)
    site, marks = store.snapshot()
    known = [str(b) for b in site.table("borehole")["borehole"]]
    for name in boreholes:
        if name not in known:
            raise UsageError(
                "field out", f"borehole '{name}'", f"one of {', '.join(known)}", "Check the name."
            )
    number = 1 + max((int(n) for [n] in store.rows(MARK, ["number"])), default=0)
    digest = _digest(marks, boreholes)
    mark = f"{number}-{digest}"
    tables = part_of(site, boreholes)
    place, page = folder / f"field_{mark}.gpkg", folder / f"field_{mark}.html"
    folder.mkdir(parents=True, exist_ok=True)
    copy = Store.create(
        place,
        name=f"{site.name}: field copy {mark}",
        crs=site.crs,
        vertical_datum=site.vertical_datum,
        settings={MARK: mark},
        overwrite=True,
    )
    copy.write(Changes("field out", upserts={t: f for t, f in tables.items() if len(f)}))
    _compose(place)
    (folder / folder_of(mark)).mkdir(exist_ok=True)
    rows = {name: rows_of(TABLES[name], frame) for name, frame in tables.items()}
    # the page is a copy of its own: what it lacks must not undo what the tablet has
    entered = f"{number + 1}-{digest}"
    write_page(page, site, entered, boreholes, rows)
    given = [
        (one, name, key, n, Record(base=row))
        for one, n, names in ((mark, number, tuple(rows)), (entered, number + 1, ENTERED))
        for name in names
        for key, row in rows.get(name, {}).items()
    ]
    # a row of its own, so that a copy without any other is known too
    states = [
        *given,
        *((one, "", (), n, Record()) for one, n in ((mark, number), (entered, number + 1))),
    ]
    beside = place.with_suffix(".qgz")
    try:
        store.write(
            Changes(
                "field out",
                settings={"copy": mark},
                upserts={MARK: _states(states)},
                seen=marks.only(READ, ()),
            )
        )
    except ChangedError:
        if mark not in {str(one) for [one] in store.rows(MARK, ["copy"])}:
            for file in (place, page, beside):  # nobody could bring them back
                file.unlink(missing_ok=True)
            with contextlib.suppress(OSError):
                (folder / f"photos_{mark}").rmdir()
        raise
    return Taken(mark, (place, page, *([beside] if beside.exists() else [])), tuple(boreholes))


def _digest(marks: Marks, boreholes: Sequence[str]) -> str:
    """Letters and digits by which a copy of this state is told from those of other sites."""
    text = json.dumps([dict(marks.tables), list(boreholes)], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:8]


def _compose(place: Path) -> None:
    from geoprofile.gisproject import keep_project

    keep_project(place)


def part_of(site: Site, boreholes: Sequence[str]) -> dict[str, pd.DataFrame]:
    """The rows of the input tables that belong to some boreholes, and the equipment."""
    chosen: dict[str, set[str]] = {"borehole": set(boreholes)}
    found: dict[str, pd.DataFrame] = {}
    for table in _parents_first():
        frame = site.table(table.name)
        parents = [c for c in table.columns if c.references in chosen]
        if table.name in ALWAYS:
            kept = frame
        elif table.name == "borehole":
            kept = frame[frame["borehole"].isin(boreholes)]
        elif parents:
            belongs = frame[parents[0].name].isin(chosen[str(parents[0].references)])
            for column in parents[1:]:
                belongs = belongs | frame[column.name].isin(chosen[str(column.references)])
            kept = frame[belongs]
        else:
            continue
        found[table.name] = kept.reset_index(drop=True)
        if len(table.key) == 1 and table.name not in ALWAYS:
            chosen[table.name] = set(kept[table.key[0]].astype(str))
    return found


def _parents_first() -> list[Table]:
    """The input tables, each after those that it refers to."""
    done: list[Table] = []
    waiting = [t for t in INPUT if t.name != PHOTOS]
    names = {t.name for t in waiting}
    while waiting:
        for table in waiting:
            needs = {c.references for c in table.columns if c.references} & names - {table.name}
            if needs <= {t.name for t in done}:
                done.append(table)
                waiting.remove(table)
                break
    return done


def bring_back(path: Path, files: Sequence[Path]) -> Returned:
    """Bring copies back, all or none: merge by key and column against what each was given."""
    return until_unchanged(lambda: _bring_back(path, files))


def _bring_back(path: Path, files: Sequence[Path]) -> Returned:
    store = Store.open(path)
    site, marks = store.snapshot()
    known = _records(store)
    numbers = {str(c): int(n) for c, n in store.rows(MARK, ["copy", "number"])}
    office = {t.name: rows_of(t, site.table(t.name)) for t in INPUT}
    stored = {name: dict(rows) for name, rows in office.items()}
    touched: set[tuple[str, Key]] = set()
    photos: dict[Path, Path] = {}
    missed: dict[str, str] = {}
    for file in files:
        mark, came, is_whole = read_copy(file)
        if mark not in numbers:
            raise UsageError(
                file.name,
                f"copy {mark}",
                f"one that 'geoprofile field out' made of {path.name}",
                "Bring it into the site file that it was taken from.",
            )
        if is_whole:
            holes = [str(row["borehole"]) for row in came["borehole"].values()]
            with_it = photos_of(file, mark, came[PHOTOS], holes, path.parent)
            came[PHOTOS] = with_it.rows
            photos |= with_it.files
            missed |= with_it.told
        touched |= _merge(numbers[mark], known, stored, came, is_whole)
    upserts = _changed(office, stored, site)
    told = _told(known, stored)
    states = [
        (f"{_mark_of(n, numbers)}", name, key, n, record)
        for name, key in touched
        for n, record in known[name, key].items()
    ]
    if states:
        copy_photos(photos)  # first: a photo without a row does no harm
        store.write(
            Changes(
                "field in",
                inputs={f.name: "field copy" for f in files},
                upserts={**upserts, MARK: _states(states)},
                findings=_findings(told, missed),
                steps_that_found=(STEP,),
                seen=marks.only(READ, ()),
            )
        )
    counts = {name: len(frame) for name, frame in upserts.items()}
    words = (f"{PHOTOS} {name}: {what}" for name, what in missed.items())
    return Returned(counts, (*(_words(*one) for one in told), *words))


def read_copy(file: Path) -> tuple[str, dict[str, Rows], bool]:
    """The mark of a copy, its rows by table, and whether it has all that it was given."""
    if file.suffix == ".json":
        return _read_page(file)
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
    return mark, rows, True


def _read_page(file: Path) -> tuple[str, dict[str, Rows], bool]:
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
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise DataError(
            file.name,
            f"a file that cannot be read ({type(error).__name__})",
            "what the page of a field copy has saved",
            "Save it again from the page.",
        ) from error
    return mark, rows, False


def _merge(
    number: int,
    known: dict[tuple[str, Key], Records],
    stored: dict[str, dict[Key, dict[str, Any]]],
    came: Mapping[str, Rows],
    is_whole: bool,
) -> set[tuple[str, Key]]:
    """Merge the rows of one copy; those that it was given or has."""
    given = {place for place, records in known.items() if number in records}
    touched = set()
    for name, key in given | {(t, k) for t, rows in came.items() for k in rows}:
        row = came.get(name, {}).get(key)
        if row is None and not is_whole:
            continue
        records = known.setdefault((name, key), {})
        result = bring_in(number, records, stored[name].get(key), row, is_whole=is_whole)
        if result is not None:
            stored[name][key] = result
        touched.add((name, key))
    return touched


def _changed(
    office: Mapping[str, Rows], stored: Mapping[str, Rows], site: Site
) -> dict[str, pd.DataFrame]:
    """The rows that differ from those of the office, as frames."""
    found = {}
    for name, rows in stored.items():
        new = {key: row for key, row in rows.items() if office[name].get(key) != row}
        batch = TABLES[name].batch
        if new and batch:  # rows of a batch are replaced together
            touched = {row[batch] for row in new.values()}
            new = {key: row for key, row in rows.items() if row[batch] in touched}
        if new:
            found[name] = frame_of(TABLES[name], new, site.crs)
    return found


Told = tuple[str, Key, Disagreement]


def _told(known: Mapping[tuple[str, Key], Records], stored: Mapping[str, Rows]) -> list[Told]:
    return [
        (name, key, one)
        for (name, key), records in sorted(known.items(), key=lambda item: str(item[0]))
        for one in disagreements(records, stored.get(name, {}).get(key))
    ]


def _words(table: str, key: Key, one: Disagreement) -> str:
    if one.column == WHOLE_ROW:
        return f"{table} {_name(key)}: field copy {one.copy} has deleted the row; it is kept"
    return (
        f"{table} {_name(key)}: {one.column} was changed twice: stored is {_value(one.kept)}, "
        f"field copy {one.copy} has {_value(one.other)}"
    )


def _value(value: Any) -> str:
    return "nothing" if value is None else f"'{value}'"


def _name(key: Key) -> str:
    return " ".join(map(str, key))


def _findings(told: Sequence[Told], missed: Mapping[str, str]) -> pd.DataFrame:
    import pandas as pd

    rows = [
        {
            "source_table": name,
            "row_key": _name(key),
            "what": _words(name, key, one),
            "severity": "serious",
            "what_to_do": "Ask both hands, and write the right value into the table; a value of "
            "your own settles it.",
            "step": STEP,
        }
        for name, key, one in told
    ] + [
        {
            "source_table": PHOTOS,
            "row_key": name,
            "what": what,
            "severity": "warning",
            "what_to_do": "Put the photo into its folder beside the field copy, under a name that "
            "the site folder does not have, and bring the copy in again.",
            "step": STEP,
        }
        for name, what in missed.items()
    ]
    columns = [c.name for c in TABLES["finding"].columns if c.name != "run"]
    return pd.DataFrame(rows, columns=columns)


def _states(states: Sequence[tuple[str, str, Key, int, Record]]) -> pd.DataFrame:
    import pandas as pd

    rows = [
        {
            "copy": mark,
            "source_table": name,
            "row_key": json.dumps(list(key)),
            "number": number,
            "state": json.dumps(asdict(record)),
        }
        for mark, name, key, number, record in states
    ]
    return pd.DataFrame(rows)


def _records(store: Store) -> dict[tuple[str, Key], Records]:
    """What is known of the rows of every copy."""
    found: dict[tuple[str, Key], Records] = {}
    columns = ["source_table", "row_key", "number", "state"]
    for name, key, number, state in store.rows(MARK, columns):
        if name:
            place = (str(name), tuple(json.loads(key)))
            found.setdefault(place, {})[int(number)] = Record(**json.loads(state))
    return found


def _mark_of(number: int, numbers: Mapping[str, int]) -> str:
    return next(mark for mark, n in numbers.items() if n == number)
