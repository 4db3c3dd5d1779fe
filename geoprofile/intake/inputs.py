"""The columns that files may carry: those of the schema, and those that intake turns into them."""

from __future__ import annotations

from collections.abc import Mapping

from geoprofile.intake.names import BAROMETER
from geoprofile.schema import TABLES, Column
from geoprofile.units import SYMBOLS

DEPTH_FROM = Column(
    "depth_from",
    "text",
    "",
    "Where the depths of this row are measured from; the site's declaration when empty",
    allowed=("ground", "measuring point", "top of casing"),
)
# depths of each table that may be given from the measuring point
DEPTHS = {
    "borehole": ("depth_m",),
    "survey": ("depth_m",),
    "construction": ("top_m", "bottom_m"),
    "lithology": ("top_m", "bottom_m"),
    "caliper": ("depth_m",),
    "interval": ("top_m", "bottom_m", "static_depth_m"),
    "water_level": ("depth_to_water_m",),
    "reading": ("depth_to_water_m", "outside_depth_to_water_m", "sensor_depth_m"),
}
SIGNALS = ("displacement_m", "head_m", "depth_to_water_m", "pressure_kpa", "absolute_pressure_kpa")
_MEANINGS = {
    "displacement_m": ("m", "Water level above (+) or below (-) static"),
    "head_m": ("m", "Elevation of the water level, up from the vertical datum"),
    "depth_to_water_m": ("m", "Vertical depth to water"),
    "pressure_kpa": ("kPa", "Pressure of a vented sensor, or one already freed of air pressure"),
    "absolute_pressure_kpa": ("kPa", "Pressure of a sealed sensor; needs barometer.csv"),
}


def _signals(prefix: str, of: str) -> tuple[Column, ...]:
    return tuple(
        Column(prefix + name, "real", unit, f"{of}: {meaning[0].lower()}{meaning[1:]}")
        for name, (unit, meaning) in _MEANINGS.items()
    )


READING_COLUMNS: tuple[Column, ...] = (
    Column("test", "text", "", "Test; the file's name when this column is missing", key=True),
    Column("elapsed_s", "real", "s", "Time since the start of the test; below 0 before it"),
    Column("measured_at", "datetime", "", "Time of the reading, instead of elapsed_s"),
    *_signals("", "In the zone"),
    *_signals("outside_", "Outside the isolated zone"),
    Column(
        "air_pressure_kpa",
        "real",
        "kPa",
        "Air pressure at the reading, for an absolute pressure without barometer.csv",
        low=50,
        high=120,
    ),
    Column(
        "logger_started_at",
        "datetime",
        "",
        "Start of the logger's record, where elapsed_s counts from it and not from the test",
    ),
    Column("sensor_depth_m", "real", "m", "Vertical depth of the pressure sensor"),
    Column("outside_sensor_depth_m", "real", "m", "Vertical depth of the sensor outside"),
    DEPTH_FROM,
)
BLANK = "blank"
# common practice, no source: how field sheets name kinds of samples
KINDS: Mapping[str, tuple[str, str]] = {
    "trip blank": (BLANK, "trip"),
    "transport blank": (BLANK, "trip"),
    "field blank": (BLANK, "model"),
    "equipment blank": (BLANK, "equipment"),
    "rinsate blank": (BLANK, "equipment"),
    "rinsate": (BLANK, "equipment"),
    "field duplicate": ("duplicate", ""),
    "normal": ("primary", ""),
}
# for gases in parts by volume, which intake turns into mass per volume
GAS_COLUMNS = (
    Column(
        "molar_mass_g_per_mol", "real", "g/mol", "Molar mass of a gas in ppmv", above=0, high=1000
    ),
    Column("gas_temperature_c", "real", "degC", "Temperature of the volume in ppmv", low=-50),
    Column("gas_pressure_kpa", "real", "kPa", "Pressure of the volume in ppmv", low=50, high=120),
)
BAROMETER_COLUMNS = (
    Column("measured_at", "datetime", "", "Time of the reading", required=True),
    Column("pressure_kpa", "real", "kPa", "Air pressure", required=True, low=50, high=120),
)
WKT = Column("wkt", "text", "", "Shape in the site CRS as well-known text", required=True)


def columns_of(table: str) -> tuple[Column, ...]:
    """All columns that a file for this table may have, but for units of another kind."""
    if table == BAROMETER:
        return BAROMETER_COLUMNS
    if table == "reading":
        return READING_COLUMNS
    columns = TABLES[table].columns
    if table == "result":  # the flag comes with the value, or in its own column
        columns = tuple(_optional(c) if c.name in ("detected", "unit") else c for c in columns)
        columns = (*columns, *GAS_COLUMNS)
    if table == "sample":  # kinds of blanks and duplicates go by many names
        columns = tuple(_with_kinds(c) if c.name == "kind" else c for c in columns)
    if TABLES[table].geometry and table != "borehole":
        columns = (*columns, WKT)
    return (*columns, DEPTH_FROM) if table in DEPTHS else columns


def _optional(column: Column) -> Column:
    return Column(**{**column.__dict__, "required": False})


def _with_kinds(column: Column) -> Column:
    return Column(**{**column.__dict__, "allowed": (*column.allowed, *KINDS)})


def base_of(column: Column) -> tuple[str, str]:
    """A column's name without its unit suffix, and the suffix."""
    suffix = SYMBOLS.get(column.unit, "")
    if suffix and column.name.endswith("_" + suffix):
        return column.name.removesuffix("_" + suffix), suffix
    return column.name, ""
