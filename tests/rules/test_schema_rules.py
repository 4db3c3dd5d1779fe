"""The schema keeps its own rules."""

from __future__ import annotations

import re

import pytest

from geoprofile.schema import TABLES, Column, Table

SUFFIXES = {
    "m": "_m",
    "m2": "_m2",
    "m3": "_m3",
    "mm": "_mm",
    "kPa": "_kpa",
    "s": "_s",
    "d": "_d",
    "deg": "_deg",
    "degC": "_c",
    "m/s": "_m_per_s",
    "m2/s": "_m2_per_s",
    "ug/L": "_ug_per_l",
    "ug/m3": "_ug_per_m3",
    "ppmv": "_ppmv",
    "g/mol": "_g_per_mol",
    "L": "_l",
    "L/min": "_l_min",
    "min": "minutes",
    "1/m": "_per_m",
    "1/Pa": "_per_pa",
    "g/d": "_g_per_day",
    "kg": "_kg",
    "g/m2/d": "_g_per_m2_per_day",
    "ug/L/a": "_ug_per_l_year",
    "Lu": "lugeon",  # 1 L/min per metre at 1 MPa
}
# the columns whose unit stands in a column beside them, and the coordinates
BESIDE = {"value", "limit", "low", "high", "lower", "upper", "gain"}
BESIDE |= {"predicted_low", "predicted_median", "predicted_high"}
BESIDE |= {"measured"}
BESIDE |= {"estimate", "standard_uncertainty", "sensitivity"}
COLUMNS = [(t, c) for t in TABLES.values() for c in t.columns]


def name_of(pair: tuple[Table, Column]) -> str:
    """table.column."""
    return f"{pair[0].name}.{pair[1].name}"


@pytest.mark.parametrize("pair", COLUMNS, ids=name_of)
def test_every_number_carries_its_unit(pair: tuple[Table, Column]) -> None:
    """A numeric column names its unit in the schema, and in its name unless it is a pure number."""
    table, column = pair
    if column.kind not in ("real", "integer"):
        return
    if column.name in BESIDE and column.unit == "":
        assert any(c.name in ("unit", "gain_unit", "predicted_unit") for c in table.columns)
        return
    assert column.unit, name_of(pair)
    if column.unit != "1" and column.name not in ("x", "y"):
        ending = SUFFIXES[column.unit]
        assert ending in column.name, f"{name_of(pair)} should end in {ending}"


@pytest.mark.parametrize("pair", COLUMNS, ids=name_of)
def test_names_suit_every_reader(pair: tuple[Table, Column]) -> None:
    """Names are plain and free of words that databases and GIS software keep for themselves."""
    for name in (pair[0].name, pair[1].name):
        assert re.fullmatch(r"[a-z][a-z0-9_]{0,40}", name)
        assert name not in {"fid", "geom", "ogc_fid", "geometry", "rowid"}
    assert len(pair[1].meaning) > 3


@pytest.mark.parametrize("table", TABLES.values(), ids=lambda t: t.name)
def test_references_point_at_keys(table: Table) -> None:
    """A reference names a table that has such a key."""
    for column in table.columns:
        if column.references:
            assert column.references in TABLES[column.references].key


@pytest.mark.parametrize("table", TABLES.values(), ids=lambda t: t.name)
def test_every_table_is_described(table: Table) -> None:
    """Title and description are there, and an input table has a key."""
    assert table.title
    assert table.description
    if table.owner == "input":
        assert table.key
