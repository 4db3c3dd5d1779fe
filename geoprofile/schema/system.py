"""The bookkeeping tables: the site itself, the runs, and what was loaded and computed from what."""

from __future__ import annotations

from geoprofile.schema.columns import (
    BOTTOM,
    HOLE,
    PREDICTED_HIGH,
    PREDICTED_LOW,
    PREDICTED_MEDIAN,
    PREDICTED_UNIT,
    QUANTITY,
    ROUND,
    TOP,
    UNCERTAIN,
)
from geoprofile.schema.table import Column, Table

SITE = Table(
    "site",
    "Site",
    "The site's name, reference systems and settings, as last loaded from site.toml",
    "system",
    (
        Column("name", "text", "", "Name of the setting", required=True, key=True),
        Column("value", "text", "", "Value, in JSON", required=True),
    ),
)

RUN = Table(
    "run",
    "Runs",
    "Every command that wrote to this file, with its settings and inputs",
    "system",
    (
        Column("run", "integer", "1", "Number of the run", required=True, key=True),
        Column("command", "text", "", "Command", required=True),
        Column("version", "text", "", "Version of geoprofile", required=True),
        Column("settings", "text", "", "Settings, in JSON"),
        Column("inputs", "text", "", "Files read with their SHA-256, in JSON"),
        Column("started_at", "datetime", "", "Start, UTC"),
        Column("ended_at", "datetime", "", "End, UTC"),
        Column("figures", "text", "", "Key figures that the run computed, in JSON"),
    ),
)

STEP = Table(
    "step",
    "Steps",
    "The settings and the fingerprint of what each derived layer was last computed from, and, as "
    "'load', the fingerprint of the input tables after the last load",
    "system",
    (
        Column("step", "text", "", "Layer", required=True, key=True),
        Column("fingerprint", "text", "", "SHA-256 of inputs, settings and version", required=True),
        Column("run", "integer", "1", "Run that computed it", required=True),
        Column("settings", "text", "", "Settings that it was computed with, in JSON"),
    ),
)

LOADED = Table(
    "loaded",
    "Loaded rows",
    "What each row was when last loaded, so that edits in the GIS are told from edits in files",
    "system",
    (
        Column("source_table", "text", "", "Table", required=True, key=True),
        Column("row_key", "text", "", "Key of the row or of its batch", required=True, key=True),
        Column("fingerprint", "text", "", "SHA-256 of the row in the file", required=True),
        Column("source_file", "text", "", "File", required=True),
    ),
)

SOURCE_FILE = Table(
    "source_file",
    "Source files",
    "Files that were loaded, with their content's fingerprint",
    "system",
    (
        Column("source_file", "text", "", "File, relative to the site folder", True, True),
        Column("fingerprint", "text", "", "SHA-256 of the file", required=True),
        Column("source_table", "text", "", "Table it fills", required=True),
        Column("rows", "integer", "1", "Rows read"),
        Column(
            "folder", "text", "", "Folder it came from, as seen from this file; empty for its own"
        ),
        Column("profile", "text", "", "Intake profile by which it was read"),
        Column("remarks", "text", "", "What its header block says, such as a serial number"),
        Column("run", "integer", "1", "Run that loaded it", required=True),
    ),
)

FIELD_COPY = Table(
    "field_copy",
    "Field copies",
    "Rows as they were given to each copy for the field, and what became of what came back",
    "system",
    (
        Column("copy", "text", "", "Mark of the copy", required=True, key=True),
        Column("source_table", "text", "", "Table", required=True, key=True),
        Column("row_key", "text", "", "Key of the row, in JSON", required=True, key=True),
        Column("number", "integer", "1", "Number of the copy, by age", required=True),
        Column("state", "text", "", "The row as given and brought back, in JSON", required=True),
    ),
)

FORECAST = Table(
    "forecast",
    "Forecasts",
    "What each advice expected of its tests; kept, so that results can be held against it",
    "system",
    (
        Column("forecast", "text", "", "SHA-256 of the forecast", required=True, key=True),
        Column("advice", "integer", "1", "Number of the advice on this quantity", required=True),
        QUANTITY,
        ROUND,
        HOLE,
        TOP,
        BOTTOM,
        PREDICTED_LOW,
        PREDICTED_MEDIAN,
        PREDICTED_HIGH,
        PREDICTED_UNIT,
        Column("gain_m3", "real", "m3", "Expected fall of the volume of uncertain classification"),
        UNCERTAIN,
        Column("x_m", "real", "m", "Easting of a proposed borehole; empty for a test"),
        Column("y_m", "real", "m", "Northing of a proposed borehole; empty for a test"),
        Column(
            "known_until",
            "text",
            "",
            "Time of the newest result that the advice knew; only later ones are held against it",
        ),
    ),
)

SYSTEM: tuple[Table, ...] = (SITE, RUN, STEP, LOADED, SOURCE_FILE, FORECAST, FIELD_COPY)
