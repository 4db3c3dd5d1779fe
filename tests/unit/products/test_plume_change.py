"""Change between rounds: sure classes only, and the rest uncertain."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

import geoprofile.products.plume.plume_change as layer
from geoprofile.geometry.contours import polygons
from geoprofile.geometry.edges import Chances, normal_score
from geoprofile.geometry.grids import grid_over
from geoprofile.plugins import no_progress
from geoprofile.products.maps.grids import domain_of
from geoprofile.products.plume.changes import classes_of, least_chances
from geoprofile.schema import TABLES

SETTINGS = {s.name: s.default for s in layer.PLUGIN.settings} | {"elevations_m": [-8.0]}


@pytest.fixture
def two_rounds(mapped_site, closed_fields, monkeypatch):
    """The site sampled again in autumn, with fields of both rounds; the later one is given."""

    def make(**later):
        table = mapped_site.table("concentration")
        again = table.assign(round="autumn", sampled_at="2031-10-08T10:00:00Z")
        spring = closed_fields["toluene"]
        fields = [closed_fields["K"], spring]
        if later:
            fields.append(replace(spring, round="autumn", **later))
        monkeypatch.setattr(layer, "chosen_fields", lambda site, rounds: fields)
        site = mapped_site.with_tables({"concentration": pd.concat([table, again])})
        return layer.compute(site, SETTINGS, no_progress)

    return make


def areas(table):
    """Area of every class at -8 m [m2]."""
    return table[table["surface"] == "elevation"].set_index("change")["area_m2"].to_dict()


@given(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1))
def test_the_least_chance_is_never_more_than_the_true_one(before, now, share):
    """Whatever the dependence between two events, each class is at least as likely as said.

    Frechet's bounds: the chance of both lies between p + q - 1 and the smaller of p and q.
    """
    both = max(0.0, before + now - 1) + share * (min(before, now) - max(0.0, before + now - 1))
    true = {
        "gained": now - both,
        "lost": before - both,
        "above in both": both,
        "below in both": 1 - before - now + both,
    }
    for name, least in least_chances(np.array(before), np.array(now)).items():
        assert least <= true[name] + 1e-12


def test_a_sure_front_that_moves_gains_the_strip_between():
    """A sharp front moves from x = 40 to x = 60: gained where it is past by 0.6 m, nothing lost.

    The chance falls from 1 to 0 over 2 m, so that 0.8 is reached at 40.6 m and again at 59.4 m.
    """
    domain = polygons(shapely.box(0, 0, 100, 50))
    grid = grid_over(domain, cell_m=1.0)
    x = np.meshgrid(grid.x, grid.y)[0]
    fronts = [Chances(grid, normal_score(np.clip(e - x + 0.5, 0, 1))) for e in (40.0, 60.0)]
    shapes, expected = classes_of(*fronts, domain=domain, confidence=0.8)
    assert shapes["gained"].area == pytest.approx(18.8 * 50)
    assert shapes["lost"].is_empty
    assert expected == pytest.approx(1000, rel=0.01)
    back, less = classes_of(*fronts[::-1], domain=domain, confidence=0.8)
    assert back["lost"].equals(shapes["gained"])
    assert less == pytest.approx(-expected)


def test_the_same_field_twice_is_no_change(two_rounds):
    """Two equal rounds gain and lose nothing; their edge is uncertain."""
    table = two_rounds(top=2.5)["plume_change"]
    assert set(table["change"]) == {"above in both", "below in both", "uncertain"}
    assert table["expected_change_m2"].abs().max() < 1e-6


def test_classes_tile_the_map(two_rounds, mapped_site):
    """Classes of one map cover the site once: area to 1e-9."""
    table = two_rounds(top=3.5)["plume_change"]
    assert list(table.columns) == [
        *(c.name for c in TABLES["plume_change"].columns if c.name != "run"),
        "geometry",
    ]
    whole = domain_of(mapped_site).area
    for _, one in table.groupby("surface"):
        assert one["area_m2"].sum() == pytest.approx(whole, rel=1e-9)
        assert one.is_valid.all()
    assert set(table["surface"]) == {"elevation", "any depth"}


def test_a_plume_that_grows_gains_and_one_that_shrinks_loses(two_rounds):
    """A peak a hundred times higher gains ground, a much lower one loses it, and never both."""
    grown, shrunk = (areas(two_rounds(top=top)["plume_change"]) for top in (4.5, 0.0))
    assert grown["gained"] > 100
    assert "lost" not in grown
    assert shrunk["lost"] > 100
    assert "gained" not in shrunk


def test_gained_ground_is_what_both_fields_say(two_rounds, closed_fields):
    """A random point is in the class just where the two probabilities differ by 0.8."""
    table = two_rounds(top=4.5)["plume_change"]
    gained = table[(table["change"] == "gained") & (table["elevation_m"] == -8.0)].geometry.iloc[0]
    rng = np.random.default_rng(4)
    xy = rng.uniform([500_000, 4_000_000], [500_200, 4_000_120], (400, 2))
    points = np.column_stack([xy, np.full(400, -8.0)])
    spring = closed_fields["toluene"]
    autumn = replace(spring, top=4.5)
    apart = autumn.exceedance(points) - spring.exceedance(points)
    clear = np.abs(apart - 0.8) > 0.03
    assert (shapely.contains_xy(gained, xy) == (apart > 0.8))[clear].all()


def test_a_round_without_a_field_is_a_finding(two_rounds):
    """One fitted round: an empty table, and what to do about it."""
    made = two_rounds()
    assert made["plume_change"].empty
    (row,) = made["finding"].itertuples()
    assert "no change between rounds of toluene" in row.what
    assert "rounds = 'all'" in row.what_to_do
    assert row.severity == "note"
