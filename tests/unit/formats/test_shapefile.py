"""Shapefiles and what they cannot carry."""

import fiona
import pandas as pd
import pytest

from geoprofile.formats.shapefile import PLUGIN
from geoprofile.schema import TABLES
from geoprofile.schema.short_names import short_names


@pytest.fixture
def folder(awkward_site, tmp_path):
    """A folder of Shapefiles."""
    return tmp_path, PLUGIN.write(awkward_site, str(tmp_path), {"tables": []})


def test_short_names_are_ten_characters_and_unique():
    """Names that begin alike stay apart, whatever their case."""
    short = short_names(("window_high_share", "window_high_other", "Window_High", "x"))
    assert len({s.lower() for s in short.values()}) == 4
    assert max(map(len, short.values())) <= 10


@pytest.mark.parametrize("table", TABLES.values(), ids=lambda t: t.name)
def test_short_names_of_the_schema_are_words(table):
    """A unit is left off, words are cut, never numbered; every name is there once."""
    short = short_names((c.name for c in table.columns), table.columns)
    assert len({s.lower() for s in short.values()}) == len(table.columns)
    assert max(len(s) for s in short.values()) <= 10
    for full, name in short.items():
        assert name == full or not name[-1].isdigit() or full[-1].isdigit()
        assert not name.endswith("_")


def test_names_table_leads_back(folder):
    """Every short name in the file is in the table of names with its full name and unit."""
    path, _ = folder
    names = pd.read_csv(path / "column_names.csv")
    with fiona.open(path / "conductivity.shp") as layer:
        short = list(layer.schema["properties"])
        assert layer.schema["geometry"].startswith("3D")
    listed = names[names["file"] == "conductivity"]
    assert set(short) == set(listed["short_name"])
    row = listed[listed["full_name"] == "transmissivity_m2_per_s"]
    assert row.empty or row["unit"].item() == "m2/s"


def test_long_text_is_cut_and_told(folder):
    """254 bytes stay, and the report says which column."""
    path, written = folder
    with fiona.open(path / "borehole.shp") as layer:
        texts = [f["properties"]["remarks"] or "" for f in layer]
    assert max(len(t.encode()) for t in texts) <= 254
    assert any(w.kind == "cut" and "remarks" in w.where for w in written.losses)


def test_small_numbers_are_measured(folder):
    """What K loses in the file is measured by reading it back, and told if anything is lost."""
    path, written = folder
    with fiona.open(path / "conductivity.shp") as layer:
        found = next(iter(layer))["properties"]["k_m_per_s"]
    lost = abs(found / 1.2345678901234e-7 - 1)
    told = [w for w in written.losses if w.kind == "rounded" and "k_m_per_s" in w.where]
    assert bool(told) == (lost > 1e-12)
    assert lost < 1e-6
