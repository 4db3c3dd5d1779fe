"""Small invented tables, and a second program that edits the file the way a GIS does."""

from __future__ import annotations

import contextlib
import sqlite3

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from geoprofile.store import Changes, Store
from geoprofile.store.connection import register_functions

CRS = "EPSG:32631"


@pytest.fixture
def store(tmp_path):
    """An empty site file."""
    return Store.create(tmp_path / "site.gpkg", name="Try", crs=CRS, vertical_datum="local")


@pytest.fixture
def filled(store):
    """A site file with two boreholes, two intervals, a test with readings, an area and paths."""
    store.write(Changes("load", upserts=field_tables(), derived={"borehole_path": paths("B1")}))
    return store


@pytest.fixture
def edit():
    """Run SQL on the file as another program would, and close it again."""

    def run(store, *statements):
        with contextlib.closing(sqlite3.connect(store.path, isolation_level=None)) as other:
            register_functions(other)
            for statement in statements:
                other.execute(statement)

    return run


@pytest.fixture
def make():
    """The makers of tables, by name."""
    return {"boreholes": boreholes, "paths": paths, "field_tables": field_tables}


def boreholes(*names):
    count = len(names)
    return pd.DataFrame(
        {
            "borehole": list(names),
            "x": [500000.0 + 10 * i for i in range(count)],
            "y": [5700000.0 + 5 * i for i in range(count)],
            "ground_elevation_m": [2.0] * count,
            "depth_m": [30.0] * count,
        }
    )


def paths(*names):
    lines = [
        shapely.LineString([(500000 + 10 * i, 5700000, 2), (500000 + 10 * i, 5700000, -28)])
        for i in range(len(names))
    ]
    data = {"borehole": list(names), "length_m": 30.0, "end_elevation_m": -28.0, "surveyed": False}
    return gpd.GeoDataFrame(data, geometry=lines)


def field_tables():
    interval = {
        "interval": ["I1", "I2"],
        "borehole": ["B1", "B2"],
        "top_m": [1.0, 5.0],
        "bottom_m": [2.0, 8.0],
        "isolation": ["straddle", "screen"],
    }
    tests = {"test": ["T1", "T2"], "interval": ["I1", "I1"], "kind": ["falling head"] * 2}
    readings = {
        "test": ["T1", "T1", "T2"],
        "number": [1, 2, 1],
        "elapsed_s": [0.0, 1.0, 0.0],
        "displacement_m": [1.0, 0.5, 2.0],
    }
    area = gpd.GeoDataFrame(
        {"name": ["all"], "kind": ["site"]},
        geometry=[shapely.box(499900, 5699900, 500100, 5700100)],
    )
    return {
        "borehole": boreholes("B1", "B2"),
        "interval": pd.DataFrame(interval),
        "test": pd.DataFrame(tests),
        "reading": pd.DataFrame(readings),
        "area": area,
    }
