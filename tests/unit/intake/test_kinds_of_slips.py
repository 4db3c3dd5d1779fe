"""The kinds of slips that tables from the field and the laboratory bring, one real-looking each.

Every one is refused where it stands, with what is allowed and what to do; nothing is guessed.
"""

from __future__ import annotations

import pytest

HOLES = "borehole,x,y,ground_elevation_m,depth_m\n"
B1, B2 = "B1,500010.5,5300020.25,101.5,30\n", "B2,500080,5300040,102,25\n"
ZONES = "interval,borehole,top_m,bottom_m,isolation\n"
SAMPLES = "sample,interval,sampled_at\n"
LAB = "sample,analyte,value,unit\n"
SITE = 'crs = "EPSG:32632"\n'
ALONE = dict.fromkeys(
    ("intervals.csv", "tests.csv", "readings/T1.csv", "samples.csv", "results.csv")
)
RESULTS_ONLY = {"tests.csv": None, "readings/T1.csv": None}

# the slip, the files, where it is told, and words that the message holds
SLIPS = [
    (
        "another delimiter",
        {"boreholes.csv": (HOLES + B1 + B2).replace(",", ";"), **ALONE},
        "boreholes.csv",
        ("semicolon", "delimiter"),
    ),
    (
        "decimal comma",
        {"boreholes.csv": HOLES + 'B1,500010.5,5300020.25,"101,5",30\n', **ALONE},
        "column ground_elevation_m",
        ("101,5", "decimal"),
    ),
    (
        "thousands mark",
        {"boreholes.csv": HOLES + 'B1,"500,010.5",5300020,101.5,30\n', **ALONE},
        "column x",
        ("thousands",),
    ),
    (
        "point or comma",
        {
            "site.toml": SITE + '[intake]\ndelimiter = ";"\ndecimal = ","\n',
            "boreholes.csv": HOLES.replace(",", ";") + "B1;500010,5;5300020;1.015;30\n",
            **ALONE,
        },
        "ground_elevation_m",
        ("1.015", "thousands"),
    ),
    (
        "another encoding",
        {"boreholes.csv": (HOLES + B1.replace("B1", "Süd-1")).encode("latin-1"), **ALONE},
        "row 2",
        ("utf-8", "encoding"),
    ),
    (
        "text decoded wrongly and saved",
        {"results.csv": LAB + "S1,TCE,12.5,Âµg/L\n", **RESULTS_ONLY},
        "results.csv row 2",
        ("garbled",),
    ),
    (
        "an id that lost its zeros",
        {
            "boreholes.csv": HOLES + B1.replace("B1", "007"),
            **ALONE,
            "intervals.csv": ZONES + "I1,7,5,8,straddle\n",
        },
        "intervals.csv row 2",
        ("'7'", "borehole"),
    ),
    (
        "an id in another alphabet",
        {"boreholes.csv": HOLES + B1 + B2.replace("B2", "В1"), **ALONE},
        "boreholes.csv row 3",
        ("B1",),
    ),
    (
        "a limit that is none",
        {"results.csv": LAB + "S1,TCE,<0,ug/L\n", **RESULTS_ONLY},
        "results.csv row 2",
        ("a limit of 0",),
    ),
    (
        "not detected without a limit",
        {"results.csv": LAB + "S1,TCE,ND,ug/L\n", **RESULTS_ONLY},
        "results.csv row 2",
        ("limit",),
    ),
    (
        "day or month first",
        {"samples.csv": SAMPLES + "S1,B1-1,03/04/2026 10:30\n", "results.csv": None},
        "sampled_at",
        ("date_format",),
    ),
    (
        "a spreadsheet's day number",
        {"samples.csv": SAMPLES + "S1,B1-1,46177.4375\n", "results.csv": None},
        "sampled_at",
        ("day number",),
    ),
    (
        "a year of two digits",
        {"samples.csv": SAMPLES + "S1,B1-1,26-06-01 10:30\n", "results.csv": None},
        "sampled_at",
        ("2026-",),
    ),
    (
        "an hour that comes twice",
        {
            "site.toml": SITE + 'time_zone = "Europe/Berlin"\n',
            "samples.csv": SAMPLES + "S1,B1-1,2026-10-25T02:30\n",
            "results.csv": None,
        },
        "sampled_at",
        ("twice",),
    ),
    (
        "no unit",
        {"results.csv": "sample,analyte,value\nS1,TCE,12.5\n", **RESULTS_ONLY},
        "results.csv",
        ("unit",),
    ),
    (
        "a share in the place of a concentration",
        {"results.csv": LAB + "S1,TCE,12.5,ug/L\nS2,TCE,0.4,ppm\n", **RESULTS_ONLY},
        "results.csv row 3",
        ("ppm", "laboratory"),
    ),
    (
        "a length without its unit",
        {"boreholes.csv": (HOLES + B1).replace("depth_m", "depth"), **ALONE},
        "boreholes.csv",
        ("unit",),
    ),
    (
        "the same id at another place",
        {"boreholes.csv": HOLES + B1 + B1.replace("500010.5", "500055"), **ALONE},
        "boreholes.csv row 3",
        ("B1", "row 2"),
    ),
    (
        "an interval upside down",
        {"boreholes.csv": HOLES + B1, **ALONE, "intervals.csv": ZONES + "I,B1,8,5,straddle\n"},
        "intervals.csv row 2",
        ("8", "Swap"),
    ),
    (
        "an interval of no length",
        {"boreholes.csv": HOLES + B1, **ALONE, "intervals.csv": ZONES + "I,B1,8,8,straddle\n"},
        "intervals.csv row 2",
        ("both at",),
    ),
    (
        "an interval below the hole",
        {"boreholes.csv": HOLES + B1, **ALONE, "intervals.csv": ZONES + "I,B1,29,33,straddle\n"},
        "intervals.csv row 2",
        ("33", "30"),
    ),
    (
        "a screen above ground",
        {"boreholes.csv": HOLES + B1, **ALONE, "intervals.csv": ZONES + "I,B1,-0.5,3,screen\n"},
        "intervals.csv row 2",
        ("-0.5", "0 m or more"),
    ),
    ("no CRS", {"site.toml": 'name = "yard"\n'}, "site.toml", ("no crs",)),
    ("a CRS in degrees", {"site.toml": 'crs = "EPSG:4326"\n'}, "crs", ("degrees", "UTM")),
    (
        "another CRS, in feet",
        {"site.toml": 'crs = "EPSG:2263"\n'},  # New York Long Island, US survey feet (EPSG)
        "boreholes.csv row 2",
        ("far outside", "EPSG:32118"),  # its twin in metres (EPSG)
    ),
    (
        "northing before easting",
        {"boreholes.csv": HOLES + "B1,5300020.25,500010.5,101.5,30\n", **ALONE},
        "boreholes.csv row 2",
        ("swapped",),
    ),
    (
        "degrees in a CRS of metres",
        {"boreholes.csv": HOLES + "B1,9.0001,47.8512,101.5,30\n", **ALONE},
        "boreholes.csv row 2",
        ("degrees",),
    ),
    (
        "the number of the zone before the easting",
        {"boreholes.csv": HOLES + "B1,32500010.5,5300020.25,101.5,30\n", **ALONE},
        "boreholes.csv row 2",
        ("zone",),
    ),
    (
        "a coordinate that is no number",
        {"boreholes.csv": HOLES + "B1,NaN,5300020.25,101.5,30\n", **ALONE},
        "column x",
        ("NaN",),
    ),
    (
        "an endless coordinate",
        {"boreholes.csv": HOLES + "B1,1e999,5300020.25,101.5,30\n", **ALONE},
        "column x",
        ("1e999",),
    ),
    (
        "a depth below zero",
        {"boreholes.csv": HOLES + "B1,500010.5,5300020.25,101.5,-30\n", **ALONE},
        "column depth_m",
        ("-30", "above 0"),
    ),
    (
        "a column of elevations in the place of depths",
        {
            "boreholes.csv": HOLES + B1,
            **ALONE,
            "intervals.csv": ZONES + "I,B1,96.5,93.5,straddle\n",
        },
        "intervals.csv row 2",
        ("96.5",),
    ),
]


@pytest.mark.parametrize(
    ("files", "where", "words"), [s[1:] for s in SLIPS], ids=[s[0] for s in SLIPS]
)
def test_each_slip_is_told_where_it_stands(refused, files, where, words):
    """One message for one slip, with its place, what is allowed and what to do."""
    (problem,) = refused(files)
    assert all((problem.where, problem.found, problem.expected, problem.advice))
    assert where in problem.where
    assert [word for word in words if word.lower() not in str(problem).lower()] == []


def test_units_that_differ_from_row_to_row_are_kept_apart(taken):
    """A column of units may hold several: each value keeps its own, none is taken for another."""
    rows = "S1,TCE,12.5,ug/L\nS2,TCE,0.0004,g/m3\n"
    frame = taken({"results.csv": LAB + rows, **RESULTS_ONLY}).tables["result"]
    assert frame[["value", "unit"]].to_numpy().tolist() == [[12.5, "ug/L"], [0.0004, "g/m3"]]


def test_feet_of_the_us_survey_are_not_taken_for_feet(taken):
    """At 8,000 ft the two differ by 5 mm (NIST Handbook 44: 0.3048 m, and 1200/3937 m)."""
    text = "borehole,x,y,ground_elevation_{},depth_m\nB1,500010,5300020,8000,30\n"
    heights = [
        taken({"boreholes.csv": text.format(unit), **ALONE}).tables["borehole"].iloc[0, 3]
        for unit in ("ft", "usft")
    ]
    assert heights == pytest.approx([8000 * 0.3048, 8000 * 1200 / 3937], rel=1e-12)
