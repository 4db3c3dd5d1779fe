"""Units correlated between boreholes, and the surfaces between them."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from geoprofile.errors import UsageError
from geoprofile.plugins import no_progress
from geoprofile.products.units.geology import PLUGIN
from geoprofile.products.units.inputs import unit_surfaces
from geoprofile.schema import TABLES
from geoprofile.site import Site

CRS = "EPSG:32628"
HOLES = {"A": (0.0, 0.0), "B": (100.0, 0.0), "C": (0.0, 100.0), "D": (100.0, 100.0)}
LAYER_CAKE = [(2.0, "fill"), (10.0, "sand"), (16.0, "clay"), (20.0, "rock")]


def site_of(logs, *, depth_m=20.0, survey=None):
    """Flat ground at 50 m, a hole per log; a log is (bottom [m], name) from top to bottom."""
    xy = [HOLES[name] for name in logs]
    holes = pd.DataFrame(
        {"borehole": list(logs), "x": [p[0] for p in xy], "y": [p[1] for p in xy]}
    ).assign(ground_elevation_m=50.0, depth_m=depth_m)
    rows = []
    for name, log in logs.items():
        tops = [0.0, *(bottom for bottom, _ in log[:-1])]
        rows += [(name, top, *row) for top, row in zip(tops, log, strict=True)]
    tables = {
        "borehole": gpd.GeoDataFrame(
            holes, geometry=[shapely.Point(*p, 50.0) for p in xy], crs=CRS
        ),
        "lithology": pd.DataFrame(rows, columns=["borehole", "top_m", "bottom_m", "unit"]),
    }
    if survey is not None:
        tables["survey"] = survey
    return Site("layers", CRS, "local datum", tables=tables)


def with_units(site, units=()):
    """The site with its units, and the findings."""
    made = PLUGIN.compute(site, {"units": list(units)}, no_progress)
    return site.with_tables({"hydro_unit": made["hydro_unit"]}), made["finding"]


def tops_at(site, *xy):
    """Tops of the units at map points."""
    return unit_surfaces(site).tops(np.array(xy, dtype=float))


def test_a_layer_cake_needs_no_list():
    """Where every hole meets every unit once and in one order, the logs are the units."""
    site, findings = with_units(site_of(dict.fromkeys(HOLES, LAYER_CAKE)))
    assert unit_surfaces(site).names == ("fill", "sand", "clay", "rock")
    assert tops_at(site, (50, 50)) == pytest.approx(np.array([[50.0, 48.0, 40.0, 34.0]]))
    assert findings.empty
    table = site.table("hydro_unit")
    written = [c.name for c in TABLES["hydro_unit"].columns if c.name != "run"]
    assert list(table.columns) == [*written, "geometry"]


def test_alternating_beds_are_no_units_of_themselves():
    """A material met twice in a hole is no unit unless the user says so."""
    beds = [(5.0, "sand"), (8.0, "clay"), (14.0, "sand"), (20.0, "clay")]
    site, findings = with_units(site_of(dict.fromkeys(HOLES, beds)))
    assert unit_surfaces(site) is None
    assert site.table("hydro_unit").empty
    assert findings.empty


def test_a_lens_is_taken_in_and_names_are_grouped():
    """The cut agrees with most metres of the log; a group of names is one unit."""
    log = [(1.0, "Topsoil"), (6.0, "sand"), (7.0, "clay"), (12.0, "gravel"), (20.0, "Clay ")]
    site, findings = with_units(
        site_of(dict.fromkeys(HOLES, log)), ["aquifer = sand, gravel", "clay"]
    )
    table = site.table("hydro_unit")
    first = table[table["borehole"] == "A"].set_index("hydro_unit")
    assert first["top_m"].tolist() == [0.0, 12.0]  # topsoil, listed nowhere, goes with the sand
    assert first["bottom_m"].tolist() == [12.0, 20.0]
    assert first["base_met"].tolist() == [True, False]
    assert "1.0 m" in first.loc["aquifer", "notes"]
    assert findings["row_key"].tolist() == ["Topsoil"]


def test_a_hole_that_lacks_a_unit_gives_it_no_thickness():
    """Both contacts of an absent unit pass through one place."""
    logs = dict.fromkeys(HOLES, LAYER_CAKE) | {"D": [(2.0, "fill"), (10.0, "sand"), (20.0, "rock")]}
    site, _ = with_units(site_of(logs))
    found = unit_surfaces(site).thickness(np.array([[100.0, 100.0], [0.0, 0.0], [50.0, 50.0]]))
    assert found[0] == pytest.approx([2.0, 8.0, 0.0, 10.0])
    assert found[1] == pytest.approx([2.0, 8.0, 6.0, 4.0])
    assert 0.0 < found[2, 2] < 6.0


def test_a_shallow_hole_does_not_pull_a_contact_up():
    """A hole that ends inside a unit takes its base from the thickness in the others."""
    logs = dict.fromkeys(HOLES, LAYER_CAKE) | {"D": [(2.0, "fill"), (4.0, "sand")]}
    site, _ = with_units(site_of(logs))
    assert tops_at(site, HOLES["D"])[0] == pytest.approx([50.0, 48.0, 40.0, 34.0])


def test_a_deep_hole_pushes_a_contact_down():
    """A unit is never thinner than what a hole that ends inside it has drilled of it."""
    logs = dict.fromkeys(HOLES, LAYER_CAKE) | {"D": [(2.0, "fill"), (19.0, "sand")]}
    site, _ = with_units(site_of(logs))
    tops = tops_at(site, HOLES["D"])[0]
    assert tops[2] == pytest.approx(31.0)
    assert tops[3] == pytest.approx(25.0)  # the clay keeps its 6 m


def test_contacts_pass_where_an_inclined_hole_meets_them():
    """The contact honours the place in space, not the collar."""
    survey = pd.DataFrame(
        {"borehole": ["D"], "depth_m": [0.0], "inclination_deg": [60.0], "azimuth_deg": [90.0]}
    )
    logs = dict.fromkeys(HOLES, LAYER_CAKE)
    site, _ = with_units(site_of(logs, survey=survey))
    x = 100.0 + 10.0 * np.sin(np.radians(60.0))
    assert tops_at(site, (x, 100.0))[0, 2] == pytest.approx(45.0)  # 10 m at 60 degrees: 5 m down


def test_contacts_never_cross_and_extrapolate_within_their_range():
    """Anywhere the tops fall from unit to unit and stay in the range that was met."""
    rng = np.random.default_rng(4)
    logs = {}
    for name in HOLES:
        bottoms = np.cumsum(rng.uniform(0.1, 6.0, 4))
        logs[name] = list(zip(bottoms, ["fill", "sand", "clay", "rock"], strict=True))
    site, _ = with_units(site_of(logs, depth_m=30.0))
    tops = tops_at(site, *rng.uniform(-500.0, 600.0, (2000, 2)))
    assert (np.diff(tops, axis=1) <= 0.0).all()
    met = site.table("hydro_unit")
    for k in range(1, 4):
        below = met.loc[met["unit_number"] == k + 1, "top_elevation_m"]
        assert tops[:, k].min() >= met["top_elevation_m"].min() - 1e-9
        assert tops[:, k].max() <= below.max() + 1e-9


def test_a_place_belongs_to_the_unit_it_lies_in():
    """The number of the unit follows the elevation; above ground it is the first."""
    site, _ = with_units(site_of(dict.fromkeys(HOLES, LAYER_CAKE)))
    places = np.array([[20.0, 30.0, z] for z in (60.0, 49.0, 45.0, 36.0, 33.0, -100.0)])
    assert unit_surfaces(site).number(places).tolist() == [0, 0, 1, 2, 3, 3]


def test_what_does_not_fit_is_a_finding():
    """A unit that no hole meets and a hole out of order are said, not hidden."""
    logs = dict.fromkeys(HOLES, LAYER_CAKE) | {"D": [(9.0, "clay"), (20.0, "sand")]}
    _, findings = with_units(site_of(logs), ["fill", "sand", "clay", "rock", "granite"])
    said = findings.set_index("row_key")["what"]
    assert "no borehole" in said["granite"]
    assert "9.0 of 20.0 m" in said["D"]


def test_a_name_in_two_units_is_refused():
    """The same name cannot belong to two units."""
    site = site_of(dict.fromkeys(HOLES, LAYER_CAKE))
    with pytest.raises(UsageError, match="sand"):
        with_units(site, ["upper = fill, sand", "sand"])
