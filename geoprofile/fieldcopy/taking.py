"""Copies of a part of the site file for the field: what each is given, and its files."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from geoprofile.errors import UsageError
from geoprofile.fieldcopy.known import MARK, READ, states_of
from geoprofile.fieldcopy.merging import Record
from geoprofile.fieldcopy.page import ENTERED, write_page
from geoprofile.fieldcopy.photos import TABLE as PHOTOS
from geoprofile.fieldcopy.photos import folder_of
from geoprofile.fieldcopy.rows import Rows, rows_of
from geoprofile.schema import INPUT, TABLES, Table
from geoprofile.site import Site
from geoprofile.store import Changes, Marks, Store, until_unchanged
from geoprofile.whole import flush, private_folder, refusing

if TYPE_CHECKING:
    import pandas as pd

ALWAYS = ("packer", "spacer", "criterion", "area", "pipe_loss")  # whole, whichever borehole


@dataclass(frozen=True)
class Taken:
    """What was written for the field."""

    mark: str
    files: tuple[Path, ...]
    boreholes: tuple[str, ...]


def take_out(path: Path, boreholes: Sequence[str], folder: Path) -> Taken:
    """Write a copy of some boreholes for the field, and keep its base in the site file.

    The base is kept before the files get their names: whatever stops this, every copy that can be
    carried away is known when it comes back. UsageError for a borehole that there is not.
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
    # the page is a copy of its own: what it lacks must not undo what the tablet has
    mark, entered = f"{number}-{digest}", f"{number + 1}-{digest}"
    tables = part_of(site, boreholes)
    rows = {name: rows_of(TABLES[name], frame) for name, frame in tables.items()}
    with refusing(folder), private_folder(folder) as work:
        made = (
            *_geopackage(work / f"field_{mark}.gpkg", mark, site, tables),
            work / f"field_{mark}.html",
        )
        write_page(made[-1], site, entered, boreholes, rows)
        for file in made:
            flush(file)
        given = {(mark, number): tuple(rows), (entered, number + 1): ENTERED}
        store.write(
            Changes(
                "field out",
                settings={"copy": mark},
                upserts={MARK: _states(given, rows)},
                seen=marks.only(READ, ()),
            )
        )
        files = tuple(folder / file.name for file in made)
        for file, place in zip(made, files, strict=True):
            file.replace(place)
        (folder / folder_of(mark)).mkdir(exist_ok=True)
        flush(folder)
    return Taken(mark, files, tuple(boreholes))


def _geopackage(
    place: Path, mark: str, site: Site, tables: Mapping[str, pd.DataFrame]
) -> tuple[Path, ...]:
    """Write the GeoPackage of a copy and its project; the files."""
    copy = Store.create(
        place,
        name=f"{site.name}: field copy {mark}",
        crs=site.crs,
        vertical_datum=site.vertical_datum,
        settings={MARK: mark},
    )
    copy.write(Changes("field out", upserts={t: f for t, f in tables.items() if len(f)}))
    _compose(place)
    beside = place.with_suffix(".qgz")
    return (place, beside) if beside.exists() else (place,)


def _states(
    given: Mapping[tuple[str, int], Sequence[str]], rows: Mapping[str, Rows]
) -> pd.DataFrame:
    """What each copy was given: by its mark and number the tables."""
    return states_of(
        [
            (one, name, key, number, Record(base=row))
            for (one, number), names in given.items()
            for name in names
            for key, row in rows.get(name, {}).items()
        ]
        # a row of its own, so that a copy without any other is known too
        + [(one, "", (), number, Record()) for one, number in given]
    )


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
