"""What a site file held at one moment, as fingerprints: what a command read, it finds again.

A command reads, works for a while, and writes. Another program may save in between. The writing
transaction therefore compares what was read with what is there, and refuses if they differ.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeVar

from geoprofile.errors import ChangedError
from geoprofile.schema import INPUT
from geoprofile.store.fingerprints import fingerprint, fingerprint_of_fields

LOAD = "load"  # the step whose fingerprint is that of the input tables after a load
OTHERS = ("finding", "loaded", "source_file", "forecast", "field_copy")
TRIES = 4  # of a command whose input another program changes while it works
Done = TypeVar("Done")
NO_INPUT = ("finding", "forecast", "field_copy")  # of a load


@dataclass(frozen=True)
class Marks:
    """The fingerprints of one moment.

    `tables` has one per input table, and those of `finding` and some system tables; `fields` is one
    of all input tables, the columns of the user's own included; `steps` is the table `step`,
    `settings` the table `site`.
    """

    tables: Mapping[str, str] = field(default_factory=dict)
    fields: str | None = None
    steps: Mapping[str, str] = field(default_factory=dict)
    settings: str | None = None

    @property
    def is_as_loaded(self) -> bool:
        """Whether the input tables are as the last load left them: nobody edited or drew a row."""
        return self.fields is not None and self.steps.get(LOAD) == self.fields

    def only(self, tables: Iterable[str], steps: Iterable[str]) -> Marks:
        """The part that a command depends on which read these tables and what these steps made."""
        return Marks(
            {t: self.tables[t] for t in tables if t in self.tables},
            None,
            {s: self.steps.get(s, "") for s in steps},
            self.settings,
        )

    def without_steps(self) -> Marks:
        """The part that a load depends on: it rests on no step, and what it finds is its own."""
        kept = {t: p for t, p in self.tables.items() if t not in NO_INPUT}
        return replace(self, steps={LOAD: self.steps.get(LOAD, "")}, tables=kept)


def marks_of(connection: sqlite3.Connection) -> Marks:
    """The fingerprints of the state that a connection sees."""
    prints = {t.name: fingerprint(connection, t.name) for t in INPUT}
    fields = fingerprint_of_fields(connection, prints)
    prints |= {name: fingerprint(connection, name) for name in OTHERS}
    return Marks(prints, fields, _steps(connection), _settings(connection))


def refuse_changed(connection: sqlite3.Connection, seen: Marks | None, path: Path) -> None:
    """ChangedError when something that was read is no longer as it was."""
    if seen is None:
        return
    prints = {t: fingerprint(connection, t) for t in seen.tables}
    changed = [t for t, p in seen.tables.items() if prints[t] != p]
    steps = _steps(connection)
    changed += [f"layer {s}" for s, p in seen.steps.items() if steps.get(s, "") != p]
    if seen.settings is not None and seen.settings != _settings(connection):
        changed.append("the settings")
    if not changed and seen.fields not in (None, fingerprint_of_fields(connection, prints)):
        changed.append("a column of your own")
    if changed:
        raise ChangedError(
            path.name,
            f"that another program changed {', '.join(changed)} meanwhile",
            "what was read to stay as it was; nothing was changed",
            "Save the edits in the GIS, wait for other commands to end, then run again.",
        )


def until_unchanged(once: Callable[[], Done]) -> Done:
    """Do it again while another program changes what it rests on; ChangedError in the end."""
    for _ in range(TRIES - 1):
        try:
            return once()
        except ChangedError:
            continue
    return once()


def _steps(connection: sqlite3.Connection) -> dict[str, str]:
    return {str(s): str(p) for s, p in connection.execute("SELECT step, fingerprint FROM step")}


def _settings(connection: sqlite3.Connection) -> str:
    rows = connection.execute("SELECT name, value FROM site ORDER BY name").fetchall()
    return json.dumps(rows, default=str)
