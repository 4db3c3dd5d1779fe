"""Writes the invented site, the same bytes every time: `python make_demo.py [FOLDER]`.

Nothing here is measured. The island, the yard, the holes, the tests and the plumes are made up; the
coordinates lie in open ocean. The truth that was put in is written to `truth.json`.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
from maker import campaign, holes, laboratory, readings
from maker import truth as known
from maker.files import csv_text, geojson_text, number, write
from maker.ground import SEED
from maker.plume import PLUMES

FEET_PER_METRE = 1.0 / 0.3048
SITE = """\
# An invented site: nothing here is measured. Written by make_demo.py.
name = "Pellandry Isle, former drum yard (invented)"
crs = "EPSG:32628"
vertical_datum = "Pellandry harbour datum (invented)"
database = "site.gpkg"
time_zone = "UTC"

[intake]
ignore = ["*.py", "*.png", "truth.json"]  # what made the site, and its pictures

[document]  # the title block of every sheet, and the terms of what is handed over
project = "PI-07, packer campaign of the former drum yard (invented)"
client = "Harbour council of Pellandry (invented)"
author = "M. Askelund (invented)"
checked_by = "T. Verrin (invented)"
date = 2024-11-28
revision = "B"
status = "for comment"
organisation = "Askelund & Verrin, groundwater (invented)"
contact = "office@pellandry.example"
terms_of_use = "Invented data: free to use for any purpose, with no warranty"
limitation = "None: no real place, person or measurement"
"""
NO_STATIC = ("006-02", "006-04", "010-03")  # left to the readings taken before the test


def tables_of_holes(folder: Path) -> None:
    """Collars, surveys, construction, lithology, equipment."""
    collars = [
        (h.name, *(number(v, 2) for v in h.collar), number(0.4 + 0.05 * (i % 5), 2),
         number(h.depth, 1), h.drilled_on, h.remarks)
        for i, h in enumerate(holes.HOLES)
    ]  # fmt: skip
    header = "borehole,x,y,ground_elevation_m,measuring_point_height_m,depth_m,drilled_on,remarks"
    write(folder / "boreholes.csv", csv_text(header, collars))
    stations = [(h.name, *s) for h in holes.HOLES for s in h.stations]
    header = "borehole,depth_m,inclination_deg,azimuth_deg"
    write(folder / "surveys.csv", csv_text(header, stations))
    header = "borehole,top_m,bottom_m,kind,diameter_mm,remarks"
    write(folder / "construction.csv", csv_text(header, holes.construction_rows()))
    # The geologist worked in feet and left blanks behind some words.
    logs = [
        (b, number(t * FEET_PER_METRE, 2), number(e * FEET_PER_METRE, 2),
         unit + " " * (i % 4 == 0), text)
        for i, (b, t, e, unit, text) in enumerate(holes.lithology_rows())
    ]  # fmt: skip
    write(folder / "lithology.csv", csv_text("borehole,top_ft,bottom_ft,unit,description", logs))
    header = (
        "packer,deflated_diameter_mm,min_hole_mm,max_hole_mm,element_length_m,seating_pressure_kpa,"
        "max_inflation_kpa,max_depth_m,max_submergence_m,pipe_inner_diameter_mm,gas_or_water"
    )
    write(folder / "packers.csv", csv_text(header, holes.PACKERS))
    write(folder / "spacers.csv", csv_text("spacer,open_length_m", holes.SPACERS))


def tables_of_tests(folder: Path, intervals: list[holes.Interval]) -> list[campaign.Test]:
    """Intervals, tests, readings, pressure steps, barometer."""
    drafts = campaign.slug_tests(intervals) + campaign.injection_tests(intervals)
    tests, set_at = campaign.scheduled(drafts)
    rng = np.random.default_rng([SEED, 11])
    rows = [interval_row(i, set_at, rng) for i in intervals]
    header = "interval,borehole,top_m,bottom_m,isolation,packer,inflation_kpa,set_at,static_depth_m"
    write(folder / "intervals.csv", csv_text(header, rows))
    header = (
        "test,interval,kind,started_at,riser_diameter_mm,tube_diameters_mm,"
        "expected_displacement_m,water_temperature_c,kv_kh,aquifer_thickness_m,aquifer,status,remarks"
    )
    write(folder / "tests.csv", csv_text(header, [test_row(t) for t in tests]))
    for name, text in readings.reading_files(tests).items():
        write(folder / name, text)
    write(folder / "barometer.csv", readings.barometer_text(tests))
    injections = [t for t in tests if t.story == "injection"]
    rows = [row for t in injections for row in readings.step_rows(t, rng)]
    header = "test,step,gauge_pressure_kpa,gauge_height_m,flow_l_min,minutes"
    write(folder / "pressure_steps.csv", csv_text(header, rows))
    return tests


def interval_row(
    interval: holes.Interval, set_at: dict, rng: np.random.Generator
) -> tuple[object, ...]:
    """One line of intervals.csv."""
    pressure = campaign.inflation(interval, rng)
    at = set_at.get(interval.name) if interval.packer else None
    static = None if interval.name in NO_STATIC else number(interval.static_depth(), 3)
    return (
        interval.name, interval.hole.name, interval.top, interval.bottom, interval.isolation,
        interval.packer, None if pressure is None else f"{pressure:.0f}",
        None if at is None else readings.stamp(at), static,
    )  # fmt: skip


def test_row(test: campaign.Test) -> tuple[object, ...]:
    """One line of tests.csv."""
    injection = test.story == "injection"
    return (
        test.name, test.interval.name, test.kind, readings.stamp(test.started_at),
        test.riser_diameter_mm, " ".join(f"{d:g}" for d in test.tubes_mm),
        None if injection else f"{test.expected_m:g}", test.temperature_c,
        campaign.KV_KH, number(campaign.aquifer_thickness(test.interval), 1),
        "unconfined", test.status, test.remarks,
    )  # fmt: skip


def tables_of_water(folder: Path, intervals: list[holes.Interval]) -> None:
    """Water levels, samples, results, criteria."""
    levels = laboratory.water_level_rows(intervals)
    header = "borehole,interval,measured_at,depth_to_water_m"
    write(folder / "water_levels.csv", csv_text(header, levels))
    bottles = laboratory.samples(intervals)
    header = "sample,interval,sampled_at,round,kind,medium,purged_l,remarks"
    write(folder / "samples.csv", csv_text(header, laboratory.sample_rows(bottles)), crlf=True)
    header = "sample,analyte,cas,value,unit,limit,qualifier"
    write(folder / "results.csv", csv_text(header, laboratory.result_rows(bottles)), bom=True)
    criteria = [
        (p.analyte, f"{p.criterion_ug_per_l:g}", "ug/L", "invented for this demonstration")
        for p in PLUMES
    ]
    write(folder / "criteria.csv", csv_text("analyte,value,unit,basis", criteria))


def maps(folder: Path) -> None:
    """Areas and section lines."""
    areas = [("yard", "site", known.SITE)]
    areas += [(n, "no drilling", c) for n, c in known.NO_DRILLING.items()]
    areas.append(("drum store", "source", known.SOURCE_AREA))
    features = [
        ({"name": n, "kind": k}, [known.places([*corners, corners[0]])]) for n, k, corners in areas
    ]
    write(folder / "areas.geojson", geojson_text("Polygon", features))
    lines = [({"name": n}, known.places(c)) for n, c in known.SECTIONS.items()]
    write(folder / "section_lines.geojson", geojson_text("LineString", lines))


def main(folder: Path) -> None:
    """Write everything."""
    write(folder / "site.toml", SITE)
    intervals = holes.intervals()
    tables_of_holes(folder)
    tests = tables_of_tests(folder, intervals)
    tables_of_water(folder, intervals)
    maps(folder)
    text = json.dumps(known.truth(intervals, tests), indent=1)
    write(folder / "truth.json", text + "\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
