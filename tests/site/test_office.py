"""An office's own files: read with profiles alone, refused by name without, never half or silently.

The truth is put in by `office.py`, which uses nothing of the package. The twin of EPSG:2263 in
metres is EPSG:32118 (EPSG list); K is from Hvorslev (1951).
"""

from __future__ import annotations

import random
import shutil
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from geoprofile import app, intake
from geoprofile.errors import GeoprofileError

sys.path.insert(0, str(Path(__file__).parent))
import office

BOOK = "office tables 2026.xlsx"
LAB_ONE, LAB_TWO = "lab one/Report R-77.csv", "lab two/June.csv"
LOG_A, LOG_B = "readings/June/T-MW-1-2.csv", "readings/June/log_0000.txt"


def read(folder: Path, names: tuple[str, ...] = (), known=None) -> intake.Intake:
    """What is read of a folder, or of some of its files beside what is known."""
    settings = intake.in_metres(intake.read_settings(folder))
    files = intake.find_files(folder, settings=settings)
    if names:
        files = tuple(f for f in files if f.name.partition("#")[0] in names)
    return intake.read_files(files, settings, known or {})


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    """The office's folder with its profiles, and the truth."""
    folder = tmp_path_factory.mktemp("office") / "site"
    return folder, office.build(folder)


@pytest.fixture(scope="module")
def taken(site):
    """What is read of it."""
    return read(site[0])


def test_places_in_survey_feet_come_out_in_metres(site, taken):
    """Coordinates by 1200/3937, elevations by 0.3048, in the twin of the CRS."""
    holes = taken.tables["borehole"]
    assert holes.crs.to_epsg() == 32118
    for row in holes.itertuples():
        east, north, ground = site[1].places[row.borehole]
        assert row.x == pytest.approx(east * office.FOOT_US, abs=1e-4)
        assert row.y == pytest.approx(north * office.FOOT_US, abs=1e-4)
        assert row.ground_elevation_m == pytest.approx(ground * office.FOOT)
    assert any("EPSG:32118" in str(n) for n in taken.notes)


def test_depths_in_feet_and_inches_count_from_the_ground(site, taken):
    """`32' 6"` below the top of a casing 2.5 ft high."""
    zones = taken.tables["interval"].set_index("interval")
    assert len(zones) == len(site[1].depths) == 21
    for name, (top, bottom) in site[1].depths.items():
        assert zones.at[name, "top_m"] == pytest.approx(top)
        assert zones.at[name, "bottom_m"] == pytest.approx(bottom)
    bores = taken.tables["construction"]
    assert set(bores["diameter_mm"].round(3)) == {152.4, 149.225}  # 6 and 5 7/8 inches


def test_every_result_is_as_the_laboratories_found_it(site, taken):
    """Both laboratories, blanks, a duplicate, the corrected report; nothing lost, nothing more."""
    found = {
        (r.sample, r.analyte): r.value if r.detected else None
        for r in taken.tables["result"].itertuples()
    }
    assert set(found) == set(site[1].found)
    for key, value in site[1].found.items():
        assert found[key] == (None if value is None else pytest.approx(value)), key
    samples = taken.tables["sample"].set_index("sample")
    assert samples.at["TB-1", "blank_type"] == "trip"
    assert samples.at["EB-1", "blank_type"] == "equipment"
    assert samples.at["W100-D", "kind"] == "duplicate"
    assert samples.at["W100", "sampled_at"] == "2026-06-10T12:00:00Z"  # 8:00 in summer time


def test_the_first_value_of_a_corrected_report_is_kept(site, taken):
    """It is in a table of its own, with the report that replaced it, and it is told."""
    (old,) = taken.tables["replaced_result"].to_dict("records")
    assert (old["sample"], old["report"], old["replaced_by"]) == ("W110", "L2-100", "L2-100-1")
    assert old["value"] == pytest.approx(10 * site[1].found["W110", "TCE"], abs=0.01)
    assert any("W110" in n.where for n in taken.notes)


def test_every_file_is_accounted_for(site):
    """Each file is read, is the program's own, or is told."""
    folder = site[0]
    settings = intake.read_settings(folder)
    files = intake.find_files(folder, settings=settings)
    (told,) = intake.unread(folder, files, settings)
    assert "Notes" in told.found
    there = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}
    own = {n for n in there if n.endswith(".toml")}
    assert {f.name.partition("#")[0] for f in files} == there - own


def test_k_comes_out_as_put_in(site, tmp_path):
    """Stored by the command's own path in one try; K of every zone by the formula it was made with.

    2 %: the logger writes 0.1 mm and whole seconds, and the line is fitted to a window of it. The
    line's own bias against a hole with storage (5 %) is taken off in `k_m_per_s`, not as fitted.
    """
    folder = tmp_path / "site"
    shutil.copytree(site[0], folder)
    database = folder / "site.gpkg"
    app.create(database, crs=office.CRS)
    app.load(database, [folder])
    steps = ["conductivity", "concentration", "sampling_quality"]
    app.derive(database, steps, command="derive")
    stored = app.read(database)
    by_line = stored.table("conductivity").query("method == 'hvorslev'").set_index("interval")
    for zone, k in site[1].k.items():
        row = by_line.loc[zone]
        assert row["k_as_fitted_m_per_s"] == pytest.approx(k, rel=0.02), zone
        assert row["k_m_per_s"] == pytest.approx(k, rel=0.06), zone
        assert row["k_low_m_per_s"] < k < row["k_high_m_per_s"], zone
    quality = stored.table("sampling_quality")
    pair = quality.query("check_of == 'duplicate' and analyte == 'TCE'").iloc[0]
    assert pair["relative_difference"] == pytest.approx((1258 - 1140) / 1199)
    assert pair["verdict"] == "fine"
    hit = quality.query("check_of == 'blank' and verdict == 'doubtful'")
    assert list(hit["sample"]) == ["EB-1"]
    logs = stored.table("source_file").set_index("source_file")
    assert logs.at[LOG_A, "remarks"] == "logger 20101"
    assert logs.at[LOG_A, "profile"] == "logger A"
    assert app.load(database, [folder]).loaded == {}  # nothing new the second time


WITHOUT = {
    "results_one.csv": (LAB_ONE, ("header_row = 5", 'wide = "analyte"')),
    "results_two.csv": (
        LAB_TWO,
        ("header_row = 3", 'delimiter = ";"', "encoding", 'decimal = ","'),
    ),
    "readings/a.csv": (
        LOG_A,
        ("header_row = 11", 'delimiter = ";"', "date_format", "air_pressure"),
    ),
    "readings_b.csv": (LOG_B, ("header_row = 11", "delimiter", "logger_started_at")),
}


@pytest.mark.parametrize("name", WITHOUT)
def test_without_a_profile_the_refusal_names_the_keys(site, tmp_path, name):
    """The same file under a name that is read: told with the keys that would repair it."""
    source, keys = WITHOUT[name]
    (tmp_path / name).parent.mkdir(exist_ok=True)
    shutil.copy(site[0] / source, tmp_path / name)
    (tmp_path / "site.toml").write_text(f'crs = "{office.CRS}"\n')
    with pytest.raises(GeoprofileError) as caught:
        read(tmp_path)
    advice = " ".join(p.advice for p in caught.value.problems)
    assert all(k in advice for k in keys), advice
    assert "[[intake.profile]]" in advice


def test_without_a_profile_the_workbook_names_the_keys_of_each_sheet(site, tmp_path):
    """Title rows, merged headers, units in a row, other headings, feet and inches."""
    shutil.copy(site[0] / BOOK, tmp_path / BOOK)
    book = openpyxl.load_workbook(tmp_path / BOOK)
    for old, new in (("Wells", "Boreholes"), ("Casing", "Construction"), ("Slug tests", "Tests")):
        book[old].title = new
    book["Zones"].title = "Intervals"
    book.save(tmp_path / BOOK)
    (tmp_path / "site.toml").write_text(f'crs = "{office.CRS}"\n')
    with pytest.raises(GeoprofileError) as caught:
        read(tmp_path)
    advice = {p.where.partition("#")[2].split(" row")[0]: p.advice for p in caught.value.problems}
    assert "header_row = [4, 5]" in advice["Boreholes"]
    assert '"Coordinates Easting" = "x"' in advice["Boreholes"]
    assert 'thousands = ","' in advice["Boreholes"]
    assert "skip_rows_starting" in advice["Boreholes"]
    assert "header_row = 2" in advice["Construction"]
    assert 'unit_row = "next"' in advice["Intervals"]
    assert "header_row = 3" in advice["Tests"]
    assert "header_row = 2" in advice["Samples"]


def test_files_that_no_profile_claims_are_told(site, tmp_path):
    """Without profiles neither laboratory nor logger is passed over in silence."""
    folder = tmp_path / "site"
    shutil.copytree(site[0], folder)
    (folder / "site.toml").write_text(f'crs = "{office.CRS}"\n')
    settings = intake.read_settings(folder)
    files = intake.find_files(folder, settings=settings)
    told = " ".join(p.where for p in intake.unread(folder, files, settings))
    for name in (LAB_ONE, LAB_TWO, LOG_B):
        assert name in told


# --- files corrupt on purpose --------------------------------------------------------------------

Spoil = Callable[[str, random.Random], str]


def _row(text: str, rng: random.Random, above: int) -> tuple[list[str], int]:
    lines = text.split("\n")
    data = [i for i, line in enumerate(lines) if i > above and line.strip(" \r")]
    data = [i for i in data if not lines[i].startswith(("End of", "Analyst"))]
    return lines, rng.choice(data)


HEADS = ("Sample;", "Date;", "Elapsed", "Reporting limit")  # the last line above the data


def _cell(change: Callable[[list[str], str], list[str]]) -> Spoil:
    def corrupt(text: str, rng: random.Random) -> str:
        mark = ";" if ";" in text else "\t" if "\t" in text else ","
        above = next(i for i, x in enumerate(text.split("\n")) if x.startswith(HEADS))
        lines, i = _row(text, rng, above)
        end = "\r" if lines[i].endswith("\r") else ""
        cells = change(lines[i].rstrip("\r").split(mark), mark)
        lines[i] = mark.join(cells) + end
        return "\n".join(lines)

    return corrupt


def _line_of(start: str, new: str | None) -> Spoil:
    def corrupt(text: str, rng: random.Random) -> str:
        lines = text.split("\n")
        at = next(i for i, line in enumerate(lines) if line.startswith(start))
        lines[at : at + 1] = [] if new is None else [new]
        return "\n".join(lines)

    return corrupt


def _last_number(cells: list[str], new: str) -> list[str]:
    """Put text where a file has its value."""
    at = {2: 1, 4: 2, 5: 3, 6: 3, 8: 2}[len(cells)] if len(cells) in (2, 4, 5, 6, 8) else -1
    return [new if i == at else c for i, c in enumerate(cells)]


EVERY: dict[str, Spoil] = {
    "a cell too many": _cell(lambda c, m: [*c, "x"]),
    "a cell too few": _cell(lambda c, m: c[:-1]),
    "words for a value": _cell(lambda c, m: _last_number(c, "see remarks")),
    "two points": _cell(lambda c, m: _last_number(c, "12.3.4")),
    "a doubtful date or name": _cell(lambda c, m: ["31.02.2026 or so", *c[1:]]),
    "a zero byte": lambda t, rng: t[: len(t) // 2] + "\0" + t[len(t) // 2 :],
    "an open quote": _cell(lambda c, m: [f'"{c[0]}', *c[1:]]),
    "nothing": lambda t, rng: "",
    "blanks": lambda t, rng: " \n \n",
    "a web page": lambda t, rng: "<html><body>Sign in</body></html>",
    "json": lambda t, rng: '{"error": 401}',
    "the header alone": lambda t, rng: "\n".join(t.split("\n")[:3]),
}
OF_FILE: dict[str, dict[str, Spoil]] = {
    LAB_ONE: {
        "no header": _line_of("Field ID", None),
        "a renamed column": _line_of("Field ID", "Our ID,Lab ID,Matrix,TCE (ug/L),PCE (ug/L)"),
        "an unknown unit": _line_of("Field ID", "Field ID,Lab ID,Matrix,TCE (drops),PCE (ug/L)"),
        "no report": _line_of("Report:", "Number:,R-77,,,"),
        "a sample twice": lambda t, rng: t.replace("W101,", "W100,"),
        "an unknown sample": lambda t, rng: t.replace("W101,", "W991,"),
        "a value below zero": lambda t, rng: t.replace("0.9 J", "-0.9 J"),
        "no limit": lambda t, rng: t.replace(",0.5,0.25", ",,"),
        "above the range": lambda t, rng: t.replace("0.9 J", ">0.9"),
        "semicolons": lambda t, rng: t.replace(",", ";"),
    },
    LAB_TWO: {
        "a moved header": lambda t, rng: "one more title\r\n" + t,
        "commas": lambda t, rng: t.replace(";", ","),
        "a unit of no mass": lambda t, rng: t.replace("\u00b5g/l", "ppm"),
        "an unknown sample": lambda t, rng: t.replace("W109", "X109"),
        "a point": lambda t, rng: t.replace("0,73", "0.73"),
        "a sample twice": lambda t, rng: t.replace("W110;T", "W111;T"),
        "an impossible day": lambda t, rng: t.replace("20.06.2026", "31.06.2026"),
    },
    LOG_A: {
        "no unit": _line_of("Unit", "Unit;furlong\r"),
        "no air": _line_of("Air pressure", None),
        "air of another planet": _line_of("Air pressure", "Air pressure;6,3 kPa\r"),
        "another header": _line_of("Date;Time", "Day;Hour;Pressure;Temperature\r"),
        "points": lambda t, rng: t.replace(",", "."),
        "American dates": lambda t, rng: t.replace("02.06.2026", "06/02/2026"),
        "a new column": _line_of("Date;Time", "Date;Time;Pressure;Conductivity\r"),
    },
    LOG_B: {
        "no test": _line_of("Location:", "Place:\there"),
        "an unknown test": lambda t, rng: t.replace("T-MW-1-1", "T-MW-1-9"),
        "no start": _line_of("Started:", "Started:\t"),
        "one line more": lambda t, rng: "Recorder B export\n" + t,
        "semicolons": lambda t, rng: t.replace("\t", ";"),
        "a clock of 61": _cell(lambda c, m: ["0:xx:61", *c[1:]]),
    },
}
SHEETS: list[tuple[str, str, str, object]] = [
    # what it is, sheet, cell, and what is put there
    ("no heading", "Wells", "A5", None),
    ("another heading", "Wells", "B4", "Place"),
    ("words for a place", "Wells", "B6", "see map"),
    ("a place elsewhere", "Wells", "B6", 10.0),
    ("no elevation", "Wells", "D7", None),
    ("a hole twice", "Wells", "A7", "MW-1"),
    ("an unknown hole", "Casing", "A3", "MW-77"),
    ("an unknown item", "Casing", "D3", "Brickwork"),
    ("a size in words", "Casing", "E3", "large"),
    ("no foot", "Casing", "C4", None),
    ("upside down", "Zones", "C5", "52' 6\""),
    ("too deep", "Zones", "D5", 942),
    ("an unknown unit", "Zones", "C4", "fathom"),
    ("a moved header", "Zones", "A3", "Zones"),
    ("an unknown set-up", "Zones", "E5", "glued"),
    ("an unknown kind", "Slug tests", "C4", "XX"),
    ("a day first", "Slug tests", "D4", "23/06/2026"),
    ("a boiling zone", "Slug tests", "G4", 500),
    ("a cell to the right", "Slug tests", "J5", "ask Paul"),
    ("no zone", "Samples", "B3", None),
    ("an unknown zone", "Samples", "B3", "MW-1-7"),
    ("an hour that is skipped", "Samples", "C3", "03/08/2026"),
    ("an unknown type", "Samples", "E3", "Q"),
    ("a sample without name", "Samples", "A3", None),
]


OF_BOOK: dict[str, Callable[[bytes], bytes]] = {
    "cut in half": lambda b: b[: len(b) // 2],
    "bytes lost": lambda b: b[:300] + bytes(400) + b[700:],
    "an old workbook": lambda b: b"\xd0\xcf\x11\xe0" + b[4:],
    "empty": lambda b: b"",
    "text": lambda b: b"a,b\n1,2\n",
}


# more files of the same two kinds, and what to do to them
LIKE = {
    "lab two/June, corrected.csv": LAB_TWO,
    "lab two/August/part.csv": LAB_TWO,
    "readings/June/T-MW-2-1.csv": LOG_A,
    "readings/June/log_0002.txt": LOG_B,
}
COPIES = {
    "lab two/June, corrected.csv": (),
    "lab two/August/part.csv": ("commas", "a unit of no mass", "a moved header"),
    "readings/June/T-MW-2-1.csv": tuple(OF_FILE[LOG_A]),
    "readings/June/log_0002.txt": ("no start", "one line more", "semicolons", "a clock of 61"),
}


def ways() -> list[tuple[str, str]]:
    """Every file to corrupt and how; the last ones again, in other rows, up to 200."""
    each = [(BOOK, f"{sheet}: {what}") for what, sheet, _, _ in SHEETS]
    each += [(BOOK, way) for way in OF_BOOK]
    each += [(name, way) for name, own in OF_FILE.items() for way in (*EVERY, *own)]
    each += [(name, way) for name, own in COPIES.items() for way in (*EVERY, *own)]
    rows = [w for w in each if w[1] in ("a cell too many", "a cell too few", "words for a value")]
    rows += [w for w in each if w[1] in ("two points", "an open quote")]
    return (each + rows)[:200]


def corrupt(path: Path, way: str, seed: int) -> None:
    """Corrupt a file in one way."""
    if path.name == BOOK:
        if way in OF_BOOK:
            path.write_bytes(OF_BOOK[way](path.read_bytes()))
            return
        sheet, _, what = way.partition(": ")
        (cell, new) = next((c, n) for w, s, c, n in SHEETS if (s, w) == (sheet, what))
        book = openpyxl.load_workbook(path)
        book[sheet][cell] = new
        if what == "an hour that is skipped":
            book[sheet]["D3"] = "02:30"
        book.save(path)
        return
    encoding = "cp1252" if "lab two" in str(path) else "utf-8"
    text = path.read_bytes().decode(encoding)
    deep = 2 if "readings" in path.parts or "August" in path.parts else 1
    name = path.relative_to(path.parents[deep]).as_posix()
    change = EVERY.get(way) or OF_FILE[LIKE.get(name, name)][way]
    path.write_bytes(change(text, random.Random(seed)).encode(encoding))


def check_corrupt(site, taken, tmp_path, numbers) -> None:
    """Each is refused: four parts, the file's name, no other exception."""
    every = ways()
    assert len(every) == 200
    for number in numbers:
        name, way = every[number]
        folder = tmp_path / str(number)
        shutil.copytree(site[0], folder)
        corrupt(folder / name, way, number)
        known = {} if name == BOOK else taken.tables
        with pytest.raises(GeoprofileError) as caught:
            read(folder, (name,), known)
        told = [str(p) for p in caught.value.problems]
        assert all(all((p.where, p.found, p.expected, p.advice)) for p in caught.value.problems)
        assert any(Path(name).name in t for t in told), (way, told)
        shutil.rmtree(folder)


def test_corrupt_files_are_each_told_and_none_is_read(site, taken, tmp_path):
    """Ten of the two hundred."""
    check_corrupt(site, taken, tmp_path, range(7, 200, 20))


@pytest.mark.calibration
@pytest.mark.parametrize("block", range(10))
def test_two_hundred_corrupt_files_are_each_told_and_none_is_read(site, taken, tmp_path, block):
    """All of them; the database is not even reached."""
    check_corrupt(site, taken, tmp_path, range(20 * block, 20 * block + 20))


def test_a_refused_file_leaves_the_database_as_it_was(site, tmp_path):
    """Byte for byte."""
    folder = tmp_path / "site"
    shutil.copytree(site[0], folder)
    database = folder / "site.gpkg"
    app.create(database, crs=office.CRS)
    app.load(database, [folder])
    before = database.read_bytes()
    corrupt(folder / LAB_ONE, "an unknown sample", 1)
    with pytest.raises(GeoprofileError):
        app.load(database, [folder])
    assert database.read_bytes() == before


def test_a_changed_profile_reads_its_files_again(site):
    """The fingerprint of a file covers the profile by which it is read."""
    folder = site[0]
    settings = intake.read_settings(folder)
    first = {f.name: f.sha256 for f in intake.find_files(folder, settings=settings)}
    other = tuple(replace(p, missing=("?",)) for p in settings.profiles)
    again = intake.find_files(folder, settings=replace(settings, profiles=other))
    assert all(first[f.name] != f.sha256 for f in again if f.profile)
