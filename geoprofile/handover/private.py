"""What is marked private stays at home: tables, columns, and what speaks of them."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from geoprofile.errors import DataErrors, Problem
from geoprofile.handover.shown import taken_along
from geoprofile.schema import TABLES

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.site import Site

STEP = "handover"
DOCUMENT = "document"  # of the settings: who answers, and on what terms
HOME = ("site", "step", "forecast")  # bookkeeping that never leaves
SHOWN_BY_SHAPES = ("borehole.x", "borehole.y", "borehole.ground_elevation_m")


def private_names(site: Site) -> tuple[str, ...]:
    """The tables and columns that site.toml marks as private, checked.

    Parameters
    ----------
    site : Site
        Its settings `[handover] private = ["table", "table.column"]`.

    Returns
    -------
    tuple of str
        In the order given.

    Raises
    ------
    DataErrors
        Names that are no table or column: a slip here would let data out.
    """
    given = site.settings_of(STEP).get("private", [])
    names = [str(n) for n in given] if isinstance(given, Sequence) else [str(given)]
    problems = [p for p in (_problem(site, name) for name in names) if p]
    if isinstance(given, str) or problems:
        raise DataErrors(problems or [_no_list(given)])
    return tuple(dict.fromkeys(names))


def _problem(site: Site, name: str) -> Problem | None:
    where, advice = "site.toml [handover] private", "Correct the name: nothing was handed over."
    if not _exists(site, name):
        return Problem(where, f"'{name}'", "a table, or table.column", advice)
    if name in SHOWN_BY_SHAPES:
        advice = "Mark whole tables, borehole_path among them."
        return Problem(where, f"'{name}'", "no column that the shapes show anyway", advice)
    return None


def _exists(site: Site, name: str) -> bool:
    table, dot, column = name.partition(".")
    if table not in TABLES:
        return False
    known = {c.name for c in TABLES[table].columns}
    return not dot or column in known or column in site.table(table).columns


def _no_list(given: object) -> Problem:
    return Problem(
        "site.toml [handover] private", repr(given), "a list of names", 'Write ["table.column"].'
    )


def without_private(site: Site) -> Site:
    """The site with only what may leave.

    Parameters
    ----------
    site : Site
        As stored.

    Returns
    -------
    Site
        Without private tables and columns and the tables that repeat them, without findings about
        them, without the names of files that filled private tables, without
        bookkeeping, and without settings but for the title block and the terms.
    """
    given = private_names(site)
    names = (*given, *taken_along(given))
    tables = {n: f for n, f in site.tables.items() if n not in names and n not in HOME}
    for name in names:
        table, dot, column = name.partition(".")
        if dot and table in tables:
            tables[table] = tables[table].drop(columns=[column], errors="ignore")
    touched = {n.partition(".")[0] for n in names}
    if "finding" in tables and touched:
        finding = tables["finding"]
        tables["finding"] = finding[~finding["source_table"].isin(touched)]
    hidden = {n for n in names if "." not in n}
    if hidden:
        tables = _without_files(site, tables, hidden)
    if "run" in tables:
        # key figures of a run tell of tables that stay
        left = ["settings", "figures"] if names else ["settings"]
        tables["run"] = tables["run"].drop(columns=left, errors="ignore")
    signed = site.settings_of(DOCUMENT)
    return replace(site, tables=tables, settings={DOCUMENT: signed} if signed else {})


def _without_files(
    site: Site, tables: dict[str, pd.DataFrame], hidden: set[str]
) -> dict[str, pd.DataFrame]:
    """The tables of files and runs without the files that filled hidden tables."""
    files = site.table("source_file")
    secret = set(files[files["source_table"].isin(hidden)]["source_file"])
    found = dict(tables)
    if "source_file" in found:
        kept = found["source_file"]
        found["source_file"] = kept[~kept["source_file"].isin(secret)]
    if "loaded" in found:
        rows = found["loaded"]
        found["loaded"] = rows[~rows["source_table"].isin(hidden)]
    if "run" in found:
        runs = found["run"]
        inputs = [_fewer(text, secret) for text in runs["inputs"]]
        found["run"] = runs.assign(inputs=inputs)
    return found


def _fewer(text: Any, secret: set[str]) -> Any:
    if not isinstance(text, str):
        return text
    files = json.loads(text)
    return json.dumps({n: h for n, h in files.items() if n not in secret}, sort_keys=True)
