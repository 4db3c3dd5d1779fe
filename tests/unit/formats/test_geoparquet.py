"""Parquet files."""

import geopandas as gpd
import pytest

from geoprofile.formats.geoparquet import PLUGIN

pytest.importorskip("pyarrow")


def test_shapes_types_and_crs_come_back(awkward_site, tmp_path):
    """The same CRS, shapes with elevations and an empty whole number."""
    written = PLUGIN.write(awkward_site, str(tmp_path), {"tables": []})
    back = gpd.read_parquet(tmp_path / "conductivity.parquet")
    assert back.crs == awkward_site.crs
    assert back.geometry.iloc[0].coords[1][2] == -2.0
    assert back["readings_used"].isna().sum() == 3
    assert [w.where for w in written.losses] == ["section_band.parquet"]


def test_every_field_carries_unit_and_meaning(awkward_site, tmp_path):
    """As metadata of the field, beside those of the shapes (GeoParquet 1.0, from memory)."""
    schema_of = pytest.importorskip("pyarrow.parquet").read_schema
    PLUGIN.write(awkward_site, str(tmp_path), {"tables": []})
    schema = schema_of(tmp_path / "conductivity.parquet")
    told = schema.field("k_m_per_s").metadata
    assert told[b"unit"] == b"m/s"
    assert told[b"description"]
    assert b"geo" in schema.metadata
    assert schema.metadata[b"title"] == b"K of each test"
