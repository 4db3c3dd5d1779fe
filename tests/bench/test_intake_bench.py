"""Time and memory of a large load: a million readings and two hundred thousand intervals."""

from __future__ import annotations

import resource
import time
from itertools import pairwise
from pathlib import Path

import pytest

from geoprofile import app, intake
from geoprofile.site import empty_frame
from geoprofile.store import Changes, Store

pytestmark = pytest.mark.bench
HOLES, PER_HOLE, TESTS, PER_TEST = 2000, 100, 2000, 500
GIB = 1024**2  # in the kibibytes that the system counts


def big_site(folder: Path) -> Path:
    """A made-up site of 2 000 holes, 200 000 intervals, 2 000 tests and a million readings."""
    (folder / "site.toml").write_text('crs = "EPSG:32632"\n', encoding="utf-8")
    with (folder / "boreholes.csv").open("w") as f:
        f.write("borehole,x,y,ground_elevation_m,depth_m\n")
        f.writelines(f"H{h},{500000 + h},{5300000 + h},100,200\n" for h in range(HOLES))
    with (folder / "intervals.csv").open("w") as f:
        f.write("interval,borehole,top_m,bottom_m,isolation,static_depth_m\n")
        f.writelines(
            f"H{h}-{i},H{h},{i + 1},{i + 1.5},straddle,3.5\n"
            for h in range(HOLES)
            for i in range(PER_HOLE)
        )
    with (folder / "tests.csv").open("w") as f:
        f.write("test,interval,kind,started_at\n")
        f.writelines(f"T{t},H{t}-1,falling head,2026-05-05T10:00\n" for t in range(TESTS))
    with (folder / "readings.csv").open("w") as f:
        f.write("test,elapsed_s,depth_to_water_m\n")
        f.writelines(
            f"T{t},{i * 0.5},{2.7 + i * 0.001:.4f}\n" for t in range(TESTS) for i in range(PER_TEST)
        )
    return folder


def test_a_million_readings_load_within_a_minute(tmp_path):
    """Reading, checking, merging and storing take under 60 s and 1.5 GiB."""
    folder = big_site(tmp_path)
    spent = time.process_time()
    laps = {"": time.perf_counter()}
    settings, files = intake.read_settings(folder), intake.find_files(folder)
    taken = intake.read_files(files, settings, {})
    laps["read"] = time.perf_counter()
    merged = intake.merge(taken.tables, {}, empty_frame("loaded", settings.crs))
    laps["merge"] = time.perf_counter()
    store = Store.create(folder / "s.gpkg", name="s", crs=settings.crs, vertical_datum="d")
    store.write(Changes("load", upserts=merged.upserts, loaded=merged.loaded))
    laps["store"] = time.perf_counter()
    moments = list(laps.items())
    for (_, before), (name, after) in pairwise(moments):
        print(f"{name}: {after - before:.1f} s")
    cpu = time.process_time() - spent
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / GIB
    print(f"processor time: {cpu:.1f} s; peak memory: {peak:.2f} GiB")
    assert len(taken.tables["reading"]) == TESTS * PER_TEST
    assert moments[-1][1] - moments[0][1] < 60
    assert cpu < 45
    assert peak < 1.5


def test_the_same_tables_again_take_seconds(tmp_path):
    """Where no file has changed, loading a million readings again takes under 5 s."""
    folder = big_site(tmp_path)
    place = folder / "s.gpkg"
    Store.create(place, name="s", crs="EPSG:32632", vertical_datum="d")
    app.load(place, [folder])
    begun, spent = time.perf_counter(), time.process_time()
    assert app.load(place, [folder]).loaded == {}
    print(f"{time.perf_counter() - begun:.1f} s, processor {time.process_time() - spent:.1f} s")
    assert time.perf_counter() - begun < 5
