"""Where a site lies: far holes, turned axes and polar systems, through the real command."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from pyproj import Transformer

sys.path.insert(0, str(Path(__file__).parent))
import corner_site

Command = Callable[..., subprocess.CompletedProcess[str]]
Places = dict[str, tuple[float, float]]


def loaded(
    folder: Path, command: Command, crs: str, places: Places, more: str = ""
) -> subprocess.CompletedProcess[str]:
    """A site of boreholes alone, created and loaded."""
    rows = [(h, x, y, 100, 25) for h, (x, y) in places.items()]
    files = {
        "site.toml": corner_site.settings(crs, more),
        "boreholes.csv": corner_site.table("borehole,x,y,ground_elevation_m,depth_m", rows),
    }
    corner_site.write(folder, files)
    made = command("create", folder / "site.gpkg", "--crs", crs, "--overwrite")
    return made if made.returncode else command("load", folder / "site.gpkg", folder)


def two_zones() -> Places:
    """Five holes on the edge of UTM zones 32 and 33; the last two written in zone 33."""
    east, north = Transformer.from_crs(4326, 32632, always_xy=True).transform(12.0, 48.0)
    places = {f"B{i}": (east + 35 * i, north) for i in range(1, 6)}
    to_33 = Transformer.from_crs(32632, 32633, always_xy=True)
    return places | {h: to_33.transform(*places[h]) for h in ("B4", "B5")}


def test_holes_of_the_neighbouring_zone_are_refused(tmp_path: Path, command: Command) -> None:
    """The zone in which they would lie beside the others is named, with the distance."""
    answer = loaded(tmp_path, command, "EPSG:32632", two_zones())
    assert answer.returncode == 1
    assert "B4, B5 would lie 35 m from the others" in answer.stderr
    assert "EPSG:32633" in answer.stderr
    assert "allow_far_holes = true" in answer.stderr


def test_far_holes_are_taken_where_the_user_says_so(tmp_path: Path, command: Command) -> None:
    """The setting under [intake] accepts them."""
    more = "[intake]\nallow_far_holes = true\n"
    answer = loaded(tmp_path, command, "EPSG:32632", two_zones(), more)
    assert answer.returncode == 0, answer.stderr


@pytest.mark.parametrize(
    "places",
    [
        {"B1": (0.0, 0.0)},
        {"B1": (0.0, 0.0), "B2": (3000.0, 0.0)},
        {"B1": (0.0, 0.0), "B2": (5.0, 0.0), "B3": (900.0, 700.0)},
        {"A1": (0.0, 0.0), "A2": (10.0, 0.0), "B1": (2000.0, 0.0), "B2": (2010.0, 0.0)},
        {f"B{i}": (9000.0 * i, 0.0) for i in range(9)},
    ],
    ids=["one", "two", "three", "clusters 2 km apart", "a line of 72 km"],
)
def test_sites_as_they_are_pass(places: Places, tmp_path: Path, command: Command) -> None:
    """Few holes, clusters 2 km apart and a long line of holes are no slips."""
    shifted = {h: (500_000 + x, 5_300_000 + y) for h, (x, y) in places.items()}
    answer = loaded(tmp_path, command, "EPSG:32632", shifted)
    assert answer.returncode == 0, answer.stderr


@pytest.mark.parametrize(
    ("crs", "ways", "twin"),
    [
        ("EPSG:2048", "west and south", "ESRI:102562"),
        ("EPSG:5513", "south and west", "EPSG:5514"),
        ("EPSG:22275", "west and south", ""),
    ],
)
def test_axes_to_the_west_and_south_are_refused(
    crs: str, ways: str, twin: str, tmp_path: Path, command: Command
) -> None:
    """EPSG's list of axes: 2048, 22275 westing, southing; 5513 southing, westing. 5514 turns it."""
    answer = command("create", tmp_path / "site.gpkg", "--crs", crs)
    assert answer.returncode == 1
    assert ways in answer.stderr
    assert (twin or "+axis=enu") in answer.stderr
    corner_site.write(
        tmp_path / "site",
        {"site.toml": corner_site.settings(crs), "boreholes.csv": corner_site.boreholes()},
    )
    answer = command("run", tmp_path / "site")
    assert answer.returncode == 1
    assert ways in answer.stderr
    assert not list((tmp_path / "site").glob("*.gpkg"))


INSIDE = [
    ("EPSG:3031", 45.0, -74.4),
    ("EPSG:3031", -170.0, -80.0),
    ("EPSG:3413", 30.0, 69.8),
    ("EPSG:3413", -45.0, 89.9),
    ("EPSG:32661", 100.0, 85.0),
    ("EPSG:3006", 15.0, 60.0),  # northing stands first in its definition
    ("EPSG:2193", 178.2, -37.8),
    ("EPSG:32760", -179.9, -18.0),  # zone 60 ends at the antimeridian
    ("EPSG:5514", 15.0, 50.0),
]


@pytest.mark.parametrize(("crs", "lon", "lat"), INSIDE)
def test_a_place_inside_its_area_passes(
    crs: str, lon: float, lat: float, tmp_path: Path, command: Command
) -> None:
    """Polar areas, an area at the antimeridian, and northing first."""
    x, y = Transformer.from_crs(4326, crs, always_xy=True).transform(lon, lat)
    answer = loaded(tmp_path, command, crs, {"B1": (x, y), "B2": (x + 30, y)})
    assert answer.returncode == 0, answer.stderr


@pytest.mark.parametrize(
    ("crs", "lon", "lat"), [("EPSG:3031", 10.0, -50.0), ("EPSG:3413", 10.0, 50.0)]
)
def test_a_place_outside_a_polar_area_is_refused(
    crs: str, lon: float, lat: float, tmp_path: Path, command: Command
) -> None:
    """10 degrees away from the area of use."""
    x, y = Transformer.from_crs(4326, crs, always_xy=True).transform(lon, lat)
    answer = loaded(tmp_path, command, crs, {"B1": (x, y)})
    assert answer.returncode == 1
    assert "far outside the area" in answer.stderr
