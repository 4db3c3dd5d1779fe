"""Fields that stop at the surfaces between hydrostratigraphic units, from tables to values."""

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from geoprofile.plugins import no_progress
from geoprofile.products.model.fitted import field_of
from geoprofile.products.model.inputs import evidence_of
from geoprofile.products.model.model import PLUGIN as MODEL
from geoprofile.products.units.geology import PLUGIN as GEOLOGY
from geoprofile.products.units.inputs import unit_surfaces
from geoprofile.report.summary import summary
from geoprofile.site import Site

CRS = "EPSG:32628"
SAND, CLAY = -4.0, -6.5  # log10 of K [m/s]
CONTACT = 90.0  # elevation [m] where sand lies on clay; ground at 100 m


def site_of(levels, *, seed=3, lowest=True, wavy_m=0.0):
    """Nine holes of 20 m with tests every 2.5 m; K has one level down to 10 m and another below.

    The contact lies up to `wavy_m` deeper than 10 m, between tests.
    """
    rng = np.random.default_rng(seed)
    names = [f"H{i}" for i in range(9)]
    xy = np.array([(60.0 * (i % 3), 60.0 * (i // 3)) for i in range(9)]) + rng.normal(0, 5, (9, 2))
    holes = pd.DataFrame({"borehole": names, "x": xy[:, 0], "y": xy[:, 1]})
    holes = holes.assign(ground_elevation_m=100.0, depth_m=20.0)
    tops = np.arange(1.0, 19.0 if lowest else 9.0, 2.5)
    rows = [(f"{h}-{t:g}", h, t, t + 1.5) for h in names for t in tops]
    intervals = pd.DataFrame(rows, columns=["interval", "borehole", "top_m", "bottom_m"])
    deep = (intervals["top_m"] + 0.75).to_numpy() > 10.0
    log_k = np.where(deep, levels[1], levels[0]) + 0.25 * rng.normal(size=len(rows))
    k = intervals.assign(k_m_per_s=10.0**log_k, sd_log10_k=0.1, grade="accepted", notes=None)
    contacts = 10.0 + wavy_m * rng.random(9)
    logs = [
        row
        for h, c in zip(names, contacts, strict=True)
        for row in ((h, 0.0, c, "sand"), (h, c, 20.0, "clay"))
    ]
    points = [shapely.Point(x, y, 100.0) for x, y in xy]
    tables = {
        "borehole": gpd.GeoDataFrame(holes, geometry=points, crs=CRS),
        "lithology": pd.DataFrame(logs, columns=["borehole", "top_m", "bottom_m", "unit"]),
        "interval": intervals.assign(isolation="straddle"),
        "interval_conductivity": k,
    }
    site = Site("layers", CRS, "local datum", tables=tables)
    made = GEOLOGY.compute(site, {"units": []}, no_progress)
    return site.with_tables({"hydro_unit": made["hydro_unit"]})


def fitted(site, geology):
    """The site with its fields, and the findings."""
    settings = {s.name: s.default for s in MODEL.settings} | {"geology": geology}
    made = MODEL.compute(site, settings, no_progress)
    return site.with_tables({"model": made["model"]}), made["finding"]


def step_at_contact(site):
    """Fall of log10 K over the contact."""
    places = np.array([[50.0, 70.0, CONTACT + 0.1], [50.0, 70.0, CONTACT - 0.1]])
    upper, lower = field_of(site, "K").at(places).log10_mean
    return upper - lower


def test_k_stops_at_the_contact_on_its_own():
    """Where units predict held-out boreholes better, K takes them; the table says so."""
    site, findings = fitted(site_of((SAND, CLAY)), "auto")
    assert site.table("model")["geology"].tolist() == ["units"]
    assert step_at_contact(site) == pytest.approx(SAND - CLAY, abs=0.3)
    assert findings.empty
    assert any("stops at the surfaces between" in line for line in summary(site))
    through, _ = fitted(site, "none")
    assert step_at_contact(through) < 0.3


def test_units_that_explain_nothing_are_not_taken():
    """Where K is the same in both units the field runs through, unless it is told not to."""
    site = site_of((SAND, SAND))
    chosen, _ = fitted(site, "auto")
    told, _ = fitted(site, "units")
    assert chosen.table("model")["geology"].tolist() == ["none"]
    assert told.table("model")["geology"].tolist() == ["units"]


def test_a_unit_without_tests_is_wide_and_said():
    """Nothing was tested in the clay: the 80 % range there spans more than a decade."""
    site, findings = fitted(site_of((SAND, CLAY), lowest=False), "units")
    assert "no data in unit clay" in findings["what"].iloc[0]
    at = field_of(site, "K").at(np.array([[50.0, 70.0, 95.0], [50.0, 70.0, 85.0]]))
    assert at.log10_sd[0] < 0.5
    assert np.log10(at.high[1] / at.low[1]) > 2.0


def test_units_asked_for_but_not_known_are_a_finding():
    """Without correlated units the field runs through all ground, and says so."""
    site = site_of((SAND, CLAY))
    bare = site.with_tables({"hydro_unit": site.table("hydro_unit").iloc[:0]})
    made, findings = fitted(bare, "units")
    assert made.table("model")["geology"].tolist() == ["none"]
    assert "no units are correlated" in findings["what"].iloc[0]


def test_a_test_over_two_units_counts_little():
    """Half in the sand, half in the clay: a variance of half a decade squared is added."""
    site = site_of((SAND, CLAY))
    table = site.table("interval").copy()
    table.loc[table["interval"] == "H0-8.5", ["top_m", "bottom_m"]] = [9.0, 11.0]
    evidence = evidence_of(site.with_tables({"interval": table}), "K")
    split = evidence.within(unit_surfaces(site))
    added = np.asarray(split.data.variance) - np.asarray(evidence.data.variance)
    number = evidence.intervals.index("H0-8.5")
    assert added[number] == pytest.approx(0.5, abs=0.05)
    assert np.delete(added, number) == pytest.approx(0.0, abs=1e-12)


def test_between_holes_the_side_of_a_contact_is_not_sure():
    """Near a wavy contact a value may be of either unit; realisations agree with the chances."""
    site, _ = fitted(site_of((SAND, CLAY), wavy_m=1.0), "units")
    field = field_of(site, "K")
    xy = np.array([[30.0, 35.0], [85.0, 40.0]])
    contact = unit_surfaces(site).tops(xy)[:, 1]
    places = np.column_stack([np.vstack([xy, xy]), np.append(contact + 0.1, contact - 3.0)])
    at, far = field.at(places), slice(2, None)
    assert (at.log10_sd[:2] > 0.7).all()
    assert (at.log10_sd[far] < 0.4).all()
    assert (at.low[:2] < 10.0 ** (CLAY + 1.0)).all()
    assert (at.median[:2] > 10.0 ** (SAND - 1.0)).all()  # the likelier side
    level = 10.0 ** (0.5 * (SAND + CLAY))
    drawn = field.simulate(places, realisations=1500, rng=np.random.default_rng(5))
    chance = field.exceedance(places, level)
    assert (drawn > level).mean(0) == pytest.approx(chance, abs=0.06)  # four standard errors
    assert np.log10(drawn).mean(0) == pytest.approx(at.log10_mean, abs=0.15)
