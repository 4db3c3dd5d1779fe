"""A made-up large site : many boreholes, five analytes, K from water-pressure tests."""

import csv
import json
from pathlib import Path

import numpy as np

ANALYTES = ("A1", "A2", "A3", "A4", "A5")
CRITERION = 5.0  # [ug/L]
LIMIT = 0.5  # [ug/L]
CORNER = np.array([500_000.0, 5_300_000.0])  # [m]
SIDE = np.array([800.0, 500.0])  # [m]
ZONE = 1.5  # [m] length of an interval


def write(folder: Path, holes: int = 200, per_hole: int = 20, seed: int = 1) -> Path:
    """Write the site folder: `holes` vertical boreholes with `per_hole` intervals each."""
    rng = np.random.default_rng(seed)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "site.toml").write_text(
        'name = "Large site (invented)"\ncrs = "EPSG:32632"\nvertical_datum = "invented"\n',
        encoding="utf-8",
    )
    places = CORNER + rng.uniform(0.02, 0.98, (holes, 2)) * SIDE
    rows = [
        (f"H{h:03d}", f"H{h:03d}-{i:02d}", h, 4 + 2.0 * i)
        for h in range(holes)
        for i in range(per_hole)
    ]
    depth = 8 + 2.0 * per_hole
    _table(
        folder,
        "boreholes",
        "borehole,x,y,ground_elevation_m,depth_m",
        [
            (f"H{h:03d}", f"{x:.2f}", f"{y:.2f}", f"{100 - 0.002 * (x - CORNER[0]):.2f}", depth)
            for h, (x, y) in enumerate(places)
        ],
    )
    _table(
        folder,
        "construction",
        "borehole,top_m,bottom_m,kind,diameter_mm",
        [
            row
            for h in range(holes)
            for row in (
                (f"H{h:03d}", 0, 3, "casing", 120),
                (f"H{h:03d}", 3, depth, "open hole", 96),
            )
        ],
    )
    _table(
        folder,
        "intervals",
        "interval,borehole,top_m,bottom_m,isolation,static_depth_m",
        [
            (i, b, top, top + ZONE, "straddle", f"{2 + 0.003 * (places[h, 0] - CORNER[0]):.3f}")
            for b, i, h, top in rows
        ],
    )
    _table(
        folder,
        "water_levels",
        "borehole,interval,measured_at,depth_to_water_m",
        [
            (f"H{h:03d}", "", "2026-05-01T10:00", f"{2 + 0.003 * (x - CORNER[0]):.3f}")
            for h, (x, _) in enumerate(places)
        ],
    )
    _table(
        folder,
        "criteria",
        "analyte,value,unit,basis",
        [(a, CRITERION, "ug/L", "invented") for a in ANALYTES],
    )
    _water_pressure_tests(folder, rows, rng)
    _chemistry(folder, rows, places, rng)
    _shapes(folder)
    return folder


def _table(folder, name, header, rows):
    with (folder / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([header.split(","), *rows])


def _water_pressure_tests(folder, rows, rng):
    """Three pressure steps a test; the flow is proportional to the pressure, so that K is clear."""
    take = 10 ** rng.normal(-1.0, 0.6, len(rows))  # [L/min per m of head]
    _table(
        folder,
        "tests",
        "test,interval,kind,started_at,riser_diameter_mm,water_temperature_c,aquifer,aquifer_thickness_m",
        [
            (f"{i}-w", i, "constant head", "2026-05-02T10:00", 38, 11, "unconfined", 50)
            for _, i, _, _ in rows
        ],
    )
    pressure_steps = [
        (f"{i}-w", s, 20 * s, 1.0, f"{q * (20 * s / 9.81 + 3):.5f}", 10)
        for (_, i, _, _), q in zip(rows, take, strict=True)
        for s in (1, 2, 3)
    ]
    _table(
        folder,
        "pressure_steps",
        "test,step,gauge_pressure_kpa,gauge_height_m,flow_l_min,minutes",
        pressure_steps,
    )


def _chemistry(folder, rows, places, rng):
    """A plume per analyte, each with its own source, with laboratory noise and non-detects."""
    samples, results = [], []
    middle = np.array([[*places[h], top + ZONE / 2] for _, _, h, top in rows]) - [*CORNER, 0]
    for number, (_, interval, _, _) in enumerate(rows):
        samples.append((f"S{number}", interval, "2026-05-03T10:00", "R1", "primary", "water"))
    for analyte in ANALYTES:
        source = np.array([rng.uniform(60, 200), rng.uniform(150, 350), rng.uniform(10, 25)])
        u, v, w = (middle - source).T
        down = np.maximum(u, 1.0)
        wide, high = 30**2 + 0.8 * down, 5**2 + 0.02 * down
        value = 3.2 - 0.004 * down - (v**2 / wide + w**2 / high) / 4.6 - np.where(u < 0, -u / 15, 0)
        value = np.maximum(value, -2) + rng.normal(0, 0.15, len(value))
        for number, level in enumerate(10**value):
            written = f"{level:.3g}" if level >= LIMIT else f"<{LIMIT}"
            results.append((f"S{number}", analyte, written, "ug/L", LIMIT))
    _table(folder, "samples", "sample,interval,sampled_at,round,kind,medium", samples)
    _table(folder, "results", "sample,analyte,value,unit,limit", results)


def _shapes(folder):
    (x, y), (w, h) = CORNER, SIDE
    ring = [[x, y], [x + w, y], [x + w, y + h], [x, y + h], [x, y]]
    lines = {
        "A": [[x + 20, y + h / 2], [x + w - 20, y + h / 2]],
        "B": [[x + 250, y + 20], [x + 250, y + h - 20]],
        "C": [[x + 500, y + 20], [x + 480, y + h / 2], [x + 500, y + h - 20]],
    }
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32632"}}
    _features(
        folder / "areas.geojson", crs, [({"name": "site", "kind": "site"}, "Polygon", [ring])]
    )
    _features(
        folder / "section_lines.geojson",
        crs,
        [({"name": n}, "LineString", c) for n, c in lines.items()],
    )


def _features(path, crs, items):
    made = [
        {"type": "Feature", "properties": p, "geometry": {"type": t, "coordinates": c}}
        for p, t, c in items
    ]
    path.write_text(
        json.dumps({"type": "FeatureCollection", "crs": crs, "features": made}), encoding="utf-8"
    )
