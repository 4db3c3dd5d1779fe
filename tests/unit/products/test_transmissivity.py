"""Transmissivity of fields in closed form."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
import shapely

import geoprofile.products.maps.transmissivity_band as layer
from geoprofile.errors import UsageError
from geoprofile.plugins import no_progress
from geoprofile.products.maps.columns import counted_ground
from geoprofile.products.maps.transmissivity import transmissivity

SETTINGS = {s.name: s.default for s in layer.PLUGIN.settings}
XY = np.array([[0.0, 0.0], [10.0, 0.0]])
TOP, BASE = np.array([10.0, 6.0]), np.array([2.0, 4.0])


@dataclass(frozen=True)
class Known:
    """K drawn by a rule of the points, the number of fields and chance."""

    rule: Any
    quantity: str = "K"

    def simulate(self, points, *, realisations, rng):
        """Values (realisations, n) [m/s]."""
        return self.rule(np.asarray(points), realisations, rng)


def quantiles(rule, realisations=50):
    """Transmissivity over the two thicknesses of 8 and 2 m."""
    rng = np.random.default_rng(3)
    return transmissivity(Known(rule), XY, TOP, BASE, realisations=realisations, rng=rng)


def even(points, realisations, rng):
    """1e-4 m/s everywhere."""
    return np.full((realisations, len(points)), 1e-4)


def test_one_k_gives_k_times_thickness():
    """1e-4 m/s over 8 and over 2 m: 8e-4 and 2e-4 m2/s, the same at every quantile."""
    for values in quantiles(even).values():
        assert values == pytest.approx([8e-4, 2e-4])


def test_k_that_changes_with_depth_is_added_up():
    """K linear in elevation: its integral, exact for the middles of layers."""
    found = quantiles(lambda p, n, rng: np.tile(1e-5 * p[:, 2], (n, 1)))
    integral = 1e-5 * (TOP**2 - BASE**2) / 2  # of z dz
    assert found["median"] == pytest.approx(integral)


def test_independent_layers_even_out_and_linked_ones_do_not():
    """Fields that differ by one factor keep the range of K; layers by chance narrow it."""

    def linked(points, n, rng):
        return np.repeat(10 ** rng.normal(-5, 0.5, (n, 1)), len(points), axis=1)

    def loose(points, n, rng):
        return 10 ** rng.normal(-5, 0.5, (n, len(points)))

    wide, narrow = quantiles(linked, 4000), quantiles(loose, 4000)
    factor = 10 ** (2 * 1.2816 * 0.5)  # from the 10 to the 90 % quantile of K
    assert wide["high"] / wide["low"] == pytest.approx(factor, rel=0.1)
    assert (narrow["high"] / narrow["low"] < 0.5 * factor).all()
    # the median of K times thickness, to three standard errors of 4000 draws
    assert wide["median"] == pytest.approx(1e-5 * (TOP - BASE), rel=0.07)


@pytest.fixture
def bands(monkeypatch):
    """The table of a site whose K is known."""

    def make(site, rule=even, **changed):
        monkeypatch.setattr(layer, "latest_fields", lambda site: [Known(rule)])
        return layer.compute(site, SETTINGS | changed, no_progress)

    return make


def test_the_map_covers_the_saturated_thickness(mapped_site, bands):
    """A point lies in the band that holds 1e-4 m/s times its own thickness."""
    table = bands(mapped_site)["transmissivity_band"]
    assert set(table["statistic"]) == {"median", "low", "high"}
    assert set(table["unit"]) == {"m2/s"}
    assert table["notes"].str.contains("aquifer may carry more").all()
    medians = table[table["statistic"] == "median"]
    xy = np.random.default_rng(2).uniform([500_000, 4_000_000], [500_200, 4_000_120], (100, 2))
    top, base = counted_ground(mapped_site).top_and_base(xy)
    for place, true in zip(xy, 1e-4 * (top - base), strict=True):
        row = medians[medians.contains(shapely.Point(place))].iloc[0]
        assert row.lower * 0.99 <= true <= row.upper * 1.01


def test_a_unit_has_its_own_map_where_it_is_present(layered_site, bands):
    """Four metres of clay in the west: 4e-4 m2/s there, and no map where holes lack it."""
    table = bands(layered_site, units=["clay"], statistics=["median"])["transmissivity_band"]
    clay = table[table["hydro_unit"] == "clay"]
    west, east = shapely.Point(500_025, 4_000_060), shapely.Point(500_170, 4_000_060)
    (row,) = clay[clay.contains(west)].itertuples()
    assert row.lower <= 4e-4 <= row.upper
    assert not clay.contains(east).any()
    assert set(table["surface"]) == {"whole thickness", "unit"}


def test_a_unit_that_no_borehole_meets_is_a_finding(mapped_site, bands):
    """The name is said, and the whole thickness is mapped all the same."""
    made = bands(mapped_site, units=["marl"])
    assert "no transmissivity of unit 'marl'" in made["finding"]["what"].iloc[0]
    assert set(made["transmissivity_band"]["surface"]) == {"whole thickness"}


def test_without_heads_the_ground_is_the_top_and_the_note_says_so(mapped_site, bands):
    """No head: more thickness, and a note."""
    dry = mapped_site.with_tables({"head": mapped_site.table("head").iloc[:0]})
    table = bands(dry, statistics=["median"])["transmissivity_band"]
    assert table["notes"].str.contains("no head is known").all()


def test_an_unknown_statistic_is_refused(mapped_site, bands):
    """The answer names those that there are."""
    with pytest.raises(UsageError, match="some of median, low, high"):
        bands(mapped_site, statistics=["mean"])


def test_without_a_field_of_k_there_is_no_map(mapped_site, monkeypatch):
    """An empty table."""
    monkeypatch.setattr(layer, "latest_fields", lambda site: [replace(Known(even), quantity="TCE")])
    assert layer.compute(mapped_site, SETTINGS, no_progress)["transmissivity_band"].empty
