"""Copies that were out in the field come back, by key and column."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile.errors import UsageError
from geoprofile.fieldcopy.known import MARK, READ, mark_of, records_of, states_of
from geoprofile.fieldcopy.merging import (
    WHOLE_ROW,
    Disagreement,
    Records,
    bring_in,
    disagreements,
)
from geoprofile.fieldcopy.photos import TABLE as PHOTOS
from geoprofile.fieldcopy.photos import Source, copied_photos
from geoprofile.fieldcopy.reading import read_copy
from geoprofile.fieldcopy.rows import Key, Rows, frame_of, rows_of
from geoprofile.schema import INPUT, TABLES
from geoprofile.site import Site
from geoprofile.store import Changes, Store, until_unchanged

if TYPE_CHECKING:
    import pandas as pd

STEP = "field"  # under which what came back is found


@dataclass(frozen=True)
class Returned:
    """What came back: rows changed and added by table, and what is to be decided."""

    changed: Mapping[str, int]
    open_cells: tuple[str, ...]


def bring_back(path: Path, files: Sequence[Path]) -> Returned:
    """Bring copies back, all or none: merge by key and column against what each was given."""
    return until_unchanged(lambda: _bring_back(path, files))


def _bring_back(path: Path, files: Sequence[Path]) -> Returned:
    store = Store.open(path)
    site, marks = store.snapshot()
    known = records_of(store)
    numbers = {str(c): int(n) for c, n in store.rows(MARK, ["copy", "number"])}
    office = {t.name: rows_of(t, site.table(t.name)) for t in INPUT}
    stored = {name: dict(rows) for name, rows in office.items()}
    touched: set[tuple[str, Key]] = set()
    photos: dict[Path, Source] = {}
    missed: dict[str, str] = {}
    for file in files:
        came = read_copy(file, path.parent)
        if came.mark not in numbers:
            raise UsageError(
                file.name,
                f"copy {came.mark}",
                f"one that 'geoprofile field out' made of {path.name}",
                "Bring it into the site file that it was taken from.",
            )
        photos |= came.photos
        missed |= came.told
        touched |= _merge(numbers[came.mark], known, stored, came.rows, came.is_whole)
    upserts = _changed(office, stored, site)
    told = _told(known, stored)
    states = [
        (mark_of(n, numbers), name, key, n, record)
        for name, key in touched
        for n, record in known[name, key].items()
    ]
    if states:
        changes = Changes(
            "field in",
            inputs={f.name: "field copy" for f in files},
            upserts={**upserts, MARK: states_of(states)},
            findings=_findings(told, missed),
            steps_that_found=(STEP,),
            seen=marks.only(READ, ()),
        )
        with copied_photos(photos):  # first: a photo without a row does no harm
            store.write(changes)
    counts = {name: len(frame) for name, frame in upserts.items()}
    words = (f"{PHOTOS} {name}: {what}" for name, what in missed.items())
    return Returned(counts, (*(_words(*one) for one in told), *words))


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
