"""Intake profiles: each key does what it says, and a wrong one is told."""

from __future__ import annotations

import pytest

from geoprofile import intake
from geoprofile.errors import GeoprofileError

HEAD = 'crs = "EPSG:32632"\ntime_zone = "America/New_York"\n'


def profile(text: str, table: str = "", rest: str = "") -> str:
    """A site.toml with one profile."""
    return (
        f'{HEAD}[[intake.profile]]\nfiles = "f.txt"\ntable = "{table or "results"}"\n{text}\n{rest}'
    )


def results(taken, settings, content, **more):
    files = {"site.toml": settings, "f.txt": content, "results.csv": None, **more}
    table = taken(files).tables["result"]
    return {(r.sample, r.analyte): (r.value, r.limit, r.unit) for r in table.itertuples()}


@pytest.fixture
def taken(folder):
    """Read the small site with its profiles."""

    def read(files):
        place = folder(files)
        settings = intake.read_settings(place)
        return intake.read_files(intake.find_files(place, settings=settings), settings, {})

    return read


@pytest.fixture
def refused(taken):
    """The advice with which it is refused."""

    def read(files):
        with pytest.raises(GeoprofileError) as caught:
            taken(files)
        return "\n".join(str(p) for p in caught.value.problems)

    return read


def test_samples_may_be_the_columns(taken):
    """A laboratory's page with one analyte per row, units and limits in columns."""
    text = "Parameter;Unit;RL;S1;S2\nTCE;ug/l;0,5;12,5;<0,5\nPCE;mg/l;0,1;ND;--\n"
    keys = (
        'wide = "sample"\ndelimiter = ";"\ndecimal = ","\nmissing = "--"\n'
        'columns = { Parameter = "analyte", Unit = "unit", RL = "limit" }'
    )
    found = results(taken, profile(keys), text)
    assert set(found) == {("S1", "TCE"), ("S2", "TCE"), ("S1", "PCE")}
    assert found["S1", "TCE"] == (12.5, 0.5, "ug/L")
    assert found["S1", "PCE"][1:] == (0.1, "mg/L")


def test_analytes_may_be_the_columns_with_rows_of_units_and_limits(taken):
    """The limit of each column holds for its non-detects."""
    text = "Site X,,\nID,TCE,PCE\n,ug/L,mg/L\nMDL,0.2,0.01\nS1,n.n.,0.5 J\n"
    keys = (
        'wide = "analyte"\nheader_row = 2\nunit_row = "next"\nlimit_row = 4\n'
        'not_detected = "n.n."\ncolumns = { ID = "sample" }'
    )
    found = results(taken, profile(keys), text)
    assert found["S1", "TCE"][1:] == (0.2, "ug/L")
    assert found["S1", "PCE"] == (0.5, 0.01, "mg/L")


def test_a_file_without_header_has_its_columns_by_number(taken):
    """And constants for what it does not say."""
    text = "S1|3.5\nS2|4.5\n"
    keys = (
        'header_row = 0\ndelimiter = "|"\ncolumns = { "#1" = "sample", "#2" = "value" }\n'
        'constants = { analyte = "TCE", unit = "ug/L" }'
    )
    assert results(taken, profile(keys), text)["S2", "TCE"][0] == 4.5


def test_utf_16_with_tabs_is_read_as_said(taken):
    """As some loggers and spreadsheets export."""
    text = "sample\tanalyte\tvalue\tunit\nS1\tTCE\t3\tug/L\n".encode("utf-16")
    keys = 'encoding = "utf-16"\ndelimiter = "\\t"'
    assert results(taken, profile(keys), text)["S1", "TCE"][0] == 3


REST = 'constants = { analyte = "TCE", unit = "ug/L" }'


@pytest.mark.parametrize(
    ("text", "keys", "words"),
    [
        ("Probe,value\nS1,3\n", "", ("columns", "other_columns")),
        ("sample,value\nS1,3\n", 'columns = { Probe = "sample" }', ("no column 'probe'",)),
        ("a\nsample\n", "header_row = 9", ("header_row",)),
        ("a\nsample\n", 'header_row = "Probe"', ("no row with a cell 'Probe'",)),
        ("sample,value\nS1,3\nThe end\n", REST, ("skip_rows_starting = ['The end']",)),
        ("sample,value\nS1,3\n", 'header_block = { report = "No" }', ("no 'No'", "header_block")),
        ("sample,value\n", REST, ("no rows below the header",)),
    ],
)
def test_what_does_not_fit_names_its_key(refused, text, keys, words):
    """In the words of the profile."""
    told = refused({"site.toml": profile(keys), "f.txt": text})
    assert all(w in told for w in words), told


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ('colums = { a = "b" }', ("a key 'colums'", "'columns'")),
        ('decimal = ";"', ("decimal = ';'", "'.' or ','")),
        ('time_zone = "Mars"', ("IANA",)),
        ('header_row = "x"\nwide = "tall"', ("wide = 'tall'",)),
        ('encoding = "runes"', ("encoding",)),
    ],
)
def test_a_wrong_key_is_told_with_the_profile(refused, keys, words):
    """Before any file is read."""
    told = refused({"site.toml": profile(keys), "f.txt": "sample\n"})
    assert all(w in told for w in ("profile number 1", *words)), told


def test_profiles_of_an_office_come_from_a_file_of_their_own(taken, refused):
    """Named in site.toml; a missing file and other keys in it are told."""
    shared = '[[profile]]\nfiles = "f.txt"\ntable = "results"\ncolumns = { P = "sample" }\n'
    text = "P,analyte,value,unit\nS1,TCE,3,ug/L\n"
    named = f'{HEAD}[intake]\nprofiles = ["lab.toml"]\n'
    assert results(taken, named, text, **{"lab.toml": shared})["S1", "TCE"][0] == 3
    assert "no such file" in refused({"site.toml": named.replace("lab", "labs"), "f.txt": text})
    told = refused({"site.toml": named, "f.txt": text, "lab.toml": "x = 1\n" + shared})
    assert "[[profile]]" in told


def test_two_profiles_for_one_file_are_told(refused):
    """They must be told apart."""
    two = profile("", rest=profile("").removeprefix(HEAD))
    assert "contains" in refused({"site.toml": two, "f.txt": "sample\n"})


def test_a_file_with_the_text_of_no_profile_is_told(refused):
    """It is not passed over: the pattern claims it."""
    told = refused({"site.toml": profile('contains = "Recorder B"'), "f.txt": "Recorder C\n"})
    assert "'Recorder B'" in told
    assert "ignore" in told


LEVELS = "Well,Date,Time,DTW\nB1,11/01/2026,{},3.5\n"
LEVEL_KEYS = (
    'date_format = "%m/%d/%Y %H:%M"\ndepth_from = "top of casing"\n'
    'columns = { Well = "borehole", Date = "measured_at", Time = "measured_at", '
    'DTW = "depth_to_water_ft" }'
)


def test_local_times_follow_daylight_saving(taken, refused):
    """New York: the hour from 1 to 2 of 1 November 2026 comes twice (IANA); others are certain."""
    site = profile(LEVEL_KEYS, "water_levels")
    read = taken({"site.toml": site, "f.txt": LEVELS.format("03:30")}).tables["water_level"]
    assert read["measured_at"].iloc[0] == "2026-11-01T08:30:00Z"
    assert read["depth_to_water_m"].iloc[0] == pytest.approx(3.5 * 0.3048 - 0.5)
    assert "comes twice" in refused({"site.toml": site, "f.txt": LEVELS.format("01:30")})
    fixed = profile(LEVEL_KEYS + '\ntime_zone = "Etc/GMT+5"', "water_levels")
    again = taken({"site.toml": fixed, "f.txt": LEVELS.format("01:30")}).tables["water_level"]
    assert again["measured_at"].iloc[0] == "2026-11-01T06:30:00Z"


def test_depths_from_a_casing_of_unknown_height_are_refused(refused):
    """A height left empty is not zero where depths count from it."""
    holes = (
        "borehole,x,y,ground_elevation_m,measuring_point_height_m,depth_m\n"
        "B1,500010.5,5300020.25,101.5,,30\nB2,500080,5300040,102,0,25\n"
    )
    files = {"site.toml": profile(LEVEL_KEYS, "water_levels"), "f.txt": LEVELS.format("03:30")}
    assert "measuring_point_height_m" in refused({**files, "boreholes.csv": holes})


@pytest.mark.parametrize(("gallon", "litres"), [("US", 3.785411784), ("imperial", 4.54609)])
def test_a_gallon_has_the_size_that_was_said(taken, refused, gallon, litres):
    """NIST SP 811: 3.785 411 784 and 4.546 09 L (from memory)."""
    files = {"samples.csv": "sample,interval,sampled_at,purged_gal\nS1,B1-1,2026-06-01,2\n"}
    files |= {"results.csv": "sample,analyte,value,unit\nS1,TCE,1,ug/L\n"}
    assert 'gallon = "US"' in refused(files)
    said = {**files, "site.toml": f'crs = "EPSG:32632"\n[intake]\ngallon = "{gallon}"\n'}
    assert taken(said).tables["sample"]["purged_l"].iloc[0] == pytest.approx(2 * litres)


def test_a_crs_in_feet_without_a_twin_in_the_list_keeps_its_projection(taken):
    """NAD27 Texas South Central counts in US feet only (EPSG:32040): a CRS in words, in metres."""
    holes = (
        "borehole,x,y,ground_elevation_ft,depth_ft\n"
        "B1,2000100,300000,100,99\nB2,2000300,300000,100,90\n"
    )
    read = taken({"site.toml": 'crs = "EPSG:32040"\n', "boreholes.csv": holes})
    places = read.tables["borehole"]
    assert places["x"].diff().iloc[1] == pytest.approx(200 * 1200 / 3937)
    assert {a.unit_name for a in places.crs.axis_info} == {"metre"}
