"""Shapefiles and what they cannot carry."""

import fiona
import pandas as pd
import pytest

from geoprofile.formats.shapefile import PLUGIN, short_names


@pytest.fixture
def folder(awkward_site, tmp_path):
    """A folder of Shapefiles."""
    return tmp_path, PLUGIN.write(awkward_site, str(tmp_path), {"tables": []})


def test_short_names_are_ten_characters_and_unique():
    """Names that begin alike stay apart, whatever their case."""
    short = short_names(("window_high_share", "window_high_other", "Window_High", "x"))
    assert len({s.lower() for s in short.values()}) == 4
    assert max(map(len, short.values())) <= 10


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
