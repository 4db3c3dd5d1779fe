"""A mine grid is a CRS of its own right: plane, in metres, with no tie to the globe."""

from __future__ import annotations

import pytest

from geoprofile.errors import DataError
from geoprofile.formats._wgs84 import to_wgs84
from geoprofile.intake.coordinates import crs_problems
from geoprofile.places import longitude_latitude
from geoprofile.store.reference import site_reference

GRID = (
    'ENGCRS["Mine grid",EDATUM["Mine datum"],CS[Cartesian,2],AXIS["easting (E)",east,ORDER[1]],'
    'AXIS["northing (N)",north,ORDER[2]],LENGTHUNIT["{unit}",{metres}]]'
)
MINE = GRID.format(unit="metre", metres=1)


def test_a_mine_grid_is_accepted_and_feet_are_not() -> None:
    """At the intake and in the site file."""
    assert crs_problems(MINE) == []
    assert site_reference(MINE).name == "Mine grid"
    feet = GRID.format(unit="foot", metres=0.3048)
    assert "foot" in crs_problems(feet)[0].found
    with pytest.raises(DataError, match="foot"):
        site_reference(feet)


def test_places_of_a_mine_grid_have_no_longitude() -> None:
    """Empty in the advice; a format in degrees says so. UTM: the middle of zone 32 is 9 degrees."""
    assert longitude_latitude([10.0], [20.0], MINE) == [(None, None)]
    assert longitude_latitude([500_000.0], [0.0], "EPSG:32632") == [(9.0, 0.0)]
    with pytest.raises(DataError, match="no tie to the globe"):
        to_wgs84([], MINE)
