"""Maps and sections of a large site through the real commands: time, memory, growth with cells."""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from pathlib import Path

import large_site
import pytest

pytestmark = pytest.mark.bench
GIB = 1024**2  # in the kibibytes that the system counts


def seconds(folder: Path, *words: object) -> float:
    """Wall time of a command that succeeds in a folder [s]."""
    begun = time.perf_counter()
    line = [sys.executable, "-m", "geoprofile", *map(str, words)]
    subprocess.run(line, check=True, cwd=folder)
    return time.perf_counter() - begun


def test_maps_and_sections_of_two_hundred_boreholes(tmp_path: Path) -> None:
    """4,000 intervals and five analytes: all map layers and three sections in 180 s and 3 GiB."""
    site = large_site.write(tmp_path) / "site.gpkg"
    laps = {"load": seconds(tmp_path, "create", site, "--crs", "EPSG:32632")}
    laps["load"] += seconds(tmp_path, "load", site, tmp_path)
    for name in ("conductivity", "interpolate", "map", "section"):
        laps[name] = seconds(tmp_path, name, site)
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / GIB
    print({name: round(lap, 1) for name, lap in laps.items()}, f"peak {peak:.2f} GiB")
    assert laps["map"] + laps["section"] < 180
    assert peak < 3


def test_time_grows_in_proportion_to_the_cells(tmp_path: Path) -> None:
    """Bands of 40 boreholes on cells of 4, 2.8 and 2 m: each added cell costs at most 1.3 times."""
    site = large_site.write(tmp_path, holes=40) / "site.gpkg"
    seconds(tmp_path, "create", site, "--crs", "EPSG:32632")
    seconds(tmp_path, "load", site, tmp_path)
    seconds(tmp_path, "interpolate", site, "--quiet")
    seconds(tmp_path, "map", site, "--quiet")
    sizes = (4.0, 4.0 / 2**0.5, 2.0)
    laps = []
    for size in sizes:
        chosen = f"map_band.cell_m={size:.3f}"
        laps.append(seconds(tmp_path, "map", site, "--quiet", "--set", chosen))
    areas = [size**-2 for size in sizes]
    first, second = ((laps[k + 1] - laps[k]) / (areas[k + 1] - areas[k]) for k in range(2))
    print(
        "seconds",
        [round(lap, 1) for lap in laps],
        "cost of a cell, later over sooner",
        second / first,
    )
    assert second <= 1.3 * first
