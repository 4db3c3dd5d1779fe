"""The derived table that every layer may add to."""

from __future__ import annotations

from geoprofile.schema.columns import RUN
from geoprofile.schema.table import Column, Table

SEVERITIES = ("serious", "warning", "note")  # the gravest first

FINDING = Table(
    "finding",
    "Findings",
    "What the data check found, with the first thing to do",
    "derived",
    (
        Column("source_table", "text", "", "Table concerned"),
        Column("row_key", "text", "", "Row concerned"),
        Column("what", "text", "", "What was found"),
        Column("severity", "text", "", "How much it matters", allowed=tuple(reversed(SEVERITIES))),
        Column("what_to_do", "text", "", "The first thing to do"),
        Column("step", "text", "", "Step that found it"),
        RUN,
    ),
)
