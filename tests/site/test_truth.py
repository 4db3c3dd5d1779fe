"""The demonstration's results against the truth that its script put in."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from geoprofile.products.concentration.campaigns import is_round
from geoprofile.site import Site
from geoprofile.store import Store

TRUTH = Path(__file__).parents[2] / "demo_site" / "truth.json"


@pytest.fixture(scope="module")
def truth() -> dict[str, Any]:
    """What the script put in."""
    content: dict[str, Any] = json.loads(TRUTH.read_text(encoding="utf-8"))
    return content


@pytest.fixture(scope="module")
def site(demo_run: Path) -> Site:
    """What the run made of it."""
    return Store.open(demo_run / "site.gpkg").read()


def test_k_of_the_intervals_is_the_one_put_in(site: Site, truth: dict[str, Any]) -> None:
    """Median within 5 %; the 95 % intervals hold the truth in at least 90 % of the intervals."""
    known = {name: i["k_m_per_s"] for name, i in truth["intervals"].items()}
    table = site.conductivity[site.conductivity["grade"] != "rejected"]
    true = table["interval"].map(known).astype(float)
    ratio = table["k_m_per_s"].astype(float) / true
    assert np.median(ratio) == pytest.approx(1.0, abs=0.05)
    inside = (table["k_low_m_per_s"] <= true) & (true <= table["k_high_m_per_s"])
    assert inside.mean() >= 0.9


def test_leaking_test_is_corrected_and_a_stopped_one_rejected(site: Site) -> None:
    """Water past the element is balanced, told and never accepted; an early stop is no value."""
    table = site.table("conductivity")
    for name, grade in (("009-06-a", "qualified"), ("012-03-a", "rejected")):
        rows = table[table["test"] == name]
        assert len(rows)
        best = rows[rows["preferred"].astype(bool)]
        assert set(best["grade"]) <= {grade}
        assert rows["notes"].notna().all()
    leaking = table[(table["test"] == "009-06-a") & table["preferred"].astype(bool)]
    assert "passed the element" in leaking["notes"].iloc[0]


def test_an_underdamped_test_is_analysed_as_one(site: Site) -> None:
    """A level that overshoots is not fitted by a straight line."""
    rows = site.table("conductivity")
    best = rows[(rows["test"] == "007-06-a") & rows["preferred"].astype(bool)].iloc[0]
    assert best["method"] == "underdamped"


@pytest.mark.parametrize("analyte", ["TCE", "benzene"])
def test_plume_volume_and_area_are_near_the_truth(
    site: Site, truth: dict[str, Any], analyte: str
) -> None:
    """Expected volume and area of the latest round within 15 % of the plume put in."""
    table = site.table("plume_extent")
    row = table[
        (table["analyte"] == analyte)
        & (table["surface"] == "any depth")
        & (table["probability"] == 0.5)
    ].iloc[0]
    known = next(
        v
        for v in truth["volumes"]
        if v["analyte"] == analyte and is_round(row["round"], v["round"])
    )
    assert row["volume_m3"] == pytest.approx(known["volume_m3"], rel=0.15)
    assert row["area_m2"] == pytest.approx(known["area_m2"], rel=0.15)


def test_flow_goes_where_the_truth_goes(site: Site, truth: dict[str, Any]) -> None:
    """Direction within two of its own standard deviations, or five degrees."""
    row = site.table("flow").iloc[0]
    apart = (row["azimuth_deg"] - truth["flow"]["azimuth_deg"] + 180) % 360 - 180
    assert abs(apart) <= max(5.0, 2 * row["azimuth_sd_deg"])


def test_mass_discharge_is_near_the_truth(site: Site, truth: dict[str, Any]) -> None:
    """Within a factor of two of K i C put in, and inside the range that allows for the gradient."""
    table = site.table("discharge")
    assert len(table) == 4
    for row in table.itertuples():
        known = next(
            d["discharge_g_per_d"]
            for d in truth["discharges"]
            if (d["section"], d["analyte"]) == (row.section, row.analyte)
            and is_round(row.round, d["round"])
        )
        assert 0.5 <= row.discharge_g_per_day / known <= 2.0
        assert row.discharge_least_g_per_day <= known <= row.discharge_most_g_per_day
