"""What is told of rows that differ between the files and the database."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import pandas as pd

from geoprofile.intake.differing import SHAPES, counts, differences, said
from geoprofile.intake.row_fingerprints import row_keys
from geoprofile.intake.sources import RowChanges
from geoprofile.schema import INPUT, TABLES
from geoprofile.site import records_of

PREFER = "Decide with --prefer files or --prefer database."
TO_FILES = "Carry the edit into the file too, or undo it with --prefer files."
TO_COLUMNS = (
    "Set x, y and ground_elevation_m to the new place, in the table or the file, or move the point "
    "back."
)
RENAME = "Rename it in every file that names it, or name it back in the database."
MOVED_M = 0.001  # coordinates are surveyed to a centimetre at best
MOST = 10  # findings of one kind and table that are told one by one

Told = tuple[str, str, str, str]  # key, what, severity, what to do


def findings_of(
    name: str, changes: RowChanges, new: pd.DataFrame, old: pd.DataFrame
) -> Iterator[Told]:
    """The findings on one table.

    Parameters
    ----------
    name : str
        Table.
    changes : RowChanges
        Keys of the rows that differ, by the kind of difference.
    new, old : DataFrame
        Rows of the files and of the database.

    Returns
    -------
    iterator of tuple of str
        Key, what was found, severity, what to do.
    """
    yield from _folded(_conflicts(name, changes.conflicts, new, old), "were changed on both sides")
    yield from _folded(_edits(name, changes.edited, new, old), "were edited in the database")
    yield from _folded(_gone(name, changes.gone, new, old), "were deleted in the database")
    yield from _folded(_added(name, changes, new, old), "were added in the database")
    yield from _vanished(changes, TABLES[name].batch)


def _folded(told: Iterator[Told], words: str) -> Iterator[Told]:
    """The first few, and the number of the rest."""
    every = list(told)
    yield from every[:MOST]
    if len(every) > MOST:
        _, _, severity, what_to_do = every[MOST]
        yield ("", f"{len(every) - MOST} more rows {words}", severity, what_to_do)


def _conflicts(
    name: str, keys: Sequence[str], new: pd.DataFrame, old: pd.DataFrame
) -> Iterator[Told]:
    if TABLES[name].batch:
        for key in sorted(keys):
            yield (
                key,
                f"was changed on both sides; {counts(key, new, old, name)}",
                "serious",
                PREFER,
            )
        return
    first, second = _by_key(new, name, keys), _by_key(old, name, keys)
    for key in keys:
        if key not in second:
            yield (key, "was changed in the files and deleted in the database", "serious", PREFER)
        else:
            what = (
                f"was changed on both sides; {differences(first[key], second[key], name) or SHAPES}"
            )
            yield (key, what, "serious", PREFER)


def _edits(name: str, keys: Sequence[str], new: pd.DataFrame, old: pd.DataFrame) -> Iterator[Told]:
    if TABLES[name].batch:
        for key in sorted(keys):
            what = f"was edited in the database since it was loaded; {counts(key, new, old, name)}"
            yield (key, what, "note", TO_FILES)
        return
    first, second = _by_key(new, name, keys), _by_key(old, name, keys)
    for key in keys:
        file, here = first[key], second[key]
        if name == "borehole" and (told := _moved(key, file, here)):
            yield told
        else:
            told_of = differences(file, here, name) or SHAPES
            what = f"was edited in the database since it was loaded; {told_of}"
            yield (key, what, "note", TO_FILES)


def _moved(key: str, file: Mapping[str, Any], here: Mapping[str, Any]) -> Told | None:
    """The finding on a borehole whose columns or point say another place than the file."""
    was, now = _place(file), _place(here)
    if was is None or now is None:
        return None
    shift = math.dist(was, now)
    if shift > MOVED_M:
        place = ", ".join(f"{c} {v:.2f}" for c, v in zip(COLLAR, was, strict=True))
        what = f"moved {_length(shift)} since it was loaded; its file still says {place}"
        return key, _with_others(what, file, here), "warning", TO_FILES
    point = here.get("geometry")
    if point is None or point.is_empty:
        return None
    off = math.dist(now[:2], (point.x, point.y))
    if off <= MOVED_M:
        return None
    what = f"its point moved {_length(off)} on the map since it was loaded; x and y still say the "
    what += "old place, and are what is computed with"
    return key, _with_others(what, file, here), "warning", TO_COLUMNS


def _with_others(what: str, file: Mapping[str, Any], here: Mapping[str, Any]) -> str:
    """The same, with what else of the borehole was changed."""
    others = differences(file, here, "borehole", but=COLLAR)
    return f"{what}; also {others}" if others else what


COLLAR = ("x", "y", "ground_elevation_m")


def _place(row: Mapping[str, Any]) -> tuple[float, ...] | None:
    values = [row.get(c) for c in COLLAR]
    return None if any(v is None for v in values) else tuple(map(float, values))  # type: ignore[arg-type]


def _length(metres: float) -> str:
    return f"{metres:.1f} m" if metres >= 1 else f"{metres:.3g} m"


def _gone(name: str, keys: Sequence[str], new: pd.DataFrame, old: pd.DataFrame) -> Iterator[Told]:
    renamed = _renamed(name, keys, new, old) if keys else {}
    for key in keys:
        if key in renamed:
            what = f"was renamed to '{renamed[key]}' in the database; the files still say '{key}'"
            yield (key, what, "warning", RENAME)
        else:
            what = "is in the files as before, but was deleted in the database"
            advice = "Remove it from the files too, or load with --prefer files."
            yield (key, what, "warning" if _is_named_elsewhere(name) else "note", advice)


def _added(name: str, changes: RowChanges, new: pd.DataFrame, old: pd.DataFrame) -> Iterator[Told]:
    """Rows that only the database has; one that was renamed there is told already."""
    renamed = _renamed(name, changes.gone, new, old) if changes.gone else {}
    for key in changes.added:
        if key not in renamed.values():
            advice = "Carry it into a file too, so that the files stay a whole record of the site."
            yield (key, "was added in the database; no file has it", "note", advice)


def _is_named_elsewhere(name: str) -> bool:
    """Whether rows of other tables name a row of this one, and may now point at nothing."""
    return any(c.references == name for t in INPUT if t.name != name for c in t.columns)


def _renamed(
    name: str, keys: Sequence[str], new: pd.DataFrame, old: pd.DataFrame
) -> dict[str, str]:
    """From each deleted key to the new key of the only row that is the same in all else."""
    if len(TABLES[name].key) != 1 or TABLES[name].batch:
        return {}
    in_files = set(row_keys(new, name))
    added = [k for k in row_keys(old, name) if k not in in_files]
    by_rest: dict[tuple[str, ...], list[str]] = {}
    for key, row in _by_key(old, name, added).items():
        by_rest.setdefault(_rest(row, name), []).append(key)
    found = {k: by_rest.get(_rest(r, name), []) for k, r in _by_key(new, name, keys).items()}
    return {k: others[0] for k, others in found.items() if len(others) == 1}


def _rest(row: Mapping[str, Any], name: str) -> tuple[str, ...]:
    """A row without its key, as text."""
    table = TABLES[name]
    return tuple(said(row.get(c.name)) for c in table.columns if not c.key)


def _vanished(changes: RowChanges, batch: str) -> Iterator[Told]:
    by_file: dict[str, list[str]] = {}
    for key, file in changes.vanished:
        by_file.setdefault(file, []).append(key)
    for file, keys in by_file.items():
        if file in changes.lost_files:
            count = f"the rows of {len(keys)} {batch}(s)" if batch else f"{len(keys)} row(s)"
            what = f"{count} came from it, but it is not in the folder any more; they stay"
            yield (file, what, "warning", "Delete them with --prune, or put it back.")
            continue
        what = f"vanished from {file}; it stays"
        told = ((k, what, "warning", "Delete it with --prune, or put it back.") for k in keys)
        yield from _folded(told, f"vanished from {file}; they stay")
    for key, file in changes.spared:
        yield (key, f"vanished from {file}, but was changed in the database", "warning", PREFER)


def _by_key(frame: pd.DataFrame, name: str, keys: Sequence[str]) -> dict[str, dict[str, Any]]:
    wanted = set(keys)
    rows = [i for i, k in enumerate(row_keys(frame, name)) if k in wanted] if wanted else []
    part = frame.iloc[rows]
    records: list[dict[str, Any]] = records_of(part)
    return dict(zip(row_keys(part, name), records, strict=True))
