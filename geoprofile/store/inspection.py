"""The inspection of a site file: read-only, every check, nothing of the file's own SQL run."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

from geoprofile.errors import GeoprofileError
from geoprofile.store import check_file, check_geometry, check_limits, check_site, check_values
from geoprofile.store.connection import has_sidecar, reading, register_functions
from geoprofile.store.findings import RESTORE, STUMBLES, Finding, attempt, error, folded
from geoprofile.store.opening import refuse_missing

UNDO = "A write was interrupted: any other geoprofile command, such as 'show', undoes it."


def inspect(path: str | Path) -> list[Finding]:
    """Everything that is wrong with a site file, errors first; an empty list when it is sound.

    Nothing is changed. An interrupted write is a finding: opening the site once undoes it. So is
    what a stopped program left of another file, and nothing is read then: SQLite would mix the two.
    UsageError where there is no file.
    """
    path = Path(path)
    refuse_missing(path)
    found = list(check_file.check_bytes(path))
    if any(f.code in ("file", "stranger") for f in found):
        return found
    try:
        with reading(path, undo=False) as connection:
            register_functions(connection)
            found += _check_content(connection)
    except GeoprofileError as fault:
        advice = UNDO if has_sidecar(path, "-journal") else fault.problem.advice
        found.append(error("unreadable", path.name, fault.problem.found, advice))
    return sorted(folded(found), key=lambda f: f.severity != "error")


def edits(path: str | Path) -> list[Finding]:
    """Boreholes that were moved or left without a point in a GIS."""
    with reading(Path(path)) as connection:
        look = check_file.look_at(connection)
        return list(check_site.check_collars(connection, look))


def _check_content(connection: sqlite3.Connection) -> Iterator[Finding]:
    try:
        look = check_file.look_at(connection)
    except STUMBLES as fault:
        yield error("pages", "file", f"it cannot be read ({fault})", RESTORE)
        return
    checks = (
        check_file.check_pages(connection),
        check_file.check_core(connection, look),
        check_site.check_tables(connection, look),
        check_site.check_layout(connection, look),
        check_values.check_sql(connection, look),
        check_file.check_names(connection, look),
        check_geometry.check_layers(connection, look),
        check_file.check_counts(connection, look),
        check_values.check_values(connection, look),
        check_values.check_dictionary(connection, look),
        check_limits.check_limits(connection, look),
        check_limits.check_forms(connection, look),
        check_values.check_links(connection, look),
        check_site.check_collars(connection, look),
        check_values.check_views(connection, look),  # last: it lifts the limits of the connection
    )
    for check in checks:
        yield from attempt(check, "file")
