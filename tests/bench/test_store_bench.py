"""Time and memory of the store at the largest sizes; run on request with -m bench."""

from __future__ import annotations

import json
import subprocess
import sys
import time

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely

from geoprofile.store import Changes, Store, inspect

CORNER = np.array([5e5, 5.7e6, 0.0])
LOAD = """
import json, resource, sys, time
import numpy as np, pandas as pd
from geoprofile.store import Changes, Store
store = Store.create(sys.argv[1], name="big", crs="EPSG:32631", vertical_datum="d")
holes, per_hole, tests, readings = 2000, 100, 2000, 500
rng = np.random.default_rng(1)
borehole = pd.DataFrame({
    "borehole": [f"B{i:05d}" for i in range(holes)],
    "x": 5e5 + rng.uniform(0, 5000, holes), "y": 5.7e6 + rng.uniform(0, 5000, holes),
    "ground_elevation_m": 10.0, "depth_m": 120.0})
top = np.tile(np.arange(per_hole, dtype=float), holes)
interval = pd.DataFrame({
    "interval": [f"I{i:06d}" for i in range(holes * per_hole)],
    "borehole": np.repeat(borehole["borehole"].to_numpy(), per_hole),
    "top_m": top, "bottom_m": top + 0.5, "isolation": "straddle"})
test = pd.DataFrame({
    "test": [f"T{i:05d}" for i in range(tests)], "interval": interval["interval"][:tests],
    "kind": "falling head"})
reading = pd.DataFrame({
    "test": np.repeat(test["test"].to_numpy(), readings),
    "number": np.tile(np.arange(1, readings + 1), tests),
    "elapsed_s": np.tile(np.arange(readings, dtype=float), tests),
    "displacement_m": rng.normal(size=tests * readings)})
tables = {"borehole": borehole, "interval": interval, "test": test, "reading": reading}
begin = time.perf_counter()
report = store.write(Changes("load", upserts=tables))
loaded = time.perf_counter() - begin
begin = time.perf_counter()
store.write(Changes("load", upserts=tables))
again = time.perf_counter() - begin
begin = time.perf_counter()
store.fingerprint("reading")
printed = time.perf_counter() - begin
begin = time.perf_counter()
site = store.read()
read = time.perf_counter() - begin
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024 ** 2
print(json.dumps({"rows": report.rows, "load_s": loaded, "again_s": again,
                  "fingerprint_s": printed, "read_s": read, "peak_gib": peak}))
"""


@pytest.mark.bench
def test_a_million_readings_and_200_000_intervals_load_in_a_minute(tmp_path):
    """Stored in under 60 s and 1.5 GiB, frames included; loaded again in as long."""
    done = subprocess.run(
        [sys.executable, "-c", LOAD, str(tmp_path / "big.gpkg")],
        capture_output=True,
        text=True,
        check=True,
    )
    measured = json.loads(done.stdout)
    print(measured)
    assert measured["rows"]["reading"] == 1_000_000
    assert measured["rows"]["interval"] == 200_000
    assert measured["load_s"] < 60
    assert measured["again_s"] < 60
    assert measured["peak_gib"] < 1.5


@pytest.mark.bench
def test_four_layers_are_written_and_verified_quickly(store_of_layers):
    """Four layers of a thousand lines are replaced and verified in under 2 s."""
    store, derived = store_of_layers
    begin = time.perf_counter()
    store.write(Changes("run", derived=derived))
    print(f"write {time.perf_counter() - begin:.2f} s")
    assert time.perf_counter() - begin < 2.0


@pytest.fixture
def store_of_layers(tmp_path):
    """A site file, and a thousand features for each layer of lines."""
    store = Store.create(tmp_path / "s.gpkg", name="s", crs="EPSG:32631", vertical_datum="d")
    rng = np.random.default_rng(2)
    ends = rng.uniform(0, 500, (1000, 2, 3)) + CORNER
    lines = shapely.linestrings(ends)
    hole = {"borehole": ["B1"] * 1000}
    derived = {
        name: gpd.GeoDataFrame(hole, geometry=lines)
        for name in ("borehole_path", "conductivity", "interval_conductivity", "concentration")
    }
    return store, derived


@pytest.mark.bench
def test_50_000_readings_are_fingerprinted_in_150_milliseconds(tmp_path):
    """What decides whether a layer is fresh is quick to know."""
    store = Store.create(tmp_path / "s.gpkg", name="s", crs="EPSG:32631", vertical_datum="d")
    files = pd.DataFrame(
        {
            "source_table": "reading",
            "row_key": [f"T{i:05d}" for i in range(50_000)],
            "fingerprint": "0" * 64,
            "source_file": "readings.csv",
        }
    )
    store.write(Changes("load", loaded=files))
    times = []
    for _ in range(5):
        begin = time.perf_counter()
        store.fingerprint("loaded")
        times.append(time.perf_counter() - begin)
    print(f"fingerprint {min(times):.3f} s")
    assert min(times) < 0.15


@pytest.mark.bench
def test_a_large_file_is_inspected_in_reasonable_time(tmp_path):
    """A hundred thousand paths are walked through in under 20 s."""
    store = Store.create(tmp_path / "s.gpkg", name="s", crs="EPSG:32631", vertical_datum="d")
    ends = np.random.default_rng(3).uniform(0, 500, (100_000, 2, 3)) + CORNER
    frame = gpd.GeoDataFrame({"borehole": ["B"] * 100_000}, geometry=shapely.linestrings(ends))
    begin = time.perf_counter()
    store.write(Changes("run", derived={"borehole_path": frame}))
    written = time.perf_counter() - begin
    begin = time.perf_counter()
    assert inspect(store.path) == []
    looked = time.perf_counter() - begin
    print(f"write {written:.2f} s, inspect {looked:.2f} s")
    assert looked < 20
