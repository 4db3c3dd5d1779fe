"""Bringing a site file of an older table layout up to date, one version at a time."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping
from pathlib import Path

from geoprofile.errors import DamagedError
from geoprofile.schema import SCHEMA_VERSION
from geoprofile.store.connection import reading, telling, writing
from geoprofile.store.copies import safety_copy
from geoprofile.store.opening import check_header, read_settings, recover
from geoprofile.store.writing import refuse_foreign_sql

Step = Callable[[sqlite3.Connection], None]

# from each version to the next; a change of the schema that old files must follow adds its step
STEPS: Mapping[int, Step] = {}


def migrate(
    path: str | Path, *, steps: Mapping[int, Step] = STEPS, target: int = SCHEMA_VERSION
) -> Path | None:
    """Bring a file up to date after a safety copy; the copy, or None when nothing was to be done.

    All steps are one transaction. DamagedError when the file is newer, or a step is missing.
    """
    path = Path(path)
    check_header(path)
    with telling(path):
        recover(path)
    with reading(path) as connection:
        version = read_settings(connection, path).get("schema_version")
    if version == target:
        return None
    if not isinstance(version, int) or any(v not in steps for v in range(version, target)):
        raise DamagedError(
            path.name,
            f"table layout {version}",
            f"a layout from which there are steps to {target}",
            "Use the geoprofile that made it.",
        )
    if version > target:
        raise DamagedError(
            path.name, f"table layout {version}", f"{target} or older", "Update geoprofile."
        )
    copy = safety_copy(path, "before-migration")
    with writing(path) as connection:
        refuse_foreign_sql(connection)
        for number in range(version, target):
            steps[number](connection)
        connection.execute(
            "UPDATE site SET value = ? WHERE name = 'schema_version'", (str(target),)
        )
    return copy
