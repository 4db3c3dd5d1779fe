"""A laboratory's later report replaces results of an earlier one; the earlier values are kept.

The later of two results is told by the day of the report, else by its number. Where neither is
given for both, nothing is guessed: the two rows are told as given twice.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import pandas as pd

from geoprofile.errors import Problem
from geoprofile.intake.checks import where
from geoprofile.intake.problems import tell
from geoprofile.intake.sources import SOURCE_FILE, SOURCE_ROW
from geoprofile.schema import TABLES

KEY = ["sample", "analyte"]
REPORT, DAY, BY = "report", "reported_on", "replaced_by"
RESULT, REPLACED = "result", "replaced_result"
KNOWN = "_known"  # whether a row comes from the database
DATABASE = "the database"


def settle_reissues(
    tables: Mapping[str, pd.DataFrame],
    known: Mapping[str, pd.DataFrame],
    problems: list[Problem],
    notes: list[Problem],
) -> dict[str, pd.DataFrame]:
    """The tables with one result per sample and analyte, the replaced ones in their own table."""
    made = dict(tables)
    if RESULT not in made or made[RESULT].empty:
        return made
    new = made[RESULT].reset_index(drop=True).assign(**{KNOWN: False})
    stored = _stored(new, known)
    every = pd.concat([new, stored], ignore_index=True) if len(stored) else new
    drop: set[int] = set()
    records: list[dict[Any, Any]] = every.to_dict("records")
    replaced: list[dict[Any, Any]] = []
    doubtful: list[int] = []
    for _, group in every[every.duplicated(KEY, keep=False)].groupby(KEY, sort=True):
        rows = list(group.index)
        ordered = _in_order(every, rows)
        if ordered is None:
            doubtful += [r for r in rows[1:] if not every.at[r, KNOWN]]
            continue
        *earlier, last = ordered
        drop |= set(earlier)
        replaced += [_replaced(records[r], records[last]) for r in earlier]
        notes += [_note(records[r], records[last]) for r in earlier]
    _tell_doubtful(every, doubtful, problems)
    if doubtful:
        made[RESULT] = new.drop(columns=KNOWN).drop_duplicates(KEY)  # told already, and better
        return made
    made[RESULT] = every.drop(index=list(drop), columns=KNOWN).reset_index(drop=True)
    if replaced:
        rows_of = pd.DataFrame(replaced).drop(columns=KNOWN).reset_index(drop=True)
        before = made.get(REPLACED)
        parts = [rows_of] if before is None or before.empty else [before, rows_of]
        made[REPLACED] = pd.concat(parts, ignore_index=True).drop_duplicates([*KEY, REPORT, DAY])
    return made


def _stored(new: pd.DataFrame, known: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Results in the database, of the samples of the files, from reports that no file is of.

    A sample's results are stored together: without these a load of the second report alone would
    take away what only the first has. The same report loaded again is compared row by row.
    """
    old = known.get(RESULT)
    if old is None or old.empty or REPORT not in old.columns:
        return new.iloc[:0]
    reports = {(r["sample"], *_report(r)) for r in new.to_dict("records")}
    samples = set(new["sample"])
    wanted = [
        r["sample"] in samples and any(_report(r)) and (r["sample"], *_report(r)) not in reports
        for r in old.to_dict("records")
    ]
    names = [c.name for c in TABLES[RESULT].columns if c.name in old.columns]
    part = pd.DataFrame(old.loc[wanted, names])
    part[KNOWN], part[SOURCE_FILE], part[SOURCE_ROW] = True, DATABASE, 0
    return part


def _keys(frame: pd.DataFrame) -> list[tuple[str, str]]:
    return list(zip(frame["sample"].astype(str), frame["analyte"].astype(str), strict=True))


def _report(row: Mapping[Any, Any]) -> tuple[str, str]:
    return (_text(row.get(DAY)), _text(row.get(REPORT)))


def _text(value: Any) -> str:
    return "" if value is None or value is pd.NA or value != value else str(value)


def _in_order(every: pd.DataFrame, rows: list[int]) -> list[int] | None:
    """Rows from the earliest report to the latest; None where that cannot be told."""
    days = [_text(every.at[r, DAY]) for r in rows]
    reports = [_text(every.at[r, REPORT]) for r in rows]
    if all(days) and len(set(days)) == len(rows):
        return [r for _, r in sorted(zip(days, rows, strict=True))]
    if not all(reports) or len(set(reports)) < len(rows):
        return None
    if any(days) and len(set(days)) > 1:
        return None  # some of one day, or some without: the numbers might contradict the days
    natural = [_natural(r) for r in reports]
    return [r for _, r in sorted(zip(natural, rows, strict=True))]


def _natural(text: str) -> tuple[Any, ...]:
    """A number of a report so that R-9 comes before R-10, and R-9 before R-9-1."""
    parts = re.findall(r"\d+|[^\d\W]+", text.casefold())
    return tuple((1, int(p), "") if p.isdigit() else (0, 0, p) for p in parts)


def _replaced(row: Mapping[Any, Any], last: Mapping[Any, Any]) -> dict[Any, Any]:
    return {**row, BY: _text(last[REPORT]) or f"report of {_text(last[DAY])}"}


def _said(row: Mapping[Any, Any]) -> str:
    value = f"{row['value']:g}" if row["detected"] else f"<{row['limit']:g}"
    return f"{value} {row['unit']}"


def _of(row: Mapping[Any, Any]) -> str:
    number = _text(row[REPORT])
    return " ".join(filter(None, (f"report {number}" if number else "report of", _text(row[DAY]))))


def _note(old: Mapping[Any, Any], new: Mapping[Any, Any]) -> Problem:
    return Problem(
        f"result {old['sample']} {old['analyte']}",
        f"{_said(old)} ({_of(old)}) and later {_said(new)} ({_of(new)})",
        "the later report to hold; the earlier value is kept in replaced_result",
        "Ask the laboratory for the reason of the change if the report does not give it.",
    )


def _tell_doubtful(every: pd.DataFrame, rows: list[int], problems: list[Problem]) -> None:
    firsts = {k: i for i, k in reversed(list(zip(every.index, _keys(every), strict=True)))}

    def what(i: int) -> tuple[str, str, str]:
        key = (str(every.at[i, "sample"]), str(every.at[i, "analyte"]))
        return (
            f"'{key[0]}', '{key[1]}' a second time; first in {where(every, firsts[key])}",
            "each sample and analyte once, or the report of each, of which the later holds",
            "Remove one of the rows; if the laboratory issued its report again, fill report or "
            "reported_on in both (constants = { report = ... } in their profiles).",
        )

    tell(problems, rows, lambda i: where(every, i, "sample"), what)
