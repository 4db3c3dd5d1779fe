"""A small stored site with attachments and marks of what is private."""

from dataclasses import replace

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from geoprofile.engine.rows import frame
from geoprofile.site import Site

CRS = "EPSG:32628"
EAST, NORTH = 500_000.0, 4_000_000.0


@pytest.fixture
def small_site(tmp_path):
    """Two holes, a finding, two files of which one fills a table of samples, and a photo."""
    home = tmp_path / "site"
    (home / "photos").mkdir(parents=True)
    (home / "photos" / "core.png").write_bytes(b"\x89PNG not a real picture")
    rows = [
        {
            "borehole": name,
            "x": EAST + 30.0 * i,
            "y": NORTH,
            "ground_elevation_m": 5.0,
            "depth_m": 20.0,
            "remarks": "owner: a secret",
            "geometry": shapely.Point(EAST + 30.0 * i, NORTH, 5.0),
        }
        for i, name in enumerate(("A", "B"))
    ]
    interval = {
        "interval": "A-1",
        "borehole": "A",
        "top_m": 5.0,
        "bottom_m": 7.0,
        "isolation": "straddle",
    }
    sample = {"sample": "s-1", "interval": "A-1", "sampled_at": "2031-05-01T10:00:00Z"}
    found = {
        "source_table": "sample",
        "row_key": "s-1",
        "what": "a secret value",
        "severity": "note",
        "what_to_do": "look",
        "step": "concentration",
        "run": 1,
    }
    run = {
        "run": 1,
        "command": "load",
        "version": "0",
        "settings": '{"x": "a secret path"}',
        "inputs": '{"boreholes.csv": "aa", "samples.csv": "bb"}',
    }
    files = [
        {"source_file": f"{t}s.csv", "fingerprint": p, "source_table": t, "rows": 1, "run": 1}
        for t, p in (("borehole", "aa"), ("sample", "bb"))
    ]
    tables = {
        "borehole": frame("borehole", rows, CRS),
        "interval": frame("interval", [interval], CRS),
        "sample": frame("sample", [sample], CRS),
        "finding": pd.DataFrame([found]),
        "run": pd.DataFrame([run]),
        "source_file": pd.DataFrame(files),
        "attachment": frame(
            "attachment", [{"path": "photos/core.png", "what": "Core <1>", "borehole": "A"}], CRS
        ),
        "area": gpd.GeoDataFrame(
            {"name": ["yard"], "kind": ["site"]},
            geometry=[shapely.box(EAST - 9, NORTH - 9, EAST + 60, NORTH + 9)],
            crs=CRS,
        ),
    }
    return Site("Small yard", CRS, "yard datum", tables=tables, path=str(home / "site.gpkg"))


@pytest.fixture
def with_private(small_site):
    """The same site with names marked as private."""

    def marked(*names):
        return replace(small_site, settings={"handover": {"private": list(names)}})

    return marked
