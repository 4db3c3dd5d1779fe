"""The layer of next boreholes on the small made-up site, with an area closed to drilling."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
import pytest
import shapely
from beside import module_of

from geoprofile.engine.rows import frame
from geoprofile.errors import UsageError
from geoprofile.plugins import no_progress
from geoprofile.products.advice import next_borehole
from geoprofile.products.advice.places import allowed_area, places_of, zones_of
from geoprofile.site import Site

CRS = "EPSG:32628"
SETTINGS = {s.name: s.default for s in next_borehole.PLUGIN.settings}
CLOSED = shapely.box(30.0, 30.0, 60.0, 50.0)


@cache
def site() -> Site:
    """The made-up site with a site area and one area closed to drilling."""
    areas = [
        {"name": "yard", "kind": "site", "geometry": shapely.box(-10.0, 0.0, 120.0, 80.0)},
        {"name": "tank", "kind": "no drilling", "geometry": CLOSED},
    ]
    made: Site = module_of("unit/products/test_next_test.py").small_site()
    return made.with_tables({"area": frame("area", areas, CRS)})


@cache
def advised() -> dict[str, pd.DataFrame]:
    """The layer's tables."""
    return dict(next_borehole.compute(site(), SETTINGS, no_progress))


def test_places_keep_clear_of_closed_areas_and_holes() -> None:
    """Every place lies in the site, 5 m from the closed area and from every hole."""
    places = places_of(site(), SETTINGS)
    points = shapely.points(places.xy)
    assert len(points) > 50
    assert shapely.distance(points, CLOSED).min() >= 5.0 - 0.05  # circles are drawn as polygons
    holes = shapely.points(site().boreholes[["x", "y"]].to_numpy(float))
    assert min(shapely.distance(points, hole).min() for hole in holes) >= 5.0 - 0.05
    assert shapely.covers(shapely.box(-10.0, 0.0, 120.0, 80.0), points).all()


def test_proposals_are_ranked_and_allowed() -> None:
    """Ranks run 1, 2, 3 and no proposal stands in a closed area."""
    table = advised()["next_borehole"]
    assert list(table["rank"]) == list(range(1, len(table) + 1))
    assert table.geometry.distance(CLOSED).min() >= 4.95
    assert set(table["quantity"]) == {"K", "X"}


def test_depth_reaches_below_the_deepest_interval() -> None:
    """The proposed depth leaves room for a packer element below the deepest interval."""
    for row in advised()["next_borehole"].itertuples():
        bottoms = [float(part.split("-")[1]) for part in row.intervals.split("; ")]
        assert row.depth_m == pytest.approx(max(bottoms) + 1.5, abs=0.11)
        assert row.depth_m <= 36.0 + 1.5


def test_reason_tells_gain_per_cost() -> None:
    """The reason names the share and the gain per unit of cost; the cautions defer."""
    for row in advised()["next_borehole"].itertuples():
        assert "this borehole is expected to cut" in row.reason
        assert "costs of [next_borehole])" in row.reason
        assert row.cautions.startswith("Maker's limits, local codes and licensed practice")


def test_stopping_now_is_told() -> None:
    """A finding says what stopping now leaves open."""
    words = " ".join(advised()["finding"]["what"])
    assert "stopping now leaves about" in words
    assert "boreholes proposed are expected to cut that volume by" in words


def test_users_places_are_taken() -> None:
    """Given places are the only ones tried; those in closed areas fall away."""
    chosen = {**SETTINGS, "candidates": ["80 40", "45 40"]}
    assert places_of(site(), chosen).xy.tolist() == [[80.0, 40.0]]
    with pytest.raises(UsageError, match="easting and northing"):
        places_of(site(), {**SETTINGS, "candidates": ["here"]})


def test_no_place_is_a_finding() -> None:
    """Where all is closed nothing is proposed and the reason told."""
    made = next_borehole.compute(site(), {**SETTINGS, "stand_off_m": 500.0}, no_progress)
    assert made["next_borehole"].empty
    assert "no borehole can be proposed" in " ".join(made["finding"]["what"])
    assert allowed_area(site(), 500.0, 5.0).is_empty


def test_costs_change_the_order_of_gain_per_cost() -> None:
    """Drilling without cost lets deeper holes win; a dear metre asks for shallow ones."""
    few = {**SETTINGS, "count": 1, "grid_m": 12.0}
    cheap = next_borehole.compute(site(), {**few, "cost_metre": 0.01}, no_progress)
    dear = next_borehole.compute(site(), {**few, "cost_metre": 50.0}, no_progress)
    gains = [t["next_borehole"].set_index("quantity")["gain"]["X"] for t in (cheap, dear)]
    assert gains[0] >= gains[1] * (1 - 1e-9)


def test_zones_stand_apart_and_under_water() -> None:
    """Zones start below casing and water and keep their spacing."""
    places = places_of(site(), SETTINGS)
    zones = zones_of(places, first_m=4.0, length_m=2.0, spacing_m=4.0)
    first = zones.place == 0
    assert zones.top[first][0] >= 4.0
    assert np.allclose(np.diff(zones.top[first]), 4.0)
    assert zones.bottom.max() <= places.depth.max() + 1e-9
