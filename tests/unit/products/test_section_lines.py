"""Planes through boreholes, along the flow and across it."""

import geopandas as gpd
import numpy as np
import pytest
import shapely

from geoprofile.errors import DataError
from geoprofile.products.section.lines import along_flow, line_names, plane_of, sheet_step, through
from geoprofile.products.section.sections import along


def with_flow(site, azimuth):
    """The site with a known direction of flow."""
    flow = gpd.GeoDataFrame(
        {
            "measured_at": [None],
            "gradient": [0.01],
            "gradient_sd": [0.001],
            "azimuth_deg": [azimuth],
            "azimuth_sd_deg": [5.0],
            "boreholes": [9],
            "notes": [None],
        },
        geometry=[shapely.LineString([(0, 0, 0), (1, 1, 0)])],
        crs=site.crs,
    )
    return site.with_tables({"flow": flow})


def test_a_plane_through_boreholes_passes_every_collar(mapped_site):
    """Collars lie on the plane, in the order given, with a little room at both ends."""
    plane = through(mapped_site, ["B1", "B5", "B12"])
    collars = mapped_site.boreholes.set_index("borehole").loc[["B1", "B5", "B12"]]
    distance, _, offset = plane.to_section(collars[["x", "y", "ground_elevation_m"]].to_numpy())
    assert np.abs(offset).max() < 1e-9
    assert 0 < distance[0] < distance[1] < distance[2] < plane.length_m
    shown = {hole.borehole for hole in along(mapped_site, "x", plane).holes}
    assert {"B1", "B5", "B12"} <= shown


@pytest.mark.parametrize("azimuth", [0.0, 77.0, 200.0])
def test_a_plane_along_the_flow_has_its_azimuth(mapped_site, azimuth):
    """The plane runs with the flow, the one across it at right angles to its right."""
    site = with_flow(mapped_site, azimuth)
    assert along_flow(site).azimuths[0] == pytest.approx(azimuth, abs=1e-6)
    right = along_flow(site, across=True).azimuths[0]
    assert (right - azimuth) % 360 == pytest.approx(90.0, abs=1e-6)


def test_planes_that_cannot_be_made_say_why(mapped_site):
    """Unknown boreholes, one borehole, no flow, and an unknown line."""
    with pytest.raises(DataError, match="borehole 'Z1'"):
        through(mapped_site, ["B1", "Z1"])
    with pytest.raises(DataError, match="one point"):
        through(mapped_site, ["B1", "B1"])
    with pytest.raises(DataError, match="no direction of flow"):
        along_flow(mapped_site)
    with pytest.raises(DataError, match="one of along, across"):
        plane_of(mapped_site, "B")
    assert line_names(mapped_site) == ["along", "across"]


def test_sections_stand_apart_on_the_sheet():
    """Starts are a round step apart that is more than the longest section."""
    assert sheet_step([130, 250]) == 500
    assert sheet_step([180]) == 200
    assert sheet_step([]) == 0
