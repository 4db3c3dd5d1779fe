"""What careless hands do to tables: ids, dates, encodings, units, places, depths, formulas."""

from __future__ import annotations

import datetime
import io
import math

import pytest

HOLES = (
    "borehole,x,y,ground_elevation_m,measuring_point_height_m,depth_m\n"
    "B1,500010,5300020,101,0.5,30\nB2,500080,5300040,102,0,25\n"
)
ALONE = dict.fromkeys(
    ("intervals.csv", "tests.csv", "readings/T1.csv", "samples.csv", "results.csv")
)


def holes(*names: str) -> dict[str, str | None]:
    """Boreholes of these names, and nothing else."""
    rows = "".join(f"{n},{500000 + i},5300000,101,30\n" for i, n in enumerate(names))
    return {"boreholes.csv": "borehole,x,y,ground_elevation_m,depth_m\n" + rows, **ALONE}


def test_declared_delimiter_and_decimal_comma_are_read(taken):
    """Semicolons and decimal commas are read once site.toml declares them."""
    text = "borehole;x;y;ground_elevation_m;depth_m\nB1;500010,5;5300020;101,25;30\n"
    declared = 'crs = "EPSG:32632"\n[intake]\ndelimiter = ";"\ndecimal = ","\n'
    row = taken({**ALONE, "site.toml": declared, "boreholes.csv": text}).tables["borehole"].iloc[0]
    assert (row["x"], row["ground_elevation_m"]) == (500010.5, 101.25)


def test_point_under_declared_comma_is_refused(one):
    """1.234 with decimal commas may be a thousand or one and a bit: it is asked, not guessed."""
    text = "borehole;x;y;ground_elevation_m;depth_m\nB1;500010;5300020;1.234;30\n"
    declared = 'crs = "EPSG:32632"\n[intake]\ndelimiter = ";"\ndecimal = ","\n'
    problem = one({**ALONE, "site.toml": declared, "boreholes.csv": text})
    assert "1.234" in problem.found
    assert "thousands" in problem.advice


def test_thousands_marks_are_refused(one):
    """1,234.5 is refused with the advice to write plain numbers."""
    problem = one({"boreholes.csv": HOLES.replace("500010", '"500,010"')})
    assert "thousands" in problem.expected


def test_byte_order_mark_and_crlf_are_read(taken):
    """A byte order mark and Windows line ends leave no trace."""
    text = "\ufeff" + HOLES.replace("\n", "\r\n")
    frame = taken({**ALONE, "boreholes.csv": text.encode()}).tables["borehole"]
    assert frame["borehole"].tolist() == ["B1", "B2"]


def test_other_encoding_is_refused_then_read_when_declared(one, taken):
    """Latin-1 text is refused as UTF-8, and read once declared."""
    text = HOLES.replace("B2", "Süd").encode("cp1252")
    assert "encoding" in one({**ALONE, "boreholes.csv": text}).advice
    declared = 'crs = "EPSG:32632"\n[intake]\nencoding = "cp1252"\n'
    frame = taken({**ALONE, "boreholes.csv": text, "site.toml": declared}).tables["borehole"]
    assert frame["borehole"].tolist() == ["B1", "Süd"]


@pytest.mark.parametrize("text", ["Süd", "µg", "Größe", "é"])
def test_garbled_letters_are_refused(one, text):
    """UTF-8 that was read as Latin-1 and saved again is recognised by its pattern."""
    garbled = text.encode().decode("cp1252")
    assert "garbled" in one(holes("B1", garbled)).found


@pytest.mark.parametrize("name", ["Ångström", "Süd", "Âme", "ÃO", "№ 7"])
def test_letters_of_many_languages_are_kept(taken, name):
    """Names that only look a little like garbled text are kept."""
    assert taken(holes(name)).tables["borehole"]["borehole"].tolist() == [name]


@pytest.mark.parametrize("name", ["007", "1E5", "NA", "None", "null", "1.0", "2026-01-02", "TRUE"])
def test_ids_stay_text_as_written(taken, name):
    """No id is read as a number, a date or a missing value."""
    assert taken(holes(name)).tables["borehole"]["borehole"].tolist() == [name]


def test_blanks_around_ids_are_stripped(taken):
    """Trailing blanks, hard blanks and marks without width do not make another id."""
    frame = taken(holes("B1 ", "\u00a0B2\u200b")).tables["borehole"]
    assert frame["borehole"].tolist() == ["B1", "B2"]


@pytest.mark.parametrize("other", ["b1", "B 1", "В1", "Ｂ1"])
def test_ids_that_look_alike_are_told(one, other):
    """Case, blanks, and letters of another alphabet or width do not tell two ids apart."""
    assert "'B1'" in one(holes("B1", other)).found


def test_reference_in_another_spelling_is_told_with_the_right_one(one):
    """An unknown borehole that differs only in case is answered with the known one."""
    text = "interval,borehole,top_m,bottom_m,isolation\nI1,b1,5,8,straddle\n"
    problem = one({**ALONE, "intervals.csv": text})
    assert "'B1'" in problem.advice


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("03/04/2026", "date_format"),
        ("4.3.26", "date_format"),
        ("46085", "day number"),
        ("2026-02-30", "time such as"),
        ("26-02-03", "time such as"),
        ("0026-02-03", "year"),
    ],
)
def test_dates_are_not_guessed(one, text, word):
    """Dates in any form but ISO 8601 are refused, spreadsheet day numbers by name."""
    problem = one({"samples.csv": f"sample,interval,sampled_at\nS1,B1-1,{text}\n", **NO_RESULTS})
    assert word in str(problem)


NO_RESULTS = {"results.csv": None}


def samples(*times: str, site: str = "") -> dict[str, str | None]:
    """Samples taken at these times."""
    rows = "".join(f"S{i},B1-1,{t}\n" for i, t in enumerate(times))
    declared = {"site.toml": 'crs = "EPSG:32632"\n' + site}
    return {"samples.csv": "sample,interval,sampled_at\n" + rows, **NO_RESULTS, **declared}


def test_declared_date_format_is_read(taken):
    """Day before month is read when it is declared, for every row alike."""
    files = samples("03/04/2026 15:30", "13/04/2026 07:00", site='date_format = "%d/%m/%Y %H:%M"\n')
    times = taken(files).tables["sample"]["sampled_at"].tolist()
    assert times == ["2026-04-03T15:30:00Z", "2026-04-13T07:00:00Z"]


def test_times_are_stored_in_utc(taken):
    """A time without offset is in the site's zone, a time with one is taken by it."""
    files = samples(
        "2026-01-10T12:00", "2026-07-10T12:00", "2026-07-10T12:00Z", "2026-07-10 12:00+05:30",
        site='time_zone = "Europe/Berlin"\n',
    )  # fmt: skip
    hours = [t[11:16] for t in taken(files).tables["sample"]["sampled_at"]]
    # Central European time is 1 h, in summer 2 h, ahead of UTC (IANA tz database)
    assert hours == ["11:00", "10:00", "12:00", "06:30"]


def test_double_and_skipped_hours_are_refused(refused):
    """The hour that clocks repeat and the hour that they skip need an offset."""
    # clocks in Berlin change on 29 March and 25 October 2026 (EU directive 2000/84/EC)
    files = samples(
        "2026-10-25T02:30", "2026-03-29T02:30", "2026-10-25T02:30+01:00",
        site='time_zone = "Europe/Berlin"\n',
    )  # fmt: skip
    twice, skipped = refused(files)
    assert "comes twice" in twice.found
    assert "+02:00" in twice.advice
    assert "skips" in skipped.found


def test_feet_become_metres(taken):
    """Depths in feet are converted by the international foot."""
    text = HOLES.replace("depth_m", "depth_ft").replace("0.5,30", "0.5,100")
    frame = taken({**ALONE, "boreholes.csv": text}).tables["borehole"]
    assert frame["depth_m"].iloc[0] == pytest.approx(30.48, rel=1e-12)  # 0.3048 m exactly


def test_value_after_conversion_is_in_the_message(one):
    """A converted value outside its limits is shown in both units."""
    text = HOLES.replace("ground_elevation_m", "ground_elevation_ft").replace("101,", "40000,")
    assert "12192 m" in one({**ALONE, "boreholes.csv": text}).found


def test_unit_in_the_header_of_a_result(taken):
    """The unit of values may stand in the header instead of a column."""
    frame = taken({"results.csv": "sample,analyte,value_mg_per_l\nS1,TCE,0.5\n"}).tables["result"]
    assert frame[["value", "unit"]].to_numpy().tolist() == [[0.5, "mg/L"]]


def test_unit_of_results_in_two_places_is_refused(one):
    """A unit in the header and in a column are not reconciled by guessing."""
    text = "sample,analyte,value_mg_per_l,unit\nS1,TCE,0.5,ug/L\n"
    assert "more than one place" in one({"results.csv": text}).found


def test_missing_unit_of_a_result_is_refused(one):
    """Values without a unit are not taken as anything."""
    assert one({"results.csv": "sample,analyte,value\nS1,TCE,0.5\n"}).found == "no unit"


def test_units_come_in_one_spelling(taken):
    """Micro sign, Greek mu, case and words give the same unit."""
    text = "sample,analyte,value,unit\n" + "".join(
        f"S1,A{i},5,{u}\n" for i, u in enumerate(["µg/L", "μg/l", "UG/L", "ug per l", "mg/m³"])
    )
    units = taken({"results.csv": text}).tables["result"]["unit"].tolist()
    assert units == ["ug/L"] * 4 + ["mg/m3"]


def test_analyte_in_two_spellings_is_told(one):
    """The same substance with another case would be two substances."""
    text = "sample,analyte,value,unit\nS1,Benzene,5,ug/L\nS2,benzene,5,ug/L\n"
    assert "'Benzene'" in one({"results.csv": text}).found


@pytest.mark.parametrize(
    ("row", "found"),
    [
        ("I1,B1,8,8,straddle", "both at"),
        ("I1,B1,-2,3,straddle", "-2"),
        ("I1,B1,5,8,floating", "floating"),
    ],
)
def test_impossible_intervals_are_told(one, row, found):
    """No length, above ground, or isolated in an unknown way."""
    text = "interval,borehole,top_m,bottom_m,isolation\n" + row + "\n"
    assert found in one({**ALONE, "intervals.csv": text}).found


def test_overlapping_screens_are_told(one):
    """Two screens of one hole cannot share a depth."""
    text = (
        "borehole,top_m,bottom_m,kind,diameter_mm\n"
        "B1,5,10,screen,50\nB1,9,12,screen,50\nB1,4,14,filter pack,150\n"
    )
    problem = one({"construction.csv": text})
    assert problem.where == "construction.csv row 3, column top_m"


def test_nested_casings_are_no_overlap(taken):
    """A casing inside a wider one is ordinary construction."""
    text = (
        "borehole,top_m,bottom_m,kind,diameter_mm\n"
        "B1,0,10,casing,200\nB1,0.2,25,casing,100\nB1,0,25,seal,200\n"
    )
    assert len(taken({"construction.csv": text}).tables["construction"]) == 3


def test_overlapping_layers_are_told(one):
    """Two geological units cannot lie at the same depth."""
    text = "borehole,top_m,bottom_m,unit\nB1,0,5,clay\nB1,4,9,sand\n"
    assert one({"lithology.csv": text}).where == "lithology.csv row 3, column top_m"


@pytest.mark.parametrize(
    ("x", "y", "advice"),
    [
        ("9.0123", "47.9", "degrees"),
        ("5300020", "500010", "swapped"),
        ("32500010", "5300020", "zone number"),
        ("1640453", "17388517", "feet"),
        ("812500010", "5300020", "Check crs"),
    ],
)
def test_places_outside_the_crs_are_told_with_the_likely_slip(one, x, y, advice):
    """Degrees, swapped axes, a zone prefix and feet are told apart."""
    text = f"borehole,x,y,ground_elevation_m,depth_m\nB1,{x},{y},101,30\n"
    assert advice in one({**ALONE, "boreholes.csv": text}).advice


def test_depths_from_the_measuring_point(taken):
    """With the measuring point 0.5 m above ground, depths from it are 0.5 m larger."""
    text = "interval,borehole,top_m,bottom_m,isolation,depth_from\n"
    text += "I1,B1,5.5,8.5,straddle,measuring point\nI2,B1,5,8,straddle,\n"
    frame = taken({**ALONE, "boreholes.csv": HOLES, "intervals.csv": text}).tables["interval"]
    assert frame["top_m"].tolist() == [5.0, 5.0]
    assert frame["bottom_m"].tolist() == [8.0, 8.0]


def test_depths_above_ground_after_conversion_are_told(one):
    """A top of 0.2 m from a measuring point 0.5 m up lies in the air."""
    text = "interval,borehole,top_m,bottom_m,isolation,depth_from\n"
    text += "I1,B1,0.2,8.5,straddle,measuring point\n"
    problem = one({**ALONE, "boreholes.csv": HOLES, "intervals.csv": text})
    assert "above it" in problem.found


def test_formulas_are_kept_as_text(taken):
    """A remark that begins like a formula is text; nothing is stripped or evaluated."""
    text = HOLES.replace("depth_m\n", "depth_m,remarks\n").replace("30\n", "30,=1+1\n")
    text = text.replace("25\n", "25,@here\n")
    frame = taken({**ALONE, "boreholes.csv": text}).tables["borehole"]
    assert frame["remarks"].tolist() == ["=1+1", "@here"]


def test_columns_in_another_order_and_case_are_read(taken):
    """The order and the case of the header do not matter."""
    text = "Depth_m,Y,X,BOREHOLE,Ground_Elevation_m\n30,5300020,500010,B1,101\n"
    assert taken({**ALONE, "boreholes.csv": text}).tables["borehole"]["x"].iloc[0] == 500010


def test_row_numbers_count_the_lines_of_the_file(one):
    """Blank lines, remarks and line breaks in quotes do not shift the row that is named."""
    text = "# a remark\nborehole,x,y,ground_elevation_m,depth_m,remarks\n\n"
    text += 'B1,500010,5300020,101,30,"two\nlines"\nB2,500080,5300040,oops,25,\n'
    assert one({**ALONE, "boreholes.csv": text}).where.startswith("boreholes.csv row 6,")


def test_unclosed_quote_is_told(refused):
    """A quotation mark that is never closed is told, and does not swallow the file in silence."""
    problems = refused({**ALONE, "boreholes.csv": HOLES.replace("B1,", '"B1,')})
    assert "row 2" in problems[0].where


def test_workbook_is_read_like_text(taken):
    """Sheets named like tables are read; ids stay text, dates become ISO dates."""
    import openpyxl

    book = openpyxl.Workbook()
    page = book.active
    page.title = "Boreholes"
    page.append(["borehole", "x", "y", "ground_elevation_m", "depth_m", "drilled_on"])
    page.append([7, 500010, 5300020, 101.5, 30, datetime.date(2026, 3, 4)])
    page.append(["007", 500020, 5300020, 101.5, 30, None])
    book.create_sheet("notes").append(["anything"])
    held = io.BytesIO()
    book.save(held)
    made = taken({**ALONE, "boreholes.csv": None, "field book.xlsx": held.getvalue()})
    frame = made.tables["borehole"]
    assert frame["borehole"].tolist() == ["7", "007"]
    assert frame["drilled_on"].tolist() == ["2026-03-04", None]
    assert frame["source_file"].iloc[0] == "field book.xlsx#Boreholes"


def test_empty_cells_are_missing_not_zero(taken):
    """An empty number is NaN, an empty text None; a default fills only its own column."""
    frame = taken({**ALONE, "boreholes.csv": HOLES}).tables["borehole"]
    assert frame["drilled_on"].tolist() == [None, None]
    frame = taken().tables["interval"]
    assert math.isnan(frame["static_depth_m"].iloc[2])
    assert frame["packer"].iloc[0] is None
