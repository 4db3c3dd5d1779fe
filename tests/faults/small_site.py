"""A made-up site so small that every command takes about a second on it, for the fault tests."""

from __future__ import annotations

import math
from itertools import product
from pathlib import Path

HOLES = {"A1": (0, 0), "A2": (40, 10), "A3": (15, 45), "A4": (60, 40)}
TOPS = (5.0, 12.0, 19.0)
EAST, NORTH = 500_000, 5_300_000
SETTINGS = """crs = "EPSG:32632"
name = "made-up corner"
vertical_datum = "local"
[map_band]
elevations_m = [90.0]
cell_m = 20.0
[plume_extent]
elevations_m = [90.0]
cell_m = 20.0
realisations = 20
[discharge]
realisations = 20
[next_borehole]
count = 1
grid_m = 60.0
[next_test]
count = 1
"""


def write_small_site(folder: Path) -> Path:
    """Four holes of three zones with a test and a sample each, an area and a section line."""
    (folder / "readings").mkdir(parents=True)
    for name, content in {**_tables(), **_readings()}.items():
        (folder / name).write_text(content, encoding="utf-8")
    return folder


def _zones() -> list[tuple[str, str, int, float]]:
    pairs = product(HOLES, enumerate(TOPS))
    return [(f"{hole}-{i + 1}", hole, i, top) for hole, (i, top) in pairs]


def _tables() -> dict[str, str]:
    zones = _zones()
    holes = [f"{h},{EAST + x},{NORTH + y},{100 - x / 50},30" for h, (x, y) in HOLES.items()]
    reach = [math.hypot(HOLES[h][0] - 20, HOLES[h][1] - 15) + 3 * i for _, h, i, _ in zones]
    amounts = [1000 * math.exp(-r / 25) for r in reach]
    corners = f"{EAST - 20} {NORTH - 20},{EAST + 110} {NORTH - 20},{EAST + 110} {NORTH + 70}"
    closed = f"{corners},{EAST - 20} {NORTH + 70},{EAST - 20} {NORTH - 20}"
    tables = {
        "boreholes": ("borehole,x,y,ground_elevation_m,depth_m", holes),
        "construction": (
            "borehole,top_m,bottom_m,kind,diameter_mm",
            [row for h in HOLES for row in (f"{h},0,4,casing,104", f"{h},4,30,open hole,96")],
        ),
        "intervals": (
            "interval,borehole,top_m,bottom_m,isolation,packer,inflation_kpa,static_depth_m",
            [f"{z},{h},{t},{t + 2},straddle,P,450,{3 + i / 50}" for z, h, i, t in zones],
        ),
        "tests": (
            "test,interval,kind,started_at,riser_diameter_mm,water_temperature_c",
            [f"{z}-a,{z},rising head,2026-05-05T10:00,38,10" for z, *_ in zones],
        ),
        "samples": (
            "sample,interval,sampled_at,round",
            [f"S{z},{z},2026-06-01T09:30,R1" for z, *_ in zones],
        ),
        "results": (
            "sample,analyte,value,unit,limit",
            [
                f"S{z},TCE,{'<1' if a < 1 else f'{a:.1f}'},ug/L,1"
                for (z, *_), a in zip(zones, amounts, strict=True)
            ],
        ),
        "criteria": ("analyte,value,unit,basis", ["TCE,900,ug/L,made up"]),
        "areas": ("name,kind,wkt", [f'all,site,"POLYGON (({closed}))"']),
        "section_lines": (
            "name,wkt",
            [f'a,"LINESTRING ({EAST - 10} {NORTH},{EAST + 100} {NORTH + 30})"'],
        ),
        "packers": (
            "packer,deflated_diameter_mm,min_hole_mm,max_hole_mm,element_length_m,"
            "seating_pressure_kpa,max_inflation_kpa,max_depth_m,max_submergence_m,"
            "pipe_inner_diameter_mm,gas_or_water",
            ["P,72,76,122,1.0,350,2400,120,100,38,gas"],
        ),
        "spacers": ("spacer,open_length_m", ["S,2.0"]),
    }
    texts = {f"{n}.csv": "\n".join([header, *rows, ""]) for n, (header, rows) in tables.items()}
    return {"site.toml": SETTINGS, **texts}


def _readings() -> dict[str, str]:
    """Straight recoveries, quicker from hole to hole and slower with depth."""
    files = {}
    for zone, hole, i, _ in _zones():
        lag = 20.0 * (1 + i) * (1 + list(HOLES).index(hole) / 3)
        rows = [f"{t},{-0.8 * math.exp(-t / lag):.5f}" for t in range(0, 200, 20)]
        files[f"readings/{zone}-a.csv"] = "\n".join(["elapsed_s,displacement_m", *rows, ""])
    return files
