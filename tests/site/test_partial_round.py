"""A new clean hole, sampled in a round of its own, takes nothing from the plume of the others.

Ground in layers and a drawn site area: what is compared is the effect of the round, not that of new
K or of a hull that grows with every hole.
"""

from __future__ import annotations

import csv
import io
import json
import math
from pathlib import Path

import pytest

from geoprofile.store import Store
from tests.conftest import Command

EAST, NORTH = 500_000.0, 5_300_000.0
HOLES = {
    "W1": (0, 0),
    "W2": (40, 5),
    "W3": (20, 40),
    "W4": (60, 45),
    "W5": (-20, 30),
    "W6": (25, 15),
    "W7": (80, 10),
}
NEW = {"W8": (25, 110)}
TOPS = (6.0, 11.0, 16.0)
CORNERS = ((-40, -20), (100, -20), (100, 65), (-40, 65), (-40, -20))
AREA = [[EAST + x, NORTH + y] for x, y in CORNERS]  # the new hole lies outside
LARGEST_CHANGE = 0.2  # [-] of volume and discharge that a clean hole outside may make


def value(place: tuple[float, float], top: float, factor: float) -> str:
    """TCE of a made-up plume around (30, 12) at 12 m depth."""
    away = math.hypot((place[0] - 30) / 35, (place[1] - 12) / 22, (top + 1 - 12) / 6)
    found = factor * 500 * 10 ** (-1.2 * away)
    return f"{found:.2f}" if found >= 0.5 else "<0.5"


def table(header: str, rows: list[tuple[object, ...]]) -> str:
    """Rows as CSV."""
    text = io.StringIO()
    csv.writer(text).writerows([header.split(","), *rows])
    return text.getvalue()


def shapes(form: str, coordinates: object, **properties: str) -> str:
    """One shape of the site as GeoJSON."""
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32632"}}
    one = {"type": "Feature", "properties": properties}
    one["geometry"] = {"type": form, "coordinates": coordinates}  # type: ignore[assignment]
    return json.dumps({"type": "FeatureCollection", "crs": crs, "features": [one]})


def write(folder: Path, *, with_new: bool) -> None:
    """The files of the site, with or without the new hole and its round."""
    holes = HOLES | (NEW if with_new else {})
    zones = [(f"{h}-{i}", h, top) for h in holes for i, top in enumerate(TOPS, 1)]
    rounds = [("R1", "2026-03-01T09:30", 1.0), ("R2", "2026-06-01T09:30", 0.9)]
    taken = [
        (f"{r}{n}", n, at, r, value(HOLES[h], top, f))
        for r, at, f in rounds
        for n, h, top in zones
        if h in HOLES
    ]
    taken += [
        (f"R3{n}", n, "2026-08-01T09:30", "R3", value(NEW[h], top, 0.9))
        for n, h, top in zones
        if h in NEW
    ]
    by_layer = dict(zip(TOPS, (20.0, 60.0, 30.0), strict=True))
    lag = {n: by_layer[top] * 1.1 ** (i % 5 - 2) for i, (n, _, top) in enumerate(zones)}
    files = {
        "site.toml": 'crs = "EPSG:32632"\nname = "made-up round"\ntime_zone = "UTC"\n',
        "boreholes.csv": table(
            "borehole,x,y,ground_elevation_m,depth_m",
            [(h, EAST + x, NORTH + y, 100.0, 25) for h, (x, y) in holes.items()],
        ),
        "construction.csv": table(
            "borehole,top_m,bottom_m,kind,diameter_mm",
            [(h, *part, 96) for h in holes for part in ((0, 4, "casing"), (4, 25, "open hole"))],
        ),
        "intervals.csv": table(
            "interval,borehole,top_m,bottom_m,isolation,static_depth_m,set_at",
            [
                (n, h, top, top + 2, "straddle", 3.0 + 0.004 * holes[h][0], "2026-02-20T10:00")
                for n, h, top in zones
            ],
        ),
        "tests.csv": table(
            "test,interval,kind,started_at,riser_diameter_mm,expected_displacement_m,"
            "water_temperature_c,aquifer_thickness_m,aquifer",
            [
                (f"T{n}", n, "falling head", "2026-02-20T11:00", 38, 0.8, 10, 30, "confined")
                for n, _, _ in zones
            ],
        ),
        "samples.csv": table("sample,interval,sampled_at,round", [t[:4] for t in taken]),
        "results.csv": table(
            "sample,analyte,value,unit,limit",
            [(t[0], "TCE", t[4], "ug/L", 0.5) for t in taken],
        ),
        "criteria.csv": "analyte,value,unit,basis\nTCE,10,ug/L,made up\n",
        "areas.geojson": shapes("Polygon", [AREA], name="border", kind="site"),
        "section_lines.geojson": shapes(
            "LineString", [[EAST + 30, NORTH - 30], [EAST + 30, NORTH + 70]], name="across"
        ),
    }
    for n, lag_s in lag.items():
        times = [lag_s * i / 5 for i in range(21)]
        files[f"readings/T{n}.csv"] = table(
            "elapsed_s,displacement_m",
            [(f"{t:.2f}", f"{0.8 * math.exp(-t / lag_s):.4f}") for t in times],
        )
    (folder / "readings").mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")


@pytest.mark.calibration
def test_a_partial_round_leaves_the_plume_as_it_was(tmp_path: Path, command: Command) -> None:
    """Volume and discharge within 20 %, the plume on the section, no 'all below the criterion'."""
    folder = tmp_path / "yard"
    found = []
    for with_new in (False, True):
        write(folder, with_new=with_new)
        answer = command("run", folder)
        assert answer.returncode == 0, answer.stderr
        site = Store.open(folder / "site.gpkg").read()
        wide = site.table("plume_extent")
        wide = wide[(wide["surface"] == "any depth") & (wide["probability"] == 0.5)]
        passing = site.table("discharge")["discharge_g_per_day"].astype(float)
        found.append((float(wide["volume_m3"].iloc[0]), float(passing.iloc[0])))
    (volume, mass), (later_volume, later_mass) = found
    assert later_volume == pytest.approx(volume, rel=LARGEST_CHANGE)
    assert later_mass == pytest.approx(mass, rel=LARGEST_CHANGE)
    assert "R3 and earlier" in answer.stdout + answer.stderr
    assert "left out 21 of 24 intervals" in answer.stdout + answer.stderr
    reasons = " ".join(site.table("next_test")["reason"].astype(str))
    assert "all results lie below" not in reasons
    bands = site.table("section_band")
    bands = bands[(bands["quantity"] == "TCE") & (bands["statistic"] == "median")]
    assert bands["lower"].astype(float).max() >= 100.0
    changes = site.table("round_change")
    assert len(changes) == len(HOLES) * len(TOPS)
    assert set(changes["verdict"]) <= {"within scatter", "not detected in both", "not known"}
