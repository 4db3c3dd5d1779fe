"""Times that a desktop GIS wrote without a zone: its forms show UTC, so UTC is what is meant."""

# ruff: noqa: S608 - names pass through quoted(), values are parameters

from __future__ import annotations

import sqlite3

from geoprofile.schema import INPUT
from geoprofile.store.connection import quoted
from geoprofile.store.fingerprints import columns_of

DAY, HOUR = "[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]", "[0-9][0-9]:[0-9][0-9]:[0-9][0-9]"
BARE = f"{DAY}T{HOUR}"
ENDINGS = {BARE: ".000Z", f"{BARE}.[0-9][0-9][0-9]": "Z"}


def zone_moments(connection: sqlite3.Connection) -> None:
    """Write the zone behind every time of the user's tables that has none."""
    for table in INPUT:
        present = columns_of(connection, table.name)
        for column in table.columns:
            if column.kind != "datetime" or column.name not in present:
                continue
            name = quoted(column.name)
            for pattern, ending in ENDINGS.items():
                connection.execute(
                    f"UPDATE {quoted(table.name)} SET {name} = {name} || ? WHERE {name} GLOB ?",
                    (ending, pattern),
                )
