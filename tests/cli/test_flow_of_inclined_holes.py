"""Flow is found whichever way levels of inclined holes are given, and in every kind of CRS."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from pyproj import Transformer

from geoprofile.cli import cli
from geoprofile.store import Store

sys.path.insert(0, str(Path(__file__).parent))
import corner_site

GRADIENT = 0.02
HOLES = {"A": (0, 0, 0), "B": (90, 10, 100), "C": (20, 80, 200), "D": (100, 95, 300)}
LEAN_DEG = 35.0
MINE_GRID = (
    'ENGCRS["Mine grid",EDATUM["Mine datum"],CS[Cartesian,2],AXIS["easting (E)",east,ORDER[1]],'
    'AXIS["northing (N)",north,ORDER[2]],LENGTHUNIT["metre",1]]'
)
CASES: list[tuple[str, float | None, float | None, str]] = [
    ("EPSG:32632", 9.0, 48.0, "along the hole"),
    ("EPSG:32632", 9.0, 48.0, "vertical"),
    ("EPSG:3006", 15.0, 60.0, "vertical"),
    ("EPSG:3031", 45.0, -74.4, "along the hole"),
    (MINE_GRID, None, None, "vertical"),
]


def level(east: float, azimuth_deg: float, way: str) -> float:
    """Where a leaning hole meets a water table that falls from 90 m by 0.02 to the east."""
    down = math.cos(math.radians(LEAN_DEG))
    aside = math.sin(math.radians(LEAN_DEG)) * math.sin(math.radians(azimuth_deg))
    along = (10.0 + GRADIENT * east) / (down - GRADIENT * aside)
    return along if way == "along the hole" else along * down


@pytest.mark.parametrize(("crs", "lon", "lat", "way"), CASES)
def test_a_gradient_of_two_percent_to_the_east_is_found(
    crs: str, lon: float | None, lat: float | None, way: str, tmp_path: Path
) -> None:
    """Within 2 % and 2 degrees, four holes leaning 35 degrees to all sides."""
    x, y = 1000.0, 2000.0
    if lon is not None:
        x, y = Transformer.from_crs(4326, crs, always_xy=True).transform(lon, lat)
    files = {
        "site.toml": corner_site.settings(crs),
        "boreholes.csv": corner_site.boreholes(
            {h: (e, n) for h, (e, n, _) in HOLES.items()}, origin=(x, y), depth_m=60.0
        ),
        "surveys.csv": corner_site.table(
            "borehole,depth_m,inclination_deg,azimuth_deg",
            [(h, 0, LEAN_DEG, a) for h, (_, _, a) in HOLES.items()],
        ),
        "water_levels.csv": corner_site.table(
            "borehole,measured_at,depth_to_water_m,depth_is",
            [
                (h, "2026-05-01T10:00", f"{level(e, a, way):.4f}", way)
                for h, (e, _, a) in HOLES.items()
            ],
        ),
    }
    folder = corner_site.write(tmp_path / "site", files)
    answer = CliRunner().invoke(cli, ["run", str(folder), "--quiet"], standalone_mode=False)
    assert answer.exception is None, answer.output
    [flow] = Store.open(tmp_path / "site" / "site.gpkg").read().table("flow").to_dict("records")
    assert flow["gradient"] == pytest.approx(GRADIENT, rel=0.02)
    assert flow["azimuth_deg"] == pytest.approx(90.0, abs=2.0)
