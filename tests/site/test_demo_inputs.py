"""The demonstration site: same bytes every time, and a truth that can be recomputed."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from scipy.special import kve

DEMO = Path(__file__).parents[2] / "demo_site"


def rows(name: str) -> list[dict[str, str]]:
    with (DEMO / name).open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def truth() -> dict:
    return json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def maker():
    """The demo's own modules, importable while these tests run."""
    sys.path.insert(0, str(DEMO))
    try:
        from maker import ground, holes, plume, slug

        yield {"ground": ground, "holes": holes, "plume": plume, "slug": slug}
    finally:
        sys.path.remove(str(DEMO))
        for name in [n for n in sys.modules if n.split(".")[0] == "maker"]:
            del sys.modules[name]


def test_script_rewrites_the_same_bytes(tmp_path):
    """Running the script again gives every table, byte for byte, and no file more or less."""
    subprocess.run([sys.executable, "-B", str(DEMO / "make_demo.py"), str(tmp_path)], check=True)
    made = sorted(p.relative_to(tmp_path) for p in tmp_path.rglob("*") if p.is_file())
    tables = [*DEMO.glob("*.csv"), *DEMO.glob("*.geojson"), *DEMO.glob("readings/*.csv")]
    kept = sorted(p.relative_to(DEMO) for p in [*tables, DEMO / "site.toml", DEMO / "truth.json"])
    assert made == kept
    changed = [str(p) for p in made if (tmp_path / p).read_bytes() != (DEMO / p).read_bytes()]
    assert not changed


def test_counts_are_those_of_a_real_campaign():
    """14 holes, some 110 intervals, some 130 tests, 30 000 to 60 000 readings, two rounds."""
    assert len(rows("boreholes.csv")) == 14
    assert 100 <= len(rows("intervals.csv")) <= 125
    assert 120 <= len(rows("tests.csv")) <= 140
    readings = sum(len(rows(f"readings/{p.name}")) for p in DEMO.glob("readings/*.csv"))
    assert 30_000 <= readings <= 60_000
    assert {r["round"] for r in rows("samples.csv")} == {"R1", "R2"}


def test_folder_stays_small():
    """The inputs take less than 4 MB."""
    files = [*DEMO.glob("*.csv"), *DEMO.glob("readings/*.csv"), DEMO / "truth.json"]
    assert sum(p.stat().st_size for p in files) < 4_000_000


def test_a_third_of_the_results_is_not_detected_with_two_limits_each():
    """30 to 40 % of the results are non-detects, under two reporting limits per substance."""
    results = [r for r in rows("results.csv") if r["sample"] not in blanks()]
    missed = [r for r in results if r["value"].startswith("<") or r["value"][-1] in "UD"]
    assert 0.30 <= len(missed) / len(results) <= 0.40
    limits = {a: {r["limit"] for r in missed if r["analyte"] == a} for a in ("TCE", "benzene")}
    assert limits == {"TCE": {"1", "0.5"}, "benzene": {"0.5", "0.2"}}


def blanks() -> set[str]:
    return {r["sample"] for r in rows("samples.csv") if r["kind"] == "blank"}


def test_every_duplicate_has_its_primary():
    """Each duplicate shares interval and time with one primary; there are 20 or more."""
    kinds = Counter((r["kind"], r["interval"], r["sampled_at"]) for r in rows("samples.csv"))
    duplicates = [key for key in kinds if key[0] == "duplicate"]
    assert len(duplicates) >= 20
    assert all(kinds[("primary", *key[1:])] == 1 for key in duplicates)
    assert len(blanks()) == 8


def test_names_hold_together():
    """Every name that a table refers to exists, and every slug test has readings."""
    holes = {r["borehole"] for r in rows("boreholes.csv")}
    intervals = {r["interval"]: r for r in rows("intervals.csv")}
    tests = rows("tests.csv")
    assert {r["borehole"] for r in intervals.values()} <= holes
    assert {r["interval"] for r in tests} <= set(intervals)
    assert {r["interval"] for r in rows("samples.csv")} <= set(intervals)
    read = {r["test"] for p in DEMO.glob("readings/*.csv") for r in rows(f"readings/{p.name}")}
    assert read == {t["test"] for t in tests if t["kind"] != "constant head"}
    assert {r["test"] for r in rows("pressure_steps.csv")} == {t["test"] for t in tests} - read


def test_intervals_do_not_overlap_and_lie_in_their_hole():
    """Going down a hole each interval begins below the one above, and none leaves the hole."""
    depth = {r["borehole"]: float(r["depth_m"]) for r in rows("boreholes.csv")}
    last: dict[str, float] = {}
    for row in rows("intervals.csv"):
        top, bottom = float(row["top_m"]), float(row["bottom_m"])
        assert last.get(row["borehole"], 0.0) < top < bottom <= depth[row["borehole"]]
        last[row["borehole"]] = bottom


def test_odd_but_legal_habits_are_there():
    """One file starts with a byte-order mark, one ends its lines with CRLF, some cells trail."""
    assert (DEMO / "results.csv").read_bytes().startswith(b"\xef\xbb\xbf")
    assert b"\r\n" in (DEMO / "samples.csv").read_bytes()
    assert any(r["unit"].endswith(" ") for r in rows("lithology.csv"))
    assert "top_ft" in rows("lithology.csv")[0]


def test_interval_truth_is_recomputed(maker, truth):
    """K is the mean along the interval, concentration the mean weighted by K, to six digits."""
    for interval in maker["holes"].intervals()[::9]:
        kept = truth["intervals"][interval.name]
        points = interval.points()
        k = 10.0 ** maker["ground"].log10_conductivity(points)
        assert kept["k_m_per_s"] == pytest.approx(k.mean(), rel=1e-5)  # six digits kept
        c = maker["plume"].concentration(points, "TCE", "R2")
        mean = float((k * c).sum() / k.sum())
        assert kept["concentration_ug_per_l"]["TCE"][1] == pytest.approx(mean, rel=1e-5)


def test_point_truth_is_recomputed(maker, truth):
    """The 200 points of the truth carry the field's values."""
    table = np.array(truth["points"])
    k = maker["ground"].log10_conductivity(table[:, :3])
    c = maker["plume"].concentration(table[:, :3], "TCE", "R2")
    assert table[:, 3] == pytest.approx(k, abs=1e-4)  # four decimals kept
    assert table[:, 4] == pytest.approx(c, rel=1e-5)  # six digits kept


def test_volume_truth_is_met_by_counting_other_points(maker, truth):
    """Random points over the saturated domain give the volume over the criterion within 4 %."""
    ground, plume = maker["ground"], maker["plume"]
    rng = np.random.default_rng(3)
    low = np.array([*ground.ORIGIN, ground.BASE_ELEVATION])
    size = np.array([*ground.SIZE, 43.0])
    points = low + rng.random((60_000, 3)) * size
    table = points.copy()
    table[:, 2] = 1e3
    wet = points[points[:, 2] < ground.head(table)]
    over = np.sum(plume.concentration(wet, "TCE", "R2") > 10.0) / len(points) * size.prod()
    kept = next(v for v in truth["volumes"] if (v["analyte"], v["round"]) == ("TCE", "R2"))
    # about 4 700 of 60 000 points lie inside: one standard deviation is 1.4 %
    assert over == pytest.approx(kept["volume_m3"], rel=0.04)


def test_field_has_the_mean_and_spread_that_are_stated(maker, truth):
    """Away from the broken bed the realised field keeps near its parameters."""
    ground = maker["ground"]
    rng = np.random.default_rng(4)
    low = np.array([*ground.ORIGIN, -30.0])
    k = ground.log10_conductivity(low + rng.random((6000, 3)) * [300.0, 200.0, 35.0])
    # some 40 independent blocks of 60 m by 60 m by 3 m weigh in: sd of the mean about 0.08
    assert k.mean() == pytest.approx(truth["conductivity"]["mean_log10_m_per_s"], abs=0.2)
    assert k.std() == pytest.approx(truth["conductivity"]["sd_log10"], abs=0.1)


def talbot_head(zone, time: float) -> float:
    """Normalised head by a fixed Talbot contour with all modes, complex Bessel functions."""
    k = (np.arange(3000) + 0.5) * np.pi / zone.base_m
    part = (np.cos(k * zone.top_m) - np.cos(k * zone.bottom_m)) / k
    weight = 2.0 / (zone.length_m * zone.base_m) * part**2
    angle = np.arange(1, 24) * np.pi / 24
    cot = 1.0 / np.tan(angle)
    r = 2.0 * 24 / (5.0 * time)
    p = np.concatenate([[r + 0j], r * angle * (cot + 1j)])
    slope = np.concatenate([[0.5 + 0j], 1.0 + 1j * (angle + (angle * cot - 1.0) * cot)])
    storage = zone.specific_storage_per_m * p[:, None] / zone.conductivity_m_per_s
    x = np.sqrt(storage + zone.kv_kh * k**2) * zone.hole_radius_m
    scale = zone.riser_radius_m**2 / (2.0 * zone.length_m * zone.conductivity_m_per_s)
    g = scale * np.sum(weight * kve(0, x) / (x * kve(1, x)), axis=1)
    return float(r / 24 * np.sum((np.exp(p * time) * g / (1.0 + p * g) * slope).real))


def test_transient_model_agrees_with_inversion_on_a_complex_contour(maker):
    """Stehfest on the real axis and Talbot (Abate and Valko, 2004, from memory) agree to 1e-4."""
    slug = maker["slug"]
    zones = [
        slug.Zone(1e-5, 1e-4, 0.1, 1.5, 2.5, 4.0, 0.05, 0.05),
        slug.Zone(3e-6, 3e-6, 0.3, 12.0, 14.0, 20.0, 0.048, 0.018),
    ]
    for zone in zones:
        times = np.array([0.1, 0.5, 1.0, 2.5]) * slug.time_scale(zone)
        found = slug.transient(zone, times)
        # Stehfest with 14 terms and the tail of modes without storage: about 1e-5 each
        assert found == pytest.approx([talbot_head(zone, t) for t in times], abs=1e-4)


def test_readings_follow_the_forward_model_within_the_noise(maker, truth):
    """A plain displacement file: the first reading is the true displacement within 6 mm."""
    first: dict[str, float] = {}
    for row in rows("readings/hole_001.csv"):
        first.setdefault(row["test"], float(row["displacement_m"]))
    for name, value in first.items():
        # four standard deviations of the logger's 1.5 mm
        assert value == pytest.approx(truth["tests"][name]["displacement_m"], abs=0.006)
