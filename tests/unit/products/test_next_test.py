"""The layer of next tests on a small made-up site: eight holes across the edge of a plume."""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
import shapely

from geoprofile import kriging
from geoprofile.engine.rows import frame
from geoprofile.packers import Rules, faults, straddle
from geoprofile.plugins import no_progress
from geoprofile.products.advice import next_test
from geoprofile.products.boreholes.inputs import interval_lines
from geoprofile.products.model.inputs import evidence_of
from geoprofile.products.packer_plan.inputs import holes_of, known_stretches, packers_of, spacers_of
from geoprofile.site import Site

CRS = "EPSG:32628"
SETTINGS = {s.name: s.default for s in next_test.PLUGIN.settings} | {"count": 3, "step_m": 1.0}
TOPS = (8.0, 17.0, 26.0)


def plume(x: float, y: float, depth: float) -> float:
    """Concentration [ug/L] of a made-up plume along easting at 18 m depth."""
    return 10.0 ** (2.0 - x / 60.0 - ((y - 40.0) / 18.0) ** 2 - ((depth - 18.0) / 6.0) ** 2)


@cache
def small_site() -> Site:
    """Eight cased holes of 36 m with three zones each, sampled and tested; K and X fitted."""
    spots = [(x, y) for x in (0.0, 35.0, 70.0, 105.0) for y in (20.0, 60.0)]
    holes = [
        {
            "borehole": f"H{n}",
            "x": x,
            "y": y,
            "ground_elevation_m": 10.0,
            "depth_m": 36.0,
            "geometry": shapely.Point(x, y, 10.0),
        }
        for n, (x, y) in enumerate(spots)
    ]
    construction = [
        {"borehole": h["borehole"], "top_m": a, "bottom_m": b, "kind": k, "diameter_mm": d}
        for h in holes
        for a, b, k, d in ((0.0, 5.0, "casing", 104.0), (0.0, 36.0, "open hole", 96.0))
    ]
    intervals = [
        {
            "interval": f"{h['borehole']}-{top:g}",
            "borehole": h["borehole"],
            "top_m": top,
            "bottom_m": top + 2.0,
            "isolation": "straddle",
            "static_depth_m": 3.0,
        }
        for h in holes
        for top in TOPS
    ]
    site = Site(
        "made up",
        CRS,
        "datum",
        tables={
            "borehole": frame("borehole", holes, CRS),
            "construction": frame("construction", construction, CRS),
            "interval": frame("interval", intervals, CRS),
            "packer": frame("packer", [packer()], CRS),
            "spacer": frame("spacer", [{"spacer": "S2", "open_length_m": 2.0}], CRS),
            "criterion": frame("criterion", [criterion()], CRS),
        },
    )
    return with_results(site)


def packer() -> dict[str, object]:
    """An invented packer."""
    return {
        "packer": "P1",
        "deflated_diameter_mm": 72.0,
        "min_hole_mm": 76.0,
        "max_hole_mm": 122.0,
        "element_length_m": 1.0,
        "seating_pressure_kpa": 350.0,
        "max_inflation_kpa": 1500.0,
        "pipe_inner_diameter_mm": 38.0,
        "gas_or_water": "gas",
    }


def criterion() -> dict[str, object]:
    """An invented criterion."""
    return {"analyte": "X", "value": 5.0, "unit": "ug/L", "basis": "invented"}


def with_results(site: Site) -> Site:
    """Add K and concentration of every interval, and the fitted fields."""
    rng = np.random.default_rng(3)
    lines = interval_lines(site)
    tested, sampled = [], []
    for row in site.intervals.itertuples():
        x, y, z = lines[row.interval].mean(0)
        place = {
            "interval": row.interval,
            "borehole": row.borehole,
            "top_m": row.top_m,
            "bottom_m": row.bottom_m,
            "geometry": shapely.LineString(lines[row.interval]),
        }
        k = 10.0 ** (-5.0 + 0.3 * rng.standard_normal())
        tested.append({**place, "k_m_per_s": k, "sd_log10_k": 0.1, "grade": "accepted"})
        value = plume(x, y, 10.0 - z)
        seen = value > 0.5
        sampled.append(
            {
                **place,
                "analyte": "X",
                "round": "R1",
                "medium": "water",
                "sampled_at": pd.Timestamp("2025-05-01", tz="UTC"),
                "value_ug_per_l": value if seen else None,
                "detected": seen,
                "limit_ug_per_l": None if seen else 0.5,
                "sd_log10": 0.05,
            }
        )
    site = site.with_tables(
        {
            "interval_conductivity": frame("interval_conductivity", tested, CRS),
            "concentration": frame("concentration", sampled, CRS),
        }
    )
    return site.with_tables({"model": frame("model", [fitted(site, q) for q in ("K", "X")], CRS)})


def fitted(site: Site, quantity: str) -> dict[str, object]:
    """A row of the input table with a model that the engine fits."""
    evidence = evidence_of(site, quantity)
    rng = np.random.default_rng(1)
    model = kriging.fit(
        evidence.data, prior=kriging.Prior(azimuth_deg=90.0), mean="constant", rng=rng
    )
    return {
        "quantity": quantity,
        "round": evidence.round,
        "unit": evidence.unit,
        "model": kriging.to_json(model),
    }


@cache
def advised() -> dict[str, pd.DataFrame]:
    """The layer's tables."""
    return dict(next_test.compute(small_site(), SETTINGS, no_progress))


def test_one_list_over_all_quantities_goes_by_worth() -> None:
    """Ranks are 1, 2, 3, ...; what decides most for its cost comes first; each zone once."""
    table = advised()["next_test"]
    assert list(table["rank"]) == list(range(1, len(table) + 1))
    assert table["worth"].is_monotonic_decreasing
    served = {q for row in table.itertuples() for q in (row.quantity, row.also) if q == q and q}
    assert served == {"X", "K"}
    assert not table.duplicated(["borehole", "top_m", "bottom_m"]).any()
    for _, rows in table.groupby("borehole"):
        ends = sorted(zip(rows["top_m"], rows["bottom_m"], strict=True))
        assert all(b[0] >= a[1] - 0.5 - 1e-9 for a, b in pairwise(ends))


def test_what_each_quantity_expects_is_kept() -> None:
    """A zone that serves two quantities keeps the forecast of both."""
    tables = advised()
    own = tables["next_test_quantity"]
    for row in tables["next_test"].itertuples():
        names = [row.quantity, *(str(row.also).split(", ") if isinstance(row.also, str) else [])]
        assert sorted(own.loc[own["rank"] == row.rank, "quantity"]) == sorted(names)


def test_every_proposal_is_new_ground_that_the_packer_can_hold() -> None:
    """No proposal overlaps a known interval by more than the share, or passes a limit."""
    site = small_site()
    holes, (one,), (spacer,) = holes_of(site), packers_of(site), spacers_of(site)
    known = known_stretches(site, "K")
    for row in advised()["next_test"].itertuples():
        covered = sum(
            max(0.0, min(b, row.bottom_m) - max(a, row.top_m)) for a, b in known[row.borehole]
        )
        assert covered <= 0.25 * (row.bottom_m - row.top_m) + 1e-9
        if row.spacer is not None and not pd.isna(row.spacer):
            setup = straddle(holes[row.borehole], one, spacer, top_m=row.top_m)
            assert faults(holes[row.borehole], setup, rules=Rules()) == ()
            assert row.inflation_kpa == pytest.approx(setup.gauge_pressure_pa / 1e3, abs=0.1)


def test_reason_names_the_neighbours_and_the_gain() -> None:
    """The first test for the analyte lies between a hit and a miss, with its numbers."""
    table = advised()["next_test"]
    first = table[table["quantity"] == "X"].iloc[0]
    assert "between H" in first["reason"]
    assert "the edge lies somewhere in" in first["reason"]
    assert "expected to cut the volume of uncertain classification by" in first["reason"]
    assert "m³ per unit of cost (2, costs of [next_test])" in first["reason"]  # a move, a sample
    assert first["purpose"] == "chemistry"


def test_reason_for_k_says_how_unsure_k_is() -> None:
    """K is told by its factor and the nearest tests."""
    table = advised()["next_test"]
    first = table[table["quantity"] == "K"].iloc[0]
    assert "known to a factor of" in first["reason"]
    assert first["purpose"] == "hydraulic"


def test_list_does_not_cluster() -> None:
    """The tests proposed for a quantity do not overlap each other."""
    table = advised()["next_test"]
    for _, rows in table.groupby(["quantity", "borehole"]):
        ends = sorted(zip(rows["top_m"], rows["bottom_m"], strict=True))
        assert all(b[0] >= a[1] - 0.5 - 1e-9 for a, b in pairwise(ends))


def test_cautions_defer_to_maker_and_codes() -> None:
    """Every row tells the cautions first."""
    for words in advised()["next_test"]["cautions"]:
        assert words.startswith("Maker's limits, local codes and licensed practice come first")
        assert "never above 1500 kPa" in words


def test_field_work_is_told() -> None:
    """Expected K, duration and purge volume are filled and plausible."""
    table = advised()["next_test"]
    assert ((table["expected_k_m_per_s"] > 1e-7) & (table["expected_k_m_per_s"] < 1e-3)).all()
    assert (table["expected_duration_s"] > 0).all()
    assert (table["purge_l"] > 3 * 13).all()  # 2 m of a 96 mm hole hold 14 L, 3 times


def test_geometry_has_the_true_length() -> None:
    """Lines run from top to bottom in 3D."""
    for row in advised()["next_test"].itertuples():
        z = [c[2] for c in row.geometry.coords]
        assert z[0] - z[-1] == pytest.approx(row.bottom_m - row.top_m)


def test_stopping_now_is_told() -> None:
    """A finding says what stopping now leaves open, and what the tests proposed would cut."""
    words = " ".join(advised()["finding"]["what"])
    assert "on the wrong side of the criterion for X" in words
    assert "tests proposed are expected to cut that volume by" in words
    assert "stopping now leaves K known to a factor of" in words


def test_no_packer_is_a_finding() -> None:
    """Without packers nothing is proposed and the reason is told."""
    site = small_site()
    bare = site.with_tables({"packer": frame("packer", [], CRS)})
    made = next_test.compute(bare, SETTINGS, no_progress)
    assert made["next_test"].empty
    assert "table packer is empty" in made["finding"]["what"].iloc[0]


def test_packer_that_fits_nowhere_is_a_finding() -> None:
    """Equipment that fits no hole is told."""
    site = small_site()
    wide = {**packer(), "min_hole_mm": 200.0, "max_hole_mm": 300.0}
    made = next_test.compute(
        site.with_tables({"packer": frame("packer", [wide], CRS)}), SETTINGS, no_progress
    )
    assert made["next_test"].empty
    assert "no packer fits" in made["finding"]["what"].iloc[0]


def test_no_criterion_is_a_finding() -> None:
    """An analyte without criterion gives no test but a note; K still does."""
    site = small_site().with_tables({"criterion": frame("criterion", [], CRS)})
    made = next_test.compute(site, SETTINGS, no_progress)
    assert set(made["next_test"]["quantity"]) == {"K"}
    assert "no criterion for X" in made["finding"]["what"].iloc[0]


def test_site_without_fields_gives_nothing() -> None:
    """No field, no advice, no error."""
    site = small_site().with_tables({"model": frame("model", [], CRS)})
    assert next_test.compute(site, SETTINGS, no_progress)["next_test"].empty
