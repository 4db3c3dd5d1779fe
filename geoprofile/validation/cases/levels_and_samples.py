"""Water levels and samples from CSV files through loading to the stored tables."""

from __future__ import annotations

import math
import tempfile
from functools import cache
from pathlib import Path

import pandas as pd

from geoprofile.store import Store
from geoprofile.validation.case import Case

HOW = "CSV files through create, load and the layers head, concentration, sampling_quality, rounds"
LEAN = 30.0  # of hole L, degrees from vertical
# vertical hole V, two zones of a metre; leaning hole L, dipped along the hole
FILES = {
    "boreholes": "borehole,x,y,ground_elevation_m,depth_m\nV,500000,5300000,100,40\n"
    "L,500200,5300000,80,40\n",
    "surveys": f"borehole,depth_m,inclination_deg,azimuth_deg\nL,0,{LEAN},90\n",
    "construction": "borehole,top_m,bottom_m,kind,diameter_mm\nV,0,40,open hole,96\n"
    "L,0,40,open hole,96\n",
    "intervals": "interval,borehole,top_m,bottom_m,isolation,static_depth_m,set_at\n"
    "V1,V,20,21,straddle,6,2031-05-01T08:00:00Z\nV2,V,30,31,straddle,6.5,2031-05-01T09:00:00Z\n"
    "L1,L,20,21,straddle,,\n",
    "water_levels": "borehole,interval,measured_at,depth_to_water_m\n"
    "L,L1,2031-05-01T07:00:00Z,10\n",
    "samples": "sample,interval,sampled_at,round,kind,medium\n"
    "a,V1,2031-05-02T09:00:00Z,one,primary,water\n"
    "b,V1,2031-05-02T09:05:00Z,one,duplicate,water\n"
    "c,V2,2031-05-02T09:30:00Z,one,primary,water\n"
    # a year of 365.25 days apart
    "r0,L1,2031-05-02T00:00:00Z,one,primary,water\nr1,L1,2032-05-01T06:00:00Z,two,primary,water\n"
    "r2,L1,2033-05-01T12:00:00Z,three,primary,water\n"
    "r3,L1,2034-05-01T18:00:00Z,four,primary,water\n"
    "r4,L1,2035-05-02T00:00:00Z,five,primary,water\n",
    "results": "sample,analyte,value,unit\na,Chloride,10,mg/L\nb,Chloride,12,mg/L\n"
    "a,TCE,0.5,ug/L\nc,TCE,<2,ug/L\nc,Chloride,0.25,g/L\n"
    "r0,Nitrate,100,mg/L\nr1,Nitrate,90,mg/L\nr2,Nitrate,80,mg/L\nr3,Nitrate,70,mg/L\n"
    "r4,Nitrate,60,mg/L\n",
}


@cache
def stored() -> dict[str, pd.DataFrame]:
    """Tables head, concentration, sampling_quality and trend."""
    from geoprofile import app

    layers = ("head", "concentration", "sampling_quality", "rounds")
    tables = ("head", "concentration", "sampling_quality", "trend")
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        path = folder / "book.gpkg"
        for name, text in FILES.items():
            (folder / f"{name}.csv").write_text(text, encoding="utf-8")
        app.create(path, crs="EPSG:32632")
        app.load(path, [folder / f"{name}.csv" for name in FILES])
        app.derive(path, layers, command="run")
        site = Store.open(path).read()  # as any reader of the file finds it
        return {name: site.table(name) for name in tables}


def _heads() -> list[float]:
    rows = stored()["head"].set_index("interval")
    gradient = float(rows["vertical_gradient"]["V1"])
    return [*(float(rows["head_m"][zone]) for zone in ("V1", "V2", "L1")), gradient]


def _concentrations() -> list[float]:
    rows = stored()["concentration"].set_index(["interval", "analyte"])
    values, limits = rows["value_ug_per_l"], rows["limit_ug_per_l"]
    places = (("V2", "Chloride"), ("V1", "TCE"))
    missing = pd.isna(values["V2", "TCE"])
    return [*(float(values[p]) for p in places), float(limits["V2", "TCE"]), float(missing)]


def _duplicate() -> list[float]:
    rows = stored()["sampling_quality"]
    return [float(rows[rows["check_of"] == "duplicate"].iloc[0]["relative_difference"])]


def _trend() -> list[float]:
    table = stored()["trend"]
    rows = table[table["analyte"] == "Nitrate"]
    return [float(rows[name].iloc[0]) for name in ("slope_ug_per_l_year", "p")]


CASES = (
    Case(
        "files-trend", "trend", "Slope and p of five yearly results that fall by 10 mg/L each year",
        "Exact arithmetic; 2 of the 120 orders are as steady", "derived",
        (-10000.0, 2.0 / 120.0), _trend, relative=1e-6, labels=("slope, ug/L a year", "p"),
        how=HOW,
    ),
    Case(
        "files-heads", "heads", "Heads of two zones and of a hole that leans 30 degrees; gradient",
        "Exact arithmetic: elevation less depth, 10 m along the hole is 10 cos 30; half a metre "
        "down over 10 m", "derived",
        (94.0, 93.5, 80.0 - 10.0 * math.cos(math.radians(LEAN)), -0.05), _heads, absolute=1e-6,
        labels=("zone V1, m", "zone V2, m", "zone L1, m", "vertical gradient, up positive"),
        how=HOW,
    ),
    Case(
        "files-concentration", "concentration", "Results in three units, and one not detected",
        "SI prefixes; a non-detect keeps its limit and has no value", "derived",
        (250000.0, 0.5, 2.0, 1.0), _concentrations, "ug/L", relative=1e-9,
        labels=("0.25 g/L", "0.5 ug/L", "limit of <2 ug/L", "no value for <2 ug/L"), how=HOW,
    ),
    Case(
        "files-duplicate", "concentration", "Relative difference of a sample and its duplicate",
        "Exact arithmetic: 2 over the mean of 10 and 12", "derived", (2.0 / 11.0,), _duplicate,
        relative=1e-9, how=HOW,
    ),
)  # fmt: skip
