"""A small made-up site folder: three boreholes with three zones each."""

from __future__ import annotations

import json
import math
from pathlib import Path

EAST, NORTH = 500_000.0, 5_300_000.0
HOLES = {"B1": (0, 0), "B2": (40, 5), "B3": (20, 40)}
LAG_S = 30.0  # [s] of the first interval; each next one is slower
TOPS = (6.0, 11.0, 16.0)
PLUME = (30.0, 0.0, 12.0)  # east, north [m], depth [m] of the highest concentration


def write_yard(folder: Path) -> Path:
    """Write every file of the site into a folder, which is made; the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files().items():
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


def files() -> dict[str, str]:
    """The content of each file by its name."""
    intervals = [(f"{hole}-{i}", hole, top) for hole in HOLES for i, top in enumerate(TOPS, 1)]
    found = {
        "site.toml": 'crs = "EPSG:32632"\nname = "made-up yard"\ntime_zone = "Europe/Rome"\n',
        "boreholes.csv": _csv(
            "borehole,x,y,ground_elevation_m,depth_m,remarks",
            [(h, EAST + e, NORTH + n, 100.0 - e / 100, 25, "") for h, (e, n) in HOLES.items()],
        ),
        "construction.csv": _csv(
            "borehole,top_m,bottom_m,kind,diameter_mm",
            [
                (hole, top, bottom, kind, 96)
                for hole in HOLES
                for top, bottom, kind in ((0, 4, "casing"), (4, 25, "open hole"))
            ],
        ),
        "intervals.csv": _csv(
            "interval,borehole,top_m,bottom_m,isolation,static_depth_m",
            [(name, hole, top, top + 2, "straddle", 3.0) for name, hole, top in intervals],
        ),
        "tests.csv": _csv(
            "test,interval,kind,started_at,riser_diameter_mm,expected_displacement_m,"
            "water_temperature_c,aquifer_thickness_m,aquifer",
            [
                (f"T{name}", name, "falling head", "2026-05-05T10:00", 38, 0.8, 10, 30, "confined")
                for name, _, _ in intervals
            ],
        ),
        "samples.csv": _csv(
            "sample,interval,sampled_at,round",
            [(f"S{name}", name, "2026-06-01T09:30", "R1") for name, _, _ in intervals],
        ),
        "results.csv": _csv(
            "sample,analyte,value,unit,limit,qualifier",
            [
                (f"S{name}", "TCE", _value(hole, top), "ug/L", 0.5, "")
                for name, hole, top in intervals
            ],
        ),
        "criteria.csv": "analyte,value,unit,basis\nTCE,10,ug/L,made up\n",
        "areas.geojson": _geojson("Polygon", [_ring(-30, -40, 120, 80)], name="site", kind="site"),
        "section_lines.geojson": _geojson("LineString", _line((-10, 0), (100, 0)), name="along"),
    }
    for place, (name, _, _) in enumerate(intervals):
        found[f"readings/T{name}.csv"] = readings(LAG_S * 1.3**place)
    return found


def _csv(header: str, rows: list[tuple[object, ...]]) -> str:
    return "\n".join([header, *(",".join(map(str, row)) for row in rows)]) + "\n"


def readings(lag_s: float) -> str:
    """Displacement that falls to 37 % within the lag."""
    times = [lag_s * 4 * i / 20 for i in range(21)]
    rows = [(f"{t:.2f}", f"{0.8 * math.exp(-t / lag_s):.4f}") for t in times]
    return _csv("elapsed_s,displacement_m", [*rows])


def _value(hole: str, top: float) -> str:
    east, north = HOLES[hole]
    away = math.hypot((east - PLUME[0]) / 30, (north - PLUME[1]) / 15, (top + 1 - PLUME[2]) / 4)
    value = 200 * 10 ** (-away)
    return f"{value:.2f}" if value >= 0.5 else "<0.5"


def _line(*places: tuple[float, float]) -> list[list[float]]:
    return [[EAST + e, NORTH + n] for e, n in places]


def _ring(west: float, south: float, east: float, north: float) -> list[list[float]]:
    return _line((west, south), (east, south), (east, north), (west, north), (west, south))


def _geojson(shape: str, coordinates: object, **properties: str) -> str:
    feature = {
        "type": "Feature",
        "properties": properties,
        "geometry": {"type": shape, "coordinates": coordinates},
    }
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32632"}}
    return json.dumps({"type": "FeatureCollection", "crs": crs, "features": [feature]})
