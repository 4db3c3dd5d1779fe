"""The units that site.toml asks for, through the commands; the store and JSON stay SI."""

from __future__ import annotations

import csv
import io
import json
import math
from pathlib import Path

import pytest
from click.testing import CliRunner

from geoprofile.cli import cli
from geoprofile.cli._common import _cell
from geoprofile.store import Store


@pytest.fixture(scope="module")
def works(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A site of one hole that is read in feet and bar, loaded. Treat it as read-only."""
    folder = tmp_path_factory.mktemp("works")
    (folder / "site.toml").write_text(
        'crs = "EPSG:32632"\n[units]\nsystem = "us"\npressure = "bar"\n'
    )
    (folder / "boreholes.csv").write_text(
        "borehole,x,y,ground_elevation_m,depth_m\nB1,500000,5300000,100,30.48\n"
    )
    (folder / "packers.csv").write_text(
        "packer,deflated_diameter_mm,min_hole_mm,max_hole_mm,element_length_m,"
        "seating_pressure_kpa,max_inflation_kpa\nP1,72,76,122,1,350,1500\n"
    )
    database = folder / "site.gpkg"
    for words in (["create", database, "--crs", "EPSG:32632"], ["load", database, folder]):
        answer = CliRunner().invoke(cli, [str(w) for w in words], standalone_mode=False)
        assert answer.exception is None
    return database


def shown(database: Path, table: str, form: str) -> str:
    """What `show` prints."""
    words = ["show", str(database), table, "--format", form]
    answer = CliRunner().invoke(cli, words, standalone_mode=False)
    assert answer.exception is None
    return answer.stdout


def test_csv_is_in_the_units_that_its_names_end_in(
    works: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """30.48 m is 100 ft, 350 kPa is 3.5 bar, 72 mm is 2.83 in; the coordinates are the CRS's."""
    [hole] = csv.DictReader(io.StringIO(shown(works, "borehole", "csv")))
    assert float(hole["depth_ft"]) == pytest.approx(100.0)
    assert float(hole["x"]) == 500_000.0
    [packer] = csv.DictReader(io.StringIO(shown(works, "packer", "csv")))
    assert float(packer["seating_pressure_bar"]) == pytest.approx(3.5)
    assert float(packer["deflated_diameter_in"]) == pytest.approx(72 / 25.4)


def test_a_table_on_the_screen_keeps_what_was_entered_and_every_place() -> None:
    """A place to the centimetre, where eastings are small too; computed numbers in four digits."""
    cells = {
        ("y", 60960.1981): "60960.1981",
        ("longitude_deg", -73.905505): "-73.905505",
        ("bottom_ft", 31.4706 / 0.3048): "103.25",
        ("pressure_pa", 101325.0): "101325",
        ("area_ft2", 470841.264): "470800",
        ("k_m_per_s", 1.23456789e-6): "1.235e-06",
        ("discharge_g_per_day", 0.140602634): "0.1406",
        ("value_ug_per_l", math.nan): "nan",
    }
    for (column, value), shown in cells.items():
        assert _cell(value, column) == shown


def test_json_and_the_store_stay_si(works: Path) -> None:
    """For machines nothing changes."""
    [hole] = json.loads(shown(works, "borehole", "json"))
    assert hole["depth_m"] == pytest.approx(30.48)
    assert Store.open(works).read().boreholes["depth_m"].iloc[0] == pytest.approx(30.48)


def test_a_unit_nobody_reads_is_refused_with_the_choice(tmp_path: Path) -> None:
    """The key, what was found, and what may be said."""
    (tmp_path / "site.toml").write_text('crs = "EPSG:32632"\n[units]\nlength = "yd"\n')
    answer = CliRunner().invoke(cli, ["run", str(tmp_path)], standalone_mode=False)
    told = str(answer.exception)
    for word in ("site.toml", "units.length = 'yd'", "'m' or 'ft'"):
        assert word in told
