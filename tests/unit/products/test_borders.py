"""Distance of a plume's edge from the border of the site along the flow, by hand."""

import numpy as np
import pandas as pd
import pytest
import shapely
from scipy.special import ndtr

from geoprofile.geometry.contours import polygons
from geoprofile.products.plume.site_boundary import distance_to_site_boundary, flow_azimuth

SITE = polygons(shapely.box(0, 0, 100, 60))


def never(xy):
    """A field that nobody may ask: the edge does not reach the border."""
    raise AssertionError(len(xy))


def way(shape, azimuth, evaluate=never):
    """Distance [m] of the 50 % edge."""
    return distance_to_site_boundary(
        polygons(shape), SITE, azimuth, probability=0.5, evaluate=evaluate
    )


def test_the_way_runs_along_the_flow():
    """A box from 20 to 30 m: 70 m to the border eastwards, 20 m westwards, 15 m northwards."""
    box = shapely.box(20, 25, 30, 45)
    assert way(box, 90.0) == pytest.approx(70.0, abs=0.02)
    assert way(box, 270.0) == pytest.approx(20.0, abs=0.02)
    assert way(box, 0.0) == pytest.approx(15.0, abs=0.02)
    assert way(box, 45.0) == pytest.approx(15.0 * np.sqrt(2), abs=0.03)


def test_a_border_upstream_does_not_count():
    """An extent that touches the border upstream only is as far as its edge downstream."""
    assert way(shapely.box(0, 20, 30, 40), 90.0) == pytest.approx(70.0, abs=0.02)


def test_beyond_the_border_the_way_is_negative():
    """A front at x = 117: the extent ends at the border, the field goes on for 17 m."""

    def front(xy):
        return ndtr((117.0 - xy[:, 0]) / 5.0)

    # looked at in 40 steps over half the diagonal of the site, 58 m
    assert way(shapely.box(20, 10, 100, 50), 90.0, front) == pytest.approx(-17.0, abs=1.5)


def test_an_edge_on_the_border_is_at_zero():
    """The extent ends at the border and the probability falls at once behind it."""

    def inside(xy):
        return np.where(xy[:, 0] <= 100.0, 0.9, 0.1)

    assert way(shapely.box(20, 10, 100, 50), 90.0, inside) == 0.0


def test_without_flow_or_site_area_there_is_no_distance(mapped_site):
    """A direction of flow and a site area are both needed."""
    assert flow_azimuth(mapped_site) is None
    flowing = mapped_site.with_tables({"flow": pd.DataFrame({"azimuth_deg": [81.0]})})
    assert flow_azimuth(flowing) == 81.0
    areas = flowing.table("area")
    bare = flowing.with_tables({"area": areas[areas["kind"] != "site"]})
    assert flow_azimuth(bare) is None
