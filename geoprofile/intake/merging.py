"""Two hands on one table: what files and the GIS changed since the last load, row by row.

A row is known by its key; a table that is loaded in batches is known batch by batch. `file`, `last`
and `here` are the fingerprints in the file, at the last load, and in the database.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import pandas as pd

from geoprofile.intake.conflict_report import findings_of
from geoprofile.intake.row_fingerprints import (
    UNKNOWN,
    fingerprint_rows,
    key_in_words,
    key_tuples,
    row_keys,
)
from geoprofile.intake.sources import SOURCE_FILE, SOURCE_ROW, Merge, RowChanges
from geoprofile.schema import INPUT, TABLES

FILES = "files"  # attribute of a frame: names of the files that were read for it
FINDING = ("source_table", "row_key", "what", "severity", "what_to_do")


def merge(
    incoming: Mapping[str, pd.DataFrame],
    current: Mapping[str, pd.DataFrame],
    loaded: pd.DataFrame,
    files: Mapping[str, str] | None = None,
    *,
    prefer: str | None = None,
    prune: bool = False,
    lost_files: Iterable[str] = (),
) -> Merge:
    """What loading changes in the database.

    Parameters
    ----------
    incoming : Mapping of table to frame
        As read by `read_files`.
    current : Mapping of table to frame
        As in the database now.
    loaded : DataFrame
        The table `loaded`: fingerprints of the last load.
    files : Mapping of table to file, optional
        The file of the rows of frames without a column `source_file`.
    prefer : str, optional
        "files" or "database" wins where they differ; without it a row changed on both sides is a
        finding, and one edited in the database only stays.
    prune : bool
        Delete rows that vanished from the files that were read, or with a file.
    lost_files : iterable of str
        Files that were loaded and are no more.

    Returns
    -------
    Merge
        Rows to store, keys to delete, new rows of `loaded`, findings.
    """
    lost = frozenset(lost_files)
    bereft = set(loaded.loc[loaded["source_file"].isin(lost), "source_table"]) & set(current)
    upserts: dict[str, pd.DataFrame] = {}
    deletes: dict[str, list[tuple[Any, ...]]] = {}
    remembered: list[pd.DataFrame] = []
    findings: list[dict[str, str]] = []
    overwritten = 0
    for name in [t.name for t in INPUT if t.name in incoming or t.name in bereft]:
        new, old = _both(incoming.get(name), current.get(name))
        last = loaded[loaded["source_table"] == name]
        prints = _prints(new, name, _extra(new, name))
        part = _decide(prints, new, old, name, last, lost, prefer=prefer, prune=prune)
        keys = pd.Series(row_keys(new, name), index=new.index, dtype="object")
        taken = new[keys.isin(set(part.take))]
        if len(taken):
            upserts[name] = taken.drop(columns=[SOURCE_FILE, SOURCE_ROW], errors="ignore")
        if part.delete:
            values = key_tuples(old, name)
            deletes[name] = [values[k] for k in part.delete]
        homes = _file_of(new, keys, (files or {}).get(name, ""))
        remembered.append(_loaded_rows(name, part.remember, prints, homes))
        told = findings_of(name, part, new, old)
        named = ((name, key_in_words(key, name), *rest) for key, *rest in told)
        findings += [dict(zip(FINDING, f, strict=True)) for f in named]
        if part.forget:
            deletes.setdefault("loaded", []).extend((name, k) for k in part.forget)
        overwritten += part.overwritten
    rows = [r for r in remembered if len(r)]
    memory = pd.concat(rows, ignore_index=True) if rows else _loaded_rows("", [], {}, {})
    done_with = _left_empty(lost, loaded, memory, deletes.get("loaded", []))
    if done_with:
        deletes["source_file"] = [(f,) for f in done_with]
    return Merge(upserts, deletes, memory, tuple(findings), overwritten)


def _both(new: pd.DataFrame | None, old: pd.DataFrame | None) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Rows of the files and of the database; one that is not there has none."""
    (empty, *_) = [f.iloc[:0] for f in (new, old) if f is not None]
    return empty if new is None else new, empty if old is None else old


def _extra(frame: pd.DataFrame, name: str) -> list[str]:
    """Columns of the files that are the user's own."""
    ours = {c.name for c in TABLES[name].columns} | {"geometry", SOURCE_FILE, SOURCE_ROW}
    return [str(c) for c in frame.columns if c not in ours]


def _prints(frame: pd.DataFrame, name: str, extra: Sequence[str]) -> dict[str, str]:
    return {str(k): str(v) for k, v in fingerprint_rows(frame, name, extra).items()}


def _file_of(new: pd.DataFrame, keys: pd.Series[Any], default: str) -> Mapping[str, str]:
    if SOURCE_FILE not in new.columns:
        return dict.fromkeys(keys, default)
    firsts = ~keys.duplicated()
    return dict(zip(keys[firsts], new.loc[firsts, SOURCE_FILE], strict=True))


def _loaded_rows(
    table: str,
    keys: list[str],
    prints: Mapping[str, str],
    files: Mapping[str, str],
) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "source_table": pd.Series([table] * len(keys), dtype="object"),
            "row_key": pd.Series(keys, dtype="object"),
            "fingerprint": pd.Series([prints[k] for k in keys], dtype="object"),
            "source_file": pd.Series([files.get(k, "") for k in keys], dtype="object"),
        }
    )


def _left_empty(
    lost: Iterable[str],
    loaded: pd.DataFrame,
    memory: pd.DataFrame,
    forgotten: Sequence[tuple[Any, ...]],
) -> list[str]:
    """Files that are no more and from which no row is left."""
    moved = {*zip(memory["source_table"], memory["row_key"], strict=True), *forgotten}
    rows = zip(loaded["source_table"], loaded["row_key"], loaded["source_file"], strict=True)
    filled = {file for table, key, file in rows if (table, key) not in moved}
    return sorted(set(lost) - filled)


def _decide(
    file_prints: Mapping[str, str],
    new: pd.DataFrame,
    old: pd.DataFrame,
    name: str,
    last: pd.DataFrame,
    lost: frozenset[str],
    *,
    prefer: str | None,
    prune: bool,
) -> RowChanges:
    part = RowChanges(lost_files=lost)
    here = _prints(old, name, _extra(new, name))
    before = dict(zip(last["row_key"], last["fingerprint"], strict=True))
    for key, print_ in file_prints.items():
        _decide_row(part, key, print_, before.get(key), here.get(key), prefer)
    gone_to = {k for k, f in zip(last["row_key"], last["source_file"], strict=True) if f in lost}
    known = {k for k in gone_to & set(file_prints) if before[k] == file_prints[k]}
    part.remember += sorted(known - set(part.remember))  # another file has the row now
    part.added = [k for k in here if k not in file_prints and k not in before]
    _decide_vanished(part, file_prints, before, here, last, _read(new) | lost, prefer, prune)
    return part


def _decide_row(
    part: RowChanges, key: str, file: str, last: str | None, here: str | None, prefer: str | None
) -> None:
    if here == file:
        if last != file:
            part.remember.append(key)
    elif last in (file, UNKNOWN):  # only the database changed
        if last == UNKNOWN:
            part.remember.append(key)
        if prefer == "files":
            part.take.append(key)
            part.overwritten += 1
        else:
            _note_difference(part, key, here)
    elif last == here or prefer == "files":  # new, or only the file changed
        part.take.append(key)
        part.remember.append(key)
        part.overwritten += int(last != here)
    elif prefer == "database":
        part.remember.append(key)
        _note_difference(part, key, here)
    else:
        part.conflicts.append(key)


def _note_difference(part: RowChanges, key: str, here: str | None) -> None:
    (part.gone if here is None else part.edited).append(key)


def _read(new: pd.DataFrame) -> set[str]:
    names = new.attrs.get(FILES)
    if names is not None:
        return set(names)
    return set(new[SOURCE_FILE]) if SOURCE_FILE in new.columns else set()


def _decide_vanished(
    part: RowChanges,
    file_prints: Mapping[str, str],
    before: Mapping[str, str],
    here: Mapping[str, str],
    last: pd.DataFrame,
    read: set[str],
    prefer: str | None,
    prune: bool,
) -> None:
    """Rows loaded from a file that was read again and no longer has them, or that is no more."""
    for key, file in zip(last["row_key"], last["source_file"], strict=True):
        if key in file_prints or file not in read:
            continue
        if key not in here:
            part.forget.append(key)
        elif prune and (here[key] == before[key] or prefer == "files"):
            part.delete.append(key)
            part.forget.append(key)
        elif prune and prefer != "database":
            part.spared.append((key, file))
        elif not prune:
            part.vanished.append((key, file))
