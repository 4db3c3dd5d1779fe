"""What a file says by the standard's own headings: one reading is taken and told, no other is."""

import pytest

from geoprofile.intake.ags4_standard import completed


def group(*rows, **units):
    """Rows of a group with the row of units; a heading that a row lacks is empty."""
    heads = list(units)
    made = [{"HEADING": "UNIT", "line_number": "2", **units}]
    for number, row in enumerate(rows, 4):
        cells = dict(zip(heads, row, strict=True))
        made.append({"HEADING": "DATA", "line_number": str(number), **cells})
    return made


def values(tables, name, heading):
    """A column of a group."""
    return [r[heading] for r in tables[name] if r["HEADING"] == "DATA"]


def test_diameters_follow_each_other_and_casing_starts_at_the_ground():
    """The tops are those of the standard's definition, in any order of the rows."""
    rows = [("B", "40", "96"), ("B", "4", "140"), ("C", "10", "96")]
    tables = {
        "HDIA": group(*rows, LOCA_ID="", HDIA_DPTH="m", HDIA_DIAM="mm"),
        "CDIA": group(("B", "4", "110"), LOCA_ID="", CDIA_DPTH="m", CDIA_DIAM="mm"),
    }
    said = completed(tables)
    assert values(tables, "HDIA", "HDIA_TOP") == ["4", "0", "0"]
    assert values(tables, "CDIA", "CDIA_TOP") == ["0"]
    assert len(said) == 2


def test_a_file_of_ours_is_left_as_it_is():
    """Headings that are there are not filled again, and nothing is told."""
    tables = {"HDIA": group(("B", "40", "3"), LOCA_ID="", HDIA_DPTH="m", HDIA_TOP="m")}
    before = [dict(r) for r in tables["HDIA"]]
    assert completed(tables) == ()
    assert tables["HDIA"] == before


@pytest.mark.parametrize(
    ("code", "isolation"),
    [("PKD", "straddle"), ("PKS", "below packer"), ("SP", "screen"), ("BH", "open hole"), ("", "")],
)
def test_the_zone_of_a_test_has_the_set_up_of_its_code(code, isolation):
    """One zone for the tests of one place; without a code the isolation stays empty."""
    heads = {"LOCA_ID": "", "FGHG_TOP": "m", "FGHG_BASE": "m", "FGHG_TESN": "", "FGHG_CNFG": ""}
    rows = [("B", "20.0", "25.0", "1", code), ("B", "20.0", "25.00", "2", code)]
    tables = {"FGHG": group(*rows, **heads)}
    completed(tables)
    assert values(tables, "MONG", "MONG_ISOL") == [isolation]
    assert values(tables, "FGHG", "FGHG_ZONE") == ["B 20.0-25.0"] * 2


@pytest.mark.parametrize(
    ("zones", "found"),
    [([("18", "22")], ["P0"]), ([("18", "22"), ("19", "25")], [""]), ([("1", "2")], [""])],
)
def test_a_sample_belongs_to_the_only_zone_at_its_depth(zones, found):
    """Two zones or none: the sample says nothing, and the table asks."""
    points = [("B", f"P{i}", *z) for i, z in enumerate(zones)]
    tables = {
        "MONG": group(*points, LOCA_ID="", MONG_ID="", MONG_TRZ="m", MONG_BRZ="m"),
        "SAMP": group(("B", "20", "EW", ""), LOCA_ID="", SAMP_TOP="m", SAMP_TYPE="", SAMP_ZONE=""),
    }
    completed(tables)
    assert values(tables, "SAMP", "SAMP_ZONE") == found


def test_readings_that_are_no_depth_to_water_in_metres_are_left_and_told():
    """Dry, a temperature, millimetres: none becomes a level."""
    rows = [("WDEP", "5.87", "m"), ("WDEP", "Dry", "m"), ("TEMP", "9", "DegC"), ("WDEP", "5", "mm")]
    tables = {"MOND": group(*rows, MOND_TYPE="", MOND_RDNG="", MOND_UNIT="")}
    (said,) = completed(tables)
    assert values(tables, "MOND", "MOND_RDNG") == ["5.87"]
    assert said.startswith("3 monitoring reading(s)")
