"""An invented site as an office has it: a workbook, two laboratories, two loggers; truth known.

K comes from the straight-line formula of Hvorslev (1951), K = r^2 asinh(L / 2R) / (2 L T0), which
is also solved here for T0 by itself, of ground alike in all directions, which the office's sheet
says (Kv:Kh = 1): the program takes layered ground otherwise. Concentrations are put in by hand.
Nothing here uses the package.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

import openpyxl
from openpyxl.comments import Comment

FOOT_US = 1200 / 3937  # [m] US survey foot, of the site's coordinates
FOOT = 0.3048  # [m] international foot, of lengths
PSI = 6.894757293168  # [kPa]
RHO_G = 999.7 * 9.80665 / 1000  # [kPa/m] water of 50 degrees F (10 C)
RISER_R = 0.0254  # [m] 2-inch pipe
HOLE_R = 5.875 * 0.0254 / 2  # [m] 5 7/8-inch hole
STICK_UP = 2.5  # [ft]
AIR = 101.3  # [kPa]
CRS = "EPSG:2263"  # New York Long Island, US survey feet; the place is invented
RELEASE = datetime(2026, 6, 2, 9, 30)
SITE = f"""\
crs = "{CRS}"
name = "Invented works"
time_zone = "America/New_York"

[intake]
profiles = ["profiles/office.toml", "profiles/laboratories.toml", "profiles/loggers.toml"]
"""
OFFICE = """\
[[profile]]
name = "wells"
files = "office tables*.xlsx"
sheet = "Wells"
table = "boreholes"
header_row = [4, 5]
thousands = ","
skip_rows_starting = "Note"
[profile.columns]
"Well ID" = "borehole"
"Coordinates Easting" = "x"
"Coordinates Northing" = "y"
"Elevation ground (ft)" = "ground_elevation_ft"
"Stick-up (ft)" = "measuring_point_height_ft"
"Depth drilled (ft)" = "depth_ft"
"Comments" = "remarks"

[[profile]]
name = "casing"
files = "office tables*.xlsx"
sheet = "Casing"
table = "constructions"
header_row = 2
[profile.columns]
"Well" = "borehole"
"From (ft)" = "top_ft"
"To (ft)" = "bottom_ft"
"Item" = "kind"
"Size" = "diameter_in"

[[profile]]
name = "zones"
files = "office tables*.xlsx"
sheet = "Zones"
table = "intervals"
header_row = "Zone"
unit_row = "next"
depth_from = "top of casing"
[profile.columns]
"Zone" = "interval"
"Well" = "borehole"
"From" = "top"
"To" = "bottom"
"Set-up" = "isolation"
"Static level" = "static_depth"

[[profile]]
name = "tests"
files = "office tables*.xlsx"
sheet = "Slug tests"
table = "tests"
header_row = 3
date_format = "%m/%d/%Y %I:%M:%S %p"
[profile.columns]
"Test" = "test"
"Zone" = "interval"
"Type" = "kind"
"Date" = "started_at"
"Start" = "started_at"
"Pipe (in)" = "riser_diameter_in"
"Temp (F)" = "water_temperature_f"
"Kv:Kh" = "kv_kh"
[profile.values.kind]
FH = "falling head"
RH = "rising head"

[[profile]]
name = "samples"
files = "office tables*.xlsx"
sheet = "Samples*"
table = "samples"
header_row = 2
date_format = "%m/%d/%Y %H:%M"
[profile.columns]
"Sample ID" = "sample"
"Zone" = "interval"
"Date" = "sampled_at"
"Time" = "sampled_at"
"Type" = "kind"
"Event" = "round"
"Purged" = "purged_usgal"
[profile.values.kind]
N = "primary"
FD = "duplicate"
TB = "trip blank"
EB = "equipment blank"
"""
LABORATORIES = """\
[[profile]]
name = "laboratory one"
files = "lab one/*.csv"
table = "results"
header_row = "Field ID"
limit_row = 6
wide = "analyte"
thousands = ","
skip_rows_starting = ["End of report", "Analyst"]
missing = ["--"]
[profile.columns]
"Field ID" = "sample"
"Matrix" = ""
"Lab ID" = ""
[profile.header_block]
report = "Report"
reported_on = "Issued"

[[profile]]
name = "laboratory two"
files = "lab two/**/*.csv"
table = "results"
encoding = "cp1252"
delimiter = ";"
decimal = ","
header_row = 3
date_format = "%d.%m.%Y"
not_detected = ["n.b."]
[profile.columns]
"Sample" = "sample"
"Substance" = "analyte"
"Result" = "value"
"Units" = "unit"
"Limit" = "limit"
"Flag" = "qualifier"
"Report" = "report"
"Reported" = "reported_on"
[profile.values.analyte]
"Trichloroethene" = "TCE"
"Tetrachloroethene" = "PCE"
"""
LOGGERS = """\
[[profile]]
name = "logger A"
files = "readings/**/*.csv"
contains = "Level logger, version A"
table = "readings"
header_row = "Date"
delimiter = ";"
decimal = ","
date_format = "%d.%m.%Y %H:%M:%S"
[profile.columns]
"Date" = "measured_at"
"Time" = "measured_at"
"Pressure" = "absolute_pressure"
"Temperature" = ""
[profile.header_block]
serial = "Serial number"
unit = "Unit"
air_pressure = "Air pressure"

[[profile]]
name = "logger B"
files = "readings/**/*.txt"
contains = "Recorder B export"
table = "readings"
header_row = 11
delimiter = "\\t"
date_format = "%m/%d/%Y %H:%M:%S"
skip_rows_starting = "End of file"
[profile.columns]
"Elapsed" = "elapsed_s"
"Value (psia)" = "absolute_pressure"
[profile.header_block]
serial = "S/N"
test = "Location"
logger_started_at = "Started"
air_pressure = "Barometer"
"""


@dataclass
class Truth:
    """What was put in: K [m/s] by interval, concentration [ug/L] by sample and analyte (None below
    the limit), places [US survey ft] by hole, top and bottom [m from ground] by interval.
    """

    k: dict[str, float] = field(default_factory=dict)
    found: dict[tuple[str, str], float | None] = field(default_factory=dict)
    places: dict[str, tuple[float, float, float]] = field(default_factory=dict)
    depths: dict[str, tuple[float, float]] = field(default_factory=dict)


def time_lag(k: float, length: float) -> float:
    """Basic time lag [s] of an isolated interval (Hvorslev, 1951)."""
    return RISER_R**2 * math.asinh(length / (2 * HOLE_R)) / (2 * length * k)


def build(folder: Path, *, profiles: bool = True, partial_round: bool = True) -> Truth:
    """Write the office's files into a folder; without profiles only the first line of site.toml."""
    folder.mkdir(parents=True, exist_ok=True)
    truth, rng = Truth(), random.Random(11)
    book = openpyxl.Workbook()
    book.remove(book.active)
    holes = [f"MW-{i}" for i in range(1, 8 if partial_round else 7)]
    _wells(book.create_sheet("Wells"), holes, truth)
    _casing(book.create_sheet("Casing"), holes)
    zones = _zones(book.create_sheet("Zones"), holes, truth, rng)
    _tests(book.create_sheet("Slug tests"), zones, folder, truth)
    _samples(book, zones, folder, truth, partial_round=partial_round)
    book.create_sheet("Notes").append(["Nothing here but remarks of the office"])
    book.save(folder / "office tables 2026.xlsx")
    (folder / "site.toml").write_text(SITE if profiles else SITE.split("\n")[0] + "\n")
    if profiles:
        (folder / "profiles").mkdir(exist_ok=True)
        for name, text in (
            ("office", OFFICE),
            ("laboratories", LABORATORIES),
            ("loggers", LOGGERS),
        ):
            (folder / "profiles" / f"{name}.toml").write_text(text)
    (folder / "criteria.csv").write_text("analyte,value,unit,basis\nTCE,5,ug/L,invented\n")
    return truth


def _wells(sheet, holes, truth) -> None:
    sheet["A1"] = "Table 1 - Wells and boreholes"
    sheet["A2"] = "Elevations in feet above the site datum"
    for column, head in enumerate(
        ("Well", "Coordinates", None, "Elevation", "Stick-up", "Depth", "Comments"), start=1
    ):
        sheet.cell(4, column, head)
    for column, head in enumerate(
        ("ID", "Easting", "Northing", "ground (ft)", "(ft)", "drilled (ft)", None), start=1
    ):
        sheet.cell(5, column, head)
    sheet.merge_cells("B4:C4")
    sheet["B4"].comment = Comment("survey of May", "office")
    for i, hole in enumerate(holes):
        east = 1_010_000.5 + 260.0 * (i % 3) + (900 if hole == "MW-7" else 0)
        north = 200_000.25 + 240.0 * (i // 3)
        ground = 61.5 + i
        truth.places[hole] = (east, north, ground)
        # thousands marks in texts, and some cells as numbers
        cells = [f"{hole} ", f"{east:,.1f}" if i % 2 else east, f"{north:,.2f}", ground, STICK_UP]
        row = 6 + i + (i > 2)  # an empty row between
        for column, value in enumerate([*cells, "1" + "20", "open hole" if i else None], start=1):
            sheet.cell(row, column, value)
    sheet.cell(8 + len(holes), 1, "Note: MW-7 was added later")


def _casing(sheet, holes) -> None:
    sheet.append(["Table 2 - Construction"])
    sheet.append(["Well", "From (ft)", "To (ft)", "Item", "Size"])
    for hole in holes:
        sheet.append([hole, 0, 20, "Casing", '6"'])
        sheet.append([hole, 20, "120", "Open hole", "5 7/8"])


def _zones(sheet, holes, truth, rng) -> list[tuple[str, str, float]]:
    sheet.append(["Table 3 - Test zones; depths below top of casing"])
    sheet.append([])
    sheet.append(["Zone", "Well", "From", "To", "Set-up", "Static level"])
    sheet.append([None, None, "ft", "ft", None, "ft"])
    zones = []
    for hole in holes:
        for number, top in enumerate((32, 62, 92), start=1):
            name = f"{hole}-{number}"
            feet = (f"{top}' 6\"", top + 10.5 if number > 1 else f"{top + 10}' 6\"")
            sheet.append([name, hole, *feet, "Straddle", 14.5])
            top_m = (top + 0.5 - STICK_UP) * FOOT
            truth.depths[name] = (top_m, top_m + 10 * FOOT)
            truth.k[name] = 10 ** rng.uniform(-6.0, -5.1)
            zones.append((name, hole, top_m))
    return zones


def _tests(sheet, zones, folder, truth) -> None:
    sheet.append(["Table 4"])
    sheet.append([])
    sheet.append(["Test", "Zone", "Type", "Date", "Start", "Pipe (in)", "Temp (F)", "Kv:Kh"])
    for i, (zone, _, _) in enumerate(zones):
        start = RELEASE + timedelta(hours=i % 6, days=i // 6)
        words = (f"{start:%m/%d/%Y}", f"{start:%I:%M:%S %p}")
        sheet.append([f"T-{zone}", zone, "FH" if i % 2 else "RH", *words, 2, 50, 1])
        sign = 1.0 if i % 2 else -1.0
        lag = time_lag(truth.k[zone], 10 * FOOT)
        times = sorted({round(t) for t in [*range(-10, 30), *_spread(lag)]})
        heads = [0.0 if t < 0 else sign * 0.6 * math.exp(-t / lag) for t in times]
        pressures = [AIR + (8.0 + h) * RHO_G for h in heads]
        write = _logger_a if i % 2 else _logger_b
        write(folder, f"T-{zone}", start, times, pressures, i)


def _spread(lag: float) -> list[float]:
    return [lag * 2.6 * (j / 90) ** 1.5 for j in range(91)]


def _logger_a(folder, test, start, times, pressures, i) -> None:
    head = [
        "Level logger, version A",
        f"Serial number;20{100 + i}",
        "Project;Invented works",
        "Operator;field crew",
        f"Downloaded;{start + timedelta(hours=5):%d.%m.%Y}",
        "Unit;kPa",
        f"Air pressure;{AIR:.2f} kPa".replace(".", ","),
        "Range;0 - 250",
        "Interval;1 s",
        "",
        "Date;Time;Pressure;Temperature",
    ]
    rows = [
        f"{start + timedelta(seconds=t):%d.%m.%Y;%H:%M:%S};{p:.4f};10,0".replace(".", ",", 0)
        for t, p in zip(times, pressures, strict=True)
    ]
    rows = [
        ";".join([*r.split(";")[:2], *(c.replace(".", ",") for c in r.split(";")[2:])])
        for r in rows
    ]
    path = folder / "readings" / "June" / f"{test}.csv"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\r\n".join([*head, *rows]) + "\r\n", encoding="utf-8")


def _logger_b(folder, test, start, times, pressures, i) -> None:
    began = start + timedelta(seconds=times[0])
    head = [
        "Recorder B export",
        f"S/N:\t88-{i:03d}",
        f"Location:\t{test}",
        f"Started:\t{began:%m/%d/%Y %H:%M:%S}",
        f"Barometer:\t{AIR / PSI:.4f} psi",
        "Channel:\t1",
        "Full scale:\t30 psia",
        "Firmware:\t1.2",
        "Mode:\tlinear",
        "",
        "Elapsed\tValue (psia)",
    ]
    rows = []
    for t, p in zip(times, pressures, strict=True):
        s = t - times[0]
        rows.append(f"{s // 3600}:{s % 3600 // 60:02d}:{s % 60:02d}\t{p / PSI:.5f}")
    path = folder / "readings" / "June" / f"log_{i:04d}.txt"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join([*head, *rows, "End of file"]) + "\n", encoding="utf-8")


def _samples(book, zones, folder, truth, *, partial_round) -> None:
    first = book.create_sheet("Samples")
    first.append(["Table 5 - Samples"])
    head = ["Sample ID", "Zone", "Date", "Time", "Type", "Event", "Purged"]
    first.append(head)
    lab_one, lab_two = [], []
    for i, (zone, _hole, _top) in enumerate(z for z in zones if z[1] != "MW-7"):
        name = f"W{100 + i}"
        first.append(
            [name, zone, "06/10/2026", f"{8 + i // 4:02d}:{15 * (i % 4):02d}", "N", "Spring", 12]
        )
        tce = round(1258.0 * math.exp(-(i % 9) * 0.9), 2)
        pce = 0.73 if i % 4 == 0 else None
        truth.found[name, "TCE"] = tce if tce >= 0.5 else None
        truth.found[name, "PCE"] = pce
        (lab_one if i < 9 else lab_two).append((name, truth.found[name, "TCE"], pce))
    first.append(["W100-D", zones[0][0], "06/10/2026", "08:00", "FD", "Spring", None])
    first.append(["TB-1", None, "06/10/2026", "07:00", "TB", "Spring", None])
    first.append(["EB-1", None, "06/10/2026", "12:00", "EB", "Spring", None])
    truth.found["W100-D", "TCE"], truth.found["W100-D", "PCE"] = 1140.0, 0.7
    truth.found["TB-1", "TCE"], truth.found["TB-1", "PCE"] = None, None
    truth.found["EB-1", "TCE"], truth.found["EB-1", "PCE"] = 0.9, None
    lab_one += [("W100-D", 1140.0, 0.7), ("TB-1", None, None), ("EB-1", 0.9, None)]
    _lab_one(folder, lab_one)
    _lab_two(folder, lab_two, truth)
    if partial_round:
        later = book.create_sheet("Samples Aug")
        later.append(["Table 6 - Samples of the new well"])
        later.append(head)
        new = [z for z in zones if z[1] == "MW-7"]
        for i, (zone, _, _) in enumerate(new):
            later.append([f"W20{i}", zone, "08/20/2026", f"10:{10 * i:02d}", "N", "Summer", 10])
            truth.found[f"W20{i}", "TCE"] = None
        rows = [(f"W20{i}", "Trichloroethene", "n.b.") for i in range(len(new))]
        _long(folder / "lab two" / "August" / "part.csv", rows, "L2-207", "30.08.2026")


def _lab_one(folder, rows) -> None:
    def said(value, limit):
        if value is None:
            return "<" + limit if limit == "0.5" else "ND"
        return f'"{value:,.2f}"' if value >= 1000 else f"{value:g} J" if value < 1 else f"{value:g}"

    lines = [
        "Analytical report,,,,",
        "Report:,R-77,,,",
        "Issued:,2026-06-25,,,",
        ",,,,",
        "Field ID,Lab ID,Matrix,TCE (ug/L),PCE (ug/L)",
        "Reporting limit,,,0.5,0.25",
    ]
    lines += [
        f"{n},7-{i},water,{said(t, '0.5')},{said(p, 'x')}" for i, (n, t, p) in enumerate(rows)
    ]
    lines += ["Analyst: somebody,,,,", "End of report,,,,"]
    (folder / "lab one").mkdir(exist_ok=True)
    (folder / "lab one" / "Report R-77.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def _lab_two(folder, rows, truth) -> None:
    long = []
    for name, tce, pce in rows:
        first = tce
        if name == "W110":  # wrong by ten in the first report, corrected in the second
            first = round(tce * 10, 2)
            again = [(name, "Trichloroethene", tce)]
        long += [(name, "Trichloroethene", first), (name, "Tetrachloroethene", pce)]
    _long(folder / "lab two" / "June.csv", long, "L2-100", "20.06.2026")
    _long(folder / "lab two" / "June, corrected.csv", again, "L2-100-1", "02.07.2026")


def _long(path, rows, report, day) -> None:
    lines = [f"Results of {report}", "", "Sample;Substance;Result;Units;Limit;Flag;Report;Reported"]
    for name, substance, value in rows:
        shown = "n.b." if value in (None, "n.b.") else f"{value:.2f}".replace(".", ",")
        flag = "J" if shown == "0,73" else ""
        lines.append(f"{name};{substance};{shown};\u00b5g/l;0,5;{flag};{report};{day}")
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(("\r\n".join(lines) + "\r\n").encode("cp1252"))
