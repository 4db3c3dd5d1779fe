"""CSV files with their dictionary."""

import csv
import math

import pandas as pd
import pytest

from geoprofile.formats.csv import PLUGIN


@pytest.fixture
def folder(awkward_site, tmp_path):
    """A folder of CSV files."""
    settings = {s.name: s.default for s in PLUGIN.settings}
    return tmp_path, PLUGIN.write(awkward_site, str(tmp_path), settings)


def test_texts_like_formulas_are_guarded_and_numbers_are_not(folder):
    """CWE-1236: a text that begins with = + - @ gets an apostrophe; -0.25 stays a number."""
    path, written = folder
    with (path / "borehole.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert rows[0]["remarks"] == "'=cmd()"
    assert rows[3]["borehole"] == "'-4"
    assert rows[0]["measuring_point_height_m"] == "-0.25"
    assert {loss.kind for loss in written.losses} == {"changed"}


def test_numbers_keep_every_digit(folder):
    """A number read back from the text is the same number."""
    path, _ = folder
    back = pd.read_csv(path / "conductivity.csv")
    assert set(back["k_m_per_s"]) == {1.2345678901234e-7}
    assert math.isnan(back["readings_used"][1])


def test_dictionary_names_the_unit_of_every_number(folder):
    """Every column of every file is in the dictionary; K is in m/s."""
    path, written = folder
    listed = pd.read_csv(path / "data_dictionary.csv", dtype=str)
    for name in (n for n in written.files if n.endswith(".csv") and n != "data_dictionary.csv"):
        columns = pd.read_csv(path / name, nrows=0).columns
        assert set(columns) == set(listed[listed["table"] == name[:-4]]["column"])
    row = listed[(listed["table"] == "conductivity") & (listed["column"] == "k_m_per_s")]
    assert row["unit"].item() == "m/s"


def test_a_shown_table_holds_no_formula_either(capsys):
    """A text that a spreadsheet would compute gets an apostrophe; numbers stay as they are."""
    from geoprofile.cli._common import show_rows

    show_rows(["borehole", "x"], [("=1+1", -2.5), ("B1", None)], "csv")
    assert capsys.readouterr().out == "borehole,x\n'=1+1,-2.5\nB1,\n"


def test_no_number_of_a_table_is_longer_than_nine_digits(capsys):
    """Coordinates keep their centimetres, volumes lose what nobody knows."""
    from geoprofile.cli._common import show_rows

    show_rows(["x", "volume"], [(512300.123, 201855.05792243214), (12.34567, 1e-7 / 3)], "table")
    out = capsys.readouterr().out
    for words in ("512300.123", "201900\n", "12.34567", "3.333e-08"):
        assert words in out


def test_types_stand_beside_each_file(folder):
    """GDAL, driver CSV (from memory): one type a column; read so by that library."""
    pyogrio = pytest.importorskip("pyogrio")
    path, written = folder
    for name in (f for f in written.files if f.endswith(".csvt")):
        types = (path / name).read_text().strip().split(",")
        assert len(types) == len(pd.read_csv(path / name[:-1], nrows=0).columns)
    kinds = dict(
        zip(
            *(pyogrio.read_info(path / "borehole.csv")[k] for k in ("fields", "dtypes")),
            strict=True,
        )
    )
    assert kinds["borehole"] == "object"
    assert kinds["ground_elevation_m"] == "float64"
