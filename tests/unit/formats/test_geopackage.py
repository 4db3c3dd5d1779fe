"""The GeoPackage that is handed over."""

import sqlite3

import fiona
import geopandas as gpd

from geoprofile.formats.geopackage import PLUGIN


def test_every_value_and_shape_comes_back(awkward_site, tmp_path):
    """fiona, an independent reader, sees the same rows, Z included, and the user's own column."""
    written = PLUGIN.write(awkward_site, str(tmp_path), {"tables": []})
    assert written.losses == ()
    path = tmp_path / written.files[0]
    assert set(fiona.listlayers(path)) >= {"borehole", "conductivity", "section_band", "area"}
    back = gpd.read_file(path, layer="borehole", engine="fiona")
    meant = awkward_site.table("borehole")
    assert list(back["borehole"]) == list(meant["borehole"])
    assert list(back["own_note"].fillna("")) == list(meant["own_note"].fillna(""))
    assert back.crs == meant.crs
    assert [p.z for p in back.geometry] == [p.z for p in meant.geometry]


def test_columns_carry_meaning_and_unit(awkward_site, tmp_path):
    """The dictionary of the file (GeoPackage 1.3, schema extension) names unit and meaning."""
    written = PLUGIN.write(awkward_site, str(tmp_path), {"tables": ["conductivity"]})
    connection = sqlite3.connect(tmp_path / written.files[0])
    words = connection.execute(
        "SELECT name FROM gpkg_data_columns WHERE column_name = 'k_m_per_s'"
    ).fetchone()[0]
    tables = [r[0] for r in connection.execute("SELECT table_name FROM gpkg_contents")]
    connection.close()
    assert words.endswith("[m/s]")
    assert "conductivity" in tables
    assert "borehole" not in tables


def test_layers_open_styled(awkward_site, tmp_path):
    """Each layer has one default style of ours in the table that desktop GIS reads."""
    written = PLUGIN.write(awkward_site, str(tmp_path), {"tables": []})
    connection = sqlite3.connect(tmp_path / written.files[0])
    styled = dict(
        connection.execute(
            "SELECT f_table_name, length(styleQML) FROM layer_styles WHERE useAsDefault"
        )
    )
    connection.close()
    assert {"borehole", "conductivity", "section_band", "area"} <= set(styled)
    assert min(styled.values()) > 100
