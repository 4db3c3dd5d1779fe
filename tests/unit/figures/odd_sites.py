"""Made-up sites whose figures are hard to draw, as folders that `geoprofile run` takes."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

EAST, NORTH, GROUND_M, WATER_M = 500_000.0, 5_300_000.0, 100.0, 1.0
SETTINGS = """crs = "EPSG:32632"
name = "{name} (made up)"
time_zone = "UTC"
vertical_datum = "yard datum (made up)"
[document]
project = "P-17, packers of the yard"
client = "Harbour trust (made up)"
author = "A. Dey"
checked_by = "B. Orr"
date = 2031-07-01
revision = "2"
status = "draft"
[plume_extent]
realisations = 20
[discharge]
realisations = 20
[transmissivity_band]
realisations = 20
"""


@dataclass(frozen=True)
class Odd:
    """A site: where its holes start, how deep they are, and what was found in them."""

    holes: Mapping[str, tuple[float, float]]
    depth_m: Mapping[str, float] = field(default_factory=dict)
    tops_m: tuple[float, ...] = (6.0, 11.0, 16.0, 21.0)
    length_m: float = 2.0
    reach_m: float = 30.0
    detected: bool = True
    tilted_deg: Mapping[str, tuple[float, float]] = field(default_factory=dict)

    def bottom_m(self, hole: str) -> float:
        """Depth of a hole."""
        return self.depth_m.get(hole, 25.0)

    def zones(self) -> list[tuple[str, str, float]]:
        """Name, borehole and top of each zone that fits into its hole."""
        return [
            (f"z{place}-{number}", hole, top)
            for place, hole in enumerate(self.holes)
            for number, top in enumerate(self.tops_m)
            if top + self.length_m <= self.bottom_m(hole)
        ]

    def found(self, hole: str, top: float) -> str:
        """TCE of a zone as a laboratory writes it: a bell around the middle of the site."""
        middle = [sum(c) / len(self.holes) for c in zip(*self.holes.values(), strict=True)]
        away = math.dist(self.holes[hole], middle) / self.reach_m
        value = 900 * 10 ** -(away + abs(top - 0.4 * self.bottom_m(hole)) / 12)
        return f"{value:.2g}" if self.detected and value > 0.5 else "<0.5"


def _grid(count: int, across: int, step: float) -> list[tuple[float, float]]:
    return [
        (step * (i % across) + 0.12 * step * (i // across), 0.9 * step * (i // across))
        for i in range(count)
    ]


STEM = "Observation well of the northern harbour basin, number "
ODD: Mapping[str, Odd] = MappingProxyType(
    {
        "three boreholes": Odd({"B1": (0, 0), "B2": (70, 12), "B3": (30, 50)}),
        "forty long names": Odd(
            {f"{STEM}{i:03d}": p for i, p in enumerate(_grid(40, 8, 28))},
            tops_m=(6.0, 16.0),
            reach_m=60.0,
        ),
        "two kilometres": Odd(
            {f"W{i + 1}": p for i, p in enumerate([*_grid(8, 4, 660), (1010, 330)])},
            reach_m=500.0,
        ),
        "three metres deep": Odd(
            {f"S{i + 1}": p for i, p in enumerate(_grid(6, 3, 14))},
            depth_m={f"S{i + 1}": 3.0 for i in range(6)},
            tops_m=(1.2, 2.2),
            length_m=0.6,
            reach_m=14.0,
        ),
        "nothing detected": Odd(
            {f"N{i + 1}": p for i, p in enumerate(_grid(8, 4, 30))}, detected=False
        ),
        "steep and inclined": Odd(
            {f"T{i + 1}": p for i, p in enumerate(_grid(7, 4, 24))},
            depth_m={"T2": 40.0, "T4": 30.0},
            tilted_deg={"T1": (3, 10), "T2": (60, 80), "T4": (45, 250), "T6": (20, 0)},
        ),
    }
)


def write_odd(folder: Path, name: str) -> Path:
    """The input files of one of the sites; the folder."""
    site = ODD[name]
    (folder / "readings").mkdir(parents=True)
    for file, text in {**_holes(name, site), **_found(site), **_drawn(site)}.items():
        (folder / file).write_text(text, encoding="utf-8")
    return folder


def _table(header: str, rows: Iterable[Sequence[object]]) -> str:
    lines = (",".join(f'"{c}"' if "," in str(c) else str(c) for c in row) for row in rows)
    return "\n".join([header, *lines]) + "\n"


def _holes(name: str, site: Odd) -> dict[str, str]:
    holes = site.holes.items()
    tables = {
        "boreholes": (
            "borehole,x,y,ground_elevation_m,depth_m",
            [(h, EAST + x, NORTH + y, GROUND_M - x / 200, site.bottom_m(h)) for h, (x, y) in holes],
        ),
        "construction": (
            "borehole,top_m,bottom_m,kind,diameter_mm",
            [
                row
                for h, _ in holes
                for row in (
                    (h, 0, WATER_M, "casing", 104),
                    (h, WATER_M, site.bottom_m(h), "open hole", 96),
                )
            ],
        ),
        "lithology": (
            "borehole,top_m,bottom_m,unit",
            [
                row
                for h, _ in holes
                for row in ((h, 0, 1.5, "fill"), (h, 1.5, site.bottom_m(h), "gravelly sand"))
            ],
        ),
        "water_levels": (
            "borehole,interval,measured_at,depth_to_water_m",
            [(h, "", "2031-01-01T08:00", f"{WATER_M + 0.002 * x / 10:.3f}") for h, (x, _) in holes],
        ),
    }
    if site.tilted_deg:
        tables["surveys"] = (
            "borehole,depth_m,inclination_deg,azimuth_deg",
            [(h, d, *t) for h, t in site.tilted_deg.items() for d in (0, site.bottom_m(h))],
        )
    made = {f"{table}.csv": _table(*said) for table, said in tables.items()}
    return {**made, "site.toml": SETTINGS.format(name=name.capitalize())}


def _found(site: Odd) -> dict[str, str]:
    zones = site.zones()
    tables = {
        "intervals": (
            "interval,borehole,top_m,bottom_m,isolation,static_depth_m",
            [(z, h, t, t + site.length_m, "straddle", WATER_M) for z, h, t in zones],
        ),
        "samples": (
            "sample,interval,sampled_at,round",
            [(f"s{z}", z, "2031-01-01T09:00", "R1") for z, _, _ in zones],
        ),
        "results": (
            "sample,analyte,value,unit,limit",
            [(f"s{z}", "TCE", site.found(h, t), "ug/L", 0.5) for z, h, t in zones],
        ),
        "criteria": ("analyte,value,unit,basis", [("TCE", 10, "ug/L", "made up")]),
        "tests": (
            "test,interval,kind,started_at,riser_diameter_mm,expected_displacement_m,"
            "water_temperature_c,aquifer_thickness_m,aquifer",
            [
                (f"t{z}", z, "falling head", "2030-12-01T10:00", 38, 0.8, 10, 30, "confined")
                for z, _, _ in zones[::2]
            ],
        ),
    }
    made = {f"{table}.csv": _table(*said) for table, said in tables.items()}
    for place, (zone, _, _) in enumerate(zones[::2]):
        lag_s = 20 * 1.2 ** (place % 9)
        rows = [(f"{lag_s * i / 5:.2f}", f"{0.8 * math.exp(-i / 5):.4f}") for i in range(21)]
        made[f"readings/t{zone}.csv"] = _table("elapsed_s,displacement_m", rows)
    return made


def _drawn(site: Odd) -> dict[str, str]:
    xs, ys = zip(*site.holes.values(), strict=True)
    margin = 0.08 * (max(xs) - min(xs))
    west, east = EAST + min(xs) - margin, EAST + max(xs) + margin
    south, north = NORTH + min(ys) - margin, NORTH + max(ys) + margin
    corners = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    through = sorted(site.holes.values())[:: max(1, len(site.holes) // 5)]
    line = {"type": "LineString", "coordinates": [[EAST + x, NORTH + y] for x, y in through]}
    yard = {"type": "Polygon", "coordinates": [corners]}
    return {
        "section_lines.geojson": _geojson({"name": "A-A'"}, line),
        "areas.geojson": _geojson({"name": "yard", "kind": "site"}, yard),
    }


def _geojson(properties: Mapping[str, str], geometry: Mapping[str, object]) -> str:
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32632"}}
    feature = {"type": "Feature", "properties": properties, "geometry": geometry}
    return json.dumps({"type": "FeatureCollection", "crs": crs, "features": [feature]})
