"""Two hands on one table: what files and the GIS changed since the last load, row by row.

A row is known by its key; a table that is loaded in batches is known batch by batch. `file`, `last`
and `here` are the fingerprints in the file, at the last load, and in the database.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from geoprofile.intake.prints import fingerprint_rows, key_tuples, row_keys
from geoprofile.intake.records import SOURCE_FILE, SOURCE_ROW, Merge
from geoprofile.schema import FIELD, TABLES
from geoprofile.site import records_of

FILES = "files"  # attribute of a frame: names of the files that were read for it
PREFER = "Decide with --prefer files or --prefer database."
FINDING = ("source_table", "row_key", "what", "severity", "what_to_do")


@dataclass
class _Part:
    """What is to happen to the rows of one table."""

    take: list[str] = field(default_factory=list)
    delete: list[str] = field(default_factory=list)
    remember: list[str] = field(default_factory=list)
    forget: list[str] = field(default_factory=list)
    findings: list[tuple[str, str, str, str]] = field(default_factory=list)


def merge(
    incoming: Mapping[str, pd.DataFrame],
    current: Mapping[str, pd.DataFrame],
    loaded: pd.DataFrame,
    files: Mapping[str, str] | None = None,
    *,
    prefer: str | None = None,
    prune: bool = False,
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
        "files" or "database" where both sides changed a row; without it such rows are findings.
    prune : bool
        Delete rows that vanished from the files that were read.

    Returns
    -------
    Merge
        Rows to store, keys to delete, new rows of `loaded`, findings.
    """
    upserts: dict[str, pd.DataFrame] = {}
    deletes: dict[str, list[tuple[Any, ...]]] = {}
    remembered: list[pd.DataFrame] = []
    findings: list[dict[str, str]] = []
    for name in [t.name for t in FIELD if t.name in incoming]:
        new, old = incoming[name], current.get(name)
        old = new.iloc[:0] if old is None else old
        last = loaded[loaded["source_table"] == name]
        file_prints = _prints(new, name)
        part = _decide(new, old, name, last, prefer=prefer, prune=prune)
        keys = pd.Series(row_keys(new, name), index=new.index, dtype="object")
        taken = new[keys.isin(set(part.take))]
        if len(taken):
            upserts[name] = taken.drop(columns=[SOURCE_FILE, SOURCE_ROW], errors="ignore")
        if part.delete:
            values = key_tuples(old, name)
            deletes[name] = [values[k] for k in part.delete]
        remembered.append(
            _loaded_rows(
                name, part.remember, file_prints, _file_of(new, keys, (files or {}).get(name, ""))
            )
        )
        findings += [dict(zip(FINDING, (name, *f), strict=True)) for f in part.findings]
        if part.forget:
            deletes.setdefault("loaded", []).extend((name, k) for k in part.forget)
    rows = [r for r in remembered if len(r)]
    return Merge(
        upserts=upserts,
        deletes=deletes,
        loaded=pd.concat(rows, ignore_index=True) if rows else _loaded_rows("", [], {}, {}),
        findings=tuple(findings),
    )


def _prints(frame: pd.DataFrame, name: str) -> dict[str, str]:
    return {str(k): str(v) for k, v in fingerprint_rows(frame, name).items()}


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


def _decide(
    new: pd.DataFrame,
    old: pd.DataFrame,
    name: str,
    last: pd.DataFrame,
    *,
    prefer: str | None,
    prune: bool,
) -> _Part:
    part = _Part()
    file_prints = _prints(new, name)
    here = _prints(old, name)
    before = dict(zip(last["row_key"], last["fingerprint"], strict=True))
    conflicts: list[str] = []
    for key, print_ in file_prints.items():
        _decide_row(part, key, print_, before.get(key), here.get(key), prefer, conflicts)
    if conflicts:
        part.findings += _told_conflicts(conflicts, new, old, name)
    _decide_vanished(part, file_prints, before, here, last, _read(new), prefer, prune)
    return part


def _decide_row(
    part: _Part,
    key: str,
    file: str,
    last: str | None,
    here: str | None,
    prefer: str | None,
    conflicts: list[str],
) -> None:
    if here == file:
        if last != file:
            part.remember.append(key)
    elif last == file:  # only the database changed
        if here is None and prefer == "files":
            part.take.append(key)
        elif here is None and prefer is None:
            part.findings.append(_gone(key))
    elif last == here or prefer == "files":  # new, or only the file changed
        part.take.append(key)
        part.remember.append(key)
    elif prefer == "database":
        part.remember.append(key)
    else:
        conflicts.append(key)


def _gone(key: str) -> tuple[str, str, str, str]:
    what = "is in the files as before, but was deleted in the database"
    return (key, what, "note", "Remove it from the files too, or load with --prefer files.")


def _read(new: pd.DataFrame) -> set[str]:
    names = new.attrs.get(FILES)
    if names is not None:
        return set(names)
    return set(new[SOURCE_FILE]) if SOURCE_FILE in new.columns else set()


def _decide_vanished(
    part: _Part,
    file_prints: Mapping[str, str],
    before: Mapping[str, str],
    here: Mapping[str, str],
    last: pd.DataFrame,
    read: set[str],
    prefer: str | None,
    prune: bool,
) -> None:
    """Rows loaded from a file that was read again and no longer has them."""
    for key, file in zip(last["row_key"], last["source_file"], strict=True):
        if key in file_prints or file not in read:
            continue
        if key not in here:
            part.forget.append(key)
        elif prune and (here[key] == before[key] or prefer == "files"):
            part.delete.append(key)
            part.forget.append(key)
        elif prune and prefer != "database":
            what = f"vanished from {file}, but was changed in the database"
            part.findings.append((key, what, "warning", PREFER))
        elif not prune:
            what = f"vanished from {file}; it stays in the database"
            part.findings.append((key, what, "warning", "Delete it with --prune, or put it back."))


def _told_conflicts(
    conflicts: list[str], new: pd.DataFrame, old: pd.DataFrame, name: str
) -> list[tuple[str, str, str, str]]:
    if TABLES[name].batch:
        return [(key, _counts(key, new, old, name), "serious", PREFER) for key in sorted(conflicts)]
    first, second = _by_key(new, name, conflicts), _by_key(old, name, conflicts)
    return [
        (key, _differences(first[key], second.get(key), name), "serious", PREFER)
        for key in conflicts
    ]


def _counts(key: str, new: pd.DataFrame, old: pd.DataFrame, name: str) -> str:
    batch = TABLES[name].batch
    n_new, n_old = int((new[batch] == key).sum()), int((old[batch] == key).sum())
    return f"was changed in the files ({n_new} rows) and in the database ({n_old} rows)"


def _by_key(frame: pd.DataFrame, name: str, keys: list[str]) -> dict[str, dict[str, Any]]:
    wanted = set(keys)
    rows = [i for i, k in enumerate(row_keys(frame, name)) if k in wanted]
    part = frame.iloc[rows]
    records: list[dict[str, Any]] = records_of(part)
    return dict(zip(row_keys(part, name), records, strict=True))


def _differences(file: dict[str, Any], here: dict[str, Any] | None, name: str) -> str:
    if here is None:
        return "was changed in the files and deleted in the database"
    told = [
        f"{c.name} is {_said(file.get(c.name))} in the file, {_said(here.get(c.name))} here"
        for c in TABLES[name].columns
        if _said(file.get(c.name)) != _said(here.get(c.name))
    ]
    return "was changed on both sides; " + ("; ".join(told) or "the shapes differ")


def _said(value: Any) -> str:
    if value is None or value is pd.NA or value != value:
        return "nothing"
    return f"{value:.10g}" if isinstance(value, float) else str(value)
