"""Areas and lines from vector files: formats allowed, CRS stated, shapes that fit the table."""

from __future__ import annotations

import json
from pathlib import Path

import geopandas as gpd
import pytest
import shapely

from geoprofile import intake
from geoprofile.errors import GeoprofileError

ALONE = dict.fromkeys(
    ("intervals.csv", "tests.csv", "readings/T1.csv", "samples.csv", "results.csv")
)
SQUARE = [[500000, 5300000], [500100, 5300000], [500100, 5300100], [500000, 5300000]]
UTM = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32632"}}


def areas(*rings, crs=UTM, kind="site", shape="Polygon") -> str:
    """A GeoJSON file of areas (RFC 7946; the member `crs` of its forerunner)."""
    features = [
        {
            "type": "Feature",
            "properties": {"name": f"area {i}", "kind": kind},
            "geometry": {"type": shape, "coordinates": [r] if shape == "Polygon" else r},
        }
        for i, r in enumerate(rings)
    ]
    extra = {"crs": crs} if crs else {}
    return json.dumps({"type": "FeatureCollection", **extra, "features": features})


def test_areas_in_the_site_crs_are_taken_as_they_are(taken):
    """Coordinates in the site CRS are not touched."""
    frame = taken({**ALONE, "areas.geojson": areas(SQUARE)}).tables["area"]
    assert frame.geometry.iloc[0].equals_exact(shapely.Polygon(SQUARE))
    assert frame["kind"].tolist() == ["site"]
    assert frame.crs.to_epsg() == 32632


def test_geojson_without_crs_is_longitude_and_latitude(taken):
    """By RFC 7946 coordinates are WGS 84; 9 E on the equator of zone 32 is 500 000 m east."""
    ring = [[9.0, 0.0], [9.001, 0.0], [9.001, 0.001], [9.0, 0.0]]
    holes = (
        "borehole,x,y,ground_elevation_m,measuring_point_height_m,depth_m\nB1,500010,10,101,0,30\n"
    )
    files = {**ALONE, "boreholes.csv": holes, "areas.geojson": areas(ring, crs=None)}
    frame = taken(files).tables["area"]
    assert frame.geometry.iloc[0].bounds[:2] == pytest.approx((500000, 0), abs=1e-6)


def test_geojson_in_metres_without_crs_is_told(one):
    """Metres in a file that says nothing cannot be degrees."""
    assert "'crs'" in one({**ALONE, "areas.geojson": areas(SQUARE, crs=None)}).found


@pytest.mark.parametrize("suffix", [".gpkg", ".shp", ".fgb"])
def test_other_formats_are_read_and_brought_to_the_site_crs(folder, suffix):
    """A file in geographic coordinates arrives within a millimetre of the same place."""
    place = folder(ALONE)
    frame = gpd.GeoDataFrame(
        {"name": ["a"], "kind": ["source"]}, geometry=[shapely.Polygon(SQUARE)], crs=32632
    )
    frame.to_crs(4326).to_file(place / f"areas{suffix}", engine="pyogrio")
    read = intake.read_files(intake.find_files(place), intake.read_settings(place), {})
    found = read.tables["area"].geometry.iloc[0]
    assert shapely.hausdorff_distance(found, shapely.Polygon(SQUARE)) < 1e-3


@pytest.mark.parametrize("ending", ["-wal", "-journal"])
def test_unsaved_edits_beside_a_geopackage_are_told(folder, ending):
    """Rows beside the file are no part of it: the file counts as changed, and is refused."""
    place = folder(ALONE)
    frame = gpd.GeoDataFrame(
        {"name": ["a"], "kind": ["source"]}, geometry=[shapely.Polygon(SQUARE)], crs=32632
    )
    frame.to_file(place / "areas.gpkg", engine="pyogrio")
    sha = {f.name: f.sha256 for f in intake.find_files(place)}
    beside = place / f"areas.gpkg{ending}"
    beside.write_bytes(b"")  # of a GIS that only looks
    assert {f.name: f.sha256 for f in intake.find_files(place)} == sha
    settings = intake.read_settings(place)
    assert intake.unread(place, intake.find_files(place), settings) == ()
    beside.write_bytes(b"rows of a stopped program")
    files = intake.find_files(place)
    assert {f.name for f in files if f.sha256 != sha[f.name]} == {"areas.gpkg"}
    with pytest.raises(GeoprofileError, match=f"areas.gpkg{ending} beside it"):
        intake.read_files(files, intake.read_settings(place), {})


def test_shapefile_without_its_crs_is_told(folder):
    """A shapefile that lost its .prj is refused; the site's CRS is not assumed."""
    place = folder(ALONE)
    frame = gpd.GeoDataFrame(
        {"name": ["a"], "kind": ["source"]}, geometry=[shapely.Polygon(SQUARE)], crs=32632
    )
    frame.to_file(place / "areas.shp", engine="pyogrio")
    (place / "areas.prj").unlink()
    with pytest.raises(GeoprofileError, match="no CRS"):
        intake.read_files(intake.find_files(place), intake.read_settings(place), {})


def test_changed_attributes_of_a_shapefile_change_its_fingerprint(folder):
    """A shapefile is several files: a change in any of them is seen."""
    place = folder(ALONE)
    frame = gpd.GeoDataFrame(
        {"name": ["a"], "kind": ["source"]}, geometry=[shapely.Polygon(SQUARE)], crs=32632
    )
    frame.to_file(place / "areas.shp", engine="pyogrio")
    before = [f.sha256 for f in intake.find_files(place) if f.table == "area"]
    frame.assign(kind="site").to_file(place / "areas.shp", engine="pyogrio")
    assert [f.sha256 for f in intake.find_files(place) if f.table == "area"] != before


@pytest.mark.parametrize(
    ("text", "word"),
    [
        (areas([SQUARE[0], SQUARE[1]], shape="LineString"), "LineString"),
        (areas([[0, 0], [1, 1], [1, 0], [0, 1], [0, 0]]), "not simple"),
        (areas([[SQUARE], [SQUARE]], shape="MultiPolygon"), "MultiPolygon"),
        ('{"type": "FeatureCollection", "features": [', "cannot be read"),
        (areas(SQUARE, kind="car park"), "car park"),
    ],
)
def test_shapes_that_do_not_fit_are_told(one, text, word):
    """Another kind of shape, an outline that crosses itself, several parts, a damaged file."""
    assert word in one({**ALONE, "areas.geojson": text}).found


def test_one_part_of_a_multipart_is_taken_out(taken):
    """A multipolygon of one part is that part."""
    text = areas([[SQUARE]], shape="MultiPolygon")
    assert taken({**ALONE, "areas.geojson": text}).tables["area"].geom_type.tolist() == ["Polygon"]


def test_file_that_points_at_another_is_refused(one, tmp_path):
    """A virtual source under the name of a GeoJSON file is refused by its first byte."""
    secret = tmp_path / "elsewhere.geojson"
    secret.write_text(areas(SQUARE), encoding="utf-8")
    text = (
        "<OGRVRTDataSource><OGRVRTLayer name='elsewhere'>"
        f"<SrcDataSource>{secret}</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>"
    )
    assert "another kind" in one({**ALONE, "areas.geojson": text}).found


def test_link_that_leaves_the_folder_is_refused(folder, tmp_path_factory):
    """A link to a file outside the site folder is not followed."""
    place = folder(ALONE)
    outside = tmp_path_factory.mktemp("outside") / "areas.geojson"
    outside.write_text(areas(SQUARE), encoding="utf-8")
    (place / "areas.geojson").symlink_to(outside)
    with pytest.raises(GeoprofileError, match="leaves the site folder"):
        intake.find_files(place)


def test_well_known_text_in_a_table(taken, one):
    """Areas and lines may stand in a text table as well-known text, in the site CRS."""
    text = 'name,wkt\nA,"LINESTRING (500000 5300000, 500100 5300100)"\n'
    frame = taken({**ALONE, "section_lines.csv": text}).tables["section_line"]
    assert frame.geometry.iloc[0].length == pytest.approx(100 * 2**0.5)
    assert "well-known" in one({**ALONE, "section_lines.csv": "name,wkt\nA,LINE(0 0\n"}).expected
    endless = text.replace("500100", "5e99910")
    assert "no number" in one({**ALONE, "section_lines.csv": endless}).found


def test_boreholes_from_points(folder):
    """Points with elevations give easting, northing and ground level."""
    place = folder({**ALONE, "boreholes.csv": None})
    frame = gpd.GeoDataFrame(
        {"borehole": ["B1"], "depth_m": [30.0]},
        geometry=[shapely.Point(500010, 5300020, 101.5)],
        crs=32632,
    )
    frame.to_file(place / "boreholes.gpkg", engine="pyogrio")
    read = intake.read_files(intake.find_files(place), intake.read_settings(place), {})
    row = read.tables["borehole"].iloc[0]
    assert (row["x"], row["y"], row["ground_elevation_m"]) == (500010, 5300020, 101.5)


def test_reading_without_fiona_gives_the_same(folder, monkeypatch):
    """Where fiona is not installed, the other reader gives the same rows."""
    import sys

    place = folder({**ALONE, "areas.geojson": areas(SQUARE)})
    settings, files = intake.read_settings(place), intake.find_files(place)
    first = intake.read_files(files, settings, {}).tables["area"]
    monkeypatch.setitem(sys.modules, "fiona", None)
    second = intake.read_files(files, settings, {}).tables["area"]
    assert first.to_wkt().equals(second.to_wkt())


def test_paths_of_files_are_relative(folder):
    """Files are named by their path in the site folder."""
    place = folder()
    names = [f.name for f in intake.find_files(place)]
    assert "readings/T1.csv" in names
    assert not any(Path(n).is_absolute() for n in names)


def test_a_table_of_comments_alone_is_told(one):
    """A header behind a # and a quote that is not closed: no row is there to be named."""
    text = '#name,kind,wkt\nall,site,"POLYGON ((499980 5299980,500110 5299980,499980 5299980)'
    assert one({**ALONE, "areas.csv": text}).where.startswith("areas.csv")
