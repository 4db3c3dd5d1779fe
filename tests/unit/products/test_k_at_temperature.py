"""K at a reference temperature, from K in place and the temperature of the tests."""

from __future__ import annotations

import pandas as pd
import pytest

from geoprofile.products.conductivity.temperature import at_temperature
from geoprofile.site import Site

# viscosity [mPa s] and density [kg/m3] at 12 and 20 degC: handbook tables of water, from memory
RATIO = (1.2340 / 999.50) / (1.0016 / 998.20)


def site() -> Site:
    """An interval with tests at 10 and 14 degC, and one whose test has no temperature."""
    tests = pd.DataFrame(
        [("a", "Z1", 10.0), ("b", "Z1", 14.0), ("c", "Z2", None)],
        columns=["test", "interval", "water_temperature_c"],
    )
    k = pd.DataFrame(
        [("Z1", 2e-6, "accepted"), ("Z2", 1e-6, "accepted")],
        columns=["interval", "k_m_per_s", "grade"],
    )
    return Site(
        name="made up",
        crs="EPSG:32632",
        vertical_datum="",
        tables={"test": tests, "interval_conductivity": k},
    )


def test_the_mean_temperature_of_the_tests_counts() -> None:
    """12 degC in place; at 20 degC water is thinner and K higher by a quarter."""
    names, (first, _) = at_temperature(site(), 20.0)
    row = dict(zip(names, first, strict=True))
    assert row["water_temperature_c"] == 12.0
    assert row["k_at_20_c_m_per_s"] == pytest.approx(2e-6 * RATIO, rel=1e-3)
    permeability = 2e-6 * 1.2340e-3 / (999.50 * 9.80665)
    assert row["permeability_m2"] == pytest.approx(permeability, rel=1e-3)


def test_without_a_temperature_there_is_no_such_k() -> None:
    """K in place stays."""
    names, (_, second) = at_temperature(site(), 20.0)
    row = dict(zip(names, second, strict=True))
    assert row["k_m_per_s"] == 1e-6
    assert row["k_at_20_c_m_per_s"] is None
    assert row["permeability_m2"] is None
