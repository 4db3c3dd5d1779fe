"""Twelve ordinary slips: each is refused with one message that says where and what to do."""

from __future__ import annotations

import pytest

BOREHOLE_HEADER = "borehole,x,y,ground_elevation_m,depth_m\n"
HOLES = BOREHOLE_HEADER + "B1,500010,5300020,101,30\nB2,500080,5300040,102,25\n"
INTERVAL_HEADER = "interval,borehole,top_m,bottom_m,isolation\n"


def intervals(row: str) -> dict[str, str]:
    """An intervals file in which B1-2 is corrupt."""
    return {
        "intervals.csv": INTERVAL_HEADER
        + f"B1-1,B1,5,8,straddle\n{row}\nB2-1,B2,20,25,below packer\n"
    }


def test_the_small_site_itself_loads(taken):
    """The folder that the other tests corrupt has no fault of its own."""
    tables = taken().tables
    assert [len(tables[t]) for t in ("borehole", "interval", "reading", "result")] == [2, 3, 4, 2]


def test_swapped_top_and_bottom_are_told(one):
    """A top below the bottom is named with its row."""
    problem = one(intervals("B1-2,B1,15,12,straddle"))
    assert problem.where == "intervals.csv row 3, column top_m"
    assert "15" in problem.found
    assert "Swap" in problem.advice


def test_unknown_borehole_is_told(one):
    """An interval of a borehole that is nowhere is named."""
    problem = one(intervals("B1-2,B9,12,15,straddle"))
    assert problem.where == "intervals.csv row 3, column borehole"
    assert "'B9'" in problem.found


def test_duplicate_id_is_told_with_its_first_row(one):
    """A second row of the same id names the first one."""
    problem = one({"boreholes.csv": HOLES + "B1,500020,5300030,101,30\n"})
    assert problem.where == "boreholes.csv row 4, column borehole"
    assert "boreholes.csv row 2" in problem.found


def test_interval_below_the_hole_is_told(one):
    """A bottom deeper than the hole names both depths."""
    problem = one(intervals("B1-2,B1,28,31,straddle"))
    assert problem.where == "intervals.csv row 3, column bottom_m"
    assert "31" in problem.found
    assert "30" in problem.found


def test_geographic_crs_is_told(one):
    """A CRS in degrees is refused, with the advice to project."""
    problem = one({"site.toml": 'crs = "EPSG:4326"\n'})
    assert "degrees" in problem.found
    assert "UTM" in problem.advice


def test_missing_crs_is_told(one):
    """A site.toml without a CRS is refused; none is assumed."""
    problem = one({"site.toml": 'name = "yard"\n'})
    assert problem.where == "site.toml"
    assert problem.found == "no crs"


def test_decimal_commas_are_told(one):
    """A comma in a number is refused until it is declared."""
    problem = one(
        {"boreholes.csv": HOLES.replace("101,30", '"101,5",30')},
    )
    assert problem.where == "boreholes.csv row 2, column ground_elevation_m"
    assert "[intake] decimal" in problem.advice


def test_unquoted_decimal_commas_are_told(one):
    """Decimal commas between comma delimiters show as a cell too many."""
    problem = one({"boreholes.csv": HOLES.replace("101,30", "101,5,30")})
    assert problem.where == "boreholes.csv row 2"
    assert "12.5" in problem.advice


@pytest.mark.parametrize(("mark", "name"), [(";", "semicolon"), ("\t", "tab"), ("|", "bar")])
def test_wrong_delimiter_is_named(one, mark, name):
    """A file with another delimiter is no table of one column; the delimiter is named."""
    problem = one({"boreholes.csv": HOLES.replace(",", mark)})
    assert problem.where == "boreholes.csv"
    assert name in problem.found
    assert "delimiter" in problem.advice


@pytest.mark.parametrize("text", ["deep", "12 m", "1_000", "0x1F", "1e", "--5", "NaN", "inf"])
def test_text_in_a_number_is_told(one, text):
    """Only a plain number is a number; nothing else is guessed to be one."""
    problem = one(intervals(f"B1-2,B1,{text},15,straddle"))
    assert problem.where == "intervals.csv row 3, column top_m"
    assert text in problem.found


def test_unknown_unit_is_told(one):
    """A unit that is none names the units there are."""
    problem = one({"boreholes.csv": HOLES.replace("depth_m", "depth_fathom")})
    assert problem.where == "boreholes.csv, column depth_fathom"
    assert "fathom" in problem.found
    assert "ft" in problem.expected


def test_unknown_unit_of_a_result_is_told(one):
    """A result in a unit without mass per volume is refused, row by row."""
    problem = one({"results.csv": "sample,analyte,value,unit\nS1,TCE,12,ppb\nS2,TCE,<1,ug/L\n"})
    assert problem.where == "results.csv row 2, column unit"
    assert "laboratory" in problem.advice


@pytest.mark.parametrize("content", [b"", b"\n \n", b"# only a remark\n"])
def test_empty_file_is_told(one, content):
    """A file without a header is told, and not taken as a table without rows."""
    problem = one({"boreholes.csv": content, **dict.fromkeys(EMPTYABLE)})
    assert problem.where == "boreholes.csv"


EMPTYABLE = ("intervals.csv", "tests.csv", "readings/T1.csv", "samples.csv", "results.csv")


@pytest.mark.parametrize(
    ("content", "kind"),
    [
        (b"PK\x03\x04rest", "zip"),
        (b"SQLite format 3\x00", "database"),
        (b"%PDF-1.7", "PDF"),
        (b"\x89PNG\r\n", "picture"),
        (b"\x00\x01\x02\x03", "binary"),
        (b'{"a": 1}', "JSON"),
        (b"<html><table>", "markup"),
        ("borehole,x".encode("utf-16"), "UTF-16"),
    ],
)
def test_file_of_another_kind_is_told(one, content, kind):
    """What a file holds is found from its bytes, whatever its name says."""
    problem = one({"boreholes.csv": content, **dict.fromkeys(EMPTYABLE)})
    assert kind in problem.found


def test_every_bad_row_is_told_at_once(refused):
    """Faults in several files and rows come together, in the order of the files."""
    problems = refused(
        {
            "boreholes.csv": HOLES.replace("101,30", "high,30").replace("102,25", "102,-25"),
            "samples.csv": "sample,interval,sampled_at\nS1,B1-1,June\nS2,,2026-06-01\n",
        }
    )
    assert [p.where for p in problems] == [
        "boreholes.csv row 2, column ground_elevation_m",
        "boreholes.csv row 3, column depth_m",
        "samples.csv row 2, column sampled_at",
        "samples.csv row 3, column interval",
    ]


def test_many_equal_faults_are_counted(refused):
    """A fault in thousands of rows is told for the first hundred, then counted."""
    rows = "".join(f"x,{i}\n" for i in range(2000))
    problems = refused({"readings/T1.csv": "elapsed_s,displacement_m\n" + rows})
    assert len(problems) == 101
    assert "1900 more rows" in problems[-1].found


def test_unknown_column_is_told_with_a_suggestion(one):
    """A column that the table lacks is neither dropped nor kept in silence."""
    problem = one({"boreholes.csv": HOLES.replace("depth_m", "depht_m")})
    assert "depth_m" in problem.advice


def test_declared_extra_column_is_kept(taken):
    """A column that site.toml declares comes along as text."""
    files = {
        "site.toml": 'crs = "EPSG:32632"\n[intake]\nextra_columns = ["driller"]\n',
        "boreholes.csv": HOLES.replace("depth_m", "depth_m,driller")
        .replace("101,30", "101,30,crew 1")
        .replace("102,25", "102,25,"),
    }
    assert taken(files).tables["borehole"]["driller"].tolist() == ["crew 1", None]


def test_missing_column_is_told_with_its_meaning(one):
    """A required column that is not there is named with what it means."""
    problem = one({"boreholes.csv": "borehole,x,y,depth_m\nB1,500010,5300020,30\n"})
    assert "ground_elevation_m" in problem.found


def test_column_without_its_unit_is_told(one):
    """A depth without unit in the header is refused; metres are not assumed."""
    problem = one({"boreholes.csv": HOLES.replace("depth_m", "depth")})
    assert "without its unit" in problem.found
