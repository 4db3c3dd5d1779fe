"""GeoJSON after RFC 7946."""

import json

import numpy as np
import pytest
import shapely

from geoprofile.formats._wgs84 import to_wgs84
from geoprofile.formats.geojson import PLUGIN


@pytest.fixture
def written(awkward_site, tmp_path):
    """Losses and the documents by name."""
    done = PLUGIN.write(awkward_site, str(tmp_path), {"tables": []})
    return done, {f: json.loads((tmp_path / f).read_text("utf-8")) for f in done.files}


def test_places_are_longitude_latitude_and_heights_stay(written):
    """Easting 500 km is the central meridian of zone 28, 15 degrees west (UTM, by definition)."""
    _, documents = written
    first = documents["borehole.geojson"]["features"][0]["geometry"]["coordinates"]
    assert first[0] == pytest.approx(-15.0, abs=1e-7)
    assert first[2] == 10.0
    assert all(round(v, 7) == v for v in first[:2])


def test_outer_rings_turn_left(written):
    """RFC 7946, 3.1.6: exterior rings are counterclockwise; section 4: no `crs` member."""
    _, documents = written
    ring = documents["area.geojson"]["features"][0]["geometry"]["coordinates"][0]
    assert shapely.LinearRing(ring).is_ccw
    assert "crs" not in documents["area.geojson"]


def test_losses_are_told(written):
    """Tables off the map, rounding and unshifted heights are named."""
    done, _ = written
    told = {(loss.where, loss.kind) for loss in done.losses}
    assert ("section_band", "dropped") in told
    assert ("lithology", "dropped") in told
    assert ("borehole, conductivity", "not shifted") in told
    assert ("every .geojson", "rounded") in told


def test_heights_are_told_in_the_file(written):
    """Where a program shows the description of a layer (RFC 7946, 6.1: members of one's own)."""
    _, documents = written
    head = documents["borehole.geojson"]
    assert head["name"] == "borehole"
    assert "vertical datum" in head["description"]
    assert head["vertical_datum"]
    assert "vertical_datum" not in documents["area.geojson"]


def test_empty_cells_are_null(written):
    """A missing number is null, not NaN, which JSON lacks."""
    _, documents = written
    rows = documents["conductivity.geojson"]["features"]
    assert rows[1]["properties"]["readings_used"] is None
    assert rows[0]["properties"]["readings_used"] == 31


def test_a_shape_across_the_antimeridian_is_cut():
    """RFC 7946, 3.1.9: in two parts, neither wider than the world; heights of a line stay."""
    crs = "EPSG:32660"  # zone 60, central meridian 177 E: easting 772 km is about 180 degrees
    box = shapely.box(700_000, 1_000_000, 900_000, 1_010_000)
    line = shapely.LineString([(700_000, 1_000_000, 5.0), (900_000, 1_000_000, 5.0)])
    cut, drawn = to_wgs84([box, line], crs)
    assert len(cut.geoms) == 2
    for part in (*cut.geoms, *drawn.geoms):
        west, _, east, _ = part.bounds
        assert east - west < 3
    assert np.all(shapely.get_coordinates(drawn, include_z=True)[:, 2] == 5.0)
