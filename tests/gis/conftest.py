"""The desktop GIS of this machine, in a process of its own, and a site file with every table."""

from __future__ import annotations

import json
import os
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import pytest
from shapely import LineString, Point, Polygon

from geoprofile.schema import INPUT, Column, Table
from geoprofile.store import Changes, Store

HERE = Path(__file__).parent
SYSTEM_PYTHON = Path("/usr/bin/python3")
CRS = "EPSG:32632"
# numbers that a form with few decimals, or a detour over text, would corrupt
AWKWARD = (0.30000000000000004, 1 / 3, 0.1234567890123456, 2.675, 1.0)
SHAPES = {
    "PointZ": lambda i: Point(500000 + 10 / 3 * i, 5300000.1 + i, 0.1 + i),
    "Polygon": lambda i: Polygon([(500000 + i, 5300000), (500030, 5300000), (500010, 5300030 + i)]),
    "LineString": lambda i: LineString([(500000, 5300000 + i), (500060, 5300020)]),
}


def has_gis() -> bool:
    """Whether the system's Python can load the GIS."""
    if not SYSTEM_PYTHON.exists():
        return False
    tried = subprocess.run(
        [SYSTEM_PYTHON, "-c", "import qgis.gui"],
        capture_output=True,
        check=False,
        env={"PATH": "/usr/bin:/bin", "QT_QPA_PLATFORM": "offscreen"},
    )
    return tried.returncode == 0


@pytest.fixture(scope="session")
def gis(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Any]:
    """Run a script of this folder in the GIS; what it answers. Skipped where there is none."""
    if not has_gis():
        if os.environ.get("GEOPROFILE_GIS") == "required":
            pytest.fail("the desktop GIS should be here, but cannot be loaded")
        pytest.skip("no desktop GIS on this machine (Debian: apt-get install qgis python3-qgis)")

    home = tmp_path_factory.mktemp("home")

    def call(script: str, *words: object, **environment: str) -> Any:
        done = subprocess.run(
            [SYSTEM_PYTHON, HERE / script, *map(str, words)],
            capture_output=True,
            text=True,
            check=False,
            env={"PATH": "/usr/bin:/bin", "QT_QPA_PLATFORM": "offscreen", "TZ": "UTC"}
            | {"HOME": str(home)}
            | environment,
        )
        lines = [x for x in done.stdout.splitlines() if x.startswith("ANSWER")]
        assert lines, done.stderr[-3000:]
        return json.loads(lines[-1].removeprefix("ANSWER"))

    return call


@pytest.fixture(scope="session")
def full_site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A site file with rows in every table of the user, with awkward numbers. Made once."""
    path = tmp_path_factory.mktemp("gis") / "site.gpkg"
    store = Store.create(path, name="made-up yard", crs=CRS, vertical_datum="harbour zero")
    store.write(Changes("load", upserts={t.name: rows_of(t) for t in INPUT}))
    return path


def rows_of(table: Table) -> pd.DataFrame:
    """Five rows of a table, each column filled as the schema allows."""
    rows = [{c.name: cell(table, c, i) for c in table.columns} for i in range(len(AWKWARD))]
    if table.geometry is None:
        return pd.DataFrame(rows)
    shapes = [SHAPES[table.geometry](i) for i in range(len(rows))]
    return gpd.GeoDataFrame(rows, geometry=shapes, crs=CRS)


def cell(table: Table, column: Column, place: int) -> object:
    """A value that is allowed; every fifth cell that may be empty is."""
    if not column.required and not column.key and place == 3:
        return None
    if column.references:
        return f"{column.references}-{place}"
    if column.allowed:
        return column.allowed[place % len(column.allowed)]
    if column.name.endswith("_offset"):
        return "+02:00"
    if column.kind == "text":
        return f"{table.name}-{place}"
    if column.kind == "datetime":
        return f"2031-0{place + 1}-04T22:10:0{place}{'.125' if place == 2 else ''}Z"
    if column.kind == "date":
        return f"2031-05-0{place + 1}"
    if column.kind == "boolean":
        return place % 2 == 0
    if column.kind == "integer":
        return place + 1
    if column.unit == "1/Pa":
        return 4.6e-10 / (place + 3)
    low = column.low if column.low is not None else column.above or 0.0
    span = min(1.0, (column.high or 1e9) - low)
    return (
        low + span * AWKWARD[place] if place % 2 or low < 0 else low + AWKWARD[place] * 0.5 * span
    )
